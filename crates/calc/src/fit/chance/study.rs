//! The Monte Carlo itself: draws in groups, groups in blocks for the crew, one pass for everything that is asked.
//!
//! A first small run (the pilot) tells where each 2.5 % and 97.5 % quantile must lie; the full run counts what is under those
//! windows and keeps only what is in them, so quantiles are exact order statistics of all draws at a few per cent of the memory.
//! Blocks are merged in order, and inside a block sums run over eight lanes whatever the width of the machine's vectors: the
//! bytes of an answer depend on nothing but the request.
//! Source: JCGM 101:2008 7 (Monte Carlo), 7.7 (coverage interval by ordered values).

use std::sync::OnceLock;

use super::chain::{Group, INPUT, INPUTS, OUTPUTS, Row, States, outputs};
use crate::crew::Crew;
use crate::draws::wide::{Work, widest};
use crate::draws::{GROUP, Steps, Stream};
use crate::quantity::Quantity;

/// Limits of one output, both allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// The output, as its place in `chain::OUTPUT`.
    pub output: usize,
    /// Smallest value that is good.
    pub min: f64,
    /// Largest value that is good.
    pub max: f64,
}

/// Inputs that a remedy changes: place and what stands there then.
pub type Change = Vec<(usize, Quantity)>;

/// What is to be drawn.
#[derive(Clone, Debug)]
pub struct Study {
    /// Number of draws.
    pub samples: u64,
    /// Seed of all draws.
    pub seed: u64,
    /// The inputs, in the order of `chain::INPUT`.
    pub inputs: [Quantity; INPUTS],
    /// The states that are computed.
    pub states: States,
    /// What must hold.
    pub limits: Vec<Limits>,
    /// What each remedy changes.
    pub changes: Vec<Change>,
}

/// Mean, standard deviation and coverage interval of one output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean of the draws.
    pub mean: f64,
    /// Their standard deviation.
    pub u: f64,
    /// 2.5 % quantile.
    pub low: f64,
    /// 97.5 % quantile.
    pub high: f64,
}

/// What the draws say.
#[derive(Clone, Debug)]
pub struct Found {
    /// One an output that is computed, in their order.
    pub spreads: Vec<Spread>,
    /// Draws that met each requirement.
    pub met: Vec<u64>,
    /// Draws that met all.
    pub met_all: u64,
    /// Draws that met all, with each remedy.
    pub met_all_with: Vec<u64>,
    /// Moments of the first draws for the shares, one an output that is computed.
    pub moments: Vec<Moments>,
    /// Draws behind the moments.
    pub moment_draws: u64,
}

/// Sums over draws of the rest e = y − y₀ − Σ b s that the straight-line part of an output leaves, with s the standard draws.
#[derive(Clone, Copy, Debug)]
pub struct Moments {
    /// Slope of the output per standard draw of each input: b.
    pub slope: [f64; INPUTS],
    /// Σ e.
    pub e: f64,
    /// Σ e².
    pub ee: f64,
    /// Σ e s, one an input.
    pub es: [f64; INPUTS],
    /// Σ s, one an input.
    pub s: [f64; INPUTS],
}

/// Lanes that sums run over.
const LANES: usize = 8;
type Lanes = [f64; LANES];

/// Draws of the pilot run at the least; a request of up to twice as many needs no pilot.
const PILOT: u64 = 1 << 13;
/// Requests under so many draws have a smaller pilot.
const SMALL: u64 = 1 << 16;
const SMALL_PILOT: u64 = 1 << 12;
/// Draws behind the shares at the least (all draws where there are fewer).
const MOMENT_DRAWS: u64 = 1 << 13;
/// Groups of a block at the least, and blocks at the most.
const BLOCK_GROUPS: u64 = 8192 / GROUP as u64;
const BLOCKS: u64 = 512;
/// Half width of a quantile's window, in standard errors of the pilot's quantile.
const WINDOW: f64 = 5.0;

