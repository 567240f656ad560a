//! What a drawing asks beyond sizes: tolerances of form, place and run-out of a bush and its seat, and those of lengths that have none.
//!
//! It leaves to others: the sizes themselves (`fit-choose`, `clearance`). The rules are *common practice*, each with its reason; a drawing
//! that was given by the machine's builder comes before them.

use super::iso::iso_limits;
use crate::refused::Refused;
use crate::units::{System, mm_from_inch};

/// Share of a band of size that form may use. *Common practice*: half, so that the mean can be landed in the other half.
const FORM_SHARE: f64 = 0.5;
/// Share of the stock left in the bore that its eccentricity may use. *Common practice*: a tenth cleans up everywhere.
const STOCK_SHARE: f64 = 0.1;
/// Least tolerance that a lathe of a repair shop is asked for, mm. *Common practice*.
const LEAST_MM: f64 = 0.005;

/// Tolerances of form and place, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Form {
    /// Cylindricity of the outside.
    pub outside_cylindricity_mm: f64,
    /// Roundness of the outside in any station.
    pub outside_roundness_mm: f64,
    /// Coaxiality of the bore to the outside, a diameter.
    pub bore_coaxiality_mm: f64,
    /// Cylindricity of the finished bore.
    pub bore_cylindricity_mm: f64,
    /// Axial run-out of the flange's face to the outside; none without a flange.
    pub flange_run_out_mm: Option<f64>,
}

/// What a bush is asked for.
///
/// - cylindricity of outside and finished bore: half of the width of their bands; roundness: a quarter of the outside's band
/// - coaxiality: a tenth of what is left in the bore, or half of the bore's band where it is finished before fitting
/// - run-out of the flange: half of IT7 at the flange's diameter
/// - each brought down to a round step (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 · 10ⁿ µm; whole tenths of a thou), at least 5 µm
///
/// outside_mm, bore_mm: widths of the bands, mm; left_mm: stock left in the bore, diametral; flange_mm: the flange's outside.
/// Source: ISO 1101 for what each means (from memory); the shares are common practice; IT7 from ISO 286-1.
pub fn asked_of(outside_mm: f64, bore_mm: f64, left_mm: Option<f64>, flange_mm: Option<f64>, system: System) -> Form {
    let round = |mm: f64| step_down(mm.max(LEAST_MM), system);
    let half = |band_mm: f64| round(FORM_SHARE * band_mm);
    let it7 = |mm: f64| iso_limits(mm, "H7").map(|limits| limits.tolerance_um / 1e3).unwrap_or(mm * 1e-4);
    Form {
        outside_cylindricity_mm: half(outside_mm),
        outside_roundness_mm: round(FORM_SHARE * FORM_SHARE * outside_mm),
        bore_coaxiality_mm: left_mm.map_or_else(|| half(bore_mm), |left| round(STOCK_SHARE * left)),
        bore_cylindricity_mm: half(bore_mm),
        flange_run_out_mm: flange_mm.map(|mm| round(FORM_SHARE * it7(mm))),
    }
}

/// Deviation either way of a bore that is finished later: a tenth of what is left in it, mm. Source: *common practice*, as its place.
pub fn bore_to_finish_mm(left_mm: f64, system: System) -> f64 {
    step_down((STOCK_SHARE * left_mm).max(LEAST_MM), system)
}

/// Steps of a decade that tolerances are taken from. Source: near to the R 10 series of ISO 3, rounded as drawings have them.
const STEPS: [f64; 10] = [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];

/// The round tolerance at or under `mm`, at least the smallest step over 1 µm.
fn step_down(mm: f64, system: System) -> f64 {
    // A millionth of a step keeps a figure that stands on its step there.
    if system == System::Inch {
        let step = mm_from_inch(0.0001);
        return ((mm / step + 1e-6).floor().max((LEAST_MM / step).ceil())) * step;
    }
    let mut best = 0.001;
    for decade in [0.001, 0.01, 0.1, 1.0] {
        for step in STEPS {
            // In whole micrometres a drawing is read without a slip.
            let candidate = (step * decade * 1e3).round() / 1e3;
            if candidate <= mm * (1.0 + 1e-6) {
                best = f64::max(best, candidate);
            }
        }
    }
    best
}

/// Largest nominal size of each row, and its deviation either way, mm.
const MEDIUM: [(f64, f64); 7] = [(6.0, 0.1), (30.0, 0.2), (120.0, 0.3), (400.0, 0.5), (1000.0, 0.8), (2000.0, 1.2), (4000.0, 2.0)];

/// Deviation either way of a length that has no tolerance of its own, mm; refused over 4000 mm.
///
/// Source: ISO 2768-1, class m, table 1 (from memory); its smallest row begins at 0.5 mm and is taken for what is smaller too.
pub fn general_mm(size_mm: f64) -> Result<f64, Refused> {
    let row = MEDIUM.iter().find(|(largest, _)| size_mm <= *largest);
    row.map(|(_, deviation)| *deviation)
        .ok_or_else(|| Refused::new("size_mm", size_mm, "up to 4000 mm", "give the length a tolerance of its own"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tolerances_are_round_and_never_wider_than_their_share() {
        for (mm, step) in [(0.029, 0.025), (0.0145, 0.012), (0.1, 0.1), (0.0999, 0.08), (0.005, 0.005), (0.0079, 0.006)] {
            assert!((step_down(mm, System::Metric) - step).abs() < 1e-12, "{mm}");
        }
        assert!((step_down(0.013, System::Inch) - 0.0127).abs() < 1e-9, "half a thou of an inch");
    }

    #[test]
    fn a_bush_that_is_finished_in_place_may_run_out_by_a_tenth_of_what_is_left() {
        let form = asked_of(0.029, 0.046, Some(1.0), Some(280.0), System::Metric);
        assert_eq!((form.bore_coaxiality_mm, form.outside_cylindricity_mm, form.outside_roundness_mm), (0.1, 0.012, 0.006));
        assert_eq!(form.flange_run_out_mm, Some(0.025), "IT7 at 280 mm is 52 µm");
        assert_eq!(asked_of(0.029, 0.046, None, None, System::Metric).bore_coaxiality_mm, 0.02);
    }

    #[test]
    fn a_length_without_a_tolerance_has_that_of_class_m() {
        for (mm, deviation) in [(4.0, 0.1), (6.0, 0.1), (6.5, 0.2), (30.0, 0.2), (120.0, 0.3), (200.0, 0.5), (401.0, 0.8)] {
            assert_eq!(general_mm(mm).unwrap(), deviation, "{mm}");
        }
        assert_eq!(general_mm(4001.0).unwrap_err().key, "size_mm");
    }
}
