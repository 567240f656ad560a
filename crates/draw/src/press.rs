//! Force against travel at the press: what to expect as a band, the force at which to stop and look, and what was read.
//!
//! Every figure is one that `press` gave or that a person read.

use calc::shown;
use serde_json::Value;

use job::sheet::Grid;

use crate::frame::{Frame, key_stroke, number};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

const TITLE: &str = "Force against travel";

/// Force at one travel, kN and mm.
struct At {
    travel_mm: f64,
    low_kN: f64,
    mid_kN: f64,
    high_kN: f64,
    stop_kN: f64,
}

/// What is drawn of a press.
struct Pressing {
    force: Vec<At>,
    /// Travel and force as read.
    readings: Vec<(f64, f64)>,
}

impl Pressing {
    fn read(request: &Value, answer: &Value) -> Option<Self> {
        let at = |row: &Value| {
            Some(At {
                travel_mm: number(row, "/travel_mm")?,
                low_kN: number(row, "/low_kN")?,
                mid_kN: number(row, "/mid_kN")?,
                high_kN: number(row, "/high_kN")?,
                stop_kN: number(row, "/stop_kN")?,
            })
        };
        let force: Vec<At> = answer.get("force")?.as_array()?.iter().map(at).collect::<Option<_>>()?;
        let reading = |row: &Value| Some((number(row, "/travel_mm")?, number(row, "/force_kN")?));
        let readings = request.get("readings").and_then(Value::as_array).into_iter().flatten().filter_map(reading).collect();
        (force.len() > 1).then_some(Self { force, readings })
    }
}

/// Draws a request of `press` and its answer.
pub fn press(request: &Value, answer: &Value, setting: &Setting) -> Drawing {
    match Pressing::read(request, answer).and_then(|pressing| Chart::new(pressing, setting)) {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "The forces along the travel are missing."),
    }
}

struct Chart<'s> {
    pressing: Pressing,
    setting: &'s Setting,
    frame: Frame,
}

impl<'s> Chart<'s> {
    fn new(pressing: Pressing, setting: &'s Setting) -> Option<Self> {
        let last = pressing.force.last()?;
        let far = pressing.readings.iter().map(|(mm, _)| *mm).fold(last.travel_mm, f64::max);
        let most = pressing.readings.iter().map(|(_, kN)| *kN).fold(last.stop_kN, f64::max);
        let height = if setting.narrow() { 230.0 } else { 280.0 };
        let across = (0.0, setting.system.from_mm(far) * 1.02);
        let frame = Frame::new(setting.width(), across, (0.0, shown::force_figure(most, setting.system) * 1.06), (40.0, height))?;
        Some(Self { pressing, setting, frame })
    }

    fn figure(&self, travel_mm: f64, kN: f64) -> (f64, f64) {
        (self.setting.system.from_mm(travel_mm), shown::force_figure(kN, self.setting.system))
    }

    fn place(&self, travel_mm: f64, kN: f64) -> Point {
        let (x, y) = self.figure(travel_mm, kN);
        (self.frame.x(x), self.frame.y(y))
    }

