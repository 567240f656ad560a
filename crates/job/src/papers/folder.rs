//! The papers of a job that are set as documents: which there are, and each for the whole job or for one seat.
//!
//! A paper that a job has nothing for yet is refused in a sentence that says what is missing.

use calc::Refused;
use calc::crew::Crew;

use super::document::Document;
use super::record::Record;
use super::{certificate, lathe_sheet, quote};
use crate::sheet::{JobSheet, SeatSheet};
use crate::state::State;

/// What is missing where nothing can be drawn or turned.
const BAND: &str = "a seat with its band";
/// What to do about it.
const CHECK: &str = "bushwright job check names what is missing";

/// A document of a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A page a seat for the person at the lathe.
    LatheSheet,
    /// What was measured, of the whole job.
    Certificate,
    /// A page a batch with its price.
    Quote,
}

/// Whether a sheet stands for the seat called `name`; every sheet where none is named.
pub fn is_wanted(seat: &SeatSheet, name: Option<&str>) -> bool {
    name.is_none_or(|name| seat.name == name || seat.also.iter().any(|also| also == name))
}

/// A paper that there is nothing for yet, in the one sentence of a refusal.
pub fn nothing_for(paper: &str, needed: &str) -> Refused {
    Refused::new(format!("the {paper}"), "not to be made yet", needed, CHECK)
}

/// What drawings of a job lack when there are none.
pub fn nothing_to_draw() -> Refused {
    nothing_for("shop drawing", BAND)
}

/// The document of a job; of the seat `name` alone where one is named and the paper is of seats.
pub fn document(
    kind: Kind,
    state: &State,
    sheet: &JobSheet,
    name: Option<&str>,
    record: &Record,
    crew: &dyn Crew,
) -> Result<Document, Refused> {
    let seats = sheet.seats.iter().filter(|seat| is_wanted(seat, name));
    match kind {
        Kind::Certificate => Ok(certificate::certificate(state, sheet, record)),
        Kind::LatheSheet => {
            let pages = seats.filter_map(|seat| lathe_sheet::lathe_sheet(sheet, seat, record));
            Document::one_after_another(pages).ok_or_else(|| nothing_for("lathe sheet", BAND))
        }
        Kind::Quote => {
            let mut pages: Vec<Document> = Vec::new();
            for quote in seats.filter_map(|seat| quote::quote(state, sheet, seat, record, crew)) {
                // Seats of one brief are one batch.
                if !pages.iter().any(|known| known.number == quote.number) {
                    pages.push(quote);
                }
            }
            Document::one_after_another(pages).ok_or_else(|| nothing_for("quote", "a band, a blank that fits and shop.rate"))
        }
    }
}
