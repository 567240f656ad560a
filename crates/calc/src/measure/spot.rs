//! A few readings of one place: their mean with its uncertainty, and whether one of them should be taken again (`spot`).
//!
//! The Grubbs test is shown, never used alone: two equal readings and any third give G = 1.1547, over its limit of 1.1543, whatever the
//! third is. Judged is the reading farthest from the mean, against the others, with the gauge's study pooled in.
//! Nothing is dropped here: that is a decision with a reason, and belongs to the record.

use serde::Serialize;
use serde_json::Value;

use super::prior::{ALPHA_LEVEL, Estimate, GaugePrior, is_slipped_digit, outlier_limit};
use crate::compute::{Desk, Kind, told};
use crate::distributions::student_quantile;
use crate::keys::{Given, Key, Range, Told};
use crate::math::sq;
use crate::refused::Refused;
use crate::units::shown;

/// Readings of one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// As read, 2 or more, mm.
    pub readings_mm: Vec<f64>,
    /// The gauge.
    pub gauge: GaugePrior,
    /// Chance of a false alarm on good readings, over all of them.
    pub alpha_level: f64,
}

/// What they say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpotAnswer {
    /// How many.
    pub n: usize,
    /// Mean of all.
    pub mean_mm: Estimate,
    /// Median of all, mm.
    pub median_mm: f64,
    /// Their own standard deviation, mm.
    pub sd_mm: f64,
    /// Which one is farthest from the mean, counted from 0 (the first of equals).
    pub suspect_index: usize,
    /// That reading, mm.
    pub suspect_mm: f64,
    /// Mean of the others, mm.
    pub mean_without_mm: f64,
    /// That reading less the mean of the others, mm.
    pub off_mm: f64,
    /// T, that distance by its own standard deviation; none without any freedom.
    pub pooled_t: Option<f64>,
    /// Limit of |T|; none without any freedom.
    pub pooled_t_limit: Option<f64>,
    /// Grubbs G = max|x − mean|/s; none when all readings are equal.
    #[serde(rename = "grubbs_G")]
    pub grubbs_G: Option<f64>,
    /// Its two-sided limit; none under three readings.
    pub grubbs_limit: Option<f64>,
    /// Whether that reading should be taken again.
    pub measure_again: bool,
    /// The same in words.
    pub say: String,
}

/// Mean of a few readings and the reading that should be taken again, if any.
///
/// u² = (Σ(x − x̄)² + ν₀s₀²)/(n − 1 + ν₀)/n, never under r²/12; dof n − 1 + ν₀.
/// Suspect x against the others x̄_o, s_o: v = max[((n−2)s_o² + ν₀s₀²)/(n−2+ν₀), r²/12], T = (x − x̄_o)/√(v(1 + 1/(n−1)));
/// measure again when |T| is over t at 1 − α/(2n) with n−2+ν₀, and the reading is two steps r or more from x̄_o.
/// Refused: fewer than two readings. Source: pooled t by Cook and Weisberg 1982 (memory); Grubbs by NIST/SEMATECH e-Handbook
/// 1.3.5.17 (read in quoted form); u by JCGM 100:2008 4.2 with a pooled variance.
pub fn spot(spot: &Spot) -> Result<SpotAnswer, Refused> {
    let (x, gauge) = (&spot.readings_mm, &spot.gauge);
    let n = x.len();
    if n < 2 {
        return Err(Refused::new("readings_mm", format!("{n} reading"), "2 readings or more", "read the place again"));
    }
    let count = n as f64;
    let mean = mean_of(x);
    let sum_squares = squares_about(x, mean);
    let sd = (sum_squares / (count - 1.0)).sqrt();
    let suspect_index = farthest(x, mean, gauge.resolution_mm);
    let suspect = x.get(suspect_index).copied().unwrap_or(mean);
    let others: Vec<f64> = x.iter().enumerate().filter(|(i, _)| *i != suspect_index).map(|(_, x)| *x).collect();
    let mean_without = mean_of(&others);
    let off = suspect - mean_without;
    // With nothing else known (n = 2, no study) there is no spread to judge by.
    let v = gauge.variance(squares_about(&others, mean_without), count - 2.0);
    let pooled_t = v.map(|v| off / (v * (1.0 + 1.0 / (count - 1.0))).sqrt());
    let pooled_t_limit = outlier_limit(n, count - 2.0 + gauge.dof, spot.alpha_level);
    let over = pooled_t.zip(pooled_t_limit).is_some_and(|(t, limit)| t.abs() > limit);
    // A millionth of a step: 0.02 is two steps of 0.01 whatever its last bit.
    let measure_again = over && off.abs() >= (2.0 - 1e-6) * gauge.resolution_mm;
    let u2 = gauge.pooled_variance(sum_squares, count - 1.0).unwrap_or(0.0) / count;
    let mean_mm = Estimate { value: mean, u: u2.max(gauge.least_variance()).sqrt(), dof: count - 1.0 + gauge.dof };
    let mut answer = SpotAnswer {
        n,
        mean_mm,
        median_mm: median_of(x),
        sd_mm: sd,
        suspect_index,
        suspect_mm: suspect,
        mean_without_mm: mean_without,
        off_mm: off,
        pooled_t,
        pooled_t_limit,
        grubbs_G: (sd > 0.0).then(|| (suspect - mean).abs() / sd),
        grubbs_limit: (n >= 3).then(|| grubbs_limit(count, spot.alpha_level)),
        measure_again,
        say: String::new(),
    };
    answer.say = say(&answer, v.unwrap_or(0.0).sqrt());
    Ok(answer)
}

