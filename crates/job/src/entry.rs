//! Entries: what a person adds to a job. Kept for good: a mistake is answered by a correction, never edited.
//!
//! Stored one JSON object a line, each with the version of its form. An entry that is read from a job file is named after the file's day
//! and a SHA-256 of its place and content, so that reading a file twice is the same as reading it once.
//! It leaves to others: what the entries of a job amount to (`fold`), their hash chain (`chain`), and keeping them on disk.

use calc::keys::nearest;
use calc::{Refused, quantity::Quantity};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::{Builder, Uuid};

use crate::facts::{Stands, fact};
use crate::lathe::step::{self, Step, Surface};
use crate::moment;
use crate::questions;
use crate::registers::Card;
use crate::state::{Feature, Given};

/// The version of the stored form that is written.
pub const VERSION: u32 = 1;

/// What a signature can be given as.
pub const ROLES: &[&str] = &["made", "checked", "released"];

/// What can happen in the shop.
pub const EVENTS: &[&str] = &["cut", "tool changed", "in the bath", "in the oven", "press", "press stopped", "fitted", "scrapped", "note"];

/// Milliseconds of a day.
const DAY_MS: u64 = 86_400_000;

/// The name of an entry, made where it was written (UUIDv7, so names sort by time).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EntryId(pub Uuid);

impl EntryId {
    /// The name of an entry of a file: the layout of UUIDv7, its milliseconds those of `day` at midnight UTC (0 when it is no day), its
    /// 74 free bits from a SHA-256 over `place` (where in the file) and `content`.
    ///
    /// Source: RFC 9562, 5.7 (layout).
    pub fn of_file(day: &str, place: &str, content: &str) -> Self {
        Self::of(day_number(day).and_then(|day| u64::try_from(day).ok()).unwrap_or(0) * DAY_MS, place, content)
    }

    /// The name of a signature of a file: as [`EntryId::of_file`], its milliseconds the last of `day`, since it answers for everything
    /// that was done until then, also by others in other files.
    pub fn of_signature(day: &str, place: &str, content: &str) -> Self {
        let day = day_number(day).and_then(|day| u64::try_from(day).ok());
        Self::of(day.map_or(0, |day| day * DAY_MS + DAY_MS - 1), place, content)
    }

    /// The name of an entry that was written at `when` behind the entry of hash `before`: no two entries of a chain have one hash before
    /// them, so the names differ without a draw.
    pub fn of_moment(when: &str, before: &str, content: &str) -> Self {
        let seconds = moment::seconds(when).and_then(|seconds| u64::try_from(seconds).ok()).unwrap_or(0);
        Self::of(seconds * 1000, before, content)
    }

    fn of(millis: u64, place: &str, content: &str) -> Self {
        let hash = Sha256::new().chain_update(place).chain_update([0]).chain_update(content).finalize();
        let mut free = [0; 10];
        for (to, from) in free.iter_mut().zip(hash.iter()) {
            *to = *from;
        }
        Self(Builder::from_unix_timestamp_millis(millis, &free).into_uuid())
    }
}

impl std::fmt::Display for EntryId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// What an entry speaks of.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Scope {
    /// The whole job.
    Job,
    /// Every seat of that brief.
    Brief(String),
    /// That seat, or every seat of a counted row of that name.
    Seat(String),
    /// No job: the registers of the shop. The job's number is empty.
    Shop,
}

/// A figure with its standard uncertainty, as entries keep it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Amount {
    /// The value.
    pub value: f64,
    /// Standard uncertainty, 0 when none was given.
    pub u: f64,
}

impl Amount {
    /// The same as `calc` takes it.
    pub const fn quantity(self) -> Quantity {
        Quantity::with_u(self.value, self.u)
    }
}

/// One entry of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Entry {
    /// Version of the stored form.
    pub version: u32,
    /// Its name.
    pub id: EntryId,
    /// The job's number.
    pub job: String,
    /// What it speaks of.
    pub seat: Scope,
    /// Who wrote it.
    pub who: String,
    /// Where it was written.
    pub device: String,
    /// When, by the clock of that device: YYYY-MM-DD, or with a time after it; empty when a file does not say.
    pub when: String,
    /// The last entry that its writer had seen.
    pub follows: Option<EntryId>,
    /// What it says.
    pub what: What,
}