    fn draw(&self) -> Drawing {
        let (mut pen, mut room) = (Pen::new(), self.frame.room());
        let force = &self.pressing.force;
        let over = force.iter().map(|at| self.place(at.travel_mm, at.high_kN));
        let under = force.iter().rev().map(|at| self.place(at.travel_mm, at.low_kN));
        let band: Vec<Point> = over.chain(under).collect();
        pen.area(&band, Tint::Range);
        pen.path(&band, true, Stroke::Thin);
        self.frame.draw(
            &mut pen,
            &format!("travel from first touch, {}", self.setting.system.length()),
            &format!("force, {}", shown::force_unit(self.setting.system)),
        );
        for (of, stroke) in [(At::mid as fn(&At) -> f64, Stroke::Outline), (At::stop, Stroke::Needs)] {
            let curve: Vec<(f64, f64)> = force.iter().map(|at| self.figure(at.travel_mm, of(at))).collect();
            self.frame.curve(&mut pen, &mut room, &curve, stroke);
        }
        for (travel_mm, kN) in &self.pressing.readings {
            let (x, y) = self.place(*travel_mm, *kN);
            pen.dot((x, y), 4.0, Tint::Ink);
            room.take(Patch { left: x - 5.0, right: x + 5.0, top: y - 5.0, bottom: y + 5.0 });
        }
        self.words(&mut pen, &mut room);
        let y = self.key(&mut pen);
        pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table())
    }

    fn words(&self, pen: &mut Pen, room: &mut Room) {
        let Some(last) = self.pressing.force.last() else { return };
        let plot = &self.frame.plot;
        let mut write = |kN: f64, letters, text: &str| {
            let (x, y) = self.place(last.travel_mm, kN);
            let lefts = [6.0, 60.0, 120.0, 180.0];
            let spots: Vec<(f64, f64, Held)> = lefts
                .into_iter()
                .flat_map(|left| [-8.0, 18.0, -26.0].map(|down| ((x - left).min(plot.right - 6.0), y + down, Held::Right)))
                .collect();
            room.write(pen, &spots, letters, text);
        };
        let force = |kN| shown::force(kN, self.setting.system);
        write(last.stop_kN, Letters::Call, &format!("stop and look at {}", force(last.stop_kN)));
        write(last.mid_kN, Letters::Strong, &format!("{} expected", force(last.mid_kN)));
    }

    fn key(&self, pen: &mut Pen) -> f64 {
        let width = self.setting.width();
        let mut y = self.frame.plot.bottom + 58.0;
        y = key_stroke(pen, y, width, Stroke::Outline, "the force to expect");
        let swatch = Patch { left: 12.0, top: y - 10.0, right: 40.0, bottom: y + 2.0 };
        pen.patch(&swatch, Tint::Range);
        pen.line((swatch.left, swatch.top), (swatch.right, swatch.top), Stroke::Thin);
        pen.line((swatch.left, swatch.bottom), (swatch.right, swatch.bottom), Stroke::Thin);
        y = paragraph(pen, 50.0, y, width - 62.0, Letters::Small, "from the least to the most, by friction and interference") + 3.0;
        y = key_stroke(pen, y, width, Stroke::Needs, "stop here, back off, and look for tilt, burr or dirt");
        if !self.pressing.readings.is_empty() {
            pen.dot((26.0, y - 4.0), 4.0, Tint::Ink);
            y = paragraph(pen, 50.0, y, width - 62.0, Letters::Small, "as it was read at the press") + 3.0;
        }
        y
    }

    fn description(&self) -> String {
        let system = self.setting.system;
        let Some(last) = self.pressing.force.last() else { return String::new() };
        let force = |kN| shown::force(kN, system);
        let mut said = format!(
            "Over a travel of {} the force rises to {} ({} to {}); at {} stop and look.",
            shown::length(last.travel_mm, 0, system),
            force(last.mid_kN),
            force(last.low_kN),
            force(last.high_kN),
            force(last.stop_kN)
        );
        if let Some((travel_mm, kN)) = self.pressing.readings.last() {
            let count = self.pressing.readings.len();
            let readings = if count == 1 { "1 reading".to_owned() } else { format!("{count} readings") };
            said.push_str(&format!(" {readings}, the last {} at {}.", force(*kN), shown::length(*travel_mm, 1, system)));
        }
        said
    }

    fn table(&self) -> Grid {
        let system = self.setting.system;
        let force = |kN| shown::force(kN, system);
        let planned = self.pressing.force.iter().map(|at| {
            let cells = [at.low_kN, at.mid_kN, at.high_kN, at.stop_kN].map(force);
            [vec![shown::length(at.travel_mm, 0, system)], cells.into(), vec![String::new()]].concat()
        });
        let read = self.pressing.readings.iter().map(|(travel_mm, kN)| {
            let blank = || vec![String::new(); 4];
            [vec![shown::length(*travel_mm, 1, system)], blank(), vec![force(*kN)]].concat()
        });
        Grid {
            title: "Force against travel, as expected and as read".into(),
            columns: ["travel", "least", "expected", "most", "stop and look at", "read"].map(str::to_owned).into(),
            figures: vec![true; 6],
            rows: planned.chain(read).collect(),
        }
    }
}

impl At {
    const fn mid(&self) -> f64 {
        self.mid_kN
    }

    const fn stop(&self) -> f64 {
        self.stop_kN
    }
}
