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
use crate::draws::{GROUP, Stream};
use crate::quantity::{Quantity, Shape};

/// Sum of shares under which an output is not taken as a straight line.
const STRAIGHT: f64 = 0.99;
/// Draws that the bins use at the most.
const BIN_DRAWS: u64 = 1 << 20;
/// Draws of a bin at the least, and bins at the most.
const PER_BIN: u64 = 200;
const BINS: u64 = 200;

/// Shares of one output, one an input (0 where its u is 0).
pub type Shares = [f64; INPUTS];

/// Shares of every output that is computed, and whether each needed bins.
pub fn shares(study: &Study, moments: &[Moments], draws: u64, centre: &[f64; OUTPUTS], crew: &dyn Crew) -> Vec<(Shares, bool)> {
    let straight: Vec<Shares> = moments.iter().map(|moments| straight_shares(&study.inputs, moments, draws)).collect();
    let curved = |shares: &Shares| {
        let sum = shares.iter().sum::<f64>();
        sum > 0.0 && sum < STRAIGHT
    };
    let binned = straight.iter().any(curved).then(|| binned_shares(study, centre, crew));
    let places = study.states.outputs();
    let each = straight.iter().zip(&places).map(|(shares, o)| match &binned {
        Some(binned) if curved(shares) => (binned[*o], true),
        _ => (*shares, false),
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

/// Shares of all outputs by means in bins of equal chance, less what such means scatter by themselves.
fn binned_shares(study: &Study, centre: &[f64; OUTPUTS], crew: &dyn Crew) -> Vec<Shares> {
    let draws = study.samples.min(BIN_DRAWS);
    let bins = (draws / PER_BIN).clamp(5, BINS) as usize;
    let random: Vec<usize> = (0..INPUTS).filter(|j| study.inputs[*j].u > 0.0).collect();
    let edges: Vec<Vec<f64>> = random.iter().map(|j| edges(study, *j, bins)).collect();
    let blocks: Vec<OnceLock<BinSums>> = (0..16).map(|_| OnceLock::new()).collect();
    let groups = draws / GROUP as u64;
    let per_block = groups.div_ceil(blocks.len() as u64);
    crew.each(blocks.len(), &|block| {
        if let Some(slot) = blocks.get(block) {
            let first = block as u64 * per_block;
            slot.get_or_init(|| bin_block(study, centre, &random, &edges, bins, first..(first + per_block).min(groups)));
        }
    });
    let mut all = BinSums::new(random.len(), bins);
    blocks.into_iter().filter_map(OnceLock::into_inner).for_each(|block| all.add(&block));
    (0..OUTPUTS).map(|o| all.shares(o, &random, bins)).collect()
}

/// Inner edges of the bins of an input: quantiles of its first draws.
fn edges(study: &Study, input: usize, bins: usize) -> Vec<f64> {
    let mut drawn = vec![0.0; 64 * bins];
    Stream::new(study.seed, INPUT[input].name).fill(&study.inputs[input], 0, &mut drawn);
    drawn.sort_unstable_by(f64::total_cmp);
    drawn.chunks(64).skip(1).filter_map(|chunk| chunk.first().copied()).collect()
}

/// Sums over draws, whole and by bin.
struct BinSums {
    n: f64,
    d: [f64; OUTPUTS],
    dd: [f64; OUTPUTS],
    /// Draws of each bin of each input.
    count: Vec<f64>,
    /// Their Σ d, one an output.
    by_bin: Vec<[f64; OUTPUTS]>,
}

impl BinSums {
    fn new(inputs: usize, bins: usize) -> Self {
        let size = inputs * bins;
        Self { n: 0.0, d: [0.0; OUTPUTS], dd: [0.0; OUTPUTS], count: vec![0.0; size], by_bin: vec![[0.0; OUTPUTS]; size] }
    }

    fn add(&mut self, other: &Self) {
        self.n += other.n;
        self.d.iter_mut().zip(&other.d).for_each(|(sum, x)| *sum += x);
        self.dd.iter_mut().zip(&other.dd).for_each(|(sum, x)| *sum += x);
        self.count.iter_mut().zip(&other.count).for_each(|(sum, x)| *sum += x);
        for (sums, xs) in self.by_bin.iter_mut().zip(&other.by_bin) {
            sums.iter_mut().zip(xs).for_each(|(sum, x)| *sum += x);
        }
    }

    fn shares(&self, o: usize, random: &[usize], bins: usize) -> Shares {
        let mean = self.d[o] / self.n;
        let total = self.dd[o] - self.n * mean * mean;
        let mut shares = [0.0; INPUTS];
        for ((j, counts), sums) in random.iter().zip(self.count.chunks(bins)).zip(self.by_bin.chunks(bins)) {
            let filled = counts.iter().zip(sums).filter(|(count, _)| **count > 0.0);
            let (used, between) = filled.fold((0.0, 0.0), |(used, between), (count, sum)| {
                let off = sum[o] / count - mean;
                (used + 1.0, between + count * off * off)
            });
            let share = 1.0 - (1.0 - between / total) * (self.n - 1.0) / (self.n - used);
            shares[*j] = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        }
        shares
    }
}

fn bin_block(
    study: &Study,
    centre: &[f64; OUTPUTS],
    random: &[usize],
    edges: &[Vec<f64>],
    bins: usize,
    groups: std::ops::Range<u64>,
) -> BinSums {
    let mut sums = BinSums::new(random.len(), bins);
    let mut group = Group::default();
    for (row, quantity) in group.x.iter_mut().zip(&study.inputs) {
        *row = [quantity.value; GROUP];
    }
    let streams = INPUT.map(|input| Stream::new(study.seed, input.name));
    for g in groups {
        for j in random {
            streams[*j].fill(&study.inputs[*j], g * GROUP as u64, &mut group.x[*j]);
        }
        outputs(&mut group, study.states);
        for i in 0..GROUP {
            let d: [f64; OUTPUTS] = std::array::from_fn(|o| group.y[o][i] - centre[o]);
            sums.n += 1.0;
            sums.d.iter_mut().zip(&d).for_each(|(sum, d)| *sum += d);
            sums.dd.iter_mut().zip(&d).for_each(|(sum, d)| *sum += d * d);
            for (k, (j, edges)) in random.iter().zip(edges).enumerate() {
                let bin = k * bins + edges.partition_point(|edge| *edge <= group.x[*j][i]);
                sums.count[bin] += 1.0;
                sums.by_bin[bin].iter_mut().zip(&d).for_each(|(sum, d)| *sum += d);
            }
        }
    }
    sums
}
