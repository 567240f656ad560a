//! The pressure in an oil film with cavitation: balances of a film mesh as a complementarity problem, solved by multigrid.
//!
//! At each node either the film carries (p > 0 and its volume is in balance) or it has ruptured (p = 0 and more would flow out than
//! in): Reynolds' condition P = ∂P/∂n = 0 at the rupture comes out by itself. It leaves the mesh to `film_grid`, figures to `run::film`.
//!
//! - **Smoother:** whole lines of y, first every second line, then the others. A line is a tridiagonal problem; elimination from the
//!   middle outwards and a bound p ≥ 0 on the way back solve it exactly, since pressure falls from the middle to the end
//!   (Brennan and Schwartz 1977, from memory). No pressure under 0 can come out.
//! - **Coarse meshes** keep every second line: conductances in θ in series, leaks of the left-out lines shared by them. In a long
//!   bearing that is elimination itself; in a short one the lines do the work. So one scheme serves L/D 0.05 to 10, ε near 0 and near 1.
//! - **The ruptured nodes are out of the coarse meshes** (a node beside one loses to it as to a wall), so the correction acts on the
//!   film that is there; what it sets under 0 is set to 0, and the lines of the finest mesh may take nodes in and out.
//!
//! Work grows with the number of nodes; the rounds do not grow with them. [`ROUNDS`] is the limit; [`Film::settled`] says whether it sufficed.

use crate::solve::film_grid::FilmGrid;

/// Rounds at most.
pub const ROUNDS: u32 = 60;
/// Settled when the balances of all volumes are off by less than this share of what flows together in the film.
const BALANCE: f64 = 1e-11;
/// What rounding leaves of it, per interval of y squared.
const ROUNDING: f64 = 4e-15;
/// Lines that are solved side by side.
const ABREAST: usize = 4;
/// A leak that holds a node at 0.
const WALL: f64 = 1e200;

/// The pressure found.
#[derive(Clone, Debug)]
pub struct Film {
    /// p = P/ε at node (i, j), at `i m + j`, j under m (p is 0 at j = m).
    pub p: Vec<f64>,
    /// Rounds that were made.
    pub rounds: u32,
    /// By how much the balances are off, as a share of what flows together.
    pub imbalance: f64,
    /// Whether they came under the aim.
    pub settled: bool,
}

/// One mesh of the multigrid: all lines of y, every second θ of the finer one.
struct Level {
    n: usize,
    g: Vec<f64>,
    w: Vec<f64>,
    /// Conductance to ruptured neighbours; `WALL` where the node itself has ruptured. Empty on the finest.
    leak: Vec<f64>,
    /// Inverse pivots of the elimination along y.
    pivot: Vec<f64>,
    x: Vec<f64>,
    f: Vec<f64>,
}

struct Meshes<'g> {
    grid: &'g FilmGrid,
    levels: Vec<Level>,
    /// Working lines.
    line: Vec<f64>,
    /// The film as the coarse meshes know it.
    carries: Vec<bool>,
    /// What flows together in all volumes.
    together: f64,
}

/// Solves the film on `grid`, from the pressure `start` (one value a node, or empty: from nothing).
pub fn film(grid: &FilmGrid, start: Vec<f64>) -> Film {
    let mut meshes = Meshes::new(grid, start);
    let aim = BALANCE.max(ROUNDING * (grid.m * grid.m) as f64);
    let mut imbalance = f64::INFINITY;
    for round in 1..=ROUNDS {
        imbalance = meshes.round();
        if imbalance <= aim {
            return Film { p: meshes.pressure(), rounds: round, imbalance, settled: true };
        }
    }
    Film { p: meshes.pressure(), rounds: ROUNDS, imbalance, settled: false }
}

/// The pressure of a mesh of twice the step as a start on the finer one: straight between its nodes.
pub fn refined(coarse: &[f64], n: usize, m: usize) -> Vec<f64> {
    let fine_m = 2 * m;
    let at = |i: usize, j: usize| if j == m { 0.0 } else { coarse[i * m + j] };
    let mut fine = vec![0.0; (2 * n + 1) * fine_m];
    for i in 0..=2 * n {
        for j in 0..fine_m {
            let (i0, i1, j0, j1) = (i / 2, i.div_ceil(2), j / 2, j.div_ceil(2));
            fine[i * fine_m + j] = 0.25 * (at(i0, j0) + at(i0, j1) + at(i1, j0) + at(i1, j1));
        }
    }
    fine
}

