//! Every row of the tables in `checks/measure` about cooling parts and where to aim, asked through the same door as every other request.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]
#![allow(non_snake_case, reason = "names agree with the keys of the contract")]

use std::path::Path;

use calc::compute::answer;
use calc::crew::Alone;
use calc::draws::Stream;
use calc::math::{exp, sq};
use calc::tables::Table;
use calc::turn::cooldown::cooldown;
use calc::turn::{CoolReading, Cooldown};
use serde_json::{Value, json};

fn text(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/measure").join(name)).unwrap()
}

fn asked(kind: &str, request: &Value) -> Value {
    answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{kind} {request}: {refused}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(found: f64, wanted: f64, allowed: f64, what: &str) {
    assert!((found - wanted).abs() <= allowed, "{what}: {found}, wanted {wanted} within {allowed:e}");
}

#[test]
fn every_aim_is_that_of_the_table() {
    let table = Table::read(&text("aim_point.csv"));
    let mut rows = 0;
    for row in table.rows() {
        let of = |name: &str| row.number(name).unwrap();
        let (band, sd) = (of("band_mm"), of("predictive_sd_mm"));
        let ratio = 1.0 + of("lambda");
        let request = |side: &str| json!({"side": side, "lower_mm": 260.0, "upper_mm": 260.0 + band, "sd_mm": sd, "scrap_ratio": ratio});
        let what = format!("band {band}, sd {sd}, ratio {ratio}");
        for (side, sign, under, over) in [("outside", 1.0, "P_under", "P_over"), ("bore", -1.0, "P_over", "P_under")] {
            let found = asked("aim", &request(side));
            let off_um = 1e3 * (number(&found["aim_mm"]) - 260.0 - band / 2.0);
            near(off_um, sign * of("aim_above_centre_um"), 6e-5, &what);
            // The table has four decimals.
            near(number(&found["chance_in_band"]), of("P_in"), 6e-5, &what);
            near(number(&found["chance_under"]), of(under), 6e-5, &what);
            near(number(&found["chance_over"]), of(over), 6e-5, &what);
        }
        rows += 1;
    }
    assert_eq!(rows, 24);
}

#[test]
fn every_cooling_series_settles_where_the_table_says() {
    let series: Value = serde_json::from_str(&text("cooldown.json")).unwrap();
    let series = series.as_array().unwrap();
    assert_eq!(series.len(), 2);
    for one in series {
        let readings: Vec<Value> = one["t_s"]
            .as_array()
            .unwrap()
            .iter()
            .zip(one["reading_mm"].as_array().unwrap())
            .map(|(t_s, mm)| json!({"t_s": t_s, "reading_mm": mm}))
            .collect();
        let found = asked(
            "cooldown",
            &json!({
                "readings": readings, "reading_u_mm": one["reading_sd_mm"], "expansion_mm_per_K": one["alphaD_mm_per_K"],
                "ambient_drift_K_per_s": one["ambient_drift_K_per_s"], "tau_s": one["tau_prior_s"], "ln_tau_u": one["ln_tau_prior_sd"],
                "amplitude_mm": {"value": one["amplitude_prior"]["mean_mm"], "u": one["amplitude_prior"]["sd_mm"]},
                "size_u_mm": one["Dinf_prior"]["sd_mm"]
            }),
        );
        let wanted = |name: &str| number(&one["expected"][name]);
        let id = one["id"].as_str().unwrap();
        // Far inside the tolerances of the table (0.5 µm, 5 %): the same grid gives the same figures.
        near(number(&found["settled_mm"]["value"]), wanted("Dinf_mm"), 1e-8, id);
        near(1e3 * number(&found["settled_mm"]["u"]), wanted("sd_um"), 1e-6, id);
        near(1e3 * number(&found["U95_mm"]), wanted("U95_um"), 1e-6, id);
        near(number(&found["tau_s"]), wanted("tau_median_s"), 1e-4, id);
        near(number(&found["ln_tau_u"]), wanted("ln_tau_sd"), 1e-8, id);
        near(1e3 * number(&found["amplitude_mm"]), wanted("amplitude_um"), 1e-5, id);
        near(number(&found["chi2"]), wanted("chi2_map"), 1e-6, id);
        assert_eq!(found["known"], json!(one["expected"]["status"] == json!("known")), "{id}");
        assert_eq!(found["next_reading_s"].is_null(), found["known"] == json!(true), "{id}");
    }
}

/// A way of reading: how well the time constant is known beforehand, and the thermometer's noise and bias, K.
struct Way {
    ln_tau_u: f64,
    thermometer: Option<(f64, f64)>,
}

/// Simulated parts of one way of reading and one amplitude: half-width and error over its spread after the readings up to each time.
fn simulated(way: &Way, amplitude_mm: f64, minutes: &[f64], seed: u64, part: u64) -> Vec<(f64, f64)> {
    let alpha_D = 300.0 * 18e-6;
    let draw = |name: &str, i: u64| Stream::new(seed, name).normal(1000 * part + i);
    let tau = 2700.0 * exp(way.ln_tau_u * draw("tau", 0));
    let (noise_K, bias_K) = way.thermometer.unwrap_or((0.0, 0.0));
    let (rel, bias) = (0.03 * draw("expansion", 0), bias_K * draw("bias", 0));
    let rel = if way.thermometer.is_some() { rel } else { 0.0 };
    let readings: Vec<CoolReading> = (0..19_u32)
        .map(|i| {
            let t_s = 600.0 * f64::from(i);
            let e = exp(-t_s / tau);
            let reading_mm = 300.0 + amplitude_mm * (1.0 + rel) * e + 0.003 * draw("size", u64::from(i));
            let warm_K = amplitude_mm / alpha_D * e + bias + noise_K * draw("warm", u64::from(i));
            CoolReading { t_s, reading_mm, part_minus_ambient_K: way.thermometer.map(|_| warm_K) }
        })
        .collect();
    let at = |until: &f64| {
        let seen = readings.iter().copied().filter(|reading| reading.t_s <= 60.0 * until).collect();
        let mut request = Cooldown { ln_tau_u: way.ln_tau_u, ..Cooldown::usual(seen, alpha_D) };
        if let Some((noise_K, bias_K)) = way.thermometer {
            request = Cooldown { temperature_u_K: noise_K, temperature_bias_u_K: bias_K, ..request };
        }
        let found = cooldown(&request).unwrap();
        (1e3 * found.U95_mm, (found.settled_mm.value - 300.0) / found.settled_mm.u.unwrap())
    };
    minutes.iter().map(at).collect()
}

/// The table gives means of 40 simulated parts; here are 20 others, so both scatter.
#[test]
fn the_size_is_known_as_soon_as_the_table_says() {
    const PARTS: u64 = 20;
    const OF_THE_TABLE: f64 = 40.0;
    let table: Value = serde_json::from_str(&text("cooldown_how_soon.json")).unwrap();
    let rows = table["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 8);
    let (mut squares, mut count) = (0.0, 0.0);
    for (seed, row) in (1..).zip(rows) {
        let label = row[0].as_str().unwrap();
        let way = match label {
            _ if label.contains("35 %") => Way { ln_tau_u: 0.35, thermometer: None },
            _ if label.contains("10 %") => Way { ln_tau_u: 0.10, thermometer: None },
            _ if label.contains("sT=1.0") => Way { ln_tau_u: 0.35, thermometer: Some((1.0, 0.5)) },
            _ => Way { ln_tau_u: 0.35, thermometer: Some((0.3, 0.2)) },
        };
        let amplitude_mm = number(&row[1]);
        let times = row[2].as_array().unwrap();
        let minutes: Vec<f64> = times.iter().map(|time| number(&time[0])).collect();
        let parts: Vec<Vec<(f64, f64)>> = (0..PARTS).map(|part| simulated(&way, amplitude_mm, &minutes, seed, part)).collect();
        for (i, time) in times.iter().enumerate() {
            let of = |part: &Vec<(f64, f64)>| part[i].0;
            let mean = parts.iter().map(of).sum::<f64>() / PARTS as f64;
            let spread = (parts.iter().map(|part| sq(of(part) - mean)).sum::<f64>() / (PARTS - 1) as f64).sqrt();
            // Four standard errors of a difference of two such means, and the last digit of the table.
            let allowed = 4.0 * spread * (1.0 / PARTS as f64 + 1.0 / OF_THE_TABLE).sqrt() + 0.06 + 0.02 * mean;
            near(mean, number(&time[1]), allowed, &format!("{label}, {amplitude_mm} mm, {} min", minutes[i]));
        }
        // The first reading alone says nothing but what was believed before.
        for (_, z) in parts.iter().flat_map(|part| &part[1..]) {
            squares += sq(*z);
            count += 1.0;
        }
    }
    let rms = f64::sqrt(squares / count);
    // 160 parts, each seen ten times: the rms of as many errors scatters by 0.06 (300 parts a row give 0.79 to 1.07).
    assert!((0.85..1.15).contains(&rms), "errors are {rms} of what is claimed");
}
