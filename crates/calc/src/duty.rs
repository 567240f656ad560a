//! What a bearing has to do (`duty`): pressure, sliding speed, p v, running regime and friction, and the words that describe a duty.
//!
//! It is a first sorting, by projected area and transition speed. It leaves the film to `running` (which knows clearance and
//! roughness), the choice of a metal to `alloy`. p is a mean: under a slack journal the greatest local pressure is 2 to 4 times p
//! [common practice].

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::PI;
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::run::viscosity::{OIL_KEYS, Oil, oil_warnings};

/// The words of `motion`.
pub const MOTIONS: &[&str] = &["rotation", "swing", "still"];
/// The words of `lubrication`.
pub const LUBRICATIONS: &[&str] = &["oil", "grease", "water", "dry"];
/// The words of `regime`.
pub const REGIMES: &[&str] = &["boundary", "mixed", "full film"];
/// The words of `dirt`.
pub const DIRTS: &[&str] = &["clean", "dusty", "gritty"];
/// The words of `shock`.
pub const SHOCKS: &[&str] = &["none", "moderate", "heavy"];

/// How the journal moves in the bush.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Motion {
    /// Turns round and round.
    Rotation,
    /// Goes there and back.
    Swing,
    /// Stands.
    Still,
}

impl Motion {
    /// The motion of that word of [`MOTIONS`].
    pub fn named(word: &str) -> Self {
        match word {
            "rotation" => Self::Rotation,
            "swing" => Self::Swing,
            _ => Self::Still,
        }
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        MOTIONS[self as usize]
    }
}

/// What is between journal and bush.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Lubrication {
    /// Oil.
    Oil,
    /// Grease.
    Grease,
    /// Water.
    Water,
    /// Nothing.
    Dry,
}

impl Lubrication {
    /// The lubrication of that word of [`LUBRICATIONS`].
    pub fn named(word: &str) -> Self {
        match word {
            "oil" => Self::Oil,
            "grease" => Self::Grease,
            "water" => Self::Water,
            _ => Self::Dry,
        }
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        LUBRICATIONS[self as usize]
    }
}

/// How much of the load a film carries: none, some, all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Regime {
    /// Metal carries it.
    #[serde(rename = "boundary")]
    Boundary,
    /// Metal and film share it.
    #[serde(rename = "mixed")]
    Mixed,
    /// The film carries it.
    #[serde(rename = "full film")]
    FullFilm,
}

impl Regime {
    /// The regime of that word of [`REGIMES`].
    pub fn named(word: &str) -> Self {
        match word {
            "full film" => Self::FullFilm,
            "mixed" => Self::Mixed,
            _ => Self::Boundary,
        }
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        REGIMES[self as usize]
    }
}

/// How dirty the place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Dirt {
    /// Sealed or indoors.
    Clean,
    /// Dust reaches the bearing.
    Dusty,
    /// Sand or scale reaches the bearing.
    Gritty,
}

impl Dirt {
    /// The dirt of that word of [`DIRTS`].
    pub fn named(word: &str) -> Self {
        match word {
            "gritty" => Self::Gritty,
            "dusty" => Self::Dusty,
            _ => Self::Clean,
        }
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        DIRTS[self as usize]
    }
}

/// How hard the load comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shock {
    /// Steady.
    None,
    /// It jerks.
    Moderate,
    /// It hammers.
    Heavy,
}

impl Shock {
    /// The shock of that word of [`SHOCKS`].
    pub fn named(word: &str) -> Self {
        match word {
            "heavy" => Self::Heavy,
            "moderate" => Self::Moderate,
            _ => Self::None,
        }
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        SHOCKS[self as usize]
    }
}

/// The movement with its figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Movement {
    /// Turning at a speed.
    Rotation {
        /// Revolutions per minute.
        speed_rpm: Quantity,
    },
    /// Swinging through an angle.
    Swing {
        /// The whole angle from end to end.
        swing_deg: Quantity,
        /// Swings there and back per minute.
        swings_per_min: Quantity,
    },
    /// Standing.
    Still,
}

