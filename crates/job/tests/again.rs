//! A job file that is read into a record again, changed and unchanged.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use job::entry::{Entry, What};
use job::file::{added, read};
use job::fold;
use job::state::State;

const FILE: &str = include_str!("winch.toml");

fn entries(text: &str) -> Vec<Entry> {
    read("winch.toml", text.as_bytes()).unwrap()
}

/// The record after the files were read into it one after the other, and how many entries each added.
fn record(files: &[&str]) -> (Vec<Entry>, Vec<usize>, Vec<String>) {
    let mut record: Vec<Entry> = Vec::new();
    let (mut counts, mut notes) = (Vec::new(), Vec::new());
    for file in files {
        let new = added(&record, &entries(file));
        counts.push(new.entries.len());
        notes = new.notes;
        for entry in new.entries {
            entry.checked().unwrap();
            assert!(record.iter().all(|old| old.id != entry.id), "a name stands twice");
            record.push(entry);
        }
    }
    (record, counts, notes)
}

/// What a sheet is made of.
fn facts_readings_decisions(state: &State) -> Vec<String> {
    let mut said = Vec::new();
    for seat in &state.seats {
        assert_eq!(seat.conflicts, [] as [String; 0]);
        let mut facts: Vec<String> = seat.facts.iter().map(|(path, known)| format!("{} {path} {:?}", seat.name, known.value)).collect();
        facts.sort();
        said.extend(facts);
        for set in &seat.sets {
            let used: Vec<f64> = set.readings.iter().filter(|reading| reading.dropped.is_none()).map(|reading| reading.size_mm).collect();
            said.push(format!("{} {:?} {used:?}", seat.name, set.feature));
        }
        let mut questions: Vec<&str> =
            seat.decisions.iter().map(|taken| taken.question.as_str()).filter(|word| *word != "reading").collect();
        questions.sort_unstable();
        questions.dedup();
        said.extend(questions.into_iter().map(|word| format!("{} {word} {:?}", seat.name, seat.decided(word).unwrap().choice)));
    }
    said
}

fn assert_same(record: &[Entry], file: &str) {
    assert_eq!(facts_readings_decisions(&fold(record)), facts_readings_decisions(&fold(&entries(file))));
}

#[test]
fn the_same_file_again_adds_nothing() {
    let (record, counts, notes) = record(&[FILE, FILE, FILE]);
    assert_eq!((counts[1], counts[2], notes.len()), (0, 0, 0));
    assert_eq!(fold(&record).head, fold(&entries(FILE)).head);
}

#[test]
fn a_changed_file_adds_what_changed_and_counts_as_it_stands() {
    for (what, from, to, most_added) in [
        ("a fact", "load = 85", "load = 90", 1),
        ("a fact that is new", "dirt = \"gritty\"", "dirt = \"gritty\"\nsea_water = true", 1),
        ("a reading", "[140, 0, 240.010]", "[140, 0, 240.011]", 1),
        ("two readings", "240.012], [20, 60, 240.018]", "240.013], [20, 60, 240.019]", 2),
        ("a reading more", "[140, 120, 240.013],", "[140, 120, 240.013], [140, 150, 240.014],", 1),
        ("a reading less", "[20, 120, 240.015],", "", 4),
        ("a reading that was dropped", "265.016", "266.016", 2),
        ("an alloy", "choose = \"CC493K\"", "choose = \"CC491K\"", 1),
        ("a band", "low = 240.118", "low = 240.120", 1),
        ("an event", "0.2 mm on", "0.3 mm on", 1),
        ("a correction", "to = 330", "to = 331", 1),
        ("a fact that was corrected", "outside = 340", "outside = 345", 2),
    ] {
        let changed = FILE.replacen(from, to, 1);
        assert_ne!(changed, FILE);
        let (once, counts, _) = record(&[FILE, &changed, &changed]);
        assert!((1..=most_added).contains(&counts[1]) && counts[2] == 0, "{what}: {counts:?}");
        assert_same(&once, &changed);
        // What was signed before is open again, in plain sight.
        assert!(fold(&once).signatures.iter().all(|signed| signed.reopened), "{what}");
    }
}

#[test]
fn a_file_that_is_changed_back_counts_as_it_stands_again() {
    for (what, from, to) in [
        ("a fact", "load = 85", "load = 90"),
        ("an alloy", "choose = \"CC493K\"", "choose = \"CC491K\""),
        ("a band", "low = 240.118", "low = 240.120"),
    ] {
        let changed = FILE.replacen(from, to, 1);
        let (back, counts, _) = record(&[FILE, &changed, FILE, FILE, &changed, &changed]);
        assert!(counts[1..] == [1, 1, 0, 1, 0], "{what}: {counts:?}");
        assert_same(&back, &changed);
    }
}

#[test]
fn what_was_written_elsewhere_is_left_as_it_is() {
    let (mut record, ..) = record(&[FILE]);
    let ordered = fold::ordered(&record);
    let load = ordered.iter().find(|entry| matches!(&entry.what, What::Fact { about, .. } if about == "duty.load")).unwrap();
    let mut at_a_screen = load.clone();
    at_a_screen.id = job::entry::EntryId::of_file("2026-03-09", "screen", "");
    at_a_screen.device = "office".into();
    at_a_screen.follows = ordered.last().map(|entry| entry.id);
    if let What::Fact { value: job::state::Given::Figure { value, .. }, .. } = &mut at_a_screen.what {
        *value = 99.0;
    }
    record.push(at_a_screen);
    assert_eq!(added(&record, &entries(FILE)).entries, []);
    let other = FILE.replacen("speed = 12", "speed = 13", 1);
    record.extend(added(&record, &entries(&other)).entries);
    let seat = fold(&record).seats[0].clone();
    assert_eq!((seat.number("duty.load"), seat.number("duty.speed")), (Some(99.0), Some(13.0)));
}

#[test]
fn what_a_file_no_longer_says_is_noted() {
    let (_, counts, notes) = record(&[FILE, &FILE.replacen("dirt = \"gritty\"", "", 1)]);
    assert_eq!(counts[1], 0);
    assert_eq!(
        notes,
        ["The file no longer says duty.dirt of winch: the record keeps what it said. Say otherwise in the file where it is wrong."]
    );
}
