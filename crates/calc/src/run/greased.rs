//! How warm a greased bush runs and how often it wants grease: the answer of `running` with grease.
//!
//! No film is reckoned: friction is a figure of the trade, the heat goes to the air. It leaves the film of oil to `running`.

use serde::Serialize;

use crate::compute::Desk;
use crate::duty::Dirt;
use crate::keys::Given;
use crate::math::{PI, pow};
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::run::running::{CAUTION, HEAT_TRANSFER_W_M2K, SURFACE_IN_DL};

/// Friction of a greased bush [common practice].
const GREASE_FRICTION: f64 = 0.10;
/// Over this a grease ages fast [common practice].
const T_GREASE_C: f64 = 100.0;

/// A request with grease.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GreaseRequest {
    /// Load, diameter, length, two of the motion, friction, ambient, surface (0: 20 D L), heat transfer.
    pub figures: [Quantity; 9],
    /// Swings rather than turns.
    pub swings: bool,
    /// Whether the surface was given.
    pub surface_given: bool,
    /// How dirty the place is.
    pub dirt: Dirt,
}

/// An answer with grease.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GreaseAnswer {
    /// Friction power.
    pub friction_power_W: Figure,
    /// Mean temperature of the bearing.
    pub T_bearing_C: Figure,
    /// Pressure times mean speed.
    pub pv_MPa_m_s: Figure,
    /// Hours between greasings, at first.
    pub regreasing_h: Figure,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// How warm a greased bearing runs and how often it wants grease; figures carry u where an input has one.
///
/// Power = μ F v (mean), T = T_amb + power/(k A), regreasing = (clean 50, dusty 25, gritty 8) × 2^(−(T − 70)/15) over 70 °C.
/// Source: common practice; the halving is recalled from rolling-bearing greases.
pub fn running_with_grease(request: &GreaseRequest) -> Result<GreaseAnswer, Refused> {
    let figures = propagate(&request.figures, |x| {
        let (F, D, L) = (1000.0 * x[0], x[1], x[2]);
        // A swing goes its angle there and back.
        let turns_per_min = if request.swings { 2.0 * x[3] / 360.0 * x[4] } else { x[3] };
        let v = PI * D / 1000.0 * turns_per_min / 60.0;
        let surface = if request.surface_given { x[7] } else { SURFACE_IN_DL * D * L * 1e-6 };
        let power = x[5] * F * v;
        let T_C = x[6] + power / (x[8] * surface);
        Ok::<_, Refused>(vec![power, T_C, F / (D * L) * v, regreasing_h(request.dirt, T_C)])
    })?;
    let T_C = figures[1].value;
    let mut warnings = vec![
        "The greasing interval is a first figure until the pins tell: fresh grease must show at the ends [common practice].".to_owned(),
        "A local hot spot is 10 to 30 K over this mean temperature [common practice].".to_owned(),
    ];
    if T_C > T_GREASE_C {
        let hot = format!("The bearing settles at {T_C:.0} °C, over {T_GREASE_C} °C: a usual grease does not last there.");
        warnings.insert(0, hot);
    }
    warnings.push(CAUTION.to_owned());
    Ok(GreaseAnswer { friction_power_W: figures[0], T_bearing_C: figures[1], pv_MPa_m_s: figures[2], regreasing_h: figures[3], warnings })
}

fn regreasing_h(dirt: Dirt, T_C: f64) -> f64 {
    let at_first = match dirt {
        Dirt::Clean => 50.0,
        Dirt::Dusty => 25.0,
        Dirt::Gritty => 8.0,
    };
    at_first * pow(2.0, -(T_C - 70.0).max(0.0) / 15.0)
}

/// Reads a request with grease.
pub fn read_grease(given: &Given) -> Result<GreaseRequest, Refused> {
    let motion = given.need_word("motion")?;
    let still = Quantity::exact(0.0);
    let (first, second) = match motion {
        "rotation" => (given.need_quantity("speed_rpm")?, still),
        "swing" => (given.need_quantity("swing_deg")?, given.need_quantity("swings_per_min")?),
        _ => (still, still),
    };
    let figures = [
        given.need_quantity("load_kN")?,
        given.need_quantity("diameter_mm")?,
        given.need_quantity("length_mm")?,
        first,
        second,
        given.quantity_or("friction", GREASE_FRICTION),
        given.need_quantity("ambient_C")?,
        given.quantity_or("surface_m2", 0.0),
        given.quantity_or("heat_transfer_W_m2K", HEAT_TRANSFER_W_M2K),
    ];
    let dirt = Dirt::named(given.word_or("dirt", "clean"));
    Ok(GreaseRequest { figures, swings: motion == "swing", surface_given: given.has("surface_m2"), dirt })
}

/// Writes down the steps of an answer with grease.
pub fn show_grease(request: &GreaseRequest, answer: &GreaseAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let x = request.figures.map(|figure| figure.value);
    let (power, T_C) = (answer.friction_power_W.value, answer.T_bearing_C.value);
    let with = [("mu", x[5]), ("F kN", x[0]), ("p v MPa m/s", answer.pv_MPa_m_s.value)];
    working.step("friction power", "mu F v", &with, &[("power W", power)], "common practice");
    let with = [("power W", power), ("T amb C", x[6]), ("k W/m2K", x[8])];
    working.step("temperature", "T_amb + power/(k A)", &with, &[("T C", T_C)], "heat balance with the air");
    let gives = [("hours", answer.regreasing_h.value)];
    working.step("greasing interval", "(50, 25, 8) 2^(-(T - 70)/15) over 70 C", &[("T C", T_C)], &gives, "common practice");
}
