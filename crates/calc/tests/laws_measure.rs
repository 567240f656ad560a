//! Laws of measuring that hold for every size: there and back, metric = inch, a form that is put in is found, a zero that is moved
//! moves nothing else, limits as far apart as their tolerance.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where a law is broken")]
#![allow(non_snake_case, reason = "T_C and alpha_per_K are names of the contract")]

use calc::limits::Feature;
use calc::limits::ansi::ansi_limits;
use calc::limits::iso::{iso_fit, iso_limits};
use calc::math::{cos, sq};
use calc::measure::prior::GaugePrior;
use calc::measure::spot::{Spot, spot};
use calc::measure::survey::model::{Contacts, Place};
use calc::measure::survey::{Reading, Survey, SurveyAnswer, survey};
use calc::measure::to_20::{WarmReading, reading_from_size, size_at_20, size_from_reading};
use calc::quantity::Quantity;
use calc::turn::{CutPlan, Side, plan};
use calc::units::{C_from_F, Dimension, F_from_C, System, inch_from_mm, mm_from_inch, read_with_unit, shown};
use proptest::prelude::*;

fn near(found: f64, wanted: f64, tolerance: f64) -> Result<(), TestCaseError> {
    prop_assert!((found - wanted).abs() <= tolerance, "{found}, wanted {wanted} within {tolerance:e}");
    Ok(())
}

const GAUGE: GaugePrior = GaugePrior { resolution_mm: 0.001, repeatability_mm: 0.003, dof: 20.0 };

/// A bore of given form, read at stations × angles.
#[derive(Clone, Copy, Debug)]
struct Bore {
    nominal_mm: f64,
    mean_mm: f64,
    taper_mm: f64,
    barrel_mm: f64,
    round_mm: f64,
    axis_deg: f64,
}

impl Bore {
    fn size(&self, w: f64, angle_deg: f64) -> f64 {
        let along = cos(2.0 * (angle_deg - self.axis_deg).to_radians());
        self.mean_mm + self.taper_mm * w + self.barrel_mm * (1.0 - 12.0 * sq(w)) + 0.5 * self.round_mm * along
    }

    fn survey(&self, shift_mm: f64, noise: &[f64]) -> SurveyAnswer {
        let stations = [10.0, 60.0, 110.0, 160.0];
        let angles = [0.0, 30.0, 60.0, 90.0, 120.0, 150.0];
        let places = stations.iter().flat_map(|z_mm| angles.iter().map(|angle_deg| Place { z_mm: *z_mm, angle_deg: *angle_deg }));
        let readings = places.zip(noise.iter().cycle()).map(|(place, noise)| Reading {
            place,
            reading_mm: self.nominal_mm + shift_mm + self.size((place.z_mm - 85.0) / 150.0, place.angle_deg) + noise,
            part_T_C: None,
        });
        let request = Survey {
            nominal_mm: self.nominal_mm + shift_mm,
            readings: readings.collect(),
            z_mid_mm: None,
            span_mm: None,
            gauge: GAUGE,
            warmth: None,
            contacts: Contacts::Two,
            need: Vec::new(),
            alpha_level: 0.05,
            wanted_u_mm: None,
        };
        survey(&request).unwrap()
    }
}

fn bores() -> impl Strategy<Value = Bore> {
    (20.0..900.0, -0.2..0.2, -0.1..0.1, -0.05..0.05, 0.002..0.1, 0.0..180.0).prop_map(
        |(nominal_mm, mean_mm, taper_mm, barrel_mm, round_mm, axis_deg)| Bore {
            nominal_mm,
            mean_mm,
            taper_mm,
            barrel_mm,
            round_mm,
            axis_deg,
        },
    )
}

/// Noise of a few micrometres on 24 readings.
fn noise() -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::vec(-0.003..0.003, 24)
}

