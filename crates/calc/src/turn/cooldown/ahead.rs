//! When is one more reading of a cooling part enough, and how many will it take if one is not?
//!
//! The curve is straightened at what is known now, so it says what readings will be worth, not what they will show.

use super::grid::{Data, Grid, Square, TERMS, add_outer, dot, inverse, scaled, unit};
use super::{CoolReading, Cooldown, K_95};
use crate::math::{exp, sq};

/// Steps in which the next reading is sought, s, how far, in time constants, and how many at most.
const STEP_S: f64 = 60.0;
const SEEN_AHEAD: f64 = 4.0;
const MOST_STEPS: u32 = 100_000;
/// Readings that are counted ahead at most.
pub(super) const MOST_READINGS: u32 = 1000;

/// When to read again, and how many readings that takes.
pub(super) struct Next {
    pub(super) t_s: f64,
    /// None: more than are counted.
    pub(super) readings: Option<u32>,
}

/// What further readings would tell, with the linear terms and ln τ straightened at their means.
pub(super) struct Ahead {
    cov: Square<{ TERMS + 1 }>,
    mean: [f64; TERMS],
    tau: f64,
    warm_u_mm: Option<f64>,
    reading_u_mm: f64,
}

impl Ahead {
    /// Information = prior⁻² + Σ J Jᵀ/σ², J = (1, e, e, 0, A e t/τ) of a size and (0, e, 0, 1, A e t/τ) of a temperature, e = e^(−t/τ).
    pub(super) fn of(request: &Cooldown, data: &Data, grid: &Grid) -> Self {
        let mean = std::array::from_fn(|i| grid.mean(|node| node.mean[i]));
        let sd = [data.sd[0], data.sd[1], data.sd[2], data.sd[3], request.ln_tau_u];
        let warm_u_mm = data.warmth.then_some((request.expansion_mm_per_K * request.temperature_u_K).abs());
        let read_last = request.readings.last().is_some_and(|reading| reading.part_minus_ambient_K.is_some());
        let mut ahead = Self { cov: unit(), mean, tau: exp(grid.ln_tau), warm_u_mm, reading_u_mm: request.reading_u_mm };
        let mut information = unit::<{ TERMS + 1 }>();
        for reading in &request.readings {
            for (J, u) in ahead.slopes(reading.t_s, reading.part_minus_ambient_K.is_some()).into_iter().flatten() {
                add_outer(&mut information, &scaled(&J, &sd, u));
            }
        }
        let (inverse, _) = inverse(&information);
        ahead.cov = std::array::from_fn(|i| std::array::from_fn(|j| sd[i] * inverse[i][j] * sd[j]));
        // The next reading is taken as the last one was: with the thermometer, or without.
        ahead.warm_u_mm = ahead.warm_u_mm.filter(|_| read_last);
        ahead
    }

    /// Slopes and standard deviation of what would be read at t.
    fn slopes(&self, t_s: f64, warm: bool) -> [Option<([f64; TERMS + 1], f64)>; 2] {
        let e = exp(-t_s / self.tau);
        let by_tau = e * t_s / self.tau;
        let size = ([1.0, e, e, 0.0, (self.mean[1] + self.mean[2]) * by_tau], self.reading_u_mm);
        let warm = self.warm_u_mm.filter(|_| warm).map(|u| ([0.0, e, 0.0, 1.0, self.mean[1] * by_tau], u));
        [Some(size), warm]
    }

    /// What is known after one more reading at t. Source: the update of a Kalman filter with one exact gain, P − PJJᵀP/(JᵀPJ + σ²).
    fn after(&self, t_s: f64) -> Square<{ TERMS + 1 }> {
        let mut cov = self.cov;
        for (J, u) in self.slopes(t_s, true).into_iter().flatten() {
            let PJ: [f64; TERMS + 1] = std::array::from_fn(|i| dot(&cov[i], &J));
            let spread = dot(&J, &PJ) + sq(u);
            for i in 0..=TERMS {
                for j in 0..=TERMS {
                    cov[i][j] -= PJ[i] * PJ[j] / spread;
                }
            }
        }
        cov
    }

    /// The first step of 60 s at which one more reading is enough; none within 4 τ: a reading each τ, counted.
    pub(super) fn next(mut self, request: &Cooldown, last: CoolReading) -> Next {
        let enough = |cov: &Square<{ TERMS + 1 }>| K_95 * cov[0][0].max(0.0).sqrt() <= request.wanted_U_mm;
        let times = (1..=MOST_STEPS).map(|i| STEP_S * f64::from(i)).take_while(|after_s| *after_s <= SEEN_AHEAD * self.tau);
        for after_s in times {
            if enough(&self.after(last.t_s + after_s)) {
                return Next { t_s: last.t_s + after_s, readings: Some(1) };
            }
        }
        let t_s = last.t_s + self.tau;
        for count in 1..=MOST_READINGS {
            self.cov = self.after(last.t_s + f64::from(count) * self.tau);
            if enough(&self.cov) {
                return Next { t_s, readings: Some(count) };
            }
        }
        Next { t_s, readings: None }
    }
}
