//! The wall of a bush in its bath at one moment, coloured by temperature, with lines of equal temperature.
//!
//! Every figure is one that `cooling` gave (with `section_share` or `section_at_s`). The length is to scale; a thin wall is drawn thicker,
//! and the factor is printed.

use calc::shown;
use calc::units::shown_plain;
use serde_json::Value;

use job::sheet::Grid;

use crate::axis::{Axis, minus, round_up};
use crate::contour::Field;
use crate::frame::{number, numbers};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

const TITLE: &str = "The wall of the bush in the bath";
/// Steps of temperature at most.
const MOST_STEPS: f64 = 7.0;
/// Height of the wall on the drawing, units.
const HEIGHT: (f64, f64) = (96.0, 220.0);

struct Wall {
    t_s: f64,
    time_s: Option<f64>,
    r_mm: Vec<f64>,
    z_mm: Vec<f64>,
    T_C: Vec<Vec<f64>>,
}

impl Wall {
    fn read(answer: &Value) -> Option<Self> {
        let section = answer.get("section")?;
        let (r_mm, z_mm) = (numbers(section, "/r_mm")?, numbers(section, "/z_mm")?);
        let T_C: Vec<Vec<f64>> = section.get("T_C")?.as_array()?.iter().map(|row| numbers(row, "")).collect::<Option<_>>()?;
        let whole = r_mm.len() > 1 && z_mm.len() > 1 && T_C.len() == r_mm.len() && T_C.iter().all(|row| row.len() == z_mm.len());
        whole.then_some(())?;
        Some(Self { t_s: number(section, "/t_s")?, time_s: number(answer, "/time_s"), r_mm, z_mm, T_C })
    }
}

/// Draws the section of an answer of `cooling`.
pub fn bath_section(answer: &Value, setting: &Setting) -> Drawing {
    match Wall::read(answer).and_then(|wall| Chart::new(wall, setting)) {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "The answer of cooling has no section."),
    }
}

struct Chart<'s> {
    wall: Wall,
    setting: &'s Setting,
    plot: Patch,
    across: Axis,
    up: Axis,
    /// How many times thicker than it is the wall is drawn.
    thicker: f64,
}

impl<'s> Chart<'s> {
    fn new(wall: Wall, setting: &'s Setting) -> Option<Self> {
        let half = wall.z_mm.last().copied().filter(|half| *half > 0.0)?;
        let (bore, outside) = (wall.r_mm.first().copied()?, wall.r_mm.last().copied()?);
        let (left, right) = (58.0, setting.width() - 58.0);
        let true_height = (outside - bore) * (right - left) / (2.0 * half);
        let height = true_height.clamp(HEIGHT.0, HEIGHT.1);
        let plot = Patch { left, top: 44.0, right, bottom: 44.0 + height };
        let across = Axis::new(-half, half, left, right)?;
        let up = Axis::new(bore, outside, plot.bottom, plot.top)?;
        Some(Self { wall, setting, plot, across, up, thicker: height / true_height })
    }

    fn field(&self) -> Field {
        let row = |(r, T): (&f64, &Vec<f64>)| {
            let near = self.wall.z_mm.iter().zip(T).map(|(z, T)| (*z, *T));
            let far = self.wall.z_mm.iter().zip(T).skip(1).rev().map(|(z, T)| (-z, *T));
            far.chain(near).map(|(z, T)| ((self.across.at(z), self.up.at(*r)), T)).collect()
        };
        Field { points: self.wall.r_mm.iter().zip(&self.wall.T_C).map(row).collect() }
    }

