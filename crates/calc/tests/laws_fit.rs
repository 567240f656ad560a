//! Laws of pressed rings that hold whatever the sizes: what grows with what, what does not depend on how it is asked.
#![allow(non_snake_case, reason = "letters of the source and names of the contract")]
#![allow(clippy::unwrap_used, reason = "a test fails where it can't go on")]

use calc::fit::map::{FitMap, Region, Steps, fit_map};
use calc::fit::rings::{Axial, Criterion, Fit, FitAnswer, Ring, State, Sweep, fit};
use proptest::prelude::*;

fn ring(bore_mm: f64, outside_mm: f64, E_GPa: f64, nu: f64, alpha_per_K: f64, yield_MPa: Option<f64>) -> Ring {
    Ring {
        name: "ring".into(),
        bore_mm,
        outside_mm,
        E_GPa,
        nu,
        alpha_per_K,
        yield_MPa,
        tension_limit_MPa: None,
        Rz_bore_um: 0.0,
        Rz_outside_um: 0.0,
    }
}

fn of(rings: Vec<Ring>, T_C: Vec<f64>) -> Fit {
    Fit {
        rings,
        states: vec![State { name: "asked".into(), T_C }],
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

/// Bronze in steel by joint, bush ratio, housing ratio and interference per joint; no yields.
fn bronze_in_steel((D, Q, q, per_mm): (f64, f64, f64, f64), T_C: Vec<f64>) -> Fit {
    let bush = ring(Q * D, D * (1.0 + per_mm), 105.0, 0.34, 18e-6, None);
    of(vec![bush, ring(D, D / q, 206.0, 0.3, 11.5e-6, None)], T_C)
}

fn answered(request: &Fit) -> FitAnswer {
    fit(request).unwrap()
}

fn pressure(request: &Fit) -> f64 {
    answered(request).states[0].pressure_MPa.value
}

/// Joint diameter, bush ratio, housing ratio, interference per joint diameter.
fn seats() -> impl Strategy<Value = (f64, f64, f64, f64)> {
    (20.0..600.0, 0.7..0.96, 0.3..0.85, 2e-4..1.5e-3)
}

fn same(one: f64, other: f64, tolerance: f64) -> bool {
    (one - other).abs() <= tolerance * one.abs().max(other.abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn more_interference_never_presses_less_nor_closes_less(seat in seats(), more in 1e-5..1e-3, Y in 80.0..300.0) {
        let with = |per_mm: f64| {
            let mut request = bronze_in_steel((seat.0, seat.1, seat.2, per_mm), vec![20.0, 20.0]);
            request.rings[0].yield_MPa = Some(Y);
            answered(&request)
        };
        let (some, tighter) = (with(seat.3), with(seat.3 + more));
        prop_assert!(tighter.states[0].pressure_MPa.value >= some.states[0].pressure_MPa.value * (1.0 - 1e-12));
        prop_assert!(tighter.states[0].close_in_um.value > some.states[0].close_in_um.value);
    }

    #[test]
    fn a_housing_cut_into_rings_that_just_match_is_the_same_housing(seat in seats(), cuts in 1usize..5) {
        let whole = bronze_in_steel(seat, vec![20.0, 20.0]);
        let housing = whole.rings[1].clone();
        let edge = |k: usize| housing.bore_mm + (housing.outside_mm - housing.bore_mm) * k as f64 / (cuts + 1) as f64;
        let mut cut = whole.clone();
        cut.rings.truncate(1);
        cut.rings.extend((0..=cuts).map(|k| Ring { bore_mm: edge(k), outside_mm: edge(k + 1), ..housing.clone() }));
        cut.states[0].T_C = vec![20.0; cuts + 2];
        let (one, many) = (answered(&whole), answered(&cut));
        prop_assert!(many.states[0].holds);
        prop_assert!(same(one.states[0].pressure_MPa.value, many.states[0].pressure_MPa.value, 1e-9));
        prop_assert!(same(one.states[0].close_in_um.value, many.states[0].close_in_um.value, 1e-9));
        prop_assert!(same(one.states[0].outside_growth_um, many.states[0].outside_growth_um, 1e-8));
    }

    #[test]
    fn all_sizes_in_one_proportion_give_the_same_pressures_so_inches_do_too(seat in seats(), scale in prop_oneof![Just(1.0 / 25.4), 0.1..10.0], Y in 80.0..300.0) {
        let mut request = bronze_in_steel(seat, vec![60.0, 40.0]);
        request.rings[0].yield_MPa = Some(Y);
        let mut scaled = request.clone();
        for ring in &mut scaled.rings {
            ring.bore_mm *= scale;
            ring.outside_mm *= scale;
        }
        let (one, other) = (answered(&request), answered(&scaled));
        prop_assert!(same(one.states[0].pressure_MPa.value, other.states[0].pressure_MPa.value, 1e-9));
        prop_assert!(same(one.states[0].close_in_um.value * scale, other.states[0].close_in_um.value, 1e-7));
        prop_assert!(same(one.lets_go_C.map_or(0.0, |T| T.value), other.lets_go_C.map_or(0.0, |T| T.value), 1e-8));
    }

    #[test]
    fn a_warmer_housing_never_holds_tighter(seat in seats(), T in -40.0..120.0, warmer in 0.1..60.0) {
        let pressure = |housing_C: f64| pressure(&bronze_in_steel(seat, vec![T, housing_C]));
        prop_assert!(pressure(T + warmer) <= pressure(T));
    }

    #[test]
    fn bronze_in_steel_lets_go_cold_and_the_pressure_there_is_nothing(seat in seats()) {
        let found = answered(&bronze_in_steel(seat, vec![20.0, 20.0]));
        if let Some(T) = found.lets_go_C {
            prop_assert!(T.value < 20.0);
            let there = pressure(&bronze_in_steel(seat, vec![T.value, T.value]));
            prop_assert!(there.abs() < 1e-6 * found.states[0].pressure_MPa.value, "{there}");
        }
    }

    #[test]
    fn the_plastic_curve_joins_the_elastic_one_at_onset(seat in seats(), Y in 20.0..80.0, beyond in 0.0..1e-7) {
        let mut request = bronze_in_steel(seat, vec![20.0, 20.0]);
        let elastic = answered(&request);
        // The yield whose onset is just under what this interference asks of the bush.
        request.rings[0].yield_MPa = Some(-elastic.states[0].rings[0].hoop_bore_MPa.value * (1.0 - beyond));
        let plastic = answered(&request);
        prop_assert!(same(elastic.states[0].pressure_MPa.value, plastic.states[0].pressure_MPa.value, 1e-6));
        prop_assert!(same(elastic.states[0].close_in_um.value, plastic.states[0].close_in_um.value, 1e-6));
        prop_assert!(plastic.states[0].rings[0].flow.is_some_and(|flow| flow.set_bore_um.abs() < 1e-6 * elastic.states[0].close_in_um.value));
        // And a bush that yields never presses harder than one that does not.
        request.rings[0].yield_MPa = Some(Y);
        prop_assert!(pressure(&request) <= elastic.states[0].pressure_MPa.value * (1.0 + 1e-12));
    }

    #[test]
    fn joints_press_or_gape_and_never_pull(
        walls in proptest::collection::vec((1.03..1.3f64, 60.0..210.0, 0.2..0.36, -1e-3..1e-3, 10e-6..24e-6, -60.0..160.0), 3..=6),
    ) {
        let mut bore = 100.0;
        let mut rings = Vec::new();
        for (wall, E, nu, delta, alpha, _) in &walls {
            rings.push(ring(bore, bore * wall * (1.0 + delta), *E, *nu, *alpha, None));
            bore *= wall;
        }
        let state = &answered(&of(rings, walls.iter().map(|wall| wall.5).collect())).states[0];
        for (j, joint) in state.joints.iter().enumerate() {
            let p = joint.pressure_MPa.value;
            prop_assert!(p >= 0.0 && joint.gap_um >= 0.0 && (p == 0.0 || joint.gap_um == 0.0) && joint.closed == (p > 0.0));
            // What the rings did at the joint is what the interference and the gap ask for.
            let moved = state.rings[j + 1].bore_change_um - state.rings[j].outside_change_um;
            prop_assert!((moved - joint.effective_um.value - joint.gap_um).abs() < 1e-6, "{joint:?}");
        }
    }

    #[test]
    fn a_cell_of_the_map_is_what_fit_says_of_it(
        seat in seats(), Y in 80.0..300.0, tension in 20.0..120.0, T in -60.0..160.0f64, I in 1.0..600.0f64, sweep_bush in any::<bool>(),
    ) {
        let (D, Q, q, _) = seat;
        let bush = ring(Q * D, D, 105.0, 0.34, 18e-6, Some(Y));
        let housing = Ring { tension_limit_MPa: Some(tension), ..ring(D, D / q, 110.0, 0.26, 10.7e-6, None) };
        let sweep = if sweep_bush { Sweep::Bush } else { Sweep::All };
        let map = fit_map(&FitMap {
            bush: bush.clone(),
            housing: housing.clone(),
            T_C: Steps { from: T, to: T + 10.0, count: 2 },
            interference_um: Steps { from: I, to: I + 10.0, count: 2 },
            hold_pressure_MPa: 0.0,
            smoothing: 0.8,
            criterion: Criterion::Tresca,
            sweep,
        })
        .unwrap();
        // Loaded as new: the free sizes of T are the sizes at 20 °C of rings that do not expand.
        let warm = |size: f64, ring: &Ring, swept: bool| if swept { size * (1.0 + ring.alpha_per_K * (T - 20.0)) } else { size };
        let delta = warm(D + I / 1e3, &bush, true) - warm(D, &housing, !sweep_bush);
        let new = Ring { outside_mm: D + delta, ..bush };
        if delta > 0.0 {
            let state = &answered(&of(vec![new, housing], vec![20.0, 20.0])).states[0];
            let wanted = if state.housing_over { Region::HousingOver } else if state.takes_set { Region::TakesSet } else { Region::Holds };
            prop_assert_eq!(map.region[0][0], wanted);
        } else {
            prop_assert_eq!(map.region[0][0], Region::LetsGo);
        }
    }

    #[test]
    fn a_fit_at_the_temperature_where_it_sets_is_just_at_its_yield(seat in seats(), Y in 80.0..300.0) {
        let mut request = bronze_in_steel(seat, vec![20.0, 20.0]);
        request.rings[0].yield_MPa = Some(Y);
        if let Some(T) = answered(&request).takes_set_C {
            request.states[0].T_C = vec![T.value; 2];
            let used = answered(&request).states[0].rings[0].used.unwrap();
            prop_assert!((used - 1.0).abs() < 1e-6, "{used}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn whatever_is_asked_is_refused_or_answered_with_numbers(
        sizes in (1e-3..1e3f64, 1e-12..3.0f64, -1e-2..1e-2f64, 1e-12..3.0f64),
        moduli in (1e-6..1e4f64, -0.999..0.4999f64, 1e-6..1e4f64, -0.999..0.4999f64),
        heat in (0.0..1e-3f64, 0.0..1e-3f64, -273.15..5000.0f64, -273.15..5000.0f64),
        yields in (proptest::option::of(1e-3..1e5f64), proptest::option::of(1e-3..1e5f64)),
        axial in prop_oneof![Just(Axial::Free), Just(Axial::Stuck), Just(Axial::Held)],
    ) {
        let (bore, wall, per_mm, housing) = sizes;
        let D = bore * (1.0 + wall);
        let mut request = of(
            vec![
                ring(bore, D * (1.0 + per_mm), moduli.0, moduli.1, heat.0, yields.0),
                ring(D, D * (1.0 + housing), moduli.2, moduli.3, heat.1, yields.1),
            ],
            vec![heat.2, heat.3],
        );
        request.axial = axial;
        if axial == Axial::Free {
            request.cycle_T_C = Some(vec![vec![heat.3, heat.2]]);
        }
        if let Ok(found) = fit(&request) {
            let state = &found.states[0];
            let mut numbers = vec![state.pressure_MPa.value, state.close_in_um.value, state.outside_growth_um];
            for ring in &state.rings {
                numbers.extend([ring.hoop_bore_MPa.value, ring.hoop_outside_MPa.value, ring.von_mises_MPa, ring.bore_mm, ring.outside_mm]);
                numbers.extend(ring.used);
                numbers.extend(ring.flow.iter().flat_map(|flow| [flow.front_mm, flow.set_bore_um, flow.set_outside_um]));
            }
            numbers.extend(found.after_cycle.iter().flat_map(|after| [after.pressure_MPa.value, after.close_in_um.value, after.housing_set_um]));
            numbers.extend([found.lets_go_C, found.takes_set_C, found.housing_limit_C].iter().flatten().map(|T| T.value));
            numbers.extend(found.set_interference_um.into_iter().chain(found.full_interference_um));
            prop_assert!(numbers.iter().all(|x| x.is_finite()), "{found:?}");
            prop_assert!(!found.warnings.concat().contains("NaN") && !found.warnings.concat().contains("inf "), "{:?}", found.warnings);
        }
    }
}
