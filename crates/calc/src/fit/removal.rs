//! Getting the worn bush out without hurting the seat: the force to expect, the temperatures that free it, or boring it out.
//!
//! What is known of an old fit is little, and the friction of an old joint is wide: the answer is a range. Cautions come first.

use serde::Serialize;
use serde_json::Value;

use super::lame;
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::PI;
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::working::Working;

/// Share of a press that is used before something else is tried. *Common practice*.
const PRESS_SHARE: f64 = 0.8;
/// A joint whose highest force is over so many times its lowest may be seized. *Common practice*.
const SEIZED_RATIO: f64 = 3.0;
/// Colder than this one mean coefficient is no longer good, °C.
const COLDEST_C: f64 = -100.0;
/// An aged aluminium casting loses strength over this, °C; a housing that expands more than the second figure (steel and iron end at
/// 16e-6 in `housing_shaft.csv`) is taken as aluminium, per K. *Common practice*.
const ALUMINIUM_LIMIT_C: f64 = 150.0;
const ALUMINIUM_FROM_PER_K: f64 = 20e-6;
/// Share of a wall that is rounding of its two diameters.
const ROUNDING: f64 = 1e-9;
/// Hotter than this together with the housing is no way out, °C.
const HOTTEST_TOGETHER_C: f64 = 400.0;

/// An old bush in its housing, as they are now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RemovalRequest {
    /// Bush outside = joint diameter, mm.
    pub outside_mm: f64,
    /// Bush bore, worn, mm.
    pub bore_mm: f64,
    /// Bush length, mm.
    pub length_mm: f64,
    /// Bush modulus, GPa.
    pub E_bush_GPa: f64,
    /// Bush Poisson ratio.
    pub nu_bush: f64,
    /// Bush expansion, per K.
    pub alpha_bush_per_K: f64,
    /// Equivalent outside of the housing, mm.
    pub housing_outside_mm: f64,
    /// Housing modulus, GPa.
    pub E_housing_GPa: f64,
    /// Housing Poisson ratio.
    pub nu_housing: f64,
    /// Housing expansion, per K.
    pub alpha_housing_per_K: f64,
    /// Effective interference at 20 °C, µm, 0 or more.
    pub interference_um: Quantity,
    /// Friction of the old joint, low.
    pub mu_low: f64,
    /// Friction of the old joint, high.
    pub mu_high: f64,
    /// The bush while the housing is heated, °C.
    pub bush_C: f64,
    /// Hottest that the housing may be made, °C.
    pub limit_C: f64,
    /// The press at hand, kN.
    pub press_kN: Option<f64>,
    /// Shell left when boring out, mm.
    pub shell_mm: f64,
}

/// The way out that is advised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    /// Press it out.
    Press,
    /// Warm the housing, keep the bush cold.
    Heat,
    /// Bore it to a shell.
    BoreOut,
}

/// What it takes to get the bush out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RemovalAnswer {
    /// Pressure at the value of the interference, MPa.
    pub pressure_MPa: f64,
    /// Least force to press it out, kN.
    pub force_low_kN: f64,
    /// Greatest force, kN.
    pub force_high_kN: f64,
    /// Housing that frees a bush kept at `bush_C`, °C.
    pub free_housing_C: f64,
    /// Bush that comes free in a housing at 20 °C; null under −100 °C.
    pub free_bush_C: Option<f64>,
    /// Both at one temperature, free; null outside −100..400 °C.
    pub free_together_C: Option<f64>,
    /// Pressure once it is bored to the shell, MPa.
    pub bored_pressure_MPa: f64,
    /// Greatest force then, kN.
    pub bored_force_high_kN: f64,
    /// The way out.
    pub advice: Advice,
    /// In a sentence.
    pub say: String,
    /// Cautions first, then warnings.
    pub warnings: Vec<String>,
}

