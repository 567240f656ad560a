//! How warm a bearing runs and whether its film keeps metal from metal (`running`): with oil by its balance of heat, with grease by its
//! friction.
//!
//! It leaves the balance to `heat_balance`, the film to `film`, the clearance to `clearance`. Where the film does not carry, the figures
//! are an ideal film's: friction and temperature are then far too low, and this is said first.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::duty::{DIRTS, MOTIONS, Regime};
use crate::keys::{Given, Key, Range, Told};
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::run::film::{HEAT_CAPACITY_J_M3K, check_slenderness, loaded_warnings};
use crate::run::greased::{read_grease, running_with_grease, show_grease};
use crate::run::heat_balance::{Bearing, Cooling, HOTTEST_C, Settled, Sketch, State, Unsettled, balance, transition_rpm};
use crate::run::viscosity::{OIL_KEYS, Oil, oil_warnings};

/// Surface that gives heat to the air, in D L. Source: ISO 7902-1, from memory (15 to 20).
pub const SURFACE_IN_DL: f64 = 20.0;
/// Heat transfer in still air, W/(m² K). Source: ISO 7902-1, from memory (15 to 20).
pub const HEAT_TRANSFER_W_M2K: f64 = 20.0;
/// Friction where film and metal share the load, and where no film carries it [common practice].
const FRICTION_MIXED: f64 = 0.10;
const FRICTION_BEYOND: f64 = 0.20;
/// Advised for mineral oil, and its end. Source: ISO 7902-1, from memory.
pub(super) const T_ADVISED_C: f64 = 90.0;
const T_MOST_C: f64 = 125.0;
/// The film over what it has to be, advised [common practice]; speed over transition speed, advised (ISO 7902-1, from memory).
pub(super) const RATIO_ADVISED: f64 = 2.0;
pub(super) const SPEED_ADVISED: f64 = 3.0;
/// Halvings of the mesh from which slopes for u are taken.
const SLOPES: usize = 2;
const BALANCE: &str = "ISO 7902-1 (scope read, formulas recalled)";

/// A request with oil: figures in the order of [`OIL_FIGURES`], the oil, what cools.
#[derive(Clone, Debug, PartialEq)]
pub struct OilRequest {
    /// Figures in the order of [`OIL_FIGURES`]; none where a default follows from others.
    pub figures: [Option<Quantity>; 18],
    /// The oil.
    pub oil: Oil,
    /// What cools.
    pub cooling: Cooling,
}

/// The figures of a request with oil.
pub const OIL_FIGURES: [&str; 18] = [
    "load_kN",
    "speed_rpm",
    "diameter_mm",
    "length_mm",
    "clearance_um",
    "ambient_C",
    "inlet_C",
    "supply_MPa",
    "hole_mm",
    "surface_m2",
    "heat_transfer_W_m2K",
    "heat_capacity_J_m3K",
    "alpha_bore_per_K",
    "alpha_journal_per_K",
    "journal_excess_K",
    "Rz_bush_um",
    "Rz_journal_um",
    "tilt_mrad",
];

/// An answer with oil. Null: all that a bearing without a balance has not, and what needs a roughness or a tilt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OilAnswer {
    /// Temperature of the bearing.
    pub T_bearing_C: Option<Figure>,
    /// Temperature of the viscosity.
    pub T_effective_C: Option<Figure>,
    /// Temperature of the oil that leaves.
    pub T_out_C: Option<Figure>,
    /// Viscosity there.
    pub viscosity_mPas: Option<Figure>,
    /// Clearance there.
    pub clearance_hot_um: Option<Figure>,
    /// Eccentricity ratio.
    pub eps: Option<Figure>,
    /// Sommerfeld number.
    pub sommerfeld: Option<Figure>,
    /// Attitude angle.
    pub attitude_deg: Option<Figure>,
    /// Thinnest film.
    pub min_film_um: Option<Figure>,
    /// Greatest pressure.
    pub max_pressure_MPa: Option<Figure>,
    /// Friction coefficient.
    pub friction_coefficient: Option<Figure>,
    /// Friction power.
    pub friction_power_W: Option<Figure>,
    /// Side flow and forced flow.
    pub flow_l_min: Option<Figure>,
    /// Heat to the air.
    pub heat_housing_W: Option<Figure>,
    /// Heat to the oil.
    pub heat_oil_W: Option<Figure>,
    /// Film that roughness and tilt need.
    pub required_film_um: Figure,
    /// Whether no film carries the load.
    pub beyond: Option<bool>,
    /// Thinnest film over required film.
    pub film_ratio: Option<Figure>,
    /// Speed at which the film is as thick as required.
    pub transition_rpm: Option<Figure>,
    /// Who carries: the film, or film and metal.
    pub regime: Option<Regime>,
    /// Friction power when metal carries too.
    pub friction_power_high_W: Option<Figure>,
    /// Temperature with it.
    pub T_bearing_high_C: Option<Figure>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

