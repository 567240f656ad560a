//! The chance that everything holds, what decides it and what would help: a Monte Carlo of the whole chain from readings to the
//! running clearance (`fit-chance`).
//!
//! The chain is elastic: it knows no yield, which a requirement on the hoop stresses must guard. For what one set of figures
//! gives, with yield, see `fit`. Here: the request and the answer; [`chain`] has the arithmetic, [`study`] the draws, [`shares`]
//! the shares, [`request`] the reading.

pub mod chain;
pub mod request;
pub mod shares;
pub mod study;

use serde::{Serialize, Serializer};
use serde_json::Value;

use self::chain::{INPUT, INPUTS, OUTPUT, OUTPUTS, outputs_at};
use self::study::{Found, Spread, Study};
use crate::compute::{Desk, told};
use crate::crew::Crew;
use crate::keys::Given;
use crate::refused::Refused;
use crate::working::Working;

pub use self::request::{ChanceRequest, KIND, Remedy};

/// Things with names, in their order; an object in JSON.
#[derive(Clone, Debug, PartialEq)]
pub struct Named<T>(pub Vec<(&'static str, T)>);

impl<T: Serialize> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, thing)| (name, thing)))
    }
}

impl<T> Named<T> {
    /// The thing of that name.
    pub fn get(&self, name: &str) -> Option<&T> {
        self.0.iter().find(|(known, _)| *known == name).map(|(_, thing)| thing)
    }
}

/// Spread of an output.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OutputSpread {
    /// Mean of the draws.
    pub mean: f64,
    /// Standard deviation of the draws.
    pub u: f64,
    /// 2.5 % quantile.
    pub low: f64,
    /// 97.5 % quantile.
    pub high: f64,
}

/// Chance of one requirement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RequirementChance {
    /// The output.
    pub of: &'static str,
    /// Share of the draws that meet it.
    pub chance: f64,
    /// √(P(1 − P)/M); says nothing at P = 0 or 1.
    pub chance_u: f64,
}

/// One input's share in one output's variance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Contribution {
    /// The input.
    pub input: &'static str,
    /// First-order share of the variance.
    pub share: f64,
}

/// What a remedy would do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RemedyGain {
    /// Its name.
    pub name: String,
    /// Chance of all requirements with it; null without requirements.
    pub chance_all: Option<f64>,
    /// What it adds to the chance.
    pub gain: Option<f64>,
}

/// The answer of `fit-chance`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChanceAnswer {
    /// One an output.
    pub outputs: Named<OutputSpread>,
    /// One a requirement, in their order.
    pub requirements: Vec<RequirementChance>,
    /// Chance that all hold in the same draw; null without requirements.
    pub chance_all: Option<f64>,
    /// √(P(1 − P)/M).
    pub chance_all_u: Option<f64>,
    /// First-order share of each input with u > 0, by output.
    pub shares: Named<Named<f64>>,
    /// The same, largest first.
    pub contributions: Named<Vec<Contribution>>,
    /// One a remedy, in their order.
    pub remedies: Vec<RemedyGain>,
    /// Sentences for the reader.
    pub warnings: Vec<String>,
}

/// Monte Carlo of the chain: chances, spreads, shares and the gain of each remedy.
///
/// Every draw takes each input from its distribution (normal, rectangular, triangular, arcsine, scaled t) and goes through
/// [`chain`]; the gauge's temperature and expansion are one draw for both parts. Remedies use the same draws, so a remedy that
/// changes nothing gains exactly 0. Answers depend on the request alone, not on `crew`.
/// Refused: values of parts that can't be (a bore as large as its outside), and spreads so wide that draws are.
/// Source: JCGM 101:2008; Lamé 1852 for the rings.
pub fn chance(request: &ChanceRequest, crew: &dyn Crew) -> Result<ChanceAnswer, Refused> {
    let centre = centre_of(request)?;
    let study = Study {
        samples: request.samples,
        seed: request.seed,
        inputs: request.inputs,
        states: request.states,
        limits: request.limits.clone(),
        changes: request.remedies.iter().map(|remedy| remedy.changes(&request.inputs)).collect(),
    };
    let slopes = slopes(&study);
    let found = study::run(&study, &centre, &slopes, crew).ok_or_else(draws_that_cannot_be)?;
    if !found.spreads.iter().all(|s| [s.mean, s.u, s.low, s.high].iter().all(|x| x.is_finite())) {
        return Err(draws_that_cannot_be());
    }
    let shares = shares::shares(&study, &found.moments, found.moment_draws, &centre, crew);
    let warnings = warnings(request, &found, &shares);
    Ok(assemble(request, &found, &shares, warnings))
}

