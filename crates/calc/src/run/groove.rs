//! Where the lubricant groove goes, how deep and wide, how the tool runs, and what it costs in area (`groove`).
//!
//! It leaves the film that a groove disturbs to `film` (a ring groove makes two bearings of half length). Cross-section: flat with
//! rounded edges, 2/3 of width times depth. Angles are of the bush seen from the datum end, from the datum mark.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::duty::{LUBRICATIONS, Lubrication};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, sin, sq};
use crate::refused::Refused;

/// Steps of the sum that finds the length of two loops.
const LOOP_STEPS: u32 = 20_000;
/// A ring groove keeps this far from an end, besides half its width, mm [common practice].
const RING_LAND_MM: f64 = 3.0;
/// Share of width times depth that a groove with rounded edges holds [common practice].
const SECTION_SHARE: f64 = 2.0 / 3.0;
/// Default depths are steps of this, mm [common practice].
const DEPTH_STEP_MM: f64 = 0.5;
const TRADE: &str = "common practice";

/// The run of a groove.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Round the bore at one place.
    Ring,
    /// Along the bore.
    Axial,
    /// Winding from end to end.
    Spiral,
    /// There and back in two turns, crossing itself.
    TwoLoop,
}

/// Where a ring groove stands, from the datum end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// In the middle.
    Middle,
    /// At this place.
    At(f64),
    /// Where the old one stood.
    Old {
        /// Length of the old bush, where it is known.
        length_mm: Option<f64>,
        /// Its position.
        position_mm: f64,
        /// Measured from the other end instead of the datum end.
        from_other: bool,
    },
}

/// A request of `groove`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrooveRequest {
    /// The run.
    pub shape: Shape,
    /// Bore.
    pub bore_mm: f64,
    /// Length.
    pub length_mm: f64,
    /// Wall.
    pub wall_mm: f64,
    /// What the groove carries.
    pub lubrication: Lubrication,
    /// Depth; none: by the wall and the bore.
    pub depth_mm: Option<f64>,
    /// Width; none: 2.5 times the depth.
    pub width_mm: Option<f64>,
    /// Land left at each end; none: a tenth of the length, at least 3 mm.
    pub end_land_mm: Option<f64>,
    /// How many (axial, spiral).
    pub count: u32,
    /// Turns of a spiral.
    pub turns: f64,
    /// Where the load presses on the bush.
    pub load_angle_deg: f64,
    /// Load, for the pressures.
    pub load_kN: Option<f64>,
    /// Points of the tool path.
    pub points: u32,
    /// Where a ring stands.
    pub place: Place,
}

/// A point of the tool path.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ToolPoint {
    /// From the datum end.
    pub z_mm: f64,
    /// Running on past 360.
    pub angle_deg: f64,
    /// Radial.
    pub depth_mm: f64,
}

/// An answer of `groove`. Null: what the shape does not have, or what needs a load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GrooveAnswer {
    /// Radial depth.
    pub depth_mm: f64,
    /// Width.
    pub width_mm: f64,
    /// Wall under the groove.
    pub wall_left_mm: f64,
    /// Length of all of it.
    pub path_length_mm: f64,
    /// Share of the bore's area.
    pub area_loss_share: f64,
    /// What it holds.
    pub groove_volume_cm3: f64,
    /// The ring, from the datum end.
    pub position_mm: Option<f64>,
    /// The ring, from the other end.
    pub position_from_other_end_mm: Option<f64>,
    /// The ring past the middle.
    pub off_middle_mm: Option<f64>,
    /// Where the first begins.
    pub start_angle_deg: Option<f64>,
    /// Where each begins.
    pub starts_deg: Option<Vec<f64>>,
    /// Advance in a turn.
    pub pitch_mm: Option<f64>,
    /// Half the stroke.
    pub amplitude_mm: Option<f64>,
    /// Load on the whole projected area.
    pub pressure_without_MPa: Option<f64>,
    /// Load on what the groove leaves.
    pub pressure_with_MPa: Option<f64>,
    /// The run of the tool in the first groove.
    pub toolpath: Vec<ToolPoint>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// Size, place and tool path of a lubricant groove.
