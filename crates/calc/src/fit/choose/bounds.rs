//! The bounds on the interference, each at its state, and the window that a set of them leaves.
//!
//! It leaves what is done with a window (band, tolerance, retainer) to its parent.

use serde::Serialize;

use super::{Choice, State};
use crate::fit::{lame, promises};
use crate::math::{PI, sq};

/// What a bound is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BoundKind {
    /// It holds; least.
    Hold,
    /// The bush takes no set; most.
    Set,
    /// The housing is not over its limit; most.
    Housing,
    /// The press at hand is enough; most.
    Press,
    /// Form errors of a bored seat are filled; least.
    Floor,
}

impl BoundKind {
    /// Whether it is a least interference.
    pub const fn is_least(self) -> bool {
        matches!(self, Self::Hold | Self::Floor)
    }
}

/// One bound on the free interference at 20 °C.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bound {
    /// What it is for.
    pub bound: BoundKind,
    /// The state it comes from; null for press and floor.
    pub state: Option<String>,
    /// Free interference at 20 °C, µm.
    pub interference_um: f64,
}

/// Which bound decides an end of the window.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Governed {
    /// What it is for.
    pub bound: BoundKind,
    /// The state it comes from; null for press and floor.
    pub state: Option<String>,
}

/// The joint of two elastic rings: sizes in mm, stresses in MPa.
#[derive(Clone, Copy, Debug)]
pub struct Joint {
    /// Joint diameter: the measured bore, mm.
    pub D: f64,
    /// Bore of the bush over D.
    pub Q: f64,
    /// D over the housing's outside.
    pub q: f64,
    /// k_b + k_h, 1/MPa.
    pub k: f64,
    /// Loss by smoothing, mm.
    pub loss_mm: f64,
    /// π D L, mm².
    pub area_mm2: f64,
}

impl Joint {
    /// The joint of a choice.
    pub fn of(choice: &Choice) -> Self {
        let (bush, housing) = (&choice.bush, &choice.housing);
        let D = housing.bore_mm;
        let (Q, q) = (lame::ratio(bush.bore_mm, D), lame::ratio(D, housing.outside_mm));
        Self {
            D,
            Q,
            q,
            k: lame::bush_compliance(Q, bush.E_GPa * 1e3, bush.nu) + lame::housing_compliance(q, housing.E_GPa * 1e3, housing.nu),
            loss_mm: choice.smoothing * (bush.Rz_outside_um + housing.Rz_bore_um) / 1e3,
            area_mm2: PI * D * choice.length_mm,
        }
    }

    /// Pressure at 20 °C of a free interference, MPa; 0 where it is under the loss.
    pub fn pressure_MPa(&self, interference_um: f64) -> f64 {
        lame::joint_pressure(interference_um / 1e3 - self.loss_mm, self.D, self.k)
    }

    /// Friction force of a pressure, kN: µ π D L p.
    pub fn friction_kN(&self, mu: f64, pressure_MPa: f64) -> f64 {
        mu * self.area_mm2 * pressure_MPa / 1e3
    }
}

/// Free interference at 20 °C that gives a pressure in a state, µm.
///
/// I = (δ* + loss + D (1 + α_h ΔT_h))/(1 + α_b ΔT_b) − D, δ* = D (k_b + k_h) p, ΔT = T − 20. p in MPa.
/// Source: Lamé (two elastic rings); thermal expansion.
pub fn interference_um(choice: &Choice, joint: &Joint, pressure_MPa: f64, bush_C: f64, housing_C: f64) -> f64 {
    let (bush_K, housing_K) = (bush_C - 20.0, housing_C - 20.0);
    let wanted_mm = joint.D * joint.k * pressure_MPa + joint.loss_mm;
    let (alpha_b, alpha_h) = (choice.bush.alpha_per_K, choice.housing.alpha_per_K);
    // D is taken out of the difference by hand: it is ten thousand times the result.
    (wanted_mm + joint.D * (alpha_h * housing_K - alpha_b * bush_K)) / (1.0 + alpha_b * bush_K) * 1e3
}

/// Pressure that must stand in every state, MPa: max(`min_pressure_MPa`, safety √(F² + (2T/D)²)/(π D L µ_low)).
pub fn needed_pressure_MPa(choice: &Choice) -> f64 {
    let D = choice.housing.bore_mm;
    let demand_N = promises::tangential_demand_N(choice.axial_kN, choice.torque_Nm, D);
    promises::needed_pressure(demand_N, D, choice.length_mm, choice.mu_low, choice.safety, choice.min_pressure_MPa)
}