fn centre_of(request: &ChanceRequest) -> Result<[f64; OUTPUTS], Refused> {
    let values = request.inputs.map(|quantity| quantity.value);
    let [bore, outside] = [values[chain::at::BUSH_BORE], values[chain::at::HOUSING_OUTSIDE]];
    outputs_at(&values, request.states).ok_or_else(|| {
        Refused::new(
            "bush.bore_mm",
            format!("{bore}, with a housing of equivalent_outside_mm {outside}"),
            "a bore smaller than the joint, and the joint smaller than the housing's outside",
            "check the three diameters: one wall would have no thickness",
        )
    })
}

fn draws_that_cannot_be() -> Refused {
    Refused::new(
        "",
        "so uncertain that some draws are of parts that can't be (a wall or a modulus of 0 or less)",
        "spreads that keep every draw of bore < joint < outside and E > 0",
        "give the widest input a smaller u, or a shape with ends (rectangular, triangular)",
    )
}

/// Half the change of each output between one u above and one u below the value of each input.
fn slopes(study: &Study) -> [[f64; INPUTS]; OUTPUTS] {
    let mut slopes = [[0.0; INPUTS]; OUTPUTS];
    let mut at = study.inputs.map(|quantity| quantity.value);
    for (j, quantity) in study.inputs.iter().enumerate().filter(|(_, quantity)| quantity.u > 0.0) {
        at[j] = quantity.value + quantity.u;
        let above = outputs_at(&at, study.states);
        at[j] = quantity.value - quantity.u;
        let below = outputs_at(&at, study.states);
        at[j] = quantity.value;
        if let (Some(above), Some(below)) = (above, below) {
            for o in 0..OUTPUTS {
                slopes[o][j] = (above[o] - below[o]) / 2.0;
            }
        }
    }
    slopes
}

fn assemble(request: &ChanceRequest, found: &Found, shares: &[(shares::Shares, bool)], warnings: Vec<String>) -> ChanceAnswer {
    let M = request.samples as f64;
    let spread_of = |chance: f64| (chance * (1.0 - chance) / M).sqrt();
    let places = request.states.outputs();
    let spread = |spread: &Spread| OutputSpread { mean: spread.mean, u: spread.u, low: spread.low, high: spread.high };
    let names = || places.iter().map(|o| OUTPUT[*o]);
    let requirement = |(limits, met): (&study::Limits, &u64)| {
        let chance = *met as f64 / M;
        RequirementChance { of: OUTPUT[limits.output], chance, chance_u: spread_of(chance) }
    };
    let asked = !request.limits.is_empty();
    let chance_all = asked.then_some(found.met_all as f64 / M);
    let remedy = |(remedy, met): (&Remedy, &u64)| RemedyGain {
        name: remedy.name.clone(),
        chance_all: asked.then_some(*met as f64 / M),
        gain: asked.then_some((*met as f64 - found.met_all as f64) / M),
    };
    let of_inputs = |shares: &shares::Shares| -> Vec<(&'static str, f64)> {
        let random = (0..INPUTS).filter(|j| request.inputs[*j].u > 0.0);
        random.map(|j| (INPUT[j].name, shares[j])).collect()
    };
    ChanceAnswer {
        outputs: Named(names().zip(found.spreads.iter().map(spread)).collect()),
        requirements: request.limits.iter().zip(&found.met).map(requirement).collect(),
        chance_all,
        chance_all_u: chance_all.map(spread_of),
        shares: Named(names().zip(shares.iter().map(|(shares, _)| Named(of_inputs(shares)))).collect()),
        contributions: Named(names().zip(shares.iter().map(|(shares, _)| largest_first(of_inputs(shares)))).collect()),
        remedies: request.remedies.iter().zip(&found.met_all_with).map(remedy).collect(),
        warnings,
    }
}