///
/// - depth: min(wall/3, 1 + 0.01 D) grease, min(wall/3, 0.5 + 0.008 D) oil, down to 0.5 mm steps, at least 0.5; width 2.5 × depth
/// - starts opposite the load; z and angle by shape (see `toolpath`); axial and spiral run out over 3 × depth of path
/// - ring: z = z_old from the seated end, whatever the new length
/// - share of area: path × width/(π D L), two loops less one crossing width²
/// - pressure: ring F/[D (L − width)]; axial F/(D L); spiral, two loops F/[D L (1 − share)]
///
/// Refused: depth ≥ wall, end land ≥ L/2, a ring nearer than width/2 + 3 mm to an end, over three axial grooves, a groove over more
/// than the whole bore. Source: geometry; the rules are common practice.
pub fn groove(request: &GrooveRequest) -> Result<GrooveAnswer, Refused> {
    let (D, L) = (request.bore_mm, request.length_mm);
    let depth = depth(request)?;
    let width = request.width_mm.unwrap_or(2.5 * depth);
    let land = end_land(request)?;
    let count = count(request)?;
    let position = if request.shape == Shape::Ring { Some(ring_position(request, width)?) } else { None };
    let single = single_path(request, land);
    let path = single * f64::from(count);
    let crossing = if request.shape == Shape::TwoLoop { sq(width) } else { 0.0 };
    let share = (path * width - crossing) / (PI * D * L);
    if share >= 1.0 {
        let allowed = "a groove over less than the whole bore";
        return Err(Refused::new("width_mm", width, allowed, "take fewer grooves, fewer turns or a narrower tool"));
    }
    let start = wrapped(request.load_angle_deg + 180.0);
    let starts = (request.shape != Shape::Ring).then(|| starts(request.shape, start, count));
    let (without, with) = pressures(request, width, share);
    Ok(GrooveAnswer {
        depth_mm: depth,
        width_mm: width,
        wall_left_mm: request.wall_mm - depth,
        path_length_mm: path,
        area_loss_share: share,
        groove_volume_cm3: SECTION_SHARE * width * depth * path / 1000.0,
        position_mm: position,
        position_from_other_end_mm: position.map(|z| L - z),
        off_middle_mm: position.map(|z| z - L / 2.0),
        start_angle_deg: starts.is_some().then_some(start),
        starts_deg: starts,
        pitch_mm: (request.shape == Shape::Spiral).then(|| (L - 2.0 * land) / request.turns),
        amplitude_mm: (request.shape == Shape::TwoLoop).then_some(L / 2.0 - land),
        pressure_without_MPa: without,
        pressure_with_MPa: with,
        toolpath: toolpath(request, &Run { depth, land, start, position, single }),
        warnings: warnings(request, depth, width, position),
    })
}

fn depth(request: &GrooveRequest) -> Result<f64, Refused> {
    let (D, wall) = (request.bore_mm, request.wall_mm);
    let depth = request.depth_mm.unwrap_or_else(|| {
        let by_bore = match request.lubrication {
            Lubrication::Oil | Lubrication::Water => 0.5 + 0.008 * D,
            Lubrication::Grease | Lubrication::Dry => 1.0 + 0.01 * D,
        };
        // A hair is added so that a bore of 150 mm gives its 2.5 mm, whatever the last bit of 0.01 × 150.
        let steps = (by_bore.min(wall / 3.0) / DEPTH_STEP_MM + 1e-9).floor();
        (steps * DEPTH_STEP_MM).max(DEPTH_STEP_MM)
    });
    if depth >= wall {
        let allowed = format!("a depth under the wall of {wall} mm");
        return Err(Refused::new("depth_mm", depth, allowed, "cut it shallower: about a third of the wall at most"));
    }
    Ok(depth)
}

