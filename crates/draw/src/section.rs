//! The half section of a seat: housing, bush and journal above the centre line, to scale, with every size that the job decides.
//!
//! Interference and clearance are too small to be seen at any scale that fits a sheet: both are drawn larger by one factor, which is
//! printed. Where bush and housing claim the same room their hatches cross.
//! Source of the conventions: ISO 128-3 (half sections, hatching, shafts not sectioned), ISO 129-1 (dimension lines, the half
//! section's single arrow); from memory.

use calc::shown;
use calc::units::{System, shown_plain};
use job::sheet::{Dimension, Grid, Section};

use crate::hatch::{Lean, hatch};
use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke, Tint};
use crate::place::{paragraph, refused};
use crate::{Drawing, Setting};

/// Round scales of reduction; enlarged ones are their inverse.
const SCALES: [f64; 16] = [0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 50.0, 100.0];
/// Units that the larger of interference and clearance is drawn as, at most, on the radius.
const SEEN: f64 = 9.0;

/// Draws the half section of a seat.
pub fn section(section: &Section, setting: &Setting) -> Drawing {
    let title = "Section of the seat";
    match Plan::of(section, setting) {
        Ok(plan) => plan.draw(section, setting, title),
        Err(why) => refused(setting.width(), title, &why),
    }
}

/// Places of everything on the sheet.
struct Plan {
    /// Units a millimetre.
    per_mm: f64,
    /// How many times larger interference and clearance are drawn.
    factor: f64,
    left: f64,
    right: f64,
    /// Centre line.
    centre: f64,
    /// First dimension line and how far they are apart.
    columns: f64,
    apart: f64,
}

impl Plan {
    fn of(section: &Section, setting: &Setting) -> Result<Self, String> {
        sound(section)?;
        let narrow = setting.narrow();
        let width = setting.width();
        let apart = if narrow { 15.0 } else { 22.0 };
        let (margin, stub) = (14.0, STUB);
        let columns_room = apart * 5.0 + 14.0;
        let flange = section.flange.as_ref().map_or(0.0, |(_, thickness)| thickness.mm);
        let flange_outside = section.flange.as_ref().map_or(0.0, |(outside, _)| outside.mm);
        let along = section.length.mm + flange;
        let radius = section.housing_outside.mm.max(flange_outside) / 2.0;
        let room = (width - 2.0 * (margin + stub) - columns_room, if narrow { 190.0 } else { 260.0 });
        let most = (room.0 / along).min(room.1 / radius);
        let per_mm = match setting.unit_mm {
            Some(unit_mm) if unit_mm > 0.0 => {
                SCALES.iter().map(|scale| 1.0 / (scale * unit_mm)).find(|per_mm| *per_mm <= most).unwrap_or(most)
            }
            _ => most,
        };
        let factor = factor(section, per_mm);
        let left = ((width - along * per_mm - columns_room) / 2.0).max(margin + stub) + flange * per_mm;
        let right = left + section.length.mm * per_mm;
        let top = if section.flange.is_some() { 66.0 } else { 46.0 };
        Ok(Self { per_mm, factor, left, right, centre: top + radius * per_mm, columns: right + stub + 12.0, apart })
    }

    /// Height of a surface of this diameter.
    fn at(&self, diameter_mm: f64) -> f64 {
        self.centre - diameter_mm / 2.0 * self.per_mm
    }

    /// Half of a small diametral size as drawn.
    fn larger(&self, um: f64) -> f64 {
        um / 1000.0 / 2.0 * self.factor * self.per_mm
    }

    fn draw(&self, section: &Section, setting: &Setting, title: &str) -> Drawing {
        let width = setting.width();
        let mut pen = Pen::new();
        let surfaces = Surfaces::of(self, section);
        self.metals(&mut pen, section, &surfaces);
        self.shaft(&mut pen, section, &surfaces, setting);
        self.lengths(&mut pen, section, setting);
        let y = self.diameters(&mut pen, section, &surfaces);
        let y = self.words(&mut pen, section, setting, y);
        let description = description(section, setting, self.factor);
        pen.finish(width, y, title, &description, table(section, setting.system))
    }

