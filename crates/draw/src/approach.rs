//! The cuts one by one into the band: first the way on one scale, then each cut closely, about the size that was asked of it.
//!
//! A cut's way is a hundred times its doubt, so one scale can't show both. What is believed after each reading is a bar of two standard
//! uncertainties to each side; a reading that was set aside stands where it would have put the size, called by shape and word.

use calc::quantity::Quantity;
use calc::shown;
use calc::units::{System, um_from_mm};

use job::sheet::Grid;
use serde_json::Value;

use crate::axis::Axis;
use crate::cooldown::bar;
use crate::frame::number;
use crate::pen::{Held, Letters, Patch, Pen, Stroke, Tint};
use crate::place::{paragraph, refused};
use crate::{Drawing, Setting};

/// Standard uncertainties to each side of a bar.
const SIDES: f64 = 2.0;
/// A computed chance says no more than one of so many draws would.
const AS_DRAWN: u64 = 1_000_000;

/// What is drawn of a part between its first cut and its band. Sizes at 20 °C, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Approach {
    /// Lower limit.
    pub low_mm: f64,
    /// Upper limit.
    pub high_mm: f64,
    /// Size before the first cut.
    pub start: Quantity,
    /// The cuts that were made, in order.
    pub cuts: Vec<CutMade>,
    /// The cut that comes next, where there is one.
    pub next: Option<CutAhead>,
}

/// A cut that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct CutMade {
    /// The size that was asked of it.
    pub target_mm: f64,
    /// What was believed after each reading that followed.
    pub read: Vec<Believed>,
}

/// What is believed after a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Believed {
    /// The size.
    pub size: Quantity,
    /// What it would be with this reading, where the reading was set aside.
    pub set_aside_mm: Option<f64>,
}

/// A cut that is to come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutAhead {
    /// The size that is asked of it.
    pub target_mm: f64,
    /// The size that is predicted.
    pub size: Quantity,
    /// Chance that it lands in the band.
    pub chance_in_band: Option<f64>,
}

impl Approach {
    /// A request of `next-cut` and its answer: what was asked of a cut is the command that was set. None without limits or a start.
    pub fn of(request: &Value, answer: &Value) -> Option<Self> {
        let mut reads = answer.get("reads").and_then(Value::as_array).into_iter().flatten();
        let mut start = quantity(request.get("start_mm")?)?;
        let mut cuts: Vec<CutMade> = Vec::new();
        for event in request.get("events").and_then(Value::as_array).into_iter().flatten() {
            match event.get("ev").and_then(Value::as_str) {
                Some("cut") => cuts.push(CutMade { target_mm: number(event, "/command_mm")?, read: Vec::new() }),
                Some("read") => {
                    let Some(size) = reads.next() else { continue };
                    let believed = Believed { size: quantity(size.get("size_mm")?)?, set_aside_mm: number(size, "/if_kept_mm") };
                    match cuts.last_mut() {
                        Some(cut) => cut.read.push(believed),
                        // Before the first cut a reading makes the start surer.
                        None => start = believed.size,
                    }
                }
                _ => {}
            }
        }
        let next = answer.get("next").filter(|next| !next.is_null()).and_then(|next| {
            let size = quantity(next.get("size_mm")?)?;
            Some(CutAhead { target_mm: number(next, "/command_mm")?, size, chance_in_band: number(next, "/chance_in_band") })
        });
        Some(Self { low_mm: number(request, "/lower_mm")?, high_mm: number(request, "/upper_mm")?, start, cuts, next })
    }

    /// The same once the part is over: no cut comes.
    pub fn over(self) -> Self {
        Self { next: None, ..self }
    }
}

fn quantity(value: &Value) -> Option<Quantity> {
    let u = value.get("u").and_then(Value::as_f64).unwrap_or(0.0);
    Some(Quantity::with_u(number(value, "")?, u))
}

/// Draws the approach to the band.
pub fn approach(approach: &Approach, setting: &Setting) -> Drawing {
    let title = "The cuts into the band";
    let chart = Way::new(approach, setting).zip(Lanes::new(approach, setting));
    let Some((way, lanes)) = chart else {
        return refused(setting.width(), title, "There is no cut, or a size or a limit is missing.");
    };
    let mut pen = Pen::new();
    let y = way.draw(&mut pen);
    let y = lanes.draw(&mut pen, y);
    pen.finish(setting.width(), y, title, &description(approach, setting.system), table(approach, setting.system))
}

