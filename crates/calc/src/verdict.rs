//! Does a measured value meet its limits, can it not meet them, or can this gauge not tell?
//!
//! Two rules side by side: by the chance that the true value is within the limits, and by a guard band beside each limit.
//! The limits themselves, and who bears the doubt in a contract, are left to others; the rule is said with every verdict.
//! Source: JCGM 106:2012 7 and 8.3, ISO 14253-1 (both from memory; figures of their examples computed again).

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::distributions::{coverage_factor, student_limit, student_over};
use crate::keys::{Given, Key, Range, Told};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::units::shown;

/// What can be said of a value and its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Decision {
    /// It is within its limits, with the wanted probability.
    #[serde(rename = "meets")]
    Meets,
    /// It is outside one limit, with the wanted probability.
    #[serde(rename = "does not meet")]
    DoesNotMeet,
    /// Neither, with this uncertainty.
    #[serde(rename = "cannot be told")]
    CannotBeTold,
}

impl Decision {
    /// The word of the verdict.
    pub fn word(self) -> &'static str {
        match self {
            Self::Meets => "meets",
            Self::DoesNotMeet => "does not meet",
            Self::CannotBeTold => "cannot be told",
        }
    }
}

/// A measured value against its limits, all in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// The value with its standard uncertainty, and degrees of freedom where these are finite.
    pub value: Quantity,
    /// Lower limit, where there is one.
    pub lower: Option<f64>,
    /// Upper limit, where there is one.
    pub upper: Option<f64>,
    /// The probability that a verdict needs, from 0.5 and under 1.
    pub probability: f64,
}

/// The verdict, and what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// By the chance within.
    pub verdict: Decision,
    /// By the guard band.
    pub by_guard_band: Decision,
    /// Chance that the true value is within the limits.
    pub chance_within: f64,
    /// Chance that it is below the lower limit; 0 without one.
    pub chance_below: f64,
    /// Chance that it is above the upper limit; 0 without one.
    pub chance_above: f64,
    /// g = z u, unit of the value.
    pub guard_band: f64,
    /// Whether some reading could meet with this uncertainty.
    pub capable: bool,
    /// Largest standard uncertainty at which this value would be told; none on a limit, and where any would do.
    pub u_needed: Option<f64>,
    /// The verdict in sentences.
    pub say: Vec<String>,
}

/// The verdict on a value: by probability, and by guard band.
///
/// - chance below a: F((a − y)/u), above b: F((y − b)/u), within: the rest; F normal, or Student where `dof` is finite.
/// - meets: chance within ≥ probability; does not meet: chance below or chance above ≥ probability; else it cannot be told.
/// - guard band g = z u, z the one-sided quantile: meets in [a + g, b − g], does not meet outside [a − g, b + g].
///
/// Refused: no u, no limit, lower not under upper.
/// Source: JCGM 106:2012 7, 8.3; ISO 14253-1.
pub fn verdict(question: &Question) -> Result<Verdict, Refused> {
    let asked = Asked::checked(question)?;
    let (below, above) = asked.chances(asked.y, asked.u);
    let within = asked.within(asked.y, asked.u);
    let p = asked.probability;
    let decision = if within >= p {
        Decision::Meets
    } else if below >= p || above >= p {
        Decision::DoesNotMeet
    } else {
        Decision::CannotBeTold
    };
    let guard_band = asked.factor * asked.u;
    if !guard_band.is_finite() {
        let allowed = "degrees of freedom for which the guard band is a finite number";
        return Err(Refused::new("value.dof", asked.dof, allowed, "take more readings"));
    }
    let mut verdict = Verdict {
        verdict: decision,
        by_guard_band: asked.by_guard_band(guard_band),
        chance_within: within,
        chance_below: below,
        chance_above: above,
        guard_band,
        capable: asked.u_at_middle().is_none_or(|largest| asked.u <= largest),
        u_needed: asked.u_needed(),
        say: Vec::new(),
    };
    verdict.say = asked.sentences(&verdict);
    Ok(verdict)
}

/// A question that was checked, with infinite limits where none was given.
struct Asked {
    y: f64,
    u: f64,
    dof: f64,
    a: f64,
    b: f64,
    probability: f64,
    /// One-sided quantile of the probability.
    factor: f64,
}

impl Asked {
    fn checked(question: &Question) -> Result<Self, Refused> {
        let Question { value, lower, upper, probability } = *question;
        if lower.is_none() && upper.is_none() {
            return Err(Refused::new("lower", "missing, and upper too", "one limit or both", "give the limits that the value has to meet"));
        }
        let (a, b) = (lower.unwrap_or(f64::NEG_INFINITY), upper.unwrap_or(f64::INFINITY));
        if a >= b {
            return Err(Refused::new("lower", a, format!("a number under upper, {b}"), "swap the limits, or read the drawing again"));
        }
        if value.u <= 0.0 {
            let remedy = "give the standard uncertainty of the value: without it nothing can be told";
            return Err(Refused::new("value", "without u", "{\"value\", \"u\"} with u over 0", remedy));
        }
        let dof = value.dof.unwrap_or(f64::INFINITY);
        let factor = student_limit(1.0 - probability, dof);
        Ok(Self { y: value.value, u: value.u, dof, a, b, probability, factor })
    }

