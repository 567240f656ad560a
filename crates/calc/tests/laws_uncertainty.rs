//! Laws of uncertainty, verdicts, quantiles and least squares that hold for any numbers.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use calc::compute::answer;
use calc::crew::{Alone, Crew};
use calc::distributions::{coverage_factor, student_chance, student_quantile};
use calc::measure::least_squares::{self, Fit};
use calc::measure::quantile::grubbs;
use calc::measure::repeatability::{Study, repeatability};
use calc::quantity::Quantity;
use calc::verdict::{Question, Verdict, verdict};
use proptest::prelude::*;
use serde_json::{Value, json};

fn close(a: f64, b: f64, rel: f64) -> bool {
    (a - b).abs() <= rel * a.abs().max(b.abs())
}

/// An answer, its numbers by name.
fn propagated(formula: &str, inputs: &Value, more: Value) -> Value {
    let mut request = json!({"formula": formula, "inputs": inputs});
    request.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    answer("uncertainty", &request, &Alone, false).unwrap()
}

fn figure(answer: &Value, name: &str) -> f64 {
    answer[name].as_f64().unwrap()
}

/// A crew that does its blocks in the opposite order.
struct Backwards;
impl Crew for Backwards {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        (0..blocks).rev().for_each(work);
    }
}

/// A crew of three threads.
struct Three;
impl Crew for Three {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        std::thread::scope(|scope| {
            for hand in 0..3 {
                scope.spawn(move || (hand..blocks).step_by(3).for_each(work));
            }
        });
    }
}

