//! What a person at the lathe should mind, and the decision, in words: each notice is a sentence and a word that a program can go by.
//!
//! It leaves to `next_cut` and `filter` what is the case. Sizes and temperatures are said in the units of the shop.

use serde::Serialize;

use super::command::Command;
use super::filter::{Event, Filter, Judged};
use super::model::{Normal, Sight};
use super::next_cut::{Answer, Request};
use crate::quantity::Quantity;
use crate::shown;
use crate::units::{F_from_C, System, shown_plain};

/// What a notice is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Minded {
    /// A size reading can't be right; it is set aside.
    SizeSuspect,
    /// Two readings agree that the tool, the part or the gauge moved.
    Moved,
    /// The gauge is off on its standard.
    GaugeOff,
    /// A temperature can't be right; it is set aside.
    TemperatureSuspect,
    /// The part lost or gained heat unseen.
    HeatUnseen,
    /// The air of the shop has changed.
    AirChanged,
    /// A cut that was made took nothing off.
    NothingTaken,
    /// Air or part temperature was never read.
    NoTemperature,
    /// The readings do not fit the belief.
    Misfit,
    /// The estimate did not settle.
    Unsettled,
    /// The set-up is new: the next cut can't be the last.
    NewSetUp,
    /// The next command would take nothing off.
    TakesNothing,
    /// The next cut is thinner than the tool cuts.
    TooThin,
}

/// A notice: what it is of, and the sentence.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// What it is of.
    pub of: Minded,
    /// The sentence.
    pub say: String,
}

impl Notice {
    fn new(of: Minded, say: impl Into<String>) -> Self {
        Self { of, say: say.into() }
    }
}

fn length(mm: f64, words_in: System) -> String {
    shown::length(mm, 3, words_in)
}

/// A temperature to a tenth of a degree, as a thermometer is read.
fn degrees(T_C: f64, words_in: System) -> String {
    match words_in {
        System::Metric => format!("{} °C", shown_plain(T_C, 1)),
        System::Inch => format!("{} °F", shown_plain(F_from_C(T_C), 1)),
    }
}

fn figure(figure: Normal, words_in: System) -> String {
    shown::size(&Quantity::with_u(figure.mean, figure.sd), words_in)
}

/// Of a size reading `value` mm that was judged, after `cuts` cuts.
pub fn of_size(judged: Judged, value: f64, cuts: usize, words_in: System) -> Option<Notice> {
    let off = judged.innovation.abs();
    if judged.suspect {
        let say = format!(
            "The reading {} can't be right: it is {off:.1} standard deviations from what was expected. Measure that again; it is set aside, \
             and nothing is released on it.",
            length(value, words_in)
        );
        return Some(Notice::new(Minded::SizeSuspect, say));
    }
    let also = if cuts == 0 { " No cut lies before them: check the size given at the start too." } else { "" };
    judged.moved.then(|| {
        Notice::new(
            Minded::Moved,
            format!(
                "Two readings agree that the tool, the part or the gauge moved, and the same gauge can't tell which: check the gauge on its \
                 standard before the next cut.{also}"
            ),
        )
    })
}

/// Of another reading that was judged: °C, or mm off the standard.
pub fn of_other(sight: Sight, judged: Judged, value: f64, words_in: System) -> Option<Notice> {
    Some(match (sight, judged.moved, judged.suspect) {
        (Sight::Check, true, _) => Notice::new(
            Minded::GaugeOff,
            format!(
                "The gauge is off by {} on its standard, more than it was trusted: the sizes read since its last good check are corrected \
                 for it. Set the gauge, and check it again.",
                length(value, words_in)
            ),
        ),
        (Sight::Part | Sight::Air, _, true) => Notice::new(
            Minded::TemperatureSuspect,
            format!(
                "Temperature suspect: {} is {:.1} standard deviations from what was expected. Measure it again; it is set aside.",
                degrees(value, words_in),
                judged.innovation.abs()
            ),
        ),
        (Sight::Part, true, _) => Notice::new(
            Minded::HeatUnseen,
            "Two temperatures agree that the part lost or gained heat unseen: coolant, or a wait that was not told?",
        ),
        (Sight::Air, true, _) => Notice::new(Minded::AirChanged, "Two air temperatures agree that the air of the shop has changed."),
        _ => return None,
    })
}