/// Where the viscosity comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fluid {
    /// An oil, or the base oil of a grease, at a temperature.
    Oil(Oil, Quantity),
    /// A dynamic viscosity that is known.
    Viscosity(Quantity),
    /// None that carries: dry or water.
    None,
}

/// A request of `duty`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DutyRequest {
    /// Steady load.
    pub load_kN: Quantity,
    /// Greatest load, where it differs.
    pub peak_load_kN: Option<Quantity>,
    /// Journal diameter.
    pub diameter_mm: Quantity,
    /// Bearing length.
    pub length_mm: Quantity,
    /// Share of the projected area that grooves take.
    pub groove_area_share: Quantity,
    /// The movement.
    pub movement: Movement,
    /// What lubricates.
    pub lubrication: Lubrication,
    /// Its viscosity.
    pub fluid: Fluid,
    /// The constant c of the transition speed: 1 cautious, to about 8 in good, run-in bearings.
    pub transition_factor: Quantity,
}

/// An answer of `duty`. Null: what the motion or the lubricant does not have.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DutyAnswer {
    /// Load on the projected area.
    pub pressure_MPa: Figure,
    /// Greatest load on the projected area.
    pub peak_pressure_MPa: Figure,
    /// Mean sliding speed.
    pub speed_m_s: Figure,
    /// Greatest sliding speed.
    pub peak_speed_m_s: Figure,
    /// Pressure times mean speed.
    pub pv_MPa_m_s: Figure,
    /// Running regime, by the transition speed.
    pub regime: Regime,
    /// Friction coefficient, low.
    pub friction_low: f64,
    /// Friction coefficient, high.
    pub friction_high: f64,
    /// Friction power with the high coefficient.
    pub friction_power_high_W: Figure,
    /// Dynamic viscosity.
    pub viscosity_mPas: Option<Figure>,
    /// Speed at which a film begins to carry the load.
    pub transition_rpm: Option<Figure>,
    /// The same as sliding speed.
    pub transition_speed_m_s: Option<Figure>,
    /// Peak speed over transition speed.
    pub speed_ratio: Option<Figure>,
    /// Arc of one stroke on the diameter.
    pub arc_mm: Option<Figure>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// The figures that carry u, in the order of their propagation.
struct Figures {
    pressure: f64,
    peak_pressure: f64,
    speed: f64,
    peak_speed: f64,
    pv: f64,
    load_times_speed: f64,
    viscosity: f64,
    transition_rpm: f64,
    transition_speed: f64,
    speed_ratio: f64,
    arc: f64,
}

impl Figures {
    fn list(self) -> Vec<f64> {
        vec![
            self.pressure,
            self.peak_pressure,
            self.speed,
            self.peak_speed,
            self.pv,
            self.load_times_speed,
            self.viscosity,
            self.transition_rpm,
            self.transition_speed,
            self.speed_ratio,
            self.arc,
        ]
    }
}

