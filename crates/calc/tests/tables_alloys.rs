//! The table of bush alloys and the rules of running clearance against independently collected figures: `checks/fits/bearing_alloys.csv`
//! (EN 1982, foundry sheets), `rules_of_thumb.csv`, `bush_standards.csv` and `running_clearance_per_mm.csv`.
#![allow(non_snake_case, reason = "keys and code agree: T_C, D, L are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use std::path::Path;

use calc::alloy::table::{alloy, metals};
use calc::crew::Alone;
use calc::run::clearance::STEPS_PERMILLE;
use calc::tables::{Row, Table};
use serde_json::{Value, json};

fn check(name: &str) -> Table {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/fits").join(name);
    Table::read(&std::fs::read_to_string(file).unwrap())
}

/// Lead as the standard's range: of "Cu 83-87; Sn 4-6; Pb 4-6" it is 4 to 6.
fn lead_range(composition: &str) -> Option<(f64, f64)> {
    let lead = composition.split("; ").find_map(|part| part.strip_prefix("Pb "))?;
    let (low, high) = lead.split_once('-')?;
    Some((low.parse().ok()?, high.parse().ok()?))
}

#[test]
fn the_alloys_hold_what_the_standard_and_the_sheets_say() {
    let table = check("bearing_alloys.csv");
    assert_eq!(table.rows().count(), 8);
    for row in table.rows() {
        let alloy = alloy(row.text("number")).unwrap();
        let id = alloy.id;
        assert_eq!(alloy.symbol, row.text("symbol"), "{id}");
        let same = |heading: &str, ours: Option<f64>| {
            if let Some(theirs) = row.number(heading) {
                assert_eq!(ours, Some(theirs), "{id}: {heading}");
            }
        };
        same("Rm_min_MPa", Some(alloy.Rm_MPa));
        same("Rp02_min_MPa", alloy.yield_MPa);
        same("A_min_pct", Some(alloy.A_pct));
        // CW459K: 120 is the hardness of the designation example of ISO 4382-2, one temper; 115 is our minimum over drawn tube and bar
        // (memory), the safe side for a bush that is bought without its temper named.
        if id == "CW459K" {
            assert_eq!((alloy.HB_min, row.number("HB_min")), (Some(115.0), Some(120.0)));
        } else {
            same("HB_min", alloy.HB_min);
        }
        // Sheets round density to 0.05 g/cm3 and differ by as much as 0.5 %; expansion is of 20 to 200 °C there, hence 1 %.
        let near = |heading: &str, ours: f64, share: f64| {
            if let Some(theirs) = row.number(heading) {
                assert!((ours / theirs - 1.0).abs() <= share, "{id}: {heading} is {ours}, the sheet has {theirs}");
            }
        };
        near("density_g_cm3", alloy.density_kg_m3 / 1000.0, 0.005);
        near("expansion_1e-6_per_K", alloy.alpha_per_K * 1e6, 0.01);
        near("conductivity_W_mK", alloy.k_W_mK, 0.005);
        if let Some((low, high)) = lead_range(row.text("composition_pct")) {
            assert!((low..=high).contains(&alloy.Pb_pct), "{id}: {} % lead is not within {low} to {high}", alloy.Pb_pct);
        }
    }
}

#[test]
fn metals_are_as_physics_allows() {
    for metal in metals() {
        assert!((2600.0..8100.0).contains(&metal.density_kg_m3), "{}", metal.id);
        assert!((60.0..220.0).contains(&metal.E_GPa) && (0.25..0.36).contains(&metal.nu), "{}", metal.id);
        assert!((9e-6..25e-6).contains(&metal.alpha_per_K), "{}", metal.id);
        assert!(metal.yield_MPa.is_none_or(|yield_MPa| yield_MPa < metal.Rm_MPa), "{}", metal.id);
        assert_eq!(metal.tension_limit_MPa, metal.is_grey_iron().then_some(0.3 * metal.Rm_MPa), "{}", metal.id);
    }
}