/// Of a cut at `command_mm` that left the size as it was.
pub fn nothing_taken(command_mm: f64, words_in: System) -> Notice {
    let say = format!("A cut at {} would have taken nothing off: check the command.", length(command_mm, words_in));
    Notice::new(Minded::NothingTaken, say)
}

/// Of the part as a whole, and of the next command.
pub fn general<const W: usize>(request: &Request, filter: &Filter<W>, factor: f64, next: Option<&Command>, least_cuts: u64) -> Vec<Notice> {
    let mut minded = Vec::new();
    let read = |wanted: Sight| request.events.iter().any(|event| matches!(event, Event::Seen { sight, .. } if *sight == wanted));
    let what = match (read(Sight::Air), read(Sight::Part)) {
        (true, true) => None,
        (false, false) => Some("Neither air nor part temperature"),
        (false, true) => Some("No air temperature"),
        (true, false) => Some("No part temperature"),
    };
    if let Some(what) = what {
        let u = shown::fine(1e3 * filter.figure(&filter.now().d).sd, request.words_in);
        minded.push(Notice::new(Minded::NoTemperature, format!("{what} was read yet: the size is then known to some {u} only. Read it.")));
    }
    if factor > 1.0 {
        let say = format!(
            "These readings no longer fit what is believed of this lathe or thermometer: every u is taken {factor:.1} times as large. Look \
             for coolant, a wait, a loose tool or a thermometer that does not touch."
        );
        minded.push(Notice::new(Minded::Misfit, say));
    }
    if filter.unsettled {
        let say = "The estimate did not settle within its limit of rounds: check the events for a slip of a digit.";
        minded.push(Notice::new(Minded::Unsettled, say));
    }
    if least_cuts == 2 {
        let say = "After a tool change or a re-chuck the next cut can't be the last: it shows where this set-up cuts. After a re-chuck it \
                   must be deeper than half the run-out, or it does not clean up all round: what is the run-out?";
        minded.push(Notice::new(Minded::NewSetUp, say));
    }
    minded.extend(next.and_then(|next| of_command(request, next)));
    minded
}

fn of_command(request: &Request, next: &Command) -> Option<Notice> {
    let words_in = request.words_in;
    let least_mm = 2.0 * request.prices.least_depth_mm;
    if next.takes_nothing {
        let command = length(next.command_mm, words_in);
        let say = format!("A command of {command} would take nothing off: the part is there already, or past it.");
        return Some(Notice::new(Minded::TakesNothing, say));
    }
    (next.depth_mm < least_mm).then(|| {
        let (depth, least) = (length(next.depth_mm, words_in), shown::length(least_mm, 2, words_in));
        let say = format!("The next cut is {depth} of diameter, thinner than the {least} that the tool needs: it rubs instead of cutting.");
        Notice::new(Minded::TooThin, say)
    })
}

/// The decision in one sentence, number first.
pub fn say(answer: &Answer, request: &Request, suspect: bool) -> String {
    let words_in = request.words_in;
    let (low, high) = request.band_mm;
    let size = format!("{} at 20 °C", figure(answer.size_mm, words_in));
    let band = shown::lengths(low, high, 3, words_in);
    let chance = |chance: f64| shown::chance(chance, 1_000_000);
    if suspect {
        return format!("{size} without the last reading, which can't be right: measure that again.");
    }
    match &answer.next {
        Some(next) if !next.takes_nothing && (request.target_mm.is_some() || !(low..=high).contains(&answer.size_mm.mean)) => format!(
            "Set {}: that leaves {} at 20 °C, and the gauge should show {}; {} likely inside {band}.",
            length(next.command_mm, words_in),
            length(next.size_mm.mean, words_in),
            figure(next.reading_mm, words_in),
            chance(next.chance_in_band)
        ),
        _ if (low..=high).contains(&answer.size_mm.mean) => {
            format!("{size}: {} likely inside {band}; nothing is left to cut.", chance(answer.chance_in_band))
        }
        _ => format!("{size}: past the band {band} on the side that can't be put back."),
    }
}
