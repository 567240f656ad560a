//! The oil film of a running journal (`film`): load, friction, flow and pressure at an eccentricity, or at a load.
//!
//! Rigid, aligned, isoviscous, laminar, fed at the widest gap. It leaves the temperature to `running`, which asks this film at each
//! viscosity, and the equations to `solve`. A film reckoned for a load that no film carries says nothing of the metal that does.
//! Symbols: R = D/2, C radial clearance = clearance/2, N rev/s, p = F/(D L), θ from the widest gap in the direction of rotation.

use serde::Serialize;
use serde_json::Value;

use crate::alloy::table::alloys;
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, sq};
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::run::film_shape::{EPS_MOST, Effort, FilmShape, Found, Theory, film_at, film_under};
use crate::run::film_theory::Cavitation;
use crate::run::film_unrolled::unrolled;
use crate::run::viscosity::DENSITY_15_KG_M3;

/// Change of a figure at the last halving of the mesh that is asked for when nothing else is said.
pub const TOLERANCE_REL: f64 = 1e-3;
/// Heat that a mineral oil takes up per volume, J/(m³ K) [common practice].
pub const HEAT_CAPACITY_J_M3K: f64 = 1.8e6;
/// L/D of a finite film.
pub const SLENDERNESS: Range = Range::within(0.05, 10.0);
/// Halvings of the mesh from which slopes for u are taken: they need no more.
const SLOPES: Effort = Effort::Halvings(2);
/// Re/√(R/C) at which vortices begin. Source: ISO 7902-1, from memory.
const TAYLOR: f64 = 41.3;
/// Over this eccentricity ratio a film is hardly thicker than what bends and tilts take from it [common practice].
const EPS_HIGH: f64 = 0.95;
const EQUATION: &str = "Reynolds 1886, condition of Swift and Stieber; figures as Raimondi and Boyd 1958";

/// A bearing under load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loaded {
    /// Load F.
    pub load_kN: f64,
    /// Speed 60 N.
    pub speed_rpm: f64,
    /// Journal diameter D.
    pub diameter_mm: f64,
    /// Length L.
    pub length_mm: f64,
    /// Diametral clearance 2 C.
    pub clearance_um: f64,
    /// Viscosity η.
    pub viscosity_mPas: f64,
    /// Heat capacity of the oil by volume ρc.
    pub heat_capacity_J_m3K: f64,
}

impl Loaded {
    /// Mean pressure p = F/(D L), MPa.
    pub fn pressure_MPa(&self) -> f64 {
        1000.0 * self.load_kN / (self.diameter_mm * self.length_mm)
    }
    /// R/C.
    pub fn slackness(&self) -> f64 {
        1000.0 * self.diameter_mm / self.clearance_um
    }
    /// Sliding speed v = π D N, m/s.
    pub fn speed_m_s(&self) -> f64 {
        PI * self.diameter_mm / 1000.0 * self.speed_rpm / 60.0
    }
    /// Sommerfeld number S = (R/C)² η N/p.
    pub fn sommerfeld(&self) -> f64 {
        sq(self.slackness()) * self.viscosity_mPas * 1e-3 * (self.speed_rpm / 60.0) / (self.pressure_MPa() * 1e6)
    }
    /// L/D.
    pub fn slenderness(&self) -> f64 {
        self.length_mm / self.diameter_mm
    }
    /// R C N L, the measure of flows, m³/s.
    pub fn flow_measure(&self) -> f64 {
        let (R, C, L) = (self.diameter_mm / 2e3, self.clearance_um / 2e6, self.length_mm / 1e3);
        R * C * (self.speed_rpm / 60.0) * L
    }
}

/// What is asked of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// The film at an eccentricity ratio, in a bearing of L/D.
    Shape {
        /// Eccentricity ratio.
        eps: Quantity,
        /// L/D.
        L_over_D: Quantity,
    },
    /// The film under a load: load, speed, diameter, length, clearance, viscosity, heat capacity, as in [`Loaded`].
    Load([Quantity; 7]),
}

