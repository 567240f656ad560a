//! Which straight line, polynomial or sum of regressors lies closest to the readings, and how sure are its coefficients?
//!
//! Householder QR of columns that are centred and scaled, then refinement of the whole normal system with residuals in twice
//! the digits: it holds the certified digits of hard sets (NIST Longley), where normal equations lose them all.
//! It judges no readings (see `survey`) and weighs nothing by itself.
//! Source: NIST Statistical Reference Datasets (certified values); Golub and Van Loan, Matrix Computations, 5.2 and 5.3;
//! Björck, Iterative refinement of linear least squares solutions (1967); the methods from memory.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, shown};
use crate::math::sq;
use crate::refused::Refused;

mod double;
mod qr;

use double::Double;
use qr::Qr;

/// Smallest singular value of the scaled columns that still counts as independent.
const INDEPENDENT: f64 = 1e-12;

/// Refinements after the first solution; the first one nearly always is enough.
const REFINEMENTS: usize = 3;

/// Most columns: the work goes with their square.
const MOST_COLUMNS: usize = 200;

/// Largest degree of a polynomial.
const MOST_DEGREE: u64 = 10;

/// What is fitted to what.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// A row of regressors for each reading; all rows equally long.
    pub rows: Vec<Vec<f64>>,
    /// The readings.
    pub y: Vec<f64>,
    /// Powers of a single regressor, from the first to this one.
    pub degree: u32,
    /// Whether a constant is fitted too.
    pub intercept: bool,
    /// Weight of each reading (1/u²); none for equal weights.
    pub weights: Option<Vec<f64>>,
}

/// The fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// Coefficients, the intercept first.
    pub b: Vec<f64>,
    /// Their standard errors.
    pub se: Vec<f64>,
    /// √(rss/dof), in the unit of y (times √weight).
    pub residual_sd: f64,
    /// Share of the spread of y that the fit explains; none where y does not spread.
    pub r2: Option<f64>,
    /// Mean square of the fit over that of the residuals; none where there are no residuals.
    pub F: Option<f64>,
    /// Weighted sum of squared residuals.
    pub rss: f64,
    /// Readings less coefficients.
    pub dof: usize,
    /// Largest over smallest singular value of the centred and scaled columns.
    pub condition: f64,
    /// y less the fit, one a reading.
    #[serde(skip)]
    pub residuals: Vec<f64>,
}

/// Least squares fit of `y` to columns.
///
/// min Σ w (y − b₀ − Σ b_j x_j)². Refused: lists of different lengths, fewer readings than coefficients + 1, columns that depend
/// on each other (smallest singular value of the scaled columns under 1e-12).
/// Source: NIST Statistical Reference Datasets hold its digits.
pub fn fitted(question: &Question) -> Result<Fit, Refused> {
    let columns = Columns::of(question)?;
    let (n, p) = (question.y.len(), columns.count());
    if n < p + 1 {
        let allowed = format!("{} readings or more for {p} coefficients", p + 1);
        return Err(Refused::new("y", format!("{n} readings"), allowed, "take more readings, or fit fewer terms"));
    }
    let qr = Qr::of(&columns.scaled());
    let singular = qr.singular_values();
    let (least, most) = (singular.iter().copied().fold(f64::INFINITY, f64::min), singular.iter().copied().fold(0.0, f64::max));
    if least.is_nan() || least < INDEPENDENT {
        let allowed = "columns that do not depend on each other (nor are constant beside an intercept)";
        return Err(Refused::new(
            "x",
            "without independent columns",
            allowed,
            "take out a column, lower the degree, or spread the readings",
        ));
    }
    let solution = columns.solved(&qr);
    let fit = columns.summary(&qr, &solution, most / least);
    let figures = fit.b.iter().chain(&fit.se).chain([&fit.rss, &fit.condition]);
    if !figures.copied().all(f64::is_finite) {
        return Err(Refused::new("x", "too large or too small for numbers to hold the fit", "x and y of a usual size", "use another unit"));
    }
    Ok(fit)
}