/// Force, freeing temperatures and advice.
///
/// p = (δ/D)/(k_b + k_h); F = µ π D L p, low at µ low and δ − 2u (not under 0), high at µ high and δ + 2u. δ' = δ + 2u:
/// (D + δ')(1 + α_b(T_b − 20)) = D(1 + α_h(T − 20)). Bored: the same with the bush bored to D − 2 shell.
/// Refused: see `KIND`. Source: Lamé as in `fit`; frictions and shares *common practice*.
pub fn removal(request: &RemovalRequest) -> RemovalAnswer {
    let (D, delta, two_u) = (request.outside_mm, request.interference_um.value, 2.0 * request.interference_um.u);
    let force =
        |bore_mm: f64, delta_um: f64, mu: f64| mu * PI * D * request.length_mm * pressure(request, bore_mm, delta_um.max(0.0)) / 1e3;
    let most_mm = (delta + two_u) / 1e3;
    let bored_mm = D - 2.0 * request.shell_mm;
    let force_high_kN = force(request.bore_mm, delta + two_u, request.mu_high);
    let free_housing_C =
        20.0 + ((1.0 + most_mm / D) * (1.0 + request.alpha_bush_per_K * (request.bush_C - 20.0)) - 1.0) / request.alpha_housing_per_K;
    let advice = if request.press_kN.is_some_and(|press| force_high_kN <= PRESS_SHARE * press) {
        Advice::Press
    } else if free_housing_C <= request.limit_C {
        Advice::Heat
    } else {
        Advice::BoreOut
    };
    let mut answer = RemovalAnswer {
        pressure_MPa: pressure(request, request.bore_mm, delta),
        force_low_kN: force(request.bore_mm, delta - two_u, request.mu_low),
        force_high_kN,
        free_housing_C,
        free_bush_C: Some(20.0 - most_mm / ((D + most_mm) * request.alpha_bush_per_K)).filter(|T| *T >= COLDEST_C),
        free_together_C: free_together(request, most_mm),
        bored_pressure_MPa: pressure(request, bored_mm, delta),
        bored_force_high_kN: force(bored_mm, delta + two_u, request.mu_high),
        advice,
        say: String::new(),
        warnings: Vec::new(),
    };
    answer.say = say(request, &answer);
    answer.warnings = warnings(request, &answer);
    answer
}

/// MPa, with the bush at the given bore.
fn pressure(request: &RemovalRequest, bore_mm: f64, delta_um: f64) -> f64 {
    let D = request.outside_mm;
    let k_b = lame::bush_compliance(lame::ratio(bore_mm, D), request.E_bush_GPa * 1e3, request.nu_bush);
    let k_h = lame::housing_compliance(lame::ratio(D, request.housing_outside_mm), request.E_housing_GPa * 1e3, request.nu_housing);
    lame::joint_pressure(delta_um / 1e3, D, k_b + k_h)
}

/// D(1 + α_h ΔT) = (D + δ')(1 + α_b ΔT).
fn free_together(request: &RemovalRequest, most_mm: f64) -> Option<f64> {
    let D = request.outside_mm;
    let gain_per_K = D * request.alpha_housing_per_K - (D + most_mm) * request.alpha_bush_per_K;
    let T = 20.0 + most_mm / gain_per_K;
    (gain_per_K != 0.0 && (COLDEST_C..=HOTTEST_TOGETHER_C).contains(&T)).then_some(T)
}

fn say(request: &RemovalRequest, answer: &RemovalAnswer) -> String {
    let forces = format!("{:.0} to {:.0} kN to press it out", answer.force_low_kN, answer.force_high_kN);
    match answer.advice {
        Advice::Press => format!("{forces}: press it."),
        Advice::Heat => format!(
            "{forces}; the housing at {:.0} °C frees it while the bush is kept at {:.0} °C: heat.",
            answer.free_housing_C, request.bush_C
        ),
        Advice::BoreOut => format!(
            "{forces}, and the housing would have to be at {:.0} °C (limit {:.0}): bore it out to a shell of {} mm, which then takes {:.0} kN at most.",
            answer.free_housing_C, request.limit_C, request.shell_mm, answer.bored_force_high_kN
        ),
    }
}

fn warnings(request: &RemovalRequest, answer: &RemovalAnswer) -> Vec<String> {
    let mut warnings: Vec<String> = [
        "Parts and press tools can fly: guard, and stand aside of the line of force. Local codes and licensed practice come first.",
        "Never hammer on bronze or on the seat.",
        "No flame on a bush with lead, or with old grease in it (fume, fire): induction, or an oven where it frees (aluminium), aired. Hot parts burn.",
        "Look for a key, pins, screws, welds and lips first: no force here counts them.",
    ]
    .map(str::to_owned)
    .into();
    if answer.force_high_kN > SEIZED_RATIO * answer.force_low_kN {
        warnings.push("It may be seized: the highest force is over three times the lowest; be ready to bore it out.".into());
    }
    if answer.advice == Advice::Heat && request.alpha_bush_per_K > request.alpha_housing_per_K {
        warnings.push(format!(
            "Keep the bush cold ({:.0} °C: water, ice or dry ice in its bore) and heat the housing quickly and from outside: left to itself it is as hot as the housing in a minute or so, and grips harder.",
            request.bush_C
        ));
    }
    if request.alpha_housing_per_K > ALUMINIUM_FROM_PER_K && request.limit_C > ALUMINIUM_LIMIT_C {
        warnings.push(format!(
            "The housing expands like aluminium and {:.0} °C is allowed: an aged casting loses strength over {ALUMINIUM_LIMIT_C:.0} °C.",
            request.limit_C
        ));
    }
    if answer.advice == Advice::BoreOut {
        warnings.push("Set up on the seat, not on the old bore (it wears to one side); stop at the shell, which curls in by itself, or slit it lengthwise, short of the seat; collect the swarf with the alloy named.".into());
    }
    warnings.push("Measure the seat in three stations at once after, cleaned and cold: a seat that was spun in is oval and belled.".into());
    warnings
}

