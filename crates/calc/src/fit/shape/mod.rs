//! Pressure and close-in along a seat that rings can't describe (`fit-shape`): flange, overhang, steps, grooves, taper, barrel, bell mouth.
//!
//! Axisymmetric elasticity on both parts, a joint that presses or gapes, without friction or without slip. It leaves the interference at
//! the wanted temperature to `fit` (its `effective_um`), yield to `fit` as well: everything here is elastic. An oil hole is not round the
//! axis: ask with a groove of its width for the worst land, and without one for the best.
//!
//! One file a question: `request` what is asked, `outline` where metal is and where corners are, `grid` one mesh solved and read off,
//! `study` meshes until the figures stand still. mm, MPa and N inside this folder.

mod grid;
mod outline;
mod request;
mod study;

use serde::Serialize;
use serde_json::Value;

pub use grid::{Found, Grid};
pub use outline::Outline;
pub use request::{Bush, Flange, Groove, Housing, Section, Shape};
pub use study::{Study, mesh, study};

use crate::compute::{Desk, Kind, told};
use crate::fit::lame::{bush_compliance, close_in, housing_compliance, joint_pressure, ratio};
use crate::keys::{Given, Told};
use crate::refused::Refused;
use crate::working::Working;
use grid::read_at;

const FIELD: &str = "linear elasticity, axisymmetric, quadratic elements; unilateral contact, Johnson, Contact Mechanics";

/// One place along the seat.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Place {
    /// Where, along the axis.
    pub z_mm: f64,
    /// Pressure; 0 off the lands, none where it is singular.
    pub pressure_MPa: Option<f64>,
    /// Close-in of the bore on the diameter; none in a bore groove or beyond the bush.
    pub close_in_um: Option<f64>,
}

/// An answer of `fit-shape`. Close-in: + is smaller, on the diameter.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapeAnswer {
    /// The places that were asked for.
    pub profile: Vec<Place>,
    /// Over the bore's lands, the flange included.
    pub close_in_mean_um: f64,
    /// Largest on the same lands.
    pub close_in_max_um: f64,
    /// Least on the same lands.
    pub close_in_min_um: f64,
    /// At the bush's left end (a flange's outer face on its side); none in a groove.
    pub close_in_left_um: Option<f64>,
    /// At its right end.
    pub close_in_right_um: Option<f64>,
    /// π D ∫ p dz.
    pub contact_force_kN: f64,
    /// Where both parts meet.
    pub land_length_mm: f64,
    /// Force over the lands' area.
    pub pressure_mean_MPa: f64,
    /// `mu_low` times the force.
    pub push_out_low_kN: Option<f64>,
    /// `mu_high` times the force.
    pub push_out_high_kN: Option<f64>,
    /// Largest increase of an outside diameter.
    pub growth_max_um: f64,
    /// Some land is not in contact.
    pub lifted: bool,
    /// What two rings say with the mean interference and the longest section's outside.
    pub ring_pressure_MPa: f64,
    /// Close-in of those rings.
    pub ring_close_in_um: f64,
    /// Displacements solved for on the finest mesh.
    pub unknowns: usize,
    /// Largest change of a close-in when the mesh was last halved.
    pub close_in_error_um: f64,
    /// Change of the contact force when the mesh was last halved, % of it.
    pub force_error_pct: f64,
    /// Largest change of a pressure of the profile when the mesh was last halved.
    pub pressure_error_MPa: f64,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// Pressure and close-in along a seat, on meshes that are halved until the figures stand still.
///
/// u_h − u_b ≥ δ(z)/2 along the joint, pressure ≥ 0, one of both equal; "stuck" ties axial movement where it touches.
/// Sizes in mm at the state wanted, E in GPa, 0 < walls, −1 < ν < 0.5. Refused: what the method page of the fit lists (no common
/// length, sections with gaps, grooves as deep as their wall), and parts so far out of proportion that the digits do not survive.
/// Source: linear elasticity; Johnson, Contact Mechanics (edge of a punch, receding contact); rings after Lamé 1852.
pub fn shape(request: &Shape, working: &mut Working) -> Result<ShapeAnswer, Refused> {
    let outline = Outline::new(request)?;
    let (ring_pressure_MPa, ring_close_in_um) = rings(&outline);
    if outline.largest_interference().1 <= 0.0 {
        return Ok(loose(&outline));
    }
    let study = study(&outline, working.wanted())?;
    let found = &study.found;
    let (mean, most, least, left, right) = found.close_in_um;
    let force = found.force_kN;
    let push = |mu: Option<f64>| mu.map(|mu| mu * force);
    let mut answer = ShapeAnswer {
        profile: request.at_mm.iter().map(|z| place(&outline, found, *z)).collect(),
        close_in_mean_um: mean,
        close_in_max_um: most,
        close_in_min_um: least,
        close_in_left_um: left,
        close_in_right_um: right,
        contact_force_kN: force,
        land_length_mm: outline.land_length(),
        pressure_mean_MPa: outline.mean_pressure(force),
        push_out_low_kN: push(request.mu_low),
        push_out_high_kN: push(request.mu_high),
        growth_max_um: found.growth_um,
        lifted: found.lifted,
        ring_pressure_MPa,
        ring_close_in_um,
        unknowns: found.unknowns,
        close_in_error_um: study.close_in_error_um,
        force_error_pct: if force > 0.0 { 100.0 * study.force_error_kN / force } else { 0.0 },
        pressure_error_MPa: study.pressure_error_MPa,
        warnings: Vec::new(),
    };
    answer.warnings = warnings(&outline, &answer, &study);
    show(&outline, &answer, &study, working);
    Ok(answer)
}

