//! What is the size now, what to set for the next cut, what will the gauge show, and what pays next (`next-cut`)?
//!
//! It takes the events of one part in order, learns from them (`filter`), and answers with the next command (`command`), the aim
//! (`aim`) and the ways on by expected loss (`advice`). It leaves to others how a lathe's history becomes a start (`learn`).

use serde::Serialize;
use serde_json::Value;

use super::advice::{self, Prices, Question};
use super::aim::{USUAL_SCRAP_RATIO, landing};
use super::command::{Command, command, equal_cut, widened};
use super::filter::{Event, Filter, Full, Misfit};
use super::model::{self, Lathe, Normal, Sight};
use super::notices::{self, Minded, Notice};
use super::plan::{LEAST_DEPTH_MM, Side};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, joined};
use crate::refused::Refused;
use crate::units::System;

/// Largest size, mm.
const LARGEST_MM: f64 = 1e5;
/// Most events of one part: a day at the lathe has fewer.
const MOST_EVENTS: usize = 400;
/// Unknowns of a part of up to six cuts or so, and of the longest: the widths of the filter, tried in turn.
pub const USUAL: usize = 24;
const WIDEST: usize = 128;
/// Ways on that an answer tells.
const TOLD_WAYS: usize = 6;
/// u of a start that was given without one, mm. Source: the turning page.
const START_U_MM: f64 = 0.05;
/// Cuts that are left where the request does not say.
const CUTS_LEFT: u64 = 3;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// What is believed before the first event.
    pub lathe: Lathe,
    /// Limits of the finished size, mm.
    pub band_mm: (f64, f64),
    /// What happened, in order.
    pub events: Vec<Event>,
    /// The wanted size after the next cut, mm; none: by equal cuts to the aim.
    pub target_mm: Option<f64>,
    /// Cuts that are left.
    pub cuts_left: u64,
    /// Prices, aim and slide; advice is given where the blank and the minute have a price.
    pub prices: Prices,
    /// Whether both prices were given.
    pub priced: bool,
    /// Innovations of this lathe's last parts.
    pub earlier: Misfit,
    /// Units of the sentences; every figure stays in its own.
    pub words_in: System,
}

/// One size reading, and what it did.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeRead {
    /// Size at 20 °C after it, mm.
    pub size_mm: Normal,
    /// Reading less prediction, in standard deviations.
    pub innovation: f64,
    /// Set aside: it can't be right.
    pub suspect: bool,
    /// Size if it had been kept, mm; null when it was.
    pub if_kept_mm: Option<Normal>,
    /// Chance that the part lies in its band now; of a suspect, the smaller of set aside and kept.
    pub chance_in_band: f64,
}

/// What is now believed of the lathe.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Beliefs {
    /// b, mm.
    pub offset_mm: Normal,
    /// k.
    pub deflection: Normal,
    /// f, mm.
    pub spring_back_mm: Normal,
    /// h, K/mm.
    pub heat_K_per_mm: Normal,
    /// τ, s.
    pub tau_s: Normal,
    /// Wear a cut, mm; null before the second cut of a set-up.
    pub wear_mm: Option<Normal>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// One a size reading, in order.
    pub reads: Vec<SizeRead>,
    /// Size at 20 °C now, mm.
    pub size_mm: Normal,
    /// Chance that the part lies in its band now.
    pub chance_in_band: f64,
    /// Temperature of the part now, °C.
    pub part_C: Normal,
    /// Temperature of the air now, °C.
    pub ambient_C: Normal,
    /// The lathe.
    pub beliefs: Beliefs,
    /// b at the first cut of every set-up, mm.
    pub first_offsets_mm: Vec<Normal>,
    /// Squared innovations of this part, and how many.
    pub innovation_squares: f64,
    /// How many they are.
    pub innovations: u32,
    /// By how much every u grew because the readings do not fit; 1 while they do.
    pub misfit: f64,
    /// The next cut; null when nothing is left to cut.
    pub next: Option<Command>,
    /// What to do before it, in words.
    pub before: Vec<String>,
    /// Ways on, the least loss first; empty without prices.
    pub advice: Vec<advice::Told>,
    /// The decision in one sentence.
    pub say: String,
    /// What to know.
    pub warnings: Vec<String>,
    /// What each of the warnings is of, in their order, for a program.
    pub notices: Vec<Minded>,
}

