//! How many seconds a chilled bush gives: until its gap is only the hand clearance, until it touches, until it grips in the hole.
//!
//! The bush is at one temperature throughout and warms in air by convection, radiation and frost; the housing stays as warm as it is.
//! It leaves the bath to `cooling`; the film of air is in [`air`]. Frost must be wiped off the outside, wind or gloved hands can double h.

pub mod air;

use serde::Serialize;
use serde_json::Value;

use self::air::{Air, k_air, radiation};
use super::chill::{self, Part};
use super::part::{self, Properties};
use crate::compute::{Desk, Kind, told};
use crate::draws::Stream;
use crate::keys::{Given, Key, Range, Told, joined};
use crate::math::{acos, atan2, exp};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::solve::heat::lumped::{Way, integral};
use crate::solve::heat::matter::Metal;
use crate::solve::heat::mesh::{Ring, Wet};
use crate::working::Working;

/// Largest conductance of the gap, W/(m² K): metal that all but touches. Source: project's choice.
const MOST_GAP: f64 = 3000.0;
/// Pieces of the quadratures; halving them moves a time by under 1e-5 of it.
const PIECES: usize = 480;
/// Points of the curve.
const POINTS: usize = 25;
/// One temperature throughout is good while Bi is under this.
const LUMPED_BIOT: f64 = 0.05;
/// Share of the largest tilt that is asked for. *Common practice*.
const SQUARE_SHARE: f64 = 1.0 / 3.0;
/// A bush shorter than this share of its outside jams by itself when dry (friction, drawer rule). *Common practice*.
const DRAWER: f64 = 0.2;
/// Colder than this, the cautions of nitrogen hold; colder than that, those of dry ice, °C.
const NITROGEN_COLD_C: f64 = -100.0;
const DRY_ICE_COLD_C: f64 = -50.0;

const HANDLING: &str = "Loose dry insulating gloves and eye protection; tongs or a mandrel ready, the way to the hole tried with the bush warm. \
     Wipe the frost off the outside: it takes up the gap. Wind or gloved hands can let the heat in twice as fast and halve the time. Local codes come first.";

/// A cold bush on its way to a hole.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowRequest {
    /// The bush, m.
    pub ring: Ring,
    /// Its metal: density, specific heat with the cold.
    pub metal: Metal,
    /// Its conductivity at 20 °C, for the Biot number.
    pub k: Option<f64>,
    /// Outside at 20 °C, mm.
    pub outside_mm: Quantity,
    /// Expansion of the bush, per K.
    pub alpha_per_K: Quantity,
    /// Its temperature as it leaves the bath, °C.
    pub start_C: Quantity,
    /// What contracts.
    pub part: Part,
    /// Bore of the housing at 20 °C, mm.
    pub bore_mm: Quantity,
    /// Its expansion, per K.
    pub housing_alpha_per_K: f64,
    /// Its temperature, °C.
    pub housing_C: Quantity,
    /// Half of both ovals, mm: taken from the gap.
    pub ovals_mm: f64,
    /// Gap to go in by hand, mm.
    pub hand_mm: f64,
    /// The air.
    pub air: Air,
    /// Relative doubt of what the air brings.
    pub h_u_rel: f64,
    /// When the bush enters, s.
    pub entry_s: Option<f64>,
    /// Draws.
    pub draws: u64,
    /// What they start from.
    pub seed: u64,
}

