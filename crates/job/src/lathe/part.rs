//! One part at the lathe: its steps from the start to the end, and the question that they put to `next-cut`.

use calc::crew::Crew;
use calc::turn::start;
use calc::{Refused, units};
use serde_json::{Value, json};

use crate::entry::{Amount, Entry, EntryId, Scope, What};
use crate::stages::ask::{Said, request};
use crate::state::Units;

use super::habit;
use super::step::{Passed, Setup, Step, Surface};

/// A step that stands, with who did it and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Turned {
    /// The entry that says so.
    pub entry: EntryId,
    /// Who.
    pub who: String,
    /// When.
    pub when: String,
    /// Which surface.
    pub surface: Surface,
    /// Time since the step before, s.
    pub after_s: f64,
    /// As it was typed.
    pub typed: String,
    /// What happened.
    pub step: Step,
}

impl Turned {
    /// What `what` says in the name of `entry`; none where it is no step or one that was taken back.
    pub fn of(entry: &Entry, what: &What) -> Option<Self> {
        let What::Lathe { surface, after_s, typed, does } = what else { return None };
        if matches!(does, Step::Withdrawn {}) {
            return None;
        }
        let Entry { id, who, when, .. } = entry;
        let (who, when, typed) = (who.clone(), when.clone(), typed.clone());
        Some(Self { entry: *id, who, when, surface: *surface, after_s: *after_s, typed, step: does.clone() })
    }
}

/// The steps of one seat that stand, from the entries of a log in their order.
pub fn turned(entries: &[Entry], seat: &str) -> Vec<Turned> {
    let mut steps: Vec<Turned> = Vec::new();
    for entry in entries.iter().filter(|entry| entry.seat == Scope::Seat(seat.to_owned())) {
        match &entry.what {
            What::Correction { replaces, with, .. } => {
                let place = steps.iter().position(|step| step.entry == *replaces);
                match (place, Turned::of(entry, with)) {
                    (Some(place), Some(step)) => steps[place] = step,
                    (Some(place), None) => {
                        steps.remove(place);
                    }
                    _ => {}
                }
            }
            what => steps.extend(Turned::of(entry, what)),
        }
    }
    steps
}

/// One part: what was done from the start to the end.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The job.
    pub job: String,
    /// The seat.
    pub seat: String,
    /// Which surface.
    pub surface: Surface,
    /// Its steps.
    pub steps: Vec<Turned>,
}

/// The parts of one seat and surface, in order; the last may be under way, or not started (without a step).
pub fn parts(job: &str, seat: &str, steps: &[Turned], surface: Surface) -> Vec<Part> {
    let part = || Part { job: job.to_owned(), seat: seat.to_owned(), surface, steps: Vec::new() };
    let mut parts = vec![part()];
    for step in steps.iter().filter(|step| step.surface == surface) {
        if matches!(step.step, Step::Another {}) {
            parts.push(part());
        } else if let Some(last) = parts.last_mut() {
            last.steps.push(step.clone());
        }
    }
    parts
}

/// All parts of a log that were finished, in the order in which they were.
pub fn finished(entries: &[Entry]) -> Vec<Part> {
    let mut seats: Vec<(&str, &str)> = Vec::new();
    for entry in entries {
        if let Scope::Seat(name) = &entry.seat
            && !seats.contains(&(entry.job.as_str(), name.as_str()))
        {
            seats.push((&entry.job, name));
        }
    }
    let mut all: Vec<Part> = Vec::new();
    for (job, seat) in seats {
        let steps = turned(entries, seat);
        for surface in [Surface::Outside, Surface::Bore] {
            all.extend(parts(job, seat, &steps, surface).into_iter().filter(Part::is_finished));
        }
    }
    sort(&mut all);
    all
}

/// Puts finished parts in the order in which they were finished.
pub fn sort(parts: &mut [Part]) {
    let end = |part: &Part| part.steps.last().map(|step| (step.when.clone(), step.entry));
    parts.sort_by_key(end);
}

/// Smallest step of the slide that is advised: 0.001 mm, or a ten-thousandth of an inch.
fn step_mm(units: Units) -> f64 {
    match units {
        Units::Mm => 0.001,
        Units::Inch => units::mm_from_inch(0.0001),
    }
}

impl Part {
    /// What it started from, once it was started.
    pub fn start(&self) -> Option<(&Setup, Amount)> {
        self.steps.iter().find_map(|step| match &step.step {
            Step::Start { setup, size_mm } => Some((&**setup, *size_mm)),
            _ => None,
        })
    }

    /// Its limits now, mm at 20 °C.
    pub fn limits(&self) -> Option<(f64, f64)> {
        self.steps.iter().rev().find_map(|step| match &step.step {
            Step::Start { setup, .. } => Some((setup.lower_mm, setup.upper_mm)),
            Step::Band { lower_mm, upper_mm } => Some((*lower_mm, *upper_mm)),
            _ => None,
        })
    }

    /// Cuts made.
    pub fn cuts(&self) -> usize {
        self.steps.iter().filter(|step| matches!(step.step, Step::Cut { .. })).count()
    }

    /// Size readings taken, each set once.
    pub fn sizes(&self) -> usize {
        self.steps.iter().filter(|step| matches!(step.step, Step::Size { .. })).count()
    }

