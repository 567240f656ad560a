//! What is asked of a fit: rings, states, loads; the keys of the request and what they refuse.
#![allow(missing_docs, reason = "fields whose name and unit say it all")]

use serde_json::Value;

use super::elastic::Axial;
use crate::fit::plastic::{Pair, Wall};
use crate::keys::{Given, Key, Range, read_quantity, shown};
use crate::quantity::Quantity;
use crate::refused::Refused;

/// One ring, its sizes free and at 20 °C.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// What it is called in the answer's sentences.
    pub name: String,
    pub bore_mm: f64,
    pub outside_mm: f64,
    pub E_GPa: f64,
    pub nu: f64,
    /// Mean from 20 °C to the state's temperature.
    pub alpha_per_K: f64,
    /// Yield at the hottest state; none: not judged by it.
    pub yield_MPa: Option<f64>,
    /// Hoop tension that a brittle ring may carry; none: not judged by it.
    pub tension_limit_MPa: Option<f64>,
    pub Rz_bore_um: f64,
    pub Rz_outside_um: f64,
}

/// One set of temperatures.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// What it is called.
    pub name: String,
    /// One a ring.
    pub T_C: Vec<f64>,
}

/// Whose strength theory judges the rings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Criterion {
    /// Largest difference of principal stresses.
    Tresca,
    /// Energy of distortion.
    VonMises,
}

/// What changes its temperature when a limit temperature is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sweep {
    /// All rings alike.
    All,
    /// The bush alone, the others at 20 °C.
    Bush,
}

/// Friction in the joints.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    pub length_mm: f64,
    /// Least coefficient, for what holds.
    pub mu_low: f64,
    /// Largest coefficient, for what must be pushed.
    pub mu_high: f64,
}

/// A fit that is asked about.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// 2 to 6, from the inside out.
    pub rings: Vec<Ring>,
    /// At least one.
    pub states: Vec<State>,
    /// Share of the roughness sum that a joint loses when its peaks are smoothed.
    pub smoothing: f64,
    pub axial: Axial,
    pub criterion: Criterion,
    pub sweep: Sweep,
    pub friction: Option<Friction>,
    pub axial_kN: Option<f64>,
    pub torque_Nm: Option<f64>,
    /// States that the fit has been through; none when its history is not asked about.
    pub cycle_T_C: Option<Vec<Vec<f64>>>,
}

/// Absolute zero, °C.
pub(crate) const ABSOLUTE_ZERO_C: f64 = -273.15;
/// Sizes of this trade, mm.
pub(crate) const SIZE: Range = Range::within(1e-3, 1e5);
/// Strengths, MPa: from nothing that has a use to more than any metal has.
const STRENGTH: Range = Range::within(1e-3, 1e5);
/// Walls thinner than this part of their outside are lost in the digits of the sizes.
const THINNEST: f64 = 1e-9;

/// Keys of a ring of `fit`.
pub(crate) const RING: &[Key] = &[
    Key::text("name", "what the ring is called").default("bush, ring 2 .., housing"),
    Key::quantity("bore_mm", SIZE, "the bore, free and at 20 °C").needed(),
    Key::quantity("outside_mm", SIZE, "the outside, free and at 20 °C (of a housing that is not round its equivalent)").needed(),
    Key::quantity("E_GPa", Range::within(1e-6, 1e4), "Young's modulus").needed(),
    Key::quantity("nu", Range::over(-1.0).under(0.5), "Poisson's ratio").needed(),
    Key::quantity("alpha_per_K", Range::at_least(0.0).to(1e-3), "mean expansion from 20 °C to the state's temperature").needed(),
    Key::quantity("yield_MPa", STRENGTH, "yield at the hottest state").default("not judged by yield"),
    Key::quantity("tension_limit_MPa", STRENGTH, "hoop tension that a brittle ring may carry").default("not judged by tension"),
    Key::quantity("Rz_bore_um", Range::at_least(0.0), "roughness of the bore").default("0"),
    Key::quantity("Rz_outside_um", Range::at_least(0.0), "roughness of the outside").default("0"),
];

