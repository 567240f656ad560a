//! What a survey must say, case by case.

use super::*;
use crate::math::{cos, sin};

const GAUGE: GaugePrior = GaugePrior { resolution_mm: 0.001, repeatability_mm: 0.003, dof: 20.0 };

/// A survey of stations × angles of what `D` gives over 240 mm.
fn of(stations: &[f64], angles: &[f64], D: impl Fn(f64, f64) -> f64) -> Survey {
    let at =
        |z_mm: f64, angle_deg: f64| Reading { place: Place { z_mm, angle_deg }, reading_mm: 240.0 + D(z_mm, angle_deg), part_T_C: None };
    Survey {
        nominal_mm: 240.0,
        readings: stations.iter().flat_map(|z| angles.iter().map(move |angle| at(*z, *angle))).collect(),
        z_mid_mm: None,
        span_mm: None,
        gauge: GAUGE,
        warmth: None,
        contacts: Contacts::Two,
        need: Vec::new(),
        alpha_level: 0.05,
        wanted_u_mm: None,
    }
}

const ANGLES: [f64; 4] = [0.0, 45.0, 90.0, 135.0];

#[test]
fn what_readings_can_not_tell_is_named_with_the_reading_that_would() {
    let flat = |_: f64, _: f64| 0.01;
    for (survey_of, terms, word) in [
        (of(&[50.0], &ANGLES, flat), "mean cos2 sin2", "second station"),
        (of(&[10.0, 90.0], &ANGLES, flat), "mean taper cos2 sin2", "third station"),
        (of(&[10.0, 50.0, 90.0], &[0.0, 90.0], flat), "mean taper barrel cos2", "add a reading at 45°"),
        (of(&[10.0, 50.0, 90.0], &[45.0, 135.0], flat), "mean taper barrel sin2", "add a reading at 0°"),
        (of(&[10.0], &[30.0], flat), "mean", "second station"),
    ] {
        let answer = survey(&survey_of).unwrap();
        let told: Vec<&str> = answer.form.terms.iter().map(|term| term.word()).collect();
        assert_eq!(told.join(" "), terms);
        assert!(answer.form.not_estimable.iter().any(|why| why.contains(word)), "{:?}", answer.form.not_estimable);
        assert_eq!(answer.form.out_of_round_mm.is_some(), terms.contains("cos2 sin2"));
    }
}

#[test]
fn a_needed_term_that_can_not_be_told_is_refused_with_what_to_read() {
    let needs = |need| survey(&Survey { need: vec![need], ..of(&[10.0, 50.0], &[0.0, 90.0], |_, _| 0.0) });
    assert!(needs(Term::Taper).is_ok());
    assert!(needs(Term::Barrel).unwrap_err().remedy.contains("third station"));
    assert!(needs(Term::Sin2).unwrap_err().remedy.contains("45°"));
    assert_eq!(needs(Term::Cos3).unwrap_err().key, "need");
}

#[test]
fn a_housing_that_warms_during_the_survey_shows_no_taper_when_each_reading_is_reduced() {
    // 20, 24 and 28 °C at the three stations of a straight bore of 240.01 mm in iron, gauge at 20 °C.
    let warms = |z: f64, _: f64| 240.01 * 10.5e-6 * 0.1 * (z - 10.0) + 0.01;
    let mut warm = of(&[10.0, 50.0, 90.0], &ANGLES, warms);
    let false_taper = survey(&warm).unwrap().form.taper_mm.unwrap();
    assert!(false_taper.value > 0.02);
    for reading in &mut warm.readings {
        reading.part_T_C = Some(20.0 + 0.1 * (reading.place.z_mm - 10.0));
    }
    assert_eq!(survey(&warm).unwrap_err().key, "part_alpha_per_K");
    warm.warmth = Some(Warmth {
        part_alpha_per_K: Quantity::with_u(10.5e-6, 0.5e-6),
        instrument_alpha_per_K: Quantity::exact(11.5e-6),
        instrument_T_C: Quantity::exact(20.0),
    });
    let answer = survey(&warm).unwrap();
    assert!(answer.form.taper_mm.unwrap().value.abs() < 1e-9 && (answer.form.mean_mm.value - 240.01).abs() < 1e-9);
    assert!(answer.warnings.iter().any(|text| text.contains("0.0005 mm")), "{:?}", answer.warnings);
    warm.readings[3].part_T_C = None;
    assert_eq!(survey(&warm).unwrap_err().key, "readings.3.part_T_C");
}

