//! What `fit-chance` is asked: the table of its keys, and the reading of a request into inputs, requirements and remedies.

use super::chain::{
    CORRECTION_MM, EXPANSION_PER_K, INPUT, INPUTS, Input, MODULUS_GPA, OUTPUT, POISSON, ROUGHNESS_UM, SIZE_MM, SMOOTHING, States,
    TEMPERATURE_C, at,
};
use super::study::{Change, Limits};
use crate::compute::Kind;
use crate::keys::{Given, Key, Range, Told, nearest};
use crate::quantity::{Quantity, Shape};
use crate::refused::Refused;

/// A request of `fit-chance`, read.
#[derive(Clone, Debug)]
pub struct ChanceRequest {
    /// Number of draws.
    pub samples: u64,
    /// Seed of the draws.
    pub seed: u64,
    /// The inputs, in the order of `chain::INPUT`; those of a state that is not asked for are 20 °C.
    pub inputs: [Quantity; INPUTS],
    /// The states asked for.
    pub states: States,
    /// The requirements.
    pub limits: Vec<Limits>,
    /// The remedies.
    pub remedies: Vec<Remedy>,
}

/// Something that could be done better: an input and what it would be then.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// Its name.
    pub name: String,
    /// The input, as its place in `chain::INPUT`.
    pub input: usize,
    /// What stands there then; what the remedy does not name is kept.
    pub to: Quantity,
}

impl Remedy {
    /// Every input that changes: its own, and readings that the part or the gauge would show differently at a new temperature.
    ///
    /// A part that is warmer by then is larger by then: its reading moves so that its estimated size at 20 °C stays,
    /// (reading + correction) (1 + α_g (T_g − 20))/(1 + α (T − 20)).
    pub fn changes(&self, inputs: &[Quantity; INPUTS]) -> Change {
        use at::*;
        let mut change = vec![(self.input, self.to)];
        let was = inputs[self.input].value;
        if self.to.value == was {
            return change;
        }
        let factor = |alpha: usize, T: f64| 1.0 + inputs[alpha].value * (T - 20.0);
        let mut shift = |reading: usize, correction: usize, ratio: f64| {
            let moved = (inputs[reading].value + inputs[correction].value) * ratio - inputs[correction].value;
            change.push((reading, Quantity { value: moved, ..inputs[reading] }));
        };
        match self.input {
            HOUSING_T => shift(HOUSING_READING, HOUSING_CORRECTION, factor(HOUSING_ALPHA, self.to.value) / factor(HOUSING_ALPHA, was)),
            BUSH_T => shift(BUSH_READING, BUSH_CORRECTION, factor(BUSH_ALPHA, self.to.value) / factor(BUSH_ALPHA, was)),
            GAUGE_T => {
                let ratio = factor(GAUGE_ALPHA, was) / factor(GAUGE_ALPHA, self.to.value);
                shift(HOUSING_READING, HOUSING_CORRECTION, ratio);
                shift(BUSH_READING, BUSH_CORRECTION, ratio);
            }
            _ => {}
        }
        change
    }
}

const GAUGE: &[Key] = &[
    Key::quantity("T_C", TEMPERATURE_C, "temperature of the gauge at both readings: one draw for both parts").needed(),
    Key::quantity("alpha_per_K", EXPANSION_PER_K, "mean expansion of the gauge").needed(),
];

const HOUSING: &[Key] = &[
    Key::quantity("reading_mm", SIZE_MM, "bore as read").needed(),
    Key::quantity("correction_mm", CORRECTION_MM, "what to add to the reading (calibration, zero)").default("0"),
    Key::quantity("T_C", TEMPERATURE_C, "temperature of the housing when it was read").needed(),
    Key::quantity("alpha_per_K", EXPANSION_PER_K, "mean expansion of the housing").needed(),
    Key::quantity("E_GPa", MODULUS_GPA, "modulus of the housing").needed(),
    Key::quantity("nu", POISSON, "Poisson's ratio of the housing").needed(),
    Key::quantity("Rz_um", ROUGHNESS_UM, "roughness of the housing bore").default("0"),
    Key::quantity("equivalent_outside_mm", SIZE_MM, "outside diameter of the ring that gives way like this housing").needed(),
];

