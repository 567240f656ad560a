//! Where in the band to aim a cut, when landing on one side costs a blank and on the other only one more cut (`aim`)?
//!
//! It leaves to others how sure the next cut is (`next-cut` finds that spread) and what the losses are in money: here only their
//! ratio counts. It takes the size after the cut as normal.

use serde::Serialize;
use serde_json::Value;

use super::plan::Side;
use crate::compute::{Desk, Kind, told};
use crate::distributions::normal_chance;
use crate::keys::{Given, Key, Range, Told};
use crate::math::{ln, sq};
use crate::refused::Refused;

/// Loss of the side that can't be put back over the loss of the side that can be cut again, where none is given. *Common practice*.
pub const USUAL_SCRAP_RATIO: f64 = 4.0;
/// Largest size, mm.
const LARGEST_MM: f64 = 1e5;

/// Where to aim, and what becomes of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Aim {
    /// The size to aim at, mm.
    pub aim_mm: f64,
    /// Chance that the cut lands between the limits.
    pub chance_in_band: f64,
    /// Chance that it lands under the lower limit.
    pub chance_under: f64,
    /// Chance that it lands over the upper limit.
    pub chance_over: f64,
}

/// The aim where the weighted densities at both limits are equal, so that moving it either way costs more.
///
/// Outside: `scrap_ratio φ((low − aim)/σ) = φ((high − aim)/σ)`, hence `aim = middle + σ² ln(scrap_ratio)/(high − low)`; a bore with −;
/// kept between the limits.
/// low_mm < high_mm: limits of the size, mm; sd_mm: σ, standard uncertainty of the size after the cut, mm, 0 or more;
/// scrap_ratio: loss of the side that can't be put back (outside: under; bore: over) over that of the other, over 0.
/// It refuses nothing (the kind `aim` does): without a band or with figures that give no shift it aims at the middle.
/// Source: minimum of the expected loss (decision theory; the derivative set to 0); the normal chance by its definition.
pub fn aim(side: Side, low_mm: f64, high_mm: f64, sd_mm: f64, scrap_ratio: f64) -> Aim {
    let shift_mm = sq(sd_mm) * ln(scrap_ratio) / (high_mm - low_mm);
    let shift_mm = if shift_mm.is_nan() { 0.0 } else { shift_mm };
    let middle_mm = low_mm + 0.5 * (high_mm - low_mm);
    let wished_mm = if side == Side::Outside { middle_mm + shift_mm } else { middle_mm - shift_mm };
    landing(wished_mm.max(low_mm).min(high_mm), low_mm, high_mm, sd_mm)
}

/// What becomes of a size that will be normal about `mean_mm` with `sd_mm`, between the limits. Source: the normal distribution.
///
/// With `sd_mm` of 0 it is what it is: a size on a limit is inside.
pub fn landing(mean_mm: f64, low_mm: f64, high_mm: f64, sd_mm: f64) -> Aim {
    let beyond = |by_mm: f64| if sd_mm > 0.0 { normal_chance(by_mm / sd_mm) } else { f64::from(u8::from(by_mm > 0.0)) };
    let (chance_under, chance_over) = (beyond(low_mm - mean_mm), beyond(mean_mm - high_mm));
    Aim { aim_mm: mean_mm, chance_in_band: (1.0 - chance_under - chance_over).max(0.0), chance_under, chance_over }
}