impl OilRequest {
    /// The bearing by the values of its figures.
    pub(super) fn bearing_by_values(&self) -> Bearing {
        let x: Vec<f64> = self.inputs().iter().map(|input| input.value).collect();
        self.bearing(&x)
    }

    fn inputs(&self) -> Vec<Quantity> {
        let figures = self.figures.iter().map(|figure| figure.unwrap_or(Quantity::exact(0.0)));
        figures.chain(self.oil.inputs()).collect()
    }

    /// The bearing with the values `x` of its inputs; defaults that follow from others move with them.
    fn bearing(&self, x: &[f64]) -> Bearing {
        let or = |k: usize, default: f64| if self.figures[k].is_some() { x[k] } else { default };
        let (diameter_mm, length_mm) = (x[2], x[3]);
        let ambient_C = or(5, x[6]);
        Bearing {
            load_kN: x[0],
            speed_rpm: x[1],
            diameter_mm,
            length_mm,
            clearance_um: x[4],
            oil: [x[18], x[19], x[20]],
            ambient_C,
            cooling: self.cooling,
            inlet_C: or(6, ambient_C),
            supply_MPa: x[7],
            hole_mm: x[8],
            surface_m2: or(9, SURFACE_IN_DL * diameter_mm * length_mm * 1e-6),
            heat_transfer_W_m2K: or(10, HEAT_TRANSFER_W_M2K),
            heat_capacity_J_m3K: or(11, HEAT_CAPACITY_J_M3K),
            alpha_bore_per_K: x[12],
            alpha_journal_per_K: x[13],
            journal_excess_K: x[14],
        }
    }
}

/// Rz_b + Rz_j + tilt L/2, µm: the end of a tilted journal loses half the slope times L.
fn required_film_um(x: &[f64]) -> f64 {
    x[15] + x[16] + x[17] * x[3] / 2.0
}

/// How a bearing with oil settles; figures carry u where an input has one.
///
/// - balance: see [`balance`]
/// - required film = Rz_b + Rz_j + tilt L/2; film ratio = h_min/required, 1 and more: full film
/// - transition speed = 60 S(ε_r) p ψ²/η, ε_r = 1 − required/C, at the same η and hot clearance
/// - film ratio under 1, or a load that no film carries: friction power 0.10 F v (0.20), temperature T_amb + that/(k A)
///
/// Source: ISO 7902-1 (scope read, formulas recalled); the high friction is common practice; propagation JCGM 100, 5.1.
pub fn running_with_oil(request: &OilRequest) -> Result<OilAnswer, Refused> {
    let inputs = request.inputs();
    let x: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let bearing = request.bearing(&x);
    let sketch = Sketch::new(bearing.length_mm / bearing.diameter_mm);
    let outcome = balance(&bearing, &sketch, None);
    let required =
        propagate(&[inputs[15], inputs[16], inputs[17], inputs[3]], |x| Ok::<_, Refused>(vec![x[0] + x[1] + x[2] * x[3] / 2.0]))?[0];
    let Ok(Settled { state, film, .. }) = &outcome else {
        return Ok(unsettled(request, &outcome, required));
    };
    let centre = listed(&bearing, required.value, &outcome, film.halvings);
    let mut figures: Vec<Figure> = centre.iter().copied().map(Figure::plain).collect();
    if inputs.iter().any(|input| input.u > 0.0) {
        let slopes = propagate(&inputs, |x| Ok::<_, Refused>(moved(request, x, &sketch)))?;
        figures.iter_mut().zip(slopes).for_each(|(figure, slope)| figure.u = slope.u);
    }
    let some = |k: usize| Some(figures[k]);
    let judged = required.value > 0.0;
    let ratio = centre[RATIO];
    let full = ratio >= 1.0 && !state.beyond;
    let high = state.beyond || (judged && !full);
    let mut answer = OilAnswer {
        T_bearing_C: some(0),
        T_effective_C: some(1),
        T_out_C: some(0),
        viscosity_mPas: some(2),
        clearance_hot_um: some(3),
        eps: some(4),
        sommerfeld: some(5),
        attitude_deg: some(6),
        min_film_um: some(7),
        max_pressure_MPa: some(8),
        friction_coefficient: some(9),
        friction_power_W: some(10),
        flow_l_min: some(11),
        heat_housing_W: some(12),
        heat_oil_W: some(13),
        required_film_um: required,
        beyond: Some(state.beyond),
        film_ratio: some(RATIO).filter(|_| judged),
        transition_rpm: some(TRANSITION).filter(|_| judged && centre[TRANSITION].is_finite()),
        regime: judged.then_some(if full { Regime::FullFilm } else { Regime::Mixed }),
        friction_power_high_W: some(HIGH).filter(|_| high),
        T_bearing_high_C: some(HIGH + 1).filter(|_| high && request.cooling != Cooling::Oil),
        warnings: Vec::new(),
    };
    answer.warnings = warnings(request, &bearing, &outcome, &answer);
    Ok(answer)
}

