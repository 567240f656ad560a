//! Brief: the duty, the temperatures, the parts as they are, and how the old bush comes out.

use calc::alloy::table;
use calc::{band, shown};
use serde_json::json;

use super::Bench;
use super::ask::{Said, quantity, request};
use super::draft::Draft;
use super::found::{Found, Warmth};
use crate::state::Seat;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let seat = bench.seat;
    found.metal = seat.text("housing.metal").and_then(|id| table::housing(id).ok());
    found.journal_metal = table::housing(seat.text("journal.metal").unwrap_or("C45N")).ok();
    found.length_mm = seat.number("bush.length");
    found.ring = ring(bench, draft);
    found.warmth = warmth(bench);
    for path in ["machine", "failed", "hard"] {
        if let Some(text) = seat.text(path) {
            let label = match path {
                "failed" => "what failed",
                "hard" => "what makes it hard",
                other => other,
            };
            draft.line(label, text, "");
        }
    }
    if found.warmth.is_empty() {
        draft.need("no temperatures: write at least [brief.NAME.state.\"cold start\"] with bush and housing, and one for running");
    } else {
        let rows = found.warmth.iter().map(|warmth| {
            let T = |T_C: f64| shown::temperature(T_C, bench.system);
            vec![warmth.name.clone(), T(warmth.bush_C), T(warmth.housing_C), T(warmth.journal_C)]
        });
        draft.grid("Temperatures at which it must hold", &["state", "bush>", "housing>", "journal>"], rows.collect());
    }
    let duty = duty(bench, draft, found);
    removal(bench, draft, found);
    match duty {
        Some(said) => {
            let pressure = said.number("pressure_MPa").map(|p| shown::stress(p, bench.system)).unwrap_or_default();
            let regime = said.text("regime").unwrap_or("unknown").to_owned();
            let speed = said.number("speed_m_s").map(|v| format!("{} m/s", shown::three(v))).unwrap_or_default();
            draft.say(
                format!("{pressure}, {speed}, {regime}"),
                format!("{pressure} mean pressure on the projected area at {speed}: {regime} running."),
            );
            found.duty = said;
        }
        // What is asked at later stages is not missed here.
        None if is_given(seat) => {
            draft.say("given", "The duty is given; its pressure and speed follow with the journal and the length of the bush.");
        }
        None => draft.need("the duty is not complete: its load, and its motion with speed or swing"),
    }
}

/// Whether everything was said of the duty that is asked here.
fn is_given(seat: &Seat) -> bool {
    let has = |path: &str| seat.number(path).is_some();
    let moves = match seat.text("duty.motion") {
        Some("rotation") => has("duty.speed"),
        Some("swing") => has("duty.swing") && has("duty.swings"),
        Some(_) => true,
        None => false,
    };
    has("duty.load") && moves
}

/// The ring that stands for the housing. Source: `fit` b.7.
fn ring(bench: &Bench, draft: &mut Draft) -> Option<calc::quantity::Quantity> {
    let seat = bench.seat;
    let bore = seat.number("housing.nominal").or_else(|| {
        let sets = seat.sets_of(crate::state::Feature::HousingBore);
        sets.flat_map(|set| &set.readings).map(|reading| reading.size_mm).next()
    });
    let shape = seat.text("housing.shape").unwrap_or("round");
    let outside = seat.quantity("housing.outside");
    let ring = match shape {
        "round" => outside,
        "square" => bore.zip(outside).map(|(bore, side)| calc::fit::equivalent::square(side.value, bore)),
        "rectangle" => bore.zip(outside).map(|(bore, side)| calc::fit::equivalent::rectangle(side.value, bore)),
        _ => {
            let ends = seat.number("housing.outside_least").zip(seat.number("housing.outside_most"));
            bore.zip(ends).map(|(bore, (least, most))| calc::fit::equivalent::between(least, most, bore))
        }
    };
    if let Some(ring) = ring.filter(|ring| ring.u > 0.0 || shape == "round") {
        draft.line(
            "equivalent ring of the housing",
            shown::length(ring.value, 0, bench.system),
            format!("outline {shape}, standard uncertainty {}", shown::length(ring.u, 1, bench.system)),
        );
    }
    ring
}

fn warmth(bench: &Bench) -> Vec<Warmth> {
    let seat = bench.seat;
    let states = seat.names("state").into_iter().filter_map(|name| {
        let T = |part: &str| seat.number(&format!("state.{name}.{part}"));
        let bush_C = T("bush").or_else(|| T("housing"))?;
        let housing_C = T("housing").unwrap_or(bush_C);
        Some(Warmth { name: name.to_owned(), bush_C, housing_C, journal_C: T("journal").unwrap_or(bush_C) })
    });
    states.collect()
}

