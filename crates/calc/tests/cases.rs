//! Every case of `checks/**/cases.jsonl` of a kind that is built, run through the same door as every other request.
//!
//! A case that is not met is a defect of ours, never a case to delete or widen.

#![allow(clippy::unwrap_used, clippy::panic, clippy::expect_used, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use calc::compute::{KINDS, answer};
use calc::crew::Alone;
use serde_json::Value;

fn checks() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks")
}

/// All cases, by kind.
fn cases() -> BTreeMap<String, Vec<Value>> {
    let mut by_kind: BTreeMap<String, Vec<Value>> = BTreeMap::new();
    let mut folders: Vec<_> = std::fs::read_dir(checks()).unwrap().map(|entry| entry.unwrap().path().join("cases.jsonl")).collect();
    folders.sort();
    for file in folders.iter().filter(|file| file.exists()) {
        for line in std::fs::read_to_string(file).unwrap().lines().filter(|line| !line.trim().is_empty()) {
            let case: Value = serde_json::from_str(line).unwrap();
            by_kind.entry(case["kind"].as_str().unwrap().to_owned()).or_default().push(case);
        }
    }
    by_kind
}

/// What is at a dotted path: names and list positions, a `/` inside a name kept.
fn at<'v>(answer: &'v Value, path: &str) -> Option<&'v Value> {
    path.split('.').try_fold(answer, |value, part| match value {
        Value::Array(list) => list.get(part.parse::<usize>().ok()?),
        Value::Object(map) => map.get(part),
        _ => None,
    })
}

/// Why `found` does not meet `wanted`; none when it does.
fn fault(found: Option<&Value>, wanted: &Value) -> Option<String> {
    let Some(found) = found else {
        return (wanted.get("is") != Some(&Value::Null)).then(|| format!("nothing there, wanted {wanted}"));
    };
    let number = || found.get("value").unwrap_or(found).as_f64();
    if let Some(value) = wanted.get("value").and_then(Value::as_f64) {
        let within = |name: &str, scale: f64| wanted.get(name).and_then(Value::as_f64).map_or(0.0, |tolerance| tolerance * scale);
        let allowed = within("abs", 1.0).max(within("rel", value.abs()));
        let met = number().is_some_and(|x| (x - value).abs() <= allowed);
        return (!met).then(|| format!("{found}, wanted {value} within {allowed:e}"));
    }
    if let Some(wanted) = wanted.get("is") {
        let same = match (number(), wanted.as_f64()) {
            (Some(x), Some(y)) => x == y,
            _ => found == wanted,
        };
        return (!same).then(|| format!("{found}, wanted {wanted}"));
    }
    if let Some(word) = wanted.get("contains") {
        let has = match found {
            Value::Array(list) => {
                list.iter().any(|item| item == word || item.as_str().is_some_and(|text| text.contains(word.as_str().unwrap_or("\u{0}"))))
            }
            Value::String(text) => text.contains(word.as_str().unwrap_or("\u{0}")),
            _ => false,
        };
        return (!has).then(|| format!("{found}, wanted it to contain {word}"));
    }
    let least = wanted.get("min").and_then(Value::as_f64).unwrap_or(f64::NEG_INFINITY);
    let most = wanted.get("max").and_then(Value::as_f64).unwrap_or(f64::INFINITY);
    let met = number().is_some_and(|x| least <= x && x <= most);
    (!met).then(|| format!("{found}, wanted {least} to {most}"))
}

fn run(kind: &str) {
    let cases = cases().remove(kind).unwrap_or_default();
    assert!(!cases.is_empty(), "no case of {kind} in checks/");
    let mut faults = Vec::new();
    for case in &cases {
        let id = case["id"].as_str().unwrap();
        let wanted = case["expect"].as_object().unwrap();
        let found = answer(kind, &case["input"], &Alone, false);
        match (&found, wanted.get("")) {
            (Err(_), Some(_)) => {}
            (Ok(_), Some(_)) => faults.push(format!("{id}: answered, wanted a refusal")),
            (Err(refused), None) => faults.push(format!("{id}: refused: {refused}")),
            (Ok(found), None) => {
                for (path, wanted) in wanted {
                    if let Some(fault) = fault(at(found, path), wanted) {
                        faults.push(format!("{id}: {path} is {fault}"));
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{} faults in {} cases of {kind}:\n{}", faults.len(), cases.len(), faults.join("\n"));
}

macro_rules! kinds {
    ($($test:ident $kind:literal),* $(,)?) => {
        $(#[test] fn $test() { run($kind); })*
        const TESTED: &[&str] = &[$($kind),*];
    };
}

kinds! {
    uncertainty "uncertainty", verdict "verdict", least_squares "least-squares", repeatability "repeatability", survey "survey",
    spot "spot", quantile "quantile", to_20 "to-20", gauge_errors "gauge-errors", lobes "lobes", limits "limits", duty "duty",
    alloys "alloys", fit "fit", fit_choose "fit-choose", fit_map "fit-map", fit_chance "fit-chance", removal "removal",
    retainer "retainer", stock "stock", room_air "room-air", press "press", viscosity "viscosity", clearance "clearance",
    groove "groove", fit_shape "fit-shape", aim "aim", next_cut "next-cut", cut_trials "cut-trials", cooldown "cooldown", cooling "cooling", heating "heating",
    window "window", film "film", running "running",
}

#[test]
fn every_kind_with_cases_is_run_or_reserved() {
    for kind in cases().keys() {
        let reserved = KINDS.iter().any(|known| known.name == kind && known.run.is_none());
        assert!(reserved != TESTED.contains(&kind.as_str()), "{kind} is neither run here nor reserved, or both");
    }
}

#[test]
fn every_example_of_the_table_is_answered() {
    for kind in KINDS.iter().filter(|kind| kind.run.is_some()) {
        let request = calc::compute::read(kind.example).unwrap_or_else(|fault| panic!("{}: {fault}", kind.name));
        let found = answer(kind.name, &request, &Alone, true).unwrap_or_else(|fault| panic!("{}: {fault}", kind.name));
        for told in kind.answer.iter().filter(|told| !told.path.contains(['.', '['])) {
            assert!(
                found.get(told.path).is_some() || told.help.contains("only"),
                "{}: the example's answer has no {}",
                kind.name,
                told.path
            );
        }
        assert!(!found["working"].as_array().unwrap().is_empty(), "{}: no working", kind.name);
    }
}
