//! Laws of a shaped seat: rings where rings serve, balance, mirror, scale, comparison, orders of convergence and of cost, honest errors,
//! and that every request is answered or refused in a sentence.
#![allow(non_snake_case, reason = "keys and code agree: E_GPa, nu are the names of the contract")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use calc::crew::Alone;
use calc::fit::shape::{Bush, Flange, Found, Groove, Housing, Outline, Section, Shape, mesh};
use calc::math::{ln, powi};
use proptest::prelude::*;
use serde_json::{Value, json};

mod shape_requests;

fn ask(kind: &str, request: &Value) -> Value {
    calc::answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{kind} {request}: {refused}"))
}

fn at(answer: &Value, key: &str) -> f64 {
    let found = key.split('.').fold(answer, |value, part| part.parse::<usize>().map_or(&value[part], |i| &value[i]));
    found.as_f64().unwrap_or_else(|| panic!("no number at {key}: {answer}"))
}

fn near(a: f64, b: f64, rel: f64) -> bool {
    (a - b).abs() <= rel * a.abs().max(b.abs())
}

/// A bush as long as its housing.
fn plain(length: f64) -> Shape {
    Shape {
        bush: Bush {
            bore_mm: 200.0,
            from_mm: 0.0,
            to_mm: length,
            E_GPa: 100.0,
            nu: 0.34,
            flange: None,
            outside_grooves: Vec::new(),
            bore_grooves: Vec::new(),
        },
        housing: Housing {
            bore_mm: 230.0,
            sections: vec![Section { from_mm: 0.0, to_mm: length, outside_mm: 420.0 }],
            bore_grooves: Vec::new(),
            E_GPa: 206.0,
            nu: 0.3,
        },
        interference: vec![(0.0, 150.0)],
        stuck: false,
        mu_low: None,
        mu_high: None,
        at_mm: vec![0.5 * length],
        accuracy_pct: 0.05,
    }
}

/// A bush with a flange and grooves, proud of a stepped housing with a bell mouth.
fn everything() -> Shape {
    let mut shape = plain(180.0);
    shape.bush.to_mm = 196.0;
    shape.bush.flange = Some(Flange { left: true, outside_mm: 290.0, thickness_mm: 12.0 });
    shape.bush.outside_grooves = vec![Groove { from_mm: 60.0, to_mm: 70.0, depth_mm: 4.0 }];
    shape.bush.bore_grooves = vec![Groove { from_mm: 110.0, to_mm: 118.0, depth_mm: 3.0 }];
    shape.housing.bore_grooves = vec![Groove { from_mm: 112.0, to_mm: 116.0, depth_mm: 6.0 }];
    shape.housing.sections =
        vec![Section { from_mm: 0.0, to_mm: 90.0, outside_mm: 420.0 }, Section { from_mm: 90.0, to_mm: 180.0, outside_mm: 330.0 }];
    shape.interference = vec![(0.0, 150.0), (150.0, 170.0), (180.0, -200.0)];
    shape
}

fn solved(shape: &Shape, halvings: u32) -> Found {
    mesh(&Outline::new(shape).unwrap(), halvings, None, true).unwrap()
}

fn request(shape: &Shape) -> Value {
    let grooves = |list: &[Groove]| -> Value {
        list.iter().map(|groove| json!({"from_mm": groove.from_mm, "to_mm": groove.to_mm, "depth_mm": groove.depth_mm})).collect()
    };
    let Bush { bore_mm, from_mm, to_mm, E_GPa, nu, .. } = shape.bush;
    let mut bush = json!({"bore_mm": bore_mm, "from_mm": from_mm, "to_mm": to_mm, "E_GPa": E_GPa, "nu": nu,
        "outside_grooves": grooves(&shape.bush.outside_grooves), "bore_grooves": grooves(&shape.bush.bore_grooves)});
    if let Some(flange) = &shape.bush.flange {
        let side = if flange.left { "left" } else { "right" };
        bush["flange"] = json!({"side": side, "outside_mm": flange.outside_mm, "thickness_mm": flange.thickness_mm});
    }
    let sections: Value = shape
        .housing
        .sections
        .iter()
        .map(|section| json!({"from_mm": section.from_mm, "to_mm": section.to_mm, "outside_mm": section.outside_mm}))
        .collect();
    let housing = json!({"bore_mm": shape.housing.bore_mm, "sections": sections, "E_GPa": shape.housing.E_GPa, "nu": shape.housing.nu,
        "bore_grooves": grooves(&shape.housing.bore_grooves)});
    let interference: Value = shape.interference.iter().map(|(z, delta)| json!([z, delta])).collect();
    json!({"bush": bush, "housing": housing, "interference_um": interference, "friction": if shape.stuck { "stuck" } else { "none" },
        "at_mm": shape.at_mm, "accuracy_pct": shape.accuracy_pct})
}

