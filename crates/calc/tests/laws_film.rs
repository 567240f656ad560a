//! Laws of the oil film and of the bearing that warms itself: limits, comparison, balance of flow and of heat, scaling, and that every
//! request is answered or refused in a sentence.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use calc::crew::Alone;
use calc::math::{PI, exp, pow};
use calc::run::film_shape::{Effort, Theory, film_at, flows};
use calc::run::film_theory::{Cavitation, long, short};
use calc::solve::film_grid::FilmGrid;
use calc::solve::multigrid;
use proptest::prelude::*;
use serde_json::{Map, Value, json};

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

/// A random number generator of the tests: the same requests on every machine.
struct Dice(u64);

impl Dice {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    /// Even in the logarithm.
    fn size(&mut self, low: f64, high: f64) -> f64 {
        low * pow(high / low, self.share())
    }
    fn one<'w>(&mut self, words: &[&'w str]) -> &'w str {
        words[(self.share() * words.len() as f64) as usize]
    }
    fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }
    /// A number, sometimes with u.
    fn quantity(&mut self, low: f64, high: f64) -> Value {
        let value = self.size(low, high);
        if self.chance(0.1) { json!({"value": value, "u": 0.05 * value}) } else { json!(value) }
    }
}

fn random_film(dice: &mut Dice) -> Value {
    let mut request = Map::new();
    let theory = dice.one(&["finite", "finite", "finite", "short", "long"]);
    request.insert("theory".into(), theory.into());
    if theory == "long" {
        request.insert("cavitation".into(), dice.one(&["reynolds", "half", "full"]).into());
    }
    if dice.chance(0.7) {
        request.insert("tolerance_rel".into(), dice.size(1e-5, 0.1).into());
    }
    if dice.chance(0.5) {
        // Up to where a number can no longer tell ε from 1.
        let eps = if dice.chance(0.5) { dice.share() } else { 1.0 - dice.size(1e-15, 1.0) };
        request.insert("eps".into(), eps.clamp(1e-12, 1.0 - 1e-16).into());
        request.insert("L_over_D".into(), dice.quantity(0.05, 10.0));
    } else {
        let D = dice.size(1.0, 2000.0);
        let length = D * dice.size(0.05, 10.0);
        for (key, value) in [
            ("load_kN", dice.quantity(1e-4, 1e4)),
            ("speed_rpm", dice.quantity(1e-3, 1e5)),
            ("diameter_mm", json!(D)),
            ("length_mm", json!(length)),
            ("clearance_um", dice.quantity(1.0, 3000.0)),
            ("viscosity_mPas", dice.quantity(0.1, 1e5)),
        ] {
            request.insert(key.into(), value);
        }
    }
    request.into()
}

fn random_running(dice: &mut Dice) -> Value {
    let mut request = Map::new();
    let lubrication = dice.one(&["oil", "oil", "oil", "grease"]);
    request.insert("lubrication".into(), lubrication.into());
    let D = dice.size(2.0, 2000.0);
    let length = D * dice.size(0.05, 10.0);
    for (key, value) in [
        ("load_kN", dice.quantity(1e-3, 1e4)),
        ("diameter_mm", json!(D)),
        ("length_mm", json!(length)),
        ("ambient_C", json!(-50.0 + 120.0 * dice.share())),
        ("speed_rpm", dice.quantity(1e-2, 3e4)),
    ] {
        request.insert(key.into(), value);
    }
    if lubrication == "grease" {
        let motion = dice.one(&["rotation", "swing", "still"]);
        request.insert("motion".into(), motion.into());
        request.insert("swing_deg".into(), (1.0 + 358.0 * dice.share()).into());
        request.insert("swings_per_min".into(), dice.size(0.1, 100.0).into());
        return request.into();
    }
    let grades = [10.0, 15.0, 22.0, 32.0, 46.0, 68.0, 100.0, 150.0, 220.0, 320.0, 460.0, 680.0, 1000.0];
    request.insert("oil".into(), json!({"iso_vg": grades[(dice.share() * 13.0) as usize]}));
    request.insert("cooling".into(), dice.one(&["housing", "oil", "both"]).into());
    request.insert("clearance_um".into(), (1.0 + D * dice.size(0.2, 5.0)).into());
    let optional = [
        ("inlet_C", json!(-20.0 + 100.0 * dice.share())),
        ("surface_m2", dice.quantity(1e-3, 100.0)),
        ("heat_transfer_W_m2K", dice.quantity(1.0, 300.0)),
        ("alpha_bore_per_K", json!(2.5e-5 * dice.share())),
        ("alpha_journal_per_K", json!(2.5e-5 * dice.share())),
        ("journal_excess_K", json!(60.0 * dice.share())),
        ("Rz_bush_um", dice.quantity(0.1, 30.0)),
        ("Rz_journal_um", json!(dice.size(0.1, 30.0))),
        ("tilt_mrad", json!(dice.size(1e-3, 3.0))),
    ];
    for (key, value) in optional {
        if dice.chance(0.5) {
            request.insert(key.into(), value);
        }
    }
    if dice.chance(0.3) {
        request.insert("supply_MPa".into(), dice.size(0.01, 1.0).into());
        request.insert("hole_mm".into(), (0.69 * length * dice.share().max(0.01)).into());
    }
    request.into()
}

/// Every number of an answer, wherever it stands.
fn every_number(value: &Value, take: &mut impl FnMut(f64)) {
    match value {
        Value::Number(number) => take(number.as_f64().unwrap_or(f64::NAN)),
        Value::Array(list) => list.iter().for_each(|value| every_number(value, take)),
        Value::Object(map) => map.values().for_each(|value| every_number(value, take)),
        _ => {}
    }
}

/// Asks `requests` random requests; a valid one may be refused only in a sentence.
fn answers_or_refuses(kind: &str, requests: u32, random: fn(&mut Dice) -> Value) {
    let mut dice = Dice(20_251);
    let mut answered = 0;
    for number in 0..requests {
        let request = random(&mut dice);
        match calc::answer(kind, &request, &Alone, false) {
            Ok(answer) => {
                answered += 1;
                every_number(&answer, &mut |x| assert!(x.is_finite(), "{number}: {request}: {answer}"));
                for key in ["pressure_ratio", "max_pressure_MPa", "min_film_um", "friction_coefficient", "sommerfeld"] {
                    let x = answer.get(key).and_then(|x| x.get("value").unwrap_or(x).as_f64());
                    assert!(x.is_none_or(|x| x > 0.0), "{number}: {key} of {request}: {answer}");
                }
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
    answers_or_refuses("film", 150, random_film);
}

#[test]
fn every_running_bearing_that_is_asked_for_is_answered_or_refused() {
    answers_or_refuses("running", 100, random_running);
}
