//! Laws of the Monte Carlo of the chain (`fit-chance`) that hold for every request.
#![allow(clippy::unwrap_used, reason = "helpers of tests are tests")]

use calc::compute::answer;
use calc::crew::{Alone, Crew};
use proptest::prelude::*;
use serde_json::{Value, json};

/// Two hands that really work side by side, the last block first.
struct Two;

impl Crew for Two {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        std::thread::scope(|scope| {
            scope.spawn(|| (0..blocks).rev().filter(|block| block % 2 == 0).for_each(work));
            (0..blocks).rev().filter(|block| block % 2 == 1).for_each(work);
        });
    }
}

fn request(samples: u64, seed: u64) -> Value {
    json!({
        "samples": samples, "seed": seed,
        "gauge": {"T_C": {"value": 22, "u": 0.5}, "alpha_per_K": 1.15e-5},
        "housing": {"reading_mm": {"value": 240.018, "u": 0.004}, "T_C": {"value": 23, "u": 0.7, "shape": "arcsine"}, "alpha_per_K": 1.15e-5,
            "E_GPa": 206, "nu": 0.3, "Rz_um": {"value": 5, "u": 1.2, "shape": "rectangular"},
            "equivalent_outside_mm": {"value": 430, "u": 15, "shape": "triangular"}},
        "bush": {"reading_mm": {"value": 240.196, "u": 0.0045, "dof": 9}, "T_C": {"value": 31, "u": 1}, "alpha_per_K": 1.8e-5,
            "E_GPa": {"value": 100, "u": 4}, "nu": 0.34, "Rz_um": 6, "bore_mm": {"value": 210.3, "u": 0.008}},
        "journal": {"diameter_mm": {"value": 210, "u": 0.005}, "alpha_per_K": 1.15e-5},
        "working": {"bush_T_C": {"value": 75, "u": 3}, "housing_T_C": {"value": 55, "u": 3}, "journal_T_C": 80},
        "requirements": [{"of": "interference_um", "min": 118, "max": 145}, {"of": "clearance_um", "min": 170}],
        "remedies": []
    })
}

fn answered(request: &Value) -> Value {
    answer("fit-chance", request, &Alone, false).unwrap()
}

fn figure(answer: &Value, path: &[&str]) -> f64 {
    path.iter().fold(answer, |value, part| &value[*part]).as_f64().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn one_hand_and_two_hands_give_the_same_bytes(samples in 1_000_u64..90_000, seed in 0_u64..1000) {
        let mut request = request(samples, seed);
        request["remedies"] = json!([{"name": "cool", "input": "bush/T_C", "value": 23, "u": 0.3}]);
        let alone = answer("fit-chance", &request, &Alone, true).unwrap().to_string();
        prop_assert_eq!(alone, answer("fit-chance", &request, &Two, true).unwrap().to_string());
    }

    #[test]
    fn a_remedy_that_changes_nothing_gains_exactly_nothing(samples in 1_000_u64..20_000, seed in 0_u64..1000) {
        let mut request = request(samples, seed);
        request["remedies"] = json!([
            {"name": "same temperature", "input": "bush/T_C", "value": 31, "u": 1},
            {"name": "same gauge", "input": "gauge/T_C", "value": 22},
            {"name": "same shape", "input": "housing/T_C", "shape": "arcsine"},
            {"name": "same readings", "input": "bush/reading_mm", "dof": 9},
            {"name": "nothing named", "input": "bush/bore_mm"},
        ]);
        for remedy in answered(&request)["remedies"].as_array().unwrap() {
            prop_assert_eq!(remedy["gain"].as_f64(), Some(0.0), "{}", remedy);
        }
    }

    #[test]
    fn all_together_is_never_likelier_than_one(samples in 1_000_u64..20_000, seed in 0_u64..1000, least in 110.0..140.0_f64) {
        let mut request = request(samples, seed);
        request["requirements"][0]["min"] = json!(least);
        let answer = answered(&request);
        for requirement in answer["requirements"].as_array().unwrap() {
            prop_assert!(figure(&answer, &["chance_all"]) <= requirement["chance"].as_f64().unwrap());
        }
    }
}

