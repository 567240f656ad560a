//! What a person should know beside the figures of a fit: sentences, each said once.

use super::answer::{FitAnswer, StateFound};
use super::elastic::Axial;
use super::path::Path;
use super::request::{Fit, Ring};
use super::temperatures::housing_limit_pressure;

/// Effective interference over joint diameter that fits of the trade have, µm/mm. Common practice.
const USUAL_UM_PER_MM: (f64, f64) = (0.2, 1.5);
/// Beyond this difference from 20 °C one mean expansion no longer serves, K. Common practice.
const ONE_ALPHA_K: f64 = 250.0;
/// Bronze leaves the straight line at 0.5 to 0.7 of its 0.2 % yield. Common practice.
const STRAIGHT_USE: f64 = 0.7;
/// Bore over outside above which a housing that has flowed does not flow back on release. Source: as `fit::plastic`.
const NO_REVERSE_YIELD: f64 = 0.46;
/// Least force held over the load. Common practice.
const SLIP_SAFETY: f64 = 1.5;
/// Above this joint diameter a light fit is not left to friction alone, mm. Common practice.
const LARGE_JOINT_MM: f64 = 200.0;
/// Wall over bore of the bushes that rings describe well. Source: the method's own comparison with finite elements.
const USUAL_WALL: (f64, f64) = (0.03, 0.3);

/// All warnings of an answer.
pub(super) fn warnings(fit: &Fit, path: Option<&Path>, answer: &FitAnswer) -> Vec<String> {
    let mut said: Vec<String> = fit.rings.iter().filter_map(not_checked).collect();
    said.extend(fit.rings.iter().filter_map(brittle));
    said.extend(odd_wall(fit));
    for (state, at) in fit.states.iter().zip(&answer.states) {
        said.extend(far_from_20(&format!("State {:?}", state.name), &state.T_C));
        said.extend(odd_interference(fit, at));
        said.extend(of_state(fit, at));
    }
    said.extend(path.iter().flat_map(|path| harder_bushes(fit, path, answer)));
    said.extend(of_limits(answer));
    said.extend(of_friction(fit, answer));
    said.extend(of_cycle(fit, answer));
    said.extend(path.and_then(|path| reverse_yield(fit, path, answer)));
    let mut once: Vec<String> = Vec::new();
    for sentence in said {
        if !once.contains(&sentence) {
            once.push(sentence);
        }
    }
    once
}

/// A ring without a limit can't be judged.
pub(crate) fn not_checked(ring: &Ring) -> Option<String> {
    let unknown = ring.yield_MPa.is_none() && ring.tension_limit_MPa.is_none();
    unknown.then(|| {
        format!(
            "The ring {:?} was not checked: it has neither yield_MPa nor tension_limit_MPa, so \"holds\" says nothing of its strength.",
            ring.name
        )
    })
}

fn brittle(ring: &Ring) -> Option<String> {
    ring.tension_limit_MPa.map(|limit| {
        format!(
            "The ring {:?} is judged as brittle, by a tension of {limit} MPa: it has no plastic reserve; never hammer it or heat it locally.",
            ring.name
        )
    })
}

fn odd_wall(fit: &Fit) -> Option<String> {
    let bush = fit.walls().first().copied()?;
    let wall = (bush.outside - bush.bore) / 2.0 / bush.bore;
    (!(USUAL_WALL.0..=USUAL_WALL.1).contains(&wall)).then(|| {
        let (low, high) = USUAL_WALL;
        format!("The bush's wall is {wall:.3} of its bore; rings describe walls of {low} to {high} of the bore, ask fit-shape for others.")
    })
}

/// Says that one mean expansion no longer serves at a temperature.
pub(crate) fn far_from_20(what: &str, T_C: &[f64]) -> Option<String> {
    let far = T_C.iter().copied().find(|T_C| (T_C - 20.0).abs() > ONE_ALPHA_K)?;
    Some(format!(
        "{what} is at {far:.0} °C, more than {ONE_ALPHA_K:.0} K from 20 °C: one mean expansion is no longer good there; give alpha_per_K for that range."
    ))
}

