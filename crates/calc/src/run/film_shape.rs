//! The finite film without dimensions: load, attitude, friction, flow and pressure at an eccentricity, each with its error.
//!
//! The mesh is halved until the figures stand still. Two meshes give figures by extrapolation to a step of nothing (errors fall with the
//! square of the step), a third one says by how much that changes: this is the error told. It leaves the equations to `solve`, closed
//! theories to `film_theory`, sizes and loads to `film`.
//! Source: Reynolds 1886 with the condition of Swift and Stieber; figures as Raimondi and Boyd 1958; extrapolation after Richardson.

use crate::math::{PI, atan2, cos, exp, hypot, ln, sin, sq};
use crate::run::film_theory::{Cavitation, friction_variable, half_sommerfeld, long, short, short_sommerfeld};
use crate::solve::film_grid::FilmGrid;
use crate::solve::multigrid::{film, refined};

/// The coarsest mesh: intervals in θ, in y over half the length.
const COARSEST: (usize, usize) = (16, 4);
/// How often it is halved at least: three meshes are needed to tell an error.
const FIRST: usize = 2;
/// Halvings at most: 512 × 128 intervals.
pub const FINEST: usize = 5;
/// Where a load needs more than this, no film carries it.
pub const EPS_MOST: f64 = 0.99;
/// Steps of a search for a load at most, on each mesh.
const LOAD_STEPS: u32 = 12;
/// A load is met when ln S is off by no more.
const LOAD_MET: f64 = 1e-11;
/// A mesh is judged when ln S is off by no more.
const LOAD_NEAR: f64 = 1e-3;
/// Beyond this a load that was not met is said.
const LOAD_SAID: f64 = 1e-8;
/// Halvings of the search on the scale of the closed theories.
const SCALE_STEPS: u32 = 70;

/// Figures of a film without dimensions; angles from the widest gap in the direction of rotation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmShape {
    /// Eccentricity ratio ε.
    pub eps: f64,
    /// S = (R/C)² η N/p.
    pub sommerfeld: f64,
    /// Attitude angle φ.
    pub attitude_deg: f64,
    /// (R/C) f.
    pub friction_variable: f64,
    /// Q/(R C N L) at the widest gap.
    pub flow_variable: f64,
    /// Q_s/(R C N L).
    pub side_flow_variable: f64,
    /// Mean over greatest pressure.
    pub pressure_ratio: f64,
    /// Where the pressure is greatest.
    pub pmax_angle_deg: f64,
    /// Where the film ends at mid-length; none when negative pressures are borne.
    pub rupture_angle_deg: Option<f64>,
}

/// What makes the film: the whole equation, or one of its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theory {
    /// Reynolds' equation on the whole bearing.
    Finite,
    /// The short bearing.
    Short,
    /// The endless bearing.
    Long(Cavitation),
}

/// A film with what is known of its error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Its figures.
    pub shape: FilmShape,
    /// The largest change of a figure when the mesh was last halved, as a share of it (the angles of greatest pressure and of rupture: as a
    /// share of the whole turn); 0 for a closed theory.
    pub error_rel: f64,
    /// Pressures that were solved for on the finest mesh; 0 for a closed theory.
    pub unknowns: usize,
    /// How often the coarsest mesh was halved.
    pub halvings: usize,
    /// Whether every balance settled.
    pub settled: bool,
    /// The load asks for more than [`EPS_MOST`].
    pub beyond: bool,
}

/// How exactly a film is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Effort {
    /// Halve until no figure changes by more than this share, [`FINEST`] times at most.
    Tolerance(f64),
    /// Halve so often, once at least.
    Halvings(usize),
}

impl Effort {
    fn enough(self, halvings: usize, error_rel: f64) -> bool {
        match self {
            Self::Tolerance(tolerance) => halvings >= FIRST && (error_rel <= tolerance || halvings >= FINEST),
            Self::Halvings(wanted) => halvings >= wanted,
        }
    }
}

