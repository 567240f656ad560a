//! The shop drawings of a job: which seats have one, and what stands in their title blocks.

use job::papers::folder::is_wanted;
use job::papers::record::Record;
use job::sheet::{JobSheet, SeatSheet};
use job::state::{State, Units};

use super::{Imprint, Paper, shop_drawings};
use crate::Drawing;

/// A sheet of a seat.
#[derive(Clone, Debug, PartialEq)]
pub struct OfSeat {
    /// The seat.
    pub seat: String,
    /// Which of its sheets: `bush` or `seat`.
    pub name: String,
    /// The sheet.
    pub drawing: Drawing,
}

impl Paper {
    /// What drawings are set on where nothing else is asked.
    pub const fn of(units: Units) -> Self {
        match units {
            Units::Mm => Self::A4,
            Units::Inch => Self::Letter,
        }
    }
}

/// Every sheet of a job, seat by seat; of the seat `name` alone where one is named. None where no seat has a band yet.
pub fn of_job(state: &State, sheet: &JobSheet, name: Option<&str>, record: &Record, paper: Paper) -> Vec<OfSeat> {
    let mut all = Vec::new();
    for seat in sheet.seats.iter().filter(|seat| is_wanted(seat, name)) {
        let Some(part) = &seat.drawing else { continue };
        let imprint = Imprint {
            issuer: part.shop.clone(),
            number: format!("{} / {}", sheet.number, seat.name),
            title: if part.machine.is_empty() { sheet.title.clone() } else { part.machine.clone() },
            revision: record.revision.clone(),
            by: sheet.by.join(", "),
            signed: signed(state, seat),
            date: sheet.date.clone(),
            head: record.head.clone(),
        };
        let sheets = shop_drawings(part, &imprint, paper, crate::system(sheet));
        all.extend(sheets.into_iter().map(|(name, drawing)| OfSeat { seat: seat.name.clone(), name, drawing }));
    }
    all
}

/// Who signed for the seat or the job last, as what and when.
fn signed(state: &State, seat: &SeatSheet) -> String {
    let of_seat = state.signatures.iter().rev().find(|signed| signed.is_over(&seat.name));
    of_seat.map(|signed| format!("{}, {}, {}", signed.who, signed.role, signed.day)).unwrap_or_else(|| "not signed yet".into())
}
