//! What is printed, as plain data for the template: texts cleaned, tables squared, drawings made and numbered.
//!
//! The template lays out and decides nothing; here stand the choices: which drawing goes where, which value is a sentence.

use calc::units::shown_plain;
use draw::{Picture, Setting, pictures};
use job::sheet::{Calculation, JobSheet, SeatSheet, Stage, StageSheet, Standing};
use serde::Serialize;
use serde_json::Value;

use crate::letters::{Cleaner, Letters};
use crate::rows::{Row, Table};
use crate::{Options, Size, Unset};

/// Width of the drawings in their own units: their letters are then some 8 points high on paper.
const DRAWN: f64 = 720.0;

/// Letters of a value beyond which it is a sentence and is set like one.
const VALUE: usize = 30;

/// A document's data and drawings.
pub(crate) struct Page {
    job: Job,
    drawings: Vec<String>,
}

#[derive(Serialize)]
struct Job {
    paper: &'static str,
    name: String,
    number: String,
    title: String,
    short: String,
    customer: String,
    by: Vec<String>,
    date: String,
    day: Option<(i64, i64, i64)>,
    units: String,
    head: String,
    signatures: Vec<String>,
    notes: Vec<String>,
    seats: Vec<Seat>,
    sources: Vec<(String, Vec<String>)>,
    unprinted: Option<String>,
}

#[derive(Serialize)]
struct Seat {
    name: String,
    also: Vec<String>,
    decision: String,
    section: Option<Drawn>,
    stages: Vec<StagePage>,
}

#[derive(Serialize)]
struct StagePage {
    title: &'static str,
    standing: &'static str,
    mark: &'static str,
    word: &'static str,
    /// Whether it has nothing but its answer.
    bare: bool,
    brief: String,
    answer: String,
    cautions: Vec<String>,
    warnings: Vec<String>,
    needs: Vec<String>,
    lines: Vec<Row>,
    grids: Vec<Table>,
    drawings: Vec<Drawn>,
    working: Vec<Derivation>,
}

#[derive(Serialize)]
struct Drawn {
    file: String,
    title: String,
    alt: String,
    /// Width on paper, mm.
    width_mm: f64,
}

#[derive(Serialize)]
struct Derivation {
    name: String,
    steps: Vec<StepPage>,
}

#[derive(Serialize)]
struct StepPage {
    what: String,
    formula: String,
    with: String,
    gives: String,
    source: String,
}

/// More seats than these are a batch: the first stands in full, the others in short.
const BATCH: usize = 4;

impl Page {
    pub fn of(sheet: &JobSheet, options: &Options, letters: Letters) -> Self {
        let mut setter = Setter { options: *options, cleaner: Cleaner::new(letters), drawings: Vec::new() };
        let job = setter.job(sheet);
        Self { job, drawings: setter.drawings }
    }

    /// Whether the sheet has a day that exists.
    pub const fn is_dated(&self) -> bool {
        self.job.day.is_some()
    }

    pub fn json(&self) -> Result<String, Unset> {
        serde_json::to_string(&self.job).map_err(|fault| Unset(fault.to_string()))
    }

    pub fn drawings(self) -> Vec<String> {
        self.drawings
    }
}

struct Setter {
    options: Options,
    cleaner: Cleaner,
    drawings: Vec<String>,
}

impl Setter {
    fn job(&mut self, sheet: &JobSheet) -> Job {
        let batch = sheet.seats.len() > BATCH;
        let seats = sheet.seats.iter().enumerate().map(|(i, seat)| self.seat(seat, sheet, batch && i > 0)).collect();
        let sources = self.sources(sheet);
        let number = self.text(&sheet.number);
        let title = self.text(&sheet.title);
        let name = if title.is_empty() { format!("Job {number}") } else { format!("Job {number}: {title}") };
        let mut job = Job {
            paper: self.options.size.word(),
            short: shortened(&name, 70),
            name,
            number,
            title,
            customer: self.text(&sheet.customer),
            by: self.cleaner.texts(&sheet.by),
            date: self.text(&sheet.date),
            day: day(&sheet.date),
            units: self.text(&sheet.units),
            head: self.head(&sheet.head),
            signatures: self.cleaner.texts(&sheet.signatures),
            notes: self.cleaner.texts(&sheet.notes),
            seats,
            sources,
            unprinted: None,
        };
        job.unprinted = self.cleaner.note();
        job
    }

    fn text(&mut self, text: &str) -> String {
        self.cleaner.text(text)
    }

    /// The head is copied from the paper: a hash stays in one piece, only what is longer than any hash may be broken.
    fn head(&mut self, head: &str) -> String {
        if head.chars().count() <= 64 { self.cleaner.whole(head).trim().to_owned() } else { self.text(head) }
    }

    /// A heading must not be empty.
    fn or(&mut self, text: &str, otherwise: &str) -> String {
        let text = self.text(text);
        if text.is_empty() { otherwise.into() } else { text }
    }

