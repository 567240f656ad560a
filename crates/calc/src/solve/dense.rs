//! One front of a sparse factorisation: a dense symmetric matrix of which the first unknowns are eliminated by Cholesky.
//!
//! It leaves which unknowns meet in a front to `nested_dissection`, and the joint of two bodies to `contact`. A matrix is kept in bands of
//! [`LANES`] rows, each column of a band side by side: every inner loop runs straight through memory, and fills the machine's vectors
//! whatever their width. Sums go over the columns in their order at every width, and nothing is fused: the bits are the same everywhere.

use crate::draws::wide::{Work, widest};

/// Rows of a band.
pub const LANES: usize = 8;
/// Columns that are worked out together: with 8 rows they fill the registers of narrow machines and keep wide ones busy.
const ABREAST: usize = 4;

/// A front is put into room of up to so many times what it needs.
const ROOMIEST: usize = 3;

/// `n` filled up to whole bands.
pub const fn padded(n: usize) -> usize {
    n.div_ceil(LANES) * LANES
}

/// A symmetric matrix of `inner` unknowns to eliminate and `outer` ones that stay, each filled up to whole bands.
///
/// Only the lower triangle is kept. What fills up `inner` has 1 on the diagonal and meets nothing.
#[derive(Clone, Debug)]
pub struct Front {
    inner: usize,
    outer: usize,
    /// Columns of the inner unknowns, all rows; after [`Front::eliminate`] the columns of L.
    columns: Vec<f64>,
    /// The outer unknowns among themselves; after [`Front::eliminate`] what is left of them.
    rest: Vec<f64>,
}

/// Room that fronts have given back, for the next ones: most fronts are needed for a moment only, and fresh memory costs more than filling it.
#[derive(Clone, Debug, Default)]
pub struct Room(Vec<Vec<f64>>);

impl Room {
    /// `size` zeros, in the tightest room that was given back; in room of much more than that nothing is put, since a front that is kept
    /// would hold all of it.
    fn zeros(&mut self, size: usize) -> Vec<f64> {
        let fits = |room: &Vec<f64>| (size..=ROOMIEST * size).contains(&room.capacity());
        let tightest = self.0.iter().enumerate().filter(|(_, room)| fits(room)).min_by_key(|(_, room)| room.capacity()).map(|(i, _)| i);
        let Some(tightest) = tightest else { return vec![0.0; size] };
        let mut values = self.0.swap_remove(tightest);
        values.clear();
        values.resize(size, 0.0);
        values
    }

    fn back(&mut self, values: Vec<f64>) {
        if values.capacity() > 0 {
            self.0.push(values);
        }
    }
}

impl Front {
    /// An empty front of `inner` and `outer` unknowns.
    pub fn new(inner: usize, outer: usize) -> Self {
        Self::within(&mut Room::default(), inner, outer)
    }

    /// An empty front of `inner` and `outer` unknowns in used room.
    pub fn within(room: &mut Room, inner: usize, outer: usize) -> Self {
        let filled = padded(inner);
        let mut front = Self {
            inner: filled,
            outer: padded(outer),
            columns: room.zeros((filled + padded(outer)) * filled),
            rest: room.zeros(padded(outer) * padded(outer)),
        };
        for fill in inner..filled {
            front.add(fill, fill, 1.0);
        }
        front
    }

    /// Where the outer unknowns begin.
    pub fn inner(&self) -> usize {
        self.inner
    }

    /// Adds `value` at `row`, `column` (row ≥ column) of the whole front.
    #[inline(always)]
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        if column < self.inner {
            self.columns[place(self.inner, row, column)] += value;
        } else {
            self.rest[place(self.outer, row - self.inner, column - self.inner)] += value;
        }
    }

    /// The entry at `row`, `column` (row ≥ column) of the outer unknowns.
    #[inline(always)]
    pub fn rest(&self, row: usize, column: usize) -> f64 {
        self.rest[place(self.outer, row, column)]
    }

    /// Eliminates the inner unknowns. False when a pivot is not over 0: the matrix is not positive definite.
    pub fn eliminate(&mut self) -> bool {
        widest(Eliminating(self))
    }

    /// Gives up what is left of the outer unknowns, for the front above.
    pub fn take_rest(&mut self) -> Rest {
        Rest { outer: self.outer, values: std::mem::take(&mut self.rest) }
    }

    /// Gives its columns back, when nobody will ask for the inner unknowns.
    pub fn forget(self, room: &mut Room) {
        room.back(self.columns);
        room.back(self.rest);
    }

    /// The inner part of `x` from its outer part, where no force acts on the inner unknowns: `L11ᵀ x_in = −L21ᵀ x_out`.
    pub fn substitute(&self, x: &mut [f64]) {
        widest(Substituting { front: self, x });
    }

    /// Multiplications of the elimination, counted on what the bands hold.
    pub fn multiplications(&self) -> u64 {
        let (k, m) = (self.inner as u64, self.outer as u64);
        k * k * k / 6 + k * k * m / 2 + k * m * m / 2
    }
}

