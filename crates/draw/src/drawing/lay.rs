//! Section, end view, dimensions and marks on a sheet, at the largest standard scale at which every one of them finds its place.

use calc::units::shown_plain;

use super::callouts::{Callout, Ground, Way, write};
use super::marks::{Block, LINE};
use super::rows::{Figure, Placed, Span, place};
use super::sheet::{self, About, Imprint, Paper};
use super::views::{At, Diameter, Seen, Spot, Views};
use super::{PER_MM, Style, table};
use crate::Drawing;
use crate::hatch::hatch;
use crate::pen::{Patch, Pen, Point, Stroke};
use crate::place::refused;

/// Most rows of dimensions on a side.
const MOST_ROWS: usize = 6;
/// Room kept for marks above and under the part, beside it, and between section and end view, units.
const ABOVE: f64 = 74.0;
const UNDER: f64 = 34.0;
const BESIDE: f64 = 58.0;
const BETWEEN: f64 = 74.0;
/// Room between the part and its nearest dimension, and beside each figure.
const OFF: f64 = 22.0;
const AIR: f64 = 7.0;
/// An extension line begins so far from the part and passes its dimension line by as much again.
const GAP: f64 = 3.0;

/// The sheet.
pub(crate) fn lay(views: &Views, style: &Style, paper: Paper, imprint: &Imprint, about: &About) -> Drawing {
    let scales = style.scales();
    let drawn = scales.iter().find_map(|scale| Laying::of(views, style, paper, about, *scale)?.draw(paper, imprint, about));
    drawn.unwrap_or_else(|| refused(720.0, views.title, "No standard scale leaves room for its dimensions: take a larger paper."))
}

/// Places of everything at one scale.
struct Laying<'l> {
    views: &'l Views,
    style: &'l Style,
    scale: f64,
    area: Patch,
    /// Units a millimetre of the part.
    per_mm: f64,
    /// Left end of the section, axis, centre of the end view.
    left: f64,
    axis: f64,
    end: f64,
    lengths: Side,
    /// Diameters beside the end away from the datum, and beside the datum end.
    far: Side,
    near: Side,
}

/// The dimensions of a side: which they are, their rows, and how far each row's line is from the part.
#[derive(Default)]
struct Side {
    of: Vec<usize>,
    placed: Vec<Placed>,
    lines: Vec<f64>,
    /// How far the side reaches.
    deep: f64,
}

impl<'l> Laying<'l> {
    fn of(views: &'l Views, style: &'l Style, paper: Paper, about: &About, scale: f64) -> Option<Self> {
        let area = sheet::area(paper, about);
        let per_mm = PER_MM / scale;
        let (wide, high) = (area.right - area.left, area.bottom - area.top);
        let long = (views.along.1 - views.along.0) * per_mm;
        let (tall, across) = (views.tall * per_mm, views.end_across * per_mm);
        if long + across > wide || tall.max(across) > high {
            return None;
        }
        let beside = |at_datum: bool| {
            let of: Vec<usize> =
                views.diameters.iter().enumerate().filter(|(_, diameter)| diameter.at_datum == at_datum).map(|(i, _)| i).collect();
            let spans: Vec<Span> = of
                .iter()
                .filter_map(|i| views.diameters.get(*i))
                .map(|diameter| {
                    let (w, h) = diameter.block_at(per_mm).size();
                    let half = diameter.mm / 2.0 * per_mm;
                    Span { from: -half, to: half, figure: if style.aligned { w } else { h }, in_gap: !style.aligned }
                })
                .collect();
            let placed = place(&spans, -high / 2.0, high / 2.0, MOST_ROWS)?;
            let thick = |i: usize| {
                let (w, h) = views.diameters.get(i).map_or((0.0, 0.0), |diameter| diameter.block_at(per_mm).size());
                if style.aligned { h } else { w }
            };
            let right = at_datum == views.handed;
            Some(Side::of(
                of,
                placed,
                thick,
                if !style.aligned {
                    Beside::In
                } else if right {
                    Beside::Before
                } else {
                    Beside::Behind
                },
            ))
        };
        let (far, near) = (beside(false)?, beside(true)?);
        let end_right = style.first_angle != views.handed;
        let (left_side, right_side) = if views.handed { (&far, &near) } else { (&near, &far) };
        let needed = BESIDE + left_side.deep + long + right_side.deep + BETWEEN + across + BESIDE;
        if needed > wide {
            return None;
        }
        let spare = wide - needed;
        let start = area.left + BESIDE + spare / 3.0;
        let (left, end) = if end_right {
            let left = start + left_side.deep;
            (left, left + long + right_side.deep + BETWEEN + spare / 3.0 + across / 2.0)
        } else {
            (start + across + BETWEEN + spare / 3.0 + left_side.deep, start + across / 2.0)
        };
        let lengths = Self::lengths(
            views,
            style,
            per_mm,
            (area.left - left, if end_right { end - across / 2.0 - 24.0 - left } else { area.right - left }),
        )?;
        let under = (tall / 2.0 + lengths.deep).max(across / 2.0) + UNDER;
        let above = tall.max(across) / 2.0 + ABOVE;
        if under + above > high {
            return None;
        }
        let axis = area.top + above + (high - under - above) / 2.0;
        Some(Self { views, style, scale, area, per_mm, left, axis, end, lengths, far, near })
    }