const SIZE: Range = Range::over(0.0).to(1e5);
/// No metal expands less: a smaller figure is a slip, and would ask for a temperature without end.
const ALPHA: Range = Range::within(1e-7, 1e-4);

/// `removal` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "removal",
    help: "getting the worn bush out",
    request: &[
        Key::record(
            "bush",
            &[
                Key::number("outside_mm", SIZE, "the joint diameter").needed(),
                Key::number("bore_mm", SIZE, "its bore as it is now").needed(),
                Key::number("length_mm", SIZE, "its length").needed(),
                Key::number("E_GPa", Range::over(0.0).to(2000.0), "its modulus").needed(),
                Key::number("nu", Range::over(-1.0).under(0.5), "its Poisson ratio").needed(),
                Key::number("alpha_per_K", ALPHA, "its expansion").needed(),
            ],
            "the old bush",
        )
        .needed(),
        Key::record(
            "housing",
            &[
                Key::number("outside_mm", SIZE, "its equivalent outside").needed(),
                Key::number("E_GPa", Range::over(0.0).to(2000.0), "its modulus").needed(),
                Key::number("nu", Range::over(-1.0).under(0.5), "its Poisson ratio").needed(),
                Key::number("alpha_per_K", ALPHA, "its expansion").needed(),
            ],
            "the housing",
        )
        .needed(),
        Key::quantity("interference_um", Range::at_least(0.0).to(1e5), "effective interference at 20 °C, with its doubt").needed(),
        Key::number("mu_low", Range::over(0.0).to(2.0), "friction of the old joint, low").default("0.12"),
        Key::number("mu_high", Range::over(0.0).to(2.0), "friction of the old joint, high").default("0.30"),
        Key::number("bush_C", Range::within(-196.0, 400.0), "the bush while the housing is heated").default("60"),
        Key::number("limit_C", Range::over(20.0).to(1000.0), "hottest that the housing may be made").default("200"),
        Key::number("press_kN", Range::over(0.0).to(1e6), "the press at hand"),
        Key::number("shell_mm", Range::over(0.0).to(1000.0), "shell left when boring out").default("0.5"),
    ],
    answer: &[
        Told { path: "pressure_MPa", help: "at the value of the interference" },
        Told { path: "force_low_kN", help: "least force to press it out" },
        Told { path: "force_high_kN", help: "greatest force to press it out" },
        Told { path: "free_housing_C", help: "housing that frees a bush kept at bush_C" },
        Told { path: "free_bush_C", help: "bush that comes free in a housing at 20 °C; null under -100" },
        Told { path: "free_together_C", help: "both at one temperature, free; null outside -100..400" },
        Told { path: "bored_pressure_MPa", help: "pressure once it is bored to the shell" },
        Told { path: "bored_force_high_kN", help: "greatest force then" },
        Told { path: "advice", help: "press, heat or bore_out" },
        Told { path: "say", help: "the way out in a sentence" },
    ],
    example: r#"{"bush": {"outside_mm": 180, "bore_mm": 152.4, "length_mm": 140, "E_GPa": 100, "nu": 0.34, "alpha_per_K": 1.8e-5},
        "housing": {"outside_mm": 310, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 1.15e-5}, "interference_um": {"value": 80, "u": 20}, "press_kN": 400}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = removal(&request);
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<RemovalRequest, Refused> {
    let (bush, housing) = (given.need_record("bush")?, given.need_record("housing")?);
    let request = RemovalRequest {
        outside_mm: bush.need_number("outside_mm")?,
        bore_mm: bush.need_number("bore_mm")?,
        length_mm: bush.need_number("length_mm")?,
        E_bush_GPa: bush.need_number("E_GPa")?,
        nu_bush: bush.need_number("nu")?,
        alpha_bush_per_K: bush.need_number("alpha_per_K")?,
        housing_outside_mm: housing.need_number("outside_mm")?,
        E_housing_GPa: housing.need_number("E_GPa")?,
        nu_housing: housing.need_number("nu")?,
        alpha_housing_per_K: housing.need_number("alpha_per_K")?,
        interference_um: given.need_quantity("interference_um")?,
        mu_low: given.number_or("mu_low", 0.12),
        mu_high: given.number_or("mu_high", 0.30),
        bush_C: given.number_or("bush_C", 60.0),
        limit_C: given.number_or("limit_C", 200.0),
        press_kN: given.number("press_kN"),
        shell_mm: given.number_or("shell_mm", 0.5),
    };
    if request.bore_mm >= request.outside_mm {
        return Err(bush.refuse("bore_mm", format!("under the outside, {}", request.outside_mm), "measure bore and outside again"));
    }
    if request.housing_outside_mm <= request.outside_mm {
        return Err(housing.refuse(
            "outside_mm",
            format!("over the joint, {}", request.outside_mm),
            "give the housing's equivalent outside",
        ));
    }
    let wall = (request.outside_mm - request.bore_mm) / 2.0;
    // A shell written as thick as the wall must not slip through by a rounding of the wall.
    if request.shell_mm >= wall * (1.0 - ROUNDING) {
        return Err(given.refuse("shell_mm", format!("under the wall, {wall}"), "leave a thinner shell"));
    }
    if request.mu_low > request.mu_high {
        return Err(given.refuse("mu_low", format!("mu_high or less, {}", request.mu_high), "give the two frictions in order"));
    }
    Ok(request)
}