/// What an entry says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum What {
    /// What stands at a path of [`crate::facts::FACTS`].
    Fact {
        /// The path, names filled in.
        about: String,
        /// What stands there, in the unit that the fact is kept in.
        value: Given,
    },
    /// A diameter as read, at the part's own temperature. The size at 20 °C is calculated, not stored.
    Reading {
        /// What was measured.
        feature: Feature,
        /// Which set of its scope, from 1: readings that were taken in one go.
        set: u32,
        /// The gauge, by its name in the job.
        gauge: Option<String>,
        /// Distance of the station from the datum end, mm.
        station_mm: Option<f64>,
        /// Direction of the diameter, degrees.
        angle_deg: Option<f64>,
        /// As read, mm.
        size_mm: f64,
        /// The part's temperature at this very reading.
        own_part_C: Option<f64>,
        /// The part's temperature for the whole set.
        part_C: Option<Amount>,
        /// The gauge's temperature for the whole set.
        gauge_C: Option<Amount>,
    },
    /// An answer to one of [`questions::QUESTIONS`].
    Decision {
        /// The question.
        question: String,
        /// The answer, as it is read by a person.
        choice: String,
        /// For a band or a size: its ends, mm.
        low_high_mm: Option<(f64, f64)>,
        /// The reason.
        because: String,
        /// Readings that are not to be used.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        drops: Vec<EntryId>,
        /// Decisions taken apart that this one settles.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        settles: Vec<EntryId>,
    },
    /// Something that happened in the shop.
    Event {
        /// What: a word of [`EVENTS`].
        what: String,
        /// In words.
        detail: String,
    },
    /// Says that an entry was wrong. Both stay in the record; the fold uses this one in its place.
    Correction {
        /// The entry that was wrong (or a correction of it).
        replaces: EntryId,
        /// What it should have said.
        #[cfg_attr(feature = "schema", schema(no_recursion))]
        with: Box<What>,
        /// What was wrong.
        because: String,
    },
    /// Something at the lathe. Written by the dialogue at the lathe, which keeps it before it goes on.
    Lathe {
        /// Which surface of the bush is cut.
        surface: Surface,
        /// Time since the step before, s; of a cut, until it began.
        after_s: f64,
        /// The answer as it was typed.
        typed: String,
        /// What happened.
        does: Step,
    },
    /// Something of the shop that every job can use. Stands in the registers, never in a job.
    Register {
        /// What.
        card: Card,
    },
    /// Somebody answers for what stands above.
    Signature {
        /// As what: a word of [`ROLES`].
        role: String,
        /// Head of the chain of the entries before it, hexadecimal.
        head: String,
    },
}

impl Entry {
    /// Its day, YYYY-MM-DD; empty when not said.
    pub fn day(&self) -> &str {
        self.when.get(..10).unwrap_or("")
    }

    /// Refuses what can't stand in a record: another version, a value that is not finite or out of its fact's range, an unknown word.
    pub fn checked(&self) -> Result<(), Refused> {
        if self.version != VERSION {
            let remedy = "read it with the release that wrote it, or a newer one";
            return Err(Refused::new("version", self.version, VERSION.to_string(), remedy));
        }
        if !(self.when.is_empty() || day_number(self.day()).is_some()) {
            let allowed = "YYYY-MM-DD, with or without a time after it";
            return Err(Refused::new("when", format!("{:?}", self.when), allowed, "write the day like 2026-03-02"));
        }
        self.in_its_place()?;
        self.what.checked()
    }
}

impl Entry {
    /// Whether it stands in a job's record or in the registers, as what it says must.
    fn in_its_place(&self) -> Result<(), Refused> {
        let of_registers = match &self.what {
            What::Register { .. } => true,
            What::Correction { with, .. } => matches!(**with, What::Register { .. }),
            _ => false,
        };
        match (of_registers, &self.seat) {
            (true, Scope::Shop) if self.job.is_empty() => Ok(()),
            (true, _) => {
                let given = format!("a card of the registers in the job {:?}", self.job);
                Err(Refused::new("seat", given, "\"shop\", with an empty job", "write the card to the registers"))
            }
            (false, Scope::Shop) => {
                let allowed = "a card, or a correction of one, in the registers";
                Err(Refused::new("what", "no card of the registers", allowed, "write it to its job"))
            }
            (false, _) => Ok(()),
        }
    }
}