    fn lengths(views: &Views, style: &Style, per_mm: f64, (low, high): (f64, f64)) -> Option<Side> {
        let long = (views.along.1 - views.along.0) * per_mm;
        let x = |z: f64| if views.handed { long - (z - views.along.0) * per_mm } else { (z - views.along.0) * per_mm };
        let spans: Vec<Span> = views
            .lengths
            .iter()
            .map(|length| {
                let (a, b) = (x(length.from.0), x(length.to.0));
                Span { from: a.min(b), to: a.max(b), figure: length.block.size().0, in_gap: !style.aligned }
            })
            .collect();
        let placed = place(&spans, low, high, MOST_ROWS)?;
        let thick = |i: usize| views.lengths.get(i).map_or(0.0, |length| length.block.size().1);
        Some(Side::of((0..spans.len()).collect(), placed, thick, if style.aligned { Beside::Before } else { Beside::In }))
    }

    fn x(&self, z: f64) -> f64 {
        let (from, to) = self.views.along;
        self.left + if self.views.handed { to - z } else { z - from } * self.per_mm
    }

    fn spot(&self, (z, y): Spot) -> Point {
        (self.x(z), self.axis - y * self.per_mm)
    }

    fn end_spot(&self, (x, y): Spot) -> Point {
        (self.end + x * self.per_mm, self.axis - y * self.per_mm)
    }

    /// None when a mark has no place at this scale, in whichever order: one that found none goes first the next time.
    fn draw(&self, paper: Paper, imprint: &Imprint, about: &About) -> Option<Drawing> {
        let mut order: Vec<usize> = (0..self.views.notes.len()).collect();
        for _ in 0..=order.len() {
            let (mut pen, mut ground) = (Pen::new(), Ground::new(self.area));
            self.section(&mut pen, &mut ground);
            self.end_view(&mut pen, &mut ground);
            self.length_lines(&mut pen, &mut ground);
            self.diameter_lines(&mut pen, &mut ground);
            match order.iter().position(|note| !self.mark(&mut pen, &mut ground, *note)) {
                None => return Some(self.finished(pen, paper, imprint, about)),
                Some(0) => return None,
                Some(stuck) => {
                    let first = order.remove(stuck);
                    order.insert(0, first);
                }
            }
        }
        None
    }

    /// Whether the mark found a place.
    fn mark(&self, pen: &mut Pen, ground: &mut Ground, note: usize) -> bool {
        let Some(note) = self.views.notes.get(note) else { return true };
        let at = note.at.iter().filter_map(|at| self.point(*at)).collect();
        let in_line = note.at.iter().all(|at| matches!(at, At::Line(..)));
        write(pen, ground, &Callout { block: note.block.clone(), at, end: note.end, in_line })
    }

