//! Seat, with a hot housing: how long in the oven, how far the bore opens, and what must not get so hot.

use calc::seat::chill::{self, Needed, WayIn};
use calc::shown;
use serde_json::json;

use super::Bench;
use super::ask::request;
use super::draft::Draft;
use super::found::Found;

const NO_HAMMER: &str = "Never hammer bronze or grey iron. Guard the line of force and stand clear; lifting gear for heavy parts. Local codes and licensed practice come first.";

pub fn write(bench: &Bench, draft: &mut Draft, found: &Found, way: &WayIn, needed: &Needed) {
    let (Some(alloy), Some(metal), Some(ring), Some(length)) = (found.alloy, found.metal, found.ring, found.length_mm) else { return };
    let (seat, system) = (bench.seat, bench.system);
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let method = seat.text("seating.oven").unwrap_or("fan_oven");
    let induction = method == "induction";
    let hot_C = seat.number("seating.oven_temperature").unwrap_or(way.limit_C);
    let warmed = draft.ask(
        "oven",
        "heating",
        request([
            (
                "housing",
                Some(json!({
                    "outside_mm": ring.value, "bore_mm": way.bore_mm, "length_mm": seat.number("housing.length").unwrap_or(length),
                    "metal": metal.id, "start_C": way.room_C,
                })),
            ),
            ("method", Some(json!(method))),
            ("medium_C", Some(json!(hot_C)).filter(|_| !induction)),
            ("target_C", Some(json!(hot_C)).filter(|_| induction)),
            ("power_kW", number("seating.power").filter(|_| induction)),
            ("oil_flash_C", number("seating.oil_flash").filter(|_| method == "hot_oil")),
            ("bush", Some(json!({"outside_mm": way.outside_mm, "alloy": alloy.id, "T_C": way.room_C}))),
            ("hand_clearance_mm", Some(json!(way.hand_mm))),
            ("limit_C", Some(json!(way.limit_C))),
            ("limit_what", Some(json!("the housing's limit"))),
        ]),
    );
    chill::HEAT_CAUTIONS.iter().for_each(|caution| draft.caution(*caution));
    draft.caution(NO_HAMMER);
    let Some(warmed) = warmed else { return };
    let oven = method.replace('_', " ");
    let time = warmed.number("time_s").map_or_else(|| "not known".to_owned(), shown::duration);
    let range = warmed.number("time_low_s").zip(warmed.number("time_high_s"));
    let range = range.map(|(low, high)| format!("{}, by how well the surface takes up heat", shown::durations(low, high)));
    let even = warmed.number("lag_K").map(|lag| format!("the outside leads the bore by {} K: let it even out", shown::three(lag)));
    draft.line(format!("time in the {oven} at {}", shown::temperature(hot_C, system)), time.clone(), range.or(even).unwrap_or_default());
    let housing_C = warmed.number("mean_C").unwrap_or(way.room_C);
    let aluminium_bronze = alloy.family.contains("aluminium bronze");
    let gap = chill::gap_mm(way, way.room_C, housing_C, aluminium_bronze);
    if let (Some(bore), Some(growth)) = (warmed.number("bore_mm"), warmed.number("growth_um")) {
        draft.line("bore then", shown::length(bore, 3, system), format!("{} larger than at 20 °C", shown::fine(growth, system)));
    }
    draft.line(
        "gap then",
        shown::size(&gap, system),
        format!(
            "on the diameter, bush at {}; {} wanted to go in by hand",
            shown::temperature(way.room_C, system),
            shown::length(way.hand_mm, 3, system)
        ),
    );
    draft.line(
        "housing, warmed to at least",
        shown::temperature(needed.housing_C, system),
        format!("its limit is {}", shown::temperature(way.limit_C, system)),
    );
    let words = shown::length(gap.value, 3, system);
    if gap.value < way.hand_mm {
        draft.need(format!(
            "heat alone gives {words}, less than the {} that is wanted: cool the bush in nitrogen and warm the housing to {} as well, or press it",
            shown::length(way.hand_mm, 3, system),
            shown::temperature(needed.both_C, system)
        ));
        draft.say(
            "heat is not enough",
            format!(
                "{words} gap on the diameter from a housing at {}: not enough to go in by hand.",
                shown::temperature(housing_C, system)
            ),
        );
        return;
    }
    draft.say(
        format!("{time} in the {oven}, gap {words}"),
        format!("{time} in the {oven} at {}, then a gap of {words} on the diameter: have the stop set, and put the bush in at once, since it warms in the hole.", shown::temperature(hot_C, system)),
    );
    draft.warn("The seconds until a hot housing grips are not on this sheet: the bush takes up its heat as soon as it lies against it. Do not stop half-way.");
    draft.source(
        "heating: exact field of a ring in a medium (Carslaw and Jaeger 1959); surface coefficients with their ranges by common practice",
    );
}
