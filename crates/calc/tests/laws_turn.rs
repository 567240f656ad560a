//! Laws of aiming and of cooling parts that hold for every size: mirrored sides, the least loss, other units, another zero of size or
//! time, more readings, parts that are cold already, air that drifts.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where a law is broken")]
#![allow(non_snake_case, reason = "names agree with the keys of the contract")]

use calc::compute::{answer, read};
use calc::crew::Alone;
use calc::math::exp;
use calc::quantity::Quantity;
use calc::turn::aim::{aim, landing};
use calc::turn::cooldown::cooldown;
use calc::turn::{CoolReading, Cooldown, CooldownAnswer, Side};
use proptest::prelude::*;

fn near(found: f64, wanted: f64, tolerance: f64) -> Result<(), TestCaseError> {
    prop_assert!((found - wanted).abs() <= tolerance, "{found}, wanted {wanted} within {tolerance:e}");
    Ok(())
}

/// A part that cools, and how it is read.
#[derive(Clone, Debug)]
struct Part {
    settled_mm: f64,
    amplitude_mm: f64,
    tau_s: f64,
    alpha_D: f64,
    drift_K_per_s: f64,
    noise: Vec<f64>,
    warm: bool,
}

impl Part {
    fn readings(&self, every_s: f64, from_s: f64) -> Vec<CoolReading> {
        let one = |(i, noise): (usize, &f64)| {
            let t_s = every_s * i as f64;
            let e = exp(-t_s / self.tau_s);
            let lag = self.alpha_D * self.drift_K_per_s * self.tau_s * (1.0 - e);
            let over_air = self.amplitude_mm * e - lag;
            CoolReading {
                t_s: t_s + from_s,
                reading_mm: self.settled_mm + over_air + self.alpha_D * self.drift_K_per_s * t_s + 0.003 * noise,
                part_minus_ambient_K: self.warm.then_some(over_air / self.alpha_D + 0.3 * noise),
            }
        };
        self.noise.iter().enumerate().map(one).collect()
    }

    fn asked(&self, every_s: f64) -> Cooldown {
        let usual = Cooldown::usual(self.readings(every_s, 0.0), self.alpha_D);
        Cooldown { ambient_drift_K_per_s: self.drift_K_per_s, temperature_u_K: 0.3, ..usual }
    }
}

fn parts() -> impl Strategy<Value = Part> {
    let noise = proptest::collection::vec(-1.5..1.5_f64, 6..14);
    (60.0..600.0_f64, 0.01..0.15_f64, 1500.0..4500.0_f64, 0.001..0.01_f64, -2e-4..2e-4_f64, noise, any::<bool>()).prop_map(
        |(settled_mm, amplitude_mm, tau_s, alpha_D, drift_K_per_s, noise, warm)| Part {
            settled_mm,
            amplitude_mm,
            tau_s,
            alpha_D,
            drift_K_per_s,
            noise,
            warm,
        },
    )
}

fn u(found: &CooldownAnswer) -> f64 {
    found.settled_mm.u.unwrap()
}