const STATE: &[Key] = &[
    Key::text("name", "what the state is called").default("state and its number"),
    Key::raw("T_C", "temperatures, one a ring, each a number or {\"value\", \"u\"}").needed(),
];

/// Keys of a request of `fit`.
pub(super) const REQUEST: &[Key] = &[
    Key::records("rings", RING, "2 to 6 rings, from the inside out").needed(),
    Key::records("states", STATE, "sets of temperatures to look at").default("one, all rings at 20 °C"),
    Key::quantity("smoothing", Range::at_least(0.0), "share of the roughness sum lost in a joint (0.4 to 0.8 when shrunk cold)")
        .default("0.8"),
    Key::word("axial", &["free", "stuck", "held"], "what the rings do along the axis").default("free"),
    Key::word("criterion", &["tresca", "von_mises"], "whose strength theory judges").default("tresca"),
    Key::word("sweep", &["all", "bush"], "what changes its temperature for the limit temperatures").default("all"),
    Key::quantity("length_mm", Range::at_least(0.0).to(1e5), "length of the joints, for forces; needs both coefficients of friction"),
    Key::quantity("mu_low", Range::at_least(0.0).to(10.0), "least coefficient of friction"),
    Key::quantity("mu_high", Range::at_least(0.0).to(10.0), "largest coefficient of friction"),
    Key::quantity("axial_kN", Range::ANY, "axial load that the joints must hold"),
    Key::quantity("torque_Nm", Range::ANY, "torque that the joints must hold"),
    Key::raw("cycle_T_C", "temperatures that the fit has been through: lists of one temperature a ring (two free rings)"),
];

impl Fit {
    /// Reads a request; of each number what `pick` takes of it (its value, or its u).
    pub(super) fn read(given: &Given, pick: fn(Quantity) -> f64) -> Result<Self, Refused> {
        let rings = read_rings(given, pick)?;
        let count = rings.len();
        let number = |name: &str| given.quantity(name).map(pick);
        let mut states = Vec::new();
        for (i, state) in given.records("states").into_iter().enumerate() {
            let name = state.word("name").map_or_else(|| format!("state {}", i + 1), str::to_owned);
            let T_C = read_temperatures(&state.path_of("T_C"), state.raw("T_C").unwrap_or(&Value::Null), count, pick)?;
            states.push(State { name, T_C });
        }
        if states.is_empty() {
            states.push(State { name: "20 °C".into(), T_C: vec![pick(Quantity::exact(20.0)); count] });
        }
        let fit = Self {
            rings,
            states,
            smoothing: pick(given.quantity_or("smoothing", 0.8)),
            axial: match given.word_or("axial", "free") {
                "stuck" => Axial::Stuck,
                "held" => Axial::Held,
                _ => Axial::Free,
            },
            criterion: read_criterion(given),
            sweep: read_sweep(given),
            friction: read_friction(given, pick)?,
            axial_kN: number("axial_kN"),
            torque_Nm: number("torque_Nm"),
            cycle_T_C: read_cycle(given, count, pick)?,
        };
        if fit.cycle_T_C.is_some() && !fit.is_two_free_rings() {
            let remedy = "leave cycle_T_C out, or ask about two rings with axial \"free\"";
            return Err(given.refuse("cycle_T_C", "only for two rings that are free along the axis", remedy));
        }
        Ok(fit)
    }

    /// Every number of the request, in a fixed order, for changing them one by one.
    pub(super) fn numbers(&mut self) -> Vec<&mut f64> {
        let mut all: Vec<&mut f64> = Vec::new();
        for ring in &mut self.rings {
            all.extend([&mut ring.bore_mm, &mut ring.outside_mm, &mut ring.E_GPa, &mut ring.nu, &mut ring.alpha_per_K]);
            all.extend([&mut ring.Rz_bore_um, &mut ring.Rz_outside_um]);
            all.extend(ring.yield_MPa.as_mut());
            all.extend(ring.tension_limit_MPa.as_mut());
        }
        all.extend(self.states.iter_mut().flat_map(|state| &mut state.T_C));
        all.push(&mut self.smoothing);
        if let Some(friction) = &mut self.friction {
            all.extend([&mut friction.length_mm, &mut friction.mu_low, &mut friction.mu_high]);
        }
        all.extend(self.axial_kN.as_mut());
        all.extend(self.torque_Nm.as_mut());
        all.extend(self.cycle_T_C.iter_mut().flatten().flatten());
        all
    }

