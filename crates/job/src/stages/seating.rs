//! Seat: the way in. By the press: force against travel and where to stop. By cold or heat: how cold, how much coolant, the room's air.

use calc::seat::chill::{self, Advice, Coolant, Part, WayIn};
use calc::{band, shown};
use serde_json::json;

use super::ask::{quantity, request};
use super::draft::Draft;
use super::found::Found;
use super::{Bench, note_staleness};

/// Minutes over which the coolant boils off while the bush cools, for the room's air. *Common practice*: a bath is filled once and watched.
const BATH_MIN: f64 = 30.0;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let Some(way) = way_in(bench, found) else {
        draft.need("the band, from Fit");
        return;
    };
    let needed = chill::needed(&way);
    let shrink = found.choose.text("seating") == Some("shrink");
    let advised = match (shrink, needed.advice) {
        (false, _) => "press",
        (true, Advice::DryIce) => "dry_ice",
        (true, Advice::Heat) => "heat",
        (true, _) => "nitrogen",
    };
    let method = bench.seat.text("seating.method").unwrap_or(advised);
    if let Some(taken) = bench.seat.decided("seating") {
        note_staleness(draft, taken, Some(advised));
    }
    match method {
        "press" => press(bench, draft, found),
        _ => expand(bench, draft, found, &way, &needed, method),
    }
}

fn way_in(bench: &Bench, found: &Found) -> Option<WayIn> {
    let (band, bore, alloy, metal) = (found.band?, found.bore?, found.alloy?, found.metal?);
    let outside_mm = found.outside.map_or(band.high_mm, |outside| outside.size.value);
    let aluminium = metal.id.starts_with("AlSi") || metal.id.starts_with("6082");
    Some(WayIn {
        outside_mm,
        bush_alpha_per_K: alloy.alpha_per_K,
        bush: if alloy.is_grey_iron() { Part::GreyIron } else { Part::Bronze },
        bore_mm: bore.size.value,
        housing_alpha_per_K: metal.alpha_per_K,
        room_C: bench.seat.number("shop.room").unwrap_or(20.0),
        hand_mm: bench.seat.number("seating.hand_clearance").unwrap_or_else(|| chill::hand_clearance_mm(outside_mm)),
        limit_C: bench.seat.number("housing.limit_temperature").unwrap_or(if aluminium { 150.0 } else { chill::HOTTEST_C }),
    })
}