/// Pressure that the bush is pressed to at most, MPa: `set_use_max` Y (1 − Q²)/2; none without a yield.
pub fn set_pressure_MPa(choice: &Choice, joint: &Joint) -> Option<f64> {
    choice.bush.yield_MPa.map(|Y| choice.set_use_max * lame::onset_pressure(joint.Q, Y))
}

/// Pressure that the housing is pressed to at most, MPa: the least of its limits; none without one.
///
/// Y (1 − q²)/2 (Tresca); for a brittle one tension limit (1 − q²)/(1 + q²); times `housing_use_max`.
pub fn housing_pressure_MPa(choice: &Choice, joint: &Joint) -> Option<f64> {
    let tough = choice.housing.yield_MPa.map(|Y| lame::onset_pressure(joint.q, Y));
    let brittle = choice.housing.tension_limit_MPa.map(|limit| limit * (1.0 - sq(joint.q)) / (1.0 + sq(joint.q)));
    [tough, brittle].into_iter().flatten().reduce(f64::min).map(|p| choice.housing_use_max * p)
}

/// Every bound: holds, then set, housing, each in the order of the states; press; floor.
pub fn bounds(choice: &Choice, joint: &Joint, states: &[State]) -> Vec<Bound> {
    let in_states = |bound: BoundKind, pressure: Option<f64>| {
        let each = states.iter().filter_map(move |state| {
            let interference_um = interference_um(choice, joint, pressure?, state.bush_C, state.housing_C);
            Some(Bound { bound, state: Some(state.name.clone()), interference_um })
        });
        each.collect::<Vec<_>>()
    };
    let mut bounds = in_states(BoundKind::Hold, Some(needed_pressure_MPa(choice)));
    bounds.extend(in_states(BoundKind::Set, set_pressure_MPa(choice, joint)));
    bounds.extend(in_states(BoundKind::Housing, housing_pressure_MPa(choice, joint)));
    bounds.extend(choice.press_limit_kN.map(|limit_kN| {
        let pressure = limit_kN * 1e3 / (joint.area_mm2 * choice.mu_high);
        let interference_um = interference_um(choice, joint, pressure, 20.0, 20.0);
        Bound { bound: BoundKind::Press, state: None, interference_um }
    }));
    bounds.push(Bound { bound: BoundKind::Floor, state: None, interference_um: choice.floor_um_per_mm * joint.D });
    bounds
}

/// What the bounds leave, with 2u taken off both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Window<'b> {
    /// Least, µm.
    pub low_um: f64,
    /// Most, µm; none without an upper bound.
    pub high_um: Option<f64>,
    /// The bound that decides the least.
    pub lowest: Option<&'b Bound>,
    /// The bound that decides the most.
    pub highest: Option<&'b Bound>,
    /// The bounds that were left out.
    pub left_out: &'static [BoundKind],
}

impl<'b> Window<'b> {
    /// The window of the bounds without those of `left_out`. Of equal bounds the first in their order decides.
    pub fn of(bounds: &'b [Bound], left_out: &'static [BoundKind], two_u_um: f64) -> Self {
        let kept = || bounds.iter().filter(|bound| !left_out.contains(&bound.bound));
        let further = |best: &'b Bound, next: &'b Bound, sign: f64| {
            if sign * next.interference_um > sign * best.interference_um { next } else { best }
        };
        let lowest = kept().filter(|bound| bound.bound.is_least()).reduce(|best, next| further(best, next, 1.0));
        let highest = kept().filter(|bound| !bound.bound.is_least()).reduce(|best, next| further(best, next, -1.0));
        Self {
            low_um: lowest.map_or(0.0, |bound| bound.interference_um) + two_u_um,
            high_um: highest.map(|bound| bound.interference_um - two_u_um),
            lowest,
            highest,
            left_out,
        }
    }

    /// Most less least, µm; none without an end.
    pub fn width_um(&self) -> Option<f64> {
        self.high_um.map(|high| high - self.low_um)
    }

    /// Whether it is at least so wide.
    pub fn has(&self, um: f64) -> bool {
        self.width_um().is_none_or(|width| width >= um)
    }
}
