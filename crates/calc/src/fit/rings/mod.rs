//! Pressure, close-in, stresses and safe temperatures of a bush that is held by interference (`fit`): 2 to 6 concentric rings.
//!
//! It leaves the interference to be chosen to `fit::choose`, chances to `fit::chance`, and seats that rings can't describe (flanges, steps,
//! bushes longer or shorter than their housing) to `fit-shape`. Against reality 2 % at best (moduli ±4 %, friction, equivalent outside).
//! Beyond yield two free rings only. mm and MPa inside this folder.
//!
//! One file a question: `request` what is asked, `elastic` N rings, `path` what two rings remember, `state` one set of temperatures,
//! `temperatures` where it lets go or sets, `warn` what to say beside it, `answer` what is told.

mod answer;
pub mod elastic;
mod path;
mod request;
mod state;
mod temperatures;
mod warn;

use serde_json::Value;

pub use answer::{AfterCycle, FitAnswer, Flow, Grip, JointFound, RingFound, StateFound};
pub use elastic::Axial;
pub use request::{Criterion, Fit, Friction, Ring, State, Sweep};

pub(crate) use request::{ABSOLUTE_ZERO_C, RING, SIZE, check_rings, pair, read_criterion, read_rings, read_sweep};
pub(crate) use state::loss;
pub(crate) use temperatures::housing_limit_pressure;
pub(crate) use warn::{far_from_20, harder_bush_sentence, not_checked};

use crate::compute::{Desk, Kind, told};
use crate::keys::Given;
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::working::Working;
use path::Path;

/// What a fit does at each of its states, where it lets go, sets or passes its housing's limit, and what a cycle leaves of it.
///
/// δ = outside_i (1 + α_i ΔT_i) − bore_o (1 + α_o ΔT_o) − smoothing (Rz_i + Rz_o) a joint; Lamé rings with joints that press or gape;
/// two free rings beyond yield by Tresca without hardening. Sizes in mm at 20 °C, E in GPa, stresses in MPa, temperatures in °C.
/// Refused: what [`Fit::checked`] refuses, and a housing that flows through its whole wall.
/// Source: Lamé 1852; Timoshenko, Strength of Materials II, built-up cylinders; Prager and Hodge (plastic rings, from memory);
/// DIN 7190-1 (smoothing, from memory).
pub fn fit(request: &Fit) -> Result<FitAnswer, Refused> {
    request.checked()?;
    let path = Path::new(request)?;
    let states = request.states.iter().map(|state| state::found(request, path.as_ref(), state)).collect::<Result<Vec<_>, _>>()?;
    let yielding = path.filter(|_| request.is_two_free_rings());
    let left = path.map_or_else(|| state::effective(request, &vec![20.0; request.rings.len()]), |path| vec![path.left_at_20()]);
    let after_cycle = match (&request.cycle_T_C, &yielding) {
        (Some(cycle), Some(path)) => Some(path.after(request, cycle)?),
        _ => None,
    };
    let pair = yielding.map(|path| path.pair);
    let (onset, full) = (pair.and_then(|pair| pair.onset()), pair.and_then(|pair| pair.full()));
    let interference_um = |p: Option<f64>| pair?.interference_at(p?).map(|delta| delta * 1e3);
    let mut answer = FitAnswer {
        states,
        lets_go_C: temperatures::lets_go(request, &left)?.map(Figure::plain),
        takes_set_C: yielding.and_then(|path| temperatures::takes_set(request, &path)).map(Figure::plain),
        housing_limit_C: yielding.and_then(|path| temperatures::housing_limit(request, &path)).map(Figure::plain),
        set_pressure_MPa: onset.map(Figure::plain),
        full_pressure_MPa: full.map(Figure::plain),
        set_interference_um: interference_um(onset),
        full_interference_um: interference_um(full),
        after_cycle,
        warnings: Vec::new(),
    };
    answer.warnings = warn::warnings(request, yielding.as_ref(), &answer);
    Ok(answer)
}

/// The same with standard uncertainties: `u` is the request with each number replaced by its own u (0 where it is exact).
///
/// Effective interferences, pressures, close-in, hoop stresses and the limit temperatures get a u: u² = Σ (∂f/∂x)² u²(x), inputs independent.
/// Source: JCGM 100:2008 5.1.2.
pub fn fit_with_doubt(request: &Fit, u: &Fit) -> Result<FitAnswer, Refused> {
    let mut answer = fit(request)?;
    let (mut at, mut u) = (request.clone(), u.clone());
    let values: Vec<f64> = at.numbers().into_iter().map(|x| *x).collect();
    let doubts: Vec<f64> = u.numbers().into_iter().map(|x| *x).collect();
    if doubts.iter().all(|u| *u == 0.0) {
        return Ok(answer);
    }
    let inputs: Vec<Quantity> = values.iter().zip(&doubts).map(|(value, u)| Quantity::with_u(*value, *u)).collect();
    let figures = propagate(&inputs, |x| {
        for (slot, x) in at.numbers().into_iter().zip(x) {
            *slot = *x;
        }
        let mut answer = fit(&at)?;
        // A temperature that is not reached is no number; it is differenced on the side where it is.
        Ok::<_, Refused>(answer.doubtful().into_iter().map(|slot| slot.map_or(f64::NAN, |figure| figure.value)).collect())
    })?;
    for (slot, figure) in answer.doubtful().into_iter().zip(figures) {
        if let Some(slot) = slot {
            slot.u = figure.u.filter(|u| u.is_finite());
        }
    }
    Ok(answer)
}

