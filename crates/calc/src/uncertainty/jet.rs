//! How a formula changes near its inputs: exact derivatives up to the third, by arithmetic on short Taylor series.
//!
//! A jet is f(x + s·e_i + r·e_j) with s to the first and r to the second power: enough for ∂f/∂x_i, ∂²f/∂x_i∂x_j and
//! ∂³f/∂x_i∂x_j², the terms of JCGM 100:2008 5.1.2 (note). With i = j it is f′, f″ and f‴. No step size, no cancellation.

use std::f64::consts::LN_10;

use super::formula::{Formula, Function, Pair, Step, power};
use crate::math::{cos, exp, ln, log10, pow, sin, sq, tan};

/// Coefficients of 1, r, r², s, s r, s r².
#[derive(Clone, Copy, Debug, PartialEq)]
struct Jet([f64; 6]);

/// What the derivatives along two inputs are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Derivatives {
    /// f.
    pub value: f64,
    /// ∂f/∂x_i.
    pub first: f64,
    /// ∂²f/∂x_i∂x_j.
    pub second: f64,
    /// ∂³f/∂x_i∂x_j².
    pub third: f64,
    /// The point is on a corner of abs, min or max, where the slope jumps: the slope of one side is given.
    pub corner: bool,
}

/// Derivatives of `formula` at `at`, along inputs `i` and `j`.
pub fn derivatives(formula: &Formula, at: &[f64], i: usize, j: usize) -> Derivatives {
    let mut corner = false;
    let mut stack: Vec<Jet> = Vec::new();
    for step in formula.steps() {
        let jet = match *step {
            Step::Number(x) => Jet([x, 0.0, 0.0, 0.0, 0.0, 0.0]),
            Step::Input(k) => {
                let x = at.get(k).copied().unwrap_or(f64::NAN);
                Jet([x, f64::from(k == j), 0.0, f64::from(k == i), 0.0, 0.0])
            }
            Step::Negate => pop(&mut stack).scaled(-1.0),
            Step::Call(function) => pop(&mut stack).through(function, &mut corner),
            Step::Join(pair) => {
                let b = pop(&mut stack);
                pop(&mut stack).joined(pair, b, &mut corner)
            }
        };
        stack.push(jet);
    }
    let Jet([value, _, _, s, sr, srr]) = pop(&mut stack);
    Derivatives { value, first: s, second: sr, third: 2.0 * srr, corner }
}

fn pop(stack: &mut Vec<Jet>) -> Jet {
    stack.pop().unwrap_or(Jet([f64::NAN; 6]))
}

