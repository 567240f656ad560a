//! What the page asks of its worker, and what the worker does: the sheet of one seat with its pictures.
//!
//! The page never calculates. A worker keeps the entries that it was lent and what it found for them, so that a changed input asks only
//! for what follows from it. Two workers run the same errands: one at once with few draws, one with all of them.

use calc::crew::Alone;
use draw::now::Times;
use draw::{Drawing, Setting};
use job::entry::Entry;
use job::fold;
use job::lathe::part::{self, parts};
use job::lathe::step::{Setup, Surface};
use job::past::{self, Compared, Point};
use job::registers::Registers;
use job::sheet::{Grid, SeatSheet, Stage, StageSheet};
use job::stages::{self, ask::Asking};
use job::state::{State, Units};
use serde::{Deserialize, Serialize};

/// Draws of the first answer: enough to see where a change leads.
pub const AT_ONCE: u64 = 2000;

/// What is asked.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Errand {
    /// Number of the errand; the answer names it.
    pub number: u64,
    /// The entries, when they differ from those of the errand before.
    pub entries: Option<Vec<Entry>>,
    /// Entries that are only tried, on top of the others.
    pub tried: Vec<Entry>,
    /// The seat.
    pub seat: String,
    /// In which units it is read.
    pub units: Units,
    /// Draws of each chance; none: as many as the job says.
    pub draws: Option<u64>,
    /// Keep the derivations.
    pub with_working: bool,
    /// Width that pictures are drawn for; none: no pictures.
    pub width: Option<f64>,
    /// Width of the section, which stands beside.
    pub section_width: f64,
    /// This stage alone with its pictures, beside the section, and of the others how they stand; none: all stages.
    #[serde(default)]
    pub only: Option<Stage>,
    /// What takes finite elements is left out, and owed.
    #[serde(default)]
    pub at_once: bool,
    /// Not the sheet, but what the dialogue at the lathe starts from.
    #[serde(default)]
    pub lathe: Option<Surface>,
    /// Not a seat, but what all jobs among the entries say of predictions.
    #[serde(default)]
    pub past: bool,
}

/// What past jobs say.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Past {
    /// Of each thing that is compared: its heading, what it is, the sentence, the chart and the table.
    pub compared: Vec<Looked>,
    /// What is believed of each lathe.
    pub lathes: Vec<Grid>,
}

/// One thing that is compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Looked {
    /// Its heading.
    pub title: String,
    /// What is predicted and how it is measured.
    pub about: String,
    /// All of it in a sentence; none while there is nothing to compare.
    pub said: Option<String>,
    /// The chart.
    pub picture: Option<Shown>,
    /// By lathe, gauge and alloy.
    pub by: Option<Grid>,
}

/// A picture as the page shows it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    /// The stage that it belongs to; none for the section.
    pub stage: Option<Stage>,
    /// Its name within the seat.
    pub name: String,
    /// The drawing.
    pub svg: String,
    /// What it shows.
    pub title: String,
    /// In sentences.
    pub description: String,
    /// Its figures.
    pub table: Grid,
    /// Its axis of time, where the present moment is marked on it.
    pub times: Option<Times>,
}

/// What is answered.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Done {
    /// Number of the errand.
    pub number: u64,
    /// The seat as it was asked for.
    pub seat: String,
    /// Its sheet, without the large answers that only the pictures need; none when the job has no such seat.
    pub sheet: Option<SeatSheet>,
    /// Its pictures.
    pub pictures: Vec<Shown>,
    /// Something was left out that takes finite elements.
    #[serde(default)]
    pub owes: bool,
    /// What past jobs say, where that was asked.
    #[serde(default)]
    pub past: Option<Past>,
    /// What the dialogue at the lathe starts from, or why it can't start, where that was asked.
    #[serde(default)]
    pub setup: Option<Result<Setup, String>>,
    /// Time it took by the worker's clock, ms.
    pub took_ms: f64,
}

/// A worker's desk: the entries that it was lent and what it knows.
pub struct Desk {
    entries: Vec<Entry>,
    folded: Option<Folded>,
    asking: Asking<'static>,
    working: bool,
}

