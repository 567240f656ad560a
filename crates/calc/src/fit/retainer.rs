//! Pins, screws and compounds for a bush that friction alone does not hold (`retainer`).
//!
//! The bush is turned by the journal: at a start on boundary friction, at worst a half-seized journal. Friction and retainer are not
//! added, the stronger is counted. It leaves the torque that the fit holds to `fit`, and which way to take to the person.
//! Statics only: no fatigue, no fretting, no clamping of flange screws.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, sq};
use crate::refused::Refused;
use crate::working::Working;

/// Friction of a start for heavy loads started dry; what the seizing multiplies it by. *Common practice*.
const MU_START: f64 = 0.25;
const SEIZE_FACTOR: f64 = 2.0;
/// Safety that is wanted, without and with shocks. *Common practice*.
const WANTED: f64 = 1.5;
const WANTED_WITH_SHOCK: f64 = 2.0;
/// Wall that a hole must leave: this many mm, and this share of the wall. *Common practice*.
const WALL_LEFT_MM: f64 = 1.0;
const WALL_LEFT_SHARE: f64 = 1.0 / 3.0;
/// Share of the outside that a compound covers when nothing is said; its strength is halved for the shop. *Common practice*.
const COVER_SHARE: f64 = 0.8;
const COMPOUND_SHARE: f64 = 0.5;
/// A compound keeps its strength to the first temperature and falls straight to the share at the second, °C. *Common practice*.
const COMPOUND_FULL_C: f64 = 60.0;
const COMPOUND_LAST_C: f64 = 150.0;
const COMPOUND_LAST_C_SHARE: f64 = 0.5;
/// The same over the diametral gap, mm. *Common practice*.
const GAP_FULL_MM: f64 = 0.10;
const GAP_LAST_MM: f64 = 0.25;
const GAP_LAST_SHARE: f64 = 0.3;
/// Share of a wall that is rounding of its two diameters.
const ROUNDING: f64 = 1e-9;
/// Above this joint diameter the trade commonly always fits a retainer, mm. *Common practice*.
const ALWAYS_FROM_MM: f64 = 200.0;

/// How the bush is kept from turning.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum How {
    /// Axial pins on the joint line, half in each part.
    JointPin {
        /// Pin diameter d, mm.
        pin_mm: f64,
        /// Pin length l, mm.
        length_mm: f64,
        /// Shear strength of the pin, MPa.
        shear_MPa: f64,
        /// How many.
        count: f64,
        /// Yield of the weaker of bush and housing, MPa.
        yield_MPa: f64,
    },
    /// Screws through the housing, dog or plain end in the bush.
    RadialScrew {
        /// Shank or dog d, mm.
        screw_mm: f64,
        /// Depth t in the bush, mm.
        depth_mm: f64,
        /// Shear strength of the screw, MPa.
        shear_MPa: f64,
        /// How many.
        count: f64,
        /// Yield of the weaker of bush and housing, MPa.
        yield_MPa: f64,
    },
    /// Screws through a flange.
    FlangeScrews {
        /// Core diameter d, mm.
        screw_mm: f64,
        /// Diameter of the circle they stand on, mm.
        circle_mm: f64,
        /// Shear strength of the screw, MPa.
        shear_MPa: f64,
        /// How many.
        count: f64,
    },
    /// Retaining compound for cylindrical joints.
    Compound {
        /// Shear strength by the maker's sheet, MPa.
        shear_MPa: f64,
        /// Diametral gap, mm.
        gap_mm: f64,
        /// Hottest that the joint gets, °C.
        T_C: f64,
        /// Share of the area that is covered.
        cover_share: f64,
    },
}

/// A bush, what turns it, and how it is retained.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Retainer {
    /// Outside of the bush = joint diameter D, mm.
    pub outside_mm: f64,
    /// Its bore, mm.
    pub bore_mm: f64,
    /// Its length L, mm.
    pub length_mm: f64,
    /// Load on the journal, kN.
    pub load_kN: f64,
    /// Journal diameter, mm.
    pub journal_mm: f64,
    /// Friction of the start.
    pub mu_start: f64,
    /// What a half-seized journal multiplies it by.
    pub seize_factor: f64,
    /// What shocks multiply it by.
    pub shock_factor: f64,
    /// Torque that friction holds at the worst temperature, Nm.
    pub fit_torque_low_Nm: f64,
    /// Axial load that the friction of the fit does not carry, kN.
    pub axial_kN: f64,
    /// How it is retained.
    pub how: How,
}

