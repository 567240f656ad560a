//! What the air of a room becomes when a coolant boils into it: oxygen, carbon dioxide, and when to leave.
//!
//! Well mixed: near the bath and at floor level (both gases are heavy when cold) it is worse, and the answer says so. It replaces no monitor.

use serde::Serialize;
use serde_json::Value;

use super::chill;
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::expm1;
use crate::refused::Refused;
use crate::working::Working;

/// Oxygen of fresh air, %.
const FRESH_OXYGEN_PCT: f64 = 20.9;
/// Carbon dioxide of fresh air, ppm.
const FRESH_CO2_PPM: f64 = 420.0;
/// Under this an atmosphere is deficient, %. Source: OSHA 1910.134 (memory); many monitors warn first here (read).
const DEFICIENT_PCT: f64 = 19.5;
/// Second alarm of many monitors: leave, %. Source: accelerator-laboratory oxygen-deficiency pages (read).
const LEAVE_PCT: f64 = 18.0;
/// Carbon dioxide over 8 h, over 15 min, and immediately dangerous, ppm. Source: NIOSH pocket guide (read).
const CO2_8H_PPM: f64 = 5000.0;
const CO2_15MIN_PPM: f64 = 30_000.0;
const CO2_DANGER_PPM: f64 = 40_000.0;
/// Gas constant, J/(mol K), and one atmosphere, Pa (exact).
const R_GAS: f64 = 8.314_462_618;
const ATMOSPHERE_PA: f64 = 101_325.0;
const SHIFT_H: f64 = 8.0;

/// The gas that a coolant becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gas {
    /// From liquid nitrogen.
    Nitrogen,
    /// From dry ice.
    CarbonDioxide,
}

impl Gas {
    /// g/mol.
    const fn molar_mass(self) -> f64 {
        match self {
            Self::Nitrogen => 28.0134,
            Self::CarbonDioxide => 44.0095,
        }
    }
}

/// A room into which a coolant boils.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoomAir {
    /// Which gas.
    pub gas: Gas,
    /// Mass released over the time, kg.
    pub gas_kg: f64,
    /// Time over which it is released, min, at most 480.
    pub duration_min: f64,
    /// Volume of the room, m³.
    pub room_m3: f64,
    /// Air changes an hour, 0 or more.
    pub air_changes_per_h: f64,
    /// Air temperature, °C.
    pub air_C: f64,
    /// All the coolant that is in the room, kg.
    pub coolant_total_kg: Option<f64>,
}

/// The air of that room.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoomAirAnswer {
    /// Volume of the gas at 1 atm and the room's temperature, m³.
    pub gas_m3: f64,
    /// Least oxygen, at the end of the release, %.
    pub oxygen_pct_min: f64,
    /// Oxygen if all the coolant boiled at once, %; null without `coolant_total_kg`.
    pub oxygen_pct_all_at_once: Option<f64>,
    /// Highest carbon dioxide, ppm; null for nitrogen.
    pub co2_ppm_peak: Option<f64>,
    /// Mean carbon dioxide over 8 h, ppm; null for nitrogen.
    pub co2_ppm_8h: Option<f64>,
    /// Cautions of the coolant first, then what is passed.
    pub warnings: Vec<String>,
}

/// Oxygen and carbon dioxide of a well-mixed room.
///
/// v = R T/(M p); Q = air changes × V, R = release in m³/h over t hours, the fan carrying off mixed air (the more careful of the two usual
/// forms): R < Q: e = (R/Q)(1 − exp(−Qt/V)), else e = 1 − exp(−Rt/V); O2 = 20.9 (1 − e). Nothing is under 0 % or over 1e6 ppm.
/// Source: university safety-office appendix (read); accelerator-laboratory oxygen-deficiency model (read in outline).
pub fn room_air(room: &RoomAir) -> RoomAirAnswer {
    let m3_per_kg = R_GAS * (room.air_C + 273.15) / (room.gas.molar_mass() * 1e-3 * ATMOSPHERE_PA);
    let gas_m3 = room.gas_kg * m3_per_kg;
    let hours = room.duration_min / 60.0;
    let release = gas_m3 / hours;
    let removal = room.air_changes_per_h * room.room_m3;
    let share = if release < removal {
        -(release / removal) * expm1(-removal * hours / room.room_m3)
    } else {
        -expm1(-release * hours / room.room_m3)
    };
    let at_once = |kg: f64| (FRESH_OXYGEN_PCT * (1.0 - kg * m3_per_kg / room.room_m3)).max(0.0);
    let co2 = (room.gas == Gas::CarbonDioxide).then(|| {
        let peak = (FRESH_CO2_PPM + 1e6 * share).min(1e6);
        (peak, eight_hours_ppm(room.room_m3, release, removal, hours, share).min(1e6))
    });
    let mut answer = RoomAirAnswer {
        gas_m3,
        oxygen_pct_min: FRESH_OXYGEN_PCT * (1.0 - share),
        oxygen_pct_all_at_once: room.coolant_total_kg.map(at_once),
        co2_ppm_peak: co2.map(|(peak, _)| peak),
        co2_ppm_8h: co2.map(|(_, mean)| mean),
        warnings: Vec::new(),
    };
    answer.warnings = warnings(room.gas, &answer);
    answer
}

