//! `fold`: what a job amounts to once all its entries are read.
//!
//! 1. An entry that stands twice counts once, and the order in which entries arrive does not matter (`order`).
//! 2. Of two facts about one path in one scope the later counts; a seat's own fact over its brief's, a brief's over the job's.
//! 3. A correction takes the place of what it corrects; both stay in sight.
//! 4. A decision keeps what it was taken on: what moved afterwards is named, with what it was and what it is (`moved`).
//! 5. Two answers to one question by writers who had not seen each other are both kept, and the question needs a person.
//! 6. A signature holds until something is added after it, or its head is not the head of the record before it.
//!
//! It calculates nothing and refuses nothing: what is doubtful is said in `notes`.

mod moved;
mod order;
mod record;
mod registers;

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};

use crate::chain::{self, Hash};
use crate::entry::{Entry, EntryId, Scope, What};
use crate::lathe::part::Turned;
use crate::lathe::step::Step;
use crate::questions::{Choose, question};
use crate::show;
use crate::slips;
use crate::state::{Corrected, Feature, Given, Happened, Known, Reading, ReadingSet, Seat, Signed, State, Taken, Units};
use record::{InScope, Record, Version};
pub use registers::registers;

/// No job has more seats: a larger count is a slip.
pub const MOST_SEATS: usize = 60;
/// Draws of each chance where the job does not say.
pub const DRAWS: u64 = 20_000;

/// What `entries` amount to, in whatever order and how often they stand.
pub fn fold(entries: &[Entry]) -> State {
    whole(&entries.iter().collect::<Vec<_>>(), None, &[])
}

/// What one seat amounts to with `tried` entries beside `entries`, which alone amount to `recorded`: the state of the job with that seat
/// as its only one, or with none where the job has no such seat. For a screen that shows one seat while a person types: the other seats,
/// and the hashes of what did not change, are not found again. Notes are those of the job and of this seat.
pub fn with_tried(recorded: &State, entries: &[Entry], tried: &[Entry], seat: &str) -> State {
    whole(&entries.iter().chain(tried).collect::<Vec<_>>(), Some(seat), &recorded.chain)
}

/// The state of `entries` with all seats or with `only` one; `known` are hashes of a chain that may begin as this one does.
fn whole(entries: &[&Entry], only: Option<&str>, known: &[(EntryId, Hash)]) -> State {
    let (ordered, mut notes) = order::in_order(entries);
    let record = Record::of(ordered);
    notes.extend(record.notes.iter().cloned());
    let mut state = header(&record);
    seats(&record, only, &mut state, &mut notes);
    let (chain, signatures) = signatures(&record, &state, known);
    state.head = chain::hex(chain.last().map_or(&chain::START, |(_, head)| head));
    state.chain = chain;
    state.signatures = signatures;
    state.notes = notes;
    slips::look(&mut state);
    state
}

/// What the job's own facts say.
fn header(record: &Record) -> State {
    let job = record.scopes.get(&Scope::Job);
    let fact = |path: &str| match job.and_then(|job| record.fact_in(job, path, usize::MAX)).map(|version| version.what) {
        Some(What::Fact { value, .. }) => Some(value),
        _ => None,
    };
    let text = |path: &str| match fact(path) {
        Some(Given::Text(text)) => text.clone(),
        _ => String::new(),
    };
    let whole = |path: &str, otherwise: u64| match fact(path) {
        Some(Given::Figure { value, .. }) if (0.0..=9e15).contains(value) => *value as u64,
        _ => otherwise,
    };
    let mut by: Vec<String> = Vec::new();
    let mut known = BTreeSet::new();
    for entry in &record.order {
        if !entry.who.is_empty() && known.insert(&entry.who) {
            by.push(entry.who.clone());
        }
    }
    State {
        number: text("job.number"),
        title: text("job.title"),
        customer: text("job.customer"),
        units: if text("job.units") == "inch" { Units::Inch } else { Units::Mm },
        seed: whole("job.seed", 1),
        draws: whole("job.draws", DRAWS),
        by,
        date: record.order.iter().map(|entry| entry.day()).max().unwrap_or_default().to_owned(),
        ..State::default()
    }
}