/// Where the low and the high quantile of an output must lie.
#[derive(Clone, Copy, Debug)]
struct Windows {
    low: (f64, f64),
    high: (f64, f64),
}

const EVERYTHING: Windows = Windows { low: (f64::NEG_INFINITY, f64::INFINITY), high: (f64::NEG_INFINITY, f64::INFINITY) };

/// Runs the study; none when some draw, with the request's inputs or a remedy's, is of parts that can't be.
///
/// `centre`: outputs at the values of the inputs; `slopes`: outputs' change per standard draw of each input (any slopes serve:
/// they only keep the noise of the shares small).
pub fn run(study: &Study, centre: &[f64; OUTPUTS], slopes: &[[f64; INPUTS]; OUTPUTS], crew: &dyn Crew) -> Option<Found> {
    let active = study.states.outputs();
    let pilot = if study.samples < SMALL { SMALL_PILOT } else { (study.samples / 256).max(PILOT) };
    let plan = Plan::new(study, centre, slopes, &active);
    let everything = vec![EVERYTHING; active.len()];
    if study.samples > 2 * pilot {
        // The pilot only looks where the quantiles lie: no requirement and no remedy is tried on it.
        let bare = Study { limits: Vec::new(), changes: Vec::new(), ..study.clone() };
        let first = Plan::new(&bare, centre, slopes, &active);
        let windows = windows_of(&plan, draw(&first, pilot, 0, &everything, crew)?, pilot);
        if let Some(found) = merge(&plan, draw(&plan, study.samples, plan.moment_draws, &windows, crew)?, &windows, crew) {
            return Some(found);
        }
        // The pilot was one of a million: a quantile lies outside its window. Keep all.
    }
    merge(&plan, draw(&plan, study.samples, plan.moment_draws, &everything, crew)?, &everything, crew)
}

/// A study made ready: streams, and which inputs are random in what.
struct Plan<'s> {
    study: &'s Study,
    centre: &'s [f64; OUTPUTS],
    slopes: &'s [[f64; INPUTS]; OUTPUTS],
    active: &'s [usize],
    streams: [Stream; INPUTS],
    /// Inputs with u > 0 in the request.
    random: Vec<usize>,
    /// Inputs whose standard draws are needed: random in the request or in a remedy of the same shape.
    drawn: Vec<usize>,
    moment_draws: u64,
}

impl<'s> Plan<'s> {
    fn new(study: &'s Study, centre: &'s [f64; OUTPUTS], slopes: &'s [[f64; INPUTS]; OUTPUTS], active: &'s [usize]) -> Self {
        let random: Vec<usize> = (0..INPUTS).filter(|j| study.inputs[*j].u > 0.0).collect();
        let changed = |j: &usize| study.changes.iter().flatten().any(|(input, to)| input == j && to.u > 0.0);
        let drawn = (0..INPUTS).filter(|j| study.inputs[*j].u > 0.0 || changed(j)).collect();
        let streams = INPUT.map(|input| Stream::new(study.seed, input.name));
        let moment_draws = (study.samples / 32).max(MOMENT_DRAWS).min(study.samples);
        Self { study, centre, slopes, active, streams, random, drawn, moment_draws }
    }
}

/// What one block of draws gives.
#[derive(Clone, Debug, PartialEq)]
struct Tally {
    d: [Lanes; OUTPUTS],
    dd: [Lanes; OUTPUTS],
    /// One an output in a block with draws for the moments, none elsewhere.
    rest: Vec<Rest>,
    s: [Lanes; INPUTS],
    under: [[u64; 2]; OUTPUTS],
    kept: [Vec<f64>; OUTPUTS],
    met: Vec<u64>,
    met_all: u64,
    met_all_with: Vec<u64>,
    soundness: f64,
}

/// Sums of what the straight-line part of an output leaves: see [`Moments`].
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rest {
    e: Lanes,
    ee: Lanes,
    es: [Lanes; INPUTS],
}

