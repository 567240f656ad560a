//! How long a bush lies in its bath, how much smaller it comes out, how much coolant it boils off, and what that does to the room.
//!
//! Cautions stand first. The time is as good as the surface coefficient: the range says so, the mesh's own error stands apart from it.
//! It does not fill the vessel, and a part is a plain ring or a pin.

use serde::Serialize;
use serde_json::Value;

use super::chill::{self, Coolant, CoolantUse, Part};
use super::part::{self, Properties};
use super::room_air::{Gas, RoomAir, room_air};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, joined};
use crate::quantity::Figure;
use crate::refused::Refused;
use crate::solve::heat::exchange::Exchange;
use crate::solve::heat::lumped;
use crate::solve::heat::matter::Metal;
use crate::solve::heat::mesh::{Ring, Wet};
use crate::solve::heat::section::section_at;
use crate::solve::heat::{Field, Profile, Task, Transient, time_alone, transient};
use crate::working::Working;

/// The mesh is halved until `time_s` moves by less than this share.
const AIM: f64 = 0.002;
/// A tempered part stays this far under its tempering temperature, K. *Common practice*.
pub const TEMPER_MARGIN_K: f64 = 30.0;
/// A preset temperature may be given again within this, K.
const SAME_K: f64 = 1.0;
/// Under this a bath makes carbon steel and iron brittle, °C; over that one it burns. *Common practice*.
const BRITTLE_C: f64 = -100.0;
const HOT_C: f64 = 50.0;
/// Longest time for which the room's air is reckoned, min.
const LONGEST_ROOM_MIN: f64 = 480.0;
/// Pieces of the lumped quadrature; halving them moves it by under 1e-6.
const PIECES: usize = 400;

const COLD_METAL: &str =
    "Cold metal freezes to skin: gloves. The bush comes out wet with frost: wipe it. Local codes and licensed practice come first.";
const NITROGEN_SHOP: &str =
    "The sign in the shop: the violent burst of boiling, then quiet, means done; wait one minute more. Frost, oxide or shaking shorten it.";

/// A bath of the table: name, medium's temperature, h with its range, coolant.
struct Bath {
    name: &'static str,
    bath_C: Option<f64>,
    h: Option<[f64; 3]>,
    coolant: Option<Coolant>,
}

/// h in W/(m² K): low, value, high. Source: still and fan-blown air, Incropera table 1.1 ranges (memory); dry ice, *common practice*,
/// poorly known; slush, range 50 to 1000 of free liquids (memory).
const BATHS: [Bath; 6] = [
    Bath { name: "freezer", bath_C: None, h: Some([5.0, 8.0, 12.0]), coolant: None },
    Bath { name: "freezer_fan", bath_C: None, h: Some([15.0, 25.0, 40.0]), coolant: None },
    Bath { name: "dry_ice", bath_C: Some(chill::DRY_ICE_C), h: Some([15.0, 30.0, 60.0]), coolant: Some(Coolant::DryIce) },
    Bath { name: "dry_ice_bath", bath_C: Some(chill::DRY_ICE_C), h: Some([100.0, 200.0, 400.0]), coolant: Some(Coolant::DryIce) },
    Bath { name: "liquid_nitrogen", bath_C: Some(chill::NITROGEN_C), h: None, coolant: Some(Coolant::Nitrogen) },
    Bath { name: "custom", bath_C: None, h: None, coolant: None },
];
/// Film boiling is known within this factor, and it rules the time.
const BOILING_RANGE: f64 = 1.4;

/// The room around the bath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Volume, m³.
    pub room_m3: f64,
    /// Air changes an hour; none given counts as none.
    pub air_changes_per_h: Option<f64>,
    /// Temperature of the air, °C.
    pub air_C: f64,
    /// All the coolant in the room, kg.
    pub coolant_total_kg: Option<f64>,
    /// What the vessel loses by itself, kg/h.
    pub loss_kg_per_h: f64,
}