/// A point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// When, s.
    pub t_s: f64,
    /// Gap on the diameter, mm.
    pub clearance_mm: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WindowAnswer {
    /// Gap on the diameter as it leaves the bath.
    pub clearance_start_mm: f64,
    /// Until the gap is the hand clearance; null when it never gets so small.
    pub seconds_to_hand: Option<f64>,
    /// 2.5 % of the draws are shorter.
    pub seconds_to_hand_low: Option<f64>,
    /// 2.5 % of the draws are longer.
    pub seconds_to_hand_high: Option<f64>,
    /// Until there is no gap.
    pub seconds_to_touch: Option<f64>,
    /// The bush then, at the hand clearance.
    pub bush_at_hand_C: Option<f64>,
    /// The bush at entry.
    pub entry_bush_C: Option<f64>,
    /// The gap at entry.
    pub entry_clearance_mm: Option<f64>,
    /// From entry until it grips.
    pub seconds_to_grip_in_hole: Option<f64>,
    /// Share of the draws that still have hand clearance at entry.
    pub chance_hand_at_entry: Option<f64>,
    /// Largest tilt at full depth.
    pub tilt_max_deg: Option<f64>,
    /// Gap over time.
    pub curve: Vec<Point>,
    /// Cautions first.
    pub warnings: Vec<String>,
}

/// What may be drawn: one bush, one hole, one air.
#[derive(Clone, Copy, Debug)]
struct Chance {
    outside_mm: f64,
    alpha_per_K: f64,
    start_C: f64,
    bore_mm: f64,
    housing_C: f64,
    factor: f64,
}

impl WindowRequest {
    fn best(&self) -> Chance {
        Chance {
            outside_mm: self.outside_mm.value,
            alpha_per_K: self.alpha_per_K.value,
            start_C: self.start_C.value,
            bore_mm: self.bore_mm.value,
            housing_C: self.housing_C.value,
            factor: 1.0,
        }
    }

    fn hot_bore_mm(&self, chance: &Chance) -> f64 {
        chance.bore_mm * (1.0 + self.housing_alpha_per_K * (chance.housing_C - 20.0))
    }

    /// c = bore (1 + α_h (T_h − 20)) − D (1 − α S(T)) − half of both ovals.
    fn clearance_mm(&self, chance: &Chance, T: f64) -> f64 {
        let bush = chance.outside_mm * (1.0 - chance.alpha_per_K * chill::equivalent_fall_K(T, self.part));
        self.hot_bore_mm(chance) - bush - self.ovals_mm
    }

    /// Temperature of the bush at which the gap is `clearance`; none when that is colder than nitrogen.
    fn temperature(&self, chance: &Chance, clearance: f64) -> Option<f64> {
        let bush = self.hot_bore_mm(chance) - self.ovals_mm - clearance;
        chill::temperature_of_fall((1.0 - bush / chance.outside_mm) / chance.alpha_per_K, self.part)
    }

    fn capacity(&self, T: f64) -> f64 {
        self.metal.density * self.ring.volume() * self.metal.cp_at(T)
    }

    fn area(&self) -> f64 {
        self.ring.wet_area(Wet { bore: true, ends: true })
    }

    /// The whole way of the bush in air from `start`; none when it is as warm as the air.
    fn way(&self, start: f64) -> Option<Way> {
        let T_a = self.air.T_C;
        ((start - T_a).abs() > 1e-6).then(|| {
            let film = self.air.over(self.ring.outside);
            Way::new(start, T_a, PIECES, |T| self.capacity(T), |T| -self.area() * film.flux(T))
        })
    }

    /// Seconds in air until the gap is `clearance`: 0 when it already is no more, endless when it never gets so small.
    fn seconds(&self, chance: &Chance, way: Option<&Way>, clearance: f64) -> f64 {
        if self.clearance_mm(chance, chance.start_C) <= clearance {
            return 0.0;
        }
        let Some(way) = way.filter(|_| chance.start_C < self.air.T_C) else { return f64::INFINITY };
        // Colder than nitrogen is no more than the start.
        self.temperature(chance, clearance).map_or(0.0, |T| ((way.time(T) - way.time(chance.start_C)) / chance.factor).max(0.0))
    }
}