/// Learns from the events and answers.
///
/// The width of the filter grows with the unknowns; an history too long for the widest is refused.
pub fn next_cut(request: &Request) -> Result<Answer, Refused> {
    let answer = through::<USUAL>(request).or_else(|Full| through::<WIDEST>(request));
    answer.map_err(|Full| {
        let cuts = request.events.iter().filter(|event| matches!(event, Event::Cut(_))).count();
        Refused::new(
            "events",
            format!("{cuts} cuts with what came between"),
            "some 50 cuts and changes of one part",
            "start anew from the last good size: give it as start_mm with its u",
        )
    })
}

/// What the events leave behind them.
struct Learned<const W: usize> {
    filter: Filter<W>,
    reads: Vec<SizeRead>,
    minded: Vec<Notice>,
}

fn learn<const W: usize>(request: &Request) -> Result<Learned<W>, Full> {
    let mut filter = Filter::<W>::new(request.lathe, request.earlier);
    let mut reads = Vec::new();
    let mut minded = Vec::new();
    let nominal_mm = request.lathe.nominal_mm;
    let band = (request.band_mm.0 - nominal_mm, request.band_mm.1 - nominal_mm);
    for event in &request.events {
        let before = filter.now().d.v;
        let judged = filter.take(*event)?;
        match (event, judged) {
            (Event::Seen { sight: Sight::Size, value, .. }, Some(judged)) => {
                let factor = filter.misfit.factor();
                let size = widened(filter.figure(&filter.now().d), factor);
                let kept = judged.if_kept.map(|kept| widened(kept, factor));
                let chance = |size: Normal| landing(size.mean, band.0, band.1, size.sd).chance_in_band;
                reads.push(SizeRead {
                    size_mm: Normal::new(nominal_mm + size.mean, size.sd),
                    innovation: judged.innovation,
                    suspect: judged.suspect,
                    if_kept_mm: kept.map(|kept| Normal::new(nominal_mm + kept.mean, kept.sd)),
                    chance_in_band: kept.map_or(chance(size), |kept| chance(size).min(chance(kept))),
                });
                minded.extend(notices::of_size(judged, *value, filter.cuts, request.words_in));
            }
            (Event::Seen { sight, value, .. }, Some(judged)) => minded.extend(notices::of_other(*sight, judged, *value, request.words_in)),
            (Event::Cut(command_mm), _) if filter.now().d.v == before => {
                minded.push(notices::nothing_taken(*command_mm, request.words_in));
            }
            _ => {}
        }
    }
    Ok(Learned { filter, reads, minded })
}

fn through<const W: usize>(request: &Request) -> Result<Answer, Full> {
    let Learned { filter, reads, mut minded } = learn::<W>(request)?;
    let Request { lathe, band_mm, .. } = request;
    let nominal_mm = lathe.nominal_mm;
    let band = (band_mm.0 - nominal_mm, band_mm.1 - nominal_mm);
    let factor = filter.misfit.factor();
    let now = filter.now();
    let size = widened(filter.figure(&now.d), factor);
    let landed = landing(size.mean, band.0, band.1, size.sd);
    let chance_in_band = if filter.size_is_suspect() {
        reads.last().map_or(landed.chance_in_band, |read| read.chance_in_band)
    } else {
        landed.chance_in_band
    };
    let least_cuts = if unsettled_set_up(&request.events) { 2 } else { 1 };
    let cuts_left = request.cuts_left.max(least_cuts);
    let next = next(&filter, request, band, cuts_left, factor)?;
    let question = Question { band, prices: request.prices, least_cuts: least_cuts as usize, factor };
    let ways = if request.priced { advice::ways(&filter, &question) } else { Vec::new() };
    minded.extend(notices::general(request, &filter, factor, next.as_ref(), least_cuts));
    let before = before(&filter, next.as_ref(), cuts_left, request);
    let figure = |figure| widened(filter.figure(figure), factor);
    let mut answer = Answer {
        reads,
        size_mm: Normal::new(nominal_mm + size.mean, size.sd),
        chance_in_band,
        part_C: figure(&now.T),
        ambient_C: figure(&now.air),
        beliefs: Beliefs {
            offset_mm: figure(&now.b),
            deflection: figure(&now.k),
            spring_back_mm: figure(&now.f),
            heat_K_per_mm: figure(&now.h),
            tau_s: figure(&now.tau),
            wear_mm: filter.wear(),
        },
        first_offsets_mm: filter.first_offsets(),
        innovation_squares: filter.misfit.sum - request.earlier.sum,
        innovations: filter.misfit.n - request.earlier.n,
        misfit: factor,
        next,
        before,
        advice: ways.iter().take(TOLD_WAYS).map(advice::Way::told).collect(),
        say: String::new(),
        notices: minded.iter().map(|notice| notice.of).collect(),
        warnings: minded.into_iter().map(|notice| notice.say).collect(),
    };
    answer.say = notices::say(&answer, request, filter.size_is_suspect());
    Ok(answer)
}

