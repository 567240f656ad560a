//! A frame with two axes: where curves are drawn, and what lies outside of it is cut off at its edges.

use crate::axis::Axis;
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke};
use crate::place::{Room, paragraph};

/// A frame.
pub(crate) struct Frame {
    /// Where it lies.
    pub plot: Patch,
    /// To the right.
    pub across: Axis,
    /// Upwards.
    pub up: Axis,
}

impl Frame {
    /// A frame of `width` units that begins at `top`; none when the figures span nothing.
    pub fn new(width: f64, (from, to): (f64, f64), (low, high): (f64, f64), (top, height): (f64, f64)) -> Option<Self> {
        let up = Axis::new(low, high, top + height, top)?;
        let widest = up.ticks(34.0).iter().map(|(_, text)| Letters::Small.width(text)).fold(30.0, f64::max);
        let plot = Patch { left: widest + 14.0, top, right: width - 16.0, bottom: top + height };
        let across = Axis::new(from, to, plot.left, plot.right)?;
        Some(Self { plot, across, up })
    }

    /// Place of a figure across, kept in the frame.
    pub fn x(&self, figure: f64) -> f64 {
        self.across.held(figure)
    }

    /// Place of a figure upwards, kept in the frame.
    pub fn y(&self, figure: f64) -> f64 {
        self.up.held(figure)
    }

    /// Room for words inside.
    pub fn room(&self) -> Room {
        Room::new(Patch { left: self.plot.left + 1.0, right: self.plot.right - 1.0, ..self.plot })
    }

    /// The frame with its ticks and what stands on its axes.
    pub fn draw(&self, pen: &mut Pen, across: &str, up: &str) {
        let plot = &self.plot;
        pen.path(&[(plot.left, plot.top), (plot.right, plot.top), (plot.right, plot.bottom), (plot.left, plot.bottom)], true, Stroke::Thin);
        for (x, text) in self.across.ticks(52.0) {
            pen.line((x, plot.bottom), (x, plot.bottom + 5.0), Stroke::Thin);
            pen.text(x, plot.bottom + 18.0, Held::Middle, Letters::Small, &text);
        }
        for (y, text) in self.up.ticks(34.0) {
            pen.line((plot.left - 5.0, y), (plot.left, y), Stroke::Thin);
            pen.text(plot.left - 8.0, y + 4.0, Held::Right, Letters::Small, &text);
        }
        pen.text(4.0, plot.top - 24.0, Held::Left, Letters::Plain, up);
        pen.text(plot.right, plot.bottom + 36.0, Held::Right, Letters::Plain, across);
    }

    /// Pieces of a curve of figures that lie in the frame, as places.
    pub fn pieces(&self, curve: &[(f64, f64)]) -> Vec<Vec<Point>> {
        let line: Vec<Point> = curve.iter().map(|(x, y)| (self.across.at(*x), self.up.at(*y))).collect();
        let mut pieces: Vec<Vec<Point>> = vec![Vec::new()];
        for pair in line.windows(2) {
            match cut(pair[0], pair[1], &self.plot) {
                Some((from, to)) => {
                    if let Some(piece) = pieces.last_mut() {
                        if piece.last() != Some(&from) {
                            piece.push(from);
                        }
                        piece.push(to);
                    }
                    if to != pair[1] {
                        pieces.push(Vec::new());
                    }
                }
                None => pieces.push(Vec::new()),
            }
        }
        pieces.retain(|piece| piece.len() > 1);
        pieces
    }

    /// Draws a curve; words keep off it.
    pub fn curve(&self, pen: &mut Pen, room: &mut Room, curve: &[(f64, f64)], stroke: Stroke) {
        for piece in self.pieces(curve) {
            for pair in piece.windows(2) {
                keep_off(room, pair[0], pair[1]);
            }
            pen.path(&piece, false, stroke);
        }
    }
}

/// Takes small patches along a stroke, so that no word stands on it.
pub(crate) fn keep_off(room: &mut Room, from: Point, to: Point) {
    let long = (to.0 - from.0).abs().max((to.1 - from.1).abs());
    let steps = (long / 4.0).ceil().clamp(1.0, 400.0);
    for i in 0..=steps as u32 {
        let share = f64::from(i) / steps;
        let (x, y) = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
        room.take(Patch { left: x - 2.0, right: x + 2.0, top: y - 2.0, bottom: y + 2.0 });
    }
}

/// What of a stroke lies in a patch. Source: Liang and Barsky's parameters of the four edges.
fn cut(from: Point, to: Point, within: &Patch) -> Option<(Point, Point)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    for (step, room) in [(-dx, from.0 - within.left), (dx, within.right - from.0), (-dy, from.1 - within.top), (dy, within.bottom - from.1)]
    {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
            continue;
        }
        let at = room / step;
        if step < 0.0 { enters = enters.max(at) } else { leaves = leaves.min(at) }
    }
    let at = |t: f64| {
        if t <= 0.0 {
            from
        } else if t >= 1.0 {
            to
        } else {
            (from.0 + t * dx, from.1 + t * dy)
        }
    };
    (enters < leaves).then(|| (at(enters), at(leaves)))
}

/// A line of the key: a stroke and what it is; says where the next stands.
pub(crate) fn key_stroke(pen: &mut Pen, y: f64, width: f64, stroke: Stroke, text: &str) -> f64 {
    pen.line((12.0, y - 4.0), (40.0, y - 4.0), stroke);
    paragraph(pen, 50.0, y, width - 62.0, Letters::Small, text) + 3.0
}

/// A number at a pointer of an answer; of a quantity, its value.
pub(crate) fn number(value: &serde_json::Value, pointer: &str) -> Option<f64> {
    let found = value.pointer(pointer)?;
    found.get("value").unwrap_or(found).as_f64().filter(|x| x.is_finite())
}

/// The numbers of a list; none where one of them is missing.
pub(crate) fn numbers(value: &serde_json::Value, pointer: &str) -> Option<Vec<f64>> {
    value.pointer(pointer)?.as_array()?.iter().map(|x| x.as_f64().filter(|x| x.is_finite())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_outside_is_cut_at_the_edge() {
        let within = Patch { left: 0.0, top: 0.0, right: 10.0, bottom: 10.0 };
        for (from, to, left) in [
            ((-5.0, 5.0), (15.0, 5.0), Some(((0.0, 5.0), (10.0, 5.0)))),
            ((2.0, 2.0), (3.0, 3.0), Some(((2.0, 2.0), (3.0, 3.0)))),
            ((5.0, -10.0), (5.0, 5.0), Some(((5.0, 0.0), (5.0, 5.0)))),
            ((-5.0, -5.0), (-1.0, 20.0), None),
            ((12.0, 0.0), (12.0, 10.0), None),
        ] {
            assert_eq!(cut(from, to, &within), left, "{from:?} {to:?}");
        }
    }
}
