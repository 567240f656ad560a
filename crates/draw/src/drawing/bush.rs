//! The bush as it goes in: what the section and the end view show of it, and what is asked of each of its surfaces.

use job::papers::shop_drawing::{Asked, GrooveDrawn, ShopDrawing};

use super::Style;
use super::callouts::{End, Way};
use super::marks::{Block, Piece, Symbol};
use super::views::{At, Cut, Diameter, Length, Note, Seen, Spot, Views, at_angle, behind, between};
use crate::hatch::Lean;
use crate::pen::Stroke;

/// An angle lies in the cut when the sine of what is between them is under this.
const IN_THE_CUT: f64 = 0.02;
/// Slope of the lead as drawn: tan 12°.
const LEAD_SLOPE: f64 = 0.2126;

/// What is drawn, or why it can't be, in a sentence.
pub(crate) fn views(part: &ShopDrawing, _: &Style) -> Result<Views, String> {
    let body = Body::of(part)?;
    let mut views = Views {
        title: "bush, as it goes in",
        material: part.alloy.clone(),
        along: (0.0, body.length),
        tall: 2.0 * body.flange.map_or(body.outer, |(radius, _)| radius),
        handed: part.handed,
        cuts: [true, false].into_iter().flat_map(|up| body.half(part, up)).collect(),
        edges: body.edges(part),
        lengths: body.lengths(part),
        diameters: body.diameters(part, &part.bore),
        notes: Vec::new(),
        end_view: body.end_view(part),
        end_across: 2.0 * body.flange.map_or(body.outer, |(radius, _)| radius),
    };
    views.notes = body.notes(part);
    Ok(views)
}

/// Radii and lengths of the bush, mm.
pub(crate) struct Body {
    pub outer: f64,
    pub inner: f64,
    pub length: f64,
    /// Radius and thickness.
    pub flange: Option<(f64, f64)>,
    lead: f64,
    chamfer: f64,
}

impl Body {
    pub fn of(part: &ShopDrawing) -> Result<Self, String> {
        let sizes = [&part.outside, &part.bore, &part.length].into_iter().chain(part.flange.iter().flat_map(|(a, b)| [a, b]));
        if let Some(bad) = sizes.into_iter().find(|size| !(size.mm.is_finite() && size.mm > 0.0 && size.mm < 1e5)) {
            return Err(format!("The {} is {} mm; it must be over 0 and under 100 000.", bad.of, bad.mm));
        }
        let (outer, inner, length) = (part.outside.mm / 2.0, part.bore.mm / 2.0, part.length.mm);
        if inner >= outer {
            return Err(format!("The {} is not smaller than the {}.", part.bore.of, part.outside.of));
        }
        let flange = part.flange.as_ref().map(|(outside, thickness)| (outside.mm / 2.0, thickness.mm));
        if flange.is_some_and(|(radius, thickness)| radius <= outer || thickness >= length) {
            return Err("The flange is not larger than the body, or as thick as the bush is long.".into());
        }
        let wall = outer - inner;
        let lead = part.lead.mm.clamp(0.0, length / 4.0).min(wall / 2.0 / LEAD_SLOPE);
        Ok(Self { outer, inner, length, flange, lead, chamfer: part.chamfer.mm.clamp(0.0, (wall / 3.0).min(length / 8.0)) })
    }

    /// Upper edge of the half section, from the datum end on.
    fn outside_line(&self, datum_leads: bool) -> Vec<Spot> {
        let (L, R) = (self.length, self.outer);
        let low = R - self.lead * LEAD_SLOPE;
        let mut line = match self.flange {
            Some((radius, thickness)) => vec![(0.0, radius), (thickness, radius), (thickness, R)],
            None if datum_leads => vec![(0.0, low), (self.lead, R)],
            None => vec![(0.0, R)],
        };
        if datum_leads && self.flange.is_none() {
            line.push((L, R))
        } else {
            line.extend([(L - self.lead, R), (L, low)])
        }
        line
    }

    /// Lower edge of the half section, with what the groove takes out of this half.
    fn bore_line(&self, part: &ShopDrawing, up: bool) -> Vec<Spot> {
        let (L, r, c) = (self.length, self.inner, self.chamfer);
        let mut line = vec![(0.0, r + c), (c, r)];
        if let Some((from, to, depth, runs_out)) = self.notch(part, up) {
            let out = if runs_out { (3.0 * depth).min((to - from) / 4.0) } else { 0.0 };
            line.extend([(from, r), (from + out, r + depth), (to - out, r + depth), (to, r)]);
        }
        line.extend([(L - c, r), (L, r + c)]);
        line
    }