const BUSH: &[Key] = &[
    Key::quantity("reading_mm", SIZE_MM, "outside diameter as read").needed(),
    Key::quantity("correction_mm", CORRECTION_MM, "what to add to the reading (calibration, zero)").default("0"),
    Key::quantity("T_C", TEMPERATURE_C, "temperature of the bush when it was read").needed(),
    Key::quantity("alpha_per_K", EXPANSION_PER_K, "mean expansion of the bush").needed(),
    Key::quantity("E_GPa", MODULUS_GPA, "modulus of the bush").needed(),
    Key::quantity("nu", POISSON, "Poisson's ratio of the bush").needed(),
    Key::quantity("Rz_um", ROUGHNESS_UM, "roughness of the bush outside").default("0"),
    Key::quantity("bore_mm", SIZE_MM, "bore of the free bush at 20 °C").needed(),
];

const JOURNAL: &[Key] = &[
    Key::quantity("diameter_mm", SIZE_MM, "journal at 20 °C").needed(),
    Key::quantity("alpha_per_K", EXPANSION_PER_K, "mean expansion of the journal; needed with `working`"),
];

const WORKING: &[Key] = &[
    Key::quantity("bush_T_C", TEMPERATURE_C, "bush at work").needed(),
    Key::quantity("housing_T_C", TEMPERATURE_C, "housing at work").needed(),
    Key::quantity("journal_T_C", TEMPERATURE_C, "journal at work").needed(),
];

const COLD: &[Key] = &[
    Key::quantity("bush_T_C", TEMPERATURE_C, "bush in the cold").needed(),
    Key::quantity("housing_T_C", TEMPERATURE_C, "housing in the cold").needed(),
];

const REQUIREMENT: &[Key] = &[
    Key::text("of", "the output that must hold").needed(),
    Key::number("min", Range::ANY, "its smallest good value; min, max or both"),
    Key::number("max", Range::ANY, "its largest good value"),
];

const REMEDY: &[Key] = &[
    Key::text("name", "what would be done").needed(),
    Key::text("input", "the input that it changes, as bush/T_C").needed(),
    Key::number("value", Range::ANY, "its new value; a new T_C moves the readings so that sizes at 20 °C stay").default("as it is"),
    Key::number("u", Range::at_least(0.0), "its new standard uncertainty").default("as it is"),
    Key::word("shape", &["normal", "rectangular", "triangular", "arcsine", "t"], "its new shape").default("as it is"),
    Key::number("dof", Range::over(2.0), "its new degrees of freedom").default("as they are"),
];

