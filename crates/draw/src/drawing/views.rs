//! What is drawn of a part, in millimetres: the section through its axis and the view on its end, with all that is asked of it.
//!
//! `z` runs from the datum end along the axis, `y` up from the axis, `x` to the right on the end view (which is seen from the datum end).
//! Where things stand on the sheet is left to `lay`.

use std::f64::consts::PI;

use super::callouts::{End, Way};
use super::marks::{Block, Piece};
use crate::hatch::Lean;
use crate::pen::Stroke;

/// A point of the section: z, y.
pub(crate) type Spot = (f64, f64);

/// Cut metal.
#[derive(Clone, Debug)]
pub(crate) struct Cut {
    /// Its outline.
    pub outline: Vec<Spot>,
    /// Direction and distance of its hatch, units.
    pub hatch: (Lean, f64),
    /// Rectangles that hold it: where no word may stand.
    pub solid: Vec<(Spot, Spot)>,
    /// The side of its outline that is broken off, as the place of that point in it.
    pub broken: Option<usize>,
}

/// A length along the axis.
#[derive(Clone, Debug)]
pub(crate) struct Length {
    pub from: Spot,
    pub to: Spot,
    pub block: Block,
    pub of: String,
}

/// A diameter, dimensioned beside an end.
#[derive(Clone, Debug)]
pub(crate) struct Diameter {
    pub mm: f64,
    /// Where its extension lines begin.
    pub z: f64,
    /// Beside the datum end instead of the other.
    pub at_datum: bool,
    pub block: Block,
    pub of: String,
}

impl Diameter {
    /// Its figure where a millimetre is `per_mm` units: on two lines where one is too long for the dimension line.
    pub fn block_at(&self, per_mm: f64) -> Block {
        let (wide, _) = self.block.size();
        match self.block.0.as_slice() {
            [Piece::Figures(text)] if wide + 6.0 > self.mm * per_mm => match text.split_once(" ± ") {
                Some((size, doubt)) => Block::figures(&[size.to_owned(), format!("± {doubt}")]),
                None => self.block.clone(),
            },
            _ => self.block.clone(),
        }
    }
}

/// Where a mark may point.
#[derive(Clone, Copy, Debug)]
pub(crate) enum At {
    /// At a point of the section.
    Section(Spot, Way),
    /// In line with a diameter's dimension line, at its upper or lower end: the axis, not the surface. Source: ISO 1101, ISO 5459.
    Line(usize, Way),
    /// At a point of the end view: x, y.
    EndView(Spot, Way),
}

/// A mark with its leader.
#[derive(Clone, Debug)]
pub(crate) struct Note {
    pub at: Vec<At>,
    pub block: Block,
    pub end: End,
    pub of: String,
}

/// A line of the end view.
#[derive(Clone, Debug)]
pub(crate) enum Seen {
    /// A circle about the axis.
    Ring(f64, Stroke),
    /// A circle elsewhere: centre, diameter.
    Round(Spot, f64, Stroke),
    /// A line.
    Line(Vec<Spot>, Stroke),
    /// An arrow from one point to another.
    Arrow(Spot, Spot),
}

/// All of it.
#[derive(Clone, Debug)]
pub(crate) struct Views {
    pub title: &'static str,
    pub material: String,
    /// Ends of the section along the axis.
    pub along: (f64, f64),
    /// Largest diameter of the section.
    pub tall: f64,
    /// The datum end is on the right.
    pub handed: bool,
    pub cuts: Vec<Cut>,
    /// Edges and curves behind the cut.
    pub edges: Vec<(Vec<Spot>, Stroke)>,
    pub lengths: Vec<Length>,
    pub diameters: Vec<Diameter>,
    pub notes: Vec<Note>,
    pub end_view: Vec<Seen>,
    /// Largest diameter of the end view.
    pub end_across: f64,
}

/// A point of the end view at an angle clockwise from above.
pub(crate) fn at_angle(radius: f64, angle_deg: f64) -> Spot {
    let angle = angle_deg * PI / 180.0;
    (radius * calc::math::sin(angle), radius * calc::math::cos(angle))
}

/// How far round an angle is from the cut: its sine is 0 in the cut; negative behind it, seen with the datum end on the left.
pub(crate) fn behind(angle_deg: f64, handed: bool) -> f64 {
    let sine = calc::math::sin(angle_deg * PI / 180.0);
    if handed { sine } else { -sine }
}

/// The stretch of a line of rising z between two places; its ends are worked out where they fall between two points.
pub(crate) fn between(line: &[Spot], from: f64, to: f64) -> Vec<Spot> {
    let mut out: Vec<Spot> = Vec::new();
    for pair in line.windows(2) {
        let [a, b] = pair else { continue };
        if b.0 < from || a.0 > to {
            continue;
        }
        let at = |z: f64| if b.0 - a.0 > 1e-12 { a.1 + (b.1 - a.1) * (z - a.0) / (b.0 - a.0) } else { a.1 };
        let start = if a.0 < from { (from, at(from)) } else { *a };
        let end = if b.0 > to { (to, at(to)) } else { *b };
        for point in [start, end] {
            if out.last().is_none_or(|last| *last != point) {
                out.push(point);
            }
        }
    }
    out
}
