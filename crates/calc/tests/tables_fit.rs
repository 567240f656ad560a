//! The rows of `checks/fits` that speak of pressed rings, each against the same functions that the program answers with.
#![allow(non_snake_case, reason = "letters of the source and names of the contract")]
#![allow(clippy::unwrap_used, reason = "a test fails where it can't go on")]

use std::path::Path;

use calc::fit::lame::{bush_compliance, close_in, housing_compliance, joint_pressure};
use calc::fit::rings::{Axial, Criterion, Fit, Ring, State, Sweep, fit};
use calc::tables::Table;

fn table(name: &str) -> Table {
    Table::read(&std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/fits").join(name)).unwrap())
}

/// A bush of bore Q and outside 1 (+ interference) in a housing, sizes in parts of the joint times 1000 mm.
fn pressed(Q: f64, housing: f64, bush_E: (f64, f64), housing_E: (f64, f64), delta: f64) -> Fit {
    let ring = |bore_mm: f64, outside_mm: f64, (E_GPa, nu): (f64, f64)| Ring {
        name: String::new(),
        bore_mm,
        outside_mm,
        E_GPa,
        nu,
        alpha_per_K: 0.0,
        yield_MPa: None,
        tension_limit_MPa: None,
        Rz_bore_um: 0.0,
        Rz_outside_um: 0.0,
    };
    Fit {
        rings: vec![ring(1000.0 * Q, 1000.0 * (1.0 + delta), bush_E), ring(1000.0, 1000.0 * housing, housing_E)],
        states: vec![State { name: "20 °C".into(), T_C: vec![20.0, 20.0] }],
        smoothing: 0.8,
        axial: Axial::Free,
        criterion: Criterion::Tresca,
        sweep: Sweep::All,
        friction: None,
        axial_kN: None,
        torque_Nm: None,
        cycle_T_C: None,
    }
}

/// Within the last digit that the table gives.
fn near(found: f64, given: &str, what: &str) {
    let digits = given.split('.').nth(1).map_or(0, str::len);
    // Half a digit, and a little for a value that the table's own program rounded the other way.
    let allowed = (0..digits).fold(0.51, |allowed, _| allowed / 10.0);
    let wanted: f64 = given.parse().unwrap();
    assert!((found - wanted).abs() <= allowed, "{what}: {found}, the table has {given}");
}

/// `closure_ratio_lame.csv`: Lamé, plane stress, computed. Every row.
#[test]
fn bushes_close_in_as_the_table_of_lame_says() {
    let bronze = (105.0, 0.34);
    let mut rows = 0;
    for row in table("closure_ratio_lame.csv").rows() {
        let metal = if row.text("materials").contains("grey iron") { (110.0, 0.26) } else { (206.0, 0.30) };
        let Q = row.number("bush_d_over_D").unwrap();
        let k_b = bush_compliance(Q, bronze.0, bronze.1);
        let housing = row.number("housing_OD_over_D");
        let k_h = housing.map_or(0.0, |housing| housing_compliance(1.0 / housing, metal.0, metal.1));
        let what = format!("{} Q {Q} housing {}", row.text("materials"), row.text("housing_OD_over_D"));
        let closed_by_p = close_in(1.0, Q, Q, bronze.0);
        near(k_b / (k_b + k_h), row.text("share_taken_by_bush"), &what);
        near(closed_by_p / k_b, row.text("bore_change_over_OD_change"), &what);
        let closure = closed_by_p * joint_pressure(1.0, 1.0, k_b + k_h);
        near(closure, row.text("bore_closure_over_interference"), &what);
        near(1e3 * joint_pressure(1e-3, 1.0, k_b + k_h), row.text("pressure_MPa_per_0.001_relative_interference"), &what);
        if let Some(housing) = housing {
            let state = &fit(&pressed(Q, housing, bronze, metal, 1e-3)).unwrap().states[0];
            near(state.close_in_ratio.unwrap(), row.text("bore_closure_over_interference"), &what);
            near(state.pressure_MPa.value, row.text("pressure_MPa_per_0.001_relative_interference"), &what);
        }
        rows += 1;
    }
    assert_eq!(rows, 70);
}

/// `e6_to_h8_closure.csv`: steel housing of twice the outside, bronze of 105 GPa, computed. Every row.
#[test]
fn the_mean_bush_of_the_bush_standard_closes_from_e6_into_h8() {
    let mut rows = 0;
    for row in table("e6_to_h8_closure.csv").rows() {
        let number = |heading: &str| row.number(heading).unwrap();
        let what = format!("{} x {}", row.text("d1_mm"), row.text("d2_mm"));
        let (Q, mean) = (number("d1_mm") / number("d2_mm"), (number("interf_min_um") + number("interf_max_um")) / 2.0);
        near(mean, row.text("interf_mean_um"), &what);
        let state = &fit(&pressed(Q, 2.0, (105.0, 0.34), (206.0, 0.30), mean / number("d2_mm") / 1e3)).unwrap().states[0];
        let ratio = state.close_in_ratio.unwrap();
        near(ratio, row.text("lame_closure_ratio"), &what);
        let bore = number("bore_mean_E6_um") - ratio * mean;
        near(bore, row.text("lame_bore_mean_after_um"), &what);
        let inside = (number("H8_lower_um")..=number("H8_upper_um")).contains(&bore);
        assert_eq!(inside, row.text("mean_inside_H8") == "yes", "{what}");
        rows += 1;
    }
    assert_eq!(rows, 138);
}
