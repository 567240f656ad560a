//! Results as SVG: the section of the seat, the hold map, the unrolled survey, the contributors, the cuts into the band, a cooling part,
//! the wall in its bath, the clock of a cold bush, force against travel, pressure along the length, the oil film and what it bears,
//! predicted against measured.
//!
//! A drawing is made for a width, so that its letters keep their size on a phone and on paper; it looks right in a PDF as it stands
//! (light), and in a browser [`THEME`] gives the same drawing the colours of the page, dark ones too. What is told by a colour is told
//! by a hatch and a word as well. Each drawing has a title, a description for those who can't see it, and its figures as a table.
//!
//! **Never here:** numbers that `calc` did not give. Positions on the sheet and the fitted surface (whose terms `calc` found) are all
//! that is worked out.

#![allow(non_snake_case, reason = "names agree with the keys of calc: T_C is a temperature in degrees Celsius")]

pub mod along;
pub mod approach;
mod axis;
pub mod bath_section;
mod clock;
mod code;
mod contour;
pub mod contributors;
pub mod cooldown;
pub mod cuts;
pub mod drawing;
pub mod film_pressure;
mod frame;
mod hatch;
pub mod hold_map;
pub mod load_clearance;
pub mod now;
mod pen;
mod pictures;
mod place;
pub mod predicted;
pub mod press;
pub mod section;
pub mod survey;
pub mod window;

pub use along::along;
pub use approach::approach;
pub use bath_section::bath_section;
pub use code::code;
pub use contributors::contributors;
pub use cooldown::cooldown;
pub use film_pressure::film_pressure;
pub use hold_map::hold_map;
pub use load_clearance::load_clearance;
pub use pen::THEME;
pub use pictures::{Picture, drawings, pictures, pictures_of, system};
pub use predicted::predicted;
pub use press::press;
pub use section::section;
pub use survey::survey;
pub use window::window;

use calc::units::System;
use job::sheet::Grid;

/// For what a drawing is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Width in units of the drawing: pixels in a browser. From 320 to 1600; what lies beyond is brought to the nearer end.
    pub width: f64,
    /// In which lengths figures are shown.
    pub system: System,
    /// How many millimetres of paper a unit is, where that is known: the section then takes a round scale and prints it.
    pub unit_mm: Option<f64>,
}

impl Setting {
    /// For a screen of this width.
    pub const fn screen(width: f64, system: System) -> Self {
        Self { width, system, unit_mm: None }
    }

    /// For paper: a drawing of `width` units that is set `width_mm` wide.
    pub fn paper(width: f64, width_mm: f64, system: System) -> Self {
        Self { width, system, unit_mm: Some(width_mm / width) }
    }

    pub(crate) fn width(&self) -> f64 {
        if self.width.is_finite() { self.width.clamp(320.0, 1600.0) } else { 720.0 }
    }

    /// On a phone words go under or over what they name instead of beside it.
    pub(crate) fn narrow(&self) -> bool {
        self.width() < 520.0
    }
}

/// A finished drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// The whole SVG document, one root element, no ids: several may stand in one page.
    pub svg: String,
    /// Width in units.
    pub width: f64,
    /// Height in units.
    pub height: f64,
    /// What it shows.
    pub title: String,
    /// What a person sees on it, in sentences.
    pub description: String,
    /// Its figures.
    pub table: Grid,
    /// Its axis of time, where the present moment can be marked on it.
    pub times: Option<now::Times>,
}
