//! Fit, along the length: whether plain rings were enough for this seat, and what its flange, overhang, steps, groove or taper change.

use calc::fit::course;
use calc::shown;
use serde_json::{Value, json};

use super::Bench;
use super::ask::{Said, request};
use super::draft::Draft;
use super::fit::{MU_HIGH, MU_LOW};
use super::found::Found;

/// Places of the profile that is drawn and told.
const PLACES: usize = 41;
/// Asked of the figures while facts change, % of the interference: far inside what D_e is known to.
const ACCURACY_PCT: f64 = 0.5;

/// What makes the seat another one than two rings of one length.
struct Shape {
    request: Value,
    why: Vec<&'static str>,
}

/// Asks for the shape where the seat has one, and says what it changes; of a plain seat, that rings are enough.
pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let groove = super::bore::groove_request(bench, found).filter(|asked| asked["shape"] == json!("ring"));
    let groove = groove
        .and_then(|asked| draft.try_out("groove", &asked))
        .and_then(|said| Some((said.number("position_mm")?, said.number("width_mm")?, said.number("depth_mm")?)));
    let Some(shape) = shape(bench, found, groove) else { return };
    if shape.why.is_empty() {
        draft.line("along the length", "rings are enough", "bush as long as its housing, no flange, no step, an even bore");
        return;
    }
    if draft.leaves_out("fit-shape", &shape.request) {
        draft.line("along the length", "being worked out", format!("by finite elements, for {}", shape.why.join(", ")));
        return;
    }
    // What is said of the mesh and of sharp edges is for who reads the request; that a part gapes is said below.
    let told = ["The mesh was halved", "a quarter of the wall", "does not touch its housing everywhere"];
    let Some(free) = draft.ask_but("fit_shape", "fit-shape", shape.request.clone(), &told) else { return };
    let mut tied = shape.request;
    if let Some(map) = tied.as_object_mut() {
        map.insert("friction".into(), json!("stuck"));
    }
    let stuck = draft.try_out("fit-shape", &tied);
    tell(bench, draft, found, &free, stuck.as_ref(), &shape.why);
}

fn shape(bench: &Bench, found: &Found, groove: Option<(f64, f64, f64)>) -> Option<Shape> {
    let seat = bench.seat;
    let (bore, metal, alloy, ring, length) = (found.bore?, found.metal?, found.alloy?, found.ring?, found.length_mm?);
    let at20 = format!("states.{}", found.warmth.len());
    let effective_um = found.fit.number(&format!("{at20}.joints.0.effective_um")).filter(|um| *um > 0.0)?;
    let mut why = Vec::new();
    let flange = seat.number("bush.flange_outside").zip(seat.number("bush.flange_thickness"));
    let body_mm = course::body(length, flange.map_or(0.0, |(_, thickness)| thickness));
    let at_datum = seat.text("bush.flange_end").unwrap_or("datum") == "datum";
    if flange.is_some() {
        why.push("a flange");
    }
    let housing_mm = seat.number("housing.length").unwrap_or(body_mm);
    let starts = seat.number("housing.starts").unwrap_or_else(|| match flange {
        Some(_) if at_datum => 0.0,
        Some(_) => body_mm - housing_mm,
        None => course::middled(body_mm, housing_mm),
    });
    let land = (starts.max(0.0), (starts + housing_mm).min(body_mm));
    let steps = steps(bench, starts, housing_mm, ring.value);
    if steps.len() > 1 {
        why.push("a stepped housing");
    } else if (housing_mm - body_mm).abs() > 1e-6 || starts.abs() > 1e-6 {
        why.push("bush and housing of unequal length");
    }
    let course = bore.form.map(|form| course::interference(effective_um, form, land));
    let course = course.filter(|course| !course::is_even(course, effective_um));
    if course.is_some() {
        why.push("a bore that is tapered or barrelled");
    }
    let interference = match &course {
        Some(course) => json!(course.iter().map(|(z, um)| [z, um]).collect::<Vec<_>>()),
        None => json!(effective_um),
    };
    // A ring groove alone changes little; beside a shape it is reckoned with, as deep as it is from the bore while fitting.
    let groove = groove.filter(|(middle, width, _)| !why.is_empty() && course::inside(*middle, *width, body_mm));
    let (finished_mm, fitting_mm) = (found.journal?.value, found.fit_bore_mm?);
    let bush = request([
        ("bore_mm", Some(json!(found.fit_bore_mm?))),
        ("from_mm", Some(json!(0.0))),
        ("to_mm", Some(json!(body_mm))),
        ("E_GPa", Some(json!(alloy.E_GPa))),
        ("nu", Some(json!(alloy.nu))),
        (
            "flange",
            flange.map(|(outside, thickness)| {
                json!({"side": if at_datum { "left" } else { "right" }, "outside_mm": outside, "thickness_mm": thickness})
            }),
        ),
        (
            "bore_grooves",
            groove.map(|(middle, width, depth)| {
                let (from_mm, to_mm) = course::about(middle, width);
                json!([{"from_mm": from_mm, "to_mm": to_mm, "depth_mm": course::depth_while_fitting(depth, finished_mm, fitting_mm)}])
            }),
        ),
    ]);
    let housing = json!({"bore_mm": bore.size.value, "sections": steps, "E_GPa": metal.E_GPa, "nu": metal.nu});
    let request = json!({
        "bush": bush, "housing": housing, "interference_um": interference, "mu_low": MU_LOW, "mu_high": MU_HIGH,
        "at_mm": course::places(land.0, land.1, PLACES), "accuracy_pct": ACCURACY_PCT,
    });
    Some(Shape { request, why })
}

