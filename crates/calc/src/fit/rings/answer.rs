//! What is told of a fit: the answer's structs, its keys, and which of its figures carry an uncertainty.
#![allow(missing_docs, reason = "fields whose name and unit say it all")]

use serde::Serialize;

use crate::keys::Told;
use crate::quantity::Figure;

/// The answer to a [`super::Fit`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitAnswer {
    /// One a state, in the order of the request.
    pub states: Vec<StateFound>,
    /// Temperature at which a joint loses its pressure (free rings); none when it does not, or is open at 20 °C.
    pub lets_go_C: Option<Figure>,
    /// Temperature at which the bush's bore starts to flow; none when it does not, or has at 20 °C.
    pub takes_set_C: Option<Figure>,
    /// Temperature at which the housing reaches its limit; none when it does not, or has at 20 °C.
    pub housing_limit_C: Option<Figure>,
    /// Pressure at which the bush's bore starts to flow (p_y).
    pub set_pressure_MPa: Option<Figure>,
    /// Pressure that the bush can't exceed (p_L).
    pub full_pressure_MPa: Option<Figure>,
    /// Effective interference at p_y; none when the housing is fully plastic before.
    pub set_interference_um: Option<f64>,
    /// Least effective interference at p_L; none when the housing is fully plastic before.
    pub full_interference_um: Option<f64>,
    /// After the cycle, back at 20 °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_cycle: Option<AfterCycle>,
    pub warnings: Vec<String>,
}

/// A fit at one set of temperatures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StateFound {
    pub name: String,
    /// Of joint 0, bush against the next ring.
    pub pressure_MPa: Figure,
    /// How much the bush's bore closes by pressure and set.
    pub close_in_um: Figure,
    /// Close-in over the effective interference of joint 0; none when that joint is open.
    pub close_in_ratio: Option<f64>,
    /// Growth of the last ring's outside.
    pub outside_growth_um: f64,
    /// Nothing lets go, sets or passes a limit that was given.
    pub holds: bool,
    pub lets_go: bool,
    pub takes_set: bool,
    pub housing_over: bool,
    pub joints: Vec<JointFound>,
    pub rings: Vec<RingFound>,
    /// No slip was asked for, but a joint would have pulled: answered as free rings.
    #[serde(skip)]
    pub as_free: bool,
}

/// A joint of a state.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointFound {
    /// Inner outside less outer bore, both free and at the state's temperatures.
    pub interference_um: f64,
    /// The same less what smoothing takes.
    pub effective_um: Figure,
    pub pressure_MPa: Figure,
    pub closed: bool,
    pub gap_um: f64,
    #[serde(flatten)]
    pub grip: Option<Grip>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slip_safety: Option<f64>,
}

/// What friction in a joint carries.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Grip {
    pub push_out_low_kN: f64,
    pub push_out_high_kN: f64,
    pub slip_torque_low_Nm: f64,
    pub slip_torque_high_Nm: f64,
}

/// A ring of a state.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RingFound {
    pub hoop_bore_MPa: Figure,
    pub hoop_outside_MPa: Figure,
    pub radial_bore_MPa: f64,
    pub radial_outside_MPa: f64,
    pub axial_MPa: f64,
    /// At the bore, of the stresses present.
    pub von_mises_MPa: f64,
    /// At the bore, of the stresses present.
    pub tresca_MPa: f64,
    /// Elastic demand over what the ring may carry; none when no limit was given.
    #[serde(rename = "use")]
    pub used: Option<f64>,
    /// By pressure and set, + is larger.
    pub bore_change_um: f64,
    /// By pressure and set, + is larger.
    pub outside_change_um: f64,
    /// Fitted, at the state's temperature.
    pub bore_mm: f64,
    /// Fitted, at the state's temperature.
    pub outside_mm: f64,
    #[serde(flatten)]
    pub flow: Option<Flow>,
}

/// How far a ring of two free ones has flowed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Flow {
    /// Plastic inside this diameter; the bore when elastic.
    pub front_mm: f64,
    pub set_bore_um: f64,
    pub set_outside_um: f64,
    /// Of the bush only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fully_plastic: Option<bool>,
}

/// A fit that has been through its cycle and is back at 20 °C.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AfterCycle {
    /// Interference at 20 °C less smoothing and sets; may be negative, then the bush lies loose.
    pub effective_um: Figure,
    pub pressure_MPa: Figure,
    /// Against the free bore before fitting.
    pub close_in_um: Figure,
    pub set_outside_um: f64,
    pub set_bore_um: f64,
    pub housing_set_um: f64,
    /// Pressure where the interference was largest.
    pub peak_pressure_MPa: Figure,
    /// The bush's front at the peak.
    pub front_mm: f64,
    pub lets_go_C: Option<Figure>,
}

impl FitAnswer {
    /// The figures that carry an uncertainty, in a fixed order; a slot is empty where this answer has none.
    pub(super) fn doubtful(&mut self) -> Vec<Option<&mut Figure>> {
        let mut slots = Vec::new();
        for state in &mut self.states {
            slots.extend([Some(&mut state.pressure_MPa), Some(&mut state.close_in_um)]);
            slots.extend(state.joints.iter_mut().flat_map(|joint| [Some(&mut joint.effective_um), Some(&mut joint.pressure_MPa)]));
            slots.extend(state.rings.iter_mut().flat_map(|ring| [Some(&mut ring.hoop_bore_MPa), Some(&mut ring.hoop_outside_MPa)]));
        }
        slots.extend([self.lets_go_C.as_mut(), self.takes_set_C.as_mut(), self.housing_limit_C.as_mut()]);
        slots.extend([self.set_pressure_MPa.as_mut(), self.full_pressure_MPa.as_mut()]);
        if let Some(after) = &mut self.after_cycle {
            slots.extend([Some(&mut after.effective_um), Some(&mut after.pressure_MPa), Some(&mut after.close_in_um)]);
            slots.extend([Some(&mut after.peak_pressure_MPa), after.lets_go_C.as_mut()]);
        }
        slots
    }
}

