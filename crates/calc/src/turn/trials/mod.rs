//! What do strategies at the lathe reach, over many simulated runs (`cut-trials`)?
//!
//! Each run is one part on a true lathe (`world`); a strategy is a fixed routine (`routines`) or a plan with the filter (`plans`). The
//! answer says how many land in the band, how long it takes, and whether the claims are honest. Runs are written or made afresh by seed;
//! truth and belief can be set apart. Limits: outside turning to 300 mm; the physical model is the filter's own, with other noises.

mod plans;
mod request;
mod routines;
mod table;
mod world;

use serde::Serialize;
use serde_json::Value;

use super::advice::Prices;
use super::filter::Full;
use super::model::{SETTLE_S, TO_NEXT_CUT_S};
use super::next_cut::USUAL;
use crate::compute::{Desk, Kind, told};
use crate::crew::Crew;
use crate::keys::{Given, Told};
use crate::math::sq;
use crate::refused::Refused;
use plans::{Believed, Plan, Said};
use routines::Routine;
pub use table::table;
use world::{Maker, Runs, Shop, Truth};

/// Width of the filter for a run of more changes than usual.
const WIDE: usize = 64;
/// Runs that are done in one block of work.
const BLOCK: usize = 50;
/// A claim of this much is accepted: the part is released.
const ACCEPTED: f64 = 0.95;
/// Edges of the bins of the reliability. Source: the turning page.
const EDGES: [f64; 7] = [0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 1.0];

/// What is done to every part.
#[derive(Clone, Debug, PartialEq)]
pub enum How {
    /// By a fixed routine.
    Routine(Routine),
    /// By a fixed plan with the filter.
    Plan(Plan),
    /// As the advice says.
    Advised(Prices),
}

/// A strategy and its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Strategy {
    /// Its name.
    pub name: String,
    /// What it does.
    pub how: How,
}

/// What is asked.
#[derive(Clone, Debug)]
pub struct Trials {
    /// The runs.
    pub runs: Runs,
    /// What is tried on each.
    pub strategies: Vec<Strategy>,
    /// Width of the band about 300 mm, mm.
    pub band_mm: f64,
    /// The lathe as it is.
    pub truth: Truth,
    /// The lathe as it is believed.
    pub belief: super::model::Lathe,
    /// Tell every run.
    pub keep_runs: bool,
    /// Price of a blank and of a minute, for the costs.
    pub prices: Prices,
}

/// One run in the end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RunTold {
    /// True size at 20 °C less 300 mm, µm.
    pub size_um: f64,
    /// Chance of the band that was claimed; null without a filter.
    pub claim: Option<f64>,
}

/// Claimed against observed, for claims of one bin.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bin {
    /// Lowest claim.
    pub from: f64,
    /// Highest claim.
    pub to: f64,
    /// Runs.
    pub n: usize,
    /// Mean claim.
    pub claimed: f64,
    /// Share that lay in the band.
    pub observed: f64,
    /// Observed less claimed, in standard deviations of a true claim.
    pub z: f64,
}

/// How a strategy with a filter knew its parts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Honesty {
    /// Mean claim.
    pub claim_mean: f64,
    /// Mean square of claim less outcome.
    pub brier: f64,
    /// Share of runs with a claim of 0.95 or more.
    pub accepted: f64,
    /// Share of those that lay in the band; null when there is none.
    pub in_of_accepted: Option<f64>,
    /// Root mean square of the size readings' innovations.
    pub innovation_rms: f64,
    /// Share of runs whose readings were found not to fit the belief.
    pub misfit: f64,
    /// Share of runs in which a reading was doubted.
    pub doubted: f64,
    /// By bins of the claim.
    pub reliability: Vec<Bin>,
    /// Σz² of the bins with 50 runs or more.
    pub reliability_squares: f64,
    /// How many they are.
    pub reliability_bins: usize,
    /// The largest |z| among them; 0 where there is none.
    pub worst_z: f64,
}

