//! Seat: the way in. By the press: force against travel and where to stop. Cold and heat have their own pages beside this one.

use calc::quantity::Quantity;
use calc::seat::chill::{self, Advice, Part, WayIn};
use calc::units::System;
use calc::{band, shown};
use serde_json::{Value, json};

use super::ask::{Said, quantity, request};
use super::cold::Bath;
use super::draft::Draft;
use super::found::Found;
use super::{Bench, cold, lathe, note_staleness, warm};
use crate::lathe::step::Surface;
use crate::state::{Feature, Seat};
use crate::{pressing, show};

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
    let decided = bench.seat.decided("seating");
    let method = decided.map(|taken| taken.choice.as_str()).or(bench.seat.text("seating.method")).unwrap_or(advised);
    if let Some(taken) = decided {
        note_staleness(draft, taken, Some(advised));
    }
    // The band was reckoned for what was given before: by a press the roughness is pushed flat, with cold or heat it is not.
    let reckoned = bench.seat.text("seating.method").unwrap_or("press");
    if decided.is_some() && (method == "press") != (reckoned == "press") {
        let (method, reckoned) = (method.replace('_', " "), reckoned.replace('_', " "));
        draft.need(format!(
            "it is decided to go in by {method}, and the band was reckoned for {reckoned}: give how it goes in at Fit, and decide the band again"
        ));
    }
    match (method, Bath::named(method)) {
        (_, Some(bath)) => cold::write(bench, draft, found, &way, &needed, bath),
        ("heat", _) => warm::write(bench, draft, found, &way, &needed),
        _ => press(bench, draft, found),
    }
    match bench.seat.events.iter().rev().find(|event| event.what == "fitted") {
        Some(fitted) => {
            let by = show::by(&[&fitted.who, &fitted.day]);
            draft.sheet.brief = if by.is_empty() { "fitted".into() } else { format!("fitted: {by}") };
        }
        // Who measures or bores it in its seat has fitted it.
        None if bench.seat.sets_of(Feature::FittedBore).next().is_some() || lathe::was_started(bench, Surface::Bore) => {}
        None => draft.ready(),
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

/// Readings at the press, as the calculation asks for them.
fn readings(seat: &Seat) -> Vec<Value> {
    let row = |(travel_mm, force_kN): (f64, f64)| json!({"travel_mm": travel_mm, "force_kN": force_kN});
    pressing::readings(&seat.events).into_iter().map(row).collect()
}

/// What the readings say while it goes in.
fn live(draft: &mut Draft, said: &Said, system: System) {
    let force = |value: &str, u: &str| {
        let (value, u) = (said.number(value)?, said.number(u)?);
        Some(shown::force_quantity(&Quantity::with_u(value, u), system))
    };
    let word = match said.text("live.status") {
        Some("stop") => "stop, back off and look",
        Some("low") => "too easy to hold as planned",
        Some(_) => "as expected",
        None => return,
    };
    draft.line("by the readings so far", word, "");
    for (label, value, u) in [
        ("force at the end, as it goes now", "live.final_kN", "live.final_u_kN"),
        ("axial force that it will hold", "live.hold_kN", "live.hold_u_kN"),
    ] {
        if let Some(force) = force(value, u) {
            draft.line(label, force, "95 %");
        }
    }
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
            ("readings", Some(readings(seat)).filter(|readings| !readings.is_empty()).map(Value::Array)),
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
    live(draft, &said, system);
    draft.line("lead", shown::length(lead, 1, system), "10 to 15°, no sharp edge: an edge ploughs the seat");
    let (mid, high) = (force("final_kN.mid").unwrap_or_default(), force("final_kN.high").unwrap_or_default());
    let stop = said.list("force").last().and_then(|row| row.number("stop_kN")).map(|kN| shown::force(kN, system)).unwrap_or_default();
    draft.say(
        format!("press, {mid} expected"),
        format!("{mid} to be expected at the end of the travel, {high} at most; stop and look for tilt, burr or dirt at {stop}."),
    );
    draft.source("press: friction of the lubrication named (memory, DIN 7190-1); Lamé pressure over the engaged length");
}