fn end_land(request: &GrooveRequest) -> Result<f64, Refused> {
    let L = request.length_mm;
    let land = request.end_land_mm.unwrap_or((0.1 * L).max(3.0));
    if land >= L / 2.0 {
        let allowed = format!("under half the length, {}", L / 2.0);
        return Err(Refused::new("end_land_mm", land, allowed, "leave less land at the ends, or the groove has no length"));
    }
    Ok(land)
}

/// Ring and two loops are one; a fourth axial groove would lie in the load.
fn count(request: &GrooveRequest) -> Result<u32, Refused> {
    match request.shape {
        Shape::Axial if request.count > 3 => {
            Err(Refused::new("count", request.count, "1 to 3 axial grooves", "leave the fourth out: it would lie in the load"))
        }
        Shape::Axial | Shape::Spiral => Ok(request.count),
        Shape::Ring | Shape::TwoLoop => Ok(1),
    }
}

/// The hole in the housing does not move, so a groove keeps its distance from the end that seats at the machine's own reference.
fn ring_position(request: &GrooveRequest, width: f64) -> Result<f64, Refused> {
    let L = request.length_mm;
    let (key, z) = match request.place {
        Place::Middle => ("position_mm", L / 2.0),
        Place::At(z) => ("position_mm", z),
        Place::Old { length_mm, position_mm, from_other } => {
            if let Some(old) = length_mm.filter(|old| position_mm > *old) {
                let allowed = format!("0 to the old length, {old}");
                return Err(Refused::new("old_position_mm", position_mm, allowed, "measure the old bush again"));
            }
            let z = match (from_other, length_mm) {
                (true, Some(old)) => old - position_mm,
                (true, None) => {
                    return Err(Refused::new(
                        "old_length_mm",
                        "missing",
                        "a number over 0",
                        "give the old bush's length, to count from its datum end",
                    ));
                }
                (false, _) => position_mm,
            };
            ("old_position_mm", z)
        }
    };
    let nearest = width / 2.0 + RING_LAND_MM;
    if z < nearest || z > L - nearest {
        let given = format!("{z} mm from the datum end");
        let allowed = format!("{nearest} to {} mm on a bush of {L} mm", L - nearest);
        return Err(Refused::new(key, given, allowed, "the groove would break out at an end: check the datum end, or lengthen the bush"));
    }
    Ok(z)
}

/// Length of one groove.
fn single_path(request: &GrooveRequest, land: f64) -> f64 {
    let (D, L) = (request.bore_mm, request.length_mm);
    let stroke = L - 2.0 * land;
    match request.shape {
        Shape::Ring => PI * D,
        Shape::Axial => stroke,
        Shape::Spiral => (sq(PI * D * request.turns) + sq(stroke)).sqrt(),
        Shape::TwoLoop => {
            let z = |i: u32| stroke / 2.0 * sin(2.0 * PI * f64::from(i) / f64::from(LOOP_STEPS));
            let round = 2.0 * PI * D / f64::from(LOOP_STEPS);
            (0..LOOP_STEPS).map(|i| (sq(z(i + 1) - z(i)) + sq(round)).sqrt()).sum()
        }
    }
}

/// What the tool path needs of the groove.
struct Run {
    depth: f64,
    land: f64,
    start: f64,
    position: Option<f64>,
    single: f64,
}

