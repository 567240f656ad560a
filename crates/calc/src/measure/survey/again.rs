//! Which reading to take again, and which further one is worth its time.

use serde::Serialize;

use super::fit::{Fitted, Form, Measured, fit, gradient_of_amplitude};
use super::model::{Place, Term, angle_grid, stations};
use crate::math::sq;
use crate::measure::qr::dot;
use crate::units::shown_plain;

/// A reading that looks wrong against the others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Suspect {
    /// Its place in the request, counted from 0.
    pub index: usize,
    /// Its distance from what the others say, mm.
    pub off_mm: f64,
    /// Its externally studentised residual.
    pub t: f64,
    /// Another reading that is as far off: these readings alone can't say which of the two.
    #[serde(skip)]
    pub or_index: Option<usize>,
}

/// Two |t| this near to each other are equal.
const EQUAL_T: f64 = 1e-6;

/// The suspects, worst first, and the fit without them (none when there are no suspects).
///
/// The worst over its limit is set aside and the rest fitted again, a fifth of the readings at most.
pub fn suspects(measured: &Measured, all: &Fitted) -> (Vec<Suspect>, Option<Fitted>) {
    let most = measured.places.len() / 5;
    let (mut found, mut aside, mut rest): (Vec<Suspect>, Vec<usize>, Option<Fitted>) = (Vec::new(), Vec::new(), None);
    while found.len() < most {
        let now = rest.as_ref().unwrap_or(all);
        let kept: Vec<usize> = (0..measured.places.len()).filter(|i| !aside.contains(i)).collect();
        let Some(suspect) = worst_over_limit(now, &kept) else { break };
        aside.push(suspect.index);
        found.push(suspect);
        rest = Some(fit(&measured.without(&aside)));
    }
    (found, rest)
}

/// The reading with the largest |t| if that is over the limit; `kept` are the places in the request of the fitted readings.
fn worst_over_limit(fitted: &Fitted, kept: &[usize]) -> Option<Suspect> {
    let limit = fitted.form.t_limit?;
    let t_max = fitted.form.t_max.filter(|t_max| *t_max > limit)?;
    let is_worst = |t: &Option<f64>| t.is_some_and(|t| t.abs() >= t_max * (1.0 - EQUAL_T));
    let mut worst = fitted.t.iter().zip(kept).enumerate().filter(|(_, (t, _))| is_worst(t));
    let (i, (t, index)) = worst.next()?;
    let or_index = worst.next().map(|(_, (_, index))| *index);
    Some(Suspect { index: *index, off_mm: fitted.off_mm.get(i).copied().flatten()?, t: (*t)?, or_index })
}

/// A further reading that is worth its time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Again {
    /// Station, mm.
    pub z_mm: f64,
    /// Direction, degrees.
    pub angle_deg: f64,
    /// What it brings.
    pub why: String,
}

/// The best three further readings on the stations, by how much they lower u(mean) and u(out-of-round) together.
///
/// For a candidate row x: C' = C − C x xᵀC/(1 + xᵀC x), with s_p as it is. Empty when nothing is wanted, or all is met.
pub fn worth_reading(measured: &Measured, fitted: &Fitted, wanted_u_mm: Option<f64>) -> Vec<Again> {
    let Some(wanted) = wanted_u_mm else { return Vec::new() };
    let form = &fitted.form;
    let now = Known::of(form);
    if now.mean <= wanted && now.round.is_none_or(|round| round <= wanted) {
        return Vec::new();
    }
    let mut candidates: Vec<(f64, Again)> = Vec::new();
    for z_mm in stations(&measured.places) {
        for angle_deg in angle_grid(measured.contacts) {
            let row = measured.span.row(&form.terms, Place { z_mm, angle_deg });
            let then = known_with(fitted, &row);
            let round = now.round.zip(then.round);
            let gain = now.mean - then.mean + round.map_or(0.0, |(now, then)| now - then);
            let um = |mm: f64| shown_plain(1000.0 * mm, 2);
            let mean = format!("u of the mean falls from {} to {} µm", um(now.mean), um(then.mean));
            let why = round.map_or(mean.clone(), |(now, then)| format!("{mean}, of the out-of-round from {} to {} µm", um(now), um(then)));
            candidates.push((gain, Again { z_mm, angle_deg, why }));
        }
    }
    // A stable sort: of equal gains the first along the axis, then round the circle.
    candidates.sort_by(|a, b| b.0.total_cmp(&a.0));
    candidates.into_iter().filter(|(gain, _)| *gain > 0.0).take(3).map(|(_, again)| again).collect()
}

/// u of the mean and of the out-of-round (none where it can't be told), mm.
struct Known {
    mean: f64,
    round: Option<f64>,
}

impl Known {
    fn of(form: &Form) -> Self {
        Self { mean: form.mean_mm.u, round: form.out_of_round_mm.map(|round| round.u) }
    }
}

/// What would be known with one more reading at `row`.
fn known_with(fitted: &Fitted, row: &[f64]) -> Known {
    let form = &fitted.form;
    let C_x: Vec<f64> = fitted.inverse.iter().map(|C_row| dot(C_row, row)).collect();
    let shrink = 1.0 + dot(&C_x, row);
    let spread = |g: &[f64]| {
        let C_g: Vec<f64> = fitted.inverse.iter().map(|C_row| dot(C_row, g)).collect();
        form.pooled_sd_mm * (dot(&C_g, g) - sq(dot(&C_x, g)) / shrink).max(0.0).sqrt()
    };
    let direction = |weights: &[(Term, f64)]| -> Vec<f64> {
        let weight = |term: &Term| weights.iter().find(|(known, _)| known == term).map_or(0.0, |(_, weight)| *weight);
        form.terms.iter().map(weight).collect()
    };
    let round = form.out_of_round_mm.and(form.cos2_mm.zip(form.sin2_mm)).map(|(A, B)| {
        let [g_A, g_B] = gradient_of_amplitude(A.value, B.value);
        2.0 * spread(&direction(&[(Term::Cos2, g_A), (Term::Sin2, g_B)]))
    });
    Known { mean: spread(&direction(&[(Term::Mean, 1.0)])), round }
}