/// The film at an eccentricity ratio `eps` (over 0, under 1) in a bearing of `L_over_D`.
pub fn film_at(theory: Theory, eps: f64, L_over_D: f64, effort: Effort) -> Found {
    let closed = |shape| Found { shape, error_rel: 0.0, unknowns: 0, halvings: 0, settled: true, beyond: false };
    match theory {
        Theory::Short => closed(short(eps, L_over_D)),
        Theory::Long(cavitation) => closed(long(eps, cavitation)),
        Theory::Finite => {
            let mut meshes = Meshes::new(eps, L_over_D);
            loop {
                meshes.halve();
                let found = meshes.found();
                if effort.enough(found.halvings, found.error_rel) {
                    return found;
                }
            }
        }
    }
}

/// The film that carries a load of Sommerfeld number `S`.
///
/// ln S falls steadily with ε, nearly as that of the sum of short and endless bearing does: on that scale a secant meets it in a few
/// steps. A load that needs ε over [`EPS_MOST`] is answered there, `beyond`.
pub fn film_under(theory: Theory, S: f64, L_over_D: f64, effort: Effort) -> Found {
    let coarse = film_at(theory, EPS_MOST, L_over_D, Effort::Halvings(FIRST));
    // Within a hundredth of the limit the coarse mesh can't tell.
    let close = (S / coarse.shape.sommerfeld - 1.0).abs() < 0.01;
    if close || S < coarse.shape.sommerfeld {
        let limit = film_at(theory, EPS_MOST, L_over_D, effort);
        if S < limit.shape.sommerfeld {
            return Found { beyond: true, ..limit };
        }
    }
    let mut search = Search { theory, L_over_D, wanted: ln(S), at: ln(S), slope: 1.0 };
    let mut halvings = if let Effort::Halvings(halvings) = effort { halvings } else { FIRST };
    loop {
        let near = search.met(halvings, LOAD_NEAR);
        if theory != Theory::Finite || effort.enough(halvings, near.error_rel) {
            return search.met(halvings, LOAD_MET);
        }
        halvings += 1;
    }
}

/// A search for the eccentricity that carries a load, on the scale of ln S of the closed theories.
struct Search {
    theory: Theory,
    L_over_D: f64,
    /// ln S that is wanted.
    wanted: f64,
    /// ln S of the closed theories at the next try.
    at: f64,
    /// How ln S of the film changes with it.
    slope: f64,
}

impl Search {
    /// Tries until ln S is off by no more than `closeness` on the mesh that is halved so often.
    fn met(&mut self, halvings: usize, closeness: f64) -> Found {
        let mut last: Option<(f64, f64)> = None;
        let mut step = 1;
        loop {
            let at = self.at;
            let found = film_at(self.theory, eps_on_scale(self.theory, at, self.L_over_D), self.L_over_D, Effort::Halvings(halvings));
            let off = ln(found.shape.sommerfeld) - self.wanted;
            if let Some((before, off_before)) = last
                && (at - before).abs() > 1e-9
            {
                self.slope = ((off - off_before) / (at - before)).clamp(0.3, 3.0);
            }
            self.at = at - off / self.slope;
            if off.abs() <= closeness || step >= LOAD_STEPS {
                return Found { settled: found.settled && off.abs() <= closeness.max(LOAD_SAID), ..found };
            }
            last = Some((at, off));
            step += 1;
        }
    }
}

/// S by the closed theories: of the two limits their sum, which is within a third of the film's.
fn scale(theory: Theory, eps: f64, L_over_D: f64) -> f64 {
    match theory {
        Theory::Finite => short_sommerfeld(eps, L_over_D) + half_sommerfeld(eps),
        Theory::Short => short_sommerfeld(eps, L_over_D),
        Theory::Long(_) => half_sommerfeld(eps),
    }
}