/// What a strategy reached.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reached {
    /// Its name.
    pub name: String,
    /// Runs.
    pub n: usize,
    /// Share in the band.
    pub in_band: f64,
    /// Standard error of that share.
    pub in_band_se: f64,
    /// Share under it: scrap.
    pub under: f64,
    /// Share over it: can be cut again.
    pub over: f64,
    /// Mean of the true size less 300 mm, µm.
    pub mean_um: f64,
    /// Its standard deviation, µm.
    pub sd_um: f64,
    /// Mean minutes of cutting, settling, waiting and the ways between.
    pub minutes: f64,
    /// The same with every further reading of a set: 45 s a size, 10 s a temperature.
    pub minutes_with_readings: f64,
    /// Mean cost of a part: blank where under, minutes, one more cut where over; null without prices.
    pub cost: Option<f64>,
    /// Standard error of that cost.
    pub cost_se: Option<f64>,
    /// How it knew its parts; absent without a filter.
    #[serde(flatten)]
    pub honesty: Option<Honesty>,
    /// Every run, when kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub runs: Option<Vec<RunTold>>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialsAnswer {
    /// One a strategy.
    pub strategies: Vec<Reached>,
    /// Seed of fresh runs; null where they were written.
    pub seed: Option<u64>,
    /// What to know.
    pub warnings: Vec<String>,
}

/// One part in the end.
#[derive(Clone, Copy, Debug, Default)]
struct Ended {
    size_mm: f64,
    clock_s: f64,
    reading_s: f64,
    said: Option<Said>,
    short: bool,
}

/// Runs every strategy over every run, in blocks that any crew may share: the bytes do not depend on it.
pub fn trials(trials: &Trials, crew: &dyn Crew) -> Result<TrialsAnswer, Refused> {
    let maker = Maker::new(&trials.runs);
    let strategies = trials.strategies.iter().map(|strategy| reached(trials, &maker, strategy, crew)).collect::<Result<Vec<_>, _>>()?;
    let seed = if let Runs::Fresh { seed, .. } = trials.runs { Some(seed) } else { None };
    Ok(TrialsAnswer { strategies, seed, warnings: Vec::new() })
}

fn reached(trials: &Trials, maker: &Maker, strategy: &Strategy, crew: &dyn Crew) -> Result<Reached, Refused> {
    let n = trials.runs.len();
    let blocks: Vec<std::sync::Mutex<Vec<Ended>>> = (0..n.div_ceil(BLOCK)).map(|_| std::sync::Mutex::default()).collect();
    crew.each(blocks.len(), &|block| {
        let ended = (block * BLOCK..n.min((block + 1) * BLOCK)).map(|run| one(trials, maker, strategy, run)).collect();
        if let Ok(mut slot) = blocks[block].lock() {
            *slot = ended;
        }
    });
    let ended: Vec<Ended> = blocks.into_iter().flat_map(|slot| slot.into_inner().unwrap_or_default()).collect();
    if ended.iter().any(|ended| ended.short) {
        return Err(Refused::new(
            "strategies",
            format!("{:?}, which needs more draws than a written run has", strategy.name),
            format!("up to {} cuts with 1 or 3 readings each, no re-reading", world::WRITTEN_CUTS),
            "give `fresh` {count, seed} instead of runs",
        ));
    }
    Ok(judged(trials, strategy, &ended))
}