proptest! {
    // A failure that is found is kept as a row of a case table, not in a file beside this one.
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_bore_is_aimed_at_as_an_outside_in_the_mirror(low in 20.0..800.0_f64, band in 0.005..0.2_f64, sd in 0.0005..0.05_f64, ratio in 0.05..50.0_f64) {
        let high = low + band;
        let (outside, bore) = (aim(Side::Outside, low, high, sd, ratio), aim(Side::Bore, low, high, sd, ratio));
        near(outside.aim_mm - low, high - bore.aim_mm, 1e-9)?;
        near(outside.chance_under, bore.chance_over, 1e-9)?;
        near(outside.chance_over, bore.chance_under, 1e-9)?;
        near(outside.chance_in_band + outside.chance_under + outside.chance_over, 1.0, 1e-12)?;
        // The same with the losses changed round.
        let turned = aim(Side::Outside, low, high, sd, 1.0 / ratio);
        near(turned.aim_mm, bore.aim_mm, 1e-9)?;
    }

    #[test]
    fn no_other_aim_in_the_band_loses_less(low in 20.0..800.0_f64, band in 0.005..0.2_f64, sd in 0.0005..0.05_f64, ratio in 0.05..50.0_f64, share in 0.0..1.0_f64) {
        let high = low + band;
        let loss = |mean: f64| {
            let landed = landing(mean, low, high, sd);
            ratio * landed.chance_under + landed.chance_over
        };
        let best = aim(Side::Outside, low, high, sd, ratio).aim_mm;
        prop_assert!((low..=high).contains(&best));
        prop_assert!(loss(best) <= loss(low + share * band) + 1e-12, "{} against {}", loss(best), loss(low + share * band));
    }

    #[test]
    fn an_aim_in_inches_is_the_one_in_millimetres(low in 20.0..800.0_f64, band in 0.005..0.2_f64, sd in 0.0005..0.05_f64, ratio in 0.05..50.0_f64) {
        let (mm, inch) = (aim(Side::Bore, low, low + band, sd, ratio), aim(Side::Bore, low / 25.4, (low + band) / 25.4, sd / 25.4, ratio));
        near(25.4 * inch.aim_mm, mm.aim_mm, 1e-9)?;
        near(inch.chance_in_band, mm.chance_in_band, 1e-8)?;
    }

    #[test]
    fn a_known_time_constant_makes_every_reading_narrow_the_size(part in parts(), every_s in 200.0..1200.0_f64) {
        let known = Cooldown { ln_tau_u: 1e-6, tau_s: part.tau_s, amplitude_mm: Quantity::with_u(part.amplitude_mm, 0.05), ..part.asked(every_s) };
        let mut last = f64::INFINITY;
        for n in 1..=known.readings.len() {
            let found = cooldown(&Cooldown { readings: known.readings[..n].to_vec(), ..known.clone() }).unwrap();
            prop_assert!(u(&found) <= last * (1.0 + 1e-9), "{n} readings: {} after {last}", u(&found));
            last = u(&found);
        }
    }

    #[test]
    fn a_thermometer_never_widens_a_size_of_known_time_constant(part in parts(), every_s in 200.0..1200.0_f64) {
        let warm = Part { warm: true, ..part };
        // The error of the expansion is a doubt that only the thermometer brings in, and without it there is nothing to doubt.
        let with = Cooldown { ln_tau_u: 1e-6, tau_s: warm.tau_s, expansion_rel_u: 1e-9, ..warm.asked(every_s) };
        let without = Cooldown { readings: Part { warm: false, ..warm.clone() }.readings(every_s, 0.0), ..with.clone() };
        let (with, without) = (cooldown(&with).unwrap(), cooldown(&without).unwrap());
        prop_assert!(u(&with) <= u(&without) * (1.0 + 1e-9));
    }

    #[test]
    fn a_size_that_is_counted_from_elsewhere_moves_the_settled_size_alone(part in parts(), every_s in 200.0..1200.0_f64, by_mm in 1.0..50.0_f64) {
        let here = part.asked(every_s);
        let mut there = here.clone();
        there.readings.iter_mut().for_each(|reading| reading.reading_mm += by_mm);
        let (here, there) = (cooldown(&here).unwrap(), cooldown(&there).unwrap());
        near(there.settled_mm.value - by_mm, here.settled_mm.value, 1e-8)?;
        near(u(&there), u(&here), 1e-8)?;
        near(there.tau_s, here.tau_s, 1e-3)?;
        // In steps of 60 s, unless none is enough and a time constant is waited.
        near(there.next_reading_s.unwrap_or(0.0), here.next_reading_s.unwrap_or(0.0), 60.001)?;
    }

    #[test]
    fn a_clock_that_was_started_earlier_moves_the_size_by_the_drift_of_the_air_alone(part in parts(), from_s in 1.0..300.0_f64) {
        let part = Part { noise: part.noise.iter().cycle().take(14).copied().collect(), ..part };
        let at_once = part.asked(900.0);
        let started = Cooldown { readings: part.readings(900.0, from_s), ..at_once.clone() };
        let (at_once, started) = (cooldown(&at_once).unwrap(), cooldown(&started).unwrap());
        // What is believed of the amplitude belongs to t = 0, so a little of the uncertainty moves.
        let wanted = at_once.settled_mm.value - part.alpha_D * part.drift_K_per_s * from_s;
        near(started.settled_mm.value, wanted, 0.1 * u(&at_once))?;
        near(u(&started), u(&at_once), 0.05 * u(&at_once))?;
    }

    #[test]
    fn other_units_of_size_and_time_give_the_same_part(part in parts(), every_s in 200.0..1200.0_f64, size in 0.02..50.0_f64, time in 0.1..10.0_f64) {
        let one = part.asked(every_s);
        let mut other = Cooldown {
            reading_u_mm: size * one.reading_u_mm,
            expansion_mm_per_K: size * one.expansion_mm_per_K,
            ambient_drift_K_per_s: one.ambient_drift_K_per_s / time,
            tau_s: time * one.tau_s,
            amplitude_mm: Quantity::with_u(0.0, size * one.amplitude_mm.u),
            size_u_mm: size * one.size_u_mm,
            wanted_U_mm: size * one.wanted_U_mm,
            ..one.clone()
        };
        for reading in &mut other.readings {
            reading.t_s *= time;
            reading.reading_mm *= size;
        }
        let (one, other) = (cooldown(&one).unwrap(), cooldown(&other).unwrap());
        near(other.settled_mm.value / size, one.settled_mm.value, 1e-8)?;
        near(u(&other) / size, u(&one), 1e-8)?;
        near(other.tau_s / time, one.tau_s, 1e-3)?;
        near(other.chi2, one.chi2, 1e-4)?;
        prop_assert_eq!(other.known, one.known);
    }

    #[test]
    fn a_part_that_warms_up_is_one_that_cools_in_the_mirror(part in parts(), every_s in 200.0..1200.0_f64) {
        let cools = part.asked(every_s);
        let mut warms = Cooldown { ambient_drift_K_per_s: -cools.ambient_drift_K_per_s, ..cools.clone() };
        for reading in &mut warms.readings {
            reading.reading_mm = 2.0 * part.settled_mm - reading.reading_mm;
            reading.part_minus_ambient_K = reading.part_minus_ambient_K.map(|warm_K| -warm_K);
        }
        let (cools, warms) = (cooldown(&cools).unwrap(), cooldown(&warms).unwrap());
        near(2.0 * part.settled_mm - warms.settled_mm.value, cools.settled_mm.value, 1e-8)?;
        near(u(&warms), u(&cools), 1e-8)?;
        near(-warms.amplitude_mm, cools.amplitude_mm, 1e-8)?;
    }

    #[test]
    fn a_part_that_is_cold_already_stays_as_it_is(settled_mm in 60.0..600.0_f64, alpha_D in 0.001..0.01_f64, warm in any::<bool>()) {
        let part = Part { settled_mm, amplitude_mm: 0.0, tau_s: 2700.0, alpha_D, drift_K_per_s: 0.0, noise: vec![0.0; 14], warm };
        let found = cooldown(&part.asked(600.0)).unwrap();
        near(found.settled_mm.value, settled_mm, 1e-6)?;
        near(found.amplitude_mm, 0.0, 1e-6)?;
        prop_assert!(found.U95_mm < 0.02, "{}", found.U95_mm);
        for point in &found.curve {
            near(point.size_mm, settled_mm, 1e-6)?;
        }
    }

    #[test]
    fn drifting_air_is_taken_out_when_it_is_known(part in parts()) {
        let part = Part { noise: vec![0.0; 20], drift_K_per_s: 2e-4, ..part };
        let found = cooldown(&part.asked(900.0)).unwrap();
        near(found.settled_mm.value, part.settled_mm, found.U95_mm)?;
        let blind = cooldown(&Cooldown { ambient_drift_K_per_s: 0.0, ..part.asked(900.0) }).unwrap();
        prop_assert!((blind.settled_mm.value - part.settled_mm).abs() > (found.settled_mm.value - part.settled_mm).abs());
        // The curve of the picture follows the air.
        let end = found.curve.last().unwrap();
        let e = exp(-end.t_s / part.tau_s);
        let true_mm = part.settled_mm + part.amplitude_mm * e + part.alpha_D * 2e-4 * (end.t_s - part.tau_s * (1.0 - e));
        near(end.size_mm, true_mm, 3.0 * end.u + 1e-4)?;
    }

    #[test]
    fn what_is_not_known_yet_says_when_to_read_and_that_is_after_the_last_reading(part in parts(), every_s in 200.0..1200.0_f64) {
        let request = part.asked(every_s);
        let last_s = request.readings.last().unwrap().t_s;
        let found = cooldown(&request).unwrap();
        prop_assert_eq!(found.known, found.U95_mm <= 0.005);
        prop_assert_eq!(found.next_reading_s.is_none(), found.known);
        prop_assert!(found.next_reading_s.is_none_or(|t_s| t_s > last_s));
        prop_assert!(found.say.starts_with(|first: char| first.is_ascii_digit()) != found.known, "{}", found.say);
        prop_assert!(found.known == found.say.starts_with("No need to wait"), "{}", found.say);
        near(found.settled_high_mm - found.settled_low_mm, 2.0 * found.U95_mm, 1e-12 * part.settled_mm)?;
    }
}

