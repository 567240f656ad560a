//! The hold map: at which temperature and interference a bush lets go, holds, takes a set, or overloads its housing.
//!
//! The edges are those that `fit-map` answers. A bush that was fitted at 20 °C with more than `set_at_20_um` has taken its set
//! before it gets to the side where less interference is left: what lies over that level is shown as set there too.

use calc::shown;
use calc::units::{F_from_C, System};
use serde_json::Value;

use job::sheet::Grid;

use crate::axis::{Axis, minus};
use crate::hatch::{Lean, hatch};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{Room, paragraph, refused};
use crate::{Drawing, Setting};

/// What the map is laid over with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    /// Coldest and hottest temperature of the work, °C.
    pub working_C: Option<(f64, f64)>,
    /// Free interference of the planned band's ends, or of the made bush, at 20 °C, µm.
    pub planned_um: Option<(f64, f64)>,
    /// Its 95 % interval with every doubt counted, µm.
    pub spread_um: Option<(f64, f64)>,
    /// Whether only the bush changes its temperature.
    pub bush_alone: bool,
}

/// One region of the map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Region {
    LetsGo,
    Holds,
    TakesSet,
    HousingOver,
}

impl Region {
    const ALL: [Self; 4] = [Self::Holds, Self::LetsGo, Self::TakesSet, Self::HousingOver];

    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::LetsGo => ("lets go", "too little is left to hold by"),
            Self::Holds => ("holds", "pressed, and all of it springs back"),
            Self::TakesSet => ("takes a set", "the bush is squeezed for good and comes back smaller"),
            Self::HousingOver => ("housing over", "the housing passes its limit"),
        }
    }

    fn tint(self, pen: &mut Pen, outline: &[Point]) {
        match self {
            Self::LetsGo => pen.area(outline, Tint::Dull),
            Self::Holds => {}
            Self::TakesSet => pen.area(outline, Tint::Bush),
            Self::HousingOver => pen.area(outline, Tint::Housing),
        }
    }

    fn hatch(self, pen: &mut Pen, outline: &[Point]) {
        match self {
            Self::LetsGo => hatch(pen, outline, Lean::Level, 7.0),
            Self::Holds => {}
            Self::TakesSet => hatch(pen, outline, Lean::Falling, 8.0),
            Self::HousingOver => {
                hatch(pen, outline, Lean::Rising, 6.0);
                hatch(pen, outline, Lean::Falling, 6.0);
            }
        }
    }
}

/// The answer of `fit-map` as it is drawn: one row a temperature.
struct Map {
    columns: Vec<Column>,
    low_um: f64,
    high_um: f64,
    set_at_20_um: Option<f64>,
}

/// Edges at one temperature; infinite where there is none.
struct Column {
    T_C: f64,
    lets_go_um: f64,
    set_um: f64,
    housing_um: f64,
}

impl Column {
    /// Interferences between which a region lies.
    fn span(&self, region: Region, set_at_20_um: f64) -> (f64, f64) {
        let set = self.set_um.min(set_at_20_um);
        match region {
            Region::LetsGo => (f64::NEG_INFINITY, self.lets_go_um),
            Region::Holds => (self.lets_go_um, set.min(self.housing_um)),
            Region::TakesSet => (set.max(self.lets_go_um), self.housing_um),
            Region::HousingOver => (self.housing_um.max(self.lets_go_um), f64::INFINITY),
        }
    }
}

/// Draws the answer of `fit-map`.
pub fn hold_map(answer: &Value, marks: &Marks, setting: &Setting) -> Drawing {
    let title = "Hold map";
    let drawn = Map::read(answer).and_then(|map| Chart::new(map, marks, setting));
    match drawn {
        Some(chart) => chart.draw(marks, setting, title),
        None => refused(setting.width(), title, "The answer of fit-map has no temperatures, interferences or edges."),
    }
}

