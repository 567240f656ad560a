//! Symmetric equations in a narrow band, solved by L D Lᵀ without pivots: the matrix of a step on a mesh of columns.
//!
//! Half width 1 is the tri-diagonal solve of a body that is wet on its sides only. Nothing is allocated after [`Band::new`].
//! A pivot that is not positive is told, not divided by: the caller then takes a shorter step.
//! Source: any text of numerical linear algebra (band Cholesky in its root-free, right-looking form).

/// Lower half of a symmetric band matrix, a column after the other, with `half` empty columns behind so that every column is whole.
#[derive(Clone, Debug)]
pub struct Band {
    n: usize,
    column: usize,
    values: Vec<f64>,
    inverse: Vec<f64>,
}

/// Does the work at a width that is known when the program is built, where it is a usual one: the short loops are then unrolled.
macro_rules! at_width {
    ($column:expr, $name:ident($($argument:expr),*)) => {
        match $column {
            2 => $name::<2>($($argument),*),
            4 => $name::<4>($($argument),*),
            5 => $name::<5>($($argument),*),
            6 => $name::<6>($($argument),*),
            7 => $name::<7>($($argument),*),
            8 => $name::<8>($($argument),*),
            9 => $name::<9>($($argument),*),
            10 => $name::<10>($($argument),*),
            12 => $name::<12>($($argument),*),
            14 => $name::<14>($($argument),*),
            18 => $name::<18>($($argument),*),
            26 => $name::<26>($($argument),*),
            34 => $name::<34>($($argument),*),
            _ => $name::<0>($($argument),*),
        }
    };
}

impl Band {
    /// Room for `n` equations whose neighbours are at most `half` apart.
    pub fn new(n: usize, half: usize) -> Self {
        let column = half + 1;
        Self { n, column, values: vec![0.0; (n + half) * column], inverse: vec![0.0; n] }
    }

    /// All entries 0, to be filled again.
    pub fn clear(&mut self) {
        self.values.fill(0.0);
    }

    /// Entry of row `p` + `below` in column `p`.
    #[inline(always)]
    pub fn set(&mut self, p: usize, below: usize, value: f64) {
        self.values[p * self.column + below] = value;
    }

    /// Factors in place; false when a pivot is not positive.
    pub fn factor(&mut self) -> bool {
        at_width!(self.column, factor(self.n, self.column, &mut self.values, &mut self.inverse))
    }

    /// Solves for one right side, in place: `n` values and `half` zeros behind them, which stay zero.
    pub fn solve(&self, x: &mut [f64]) {
        at_width!(self.column, solve(self.n, self.column, &self.values, &self.inverse, x));
    }
}

/// `C` is the number of entries of a column, 0 where it is known only now.
#[inline(always)]
fn factor<const C: usize>(n: usize, column: usize, values: &mut [f64], inverse: &mut [f64]) -> bool {
    let column = if C == 0 { column } else { C };
    for p in 0..n {
        let (done, after) = values.split_at_mut((p + 1) * column);
        let here = &mut done[p * column..][..column];
        let after = &mut after[..(column - 1) * column];
        if !(here[0] > 0.0 && here[0].is_finite()) {
            return false;
        }
        let pivot = 1.0 / here[0];
        inverse[p] = pivot;
        for j in 1..column {
            let factor = here[j] * pivot;
            let start = (j - 1) * column;
            for (value, own) in after[start..start + column - j].iter_mut().zip(&here[j..]) {
                *value -= factor * own;
            }
        }
        here[1..].iter_mut().for_each(|value| *value *= pivot);
    }
    true
}

#[inline(always)]
fn solve<const C: usize>(n: usize, column: usize, values: &[f64], inverse: &[f64], x: &mut [f64]) {
    let column = if C == 0 { column } else { C };
    for p in 0..n {
        let below = &values[p * column + 1..][..column - 1];
        let (own, after) = (x[p], &mut x[p + 1..][..column - 1]);
        for (value, l) in after.iter_mut().zip(below) {
            *value -= l * own;
        }
    }
    for p in (0..n).rev() {
        let below = &values[p * column + 1..][..column - 1];
        let (own, after) = (x[p], &x[p + 1..][..column - 1]);
        x[p] = own * inverse[p] - product(below, after);
    }
}

/// Sum of products in four running sums of a fixed order: one sum would wait for each addition.
#[inline(always)]
fn product(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (fours_a, rest_a) = a.as_chunks::<4>();
    let (fours_b, rest_b) = b.as_chunks::<4>();
    for (x, y) in fours_a.iter().zip(fours_b) {
        for i in 0..4 {
            sums[i] += x[i] * y[i];
        }
    }
    let rest: f64 = rest_a.iter().zip(rest_b).map(|(x, y)| x * y).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_multiplied_is_found_again() {
        for (n, half) in [(1, 1), (7, 1), (40, 1), (30, 6), (52, 13), (5, 9)] {
            let entry = |i: usize, j: usize| match i.abs_diff(j) {
                0 => 4.0 + 2.0 * half as f64 + (i % 3) as f64,
                apart if apart <= half => -1.0 - 0.1 * ((i + j) % 5) as f64,
                _ => 0.0,
            };
            let wanted: Vec<f64> = (0..n).map(|i| 1.0 + (i * i % 11) as f64).collect();
            let mut x: Vec<f64> = (0..n).map(|i| (0..n).map(|j| entry(i, j) * wanted[j]).sum()).collect();
            x.resize(n + half, 0.0);
            let mut band = Band::new(n, half);
            for p in 0..n {
                (0..=half.min(n - 1 - p)).for_each(|below| band.set(p, below, entry(p + below, p)));
            }
            assert!(band.factor());
            band.solve(&mut x);
            assert!(x.iter().zip(&wanted).all(|(x, wanted)| (x - wanted).abs() < 1e-10 * wanted), "{n} {half}");
        }
    }

    #[test]
    fn a_pivot_that_is_not_positive_is_told() {
        let mut band = Band::new(2, 1);
        band.set(0, 0, 1.0);
        band.set(0, 1, 2.0);
        band.set(1, 0, 1.0);
        assert!(!band.factor());
    }
}