/// The lengths of the housing with one outside each, in their order along the axis; one where none was told.
fn steps(bench: &Bench, starts: f64, length: f64, outside: f64) -> Vec<Value> {
    let seat = bench.seat;
    let mut told: Vec<(f64, f64, f64)> = seat
        .names("step")
        .into_iter()
        .filter_map(|name| {
            let of = |what: &str| seat.number(&format!("step.{name}.{what}"));
            Some((of("from")?, of("to")?, of("outside")?))
        })
        .collect();
    told.sort_by(|a, b| a.0.total_cmp(&b.0));
    if told.is_empty() {
        told.push((starts, starts + length, outside));
    }
    told.into_iter().map(|(from_mm, to_mm, outside_mm)| json!({"from_mm": from_mm, "to_mm": to_mm, "outside_mm": outside_mm})).collect()
}

fn tell(bench: &Bench, draft: &mut Draft, found: &Found, free: &Said, stuck: Option<&Said>, why: &[&str]) {
    let system = bench.system;
    let at20 = format!("states.{}", found.warmth.len());
    let ring = found.fit.quantity(&format!("{at20}.close_in_um"));
    let half_um = ring.map_or(0.0, |close_in| shown::half_width_95(&close_in));
    let figure = |path: &str| free.number(path);
    let (Some(least), Some(most), Some(mean)) = (figure("close_in_min_um"), figure("close_in_max_um"), figure("close_in_mean_um")) else {
        return;
    };
    let rings_um = figure("ring_close_in_um").or(ring.map(|close_in| close_in.value)).unwrap_or(mean);
    let matters = [least, most, mean].iter().any(|um| course::matters(*um, rings_um, half_um));
    let verdict = if matters { "the shape matters" } else { "rings are enough" };
    draft.line("along the length", verdict, why.join(", "));
    draft.line(
        "close-in along the bore, least to most",
        shown::fines(least, most, system),
        format!("mean {}; rings say {}", shown::fine(mean, system), shown::fine(rings_um, system)),
    );
    if let Some((left, right)) = figure("close_in_left_um").zip(figure("close_in_right_um")) {
        let ends = format!("{} and {}", shown::fine(left, system), shown::fine(right, system));
        draft.line("close-in at the datum end and the other", ends, "what closes in less stays larger: leave enough to clean up there");
    }
    if let Some(stuck) = stuck.and_then(|stuck| stuck.number("close_in_mean_um")) {
        draft.line("with friction along the axis", shown::fine(stuck, system), "mean close-in if nothing slips; the truth lies between");
    }
    if let Some((low, high)) = figure("push_out_low_kN").zip(figure("push_out_high_kN")) {
        let forces = format!("{} to {}", shown::force(low, system), shown::force(high, system));
        draft.line("push-out force by the shape", forces, format!("friction {MU_LOW} to {MU_HIGH}"));
    }
    if free.flag("lifted") {
        draft.warn("A part of the joint gapes: the bush does not bear over its whole length there; look at the picture along the length.");
    }
    if matters && bench.seat.text("bush.finish") == Some("before") {
        draft.warn(
            "The bore closes in unevenly: a bore that is finished before fitting is not straight afterwards; finish it after fitting.",
        );
    }
    draft.source("along the length: axisymmetric finite elements with contact (Johnson, Contact Mechanics; Lamé where the seat is plain)");
}