impl Default for Desk {
    fn default() -> Self {
        Self { entries: Vec::new(), folded: None, asking: Asking::new(&Alone, false), working: false }
    }
}

impl Desk {
    /// Does an errand.
    pub fn run(&mut self, errand: Errand) -> Done {
        let Errand { number, entries, tried, seat, units, draws, with_working, width, section_width, only, at_once, lathe, past } = errand;
        if let Some(entries) = entries {
            self.entries = entries;
            self.folded = None;
        }
        if with_working != self.working {
            self.asking = Asking::new(&Alone, with_working);
            self.working = with_working;
        }
        self.asking.look(!tried.is_empty(), at_once);
        if past {
            let past = self.look_back(&Setting::screen(width.unwrap_or(section_width), units.system()));
            return Done { number, seat, past: Some(past), ..Done::default() };
        }
        let folded = self.folded.get_or_insert_with(|| Folded::of(&self.entries));
        let asking = &mut self.asking;
        folded.look(&tried, &seat, |state| {
            state.units = units;
            if let Some(draws) = draws {
                state.draws = state.draws.min(draws);
            }
            if let Some(surface) = lathe {
                let setup = stages::setup(state, &seat, surface, stages::Wish::default(), &Alone).map_err(|refused| refused.to_string());
                return Done { number, seat: seat.clone(), setup: Some(setup), ..Done::default() };
            }
            let sheet = stages::one(state, &seat, asking);
            let pictures = match (&sheet, width) {
                (Some(sheet), Some(width)) => seen(state, sheet, only, (width, section_width), units),
                _ => Vec::new(),
            };
            let sheet = sheet.map(|sheet| lightened(sheet, with_working, only));
            Done { number, seat: seat.clone(), sheet, pictures, owes: asking.left_out(), ..Done::default() }
        })
    }

    /// What the jobs among the entries say of predictions.
    fn look_back(&mut self, setting: &Setting) -> Past {
        let (mut points, mut finished) = (Vec::new(), Vec::new());
        let registers = of_shop(&self.entries);
        for (_, entries) in by_job(&self.entries) {
            let mut state = fold(&entries);
            registers.lend(&mut state);
            state.draws = state.draws.min(AT_ONCE);
            finished.extend(part::finished(&entries));
            let names: Vec<String> = state.seats.iter().map(|seat| seat.name.clone()).collect();
            points.extend(names.iter().flat_map(|name| stages::past(&state, name, &mut self.asking)));
        }
        let looked = |of: Compared| {
            let mine: Vec<Point> = points.iter().filter(|point| point.of == of).cloned().collect();
            let any = !mine.is_empty();
            Looked {
                title: of.title().to_owned(),
                about: of.about().to_owned(),
                said: past::said(of, &mine, setting.system),
                picture: any.then(|| shown(None, of.title().to_owned(), draw::predicted(of.title(), &mine, setting))),
                by: any.then(|| past::by(of, &mine, setting.system)),
            }
        };
        Past { compared: Compared::ALL.map(looked).into(), lathes: past::lathes(&finished, setting.system, &mut self.asking) }
    }
}

/// The registers of the shop, whose entries belong to no job.
fn of_shop(entries: &[Entry]) -> Registers {
    fold::registers(&entries.iter().filter(|entry| entry.job.is_empty()).cloned().collect::<Vec<_>>())
}

/// Entries of each job, in the order in which the jobs first stand; those of the shop belong to none.
fn by_job(entries: &[Entry]) -> Vec<(&str, Vec<Entry>)> {
    let mut jobs: Vec<(&str, Vec<Entry>)> = Vec::new();
    for entry in entries.iter().filter(|entry| !entry.job.is_empty()) {
        match jobs.iter_mut().find(|(job, _)| *job == entry.job) {
            Some((_, mine)) => mine.push(entry.clone()),
            None => jobs.push((&entry.job, vec![entry.clone()])),
        }
    }
    jobs
}

/// What the entries of a desk amount to.
struct Folded {
    /// The job's own entries.
    mine: Vec<Entry>,
    /// The shop's registers.
    registers: Registers,
    /// The job with what is lent to it.
    state: State,
}

