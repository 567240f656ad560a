//! The request of `cut-trials`: runs, strategies, and truth and belief set apart.

use serde_json::{Map, Value};

use super::plans::Plan;
use super::routines::Routine;
use super::world::{self, CUT_COLUMNS, Runs, START_COLUMNS, Truth, WRITTEN_CUTS, Written};
use super::{How, Strategy, Trials};
use crate::keys::{Given, Key, Range, joined, nearest, shown};
use crate::refused::Refused;
use crate::turn::advice::{self, Prices};
use crate::turn::model;
use crate::turn::plan::LEAST_DEPTH_MM;

/// Most runs of a request.
const MOST_RUNS: f64 = 1e6;
/// Most cuts of a plan.
const MOST_CUTS: usize = 12;

const FRESH: &[Key] = &[
    Key::whole("count", Range::within(1.0, MOST_RUNS), "how many runs to make").needed(),
    Key::whole("seed", Range::at_least(0.0).to(9e15), "what they are made from").default("1"),
];

const SKIN: Key =
    Key::number("skin_low_share", Range::within(0.0, 1.0), "truth only: share of the excess over the air that a skin probe reads low");

const LATHE: [Key; model::KEYS.len() + 1] = joined(&model::KEYS, &[SKIN]);

/// The keys of a request.
pub const KEYS: &[Key] = &[
    Key::raw("runs", "written runs: objects with the columns of a table of runs"),
    Key::text("runs_csv", "a table of runs as text; at the command line the path of the file"),
    Key::record("fresh", FRESH, "runs made afresh"),
    Key::raw(
        "strategies",
        "names, or objects: name, cuts_mm (targets over nominal), size_readings, temperature_readings, wait_s (numbers or lists, one a cut), gauge_checks (readings on the standard before the last cut), trim_mm",
    )
    .needed(),
    Key::number("band_mm", Range::over(0.0).to(10.0), "width of the band about 300 mm").default("0.036"),
    Key::flag("keep_runs", "tell every run").default("false"),
    Key::record("truth", &LATHE, "the lathe as it is, where it is not the usual one"),
    Key::record("belief", &LATHE, "the lathe as it is believed, where that is not the usual one"),
    Key::number("blank_price", Range::at_least(0.0), "a part under the band, for costs and for the strategy advised"),
    Key::number("minute_price", Range::at_least(0.0), "a minute at the lathe"),
    Key::number("scrap_ratio", Range::over(0.0).to(1e9), "for the aim of the strategy advised").default("by the prices, 1 to 20"),
    Key::number("least_depth_mm", Range::at_least(0.0).to(5.0), "thinnest radial depth of the strategy advised").default("0.03"),
];

/// Reads a request.
pub fn read(given: &Given) -> Result<Trials, Refused> {
    let (blank, minute) = (given.number_or("blank_price", 0.0), given.number_or("minute_price", 0.0));
    let prices = Prices {
        blank,
        minute,
        scrap_ratio: given.number_or("scrap_ratio", advice::scrap_ratio(blank, minute, &world::usual())),
        least_depth_mm: given.number_or("least_depth_mm", LEAST_DEPTH_MM),
        step_mm: 0.001,
    };
    let lathe = |name: &str| given.record(name).map_or(world::usual(), |told| world::usual().told(&told));
    let skin_low_share = given.record("truth").map_or(0.0, |truth| truth.number_or("skin_low_share", 0.0));
    let list = given.raw("strategies").and_then(Value::as_array).filter(|list| !list.is_empty());
    let list = list.ok_or_else(|| given.refuse("strategies", "a list of one or more", "name what to try"))?;
    let strategies = list.iter().enumerate().map(|(i, value)| strategy(i, value, prices, given)).collect::<Result<_, _>>()?;
    Ok(Trials {
        runs: runs(given)?,
        strategies,
        band_mm: given.number_or("band_mm", 0.036),
        truth: Truth { lathe: lathe("truth"), skin_low_share },
        belief: lathe("belief"),
        keep_runs: given.flag_or("keep_runs", false),
        prices,
    })
}