/// A moment on the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Moment {
    /// After so many seconds.
    Seconds(f64),
    /// After this share of the whole time.
    Share(f64),
}

/// A part in a bath.
#[derive(Clone, Debug, PartialEq)]
pub struct CoolingRequest {
    /// Ring, metal, exchange, temperatures, times.
    pub task: Task,
    /// The same with the least and the most that the surface may give up; none where h was given.
    pub range: Option<(Exchange, Exchange)>,
    /// Expansion of the table, per K.
    pub alpha_per_K: f64,
    /// What contracts.
    pub part: Part,
    /// A hardened steel.
    pub hardened: bool,
    /// Its contraction is less sure.
    pub aluminium_bronze: bool,
    /// What is used up.
    pub coolant: Option<Coolant>,
    /// Dry ice in a liquid.
    pub bath: &'static str,
    /// Its tempering temperature, °C.
    pub temper_C: Option<f64>,
    /// The room, where one was given.
    pub room: Option<Room>,
    /// When the section is wanted.
    pub section_at: Option<Moment>,
}

/// The field at one of the times that were asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct At {
    /// When, s.
    pub t_s: f64,
    /// The point that is farthest from the bath.
    pub slowest_C: f64,
    /// Mean of the body.
    pub mean_C: f64,
    /// Mid-length, outside.
    pub outside_C: f64,
    /// Mid-length, at the bore or the axis.
    pub inside_C: f64,
    /// Outside diameter at mid-length.
    pub outside_mm: Figure,
}

/// The room's air, as `room-air` has it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoomTold {
    gas_m3: f64,
    oxygen_pct_min: f64,
    oxygen_pct_all_at_once: Option<f64>,
    co2_ppm_peak: Option<f64>,
    co2_ppm_8h: Option<f64>,
}

/// Half the section at a moment: rows from the bore out, columns from mid-length to the end.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionTold {
    t_s: f64,
    r_mm: Vec<f64>,
    z_mm: Vec<f64>,
    T_C: Vec<Vec<f64>>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CoolingAnswer {
    /// Until the slowest point is near enough; null when the limit of steps came first.
    pub time_s: Option<f64>,
    /// At the high end of h; null where h was given.
    pub time_low_s: Option<f64>,
    /// At the low end of h.
    pub time_high_s: Option<f64>,
    /// Then: the slowest point.
    pub slowest_C: f64,
    /// Then: mean of the body.
    pub mean_C: f64,
    /// Then: mid-length, outside.
    pub outside_C: f64,
    /// Then: mid-length, at the bore or the axis.
    pub inside_C: f64,
    /// Then: outside diameter at mid-length.
    pub outside_mm: Figure,
    /// How much smaller than at 20 °C.
    pub contraction_um: Figure,
    /// Heat given up; negative when warmed.
    pub heat_kJ: f64,
    /// Coolant by latent heat alone.
    pub coolant_kg: Option<f64>,
    /// The least, the gas leaving at 20 °C.
    pub coolant_min_kg: Option<f64>,
    /// Litres of nitrogen.
    pub coolant_L: Option<f64>,
    /// Biot number.
    pub biot: f64,
    /// Time with one temperature throughout.
    pub lumped_time_s: f64,
    /// By how much the time moved when the mesh was last halved.
    pub numeric_u_s: f64,
    /// Fields at the times asked for.
    pub at: Vec<At>,
    /// The room's air.
    pub room: Option<RoomTold>,
    /// Half the section when it was asked for.
    pub section: Option<SectionTold>,
    /// Cautions first.
    pub warnings: Vec<String>,
}

