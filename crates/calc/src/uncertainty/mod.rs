//! What is the value of any formula, and how sure is it? (`uncertainty`)
//!
//! Linear propagation with exact derivatives ([`linear`]), the terms of second order beside it, and propagation of
//! distributions by Monte Carlo ([`monte_carlo`]), which judges whether the linear interval is good. Inputs are independent.
//! Reading a formula is in [`formula`], its derivatives in [`jet`]. Formulas that the program knows use `propagate`.
//! Source: JCGM 100:2008 (5.1, G.4), JCGM 101:2008 (6.4, 7, 8); from memory, figures of their examples computed again.

pub mod formula;
pub mod inputs;
pub mod jet;
pub mod linear;
pub mod monte_carlo;

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::crew::Crew;
use crate::keys::{Given, Key, Range, Told};
use crate::refused::Refused;
use crate::uncertainty::formula::Formula;
use crate::uncertainty::inputs::Input;
use crate::uncertainty::linear::Contribution;
use crate::uncertainty::monte_carlo::{MonteCarlo, Run};
use crate::working::Working;

/// A formula over inputs, and how sure its value shall be told.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The formula; the grammar stands in [`formula`].
    pub formula: String,
    /// Its inputs, in the order of the request.
    pub inputs: Vec<Input>,
    /// Chance that the interval shall hold, over 0 and under 1.
    pub coverage: f64,
    /// Draws to make beside the linear propagation; none for linear alone.
    pub monte_carlo: Option<Run>,
}

/// Value and uncertainty of a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Uncertainty {
    /// The formula at the values of its inputs.
    pub value: f64,
    /// Standard uncertainty, first order.
    pub u: f64,
    /// Effective degrees of freedom, unrounded; none means infinitely many.
    pub dof: Option<f64>,
    /// Coverage factor at the degrees of freedom cut to a whole number.
    pub k: f64,
    /// Expanded uncertainty k u.
    pub U: f64,
    /// value − U.
    pub low: f64,
    /// value + U.
    pub high: f64,
    /// Standard uncertainty with the terms of second order; none where the series gives none.
    pub second_order_u: Option<f64>,
    /// What each input adds, largest first.
    pub contributions: Vec<Contribution>,
    /// The interval by draws, where they were asked for.
    pub monte_carlo: Option<MonteCarlo>,
    /// Whether the linear interval is as good as that of the draws (JCGM 101:2008 8).
    pub linear_is_good: Option<bool>,
    /// What a reader must know.
    pub warnings: Vec<String>,
}

/// How much larger u of second order may be before it is told: a twentieth.
const SECOND_ORDER_TOLD: f64 = 1.05;

/// Value and uncertainty of a formula: linear, and by draws where they are asked for.
///
/// Refused: a broken formula or an unknown name (by the character), a value or slope that is not finite, more than 200
/// uncertain inputs, draws at which the formula has no finite value.
/// Source: JCGM 100:2008 5.1.2, G.4; JCGM 101:2008 7, 8.
pub fn uncertainty(question: &Question, crew: &dyn Crew, working: &mut Working) -> Result<Uncertainty, Refused> {
    let names: Vec<&str> = question.inputs.iter().map(|input| input.name.as_str()).collect();
    let formula = Formula::read(&question.formula, &names)?;
    let line = linear::propagated(&formula, &question.inputs, question.coverage, working)?;
    let mut warnings = line.warnings;
    for (i, name) in names.iter().enumerate().filter(|(i, _)| !formula.uses(*i)) {
        debug_assert!(i < question.inputs.len());
        warnings.push(format!("The input {name} does not stand in the formula: it changes nothing."));
    }
    match line.second_order_u {
        Some(second) if second > SECOND_ORDER_TOLD * line.u => warnings.push(format!(
            "The formula is curved within the uncertainty of its inputs: u is {second:.3e} with the terms of second order, {:.3e} without.",
            line.u
        )),
        None => warnings.push("The terms of second order give no u: use Monte Carlo.".into()),
        Some(_) => {}
    }
    let monte_carlo = match &question.monte_carlo {
        None => None,
        Some(run) => Some(monte_carlo::run(&formula, &question.inputs, question.coverage, run, line.value, crew, working, &mut warnings)?),
    };
    let linear_is_good = monte_carlo.as_ref().map(|drawn| {
        let tolerance = monte_carlo::tolerance(line.u);
        let good = (line.low - drawn.low).abs() <= tolerance && (line.high - drawn.high).abs() <= tolerance;
        if !good {
            warnings.push(format!(
                "The linear interval is off that of the draws by more than {tolerance:.1e} at one end: use the interval of the draws."
            ));
        }
        good
    });
    Ok(Uncertainty {
        value: line.value,
        u: line.u,
        dof: line.dof,
        k: line.k,
        U: line.U,
        low: line.low,
        high: line.high,
        second_order_u: line.second_order_u,
        contributions: line.contributions,
        monte_carlo,
        linear_is_good,
        warnings,
    })
}