/// A request of `film`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmRequest {
    /// Eccentricity or load.
    pub asked: Asked,
    /// Which theory.
    pub theory: Theory,
    /// Change at the last halving of the mesh that is allowed.
    pub tolerance_rel: f64,
}

/// An answer of `film`. Null: what has no size because no load was given, and the rupture of a film that does not rupture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmAnswer {
    /// Eccentricity ratio.
    pub eps: Figure,
    /// S = (R/C)² η N/p.
    pub sommerfeld: Figure,
    /// 1/(2π S).
    pub sommerfeld_iso: Figure,
    /// Attitude angle.
    pub attitude_deg: Figure,
    /// (R/C) f.
    pub friction_variable: Figure,
    /// Q/(R C N L).
    pub flow_variable: Figure,
    /// Q_s/(R C N L).
    pub side_flow_variable: Figure,
    /// Q_s/Q.
    pub side_flow_ratio: Figure,
    /// Mean over greatest pressure.
    pub pressure_ratio: Figure,
    /// Where the pressure is greatest.
    pub pmax_angle_deg: Figure,
    /// Where the film ends at mid-length.
    pub rupture_angle_deg: Option<Figure>,
    /// Thinnest film over C.
    pub min_film_ratio: Figure,
    /// Mean pressure.
    pub pressure_MPa: Option<Figure>,
    /// Thinnest film.
    pub min_film_um: Option<Figure>,
    /// Greatest pressure.
    pub max_pressure_MPa: Option<Figure>,
    /// Friction coefficient f.
    pub friction_coefficient: Option<Figure>,
    /// f F v.
    pub friction_power_W: Option<Figure>,
    /// f F R.
    pub friction_torque_Nm: Option<Figure>,
    /// Flow at the widest gap.
    pub flow_l_min: Option<Figure>,
    /// Flow out of the ends.
    pub side_flow_l_min: Option<Figure>,
    /// Rise of the oil.
    pub temperature_rise_K: Option<Figure>,
    /// Change at the last halving of the mesh.
    pub error_rel: f64,
    /// Pressures solved for.
    pub unknowns: usize,
    /// No film carries the load.
    pub beyond: bool,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// The film at an eccentricity or under a load; figures carry u where an input has one.
///
/// - S = (R/C)² η N/p, 1/(2π S); f from (R/C) f; power f F v; torque f F R; p_max = p/(p/p_max); flows from Q/(R C N L)
/// - rise = power/[ρc (Q − Q_s/2)]
///
/// Source: Reynolds 1886 with the condition of Swift and Stieber; rise after Raimondi and Boyd 1958; propagation JCGM 100, 5.1.
pub fn film(request: &FilmRequest) -> Result<FilmAnswer, Refused> {
    let found = found(request, Effort::Tolerance(request.tolerance_rel))?;
    let inputs: Vec<Quantity> = match request.asked {
        Asked::Shape { eps, L_over_D } => vec![eps, L_over_D],
        Asked::Load(inputs) => inputs.to_vec(),
    };
    let mut figures: Vec<Figure> = listed(request, &found).into_iter().map(Figure::plain).collect();
    if inputs.iter().any(|input| input.u > 0.0) {
        let slopes = propagate(&inputs, |x| {
            let moved = FilmRequest { asked: request.asked.at(x), ..*request };
            self::found(&moved, SLOPES).map(|found| listed(&moved, &found))
        })?;
        figures.iter_mut().zip(slopes).for_each(|(figure, slope)| figure.u = slope.u);
    }
    let sized = |k: usize| figures.get(k).copied();
    Ok(FilmAnswer {
        eps: figures[0],
        sommerfeld: figures[1],
        sommerfeld_iso: figures[2],
        attitude_deg: figures[3],
        friction_variable: figures[4],
        flow_variable: figures[5],
        side_flow_variable: figures[6],
        side_flow_ratio: figures[7],
        pressure_ratio: figures[8],
        pmax_angle_deg: figures[9],
        rupture_angle_deg: found.shape.rupture_angle_deg.map(|_| figures[10]),
        min_film_ratio: figures[11],
        pressure_MPa: sized(12),
        min_film_um: sized(13),
        max_pressure_MPa: sized(14),
        friction_coefficient: sized(15),
        friction_power_W: sized(16),
        friction_torque_Nm: sized(17),
        flow_l_min: sized(18),
        side_flow_l_min: sized(19),
        temperature_rise_K: sized(20),
        error_rel: found.error_rel,
        unknowns: found.unknowns,
        beyond: found.beyond,
        warnings: warnings(request, &found),
    })
}