    /// Ends and depth of a groove in the cut of this half.
    fn notch(&self, part: &ShopDrawing, up: bool) -> Option<(f64, f64, f64, bool)> {
        let groove = part.groove.as_ref()?;
        let depth = groove.depth_mm.min((self.outer - self.inner) * 0.9);
        if let Some(middle) = &groove.middle {
            let (from, to) = (middle.mm - groove.width_mm / 2.0, middle.mm + groove.width_mm / 2.0);
            return (from > self.chamfer && to < self.length - self.chamfer).then_some((from, to, depth, false));
        }
        let straight = is_straight(groove);
        let here = groove.starts_deg.iter().any(|angle| in_the_cut(*angle) == Some(up));
        let ends = ends_of(groove)?;
        (straight && here).then_some((ends.0.max(self.chamfer), ends.1.min(self.length - self.chamfer), depth, true))
    }

    /// One half of the section, in as many pieces as a hole in it leaves.
    pub fn half(&self, part: &ShopDrawing, up: bool) -> Vec<Cut> {
        let (outside, bore) = (self.outside_line(part.datum_leads), self.bore_line(part, up));
        let hole = part.hole.as_ref().filter(|hole| in_the_cut(hole.angle_deg) == Some(up));
        let gap = hole.map(|hole| (hole.from_datum.mm - hole.across.mm / 2.0, hole.from_datum.mm + hole.across.mm / 2.0));
        let gap = gap.filter(|(from, to)| *from > 0.0 && *to < self.length);
        let pieces = match gap {
            Some((from, to)) => vec![(0.0, from), (to, self.length)],
            None => vec![(0.0, self.length)],
        };
        let sign = if up { 1.0 } else { -1.0 };
        let piece = |(from, to): (f64, f64)| {
            let above = between(&outside, from, to);
            let below = between(&bore, from, to);
            let outline: Vec<Spot> = above.into_iter().chain(below.into_iter().rev()).map(|(z, y)| (z, sign * y)).collect();
            let mut solid = vec![((from, sign * self.inner), (to, sign * self.outer))];
            if let Some((radius, thickness)) = self.flange.filter(|_| from == 0.0) {
                solid.push(((0.0, sign * self.inner), (thickness.min(to), sign * radius)));
            }
            Cut { outline, hatch: (Lean::Falling, 7.0), solid, broken: None }
        };
        pieces.into_iter().map(piece).collect()
    }

    /// Edges behind the cut: ends, chamfers, groove, hole.
    pub fn edges(&self, part: &ShopDrawing) -> Vec<(Vec<Spot>, Stroke)> {
        let (L, r, c) = (self.length, self.inner, self.chamfer);
        let mut edges: Vec<(Vec<Spot>, Stroke)> = Vec::new();
        for (z, y) in [(0.0, r + c), (c, r), (L - c, r), (L, r + c)] {
            edges.push((vec![(z, -y), (z, y)], Stroke::Outline));
        }
        if let Some(groove) = &part.groove {
            if groove.middle.is_some() {
                if let Some((from, to, ..)) = self.notch(part, true) {
                    edges.extend([from, to].map(|z| (vec![(z, -r), (z, r)], Stroke::Outline)));
                }
            } else {
                edges.extend(self.groove_edges(groove, part.handed).into_iter().map(|line| (line, Stroke::Outline)));
            }
        }
        if let Some(hole) = &part.hole
            && in_the_cut(hole.angle_deg).is_none()
            && behind(hole.angle_deg, part.handed) > 0.0
        {
            edges.push((self.hole_behind(hole.from_datum.mm, hole.across.mm, hole.angle_deg), Stroke::Outline));
        }
        edges
    }

    /// A hole in the wall behind the cut: a circle on the bore, seen from the side.
    fn hole_behind(&self, z: f64, across: f64, angle_deg: f64) -> Vec<Spot> {
        let half_turn = across / 2.0 / self.inner / std::f64::consts::PI * 180.0;
        (0..=32)
            .map(|i| {
                let (dz, turn) = at_angle(1.0, f64::from(i) * 360.0 / 32.0);
                (z + dz * across / 2.0, at_angle(self.inner, angle_deg + turn * half_turn).1)
            })
            .collect()
    }

