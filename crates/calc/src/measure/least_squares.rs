//! A straight line, a polynomial or several regressors through points, to the digits that certified problems ask for.
//!
//! For the form of a bore see `survey`. It judges no outliers.

use serde::Serialize;
use serde_json::Value;

use super::double_double::DoubleDouble;
use super::qr::{dot, singular_values};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, shown};
use crate::math::sq;
use crate::refused::Refused;

/// Columns whose scaled smallest singular value is under this can't be told apart.
const RANK: f64 = 1e-12;
/// Steps of refinement; one is enough for Longley's problem, the second costs nothing and settles what the first left.
const REFINEMENTS: usize = 2;
/// More columns are no fit a shop makes.
const MOST_COLUMNS: usize = 60;

/// What a fit says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeastSquares {
    /// Coefficients, the intercept first.
    pub b: Vec<f64>,
    /// Their standard errors.
    pub se: Vec<f64>,
    /// √(rss/dof).
    pub residual_sd: f64,
    /// Share of the spread that is explained; null when y does not vary.
    pub r2: Option<f64>,
    /// Mean square explained over mean square left; null when nothing is left.
    pub F: Option<f64>,
    /// Residual sum of squares (weighted).
    pub rss: f64,
    /// Rows less coefficients.
    pub dof: usize,
    /// Largest over smallest singular value of the columns as they were solved.
    pub condition: f64,
    /// Sentences a person can read.
    pub warnings: Vec<String>,
}

/// Points to fit: columns of x (without the intercept), y, weights.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// A column a regressor.
    pub columns: Vec<Vec<f64>>,
    /// What is explained.
    pub y: Vec<f64>,
    /// Whether there is an intercept.
    pub intercept: bool,
    /// Weights, over 0; none means all alike.
    pub weights: Option<Vec<f64>>,
}

/// Least squares by Householder QR.
///
/// Columns are centred (where there is an intercept), scaled to length 1, and solved by QR; residuals of the *given* columns in
/// double-double are solved again and added. Refused: columns that can't be told apart, fewer rows than coefficients + 1.
/// Source: Golub and Van Loan (QR, refinement; memory). Checked: NIST StRD Norris, Longley (certified values, read).
pub fn least_squares(points: &Points) -> Result<LeastSquares, Refused> {
    let (n, k) = (points.y.len(), points.columns.len());
    let coefficients = k + usize::from(points.intercept);
    if n < coefficients + 1 {
        return Err(Refused::new(
            "y",
            format!("{n} rows"),
            format!("at least {} for {coefficients} coefficients", coefficients + 1),
            "give more points or a lower degree",
        ));
    }
    let solver = Solver::new(points)?;
    let (mut b, mut b0) = (vec![DoubleDouble::default(); k], DoubleDouble::default());
    let mut residuals = points.y.iter().map(|y| DoubleDouble::from(*y)).collect::<Vec<_>>();
    for _ in 0..=REFINEMENTS {
        let (step, step0) = solver.solve(&residuals);
        for (coefficient, step) in b.iter_mut().zip(&step) {
            *coefficient = coefficient.plus(*step);
        }
        b0 = b0.sum(step0);
        residuals = left(points, &b, b0);
    }
    Ok(solver.told(points, &b, b0, &residuals))
}

/// y − b0 − Σ b x in double-double.
fn left(points: &Points, b: &[DoubleDouble], b0: DoubleDouble) -> Vec<DoubleDouble> {
    let row = |i: usize| {
        let explained = points.columns.iter().zip(b).fold(b0, |sum, (column, b)| sum.sum(b.times(column[i])));
        explained.negative().plus(points.y[i])
    };
    (0..points.y.len()).map(row).collect()
}

/// The columns as they are solved, factorised.
struct Solver {
    /// √w of each row.
    root: Vec<f64>,
    weight: DoubleDouble,
    means: Vec<DoubleDouble>,
    lengths: Vec<f64>,
    intercept: bool,
    /// Householder vectors, a column each.
    vectors: Vec<Vec<f64>>,
    /// Upper triangle, a column each.
    R: Vec<Vec<f64>>,
    condition: f64,
}