impl Asked {
    /// The same with the values `x` of its inputs.
    fn at(&self, x: &[f64]) -> Self {
        match self {
            Self::Shape { .. } => Self::Shape { eps: Quantity::exact(x[0]), L_over_D: Quantity::exact(x[1]) },
            Self::Load(_) => Self::Load(std::array::from_fn(|i| Quantity::exact(x[i]))),
        }
    }

    /// The bearing, where one was given.
    fn loaded(&self) -> Option<Loaded> {
        let Self::Load(inputs) = self else { return None };
        let [load_kN, speed_rpm, diameter_mm, length_mm, clearance_um, viscosity_mPas, heat_capacity_J_m3K] = inputs.map(|x| x.value);
        Some(Loaded { load_kN, speed_rpm, diameter_mm, length_mm, clearance_um, viscosity_mPas, heat_capacity_J_m3K })
    }
}

fn found(request: &FilmRequest, effort: Effort) -> Result<Found, Refused> {
    match request.asked {
        Asked::Shape { eps, L_over_D } if eps.value > 0.0 && eps.value < 1.0 => {
            Ok(film_at(request.theory, eps.value, L_over_D.value, effort))
        }
        Asked::Shape { eps, .. } => {
            Err(Refused::new("eps", eps.value, "a number over 0 and under 1", "give a journal that does not touch"))
        }
        Asked::Load(_) => {
            let loaded = request.asked.loaded().filter(|loaded| loaded.sommerfeld() > 0.0 && loaded.sommerfeld().is_finite());
            let loaded = loaded.ok_or_else(|| {
                Refused::new("load_kN", "out of proportion", "a load, speed and sizes over 0", "look at load, speed and sizes again")
            })?;
            Ok(film_under(request.theory, loaded.sommerfeld(), loaded.slenderness(), effort))
        }
    }
}

/// The sized figures of a film under load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sized {
    /// Thinnest film C (1 − ε).
    pub min_film_um: f64,
    /// Greatest pressure.
    pub max_pressure_MPa: f64,
    /// Friction coefficient f.
    pub friction_coefficient: f64,
    /// f F v.
    pub friction_power_W: f64,
    /// Flow at the widest gap.
    pub flow_l_min: f64,
    /// Flow out of the ends.
    pub side_flow_l_min: f64,
}

impl Sized {
    /// The figures of `shape` in the bearing `loaded`.
    pub fn of(loaded: &Loaded, shape: &FilmShape) -> Self {
        let f = shape.friction_variable / loaded.slackness();
        let flow_l_min = |variable: f64| variable * loaded.flow_measure() * 6e4;
        Self {
            min_film_um: loaded.clearance_um / 2.0 * (1.0 - shape.eps),
            max_pressure_MPa: loaded.pressure_MPa() / shape.pressure_ratio,
            friction_coefficient: f,
            friction_power_W: f * 1000.0 * loaded.load_kN * loaded.speed_m_s(),
            flow_l_min: flow_l_min(shape.flow_variable),
            side_flow_l_min: flow_l_min(shape.side_flow_variable),
        }
    }
}