impl Map {
    fn read(answer: &Value) -> Option<Self> {
        let list = |key: &str| answer.get(key).and_then(Value::as_array);
        let temperatures = list("T_C")?;
        let interference = list("interference_um")?;
        let edge = |key: &str, index: usize, otherwise: f64| {
            list(key).and_then(|edge| edge.get(index)).and_then(Value::as_f64).unwrap_or(otherwise)
        };
        let columns: Vec<Column> = temperatures
            .iter()
            .enumerate()
            .filter_map(|(index, T)| {
                Some(Column {
                    T_C: T.as_f64()?,
                    lets_go_um: edge("lets_go_um", index, f64::NEG_INFINITY),
                    set_um: edge("set_um", index, f64::INFINITY),
                    housing_um: edge("housing_um", index, f64::INFINITY),
                })
            })
            .collect();
        Some(Self {
            columns,
            low_um: interference.first()?.as_f64()?,
            high_um: interference.last()?.as_f64()?,
            set_at_20_um: answer.get("set_at_20_um").and_then(Value::as_f64),
        })
    }

    /// The level over which a bush has taken its set when it is fitted, where that comes before the set of the temperature itself.
    fn set_level(&self) -> f64 {
        self.set_at_20_um.unwrap_or(f64::INFINITY)
    }
}

/// A map with its axes.
struct Chart {
    map: Map,
    across: Axis,
    up: Axis,
    plot: Patch,
}

fn temperature(T_C: f64, system: System) -> f64 {
    match system {
        System::Metric => T_C,
        System::Inch => F_from_C(T_C),
    }
}

fn small(um: f64, system: System) -> f64 {
    match system {
        System::Metric => um,
        System::Inch => System::Inch.from_mm(um),
    }
}

impl Chart {
    fn new(map: Map, marks: &Marks, setting: &Setting) -> Option<Self> {
        let top = if marks.working_C.is_some() { 66.0 } else { 36.0 };
        let plot = Patch { left: 54.0, top, right: setting.width() - 16.0, bottom: top + if setting.narrow() { 230.0 } else { 300.0 } };
        let (first, last) = (map.columns.first()?.T_C, map.columns.last()?.T_C);
        let in_system = |T: f64| temperature(T, setting.system);
        let across = Axis::new(in_system(first), in_system(last), plot.left, plot.right)?;
        let up = Axis::new(small(map.low_um, setting.system), small(map.high_um, setting.system), plot.bottom, plot.top)?;
        Some(Self { map, across, up, plot })
    }

    fn x(&self, T_C: f64, setting: &Setting) -> f64 {
        self.across.held(temperature(T_C, setting.system))
    }

    fn y(&self, um: f64, setting: &Setting) -> f64 {
        self.up.held(small(um.clamp(-1e9, 1e9), setting.system))
    }

    fn draw(&self, marks: &Marks, setting: &Setting, title: &str) -> Drawing {
        let mut pen = Pen::new();
        let mut room = Room::new(self.plot);
        // Tints lie under the strip, hatches over it: what the strip crosses stays in sight.
        self.working_tint(&mut pen, marks, setting);
        let regions: Vec<(Region, Vec<Vec<Point>>)> = Region::ALL
            .map(|region| (region, self.outlines(region, setting)))
            .into_iter()
            .filter(|(_, outlines)| !outlines.is_empty())
            .collect();
        for (region, outlines) in &regions {
            outlines.iter().for_each(|outline| region.tint(&mut pen, outline));
        }
        self.strip(&mut pen, marks, setting);
        for (region, outlines) in &regions {
            outlines.iter().for_each(|outline| region.hatch(&mut pen, outline));
        }
        let shown: Vec<Region> = regions.iter().map(|(region, _)| *region).collect();
        self.working_band(&mut pen, marks, setting);
        self.edges(&mut pen, setting);
        self.axes(&mut pen, marks, setting);
        self.write_strip(&mut pen, &mut room, marks, setting);
        self.write_level(&mut pen, &mut room, setting);
        for region in &shown {
            self.write_region(&mut pen, &mut room, *region, setting);
        }
        let y = self.key(&mut pen, &shown, marks, setting);
        pen.finish(setting.width(), y, title, &self.description(marks, setting), self.table(setting))
    }

