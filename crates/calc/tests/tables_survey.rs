//! The bulk data of `checks/measure` that `survey`, `spot`, `to-20`, `gauge-errors` and `lobes` answer for, against the functions.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first row that can't be read")]

use std::path::Path;

use calc::measure::gauge_errors::{Effect, gauge_error, lobes};
use calc::measure::prior::GaugePrior;
use calc::measure::spot::{Spot, spot};
use calc::measure::survey::fit::Form;
use calc::measure::survey::model::{Contacts, Place};
use calc::measure::survey::{Reading, Survey, SurveyAnswer, survey};
use calc::measure::to_20::{WarmReading, size_at_20};
use calc::quantity::Quantity;
use calc::tables::Table;
use serde_json::Value;

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/measure").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
}

fn near(what: &str, found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "{what}: {found}, wanted {wanted} within {tolerance:e}");
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn gauge(record: &Value) -> GaugePrior {
    let at = |key: &str| number(&record[key]);
    GaugePrior { resolution_mm: at("resolution_mm"), repeatability_mm: at("prior_repeatability_mm"), dof: at("prior_dof") }
}

/// Answers a survey of the check files, whose readings are [z, angle, diameter].
fn answer(record: &Value) -> SurveyAnswer {
    let readings = record["readings"].as_array().unwrap().iter().map(|reading| Reading {
        place: Place { z_mm: number(&reading[0]), angle_deg: number(&reading[1]) },
        reading_mm: number(&reading[2]),
        part_T_C: None,
    });
    let request = Survey {
        nominal_mm: number(&record["nominal_mm"]),
        readings: readings.collect(),
        z_mid_mm: record["z_mid_mm"].as_f64(),
        span_mm: record["span_L_mm"].as_f64(),
        gauge: gauge(record),
        warmth: None,
        contacts: Contacts::Two,
        need: Vec::new(),
        alpha_level: 0.05,
        wanted_u_mm: None,
    };
    survey(&request).unwrap()
}

/// Compares a fit with what the file expects of it, in the file's own tolerances.
fn compare(form: &Form, expected: &Value, tolerance: &Value) {
    let (of_term, of_axis, of_s) = (number(&tolerance["coefficients_mm"]), number(&tolerance["axis_deg"]), number(&tolerance["s_mm"]));
    let terms = [
        ("taper", form.taper_mm.unwrap()),
        ("barrel_c", form.barrel_mm.unwrap()),
        ("A2", form.cos2_mm.unwrap()),
        ("B2", form.sin2_mm.unwrap()),
    ];
    for (name, found) in terms {
        near(name, found.value, number(&expected["coef_mm"][name]), of_term);
        near(name, found.u, number(&expected["u_coef_mm"][name]), 1e-3 * found.u);
    }
    near("mean", form.mean_mm.value, number(&expected["mean_diameter_mm"]), of_term);
    near("u of mean", form.mean_mm.u, number(&expected["u_coef_mm"]["mean"]), 1e-3 * form.mean_mm.u);
    near("out-of-round", form.out_of_round_mm.unwrap().value, number(&expected["ovality_mm"]), 2.0 * of_term);
    near("axis", form.major_axis_deg.unwrap(), number(&expected["major_axis_deg"]), of_axis);
    near("centre less ends", form.centre_minus_ends_mm.unwrap().value, number(&expected["centre_minus_ends_mm"]), 3.0 * of_term);
    near("residual sd", form.residual_sd_mm.unwrap(), number(&expected["s_resid_mm"]), of_s);
    near("pooled sd", form.pooled_sd_mm, number(&expected["s_pooled_mm"]), of_s);
    near("limit of t", form.t_limit.unwrap(), number(&expected["t_crit"]), 1e-3);
    near("largest t", form.t_max.unwrap(), number(&expected["t_max"]), 1e-2);
    assert_eq!(form.terms.len() as f64, number(&expected["p"]));
}

/// The truth from which a file's readings were drawn lies within three standard uncertainties.
fn within_three_u(form: &Form, truth: &Value) {
    let near_truth = |name: &str, value: f64, u: f64| near(name, value, number(&truth[name]), 3.0 * u);
    near_truth("mean_mm", form.mean_mm.value, form.mean_mm.u);
    near_truth("taper_over_L_mm", form.taper_mm.unwrap().value, form.taper_mm.unwrap().u);
    let (round, ends) = (form.out_of_round_mm.unwrap(), form.centre_minus_ends_mm.unwrap());
    near_truth("ovality_mm", round.value, round.u);
    near_truth("centre_minus_ends_mm", ends.value, ends.u);
}

#[test]
fn a_clean_survey_and_one_with_a_wrong_reading_are_met() {
    for (name, suspects) in [("survey_a.json", vec![]), ("survey_b.json", vec![14])] {
        let record: Value = serde_json::from_str(&text(name)).unwrap();
        let answer = answer(&record);
        compare(&answer.form, &record["expected"], &record["tolerance"]);
        assert_eq!(answer.suspects.iter().map(|suspect| suspect.index).collect::<Vec<_>>(), suspects, "{name}");
        match &answer.without {
            Some(without) => {
                compare(without, &record["expected_without_flagged"], &record["tolerance"]);
                within_three_u(without, &record["truth"]);
            }
            None => within_three_u(&answer.form, &record["truth"]),
        }
    }
}