/// Two-sided limit of Grubbs' G: (n−1)/√n · √(t²/(n−2+t²)), t at 1 − α/(2n) with n − 2.
fn grubbs_limit(n: f64, alpha: f64) -> f64 {
    let t2 = sq(student_quantile(1.0 - alpha / (2.0 * n), n - 2.0));
    // Written so that an endless t gives the largest possible G.
    (n - 1.0) / n.sqrt() / (1.0 + (n - 2.0) / t2).sqrt()
}

fn say(spot: &SpotAnswer, sd_without: f64) -> String {
    let U95 = spot.mean_mm.U95();
    let (mean, U) = shown(spot.mean_mm.value, U95);
    let head = format!("{mean} mm ± {U} (95 %), {} readings.", spot.n);
    if !spot.measure_again {
        let flagged = spot.grubbs_G.zip(spot.grubbs_limit).is_some_and(|(G, limit)| G > limit);
        let why = if spot.pooled_t.is_none() {
            " Two readings without a study of the gauge can't say which is right: take a third."
        } else if flagged {
            " No reading stands out: the bare Grubbs test flags one, but it is no further off than this gauge and its step explain."
        } else {
            " No reading stands out."
        };
        return head + why;
    }
    let (without, _) = shown(spot.mean_without_mm, U95);
    let (median, _) = shown(spot.median_mm, U95);
    let off = format!("{:.3}", spot.off_mm.abs());
    let slip = if is_slipped_digit(spot.off_mm, sd_without) { " This looks like a slipped digit." } else { "" };
    format!(
        "{head} Reading {} ({} mm) looks {off} mm off the others.{slip} Measure that place again, twice, before it is used or dropped: \
         mean with it {mean}, without it {without}, median {median} mm. Until then the wider uncertainty is used.",
        spot.suspect_index + 1,
        spot.suspect_mm
    )
}

/// Mean, by distances from the first reading, which keep their digits.
fn mean_of(x: &[f64]) -> f64 {
    let first = x.first().copied().unwrap_or(0.0);
    first + x.iter().map(|x| x - first).sum::<f64>() / x.len().max(1) as f64
}

fn squares_about(x: &[f64], mean: f64) -> f64 {
    x.iter().map(|x| sq(x - mean)).sum()
}

fn median_of(x: &[f64]) -> f64 {
    let mut sorted = x.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let at = |i: usize| sorted.get(i).copied().unwrap_or(0.0);
    if sorted.len().is_multiple_of(2) { 0.5 * (at(middle.saturating_sub(1)) + at(middle)) } else { at(middle) }
}

/// Index of the reading farthest from the mean; of readings that are as far within a millionth of a step, the first.
fn farthest(x: &[f64], mean: f64, resolution_mm: f64) -> usize {
    let mut worst = (0, 0.0);
    for (i, x) in x.iter().enumerate() {
        let distance = (x - mean).abs();
        if distance > worst.1 + 1e-6 * resolution_mm {
            worst = (i, distance);
        }
    }
    worst.0
}

/// `spot` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "spot",
    help: "a few readings of one place",
    request: &[
        Key::numbers("readings_mm", Range::over(0.0).to(1e5), "the readings, 2 or more").needed(),
        GaugePrior::KEYS[0],
        GaugePrior::KEYS[1],
        GaugePrior::KEYS[2],
        Key::number("alpha_level", ALPHA_LEVEL, "chance of a false alarm, over all readings").default("0.05"),
    ],
    answer: &[
        Told { path: "n", help: "how many readings" },
        Told { path: "mean_mm", help: "mean of all with u and dof" },
        Told { path: "median_mm", help: "median of all" },
        Told { path: "sd_mm", help: "their own standard deviation" },
        Told { path: "suspect_index", help: "which is farthest from the mean, counted from 0" },
        Told { path: "suspect_mm", help: "that reading" },
        Told { path: "mean_without_mm", help: "mean of the others" },
        Told { path: "off_mm", help: "that reading less the mean of the others" },
        Told { path: "pooled_t", help: "the same by its standard deviation; null for two readings without a study" },
        Told { path: "pooled_t_limit", help: "its limit; null likewise" },
        Told { path: "grubbs_G", help: "Grubbs' G, for information; null when all are equal" },
        Told { path: "grubbs_limit", help: "its two-sided limit; null under three readings" },
        Told { path: "measure_again", help: "whether that reading should be taken again" },
        Told { path: "say", help: "the same in words" },
    ],
    example: r#"{"readings_mm": [280.021, 280.024, 280.022, 280.071]}"#,
    run: Some(answer_spot),
};