impl<'g> Meshes<'g> {
    fn new(grid: &'g FilmGrid, start: Vec<f64>) -> Self {
        let (n, m) = (grid.n, grid.m);
        let nodes = (n + 1) * m;
        let mut f = vec![0.0; nodes];
        for i in 1..n {
            for j in 0..m {
                f[i * m + j] = grid.dy[j] * grid.gathered(i);
            }
        }
        let together = f.iter().map(|f| f.max(0.0)).sum();
        let x = if start.len() == nodes { start } else { vec![0.0; nodes] };
        let finest = Level { n, g: grid.g.clone(), w: grid.w.clone(), leak: Vec::new(), pivot: vec![0.0; nodes], x, f };
        let mut levels = vec![finest];
        while let Some(next) = levels.last().and_then(|level| level.coarser(m)) {
            levels.push(next);
        }
        let mut meshes = Self { grid, levels, line: vec![0.0; ABREAST * m], carries: vec![false; nodes], together };
        meshes.levels[0].eliminate(grid);
        meshes
    }

    fn pressure(&mut self) -> Vec<f64> {
        std::mem::take(&mut self.levels[0].x)
    }

    /// One round: lines, coarse meshes, lines. Gives the imbalance before the correction.
    fn round(&mut self) -> f64 {
        let (grid, m) = (self.grid, self.grid.m);
        let mut line = std::mem::take(&mut self.line);
        let line_of = &mut line;
        let last = self.levels.len() - 1;
        self.levels[0].relax::<true>(grid, 2, line_of);
        self.levels[0].relax::<true>(grid, 1, line_of);
        self.note_film();
        let mut off = 0.0;
        for k in 0..last {
            let (finer, coarser) = self.levels.split_at_mut(k + 1);
            let (finer, coarser) = (&mut finer[k], &mut coarser[0]);
            if k == 0 {
                off = finer.restrict_film(grid, coarser)
            } else {
                finer.restrict(grid, coarser)
            }
            coarser.x.fill(0.0);
            coarser.relax::<false>(grid, 2, line_of);
            coarser.relax::<false>(grid, 1, line_of);
        }
        for k in (0..last).rev() {
            let (finer, coarser) = self.levels.split_at_mut(k + 1);
            let (finer, coarser) = (&mut finer[k], &coarser[0]);
            for i in 1..coarser.n {
                let (to, from) = (&mut finer.x[2 * i * m..][..m], &coarser.x[i * m..][..m]);
                if k == 0 {
                    to.iter_mut().zip(from).filter(|(to, _)| **to > 0.0).for_each(|(to, from)| *to = (*to + from).max(0.0));
                } else {
                    to.iter_mut().zip(from).for_each(|(to, from)| *to += from);
                }
            }
            if k == 0 { finer.relax::<true>(grid, 1, line_of) } else { finer.relax::<false>(grid, 1, line_of) }
        }
        self.line = line;
        off / self.together
    }

    /// Looks where the film carries; where that has changed the coarse meshes are made anew.
    fn note_film(&mut self) {
        let mut changed = false;
        for (carries, x) in self.carries.iter_mut().zip(&self.levels[0].x) {
            changed |= *carries != (*x > 0.0);
            *carries = *x > 0.0;
        }
        if !changed {
            return;
        }
        for k in 1..self.levels.len() {
            let (finer, coarser) = self.levels.split_at_mut(k);
            coarser[0].take_leaks(self.grid, &finer[k - 1], (k == 1).then_some(&self.carries));
            coarser[0].eliminate(self.grid);
        }
    }
}

impl Level {
    /// The mesh of every second line; none below two intervals.
    fn coarser(&self, m: usize) -> Option<Self> {
        let n = self.n / 2;
        if n < 2 || self.n % 2 == 1 {
            return None;
        }
        let series = |i: usize| self.g[2 * i] * self.g[2 * i + 1] / (self.g[2 * i] + self.g[2 * i + 1]);
        let g = (0..n).map(series).collect();
        // A line that is left out hands its leak in y to its two neighbours, by the weights that interpolate its pressure.
        let from = |odd: usize, near: usize| self.w[odd] * self.g[near] / (self.g[odd - 1] + self.g[odd]);
        let whole = |i: usize| self.w[2 * i] + from(2 * i - 1, 2 * i - 1) + from(2 * i + 1, 2 * i);
        let w = (0..=n).map(|i| if i == 0 || i == n { 0.0 } else { whole(i) }).collect();
        let nodes = (n + 1) * m;
        Some(Self { n, g, w, leak: vec![0.0; nodes], pivot: vec![0.0; nodes], x: vec![0.0; nodes], f: vec![0.0; nodes] })
    }

