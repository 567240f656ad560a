//! A part that cools: readings against time, the curve through them, where it settles, and when that is known.
//!
//! Every figure is one that `cooldown` gave. The scale follows the readings and what was asked: a settled size that is hardly known yet
//! runs out of the picture at its edges rather than flattening the readings.

use calc::quantity::Quantity;
use calc::shown;
use calc::turn::{Cooldown, CooldownAnswer};

use job::sheet::Grid;
use serde_json::Value;

use crate::axis::Axis;
use crate::clock::Clock;
use crate::frame::number;
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

/// What `cooldown` takes where the request does not say: doubt of a reading, and the half-width that is wanted, mm.
const READING_U_MM: f64 = 0.003;
const WANTED_U_MM: f64 = 0.005;
/// An interval of the settled size wider than so many times what is read runs out of the picture.
const MOST_OVER: f64 = 1.5;

/// What is drawn of a cooling part.
#[derive(Clone, Debug, PartialEq)]
pub struct Cooling {
    /// Time, s, and size, mm, of each reading with its uncertainty.
    pub readings: Vec<(f64, Quantity)>,
    /// Time, s, and size, mm, of the curve.
    pub curve: Vec<(f64, Quantity)>,
    /// The settled size, mm.
    pub settled: Quantity,
    /// Ends of its 95 % interval, mm.
    pub settled_low_mm: f64,
    /// Upper end.
    pub settled_high_mm: f64,
    /// The half-width that was asked, mm.
    pub wanted_U_mm: f64,
    /// When to read again, s; none when the settled size is known.
    pub next_s: Option<f64>,
    /// How many readings it takes from there; none when it is known, or when it is too many to count.
    pub readings_needed: Option<u32>,
}

impl Cooling {
    /// A request of `cooldown` and its answer.
    pub fn of(request: &Cooldown, answer: &CooldownAnswer) -> Self {
        let read = |reading: &calc::turn::CoolReading| (reading.t_s, Quantity::with_u(reading.reading_mm, request.reading_u_mm));
        let along = |point: &calc::turn::CurvePoint| (point.t_s, Quantity::with_u(point.size_mm, point.u));
        Self {
            readings: request.readings.iter().map(read).collect(),
            curve: answer.curve.iter().map(along).collect(),
            settled: Quantity::with_u(answer.settled_mm.value, answer.settled_mm.u.unwrap_or(0.0)),
            settled_low_mm: answer.settled_low_mm,
            settled_high_mm: answer.settled_high_mm,
            wanted_U_mm: request.wanted_U_mm,
            next_s: answer.next_reading_s,
            readings_needed: answer.readings_needed,
        }
    }
}

impl Cooling {
    /// A request of `cooldown` and its answer, as they stand on a sheet; none where a figure is missing.
    pub fn read(request: &Value, answer: &Value) -> Option<Self> {
        let reading_u = number(request, "/reading_u_mm").unwrap_or(READING_U_MM);
        let read = |reading: &Value| Some((number(reading, "/t_s")?, Quantity::with_u(number(reading, "/reading_mm")?, reading_u)));
        let along = |point: &Value| Some((number(point, "/t_s")?, Quantity::with_u(number(point, "/size_mm")?, number(point, "/u")?)));
        let settled_u = number(answer, "/settled_mm/u").unwrap_or(0.0);
        Some(Self {
            readings: request.get("readings")?.as_array()?.iter().map(read).collect::<Option<_>>()?,
            curve: answer.get("curve")?.as_array()?.iter().map(along).collect::<Option<_>>()?,
            settled: Quantity::with_u(number(answer, "/settled_mm")?, settled_u),
            settled_low_mm: number(answer, "/settled_low_mm")?,
            settled_high_mm: number(answer, "/settled_high_mm")?,
            wanted_U_mm: number(request, "/wanted_U_mm").unwrap_or(WANTED_U_MM),
            next_s: number(answer, "/next_reading_s"),
            readings_needed: answer.get("readings_needed").and_then(Value::as_u64).and_then(|n| u32::try_from(n).ok()),
        })
    }
}

