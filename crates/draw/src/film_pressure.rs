//! The pressure of an oil film over the unrolled bearing: angle across, length upwards, equal pressures as lines.
//!
//! Every figure is one that `film` gave (with `picture`).

use calc::shown;
use calc::units::shown_plain;
use serde_json::Value;

use job::sheet::Grid;

use crate::axis::round_up;
use crate::contour::Field;
use crate::frame::{Frame, key_stroke, number, numbers};
use crate::pen::{Held, Letters, Patch, Pen, Stroke, Tint};
use crate::place::{paragraph, refused};
use crate::{Drawing, Setting};

const TITLE: &str = "Film pressure, unrolled";
/// Steps of pressure at most.
const MOST_STEPS: f64 = 7.0;
/// Under this share of the greatest pressure there is no film to be seen.
const NOTHING: f64 = 0.01;
/// A step nearer to the greatest pressure than this is not drawn: its line would be a dot.
const NEAR_TOP: f64 = 0.97;

struct Film {
    theta_deg: Vec<f64>,
    y: Vec<f64>,
    share: Vec<Vec<f64>>,
    max_MPa: f64,
    length_mm: f64,
    attitude_deg: f64,
    pmax_deg: f64,
    rupture_deg: Option<f64>,
    min_film_um: Option<f64>,
}

impl Film {
    fn read(request: &Value, answer: &Value) -> Option<Self> {
        let (theta_deg, y) = (numbers(answer, "/picture/theta_deg")?, numbers(answer, "/picture/y")?);
        let rows = answer.pointer("/picture/share")?.as_array()?;
        let share: Vec<Vec<f64>> = rows.iter().map(|row| numbers(row, "")).collect::<Option<_>>()?;
        let whole = share.len() == theta_deg.len() && y.len() > 1 && share.iter().all(|row| row.len() == y.len());
        whole.then_some(())?;
        Some(Self {
            theta_deg,
            y,
            share,
            max_MPa: number(answer, "/max_pressure_MPa").filter(|p| *p > 0.0)?,
            length_mm: number(request, "/length_mm").filter(|L| *L > 0.0)?,
            attitude_deg: number(answer, "/attitude_deg")?,
            pmax_deg: number(answer, "/pmax_angle_deg")?,
            rupture_deg: number(answer, "/rupture_angle_deg"),
            min_film_um: number(answer, "/min_film_um"),
        })
    }

    /// From the widest gap in the direction of rotation to where the load presses.
    fn load_deg(&self) -> f64 {
        180.0 - self.attitude_deg
    }
}

/// Draws a request of `film` and its answer.
pub fn film_pressure(request: &Value, answer: &Value, setting: &Setting) -> Drawing {
    match Film::read(request, answer).and_then(|film| Chart::new(film, setting)) {
        Some(chart) => chart.draw(),
        None => refused(setting.width(), TITLE, "The answer of film has no picture, or no load was given."),
    }
}

struct Chart<'s> {
    film: Film,
    setting: &'s Setting,
    frame: Frame,
}

impl<'s> Chart<'s> {
    fn new(film: Film, setting: &'s Setting) -> Option<Self> {
        let half = setting.system.from_mm(film.length_mm / 2.0);
        let height = if setting.narrow() { 150.0 } else { 190.0 };
        let frame = Frame::new(setting.width(), (0.0, 360.0), (-half, half), (62.0, height))?;
        Some(Self { film, setting, frame })
    }

    /// The field over both halves of the length.
    fn field(&self) -> Field {
        let half = self.setting.system.from_mm(self.film.length_mm / 2.0);
        let row = |(theta, share): (&f64, &Vec<f64>)| {
            let up = self.film.y.iter().zip(share).map(|(y, share)| (*y, *share));
            let down = self.film.y.iter().zip(share).skip(1).rev().map(|(y, share)| (-y, *share));
            down.chain(up).map(|(y, share)| ((self.frame.x(*theta), self.frame.y(half * y)), share)).collect()
        };
        Field { points: self.film.theta_deg.iter().zip(&self.film.share).map(row).collect() }
    }

    /// A round step of pressure in the unit that is shown.
    fn step_MPa(&self) -> f64 {
        let most = shown::stress_figure(self.film.max_MPa, self.setting.system);
        round_up(most / MOST_STEPS) * self.film.max_MPa / most
    }

    /// A pressure without its unit, with the decimals of the step.
    fn bare(&self, MPa: f64) -> String {
        let step = shown::stress_figure(self.step_MPa(), self.setting.system);
        let decimals = if step > 0.99 {
            0
        } else if step > 0.099 {
            1
        } else {
            2
        };
        shown_plain(shown::stress_figure(MPa, self.setting.system), decimals)
    }

