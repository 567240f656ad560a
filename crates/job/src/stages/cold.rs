//! Seat, with a cold bush: minutes in the bath, coolant, the air of the room, and the seconds from the bath to the hole.

use calc::quantity::Quantity;
use calc::seat::chill::{self, Needed, WayIn};
use calc::{doubts, shown};
use serde_json::{Value, json};

use super::Bench;
use super::ask::{Said, quantity, request};
use super::draft::Draft;
use super::found::Found;

/// From the bath to the stop where nobody tried it, s. *Common practice*: a near bath, the way tried with the bush warm.
const HANDLING_S: f64 = 30.0;
/// Share of the time in the bath at which the section is drawn. The ends are cold by then, the middle is not.
const DRAWN_AT: f64 = 0.5;
/// A chance that is not enough to begin with. *Common practice*.
const CHANCE_WANTED: f64 = 0.9;
/// What a finer mesh would change is far within the range that stands beside the time.
const FINER_MESH: &str = "when the mesh was halved";
const NO_HAMMER: &str = "Never hammer bronze or grey iron. Guard the line of force and stand clear; lifting gear for heavy parts. Local codes and licensed practice come first.";

/// A bath that a bush is cooled in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bath {
    /// Liquid nitrogen.
    Nitrogen,
    /// Crushed dry ice, packed round.
    DryIce,
    /// Dry ice in a fluid.
    Slush,
    /// A freezer.
    Freezer,
}

impl Bath {
    /// The bath of a way in, if it is one.
    pub fn named(method: &str) -> Option<Self> {
        match method {
            "nitrogen" => Some(Self::Nitrogen),
            "dry_ice" => Some(Self::DryIce),
            "dry_ice_bath" => Some(Self::Slush),
            "freezer" => Some(Self::Freezer),
            _ => None,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Nitrogen => "nitrogen",
            Self::DryIce => "dry ice",
            Self::Slush => "a bath of dry ice",
            Self::Freezer => "the freezer",
        }
    }

    /// As `cooling` knows it.
    const fn word(self) -> &'static str {
        match self {
            Self::Nitrogen => "liquid_nitrogen",
            Self::DryIce => "dry_ice",
            Self::Slush => "dry_ice_bath",
            Self::Freezer => "freezer",
        }
    }
}

pub fn write(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, needed: &Needed, bath: Bath) {
    let Some(asked) = cooling(bench, draft, found, way, bath) else { return };
    // Of a stainless or aluminium housing the chilled bore is not brittle.
    let tough = found.metal.is_some_and(|metal| metal.id.starts_with("AlSi") || metal.id.starts_with("6082") || metal.id.starts_with('3'));
    let told: &[&str] = if tough { &[FINER_MESH, chill::COLD_HOUSING_CAUTION] } else { &[FINER_MESH] };
    let Some(cooled) = draft.ask_but("bath", "cooling", asked.clone(), told) else { return };
    draft.caution(NO_HAMMER);
    if let Value::Object(mut drawn) = asked {
        drawn.insert("section_share".into(), json!(DRAWN_AT));
        draft.keep("bath_section", "cooling", Value::Object(drawn));
    }
    let aluminium_bronze = found.alloy.is_some_and(|alloy| alloy.family.contains("aluminium bronze"));
    let Some(bush_C) = cooled.number("mean_C") else { return };
    let gap = chill::gap_mm(way, bush_C, way.room_C, aluminium_bronze);
    in_bath(bench, draft, found, way, &cooled, bath);
    let window = draft.ask_but("window", "window", window(bench, found, way, bush_C, aluminium_bronze), told);
    to_hole(bench, draft, way, needed, &gap, window.as_ref());
    say(bench, draft, way, needed, bath, &cooled, &gap, window.as_ref());
    draft.source("cooling: boiling curve and surface coefficients with their ranges (partly memory, common practice); contraction fitted to copper, 293 to 77 K (Ekin 2006, memory; NIST fit read), 5 % doubt, 6 % for aluminium bronze");
    draft.source("window: free convection Churchill and Chu 1975, radiation, frost; what the air brings 25 % in doubt; handling 30 s where not given (common practice)");
}

