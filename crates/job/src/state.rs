//! What a job amounts to once all its entries are read: what `fold` gives and the stages work from.
//!
//! Everything is in the units that facts are kept in (mm, µm, °C, kN, MPa, N m). Nothing here is calculated.

use calc::quantity::Quantity;
use serde::{Deserialize, Serialize};

use crate::chain::{Hash, hex};
use crate::entry::EntryId;
use crate::lathe::part::{Part, Turned};

/// A job as its entries leave it.
#[derive(Clone, Debug, Default)]
pub struct State {
    /// The job's number in the shop.
    pub number: String,
    /// What the job is.
    pub title: String,
    /// Whose machine.
    pub customer: String,
    /// What figures are shown in.
    pub units: Units,
    /// Seed of the random draws.
    pub seed: u64,
    /// Draws of the chance for each seat.
    pub draws: u64,
    /// Who wrote entries, in order of their first.
    pub by: Vec<String>,
    /// The day of the newest entry, YYYY-MM-DD.
    pub date: String,
    /// Hash over the chain of entries, hexadecimal.
    pub head: String,
    /// Every entry in the order in which it was taken, with its hash in the chain.
    pub chain: Vec<(EntryId, Hash)>,
    /// Signatures in order.
    pub signatures: Vec<Signed>,
    /// What a person should know about what was given (likely slips), in sentences.
    pub notes: Vec<String>,
    /// The seats in order.
    pub seats: Vec<Seat>,
    /// Parts that were finished before, on whatever lathe, in this job and in others of the shop, in order.
    pub finished: Vec<Part>,
}

/// What a bare number in a job means and what figures are shown in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Units {
    /// Millimetres, °C, kN, MPa.
    #[default]
    Mm,
    /// Inches, °F, lbf, psi.
    Inch,
}

/// One seat: its own facts over those of its brief and of the job.
#[derive(Clone, Debug, Default)]
pub struct Seat {
    /// Its name in the job.
    pub name: String,
    /// Its table in the file: its name, or that of the counted row that it is one of.
    pub row: String,
    /// The brief that it shares, if any.
    pub brief: Option<String>,
    /// What is known, by path, in the order in which paths were first given.
    pub facts: Vec<(String, Known)>,
    /// Sets of readings, in order.
    pub sets: Vec<ReadingSet>,
    /// Decisions that stand, the newest of a question last.
    pub decisions: Vec<Taken>,
    /// What happened, in order.
    pub events: Vec<Happened>,
    /// What happened at the lathe, in order.
    pub lathe: Vec<Turned>,
    /// Questions that two people answered apart: both answers, which a third entry must settle.
    pub conflicts: Vec<String>,
    /// What was corrected, in order.
    pub corrections: Vec<Corrected>,
    /// What a person should know about what was given for this seat.
    pub notes: Vec<String>,
}

/// A fact as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// The value.
    pub value: Given,
    /// The entry that says so.
    pub entry: EntryId,
    /// Who wrote it.
    pub who: String,
}

/// What a fact can be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Given {
    /// A figure in the unit that the fact is kept in.
    Figure {
        /// The value.
        value: f64,
        /// Standard uncertainty, 0 when none was given.
        #[serde(default)]
        u: f64,
    },
    /// A word, a name or a text.
    Text(String),
    /// Yes or no.
    Flag(bool),
}

/// What is being measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Feature {
    /// The bore of the housing.
    HousingBore,
    /// The journal.
    Journal,
    /// The outside of the new bush.
    BushOutside,
    /// The bore of the new bush before fitting.
    BushBore,
    /// The bore of the new bush after fitting.
    FittedBore,
    /// The outside of the old bush.
    OldBushOutside,
    /// The bore of the old bush.
    OldBushBore,
}

impl Feature {
    /// All features, with the words that files use.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::HousingBore, "housing bore"),
        (Self::Journal, "journal"),
        (Self::BushOutside, "bush outside"),
        (Self::BushBore, "bush bore"),
        (Self::FittedBore, "fitted bore"),
        (Self::OldBushOutside, "old bush outside"),
        (Self::OldBushBore, "old bush bore"),
    ];

    /// Its word in files.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(feature, _)| *feature == self).map_or("", |(_, word)| word)
    }
}

/// Readings of one feature, taken in one go.
#[derive(Clone, Debug)]
pub struct ReadingSet {
    /// What was measured.
    pub feature: Feature,
    /// The gauge, by its name in the job.
    pub gauge: Option<String>,
    /// Temperature of the part, where one was taken for the whole set.
    pub part_C: Option<Quantity>,
    /// Temperature of the gauge, where one was taken.
    pub gauge_C: Option<Quantity>,
    /// The readings.
    pub readings: Vec<Reading>,
    /// The day they were taken, YYYY-MM-DD; empty when not said.
    pub day: String,
    /// Who took them.
    pub who: String,
}

/// One reading.
#[derive(Clone, Debug)]
pub struct Reading {
    /// Distance of the station from the datum end, mm.
    pub station_mm: Option<f64>,
    /// Direction of the diameter, degrees.
    pub angle_deg: Option<f64>,
    /// As read, at the part's own temperature, mm.
    pub size_mm: f64,
    /// The part's temperature at this reading, where it was taken with each.
    pub part_C: Option<f64>,
    /// Why it is not used, when a decision dropped it.
    pub dropped: Option<String>,
    /// The entry that says so.
    pub entry: EntryId,
}