impl What {
    fn checked(&self) -> Result<(), Refused> {
        match self {
            Self::Fact { about, value } => checked_fact(about, value),
            Self::Reading { station_mm, angle_deg, size_mm, own_part_C, part_C, gauge_C, .. } => {
                let amounts = [("part_C", *part_C), ("gauge_C", *gauge_C)];
                let with_doubt = amounts.iter().filter_map(|(key, amount)| amount.map(|amount| (*key, amount)));
                let doubts = with_doubt.clone().map(|(key, amount)| (key, Some(amount.u)));
                let plain = [("station_mm", *station_mm), ("angle_deg", *angle_deg), ("own_part_C", *own_part_C)];
                let all = plain.into_iter().chain(with_doubt.map(|(key, amount)| (key, Some(amount.value)))).chain(doubts);
                for (key, value) in all.chain([("size_mm", Some(*size_mm))]) {
                    if value.is_some_and(|value| !possible(value)) {
                        return Err(Refused::new(key, value.unwrap_or(f64::NAN), format!("-{LARGEST} to {LARGEST}"), "read it again"));
                    }
                }
                if *size_mm <= 0.0 {
                    return Err(Refused::new("size_mm", size_mm, "a size over 0", "give the diameter as it was read"));
                }
                Ok(())
            }
            Self::Decision { question, low_high_mm, .. } => {
                if questions::question(question).is_none() {
                    return Err(unknown("question", question, questions::QUESTIONS.iter().map(|question| question.word)));
                }
                match low_high_mm {
                    Some((low, high)) if low > high || !possible(*low) || !possible(*high) => {
                        Err(Refused::new("low_high_mm", format!("{low}, {high}"), "the smaller first", "turn them round"))
                    }
                    _ => Ok(()),
                }
            }
            Self::Event { what, .. } if !EVENTS.contains(&what.as_str()) => Err(unknown("what", what, EVENTS.iter().copied())),
            Self::Signature { role, .. } if !ROLES.contains(&role.as_str()) => Err(unknown("role", role, ROLES.iter().copied())),
            Self::Correction { with, .. } => match **with {
                Self::Correction { .. } | Self::Signature { .. } => {
                    let allowed = "a fact, a reading, a decision, an event, a step at the lathe or a card";
                    Err(Refused::new("with", "no such thing", allowed, "correct the entry itself; a signature stands as it was given"))
                }
                _ => with.checked(),
            },
            Self::Lathe { after_s, does, .. } => step::checked(*after_s, does),
            Self::Register { card } => card.checked(),
            Self::Event { .. } | Self::Signature { .. } => Ok(()),
        }
    }
}

/// No size or temperature of a reading is larger: beyond it a number is a slip.
const LARGEST: f64 = 20_000.0;

/// Whether `x` is a number, and of a size that a reading can have.
fn possible(x: f64) -> bool {
    x.is_finite() && x.abs() <= LARGEST
}

fn checked_fact(about: &str, value: &Given) -> Result<(), Refused> {
    let Some(fact) = fact(about) else {
        return Err(unknown("about", about, crate::facts::FACTS.iter().map(|fact| fact.path)));
    };
    let fits = match (fact.stands, value) {
        (Stands::Figure(_, range, _), Given::Figure { value, u }) => range.has(*value) && u.is_finite() && *u >= 0.0,
        (Stands::Word(words), Given::Text(word)) => words.contains(&word.as_str()),
        (Stands::Flag, Given::Flag(_)) => true,
        (Stands::Text | Stands::Alloy | Stands::Metal | Stands::Gauge, Given::Text(_)) => true,
        _ => false,
    };
    if fits {
        return Ok(());
    }
    let allowed = match fact.stands {
        Stands::Figure(_, range, _) => range.to_string(),
        Stands::Word(words) => words.join(", "),
        Stands::Flag => "true or false".into(),
        Stands::Text | Stands::Alloy | Stands::Metal | Stands::Gauge => "a text".into(),
    };
    Err(Refused::new(about, format!("{value:?}"), allowed, "write it again in a correction"))
}

/// Refuses a word that is not known, with the nearest that is.
pub(crate) fn unknown<'n>(key: &str, given: &str, known: impl Iterator<Item = &'n str> + Clone) -> Refused {
    let remedy = match nearest(given, known.clone()) {
        Some(near) => format!("write {near:?}"),
        None => "write one of them".to_owned(),
    };
    Refused::new(key, format!("{given:?}"), known.collect::<Vec<_>>().join(", "), remedy)
}