/// All seats, or `only` one; a counted row gives as many, which share everything.
fn seats(record: &Record, only: Option<&str>, state: &mut State, notes: &mut Vec<String>) {
    let counts: BTreeMap<&str, usize> = record.seats.iter().map(|name| (*name, count(record, name))).collect();
    let members: BTreeSet<String> =
        counts.iter().filter(|(_, count)| **count > 1).flat_map(|(name, count)| (1..=*count).map(move |n| format!("{name} {n}"))).collect();
    let mut taken = 0;
    for name in record.seats.iter().filter(|name| !members.contains(**name)) {
        let count = counts.get(name).copied().unwrap_or(1);
        let row = OnceCell::new();
        let of_row = || row.get_or_init(|| seat(record, name, None, state.units)).clone();
        for n in 1..=count {
            if taken == MOST_SEATS {
                notes.push(format!("Seats after the first {MOST_SEATS} are left out. Make a second job for them."));
                return;
            }
            taken += 1;
            let member = if count == 1 { (*name).to_owned() } else { format!("{name} {n}") };
            if only.is_some_and(|only| only != member) {
                continue;
            }
            let own = count > 1 && record.scopes.contains_key(&Scope::Seat(member.clone()));
            let made = if own { seat(record, name, Some(&member), state.units) } else { Seat { name: member, ..of_row() } };
            state.seats.push(made);
        }
    }
}

fn count(record: &Record, name: &str) -> usize {
    let scope = record.scopes.get(&Scope::Seat(name.to_owned()));
    match scope.and_then(|scope| record.fact_in(scope, "seat.count", usize::MAX)).map(|version| version.what) {
        // One more than is allowed is enough to say so.
        Some(What::Fact { value: Given::Figure { value, .. }, .. }) => (value.clamp(1.0, MOST_SEATS as f64 + 1.0)) as usize,
        _ => 1,
    }
}

/// A seat as `record` leaves it: `row` is its name or that of its counted row, `member` the one of the row.
fn seat(record: &Record, row: &str, member: Option<&str>, units: Units) -> Seat {
    let own = Scope::Seat(row.to_owned());
    let brief = record.scopes.get(&own).and_then(|scope| record.fact_in(scope, "seat.brief", usize::MAX));
    let brief = match brief.map(|version| version.what) {
        Some(What::Fact { value: Given::Text(name), .. }) => Some(name.clone()),
        _ => None,
    };
    let named = [Some(Scope::Job), brief.clone().map(Scope::Brief), Some(own), member.map(|member| Scope::Seat(member.to_owned()))];
    let scopes: Vec<&InScope> = named.iter().flatten().filter_map(|scope| record.scopes.get(scope)).collect();
    let drops = drops(record, &scopes);
    let readings = readings(record, &scopes, &drops);
    let facts = facts(record, &scopes);
    let mut seat = Seat {
        name: member.unwrap_or(row).to_owned(),
        row: row.to_owned(),
        brief,
        facts,
        sets: readings.sets,
        decisions: Vec::new(),
        events: events(record, &scopes),
        lathe: at_the_lathe(record, &scopes),
        conflicts: scopes.iter().flat_map(|scope| conflicts(record, scope)).collect(),
        corrections: Vec::new(),
        notes: Vec::new(),
    };
    seat.decisions = decisions(record, &scopes, &drops, &readings.numbered, &seat.facts, units);
    seat.corrections = corrections(record, &scopes, &readings.numbered, units);
    seat
}

fn facts(record: &Record, scopes: &[&InScope]) -> Vec<(String, Known)> {
    let mut facts: Vec<(String, Known)> = Vec::new();
    let mut place: BTreeMap<&str, usize> = BTreeMap::new();
    for scope in scopes {
        for (path, _) in scope.facts.iter().filter(|(path, _)| !path.starts_with("job.") && !path.starts_with("seat.")) {
            let Some(version) = record.fact_in(scope, path, usize::MAX) else { continue };
            let What::Fact { value, .. } = version.what else { continue };
            let known = Known { value: value.clone(), entry: version.entry.id, who: version.entry.who.clone() };
            match place.get(path).and_then(|i| facts.get_mut(*i)) {
                Some((_, old)) => *old = known,
                None => {
                    place.insert(path, facts.len());
                    facts.push(((*path).to_owned(), known));
                }
            }
        }
    }
    facts
}