    /// Both edges of a groove that winds or runs along the bore, as far as they lie behind the cut.
    fn groove_edges(&self, groove: &GrooveDrawn, handed: bool) -> Vec<Vec<Spot>> {
        let half_turn = groove.width_mm / 2.0 / self.inner / std::f64::consts::PI * 180.0;
        let first = groove.starts_deg.first().copied().unwrap_or(0.0);
        let mut lines = Vec::new();
        for start in &groove.starts_deg {
            for side in [-half_turn, half_turn] {
                let mut line: Vec<Spot> = Vec::new();
                for (z, angle) in fine(&groove.path) {
                    let angle = angle + start - first + side;
                    if behind(angle, handed) > 0.0 {
                        line.push((z, at_angle(self.inner, angle).1));
                    } else if line.len() > 1 {
                        lines.push(std::mem::take(&mut line));
                    } else {
                        line.clear();
                    }
                }
                if line.len() > 1 {
                    lines.push(line);
                }
            }
        }
        lines
    }

    pub fn lengths(&self, part: &ShopDrawing) -> Vec<Length> {
        let foot = |z: f64| (z, -self.flange.filter(|(_, thickness)| z <= *thickness).map_or(self.outer, |(radius, _)| radius));
        let mut lengths = vec![length(foot(0.0), foot(self.length), &part.length)];
        if let Some((_, thickness)) = &part.flange {
            lengths.push(length(foot(0.0), foot(thickness.mm), thickness));
        }
        let middle = part.groove.as_ref().and_then(|groove| groove.middle.as_ref());
        if let Some(middle) = middle {
            lengths.push(length(foot(0.0), (middle.mm, -self.inner), middle));
        }
        let apart = |hole: f64| middle.is_none_or(|middle| (middle.mm - hole).abs() > 0.05);
        if let Some(hole) = part.hole.as_ref().filter(|hole| apart(hole.from_datum.mm)) {
            lengths.push(length(foot(0.0), (hole.from_datum.mm, -self.inner), &hole.from_datum));
        }
        lengths
    }

    /// Bore, outside, flange.
    pub fn diameters(&self, part: &ShopDrawing, bore: &Asked) -> Vec<Diameter> {
        let mut diameters = vec![diameter(bore, self.length), diameter(&part.outside, self.length)];
        if let Some((outside, _)) = &part.flange {
            diameters.push(Diameter { at_datum: true, ..diameter(outside, 0.0) });
        }
        diameters
    }

    fn notes(&self, part: &ShopDrawing) -> Vec<Note> {
        let (L, R, r) = (self.length, self.outer, self.inner);
        let body = self.flange.map_or(0.0, |(_, thickness)| thickness);
        let on_body = |share: f64| on_metal(part, along(body, L, share, R));
        let mut notes = Vec::new();
        notes.extend(self.lead_note(part));
        let mut form = Block::of(Piece::Frame(Symbol::Cylindricity, part.form.outside_cylindricity.clone(), None));
        if part.form.outside_roundness != part.form.outside_cylindricity {
            form.0.push(Piece::Frame(Symbol::Roundness, part.form.outside_roundness.clone(), None));
        }
        notes.push(note(form, on_body(0.62), "outside"));
        notes.push(note(Block::of(Piece::Texture(part.outside_finish.clone())), on_body(0.35), "outside"));
        notes.extend(self.flange_note(part));
        let coaxial = Piece::Frame(Symbol::Coaxiality, format!("\u{2300} {}", part.form.bore_coaxiality), Some("A"));
        notes.push(note(Block::of(coaxial), vec![At::Line(0, Way::Up), At::Line(0, Way::Down)], "axis of the bore"));
        let datum = vec![At::Line(1, Way::Down), At::Line(1, Way::Up)];
        notes.push(Note { end: End::Datum, ..note(Block::of(Piece::Datum("A")), datum, "axis of the outside") });
        notes.extend(self.groove_note(part));
        notes.extend(self.bore_notes(part, r));
        notes.push(note(
            Block::text(&["D".into()]),
            vec![At::Section((0.0, (R + r) / 2.0), Way::Up), At::Section((0.0, -(R + r) / 2.0), Way::Down)],
            "datum end",
        ));
        notes.extend(end_notes(part, R, r));
        notes
    }

    /// Points of the bore, to be led into its free middle.
    pub fn in_bore(&self, part: &ShopDrawing, share: f64) -> Vec<At> {
        let inward = |at| match at {
            At::Section(spot, Way::Up) => At::Section(spot, Way::Down),
            At::Section(spot, Way::Down) => At::Section(spot, Way::Up),
            other => other,
        };
        let groove = part.groove.as_ref().and_then(|groove| Some((groove.middle.as_ref()?.mm, groove.width_mm / 2.0)));
        let beside = |at: &At| !matches!((at, groove), (At::Section((z, _), _), Some((middle, half))) if (z - middle).abs() <= half);
        on_metal(part, along(0.0, self.length, share, self.inner)).into_iter().filter(beside).map(inward).collect()
    }

