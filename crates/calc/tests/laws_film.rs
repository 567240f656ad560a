//! Laws of the oil film and of the bearing that warms itself: limits, comparison, balance of flow and of heat, scaling, and that every
//! request is answered or refused in a sentence.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

mod film_requests;

use calc::crew::Alone;
use calc::math::{PI, exp};
use calc::run::film_shape::{Effort, Theory, film_at, flows};
use calc::run::film_theory::{Cavitation, long, short};
use calc::solve::film_grid::FilmGrid;
use calc::solve::multigrid;
use proptest::prelude::*;
use serde_json::{Value, json};

fn ask(kind: &str, request: &Value) -> Value {
    calc::answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{kind} {request}: {refused}"))
}

fn at(answer: &Value, key: &str) -> f64 {
    answer[key].as_f64().unwrap_or_else(|| panic!("no number at {key}: {answer}"))
}

fn near(a: f64, b: f64, rel: f64) -> bool {
    (a - b).abs() <= rel * a.abs().max(b.abs())
}

/// S of the finite film on meshes good to some 1e-5.
fn S(eps: f64, L_over_D: f64) -> f64 {
    film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(3)).shape.sommerfeld
}

#[test]
fn a_short_film_tends_to_ocvirk_and_a_long_one_to_sommerfeld() {
    for eps in [0.05, 0.4, 0.8] {
        let off_short = |L_over_D: f64| S(eps, L_over_D) / short(eps, L_over_D).sommerfeld - 1.0;
        let off_long = |L_over_D: f64| S(eps, L_over_D) / long(eps, Cavitation::Reynolds).sommerfeld - 1.0;
        assert!(
            off_short(0.05) < off_short(0.1) && off_short(0.1) < off_short(0.2) && off_short(0.05) < 0.01,
            "{eps}: {}",
            off_short(0.05)
        );
        assert!(off_long(10.0) < off_long(5.0) && off_long(5.0) < off_long(2.5) && off_long(10.0) < 0.2, "{eps}: {}", off_long(10.0));
        // The ends of a long bearing cost a length that does not grow with it: twice as long, half the loss.
        assert!((0.4..0.6).contains(&(off_long(10.0) / off_long(5.0))), "{eps}");
    }
}

