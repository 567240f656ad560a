//! What is said at the lathe: cautions first, then what is known, the next command large, what to expect, and what follows from an answer.
//!
//! Plain lines that are read over a shoulder, through a pipe or by a screen reader. Every figure is one that `calc` gave.

use calc::quantity::Quantity;
use calc::units::System;
use calc::{shown, units};

use crate::show;
use crate::stages::ask::Said;
use crate::state::Units;

use super::dialogue::{Ask, Dialogue, ENOUGH};
use super::habit;
use super::part::Turned;
use super::step::{Passed, Step, Surface};
use super::told::{Told, lines};

/// Source: the turning method, its cautions; *common practice*.
const CAUTIONS: [&str; 4] = [
    "Spindle stopped and locked, tool clear, before a gauge or a hand goes near. A part at 60 °C burns.",
    "Chips of bronze are sharp and hot; dust with lead in it stays out of the air and off the hands.",
    "No gloves or sleeves near the turning part.",
    "A command is advice: read it back against the drawing. The person at the lathe decides; the rules of the shop come first.",
];

/// A size to the µm or ten-thousandth of an inch.
fn length(mm: f64, system: System) -> String {
    shown::length(mm, 3, system)
}

fn degrees(C: f64, units: Units) -> String {
    let (value, unit) = match units {
        Units::Mm => (C, "°C"),
        Units::Inch => (units::F_from_C(C), "°F"),
    };
    format!("{} {unit}", units::shown_plain(value, 1))
}

/// A chance that never claims more than a model of the lathe can tell.
fn chance(p: f64) -> String {
    if p < 0.005 { "under 1 %".into() } else { shown::chance(p, u64::MAX) }
}

fn minutes(s: f64) -> String {
    let minutes = units::shown_plain(s / 60.0, 1);
    format!("{} min", minutes.strip_suffix(".0").unwrap_or(&minutes))
}

fn system(dialogue: &Dialogue) -> System {
    dialogue.started().units.system()
}

fn band(dialogue: &Dialogue) -> String {
    let (low, high) = dialogue.limits();
    shown::lengths(low, high, 3, system(dialogue))
}

/// Title, cautions, and what is known.
pub(super) fn opening(dialogue: &Dialogue) -> Vec<String> {
    let seat = &dialogue.writer.seat;
    let what = match dialogue.surface {
        Surface::Outside => "the outside of the bush",
        Surface::Bore => "the bore of the bush, fitted",
    };
    let job = if dialogue.writer.job.is_empty() { String::new() } else { format!(", job {}", dialogue.writer.job) };
    let mut told = vec![Told::Line(format!("At the lathe: {what} for seat {seat}{job}")), Told::blank()];
    told.extend(CAUTIONS.map(|caution| Told::Line(format!("  CAUTION  {caution}"))));
    told.push(Told::blank());
    told.extend(known(dialogue));
    told.push(Told::row("log", &dialogue.writer.log));
    told.push(Told::row("answers", "a figure; Enter for what stands in [ ]; skip; ? for help; stop to leave (all is kept)"));
    told.push(Told::blank());
    lines(&told)
}

/// What is known before the first cut.
fn known(dialogue: &Dialogue) -> Vec<Told> {
    let setup = dialogue.started();
    let system = setup.units.system();
    let alpha = units::shown_plain(units::millionths(setup.alpha_per_K), 1);
    let gauge = if setup.gauge.is_empty() { "not named (--gauge)".to_owned() } else { setup.gauge.clone() };
    let fine = |mm: f64| shown::fine_quantity(&Quantity::exact(units::um_from_mm(mm)), system);
    let repeats = setup.reading_u_mm.map_or_else(|| "the usual repeatability".to_owned(), |u| format!("repeats to {} (1 sd)", fine(u)));
    let added = setup.correction_mm.filter(|amount| amount.value != 0.0);
    let added = added.map(|amount| format!(", {} is added to its readings", fine(amount.value))).unwrap_or_default();
    let parts =
        setup.habits.iter().filter(|belief| belief.habit.habit() != calc::turn::learn::Habit::Offset).map(|belief| belief.parts).max();
    vec![
        Told::row("band", format!("{} at 20 °C", band(dialogue))),
        Told::row("metal", format!("{}, grows {alpha} millionths per K", setup.alloy)),
        Told::row("gauge", format!("{gauge}; {repeats}{added}")),
        Told::row("lathe", habit::history(&setup.lathe, parts.unwrap_or(0) as usize)),
        Told::row("plan", format!("{} equal cuts, the part measured warm between them", setup.cuts)),
    ]
}