impl Solver {
    fn new(points: &Points) -> Result<Self, Refused> {
        let n = points.y.len();
        let root: Vec<f64> = points.weights.as_ref().map_or_else(|| vec![1.0; n], |weights| weights.iter().map(|w| w.sqrt()).collect());
        let weight = root.iter().fold(DoubleDouble::default(), |sum, root| sum.plus(sq(*root)));
        let mean = |column: &Vec<f64>| {
            let sum =
                column.iter().zip(&root).fold(DoubleDouble::default(), |sum, (x, root)| sum.sum(DoubleDouble::from(*x).times(sq(*root))));
            sum.over(weight.value())
        };
        let means: Vec<DoubleDouble> =
            points.columns.iter().map(|column| if points.intercept { mean(column) } else { DoubleDouble::default() }).collect();
        let centred = |(column, mean): (&Vec<f64>, &DoubleDouble)| -> Vec<f64> {
            column.iter().zip(&root).map(|(x, root)| mean.negative().plus(*x).value() * root).collect()
        };
        let mut columns: Vec<Vec<f64>> = points.columns.iter().zip(&means).map(centred).collect();
        let lengths: Vec<f64> = columns.iter().map(|column| dot(column, column).sqrt()).collect();
        for (column, length) in columns.iter_mut().zip(&lengths).filter(|(_, length)| **length > 0.0) {
            column.iter_mut().for_each(|x| *x /= length);
        }
        let values = singular_values(&columns);
        let smallest = values.iter().copied().fold(f64::INFINITY, f64::min);
        if !columns.is_empty() && (smallest.is_nan() || smallest < RANK || lengths.contains(&0.0)) {
            return Err(Refused::new(
                "x",
                "columns that are multiples of each other, or do not vary",
                "columns that can be told apart",
                "take one of them out, or lower the degree",
            ));
        }
        let condition = if columns.is_empty() { 1.0 } else { values.iter().copied().fold(0.0, f64::max) / smallest };
        let (vectors, R) = householder(columns);
        Ok(Self { root, weight, means, lengths, intercept: points.intercept, vectors, R, condition })
    }

    /// Coefficients of a right-hand side: slopes, intercept.
    fn solve(&self, y: &[DoubleDouble]) -> (Vec<f64>, DoubleDouble) {
        let weighted = y.iter().zip(&self.root).fold(DoubleDouble::default(), |sum, (y, root)| sum.sum(y.times(sq(*root))));
        let mean = if self.intercept { weighted.over(self.weight.value()) } else { DoubleDouble::default() };
        let mut rhs: Vec<f64> = y.iter().zip(&self.root).map(|(y, root)| y.sum(mean.negative()).value() * root).collect();
        for (j, vector) in self.vectors.iter().enumerate() {
            reflect(vector, &mut rhs[j..]);
        }
        let scaled = back_substituted(&self.R, &rhs);
        let slopes: Vec<f64> = scaled.iter().zip(&self.lengths).map(|(b, length)| b / length).collect();
        let intercept = slopes.iter().zip(&self.means).fold(mean, |sum, (b, mean)| sum.sum(mean.times(-b)));
        (slopes, if self.intercept { intercept } else { DoubleDouble::default() })
    }

    /// Columns of R⁻¹, each divided by the length of its row's column: (XᵀX)⁻¹ = their products.
    fn inverse(&self) -> Vec<Vec<f64>> {
        let k = self.R.len();
        let unit = |j: usize| -> Vec<f64> { (0..k).map(|i| if i == j { 1.0 } else { 0.0 }).collect() };
        (0..k).map(|j| back_substituted(&self.R, &unit(j)).iter().zip(&self.lengths).map(|(x, length)| x / length).collect()).collect()
    }