proptest! {
    // A failure that is found is kept as a row of a case table, not in a file beside this one.
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_length_and_a_temperature_come_back_from_inches_and_fahrenheit(x in -1e4..1e4_f64) {
        near(mm_from_inch(inch_from_mm(x)), x, 1e-12 * x.abs().max(1.0))?;
        near(C_from_F(F_from_C(x)), x, 1e-12 * x.abs().max(100.0))?;
        near(System::Inch.to_mm(System::Inch.from_mm(x)), x, 1e-12 * x.abs().max(1.0))?;
    }

    #[test]
    fn a_size_written_in_inches_is_the_one_in_millimetres(inch in 0.01..80.0_f64, u in 0.000_01..0.01_f64) {
        let from_inch = read_with_unit(&format!("{inch} in ± {u}"), Dimension::Length).unwrap();
        let from_mm = read_with_unit(&format!("{} mm ± {} um", 25.4 * inch, 25_400.0 * u), Dimension::Length).unwrap();
        near(from_inch.value, from_mm.value, 1e-12 * from_mm.value)?;
        near(from_inch.u, from_mm.u, 1e-12 * from_mm.u)?;
    }

    #[test]
    fn a_shown_figure_is_within_half_its_last_place_and_reads_back(value in -1e4..1e4_f64, exponent in -6..3_i32, digits in 1.0..9.99_f64) {
        let u = digits * (0..exponent.abs()).fold(1.0, |x, _| if exponent < 0 { x / 10.0 } else { x * 10.0 });
        let (value_text, u_text) = shown(value, u);
        let read = read_with_unit(&format!("{value_text} mm ± {u_text} mm"), Dimension::Length).unwrap();
        // Two digits of u: its last place is between a tenth and a hundredth of it.
        near(read.value, value, 0.0501 * u)?;
        near(read.u, u, 0.0501 * u)?;
        let decimals = |text: &str| text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        prop_assert_eq!(decimals(&value_text), decimals(&u_text));
    }

    #[test]
    fn a_reading_and_its_size_at_20_are_each_others_inverse(
        size in 5.0..2000.0_f64, part_alpha in 8e-6..25e-6_f64, part_T_C in -40.0..110.0_f64, gauge_T_C in 5.0..40.0_f64, u in 0.0005..0.01_f64,
    ) {
        let read = reading_from_size(size, part_alpha, part_T_C, 11.5e-6, gauge_T_C);
        near(size_from_reading(read, part_alpha, part_T_C, 11.5e-6, gauge_T_C), size, 1e-12 * size)?;
        let warm = WarmReading {
            reading_mm: Quantity::with_u(read, u),
            correction_mm: Quantity::exact(0.0),
            part_alpha_per_K: Quantity::with_u(part_alpha, 0.5e-6),
            instrument_alpha_per_K: Quantity::exact(11.5e-6),
            part_T_C: Quantity::with_u(part_T_C, 0.5),
            instrument_T_C: Quantity::with_u(gauge_T_C, 0.5),
            common_T_u_K: 0.3,
        };
        let at_20 = size_at_20(&warm).unwrap();
        near(at_20.size_mm.value, size, 1e-12 * size)?;
        near(at_20.contributions.iter().map(|part| part.share).sum(), 1.0, 1e-12)?;
        prop_assert!(at_20.contributions.windows(2).all(|pair| pair[0].u_mm >= pair[1].u_mm));
    }

    #[test]
    fn a_part_and_gauge_of_one_metal_and_temperature_need_no_correction(size in 5.0..2000.0_f64, alpha in 8e-6..25e-6_f64, T_C in -40.0..110.0_f64) {
        near(size_from_reading(size, alpha, T_C, alpha, T_C), size, 1e-12 * size)?;
    }

    #[test]
    fn the_form_of_a_perfect_bore_is_found(bore in bores()) {
        let form = bore.survey(0.0, &[0.0]).form;
        near(form.mean_mm.value, bore.nominal_mm + bore.mean_mm, 1e-9)?;
        near(form.taper_mm.unwrap().value, bore.taper_mm, 1e-9)?;
        near(form.centre_minus_ends_mm.unwrap().value, 3.0 * bore.barrel_mm, 1e-9)?;
        near(form.out_of_round_mm.unwrap().value, bore.round_mm, 1e-9)?;
        let turned = (form.major_axis_deg.unwrap() - bore.axis_deg).rem_euclid(180.0);
        near(turned.min(180.0 - turned), 0.0, 1e-6)?;
    }

    #[test]
    fn a_moved_nominal_moves_the_mean_and_nothing_else(bore in bores(), shift in -5.0..5.0_f64, noise in noise()) {
        let (here, there) = (bore.survey(0.0, &noise), bore.survey(shift, &noise));
        near(there.form.mean_mm.value - here.form.mean_mm.value, shift, 1e-9)?;
        let figures = |answer: &SurveyAnswer| {
            let form = &answer.form;
            let terms = [form.taper_mm, form.barrel_mm, form.cos2_mm, form.sin2_mm].map(|term| term.unwrap().value);
            [terms.as_slice(), &[form.mean_mm.u, form.pooled_sd_mm, form.out_of_round_mm.unwrap().value]].concat()
        };
        for (x, y) in figures(&here).into_iter().zip(figures(&there)) {
            near(x, y, 1e-9)?;
        }
        prop_assert_eq!(
            here.suspects.iter().map(|suspect| suspect.index).collect::<Vec<_>>(),
            there.suspects.iter().map(|suspect| suspect.index).collect::<Vec<_>>()
        );
    }

    #[test]
    fn one_reading_far_off_is_the_suspect_and_the_rest_is_as_without_it(bore in bores(), noise in noise(), at in 0_usize..24, off in 0.05..0.9_f64) {
        let mut wrong = noise;
        wrong[at] += off;
        let answer = bore.survey(0.0, &wrong);
        prop_assert_eq!(answer.suspects.first().map(|suspect| suspect.index), Some(at));
        prop_assert!(answer.without.unwrap().mean_mm.u < answer.form.mean_mm.u);
    }

    #[test]
    fn the_order_of_readings_of_a_spot_does_not_matter(mut readings in proptest::collection::vec(250.0..250.05_f64, 2..9)) {
        let of = |readings: &[f64]| spot(&Spot { readings_mm: readings.to_vec(), gauge: GAUGE, alpha_level: 0.05 }).unwrap();
        let here = of(&readings);
        readings.reverse();
        let there = of(&readings);
        near(here.mean_mm.value, there.mean_mm.value, 1e-10)?;
        near(here.mean_mm.u, there.mean_mm.u, 1e-10)?;
        prop_assert!(here.mean_mm.u >= GAUGE.least_variance().sqrt());
        prop_assert_eq!(here.median_mm, there.median_mm);
    }

    #[test]
    fn limits_are_as_far_apart_as_their_tolerance(
        nominal_mm in 25.0..500.0_f64,
        letter in proptest::sample::select(vec!["c", "d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "r", "s", "t", "u", "x"]),
        grade in 3_u32..=8,
    ) {
        for class in [format!("{letter}{grade}"), format!("{}{grade}", letter.to_uppercase())] {
            let limits = iso_limits(nominal_mm, &class).unwrap();
            near(limits.upper_um - limits.lower_um, limits.tolerance_um, 1e-9)?;
            near(limits.max_mm - limits.min_mm, limits.tolerance_um / 1000.0, 1e-9)?;
            // The same grade is as wide for every letter.
            near(limits.tolerance_um, iso_limits(nominal_mm, &format!("h{grade}")).unwrap().tolerance_um, 0.0)?;
        }
    }

    #[test]
    fn a_hole_basis_and_a_shaft_basis_fit_run_alike(nominal_mm in 1.1..3150.0_f64, letter in proptest::sample::select(vec!["d", "e", "f", "g"]), grade in 5_u32..=11) {
        let on_hole = iso_fit(nominal_mm, &format!("H{grade}"), &format!("{letter}{grade}")).unwrap();
        let on_shaft = iso_fit(nominal_mm, &format!("{}{grade}", letter.to_uppercase()), &format!("h{grade}")).unwrap();
        near(on_hole.min_interference_um, on_shaft.min_interference_um, 1e-9)?;
        near(on_hole.max_interference_um, on_shaft.max_interference_um, 1e-9)?;
    }

    #[test]
    fn inch_limits_are_as_far_apart_as_their_tolerance(
        nominal_in in 0.96..12.41_f64, class in proptest::sample::select(vec!["RC3", "RC4", "RC8", "LN1", "LN3", "FN1", "FN2", "FN5"]),
    ) {
        for part in [Feature::Hole, Feature::Shaft] {
            let limits = ansi_limits(nominal_in, class, part).unwrap();
            near(1000.0 * (limits.max_in - limits.min_in), limits.tolerance_thou, 1e-9)?;
            prop_assert!(limits.tolerance_thou > 0.0 && limits.min_fit_thou <= limits.max_fit_thou);
        }
    }

    #[test]
    fn the_cuts_of_a_plan_end_in_the_middle_of_the_band_and_read_back_to_it(
        low_mm in 20.0..900.0_f64, band in 0.01..0.1_f64, off in 0.05..3.0_f64, cuts in 1_u32..6, part_T_C in 15.0..60.0_f64, bore in any::<bool>(),
    ) {
        let high_mm = low_mm + band;
        let request = CutPlan {
            from_mm: if bore { low_mm - off } else { high_mm + off },
            low_mm,
            high_mm,
            cuts,
            part_alpha_per_K: 18e-6,
            gauge_alpha_per_K: 11.5e-6,
            gauge_T_C: 21.0,
            part_T_C: vec![part_T_C],
        };
        let plan = plan(&request).unwrap();
        prop_assert_eq!(plan.side, if bore { Side::Bore } else { Side::Outside });
        let last = plan.cuts.last().unwrap();
        near(last.target_mm, 0.5 * (low_mm + high_mm), 1e-9)?;
        near(size_from_reading(last.reads_mm[0], 18e-6, part_T_C, 11.5e-6, 21.0), last.target_mm, 1e-9)?;
        let taken: f64 = plan.cuts.iter().map(|cut| cut.depth_mm).sum();
        near(taken, (request.from_mm - last.target_mm).abs(), 1e-9)?;
        let sign = if bore { -1.0 } else { 1.0 };
        let mut size = request.from_mm;
        for cut in &plan.cuts {
            near(sign * (size - cut.target_mm), cut.depth_mm, 1e-9)?;
            size = cut.target_mm;
        }
        prop_assert!(plan.band[0].low_reads_mm < plan.band[0].aim_reads_mm && plan.band[0].aim_reads_mm < plan.band[0].high_reads_mm);
    }
}