/// A tool change or a re-chuck since the last cut: the next cut can't be the last.
fn unsettled_set_up(events: &[Event]) -> bool {
    events.iter().rev().take_while(|event| !matches!(event, Event::Cut(_))).any(|event| matches!(event, Event::Tool | Event::Chuck))
        && events.iter().any(|event| matches!(event, Event::Cut(_)))
}

/// The next cut: to the wanted size, or by equal cuts to the aim. None where the part is at or past what it should become.
fn next<const W: usize>(
    filter: &Filter<W>,
    request: &Request,
    band: (f64, f64),
    cuts_left: u64,
    factor: f64,
) -> Result<Option<Command>, Full> {
    let lathe = &request.lathe;
    let step_mm = request.prices.step_mm;
    if let Some(target_mm) = request.target_mm {
        return command(filter, target_mm - lathe.nominal_mm, step_mm, band, factor).map(Some);
    }
    match equal_cut(filter, cuts_left as usize, step_mm, request.prices.scrap_ratio, band, factor)? {
        Some(target) => command(filter, target, step_mm, band, factor).map(Some),
        None => Ok(None),
    }
}

/// What to do before the next cut.
fn before<const W: usize>(filter: &Filter<W>, next: Option<&Command>, cuts_left: u64, request: &Request) -> Vec<String> {
    let mut before = Vec::new();
    if filter.size_is_suspect() {
        before.push("Measure the size again before the next cut.".to_owned());
    }
    let last = cuts_left == 1 || request.target_mm.is_some_and(|target| request.band_mm.0 <= target && target <= request.band_mm.1);
    if next.is_some() && last && filter.gauge_is_unchecked() {
        before.push("Check the gauge on its standard before the last cut.".to_owned());
    }
    before
}

/// The words of an event.
const EVENTS: &[&str] = &["ambient", "temp", "read", "cool", "cut", "gauge-check", "tool-change", "re-chuck", "new-day"];

const EVENT_KEYS: &[Key] = &[
    Key::word("ev", EVENTS, "what happened").needed(),
    Key::number("value_C", Range::within(-273.15, 1500.0), "temperature that was read, of ambient and temp"),
    Key::number("value_mm", Range::over(0.0).to(LARGEST_MM), "size that was read, of read"),
    Key::number("dt_s", Range::at_least(0.0).to(1e7), "time without a cut, of cool"),
    Key::number("command_mm", Range::over(0.0).to(LARGEST_MM), "diameter that was set, of cut"),
    Key::number("error_mm", Range::within(-10.0, 10.0), "what the gauge shows on its standard less its size, of gauge-check"),
    Key::whole("n", Range::within(1.0, 1000.0), "how many readings it is the mean of").default("1"),
];

const OWN_KEYS: [Key; 16] = [
    Key::word("side", &["outside", "bore"], "which surface is cut").default("outside"),
    Key::number("nominal_mm", Range::over(0.0).to(LARGEST_MM), "nominal diameter").needed(),
    Key::quantity("start_mm", Range::over(0.0).to(LARGEST_MM), "size before the first cut, at 20 °C; u 0.05 where none is given").needed(),
    Key::number("lower_mm", Range::over(0.0).to(LARGEST_MM), "lower limit at 20 °C").needed(),
    Key::number("upper_mm", Range::over(0.0).to(LARGEST_MM), "upper limit at 20 °C").needed(),
    Key::records("events", EVENT_KEYS, "what happened, in order").needed(),
    Key::number("next_target_mm", Range::over(0.0).to(LARGEST_MM), "wanted size after the next cut, at 20 °C"),
    Key::whole("cuts_left", Range::within(1.0, 20.0), "cuts that are left").default("3"),
    Key::number("scrap_ratio", Range::over(0.0).to(1e9), "loss of the side that can't be put back over that of the other")
        .default("4; by the prices where both are given"),
    Key::number("step_mm", Range::at_least(0.0).to(1.0), "step of the slide").default("0.001"),
    Key::number("least_depth_mm", Range::at_least(0.0).to(5.0), "thinnest radial depth that cuts").default("0.03"),
    Key::number("blank_price", Range::at_least(0.0), "a part on the side that can't be put back; needed for advice"),
    Key::number("minute_price", Range::at_least(0.0), "a minute at the lathe; needed for advice"),
    Key::number("earlier_innovation_squares", Range::at_least(0.0), "sum of squared innovations of this lathe's last parts").default("0"),
    Key::whole("earlier_innovations", Range::within(0.0, 1e5), "how many they are").default("0"),
    Key::word("words_in", &["mm", "inch"], "units of the sentences; every figure stays in its own").default("mm"),
];

