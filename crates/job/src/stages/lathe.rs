//! The lathe on the sheet: what a part starts from, the cuts made and where it stands, and what is believed of the lathe and why.

use calc::band::Band;
use calc::crew::Crew;
use calc::quantity::Quantity;
use calc::turn::start;
use calc::{Refused, doubts, keys::nearest, shown, units};
use serde_json::json;

use super::ask::{Asking, Said};
use super::draft::Draft;
use super::found::{Found, Measured};
use super::{Bench, STAGES, turn};
use crate::entry::Amount;
use crate::lathe::habit;
use crate::lathe::part::{Part, parts};
use crate::lathe::step::{MOST_CUTS, Setup, Step, Surface};
use crate::sheet::Stage;
use crate::show::{self, counted};
use crate::state::{State, Units};

/// Fewer readings than these tell nothing of a curve.
const COOLING_READINGS: usize = 3;

/// How a part is to be turned.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wish<'w> {
    /// The gauge, by its name in the job; else the one that the feature was last measured with.
    pub gauge: Option<&'w str>,
    /// Cuts of the plan; none: three.
    pub cuts: Option<u32>,
}

/// What a part of the seat called `name` starts from. Refused: no such seat or gauge, and a seat whose band is still open.
pub fn setup(state: &State, name: &str, surface: Surface, wish: Wish, crew: &dyn Crew) -> Result<Setup, Refused> {
    let Some(seat) = state.seats.iter().find(|seat| seat.name == name) else {
        return Err(unknown("seat", name, state.seats.iter().map(|seat| seat.name.as_str()).collect()));
    };
    let cuts = wish.cuts.unwrap_or(turn::CUTS);
    if !(1..=MOST_CUTS).contains(&cuts) {
        return Err(Refused::new("cuts", cuts, format!("1 to {MOST_CUTS}"), "take 3 where nothing speaks against it"));
    }
    if let Some(gauge) = wish.gauge.filter(|gauge| !seat.names("gauge").contains(gauge)) {
        return Err(unknown("gauge", gauge, seat.names("gauge")));
    }
    let bench = Bench { seat, state, system: state.units.system() };
    let (found, open) = worked_through(&bench, surface, crew);
    let step = if state.units == Units::Inch { units::mm_from_inch(0.0001) } else { 0.001 };
    let band = match surface {
        Surface::Outside => found.band,
        Surface::Bore => found.bore_band,
    };
    let (Some(band), Some(alloy)) = (band, found.alloy) else {
        let given = format!("not ready for the lathe: {open}");
        return Err(Refused::new(format!("seat {name}"), given, "a seat with its band", "bushwright job check names what is missing"));
    };
    let band = band.inward(step);
    let planned_mm = planned(&bench, &found, surface, band)?;
    let gauge = wish.gauge.map(str::to_owned).or_else(|| bench.seat.sets_of(surface.feature()).last().and_then(|set| set.gauge.clone()));
    let fact = |what: &str| gauge.as_ref().and_then(|gauge| seat.quantity(&format!("gauge.{gauge}.{what}")));
    let amount = |quantity: Quantity| Amount { value: quantity.value, u: quantity.u };
    let lathe = seat.text("lathe").unwrap_or_default().to_owned();
    let asking = |asked: &serde_json::Value| calc::answer("next-cut", asked, crew, false).ok().map(Said::from);
    let habits = habit::learned(&lathe, surface, &state.finished, asking).iter().map(habit::Learned::believed).collect();
    let (earlier_squares, earlier) = habit::innovations(&lathe, surface, &state.finished, asking);
    Ok(Setup {
        lathe,
        units: state.units,
        nominal_mm: band.middle_mm(),
        lower_mm: band.low_mm,
        upper_mm: band.high_mm,
        planned_mm,
        cuts,
        alloy: alloy.id.to_owned(),
        alpha_per_K: alloy.alpha_per_K,
        gauge: gauge.as_ref().map(|gauge| seat.text(&format!("gauge.{gauge}.name")).unwrap_or(gauge).to_owned()).unwrap_or_default(),
        gauge_alpha_per_K: fact("expansion").map(|alpha| alpha.value),
        reading_u_mm: fact("repeatability").map(|sd| sd.value),
        thermometer_u_K: fact("thermometer").map(|u| u.value),
        correction_mm: fact("correction").map(amount).filter(|correction| correction.u > 0.0),
        blank_price: found.blank_price,
        minute_price: seat.number("shop.rate").map(start::per_minute),
        habits,
        earlier_squares,
        earlier,
    })
}

fn unknown(key: &str, given: &str, known: Vec<&str>) -> Refused {
    let remedy = nearest(given, known.iter().copied()).map_or_else(|| "write one of them".to_owned(), |near| format!("write {near:?}"));
    let allowed = if known.is_empty() { format!("none: the job has no {key}") } else { known.join(", ") };
    Refused::new(key, format!("{given:?}"), allowed, remedy)
}

