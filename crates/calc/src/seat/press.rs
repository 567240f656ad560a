//! The force to press a bush in, over its travel: what to expect, when to stop and look, and what the readings say while it goes.
//!
//! Elastic rings; the elastic energy stored (under 1 %) is left out; a fit that yields presses lighter than this says (see `fit`).
//! The cautions stand above the figures: parts and tools under a press fly.

mod live;

use serde::Serialize;
use serde_json::Value;

use crate::alloy::table;
use crate::compute::{Desk, Kind, told};
use crate::fit::lame;
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, sq};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::working::Working;

pub use live::{Live, Status};

/// A lubrication and its friction while seating, low and high.
///
/// Source: memory; DIN 7190-1 gives .06 to .07 for a CuPb10Sn bush pressed dry, handbooks .10 to .20 dry.
const FRICTION: [(&str, f64, f64); 4] =
    [("dry", 0.07, 0.20), ("oil", 0.04, 0.12), ("grease", 0.05, 0.12), ("molybdenum_paste", 0.03, 0.08)];
/// A press is made ready for so many times the highest final force. *Common practice*.
const PRESS_READY: f64 = 1.5;
/// Share of Rp0.2 that the axial stress may reach. *Common practice*.
const AXIAL_USE: f64 = 0.5;

/// A reading at the press.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressReading {
    /// Travel from first touch, mm.
    pub travel_mm: f64,
    /// Force, kN.
    pub force_kN: f64,
}

/// A bush, its housing and the press.
#[derive(Clone, Debug, PartialEq)]
pub struct PressRequest {
    /// Bush outside = joint diameter, mm.
    pub outside_mm: f64,
    /// Bush bore, mm.
    pub bore_mm: f64,
    /// Length of the cylinder without the lead, mm.
    pub length_mm: f64,
    /// Bush modulus, GPa.
    pub E_bush_GPa: f64,
    /// Bush Poisson ratio.
    pub nu_bush: f64,
    /// Bush Rp0.2, MPa.
    pub yield_MPa: Option<f64>,
    /// Equivalent outside of the housing, mm.
    pub housing_outside_mm: f64,
    /// Housing modulus, GPa.
    pub E_housing_GPa: f64,
    /// Housing Poisson ratio.
    pub nu_housing: f64,
    /// Effective interference on the diameter, µm.
    pub interference_um: Quantity,
    /// Friction while seating, low.
    pub mu_low: f64,
    /// Friction while seating, high.
    pub mu_high: f64,
    /// Length of the lead, mm.
    pub lead_mm: f64,
    /// Interference at the trailing end less that at the leading end, µm.
    pub taper_um: f64,
    /// Barrel of the interference, µm.
    pub barrel_um: f64,
    /// Travels at which the force is wanted, mm.
    pub travel_mm: Vec<f64>,
    /// Stop at so many times the highest force.
    pub stop_factor: f64,
    /// Readings so far.
    pub readings: Vec<PressReading>,
    /// Relative uncertainty of the force gauge.
    pub gauge_rel: f64,
    /// Least uncertainty of the force gauge, kN.
    pub gauge_floor_kN: f64,
    /// Relative doubt of the model.
    pub model_rel: f64,
    /// Holding force over final force.
    pub hold_ratio: Quantity,
    /// The press at hand, kN.
    pub press_have_kN: Option<f64>,
}

/// Force at one travel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ForceAt {
    /// Travel, mm.
    pub travel_mm: f64,
    /// With the low friction and the interference less 2u, kN.
    pub low_kN: f64,
    /// With the mean friction, kN.
    pub mid_kN: f64,
    /// With the high friction and the interference plus 2u, kN.
    pub high_kN: f64,
    /// Stop here and look, kN.
    pub stop_kN: f64,
}

/// Force at the end of the travel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Final {
    /// Least, kN.
    pub low: f64,
    /// Expected, kN.
    pub mid: f64,
    /// Most, kN.
    pub high: f64,
}