/// All figures in the order of [`FilmAnswer`].
fn listed(request: &FilmRequest, found: &Found) -> Vec<f64> {
    let shape = &found.shape;
    let loaded = request.asked.loaded();
    // Beyond the limit the load's own number is told, not that of the film at the limit.
    let S = loaded.map_or(shape.sommerfeld, |loaded| loaded.sommerfeld());
    let mut list = vec![
        shape.eps,
        S,
        1.0 / (2.0 * PI * S),
        shape.attitude_deg,
        shape.friction_variable,
        shape.flow_variable,
        shape.side_flow_variable,
        shape.side_flow_variable / shape.flow_variable,
        shape.pressure_ratio,
        shape.pmax_angle_deg,
        shape.rupture_angle_deg.unwrap_or(0.0),
        1.0 - shape.eps,
    ];
    if let Some(loaded) = loaded {
        let sized = Sized::of(&loaded, shape);
        let cooling = loaded.heat_capacity_J_m3K * (sized.flow_l_min - 0.5 * sized.side_flow_l_min) / 6e4;
        list.extend([
            loaded.pressure_MPa(),
            sized.min_film_um,
            sized.max_pressure_MPa,
            sized.friction_coefficient,
            sized.friction_power_W,
            sized.friction_coefficient * loaded.load_kN * loaded.diameter_mm / 2.0,
            sized.flow_l_min,
            sized.side_flow_l_min,
            sized.friction_power_W / cooling,
        ]);
    }
    list
}

fn warnings(request: &FilmRequest, found: &Found) -> Vec<String> {
    let mut warnings = Vec::new();
    if found.beyond {
        warnings.push(format!(
            "No film carries this load: it needs an eccentricity ratio over {EPS_MOST}, and the figures are those of the film at \
             {EPS_MOST} (S {:.3e}, the load has {:.3e}). Metal carries the rest: friction and heat are far higher.",
            found.shape.sommerfeld,
            request.asked.loaded().map_or(0.0, |loaded| loaded.sommerfeld())
        ));
    } else if found.shape.eps > EPS_HIGH {
        warnings.push(format!(
            "The eccentricity ratio is {:.3}, over {EPS_HIGH}: what bends, tilts or is rough takes the film that is left.",
            found.shape.eps
        ));
    }
    if !found.settled {
        warnings.push("The iteration came to its limit before it settled: take the figures as a first sight.".to_owned());
    }
    if found.error_rel > request.tolerance_rel {
        warnings.push(format!(
            "The mesh was halved to its limit and the figures still change by {:.1e}, more than the tolerance of {:.1e} asked for.",
            found.error_rel, request.tolerance_rel
        ));
    }
    if let Some(loaded) = request.asked.loaded() {
        warnings.extend(loaded_warnings(&loaded, &found.shape));
    }
    warnings
}

