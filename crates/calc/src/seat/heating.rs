//! How long a housing takes in an oven, in oil or by induction, how far its bore opens, and whether heat is the way in at all.
//!
//! The housing is a ring with constant properties; an oven's time is exact for it. Cautions stand first. No torch is reckoned.

use serde::Serialize;
use serde_json::Value;

use super::chill::{self, Advice, Needed, Part, WayIn};
use super::cooling::{AT_RANGE, BATH_RANGE, SURFACES, TEMPER_MARGIN_K, wet, within};
use super::part::{self, Properties};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, ln, sq};
use crate::refused::Refused;
use crate::solve::heat::exchange::Exchange;
use crate::solve::heat::matter::Metal;
use crate::solve::heat::mesh::Ring;
use crate::solve::heat::{Field, Task, Transient, time_alone, transient};
use crate::working::Working;

/// The time moves by less than this share when terms are halved.
const AIM: f64 = 0.002;
/// h in W/(m² K): low, value, high. *Common practice* within the ranges of Incropera table 1.1 (memory).
const METHODS: [(&str, [f64; 3]); 3] =
    [("still_oven", [8.0, 12.0, 20.0]), ("fan_oven", [20.0, 30.0, 50.0]), ("hot_oil", [80.0, 150.0, 300.0])];
/// Oil is not brought nearer to its flash point than this without a word, K. *Common practice*.
const FLASH_MARGIN_K: f64 = 50.0;
/// Outside over bore at which induction is told to be slower, K. *Common practice*.
const MOST_LAG_K: f64 = 50.0;

const CHOICE: &str = "Heat rather than cool when the housing is small or comes off the machine, is aluminium, or the room can't be aired; \
     cool when the housing is large, painted, or has seals, bearings, a tempered or case-hardened part.";

/// How the housing is heated.
#[derive(Clone, Debug, PartialEq)]
pub enum Method {
    /// In a medium: the transient, and the least and most that the surface may take up.
    Medium(Task, Option<(Exchange, Exchange)>),
    /// From outside with this power, W, to this temperature, °C.
    Induction {
        /// Absorbed power, W.
        power: f64,
        /// Temperature of all of it in the end, °C.
        target: f64,
    },
}

/// The bush that is to go in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entering {
    /// Outside at 20 °C, mm.
    pub outside_mm: f64,
    /// Expansion, per K.
    pub alpha_per_K: f64,
    /// Its temperature before anything is done, °C.
    pub T_C: f64,
    /// What contracts.
    pub part: Part,
    /// Gap to go in by hand, mm.
    pub hand_mm: f64,
}

/// A housing that is heated.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatingRequest {
    /// The housing.
    pub ring: Ring,
    /// Its metal, constant.
    pub metal: Metal,
    /// Its expansion, per K.
    pub alpha_per_K: f64,
    /// Its temperature at first, °C.
    pub start_C: f64,
    /// How.
    pub method: Method,
    /// Hot oil.
    pub oil_flash_C: Option<f64>,
    /// Times that are asked for, s.
    pub at_s: Vec<f64>,
    /// The bush, where one was given.
    pub bush: Option<Entering>,
    /// Tempering temperature, °C.
    pub temper_C: Option<f64>,
    /// What must not get hotter, °C.
    pub limit_C: Option<f64>,
    /// And what that is.
    pub limit_what: String,
}

/// One of the times that were asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct At {
    /// When, s.
    pub t_s: f64,
    /// The coldest point; null for induction.
    pub slowest_C: Option<f64>,
    /// Mean of the body.
    pub mean_C: f64,
    /// Mid-length, outside; null for induction.
    pub outside_C: Option<f64>,
    /// Mid-length, bore; null for induction.
    pub inside_C: Option<f64>,
    /// Bore at mid-length.
    pub bore_mm: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeatingAnswer {
    /// Until the slowest point is near enough, or the target is reached.
    pub time_s: Option<f64>,
    /// At the high end of h.
    pub time_low_s: Option<f64>,
    /// At the low end of h.
    pub time_high_s: Option<f64>,
    /// Then: the slowest point.
    pub slowest_C: Option<f64>,
    /// Then: mean of the body.
    pub mean_C: f64,
    /// Then: bore at mid-length.
    pub bore_mm: f64,
    /// How much larger than at 20 °C.
    pub growth_um: f64,
    /// Heat taken up.
    pub energy_kJ: f64,
    /// Outside over bore in induction.
    pub lag_K: Option<f64>,
    /// By how much the time moved when the terms were halved.
    pub numeric_u_s: f64,
    /// Times that were asked for.
    pub at: Vec<At>,
    /// Housing with the bush as it is.
    pub needed_C: Option<f64>,
    /// Bush with the housing as it is.
    pub needed_bush_C: Option<f64>,
    /// Housing with the bush from nitrogen.
    pub needed_both_C: Option<f64>,
    /// The first way in that is enough.
    pub advice: Option<Advice>,
    /// Cautions first.
    pub warnings: Vec<String>,
}