/// The draws of the other inputs stay: interference does not hear of a journal or of a working temperature.
#[test]
fn an_unrelated_input_does_not_change_the_draws_of_the_others() {
    let with = answered(&request(20_000, 4));
    let mut fewer = request(20_000, 4);
    fewer["journal"]["diameter_mm"] = json!(210);
    fewer.as_object_mut().unwrap().remove("working");
    let without = answered(&fewer);
    for output in ["interference_um", "pressure_MPa", "close_in_um", "fitted_bore_mm"] {
        assert_eq!(with["outputs"][output], without["outputs"][output], "{output}");
    }
    assert_ne!(with["outputs"]["clearance_um"], without["outputs"]["clearance_um"]);
}

/// Linear propagation by hand: u² of the interference is the sum of the squares of (slope times u).
#[test]
fn where_the_chain_is_nearly_straight_the_draws_agree_with_linear_propagation() {
    let mut request = request(400_000, 1);
    request["bush"]["reading_mm"] = json!({"value": 240.196, "u": 0.0045});
    let answer = answered(&request);
    let squares = [
        4.0,                               // housing reading
        4.5,                               // bush reading
        240.0 * 1.15e-5 * 0.7 * 1e3,       // housing temperature
        240.2 * 1.8e-5 * 1.0 * 1e3,        // bush temperature
        0.8 * 1.2,                         // housing roughness
        (240.2 - 240.0) * 1.15e-5 * 0.5e3, // gauge temperature: the same for both
    ]
    .map(|moved: f64| moved * moved);
    let total: f64 = squares.iter().sum();
    let found = figure(&answer, &["outputs", "interference_um", "u"]);
    assert!((found / total.sqrt() - 1.0).abs() < 0.005, "{found}, wanted {}", total.sqrt());
    for (square, input) in squares.iter().zip(["housing/reading_mm", "bush/reading_mm", "housing/T_C", "bush/T_C", "housing/Rz_um"]) {
        let share = figure(&answer, &["shares", "interference_um", input]);
        assert!((share - square / total).abs() < 0.003, "{input}: {share}, wanted {}", square / total);
    }
    assert!(figure(&answer, &["shares", "interference_um", "journal/diameter_mm"]) < 1e-9);
}

/// A bush of `bush_mm` in a hole of 240 mm, nothing of it in doubt but that size by 10 µm.
fn loose(bush_mm: f64) -> Value {
    let mut request = request(300_000, 2);
    request["gauge"]["T_C"] = json!(20.0);
    request["housing"] =
        json!({"reading_mm": 240, "T_C": 20, "alpha_per_K": 1.15e-5, "E_GPa": 206, "nu": 0.3, "equivalent_outside_mm": 430});
    request["bush"] =
        json!({"reading_mm": {"value": bush_mm, "u": 0.01}, "T_C": 20, "alpha_per_K": 1.8e-5, "E_GPa": 100, "nu": 0.34, "bore_mm": 210});
    request["journal"]["diameter_mm"] = json!(209.8);
    request.as_object_mut().unwrap().remove("working");
    request
}

/// Half the draws are loose: p = max(0, δ)/.. is far from a straight line. With one random input its share is the whole.
#[test]
fn the_shares_of_a_joint_that_is_loose_in_half_the_draws_are_still_right() {
    let answer = answered(&loose(240.0));
    let share = figure(&answer, &["shares", "pressure_MPa", "bush/reading_mm"]);
    assert!(share > 0.99, "{share}");
    assert_eq!(figure(&answer, &["outputs", "pressure_MPa", "low"]), 0.0);
    assert!(answer["warnings"].to_string().contains("means in bins"));
}