    /// Leaks of this mesh from those of the finer one; on the finest the film itself says which nodes carry.
    fn take_leaks(&mut self, grid: &FilmGrid, finer: &Level, carries: Option<&Vec<bool>>) {
        let m = grid.m;
        let leak_at = |i: usize, j: usize| match carries {
            Some(carries) if carries[i * m + j] => 0.0,
            Some(_) => WALL,
            None => finer.leak[i * m + j],
        };
        for i in 1..self.n {
            for j in 0..m {
                let own = leak_at(2 * i, j);
                let mut leak = own;
                if own < WALL {
                    for (odd, near, far) in [(2 * i - 1, 2 * i - 1, 2 * i - 2), (2 * i + 1, 2 * i, 2 * i + 1)] {
                        let (near, far) = (finer.g[near] * grid.dy[j], finer.g[far] * grid.dy[j]);
                        let out = leak_at(odd, j);
                        // The way through a left-out node that leaks: what the series of `g` does not have.
                        leak += if out >= WALL { near * near / (near + far) } else { near * out / (near + far + out) };
                    }
                }
                self.leak[i * m + j] = leak;
            }
        }
    }

    /// Pivots of the elimination along y, for every line.
    fn eliminate(&mut self, grid: &FilmGrid) {
        let m = grid.m;
        for i in 1..self.n {
            let (along, w) = (self.g[i - 1] + self.g[i], self.w[i]);
            let mut through = 0.0;
            let mut below = 0.0;
            for j in 0..m {
                let above = w * grid.kappa[j];
                let leak = self.leak.get(i * m + j).copied().unwrap_or(0.0);
                let pivot = 1.0 / (grid.dy[j] * along + below + above + leak - through);
                self.pivot[i * m + j] = pivot;
                through = above * above * pivot;
                below = above;
            }
        }
    }

    /// Solves every second line, from line `first`, with its neighbours as they are; `BOUND` keeps pressures from falling under 0.
    fn relax<const BOUND: bool>(&mut self, grid: &FilmGrid, first: usize, work: &mut [f64]) {
        let mut i = first;
        while i < self.n {
            // Lines of one colour do not see each other: several at a time keep the processor from waiting for one elimination.
            if i + 2 * (ABREAST - 1) < self.n {
                self.solve_lines::<ABREAST, BOUND>(grid, i, work);
                i += 2 * ABREAST;
            } else {
                self.solve_lines::<1, BOUND>(grid, i, work);
                i += 2;
            }
        }
    }

    /// Solves the lines i, i + 2, .. of `K` lines.
    fn solve_lines<const K: usize, const BOUND: bool>(&mut self, grid: &FilmGrid, i: usize, work: &mut [f64]) {
        let m = grid.m;
        let (kappa, dy, work) = (&grid.kappa[..m], &grid.dy[..m], &mut work[..m * K]);
        let row = |line: usize| line * m..(line + 1) * m;
        let line = |k: usize| i + 2 * k;
        let (g_west, g_east): ([f64; K], [f64; K]) =
            (std::array::from_fn(|k| self.g[line(k) - 1]), std::array::from_fn(|k| self.g[line(k)]));
        let w: [f64; K] = std::array::from_fn(|k| self.w[line(k)]);
        let west: [&[f64]; K] = std::array::from_fn(|k| &self.x[row(line(k) - 1)]);
        let east: [&[f64]; K] = std::array::from_fn(|k| &self.x[row(line(k) + 1)]);
        let f: [&[f64]; K] = std::array::from_fn(|k| &self.f[row(line(k))]);
        let pivot: [&[f64]; K] = std::array::from_fn(|k| &self.pivot[row(line(k))]);
        let mut z = [0.0; K];
        let mut inner_kappa = 0.0;
        for (j, out) in work.chunks_exact_mut(K).enumerate() {
            for k in 0..K {
                let pivot = pivot[k][j];
                let fed = (f[k][j] + dy[j] * (g_west[k] * west[k][j] + g_east[k] * east[k][j])) * pivot;
                z[k] = fed + w[k] * inner_kappa * pivot * z[k];
                out[k] = z[k];
            }
            inner_kappa = kappa[j];
        }
        let mut rows = self.x[i * m..].chunks_mut(2 * m);
        let own: [&mut [f64]; K] = std::array::from_fn(|_| rows.next().map_or(Default::default(), |row| &mut row[..m]));
        let mut outer = [0.0; K];
        for (j, z) in work.chunks_exact(K).enumerate().rev() {
            for k in 0..K {
                let x = z[k] + w[k] * kappa[j] * pivot[k][j] * outer[k];
                outer[k] = if BOUND && x <= 0.0 { 0.0 } else { x };
                own[k][j] = outer[k];
            }
        }
    }

