//! Propagation of uncertainty by the slopes of a formula, with effective degrees of freedom and the terms of second order.
//!
//! It does not judge itself: `uncertainty` compares it with the second order and with draws.
//! Source: JCGM 100:2008 5.1.2 (first order, and the note for the second), G.4 (Welch and Satterthwaite), G.6.4 (dof cut to whole).

use serde::Serialize;

use super::formula::Formula;
use super::inputs::Input;
use super::jet::derivatives;
use crate::distributions::coverage_factor;
use crate::math::sq;
use crate::refused::Refused;
use crate::working::Working;

/// Most inputs with uncertainty: the second order takes their square in runs of the formula.
const MOST_UNCERTAIN: usize = 200;

/// What one input adds to the uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Contribution {
    /// Its name.
    pub input: String,
    /// c = ∂f/∂x.
    pub sensitivity: f64,
    /// |c| u(x).
    pub u: f64,
    /// c² u²(x)/u²; 0 where nothing is uncertain.
    pub share: f64,
}

/// The linear answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// f at the values of the inputs.
    pub value: f64,
    /// u = √Σ c² u².
    pub u: f64,
    /// ν = u⁴/Σ(c⁴u⁴/ν_i); none means infinitely many.
    pub dof: Option<f64>,
    /// Student's k at ν cut to a whole number, 1 at least.
    pub k: f64,
    /// k u.
    pub U: f64,
    /// value − U.
    pub low: f64,
    /// value + U.
    pub high: f64,
    /// √(u² + ΣΣ (½ f_ij² + f_i f_ijj) u_i² u_j²); none where that is negative or not finite.
    pub second_order_u: Option<f64>,
    /// What each input adds, largest first.
    pub contributions: Vec<Contribution>,
    /// Corners met.
    pub warnings: Vec<String>,
}

/// Linear propagation of `inputs` through `formula`, with an interval that holds with chance `coverage`.
///
/// u² = Σ (∂f/∂x)² u²(x), inputs independent; slopes exact. Refused: a value or a slope that is not finite.
/// Source: JCGM 100:2008 5.1.2, G.4.
pub fn propagated(formula: &Formula, inputs: &[Input], coverage: f64, working: &mut Working) -> Result<Linear, Refused> {
    let at: Vec<f64> = inputs.iter().map(|input| input.quantity.value).collect();
    let value = formula.value(&at);
    if !value.is_finite() {
        let remedy = "look for a division by 0, or a root or logarithm of a negative number";
        return Err(Refused::new("formula", format!("{value} at the values of the inputs"), "a finite value", remedy));
    }
    let uncertain: Vec<usize> = (0..inputs.len()).filter(|i| inputs[*i].is_uncertain() && formula.uses(*i)).collect();
    if uncertain.len() > MOST_UNCERTAIN {
        let allowed = format!("{MOST_UNCERTAIN} inputs with uncertainty, or fewer");
        return Err(Refused::new("inputs", format!("{} inputs with uncertainty", uncertain.len()), allowed, "join the small ones to one"));
    }
    let (contributions, warnings) = contributions(formula, inputs, &at, working)?;
    let u2: f64 = contributions.iter().map(|part| sq(part.u)).sum();
    let u = u2.sqrt();
    let dof = effective_dof(&contributions, inputs, u);
    let k = coverage_factor(coverage, dof.map_or(f64::INFINITY, |dof| dof.floor().max(1.0)));
    let U = k * u;
    if !(U + value.abs()).is_finite() {
        return Err(Refused::new(
            "inputs",
            format!("an uncertainty of {U}"),
            "a finite uncertainty",
            "check u and the slopes of the formula",
        ));
    }
    let second = second_order(formula, &at, inputs, &uncertain);
    let second_order_u = Some((u2 + second).sqrt()).filter(|u| u.is_finite());
    steps(working, &contributions, (value, u), dof, (coverage, k), second_order_u);
    let contributions = largest_first(contributions, u2);
    Ok(Linear { value, u, dof, k, U, low: value - U, high: value + U, second_order_u, contributions, warnings })
}