    fn finished(&self, mut pen: Pen, paper: Paper, imprint: &Imprint, about: &About) -> Drawing {
        let scale = said_scale(self.scale);
        sheet::draw(&mut pen, self.style, paper, imprint, about, &scale);
        let (wide, high) = paper.mm();
        let rows = self.rows();
        let said: Vec<String> = rows.iter().map(|row| row.join(" ")).collect();
        let description = format!("Shop drawing, {}: section and end view at {scale}. {}.", self.views.title, said.join("; "));
        let title = format!("{}: {}", imprint.number, self.views.title);
        pen.finish_sheet((wide * PER_MM, high * PER_MM), (wide, high), &title, &description, table(&title, rows))
    }

    fn rows(&self) -> Vec<Vec<String>> {
        let views = self.views;
        let row = |of: &str, block: &Block| vec![of.to_owned(), block.said().replace("\u{a0}", "")];
        let diameters = views.diameters.iter().map(|diameter| row(&diameter.of, &diameter.block));
        let lengths = views.lengths.iter().map(|length| row(&length.of, &length.block));
        diameters.chain(lengths).chain(views.notes.iter().map(|note| row(&note.of, &note.block))).collect()
    }

    fn section(&self, pen: &mut Pen, ground: &mut Ground) {
        for cut in &self.views.cuts {
            let outline: Vec<Point> = cut.outline.iter().map(|spot| self.spot(*spot)).collect();
            hatch(pen, &outline, cut.hatch.0, cut.hatch.1);
            match cut.broken {
                Some(side) => {
                    let count = outline.len();
                    let whole: Vec<Point> = (0..count).filter_map(|i| outline.get((side + 1 + i) % count).copied()).collect();
                    pen.path(&whole, false, Stroke::Outline);
                    if let (Some(from), Some(to)) = (outline.get(side), outline.get((side + 1) % count)) {
                        pen.line(*from, *to, Stroke::Hatch);
                    }
                }
                None => pen.path(&outline, true, Stroke::Outline),
            }
            for (a, b) in outline.iter().zip(outline.iter().cycle().skip(1)) {
                ground.soft(*a, *b);
            }
            for (a, b) in &cut.solid {
                let (a, b) = (self.spot(*a), self.spot(*b));
                ground.metal(Patch { left: a.0.min(b.0), top: a.1.min(b.1), right: a.0.max(b.0), bottom: a.1.max(b.1) });
            }
        }
        for (line, stroke) in &self.views.edges {
            let points: Vec<Point> = line.iter().map(|spot| self.spot(*spot)).collect();
            pen.path(&points, false, *stroke);
            points.windows(2).for_each(|pair| {
                if let [a, b] = pair {
                    ground.soft(*a, *b)
                }
            });
        }
        let (a, b) = (self.spot((self.views.along.0, 0.0)), self.spot((self.views.along.1, 0.0)));
        let (from, to) = ((a.0.min(b.0) - 14.0, self.axis), (a.0.max(b.0) + 14.0, self.axis));
        pen.line(from, to, Stroke::Centre);
        ground.soft(from, to);
    }

    fn end_view(&self, pen: &mut Pen, ground: &mut Ground) {
        let half = self.views.end_across / 2.0 * self.per_mm + 12.0;
        for (from, to) in
            [((self.end - half, self.axis), (self.end + half, self.axis)), ((self.end, self.axis - half), (self.end, self.axis + half))]
        {
            pen.line(from, to, Stroke::Centre);
            ground.soft(from, to);
        }
        for seen in &self.views.end_view {
            match seen {
                Seen::Ring(across, stroke) => {
                    pen.ring((self.end, self.axis), across / 2.0 * self.per_mm, *stroke);
                    round(ground, (self.end, self.axis), across / 2.0 * self.per_mm);
                }
                Seen::Round(centre, across, stroke) => {
                    let centre = self.end_spot(*centre);
                    pen.ring(centre, across / 2.0 * self.per_mm, *stroke);
                    round(ground, centre, across / 2.0 * self.per_mm);
                }
                Seen::Line(line, stroke) => {
                    let points: Vec<Point> = line.iter().map(|spot| self.end_spot(*spot)).collect();
                    pen.path(&points, false, *stroke);
                    points.windows(2).for_each(|pair| {
                        if let [a, b] = pair {
                            ground.soft(*a, *b)
                        }
                    });
                }
                Seen::Arrow(from, to) => {
                    let (from, to) = (self.end_spot(*from), self.end_spot(*to));
                    pen.line(from, to, Stroke::Outline);
                    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
                    let long = (dx * dx + dy * dy).sqrt().max(1e-9);
                    pen.arrow(to, (dx / long, dy / long));
                    ground.soft(from, to);
                }
            }
        }
    }

