//! From entries to what the job amounts to. Later facts win; a seat's own over its brief's over the job's; corrections take the place of
//! what they correct; nothing is lost: what was dropped or contradicted stays visible.
//!
//! Folding an entry twice is folding it once. Nothing is calculated here.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use calc::quantity::Quantity;

use crate::chain;
use crate::entry::{Entry, EntryId, Scope, What};
use crate::notes;
use crate::state::{Feature, Given, Happened, Known, Moved, Reading, ReadingSet, Seat, Signed, State, Taken, Units};

/// What the job amounts to.
pub fn fold(entries: &[Entry]) -> State {
    let entries = once(entries);
    let live = corrected(&entries);
    let mut state = head(&live);
    state.head = chain::head(&entries);
    let seats: Vec<(String, Option<String>)> = live
        .iter()
        .filter_map(|line| match (&line.entry.scope, line.what) {
            (Scope::Seat(name), What::SeatOpened { brief }) => Some((name.clone(), brief.clone())),
            _ => None,
        })
        .collect();
    state.seats = seats.iter().map(|(name, brief)| seat(name, brief.as_deref(), &live)).collect();
    state.signatures = signatures(&live, entries.len());
    state.notes = notes::of_job(&state);
    for seat in &mut state.seats {
        seat.notes = notes::of_seat(seat, state.units);
    }
    state
}

/// An entry with what it says now, after corrections.
struct Live<'e> {
    entry: &'e Entry,
    what: &'e What,
    place: usize,
}

fn once(entries: &[Entry]) -> Vec<Entry> {
    let mut seen = HashSet::new();
    entries.iter().filter(|entry| seen.insert(entry.id)).cloned().collect()
}

/// Corrections in the place of what they replace; a correction of a correction wins over it.
fn corrected(entries: &[Entry]) -> Vec<Live<'_>> {
    let mut replaced: HashMap<EntryId, &What> = HashMap::new();
    for entry in entries {
        if let What::Correction { replaces, with, .. } = &entry.what {
            replaced.insert(*replaces, with);
        }
    }
    let what = |entry: &'_ Entry| -> EntryId { entry.id };
    entries
        .iter()
        .enumerate()
        .filter(|(_, entry)| !matches!(entry.what, What::Correction { .. }))
        .map(|(place, entry)| {
            let mut said = &entry.what;
            let mut id = what(entry);
            // A chain of corrections ends, since each replaces an entry that is older than itself.
            for _ in 0..entries.len() {
                let Some(with) = replaced.get(&id) else { break };
                said = with;
                let next = entries.iter().find(|other| matches!(&other.what, What::Correction { replaces, .. } if *replaces == id));
                match next {
                    Some(next) if next.id != id => id = next.id,
                    _ => break,
                }
            }
            Live { entry, what: said, place }
        })
        .collect()
}

fn head(live: &[Live]) -> State {
    let mut state = State { seed: 1, draws: 20_000, ..State::default() };
    for line in live {
        if !state.by.contains(&line.entry.who) && !line.entry.who.is_empty() {
            state.by.push(line.entry.who.clone());
        }
        if line.entry.when > state.date {
            state.date = line.entry.when.clone();
        }
        if line.entry.scope != Scope::Job {
            continue;
        }
        if let What::Fact { about, value } = line.what {
            match (about.as_str(), value) {
                ("job.number", Given::Text(text)) => state.number = text.clone(),
                ("job.title", Given::Text(text)) => state.title = text.clone(),
                ("job.customer", Given::Text(text)) => state.customer = text.clone(),
                ("job.units", Given::Text(text)) => state.units = if text == "inch" { Units::Inch } else { Units::Mm },
                ("job.seed", Given::Figure { value, .. }) => state.seed = *value as u64,
                ("job.draws", Given::Figure { value, .. }) => state.draws = *value as u64,
                _ => {}
            }
        }
    }
    state
}

/// Whether an entry of `scope` counts for the seat, and how near it is: 0 job, 1 brief, 2 the seat's own.
fn nearness(scope: &Scope, name: &str, brief: Option<&str>) -> Option<u8> {
    match scope {
        Scope::Job => Some(0),
        Scope::Brief(other) => (Some(other.as_str()) == brief).then_some(1),
        Scope::Seat(other) => (other == name).then_some(2),
    }
}

