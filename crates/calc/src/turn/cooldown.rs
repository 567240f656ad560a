//! What size will a cooling part settle at, how sure is that already, and when is the next reading worth taking (`cooldown`)?
//!
//! Readings of a part that cools by Newton's law towards the air, with a thermometer beside them where there is one. The settled size
//! is that at the air's temperature at t = 0: `to_20` brings it to 20 °C. It leaves to others what the lathe does to the size
//! (`next-cut`). Limits: one time constant for the whole part, and air that drifts evenly.
//!
//! A point fit of the curve is overconfident: early readings can't tell how much is to be lost from how fast. So the time constant is
//! gone through on a grid, and at each node the rest, which is linear, is solved exactly.

mod ahead;
mod grid;

use serde::Serialize;
use serde_json::Value;

use self::ahead::{Ahead, MOST_READINGS, Next};
use self::grid::{Data, Grid, MOST_GRIDS};
use crate::compute::{Desk, Kind, told};
use crate::distributions::f_chance_over;
use crate::keys::{Given, Key, Range, Told};
use crate::math::exp;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::units::{shown, shown_plain, um_from_mm};

/// Half-width of the 95 % interval in standard uncertainties.
const K_95: f64 = 1.96;
/// Points of the curve for the picture, and how many time constants after t = 0 it goes at least.
const CURVE_POINTS: u32 = 61;
const CURVE_AHEAD: f64 = 4.0;
/// Readings scatter too much about the curve when chance gives as much less often than this.
const ODD_SCATTER: f64 = 0.001;
/// Longest time and time constant, s, and largest size, mm.
const LONGEST_S: f64 = 1e7;
const LARGEST_MM: f64 = 1e5;
const CAUTION: &str = "On the lathe: stop and lock the spindle and draw the tool clear before a gauge goes near; no gloves or sleeves near \
                       a turning part; a warm part and its chips are sharp and hot.";

/// One reading of a cooling part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoolReading {
    /// Time from the start of the cooling, s.
    pub t_s: f64,
    /// What the gauge shows, mm.
    pub reading_mm: f64,
    /// Temperature of the part less that of the air, K, where it was read.
    pub part_minus_ambient_K: Option<f64>,
}

/// What was read, and what is believed beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct Cooldown {
    /// The readings, times rising.
    pub readings: Vec<CoolReading>,
    /// Standard uncertainty of one reading, mm.
    pub reading_u_mm: f64,
    /// Net expansion αD of the part as the gauge shows it, mm per K.
    pub expansion_mm_per_K: f64,
    /// Drift β of the air, K/s.
    pub ambient_drift_K_per_s: f64,
    /// Median of the time constant, s.
    pub tau_s: f64,
    /// Standard uncertainty of its logarithm.
    pub ln_tau_u: f64,
    /// How much over the settled size the part is at t = 0, mm.
    pub amplitude_mm: Quantity,
    /// Standard uncertainty of the settled size about the last reading, before anything is known of it, mm.
    pub size_u_mm: f64,
    /// The 95 % half-width that is wanted, mm.
    pub wanted_U_mm: f64,
    /// Standard uncertainty of one temperature, K.
    pub temperature_u_K: f64,
    /// Standard uncertainty of the thermometer's bias, K.
    pub temperature_bias_u_K: f64,
    /// Relative standard uncertainty of the expansion.
    pub expansion_rel_u: f64,
}

impl Cooldown {
    /// These readings, with the usual beliefs: 45 min known to 35 %, ± 5 µm wanted. Source: the turning page; *common practice*.
    pub fn usual(readings: Vec<CoolReading>, expansion_mm_per_K: f64) -> Self {
        Self {
            readings,
            reading_u_mm: 0.003,
            expansion_mm_per_K,
            ambient_drift_K_per_s: 0.0,
            tau_s: 2700.0,
            ln_tau_u: 0.35,
            amplitude_mm: Quantity::with_u(0.0, 0.5),
            size_u_mm: 1.0,
            wanted_U_mm: 0.005,
            temperature_u_K: 1.0,
            temperature_bias_u_K: 0.5,
            expansion_rel_u: 0.03,
        }
    }
}

