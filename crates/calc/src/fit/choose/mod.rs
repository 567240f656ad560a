//! How much larger the outside is turned: duty, temperatures and what the shop can hold, in one band (`fit-choose`).
//!
//! Two elastic rings that are free to slide along the axis, bush and housing of equal length. It leaves what a fitted bush does to `fit`,
//! the chance to `fit-chance`, what carries when friction does not to `retainer`, and what the lathe can land to the turning stage.

mod bounds;
mod classes;
mod say;

use serde::Serialize;
use serde_json::Value;

pub use bounds::{Bound, BoundKind, Governed, Joint};
pub use classes::ClassBeside;

use self::bounds::{Window, bounds, interference_um};
use super::lame;
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::limits::iso::{LARGEST_MM, iso_limits};
use crate::math::sq;
use crate::refused::Refused;
use crate::working::Working;

/// Friction while it must hold, and while it is pressed. Source: memory, DIN 7190-1.
const MU_LOW: f64 = 0.08;
const MU_HIGH: f64 = 0.15;
/// Safety of friction. *Common practice*.
const SAFETY: f64 = 1.5;
/// Share of the onset of flow that a bush, and a housing, is pressed to. *Common practice*.
const SET_USE_MAX: f64 = 0.7;
const HOUSING_USE_MAX: f64 = 0.9;
/// Standard uncertainty of bore and outside, as they will be known when it matters, µm. *Common practice*.
const SIZE_U_UM: f64 = 5.0;
/// Least interference for form errors of bored seats, µm/mm. *Common practice*.
const FLOOR_UM_PER_MM: f64 = 0.2;
/// Share of the summed Rz that is lost by smoothing. Source: memory, DIN 7190-1.
const SMOOTHING: f64 = 0.8;
/// A window under this share of the tolerance is trusted to no lathe. *Common practice*.
const TRUSTED_SHARE: f64 = 0.5;
/// The state that is always looked at too.
const AT_20: &str = "at 20";

/// The bush, whose outside is being found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChoiceBush {
    /// Bore, mm.
    pub bore_mm: f64,
    /// Modulus, GPa.
    pub E_GPa: f64,
    /// Poisson ratio.
    pub nu: f64,
    /// Expansion, per K.
    pub alpha_per_K: f64,
    /// Yield, MPa.
    pub yield_MPa: Option<f64>,
    /// Roughness of its outside, µm.
    pub Rz_outside_um: f64,
}

/// The housing, as measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChoiceHousing {
    /// Bore at 20 °C as measured, mm.
    pub bore_mm: f64,
    /// (Equivalent) outside, mm.
    pub outside_mm: f64,
    /// Modulus, GPa.
    pub E_GPa: f64,
    /// Poisson ratio.
    pub nu: f64,
    /// Expansion, per K.
    pub alpha_per_K: f64,
    /// Yield, MPa.
    pub yield_MPa: Option<f64>,
    /// Hoop tension that a brittle housing stands, MPa.
    pub tension_limit_MPa: Option<f64>,
    /// Roughness of its bore, µm.
    pub Rz_bore_um: f64,
}

/// Temperatures that the fit must live through.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Its name.
    pub name: String,
    /// Temperature of the bush, °C.
    pub bush_C: f64,
    /// Temperature of the housing, °C.
    pub housing_C: f64,
}