/// t = 0 to 1: ring z constant, start + 360 t; axial z = e + (L − 2e) t, spindle locked; spiral the same z, start + 360 turns t;
/// two loops z = L/2 + A sin 2πt, start + 720 t. Axial and spiral run out: depth × min(1, s/(3 depth)), s = path to the nearer end.
fn toolpath(request: &GrooveRequest, run: &Run) -> Vec<ToolPoint> {
    let L = request.length_mm;
    let last = f64::from(request.points - 1);
    let point = |i: u32| {
        let t = f64::from(i) / last;
        let along = run.land + (L - 2.0 * run.land) * t;
        let run_out = run.depth * (run.single * t.min(1.0 - t) / (3.0 * run.depth)).min(1.0);
        let (z_mm, turned, depth_mm) = match request.shape {
            Shape::Ring => (run.position.unwrap_or(L / 2.0), 360.0 * t, run.depth),
            Shape::Axial => (along, 0.0, run_out),
            Shape::Spiral => (along, 360.0 * request.turns * t, run_out),
            Shape::TwoLoop => (L / 2.0 + (L / 2.0 - run.land) * sin(2.0 * PI * t), 720.0 * t, run.depth),
        };
        ToolPoint { z_mm, angle_deg: run.start + turned, depth_mm }
    };
    (0..request.points).map(point).collect()
}

fn wrapped(angle_deg: f64) -> f64 {
    let angle = angle_deg.rem_euclid(360.0);
    // rem_euclid of a hair under 0 gives 360 itself.
    if angle >= 360.0 { 0.0 } else { angle }
}

/// Axial: opposite the load, then a quarter to each side; spirals evenly round.
fn starts(shape: Shape, start: f64, count: u32) -> Vec<f64> {
    match shape {
        Shape::Axial => [0.0, 90.0, -90.0].into_iter().take(count as usize).map(|turn| wrapped(start + turn)).collect(),
        _ => (0..count).map(|i| wrapped(start + 360.0 * f64::from(i) / f64::from(count))).collect(),
    }
}

fn pressures(request: &GrooveRequest, width: f64, share: f64) -> (Option<f64>, Option<f64>) {
    let Some(load_kN) = request.load_kN else { return (None, None) };
    let (F, D, L) = (1000.0 * load_kN, request.bore_mm, request.length_mm);
    let without = F / (D * L);
    let with = match request.shape {
        Shape::Ring => F / (D * (L - width)),
        Shape::Axial => without,
        Shape::Spiral | Shape::TwoLoop => without / (1.0 - share),
    };
    (Some(without), Some(with))
}

