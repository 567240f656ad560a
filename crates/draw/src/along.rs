//! Pressure and close-in along the length of a seat, over the outlines of bush and housing.
//!
//! Every figure is one that `fit-shape` gave: `profile` at the stations that were asked. Where bush and housing do not both stand, there
//! is no pressure. What rings alone would say is drawn beside it where it was given.

use calc::shown;
use calc::units::System;
use serde_json::Value;

use job::sheet::Grid;

use crate::frame::{Frame, key_stroke, number};
use crate::hatch::{Lean, hatch};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::refused;
use crate::{Drawing, Setting};

const TITLE: &str = "Pressure along the length";

/// What is drawn along a seat. Places along the axis, mm, one origin for both parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Along {
    /// Stations, rising.
    pub at_mm: Vec<f64>,
    /// Pressure at each; 0 where the parts do not meet.
    pub pressure_MPa: Vec<f64>,
    /// By how much the bore closes at each; none beyond the bush or in a groove of its bore.
    pub close_in_um: Vec<Option<f64>>,
    /// What rings would say of the pressure, and of the close-in.
    pub by_rings: Option<(f64, f64)>,
    /// Ends of the bush, flange included.
    pub bush_mm: Option<(f64, f64)>,
    /// Ends of the housing's sections.
    pub housing_mm: Vec<(f64, f64)>,
}

impl Along {
    /// A request of `fit-shape` and its answer; none without a profile.
    pub fn of(request: &Value, answer: &Value) -> Option<Self> {
        let profile = answer.get("profile")?.as_array()?;
        let at = |key: &str| profile.iter().map(|point| number(point, key)).collect::<Option<Vec<f64>>>();
        let ends = |value: &Value| number(value, "/from_mm").zip(number(value, "/to_mm"));
        let sections = request.pointer("/housing/sections").and_then(Value::as_array);
        Some(Self {
            at_mm: at("/z_mm")?,
            pressure_MPa: at("/pressure_MPa")?,
            close_in_um: profile.iter().map(|point| number(point, "/close_in_um")).collect(),
            by_rings: number(answer, "/ring_pressure_MPa").zip(number(answer, "/ring_close_in_um")),
            bush_mm: request.get("bush").and_then(ends),
            housing_mm: sections.into_iter().flatten().filter_map(ends).collect(),
        })
    }

    fn is_whole(&self) -> bool {
        let n = self.at_mm.len();
        let rising = self.at_mm.windows(2).all(|pair| pair[0] < pair[1]);
        let finite = self.at_mm.iter().chain(&self.pressure_MPa).chain(self.close_in_um.iter().flatten()).all(|x| x.is_finite());
        n > 1 && n == self.pressure_MPa.len() && n == self.close_in_um.len() && rising && finite
    }
}

/// Draws pressure and close-in along a seat.
pub fn along(along: &Along, setting: &Setting) -> Drawing {
    match Chart::new(along, setting) {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "There are no stations, or a figure is missing."),
    }
}

struct Chart<'a> {
    along: &'a Along,
    setting: &'a Setting,
    pressure: Frame,
    close_in: Option<Frame>,
}

fn stress(MPa: f64, system: System) -> f64 {
    shown::stress_figure(MPa, system)
}

fn small(um: f64, system: System) -> f64 {
    shown::fine_figure(um, system)
}

impl<'a> Chart<'a> {
    fn new(along: &'a Along, setting: &'a Setting) -> Option<Self> {
        if !along.is_whole() {
            return None;
        }
        let system = setting.system;
        let ends = along.bush_mm.into_iter().chain(along.housing_mm.iter().copied()).flat_map(|(from, to)| [from, to]);
        let all = || ends.clone().chain(along.at_mm.iter().copied());
        let (from, to) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
        let (from, to) = calc::band::frame(system.from_mm(from), system.from_mm(to), 0.02, 1e-9);
        let most = along.pressure_MPa.iter().copied().chain(along.by_rings.map(|(p, _)| p)).fold(0.0, f64::max);
        let height = if setting.narrow() { 150.0 } else { 180.0 };
        let pressure = Frame::new(setting.width(), (from, to), (0.0, (1.12 * stress(most, system)).max(1e-9)), (84.0, height))?;
        let told = || along.close_in_um.iter().flatten().copied().chain(along.by_rings.map(|(_, um)| um));
        let (least, most) = (told().fold(0.0, f64::min), told().fold(0.0, f64::max));
        let under = pressure.plot.bottom + 84.0;
        let span = (1.12 * small(least, system), (1.12 * small(most, system)).max(1e-9));
        let close_in = along.close_in_um.iter().flatten().next().and(Frame::new(setting.width(), (from, to), span, (under, height * 0.8)));
        Some(Self { along, setting, pressure, close_in })
    }

    fn x(&self, mm: f64) -> f64 {
        self.pressure.x(self.setting.system.from_mm(mm))
    }