fn seat(name: &str, brief: Option<&str>, live: &[Live]) -> Seat {
    let mine: Vec<(u8, &Live)> = live.iter().filter_map(|line| Some((nearness(&line.entry.scope, name, brief)?, line))).collect();
    let mut seat = Seat { name: name.to_owned(), brief: brief.map(str::to_owned), ..Seat::default() };
    seat.facts = facts(&mine, usize::MAX);
    let dropped = drops(&mine);
    seat.sets = sets(&mine, &dropped);
    seat.decisions = decisions(&mine, &seat.facts);
    seat.conflicts = conflicts(&mine);
    seat.events = mine
        .iter()
        .filter_map(|(_, line)| match line.what {
            What::Event { happened, detail } => {
                Some(Happened { what: happened.clone(), detail: detail.clone(), day: line.entry.when.clone(), who: line.entry.who.clone() })
            }
            _ => None,
        })
        .collect();
    seat
}

/// Facts as they stood before `place`.
fn facts(mine: &[(u8, &Live)], place: usize) -> Vec<(String, Known)> {
    let mut facts: Vec<(String, u8, Known)> = Vec::new();
    for (near, line) in mine.iter().filter(|(_, line)| line.place < place) {
        let What::Fact { about, value } = line.what else { continue };
        let known = Known { value: value.clone(), entry: line.entry.id, who: line.entry.who.clone() };
        match facts.iter_mut().find(|(path, ..)| path == about) {
            Some((_, before, stands)) if *near >= *before => (*before, *stands) = (*near, known),
            Some(_) => {}
            None => facts.push((about.clone(), *near, known)),
        }
    }
    facts.into_iter().map(|(path, _, known)| (path, known)).collect()
}

fn drops(mine: &[(u8, &Live)]) -> BTreeMap<EntryId, String> {
    let mut dropped = BTreeMap::new();
    for (_, line) in mine {
        if let What::Decision { drops, because, .. } = line.what {
            dropped.extend(drops.iter().map(|id| (*id, because.clone())));
        }
    }
    dropped
}

fn sets(mine: &[(u8, &Live)], dropped: &BTreeMap<EntryId, String>) -> Vec<ReadingSet> {
    let mut sets: Vec<((Scope, u32), ReadingSet)> = Vec::new();
    for (_, line) in mine {
        let What::Reading { feature, set, gauge, station_mm, angle_deg, size_mm, part_C, set_part_C, set_gauge_C } = line.what else {
            continue;
        };
        let quantity = |pair: &Option<(f64, f64)>| pair.map(|(value, u)| Quantity::with_u(value, u));
        let key = (line.entry.scope.clone(), *set);
        let reading = Reading {
            station_mm: *station_mm,
            angle_deg: *angle_deg,
            size_mm: *size_mm,
            part_C: *part_C,
            dropped: dropped.get(&line.entry.id).cloned(),
            entry: line.entry.id,
        };
        match sets.iter_mut().find(|(known, _)| *known == key) {
            Some((_, known)) => known.readings.push(reading),
            None => sets.push((
                key,
                ReadingSet {
                    feature: *feature,
                    gauge: gauge.clone(),
                    part_C: quantity(set_part_C),
                    gauge_C: quantity(set_gauge_C),
                    readings: vec![reading],
                    day: line.entry.when.clone(),
                    who: line.entry.who.clone(),
                },
            )),
        }
    }
    sets.into_iter().map(|(_, set)| set).collect()
}

/// The facts that a question rests on, by the beginning of their paths.
fn rests_on(question: &str) -> &'static [&'static str] {
    match question {
        "alloy" => &["duty.", "state.", "journal.", "housing.metal", "bush.length"],
        "band" => &["housing.", "bush.", "state.", "duty.torque", "duty.axial", "journal.", "shop.press", "shop.lathe_holds"],
        "blank" => &["stock.", "bush.", "shop."],
        "seating" => &["seating.", "shop.press", "housing.", "bush."],
        "retainer" => &["retainer.", "duty.", "bush.", "state."],
        "clearance" | "groove" => &["journal.", "duty.", "state.", "bore.", "groove.", "bush."],
        _ => &[],
    }
}