/// What the band is chosen from.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The bush.
    pub bush: ChoiceBush,
    /// The housing.
    pub housing: ChoiceHousing,
    /// Length of the joint, mm.
    pub length_mm: f64,
    /// States; "at 20" is added.
    pub states: Vec<State>,
    /// Torque to hold, Nm.
    pub torque_Nm: f64,
    /// Axial load to hold, kN.
    pub axial_kN: f64,
    /// Friction that holds, at least.
    pub mu_low: f64,
    /// Friction while pressing, at most.
    pub mu_high: f64,
    /// Safety against slip.
    pub safety: f64,
    /// Pressure that must stand in any case, MPa.
    pub min_pressure_MPa: f64,
    /// Share of its onset that the bush is pressed to.
    pub set_use_max: f64,
    /// Share of its limit that the housing is pressed to.
    pub housing_use_max: f64,
    /// The press at hand, kN.
    pub press_limit_kN: Option<f64>,
    /// Standard uncertainty of the bore, µm.
    pub bore_u_um: f64,
    /// Standard uncertainty of the outside, µm.
    pub outside_u_um: f64,
    /// Tolerance of the outside, µm; IT6 when not given.
    pub outside_tolerance_um: Option<f64>,
    /// Least interference per diameter, µm/mm.
    pub floor_um_per_mm: f64,
    /// Share of the summed Rz that is lost.
    pub smoothing: f64,
}

/// What kind of fit the band is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fit {
    /// Pressure at 20 °C over the whole band.
    Press,
    /// Pressure at its high edge only.
    Transition,
    /// No pressure: a retainer alone carries.
    Slide,
}

/// How it is seated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Seating {
    /// With the press at hand.
    Press,
    /// Cold bush or warm housing: the press is too small.
    Shrink,
}

/// The band that the outside is turned to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ChosenBand {
    /// Least free interference at 20 °C, µm.
    pub interference_low_um: f64,
    /// Most, µm.
    pub interference_high_um: f64,
    /// Least outside at 20 °C, mm.
    pub outside_low_mm: f64,
    /// Most, mm.
    pub outside_high_mm: f64,
}

/// The choice.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chosen {
    /// Least interference of the bounds kept, 2u inside them, µm.
    pub low_um: f64,
    /// Most, µm; null when nothing bounds it.
    pub high_um: Option<f64>,
    /// High less low, µm; null likewise.
    pub window_um: Option<f64>,
    /// Every bound.
    pub bounds: Vec<Bound>,
    /// Which bound decides the least.
    pub governed_low: Option<Governed>,
    /// Which bound decides the most; null when nothing does.
    pub governed_high: Option<Governed>,
    /// Friction holds in every state.
    pub holds_by_friction: bool,
    /// A retainer is needed.
    pub retainer_needed: bool,
    /// What kind of fit the band is.
    pub fit: Fit,
    /// Why friction does not hold; null when it does.
    pub why: Option<String>,
    /// How it is seated; null without a press limit.
    pub seating: Option<Seating>,
    /// Wishes that were left out.
    pub left_out: Vec<BoundKind>,
    /// The window is under the tolerance.
    pub narrow: bool,
    /// States in which it may be loose.
    pub loose_in: Vec<String>,
    /// The band.
    pub band: ChosenBand,
    /// Pressure at 20 °C at the low edge, MPa.
    pub pressure_low_MPa: f64,
    /// At the high edge, MPa.
    pub pressure_high_MPa: f64,
    /// Close-in of the bore at the low edge, µm.
    pub close_in_low_um: f64,
    /// At the high edge, µm.
    pub close_in_high_um: f64,
    /// Press force with the most friction at the high edge, kN.
    pub press_force_high_kN: f64,
    /// Classes of the trade beside it.
    pub classes: Vec<ClassBeside>,
    /// The same in words.
    pub say: String,
    /// The caution first, then sentences a person can read.
    pub warnings: Vec<String>,
}

/// What may be left out, in the order in which it is tried: hold, set and housing are hard, press and floor are wishes.
const LEFT_OUT: [&[BoundKind]; 4] = [&[], &[BoundKind::Press], &[BoundKind::Floor], &[BoundKind::Press, BoundKind::Floor]];