impl Approach {
    /// What the part is taken to measure before each cut and after the last.
    fn sizes(&self) -> Vec<f64> {
        let after = self.cuts.iter().map(|cut| cut.read.last().map_or(cut.target_mm, |last| last.size.value));
        [self.start.value].into_iter().chain(after).collect()
    }

    fn is_whole(&self) -> bool {
        let read = self.cuts.iter().flat_map(|cut| {
            let read = cut.read.iter().flat_map(|read| [read.size.value, read.size.u, read.set_aside_mm.unwrap_or(0.0)]);
            read.chain([cut.target_mm])
        });
        let next = self.next.iter().flat_map(|next| [next.target_mm, next.size.value, next.size.u]);
        let all = [self.low_mm, self.high_mm, self.start.value, self.start.u];
        let any = !(self.cuts.is_empty() && self.next.is_none());
        any && self.low_mm < self.high_mm && all.into_iter().chain(read).chain(next).all(f64::is_finite)
    }
}

fn span(figures: impl Iterator<Item = f64>) -> (f64, f64) {
    figures.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), figure| (low.min(figure), high.max(figure)))
}

/// The whole way, one step a cut.
struct Way<'a> {
    approach: &'a Approach,
    system: System,
    across: Axis,
    steps: Vec<(f64, f64)>,
    width: f64,
}

/// Height of a step.
const STEP: f64 = 20.0;

impl<'a> Way<'a> {
    fn new(approach: &'a Approach, setting: &'a Setting) -> Option<Self> {
        if !approach.is_whole() {
            return None;
        }
        let sizes = approach.sizes();
        let after = approach.next.map(|next| next.size.value);
        let mut steps: Vec<(f64, f64)> = sizes.windows(2).map(|pair| (pair[0], pair[1])).collect();
        steps.extend(sizes.last().copied().zip(after));
        let all = steps.iter().flat_map(|(from, to)| [*from, *to]).chain([approach.low_mm, approach.high_mm]);
        let (low, high) = span(all);
        let names = Letters::Small.width("cut 20, next") + 10.0;
        let across = Axis::new(setting.system.from_mm(low), setting.system.from_mm(high), names, setting.width() - names)?;
        Some(Self { approach, system: setting.system, across, steps, width: setting.width() })
    }

    fn x(&self, mm: f64) -> f64 {
        self.across.at(self.system.from_mm(mm))
    }

    /// Draws the steps; says where the next line begins.
    fn draw(&self, pen: &mut Pen) -> f64 {
        let (top, bottom) = (44.0, 44.0 + STEP * self.steps.len() as f64 + 6.0);
        pen.text(12.0, 16.0, Held::Left, Letters::Strong, &format!("The way: size at 20 °C, {}", self.system.length()));
        let (left, right) = (self.x(self.approach.low_mm), self.x(self.approach.high_mm));
        // A band that is thinner than a line is still to be seen.
        let right = right.max(left + 2.0);
        band(pen, &Patch { left, top, right, bottom });
        pen.text((left + right) / 2.0, top - 5.0, Held::Middle, Letters::Plain, "band");
        for (index, (from, to)) in self.steps.iter().enumerate() {
            let y = top + STEP * (index as f64 + 0.5) + 3.0;
            let ahead = index >= self.approach.cuts.len();
            let (a, b) = (self.x(*from), self.x(*to));
            pen.line((a, y), (b, y), if ahead { Stroke::Dashed } else { Stroke::Outline });
            if (a - b).abs() > 9.0 {
                pen.arrow((b, y), (if b < a { -1.0 } else { 1.0 }, 0.0));
            }
            if index > 0 {
                pen.line((a, y - STEP), (a, y), Stroke::Rule);
            }
            let name = if ahead { format!("cut {}, next", index + 1) } else { format!("cut {}", index + 1) };
            let (x, held) = if b < a { (a + 6.0, Held::Left) } else { (a - 6.0, Held::Right) };
            pen.text(x, y + 4.0, held, Letters::Small, &name);
        }
        pen.line((12.0, bottom), (self.width - 12.0, bottom), Stroke::Thin);
        for (x, text) in self.across.ticks(48.0) {
            pen.line((x, bottom), (x, bottom + 5.0), Stroke::Thin);
            pen.text(x, bottom + 17.0, Held::Middle, Letters::Small, &text);
        }
        bottom + 44.0
    }
}