impl Cooling {
    fn is_whole(&self) -> bool {
        let marks = self.readings.iter().chain(&self.curve).flat_map(|(t_s, size)| [*t_s, size.value, size.u]);
        let settled = [self.settled.value, self.settled.u, self.settled_low_mm, self.settled_high_mm, self.wanted_U_mm];
        !self.readings.is_empty() && marks.chain(settled).chain(self.next_s).all(f64::is_finite)
    }
}

/// Draws a cooling part.
pub fn cooldown(cooling: &Cooling, setting: &Setting) -> Drawing {
    let title = "Cooling: where the size settles";
    match Chart::new(cooling, setting) {
        Some(chart) => chart.draw(title),
        None => refused(setting.width(), title, "There are no readings, or a figure is missing."),
    }
}

struct Chart<'c> {
    cooling: &'c Cooling,
    setting: &'c Setting,
    plot: Patch,
    across: Axis,
    up: Axis,
    clock: Clock,
    last_s: f64,
}

fn ends(quantity: &Quantity) -> (f64, f64) {
    let half = shown::half_width_95(quantity);
    (quantity.value - half, quantity.value + half)
}

fn span(figures: impl Iterator<Item = f64>) -> (f64, f64) {
    figures.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), figure| (low.min(figure), high.max(figure)))
}

/// Least and greatest size that are shown, mm.
fn sizes(cooling: &Cooling) -> (f64, f64) {
    let read = cooling.readings.iter().flat_map(|(_, size)| <[f64; 2]>::from(ends(size)));
    let along = cooling.curve.iter().map(|(_, size)| size.value);
    let asked = [cooling.settled.value - cooling.wanted_U_mm, cooling.settled.value + cooling.wanted_U_mm];
    let (low, high) = span(read.chain(along).chain(asked));
    let most = MOST_OVER * (high - low);
    let low = low.min(cooling.settled_low_mm.max(low - most));
    let high = high.max(cooling.settled_high_mm.min(high + most));
    calc::band::frame(low, high, 0.04, 1e-6)
}

impl<'c> Chart<'c> {
    fn new(cooling: &'c Cooling, setting: &'c Setting) -> Option<Self> {
        if !cooling.is_whole() {
            return None;
        }
        let (start_s, _) = cooling.curve.first().or_else(|| cooling.readings.first())?;
        let (last_s, _) = cooling.readings.last()?;
        let (_, end_s) = span(cooling.curve.iter().chain(&cooling.readings).map(|(t_s, _)| *t_s).chain(cooling.next_s));
        let (low, high) = sizes(cooling);
        let (top, height) = (40.0, if setting.narrow() { 230.0 } else { 290.0 });
        let in_system = |mm: f64| setting.system.from_mm(mm);
        let up = Axis::new(in_system(low), in_system(high), top + height, top)?;
        let widest = up.ticks(34.0).iter().map(|(_, text)| Letters::Small.width(text)).fold(30.0, f64::max);
        let plot = Patch { left: widest + 14.0, top, right: setting.width() - 16.0, bottom: top + height };
        let clock = Clock::up_to(end_s);
        // A margin, so that the first and the last mark stand clear of the frame.
        let (from, to) = calc::band::frame(*start_s, end_s, 0.02, 60.0);
        let across = Axis::new(clock.of(from), clock.of(to), plot.left, plot.right)?;
        Some(Self { cooling, setting, plot, across, up, clock, last_s: *last_s })
    }

    fn x(&self, t_s: f64) -> f64 {
        self.across.held(self.clock.of(t_s))
    }

    fn y(&self, mm: f64) -> f64 {
        self.up.at(self.setting.system.from_mm(mm))
    }

    fn held(&self, mm: f64) -> f64 {
        self.y(mm).clamp(self.plot.top, self.plot.bottom)
    }