/// State and joint in words: which joint is meant goes without saying where there is one.
fn place(fit: &Fit, at: &StateFound, joint: usize) -> String {
    if fit.rings.len() == 2 { format!("State {:?}", at.name) } else { format!("State {:?}, joint {joint}", at.name) }
}

fn odd_interference(fit: &Fit, at: &StateFound) -> Vec<String> {
    let joints = at.joints.iter().zip(fit.rings.iter().skip(1)).enumerate();
    let odd = joints.filter_map(|(j, (joint, outer))| {
        let per_mm = joint.effective_um.value / outer.bore_mm;
        let (low, high) = USUAL_UM_PER_MM;
        (!(low..=high).contains(&per_mm)).then(|| {
            format!(
                "{}: the effective interference is {per_mm:.2} µm per mm of diameter, outside the usual {low} to {high}.",
                place(fit, at, j)
            )
        })
    });
    odd.collect()
}

fn of_state(fit: &Fit, at: &StateFound) -> Vec<String> {
    let mut said = Vec::new();
    let name = &at.name;
    if at.as_free {
        said.push(format!(
            "State {name:?} is answered as rings that slide freely: without slip a joint would pull, and without pressure there is no friction."
        ));
    }
    for (j, joint) in at.joints.iter().enumerate().filter(|(_, joint)| !joint.closed) {
        said.push(format!("{}: it lets go, with a gap of {:.1} µm.", place(fit, at, j), joint.gap_um));
    }
    let uses = || fit.rings.iter().zip(&at.rings).filter_map(|(ring, found)| found.used.map(|used| (ring, used)));
    if !fit.is_two_free_rings() {
        for (ring, used) in uses().filter(|(_, used)| *used > 1.0) {
            said.push(format!(
                "State {name:?}: the ring {:?} is at {used:.2} of its limit, beyond the elastic answer; its pressures and close-in are not to be trusted.",
                ring.name
            ));
        }
    }
    let bush = at.rings.first().and_then(|bush| bush.used);
    if at.takes_set && fit.is_two_free_rings() {
        said.push(format!("State {name:?}: a ring has taken a set; the fit does not come back as it was."));
    } else if bush.is_some_and(|used| used > STRAIGHT_USE && used <= 1.0) {
        said.push(format!(
            "State {name:?}: the bush is at {:.2} of its yield; bronze leaves the straight line at 0.5 to 0.7 of it, so stay at {STRAIGHT_USE} or less for a fit that must repeat.",
            bush.unwrap_or(0.0)
        ));
    }
    if at.housing_over {
        let ring = fit.rings.last().map_or("housing", |ring| &ring.name);
        said.push(format!("State {name:?}: the ring {ring:?} is past its limit."));
    }
    said
}

/// A bush that has yielded spares its housing; one that is harder than was said does not.
fn harder_bush(fit: &Fit, path: &Path, what: &str, front_mm: f64, delta: f64) -> Option<String> {
    let housing = fit.rings.get(1)?;
    let limit = housing_limit_pressure(housing, &path.pair, fit.criterion)?;
    let spares = front_mm > path.pair.bush.bore && path.pair.elastic_pressure(delta) > limit;
    spares.then(|| harder_bush_sentence(what, &housing.name))
}

/// The same in a state, and in the cycle.
fn harder_bushes(fit: &Fit, path: &Path, answer: &FitAnswer) -> Vec<String> {
    let in_state = |at: &StateFound| {
        let (front_mm, delta) = (at.rings.first()?.flow?.front_mm, at.joints.first()?.effective_um.value / 1e3);
        harder_bush(fit, path, &format!("State {:?}", at.name), front_mm, delta)
    };
    let mut said: Vec<String> = answer.states.iter().filter_map(in_state).collect();
    if let (Some(after), Some(cycle)) = (&answer.after_cycle, &fit.cycle_T_C) {
        said.extend(harder_bush(fit, path, "In the cycle", after.front_mm, path.most(fit, cycle)));
    }
    said
}

