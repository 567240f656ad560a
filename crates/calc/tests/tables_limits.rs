//! Every row of `checks/fits` that limits of size can answer for, against `calc::limits`; and the published formulas against the
//! tables, where they find typing errors (the tables rule: the formulas miss 63 of 404 tolerances).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first row that can't be read")]
#![allow(non_snake_case, reason = "D and IT are the letters of the standard")]

use std::path::Path;

use calc::limits::Feature;
use calc::limits::ansi::{FitKind, ansi_limits};
use calc::limits::iso::{iso_fit, iso_limits};
use calc::math::{cbrt, pow, sq};
use calc::tables::{Row, Table};

fn table(name: &str) -> Table {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/fits").join(name);
    Table::read(&std::fs::read_to_string(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display())))
}

/// Runs `check` on every row and says how many of how many failed, and why.
fn every_row(name: &str, rows: usize, check: impl Fn(Row) -> Result<(), String>) {
    let table = table(name);
    let faults: Vec<String> = table.rows().filter_map(|row| check(row).err()).collect();
    assert_eq!(table.rows().count(), rows, "rows of {name}");
    assert!(faults.is_empty(), "{} faults in {rows} rows of {name}:\n{}", faults.len(), faults.join("\n"));
}

fn same(what: impl std::fmt::Display, found: f64, wanted: f64, tolerance: f64) -> Result<(), String> {
    if (found - wanted).abs() <= tolerance { Ok(()) } else { Err(format!("{what}: {found}, wanted {wanted}")) }
}

/// Limits of a class, upper and lower, µm.
fn pair(nominal_mm: f64, class: &str) -> Result<(f64, f64), String> {
    iso_limits(nominal_mm, class).map(|limits| (limits.upper_um, limits.lower_um)).map_err(|refused| refused.to_string())
}

/// The ends of a row's step that belong to it: just over its lower edge, its middle, its upper edge itself.
fn sizes(row: Row) -> [f64; 3] {
    let (over, to) = (row.number("over_mm").unwrap(), row.number("to_mm").unwrap());
    [over + 0.001 * (to - over), 0.5 * (over + to), to]
}

#[test]
fn every_tolerance_is_that_of_the_table() {
    every_row("it_grades.csv", 404, |row| {
        let (grade, wanted) = (row.text("grade").trim_start_matches("IT"), row.number("tolerance_um").unwrap());
        for size in sizes(row) {
            // Grades 14 and coarser start over 1 mm.
            let size = size.max(1.001);
            let (upper, lower) = pair(size, &format!("h{grade}"))?;
            same(format!("h{grade} at {size}"), upper - lower, wanted, 1e-9)?;
            same(format!("upper of h{grade} at {size}"), upper, 0.0, 0.0)?;
            same(format!("upper of H{grade} at {size}"), pair(size, &format!("H{grade}"))?.0, wanted, 1e-9)?;
        }
        Ok(())
    });
}

#[test]
fn every_deviation_is_that_of_the_table() {
    every_row("deviations.csv", 1236, |row| {
        let letter = row.text("letter");
        // Grade 9 is one where no hole is shifted; K is not defined there, N is 0, k stands on 0.
        let (plain, scope) = if letter == "k" { ("7", "IT4..IT7") } else { ("9", "") };
        assert!(letter != "k" || row.number("over_mm").unwrap() >= 500.0 || row.text("grade_scope").starts_with(scope));
        for size in sizes(row) {
            let class = format!("{letter}{plain}");
            let note = row.text("note");
            if note.contains("not defined above IT8") {
                assert!(pair(size, &class).is_err(), "{class} at {size}: {note}");
                continue;
            }
            let (upper, lower) = pair(size, &class)?;
            let wanted = if note.contains("ES = 0") { 0.0 } else { row.number("deviation_um").unwrap_or(0.5 * (upper - lower)) };
            let found = if matches!(row.text("which"), "ei" | "EI") { lower } else { upper };
            same(format!("{class} at {size}"), found, wanted, 1e-9)?;
            let feature = iso_limits(size, &class).map_err(|refused| refused.to_string())?.feature;
            assert_eq!(feature.word(), row.text("feature"));
        }
        Ok(())
    });
}

