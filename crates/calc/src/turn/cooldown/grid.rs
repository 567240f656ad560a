//! How likely is each time constant of a cooling part, and what do the readings say if it is that?
//!
//! A grid over the logarithm of the time constant; at each node the settled size and what goes with it are linear and Gaussian and are
//! solved exactly. It leaves to its parent what is read and said, and to `ahead` what further readings would tell.

use super::{CoolReading, Cooldown};
use crate::math::{exp, ln, sq};

/// Nodes of the grid, and how far it reaches to each side. Source: the method of the turning page.
const NODES: u32 = 401;
const REACH: f64 = 5.0;
/// A grid with fewer nodes than this over a tenth of the greatest weight is too coarse and is laid again.
const LEAST_NODES: usize = 8;
/// How often a grid is laid at most.
pub(super) const MOST_GRIDS: u32 = 6;
/// A node of less weight is not seen in a curve that is drawn.
const SLIGHT: f64 = 1e-10;
/// Unknowns that are linear at a given time constant: settled size, amplitude, amplitude × error of the expansion, expansion × bias.
pub(super) const TERMS: usize = 4;

/// A symmetric matrix.
pub(super) type Square<const N: usize> = [[f64; N]; N];

/// One observation at a given time constant: y = h · terms + noise of sd u.
struct Row {
    h: [f64; TERMS],
    y: f64,
    u: f64,
}

/// What was observed, and the spreads of the linear terms, apart from the time constant.
pub(super) struct Data<'r> {
    request: &'r Cooldown,
    /// The settled size is counted from here, mm.
    pub(super) base_mm: f64,
    /// Terms before anything was read: mean and standard deviation.
    pub(super) mean: [f64; TERMS],
    pub(super) sd: [f64; TERMS],
    /// Whether temperatures count.
    pub(super) warmth: bool,
    pub(super) start_s: f64,
    pub(super) end_s: f64,
}

impl<'r> Data<'r> {
    pub(super) fn of(request: &'r Cooldown, first: CoolReading, last: CoolReading) -> Self {
        let alpha_D = request.expansion_mm_per_K;
        let first_K = request.readings.iter().find_map(|reading| reading.part_minus_ambient_K);
        let warmth = first_K.is_some() && alpha_D != 0.0;
        let amplitude = request.amplitude_mm;
        // With an amplitude of 0 the thermometer would be believed too much: errors of 1.25 u.
        let expected_mm = if amplitude.value == 0.0 { alpha_D * first_K.unwrap_or(0.0) } else { amplitude.value };
        let beside = |sd: f64| if warmth { sd } else { 0.0 };
        Self {
            request,
            base_mm: last.reading_mm,
            mean: [0.0, amplitude.value, 0.0, 0.0],
            sd: [
                request.size_u_mm,
                amplitude.u,
                beside(request.expansion_rel_u * expected_mm.abs()),
                beside((alpha_D * request.temperature_bias_u_K).abs()),
            ],
            warmth,
            start_s: first.t_s,
            end_s: last.t_s,
        }
    }

    /// αD β τ(1 − e): how far the part lags behind drifting air, mm.
    fn lag_mm(&self, tau: f64, e: f64) -> f64 {
        self.request.expansion_mm_per_K * self.request.ambient_drift_K_per_s * tau * (1.0 - e)
    }

    /// What the air's drift has added to the size at t, mm.
    pub(super) fn drifted_mm(&self, t: f64, tau: f64, e: f64) -> f64 {
        self.request.expansion_mm_per_K * self.request.ambient_drift_K_per_s * t - self.lag_mm(tau, e)
    }

    fn rows(&self, tau: f64) -> impl Iterator<Item = Row> + '_ {
        self.request.readings.iter().flat_map(move |reading| {
            let e = exp(-reading.t_s / tau);
            let y = reading.reading_mm - self.base_mm - self.drifted_mm(reading.t_s, tau, e);
            let size = Row { h: [1.0, e, e, 0.0], y, u: self.request.reading_u_mm };
            let alpha_D = self.request.expansion_mm_per_K;
            let warm = reading.part_minus_ambient_K.filter(|_| self.warmth).map(|warm_K| Row {
                h: [0.0, e, 0.0, 1.0],
                y: alpha_D * warm_K + self.lag_mm(tau, e),
                u: (alpha_D * self.request.temperature_u_K).abs(),
            });
            [Some(size), warm].into_iter().flatten()
        })
    }

    pub(super) fn observations(&self) -> usize {
        let warm = self.request.readings.iter().filter(|reading| self.warmth && reading.part_minus_ambient_K.is_some()).count();
        self.request.readings.len() + warm
    }
}