/// What is asked, on one line.
pub(super) fn prompt(dialogue: &Dialogue) -> String {
    let setup = dialogue.started();
    let system = setup.units.system();
    let unit = system.length();
    let degree = if setup.units == Units::Inch { "°F" } else { "°C" };
    match dialogue.ask() {
        Ask::Start => {
            let planned = length(setup.planned_mm.value, system);
            let how = match dialogue.surface {
                Surface::Outside => "as planned, not read",
                Surface::Bore => "as the sheet has it, not read",
            };
            format!("size before the first cut, {unit} [{planned}, {how}] > ")
        }
        Ask::Air => format!("air beside the lathe, {degree} > "),
        Ask::PartAfter => format!("part after the cut, {degree} > "),
        Ask::Size => format!("gauge on the part, {unit} > "),
        Ask::Again => format!("gauge on the part once more, {unit} > "),
        Ask::Check => format!("gauge on its standard: shown less true, {unit} > "),
        Ask::RunOut => format!("run-out by the indicator, {unit} > "),
        Ask::PartBefore => format!("part before the cut, {degree} > "),
        Ask::PartAgain => format!("part once more, {degree} > "),
        Ask::Cut => match dialogue.said().and_then(|said| said.number("next.command_mm")) {
            Some(command) => format!("cut made? [at {}] or what was set > ", length(command, system)),
            None => format!("cut made? what was set, {unit} > "),
        },
        Ask::Finish => "done, a further reading, or cut > ".into(),
        Ask::Over => "another for a new part, or stop > ".into(),
    }
}

/// Explains what is asked and the words.
pub(super) fn help(dialogue: &Dialogue) -> Vec<String> {
    let setup = dialogue.started();
    let (sizes, part) = match setup.units {
        Units::Mm => ("300.452 300.455, or 11.8288 in", "27.2, or 81 F"),
        Units::Inch => ("11.8288 11.8289, or 300.452 mm", "81, or 27.2 C"),
    };
    let asked = match dialogue.ask() {
        Ask::Start => "The diameter before the first cut, as near as a caliper tells; ± after it where you know the doubt.".to_owned(),
        Ask::Air => "The air where the part and the gauge are. skip: the belief stays wide.".to_owned(),
        Ask::PartAfter | Ask::PartBefore | Ask::PartAgain => {
            format!("The part by a contact thermometer: {part}. skip: the belief stays wide.")
        }
        Ask::Size | Ask::Again => format!("What the gauge shows on the warm part, one or more readings of one set: {sizes}."),
        Ask::Check => "The gauge on its standard, both as warm as each other: what it shows less what the standard is.".to_owned(),
        Ask::RunOut => "The whole swing of an indicator on the part after it was chucked again.".to_owned(),
        Ask::Cut => "Enter when the cut was made as advised; or the diameter that the slide was really set to.".to_owned(),
        Ask::Finish => "done accepts the part; a reading is one more of the same size; cut asks for a further cut.".to_owned(),
        Ask::Over => "another starts a new part for this seat; undo takes the end back.".to_owned(),
    };
    let words = [
        ("after 8 min", "behind an answer: how long since the step before, where the clock is wrong"),
        ("temp 27.2", "the part's temperature once more; air 21.5, read 300.452: the same, out of turn"),
        ("check 0.002", "the gauge on its standard: shown less true"),
        ("wait 20 min", "the part stood so long"),
        ("left 1", "the next cut is the last; left 2, 3: so many equal cuts from here"),
        ("tool", "another tool or edge; chuck: chucked again; day: another day; coolant: it ran on the part"),
        ("note text", "a remark for the record"),
        ("undo why", "takes the last step back; both stay in the log"),
        ("scrap", "the part is lost; done: it is finished; stop: leave, go on another time"),
    ];
    let mut told = vec![Told::Line(format!("  {asked}"))];
    told.extend(words.map(|(word, meaning)| Told::row(word, meaning)));
    lines(&told)
}