    /// Whether yield, sets and limit temperatures can be answered.
    pub fn is_two_free_rings(&self) -> bool {
        self.rings.len() == 2 && self.axial == Axial::Free
    }

    /// Each ring as it works in the fit: its outside is the bore of the next ring.
    pub(super) fn walls(&self) -> Vec<Wall> {
        walls(&self.rings)
    }

    /// The first two rings as bush and housing.
    pub(super) fn pair(&self) -> Option<Pair> {
        pair(&self.rings)
    }

    /// Refuses what the table of keys can't judge.
    pub fn checked(&self) -> Result<(), Refused> {
        check_rings(&self.rings)?;
        let mut lists = self.states.iter().map(|state| &state.T_C).chain(self.cycle_T_C.iter().flatten());
        if let Some(T_C) = lists.find(|T_C| T_C.len() != self.rings.len()) {
            let allowed = format!("{} temperatures, one a ring", self.rings.len());
            return Err(Refused::new("T_C", format!("a list of {}", T_C.len()), allowed, "give one temperature for each ring"));
        }
        match self.friction {
            Some(Friction { mu_low, mu_high, .. }) if mu_low > mu_high => {
                Err(Refused::new("mu_low", mu_low, format!("at most mu_high, {mu_high}"), "give the lower coefficient as mu_low"))
            }
            _ => Ok(()),
        }
    }
}

/// Whose strength theory a request names.
pub(crate) fn read_criterion(given: &Given) -> Criterion {
    if given.word("criterion") == Some("von_mises") { Criterion::VonMises } else { Criterion::Tresca }
}

/// What a request sweeps.
pub(crate) fn read_sweep(given: &Given) -> Sweep {
    if given.word("sweep") == Some("bush") { Sweep::Bush } else { Sweep::All }
}

/// Reads `rings`; a missing outside is read as 0 (`fit-map` puts its own in).
pub(crate) fn read_rings(given: &Given, pick: fn(Quantity) -> f64) -> Result<Vec<Ring>, Refused> {
    let records = given.records("rings");
    check_count(records.len())?;
    let last = records.len() - 1;
    let each = records.into_iter().enumerate().map(|(k, ring)| {
        let default = match k {
            0 => "bush".to_owned(),
            k if k == last => "housing".to_owned(),
            k => format!("ring {}", k + 1),
        };
        Ok(Ring {
            name: ring.word("name").map_or(default, str::to_owned),
            bore_mm: pick(ring.need_quantity("bore_mm")?),
            outside_mm: pick(ring.quantity_or("outside_mm", 0.0)),
            E_GPa: pick(ring.need_quantity("E_GPa")?),
            nu: pick(ring.need_quantity("nu")?),
            alpha_per_K: pick(ring.need_quantity("alpha_per_K")?),
            yield_MPa: ring.quantity("yield_MPa").map(pick),
            tension_limit_MPa: ring.quantity("tension_limit_MPa").map(pick),
            Rz_bore_um: pick(ring.quantity_or("Rz_bore_um", 0.0)),
            Rz_outside_um: pick(ring.quantity_or("Rz_outside_um", 0.0)),
        })
    });
    each.collect()
}

fn check_count(rings: usize) -> Result<(), Refused> {
    if (2..=6).contains(&rings) {
        return Ok(());
    }
    let given = format!("a list of {rings}");
    Err(Refused::new("rings", given, "2 to 6 rings, from the inside out", "give the bush first, the housing last"))
}

