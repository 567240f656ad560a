//! Where marks with a leader stand: near to what they speak of, on free paper, their leaders through no word and over no other leader.

use super::marks::Block;
use crate::pen::{Patch, Pen, Point, Stroke};

/// Levels and steps that are tried around a point.
const LEVELS: usize = 12;
const STEPS: i32 = 30;
const STEP: f64 = 7.0;
/// Length of the level end of a leader.
const STUB: f64 = 8.0;

/// What it costs a leader to run over an edge or an extension line, as so many units of its length.
const OVER_EDGES: f64 = 70.0;

/// A straight line.
pub(crate) type Stretch = (Point, Point);

/// What is on the sheet so far.
#[derive(Clone, Debug)]
pub(crate) struct Ground {
    within: Patch,
    /// Words and frames: nothing covers them and no line runs through them.
    words: Vec<Patch>,
    /// Cut metal: no word stands on it, a leader may run over it.
    metal: Vec<Patch>,
    /// Dimension lines and leaders: no word on them, and no leader crosses them.
    firm: Vec<Stretch>,
    /// Edges, axes and extension lines: no word on them.
    soft: Vec<Stretch>,
}

impl Ground {
    pub const fn new(within: Patch) -> Self {
        Self { within, words: Vec::new(), metal: Vec::new(), firm: Vec::new(), soft: Vec::new() }
    }

    pub fn word(&mut self, patch: Patch) {
        self.words.push(patch);
    }

    pub fn metal(&mut self, patch: Patch) {
        self.metal.push(patch);
    }

    pub fn firm(&mut self, from: Point, to: Point) {
        self.firm.push((from, to));
    }

    pub fn soft(&mut self, from: Point, to: Point) {
        self.soft.push((from, to));
    }

    /// Whether a word may stand there.
    pub fn is_free(&self, patch: &Patch) -> bool {
        let w = &self.within;
        let wide = patch.grown(3.0);
        patch.left >= w.left
            && patch.right <= w.right
            && patch.top >= w.top
            && patch.bottom <= w.bottom
            && !self.words.iter().chain(&self.metal).any(|other| other.meets(&wide))
            && !self.firm.iter().chain(&self.soft).any(|line| cuts(&wide, line))
    }

    fn runs_over_edges(&self, leader: &[Stretch]) -> bool {
        leader.iter().any(|line| self.soft.iter().any(|other| meet(line, other)))
    }

    /// Whether a leader may run there, as far as words go: it keeps off them, and inside the sheet.
    fn is_open(&self, leader: &[Stretch]) -> bool {
        leader.iter().all(|line| {
            let w = &self.within;
            let inside = |p: Point| p.0 >= w.left && p.0 <= w.right && p.1 >= w.top && p.1 <= w.bottom;
            inside(line.0) && inside(line.1) && !self.words.iter().any(|word| cuts(&word.grown(1.5), line))
        })
    }

    /// Whether a leader crosses a dimension line or another leader.
    fn crosses(&self, leader: &[Stretch]) -> bool {
        leader.iter().any(|line| self.firm.iter().any(|other| meet(line, other)))
    }
}

/// Which way a mark is looked for from its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    Up,
    Down,
}

/// How a leader ends on the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// With an arrow, on an edge or in line with a dimension.
    Arrow,
    /// With a filled triangle: a datum.
    Datum,
    /// With nothing, on a line that has an arrow of its own.
    Plain,
}

/// A mark with the points that it may be led to, best first.
#[derive(Clone, Debug)]
pub(crate) struct Callout {
    pub block: Block,
    pub at: Vec<(Point, Way)>,
    pub end: End,
    /// The leader begins in line with a dimension line.
    pub in_line: bool,
}

/// A place that is tried: what it costs, where the mark would stand, how its leader runs.
struct Try {
    cost: f64,
    patch: Patch,
    leader: Vec<Point>,
}

