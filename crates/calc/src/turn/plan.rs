//! Turning: the plan of the cuts for the job sheet, in closed form, and what the micrometer will show on a warm part.
//!
//! Equal cuts: deflection and spring-back leave an error that depends on depth, and when the next cut is as deep as the last, the last
//! reading has already shown it. The plan says where each cut should land at 20 °C and what to read for that at each temperature.
//! It leaves to others: what a reading between the cuts teaches of the lathe (the plan is fixed beforehand and knows no reading),
//! and where in the band to aim when the two losses differ (it takes the middle, and each cut's target can be moved as a whole).

use serde::Serialize;

use crate::measure::to_20::{COLDEST_C, HOTTEST_C, LARGEST_ALPHA, reading_from_size};
use crate::refused::Refused;

/// Cuts of a plan: a first one that shows the lathe, and as many as a person will make.
const MOST_CUTS: u32 = 20;
/// A radial depth thinner than this rubs and does not cut, mm. Source: common practice; key `least_depth_mm` of the turning page.
pub const LEAST_DEPTH_MM: f64 = 0.03;
/// Diametral depths in which equal cuts were tried, mm: deeper is not better for its own sake. Source: the turning page, 0.3 to 0.7.
pub const USUAL_DEPTH_MM: std::ops::RangeInclusive<f64> = 0.3..=0.7;
/// Largest size, mm.
const LARGEST_MM: f64 = 1e5;

/// Which surface is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// An outside, which gets smaller.
    Outside,
    /// A bore, which gets larger.
    Bore,
}

/// What is to be cut, from where, and how it will be read.
#[derive(Clone, Debug, PartialEq)]
pub struct CutPlan {
    /// Size before the first cut, at 20 °C, mm.
    pub from_mm: f64,
    /// Lower limit of the finished size, at 20 °C, mm.
    pub low_mm: f64,
    /// Upper limit of the finished size, at 20 °C, mm.
    pub high_mm: f64,
    /// How many cuts, 1 to 20; 3 where nothing speaks against it.
    pub cuts: u32,
    /// Mean expansion of the part, per K.
    pub part_alpha_per_K: f64,
    /// Mean expansion of the gauge or of the standard that it was set to, per K.
    pub gauge_alpha_per_K: f64,
    /// Temperature of the gauge, °C.
    pub gauge_T_C: f64,
    /// Temperatures of the part for which readings are wanted, °C.
    pub part_T_C: Vec<f64>,
}

/// The cuts, and what to read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// Outside when the start is over the band, bore when it is under.
    pub side: Side,
    /// Where the last cut should land at 20 °C: the middle of the band, mm.
    pub aim_mm: f64,
    /// Diametral depth of each cut, mm.
    pub depth_mm: f64,
    /// The cuts, in order.
    pub cuts: Vec<Cut>,
    /// What the gauge shows at the ends of the band, one row a temperature.
    pub band: Vec<WarmBand>,
    /// What should be known before the first cut.
    pub warnings: Vec<String>,
}

/// One cut.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cut {
    /// Its number, from 1.
    pub number: u32,
    /// What it takes off, on diameter, mm.
    pub depth_mm: f64,
    /// Size after it, at 20 °C, mm.
    pub target_mm: f64,
    /// What the gauge shows for that size, one a temperature of the plan, mm.
    pub reads_mm: Vec<f64>,
}

/// What the gauge shows on a part of one temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WarmBand {
    /// Temperature of the part, °C.
    pub part_T_C: f64,
    /// For the lower limit, mm.
    pub low_reads_mm: f64,
    /// For the aim, mm.
    pub aim_reads_mm: f64,
    /// For the upper limit, mm.
    pub high_reads_mm: f64,
}