fn one(trials: &Trials, maker: &Maker, strategy: &Strategy, run: usize) -> Ended {
    let shop = || Shop::new(maker, run, trials.truth);
    let half = 0.5 * trials.band_mm;
    let believed = Believed { lathe: trials.belief, band: (-half, half) };
    let end = |shop: Shop, said: Option<Said>| Ended {
        size_mm: shop.part.d.v,
        clock_s: shop.clock_s,
        reading_s: shop.reading_s,
        said,
        short: shop.short,
    };
    let mut first = shop();
    let said = match &strategy.how {
        How::Routine(routine) => {
            routine.run(&mut first);
            return end(first, None);
        }
        How::Plan(plan) => plans::fixed::<USUAL>(&mut first, believed, plan),
        How::Advised(prices) => plans::advised::<USUAL>(&mut first, believed, *prices),
    };
    if let Ok(said) = said {
        return end(first, Some(said));
    }
    let mut again = shop();
    let said: Result<Said, Full> = match &strategy.how {
        How::Plan(plan) => plans::fixed::<WIDE>(&mut again, believed, plan),
        How::Advised(prices) => plans::advised::<WIDE>(&mut again, believed, *prices),
        How::Routine(_) => Err(Full),
    };
    // Wider than wide can't be reached: a strategy makes at most MOST_DEEDS cuts. A part of unknown end claims nothing.
    end(again, Some(said.unwrap_or_default()))
}

fn judged(trials: &Trials, strategy: &Strategy, ended: &[Ended]) -> Reached {
    let n = ended.len();
    let count = n.max(1) as f64;
    let half = 0.5 * trials.band_mm;
    let mean = |of: &dyn Fn(&Ended) -> f64| ended.iter().map(of).sum::<f64>() / count;
    let share = |of: &dyn Fn(f64) -> bool| mean(&|ended| f64::from(u8::from(of(ended.size_mm))));
    let (in_band, under, over) = (share(&|d| d.abs() <= half), share(&|d| d < -half), share(&|d| d > half));
    let mean_um = 1e3 * mean(&|ended| ended.size_mm);
    let sd_um = mean(&|ended| sq(1e3 * ended.size_mm - mean_um)).sqrt();
    let prices = trials.prices;
    let cost = |ended: &Ended| {
        let again_min = (trials.truth.lathe.cut_s + SETTLE_S + TO_NEXT_CUT_S) / 60.0;
        let minutes = (ended.clock_s + ended.reading_s) / 60.0 + if ended.size_mm > half { again_min } else { 0.0 };
        prices.minute * minutes + if ended.size_mm < -half { prices.blank } else { 0.0 }
    };
    let priced = prices.blank > 0.0 || prices.minute > 0.0;
    let cost_mean = mean(&cost);
    let cost_se = (mean(&|ended| sq(cost(ended) - cost_mean)) / count).sqrt();
    let runs = || ended.iter().map(|ended| RunTold { size_um: 1e3 * ended.size_mm, claim: ended.said.map(|said| said.claim) }).collect();
    Reached {
        name: strategy.name.clone(),
        n,
        in_band,
        in_band_se: (in_band * (1.0 - in_band) / count).sqrt(),
        under,
        over,
        mean_um,
        sd_um,
        minutes: mean(&|ended| ended.clock_s) / 60.0,
        minutes_with_readings: mean(&|ended| ended.clock_s + ended.reading_s) / 60.0,
        cost: priced.then_some(cost_mean),
        cost_se: priced.then_some(cost_se),
        honesty: honesty(ended, half),
        runs: trials.keep_runs.then(runs),
    }
}