    /// A seat with its drawings and stages. In a batch the seats after the first are told in `short`: what is done at the lathe and at
    /// the press in full, the rest by its answer, and the drawings stand with the first.
    fn seat(&mut self, seat: &SeatSheet, sheet: &JobSheet, short: bool) -> Seat {
        let drawn = if short { Vec::new() } else { self.pictures(seat, sheet) };
        let section = drawn.iter().find(|picture| picture.stage.is_none()).map(|picture| self.drawn(picture, ""));
        Seat {
            name: self.or(&seat.name, "seat without a name"),
            also: self.cleaner.texts(&seat.also),
            decision: self.text(&seat.decision),
            section,
            stages: seat.stages.iter().map(|stage| self.stage(stage, &drawn, short)).collect(),
        }
    }

    /// The seat's drawings at the width of the paper, with every text cleaned first.
    fn pictures(&mut self, seat: &SeatSheet, sheet: &JobSheet) -> Vec<Picture> {
        let setting = Setting::paper(DRAWN, self.options.size.text_width_mm(), draw::system(sheet));
        let mut seat = seat.clone();
        if let Some(section) = &mut seat.section {
            let sizes = [
                &mut section.housing_outside,
                &mut section.housing_bore,
                &mut section.bush_outside,
                &mut section.bush_bore,
                &mut section.journal,
                &mut section.length,
            ];
            let flange = section.flange.iter_mut().flat_map(|(outside, thickness)| [outside, thickness]);
            let groove = section.groove.iter_mut().map(|(middle, ..)| middle);
            for size in sizes.into_iter().chain(flange).chain(groove) {
                size.text = self.cleaner.whole(&size.text);
                size.of = self.cleaner.whole(&size.of);
            }
            section.alloy = self.cleaner.whole(&section.alloy);
            section.metal = self.cleaner.whole(&section.metal);
        }
        for calculation in seat.stages.iter_mut().flat_map(|stage| &mut stage.calculations) {
            self.clean(&mut calculation.request);
            self.clean(&mut calculation.answer);
        }
        pictures(&seat, &setting)
    }

    fn clean(&mut self, value: &mut Value) {
        match value {
            Value::String(text) => *text = self.cleaner.whole(text),
            Value::Array(list) => list.iter_mut().for_each(|value| self.clean(value)),
            Value::Object(map) => map.values_mut().for_each(|value| self.clean(value)),
            _ => {}
        }
    }

    fn drawn(&mut self, picture: &Picture, of: &str) -> Drawn {
        let drawing = &picture.drawing;
        let size: Size = self.options.size;
        let full = size.text_width_mm();
        // A tall one is made narrower, so that it stays on its page.
        let width_mm = full.min(size.drawing_height_mm() * drawing.width / drawing.height.max(1.0));
        self.drawings.push(drawing.svg.clone());
        let title = match (picture.name.as_str(), of) {
            // It carries its own heading.
            ("contributors", _) => String::new(),
            (_, "") => drawing.title.clone(),
            _ => format!("{}: {of}", drawing.title),
        };
        Drawn {
            file: format!("/{}.svg", self.drawings.len() - 1),
            title: self.text(&title),
            alt: self.text(&drawing.description),
            width_mm,
        }
    }

    fn stage(&mut self, stage: &StageSheet, drawn: &[Picture], short: bool) -> StagePage {
        let (mark, word) = stage.standing.mark();
        let drawings = drawn
            .iter()
            .filter(|picture| picture.stage == Some(stage.stage))
            .map(|picture| {
                let feature = picture.name.strip_suffix("_survey").map(|feature| feature.replace('_', " "));
                self.drawn(picture, &feature.unwrap_or_default())
            })
            .collect();
        StagePage {
            title: stage.stage.title(),
            standing: standing(stage.standing),
            mark,
            word,
            bare: is_bare(stage) || (short && !matches!(stage.stage, Stage::Turn | Stage::Seat | Stage::Release) && stage.needs.is_empty()),
            brief: self.text(&stage.brief),
            answer: self.text(&stage.answer),
            cautions: self.cleaner.texts(&stage.cautions),
            warnings: self.cleaner.texts(&stage.warnings),
            needs: self.cleaner.texts(&stage.needs),
            lines: stage.lines.iter().map(|line| Row::of(line, VALUE, &mut self.cleaner)).collect(),
            grids: stage.grids.iter().filter(|grid| !grid.columns.is_empty()).map(|grid| Table::of(grid, &mut self.cleaner)).collect(),
            drawings,
            working: if self.options.working {
                stage.calculations.iter().filter_map(|of| self.derivation(of)).collect()
            } else {
                Vec::new()
            },
        }
    }

    fn derivation(&mut self, calculation: &Calculation) -> Option<Derivation> {
        let steps = calculation.answer.get("working")?.as_array()?;
        let steps: Vec<StepPage> = steps.iter().map(|step| self.step(step)).collect();
        (!steps.is_empty()).then(|| Derivation { name: self.text(&calculation.name.replace('_', " ")), steps })
    }