    fn metals(&self, pen: &mut Pen, section: &Section, surfaces: &Surfaces) {
        let (l, r) = (self.left, self.right);
        let housing = [(l, surfaces.housing), (r, surfaces.housing), (r, surfaces.seat), (l, surfaces.seat)];
        let bush = self.bush(section, surfaces);
        pen.area(&housing, Tint::Housing);
        pen.area(&bush, Tint::Bush);
        hatch(pen, &housing, Lean::Rising, pitch(&section.metal));
        hatch(pen, &bush, Lean::Falling, 5.0);
        pen.path(&housing, true, Stroke::Outline);
        pen.path(&bush, true, Stroke::Outline);
    }

    /// Outline of the bush with its groove and flange.
    fn bush(&self, section: &Section, surfaces: &Surfaces) -> Vec<Point> {
        let (l, r) = (self.left, self.right);
        let mut outline = vec![(r, surfaces.bush), (r, surfaces.bore)];
        if let Some((from, to, depth)) = self.groove(section) {
            let top = surfaces.bore - depth;
            outline.extend([(to, surfaces.bore), (to, top), (from, top), (from, surfaces.bore)]);
        }
        match &section.flange {
            Some((outside, thickness)) => {
                let face = l - thickness.mm * self.per_mm;
                let top = self.at(outside.mm);
                outline.extend([(face, surfaces.bore), (face, top), (l, top), (l, surfaces.bush)]);
            }
            None => outline.extend([(l, surfaces.bore), (l, surfaces.bush)]),
        }
        outline
    }

    /// Ends and depth of the groove as drawn, when it lies in the bush.
    fn groove(&self, section: &Section) -> Option<(f64, f64, f64)> {
        let (middle, width, depth) = section.groove.as_ref()?;
        let centre = self.left + middle.mm * self.per_mm;
        let half = (width / 2.0 * self.per_mm).max(1.5);
        let (from, to) = (centre - half, centre + half);
        let wall = (section.bush_outside.mm - section.bush_bore.mm) / 2.0;
        let sound = from > self.left && to < self.right && *depth > 0.0 && *depth < wall;
        sound.then(|| (from, to, (depth * self.per_mm).max(2.0)))
    }

    fn shaft(&self, pen: &mut Pen, section: &Section, surfaces: &Surfaces, setting: &Setting) {
        let flange = section.flange.as_ref().map_or(0.0, |(_, thickness)| thickness.mm * self.per_mm);
        let (l, r) = (self.left - flange - STUB, self.right + STUB);
        pen.line((l, surfaces.journal), (r, surfaces.journal), Stroke::Outline);
        pen.swing((l, surfaces.journal), (l, self.centre), 5.0, Stroke::Thin);
        pen.swing((r, surfaces.journal), (r, self.centre), 5.0, Stroke::Thin);
        pen.line((l - 8.0, self.centre), (self.columns + 4.0 * self.apart + 8.0, self.centre), Stroke::Centre);
        let high = self.centre - surfaces.journal;
        if high > 34.0 {
            pen.text((self.left + self.right) / 2.0, self.centre - 8.0, Held::Middle, Letters::Small, "journal");
        }
        self.groove_place(pen, section, surfaces, setting);
    }

    /// Distance of the groove from the datum end, drawn in the blank of the journal where there is room.
    fn groove_place(&self, pen: &mut Pen, section: &Section, surfaces: &Surfaces, setting: &Setting) {
        let (Some((from, to, _)), Some((middle, ..))) = (self.groove(section), &section.groove) else { return };
        if !self.has_room_for_groove(section, surfaces) {
            return;
        }
        let x = (from + to) / 2.0;
        let y = surfaces.journal + 18.0;
        for end in [self.left, x] {
            pen.line((end, surfaces.bore + 3.0), (end, y + 4.0), Stroke::Rule);
        }
        pen.line((self.left, y), (x, y), Stroke::Thin);
        pen.arrow((self.left, y), (-1.0, 0.0));
        pen.arrow((x, y), (1.0, 0.0));
        let text = &middle.text;
        let centre = (self.left + x) / 2.0;
        let half = Letters::Plain.width(text) / 2.0 + 2.0;
        let centre = centre.clamp((self.left + half).min(setting.width() - half), (setting.width() - half).max(half));
        pen.text(centre, y + 14.0, Held::Middle, Letters::Plain, text);
    }