/// Where these stand among the figures of [`listed`].
const RATIO: usize = 14;
const TRANSITION: usize = 15;
const HIGH: usize = 16;
const LISTED: usize = 18;

/// The figures for slopes: inputs `x`, a coarser mesh; not finite where the bearing does not settle.
fn moved(request: &OilRequest, x: &[f64], sketch: &Sketch) -> Vec<f64> {
    let bearing = request.bearing(x);
    let L_over_D = bearing.length_mm / bearing.diameter_mm;
    let own = (L_over_D != sketch.L_over_D).then(|| Sketch::new(L_over_D));
    let outcome = balance(&bearing, own.as_ref().unwrap_or(sketch), Some(SLOPES));
    listed(&bearing, required_film_um(x), &outcome, SLOPES)
}

fn listed(bearing: &Bearing, required_um: f64, outcome: &Result<Settled, Unsettled>, halvings: usize) -> Vec<f64> {
    let Ok(Settled { state, film, .. }) = outcome else {
        return vec![f64::NAN; LISTED];
    };
    let sized = state.sized(film);
    let friction = if state.beyond { FRICTION_BEYOND } else { FRICTION_MIXED };
    let power_high = friction * 1000.0 * bearing.load_kN * state.loaded.speed_m_s();
    vec![
        state.T_C,
        state.T_effective_C,
        state.loaded.viscosity_mPas,
        state.loaded.clearance_um,
        state.eps,
        state.loaded.sommerfeld(),
        film.shape.attitude_deg,
        sized.min_film_um,
        sized.max_pressure_MPa,
        sized.friction_coefficient,
        state.power_W,
        state.flow_l_min,
        state.heat_housing_W,
        state.heat_oil_W,
        sized.min_film_um / required_um,
        transition_rpm(&state.loaded, required_um, halvings).unwrap_or(f64::NAN),
        power_high,
        bearing.ambient_C + power_high / (bearing.heat_transfer_W_m2K * bearing.surface_m2),
    ]
}

/// The answer where there is no balance: the film's figures are null.
fn unsettled(request: &OilRequest, outcome: &Result<Settled, Unsettled>, required_film_um: Figure) -> OilAnswer {
    let x: Vec<f64> = request.inputs().iter().map(|input| input.value).collect();
    let mut answer = OilAnswer {
        T_bearing_C: None,
        T_effective_C: None,
        T_out_C: None,
        viscosity_mPas: None,
        clearance_hot_um: None,
        eps: None,
        sommerfeld: None,
        attitude_deg: None,
        min_film_um: None,
        max_pressure_MPa: None,
        friction_coefficient: None,
        friction_power_W: None,
        flow_l_min: None,
        heat_housing_W: None,
        heat_oil_W: None,
        required_film_um,
        beyond: None,
        film_ratio: None,
        transition_rpm: None,
        regime: None,
        friction_power_high_W: None,
        T_bearing_high_C: None,
        warnings: Vec::new(),
    };
    answer.warnings = warnings(request, &request.bearing(&x), outcome, &answer);
    answer
}

/// What a person who runs a bearing has to know first.
pub const CAUTION: &str = "A machine builder's limits, codes and licensed engineers come before these figures. Never oil, feel or gauge a turning \
    journal; stop a hot bearing slowly and do not open it while hot (oil mist can ignite). Prove it by running it in: rising load and \
    speed, temperature read.";

