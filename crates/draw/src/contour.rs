//! Areas between two levels of a field, and the lines of a level: cut from the triangles between the field's points.

use crate::pen::Point;

/// A field on a grid of places: rows of equal length.
pub(crate) struct Field {
    /// Place and figure of each point.
    pub points: Vec<Vec<(Point, f64)>>,
}

type Corner = (Point, f64);

impl Field {
    /// Least and greatest figure.
    pub fn span(&self) -> (f64, f64) {
        let figures = self.points.iter().flatten().map(|(_, figure)| *figure);
        figures.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)))
    }

    fn cells(&self) -> impl Iterator<Item = Vec<[Corner; 4]>> {
        self.points.windows(2).map(|rows| {
            let pairs = rows[0].windows(2).zip(rows[1].windows(2));
            pairs.map(|(upper, lower)| [upper[0], upper[1], lower[1], lower[0]]).collect()
        })
    }

    /// Areas in which the figure lies from `low` to `high`. Neighbours in a row that lie wholly in it are one area.
    pub fn between(&self, low: f64, high: f64) -> Vec<Vec<Point>> {
        let inside = |cell: &[Corner; 4]| cell.iter().all(|(_, x)| (low..=high).contains(x));
        let mut areas = Vec::new();
        for row in self.cells() {
            let mut run: Option<[Point; 4]> = None;
            for cell in &row {
                if inside(cell) {
                    let [a, b, c, d] = cell.map(|(point, _)| point);
                    run = Some(run.map_or([a, b, c, d], |run| [run[0], b, c, run[3]]));
                    continue;
                }
                areas.extend(run.take().map(Vec::from));
                for triangle in halves(cell) {
                    let cut = under(&over(&triangle, low), high);
                    if cut.len() > 2 {
                        areas.push(cut.into_iter().map(|(point, _)| point).collect());
                    }
                }
            }
            areas.extend(run.map(Vec::from));
        }
        areas
    }

    /// The strokes along which the figure is `level`.
    pub fn at(&self, level: f64) -> Vec<(Point, Point)> {
        let mut strokes = Vec::new();
        for triangle in self.cells().flatten().flat_map(|cell| halves(&cell)) {
            let ends: Vec<Point> = (0..3)
                .filter_map(|i| {
                    let (a, b) = (triangle[i], triangle[(i + 1) % 3]);
                    ((a.1 < level) != (b.1 < level)).then(|| crossing(a, b, level).0)
                })
                .collect();
            if let [from, to] = ends[..] {
                strokes.push((from, to));
            }
        }
        strokes
    }
}

fn halves(cell: &[Corner; 4]) -> [[Corner; 3]; 2] {
    let [a, b, c, d] = *cell;
    [[a, b, c], [a, c, d]]
}

fn crossing(a: Corner, b: Corner, level: f64) -> Corner {
    let share = (level - a.1) / (b.1 - a.1);
    ((a.0.0 + share * (b.0.0 - a.0.0), a.0.1 + share * (b.0.1 - a.0.1)), level)
}

/// What of an outline lies at or over a level.
fn over(outline: &[Corner], level: f64) -> Vec<Corner> {
    kept(outline, level, |x| x >= level)
}

fn under(outline: &[Corner], level: f64) -> Vec<Corner> {
    kept(outline, level, |x| x <= level)
}

fn kept(outline: &[Corner], level: f64, keep: impl Fn(f64) -> bool) -> Vec<Corner> {
    let mut left = Vec::new();
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if keep(a.1) {
            left.push(*a);
        }
        if keep(a.1) != keep(b.1) {
            left.push(crossing(*a, b, level));
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(outline: &[Point]) -> f64 {
        let next = |i: usize| outline[(i + 1) % outline.len()];
        let twice: f64 = outline.iter().enumerate().map(|(i, a)| a.0 * next(i).1 - next(i).0 * a.1).sum();
        twice.abs() / 2.0
    }

    /// A slope from 0 to 10 over 10 x 4: bands of it are as wide as their steps, and together they are the whole.
    #[test]
    fn bands_of_a_slope_are_as_wide_as_their_steps() {
        let points = (0..5).map(|j| (0..11).map(|i| ((f64::from(i), f64::from(j)), f64::from(i))).collect()).collect();
        let field = Field { points };
        let wide = |low: f64, high: f64| field.between(low, high).iter().map(|outline| area(outline)).sum::<f64>();
        for (low, high) in [(0.0, 2.5), (2.5, 7.25), (7.25, 10.0)] {
            assert!((wide(low, high) - 4.0 * (high - low)).abs() < 1e-9, "{low} {high}: {}", wide(low, high));
        }
        assert!(field.at(2.5).iter().all(|(from, to)| from.0 == 2.5 && to.0 == 2.5));
        assert_eq!(field.span(), (0.0, 10.0));
    }
}
