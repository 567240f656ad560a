//! Which input decides: the first-order share of each input in the variance of each output, Var(E[Y|X])/Var(Y).
//!
//! While an output is nearly a straight line in its inputs, the squared correlation is the share. It is found from the slopes at
//! the centre and the correlations of what the straight line leaves, which are small and so is their noise. The sum of the
//! shares tells when that no longer serves: under 0.99 the shares of that output are found again by means in bins.
//! Source: JCGM 101:2008 B (sensitivity by variance); Saltelli and others, Global Sensitivity Analysis (2008), first-order index
//! (from memory).

use std::sync::OnceLock;

use super::chain::{Group, INPUT, INPUTS, OUTPUTS, outputs};
use super::study::{Moments, Study};
use crate::crew::Crew;
use crate::draws::wide::{Work, widest};
use crate::draws::{GROUP, Steps, Stream};
use crate::quantity::{Quantity, Shape};

/// Sum of shares under which an output is not taken as a straight line.
const STRAIGHT: f64 = 0.99;
/// Draws that the bins use at the most.
const BIN_DRAWS: u64 = 1 << 20;
/// And at the least: a quarter of the draws tells a share to a few parts in a thousand, where a chance wants them all.
const LEAST_BIN_DRAWS: u64 = 1 << 12;
/// Draws of a bin at the least, and bins at the most.
const PER_BIN: u64 = 200;
const BINS: u64 = 200;
/// Draws behind each edge between bins: bins of roughly equal chance are enough.
const EDGE_DRAWS: usize = 16;

/// Shares of one output, one an input (0 where its u is 0).
pub type Shares = [f64; INPUTS];

/// Shares of every output that is computed, and whether each needed bins.
pub fn shares(study: &Study, moments: &[Moments], draws: u64, centre: &[f64; OUTPUTS], crew: &dyn Crew) -> Vec<(Shares, bool)> {
    let straight: Vec<Shares> = moments.iter().map(|moments| straight_shares(&study.inputs, moments, draws)).collect();
    let curved = |shares: &Shares| {
        let sum = shares.iter().sum::<f64>();
        sum > 0.0 && sum < STRAIGHT
    };
    let places = study.states.outputs();
    // Bins are filled for the curved outputs alone: most requests have none, and few more than two.
    let bent: Vec<usize> = straight.iter().zip(&places).filter(|(shares, _)| curved(shares)).map(|(_, o)| *o).collect();
    // An input that is not in the formulas of the bent outputs has no slope there, and no share. Where nothing has a slope (the pressure of
    // a bush that is loose in most draws) any may matter.
    let flat = |moments: &Moments| moments.slope.iter().all(|slope| *slope == 0.0);
    let bends = |(moments, o): (&Moments, &usize), j: usize| bent.contains(o) && (moments.slope[j] != 0.0 || flat(moments));
    let matters = |j: &usize| moments.iter().zip(&places).any(|of| bends(of, *j));
    let random: Vec<usize> = (0..INPUTS).filter(|j| study.inputs[*j].u > 0.0).filter(matters).collect();
    let mut binned = if bent.is_empty() { Vec::new() } else { binned_shares(study, centre, &bent, &random, crew) }.into_iter();
    let each = straight.iter().map(|shares| match curved(shares).then(|| binned.next()).flatten() {
        Some(binned) => (binned, true),
        None => (*shares, false),
    });
    each.collect()
}

/// Squared correlations of an output with its inputs: (b σ + c/σ)²/Var, c the covariance of the rest with the input.
fn straight_shares(inputs: &[Quantity; INPUTS], moments: &Moments, draws: u64) -> Shares {
    let n = draws as f64;
    let rest = (moments.ee / n - (moments.e / n) * (moments.e / n)).max(0.0);
    let covariance = |j: usize| moments.es[j] / n - moments.e / n * (moments.s[j] / n);
    let random = |j: &usize| inputs[*j].u > 0.0;
    let line = |j: usize| moments.slope[j] * moments.slope[j] * variance(&inputs[j]) + 2.0 * moments.slope[j] * covariance(j);
    let total = (0..INPUTS).filter(random).map(line).sum::<f64>() + rest;
    let mut shares = [0.0; INPUTS];
    for j in (0..INPUTS).filter(random) {
        let sigma = variance(&inputs[j]).sqrt();
        let correlated = moments.slope[j] * sigma + covariance(j) / sigma;
        // A rest that has nothing to do with the input still correlates with it by chance: rest/n on average.
        let share = (correlated * correlated - rest / n).max(0.0) / total;
        shares[j] = if share.is_finite() { share.min(1.0) } else { 0.0 };
    }
    shares
}

/// Variance of a standard draw: 1, and dof/(dof − 2) for a t.
fn variance(quantity: &Quantity) -> f64 {
    match (quantity.drawn_shape(), quantity.dof) {
        (Shape::T, Some(dof)) => dof / (dof - 2.0),
        _ => 1.0,
    }
}