/// Pressure, speeds, p v, regime and friction of a duty; figures carry u where an input has one.
///
/// - p = F/A, A = D L (1 − groove share)
/// - rotation v = π D N; swing: arc = π D β/360, mean v = 2 arc f, peak v = (π/2) mean (harmonic swing)
/// - n_tr = 0.1 F/(c V η): n_tr rev/min, F N, V = π D² L/4 dm³, η mPa s; v_tr = π D n_tr/60; q = peak v/v_tr
/// - regime: boundary if q < 0.1 or dry, water or still; full film with q ≥ 3, rotation and oil; else mixed
/// - friction power = friction_high F v (mean)
///
/// Source: transition speed Vogelpohl 1954 (recalled); friction M19 (oil or grease, boundary), the rest common practice;
/// propagation JCGM 100, 5.1.
pub fn duty(request: &DutyRequest) -> Result<DutyAnswer, Refused> {
    let figures = propagate(&inputs(request), |x| figures_at(request, x).map(Figures::list))?;
    let has_film = request.fluid != Fluid::None;
    let film = |figure: Figure| has_film.then_some(figure);
    let regime = regime(request, figures[9].value);
    let (friction_low, friction_high) = friction(request.lubrication, regime);
    let power = Figure { value: friction_high * figures[5].value, u: figures[5].u.map(|u| friction_high * u) };
    Ok(DutyAnswer {
        pressure_MPa: figures[0],
        peak_pressure_MPa: figures[1],
        speed_m_s: figures[2],
        peak_speed_m_s: figures[3],
        pv_MPa_m_s: figures[4],
        regime,
        friction_low,
        friction_high,
        friction_power_high_W: power,
        viscosity_mPas: film(figures[6]),
        transition_rpm: film(figures[7]),
        transition_speed_m_s: film(figures[8]),
        speed_ratio: film(figures[9]),
        arc_mm: matches!(request.movement, Movement::Swing { .. }).then_some(figures[10]),
        warnings: warnings(request, figures[10].value),
    })
}

/// The inputs that may have u: load, peak load, D, L, groove share, c, two of the movement, four of the fluid.
fn inputs(request: &DutyRequest) -> [Quantity; 12] {
    const NONE: Quantity = Quantity::exact(0.0);
    let (motion_1, motion_2) = match request.movement {
        Movement::Rotation { speed_rpm } => (speed_rpm, NONE),
        Movement::Swing { swing_deg, swings_per_min } => (swing_deg, swings_per_min),
        Movement::Still => (NONE, NONE),
    };
    let [fluid_1, fluid_2, fluid_3, fluid_4] = match request.fluid {
        Fluid::Oil(oil, T_C) => {
            let [nu40, nu100, density] = oil.inputs();
            [nu40, nu100, density, T_C]
        }
        Fluid::Viscosity(eta) => [eta, NONE, NONE, NONE],
        Fluid::None => [NONE; 4],
    };
    [
        request.load_kN,
        request.peak_load_kN.unwrap_or(NONE),
        request.diameter_mm,
        request.length_mm,
        request.groove_area_share,
        request.transition_factor,
        motion_1,
        motion_2,
        fluid_1,
        fluid_2,
        fluid_3,
        fluid_4,
    ]
}

fn figures_at(request: &DutyRequest, x: &[f64]) -> Result<Figures, Refused> {
    let (F, D, L) = (1000.0 * x[0], x[2], x[3]);
    // Without a peak of its own the peak is the load itself, and moves with it.
    let peak = if request.peak_load_kN.is_some() { 1000.0 * x[1] } else { F };
    let area_mm2 = D * L * (1.0 - x[4]);
    let pressure = F / area_mm2;
    let (arc, speed, peak_speed) = match request.movement {
        Movement::Rotation { .. } => {
            let v = PI * D / 1000.0 * x[6] / 60.0;
            (0.0, v, v)
        }
        Movement::Swing { .. } => {
            let arc = PI * D * x[6] / 360.0;
            let mean = 2.0 * arc / 1000.0 * x[7] / 60.0;
            (arc, mean, PI / 2.0 * mean)
        }
        Movement::Still => (0.0, 0.0, 0.0),
    };
    let viscosity = match request.fluid {
        Fluid::Oil(..) => {
            Oil::at_inputs(x[8], x[9], x[10], x[11]).map_err(|refused| Refused { key: "temperature_C".into(), ..refused })?.dynamic_mPas
        }
        Fluid::Viscosity(_) => x[8],
        Fluid::None => 0.0,
    };
    let (transition_rpm, transition_speed, speed_ratio) = if request.fluid == Fluid::None {
        (0.0, 0.0, 0.0)
    } else {
        let volume_dm3 = PI * D * D * L / 4.0 / 1e6;
        let rpm = 0.1 * F / (x[5] * volume_dm3 * viscosity);
        let v_tr = PI * D / 1000.0 * rpm / 60.0;
        (rpm, v_tr, peak_speed / v_tr)
    };
    let (pv, load_times_speed) = (pressure * speed, F * speed);
    let peak_pressure = peak / area_mm2;
    Ok(Figures {
        pressure,
        peak_pressure,
        speed,
        peak_speed,
        pv,
        load_times_speed,
        viscosity,
        transition_rpm,
        transition_speed,
        speed_ratio,
        arc,
    })
}