/// The same seat seen from the other side.
fn mirrored(shape: &Shape) -> Shape {
    let mut shape = shape.clone();
    let turn = |from: &mut f64, to: &mut f64| (*from, *to) = (-*to, -*from);
    turn(&mut shape.bush.from_mm, &mut shape.bush.to_mm);
    let lists = [&mut shape.bush.outside_grooves, &mut shape.bush.bore_grooves, &mut shape.housing.bore_grooves];
    lists.into_iter().flatten().for_each(|groove| turn(&mut groove.from_mm, &mut groove.to_mm));
    shape.housing.sections.iter_mut().for_each(|section| turn(&mut section.from_mm, &mut section.to_mm));
    shape.housing.sections.reverse();
    shape.bush.flange.iter_mut().for_each(|flange| flange.left ^= true);
    shape.interference = shape.interference.iter().rev().map(|(z, delta)| (-z, *delta)).collect();
    shape.at_mm.iter_mut().for_each(|z| *z = -*z);
    shape
}

/// The energy of the field is ½ δ/2 times the force. Its error is the square of the error in the norm of the strains, which for elements
/// of the second order falls with the square of their size; the rings have the exact force.
#[test]
fn strains_come_closer_with_the_square_of_the_element() {
    let shape = plain(180.0);
    let exact = at(&ask("fit-shape", &request(&shape)), "ring_pressure_MPa") * std::f64::consts::PI * 230.0 * 180.0 / 1e3;
    let errors: Vec<f64> = (0..4).map(|halvings| (solved(&shape, halvings).force_kN / exact - 1.0).abs().sqrt()).collect();
    for pair in errors.windows(2) {
        let order = ln(pair[0] / pair[1]) / ln(2.0);
        assert!((1.8..2.2).contains(&order), "order {order}: {errors:?}");
    }
}

/// Nested dissection in the plane: multiplications grow with the power 1.5 in the end. (By the clock it is less, see the bench.)
#[test]
fn the_work_grows_with_the_power_1_5_of_the_unknowns_at_most() {
    let mut proud = plain(180.0);
    proud.bush.to_mm = 196.0;
    for shape in [plain(180.0), proud] {
        let cost: Vec<(f64, f64)> =
            (1..4).map(|halvings| solved(&shape, halvings)).map(|found| (found.unknowns as f64, found.multiplications as f64)).collect();
        let exponent = ln(cost[2].1 / cost[0].1) / ln(cost[2].0 / cost[0].0);
        assert!(exponent < 1.5, "{exponent} {cost:?}");
    }
}

#[test]
fn a_long_bush_is_rings_at_mid_length_free_or_tied() {
    for (stuck, axial) in [(false, "free"), (true, "stuck")] {
        let mut shape = plain(2400.0);
        shape.stuck = stuck;
        shape.accuracy_pct = 0.005;
        let found = ask("fit-shape", &request(&shape));
        let rings = json!({"rings": [{"bore_mm": 200, "outside_mm": 230.15, "E_GPa": 100, "nu": 0.34, "alpha_per_K": 0},
            {"bore_mm": 230, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 0}], "axial": axial, "smoothing": 0});
        let rings = ask("fit", &rings);
        assert!(near(at(&found, "profile.0.pressure_MPa"), at(&rings, "states.0.pressure_MPa"), 2e-5), "{axial}: {found} {rings}");
        assert!(near(at(&found, "profile.0.close_in_um"), at(&rings, "states.0.close_in_um"), 2e-5), "{axial}: {found} {rings}");
    }
}

#[test]
fn forces_balance_whatever_the_shape() {
    for stuck in [false, true] {
        let mut shape = everything();
        shape.stuck = stuck;
        for halvings in 0..2 {
            let (force, bush, housing) = solved(&shape, halvings).balance.unwrap();
            assert!((bush + force).abs() < 1e-8 * force && (housing - force).abs() < 1e-8 * force, "{force} {bush} {housing}");
        }
    }
}

#[test]
fn the_error_that_is_told_is_over_the_error_that_is_left() {
    let mut shape = plain(180.0);
    shape.bush.to_mm = 196.0;
    shape.bush.flange = Some(Flange { left: true, outside_mm: 290.0, thickness_mm: 12.0 });
    shape.interference = vec![(0.0, 150.0), (140.0, 170.0), (180.0, -200.0)];
    for stuck in [false, true] {
        shape.stuck = stuck;
        let (mean, most, least, left, right) = solved(&shape, 3).close_in_um;
        for accuracy_pct in [1.0, 0.1] {
            shape.accuracy_pct = accuracy_pct;
            let told = ask("fit-shape", &request(&shape));
            for (key, exact) in [
                ("close_in_mean_um", mean),
                ("close_in_max_um", most),
                ("close_in_min_um", least),
                ("close_in_left_um", left.unwrap()),
                ("close_in_right_um", right.unwrap()),
            ] {
                assert!((at(&told, key) - exact).abs() <= at(&told, "close_in_error_um"), "{key} {exact}: {told}");
            }
            assert!(at(&told, "close_in_error_um") <= accuracy_pct / 100.0 * 200.0 && told["lifted"] == true, "{told}");
        }
    }
}