/// Shares of the `bent` outputs by means in bins of equal chance, less what such means scatter by themselves.
fn binned_shares(study: &Study, centre: &[f64; OUTPUTS], bent: &[usize], random: &[usize], crew: &dyn Crew) -> Vec<Shares> {
    let draws = (study.samples / 4).clamp(LEAST_BIN_DRAWS.min(study.samples), BIN_DRAWS);
    let bins = (draws / PER_BIN).clamp(5, BINS) as usize;
    let edges: Vec<Vec<f64>> = random.iter().map(|j| edges(study, *j, bins)).collect();
    let blocks: Vec<OnceLock<BinSums>> = (0..16).map(|_| OnceLock::new()).collect();
    let groups = draws / GROUP as u64;
    let per_block = groups.div_ceil(blocks.len() as u64);
    crew.each(blocks.len(), &|block| {
        if let Some(slot) = blocks.get(block) {
            let first = block as u64 * per_block;
            let work = BinBlock { study, centre, bent, random, edges: &edges, bins, groups: first..(first + per_block).min(groups) };
            slot.get_or_init(|| widest(work));
        }
    });
    let mut all = BinSums::new(bent.len(), random.len(), bins);
    blocks.into_iter().filter_map(OnceLock::into_inner).for_each(|block| all.add(&block));
    (0..bent.len()).map(|n| all.shares(n, random, bins)).collect()
}

/// Inner edges of the bins of an input: quantiles of its first draws.
fn edges(study: &Study, input: usize, bins: usize) -> Vec<f64> {
    let mut drawn = vec![0.0; EDGE_DRAWS * bins];
    Stream::new(study.seed, INPUT[input].name).fill(&study.inputs[input], 0, &mut drawn);
    drawn.sort_unstable_by(f64::total_cmp);
    drawn.chunks(EDGE_DRAWS).skip(1).filter_map(|chunk| chunk.first().copied()).collect()
}

/// Sums over draws, whole and by bin.
struct BinSums {
    n: f64,
    /// Σ d and Σ d², one a bent output.
    d: Vec<f64>,
    dd: Vec<f64>,
    /// Draws of each bin of each input.
    count: Vec<f64>,
    /// Their Σ d: bent output, input, bin.
    by_bin: Vec<f64>,
}

impl BinSums {
    fn new(outputs: usize, inputs: usize, bins: usize) -> Self {
        let size = inputs * bins;
        Self { n: 0.0, d: vec![0.0; outputs], dd: vec![0.0; outputs], count: vec![0.0; size], by_bin: vec![0.0; outputs * size] }
    }

    fn add(&mut self, other: &Self) {
        self.n += other.n;
        self.d.iter_mut().zip(&other.d).for_each(|(sum, x)| *sum += x);
        self.dd.iter_mut().zip(&other.dd).for_each(|(sum, x)| *sum += x);
        self.count.iter_mut().zip(&other.count).for_each(|(sum, x)| *sum += x);
        self.by_bin.iter_mut().zip(&other.by_bin).for_each(|(sum, x)| *sum += x);
    }

    fn shares(&self, output: usize, random: &[usize], bins: usize) -> Shares {
        let mean = self.d[output] / self.n;
        let total = self.dd[output] - self.n * mean * mean;
        let of_output = self.by_bin.chunks((random.len() * bins).max(1)).nth(output).unwrap_or_default();
        let mut shares = [0.0; INPUTS];
        for ((j, counts), sums) in random.iter().zip(self.count.chunks(bins)).zip(of_output.chunks(bins)) {
            let filled = counts.iter().zip(sums).filter(|(count, _)| **count > 0.0);
            let (used, between) = filled.fold((0.0, 0.0), |(used, between), (count, sum)| {
                let off = sum / count - mean;
                (used + 1.0, between + count * off * off)
            });
            let share = 1.0 - (1.0 - between / total) * (self.n - 1.0) / (self.n - used);
            shares[*j] = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        }
        shares
    }
}

/// Groups of draws whose sums go into bins.
struct BinBlock<'s> {
    study: &'s Study,
    centre: &'s [f64; OUTPUTS],
    bent: &'s [usize],
    random: &'s [usize],
    edges: &'s [Vec<f64>],
    bins: usize,
    groups: std::ops::Range<u64>,
}

impl Work for BinBlock<'_> {
    type Done = BinSums;
    #[inline(always)]
    fn run(self) -> BinSums {
        let Self { study, centre, bent, random, edges, bins, groups } = self;
        let mut sums = BinSums::new(bent.len(), random.len(), bins);
        let mut group = Group::default();
        for (row, quantity) in group.x.iter_mut().zip(&study.inputs) {
            *row = [quantity.value; GROUP];
        }
        let streams = INPUT.map(|input| Stream::new(study.seed, input.name));
        let places = random.len() * bins;
        let mut steps = Steps::default();
        for g in groups {
            // All inputs are drawn: what an output does not depend on by its slope may still be in its formula.
            for j in (0..INPUTS).filter(|j| study.inputs[*j].u > 0.0) {
                streams[j].group(&study.inputs[j], g, &mut steps, &mut group.x[j]);
            }
            outputs(&mut group, study.states);
            sums.n += GROUP as f64;
            for (n, o) in bent.iter().enumerate() {
                group.y[*o].iter_mut().for_each(|y| *y -= centre[*o]);
                sums.d[n] += group.y[*o].iter().sum::<f64>();
                sums.dd[n] += group.y[*o].iter().map(|d| d * d).sum::<f64>();
            }
            for (k, (j, edges)) in random.iter().zip(edges).enumerate() {
                for (i, x) in group.x[*j].iter().enumerate() {
                    let bin = k * bins + edges.partition_point(|edge| edge <= x);
                    sums.count[bin] += 1.0;
                    for (n, o) in bent.iter().enumerate() {
                        sums.by_bin[n * places + bin] += group.y[*o][i];
                    }
                }
            }
        }
        sums
    }
}