fn cooling(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, bath: Bath) -> Option<Value> {
    let (alloy, bush_bore, length) = (found.alloy?, found.fit_bore_mm?, found.length_mm?);
    let seat = bench.seat;
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let freezer_C = seat.number("seating.freezer").filter(|_| bath == Bath::Freezer);
    if bath == Bath::Freezer && freezer_C.is_none() {
        draft.need("seating.freezer, the temperature of the freezer");
        return None;
    }
    let uses_coolant = bath != Bath::Freezer;
    let room = number("shop.room_volume").filter(|_| uses_coolant);
    if uses_coolant && room.is_none() {
        draft.need("shop.room_volume and shop.air_changes, to check the air of the room before a coolant is brought in");
    }
    let aired = room.is_some();
    Some(request([
        (
            "bush",
            Some(
                json!({"outside_mm": way.outside_mm, "bore_mm": bush_bore, "length_mm": length, "alloy": alloy.id, "start_C": way.room_C}),
            ),
        ),
        ("bath", Some(json!(bath.word()))),
        ("bath_C", freezer_C.map(|T| json!(T))),
        ("air_C", Some(json!(way.room_C))),
        ("room_m3", room),
        ("air_changes_per_h", Some(json!(seat.number("shop.air_changes").unwrap_or(0.0))).filter(|_| aired)),
        ("coolant_total_kg", number("seating.coolant").filter(|_| aired)),
    ]))
}

fn window(bench: &Bench, found: &Found, way: &WayIn, bush_C: f64, aluminium_bronze: bool) -> Value {
    let seat = bench.seat;
    let outside = match (found.outside, found.band) {
        (Some(outside), _) => Quantity { dof: None, ..outside.size },
        (None, Some(band)) => band.as_quantity(),
        (None, None) => Quantity::exact(way.outside_mm),
    };
    let bore = found.bore.map_or(Quantity::exact(way.bore_mm), |bore| Quantity { dof: None, ..bore.size });
    request([
        (
            "bush",
            Some(json!({
                "outside_mm": quantity(outside), "bore_mm": found.fit_bore_mm, "length_mm": found.length_mm,
                "alloy": found.alloy.map(|alloy| &alloy.id), "start_C": quantity(doubts::stated_temperature(bush_C)),
                "alpha_per_K": quantity(chill::expansion_in_the_cold(way.bush_alpha_per_K, aluminium_bronze)),
            })),
        ),
        (
            "housing",
            Some(json!({
                "bore_mm": quantity(bore), "metal": found.metal.map(|metal| &metal.id),
                "T_C": quantity(doubts::stated_temperature(way.room_C)),
                "out_of_round_um": found.bore.and_then(|bore| bore.oval_um).map_or(0.0, |oval| oval.max(0.0)),
            })),
        ),
        ("air_C", Some(json!(way.room_C))),
        ("hand_clearance_mm", Some(json!(way.hand_mm))),
        ("entry_s", Some(json!(seat.number("seating.handling").unwrap_or(HANDLING_S)))),
    ])
}

/// Time, coolant, room.
fn in_bath(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, cooled: &Said, bath: Bath) {
    let system = bench.system;
    if let (Some(alloy), Some(bush_bore), Some(length)) = (found.alloy, found.fit_bore_mm, found.length_mm) {
        let mass = chill::ring_mass_kg(way.outside_mm, bush_bore, length, alloy.density_kg_m3);
        draft.line("mass of the bush", format!("{} kg", shown::three(mass)), "");
    }
    if let Some(time) = cooled.number("time_s") {
        let range = cooled.number("time_low_s").zip(cooled.number("time_high_s"));
        let range = range.map(|(low, high)| format!("{}, by how well the surface gives up heat", shown::durations(low, high)));
        let ends = cooled.number("slowest_C").map(|T| format!("its slowest point is then at {}", shown::temperature(T, system)));
        let note = [range, ends].into_iter().flatten().collect::<Vec<_>>().join("; ");
        draft.line(format!("time in {}", bath.words()), shown::duration(time), note);
    }
    if let Some(used) = cooled.number("coolant_kg") {
        let litres = cooled.number("coolant_L").map(|litres| format!(", {} l", shown::three(litres))).unwrap_or_default();
        let least = cooled.number("coolant_min_kg").map(shown::three).unwrap_or_default();
        draft.line(
            "coolant that the bush boils off",
            format!("{} kg{litres}", shown::three(used)),
            format!("{least} kg at the very least; filling the vessel takes more"),
        );
    }
    let mixed = "well mixed; worse near the bath and at the floor";
    for (path, label, unit, note) in [
        ("room.oxygen_pct_min", "oxygen in the room, least", "%", mixed),
        ("room.oxygen_pct_all_at_once", "oxygen if all of it boils at once", "%", ""),
        ("room.co2_ppm_peak", "carbon dioxide, peak", "ppm", mixed),
    ] {
        if let Some(x) = cooled.number(path) {
            draft.line(label, format!("{} {unit}", shown::three(x)), note);
        }
    }
}