    fn lead_note(&self, part: &ShopDrawing) -> Option<Note> {
        if self.lead <= 0.0 {
            return None;
        }
        let z = if part.datum_leads && self.flange.is_none() { self.lead / 2.0 } else { self.length - self.lead / 2.0 };
        let y = self.outer - self.lead * LEAD_SLOPE / 2.0;
        let text = part.lead.lines.iter().map(|line| format!("{line}, leads")).collect::<Vec<_>>();
        Some(note(Block::text(&text), vec![At::Section((z, y), Way::Up)], "lead"))
    }

    fn flange_note(&self, part: &ShopDrawing) -> Option<Note> {
        let (radius, thickness) = self.flange?;
        let tolerance = part.form.flange_run_out.clone()?;
        let face = |share: f64| {
            let y = self.outer + (radius - self.outer) * share;
            [At::Section((thickness, y), Way::Up), At::Section((thickness, -y), Way::Down)]
        };
        Some(note(
            Block::of(Piece::Frame(Symbol::RunOut, tolerance, Some("A"))),
            [0.6, 0.9, 0.3].into_iter().flat_map(face).collect(),
            "face of the flange",
        ))
    }

    pub fn groove_note(&self, part: &ShopDrawing) -> Option<Note> {
        let groove = part.groove.as_ref()?;
        let r = self.inner;
        let mut at: Vec<At> = Vec::new();
        if let Some(middle) = &groove.middle {
            at.extend([At::Section((middle.mm, r), Way::Down), At::Section((middle.mm, -r), Way::Up)]);
        } else {
            let seen = self.groove_edges(groove, part.handed);
            let places = seen
                .iter()
                .filter_map(|line| line.get(line.len() / 2))
                .flat_map(|spot| [At::Section(*spot, Way::Down), At::Section(*spot, Way::Up)]);
            at.extend(places);
            at.extend(groove.starts_deg.iter().flat_map(|angle| {
                let spot = at_angle(r, *angle);
                [
                    At::EndView(spot, if spot.1 > 0.0 { Way::Down } else { Way::Up }),
                    At::EndView(spot, if spot.1 > 0.0 { Way::Up } else { Way::Down }),
                ]
            }));
        }
        // On two lines: beside a narrow end view one is too long.
        let mut lines: Vec<String> = match groove.text.split_once(" groove ") {
            Some((run, size)) => vec![format!("{run} groove"), size.to_owned()],
            None => vec![groove.text.clone()],
        };
        if !groove.starts_deg.is_empty() {
            let starts: Vec<String> = groove.starts_deg.iter().map(|angle| format!("{}°", calc::units::shown_plain(*angle, 0))).collect();
            lines.push(format!("begins at {}", starts.join(", ")));
        }
        Some(note(Block::text(&lines), at, "groove"))
    }

    fn bore_notes(&self, part: &ShopDrawing, r: f64) -> Vec<Note> {
        let L = self.length;
        let mut notes = Vec::new();
        if part.finished_bore.is_none() {
            let finished = Block(vec![
                Piece::Frame(Symbol::Cylindricity, part.form.bore_cylindricity.clone(), None),
                Piece::Texture(part.bore_finish.clone()),
            ]);
            notes.push(note(finished, self.in_bore(part, 0.6), "bore"));
        }
        if self.chamfer > 0.0 {
            let c = self.chamfer / 2.0;
            let ends = [(L - c, r + c), (c, r + c)];
            let inside = ends.iter().map(|spot| At::Section(*spot, Way::Down));
            let under = ends.iter().map(|(z, y)| At::Section((*z, -y), Way::Up));
            let text: Vec<String> = part.chamfer.lines.iter().map(|line| format!("{line}, both ends")).collect();
            notes.push(note(Block::text(&text), inside.chain(under).collect(), "chamfers of the bore"));
        }
        if let Some(hole) = part.hole.as_ref().filter(|hole| hole.across.mm > 0.0) {
            let (z, half) = (hole.from_datum.mm, hole.across.mm / 2.0);
            let at = match in_the_cut(hole.angle_deg) {
                Some(up) => {
                    let sign = if up { 1.0 } else { -1.0 };
                    let (out, inward) = if up { (Way::Up, Way::Down) } else { (Way::Down, Way::Up) };
                    let ends = [z + half, z - half];
                    let outside = ends.iter().map(|z| At::Section((*z, sign * self.outer), out));
                    outside.chain(ends.iter().map(|z| At::Section((*z, sign * r), inward))).collect::<Vec<_>>()
                }
                None => Vec::new(),
            };
            let at =
                at.into_iter().chain([self.outer, r].into_iter().flat_map(|radius| both_ways(at_angle(radius, hole.angle_deg)))).collect();
            notes.push(note(Block::text(&hole.across.lines), at, "hole"));
        }
        notes
    }