/// What to expect at the press.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PressAnswer {
    /// Mean pressure in the joint, MPa.
    pub pressure_MPa: f64,
    /// Force at each travel asked for.
    pub force: Vec<ForceAt>,
    /// Force at the end.
    pub final_kN: Final,
    /// Press to have ready, kN.
    pub press_kN: f64,
    /// Axial stress in the bush at the highest final force, MPa.
    pub axial_stress_MPa: f64,
    /// What the readings say; null without readings.
    pub live: Option<Live>,
    /// Cautions first, then warnings.
    pub warnings: Vec<String>,
}

/// Cautions that stand above every plan that presses. Source: *common practice*; local codes come first.
pub const CAUTIONS: [&str; 4] = [
    "Never hammer bronze: it chips and the pieces fly. Guard the line of force and stand clear, with eye protection.",
    "A press holds stored energy in frame and part: release slowly.",
    "Push through a thrust plate on the flange or the full end face, mandrel in the bore; back up the housing near the hole.",
    "At the stop force, stop, back off, and look for tilt, burr or dirt. Local codes and licensed practice come first.",
];

impl PressRequest {
    /// Compliance C of the joint, 1/MPa: p = δ/(D C). Source: Lamé.
    fn compliance(&self) -> f64 {
        let Q = lame::ratio(self.bore_mm, self.outside_mm);
        let q = lame::ratio(self.outside_mm, self.housing_outside_mm);
        lame::bush_compliance(Q, self.E_bush_GPa * 1e3, self.nu_bush)
            + lame::housing_compliance(q, self.E_housing_GPa * 1e3, self.nu_housing)
    }

    /// Force per unit friction at a travel, kN, with `shift_um` added to the interference: (π/C) ∫ δ ds over the engaged length.
    fn per_friction_kN(&self, travel_mm: f64, shift_um: f64) -> f64 {
        let z = (travel_mm - self.lead_mm).clamp(0.0, self.length_mm);
        let mean = self.interference_um.value + shift_um;
        // delta(u) = a + b u + c u², u = s/L.
        let (a, b, c) =
            (mean - self.taper_um / 2.0 - self.barrel_um * 2.0 / 3.0, self.taper_um + 4.0 * self.barrel_um, -4.0 * self.barrel_um);
        PI / self.compliance() * positive_area(a, b, c, z / self.length_mm) * self.length_mm * 1e-6
    }

    fn at(&self, travel_mm: f64) -> ForceAt {
        let two_u = 2.0 * self.interference_um.u;
        let high_kN = self.mu_high * self.per_friction_kN(travel_mm, two_u);
        ForceAt {
            travel_mm,
            low_kN: self.mu_low * self.per_friction_kN(travel_mm, -two_u),
            mid_kN: self.mu_mid() * self.per_friction_kN(travel_mm, 0.0),
            high_kN,
            stop_kN: self.stop_factor * high_kN,
        }
    }

    fn mu_mid(&self) -> f64 {
        (self.mu_low + self.mu_high) / 2.0
    }
}

/// Integral of max(0, a + b u + c u²) over 0..end, exact between the roots.
fn positive_area(a: f64, b: f64, c: f64, end: f64) -> f64 {
    let mut cuts = vec![0.0];
    let mut roots = if c.abs() < 1e-300 {
        if b == 0.0 { Vec::new() } else { vec![-a / b] }
    } else {
        let under = b * b - 4.0 * a * c;
        if under > 0.0 {
            // The root that does not cancel, and the other from the product.
            let q = -0.5 * (b + under.sqrt().copysign(b));
            vec![q / c, if q == 0.0 { 0.0 } else { a / q }]
        } else {
            Vec::new()
        }
    };
    roots.sort_by(f64::total_cmp);
    cuts.extend(roots.into_iter().filter(|root| *root > 0.0 && *root < end));
    cuts.push(end);
    let whole = |u: f64| u * (a + u * (b / 2.0 + u * c / 3.0));
    let pieces = cuts.windows(2).map(|pair| {
        let middle = (pair[0] + pair[1]) / 2.0;
        if a + middle * (b + middle * c) > 0.0 { whole(pair[1]) - whole(pair[0]) } else { 0.0 }
    });
    pieces.sum()
}