/// Mean over 8 h: 420 + 1e6/8 { (R/Q)[t − (V/Q)(1 − exp(−Qt/V))] + e (V/Q)(1 − exp(−Q(8 − t)/V)) }; without removal the braces are
/// R t²/(2V) + (R t/V)(8 − t).
fn eight_hours_ppm(V: f64, R: f64, Q: f64, t: f64, e: f64) -> f64 {
    let ppm_hours = if Q == 0.0 {
        R * t * t / (2.0 * V) + R * t / V * (SHIFT_H - t)
    } else {
        R / Q * (t + V / Q * expm1(-Q * t / V)) - e * V / Q * expm1(-Q * (SHIFT_H - t) / V)
    };
    FRESH_CO2_PPM + 1e6 / SHIFT_H * ppm_hours
}

/// The cautions of the coolant, then each level that is passed.
fn warnings(gas: Gas, answer: &RoomAirAnswer) -> Vec<String> {
    let mut warnings: Vec<String> = match gas {
        Gas::Nitrogen => chill::NITROGEN_CAUTIONS.map(str::to_owned).into(),
        Gas::CarbonDioxide => chill::DRY_ICE_CAUTIONS.map(str::to_owned).into(),
    };
    let least = answer.oxygen_pct_min;
    if least < LEAVE_PCT {
        warnings.push(format!(
            "Oxygen falls to {least:.1} %, under 19.5 % and under 18 %, where monitors say leave: more air, less coolant, or a larger room."
        ));
    } else if least < DEFICIENT_PCT {
        warnings.push(format!(
            "Oxygen falls to {least:.1} %, under 19.5 %: the room counts as deficient; more air, less coolant, or a larger room."
        ));
    }
    if let Some(at_once) = answer.oxygen_pct_all_at_once.filter(|at_once| *at_once < DEFICIENT_PCT) {
        warnings.push(format!("If the vessel spills, oxygen falls to {at_once:.1} %, under 19.5 %: doors open, a monitor, and a way out that is not past the vessel."));
    }
    if let Some(mean) = answer.co2_ppm_8h.filter(|mean| *mean > CO2_8H_PPM) {
        warnings.push(format!("Carbon dioxide is {mean:.0} ppm over 8 h, more than the 5000 ppm that are allowed."));
    }
    match answer.co2_ppm_peak {
        Some(peak) if peak > CO2_DANGER_PPM => warnings.push(format!(
            "Carbon dioxide reaches {peak:.0} ppm, over the 30 000 ppm of 15 minutes and over 40 000 ppm, which is immediately dangerous: nobody stays."
        )),
        Some(peak) if peak > CO2_15MIN_PPM => {
            warnings.push(format!("Carbon dioxide reaches {peak:.0} ppm, over the 30 000 ppm that are allowed for 15 minutes."));
        }
        _ => {}
    }
    warnings.push("Reckoned for well-mixed air: near the bath and at floor level it is worse, both gases are heavy when cold; an oxygen monitor decides. Local codes and licensed practice come first.".into());
    warnings
}