/// The settled size, and what to do next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CooldownAnswer {
    /// Size when the part is wholly at the air's temperature of t = 0, mm.
    pub settled_mm: Figure,
    /// Its 95 % half-width, mm.
    pub U95_mm: f64,
    /// Lower end of the 95 % interval, mm.
    pub settled_low_mm: f64,
    /// Upper end, mm.
    pub settled_high_mm: f64,
    /// Whether the half-width is as small as was wanted.
    pub known: bool,
    /// The time constant, s: exp of the mean of its logarithm.
    pub tau_s: f64,
    /// Standard uncertainty of that logarithm.
    pub ln_tau_u: f64,
    /// How much over the settled size the part was at t = 0, mm.
    pub amplitude_mm: f64,
    /// Sum of the squared residuals over their uncertainty, at the likeliest time constant.
    pub chi2: f64,
    /// When the next reading is worth taking, s; none when the size is known.
    pub next_reading_s: Option<f64>,
    /// How many readings it takes from here; none when it is known, or when it is more than is counted.
    pub readings_needed: Option<u32>,
    /// The size over time.
    pub curve: Vec<CurvePoint>,
    /// What this means, in a sentence.
    pub say: String,
    /// What to mind.
    pub warnings: Vec<String>,
}

/// A point of the cooling curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Time, s.
    pub t_s: f64,
    /// Size, mm.
    pub size_mm: f64,
    /// Its standard uncertainty, without a gauge's, mm.
    pub u: f64,
}

/// The settled size of a cooling part.
///
/// `R(t) = D∞ + A e^(−t/τ) + αD β (t − τ(1 − e^(−t/τ))) + noise`; with temperatures y over the air
/// `αD y = A e^(−t/τ) − αD β τ(1 − e^(−t/τ)) + αD·bias + noise`, and the size then follows A(1 + ε).
/// D∞: about the last reading, sd `size_u_mm`; A: `amplitude_mm`; ln τ: normal; A ε: sd `expansion_rel_u` |A₀|, A₀ the given amplitude
/// or αD × the first temperature where none (or 0) was given; bias: sd `temperature_bias_u_K`.
/// 401 nodes of ln τ over ± 5 sd, at each the linear Gaussian solution; weights by its evidence; mean and variance of the mixture.
/// Ranges: times 0 to 1e7 s, spreads over 0, τ over 0. Refused: no reading, times not rising, a spread of 0 or less.
/// Source: Newton's law of cooling; Bayes' rule (Särkkä, Bayesian Filtering and Smoothing, from memory).
pub fn cooldown(request: &Cooldown) -> Result<CooldownAnswer, Refused> {
    let (first, last) = check(request)?;
    let data = Data::of(request, first, last);
    let grid = Grid::of(request, &data);
    let (over_mm, u) = grid.settled();
    let settled = Figure { value: data.base_mm + over_mm, u: Some(u) };
    let U95_mm = K_95 * u;
    let tau_s = exp(grid.ln_tau);
    let known = U95_mm <= request.wanted_U_mm;
    let next = if known { None } else { Some(Ahead::of(request, &data, &grid).next(request, last)) };
    let mut answer = CooldownAnswer {
        settled_mm: settled,
        U95_mm,
        settled_low_mm: settled.value - U95_mm,
        settled_high_mm: settled.value + U95_mm,
        known,
        tau_s,
        ln_tau_u: grid.ln_tau_sd,
        amplitude_mm: grid.mean(|node| node.mean[1]),
        chi2: grid.likeliest().chi2,
        next_reading_s: next.as_ref().map(|next| next.t_s),
        readings_needed: next.as_ref().and_then(|next| next.readings),
        curve: curve(&data, &grid, next.as_ref()),
        say: String::new(),
        warnings: warnings(request, &data, &grid, first),
    };
    answer.say = say(request, &answer, next.as_ref(), last);
    Ok(answer)
}