const REQUEST: [Key; OWN_KEYS.len() + model::KEYS.len()] = joined(&OWN_KEYS, &model::KEYS);

/// `next-cut` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "next-cut",
    help: "the next cut, and the chance that it lands in the band",
    request: &REQUEST,
    answer: &[
        Told { path: "reads", help: "one a size reading: size_mm, innovation, suspect, if_kept_mm (null when kept), chance_in_band" },
        Told { path: "size_mm", help: "size at 20 °C now: value, u" },
        Told { path: "chance_in_band", help: "chance that the part lies in its band now" },
        Told { path: "part_C", help: "temperature of the part now: value, u" },
        Told { path: "ambient_C", help: "temperature of the air now: value, u" },
        Told { path: "beliefs", help: "offset_mm, deflection, spring_back_mm, heat_K_per_mm, tau_s, wear_mm: value, u" },
        Told { path: "first_offsets_mm", help: "b at the first cut of every set-up: value, u" },
        Told { path: "innovation_squares", help: "sum of this part's squared innovations" },
        Told { path: "innovations", help: "how many they are" },
        Told { path: "misfit", help: "factor on every u; over 1 while the readings do not fit" },
        Told { path: "next.command_mm", help: "what to set for the next cut; next is null when nothing is left to cut" },
        Told { path: "next.depth_mm", help: "what it takes off the diameter" },
        Told { path: "next.size_mm", help: "size at 20 °C after it: value, u" },
        Told { path: "next.reading_mm", help: "what the gauge will show settle_s after it: value, u" },
        Told { path: "next.chance_in_band", help: "chance of the band, with chance_under and chance_over beside it" },
        Told { path: "before", help: "what to do before the next cut" },
        Told { path: "advice", help: "ways on, the least loss first: do, loss, minutes, chance_in_band; empty without prices" },
        Told { path: "say", help: "the decision in one sentence" },
        Told { path: "notices", help: "what each of the warnings is of, in their order: size-suspect, moved, misfit .." },
    ],
    example: r#"{"side": "outside", "nominal_mm": 240, "start_mm": {"value": 241.6, "u": 0.05}, "lower_mm": 240.152, "upper_mm": 240.182,
        "blank_price": 900, "minute_price": 1.2, "cuts_left": 2, "events": [{"ev": "ambient", "value_C": 19.5}, {"ev": "temp", "value_C": 31},
        {"ev": "cut", "command_mm": 241.09}, {"ev": "cool", "dt_s": 180}, {"ev": "temp", "value_C": 29.5},
        {"ev": "read", "value_mm": 241.163, "n": 3}, {"ev": "cool", "dt_s": 120}, {"ev": "temp", "value_C": 29}]}"#,
    run: Some(answer),
};