    /// Where a mark may point, on the sheet.
    fn point(&self, at: At) -> Option<(Point, Way)> {
        match at {
            At::Section(spot, way) => Some((self.spot(spot), way)),
            At::EndView(spot, way) => Some((self.end_spot(spot), way)),
            At::Line(index, way) => {
                let diameter = self.views.diameters.get(index)?;
                let x = self.diameter_x(index, diameter)?;
                let half = diameter.mm / 2.0 * self.per_mm;
                let (w, h) = diameter.block_at(self.per_mm).size();
                let span = Span { from: -half, to: half, figure: if self.style.aligned { w } else { h }, in_gap: !self.style.aligned };
                let (top, foot) = self.placed(index, diameter)?.covers(&span);
                let y = self.axis + if way == Way::Up { top } else { foot };
                Some(((x, y), way))
            }
        }
    }

    fn side_of(&self, diameter: &Diameter) -> &Side {
        if diameter.at_datum { &self.near } else { &self.far }
    }

    /// Whether a diameter's dimension line stands to the right of the part.
    fn stands_right(&self, diameter: &Diameter) -> bool {
        diameter.at_datum == self.views.handed
    }

    fn placed(&self, index: usize, diameter: &Diameter) -> Option<Placed> {
        let side = self.side_of(diameter);
        let here = side.of.iter().position(|i| *i == index)?;
        side.placed.get(here).copied()
    }

    fn diameter_x(&self, index: usize, diameter: &Diameter) -> Option<f64> {
        let off = self.side_of(diameter).lines.get(self.placed(index, diameter)?.row)?;
        let (a, b) = (self.x(self.views.along.0), self.x(self.views.along.1));
        Some(if self.stands_right(diameter) { a.max(b) + off } else { a.min(b) - off })
    }

    fn diameter_lines(&self, pen: &mut Pen, ground: &mut Ground) {
        for (index, diameter) in self.views.diameters.iter().enumerate() {
            let (Some(placed), Some(x)) = (self.placed(index, diameter), self.diameter_x(index, diameter)) else { continue };
            let right = self.stands_right(diameter);
            let outward = if right { 1.0 } else { -1.0 };
            let half = diameter.mm / 2.0 * self.per_mm;
            let block = diameter.block_at(self.per_mm);
            let (w, h) = block.size();
            let span = Span { from: -half, to: half, figure: if self.style.aligned { w } else { h }, in_gap: !self.style.aligned };
            let edge = self.x(diameter.z);
            for y in [self.axis - half, self.axis + half] {
                line(pen, ground, (edge + outward * GAP, y), (x + outward * GAP, y), Stroke::Rule);
            }
            let at = placed.figure_at(&span);
            let patch = if self.style.aligned {
                Patch { left: x - 2.0 - h, right: x - 2.0, top: self.axis + at, bottom: self.axis + at + w }
            } else {
                Patch { left: x - w / 2.0, right: x + w / 2.0, top: self.axis + at, bottom: self.axis + at + h }
            };
            let (from, to) = placed.covers(&span);
            let gap = (!self.style.aligned).then_some((patch.top - self.axis - 2.0, patch.bottom - self.axis + 2.0));
            for (a, b) in pieces(from, to, gap, placed.figure) {
                let (a, b) = ((x, self.axis + a), (x, self.axis + b));
                pen.line(a, b, Stroke::Thin);
                ground.firm(a, b);
            }
            arrows(pen, placed, ((x, self.axis - half), (x, self.axis + half)), (0.0, 1.0));
            if self.style.aligned {
                block.draw_up(pen, &patch)
            } else {
                block.draw(pen, patch.left, patch.top)
            }
            ground.word(patch);
        }
    }