impl Rest {
    const NONE: Self = Self { e: [0.0; LANES], ee: [0.0; LANES], es: [[0.0; LANES]; INPUTS] };
}

impl Tally {
    fn new(study: &Study, with_moments: bool, room: usize) -> Self {
        Self {
            d: [[0.0; LANES]; OUTPUTS],
            dd: [[0.0; LANES]; OUTPUTS],
            rest: if with_moments { vec![Rest::NONE; OUTPUTS] } else { Vec::new() },
            s: [[0.0; LANES]; INPUTS],
            under: [[0; 2]; OUTPUTS],
            kept: std::array::from_fn(|_| Vec::with_capacity(room)),
            met: vec![0; study.limits.len()],
            met_all: 0,
            met_all_with: vec![0; study.changes.len()],
            soundness: f64::INFINITY,
        }
    }
}

/// Tallies of the first `samples` draws, block by block, in order; none when some draw is of parts that can't be.
fn draw(plan: &Plan, samples: u64, moment_draws: u64, windows: &[Windows], crew: &dyn Crew) -> Option<Vec<Tally>> {
    let groups = samples.div_ceil(GROUP as u64);
    let per_block = groups.div_ceil(BLOCKS).max(BLOCK_GROUPS);
    let blocks = groups.div_ceil(per_block) as usize;
    let tallies: Vec<OnceLock<Tally>> = (0..blocks).map(|_| OnceLock::new()).collect();
    crew.each(blocks, &|block| {
        let first = block as u64 * per_block;
        let work = Block { plan, windows, first, end: (first + per_block).min(groups), samples, moment_draws };
        if let Some(slot) = tallies.get(block) {
            slot.get_or_init(|| widest(work));
        }
    });
    tallies.into_iter().map(|tally| tally.into_inner().filter(|tally| tally.soundness > 0.0)).collect()
}

/// Groups `first` .. `end`, of which draws from `samples` on do not count.
struct Block<'p> {
    plan: &'p Plan<'p>,
    windows: &'p [Windows],
    first: u64,
    end: u64,
    samples: u64,
    moment_draws: u64,
}

impl Work for Block<'_> {
    type Done = Tally;
    #[inline(always)]
    fn run(self) -> Tally {
        let Self { plan, windows, first, end, samples, moment_draws } = self;
        let study = plan.study;
        let mut tally = Tally::new(study, first * (GROUP as u64) < moment_draws, (end - first) as usize * GROUP / 12);
        let mut group = Group::default();
        let mut standard = [[0.0; GROUP]; INPUTS];
        let mut steps = Steps::default();
        for (row, quantity) in group.x.iter_mut().zip(&study.inputs) {
            *row = [quantity.value; GROUP];
        }
        let standards_wanted = !study.changes.is_empty();
        for g in first..end {
            let live = (samples - g * GROUP as u64).min(GROUP as u64) as usize;
            for j in &plan.drawn {
                let quantity = &study.inputs[*j];
                if standards_wanted || g * (GROUP as u64) < moment_draws {
                    plan.streams[*j].standard_group(quantity, g, &mut steps, &mut standard[*j]);
                    scaled(quantity, &standard[*j], &mut group.x[*j]);
                } else {
                    plan.streams[*j].group(quantity, g, &mut steps, &mut group.x[*j]);
                }
            }
            let soundness = outputs(&mut group, study.states);
            tally.soundness = tally.soundness.min(soundness);
            let met = &mut tally.met;
            tally.met_all += count_met(&study.limits, &group, live, |r, n| met[r] += n);
            for (o, window) in plan.active.iter().zip(windows) {
                let o = *o;
                if live < GROUP {
                    // Draws that do not count stand at the centre and add nothing.
                    group.y[o].iter_mut().skip(live).for_each(|y| *y = plan.centre[o]);
                }
                add_deviations(&mut tally.d[o], &mut tally.dd[o], &group.y[o], plan.centre[o]);
                keep(&group.y[o], window, live, &mut tally.under[o], &mut tally.kept[o]);
                if g * (GROUP as u64) < moment_draws {
                    add_moments(plan, &mut tally, o, &group.y[o], &standard, live);
                }
            }
            for (n, change) in study.changes.iter().enumerate() {
                let (met, soundness) = with_change(plan, change, g, live, &mut group, &standard);
                tally.met_all_with[n] += met;
                tally.soundness = tally.soundness.min(soundness);
            }
        }
        tally
    }
}