#[test]
fn every_shift_is_added_where_its_row_says() {
    every_row("delta.csv", 72, |row| {
        let (grade, delta) = (row.text("grade").trim_start_matches("IT"), row.number("delta_um").unwrap());
        for size in sizes(row) {
            // M is shifted to IT8, R to IT7; M9 and R8 show the values before the shift. M6 over 250 to 315 is the lone exception.
            if !(grade == "6" && size > 250.0 && size <= 315.0) {
                same(format!("M{grade} at {size}"), pair(size, &format!("M{grade}"))?.0, pair(size, "M9")?.0 + delta, 1e-9)?;
            }
            if grade != "8" {
                same(format!("R{grade} at {size}"), pair(size, &format!("R{grade}"))?.0, pair(size, "R8")?.0 + delta, 1e-9)?;
            }
        }
        Ok(())
    });
}

#[test]
fn every_hole_by_the_special_rule_is_met() {
    every_row("hole_limits_by_rule.csv", 779, |row| {
        for size in sizes(row) {
            let (upper, lower) = pair(size, row.text("class"))?;
            same(format!("ES of {} at {size}", row.text("class")), upper, row.number("ES_um").unwrap(), 1e-9)?;
            same(format!("EI of {} at {size}", row.text("class")), lower, row.number("EI_um").unwrap(), 1e-9)?;
        }
        Ok(())
    });
}

#[test]
fn every_limit_pair_that_was_read_is_met() {
    every_row("published_limits.csv", 285, |row| {
        let (id, class, nominal) = (row.text("id"), row.text("class"), row.number("nominal").unwrap());
        if row.text("system") == "ISO 286" {
            let (upper, lower) = pair(nominal, class)?;
            same(format!("{id} upper"), upper, row.number("upper").unwrap(), 1e-9)?;
            return same(format!("{id} lower"), lower, row.number("lower").unwrap(), 1e-9);
        }
        // "hole +1.6/0; shaft +2.8/+1.8" and "interference 0.2..2.8", thousandths of an inch.
        let (hole, shaft) = row.text("upper").split_once(';').unwrap();
        for (part, text) in [(Feature::Hole, hole), (Feature::Shaft, shaft)] {
            let (upper, lower) = text.trim().split_once(' ').unwrap().1.split_once('/').unwrap();
            let limits = ansi_limits(nominal, class, part).map_err(|refused| refused.to_string())?;
            same(format!("{id} {part:?} upper"), limits.upper_thou, upper.parse().unwrap(), 1e-9)?;
            same(format!("{id} {part:?} lower"), limits.lower_thou, lower.parse().unwrap(), 1e-9)?;
            let (kind, fit) = row.text("lower").split_once(' ').unwrap();
            let (least, most) = fit.split_once("..").unwrap();
            assert_eq!(limits.fit_kind == FitKind::Interference, kind == "interference", "{id}");
            same(format!("{id} least"), limits.min_fit_thou, least.parse().unwrap(), 1e-9)?;
            same(format!("{id} most"), limits.max_fit_thou, most.parse().unwrap(), 1e-9)?;
        }
        Ok(())
    });
}

