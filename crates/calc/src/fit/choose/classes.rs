//! The classes of the trade beside the band: for comparison only, since a worn seat has no class.

use serde::Serialize;

use crate::limits::iso::iso_fit;

/// Shaft classes that a pressed bush is made to.
const SHAFTS: [&str; 6] = ["p6", "r6", "s6", "t6", "u6", "x6"];
const HOLE: &str = "H7";

/// A class beside the band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassBeside {
    /// Hole and shaft, as H7/s6.
    pub class: String,
    /// Least interference, µm.
    pub least_um: f64,
    /// Mean of least and greatest, µm.
    pub mean_um: f64,
    /// Greatest, µm.
    pub greatest_um: f64,
    /// Its mean lies in the window.
    pub inside: bool,
}

/// H7 with p6 to x6 at the nominal nearest to `bore_mm` (whole mm); those not defined at that size are left out.
///
/// low_um, high_um: the window; no high, no end. Source: ISO 286-1, ISO 286-2.
pub fn beside(bore_mm: f64, low_um: f64, high_um: Option<f64>) -> Vec<ClassBeside> {
    let nominal_mm = bore_mm.round();
    let each = SHAFTS.iter().filter_map(|shaft| {
        let fit = iso_fit(nominal_mm, HOLE, shaft).ok()?;
        let (least_um, greatest_um) = (fit.min_interference_um, fit.max_interference_um);
        let mean_um = (least_um + greatest_um) / 2.0;
        let inside = mean_um >= low_um && high_um.is_none_or(|high| mean_um <= high);
        Some(ClassBeside { class: format!("{HOLE}/{shaft}"), least_um, mean_um, greatest_um, inside })
    });
    each.collect()
}