/// What is said when a step was kept.
pub(super) fn after(dialogue: &mut Dialogue, does: &Step, after_s: f64) -> Vec<String> {
    let mut told = vec![Told::Line(format!("  noted: {}{}", noted(dialogue, does), time(does, after_s)))];
    match does {
        Step::Size { .. } => told.extend(size_now(dialogue)),
        Step::Finished {} => told.extend(sheet(dialogue)),
        // What nobody typed stands before everything else.
        Step::Band { .. } => return lines(&told),
        Step::Another {} => {
            told.push(Told::blank());
            told.extend(known(dialogue));
        }
        _ => {}
    }
    told.extend(block(dialogue));
    lines(&told)
}

fn time(does: &Step, after_s: f64) -> String {
    match does {
        // Under half a minute a part hardly cools, and a person hardly counts.
        _ if after_s < 30.0 => String::new(),
        Step::Wait {} => String::new(),
        _ => format!(", {} after the step before", minutes(after_s)),
    }
}

/// What was kept, in words.
fn noted(dialogue: &Dialogue, does: &Step) -> String {
    let setup = dialogue.started();
    let system = setup.units.system();
    let temperatures = |values: &[f64]| values.iter().map(|C| degrees(*C, setup.units)).collect::<Vec<_>>().join(", ");
    let lengths = |values: &[f64]| values.iter().map(|mm| show::length(*mm, setup.units)).collect::<Vec<_>>().join(", ");
    match does {
        Step::Start { size_mm, .. } => {
            format!("starts at {} at 20 °C", shown::size(&size_mm.quantity(), system))
        }
        Step::Air { values_C } => format!("air {}", temperatures(values_C)),
        Step::Part { values_C } => format!("part {}", temperatures(values_C)),
        Step::Size { values_mm } => format!("gauge {}", lengths(values_mm)),
        Step::Cut { command_mm } => format!("cut {} at {}", dialogue.part.cuts(), length(*command_mm, system)),
        Step::Check { values_mm } => format!("gauge off its standard by {}", lengths(values_mm)),
        Step::Skip { what } => match what {
            Passed::Air => "no temperature of the air: the belief stays wide".into(),
            Passed::Part => "no temperature of the part: the belief stays wide".into(),
            Passed::Size => "no reading".into(),
            Passed::Check => "gauge not checked: a gauge that moved looks like a good part".into(),
            Passed::RunOut => "run-out not known".into(),
        },
        Step::Wait {} => format!("waited {}", dialogue.part.steps.last().map(|step| minutes(step.after_s)).unwrap_or_default()),
        Step::Tool {} => "another tool: where it lands is to be learned again".into(),
        Step::Chuck {} => "chucked again".into(),
        Step::RunOut { value_mm } => format!("run-out {}", show::length(*value_mm, setup.units)),
        Step::Day {} => "another day".into(),
        Step::Coolant {} => "coolant on the part: its temperature is asked for again".into(),
        Step::Note { text } => text.clone(),
        Step::Band { lower_mm, upper_mm } => {
            format!("the band was moved in the job, to {} at 20 °C", shown::lengths(*lower_mm, *upper_mm, 3, system))
        }
        Step::Left { cuts: 1 } => "the next cut is the last".into(),
        Step::Left { cuts } => format!("{cuts} cuts are left"),
        Step::Further {} => "a further cut".into(),
        Step::Finished {} => "finished".into(),
        Step::Scrapped {} => "given up".into(),
        Step::Another {} => "another part".into(),
        Step::Withdrawn {} => String::new(),
    }
}

