//! Traps and refusals of `fit`.

use serde_json::{Value, json};

use crate::compute::answer;
use crate::crew::Alone;
use crate::refused::Refused;

type Change = fn(&mut Value);

fn request() -> Value {
    json!({"rings": [
        {"bore_mm": 200, "outside_mm": 230.15, "E_GPa": 100, "nu": 0.35, "alpha_per_K": 18e-6, "yield_MPa": 138},
        {"bore_mm": 230, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11.5e-6, "yield_MPa": 305}]})
}

fn fit(change: impl Fn(&mut Value)) -> Result<Value, Refused> {
    let mut request = request();
    change(&mut request);
    answer("fit", &request, &Alone, false)
}

fn refused(change: impl Fn(&mut Value)) -> String {
    fit(change).unwrap_err().key
}

fn warns(answer: &Value, word: &str) -> bool {
    answer["warnings"].as_array().unwrap().iter().any(|said| said.as_str().unwrap().contains(word))
}

#[test]
fn what_a_table_of_keys_cannot_see_is_refused_by_its_key() {
    assert_eq!(refused(|r| r["rings"][1]["bore_mm"] = json!(200)), "rings.1.bore_mm");
    assert_eq!(refused(|r| r["rings"][0]["bore_mm"] = json!(231)), "rings.0.bore_mm");
    assert_eq!(refused(|r| r["length_mm"] = json!(100)), "length_mm");
    assert_eq!(refused(|r| r["states"] = json!([{"T_C": [20, -300]}])), "states.0.T_C.1");
    assert_eq!(refused(|r| r["states"] = json!([{"T_C": [20]}])), "states.0.T_C");
    assert_eq!(refused(|r| r["cycle_T_C"] = json!([[20, 20, 20]])), "cycle_T_C.0");
    assert_eq!(
        refused(|r| {
            r["axial"] = json!("held");
            r["cycle_T_C"] = json!([[90, 60]]);
        }),
        "cycle_T_C"
    );
    let flows = |r: &mut Value| {
        r["rings"][1]["outside_mm"] = json!(231);
        r["rings"][1]["yield_MPa"] = json!(50);
    };
    assert_eq!(refused(flows), "rings.1.yield_MPa", "the housing flows through its whole wall");
}

#[test]
fn a_calm_fit_has_nothing_to_warn_of() {
    assert_eq!(fit(|_| ()).unwrap()["warnings"], json!([]));
}

#[test]
fn each_warning_is_said_when_it_is_due() {
    let cases: [(&str, Change); 12] = [
        ("outside the usual", |r| r["rings"][0]["outside_mm"] = json!(230.02)),
        ("no longer good", |r| r["states"] = json!([{"T_C": [-250, 20]}])),
        ("not checked", |r| {
            r["rings"][0].as_object_mut().unwrap().remove("yield_MPa");
        }),
        ("beyond the elastic answer", |r| {
            r["axial"] = json!("stuck");
            r["rings"][0]["outside_mm"] = json!(230.5);
        }),
        ("answered as rings that slide freely", |r| {
            r["axial"] = json!("held");
            r["states"] = json!([{"T_C": [-70, -70]}]);
        }),
        ("lets go", |r| r["states"] = json!([{"T_C": [-100, 20]}])),
        ("straight line", |r| r["rings"][0]["outside_mm"] = json!(230.25)),
        ("may lie loose", |r| r["cycle_T_C"] = json!([[150, 110]])),
        ("or more is advised", |r| {
            let load = json!({"length_mm": 100, "mu_low": 0.1, "mu_high": 0.2, "axial_kN": 50});
            r.as_object_mut().unwrap().extend(load.as_object().unwrap().clone());
        }),
        ("not held against friction", |r| r["axial_kN"] = json!(50)),
        ("In the cycle: only the bush's yield", |r| {
            r["rings"][1].as_object_mut().unwrap().remove("yield_MPa");
            r["rings"][1]["tension_limit_MPa"] = json!(36);
            r["cycle_T_C"] = json!([[160, 110]]);
        }),
        ("flow back", |r| {
            r["rings"][0] = json!({"bore_mm": 100, "outside_mm": 230.35, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11e-6, "yield_MPa": 900});
            r["rings"][1]["outside_mm"] = json!(900);
            r["rings"][1]["yield_MPa"] = json!(200);
        }),
    ];
    for (word, change) in cases {
        let answer = fit(change).unwrap();
        assert!(warns(&answer, word), "{word}: {}", answer["warnings"]);
    }
}

#[test]
fn a_colder_state_after_a_set_keeps_it_and_a_hotter_one_adds_to_it() {
    let answer = fit(|r| {
        r["rings"][0]["outside_mm"] = json!(230.36);
        r["states"] = json!([{"T_C": [20, 20]}, {"T_C": [0, 0]}, {"T_C": [60, 60]}]);
    });
    let set = |i: usize| answer.as_ref().unwrap()["states"][i]["rings"][0]["set_outside_um"].as_f64().unwrap();
    assert!(set(0) < 0.0);
    assert_eq!(set(1), set(0));
    assert!(set(2) < set(0));
}

#[test]
fn only_the_figures_of_the_contract_carry_a_doubt() {
    let answer = fit(|r| r["rings"][0]["outside_mm"] = json!({"value": 230.15, "u": 0.004})).unwrap();
    let joint = &answer["states"][0]["joints"][0];
    assert!((joint["effective_um"]["u"].as_f64().unwrap() - 4.0).abs() < 1e-6, "{joint}");
    assert!(joint["interference_um"].is_f64() && answer["lets_go_C"]["u"].as_f64().unwrap() > 0.0, "{answer}");
}

#[test]
fn a_limit_that_is_reached_on_one_side_of_a_doubt_only_still_has_one() {
    let answer = fit(|r| r["rings"][0]["outside_mm"] = json!({"value": 230.305_671, "u": 0.01})).unwrap();
    assert!(answer["takes_set_C"]["u"].as_f64().is_some_and(|u| u > 0.0), "{}", answer["takes_set_C"]);
}
