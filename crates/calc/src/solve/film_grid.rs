//! Where the pressure of an oil film is reckoned: the mesh of a half bearing, and what flows between its points.
//!
//! Reynolds' equation of a rigid, aligned, isoviscous, laminar film, in the symbols of `run::film`: h = 1 + ε cos θ, y = 2z/L,
//! ∂θ(h³ ∂θP) + (D/L)² ∂y(h³ ∂yP) = ∂θh, with P = 0 at θ = 0 and y = 1 and an even film about y = 0. The unknown here is p = P/ε, so
//! that a journal that hardly leaves the centre is reckoned as well as one that nearly touches. It leaves the solving to `multigrid`.
//!
//! - **Points** are nodes of finite volumes. In θ they crowd where the gap is narrow, in y at the end where the oil leaves; both
//!   by a smooth map, so that a mesh of half the step holds all points of the coarse one and errors fall with the square of the step.
//! - **Flow along θ** between two nodes is the exact one of a long bearing: (∫h⁻² − Δp ε)/∫h⁻³, so the limit L/D → ∞ has no error in θ.
//! - **The mesh ends where the film of the long bearing ruptures.** The film of a shorter one has ruptured before: its pressure is
//!   nowhere higher (comparison principle of the obstacle problem), so nothing is cut off.

use crate::math::{PI, atan, cos, ln, sin, sinh, sq, tan};

/// How far out the crowding of nodes reaches, in half-widths of the narrow gap √(2(1 − ε)/ε).
const CROWD: f64 = 1.0;
/// The same at the end of the bearing.
const EDGE: f64 = 1.0;
/// Steps of the search for the rupture of the long bearing; each halves what is left.
const RUPTURE_STEPS: u32 = 60;

/// The mesh of half a bearing and the coefficients of its balances. Node (i, j): θ of `i`, y of `j`.
#[derive(Clone, Debug)]
pub struct FilmGrid {
    /// Eccentricity ratio ε.
    pub eps: f64,
    /// Intervals in θ, a power of two.
    pub n: usize,
    /// Intervals in y over the half length.
    pub m: usize,
    /// θ − π of each node, rad; n + 1.
    pub turn: Vec<f64>,
    /// Conductance 1/∫h⁻³ dθ of each interval in θ; n.
    pub g: Vec<f64>,
    /// Drag flow through each interval, (∫h⁻²/∫h⁻³ − 1)/ε; n.
    pub drag: Vec<f64>,
    /// Angle that belongs to each node, rad; n + 1.
    pub span: Vec<f64>,
    /// (D/L)² h³ times `span`; n + 1.
    pub w: Vec<f64>,
    /// Share of the half length that belongs to each node; m + 1.
    pub dy: Vec<f64>,
    /// 1/(step of y) of each interval; m.
    pub kappa: Vec<f64>,
}

/// The gap h = 1 + ε cos θ at θ = π + `turn`, without loss of digits where it is narrow.
pub fn gap(eps: f64, turn: f64) -> f64 {
    (1.0 - eps) + 2.0 * eps * sq(sin(0.5 * turn))
}