    fn told(&self, points: &Points, b: &[DoubleDouble], b0: DoubleDouble, residuals: &[DoubleDouble]) -> LeastSquares {
        let (n, k) = (points.y.len(), b.len());
        let squares = |values: &[f64]| values.iter().zip(&self.root).map(|(x, root)| sq(x * root)).sum::<f64>();
        let rss = squares(&residuals.iter().map(|residual| residual.value()).collect::<Vec<_>>());
        let (dof, s2) = {
            let dof = n - k - usize::from(points.intercept);
            (dof, rss / dof as f64)
        };
        let inverse = self.inverse();
        let slopes_se = (0..k).map(|i| (s2 * inverse.iter().map(|column| sq(column[i])).sum::<f64>()).sqrt());
        let mut se: Vec<f64> = slopes_se.collect();
        let mut coefficients: Vec<f64> = b.iter().map(|b| b.value()).collect();
        if points.intercept {
            let through_means =
                inverse.iter().map(|column| sq(column.iter().zip(&self.means).map(|(x, mean)| x * mean.value()).sum::<f64>())).sum::<f64>();
            se.insert(0, (s2 * (1.0 / self.weight.value() + through_means)).sqrt());
            coefficients.insert(0, b0.value());
        }
        let weighted = points
            .y
            .iter()
            .zip(&self.root)
            .fold(DoubleDouble::default(), |sum, (y, root)| sum.sum(DoubleDouble::from(*y).times(sq(*root))));
        let mean = if points.intercept { weighted.over(self.weight.value()) } else { DoubleDouble::default() };
        let total = squares(&points.y.iter().map(|y| mean.negative().plus(*y).value()).collect::<Vec<_>>());
        let mut warnings = Vec::new();
        if self.condition > 1e6 {
            warnings.push(format!(
                "The columns are nearly dependent (condition {:.1e}): the coefficients hang on the last digits of x.",
                self.condition
            ));
        }
        LeastSquares {
            b: coefficients,
            se,
            residual_sd: s2.sqrt(),
            r2: (total > 0.0).then(|| 1.0 - rss / total),
            F: (rss > 0.0 && k > 0).then(|| (total - rss) / k as f64 / s2),
            rss,
            dof,
            condition: self.condition,
            warnings,
        }
    }
}

/// Householder vectors (of unit length, from the diagonal down) and the upper triangle.
fn householder(mut columns: Vec<Vec<f64>>) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let k = columns.len();
    let mut vectors = Vec::with_capacity(k);
    for j in 0..k {
        let mut vector = columns[j][j..].to_vec();
        let length = dot(&vector, &vector).sqrt();
        vector[0] += length.copysign(vector[0]);
        let norm = dot(&vector, &vector).sqrt();
        vector.iter_mut().for_each(|x| *x /= norm);
        for column in &mut columns[j..] {
            reflect(&vector, &mut column[j..]);
        }
        vectors.push(vector);
    }
    let R = columns.into_iter().enumerate().map(|(j, column)| column[..=j].to_vec()).collect();
    (vectors, R)
}

/// x − 2 v (v·x).
fn reflect(vector: &[f64], x: &mut [f64]) {
    let along = 2.0 * dot(vector, x);
    x.iter_mut().zip(vector).for_each(|(x, v)| *x -= along * v);
}

/// b of R b = c.
fn back_substituted(R: &[Vec<f64>], c: &[f64]) -> Vec<f64> {
    let mut b = vec![0.0; R.len()];
    for i in (0..R.len()).rev() {
        let known: f64 = (i + 1..R.len()).map(|j| R[j][i] * b[j]).sum();
        b[i] = (c[i] - known) / R[i][i];
    }
    b
}

/// `least-squares` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "least-squares",
    help: "straight line, polynomial or several regressors, to certified digits",
    request: &[
        Key::raw("x", "a list of numbers, or a list of rows of numbers").needed(),
        Key::numbers("y", Range::within(-1e15, 1e15), "what is explained, as many as x").needed(),
        Key::whole("degree", Range::within(1.0, 30.0), "degree of the polynomial in one x").default("1"),
        Key::flag("intercept", "whether there is a constant term").default("true"),
        Key::numbers("weights", Range::over(0.0), "a weight a row").default("all alike"),
    ],
    answer: &[
        Told { path: "b", help: "coefficients, the intercept first" },
        Told { path: "se", help: "their standard errors" },
        Told { path: "residual_sd", help: "spread of what is left" },
        Told { path: "r2", help: "share of the spread that is explained; null when y does not vary" },
        Told { path: "F", help: "mean square explained over mean square left; null when nothing is left" },
        Told { path: "rss", help: "residual sum of squares" },
        Told { path: "dof", help: "rows less coefficients" },
        Told { path: "condition", help: "largest over smallest singular value of the columns as solved" },
    ],
    example: r#"{"x": [20, 25, 31, 36, 44], "y": [240.031, 240.044, 240.058, 240.070, 240.089]}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let points = read(given)?;
    let answer = least_squares(&points)?;
    let with = [("rows", points.y.len() as f64), ("coefficients", answer.b.len() as f64)];
    let gives = [("rss", answer.rss), ("residual sd", answer.residual_sd), ("condition", answer.condition)];
    desk.working.step(
        "least squares",
        "min sum w (y - X b)^2 by Householder QR, refined in double-double",
        &with,
        &gives,
        "Golub and Van Loan (memory)",
    );
    told(&answer)
}