fn warnings(request: &GrooveRequest, depth: f64, width: f64, position: Option<f64>) -> Vec<String> {
    let mut warnings = Vec::new();
    let mut say = |text: &str| warnings.push(text.to_owned());
    if depth > request.wall_mm / 3.0 + 1e-9 {
        say(&format!(
            "A groove of {depth} mm takes more than a third of the wall of {} mm: the bush may crack or close there.",
            request.wall_mm
        ));
    }
    match (request.shape, request.lubrication) {
        (Shape::Spiral | Shape::TwoLoop, Lubrication::Oil) => {
            say("A spiral or two loops cross the loaded zone (60° to each side of the load), and an oil groove there drains a full film: \
             with oil take axial grooves. Grease under a slow swing may be crossed, since there the groove is its only supply.")
        }
        (Shape::Ring, Lubrication::Oil) => say(
            "A ring groove costs a full film far more than its area: reckon with two bearings of half the length, each with half the load.",
        ),
        (_, Lubrication::Dry) => say("A dry bush has nothing to carry in a groove; the size for grease was taken."),
        _ => {}
    }
    let stroke = request.length_mm - 2.0 * end_land(request).unwrap_or(0.0);
    if request.shape == Shape::Spiral && stroke / (request.turns * f64::from(request.count)) < 2.0 * width {
        say("The turns of the spiral lie nearer than twice its width: little land is left between them to carry the load.");
    }
    if position.is_some() {
        say("Mark the datum end on the bush, and check the groove against the hole in the housing before cutting: the hole does not move.");
    }
    if matches!(request.place, Place::Old { .. }) && position.is_some() {
        say("The second bush of a pair may be handed: measure each from the end that seats at its own shoulder or loaded face.");
    }
    say("Round the edges of the groove: a sharp edge scrapes the film off.");
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "groove",
    help: "place, size and tool path of the grease groove",
    request: &[
        Key::word("shape", &["ring", "axial", "spiral", "two_loop"], "the run of the groove").needed(),
        Key::number("bore_mm", Range::within(0.1, 1e4), "bore of the bush").needed(),
        Key::number("length_mm", Range::within(0.1, 1e4), "length of the bush").needed(),
        Key::number("wall_mm", Range::within(0.01, 1e4), "wall of the bush").needed(),
        Key::word("lubrication", LUBRICATIONS, "what the groove carries").needed(),
        Key::number("depth_mm", Range::within(0.01, 1e3), "radial depth").default("wall/3 at most, by bore and lubricant, in steps of 0.5"),
        Key::number("width_mm", Range::within(0.01, 1e3), "width").default("2.5 times the depth"),
        Key::number("end_land_mm", Range::at_least(0.0).to(1e4), "land left at each end").default("a tenth of the length, at least 3"),
        Key::whole("count", Range::within(1.0, 100.0), "how many (axial up to 3, spiral)").default("1"),
        Key::number("turns", Range::within(0.01, 1000.0), "turns of a spiral").default("1"),
        Key::number("load_angle_deg", Range::within(-3600.0, 3600.0), "where the load presses on the bush, from the datum mark")
            .default("0"),
        Key::number("load_kN", Range::within(0.0, 1e6), "load, for the pressures"),
        Key::whole("points", Range::within(2.0, 100_000.0), "points of the tool path").default("73"),
        Key::number("position_mm", Range::within(0.0, 1e4), "ring: its middle from the datum end").default("the middle"),
        Key::number("old_length_mm", Range::over(0.0).to(1e4), "ring: length of the old bush"),
        Key::number("old_position_mm", Range::within(0.0, 1e4), "ring: where the old one stood"),
        Key::word("old_position_from", &["datum", "other"], "ring: the end that old_position_mm counts from").default("datum"),
    ],
    answer: &[
        Told { path: "depth_mm", help: "radial depth" },
        Told { path: "width_mm", help: "width" },
        Told { path: "wall_left_mm", help: "wall under the groove" },
        Told { path: "path_length_mm", help: "length of all grooves" },
        Told { path: "area_loss_share", help: "share of the bore's area" },
        Told { path: "groove_volume_cm3", help: "what the grooves hold" },
        Told { path: "position_mm", help: "middle of the ring from the datum end; null for other shapes" },
        Told { path: "position_from_other_end_mm", help: "the same from the other end; null for other shapes" },
        Told { path: "off_middle_mm", help: "the ring past the middle of the bush; null for other shapes" },
        Told { path: "start_angle_deg", help: "where the first begins, opposite the load; null for a ring" },
        Told { path: "starts_deg", help: "where each begins; null for a ring" },
        Told { path: "pitch_mm", help: "advance of a spiral in a turn; null for other shapes" },
        Told { path: "amplitude_mm", help: "half the stroke of two loops; null for other shapes" },
        Told { path: "pressure_without_MPa", help: "load on the whole projected area; null without a load" },
        Told { path: "pressure_with_MPa", help: "load on what the groove leaves; null without a load" },
        Told { path: "toolpath", help: "z_mm from the datum end, angle_deg running on, depth_mm radial, of the first groove" },
    ],
    example: r#"{"shape": "ring", "bore_mm": 180, "length_mm": 164, "wall_mm": 15, "lubrication": "grease", "old_length_mm": 150,
        "old_position_mm": 70, "load_kN": 180, "points": 13}"#,
    run: Some(answer_groove),
};

fn answer_groove(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read_groove(given)?;
    let mut answer = groove(&request)?;
    answer.warnings.extend(not_used(given, request.shape));
    show(&request, &answer, desk);
    told(&answer)
}