    fn has_room_for_groove(&self, section: &Section, surfaces: &Surfaces) -> bool {
        let from_datum = section.groove.as_ref().map_or(0.0, |(middle, ..)| middle.mm * self.per_mm);
        self.groove(section).is_some() && self.centre - surfaces.journal > 62.0 && from_datum > 24.0
    }

    /// Bush length and flange above the housing.
    fn lengths(&self, pen: &mut Pen, section: &Section, setting: &Setting) {
        let (l, r) = (self.left, self.right);
        let y = if section.flange.is_some() { 50.0 } else { 30.0 };
        let top = self.at(section.housing_outside.mm);
        for x in [l, r] {
            pen.line((x, y - 4.0), (x, top - 2.0), Stroke::Rule);
        }
        pen.line((l, y), (r, y), Stroke::Thin);
        pen.arrow((l, y), (-1.0, 0.0));
        pen.arrow((r, y), (1.0, 0.0));
        let text = format!("{} {}", section.length.of, section.length.text);
        centred(pen, (l + r) / 2.0, y - 6.0, &text, setting.width());
        if let Some((outside, thickness)) = &section.flange {
            let x = l - thickness.mm * self.per_mm / 2.0;
            let corner = self.at(outside.mm);
            pen.line((x, 24.0), (x, corner), Stroke::Thin);
            pen.arrow((x, corner), (0.0, 1.0));
            let text = format!("flange \u{2300} {} × {}", outside.text, thickness.text);
            let from = x.min(setting.width() - Letters::Plain.width(&text) - 6.0).max(6.0);
            pen.line((x, 24.0), (from + Letters::Plain.width(&text), 24.0), Stroke::Thin);
            pen.text(from, 19.0, Held::Left, Letters::Plain, &text);
        }
    }

    /// Diameters: dimension lines right of the part, smallest nearest, that pass the centre line and end on their words below it.
    fn diameters(&self, pen: &mut Pen, section: &Section, surfaces: &Surfaces) -> f64 {
        let sizes = [
            (&section.journal, surfaces.journal),
            (&section.bush_bore, surfaces.bore),
            (&section.bush_outside, surfaces.bush),
            (&section.housing_bore, surfaces.seat),
            (&section.housing_outside, surfaces.housing),
        ];
        let mut y = self.centre + 12.0;
        for (index, (size, surface)) in sizes.into_iter().enumerate() {
            let x = self.columns + index as f64 * self.apart;
            let edge = if index == 0 { self.right + STUB } else { self.right };
            let figure = format!("\u{2300} {}", size.text);
            let room = x - 18.0;
            let beside = Letters::Small.width(&size.of) + Letters::Plain.width(&figure) + 14.0 <= room;
            let words = if beside { Vec::new() } else { Letters::Small.wrap(&size.of, room) };
            let figures = Letters::Plain.wrap(&figure, room);
            y += 8.0 + 14.0 * (words.len() + figures.len()) as f64;
            pen.line((edge + 2.0, surface), (x + 4.0, surface), Stroke::Rule);
            pen.line((x, surface), (x, y), Stroke::Thin);
            pen.arrow((x, surface), (0.0, -1.0));
            let lines = words.iter().map(|line| (Letters::Small, line)).chain(figures.iter().map(|line| (Letters::Plain, line)));
            let count = words.len() + figures.len();
            let mut widest: f64 = 0.0;
            for (row, (letters, line)) in lines.enumerate() {
                let base = y - 4.0 - 14.0 * (count - 1 - row) as f64;
                pen.text(x - 6.0, base, Held::Right, letters, line);
                widest = widest.max(letters.width(line));
            }
            if beside {
                let right = x - 6.0 - widest - 8.0;
                pen.text(right, y - 4.0, Held::Right, Letters::Small, &size.of);
                widest += 8.0 + Letters::Small.width(&size.of);
            }
            pen.line((x - 6.0 - widest, y), (x, y), Stroke::Thin);
        }
        y + 16.0
    }

