//! When friction alone does not hold: which retainer fits this wall and what it holds against a half-seized start.

use calc::shown;
use serde_json::{Map, Value, json};

use super::Bench;
use super::ask::Said;
use super::draft::Draft;
use super::fit_chance::Promises;
use super::found::Found;
use crate::show;

/// Shear strength that a hardened dowel or a plain screw is taken for when none is given, MPa. *Common practice*, not a maker's figure.
const PLAIN_SHEAR_MPA: f64 = 200.0;

pub fn write(bench: &Bench, draft: &mut Draft, found: &Found, promises: &Promises) {
    let Some(common) = common(bench, found, promises) else { return };
    let given = bench.seat.text("retainer.how").and_then(|how| given(bench, how));
    let wanted = found.choose.flag("retainer_needed");
    let asked = match given {
        Some(own) => Some(joined(&common, own)),
        None => candidate(draft, found, &common),
    };
    let Some(asked) = asked else {
        if wanted {
            draft.need("a retainer is needed and no pin, screw or compound of the usual sizes fits this wall: give [retainer] of your own, a flange, or a thicker wall");
        }
        return;
    };
    let needed = draft.try_out("retainer", &asked).is_some_and(|said| said.flag("needed"));
    if !(wanted || needed || bench.seat.text("retainer.how").is_some()) {
        return;
    }
    let Some(said) = draft.ask("retainer", "retainer", asked.clone()) else { return };
    tell(bench, draft, &asked, &said);
    if !said.flag("enough") {
        draft.need(format!(
            "the retainer is not enough: it is short by {}; take a larger one or more of them",
            said.text("limit").unwrap_or("its limit")
        ));
    }
}

/// The keys that every kind of retainer shares.
fn common(bench: &Bench, found: &Found, promises: &Promises) -> Option<Map<String, Value>> {
    let seat = bench.seat;
    let (bore, journal, alloy) = (found.bore?, found.journal?, found.alloy?);
    let mut asked = Map::new();
    // A brittle housing has no yield: its tension limit stands for it.
    let housing = found.metal.and_then(|metal| metal.yield_MPa.or(metal.tension_limit_MPa));
    let weaker = [alloy.yield_MPa, housing].into_iter().flatten().reduce(f64::min);
    let mut bush = json!({"outside_mm": bore.size.value, "bore_mm": journal.value, "length_mm": found.length_mm?});
    if let (Some(y), Some(map)) = (weaker, bush.as_object_mut()) {
        map.insert("yield_MPa".into(), json!(y));
    }
    asked.insert("bush".into(), bush);
    asked.insert("load_kN".into(), json!(seat.number("duty.peak_load").or_else(|| seat.number("duty.load"))?));
    for (key, path) in [
        ("mu_start", "duty.start_friction"),
        ("seize_factor", "duty.seize_factor"),
        ("shock_factor", "duty.shock_factor"),
        ("axial_kN", "duty.axial"),
    ] {
        if let Some(x) = seat.number(path).filter(|x| key != "axial_kN" || *x > 0.0) {
            asked.insert(key.into(), json!(x));
        }
    }
    let loosest = promises.loosest.as_ref().map(|warmth| warmth.name.as_str()).unwrap_or("at 20");
    let states = found.fit.list("states");
    let worst =
        states.iter().find(|state| state.text("name") == Some(loosest)).and_then(|state| state.number("joints.0.slip_torque_low_Nm"));
    asked.insert("fit_torque_low_Nm".into(), json!(worst.unwrap_or(0.0)));
    Some(asked)
}