/// One contribution an input, in the order of the inputs.
fn contributions(
    formula: &Formula,
    inputs: &[Input],
    at: &[f64],
    working: &mut Working,
) -> Result<(Vec<Contribution>, Vec<String>), Refused> {
    let mut warnings = Vec::new();
    let mut parts = Vec::with_capacity(inputs.len());
    for (i, Input { name, quantity, .. }) in inputs.iter().enumerate() {
        let slope = derivatives(formula, at, i, i);
        // The slope along an exact input is told where there is one; along an uncertain one it must be there.
        if !slope.first.is_finite() && quantity.u > 0.0 {
            let remedy = format!("move {name} off this value, or write the formula so that it has a slope there");
            return Err(Refused::new("formula", format!("without a finite slope along {name}"), "a finite slope", remedy));
        }
        if slope.corner && quantity.u > 0.0 {
            warnings.push(format!(
                "The formula has a corner (abs, min or max) at the value of {name}: linear propagation is wrong there; use Monte Carlo."
            ));
        }
        let sensitivity = if slope.first.is_finite() { slope.first } else { 0.0 };
        let u = sensitivity.abs() * quantity.u;
        working.step(
            &format!("what {name} adds"),
            "|c| u(x), c = df/dx",
            &[("x", quantity.value), ("u(x)", quantity.u), ("c", sensitivity)],
            &[("u", u)],
            "JCGM 100:2008 5.1.3",
        );
        parts.push(Contribution { input: name.clone(), sensitivity, u, share: 0.0 });
    }
    Ok((parts, warnings))
}

/// ν = u⁴/Σ(u_i⁴/ν_i), by shares of u so that no power overflows.
fn effective_dof(parts: &[Contribution], inputs: &[Input], u: f64) -> Option<f64> {
    let shares = parts.iter().zip(inputs).filter(|(part, _)| part.u > 0.0);
    let sum: f64 = shares.filter_map(|(part, input)| input.quantity.dof.map(|dof| sq(sq(part.u / u)) / dof)).sum();
    Some(1.0 / sum).filter(|dof| dof.is_finite())
}

/// ΣΣ (½ f_ij² + f_i f_ijj) u_i² u_j².
fn second_order(formula: &Formula, at: &[f64], inputs: &[Input], uncertain: &[usize]) -> f64 {
    let u2 = |i: usize| inputs.get(i).map_or(0.0, |input| sq(input.quantity.u));
    let pairs = uncertain.iter().flat_map(|i| uncertain.iter().map(move |j| (*i, *j)));
    pairs
        .map(|(i, j)| {
            let f = derivatives(formula, at, i, j);
            (0.5 * sq(f.second) + f.first * f.third) * u2(i) * u2(j)
        })
        .sum()
}

fn largest_first(mut parts: Vec<Contribution>, u2: f64) -> Vec<Contribution> {
    for part in &mut parts {
        part.share = if u2 > 0.0 { sq(part.u) / u2 } else { 0.0 };
    }
    parts.sort_by(|a, b| b.u.total_cmp(&a.u));
    parts
}

fn steps(
    working: &mut Working,
    parts: &[Contribution],
    (value, u): (f64, f64),
    dof: Option<f64>,
    (coverage, k): (f64, f64),
    second: Option<f64>,
) {
    if !working.wanted() {
        return;
    }
    let adds: Vec<(&str, f64)> = parts.iter().map(|part| (part.input.as_str(), part.u)).collect();
    working.step("standard uncertainty", "u = sqrt(sum of squares)", &adds, &[("value", value), ("u", u)], "JCGM 100:2008 5.1.2");
    if let Some(dof) = dof {
        working.step("effective degrees of freedom", "u^4/sum(u_i^4/nu_i)", &[("u", u)], &[("dof", dof)], "JCGM 100:2008 G.4.1");
    }
    let with = [("coverage", coverage), ("dof", dof.unwrap_or(f64::INFINITY).floor().max(1.0)), ("u", u)];
    let formula = "k = Student's t at dof cut to a whole number (normal where infinite), U = k u";
    working.step("expanded uncertainty", formula, &with[usize::from(dof.is_none())..], &[("k", k), ("U", k * u)], "JCGM 100:2008 G.6.4");
    if let Some(second) = second {
        let formula = "sqrt(u^2 + sum sum (f_ij^2/2 + f_i f_ijj) u_i^2 u_j^2)";
        working.step("u with terms of second order", formula, &[("u", u)], &[("second order u", second)], "JCGM 100:2008 5.1.2 note");
    }
}