#[inline(always)]
fn scaled(quantity: &Quantity, standard: &Row, x: &mut Row) {
    for (x, s) in x.iter_mut().zip(standard) {
        *x = quantity.value + quantity.u * *s;
    }
}

/// Adds y − centre and its square.
#[inline(always)]
fn add_deviations(sums: &mut Lanes, squares: &mut Lanes, y: &Row, centre: f64) {
    let (mut d_sums, mut dd_sums) = (*sums, *squares);
    let (chunks, _) = y.as_chunks::<LANES>();
    for chunk in chunks {
        for ((sum, square), y) in d_sums.iter_mut().zip(&mut dd_sums).zip(chunk) {
            let d = *y - centre;
            *sum += d;
            *square += d * d;
        }
    }
    (*sums, *squares) = (d_sums, dd_sums);
}

#[inline(always)]
fn clear_from(row: &mut Row, live: usize) {
    if live < GROUP {
        row.iter_mut().skip(live).for_each(|x| *x = 0.0);
    }
}

#[inline(always)]
fn add(sums: &mut Lanes, row: &Row) {
    let (chunks, _) = row.as_chunks::<LANES>();
    for chunk in chunks {
        for (sum, x) in sums.iter_mut().zip(chunk) {
            *sum += *x;
        }
    }
}

#[inline(always)]
fn add_products(sums: &mut Lanes, a: &Row, b: &Row) {
    let ((a, _), (b, _)) = (a.as_chunks::<LANES>(), b.as_chunks::<LANES>());
    for (a, b) in a.iter().zip(b) {
        for ((sum, x), y) in sums.iter_mut().zip(a).zip(b) {
            *sum += *x * *y;
        }
    }
}

/// Adds the group to the moments of the rest of output `o`.
#[inline(always)]
fn add_moments(plan: &Plan, tally: &mut Tally, o: usize, y: &Row, standard: &[Row; INPUTS], live: usize) {
    let mut e = *y;
    e.iter_mut().for_each(|e| *e -= plan.centre[o]);
    for j in &plan.random {
        let slope = plan.slopes[o][*j];
        if slope != 0.0 {
            for (e, s) in e.iter_mut().zip(&standard[*j]) {
                *e -= slope * *s;
            }
        }
    }
    clear_from(&mut e, live);
    if let Some(rest) = tally.rest.get_mut(o) {
        add(&mut rest.e, &e);
        add_products(&mut rest.ee, &e, &e);
        for j in &plan.random {
            add_products(&mut rest.es[*j], &e, &standard[*j]);
        }
    }
    if o == 0 {
        for j in &plan.random {
            let mut s = standard[*j];
            clear_from(&mut s, live);
            add(&mut tally.s[*j], &s);
        }
    }
}

/// Counts draws under each window and keeps those inside one.
#[inline(always)]
fn keep(y: &Row, windows: &Windows, live: usize, under: &mut [u64; 2], kept: &mut Vec<f64>) {
    let (words, _) = y.as_chunks::<64>();
    for (n, y) in words.iter().enumerate() {
        keep_of_64(y, windows, live.saturating_sub(64 * n), under, kept);
    }
}