fn answer_spot(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = Spot {
        readings_mm: given.numbers("readings_mm"),
        gauge: GaugePrior::read(given),
        alpha_level: given.number_or("alpha_level", 0.05),
    };
    let answer = spot(&request)?;
    let gauge = request.gauge;
    desk.working.step(
        "mean and its uncertainty",
        "u^2 = max[(sum (x - mean)^2 + nu0 s0^2)/(n - 1 + nu0)/n, r^2/12]",
        &[("n", answer.n as f64), ("s0 mm", gauge.repeatability_mm), ("nu0", gauge.dof), ("r mm", gauge.resolution_mm)],
        &[("mean mm", answer.mean_mm.value), ("u mm", answer.mean_mm.u)],
        "JCGM 100:2008 4.2, variance pooled with the gauge study",
    );
    if let Some((t, limit)) = answer.pooled_t.zip(answer.pooled_t_limit) {
        desk.working.step(
            "the reading farthest from the mean",
            "T = (x - mean_o)/sqrt(v (1 + 1/(n - 1))), v = max[((n-2) s_o^2 + nu0 s0^2)/(n-2+nu0), r^2/12]",
            &[("x mm", answer.suspect_mm), ("mean_o mm", answer.mean_without_mm)],
            &[("T", t), ("limit", limit)],
            "Cook and Weisberg 1982 (memory)",
        );
    }
    told(&answer)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAUGE: GaugePrior = GaugePrior { resolution_mm: 0.01, repeatability_mm: 0.006, dof: 20.0 };

    fn of(readings_mm: &[f64], gauge: GaugePrior) -> SpotAnswer {
        spot(&Spot { readings_mm: readings_mm.to_vec(), gauge, alpha_level: 0.05 }).unwrap()
    }

    #[test]
    fn two_equal_and_a_third_one_step_off_is_no_reason_to_measure_again() {
        let answer = of(&[250.01, 250.01, 250.02], GAUGE);
        assert!(answer.grubbs_G > answer.grubbs_limit && !answer.measure_again);
        assert!(answer.say.contains("bare Grubbs test"), "{}", answer.say);
    }

    #[test]
    fn one_step_is_never_a_reason_however_well_the_gauge_repeats() {
        let steady = GaugePrior { repeatability_mm: 0.0005, dof: 60.0, ..GAUGE };
        let one_step = of(&[250.01, 250.01, 250.01, 250.01, 250.01, 250.01, 250.02], steady);
        assert!(one_step.pooled_t > one_step.pooled_t_limit && !one_step.measure_again);
        assert!(of(&[250.01, 250.01, 250.01, 250.01, 250.01, 250.01, 250.03], steady).measure_again);
    }

    #[test]
    fn two_readings_are_judged_by_the_study_alone() {
        assert!(of(&[250.0, 250.08], GAUGE).measure_again);
        assert!(!of(&[250.0, 250.01], GAUGE).measure_again);
        let blind = of(&[250.0, 250.08], GaugePrior { dof: 0.0, ..GAUGE });
        assert_eq!((blind.pooled_t, blind.measure_again), (None, false));
        assert!(blind.say.contains("take a third"));
    }

    #[test]
    fn equal_readings_are_known_to_their_step_and_no_better() {
        let answer = of(&[250.0; 40], GaugePrior { repeatability_mm: 0.0, ..GAUGE });
        assert_eq!(answer.grubbs_G, None);
        assert!((answer.mean_mm.u - 0.01 / 12_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_slipped_digit_is_called_so() {
        for readings in [[250.01, 250.01, 250.0, 275.0], [250.01, 250.01, 250.0, 250.51]] {
            assert!(of(&readings, GAUGE).say.contains("slipped digit"));
        }
        assert!(!of(&[250.01, 250.01, 250.0, 250.2], GAUGE).say.contains("slipped digit"));
    }

    #[test]
    fn one_reading_is_refused() {
        let one = Spot { readings_mm: vec![250.0], gauge: GAUGE, alpha_level: 0.05 };
        assert_eq!(spot(&one).unwrap_err().key, "readings_mm");
    }
}
