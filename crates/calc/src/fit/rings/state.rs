//! One state of a fit: interferences at its temperatures, then joints, rings and whether it holds.

use super::answer::{Flow, Grip, JointFound, RingFound, StateFound};
use super::elastic::{self, Axial, Joined, Pressed, Stress};
use super::path::Path;
use super::request::{Criterion, Fit, Ring, State};
use crate::fit::plastic::Set;
use crate::math::{PI, hypot};
use crate::quantity::Figure;
use crate::refused::Refused;

/// Interference of two neighbours, free, at their temperatures: `I = outside_i (1 + α_i ΔT_i) − bore_o (1 + α_o ΔT_o)`, mm.
///
/// Source: ISO 1 (sizes at 20 °C); the definition of a mean expansion.
pub(crate) fn interference(inner: &Ring, outer: &Ring, inner_C: f64, outer_C: f64) -> f64 {
    inner.outside_mm * (1.0 + inner.alpha_per_K * (inner_C - 20.0)) - outer.bore_mm * (1.0 + outer.alpha_per_K * (outer_C - 20.0))
}

/// What smoothing takes of an interference: `smoothing (Rz_outside_i + Rz_bore_o)`, mm.
///
/// Source: DIN 7190-1 (0.8, from memory); 0.4 to 0.8 for joints that are shrunk cold and do not slide (common practice).
pub(crate) fn loss(inner: &Ring, outer: &Ring, smoothing: f64) -> f64 {
    smoothing * (inner.Rz_outside_um + outer.Rz_bore_um) / 1e3
}

/// Interferences of all joints, mm.
pub(super) fn interferences(fit: &Fit, T_C: &[f64]) -> Vec<f64> {
    let pairs = fit.rings.windows(2).zip(T_C.windows(2));
    pairs.map(|(ring, T)| interference(&ring[0], &ring[1], T[0], T[1])).collect()
}

/// The same less what smoothing takes, mm.
pub(super) fn effective(fit: &Fit, T_C: &[f64]) -> Vec<f64> {
    let losses = fit.rings.windows(2).map(|ring| loss(&ring[0], &ring[1], fit.smoothing));
    interferences(fit, T_C).into_iter().zip(losses).map(|(I, loss)| I - loss).collect()
}

/// A ring under pressure with what it keeps, before it is told.
struct Found {
    pressed: Pressed,
    set: Option<Set>,
    fully_plastic: Option<bool>,
}

/// Joints and rings of a state.
struct Solved {
    pressures: Vec<f64>,
    gaps: Vec<f64>,
    rings: Vec<Found>,
    as_free: bool,
}

/// A state of a fit. `path`: where the fit is two rings.
pub(super) fn found(fit: &Fit, path: Option<&Path>, state: &State) -> Result<StateFound, Refused> {
    let deltas = effective(fit, &state.T_C);
    let solved = solved(fit, path, state, &deltas)?;
    let no_number = solved.pressures.iter().chain(&solved.gaps).any(|x| !x.is_finite());
    if no_number {
        return Err(no_answer());
    }
    let joints: Vec<JointFound> = joints(fit, state, &deltas, &solved);
    let rings: Vec<RingFound> =
        fit.rings.iter().zip(&state.T_C).zip(&solved.rings).map(|((ring, T_C), of)| told(fit, ring, *T_C, of)).collect();
    let over = |ring: Option<&RingFound>| ring.and_then(|ring| ring.used).is_some_and(|used| used > 1.0);
    let is_set = rings.iter().zip(&fit.rings).any(|(found, ring)| found.flow.is_some_and(|flow| flow.front_mm > ring.bore_mm));
    let lets_go = joints.iter().any(|joint| !joint.closed);
    let takes_set = over(rings.first()) || is_set;
    let housing_over = over(rings.last());
    let close_in_um = rings.first().map_or(0.0, |bush| -bush.bore_change_um);
    let closed_joint = joints.first().filter(|joint| joint.closed);
    Ok(StateFound {
        name: state.name.clone(),
        pressure_MPa: Figure::plain(solved.pressures.first().copied().unwrap_or(0.0)),
        // Adding 0 turns the −0 of a joint without pressure into 0.
        close_in_um: Figure::plain(close_in_um + 0.0),
        close_in_ratio: closed_joint.map(|joint| close_in_um / joint.effective_um.value).filter(|ratio| ratio.is_finite()),
        outside_growth_um: rings.last().map_or(0.0, |housing| housing.outside_change_um),
        holds: !(lets_go || takes_set || housing_over),
        lets_go,
        takes_set,
        housing_over,
        joints,
        rings,
        as_free: solved.as_free,
    })
}

/// Said where sizes and moduli are so far apart that the arithmetic ends.
pub(super) fn no_answer() -> Refused {
    let remedy = "check the units of the sizes, of E_GPa and of alpha_per_K";
    Refused::new("rings", "rings whose joints have no finite pressure", "sizes and moduli of one kind of size", remedy)
}

fn solved(fit: &Fit, path: Option<&Path>, state: &State, deltas: &[f64]) -> Result<Solved, Refused> {
    if fit.axial != Axial::Free {
        let own: Vec<f64> = fit.rings.iter().zip(&state.T_C).map(|(ring, T_C)| ring.alpha_per_K * (T_C - 20.0)).collect();
        let joined = elastic::without_slip(&fit.walls(), deltas, &own, fit.axial == Axial::Held).ok_or_else(no_answer)?;
        if joined.pressures.iter().all(|p| *p >= 0.0) {
            return Ok(all_elastic(joined, false));
        }
    }
    let as_free = fit.axial != Axial::Free;
    match path {
        Some(path) => on_path(path, state, deltas.first().copied().unwrap_or(0.0), as_free),
        None => elastic::free(&fit.walls(), deltas).map(|joined| all_elastic(joined, as_free)).ok_or_else(no_answer),
    }
}