fn decisions(mine: &[(u8, &Live)], now: &[(String, Known)]) -> Vec<Taken> {
    let mut taken = Vec::new();
    for (_, line) in mine {
        let What::Decision { question, choice, low_high_mm, because, .. } = line.what else { continue };
        let then = facts(mine, line.place);
        let mut moved = moved(rests_on(question), &then, now);
        if matches!(question.as_str(), "band" | "seating") {
            moved.extend(readings_since(mine, line.place));
        }
        taken.push(Taken {
            question: question.clone(),
            choice: choice.clone(),
            low_high_mm: *low_high_mm,
            because: because.clone(),
            who: line.entry.who.clone(),
            day: line.entry.when.clone(),
            entry: line.entry.id,
            moved,
        });
    }
    taken
}

fn moved(prefixes: &[&str], then: &[(String, Known)], now: &[(String, Known)]) -> Vec<Moved> {
    let mut moved = Vec::new();
    for (path, known) in now.iter().filter(|(path, _)| prefixes.iter().any(|prefix| path.starts_with(prefix))) {
        let before = then.iter().find(|(other, _)| other == path).map(|(_, known)| &known.value);
        if before.is_some_and(|before| *before != known.value) {
            moved.push(Moved { path: path.clone(), was: before.map(words).unwrap_or_default(), is: words(&known.value) });
        }
    }
    moved
}

/// A new set of readings of the bore after a decision that rests on it.
fn readings_since(mine: &[(u8, &Live)], place: usize) -> Option<Moved> {
    let count = |after: bool| {
        let readings = mine
            .iter()
            .filter(|(_, line)| matches!(line.what, What::Reading { feature: Feature::HousingBore, .. }) && (line.place > place) == after);
        readings.count()
    };
    (count(true) > 0 && count(false) > 0).then(|| Moved {
        path: "readings of the housing bore".into(),
        was: format!("{} readings", count(false)),
        is: format!("{} more", count(true)),
    })
}

/// A value as a person reads it.
pub(crate) fn words(value: &Given) -> String {
    match value {
        Given::Figure { value, u: 0.0 } => format!("{value}"),
        Given::Figure { value, u } => format!("{value} ± {u}"),
        Given::Text(text) => text.clone(),
        Given::Flag(flag) => if *flag { "yes" } else { "no" }.into(),
    }
}

/// Two people who answered one question, neither having seen the other's answer.
fn conflicts(mine: &[(u8, &Live)]) -> Vec<String> {
    let decisions: Vec<(&Live, &String, &String)> = mine
        .iter()
        .filter_map(|(_, line)| match line.what {
            What::Decision { question, choice, .. } if question != "reading" => Some((*line, question, choice)),
            _ => None,
        })
        .collect();
    let mut conflicts = BTreeSet::new();
    for (i, (a, question, choice)) in decisions.iter().enumerate() {
        for (b, other_question, other) in &decisions[i + 1..] {
            let apart = a.entry.follows.is_some() && a.entry.follows == b.entry.follows && a.entry.device != b.entry.device;
            let settled =
                decisions.iter().any(|(c, third, _)| third == question && c.place > b.place && c.entry.follows == Some(b.entry.id));
            if question == other_question && choice != other && apart && !settled {
                conflicts.insert(format!(
                    "{} chose {choice} and {} chose {other} for the {question}, neither having seen the other: decide once more",
                    a.entry.who, b.entry.who
                ));
            }
        }
    }
    conflicts.into_iter().collect()
}

fn signatures(live: &[Live], entries: usize) -> Vec<Signed> {
    let last = live.iter().filter(|line| !matches!(line.what, What::Signature { .. })).map(|line| line.place).max().unwrap_or(entries);
    live.iter()
        .filter_map(|line| match line.what {
            What::Signature { role, head } => Some(Signed {
                who: line.entry.who.clone(),
                role: role.clone(),
                day: line.entry.when.clone(),
                head: head.clone(),
                seat: match &line.entry.scope {
                    Scope::Seat(name) => Some(name.clone()),
                    _ => None,
                },
                reopened: line.place < last,
            }),
            _ => None,
        })
        .collect()
}