/// The ε at which ln of [`scale`] is `at`: halving in ln(ε/(1 − ε)).
fn eps_on_scale(theory: Theory, at: f64, L_over_D: f64) -> f64 {
    let S = exp(at);
    let (mut low, mut high) = (-700.0, 30.0);
    let eps = |z: f64| 1.0 / (1.0 + exp(-z));
    for _ in 0..SCALE_STEPS {
        let middle = 0.5 * (low + high);
        if scale(theory, eps(middle), L_over_D) > S { low = middle } else { high = middle }
    }
    eps(0.5 * (low + high))
}

/// Meshes of one film, each half the step of the one before, and the figures on them.
struct Meshes {
    eps: f64,
    L_over_D: f64,
    pressure: Vec<f64>,
    figures: Vec<Figures>,
    settled: bool,
}

/// The eight figures in the order of [`FilmShape`], after ε.
type Figures = [f64; 8];
/// Where the two places stand in it.
const PMAX_ANGLE: usize = 6;
const RUPTURE: usize = 7;

impl Meshes {
    fn new(eps: f64, L_over_D: f64) -> Self {
        let mut meshes = Self { eps, L_over_D, pressure: Vec::new(), figures: Vec::new(), settled: true };
        meshes.solve();
        meshes
    }

    fn intervals(&self) -> (usize, usize) {
        (COARSEST.0 << self.figures.len(), COARSEST.1 << self.figures.len())
    }

    /// Solves the next mesh, from the pressure that stands ready.
    fn solve(&mut self) {
        let (n, m) = self.intervals();
        let grid = FilmGrid::new(self.eps, self.L_over_D, n, m);
        let film = film(&grid, std::mem::take(&mut self.pressure));
        self.settled &= film.settled;
        self.figures.push(figures(&grid, &film.p));
        self.pressure = film.p;
    }

    fn halve(&mut self) {
        let (n, m) = self.intervals();
        self.pressure = refined(&self.pressure, n / 2, m / 2);
        self.solve();
    }

    /// Figures for a step of nothing from meshes `k` − 1 and `k`. The end of the film is taken as the finest mesh has it: where it lies in
    /// a step does not follow from the coarser one.
    fn extrapolated(&self, k: usize) -> Figures {
        let (coarse, fine) = (&self.figures[k - 1], &self.figures[k]);
        std::array::from_fn(|i| if i == RUPTURE { fine[i] } else { fine[i] + (fine[i] - coarse[i]) / 3.0 })
    }

    fn found(&self) -> Found {
        let halvings = self.figures.len() - 1;
        let now = self.extrapolated(halvings);
        let before = if halvings > 1 { self.extrapolated(halvings - 1) } else { self.figures[0] };
        // A place is as exact as its share of the whole turn, whatever the number of degrees.
        let change = |i: usize| ((now[i] - before[i]) / if i >= PMAX_ANGLE { 360.0 } else { now[i] }).abs();
        let (n, m) = (COARSEST.0 << halvings, COARSEST.1 << halvings);
        let [sommerfeld, attitude_deg, friction_variable, flow_variable, side_flow_variable, pressure_ratio, pmax_angle_deg, rupture] = now;
        Found {
            shape: FilmShape {
                eps: self.eps,
                sommerfeld,
                attitude_deg,
                friction_variable,
                flow_variable,
                side_flow_variable,
                pressure_ratio,
                pmax_angle_deg,
                rupture_angle_deg: Some(rupture),
            },
            error_rel: (0..now.len()).map(change).fold(0.0, f64::max),
            unknowns: (n - 1) * m,
            halvings,
            settled: self.settled,
            beyond: false,
        }
    }
}

