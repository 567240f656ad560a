//! A surveyed bore unrolled: angle across, stations down, each reading's deviation from the mean, and the surface that was fitted.
//!
//! A two-point gauge reads a diameter: what it says at 30° it says at 210° too, so the second half is the first one again, faint.
//! Readings that look wrong are ringed and called; none is left out.

use calc::math::{PI, cos, sin};
use calc::measure::to_20::size_from_reading;
use calc::shown;
use calc::units::{System, shown_plain, shown_signed, um_from_mm};
use serde_json::Value;

use job::sheet::Grid;

use crate::axis::{minus, round_up};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

/// Most stations that are drawn: more would not be read on a sheet. The table has them all.
const MOST_STATIONS: usize = 40;

/// A reading as it is drawn.
struct Mark {
    z_mm: f64,
    angle_deg: f64,
    /// Reading at 20 °C less the mean, µm.
    off_um: f64,
    /// How far it is from what the others say, µm, when it is suspected.
    suspect_um: Option<f64>,
}

/// The surface that was fitted, as deviation from its mean.
struct Surface {
    z_mid_mm: f64,
    span_mm: f64,
    /// Taper, barrel, cos 2θ, sin 2θ, cos 3θ, sin 3θ, mm; zero where it could not be told.
    terms: [f64; 6],
}

impl Surface {
    /// D − m = t w + c (1 − 12 w²) + A cos 2θ + B sin 2θ (+ cos 3θ, sin 3θ), w = (z − z_mid)/span. Source: the model of `survey`.
    fn off_um(&self, z_mm: f64, angle_deg: f64) -> f64 {
        let w = if self.span_mm > 0.0 { (z_mm - self.z_mid_mm) / self.span_mm } else { 0.0 };
        let theta = angle_deg / 180.0 * PI;
        let [t, c, A, B, A3, B3] = self.terms;
        um_from_mm(
            t * w + c * (1.0 - 12.0 * w * w) + A * cos(2.0 * theta) + B * sin(2.0 * theta) + A3 * cos(3.0 * theta) + B3 * sin(3.0 * theta),
        )
    }
}

/// Everything that is drawn.
struct Survey {
    mean_mm: f64,
    marks: Vec<Mark>,
    stations: Vec<f64>,
    surface: Surface,
    next: Vec<(f64, f64)>,
    two_point: bool,
}

/// Draws a survey from what was asked and answered.
pub fn survey(request: &Value, answer: &Value, setting: &Setting) -> Drawing {
    let title = "The bore unrolled";
    match Survey::read(request, answer) {
        Some(survey) => survey.draw(setting, title),
        None => refused(setting.width(), title, "The survey has no readings or no mean."),
    }
}

/// A figure, or the value of a quantity.
fn figure(value: Option<&Value>) -> Option<f64> {
    let value = value?;
    value.get("value").unwrap_or(value).as_f64()
}

impl Survey {
    fn read(request: &Value, answer: &Value) -> Option<Self> {
        let mean_mm = figure(answer.get("mean_mm"))?;
        let two_point = request.get("contacts").and_then(Value::as_str) != Some("three");
        let suspects: Vec<(usize, f64)> = answer
            .get("suspects")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(|row| Some((usize::try_from(row.get("index")?.as_u64()?).ok()?, figure(row.get("off_mm"))?)))
            .collect();
        let turn = if two_point { 180.0 } else { 360.0 };
        let given = |key: &str| figure(request.get(key));
        let marks: Vec<Mark> = request
            .get("readings")?
            .as_array()?
            .iter()
            .enumerate()
            .filter_map(|(index, row)| {
                let read_mm = figure(row.get("reading_mm"))?;
                let size_mm = match (
                    figure(row.get("part_T_C")),
                    given("part_alpha_per_K"),
                    given("instrument_alpha_per_K"),
                    given("instrument_T_C"),
                ) {
                    (Some(part_C), Some(part), Some(gauge), Some(gauge_C)) => size_from_reading(read_mm, part, part_C, gauge, gauge_C),
                    _ => read_mm,
                };
                let suspect_um = suspects.iter().find(|(suspect, _)| *suspect == index).map(|(_, off_mm)| um_from_mm(*off_mm));
                Some(Mark {
                    z_mm: figure(row.get("z_mm"))?,
                    angle_deg: figure(row.get("angle_deg"))?.rem_euclid(turn),
                    off_um: um_from_mm(size_mm - mean_mm),
                    suspect_um,
                })
            })
            .collect();
        let mut stations: Vec<f64> = marks.iter().map(|mark| mark.z_mm).collect();
        stations.sort_by(f64::total_cmp);
        stations.dedup();
        let (first, last) = (*stations.first()?, *stations.last()?);
        let term = |key: &str| figure(answer.get(key)).unwrap_or(0.0);
        let surface = Surface {
            z_mid_mm: given("z_mid_mm").unwrap_or(f64::midpoint(first, last)),
            span_mm: given("span_mm").unwrap_or(last - first),
            terms: ["taper_mm", "barrel_mm", "cos2_mm", "sin2_mm", "cos3_mm", "sin3_mm"].map(term),
        };
        let next = answer
            .get("again")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(|row| Some((figure(row.get("z_mm"))?, figure(row.get("angle_deg"))?.rem_euclid(turn))))
            .collect();
        Some(Self { mean_mm, marks, stations, surface, next, two_point })
    }