/// Time, contraction, coolant and room of a part in a bath.
///
/// Transient heat in the ring (`solve::heat`); contraction by the section mean of α S(T) at mid-length, whatever the radial profile
/// (thermoelastic, traction-free). Source: Timoshenko and Goodier, art. 151; sources of the surface and of S beside their constants.
pub fn cooling(request: &CoolingRequest) -> CoolingAnswer {
    let task = &request.task;
    let found = transient(task, AIM);
    let time = found.stopped.then_some(found.time);
    let alone = |exchange: Exchange| found.stopped.then(|| time_alone(&Task { exchange, ..task.clone() }, &found)).flatten();
    let outside_mm = task.ring.outside * 1e3;
    let contraction_mm = |section: &Profile| outside_mm * request.alpha_per_K * section.mean(|T| chill::equivalent_fall_K(T, request.part));
    let doubt = chill::contraction_doubt(request.aluminium_bronze);
    let outside = |section: &Profile| {
        let fall = contraction_mm(section);
        Figure { value: outside_mm - fall, u: Some(doubt * fall.abs()) }
    };
    let heat_kJ = found.heat / 1e3;
    let used = request.coolant.map(|coolant| chill::coolant_for(coolant, heat_kJ));
    let fall_um = 1e3 * contraction_mm(&found.end.section);
    let h = task.exchange.flux((task.start - task.bath).abs()) / (task.start - task.bath).abs();
    let biot = h * task.ring.depth(task.wet) / task.metal.k;
    let mut answer = CoolingAnswer {
        time_s: time,
        time_low_s: request.range.and_then(|(_, high)| alone(high)),
        time_high_s: request.range.and_then(|(low, _)| alone(low)),
        slowest_C: found.end.slowest,
        mean_C: found.end.mean,
        outside_C: found.end.section.outside(),
        inside_C: found.end.section.inside(),
        outside_mm: outside(&found.end.section),
        contraction_um: Figure { value: fall_um, u: Some(doubt * fall_um.abs()) },
        heat_kJ,
        coolant_kg: used.map(|used| used.coolant_kg),
        coolant_min_kg: used.map(|used| used.coolant_min_kg),
        coolant_L: used.and_then(|used| used.coolant_L),
        biot,
        lumped_time_s: lumped_time_s(task),
        numeric_u_s: found.change,
        at: task.at.iter().zip(&found.at).map(|(t, field)| at(*t, field, outside(&field.section))).collect(),
        room: None,
        section: request.section_at.and_then(|moment| section(task, moment, time)),
        warnings: cautions(request),
    };
    warn(request, &found, used, &mut answer);
    answer
}

fn at(t_s: f64, field: &Field, outside_mm: Figure) -> At {
    let (outside_C, inside_C) = (field.section.outside(), field.section.inside());
    At { t_s, slowest_C: field.slowest, mean_C: field.mean, outside_C, inside_C, outside_mm }
}

fn section(task: &Task, moment: Moment, time_s: Option<f64>) -> Option<SectionTold> {
    let t_s = match moment {
        Moment::Seconds(t_s) => t_s,
        Moment::Share(share) => share * time_s?,
    };
    let millimetres = |m: Vec<f64>| m.into_iter().map(|m| 1e3 * m).collect();
    section_at(task, t_s).map(|found| SectionTold { t_s, r_mm: millimetres(found.r), z_mm: millimetres(found.z), T_C: found.T })
}

/// One temperature throughout: the integral of m c dT/(A q), tau ln(|start − bath|/within) where both are constant.
fn lumped_time_s(task: &Task) -> f64 {
    let Task { ring, wet, metal, exchange, start, bath, within, .. } = task;
    let (mass, area) = (metal.density * ring.volume(), ring.wet_area(*wet));
    lumped::seconds(*start, *bath, *within, PIECES, |T| mass * metal.cp_at(T), |T| area * exchange.flux(T - bath))
}