    /// Upper and lower edge of a region over the temperatures, in pieces that are joined.
    fn pieces(&self, region: Region, setting: &Setting) -> Vec<Vec<(f64, f64, f64)>> {
        let level = self.map.set_level();
        let mut pieces: Vec<Vec<(f64, f64, f64)>> = Vec::new();
        let mut open = false;
        // Where a region begins or ends between two temperatures it runs out to a point, so that regions meet without a gap.
        let mut before: Option<(f64, f64, f64)> = None;
        for column in &self.map.columns {
            let (low, high) = column.span(region, level);
            let x = self.x(column.T_C, setting);
            let (below, above) = (self.y(low, setting), self.y(high, setting));
            let edge = self.y(low.max(high), setting);
            if high > low && below - above > 1e-6 {
                if !open {
                    pieces.push(before.into_iter().collect());
                }
                if let Some(piece) = pieces.last_mut() {
                    piece.push((x, above, below));
                }
                open = true;
            } else {
                if let Some(piece) = pieces.last_mut().filter(|_| open) {
                    piece.push((x, edge, edge));
                }
                open = false;
            }
            before = Some((x, edge, edge));
        }
        pieces
    }

    fn outlines(&self, region: Region, setting: &Setting) -> Vec<Vec<Point>> {
        let around = |piece: Vec<(f64, f64, f64)>| {
            let upper = piece.iter().map(|(x, above, _)| (*x, *above));
            let lower = piece.iter().rev().map(|(x, _, below)| (*x, *below));
            upper.chain(lower).collect()
        };
        self.pieces(region, setting).into_iter().filter(|piece| piece.len() > 1).map(around).collect()
    }

    /// The edges as lines; the level of a set at 20 °C dashed across the side where it governs.
    fn edges(&self, pen: &mut Pen, setting: &Setting) {
        let edges: [fn(&Column) -> f64; 3] = [|column| column.lets_go_um, |column| column.set_um, |column| column.housing_um];
        for edge in edges {
            let mut run: Vec<Point> = Vec::new();
            for column in &self.map.columns {
                let um = edge(column);
                if um.is_finite() && um >= self.map.low_um && um <= self.map.high_um {
                    run.push((self.x(column.T_C, setting), self.y(um, setting)));
                } else {
                    pen.path(&std::mem::take(&mut run), false, Stroke::Outline);
                }
            }
            pen.path(&run, false, Stroke::Outline);
        }
        if let Some((from, to, y)) = self.level(setting) {
            pen.line((from, y), (to, y), Stroke::Dashed);
        }
    }

    /// Where the level of a set at 20 °C is drawn.
    fn level(&self, setting: &Setting) -> Option<(f64, f64, f64)> {
        let level = self.map.set_at_20_um.filter(|level| *level > self.map.low_um && *level < self.map.high_um)?;
        let mut governed = self.map.columns.iter().filter(|column| column.set_um > level).map(|column| self.x(column.T_C, setting));
        let first = governed.next()?;
        let last = governed.next_back().unwrap_or(first);
        Some((first, last, self.y(level, setting)))
    }

    fn working_tint(&self, pen: &mut Pen, marks: &Marks, setting: &Setting) {
        if let Some((coldest, hottest)) = marks.working_C {
            let (left, right) = (self.x(coldest, setting), self.x(hottest, setting));
            pen.patch(&Patch { left, right, top: self.plot.top, bottom: self.plot.bottom }, Tint::Range);
        }
    }

    fn working_band(&self, pen: &mut Pen, marks: &Marks, setting: &Setting) {
        let Some((coldest, hottest)) = marks.working_C else { return };
        let (from, to) = (self.x(coldest, setting), self.x(hottest, setting));
        for x in [from, to] {
            pen.line((x, self.plot.top - 12.0), (x, self.plot.bottom), Stroke::Thin);
        }
        let y = self.plot.top - 8.0;
        pen.line((from, y), (to, y), Stroke::Thin);
        if to - from > 20.0 {
            pen.arrow((from, y), (-1.0, 0.0));
            pen.arrow((to, y), (1.0, 0.0));
        }
        let text = format!(
            "working range {} to {}",
            minus(&shown::temperature(coldest, setting.system)),
            minus(&shown::temperature(hottest, setting.system))
        );
        let half = Letters::Plain.width(&text) / 2.0;
        let x =
            ((from + to) / 2.0).clamp((half + 4.0).min(setting.width() / 2.0), (setting.width() - half - 4.0).max(setting.width() / 2.0));
        pen.text(x, y - 7.0, Held::Middle, Letters::Plain, &text);
    }

