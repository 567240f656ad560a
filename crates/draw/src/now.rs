//! The present moment on a picture with an axis of time: a mark that lies over it and moves, while the picture is drawn once.

use job::sheet::Grid;
use serde::{Deserialize, Serialize};

use crate::pen::{Held, Letters, Pen, Point, Stroke};

/// The axis of time of a picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Times {
    /// Width and height of the picture, units.
    pub size: (f64, f64),
    /// Left and right end of its frame, units.
    pub across: (f64, f64),
    /// Top and foot of its frame, units.
    pub down: (f64, f64),
    /// Units a second.
    pub per_s: f64,
    /// The curve that is followed, in the units of the picture, from left to right.
    pub curve: Vec<Point>,
}

impl Times {
    /// The mark of the moment `t_s`, s, as an SVG of the picture's size: a line, a ring where it meets the curve, and `words` at its head.
    /// A moment beyond the frame stands at the frame's nearer end.
    pub fn mark(&self, t_s: f64, words: &str) -> String {
        let (left, right) = self.across;
        let x = if t_s.is_finite() { (left + t_s * self.per_s).max(left).min(right) } else { right };
        let mut pen = Pen::new();
        pen.line((x, self.down.0), (x, self.down.1), Stroke::Needs);
        if let Some(y) = self.on_the_curve(x) {
            pen.ring((x, y), 5.5, Stroke::Needs);
        }
        // The words stand over the frame, inside the picture.
        let half = Letters::Call.width(words) / 2.0;
        let (first, last) = (half + 2.0, self.size.0 - half - 2.0);
        pen.label(x.min(last).max(first), self.down.0 - 8.0, Held::Middle, Letters::Call, words);
        pen.finish(self.size.0, self.size.1, "", "", Grid::default()).svg
    }

    fn on_the_curve(&self, x: f64) -> Option<f64> {
        let (from, to) = self.curve.iter().zip(self.curve.iter().skip(1)).find(|(from, to)| from.0 <= x && x <= to.0)?;
        let along = if to.0 > from.0 { (x - from.0) / (to.0 - from.0) } else { 0.0 };
        Some(from.1 + along * (to.1 - from.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times() -> Times {
        Times { size: (400.0, 300.0), across: (50.0, 384.0), down: (40.0, 300.0), per_s: 4.0, curve: vec![(50.0, 60.0), (250.0, 280.0)] }
    }

    #[test]
    fn the_mark_moves_with_the_seconds_and_stays_in_the_frame() {
        let at = |t_s| times().mark(t_s, "now");
        assert!(at(10.0).contains("M90 40L90 300"), "{}", at(10.0));
        assert!(at(-5.0).contains("M50 40L50 300"));
        assert!(at(1e9).contains("M384 40L384 300") && at(f64::NAN).contains("M384 40L384 300"));
        // On the curve: 10 s are 40 units of 200, so 44 units of 220 down from 60.
        assert!(at(10.0).contains("cx=\"90\" cy=\"104\""), "{}", at(10.0));
        assert!(!at(1e9).contains("circle"), "the curve has ended there");
    }
}
