//! Numbers of twice the digits, as a sum of two: for residuals, where ordinary ones cancel.
//!
//! Relative error about 1e-31. No fused operations, so the bits are the same everywhere.
//! Source: Dekker, A floating-point technique for extending the available precision (1971); Knuth (sum of two).

/// high + low, |low| at most half a unit in the last place of high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Double {
    /// The number as far as one f64 goes.
    pub high: f64,
    /// The rest.
    pub low: f64,
}

impl Double {
    /// An ordinary number.
    pub const fn of(x: f64) -> Self {
        Self { high: x, low: 0.0 }
    }

    /// −x.
    pub fn negative(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }

    /// x + y.
    pub fn add(self, y: Self) -> Self {
        let (high, rest) = sum(self.high, y.high);
        let (low, least) = sum(self.low, y.low);
        let (high, rest) = fast_sum(high, rest + low);
        let (high, low) = fast_sum(high, rest + least);
        Self { high, low }
    }

    /// x y.
    pub fn multiply(self, y: Self) -> Self {
        let (high, rest) = product(self.high, y.high);
        let (high, low) = fast_sum(high, rest + (self.high * y.low + self.low * y.high));
        Self { high, low }
    }
}

/// a + b exactly, as rounded sum and rest.
fn sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let of_b = s - a;
    (s, (a - (s - of_b)) + (b - of_b))
}

/// The same where |a| ≥ |b|.
fn fast_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    (s, b - (s - a))
}

/// a b exactly, as rounded product and rest; |a|, |b| under 1e290.
fn product(a: f64, b: f64) -> (f64, f64) {
    let p = a * b;
    let ((a1, a2), (b1, b2)) = (halves(a), halves(b));
    (p, ((a1 * b1 - p) + a1 * b2 + a2 * b1) + a2 * b2)
}

/// The upper and the lower 26 bits of the mantissa.
fn halves(a: f64) -> (f64, f64) {
    let shifted = a * 134_217_729.0;
    let upper = shifted - (shifted - a);
    (upper, a - upper)
}