fn read_groove(given: &Given) -> Result<GrooveRequest, Refused> {
    let shape = match given.need_word("shape")? {
        "ring" => Shape::Ring,
        "axial" => Shape::Axial,
        "spiral" => Shape::Spiral,
        _ => Shape::TwoLoop,
    };
    Ok(GrooveRequest {
        shape,
        bore_mm: given.need_number("bore_mm")?,
        length_mm: given.need_number("length_mm")?,
        wall_mm: given.need_number("wall_mm")?,
        lubrication: Lubrication::named(given.need_word("lubrication")?),
        depth_mm: given.number("depth_mm"),
        width_mm: given.number("width_mm"),
        end_land_mm: given.number("end_land_mm"),
        count: given.whole_or("count", 1) as u32,
        turns: given.number_or("turns", 1.0),
        load_angle_deg: given.number_or("load_angle_deg", 0.0),
        load_kN: given.number("load_kN"),
        points: given.whole_or("points", 73) as u32,
        place: read_place(given)?,
    })
}

fn read_place(given: &Given) -> Result<Place, Refused> {
    match (given.number("position_mm"), given.number("old_position_mm")) {
        (Some(_), Some(_)) => Err(given.refuse("position_mm", "position_mm or old_position_mm, not both", "take one of them out")),
        (Some(z), None) => Ok(Place::At(z)),
        (None, Some(position_mm)) => Ok(Place::Old {
            length_mm: given.number("old_length_mm"),
            position_mm,
            from_other: given.word_or("old_position_from", "datum") == "other",
        }),
        (None, None) if given.has("old_length_mm") || given.has("old_position_from") => {
            Err(given.refuse("old_position_mm", "a number from 0 to the old length", "say where the old groove stood"))
        }
        (None, None) => Ok(Place::Middle),
    }
}

fn not_used(given: &Given, shape: Shape) -> Vec<String> {
    let for_others: &[&str] = match shape {
        Shape::Ring => &["count", "turns", "end_land_mm"],
        Shape::Axial => &["turns", "position_mm", "old_position_mm"],
        Shape::Spiral => &["position_mm", "old_position_mm"],
        Shape::TwoLoop => &["count", "turns", "position_mm", "old_position_mm"],
    };
    for_others.iter().filter(|name| given.has(name)).map(|name| format!("{name} says nothing of this shape and was not used.")).collect()
}