/// What an elimination leaves of the unknowns that stay, lower triangle.
#[derive(Clone, Debug)]
pub struct Rest {
    outer: usize,
    values: Vec<f64>,
}

impl Rest {
    /// Adds the first `places.len()` unknowns to a front, each at its place there; inner places rise, and so do outer ones.
    pub fn add_to(&self, front: &mut Front, places: &[u32]) {
        let (inner, outer) = (front.inner, front.outer);
        let in_columns: Vec<usize> = places.iter().map(|row| place(inner, *row as usize, 0)).collect();
        let in_rest: Vec<usize> = places.iter().map(|row| place(outer, (*row as usize).saturating_sub(inner), 0)).collect();
        for (band, values) in self.values.chunks_exact((LANES * self.outer).max(1)).enumerate() {
            let first = band * LANES;
            let last = (first + LANES).min(places.len());
            for (column, lanes) in values.as_chunks::<LANES>().0.iter().enumerate().take(last) {
                let at = places[column] as usize;
                let top = column.max(first);
                if at < inner {
                    // What comes after an inner unknown stands below it, whichever kind it is.
                    for (base, value) in in_columns[top..last].iter().zip(&lanes[top - first..]) {
                        front.columns[base + at * LANES] += value;
                    }
                    continue;
                }
                for (row, value) in (top..last).zip(&lanes[top - first..]) {
                    let to = places[row] as usize;
                    if to < inner {
                        front.columns[in_columns[column] + to * LANES] += value;
                    } else {
                        front.rest[in_rest[row] + (at - inner) * LANES] += value;
                    }
                }
            }
        }
    }

    /// Gives its room back.
    pub fn forget(self, room: &mut Room) {
        room.back(self.values);
    }

    /// Calls `take(row, column, value)` for the lower triangle of the first `n` unknowns.
    #[inline(always)]
    pub fn each(&self, n: usize, mut take: impl FnMut(usize, usize, f64)) {
        for (band, values) in self.values.chunks_exact((LANES * self.outer).max(1)).enumerate() {
            let first = band * LANES;
            let rows = LANES.min(n.saturating_sub(first));
            for (column, lanes) in values.as_chunks::<LANES>().0.iter().enumerate().take(first + rows) {
                for (lane, value) in lanes.iter().enumerate().take(rows).skip(column.saturating_sub(first)) {
                    take(first + lane, column, *value);
                }
            }
        }
    }
}

/// Where `row`, `column` stands in bands of `columns` columns.
#[inline(always)]
const fn place(columns: usize, row: usize, column: usize) -> usize {
    (row / LANES * columns + column) * LANES + row % LANES
}

struct Eliminating<'f>(&'f mut Front);

impl Work for Eliminating<'_> {
    type Done = bool;
    #[inline(always)]
    fn run(self) -> bool {
        let Front { inner, outer, columns, rest } = self.0;
        let (inner, outer) = (*inner, *outer);
        let band = inner * LANES;
        for block in 0..inner / LANES {
            let done = block * LANES;
            let (above, below) = columns.split_at_mut((block + 1) * band);
            let own = &mut above[block * band..];
            let (left, right) = own.split_at_mut(done * LANES);
            let left = &*left;
            let tile = &mut right[..LANES * LANES];
            subtract(tile, left, left);
            let Some(inverse) = factor(tile) else { return false };
            let tile = &*tile;
            for lower in below.chunks_exact_mut(band) {
                let (before, rest) = lower.split_at_mut(done * LANES);
                let target = &mut rest[..LANES * LANES];
                subtract(target, before, left);
                solve(target, tile, &inverse);
            }
        }
        let kept = &columns[inner / LANES * band.max(1)..];
        for (i, (own, target)) in kept.chunks_exact(band.max(1)).zip(rest.chunks_exact_mut((outer * LANES).max(1))).enumerate() {
            let others = kept.chunks_exact(band.max(1)).take(i + 1);
            for (other, tile) in others.zip(target.chunks_exact_mut(LANES * LANES)) {
                subtract(tile, own, other);
            }
        }
        true
    }
}

/// `tile −= a bᵀ`, both bands of as many columns.
#[inline(always)]
fn subtract(tile: &mut [f64], a: &[f64], b: &[f64]) {
    for (half, target) in tile.chunks_exact_mut(ABREAST * LANES).enumerate() {
        let mut sums = [[0.0; LANES]; ABREAST];
        for (x, y) in a.as_chunks::<LANES>().0.iter().zip(b.as_chunks::<LANES>().0) {
            for (c, sum) in sums.iter_mut().enumerate() {
                let factor = y[half * ABREAST + c];
                for (sum, x) in sum.iter_mut().zip(x) {
                    *sum += x * factor;
                }
            }
        }
        for (target, sum) in target.as_chunks_mut::<LANES>().0.iter_mut().zip(&sums) {
            for (target, sum) in target.iter_mut().zip(sum) {
                *target -= sum;
            }
        }
    }
}

