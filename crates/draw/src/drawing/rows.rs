//! Where the dimensions of one side stand: in rows outside the part, short ones nearest, so that no line of a farther one runs through
//! the figure or the line of a nearer one, and figures that don't fit between their arrows stand beside them.
//!
//! All of it happens along one axis; which way that lies on the sheet is left to `lay`.

/// Length of an arrow, units.
pub(crate) const ARROW: f64 = 8.0;
/// A line whose arrows point inward from outside runs on by this much.
const TAIL: f64 = 12.0;
/// Room between neighbours in a row.
const APART: f64 = 8.0;
/// Tries before a side is given up: far more than a bush needs.
const MOST_TRIES: u32 = 400_000;

/// A dimension: its ends along the axis, and the room that its figure takes along it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Span {
    pub from: f64,
    pub to: f64,
    pub figure: f64,
    /// The figure stands in a gap of the line, between its arrows, instead of above it.
    pub in_gap: bool,
}

/// Where the figure stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Figure {
    /// Between the arrows.
    Between,
    /// Between the extension lines, with the arrows outside.
    Squeezed,
    /// Before the first end.
    Before,
    /// After the last end.
    After,
}

/// A dimension in its row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Placed {
    /// Its row, 0 the nearest.
    pub row: usize,
    pub figure: Figure,
}

impl Placed {
    /// All that it covers along the axis: line, arrows and figure.
    pub fn covers(self, span: &Span) -> (f64, f64) {
        match self.figure {
            Figure::Between => (span.from, span.to),
            Figure::Squeezed => (span.from - TAIL, span.to + TAIL),
            Figure::Before => (span.from - TAIL - span.figure - 4.0, span.to + TAIL),
            Figure::After => (span.from - TAIL, span.to + TAIL + span.figure + 4.0),
        }
    }

    /// Where its figure begins.
    pub fn figure_at(self, span: &Span) -> f64 {
        match self.figure {
            Figure::Between | Figure::Squeezed => (span.from + span.to - span.figure) / 2.0,
            Figure::Before => span.from - TAIL - span.figure - 2.0,
            Figure::After => span.to + TAIL + 2.0,
        }
    }

    /// Whether the arrows stand between the extension lines.
    pub fn arrows_inside(self) -> bool {
        self.figure == Figure::Between
    }
}

/// Places every span, within `low` to `high`; none when some has no place. `rows` is the most that there may be. Where it can't be helped,
/// extension lines run over a nearer dimension line, never through its figure.
pub(crate) fn place(spans: &[Span], low: f64, high: f64, rows: usize) -> Option<Vec<Placed>> {
    placed(spans, low, high, rows, false).or_else(|| placed(spans, low, high, rows, true))
}

fn placed(spans: &[Span], low: f64, high: f64, rows: usize, over_lines: bool) -> Option<Vec<Placed>> {
    let mut order: Vec<usize> = (0..spans.len()).collect();
    let long = |i: &usize| spans.get(*i).map_or(0.0, |span| span.to - span.from);
    order.sort_by(|a, b| long(a).total_cmp(&long(b)));
    for most in 1..=rows {
        let mut search = Search { spans, order: &order, low, high, rows: most, over_lines, tries: 0, found: vec![None; spans.len()] };
        if search.from(0) {
            return search.found.into_iter().collect();
        }
    }
    None
}

struct Search<'s> {
    spans: &'s [Span],
    order: &'s [usize],
    low: f64,
    high: f64,
    rows: usize,
    over_lines: bool,
    tries: u32,
    found: Vec<Option<Placed>>,
}

impl Search<'_> {
    /// Places the spans from the `step`th on; the nearest rows and the plainest figures come first.
    fn from(&mut self, step: usize) -> bool {
        let Some(i) = self.order.get(step).copied() else { return true };
        let Some(span) = self.spans.get(i).copied() else { return true };
        for row in 0..self.rows {
            for figure in figures(&span) {
                self.tries += 1;
                if self.tries > MOST_TRIES {
                    return false;
                }
                let placed = Placed { row, figure };
                if self.has_room(i, &span, placed) {
                    self.found[i] = Some(placed);
                    if self.from(step + 1) {
                        return true;
                    }
                    self.found[i] = None;
                }
            }
        }
        false
    }

    fn has_room(&self, i: usize, span: &Span, placed: Placed) -> bool {
        let (from, to) = placed.covers(span);
        if from < self.low || to > self.high {
            return false;
        }
        let others = self.found.iter().zip(self.spans).enumerate().filter(|(j, _)| *j != i);
        others
            .filter_map(|(_, (other, of))| other.map(|other| (other, of)))
            .all(|(other, of)| fits(placed, span, other, of, self.over_lines))
    }
}

