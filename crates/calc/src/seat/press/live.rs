//! What the force readings say while the bush goes in: its friction, the force to come, the hold to expect, and whether to stop.
//!
//! One unknown, the friction; each reading is that times a known force per unit friction. Source: linear update by Bayes' rule.

use serde::Serialize;

use super::{PressReading, PressRequest};
use crate::math::sq;

/// A reading must lie under so many of the least expected to be called low.
const LOW_BY: f64 = 1.25;
/// Only after this share of the length does a low force mean something.
const LOW_FROM: f64 = 0.2;
/// Forces up to so many floors of the gauge are the ram's own friction.
const RAM_FLOORS: f64 = 3.0;

/// How it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// As expected.
    Normal,
    /// Stop, back off, look.
    Stop,
    /// It goes in too easily to hold.
    Low,
}

/// What the readings say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Live {
    /// Friction.
    pub mu: f64,
    /// Its standard uncertainty.
    pub mu_u: f64,
    /// Force at the end, kN.
    pub final_kN: f64,
    /// Its standard uncertainty, kN.
    pub final_u_kN: f64,
    /// Axial force that the fit will hold, kN; relaxation and working temperature not included.
    pub hold_kN: f64,
    /// Its standard uncertainty, kN.
    pub hold_u_kN: f64,
    /// How it goes.
    pub status: Status,
    /// Why.
    pub reasons: Vec<String>,
}

/// Friction as it is believed after some readings: value and weight (one over variance).
#[derive(Clone, Copy)]
struct Belief {
    sum: f64,
    weight: f64,
}

impl Belief {
    fn prior(request: &PressRequest) -> Self {
        let mu = request.mu_mid();
        let relative = request.interference_um.u / request.interference_um.value;
        let variance = sq((request.mu_high - request.mu_low) / 4.0) + sq(mu * relative);
        // Frictions given without a spread and an exact interference: as good as certain, not infinitely.
        let weight = 1.0 / variance.max(sq(1e-6 * mu));
        Self { sum: mu * weight, weight }
    }

    fn with(self, per_friction_kN: f64, force_kN: f64, s_kN: f64) -> Self {
        Self { sum: self.sum + per_friction_kN * force_kN / sq(s_kN), weight: self.weight + sq(per_friction_kN / s_kN) }
    }

    fn mu(self) -> f64 {
        self.sum / self.weight
    }
}

/// µ = (µ0/u0² + Σ g F/s²)/w, w = 1/u0² + Σ g²/s², s = max(relative F, floor); final = µ g(end), hold = ratio × final.
pub fn live(request: &PressRequest) -> Live {
    let mut belief = Belief::prior(request);
    let mut reasons = Vec::new();
    let mut before = (0.0, 0.0);
    for reading in &request.readings {
        let g = request.per_friction_kN(reading.travel_mm, 0.0);
        let s = (request.gauge_rel * reading.force_kN).max(request.gauge_floor_kN);
        reasons.extend(stop_reasons(request, reading, before, g, s, belief.mu()));
        before = (g, reading.force_kN);
        belief = belief.with(g, reading.force_kN, s);
    }
    let mut status = if reasons.is_empty() { Status::Normal } else { Status::Stop };
    if let Some(reason) = (status == Status::Normal).then(|| low_reason(request)).flatten() {
        status = Status::Low;
        reasons.push(reason);
    }
    let (mu, mu_u) = (belief.mu(), (1.0 / belief.weight).sqrt());
    let g = request.per_friction_kN(request.lead_mm + request.length_mm, 0.0);
    let final_kN = mu * g;
    let final_u_kN = (sq(mu_u * g) + sq(request.model_rel * final_kN)).sqrt();
    let ratio = request.hold_ratio;
    let hold_u_kN = (sq(ratio.value * final_u_kN) + sq(ratio.u * final_kN)).sqrt();
    Live { mu, mu_u, final_kN, final_u_kN, hold_kN: ratio.value * final_kN, hold_u_kN, status, reasons }
}

fn stop_reasons(request: &PressRequest, reading: &PressReading, before: (f64, f64), g: f64, s: f64, mu: f64) -> Vec<String> {
    let mut reasons = Vec::new();
    if reading.force_kN <= RAM_FLOORS * request.gauge_floor_kN {
        return reasons;
    }
    let stop_kN = request.at(reading.travel_mm).stop_kN;
    if reading.force_kN > stop_kN {
        reasons.push(format!("{} kN at {} mm is over the stop force there, {stop_kN:.1} kN", reading.force_kN, reading.travel_mm));
    }
    let (g_before, force_before) = before;
    if reading.force_kN - force_before > 2.0 * mu * (g - g_before) + 3.0 * s {
        reasons.push(format!("the force jumped from {force_before} to {} kN at {} mm", reading.force_kN, reading.travel_mm));
    }
    reasons
}

fn low_reason(request: &PressRequest) -> Option<String> {
    let last = request.readings.last()?;
    let engaged = last.travel_mm - request.lead_mm;
    let least = request.at(last.travel_mm).low_kN / LOW_BY;
    (engaged >= LOW_FROM * request.length_mm && last.force_kN < least)
        .then(|| format!("{} kN at {} mm is under the least that was expected there, {least:.1} kN", last.force_kN, last.travel_mm))
}