/// γ − π at which the film of an endless bearing ruptures under Reynolds' condition P = ∂P/∂θ = 0, rad.
///
/// ∫₀^θ2 h⁻² = h(θ2) ∫₀^θ2 h⁻³. With 1 + ε cos θ = (1 − ε²)/(1 − ε cos γ) this is
/// sin γ − γ cos γ = (ε/2)(γ − sin γ cos γ), one root between π and 3π/2. Source: Sommerfeld's substitution (1904), worked out here.
pub fn rupture_past(eps: f64) -> f64 {
    let excess = |past: f64| (PI + past) * cos(past) - sin(past) + 0.5 * eps * (sin(past) * cos(past) - PI - past);
    let (mut low, mut high) = (0.0, 0.5 * PI);
    for _ in 0..RUPTURE_STEPS {
        let middle = 0.5 * (low + high);
        if excess(middle) > 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The same as θ − π, rad: tan((θ − π)/2) = √((1 − ε)/(1 + ε)) tan((γ − π)/2).
pub fn long_rupture(eps: f64) -> f64 {
    2.0 * atan(((1.0 - eps) / (1.0 + eps)).sqrt() * tan(0.5 * rupture_past(eps)))
}

fn asinh(x: f64) -> f64 {
    let size = ln(x.abs() + (x * x + 1.0).sqrt());
    if x < 0.0 { -size } else { size }
}

impl FilmGrid {
    /// The mesh of `n` × `m` intervals for the eccentricity ratio `eps` (over 0, under 1) and `L_over_D`.
    pub fn new(eps: f64, L_over_D: f64, n: usize, m: usize) -> Self {
        let narrow = (2.0 * (1.0 - eps) / eps).sqrt();
        let turn = crowded(CROWD * narrow, -PI, long_rupture(eps), n);
        let from_end = crowded(EDGE * narrow / L_over_D, 0.0, 1.0, m);
        let y: Vec<f64> = from_end.iter().rev().map(|end| 1.0 - end).collect();
        let (g, drag) = turn.windows(2).map(|pair| interval(eps, pair[0], pair[1])).unzip();
        let span = shares(&turn);
        let w = turn.iter().zip(&span).map(|(turn, span)| {
            let h = gap(eps, *turn);
            h * h * h * span / sq(L_over_D)
        });
        let kappa = from_end.windows(2).rev().map(|pair| 1.0 / (pair[1] - pair[0])).collect();
        Self { eps, n, m, w: w.collect(), dy: shares(&y), turn, g, drag, span, kappa }
    }

    /// What flows into the volume of a node of line `i` by drag alone, per share of y.
    pub fn gathered(&self, i: usize) -> f64 {
        self.drag[i - 1] - self.drag[i]
    }
}

/// `n` + 1 points from `low` to `high`, even in asinh(x/scale): even where x is under `scale`, in steps of equal ratio beyond.
fn crowded(scale: f64, low: f64, high: f64, n: usize) -> Vec<f64> {
    let (from, to) = (asinh(low / scale), asinh(high / scale));
    let inside = |i: usize| match i {
        0 => low,
        _ if i == n => high,
        _ => scale * sinh(from + (to - from) * i as f64 / n as f64),
    };
    (0..=n).map(inside).collect()
}

/// What belongs to each point of a row: half of the steps beside it.
fn shares(points: &[f64]) -> Vec<f64> {
    let last = points.len() - 1;
    (0..=last).map(|i| 0.5 * (points[(i + 1).min(last)] - points[i.saturating_sub(1)])).collect()
}

/// Conductance 1/∫h⁻³ and drag ∫cos θ h⁻³/∫h⁻³ = (∫h⁻²/∫h⁻³ − 1)/ε of an interval, by three points of Gauss.
fn interval(eps: f64, from: f64, to: f64) -> (f64, f64) {
    const PLACES: [(f64, f64); 3] = [(-0.774_596_669_241_483_4, 5.0 / 18.0), (0.0, 8.0 / 18.0), (0.774_596_669_241_483_4, 5.0 / 18.0)];
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let (mut cube, mut drag) = (0.0, 0.0);
    for (place, weight) in PLACES {
        let turn = middle + half * place;
        let h = gap(eps, turn);
        let part = weight / (h * h * h);
        cube += part;
        drag -= part * cos(turn);
    }
    (1.0 / (cube * (to - from)), drag / cube)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gap_is_the_cosine_and_keeps_its_digits_where_it_is_narrow() {
        for (eps, turn) in [(0.3, 0.4), (0.9, -2.0), (0.99, 0.01)] {
            assert!((gap(eps, turn) - (1.0 - eps * cos(turn))).abs() < 1e-15);
        }
        assert_eq!(gap(1.0 - 1e-12, 0.0), 1.0 - (1.0 - 1e-12));
    }

    #[test]
    fn a_mesh_of_half_the_step_holds_every_point_of_the_coarse_one() {
        let (coarse, fine) = (FilmGrid::new(0.9, 2.0, 16, 4), FilmGrid::new(0.9, 2.0, 32, 8));
        for i in 0..=16 {
            assert!((coarse.turn[i] - fine.turn[2 * i]).abs() < 1e-14);
        }
        assert!((coarse.dy.iter().sum::<f64>() - 1.0).abs() < 1e-14 && (fine.dy.iter().sum::<f64>() - 1.0).abs() < 1e-14);
        assert!(fine.turn.is_sorted() && fine.kappa.iter().all(|kappa| *kappa > 0.0));
    }

    #[test]
    fn the_long_bearing_ruptures_where_both_integrals_say() {
        for eps in [1e-6, 0.1, 0.5, 0.9, 0.99] {
            // ∫h⁻² and ∫h⁻³ from 0 to the rupture, summed over a fine mesh that ends there.
            let grid = FilmGrid::new(eps, 1.0, 256, 4);
            let cubes: f64 = grid.g.iter().map(|g| 1.0 / g).sum();
            let drag: f64 = grid.g.iter().zip(&grid.drag).map(|(g, drag)| drag / g).sum();
            let found = -cos(long_rupture(eps));
            assert!((drag / cubes - found).abs() < 1e-7, "{eps}: {} {found}", drag / cubes);
        }
    }
}