fn read(given: &Given) -> Result<Points, Refused> {
    let y = given.numbers("y");
    let rows = read_rows(given)?;
    if rows.len() != y.len() {
        return Err(given.refuse("y", format!("as many numbers as x, {}", rows.len()), "give one y for each x"));
    }
    let weights = given.has("weights").then(|| given.numbers("weights"));
    if weights.as_ref().is_some_and(|weights| weights.len() != y.len()) {
        return Err(given.refuse("weights", format!("as many as y, {}", y.len()), "give one weight for each row, or none"));
    }
    let width = rows.first().map_or(0, Vec::len);
    let degree = given.whole_or("degree", 1) as u32;
    let columns = if width == 1 {
        (1..=degree).map(|power| rows.iter().map(|row| crate::math::powi(row[0], power)).collect()).collect()
    } else if degree > 1 {
        return Err(given.refuse("degree", "1 where x has several columns", "give the powers as columns of their own"));
    } else {
        (0..width).map(|j| rows.iter().map(|row| row[j]).collect()).collect()
    };
    Ok(Points { columns, y, intercept: given.flag_or("intercept", true), weights })
}

fn read_rows(given: &Given) -> Result<Vec<Vec<f64>>, Refused> {
    let list = given.raw("x").and_then(Value::as_array).filter(|list| !list.is_empty());
    let Some(list) = list else {
        return Err(given.refuse("x", "a list of numbers, or of rows of numbers", "give at least three"));
    };
    let wrong = |i: usize, value: &Value| {
        Refused::new(format!("x.{i}"), shown(value), "a number under 1e15 in size, or a row of them", "give the regressors of that row")
    };
    let number = |i: usize, value: &Value| value.as_f64().filter(|x| x.abs() <= 1e15).ok_or_else(|| wrong(i, value));
    let mut rows: Vec<Vec<f64>> = Vec::with_capacity(list.len());
    for (i, value) in list.iter().enumerate() {
        let row = match value.as_array() {
            Some(row) => row.iter().map(|value| number(i, value)).collect::<Result<Vec<_>, _>>()?,
            None => vec![number(i, value)?],
        };
        let width = rows.first().map_or(row.len(), Vec::len);
        if row.len() != width || row.is_empty() || row.len() > MOST_COLUMNS {
            return Err(Refused::new(
                format!("x.{i}"),
                format!("{} numbers", row.len()),
                format!("as many as the first row, {width}, 1 to {MOST_COLUMNS}"),
                "give every row the same regressors",
            ));
        }
        rows.push(row);
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_that_is_met_exactly_comes_back() {
        let x: Vec<f64> = (0..12).map(|i| 1e5 + f64::from(i) * 1e4).collect();
        let y: Vec<f64> = x.iter().map(|x| 3.0 - 2e-3 * x + 5e-9 * x * x).collect();
        let columns = vec![x.clone(), x.iter().map(|x| x * x).collect()];
        let answer = least_squares(&Points { columns, y, intercept: true, weights: None }).unwrap();
        for (b, wanted) in answer.b.iter().zip([3.0, -2e-3, 5e-9]) {
            assert!((b / wanted - 1.0).abs() < 1e-9, "{b}, wanted {wanted}");
        }
    }

    #[test]
    fn a_weight_of_two_is_a_row_given_twice() {
        let (x, y) = (vec![1.0, 2.0, 3.0, 4.0], vec![1.1, 1.9, 3.2, 3.9]);
        let weighted = least_squares(&Points { columns: vec![x], y, intercept: true, weights: Some(vec![1.0, 2.0, 1.0, 1.0]) }).unwrap();
        let (x, y) = (vec![1.0, 2.0, 2.0, 3.0, 4.0], vec![1.1, 1.9, 1.9, 3.2, 3.9]);
        let twice = least_squares(&Points { columns: vec![x], y, intercept: true, weights: None }).unwrap();
        assert!((weighted.b[1] - twice.b[1]).abs() < 1e-14 && (weighted.rss - twice.rss).abs() < 1e-14);
    }
}