fn band(pen: &mut Pen, patch: &Patch) {
    pen.patch(patch, Tint::Strip);
    pen.line((patch.left, patch.top), (patch.left, patch.bottom), Stroke::Outline);
    pen.line((patch.right, patch.top), (patch.right, patch.bottom), Stroke::Outline);
}

/// A row of a lane: what is written and what is drawn.
struct Row {
    words: String,
    letters: Letters,
    /// Off the target, and two standard uncertainties, µm.
    bar_um: Option<(f64, f64)>,
    set_aside_um: Option<f64>,
    ahead: bool,
}

/// The lane of one cut.
struct Lane {
    heading: String,
    target_mm: f64,
    rows: Vec<Row>,
}

/// The cuts, each about its target.
struct Lanes<'a> {
    approach: &'a Approach,
    setting: &'a Setting,
    lanes: Vec<Lane>,
    across: Axis,
    from: f64,
}

impl<'a> Lanes<'a> {
    fn new(approach: &'a Approach, setting: &'a Setting) -> Option<Self> {
        let system = setting.system;
        let mut lanes: Vec<Lane> = approach.cuts.iter().enumerate().map(|(index, cut)| made(index + 1, cut, system)).collect();
        lanes.extend(approach.next.iter().map(|next| ahead(approach.cuts.len() + 1, next, system)));
        let width = setting.width();
        let (from, to) = (if setting.narrow() { 20.0 } else { (width * 0.46).min(330.0) }, width - 20.0);
        let bars =
            lanes.iter().flat_map(|lane| lane.rows.iter().filter_map(|row| row.bar_um)).flat_map(|(off, half)| [off - half, off + half]);
        let limits = lanes.iter().flat_map(|lane| {
            let inside = (approach.low_mm..=approach.high_mm).contains(&lane.target_mm);
            let off = [approach.low_mm, approach.high_mm].map(|limit| um_from_mm(limit - lane.target_mm));
            off.into_iter().filter(move |_| inside)
        });
        let (low, high) = span(bars.chain(limits).chain([0.0]));
        let (low, high) = calc::band::frame(low, high, 0.06, 1.0);
        let across = Axis::new(small(low, system), small(high, system), from, to)?;
        Some(Self { approach, setting, lanes, across, from })
    }

    fn x(&self, um: f64) -> f64 {
        self.across.held(small(um, self.setting.system))
    }

    fn draw(&self, pen: &mut Pen, y: f64) -> f64 {
        let unit = shown::fine_unit(self.setting.system);
        let text = format!("Each cut closely: {unit} off the size that was asked of it");
        let mut y = paragraph(pen, 12.0, y, self.setting.width() - 24.0, Letters::Strong, &text) - 4.0;
        for lane in &self.lanes {
            y = self.lane(pen, y, lane);
        }
        pen.line((self.from, y), (self.setting.width() - 20.0, y), Stroke::Thin);
        for (x, text) in self.across.ticks(48.0) {
            pen.line((x, y), (x, y + 5.0), Stroke::Thin);
            pen.text(x, y + 17.0, Held::Middle, Letters::Small, &text);
        }
        self.key(pen, y + 42.0)
    }

    fn lane(&self, pen: &mut Pen, y: f64, lane: &Lane) -> f64 {
        let narrow = self.setting.narrow();
        pen.text(12.0, y + 12.0, Held::Left, Letters::Plain, &lane.heading);
        let top = if narrow { y + 20.0 } else { y };
        let room = if narrow { self.setting.width() - 24.0 } else { self.from - 30.0 };
        // First where everything stands, then what lies under it, so that marks are drawn over the band.
        let mut at = Vec::new();
        let mut below = y + 22.0;
        for row in &lane.rows {
            let lines = row.letters.wrap(&row.words, room);
            let tall = lines.len() as f64 * 14.5;
            let middle = if narrow { below + tall + 6.0 } else { below + tall / 2.0 };
            at.push((lines, below, middle));
            below = if narrow { middle + 14.0 } else { below + tall + 7.0 };
        }
        let bottom = below + 2.0;
        self.ground(pen, lane, if narrow { top + 4.0 } else { top }, bottom);
        for (row, (lines, first, middle)) in lane.rows.iter().zip(at) {
            for (index, line) in lines.iter().enumerate() {
                let base = first + 10.0 + 14.5 * index as f64;
                match narrow {
                    true => pen.label(20.0, base, Held::Left, row.letters, line),
                    false => pen.text(20.0, base, Held::Left, row.letters, line),
                }
            }
            self.row(pen, row, middle);
        }
        bottom + 6.0
    }