fn warnings(request: &OilRequest, bearing: &Bearing, outcome: &Result<Settled, Unsettled>, answer: &OilAnswer) -> Vec<String> {
    let mut warnings = Vec::new();
    match outcome {
        Err(Unsettled::DoesNotCool) => warnings.push(format!(
            "It does not cool enough: up to {HOTTEST_C} °C friction makes more heat than housing and oil take. More surface or air, an oil \
             cooler, a thinner oil or more clearance would help."
        )),
        Err(Unsettled::Seizes(T_C)) => warnings.push(format!(
            "It seizes before it settles: at {T_C:.0} °C no clearance is left. More clearance, or a journal that is not so much hotter than \
             its bush."
        )),
        Ok(Settled { state, film, runs_away_C, settled }) => {
            warnings.extend(film_words(answer, bearing.speed_rpm));
            if !settled {
                warnings.push("The iteration came to its limit before it settled: take the figures as a first sight.".to_owned());
            }
            warnings.extend(warmth_words(state, *runs_away_C));
            warnings.extend(loaded_warnings(&state.loaded, &film.shape));
            warnings.extend(oil_warnings(state.kinematic_mm2_s, state.T_effective_C));
        }
    }
    if answer.required_film_um.value <= 0.0 {
        warnings.push("Neither a roughness nor a tilt was given: nothing judges the film.".to_owned());
    }
    if bearing.alpha_bore_per_K == 0.0 && bearing.alpha_journal_per_K == 0.0 {
        warnings.push(
            "No expansion was given (alpha_bore_per_K from `clearance`, alpha_journal_per_K): the clearance stays as at 20 °C.".to_owned(),
        );
    }
    let (surface, transfer) = (request.figures[9], request.figures[10]);
    if request.cooling != Cooling::Oil && surface.is_none() && transfer.is_none() {
        warnings.push(format!(
            "Surface ({:.3} m², 20 D L) and heat transfer (20 W/(m² K), still air) were taken unasked and are good to 25 % at best: wind of \
             w m/s over 1.2 has 7 + 12 √w.",
            bearing.surface_m2
        ));
    }
    warnings.push(CAUTION.to_owned());
    warnings
}

/// What to say first: whether the film is one.
fn film_words(answer: &OilAnswer, speed_rpm: f64) -> Vec<String> {
    let mut words = Vec::new();
    if let Some(power) = answer.friction_power_high_W {
        let why = if answer.beyond == Some(true) { "No film carries this load" } else { "The film is thinner than roughness and tilt" };
        let hot = answer.T_bearing_high_C.map_or_else(String::new, |T| format!(" and {:.0} °C", T.value));
        words.push(format!(
            "{why}: metal runs on metal, the figures are an ideal film's, and its friction and temperature are far too low. Count on up to \
             {:.0} W of friction{hot}.",
            power.value
        ));
    } else if let Some(ratio) = answer.film_ratio.filter(|ratio| ratio.value < RATIO_ADVISED) {
        words.push(format!("The film is only {:.1} times what roughness and tilt need: {RATIO_ADVISED} times is advised.", ratio.value));
    }
    if let Some(rpm) = answer.transition_rpm.filter(|rpm| speed_rpm < SPEED_ADVISED * rpm.value) {
        words.push(format!(
            "The speed is {:.1} times that at which metal begins to touch ({:.0} rev/min): {SPEED_ADVISED} times is advised.",
            speed_rpm / rpm.value,
            rpm.value
        ));
    }
    if let Some(eps) = answer.eps.filter(|eps| eps.value > 0.95 && answer.beyond == Some(false)) {
        words.push(format!("The eccentricity ratio is {:.3}, over 0.95: what bends or tilts takes the film that is left.", eps.value));
    }
    words
}

