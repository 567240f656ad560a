//! Where a fit lets go, holds, takes a set or overloads its housing, over temperature and interference (`fit-map`).
//!
//! Each cell is a new fit, loaded once: a bush that was fitted at 20 °C with more than `set_at_20_um` has taken its set before it gets to the
//! side where the interference is smaller (cold in steel, hot in aluminium). Histories are in `rings`.

use serde::Serialize;
use serde_json::Value;

use super::plastic::Pair;
use super::rings::{ABSOLUTE_ZERO_C, Criterion, Ring, Sweep, check_rings, far_from_20, harder_bush_sentence, housing_limit_pressure};
use super::rings::{loss, not_checked, pair, read_criterion, read_rings, read_sweep};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::refused::Refused;
use crate::working::Working;

/// Even steps from one value to another, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// The first value.
    pub from: f64,
    /// The last value, over the first.
    pub to: f64,
    /// How many, 2 to 1000.
    pub count: usize,
}

impl Steps {
    /// The values.
    pub fn values(&self) -> Vec<f64> {
        let last = self.count.saturating_sub(1).max(1);
        let step = (self.to - self.from) / last as f64;
        (0..self.count).map(|i| if i == last { self.to } else { self.from + i as f64 * step }).collect()
    }
}

/// A map that is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct FitMap {
    /// The bush; its outside is not read, it is the housing's bore and the interference.
    pub bush: Ring,
    /// The housing.
    pub housing: Ring,
    /// Temperatures, °C.
    pub T_C: Steps,
    /// Interferences, free and at 20 °C, µm.
    pub interference_um: Steps,
    /// Pressure that a fit needs to count as holding, MPa.
    pub hold_pressure_MPa: f64,
    /// Share of the roughness sum that the joint loses.
    pub smoothing: f64,
    /// Whose strength theory judges the housing.
    pub criterion: Criterion,
    /// What takes the temperature.
    pub sweep: Sweep,
}

/// What a cell of the map is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Region {
    /// Less pressure than is wanted, or none.
    LetsGo,
    /// None of the others.
    Holds,
    /// The bush flows.
    TakesSet,
    /// The housing is past its limit.
    HousingOver,
}

/// How many cells are what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Cells that let go.
    pub lets_go: usize,
    /// Cells that hold.
    pub holds: usize,
    /// Cells whose bush takes a set.
    pub takes_set: usize,
    /// Cells whose housing is past its limit.
    pub housing_over: usize,
}

/// The map.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitMapAnswer {
    /// Temperatures, one a column.
    pub T_C: Vec<f64>,
    /// Interferences, one a row.
    pub interference_um: Vec<f64>,
    /// Interference at which the pressure is `hold_pressure_MPa`, one a temperature.
    pub lets_go_um: Vec<f64>,
    /// Interference at which the bush starts to flow; none without its yield.
    pub set_um: Vec<Option<f64>>,
    /// Interference at which the housing reaches its limit; none without a limit, or when the bush gives way first.
    pub housing_um: Vec<Option<f64>>,
    /// What each cell is: rows of interference, columns of temperature.
    pub region: Vec<Vec<Region>>,
    /// How many cells are what.
    pub counts: Counts,
    /// Interference at which the bush starts to flow at 20 °C; none without its yield.
    pub set_at_20_um: Option<f64>,
    /// What a person should know beside the figures.
    pub warnings: Vec<String>,
}

/// The effective interferences that bound the regions, mm.
struct Bounds {
    lets_go: f64,
    set: Option<f64>,
    housing: Option<f64>,
    /// The housing's limit for a bush that does not flow.
    housing_elastic: Option<f64>,
}

impl Bounds {
    fn new(request: &FitMap, pair: &Pair) -> Self {
        let limit = housing_limit_pressure(&request.housing, pair, request.criterion);
        Self {
            lets_go: pair.elastic_interference(request.hold_pressure_MPa),
            set: pair.onset().map(|p| pair.elastic_interference(p)),
            housing: limit.and_then(|p| pair.interference_at(p)),
            housing_elastic: limit.map(|p| pair.elastic_interference(p)),
        }
    }
}

