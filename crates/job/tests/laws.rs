//! Laws of entries, of their fold and of the job file, over random ones.
#![allow(non_snake_case, reason = "names agree with the keys of calc")]

use job::chain;
use job::entry::{Amount, EVENTS, Entry, EntryId, Scope, VERSION, What, from_lines, to_lines};
use job::fold;
use job::state::{Feature, Given};
use proptest::prelude::*;

fn scope() -> impl Strategy<Value = Scope> {
    prop_oneof![Just(Scope::Job), Just(Scope::Brief("b".into())), Just(Scope::Seat("A".into())), Just(Scope::Seat("B".into()))]
}

fn amount() -> impl Strategy<Value = Option<Amount>> {
    prop::option::of((-50.0..50.0, 0.0..2.0).prop_map(|(value, u)| Amount { value, u }))
}

fn fact() -> impl Strategy<Value = What> {
    let figure = |about: &'static str, low: f64, high: f64| {
        ((low..high), 0.0..1.0).prop_map(move |(value, u)| What::Fact { about: about.into(), value: Given::Figure { value, u } })
    };
    let text = |about: &'static str, text: &'static str| Just(What::Fact { about: about.into(), value: Given::Text(text.into()) });
    prop_oneof![
        figure("housing.outside", 250.0, 400.0),
        figure("state.hot day.bush", -20.0, 90.0),
        figure("duty.load", 1.0, 500.0),
        text("seat.brief", "b"),
        text("machine", "a \"winch\" \u{e9}\n\u{1F527}"),
        Just(What::Fact { about: "duty.sea_water".into(), value: Given::Flag(true) }),
    ]
}

fn reading() -> impl Strategy<Value = What> {
    let row = (prop::option::of(0.0..200.0), prop::option::of(-360.0..360.0), 100.0..300.0f64, prop::option::of(-20.0..60.0));
    (0usize..7, 1u32..4, row, amount(), amount()).prop_map(
        |(feature, set, (station_mm, angle_deg, size_mm, own_part_C), part_C, gauge_C)| {
            let feature = Feature::ALL[feature].0;
            What::Reading { feature, set, gauge: None, station_mm, angle_deg, size_mm, own_part_C, part_C, gauge_C }
        },
    )
}

fn decision() -> impl Strategy<Value = What> {
    (0usize..3, 0usize..3).prop_map(|(question, choice)| What::Decision {
        question: ["alloy", "seating", "groove"][question].into(),
        choice: ["one", "two", "three"][choice].into(),
        low_high_mm: (choice == 2).then_some((1.5, 2.5)),
        because: "so".into(),
        drops: Vec::new(),
        settles: Vec::new(),
    })
}

fn what() -> impl Strategy<Value = What> {
    let event = (0..EVENTS.len()).prop_map(|i| What::Event { what: EVENTS[i].into(), detail: "x".into() });
    let signature = Just(What::Signature { role: "made".into(), head: "0".repeat(64) });
    prop_oneof![4 => fact(), 4 => reading(), 2 => decision(), 1 => event, 1 => signature]
}

/// Entries of several writers; some follow others, some correct others.
fn entries() -> impl Strategy<Value = Vec<Entry>> {
    let one = (scope(), what(), 0usize..3, 1u32..9, any::<prop::sample::Index>(), 0usize..6);
    prop::collection::vec(one, 1..25).prop_map(|rows| {
        let mut entries: Vec<Entry> = Vec::new();
        for (i, (seat, what, who, day, other, how)) in rows.into_iter().enumerate() {
            let when = format!("2026-03-0{day}");
            let earlier = (!entries.is_empty()).then(|| entries[other.index(entries.len())].clone());
            let what = match (how, &earlier) {
                (0, Some(earlier)) if !matches!(earlier.what, What::Signature { .. } | What::Correction { .. }) => {
                    let with = Box::new(what);
                    What::Correction { replaces: earlier.id, with, because: "it was wrong".into() }
                }
                (1, Some(earlier)) if matches!(earlier.what, What::Reading { .. }) => What::Decision {
                    question: "reading".into(),
                    choice: "without".into(),
                    low_high_mm: None,
                    because: "a chip".into(),
                    drops: vec![earlier.id],
                    settles: Vec::new(),
                },
                _ => what,
            };
            let id = EntryId::of_file(&when, &i.to_string(), "");
            let follows = earlier.filter(|_| how > 2).map(|earlier| earlier.id);
            let who = ["A", "B", "C"][who].to_owned();
            entries.push(Entry { version: VERSION, id, job: "1".into(), seat, who, device: "d".into(), when, follows, what });
        }
        entries
    })
}

