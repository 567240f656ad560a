//! Random requests of `fit-shape` that its key table allows, from usual seats to far beyond what a workshop sees.
//!
//! Request number `i` is the same on every machine. Some are refused for what two keys say together; none may panic or hang.

use calc::draws::Stream;
use calc::math::pow;
use serde_json::{Value, json};

/// Even draws of one request.
struct Dice {
    stream: Stream,
    next: u64,
}

impl Dice {
    fn even(&mut self, low: f64, high: f64) -> f64 {
        self.next += 1;
        low + (high - low) * self.stream.even(self.next)
    }

    /// Even in its logarithm: from tiny to huge.
    fn wide(&mut self, low: f64, high: f64) -> f64 {
        low * pow(high / low, self.even(0.0, 1.0))
    }

    fn yes(&mut self, share: f64) -> bool {
        self.even(0.0, 1.0) < share
    }

    fn count(&mut self, most: usize) -> usize {
        self.even(0.0, most as f64 + 1.0) as usize
    }
}

/// Request `i`: two in three of a usual size.
pub fn request(i: u64) -> Value {
    let mut dice = Dice { stream: Stream::new(i, "fit-shape"), next: 0 };
    let usual = dice.yes(0.67);
    let bore = if usual { dice.even(30.0, 400.0) } else { dice.wide(0.01, 2e4) };
    let wall = bore * if usual { dice.even(0.03, 0.15) } else { dice.wide(1e-4, 20.0) };
    let joint = bore + 2.0 * wall;
    let length = bore * if usual { dice.even(0.3, 1.5) } else { dice.wide(1e-3, 100.0) };
    let (from, to) = ends(&mut dice, length, usual);
    let mut bush =
        json!({"bore_mm": bore, "from_mm": from, "to_mm": to, "E_GPa": modulus(&mut dice, usual), "nu": poisson(&mut dice, usual)});
    if dice.yes(0.3) {
        let outside = joint + 2.0 * wall * if usual { dice.even(0.5, 4.0) } else { dice.wide(1e-3, 100.0) };
        let thickness = wall * if usual { dice.even(0.5, 2.0) } else { dice.wide(1e-2, 30.0) };
        let side = if dice.yes(0.5) { "left" } else { "right" };
        bush["flange"] = json!({"side": side, "outside_mm": outside, "thickness_mm": thickness});
    }
    grooves(&mut dice, &mut bush, "outside_grooves", (from, to), wall, usual);
    grooves(&mut dice, &mut bush, "bore_grooves", (from, to), wall, usual);
    let mut housing = json!({"bore_mm": joint, "E_GPa": modulus(&mut dice, usual), "nu": poisson(&mut dice, usual)});
    let thinnest = sections(&mut dice, &mut housing, joint, length, usual);
    grooves(&mut dice, &mut housing, "bore_grooves", (0.0, length), 0.5 * (thinnest - joint), usual);
    let mut request = json!({"bush": bush, "housing": housing, "interference_um": interference(&mut dice, joint, length)});
    if dice.yes(0.35) {
        request["friction"] = json!("stuck");
    }
    if dice.yes(0.5) {
        request["mu_low"] = json!(dice.even(0.0, 0.2));
        request["mu_high"] = json!(dice.even(0.1, 0.3));
    }
    request["at_mm"] = (0..dice.count(6)).map(|_| dice.even(-0.3 * length, 1.3 * length)).collect();
    if dice.yes(0.4) {
        request["accuracy_pct"] = json!(dice.wide(1e-3, 5.0));
    }
    request
}

