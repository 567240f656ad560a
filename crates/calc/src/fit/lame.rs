//! What two elastic rings do to each other: stiffness of a bush and of a housing, stresses, close-in, and where a bush starts to flow.
//!
//! Plane stress (rings free to slide along the axis), one joint, small strains. More rings, open joints and heat are in `rings`,
//! what happens beyond yield is in `plastic`. SI: E and every stress in Pa, sizes in m; Q, q and nu are pure numbers.
//! Any one unit of stress and any one of length serve as well, since every formula here is homogeneous in them.
//! Nothing is refused: callers give 0 < Q < 1, 0 < q < 1, E > 0, -1 < nu < 0.5 (checked at the door by the kinds).

use crate::math::sq;

/// Ratio of an inner to an outer diameter: Q = a/D of a bush, q = D/D_e of a housing.
pub fn ratio(inner: f64, outer: f64) -> f64 {
    inner / outer
}

/// How far a bush's outside gives way under a pressure on it: `k_b = [(1 + Q²)/(1 − Q²) − nu]/E`, 1/Pa.
///
/// Its outside D shrinks by D k_b p. Q: bore over joint diameter; E in Pa.
/// Source: Lamé 1852; Timoshenko, Strength of Materials II, built-up cylinders.
pub fn bush_compliance(Q: f64, E: f64, nu: f64) -> f64 {
    ((1.0 + sq(Q)) / (1.0 - sq(Q)) - nu) / E
}

/// How far a housing's bore gives way under a pressure in it: `k_h = [(1 + q²)/(1 − q²) + nu]/E`, 1/Pa.
///
/// Its bore D grows by D k_h p. q: joint diameter over the (equivalent) outside; E in Pa.
/// Source: Lamé 1852; Timoshenko, Strength of Materials II, built-up cylinders.
pub fn housing_compliance(q: f64, E: f64, nu: f64) -> f64 {
    ((1.0 + sq(q)) / (1.0 - sq(q)) + nu) / E
}

/// Pressure of an elastic joint: `p = (δ/D)/(k_b + k_h)`, 0 when δ ≤ 0; Pa.
///
/// delta: effective diametral interference, D: joint diameter (the housing's bore), both m; k: the sum k_b + k_h, 1/Pa.
/// Source: as [`bush_compliance`].
pub fn joint_pressure(delta: f64, D: f64, k: f64) -> f64 {
    (delta / D / k).max(0.0)
}

/// How much a bush's bore closes under a pressure on its outside: `2 p a/(E (1 − Q²))`, m, + is smaller.
///
/// p: pressure, Pa; a: bore, m. Elastic (at most [`onset_pressure`]). Source: as [`bush_compliance`].
pub fn close_in(p: f64, a: f64, Q: f64, E: f64) -> f64 {
    2.0 * p * a / (E * (1.0 - sq(Q)))
}

/// Hoop stress at a bush's bore: `−2 p/(1 − Q²)`, Pa. Source: as [`bush_compliance`].
pub fn bush_hoop_at_bore(p: f64, Q: f64) -> f64 {
    -2.0 * p / (1.0 - sq(Q))
}

/// Hoop stress at a housing's bore: `p (1 + q²)/(1 − q²)`, Pa. Source: as [`bush_compliance`].
pub fn housing_hoop_at_bore(p: f64, q: f64) -> f64 {
    p * (1.0 + sq(q)) / (1.0 - sq(q))
}

/// Growth of a housing's outside D_e under a pressure in its bore: `2 p D_e q²/(E (1 − q²))`, m. Source: as [`bush_compliance`].
pub fn outside_growth(p: f64, D_e: f64, q: f64, E: f64) -> f64 {
    2.0 * p * D_e * sq(q) / (E * (1.0 - sq(q)))
}

/// Pressure at which a ring's bore starts to flow, by Tresca: `p_y = Y (1 − Q²)/2`, Pa.
///
/// For a bush under outside pressure von Mises says the same (its bore is in one-axis compression); for a housing under inside
/// pressure (Q is its q) von Mises says more, see [`onset_pressure_von_mises`].
/// Source: Prager and Hodge, Theory of Perfectly Plastic Solids (from memory; derived again for the method page).
pub fn onset_pressure(Q: f64, Y: f64) -> f64 {
    Y * (1.0 - sq(Q)) / 2.0
}

/// Pressure at which a housing's bore starts to flow, by von Mises: `Y/√(k² + k + 1)`, `k = (1 + q²)/(1 − q²)`, Pa.
///
/// Source: von Mises stress of the Lamé hoop and radial stresses k p and −p.
pub fn onset_pressure_von_mises(q: f64, Y: f64) -> f64 {
    let k = (1.0 + sq(q)) / (1.0 - sq(q));
    Y / (sq(k) + k + 1.0).sqrt()
}

/// Pressure that a bush can't exceed, flowing through its whole wall: `p_L = Y (1 − Q)`, Pa (Tresca, no hardening).
///
/// Source: as [`onset_pressure`].
pub fn full_pressure(Q: f64, Y: f64) -> f64 {
    Y * (1.0 - Q)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bush_in_a_rigid_housing_closes_as_much_as_its_outside_and_a_little_more() {
        let (D, a, E, nu): (f64, f64, f64, f64) = (0.060, 0.054, 105e9, 0.34);
        let Q = ratio(a, D);
        let p = joint_pressure(60e-6, D, bush_compliance(Q, E, nu));
        let closed = close_in(p, a, Q, E) / 60e-6;
        assert!((closed - 1.031).abs() < 5e-4, "{closed}: closure_ratio_lame.csv, Q 0.9, rigid");
    }

    #[test]
    fn a_joint_with_a_gap_has_no_pressure() {
        assert_eq!(joint_pressure(-1e-6, 0.1, 1e-10), 0.0);
    }

    #[test]
    fn the_reserve_of_a_bush_beyond_its_onset_is_small() {
        let reserve = full_pressure(0.87, 138e6) / onset_pressure(0.87, 138e6);
        assert!((reserve - 2.0 / 1.87).abs() < 1e-12, "2/(1 + Q), about 7 %");
    }

    #[test]
    fn von_mises_lets_a_housing_carry_more_than_tresca() {
        for q in [0.3, 0.5, 0.8] {
            assert!(onset_pressure_von_mises(q, 240e6) > onset_pressure(q, 240e6));
        }
    }
}