#[inline(always)]
fn keep_of_64(y: &[f64; 64], windows: &Windows, live: usize, under: &mut [u64; 2], kept: &mut Vec<f64>) {
    let Windows { low, high } = *windows;
    let (mut inside, mut under_low, mut under_high) = (0_u64, 0, 0);
    for (y, bit) in y.iter().zip(&BIT) {
        let y = *y;
        let (below_low, below_high) = (y < low.0, y < high.0);
        under_low += u64::from(below_low);
        under_high += u64::from(below_high);
        // Above the lower end and not above the upper end of a window.
        let within = (below_low ^ (y <= low.1)) | (below_high ^ (y <= high.1));
        inside |= if within { *bit } else { 0 };
    }
    if live < 64 {
        for (y, bit) in y.iter().zip(&BIT).skip(live) {
            under_low -= u64::from(*y < low.0);
            under_high -= u64::from(*y < high.0);
            inside &= !bit;
        }
    }
    under[0] += under_low;
    under[1] += under_high;
    // Few are inside: look at their bits alone.
    while inside != 0 {
        kept.push(y[inside.trailing_zeros() as usize % 64]);
        inside &= inside - 1;
    }
}

/// The bit of each of 64 draws.
const BIT: [u64; 64] = {
    let mut bits = [0; 64];
    let mut k = 0;
    while k < 64 {
        bits[k] = 1 << k;
        k += 1;
    }
    bits
};

/// The number of draws that meet all requirements; `each` is told the number that meets each.
#[inline(always)]
fn count_met(limits: &[Limits], group: &Group, live: usize, mut each: impl FnMut(usize, u64)) -> u64 {
    let mut all = [0_u64; GROUP];
    all.iter_mut().take(live).for_each(|all| *all = 1);
    let counted = all;
    for (r, limits) in limits.iter().enumerate() {
        let mut met = 0;
        for ((all, counted), y) in all.iter_mut().zip(&counted).zip(&group.y[limits.output]) {
            let good = u64::from((*y >= limits.min) & (*y <= limits.max)) & *counted;
            met += good;
            *all &= good;
        }
        each(r, met);
    }
    all.iter().sum()
}

/// Draws of the group that meet all with a remedy, and their soundness. The group's inputs are put back.
#[inline(always)]
fn with_change(plan: &Plan, change: &Change, g: u64, live: usize, group: &mut Group, standard: &[Row; INPUTS]) -> (u64, f64) {
    let mut before = [[0.0; GROUP]; 3];
    for ((input, to), before) in change.iter().zip(&mut before) {
        let (x, was) = (&mut group.x[*input], &plan.study.inputs[*input]);
        *before = *x;
        if to.u == 0.0 {
            *x = [to.value; GROUP];
        } else if to.drawn_shape() == was.drawn_shape() && to.dof == was.dof {
            scaled(to, &standard[*input], x);
        } else {
            let mut redrawn = [0.0; GROUP];
            plan.streams[*input].standard_group(to, g, &mut Steps::default(), &mut redrawn);
            scaled(to, &redrawn, x);
        }
    }
    let soundness = outputs(group, plan.study.states);
    let met = count_met(&plan.study.limits, group, live, |_, _| {});
    for ((input, _), before) in change.iter().zip(&before) {
        group.x[*input] = *before;
    }
    (met, soundness)
}

/// Windows about the quantiles of a pilot run.
fn windows_of(plan: &Plan, tallies: Vec<Tally>, pilot: u64) -> Vec<Windows> {
    let n = pilot as f64;
    let half = WINDOW * (LOW * HIGH / n).sqrt();
    // The place of a window's end in the sorted pilot; none where the window is open.
    let place = |p: f64| (p > 0.0 && p < 1.0).then_some((p * n) as usize);
    let each = plan.active.iter().map(|o| {
        let mut values: Vec<f64> = tallies.iter().flat_map(|tally| tally.kept[*o].iter().copied()).collect();
        let mut at = |p: f64, end: f64| match place(p) {
            Some(place) if place < values.len() => *values.select_nth_unstable_by(place, f64::total_cmp).1,
            _ => end,
        };
        Windows {
            low: (at(LOW - half, f64::NEG_INFINITY), at(LOW + half, f64::INFINITY)),
            high: (at(HIGH - half, f64::NEG_INFINITY), at(HIGH + half, f64::INFINITY)),
        }
    });
    each.collect()
}