/// `fit-chance` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "fit-chance",
    help: "the chance that everything holds, what decides it and what would help",
    request: &[
        Key::whole("samples", Range::within(1e3, 1e8), "number of draws").default("1e6"),
        Key::whole("seed", Range::at_least(0.0).to(9_007_199_254_740_992.0), "seed of the draws").default("1"),
        Key::record("gauge", GAUGE, "the gauge").needed(),
        Key::record("housing", HOUSING, "the housing").needed(),
        Key::record("bush", BUSH, "the bush").needed(),
        Key::record("journal", JOURNAL, "the journal").needed(),
        Key::record("working", WORKING, "temperatures at work").default("not computed"),
        Key::record("cold", COLD, "temperatures in the cold").default("not computed"),
        Key::quantity("smoothing", SMOOTHING, "share of the roughness that the joint loses").default("0.8"),
        Key::records("requirements", REQUIREMENT, "what must hold").default("[]"),
        Key::records("remedies", REMEDY, "what could be done").default("[]"),
    ],
    answer: &[
        Told { path: "outputs", help: "by name of output: its spread" },
        Told { path: "outputs.NAME.mean", help: "mean of the draws" },
        Told { path: "outputs.NAME.u", help: "standard deviation of the draws" },
        Told { path: "outputs.NAME.low", help: "2.5 % quantile" },
        Told { path: "outputs.NAME.high", help: "97.5 % quantile" },
        Told { path: "requirements", help: "one a requirement" },
        Told { path: "requirements[].of", help: "its output" },
        Told { path: "requirements[].chance", help: "chance that it holds" },
        Told { path: "requirements[].chance_u", help: "standard error of the chance; 0 says nothing at a chance of 0 or 1" },
        Told { path: "chance_all", help: "chance that all hold in the same draw; null without requirements" },
        Told { path: "chance_all_u", help: "standard error of that chance; null without requirements" },
        Told { path: "shares", help: "by output, by input with u over 0: first-order share of the variance" },
        Told { path: "contributions", help: "by output: the same shares, largest first" },
        Told { path: "contributions.NAME[].input", help: "the input" },
        Told { path: "contributions.NAME[].share", help: "its share" },
        Told { path: "remedies", help: "one a remedy" },
        Told { path: "remedies[].name", help: "its name" },
        Told { path: "remedies[].chance_all", help: "chance that all hold with it; null without requirements" },
        Told { path: "remedies[].gain", help: "what it adds to the chance; null without requirements" },
        Told { path: "warnings", help: "sentences" },
    ],
    example: r#"{"samples": 20000, "gauge": {"T_C": {"value": 22, "u": 0.5}, "alpha_per_K": 1.15e-5},
        "housing": {"reading_mm": {"value": 240.018, "u": 0.004}, "T_C": {"value": 23, "u": 0.7}, "alpha_per_K": 1.15e-5, "E_GPa": 206,
            "nu": 0.3, "Rz_um": 5, "equivalent_outside_mm": {"value": 430, "u": 15, "shape": "rectangular"}},
        "bush": {"reading_mm": {"value": 240.196, "u": 0.0045, "dof": 9}, "T_C": {"value": 31, "u": 1}, "alpha_per_K": 1.8e-5,
            "E_GPa": {"value": 100, "u": 4}, "nu": 0.34, "Rz_um": 6, "bore_mm": {"value": 210.3, "u": 0.008}},
        "journal": {"diameter_mm": {"value": 210, "u": 0.005}},
        "requirements": [{"of": "interference_um", "min": 90, "max": 150}, {"of": "clearance_um", "min": 160, "max": 230}],
        "remedies": [{"name": "let the bush cool to the room", "input": "bush/T_C", "value": 22.5, "u": 0.4}]}"#,
    run: Some(super::answer_chance),
};

impl ChanceRequest {
    /// Reads a request that its table has checked.
    pub fn read(given: &Given) -> Result<Self, Refused> {
        let states = States { working: given.has("working"), cold: given.has("cold") };
        if states.working && !given.need_record("journal")?.has("alpha_per_K") {
            return Err(given.need_record("journal")?.refuse(
                "alpha_per_K",
                "the journal's expansion, 0 to 0.001 per K, wherever `working` is given",
                "give journal.alpha_per_K, or take out `working`",
            ));
        }
        let mut inputs = [Quantity::exact(20.0); INPUTS];
        for (quantity, input) in inputs.iter_mut().zip(&INPUT) {
            *quantity = read_input(given, input, states)?;
        }
        Ok(Self {
            samples: given.whole_or("samples", 1_000_000),
            seed: given.whole_or("seed", 1),
            inputs,
            states,
            limits: given.records("requirements").iter().map(|given| read_limits(given, states)).collect::<Result<_, _>>()?,
            remedies: given.records("remedies").iter().map(|given| read_remedy(given, &inputs, states)).collect::<Result<_, _>>()?,
        })
    }
}

