//! Twice the digits of a double where a difference would lose them: the residuals of a fit, the mean of large numbers.
//!
//! A number is the sum of two doubles, the second under half a unit of the first. No fused multiply-add, so the bits are the same everywhere.
//! Source: Dekker 1971, Knuth (two-sum, split, two-product; memory).

/// A number as the sum of two doubles.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DoubleDouble {
    high: f64,
    low: f64,
}

impl From<f64> for DoubleDouble {
    fn from(x: f64) -> Self {
        Self { high: x, low: 0.0 }
    }
}

impl DoubleDouble {
    /// Rounded to one double.
    pub fn value(self) -> f64 {
        self.high + self.low
    }

    /// The sum with a double.
    pub fn plus(self, x: f64) -> Self {
        let (sum, error) = two_sum(self.high, x);
        tidy(sum, error + self.low)
    }

    /// The sum of two.
    pub fn sum(self, other: Self) -> Self {
        let (sum, error) = two_sum(self.high, other.high);
        tidy(sum, error + self.low + other.low)
    }

    /// The product with a double.
    pub fn times(self, x: f64) -> Self {
        let (product, error) = two_product(self.high, x);
        tidy(product, error + self.low * x)
    }

    /// The negative.
    pub fn negative(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }

    /// The quotient by a double.
    pub fn over(self, x: f64) -> Self {
        let first = self.high / x;
        let rest = self.sum(Self::from(first).times(x).negative()).value();
        tidy(first, rest / x)
    }
}

fn tidy(high: f64, low: f64) -> DoubleDouble {
    let sum = high + low;
    DoubleDouble { high: sum, low: low - (sum - high) }
}

fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let of_b = sum - a;
    (sum, (a - (sum - of_b)) + (b - of_b))
}

fn two_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    let ((a1, a2), (b1, b2)) = (split(a), split(b));
    (product, ((a1 * b1 - product) + a1 * b2 + a2 * b1) + a2 * b2)
}

/// Halves of 26 bits each.
fn split(x: f64) -> (f64, f64) {
    const HALF: f64 = 134_217_729.0; // 2^27 + 1
    let scaled = HALF * x;
    let high = scaled - (scaled - x);
    (high, x - high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_that_one_double_loses_is_kept() {
        let x = DoubleDouble::from(1e16).plus(1.0).plus(-1e16);
        assert_eq!(x.value(), 1.0);
        // (1 + 2^-30)^2 - 1 - 2^-29 = 2^-60, by hand.
        let step = 2.0_f64.recip();
        let small = (0..30).fold(1.0, |x, _| x * step);
        let square = DoubleDouble::from(1.0 + small).times(1.0 + small).plus(-1.0).plus(-2.0 * small);
        assert_eq!(square.value(), small * small);
    }
}