/// Time, growth and advice of a housing that is heated.
///
/// Medium: the series of a ring. Induction: t = m c (target − start)/P; outside over bore lag = S/(2k) [(r_o² − r_i²)/2 − r_i² ln(r_o/r_i)],
/// S = 2 q r_o/(r_o² − r_i²), q = P/(2 π r_o L). Source: Carslaw and Jaeger 7.8; heat balance.
pub fn heating(request: &HeatingRequest) -> HeatingAnswer {
    let mut answer = match &request.method {
        Method::Medium(task, range) => in_medium(request, task, *range),
        Method::Induction { power, target } => by_induction(request, *power, *target),
    };
    if let Some(needed) = request.bush.map(|bush| needed(request, &bush)) {
        answer.needed_C = Some(needed.housing_C);
        answer.needed_bush_C = needed.bush_C;
        answer.needed_both_C = Some(needed.both_C);
        answer.advice = Some(needed.advice);
    }
    warn(request, &mut answer);
    answer
}

impl HeatingRequest {
    fn bore_mm(&self) -> f64 {
        1e3 * self.ring.bore
    }

    fn growth_mm(&self, mean_C: f64) -> f64 {
        self.alpha_per_K * self.bore_mm() * (mean_C - 20.0)
    }

    fn capacity(&self) -> f64 {
        self.metal.density * self.ring.volume() * self.metal.cp
    }

    /// Nothing done yet: what every method fills in.
    fn blank(&self, mean_C: f64, section_C: f64) -> HeatingAnswer {
        let growth_mm = self.growth_mm(section_C);
        HeatingAnswer {
            time_s: None,
            time_low_s: None,
            time_high_s: None,
            slowest_C: None,
            mean_C,
            bore_mm: self.bore_mm() + growth_mm,
            growth_um: 1e3 * growth_mm,
            energy_kJ: self.capacity() * (mean_C - self.start_C) / 1e3,
            lag_K: None,
            numeric_u_s: 0.0,
            at: Vec::new(),
            needed_C: None,
            needed_bush_C: None,
            needed_both_C: None,
            advice: None,
            warnings: vec![chill::HEAT_CAUTIONS[0].into()],
        }
    }
}

fn in_medium(request: &HeatingRequest, task: &Task, range: Option<(Exchange, Exchange)>) -> HeatingAnswer {
    let found: Transient = transient(task, AIM);
    let section = |field: &Field| field.section.mean(|T| T);
    let alone = |exchange: Exchange| found.stopped.then(|| time_alone(&Task { exchange, ..task.clone() }, &found)).flatten();
    let each = task.at.iter().zip(&found.at).map(|(t_s, field)| At {
        t_s: *t_s,
        slowest_C: Some(field.slowest),
        mean_C: field.mean,
        outside_C: Some(field.section.outside()),
        inside_C: Some(field.section.inside()),
        bore_mm: request.bore_mm() + request.growth_mm(section(field)),
    });
    let mut answer = HeatingAnswer {
        time_s: found.stopped.then_some(found.time),
        time_low_s: range.and_then(|(_, high)| alone(high)),
        time_high_s: range.and_then(|(low, _)| alone(low)),
        slowest_C: Some(found.end.slowest),
        numeric_u_s: found.change,
        at: each.collect(),
        ..request.blank(found.end.mean, section(&found.end))
    };
    if !found.stopped {
        answer.warnings.push("The time could not be found: h is next to nothing, the part stays as it is.".into());
    } else if !found.met {
        answer.warnings.push(format!("The time still changed by {:.2} s when the terms were halved, more than 0.2 % of it.", found.change));
    }
    answer
}