/// Free interference at 20 °C that becomes the effective `wanted` at T: `I = (δ* + loss + D (1 + α_h ΔT_h))/(1 + α_b ΔT_b) − D`, mm.
///
/// Source: the definition of a mean expansion, ISO 1; loss as in `fit`.
fn boundary(request: &FitMap, wanted: f64, T_C: f64) -> f64 {
    let warm = |ring: &Ring, dT: f64| 1.0 + ring.alpha_per_K * dT;
    let (bush_dT, housing_dT) = match request.sweep {
        Sweep::All => (T_C - 20.0, T_C - 20.0),
        Sweep::Bush => (T_C - 20.0, 0.0),
    };
    let D = request.housing.bore_mm;
    let loss = loss(&request.bush, &request.housing, request.smoothing);
    (wanted + loss + D * warm(&request.housing, housing_dT)) / warm(&request.bush, bush_dT) - D
}

/// Regions and boundaries of a fit over temperature and interference.
///
/// Lets go: δ ≤ D (k_b + k_h) `hold_pressure_MPa`; takes a set: δ over D (k_b + k_h) p_y; housing over: δ over that of the housing's limit
/// on the bush's elastic-plastic curve. A cell is the first of lets go, housing over, takes a set that is true, else holds.
/// Refused: rings without a wall, steps that do not rise, an interference that leaves the bush no wall.
/// Source: as [`super::rings::fit`].
pub fn fit_map(request: &FitMap) -> Result<FitMapAnswer, Refused> {
    let rings = checked(request)?;
    let pair =
        pair(&rings).ok_or_else(|| Refused::new("rings", "no bush or no housing", "two rings", "give the bush, then the housing"))?;
    let bounds = Bounds::new(request, &pair);
    let (T_C, interference_um) = (request.T_C.values(), request.interference_um.values());
    let along = |wanted: Option<f64>| -> Vec<Option<f64>> {
        T_C.iter().map(|T_C| wanted.map(|wanted| boundary(request, wanted, *T_C) * 1e3)).collect()
    };
    let lets_go_um: Vec<f64> = T_C.iter().map(|T_C| boundary(request, bounds.lets_go, *T_C) * 1e3).collect();
    let (set_um, housing_um) = (along(bounds.set), along(bounds.housing));
    let mut counts = Counts::default();
    let row = |I: &f64| -> Vec<Region> {
        let columns = lets_go_um.iter().zip(&set_um).zip(&housing_um);
        columns.map(|((lets_go, set), housing)| region(*I, *lets_go, *set, *housing)).collect()
    };
    let region: Vec<Vec<Region>> = interference_um.iter().map(row).collect();
    for cell in region.iter().flatten() {
        *counts.of(*cell) += 1;
    }
    let set_at_20_um = bounds.set.map(|set| boundary(request, set, 20.0) * 1e3);
    let mut warnings: Vec<String> = rings.iter().filter_map(not_checked).collect();
    let ends = [("The map's colder end", request.T_C.from), ("The map's hotter end", request.T_C.to)];
    warnings.extend(ends.iter().filter_map(|(end, T_C)| far_from_20(end, &[*T_C])));
    let unspared = along(bounds.housing_elastic);
    let spared_by_yield = region.iter().zip(&interference_um).any(|(row, I)| {
        row.iter().zip(&unspared).any(|(cell, elastic)| *cell == Region::TakesSet && elastic.is_some_and(|elastic| *I > elastic))
    });
    if spared_by_yield {
        warnings.push(harder_bush_sentence("In a part of the map that takes a set", &request.housing.name));
    }
    Ok(FitMapAnswer { T_C, interference_um, lets_go_um, set_um, housing_um, region, counts, set_at_20_um, warnings })
}

impl Counts {
    fn of(&mut self, region: Region) -> &mut usize {
        match region {
            Region::LetsGo => &mut self.lets_go,
            Region::Holds => &mut self.holds,
            Region::TakesSet => &mut self.takes_set,
            Region::HousingOver => &mut self.housing_over,
        }
    }
}

fn region(I: f64, lets_go: f64, set: Option<f64>, housing: Option<f64>) -> Region {
    if I <= lets_go {
        Region::LetsGo
    } else if housing.is_some_and(|housing| I > housing) {
        Region::HousingOver
    } else if set.is_some_and(|set| I > set) {
        Region::TakesSet
    } else {
        Region::Holds
    }
}