/// What a retainer's capacity ends at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// The pin, screw or compound shears.
    Shear,
    /// The hole in the softer part gives way.
    Bearing,
    /// Too little wall is left.
    Wall,
}

/// What a retainer holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RetainerAnswer {
    /// Moment at a half-seized start, Nm.
    pub demand_Nm: f64,
    /// Safety of friction alone.
    pub fit_safety: f64,
    /// Friction alone is not enough.
    pub needed: bool,
    /// Moment that the retainer holds, Nm.
    pub capacity_Nm: f64,
    /// By shear, Nm.
    pub shear_capacity_Nm: f64,
    /// By bearing, Nm; null where none.
    pub bearing_capacity_Nm: Option<f64>,
    /// Capacity over demand.
    pub safety: f64,
    /// Safety that is wanted.
    pub wanted_safety: f64,
    /// Wall left beside the hole, mm; null where none.
    pub wall_left_mm: Option<f64>,
    /// What it ends at.
    pub limit: Limit,
    /// It is enough, turning and along the axis.
    pub enough: bool,
    /// Axial load that it carries, kN.
    pub axial_capacity_kN: f64,
    /// That over the axial load; null without one.
    pub axial_safety: Option<f64>,
    /// The same in words.
    pub say: String,
    /// Sentences a person can read.
    pub warnings: Vec<String>,
}

/// What one row of the table gives.
struct Capacity {
    shear_Nm: f64,
    bearing_Nm: Option<f64>,
    wall_left_mm: Option<f64>,
    axial_kN: f64,
}

/// Capacity of a retainer beside the moment of a half-seized start.
///
/// demand = µ_start F d_j/2 · seize · shock (F in N, d_j in m). Capacities, Nm (mm and MPa, /1000):
/// - joint pin: shear n τ d l D/2, bearing n Y (d/2) l D/2, wall left = wall − d/2
/// - radial screw: shear n τ (π/4)d² D/2, bearing n Y d t (D − t)/2, wall left = wall − t; axial the least of n τ (π/4)d² and n Y d t
/// - flange screws: shear n τ (π/4)d² circle/2
/// - compound: τ_d π D L D/2, τ_d = 0.5 · shear · cover · f_T · f_gap; axial τ_d π D L
///
/// Enough: the wall is, the larger of safety and fit safety reaches the wanted 1.5 (2 with shocks), with an axial load its safety too,
/// and where the retainer must do both, 1/√(1/safety² + 1/axial²): one area carries both.
/// Refused: sizes out of order, l > L, t ≥ wall, d ≥ 2 × wall, a compound hotter than 150 °C or over a gap of 0.25 mm.
/// Source: statics; ISO 10123 (title and principle from memory) for the compound's shear strength; factors *common practice*.
pub fn retainer(request: &Retainer) -> Result<RetainerAnswer, Refused> {
    let wall = check(request)?;
    let capacity = capacity(request, wall);
    let demand_Nm = request.mu_start * request.load_kN * request.journal_mm / 2.0 * request.seize_factor * request.shock_factor;
    let wanted_safety = if request.shock_factor > 1.0 { WANTED_WITH_SHOCK } else { WANTED };
    let capacity_Nm = capacity.bearing_Nm.map_or(capacity.shear_Nm, |bearing| bearing.min(capacity.shear_Nm));
    let thin = capacity.wall_left_mm.is_some_and(|left| left < least_wall_mm(wall) * (1.0 - ROUNDING));
    let limit = match capacity.bearing_Nm {
        _ if thin => Limit::Wall,
        Some(bearing) if bearing < capacity.shear_Nm => Limit::Bearing,
        _ => Limit::Shear,
    };
    let mut answer = RetainerAnswer {
        demand_Nm,
        fit_safety: request.fit_torque_low_Nm / demand_Nm,
        needed: request.fit_torque_low_Nm / demand_Nm < wanted_safety,
        capacity_Nm,
        shear_capacity_Nm: capacity.shear_Nm,
        bearing_capacity_Nm: capacity.bearing_Nm,
        safety: capacity_Nm / demand_Nm,
        wanted_safety,
        wall_left_mm: capacity.wall_left_mm,
        limit,
        enough: false,
        axial_capacity_kN: capacity.axial_kN,
        axial_safety: (request.axial_kN > 0.0).then(|| capacity.axial_kN / request.axial_kN),
        say: String::new(),
        warnings: Vec::new(),
    };
    answer.enough = !thin && reaches(&answer);
    answer.say = say(request, &answer);
    answer.warnings = warnings(request, &answer, wall);
    Ok(answer)
}