/// Ways in which a figure may stand, best first.
fn figures(span: &Span) -> Vec<Figure> {
    let long = span.to - span.from;
    let mut ways = Vec::new();
    let arrows = 2.0 * ARROW + 6.0;
    let room = if span.in_gap { span.figure + arrows } else { f64::max(span.figure + 6.0, arrows) };
    if long >= room {
        ways.push(Figure::Between);
    } else if long >= span.figure + 4.0 {
        ways.push(Figure::Squeezed);
    }
    if ways.first() != Some(&Figure::Between) {
        ways.extend([Figure::After, Figure::Before]);
    }
    ways
}

fn fits(a: Placed, span_a: &Span, b: Placed, span_b: &Span, over_lines: bool) -> bool {
    let ((a_from, a_to), (b_from, b_to)) = (a.covers(span_a), b.covers(span_b));
    let kept_clear = |placed: Placed, span: &Span, covered| {
        let at = placed.figure_at(span);
        if over_lines { (at, at + span.figure) } else { covered }
    };
    match a.row.cmp(&b.row) {
        std::cmp::Ordering::Equal => {
            // A chain: two that share an end, both with their arrows inside.
            let chain = a.arrows_inside() && b.arrows_inside() && (near(a_to, b_from) || near(b_to, a_from));
            chain || a_to + APART <= b_from || b_to + APART <= a_from
        }
        std::cmp::Ordering::Less => passes(span_b, span_a, kept_clear(a, span_a, (a_from, a_to))),
        std::cmp::Ordering::Greater => passes(span_a, span_b, kept_clear(b, span_b, (b_from, b_to))),
    }
}

/// Whether the extension lines of a farther span pass beside a nearer one: they may only touch where both share an end.
fn passes(farther: &Span, nearer: &Span, covered: (f64, f64)) -> bool {
    [farther.from, farther.to]
        .into_iter()
        .all(|end| end <= covered.0 - 3.0 || end >= covered.1 + 3.0 || near(end, nearer.from) || near(end, nearer.to))
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.01
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(from: f64, to: f64, figure: f64) -> Span {
        Span { from, to, figure, in_gap: false }
    }

    #[test]
    fn dimensions_from_one_end_stand_short_ones_nearest() {
        let spans = [span(0.0, 200.0, 60.0), span(0.0, 80.0, 60.0), span(0.0, 120.0, 60.0)];
        let placed = place(&spans, -100.0, 300.0, 5).unwrap();
        assert_eq!(placed.iter().map(|placed| placed.row).collect::<Vec<_>>(), [2, 0, 1]);
    }

    #[test]
    fn a_short_one_has_its_figure_beside_it_and_nothing_runs_through_that() {
        let spans = [span(0.0, 10.0, 60.0), span(0.0, 200.0, 60.0), span(0.0, 60.0, 50.0)];
        let placed = place(&spans, -120.0, 300.0, 5).unwrap();
        assert_eq!(placed[0].figure, Figure::Before, "after it the line at 60 would run through the figure");
    }

    #[test]
    fn two_in_one_row_keep_apart_or_share_an_end() {
        let spans = [span(0.0, 90.0, 60.0), span(90.0, 180.0, 60.0), span(0.0, 180.0, 60.0)];
        let placed = place(&spans, -100.0, 300.0, 5).unwrap();
        assert_eq!((placed[0].row, placed[1].row, placed[2].row), (0, 0, 1));
    }

    #[test]
    fn what_has_no_place_is_said() {
        assert_eq!(place(&[span(0.0, 10.0, 60.0)], -20.0, 30.0, 5), None);
    }
}
