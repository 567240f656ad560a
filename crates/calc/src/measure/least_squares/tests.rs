//! Traps of least squares: certified sets beyond those of `checks`, weights, and what is refused.

use super::*;
use crate::crew::Alone;
use serde_json::json;

fn near(found: f64, wanted: f64, rel: f64) {
    assert!((found - wanted).abs() <= rel * wanted.abs(), "{found:e}, wanted {wanted:e}");
}

fn single(x: &[f64], y: &[f64], degree: u32, intercept: bool) -> Fit {
    let rows = x.iter().map(|x| vec![*x]).collect();
    fitted(&Question { rows, y: y.to_vec(), degree, intercept, weights: None }).unwrap()
}

#[test]
fn a_parabola_with_a_tiny_curvature_holds_the_certified_digits() {
    // NIST Statistical Reference Datasets, Pontius (data and certified values from memory; both agree with exact arithmetic).
    let first = [
        0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292, 1.09146, 1.20001, 1.30822, 1.41599, 1.52399,
        1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
    ];
    let second = [
        0.11052, 0.22018, 0.32939, 0.43886, 0.54798, 0.65739, 0.76596, 0.87474, 0.98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408,
        1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829,
    ];
    let y: Vec<f64> = first.iter().chain(&second).copied().collect();
    let x: Vec<f64> = (0..40).map(|i| 150_000.0 * f64::from(i % 20 + 1)).collect();
    let fit = single(&x, &y, 2, true);
    let b = [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14];
    let se = [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16];
    fit.b.iter().zip(b).for_each(|(found, wanted)| near(*found, wanted, 1e-12));
    fit.se.iter().zip(se).for_each(|(found, wanted)| near(*found, wanted, 1e-12));
    near(fit.residual_sd, 0.205177424076185e-3, 1e-12);
    near(fit.r2.unwrap(), 0.999999900178537, 1e-14);
    near(fit.F.unwrap(), 185330865.995752, 1e-12);
}

#[test]
fn a_line_through_the_origin_holds_the_certified_digits() {
    // NIST Statistical Reference Datasets, NoInt1 (from memory): y = 130..140 at x = 60..70.
    let x: Vec<f64> = (60..=70).map(f64::from).collect();
    let y: Vec<f64> = (130..=140).map(f64::from).collect();
    let fit = single(&x, &y, 1, false);
    near(fit.b[0], 2.07438016528926, 1e-14);
    near(fit.se[0], 0.165289256198347e-1, 1e-13);
    near(fit.r2.unwrap(), 0.999365492298663, 1e-14);
    near(fit.F.unwrap(), 15750.25, 1e-13);
}

#[test]
fn a_polynomial_of_the_tenth_degree_is_found_again() {
    // y = 1 + x + .. + x^10 over 0..20, as in NIST Wampler1 (degree 5): all whole numbers, so the data are exact.
    let x: Vec<f64> = (0..=20).map(f64::from).collect();
    for degree in [5_u32, 7] {
        let y: Vec<f64> = x.iter().map(|x| (0..=degree).rev().fold(0.0, |sum, _| sum * x + 1.0)).collect();
        let fit = single(&x, &y, degree, true);
        fit.b.iter().for_each(|b| near(*b, 1.0, 1e-9));
    }
}

#[test]
fn a_weight_counts_as_that_many_readings() {
    let (x, y, times) = ([1.0, 2.0, 4.0, 7.0], [1.1, 1.9, 4.2, 6.8], [1_usize, 3, 2, 4]);
    let weights = Some(times.iter().map(|n| *n as f64).collect());
    let weighted = Question { rows: x.iter().map(|x| vec![*x]).collect(), y: y.to_vec(), degree: 1, intercept: true, weights };
    let repeated = |list: &[f64]| list.iter().zip(times).flat_map(|(x, n)| std::iter::repeat_n(*x, n)).collect::<Vec<f64>>();
    let (a, b) = (fitted(&weighted).unwrap(), single(&repeated(&x), &repeated(&y), 1, true));
    a.b.iter().zip(&b.b).for_each(|(a, b)| near(*a, *b, 1e-13));
    near(a.rss, b.rss, 1e-12);
    near(a.r2.unwrap(), b.r2.unwrap(), 1e-13);
}

#[test]
fn what_has_no_answer_is_refused_by_its_key() {
    for (request, key) in [
        (json!({"x": [1, 2, 3], "y": [1, 2]}), "x"),
        (json!({"x": [1, 2], "y": [1, 2]}), "y"),
        (json!({"x": [], "y": []}), "x"),
        (json!({"x": [5, 5, 5, 5], "y": [1, 2, 3, 4]}), "x"),
        (json!({"x": [0.1, 0.1, 0.1, 0.1], "y": [1, 2, 3, 4]}), "x"),
        (json!({"x": [0, 0, 0], "y": [1, 2, 3], "intercept": false}), "x"),
        (json!({"x": [1, 2, 1, 2], "y": [1, 2, 3, 4], "degree": 2}), "x"),
        (json!({"x": [[1, 2], [3], [4, 5]], "y": [1, 2, 3]}), "x.1"),
        (json!({"x": [[1, 2], [3, "4"], [4, 5]], "y": [1, 2, 3]}), "x.1.1"),
        (json!({"x": [[1, 2], [3, 5], [4, 5], [1, 1]], "y": [1, 2, 3, 4], "degree": 2}), "degree"),
        (json!({"x": [1, 2, 3], "y": [1, 2, 3], "weights": [1, 1]}), "weights"),
        (json!({"x": [1, 2, 3], "y": [1, 2, 3], "weights": [1, 0, 1]}), "weights.1"),
        (json!({"x": "wide", "y": [1, 2, 3]}), "x"),
    ] {
        let refused = crate::compute::answer("least-squares", &request, &Alone, false);
        assert_eq!(refused.as_ref().map_err(|refused| refused.key.as_str()), Err(key), "{request}");
    }
}

#[test]
fn what_can_not_be_a_number_is_null() {
    let found = crate::compute::answer("least-squares", &json!({"x": [1, 2, 3], "y": [4, 4, 4]}), &Alone, false).unwrap();
    assert_eq!((&found["r2"], &found["F"]), (&Value::Null, &Value::Null));
    assert_eq!(found["b"][1].as_f64(), Some(0.0));
}