    /// The planned interference across all temperatures, and its spread.
    fn strip(&self, pen: &mut Pen, marks: &Marks, setting: &Setting) {
        if let Some((low, high)) = marks.planned_um {
            let patch = Patch {
                left: self.plot.left,
                right: self.plot.right,
                top: self.y(low.max(high), setting),
                bottom: self.y(low.min(high), setting),
            };
            pen.patch(&patch, Tint::Strip);
            for y in [patch.top, patch.bottom] {
                pen.line((patch.left, y), (patch.right, y), Stroke::Curve);
            }
        }
        if let Some((low, high)) = marks.spread_um {
            for um in [low, high].into_iter().filter(|um| *um > self.map.low_um && *um < self.map.high_um) {
                let y = self.y(um, setting);
                pen.line((self.plot.left, y), (self.plot.right, y), Stroke::Faint);
            }
        }
    }

    fn write_strip(&self, pen: &mut Pen, room: &mut Room, marks: &Marks, setting: &Setting) {
        let Some((low, high)) = marks.planned_um else { return };
        let (top, bottom) = (self.y(low.max(high), setting), self.y(low.min(high), setting));
        let text = format!("planned {}", minus(&shown::fines(low, high, setting.system)));
        let (l, r) = (self.plot.left + 8.0, self.plot.right - 8.0);
        let middle = (top + bottom) / 2.0 + 4.0;
        let spots = if bottom - top > 20.0 {
            vec![(r, middle, Held::Right), (l, middle, Held::Left)]
        } else {
            vec![(r, top - 8.0, Held::Right), (r, bottom + 16.0, Held::Right), (l, top - 8.0, Held::Left), (l, bottom + 16.0, Held::Left)]
        };
        room.write(pen, &spots, Letters::Strong, &text);
        // Words of the regions keep off the strip.
        room.take(Patch { left: self.plot.left, right: self.plot.right, top, bottom });
    }

    fn write_level(&self, pen: &mut Pen, room: &mut Room, setting: &Setting) {
        let Some((from, to, y)) = self.level(setting) else { return };
        let text = "set when fitted";
        let spots = [
            (from + 8.0, y - 6.0, Held::Left),
            (to - 8.0, y - 6.0, Held::Right),
            (from + 8.0, y + 15.0, Held::Left),
            (to - 8.0, y + 15.0, Held::Right),
        ];
        room.write(pen, &spots, Letters::Small, text);
    }

    /// Writes a region's name where it has most room.
    fn write_region(&self, pen: &mut Pen, room: &mut Room, region: Region, setting: &Setting) {
        let (word, _) = region.words();
        let half = Letters::Strong.width(word) / 2.0 + 4.0;
        let mut spots: Vec<(f64, f64, f64)> = Vec::new();
        for piece in self.pieces(region, setting) {
            for (x, ..) in &piece {
                let over = || piece.iter().filter(|(other, ..)| (other - x).abs() <= half);
                if x - half < self.plot.left || x + half > self.plot.right {
                    continue;
                }
                let above = over().map(|(_, above, _)| *above).fold(f64::NEG_INFINITY, f64::max);
                let below = over().map(|(_, _, below)| *below).fold(f64::INFINITY, f64::min);
                let covered = over().count() > 1;
                if covered && below - above > 20.0 {
                    // Thirds as well as the middle: the middle may be covered by the strip.
                    spots.extend([0.5, 0.25, 0.75].map(|share| (below - above, *x, above + (below - above) * share + 4.0)));
                }
            }
        }
        spots.sort_by(|a, b| b.0.total_cmp(&a.0));
        let spots: Vec<(f64, f64, Held)> = spots.into_iter().map(|(_, x, y)| (x, y, Held::Middle)).collect();
        room.write(pen, &spots, Letters::Strong, word);
    }