impl Folded {
    fn of(entries: &[Entry]) -> Self {
        let jobs = by_job(entries);
        let finished = jobs.iter().flat_map(|(_, entries)| part::finished(entries)).collect();
        let mine = jobs.into_iter().next().map_or_else(Vec::new, |(_, mine)| mine);
        let registers = of_shop(entries);
        let mut state = fold(&mine);
        registers.lend(&mut state);
        state.finished = finished;
        Self { mine, registers, state }
    }

    /// Looks at the job with what is tried at one seat: the other seats lie beside it as they are recorded.
    fn look<T>(&mut self, tried: &[Entry], seat: &str, look: impl FnOnce(&mut State) -> T) -> T {
        let recorded = &mut self.state;
        if tried.is_empty() {
            let (units, draws) = (recorded.units, recorded.draws);
            let found = look(recorded);
            (recorded.units, recorded.draws) = (units, draws);
            return found;
        }
        let mut trial = fold::with_tried(recorded, &self.mine, tried, seat);
        self.registers.lend(&mut trial);
        // What lies beside is lent to the trial and given back: to copy a row of sixty seats takes longer than to work one out.
        let tried = trial.seats.pop();
        std::mem::swap(&mut trial.seats, &mut recorded.seats);
        std::mem::swap(&mut trial.finished, &mut recorded.finished);
        let as_recorded = tried.and_then(|tried| Some(std::mem::replace(trial.seats.iter_mut().find(|known| known.name == seat)?, tried)));
        let found = look(&mut trial);
        if let Some((place, as_recorded)) = trial.seats.iter_mut().find(|known| known.name == seat).zip(as_recorded) {
            *place = as_recorded;
        }
        std::mem::swap(&mut trial.seats, &mut recorded.seats);
        std::mem::swap(&mut trial.finished, &mut recorded.finished);
        found
    }
}

/// What a job amounts to with what is lent to it: its own entries stand first, behind them those of the shop's registers and the steps
/// at the lathe of other jobs, which teach what the lathe does.
pub fn folded(entries: &[Entry]) -> State {
    Folded::of(entries).state
}

/// The pictures of a sheet, with the cuts of the part that was last on the lathe; `only` those of a stage, and the section.
fn seen(state: &State, sheet: &SeatSheet, only: Option<Stage>, (width, section_width): (f64, f64), units: Units) -> Vec<Shown> {
    let drawn = |width, wanted: &dyn Fn(Option<Stage>) -> bool| draw::pictures_of(sheet, &Setting::screen(width, units.system()), wanted);
    let section = drawn(section_width, &|stage| stage.is_none());
    let rest = drawn(width, &|stage| stage.is_some() && (only.is_none() || stage == only));
    let mut pictures: Vec<Shown> =
        section.into_iter().chain(rest).map(|picture| shown(picture.stage, picture.name, picture.drawing)).collect();
    let cuts = at_the_lathe(state, &sheet.name, only, &Setting::screen(width, units.system()));
    // The same cuts from the advice alone, beside those of the log, would be shown twice.
    let is_advice = |shown: &Shown| ["at_the_lathe_", "turned_"].iter().any(|start| shown.name.starts_with(start));
    pictures.retain(|shown| !is_advice(shown) || cuts.iter().all(|cut| cut.stage != shown.stage));
    pictures.extend(cuts);
    pictures
}

fn shown(stage: Option<Stage>, name: String, drawing: Drawing) -> Shown {
    let Drawing { svg, title, description, table, times, .. } = drawing;
    Shown { stage, name, svg, title, description, table, times }
}

