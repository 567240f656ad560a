//! The clock of a cold bush: its gap to the hole against the seconds since it left the bath.
//!
//! Every figure is one that `window` gave.

use calc::shown;
use serde_json::Value;

use job::sheet::Grid;

use crate::clock::Clock;
use crate::frame::{Frame, key_stroke, number};
use crate::now::Times;
use crate::pen::{Held, Letters, Patch, Pen, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

const TITLE: &str = "The clock of the cold bush";

/// What is drawn of a window.
struct Window {
    /// Time, s, and gap on the diameter, mm.
    curve: Vec<(f64, f64)>,
    hand_mm: Option<f64>,
    to_hand_s: Option<f64>,
    range_s: Option<(f64, f64)>,
    touch_s: Option<f64>,
    entry_s: Option<f64>,
    chance: Option<f64>,
}

impl Window {
    fn read(request: &Value, answer: &Value) -> Option<Self> {
        let point = |point: &Value| Some((number(point, "/t_s")?, number(point, "/clearance_mm")?));
        let curve: Vec<(f64, f64)> = answer.get("curve")?.as_array()?.iter().map(point).collect::<Option<_>>()?;
        Some(Self {
            curve,
            hand_mm: number(request, "/hand_clearance_mm"),
            to_hand_s: number(answer, "/seconds_to_hand").filter(|s| *s > 0.0),
            range_s: number(answer, "/seconds_to_hand_low").zip(number(answer, "/seconds_to_hand_high")),
            touch_s: number(answer, "/seconds_to_touch"),
            entry_s: number(request, "/entry_s"),
            chance: number(answer, "/chance_hand_at_entry"),
        })
    }
}

/// Draws a request of `window` and its answer.
pub fn window(request: &Value, answer: &Value, setting: &Setting) -> Drawing {
    let chart = Window::read(request, answer).and_then(|window| Chart::new(window, setting));
    match chart {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "The bush has no gap that closes, or the curve is missing."),
    }
}

struct Chart<'s> {
    window: Window,
    setting: &'s Setting,
    frame: Frame,
    clock: Clock,
}

impl<'s> Chart<'s> {
    fn new(window: Window, setting: &'s Setting) -> Option<Self> {
        let last = window.curve.last().filter(|_| window.curve.len() > 1)?.0;
        let end = [window.entry_s, window.range_s.map(|(_, high)| high.min(1.6 * last))].into_iter().flatten().fold(last, f64::max);
        let most = window.curve.iter().map(|(_, gap)| *gap).chain(window.hand_mm).fold(0.0, f64::max);
        let least = window.curve.iter().map(|(_, gap)| *gap).fold(0.0, f64::min);
        let in_system = |mm: f64| setting.system.from_mm(mm);
        let clock = Clock::up_to(end);
        let (low, high) = calc::band::frame(in_system(least), in_system(most), 0.06, 1e-9);
        let height = if setting.narrow() { 220.0 } else { 260.0 };
        // Time starts at the frame's edge.
        let frame = Frame::new(setting.width(), (0.0, clock.of(end) * 1.02), (if least < 0.0 { low } else { 0.0 }, high), (40.0, height))?;
        Some(Self { window, setting, frame, clock })
    }

    fn x(&self, t_s: f64) -> f64 {
        self.frame.x(self.clock.of(t_s))
    }

    fn y(&self, mm: f64) -> f64 {
        self.frame.y(self.setting.system.from_mm(mm))
    }