/// The gap and the clock.
fn to_hole(bench: &Bench, draft: &mut Draft, way: &WayIn, needed: &Needed, gap: &Quantity, window: Option<&Said>) {
    let system = bench.system;
    draft.line(
        "gap as it leaves the bath",
        shown::size(gap, system),
        format!(
            "on the diameter, housing at {}; {} wanted to go in by hand",
            shown::temperature(way.room_C, system),
            shown::length(way.hand_mm, 3, system)
        ),
    );
    if let Some(said) = window {
        if let Some(to_hand) = said.number("seconds_to_hand").filter(|s| *s > 0.0) {
            let range = said.number("seconds_to_hand_low").zip(said.number("seconds_to_hand_high"));
            let range = range.map(|(low, high)| format!("{} (95 %)", shown::durations(low, high))).unwrap_or_default();
            draft.line("until only the gap for the hand is left", shown::duration(to_hand), range);
        }
        if let Some(touch) = said.number("seconds_to_touch") {
            draft.line("until it touches, in air", shown::duration(touch), "");
        }
        let handling = bench.seat.number("seating.handling").unwrap_or(HANDLING_S);
        if let Some(chance) = said.number("chance_hand_at_entry") {
            let gap = said.number("entry_clearance_mm").map(|mm| format!("gap then {}", shown::length(mm, 3, system))).unwrap_or_default();
            draft.line(format!("in time {} after the bath", shown::duration(handling)), shown::chance(chance, u64::MAX), gap);
        }
        if let Some(grip) = said.number("seconds_to_grip_in_hole") {
            draft.line(
                "in the hole it grips after",
                shown::duration(grip),
                "it must be at its stop by then; sooner where it lies on one side",
            );
        }
    }
    let alone = match needed.bush_C {
        Some(T) => (shown::temperature(T, system), "for the gap to go in by hand".to_owned()),
        None => {
            ("not even in nitrogen".into(), format!("with nitrogen the housing must be at {}", shown::temperature(needed.both_C, system)))
        }
    };
    draft.line("bush alone, cooled to", alone.0, alone.1);
    draft.line(
        "or the housing alone, warmed to",
        shown::temperature(needed.housing_C, system),
        format!("its limit is {}", shown::temperature(way.limit_C, system)),
    );
}

fn say(bench: &Bench, draft: &mut Draft, way: &WayIn, needed: &Needed, bath: Bath, cooled: &Said, gap: &Quantity, window: Option<&Said>) {
    let system = bench.system;
    let words = shown::length(gap.value, 3, system);
    let how = bath.words();
    if gap.value < way.hand_mm {
        draft.need(format!(
            "{how} alone gives {words}, less than the {} that is wanted: cool the bush in nitrogen and warm the housing to {} as well, or press it",
            shown::length(way.hand_mm, 3, system),
            shown::temperature(needed.both_C, system)
        ));
        draft.say(format!("{how} is not enough"), format!("{words} gap on the diameter from {how}: not enough to go in by hand."));
        return;
    }
    let time = cooled.number("time_s").map_or_else(|| "a time that is not known".to_owned(), shown::duration);
    let to_hand = window.and_then(|said| said.number("seconds_to_hand")).map(shown::duration);
    let clock = to_hand
        .as_ref()
        .map_or_else(|| "it stays loose".to_owned(), |left| format!("then {left} until the gap is too small to go in by hand"));
    draft.say(
        format!("{time} in {how}, then {}", to_hand.as_deref().unwrap_or("no hurry")),
        format!("{time} in {how}, {clock}: have the hole clean, the stop set and the way short before the bush leaves the bath."),
    );
    let handling = bench.seat.number("seating.handling").unwrap_or(HANDLING_S);
    if let Some(chance) = window.and_then(|said| said.number("chance_hand_at_entry")).filter(|chance| *chance < CHANCE_WANTED) {
        draft.need(format!(
            "{} after the bath only {} are in time: be quicker (seating.handling), or warm the housing as well",
            shown::duration(handling),
            shown::chance(chance, u64::MAX)
        ));
    }
}