    fn draw(&self, setting: &Setting, title: &str) -> Drawing {
        let lanes = Lanes::of(self, setting);
        let mut pen = Pen::new();
        self.head(&mut pen, &lanes, setting);
        for (index, z_mm) in self.stations.iter().take(MOST_STATIONS).enumerate() {
            self.lane(&mut pen, &lanes, lanes.zero(index), *z_mm, setting);
        }
        let y = self.foot(&mut pen, &lanes, setting);
        pen.finish(setting.width(), y, title, &self.description(setting.system), self.table(setting.system))
    }

    fn head(&self, pen: &mut Pen, lanes: &Lanes, setting: &Setting) {
        let unit = shown::fine_unit(setting.system);
        pen.text(4.0, 16.0, Held::Left, Letters::Plain, &format!("deviation from the mean, {unit}"));
        pen.text(4.0, 32.0, Held::Left, Letters::Small, &format!("station z, {}", setting.system.length()));
        lanes.bar(pen, setting);
    }

    fn lane(&self, pen: &mut Pen, lanes: &Lanes, zero: f64, z_mm: f64, setting: &Setting) {
        pen.text(lanes.left - 10.0, zero + 4.0, Held::Right, Letters::Plain, &shown_plain(setting.system.from_mm(z_mm), lanes.decimals));
        pen.line((lanes.left, zero), (lanes.right, zero), Stroke::Rule);
        for deg in [0.0, 90.0, 180.0, 270.0, 360.0] {
            let x = lanes.x(deg);
            pen.line((x, zero - lanes.half), (x, zero + lanes.half), Stroke::Rule);
        }
        let fitted = |from: u32, to: u32| -> Vec<Point> {
            (from..=to)
                .map(|step| {
                    let deg = f64::from(step) * 5.0;
                    (lanes.x(deg), lanes.y(zero, self.surface.off_um(z_mm, deg)))
                })
                .collect()
        };
        pen.path(&fitted(0, if self.two_point { 36 } else { 72 }), false, Stroke::Curve);
        if self.two_point {
            pen.path(&fitted(36, 72), false, Stroke::Faint);
        }
        let mut room =
            Room::new(Patch { left: lanes.left + 1.0, right: lanes.right + 8.0, top: zero - lanes.half, bottom: zero + lanes.half });
        for (x, y) in fitted(0, 72) {
            room.take(Patch { left: x - 2.0, right: x + 2.0, top: y - 1.0, bottom: y + 1.0 });
        }
        let here = || self.marks.iter().filter(move |mark| mark.z_mm == z_mm);
        for mark in here() {
            let place = (lanes.x(mark.angle_deg), lanes.y(zero, mark.off_um));
            pen.line((place.0, zero), place, Stroke::Thin);
            pen.dot(place, 2.6, Tint::Ink);
            room.take(Patch { left: place.0 - 2.0, right: place.0 + 2.0, top: place.1 - 2.0, bottom: place.1 + 2.0 });
            if self.two_point {
                pen.ring((lanes.x(mark.angle_deg + 180.0), place.1), 2.0, Stroke::Rule);
            }
        }
        for (_, angle_deg) in self.next.iter().filter(|(z, _)| *z == z_mm) {
            let (x, y) = (lanes.x(*angle_deg), zero);
            pen.path(&[(x, y - 5.0), (x + 5.0, y), (x, y + 5.0), (x - 5.0, y)], true, Stroke::Thin);
        }
        // Those that need a person are written first, so that they find room.
        let (called, plain): (Vec<&Mark>, Vec<&Mark>) = here().partition(|mark| mark.suspect_um.is_some());
        for mark in called.into_iter().chain(plain) {
            self.write(pen, &mut room, lanes, zero, mark, setting.system);
        }
    }