fn warmth_words(state: &State, runs_away_C: Option<f64>) -> Vec<String> {
    let mut words = Vec::new();
    if state.T_C > T_MOST_C {
        words.push(format!("It settles at {:.0} °C: a mineral oil ages fast over 100 °C and stands {T_MOST_C} °C at most.", state.T_C));
    } else if state.T_C > T_ADVISED_C {
        words.push(format!("It settles at {:.0} °C: {T_ADVISED_C} °C at most is advised for mineral oil.", state.T_C));
    }
    if let Some(T_C) = runs_away_C {
        words.push(format!(
            "The clearance closes as it warms: from {T_C:.0} °C friction wins again, and a bearing that gets so hot once runs away and seizes."
        ));
    }
    words
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "running",
    help: "the temperature at which a bearing settles",
    request: &[
        Key::word("lubrication", &["oil", "grease"], "what lubricates").needed(),
        Key::quantity("load_kN", Range::within(1e-6, 1e6), "the load").needed(),
        Key::quantity("diameter_mm", Range::within(0.1, 1e4), "the journal's diameter").needed(),
        Key::quantity("length_mm", Range::within(0.1, 1e4), "length that carries").needed(),
        Key::word("motion", MOTIONS, "how the journal moves, with grease; oil films need rotation").default("rotation with oil"),
        Key::quantity("speed_rpm", Range::over(0.0).to(1e6), "revolutions per minute, with oil or rotation"),
        Key::quantity("swing_deg", Range::over(0.0).under(360.0), "the whole angle from end to end, with swing"),
        Key::quantity("swings_per_min", Range::within(0.0, 1e6), "swings there and back per minute, with swing"),
        Key::quantity("clearance_um", Range::over(0.0).to(1e5), "clearance on the diameter at 20 °C, with oil"),
        Key::record("oil", OIL_KEYS, "the oil"),
        Key::quantity("ambient_C", Range::within(-60.0, 150.0), "temperature of the air"),
        Key::word("cooling", &["housing", "oil", "both"], "what carries the heat away, with oil"),
        Key::quantity("inlet_C", Range::within(-60.0, 150.0), "temperature of the oil that comes in").default("ambient_C"),
        Key::quantity("supply_MPa", Range::within(0.0, 100.0), "pressure of the supply, with hole_mm").default("0, no forced flow"),
        Key::quantity("hole_mm", Range::within(0.0, 1e4), "diameter of the supply hole, under 0.7 of the length"),
        Key::quantity("surface_m2", Range::within(1e-6, 1e6), "surface that gives heat to the air").default("20 D L"),
        Key::quantity("heat_transfer_W_m2K", Range::within(0.01, 1e5), "heat transfer at it").default("20"),
        Key::quantity("heat_capacity_J_m3K", Range::within(1e3, 1e8), "heat capacity of the oil by volume").default("1.8e6"),
        Key::quantity("alpha_bore_per_K", Range::within(-1e-4, 1e-3), "expansion of the bore, from `clearance`").default("0"),
        Key::quantity("alpha_journal_per_K", Range::within(-1e-4, 1e-3), "expansion of the journal").default("0"),
        Key::quantity("journal_excess_K", Range::within(-200.0, 500.0), "by how much the journal is hotter than the bearing").default("0"),
        Key::quantity("Rz_bush_um", Range::within(0.0, 1e3), "roughness of the bush").default("0"),
        Key::quantity("Rz_journal_um", Range::within(0.0, 1e3), "roughness of the journal").default("0"),
        Key::quantity("tilt_mrad", Range::within(0.0, 1e3), "tilt of the journal in the bush").default("0"),
        Key::quantity("friction", Range::within(1e-4, 2.0), "friction coefficient, with grease").default("0.10"),
        Key::word("dirt", DIRTS, "how dirty the place is, with grease").default("clean"),
    ],
    answer: &[
        Told { path: "T_bearing_C", help: "temperature of the bearing; with oil null where it does not settle, as all of the film" },
        Told { path: "T_effective_C", help: "temperature of the viscosity; this and all others with oil only, unless they say grease" },
        Told { path: "T_out_C", help: "temperature of the oil that leaves" },
        Told { path: "viscosity_mPas", help: "viscosity there" },
        Told { path: "clearance_hot_um", help: "clearance there" },
        Told { path: "eps", help: "eccentricity ratio" },
        Told { path: "sommerfeld", help: "Sommerfeld number" },
        Told { path: "attitude_deg", help: "attitude angle" },
        Told { path: "min_film_um", help: "thinnest film" },
        Told { path: "max_pressure_MPa", help: "greatest pressure" },
        Told { path: "friction_coefficient", help: "friction coefficient" },
        Told { path: "friction_power_W", help: "friction power, with oil and with grease" },
        Told { path: "flow_l_min", help: "side flow and forced flow" },
        Told { path: "heat_housing_W", help: "heat to the air" },
        Told { path: "heat_oil_W", help: "heat to the oil" },
        Told { path: "required_film_um", help: "film that roughness and tilt need" },
        Told { path: "beyond", help: "whether no film carries the load" },
        Told { path: "film_ratio", help: "thinnest over required film; null without roughness and tilt" },
        Told { path: "transition_rpm", help: "speed at which the film is as thick as required; null without such, or with none" },
        Told { path: "regime", help: "full film or mixed; null where it does not settle, or without roughness and tilt" },
        Told { path: "friction_power_high_W", help: "friction when metal carries too; null in a full film" },
        Told { path: "T_bearing_high_C", help: "temperature with it; null in a full film, or cooled by oil alone" },
        Told { path: "pv_MPa_m_s", help: "pressure times mean speed, only with grease" },
        Told { path: "regreasing_h", help: "hours between greasings at first, only with grease" },
    ],
    example: r#"{"lubrication": "oil", "load_kN": 12, "speed_rpm": 500, "diameter_mm": 100, "length_mm": 80, "clearance_um": 120,
        "oil": {"iso_vg": 68}, "ambient_C": 25, "cooling": "housing", "surface_m2": 0.5, "Rz_bush_um": 4, "Rz_journal_um": 2}"#,
    run: Some(answer_running),
};