/// Cholesky of one tile in place; gives the inverse pivots.
#[inline(always)]
fn factor(tile: &mut [f64]) -> Option<[f64; LANES]> {
    let mut inverse = [0.0; LANES];
    for j in 0..LANES {
        let pivot = tile[j * LANES + j];
        if pivot.is_nan() || pivot <= 0.0 || pivot == f64::INFINITY {
            return None;
        }
        let root = pivot.sqrt();
        inverse[j] = 1.0 / root;
        tile[j * LANES + j] = root;
        for i in j + 1..LANES {
            tile[j * LANES + i] *= inverse[j];
        }
        for k in j + 1..LANES {
            let factor = tile[j * LANES + k];
            for i in k..LANES {
                tile[k * LANES + i] -= tile[j * LANES + i] * factor;
            }
        }
    }
    Some(inverse)
}

/// `target L⁻ᵀ` in place, L the tile of the diagonal.
#[inline(always)]
fn solve(target: &mut [f64], tile: &[f64], inverse: &[f64; LANES]) {
    for j in 0..LANES {
        let mut column = [0.0; LANES];
        column.copy_from_slice(&target[j * LANES..(j + 1) * LANES]);
        for k in 0..j {
            let factor = tile[k * LANES + j];
            for (column, x) in column.iter_mut().zip(&target[k * LANES..(k + 1) * LANES]) {
                *column -= x * factor;
            }
        }
        for (target, x) in target[j * LANES..(j + 1) * LANES].iter_mut().zip(&column) {
            *target = x * inverse[j];
        }
    }
}

struct Substituting<'f> {
    front: &'f Front,
    x: &'f mut [f64],
}

impl Work for Substituting<'_> {
    type Done = ();
    #[inline(always)]
    fn run(self) {
        let Substituting { front, x } = self;
        let band = front.inner * LANES;
        for block in (0..front.inner / LANES).rev() {
            let first = block * LANES;
            let mut sums = [[0.0; LANES]; LANES];
            for (lower, x) in front.columns.chunks_exact(band).zip(x.as_chunks::<LANES>().0).skip(block + 1) {
                let tile = &lower[first * LANES..(first + LANES) * LANES];
                for (sum, l) in sums.iter_mut().zip(tile.as_chunks::<LANES>().0) {
                    for lane in 0..LANES {
                        sum[lane] += l[lane] * x[lane];
                    }
                }
            }
            let tile = &front.columns[block * band + first * LANES..];
            for j in (0..LANES).rev() {
                let mut value = -sums[j].iter().sum::<f64>();
                for k in j + 1..LANES {
                    value -= tile[j * LANES + k] * x[first + k];
                }
                x[first + j] = value / tile[j * LANES + j];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draws::wide::{at_width, each_width};

    /// A positive definite matrix: `1/(1 + |i − j|)` and 3 on the diagonal.
    fn entry(i: usize, j: usize) -> f64 {
        if i == j { 3.0 } else { 1.0 / (1.0 + i.abs_diff(j) as f64) }
    }

    fn front(inner: usize, outer: usize) -> Front {
        let mut front = Front::new(inner, outer);
        let at = |i: usize| if i < inner { i } else { padded(inner) + i - inner };
        for i in 0..inner + outer {
            for j in 0..=i {
                front.add(at(i), at(j), entry(i, j));
            }
        }
        front
    }

    #[test]
    fn what_is_left_acts_as_the_whole_does_when_nothing_pushes_inside() {
        for (inner, outer) in [(1, 1), (8, 8), (13, 21), (40, 5)] {
            let mut front = front(inner, outer);
            assert!(front.eliminate());
            let mut x = vec![0.0; front.inner() + padded(outer)];
            for i in 0..outer {
                x[front.inner() + i] = 1.0 + i as f64;
            }
            front.substitute(&mut x);
            let whole: Vec<f64> = (0..inner).chain(front.inner()..front.inner() + outer).map(|i| x[i]).collect();
            let force = |i: usize| (0..whole.len()).map(|j| entry(i, j) * whole[j]).sum::<f64>();
            assert!((0..inner).all(|i| force(i).abs() < 1e-12), "{inner} {outer}");
            for i in 0..outer {
                let left: f64 = (0..outer).map(|j| front.rest(i.max(j), i.min(j)) * whole[inner + j]).sum();
                assert!((left - force(inner + i)).abs() < 1e-11, "{inner} {outer}: {left}");
            }
        }
    }

    #[test]
    fn every_width_gives_the_same_bits() {
        let bits = each_width(|width| {
            let mut front = front(37, 29);
            assert!(at_width(width, Eliminating(&mut front)));
            front.rest.iter().chain(&front.columns).map(|x| x.to_bits()).collect::<Vec<_>>()
        });
        assert!(bits.windows(2).all(|pair| pair[0] == pair[1]));
    }

    #[test]
    fn a_matrix_that_is_not_positive_definite_is_told() {
        let mut front = Front::new(2, 0);
        for (i, j, value) in [(0, 0, 1.0), (1, 0, 2.0), (1, 1, 1.0)] {
            front.add(i, j, value);
        }
        assert!(!front.eliminate());
    }
}