/// What to say of a film in its bearing, whatever the temperature.
pub fn loaded_warnings(loaded: &Loaded, shape: &FilmShape) -> Vec<String> {
    let mut warnings = Vec::new();
    let C = loaded.clearance_um / 2e6;
    let reynolds = DENSITY_15_KG_M3 * loaded.speed_m_s() * C / (loaded.viscosity_mPas * 1e-3);
    let limit = TAYLOR * loaded.slackness().sqrt();
    if reynolds > limit {
        warnings.push(format!(
            "The Reynolds number is {reynolds:.0}, over {limit:.0}: vortices (Taylor) and turbulence raise the friction over the laminar \
             figure [ISO 7902-1, memory; density {DENSITY_15_KG_M3} kg/m³ taken]."
        ));
    }
    let p_max = Sized::of(loaded, shape).max_pressure_MPa;
    let weak: Vec<f64> = alloys().iter().filter_map(|alloy| alloy.yield_MPa).filter(|limit| p_max > limit / 2.0).collect();
    if let Some(least) = weak.iter().copied().reduce(f64::min) {
        warnings.push(format!(
            "The greatest film pressure is {p_max:.0} MPa, over half of Rp0.2 of {} of the bush alloys (the weakest has {least:.0} MPa): \
             compare with yours.",
            weak.len()
        ));
    }
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "film",
    help: "the oil film of a running journal",
    request: &[
        Key::quantity("eps", Range::over(0.0).under(1.0), "eccentricity ratio, with L_over_D; or a load with speed, sizes and viscosity"),
        Key::quantity("L_over_D", SLENDERNESS, "length over diameter, with eps; not for long"),
        Key::word("theory", &["finite", "short", "long"], "the whole equation, or one of its limits").default("finite"),
        Key::word("cavitation", &["reynolds", "half", "full"], "where a long film ends; half and full with long alone").default("reynolds"),
        Key::flag("picture", "whether the pressure over the unrolled bearing is wanted").default("false"),
        Key::number("tolerance_rel", Range::within(1e-9, 0.5), "change at the last halving of the mesh that is allowed").default("0.001"),
        Key::quantity("load_kN", Range::within(1e-6, 1e6), "the load, instead of eps"),
        Key::quantity("speed_rpm", Range::over(0.0).to(1e6), "revolutions per minute"),
        Key::quantity("diameter_mm", Range::within(0.1, 1e4), "the journal's diameter"),
        Key::quantity("length_mm", Range::within(0.1, 1e4), "length that carries"),
        Key::quantity("clearance_um", Range::over(0.0).to(1e5), "clearance on the diameter, warm"),
        Key::quantity("viscosity_mPas", Range::within(1e-3, 1e9), "dynamic viscosity of the warm oil"),
        Key::quantity("heat_capacity_J_m3K", Range::within(1e3, 1e8), "heat capacity of the oil by volume").default("1.8e6"),
    ],
    answer: &[
        Told { path: "eps", help: "eccentricity ratio" },
        Told { path: "sommerfeld", help: "S = (R/C)² η N/p" },
        Told { path: "sommerfeld_iso", help: "1/(2π S) = p ψ²/(η ω)" },
        Told { path: "attitude_deg", help: "angle from the load to the narrowest gap" },
        Told { path: "friction_variable", help: "(R/C) f" },
        Told { path: "flow_variable", help: "Q/(R C N L) at the widest gap" },
        Told { path: "side_flow_variable", help: "Q_s/(R C N L), out of both ends" },
        Told { path: "side_flow_ratio", help: "Q_s/Q" },
        Told { path: "pressure_ratio", help: "mean over greatest pressure" },
        Told { path: "pmax_angle_deg", help: "where the pressure is greatest, from the widest gap" },
        Told { path: "rupture_angle_deg", help: "where the film ends at mid-length; null for long, full" },
        Told { path: "min_film_ratio", help: "thinnest film over radial clearance" },
        Told { path: "pressure_MPa", help: "load on the projected area; this and the next eight null without a load" },
        Told { path: "min_film_um", help: "thinnest film" },
        Told { path: "max_pressure_MPa", help: "greatest pressure" },
        Told { path: "friction_coefficient", help: "friction force over load" },
        Told { path: "friction_power_W", help: "friction power" },
        Told { path: "friction_torque_Nm", help: "friction torque" },
        Told { path: "flow_l_min", help: "flow at the widest gap" },
        Told { path: "side_flow_l_min", help: "flow out of both ends" },
        Told { path: "temperature_rise_K", help: "rise of the oil if it takes all the heat" },
        Told {
            path: "picture",
            help: "theta_deg, y (0 middle, 1 end), share of the greatest pressure, a row an angle; null where not asked",
        },
        Told { path: "error_rel", help: "largest change of a figure when the mesh was last halved; 0 for short and long" },
        Told { path: "unknowns", help: "pressures solved for; 0 for short and long" },
        Told { path: "beyond", help: "whether no film carries the load; the figures are then of ε = 0.99" },
    ],
    example: r#"{"load_kN": 40, "speed_rpm": 300, "diameter_mm": 180, "length_mm": 180, "clearance_um": 200, "viscosity_mPas": 35}"#,
    run: Some(answer_film),
};