/// The band that the outside is turned to.
///
/// - low = max(hold in every state, floor · D) + 2u, high = min(set, housing in every state, press) − 2u, u² = u_bore² + u_outside²
/// - the first window of at least half the tolerance: all bounds, without press, without floor, without both
/// - width = min(tol, window), low edge = low + min((window − width)/2, tol): every micrometre more is close-in, force and stress for nothing
/// - no such window: a retainer is needed, and the band hangs one tolerance under the most that is allowed
///
/// The bounds are those of `bounds::interference_um`. Refused: no state, sizes out of order, µ out of order, a load without friction,
/// a tolerance that is not given where IT6 is not defined.
/// Source: Lamé rings; ISO 286 for IT6 and the classes; the order of choice is *common practice*.
pub fn choose(choice: &Choice) -> Result<Chosen, Refused> {
    check(choice)?;
    let tolerance_um = tolerance_um(choice)?;
    let joint = Joint::of(choice);
    let states = states(choice);
    let bounds = bounds(choice, &joint, &states);
    let two_u_um = 2.0 * (sq(choice.bore_u_um) + sq(choice.outside_u_um)).sqrt();
    let trusted = trusted_window(choice, &bounds, two_u_um, tolerance_um);
    let window = trusted.clone().unwrap_or_else(|| Window::of(&bounds, &[], two_u_um));
    let (low_edge, high_edge) = match &trusted {
        Some(window) => edges(window, tolerance_um),
        // Without an end there is always a trusted window: a high edge stands here.
        None => {
            let high = window.high_um.unwrap_or(window.low_um);
            (high - tolerance_um, high)
        }
    };
    let mut chosen = at_edges(choice, &joint, low_edge, high_edge);
    chosen.low_um = window.low_um;
    chosen.high_um = window.high_um;
    chosen.window_um = window.width_um();
    chosen.governed_low = window.lowest.map(governed);
    chosen.governed_high = window.highest.map(governed);
    chosen.holds_by_friction = trusted.is_some();
    chosen.retainer_needed = trusted.is_none();
    chosen.left_out = window.left_out.to_vec();
    chosen.narrow = trusted.is_some() && !window.has(tolerance_um);
    chosen.seating =
        choice.press_limit_kN.map(|_| if chosen.left_out.contains(&BoundKind::Press) { Seating::Shrink } else { Seating::Press });
    chosen.classes = classes::beside(joint.D, window.low_um, window.high_um);
    if trusted.is_none() {
        let hard = Window::of(&bounds, LEFT_OUT[3], two_u_um);
        chosen.why = Some(say::why(&hard, tolerance_um, two_u_um, &states));
        chosen.loose_in = loose_in(choice, &joint, &states, low_edge - two_u_um);
    }
    chosen.say = say::say(choice, &chosen, &window, &states);
    chosen.warnings = say::warnings(choice, &chosen, tolerance_um, &states);
    chosen.bounds = bounds;
    Ok(chosen)
}

fn check(choice: &Choice) -> Result<(), Refused> {
    let (bush, housing) = (&choice.bush, &choice.housing);
    let D = housing.bore_mm;
    if choice.states.is_empty() {
        return Err(Refused::new("states", "[]", "at least one state", "give the coldest and the hottest that the joint lives through"));
    }
    if bush.bore_mm >= D {
        let allowed = format!("under the bore of the housing, {D}");
        return Err(Refused::new("rings.0.bore_mm", bush.bore_mm, allowed, "check the bore of the bush and of the housing"));
    }
    if housing.outside_mm <= D {
        let allowed = format!("over its bore, {D}");
        return Err(Refused::new("rings.1.outside_mm", housing.outside_mm, allowed, "give the housing's equivalent outside"));
    }
    if choice.mu_low > choice.mu_high {
        let allowed = format!("up to mu_high, {}", choice.mu_high);
        return Err(Refused::new("mu_low", choice.mu_low, allowed, "give both frictions, in order"));
    }
    if choice.mu_low == 0.0 && (choice.torque_Nm > 0.0 || choice.axial_kN > 0.0) {
        return Err(Refused::new("mu_low", 0, "a friction over 0 with a torque or an axial load", "give the least friction of the joint"));
    }
    Ok(())
}