/// Keys of the one lubricant that say nothing of the other.
const OIL_ALONE: [&str; 13] = [
    "clearance_um",
    "oil",
    "cooling",
    "inlet_C",
    "supply_MPa",
    "hole_mm",
    "heat_capacity_J_m3K",
    "alpha_bore_per_K",
    "alpha_journal_per_K",
    "journal_excess_K",
    "Rz_bush_um",
    "Rz_journal_um",
    "tilt_mrad",
];
const GREASE_ALONE: [&str; 4] = ["swing_deg", "swings_per_min", "friction", "dirt"];

fn answer_running(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let with_grease = given.need_word("lubrication")? == "grease";
    let unused: &[&str] = if with_grease { &OIL_ALONE } else { &GREASE_ALONE };
    let unused: Vec<&str> = unused.iter().copied().filter(|name| given.has(name)).collect();
    let note = (!unused.is_empty()).then(|| format!("Not used with this lubricant: {}.", unused.join(", ")));
    if with_grease {
        let request = read_grease(given)?;
        let mut answer = running_with_grease(&request)?;
        answer.warnings.extend(note);
        show_grease(&request, &answer, desk);
        return told(&answer);
    }
    let request = read_oil(given)?;
    let mut answer = running_with_oil(&request)?;
    answer.warnings.extend(note);
    show_oil(&request, &answer, desk);
    told(&answer)
}

fn read_oil(given: &Given) -> Result<OilRequest, Refused> {
    if given.word_or("motion", "rotation") != "rotation" {
        return Err(given.refuse("motion", "rotation, with oil", "a swing keeps no film: ask `duty`, or with grease"));
    }
    let cooling = match given.need_word("cooling")? {
        "housing" => Cooling::Housing,
        "oil" => Cooling::Oil,
        _ => Cooling::Both,
    };
    for name in ["load_kN", "speed_rpm", "diameter_mm", "length_mm", "clearance_um"] {
        given.need_quantity(name)?;
    }
    if !(cooling == Cooling::Oil && given.has("inlet_C")) {
        given.need_quantity("ambient_C")?;
    }
    let oil = Oil::read(&given.need_record("oil")?)?;
    let (length_mm, hole_mm) = (given.need_number("length_mm")?, given.number_or("hole_mm", 0.0));
    check_slenderness(given, given.need_number("diameter_mm")?, length_mm)?;
    if given.number_or("supply_MPa", 0.0) > 0.0 && hole_mm <= 0.0 {
        return Err(given.refuse("hole_mm", "a number over 0, with supply_MPa", "give the hole that the supply comes through"));
    }
    if hole_mm >= 0.7 * length_mm {
        return Err(given.refuse("hole_mm", format!("a number under 0.7 of the length, {:.1}", 0.7 * length_mm), "look at the hole again"));
    }
    Ok(OilRequest { figures: OIL_FIGURES.map(|name| given.quantity(name)), oil, cooling })
}

