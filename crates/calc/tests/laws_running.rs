//! Laws that the kinds of running must keep whatever the figures: scaling, monotony, balance, and what must not matter.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use calc::crew::Alone;
use proptest::prelude::*;
use serde_json::{Value, json};

fn ask(kind: &str, request: &Value) -> Value {
    calc::answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{kind} {request}: {refused}"))
}

fn at(answer: &Value, path: &str) -> f64 {
    let found = path.split('.').fold(answer, |value, part| part.parse::<usize>().map_or(&value[part], |i| &value[i]));
    found.as_f64().unwrap_or_else(|| panic!("no number at {path}: {found}"))
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-9)
}

fn turning(load_kN: f64, D: f64, L: f64, rpm: f64) -> Value {
    ask(
        "duty",
        &json!({"load_kN": load_kN, "diameter_mm": D, "length_mm": L, "motion": "rotation", "speed_rpm": rpm, "lubrication": "oil",
            "viscosity_mPas": 50}),
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A bearing twice as large in every length under four times the load: the same pressure, twice the speed, half the transition speed.
    #[test]
    fn duty_scales_with_the_size(load in 1.0..500.0f64, D in 20.0..400.0f64, L in 20.0..400.0f64, rpm in 1.0..500.0f64, k in 1.1..5.0f64) {
        let (small, large) = (turning(load, D, L, rpm), turning(load * k * k, k * D, k * L, rpm));
        prop_assert!(near(at(&small, "pressure_MPa"), at(&large, "pressure_MPa")));
        prop_assert!(near(k * at(&small, "speed_m_s"), at(&large, "speed_m_s")));
        prop_assert!(near(at(&small, "transition_rpm"), k * at(&large, "transition_rpm")));
    }

    #[test]
    fn pressure_falls_as_the_area_grows(load in 1.0..500.0f64, D in 20.0..400.0f64, L in 20.0..400.0f64, k in 1.1..5.0f64) {
        let (short, long) = (turning(load, D, L, 10.0), turning(load, D, k * L, 10.0));
        prop_assert!(near(at(&short, "pressure_MPa"), k * at(&long, "pressure_MPa")));
        prop_assert!(near(at(&short, "pv_MPa_m_s"), at(&short, "pressure_MPa") * at(&short, "speed_m_s")));
    }

    #[test]
    fn a_warmer_oil_is_never_thicker(vg in prop::sample::select(vec![10, 32, 46, 100, 220, 460, 1000]), T in -20.0..150.0f64, dT in 0.1..40.0f64) {
        let eta = |T: f64| at(&ask("viscosity", &json!({"oil": {"iso_vg": vg}, "T_C": T})), "dynamic_mPas");
        prop_assert!(eta(T + dT) < eta(T));
    }

    #[test]
    fn one_metal_at_one_temperature_keeps_its_clearance(D in 20.0..500.0f64, alpha in 5e-6..25e-6f64, T in -40.0..200.0f64, I in 1.0..300.0f64) {
        let found = ask("clearance", &json!({
            "journal_mm": D, "length_mm": D, "outside_mm": 1.2 * D, "alpha_bush_per_K": alpha, "alpha_housing_per_K": alpha,
            "alpha_journal_per_K": alpha, "interference_um": I, "regime": "mixed", "lubrication": "oil", "motion": "rotation",
            "states": [{"name": "even", "bush_C": T, "housing_C": T, "journal_C": T}]}));
        prop_assert!(at(&found, "states.0.loss_um").abs() < 1e-6);
        prop_assert_eq!(&found["states"][0]["open"], false);
    }

    #[test]
    fn the_tool_stays_inside_the_end_lands(
        shape in prop::sample::select(vec!["axial", "spiral", "two_loop"]), D in 30.0..400.0f64, L in 30.0..400.0f64, turns in 0.3..3.0f64,
        load_deg in -400.0..400.0f64, points in 2u32..200,
    ) {
        let land = 0.1 * L;
        let found = ask("groove", &json!({"shape": shape, "bore_mm": D, "length_mm": L, "wall_mm": 10, "lubrication": "grease",
            "turns": turns, "end_land_mm": land, "load_angle_deg": load_deg, "points": points, "width_mm": 3, "depth_mm": 1}));
        let path = found["toolpath"].as_array().unwrap();
        prop_assert_eq!(path.len(), points as usize);
        for point in path {
            let (z, depth) = (at(point, "z_mm"), at(point, "depth_mm"));
            prop_assert!(z >= land - 1e-9 && z <= L - land + 1e-9, "z {} with a land of {} on {}", z, land, L);
            prop_assert!((0.0..=1.0 + 1e-12).contains(&depth));
        }
        // What runs out at the ends starts and ends at the surface.
        if shape != "two_loop" {
            prop_assert!(at(&path[0], "depth_mm") == 0.0 && at(&path[path.len() - 1], "depth_mm") == 0.0);
        }
    }

    #[test]
    fn what_is_bought_is_finished_or_swarf(n in 1u32..40, D in 30.0..300.0f64, L in 20.0..300.0f64, price in 1.0..40.0f64, more in 0.1..10.0f64) {
        let request = |price: f64| json!({
            "alloy": "CC493K", "count": n, "finished": {"outside_mm": 1.2 * D, "bore_mm": D, "length_mm": L}, "swarf_price_per_kg": 3,
            "work": {"setup_min": 20, "rate_per_h": 60, "steps": [{"name": "turn", "minutes": 30}]}, "scrap_chance": 0.05, "margin_share": 0.2,
            "blanks": [{"kind": "cored_bar", "outside_mm": 1.2 * D + 6.0, "bore_mm": D - 6.0, "length_mm": 2000, "price_per_kg": price}]});
        let found = ask("stock", &request(price));
        let (bought, swarf) = (at(&found, "options.0.mass_blank_kg"), at(&found, "options.0.swarf_kg"));
        prop_assert!(near(bought, f64::from(n) * at(&found, "mass_finished_kg") + swarf) && swarf > 0.0);
        prop_assert!(near(at(&found, "options.0.net_cost"), at(&found, "options.0.cost") - at(&found, "options.0.swarf_return")));
        prop_assert!(at(&ask("stock", &request(price + more)), "quote.value") > at(&found, "quote.value"));
    }

    #[test]
    fn the_order_in_which_alloys_are_left_out_does_not_matter(
        ids in prop::sample::subsequence(vec!["CC493K", "C93200", "CC483K", "C90700", "CC333G", "CC762S"], 2..6), p in 1.0..60.0f64,
    ) {
        let with = |ids: &[&str]| ask("alloys", &json!({"pressure_MPa": p, "speed_m_s": 0.01, "journal_HB": 350, "exclude": ids}));
        let there = with(&ids);
        let mut turned = ids.clone();
        turned.reverse();
        prop_assert_eq!(&there, &with(&turned));
        // Leaving some out does not change the points or the order of the others.
        let all = with(&[]);
        let order = |answer: &Value| -> Vec<Value> {
            let ranked = answer["ranked"].as_array().unwrap().iter();
            ranked.filter(|ranked| !ids.contains(&ranked["id"].as_str().unwrap())).cloned().collect()
        };
        prop_assert_eq!(order(&there), order(&all));
    }

    #[test]
    fn points_stay_within_0_and_100_and_fall_from_place_to_place(p in 0.1..120.0f64, v in 0.0..5.0f64, hardness in 150.0..650.0f64) {
        let found = ask("alloys", &json!({"pressure_MPa": p, "speed_m_s": v, "journal_HB": hardness, "relube": "marginal", "dirt": "gritty"}));
        let points: Vec<f64> = found["ranked"].as_array().unwrap().iter().map(|ranked| at(ranked, "score")).collect();
        prop_assert!(points.iter().all(|points| (0.0..=100.0).contains(points)) && points.is_sorted_by(|a, b| a >= b));
        prop_assert_eq!(at(&found, "counts.ranked") + at(&found, "counts.excluded"), 26.0);
    }
}