fn asked(more: &str) -> Result<serde_json::Value, calc::Refused> {
    let readings = r#""readings": [{"t_s": 0, "reading_mm": 240.08}, {"t_s": 600, "reading_mm": 240.07}], "expansion_mm_per_K": 0.004"#;
    answer("cooldown", &read(&format!("{{{readings}{more}}}")).unwrap(), &Alone, false)
}

#[test]
fn a_cooling_that_can_not_be_answered_is_refused_by_its_key() {
    for (more, key) in [
        (r#", "reading_u_mm": 0"#, "reading_u_mm"),
        (r#", "reading_u_mm": -0.003"#, "reading_u_mm"),
        (r#", "tau_s": 0"#, "tau_s"),
        (r#", "tau_s": -2700"#, "tau_s"),
        (r#", "ln_tau_u": 0"#, "ln_tau_u"),
        (r#", "size_u_mm": 0"#, "size_u_mm"),
        (r#", "wanted_U_mm": 0"#, "wanted_U_mm"),
        (r#", "amplitude_mm": 0.08"#, "amplitude_mm.u"),
        (r#", "temperature_u_K": 0"#, "temperature_u_K"),
        (r#", "temperature_bias_u_K": 0"#, "temperature_bias_u_K"),
        (r#", "expansion_rel_u": 0"#, "expansion_rel_u"),
        (r#", "tau": 2700"#, "tau"),
    ] {
        assert_eq!(asked(more).unwrap_err().key, key, "{more}");
    }
    let at = |times: [f64; 2]| {
        let readings = times.map(|t_s| serde_json::json!({"t_s": t_s, "reading_mm": 240.0}));
        answer("cooldown", &serde_json::json!({"readings": readings, "expansion_mm_per_K": 0.004}), &Alone, false)
    };
    assert_eq!(at([600.0, 0.0]).unwrap_err().key, "readings.1.t_s");
    assert_eq!(at([600.0, 600.0]).unwrap_err().key, "readings.1.t_s");
    let none = serde_json::json!({"readings": [], "expansion_mm_per_K": 0.004});
    assert_eq!(answer("cooldown", &none, &Alone, false).unwrap_err().key, "readings");
}

#[test]
fn extreme_beliefs_are_answered_with_finite_figures() {
    for more in [
        r#", "ln_tau_u": 3, "tau_s": 1e-3"#,
        r#", "ln_tau_u": 3, "tau_s": 1e7"#,
        r#", "reading_u_mm": 1e-9, "ln_tau_u": 3"#,
        r#", "reading_u_mm": 1000"#,
        r#", "wanted_U_mm": 1e-6"#,
        r#", "wanted_U_mm": 1000"#,
        r#", "size_u_mm": 1000, "amplitude_mm": {"value": 0, "u": 1000}"#,
        r#", "ln_tau_u": 1e-9"#,
        r#", "ambient_drift_K_per_s": 0.1"#,
    ] {
        let found = asked(more).unwrap();
        for key in ["U95_mm", "settled_low_mm", "settled_high_mm", "tau_s", "ln_tau_u", "amplitude_mm", "chi2"] {
            assert!(found[key].is_number(), "{more}: {key} is {}", found[key]);
        }
        assert!(found["curve"].as_array().unwrap().iter().all(|point| point["u"].is_number()), "{more}");
    }
}

#[test]
fn what_the_reader_should_mind_is_said_and_the_caution_comes_first() {
    let said = |more: &str| asked(more).unwrap()["warnings"].to_string();
    assert!(said("").starts_with("[\"On the lathe: stop and lock the spindle"));
    assert!(!said("").contains("off the curve"));
    let reading = |t_s: f64, reading_mm: f64| CoolReading { t_s, reading_mm, part_minus_ambient_K: Some(1.0) };
    let jumping = vec![reading(0.0, 240.08), reading(600.0, 240.02), reading(1200.0, 240.09), reading(1800.0, 240.01)];
    let warned = |request: &Cooldown| cooldown(request).unwrap().warnings.join(" ");
    assert!(warned(&Cooldown::usual(jumping.clone(), 0.004)).contains("off the curve"));
    assert!(warned(&Cooldown::usual(jumping, 0.0)).contains("temperatures were not used"));
    let late = vec![reading(36_000.0, 240.08), reading(36_600.0, 240.07)];
    assert!(warned(&Cooldown::usual(late, 0.004)).contains("those of a clock"));
}

#[test]
fn a_wish_beyond_one_reading_is_counted_in_readings() {
    let few = asked(r#", "wanted_U_mm": 0.002"#).unwrap();
    assert!(few["readings_needed"].as_u64().unwrap() > 1 && few["say"].as_str().unwrap().contains("more readings"), "{few}");
    let never = asked(r#", "wanted_U_mm": 0.00001"#).unwrap();
    assert!(never["readings_needed"].is_null() && never["say"].as_str().unwrap().contains("Over 1000"), "{never}");
    let soon = asked(r#", "wanted_U_mm": 0.02"#).unwrap();
    assert!(soon["readings_needed"] == 1 && soon["say"].as_str().unwrap().contains("min more"), "{soon}");
}