    fn draw(&self) -> Drawing {
        let (mut pen, mut room) = (Pen::new(), self.frame.room());
        let (window, plot) = (&self.window, &self.frame.plot);
        if let Some((low, high)) = window.range_s {
            let strip = Patch { left: self.x(low), right: self.x(high).max(self.x(low) + 1.0), ..*plot };
            pen.patch(&strip, Tint::Range);
            pen.line((strip.left, plot.top), (strip.left, plot.bottom), Stroke::Thin);
            pen.line((strip.right, plot.top), (strip.right, plot.bottom), Stroke::Thin);
        }
        let length = self.setting.system.length();
        self.frame.draw(&mut pen, &format!("since the bath, {}", self.clock.unit), &format!("gap on the diameter, {length}"));
        let curve: Vec<(f64, f64)> = window.curve.iter().map(|(t_s, mm)| (self.clock.of(*t_s), self.setting.system.from_mm(*mm))).collect();
        self.frame.curve(&mut pen, &mut room, &curve, Stroke::Outline);
        if let Some(hand) = window.hand_mm {
            pen.line((plot.left, self.y(hand)), (plot.right, self.y(hand)), Stroke::Dashed);
            room.take(Patch { left: plot.left, right: plot.right, top: self.y(hand) - 1.5, bottom: self.y(hand) + 1.5 });
        }
        if let Some(entry) = window.entry_s {
            pen.line((self.x(entry), plot.top), (self.x(entry), plot.bottom), Stroke::Centre);
        }
        if let (Some(at), Some(hand)) = (window.to_hand_s, window.hand_mm) {
            pen.ring((self.x(at), self.y(hand)), 4.5, Stroke::Needs);
        }
        self.words(&mut pen, &mut room);
        let y = self.key(&mut pen);
        let drawing = pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table());
        let curve = self.frame.pieces(&curve).into_iter().next().unwrap_or_default();
        let times = Times {
            size: (drawing.width, drawing.height),
            across: (plot.left, plot.right),
            down: (plot.top, plot.bottom),
            per_s: self.x(1.0) - self.x(0.0),
            curve,
        };
        Drawing { times: Some(times), ..drawing }
    }

    fn words(&self, pen: &mut Pen, room: &mut Room) {
        let plot = &self.frame.plot;
        if let (Some(at), Some(hand)) = (self.window.to_hand_s, self.window.hand_mm) {
            let text = format!("too small for the hand: {}", shown::duration(at));
            let x = self.x(at);
            let heights = [-14.0, -32.0, -54.0, -80.0, 18.0].map(|up| self.y(hand) + up);
            let spots: Vec<_> = heights.into_iter().flat_map(|y| [(x + 8.0, y, Held::Left), (x - 8.0, y, Held::Right)]).collect();
            room.write(pen, &spots, Letters::Strong, &text);
        }
        if let Some(entry) = self.window.entry_s {
            let text = format!("in the hole: {}", shown::duration(entry));
            let heights = [16.0, 34.0, 52.0, 90.0, 130.0].map(|down| plot.top + down);
            let x = self.x(entry);
            let spots: Vec<_> = heights.into_iter().flat_map(|y| [(x + 6.0, y, Held::Left), (x - 6.0, y, Held::Right)]).collect();
            room.write(pen, &spots, Letters::Plain, &text);
        }
    }

    fn key(&self, pen: &mut Pen) -> f64 {
        let (width, system) = (self.setting.width(), self.setting.system);
        let mut y = self.frame.plot.bottom + 58.0;
        y = key_stroke(pen, y, width, Stroke::Outline, "the gap as the bush warms in air, until it touches");
        if let Some(hand) = self.window.hand_mm {
            y = key_stroke(pen, y, width, Stroke::Dashed, &format!("gap to go in by hand: {}", shown::length(hand, 3, system)));
        }
        if let Some((low, high)) = self.window.range_s {
            let swatch = Patch { left: 12.0, top: y - 10.0, right: 40.0, bottom: y + 2.0 };
            pen.patch(&swatch, Tint::Range);
            pen.line((swatch.left, swatch.top), (swatch.left, swatch.bottom), Stroke::Thin);
            pen.line((swatch.right, swatch.top), (swatch.right, swatch.bottom), Stroke::Thin);
            let text = format!("when that is left (95 %): {}", shown::durations(low, high));
            y = paragraph(pen, 50.0, y, width - 62.0, Letters::Small, &text) + 3.0;
        }
        if let Some(entry) = self.window.entry_s {
            let chance = self.window.chance.map(|chance| format!(", in time: {}", shown::chance(chance, u64::MAX))).unwrap_or_default();
            y = key_stroke(pen, y, width, Stroke::Centre, &format!("when it is to be in the hole, {}{chance}", shown::duration(entry)));
        }
        y
    }

    fn description(&self) -> String {
        let (window, system) = (&self.window, self.setting.system);
        let start = window.curve.first().map(|(_, mm)| shown::length(*mm, 3, system)).unwrap_or_default();
        let mut sentences = vec![format!("The gap on the diameter is {start} as the bush leaves the bath, and closes as it warms.")];
        if let Some(to_hand) = window.to_hand_s {
            let range = window.range_s.map(|(low, high)| format!(" ({}, 95 %)", shown::durations(low, high))).unwrap_or_default();
            sentences.push(format!("After {}{range} it is too small to go in by hand.", shown::duration(to_hand)));
        }
        if let Some(touch) = window.touch_s {
            sentences.push(format!("After {} it is gone.", shown::duration(touch)));
        }
        if let (Some(entry), Some(chance)) = (window.entry_s, window.chance) {
            sentences.push(format!("In the hole within {}: {} in time.", shown::duration(entry), shown::chance(chance, u64::MAX)));
        }
        sentences.join(" ")
    }

    fn table(&self) -> Grid {
        let every = (self.window.curve.len() / 8).max(1);
        let rows = self
            .window
            .curve
            .iter()
            .step_by(every)
            .map(|(t_s, mm)| vec![shown::duration(*t_s), shown::length(*mm, 3, self.setting.system)]);
        Grid {
            title: "Gap on the diameter since the bath".into(),
            columns: vec!["since the bath".into(), "gap".into()],
            figures: vec![true, true],
            rows: rows.collect(),
        }
    }
}