/// The cautions of section 8, before any figure.
fn cautions(request: &CoolingRequest) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    let bath = request.task.bath;
    match request.coolant {
        Some(Coolant::Nitrogen) => {
            said.extend(chill::NITROGEN_CAUTIONS.map(str::to_owned));
            said.push(chill::COLD_HOUSING_CAUTION.into());
        }
        Some(Coolant::DryIce) => said.extend(chill::DRY_ICE_CAUTIONS.map(str::to_owned)),
        None if bath > HOT_C => said.extend(chill::HEAT_CAUTIONS.map(str::to_owned)),
        None => said.push(COLD_METAL.into()),
    }
    let cold = request.coolant.or((bath < BRITTLE_C).then_some(Coolant::Nitrogen)).or((bath < 0.0).then_some(Coolant::DryIce));
    if let Some(caution) = cold.and_then(|cold| chill::part_caution(cold, request.part, request.hardened)) {
        said.push(caution.into());
    }
    if request.coolant.is_some() && request.room.is_none() {
        said.push(chill::ROOM_NOT_CHECKED.into());
    }
    said
}

/// What the figures themselves give reason to say, and the room.
fn warn(request: &CoolingRequest, found: &Transient, used: Option<CoolantUse>, answer: &mut CoolingAnswer) {
    let task = &request.task;
    if let Some(temper_C) = request.temper_C.filter(|temper| task.bath > temper - TEMPER_MARGIN_K) {
        let text = format!(
            "The bath of {:.0} °C is within 30 K of the temper temperature, {temper_C:.0} °C, or over it: hardness is lost.",
            task.bath
        );
        answer.warnings.push(text);
    }
    if let (Some(coolant), Some(room), Some(used)) = (request.coolant, request.room, used) {
        let said = breathe(coolant, &room, used.coolant_kg, answer.time_s, &mut answer.room);
        let new: Vec<String> = said.into_iter().filter(|text| !answer.warnings.contains(text)).collect();
        answer.warnings.extend(new);
    }
    let warn = &mut answer.warnings;
    if request.coolant == Some(Coolant::Nitrogen) {
        warn.push(NITROGEN_SHOP.into());
    }
    if !found.stopped {
        warn.push(format!("The limit of steps was reached after {:.0} s, before the slowest point was near enough: the figures are those of that moment, the time is not known.", found.time));
    } else if !found.met {
        warn.push(format!(
            "The time still changed by {:.2} s when the mesh was halved, more than 0.2 % of it: a finer one would take more than the limit of work.",
            found.change
        ));
    }
    if request.bath.starts_with("freezer") && !(-60.0..=0.0).contains(&task.bath) {
        warn.push(format!("{:.0} °C is unusual for a freezer: -18 to -45 °C is usual.", task.bath));
    }
    if task.bath < -196.0 || task.start < -196.0 {
        warn.push("Colder than -196 °C the contraction is not known: it is taken as at -196 °C.".into());
    }
}

/// The room's air while the bush cools; what it says besides its figures is handed back.
fn breathe(coolant: Coolant, room: &Room, used_kg: f64, time_s: Option<f64>, told: &mut Option<RoomTold>) -> Vec<String> {
    let Some(minutes) = time_s.map(|time| time / 60.0).filter(|minutes| *minutes > 0.0 && *minutes <= LONGEST_ROOM_MIN) else {
        return vec!["The air of the room was not checked: the cooling takes longer than 8 h, or its time is not known.".into()];
    };
    let air = room_air(&RoomAir {
        gas: if coolant == Coolant::Nitrogen { Gas::Nitrogen } else { Gas::CarbonDioxide },
        gas_kg: used_kg + room.loss_kg_per_h * minutes / 60.0,
        duration_min: minutes,
        room_m3: room.room_m3,
        air_changes_per_h: room.air_changes_per_h.unwrap_or(0.0),
        air_C: room.air_C,
        coolant_total_kg: room.coolant_total_kg,
    });
    *told = Some(RoomTold {
        gas_m3: air.gas_m3,
        oxygen_pct_min: air.oxygen_pct_min,
        oxygen_pct_all_at_once: air.oxygen_pct_all_at_once,
        co2_ppm_peak: air.co2_ppm_peak,
        co2_ppm_8h: air.co2_ppm_8h,
    });
    let mut said = air.warnings;
    if room.air_changes_per_h.is_none() {
        said.push("No air changes were given: the room is taken as closed.".into());
    }
    said
}

