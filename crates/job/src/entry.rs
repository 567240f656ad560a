//! Entries: what a person adds to a job. Kept for good: a mistake is answered, never edited.
//!
//! An entry says what happened in the shop; what can be computed is not stored. The stored form carries a version and refuses unknown fields.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::state::{Feature, Given};

/// The version of the stored form.
pub const VERSION: u32 = 1;

/// The name of an entry, made where it was written (UUIDv7, so names sort by time).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct EntryId(pub Uuid);

/// What an entry is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The whole job.
    Job,
    /// A brief that seats share.
    Brief(String),
    /// One seat.
    Seat(String),
}

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Version of the stored form.
    pub version: u32,
    /// Its name.
    pub id: EntryId,
    /// The job's number.
    pub job: String,
    /// What it is about.
    pub scope: Scope,
    /// Who wrote it.
    pub who: String,
    /// Where it was written.
    pub device: String,
    /// When, by the clock of that device: a day YYYY-MM-DD or a time in the same order.
    pub when: String,
    /// The last entry that its writer had seen.
    pub follows: Option<EntryId>,
    /// What it says.
    pub what: What,
}

/// What a person can say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case", deny_unknown_fields)]
pub enum What {
    /// A seat of the job is opened, perhaps under a brief that it shares.
    SeatOpened {
        /// The brief.
        brief: Option<String>,
    },
    /// A fact of the table of facts.
    Fact {
        /// Its dotted path.
        about: String,
        /// What stands there, in the unit that the fact is kept in.
        value: Given,
    },
    /// A size as read, at the part's own temperature; size at 20 is computed, not stored.
    Reading {
        /// What was measured.
        feature: Feature,
        /// The set it belongs to, counted through the scope.
        set: u32,
        /// The gauge, by its name in the job.
        gauge: Option<String>,
        /// Station from the datum end, mm.
        station_mm: Option<f64>,
        /// Direction of the diameter, degrees.
        angle_deg: Option<f64>,
        /// As read, mm.
        size_mm: f64,
        /// Temperature of the part at this reading, °C.
        part_C: Option<f64>,
        /// Temperature of the part for the whole set: value, u.
        set_part_C: Option<(f64, f64)>,
        /// Temperature of the gauge for the whole set: value, u.
        set_gauge_C: Option<(f64, f64)>,
    },
    /// A choice that somebody answers for.
    Decision {
        /// "alloy", "band", "blank", "seating", "retainer", "clearance", "groove", "reading".
        question: String,
        /// The answer as it was written.
        choice: String,
        /// A band's ends, mm.
        low_high_mm: Option<(f64, f64)>,
        /// Readings that are not used from now on.
        drops: Vec<EntryId>,
        /// The reason.
        because: String,
    },
    /// Something that happened.
    Event {
        /// "cut", "tool changed", "in the bath", "press", "fitted", "scrapped".
        happened: String,
        /// In words.
        detail: String,
    },
    /// Says that `replaces` was wrong. Both stay in the record; the fold uses this one.
    Correction {
        /// The entry that was wrong.
        replaces: EntryId,
        /// What is right.
        with: Box<What>,
        /// Why.
        because: String,
    },
    /// A signature over the chain as it stood.
    Signature {
        /// "made", "checked", "released".
        role: String,
        /// The head of the chain that was signed.
        head: String,
    },
}