#[test]
fn no_known_misprint_is_copied() {
    // Size, class, correct upper and lower (none where the misprint is in the other), in the order of the file.
    let metric: &[(f64, &str, Option<f64>, Option<f64>)] = &[
        (100.0, "E8", Some(126.0), None),
        (300.0, "f9", None, Some(-186.0)),
        (25.0, "R10", Some(-28.0), None),
        (350.0, "E7", Some(182.0), None),
        (2200.0, "e6", None, Some(-370.0)),
        (2800.0, "e6", None, Some(-425.0)),
        (1400.0, "e7", Some(-220.0), Some(-345.0)),
        (1400.0, "e8", None, Some(-415.0)),
        (100.0, "N7", Some(-10.0), None),
        (150.0, "h15", None, Some(-1600.0)),
        (25.0, "h6", None, Some(-13.0)),
        (100.0, "h9", None, Some(-87.0)),
        (40.0, "h8", None, Some(-39.0)),
    ];
    for (size, class, upper, lower) in metric {
        let found = pair(*size, class).unwrap();
        assert!(upper.is_none_or(|upper| upper == found.0) && lower.is_none_or(|lower| lower == found.1), "{class} at {size}: {found:?}");
    }
    let h6 = [8.0, 9.0, 11.0, 13.0, 16.0, 19.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0];
    for (size, wanted) in [6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0, 315.0, 400.0, 500.0].into_iter().zip(h6) {
        assert_eq!(pair(size, "h6").unwrap(), (0.0, -wanted), "h6 at {size}, of the steel stockholder's table");
    }
    assert!(pair(350.0, "A13").is_err(), "the letter of the fourth misprint is not compiled in");
    let rc3 = ansi_limits(0.2, "RC3", Feature::Shaft).unwrap();
    assert_eq!(rc3.max_fit_thou, 1.2, "the web table of running fits");
    assert_ne!(ansi_limits(0.3, "RC3", Feature::Shaft).unwrap().max_fit_thou, 1.2, "its step ends at 0.24 in");
    assert_eq!(table("known_bad_cells.csv").rows().count(), metric.len() + 3, "a new misprint needs its row here");
}

#[test]
fn every_inch_row_is_that_of_the_table_and_its_fit_follows() {
    every_row("ansi_b41_rows.csv", 192, |row| {
        let class = row.text("class");
        let (over, to) = (row.number("over_in").unwrap(), row.number("to_in").unwrap());
        for size in [over + 0.0001, 0.5 * (over + to), to] {
            let hole = ansi_limits(size, class, Feature::Hole).map_err(|refused| refused.to_string())?;
            let shaft = ansi_limits(size, class, Feature::Shaft).map_err(|refused| refused.to_string())?;
            for (name, found) in [
                ("hole_upper_thou", hole.upper_thou),
                ("hole_lower_thou", hole.lower_thou),
                ("shaft_upper_thou", shaft.upper_thou),
                ("shaft_lower_thou", shaft.lower_thou),
                ("min_fit_thou", hole.min_fit_thou),
                ("max_fit_thou", shaft.max_fit_thou),
            ] {
                same(format!("{class} at {size} {name}"), found, row.number(name).unwrap(), 1e-12)?;
            }
            let clearance = hole.fit_kind == FitKind::Clearance;
            let (least, most) = if clearance {
                (hole.lower_thou - shaft.upper_thou, hole.upper_thou - shaft.lower_thou)
            } else {
                (shaft.lower_thou - hole.upper_thou, shaft.upper_thou - hole.lower_thou)
            };
            same(format!("{class} at {size}: least fit from the limits"), hole.min_fit_thou, least, 1e-9)?;
            same(format!("{class} at {size}: most fit from the limits"), hole.max_fit_thou, most, 1e-9)?;
        }
        Ok(())
    });
}

