//! Which factor belongs to a coverage, and how far off may the worst of n readings be? (`quantile`)
//!
//! It judges no readings: see `spot` and `survey`.
//! Source: JCGM 100:2008 G.3 (Student); Grubbs, Procedures for detecting outlying observations (1969), as in the NIST/SEMATECH
//! e-Handbook 1.3.5.17.1 (read in quoted form).

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::distributions::{coverage_factor, student_limit};
use crate::keys::{Given, Key, Range, Told};
use crate::math::sq;
use crate::refused::Refused;

/// Largest Grubbs ratio that chance alone allows, and the largest that is possible at all.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Grubbs {
    /// G beyond this is an odd reading at the level alpha.
    pub limit: f64,
    /// (n − 1)/√n, whatever the readings are.
    pub largest_possible: f64,
}

/// Limit of G = max|x − x̄|/s over `n` readings.
///
/// (n − 1)/√n √(t²/(n − 2 + t²)), t the Student value with n − 2 degrees of freedom that is exceeded with chance
/// alpha/(sides n). n ≥ 3; 0 < alpha < 1; sides 1 or 2.
/// Source: NIST/SEMATECH e-Handbook 1.3.5.17.1.
pub fn grubbs(n: u64, alpha: f64, sides: u64) -> Grubbs {
    let n = n as f64;
    let t = student_limit(alpha / (sides as f64 * n), n - 2.0);
    let largest_possible = (n - 1.0) / n.sqrt();
    // As 1/(1 + (n-2)/t²): t may be too large to be squared, and then the limit is all that is possible.
    Grubbs { limit: largest_possible / (1.0 + (n - 2.0) / sq(t)).sqrt(), largest_possible }
}

/// `quantile` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "quantile",
    help: "coverage factors and limits for odd readings",
    request: &[
        Key::word("of", &["student", "grubbs"], "which distribution").needed(),
        Key::number("dof", Range::over(0.0), "student: degrees of freedom, may be broken").default("needed with student"),
        Key::number("coverage", Range::over(0.0).under(1.0), "student: chance of a value within k").default("needed with student"),
        Key::whole("n", Range::at_least(3.0), "grubbs: number of readings").default("needed with grubbs"),
        Key::number("alpha", Range::over(0.0).under(1.0), "grubbs: chance of a false alarm").default("needed with grubbs"),
        Key::whole("sides", Range::within(1.0, 2.0), "grubbs: 1 looks at one end, 2 at both").default("needed with grubbs"),
    ],
    answer: &[
        Told { path: "k", help: "two-sided coverage factor (student)" },
        Told { path: "limit", help: "limit of G (only with grubbs)" },
        Told { path: "largest_possible", help: "(n - 1)/sqrt(n), the largest G there can be (only with grubbs)" },
    ],
    example: r#"{"of": "student", "dof": 16.66, "coverage": 0.95}"#,
    run: Some(answer),
};

#[derive(Serialize)]
struct Factor {
    k: f64,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct Limit {
    #[serde(flatten)]
    grubbs: Grubbs,
    warnings: Vec<String>,
}

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    if given.need_word("of")? == "student" { student(given, desk) } else { of_grubbs(given, desk) }
}

fn student(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let (dof, coverage) = (need(given, "dof")?, need(given, "coverage")?);
    let k = coverage_factor(coverage, dof);
    if !k.is_finite() {
        let allowed = "degrees of freedom for which k is under 1e300 (about 0.01 and more)";
        return Err(given.refuse("dof", allowed, "take more readings: so few tell nothing of the spread"));
    }
    desk.working.step(
        "coverage factor",
        "P(|t| < k) = coverage, t Student with dof",
        &[("dof", dof), ("coverage", coverage)],
        &[("k", k)],
        "JCGM 100:2008 G.3",
    );
    told(&Factor { k, warnings: idle(given, &["n", "alpha", "sides"], "a Student factor") })
}

fn of_grubbs(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let (n, alpha, sides) = (need(given, "n")?, need(given, "alpha")?, need(given, "sides")?);
    let grubbs = grubbs(n as u64, alpha, sides as u64);
    desk.working.step(
        "limit for the worst of n readings",
        "(n-1)/sqrt(n) sqrt(t^2/(n-2+t^2)), t exceeded with chance alpha/(sides n) at n-2 degrees of freedom",
        &[("n", n), ("alpha", alpha), ("sides", sides)],
        &[("limit", grubbs.limit), ("largest possible", grubbs.largest_possible)],
        "NIST/SEMATECH e-Handbook 1.3.5.17.1 (Grubbs 1969)",
    );
    told(&Limit { grubbs, warnings: idle(given, &["dof", "coverage"], "a Grubbs limit") })
}

fn need(given: &Given, name: &str) -> Result<f64, Refused> {
    let of = given.word_or("of", "");
    given.number(name).ok_or_else(|| given.refuse(name, format!("a number, with \"of\": \"{of}\""), format!("give {name}")))
}

fn idle(given: &Given, names: &[&str], what: &str) -> Vec<String> {
    names.iter().filter(|name| given.has(name)).map(|name| format!("{name} plays no part in {what}.")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::Alone;
    use serde_json::json;

    #[test]
    fn a_limit_never_passes_what_is_possible() {
        for n in [3, 4, 10, 1000, 1_000_000_000] {
            for alpha in [1e-12, 0.05, 0.9] {
                let found = grubbs(n, alpha, 2);
                assert!(found.limit > 0.0 && found.limit <= found.largest_possible, "{n} {alpha} {found:?}");
            }
        }
    }

    #[test]
    fn what_belongs_to_the_other_distribution_is_told_and_what_is_missing_refused() {
        let ask = |request| crate::compute::answer("quantile", &request, &Alone, false);
        let found = ask(json!({"of": "student", "dof": 3, "coverage": 0.95, "n": 4})).unwrap();
        assert_eq!(found["warnings"][0], "n plays no part in a Student factor.");
        assert_eq!(ask(json!({"of": "student", "dof": 3})).unwrap_err().key, "coverage");
        assert_eq!(ask(json!({"of": "student", "dof": 1e-4, "coverage": 0.95})).unwrap_err().key, "dof");
        assert_eq!(ask(json!({"of": "grubbs", "n": 3.5, "alpha": 0.05, "sides": 2})).unwrap_err().key, "n");
    }
}