/// Whether turning and axial load are both carried with the wanted safety.
fn reaches(answer: &RetainerAnswer) -> bool {
    let wanted = answer.wanted_safety;
    let turning = answer.safety.max(answer.fit_safety) >= wanted;
    let axial = answer.axial_safety.is_none_or(|axial| axial >= wanted);
    let both = match answer.axial_safety {
        Some(axial) if answer.needed => answer.safety * axial / (sq(answer.safety) + sq(axial)).sqrt() >= wanted,
        _ => true,
    };
    turning && axial && both
}

fn least_wall_mm(wall_mm: f64) -> f64 {
    WALL_LEFT_MM.max(WALL_LEFT_SHARE * wall_mm)
}

fn capacity(request: &Retainer, wall: f64) -> Capacity {
    let (D, L) = (request.outside_mm, request.length_mm);
    match request.how {
        How::JointPin { pin_mm: d, length_mm: l, shear_MPa, count, yield_MPa } => Capacity {
            shear_Nm: count * shear_MPa * d * l * D / 2.0 / 1e3,
            bearing_Nm: Some(count * yield_MPa * (d / 2.0) * l * D / 2.0 / 1e3),
            wall_left_mm: Some(wall - d / 2.0),
            axial_kN: 0.0,
        },
        How::RadialScrew { screw_mm: d, depth_mm: t, shear_MPa, count, yield_MPa } => {
            let (shear_N, bearing_N) = (count * shear_MPa * PI / 4.0 * sq(d), count * yield_MPa * d * t);
            Capacity {
                shear_Nm: shear_N * D / 2.0 / 1e3,
                bearing_Nm: Some(bearing_N * (D - t) / 2.0 / 1e3),
                wall_left_mm: Some(wall - t),
                axial_kN: shear_N.min(bearing_N) / 1e3,
            }
        }
        How::FlangeScrews { screw_mm: d, circle_mm, shear_MPa, count } => Capacity {
            shear_Nm: count * shear_MPa * PI / 4.0 * sq(d) * circle_mm / 2.0 / 1e3,
            bearing_Nm: None,
            wall_left_mm: None,
            axial_kN: 0.0,
        },
        How::Compound { shear_MPa, gap_mm, T_C, cover_share } => {
            let f_T = falling(T_C, COMPOUND_FULL_C, COMPOUND_LAST_C, COMPOUND_LAST_C_SHARE);
            let f_gap = falling(gap_mm, GAP_FULL_MM, GAP_LAST_MM, GAP_LAST_SHARE);
            let force_N = COMPOUND_SHARE * shear_MPa * cover_share * f_T * f_gap * PI * D * L;
            Capacity { shear_Nm: force_N * D / 2.0 / 1e3, bearing_Nm: None, wall_left_mm: None, axial_kN: force_N / 1e3 }
        }
    }
}

/// 1 up to `full`, then straight to `share` at `last`.
fn falling(x: f64, full: f64, last: f64, share: f64) -> f64 {
    1.0 - (1.0 - share) * ((x - full) / (last - full)).clamp(0.0, 1.0)
}