    fn over(&self, t: f64) -> f64 {
        if t.is_infinite() { if t > 0.0 { 0.0 } else { 1.0 } } else { student_over(t, self.dof) }
    }

    /// Chances below a and above b.
    fn chances(&self, y: f64, u: f64) -> (f64, f64) {
        (self.over((y - self.a) / u), self.over((self.b - y) / u))
    }

    fn within(&self, y: f64, u: f64) -> f64 {
        let (below, above) = self.chances(y, u);
        // Far outside, the difference of two small tails on one side keeps its digits.
        if y < self.a {
            self.over((self.a - y) / u) - above
        } else if y > self.b {
            self.over((y - self.b) / u) - below
        } else {
            1.0 - below - above
        }
    }

    fn by_guard_band(&self, g: f64) -> Decision {
        let y = self.y;
        if y >= self.a + g && y <= self.b - g {
            Decision::Meets
        } else if y < self.a - g || y > self.b + g {
            Decision::DoesNotMeet
        } else {
            Decision::CannotBeTold
        }
    }

    /// The largest u at which the middle of the band still meets; none with one limit, where any u will do.
    fn u_at_middle(&self) -> Option<f64> {
        let half = 0.5 * (self.b - self.a);
        half.is_finite().then(|| half / coverage_factor(self.probability, self.dof))
    }

    /// The largest u at which the verdict on y would be *meets* or *does not meet*.
    fn u_needed(&self) -> Option<f64> {
        let inside = (self.y - self.a).min(self.b - self.y);
        let largest = match self.u_at_middle() {
            _ if inside == 0.0 => None,
            Some(most) if inside > 0.0 => Some(self.u_that_meets(inside, most)),
            // One limit: its own side, or the far side; outside a band only the near limit counts.
            _ => Some(inside.abs() / self.factor),
        };
        largest.filter(|u| u.is_finite())
    }

    /// Bisection for chance within = probability, which only falls as u grows.
    fn u_that_meets(&self, inside: f64, most: f64) -> f64 {
        const HALVINGS: u32 = 80;
        // Two tails as large as the near one are too much, the near one alone is too little.
        let (mut low, mut high) = (inside / coverage_factor(self.probability, self.dof), most.min(inside / self.factor));
        for _ in 0..HALVINGS {
            let u = 0.5 * (low + high);
            if self.within(self.y, u) >= self.probability { low = u } else { high = u }
        }
        low
    }

    fn sentences(&self, verdict: &Verdict) -> Vec<String> {
        let percent = trimmed(100.0 * self.probability);
        let (value, half) = shown(self.y, self.u);
        let two_digits = |x: f64| shown(x, x).1;
        let limits = match (self.a.is_finite(), self.b.is_finite()) {
            (true, true) => format!("{} to {}", self.a, self.b),
            (true, false) => format!("{} or more", self.a),
            _ => format!("{} or less", self.b),
        };
        let within = percent_of(verdict.chance_within);
        let mut say = vec![format!(
            "{value} (u {half}) against {limits}: {}. The chance that the true value is within is {within}.",
            verdict.verdict.word()
        )];
        if verdict.verdict == Decision::CannotBeTold {
            say.push(match verdict.u_needed {
                Some(u) => format!("It would be told with u of about {} or less; now u is {half}.", two_digits(u)),
                None => "The value is on a limit: no gauge could tell.".into(),
            });
        }
        if let Some(largest) = self.u_at_middle().filter(|_| !verdict.capable) {
            say.push(format!(
                "With this u no reading can pass, not even one in the middle of the band: it takes u of about {} or less.",
                two_digits(largest)
            ));
        }
        let guard = two_digits(verdict.guard_band);
        say.push(format!(
            "Rule: meets when the chance within is {percent} % or more, does not meet when the chance beyond one limit is {percent} % or more \
             (JCGM 106). By a guard band of {guard} (ISO 14253-1): {}.",
            verdict.by_guard_band.word()
        ));
        say.push("Who makes the part proves that it meets; who buys it proves that it does not (ISO 14253-1).".into());
        say
    }
}

/// A chance in words, never rounded up to certainty.
fn percent_of(chance: f64) -> String {
    match 100.0 * chance {
        p if p > 99.99 => "over 99.99 %".into(),
        p if p < 0.01 => "under 0.01 %".into(),
        p => format!("{p:.2} %"),
    }
}