/// The keys of a loaded film in the order of [`Loaded`], heat capacity left out.
const LOAD_KEYS: [&str; 6] = ["load_kN", "speed_rpm", "diameter_mm", "length_mm", "clearance_um", "viscosity_mPas"];

fn answer_film(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let mut notes = Vec::new();
    let request = read_film(given, &mut notes)?;
    let mut answer = film(&request)?;
    answer.warnings.extend(notes);
    show(&request, &answer, desk);
    let mut told = told(&answer)?;
    let picture = given.flag_or("picture", false).then(|| {
        let slenderness = request.asked.loaded().map_or_else(|| given.number_or("L_over_D", 1.0), |loaded| loaded.slenderness());
        unrolled(request.theory, answer.eps.value, slenderness)
    });
    told["picture"] = serde_json::to_value(picture.flatten()).unwrap_or_default();
    Ok(told)
}

/// Reads a request; what was not used and what is always to be known is said in `notes`.
fn read_film(given: &Given, notes: &mut Vec<String>) -> Result<FilmRequest, Refused> {
    let theory = read_theory(given)?;
    let load = LOAD_KEYS.iter().find(|name| given.has(name));
    let asked = match (given.quantity("eps"), load) {
        (Some(_), Some(_)) => return Err(given.refuse("eps", "an eccentricity or a load, not both", "take one of them out")),
        (Some(eps), None) => {
            if given.has("heat_capacity_J_m3K") {
                notes.push("heat_capacity_J_m3K says nothing without a load and was not used.".to_owned());
            }
            Asked::Shape { eps, L_over_D: read_slenderness(given, theory, notes)? }
        }
        (None, _) if !given.has("load_kN") => {
            return Err(given.refuse(
                "load_kN",
                "a load over 0, or eps",
                "give eps with L_over_D, or a load with speed, sizes and viscosity",
            ));
        }
        (None, _) => {
            notes.push(
                "A bush with a ring groove is two bearings of half the length, each with half the load, not one: ask for one of them."
                    .to_owned(),
            );
            Asked::Load(read_load(given, theory, notes)?)
        }
    };
    Ok(FilmRequest { asked, theory, tolerance_rel: given.number_or("tolerance_rel", TOLERANCE_REL) })
}

fn read_theory(given: &Given) -> Result<Theory, Refused> {
    let cavitation = match given.word_or("cavitation", "reynolds") {
        "half" => Cavitation::Half,
        "full" => Cavitation::Full,
        _ => Cavitation::Reynolds,
    };
    let theory = match given.word_or("theory", "finite") {
        "short" => Theory::Short,
        "long" => Theory::Long(cavitation),
        _ => Theory::Finite,
    };
    if cavitation != Cavitation::Reynolds && !matches!(theory, Theory::Long(_)) {
        return Err(given.refuse("cavitation", "reynolds, unless theory is long", "take it out, or ask for the long bearing"));
    }
    Ok(theory)
}

fn read_slenderness(given: &Given, theory: Theory, notes: &mut Vec<String>) -> Result<Quantity, Refused> {
    if !matches!(theory, Theory::Long(_)) {
        return given.need_quantity("L_over_D");
    }
    if given.has("L_over_D") {
        notes.push("L_over_D says nothing of an endless bearing and was not used.".to_owned());
    }
    Ok(Quantity::exact(1.0))
}

fn read_load(given: &Given, theory: Theory, notes: &mut Vec<String>) -> Result<[Quantity; 7], Refused> {
    if given.has("L_over_D") {
        notes.push("L_over_D was not used: length_mm and diameter_mm say it.".to_owned());
    }
    let mut inputs = [Quantity::exact(HEAT_CAPACITY_J_M3K); 7];
    for (input, name) in inputs.iter_mut().zip(LOAD_KEYS) {
        *input = given.need_quantity(name)?;
    }
    inputs[6] = given.quantity_or("heat_capacity_J_m3K", HEAT_CAPACITY_J_M3K);
    if theory == Theory::Finite {
        check_slenderness(given, inputs[2].value, inputs[3].value)?;
    }
    Ok(inputs)
}