/// What is said when a step was taken back.
pub(super) fn taken_back(dialogue: &mut Dialogue, step: &Turned) -> Vec<String> {
    let taken_back = format!("  taken back: {} (it stays in the log, and does not count)", noted(dialogue, &step.step));
    let mut told = vec![Told::Line(taken_back)];
    if matches!(step.step, Step::Cut { .. }) {
        told.push(Told::Note("if that cut was made, give it again as it was set".into()));
    }
    told.extend(block(dialogue));
    lines(&told)
}

/// The size after a reading, or what is odd about it.
fn size_now(dialogue: &Dialogue) -> Vec<Told> {
    let system = system(dialogue);
    let Some(read) = dialogue.last_read() else { return Vec::new() };
    let Some(size) = read.quantity("size_mm") else { return Vec::new() };
    let mut told = vec![Told::row("size now", format!("{} at 20 °C (95 %)", shown::size(&size, system)))];
    if read.flag("suspect") {
        let off = read.number("innovation").map(|x| units::shown_plain(x.abs(), 1)).unwrap_or_default();
        let kept = read.quantity("if_kept_mm");
        let kept = kept.map(|kept| format!("; kept, it would say {}", shown::size(&kept, system))).unwrap_or_default();
        told.push(Told::row("odd", format!("this reading is {off} times its doubt off what came before; it is set aside{kept}")));
    }
    told
}

/// What belongs to the question that comes now.
fn block(dialogue: &mut Dialogue) -> Vec<Told> {
    let ask = dialogue.ask();
    let mut told = match ask {
        Ask::Cut => command(dialogue),
        Ask::Finish => landed(dialogue),
        Ask::Again => {
            vec![Told::row("MEASURE AGAIN", "clean the faces, wait a moment, and read the same place; type skip only if it can't be read")]
        }
        Ask::PartAgain => {
            vec![Told::row("MEASURE AGAIN", "the probe on clean bare metal until it stands still; was there coolant, or a wait?")]
        }
        Ask::Check if dialogue.has_moved() => {
            vec![Told::row("CHECK", "check the gauge on its standard before anything else: the tool, the part or the gauge moved")]
        }
        Ask::Check => vec![Told::row("CHECK", "before the last cut: the gauge on its standard")],
        _ => Vec::new(),
    };
    if matches!(ask, Ask::Cut | Ask::Finish | Ask::Again | Ask::Check | Ask::PartAgain) {
        told.extend(warnings(dialogue));
    }
    if let Some(Err(refused)) = &dialogue.found {
        told.push(Told::Note(refused.to_string()));
    }
    told
}

/// The same for a screen, which shows the whole of it each time: the warnings too, whether they were said before or not.
pub(super) fn block_now(dialogue: &Dialogue) -> Vec<Told> {
    let mut fresh = dialogue.clone();
    fresh.warned.clear();
    let mut told = match dialogue.last_read() {
        Some(_) if dialogue.ask() != Ask::Over => size_now(dialogue),
        _ => Vec::new(),
    };
    if dialogue.ask() == Ask::Over {
        told.extend(sheet(dialogue));
    }
    told.extend(block(&mut fresh));
    told
}

/// The digits of the next command, where one is advised.
pub(super) fn digits(dialogue: &Dialogue) -> Option<String> {
    let command = dialogue.said()?.number("next.command_mm")?;
    Some(units::shown_plain_length(command, 3, system(dialogue)))
}

/// Unit of what is asked now.
pub(super) fn unit_asked(dialogue: &Dialogue) -> &'static str {
    let units = dialogue.started().units;
    match dialogue.ask() {
        Ask::Air | Ask::PartAfter | Ask::PartBefore | Ask::PartAgain if units == Units::Inch => "°F",
        Ask::Air | Ask::PartAfter | Ask::PartBefore | Ask::PartAgain => "°C",
        Ask::Over => "",
        _ => units.system().length(),
    }
}