fn show(request: &GrooveRequest, answer: &GrooveAnswer, desk: &mut Desk) {
    let (D, L) = (request.bore_mm, request.length_mm);
    let working = &mut desk.working;
    let with = [("D mm", D), ("wall mm", request.wall_mm)];
    let gives = [("depth mm", answer.depth_mm), ("width mm", answer.width_mm)];
    let formula = match request.lubrication {
        Lubrication::Oil | Lubrication::Water => "as given, or min(wall/3, 0.5 + 0.008 D) down to 0.5; width 2.5 depth",
        Lubrication::Grease | Lubrication::Dry => "as given, or min(wall/3, 1 + 0.01 D) down to 0.5; width 2.5 depth",
    };
    working.step("depth and width", formula, &with, &gives, TRADE);
    if let (Some(position), Place::Old { length_mm, position_mm, .. }) = (answer.position_mm, request.place) {
        let with = [("old position mm", position_mm), ("old length mm", length_mm.unwrap_or(L))];
        working.step("position", "z_old from the datum end, whatever the length", &with, &[("z mm", position)], TRADE);
    }
    let formula = match request.shape {
        Shape::Ring => "pi D",
        Shape::Axial => "count (L - 2 e)",
        Shape::Spiral => "count sqrt((pi D turns)^2 + (L - 2 e)^2)",
        Shape::TwoLoop => "sum of 20 000 steps along z = L/2 + A sin 2 pi t, angle 720 t",
    };
    working.step("path length", formula, &[("D mm", D), ("L mm", L)], &[("path mm", answer.path_length_mm)], "geometry");
    let with = [("path mm", answer.path_length_mm), ("width mm", answer.width_mm)];
    let formula = if request.shape == Shape::TwoLoop { "(path width - width^2)/(pi D L)" } else { "path width/(pi D L)" };
    working.step("share of the bore", formula, &with, &[("share", answer.area_loss_share)], "geometry");
    if let (Some(F), Some(with_groove)) = (request.load_kN, answer.pressure_with_MPa) {
        let formula = match request.shape {
            Shape::Ring => "F/(D (L - width))",
            Shape::Axial => "F/(D L): outside the loaded zone",
            Shape::Spiral | Shape::TwoLoop => "F/(D L (1 - share))",
        };
        working.step("pressure with the groove", formula, &[("F kN", F)], &[("p MPa", with_groove)], "projected area");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(more: &str) -> Result<Value, Refused> {
        let request = format!(r#"{{"bore_mm": 150, "length_mm": 120, "wall_mm": 12, {more}}}"#);
        answer("groove", &read(&request).unwrap(), &Alone, false)
    }

    #[test]
    fn a_ring_keeps_its_distance_from_the_datum_end_whatever_the_length() {
        let old = asked(r#""shape": "ring", "lubrication": "grease", "old_length_mm": 100, "old_position_mm": 45"#).unwrap();
        assert_eq!((old["position_mm"].as_f64(), old["off_middle_mm"].as_f64()), (Some(45.0), Some(-15.0)));
        let other =
            asked(r#""shape": "ring", "lubrication": "grease", "old_length_mm": 100, "old_position_mm": 45, "old_position_from": "other""#);
        assert_eq!(other.unwrap()["position_mm"].as_f64(), Some(55.0));
    }

    #[test]
    fn what_cannot_be_cut_is_refused_by_key() {
        for (more, key) in [
            (r#""shape": "ring", "lubrication": "oil", "depth_mm": 12"#, "depth_mm"),
            (r#""shape": "axial", "lubrication": "oil", "end_land_mm": 60"#, "end_land_mm"),
            (r#""shape": "axial", "lubrication": "oil", "count": 4"#, "count"),
            (r#""shape": "ring", "lubrication": "oil", "position_mm": 4"#, "position_mm"),
            (r#""shape": "ring", "lubrication": "oil", "old_length_mm": 90"#, "old_position_mm"),
            (r#""shape": "ring", "lubrication": "oil", "old_length_mm": 90, "old_position_mm": 91"#, "old_position_mm"),
            (r#""shape": "ring", "lubrication": "oil", "old_position_mm": 50, "old_position_from": "other""#, "old_length_mm"),
            (r#""shape": "ring", "lubrication": "oil", "old_position_mm": 50, "position_mm": 50"#, "position_mm"),
            (r#""shape": "spiral", "lubrication": "oil", "turns": 40"#, "width_mm"),
            (r#""shape": "zigzag", "lubrication": "oil""#, "shape"),
        ] {
            assert_eq!(asked(more).unwrap_err().key, key, "{more}");
        }
    }

    #[test]
    fn axial_grooves_lie_opposite_the_load_and_a_quarter_to_each_side() {
        let three = asked(r#""shape": "axial", "lubrication": "oil", "count": 3, "load_angle_deg": 30"#).unwrap();
        assert_eq!(three["starts_deg"], serde_json::json!([210.0, 300.0, 120.0]));
    }

    #[test]
    fn default_depth_does_not_lose_a_step_to_rounding() {
        let grease = asked(r#""shape": "axial", "lubrication": "grease""#).unwrap();
        assert_eq!(grease["depth_mm"].as_f64(), Some(2.5));
    }

    #[test]
    fn oil_grooves_across_the_load_and_deep_ones_are_warned_of() {
        let found = asked(r#""shape": "two_loop", "lubrication": "oil", "depth_mm": 5"#).unwrap();
        let warnings = found["warnings"].to_string();
        assert!(warnings.contains("drains a full film") && warnings.contains("a third of the wall"), "{warnings}");
    }
}