fn duty(bench: &Bench, draft: &mut Draft, found: &Found) -> Option<Said> {
    let seat = bench.seat;
    let diameter = seat.quantity("journal.diameter").or_else(|| {
        seat.sets_of(crate::state::Feature::Journal)
            .flat_map(|set| &set.readings)
            .map(|reading| calc::quantity::Quantity::exact(reading.size_mm))
            .next()
    });
    let hottest =
        found.warmth.iter().map(|warmth| warmth.bush_C).fold(None, |most: Option<f64>, T| Some(most.map_or(T, |most| most.max(T))));
    let motion = seat.text("duty.motion")?;
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let word = |path: &str| seat.text(path).map(|word| json!(word));
    let lubrication = seat.text("duty.lubrication").unwrap_or("grease");
    let said = draft.ask(
        "duty",
        "duty",
        request([
            ("load_kN", Some(json!(seat.number("duty.load")?))),
            ("peak_load_kN", number("duty.peak_load")),
            ("diameter_mm", Some(json!(diameter?.value))),
            ("length_mm", Some(json!(found.length_mm?))),
            ("motion", Some(json!(motion))),
            ("speed_rpm", number("duty.speed").filter(|_| motion == "rotation")),
            ("swing_deg", number("duty.swing").filter(|_| motion == "swing")),
            ("swings_per_min", number("duty.swings").filter(|_| motion == "swing")),
            ("lubrication", Some(json!(lubrication))),
            ("oil", number("duty.oil_vg").filter(|_| matches!(lubrication, "oil" | "grease")).map(|vg| json!({"iso_vg": vg}))),
            ("temperature_C", hottest.map(|T| json!(T))),
            ("dirt", word("duty.dirt")),
            ("shock", word("duty.shock")),
        ]),
    )?;
    let system = bench.system;
    for (path, label) in [("pressure_MPa", "mean pressure"), ("peak_pressure_MPa", "peak pressure")] {
        if let Some(p) = said.number(path) {
            draft.line(label, shown::stress(p, system), "on the projected area");
        }
    }
    for (path, label, unit) in [
        ("speed_m_s", "sliding speed, mean", "m/s"),
        ("pv_MPa_m_s", "pv", "MPa m/s"),
        ("friction_power_high_W", "friction heat, at most", "W"),
        ("arc_mm", "arc of a swing", "mm"),
    ] {
        if let Some(x) = said.number(path) {
            draft.line(label, format!("{} {unit}", shown::three(x)), "");
        }
    }
    draft.source("duty: projected area; transition speed by Vogelpohl 1954 (recalled); friction ranges partly common practice");
    Some(said)
}

/// How the old bush comes out.
fn removal(bench: &Bench, draft: &mut Draft, found: &Found) {
    let seat = bench.seat;
    let (Some(alloy), Some(bore), Some(outside)) =
        (seat.text("old_bush.alloy").and_then(|id| table::alloy(id).ok()), seat.number("old_bush.bore"), seat.number("old_bush.outside"))
    else {
        return;
    };
    let (Some(metal), Some(ring), Some(least)) = (found.metal, found.ring, seat.quantity("old_bush.interference")) else {
        draft.warn("How the old bush comes out was not worked out: it needs old_bush.interference, housing.metal and housing.outside.");
        return;
    };
    let interference = match seat.number("old_bush.interference_most") {
        Some(most) => band::between(least.value, most),
        None => least,
    };
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let limit_C = number("housing.limit_temperature")
        .or_else(|| metal.id.starts_with("60").then(|| json!(150.0)))
        .or_else(|| metal.id.starts_with("AlSi").then(|| json!(150.0)));
    let Some(said) = draft.ask(
        "removal",
        "removal",
        request([
            (
                "bush",
                Some(json!({
                    "outside_mm": outside, "bore_mm": bore, "length_mm": seat.number("old_bush.length").or(found.length_mm),
                    "E_GPa": alloy.E_GPa, "nu": alloy.nu, "alpha_per_K": alloy.alpha_per_K,
                })),
            ),
            ("housing", Some(json!({"outside_mm": ring.value, "E_GPa": metal.E_GPa, "nu": metal.nu, "alpha_per_K": metal.alpha_per_K}))),
            ("interference_um", Some(quantity(interference))),
            ("limit_C", limit_C),
            ("press_kN", number("shop.press")),
        ]),
    ) else {
        return;
    };
    let system = bench.system;
    if let (Some(low), Some(high)) = (said.number("force_low_kN"), said.number("force_high_kN")) {
        draft.line(
            "force to press the old bush out",
            format!("{} to {}", shown::force(low, system), shown::force(high, system)),
            said.text("advice").map(|advice| format!("advice: {}", advice.replace('_', " "))).unwrap_or_default(),
        );
    }
    for (path, label) in [("free_housing_C", "housing that frees it, bush kept cool"), ("free_together_C", "both together, free at")] {
        if let Some(T) = said.number(path) {
            draft.line(label, shown::temperature(T, system), "");
        }
    }
}