    fn draw(&self) -> Drawing {
        let (mut pen, mut room) = (Pen::new(), self.frame.room());
        let plot = self.frame.plot;
        let field = self.field();
        let step = self.step_MPa();
        let levels: Vec<f64> = (1..=9).map(|k| f64::from(k) * step).filter(|p| *p < NEAR_TOP * self.film.max_MPa).collect();
        let edges: Vec<f64> = [NOTHING].into_iter().chain(levels.iter().map(|p| p / self.film.max_MPa)).chain([1.000_001]).collect();
        for (k, pair) in edges.windows(2).enumerate() {
            pen.areas(&field.between(pair[0], pair[1]), Tint::Level(k.min(7) as u8));
        }
        for (share, stroke) in [(NOTHING, Stroke::Curve)].into_iter().chain(levels.iter().map(|p| (p / self.film.max_MPa, Stroke::Thin))) {
            pen.strokes(&field.at(share), stroke);
        }
        let length = self.setting.system.length();
        self.frame.draw(&mut pen, "angle from the widest gap, with the rotation, °", &format!("from mid-length, {length}"));
        let load = self.frame.x(self.film.load_deg());
        pen.line((load, plot.top), (load, plot.bottom), Stroke::Centre);
        pen.line((self.frame.x(180.0), plot.top), (self.frame.x(180.0), plot.bottom), Stroke::Faint);
        let top = (self.frame.x(self.film.pmax_deg), self.frame.y(0.0));
        pen.dot(top, 3.0, Tint::Ink);
        room.take(Patch { left: top.0 - 4.0, right: top.0 + 4.0, top: top.1 - 4.0, bottom: top.1 + 4.0 });
        let greatest = format!("greatest {}", shown::stress(self.film.max_MPa, self.setting.system));
        let spots = [0.0, -22.0, 22.0, 44.0, -44.0].map(|by| top.1 + 4.0 + by);
        let spots: Vec<_> =
            spots.into_iter().flat_map(|y| [(plot.right - 8.0, y, Held::Right), (plot.left + 6.0, y, Held::Left)]).collect();
        room.write(&mut pen, &spots, Letters::Strong, &greatest);
        let y = self.key(&mut pen, &levels);
        pen.finish(self.setting.width(), y, TITLE, &self.description(), self.table())
    }

    fn key(&self, pen: &mut Pen, levels: &[f64]) -> f64 {
        let (width, system) = (self.setting.width(), self.setting.system);
        let mut y = self.frame.plot.bottom + 56.0;
        // The scale: a field a step, under it the pressure at its lower edge.
        let fields = levels.len() + 1;
        let wide = ((width - 24.0) / fields as f64).min(80.0);
        for k in 0..fields {
            let left = 12.0 + wide * k as f64;
            let patch = Patch { left, right: left + wide, top: y - 8.0, bottom: y + 4.0 };
            pen.patch(&patch, Tint::Level(k.min(7) as u8));
            pen.path(
                &[(patch.left, patch.top), (patch.right, patch.top), (patch.right, patch.bottom), (patch.left, patch.bottom)],
                true,
                Stroke::Thin,
            );
            let from = if k == 0 { 0.0 } else { levels[k - 1] };
            pen.text(left, y + 17.0, Held::Left, Letters::Small, &self.bare(from));
        }
        y += 36.0;
        y = paragraph(
            pen,
            12.0,
            y,
            width - 24.0,
            Letters::Small,
            &format!("pressure from there on, {}", shown::stress_unit(self.setting.system)),
        ) + 3.0;
        let load = format!("where the load presses, {}° from the widest gap", shown_plain(self.film.load_deg(), 0));
        y = key_stroke(pen, y, width, Stroke::Centre, &load);
        let film = self.film.min_film_um.map(|um| format!(", {}", shown::fine(um, system))).unwrap_or_default();
        y = key_stroke(pen, y, width, Stroke::Faint, &format!("narrowest gap, 180°{film}"));
        key_stroke(pen, y, width, Stroke::Curve, "edge of the film: outside of it the oil bears nothing")
    }

    fn description(&self) -> String {
        let (film, system) = (&self.film, self.setting.system);
        let mut sentences = vec![format!(
            "The pressure is greatest, {}, at {}° from the widest gap, and falls to nothing at both ends of the bearing.",
            shown::stress(film.max_MPa, system),
            shown_plain(film.pmax_deg, 0)
        )];
        if let Some(rupture) = film.rupture_deg {
            sentences.push(format!("At mid-length the film ends at {}°.", shown_plain(rupture, 0)));
        }
        sentences.push(format!("The load presses at {}°, the gap is narrowest at 180°.", shown_plain(film.load_deg(), 0)));
        sentences.join(" ")
    }

    fn table(&self) -> Grid {
        let middle = self.film.y.len() / 2;
        let cell = |share: f64| shown::three(shown::stress_figure(share * self.film.max_MPa, self.setting.system));
        let rows = self.film.theta_deg.iter().zip(&self.film.share).step_by(4).map(|(theta, row)| {
            let at = |j: usize| row.get(j).map(|share| cell(*share)).unwrap_or_default();
            vec![shown_plain(*theta, 0), at(0), at(middle)]
        });
        let unit = shown::stress_unit(self.setting.system);
        Grid {
            title: "Film pressure".into(),
            columns: vec!["angle, °".into(), format!("mid-length, {unit}"), format!("half-way to the end, {unit}")],
            figures: vec![true, true, true],
            rows: rows.collect(),
        }
    }
}