/// A decision as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// What was decided: "alloy", "band", "blank", "seating", "retainer", "clearance", "groove".
    pub question: String,
    /// The answer: an id, a word, or for a size its text in the file.
    pub choice: String,
    /// For a band or a size: its ends in mm.
    pub low_high_mm: Option<(f64, f64)>,
    /// The reason that was given.
    pub because: String,
    /// Who decided.
    pub who: String,
    /// The day, YYYY-MM-DD; empty when not said.
    pub day: String,
    /// The entry that says so.
    pub entry: EntryId,
    /// Facts and readings that it rests on and that changed after it was taken.
    pub moved: Vec<Moved>,
}

/// An input that changed after a decision was taken on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Which.
    pub path: String,
    /// What it was when the decision was taken, as it is read by a person.
    pub was: String,
    /// What it is now.
    pub is: String,
}

/// A correction: what stood there stays in sight.
#[derive(Clone, Debug, PartialEq)]
pub struct Corrected {
    /// What was corrected: a path, `housing bore 3`, `alloy`.
    pub path: String,
    /// What it said, as it is read by a person.
    pub was: String,
    /// What it says now.
    pub is: String,
    /// What was wrong.
    pub because: String,
    /// Who corrected it.
    pub who: String,
    /// The day, YYYY-MM-DD; empty when not said.
    pub day: String,
    /// The entry that says so.
    pub entry: EntryId,
}

/// Something that happened in the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Happened {
    /// What: "cut", "tool changed", "in the bath", "press", "fitted", "scrapped".
    pub what: String,
    /// In words.
    pub detail: String,
    /// The day, YYYY-MM-DD; empty when not said.
    pub day: String,
    /// Who.
    pub who: String,
}

/// A signature.
#[derive(Clone, Debug, PartialEq)]
pub struct Signed {
    /// Who.
    pub who: String,
    /// As what: "made", "checked", "released".
    pub role: String,
    /// The day, YYYY-MM-DD.
    pub day: String,
    /// The head of the chain that was signed, hexadecimal.
    pub head: String,
    /// The seat, or none for the whole job.
    pub seat: Option<String>,
    /// Whether entries were added after it.
    pub reopened: bool,
    /// The entry that says so.
    pub entry: EntryId,
}

impl State {
    /// Whether a seat names the lathe that it is turned on.
    pub fn names_a_lathe(&self) -> bool {
        self.seats.iter().any(|seat| seat.text("lathe").is_some())
    }

    /// The number of an entry in the order in which it was taken, from 1, with its hash in the chain, hexadecimal.
    pub fn place_of(&self, entry: EntryId) -> Option<(usize, String)> {
        let place = self.chain.iter().position(|(id, _)| *id == entry)?;
        self.chain.get(place).map(|(_, hash)| (place + 1, hex(hash)))
    }
}

impl Signed {
    /// Whether it is over the seat of this name: over all of the job, or over this one.
    pub fn is_over(&self, seat: &str) -> bool {
        self.seat.as_ref().is_none_or(|name| name == seat)
    }
}

impl Seat {
    /// What stands at `path`.
    pub fn known(&self, path: &str) -> Option<&Known> {
        self.facts.iter().find(|(known, _)| known == path).map(|(_, known)| known)
    }

    /// The figure at `path`.
    pub fn number(&self, path: &str) -> Option<f64> {
        self.quantity(path).map(|quantity| quantity.value)
    }

    /// The figure at `path` with its uncertainty.
    pub fn quantity(&self, path: &str) -> Option<Quantity> {
        match self.known(path)?.value {
            Given::Figure { value, u } => Some(Quantity::with_u(value, u)),
            _ => None,
        }
    }

    /// The word, name or text at `path`.
    pub fn text(&self, path: &str) -> Option<&str> {
        match &self.known(path)?.value {
            Given::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The flag at `path`; false when it was not given.
    pub fn flag(&self, path: &str) -> bool {
        matches!(self.known(path).map(|known| &known.value), Some(Given::Flag(true)))
    }

    /// The names given under `section` (`state`, `stock`, `gauge`), in the order in which they were first given.
    pub fn names(&self, section: &str) -> Vec<&str> {
        let mut names = Vec::new();
        for (path, _) in &self.facts {
            let rest = path.strip_prefix(section).and_then(|rest| rest.strip_prefix('.'));
            if let Some((name, _)) = rest.and_then(|rest| rest.rsplit_once('.'))
                && !names.contains(&name)
            {
                names.push(name);
            }
        }
        names
    }

    /// The decision on `question` that stands.
    pub fn decided(&self, question: &str) -> Option<&Taken> {
        self.decisions.iter().rev().find(|taken| taken.question == question)
    }

    /// The sets of readings of `feature`.
    pub fn sets_of(&self, feature: Feature) -> impl Iterator<Item = &ReadingSet> {
        self.sets.iter().filter(move |set| set.feature == feature)
    }
}