    fn axes(&self, pen: &mut Pen, marks: &Marks, setting: &Setting) {
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
        let unit = shown::fine_unit(setting.system);
        pen.text(4.0, 16.0, Held::Left, Letters::Plain, &format!("interference, free, at 20 °C, {unit}"));
        let degrees = match setting.system {
            System::Metric => "°C",
            System::Inch => "°F",
        };
        let of = if marks.bush_alone { "temperature of the bush alone" } else { "temperature of both parts" };
        pen.text(plot.right, plot.bottom + 36.0, Held::Right, Letters::Plain, &format!("{of}, {degrees}"));
    }

    fn key(&self, pen: &mut Pen, shown: &[Region], marks: &Marks, setting: &Setting) -> f64 {
        let mut y = self.plot.bottom + 58.0;
        let room = setting.width() - 62.0;
        for region in shown {
            let (word, meaning) = region.words();
            let swatch = [(12.0, y - 10.0), (40.0, y - 10.0), (40.0, y + 2.0), (12.0, y + 2.0)];
            region.tint(pen, &swatch);
            region.hatch(pen, &swatch);
            pen.path(&swatch, true, Stroke::Thin);
            y = paragraph(pen, 50.0, y, room, Letters::Small, &format!("{word}: {meaning}")) + 3.0;
        }
        if self.level(setting).is_some() {
            pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Dashed);
            let text = "over this level the set is taken when it is fitted at 20 °C";
            y = paragraph(pen, 50.0, y, room, Letters::Small, text) + 3.0;
        }
        if let Some((low, high)) = marks.spread_um {
            pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Faint);
            let text = format!("what the bush will have, 95 %: {}", minus(&shown::fines(low, high, setting.system)));
            y = paragraph(pen, 50.0, y, room, Letters::Small, &text) + 3.0;
        }
        y
    }

    fn description(&self, marks: &Marks, setting: &Setting) -> String {
        let system = setting.system;
        let at = |T_C: f64| self.map.columns.iter().min_by(|a, b| (a.T_C - T_C).abs().total_cmp(&(b.T_C - T_C).abs()));
        let mut sentences = vec!["Temperature across, interference up.".to_owned()];
        let ends = marks.working_C.map_or(vec![20.0], |(coldest, hottest)| vec![coldest, hottest]);
        for T_C in ends {
            if let Some(column) = at(T_C) {
                let (low, high) = column.span(Region::Holds, self.map.set_level());
                sentences.push(if high <= low {
                    format!("Near {} no interference holds.", shown::temperature(T_C, system))
                } else if high.is_finite() {
                    format!("Near {} it holds from {}.", shown::temperature(T_C, system), shown::fines(low, high, system))
                } else {
                    format!("Near {} it holds over {}.", shown::temperature(T_C, system), shown::fine(low, system))
                });
            }
        }
        if let Some((low, high)) = marks.planned_um {
            sentences.push(format!("Planned are {}.", shown::fines(low, high, system)));
        }
        sentences.join(" ")
    }

    fn table(&self, setting: &Setting) -> Grid {
        let system = setting.system;
        let edge = |um: f64| if um.is_finite() { shown::fine(um, system) } else { "none".into() };
        let step = self.map.columns.len().div_ceil(12).max(1);
        let rows = self.map.columns.iter().step_by(step).map(|column| {
            let T = shown::temperature(column.T_C, system);
            vec![T, edge(column.lets_go_um), edge(column.set_um.min(self.map.set_level())), edge(column.housing_um)]
        });
        Grid {
            title: "Hold map".into(),
            columns: ["temperature", "lets go up to", "takes a set over", "housing over its limit over"].map(String::from).into(),
            figures: vec![true; 4],
            rows: rows.collect(),
        }
    }
}