fn honesty(ended: &[Ended], half: f64) -> Option<Honesty> {
    let claims: Vec<(Said, bool)> =
        ended.iter().map(|ended| ended.said.map(|said| (said, ended.size_mm.abs() <= half))).collect::<Option<_>>()?;
    let count = claims.len().max(1) as f64;
    let mean = |of: &dyn Fn(&(Said, bool)) -> f64| claims.iter().map(of).sum::<f64>() / count;
    let hit = |inside: bool| f64::from(u8::from(inside));
    let accepted = claims.iter().filter(|(said, _)| said.claim >= ACCEPTED).count();
    let accepted_in = claims.iter().filter(|(said, inside)| said.claim >= ACCEPTED && *inside).count();
    let squares: f64 = claims.iter().map(|(said, _)| said.squares).sum();
    let sizes: u32 = claims.iter().map(|(said, _)| said.sizes).sum();
    let reliability: Vec<Bin> = EDGES.windows(2).map(|edges| bin(&claims, edges[0], edges[1])).collect();
    let large = || reliability.iter().filter(|bin| bin.n >= 50);
    Some(Honesty {
        claim_mean: mean(&|(said, _)| said.claim),
        brier: mean(&|(said, inside)| sq(said.claim - hit(*inside))),
        accepted: accepted as f64 / count,
        in_of_accepted: (accepted > 0).then(|| accepted_in as f64 / accepted as f64),
        innovation_rms: (squares / f64::from(sizes.max(1))).sqrt(),
        misfit: mean(&|(said, _)| hit(said.misfit)),
        doubted: mean(&|(said, _)| hit(said.doubted)),
        reliability_squares: large().map(|bin| sq(bin.z)).sum(),
        reliability_bins: large().count(),
        worst_z: large().map(|bin| bin.z).fold(0.0, |worst: f64, z| if z.abs() > worst.abs() { z } else { worst }),
        reliability,
    })
}

/// Claims from `from` to under `to` (the last bin with 1 itself).
fn bin(claims: &[(Said, bool)], from: f64, to: f64) -> Bin {
    let inside = || claims.iter().filter(|(said, _)| said.claim >= from && (said.claim < to || to >= 1.0));
    let n = inside().count();
    let count = n.max(1) as f64;
    let claimed = inside().map(|(said, _)| said.claim).sum::<f64>() / count;
    let observed = inside().filter(|(_, hit)| *hit).count() as f64 / count;
    let variance: f64 = inside().map(|(said, _)| said.claim * (1.0 - said.claim)).sum();
    let z = if variance > 0.0 { (observed - claimed) * count / variance.sqrt() } else { 0.0 };
    Bin { from, to, n, claimed, observed, z }
}

/// `cut-trials` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "cut-trials",
    help: "what strategies reach on simulated cuts",
    request: request::KEYS,
    answer: &[
        Told { path: "strategies.[].name", help: "name, with n beside it" },
        Told { path: "strategies.[].in_band", help: "share in the band; in_band_se, under and over beside it" },
        Told { path: "strategies.[].mean_um", help: "mean of the true size less 300 mm; sd_um beside it" },
        Told { path: "strategies.[].minutes", help: "cutting, settling, waits; minutes_with_readings adds every further reading" },
        Told { path: "strategies.[].cost", help: "mean cost of a part, cost_se beside it; null without prices" },
        Told {
            path: "strategies.[].claim_mean",
            help: "only with a filter: mean claim; brier, accepted, in_of_accepted, innovation_rms beside it",
        },
        Told { path: "strategies.[].reliability", help: "only with a filter: from, to, n, claimed, observed, z" },
        Told { path: "strategies.[].runs", help: "only when kept: size_um, claim" },
        Told { path: "seed", help: "seed of fresh runs; null where they were written" },
    ],
    example: r#"{"fresh": {"count": 200, "seed": 1}, "strategies": ["temp_equal", "bayes_3cut_equal_3reads"], "band_mm": 0.036}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let asked = request::read(given)?;
    let answer = trials(&asked, desk.crew)?;
    for reached in &answer.strategies {
        desk.working.step(
            &format!("{}: shares of {} runs", reached.name, reached.n),
            "share = count / n, standard error √(p(1 - p)/n); z of a bin = (observed - claimed) n / √Σ claim (1 - claim)",
            &[("n", reached.n as f64), ("band_mm", asked.band_mm)],
            &[("in_band", reached.in_band), ("under", reached.under), ("over", reached.over), ("minutes", reached.minutes)],
            "simulation by the model of cutting; binomial distribution",
        );
    }
    told(&answer)
}