/// Equal cuts from `from_mm` to the middle of the band, and the warm readings for each.
///
/// Depth on diameter |from − aim|/cuts; target after cut j: from ∓ j·depth (− outside, + bore);
/// reading of a size D: `R = D (1 + α_p(T_p − 20))/(1 + α_g(T_g − 20))`, the inverse of `to-20` without a correction of the gauge.
/// Ranges: sizes over 0 mm, low < high, 1 to 20 cuts, |α| ≤ 1e-4 per K, T −200 to 300 °C.
/// Refused: a start inside the band (nothing is to be cut), and what is out of range. A start that is nearer to the band than a cut
/// needs is answered with a warning. Source: plane geometry; ISO 1; equal cuts by the turning page (computed there by two programs).
pub fn plan(request: &CutPlan) -> Result<Plan, Refused> {
    check(request)?;
    let CutPlan { from_mm, low_mm, high_mm, cuts, .. } = *request;
    let side = if from_mm > high_mm { Side::Outside } else { Side::Bore };
    let aim_mm = low_mm + 0.5 * (high_mm - low_mm);
    let depth_mm = (from_mm - aim_mm).abs() / f64::from(cuts);
    let reads = |size_mm: f64, part_T_C: f64| {
        reading_from_size(size_mm, request.part_alpha_per_K, part_T_C, request.gauge_alpha_per_K, request.gauge_T_C)
    };
    let cut = |number: u32| {
        // Counted back from the aim, so that the last cut lands on it to the last bit.
        let left_mm = depth_mm * f64::from(cuts - number);
        let target_mm = if side == Side::Outside { aim_mm + left_mm } else { aim_mm - left_mm };
        Cut { number, depth_mm, target_mm, reads_mm: request.part_T_C.iter().map(|T_C| reads(target_mm, *T_C)).collect() }
    };
    let band = |part_T_C: f64| WarmBand {
        part_T_C,
        low_reads_mm: reads(low_mm, part_T_C),
        aim_reads_mm: reads(aim_mm, part_T_C),
        high_reads_mm: reads(high_mm, part_T_C),
    };
    Ok(Plan {
        side,
        aim_mm,
        depth_mm,
        cuts: (1..=cuts).map(cut).collect(),
        band: request.part_T_C.iter().map(|T_C| band(*T_C)).collect(),
        warnings: warnings(cuts, depth_mm),
    })
}

fn check(request: &CutPlan) -> Result<(), Refused> {
    let CutPlan { from_mm, low_mm, high_mm, cuts, .. } = *request;
    for (key, size) in [("from_mm", from_mm), ("low_mm", low_mm), ("high_mm", high_mm)] {
        if !(size > 0.0 && size <= LARGEST_MM) {
            return Err(Refused::new(key, size, format!("over 0 to {LARGEST_MM} mm"), "give the diameter at 20 °C"));
        }
    }
    if low_mm >= high_mm {
        return Err(Refused::new("low_mm", low_mm, format!("under high_mm, {high_mm}"), "swap the limits, or correct one"));
    }
    if (low_mm..=high_mm).contains(&from_mm) {
        let allowed = format!("over {high_mm} for an outside, under {low_mm} for a bore");
        return Err(Refused::new("from_mm", from_mm, allowed, "leave it uncut: the part is inside its band already"));
    }
    if !(1..=MOST_CUTS).contains(&cuts) {
        return Err(Refused::new("cuts", cuts, format!("1 to {MOST_CUTS}"), "take 3 where nothing speaks against it"));
    }
    for (key, alpha) in [("part_alpha_per_K", request.part_alpha_per_K), ("gauge_alpha_per_K", request.gauge_alpha_per_K)] {
        if alpha.is_nan() || alpha.abs() > LARGEST_ALPHA {
            let allowed = format!("-{LARGEST_ALPHA:e} to {LARGEST_ALPHA:e} per K");
            return Err(Refused::new(key, alpha, allowed, "give it per K, as 18e-6 and not as 18"));
        }
    }
    let part = request.part_T_C.iter().enumerate().map(|(i, T_C)| (format!("part_T_C.{i}"), *T_C));
    for (key, T_C) in part.chain([("gauge_T_C".to_owned(), request.gauge_T_C)]) {
        if !(COLDEST_C..=HOTTEST_C).contains(&T_C) {
            return Err(Refused::new(key, T_C, format!("{COLDEST_C} to {HOTTEST_C} °C"), "give a temperature at which it is read"));
        }
    }
    Ok(())
}

fn warnings(cuts: u32, depth_mm: f64) -> Vec<String> {
    let mut warnings = vec![
        "Stop and lock the spindle and draw the tool clear before a gauge goes near; no gloves or sleeves near the turning part; chips \
         are sharp and hot. The person at the lathe decides."
            .to_owned(),
    ];
    let (least, most) = (*USUAL_DEPTH_MM.start(), *USUAL_DEPTH_MM.end());
    if depth_mm < 2.0 * LEAST_DEPTH_MM {
        warnings.push(format!(
            "Cuts of {depth_mm:.3} mm on diameter are thinner than {:.2} mm: the tool rubs and does not cut; take fewer cuts.",
            2.0 * LEAST_DEPTH_MM
        ));
    } else if depth_mm < least {
        warnings.push(format!("Cuts of {depth_mm:.3} mm on diameter are thinner than the usual {least} to {most} mm of equal last cuts."));
    } else if depth_mm > most {
        warnings.push(format!(
            "Cuts of {depth_mm:.3} mm on diameter are deeper than the usual {least} to {most} mm: rough first, and plan the last cuts only."
        ));
    }
    if cuts == 1 {
        warnings.push("A single cut lands where deflection and spring-back leave it: no cut as deep has shown that before.".into());
    }
    warnings
}

