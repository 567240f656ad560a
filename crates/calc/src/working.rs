//! How an answer was found, step by step: formula, inputs, result, source. Kept only when it is asked for.

use serde::Serialize;

/// One step of a derivation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// What this step finds, in words.
    pub what: String,
    /// The formula, with the symbols of its source.
    pub formula: String,
    /// The values that went in: name with unit, value.
    pub with: Vec<(String, f64)>,
    /// What came out: name with unit, value.
    pub gives: Vec<(String, f64)>,
    /// Where the formula is from.
    pub source: String,
}

/// Collects steps; one that is not wanted costs nothing.
#[derive(Clone, Debug, Default)]
pub struct Working {
    wanted: bool,
    steps: Vec<Step>,
}

impl Working {
    /// A collector that keeps its steps (`wanted`) or drops them.
    pub fn new(wanted: bool) -> Self {
        Self { wanted, steps: Vec::new() }
    }

    /// Whether steps are kept: lets a caller skip costly preparation.
    pub fn wanted(&self) -> bool {
        self.wanted
    }

    /// Adds a step: what it finds, formula, (name, value) in, (name, value) out, source.
    pub fn step(&mut self, what: &str, formula: &str, with: &[(&str, f64)], gives: &[(&str, f64)], source: &str) {
        if !self.wanted {
            return;
        }
        let pairs = |list: &[(&str, f64)]| list.iter().map(|(name, value)| ((*name).to_owned(), *value)).collect();
        self.steps.push(Step { what: what.into(), formula: formula.into(), with: pairs(with), gives: pairs(gives), source: source.into() });
    }

    /// The steps so far, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }
}