/// The tolerance that was asked for, or IT6 at the measured bore, µm.
fn tolerance_um(choice: &Choice) -> Result<f64, Refused> {
    if let Some(tolerance_um) = choice.outside_tolerance_um {
        return Ok(tolerance_um);
    }
    iso_limits(choice.housing.bore_mm, "h6").map(|limits| limits.tolerance_um).map_err(|_| {
        let allowed = format!("a tolerance in µm: IT6 is not defined over {LARGEST_MM} mm");
        Refused::new("outside_tolerance_um", "missing", allowed, "give the tolerance that the lathe holds")
    })
}

fn states(choice: &Choice) -> Vec<State> {
    let mut states = choice.states.clone();
    states.push(State { name: AT_20.into(), bush_C: 20.0, housing_C: 20.0 });
    states
}

/// The first window, wishes left out in their order, that a lathe is trusted with.
fn trusted_window<'b>(choice: &Choice, bounds: &'b [Bound], two_u_um: f64, tolerance_um: f64) -> Option<Window<'b>> {
    // Without a press limit there is no press to leave out.
    let tries = LEFT_OUT.iter().filter(|left_out| choice.press_limit_kN.is_some() || !left_out.contains(&BoundKind::Press));
    let windows = tries.map(|left_out| Window::of(bounds, left_out, two_u_um));
    windows.into_iter().find(|window| window.has(TRUSTED_SHARE * tolerance_um))
}

/// Low and high edge of the band in a window, µm.
fn edges(window: &Window, tolerance_um: f64) -> (f64, f64) {
    let (above, width) = match window.width_um() {
        Some(open) => {
            let width = tolerance_um.min(open);
            (((open - width) / 2.0).min(tolerance_um), width)
        }
        None => (tolerance_um, tolerance_um),
    };
    (window.low_um + above, window.low_um + above + width)
}

/// What the two edges give at 20 °C; the rest of the choice is filled in by the caller.
fn at_edges(choice: &Choice, joint: &Joint, low_um: f64, high_um: f64) -> Chosen {
    let (pressure_low_MPa, pressure_high_MPa) = (joint.pressure_MPa(low_um), joint.pressure_MPa(high_um));
    let close_in_um = |p: f64| lame::close_in(p, choice.bush.bore_mm, joint.Q, choice.bush.E_GPa * 1e3) * 1e3;
    let fit = match () {
        () if pressure_low_MPa > 0.0 => Fit::Press,
        () if pressure_high_MPa > 0.0 => Fit::Transition,
        () => Fit::Slide,
    };
    Chosen {
        low_um,
        high_um: Some(high_um),
        window_um: None,
        bounds: Vec::new(),
        governed_low: None,
        governed_high: None,
        holds_by_friction: false,
        retainer_needed: false,
        fit,
        why: None,
        seating: None,
        left_out: Vec::new(),
        narrow: false,
        loose_in: Vec::new(),
        band: ChosenBand {
            interference_low_um: low_um,
            interference_high_um: high_um,
            outside_low_mm: joint.D + low_um / 1e3,
            outside_high_mm: joint.D + high_um / 1e3,
        },
        pressure_low_MPa,
        pressure_high_MPa,
        close_in_low_um: close_in_um(pressure_low_MPa),
        close_in_high_um: close_in_um(pressure_high_MPa),
        press_force_high_kN: joint.friction_kN(choice.mu_high, pressure_high_MPa),
        classes: Vec::new(),
        say: String::new(),
        warnings: Vec::new(),
    }
}

fn governed(bound: &Bound) -> Governed {
    Governed { bound: bound.bound, state: bound.state.clone() }
}

/// States in which an interference of `least_um` has let go.
fn loose_in(choice: &Choice, joint: &Joint, states: &[State], least_um: f64) -> Vec<String> {
    let loose = |state: &&State| least_um < interference_um(choice, joint, 0.0, state.bush_C, state.housing_C);
    states.iter().filter(loose).map(|state| state.name.clone()).collect()
}