/// The columns of the fit, each x ↦ (x·scale − centre), exact in twice the digits; the intercept's is 1.
struct Columns {
    /// Centred columns, without the factor of length.
    columns: Vec<Vec<Double>>,
    /// What was taken off each column.
    centres: Vec<f64>,
    /// Power of 2 that each column was multiplied by.
    scales: Vec<f64>,
    /// Length of each weighted centred column.
    lengths: Vec<f64>,
    /// √w of each reading.
    roots: Vec<f64>,
    y: Vec<f64>,
    intercept: bool,
}

struct Solution {
    /// Coefficients of the centred columns.
    b: Vec<Double>,
    /// Weighted residuals.
    r: Vec<Double>,
}

impl Columns {
    fn of(question: &Question) -> Result<Self, Refused> {
        let roots = roots(question)?;
        let (mut columns, mut scales) = scaled_columns(question)?;
        let w_sum: f64 = roots.iter().map(|root| sq(*root)).sum();
        let mut centres = vec![0.0; columns.len()];
        if question.intercept {
            for (column, centre) in columns.iter_mut().zip(&mut centres) {
                *centre = column.iter().zip(&roots).map(|(x, root)| sq(*root) * x.high).sum::<f64>() / w_sum;
                column.iter_mut().for_each(|x| *x = x.add(Double::of(-*centre)));
            }
            columns.insert(0, vec![Double::of(1.0); question.y.len()]);
            centres.insert(0, 0.0);
            scales.insert(0, 1.0);
        }
        let length = |column: &Vec<Double>| column.iter().zip(&roots).map(|(x, root)| sq(x.high * root)).sum::<f64>().sqrt();
        let lengths: Vec<f64> = columns.iter().map(length).collect();
        Ok(Self { columns, centres, scales, lengths, roots, y: question.y.clone(), intercept: question.intercept })
    }

    fn count(&self) -> usize {
        self.columns.len()
    }

    /// The columns with weights, of length 1 (a column of nothing stays nothing).
    fn scaled(&self) -> Vec<Vec<f64>> {
        let each = self.columns.iter().zip(&self.lengths);
        each.map(|(column, length)| {
            let length = if *length > 0.0 { *length } else { 1.0 };
            column.iter().zip(&self.roots).map(|(x, root)| x.high * root / length).collect()
        })
        .collect()
    }

    /// Solves r + A b = y, Aᵀ r = 0, both refined with residuals in twice the digits.
    fn solved(&self, qr: &Qr) -> Solution {
        let (n, p) = (self.y.len(), self.count());
        let mut solution = Solution { b: vec![Double::of(0.0); p], r: vec![Double::of(0.0); n] };
        for _ in 0..=REFINEMENTS {
            let (f, g) = self.faults(&solution);
            let (change_r, change_b) = qr.augmented(&f, &g);
            solution.r.iter_mut().zip(change_r).for_each(|(r, change)| *r = r.add(Double::of(change)));
            for ((b, change), length) in solution.b.iter_mut().zip(change_b).zip(&self.lengths) {
                *b = b.add(Double::of(change / length));
            }
        }
        solution
    }

    /// f = y − r − A b and g = −Aᵀ r (scaled), as plain numbers.
    fn faults(&self, solution: &Solution) -> (Vec<f64>, Vec<f64>) {
        let f = (0..self.y.len()).map(|i| {
            let fit = self.columns.iter().zip(&solution.b).fold(Double::of(0.0), |sum, (column, b)| sum.add(column[i].multiply(*b)));
            let off = Double::of(self.y[i]).add(fit.negative()).multiply(Double::of(self.roots[i]));
            off.add(solution.r[i].negative()).high
        });
        let g = self.columns.iter().zip(&self.lengths).map(|(column, length)| {
            let terms = column.iter().zip(&self.roots).zip(&solution.r);
            let sum = terms.fold(Double::of(0.0), |sum, ((x, root), r)| sum.add(x.multiply(Double::of(*root)).multiply(*r)));
            -sum.high / length
        });
        (f.collect(), g.collect())
    }