fn by_induction(request: &HeatingRequest, power: f64, target: f64) -> HeatingAnswer {
    let time = request.capacity() * (target - request.start_C) / power;
    let each = request.at_s.iter().map(|t_s| {
        let mean_C = request.start_C + (target - request.start_C) * (t_s / time).min(1.0);
        At { t_s: *t_s, slowest_C: None, mean_C, outside_C: None, inside_C: None, bore_mm: request.bore_mm() + request.growth_mm(mean_C) }
    });
    HeatingAnswer { time_s: Some(time), lag_K: Some(lag_K(request, power)), at: each.collect(), ..request.blank(target, target) }
}

/// By how much the outside leads the bore once the profile is steady, K.
fn lag_K(request: &HeatingRequest, power: f64) -> f64 {
    let (r_o, r_i) = (request.ring.outside / 2.0, request.ring.bore / 2.0);
    let q = power / (2.0 * PI * r_o * request.ring.length);
    let S = 2.0 * q * r_o / (sq(r_o) - sq(r_i));
    S / (2.0 * request.metal.k) * ((sq(r_o) - sq(r_i)) / 2.0 - sq(r_i) * ln(r_o / r_i))
}

/// needed_C, needed_bush_C, needed_both_C and the advice, under the cap min(limit_C, temper_C − 30, 200).
fn needed(request: &HeatingRequest, bush: &Entering) -> Needed {
    let temper = request.temper_C.map_or(f64::INFINITY, |temper| temper - TEMPER_MARGIN_K);
    let way = WayIn {
        outside_mm: bush.outside_mm,
        bush_alpha_per_K: bush.alpha_per_K,
        bush: bush.part,
        bore_mm: request.bore_mm(),
        housing_alpha_per_K: request.alpha_per_K,
        room_C: request.start_C,
        hand_mm: bush.hand_mm,
        limit_C: request.limit_C.unwrap_or(f64::INFINITY).min(temper),
    };
    chill::needed_from(&way, bush.T_C)
}

fn warn(request: &HeatingRequest, answer: &mut HeatingAnswer) {
    let (hottest, oil) = match &request.method {
        Method::Medium(task, _) => (task.bath, request.oil_flash_C.is_some()),
        Method::Induction { target, .. } => (target + answer.lag_K.unwrap_or(0.0), false),
    };
    let warn = &mut answer.warnings;
    if oil {
        warn.insert(1, chill::HEAT_CAUTIONS[1].into());
    }
    if let Some(flash) = request.oil_flash_C.filter(|flash| hottest > flash - FLASH_MARGIN_K) {
        warn.push(format!(
            "The oil at {hottest:.0} °C is within 50 K of its flash point, {flash:.0} °C: an oil with a higher flash point, or less heat."
        ));
    }
    if let Some(temper) = request.temper_C.filter(|temper| hottest > temper - TEMPER_MARGIN_K) {
        warn.push(format!(
            "{hottest:.0} °C at the surface is within 30 K of the temper temperature, {temper:.0} °C, or over it: hardness is lost."
        ));
    }
    if let Some(limit) = request.limit_C.filter(|limit| hottest > *limit) {
        warn.push(format!(
            "{hottest:.0} °C at the surface is more than the {limit:.0} °C of the {}: take it out, or cool the bush instead.",
            request.limit_what
        ));
    }
    if let Some(lag) = answer.lag_K.filter(|lag| *lag > MOST_LAG_K) {
        warn.push(format!(
            "The outside leads the bore by {lag:.0} K: less power, or pauses, or the bore stays small while the skin is hot."
        ));
    }
    match answer.advice {
        Some(Advice::Nitrogen | Advice::Both) => {
            warn.extend(chill::NITROGEN_CAUTIONS.map(str::to_owned));
            warn.push(chill::COLD_HOUSING_CAUTION.into());
        }
        Some(Advice::DryIce) => warn.extend(chill::DRY_ICE_CAUTIONS.map(str::to_owned)),
        _ => {}
    }
    warn.push(CHOICE.into());
}

const HOUSING: &[Key] = &[
    part::OUTSIDE,
    part::HOUSING_BORE,
    part::LENGTH,
    part::METAL,
    part::DENSITY,
    part::CP,
    part::K,
    part::ALPHA,
    part::E,
    part::NU,
    part::YIELD,
    Key::quantity("start_C", Range::within(-200.0, 1000.0), "its temperature at first").default("20"),
];
const BUSH: &[Key] = &[
    part::OUTSIDE,
    Key::quantity("bore_mm", Range::at_least(0.0).to(1e5), "its bore (not used here)"),
    Key::number("length_mm", Range::over(0.0).to(1e5), "its length (not used here)"),
    part::ALLOY,
    part::DENSITY,
    part::CP,
    part::K,
    part::ALPHA,
    part::E,
    part::NU,
    part::YIELD,
    Key::quantity("T_C", Range::within(-196.0, 300.0), "its temperature before anything is done").default("20"),
];

