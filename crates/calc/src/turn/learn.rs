//! What a lathe teaches: where the belief about its habits starts at the next part, from what finished parts have shown.
//!
//! After each finished part six habits are kept with their final mean and variance: heat, how fast the part cools, deflection, spring-back,
//! wear of the tool, and where the first cut of a set-up lands. The usual belief counts as much as three parts, so that one odd part
//! moves it by a quarter; only the last twenty parts of one lathe and one kind of work (outside or bore) count, since lathes change.
//! It leaves to others: what one part has shown (`next-cut`), which parts belong to which lathe, and the knowledge about gauge,
//! thermometer and metal, which are no habits of a lathe. The offset of a set-up is drawn anew at each: its mean and its spread are
//! learned, never its value.

use serde::Serialize;

use super::model::Normal;
use crate::math;
use crate::quantity::Quantity;

/// How many parts the usual belief counts as much as. Source: the turning method, section e, *common practice*.
pub const WORTH_PARTS: u32 = 3;
/// Only so many of the last parts count. Source: the turning method, section e, *common practice*.
pub const LAST_PARTS: usize = 20;

/// Where the belief starts at the next part.
///
/// `m = (3 m₀ + Σx)/(3 + n)`, variance `(3 s₀² + Σ((x − m)² + v))/(3 + n)`: m₀, s₀ the usual mean and standard deviation (`default`),
/// x and v the final mean and variance of each finished part, n how many (the last 20). v must be in it: the means alone would narrow
/// what no part could tell (deflection and spring-back while cuts are equal), and the next unequal cut would then be claimed too well.
/// Units are those of the habit. Parts that are not finite numbers teach nothing and are left out. Without parts it is the usual belief.
/// Source: the turning method, section e (a mean and a spread pooled with a prior that is worth three parts; computed there on 200
/// simulated lathes).
pub fn next_start(default: Normal, finished: &[Normal]) -> Normal {
    let told: Vec<&Normal> = finished.iter().filter(|part| part.mean.is_finite() && part.sd.is_finite()).collect();
    let last = told.get(told.len().saturating_sub(LAST_PARTS)..).unwrap_or_default();
    if last.is_empty() {
        return default;
    }
    let worth = f64::from(WORTH_PARTS);
    // At most twenty: exact in a double.
    let n = last.len() as f64;
    let mean = (worth * default.mean + last.iter().map(|part| part.mean).sum::<f64>()) / (worth + n);
    let spread = |part: &&Normal| math::sq(part.mean - mean) + math::sq(part.sd);
    let variance = (worth * math::sq(default.sd) + last.iter().map(spread).sum::<f64>()) / (worth + n);
    Normal { mean, sd: variance.sqrt() }
}

/// How many of `parts` count: the last [`LAST_PARTS`].
pub fn counted(parts: usize) -> usize {
    parts.min(LAST_PARTS)
}

/// A habit of a lathe that is learned from part to part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Habit {
    /// Heat into the part: K for each mm of radial depth.
    Heat,
    /// How fast the part takes the temperature of the air: its time constant, learned as a logarithm.
    Cooling,
    /// Change of the diameter for each mm of radial depth, since tool and part give way.
    Deflection,
    /// What the part springs back after the cut, mm on the diameter.
    SpringBack,
    /// What the tool loses at each cut, mm on the diameter.
    Wear,
    /// How much larger than its command the first cut of a set-up lands, mm on the diameter.
    Offset,
}

impl Habit {
    /// All of them, in the order in which they are worth knowing (heat and cooling first).
    pub const ALL: [Self; 6] = [Self::Heat, Self::Cooling, Self::Deflection, Self::SpringBack, Self::Wear, Self::Offset];

    /// The usual belief in the scale in which it is learned (cooling: logarithm of seconds).
    /// Source: the turning method, section b, *common practice* put into numbers.
    pub fn usual(self) -> Normal {
        let even = |mean: f64, width: f64| Normal { mean, sd: width / 12.0_f64.sqrt() };
        match self {
            Self::Heat => even(3.0, 4.0),
            Self::Cooling => Normal { mean: math::ln(USUAL_TAU_S), sd: 0.3 },
            Self::Deflection => even(0.025, 0.030),
            Self::SpringBack => even(0.005, 0.006),
            Self::Wear => Normal { mean: 0.001, sd: 0.001 },
            Self::Offset => Normal { mean: 0.0, sd: 0.030 },
        }
    }

