//! What must be true of a finished fit, as limits that a chance can be found for.
//!
//! The same limits as the bounds of `fit-choose`, said as stresses and pressures: so the chance is that of the bounds being kept.

use crate::math::sq;

/// Hoop stress at the bush's bore at the most that it is pressed to, MPa (negative: compression): −use · Y.
///
/// From p = use · Y(1 − Q²)/2 and hoop = −2p/(1 − Q²), so it does not depend on the wall. Source: Lamé, as in `fit`.
pub fn bush_hoop_limit(set_use_max: f64, yield_MPa: f64) -> f64 {
    -set_use_max * yield_MPa
}

/// Hoop tension at the bore of a tough housing at the most that it is pressed to, MPa: use · Y (1 + q²)/2 (Tresca).
///
/// q = joint diameter/equivalent outside diameter. Source: Lamé and Tresca, as in `fit`.
pub fn housing_hoop_limit(housing_use_max: f64, yield_MPa: f64, q: f64) -> f64 {
    housing_use_max * yield_MPa * (1.0 + sq(q)) / 2.0
}

/// Hoop tension at the bore of a brittle housing at the most that it is pressed to, MPa: use · limit.
pub fn brittle_hoop_limit(housing_use_max: f64, tension_limit_MPa: f64) -> f64 {
    housing_use_max * tension_limit_MPa
}

/// Axial and turning load as one tangential demand, N: √(F² + (2T/D)²), F in N, T in N mm, D in mm.
pub fn tangential_demand_N(axial_kN: f64, torque_Nm: f64, diameter_mm: f64) -> f64 {
    let (force, turning) = (axial_kN * 1e3, 2.0 * torque_Nm * 1e3 / diameter_mm);
    (sq(force) + sq(turning)).sqrt()
}

/// Pressure that friction needs to carry a demand, MPa: safety · demand/(π D L µ), at least `min_pressure_MPa`.
///
/// Source: the definition of friction over the joint's area; Lamé's constant pressure.
pub fn needed_pressure(demand_N: f64, diameter_mm: f64, length_mm: f64, mu_low: f64, safety: f64, min_pressure_MPa: f64) -> f64 {
    if demand_N == 0.0 {
        return min_pressure_MPa;
    }
    (safety * demand_N / (crate::math::PI * diameter_mm * length_mm * mu_low)).max(min_pressure_MPa)
}