/// Readings that decisions drop: by root, from which place on and why.
type Drops = BTreeMap<usize, Vec<(usize, String)>>;

fn drops(record: &Record, scopes: &[&InScope]) -> Drops {
    let mut drops = Drops::new();
    for root in scopes.iter().flat_map(|scope| &scope.decisions).filter_map(|root| record.roots.get(*root)) {
        let Some(Version { what: What::Decision { drops: dropped, because, .. }, place, .. }) = root.now() else { continue };
        for root in dropped.iter().filter_map(|id| record.root_of.get(id)) {
            drops.entry(*root).or_default().push((*place, because.clone()));
        }
    }
    drops
}

/// The sets of a seat, and its readings with their numbers within their feature, from 1.
struct Readings {
    sets: Vec<ReadingSet>,
    numbered: BTreeMap<usize, (Feature, usize)>,
}

fn readings(record: &Record, scopes: &[&InScope], drops: &Drops) -> Readings {
    let mut sets: Vec<ReadingSet> = Vec::new();
    let mut at: BTreeMap<(usize, Feature, u32), usize> = BTreeMap::new();
    let mut counts: BTreeMap<Feature, usize> = BTreeMap::new();
    let mut numbered = BTreeMap::new();
    let in_scopes = scopes.iter().enumerate().flat_map(|(i, scope)| scope.readings.iter().map(move |root| (i, *root)));
    for (scope, root) in in_scopes {
        let Some(version) = record.roots.get(root).and_then(|root| root.now()) else { continue };
        let What::Reading { feature, set, gauge, station_mm, angle_deg, size_mm, own_part_C, part_C, gauge_C } = version.what else {
            continue;
        };
        let number = counts.entry(*feature).or_default();
        *number += 1;
        numbered.insert(root, (*feature, *number));
        let i = *at.entry((scope, *feature, *set)).or_insert_with(|| {
            sets.push(ReadingSet {
                feature: *feature,
                gauge: gauge.clone(),
                part_C: part_C.map(|amount| amount.quantity()),
                gauge_C: gauge_C.map(|amount| amount.quantity()),
                readings: Vec::new(),
                day: version.entry.day().to_owned(),
                who: version.entry.who.clone(),
            });
            sets.len() - 1
        });
        if let Some(set) = sets.get_mut(i) {
            set.readings.push(Reading {
                station_mm: *station_mm,
                angle_deg: *angle_deg,
                size_mm: *size_mm,
                part_C: *own_part_C,
                dropped: drops.get(&root).and_then(|reasons| reasons.last()).map(|(_, because)| because.clone()),
                entry: version.entry.id,
            });
        }
    }
    Readings { sets, numbered }
}

fn events(record: &Record, scopes: &[&InScope]) -> Vec<Happened> {
    let mut roots: Vec<usize> = scopes.iter().flat_map(|scope| scope.events.iter().copied()).collect();
    roots.sort_unstable();
    let versions = roots.into_iter().filter_map(|root| record.roots.get(root)?.now());
    versions
        .filter_map(|version| match version.what {
            What::Event { what, detail } => Some(Happened {
                what: what.clone(),
                detail: detail.clone(),
                day: version.entry.day().to_owned(),
                who: version.entry.who.clone(),
            }),
            _ => None,
        })
        .collect()
}

/// Steps at the lathe that stand, in order; those that were taken back are left out.
fn at_the_lathe(record: &Record, scopes: &[&InScope]) -> Vec<Turned> {
    let mut roots: Vec<usize> = scopes.iter().flat_map(|scope| scope.lathe.iter().copied()).collect();
    roots.sort_unstable();
    roots
        .into_iter()
        .filter_map(|root| record.roots.get(root)?.now())
        .filter_map(|version| Turned::of(version.entry, version.what))
        .collect()
}