/// Refuses a length that is out of proportion to the diameter.
pub fn check_slenderness(given: &Given, diameter_mm: f64, length_mm: f64) -> Result<(), Refused> {
    if SLENDERNESS.has(length_mm / diameter_mm) {
        return Ok(());
    }
    let allowed = format!("{} to {} mm with this diameter", SLENDERNESS.low * diameter_mm, SLENDERNESS.high * diameter_mm);
    Err(given.refuse("length_mm", allowed, "look at length and diameter again"))
}

fn show(request: &FilmRequest, answer: &FilmAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let (eps, S) = (answer.eps.value, answer.sommerfeld.value);
    if let Some(loaded) = request.asked.loaded() {
        let with = [
            ("R/C", loaded.slackness()),
            ("eta mPa s", loaded.viscosity_mPas),
            ("N 1/s", loaded.speed_rpm / 60.0),
            ("p MPa", loaded.pressure_MPa()),
        ];
        working.step("Sommerfeld number", "S = (R/C)^2 eta N/p", &with, &[("S", S)], "definition, Raimondi and Boyd 1958");
        working.step("eccentricity", "the eps whose film carries S", &[("S", S)], &[("eps", eps)], EQUATION);
    }
    let source = match request.theory {
        Theory::Finite => EQUATION,
        Theory::Short => "DuBois and Ocvirk, NACA Report 1157, 1953",
        Theory::Long(_) => "Sommerfeld 1904",
    };
    let gives = [
        ("S", S),
        ("phi deg", answer.attitude_deg.value),
        ("(R/C) f", answer.friction_variable.value),
        ("Q/(R C N L)", answer.flow_variable.value),
        ("Q_s/(R C N L)", answer.side_flow_variable.value),
        ("p/p_max", answer.pressure_ratio.value),
    ];
    let formula = match request.theory {
        Theory::Finite => "d/dtheta(h^3 dP/dtheta) + (D/L)^2 d/dy(h^3 dP/dy) = dh/dtheta, P >= 0",
        Theory::Short => "P = (L/D)^2 eps sin theta (1 - y^2)/(2 h^3)",
        Theory::Long(_) => "d/dtheta(h^3 dP/dtheta) = dh/dtheta",
    };
    working.step("film without dimensions", formula, &[("eps", eps)], &gives, source);
    let gives = [("error_rel", answer.error_rel)];
    working.step("error", "change of the extrapolated figures, last halving", &[("unknowns", answer.unknowns as f64)], &gives, source);
    if let (Some(f), Some(power), Some(rise)) = (answer.friction_coefficient, answer.friction_power_W, answer.temperature_rise_K) {
        let with = [("(R/C) f", answer.friction_variable.value)];
        working.step("friction", "f; power f F v", &with, &[("f", f.value), ("power W", power.value)], "definition");
        let with = [("power W", power.value), ("Q_s/Q", answer.side_flow_ratio.value)];
        working.step("rise of the oil", "power/[rho c (Q - Q_s/2)]", &with, &[("rise K", rise.value)], "Raimondi and Boyd 1958");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(request: &str) -> Result<Value, Refused> {
        answer("film", &read(request).unwrap(), &Alone, false)
    }

    fn warned(found: &Value, word: &str) -> bool {
        found["warnings"].as_array().unwrap().iter().any(|warning| warning.as_str().unwrap().contains(word))
    }

    const LOADED: &str =
        r#""load_kN": 40, "speed_rpm": 300, "diameter_mm": 180, "length_mm": 180, "clearance_um": 200, "viscosity_mPas": 35"#;

    #[test]
    fn what_cannot_be_answered_is_refused_by_key() {
        let without = |name: &str| {
            let parts: Vec<&str> = LOADED.split(", ").filter(|part| !part.contains(name)).collect();
            format!("{{{}}}", parts.join(", "))
        };
        for (request, key) in [
            ("{}".to_owned(), "load_kN"),
            (r#"{"eps": 0, "L_over_D": 1}"#.to_owned(), "eps"),
            (r#"{"eps": 1, "L_over_D": 1}"#.to_owned(), "eps"),
            (r#"{"eps": 0.5}"#.to_owned(), "L_over_D"),
            (r#"{"eps": 0.5, "L_over_D": 11}"#.to_owned(), "L_over_D"),
            (r#"{"eps": 0.5, "L_over_D": 1, "cavitation": "half"}"#.to_owned(), "cavitation"),
            (r#"{"eps": 0.5, "L_over_D": 1, "theory": "short", "cavitation": "full"}"#.to_owned(), "cavitation"),
            (format!(r#"{{"eps": 0.5, {LOADED}}}"#), "eps"),
            (without("clearance_um"), "clearance_um"),
            (without("speed_rpm"), "speed_rpm"),
            (without("viscosity_mPas"), "viscosity_mPas"),
            (without("load_kN"), "load_kN"),
            (format!("{{{LOADED}}}").replace(r#""length_mm": 180"#, r#""length_mm": 8"#), "length_mm"),
        ] {
            assert_eq!(asked(&request).unwrap_err().key, key, "{request}");
        }
    }

    #[test]
    fn a_load_that_no_film_carries_is_answered_at_the_limit_and_said() {
        let found = asked(&format!("{{{LOADED}}}").replace(r#""load_kN": 40"#, r#""load_kN": 40000"#)).unwrap();
        assert_eq!((&found["beyond"], found["eps"].as_f64()), (&true.into(), Some(EPS_MOST)));
        assert!(found["warnings"][0].as_str().unwrap().starts_with("No film carries this load"));
        assert!(warned(&found, "half of Rp0.2"));
    }

    #[test]
    fn a_tolerance_that_is_not_met_is_said_with_what_was_reached() {
        let found = asked(r#"{"eps": 0.6, "L_over_D": 1, "tolerance_rel": 1e-9}"#).unwrap();
        assert!(warned(&found, "halved to its limit") && found["error_rel"].as_f64().unwrap() < 2e-4);
        let met = asked(r#"{"eps": 0.6, "L_over_D": 1, "tolerance_rel": 1e-3}"#).unwrap();
        assert!(!warned(&met, "halved to its limit") && met["error_rel"].as_f64().unwrap() <= 1e-3);
    }

    #[test]
    fn thin_films_vortices_and_ring_grooves_are_warned_of() {
        assert!(warned(&asked(r#"{"eps": 0.96, "L_over_D": 1}"#).unwrap(), "over 0.95"));
        let thin = format!("{{{LOADED}}}").replace(r#""viscosity_mPas": 35"#, r#""viscosity_mPas": 1"#);
        let fast = asked(&thin.replace(r#""speed_rpm": 300"#, r#""speed_rpm": 6000"#)).unwrap();
        assert!(warned(&fast, "Taylor") && warned(&fast, "ring groove"), "{}", fast["warnings"]);
        // By hand: 880 kg/m3 x 56.55 m/s x 100e-6 m / 1e-3 Pa s = 4976; 41.3 sqrt(900) = 1239.
        assert!(warned(&fast, "4976, over 1239"), "{}", fast["warnings"]);
    }

    #[test]
    fn an_eccentricity_alone_has_no_sizes() {
        let found = asked(r#"{"eps": {"value": 0.5, "u": 0.01}, "L_over_D": 1}"#).unwrap();
        assert!(found["min_film_um"].is_null() && found["friction_power_W"].is_null());
        assert!((found["min_film_ratio"]["u"].as_f64().unwrap() - 0.01).abs() < 1e-9);
        let full = asked(r#"{"eps": 0.5, "theory": "long", "cavitation": "full", "L_over_D": 2}"#).unwrap();
        assert!(full["rupture_angle_deg"].is_null() && full["unknowns"] == 0 && warned(&full, "not used"));
    }
}