/// The two rings with the bush's largest outside put in; refuses what the table of keys can't judge.
fn checked(request: &FitMap) -> Result<[Ring; 2], Refused> {
    let rises = |name: &str, steps: &Steps| {
        if steps.to > steps.from {
            return Ok(());
        }
        Err(Refused::new(format!("{name}.to"), steps.to, format!("over {name}.from, {}", steps.from), "give the lower end as from"))
    };
    rises("T_C", &request.T_C)?;
    rises("interference_um", &request.interference_um)?;
    let least = request.housing.bore_mm + request.interference_um.from / 1e3;
    if request.bush.bore_mm >= least {
        let allowed = format!("over {} µm, where the bush would have no wall", (request.bush.bore_mm - request.housing.bore_mm) * 1e3);
        return Err(Refused::new(
            "interference_um.from",
            request.interference_um.from,
            allowed,
            "start at more interference, or check the bores",
        ));
    }
    let rings =
        [Ring { outside_mm: request.housing.bore_mm + request.interference_um.to / 1e3, ..request.bush.clone() }, request.housing.clone()];
    check_rings(&rings)?;
    Ok(rings)
}

const RING: &[Key] = &{
    // The ring of `fit`, but for the bush's outside, which the map puts in itself.
    let mut keys = [super::rings::RING[0]; 10];
    let mut k = 0;
    while k < keys.len() {
        keys[k] = super::rings::RING[k];
        k += 1;
    }
    keys[2] = Key::quantity("outside_mm", super::rings::SIZE, "the housing's (equivalent) outside; the bush's is not read");
    keys
};

const fn steps(range: Range) -> [Key; 3] {
    [
        Key::number("from", range, "the first value").needed(),
        Key::number("to", range, "the last value, over the first").needed(),
        Key::whole("count", Range::within(2.0, 1000.0), "how many values, both ends included").needed(),
    ]
}

const TEMPERATURES: &[Key] = &steps(Range::within(ABSOLUTE_ZERO_C, 2000.0));
const INTERFERENCES: &[Key] = &steps(Range::within(-1e5, 1e5));

/// `fit-map` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "fit-map",
    help: "where a fit lets go, holds or takes a set, over temperature and interference",
    request: &[
        Key::records("rings", RING, "the bush, then the housing").needed(),
        Key::record("T_C", TEMPERATURES, "temperatures, the columns").needed(),
        Key::record("interference_um", INTERFERENCES, "interferences, free and at 20 °C, the rows").needed(),
        Key::number("hold_pressure_MPa", Range::at_least(0.0).to(1e4), "pressure that a fit needs to count as holding").default("0"),
        Key::number("smoothing", Range::at_least(0.0), "share of the roughness sum lost in the joint").default("0.8"),
        Key::word("criterion", &["tresca", "von_mises"], "whose strength theory judges the housing").default("tresca"),
        Key::word("sweep", &["all", "bush"], "what takes the temperature, the other part at 20 °C").default("all"),
    ],
    answer: &[
        Told { path: "T_C", help: "temperatures, one a column" },
        Told { path: "interference_um", help: "interferences, one a row" },
        Told { path: "lets_go_um", help: "interference at which the pressure is hold_pressure_MPa, one a temperature" },
        Told { path: "set_um", help: "interference at which the bush starts to flow, one a temperature; null without its yield" },
        Told {
            path: "housing_um",
            help: "interference at which the housing reaches its limit, one a temperature; null without a limit, or when the bush gives way first",
        },
        Told { path: "region", help: "lets_go, holds, takes_set or housing_over: rows of interference, columns of temperature" },
        Told { path: "counts", help: "how many cells are what" },
        Told { path: "counts.lets_go", help: "cells that let go" },
        Told { path: "counts.holds", help: "cells that hold" },
        Told { path: "counts.takes_set", help: "cells whose bush takes a set" },
        Told { path: "counts.housing_over", help: "cells whose housing is past its limit" },
        Told { path: "set_at_20_um", help: "interference at which the bush starts to flow at 20 °C; null without its yield" },
        Told { path: "warnings", help: "what a person should know beside the figures" },
    ],
    example: r#"{"rings": [
        {"name": "bush", "bore_mm": 200, "E_GPa": 100, "nu": 0.35, "alpha_per_K": 18e-6, "yield_MPa": 138},
        {"name": "housing", "bore_mm": 230, "outside_mm": 420, "E_GPa": 206, "nu": 0.3, "alpha_per_K": 11.5e-6, "yield_MPa": 305}],
        "T_C": {"from": -60, "to": 160, "count": 5}, "interference_um": {"from": 0, "to": 400, "count": 5}}"#,
    run: Some(answer_fit_map),
};

fn answer_fit_map(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = fit_map(&request)?;
    if desk.working.wanted() {
        show(&request, &answer, &mut desk.working);
    }
    told(&answer)
}