/// The words of the warning on a bush that is harder than its minimum.
pub(crate) fn harder_bush_sentence(what: &str, housing: &str) -> String {
    format!(
        "{what}: only the bush's yield keeps the ring {housing:?} under its limit; a bush harder than that (castings often by half) presses harder, so judge the housing with the bush's highest yield."
    )
}

fn of_limits(answer: &FitAnswer) -> Vec<String> {
    let limits = [("lets_go_C", answer.lets_go_C), ("takes_set_C", answer.takes_set_C), ("housing_limit_C", answer.housing_limit_C)];
    limits.iter().filter_map(|(name, T_C)| far_from_20(name, &[(*T_C)?.value])).collect()
}

fn of_friction(fit: &Fit, answer: &FitAnswer) -> Vec<String> {
    let mut said = Vec::new();
    let loaded = fit.axial_kN.unwrap_or(0.0) != 0.0 || fit.torque_Nm.unwrap_or(0.0) != 0.0;
    if loaded && fit.friction.is_none() {
        said.push("The load was not held against friction: that needs length_mm, mu_low and mu_high.".to_owned());
    }
    for at in &answer.states {
        for (j, (joint, outer)) in at.joints.iter().zip(fit.rings.iter().skip(1)).enumerate() {
            let slips = joint.slip_safety.filter(|safety| *safety < SLIP_SAFETY);
            if let Some(safety) = slips {
                said.push(format!(
                    "{}: friction holds {safety:.2} times the load at least; {SLIP_SAFETY} or more is advised, 2 with shock.",
                    place(fit, at, j)
                ));
            }
            let light = joint.effective_um.value / outer.bore_mm < USUAL_UM_PER_MM.0 || slips.is_some();
            if outer.bore_mm > LARGE_JOINT_MM && light {
                said.push(format!("{}: a light fit above {LARGE_JOINT_MM:.0} mm needs a key, pin or screw as well.", place(fit, at, j)));
            }
        }
    }
    said
}

fn of_cycle(fit: &Fit, answer: &FitAnswer) -> Vec<String> {
    let (Some(after), Some(cycle)) = (&answer.after_cycle, &fit.cycle_T_C) else { return Vec::new() };
    let mut said: Vec<String> = cycle.iter().filter_map(|T_C| far_from_20("The cycle", T_C)).collect();
    if after.set_outside_um < 0.0 {
        let left = after.effective_um.value;
        let loose = if left > 0.0 { "it may lie loose where the fit needs more" } else { "it lies loose" };
        said.push(format!(
            "The bush is squeezed past its limit in the cycle and comes back {:.1} µm smaller outside: {left:.1} µm of interference are left at 20 °C, {loose}.",
            -after.set_outside_um
        ));
    }
    if let Some(after) = after.lets_go_C {
        said.extend(far_from_20("after_cycle.lets_go_C", &[after.value]));
    }
    said
}

/// A thick housing that has flowed may flow back when its pressure goes, which is not worked out.
fn reverse_yield(fit: &Fit, path: &Path, answer: &FitAnswer) -> Option<String> {
    let q = path.pair.housing.ratio();
    let set_in_state = answer.states.iter().filter_map(|at| at.rings.get(1)?.flow).any(|flow| flow.set_bore_um > 0.0);
    let set_in_cycle = answer.after_cycle.is_some_and(|after| after.housing_set_um > 0.0);
    (fit.axial == Axial::Free && q <= NO_REVERSE_YIELD && (set_in_state || set_in_cycle)).then(|| {
        format!("The housing has flowed and is thick (bore over outside {q:.2}, {NO_REVERSE_YIELD} or less): it may flow back on release, which is not worked out.")
    })
}