    /// Metals, scale and factor.
    fn words(&self, pen: &mut Pen, section: &Section, setting: &Setting, y: f64) -> f64 {
        let room = setting.width() - 24.0;
        let mut y = y + 6.0;
        let mut x = 12.0;
        for (name, metal, tint, lean, pitch) in [
            ("housing", &section.metal, Tint::Housing, Lean::Rising, pitch(&section.metal)),
            ("bush", &section.alloy, Tint::Bush, Lean::Falling, 5.0),
        ] {
            let text = format!("{name} {metal}");
            let wide = 32.0 + Letters::Small.width(&text) + 20.0;
            if x > 12.0 && x + wide > setting.width() {
                x = 12.0;
                y += 18.0;
            }
            let swatch = [(x, y - 10.0), (x + 24.0, y - 10.0), (x + 24.0, y + 2.0), (x, y + 2.0)];
            pen.area(&swatch, tint);
            hatch(pen, &swatch, lean, pitch);
            pen.path(&swatch, true, Stroke::Thin);
            let lines = Letters::Small.wrap(&text, setting.width() - x - 44.0);
            for (row, line) in lines.iter().enumerate() {
                pen.text(x + 32.0, y + 13.0 * row as f64, Held::Left, Letters::Small, line);
            }
            y += 13.0 * lines.len().saturating_sub(1) as f64;
            x += wide;
        }
        y = self.bar(pen, setting, y + 20.0);
        paragraph(pen, 12.0, y, room, Letters::Small, &exaggeration(section, setting.system, self.factor)) + 2.0
    }

    /// A bar of round length: the scale that still holds when the sheet is printed at another size.
    fn bar(&self, pen: &mut Pen, setting: &Setting, y: f64) -> f64 {
        let round = crate::axis::round_up(setting.system.from_mm(50.0 / self.per_mm));
        let long = setting.system.to_mm(round) * self.per_mm;
        pen.line((12.0, y), (12.0 + long, y), Stroke::Outline);
        for x in [12.0, 12.0 + long] {
            pen.line((x, y - 4.0), (x, y + 4.0), Stroke::Outline);
        }
        let length = format!("{round} {}", setting.system.length());
        let scale = setting.unit_mm.and_then(|unit_mm| printed_scale(1.0 / (self.per_mm * unit_mm)));
        let text = scale.map_or_else(|| length.clone(), |scale| format!("{length}; scale {scale}"));
        pen.text(12.0 + long + 8.0, y + 4.0, Held::Left, Letters::Small, &text);
        y + 20.0
    }
}

/// Stub of the shaft beyond the bush, units.
const STUB: f64 = 14.0;

/// Heights of the surfaces as drawn, interference and clearance larger than life.
struct Surfaces {
    housing: f64,
    seat: f64,
    bush: f64,
    bore: f64,
    journal: f64,
}

impl Surfaces {
    fn of(plan: &Plan, section: &Section) -> Self {
        let seat = plan.at(section.housing_bore.mm);
        let bore = plan.at(section.bush_bore.mm);
        Self {
            housing: plan.at(section.housing_outside.mm),
            seat,
            bush: seat - plan.larger(section.interference_um),
            bore,
            journal: bore + plan.larger(section.clearance_um),
        }
    }
}

/// Why a section can't be drawn, in a sentence.
fn sound(section: &Section) -> Result<(), String> {
    let sizes =
        [&section.journal, &section.bush_bore, &section.bush_outside, &section.housing_bore, &section.housing_outside, &section.length];
    let flange = section.flange.iter().flat_map(|(outside, thickness)| [outside, thickness]);
    if let Some(bad) = sizes.into_iter().chain(flange).find(|size| !(size.mm.is_finite() && size.mm > 0.0 && size.mm < 1e5)) {
        return Err(format!("The {} is {} mm; it must be over 0 and under 100 000.", bad.of, bad.mm));
    }
    if !(section.interference_um.is_finite() && section.clearance_um.is_finite()) {
        return Err("Interference or clearance is no number.".into());
    }
    let rising = [&section.bush_bore, &section.housing_bore, &section.housing_outside];
    for pair in rising.windows(2) {
        if let [inner, outer] = pair
            && inner.mm >= outer.mm
        {
            return Err(format!("The {} ({}) is not smaller than the {} ({}).", inner.of, inner.text, outer.of, outer.text));
        }
    }
    Ok(())
}