/// What is wrong with an answer, whatever was asked: a figure that is no number, a pressure or a force that pulls.
pub fn fault(answer: &Value) -> Option<String> {
    let figures = [
        "close_in_mean_um",
        "close_in_max_um",
        "close_in_min_um",
        "contact_force_kN",
        "land_length_mm",
        "pressure_mean_MPa",
        "growth_max_um",
        "ring_pressure_MPa",
        "ring_close_in_um",
        "close_in_error_um",
        "force_error_pct",
        "pressure_error_MPa",
    ];
    let number = |key: &&&str| answer[**key].as_f64().is_none_or(|x| !x.is_finite());
    if let Some(key) = figures.iter().find(number) {
        return Some(format!("{key} is {}", answer[*key]));
    }
    let pulls = |key: &&&str| answer[**key].as_f64().is_none_or(|x| x < 0.0);
    if let Some(key) = ["contact_force_kN", "pressure_mean_MPa", "close_in_error_um"].iter().find(pulls) {
        return Some(format!("{key} is {}", answer[*key]));
    }
    let mut places = answer["profile"].as_array().into_iter().flatten();
    places.find(|place| place["pressure_MPa"].as_f64().is_some_and(|p| p < 0.0)).map(|place| place.to_string())
}

fn modulus(dice: &mut Dice, usual: bool) -> f64 {
    if usual { dice.even(60.0, 215.0) } else { dice.wide(1e-3, 1e4) }
}

fn poisson(dice: &mut Dice, usual: bool) -> f64 {
    if usual { dice.even(0.2, 0.36) } else { dice.even(-0.99, 0.4999) }
}

/// Where a bush begins and ends in a housing from 0 to `length`: flush, shorter, proud or askew.
fn ends(dice: &mut Dice, length: f64, usual: bool) -> (f64, f64) {
    let off = if usual { 0.25 } else { 0.9 };
    let mut end = |at: f64| if dice.yes(0.4) { at } else { at + length * dice.even(-off, off) };
    let (a, b) = (end(0.0), end(length));
    (a.min(b), a.max(b) + 1e-3 * length)
}

fn grooves(dice: &mut Dice, part: &mut Value, name: &str, (from, to): (f64, f64), wall: f64, usual: bool) {
    let chance = if usual { 0.25 } else { 0.3 };
    if !dice.yes(chance) {
        return;
    }
    let count = 1 + if usual { dice.count(1) } else { dice.count(7) };
    let each = (0..count).map(|_| {
        let place = dice.even(from, to);
        let wide = (to - from) * if usual { dice.even(0.02, 0.15) } else { dice.wide(1e-6, 0.5) };
        let depth = wall * if usual { dice.even(0.1, 0.7) } else { dice.wide(1e-4, 1.05) };
        json!({"from_mm": place, "to_mm": place + wide, "depth_mm": depth})
    });
    part[name] = each.collect();
}

/// Gives the housing one to six sections; the outside of the thinnest.
fn sections(dice: &mut Dice, housing: &mut Value, joint: f64, length: f64, usual: bool) -> f64 {
    let count = if dice.yes(0.6) { 1 } else { 2 + if usual { dice.count(1) } else { dice.count(4) } };
    let mut thinnest = f64::INFINITY;
    let each = (0..count).map(|k| {
        let outside = joint * if usual { dice.even(1.15, 2.5) } else { 1.0 + dice.wide(1e-4, 30.0) };
        thinnest = thinnest.min(outside);
        let at = |k: usize| length * k as f64 / count as f64;
        json!({"from_mm": at(k), "to_mm": at(k + 1), "outside_mm": outside})
    });
    housing["sections"] = each.collect();
    thinnest
}

fn interference(dice: &mut Dice, joint: f64, length: f64) -> Value {
    let even = joint * if dice.yes(0.8) { dice.even(0.2, 1.5) } else { dice.even(-2.0, 5.0) };
    if dice.yes(0.6) {
        return json!(even);
    }
    let count = if dice.yes(0.8) { 2 + dice.count(4) } else { 2 + dice.count(150) };
    let swing = if dice.yes(0.7) { 0.5 } else { 4.0 };
    let mut stations = Vec::new();
    for k in 0..count {
        stations.push(json!([length * k as f64 / (count - 1) as f64, even * (1.0 + swing * dice.even(-1.0, 0.5))]));
    }
    stations.into()
}