fn text_of(entries: &[Entry]) -> String {
    format!("{:?}", fold(entries))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn stored_lines_are_read_back_as_they_were(entries in entries()) {
        prop_assume!(entries.iter().all(|entry| entry.checked().is_ok()));
        prop_assert_eq!(from_lines(&to_lines(&entries)).unwrap(), entries);
    }

    #[test]
    fn sent_twice_and_in_any_order_is_the_same_as_once(
        (entries, shuffled) in entries().prop_flat_map(|entries| {
            let twice = [entries.clone(), entries.clone()].concat();
            (Just(entries), Just(twice).prop_shuffle())
        })
    ) {
        prop_assert_eq!(text_of(&entries), text_of(&shuffled));
    }

    #[test]
    fn no_reading_and_no_decision_is_lost(entries in entries()) {
        let state = fold(&entries);
        for seat in &state.seats {
            let mine = |entry: &&Entry| match &entry.seat {
                Scope::Job | Scope::Shop => true,
                Scope::Brief(name) => seat.brief.as_ref() == Some(name),
                Scope::Seat(name) => *name == seat.name,
            };
            let of = |wanted: fn(&What) -> bool| entries.iter().filter(mine).filter(|entry| wanted(&entry.what)).count();
            let readings: usize = seat.sets.iter().map(|set| set.readings.len()).sum();
            prop_assert_eq!(readings, of(|what| matches!(what, What::Reading { .. })));
            prop_assert_eq!(seat.decisions.len(), of(|what| matches!(what, What::Decision { .. })));
        }
    }

    #[test]
    fn one_changed_entry_breaks_the_chain_there(entries in entries(), which in any::<prop::sample::Index>()) {
        let mut links = chain::links(&entries);
        prop_assert_eq!(chain::verify(&links), Ok(()));
        prop_assert_eq!(&links[links.len() - 1].hash, &chain::head(&entries));
        let i = which.index(links.len());
        links[i].entry.who.push('x');
        prop_assert_eq!(chain::verify(&links).unwrap_err().number, i + 1);
    }

    #[test]
    fn a_trial_at_one_seat_is_the_fold_with_it(entries in entries(), cut in any::<prop::sample::Index>(), count in prop::option::of(2u32..5)) {
        let mut entries = job::fold::ordered(&entries);
        if let (Some(count), Some(first)) = (count, entries.first().cloned()) {
            let what = What::Fact { about: "seat.count".into(), value: Given::Figure { value: f64::from(count), u: 0.0 } };
            entries.insert(0, Entry { id: EntryId::default(), seat: Scope::Seat("B".into()), what, follows: None, ..first });
        }
        let (recorded, tried) = entries.split_at(cut.index(entries.len() + 1));
        let (whole, recorded_state) = (fold(&entries), fold(recorded));
        for seat in &whole.seats {
            let trial = fold::with_tried(&recorded_state, recorded, tried, &seat.name);
            prop_assert_eq!(format!("{:?}", trial.seats), format!("{:?}", [seat]));
            prop_assert_eq!((&trial.head, &trial.chain, trial.draws, &trial.by), (&whole.head, &whole.chain, whole.draws, &whole.by));
            let of_seat = |state: &job::state::State| {
                let mine = state.signatures.iter().filter(|signed| signed.is_over(&seat.name));
                format!("{:?}", mine.collect::<Vec<_>>())
            };
            prop_assert_eq!(of_seat(&trial), of_seat(&whole));
        }
        prop_assert!(fold::with_tried(&recorded_state, recorded, tried, "nowhere").seats.is_empty());
    }

    #[test]
    fn nothing_moved_for_what_was_decided_last(mut entries in entries()) {
        let state = fold(&entries);
        let last = job::fold::ordered(&entries).last().map(|entry| entry.id);
        let what = What::Decision {
            question: "alloy".into(), choice: "four".into(), low_high_mm: None, because: String::new(), drops: Vec::new(), settles: Vec::new(),
        };
        let id = EntryId::of_file("2027-01-01", "last", "");
        let seat = Scope::Seat("A".into());
        entries.push(Entry { version: VERSION, id, job: "1".into(), seat, who: "A".into(), device: "d".into(), when: "2027-01-01".into(), follows: last, what });
        let after = fold(&entries);
        let taken = after.seats.iter().find(|seat| seat.name == "A").unwrap().decided("alloy").unwrap().clone();
        prop_assert_eq!(taken.choice, "four");
        prop_assert!(taken.moved.is_empty());
        prop_assert!(after.seats.len() >= state.seats.len());
    }
}

const WINCH: &[u8] = include_bytes!("winch.toml");

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = job::open("a.toml", &bytes);
    }

    #[test]
    fn any_text_of_its_letters_is_answered(text in "[\\[\\]{}=.,\"'#\n a-z0-9_-]{0,200}") {
        let _ = job::open("a.toml", text.as_bytes());
    }

    #[test]
    fn a_file_that_was_damaged_is_answered(
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0usize..12, any::<u8>()), 1..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = WINCH.to_vec();
        for (at, drop, byte) in changes {
            let at = at.index(bytes.len());
            let end = (at + drop).min(bytes.len());
            let with = if byte < 128 { vec![byte] } else { b"[[x]] = \"-inf\" nan 1e300 ".iter().copied().take(usize::from(byte) - 126).collect() };
            bytes.splice(at..end, with);
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let _ = job::open("a.toml", &bytes);
    }

    #[test]
    fn reading_a_file_twice_is_reading_it_once(cut in any::<prop::sample::Index>()) {
        let lines: Vec<&[u8]> = WINCH.split_inclusive(|byte| *byte == b'\n').collect();
        let part = lines[..cut.index(lines.len())].concat();
        if let Ok((entries, _)) = job::open("a.toml", &part) {
            prop_assert_eq!(&job::file::read("a.toml", &part).unwrap(), &entries);
            prop_assert_eq!(text_of(&[entries.clone(), entries.clone()].concat()), text_of(&entries));
            for entry in &entries {
                prop_assert!(entry.checked().is_ok());
            }
        }
    }
}