/// A swing stops twice a cycle and grease is not replenished: both are mixed at best [common practice].
fn regime(request: &DutyRequest, speed_ratio: f64) -> Regime {
    let turns = matches!(request.movement, Movement::Rotation { .. });
    let no_film = matches!(request.lubrication, Lubrication::Dry | Lubrication::Water) || request.movement == Movement::Still;
    if no_film || speed_ratio < 0.1 {
        Regime::Boundary
    } else if speed_ratio >= 3.0 && turns && request.lubrication == Lubrication::Oil {
        Regime::FullFilm
    } else {
        Regime::Mixed
    }
}

/// Friction coefficients, low and high. Source: boundary M19 (oil or grease); dry, mixed and full film common practice.
fn friction(lubrication: Lubrication, regime: Regime) -> (f64, f64) {
    match (lubrication, regime) {
        (Lubrication::Dry, _) => (0.15, 0.35),
        (_, Regime::Boundary) => (0.05, 0.20),
        (_, Regime::Mixed) => (0.02, 0.10),
        (_, Regime::FullFilm) => (0.001, 0.01),
    }
}

fn warnings(request: &DutyRequest, arc_mm: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Movement::Swing { swing_deg, .. } = request.movement {
        let beta = swing_deg.value;
        if request.lubrication != Lubrication::Dry {
            warnings.push(format!(
                "A swing arc shorter than the spacing of the grooves never carries grease across the loaded zone: set the grooves no \
                 further apart than {beta}° ({arc_mm:.0} mm on the bore) [common practice]."
            ));
        }
        if beta < 5.0 {
            warnings.push(format!("A swing of {beta}° is under 5°: it frets, whatever the lubricant [common practice]."));
        }
    }
    let slenderness = request.length_mm.value / request.diameter_mm.value;
    if !(0.4..=1.5).contains(&slenderness) {
        warnings.push(format!(
            "L/D is {slenderness:.2}, outside 0.4 to 1.5: a long bush loads its edges when the shaft bends, a short one loses its film \
             at the ends [T29]."
        ));
    }
    if request.lubrication == Lubrication::Water {
        warnings.push(
            "The friction of 0.05 to 0.20 was measured with oil or grease [M19]; with water expect up to the dry 0.35 [common practice]."
                .to_owned(),
        );
    }
    if request.peak_load_kN.is_some_and(|peak| peak.value < request.load_kN.value) {
        warnings.push("The peak load is under the steady load: look at both again, for the peak pressure rests on it.".to_owned());
    }
    if let Fluid::Oil(oil, T_C) = request.fluid
        && let Ok(at) = oil.at(T_C.value)
    {
        warnings.extend(oil_warnings(at.kinematic_mm2_s, T_C.value));
    }
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "duty",
    help: "pressure, speed, regime and friction of a bearing's duty",
    request: &[
        Key::quantity("load_kN", Range::within(1e-6, 1e6), "the steady load").needed(),
        Key::quantity("peak_load_kN", Range::within(1e-6, 1e6), "the greatest load").default("load_kN"),
        Key::quantity("diameter_mm", Range::within(0.1, 1e4), "the journal's diameter").needed(),
        Key::quantity("length_mm", Range::within(0.1, 1e4), "the length that carries").needed(),
        Key::quantity("groove_area_share", Range::within(0.0, 0.95), "share of the projected area that grooves take").default("0"),
        Key::word("motion", MOTIONS, "how the journal moves").needed(),
        Key::quantity("speed_rpm", Range::within(0.0, 1e6), "revolutions per minute, with rotation"),
        Key::quantity("swing_deg", Range::over(0.0).under(360.0), "the whole angle from end to end, with swing"),
        Key::quantity("swings_per_min", Range::within(0.0, 1e6), "swings there and back per minute, with swing"),
        Key::word("lubrication", LUBRICATIONS, "what lubricates").needed(),
        Key::record("oil", OIL_KEYS, "the oil, or the base oil of the grease").default("ISO VG 100 (oil), VG 220 (grease)"),
        Key::quantity("viscosity_mPas", Range::within(1e-3, 1e9), "dynamic viscosity, instead of an oil"),
        Key::quantity("temperature_C", Range::within(-60.0, 200.0), "of the lubricant; needed where its viscosity is found from an oil"),
        Key::quantity("transition_factor", Range::within(0.01, 100.0), "c of the transition speed: 1 cautious, to about 8").default("1"),
        Key::word("dirt", DIRTS, "passed on to `alloys`").default("clean"),
        Key::word("shock", SHOCKS, "passed on to `alloys`").default("none"),
        Key::flag("sea_water", "passed on to `alloys`").default("false"),
        Key::flag("lead_free", "passed on to `alloys`").default("false"),
        Key::flag("food", "passed on to `alloys`").default("false"),
    ],
    answer: &[
        Told { path: "pressure_MPa", help: "load on the projected area: a mean, the greatest local pressure is 2 to 4 times it" },
        Told { path: "peak_pressure_MPa", help: "greatest load on the projected area" },
        Told { path: "speed_m_s", help: "mean sliding speed" },
        Told { path: "peak_speed_m_s", help: "greatest sliding speed" },
        Told { path: "pv_MPa_m_s", help: "pressure times mean speed" },
        Told { path: "regime", help: "a first sorting: with clearance and roughness known, `running` decides" },
        Told { path: "friction_low", help: "friction coefficient, low end" },
        Told { path: "friction_high", help: "friction coefficient, high end" },
        Told { path: "friction_power_high_W", help: "friction power by the high coefficient and the mean speed" },
        Told { path: "viscosity_mPas", help: "dynamic viscosity; null when dry or with water" },
        Told { path: "transition_rpm", help: "speed at which a film begins to carry; null when dry or with water" },
        Told { path: "transition_speed_m_s", help: "the same as sliding speed; null when dry or with water" },
        Told { path: "speed_ratio", help: "peak speed over transition speed; null when dry or with water" },
        Told { path: "arc_mm", help: "arc of one stroke; null unless it swings" },
    ],
    example: r#"{"load_kN": 180, "peak_load_kN": 320, "diameter_mm": 180, "length_mm": 150, "motion": "swing", "swing_deg": 60,
        "swings_per_min": 6, "lubrication": "grease", "temperature_C": 50}"#,
    run: Some(answer_duty),
};