fn all_elastic(joined: Joined, as_free: bool) -> Solved {
    let rings = joined.rings.into_iter().map(|pressed| Found { pressed, set: None, fully_plastic: None });
    Solved { rings: rings.collect(), pressures: joined.pressures, gaps: joined.gaps, as_free }
}

fn on_path(path: &Path, state: &State, delta: f64, as_free: bool) -> Result<Solved, Refused> {
    let loaded = path.at(delta).map_err(|flows| path.refusal(flows, &format!("the state {:?}", state.name)))?;
    let p = loaded.pressure;
    let gap = if p > 0.0 { 0.0 } else { (loaded.housing.bore - loaded.bush.outside - delta).max(0.0) };
    let bush = elastic::pressed(&path.pair.bush, 0.0, p);
    let housing = elastic::pressed(&path.pair.housing, p, 0.0);
    let rings = vec![
        Found { pressed: bush, set: Some(loaded.bush), fully_plastic: Some(loaded.fully_plastic) },
        Found { pressed: housing, set: Some(loaded.housing), fully_plastic: None },
    ];
    Ok(Solved { pressures: vec![p], gaps: vec![gap], rings, as_free })
}

fn joints(fit: &Fit, state: &State, deltas: &[f64], solved: &Solved) -> Vec<JointFound> {
    let free = interferences(fit, &state.T_C);
    let each = free.iter().zip(deltas).zip(solved.pressures.iter().zip(&solved.gaps)).enumerate();
    each.map(|(j, ((I, delta), (p, gap)))| {
        let D = fit.rings.get(j + 1).map_or(0.0, |outer| outer.bore_mm);
        let grip = grip(fit, D, *p);
        JointFound {
            interference_um: I * 1e3,
            effective_um: Figure::plain(delta * 1e3),
            pressure_MPa: Figure::plain(*p),
            closed: *p > 0.0,
            gap_um: gap * 1e3,
            grip,
            slip_safety: grip.and_then(|grip| slip_safety(fit, D, grip.push_out_low_kN)),
        }
    })
    .collect()
}

/// What friction carries: `F = π D L μ p`, `T = F D/2`. Source: the definition of friction over the joint's area.
fn grip(fit: &Fit, D: f64, p: f64) -> Option<Grip> {
    let friction = fit.friction?;
    let push = |mu: f64| PI * D * friction.length_mm * mu * p / 1e3;
    let (low, high) = (push(friction.mu_low), push(friction.mu_high));
    Some(Grip { push_out_low_kN: low, push_out_high_kN: high, slip_torque_low_Nm: low * D / 2.0, slip_torque_high_Nm: high * D / 2.0 })
}

/// `F_low/√(F_ax² + (2T/D)²)`; none without a load.
fn slip_safety(fit: &Fit, D: f64, push_out_low_kN: f64) -> Option<f64> {
    let load = hypot(fit.axial_kN.unwrap_or(0.0), 2.0 * fit.torque_Nm.unwrap_or(0.0) / D);
    (load > 0.0).then(|| push_out_low_kN / load).filter(|safety| safety.is_finite())
}

fn told(fit: &Fit, ring: &Ring, T_C: f64, found: &Found) -> RingFound {
    let Pressed { stress: elastic, bore_change, outside_change } = found.pressed;
    let kept = found.set.unwrap_or(Set { front: 0.0, bore: 0.0, outside: 0.0, hoop_bore: 0.0, hoop_outside: 0.0 });
    let present =
        Stress { hoop_bore: elastic.hoop_bore + kept.hoop_bore, hoop_outside: elastic.hoop_outside + kept.hoop_outside, ..elastic };
    let (bore_change, outside_change) = (bore_change + kept.bore, outside_change + kept.outside);
    let warm = 1.0 + ring.alpha_per_K * (T_C - 20.0);
    RingFound {
        hoop_bore_MPa: Figure::plain(present.hoop_bore),
        hoop_outside_MPa: Figure::plain(present.hoop_outside),
        // Adding 0 turns −0 into 0.
        radial_bore_MPa: present.radial_bore + 0.0,
        radial_outside_MPa: present.radial_outside + 0.0,
        axial_MPa: present.axial + 0.0,
        von_mises_MPa: present.von_mises(),
        tresca_MPa: present.tresca(),
        used: used(ring, fit.criterion, &elastic),
        bore_change_um: bore_change * 1e3,
        outside_change_um: outside_change * 1e3,
        bore_mm: ring.bore_mm * warm + bore_change,
        outside_mm: ring.outside_mm * warm + outside_change,
        flow: found.set.map(|set| Flow {
            front_mm: set.front,
            set_bore_um: set.bore * 1e3,
            set_outside_um: set.outside * 1e3,
            fully_plastic: found.fully_plastic,
        }),
    }
}

/// Elastic demand over what a ring may carry, the larger of yield (at its bore) and hoop tension; none when it has neither limit.
///
/// The largest stress of a Lamé ring is at its bore, whatever the pressures. Source: Lamé; Tresca; von Mises.
fn used(ring: &Ring, criterion: Criterion, elastic: &Stress) -> Option<f64> {
    let demand = match criterion {
        Criterion::Tresca => elastic.tresca(),
        Criterion::VonMises => elastic.von_mises(),
    };
    let tension = elastic.hoop_bore.max(elastic.hoop_outside).max(0.0);
    let by_yield = ring.yield_MPa.map(|limit| demand / limit);
    let by_tension = ring.tension_limit_MPa.map(|limit| tension / limit);
    by_yield.into_iter().chain(by_tension).reduce(f64::max)
}
