//! Films that have closed answers: the short bearing, and the endless one with three ways of cavitating.
//!
//! They are the limits that the finite film is tested against, and what a person asks for by `theory`. It leaves the finite film to
//! `film_shape`. Symbols as in `film`: ε eccentricity ratio, h = 1 + ε cos θ, I = √(I_r² + I_t²) the load without dimensions,
//! S = 1/(6π I), tan φ = I_t/(−I_r), Q and Q_s in R C N L.
//! Sources: Sommerfeld 1904 (endless); DuBois and Ocvirk, NACA Report 1157, 1953 (short); Reynolds 1886 with the boundary condition
//! of Swift and Stieber (endless, ruptured where P = ∂P/∂θ = 0).

use crate::math::{PI, acos, atan2, cos, hypot, sin, sq};
use crate::run::film_shape::FilmShape;
use crate::solve::film_grid::{gap, long_rupture, rupture_past};

/// Where the film of an endless bearing ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cavitation {
    /// Where P = ∂P/∂θ = 0 (Reynolds, Swift, Stieber).
    Reynolds,
    /// At the narrowest gap; the half with negative pressure is left out (Gümbel).
    Half,
    /// Nowhere: negative pressures are borne (Sommerfeld).
    Full,
}

/// 1 − ε², without loss of digits near 1.
fn rest(eps: f64) -> f64 {
    (1.0 - eps) * (1.0 + eps)
}

/// (R/C) f = [2π/√(1 − ε²) + 3 ε I_t]/(6 I), full drag also past the rupture.
pub fn friction_variable(eps: f64, I_t: f64, I: f64) -> f64 {
    (2.0 * PI / rest(eps).sqrt() + 3.0 * eps * I_t) / (6.0 * I)
}

/// The short bearing, half film: pressure is made by flow along the journal alone.
///
/// S = (1 − ε²)²/{π ε √[π²(1 − ε²) + 16 ε²]} (D/L)², tan φ = (π/4)√(1 − ε²)/ε, (R/C) f = 2π² S/√(1 − ε²), Q_s = 2π ε, Q = π(1 + ε),
/// P = (L/D)² ε sin θ (1 − y²)/(2 h³). Load is underrated by 2..10 % at L/D 0.25 and by 9..22 % at 0.5.
/// Source: DuBois and Ocvirk, NACA Report 1157, 1953.
pub fn short(eps: f64, L_over_D: f64) -> FilmShape {
    let S = short_sommerfeld(eps, L_over_D);
    // P is greatest where cos θ h + 3 ε sin² θ = 0.
    let cosine = -6.0 * eps / (1.0 + (1.0 + 24.0 * sq(eps)).sqrt());
    let theta = acos(cosine.max(-1.0));
    let h = gap(eps, theta - PI);
    let p_max = sq(L_over_D) * eps * sin(theta) / (2.0 * h * h * h);
    FilmShape {
        eps,
        sommerfeld: S,
        attitude_deg: atan2(PI * rest(eps).sqrt(), 4.0 * eps).to_degrees(),
        friction_variable: 2.0 * PI * PI * S / rest(eps).sqrt(),
        flow_variable: PI * (1.0 + eps),
        side_flow_variable: 2.0 * PI * eps,
        pressure_ratio: 1.0 / (12.0 * PI * S * p_max),
        pmax_angle_deg: theta.to_degrees(),
        rupture_angle_deg: Some(180.0),
    }
}

/// S of the short bearing alone.
pub fn short_sommerfeld(eps: f64, L_over_D: f64) -> f64 {
    sq(rest(eps)) / (PI * eps * hypot(PI * rest(eps).sqrt(), 4.0 * eps)) / sq(L_over_D)
}

/// S of the endless half film alone: 1/(π S) = 6 ε √[π²(1 − ε²) + 4 ε²]/[(2 + ε²)(1 − ε²)].
pub fn half_sommerfeld(eps: f64) -> f64 {
    (2.0 + sq(eps)) * rest(eps) / (6.0 * PI * eps * hypot(PI * rest(eps).sqrt(), 2.0 * eps))
}

/// The endless bearing.
///
/// Full: S = (2 + ε²)√(1 − ε²)/(12π² ε), φ = 90°, (R/C) f = (1 + 2ε²)/(3ε). Half: S as above, tan φ = (π/2)√(1 − ε²)/ε.
/// Q = 2π(1 − ε²)/(2 + ε²), both. Reynolds: Q = π h(θ2), with ∫₀^θ2 h⁻² = h(θ2) ∫₀^θ2 h⁻³. Q_s = 0. Source: Sommerfeld 1904.
pub fn long(eps: f64, cavitation: Cavitation) -> FilmShape {
    match cavitation {
        Cavitation::Reynolds => long_reynolds(eps),
        Cavitation::Half | Cavitation::Full => long_sommerfeld(eps, cavitation == Cavitation::Full),
    }
}