    fn length_lines(&self, pen: &mut Pen, ground: &mut Ground) {
        let low = self.axis + self.views.tall / 2.0 * self.per_mm;
        for (length, placed) in self.views.lengths.iter().zip(&self.lengths.placed) {
            let Some(off) = self.lengths.lines.get(placed.row) else { continue };
            let y = low + off;
            let (a, b) = (self.spot(length.from), self.spot(length.to));
            let (w, h) = length.block.size();
            let span = Span { from: a.0.min(b.0), to: a.0.max(b.0), figure: w, in_gap: !self.style.aligned };
            for end in [a, b] {
                line(pen, ground, (end.0, end.1 + GAP), (end.0, y + GAP), Stroke::Rule);
            }
            let at = placed.figure_at(&span);
            let top = if self.style.aligned { y - 2.0 - h } else { y - h / 2.0 };
            let patch = Patch { left: at, right: at + w, top, bottom: top + h };
            let gap = (!self.style.aligned).then_some((patch.left - 2.0, patch.right + 2.0));
            let (from, to) = placed.covers(&span);
            for (a, b) in pieces(from, to, gap, placed.figure) {
                pen.line((a, y), (b, y), Stroke::Thin);
                ground.firm((a, y), (b, y));
            }
            arrows(pen, *placed, ((span.from, y), (span.to, y)), (1.0, 0.0));
            length.block.draw(pen, patch.left, patch.top);
            ground.word(patch);
        }
    }
}

/// Where the figures of a side stand, seen from the part: before their lines, behind them, or in a gap of them.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Beside {
    Before,
    Behind,
    In,
}

impl Side {
    /// Lines of the rows, each far enough out for its thickest figure.
    fn of(of: Vec<usize>, placed: Vec<Placed>, thick: impl Fn(usize) -> f64, figures: Beside) -> Self {
        let rows = placed.iter().map(|placed| placed.row + 1).max().unwrap_or(0);
        let mut at = if rows > 0 { OFF - LINE + AIR } else { 0.0 };
        let mut lines = Vec::new();
        for row in 0..rows {
            let here = placed.iter().zip(&of).filter(|(placed, _)| placed.row == row).map(|(_, i)| thick(*i));
            let thick = here.fold(0.0, f64::max);
            let line = match figures {
                Beside::Before => thick + AIR,
                Beside::Behind => AIR,
                Beside::In => thick / 2.0 + AIR,
            };
            lines.push(at + line);
            at += thick + if figures == Beside::In { 2.0 * AIR } else { AIR };
        }
        let deep = if rows > 0 { at + AIR } else { 0.0 };
        Self { of, placed, lines, deep }
    }
}

fn line(pen: &mut Pen, ground: &mut Ground, from: Point, to: Point, stroke: Stroke) {
    pen.line(from, to, stroke);
    ground.soft(from, to);
}

/// A circle, as lines that no word may stand on.
fn round(ground: &mut Ground, centre: Point, radius: f64) {
    let at = |i: u32| {
        let (x, y) = super::views::at_angle(radius, f64::from(i) * 7.5);
        (centre.0 + x, centre.1 - y)
    };
    (0..48).for_each(|i| ground.soft(at(i), at(i + 1)));
}

/// A dimension line, with a gap for a figure that stands in it.
fn pieces(from: f64, to: f64, gap: Option<(f64, f64)>, figure: Figure) -> Vec<(f64, f64)> {
    let Some((open, close)) = gap else { return vec![(from, to)] };
    match figure {
        Figure::Between | Figure::Squeezed => vec![(from, open), (close, to)],
        Figure::Before => vec![(close, to)],
        Figure::After => vec![(from, open)],
    }
}

/// Arrows at both ends: pointing out from between the extension lines, or in from outside.
fn arrows(pen: &mut Pen, placed: Placed, (from, to): (Point, Point), along: (f64, f64)) {
    let outward = if placed.arrows_inside() { 1.0 } else { -1.0 };
    pen.arrow(from, (-along.0 * outward, -along.1 * outward));
    pen.arrow(to, (along.0 * outward, along.1 * outward));
}

fn said_scale(reduction: f64) -> String {
    let figure = |x: f64| {
        let text = shown_plain(x, 2);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if reduction >= 1.0 { format!("1 : {}", figure(reduction)) } else { format!("{} : 1", figure(1.0 / reduction)) }
}