/// Whether an input plays a part with these states.
fn plays(input: &Input, states: States) -> bool {
    match input.place().0 {
        "working" => states.working,
        "cold" => states.cold,
        _ => true,
    }
}

fn read_input(given: &Given, input: &Input, states: States) -> Result<Quantity, Refused> {
    if !plays(input, states) {
        return Ok(Quantity::exact(20.0));
    }
    let (group, key) = input.place();
    let record = if group.is_empty() { given.clone() } else { given.need_record(group)? };
    let quantity = match input.default {
        Some(default) => record.quantity_or(key, default),
        None => record.need_quantity(key)?,
    };
    drawable(&quantity).map_err(|(given, allowed)| Refused::new(format!("{}.dof", record.path_of(key)), given, allowed, MORE_READINGS))?;
    Ok(quantity)
}

const MORE_READINGS: &str = "take more readings, or give another shape with a u that covers what is not known";

/// A t with 2 degrees of freedom or fewer has no standard deviation: such draws say nothing.
fn drawable(quantity: &Quantity) -> Result<(), (String, &'static str)> {
    if quantity.drawn_shape() != Shape::T {
        return Ok(());
    }
    match quantity.dof {
        Some(dof) if dof > 2.0 => Ok(()),
        Some(dof) => Err((dof.to_string(), "a number over 2 for a t")),
        None => Err(("missing".into(), "a number over 2 for a t")),
    }
}

fn read_limits(given: &Given, states: States) -> Result<Limits, Refused> {
    let of = given.need_word("of").unwrap_or_default();
    let computed = states.outputs();
    let Some(output) = computed.iter().copied().find(|o| OUTPUT[*o] == of) else {
        let remedy = match nearest(of, OUTPUT.into_iter()) {
            Some(near) if computed.iter().any(|o| OUTPUT[*o] == near) => format!("write {near}"),
            Some(near) => format!("{near} is computed only where `{}` is given", if near.starts_with("cold") { "cold" } else { "working" }),
            None => "choose one of them".into(),
        };
        return Err(given.refuse("of", computed.iter().map(|o| OUTPUT[*o]).collect::<Vec<_>>().join(", "), remedy));
    };
    let (min, max) = (given.number("min"), given.number("max"));
    if min.is_none() && max.is_none() {
        return Err(given.refuse("min", "a requirement with `min`, `max` or both", "say where the requirement ends"));
    }
    let (min, max) = (min.unwrap_or(f64::NEG_INFINITY), max.unwrap_or(f64::INFINITY));
    if min > max {
        return Err(given.refuse("min", format!("a number of {max} (its max) or less"), "change min and max round"));
    }
    Ok(Limits { output, min, max })
}

fn read_remedy(given: &Given, inputs: &[Quantity; INPUTS], states: States) -> Result<Remedy, Refused> {
    let name = given.need_word("input").unwrap_or_default();
    let known = || INPUT.iter().filter(|input| plays(input, states));
    let Some((place, input)) = INPUT.iter().enumerate().find(|(_, input)| input.name == name && plays(input, states)) else {
        let remedy = nearest(name, known().map(|input| input.name)).map_or("choose one of them".into(), |near| format!("write {near}"));
        return Err(given.refuse("input", known().map(|input| input.name).collect::<Vec<_>>().join(", "), remedy));
    };
    let was = inputs[place];
    let to = Quantity {
        value: given.number_or("value", was.value),
        u: given.number_or("u", was.u),
        dof: given.number("dof").or(was.dof),
        shape: given.word("shape").and_then(Shape::named).or(was.shape),
    };
    if !input.range.has(to.value) {
        return Err(given.refuse("value", format!("for {name} {}", input.range), "give a value that the input may have"));
    }
    drawable(&to).map_err(|(found, allowed)| Refused::new(given.path_of("dof"), found, allowed, MORE_READINGS))?;
    Ok(Remedy { name: given.need_word("name").unwrap_or_default().to_owned(), input: place, to })
}
