//! A part before its first cut, and the small sums of a dialogue at the lathe: what is known of a bore after pressing, a reading with the
//! gauge's correction, the mean of a set, the price of a minute.
//!
//! It leaves to others: what the cuts then show (`next-cut`), and the plan of them (`plan`).

use super::plan::LEAST_DEPTH_MM;
use crate::math;
use crate::quantity::Quantity;

/// How well a turned size is known before the first cut, when it was read in passing, mm. Source: the turning method, section b, `start_mm`.
pub const ROUGH_U_MM: f64 = 0.05;
/// How well it is known when nobody read it and the size of the plan is taken, mm. *Common practice*: roughing to within a millimetre.
pub const PLANNED_U_MM: f64 = 0.5;

/// A bore after pressing, mm: what it was made to, less what it closes in (`close_in_um`, µm, with its doubt).
///
/// `d = bore − close_in`, u² = u_rough² + u_close². Source: plane geometry; JCGM 100:2008 5.1.2.
pub fn bore_after_pressing(bore_mm: f64, close_in_um: Quantity) -> Quantity {
    let u = (math::sq(ROUGH_U_MM) + math::sq(close_in_um.u / 1e3)).sqrt();
    Quantity::with_u(bore_mm - close_in_um.value / 1e3, u)
}

/// A reading with what the certificate says to add, mm.
pub fn corrected(reading_mm: f64, correction_mm: f64) -> f64 {
    reading_mm + correction_mm
}

/// Mean of readings of one set; none of an empty one.
pub fn mean(readings: &[f64]) -> Option<f64> {
    // A set of a person's readings: exact in a double.
    (!readings.is_empty()).then(|| readings.iter().sum::<f64>() / readings.len() as f64)
}

/// Times since the first of several things, each so many seconds after the one before.
pub fn times(after_s: &[f64]) -> Vec<f64> {
    let mut since = 0.0;
    let add = |(index, after): (usize, &f64)| {
        since += if index > 0 { *after } else { 0.0 };
        since
    };
    after_s.iter().enumerate().map(add).collect()
}

/// Growth of a diameter for a kelvin, mm, as a gauge that stays at the air's temperature shows it: α D.
pub fn growth_mm_per_K(diameter_mm: f64, alpha_per_K: f64) -> f64 {
    alpha_per_K * diameter_mm
}

/// Price of a minute, from that of an hour.
pub fn per_minute(rate_per_h: f64) -> f64 {
    rate_per_h / 60.0
}

/// Price of the blank of one piece, from that of the batch.
pub fn per_piece(net_cost: f64, pieces: u32) -> f64 {
    net_cost / f64::from(pieces.max(1))
}

/// Whether a cut that takes `depth_mm` off the diameter cleans up a part that runs out by `swing_mm` (whole swing of the indicator): half of
/// it, on the radius, deeper than half the swing. Source: plane geometry; the turning method, section c.
pub fn cleans_up(depth_mm: f64, swing_mm: f64) -> bool {
    depth_mm > swing_mm
}

/// Whether a cut that takes `depth_mm` off the diameter cuts and does not rub: twice [`LEAST_DEPTH_MM`] or more.
pub fn cuts(depth_mm: f64) -> bool {
    depth_mm >= 2.0 * LEAST_DEPTH_MM
}

/// How far a command lies from the one that was advised, mm.
pub fn apart_mm(command_mm: f64, advised_mm: f64) -> f64 {
    (command_mm - advised_mm).abs()
}

/// Sizes that a part of `nominal_mm` can have between roughing and finishing, mm: within a tenth of it. *Common practice*: beyond it a
/// digit slipped.
pub fn likely_mm(nominal_mm: f64) -> (f64, f64) {
    (0.9 * nominal_mm, 1.1 * nominal_mm)
}

/// Whether a size is one of those.
pub fn near_nominal(size_mm: f64, nominal_mm: f64) -> bool {
    let (low, high) = likely_mm(nominal_mm);
    (low..=high).contains(&size_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bore_closes_in_by_what_the_fit_says_and_both_doubts_count() {
        let bore = bore_after_pressing(207.0, Quantity::with_u(100.0, 120.0));
        assert!((bore.value - 206.9).abs() < 1e-12 && (bore.u - 0.13).abs() < 1e-12, "{bore:?}");
    }

    #[test]
    fn sums_of_the_dialogue_are_plain() {
        assert_eq!(mean(&[1.0, 2.0, 6.0]), Some(3.0));
        assert_eq!(mean(&[]), None);
        assert!((corrected(300.0, -0.002) - 299.998).abs() < 1e-12);
        assert_eq!((per_minute(72.0), per_piece(300.0, 3), per_piece(5.0, 0)), (1.2, 100.0, 5.0));
        assert!(cleans_up(0.4, 0.3) && !cleans_up(0.3, 0.3) && cuts(0.06) && !cuts(0.059));
        assert!(near_nominal(329.0, 300.0) && !near_nominal(30.0, 300.0));
    }
}