/// What the stages find up to the one that gives the band, and what the first open one waits for.
fn worked_through(bench: &Bench, surface: Surface, crew: &dyn Crew) -> (Found, String) {
    let last = if surface == Surface::Outside { Stage::Stock } else { Stage::Bore };
    let mut asking = Asking::new(crew, false);
    let mut found = Found::default();
    let mut open = String::new();
    for (stage, write) in STAGES.into_iter().filter(|(stage, _)| *stage <= last && *stage != Stage::Turn && *stage != Stage::Seat) {
        let mut draft = Draft::new(stage, &mut asking);
        write(bench, &mut draft, &mut found);
        let sheet = draft.finish();
        if open.is_empty() && stage >= Stage::Measure && stage != Stage::Stock {
            open = sheet.needs.first().map(|need| format!("{} needs you, {need}", stage.title())).unwrap_or_default();
        }
    }
    (found, open)
}

/// Size before the first cut, where nobody reads it then.
fn planned(bench: &Bench, found: &Found, surface: Surface, band: Band) -> Result<Amount, Refused> {
    let amount = |quantity: Quantity| Amount { value: quantity.value, u: quantity.u };
    if surface == Surface::Outside {
        return Ok(Amount { value: calc::turn::rough_outside_mm(band, turn::CUTS), u: start::PLANNED_U_MM });
    }
    if bench.seat.text("bush.finish") == Some("before") {
        let given = "before: this bore is finished before it is fitted";
        return Err(Refused::new("bush.finish", given, "after", "finish it by the sheet (stage Bore), or write finish = \"after\""));
    }
    if let Some(fitted) = found.fitted_bore {
        return Ok(amount(fitted.size));
    }
    let close_in = found.fit.quantity(&format!("states.{}.close_in_um", found.warmth.len()));
    match (found.fit_bore_mm, close_in) {
        (Some(bore), Some(close_in)) => Ok(amount(start::bore_after_pressing(bore, close_in))),
        _ => Err(Refused::new(
            "the bore",
            "not known after pressing",
            "a fit with its close-in",
            "bushwright job check names what is missing",
        )),
    }
}

/// The part of the seat that was last in the chuck, once it was started.
fn last_part(bench: &Bench, surface: Surface) -> Option<Part> {
    let all = parts(&bench.state.number, &bench.seat.name, &bench.seat.lathe, surface);
    all.into_iter().rev().find(|part| part.start().is_some())
}

/// Whether a part of the seat was in the chuck.
pub(super) fn was_started(bench: &Bench, surface: Surface) -> bool {
    last_part(bench, surface).is_some()
}

/// A finished part as a measured one: its size at 20 °C with everything that is doubtful about it, read at 20 °C.
pub(super) fn measured(bench: &Bench, found: &mut Found, surface: Surface) -> Option<Measured> {
    let part = last_part(bench, surface).filter(Part::is_finished)?;
    let said = part.ask(&calc::crew::Alone)?.ok()?;
    let size = said.quantity("size_mm")?;
    let (setup, _) = part.start()?;
    let end = part.steps.last()?;
    let by = show::by(&[&setup.gauge, &end.who, end.when.get(..10).unwrap_or_default()]);
    found.at_lathe.push((surface, by));
    let at_20 = Quantity::exact(20.0);
    Some(Measured {
        size,
        reading: size,
        correction: Quantity::exact(0.0),
        part_C: at_20,
        gauge_C: at_20,
        part_alpha: doubts::expansion(setup.alpha_per_K),
        gauge_alpha: doubts::expansion(setup.gauge_alpha_per_K.unwrap_or(super::measure::GAUGE_ALPHA_PER_K)),
        oval_um: None,
        taper_um: None,
        form: None,
    })
}

/// Cuts made, where the part stands, and what is believed of the lathe.
pub(super) fn tell(bench: &Bench, draft: &mut Draft, surface: Surface) {
    if let Some(part) = last_part(bench, surface) {
        tell_part(bench, draft, &part);
    }
    tell_lathe(bench, draft, surface);
}

fn tell_part(bench: &Bench, draft: &mut Draft, part: &Part) {
    let system = bench.system;
    // The name tells the drawing whether a cut is still to come.
    let name = format!("{}_{}", if part.is_over() { "turned" } else { "at_the_lathe" }, part.surface.word());
    // Of a part that is over no further cut is told.
    let told: &[&str] = if part.is_over() { &["A command of", "The next cut is"] } else { &[] };
    let Some(said) = part.request().and_then(|asked| draft.ask_but(&name, "next-cut", asked, told)) else { return };
    cuts(bench, draft, part, &said);
    cooling(draft, part);
    let Some(size) = said.quantity("size_mm") else { return };
    let made = part.cuts();
    draft.line("cuts made at the lathe", made.to_string(), "");
    draft.line("size now", format!("{} at 20 °C", shown::size(&size, system)), "95 %, from the cuts and the warm readings");
    if let Some(inside) = said.number("chance_in_band").filter(|inside| part.sizes() > 0 && *inside > 0.01) {
        draft.line("chance that it lies in its band", shown::chance(inside, u64::MAX), "");
    }
    if part.is_over() {
        let how = if part.is_finished() { "finished" } else { "given up: another part is needed" };
        draft.line("at the lathe", how, "");
        if !part.is_finished() {
            draft.need(format!("the part was given up at the lathe: start another ({})", part.surface.word()));
        }
        return;
    }
    if let Some(command) = said.number("next.command_mm") {
        let command = shown::length(command, 3, system);
        let lands =
            said.number("next.chance_in_band").map(|p| format!("{} lands in the band", shown::chance(p, u64::MAX))).unwrap_or_default();
        draft.line("next command", command.clone(), lands);
        if part.surface == Surface::Outside {
            let size = shown::size(&size, system);
            draft.say(
                format!("{size}, next cut at {command}"),
                format!("{} made; the size is {size} at 20 °C now; the next command is {command}.", counted(made, "cut")),
            );
        }
    }
}

