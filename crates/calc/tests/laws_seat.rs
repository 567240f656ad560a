//! Laws of the bath, the oven and the way to the hole that must stand whatever the figures: monotony, limits, conservation, no surprise.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

mod seat_requests;

use calc::crew::Alone;
use proptest::prelude::*;
use serde_json::{Value, json};

fn ask(kind: &str, request: &Value) -> Value {
    calc::answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{kind} {request}: {refused}"))
}

fn at(answer: &Value, path: &str) -> f64 {
    let found = path.split('.').fold(answer, |value, part| part.parse::<usize>().map_or(&value[part], |i| &value[i]));
    found.as_f64().or(found["value"].as_f64()).unwrap_or_else(|| panic!("no number at {path}: {found}"))
}

fn with(mut request: Value, key: &str, value: Value) -> Value {
    request[key] = value;
    request
}

fn bath(D: f64, wall: f64, L: f64, bath: &str) -> Value {
    json!({"bush": {"outside_mm": D, "bore_mm": D * (1.0 - 2.0 * wall), "length_mm": L * D, "alloy": "CC493K"}, "bath": bath, "bath_C": null})
}

fn hole(D: f64, over: f64, start: f64) -> Value {
    json!({"bush": {"outside_mm": D * (1.0 + over), "bore_mm": 0.85 * D, "length_mm": 0.6 * D, "alloy": "CC493K", "start_C": start},
        "housing": {"bore_mm": D, "alpha_per_K": 11.7e-6, "T_C": 20}, "h_air_u_rel": 0})
}

/// Fires some hundred random requests of a kind: each answers, or refuses in a sentence; an answer has cautions or figures, never NaN.
fn fire(kind: &str, count: u64) {
    let mut answered = 0;
    for i in 0..count {
        let request = seat_requests::request(kind, i);
        match calc::answer(kind, &request, &Alone, false) {
            Ok(answer) => {
                answered += 1;
                assert!(!answer["warnings"].as_array().unwrap().is_empty(), "{kind} {i}: no caution");
            }
            Err(refused) => assert!(!refused.allowed.is_empty() && !refused.remedy.is_empty(), "{kind} {i}: {refused}"),
        }
    }
    assert!(answered * 2 > count, "{kind}: only {answered} of {count} were answered");
}

#[test]
fn random_baths_answer_or_refuse() {
    fire("cooling", 150);
}

#[test]
fn random_ovens_answer_or_refuse() {
    fire("heating", 400);
}

#[test]
fn random_windows_answer_or_refuse() {
    fire("window", 250);
}