const SIZE: Range = Range::over(0.0).to(1e5);
const STRENGTH: Range = Range::over(0.0).to(1e4);
const ROUGHNESS: Range = Range::at_least(0.0).to(1e4);
const SHARE: Range = Range::over(0.0).to(1.0);

/// `fit-choose` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "fit-choose",
    help: "the band that the outside is turned to",
    request: &[
        Key::records(
            "rings",
            &[
                Key::number("bore_mm", SIZE, "bore; of the housing at 20 °C as measured").needed(),
                Key::number("outside_mm", SIZE, "(equivalent) outside, of the housing only"),
                Key::number("E_GPa", Range::within(0.1, 2000.0), "modulus of elasticity").needed(),
                Key::number("nu", Range::over(-1.0).under(0.5), "Poisson ratio").needed(),
                Key::number("alpha_per_K", Range::at_least(0.0).to(1e-3), "mean expansion from 20 °C to the states").needed(),
                Key::number("yield_MPa", STRENGTH, "yield at the hottest state").default("not checked"),
                Key::number("tension_limit_MPa", STRENGTH, "hoop tension that a brittle housing stands").default("none"),
                Key::number("Rz_outside_um", ROUGHNESS, "roughness of the bush's outside").default("0"),
                Key::number("Rz_bore_um", ROUGHNESS, "roughness of the housing's bore").default("0"),
            ],
            "bush, then housing",
        )
        .needed(),
        Key::number("length_mm", SIZE, "length of the joint").needed(),
        Key::records(
            "states",
            &[
                Key::text("name", "its name").needed(),
                Key::numbers("T_C", Range::within(-273.15, 2000.0), "temperatures of bush and housing").needed(),
            ],
            "at least one; \"at 20\" is added at the end",
        )
        .needed(),
        Key::number("torque_Nm", Range::at_least(0.0).to(1e9), "torque to hold").default("0"),
        Key::number("axial_kN", Range::at_least(0.0).to(1e6), "axial load to hold").default("0"),
        Key::number("mu_low", Range::at_least(0.0).to(5.0), "friction that holds, at least").default("0.08"),
        Key::number("mu_high", Range::over(0.0).to(5.0), "friction while pressing, at most").default("0.15"),
        Key::number("safety", Range::at_least(1.0).to(1e3), "safety against slip").default("1.5"),
        Key::number("min_pressure_MPa", Range::at_least(0.0).to(1e4), "pressure that must stand in any case").default("0"),
        Key::number("set_use_max", SHARE, "share of its onset of flow that the bush is pressed to").default("0.7"),
        Key::number("housing_use_max", SHARE, "share of its limit that the housing is pressed to").default("0.9"),
        Key::number("press_limit_kN", Range::over(0.0).to(1e6), "the press at hand").default("none"),
        Key::number("bore_u_um", Range::at_least(0.0).to(1e5), "standard uncertainty of the bore").default("5"),
        Key::number("outside_u_um", Range::at_least(0.0).to(1e5), "standard uncertainty of the outside").default("5"),
        Key::number("outside_tolerance_um", Range::over(0.0).to(1e5), "tolerance of the outside").default("IT6 at the measured bore"),
        Key::number("floor_um_per_mm", Range::at_least(0.0).to(100.0), "least interference for form errors").default("0.2"),
        Key::number("smoothing", Range::at_least(0.0).to(10.0), "share of the summed Rz that is lost").default("0.8"),
    ],
    answer: &[
        Told { path: "low_um", help: "least interference of the bounds kept" },
        Told { path: "high_um", help: "most; null when nothing bounds it" },
        Told { path: "window_um", help: "high less low; null likewise" },
        Told { path: "bounds", help: "every bound: bound, state, interference_um" },
        Told { path: "governed_low", help: "bound and state that decide the least" },
        Told { path: "governed_high", help: "bound and state that decide the most; null when nothing does" },
        Told { path: "holds_by_friction", help: "friction holds in every state" },
        Told { path: "retainer_needed", help: "it does not" },
        Told { path: "fit", help: "press, transition or slide" },
        Told { path: "why", help: "which two bounds meet; null when friction holds" },
        Told { path: "seating", help: "press or shrink; null without press_limit_kN" },
        Told { path: "left_out", help: "wishes that were left out: press, floor" },
        Told { path: "narrow", help: "the window is under the tolerance" },
        Told { path: "loose_in", help: "states in which it may be loose" },
        Told { path: "band", help: "interference_low_um, interference_high_um, outside_low_mm, outside_high_mm" },
        Told { path: "pressure_low_MPa", help: "at 20 °C at the low edge" },
        Told { path: "pressure_high_MPa", help: "at the high edge" },
        Told { path: "close_in_low_um", help: "close-in of the bore at the low edge" },
        Told { path: "close_in_high_um", help: "at the high edge" },
        Told { path: "press_force_high_kN", help: "most friction, high edge" },
        Told { path: "classes", help: "class, least_um, mean_um, greatest_um, inside: for comparison" },
        Told { path: "say", help: "the same in words" },
    ],
    example: r#"{"rings": [{"bore_mm": 208, "E_GPa": 100, "nu": 0.34, "alpha_per_K": 18e-6, "yield_MPa": 138, "Rz_outside_um": 6},
        {"bore_mm": 240.031, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11.7e-6, "yield_MPa": 305, "Rz_bore_um": 6}],
        "length_mm": 180, "states": [{"name": "cold start", "T_C": [-20, -20]}, {"name": "running", "T_C": [60, 45]}]}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let choice = read(given)?;
    let chosen = choose(&choice)?;
    explain(&choice, &chosen, &mut desk.working);
    told(&chosen)
}