/// Checks the sizes; gives the wall, mm.
fn check(request: &Retainer) -> Result<f64, Refused> {
    let (D, L) = (request.outside_mm, request.length_mm);
    if request.bore_mm >= D {
        let allowed = format!("under the outside, {D}");
        return Err(Refused::new("bush.bore_mm", request.bore_mm, allowed, "measure bore and outside again"));
    }
    let wall = (D - request.bore_mm) / 2.0;
    match request.how {
        How::JointPin { length_mm, .. } if length_mm > L => {
            let allowed = format!("up to the length of the bush, {L}");
            Err(Refused::new("pin_length_mm", length_mm, allowed, "take a shorter pin, or more of them"))
        }
        How::JointPin { pin_mm, .. } if pin_mm >= 2.0 * wall * (1.0 - ROUNDING) => {
            let allowed = format!("under twice the wall, {}", 2.0 * wall);
            Err(Refused::new("pin_mm", pin_mm, allowed, "take a thinner pin: this one would open the bore"))
        }
        How::RadialScrew { depth_mm, .. } if depth_mm >= wall * (1.0 - ROUNDING) => {
            let allowed = format!("under the wall, {wall}");
            Err(Refused::new("depth_mm", depth_mm, allowed, "go less deep: the screw would stand in the bore"))
        }
        How::Compound { T_C, .. } if T_C > COMPOUND_LAST_C => {
            let allowed = format!("up to {COMPOUND_LAST_C} °C");
            Err(Refused::new("T_C", T_C, allowed, "take a pin or screws: the compound lets go when hot"))
        }
        How::Compound { gap_mm, .. } if gap_mm > GAP_LAST_MM => {
            let allowed = format!("0 to {GAP_LAST_MM} mm");
            Err(Refused::new("gap_mm", gap_mm, allowed, "take a pin or screws: the compound does not fill that gap"))
        }
        _ => Ok(wall),
    }
}

fn say(request: &Retainer, answer: &RetainerAnswer) -> String {
    let need = if answer.needed {
        format!("Friction alone reaches {:.2} of the {} wanted: a retainer is needed.", answer.fit_safety, answer.wanted_safety)
    } else {
        format!("Friction alone reaches {:.2} with {} wanted.", answer.fit_safety, answer.wanted_safety)
    };
    let limit = match answer.limit {
        Limit::Shear => "shear",
        Limit::Bearing => "bearing in the softer part",
        Limit::Wall => "the wall that is left",
    };
    let held = format!(
        "This one holds {:.0} Nm of the {:.0} Nm of a half-seized start (safety {:.2}), limited by {limit}: {}.",
        answer.capacity_Nm,
        answer.demand_Nm,
        answer.safety,
        if answer.enough { "enough" } else { "not enough" }
    );
    let fitting = match request.how {
        How::JointPin { .. } => {
            "Drill with the bush in place, away from the loaded zone and from grooves; the pins of a batch sit at one angle from the datum mark."
        }
        How::RadialScrew { .. } => {
            "Drill with the bush in place, away from the loaded zone and from grooves; finish the bore after: a radial screw dents it."
        }
        How::FlangeScrews { .. } => "Clamping of the screws is not counted.",
        How::Compound { .. } => {
            "Both parts clean, dry and rough (Rz 8 to 25 µm), cured warm; finish the bore after it has cured: the gap centres nothing."
        }
    };
    format!("{need} {held} {fitting}")
}

fn warnings(request: &Retainer, answer: &RetainerAnswer, wall: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    match request.how {
        How::Compound { .. } => warnings.push(
            "A compound hides a loose fit from the next person: it stands on the certificate. It comes apart at about 250 °C: fume, and lead; \
             air the place, keep to the maker's sheet and local codes."
                .into(),
        ),
        How::FlangeScrews { circle_mm, .. } if circle_mm <= request.outside_mm => warnings.push(format!(
            "The screws stand on a circle of {circle_mm} mm, not outside the bush of {} mm: check the circle.",
            request.outside_mm
        )),
        How::FlangeScrews { .. } => {}
        How::JointPin { .. } | How::RadialScrew { .. } => {
            warnings.push("Never in the loaded zone or in a groove; drill with the bush in place, guard against chips that fly, eye protection.".into());
        }
    }
    if let (Limit::Wall, Some(left)) = (answer.limit, answer.wall_left_mm) {
        warnings.push(format!(
            "The hole leaves {left:.2} mm of wall where {:.2} mm must stay: a smaller one, or more of them.",
            least_wall_mm(wall)
        ));
    }
    if let Some(axial) = answer.axial_safety.filter(|axial| *axial < answer.wanted_safety) {
        warnings.push(format!(
            "The axial load of {} kN is not carried: axial safety {axial:.2} with {} wanted; a flange, a lip or a thrust face takes it.",
            request.axial_kN, answer.wanted_safety
        ));
    } else if answer.axial_safety.is_some() && answer.needed && !reaches(answer) {
        warnings.push("One area carries turning and axial load together, and together they are under the wanted safety.".into());
    }
    if request.outside_mm > ALWAYS_FROM_MM && !answer.needed {
        warnings.push(format!("Above {ALWAYS_FROM_MM} mm the trade commonly fits a retainer always, even where friction is enough."));
    }
    warnings
}