fn long_sommerfeld(eps: f64, full: bool) -> FilmShape {
    let whole = 2.0 + sq(eps);
    let S = if full { whole * rest(eps).sqrt() / (12.0 * PI * PI * eps) } else { half_sommerfeld(eps) };
    let I = 1.0 / (6.0 * PI * S);
    let attitude = if full { 0.5 * PI } else { atan2(PI * rest(eps).sqrt(), 2.0 * eps) };
    // P = ε sin θ (1 + h)/[(2 + ε²) h²], greatest where h is the flow.
    let theta = acos(-3.0 * eps / whole);
    let h = 2.0 * rest(eps) / whole;
    let p_max = eps * sin(theta) * (1.0 + h) / (whole * sq(h));
    FilmShape {
        eps,
        sommerfeld: S,
        attitude_deg: attitude.to_degrees(),
        friction_variable: if full { (1.0 + 2.0 * sq(eps)) / (3.0 * eps) } else { friction_variable(eps, I * sin(attitude), I) },
        flow_variable: PI * h,
        side_flow_variable: 0.0,
        pressure_ratio: I / (2.0 * p_max),
        pmax_angle_deg: theta.to_degrees(),
        rupture_angle_deg: (!full).then_some(180.0),
    }
}

/// With γ of Sommerfeld's substitution, 1 + ε cos θ = (1 − ε²)/(1 − ε cos γ), and γ at the rupture:
/// I_t = ε (γ − sin γ cos γ)/[2 √(1 − ε²) (1 − ε cos γ)], I_r = −ε (1 − cos θ2)²/[2 h(θ2) (1 + ε)²], and P is greatest at 2π − γ, where
/// the gap is the same as at the rupture. Worked out for this page from ∂θP = (h − h(θ2))/h³.
fn long_reynolds(eps: f64) -> FilmShape {
    let (past, turn) = (rupture_past(eps), long_rupture(eps));
    let (s, c) = (sin(past), cos(past));
    let h2 = gap(eps, turn);
    let (root, q) = (rest(eps).sqrt(), 1.0 + eps * c);
    let I_t = eps * (PI + past - s * c) / (2.0 * root * q);
    let I_r = -eps * sq((1.0 + cos(turn)) / (1.0 + eps)) / (2.0 * h2);
    let I = hypot(I_r, I_t);
    let before = PI - past;
    let p_max = eps * (s + before * c - 0.5 * eps * (before + s * c)) / (root * root * root * q);
    FilmShape {
        eps,
        sommerfeld: 1.0 / (6.0 * PI * I),
        attitude_deg: atan2(I_t, -I_r).to_degrees(),
        friction_variable: friction_variable(eps, I_t, I),
        flow_variable: PI * h2,
        side_flow_variable: 0.0,
        pressure_ratio: I / (2.0 * p_max),
        pmax_angle_deg: 180.0 - turn.to_degrees(),
        rupture_angle_deg: Some(180.0 + turn.to_degrees()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::atan;

    fn near(a: f64, b: f64, rel: f64) {
        assert!((a / b - 1.0).abs() < rel, "{a} and {b}");
    }

    #[test]
    fn the_greatest_pressure_of_the_endless_film_is_that_of_its_equation_summed() {
        for eps in [1e-5, 0.1, 0.6, 0.95, 0.999] {
            let film = long(eps, Cavitation::Reynolds);
            let I = 1.0 / (6.0 * PI * film.sommerfeld);
            let (to, h2) = (film.pmax_angle_deg.to_radians(), film.flow_variable / PI);
            // Midpoints, with steps as the gap.
            let steps = 200_000;
            let k = ((1.0 + eps) / (1.0 - eps)).sqrt();
            let gamma_end = PI + 2.0 * atan(k * crate::math::tan(0.5 * (to - PI)));
            let sum: f64 = (0..steps)
                .map(|i| {
                    let gamma = gamma_end * (f64::from(i) + 0.5) / f64::from(steps);
                    let h = rest(eps) / (1.0 - eps * cos(gamma));
                    (h - h2) / (h * h * h) * h / rest(eps).sqrt()
                })
                .sum::<f64>()
                * gamma_end
                / f64::from(steps);
            near(I / (2.0 * sum), film.pressure_ratio, 1e-6);
        }
    }

    #[test]
    fn the_half_film_by_its_own_formula_and_by_its_load_have_one_friction() {
        // Light load: both tend to Petroff, 2π² S.
        for cavitation in [Cavitation::Reynolds, Cavitation::Half] {
            let film = long(1e-6, cavitation);
            near(film.friction_variable, 2.0 * PI * PI * film.sommerfeld, 1e-5);
        }
        near(short(1e-6, 0.5).friction_variable, 2.0 * PI * PI * short(1e-6, 0.5).sommerfeld, 1e-5);
    }

    #[test]
    fn the_short_film_is_steepest_just_before_the_narrowest_gap() {
        for eps in [1e-9, 0.3, 0.9, 0.999_999] {
            let theta = short(eps, 1.0).pmax_angle_deg.to_radians();
            let pressure = |theta: f64| sin(theta) / crate::math::powi(gap(eps, theta - PI), 3);
            assert!(pressure(theta) >= pressure(theta - 1e-4) && pressure(theta) >= pressure(theta + 1e-4), "{eps}");
        }
    }
}