fn read(given: &Given) -> Result<Choice, Refused> {
    let (bush, housing) = read_rings(given)?;
    Ok(Choice {
        bush,
        housing,
        length_mm: given.need_number("length_mm")?,
        states: given.records("states").iter().map(read_state).collect::<Result<_, _>>()?,
        torque_Nm: given.number_or("torque_Nm", 0.0),
        axial_kN: given.number_or("axial_kN", 0.0),
        mu_low: given.number_or("mu_low", MU_LOW),
        mu_high: given.number_or("mu_high", MU_HIGH),
        safety: given.number_or("safety", SAFETY),
        min_pressure_MPa: given.number_or("min_pressure_MPa", 0.0),
        set_use_max: given.number_or("set_use_max", SET_USE_MAX),
        housing_use_max: given.number_or("housing_use_max", HOUSING_USE_MAX),
        press_limit_kN: given.number("press_limit_kN"),
        bore_u_um: given.number_or("bore_u_um", SIZE_U_UM),
        outside_u_um: given.number_or("outside_u_um", SIZE_U_UM),
        outside_tolerance_um: given.number("outside_tolerance_um"),
        floor_um_per_mm: given.number_or("floor_um_per_mm", FLOOR_UM_PER_MM),
        smoothing: given.number_or("smoothing", SMOOTHING),
    })
}