    fn summary(&self, qr: &Qr, solution: &Solution, condition: f64) -> Fit {
        let (n, p) = (self.y.len(), self.count());
        let dof = n - p;
        let rss: f64 = solution.r.iter().map(|r| sq(r.high)).sum();
        let residual_sd = (rss / dof as f64).sqrt();
        let residuals: Vec<f64> = solution.r.iter().zip(&self.roots).map(|(r, root)| r.high / root).collect();
        // What the fit explains: from fitted values, not from the difference of two large sums.
        let w_sum: f64 = self.roots.iter().map(|root| sq(*root)).sum();
        let from = if self.intercept { self.y.iter().zip(&self.roots).map(|(y, root)| sq(*root) * y).sum::<f64>() / w_sum } else { 0.0 };
        let rows = self.y.iter().zip(&residuals).zip(&self.roots);
        let explained: f64 = rows.map(|((y, residual), root)| sq(root * (y - from - residual))).sum();
        let terms = p - usize::from(self.intercept);
        Fit {
            b: self.own_coefficients(&solution.b),
            se: self.own_errors(qr).iter().map(|length| residual_sd * length).collect(),
            residual_sd,
            r2: Some(explained / (explained + rss)).filter(|r2| r2.is_finite()),
            F: Some(explained / terms as f64 / (rss / dof as f64)).filter(|F| F.is_finite()),
            rss,
            dof,
            condition,
            residuals,
        }
    }

    /// From coefficients of centred columns to those of the columns that were given.
    fn own_coefficients(&self, b: &[Double]) -> Vec<f64> {
        let mut own: Vec<f64> = b.iter().zip(&self.scales).map(|(b, scale)| b.high * scale).collect();
        if self.intercept {
            let off = b.iter().zip(&self.centres).fold(Double::of(0.0), |sum, (b, centre)| sum.add(b.multiply(Double::of(*centre))));
            own[0] = b[0].add(off.negative()).high;
        }
        own
    }

    /// Standard error of each coefficient for a residual standard deviation of 1: |R⁻ᵀ v|, v the coefficient by scaled columns.
    fn own_errors(&self, qr: &Qr) -> Vec<f64> {
        let p = self.count();
        let error = |k: usize| {
            let mut v = vec![0.0; p];
            v[k] = self.scales[k] / self.lengths[k];
            if self.intercept && k == 0 {
                v.iter_mut().zip(&self.centres).zip(&self.lengths).skip(1).for_each(|((v, centre), length)| *v = -centre / length);
            }
            qr.lower_solved(&v).iter().map(|x| sq(*x)).sum::<f64>().sqrt()
        };
        (0..p).map(error).collect()
    }
}

fn roots(question: &Question) -> Result<Vec<f64>, Refused> {
    let n = question.y.len();
    let Some(weights) = &question.weights else { return Ok(vec![1.0; n]) };
    if weights.len() != n {
        return Err(Refused::new(
            "weights",
            format!("{} long", weights.len()),
            format!("{n} weights, one a reading"),
            "give one weight a reading",
        ));
    }
    Ok(weights.iter().map(|w| w.sqrt()).collect())
}

/// The regressors as columns, each multiplied by a power of 2 that brings it near 1 (so nothing overflows, and no digit changes).
fn scaled_columns(question: &Question) -> Result<(Vec<Vec<Double>>, Vec<f64>), Refused> {
    let Question { rows, y, degree, .. } = question;
    if rows.len() != y.len() {
        return Err(Refused::new("x", format!("{} long", rows.len()), format!("{} rows, as many as y", y.len()), "give one row a reading"));
    }
    let width = rows.first().map_or(0, Vec::len);
    if let Some(i) = rows.iter().position(|row| row.len() != width) {
        let given = format!("{} long", rows[i].len());
        return Err(Refused::new(format!("x.{i}"), given, format!("{width} numbers, as in the first row"), "make all rows equally long"));
    }
    if width == 0 || width > MOST_COLUMNS {
        return Err(Refused::new(
            "x",
            format!("{width} columns"),
            format!("1 to {MOST_COLUMNS} columns"),
            "give the regressors of each reading",
        ));
    }
    if width > 1 && *degree > 1 {
        let remedy = "leave degree out, or give one x a reading";
        return Err(Refused::new("degree", degree, "1 where x has rows of several numbers", remedy));
    }
    let (mut columns, mut scales) = (Vec::new(), Vec::new());
    for j in 0..width {
        let largest = rows.iter().map(|row| row[j].abs()).fold(0.0, f64::max);
        let scale = power_of_2_under_1(largest);
        let column: Vec<Double> = rows.iter().map(|row| Double::of(row[j] * scale)).collect();
        columns.push(column);
        scales.push(scale);
    }
    for k in 1..*degree as usize {
        let next = columns[k - 1].iter().zip(&columns[0]).map(|(power, x)| power.multiply(*x)).collect();
        columns.push(next);
        scales.push(scales[k - 1] * scales[0]);
    }
    Ok((columns, scales))
}