/// The rules shown beside a clearance on a journal of `D` mm, by the id that their words begin with.
fn rules(D: f64, lubrication: &str, motion: &str) -> impl Fn(&str) -> (f64, f64) {
    let request = json!({
        "journal_mm": D, "length_mm": D, "outside_mm": 1.2 * D, "alpha_bush_per_K": 1.8e-5, "alpha_housing_per_K": 1.17e-5,
        "alpha_journal_per_K": 1.15e-5, "interference_um": 50, "regime": "mixed", "lubrication": lubrication, "motion": motion,
        "states": [{"name": "at 20", "bush_C": 20, "housing_C": 20, "journal_C": 20}],
    });
    let answer = calc::answer("clearance", &request, &Alone, false).unwrap();
    move |id| {
        let rule = answer["rules"].as_array().unwrap().iter().find(|rule| rule["rule"].as_str().unwrap().starts_with(id));
        let rule: &Value = rule.unwrap_or_else(|| panic!("no rule {id}"));
        (rule["low_um"].as_f64().unwrap(), rule["high_um"].as_f64().unwrap())
    }
}

fn near(found: (f64, f64), wanted: (f64, f64), source: &str) {
    assert!((found.0 - wanted.0).abs() < 1e-6 && (found.1 - wanted.1).abs() < 1e-6, "{source}: {found:?}, wanted {wanted:?}");
}

#[test]
fn the_rules_beside_a_clearance_have_the_figures_of_their_rows() {
    let table = check("rules_of_thumb.csv");
    let row = |id: &str| -> Row { table.rows().find(|row| row.text("id") == id).unwrap() };
    let range = |id: &str| (row(id).number("value_low").unwrap(), row(id).number("value_high").unwrap());
    let D = 100.0;
    let (turning_in_oil, swing_in_grease) = (rules(D, "oil", "rotation"), rules(D, "grease", "swing"));
    let (low, high) = range("T12");
    near(turning_in_oil("T12"), (low * D, high * D), "T12, per mille");
    let (low, high) = range("T14");
    assert!(row("T14").text("unit").contains("plus 25..50 um"));
    near(turning_in_oil("T14"), (25.0 + low * D, 50.0 + high * D), "T14, per mille plus 25..50 um");
    assert!(row("T15").text("rule").contains("normal running 1.0 + 1.5 D thou"));
    near(turning_in_oil("T15"), (25.4 + 1.5 * D, 25.4 + 1.5 * D), "T15, one thou is 25.4 um");
    assert!(row("T18").text("rule").contains("1.5 to 3 per mille") && row("T18").text("rule").contains("1 to 1.5 per mille"));
    let (low, high) = range("T18");
    near(turning_in_oil("T18"), (low * D, 1.5 * D), "T18, oil-fed");
    near(swing_in_grease("T18"), (1.5 * D, high * D), "T18, grease");
}

#[test]
fn h8_e7_beside_a_clearance_is_that_of_the_computed_table() {
    let table = check("running_clearance_per_mm.csv");
    let mut seen = 0;
    for row in table.rows().filter(|row| row.text("fit") == "H8/e7") {
        let (D, min, max) = (row.number("d_mm").unwrap(), row.number("min_um").unwrap(), row.number("max_um").unwrap());
        near(rules(D, "oil", "rotation")("T17"), (min, max), "running_clearance_per_mm.csv");
        seen += 1;
    }
    assert!(seen >= 5, "{seen} rows of H8/e7");
    // The figures that T17 quotes, rounded as it prints them.
    for (D, permille) in [(30.0, 2.2), (100.0, 1.17), (200.0, 0.80)] {
        let (low, high) = rules(D, "oil", "rotation")("T17");
        assert!(((low + high) / 2.0 / D - permille).abs() < 0.05, "T17 at {D} mm: {}", (low + high) / 2.0 / D);
    }
}

#[test]
fn steps_of_relative_clearance_are_those_recalled_of_iso_12129_1() {
    let table = check("bush_standards.csv");
    let row = table.rows().find(|row| row.text("standard") == "ISO 12129-1" && row.text("topic") == "series").unwrap();
    let listed: Vec<f64> = row.text("fact").split([' ', ';']).map_while(|word| word.parse().ok()).collect();
    assert_eq!(listed, STEPS_PERMILLE);
}
