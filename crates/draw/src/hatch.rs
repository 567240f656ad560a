//! Hatching: parallel strokes that fill an area and stop at its edges, whatever its shape.
//!
//! Strokes are cut by us instead of by a pattern or a clip: every reader of SVG shows them alike, and no ids are needed.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::pen::{Pen, Point, Stroke};

/// Direction of the strokes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lean {
    /// Up to the right, 45°.
    Rising,
    /// Down to the right, 45°.
    Falling,
    /// Level.
    Level,
}

impl Lean {
    fn along(self) -> Point {
        match self {
            Self::Rising => (FRAC_1_SQRT_2, -FRAC_1_SQRT_2),
            Self::Falling => (FRAC_1_SQRT_2, FRAC_1_SQRT_2),
            Self::Level => (1.0, 0.0),
        }
    }
}

/// Most strokes of one area: more would be black anyway.
const MOST: i64 = 3000;

/// Fills an area with strokes `pitch` apart. Strokes of neighbouring areas with the same lean and pitch continue each other.
pub(crate) fn hatch(pen: &mut Pen, outline: &[Point], lean: Lean, pitch: f64) {
    pen.strokes(&strokes(outline, lean, pitch), Stroke::Hatch);
}

fn strokes(outline: &[Point], lean: Lean, pitch: f64) -> Vec<(Point, Point)> {
    let along = lean.along();
    let across = (-along.1, along.0);
    let heights: Vec<f64> = outline.iter().map(|p| p.0 * across.0 + p.1 * across.1).collect();
    let (low, high) = heights.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), h| (low.min(*h), high.max(*h)));
    if !(low.is_finite() && high.is_finite()) || pitch <= 0.0 {
        return Vec::new();
    }
    let (first, last) = ((low / pitch).ceil() as i64, (high / pitch).floor() as i64);
    let mut lines = Vec::new();
    for step in first..=last.min(first + MOST) {
        // A hundredth of a pitch off whole numbers, so that no stroke runs along an edge or through a corner.
        let height = (step as f64 + 0.01) * pitch;
        let mut cuts: Vec<f64> =
            outline.iter().zip(outline.iter().cycle().skip(1)).filter_map(|(a, b)| cut(*a, *b, along, across, height)).collect();
        cuts.sort_by(f64::total_cmp);
        let at = |t: f64| (along.0 * t + across.0 * height, along.1 * t + across.1 * height);
        lines.extend(cuts.chunks_exact(2).filter_map(|pair| match pair {
            [from, to] if to - from > 0.3 => Some((at(*from), at(*to))),
            _ => None,
        }));
    }
    lines
}

/// Where the line at `height` cuts the edge from a to b, as a distance along it.
fn cut(a: Point, b: Point, along: Point, across: Point, height: f64) -> Option<f64> {
    let (ha, hb) = (a.0 * across.0 + a.1 * across.1, b.0 * across.0 + b.1 * across.1);
    if (ha > height) == (hb > height) {
        return None;
    }
    let share = (height - ha) / (hb - ha);
    let p = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
    Some(p.0 * along.0 + p.1 * along.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_stay_inside_and_leave_a_notch_free() {
        let notched = [(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (25.0, 30.0), (25.0, 15.0), (15.0, 15.0), (15.0, 30.0), (0.0, 30.0)];
        let lines = strokes(&notched, Lean::Level, 5.0);
        assert!(!lines.is_empty());
        for ((ax, ay), (bx, _)) in lines {
            assert!(ax >= -1e-9 && bx <= 40.0 + 1e-9);
            assert!(ay < 15.0 || bx <= 15.0 + 1e-9 || ax >= 25.0 - 1e-9, "a stroke crosses the notch at {ay}");
        }
    }
}