/// `heating` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "heating",
    help: "time to heat a housing, and whether heat is the way",
    request: &[
        Key::record("housing", HOUSING, "the housing as a ring").needed(),
        Key::word("method", &["still_oven", "fan_oven", "hot_oil", "induction", "custom"], "how it is heated").needed(),
        Key::number("medium_C", BATH_RANGE, "temperature of the oven or the oil; needed but for induction"),
        Key::number("h_W_m2K", Range::within(1e-3, 1e6), "surface coefficient, instead of the method's").default("by the method"),
        Key::word("surfaces", SURFACES, "which surfaces are wet").default("all"),
        Key::number("within_K", Range::over(0.0).to(1000.0), "how near the slowest point comes to the medium").default("5"),
        Key::numbers("at_s", AT_RANGE, "times at which the field is wanted").default("[]"),
        Key::number("power_kW", Range::over(0.0).to(1e5), "absorbed power; needed for induction"),
        Key::number("target_C", Range::within(-200.0, 1000.0), "temperature in the end; needed for induction"),
        Key::record("bush", BUSH, "the bush that goes in, for what is needed and the advice"),
        Key::number("hand_clearance_mm", Range::at_least(0.0).to(100.0), "gap to go in by hand").default("0.02 + 0.0003 D"),
        Key::number("temper_C", Range::within(0.0, 1000.0), "tempering temperature of the housing"),
        Key::number("limit_C", Range::within(-50.0, 1000.0), "hottest that it may get"),
        Key::text("limit_what", "what that limit is for").default("limit"),
        Key::number("oil_flash_C", Range::within(0.0, 1000.0), "flash point of the oil; needed for hot_oil"),
    ],
    answer: &[
        Told {
            path: "time_s",
            help: "until the slowest point is within within_K, or the target is reached; null when h is next to nothing",
        },
        Told { path: "time_low_s", help: "at the high end of h; null where h was given and for induction" },
        Told { path: "time_high_s", help: "at the low end of h; null where h was given and for induction" },
        Told { path: "slowest_C", help: "then: the point farthest from the medium; null for induction" },
        Told { path: "mean_C", help: "then: mean of the body" },
        Told { path: "bore_mm", help: "then: bore at mid-length" },
        Told { path: "growth_um", help: "then: how much larger than at 20 °C" },
        Told { path: "energy_kJ", help: "heat taken up; negative when it cools" },
        Told { path: "lag_K", help: "induction: outside over bore; null otherwise" },
        Told { path: "numeric_u_s", help: "by how much time_s changed when the terms were halved" },
        Told { path: "at", help: "per time asked for: t_s, slowest_C, mean_C, outside_C, inside_C, bore_mm" },
        Told { path: "needed_C", help: "housing with the bush as it is; null without bush" },
        Told { path: "needed_bush_C", help: "bush with the housing as it is; null when colder than nitrogen" },
        Told { path: "needed_both_C", help: "housing with the bush from nitrogen; null without bush" },
        Told { path: "advice", help: "as_it_is, dry_ice, heat, nitrogen, both or none; null without bush" },
    ],
    example: r#"{"housing": {"outside_mm": 400, "bore_mm": 240, "length_mm": 200, "metal": "GE240"}, "method": "fan_oven", "medium_C": 160,
        "bush": {"outside_mm": 240.13, "alloy": "CC493K", "T_C": 20}, "limit_C": 100, "limit_what": "paint"}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = heating(&request);
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<HeatingRequest, Refused> {
    let housing = given.need_record("housing")?;
    let (ring, properties) = (part::ring(&housing)?, Properties::read(&housing)?);
    let metal =
        Metal { density: properties.density(&housing)?, cp: properties.cp(&housing)?, k: properties.k(&housing)?, low_temperature: false };
    let start_C = housing.number_or("start_C", 20.0);
    let at_s = given.numbers("at_s");
    let method = method(given, &ring, metal, start_C, &at_s)?;
    Ok(HeatingRequest {
        ring,
        metal,
        alpha_per_K: properties.alpha(&housing)?.value,
        start_C,
        method,
        oil_flash_C: given.number("oil_flash_C").filter(|_| given.word("method") == Some("hot_oil")),
        at_s,
        bush: given.record("bush").map(|bush| entering(given, &bush, &housing)).transpose()?,
        temper_C: given.number("temper_C"),
        limit_C: given.number("limit_C"),
        limit_what: given.word_or("limit_what", "limit").to_owned(),
    })
}