/// Decisions that stand: the job's, then the brief's, then the seat's own, each in order, so that the last of a question counts.
fn decisions(
    record: &Record,
    scopes: &[&InScope],
    drops: &Drops,
    numbered: &BTreeMap<usize, (Feature, usize)>,
    facts: &[(String, Known)],
    units: Units,
) -> Vec<Taken> {
    let basis = moved::Basis { record, scopes, drops, numbered, facts, units };
    let roots = scopes.iter().flat_map(|scope| &scope.decisions);
    let versions = roots.filter_map(|root| record.roots.get(*root)?.now());
    versions
        .filter_map(|version| match version.what {
            What::Decision { question: word, choice, low_high_mm, because, .. } => Some(Taken {
                question: word.clone(),
                choice: choice.clone(),
                low_high_mm: *low_high_mm,
                because: because.clone(),
                who: version.entry.who.clone(),
                day: version.entry.day().to_owned(),
                entry: version.entry.id,
                moved: question(word).map(|question| basis.moved_since(question, version.place)).unwrap_or_default(),
            }),
            _ => None,
        })
        .collect()
}

/// Questions of one scope that were answered in different ways by writers who had not seen each other, and by nobody since.
fn conflicts(record: &Record, scope: &InScope) -> Vec<String> {
    let mut by_question: BTreeMap<&str, Vec<&Version>> = BTreeMap::new();
    for version in scope.decisions.iter().filter_map(|root| record.roots.get(*root)?.now()) {
        if let What::Decision { question: word, .. } = version.what
            && question(word).is_some_and(|question| question.choose != Choose::Drop)
        {
            by_question.entry(word).or_default().push(version);
        }
    }
    by_question.into_iter().filter_map(|(word, versions)| conflict(record, word, &versions)).collect()
}

fn conflict(record: &Record, word: &str, versions: &[&Version]) -> Option<String> {
    if versions.len() < 2 {
        return None;
    }
    let mut unseen: Vec<&Version> = Vec::new();
    for version in versions {
        if let What::Decision { settles, .. } = version.what {
            unseen.retain(|before| !settles.contains(&before.entry.id));
        }
        if !unseen.is_empty() {
            let seen = record.seen_from(version.place);
            unseen.retain(|before| !seen.get(before.place).copied().unwrap_or(false));
        }
        unseen.push(version);
    }
    let answer = |version: &Version| match version.what {
        What::Decision { choice, .. } => (choice.clone(), version.entry.who.clone()),
        _ => Default::default(),
    };
    let answers: Vec<(String, String)> = unseen.iter().map(|version| answer(version)).collect();
    let first = &answers.first()?.0;
    if answers.iter().all(|(choice, _)| choice == first) {
        return None;
    }
    let said: Vec<String> = answers.iter().map(|(choice, who)| format!("{choice} ({who})")).collect();
    Some(format!("{word} was decided apart: {}; decide it once more, having seen both.", said.join(" and ")))
}

fn corrections(record: &Record, scopes: &[&InScope], numbered: &BTreeMap<usize, (Feature, usize)>, units: Units) -> Vec<Corrected> {
    let mut roots: Vec<usize> = Vec::new();
    for scope in scopes {
        roots.extend(scope.facts.iter().flat_map(|(_, roots)| roots));
        roots.extend(scope.readings.iter().chain(&scope.decisions).chain(&scope.events).chain(&scope.lathe));
    }
    let mut found: Vec<(usize, Corrected)> = Vec::new();
    for (root, versions) in roots.into_iter().filter_map(|root| Some((root, &record.roots.get(root)?.versions))) {
        for (was, is) in versions.iter().zip(versions.iter().skip(1)) {
            let (path, was, is_now) = (path_of(is.what, numbered.get(&root)), said(was.what, units), said(is.what, units));
            let (who, day) = (is.entry.who.clone(), is.entry.day().to_owned());
            let because = is.because.unwrap_or_default().to_owned();
            found.push((is.place, Corrected { path, was, is: is_now, because, who, day, entry: is.entry.id }));
        }
    }
    found.sort_by_key(|(place, _)| *place);
    found.into_iter().map(|(_, corrected)| corrected).collect()
}