const fn told(path: &'static str, help: &'static str) -> Told {
    Told { path, help }
}

/// Keys of an answer of `fit`.
pub(super) const ANSWER: &[Told] = &[
    told("states", "one a state"),
    told("states.i.name", "name of the state"),
    told("states.i.pressure_MPa", "pressure of joint 0, bush against the next ring"),
    told("states.i.close_in_um", "how much the bush's bore closes by pressure and set (+ is smaller)"),
    told("states.i.close_in_ratio", "close-in over the effective interference of joint 0; null when that joint is open"),
    told("states.i.outside_growth_um", "growth of the last ring's outside"),
    told("states.i.holds", "nothing lets go, sets or passes a limit that was given"),
    told("states.i.lets_go", "a joint is open"),
    told("states.i.takes_set", "the bush is past its limit, or a set is present"),
    told("states.i.housing_over", "the last ring is past its limit"),
    told("states.i.joints.j.interference_um", "inner outside less outer bore, free, at the state's temperatures"),
    told("states.i.joints.j.effective_um", "the same less what smoothing takes"),
    told("states.i.joints.j.pressure_MPa", "pressure of the joint"),
    told("states.i.joints.j.closed", "the joint presses"),
    told("states.i.joints.j.gap_um", "diametral gap of an open joint"),
    told("states.i.joints.j.push_out_low_kN", "axial force that the joint holds at least; only with length_mm"),
    told("states.i.joints.j.push_out_high_kN", "axial force that pushing may take; only with length_mm"),
    told("states.i.joints.j.slip_torque_low_Nm", "torque that the joint holds at least; only with length_mm"),
    told("states.i.joints.j.slip_torque_high_Nm", "torque that turning may take; only with length_mm"),
    told("states.i.joints.j.slip_safety", "least force held over the load; only with a load"),
    told("states.i.rings.k.hoop_bore_MPa", "hoop stress at the bore"),
    told("states.i.rings.k.hoop_outside_MPa", "hoop stress at the outside"),
    told("states.i.rings.k.radial_bore_MPa", "radial stress at the bore"),
    told("states.i.rings.k.radial_outside_MPa", "radial stress at the outside"),
    told("states.i.rings.k.axial_MPa", "axial stress"),
    told("states.i.rings.k.von_mises_MPa", "von Mises stress at the bore, of the stresses present"),
    told("states.i.rings.k.tresca_MPa", "Tresca stress at the bore, of the stresses present"),
    told("states.i.rings.k.use", "elastic demand over what the ring may carry; null when no limit was given"),
    told("states.i.rings.k.bore_change_um", "change of the bore by pressure and set (+ is larger)"),
    told("states.i.rings.k.outside_change_um", "change of the outside by pressure and set (+ is larger)"),
    told("states.i.rings.k.bore_mm", "bore, fitted, at the state's temperature"),
    told("states.i.rings.k.outside_mm", "outside, fitted, at the state's temperature"),
    told("states.i.rings.k.front_mm", "plastic inside this diameter, the bore when elastic; only for two free rings"),
    told("states.i.rings.k.set_bore_um", "permanent change of the bore; only for two free rings"),
    told("states.i.rings.k.set_outside_um", "permanent change of the outside; only for two free rings"),
    told("states.i.rings.k.fully_plastic", "the bush flows through its whole wall; only for the bush of two free rings"),
    told("lets_go_C", "temperature at which a joint of free rings loses its pressure; null when it does not, or is open at 20 °C"),
    told("takes_set_C", "temperature at which the bush starts to take a set; null when it does not, or has at 20 °C; two free rings"),
    told("housing_limit_C", "temperature at which the housing reaches its limit; null when it does not, or has at 20 °C; two free rings"),
    told("set_pressure_MPa", "pressure at which the bush's bore starts to flow; null but for two free rings with the bush's yield"),
    told("full_pressure_MPa", "pressure that the bush can't exceed; null likewise"),
    told("set_interference_um", "effective interference at set_pressure_MPa; null when the housing is fully plastic before"),
    told("full_interference_um", "least effective interference at full_pressure_MPa; null when the housing is fully plastic before"),
    told("after_cycle", "back at 20 °C after the cycle; only with cycle_T_C"),
    told("after_cycle.effective_um", "interference left, less smoothing and sets; negative when the bush lies loose"),
    told("after_cycle.pressure_MPa", "pressure left"),
    told("after_cycle.close_in_um", "against the free bore before fitting"),
    told("after_cycle.set_outside_um", "permanent change of the bush's outside"),
    told("after_cycle.set_bore_um", "permanent change of the bush's bore"),
    told("after_cycle.housing_set_um", "permanent change of the housing's bore"),
    told("after_cycle.peak_pressure_MPa", "pressure where the interference was largest"),
    told("after_cycle.front_mm", "the bush's plastic front there"),
    told("after_cycle.lets_go_C", "temperature at which what is left lets go; null as lets_go_C"),
    told("warnings", "what a person should know beside the figures"),
];