#[test]
fn a_wrong_reading_is_named_shown_apart_and_never_deleted() {
    let oval = |z: f64, angle: f64| 0.01 + if z == 50.0 && angle == 90.0 { 0.5 } else { 0.0 };
    let answer = survey(&of(&[10.0, 50.0, 90.0], &ANGLES, oval)).unwrap();
    let suspect = answer.suspects[0];
    assert_eq!((answer.suspects.len(), suspect.index), (1, 6));
    assert!((suspect.off_mm - 0.5).abs() < 1e-9);
    let without = answer.without.unwrap();
    assert!((without.mean_mm.value - 240.01).abs() < 1e-9 && without.mean_mm.u < answer.form.mean_mm.u);
    assert!(answer.say.iter().any(|text| text.contains("slipped digit") && text.contains("again, twice")), "{:?}", answer.say);
}

#[test]
fn four_readings_that_disagree_can_not_say_which_is_wrong() {
    let answer = survey(&of(&[50.0], &ANGLES, |_, angle| if angle == 90.0 { 0.2 } else { 0.0 })).unwrap();
    assert!(answer.suspects.is_empty() && answer.form.t_max > answer.form.t_limit);
    assert!(answer.warnings.iter().any(|text| text.contains("can't say which")), "{:?}", answer.warnings);
}

#[test]
fn two_readings_that_are_as_far_off_are_both_to_be_taken_again() {
    // Six readings, five terms: one degree of freedom, so that every reading is as far off as the next.
    let mut six = of(&[10.0, 50.0, 90.0], &[0.0, 45.0, 90.0, 135.0], |z, angle| if z == 50.0 && angle == 45.0 { 0.1 } else { 0.0 });
    six.readings = [0, 1, 2, 5, 7, 8].iter().map(|i| six.readings[*i]).collect();
    let answer = survey(&six).unwrap();
    assert_eq!((answer.form.dof, answer.suspects.len()), (1, 1));
    assert!(answer.suspects[0].or_index.is_some());
    assert!(answer.say.iter().any(|text| text.contains("take both again")), "{:?}", answer.say);
}

#[test]
fn a_reading_that_alone_carries_a_term_is_said_to_be_unjudged() {
    let mut lone = of(&[10.0, 50.0], &[0.0, 90.0], |_, _| 0.01);
    lone.readings.push(Reading { place: Place { z_mm: 10.0, angle_deg: 45.0 }, reading_mm: 240.3, part_T_C: None });
    let answer = survey(&lone).unwrap();
    assert!(answer.suspects.is_empty());
    assert!(answer.warnings.iter().any(|text| text.starts_with("Reading 4 ")), "{:?}", answer.warnings);
}

#[test]
fn three_contacts_show_three_lobes_and_the_pin_that_enters() {
    // Radial amplitude 0.01 along 20°: three self-centring contacts show 2 × 0.01 as diameter.
    let lobes = |_: f64, angle: f64| 0.03 + 0.02 * cos(3.0 * (angle - 20.0).to_radians());
    let three = Survey { contacts: Contacts::Three, ..of(&[10.0, 50.0, 90.0], &[0.0, 15.0, 30.0, 60.0, 75.0], lobes) };
    let answer = survey(&three).unwrap();
    assert!((answer.form.three_lobe_mm.unwrap().value - 0.01).abs() < 1e-12);
    assert_eq!((answer.form.cos2_mm, answer.form.out_of_round_mm), (None, None));
    assert!(answer.say.iter().any(|text| text.contains("240.010")), "{:?}", answer.say);
    assert!(answer.odd_lobes.contains("three-contact"));
}

#[test]
fn a_further_reading_is_offered_until_what_is_wanted_is_known() {
    let oval = |_: f64, angle: f64| 0.02 * sin(2.0 * angle.to_radians());
    let wants = |wanted_u_mm| survey(&Survey { wanted_u_mm, ..of(&[10.0, 50.0, 90.0], &ANGLES, oval) }).unwrap();
    assert!(wants(None).again.is_empty() && wants(Some(0.01)).again.is_empty());
    let answer = wants(Some(0.0005));
    assert_eq!(answer.again.len(), 3);
    // Along the oval's own axes a reading says most of it.
    assert!([45.0, 135.0].contains(&answer.again[0].angle_deg), "{:?}", answer.again);
}