/// Seconds, gaps and their doubt for a bush on its way from the bath.
///
/// m c(T) dT/dt = A q_air(T), one temperature throughout (Bi < 0.05 in air). In the hole the outside gets h_gap (T_h − T),
/// h_gap = min(k_air/(c/2), 3000) + h_r, concentric: lying on one side it is sooner. Source: heat balance; the film of air in [`air`].
pub fn window(request: &WindowRequest) -> WindowAnswer {
    let best = request.best();
    let way = request.way(best.start_C);
    let seconds = |clearance: f64| request.seconds(&best, way.as_ref(), clearance);
    let (to_hand, to_touch) = (seconds(request.hand_mm), seconds(0.0));
    let finite = |seconds: f64| seconds.is_finite().then_some(seconds);
    let after = |t: f64| way.as_ref().map_or(best.start_C, |way| way.temperature(t));
    let at_entry = request.entry_s.map(after);
    let gap_at_entry = at_entry.map(|T| request.clearance_mm(&best, T));
    let drawn = drawn(request);
    let mut answer = WindowAnswer {
        clearance_start_mm: request.clearance_mm(&best, best.start_C),
        seconds_to_hand: finite(to_hand),
        seconds_to_hand_low: finite(drawn.0),
        seconds_to_hand_high: finite(drawn.1),
        seconds_to_touch: finite(to_touch),
        bush_at_hand_C: finite(to_hand).map(after),
        entry_bush_C: at_entry,
        entry_clearance_mm: gap_at_entry,
        seconds_to_grip_in_hole: at_entry.and_then(|T| to_grip(request, &best, T)),
        chance_hand_at_entry: drawn.2,
        tilt_max_deg: tilt_deg(request, &best, at_entry.unwrap_or(best.start_C)),
        curve: curve(request, &best, &after, to_touch, way.as_ref()),
        warnings: Vec::new(),
    };
    answer.warnings = warnings(request, &answer);
    answer
}

/// From entry until c = 0; none when it gets as warm as its surroundings before.
fn to_grip(request: &WindowRequest, best: &Chance, entry: f64) -> Option<f64> {
    if request.clearance_mm(best, entry) <= 0.0 {
        return Some(0.0);
    }
    let touch = request.temperature(best, 0.0).filter(|touch| *touch > entry)?;
    let side = crate::math::PI * request.ring.outside * request.ring.length;
    let film = request.air.over(request.ring.outside);
    let power = |T: f64| {
        let gap = request.clearance_mm(best, T).max(1e-9) * 1e-3;
        let conduction = (k_air((T + best.housing_C) / 2.0) / (gap / 2.0)).min(MOST_GAP);
        let h = conduction + radiation(request.air.emissivity, T, best.housing_C);
        side * h * (best.housing_C - T) + (request.area() - side) * film.flux(T)
    };
    // It must be warmed all the way; where the power ends, it stays.
    let ends = (0..=PIECES).all(|i| power(entry + (touch - entry) * i as f64 / PIECES as f64) > 0.0);
    ends.then(|| integral(entry, touch, PIECES, |T| request.capacity(T) / power(T)))
}

/// Ends of the middle 95 % of seconds_to_hand, and the share that reaches entry.
fn drawn(request: &WindowRequest) -> (f64, f64, Option<f64>) {
    let best = request.best();
    let stream = |name: &str| Stream::new(request.seed, name);
    let streams = ["bush/outside_mm", "bush/alpha_per_K", "bush/start_C", "housing/bore_mm", "housing/T_C", "h_air"].map(stream);
    let inputs = [request.outside_mm, request.alpha_per_K, request.start_C, request.bore_mm, request.housing_C];
    let factor = Quantity::with_u(0.0, request.h_u_rel);
    // With nothing in doubt, one draw is all of them.
    let draws = if inputs.iter().chain([&factor]).all(|input| input.u == 0.0) { 1 } else { request.draws };
    let chances = (0..draws).map(|i| Chance {
        outside_mm: streams[0].of(&inputs[0], i),
        alpha_per_K: streams[1].of(&inputs[1], i).max(1e-9),
        start_C: streams[2].of(&inputs[2], i).max(-196.0),
        bore_mm: streams[3].of(&inputs[3], i),
        housing_C: streams[4].of(&inputs[4], i),
        factor: exp(streams[5].of(&factor, i)),
    });
    // One way for all: the film hardly knows a diameter that is some micrometres off, and time adds up along it.
    let way = request.way(best.start_C.min(request.air.T_C - 1.0));
    let mut seconds: Vec<f64> = chances.map(|chance| request.seconds(&chance, way.as_ref(), request.hand_mm)).collect();
    seconds.sort_by(f64::total_cmp);
    let place = |share: f64| seconds[((share * draws as f64) as usize).min(seconds.len() - 1)];
    let chance = request.entry_s.map(|entry| seconds.iter().filter(|seconds| **seconds >= entry).count() as f64 / draws as f64);
    (place(0.025), place(0.975), chance)
}