const BUSH: [Key; 12] =
    joined(&part::BUSH, &[Key::quantity("start_C", Range::within(-273.0, 1000.0), "its temperature at first").default("20")]);

/// Words of `surfaces`.
pub const SURFACES: &[&str] = &["all", "sides", "outside", "outside_and_ends"];
/// A temperature of a bath.
pub const BATH_RANGE: Range = Range::within(-273.0, 1000.0);
/// Seconds that are asked for.
pub const AT_RANGE: Range = Range::at_least(0.0).to(1e9);

/// `cooling` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "cooling",
    help: "time and coolant to bring a bush to the bath's temperature",
    request: &[
        Key::record("bush", &BUSH, "the bush, or a pin with bore_mm 0").needed(),
        Key::word("bath", &["freezer", "freezer_fan", "dry_ice", "dry_ice_bath", "liquid_nitrogen", "custom"], "what it lies in").needed(),
        Key::number("bath_C", BATH_RANGE, "temperature of the bath").default("-78.5 dry ice, -195.8 nitrogen"),
        Key::number("h_W_m2K", Range::within(1e-3, 1e6), "surface coefficient, instead of the bath's").default("by the bath"),
        Key::number("boiling_factor", Range::within(0.01, 100.0), "times the boiling curve of nitrogen").default("1"),
        Key::word("surfaces", SURFACES, "which surfaces are wet").default("all"),
        Key::word("properties", &["low_temperature", "constant"], "how specific heat and conductivity change")
            .default("low_temperature; custom: constant"),
        Key::number("within_K", Range::over(0.0).to(1000.0), "how near the slowest point comes to the bath").default("2; nitrogen 5"),
        Key::numbers("at_s", AT_RANGE, "times at which the field is wanted").default("[]"),
        Key::number("section_at_s", AT_RANGE, "when the temperatures over half a section are wanted, for a picture"),
        Key::number("section_share", Range::within(0.0, 2.0), "the same, as a share of time_s"),
        Key::word("part", &["bronze", "carbon_steel", "hardened_steel", "stainless", "grey_iron", "aluminium"], "what it is made of")
            .default("bronze"),
        Key::number("temper_C", Range::within(0.0, 1000.0), "tempering temperature of a hardened part"),
        Key::number("air_C", Range::within(-60.0, 60.0), "temperature of the room's air").default("20"),
        Key::number("room_m3", Range::over(0.0).to(1e7), "volume of the room"),
        Key::number("air_changes_per_h", Range::at_least(0.0).to(1000.0), "its air changes an hour").default("none: a closed room"),
        Key::number("coolant_total_kg", Range::at_least(0.0).to(1e6), "all the coolant in the room"),
        Key::number("loss_kg_per_h", Range::at_least(0.0).to(1e5), "what the vessel loses by itself").default("0"),
    ],
    answer: &[
        Told { path: "time_s", help: "until the slowest point is within within_K; null when the limit of steps came first" },
        Told { path: "time_low_s", help: "the same at the high end of h; null where h was given" },
        Told { path: "time_high_s", help: "the same at the low end of h; null where h was given" },
        Told { path: "slowest_C", help: "then: the point farthest from the bath" },
        Told { path: "mean_C", help: "then: mean of the body" },
        Told { path: "outside_C", help: "then: mid-length, outside" },
        Told { path: "inside_C", help: "then: mid-length, at the bore or the axis" },
        Told { path: "outside_mm", help: "then: outside diameter at mid-length, with the doubt of the contraction" },
        Told { path: "contraction_um", help: "then: how much smaller than at 20 °C" },
        Told { path: "heat_kJ", help: "heat given up; negative when warmed" },
        Told { path: "coolant_kg", help: "coolant that boils off, by latent heat; null without a coolant" },
        Told { path: "coolant_min_kg", help: "the least, the gas leaving at 20 °C; null without a coolant" },
        Told { path: "coolant_L", help: "litres of nitrogen; null otherwise" },
        Told { path: "biot", help: "h w/k at the start" },
        Told { path: "lumped_time_s", help: "time with one temperature throughout" },
        Told { path: "numeric_u_s", help: "by how much time_s changed when the mesh was last halved" },
        Told { path: "at", help: "per time asked for: t_s, slowest_C, mean_C, outside_C, inside_C, outside_mm" },
        Told {
            path: "section",
            help: "at section_at_s or section_share: t_s, r_mm, z_mm from mid-length, T_C (a row a radius); null where not asked",
        },
        Told { path: "room", help: "the air of the room as room-air has it; null without room_m3 or coolant" },
    ],
    example: r#"{"bush": {"outside_mm": 240.13, "bore_mm": 200, "length_mm": 150, "alloy": "CC493K"}, "bath": "liquid_nitrogen",
        "room_m3": 240, "air_changes_per_h": 2, "coolant_total_kg": 30}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = cooling(&request);
    explain(&request, &answer, &mut desk.working);
    told(&answer)
}

