//! Householder QR of a tall matrix given by its columns, and what least squares needs of it.
//!
//! Kernel: lengths are checked by its caller (rows ≥ columns ≥ 1, all columns equally long), so it indexes.
//! Source: Golub and Van Loan, Matrix Computations, 5.2.1 (QR), 8.6.3 (one-sided Jacobi), from memory.

use crate::math::sq;

/// A = Q R: R above, the reflections of Q below.
pub struct Qr {
    /// Column j: R in its first j places, then the reflection's vector from place j on.
    columns: Vec<Vec<f64>>,
    /// Diagonal of R.
    diagonal: Vec<f64>,
    /// 2/(vᵀv) of each reflection; 0 where none is needed.
    factors: Vec<f64>,
}

/// Sweeps of the Jacobi method; some 6 to 10 are taken.
const SWEEPS: usize = 60;

impl Qr {
    /// Decomposes the matrix with these columns.
    pub fn of(columns: &[Vec<f64>]) -> Self {
        let p = columns.len();
        let mut qr = Self { columns: columns.to_vec(), diagonal: vec![0.0; p], factors: vec![0.0; p] };
        for j in 0..p {
            let tail = &mut qr.columns[j][j..];
            let length = tail.iter().map(|x| sq(*x)).sum::<f64>().sqrt();
            // The sign that adds: no cancellation in the first element.
            let alpha = if tail[0] > 0.0 { -length } else { length };
            tail[0] -= alpha;
            let square = tail.iter().map(|x| sq(*x)).sum::<f64>();
            qr.factors[j] = if square > 0.0 { 2.0 / square } else { 0.0 };
            qr.diagonal[j] = alpha;
            let (done, rest) = qr.columns.split_at_mut(j + 1);
            for column in rest {
                reflect(&done[j][j..], qr.factors[j], &mut column[j..]);
            }
        }
        qr
    }

    fn r(&self, i: usize, j: usize) -> f64 {
        if i == j { self.diagonal[j] } else { self.columns[j][i] }
    }

    /// Solves Rᵀ x = v.
    pub fn lower_solved(&self, v: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; v.len()];
        for i in 0..v.len() {
            let known: f64 = (0..i).map(|k| self.r(k, i) * x[k]).sum();
            x[i] = (v[i] - known) / self.diagonal[i];
        }
        x
    }

    fn upper_solved(&self, v: &[f64]) -> Vec<f64> {
        let p = v.len();
        let mut x = vec![0.0; p];
        for i in (0..p).rev() {
            let known: f64 = (i + 1..p).map(|k| self.r(i, k) * x[k]).sum();
            x[i] = (v[i] - known) / self.diagonal[i];
        }
        x
    }

    /// Solves r + A b = f, Aᵀ r = g for (r, b).
    ///
    /// Rᵀ h = g, d = Qᵀ f, r = Q (h, d₂), R b = d₁ − h. Source: Björck 1967.
    pub fn augmented(&self, f: &[f64], g: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let p = g.len();
        let h = self.lower_solved(g);
        let mut d = f.to_vec();
        for j in 0..p {
            reflect(&self.columns[j][j..], self.factors[j], &mut d[j..]);
        }
        let first: Vec<f64> = d.iter().zip(&h).map(|(d, h)| d - h).collect();
        let b = self.upper_solved(&first);
        d[..p].copy_from_slice(&h);
        for j in (0..p).rev() {
            reflect(&self.columns[j][j..], self.factors[j], &mut d[j..]);
        }
        (d, b)
    }

    /// Singular values of A, which are those of R, by turning its columns until they are square to each other.
    pub fn singular_values(&self) -> Vec<f64> {
        let p = self.diagonal.len();
        let mut columns: Vec<Vec<f64>> = (0..p).map(|j| (0..p).map(|i| if i <= j { self.r(i, j) } else { 0.0 }).collect()).collect();
        for _ in 0..SWEEPS {
            let mut turned = false;
            for j in 1..p {
                let (before, rest) = columns.split_at_mut(j);
                for a in before {
                    turned |= turn(a, &mut rest[0]);
                }
            }
            if !turned {
                break;
            }
        }
        columns.iter().map(|column| dot(column, column).sqrt()).collect()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// x − factor (vᵀx) v.
fn reflect(v: &[f64], factor: f64, x: &mut [f64]) {
    let along = factor * dot(v, x);
    x.iter_mut().zip(v).for_each(|(x, v)| *x -= along * v);
}

/// Turns two columns in their plane until they are square to each other; whether that was needed.
fn turn(a: &mut [f64], b: &mut [f64]) -> bool {
    let (aa, bb, ab) = (dot(a, a), dot(b, b), dot(a, b));
    if ab == 0.0 || ab.abs() <= 1e-15 * (aa * bb).sqrt() {
        return false;
    }
    let zeta = (bb - aa) / (2.0 * ab);
    let t = zeta.signum() / (zeta.abs() + (1.0 + sq(zeta)).sqrt());
    let c = 1.0 / (1.0 + sq(t)).sqrt();
    for (a, b) in a.iter_mut().zip(b) {
        (*a, *b) = (c * (*a - t * *b), c * (*b + t * *a));
    }
    true
}