/// Depth of each of the equal last cuts on the diameter, mm. Source: 0.3 to 0.7 mm of diameter each, *common practice*.
pub const LAST_CUT_MM: f64 = 0.5;

/// Size to rough the outside to, so that `cuts` equal last cuts of [`LAST_CUT_MM`] end in the middle of the band, mm at 20 °C.
pub fn rough_outside_mm(band: crate::band::Band, cuts: u32) -> f64 {
    band.middle_mm() + f64::from(cuts) * LAST_CUT_MM
}

/// A part that is `over_K` warmer than the room, °C.
pub fn warmer(room_C: f64, over_K: f64) -> f64 {
    room_C + over_K
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bush() -> CutPlan {
        CutPlan {
            from_mm: 281.518,
            low_mm: 280.0,
            high_mm: 280.036,
            cuts: 3,
            part_alpha_per_K: 18e-6,
            gauge_alpha_per_K: 11.5e-6,
            gauge_T_C: 22.0,
            part_T_C: vec![20.0, 40.0],
        }
    }

    fn near(x: f64, y: f64) {
        assert!((x - y).abs() < 1e-9, "{x}, wanted {y}");
    }

    #[test]
    fn three_equal_cuts_land_in_the_middle_of_the_band() {
        let plan = plan(&bush()).unwrap();
        assert_eq!(plan.side, Side::Outside);
        near(plan.depth_mm, 0.5);
        for (cut, target) in plan.cuts.iter().zip([281.018, 280.518, 280.018]) {
            near(cut.target_mm, target);
        }
        assert_eq!(plan.cuts[2].target_mm, plan.aim_mm);
    }

    #[test]
    fn a_warm_part_reads_large_by_both_expansions() {
        let plan = plan(&bush()).unwrap();
        // By hand: 280.018 (1 + 18e-6 × 20)/(1 + 11.5e-6 × 2).
        near(plan.cuts[2].reads_mm[1], 280.018 * 1.000_36 / 1.000_023);
        near(plan.band[1].low_reads_mm, 280.0 * 1.000_36 / 1.000_023);
        near(plan.band[1].high_reads_mm, 280.036 * 1.000_36 / 1.000_023);
        assert!(plan.cuts[2].reads_mm[0] < plan.aim_mm, "a warm gauge reads small on a cold part");
    }

    #[test]
    fn a_bore_grows_by_the_same_depths() {
        let bore = CutPlan { from_mm: 278.518, ..bush() };
        let plan = plan(&bore).unwrap();
        assert_eq!(plan.side, Side::Bore);
        for (cut, target) in plan.cuts.iter().zip([279.018, 279.518, 280.018]) {
            near(cut.target_mm, target);
        }
    }

    #[test]
    fn depths_that_are_not_usual_are_said_and_the_caution_comes_first() {
        let says = |from_mm: f64, word: &str| plan(&CutPlan { from_mm, ..bush() }).unwrap().warnings.iter().any(|text| text.contains(word));
        assert!(says(280.1, "rubs") && says(280.6, "thinner than the usual") && says(284.0, "deeper"));
        let usual = plan(&bush()).unwrap().warnings;
        assert!(usual.len() == 1 && usual[0].starts_with("Stop and lock"), "{usual:?}");
    }

    #[test]
    fn what_can_not_be_planned_is_refused_by_its_key() {
        for (request, key) in [
            (CutPlan { from_mm: 280.02, ..bush() }, "from_mm"),
            (CutPlan { from_mm: f64::NAN, ..bush() }, "from_mm"),
            (CutPlan { low_mm: 280.036, ..bush() }, "low_mm"),
            (CutPlan { cuts: 0, ..bush() }, "cuts"),
            (CutPlan { cuts: 21, ..bush() }, "cuts"),
            (CutPlan { part_alpha_per_K: 18.0, ..bush() }, "part_alpha_per_K"),
            (CutPlan { gauge_T_C: -300.0, ..bush() }, "gauge_T_C"),
            (CutPlan { part_T_C: vec![20.0, 400.0], ..bush() }, "part_T_C.1"),
        ] {
            assert_eq!(plan(&request).unwrap_err().key, key);
        }
    }
}