fn answer_duty(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let mut notes = Vec::new();
    let request = read_duty(given, &mut notes)?;
    let mut answer = duty(&request)?;
    answer.warnings.splice(0..0, notes);
    show(&request, &answer, desk);
    told(&answer)
}

/// Reads a request; what was taken unasked or left unused is said in `notes`.
fn read_duty(given: &Given, notes: &mut Vec<String>) -> Result<DutyRequest, Refused> {
    let lubrication = Lubrication::named(given.need_word("lubrication")?);
    Ok(DutyRequest {
        load_kN: given.need_quantity("load_kN")?,
        peak_load_kN: given.quantity("peak_load_kN"),
        diameter_mm: given.need_quantity("diameter_mm")?,
        length_mm: given.need_quantity("length_mm")?,
        groove_area_share: given.quantity_or("groove_area_share", 0.0),
        movement: read_movement(given, notes)?,
        lubrication,
        fluid: read_fluid(given, lubrication, notes)?,
        transition_factor: given.quantity_or("transition_factor", 1.0),
    })
}

fn read_movement(given: &Given, notes: &mut Vec<String>) -> Result<Movement, Refused> {
    let motion = Motion::named(given.need_word("motion")?);
    let used: &[&str] = match motion {
        Motion::Rotation => &["speed_rpm"],
        Motion::Swing => &["swing_deg", "swings_per_min"],
        Motion::Still => &[],
    };
    for name in ["speed_rpm", "swing_deg", "swings_per_min"] {
        if given.has(name) && !used.contains(&name) {
            notes.push(format!("{name} says nothing of the motion {:?} and was not used.", motion.word()));
        }
    }
    Ok(match motion {
        Motion::Rotation => Movement::Rotation { speed_rpm: given.need_quantity("speed_rpm")? },
        Motion::Swing => {
            Movement::Swing { swing_deg: given.need_quantity("swing_deg")?, swings_per_min: given.need_quantity("swings_per_min")? }
        }
        Motion::Still => Movement::Still,
    })
}