    fn step(&mut self, step: &Value) -> StepPage {
        let word = |key: &str| step.get(key).and_then(Value::as_str).unwrap_or_default();
        let pairs = |key: &str| {
            let list = step.get(key).and_then(Value::as_array).into_iter().flatten();
            let written = list.filter_map(|pair| {
                let (name, value) = (pair.get(0)?.as_str()?, pair.get(1)?.as_f64()?);
                Some(format!("{name} = {}", figure(value)))
            });
            written.collect::<Vec<_>>().join(", ")
        };
        StepPage {
            what: self.text(word("what")),
            formula: self.text(word("formula")),
            with: self.text(&pairs("with")),
            gives: self.text(&pairs("gives")),
            source: self.text(word("source")),
        }
    }

    /// Sources by stage, each once.
    fn sources(&mut self, sheet: &JobSheet) -> Vec<(String, Vec<String>)> {
        let of_stage = |stage: Stage| {
            let mut sources: Vec<String> = Vec::new();
            for source in sheet.seats.iter().flat_map(|seat| &seat.stages).filter(|page| page.stage == stage).flat_map(|page| &page.sources)
            {
                if !sources.contains(source) {
                    sources.push(source.clone());
                }
            }
            (stage.title().to_owned(), sources)
        };
        let all: Vec<_> = Stage::ALL.into_iter().map(of_stage).filter(|(_, sources)| !sources.is_empty()).collect();
        all.into_iter().map(|(title, sources)| (title, self.cleaner.texts(&sources))).collect()
    }
}

/// A stage that was not started and says no more than that.
fn is_bare(stage: &StageSheet) -> bool {
    let lists = [&stage.cautions, &stage.warnings, &stage.needs].iter().all(|list| list.is_empty());
    let tables = stage.lines.is_empty() && stage.grids.is_empty() && stage.calculations.is_empty();
    stage.standing == Standing::NotStarted && lists && tables && stage.answer.chars().count() < 60
}

const fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::NotStarted => "not_started",
        Standing::NeedsYou => "needs_you",
        Standing::Ready => "ready",
        Standing::Done => "done",
        Standing::Stale => "stale",
    }
}

/// A hyphen before a figure as the minus of mathematics.
pub(crate) fn minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let letters: Vec<char> = text.chars().collect();
    for (index, letter) in letters.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|index| letters.get(index));
        let starts = before.is_none_or(|before| *before == ' ' || *before == '(');
        let figure = letters.get(index + 1).is_some_and(char::is_ascii_digit);
        out.push(if *letter == '-' && starts && figure { '\u{2212}' } else { *letter });
    }
    out
}

/// A figure of the working: seven digits, with a power of ten where it is very small or large.
fn figure(x: f64) -> String {
    let size = x.abs();
    if x == 0.0 {
        return "0".into();
    }
    if !(1e-4..1e7).contains(&size) {
        let text = format!("{x:.6e}");
        let (digits, power) = text.split_once('e').unwrap_or((&text, "0"));
        let digits = digits.trim_end_matches('0').trim_end_matches('.');
        return minus(&format!("{digits}·10^{}", power.replace('-', "\u{2212}")));
    }
    let whole = format!("{size:.0}").len();
    let small = if size >= 1.0 { 0 } else { format!("{size:.9}").chars().skip(2).take_while(|digit| *digit == '0').count() };
    let text = shown_plain(x, 7_usize.saturating_sub(if size >= 1.0 { whole } else { 0 }) + small);
    minus(if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text })
}

/// The start of a text, when it is longer than `most` letters.
pub(crate) fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let start: String = text.chars().take(most - 1).collect();
    format!("{}…", start.trim_end())
}

/// Year, month and day of a date that exists.
pub(crate) fn day(date: &str) -> Option<(i64, i64, i64)> {
    let mut parts = date.split('-').map(str::parse::<i64>);
    let (year, month, day) = (parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let last = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => return None,
    };
    (parts.next().is_none() && (1..=9999).contains(&year) && (1..=last).contains(&day)).then_some((year, month, day))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_exist_are_dates() {
        assert_eq!(day("2026-11-18"), Some((2026, 11, 18)));
        for text in ["", "2026-02-29", "2026-13-01", "18.11.2026", "2026-11-18-1", "99999-01-01"] {
            assert_eq!(day(text), None, "{text}");
        }
    }

    #[test]
    fn figures_of_the_working_keep_seven_digits() {
        for (x, text) in [
            (0.0, "0"),
            (240.031, "240.031"),
            (1.82e-5, "1.82·10^\u{2212}5"),
            (0.012_345_678_9, "0.01234568"),
            (-36.3, "\u{2212}36.3"),
            (206_000.0, "206000"),
        ] {
            assert_eq!(figure(x), text, "{x}");
        }
    }

    #[test]
    fn a_minus_is_one_only_before_a_figure() {
        assert_eq!(minus("-20 to 60, semi-finished (-3)"), "\u{2212}20 to 60, semi-finished (\u{2212}3)");
    }
}