fn read_rings(given: &Given) -> Result<(ChoiceBush, ChoiceHousing), Refused> {
    let rings = given.records("rings");
    let [bush, housing] = rings.as_slice() else {
        return Err(given.refuse("rings", "two rings", "give the bush, then the housing"));
    };
    // The table knows one kind of ring: what belongs to the other one would be left unread.
    for (ring, key, allowed, remedy) in [
        (bush, "outside_mm", "nothing for the bush", "take it out: the outside is what is being found"),
        (bush, "tension_limit_MPa", "nothing for the bush", "take it out: a bush is in compression; give its yield_MPa"),
        (bush, "Rz_bore_um", "Rz_outside_um for the bush", "give the roughness of its outside"),
        (housing, "Rz_outside_um", "Rz_bore_um for the housing", "give the roughness of its bore"),
    ] {
        if ring.has(key) {
            return Err(ring.refuse(key, allowed, remedy));
        }
    }
    let bush = ChoiceBush {
        bore_mm: bush.need_number("bore_mm")?,
        E_GPa: bush.need_number("E_GPa")?,
        nu: bush.need_number("nu")?,
        alpha_per_K: bush.need_number("alpha_per_K")?,
        yield_MPa: bush.number("yield_MPa"),
        Rz_outside_um: bush.number_or("Rz_outside_um", 0.0),
    };
    let housing = ChoiceHousing {
        bore_mm: housing.need_number("bore_mm")?,
        outside_mm: housing.need_number("outside_mm")?,
        E_GPa: housing.need_number("E_GPa")?,
        nu: housing.need_number("nu")?,
        alpha_per_K: housing.need_number("alpha_per_K")?,
        yield_MPa: housing.number("yield_MPa"),
        tension_limit_MPa: housing.number("tension_limit_MPa"),
        Rz_bore_um: housing.number_or("Rz_bore_um", 0.0),
    };
    Ok((bush, housing))
}

fn read_state(state: &Given) -> Result<State, Refused> {
    match state.numbers("T_C").as_slice() {
        [bush_C, housing_C] => Ok(State { name: state.need_word("name")?.to_owned(), bush_C: *bush_C, housing_C: *housing_C }),
        _ => Err(state.refuse("T_C", "two temperatures, bush and housing", "give one for each ring")),
    }
}

fn explain(choice: &Choice, chosen: &Chosen, working: &mut Working) {
    if !working.wanted() {
        return;
    }
    let joint = Joint::of(choice);
    let with = [("Q", joint.Q), ("q", joint.q), ("D mm", joint.D), ("loss mm", joint.loss_mm)];
    working.step("compliance of the joint", "k_b + k_h", &with, &[("k 1/MPa", joint.k)], "Lamé 1852; loss: DIN 7190-1 (memory)");
    let with = [("T Nm", choice.torque_Nm), ("F kN", choice.axial_kN), ("mu low", choice.mu_low), ("safety", choice.safety)];
    let gives = [("p MPa", bounds::needed_pressure_MPa(choice))];
    working.step(
        "pressure that must stand",
        "max(p_min, safety sqrt(F^2 + (2T/D)^2)/(pi D L mu))",
        &with,
        &gives,
        "friction over the joint",
    );
    for (what, pressure) in [
        ("pressure that the bush is pressed to", bounds::set_pressure_MPa(choice, &joint)),
        ("pressure that the housing is pressed to", bounds::housing_pressure_MPa(choice, &joint)),
    ] {
        if let Some(pressure) = pressure {
            let with = [("set use", choice.set_use_max), ("housing use", choice.housing_use_max)];
            working.step(what, "use Y (1 - r^2)/2, brittle use R (1 - q^2)/(1 + q^2)", &with, &[("p MPa", pressure)], "Tresca; Lamé");
        }
    }
    let formula = "I = (D k p + loss + D (1 + alpha_h dT_h))/(1 + alpha_b dT_b) - D";
    for bound in &chosen.bounds {
        let what = format!("bound {:?} {}", bound.bound, bound.state.as_deref().unwrap_or_default()).to_lowercase();
        working.step(what.trim_end(), formula, &[], &[("I um", bound.interference_um)], "thermal expansion; Lamé; floor: common practice");
    }
    let with = [("u bore um", choice.bore_u_um), ("u outside um", choice.outside_u_um)];
    let mut gives = vec![("low um", chosen.low_um)];
    gives.extend(chosen.high_um.map(|high| ("high um", high)));
    gives.extend([("low edge um", chosen.band.interference_low_um), ("high edge um", chosen.band.interference_high_um)]);
    working.step("window and band", "low edge = low + min((window - width)/2, tol)", &with, &gives, "common practice; IT6: ISO 286-1");
}

#[cfg(test)]
mod tests;