/// The retainer that the person gave.
fn given(bench: &Bench, how: &str) -> Option<Vec<(&'static str, Value)>> {
    let fact = |what: &str| bench.seat.number(&format!("retainer.{what}"));
    let count = json!(fact("count").unwrap_or(1.0));
    let shear = json!(fact("shear").unwrap_or(PLAIN_SHEAR_MPA));
    Some(match how {
        "joint_pin" => vec![
            ("how", json!(how)),
            ("pin_mm", json!(fact("size")?)),
            ("pin_length_mm", json!(fact("length")?)),
            ("count", count),
            ("pin_shear_MPa", shear),
        ],
        "radial_screw" => vec![
            ("how", json!(how)),
            ("screw_mm", json!(fact("size")?)),
            ("depth_mm", json!(fact("length")?)),
            ("count", count),
            ("screw_shear_MPa", shear),
        ],
        "flange_screws" => vec![
            ("how", json!(how)),
            ("circle_mm", json!(fact("circle")?)),
            ("screw_mm", json!(fact("size")?)),
            ("count", count),
            ("screw_shear_MPa", shear),
        ],
        _ => {
            let mut own = vec![("how", json!(how)), ("shear_MPa", json!(fact("shear")?)), ("gap_mm", json!(fact("gap").unwrap_or(0.0)))];
            own.extend(fact("cover").map(|cover| ("cover_share", json!(cover))));
            let hottest =
                bench.seat.names("state").iter().filter_map(|name| bench.seat.number(&format!("state.{name}.bush"))).fold(20.0, f64::max);
            own.push(("T_C", json!(hottest)));
            own
        }
    })
}

fn joined(common: &Map<String, Value>, own: Vec<(&'static str, Value)>) -> Value {
    let mut asked = common.clone();
    asked.extend(own.into_iter().map(|(name, value)| (name.to_owned(), value)));
    Value::Object(asked)
}

/// The smallest of the usual pins that is enough, on the joint line; then screws through the housing.
fn candidate(draft: &mut Draft, found: &Found, common: &Map<String, Value>) -> Option<Value> {
    let length = found.length_mm?;
    for count in [1.0, 2.0, 3.0, 4.0, 6.0] {
        for pin in [5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0] {
            // A pin of two to three diameters is what a shop drills: longer ones wander.
            for long in [16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 60.0, 80.0] {
                if long > length || long > pin * 4.0 {
                    continue;
                }
                let own = vec![
                    ("how", json!("joint_pin")),
                    ("pin_mm", json!(pin)),
                    ("pin_length_mm", json!(long)),
                    ("count", json!(count)),
                    ("pin_shear_MPa", json!(PLAIN_SHEAR_MPA)),
                ];
                let asked = joined(common, own);
                if draft.try_out("retainer", &asked).is_some_and(|said| said.flag("enough")) {
                    return Some(asked);
                }
            }
        }
    }
    None
}

fn tell(bench: &Bench, draft: &mut Draft, asked: &Value, said: &Said) {
    let system = bench.system;
    let asked = Said::from(asked.clone());
    let what = match asked.text("how") {
        Some("joint_pin") => format!(
            "{} {} by {} on the joint line, half in bush and half in housing",
            show::counted(asked.count("count").and_then(|n| usize::try_from(n).ok()).unwrap_or(0), "pin"),
            asked.number("pin_mm").map(|mm| shown::length(mm, 0, system)).unwrap_or_default(),
            asked.number("pin_length_mm").map(|mm| shown::length(mm, 0, system)).unwrap_or_default()
        ),
        Some(how) => how.replace('_', " "),
        None => String::new(),
    };
    draft.line(
        "retainer",
        what,
        if bench.seat.text("retainer.how").is_some() {
            "as given"
        } else {
            "the smallest of the usual sizes that is enough; shear 200 MPa, common practice"
        },
    );
    for (path, label) in [("demand_Nm", "moment at a half-seized start"), ("capacity_Nm", "moment that the retainer holds")] {
        if let Some(Nm) = said.number(path) {
            draft.line(
                label,
                shown::torque(Nm, system),
                if path == "capacity_Nm" {
                    said.text("limit").map(|limit| format!("limited by {limit}")).unwrap_or_default()
                } else {
                    String::new()
                },
            );
        }
    }
    for (path, label) in [("safety", "safety of the retainer"), ("fit_safety", "safety of the friction alone")] {
        if let Some(safety) = said.number(path) {
            draft.line(
                label,
                shown::three(safety),
                said.number("wanted_safety").map(|wanted| format!("wanted {}", shown::three(wanted))).unwrap_or_default(),
            );
        }
    }
    if let Some(wall) = said.number("wall_left_mm") {
        draft.line("wall left beside it", shown::length(wall, 1, system), "");
    }
    draft.source("retainer: shear and bearing of the parts; friction and retainer are not added (common practice)");
}