/// Force over travel, press to have ready, and what the readings say.
///
/// F(travel) = µ (π/C) ∫ δ ds over the engaged length; low with µ low and δ − 2u, high with µ high and δ + 2u; δ not under 0.
/// Source: Lamé rings (Timoshenko, Strength of Materials II); friction times pressure times area; one scale updated by Bayes' rule.
pub fn press(request: &PressRequest) -> PressAnswer {
    let last = request.at(request.lead_mm + request.length_mm);
    let section_mm2 = PI / 4.0 * (sq(request.outside_mm) - sq(request.bore_mm));
    let mut answer = PressAnswer {
        pressure_MPa: lame::joint_pressure(request.interference_um.value / 1e3, request.outside_mm, request.compliance()),
        force: request.travel_mm.iter().map(|travel| request.at(*travel)).collect(),
        final_kN: Final { low: last.low_kN, mid: last.mid_kN, high: last.high_kN },
        press_kN: PRESS_READY * last.high_kN,
        axial_stress_MPa: last.high_kN * 1e3 / section_mm2,
        live: (!request.readings.is_empty()).then(|| live::live(request)),
        warnings: CAUTIONS.map(str::to_owned).into(),
    };
    warn(request, &mut answer);
    answer
}

fn warn(request: &PressRequest, answer: &mut PressAnswer) {
    let mut warn = |text: String| answer.warnings.push(text);
    if let Some(yield_MPa) = request.yield_MPa {
        let hoop = -lame::bush_hoop_at_bore(answer.pressure_MPa, lame::ratio(request.bore_mm, request.outside_mm));
        if answer.axial_stress_MPa > AXIAL_USE * yield_MPa || hoop > yield_MPa {
            warn(format!(
                "The bush may yield: axial stress up to {:.0} MPa and hoop stress {hoop:.0} MPa against a yield of {yield_MPa:.0} MPa; shrink it in, or take less interference.",
                answer.axial_stress_MPa
            ));
        }
    }
    if request.lead_mm == 0.0 {
        warn("No lead: a sharp or 45° edge ploughs; the metal scraped off is interference lost, the force is high at first and the hold low.".into());
    }
    if let Some(have) = request.press_have_kN.filter(|have| *have < answer.press_kN) {
        warn(format!(
            "The press is too small: {have:.0} kN at hand, {:.0} kN wanted ready; cool the bush or warm the housing instead.",
            answer.press_kN
        ));
    }
    if let Some(live) = &answer.live {
        match live.status {
            Status::Stop => warn(format!("stop: {}; back off, look for tilt, burr or dirt.", live.reasons.join("; "))),
            Status::Low => warn(format!("It will not hold as planned: {}; measure bore and bush again.", live.reasons.join("; "))),
            Status::Normal => {}
        }
        if live.final_kN > answer.final_kN.high {
            warn(format!(
                "It goes tighter than planned: {:.0} kN to be expected at the end, the press was made ready for {:.0} kN.",
                live.final_kN, answer.final_kN.high
            ));
        }
    }
}