const ROWS: [(&str, &[&str]); 4] = [
    ("joint_pin", &["pin_mm", "pin_length_mm", "count", "pin_shear_MPa"]),
    ("radial_screw", &["screw_mm", "depth_mm", "count", "screw_shear_MPa"]),
    ("flange_screws", &["circle_mm", "screw_mm", "count", "screw_shear_MPa"]),
    ("compound", &["shear_MPa", "gap_mm", "T_C", "cover_share"]),
];

const SIZE: Range = Range::over(0.0).to(1e5);
const SHEAR: Range = Range::over(0.0).to(1e4);
/// Factors of the demand: none so small that a safety could not be reckoned.
const FACTOR: Range = Range::within(1e-3, 1e3);

/// `retainer` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "retainer",
    help: "pins, screws and compounds for a fit that friction does not hold",
    request: &[
        Key::word("how", &["joint_pin", "radial_screw", "flange_screws", "compound"], "how the bush is retained").needed(),
        Key::record(
            "bush",
            &[
                Key::number("outside_mm", SIZE, "its outside, the joint diameter").needed(),
                Key::number("bore_mm", SIZE, "its bore").needed(),
                Key::number("length_mm", SIZE, "its length").needed(),
                Key::number(
                    "yield_MPa",
                    Range::over(0.0).to(1e4),
                    "yield of the weaker of bush and housing; needed with joint_pin and radial_screw",
                ),
            ],
            "the bush",
        )
        .needed(),
        Key::number("load_kN", Range::within(1e-6, 1e6), "load on the journal").needed(),
        Key::number("journal_mm", Range::within(1e-3, 1e5), "journal diameter").default("the bore"),
        Key::number("mu_start", FACTOR, "friction of the start; a light greased bush turned daily 0.15").default("0.25"),
        Key::number("seize_factor", FACTOR, "what a half-seized journal multiplies it by; a light greased bush 1").default("2"),
        Key::number("shock_factor", FACTOR, "what shocks multiply it by").default("1"),
        Key::number("fit_torque_low_Nm", Range::at_least(0.0).to(1e12), "torque that friction holds at the worst temperature, from fit")
            .default("0"),
        Key::number("axial_kN", Range::at_least(0.0).to(1e6), "axial load that the friction of the fit does not carry").default("0"),
        Key::number("pin_mm", SIZE, "pin diameter, with joint_pin"),
        Key::number("pin_length_mm", SIZE, "pin length, with joint_pin"),
        Key::number("pin_shear_MPa", SHEAR, "shear strength of the pin, with joint_pin"),
        Key::number("screw_mm", SIZE, "shank or dog with radial_screw, core with flange_screws"),
        Key::number("depth_mm", SIZE, "depth in the bush, with radial_screw"),
        Key::number("screw_shear_MPa", SHEAR, "shear strength of the screw, with radial_screw and flange_screws"),
        Key::number("circle_mm", SIZE, "circle of the screws, with flange_screws"),
        Key::whole("count", Range::within(1.0, 1000.0), "how many pins or screws"),
        Key::number("shear_MPa", SHEAR, "shear strength by the maker's sheet (ISO 10123), with compound"),
        Key::number("gap_mm", Range::at_least(0.0).to(1e3), "diametral gap, with compound"),
        Key::number("T_C", Range::within(-273.15, 2000.0), "hottest that the joint gets, with compound"),
        Key::number("cover_share", Range::over(0.0).to(1.0), "share of the area that is covered, with compound").default("0.8"),
    ],
    answer: &[
        Told { path: "demand_Nm", help: "moment at a half-seized start" },
        Told { path: "fit_safety", help: "friction alone over the demand" },
        Told { path: "needed", help: "fit_safety is under the wanted" },
        Told { path: "capacity_Nm", help: "moment that the retainer holds" },
        Told { path: "shear_capacity_Nm", help: "by shear" },
        Told { path: "bearing_capacity_Nm", help: "by bearing; null where none" },
        Told { path: "safety", help: "capacity over demand" },
        Told { path: "wanted_safety", help: "1.5, 2 with shocks" },
        Told { path: "wall_left_mm", help: "wall beside the hole; null where none" },
        Told { path: "limit", help: "shear, bearing or wall" },
        Told { path: "enough", help: "it is, turning and along the axis" },
        Told { path: "axial_capacity_kN", help: "axial load that it carries" },
        Told { path: "axial_safety", help: "that over axial_kN; null without it" },
        Told { path: "say", help: "the same in words" },
    ],
    example: r#"{"how": "radial_screw", "bush": {"outside_mm": 240, "bore_mm": 208, "length_mm": 180, "yield_MPa": 138}, "load_kN": 100, "count": 6,
        "screw_mm": 12, "depth_mm": 8, "screw_shear_MPa": 150, "axial_kN": 20}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = retainer(&request)?;
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<Retainer, Refused> {
    let word = given.need_word("how")?;
    refuse_other_rows(given, word)?;
    let bush = given.need_record("bush")?;
    let bore_mm = bush.need_number("bore_mm")?;
    Ok(Retainer {
        outside_mm: bush.need_number("outside_mm")?,
        bore_mm,
        length_mm: bush.need_number("length_mm")?,
        load_kN: given.need_number("load_kN")?,
        journal_mm: given.number_or("journal_mm", bore_mm),
        mu_start: given.number_or("mu_start", MU_START),
        seize_factor: given.number_or("seize_factor", SEIZE_FACTOR),
        shock_factor: given.number_or("shock_factor", 1.0),
        fit_torque_low_Nm: given.number_or("fit_torque_low_Nm", 0.0),
        axial_kN: given.number_or("axial_kN", 0.0),
        how: read_how(given, &bush, word)?,
    })
}

