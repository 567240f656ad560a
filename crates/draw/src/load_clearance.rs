//! The load that a film bears against the running clearance: where metal touches, where the film is as thick as advised, and the band.
//!
//! Every figure is one that `film-clearance` gave.

use calc::shown;
use calc::units::shown_plain;
use serde_json::Value;

use job::sheet::Grid;

use crate::frame::{Frame, key_stroke, number};
use crate::hatch::{Lean, hatch};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

const TITLE: &str = "Load and running clearance";
/// The load stands at this share of the height at least; curves that go higher run out of the picture.
const LOAD_AT: f64 = 0.28;

/// A point over the clearance; a load is none where no load leaves so thick a film.
struct Bears {
    clearance_um: f64,
    advised_kN: Option<f64>,
    touch_kN: Option<f64>,
}

struct Loads {
    points: Vec<Bears>,
    load_kN: f64,
    band_um: (f64, f64),
}

impl Loads {
    fn read(answer: &Value) -> Option<Self> {
        let point = |point: &Value| {
            Some(Bears {
                clearance_um: number(point, "/clearance_um")?,
                advised_kN: number(point, "/load_advised_kN"),
                touch_kN: number(point, "/load_touch_kN"),
            })
        };
        Some(Self {
            points: answer.get("curve")?.as_array()?.iter().map(point).collect::<Option<_>>()?,
            load_kN: number(answer, "/load_kN").filter(|load| *load > 0.0)?,
            band_um: number(answer, "/clearance_low_um").zip(number(answer, "/clearance_high_um"))?,
        })
    }
}

/// Draws an answer of `film-clearance`.
pub fn load_clearance(answer: &Value, setting: &Setting) -> Drawing {
    match Loads::read(answer).and_then(|loads| Chart::new(loads, setting)) {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "The answer of film-clearance has no curve, load or band."),
    }
}

struct Chart<'s> {
    loads: Loads,
    setting: &'s Setting,
    frame: Frame,
}

fn small(um: f64, setting: &Setting) -> f64 {
    shown::fine_figure(um, setting.system)
}

fn force(kN: f64, setting: &Setting) -> f64 {
    shown::force_figure(kN, setting.system)
}

impl<'s> Chart<'s> {
    fn new(loads: Loads, setting: &'s Setting) -> Option<Self> {
        let (first, last) = (loads.points.first()?.clearance_um, loads.points.last()?.clearance_um);
        let most = loads.points.iter().filter_map(|point| point.touch_kN).fold(0.0, f64::max);
        let top = (1.08 * most).clamp(1.6 * loads.load_kN, loads.load_kN / LOAD_AT);
        let height = if setting.narrow() { 230.0 } else { 280.0 };
        let across = (small(first.min(loads.band_um.0), setting), small(last.max(loads.band_um.1), setting));
        let frame = Frame::new(setting.width(), across, (0.0, force(top, setting)), (62.0, height))?;
        Some(Self { loads, setting, frame })
    }

    fn curve(&self, of: impl Fn(&Bears) -> Option<f64>) -> Vec<Vec<(f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
        for point in &self.loads.points {
            match (of(point), runs.last_mut()) {
                (Some(kN), Some(run)) => run.push((small(point.clearance_um, self.setting), force(kN, self.setting))),
                (None, _) => runs.push(Vec::new()),
                _ => {}
            }
        }
        runs.retain(|run| run.len() > 1);
        runs
    }

    /// Places along a curve, and where no load is borne at the foot of the frame.
    fn edge(&self, of: impl Fn(&Bears) -> Option<f64>) -> Vec<Point> {
        let place = |point: &Bears| {
            (self.frame.x(small(point.clearance_um, self.setting)), self.frame.y(force(of(point).unwrap_or(0.0), self.setting)))
        };
        self.loads.points.iter().map(place).collect()
    }