    /// The band where it lies in this lane, and the line of the target.
    fn ground(&self, pen: &mut Pen, lane: &Lane, top: f64, bottom: f64) {
        let off = |limit_mm: f64| self.x(um_from_mm(limit_mm - lane.target_mm));
        let (left, right) = (off(self.approach.low_mm), off(self.approach.high_mm));
        if right > left {
            band(pen, &Patch { left, top, right, bottom });
        }
        pen.line((self.from, bottom), (self.setting.width() - 20.0, bottom), Stroke::Rule);
        pen.line((self.x(0.0), top), (self.x(0.0), bottom), Stroke::Centre);
    }

    fn row(&self, pen: &mut Pen, row: &Row, y: f64) {
        if let Some((off, half)) = row.bar_um {
            bar(pen, (self.x(off - half), y), (self.x(off + half), y), if row.ahead { Stroke::Dashed } else { Stroke::Outline });
            match row.ahead {
                true => pen.ring((self.x(off), y), 4.0, Stroke::Outline),
                false => pen.dot((self.x(off), y), 3.4, Tint::Ink),
            }
        }
        if let Some(off) = row.set_aside_um {
            diamond(pen, self.x(off), y);
        }
    }

    fn key(&self, pen: &mut Pen, y: f64) -> f64 {
        let width = self.setting.width() - 62.0;
        let mut y = y;
        if self.approach.cuts.iter().any(|cut| !cut.read.is_empty()) {
            bar(pen, (12.0, y - 4.0), (40.0, y - 4.0), Stroke::Outline);
            pen.dot((26.0, y - 4.0), 3.4, Tint::Ink);
            y = paragraph(pen, 50.0, y, width, Letters::Small, "size believed after a reading, two standard uncertainties to each side")
                + 3.0;
        }
        if self.approach.next.is_some() {
            bar(pen, (12.0, y - 4.0), (40.0, y - 4.0), Stroke::Dashed);
            pen.ring((26.0, y - 4.0), 4.0, Stroke::Outline);
            y = paragraph(pen, 50.0, y, width, Letters::Small, "size predicted for the next cut, two standard uncertainties to each side")
                + 3.0;
        }
        if self.lanes.iter().flat_map(|lane| &lane.rows).any(|row| row.set_aside_um.is_some()) {
            diamond(pen, 26.0, y - 4.0);
            let text = "a reading that was set aside, where it would put the size (beyond the scale: at its end); measure that again";
            y = paragraph(pen, 50.0, y, width, Letters::Small, text) + 3.0;
        }
        pen.line((12.0, y - 4.0), (40.0, y - 4.0), Stroke::Centre);
        y = paragraph(pen, 50.0, y, width, Letters::Small, "the size that was asked of the cut") + 3.0;
        band(pen, &Patch { left: 12.0, top: y - 10.0, right: 40.0, bottom: y + 2.0 });
        let limits = shown::lengths(self.approach.low_mm, self.approach.high_mm, 3, self.setting.system);
        paragraph(pen, 50.0, y, width, Letters::Small, &format!("the band, {limits}")) + 3.0
    }
}

fn diamond(pen: &mut Pen, x: f64, y: f64) {
    pen.path(&[(x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y)], true, Stroke::Needs);
}

fn small(um: f64, system: System) -> f64 {
    match system {
        System::Metric => um,
        System::Inch => System::Inch.from_mm(um),
    }
}