/// A key of another row would be left unread: it is refused.
fn refuse_other_rows(given: &Given, word: &str) -> Result<(), Refused> {
    let own = ROWS.iter().find(|(how, _)| *how == word).map_or(&[][..], |(_, keys)| keys);
    let other = ROWS.iter().flat_map(|(_, keys)| keys.iter()).find(|key| !own.contains(*key) && given.has(key));
    match other {
        Some(key) => Err(given.refuse(key, format!("with {word}: {}", own.join(", ")), "take it out, or change how")),
        None => Ok(()),
    }
}

fn read_how(given: &Given, bush: &Given, word: &str) -> Result<How, Refused> {
    let count = || given.need_number("count");
    Ok(match word {
        "joint_pin" => How::JointPin {
            pin_mm: given.need_number("pin_mm")?,
            length_mm: given.need_number("pin_length_mm")?,
            shear_MPa: given.need_number("pin_shear_MPa")?,
            count: count()?,
            yield_MPa: bush.need_number("yield_MPa")?,
        },
        "radial_screw" => How::RadialScrew {
            screw_mm: given.need_number("screw_mm")?,
            depth_mm: given.need_number("depth_mm")?,
            shear_MPa: given.need_number("screw_shear_MPa")?,
            count: count()?,
            yield_MPa: bush.need_number("yield_MPa")?,
        },
        "flange_screws" => How::FlangeScrews {
            screw_mm: given.need_number("screw_mm")?,
            circle_mm: given.need_number("circle_mm")?,
            shear_MPa: given.need_number("screw_shear_MPa")?,
            count: count()?,
        },
        _ => How::Compound {
            shear_MPa: given.need_number("shear_MPa")?,
            gap_mm: given.need_number("gap_mm")?,
            T_C: given.need_number("T_C")?,
            cover_share: given.number_or("cover_share", COVER_SHARE),
        },
    })
}