/// Reads which surfaces are wet.
pub fn wet(given: &Given, ring: &Ring) -> Wet {
    let (bore, ends) = match given.word_or("surfaces", "all") {
        "sides" => (true, false),
        "outside" => (false, false),
        "outside_and_ends" => (false, true),
        _ => (true, true),
    };
    Wet { bore: bore && ring.bore > 0.0, ends }
}

/// Reads `within_K`; refused unless it is less than the whole way.
pub fn within(given: &Given, default: f64, start: f64, bath: f64) -> Result<f64, Refused> {
    let within = given.number_or("within_K", default);
    let whole = (start - bath).abs();
    if within >= whole {
        let allowed = format!("under the distance of part and bath, {whole:.3} K");
        let remedy = "come nearer to the bath, or leave the part as it is";
        return Err(if given.has("within_K") {
            given.refuse("within_K", allowed, remedy)
        } else {
            Refused::new("within_K", within, allowed, remedy)
        });
    }
    Ok(within)
}

fn read(given: &Given) -> Result<CoolingRequest, Refused> {
    let bush = given.need_record("bush")?;
    let (ring, properties) = (part::ring(&bush)?, Properties::read(&bush)?);
    let name = given.need_word("bath")?;
    let bath =
        BATHS.iter().find(|bath| bath.name == name).ok_or_else(|| given.refuse("bath", "a bath of the table", "choose one of them"))?;
    let bath_C = bath_C(given, bath)?;
    let (exchange, range) = exchange(given, bath)?;
    let start = bush.number_or("start_C", 20.0);
    let word = given.word_or("part", "bronze");
    let named = match word {
        "carbon_steel" | "hardened_steel" => Part::Steel,
        "stainless" => Part::Stainless,
        "grey_iron" => Part::GreyIron,
        "aluminium" => Part::Aluminium,
        _ => Part::Bronze,
    };
    let nitrogen = bath.coolant == Some(Coolant::Nitrogen);
    let low_temperature = given.word_or("properties", if name == "custom" { "constant" } else { "low_temperature" }) == "low_temperature";
    let metal = Metal { density: properties.density(&bush)?, cp: properties.cp(&bush)?, k: properties.k(&bush)?, low_temperature };
    let within = within(given, if nitrogen { 5.0 } else { 2.0 }, start, bath_C)?;
    Ok(CoolingRequest {
        task: Task { ring, wet: wet(given, &ring), metal, exchange, start, bath: bath_C, within, at: given.numbers("at_s") },
        range,
        alpha_per_K: properties.alpha(&bush)?.value,
        part: properties.as_part(named),
        hardened: word == "hardened_steel",
        aluminium_bronze: properties.aluminium_bronze,
        coolant: bath.coolant,
        bath: bath.name,
        temper_C: given.number("temper_C"),
        section_at: given.number("section_at_s").map(Moment::Seconds).or(given.number("section_share").map(Moment::Share)),
        room: given.number("room_m3").map(|room_m3| Room {
            room_m3,
            air_changes_per_h: given.number("air_changes_per_h"),
            air_C: given.number_or("air_C", 20.0),
            coolant_total_kg: given.number("coolant_total_kg"),
            loss_kg_per_h: given.number_or("loss_kg_per_h", 0.0),
        }),
    })
}