fn press(bench: &Bench, draft: &mut Draft, found: &Found) {
    let (Some(alloy), Some(metal), Some(ring), Some(band), Some(bush_bore), Some(length)) =
        (found.alloy, found.metal, found.ring, found.band, found.fit_bore_mm, found.length_mm)
    else {
        return;
    };
    let seat = bench.seat;
    let last = found.warmth.len();
    let Some(effective) = found.fit.quantity(&format!("states.{last}.joints.0.effective_um")) else {
        draft.need("the fit at 20 °C, from Fit");
        return;
    };
    let system = bench.system;
    if effective.value <= 0.0 {
        draft.say("slides in", "Nothing to press: at 20 °C the bush is no larger than its hole; it slides in and the retainer carries it.");
        return;
    }
    let outside = found.outside.map_or(band.middle_mm(), |outside| outside.size.value);
    let lead = seat.number("bush.lead").unwrap_or_else(|| band::lead_mm(outside));
    let whole = band::travel_mm(lead, length);
    let said = draft.ask(
        "press",
        "press",
        request([
            (
                "bush",
                Some(request([
                    ("outside_mm", Some(json!(outside))),
                    ("bore_mm", Some(json!(bush_bore))),
                    ("length_mm", Some(json!(length))),
                    ("E_GPa", Some(json!(alloy.E_GPa))),
                    ("nu", Some(json!(alloy.nu))),
                    ("yield_MPa", seat.number("bush.yield").or(alloy.yield_MPa).map(|y| json!(y))),
                ])),
            ),
            ("housing", Some(json!({"outside_mm": ring.value, "E_GPa": metal.E_GPa, "nu": metal.nu}))),
            ("interference_um", Some(quantity(effective))),
            ("lubrication", Some(json!(seat.text("seating.lubrication").unwrap_or("oil")))),
            ("lead_mm", Some(json!(lead))),
            ("travel_mm", Some(json!(band::evenly(0.0, whole, 6)))),
            ("press_have_kN", seat.number("shop.press").map(|x| json!(x))),
        ]),
    );
    let Some(said) = said else { return };
    let force = |path: &str| said.number(path).map(|kN| shown::force(kN, system));
    let rows = said.list("force").into_iter().map(|row| {
        let cell = |path: &str| row.number(path).map(|kN| shown::force(kN, system)).unwrap_or_default();
        vec![
            row.number("travel_mm").map(|mm| shown::length(mm, 0, system)).unwrap_or_default(),
            cell("low_kN"),
            cell("mid_kN"),
            cell("high_kN"),
            cell("stop_kN"),
        ]
    });
    draft.grid("Force against travel", &["travel>", "least>", "expected>", "most>", "stop and look at>"], rows.collect());
    for (label, path) in [("press to have ready", "press_kN"), ("axial stress in the bush, at most", "axial_stress_MPa")] {
        let value = if path.ends_with("MPa") { said.number(path).map(|p| shown::stress(p, system)) } else { force(path) };
        if let Some(value) = value {
            draft.line(label, value, "");
        }
    }
    draft.line("lead", shown::length(lead, 1, system), "10 to 15°, no sharp edge: an edge ploughs the seat");
    let (mid, high) = (force("final_kN.mid").unwrap_or_default(), force("final_kN.high").unwrap_or_default());
    let stop = said.list("force").last().and_then(|row| row.number("stop_kN")).map(|kN| shown::force(kN, system)).unwrap_or_default();
    draft.say(
        format!("press, {mid} expected"),
        format!("{mid} to be expected at the end of the travel, {high} at most; stop and look for tilt, burr or dirt at {stop}."),
    );
    draft.source("press: friction of the lubrication named (memory, DIN 7190-1); Lamé pressure over the engaged length");
}

fn expand(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, needed: &chill::Needed, method: &str) {
    let system = bench.system;
    let aluminium_bronze = found.alloy.is_some_and(|alloy| alloy.family.contains("aluminium bronze"));
    let (bush_C, housing_C, cautions): (f64, f64, &[&str]) = match method {
        "nitrogen" => (chill::FROM_NITROGEN_C, way.room_C, &chill::NITROGEN_CAUTIONS),
        "dry_ice" => (chill::FROM_DRY_ICE_C, way.room_C, &chill::DRY_ICE_CAUTIONS),
        _ => (way.room_C, way.limit_C, &chill::HEAT_CAUTIONS),
    };
    cautions.iter().for_each(|caution| draft.caution(*caution));
    if method == "nitrogen"
        && !found.metal.is_some_and(|metal| metal.id.starts_with("AlSi") || metal.id.starts_with("6082") || metal.id.starts_with('3'))
    {
        draft.caution(chill::COLD_HOUSING_CAUTION);
    }
    draft.caution("Never hammer bronze or grey iron. Guard the line of force and stand clear; lifting gear for heavy parts. Local codes and licensed practice come first.");
    let gap = chill::gap_mm(way, bush_C, housing_C, aluminium_bronze);
    draft.line(
        "gap at the hole",
        shown::size(&gap, system),
        format!(
            "bush at {}, housing at {}; wanted {}",
            shown::temperature(bush_C, system),
            shown::temperature(housing_C, system),
            shown::length(way.hand_mm, 3, system)
        ),
    );
    draft.line(
        "housing alone, warmed to",
        shown::temperature(needed.housing_C, system),
        format!("its limit is {}", shown::temperature(way.limit_C, system)),
    );
    match needed.bush_C {
        Some(T) => draft.line("bush alone, cooled to", shown::temperature(T, system), "for the gap to go in by hand"),
        None => draft.line(
            "bush alone",
            "not even in nitrogen",
            format!("with nitrogen the housing must be at {}", shown::temperature(needed.both_C, system)),
        ),
    }
    if let Some(coolant) = match method {
        "nitrogen" => Some(Coolant::Nitrogen),
        "dry_ice" => Some(Coolant::DryIce),
        _ => None,
    } {
        cool(bench, draft, found, way, coolant);
    }
    let enough = gap.value >= way.hand_mm;
    let words = shown::length(gap.value, 3, system);
    let how = method.replace('_', " ");
    if enough {
        draft.say(
            format!("{how}, gap {words}"),
            format!("{words} gap on the diameter with {how} ({} is wanted to go in by hand): have the hole clean, the stop set and the way short before the bush leaves the bath.", shown::length(way.hand_mm, 3, system)),
        );
    } else {
        draft.need(format!("{how} alone gives {words}, less than the {} that is wanted: cool the bush in nitrogen and warm the housing to {} as well, or press it", shown::length(way.hand_mm, 3, system), shown::temperature(needed.both_C, system)));
        draft.say(format!("{how} is not enough"), format!("{words} gap on the diameter with {how}: not enough to go in by hand."));
    }
    draft.warn("The seconds until the bush grips are not on this sheet: it warms on the way. Wipe the frost off the outside, do not stop half-way.");
    draft.source("contraction: fitted to copper, 293 to 77 K (Ekin 2006, memory; NIST fit read); 5 % doubt, 6 % for aluminium bronze");
}