const SIZE: Range = Range::over(0.0).to(1e5);
const PART_COMMON: [Key; 7] = [
    Key::number("density_kg_m3", Range::over(0.0).to(1e5), "density (not used here)"),
    Key::number("cp_J_kgK", Range::over(0.0).to(1e5), "specific heat (not used here)"),
    Key::number("k_W_mK", Range::over(0.0).to(1e5), "conductivity (not used here)"),
    Key::number("alpha_per_K", Range::at_least(0.0).to(1e-4), "expansion (not used here)"),
    Key::number("E_GPa", Range::over(0.0).to(2000.0), "modulus; wins over the table"),
    Key::number("nu", Range::over(-1.0).under(0.5), "Poisson ratio; wins over the table"),
    Key::number("yield_MPa", Range::over(0.0).to(1e4), "Rp0.2; wins over the table"),
];
const BUSH: &[Key] = &{
    let [density, cp, k, alpha, E, nu, y] = PART_COMMON;
    [
        Key::number("outside_mm", SIZE, "the joint diameter").needed(),
        Key::number("bore_mm", Range::at_least(0.0).to(1e5), "its bore; 0 for a pin").needed(),
        Key::number("length_mm", SIZE, "its cylinder without the lead").needed(),
        Key::text("alloy", "id of the alloy table"),
        density,
        cp,
        k,
        alpha,
        E,
        nu,
        y,
    ]
};
const HOUSING: &[Key] = &{
    let [density, cp, k, alpha, E, nu, y] = PART_COMMON;
    [
        Key::number("outside_mm", SIZE, "its equivalent outside").needed(),
        Key::number("bore_mm", SIZE, "its bore (not used here)"),
        Key::number("length_mm", SIZE, "its length (not used here)"),
        Key::text("metal", "id of the table of metals"),
        density,
        cp,
        k,
        alpha,
        E,
        nu,
        y,
    ]
};

/// `press` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "press",
    help: "press force over travel, when to stop, and what the readings say",
    request: &[
        Key::record("bush", BUSH, "the bush").needed(),
        Key::record("housing", HOUSING, "the housing").needed(),
        Key::quantity("interference_um", Range::over(0.0).to(1e5), "effective interference at 20 °C").needed(),
        Key::word("lubrication", &["dry", "oil", "grease", "molybdenum_paste"], "what is on the outside; or mu_low and mu_high"),
        Key::number("mu_low", Range::over(0.0).to(2.0), "friction, low").default("by the lubrication"),
        Key::number("mu_high", Range::over(0.0).to(2.0), "friction, high").default("by the lubrication"),
        Key::number("lead_mm", Range::at_least(0.0).to(1e4), "length of the lead").default("0"),
        Key::number("taper_um", Range::within(-1e5, 1e5), "interference of the trailing end less that of the leading end").default("0"),
        Key::number("barrel_um", Range::within(-1e5, 1e5), "barrel of the interference").default("0"),
        Key::numbers("travel_mm", Range::at_least(0.0).to(1e5), "travels at which the force is wanted").default("[]"),
        Key::number("stop_factor", Range::at_least(1.0).to(10.0), "stop at so many times the highest force").default("1.25"),
        Key::records(
            "readings",
            &[
                Key::number("travel_mm", Range::at_least(0.0).to(1e5), "travel from first touch").needed(),
                Key::number("force_kN", Range::at_least(0.0).to(1e6), "force there").needed(),
            ],
            "readings so far, travel rising",
        ),
        Key::number("gauge_rel", Range::over(0.0).to(1.0), "relative uncertainty of the force gauge").default("0.05"),
        Key::number("gauge_floor_kN", Range::over(0.0).to(1e5), "its least uncertainty").default("0.5"),
        Key::number("model_rel", Range::at_least(0.0).to(1.0), "relative doubt of the model").default("0.05"),
        Key::quantity("hold_ratio", Range::over(0.0).to(10.0), "holding over final force").default("1.0 with u 0.15"),
        Key::number("press_have_kN", Range::over(0.0).to(1e6), "the press at hand"),
    ],
    answer: &[
        Told { path: "pressure_MPa", help: "mean pressure in the joint" },
        Told { path: "force.i.low_kN", help: "with travel_mm, mid_kN, high_kN, stop_kN: force at each travel asked for" },
        Told { path: "final_kN", help: "low, mid, high at the end of the travel" },
        Told { path: "press_kN", help: "press to have ready" },
        Told { path: "axial_stress_MPa", help: "in the bush at the highest final force" },
        Told { path: "live", help: "mu, mu_u, final_kN, final_u_kN, hold_kN, hold_u_kN, status, reasons; null without readings" },
    ],
    example: r#"{"bush": {"outside_mm": 240, "bore_mm": 207, "length_mm": 180, "alloy": "CC493K"}, "housing": {"outside_mm": 420, "metal": "GE240"},
        "interference_um": {"value": 95, "u": 6}, "lubrication": "oil", "lead_mm": 5, "travel_mm": [50, 100, 185], "readings": [{"travel_mm": 50, "force_kN": 16}]}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = press(&request);
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<PressRequest, Refused> {
    let (bush, housing) = (given.need_record("bush")?, given.need_record("housing")?);
    let alloy = bush.word("alloy").map(|id| table::alloy_at(&bush.path_of("alloy"), id)).transpose()?;
    let metal = housing.word("metal").map(|id| table::housing_at(&housing.path_of("metal"), id)).transpose()?;
    let or_table = |part: &Given, key: &str, table: Option<f64>| part.number(key).or(table).map_or_else(|| part.need_number(key), Ok);
    let (mu_low, mu_high) = friction(given)?;
    let request = PressRequest {
        outside_mm: bush.need_number("outside_mm")?,
        bore_mm: bush.need_number("bore_mm")?,
        length_mm: bush.need_number("length_mm")?,
        E_bush_GPa: or_table(&bush, "E_GPa", alloy.map(|alloy| alloy.E_GPa))?,
        nu_bush: or_table(&bush, "nu", alloy.map(|alloy| alloy.nu))?,
        yield_MPa: bush.number("yield_MPa").or(alloy.and_then(|alloy| alloy.yield_MPa)),
        housing_outside_mm: housing.need_number("outside_mm")?,
        E_housing_GPa: or_table(&housing, "E_GPa", metal.map(|metal| metal.E_GPa))?,
        nu_housing: or_table(&housing, "nu", metal.map(|metal| metal.nu))?,
        interference_um: given.need_quantity("interference_um")?,
        mu_low,
        mu_high,
        lead_mm: given.number_or("lead_mm", 0.0),
        taper_um: given.number_or("taper_um", 0.0),
        barrel_um: given.number_or("barrel_um", 0.0),
        travel_mm: given.numbers("travel_mm"),
        stop_factor: given.number_or("stop_factor", 1.25),
        readings: read_readings(given)?,
        gauge_rel: given.number_or("gauge_rel", 0.05),
        gauge_floor_kN: given.number_or("gauge_floor_kN", 0.5),
        model_rel: given.number_or("model_rel", 0.05),
        hold_ratio: given.quantity("hold_ratio").unwrap_or(Quantity::with_u(1.0, 0.15)),
        press_have_kN: given.number("press_have_kN"),
    };
    if request.bore_mm >= request.outside_mm {
        return Err(bush.refuse("bore_mm", format!("0 to under the outside, {}", request.outside_mm), "measure bore and outside again"));
    }
    if request.housing_outside_mm <= request.outside_mm {
        return Err(housing.refuse(
            "outside_mm",
            format!("over the joint, {}", request.outside_mm),
            "give the housing's equivalent outside",
        ));
    }
    within_travel(given, &request)?;
    Ok(request)
}

