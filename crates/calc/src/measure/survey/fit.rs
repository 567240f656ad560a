//! The fit of a survey: its terms with their uncertainty, and how far each reading is from what the others say.

use serde::Serialize;

use super::model::{Contacts, Place, Span, Term, told_apart};
use crate::math::{PI, atan2, sq};
use crate::measure::prior::{Estimate, GaugePrior, outlier_limit};
use crate::measure::qr::{SmallFit, dot, small_fit};

/// A value with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ValueU {
    /// The value.
    pub value: f64,
    /// One standard uncertainty.
    pub u: f64,
}

/// What a set of readings says of a bore. A term that can't be told is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Form {
    /// Mean over the span.
    pub mean_mm: Estimate,
    /// Change over the span.
    pub taper_mm: Option<Estimate>,
    /// c: a third of centre less ends.
    pub barrel_mm: Option<Estimate>,
    /// A of the oval.
    pub cos2_mm: Option<Estimate>,
    /// B of the oval.
    pub sin2_mm: Option<Estimate>,
    /// Centre less ends, 3c.
    pub centre_minus_ends_mm: Option<ValueU>,
    /// Largest less smallest diameter of the oval, 2√(A² + B²).
    pub out_of_round_mm: Option<ValueU>,
    /// Direction of the largest diameter, 0 to 180°; none for a perfect circle too.
    pub major_axis_deg: Option<f64>,
    /// A of three lobes (three contacts).
    pub cos3_mm: Option<Estimate>,
    /// B of three lobes (three contacts).
    pub sin3_mm: Option<Estimate>,
    /// Radial amplitude of three lobes, ½√(A₃² + B₃²) (three contacts).
    pub three_lobe_mm: Option<ValueU>,
    /// Terms that the readings can tell, in order.
    pub terms: Vec<Term>,
    /// Terms that they can't, each with the reason.
    pub not_estimable: Vec<String>,
    /// Standard deviation of the residuals; none when there are as many terms as readings.
    pub residual_sd_mm: Option<f64>,
    /// Standard deviation of a reading, pooled with the gauge study, never under a step/√12.
    pub pooled_sd_mm: f64,
    /// Readings less terms, ν.
    pub dof: usize,
    /// Limit of the worst |t|; none without freedom.
    pub t_limit: Option<f64>,
    /// Largest |t|; none where no reading can be judged.
    pub t_max: Option<f64>,
}

/// A fit with what is needed to go on from it.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// What it says.
    pub form: Form,
    /// Why a term is missing, by term.
    pub missing: Vec<(Term, String)>,
    /// Externally studentised residual of each reading; none where it can't be judged (leverage 1, no freedom).
    pub t: Vec<Option<f64>>,
    /// Distance of each reading from what the others say, e/(1 − h); none with leverage 1.
    pub off_mm: Vec<Option<f64>>,
    /// (XᵀX)⁻¹, in the order of the terms.
    pub inverse: Vec<Vec<f64>>,
}

/// A leverage this near to 1 leaves a reading unjudged: nothing else says what it should be.
const ALONE: f64 = 1.0 - 1e-9;

/// The readings of a survey, reduced to 20 °C.
#[derive(Clone, Debug)]
pub struct Measured {
    /// Where each was taken.
    pub places: Vec<Place>,
    /// Size less nominal, mm.
    pub over_nominal_mm: Vec<f64>,
    /// Nominal size, mm.
    pub nominal_mm: f64,
    /// The axis.
    pub span: Span,
    /// How it was touched.
    pub contacts: Contacts,
    /// The gauge.
    pub gauge: GaugePrior,
    /// Chance of a false alarm over all readings.
    pub alpha_level: f64,
}

impl Measured {
    /// The same without the readings at `indices`.
    pub fn without(&self, indices: &[usize]) -> Self {
        let keep = |i: usize| !indices.contains(&i);
        let places = self.places.iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, place)| *place).collect();
        let over_nominal_mm = self.over_nominal_mm.iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, d)| *d).collect();
        Self { places, over_nominal_mm, ..self.clone() }
    }
}