    fn write(&self, pen: &mut Pen, room: &mut Room, lanes: &Lanes, zero: f64, mark: &Mark, system: System) {
        let (x, y) = (lanes.x(mark.angle_deg), lanes.y(zero, mark.off_um));
        let figure = minus(&signed(mark.off_um, system));
        let (up, down) = (y - 6.0, y + 14.0);
        let near = if mark.off_um >= 0.0 { [up, down] } else { [down, up] };
        if mark.suspect_um.is_some() {
            pen.ring((x, y), 6.5, Stroke::Needs);
            let text = format!("again {figure}");
            let beside = [y + 4.0, y - 4.0, y + 12.0].into_iter().flat_map(|y| [(x + 11.0, y, Held::Left), (x - 11.0, y, Held::Right)]);
            let spots: Vec<(f64, f64, Held)> = beside.chain(near.map(|y| (x, y, Held::Middle))).collect();
            room.take(Patch { left: x - 7.0, right: x + 7.0, top: y - 7.0, bottom: y + 7.0 });
            room.write(pen, &spots, Letters::Call, &text);
        } else {
            let spots: Vec<(f64, f64, Held)> =
                near.into_iter().flat_map(|y| [(x, y, Held::Middle), (x + 4.0, y, Held::Left), (x - 4.0, y, Held::Right)]).collect();
            room.write(pen, &spots, Letters::Small, &figure);
        }
    }

    fn foot(&self, pen: &mut Pen, lanes: &Lanes, setting: &Setting) -> f64 {
        let mut y = lanes.bottom();
        for deg in [0.0, 90.0, 180.0, 270.0, 360.0] {
            pen.text(lanes.x(deg), y + 14.0, Held::Middle, Letters::Small, &shown_plain(deg, 0));
        }
        pen.text(lanes.right + 8.0, y + 31.0, Held::Right, Letters::Plain, "direction of the diameter, °");
        y += 54.0;
        let room = setting.width() - 24.0;
        let mut words = vec![format!(
            "The line of a station is the mean before the gauge's correction, {}; the curve is the surface that was fitted.",
            shown::length(self.mean_mm, 4, setting.system)
        )];
        if self.two_point {
            words.push("A diameter reads the same half a turn on: 180° to 360° repeats the first half.".into());
        }
        if self.marks.iter().any(|mark| mark.suspect_um.is_some()) {
            words.push("Ringed, again: off the others; measure that place again, twice.".into());
        }
        if !self.next.is_empty() {
            words.push("Diamond: a reading worth taking next.".into());
        }
        if self.stations.len() > MOST_STATIONS {
            words.push(format!("The first {MOST_STATIONS} of {} stations are drawn.", self.stations.len()));
        }
        paragraph(pen, 12.0, y, room, Letters::Small, &words.join(" "))
    }