#[test]
fn a_light_load_has_the_friction_of_petroff() {
    for L_over_D in [0.05, 0.5, 1.0, 10.0] {
        let shape = film_at(Theory::Finite, 1e-4, L_over_D, Effort::Halvings(2)).shape;
        assert!(near(shape.friction_variable, 2.0 * PI * PI * shape.sommerfeld, 1e-7), "{L_over_D}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// What flows in flows out, no pressure is under 0, and rounds stay few, whatever the film.
    #[test]
    fn every_film_is_in_balance(z in -12.0..9.0f64, stretch in -3.0..2.3f64, halvings in 0u32..4) {
        let (eps, L_over_D) = (1.0 / (1.0 + exp(-z)), exp(stretch));
        let grid = FilmGrid::new(eps, L_over_D, 16 << halvings, 4 << halvings);
        let film = multigrid::film(&grid, Vec::new());
        let flows = flows(&grid, &film.p);
        prop_assert!(film.settled, "{} rounds, imbalance {:e}", film.rounds, film.imbalance);
        prop_assert!((flows.inward - flows.side - flows.rupture).abs() < 1e-8 * flows.side, "{:?}", flows);
        prop_assert!(film.p.iter().all(|p| *p >= 0.0));
    }

    /// A pressure that has to leave at the ends, or that may not flow along the journal, is lower nowhere in its limit: the finite film
    /// carries less than either limit says.
    #[test]
    fn the_finite_film_carries_less_than_both_limits(eps in 0.02..0.97f64, stretch in -2.9..2.2f64) {
        let L_over_D = exp(stretch);
        let found = S(eps, L_over_D);
        prop_assert!(found > 0.999 * short(eps, L_over_D).sommerfeld);
        prop_assert!(found > 0.999 * long(eps, Cavitation::Reynolds).sommerfeld);
    }

    #[test]
    fn a_heavier_load_pushes_the_journal_further_out(eps in 0.02..0.95f64, more in 0.01..0.5f64, L_over_D in 0.1..4.0f64) {
        let further = eps + more * (0.985 - eps);
        let (a, b) = (film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(2)).shape, film_at(Theory::Finite, further, L_over_D, Effort::Halvings(2)).shape);
        prop_assert!(b.sommerfeld < a.sommerfeld && b.attitude_deg < a.attitude_deg && b.friction_variable < a.friction_variable);
        prop_assert!(b.pressure_ratio < a.pressure_ratio && b.side_flow_variable > 0.0);
    }

    /// The film found for a load is the film at the eccentricity found; a bearing twice as large, slack and loaded is the same film.
    #[test]
    fn a_load_and_its_eccentricity_have_one_film(eps in 0.03..0.97f64, L_over_D in 0.2..3.0f64, k in 1.1..4.0f64) {
        let shape = film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(3)).shape;
        let (D, c, eta, rpm) = (100.0, 120.0, 30.0, 600.0);
        let slackness: f64 = 1000.0 * D / c;
        let p_MPa = slackness * slackness * eta * 1e-3 * rpm / 60.0 / shape.sommerfeld / 1e6;
        let load_kN = p_MPa * D * D * L_over_D / 1000.0;
        let request = |k: f64| json!({"load_kN": k * k * load_kN, "speed_rpm": rpm, "diameter_mm": k * D, "length_mm": k * D * L_over_D,
            "clearance_um": k * c, "viscosity_mPas": eta, "tolerance_rel": 0.005});
        let (found, larger) = (ask("film", &request(1.0)), ask("film", &request(k)));
        prop_assert!(near(at(&found, "eps"), eps, 1e-3), "{} {}", at(&found, "eps"), eps);
        prop_assert!(near(at(&larger, "eps"), at(&found, "eps"), 1e-8));
        prop_assert!(near(at(&larger, "max_pressure_MPa"), at(&found, "max_pressure_MPa"), 1e-8));
        prop_assert!(near(at(&larger, "flow_l_min"), k * k * k * at(&found, "flow_l_min"), 1e-8));
        let rise = at(&found, "friction_power_W") * 6e4 / (1.8e6 * (at(&found, "flow_l_min") - 0.5 * at(&found, "side_flow_l_min")));
        prop_assert!(near(at(&found, "temperature_rise_K"), rise, 1e-9));
    }

    /// The slope that u travels by is that of the answers themselves.
    #[test]
    fn the_doubt_of_the_viscosity_reaches_the_film(eta in 10.0..60.0f64) {
        let request = |eta: Value| json!({"load_kN": 20, "speed_rpm": 400, "diameter_mm": 120, "length_mm": 100, "clearance_um": 140,
            "viscosity_mPas": eta, "tolerance_rel": 0.005});
        let with_u = ask("film", &request(json!({"value": eta, "u": 0.05 * eta})));
        let (low, high) = (ask("film", &request(json!(0.99 * eta))), ask("film", &request(json!(1.01 * eta))));
        for key in ["min_film_um", "friction_power_W", "eps", "flow_l_min"] {
            let by_answers = (at(&high, key) - at(&low, key)).abs() / 0.02 * 0.05;
            let told = with_u[key]["u"].as_f64().unwrap();
            prop_assert!((told - by_answers).abs() < 0.03 * told, "{}: {} {}", key, told, by_answers);
        }
    }

    /// Heat made is heat taken, and less cooling is never cooler.
    #[test]
    fn a_bearing_that_settles_gives_off_what_it_makes(
        vg in prop::sample::select(vec![22, 46, 100, 220]), load in 2.0..40.0f64, rpm in 50.0..1200.0f64, c in 90.0..250.0f64,
        surface in 0.4..3.0f64, cooling in prop::sample::select(vec!["housing", "oil", "both"]),
    ) {
        let request = |surface: f64| json!({"lubrication": "oil", "load_kN": load, "speed_rpm": rpm, "diameter_mm": 120, "length_mm": 100,
            "clearance_um": c, "oil": {"iso_vg": vg}, "ambient_C": 20, "inlet_C": 30, "cooling": cooling, "surface_m2": surface,
            "Rz_bush_um": 3});
        let found = ask("running", &request(surface));
        if found["T_bearing_C"].is_null() {
            prop_assert!(found["regime"].is_null() && found["warnings"][0].as_str().unwrap().contains("cool"));
            return Ok(());
        }
        let taken = at(&found, "heat_housing_W") + at(&found, "heat_oil_W");
        prop_assert!(near(at(&found, "friction_power_W"), taken, 1e-5), "{} {}", at(&found, "friction_power_W"), taken);
        let middle = 0.5 * (at(&found, "T_out_C") + if cooling == "housing" { at(&found, "T_out_C") } else { 30.0 });
        prop_assert!(near(at(&found, "T_effective_C"), middle, 1e-12));
        let less = ask("running", &request(0.7 * surface));
        prop_assert!(less["T_bearing_C"].is_null() || at(&less, "T_bearing_C") > at(&found, "T_bearing_C") - 1e-6);
        if found["regime"] == "full film" {
            prop_assert!(at(&found, "film_ratio") >= 1.0 && found["friction_power_high_W"].is_null());
        } else {
            prop_assert!(at(&found, "friction_power_high_W") > 0.0 && found["warnings"][0].as_str().unwrap().contains("far too low"));
        }
    }
}

/// Asks `requests` random requests; a valid one may be refused only in a sentence.
fn answers_or_refuses(kind: &str, requests: u32) {
    let mut dice = film_requests::Dice(20_251);
    let mut answered = 0;
    for number in 0..requests {
        let request = film_requests::request(kind, &mut dice);
        match calc::answer(kind, &request, &Alone, false) {
            Ok(answer) => {
                answered += 1;
                film_requests::every_number(&answer, &mut |x| assert!(x.is_finite(), "{number}: {request}: {answer}"));
                assert!(film_requests::not_positive(&answer).is_none(), "{number}: {request}: {answer}");
                let said = answer["warnings"].to_string();
                assert!(!said.contains("came to its limit before it settled"), "{number}: {request}: {said}");
            }
            Err(refused) => assert!(!refused.allowed.is_empty() && !refused.remedy.is_empty(), "{number}: {request}: {refused}"),
        }
    }
    assert!(answered * 10 >= requests * 9, "{kind}: only {answered} of {requests} were answered");
}

#[test]
fn every_film_that_is_asked_for_is_answered_or_refused() {
    answers_or_refuses("film", 150);
}

#[test]
fn every_running_bearing_that_is_asked_for_is_answered_or_refused() {
    answers_or_refuses("running", 100);
}

#[test]
fn every_clearance_by_its_film_that_is_asked_for_is_answered_or_refused() {
    answers_or_refuses("film-clearance", 20);
}