/// What an entry is about, as a file names it.
fn path_of(what: &What, number: Option<&(Feature, usize)>) -> String {
    match (what, number) {
        (What::Reading { .. }, Some((feature, number))) => format!("{} {number}", feature.word()),
        (What::Reading { feature, .. }, None) => feature.word().to_owned(),
        (What::Fact { about, .. }, _) => about.clone(),
        (What::Decision { question, .. }, _) => question.clone(),
        (What::Event { what, .. }, _) => what.clone(),
        (What::Lathe { surface, .. }, _) => format!("at the lathe, {}", surface.word()),
        (What::Register { card }, _) => card.name().to_owned(),
        (What::Correction { .. } | What::Signature { .. }, _) => String::new(),
    }
}

/// What an entry says, as it is read by a person.
fn said(what: &What, units: Units) -> String {
    match what {
        What::Fact { about, value } => show::given(about, value, units),
        What::Reading { size_mm, .. } => show::length(*size_mm, units),
        What::Decision { choice, .. } => choice.clone(),
        What::Event { detail, .. } => detail.clone(),
        What::Lathe { does: Step::Withdrawn {}, .. } => "taken back".into(),
        What::Lathe { typed, .. } => typed.clone(),
        What::Register { card } => card.name().to_owned(),
        What::Correction { .. } | What::Signature { .. } => String::new(),
    }
}

/// The whole chain, its head last, and the signatures in order. As far as `known` has the same entries in the same order, its hashes are
/// taken.
fn signatures(record: &Record, state: &State, known: &[(EntryId, Hash)]) -> (Vec<(EntryId, Hash)>, Vec<Signed>) {
    let is_same = |(entry, (id, _)): &(&&Entry, &(EntryId, Hash))| entry.id == *id;
    let same = record.order.iter().zip(known).take_while(is_same).count();
    let mut head = chain::START;
    let mut whole = Vec::with_capacity(record.order.len());
    let mut signed = Vec::new();
    for (place, entry) in record.order.iter().enumerate() {
        if let What::Signature { role, head: over } = &entry.what {
            let seat = match &entry.seat {
                Scope::Seat(name) => Some(name.clone()),
                Scope::Brief(name) => Some(format!("every seat of {name}")),
                Scope::Job | Scope::Shop => None,
            };
            let reopened = *over != chain::hex(&head) || added_after(record, state, place, &entry.seat);
            signed.push(Signed {
                who: entry.who.clone(),
                role: role.clone(),
                day: entry.day().to_owned(),
                head: over.clone(),
                seat,
                reopened,
                entry: entry.id,
            });
        }
        head = match known.get(place) {
            Some((_, hash)) if place < same => *hash,
            _ => chain::hash(&head, entry),
        };
        whole.push((entry.id, head));
    }
    (whole, signed)
}

/// Whether anything but a signature was added after `place` that touches what `scope` speaks of.
fn added_after(record: &Record, state: &State, place: usize, scope: &Scope) -> bool {
    let is = |seat: &Seat, name: &str| seat.name == name || seat.row == name;
    let signed = |seat: &&Seat| match scope {
        Scope::Job | Scope::Shop => true,
        Scope::Brief(name) => seat.brief.as_ref() == Some(name),
        Scope::Seat(name) => is(seat, name),
    };
    let signed: Vec<&Seat> = state.seats.iter().filter(signed).collect();
    let touches = |other: &Scope| match other {
        _ if other == scope || *scope == Scope::Job => true,
        Scope::Job => true,
        Scope::Shop => false,
        Scope::Brief(name) => signed.iter().any(|seat| seat.brief.as_ref() == Some(name)),
        Scope::Seat(name) => signed.iter().any(|seat| is(seat, name)),
    };
    record.order.iter().skip(place + 1).any(|entry| !matches!(entry.what, What::Signature { .. }) && touches(&entry.seat))
}

/// The entries of `entries` once each, in the order in which they are taken.
pub fn ordered(entries: &[Entry]) -> Vec<Entry> {
    order::in_order(&entries.iter().collect::<Vec<_>>()).0.into_iter().cloned().collect()
}