/// `uncertainty` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "uncertainty",
    help: "value and uncertainty of any formula, linear and by Monte Carlo",
    request: &[
        Key::text(
            "formula",
            "a formula with + - * / ^, brackets, pi, sqrt, exp, ln, log10, sin, cos, tan, asin, acos, atan (radians), abs, min, max",
        )
        .needed(),
        Key::raw(
            "inputs",
            "an object: name -> a number, or {value, u, dof, shape}; instead of u half_width, with edge for the shape \"curvilinear trapezoid\"",
        )
        .needed(),
        Key::number("coverage", Range::over(0.0).under(1.0), "the chance that the interval shall hold").default("0.95"),
        Key::word("method", &["linear", "monte-carlo"], "linear alone, or both").default("linear"),
        Key::whole("draws", Range::within(1e3, 1e9), "draws of the Monte Carlo").default("1000000"),
        Key::whole("seed", Range::at_least(0.0), "the number that the draws start from").default("1"),
    ],
    answer: &[
        Told { path: "value", help: "the formula at the values of its inputs" },
        Told { path: "u", help: "standard uncertainty, first order" },
        Told { path: "dof", help: "effective degrees of freedom, unrounded; null means infinitely many" },
        Told { path: "k", help: "coverage factor, Student at dof cut to a whole number" },
        Told { path: "U", help: "k u" },
        Told { path: "low", help: "value - U" },
        Told { path: "high", help: "value + U" },
        Told { path: "second_order_u", help: "u with the terms of second order; null where the series gives none" },
        Told { path: "contributions", help: "what each input adds, largest first" },
        Told { path: "contributions[].input", help: "its name" },
        Told { path: "contributions[].sensitivity", help: "slope of the formula along it" },
        Told { path: "contributions[].u", help: "|slope| times its u" },
        Told { path: "contributions[].share", help: "its part of u squared; the parts add up to 1" },
        Told { path: "monte_carlo", help: "the same by draws; null with the method linear" },
        Told { path: "monte_carlo.value", help: "mean of the draws; null where an input (t with dof of 1 or less) has no mean" },
        Told { path: "monte_carlo.u", help: "standard deviation of the draws; null where an input (t with dof of 2 or less) has none" },
        Told { path: "monte_carlo.low", help: "lower end, as many draws below as above the upper one" },
        Told { path: "monte_carlo.high", help: "upper end" },
        Told { path: "monte_carlo.shortest_low", help: "lower end of the shortest interval" },
        Told { path: "monte_carlo.shortest_high", help: "upper end of the shortest interval" },
        Told { path: "monte_carlo.draws", help: "draws made" },
        Told { path: "linear_is_good", help: "both ends agree within half a unit of the second digit of u; null with the method linear" },
    ],
    example: r#"{"formula": "d*(1 - alpha*(t - 20))", "inputs": {"d": {"value": 260.02, "u": 0.002, "dof": 12}, "alpha": {"value": 1.8e-5, "half_width": 1e-6, "shape": "rectangular"}, "t": {"value": 31, "u": 0.5}}, "method": "monte-carlo", "draws": 20000}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let drawn = given.word_or("method", "linear") == "monte-carlo";
    let run = Run { draws: given.whole_or("draws", 1_000_000), seed: given.whole_or("seed", 1) };
    let question = Question {
        formula: given.need_word("formula")?.to_owned(),
        inputs: inputs::read(given)?,
        coverage: given.number_or("coverage", 0.95),
        monte_carlo: drawn.then_some(run),
    };
    told(&uncertainty(&question, desk.crew, &mut desk.working)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::Alone;
    use serde_json::json;

    fn asked(request: &Value) -> Result<Value, Refused> {
        crate::compute::answer("uncertainty", request, &Alone, false)
    }

    fn key_refused(inputs: Value) -> (String, String) {
        let refused = asked(&json!({"formula": "a", "inputs": inputs})).unwrap_err();
        (refused.key.clone(), refused.to_string())
    }

    #[test]
    fn a_fault_in_an_input_is_refused_by_its_path() {
        for (inputs, key, word) in [
            (json!({"a": {"value": 1, "uu": 0.1}}), "inputs.a.uu", "write u"),
            (json!({"a": {"value": 1, "u": -0.1}}), "inputs.a.u", "0 or more"),
            (json!({"a": {"u": 0.1}}), "inputs.a.value", "missing"),
            (json!({"a": {"value": 1, "u": 0.1, "shape": "triangle"}}), "inputs.a.shape", "triangular"),
            (json!({"a": {"value": 1, "u": 0.1, "half_width": 0.1}}), "inputs.a.half_width", "not both"),
            (json!({"a": {"value": 1, "half_width": 0.1, "shape": "normal"}}), "inputs.a.half_width", "rectangular"),
            (json!({"a": {"value": 1, "half_width": 0.1, "edge": 0.01}}), "inputs.a.edge", "curvilinear trapezoid"),
            (json!({"a": {"value": 1, "half_width": 0.1, "shape": "curvilinear trapezoid"}}), "inputs.a.edge", "missing"),
            (json!({"a": {"value": 1, "half_width": 0.1, "edge": 0.2, "shape": "curvilinear trapezoid"}}), "inputs.a.edge", "0.1"),
            (json!({"a": {"value": 1, "u": 0.1, "shape": "t"}}), "inputs.a.dof", "missing"),
            (json!({"a": {"value": 1, "u": 0.1, "dof": 0}}), "inputs.a.dof", "over 0"),
            (json!({"a": "wide"}), "inputs.a", "a number"),
            (json!([1]), "inputs", "an object"),
            (json!({"pi": 3, "a": 1}), "inputs.pi", "a name"),
        ] {
            let (found, text) = key_refused(inputs.clone());
            assert_eq!(found, key, "{inputs}: {text}");
            assert!(text.contains(word), "{text}");
        }
    }

    #[test]
    fn what_is_not_finite_is_refused() {
        for (formula, value) in [("1/a", 0.0), ("sqrt(a)", 0.0), ("ln(a)", -1.0), ("exp(a)", 1e4), ("asin(a)", 1.0)] {
            let refused = asked(&json!({"formula": formula, "inputs": {"a": {"value": value, "u": 0.1}}}));
            assert!(refused.is_err(), "{formula} at {value}: {refused:?}");
        }
        // The value is fine, some draws are not.
        let request = json!({"formula": "sqrt(a)", "inputs": {"a": {"value": 0.1, "u": 0.1}}, "method": "monte-carlo", "draws": 1000});
        assert!(asked(&request).unwrap_err().to_string().contains("draws"));
    }

    #[test]
    fn a_curved_formula_is_told() {
        let found = asked(&json!({"formula": "a^2", "inputs": {"a": {"value": 0, "u": 1}}})).unwrap();
        assert_eq!((found["u"].as_f64(), found["second_order_u"].as_f64()), (Some(0.0), Some(2.0_f64.sqrt())));
        assert!(found["warnings"][0].as_str().unwrap().contains("curved"));
    }

    #[test]
    fn a_t_of_two_degrees_of_freedom_has_an_interval_but_no_u() {
        let request = json!({"formula": "a", "inputs": {"a": {"value": 5, "u": 1, "dof": 2}}, "method": "monte-carlo", "draws": 20000});
        let found = asked(&request).unwrap();
        assert_eq!(found["monte_carlo"]["u"], Value::Null);
        assert!((found["monte_carlo"]["high"].as_f64().unwrap() - 5.0 - 4.303).abs() < 0.3);
        assert!(found["warnings"].to_string().contains("no standard deviation"));
    }

    #[test]
    fn an_input_that_is_not_used_is_told_and_counts_nothing() {
        let found = asked(&json!({"formula": "a", "inputs": {"b": {"value": 1, "u": 9}, "a": {"value": 1, "u": 1}}})).unwrap();
        assert_eq!((found["u"].as_f64(), found["contributions"][0]["input"].as_str()), (Some(1.0), Some("a")));
        assert!(found["warnings"][0].as_str().unwrap().contains("The input b"));
    }

    #[test]
    fn exact_inputs_give_an_exact_value() {
        let found = asked(&json!({"formula": "a*2", "inputs": {"a": 4}, "method": "monte-carlo", "draws": 1000})).unwrap();
        assert_eq!((found["U"].as_f64(), found["high"].as_f64()), (Some(0.0), Some(8.0)));
        assert_eq!((found["monte_carlo"]["low"].as_f64(), found["linear_is_good"].as_bool()), (Some(8.0), Some(true)));
    }
}