/// Draws a mark at the nearest free place, with a steep leader rather than a flat one; says whether there was one.
///
/// A leader that runs over an edge or an extension line is only taken where every other would be much longer.
pub(crate) fn write(pen: &mut Pen, ground: &mut Ground, callout: &Callout) -> bool {
    let tries = tries(callout);
    let free = |a: &&Try| {
        let lines = clear_of_start(&a.leader);
        let own = lines.iter().any(|line| cuts(&a.patch, line));
        // In line with a dimension it begins at the end of a firm line; elsewhere all of it counts.
        let crosses = if callout.in_line { ground.crosses(&lines) } else { ground.crosses(&stretches(&a.leader)) };
        !own && !crosses && ground.is_free(&a.patch) && ground.is_open(&lines)
    };
    // Cheapest first: the first that keeps off the edges is taken, unless one over them is cheaper by more than that is worth.
    let mut best: Option<&Try> = None;
    for a in tries.iter().filter(free) {
        if !ground.runs_over_edges(&clear_of_start(&a.leader)) {
            best = best.filter(|over| over.cost + OVER_EDGES < a.cost).or(Some(a));
            break;
        }
        best = best.or(Some(a));
    }
    let Some(found) = best else { return false };
    finish(pen, ground, callout, &found.patch, &found.leader);
    true
}

fn tries(callout: &Callout) -> Vec<Try> {
    let (wide, high) = callout.block.size();
    let on_line = callout.block.stands_on_its_line();
    let steps = if callout.at.len() > 8 { STEPS / 2 } else { STEPS };
    let mut tries = Vec::new();
    for (rank, (point, way)) in callout.at.iter().enumerate() {
        for (turned, up) in [(false, *way == Way::Up), (true, *way != Way::Up)] {
            if turned && callout.in_line {
                continue;
            }
            for level in 0..LEVELS {
                for step in -steps..=steps {
                    let rise = 14.0 + level as f64 * 11.0;
                    let top = if up { point.1 - rise - high } else { point.1 + rise };
                    let shift = f64::from(step) * STEP;
                    let left = if step >= 0 { point.0 + STUB + 6.0 + shift } else { point.0 - STUB - 6.0 - wide + shift + STEP };
                    let patch = Patch { left, top, right: left + wide, bottom: top + high };
                    let leader = leader(*point, &patch, on_line, callout.in_line.then_some(up));
                    let cost = cost(&leader) + 3.0 * rank.min(12) as f64 + if turned { 70.0 } else { 0.0 };
                    tries.push(Try { cost, patch, leader });
                }
            }
        }
    }
    tries.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    tries
}

/// Its length, and more for what is level in it.
fn cost(leader: &[Point]) -> f64 {
    stretches(leader).iter().map(|(a, b)| length(*a, *b) + 0.7 * (a.0 - b.0).abs()).sum()
}

/// From the point to the near side of the mark, level at its end. In line with a dimension it first runs on along that, `up` or down.
fn leader(point: Point, patch: &Patch, on_line: bool, in_line: Option<bool>) -> Vec<Point> {
    let y = if on_line { patch.bottom + 2.0 } else { (patch.top + patch.bottom) / 2.0 };
    let from_left = point.0 <= (patch.left + patch.right) / 2.0;
    let mut leader = vec![point];
    if let Some(up) = in_line {
        leader.push((point.0, point.1 + if up { -12.0 } else { 12.0 }));
    }
    leader.extend(match (on_line, from_left) {
        (false, true) => [(patch.left - 1.0 - STUB, y), (patch.left - 1.0, y)],
        (false, false) => [(patch.right + 1.0 + STUB, y), (patch.right + 1.0, y)],
        (true, true) => [(patch.left - 4.0, y), (patch.right, y)],
        (true, false) => [(patch.right + 4.0, y), (patch.left, y)],
    });
    leader
}

fn stretches(points: &[Point]) -> Vec<Stretch> {
    points
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => Some((*a, *b)),
            _ => None,
        })
        .collect()
}

/// Distance of two points.
fn length(a: Point, b: Point) -> f64 {
    (calc::math::sq(a.0 - b.0) + calc::math::sq(a.1 - b.1)).sqrt()
}

/// The leader without its first two units, which lie on what it points at.
fn clear_of_start(points: &[Point]) -> Vec<Stretch> {
    let mut lines = stretches(points);
    if let Some((from, to)) = lines.first_mut() {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let long = length(*from, *to).max(1e-9);
        let share = (2.0 / long).min(1.0);
        *from = (from.0 + dx * share, from.1 + dy * share);
    }
    lines
}