    /// What is learned from a figure of an answer (`value`, `u` as `next-cut` gives them): of a time constant its logarithm, u(ln τ) = u/τ.
    pub fn taught(self, value: f64, u: f64) -> Normal {
        match self {
            Self::Cooling => Normal { mean: math::ln(value), sd: u / value },
            _ => Normal { mean: value, sd: u },
        }
    }

    /// The belief as a person reads it, a time constant in seconds (with its u in seconds, u(τ) = τ u(ln τ)).
    pub fn shown(self, belief: Normal) -> Quantity {
        match self {
            Self::Cooling => {
                let tau_s = math::exp(belief.mean);
                Quantity::with_u(tau_s, tau_s * belief.sd)
            }
            _ => belief.quantity(),
        }
    }
}

/// The usual time constant of a bush in air, s. Source: the turning method, section b, key `tau_s`; *common practice*.
const USUAL_TAU_S: f64 = 2400.0;

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: Normal = Normal { mean: 3.0, sd: 1.0 };

    fn near(x: f64, y: f64) {
        assert!((x - y).abs() < 1e-12, "{x}, wanted {y}");
    }

    #[test]
    fn parts_are_pooled_with_a_belief_that_is_worth_three() {
        // By hand: m = (3·3 + 5)/4 = 3.5; variance = (3·1 + 1.5² + 0.2²)/4; and so on.
        for (finished, mean, variance, source) in [
            (vec![], 3.0, 1.0, "nothing learned is the usual belief"),
            (vec![Normal { mean: 5.0, sd: 0.2 }], 3.5, (3.0 + 2.25 + 0.04) / 4.0, "by hand"),
            (vec![Normal { mean: 3.0, sd: 1.0 }; 5], 3.0, 1.0, "what no part could tell stays as wide as it was"),
            (
                vec![Normal { mean: 4.0, sd: 0.0 }, Normal { mean: 5.0, sd: 0.5 }, Normal { mean: 6.0, sd: 0.0 }],
                4.0,
                (3.0 + 0.0 + 1.0 + 0.25 + 4.0) / 6.0,
                "by hand",
            ),
        ] {
            let next = next_start(USUAL, &finished);
            near(next.mean, mean);
            assert!((next.sd * next.sd - variance).abs() < 1e-12, "{source}: {next:?}");
        }
    }

    #[test]
    fn only_the_last_twenty_parts_count() {
        let mut finished = vec![Normal { mean: 100.0, sd: 0.0 }; 7];
        finished.extend([Normal { mean: 3.0, sd: 0.0 }; 20]);
        near(next_start(USUAL, &finished).mean, 3.0);
        near(next_start(USUAL, &finished).sd, (3.0_f64 / 23.0).sqrt());
        assert_eq!((counted(4), counted(27)), (4, 20));
    }

    #[test]
    fn more_parts_that_agree_narrow_the_belief_and_never_below_what_they_know() {
        let mut before = USUAL.sd;
        for n in 1..=20 {
            let next = next_start(USUAL, &vec![Normal { mean: 3.0, sd: 0.4 }; n]);
            assert!(next.sd < before && next.sd > 0.4, "{n}: {next:?}");
            before = next.sd;
        }
    }

    #[test]
    fn a_part_that_is_no_number_teaches_nothing() {
        let odd = [Normal { mean: f64::NAN, sd: 1.0 }, Normal { mean: 1.0, sd: f64::INFINITY }];
        assert_eq!(next_start(USUAL, &odd), USUAL);
    }

    #[test]
    fn a_time_constant_is_learned_as_a_logarithm_and_read_in_seconds() {
        let taught = Habit::Cooling.taught(2400.0, 480.0);
        near(taught.mean, math::ln(2400.0));
        near(taught.sd, 0.2);
        let back = Habit::Cooling.shown(taught);
        assert!((back.value - 2400.0).abs() < 1e-9 && (back.u - 480.0).abs() < 1e-9, "{back:?}");
        assert_eq!(Habit::Heat.taught(3.0, 0.5), Normal { mean: 3.0, sd: 0.5 });
    }
}