fn cool(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, coolant: Coolant) {
    let (Some(alloy), Some(bush_bore), Some(length)) = (found.alloy, found.fit_bore_mm, found.length_mm) else { return };
    let mass = chill::ring_mass_kg(way.outside_mm, bush_bore, length, alloy.density_kg_m3);
    let used = chill::coolant_use(coolant, mass, alloy.cp_J_kgK, way.room_C);
    let litres = used.coolant_L.map(|litres| format!(", {} l", shown::three(litres))).unwrap_or_default();
    draft.line("mass of the bush", format!("{} kg", shown::three(mass)), "");
    draft.line(
        "coolant that the bush boils off",
        format!("{} kg{litres}", shown::three(used.coolant_kg)),
        format!("{} kg at the very least; filling the vessel takes more", shown::three(used.coolant_min_kg)),
    );
    let seat = bench.seat;
    let Some(room) = seat.number("shop.room_volume") else {
        draft.warn("The room was not checked: write shop.room_volume and shop.air_changes before a coolant is brought in.");
        draft.need("shop.room_volume and shop.air_changes, to check the air of the room before a coolant is brought in");
        return;
    };
    let gas = match coolant {
        Coolant::Nitrogen => "nitrogen",
        Coolant::DryIce => "carbon_dioxide",
    };
    let said = draft.ask(
        "room_air",
        "room-air",
        request([
            ("gas", Some(json!(gas))),
            ("gas_kg", Some(json!(used.coolant_kg))),
            ("duration_min", Some(json!(BATH_MIN))),
            ("room_m3", Some(json!(room))),
            ("air_changes_per_h", Some(json!(seat.number("shop.air_changes").unwrap_or(0.0)))),
            ("air_C", Some(json!(way.room_C))),
            ("coolant_total_kg", Some(json!(used.coolant_kg))),
        ]),
    );
    for (path, label, unit) in [
        ("oxygen_pct_min", "oxygen in the room, least", "%"),
        ("oxygen_pct_all_at_once", "oxygen if it all boils at once", "%"),
        ("co2_ppm_peak", "carbon dioxide, peak", "ppm"),
    ] {
        if let Some(x) = said.as_ref().and_then(|said| said.number(path)) {
            draft.line(label, format!("{} {unit}", shown::three(x)), "well mixed; worse near the bath and at the floor");
        }
    }
}