/// Entries as they are stored, one JSON object a line.
pub fn to_lines(entries: &[Entry]) -> String {
    // An entry has only texts and finite numbers, so it always becomes JSON.
    entries.iter().filter_map(|entry| serde_json::to_string(entry).ok()).map(|line| line + "\n").collect()
}

/// Reads stored entries; empty lines are passed over. Refused with the number of the line: what is no entry, an unknown field,
/// another version, a value that can't stand.
pub fn from_lines(text: &str) -> Result<Vec<Entry>, Refused> {
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    lines.map(|(number, line)| from_line(line).map_err(|refused| at_line(number + 1, refused))).collect()
}

fn from_line(line: &str) -> Result<Entry, Refused> {
    let entry: Entry = serde_json::from_str(line)
        .map_err(|error| Refused::new("the entry", error, "one entry of version 1 as JSON", "take the line as it was stored"))?;
    entry.checked()?;
    Ok(entry)
}

/// Names the line in a refusal.
pub(crate) fn at_line(number: usize, refused: Refused) -> Refused {
    Refused { key: format!("line {number}: {}", refused.key), ..refused }
}

/// Days from 1970-01-01 to a day written YYYY-MM-DD; none when it is not a day of the years 1970 to 2199.
///
/// Source: the Gregorian calendar, counted from 1 March so that the leap day is a year's last.
pub fn day_number(day: &str) -> Option<i64> {
    let bytes = day.as_bytes();
    let shaped =
        bytes.len() == 10 && bytes.iter().enumerate().all(|(i, byte)| if i == 4 || i == 7 { *byte == b'-' } else { byte.is_ascii_digit() });
    if !shaped {
        return None;
    }
    let part = |range| day.get(range).and_then(|part: &str| part.parse::<i64>().ok());
    let (year, month, date) = (part(0..4)?, part(5..7)?, part(8..10)?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if !(1970..2200).contains(&year) || !(1..=length).contains(&date) {
        return None;
    }
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let from_march = (153 * month + 2) / 5 + date - 1;
    Some(365 * year + year / 4 - year / 100 + year / 400 + from_march - 719_468)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_over_leap_years_and_no_day_is_none() {
        for (day, number) in [
            ("1970-01-01", Some(0)),
            ("2000-02-29", Some(11_016)),
            ("2026-03-02", Some(20_514)),
            ("2100-02-29", None),
            ("2026-13-01", None),
            ("2026-3-2", None),
            ("yesterday", None),
        ] {
            assert_eq!(day_number(day), number, "{day}");
        }
    }

    #[test]
    fn an_entry_of_a_file_has_the_layout_of_version_7_and_always_the_same_name() {
        let id = EntryId::of_file("2026-03-02", "seat.A", "x");
        assert_eq!(id, EntryId::of_file("2026-03-02", "seat.A", "x"));
        assert_ne!(id, EntryId::of_file("2026-03-02", "seat.B", "x"));
        assert_eq!(id.0.get_version_num(), 7);
        assert_eq!(id.0.get_timestamp().map(|time| time.to_unix().0), Some(20_514 * 86_400));
    }

    #[test]
    fn an_unknown_field_or_version_is_refused_with_its_line() {
        let entry = Entry {
            version: VERSION,
            id: EntryId::default(),
            job: "1".into(),
            seat: Scope::Job,
            who: "A. Turner".into(),
            device: "bench".into(),
            when: "2026-03-02".into(),
            follows: None,
            what: What::Event { what: "note".into(), detail: "opened".into() },
        };
        let line = to_lines(&[entry]);
        assert_eq!(to_lines(&from_lines(&line).unwrap()), line);
        for (from, to, words) in [
            ("\"device\"", "\"colour\":1,\"device\"", "line 2: the entry"),
            ("\"version\":1", "\"version\":2", "line 2: version is 2"),
            ("\"note\"", "\"cutt\"", "write \"cut\""),
            ("2026-03-02", "2026-02-30", "when"),
        ] {
            let refused = from_lines(&format!("\n{}", line.replace(from, to))).unwrap_err().to_string();
            assert!(refused.contains(words), "{refused}");
        }
    }
}