    fn description(&self, system: System) -> String {
        let range =
            self.marks.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), mark| (low.min(mark.off_um), high.max(mark.off_um)));
        let suspects: Vec<String> = self
            .marks
            .iter()
            .filter_map(|mark| {
                let off = mark.suspect_um?;
                let place = format!("station {}, {}°", shown::length(mark.z_mm, 1, system), shown_plain(mark.angle_deg, 0));
                Some(format!("{place} looks {} off the others", shown::fine(off.abs(), system)))
            })
            .collect();
        let odd = if suspects.is_empty() { "None looks wrong.".into() } else { format!("To measure again: {}.", suspects.join("; ")) };
        format!(
            "{} readings at {} stations, {} to {} about the mean before the gauge's correction, {}. {odd}",
            self.marks.len(),
            self.stations.len(),
            signed(range.0, system),
            signed(range.1, system) + " " + shown::fine_unit(system),
            shown::length(self.mean_mm, 4, system)
        )
    }

    fn table(&self, system: System) -> Grid {
        let rows = self.marks.iter().map(|mark| {
            let again = mark.suspect_um.map(|off| format!("measure again: {} off the others", shown::fine(off.abs(), system)));
            vec![
                shown::length(mark.z_mm, 1, system),
                shown_plain(mark.angle_deg, 0),
                signed(mark.off_um, system),
                again.unwrap_or_default(),
            ]
        });
        let deviation = format!("deviation, {}", shown::fine_unit(system));
        Grid {
            title: "Readings at 20 °C about their mean".into(),
            columns: vec!["station".into(), "angle, °".into(), deviation, "".into()],
            figures: vec![true, true, true, false],
            rows: rows.collect(),
        }
    }
}

fn signed(um: f64, system: System) -> String {
    match system {
        System::Metric => shown_signed(um, 0),
        System::Inch => shown_signed(System::Inch.from_mm(um), 2),
    }
}

/// The lanes of the stations.
struct Lanes {
    left: f64,
    right: f64,
    top: f64,
    half: f64,
    count: usize,
    /// Units a micrometre.
    per_um: f64,
    /// Deviations beyond this are drawn at the lane's edge.
    most_um: f64,
    decimals: usize,
}

impl Lanes {
    fn of(survey: &Survey, setting: &Setting) -> Self {
        let count = survey.stations.len().min(MOST_STATIONS);
        let half = match count {
            0..=3 => 48.0,
            4..=6 => 40.0,
            7..=12 => 30.0,
            _ => 25.0,
        };
        // A slipped digit must not flatten everything else: suspects don't set the scale.
        let sound = survey.marks.iter().filter(|mark| mark.suspect_um.is_none()).map(|mark| mark.off_um.abs());
        let fitted = survey.stations.iter().flat_map(|z| (0..36).map(|step| survey.surface.off_um(*z, f64::from(step) * 5.0).abs()));
        let most_um = sound.chain(fitted).fold(1.0, f64::max);
        let decimals = setting.system.decimals(if survey.stations.iter().all(|z| z.fract() == 0.0) { 0 } else { 1 });
        let widest =
            survey.stations.iter().map(|z| Letters::Plain.width(&shown_plain(setting.system.from_mm(*z), decimals))).fold(30.0, f64::max);
        Self {
            left: widest + 16.0,
            right: setting.width() - 20.0,
            top: 44.0,
            half,
            count,
            per_um: (half - 20.0) / most_um,
            most_um,
            decimals,
        }
    }

    fn x(&self, deg: f64) -> f64 {
        self.left + (self.right - self.left) * deg / 360.0
    }

    fn zero(&self, index: usize) -> f64 {
        self.top + (2.0 * index as f64 + 1.0) * self.half
    }

    /// Place of a deviation in a lane; what is beyond the scale stands at the edge.
    fn y(&self, zero: f64, um: f64) -> f64 {
        zero - um.clamp(-self.most_um * 1.2, self.most_um * 1.2) * self.per_um
    }

    fn bottom(&self) -> f64 {
        self.top + 2.0 * self.half * self.count as f64
    }

    /// A bar of a round deviation, at the lanes' scale.
    fn bar(&self, pen: &mut Pen, setting: &Setting) {
        let step = match setting.system {
            System::Metric => round_up(self.most_um / 2.0),
            System::Inch => System::Inch.to_mm(round_up(System::Inch.from_mm(self.most_um) / 2.0)),
        };
        let high = step * self.per_um;
        let (x, y) = (setting.width() - 12.0, 40.0);
        pen.line((x, y - high), (x, y), Stroke::Outline);
        for y in [y - high, y] {
            pen.line((x - 4.0, y), (x + 4.0, y), Stroke::Outline);
        }
        let figure = match setting.system {
            System::Metric => format!("{step} µm"),
            System::Inch => format!("{} thou", System::Inch.from_mm(step)),
        };
        pen.text(x - 9.0, y - high / 2.0 + 4.0, Held::Right, Letters::Small, &figure);
    }
}