fn show_oil(request: &OilRequest, answer: &OilAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let value = |figure: Option<Figure>| figure.map_or(f64::NAN, |figure| figure.value);
    let x: Vec<f64> = request.inputs().iter().map(|input| input.value).collect();
    let with = [("Rz b um", x[15]), ("Rz j um", x[16]), ("tilt mrad", x[17]), ("L mm", x[3])];
    let gives = [("required um", answer.required_film_um.value)];
    working.step("required film", "Rz_b + Rz_j + tilt L/2", &with, &gives, "geometry, common practice");
    if answer.T_bearing_C.is_none() {
        let formula = "f F v = k A (T - T_amb) + rho c Q (T - T_in)";
        working.step("balance of heat", formula, &[("hottest C", HOTTEST_C)], &[], BALANCE);
        return;
    }
    let with = [("T eff C", value(answer.T_effective_C))];
    working.step(
        "viscosity",
        "lg lg(nu + 0.7) = A - B lg T(K)",
        &with,
        &[("eta mPa s", value(answer.viscosity_mPas))],
        "ASTM D341 (recalled)",
    );
    let with = [("c20 um", x[4]), ("alpha bore 1/K", x[12]), ("alpha journal 1/K", x[13]), ("excess K", x[14])];
    let formula = "c20 + D [alpha_bore (T - 20) - alpha_j (T + excess - 20)]";
    working.step("hot clearance", formula, &with, &[("c um", value(answer.clearance_hot_um))], "free expansion");
    let with = [
        ("power W", value(answer.friction_power_W)),
        ("to air W", value(answer.heat_housing_W)),
        ("to oil W", value(answer.heat_oil_W)),
        ("flow l/min", value(answer.flow_l_min)),
    ];
    let gives = [("T C", value(answer.T_bearing_C)), ("eps", value(answer.eps)), ("h min um", value(answer.min_film_um))];
    working.step("balance of heat", "f F v = k A (T - T_amb) + rho c Q (T - T_in), lowest T", &with, &gives, BALANCE);
    if let (Some(ratio), Some(rpm)) = (answer.film_ratio, answer.transition_rpm) {
        let gives = [("film ratio", ratio.value), ("transition 1/min", rpm.value)];
        let formula = "h_min/required; 60 S(1 - required/C) p psi^2/eta";
        working.step("film against roughness and tilt", formula, &[("h min um", value(answer.min_film_um))], &gives, BALANCE);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(request: &str) -> Result<Value, Refused> {
        answer("running", &read(request).unwrap(), &Alone, false)
    }

    fn oil(more: &str) -> String {
        format!(
            r#"{{"lubrication": "oil", "load_kN": 12, "speed_rpm": 500, "diameter_mm": 100, "length_mm": 80, "clearance_um": 120,
            "oil": {{"iso_vg": 68}}, "ambient_C": 25, "surface_m2": 0.5, {more}}}"#
        )
    }

    fn warned(found: &Value, word: &str) -> bool {
        found["warnings"].as_array().unwrap().iter().any(|warning| warning.as_str().unwrap().contains(word))
    }

    fn at(found: &Value, key: &str) -> f64 {
        found[key].as_f64().unwrap_or_else(|| panic!("no number at {key}: {found}"))
    }

    #[test]
    fn what_cannot_be_answered_is_refused_by_key() {
        let housing = r#""cooling": "housing""#;
        for (request, key) in [
            (oil(r#""Rz_bush_um": 3"#), "cooling"),
            (oil(housing).replace("500", "0"), "speed_rpm"),
            (oil(housing).replace(r#""clearance_um": 120"#, r#""clearance_um": 0"#), "clearance_um"),
            (oil(housing).replace(r#""load_kN": 12"#, r#""load_kN": 0"#), "load_kN"),
            (oil(housing).replace("68", "70"), "oil.iso_vg"),
            (oil(housing).replace(r#""length_mm": 80"#, r#""length_mm": 4"#), "length_mm"),
            (oil(r#""cooling": "housing", "hole_mm": 56"#), "hole_mm"),
            (oil(r#""cooling": "both", "supply_MPa": 0.1"#), "hole_mm"),
            (oil(r#""cooling": "housing", "motion": "swing""#), "motion"),
            (r#"{"lubrication": "grease", "load_kN": 40, "diameter_mm": 110, "length_mm": 100, "ambient_C": 30}"#.to_owned(), "motion"),
            (r#"{"lubrication": "water", "load_kN": 40, "diameter_mm": 110, "length_mm": 100}"#.to_owned(), "lubrication"),
        ] {
            assert_eq!(asked(&request).unwrap_err().key, key, "{request}");
        }
    }

    #[test]
    fn nothing_judges_a_film_without_roughness_or_tilt() {
        let found = asked(&oil(r#""cooling": "housing""#)).unwrap();
        assert!(found["film_ratio"].is_null() && found["regime"].is_null() && found["transition_rpm"].is_null());
        assert!(warned(&found, "nothing judges the film") && warned(&found, "stays as at 20 °C"));
        // A tilt of 0.05 mrad over 80 mm takes 2 um at the end.
        let tilted = asked(&oil(r#""cooling": "housing", "tilt_mrad": 0.05"#)).unwrap();
        assert!((at(&tilted, "required_film_um") - 2.0).abs() < 1e-12 && tilted["regime"] == "full film");
    }

    #[test]
    fn a_film_thinner_than_the_roughness_is_told_first_with_the_friction_of_metal() {
        let found = asked(&oil(r#""cooling": "housing", "Rz_bush_um": 40"#)).unwrap();
        assert_eq!(found["regime"], "mixed");
        assert!(found["warnings"][0].as_str().unwrap().contains("far too low"));
        // By hand: 0.10 x 12 kN x pi x 0.1 m x 500/60 s = 3141.6 W, over 20 x 0.5 W/K and 25 °C.
        assert!((at(&found, "friction_power_high_W") - 3141.592_653_6).abs() < 1e-6);
        assert!((at(&found, "T_bearing_high_C") - 339.159_265_4).abs() < 1e-6);
        let by_oil = asked(&oil(r#""cooling": "oil", "inlet_C": 40, "Rz_bush_um": 40"#)).unwrap();
        assert!(by_oil["T_bearing_high_C"].is_null() && at(&by_oil, "heat_housing_W") == 0.0);
    }

    #[test]
    fn the_film_at_the_transition_speed_is_as_thick_as_required() {
        let more = r#""cooling": "housing", "Rz_bush_um": 8"#;
        let found = asked(&oil(more)).unwrap();
        let (rpm, eta, c) = (at(&found, "transition_rpm"), at(&found, "viscosity_mPas"), at(&found, "clearance_hot_um"));
        let film = format!(
            r#"{{"load_kN": 12, "speed_rpm": {rpm}, "diameter_mm": 100, "length_mm": 80, "clearance_um": {c}, "viscosity_mPas": {eta}}}"#
        );
        let film = answer("film", &read(&film).unwrap(), &Alone, false).unwrap();
        assert!((at(&film, "min_film_um") / 8.0 - 1.0).abs() < 1e-3, "{film}");
    }

    #[test]
    fn a_clearance_that_closes_as_it_warms_is_warned_of_above_its_balance() {
        let closing = r#""cooling": "housing", "Rz_bush_um": 2, "alpha_bore_per_K": 0, "alpha_journal_per_K": 1.2e-5"#;
        let found = asked(&oil(closing)).unwrap();
        // 120 um less 100 mm x 1.2e-5 x (T - 20).
        let hot = 120.0 - 1.2 * (at(&found, "T_bearing_C") - 20.0);
        assert!((at(&found, "clearance_hot_um") - hot).abs() < 1e-9 && warned(&found, "runs away"), "{}", found["warnings"]);
        let tight = asked(&oil(&format!(r#"{closing}, "journal_excess_K": 110"#))).unwrap();
        assert!(tight["T_bearing_C"].is_null() && warned(&tight, "seizes before it settles"), "{tight}");
    }

    #[test]
    fn the_doubt_of_the_cooling_reaches_the_temperature() {
        let with_u = asked(&oil(r#""cooling": "housing", "heat_transfer_W_m2K": {"value": 20, "u": 2.5}"#)).unwrap();
        let at_k = |k: f64| at(&asked(&oil(&format!(r#""cooling": "housing", "heat_transfer_W_m2K": {k}"#))).unwrap(), "T_bearing_C");
        let by_answers = (at_k(19.0) - at_k(21.0)) / 2.0 * 2.5;
        let told = with_u["T_bearing_C"]["u"].as_f64().unwrap();
        assert!((told / by_answers - 1.0).abs() < 0.02, "{told} {by_answers}");
    }

    #[test]
    fn a_greased_swing_is_warmed_by_its_mean_speed_and_hot_grease_is_warned_of() {
        let request = r#"{"lubrication": "grease", "load_kN": 90, "diameter_mm": 110, "length_mm": 100, "motion": "rotation",
            "speed_rpm": 40, "ambient_C": 30, "surface_m2": 0.4, "clearance_um": 100}"#;
        let found = asked(request).unwrap();
        assert!(
            found["warnings"][0].as_str().unwrap().contains("over 100 °C") && warned(&found, "Not used with this lubricant: clearance_um")
        );
        // 180 degrees there and back, 20 times a minute, are 20 turns a minute.
        let swing = |motion: &str| {
            asked(&request.replace(
                r#""motion": "rotation",
            "speed_rpm": 40"#,
                motion,
            ))
            .unwrap()
        };
        let swings = swing(r#""motion": "swing", "swing_deg": 180, "swings_per_min": 20"#);
        let turns = swing(r#""motion": "rotation", "speed_rpm": 20"#);
        assert!((at(&swings, "T_bearing_C") - at(&turns, "T_bearing_C")).abs() < 1e-9);
        assert_eq!(at(&swing(r#""motion": "still""#), "T_bearing_C"), 30.0);
    }
}