/// Reads a request by its table.
pub fn request(given: &Given) -> Result<Request, Refused> {
    let side = if given.word_or("side", "outside") == "bore" { Side::Bore } else { Side::Outside };
    let start = given.need_quantity("start_mm")?;
    let has_u = given.raw("start_mm").and_then(Value::as_object).is_some_and(|map| map.contains_key("u"));
    let start = Normal::new(start.value, if has_u { start.u } else { START_U_MM });
    let band_mm = (given.need_number("lower_mm")?, given.need_number("upper_mm")?);
    if band_mm.0 >= band_mm.1 {
        return Err(given.refuse("lower_mm", format!("under upper_mm, {}", band_mm.1), "swap the limits, or correct one"));
    }
    let past = if side == Side::Outside { start.mean < band_mm.0 } else { start.mean > band_mm.1 };
    if past {
        let allowed = if side == Side::Outside { format!("{} or more", band_mm.0) } else { format!("{} or less", band_mm.1) };
        return Err(given.refuse("start_mm", allowed, "correct it: what is cut off can't be put back"));
    }
    let lathe = Lathe::usual(side, given.need_number("nominal_mm")?, start).told(given);
    let records = given.records("events");
    if records.len() > MOST_EVENTS {
        let many = Refused::new("events", records.len(), format!("up to {MOST_EVENTS}"), "start anew from the last good size");
        return Err(many);
    }
    let (blank, minute) = (given.number_or("blank_price", 0.0), given.number_or("minute_price", 0.0));
    let priced = given.has("blank_price") && given.has("minute_price");
    let by_prices = if priced { advice::scrap_ratio(blank, minute, &lathe) } else { USUAL_SCRAP_RATIO };
    let prices = Prices {
        blank,
        minute,
        scrap_ratio: given.number_or("scrap_ratio", by_prices),
        least_depth_mm: given.number_or("least_depth_mm", LEAST_DEPTH_MM),
        step_mm: given.number_or("step_mm", 0.001),
    };
    Ok(Request {
        lathe,
        band_mm,
        events: records.iter().map(event).collect::<Result<_, _>>()?,
        target_mm: given.number("next_target_mm"),
        cuts_left: given.whole_or("cuts_left", CUTS_LEFT),
        prices,
        priced,
        earlier: Misfit {
            sum: given.number_or("earlier_innovation_squares", 0.0),
            n: u32::try_from(given.whole_or("earlier_innovations", 0)).unwrap_or(0),
        },
        words_in: if given.word_or("words_in", "mm") == "inch" { System::Inch } else { System::Metric },
    })
}

fn event(given: &Given) -> Result<Event, Refused> {
    let n = given.whole_or("n", 1) as f64;
    let seen = |sight: Sight, key: &str| given.need_number(key).map(|value| Event::Seen { sight, value, n });
    Ok(match given.need_word("ev")? {
        "ambient" => seen(Sight::Air, "value_C")?,
        "temp" => seen(Sight::Part, "value_C")?,
        "read" => seen(Sight::Size, "value_mm")?,
        "gauge-check" => seen(Sight::Check, "error_mm")?,
        "cool" => Event::Cool(given.need_number("dt_s")?),
        "cut" => Event::Cut(given.need_number("command_mm")?),
        "tool-change" => Event::Tool,
        "re-chuck" => Event::Chuck,
        _ => Event::Day,
    })
}

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = request(given)?;
    let answer = next_cut(&request)?;
    working(&request, &answer, desk);
    told(&answer)
}

fn working(request: &Request, answer: &Answer, desk: &mut Desk) {
    let u = |name: &'static str, figure: Normal| (name, figure.mean);
    desk.working.step(
        "the size now, from the whole history",
        "minimum of |z|²/2 + Σ((y - g(z))/u)²/2 over starts and noises; covariance (I + JᵀJ)⁻¹ there",
        &[("events", request.events.len() as f64), ("innovations", f64::from(answer.innovations))],
        &[u("size_mm", answer.size_mm), ("size_u_mm", answer.size_mm.sd), u("part_C", answer.part_C), u("ambient_C", answer.ambient_C)],
        "Bayes' rule, Gauss-Newton and Laplace's approximation",
    );
    desk.working.step(
        "do the readings fit?",
        "S = Σ innovation²; over the 99 % point of χ²(n), n ≥ 6: every u × √(S/n)",
        &[("S", answer.innovation_squares + request.earlier.sum), ("n", f64::from(answer.innovations + request.earlier.n))],
        &[("misfit", answer.misfit)],
        "the sum of squares of standard normals is χ²",
    );
    if let Some(next) = &answer.next {
        desk.working.step(
            "the next command",
            "C such that the mean size after the cut is the target: C ← C - (mean - target); rounded to the slide's step",
            &[("step_mm", request.prices.step_mm)],
            &[
                ("command_mm", next.command_mm),
                ("size_mm", next.size_mm.mean),
                ("size_u_mm", next.size_mm.sd),
                ("reading_mm", next.reading_mm.mean),
                ("chance_in_band", next.chance_in_band),
            ],
            "the model of cutting, common practice put into numbers",
        );
    }
}