/// The two chances of the coverage interval.
const LOW: f64 = 0.025;
const HIGH: f64 = 0.975;

/// Puts the blocks together; none when a quantile was not in its window.
fn merge(plan: &Plan, tallies: Vec<Tally>, windows: &[Windows], crew: &dyn Crew) -> Option<Found> {
    let study = plan.study;
    let quantiles: Vec<OnceLock<Option<(f64, f64)>>> = plan.active.iter().map(|_| OnceLock::new()).collect();
    crew.each(quantiles.len(), &|n| {
        if let (Some(slot), Some(o), Some(windows)) = (quantiles.get(n), plan.active.get(n), windows.get(n)) {
            slot.get_or_init(|| both_quantiles(&tallies, *o, windows, study.samples));
        }
    });
    let mut quantiles = quantiles.into_iter().map(|slot| slot.into_inner().flatten());
    let n = study.samples as f64;
    let total = |of: &dyn Fn(&Tally) -> Lanes| tallies.iter().map(|tally| of(tally).iter().sum::<f64>()).sum::<f64>();
    let count = |of: &dyn Fn(&Tally) -> u64| tallies.iter().map(of).sum::<u64>();
    let mut spreads = Vec::new();
    let mut moments = Vec::new();
    let s: [f64; INPUTS] = std::array::from_fn(|j| total(&|tally| tally.s[j]));
    for o in plan.active.iter().copied() {
        let (low, high) = quantiles.next()??;
        let (d, dd) = (total(&|tally| tally.d[o]), total(&|tally| tally.dd[o]));
        let u = ((dd - d * d / n).max(0.0) / (n - 1.0)).sqrt();
        spreads.push(Spread { mean: plan.centre[o] + d / n, u, low, high });
        let rest = |of: &dyn Fn(&Rest) -> Lanes| total(&|tally| tally.rest.get(o).map_or([0.0; LANES], of));
        let es = std::array::from_fn(|j| rest(&|rest| rest.es[j]));
        moments.push(Moments { slope: plan.slopes[o], e: rest(&|rest| rest.e), ee: rest(&|rest| rest.ee), es, s });
    }
    let met = (0..study.limits.len()).map(|r| count(&|tally| tally.met[r])).collect();
    let met_all_with = (0..study.changes.len()).map(|r| count(&|tally| tally.met_all_with[r])).collect();
    let met_all = count(&|tally| tally.met_all);
    let whole_groups = plan.moment_draws.div_ceil(GROUP as u64) * GROUP as u64;
    Some(Found { spreads, met, met_all, met_all_with, moments, moment_draws: whole_groups.min(study.samples) })
}

/// The low and the high quantile of output `o`; none when one is not in its window.
fn both_quantiles(tallies: &[Tally], o: usize, windows: &Windows, samples: u64) -> Option<(f64, f64)> {
    let mut kept = Vec::with_capacity(tallies.iter().map(|tally| tally.kept[o].len()).sum());
    tallies.iter().for_each(|tally| kept.extend_from_slice(&tally.kept[o]));
    let under = |end: usize| tallies.iter().map(|tally| tally.under[o][end]).sum::<u64>();
    // Draws that are lower than the high window and were kept for the low one.
    let lower = kept.iter().filter(|y| **y < windows.high.0).count() as u64;
    let low = quantile(&mut kept, under(0), LOW, samples, windows.low)?;
    let high = quantile(&mut kept, under(1) - lower, HIGH, samples, windows.high)?;
    Some((low, high))
}