fn trimmed(x: f64) -> String {
    format!("{x:.4}").trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// `verdict` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "verdict",
    help: "meets, does not meet, or cannot be told with this gauge",
    request: &[
        Key::quantity("value", Range::ANY, "the measured value with its standard uncertainty, as {\"value\", \"u\", \"dof\"}").needed(),
        Key::number("lower", Range::ANY, "lower limit, same unit").default("none"),
        Key::number("upper", Range::ANY, "upper limit, same unit").default("none"),
        Key::number("probability", Range::at_least(0.5).under(1.0), "the probability that a verdict needs").default("0.95"),
    ],
    answer: &[
        Told { path: "verdict", help: "meets, does not meet, cannot be told: by the chance within" },
        Told { path: "by_guard_band", help: "the same by a guard band beside each limit" },
        Told { path: "chance_within", help: "chance that the true value is within the limits" },
        Told { path: "chance_below", help: "chance that it is below the lower limit" },
        Told { path: "chance_above", help: "chance that it is above the upper limit" },
        Told { path: "guard_band", help: "one-sided quantile of the probability times u, unit of the value" },
        Told { path: "capable", help: "whether some reading could meet with this u" },
        Told {
            path: "u_needed",
            help: "largest u at which this value would be told; null when it is on a limit (or when any u will do, at a probability of 0.5)",
        },
        Told { path: "say", help: "the verdict, the rule and who carries the doubt, in sentences" },
    ],
    example: r#"{"value": {"value": 260.166, "u": 0.006, "dof": 14}, "lower": 260.158, "upper": 260.19}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let question = Question {
        value: given.need_quantity("value")?,
        lower: given.number("lower"),
        upper: given.number("upper"),
        probability: given.number_or("probability", 0.95),
    };
    let found = verdict(&question)?;
    let Quantity { value, u, dof, .. } = question.value;
    let mut with = vec![("y", value), ("u", u)];
    with.extend(dof.map(|dof| ("dof", dof)));
    with.extend(question.lower.map(|a| ("a", a)));
    with.extend(question.upper.map(|b| ("b", b)));
    let gives = [("below", found.chance_below), ("above", found.chance_above), ("within", found.chance_within)];
    let formula = "F((b - y)/u) - F((a - y)/u), F normal, or Student where dof is finite";
    desk.working.step("chance within the limits", formula, &with, &gives, "JCGM 106:2012 7");
    let with = [("probability", question.probability), ("u", u)];
    desk.working.step("guard band", "g = z_p u", &with, &[("g", found.guard_band)], "ISO 14253-1; JCGM 106:2012 8.3");
    if let Some(needed) = found.u_needed {
        desk.working.step(
            "largest u that tells",
            "chance within (or beyond the near limit) = probability",
            &with[..1],
            &[("u needed", needed)],
            "JCGM 106:2012 7",
        );
    }
    told(&found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(y: f64, u: f64, lower: Option<f64>, upper: Option<f64>) -> Verdict {
        verdict(&Question { value: Quantity::with_u(y, u), lower, upper, probability: 0.95 }).unwrap()
    }

    #[test]
    fn a_wide_uncertainty_never_condemns_a_part_in_the_middle() {
        let found = asked(10.0, 100.0, Some(9.0), Some(11.0));
        assert_eq!((found.verdict, found.by_guard_band, found.capable), (Decision::CannotBeTold, Decision::CannotBeTold, false));
        assert!(found.say.iter().any(|line| line.contains("no reading can pass")));
    }

    #[test]
    fn the_probability_rule_is_the_stricter_in_a_narrow_band() {
        // Both guard bands meet in the middle: one tail has 5 %, both have 10 %.
        let found = asked(10.0, 1.0, Some(10.0 - 1.644_854), Some(10.0 + 1.644_854));
        assert_eq!((found.by_guard_band, found.verdict), (Decision::Meets, Decision::CannotBeTold));
    }

    #[test]
    fn u_needed_is_where_the_verdict_turns() {
        for (y, lower, upper) in [
            (260.166, Some(260.158), Some(260.19)),
            (260.174, Some(260.158), Some(260.19)),
            (260.1, Some(260.158), Some(260.19)),
            (260.3, Some(260.158), Some(260.19)),
            (5.0, Some(4.0), None),
            (3.0, Some(4.0), None),
            (3.0, None, Some(4.0)),
        ] {
            for dof in [None, Some(7.5)] {
                let told = |u| {
                    let question = Question { value: Quantity { dof, ..Quantity::with_u(y, u) }, lower, upper, probability: 0.95 };
                    verdict(&question).unwrap()
                };
                let needed = told(1.0).u_needed.unwrap();
                assert_ne!(told(needed * (1.0 - 1e-9)).verdict, Decision::CannotBeTold, "{y}");
                assert_eq!(told(needed * (1.0 + 1e-9)).verdict, Decision::CannotBeTold, "{y}");
            }
        }
        assert_eq!(asked(4.0, 1.0, Some(4.0), None).u_needed, None);
    }

    #[test]
    fn a_tail_far_out_keeps_its_digits() {
        let found = asked(20.0, 1.0, Some(0.0), Some(10.0));
        assert!((found.chance_within / 7.619_853_024_160_527e-24 - 1.0).abs() < 1e-12, "{:e}", found.chance_within);
    }

    #[test]
    fn what_has_no_answer_is_refused_by_its_key() {
        let ask =
            |u, lower, upper| verdict(&Question { value: Quantity::with_u(1.0, u), lower, upper, probability: 0.95 }).unwrap_err().key;
        assert_eq!(ask(0.0, Some(0.0), None), "value");
        assert_eq!(ask(0.1, None, None), "lower");
        assert_eq!(ask(0.1, Some(2.0), Some(2.0)), "lower");
    }
}
