//! From a folded job to its sheet: each stage asks `calc` in the order of the job and puts the answers into words.
//!
//! A stage reads what the person gave (the seat's facts, readings, decisions) and what the stages before it found (`found::Found`),
//! and never calculates by itself. A stage that misses something says what, and the next stages go as far as they can.

mod alloy;
pub mod ask;
mod bore;
mod brief;
mod cold;
mod draft;
mod drawn;
mod fit;
mod fit_chance;
mod fit_shape;
mod found;
mod lathe;
mod measure;
mod past;
mod release;
mod retain;
mod running;
mod seating;
mod stock;
mod turn;
mod warm;

pub use fit_chance::input_words;
pub use lathe::{Wish, setup};
pub use past::past;
pub use release::signature_line;

use calc::crew::Crew;
use calc::shown;
use calc::units::System;

use crate::sheet::{JobSheet, SeatSheet, Stage, StageSheet, Standing};
use crate::state::{Seat, State, Taken, Units};
use ask::Asking;
use draft::Draft;
use found::Found;

/// How a sheet is wanted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wanted {
    /// Keep the derivation of every answer.
    pub with_working: bool,
}

/// What every stage of a seat works with.
pub(crate) struct Bench<'s> {
    pub seat: &'s Seat,
    pub state: &'s State,
    pub system: System,
}

impl<'s> Bench<'s> {
    pub fn of(seat: &'s Seat, state: &'s State) -> Self {
        Self { seat, state, system: state.units.system() }
    }
}

type Stager = fn(&Bench, &mut Draft, &mut Found);

const STAGES: [(Stage, Stager); 9] = [
    (Stage::Brief, brief::write),
    (Stage::Measure, measure::write),
    (Stage::Alloy, alloy::write),
    (Stage::Fit, fit::write),
    (Stage::Stock, stock::write),
    (Stage::Turn, turn::write),
    (Stage::Seat, seating::write),
    (Stage::Bore, bore::write),
    (Stage::Release, release::write),
];

/// The sheet of a job.
pub fn sheet(state: &State, wanted: Wanted, crew: &dyn Crew) -> JobSheet {
    let mut asking = Asking::new(crew, wanted.with_working);
    let mut seats: Vec<SeatSheet> = Vec::new();
    for seat in &state.seats {
        let made = seat_sheet(seat, state, &mut asking);
        match seats.iter_mut().find(|known| known.decision == made.decision && known.stages == made.stages) {
            Some(known) => known.also.push(made.name),
            None => seats.push(made),
        }
    }
    JobSheet {
        number: state.number.clone(),
        title: state.title.clone(),
        customer: state.customer.clone(),
        units: if state.units == Units::Inch { "inch" } else { "mm" }.into(),
        by: state.by.clone(),
        date: state.date.clone(),
        head: state.head.clone(),
        signatures: state.signatures.iter().map(release::signature_line).collect(),
        notes: state.notes.clone(),
        seats,
    }
}

/// The sheet of the one seat called `name`; none where there is no such seat. `asking` may have been used before: what it found for the
/// same request is not found again.
pub fn one(state: &State, name: &str, asking: &mut Asking) -> Option<SeatSheet> {
    let seat = state.seats.iter().find(|seat| seat.name == name)?;
    Some(seat_sheet(seat, state, asking))
}

fn seat_sheet(seat: &Seat, state: &State, asking: &mut Asking) -> SeatSheet {
    worked(seat, state, asking).0
}

/// The sheet of a seat, and what its stages found.
fn worked(seat: &Seat, state: &State, asking: &mut Asking) -> (SeatSheet, Found) {
    let bench = Bench::of(seat, state);
    let mut found = Found::default();
    let mut stages: Vec<StageSheet> = Vec::new();
    for (stage, write) in STAGES {
        let mut draft = Draft::new(stage, asking);
        if stage == Stage::Brief {
            seat.notes.iter().for_each(|note| draft.warn(note.clone()));
            seat.conflicts.iter().for_each(|conflict| draft.need(conflict.clone()));
        }
        write(&bench, &mut draft, &mut found);
        let sheet = draft.finish();
        if sheet.standing == Standing::Stale {
            found.stale.push(stage);
        }
        stages.push(sheet);
    }
    let decision = released(&bench, &found, &stages).or_else(|| found.decision.clone()).unwrap_or_else(|| still_open(&stages));
    let drawing = drawn::drawn(&bench, &found, &stages);
    let section = found.section(&bench);
    (SeatSheet { name: seat.name.clone(), also: Vec::new(), decision, section, drawing, stages }, found)
}

/// What stands in the place of the decision once the bush is released: what it was made to.
fn released(bench: &Bench, found: &Found, stages: &[StageSheet]) -> Option<String> {
    stages.iter().find(|stage| stage.stage == Stage::Release && stage.standing == Standing::Done)?;
    let signed = bench.state.signatures.iter().rev().find(|signed| !signed.reopened && signed.is_over(&bench.seat.name))?;
    let size = |measured: Option<found::Measured>| measured.map(|measured| shown::size(&measured.size, bench.system)).unwrap_or_default();
    Some(format!(
        "Released by {}, {}: turned to {}, bored to {} at 20 °C.",
        signed.who,
        signed.day,
        size(found.outside),
        size(found.fitted_bore)
    ))
}

/// What stands in the place of the decision while there is none: what the first open stage waits for.
fn still_open(stages: &[StageSheet]) -> String {
    let open = stages.iter().find(|stage| stage.standing == Standing::NeedsYou && stage.stage >= Stage::Measure);
    let open = open.or_else(|| stages.iter().find(|stage| stage.standing == Standing::NeedsYou));
    match open {
        Some(stage) => format!("No band yet: {} needs you. {}", stage.stage.title(), stage.needs.first().cloned().unwrap_or_default()),
        None => "No band yet: too little was given.".into(),
    }
}

/// Says on a stage what moved after a decision was taken on it, and whether `still` would be the answer now.
pub(crate) fn note_staleness(draft: &mut Draft, taken: &Taken, now: Option<&str>) {
    if taken.moved.is_empty() {
        return;
    }
    let moved = taken.moved.iter().map(|moved| format!("{} was {}, is now {}", moved.path, moved.was, moved.is));
    let moved = moved.collect::<Vec<_>>().join("; ");
    let verdict = match now {
        Some(now) if now == taken.choice => "the decision would be the same".to_owned(),
        Some(now) => format!("it would now be {now}"),
        None => "look at it again".to_owned(),
    };
    draft.warn(format!("The decision on {} ({}) was taken before its inputs moved: {moved}; {verdict}.", taken.question, taken.choice));
    draft.stale();
}