/// Largest tilt at full depth: bore = d cos f + L sin f, smallest f ≥ 0; 0 without a gap, none where the bush could turn freely.
fn tilt_deg(request: &WindowRequest, best: &Chance, T: f64) -> Option<f64> {
    let (bore, gap, length) = (request.hot_bore_mm(best), request.clearance_mm(best, T), 1e3 * request.ring.length);
    if gap <= 0.0 {
        return Some(0.0);
    }
    let d = bore - gap;
    let diagonal = crate::math::hypot(d, length);
    (bore < diagonal).then(|| (atan2(length, d) - acos(bore / diagonal)).max(0.0) * 180.0 / crate::math::PI)
}

fn curve(request: &WindowRequest, best: &Chance, after: &dyn Fn(f64) -> f64, to_touch: f64, way: Option<&Way>) -> Vec<Point> {
    let nearly = way.map_or(0.0, |way| way.time(best.start_C + 0.95 * (request.air.T_C - best.start_C)));
    let end = if to_touch.is_finite() { to_touch } else { nearly };
    let points = if end > 0.0 { POINTS } else { 1 };
    let each = (0..points).map(|i| {
        let t_s = end * i as f64 / (POINTS - 1) as f64;
        Point { t_s, clearance_mm: request.clearance_mm(best, after(t_s)) }
    });
    each.collect()
}

fn warnings(request: &WindowRequest, answer: &WindowAnswer) -> Vec<String> {
    let mut said: Vec<String> = vec![HANDLING.into()];
    let start = request.start_C.value;
    if start < NITROGEN_COLD_C {
        said.extend(chill::NITROGEN_CAUTIONS.map(str::to_owned));
        said.push(chill::COLD_HOUSING_CAUTION.into());
    } else if start < DRY_ICE_COLD_C {
        said.extend(chill::DRY_ICE_CAUTIONS.map(str::to_owned));
    }
    if request.part == Part::GreyIron && start < NITROGEN_COLD_C {
        said.push(chill::BRITTLE_CAUTION.into());
    }
    if request.housing_C.value > 50.0 {
        said.push(chill::HEAT_CAUTIONS[0].into());
    }
    if request.outside_mm.value <= request.bore_mm.value {
        said.push("There is no interference: at 20 °C the bush is no larger than its hole.".into());
    }
    if answer.clearance_start_mm <= request.hand_mm {
        said.push(format!(
            "It never reaches hand clearance: {:.3} mm at the start, {:.3} mm wanted; colder, or a warmer housing, or press it.",
            answer.clearance_start_mm, request.hand_mm
        ));
    }
    if let Some(chance) = answer.chance_hand_at_entry.filter(|chance| *chance < 0.95) {
        said.push(format!(
            "Only {:.0} of 100 still have hand clearance at entry: be quicker, or colder, or warm the housing.",
            100.0 * chance
        ));
    }
    if let Some(tilt) = answer.tilt_max_deg.filter(|tilt| *tilt > 0.0) {
        said.push(format!("Keep it square to {:.3}° (a third of the largest tilt).", tilt * SQUARE_SHARE));
    }
    if request.ring.length < DRAWER * request.ring.outside {
        said.push("The bush is shorter than friction times its outside: it jams by itself when it tilts; guide it on a mandrel.".into());
    }
    let fall = request.air.T_C - start;
    let h = if fall.abs() > 1e-6 { request.air.over(request.ring.outside).flux(start) / fall } else { 0.0 };
    let biot = request.k.map(|k| h * request.ring.depth(Wet { bore: true, ends: true }) / k);
    if let Some(biot) = biot.filter(|biot| *biot > LUMPED_BIOT) {
        said.push(format!(
            "Biot number {biot:.2}: the bush is not at one temperature throughout, and its outside warms sooner than told here."
        ));
    }
    said
}