fn made(number: usize, cut: &CutMade, system: System) -> Lane {
    let row = |(index, read): (usize, &Believed)| {
        let size = shown::size(&read.size, system);
        let words = match read.set_aside_mm {
            Some(kept_mm) => {
                format!("reading {} set aside: kept, it would give {}; believed stays {size}", index + 1, shown::length(kept_mm, 3, system))
            }
            None => format!("reading {}: {size}", index + 1),
        };
        Row {
            words,
            letters: if read.set_aside_mm.is_some() { Letters::Call } else { Letters::Small },
            bar_um: Some((um_from_mm(read.size.value - cut.target_mm), um_from_mm(SIDES * read.size.u))),
            set_aside_um: read.set_aside_mm.map(|kept_mm| um_from_mm(kept_mm - cut.target_mm)),
            ahead: false,
        }
    };
    let mut rows: Vec<Row> = cut.read.iter().enumerate().map(row).collect();
    if rows.is_empty() {
        rows.push(Row { words: "not read yet".into(), letters: Letters::Small, bar_um: None, set_aside_um: None, ahead: false });
    }
    Lane { heading: format!("Cut {number}, asked {}", shown::length(cut.target_mm, 3, system)), target_mm: cut.target_mm, rows }
}

fn ahead(number: usize, next: &CutAhead, system: System) -> Lane {
    let chance = next.chance_in_band.map(|chance| format!(", in the band {}", shown::chance(chance, AS_DRAWN))).unwrap_or_default();
    let row = Row {
        words: format!("predicted: {}{chance}", shown::size(&next.size, system)),
        letters: Letters::Small,
        bar_um: Some((um_from_mm(next.size.value - next.target_mm), um_from_mm(SIDES * next.size.u))),
        set_aside_um: None,
        ahead: true,
    };
    Lane {
        heading: format!("Cut {number}, next, asked {}", shown::length(next.target_mm, 3, system)),
        target_mm: next.target_mm,
        rows: vec![row],
    }
}

fn description(approach: &Approach, system: System) -> String {
    let mut sentences = vec![format!(
        "From {} towards the band {}.",
        shown::size(&approach.start, system),
        shown::lengths(approach.low_mm, approach.high_mm, 3, system)
    )];
    for (index, cut) in approach.cuts.iter().enumerate() {
        let last = cut
            .read
            .last()
            .map_or("it was not read yet".into(), |last| format!("it is believed to be {}", shown::size(&last.size, system)));
        let aside = cut.read.iter().filter(|read| read.set_aside_mm.is_some()).count();
        let aside = match aside {
            0 => String::new(),
            1 => ", a reading was set aside".into(),
            more => format!(", {more} readings were set aside"),
        };
        sentences.push(format!("Cut {}, asked {}: {last}{aside}.", index + 1, shown::length(cut.target_mm, 3, system)));
    }
    if let Some(next) = &approach.next {
        let chance = next.chance_in_band.map(|chance| format!(", in the band {}", shown::chance(chance, AS_DRAWN))).unwrap_or_default();
        sentences.push(format!("The next cut is predicted to land at {}{chance}.", shown::size(&next.size, system)));
    }
    sentences.join(" ")
}

fn table(approach: &Approach, system: System) -> Grid {
    let mut rows = vec![vec!["start".into(), String::new(), shown::size(&approach.start, system), String::new()]];
    for (index, cut) in approach.cuts.iter().enumerate() {
        let (name, target) = (format!("cut {}", index + 1), shown::length(cut.target_mm, 3, system));
        for read in &cut.read {
            let aside =
                read.set_aside_mm.map(|kept_mm| format!("reading set aside: kept, it would give {}", shown::length(kept_mm, 3, system)));
            rows.push(vec![name.clone(), target.clone(), shown::size(&read.size, system), aside.unwrap_or_default()]);
        }
        if cut.read.is_empty() {
            rows.push(vec![name, target, String::new(), "not read yet".into()]);
        }
    }
    if let Some(next) = &approach.next {
        let chance = next.chance_in_band.map(|chance| format!(", in the band {}", shown::chance(chance, AS_DRAWN))).unwrap_or_default();
        let name = format!("cut {}, next", approach.cuts.len() + 1);
        rows.push(vec![name, shown::length(next.target_mm, 3, system), shown::size(&next.size, system), format!("predicted{chance}")]);
    }
    Grid {
        title: "Cuts and what is believed after each reading, 95 %".into(),
        columns: ["cut", "asked", "size", ""].map(String::from).into(),
        figures: vec![false, true, true, false],
        rows,
    }
}