fn method(given: &Given, ring: &Ring, metal: Metal, start: f64, at: &[f64]) -> Result<Method, Refused> {
    let name = given.need_word("method")?;
    if name == "induction" {
        let (power, target) = (1e3 * given.need_number("power_kW")?, given.need_number("target_C")?);
        if target <= start {
            return Err(given.refuse(
                "target_C",
                format!("over the housing's own temperature, {start} °C"),
                "give the temperature that is wanted in the end",
            ));
        }
        return Ok(Method::Induction { power, target });
    }
    let bath = given.need_number("medium_C")?;
    if name == "hot_oil" {
        let flash = given.need_number("oil_flash_C")?;
        if bath >= flash {
            return Err(given.refuse(
                "medium_C",
                format!("under the flash point of the oil, {flash} °C"),
                "take another oil, or less heat",
            ));
        }
    }
    let (exchange, range) = match (given.number("h_W_m2K"), METHODS.iter().find(|(known, _)| *known == name)) {
        (Some(h), _) => (Exchange::Constant(h), None),
        (None, Some((_, [low, h, high]))) => (Exchange::Constant(*h), Some((Exchange::Constant(*low), Exchange::Constant(*high)))),
        (None, None) => {
            return Err(given.refuse("h_W_m2K", "a surface coefficient of 0.001 to 1000000 W/(m² K)", "give h with the method custom"));
        }
    };
    let within = within(given, 5.0, start, bath)?;
    let task = Task { ring: *ring, wet: wet(given, ring), metal, exchange, start, bath, within, at: at.to_vec() };
    Ok(Method::Medium(task, range))
}

fn entering(given: &Given, bush: &Given, housing: &Given) -> Result<Entering, Refused> {
    let outside_mm = bush.need_number("outside_mm")?;
    if housing.need_number("outside_mm")? <= outside_mm {
        return Err(housing.refuse("outside_mm", format!("over the bush's outside, {outside_mm}"), "give the housing's own outside"));
    }
    let properties = Properties::read(bush)?;
    Ok(Entering {
        outside_mm,
        alpha_per_K: properties.alpha(bush)?.value,
        T_C: bush.number_or("T_C", 20.0),
        part: properties.as_part(Part::Bronze),
        hand_mm: given.number("hand_clearance_mm").unwrap_or_else(|| chill::hand_clearance_mm(outside_mm)),
    })
}

fn explain(request: &HeatingRequest, answer: &HeatingAnswer, working: &mut Working) {
    let time = answer.time_s.unwrap_or(f64::NAN);
    match &request.method {
        Method::Medium(task, _) => {
            let with = [("start C", task.start), ("medium C", task.bath), ("within K", task.within)];
            let gives = [("time s", time), ("change when the terms are halved s", answer.numeric_u_s)];
            working.step(
                "transient",
                "theta = R(r, t) Z(z, t)",
                &with,
                &gives,
                "Carslaw and Jaeger 1959 ch. VI, VII; product rule, Incropera ch. 5",
            );
        }
        Method::Induction { power, target } => {
            let with = [("P W", *power), ("target C", *target), ("m c J/K", request.capacity())];
            let gives = [("time s", time), ("lag K", answer.lag_K.unwrap_or(f64::NAN))];
            working.step("induction", "t = m c (target - start)/P", &with, &gives, "heat balance; Carslaw and Jaeger 7.8");
        }
    }
    let with = [("alpha 1/K", request.alpha_per_K), ("bore mm", request.bore_mm())];
    working.step("growth", "alpha x bore x (section mean - 20)", &with, &[("growth um", answer.growth_um)], "thermal expansion");
    if let Some(needed_C) = answer.needed_C {
        let formula = "20 + [(bush OD at bush_C + hand)/bore - 1]/alpha_h";
        working.step("housing that is needed", formula, &with, &[("needed C", needed_C)], "thermal expansion");
    }
}