    /// The end that the datum is on.
    pub fn end_view(&self, part: &ShopDrawing) -> Vec<Seen> {
        let mut seen = vec![Seen::Ring(2.0 * self.outer, Stroke::Outline), Seen::Ring(2.0 * self.inner, Stroke::Outline)];
        if let Some((radius, _)) = self.flange {
            seen[0] = Seen::Ring(2.0 * self.outer, Stroke::Dashed);
            seen.push(Seen::Ring(2.0 * radius, Stroke::Outline));
        }
        if self.chamfer > 0.0 {
            seen.push(Seen::Ring(2.0 * (self.inner + self.chamfer), Stroke::Thin));
        }
        seen.extend(marks_of_angles(part, self.outer, self.inner));
        seen
    }
}

/// Hole, straight grooves, load and the datum mark on the end view.
pub(crate) fn marks_of_angles(part: &ShopDrawing, outer: f64, inner: f64) -> Vec<Seen> {
    let mut seen = Vec::new();
    if let Some(hole) = &part.hole {
        let turn = |radius: f64| hole.across.mm / 2.0 / radius / std::f64::consts::PI * 180.0;
        for side in [-1.0, 1.0] {
            let ends = [inner, outer].map(|radius| at_angle(radius, hole.angle_deg + side * turn(radius)));
            seen.push(Seen::Line(ends.to_vec(), Stroke::Dashed));
        }
    }
    if let Some(groove) = part.groove.as_ref().filter(|groove| is_straight(groove)) {
        for start in &groove.starts_deg {
            let turn = groove.width_mm / 2.0 / inner / std::f64::consts::PI * 180.0;
            let deep = inner + groove.depth_mm;
            let line = vec![
                at_angle(inner, start - turn),
                at_angle(deep, start - turn * inner / deep),
                at_angle(deep, start + turn * inner / deep),
                at_angle(inner, start + turn),
            ];
            seen.push(Seen::Line(line, Stroke::Outline));
        }
    }
    if let Some(load) = part.load_deg {
        seen.push(Seen::Arrow(at_angle(inner * 0.55, load), at_angle(inner, load)));
    }
    let outmost = part.flange.as_ref().map_or(outer, |(outside, _)| outside.mm / 2.0);
    seen.push(Seen::Line(vec![at_angle(outmost * 0.97, 0.0), at_angle(outmost * 1.06, 0.0)], Stroke::Outline));
    seen
}

/// Words at the marks of the end view.
pub(crate) fn end_notes(part: &ShopDrawing, outer: f64, inner: f64) -> Vec<Note> {
    let outmost = part.flange.as_ref().map_or(outer, |(outside, _)| outside.mm / 2.0);
    let mut notes = vec![note(Block::text(&["datum mark, 0°".into()]), both_ways(at_angle(outmost * 1.06, 0.0)), "datum mark")];
    if let Some(hole) = part.hole.as_ref().filter(|hole| !hole.text.is_empty()) {
        let outside = at_angle(outer, hole.angle_deg);
        notes.push(note(
            Block::text(std::slice::from_ref(&hole.text)),
            both_ways(outside).into_iter().chain(both_ways(at_angle(inner, hole.angle_deg))).collect(),
            "hole",
        ));
    }
    if let Some(load) = part.load_deg {
        let text = format!("load at {}°", calc::units::shown_plain(load, 0));
        let at = [0.55, 0.75].into_iter().flat_map(|share| both_ways(at_angle(inner * share, load))).collect();
        notes.push(Note { end: End::Plain, ..note(Block::text(&[text]), at, "load") });
    }
    notes
}

