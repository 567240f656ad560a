//! Entries of a shop that does not exist: jobs with readings, decisions, notes and signatures.

use job::entry::{Entry, EntryId, Scope, VERSION, What};
use job::moment;
use job::registers::{Card, Correction};
use job::state::Feature;
use uuid::{Builder, Uuid};

use crate::dice::Dice;

/// Who works there.
pub const PEOPLE: [&str; 3] = ["A. Turner", "B. Fitter", "C. Planner"];

/// A name of an entry that was written at that second, its free bits from the dice.
pub fn id(seconds: i64, dice: &mut Dice) -> EntryId {
    let mut free = [0; 10];
    for (to, from) in free.iter_mut().zip(dice.draw().to_be_bytes().into_iter().chain(dice.draw().to_be_bytes())) {
        *to = from;
    }
    EntryId(Builder::from_unix_timestamp_millis(u64::try_from(seconds).unwrap_or(0) * 1000 + dice.below(1000), &free).into_uuid())
}

/// An entry of a job.
pub fn entry(job: &str, seat: Scope, who: &str, seconds: i64, follows: Option<EntryId>, what: What, dice: &mut Dice) -> Entry {
    Entry {
        version: VERSION,
        id: id(seconds, dice),
        job: job.to_owned(),
        seat,
        who: who.to_owned(),
        device: "bench".into(),
        when: moment::written(seconds),
        follows,
        what,
    }
}

/// A note, with a name of its own each time.
pub fn note(job: &str, who: &str, detail: &str) -> Entry {
    Entry {
        version: VERSION,
        id: EntryId(Uuid::now_v7()),
        job: job.to_owned(),
        seat: Scope::Job,
        who: who.to_owned(),
        device: "bench".into(),
        when: "2026-03-02T08:00:00Z".into(),
        follows: None,
        what: What::Event { what: "note".into(), detail: detail.to_owned() },
    }
}

/// A reading of a bore of about 240 mm.
pub fn reading(dice: &mut Dice) -> What {
    let um = |n: u64| n as f64 / 1000.0;
    What::Reading {
        feature: Feature::HousingBore,
        set: 1,
        gauge: Some("bore gauge".into()),
        station_mm: Some((dice.below(12) * 15) as f64),
        angle_deg: Some((dice.below(4) * 45) as f64),
        size_mm: 240.0 + um(dice.below(120)),
        own_part_C: Some(18.0 + um(dice.below(9000))),
        part_C: None,
        gauge_C: None,
    }
}

/// A decision on the alloy.
pub fn decision(choice: &str, because: &str) -> What {
    let (question, choice, because) = ("alloy".into(), choice.into(), because.into());
    What::Decision { question, choice, low_high_mm: None, because, drops: Vec::new(), settles: Vec::new() }
}

/// A card of the registers.
pub fn card(who: &str, card: Card) -> Entry {
    Entry { seat: Scope::Shop, what: What::Register { card }, ..note("", who, "") }
}

/// A gauge with its check.
pub fn gauge(name: &str, until: &str) -> [Card; 2] {
    [
        Card::Gauge {
            name: name.into(),
            about: "two-point bore gauge, No 7".into(),
            low_mm: 160.0,
            high_mm: 250.0,
            resolution_mm: 0.001,
            repeatability_mm: Some(0.002),
            repeats: Some(19.0),
            contacts: Some("two".into()),
        },
        Card::Checked {
            gauge: name.into(),
            on: "2025-09-01".into(),
            until: until.into(),
            against: "setting ring 200, No 4".into(),
            certificate: "K 118".into(),
            corrections: vec![Correction { size_mm: 180.0, add_mm: 0.001 }, Correction { size_mm: 240.0, add_mm: -0.002 }],
            u_mm: 0.0015,
        },
    ]
}

/// A job of `count` entries as a device would have written them, each having seen the one before.
pub fn job(number: &str, count: usize, dice: &mut Dice) -> Vec<Entry> {
    let mut follows = None;
    (0..count)
        .map(|i| {
            let seconds = 1_772_438_400 + 7 * i64::try_from(i).unwrap_or(0);
            let what = match i {
                _ if i % 50 == 49 => What::Event { what: "note".into(), detail: format!("station {i} cleaned and read again") },
                _ => reading(dice),
            };
            let who = PEOPLE[i / 40 % PEOPLE.len()];
            let entry = entry(number, Scope::Seat("drive side".into()), who, seconds, follows, what, dice);
            follows = Some(entry.id);
            entry
        })
        .collect()
}
