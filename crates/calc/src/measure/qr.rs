//! Small least squares by QR: a handful of columns, any number of readings.
//!
//! Q and R by modified Gram-Schmidt, each column made orthogonal twice, so Q is orthogonal to the last bits and its rows give the
//! leverages directly. Regressions to certified digits, with scaling and refinement, are `least-squares`.

/// What a small fit says.
#[derive(Clone, Debug, PartialEq)]
pub struct SmallFit {
    /// Coefficients, one a column.
    pub b: Vec<f64>,
    /// y less what the columns give.
    pub residuals: Vec<f64>,
    /// Leverage of each row, diagonal of X(XᵀX)⁻¹Xᵀ.
    pub leverages: Vec<f64>,
    /// (XᵀX)⁻¹, a row a column.
    pub inverse: Vec<Vec<f64>>,
}

/// Least squares of `y` on `columns`, all of one length. The columns must be independent: see [`smallest_singular_value`].
pub fn small_fit(columns: &[Vec<f64>], y: &[f64]) -> SmallFit {
    let p = columns.len();
    debug_assert!(columns.iter().all(|column| column.len() == y.len()), "columns and readings are of one length");
    let mut Q: Vec<Vec<f64>> = Vec::with_capacity(p);
    let mut R = vec![vec![0.0; p]; p];
    for (j, column) in columns.iter().enumerate() {
        let mut v = column.clone();
        for _twice in 0..2 {
            for (i, q) in Q.iter().enumerate() {
                let along = dot(q, &v);
                R[i][j] += along;
                v.iter_mut().zip(q).for_each(|(v, q)| *v -= along * q);
            }
        }
        let length = dot(&v, &v).sqrt();
        R[j][j] = length;
        v.iter_mut().for_each(|v| *v /= length);
        Q.push(v);
    }
    // Residuals by taking each direction out in turn, which is as stable as Householder reflections (Björck 1967, memory).
    let mut residuals = y.to_vec();
    let mut c = vec![0.0; p];
    for _twice in 0..2 {
        for (c, q) in c.iter_mut().zip(&Q) {
            let along = dot(q, &residuals);
            *c += along;
            residuals.iter_mut().zip(q).for_each(|(e, q)| *e -= along * q);
        }
    }
    let leverages = (0..y.len()).map(|i| Q.iter().map(|q| q[i] * q[i]).sum::<f64>().min(1.0)).collect();
    let b = back_substituted(&R, &c);
    // Rows of R⁻¹ give (XᵀX)⁻¹ = R⁻¹R⁻ᵀ.
    let unit = |k: usize| (0..p).map(|i| if i == k { 1.0 } else { 0.0 }).collect::<Vec<f64>>();
    let inverse_columns: Vec<Vec<f64>> = (0..p).map(|k| back_substituted(&R, &unit(k))).collect();
    let entry = |i: usize, j: usize| inverse_columns.iter().map(|column| column[i] * column[j]).sum();
    let inverse = (0..p).map(|i| (0..p).map(|j| entry(i, j)).collect()).collect();
    SmallFit { b, residuals, leverages, inverse }
}

/// The smallest singular value of `columns`, each scaled to length 1; 0 when one of them is (nearly) nought or there is none.
///
/// By one-sided Jacobi rotations (Hestenes 1958, memory), which keep small values accurate. A column whose entries are all under
/// 1e-9 is nought: the sine of 180° is not 0 in a computer.
pub fn smallest_singular_value(columns: &[Vec<f64>]) -> f64 {
    const NOUGHT: f64 = 1e-9;
    const MOST_SWEEPS: usize = 30;
    if columns.is_empty() || columns.iter().any(|column| column.iter().all(|x| x.abs() < NOUGHT)) {
        return 0.0;
    }
    let scaled = |column: &Vec<f64>| {
        let length = dot(column, column).sqrt();
        column.iter().map(|x| x / length).collect::<Vec<f64>>()
    };
    let mut U: Vec<Vec<f64>> = columns.iter().map(scaled).collect();
    for _sweep in 0..MOST_SWEEPS {
        let mut turned = false;
        for j in 1..U.len() {
            let (before, from_j) = U.split_at_mut(j);
            let Some(b) = from_j.first_mut() else { continue };
            for a in before {
                turned |= turn(a, b);
            }
        }
        if !turned {
            break;
        }
    }
    U.iter().map(|u| dot(u, u).sqrt()).fold(f64::INFINITY, f64::min)
}

/// Turns two columns until they are orthogonal; false when they were.
fn turn(a: &mut [f64], b: &mut [f64]) -> bool {
    let (aa, bb, ab) = (dot(a, a), dot(b, b), dot(a, b));
    if ab.abs() <= 1e-15 * (aa * bb).sqrt() {
        return false;
    }
    let zeta = (bb - aa) / (2.0 * ab);
    let t = if zeta == 0.0 { 1.0 } else { zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt()) };
    let c = 1.0 / (1.0 + t * t).sqrt();
    let s = c * t;
    for (x, y) in a.iter_mut().zip(b.iter_mut()) {
        (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
    }
    true
}

/// x of R x = c, R upper triangular.
fn back_substituted(R: &[Vec<f64>], c: &[f64]) -> Vec<f64> {
    let mut x = c.to_vec();
    for i in (0..x.len()).rev() {
        let known: f64 = (i + 1..x.len()).map(|j| R[i][j] * x[j]).sum();
        x[i] = (x[i] - known) / R[i][i];
    }
    x
}

/// Sum of products, in order.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_with_its_leverages() {
        // y = 1 + 2x at x = −1, 0, 1 with a bump of 3 in the middle: by hand b = (2, 2), h = (5/6, 1/3, 5/6).
        let fit = small_fit(&[vec![1.0; 3], vec![-1.0, 0.0, 1.0]], &[-1.0, 4.0, 3.0]);
        let near = |found: &[f64], wanted: [f64; 3]| found.iter().zip(wanted).all(|(x, y)| (x - y).abs() < 1e-14);
        assert!((fit.b[0] - 2.0).abs() < 1e-14 && (fit.b[1] - 2.0).abs() < 1e-14, "{:?}", fit.b);
        assert!(near(&fit.residuals, [-1.0, 2.0, -1.0]), "{:?}", fit.residuals);
        assert!(near(&fit.leverages, [5.0 / 6.0, 1.0 / 3.0, 5.0 / 6.0]), "{:?}", fit.leverages);
        assert!((fit.inverse[0][0] - 1.0 / 3.0).abs() < 1e-15 && (fit.inverse[1][1] - 0.5).abs() < 1e-15);
    }

    #[test]
    fn dependent_and_nought_columns_have_no_smallest_value() {
        let one = vec![1.0; 4];
        assert!(smallest_singular_value(&[one.clone(), vec![3.0; 4]]) < 1e-15);
        assert_eq!(smallest_singular_value(&[one.clone(), vec![0.0, 1.2e-16, 0.0, 1.2e-16]]), 0.0);
        assert!((smallest_singular_value(&[one.clone(), vec![1.0, -1.0, 1.0, -1.0]]) - 1.0).abs() < 1e-15);
        // Two unit columns at an angle: √(1 − cos). By hand for (1,0), (1,ε)/√(1+ε²): about ε/√2.
        let small = smallest_singular_value(&[vec![1.0, 0.0], vec![1.0, 1e-7]]);
        assert!((small / (1e-7 / std::f64::consts::SQRT_2) - 1.0).abs() < 1e-6, "{small}");
    }
}