fn explain(request: &Retainer, answer: &RetainerAnswer, working: &mut Working) {
    let with = [
        ("mu_start", request.mu_start),
        ("F kN", request.load_kN),
        ("d_j mm", request.journal_mm),
        ("seize", request.seize_factor),
        ("shock", request.shock_factor),
    ];
    let gives = [("demand Nm", answer.demand_Nm), ("fit safety", answer.fit_safety)];
    working.step("moment at the start", "mu_start F d_j/2 seize shock", &with, &gives, "friction: common practice");
    let formula = match request.how {
        How::JointPin { .. } => "shear n tau d l D/2; bearing n Y (d/2) l D/2",
        How::RadialScrew { .. } => "shear n tau (pi/4) d^2 D/2; bearing n Y d t (D - t)/2",
        How::FlangeScrews { .. } => "n tau (pi/4) d^2 circle/2",
        How::Compound { .. } => "0.5 shear cover f_T f_gap pi D L D/2",
    };
    let with = [("D mm", request.outside_mm), ("d mm", request.bore_mm), ("L mm", request.length_mm)];
    let mut gives = vec![("shear Nm", answer.shear_capacity_Nm), ("capacity Nm", answer.capacity_Nm), ("safety", answer.safety)];
    gives.extend(answer.bearing_capacity_Nm.map(|bearing| ("bearing Nm", bearing)));
    working.step("capacity of the retainer", formula, &with, &gives, "statics; ISO 10123 for compounds (memory); factors common practice");
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, plain};
    use crate::crew::Alone;

    const BUSH: &str = r#""bush": {"outside_mm": 240, "bore_mm": 208, "length_mm": 180, "yield_MPa": 138}, "load_kN": 100"#;

    fn asked(rest: &str) -> Result<Value, Refused> {
        answer("retainer", &plain(&format!("{{{BUSH}, {rest}}}")).unwrap(), &Alone, false)
    }

    #[test]
    fn a_key_of_another_row_is_refused_by_name() {
        let pin = r#""how": "joint_pin", "pin_mm": 12, "pin_length_mm": 40, "pin_shear_MPa": 120, "count": 2"#;
        assert!(asked(pin).is_ok());
        for key in ["screw_mm", "depth_mm", "screw_shear_MPa", "circle_mm", "shear_MPa", "gap_mm", "T_C", "cover_share"] {
            assert_eq!(asked(&format!("{pin}, \"{key}\": 0.5")).unwrap_err().key, key);
        }
    }

    #[test]
    fn what_does_not_go_into_the_wall_is_refused() {
        for (rest, key) in [
            (r#""how": "joint_pin", "pin_mm": 32, "pin_length_mm": 40, "pin_shear_MPa": 120, "count": 2"#, "pin_mm"),
            (r#""how": "joint_pin", "pin_mm": 12, "pin_length_mm": 180.1, "pin_shear_MPa": 120, "count": 2"#, "pin_length_mm"),
            (r#""how": "radial_screw", "screw_mm": 12, "depth_mm": 16, "screw_shear_MPa": 120, "count": 2"#, "depth_mm"),
            (r#""how": "compound", "shear_MPa": 20, "gap_mm": 0.26, "T_C": 40"#, "gap_mm"),
            (r#""how": "compound", "shear_MPa": 20, "gap_mm": 0.2, "T_C": 151"#, "T_C"),
            (r#""how": "flange_screws", "screw_mm": 12, "circle_mm": 260, "screw_shear_MPa": 120"#, "count"),
        ] {
            assert_eq!(asked(rest).unwrap_err().key, key);
        }
    }

    #[test]
    fn a_compound_is_whole_to_60_degrees_and_a_tenth_of_a_millimetre() {
        let held = |gap: f64, T: f64| {
            let rest = format!(r#""how": "compound", "shear_MPa": 20, "gap_mm": {gap}, "T_C": {T}"#);
            asked(&rest).unwrap()["capacity_Nm"].as_f64().unwrap()
        };
        assert_eq!(held(0.0, 20.0), held(0.10, 60.0));
        assert!((held(0.10, 150.0) / held(0.0, 20.0) - 0.5).abs() < 1e-12, "half at 150 °C");
        assert!((held(0.25, 20.0) / held(0.0, 20.0) - 0.3).abs() < 1e-12, "0.3 at 0.25 mm");
    }

    #[test]
    fn a_pin_on_the_joint_line_carries_no_axial_load_and_says_so() {
        let pin = r#""how": "joint_pin", "pin_mm": 12, "pin_length_mm": 90, "pin_shear_MPa": 300, "count": 6, "axial_kN": 0.1"#;
        let said = asked(pin).unwrap();
        assert_eq!((said["axial_safety"].as_f64(), said["enough"].as_bool()), (Some(0.0), Some(false)));
        assert!(said["warnings"].to_string().contains("axial"));
    }
}