fn largest_first(shares: Vec<(&'static str, f64)>) -> Vec<Contribution> {
    let mut list: Vec<Contribution> = shares.into_iter().map(|(input, share)| Contribution { input, share }).collect();
    // A stable sort: inputs of equal share stay in the order of the request.
    list.sort_by(|a, b| b.share.total_cmp(&a.share));
    list
}

fn warnings(request: &ChanceRequest, found: &Found, shares: &[(shares::Shares, bool)]) -> Vec<String> {
    let mut warnings = Vec::new();
    let M = request.samples;
    for (i, (limits, met)) in request.limits.iter().zip(&found.met).enumerate() {
        let of = OUTPUT[limits.output];
        if *met == M {
            warnings.push(format!("requirement {i} ({of}): no draw missed it; say \"the chance to miss it is under 3/{M}\", not 0"));
        } else if *met == 0 {
            warnings.push(format!("requirement {i} ({of}): no draw met it; say \"the chance is under 3/{M}\", not 0"));
        }
    }
    let guarded = |name: &str| request.limits.iter().any(|limits| OUTPUT[limits.output].ends_with(name));
    if !(guarded("hoop_bore_MPa") && guarded("housing_hoop_MPa")) {
        warnings.push(
            "the chain is elastic and knows no yield: guard it by requirements on hoop_bore_MPa (min -0.7 times the bush's yield) and \
             housing_hoop_MPa (max the housing's tension limit)"
                .into(),
        );
    }
    let places = request.states.outputs();
    for (o, spread) in places.iter().zip(&found.spreads) {
        if OUTPUT[*o].ends_with("interference_um") && spread.low <= 0.0 {
            let state = match OUTPUT[*o] {
                "working_interference_um" => "at work",
                "cold_interference_um" => "in the cold",
                _ => "at 20 °C",
            };
            warnings.push(format!(
                "the interference {state} is 0 or less in 2.5 % of the draws or more: the bush is loose in them, with no pressure and no \
                 close-in"
            ));
        }
    }
    let curved: Vec<&str> = places.iter().zip(shares).filter(|(_, (_, binned))| *binned).map(|(o, _)| OUTPUT[*o]).collect();
    if !curved.is_empty() {
        warnings.push(format!(
            "not a straight line in its inputs: {}; its shares are means in bins and need not sum to 1 (the rest is inputs acting together)",
            curved.join(", ")
        ));
    }
    warnings
}

fn answer_chance(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = ChanceRequest::read(given)?;
    let answer = chance(&request, desk.crew)?;
    if desk.working.wanted() {
        show_working(&request, &answer, &mut desk.working);
    }
    told(&answer)
}

/// The chain once at the values given, then what the draws made of it.
fn show_working(request: &ChanceRequest, answer: &ChanceAnswer, working: &mut Working) {
    use chain::at::*;
    let x = request.inputs.map(|quantity| quantity.value);
    let Some(y) = outputs_at(&x, request.states) else { return };
    let at_20 = |reading: usize, correction: usize, T: usize, alpha: usize| {
        let k = 1.0 + x[GAUGE_ALPHA] * (x[GAUGE_T] - 20.0);
        (x[reading] + x[correction]) * k / (1.0 + x[alpha] * (x[T] - 20.0))
    };
    let D_h = at_20(HOUSING_READING, HOUSING_CORRECTION, HOUSING_T, HOUSING_ALPHA);
    let D_b = at_20(BUSH_READING, BUSH_CORRECTION, BUSH_T, BUSH_ALPHA);
    for (part, D, reading, correction, T, alpha) in [
        ("housing bore at 20 °C", D_h, HOUSING_READING, HOUSING_CORRECTION, HOUSING_T, HOUSING_ALPHA),
        ("bush outside at 20 °C", D_b, BUSH_READING, BUSH_CORRECTION, BUSH_T, BUSH_ALPHA),
    ] {
        let with = [("reading mm", x[reading]), ("correction mm", x[correction]), ("T °C", x[T]), ("alpha 1/K", x[alpha])];
        let formula = "D = (reading + correction) (1 + alpha_g (T_g - 20))/(1 + alpha (T - 20))";
        working.step(part, formula, &with, &[("D mm", D)], "ISO 1");
    }
    let with = [("D_b mm", D_b), ("D_h mm", D_h), ("Rz_b um", x[BUSH_RZ]), ("Rz_h um", x[HOUSING_RZ]), ("smoothing", x[SMOOTHING])];
    let formula = "delta = D_b - D_h - smoothing (Rz_b + Rz_h)/1000";
    working.step("interference at the values", formula, &with, &[("delta um", y[0])], "DIN 7190-1 (from memory)");
    let with =
        [("delta um", y[0]), ("bore mm", x[BUSH_BORE]), ("D_e mm", x[HOUSING_OUTSIDE]), ("E_b GPa", x[BUSH_E]), ("E_h GPa", x[HOUSING_E])];
    let formula = "p = max(0, delta)/D_h/(k_b + k_h); close-in = 2 p bore/(E_b (1 - Q^2))";
    working.step(
        "pressure and close-in at the values",
        formula,
        &with,
        &[("p MPa", y[1]), ("close-in um", y[2])],
        "Lamé 1852; Timoshenko, Strength of Materials II",
    );
    let with = [("bore mm", x[BUSH_BORE]), ("close-in um", y[2]), ("journal mm", x[JOURNAL])];
    working.step("clearance at the values", "clearance = bore - close-in - journal", &with, &[("clearance um", y[4])], "definition");
    for (name, spread) in &answer.outputs.0 {
        let gives = [("mean", spread.mean), ("u", spread.u), ("low", spread.low), ("high", spread.high)];
        let formula = "mean, standard deviation, 2.5 % and 97.5 % of the ordered draws";
        working.step(
            &format!("draws of {name}"),
            formula,
            &[("draws", request.samples as f64), ("seed", request.seed as f64)],
            &gives,
            "JCGM 101:2008, 7",
        );
    }
    for requirement in &answer.requirements {
        let gives = [("chance", requirement.chance), ("chance_u", requirement.chance_u)];
        let formula = "P = draws that meet it/M; u = sqrt(P (1 - P)/M)";
        working.step(
            &format!("requirement on {}", requirement.of),
            formula,
            &[("M", request.samples as f64)],
            &gives,
            "binomial distribution",
        );
    }
}