fn read(given: &Given) -> Result<FitMap, Refused> {
    let rings = read_rings(given, |quantity| quantity.value)?;
    let Ok([bush, housing]) = <[Ring; 2]>::try_from(rings) else {
        return Err(Refused::new("rings", "more than two rings", "two, the bush and the housing", "ask fit about more rings"));
    };
    if housing.outside_mm == 0.0 {
        return Err(Refused::new("rings.1.outside_mm", "missing", "a number of 0.001 or more", "give the housing's (equivalent) outside"));
    }
    let steps = |name: &str| -> Result<Steps, Refused> {
        let steps = given.need_record(name)?;
        let count = usize::try_from(steps.whole_or("count", 2)).unwrap_or(2);
        Ok(Steps { from: steps.need_number("from")?, to: steps.need_number("to")?, count })
    };
    Ok(FitMap {
        bush,
        housing,
        T_C: steps("T_C")?,
        interference_um: steps("interference_um")?,
        hold_pressure_MPa: given.number_or("hold_pressure_MPa", 0.0),
        smoothing: given.number_or("smoothing", 0.8),
        criterion: read_criterion(given),
        sweep: read_sweep(given),
    })
}

/// The boundaries at the first temperature, which show how all are found.
fn show(request: &FitMap, answer: &FitMapAnswer, working: &mut Working) {
    let first = |list: &[Option<f64>]| list.first().copied().flatten();
    let formula = "I = (delta* + loss + D (1 + alpha_h dT_h))/(1 + alpha_b dT_b) - D";
    let at = [
        ("T C", request.T_C.from),
        ("D mm", request.housing.bore_mm),
        ("alpha_b 1/K", request.bush.alpha_per_K),
        ("alpha_h 1/K", request.housing.alpha_per_K),
        ("loss um", loss(&request.bush, &request.housing, request.smoothing) * 1e3),
    ];
    let bounds = [
        ("lets go, delta* = D (k_b + k_h) hold_pressure", answer.lets_go_um.first().copied()),
        ("takes a set, delta* = D (k_b + k_h) p_y", first(&answer.set_um)),
        ("housing over, delta* at its limit on the elastic-plastic curve", first(&answer.housing_um)),
    ];
    for (what, I) in bounds {
        if let Some(I) = I {
            working.step(&format!("boundary: {what}"), formula, &at, &[("I um", I)], "ISO 1; Lamé 1852; Prager and Hodge (memory)");
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::crew::Alone;

    fn map(change: impl Fn(&mut Value)) -> Result<Value, Refused> {
        let mut request = crate::compute::read(KIND.example).unwrap();
        change(&mut request);
        crate::compute::answer("fit-map", &request, &Alone, false)
    }

    #[test]
    fn what_a_table_of_keys_cannot_see_is_refused_by_its_key() {
        let refused = |change: fn(&mut Value)| map(change).unwrap_err().key;
        assert_eq!(refused(|r| r["T_C"]["to"] = json!(-60)), "T_C.to");
        assert_eq!(refused(|r| r["interference_um"]["to"] = json!(-1)), "interference_um.to");
        assert_eq!(refused(|r| r["interference_um"]["from"] = json!(-31_000)), "interference_um.from");
        assert_eq!(refused(|r| r["rings"][1]["outside_mm"] = json!(null)), "rings.1.outside_mm");
        assert_eq!(refused(|r| r["rings"][1]["bore_mm"] = json!(150)), "interference_um.from");
    }

    #[test]
    fn the_bush_s_own_outside_is_not_read() {
        assert_eq!(map(|r| r["rings"][0]["outside_mm"] = json!(5)).unwrap(), map(|_| ()).unwrap());
    }

    #[test]
    fn without_a_yield_nothing_sets_and_that_is_said() {
        let answer = map(|r| r["rings"][0]["yield_MPa"] = json!(null)).unwrap();
        assert_eq!((&answer["set_at_20_um"], &answer["counts"]["takes_set"]), (&json!(null), &json!(0)));
        assert!(answer["warnings"][0].as_str().unwrap().contains("not checked"));
    }

    #[test]
    fn a_housing_that_only_the_bush_s_yield_spares_is_told() {
        let answer = map(|r| r["rings"][1]["yield_MPa"] = json!(60)).unwrap();
        assert!(answer["warnings"].to_string().contains("harder"), "{}", answer["warnings"]);
    }
}