fn bath_C(given: &Given, bath: &Bath) -> Result<f64, Refused> {
    let Some(own) = bath.bath_C else {
        return given.need_number("bath_C");
    };
    match given.number("bath_C") {
        Some(bath_C) if (bath_C - own).abs() > SAME_K => {
            Err(given.refuse("bath_C", format!("{own} within 1 K: {} at 1 atm", bath.name), "leave bath_C out, or name the bath custom"))
        }
        _ => Ok(own),
    }
}

fn exchange(given: &Given, bath: &Bath) -> Result<(Exchange, Option<(Exchange, Exchange)>), Refused> {
    if let Some(h) = given.number("h_W_m2K") {
        return Ok((Exchange::Constant(h), None));
    }
    if let Some([low, h, high]) = bath.h {
        return Ok((Exchange::Constant(h), Some((Exchange::Constant(low), Exchange::Constant(high)))));
    }
    if bath.coolant == Some(Coolant::Nitrogen) {
        let boiling = Exchange::Nitrogen(given.number_or("boiling_factor", 1.0));
        return Ok((boiling, Some((boiling.times(1.0 / BOILING_RANGE), boiling.times(BOILING_RANGE)))));
    }
    Err(given.refuse(
        "h_W_m2K",
        "a surface coefficient of 0.001 to 1000000 W/(m² K)",
        "give h with a custom bath, or choose a bath of the table",
    ))
}

fn explain(request: &CoolingRequest, answer: &CoolingAnswer, working: &mut Working) {
    let task = &request.task;
    let h = task.exchange.flux((task.start - task.bath).abs()) / (task.start - task.bath).abs();
    let with = [("h W/m2K", h), ("w mm", 1e3 * task.ring.depth(task.wet)), ("k W/mK", task.metal.k)];
    working.step("Biot number", "Bi = h w/k", &with, &[("Bi", answer.biot)], "Incropera ch. 5");
    let with = [("m kg", task.metal.density * task.ring.volume()), ("A m2", task.ring.wet_area(task.wet)), ("within K", task.within)];
    let gives = [("lumped s", answer.lumped_time_s)];
    working.step("one temperature throughout", "t = integral of m c dT/(A q)", &with, &gives, "heat balance");
    let formula = "rho c dT/dt = (1/r) d/dr(r k dT/dr) + d/dz(k dT/dz), k dT/dn = -q at wet surfaces";
    let with = [("start C", task.start), ("bath C", task.bath), ("within K", task.within)];
    let gives = [("time s", answer.time_s.unwrap_or(f64::NAN)), ("change when the mesh is halved s", answer.numeric_u_s)];
    working.step("transient", formula, &with, &gives, "series: Carslaw and Jaeger ch. VI, VII; else finite volumes, Rosenbrock steps");
    let with = [("alpha 1/K", request.alpha_per_K), ("outside mm", 1e3 * task.ring.outside)];
    let gives = [("contraction um", answer.contraction_um.value)];
    working.step(
        "contraction",
        "D alpha x section mean of S(T)",
        &with,
        &gives,
        "Timoshenko and Goodier art. 151; S fitted to copper, Ekin 2006 (memory)",
    );
    if let Some(kg) = answer.coolant_kg {
        working.step("coolant", "heat/latent", &[("heat kJ", answer.heat_kJ)], &[("coolant kg", kg)], "latent heat at 1 atm");
    }
}