/// Warnings of the calculation that were not said of this part yet.
fn warnings(dialogue: &mut Dialogue) -> Vec<Told> {
    let said = |path: &str| dialogue.said().map(|said| said.texts(path)).unwrap_or_default();
    // A reading that can't be right is said with what it would say; of a part that has landed no further cut is told.
    let told: &[&str] = if dialogue.ask() == Ask::Finish { &["size-suspect", "takes-nothing", "too-thin"] } else { &["size-suspect"] };
    let is_new = |text: &String, of: &str| !dialogue.warned.contains(text) && !told.contains(&of);
    let all = said("warnings").into_iter().zip(said("notices"));
    let new: Vec<String> = all.filter(|(text, of)| is_new(text, of)).map(|(text, _)| text).collect();
    dialogue.warned.extend(new.iter().cloned());
    new.into_iter().map(Told::Note).collect()
}

/// The next command, large, and what to expect of it.
fn command(dialogue: &Dialogue) -> Vec<Told> {
    let system = system(dialogue);
    let Some(said) = dialogue.said() else { return Vec::new() };
    let Some(command) = said.number("next.command_mm") else {
        return vec![Told::row("no command", "nothing can be advised from here; the slide is yours")];
    };
    let large: String = units::shown_plain_length(command, 3, system).chars().flat_map(|letter| [letter, ' ']).collect();
    let number = dialogue.part.cuts() + 1;
    let of = match dialogue.part.left() as usize {
        0 => format!("{number}, a further one"),
        left => format!("{number} of {}", dialogue.part.cuts() + left),
    };
    let mut told = vec![
        Told::blank(),
        Told::row("cut", of),
        Told::blank(),
        Told::Line(format!("        {} {}", large.trim_end(), system.length())),
        Told::blank(),
    ];
    if let Some(depth) = said.number("next.depth_mm") {
        told.push(Told::row("takes off", format!("{} on the diameter", length(depth, system))));
    }
    if let Some(reading) = said.quantity("next.reading_mm") {
        told.push(Told::row("will show", format!("{} warm, 3 min after the cut (95 %)", shown::size(&reading, system))));
    }
    if let Some(size) = said.quantity("next.size_mm") {
        told.push(Told::row("that is", format!("{} at 20 °C (95 %)", shown::size(&size, system))));
    }
    told.extend(chances(dialogue, said));
    told.extend(run_out(dialogue, said));
    told.extend(advice(said));
    told
}

/// How likely the next cut lands, where it may be the last.
fn chances(dialogue: &Dialogue, said: &Said) -> Vec<Told> {
    let Some(inside) = said.number("next.chance_in_band") else { return Vec::new() };
    if dialogue.part.cuts_left() > 1 && inside < 0.05 {
        return vec![Told::row("lands", "not yet: more cuts follow")];
    }
    let side = |path: &str| said.number(path).map(chance).unwrap_or_default();
    vec![Told::row(
        "lands",
        format!(
            "{} in {}; too small {}, too large {}",
            chance(inside),
            band(dialogue),
            side("next.chance_under"),
            side("next.chance_over")
        ),
    )]
}

/// After chucking again a cut must clean up all round.
fn run_out(dialogue: &Dialogue, said: &Said) -> Vec<Told> {
    let since = dialogue.part.since(|step| matches!(step, Step::Cut { .. }));
    let swing = since.iter().rev().find_map(|step| match step.step {
        Step::RunOut { value_mm } => Some(value_mm),
        _ => None,
    });
    match (swing, said.number("next.depth_mm")) {
        (Some(swing), Some(depth)) if !calc::turn::start::cleans_up(depth, swing) => {
            let words = "this cut is not deeper than half the run-out: it does not clean up all round; chuck truer or cut deeper";
            vec![Told::Note(words.into())]
        }
        _ => Vec::new(),
    }
}

/// What pays, the best first with the next best.
fn advice(said: &Said) -> Vec<Told> {
    let told = |said: &Said| {
        let minutes = said.number("minutes").map(|minutes| format!(", {} min", units::shown_plain(minutes, 0))).unwrap_or_default();
        let lands = said.number("chance_in_band").map(|p| format!(", {} lands", chance(p))).unwrap_or_default();
        format!("{}{minutes}{lands}", said.text("do").unwrap_or_default())
    };
    let all = said.list("advice");
    let labels = ["pays best", "next best"];
    all.iter().take(2).zip(labels).map(|(one, label)| Told::row(label, told(one))).collect()
}