/// The first and the last reading of a request that can be answered.
fn check(request: &Cooldown) -> Result<(CoolReading, CoolReading), Refused> {
    let (Some(first), Some(last)) = (request.readings.first(), request.readings.last()) else {
        return Err(Refused::new("readings", "an empty list", "1 reading or more", "read the part and give time and size"));
    };
    for (i, pair) in request.readings.windows(2).enumerate() {
        if pair[1].t_s <= pair[0].t_s {
            let key = format!("readings.{}.t_s", i + 1);
            let allowed = format!("over {}, the time of the reading before", pair[0].t_s);
            return Err(Refused::new(key, pair[1].t_s, allowed, "put the readings in the order of their times"));
        }
    }
    let spreads = [
        ("reading_u_mm", request.reading_u_mm),
        ("tau_s", request.tau_s),
        ("ln_tau_u", request.ln_tau_u),
        ("amplitude_mm.u", request.amplitude_mm.u),
        ("size_u_mm", request.size_u_mm),
        ("wanted_U_mm", request.wanted_U_mm),
        ("temperature_u_K", request.temperature_u_K),
        ("temperature_bias_u_K", request.temperature_bias_u_K),
        ("expansion_rel_u", request.expansion_rel_u),
    ];
    for (key, spread) in spreads {
        if spread.is_nan() || spread <= 0.0 {
            return Err(Refused::new(key, spread, "a number over 0", "say how far it may be off: nothing is known without a spread"));
        }
    }
    Ok((*first, *last))
}

/// The size over time, from the first reading to 4 τ, and past the last and the next reading.
fn curve(data: &Data, grid: &Grid, next: Option<&Next>) -> Vec<CurvePoint> {
    let end_s = (CURVE_AHEAD * exp(grid.ln_tau)).max(data.end_s).max(next.map_or(0.0, |next| next.t_s));
    let point = |t_s: f64| {
        let (size, u) = grid.size(data, t_s);
        CurvePoint { t_s, size_mm: data.base_mm + size, u }
    };
    crate::band::evenly(data.start_s, end_s, CURVE_POINTS).into_iter().map(point).collect()
}

fn say(request: &Cooldown, answer: &CooldownAnswer, next: Option<&Next>, last: CoolReading) -> String {
    let (size, half) = shown(answer.settled_mm.value, answer.U95_mm);
    let wanted = shown_plain(um_from_mm(request.wanted_U_mm), if request.wanted_U_mm < 0.001 { 1 } else { 0 });
    let minutes = |s: f64| shown_plain((s / 60.0).round(), 0);
    let where_it_stands = "That is at the air's temperature of t = 0; to-20 brings it to 20 °C.";
    let so_far = format!("so far {size} ± {half} mm (95 %). {where_it_stands}");
    let Some(next) = next else {
        return format!("No need to wait: it will end at {size} ± {half} mm (95 %). {where_it_stands}");
    };
    let wait = minutes(next.t_s - last.t_s);
    match next.readings {
        Some(1) => format!("{wait} min more: one reading then ({} s) tells the settled size to ± {wanted} µm; {so_far}", next.t_s.round()),
        Some(count) => format!(
            "{count} more readings, one each {wait} min (about {} min in all), tell the settled size to ± {wanted} µm; {so_far}",
            minutes(f64::from(count) * (next.t_s - last.t_s))
        ),
        None => format!(
            "Over {MOST_READINGS} more readings would be needed for ± {wanted} µm: take a gauge that repeats better, or ask for less; {so_far}"
        ),
    }
}