/// A second input of the same weight: Y = max(0, X1 + X2 - c) with X1, X2 of unit variance, so E[Y|X1] = m Φ(m) + φ(m) with m = X1 - c, and
/// mean and mean square of Y are those of a cut-off normal of standard deviation √2. With c = 1 the joint is loose in its middle, where the
/// pressure has no slope at all.
#[test]
fn two_that_share_a_joint_that_is_loose_in_half_or_in_most_draws_share_alike() {
    let phi = |x: f64| calc::math::exp(-0.5 * x * x) / (2.0 * std::f64::consts::PI).sqrt();
    let below = calc::distributions::normal_chance;
    for (bush_mm, c) in [(240.0, 0.0), (239.99, 1.0)] {
        let mut request = loose(bush_mm);
        request["housing"]["reading_mm"] = json!({"value": 240, "u": 0.01});
        let answer = answered(&request);
        let (mut second, step) = (0.0, 1e-3);
        let mut x = -9.0_f64;
        while x < 9.0 {
            let mean = (x - c) * below(x - c) + phi(x - c);
            second += mean * mean * phi(x) * step;
            x += step;
        }
        let (sd, a) = (2.0_f64.sqrt(), -c / 2.0_f64.sqrt());
        let mean = sd * (phi(a) + a * below(a));
        let square = sd * sd * ((a * a + 1.0) * below(a) + a * phi(a));
        let wanted = (second - mean * mean) / (square - mean * mean);
        for input in ["bush/reading_mm", "housing/reading_mm"] {
            let share = figure(&answer, &["shares", "pressure_MPa", input]);
            assert!((share - wanted).abs() < 0.01, "{input}: {share}, wanted {wanted}");
        }
    }
}

#[test]
fn what_cannot_be_drawn_or_asked_is_refused_by_its_key() {
    let refused = |change: fn(&mut Value)| {
        let mut request = request(1_000, 1);
        change(&mut request);
        answer("fit-chance", &request, &Alone, false).unwrap_err()
    };
    type Spoiled = (fn(&mut Value), &'static str);
    let cases: [Spoiled; 11] = [
        (|r| r["samples"] = json!(999), "samples"),
        (|r| r["bush"]["reading_mm"] = json!({"value": 240.2, "u": 0.004, "dof": 2}), "bush.reading_mm.dof"),
        (|r| r["requirements"][1] = json!({"of": "clearance_um"}), "requirements.1.min"),
        (|r| r["requirements"][0]["of"] = json!("cold_pressure_MPa"), "requirements.0.of"),
        (|r| r["requirements"][0]["of"] = json!("grip"), "requirements.0.of"),
        (|r| r["remedies"] = json!([{"name": "x", "input": "bush/T"}]), "remedies.0.input"),
        (|r| r["remedies"] = json!([{"name": "x", "input": "cold/bush_T_C", "u": 1}]), "remedies.0.input"),
        (|r| r["remedies"] = json!([{"name": "x", "input": "bush/E_GPa", "value": -1}]), "remedies.0.value"),
        (|r| r["bush"]["bore_mm"] = json!(240.3), "bush.bore_mm"),
        (|r| r["housing"]["equivalent_outside_mm"] = json!({"value": 430, "u": 100}), ""),
        (|r| r["journal"] = json!({"diameter_mm": 210}), "journal.alpha_per_K"),
    ];
    for (change, key) in cases {
        assert_eq!(refused(change).key, key);
    }
}

#[test]
fn a_part_that_will_be_read_at_another_temperature_keeps_its_size_at_20() {
    // Only the spread of the bush's temperature decides: at its new value, with the same u, the chance hardly moves.
    let mut request = request(100_000, 1);
    request["remedies"] = json!([
        {"name": "the room gets colder", "input": "bush/T_C", "value": 12},
        {"name": "the gauge gets colder", "input": "gauge/T_C", "value": 12},
        {"name": "a true thermometer", "input": "bush/T_C", "u": 0},
    ]);
    let answer = answered(&request);
    let gain = |i: usize| answer["remedies"][i]["gain"].as_f64().unwrap();
    assert!(gain(0).abs() < 0.001 && gain(1).abs() < 0.001, "{} {}", gain(0), gain(1));
    assert!(gain(2) > 0.03, "{}", gain(2));
}