    fn draw(&self) -> Drawing {
        let (mut pen, mut room) = (Pen::new(), self.frame.room());
        let plot = self.frame.plot;
        let (touch, advised) = (self.edge(|point| point.touch_kN), self.edge(|point| point.advised_kN));
        let over: Vec<Point> = [(plot.left, plot.top)].into_iter().chain(touch.iter().copied()).chain([(plot.right, plot.top)]).collect();
        let thin: Vec<Point> = touch.iter().copied().chain(advised.iter().rev().copied()).collect();
        pen.area(&over, Tint::Dull);
        pen.area(&thin, Tint::Bush);
        let (left, right) =
            (self.frame.x(small(self.loads.band_um.0, self.setting)), self.frame.x(small(self.loads.band_um.1, self.setting)));
        let band = Patch { left, right: right.max(left + 2.0), ..plot };
        pen.patch(&band, Tint::Strip);
        hatch(&mut pen, &over, Lean::Level, 7.0);
        hatch(&mut pen, &thin, Lean::Falling, 8.0);
        for x in [band.left, band.right] {
            pen.line((x, plot.top), (x, plot.bottom), Stroke::Thin);
        }
        let unit = shown::fine_unit(self.setting.system);
        self.frame.draw(
            &mut pen,
            &format!("running clearance at 20 °C, {unit}"),
            &format!("load, {}", shown::force_unit(self.setting.system)),
        );
        for run in self.curve(|point| point.touch_kN).iter().chain(&self.curve(|point| point.advised_kN)) {
            self.frame.curve(&mut pen, &mut room, run, Stroke::Outline);
        }
        let y = self.frame.y(force(self.loads.load_kN, self.setting));
        pen.line((plot.left, y), (plot.right, y), Stroke::Needs);
        room.take(Patch { left: plot.left, right: plot.right, top: y - 2.0, bottom: y + 2.0 });
        let middle = ((band.left + band.right) / 2.0).clamp(plot.left + 16.0, plot.right - 16.0);
        pen.text(middle, plot.top - 5.0, Held::Middle, Letters::Plain, "band");
        self.words(&mut pen, &mut room, y, &over, &thin);
        let y = self.key(&mut pen);
        pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table())
    }

    fn words(&self, pen: &mut Pen, room: &mut Room, load_y: f64, over: &[Point], thin: &[Point]) {
        let plot = self.frame.plot;
        let load = format!("load {}", shown::force(self.loads.load_kN, self.setting.system));
        let beside = [load_y - 7.0, load_y + 16.0];
        let spots: Vec<_> =
            beside.into_iter().flat_map(|y| [(plot.right - 6.0, y, Held::Right), (plot.left + 6.0, y, Held::Left)]).collect();
        room.write(pen, &spots, Letters::Call, &load);
        let inside = |outline: &[Point]| -> Vec<(f64, f64, Held)> {
            let heights = (0..14).map(|i| plot.top + 16.0 + f64::from(i) * (plot.bottom - plot.top - 20.0) / 14.0);
            let across = [0.5, 0.35, 0.65, 0.2, 0.8, 0.9];
            let spots = heights.flat_map(|y| across.map(|share| (plot.left + share * (plot.right - plot.left), y)));
            spots.filter(|(x, y)| holds(outline, *x, y - 4.0)).map(|(x, y)| (x, y, Held::Middle)).collect()
        };
        room.write(pen, &inside(over), Letters::Strong, "metal touches");
        room.write(pen, &inside(thin), Letters::Strong, "film thinner than advised");
        let foot: Vec<Point> =
            self.edge(|point| point.advised_kN).into_iter().chain([(plot.right, plot.bottom), (plot.left, plot.bottom)]).collect();
        room.write(pen, &inside(&foot), Letters::Strong, "film as advised");
    }

    fn key(&self, pen: &mut Pen) -> f64 {
        let width = self.setting.width();
        let mut y = self.frame.plot.bottom + 58.0;
        y = key_stroke(pen, y, width, Stroke::Needs, &format!("the load, {}", shown::force(self.loads.load_kN, self.setting.system)));
        y = key_stroke(
            pen,
            y,
            width,
            Stroke::Outline,
            "upper curve: under this load metal begins to touch; lower curve: the film is twice as thick as roughness and tilt need; both as warm as it then runs",
        );
        let swatch = Patch { left: 12.0, top: y - 10.0, right: 40.0, bottom: y + 2.0 };
        pen.patch(&swatch, Tint::Strip);
        pen.line((swatch.left, swatch.top), (swatch.left, swatch.bottom), Stroke::Thin);
        pen.line((swatch.right, swatch.top), (swatch.right, swatch.bottom), Stroke::Thin);
        let band = shown::fines(self.loads.band_um.0, self.loads.band_um.1, self.setting.system);
        paragraph(pen, 50.0, y, width - 62.0, Letters::Small, &format!("the band of the running clearance, {band}")) + 3.0
    }

    /// The point of the curve nearest to the middle of the band.
    fn at_band(&self) -> Option<&Bears> {
        let middle = (self.loads.band_um.0 + self.loads.band_um.1) / 2.0;
        let far = |point: &Bears| (point.clearance_um - middle).abs();
        self.loads.points.iter().min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    fn description(&self) -> String {
        let system = self.setting.system;
        let band = shown::fines(self.loads.band_um.0, self.loads.band_um.1, system);
        let mut sentences =
            vec![format!("The load is {}, the band of the running clearance {band}.", shown::force(self.loads.load_kN, system))];
        if let Some(point) = self.at_band() {
            let load = |kN: Option<f64>| kN.map_or_else(|| "no load".to_owned(), |kN| shown::force(kN, system));
            sentences.push(format!(
                "Near the middle of the band a film as advised bears {}, and metal touches over {}.",
                load(point.advised_kN),
                load(point.touch_kN)
            ));
        }
        sentences.join(" ")
    }

    fn table(&self) -> Grid {
        let load = |kN: Option<f64>| kN.map_or_else(|| "none".to_owned(), |kN| shown_plain(force(kN, self.setting), 0));
        let rows = self
            .loads
            .points
            .iter()
            .step_by(3)
            .map(|point| vec![shown::fine_bare(point.clearance_um, self.setting.system), load(point.advised_kN), load(point.touch_kN)]);
        let unit = shown::force_unit(self.setting.system);
        Grid {
            title: "Loads over the running clearance".into(),
            columns: vec![
                format!("clearance, {}", shown::fine_unit(self.setting.system)),
                format!("film as advised up to, {unit}"),
                format!("metal touches over, {unit}"),
            ],
            figures: vec![true, true, true],
            rows: rows.collect(),
        }
    }
}

/// Whether a place lies in an outline: an odd number of its edges lies to the right.
fn holds(outline: &[Point], x: f64, y: f64) -> bool {
    let edges = outline.iter().zip(outline.iter().cycle().skip(1));
    let right = edges.filter(|(a, b)| (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
    right.count() % 2 == 1
}