/// The size as it stands after the last cut, and whether that is enough.
fn landed(dialogue: &Dialogue) -> Vec<Told> {
    let inside = dialogue.chance_now();
    let mut told = vec![Told::row("in the band", format!("{} likely, {}", chance(inside), band(dialogue)))];
    if inside >= ENOUGH {
        told.push(Told::Typing { label: "LANDED", text: "type done to accept it" });
    } else if is_past(dialogue) {
        told.push(Told::row(
            "PAST THE BAND",
            "on the side that can't be put back: measure again, with another gauge, before it is given up (scrap)",
        ));
    } else {
        told.push(Told::row(
            "STOP HERE",
            "measure again, let it cool, or compare gauges: it can't be told yet whether it lies in its band",
        ));
        told.extend(dialogue.said().map(advice).unwrap_or_default());
    }
    told
}

/// Whether the size lies past the band, on the side that can't be put back.
fn is_past(dialogue: &Dialogue) -> bool {
    let (low, high) = dialogue.limits();
    let size = dialogue.said().and_then(|said| said.number("size_mm"));
    size.is_some_and(|size| match dialogue.surface {
        Surface::Outside => size < low,
        Surface::Bore => size > high,
    })
}

/// What is written on the sheet when it is finished.
fn sheet(dialogue: &Dialogue) -> Vec<Told> {
    let system = system(dialogue);
    let Some(size) = dialogue.said().and_then(|said| said.quantity("size_mm")) else { return Vec::new() };
    let setup = dialogue.started();
    let gauge = if setup.gauge.is_empty() { String::new() } else { format!(", {}", setup.gauge) };
    let taught = if setup.lathe.is_empty() { String::new() } else { format!("what it taught of {} counts at the next part", setup.lathe) };
    let mut told = vec![
        Told::blank(),
        Told::row("ON THE SHEET", format!("{} {} at 20 °C (95 %)", dialogue.surface.feature().word(), shown::size(&size, system))),
        Told::row("", format!("{} likely inside {}{gauge}", chance(dialogue.chance_now()), band(dialogue))),
    ];
    told.extend((!taught.is_empty()).then(|| Told::row("", taught)));
    told.push(Told::blank());
    told
}

/// Where it stands, in a sentence.
fn stands(dialogue: &Dialogue) -> String {
    let part = &dialogue.part;
    if part.start().is_none() {
        return "not started".into();
    }
    let cuts = match part.cuts() {
        0 => "no cut yet".to_owned(),
        1 => "1 cut made".to_owned(),
        n => format!("{n} cuts made"),
    };
    let size = dialogue.said().and_then(|said| said.quantity("size_mm"));
    let size = size.map(|size| format!(", size now {} at 20 °C", shown::size(&size, system(dialogue)))).unwrap_or_default();
    let end = match part.steps.last().map(|step| &step.step) {
        Some(Step::Finished {}) => format!(", finished, {} in the band", chance(dialogue.chance_now())),
        Some(Step::Scrapped {}) => ", given up".into(),
        _ => String::new(),
    };
    format!("{cuts}{size}{end}")
}

/// Where a dialogue that goes on stands.
pub(super) fn standing(dialogue: &mut Dialogue) -> Vec<String> {
    let mut told = vec![Told::row("goes on", stands(dialogue))];
    if let Some(last) = dialogue.part.steps.last().cloned() {
        told.push(Told::row("last step", format!("{} ({})", noted(dialogue, &last.step), last.when)));
    }
    told.extend(block(dialogue));
    lines(&told)
}

/// Where it stands, for a person who leaves.
pub(super) fn leaving(dialogue: &Dialogue) -> Vec<String> {
    let mut told = vec![Told::blank(), Told::row("stopped here", stands(dialogue))];
    if !dialogue.part.is_over() {
        told.push(Told::row("", "all that was noted is kept; the same command goes on from here"));
    }
    lines(&told)
}
