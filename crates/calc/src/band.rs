//! A band of allowed sizes: its middle, its ends as a person writes them, and what a part inside it is taken to be.
//!
//! Which band a part gets is decided elsewhere (`fit::choose`, `run::clearance`).

use crate::quantity::{Quantity, Shape};

/// Allowed sizes from `low_mm` to `high_mm`, diameters at 20 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Least allowed, mm.
    pub low_mm: f64,
    /// Greatest allowed, mm.
    pub high_mm: f64,
}

impl Band {
    /// The size in the middle, mm.
    pub fn middle_mm(&self) -> f64 {
        self.low_mm + (self.high_mm - self.low_mm) / 2.0
    }

    /// Width, mm.
    pub fn width_mm(&self) -> f64 {
        self.high_mm - self.low_mm
    }

    /// A part that will be landed in the band, as a rectangular quantity: u = width/(2√3). Source: JCGM 100:2008 4.3.7.
    pub fn as_quantity(&self) -> Quantity {
        let u = self.width_mm() / (2.0 * 3.0_f64.sqrt());
        Quantity { value: self.middle_mm(), u, dof: None, shape: Some(Shape::Rectangular) }
    }

    /// Whether an outside of `size_mm` is still over the band: metal is to come off.
    pub fn is_under_outside(&self, size_mm: f64) -> bool {
        size_mm > self.high_mm
    }

    /// Whether a bore of `size_mm` is still under the band: metal is to come out.
    pub fn is_over_bore(&self, size_mm: f64) -> bool {
        size_mm < self.low_mm
    }

    /// A band of the same width about another middle.
    pub fn about(&self, middle_mm: f64) -> Self {
        let half = self.width_mm() / 2.0;
        Self { low_mm: middle_mm - half, high_mm: middle_mm + half }
    }

    /// The band with its ends moved inward to whole steps; itself when no whole step lies inside.
    pub fn inward(&self, step_mm: f64) -> Self {
        // A millionth of a step keeps an end that already stands on a step where it is.
        let low = (self.low_mm / step_mm - 1e-6).ceil() * step_mm;
        let high = (self.high_mm / step_mm + 1e-6).floor() * step_mm;
        if low < high { Self { low_mm: low, high_mm: high } } else { *self }
    }

    /// Interference (diametral, free) of both ends over a hole of `bore_mm`, µm.
    pub fn over_um(&self, bore_mm: f64) -> (f64, f64) {
        ((self.low_mm - bore_mm) * 1e3, (self.high_mm - bore_mm) * 1e3)
    }
}

/// An angle `by_deg` further round, from 0 to under 360.
pub fn turned_deg(from_deg: f64, by_deg: f64) -> f64 {
    (from_deg + by_deg).rem_euclid(360.0)
}

/// Bore of the bush while it is fitted, when `left_mm` (on the diameter) is kept to be finished afterwards, mm.
pub fn bore_at_fitting_mm(journal_mm: f64, left_mm: f64) -> f64 {
    journal_mm - left_mm
}

/// Wall of a bush, mm.
pub fn wall_mm(outside_mm: f64, bore_mm: f64) -> f64 {
    (outside_mm - bore_mm) / 2.0
}

/// `count` even steps from `from` to `to`, both ends among them.
pub fn evenly(from: f64, to: f64, count: u32) -> Vec<f64> {
    let steps = count.max(2) - 1;
    (0..=steps).map(|i| if i == steps { to } else { from + (to - from) * f64::from(i) / f64::from(steps) }).collect()
}

/// Length of the lead that starts a bush straight when nothing was said, mm: 2 % of the outside. *Common practice*.
pub fn lead_mm(outside_mm: f64) -> f64 {
    0.02 * outside_mm
}

/// Whole travel of the press: lead and length, mm.
pub fn travel_mm(lead_mm: f64, length_mm: f64) -> f64 {
    lead_mm + length_mm
}

/// Ends of a chart's axis that show `low` to `high` with a margin of `share` of the span on both sides, at least `least` wide.
pub fn frame(low: f64, high: f64, share: f64, least: f64) -> (f64, f64) {
    let span = (high - low).max(least);
    let middle = low + (high - low) / 2.0;
    (middle - span * (0.5 + share), middle + span * (0.5 + share))
}

/// A part whose size is only known to lie between two values, as a rectangular quantity. Source: JCGM 100:2008 4.3.7.
pub fn between(low: f64, high: f64) -> Quantity {
    Band { low_mm: low, high_mm: high }.as_quantity()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_rounded_into_the_band_and_never_out_of_it() {
        let band = Band { low_mm: 240.117_513, high_mm: 240.146_513 }.inward(0.001);
        assert!((band.low_mm - 240.118).abs() < 1e-9 && (band.high_mm - 240.146).abs() < 1e-9, "{band:?}");
    }

    #[test]
    fn an_end_on_a_step_stays() {
        let band = Band { low_mm: 240.118, high_mm: 240.146 }.inward(0.001);
        assert!((band.low_mm - 240.118).abs() < 1e-9 && (band.high_mm - 240.146).abs() < 1e-9, "{band:?}");
    }
}