fn finish(pen: &mut Pen, ground: &mut Ground, callout: &Callout, patch: &Patch, leader: &[Point]) {
    pen.path(leader, false, Stroke::Thin);
    if let [tip, next, ..] = leader {
        let (dx, dy) = (tip.0 - next.0, tip.1 - next.1);
        let long = length(*tip, *next).max(1e-9);
        match callout.end {
            End::Arrow => pen.arrow(*tip, (dx / long, dy / long)),
            End::Datum => pen.foot(*tip, (dx / long, dy / long)),
            End::Plain => {}
        }
    }
    callout.block.draw(pen, patch.left, patch.top);
    ground.word(*patch);
    for line in stretches(leader) {
        ground.firm(line.0, line.1);
    }
}

/// Whether a line runs through a patch.
fn cuts(patch: &Patch, line: &Stretch) -> bool {
    // Liang and Barsky: the stretch of the line between the patch's four sides.
    let ((x0, y0), (x1, y1)) = *line;
    let (dx, dy) = (x1 - x0, y1 - y0);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-dx, x0 - patch.left), (dx, patch.right - x0), (-dy, y0 - patch.top), (dy, patch.bottom - y0)] {
        if p == 0.0 {
            if q <= 0.0 {
                return false;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    enter < leave
}

/// Whether two lines cross or touch.
fn meet(a: &Stretch, b: &Stretch) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0);
    let (s1, s2) = (side(a.0, a.1, b.0), side(a.0, a.1, b.1));
    let (s3, s4) = (side(b.0, b.1, a.0), side(b.0, b.1, a.1));
    if s1.abs() < 1e-9 && s2.abs() < 1e-9 {
        let overlap = |a: (f64, f64), b: (f64, f64)| a.0.min(a.1) < b.0.max(b.1) && b.0.min(b.1) < a.0.max(a.1);
        return overlap((a.0.0, a.1.0), (b.0.0, b.1.0)) || overlap((a.0.1, a.1.1), (b.0.1, b.1.1));
    }
    s1 * s2 <= 0.0 && s3 * s4 <= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_a_patch_is_seen_and_one_beside_it_is_not() {
        let patch = Patch { left: 10.0, top: 10.0, right: 20.0, bottom: 20.0 };
        for (line, cut) in [
            (((0.0, 15.0), (30.0, 15.0)), true),
            (((0.0, 0.0), (30.0, 30.0)), true),
            (((0.0, 25.0), (30.0, 25.0)), false),
            (((12.0, 12.0), (14.0, 14.0)), true),
            (((0.0, 15.0), (9.0, 15.0)), false),
        ] {
            assert_eq!(cuts(&patch, &line), cut, "{line:?}");
        }
    }

    #[test]
    fn crossing_lines_meet_and_parallel_ones_do_not() {
        assert!(meet(&((0.0, 0.0), (10.0, 10.0)), &((0.0, 10.0), (10.0, 0.0))));
        assert!(!meet(&((0.0, 0.0), (10.0, 0.0)), &((0.0, 1.0), (10.0, 1.0))));
        assert!(meet(&((0.0, 0.0), (10.0, 0.0)), &((5.0, 0.0), (15.0, 0.0))));
    }

    #[test]
    fn a_mark_takes_the_nearest_place_and_the_next_keeps_clear_of_it() {
        let mut ground = Ground::new(Patch { left: 0.0, top: 0.0, right: 400.0, bottom: 300.0 });
        let mut pen = Pen::new();
        let mark =
            |x: f64| Callout { block: Block::text(&["a note".into()]), at: vec![((x, 200.0), Way::Up)], end: End::Arrow, in_line: false };
        // Closer together than the marks are wide, so that each must go round the ones before.
        let points: Vec<f64> = (0..6).map(|i| 120.0 + 25.0 * f64::from(i)).collect();
        for x in &points {
            assert!(write(&mut pen, &mut ground, &mark(*x)), "{x}");
        }
        for (i, a) in ground.words.iter().enumerate() {
            assert!(ground.words.iter().skip(i + 1).all(|b| !a.meets(b)));
            assert!(!ground.firm.iter().any(|line| cuts(a, line)), "a leader runs through the mark {i}");
        }
        let first = &ground.words[0];
        assert!(first.bottom <= 200.0 && first.bottom > 180.0, "the nearest level above was free: {first:?}");
        assert!(!write(&mut pen, &mut ground, &mark(points[0])), "two leaders never meet, not even at their ends");
    }
}