#[test]
fn cautions_stand_first_and_figures_after_them() {
    for (name, word) in [("liquid_nitrogen", "burns"), ("dry_ice", "carbon dioxide"), ("dry_ice_bath", "carbon dioxide")] {
        let said = ask("cooling", &with(bath(60.0, 0.1, 0.5, name), "within_K", json!(40)));
        assert!(said["warnings"][0].as_str().unwrap().contains(word), "{name}: {}", said["warnings"]);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// A colder part is never larger, and one that is nearer to its bath has lain there longer and given up more.
    #[test]
    fn nearer_takes_longer(D in 50.0..400.0f64, wall in 0.04..0.12f64, L in 0.3..1.2f64, near in 1.0..10.0f64, more in 1.2..4.0f64) {
        let asked = bath(D, wall, L, "dry_ice_bath");
        let (near, far) = (ask("cooling", &with(asked.clone(), "within_K", json!(near))), ask("cooling", &with(asked, "within_K", json!(near * more))));
        prop_assert!(at(&near, "time_s") > at(&far, "time_s") && at(&near, "heat_kJ") > at(&far, "heat_kJ"));
        prop_assert!(at(&near, "contraction_um") > at(&far, "contraction_um"));
        prop_assert!(at(&near, "time_low_s") < at(&near, "time_s") && at(&near, "time_s") < at(&near, "time_high_s"));
    }

    /// Heat given up is no more than the whole way to the bath holds, and no less than what the slowest point says.
    #[test]
    fn heat_lies_between_its_bounds(D in 50.0..400.0f64, wall in 0.04..0.12f64, L in 0.3..1.2f64, h in 5.0..3000.0f64) {
        let said = ask("cooling", &with(bath(D, wall, L, "dry_ice_bath"), "h_W_m2K", json!(h)));
        let mass = calc::seat::chill::ring_mass_kg(D, D * (1.0 - 2.0 * wall), L * D, 8800.0);
        let to = |T: f64| mass * calc::seat::chill::heat_kJ_per_kg(376.0, 20.0, T);
        prop_assert!(at(&said, "heat_kJ") <= to(-78.5) * (1.0 + 1e-9) && at(&said, "heat_kJ") >= to(at(&said, "slowest_C")) * (1.0 - 1e-9));
    }

    /// A thin part follows one temperature throughout; a thick one is slower.
    #[test]
    fn a_thin_bush_follows_the_lumped_law(D in 50.0..400.0f64, wall in 0.02..0.12f64, L in 0.3..1.2f64, h in 5.0..400.0f64, cold in -190.0..-30.0f64) {
        let asked = json!({"bush": {"outside_mm": D, "bore_mm": D * (1.0 - 2.0 * wall), "length_mm": L * D, "alloy": "CC493K"}, "bath": "custom", "bath_C": cold, "h_W_m2K": h, "properties": "low_temperature"});
        let said = ask("cooling", &asked);
        let off = at(&said, "time_s") / at(&said, "lumped_time_s") - 1.0;
        prop_assert!(off > -0.004, "{off}");
        if at(&said, "biot") < 0.01 && L * D < 60.0 {
            prop_assert!(off < 0.02, "{off} at Bi {}", at(&said, "biot"));
        }
    }

    /// Twice the power halves the time of induction and doubles its lag; an oven's bore grows with its medium.
    #[test]
    fn ovens_and_coils_are_in_order(bore in 50.0..300.0f64, share in 1.2..2.5f64, kW in 1.0..50.0f64, T in 60.0..250.0f64, more in 5.0..50.0f64) {
        let housing = json!({"outside_mm": bore * share, "bore_mm": bore, "length_mm": bore, "metal": "GE240"});
        let coil = |kW: f64| ask("heating", &json!({"housing": housing, "method": "induction", "power_kW": kW, "target_C": T}));
        let (one, two) = (coil(kW), coil(2.0 * kW));
        prop_assert!((at(&one, "time_s") / at(&two, "time_s") - 2.0).abs() < 1e-9 && (at(&two, "lag_K") / at(&one, "lag_K") - 2.0).abs() < 1e-9);
        let oven = |T: f64| ask("heating", &json!({"housing": housing, "method": "fan_oven", "medium_C": T}));
        prop_assert!(at(&oven(T + more), "growth_um") > at(&oven(T), "growth_um"));
    }

    /// The gap falls all the way; a wanted clearance that is larger is lost sooner; touch comes last.
    #[test]
    fn the_window_closes(D in 50.0..400.0f64, over in 0.0002..0.0008f64, start in -195.0..-90.0f64, hand in 0.00005..0.0002f64) {
        let asked = hole(D, over, start);
        let said = ask("window", &with(asked.clone(), "hand_clearance_mm", json!(hand * D)));
        let tighter = ask("window", &with(asked, "hand_clearance_mm", json!(2.0 * hand * D)));
        prop_assert!(at(&said, "seconds_to_hand") >= at(&tighter, "seconds_to_hand") && at(&said, "seconds_to_touch") > at(&said, "seconds_to_hand"));
        let gaps: Vec<f64> = said["curve"].as_array().unwrap().iter().map(|point| point["clearance_mm"].as_f64().unwrap()).collect();
        prop_assert!(gaps.windows(2).all(|pair| pair[1] < pair[0]) && gaps[gaps.len() - 1].abs() < 1e-6, "{gaps:?}");
        prop_assert!((at(&said, "seconds_to_hand_low") - at(&said, "seconds_to_hand")).abs() < 1e-6 * at(&said, "seconds_to_hand") + 1e-9);
    }

    /// In the hole it warms sooner than in air, and the later it enters the less is left.
    #[test]
    fn the_hole_is_quicker_than_the_air(D in 50.0..400.0f64, over in 0.0002..0.0008f64, start in -195.0..-120.0f64, entry in 5.0..60.0f64) {
        let asked = hole(D, over, start);
        let early = ask("window", &with(asked.clone(), "entry_s", json!(entry)));
        let late = ask("window", &with(asked, "entry_s", json!(2.0 * entry)));
        prop_assert!(at(&early, "seconds_to_grip_in_hole") + entry < at(&early, "seconds_to_touch"));
        prop_assert!(at(&late, "seconds_to_grip_in_hole") <= at(&early, "seconds_to_grip_in_hole"));
        prop_assert!(at(&late, "entry_clearance_mm") < at(&early, "entry_clearance_mm") && at(&early, "tilt_max_deg") > at(&late, "tilt_max_deg"));
    }
}