fn explain(request: &RemovalRequest, answer: &RemovalAnswer, working: &mut Working) {
    let delta = request.interference_um;
    let with = [("delta um", delta.value), ("D mm", request.outside_mm)];
    working.step("pressure in the old joint", "p = (delta/D)/(k_b + k_h)", &with, &[("p MPa", answer.pressure_MPa)], "Lamé");
    let with = [("mu low", request.mu_low), ("mu high", request.mu_high), ("u um", delta.u), ("L mm", request.length_mm)];
    let gives = [("low kN", answer.force_low_kN), ("high kN", answer.force_high_kN)];
    working.step("force", "F = mu pi D L p(delta -/+ 2u)", &with, &gives, "friction of an old joint: common practice");
    let with =
        [("bush C", request.bush_C), ("alpha bush per K", request.alpha_bush_per_K), ("alpha housing per K", request.alpha_housing_per_K)];
    working.step(
        "housing that frees it",
        "(D + delta')(1 + a_b (T_b - 20)) = D (1 + a_h (T - 20)), delta' = delta + 2u",
        &with,
        &[("T C", answer.free_housing_C)],
        "thermal expansion",
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{self, plain};
    use crate::crew::Alone;

    #[test]
    fn a_shell_as_thick_as_the_wall_is_refused_though_the_wall_is_rounded() {
        let request = plain(&KIND.example.replace("\"press_kN\": 400", "\"shell_mm\": 13.8")).unwrap();
        assert_eq!(
            compute::answer("removal", &request, &Alone, false).unwrap_err().key,
            "shell_mm",
            "wall 13.8, 13.799999999999997 in binary"
        );
    }

    #[test]
    fn an_aluminium_housing_is_not_heated_like_steel_without_a_word() {
        let said = |limit_C: f64| {
            removal(&RemovalRequest { alpha_housing_per_K: 23e-6, limit_C, ..sample(Quantity::exact(20.0)) }).warnings.join(" ")
        };
        assert!(said(200.0).contains("aluminium and 200 °C") && !said(150.0).contains("aluminium and"));
    }

    fn sample(interference_um: Quantity) -> RemovalRequest {
        RemovalRequest {
            outside_mm: 180.0,
            bore_mm: 152.4,
            length_mm: 140.0,
            E_bush_GPa: 100.0,
            nu_bush: 0.34,
            alpha_bush_per_K: 18e-6,
            housing_outside_mm: 310.0,
            E_housing_GPa: 206.0,
            nu_housing: 0.3,
            alpha_housing_per_K: 11.5e-6,
            interference_um,
            mu_low: 0.12,
            mu_high: 0.3,
            bush_C: 60.0,
            limit_C: 200.0,
            press_kN: None,
            shell_mm: 0.5,
        }
    }

    #[test]
    fn less_is_known_the_wider_the_forces() {
        let mut width = -1.0;
        for u in [0.0, 5.0, 20.0, 60.0] {
            let answer = removal(&sample(Quantity::with_u(80.0, u)));
            assert!(answer.force_low_kN <= answer.force_high_kN && answer.force_low_kN >= 0.0);
            assert!(answer.force_high_kN - answer.force_low_kN > width);
            width = answer.force_high_kN - answer.force_low_kN;
        }
    }

    #[test]
    fn bronze_in_aluminium_comes_free_hot_and_in_steel_cold() {
        let steel = removal(&sample(Quantity::exact(20.0)));
        let aluminium = removal(&RemovalRequest { alpha_housing_per_K: 23e-6, ..sample(Quantity::exact(20.0)) });
        assert!(steel.free_together_C.unwrap() < 20.0 && aluminium.free_together_C.unwrap() > 20.0);
    }
}