/// The answer where nothing touches.
fn loose(outline: &Outline) -> ShapeAnswer {
    let request = outline.shape;
    let zero = |mu: Option<f64>| mu.map(|_| 0.0);
    let grooved = |z: f64| outline.bush_at(z).is_none_or(|(inside, _)| inside > 0.5 * request.bush.bore_mm);
    let (left, right) = request.bush_ends();
    let inward = 1e-6 * (right - left);
    let end = |z: f64| (!grooved(z)).then_some(0.0);
    let place = |z: &f64| Place { z_mm: *z, pressure_MPa: Some(0.0), close_in_um: end(*z) };
    let mut answer = ShapeAnswer {
        profile: request.at_mm.iter().map(place).collect(),
        close_in_mean_um: 0.0,
        close_in_max_um: 0.0,
        close_in_min_um: 0.0,
        close_in_left_um: end(left + inward),
        close_in_right_um: end(right - inward),
        contact_force_kN: 0.0,
        land_length_mm: outline.land_length(),
        pressure_mean_MPa: 0.0,
        push_out_low_kN: zero(request.mu_low),
        push_out_high_kN: zero(request.mu_high),
        growth_max_um: 0.0,
        lifted: true,
        ring_pressure_MPa: 0.0,
        ring_close_in_um: 0.0,
        unknowns: 0,
        close_in_error_um: 0.0,
        force_error_pct: 0.0,
        pressure_error_MPa: 0.0,
        warnings: vec!["The interference is nowhere over 0: the bush lies loose, and friction holds nothing.".to_owned()],
    };
    answer.warnings.extend(in_the_way(outline));
    answer
}

fn place(outline: &Outline, found: &Found, z: f64) -> Place {
    let pressure_MPa = outline.told_at(z).then(|| read_at(&found.pressure, z).unwrap_or(0.0).max(0.0));
    Place { z_mm: z, pressure_MPa, close_in_um: read_at(&found.close_in, z) }
}

/// Pressure and close-in of two rings with the mean interference over the lands and the longest section's outside.
fn rings(outline: &Outline) -> (f64, f64) {
    let Shape { bush, housing, .. } = outline.shape;
    let D = housing.bore_mm;
    // Of sections of one length the stouter, so that a seat seen from the other side is the same.
    let by_length = |section: &&Section| (section.to_mm - section.from_mm, section.outside_mm);
    let longest = housing.sections.iter().max_by(|a, b| {
        let (a, b) = (by_length(a), by_length(b));
        if (a.0 - b.0).abs() <= 1e-9 * a.0 { a.1.total_cmp(&b.1) } else { a.0.total_cmp(&b.0) }
    });
    let outside = longest.map_or(D, |section| section.outside_mm);
    let (Q, E_b) = (ratio(bush.bore_mm, D), bush.E_GPa * 1e3);
    let k = bush_compliance(Q, E_b, bush.nu) + housing_compliance(ratio(D, outside), housing.E_GPa * 1e3, housing.nu);
    let p = joint_pressure(outline.mean_interference() / 1e3, D, k);
    (p, 1e3 * close_in(p, bush.bore_mm, Q, E_b))
}

fn warnings(outline: &Outline, answer: &ShapeAnswer, study: &Study) -> Vec<String> {
    let request = outline.shape;
    let mut warnings = Vec::new();
    if !study.met {
        warnings.push(format!(
            "The mesh was halved to its limit and did not come to the accuracy of {} % asked for: close-in still changes by {:.2} µm, \
             the contact force by {:.2} %, a pressure of the profile by {:.3} MPa.",
            request.accuracy_pct, answer.close_in_error_um, answer.force_error_pct, answer.pressure_error_MPa
        ));
    }
    if !study.found.settled {
        warnings.push(
            "The search for where the joint gapes came to its limit before it settled: take the figures as a first sight.".to_owned(),
        );
    }
    if study.found.joint.iter().any(|(_, node)| node.slides && !node.open) {
        warnings.push("No state was found in which all that touches is tied along the axis: some of it is taken as sliding.".to_owned());
    }
    if answer.lifted {
        warnings.push("The bush does not touch its housing everywhere: oil, dirt and rust get in where it gapes.".to_owned());
    }
    if answer.profile.iter().any(|place| place.pressure_MPa.is_none()) {
        warnings.push(format!(
            "Within a quarter of the wall ({:.2} mm) of a land's end or a groove no pressure is told: at a sharp edge it has no limit, \
             and in the metal it yields to what the edge's rounding is.",
            0.25 * request.wall_mm()
        ));
    }
    warnings.extend(in_the_way(outline));
    warnings
}