/// `aim` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "aim",
    help: "where in the band to aim when the two losses differ",
    request: &[
        Key::word("side", &["outside", "bore"], "which surface is cut").needed(),
        Key::number("lower_mm", Range::over(0.0).to(LARGEST_MM), "lower limit of the size").needed(),
        Key::number("upper_mm", Range::over(0.0).to(LARGEST_MM), "upper limit of the size").needed(),
        Key::number("sd_mm", Range::at_least(0.0).to(LARGEST_MM), "standard uncertainty of the size after the cut").needed(),
        Key::number("scrap_ratio", Range::over(0.0).to(1e9), "loss of the side that can't be put back over that of the other").default("4"),
    ],
    answer: &[
        Told { path: "aim_mm", help: "the size to aim at" },
        Told { path: "chance_in_band", help: "chance that the cut lands between the limits" },
        Told { path: "chance_under", help: "chance that it lands under the lower limit" },
        Told { path: "chance_over", help: "chance that it lands over the upper limit" },
    ],
    example: r#"{"side": "outside", "lower_mm": 240.118, "upper_mm": 240.147, "sd_mm": 0.006, "scrap_ratio": 4}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let side = if given.need_word("side")? == "outside" { Side::Outside } else { Side::Bore };
    let (low_mm, high_mm) = (given.need_number("lower_mm")?, given.need_number("upper_mm")?);
    if low_mm >= high_mm {
        return Err(given.refuse("lower_mm", format!("under upper_mm, {high_mm}"), "swap the limits, or correct one"));
    }
    let sd_mm = given.need_number("sd_mm")?;
    let scrap_ratio = given.number_or("scrap_ratio", USUAL_SCRAP_RATIO);
    let aim = aim(side, low_mm, high_mm, sd_mm, scrap_ratio);
    desk.working.step(
        "where the two losses balance",
        "aim = middle ± sd² ln(scrap_ratio)/(upper - lower), + outside, - bore, kept between the limits",
        &[("lower_mm", low_mm), ("upper_mm", high_mm), ("sd_mm", sd_mm), ("scrap_ratio", scrap_ratio)],
        &[("aim_mm", aim.aim_mm)],
        "minimum of the expected loss",
    );
    desk.working.step(
        "chances",
        "under = Φ((lower - aim)/sd); over = Φ((aim - upper)/sd); in band = 1 - under - over",
        &[("aim_mm", aim.aim_mm), ("sd_mm", sd_mm)],
        &[("chance_in_band", aim.chance_in_band), ("chance_under", aim.chance_under), ("chance_over", aim.chance_over)],
        "normal distribution",
    );
    let mut answer = told(&aim)?;
    if let Some(map) = answer.as_object_mut() {
        map.insert("warnings".into(), warnings(&aim, low_mm, high_mm).into());
    }
    Ok(answer)
}

fn warnings(aim: &Aim, low_mm: f64, high_mm: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    if aim.aim_mm == low_mm || aim.aim_mm == high_mm {
        warnings.push(
            "The balance of the losses lies beyond the band, so the aim stands on its limit: know the size better (read again) before this \
             cut, or take a further cut."
                .to_owned(),
        );
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_alike_aim_at_the_middle_and_unlike_ones_away_from_scrap() {
        assert!((aim(Side::Outside, 260.0, 260.032, 0.007, 1.0).aim_mm - 260.016).abs() < 1e-12);
        for (side, ratio, up) in
            [(Side::Outside, 4.0, true), (Side::Outside, 0.25, false), (Side::Bore, 4.0, false), (Side::Bore, 0.25, true)]
        {
            let off = aim(side, 260.0, 260.032, 0.007, ratio).aim_mm - 260.016;
            // By hand: 0.007² ln 4/0.032.
            assert!((off.abs() - 0.002_122_763_2).abs() < 1e-9 && (off > 0.0) == up, "{side:?} {ratio}: {off}");
        }
    }

    #[test]
    fn a_certain_cut_lands_and_a_hopeless_one_still_gets_an_answer() {
        let sure = aim(Side::Bore, 260.0, 260.032, 0.0, 4.0);
        assert!((sure.aim_mm - 260.016).abs() < 1e-12 && sure.chance_in_band == 1.0, "{sure:?}");
        let lost = aim(Side::Outside, 260.0, 260.032, 50.0, 1e9);
        assert_eq!(lost.aim_mm, 260.032);
        assert!(lost.chance_in_band < 1e-3 && (lost.chance_over - 0.5).abs() < 1e-12);
        for odd in [aim(Side::Outside, 1.0, 1.0, 0.0, 1.0), aim(Side::Bore, 1.0, 2.0, 0.1, -1.0)] {
            assert!(odd.aim_mm.is_finite() && odd.chance_in_band.is_finite(), "{odd:?}");
        }
    }

    #[test]
    fn a_size_on_its_limit_is_inside() {
        assert_eq!(landing(260.0, 260.0, 260.032, 0.0).chance_in_band, 1.0);
        assert_eq!(landing(260.033, 260.0, 260.032, 0.0).chance_over, 1.0);
    }
}