    /// What is missing at each node of line `i` of its balance, given to `take` in order.
    fn missing(&self, grid: &FilmGrid, i: usize, mut take: impl FnMut(usize, f64)) {
        let m = grid.m;
        let row = |line: usize| line * m..(line + 1) * m;
        let (x, west, east) = (&self.x[row(i)], &self.x[row(i - 1)], &self.x[row(i + 1)]);
        let (f, leak) = (&self.f[row(i)], self.leak.get(i * m..(i + 1) * m));
        let (g_west, g_east, w) = (self.g[i - 1], self.g[i], self.w[i]);
        let mut from_inside = 0.0;
        for j in 0..m {
            let along = g_west * (west[j] - x[j]) + g_east * (east[j] - x[j]);
            let outwards = w * grid.kappa[j] * (x[j] - x.get(j + 1).copied().unwrap_or(0.0));
            let lost = leak.map_or(0.0, |leak| leak[j] * x[j]);
            take(j, f[j] + grid.dy[j] * along + from_inside - outwards - lost);
            from_inside = outwards;
        }
    }

    /// From the finest mesh: what is missing where the film carries, on the lines that the coarser mesh has. The others were relaxed last
    /// and miss nothing. Gives the sum of what is off; a ruptured volume may have too little, not too much.
    fn restrict_film(&self, grid: &FilmGrid, coarser: &mut Level) -> f64 {
        let m = grid.m;
        let mut off = 0.0;
        for i in 1..coarser.n {
            let (x, f) = (&self.x[2 * i * m..][..m], &mut coarser.f[i * m..][..m]);
            self.missing(grid, 2 * i, |j, missing| {
                let carries = x[j] > 0.0;
                off += if carries { missing.abs() } else { missing.max(0.0) };
                f[j] = if carries { missing } else { 0.0 };
            });
        }
        off
    }

    /// The same between coarse meshes.
    fn restrict(&self, grid: &FilmGrid, coarser: &mut Level) {
        let m = grid.m;
        for i in 1..coarser.n {
            let (leak, f) = (&self.leak[2 * i * m..][..m], &mut coarser.f[i * m..][..m]);
            self.missing(grid, 2 * i, |j, missing| f[j] = if leak[j] < WALL { missing } else { 0.0 });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The bearings of the counts: light, middle and heavy load, short and long.
    const BEARINGS: [(f64, f64); 6] = [(1e-6, 1.0), (0.3, 0.05), (0.6, 1.0), (0.9, 10.0), (0.97, 0.25), (0.9999, 1.0)];

    #[test]
    fn rounds_do_not_grow_with_the_mesh() {
        for (eps, L_over_D) in BEARINGS {
            let mut start = Vec::new();
            for halvings in 0..5 {
                let grid = FilmGrid::new(eps, L_over_D, 16 << halvings, 4 << halvings);
                let found = film(&grid, start);
                assert!(found.settled && found.rounds <= 18, "{eps} {L_over_D} halved {halvings} times: {} rounds", found.rounds);
                start = refined(&found.p, grid.n, grid.m);
            }
        }
    }

    #[test]
    fn the_film_is_in_balance_where_it_carries_and_short_of_oil_where_it_has_ruptured() {
        for (eps, L_over_D) in BEARINGS {
            let grid = FilmGrid::new(eps, L_over_D, 64, 16);
            let p = film(&grid, Vec::new()).p;
            let whole = Meshes::new(&grid, p.clone());
            let scale: f64 = (1..grid.n).map(|i| grid.gathered(i).max(0.0)).sum();
            for i in 1..grid.n {
                whole.levels[0].missing(&grid, i, |j, missing| {
                    let pressure = p[i * grid.m + j];
                    assert!(pressure >= 0.0 && missing <= 1e-10 * scale, "{eps} {L_over_D} at {i}, {j}: {pressure} {missing:e}");
                    assert!(pressure == 0.0 || missing.abs() <= 1e-10 * scale, "{eps} {L_over_D} at {i}, {j}: {missing:e}");
                });
            }
        }
    }

    #[test]
    fn a_start_from_anywhere_ends_in_the_same_film() {
        let grid = FilmGrid::new(0.7, 0.8, 32, 8);
        let nodes = (grid.n + 1) * grid.m;
        let from_nothing = film(&grid, Vec::new());
        // Everywhere a film, with edges at 0 as they have to be.
        let start = (0..nodes).map(|at| if (1..grid.n).contains(&(at / grid.m)) { 5.0 } else { 0.0 }).collect();
        let from_everywhere = film(&grid, start);
        let top = from_nothing.p.iter().copied().fold(0.0, f64::max);
        for (a, b) in from_nothing.p.iter().zip(&from_everywhere.p) {
            assert!((a - b).abs() < 1e-9 * top, "{a} {b}");
        }
    }
}