#[test]
fn every_inch_tolerance_is_near_its_formula() {
    // The class whose hole has that grade. Source: ANSI B4.1 (memory).
    let class = |grade: &str| match grade {
        "H6" => "LN1",
        "H7" => "RC3",
        "H8" => "RC4",
        "H9" => "RC6",
        _ => "RC8",
    };
    let units = |grade: &str| [10.0, 16.0, 25.0, 40.0, 64.0][grade[1..].parse::<usize>().unwrap() - 6];
    every_row("ansi_b41_tolerance_check.csv", 60, |row| {
        let grade = row.text("hole_grade");
        let (over, to) = (row.number("over_in").unwrap(), row.number("to_in").unwrap());
        let published = row.number("published_thou").unwrap();
        let found = ansi_limits(to, class(grade), Feature::Hole).map_err(|refused| refused.to_string())?.tolerance_thou;
        same(format!("{grade} at {to} in"), found, published, 1e-9)?;
        let D = (over * to).sqrt();
        let formula = units(grade) * (0.052 * cbrt(D) + 0.001 * D);
        same(format!("formula of {grade} at {to} in"), formula, row.number("formula_thou").unwrap(), 2e-3)?;
        // The column says yes on five rows of 0.3 to 1.6 thou that are 6.3 to 8.0 % off, where a tenth of a thou is the last digit.
        let off = (published - formula).abs() / formula;
        let said_near = row.text("within_6pct") == "yes";
        assert!(off <= 0.08 || !said_near, "{grade} at {to} in is called near at {off}");
        assert!(off > 0.06 || said_near, "{grade} at {to} in is not called near at {off}");
        Ok(())
    });
}

/// Geometric mean of a step; the one up to 3 mm counts from 1.
fn mean_size(over: f64, to: f64) -> f64 {
    (over.max(1.0) * to).sqrt()
}

/// Tolerance by the formula of the published rule, unrounded, µm.
fn tolerance_by_formula(grade: i32, D: f64) -> f64 {
    let large = D > 500.0;
    let i = if large { 0.004 * D + 2.1 } else { 0.45 * cbrt(D) + 0.001 * D };
    let units = [7.0, 10.0, 16.0, 25.0, 40.0, 64.0, 100.0, 160.0, 250.0, 400.0, 640.0, 1000.0, 1600.0, 2500.0];
    match grade {
        -1 => 0.3 + 0.008 * D,
        0 => 0.5 + 0.012 * D,
        1..=4 if large => [2.0, 2.7, 3.7, 5.0][grade as usize - 1] * i,
        1 => 0.8 + 0.020 * D,
        2..=4 => {
            let finest = tolerance_by_formula(1, D);
            finest * pow(7.0 * i / finest, f64::from(grade - 1) / 4.0)
        }
        _ => units[grade as usize - 5] * i,
    }
}

/// The rounding of the published rule, which goes to IT11; from IT12 up ten times the grade five below.
fn tolerance_rounded(grade: i32, D: f64) -> f64 {
    if grade >= 12 {
        return 10.0 * tolerance_rounded(grade - 5, D);
    }
    let raw = tolerance_by_formula(grade, D);
    let to = |step: f64| (raw / step).round() * step;
    match raw {
        _ if grade <= 4 && D <= 500.0 => raw,
        0.0..60.0 => to(1.0),
        60.0..100.0 => to(if D > 500.0 { 2.0 } else { 1.0 }),
        100.0..200.0 => to(5.0),
        200.0..500.0 => to(10.0),
        500.0..1000.0 => to(20.0),
        _ => to(50.0),
    }
}

#[test]
fn tolerance_formulas_find_no_typing_error_beyond_those_that_are_known() {
    let agreements = std::cell::RefCell::new([0, 0, 0]);
    every_row("it_grades_formula_check.csv", 404, |row| {
        let name = row.text("grade").trim_start_matches("IT");
        let grade = if name == "01" { -1 } else { name.parse().unwrap() };
        let (over, to) = (row.number("over_mm").unwrap(), row.number("to_mm").unwrap());
        let D = mean_size(over, to);
        let published = row.number("published_um").unwrap();
        same(format!("IT{name} at {to}"), -pair(to, &format!("h{name}"))?.1, published, 1e-9)?;
        let raw = row.number("formula_raw_um").unwrap();
        same(format!("raw IT{name} at {to}"), tolerance_by_formula(grade, D), raw, 5.1e-4_f64.max(2e-5 * raw))?;
        let rounded = row.number("formula_rounded_um").unwrap();
        same(format!("rounded IT{name} at {to}"), tolerance_rounded(grade, D), rounded, if grade <= 4 { 0.0051 } else { 1e-9 })?;
        let answer = ["yes", "near", "no"].iter().position(|word| *word == row.text("agrees")).unwrap();
        agreements.borrow_mut()[answer] += 1;
        assert!(grade <= 4 || (rounded == published) == (answer == 0), "IT{name} at {to}");
        Ok(())
    });
    assert_eq!(agreements.into_inner(), [316, 25, 63], "cells that agree, are near, differ");
}