/// A product in which nothing stays nothing: an infinite slope does not matter to what does not move.
fn times(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

impl Jet {
    fn scaled(self, k: f64) -> Self {
        Self(self.0.map(|c| k * c))
    }

    fn is_constant(&self) -> bool {
        self.0[1..].iter().all(|c| *c == 0.0)
    }

    fn add(self, b: Self) -> Self {
        let mut sum = self.0;
        sum.iter_mut().zip(b.0).for_each(|(sum, b)| *sum += b);
        Self(sum)
    }

    fn multiply(self, b: Self) -> Self {
        let (Self(a), Self(b)) = (self, b);
        Self([
            a[0] * b[0],
            times(a[0], b[1]) + times(a[1], b[0]),
            times(a[0], b[2]) + a[1] * b[1] + times(a[2], b[0]),
            times(a[0], b[3]) + times(a[3], b[0]),
            times(a[0], b[4]) + times(a[4], b[0]) + a[1] * b[3] + a[3] * b[1],
            times(a[0], b[5]) + times(a[5], b[0]) + a[1] * b[4] + a[4] * b[1] + a[2] * b[3] + a[3] * b[2],
        ])
    }

    /// g of this jet, where `g` holds g, g′, g″, g‴ at its value.
    fn composed(self, g: [f64; 4]) -> Self {
        let n = self.0;
        Self([
            g[0],
            times(g[1], n[1]),
            times(g[1], n[2]) + 0.5 * times(g[2], sq(n[1])),
            times(g[1], n[3]),
            times(g[1], n[4]) + times(g[2], n[1] * n[3]),
            times(g[1], n[5]) + times(g[2], n[1] * n[4] + n[2] * n[3]) + 0.5 * times(g[3], n[3] * sq(n[1])),
        ])
    }

    fn through(self, function: Function, corner: &mut bool) -> Self {
        let x = self.0[0];
        if function == Function::Abs {
            *corner |= x == 0.0 && !self.is_constant();
            return if x < 0.0 { self.scaled(-1.0) } else { self };
        }
        self.composed(with_slopes(function, x))
    }

    fn joined(self, pair: Pair, b: Self, corner: &mut bool) -> Self {
        match pair {
            Pair::Add => self.add(b),
            Pair::Subtract => self.add(b.scaled(-1.0)),
            Pair::Multiply => self.multiply(b),
            Pair::Divide => self.divided(b),
            Pair::Power => self.raised(b),
            Pair::Least | Pair::Greatest => {
                *corner |= self.0[0] == b.0[0] && self != b;
                if pair.at(self.0[0], b.0[0]) == self.0[0] { self } else { b }
            }
        }
    }

    fn divided(self, b: Self) -> Self {
        let x = b.0[0];
        let mut quotient = self.multiply(b.composed([1.0 / x, -1.0 / sq(x), 2.0 / (x * sq(x)), -6.0 / sq(sq(x))]));
        quotient.0[0] = self.0[0] / x;
        quotient
    }

    fn raised(self, b: Self) -> Self {
        let (x, c) = (self.0[0], b.0[0]);
        if b.is_constant() {
            let slope = |factor: f64, less: f64| if factor == 0.0 { 0.0 } else { factor * pow(x, c - less) };
            return self.composed([power(x, c), slope(c, 1.0), slope(c * (c - 1.0), 2.0), slope(c * (c - 1.0) * (c - 2.0), 3.0)]);
        }
        let mut raised = b.multiply(self.composed(with_slopes(Function::Ln, x))).composed([power(x, c); 4]);
        raised.0[0] = power(x, c);
        raised
    }
}

/// g, g′, g″, g‴ at `x`.
fn with_slopes(function: Function, x: f64) -> [f64; 4] {
    match function {
        Function::Sqrt => {
            let v = x.sqrt();
            [v, 0.5 / v, -0.25 / (v * x), 0.375 / (v * sq(x))]
        }
        Function::Exp => [exp(x); 4],
        Function::Ln => [ln(x), 1.0 / x, -1.0 / sq(x), 2.0 / (x * sq(x))],
        Function::Log10 => [log10(x), 1.0 / (LN_10 * x), -1.0 / (LN_10 * sq(x)), 2.0 / (LN_10 * x * sq(x))],
        Function::Sin => [sin(x), cos(x), -sin(x), -cos(x)],
        Function::Cos => [cos(x), -sin(x), -cos(x), sin(x)],
        Function::Tan => {
            let t = tan(x);
            let slope = 1.0 + sq(t);
            [t, slope, 2.0 * t * slope, 2.0 * slope * (1.0 + 3.0 * sq(t))]
        }
        Function::Asin | Function::Acos => {
            let w = 1.0 / ((1.0 - x) * (1.0 + x)).sqrt();
            let sign = if function == Function::Asin { 1.0 } else { -1.0 };
            let w3 = w * sq(w);
            [function.at(x), sign * w, sign * x * w3, sign * (1.0 + 2.0 * sq(x)) * w3 * sq(w)]
        }
        Function::Atan => {
            let w = 1.0 / (1.0 + sq(x));
            [function.at(x), w, -2.0 * x * sq(w), (6.0 * sq(x) - 2.0) * w * sq(w)]
        }
        Function::Abs => [x.abs(), 1.0_f64.copysign(x), 0.0, 0.0],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Differences of the formula itself, in wide steps: good to some 1e-5 for smooth functions of order 1.
    fn by_differences(formula: &Formula, at: &[f64], i: usize, j: usize) -> (f64, f64, f64) {
        let h = 2e-3;
        let f = |s: f64, r: f64| {
            let mut at = at.to_vec();
            at[i] += s * h;
            at[j] += r * h;
            formula.value(&at)
        };
        let slope =
            |r: f64| (f(1.0, r) - f(-1.0, r)) / (2.0 * h) - (f(2.0, r) - 2.0 * f(1.0, r) + 2.0 * f(-1.0, r) - f(-2.0, r)) / (12.0 * h);
        (slope(0.0), (slope(1.0) - slope(-1.0)) / (2.0 * h), (slope(1.0) - 2.0 * slope(0.0) + slope(-1.0)) / (h * h))
    }

    #[test]
    fn derivatives_agree_with_differences_for_every_function_and_operator() {
        let names = ["a", "b"];
        for text in [
            "a*b^2 + a^3/b",
            "sqrt(a*b)",
            "exp(a - b)",
            "ln(a + b)*b",
            "log10(a*b^2)",
            "sin(a)*cos(b)",
            "tan(a*b/2)",
            "asin(a/2)*b",
            "acos(a*b/3)",
            "atan(a*b)",
            "abs(-a*b^3)",
            "a^b",
            "2^(a*b)",
            "min(a*b, 50)*max(a, -1)",
            "-(a/b)^2.5",
            "(a - b)^2*a",
            "1/(1 + a^2*b)",
        ] {
            let formula = Formula::read(text, &names).unwrap();
            let at = [0.7, 1.3];
            for (i, j) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let exact = derivatives(&formula, &at, i, j);
                let (first, second, third) = by_differences(&formula, &at, i, j);
                assert_eq!(exact.value, formula.value(&at), "{text}");
                for (exact, rough) in [(exact.first, first), (exact.second, second), (exact.third, third)] {
                    assert!((exact - rough).abs() < 2e-3 * (1.0 + exact.abs()), "{text} along {i} {j}: {exact}, by differences {rough}");
                }
            }
        }
    }

    #[test]
    fn whole_powers_have_slopes_at_zero_and_below() {
        let square = Formula::read("a^2", &["a"]).unwrap();
        let cube = Formula::read("a^3", &["a"]).unwrap();
        assert_eq!(derivatives(&square, &[0.0], 0, 0), Derivatives { value: 0.0, first: 0.0, second: 2.0, third: 0.0, corner: false });
        let below = derivatives(&cube, &[-2.0], 0, 0);
        assert_eq!((below.first, below.second, below.third), (12.0, -12.0, 6.0));
    }

    #[test]
    fn an_exact_part_without_a_slope_does_no_harm() {
        let formula = Formula::read("a*b + sqrt(c)", &["a", "b", "c"]).unwrap();
        assert_eq!(derivatives(&formula, &[2.0, 3.0, 0.0], 0, 1).first, 3.0);
        assert!(!derivatives(&formula, &[2.0, 3.0, 0.0], 2, 2).first.is_finite());
    }

    #[test]
    fn corners_are_told() {
        let names = ["a", "b"];
        for (text, corner) in [("abs(a)", true), ("max(a, b)", true), ("max(a, a)", false), ("abs(a + 1)", false), ("min(a, 0)", true)] {
            let formula = Formula::read(text, &names).unwrap();
            assert_eq!(derivatives(&formula, &[0.0, 0.0], 0, 0).corner, corner, "{text}");
        }
    }
}
