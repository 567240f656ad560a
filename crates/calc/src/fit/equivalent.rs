//! The ring that stands for a housing that is not round: the same mean growth of the bore under the same pressure.
//!
//! It says nothing of the bore's shape: a square or rectangular eye closes in oval, so the bore is finished after fitting.
//! Source: the table of the fit's method page, b.7, found by plane-stress finite elements with a central bore (computed).

use crate::band::between as rectangular;
use crate::quantity::Quantity;

/// Shorter side over bore, equivalent outside over side of a square.
const SQUARE: [(f64, f64); 6] = [(1.3, 1.040), (1.5, 1.047), (1.75, 1.051), (2.0, 1.053), (2.5, 1.054), (3.0, 1.055)];
/// The same of a rectangle whose long side is 2 to 3 bores: lower and upper figure.
const RECTANGLE: [(f64, f64, f64); 3] = [(1.3, 1.08, 1.09), (1.5, 1.09, 1.10), (2.0, 1.11, 1.11)];
/// No more metal than this many bores is worth arguing about: beyond it a housing is a solid plate within 20 %.
const ENOUGH: f64 = 3.0;

/// Outside of the ring that stands for a square of `side_mm` about a central bore, mm; rectangular doubt of 1 % (the table's steps).
pub fn square(side_mm: f64, bore_mm: f64) -> Quantity {
    let factor = along(&SQUARE, side_mm / bore_mm);
    let outside = (factor * side_mm).min(ENOUGH * bore_mm);
    rectangular(outside * 0.99, outside * 1.01)
}

/// Outside of the ring that stands for a rectangle by its shorter side, the longer 2 to 3 bores, mm, with the table's spread.
pub fn rectangle(shorter_side_mm: f64, bore_mm: f64) -> Quantity {
    let ratio = shorter_side_mm / bore_mm;
    let low = along(&RECTANGLE.map(|(at, low, _)| (at, low)), ratio);
    let high = along(&RECTANGLE.map(|(at, _, high)| (at, high)), ratio);
    let cap = |factor: f64| (factor * shorter_side_mm).min(ENOUGH * bore_mm);
    // The doubt is at least that of a square: 1 % either way.
    rectangular(cap(low) * 0.99, cap(high) * 1.01)
}

/// Outside of the ring for anything else (ribs, bosses, bolt holes, a thin side): between the largest circle that fits inside the part and
/// the figure of the square that holds it, mm, rectangular.
pub fn between(inscribed_mm: f64, square_side_mm: f64, bore_mm: f64) -> Quantity {
    let high = (along(&SQUARE, square_side_mm / bore_mm) * square_side_mm).min(ENOUGH * bore_mm);
    rectangular(inscribed_mm.min(high), high)
}

/// Straight lines between the points, constant beyond them.
fn along(points: &[(f64, f64)], x: f64) -> f64 {
    for pair in points.windows(2) {
        if let [(x0, y0), (x1, y1)] = pair
            && x <= *x1
        {
            return y0 + (y1 - y0) * ((x - x0) / (x1 - x0)).max(0.0);
        }
    }
    points.last().map_or(1.0, |(_, y)| *y)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_is_worth_a_little_more_than_its_inscribed_circle() {
        let ring = square(200.0, 100.0);
        assert!((ring.value - 210.6).abs() < 1e-9, "table: 1.053 at 2 D: {ring:?}");
    }

    #[test]
    fn the_equal_area_circle_is_never_reached() {
        for ratio in [1.3, 1.5, 2.0, 2.9] {
            let equal_area = ratio * 100.0 * (4.0 / std::f64::consts::PI).sqrt();
            assert!(square(ratio * 100.0, 100.0).value < equal_area, "unsafe side at {ratio}");
        }
    }

    #[test]
    fn an_odd_shape_lies_between_its_circle_and_its_square() {
        let ring = between(560.0, 700.0, 410.0);
        assert!(ring.value > 560.0 && ring.value < 740.0 && ring.u > 0.0, "{ring:?}");
    }
}