/// The power of 2 that brings `largest` to over ½ and up to 1; 1 for a column of zeros.
fn power_of_2_under_1(largest: f64) -> f64 {
    let mut scale = 1.0;
    while largest * scale > 1.0 {
        scale *= 0.5;
    }
    while largest > 0.0 && largest * scale <= 0.5 && scale < 1e100 {
        scale *= 2.0;
    }
    scale
}

/// `least-squares` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "least-squares",
    help: "straight line, polynomial or several regressors, to certified digits",
    request: &[
        Key::raw("x", "a list of numbers, or a list of rows of numbers, one a reading").needed(),
        Key::numbers("y", Range::ANY, "the readings").needed(),
        Key::whole("degree", Range::within(1.0, MOST_DEGREE as f64), "degree of the polynomial in a single x").default("1"),
        Key::flag("intercept", "whether a constant is fitted too").default("true"),
        Key::numbers("weights", Range::over(0.0), "weight of each reading, 1/u^2 or in proportion to it").default("all 1"),
    ],
    answer: &[
        Told { path: "b", help: "coefficients, the intercept first" },
        Told { path: "se", help: "their standard errors" },
        Told { path: "residual_sd", help: "standard deviation of the residuals" },
        Told {
            path: "r2",
            help: "share of the spread of y that is explained (about 0 without an intercept); null where y does not spread",
        },
        Told { path: "F", help: "mean square of the fit over that of the residuals; null where there are none" },
        Told { path: "rss", help: "weighted sum of squared residuals" },
        Told { path: "dof", help: "readings less coefficients" },
        Told { path: "condition", help: "largest over smallest singular value of the centred and scaled columns" },
    ],
    example: r#"{"x": [10, 60, 110, 160, 210], "y": [260.021, 260.019, 260.018, 260.016, 260.013]}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let question = Question {
        rows: rows(given)?,
        y: given.numbers("y"),
        degree: given.whole_or("degree", 1) as u32,
        intercept: given.flag_or("intercept", true),
        weights: given.has("weights").then(|| given.numbers("weights")),
    };
    let fit = fitted(&question)?;
    let source = "Golub and Van Loan 5.3; digits checked by NIST Statistical Reference Datasets";
    let size = [("readings", question.y.len() as f64), ("coefficients", fit.b.len() as f64)];
    for (k, (b, se)) in fit.b.iter().zip(&fit.se).enumerate() {
        let what = format!("coefficient {k}");
        desk.working.step(&what, "min sum w (y - A b)^2 by QR, refined", &size, &[("b", *b), ("se", *se)], source);
    }
    let with = [("rss", fit.rss), ("dof", fit.dof as f64)];
    desk.working.step("residual standard deviation", "sqrt(rss/dof)", &with, &[("residual sd", fit.residual_sd)], source);
    told(&fit)
}

/// `x` as rows: a plain list has one number a row.
fn rows(given: &Given) -> Result<Vec<Vec<f64>>, Refused> {
    let wrong = || given.refuse("x", "a list of numbers, or a list of rows of numbers", "give one number or one row a reading");
    let list = given.raw("x").and_then(Value::as_array).ok_or_else(wrong)?;
    let row = |(i, item): (usize, &Value)| match item.as_array() {
        Some(items) => items.iter().enumerate().map(|(j, item)| number(&format!("x.{i}.{j}"), item)).collect(),
        None => Ok(vec![number(&format!("x.{i}"), item)?]),
    };
    list.iter().enumerate().map(row).collect()
}

fn number(path: &str, value: &Value) -> Result<f64, Refused> {
    let number = value.as_f64().filter(|x| Range::ANY.has(*x));
    number.ok_or_else(|| Refused::new(path, shown(value), Range::ANY.to_string(), "give a number"))
}

#[cfg(test)]
mod tests;