/// Refuses rings that have no wall or do not rise from the inside out.
pub(crate) fn check_rings(rings: &[Ring]) -> Result<(), Refused> {
    check_count(rings.len())?;
    let under = |bore: f64, outside: f64| bore < outside * (1.0 - THINNEST);
    for (k, ring) in rings.iter().enumerate() {
        if !under(ring.bore_mm, ring.outside_mm) {
            let allowed = format!("under its outside, {}", ring.outside_mm);
            return Err(Refused::new(format!("rings.{k}.bore_mm"), ring.bore_mm, allowed, "measure both again, or put the rings in order"));
        }
    }
    for (k, pair) in rings.windows(2).enumerate() {
        if let [inner, outer] = pair
            && !under(inner.bore_mm, outer.bore_mm)
        {
            let allowed = format!("over the bore of the ring inside it, {}", inner.bore_mm);
            return Err(Refused::new(format!("rings.{}.bore_mm", k + 1), outer.bore_mm, allowed, "give the rings from the inside out"));
        }
    }
    Ok(())
}

/// Each ring as it works in the fit: its outside is the bore of the next ring (of the last ring its own). mm, MPa.
pub(crate) fn walls(rings: &[Ring]) -> Vec<Wall> {
    let next = rings.iter().skip(1).map(|ring| ring.bore_mm).chain(rings.last().map(|ring| ring.outside_mm));
    rings.iter().zip(next).map(|(ring, outside)| Wall { bore: ring.bore_mm, outside, E: ring.E_GPa * 1e3, nu: ring.nu }).collect()
}

/// The first two of rings as bush and housing.
pub(crate) fn pair(rings: &[Ring]) -> Option<Pair> {
    let walls = walls(rings);
    let (bush, housing) = (*walls.first()?, *walls.get(1)?);
    let yield_of = |k: usize| rings.get(k).and_then(|ring| ring.yield_MPa);
    Some(Pair { bush, housing, bush_yield: yield_of(0), housing_yield: yield_of(1) })
}

fn read_temperatures(path: &str, value: &Value, count: usize, pick: fn(Quantity) -> f64) -> Result<Vec<f64>, Refused> {
    let list = value.as_array().filter(|list| list.len() == count).ok_or_else(|| {
        Refused::new(
            path,
            shown(value),
            format!("a list of {count} temperatures, one a ring"),
            "give one temperature for each ring, in their order",
        )
    })?;
    let each = list.iter().enumerate().map(|(k, item)| {
        // A wider range than any fit sees; absolute zero is what can't be passed.
        let range = Range::within(ABSOLUTE_ZERO_C, 5000.0);
        let read = read_quantity(item).ok().filter(|quantity| range.has(quantity.value));
        let refused = || Refused::new(format!("{path}.{k}"), shown(item), range.to_string(), "give the ring's temperature in °C");
        read.map(pick).ok_or_else(refused)
    });
    each.collect()
}

fn read_cycle(given: &Given, count: usize, pick: fn(Quantity) -> f64) -> Result<Option<Vec<Vec<f64>>>, Refused> {
    let Some(value) = given.raw("cycle_T_C") else { return Ok(None) };
    let list = value.as_array().ok_or_else(|| given.refuse("cycle_T_C", "a list of lists, one temperature a ring", "write [[90, 60]]"))?;
    let each = list.iter().enumerate().map(|(i, item)| read_temperatures(&format!("cycle_T_C.{i}"), item, count, pick));
    each.collect::<Result<_, _>>().map(Some)
}

fn read_friction(given: &Given, pick: fn(Quantity) -> f64) -> Result<Option<Friction>, Refused> {
    let Some(length_mm) = given.quantity("length_mm").map(pick) else { return Ok(None) };
    let (Some(mu_low), Some(mu_high)) = (given.quantity("mu_low").map(pick), given.quantity("mu_high").map(pick)) else {
        return Err(given.refuse(
            "length_mm",
            "with both mu_low and mu_high",
            "give both coefficients of friction, or leave the length out",
        ));
    };
    Ok(Some(Friction { length_mm, mu_low, mu_high }))
}