fn runs(given: &Given) -> Result<Runs, Refused> {
    let written = if let Some(text) = given.word("runs_csv") {
        world::from_csv(text)?
    } else if let Some(rows) = given.raw("runs") {
        let rows = rows.as_array().ok_or_else(|| given.refuse("runs", "a list of objects", "give one object a run"))?;
        rows.iter().enumerate().map(|(i, row)| run(i, row)).collect::<Result<Vec<_>, _>>()?
    } else if let Some(fresh) = given.record("fresh") {
        return Ok(Runs::Fresh { count: fresh.whole_or("count", 1) as usize, seed: fresh.whole_or("seed", 1) });
    } else {
        return Err(Refused::new("runs", "missing", "runs, runs_csv or fresh", "give one of them"));
    };
    if written.is_empty() || written.len() as f64 > MOST_RUNS {
        return Err(Refused::new("runs", format!("{} runs", written.len()), format!("1 to {MOST_RUNS:.0}"), "give runs, or take `fresh`"));
    }
    Ok(Runs::Written(written))
}

/// One written run.
fn run(i: usize, row: &Value) -> Result<Written, Refused> {
    let map = row.as_object().ok_or_else(|| Refused::new(format!("runs.{i}"), shown(row), "an object", "name each column"))?;
    known(&format!("runs.{i}"), map, &columns())?;
    let number = |name: &str| {
        let value = map.get(name).and_then(Value::as_f64);
        value.ok_or_else(|| {
            let given = map.get(name).map_or_else(|| "missing".to_owned(), shown);
            Refused::new(format!("runs.{i}.{name}"), given, "a finite number", "give that column of the run")
        })
    };
    world::written(|column| number(START_COLUMNS[column]), |cut, column| number(&format!("{}{}", CUT_COLUMNS[column], cut + 1)))
}

fn columns() -> Vec<String> {
    let cuts = (1..=WRITTEN_CUTS).flat_map(|cut| CUT_COLUMNS.map(|name| format!("{name}{cut}")));
    ["run"].into_iter().chain(START_COLUMNS).map(str::to_owned).chain(cuts).collect()
}

/// Refuses a key that is none of `names`.
fn known(path: &str, map: &Map<String, Value>, names: &[String]) -> Result<(), Refused> {
    for name in map.keys() {
        if !names.contains(name) {
            let remedy = nearest(name, names.iter().map(String::as_str))
                .map_or("take it out".to_owned(), |near| format!("write {near}, or take it out"));
            return Err(Refused::new(format!("{path}.{name}"), "an unknown key", names.join(", "), remedy));
        }
    }
    Ok(())
}

/// A plan that has a name: targets over nominal; size and temperature readings each time (the last of a list holds for the cuts after
/// it); readings of the gauge on its standard before the last cut.
type Named = (&'static str, &'static [f64], &'static [u32], &'static [u32], u32);

const NAMED: [Named; 11] = [
    ("bayes_2cut_equal", &[1.0, 0.0], &[1], &[1], 0),
    ("bayes_2cut_unequal", &[0.6, 0.0], &[1], &[1], 0),
    ("bayes_3cut_equal", &[1.333, 0.667, 0.0], &[1], &[1], 0),
    ("bayes_3cut_unequal", &[0.6, 0.2, 0.0], &[1], &[1], 0),
    ("bayes_2cut_equal_3reads", &[1.0, 0.0], &[3], &[3], 0),
    ("bayes_2cut_unequal_3reads", &[0.6, 0.0], &[3], &[3], 0),
    ("bayes_3cut_equal_3reads", &[1.333, 0.667, 0.0], &[3], &[3], 0),
    ("bayes_3cut_unequal_3reads", &[0.6, 0.2, 0.0], &[3], &[3], 0),
    ("bayes_4cut_equal_5reads", &[1.5, 1.0, 0.5, 0.0], &[5], &[5], 0),
    ("bayes_3cut_equal_3reads_checked", &[1.333, 0.667, 0.0], &[3, 3, 1], &[3, 3, 1], 5),
    // Most of the readings where they count: before the last cut. Found by trying plans of up to 70 min on 20 000 runs.
    ("bayes_4cut_equal_checked", &[1.5, 1.0, 0.5, 0.0], &[3, 3, 5, 1], &[5, 5, 9, 3], 7),
];