/// Deviation of a shaft by the formula of the published rule, µm: one value, or the ends of the allowed range.
fn deviation_by_formula(letter: &str, D: f64, to: f64) -> (f64, f64) {
    let IT = |grade: u32| pair(to, &format!("H{grade}")).unwrap().0;
    let ei = |letter: &str| pair(to, &format!("{letter}6")).unwrap().1;
    let large = to > 500.0;
    let one = |x: f64| (x, x);
    match letter {
        "c" => one(if to <= 40.0 { -52.0 * pow(D, 0.2) } else { -(95.0 + 0.8 * D) }),
        "d" => one(-16.0 * pow(D, 0.44)),
        "e" => one(-11.0 * pow(D, 0.41)),
        "f" => one(-5.5 * pow(D, 0.41)),
        "g" => one(-2.5 * pow(D, 0.34)),
        "h" => one(0.0),
        "k" => one(if large { 0.0 } else { 0.6 * cbrt(D) }),
        "m" => one(if large { 0.024 * D + 12.6 } else { IT(7) - IT(6) }),
        "n" => one(if large { 0.04 * D + 21.0 } else { 5.0 * pow(D, 0.34) }),
        "p" if large => one(0.072 * D + 37.8),
        "p" => (IT(7), IT(7) + 5.0),
        "r" => one((ei("p") * ei("s")).sqrt()),
        "s" if to <= 50.0 => (IT(8) + 1.0, IT(8) + 4.0),
        "s" => one(IT(7) + 0.4 * D),
        "t" => one(IT(7) + 0.63 * D),
        "u" => one(IT(7) + D),
        _ => one(IT(7) + 1.6 * D),
    }
}

#[test]
fn deviation_formulas_find_no_typing_error_beyond_those_that_are_known() {
    every_row("deviations_formula_check.csv", 577, |row| {
        let (letter, to) = (row.text("letter"), row.number("to_mm").unwrap());
        let D = row.number("D_used_mm").unwrap();
        let published = row.number("published_um").unwrap();
        let (upper, lower) = pair(to, &format!("{letter}6"))?;
        let found = if letter <= "h" { upper } else { lower };
        same(format!("{letter} at {to}"), found, published, 1e-9)?;
        let (low, high) = deviation_by_formula(letter, D, to);
        let printed = row.text("formula_um");
        let (first, last) = printed.split_once("..").unwrap_or((printed, printed));
        let rounding = 1e-2_f64.max(2e-5 * high.abs());
        same(format!("formula of {letter} at {to}"), low, first.parse().unwrap(), rounding)?;
        same(format!("formula of {letter} at {to}"), high, last.parse().unwrap(), rounding)?;
        let within =
            if low < high { (low..=high).contains(&published) } else { (low - published).abs() <= 1.0_f64.max(0.012 * published.abs()) };
        assert_eq!(within, row.text("within_1um_or_1.2pct") == "yes", "{letter} at {to}");
        Ok(())
    });
}