/// One time constant, and what the readings say if it is that.
pub(super) struct Node {
    tau: f64,
    pub(super) ln_tau: f64,
    pub(super) mean: [f64; TERMS],
    cov: Square<TERMS>,
    weight: f64,
    pub(super) chi2: f64,
}

impl Node {
    /// Log of its weight and the node, x prior sd from the median.
    ///
    /// In terms over their prior sd, P = I and the information is L = I + Σ g gᵀ/u², g = h sd; then ln |S| = Σ ln u² + ln |L| and
    /// eᵀS⁻¹e = Σ (residual/u)² + |z|² at the solution z (Woodbury), which holds for terms that are known too (sd 0).
    fn at(data: &Data, x: f64) -> (f64, Self) {
        let ln_tau = ln(data.request.tau_s) + data.request.ln_tau_u * x;
        let tau = exp(ln_tau);
        let mut information = unit::<TERMS>();
        let mut toward = [0.0; TERMS];
        let rows: Vec<Row> = data.rows(tau).collect();
        for row in &rows {
            let g = scaled(&row.h, &data.sd, row.u);
            add_outer(&mut information, &g);
            let e = (row.y - dot(&row.h, &data.mean)) / row.u;
            toward.iter_mut().zip(g).for_each(|(sum, g)| *sum += g * e);
        }
        let (inverse, ln_det) = inverse(&information);
        let z: [f64; TERMS] = std::array::from_fn(|i| dot(&inverse[i], &toward));
        let mean: [f64; TERMS] = std::array::from_fn(|i| data.mean[i] + data.sd[i] * z[i]);
        let cov = std::array::from_fn(|i| std::array::from_fn(|j| data.sd[i] * inverse[i][j] * data.sd[j]));
        let chi2 = rows.iter().map(|row| sq((row.y - dot(&row.h, &mean)) / row.u)).sum::<f64>();
        let log = -0.5 * (ln_det + chi2 + dot(&z, &z)) - 0.5 * sq(x);
        (log, Self { tau, ln_tau, mean, cov, weight: 0.0, chi2 })
    }

    /// Mean and variance of the size over the base where e^(−t/τ) is `e`, without the drift of the air.
    fn size(&self, e: f64) -> (f64, f64) {
        let (m, c) = (&self.mean, &self.cov);
        (m[0] + (m[1] + m[2]) * e, c[0][0] + e * (2.0 * (c[0][1] + c[0][2]) + e * (c[1][1] + 2.0 * c[1][2] + c[2][2])))
    }
}

/// The nodes, weighted, and the time constant that they give.
pub(super) struct Grid {
    nodes: Vec<Node>,
    pub(super) ln_tau: f64,
    pub(super) ln_tau_sd: f64,
    /// Whether the weight stands on too few nodes even after the last grid.
    pub(super) coarse: bool,
}

impl Grid {
    /// Laid over the prior, and again over the posterior while too few nodes carry the weight.
    pub(super) fn of(request: &Cooldown, data: &Data) -> Self {
        let mut grid = Self::laid(data, 0.0, 1.0);
        for _ in 1..MOST_GRIDS {
            if !grid.coarse {
                break;
            }
            let spacing = grid.nodes.windows(2).map(|pair| pair[1].ln_tau - pair[0].ln_tau).next().unwrap_or(0.0);
            let mid = (grid.ln_tau - ln(request.tau_s)) / request.ln_tau_u;
            grid = Self::laid(data, mid, grid.ln_tau_sd.max(spacing) / request.ln_tau_u);
        }
        grid
    }