/// `fit` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "fit",
    help: "pressure, close-in, stresses and safe temperatures of a pressed bush",
    request: request::REQUEST,
    answer: answer::ANSWER,
    example: r#"{"rings": [
        {"name": "bush", "bore_mm": 200, "outside_mm": {"value": 230.15, "u": 0.004}, "E_GPa": 100, "nu": 0.35, "alpha_per_K": 18e-6, "yield_MPa": 138},
        {"name": "housing", "bore_mm": {"value": 230, "u": 0.004}, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11.5e-6, "yield_MPa": 305}],
        "states": [{"name": "fitted", "T_C": [20, 20]}, {"name": "hot", "T_C": [90, 70]}],
        "length_mm": 180, "mu_low": 0.08, "mu_high": 0.16, "torque_Nm": 2000, "cycle_T_C": [[150, 110]]}"#,
    run: Some(answer_fit),
};

fn answer_fit(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = Fit::read(given, |quantity| quantity.value)?;
    let u = Fit::read(given, |quantity| quantity.u)?;
    let answer = fit_with_doubt(&request, &u)?;
    if desk.working.wanted() {
        show(&request, &answer, &mut desk.working);
    }
    told(&answer)
}

/// The main chain, state by state: interference, pressure, close-in; then the limits.
fn show(request: &Fit, answer: &FitAnswer, working: &mut Working) {
    for (state, found) in request.states.iter().zip(&answer.states) {
        show_joints(request, state, found, working);
        let (Some(bush), Some(p)) = (request.walls().first().copied(), found.joints.first().map(|joint| joint.pressure_MPa.value)) else {
            continue;
        };
        let with = [("p MPa", p), ("a mm", bush.bore), ("Q", bush.ratio()), ("E MPa", bush.E)];
        let formula = "2 p a/(E (1 - Q^2)) of a free elastic bush, less its set";
        working.step(&format!("close-in, {}", found.name), formula, &with, &[("close-in um", found.close_in_um.value)], "Lamé 1852");
    }
    let Some(pair) = request.pair().filter(|_| request.is_two_free_rings()) else { return };
    if let (Some(Y), Some(onset), Some(full)) = (pair.bush_yield, pair.onset(), pair.full()) {
        let gives = [("p_y MPa", onset), ("p_L MPa", full)];
        let with = [("Y MPa", Y), ("Q", pair.bush.ratio())];
        working.step("onset and full flow of the bush", "p_y = Y (1 - Q^2)/2, p_L = Y (1 - Q)", &with, &gives, "Prager and Hodge (memory)");
    }
    if let Some(T_C) = answer.lets_go_C {
        let formula = "delta(T) less the sets of 20 °C = 0, delta linear in T";
        working.step("temperature at which it lets go", formula, &[], &[("T C", T_C.value)], "linear expansion, ISO 1");
    }
}

fn show_joints(request: &Fit, state: &State, found: &StateFound, working: &mut Working) {
    let pairs = request.rings.windows(2).zip(state.T_C.windows(2)).zip(&found.joints);
    for (j, ((ring, T_C), joint)) in pairs.enumerate() {
        let with = [
            ("outside mm", ring[0].outside_mm),
            ("bore mm", ring[1].bore_mm),
            ("alpha_i 1/K", ring[0].alpha_per_K),
            ("alpha_o 1/K", ring[1].alpha_per_K),
            ("T_i C", T_C[0]),
            ("T_o C", T_C[1]),
            ("loss um", loss(&ring[0], &ring[1], request.smoothing) * 1e3),
        ];
        let formula = "outside_i (1 + alpha_i (T_i - 20)) - bore_o (1 + alpha_o (T_o - 20)) - smoothing (Rz_i + Rz_o)";
        let gives = [("delta um", joint.effective_um.value)];
        working.step(&format!("interference, {}, joint {j}", found.name), formula, &with, &gives, "ISO 1; DIN 7190-1 (memory)");
    }
    let deltas: Vec<(&str, f64)> = found.joints.iter().map(|joint| ("delta um", joint.effective_um.value)).collect();
    let pressures: Vec<(&str, f64)> = found.joints.iter().map(|joint| ("p MPa", joint.pressure_MPa.value)).collect();
    let what = format!("pressure, {}", found.name);
    match request.pair().filter(|_| request.is_two_free_rings()) {
        Some(pair) => {
            let k = [
                ("delta um", deltas.first().map_or(0.0, |delta| delta.1)),
                ("D mm", pair.joint()),
                ("k_b 1/MPa", pair.k_b()),
                ("k_h 1/MPa", pair.k_h()),
            ];
            let formula = "p = (delta/D)/(k_b + k_h) while elastic; beyond onset Delta_h(D; p) - Delta_b(D; p) = delta";
            working.step(&what, formula, &k, &pressures, "Lamé 1852; Prager and Hodge (memory)");
        }
        None => {
            let formula = "Delta_o(a_o) - Delta_i(b_i) = delta of each joint that presses, p = 0 of each that gapes";
            working.step(&what, formula, &deltas, &pressures, "Lamé 1852; Timoshenko, Strength of Materials II");
        }
    }
}

#[cfg(test)]
mod tests;
