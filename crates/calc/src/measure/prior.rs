//! What is known of a gauge before it reads: its step, and how well it repeated in its study. Shared by `spot` and `survey`.
//!
//! A few readings say little of their own spread; pooled with the study they say enough to judge one of them.

use serde::Serialize;

use crate::distributions::student_quantile;
use crate::keys::{Given, Key, Range};

/// Fewer degrees of freedom than this say nothing of a spread: Student's factors grow past every size of this trade.
const LEAST_DOF: f64 = 0.5;
/// Chances of a false alarm that may be asked for.
pub const ALPHA_LEVEL: Range = Range::within(1e-9, 1.0).under(1.0);

/// A value with one standard uncertainty and its degrees of freedom, as answers carry it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// One standard uncertainty.
    pub u: f64,
    /// Degrees of freedom of `u`.
    pub dof: f64,
}

impl Estimate {
    /// Half-width of its 95 % interval: Student at `dof`; with less than half a degree of freedom, 2 u.
    pub fn U95(&self) -> f64 {
        if self.dof >= LEAST_DOF { student_quantile(0.975, self.dof) * self.u } else { 2.0 * self.u }
    }
}

/// A gauge and its study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GaugePrior {
    /// Smallest step that it shows, mm.
    pub resolution_mm: f64,
    /// Standard deviation of its repeated readings, s₀, mm.
    pub repeatability_mm: f64,
    /// Degrees of freedom of that, ν₀; 0 when there was no study.
    pub dof: f64,
}

impl GaugePrior {
    /// Keys of a request that describe it, in the order of [`GaugePrior::read`].
    pub const KEYS: [Key; 3] = [
        Key::number("resolution_mm", Range::over(0.0).to(10.0), "smallest step that the gauge shows").default("0.001"),
        Key::number("prior_repeatability_mm", Range::at_least(0.0).to(10.0), "its repeatability by the gauge study").default("0.003"),
        Key::number("prior_dof", Range::at_least(0.0).to(1e9), "degrees of freedom of that study, 0 for none").default("20"),
    ];

    /// Reads those keys.
    pub fn read(given: &Given) -> Self {
        Self {
            resolution_mm: given.number_or("resolution_mm", 0.001),
            repeatability_mm: given.number_or("prior_repeatability_mm", 0.003),
            dof: given.number_or("prior_dof", 20.0),
        }
    }

    /// Variance of a reading that is evenly spread over one step: r²/12, mm². No pooled variance is ever smaller.
    pub fn least_variance(&self) -> f64 {
        self.resolution_mm * self.resolution_mm / 12.0
    }

    /// Pooled variance of a reading, (Σe² + ν₀s₀²)/(ν + ν₀), not floored; none when nothing at all is known (ν + ν₀ = 0).
    pub fn pooled_variance(&self, sum_squares: f64, dof: f64) -> Option<f64> {
        let all = dof + self.dof;
        (all > 0.0).then(|| (sum_squares.max(0.0) + self.dof * self.repeatability_mm * self.repeatability_mm) / all)
    }

    /// The same, never under r²/12.
    pub fn variance(&self, sum_squares: f64, dof: f64) -> Option<f64> {
        self.pooled_variance(sum_squares, dof).map(|variance| variance.max(self.least_variance()))
    }
}

/// Limit for the worst of `n` studentised residuals at `alpha`, both sides: t at 1 − α/(2n) (Bonferroni); none with less than half a degree of freedom.
///
/// Source: Cook and Weisberg 1982, residuals and influence (memory).
pub fn outlier_limit(n: usize, dof: f64, alpha: f64) -> Option<f64> {
    (dof >= LEAST_DOF).then(|| student_quantile(1.0 - alpha / (2.0 * n as f64), dof))
}

/// Whether a reading that is off by `off_mm` looks like a slipped digit: more than 1 mm, or 0.5 mm (half a turn of a sleeve) within
/// four standard deviations `sd_mm`. Source: common practice.
pub fn is_slipped_digit(off_mm: f64, sd_mm: f64) -> bool {
    let off = off_mm.abs();
    off > 1.0 || (off - 0.5).abs() <= (4.0 * sd_mm).min(0.05)
}