    fn draw(&self, title: &str) -> Drawing {
        let mut pen = Pen::new();
        let mut room = Room::new(Patch { left: self.plot.left + 1.0, right: self.plot.right - 1.0, ..self.plot });
        self.settled(&mut pen, &mut room);
        self.axes(&mut pen);
        self.along(&mut pen, &mut room);
        self.read(&mut pen, &mut room);
        self.moment(&mut pen);
        self.write_settled(&mut pen, &mut room);
        self.write_moment(&mut pen, &mut room);
        let y = self.key(&mut pen);
        pen.finish(self.setting.width(), y, title, &self.description(), self.table())
    }

    fn settled(&self, pen: &mut Pen, room: &mut Room) {
        let (left, right) = (self.plot.left, self.plot.right);
        let (top, bottom) = (self.held(self.cooling.settled_high_mm), self.held(self.cooling.settled_low_mm));
        pen.patch(&Patch { left, top, right, bottom }, Tint::Strip);
        for edge_mm in [self.cooling.settled_low_mm, self.cooling.settled_high_mm] {
            if (self.plot.top..=self.plot.bottom).contains(&self.y(edge_mm)) {
                pen.line((left, self.y(edge_mm)), (right, self.y(edge_mm)), Stroke::Thin);
            }
        }
        let y = self.y(self.cooling.settled.value);
        pen.line((left, y), (right, y), Stroke::Thin);
        room.take(Patch { left, top: y - 1.0, right, bottom: y + 1.0 });
        for asked in [-self.cooling.wanted_U_mm, self.cooling.wanted_U_mm] {
            let y = self.y(self.cooling.settled.value + asked);
            pen.line((left, y), (right, y), Stroke::Dashed);
            room.take(Patch { left, top: y - 1.0, right, bottom: y + 1.0 });
        }
    }

    fn axes(&self, pen: &mut Pen) {
        let plot = &self.plot;
        pen.path(&[(plot.left, plot.top), (plot.right, plot.top), (plot.right, plot.bottom), (plot.left, plot.bottom)], true, Stroke::Thin);
        for (x, text) in self.across.ticks(48.0) {
            pen.line((x, plot.bottom), (x, plot.bottom + 5.0), Stroke::Thin);
            pen.text(x, plot.bottom + 18.0, Held::Middle, Letters::Small, &text);
        }
        for (y, text) in self.up.ticks(34.0) {
            pen.line((plot.left - 5.0, y), (plot.left, y), Stroke::Thin);
            pen.text(plot.left - 8.0, y + 4.0, Held::Right, Letters::Small, &text);
        }
        pen.text(4.0, 16.0, Held::Left, Letters::Plain, &format!("size, {}", self.setting.system.length()));
        pen.text(plot.right, plot.bottom + 36.0, Held::Right, Letters::Plain, &format!("time, {}", self.clock.unit));
    }

    /// The curve and the ends of its 95 % interval, where they lie in the picture.
    fn along(&self, pen: &mut Pen, room: &mut Room) {
        let line = |of: &dyn Fn(&Quantity) -> f64| -> Vec<Point> {
            self.cooling.curve.iter().map(|(t_s, size)| (self.x(*t_s), self.y(of(size)))).collect()
        };
        for piece in self.inside(&line(&|size| size.value)) {
            for (x, y) in &piece {
                room.take(Patch { left: x - 2.0, right: x + 2.0, top: y - 2.0, bottom: y + 2.0 });
            }
            pen.path(&piece, false, Stroke::Curve);
        }
        for edge in [line(&|size| ends(size).0), line(&|size| ends(size).1)] {
            for piece in self.inside(&edge) {
                for (x, y) in &piece {
                    room.take(Patch { left: x - 1.0, right: x + 1.0, top: y - 1.0, bottom: y + 1.0 });
                }
                pen.path(&piece, false, Stroke::Faint);
            }
        }
    }