/// The cuts into the band, of the part that was last on the lathe for each surface.
fn at_the_lathe(state: &State, seat: &str, only: Option<Stage>, setting: &Setting) -> Vec<Shown> {
    let Some(seat) = state.seats.iter().find(|known| known.name == seat) else { return Vec::new() };
    let of = |(surface, stage, name): (Surface, Stage, &str)| {
        let part = parts(&state.number, &seat.name, &seat.lathe, surface).into_iter().rev().find(|part| part.start().is_some())?;
        let approach = draw::cuts::of_part(&part, &Alone)?;
        Some(shown(Some(stage), name.to_owned(), draw::approach(&approach, setting)))
    };
    let of_both = [(Surface::Outside, Stage::Turn, "cuts"), (Surface::Bore, Stage::Bore, "bore_cuts")];
    of_both.into_iter().filter(|(_, stage, _)| only.is_none() || only == Some(*stage)).filter_map(of).collect()
}

/// The sheet without requests and answers: on the way from the worker they would be most of it. Derivations stay where they are wanted. Where
/// `only` one stage is looked at, the others are without their tables.
fn lightened(mut sheet: SeatSheet, with_working: bool, only: Option<Stage>) -> SeatSheet {
    for other in sheet.stages.iter_mut().filter(|stage| only.is_some_and(|only| only != stage.stage)) {
        (other.warnings, other.lines, other.grids) = Default::default();
        (other.calculations, other.sources) = Default::default();
    }
    for calculation in sheet.stages.iter_mut().flat_map(|stage: &mut StageSheet| &mut stage.calculations) {
        let keep: &[&str] = match (with_working, calculation.kind.as_str()) {
            (true, "survey") => &["suspects", "working"],
            (true, _) => &["working"],
            (false, "survey") => &["suspects"],
            (false, _) => &[],
        };
        if let Some(answer) = calculation.answer.as_object_mut() {
            answer.retain(|key, _| keep.contains(&key.as_str()));
        }
        if calculation.kind != "survey" {
            calculation.request = serde_json::Value::Null;
        }
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ferry() -> Vec<Entry> {
        job::open("ferry", include_bytes!("../../../demo/ferry_ramp_winch.toml")).unwrap().0
    }

    fn errand(number: u64, entries: Option<Vec<Entry>>, tried: Vec<Entry>) -> Errand {
        Errand {
            number,
            entries,
            tried,
            seat: "inboard".into(),
            draws: Some(AT_ONCE),
            width: Some(720.0),
            section_width: 420.0,
            ..Errand::default()
        }
    }

    #[test]
    fn gauges_of_the_shop_are_lent_to_the_job_and_do_not_become_a_part_of_it() {
        let card = job::registers::Card::Gauge {
            name: "ring gauge".into(),
            about: "No 12".into(),
            low_mm: 200.0,
            high_mm: 260.0,
            resolution_mm: 0.002,
            repeatability_mm: None,
            repeats: None,
            contacts: None,
        };
        let reading = job::entry::What::Reading {
            feature: job::state::Feature::FittedBore,
            set: 7,
            gauge: Some("ring gauge".into()),
            station_mm: None,
            angle_deg: None,
            size_mm: 210.1,
            own_part_C: None,
            part_C: None,
            gauge_C: None,
        };
        let write = |n: u8, job: &str, scope, what| {
            let moment = crate::writing::Moment { millis: 1_795_000_000_000, free: [n; 10] };
            crate::writing::entry(&crate::writing::Pen::default(), moment, job, scope, None, what)
        };
        let seat = job::entry::Scope::Seat("inboard".into());
        let mut entries = ferry();
        let job = entries[0].job.clone();
        entries.push(write(1, &job, seat, reading));
        entries.push(write(2, "", job::entry::Scope::Shop, job::entry::What::Register { card }));
        let state = folded(&entries);
        let seat = state.seats.iter().find(|seat| seat.name == "inboard").unwrap();
        assert_eq!(seat.number("gauge.ring gauge.resolution"), Some(0.002));
        assert!(seat.notes.iter().any(|note| note.contains("no check is on record")), "{:?}", seat.notes);
        let past = Desk::default().run(Errand { past: true, ..errand(1, Some(entries), Vec::new()) }).past.unwrap();
        assert_eq!(past.compared.len(), 4);
        let landed = past.compared.iter().find(|looked| looked.title.contains("Landing of the bore")).unwrap();
        assert!(landed.said.is_some() && landed.picture.is_some() && landed.by.is_some());
    }

    #[test]
    fn a_first_look_leaves_the_finite_elements_to_the_other_worker() {
        let along = |at_once| {
            let mut desk = Desk::default();
            let sheet = desk.run(Errand { at_once, ..errand(1, Some(ferry()), Vec::new()) }).sheet.unwrap();
            let fit = sheet.stages.iter().find(|stage| stage.stage == Stage::Fit).unwrap().clone();
            (fit.calculations.iter().any(|one| one.kind == "fit-shape"), fit.lines, fit.answer)
        };
        let ((quick, lines, first), (full, _, then)) = (along(true), along(false));
        assert!(!quick && full);
        assert!(lines.iter().any(|line| line.value == "being worked out"), "{lines:?}");
        assert_eq!(first, then, "the answer itself does not wait for them");
    }

    #[test]
    fn the_worker_says_what_the_dialogue_at_the_lathe_starts_from() {
        let mut desk = Desk::default();
        let asked = Errand { lathe: Some(Surface::Outside), ..errand(1, Some(ferry()), Vec::new()) };
        let text = serde_json::to_string(&desk.run(asked)).unwrap();
        let done: Done = serde_json::from_str(&text).unwrap();
        let setup = done.setup.unwrap().unwrap();
        let state = fold(&ferry());
        let own = stages::setup(&State { draws: AT_ONCE, ..state }, "inboard", Surface::Outside, stages::Wish::default(), &Alone).unwrap();
        assert_eq!(setup, own);
        let none = Errand { seat: "nowhere".into(), lathe: Some(Surface::Bore), ..errand(2, None, Vec::new()) };
        assert!(desk.run(none).setup.unwrap().unwrap_err().contains("allowed: inboard, outboard"));
    }

    #[test]
    fn the_worker_gives_the_sheet_of_the_command_line_and_its_pictures() {
        let mut desk = Desk::default();
        let done = desk.run(errand(1, Some(ferry()), Vec::new()));
        let sheet = done.sheet.unwrap();
        let mut state = fold(&ferry());
        state.draws = AT_ONCE;
        let whole = stages::sheet(&state, stages::Wanted::default(), &Alone);
        assert_eq!(sheet.decision, whole.seats[0].decision);
        let names: Vec<&str> = done.pictures.iter().map(|picture| picture.name.as_str()).collect();
        assert!(names.contains(&"section") && names.contains(&"hold_map") && names.contains(&"contributors"), "{names:?}");
    }

    #[test]
    fn what_is_tried_changes_the_answer_and_leaves_what_is_kept() {
        let mut desk = Desk::default();
        let before = desk.run(errand(1, Some(ferry()), Vec::new())).sheet.unwrap();
        let value = job::state::Given::Figure { value: 300.0, u: 0.0 };
        let what = job::entry::What::Fact { about: "housing.outside".into(), value };
        let moment = crate::writing::Moment { millis: 1_795_000_000_000, free: [1; 10] };
        let follows = ferry().last().map(|entry| entry.id);
        let scope = job::entry::Scope::Brief("winch".into());
        let tried = crate::writing::entry(&crate::writing::Pen::default(), moment, "W-2611", scope, follows, what);
        let with = desk.run(errand(2, None, vec![tried.clone()]));
        assert_ne!(Some(&before.decision), with.sheet.as_ref().map(|sheet| &sheet.decision));
        let after = desk.run(errand(3, None, Vec::new())).sheet.unwrap();
        assert_eq!(before, after);
        let recorded = [ferry(), vec![tried.clone()]].concat();
        let recorded = Desk::default().run(errand(4, Some(recorded), Vec::new())).sheet;
        assert_eq!(with.sheet, recorded, "what is tried says what it would say once it is recorded");
        let fit = desk.run(Errand { only: Some(Stage::Fit), ..errand(5, None, vec![tried]) }).pictures;
        let of_fit = |shown: &&Shown| shown.stage.is_none_or(|stage| stage == Stage::Fit);
        assert_eq!(fit, with.pictures.iter().filter(of_fit).cloned().collect::<Vec<_>>(), "a look at one stage shows what all show of it");
    }
}