/// Points of a surface of revolution, from above first, the nearest to a share of its length first.
pub(crate) fn along(from: f64, to: f64, share: f64, radius: f64) -> Vec<At> {
    let mut shares: Vec<f64> = (1..20).map(|i| f64::from(i) / 20.0).collect();
    shares.sort_by(|a, b| (a - share).abs().total_cmp(&(b - share).abs()));
    let side = |sign: f64, way: Way| {
        std::iter::once(share).chain(shares.clone()).map(move |share| At::Section((from + (to - from) * share, sign * radius), way))
    };
    side(1.0, Way::Up).chain(side(-1.0, Way::Down)).collect()
}

/// The points of a surface that a hole in the cut leaves of it.
pub(crate) fn on_metal(part: &ShopDrawing, points: Vec<At>) -> Vec<At> {
    let hole = part.hole.as_ref().and_then(|hole| Some((in_the_cut(hole.angle_deg)?, hole.from_datum.mm, hole.across.mm / 2.0)));
    let stands = |at: &At| match (at, hole) {
        (At::Section((z, y), _), Some((up, middle, half))) => (*y > 0.0) != up || (z - middle).abs() > half,
        _ => true,
    };
    points.into_iter().filter(stands).collect()
}

pub(crate) fn both_ways(spot: Spot) -> Vec<At> {
    let outward = if spot.1 >= 0.0 { Way::Up } else { Way::Down };
    let inward = if spot.1 >= 0.0 { Way::Down } else { Way::Up };
    vec![At::EndView(spot, outward), At::EndView(spot, inward)]
}

pub(crate) fn note(block: Block, at: Vec<At>, of: &str) -> Note {
    Note { at, block, end: End::Arrow, of: of.into() }
}

pub(crate) fn length(from: Spot, to: Spot, asked: &Asked) -> Length {
    Length { from, to, block: Block::text(&asked.lines), of: asked.of.clone() }
}

pub(crate) fn diameter(asked: &Asked, z: f64) -> Diameter {
    let mut lines = asked.lines.clone();
    if let Some(first) = lines.first_mut() {
        *first = format!("\u{2300} {first}");
    }
    Diameter { mm: asked.mm, z, at_datum: false, block: Block::figures(&lines), of: asked.of.clone() }
}

/// Whether an angle lies in the cut: in its upper half, its lower one, or in neither.
pub(crate) fn in_the_cut(angle_deg: f64) -> Option<bool> {
    let (x, y) = at_angle(1.0, angle_deg);
    (x.abs() < IN_THE_CUT).then_some(y > 0.0)
}

fn is_straight(groove: &GrooveDrawn) -> bool {
    match (groove.path.first(), groove.path.last()) {
        (Some((_, first)), Some((_, last))) => {
            groove.path.iter().all(|(_, angle)| (angle - first).abs() < 1e-9) && (first - last).abs() < 1e-9
        }
        _ => false,
    }
}

fn ends_of(groove: &GrooveDrawn) -> Option<(f64, f64)> {
    let z = || groove.path.iter().map(|(z, _)| *z);
    Some((z().reduce(f64::min)?, z().reduce(f64::max)?))
}

/// A tool path with points between its points, so that it can be cut where it leaves sight.
fn fine(path: &[Spot]) -> Vec<Spot> {
    let between = |pair: &[Spot]| match pair {
        [a, b] => (0..8).map(|i| (a.0 + (b.0 - a.0) * f64::from(i) / 8.0, a.1 + (b.1 - a.1) * f64::from(i) / 8.0)).collect(),
        _ => Vec::new(),
    };
    path.windows(2).flat_map(between).chain(path.last().copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::papers::shop_drawing::HoleDrawn;

    #[test]
    fn a_mark_of_a_surface_does_not_point_into_a_hole_of_it() {
        let asked = |mm: f64| Asked { mm, ..Asked::default() };
        let hole = HoleDrawn { across: asked(10.0), from_datum: asked(80.0), angle_deg: 0.0, ..HoleDrawn::default() };
        let points = || along(0.0, 160.0, 0.5, 40.0);
        let in_hole = |at: &At, up: bool| matches!(at, At::Section((z, y), _) if (z - 80.0).abs() <= 5.0 && (*y > 0.0) == up);
        let mut part = ShopDrawing { hole: Some(hole), ..ShopDrawing::default() };
        let left = on_metal(&part, points());
        assert!(!left.iter().any(|at| in_hole(at, true)), "the hole is above");
        assert!(left.iter().any(|at| in_hole(at, false)), "and not below");
        part.hole.as_mut().unwrap().angle_deg = 90.0;
        assert_eq!(on_metal(&part, points()).len(), points().len(), "a hole behind the cut takes nothing of its edge");
    }
}