/// Quantile `p` of `samples` values, of which `under` are not in `kept` and lie under it; straight between the two values about it.
fn quantile(kept: &mut [f64], under: u64, p: f64, samples: u64, window: (f64, f64)) -> Option<f64> {
    let place = p * (samples - 1) as f64;
    let rank = (place.floor() as u64).checked_sub(under)? as usize;
    if rank + 1 >= kept.len() {
        return None;
    }
    let (_, lower, above) = kept.select_nth_unstable_by(rank, f64::total_cmp);
    let lower = *lower;
    let upper = above.iter().copied().fold(f64::INFINITY, f64::min);
    (window.0 <= lower && upper <= window.1).then_some(lower + (upper - lower) * (place - place.floor()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::Alone;
    use crate::draws::wide::{at_width, each_width};
    use crate::fit::chance::chain::{at, outputs_at};
    use crate::quantity::Shape;

    fn study(samples: u64) -> Study {
        let values = [
            22.0, 1.15e-5, 240.018, 0.001, 23.0, 1.1e-5, 206.0, 0.3, 5.0, 430.0, 240.196, -0.002, 31.0, 1.8e-5, 100.0, 0.34, 6.0, 210.3,
            210.0, 1.15e-5, 0.8, 75.0, 55.0, 80.0, -25.0, -20.0,
        ];
        let mut inputs = values.map(|value| Quantity::with_u(value, 1e-5 * value.abs()));
        inputs[at::BUSH_RZ].shape = Some(Shape::Rectangular);
        inputs[at::HOUSING_RZ].shape = Some(Shape::Triangular);
        inputs[at::BUSH_T].shape = Some(Shape::Arcsine);
        inputs[at::BUSH_READING].dof = Some(5.0);
        Study {
            samples,
            seed: 3,
            inputs,
            states: States { working: true, cold: true },
            limits: vec![Limits { output: 0, min: 100.0, max: 150.0 }],
            changes: vec![vec![(at::BUSH_BORE, Quantity::with_u(210.31, 0.001))]],
        }
    }

    #[test]
    fn the_whole_chain_gives_the_same_bits_at_every_width_of_vectors() {
        let study = study(1_000);
        let centre = outputs_at(&study.inputs.map(|quantity| quantity.value), study.states).unwrap();
        let (slopes, active) = ([[0.5; INPUTS]; OUTPUTS], study.states.outputs());
        let plan = Plan::new(&study, &centre, &slopes, &active);
        let windows = vec![EVERYTHING; active.len()];
        let tallies = each_width(|width| {
            let work = Block { plan: &plan, windows: &windows, first: 0, end: 8, samples: 1_000, moment_draws: 1_000 };
            at_width(width, work)
        });
        assert!(tallies.windows(2).all(|pair| pair[0] == pair[1]));
    }

    #[test]
    fn quantiles_by_windows_are_the_order_statistics_of_all_draws() {
        let study = study(50_001);
        let centre = outputs_at(&study.inputs.map(|quantity| quantity.value), study.states).unwrap();
        let (slopes, active) = ([[0.0; INPUTS]; OUTPUTS], study.states.outputs());
        let found = run(&study, &centre, &slopes, &Alone).unwrap();
        let plan = Plan::new(&study, &centre, &slopes, &active);
        let tallies = draw(&plan, study.samples, 0, &vec![EVERYTHING; active.len()], &Alone).unwrap();
        for (o, spread) in active.iter().zip(&found.spreads) {
            let mut all: Vec<f64> = tallies.iter().flat_map(|tally| tally.kept[*o].iter().copied()).collect();
            assert_eq!(all.len(), 50_001);
            all.sort_by(f64::total_cmp);
            // 0.025 and 0.975 of 50 000 steps are whole numbers: no interpolation.
            assert_eq!((spread.low, spread.high), (all[1_250], all[48_750]), "output {o}");
        }
    }
}