#[test]
fn every_step_has_one_value_of_each_letter_and_its_main_step_one_tolerance() {
    every_row("size_steps.csv", 62, |row| {
        let main = (row.number("main_over_mm").unwrap(), row.number("main_to_mm").unwrap());
        let (over, to) = (row.number("over_mm").unwrap(), row.number("to_mm").unwrap());
        assert!(main.0 <= over && to <= main.1);
        for size in sizes(row) {
            same(format!("IT7 at {size}"), pair(size, "H7")?.0, pair(main.1, "H7")?.0, 0.0)?;
            for class in if row.text("kind") == "main" { ["d9", "e8", "f7", "n6", "p6"] } else { ["r6", "s6", "u6", "R7", "S7"] } {
                let whole = if row.text("kind") == "main" { main.1 } else { to };
                same(format!("{class} at {size}"), pair(size, class)?.0, pair(whole, class)?.0, 0.0)?;
            }
        }
        Ok(())
    });
}

#[test]
fn every_interference_of_a_hole_and_shaft_is_met() {
    every_row("interference_per_mm.csv", 94, |row| {
        let D = row.number("D_mm").unwrap();
        let (hole, shaft) = row.text("fit").split_once('/').unwrap();
        let fit = iso_fit(D, hole, shaft).map_err(|refused| refused.to_string())?;
        let (least, most) = (fit.min_interference_um, fit.max_interference_um);
        let mean = 0.5 * (least + most);
        for (name, found, tolerance) in [
            ("min_um", least, 1e-9),
            ("max_um", most, 1e-9),
            ("mean_um", mean, 1e-9),
            ("min_um_per_mm", least / D, 5.1e-4),
            ("max_um_per_mm", most / D, 5.1e-4),
            ("mean_um_per_mm", mean / D, 5.1e-4),
        ] {
            same(format!("{} at {D} {name}", row.text("fit")), found, row.number(name).unwrap(), tolerance)?;
        }
        Ok(())
    });
}

#[test]
fn every_running_clearance_of_a_hole_and_shaft_is_met() {
    every_row("running_clearance_per_mm.csv", 126, |row| {
        let d = row.number("d_mm").unwrap();
        let (hole, shaft) = row.text("fit").split_once('/').unwrap();
        let fit = iso_fit(d, hole, shaft).map_err(|refused| refused.to_string())?;
        let (least, most) = (-fit.max_interference_um, -fit.min_interference_um);
        for (name, found, tolerance) in [
            ("min_um", least, 1e-9),
            ("max_um", most, 1e-9),
            ("mean_um", 0.5 * (least + most), 1e-9),
            ("min_permille", least / d, 5.1e-4),
            ("max_permille", most / d, 5.1e-4),
            ("mean_permille", 0.5 * (least + most) / d, 5.1e-4),
        ] {
            same(format!("{} at {d} {name}", row.text("fit")), found, row.number(name).unwrap(), tolerance)?;
        }
        Ok(())
    });
}

/// Class of the outside of a bush. Source: ISO 4379 (the bearing table of the checks): s6 to 120 mm, r6 above.
fn outside_class(d2: f64) -> &'static str {
    if d2 <= 120.0 { "s6" } else { "r6" }
}

