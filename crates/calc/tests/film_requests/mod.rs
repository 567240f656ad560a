//! Random requests of `film`, `running` and `film-clearance` that their key tables allow, from usual to far beyond what a workshop sees.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]

use calc::math::pow;
use serde_json::{Map, Value, json};

/// A random number generator of the tests: the same requests on every machine.
pub struct Dice(pub u64);

impl Dice {
    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    /// Even in the logarithm.
    pub fn size(&mut self, low: f64, high: f64) -> f64 {
        low * pow(high / low, self.share())
    }
    pub fn one<'w>(&mut self, words: &[&'w str]) -> &'w str {
        words[(self.share() * words.len() as f64) as usize]
    }
    pub fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }
    /// A number, sometimes with u.
    pub fn quantity(&mut self, low: f64, high: f64) -> Value {
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
    request.insert("picture".into(), dice.chance(0.3).into());
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

/// A journal in oil whose clearance is to be chosen: the film of a running bearing inside a seat.
fn random_film_clearance(dice: &mut Dice) -> Value {
    let D = dice.size(10.0, 800.0);
    let outside = D * (1.0 + dice.size(0.05, 0.5));
    let state = |dice: &mut Dice| {
        let T = -30.0 + 130.0 * dice.share();
        json!({"name": "a state", "bush_C": T, "housing_C": T - 20.0 * dice.share(), "journal_C": T + 40.0 * dice.share()})
    };
    let states: Vec<Value> = (0..3).map(|_| state(dice)).collect();
    let grades = [32.0, 46.0, 68.0, 100.0, 150.0, 220.0, 320.0, 460.0];
    json!({
        "clearance": {"journal_mm": dice.quantity(D, D * 1.0001), "length_mm": D * dice.size(0.2, 2.0), "outside_mm": outside,
            "alloy": "CC493K", "alpha_housing_per_K": 1e-5 + 1.4e-5 * dice.share(), "alpha_journal_per_K": 1.15e-5,
            "interference_um": dice.share() * outside, "regime": dice.one(&["full film", "mixed"]), "lubrication": "oil",
            "motion": "rotation", "states": states, "speed_m_s": 1, "bore_u_um": dice.size(1.0, 20.0), "tolerance_um": dice.size(5.0, 200.0),
            "Rz_bush_um": dice.size(0.2, 20.0), "Rz_journal_um": dice.size(0.2, 10.0), "tilt_mrad": dice.size(1e-3, 1.0)},
        "film": {"load_kN": dice.quantity(0.01, 3000.0), "speed_rpm": dice.quantity(1.0, 5000.0),
            "oil": {"iso_vg": grades[(dice.share() * 8.0) as usize]}, "ambient_C": -20.0 + 60.0 * dice.share(),
            "cooling": dice.one(&["housing", "oil", "both"]), "inlet_C": 20.0 + 60.0 * dice.share(), "surface_m2": dice.quantity(0.01, 20.0)}
    })
}

/// The next request of a kind.
pub fn request(kind: &str, dice: &mut Dice) -> Value {
    match kind {
        "film" => random_film(dice),
        "running" => random_running(dice),
        _ => random_film_clearance(dice),
    }
}

/// A figure of a film that must be over nothing and is not, or a pressure of its picture that is under nothing.
pub fn not_positive(answer: &Value) -> Option<String> {
    let keys = ["pressure_ratio", "max_pressure_MPa", "min_film_um", "friction_coefficient", "sommerfeld"];
    let under = |key: &&str| answer.get(key).and_then(|x| x.get("value").unwrap_or(x).as_f64()).is_some_and(|x| x <= 0.0);
    if let Some(key) = keys.into_iter().find(|key| under(key)) {
        return Some(key.to_owned());
    }
    let mut least: f64 = 0.0;
    answer.pointer("/picture/share").into_iter().for_each(|share| every_number(share, &mut |p| least = least.min(p)));
    (least < 0.0).then(|| "picture".to_owned())
}

/// Every number of an answer, wherever it stands.
pub fn every_number(value: &Value, take: &mut impl FnMut(f64)) {
    match value {
        Value::Number(number) => take(number.as_f64().unwrap_or(f64::NAN)),
        Value::Array(list) => list.iter().for_each(|value| every_number(value, take)),
        Value::Object(map) => map.values().for_each(|value| every_number(value, take)),
        _ => {}
    }
}
