//! Random requests of `cooling`, `heating` and `window` that their key tables allow, from usual to far beyond what a workshop sees.
//!
//! Request number `i` is the same on every machine. Some are refused for what two keys say together; none may panic or hang.

use calc::draws::Stream;
use calc::math::pow;
use serde_json::{Value, json};

/// Even draws of one request.
pub struct Dice {
    stream: Stream,
    next: u64,
}

impl Dice {
    pub fn new(kind: &str, i: u64) -> Self {
        Self { stream: Stream::new(i, kind), next: 0 }
    }

    pub fn even(&mut self, low: f64, high: f64) -> f64 {
        self.next += 1;
        low + (high - low) * self.stream.even(self.next)
    }

    /// Even in its logarithm: from tiny to huge.
    pub fn wide(&mut self, low: f64, high: f64) -> f64 {
        low * pow(high / low, self.even(0.0, 1.0))
    }

    pub fn one<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[(self.even(0.0, of.len() as f64) as usize).min(of.len() - 1)]
    }

    pub fn yes(&mut self, share: f64) -> bool {
        self.even(0.0, 1.0) < share
    }
}

/// Request `i` of a kind.
pub fn request(kind: &str, i: u64) -> Value {
    let mut dice = Dice::new(kind, i);
    match kind {
        "cooling" => cooling(&mut dice),
        "heating" => heating(&mut dice),
        _ => window(&mut dice),
    }
}

fn part(dice: &mut Dice) -> Value {
    let usual = dice.yes(0.7);
    let outside = if usual { dice.even(40.0, 450.0) } else { dice.wide(0.5, 5000.0) };
    let share = if dice.yes(0.1) { 0.0 } else { dice.even(0.0, 1.0) };
    let bore = if usual { outside * (0.7 + 0.25 * share) } else { outside * share * 0.9999 };
    let length = if usual { outside * dice.even(0.3, 1.5) } else { dice.wide(0.5, 10_000.0) };
    let mut part = json!({"outside_mm": outside, "bore_mm": bore, "length_mm": length});
    if usual && dice.yes(0.5) {
        part["alloy"] = json!(dice.one(&["CC493K", "CC495K", "CC333G", "C86300", "GJL-250"]));
    } else {
        part["density_kg_m3"] = json!(dice.wide(800.0, 20_000.0));
        part["cp_J_kgK"] = json!(dice.wide(100.0, 2000.0));
        part["k_W_mK"] = json!(dice.wide(0.2, 400.0));
        part["alpha_per_K"] = json!(dice.wide(1e-6, 1e-4));
    }
    part
}

fn times(dice: &mut Dice) -> Vec<f64> {
    let count = dice.even(0.0, 4.0) as usize;
    (0..count).map(|_| if dice.yes(0.1) { 0.0 } else { dice.wide(1e-3, 1e8) }).collect()
}

fn cooling(dice: &mut Dice) -> Value {
    let mut request = json!({"bush": part(dice), "at_s": times(dice)});
    request["bush"]["start_C"] = json!(if dice.yes(0.7) { dice.even(10.0, 30.0) } else { dice.even(-196.0, 400.0) });
    let bath = dice.one(&["freezer", "freezer_fan", "dry_ice", "dry_ice_bath", "liquid_nitrogen", "liquid_nitrogen", "custom"]);
    request["bath"] = json!(bath);
    if bath.starts_with("freezer") || bath == "custom" {
        request["bath_C"] = json!(dice.even(-190.0, 120.0));
    }
    if bath == "custom" || dice.yes(0.2) {
        request["h_W_m2K"] = json!(dice.wide(1e-2, 1e5));
    }
    if dice.yes(0.3) {
        request["boiling_factor"] = json!(dice.wide(0.05, 20.0));
    }
    if dice.yes(0.3) {
        request["within_K"] = json!(dice.wide(1e-3, 200.0));
    }
    request["surfaces"] = json!(dice.one(&["all", "all", "sides", "outside", "outside_and_ends"]));
    if dice.yes(0.4) {
        request["properties"] = json!(dice.one(&["low_temperature", "constant"]));
    }
    request["part"] = json!(dice.one(&["bronze", "carbon_steel", "hardened_steel", "stainless", "grey_iron", "aluminium"]));
    if dice.yes(0.3) {
        request["room_m3"] = json!(dice.wide(1.0, 1e5));
        request["loss_kg_per_h"] = json!(dice.even(0.0, 20.0));
        request["coolant_total_kg"] = json!(dice.even(0.0, 300.0));
    }
    request
}

fn heating(dice: &mut Dice) -> Value {
    let mut housing = part(dice);
    housing.as_object_mut().unwrap().remove("alloy");
    housing["bore_mm"] = json!(housing["bore_mm"].as_f64().unwrap().max(0.1));
    if housing.get("cp_J_kgK").is_none() {
        housing["metal"] = json!(dice.one(&["GE240", "GJL-250", "6082-T6"]));
    }
    let method = dice.one(&["still_oven", "fan_oven", "hot_oil", "induction", "custom"]);
    let mut request = json!({"housing": housing, "method": method, "at_s": times(dice), "surfaces": dice.one(&["all", "sides", "outside", "outside_and_ends"])});
    if method == "induction" {
        request["power_kW"] = json!(dice.wide(0.01, 1000.0));
        request["target_C"] = json!(dice.even(0.0, 400.0));
    } else {
        request["medium_C"] = json!(dice.even(30.0, 300.0));
        request["oil_flash_C"] = json!(dice.even(150.0, 320.0));
    }
    if method == "custom" {
        request["h_W_m2K"] = json!(dice.wide(1e-3, 1e6));
    }
    if dice.yes(0.5) {
        let bore = request["housing"]["bore_mm"].as_f64().unwrap();
        request["bush"] = json!({"outside_mm": bore * dice.even(0.998, 1.004), "alpha_per_K": 18e-6, "T_C": dice.even(-30.0, 40.0)});
    }
    request
}

fn window(dice: &mut Dice) -> Value {
    let mut bush = part(dice);
    let outside = bush["outside_mm"].as_f64().unwrap();
    bush["outside_mm"] = json!({"value": outside, "u": outside * 2e-5});
    bush["start_C"] = json!({"value": dice.even(-195.9, 40.0), "u": dice.even(0.0, 5.0)});
    let housing =
        json!({"bore_mm": outside * dice.even(0.997, 1.002), "alpha_per_K": dice.wide(1e-6, 3e-5), "T_C": dice.even(-20.0, 200.0)});
    let mut request =
        json!({"bush": bush, "housing": housing, "air_C": dice.even(-30.0, 45.0), "humidity_pct": dice.even(0.0, 100.0), "seed": 3});
    if dice.yes(0.3) {
        request["h_air_W_m2K"] = json!(dice.wide(0.01, 1e4));
    }
    if dice.yes(0.6) {
        request["entry_s"] = json!(dice.wide(0.1, 1e5));
    }
    if dice.yes(0.2) {
        request["draws"] = json!(20_000);
    }
    request
}