#[test]
fn the_bytes_of_a_monte_carlo_do_not_depend_on_who_does_the_blocks() {
    let request = json!({
        "formula": "a*b + exp(c)", "method": "monte-carlo", "draws": 200_001, "seed": 9,
        "inputs": {"a": {"value": 1, "u": 0.1}, "b": {"value": 2, "u": 0.3, "shape": "arcsine"}, "c": {"value": 0, "u": 0.2, "shape": "triangular"}},
    });
    let alone = answer("uncertainty", &request, &Alone, true).unwrap();
    assert_eq!(alone, answer("uncertainty", &request, &Backwards, true).unwrap());
    assert_eq!(alone, answer("uncertainty", &request, &Three, true).unwrap());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn draws_agree_with_linear_propagation_for_linear_formulas(a in -5.0..5.0, b in -5.0..5.0, u in 0.1..3.0, seed in 0u64..1000) {
        let inputs = json!({"x": {"value": 7, "u": u}, "y": {"value": -2, "u": 1, "shape": "rectangular"}, "a": a, "b": b});
        let found = propagated("a*x - b*y + 3", &inputs, json!({"method": "monte-carlo", "draws": 40_000, "seed": seed}));
        let (u, drawn) = (figure(&found, "u"), &found["monte_carlo"]);
        // Five standard errors: of the mean 0.025 u, of u itself under 0.02 u.
        prop_assert!((figure(drawn, "value") - figure(&found, "value")).abs() <= 0.026 * u);
        prop_assert!((figure(drawn, "u") - u).abs() <= 0.02 * u);
        prop_assert!(close(figure(&found, "second_order_u"), u, 1e-12));
        let width = figure(drawn, "shortest_high") - figure(drawn, "shortest_low");
        prop_assert!(width <= figure(drawn, "high") - figure(drawn, "low"));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn an_input_in_another_unit_changes_only_its_sensitivity(x in 0.5..3.0, y in 0.5..3.0, u in 0.001..0.2, scale in 0.001..1000.0) {
        let dof = 7.3;
        let one = propagated("x^2*y + sin(x)/y", &json!({"x": {"value": x, "u": u, "dof": dof}, "y": {"value": y, "u": 0.1}}), json!({}));
        let inputs = json!({"x": {"value": x * scale, "u": u * scale, "dof": dof}, "y": {"value": y, "u": 0.1}, "s": scale});
        let other = propagated("(x/s)^2*y + sin(x/s)/y", &inputs, json!({}));
        for name in ["value", "u", "dof", "k", "U", "second_order_u"] {
            prop_assert!(close(figure(&one, name), figure(&other, name), 1e-9), "{}", name);
        }
    }

    #[test]
    fn u_scales_with_the_formula_and_shares_add_up_to_1(x in -2.0..2.0, y in 0.5..3.0, ux in 0.01..1.0, uy in 0.01..1.0, scale in 0.01..100.0) {
        let inputs = json!({"x": {"value": x, "u": ux}, "y": {"value": y, "u": uy, "dof": 5}, "s": scale});
        let (one, other) = (propagated("x*y + y^3", &inputs, json!({})), propagated("s*(x*y + y^3)", &inputs, json!({})));
        prop_assert!(close(figure(&other, "u"), scale * figure(&one, "u"), 1e-12));
        prop_assert!(close(figure(&other, "U"), scale * figure(&one, "U"), 1e-12));
        let shares: f64 = one["contributions"].as_array().unwrap().iter().map(|part| figure(part, "share")).sum();
        prop_assert!(close(shares, 1.0, 1e-12));
    }

    #[test]
    fn a_formula_is_refused_or_answered_with_finite_numbers(text in "[-+*/^(). a-c0-9,e]{0,24}") {
        let request = json!({"formula": text, "inputs": {"a": {"value": 1.5, "u": 0.1}, "b": {"value": -2, "u": 0.5, "dof": 3}, "c": 4}});
        if let Ok(found) = answer("uncertainty", &request, &Alone, true) {
            for name in ["value", "u", "k", "U", "low", "high"] {
                prop_assert!(found[name].is_number(), "{}: {}", text, name);
            }
        }
    }

    #[test]
    fn a_verdict_is_the_same_in_a_mirror(y in -3.0..3.0, u in 0.01..3.0, a in -2.0..0.0, width in 0.1..3.0, dof in proptest::option::of(0.5..60.0)) {
        let of = |y, lower, upper| verdict(&Question { value: Quantity { dof, ..Quantity::with_u(y, u) }, lower, upper, probability: 0.95 }).unwrap();
        let b = a + width;
        let (seen, mirror): (Verdict, Verdict) = (of(y, Some(a), Some(b)), of(-y, Some(-b), Some(-a)));
        prop_assert_eq!((seen.verdict, seen.by_guard_band, seen.capable), (mirror.verdict, mirror.by_guard_band, mirror.capable));
        prop_assert_eq!((seen.chance_below, seen.chance_above), (mirror.chance_above, mirror.chance_below));
        prop_assert!((seen.chance_within - mirror.chance_within).abs() < 1e-14);
        prop_assert!((seen.chance_within + seen.chance_below + seen.chance_above - 1.0).abs() < 1e-14);
        prop_assert!((0.0..=1.0).contains(&seen.chance_within));
        // A single limit: what is above it for one is within it for the other.
        prop_assert!((of(y, Some(a), None).chance_within - of(y, None, Some(a)).chance_above).abs() < 1e-14);
    }

    #[test]
    fn a_gauge_that_cannot_pass_the_middle_passes_nothing(y in -1.0..1.0, u in 0.05..3.0, probability in 0.5..0.999) {
        let question = Question { value: Quantity::with_u(y, u), lower: Some(-0.5), upper: Some(0.5), probability };
        let found = verdict(&question).unwrap();
        let middle = verdict(&Question { value: Quantity::with_u(0.0, u), ..question }).unwrap();
        prop_assert!(found.chance_within <= middle.chance_within);
        prop_assert_eq!(found.capable, middle.chance_within >= probability);
    }

    #[test]
    fn a_factor_grows_with_coverage_and_falls_with_degrees_of_freedom(dof in 0.3..1e6, more in 1.001..50.0, coverage in 0.001..0.9999) {
        let k = coverage_factor(coverage, dof);
        prop_assert!(coverage_factor(coverage, dof * more) < k);
        prop_assert!(coverage_factor(coverage + 0.5 * (1.0 - coverage), dof) > k);
        prop_assert!(k > coverage_factor(coverage, f64::INFINITY));
        prop_assert!(close(student_chance(k, dof) - student_chance(-k, dof), coverage, 1e-11));
        prop_assert!(close(student_quantile(0.5 * (1.0 + coverage), dof), k, 1e-10));
    }

    #[test]
    fn a_limit_for_the_worst_reading_grows_with_readings_and_with_strictness(n in 3u64..5000, alpha in 0.001..0.5) {
        let limit = grubbs(n, alpha, 2).limit;
        prop_assert!(grubbs(n + 1, alpha, 2).limit > limit);
        prop_assert!(grubbs(n, alpha / 2.0, 2).limit >= limit);
        prop_assert!(grubbs(n, alpha, 1).limit <= limit);
    }

    #[test]
    fn a_fit_moves_and_scales_with_its_readings(
        y in proptest::collection::vec(-1.0..1.0f64, 6..12), slope in -5.0..5.0f64, up in -100.0..100.0f64, right in -100.0..100.0f64, scale in 0.01..100.0f64,
    ) {
        let x: Vec<f64> = (0..y.len()).map(|i| i as f64).collect();
        let fit = |x: &[f64], y: &[f64]| -> Fit {
            let rows = x.iter().map(|x| vec![*x]).collect();
            least_squares::fitted(&least_squares::Question { rows, y: y.to_vec(), degree: 1, intercept: true, weights: None }).unwrap()
        };
        let one = fit(&x, &y);
        let moved: Vec<f64> = y.iter().zip(&x).map(|(y, x)| scale * (y + up + slope * x)).collect();
        let other = fit(&x.iter().map(|x| x + right).collect::<Vec<_>>(), &moved);
        let size = 1e-12 * scale * (1.0 + up.abs() + slope.abs() * (right.abs() + 10.0)) * 10.0;
        prop_assert!((other.b[1] - scale * (one.b[1] + slope)).abs() < size);
        prop_assert!((other.b[0] - scale * (one.b[0] + up - (one.b[1] + slope) * right)).abs() < size * (1.0 + right.abs()));
        prop_assert!((other.residual_sd - scale * one.residual_sd).abs() < size);
        prop_assert!(one.residuals.iter().sum::<f64>().abs() < 1e-12);
    }

    #[test]
    fn a_gauge_study_does_not_care_who_is_named_first(readings in proptest::collection::vec(259.9..260.1f64, 12), up in -50.0..50.0) {
        let table = |order: [usize; 2], up: f64| -> Vec<Vec<Vec<f64>>> {
            readings.chunks(4).map(|part| order.iter().map(|j| part[2 * j..2 * j + 2].iter().map(|x| x + up).collect()).collect()).collect()
        };
        let (one, other) = (Study::new(&table([0, 1], 0.0)).unwrap(), Study::new(&table([1, 0], up)).unwrap());
        let (one, other) = (repeatability(&one, None), repeatability(&other, None));
        prop_assert!((one.repeatability_sd_mm - other.repeatability_sd_mm).abs() < 1e-10);
        prop_assert!((one.gauge_sd_mm - other.gauge_sd_mm).abs() < 1e-7);
        prop_assert!(one.gauge_sd_mm >= one.repeatability_sd_mm);
    }
}