/// What to say when the flange stands where the housing is.
fn in_the_way(outline: &Outline) -> Option<String> {
    let request = outline.shape;
    let (left, right) = request.housing_ends();
    let flange = request.bush.flange.as_ref()?;
    let inside = if flange.left { request.bush.from_mm > left } else { request.bush.to_mm < right };
    inside.then(|| {
        "The housing reaches past the bush's end on the flange's side: there must be a recess for the flange, and none is reckoned with."
            .to_owned()
    })
}

fn show(outline: &Outline, answer: &ShapeAnswer, study: &Study, working: &mut Working) {
    if !working.wanted() {
        return;
    }
    let D = outline.shape.housing.bore_mm;
    let delta = outline.mean_interference();
    let gives = [("p MPa", answer.ring_pressure_MPa), ("close-in um", answer.ring_close_in_um)];
    let formula = "p = (δ/D)/(k_b + k_h), close-in = 2 p a/(E_b (1 − Q²))";
    working.step("two rings, for comparison", formula, &[("mean δ um", delta), ("D mm", D)], &gives, "Lamé 1852");
    for (k, (unknowns, mean, force)) in study.meshes.iter().enumerate() {
        let gives = [("mean close-in um", *mean), ("contact force kN", *force)];
        let what = format!("the field on a mesh halved {k} times");
        working.step(&what, "u_h − u_b ≥ δ/2, p ≥ 0, complementary", &[("unknowns", *unknowns as f64)], &gives, FIELD);
    }
    if let Some((force, bush, housing)) = study.found.balance {
        let gives = [("bush N/rad", bush), ("housing N/rad", housing)];
        working.step("balance of half a ring", "∫ σ_θ dA = ∓ ∫ p r dz", &[("∫ p r dz N/rad", force)], &gives, "equilibrium");
    }
    let with = [("force kN", answer.contact_force_kN), ("D mm", D), ("land mm", answer.land_length_mm)];
    working.step("mean pressure", "p = F/(π D L)", &with, &[("p MPa", answer.pressure_mean_MPa)], "definition");
}

/// `fit-shape` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "fit-shape",
    help: "pressure and close-in along a seat that rings can't describe",
    request: request::REQUEST,
    answer: &[
        Told { path: "profile.i.z_mm", help: "the places asked for" },
        Told { path: "profile.i.pressure_MPa", help: "pressure; 0 off the lands, null within a quarter of the wall of a land's end" },
        Told { path: "profile.i.close_in_um", help: "close-in there; null in a bore groove and beyond the bush" },
        Told { path: "close_in_mean_um", help: "close-in over the bore's lands, flange included (+ is smaller)" },
        Told { path: "close_in_max_um", help: "largest on those lands" },
        Told { path: "close_in_min_um", help: "least on those lands" },
        Told { path: "close_in_left_um", help: "at the left end, or the flange's face there; null in a groove" },
        Told { path: "close_in_right_um", help: "at the right end, or the flange's face there; null in a groove" },
        Told { path: "contact_force_kN", help: "pressure times the area of the joint, all round" },
        Told { path: "land_length_mm", help: "length where both parts meet" },
        Told { path: "pressure_mean_MPa", help: "force over the lands' area" },
        Told { path: "push_out_low_kN", help: "force to move it along, at mu_low; null without it" },
        Told { path: "push_out_high_kN", help: "force to move it along, at mu_high; null without it" },
        Told { path: "growth_max_um", help: "largest increase of the housing's outside diameter" },
        Told { path: "lifted", help: "whether some land is not in contact" },
        Told { path: "ring_pressure_MPa", help: "what two rings say, with the mean interference and the longest section" },
        Told { path: "ring_close_in_um", help: "close-in of those rings" },
        Told { path: "unknowns", help: "displacements solved for on the finest mesh; 0 when nothing touches" },
        Told { path: "close_in_error_um", help: "largest change of a close-in when the mesh was last halved" },
        Told { path: "force_error_pct", help: "change of the contact force when the mesh was last halved" },
        Told { path: "pressure_error_MPa", help: "largest change of a pressure of the profile when the mesh was last halved" },
    ],
    example: r#"{"bush": {"bore_mm": 90, "from_mm": 0, "to_mm": 80, "E_GPa": 105, "nu": 0.34,
            "flange": {"side": "left", "outside_mm": 130, "thickness_mm": 8}, "bore_grooves": [{"from_mm": 38, "to_mm": 42, "depth_mm": 1.5}]},
        "housing": {"bore_mm": 106, "sections": [{"from_mm": 0, "to_mm": 30, "outside_mm": 190}, {"from_mm": 30, "to_mm": 80, "outside_mm": 150}],
            "E_GPa": 206, "nu": 0.3},
        "interference_um": [[0, 66], [80, 74]], "at_mm": [-4, 10, 25, 40, 60, 75], "mu_low": 0.08, "mu_high": 0.16}"#,
    run: Some(answer_shape),
};

fn answer_shape(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = Shape::read(given)?;
    told(&shape(&request, &mut desk.working)?)
}