/// 1, 2 or 5 times a power of ten, so that the larger of interference and clearance is just seen and stays thinner than the wall.
fn factor(section: &Section, per_mm: f64) -> f64 {
    let larger_um = section.interference_um.abs().max(section.clearance_um.abs());
    if larger_um < 1e-3 {
        return 1.0;
    }
    let wall = (section.housing_bore.mm - section.bush_bore.mm) / 2.0 * per_mm;
    let rim = (section.housing_outside.mm - section.housing_bore.mm) / 2.0 * per_mm;
    let seen = SEEN.min(wall * 0.45).min(rim * 0.45).min(section.bush_bore.mm / 4.0 * per_mm);
    let most = seen / (larger_um / 2000.0 * per_mm);
    // The round figure at or under the most: never under life size.
    let over = crate::axis::round_up(most);
    let under = [1.0, 0.5, 0.4, 0.2].into_iter().map(|share| over * share).find(|round| *round <= most * (1.0 + 1e-9));
    under.unwrap_or(1.0).max(1.0)
}

fn printed_scale(reduction: f64) -> Option<String> {
    let known = SCALES.iter().find(|scale| (*scale - reduction).abs() < 1e-6 * reduction)?;
    Some(if *known >= 1.0 { format!("1 : {known}") } else { format!("{} : 1", (1.0 / known).round()) })
}

/// Distance of the hatch by the family of the housing's metal, units; the bush always has 5.
pub(crate) fn pitch(metal: &str) -> f64 {
    let upper = metal.to_uppercase();
    match () {
        () if upper.contains("GJ") || upper.contains("IRON") => 10.0,
        () if upper.contains("AL") => 13.0,
        () => 7.5,
    }
}

fn centred(pen: &mut Pen, x: f64, y: f64, text: &str, width: f64) {
    let half = Letters::Plain.width(text) / 2.0 + 4.0;
    let x = if 2.0 * half > width { half } else { x.clamp(half, width - half) };
    let patch = Patch::of_text(x, y, Held::Middle, Letters::Plain, text);
    debug_assert!(patch.left >= 0.0);
    pen.text(x, y, Held::Middle, Letters::Plain, text);
}

fn small(um: f64, system: System) -> String {
    crate::axis::minus(&shown::fine(um, system))
}

fn exaggeration(section: &Section, system: System, factor: f64) -> String {
    let times = shown_plain(factor, 0);
    let interference = format!("interference {}", small(section.interference_um, system));
    let both = if section.clearance_um == 0.0 {
        format!("The {interference} is drawn {times} times larger; the running clearance is not known yet.")
    } else {
        format!("The {interference} and the clearance {} are drawn {times} times larger.", small(section.clearance_um, system))
    };
    let groove = section.groove.as_ref().map(|(middle, width, depth)| {
        format!(
            " {} {}, {} wide, {} deep.",
            capital(&middle.of),
            middle.text,
            shown::length(*width, 1, system),
            shown::length(*depth, 1, system)
        )
    });
    format!("{both} Hatches cross where bush and housing claim the same room.{}", groove.unwrap_or_default())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn description(section: &Section, setting: &Setting, factor: f64) -> String {
    let size = |dimension: &Dimension| format!("{} {}", dimension.of, dimension.text);
    format!(
        "Half section: {} in a housing of {}, bush of {}. {}, {}, {}, {}, {}, {}. {}",
        "bush pressed",
        section.metal,
        section.alloy,
        size(&section.housing_outside),
        size(&section.housing_bore),
        size(&section.bush_outside),
        size(&section.bush_bore),
        size(&section.journal),
        size(&section.length),
        exaggeration(section, setting.system, factor)
    )
}

fn table(section: &Section, system: System) -> Grid {
    let mut rows: Vec<Vec<String>> =
        [&section.housing_outside, &section.housing_bore, &section.bush_outside, &section.bush_bore, &section.journal, &section.length]
            .into_iter()
            .chain(section.flange.iter().flat_map(|(outside, thickness)| [outside, thickness]))
            .chain(section.groove.iter().map(|(middle, ..)| middle))
            .map(|size| vec![size.of.clone(), size.text.clone()])
            .collect();
    rows.push(vec!["interference, free, at 20 °C".into(), small(section.interference_um, system)]);
    rows.push(vec!["running clearance".into(), small(section.clearance_um, system)]);
    Grid { title: "Section of the seat".into(), columns: vec!["size".into(), "value".into()], figures: vec![false, true], rows }
}