    fn draw(&self) -> Drawing {
        let mut pen = Pen::new();
        let mut room = Room::new(self.plot);
        let field = self.field();
        let (low, high) = field.span();
        let step = round_up((high - low).max(0.5) / MOST_STEPS);
        let first = (low / step).ceil();
        let levels: Vec<f64> = (0..9).map(|k| (first + f64::from(k)) * step).filter(|T| *T > low && *T < high).collect();
        let edges: Vec<f64> = [low - 1.0].into_iter().chain(levels.iter().copied()).chain([high + 1.0]).collect();
        // The colder, the deeper.
        for (k, pair) in edges.windows(2).enumerate() {
            pen.areas(&field.between(pair[0], pair[1]), Tint::Level((edges.len() - 2 - k).min(7) as u8));
        }
        for level in &levels {
            pen.strokes(&field.at(*level), Stroke::Thin);
        }
        let plot = &self.plot;
        let corners: [Point; 4] = [(plot.left, plot.top), (plot.right, plot.top), (plot.right, plot.bottom), (plot.left, plot.bottom)];
        pen.path(&corners, true, Stroke::Outline);
        pen.line(((plot.left + plot.right) / 2.0, plot.top - 8.0), ((plot.left + plot.right) / 2.0, plot.bottom + 8.0), Stroke::Centre);
        for level in &levels {
            self.write_level(&mut pen, &mut room, &field, *level);
        }
        pen.text(12.0, 16.0, Held::Left, Letters::Strong, &self.heading());
        pen.text(plot.left - 6.0, plot.top + 10.0, Held::Right, Letters::Small, "outside");
        pen.text(plot.left - 6.0, plot.bottom - 3.0, Held::Right, Letters::Small, if self.wall.r_mm[0] > 0.0 { "bore" } else { "axis" });
        let y = self.key(&mut pen, &levels, (low, high));
        pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table())
    }

    fn heading(&self) -> String {
        let of = self.wall.time_s.map(|time| format!(" of {}", shown::duration(time))).unwrap_or_default();
        format!("The wall after {}{of} in the bath", shown::duration(self.wall.t_s))
    }

    fn write_level(&self, pen: &mut Pen, room: &mut Room, field: &Field, level: f64) {
        let strokes = field.at(level);
        let text = minus(&shown::temperature(level, self.setting.system));
        let middle = (self.plot.top + self.plot.bottom) / 2.0;
        let mut places: Vec<Point> = strokes.iter().map(|(a, b)| ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0)).collect();
        // Nearest to the middle of the wall first, and of both ends the right one.
        places.sort_by(|a, b| (a.1 - middle).abs().total_cmp(&(b.1 - middle).abs()).then(b.0.total_cmp(&a.0)));
        let spots: Vec<_> = places.iter().step_by((places.len() / 12).max(1)).map(|(x, y)| (*x, y + 4.0, Held::Middle)).collect();
        room.write(pen, &spots, Letters::Small, &text);
    }

    fn key(&self, pen: &mut Pen, levels: &[f64], (low, high): (f64, f64)) -> f64 {
        let (width, system) = (self.setting.width(), self.setting.system);
        let mut y = self.plot.bottom + 34.0;
        let fields = levels.len() + 1;
        let wide = ((width - 24.0) / fields as f64).min(90.0);
        for k in 0..fields {
            let left = 12.0 + wide * k as f64;
            let patch = Patch { left, right: left + wide, top: y - 8.0, bottom: y + 4.0 };
            pen.patch(&patch, Tint::Level((fields - 1 - k).min(7) as u8));
            pen.path(
                &[(patch.left, patch.top), (patch.right, patch.top), (patch.right, patch.bottom), (patch.left, patch.bottom)],
                true,
                Stroke::Thin,
            );
            if k > 0 {
                pen.text(left, y + 17.0, Held::Middle, Letters::Small, &bare(levels[k - 1], self.setting));
            }
        }
        y += 36.0;
        let unit = if system == calc::units::System::Inch { "°F" } else { "°C" };
        let ends = format!(
            "temperature, {unit}: coldest {}, warmest {}",
            minus(&shown::temperature(low, system)),
            minus(&shown::temperature(high, system))
        );
        y = paragraph(pen, 12.0, y, width - 24.0, Letters::Small, &ends) + 3.0;
        let half = self.wall.z_mm.last().copied().unwrap_or(0.0);
        let thick = self.wall.r_mm.last().copied().unwrap_or(0.0) - self.wall.r_mm[0];
        let scale = if (self.thicker - 1.0).abs() < 0.02 {
            "to scale".to_owned()
        } else {
            format!("drawn {} times as thick", shown_plain(self.thicker, 1))
        };
        let sizes = format!("whole length {}, wall {}, {scale}", shown::length(2.0 * half, 0, system), shown::length(thick, 1, system));
        paragraph(pen, 12.0, y, width - 24.0, Letters::Small, &sizes) + 3.0
    }

    fn description(&self) -> String {
        let system = self.setting.system;
        let (low, high) = self.field().span();
        format!(
            "{}: {} at its coldest, {} at its warmest; the ends and the wet surfaces are ahead of the middle of the wall.",
            self.heading(),
            minus(&shown::temperature(low, system)),
            minus(&shown::temperature(high, system))
        )
    }

    fn table(&self) -> Grid {
        let last = self.wall.r_mm.len() - 1;
        let rows = [("outside", last), ("middle of the wall", last / 2), (if self.wall.r_mm[0] > 0.0 { "bore" } else { "axis" }, 0)];
        let columns = [("mid-length", 0), ("half-way", self.wall.z_mm.len() / 2), ("end", self.wall.z_mm.len() - 1)];
        let cell = |i: usize, j: usize| minus(&shown::temperature(self.wall.T_C[i][j], self.setting.system));
        Grid {
            title: self.heading(),
            columns: [""].into_iter().chain(columns.map(|(name, _)| name)).map(str::to_owned).collect(),
            figures: vec![false, true, true, true],
            rows: rows
                .into_iter()
                .map(|(name, i)| [name.to_owned()].into_iter().chain(columns.map(|(_, j)| cell(i, j))).collect())
                .collect(),
        }
    }
}

fn bare(T_C: f64, setting: &Setting) -> String {
    let text = minus(&shown::temperature(T_C, setting.system));
    text.rsplit_once(' ').map_or_else(|| text.clone(), |(figure, _)| figure.to_owned())
}