    /// Nodes over mid ± 5 sd, both in prior sd.
    fn laid(data: &Data, mid: f64, sd: f64) -> Self {
        let x = |i: u32| mid + REACH * sd * (2.0 * f64::from(i) / f64::from(NODES - 1) - 1.0);
        let (logs, mut nodes): (Vec<f64>, Vec<Node>) = (0..NODES).map(|i| Node::at(data, x(i))).unzip();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = logs.iter().map(|log| exp(log - most)).sum();
        for (node, log) in nodes.iter_mut().zip(&logs) {
            node.weight = exp(log - most) / sum;
        }
        let heavy = logs.iter().filter(|log| exp(**log - most) > 0.1).count();
        let ln_tau = nodes.iter().map(|node| node.weight * node.ln_tau).sum::<f64>();
        let variance = nodes.iter().map(|node| node.weight * sq(node.ln_tau - ln_tau)).sum::<f64>();
        Self { nodes, ln_tau, ln_tau_sd: variance.sqrt(), coarse: heavy < LEAST_NODES }
    }

    pub(super) fn mean(&self, of: impl Fn(&Node) -> f64) -> f64 {
        self.nodes.iter().map(|node| node.weight * of(node)).sum()
    }

    /// The settled size over the base, and its standard uncertainty.
    pub(super) fn settled(&self) -> (f64, f64) {
        let said: Vec<(f64, f64, f64)> = self.nodes.iter().map(|node| (node.weight, node.mean[0], node.cov[0][0])).collect();
        mixture(&said)
    }

    /// The size over the base at a time, the drift of the air in it, and its standard uncertainty.
    pub(super) fn size(&self, data: &Data, t_s: f64) -> (f64, f64) {
        let one = |node: &Node| {
            let e = exp(-t_s / node.tau);
            let (mean, variance) = node.size(e);
            (node.weight, mean + data.drifted_mm(t_s, node.tau, e), variance)
        };
        let said: Vec<(f64, f64, f64)> = self.nodes.iter().filter(|node| node.weight > SLIGHT).map(one).collect();
        mixture(&said)
    }

    /// The node of most weight. A grid has 401 of them, so the last resort is never used.
    pub(super) fn likeliest(&self) -> &Node {
        self.nodes.iter().fold(&self.nodes[0], |best, node| if node.weight > best.weight { node } else { best })
    }
}

/// Mean and standard deviation of a mixture of (weight, mean, variance). Source: its moments, E and E of squares.
fn mixture(said: &[(f64, f64, f64)]) -> (f64, f64) {
    let mean = said.iter().map(|(weight, mean, _)| weight * mean).sum::<f64>();
    let variance = said.iter().map(|(weight, of_node, variance)| weight * (variance + sq(of_node - mean))).sum::<f64>();
    (mean, variance.max(0.0).sqrt())
}

pub(super) fn unit<const N: usize>() -> Square<N> {
    std::array::from_fn(|i| std::array::from_fn(|j| f64::from(u8::from(i == j))))
}

pub(super) fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Slopes over the spread of the observation, for terms counted in their prior sd.
pub(super) fn scaled<const N: usize>(h: &[f64; N], sd: &[f64; N], u: f64) -> [f64; N] {
    std::array::from_fn(|i| h[i] * sd[i] / u)
}

pub(super) fn add_outer<const N: usize>(sum: &mut Square<N>, g: &[f64; N]) {
    for i in 0..N {
        for j in 0..N {
            sum[i][j] += g[i] * g[j];
        }
    }
}

/// Inverse and log of the determinant of I + something positive, by Cholesky; its pivots are 1 or more, so it can't fail.
pub(super) fn inverse<const N: usize>(matrix: &Square<N>) -> (Square<N>, f64) {
    let mut L = [[0.0; N]; N];
    let mut ln_det = 0.0;
    for i in 0..N {
        for j in 0..=i {
            let rest = matrix[i][j] - (0..j).map(|k| L[i][k] * L[j][k]).sum::<f64>();
            // Rounding may take a pivot under 1 where the terms can't be told apart; it never is in exact arithmetic.
            L[i][j] = if i == j { rest.max(1.0).sqrt() } else { rest / L[j][j] };
        }
        ln_det += 2.0 * ln(L[i][i]);
    }
    let mut back = [[0.0; N]; N];
    for c in 0..N {
        let mut y = [0.0; N];
        for i in c..N {
            let rest = f64::from(u8::from(i == c)) - (c..i).map(|k| L[i][k] * y[k]).sum::<f64>();
            y[i] = rest / L[i][i];
        }
        for i in (0..N).rev() {
            back[c][i] = (y[i] - (i + 1..N).map(|k| L[k][i] * back[c][k]).sum::<f64>()) / L[i][i];
        }
    }
    (back, ln_det)
}