/// Least squares of the form on the readings, with the repeatability pooled.
///
/// s_p² = (Σe² + ν₀s₀²)/(ν + ν₀) ≥ r²/12, u(term) = s_p √C_jj, C = (XᵀX)⁻¹, dof ν + ν₀. Without any freedom s_p is a step/√12.
/// v_i = max[(Σe² − e_i²/(1 − h_i) + ν₀s₀²)/(ν − 1 + ν₀), r²/12], t_i = e_i/√(v_i(1 − h_i)).
/// Source: any text on linear regression; externally studentised residuals by Cook and Weisberg 1982 (memory).
pub fn fit(measured: &Measured) -> Fitted {
    let (terms, missing) = told_apart(measured.contacts, measured.span, &measured.places);
    let fitted = small_fit(&measured.span.columns(&terms, &measured.places), &measured.over_nominal_mm);
    let (n, gauge) = (measured.places.len(), &measured.gauge);
    let dof = n.saturating_sub(terms.len());
    let freedom = dof as f64;
    // Residuals of an exact fit are rounding; they count as nothing.
    let sum_squares: f64 = fitted.residuals.iter().map(|e| sq(*e)).sum();
    let pooled_sd_mm = gauge.variance(sum_squares, freedom).unwrap_or(gauge.least_variance()).sqrt();
    let judge = |e: f64, h: f64| {
        (h < ALONE && dof > 0)
            .then(|| gauge.variance(sum_squares - sq(e) / (1.0 - h), freedom - 1.0).map(|v| e / (v * (1.0 - h)).sqrt()))?
    };
    let pairs = || fitted.residuals.iter().zip(&fitted.leverages);
    let t: Vec<Option<f64>> = pairs().map(|(e, h)| judge(*e, *h)).collect();
    let off_mm = pairs().map(|(e, h)| (*h < ALONE).then(|| e / (1.0 - h))).collect();
    let t_max = t.iter().flatten().map(|t| t.abs()).fold(None, |worst: Option<f64>, t| Some(worst.map_or(t, |worst| worst.max(t))));
    let form = Form {
        t_limit: outlier_limit(n, freedom - 1.0 + gauge.dof, measured.alpha_level),
        t_max,
        residual_sd_mm: (dof > 0).then(|| (sum_squares / freedom).sqrt()),
        dof,
        not_estimable: missing.iter().map(|(_, why)| why.clone()).collect(),
        ..shape_of(measured.nominal_mm, terms, &fitted, pooled_sd_mm, freedom + gauge.dof)
    };
    Fitted { form, missing, t, off_mm, inverse: fitted.inverse }
}

/// The terms of a fit as sizes and forms.
fn shape_of(nominal_mm: f64, terms: Vec<Term>, fitted: &SmallFit, s_p: f64, dof: f64) -> Form {
    let position = |term: Term| terms.iter().position(|known| *known == term);
    let entry = |i: usize, j: usize| fitted.inverse.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0.0);
    let estimate = |term: Term| {
        let j = position(term)?;
        Some(Estimate { value: fitted.b.get(j).copied()?, u: s_p * entry(j, j).sqrt(), dof })
    };
    // √(A² + B²) with its u, √(gᵀ C g) s_p.
    let amplitude = |first: Term, second: Term| {
        let (i, j) = (position(first)?, position(second)?);
        let gradient = gradient_of_amplitude(estimate(first)?.value, estimate(second)?.value);
        let C_g = [dot(&[entry(i, i), entry(i, j)], &gradient), dot(&[entry(j, i), entry(j, j)], &gradient)];
        let (A, B) = (estimate(first)?.value, estimate(second)?.value);
        Some(ValueU { value: (sq(A) + sq(B)).sqrt(), u: s_p * dot(&gradient, &C_g).max(0.0).sqrt() })
    };
    let times = |factor: f64, x: ValueU| ValueU { value: factor * x.value, u: factor * x.u };
    let barrel = estimate(Term::Barrel);
    let (cos2, sin2) = (estimate(Term::Cos2), estimate(Term::Sin2));
    let axis = cos2.zip(sin2).filter(|(A, B)| A.value != 0.0 || B.value != 0.0);
    let mean = estimate(Term::Mean).unwrap_or(Estimate { value: 0.0, u: s_p, dof });
    Form {
        mean_mm: Estimate { value: nominal_mm + mean.value, ..mean },
        taper_mm: estimate(Term::Taper),
        barrel_mm: barrel,
        cos2_mm: cos2,
        sin2_mm: sin2,
        centre_minus_ends_mm: barrel.map(|c| ValueU { value: 3.0 * c.value, u: 3.0 * c.u }),
        out_of_round_mm: amplitude(Term::Cos2, Term::Sin2).map(|amplitude| times(2.0, amplitude)),
        major_axis_deg: axis.map(|(A, B)| (0.5 * atan2(B.value, A.value) * 180.0 / PI).rem_euclid(180.0)),
        cos3_mm: estimate(Term::Cos3),
        sin3_mm: estimate(Term::Sin3),
        three_lobe_mm: amplitude(Term::Cos3, Term::Sin3).map(|amplitude| times(0.5, amplitude)),
        terms,
        not_estimable: Vec::new(),
        residual_sd_mm: None,
        pooled_sd_mm: s_p,
        dof: 0,
        t_limit: None,
        t_max: None,
    }
}

/// (A, B)/√(A² + B²); for a perfect circle, where no direction is better than another, that of A.
pub fn gradient_of_amplitude(A: f64, B: f64) -> [f64; 2] {
    let length = (sq(A) + sq(B)).sqrt();
    if length > 0.0 { [A / length, B / length] } else { [1.0, 0.0] }
}