fn friction(given: &Given) -> Result<(f64, f64), Refused> {
    let table = given.word("lubrication").and_then(|word| FRICTION.iter().find(|(name, ..)| *name == word));
    let low = given.number("mu_low").or(table.map(|(_, low, _)| *low));
    let high = given.number("mu_high").or(table.map(|(.., high)| *high));
    match (low, high) {
        (Some(low), Some(high)) if low <= high => Ok((low, high)),
        (Some(low), Some(_)) => Err(given.refuse("mu_high", format!("mu_low or more, {low}"), "give the two frictions in order")),
        _ => Err(given.refuse("lubrication", "dry, oil, grease, molybdenum_paste", "give the lubrication, or both mu_low and mu_high")),
    }
}

fn read_readings(given: &Given) -> Result<Vec<PressReading>, Refused> {
    let mut readings: Vec<PressReading> = Vec::new();
    for row in given.records("readings") {
        let reading = PressReading { travel_mm: row.need_number("travel_mm")?, force_kN: row.need_number("force_kN")? };
        if let Some(before) = readings.last().filter(|before| before.travel_mm >= reading.travel_mm) {
            return Err(row.refuse(
                "travel_mm",
                format!("more than the reading before it, {}", before.travel_mm),
                "give the readings in the order of their travel",
            ));
        }
        readings.push(reading);
    }
    Ok(readings)
}