fn warnings(request: &Cooldown, data: &Data, grid: &Grid, first: CoolReading) -> Vec<String> {
    let mut warnings = vec![CAUTION.to_owned()];
    if first.t_s > request.tau_s {
        warnings.push(format!(
            "The first reading stands {} min after t = 0, and the part is taken to have cooled since then: where the times are those of a \
             clock, count them from the first reading.",
            shown_plain(first.t_s / 60.0, 0)
        ));
    }
    if !data.warmth && request.readings.iter().any(|reading| reading.part_minus_ambient_K.is_some()) {
        warnings.push("The temperatures were not used: with an expansion of 0 they say nothing of the size.".into());
    }
    let chi2 = grid.likeliest().chi2;
    let observed = data.observations() as f64;
    // Settled size and amplitude are always fitted; the time constant may rest on what was believed before.
    if observed > 2.0 && f_chance_over(chi2 / (observed - 2.0), observed - 2.0, f64::INFINITY) < ODD_SCATTER {
        warnings.push(format!(
            "The readings lie off the curve by more than their uncertainty allows (chi2 {chi2:.0} of {observed:.0} readings): one may be \
             wrong, the air may have changed, or reading_u_mm is too small; the settled size is less sure than it says."
        ));
    }
    if grid.coarse {
        warnings
            .push(format!("The grid of the time constant was laid {MOST_GRIDS} times and is still too coarse: ln_tau_u may be too large."));
    }
    warnings
}

const SPREAD_MM: Range = Range::over(0.0).to(1e3);

const READING: &[Key] = &[
    Key::number("t_s", Range::within(0.0, LONGEST_S), "time from the start of the cooling").needed(),
    Key::number("reading_mm", Range::over(0.0).to(LARGEST_MM), "what the gauge shows").needed(),
    Key::number("part_minus_ambient_K", Range::within(-300.0, 1500.0), "temperature of the part less that of the air"),
];

/// `cooldown` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "cooldown",
    help: "the settled size of a cooling part, from a few readings",
    request: &[
        Key::records("readings", READING, "what was read, in the order of time").needed(),
        Key::number("reading_u_mm", SPREAD_MM, "standard uncertainty of one reading").default("0.003"),
        Key::number("expansion_mm_per_K", Range::within(-10.0, 10.0), "net expansion of the part as the gauge shows it").needed(),
        Key::number("ambient_drift_K_per_s", Range::within(-0.1, 0.1), "drift of the air").default("0"),
        Key::number("tau_s", Range::over(0.0).to(LONGEST_S), "time constant of the cooling, median").default("2700"),
        Key::number("ln_tau_u", Range::over(0.0).to(3.0), "standard uncertainty of its logarithm: 0.35 is 35 %").default("0.35"),
        Key::quantity("amplitude_mm", Range::within(-100.0, 100.0), "how much over the settled size it is at t = 0, with u")
            .default("0, u 0.5"),
        Key::number("size_u_mm", SPREAD_MM, "how far the settled size may be from the last reading").default("1.0"),
        Key::number("wanted_U_mm", SPREAD_MM, "95 % half-width that is wanted").default("0.005"),
        Key::number("temperature_u_K", Range::over(0.0).to(1e3), "standard uncertainty of one temperature").default("1.0"),
        Key::number("temperature_bias_u_K", Range::over(0.0).to(1e3), "standard uncertainty of the thermometer's bias").default("0.5"),
        Key::number("expansion_rel_u", Range::over(0.0).to(1.0), "relative standard uncertainty of the expansion").default("0.03"),
    ],
    answer: &[
        Told { path: "settled_mm", help: "size when it is wholly at the air's temperature of t = 0, with u" },
        Told { path: "U95_mm", help: "its 95 % half-width" },
        Told { path: "settled_low_mm", help: "lower end of the 95 % interval" },
        Told { path: "settled_high_mm", help: "upper end of the 95 % interval" },
        Told { path: "known", help: "whether the half-width is as small as was wanted" },
        Told { path: "tau_s", help: "time constant, exp of the mean of its logarithm" },
        Told { path: "ln_tau_u", help: "standard uncertainty of that logarithm" },
        Told { path: "amplitude_mm", help: "how much over the settled size it was at t = 0" },
        Told { path: "chi2", help: "sum of squared residuals over their uncertainty, at the likeliest time constant" },
        Told { path: "next_reading_s", help: "when the next reading is worth taking; null when the size is known" },
        Told { path: "readings_needed", help: "how many readings it takes from here; null when known, or over 1000" },
        Told { path: "curve", help: "t_s, size_mm and its u, for the picture" },
        Told { path: "say", help: "what this means, in a sentence" },
    ],
    example: r#"{"readings": [{"t_s": 0, "reading_mm": 240.086}, {"t_s": 600, "reading_mm": 240.071}, {"t_s": 1500, "reading_mm": 240.053},
        {"t_s": 2700, "reading_mm": 240.037}], "expansion_mm_per_K": 0.00432}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = cooldown(&request)?;
    explain(&request, &answer, desk);
    told(&answer)
}

