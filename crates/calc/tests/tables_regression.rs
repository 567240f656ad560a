//! Certified regressions and the gauge study of `checks/measure`.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use calc::measure::least_squares::{LeastSquares, Points, least_squares};
use calc::measure::repeatability::repeatability;
use serde_json::Value;

fn read(name: &str) -> Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/measure").join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

/// Significant digits that agree.
fn digits(found: f64, certified: f64) -> f64 {
    -calc::math::log10((found / certified - 1.0).abs().max(1e-16))
}

fn fit(columns: Vec<Vec<f64>>, y: Vec<f64>) -> LeastSquares {
    least_squares(&Points { columns, y, intercept: true, weights: None }).unwrap()
}

#[test]
fn longley_keeps_ten_certified_digits() {
    let data = read("strd_longley.json");
    let rows: Vec<Vec<f64>> = data["x"].as_array().unwrap().iter().map(numbers).collect();
    let columns = (0..rows[0].len()).map(|j| rows.iter().map(|row| row[j]).collect()).collect();
    let answer = fit(columns, numbers(&data["y"]));
    // NIST StRD, Longley (read): the constant and the last coefficient.
    assert!(digits(answer.b[0], -3_482_258.634_595_82) > 10.0, "{}", answer.b[0]);
    assert!(digits(answer.b[6], 1829.151_464_613_55) > 10.0, "{}", answer.b[6]);
    assert!(digits(answer.residual_sd, 304.854_073_561_965) > 10.0);
}

#[test]
fn norris_keeps_eleven_certified_digits() {
    let data = read("strd_norris.json");
    let (x, y) = (numbers(&data["x"]), numbers(&data["y"]));
    let answer = fit(vec![x], y);
    assert!(digits(answer.b[1], 1.002_116_818_020_45) > 11.0, "{}", answer.b[1]);
    assert!(digits(answer.b[0], -0.262_323_073_774_029) > 11.0, "{}", answer.b[0]);
}

#[test]
fn the_gauge_study_gives_its_tabled_spreads() {
    let data = read("grr_anova.json");
    let table = data.get("x_mm").unwrap();
    let readings: Vec<Vec<Vec<f64>>> =
        table.as_array().unwrap().iter().map(|part| part.as_array().unwrap().iter().map(numbers).collect()).collect();
    let answer = repeatability(&readings, None).unwrap();
    assert!((answer.repeatability_sd_mm - 0.004_523_600_663_516_72).abs() < 1e-9, "{answer:?}");
    assert_eq!(answer.categories, Some(3));
}