/// The figures of a film on one mesh, from p = P/ε.
///
/// I_r = ∫∫P cos θ, I_t = ∫∫P sin θ, S = 1/(6π I), tan φ = I_t/(−I_r), p/p_max = I/(2 P_max), Q = π∫(h − h³ ∂θP) dy at θ = 0.
fn figures(grid: &FilmGrid, p: &[f64]) -> Figures {
    let (eps, m) = (grid.eps, grid.m);
    let (mut I_r, mut I_t) = (0.0, 0.0);
    for i in 1..grid.n {
        let line: f64 = p[i * m..][..m].iter().zip(&grid.dy).map(|(p, dy)| p * dy).sum();
        I_r -= line * grid.span[i] * cos(grid.turn[i]);
        I_t -= line * grid.span[i] * sin(grid.turn[i]);
    }
    let I = hypot(I_r, I_t);
    let flows = flows(grid, p);
    let (p_max, pmax_turn) = greatest(grid, p);
    [
        1.0 / (6.0 * PI * eps * I),
        atan2(I_t, -I_r).to_degrees(),
        friction_variable(eps, eps * I_t, eps * I),
        PI * (1.0 + eps * flows.inward),
        PI * eps * flows.side,
        I / (2.0 * p_max),
        180.0 + pmax_turn.to_degrees(),
        180.0 + rupture_turn(grid, p).to_degrees(),
    ]
}

/// Flows of half a film per ε, drag at the mean gap left out: in at the widest gap, out at the end, out where the film ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flows {
    /// Through θ = 0.
    pub inward: f64,
    /// Through y = 1.
    pub side: f64,
    /// Into the ruptured part.
    pub rupture: f64,
}

/// Flows of the film `p` on `grid`, each summed by itself: that `inward` = `side` + `rupture` is a check.
///
/// The flow through the end is what the outermost volumes have left over; where that is negative the film has ruptured there too.
pub fn flows(grid: &FilmGrid, p: &[f64]) -> Flows {
    let (n, m) = (grid.n, grid.m);
    let at = |i: usize, j: usize| if j < m { p[i * m + j] } else { 0.0 };
    let over_end = |i: usize| grid.w[i] * grid.kappa[m - 1] * at(i, m - 1) + grid.dy[m] * grid.gathered(i);
    let carries = |i: usize, j: usize| 0 < i && i < n && if j < m { at(i, j) > 0.0 } else { over_end(i) > 0.0 };
    let along = |i: usize, j: usize| grid.dy[j] * (grid.drag[i] - grid.g[i] * (at(i + 1, j) - at(i, j)));
    let mut flows = Flows { inward: (0..=m).map(|j| along(0, j)).sum(), side: 0.0, rupture: 0.0 };
    for i in 1..n {
        if carries(i, m) {
            flows.side += over_end(i);
        }
        for j in (0..=m).filter(|j| carries(i, *j)) {
            if !carries(i + 1, j) {
                flows.rupture += along(i, j);
            }
            if i > 1 && !carries(i - 1, j) {
                flows.rupture -= along(i - 1, j);
            }
            if j < m && !carries(i, j + 1) {
                flows.rupture += grid.w[i] * grid.kappa[j] * at(i, j);
            }
            if j > 0 && !carries(i, j - 1) {
                flows.rupture += grid.w[i] * grid.kappa[j - 1] * at(i, j);
            }
        }
    }
    flows
}

/// Greatest p at mid-length, and θ − π there: a parabola through the three nodes about it.
fn greatest(grid: &FilmGrid, p: &[f64]) -> (f64, f64) {
    let middle = |i: usize| p[i * grid.m];
    let top = (1..grid.n).fold(1, |top, i| if middle(i) > middle(top) { i } else { top });
    let (a, b, c) = (grid.turn[top - 1], grid.turn[top], grid.turn[top + 1]);
    let (before, after) = ((middle(top) - middle(top - 1)) / (b - a), (middle(top + 1) - middle(top)) / (c - b));
    let curve = (after - before) / (c - a);
    // Slope at the node itself; the parabola is p + slope x + curve x².
    let slope = (before * (c - b) + after * (b - a)) / (c - a);
    let shift = -slope / (2.0 * curve);
    (middle(top) - sq(slope) / (4.0 * curve), b + shift)
}