fn within_travel(given: &Given, request: &PressRequest) -> Result<(), Refused> {
    let whole = request.lead_mm + request.length_mm;
    let allowed = format!("0 to {whole}, lead and length");
    if request.travel_mm.iter().any(|travel| *travel > whole) {
        return Err(given.refuse("travel_mm", allowed, "end the travels where the bush is home"));
    }
    if let Some(reading) = request.readings.iter().find(|reading| reading.travel_mm > whole) {
        return Err(Refused::new("readings", reading.travel_mm, allowed, "check the travel of that reading, or the length and lead"));
    }
    Ok(())
}

fn explain(request: &PressRequest, answer: &PressAnswer, working: &mut Working) {
    if !working.wanted() {
        return;
    }
    let C = request.compliance();
    let with = [("D mm", request.outside_mm), ("d mm", request.bore_mm), ("D_o mm", request.housing_outside_mm)];
    working.step("compliance of the joint", "C = k_b + k_h", &with, &[("C 1/MPa", C)], "Lamé rings, plane stress");
    let with = [("delta um", request.interference_um.value), ("D mm", request.outside_mm), ("C 1/MPa", C)];
    working.step("pressure", "p = delta/(D C)", &with, &[("p MPa", answer.pressure_MPa)], "Lamé");
    let with = [("mu low", request.mu_low), ("mu high", request.mu_high), ("L mm", request.length_mm), ("u um", request.interference_um.u)];
    let gives = [("low kN", answer.final_kN.low), ("mid kN", answer.final_kN.mid), ("high kN", answer.final_kN.high)];
    working.step("final force", "F = mu (pi/C) integral of delta over L; delta -/+ 2u", &with, &gives, "friction: memory, DIN 7190-1");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interference_that_turns_negative_along_the_bush_counts_as_none() {
        assert!((positive_area(1.0, -2.0, 0.0, 1.0) - 0.25).abs() < 1e-15, "triangle by hand");
        assert!((positive_area(-1.0, 0.0, 0.0, 1.0)).abs() < 1e-15);
        assert!((positive_area(1.0, 0.0, -4.0, 1.0) - 1.0 / 3.0).abs() < 1e-12, "parabola to u = 1/2, by hand");
    }

    #[test]
    fn an_empty_seat_needs_no_force_and_every_micrometre_some() {
        let mut last = -1.0;
        for um in [1.0, 20.0, 80.0, 200.0] {
            let request = sample(um);
            let force = press(&request).final_kN.mid;
            assert!(force > last);
            last = force;
        }
    }

    #[test]
    fn force_never_falls_over_the_travel() {
        let request =
            PressRequest { travel_mm: (0..=18).map(|i| f64::from(i) * 10.0).collect(), barrel_um: 30.0, taper_um: -20.0, ..sample(80.0) };
        let forces: Vec<f64> = press(&request).force.iter().map(|force| force.mid_kN).collect();
        assert!(forces.windows(2).all(|pair| pair[1] >= pair[0]), "{forces:?}");
    }

    fn sample(um: f64) -> PressRequest {
        PressRequest {
            outside_mm: 240.0,
            bore_mm: 207.0,
            length_mm: 180.0,
            E_bush_GPa: 100.0,
            nu_bush: 0.34,
            yield_MPa: Some(120.0),
            housing_outside_mm: 420.0,
            E_housing_GPa: 206.0,
            nu_housing: 0.3,
            interference_um: Quantity::with_u(um, 0.0),
            mu_low: 0.04,
            mu_high: 0.12,
            lead_mm: 0.0,
            taper_um: 0.0,
            barrel_um: 0.0,
            travel_mm: Vec::new(),
            stop_factor: 1.25,
            readings: Vec::new(),
            gauge_rel: 0.05,
            gauge_floor_kN: 0.5,
            model_rel: 0.05,
            hold_ratio: Quantity::with_u(1.0, 0.15),
            press_have_kN: None,
        }
    }
}