/// Readings of a part that only cooled between them, for the picture of where it settles.
fn cooling(draft: &mut Draft, part: &Part) {
    let Some((setup, _)) = part.start() else { return };
    let since = part.since(|step| matches!(step, Step::Cut { .. }));
    let times = start::times(&since.iter().map(|step| step.after_s).collect::<Vec<_>>());
    let mut readings: Vec<(f64, f64)> = Vec::new();
    for (step, t_s) in since.iter().zip(times) {
        if let Step::Size { values_mm } = &step.step
            && let Some(reading_mm) = start::mean(values_mm)
            && readings.last().is_none_or(|(before, _)| t_s > *before)
        {
            readings.push((t_s, reading_mm));
        }
    }
    if readings.len() < COOLING_READINGS {
        return;
    }
    let readings = readings.iter().map(|(t_s, reading_mm)| json!({"t_s": t_s, "reading_mm": reading_mm}));
    let asked = super::ask::request([
        ("readings", Some(readings.collect())),
        ("reading_u_mm", setup.reading_u_mm.map(|u| json!(u))),
        ("expansion_mm_per_K", Some(json!(start::growth_mm_per_K(setup.nominal_mm, setup.alpha_per_K)))),
    ]);
    draft.keep(&format!("cooling_{}", part.surface.word()), "cooldown", asked);
}

/// Each cut with what was read after it.
fn cuts(bench: &Bench, draft: &mut Draft, part: &Part, said: &Said) {
    let system = bench.system;
    let reads = said.list("reads");
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut read = 0;
    for step in &part.steps {
        match &step.step {
            Step::Cut { command_mm } => {
                let number = rows.iter().filter(|row| row.first().is_some_and(|cell| !cell.is_empty())).count() + 1;
                rows.push(vec![number.to_string(), shown::length(*command_mm, 3, system), String::new(), String::new(), String::new()]);
            }
            Step::Size { values_mm } => {
                let judged = reads.get(read);
                read += 1;
                let shows = values_mm.iter().map(|mm| shown::length(*mm, 3, system)).collect::<Vec<_>>().join(", ");
                let size = judged.and_then(|read| read.quantity("size_mm")).map(|size| shown::size(&size, system)).unwrap_or_default();
                let odd = if judged.is_some_and(|read| read.flag("suspect")) { "can't be right" } else { "" };
                match rows.last_mut().filter(|row| row.get(2).is_some_and(String::is_empty)) {
                    Some(row) => *row = vec![row[0].clone(), row[1].clone(), shows, size, odd.into()],
                    None => rows.push(vec![String::new(), String::new(), shows, size, odd.into()]),
                }
            }
            _ => {}
        }
    }
    draft.grid("Cuts at the lathe", &["cut", "command>", "gauge, warm>", "size then, at 20 °C>", ""], rows);
}

/// What is believed of the lathe and why.
fn tell_lathe(bench: &Bench, draft: &mut Draft, surface: Surface) {
    let Some(lathe) = bench.seat.text("lathe").filter(|lathe| !lathe.is_empty()) else { return };
    let finished = &bench.state.finished;
    let count = habit::of_lathe(lathe, surface, finished).len();
    if count == 0 {
        draft.line("lathe", lathe, "no part was finished on it yet: the usual belief is taken");
        return;
    }
    draft.line("lathe", habit::history(lathe, count), "");
    let rows = habit::learned(lathe, surface, finished, |asked| draft.try_out("next-cut", asked)).into_iter().map(|row| {
        let from = match row.habit {
            calc::turn::learn::Habit::Offset => counted(row.parts, "set-up"),
            _ => counted(row.parts, "part"),
        };
        let figure = |belief| habit::figure(row.habit, belief, bench.system);
        vec![habit::meaning(row.habit).to_owned(), figure(row.usual), figure(row.now), from]
    });
    draft.grid("What is believed of this lathe", &["habit", "usual>", "now>", "from"], rows.collect());
    draft.source("habits of the lathe: parts pooled with the usual belief, which counts as much as 3 parts; ± is 95 %");
}