fn read(given: &Given) -> Result<Cooldown, Refused> {
    let readings = given.records("readings").into_iter().map(|row| {
        let (t_s, reading_mm) = (row.need_number("t_s")?, row.need_number("reading_mm")?);
        Ok(CoolReading { t_s, reading_mm, part_minus_ambient_K: row.number("part_minus_ambient_K") })
    });
    let usual = Cooldown::usual(readings.collect::<Result<_, Refused>>()?, given.need_number("expansion_mm_per_K")?);
    Ok(Cooldown {
        reading_u_mm: given.number_or("reading_u_mm", usual.reading_u_mm),
        ambient_drift_K_per_s: given.number_or("ambient_drift_K_per_s", usual.ambient_drift_K_per_s),
        tau_s: given.number_or("tau_s", usual.tau_s),
        ln_tau_u: given.number_or("ln_tau_u", usual.ln_tau_u),
        amplitude_mm: given.quantity("amplitude_mm").unwrap_or(usual.amplitude_mm),
        size_u_mm: given.number_or("size_u_mm", usual.size_u_mm),
        wanted_U_mm: given.number_or("wanted_U_mm", usual.wanted_U_mm),
        temperature_u_K: given.number_or("temperature_u_K", usual.temperature_u_K),
        temperature_bias_u_K: given.number_or("temperature_bias_u_K", usual.temperature_bias_u_K),
        expansion_rel_u: given.number_or("expansion_rel_u", usual.expansion_rel_u),
        ..usual
    })
}

fn explain(request: &Cooldown, answer: &CooldownAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let with = [
        ("readings", request.readings.len() as f64),
        ("reading_u_mm", request.reading_u_mm),
        ("tau_s before", request.tau_s),
        ("ln_tau_u before", request.ln_tau_u),
        ("amplitude_mm before", request.amplitude_mm.value),
    ];
    let formula = "R(t) = D + A e^(-t/tau) + aD b (t - tau (1 - e^(-t/tau))); 401 nodes of ln tau, each solved for D and A, weighted by \
                   exp(-(ln|S| + e'S^-1 e)/2 - x^2/2)";
    let source = "Newton's law of cooling; Bayes' rule on a grid (Särkkä, Bayesian Filtering and Smoothing, from memory)";
    let gives = [
        ("settled_mm", answer.settled_mm.value),
        ("u mm", answer.settled_mm.u.unwrap_or(0.0)),
        ("tau_s", answer.tau_s),
        ("ln_tau_u", answer.ln_tau_u),
        ("amplitude_mm", answer.amplitude_mm),
    ];
    working.step("the settled size", formula, &with, &gives, source);
    let with = [("u µm", um_from_mm(answer.settled_mm.u.unwrap_or(0.0)))];
    working.step("95 % half-width", "1.96 u", &with, &[("U95 µm", um_from_mm(answer.U95_mm))], "normal distribution");
    if let Some(next_s) = answer.next_reading_s {
        let formula = "first step of 60 s at which 1.96 sd of (prior^-2 + sum J J'/sigma^2)^-1 is as wanted; else one tau on";
        let with = [("wanted_U_mm", request.wanted_U_mm), ("tau_s", answer.tau_s)];
        working.step("when to read again", formula, &with, &[("next_reading_s", next_s)], "propagation of normal uncertainties");
    }
}
