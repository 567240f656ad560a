//! Traps and refusals of the choice of a band.

use serde_json::Value;

use crate::compute::{answer, plain};
use crate::crew::Alone;
use crate::refused::Refused;

const BUSH: &str = r#"{"bore_mm": 208, "E_GPa": 100, "nu": 0.34, "alpha_per_K": 18e-6, "yield_MPa": 138, "Rz_outside_um": 6}"#;
const HOUSING: &str =
    r#"{"bore_mm": 240.031, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11.7e-6, "yield_MPa": 305, "Rz_bore_um": 6}"#;
const STATES: &str = r#"[{"name": "cold start", "T_C": [-20, -20]}, {"name": "running", "T_C": [60, 45]}]"#;

fn asked(bush: &str, housing: &str, states: &str, rest: &str) -> Result<Value, Refused> {
    let request = format!(r#"{{"rings": [{bush}, {housing}], "length_mm": 180, "states": {states}{rest}}}"#);
    answer("fit-choose", &plain(&request).unwrap(), &Alone, false)
}

fn with(rest: &str) -> Value {
    asked(BUSH, HOUSING, STATES, rest).unwrap()
}

#[test]
fn the_sentence_rounds_into_the_band() {
    let said = with("");
    let say = said["say"].as_str().unwrap();
    assert!(say.starts_with("Turn to 240.118 to 240.146 at 20 °C (interference 87 to 115 µm over the measured 240.031): holds from −20 °C (cold start) to 60 °C (running)"), "{say}");
    assert!(say.contains("the least is set by the grip at \"cold start\", the most by the bush at \"running\""), "{say}");
    assert_eq!(said["why"], Value::Null);
}

#[test]
fn a_band_under_a_micrometre_is_shown_in_tenths() {
    let say = with(r#", "outside_tolerance_um": 0.5"#)["say"].as_str().unwrap().to_owned();
    let sizes: Vec<f64> = say.split(' ').filter_map(|word| word.parse().ok()).filter(|size| *size > 200.0).collect();
    assert!(sizes.len() >= 2 && sizes[0] < sizes[1] && sizes[1] - sizes[0] <= 0.0005 + 1e-9, "{say}");
}

#[test]
fn the_reason_names_the_hard_bounds_though_the_press_decides_the_window() {
    let said = with(r#", "torque_Nm": 9000, "press_limit_kN": 20"#);
    assert_eq!(said["governed_high"]["bound"], "press");
    let why = said["why"].as_str().unwrap();
    assert!(why.contains("cold start") && why.contains("running") && why.contains("takes a set"), "{why}");
}

#[test]
fn a_press_that_is_too_small_is_said_and_left_out() {
    let said = with(r#", "press_limit_kN": 60"#);
    assert_eq!((&said["seating"], &said["left_out"]), (&Value::from("shrink"), &plain(r#"["press"]"#).unwrap()));
    assert!(said["warnings"].to_string().contains("shrink"));
}

#[test]
fn a_seat_beyond_the_tables_needs_its_tolerance_and_has_no_class() {
    let (bush, housing) = (BUSH.replace("208", "3000"), HOUSING.replace("240.031", "3200").replace("420", "4000"));
    assert_eq!(asked(&bush, &housing, STATES, "").unwrap_err().key, "outside_tolerance_um");
    let said = asked(&bush, &housing, STATES, r#", "outside_tolerance_um": 100"#).unwrap();
    assert_eq!(said["classes"].as_array().unwrap().len(), 0);
}

#[test]
fn a_brittle_and_tough_limit_of_one_housing_take_the_lesser() {
    let brittle = HOUSING.replace(r#""yield_MPa": 305"#, r#""yield_MPa": 305, "tension_limit_MPa": 40"#);
    let bound = |housing: &str| {
        let said = asked(BUSH, housing, STATES, "").unwrap();
        let bounds = said["bounds"].as_array().unwrap().clone();
        bounds.iter().find(|bound| bound["bound"] == "housing").unwrap()["interference_um"].as_f64().unwrap()
    };
    assert!(bound(&brittle) < bound(HOUSING) / 3.0);
    assert!((bound(&brittle) - bound(&brittle.replace(r#""yield_MPa": 305, "#, ""))).abs() < 1e-9);
}

#[test]
fn a_state_far_from_20_is_answered_with_a_warning() {
    let said = asked(BUSH, HOUSING, r#"[{"name": "kiln", "T_C": [300, 300]}]"#, "").unwrap();
    assert!(said["warnings"].to_string().contains("250 K"));
}

#[test]
fn what_can_not_be_answered_is_refused_by_name() {
    let refused = |bush: &str, housing: &str, states: &str, rest: &str| asked(bush, housing, states, rest).unwrap_err().key;
    for (rest, key) in [
        (r#", "mu_low": 0.2"#, "mu_low"),
        (r#", "mu_low": 0, "axial_kN": 1"#, "mu_low"),
        (r#", "safety": 0.99"#, "safety"),
        (r#", "set_use_max": 0"#, "set_use_max"),
        (r#", "housing_use_max": 1.01"#, "housing_use_max"),
        (r#", "outside_tolerance_um": 0"#, "outside_tolerance_um"),
        (r#", "press_limit_kN": 0"#, "press_limit_kN"),
    ] {
        assert_eq!(refused(BUSH, HOUSING, STATES, rest), key);
    }
    let more = |ring: &str, key: &str| ring.replacen('{', &format!("{{\"{key}\": 10, "), 1);
    assert_eq!(refused(&more(BUSH, "outside_mm"), HOUSING, STATES, ""), "rings.0.outside_mm");
    assert_eq!(refused(&more(BUSH, "tension_limit_MPa"), HOUSING, STATES, ""), "rings.0.tension_limit_MPa");
    assert_eq!(refused(BUSH, &more(HOUSING, "Rz_outside_um"), STATES, ""), "rings.1.Rz_outside_um");
    assert_eq!(refused(BUSH, &HOUSING.replace("\"outside_mm\": 420, ", ""), STATES, ""), "rings.1.outside_mm");
    assert_eq!(refused(BUSH, &HOUSING.replace("420", "240.031"), STATES, ""), "rings.1.outside_mm");
    assert_eq!(refused(&BUSH.replace("208", "240.031"), HOUSING, STATES, ""), "rings.0.bore_mm");
    assert_eq!(refused(BUSH, &format!("{HOUSING}, {HOUSING}"), STATES, ""), "rings");
    assert_eq!(refused(BUSH, HOUSING, r#"[{"name": "cold", "T_C": [-20]}]"#, ""), "states.0.T_C");
    assert_eq!(refused(BUSH, HOUSING, r#"[{"name": "cold", "T_C": [-20, -274]}]"#, ""), "states.0.T_C.1");
    assert_eq!(refused(BUSH, HOUSING, "[]", ""), "states");
}