fn named(path: &str, name: &str, prices: Prices, given: &Given) -> Result<Strategy, Refused> {
    let routine = Routine::ALL.iter().find(|(known, _)| *known == name).map(|(_, routine)| How::Routine(*routine));
    let plan = || {
        let (_, cuts, sizes, temperatures, checks) = NAMED.iter().find(|(known, ..)| *known == name)?;
        Some(How::Plan(Plan {
            cuts_mm: cuts.to_vec(),
            size_readings: sizes.to_vec(),
            temperature_readings: temperatures.to_vec(),
            wait_s: Vec::new(),
            gauge_checks: *checks,
            trim_mm: None,
        }))
    };
    if name == "advised" {
        for key in ["blank_price", "minute_price"] {
            given.need_number(key)?;
        }
        return Ok(Strategy { name: name.into(), how: How::Advised(prices) });
    }
    let how = routine.or_else(plan).ok_or_else(|| {
        let names = || Routine::ALL.iter().map(|(name, _)| *name).chain(NAMED.iter().map(|(name, ..)| *name)).chain(["advised"]);
        let remedy =
            nearest(name, names()).map_or("name one of them, or give an object with cuts_mm".to_owned(), |near| format!("write {near}"));
        Refused::new(path, format!("{name:?}"), names().collect::<Vec<_>>().join(", "), remedy)
    })?;
    Ok(Strategy { name: name.into(), how })
}

fn strategy(i: usize, value: &Value, prices: Prices, given: &Given) -> Result<Strategy, Refused> {
    let path = format!("strategies.{i}");
    if let Some(name) = value.as_str() {
        return named(&path, name, prices, given);
    }
    let map = value.as_object().ok_or_else(|| Refused::new(&path, shown(value), "a name or an object", "name a strategy"))?;
    known(
        &path,
        map,
        &["name", "cuts_mm", "size_readings", "temperature_readings", "wait_s", "gauge_checks", "trim_mm"].map(str::to_owned),
    )?;
    let name = map
        .get("name")
        .and_then(Value::as_str)
        .ok_or_else(|| Refused::new(format!("{path}.name"), map.get("name").map_or("missing".into(), shown), "a text", "give it a name"))?;
    if !map.contains_key("cuts_mm") {
        return named(&path, name, prices, given);
    }
    let list = |key: &str, usual: &[f64], range: Range| -> Result<Vec<f64>, Refused> {
        let Some(value) = map.get(key).filter(|value| !value.is_null()) else { return Ok(usual.to_vec()) };
        let one = value.as_f64().map(|x| vec![x]);
        let numbers = one.or_else(|| value.as_array().and_then(|list| list.iter().map(Value::as_f64).collect()));
        let allowed = format!("{range}, or a list of such, one a cut (up to {MOST_CUTS})");
        let fits = |list: &Vec<f64>| !list.is_empty() && list.len() <= MOST_CUTS && list.iter().all(|x| range.has(*x));
        numbers.filter(fits).ok_or_else(|| Refused::new(format!("{path}.{key}"), shown(value), allowed, "mend it"))
    };
    let whole = |key: &str| list(key, &[1.0], Range::within(1.0, 100.0)).map(|list| list.into_iter().map(|n| n as u32).collect());
    Ok(Strategy {
        name: name.into(),
        how: How::Plan(Plan {
            cuts_mm: list("cuts_mm", &[], Range::within(-2.0, 2.2))?,
            size_readings: whole("size_readings")?,
            temperature_readings: whole("temperature_readings")?,
            wait_s: list("wait_s", &[0.0], Range::within(0.0, 1e6))?,
            gauge_checks: list("gauge_checks", &[0.0], Range::within(0.0, 100.0))?.first().map_or(0, |n| *n as u32),
            trim_mm: list("trim_mm", &[f64::NAN], Range::within(0.0, 2.0))?.first().copied().filter(|trim| trim.is_finite()),
        }),
    })
}