#[test]
fn an_accuracy_that_can_not_be_met_is_said() {
    let mut shape = everything();
    shape.accuracy_pct = 1e-6;
    let found = ask("fit-shape", &request(&shape));
    assert!(found["warnings"][0].as_str().unwrap().contains("did not come to the accuracy"), "{found}");
}

#[test]
fn a_bush_that_is_loose_everywhere_presses_nowhere() {
    let mut shape = everything();
    shape.interference = vec![(0.0, -3.0), (180.0, 0.0)];
    let found = ask("fit-shape", &request(&shape));
    assert_eq!((at(&found, "contact_force_kN"), at(&found, "close_in_max_um")), (0.0, 0.0));
    assert!(found["lifted"] == true && found["warnings"][0].as_str().unwrap().contains("loose"));
}

#[test]
fn what_can_not_be_answered_is_refused_by_its_key() {
    let bad: [(&str, fn(&mut Shape)); 11] = [
        ("bush.bore_mm", |shape| shape.bush.bore_mm = 230.0),
        ("bush.from_mm", |shape| shape.bush.from_mm = 200.0),
        ("bush", |shape| (shape.bush.from_mm, shape.bush.to_mm) = (180.0, 250.0)),
        ("bush", |shape| shape.bush.outside_grooves = vec![Groove { from_mm: -1.0, to_mm: 200.0, depth_mm: 2.0 }]),
        ("bush.outside_grooves.0.depth_mm", |shape| shape.bush.outside_grooves[0].depth_mm = 15.0),
        ("bush.bore_grooves.0.depth_mm", |shape| shape.bush.outside_grooves[0] = Groove { from_mm: 100.0, to_mm: 112.0, depth_mm: 12.5 }),
        ("housing.bore_grooves.0.depth_mm", |shape| shape.housing.bore_grooves[0].depth_mm = 50.0),
        ("housing.sections.1.outside_mm", |shape| shape.housing.sections[1].outside_mm = 230.0),
        ("housing.sections", |shape| shape.housing.sections[1].from_mm = 91.0),
        ("bush.flange.outside_mm", |shape| shape.bush.flange = Some(Flange { left: true, outside_mm: 230.0, thickness_mm: 9.0 })),
        ("interference_um.1", |shape| shape.interference[1].0 = 0.0),
    ];
    for (key, spoil) in bad {
        let mut shape = everything();
        spoil(&mut shape);
        let refused = calc::answer("fit-shape", &request(&shape), &Alone, false).map(|answer| panic!("{key}: {answer}")).unwrap_err();
        let groove = key == "bush.bore_grooves.0.depth_mm" && refused.key == "bush.outside_grooves.0.depth_mm";
        assert!(refused.key == key || groove, "{key}: {refused}");
        assert!(!refused.allowed.is_empty() && !refused.remedy.is_empty(), "{refused}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]

    #[test]
    fn a_plain_bush_is_rings_along_all_its_length(
        bore in 40.0..300.0f64, wall in 0.03..0.2f64, around in 1.2..3.0f64, length in 0.3..1.5f64, delta in 20.0..300.0f64,
    ) {
        let mut shape = plain(length * bore);
        (shape.bush.bore_mm, shape.housing.bore_mm) = (bore, bore * (1.0 + 2.0 * wall));
        shape.housing.sections[0].outside_mm = shape.housing.bore_mm * around;
        shape.interference = vec![(0.0, delta)];
        let found = ask("fit-shape", &request(&shape));
        let ring = at(&found, "ring_close_in_um");
        for key in ["close_in_mean_um", "close_in_left_um", "close_in_right_um", "close_in_max_um", "close_in_min_um"] {
            prop_assert!(near(at(&found, key), ring, 1e-4), "{} {}", key, found);
        }
        prop_assert!(near(at(&found, "profile.0.pressure_MPa"), at(&found, "ring_pressure_MPa"), 2e-4), "{}", found);
    }

    #[test]
    fn a_seat_seen_from_the_other_side_is_the_same(at_z in -15.0..200.0f64, tied in any::<bool>()) {
        let mut shape = everything();
        shape.stuck = tied;
        shape.at_mm = vec![at_z];
        shape.accuracy_pct = 1.0;
        let (one, other) = (ask("fit-shape", &request(&shape)), ask("fit-shape", &request(&mirrored(&shape))));
        prop_assert!(near(at(&one, "close_in_left_um"), at(&other, "close_in_right_um"), 1e-5), "{} {}", one, other);
        prop_assert!(near(at(&one, "contact_force_kN"), at(&other, "contact_force_kN"), 1e-6));
        prop_assert!(near(at(&one, "ring_pressure_MPa"), at(&other, "ring_pressure_MPa"), 1e-12), "{} {}", one, other);
        // Asked to 1 %; both meshes are the same one, seen from two sides, each with the last set of its own search for what touches: towards
        // the end of the contact, where the pressure rises to hundreds of MPa, that moves it by up to 0.5 permille.
        for key in ["pressure_MPa", "close_in_um"] {
            let (a, b) = (&one["profile"][0][key], &other["profile"][0][key]);
            let alike = |a: f64, b: f64| (a - b).abs() < 1e-2_f64.max(2e-3 * a.abs());
            prop_assert!(a.is_null() == b.is_null() && (a.is_null() || alike(a.as_f64().unwrap(), b.as_f64().unwrap())), "{} {}", one, other);
        }
    }

    /// Everything twice as large, interference too: the same pressure; twice the interference: twice everything.
    #[test]
    fn a_seat_scales(k in 0.1..10.0f64, tied in any::<bool>()) {
        let mut shape = everything();
        shape.stuck = tied;
        shape.accuracy_pct = 1.0;
        let one = ask("fit-shape", &request(&shape));
        let mut harder = shape.clone();
        harder.interference.iter_mut().for_each(|station| station.1 *= k);
        let harder = ask("fit-shape", &request(&harder));
        let mut larger = shape;
        let lists = [&mut larger.bush.outside_grooves, &mut larger.bush.bore_grooves, &mut larger.housing.bore_grooves];
        for groove in lists.into_iter().flatten() {
            (groove.from_mm, groove.to_mm, groove.depth_mm) = (k * groove.from_mm, k * groove.to_mm, k * groove.depth_mm);
        }
        for section in &mut larger.housing.sections {
            (section.from_mm, section.to_mm, section.outside_mm) = (k * section.from_mm, k * section.to_mm, k * section.outside_mm);
        }
        if let Some(flange) = &mut larger.bush.flange {
            (flange.outside_mm, flange.thickness_mm) = (k * flange.outside_mm, k * flange.thickness_mm);
        }
        for size in [&mut larger.bush.bore_mm, &mut larger.bush.from_mm, &mut larger.bush.to_mm, &mut larger.housing.bore_mm] {
            *size *= k;
        }
        larger.interference.iter_mut().for_each(|station| *station = (k * station.0, k * station.1));
        larger.at_mm.iter_mut().for_each(|z| *z *= k);
        let larger = ask("fit-shape", &request(&larger));
        for (key, by_interference, by_size) in
            [("close_in_mean_um", 1, 1), ("close_in_right_um", 1, 1), ("contact_force_kN", 1, 2), ("pressure_mean_MPa", 1, 0)]
        {
            prop_assert!(near(at(&harder, key), powi(k, by_interference) * at(&one, key), 1e-6), "{} {} {}", key, harder, one);
            prop_assert!(near(at(&larger, key), powi(k, by_size) * at(&one, key), 1e-5), "{} {} {}", key, larger, one);
        }
    }

    /// More interference all along is more force, and so is a stiffer housing.
    #[test]
    fn tighter_and_stiffer_press_harder(more in 1.0..80.0f64, stiffer in 1.02..2.0f64) {
        let mut shape = everything();
        shape.accuracy_pct = 1.0;
        let one = at(&ask("fit-shape", &request(&shape)), "contact_force_kN");
        let mut stiff = shape.clone();
        stiff.housing.E_GPa *= stiffer;
        prop_assert!(at(&ask("fit-shape", &request(&stiff)), "contact_force_kN") > one);
        shape.interference.iter_mut().for_each(|station| station.1 += more);
        let tight = at(&ask("fit-shape", &request(&shape)), "contact_force_kN");
        prop_assert!(tight > one, "{} {}", tight, one);
    }
}

/// More of them, with a clock: the example `shape_requests`.
#[test]
fn every_seat_that_is_asked_for_is_answered_or_refused() {
    let mut answered = 0;
    for i in 0..40 {
        let request = shape_requests::request(i);
        match calc::answer("fit-shape", &request, &Alone, false) {
            Ok(answer) => {
                answered += 1;
                assert_eq!(shape_requests::fault(&answer), None, "{i}: {request}: {answer}");
            }
            Err(refused) => assert!(!refused.allowed.is_empty() && !refused.remedy.is_empty(), "{i}: {request}: {refused}"),
        }
    }
    assert!(answered > 20, "only {answered} were answered");
}