/// `room-air` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "room-air",
    help: "oxygen and carbon dioxide of the room a coolant boils into",
    request: &[
        Key::word("gas", &["nitrogen", "carbon_dioxide"], "which gas the coolant becomes").needed(),
        Key::number("gas_kg", Range::at_least(0.0).to(1e6), "mass released over the time").needed(),
        Key::number("duration_min", Range::within(0.001, 480.0), "time over which it is released").needed(),
        Key::number("room_m3", Range::over(0.0).to(1e7), "volume of the room").needed(),
        Key::number("air_changes_per_h", Range::at_least(0.0).to(1000.0), "air changes an hour").needed(),
        Key::number("air_C", Range::within(-60.0, 60.0), "temperature of the air").default("20"),
        Key::number("coolant_total_kg", Range::at_least(0.0).to(1e6), "all the coolant that is in the room"),
    ],
    answer: &[
        Told { path: "gas_m3", help: "volume of the gas at 1 atm and the air's temperature" },
        Told { path: "oxygen_pct_min", help: "least oxygen, well mixed" },
        Told { path: "oxygen_pct_all_at_once", help: "oxygen if all the coolant boiled at once; null without coolant_total_kg" },
        Told { path: "co2_ppm_peak", help: "highest carbon dioxide; null for nitrogen" },
        Told { path: "co2_ppm_8h", help: "mean carbon dioxide over 8 h; null for nitrogen" },
    ],
    example: r#"{"gas": "nitrogen", "gas_kg": 12, "duration_min": 20, "room_m3": 240, "air_changes_per_h": 2, "coolant_total_kg": 30}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let room = RoomAir {
        gas: if given.need_word("gas")? == "nitrogen" { Gas::Nitrogen } else { Gas::CarbonDioxide },
        gas_kg: given.need_number("gas_kg")?,
        duration_min: given.need_number("duration_min")?,
        room_m3: given.need_number("room_m3")?,
        air_changes_per_h: given.need_number("air_changes_per_h")?,
        air_C: given.number_or("air_C", 20.0),
        coolant_total_kg: given.number("coolant_total_kg"),
    };
    let answer = room_air(&room);
    explain(&room, &answer, &mut desk.working);
    told(&answer)
}

fn explain(room: &RoomAir, answer: &RoomAirAnswer, working: &mut Working) {
    working.step(
        "volume of the gas",
        "m R T/(M p)",
        &[("gas_kg", room.gas_kg), ("air_C", room.air_C)],
        &[("gas_m3", answer.gas_m3)],
        "ideal gas at 1 atm",
    );
    let with = [("room_m3", room.room_m3), ("air_changes_per_h", room.air_changes_per_h), ("duration_min", room.duration_min)];
    let formula = "R < Q: e = (R/Q)(1 - exp(-Qt/V)); else e = 1 - exp(-Rt/V); O2 = 20.9 (1 - e)";
    working.step(
        "least oxygen",
        formula,
        &with,
        &[("oxygen_pct_min", answer.oxygen_pct_min)],
        "well-mixed room: university safety office (read)",
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: RoomAir = RoomAir {
        gas: Gas::Nitrogen,
        gas_kg: 10.0,
        duration_min: 20.0,
        room_m3: 60.0,
        air_changes_per_h: 1.0,
        air_C: 20.0,
        coolant_total_kg: None,
    };

    #[test]
    fn more_gas_never_leaves_more_oxygen() {
        let mut last = 21.0;
        for gas_kg in [0.0, 1.0, 5.0, 20.0, 200.0, 20_000.0] {
            let oxygen = room_air(&RoomAir { gas_kg, ..ROOM }).oxygen_pct_min;
            assert!(oxygen < last && oxygen >= 0.0, "{gas_kg} kg: {oxygen}");
            last = oxygen;
        }
    }

    #[test]
    fn the_cautions_of_the_coolant_stand_above_the_levels() {
        for (gas, word) in [(Gas::Nitrogen, "glove"), (Gas::CarbonDioxide, "carbon dioxide")] {
            let said = room_air(&RoomAir { gas, gas_kg: 20.0, ..ROOM }).warnings;
            let level = said.iter().position(|text| text.contains("ppm") || text.contains("19.5")).unwrap();
            assert!(said.iter().position(|text| text.contains(word)).unwrap() < level, "{said:?}");
        }
    }

    #[test]
    fn a_closed_room_is_the_limit_of_a_little_air() {
        let closed = room_air(&RoomAir { gas: Gas::CarbonDioxide, air_changes_per_h: 0.0, ..ROOM });
        let nearly = room_air(&RoomAir { gas: Gas::CarbonDioxide, air_changes_per_h: 1e-6, ..ROOM });
        assert!((closed.oxygen_pct_min - nearly.oxygen_pct_min).abs() < 1e-4);
        // The mean over 8 h of a closed room counts the gas as added, that of an aired one as mixed: near each other while e is small.
        assert!((closed.co2_ppm_8h.unwrap() / nearly.co2_ppm_8h.unwrap() - 1.0).abs() < 0.1);
    }

    #[test]
    fn eighteen_per_cent_is_said_apart_from_nineteen_and_a_half() {
        let said = |gas_kg: f64| room_air(&RoomAir { gas_kg, ..ROOM }).warnings.join(" ");
        assert!(!said(0.5).contains("19.5"));
        assert!(said(6.0).contains("19.5") && !said(6.0).contains("18 %"));
        assert!(said(20.0).contains("18 %"));
    }
}
