//! The shop drawing: what a bush and its seat are made and measured by, on one sheet each, at a standard scale.
//!
//! Full section and end view after ISO 128, dimensions after ISO 129-1, tolerances of form and place after ISO 1101, texture symbols after
//! ISO 21920, the title block with the fields of ISO 7200; first angle in a metric shop. An inch shop gets third angle and figures that
//! are read from below, after ASME Y14.3 and Y14.5. All from memory, and as far as a turned part asks.
//!
//! `views` says what is drawn of a part; `rows` and `callouts` find places for dimensions and leaders, so that no word covers another
//! and no line runs through a word; `sheet` is the frame with its title block. A scale at which something finds no place is not taken.

mod bush;
mod callouts;
mod lay;
mod marks;
mod of_job;
mod rows;
mod seat;
mod sheet;
mod views;

use calc::units::System;
use job::papers::shop_drawing::ShopDrawing;
use job::sheet::Grid;

use crate::Drawing;
use crate::place::refused;

pub use of_job::{OfSeat, of_job};
pub use sheet::{Imprint, Paper};

/// Units of a drawing a millimetre of paper: letters of 12 units are then 3 mm high, edges 0.375 mm and thin lines 0.19 mm wide.
/// Source: ISO 3098 (heights) and ISO 128 (widths), near to their 2.5 to 3.5 mm and 0.35 / 0.18 mm; from memory.
pub(crate) const PER_MM: f64 = 4.0;

/// The sheets of a seat: the bush, then the seat with the bush in it. Each with its name for files.
pub fn shop_drawings(part: &ShopDrawing, imprint: &Imprint, paper: Paper, system: System) -> Vec<(String, Drawing)> {
    let style = Style::of(system);
    let sheets = [("bush", bush::views(part, &style), &part.bush_notes), ("seat", seat::views(part, &style), &part.seat_notes)];
    let count = sheets.len();
    let drawn = sheets.into_iter().enumerate().map(|(index, (name, views, notes))| {
        let drawing = match views {
            Ok(views) => {
                let about = sheet::About { number: index + 1, count, what: views.title, material: &views.material, notes };
                lay::lay(&views, &style, paper, imprint, &about)
            }
            Err(why) => refused(720.0, "shop drawing", &why),
        };
        (name.to_owned(), drawing)
    });
    drawn.collect()
}

/// What differs between a metric and an inch shop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Style {
    pub system: System,
    /// First angle: the view from the left stands on the right. Source: ISO 128-3; third angle: ASME Y14.3.
    pub first_angle: bool,
    /// Figures stand along their dimension line, above it; else level, in a gap of the line.
    pub aligned: bool,
}

impl Style {
    const fn of(system: System) -> Self {
        let metric = matches!(system, System::Metric);
        Self { system, first_angle: metric, aligned: metric }
    }

    /// Scales as reductions, largest picture first. Source: ISO 5455; inch: whole, half, quarter, eighth (common practice).
    pub fn scales(self) -> &'static [f64] {
        match self.system {
            System::Metric => &[0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0],
            System::Inch => &[0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0],
        }
    }
}

/// The figures of a sheet as a table.
pub(crate) fn table(title: &str, rows: Vec<Vec<String>>) -> Grid {
    Grid { title: title.into(), columns: vec!["size".into(), "asked".into()], figures: vec![false, true], rows }
}