    /// Whether it was finished.
    pub fn is_finished(&self) -> bool {
        matches!(self.steps.last().map(|step| &step.step), Some(Step::Finished {}))
    }

    /// Whether it was finished or lost.
    pub fn is_over(&self) -> bool {
        self.is_finished() || matches!(self.steps.last().map(|step| &step.step), Some(Step::Scrapped {}))
    }

    /// Cuts of the plan that are still to be made.
    pub fn left(&self) -> u32 {
        let said = self.steps.iter().rposition(|step| matches!(step.step, Step::Left { .. }));
        let planned = match said.and_then(|place| self.steps.get(place)).map(|step| &step.step) {
            Some(Step::Left { cuts }) => *cuts,
            _ => self.start().map_or(0, |(setup, _)| setup.cuts),
        };
        let made = self.steps.iter().skip(said.unwrap_or(0)).filter(|step| matches!(step.step, Step::Cut { .. })).count();
        planned.saturating_sub(u32::try_from(made).unwrap_or(u32::MAX))
    }

    /// The same for the next command: at least the one that it is for.
    pub fn cuts_left(&self) -> u32 {
        self.left().max(1)
    }

    /// The steps after the last one that `is` finds.
    pub fn since(&self, is: impl Fn(&Step) -> bool) -> &[Turned] {
        let from = self.steps.iter().rposition(|step| is(&step.step)).map_or(0, |place| place + 1);
        self.steps.get(from..).unwrap_or_default()
    }

    /// Whether `what` was passed over in `steps`.
    pub fn passed(steps: &[Turned], what: Passed) -> bool {
        steps.iter().any(|step| step.step == Step::Skip { what })
    }

    /// The request to `next-cut`; none before the start.
    pub fn request(&self) -> Option<Value> {
        let (setup, size) = self.start()?;
        let (lower_mm, upper_mm) = self.limits()?;
        let some = |x: Option<f64>| x.map(|x| json!(x));
        let mut asked = request([
            ("side", Some(json!(self.surface.word()))),
            ("nominal_mm", Some(json!(setup.nominal_mm))),
            ("lower_mm", Some(json!(lower_mm))),
            ("upper_mm", Some(json!(upper_mm))),
            ("start_mm", Some(json!({"value": size.value, "u": size.u}))),
            ("alpha_per_K", Some(json!(setup.alpha_per_K))),
            ("gauge_alpha_per_K", some(setup.gauge_alpha_per_K)),
            ("reading_u_mm", some(setup.reading_u_mm)),
            ("temperature_bias_u_K", some(setup.thermometer_u_K)),
            ("words_in", (setup.units == Units::Inch).then(|| json!("inch"))),
            ("gauge_bias_u_mm", some(setup.correction_mm.map(|amount| amount.u))),
            ("events", Some(Value::Array(self.events(setup)))),
            ("cuts_left", Some(json!(self.cuts_left()))),
            ("step_mm", Some(json!(step_mm(setup.units)))),
            ("earlier_innovation_squares", (setup.earlier > 0).then(|| json!(setup.earlier_squares))),
            ("earlier_innovations", (setup.earlier > 0).then(|| json!(setup.earlier))),
            ("blank_price", some(setup.blank_price)),
            ("minute_price", some(setup.minute_price)),
        ]);
        if let Some(map) = asked.as_object_mut() {
            for belief in &setup.habits {
                habit::write(map, belief);
            }
        }
        Some(asked)
    }

    /// What `next-cut` says of it; none before the start.
    pub fn ask(&self, crew: &dyn Crew) -> Option<Result<Said, Refused>> {
        Some(calc::answer("next-cut", &self.request()?, crew, false).map(Said::from))
    }

    fn events(&self, setup: &Setup) -> Vec<Value> {
        let mut events = Vec::new();
        for step in &self.steps {
            if step.after_s > 0.0 {
                events.push(json!({"ev": "cool", "dt_s": step.after_s}));
            }
            events.extend(event(setup, &step.step));
        }
        events
    }
}

/// A step as an event of the request; none where it says nothing about size or temperature.
fn event(setup: &Setup, step: &Step) -> Option<Value> {
    let mean = |values: &[f64]| start::mean(values).unwrap_or_default();
    Some(match step {
        Step::Air { values_C } => json!({"ev": "ambient", "value_C": mean(values_C), "n": values_C.len()}),
        Step::Part { values_C } => json!({"ev": "temp", "value_C": mean(values_C), "n": values_C.len()}),
        Step::Size { values_mm } => {
            let correction = setup.correction_mm.map_or(0.0, |amount| amount.value);
            json!({"ev": "read", "value_mm": start::corrected(mean(values_mm), correction), "n": values_mm.len()})
        }
        Step::Check { values_mm } => {
            let correction = setup.correction_mm.map_or(0.0, |amount| amount.value);
            json!({"ev": "gauge-check", "error_mm": start::corrected(mean(values_mm), correction), "n": values_mm.len()})
        }
        Step::Cut { command_mm } => json!({"ev": "cut", "command_mm": command_mm}),
        Step::Tool {} => json!({"ev": "tool-change"}),
        Step::Chuck {} => json!({"ev": "re-chuck"}),
        Step::Day {} => json!({"ev": "new-day"}),
        _ => return None,
    })
}