const BUSH: [Key; 13] = joined(
    &part::BUSH,
    &[
        Key::quantity("start_C", Range::within(-196.0, 300.0), "its temperature as it leaves the bath").needed(),
        Key::number("out_of_round_um", Range::at_least(0.0).to(1e4), "largest less smallest outside diameter").default("0"),
    ],
);
const HOUSING: &[Key] = &[
    Key::quantity("outside_mm", Range::over(0.0).to(1e5), "its outside (not used here)"),
    part::HOUSING_BORE,
    Key::number("length_mm", Range::over(0.0).to(1e5), "its length (not used here)"),
    part::METAL,
    part::DENSITY,
    part::CP,
    part::K,
    part::ALPHA,
    part::E,
    part::NU,
    part::YIELD,
    Key::quantity("T_C", Range::within(-196.0, 500.0), "its temperature, which stays").default("20"),
    Key::number("out_of_round_um", Range::at_least(0.0).to(1e4), "largest less smallest bore diameter").default("0"),
];

/// `window` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "window",
    help: "seconds until a chilled bush touches its hole",
    request: &[
        Key::record("bush", &BUSH, "the bush, or a pin with bore_mm 0").needed(),
        Key::record("housing", HOUSING, "the housing").needed(),
        Key::number("air_C", Range::within(-60.0, 100.0), "temperature of the air").default("20"),
        Key::number("hand_clearance_mm", Range::at_least(0.0).to(100.0), "gap to go in by hand").default("0.02 + 0.0003 D"),
        Key::number("h_air_W_m2K", Range::within(0.01, 1e4), "what the air brings, instead of its film").default("by the film"),
        Key::number("humidity_pct", Range::within(0.0, 100.0), "relative humidity of the air").default("50"),
        Key::number("emissivity", Range::within(0.0, 1.0), "of the bush; frost near 0.9").default("0.6"),
        Key::number("h_air_u_rel", Range::within(0.0, 3.0), "relative doubt of what the air brings").default("0.25"),
        Key::number("entry_s", Range::at_least(0.0).to(1e7), "when the bush enters the hole"),
        Key::whole("draws", Range::within(100.0, 200_000.0), "draws of the Monte Carlo").default("2000"),
        Key::whole("seed", Range::at_least(0.0), "what the draws start from").default("1"),
    ],
    answer: &[
        Told { path: "clearance_start_mm", help: "gap on the diameter as it leaves the bath" },
        Told { path: "seconds_to_hand", help: "until the gap is the hand clearance; 0 when it never was, null when it stays looser" },
        Told { path: "seconds_to_hand_low", help: "2.5 % of the draws are shorter; null when endless" },
        Told { path: "seconds_to_hand_high", help: "2.5 % of the draws are longer; null when endless" },
        Told { path: "seconds_to_touch", help: "until there is no gap; null when it stays loose" },
        Told { path: "bush_at_hand_C", help: "the bush then; null with seconds_to_hand" },
        Told { path: "entry_bush_C", help: "the bush at entry; null without entry_s" },
        Told { path: "entry_clearance_mm", help: "the gap at entry; null without entry_s" },
        Told {
            path: "seconds_to_grip_in_hole",
            help: "from entry until it grips, concentric; null without entry_s or when it stays loose",
        },
        Told { path: "chance_hand_at_entry", help: "share of the draws with hand clearance at entry; null without entry_s" },
        Told { path: "tilt_max_deg", help: "largest tilt at full depth, at entry or at the start; null where it could turn freely" },
        Told { path: "curve", help: "t_s and clearance_mm until it touches" },
    ],
    example: r#"{"bush": {"outside_mm": {"value": 240.13, "u": 0.005}, "bore_mm": 200, "length_mm": 150, "alloy": "CC493K",
        "alpha_per_K": {"value": 1.8e-5, "u": 9e-7}, "start_C": {"value": -190, "u": 3}}, "housing": {"bore_mm": {"value": 240, "u": 0.005},
        "metal": "GE240", "T_C": {"value": 20, "u": 1}}, "entry_s": 40}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = window(&request);
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<WindowRequest, Refused> {
    let (bush, housing) = (given.need_record("bush")?, given.need_record("housing")?);
    let (ring, properties) = (part::ring(&bush)?, Properties::read(&bush)?);
    let outside_mm = bush.need_quantity("outside_mm")?;
    let oval = |part: &Given| part.number_or("out_of_round_um", 0.0) * 1e-3;
    let (density, cp) = (properties.density(&bush)?, properties.cp(&bush)?);
    Ok(WindowRequest {
        ring,
        metal: Metal { density, cp, k: properties.k_if_known().unwrap_or(1.0), low_temperature: true },
        k: properties.k_if_known(),
        outside_mm,
        alpha_per_K: properties.alpha(&bush)?,
        start_C: bush.need_quantity("start_C")?,
        part: properties.as_part(Part::Bronze),
        bore_mm: housing.need_quantity("bore_mm")?,
        housing_alpha_per_K: Properties::read(&housing)?.alpha(&housing)?.value,
        housing_C: housing.quantity_or("T_C", 20.0),
        ovals_mm: (oval(&bush) + oval(&housing)) / 2.0,
        hand_mm: given.number("hand_clearance_mm").unwrap_or_else(|| chill::hand_clearance_mm(outside_mm.value)),
        air: Air {
            T_C: given.number_or("air_C", 20.0),
            h: given.number("h_air_W_m2K"),
            humidity: given.number_or("humidity_pct", 50.0) / 100.0,
            emissivity: given.number_or("emissivity", 0.6),
        },
        h_u_rel: given.number_or("h_air_u_rel", 0.25),
        entry_s: given.number("entry_s"),
        draws: given.whole_or("draws", 2000),
        seed: given.whole_or("seed", 1),
    })
}

fn explain(request: &WindowRequest, answer: &WindowAnswer, working: &mut Working) {
    let best = request.best();
    let with = [("bore hot mm", request.hot_bore_mm(&best)), ("start C", best.start_C), ("alpha 1/K", best.alpha_per_K)];
    let gives = [("clearance mm", answer.clearance_start_mm)];
    working.step(
        "gap",
        "bore (1 + alpha_h (T_h - 20)) - D (1 - alpha S(T)) - half of both ovals",
        &with,
        &gives,
        "S fitted to copper, Ekin 2006 (memory)",
    );
    let with = [("m c J/K", request.capacity(best.start_C)), ("A m2", request.area()), ("air C", request.air.T_C)];
    let gives = [("to hand s", answer.seconds_to_hand.unwrap_or(f64::NAN)), ("to touch s", answer.seconds_to_touch.unwrap_or(f64::NAN))];
    working.step(
        "seconds",
        "t = integral of m c dT/(A q_air), Gauss over 480 pieces",
        &with,
        &gives,
        "heat balance; Churchill and Chu 1975, Lewis",
    );
}