    fn draw(&self) -> Drawing {
        let mut pen = Pen::new();
        self.parts(&mut pen);
        let (system, along) = (self.setting.system, self.along);
        let across = format!("along the axis, {}", system.length());
        let places = || along.at_mm.iter().map(|mm| system.from_mm(*mm));
        let curve: Vec<(f64, f64)> = places().zip(along.pressure_MPa.iter().map(|p| stress(*p, system))).collect();
        let unit = shown::stress_unit(system);
        let rings = along.by_rings.map(|(p, _)| stress(p, system));
        let across_here = if self.close_in.is_some() { "" } else { across.as_str() };
        let mut y = panel(&mut pen, &self.pressure, &[curve], rings, (across_here, &format!("pressure, {unit}")));
        if let Some(frame) = &self.close_in {
            let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
            for (place, um) in places().zip(&along.close_in_um) {
                match (um, runs.last_mut()) {
                    (Some(um), Some(run)) => run.push((place, small(*um, system))),
                    _ => runs.push(Vec::new()),
                }
            }
            let rings = along.by_rings.map(|(_, um)| small(um, system));
            y = panel(&mut pen, frame, &runs, rings, (&across, &format!("the bore closes in by, {}", shown::fine_unit(system))));
        }
        let y = self.key(&mut pen, y);
        pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table())
    }

    /// Bars of housing and bush over the frame, where each begins and ends.
    fn parts(&self, pen: &mut Pen) {
        let bar = |pen: &mut Pen, (from, to): (f64, f64), top: f64, tint: Tint, lean: Lean| {
            let patch = Patch { left: self.x(from), right: self.x(to), top, bottom: top + 12.0 };
            let corners: [Point; 4] =
                [(patch.left, patch.top), (patch.right, patch.top), (patch.right, patch.bottom), (patch.left, patch.bottom)];
            pen.patch(&patch, tint);
            hatch(pen, &corners, lean, 6.0);
            pen.path(&corners, true, Stroke::Outline);
        };
        for section in &self.along.housing_mm {
            bar(pen, *section, 22.0, Tint::Housing, Lean::Rising);
        }
        if let Some(bush) = self.along.bush_mm {
            bar(pen, bush, 34.0, Tint::Bush, Lean::Falling);
        }
        let words = [(!self.along.housing_mm.is_empty()).then_some("housing above"), self.along.bush_mm.map(|_| "bush under it")];
        let words: Vec<&str> = words.into_iter().flatten().collect();
        if !words.is_empty() {
            pen.text(12.0, 15.0, Held::Left, Letters::Small, &words.join(", "));
        }
    }

    fn key(&self, pen: &mut Pen, y: f64) -> f64 {
        let width = self.setting.width();
        let y = key_stroke(pen, y, width, Stroke::Outline, "by the shape of the parts");
        match self.along.by_rings {
            Some((MPa, um)) => {
                let system = self.setting.system;
                let text = format!("plain rings would say {} and {}", shown::stress(MPa, system), shown::fine(um, system));
                key_stroke(pen, y, width, Stroke::Dashed, &text)
            }
            None => y,
        }
    }

    fn description(&self) -> String {
        let (along, system) = (self.along, self.setting.system);
        let met: Vec<f64> = along.pressure_MPa.iter().copied().filter(|p| *p > 0.0).collect();
        let (least, most) = met.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), p| (low.min(*p), high.max(*p)));
        let mut sentences = vec![if met.is_empty() {
            "The parts do not press on each other anywhere.".to_owned()
        } else {
            format!("Where the parts meet the pressure lies between {} and {}.", shown::stress(least, system), shown::stress(most, system))
        }];
        let closes = along.close_in_um.iter().flatten().copied();
        let (least, most) = closes.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), um| (low.min(um), high.max(um)));
        if least.is_finite() {
            sentences.push(format!("The bore closes in by {}.", shown::fines(least, most, system)));
        }
        if let Some((MPa, um)) = along.by_rings {
            sentences.push(format!("Plain rings would say {} and {}.", shown::stress(MPa, system), shown::fine(um, system)));
        }
        sentences.join(" ")
    }

    fn table(&self) -> Grid {
        let system = self.setting.system;
        let every = (self.along.at_mm.len() / 16).max(1);
        let rows = (0..self.along.at_mm.len()).step_by(every).map(|i| {
            let closes = self.along.close_in_um[i].map(|um| shown::fine(um, system)).unwrap_or_default();
            vec![shown::length(self.along.at_mm[i], 1, system), shown::stress(self.along.pressure_MPa[i], system), closes]
        });
        Grid {
            title: "Pressure and close-in along the length".into(),
            columns: vec!["along the axis".into(), "pressure".into(), "the bore closes in by".into()],
            figures: vec![true, true, true],
            rows: rows.collect(),
        }
    }
}

/// One of the two frames; says where the next thing may stand.
fn panel(pen: &mut Pen, frame: &Frame, curves: &[Vec<(f64, f64)>], rings: Option<f64>, (across, up): (&str, &str)) -> f64 {
    let mut room = frame.room();
    frame.draw(pen, across, up);
    if let Some(level) = rings {
        pen.line((frame.plot.left, frame.y(level)), (frame.plot.right, frame.y(level)), Stroke::Dashed);
    }
    for curve in curves {
        frame.curve(pen, &mut room, curve, Stroke::Outline);
    }
    frame.plot.bottom + 58.0
}