#[test]
fn limits_of_the_standard_bushes_are_met() {
    every_row("e6_to_h8_closure.csv", 138, |row| {
        let (d1, d2) = (row.number("d1_mm").unwrap(), row.number("d2_mm").unwrap());
        assert_eq!(row.text("od_class"), outside_class(d2), "{d1}/{d2}");
        let fit = iso_fit(d2, "H7", outside_class(d2)).map_err(|refused| refused.to_string())?;
        let ((e_upper, e_lower), (h_upper, h_lower)) = (pair(d1, "E6")?, pair(d1, "H8")?);
        let (free, fitted) = (0.5 * (e_upper + e_lower), 0.5 * (h_upper + h_lower));
        let mean = 0.5 * (fit.min_interference_um + fit.max_interference_um);
        for (name, found, tolerance) in [
            ("interf_min_um", fit.min_interference_um, 1e-9),
            ("interf_max_um", fit.max_interference_um, 1e-9),
            ("interf_mean_um", mean, 1e-9),
            ("bore_mean_E6_um", free, 1e-9),
            ("bore_mean_H8_um", fitted, 1e-9),
            ("closure_needed_um", free - fitted, 1e-9),
            ("closure_needed_over_interf", (free - fitted) / mean, 5.1e-4),
            ("H8_lower_um", h_lower, 1e-9),
            ("H8_upper_um", h_upper, 1e-9),
            // The elastic closure is the fit's own business; what it leaves is a matter of limits.
            ("lame_bore_mean_after_um", free - row.number("lame_closure_ratio").unwrap() * mean, 0.051),
        ] {
            same(format!("{d1}/{d2} {name}"), found, row.number(name).unwrap(), tolerance)?;
        }
        let after = row.number("lame_bore_mean_after_um").unwrap();
        assert_eq!((h_lower..=h_upper).contains(&after), row.text("mean_inside_H8") == "yes", "{d1}/{d2}");
        Ok(())
    });
    every_row("iso4379_form_c.csv", 46, |row| {
        let d1 = row.number("d1_mm").unwrap();
        for (series, wall) in [("d2_series1_mm", "wall_series1_mm"), ("d2_series2_mm", ""), ("d2_series3_mm", "wall_series3_mm")] {
            let d2 = row.number(series).unwrap();
            pair(d2, outside_class(d2))?;
            if let Some(wall) = row.number(wall) {
                same(format!("wall of {d1}/{d2}"), 0.5 * (d2 - d1), wall, 1e-9)?;
            }
        }
        pair(d1, "E6").map(|_| ())
    });
}

#[test]
fn a_wrapped_bush_is_h9_in_its_seat_and_its_outside_is_no_class_of_a_turned_one() {
    every_row("wrapped_bush_limits.csv", 8, |row| {
        let to = row.number("od_to_mm").unwrap();
        let after = (row.number("bore_after_pressing_upper_um").unwrap(), row.number("bore_after_pressing_lower_um").unwrap());
        assert_eq!(pair(to, "H9")?, after, "H9 at {to}");
        let outside = (row.number("od_upper_um").unwrap(), row.number("od_lower_um").unwrap());
        for letter in ["p", "r", "s", "t", "u", "x"] {
            for grade in 5..=9 {
                assert_ne!(pair(to, &format!("{letter}{grade}")).unwrap_or((0.0, 0.0)), outside, "{letter}{grade} at {to}");
            }
        }
        Ok(())
    });
}

#[test]
fn the_compiled_tables_are_those_of_the_checks() {
    let checks = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/fits");
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    for name in ["it_grades.csv", "size_steps.csv", "deviations.csv", "delta.csv", "ansi_b41_rows.csv"] {
        let read = |folder: &Path| std::fs::read_to_string(folder.join(name)).unwrap();
        assert_eq!(read(&data), read(&checks), "{name}: a cell that is mended in one is mended in both");
    }
}

#[test]
fn rules_of_thumb_do_not_replace_the_class() {
    // README of the checks, trap 13: a flat 1 µm per mm is about 1.6 times the H7/s6 mean at 100 mm and 3 times the H7/r6 mean at 200.
    let mean = |D: f64, shaft: &str| {
        let fit = iso_fit(D, "H7", shaft).unwrap();
        0.5 * (fit.min_interference_um + fit.max_interference_um)
    };
    for (D, shaft, times) in [(100.0, "s6", 1.6), (200.0, "r6", 3.0)] {
        let ratio = D / mean(D, shaft);
        assert!(sq(ratio / times - 1.0) < sq(0.05), "H7/{shaft} at {D}: {ratio}");
    }
    // Trap 12: the mean interference drops at 120 mm, where s6 gives way to r6.
    assert_eq!((mean(120.0, "s6"), mean(120.001, "r6")), (72.5, 55.5));
}