#[test]
fn a_further_reading_brings_what_was_foretold() {
    let oval = |_: f64, angle: f64| 0.02 * sin(2.0 * angle.to_radians());
    let mut request = Survey { wanted_u_mm: Some(1e-6), ..of(&[10.0, 50.0, 90.0], &ANGLES, oval) };
    let before = survey(&request).unwrap();
    let next = before.again[0].clone();
    let place = Place { z_mm: next.z_mm, angle_deg: next.angle_deg };
    request.readings.push(Reading { place, reading_mm: 240.0 + oval(0.0, next.angle_deg), part_T_C: None });
    let after = survey(&request).unwrap();
    // The foretelling keeps s_p as it was: compared per s_p.
    let um = |form: &Form, u: f64| shown_plain(1000.0 * u / form.pooled_sd_mm * before.form.pooled_sd_mm, 2);
    let (mean, round) = (um(&after.form, after.form.mean_mm.u), um(&after.form, after.form.out_of_round_mm.unwrap().u));
    assert!(next.why.contains(&format!("to {mean} µm")) && next.why.ends_with(&format!("to {round} µm")), "{next:?}, {mean}, {round}");
}

#[test]
fn a_mean_that_carries_an_oval_or_a_barrel_says_so() {
    let carried = |survey_of: Survey| {
        let answer = survey(&survey_of).unwrap();
        answer.warnings.into_iter().find(|text| text.starts_with("The mean is that of the places")).unwrap_or_default()
    };
    let flat = |_: f64, _: f64| 0.0;
    assert!(carried(of(&[10.0, 50.0, 90.0], &[0.0], flat)).contains("cos2"), "one direction");
    assert!(carried(of(&[10.0, 50.0, 90.0], &[0.0, 45.0], flat)).contains("sin2"), "two directions that do not balance");
    assert!(carried(of(&[10.0, 90.0], &ANGLES, flat)).contains("barrel"), "both ends");
    assert_eq!(carried(of(&[10.0, 50.0, 90.0], &[0.0, 90.0], flat)), "", "two directions at right angles cancel any oval");
}

#[test]
fn a_round_bore_is_round_within_what_the_gauge_can_tell() {
    let answer = survey(&of(&[10.0, 50.0, 90.0], &ANGLES, |_, angle| 0.0005 * cos(2.0 * angle.to_radians()))).unwrap();
    assert!(answer.say.iter().any(|text| text.starts_with("Round within")), "{:?}", answer.say);
    let circle = survey(&of(&[10.0, 50.0, 90.0], &ANGLES, |_, _| 0.0)).unwrap();
    assert_eq!(circle.form.major_axis_deg, None);
    assert!(circle.say[0].starts_with("240.0000 mm ± "), "{:?}", circle.say);
}

#[test]
fn nothing_known_of_the_gauge_is_said() {
    let one = Survey { gauge: GaugePrior { dof: 0.0, ..GAUGE }, ..of(&[10.0], &[0.0], |_, _| 0.01) };
    let answer = survey(&one).unwrap();
    assert!((answer.form.mean_mm.u - 0.001 / 12_f64.sqrt()).abs() < 1e-15);
    assert_eq!((answer.form.t_limit, answer.form.t_max, answer.form.residual_sd_mm), (None, None, None));
    assert!(answer.warnings.iter().any(|text| text.contains("Nothing is known")));
}

#[test]
fn odd_numbers_of_a_request_never_reach_the_answer_as_no_number() {
    use crate::compute::{answer, plain};
    let reading = |z: &str, angle: &str, D: &str| format!(r#"{{"z_mm": {z}, "angle_deg": {angle}, "reading_mm": {D}}}"#);
    for (rest, places) in [
        (r#""prior_dof": 1e-300"#, [("0", "0"), ("1e-320", "0"), ("5", "90")]),
        (r#""alpha_level": 1e-9"#, [("-1e5", "0"), ("1e5", "360"), ("0", "-360")]),
        (r#""prior_dof": 0, "prior_repeatability_mm": 0"#, [("0", "0"), ("0", "0"), ("0", "0")]),
        (r#""span_mm": 0.001, "z_mid_mm": -1e5"#, [("1e5", "0"), ("99999", "45"), ("0", "90")]),
        (r#""contacts": "three", "wanted_u_mm": 1e-9"#, [("0", "0"), ("1", "40"), ("2", "80")]),
    ] {
        let readings: Vec<String> = places.iter().map(|(z, angle)| reading(z, angle, "180.01")).collect();
        let request = format!(r#"{{"nominal_mm": 180, {rest}, "readings": [{}]}}"#, readings.join(", "));
        let found = answer("survey", &plain(&request).unwrap(), &crate::crew::Alone, true).unwrap().to_string();
        assert!(!found.contains("NaN") && !found.contains("inf ") && !found.contains(r#""u":null"#), "{request}: {found}");
        assert!(!found.contains(r#""value":null"#), "{request}: {found}");
    }
}