#[test]
fn few_readings_where_a_bare_grubbs_test_fails_are_met() {
    let record: Value = serde_json::from_str(&text("survey_c_small_n.json")).unwrap();
    let cases = record["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 3);
    for case in cases {
        let readings_mm = case["readings_mm"].as_array().unwrap().iter().map(number).collect();
        let found = spot(&Spot { readings_mm, gauge: gauge(case), alpha_level: 0.05 }).unwrap();
        let (id, wanted) = (case["id"].as_str().unwrap(), &case["expected"]);
        for (name, found, tolerance) in [
            ("n", found.n as f64, 0.0),
            ("mean", found.mean_mm.value, 1e-9),
            ("median", found.median_mm, 1e-9),
            ("s", found.sd_mm, 1e-9),
            ("suspect_index", found.suspect_index as f64, 0.0),
            ("suspect", found.suspect_mm, 0.0),
            ("grubbs_G", found.grubbs_G.unwrap(), 1e-6),
            ("grubbs_Gcrit_two_sided_05", found.grubbs_limit.unwrap(), 1e-6),
            ("mean_without", found.mean_without_mm, 1e-9),
            ("pooled_t", found.pooled_t.unwrap(), 1e-5),
            ("pooled_t_crit", found.pooled_t_limit.unwrap(), 1e-5),
        ] {
            near(&format!("{id} {name}"), found, number(&wanted[name]), tolerance);
        }
        let flag = |name: &str| wanted[name].as_bool().unwrap();
        assert_eq!(found.grubbs_G > found.grubbs_limit, flag("grubbs_flags"), "{id}");
        assert_eq!(found.measure_again, flag("suspicious") && flag("at_least_two_steps"), "{id}");
    }
}

#[test]
fn every_reduction_to_20_is_met() {
    let table = Table::read(&text("reduction20.csv"));
    assert_eq!(table.rows().count(), 4);
    for row in table.rows() {
        let at = |name: &str| row.number(name).unwrap_or_else(|| panic!("no {name}"));
        let size = size_at_20(&WarmReading {
            reading_mm: Quantity::with_u(at("R_mm"), at("u_R")),
            correction_mm: Quantity::with_u(at("corr_mm"), at("u_corr")),
            part_alpha_per_K: Quantity::with_u(at("alpha_part_1_K"), at("u_alpha_part")),
            instrument_alpha_per_K: Quantity::with_u(at("alpha_instr_1_K"), at("u_alpha_instr")),
            part_T_C: Quantity::with_u(at("T_part_C"), at("u_T_part_indep")),
            instrument_T_C: Quantity::with_u(at("T_instr_C"), at("u_T_instr_indep")),
            common_T_u_K: at("u_T_common"),
        })
        .unwrap();
        near(row.text("case"), size.size_mm.value, at("D20_mm"), 5.1e-7);
        near(row.text("case"), size.size_mm.u, at("u_D20_mm"), 5.1e-7);
    }
}

#[test]
fn every_error_of_a_gauge_held_wrong_is_met() {
    let table = Table::read(&text("geometry.csv"));
    assert_eq!(table.rows().count(), 8);
    for row in table.rows() {
        let effect = match row.text("effect").split([':', ' ']).next() {
            Some("chord") => Effect::Chord,
            Some("axial") => Effect::Tilt,
            Some("rock") => Effect::Rock,
            Some("circumference") => Effect::Tape,
            other => panic!("{other:?} is no effect"),
        };
        let at = |name: &str| row.number(name).unwrap();
        let error = gauge_error(effect, at("D_mm"), at("offset_mm")).unwrap();
        near(row.text("effect"), error.error_mm, at("error_exact_mm"), 5.1e-7);
        near(row.text("effect"), error.error_small_mm, at("error_small_angle_mm"), 5.1e-7);
    }
}

#[test]
fn every_response_to_lobes_is_met() {
    let table = Table::read(&text("harmonic_response.csv"));
    assert_eq!(table.rows().count(), 15);
    for row in table.rows() {
        let at = |name: &str| row.number(name).unwrap();
        let n = at("n_lobes") as u32;
        let seen = lobes(n, &[60.0, 90.0, 108.0, 120.0]);
        near("two points", seen.two_point, at("two_point_diameter_per_a_n"), 0.0);
        near("three contacts", seen.three_contact, at("three_contact_120deg_selfcentring_diameter_per_a_n"), 0.0);
        for (vee, name) in seen.vee.iter().zip(["V60_indicator_per_a_n", "V90", "V108", "V120"]) {
            near(&format!("{n} lobes in {name}"), *vee, at(name), 5.1e-5);
        }
    }
}