/// θ − π where the film ends at mid-length. There p falls as the square of the distance, so √p runs straight to 0; the last node,
/// which may lie anywhere in the last step, is left out.
fn rupture_turn(grid: &FilmGrid, p: &[f64]) -> f64 {
    let root = |i: usize| p[i * grid.m].sqrt();
    let last = (1..grid.n).rev().find(|i| root(*i) > 0.0).unwrap_or(1).max(3);
    let (far, near) = (last - 2, last - 1);
    let step = (grid.turn[near] - grid.turn[far]) * root(near) / (root(far) - root(near));
    (grid.turn[near] + step).clamp(grid.turn[near], grid.turn[grid.n])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_flows_in_flows_out() {
        for (eps, L_over_D) in [(1e-6, 1.0), (0.1, 0.05), (0.6, 1.0), (0.9, 10.0), (0.99, 0.5), (0.999, 1.0)] {
            let grid = FilmGrid::new(eps, L_over_D, 64, 16);
            let found = film(&grid, Vec::new());
            let flows = flows(&grid, &found.p);
            assert!(found.settled, "{eps} {L_over_D}: {found:?}");
            let off = flows.inward - flows.side - flows.rupture;
            assert!(off.abs() < 1e-10 * flows.side, "{eps} {L_over_D}: {off:e} {flows:?}");
        }
    }

    /// Step by step halved, a figure that goes with the square of the step changes by a quarter of its last change. The attitude has
    /// two errors that nearly cancel, so its order shows late; the end of the film lies anywhere in a step and has none.
    #[test]
    fn figures_go_with_the_square_of_the_step() {
        for (eps, L_over_D) in [(0.1, 1.0), (0.6, 1.0), (0.8, 0.5), (0.3, 10.0), (0.97, 1.0), (0.9999, 1.0)] {
            let mut meshes = Meshes::new(eps, L_over_D);
            (0..4).for_each(|_| meshes.halve());
            for (k, name) in [(0, "S"), (2, "friction"), (3, "flow"), (4, "side flow")] {
                let at = |mesh: usize| meshes.figures[mesh][k];
                let (before, last) = (at(3) - at(2), at(4) - at(3));
                let order = ln(before / last) / ln(2.0);
                // A figure that stands already shows only its rounding.
                let stands = last.abs() < 1e-6 * at(4).abs();
                assert!(stands || (1.6..2.5).contains(&order), "{name} at {eps}, {L_over_D}: order {order:.2}");
            }
        }
    }

    #[test]
    fn the_error_that_is_told_is_over_the_error_that_is_left() {
        for (eps, L_over_D) in [(0.02, 1.0), (0.6, 1.0), (0.8, 0.5), (0.3, 10.0), (0.97, 0.25)] {
            let settled = film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(5)).shape;
            for halvings in 2..4 {
                let found = film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(halvings));
                let left = (found.shape.sommerfeld / settled.sommerfeld - 1.0).abs();
                assert!(left < found.error_rel, "{eps} {L_over_D} {halvings}: {left:e} left, {:e} told", found.error_rel);
            }
        }
    }

    #[test]
    fn a_load_is_met_and_one_too_many_is_answered_at_the_limit() {
        for theory in [Theory::Finite, Theory::Short, Theory::Long(Cavitation::Reynolds), Theory::Long(Cavitation::Full)] {
            for eps in [1e-7, 0.2, 0.7, 0.985] {
                let S = film_at(theory, eps, 0.7, Effort::Halvings(2)).shape.sommerfeld;
                let found = film_under(theory, S, 0.7, Effort::Halvings(2));
                assert!(found.settled && !found.beyond && (found.shape.eps / eps - 1.0).abs() < 1e-9, "{theory:?} {eps}: {found:?}");
            }
            let limit = film_at(theory, EPS_MOST, 0.7, Effort::Halvings(2)).shape.sommerfeld;
            let over = film_under(theory, 0.5 * limit, 0.7, Effort::Tolerance(0.01));
            assert!(over.beyond && over.shape.eps == EPS_MOST, "{theory:?}: {over:?}");
        }
    }
}