fn read_fluid(given: &Given, lubrication: Lubrication, notes: &mut Vec<String>) -> Result<Fluid, Refused> {
    let taken = match lubrication {
        Lubrication::Oil => 100.0,
        Lubrication::Grease => 220.0,
        Lubrication::Water | Lubrication::Dry => return Ok(Fluid::None),
    };
    if let Some(eta) = given.quantity("viscosity_mPas") {
        if given.has("oil") {
            notes.push("viscosity_mPas was taken as it is, and oil was not used.".to_owned());
        }
        return Ok(Fluid::Viscosity(eta));
    }
    let T_C = given.need_quantity("temperature_C")?;
    if let Some(oil) = given.record("oil") {
        return Ok(Fluid::Oil(Oil::read(&oil)?, T_C));
    }
    let what = if lubrication == Lubrication::Oil { "oil" } else { "base oil of the grease" };
    notes.push(format!("No oil was given: ISO VG {taken} was taken as the {what}."));
    Ok(Fluid::Oil(Oil::of_grade(taken), T_C))
}

fn show(request: &DutyRequest, answer: &DutyAnswer, desk: &mut Desk) {
    const VOGELPOHL: &str = "Vogelpohl 1954 (recalled)";
    let (F, D, L) = (1000.0 * request.load_kN.value, request.diameter_mm.value, request.length_mm.value);
    let with = [("F N", F), ("D mm", D), ("L mm", L), ("groove share", request.groove_area_share.value)];
    let p = answer.pressure_MPa.value;
    let working = &mut desk.working;
    working.step("mean pressure", "F/(D L (1 - groove share))", &with, &[("p MPa", p)], "definition, projected area");
    let v = answer.speed_m_s.value;
    match request.movement {
        Movement::Rotation { speed_rpm } => {
            working.step("sliding speed", "pi D N", &[("D mm", D), ("N 1/min", speed_rpm.value)], &[("v m/s", v)], "geometry");
        }
        Movement::Swing { swing_deg, swings_per_min } => {
            let with = [("D mm", D), ("beta deg", swing_deg.value), ("f 1/min", swings_per_min.value)];
            let gives = [("v m/s", v), ("peak v m/s", answer.peak_speed_m_s.value)];
            working.step("sliding speed", "v = 2 f pi D beta/360; peak v = (pi/2) v", &with, &gives, "geometry, harmonic swing");
        }
        Movement::Still => {}
    }
    working.step("p v", "p v", &[("p MPa", p), ("v m/s", v)], &[("pv MPa m/s", answer.pv_MPa_m_s.value)], "definition");
    if let (Some(eta), Some(n_tr), Some(q)) = (answer.viscosity_mPas, answer.transition_rpm, answer.speed_ratio) {
        let with = [("F N", F), ("c", request.transition_factor.value), ("V dm3", PI * D * D * L / 4.0 / 1e6), ("eta mPa s", eta.value)];
        working.step("transition speed", "n_tr = 0.1 F/(c V eta)", &with, &[("n_tr 1/min", n_tr.value)], VOGELPOHL);
        let with = [("peak v m/s", answer.peak_speed_m_s.value), ("n_tr 1/min", n_tr.value)];
        working.step("share of the transition speed", "q = peak v/(pi D n_tr)", &with, &[("q", q.value)], VOGELPOHL);
    }
    let with = [("mu high", answer.friction_high), ("F N", F), ("v m/s", v)];
    working.step("friction power", "mu F v", &with, &[("power W", answer.friction_power_high_W.value)], "M19 and common practice");
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(more: &str) -> Result<Value, Refused> {
        let request = format!(r#"{{"load_kN": 60, "diameter_mm": 120, "length_mm": 100, {more}}}"#);
        answer("duty", &read(&request).unwrap(), &Alone, false)
    }

    #[test]
    fn a_swing_or_grease_is_mixed_at_best() {
        let fast_swing = r#""motion": "swing", "swing_deg": 90, "swings_per_min": 200, "lubrication": "oil", "temperature_C": 30"#;
        let fast_grease = r#""motion": "rotation", "speed_rpm": 600, "lubrication": "grease", "temperature_C": 30"#;
        let fast_oil = r#""motion": "rotation", "speed_rpm": 600, "lubrication": "oil", "temperature_C": 30"#;
        assert_eq!(asked(fast_swing).unwrap()["regime"], "mixed");
        assert_eq!(asked(fast_grease).unwrap()["regime"], "mixed");
        assert_eq!(asked(fast_oil).unwrap()["regime"], "full film");
    }

    #[test]
    fn a_dry_bearing_has_no_film_and_the_friction_of_dry_metal() {
        let dry = asked(r#""motion": "rotation", "speed_rpm": 600, "lubrication": "dry""#).unwrap();
        assert_eq!((dry["regime"].as_str(), &dry["viscosity_mPas"]), (Some("boundary"), &Value::Null));
        assert_eq!(dry["friction_high"], 0.35);
    }

    #[test]
    fn what_was_taken_unasked_is_said() {
        let grease =
            asked(r#""motion": "swing", "swing_deg": 4, "swings_per_min": 6, "lubrication": "grease", "temperature_C": 30"#).unwrap();
        let warnings: Vec<&str> = grease["warnings"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        for wanted in ["VG 220", "grooves no further apart than 4°", "frets"] {
            assert!(warnings.iter().any(|warning| warning.contains(wanted)), "{wanted}: {warnings:?}");
        }
    }

    #[test]
    fn the_figures_of_the_other_motion_are_not_taken_for_this_one() {
        let refused = asked(r#""motion": "swing", "speed_rpm": 10, "lubrication": "dry""#).unwrap_err();
        assert_eq!(refused.key, "swing_deg");
        assert_eq!(asked(r#""motion": "still", "lubrication": "oil""#).unwrap_err().key, "temperature_C");
    }

    #[test]
    fn a_load_without_a_peak_of_its_own_gives_its_doubt_to_the_peak() {
        let request =
            r#"{"load_kN": {"value": 100, "u": 5}, "diameter_mm": 200, "length_mm": 160, "motion": "still", "lubrication": "dry"}"#;
        let found = answer("duty", &read(request).unwrap(), &Alone, false).unwrap();
        assert_eq!(found["peak_pressure_MPa"], found["pressure_MPa"]);
        assert!((found["pressure_MPa"]["u"].as_f64().unwrap() - 0.15625).abs() < 1e-9);
    }
}
