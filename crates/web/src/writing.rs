//! How an entry comes about on a screen: its name, moment and place in the order of what its writer had seen.
//!
//! The clock and the random bits come in: this file asks no browser.

use job::entry::{Entry, EntryId, Scope, VERSION, What};
use job::moment;
use job::questions::QUESTIONS;
use job::state::{Given, Seat};
use uuid::Builder;

/// Who writes, where.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pen {
    /// Who.
    pub who: String,
    /// The device, in words.
    pub device: String,
}

/// The moment of an entry: milliseconds of the device's clock since 1970, and bits that nobody else draws.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// Milliseconds since 1970.
    pub millis: u64,
    /// Random bits.
    pub free: [u8; 10],
}

/// An entry of `job` about `seat`, behind `follows`.
pub fn entry(pen: &Pen, moment: Moment, job: &str, seat: Scope, follows: Option<EntryId>, what: What) -> Entry {
    let seconds = i64::try_from(moment.millis / 1000).unwrap_or_default();
    Entry {
        version: VERSION,
        id: EntryId(Builder::from_unix_timestamp_millis(moment.millis, &moment.free).into_uuid()),
        job: job.to_owned(),
        seat,
        who: pen.who.clone(),
        device: pen.device.clone(),
        when: moment::written(seconds),
        follows,
        what,
    }
}

/// For whom a fact is written when nothing else was said: where it stands now, so that a change is one; what is new stands for every
/// seat that it is shared by (the brief, or the row of seats), what is of the shop for the whole job.
pub fn usual_scope(seat: &Seat, path: &str, entries: &[Entry]) -> Scope {
    if let Some(known) = seat.known(path)
        && let Some(entry) = entries.iter().find(|entry| entry.id == known.entry)
    {
        return entry.seat.clone();
    }
    if ["job.", "shop.", "gauge."].iter().any(|start| path.starts_with(start)) {
        return Scope::Job;
    }
    let shared = ["duty.", "state.", "machine", "failed", "hard", "stock.", "work.", "cutting.", "housing.metal", "journal."];
    match &seat.brief {
        Some(brief) if shared.iter().any(|start| path.starts_with(start)) => Scope::Brief(brief.clone()),
        _ => Scope::Seat(seat.row.clone()),
    }
}

/// A decision. The earlier answers to the same question that its writer had in sight are settled by it.
pub fn decision(seat: &Seat, question: &str, choice: &str, low_high_mm: Option<(f64, f64)>, because: &str) -> What {
    let known = QUESTIONS.iter().any(|known| known.word == question);
    let settles = seat.decisions.iter().filter(|taken| known && taken.question == question).map(|taken| taken.entry).collect();
    What::Decision {
        question: question.to_owned(),
        choice: choice.to_owned(),
        low_high_mm,
        because: because.to_owned(),
        drops: Vec::new(),
        settles,
    }
}

/// Takes readings out of use, with the reason. Both stay in the record.
pub fn drop_readings(readings: Vec<EntryId>, because: &str) -> What {
    What::Decision {
        question: "reading".into(),
        choice: "dropped".into(),
        low_high_mm: None,
        because: because.to_owned(),
        drops: readings,
        settles: Vec::new(),
    }
}

/// What takes back `last`, as an entry that stands beside it; none where it can't be taken back so.
///
/// A fact goes back to what stood there before (`before`); a reading is dropped; a step at the lathe is taken back by the dialogue there.
pub fn undo(last: &Entry, before: Option<Given>) -> Option<What> {
    match &last.what {
        What::Reading { .. } => Some(drop_readings(vec![last.id], "taken back: typed by mistake")),
        What::Fact { about, .. } => before.map(|value| What::Correction {
            replaces: last.id,
            with: Box::new(What::Fact { about: about.clone(), value }),
            because: "taken back".into(),
        }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moment(millis: u64) -> Moment {
        Moment { millis, free: [7; 10] }
    }

    #[test]
    fn names_sort_by_time_and_an_entry_passes_its_own_check() {
        let pen = Pen { who: "Runa".into(), device: "tablet at the borer".into() };
        let fact = || What::Fact { about: "shop.room".into(), value: Given::Figure { value: 21.0, u: 0.0 } };
        let first = entry(&pen, moment(1_772_460_000_000), "W-1", Scope::Job, None, fact());
        let then = entry(&pen, moment(1_772_460_000_001), "W-1", Scope::Job, Some(first.id), fact());
        assert!(first.id < then.id);
        assert_eq!(first.when, "2026-03-02T14:00:00Z");
        first.checked().unwrap();
    }

    #[test]
    fn a_reading_that_is_taken_back_stays_in_sight_as_dropped() {
        let (entries, _) = job::open("ferry", include_bytes!("../../../demo/ferry_ramp_winch.toml")).unwrap();
        let reading = entries.iter().find(|entry| matches!(entry.what, What::Reading { .. })).unwrap();
        let back = undo(reading, None).unwrap();
        let mut all = entries.clone();
        all.push(entry(&Pen::default(), moment(1_795_000_000_000), &reading.job, reading.seat.clone(), entries.last().map(|e| e.id), back));
        let state = job::fold(&all);
        let of_it = |reading: &job::state::Reading| reading.dropped.is_some();
        assert_eq!(state.seats[0].sets.iter().flat_map(|set| &set.readings).filter(|r| of_it(r)).count(), 1);
    }
}