    /// The pieces of a line that lie in the picture, cut at its upper and lower edge.
    fn inside(&self, line: &[Point]) -> Vec<Vec<Point>> {
        let within = |y: f64| (self.plot.top..=self.plot.bottom).contains(&y);
        let mut pieces: Vec<Vec<Point>> = vec![Vec::new()];
        for pair in line.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let crossing = |edge: f64| {
                let share = (edge - from.1) / (to.1 - from.1);
                (share > 0.0 && share < 1.0).then_some((from.0 + share * (to.0 - from.0), edge))
            };
            let mut points: Vec<Point> = [crossing(self.plot.top), crossing(self.plot.bottom)].into_iter().flatten().collect();
            points.push(from);
            points.push(to);
            points.retain(|(_, y)| within(*y));
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            if let (Some(piece), true) = (pieces.last_mut(), points.len() > 1) {
                let seen = usize::from(piece.last() == points.first());
                piece.extend(points.into_iter().skip(seen));
            }
            if !within(to.1) {
                pieces.push(Vec::new());
            }
        }
        pieces
    }

    fn read(&self, pen: &mut Pen, room: &mut Room) {
        for (t_s, size) in &self.cooling.readings {
            let (x, (low, high)) = (self.x(*t_s), ends(size));
            let (bottom, top) = (self.held(low), self.held(high));
            bar(pen, (x, top), (x, bottom), Stroke::Thin);
            pen.dot((x, self.y(size.value)), 2.6, Tint::Ink);
            room.take(Patch { left: x - 4.0, right: x + 4.0, top, bottom });
        }
    }

    /// The moment when the settled size is, or will be, known: time and word.
    const fn known(&self) -> (f64, &'static str) {
        match self.cooling.next_s {
            Some(next_s) => (next_s, "read again"),
            None => (self.last_s, "known"),
        }
    }

    fn moment(&self, pen: &mut Pen) {
        let x = self.x(self.known().0);
        pen.line((x, self.plot.top), (x, self.plot.bottom), Stroke::Centre);
    }

    fn write_settled(&self, pen: &mut Pen, room: &mut Room) {
        let text = format!("settles at {}", shown::size(&self.cooling.settled, self.setting.system));
        let middle = self.y(self.cooling.settled.value);
        let asked = (middle - self.y(self.cooling.settled.value + self.cooling.wanted_U_mm)).abs();
        // Near its line where there is room, else in the clear corner above the curve.
        let near = [16.0, 32.0, 48.0, 72.0].into_iter().flat_map(|by| [middle + asked + by, middle - asked - by + 8.0]);
        let above = [32.0, 50.0, 68.0, 14.0].map(|down| self.plot.top + down);
        let spots: Vec<(f64, f64, Held)> = near
            .flat_map(|y| [(self.plot.right - 6.0, y, Held::Right), (self.plot.left + 6.0, y, Held::Left)])
            .chain(above.map(|y| (self.plot.right - 6.0, y, Held::Right)))
            .collect();
        room.write(pen, &spots, Letters::Strong, &text);
    }

    fn write_moment(&self, pen: &mut Pen, room: &mut Room) {
        let (t_s, word) = self.known();
        let x = self.x(t_s);
        let text = format!("{word}: {}", self.clock.words(t_s));
        let heights = [14.0, 32.0, 50.0, 68.0, 200.0].map(|down| self.plot.top + down);
        let spots: Vec<(f64, f64, Held)> =
            heights.into_iter().flat_map(|y| [(x - 6.0, y, Held::Right), (x + 6.0, y, Held::Left)]).collect();
        room.write(pen, &spots, Letters::Strong, &text);
    }

    fn key(&self, pen: &mut Pen) -> f64 {
        let (width, system) = (self.setting.width() - 62.0, self.setting.system);
        let cooling = self.cooling;
        let mut y = self.plot.bottom + 58.0;
        bar(pen, (26.0, y - 10.0), (26.0, y + 2.0), Stroke::Thin);
        pen.dot((26.0, y - 4.0), 2.6, Tint::Ink);
        y = paragraph(pen, 50.0, y, width, Letters::Small, "a reading with its 95 % interval") + 3.0;
        pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Curve);
        y = paragraph(pen, 50.0, y, width, Letters::Small, "the size as it cools") + 3.0;
        pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Faint);
        y = paragraph(pen, 50.0, y, width, Letters::Small, "ends of its 95 % interval") + 3.0;
        let swatch = Patch { left: 12.0, top: y - 10.0, right: 40.0, bottom: y + 2.0 };
        pen.patch(&swatch, Tint::Strip);
        pen.line((swatch.left, swatch.top), (swatch.right, swatch.top), Stroke::Thin);
        pen.line((swatch.left, swatch.bottom), (swatch.right, swatch.bottom), Stroke::Thin);
        let interval = shown::lengths(cooling.settled_low_mm, cooling.settled_high_mm, 3, system);
        y = paragraph(pen, 50.0, y, width, Letters::Small, &format!("where it settles (95 %), at the air's temperature: {interval}")) + 3.0;
        pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Dashed);
        y = paragraph(pen, 50.0, y, width, Letters::Small, &format!("asked: ± {} about it", self.wanted())) + 3.0;
        pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Centre);
        paragraph(pen, 50.0, y, width, Letters::Small, &self.verdict()) + 3.0
    }

    fn wanted(&self) -> String {
        shown::fine(calc::units::um_from_mm(self.cooling.wanted_U_mm), self.setting.system)
    }

    fn verdict(&self) -> String {
        match (self.cooling.next_s, self.cooling.readings_needed) {
            (None, _) => format!("known as well as was asked with the reading at {}", self.clock.words(self.last_s)),
            (Some(next_s), Some(1)) => format!("read again at {}: one reading then is enough", self.clock.words(next_s)),
            (Some(next_s), Some(count)) => format!("read again at {}: {count} such readings are needed", self.clock.words(next_s)),
            (Some(next_s), None) => {
                format!("read again at {}: but with this gauge it takes too many readings to count", self.clock.words(next_s))
            }
        }
    }

    fn description(&self) -> String {
        let (cooling, system) = (self.cooling, self.setting.system);
        let first = cooling.readings.first().map_or(String::new(), |(_, size)| shown::length(size.value, 3, system));
        let last = cooling.readings.last().map_or(String::new(), |(_, size)| shown::length(size.value, 3, system));
        format!(
            "{} readings over {}, from {first} to {last}. The size settles at {} (95 %); asked were ± {}. In short: {}.",
            cooling.readings.len(),
            self.clock.words(self.last_s - cooling.readings.first().map_or(0.0, |(t_s, _)| *t_s)),
            shown::size(&cooling.settled, system),
            self.wanted(),
            self.verdict()
        )
    }

    fn table(&self) -> Grid {
        let system = self.setting.system;
        let row = |what: &str, t_s: Option<f64>, size: &Quantity| {
            vec![what.to_owned(), t_s.map(|t_s| self.clock.bare(t_s)).unwrap_or_default(), shown::size(size, system)]
        };
        let read = self.cooling.readings.iter().map(|(t_s, size)| row("reading", Some(*t_s), size));
        let settled = row("settled, 95 %", None, &self.cooling.settled);
        let asked = vec!["asked".into(), String::new(), format!("± {}", self.wanted())];
        let moment = match self.cooling.next_s {
            Some(next_s) => vec!["read again".into(), self.clock.bare(next_s), String::new()],
            None => vec!["known".into(), self.clock.bare(self.last_s), String::new()],
        };
        Grid {
            title: "Readings of the cooling part".into(),
            columns: vec!["what".into(), format!("time, {}", self.clock.unit), "size".into()],
            figures: vec![false, true, true],
            rows: read.chain([settled, asked, moment]).collect(),
        }
    }
}

/// An upright or level bar with a cap at each end.
pub(crate) fn bar(pen: &mut Pen, from: Point, to: Point, stroke: Stroke) {
    let upright = from.0 == to.0;
    let cap = |(x, y): Point| if upright { ((x - 3.0, y), (x + 3.0, y)) } else { ((x, y - 3.0), (x, y + 3.0)) };
    pen.line(from, to, stroke);
    pen.strokes(&[cap(from), cap(to)], Stroke::Thin);
}
