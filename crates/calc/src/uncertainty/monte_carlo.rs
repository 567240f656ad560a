//! Propagation of distributions: the formula at many draws of its inputs, and the interval that holds the wanted share of them.
//!
//! Draws come from counters ([`crate::draws`]) and work is cut in fixed blocks, so the bytes depend on the request alone. Up to
//! [`KEPT`] draws are kept (160 MB) and the ends are order statistics. Beyond, draws are counted in bins whose edges are the
//! first million draws, and the ends are interpolated inside a bin: its width is a millionth of the draws, about a tenth of the
//! scatter that a run of 1e9 has itself.
//! Source: JCGM 101:2008 7.2 to 7.7 (draws, mean, ends), 8.1 (when linear is good), 6.4 (shapes).

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

use serde::Serialize;

use super::formula::{Formula, LANE};
use super::inputs::{Input, Trapezoid};
use crate::crew::Crew;
use crate::draws::Stream;
use crate::math::{log10, pow};
use crate::quantity::Shape;
use crate::refused::Refused;
use crate::working::Working;

/// Draws that are kept in memory; runs of more are counted in bins.
pub const KEPT: u64 = 20_000_000;

/// Draws of which the edges of the bins are made.
const PILOT: u64 = 1 << 20;

/// Draws a block: enough that handing it out costs nothing.
const BLOCK: usize = 1 << 16;

/// How many draws, from which seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Draws, 1000 to 1e9.
    pub draws: u64,
    /// What they start from.
    pub seed: u64,
}

/// The answer of the draws.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MonteCarlo {
    /// Mean; none where an input has no mean.
    pub value: Option<f64>,
    /// Standard deviation; none where an input has none.
    pub u: Option<f64>,
    /// Lower end: as many draws are below it as above the upper one.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Lower end of the shortest interval that holds the same share.
    pub shortest_low: f64,
    /// Its upper end.
    pub shortest_high: f64,
    /// Draws made.
    pub draws: u64,
}

/// Half a unit in the second significant digit of `u`.
///
/// u = c 10^l with c of two digits; δ = ½ 10^l. Source: JCGM 101:2008 7.9.2, 8.1.2.
pub fn tolerance(u: f64) -> f64 {
    if u <= 0.0 {
        return 0.0;
    }
    let unit = pow(10.0, log10(u).floor() - 1.0);
    if (u / unit).round() >= 100.0 { 5.0 * unit } else { 0.5 * unit }
}

/// Draws `run.draws` values of `formula`; `centre` is its value at the values of the inputs.
///
/// Refused: draws at which the formula is not finite.
#[allow(clippy::too_many_arguments, reason = "the question, the run, and the two things that are lent")]
pub fn run(
    formula: &Formula,
    inputs: &[Input],
    coverage: f64,
    run: &Run,
    centre: f64,
    crew: &dyn Crew,
    working: &mut Working,
    warnings: &mut Vec<String>,
) -> Result<MonteCarlo, Refused> {
    let sampler = Sampler::new(formula, inputs, run.seed, centre);
    let (sums, ends) =
        if run.draws <= KEPT { kept(&sampler, run.draws, coverage, crew) } else { counted(&sampler, run.draws, coverage, PILOT, crew) };
    if sums.not_finite > 0 {
        let given = format!("without a finite value at {} of {} draws", sums.not_finite, run.draws);
        let remedy = "give an input that stays away from there a shape with ends (rectangular), or use the method linear";
        return Err(Refused::new("formula", given, "a finite value at all draws", remedy));
    }
    let least_dof = least_dof(formula, inputs, warnings);
    let n = run.draws as f64;
    let mean = centre + sums.sum / n;
    let sd = ((sums.squares - sums.sum * (sums.sum / n)).max(0.0) / (n - 1.0)).sqrt();
    if !(mean.is_finite() && sd.is_finite()) && least_dof > 2.0 {
        return Err(Refused::new(
            "formula",
            "spread over more than numbers can hold",
            "a finite mean and spread",
            "check u and the formula",
        ));
    }
    tell_rough_ends(run.draws, coverage, warnings);
    let drawn = MonteCarlo {
        value: Some(mean).filter(|mean| mean.is_finite() && least_dof > 1.0),
        u: Some(sd).filter(|sd| sd.is_finite() && least_dof > 2.0),
        low: ends.low,
        high: ends.high,
        shortest_low: ends.shortest_low,
        shortest_high: ends.shortest_high,
        draws: run.draws,
    };
    let gives = [("mean", mean), ("u", sd), ("low", drawn.low), ("high", drawn.high)];
    let with = [("draws", n), ("seed", run.seed as f64), ("coverage", coverage)];
    working.step("interval of the draws", "mean, standard deviation, y(r) and y(r+q), q = p M", &with, &gives, "JCGM 101:2008 7");
    Ok(drawn)
}

/// The smallest degrees of freedom that a t input of the formula has; says where it leaves no mean or no spread.
fn least_dof(formula: &Formula, inputs: &[Input], warnings: &mut Vec<String>) -> f64 {
    let mut least = f64::INFINITY;
    for (i, input) in inputs.iter().enumerate() {
        let dof = input.quantity.dof.unwrap_or(f64::INFINITY);
        let drawn_as_t = input.trapezoid.is_none() && input.quantity.drawn_shape() == Shape::T;
        if drawn_as_t && dof <= 2.0 && input.is_uncertain() && formula.uses(i) {
            least = least.min(dof);
            let none = if dof <= 1.0 { "no mean and no standard deviation" } else { "no standard deviation" };
            warnings.push(format!(
                "A t with {dof} degrees of freedom has {none}: the draws of {} give an interval, but not these.",
                input.name
            ));
        }
    }
    least
}

fn tell_rough_ends(draws: u64, coverage: f64, warnings: &mut Vec<String>) {
    let outside = (1.0 - coverage) * draws as f64;
    if outside < 50.0 {
        warnings.push(format!("Only about {outside:.0} of the draws are outside the interval: its ends are rough; ask for more draws."));
    } else if draws > KEPT && outside < 40.0 * draws as f64 / PILOT as f64 {
        warnings.push(format!("Over {KEPT} draws are counted in bins: at this coverage the ends are rough; ask for {KEPT} draws."));
    }
}

/// One input's draws.
struct Source {
    stream: Stream,
    /// A second stream, for the ends of a trapezoid.
    ends: Stream,
    input: Input,
}

impl Source {
    fn fill(&self, start: u64, out: &mut [f64; LANE]) {
        let (quantity, numbers) = (&self.input.quantity, start..);
        match self.input.trapezoid {
            _ if quantity.u == 0.0 => *out = [quantity.value; LANE],
            Some(Trapezoid { half_width, edge }) => {
                for (x, i) in out.iter_mut().zip(numbers) {
                    let low = quantity.value - half_width - edge + 2.0 * edge * self.ends.even(i);
                    *x = low + 2.0 * (quantity.value - low) * self.stream.even(i);
                }
            }
            None => out.iter_mut().zip(numbers).for_each(|(x, i)| *x = self.stream.of(quantity, i)),
        }
    }
}

/// A formula with the streams of its inputs.
struct Sampler<'f> {
    formula: &'f Formula,
    sources: Vec<Source>,
    centre: f64,
}

/// Sums of draws less the centre.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    sum: f64,
    squares: f64,
    not_finite: u64,
    lowest: f64,
    highest: f64,
}

impl<'f> Sampler<'f> {
    fn new(formula: &'f Formula, inputs: &[Input], seed: u64, centre: f64) -> Self {
        let source = |input: &Input| Source {
            stream: Stream::new(seed, &input.name),
            // No name of an input has a blank, so this stream is nobody else's.
            ends: Stream::new(seed, &format!("{} ends", input.name)),
            input: input.clone(),
        };
        Self { formula, sources: inputs.iter().map(source).collect(), centre }
    }

    /// Values of draws `start` and on, into `out`; their sums.
    fn fill(&self, start: u64, out: &mut [f64]) -> Sums {
        let mut columns = vec![[0.0; LANE]; self.sources.len()];
        let mut stack = self.formula.stack();
        let mut sums = Sums { lowest: f64::INFINITY, highest: f64::NEG_INFINITY, ..Sums::default() };
        for (lane, out) in out.chunks_mut(LANE).enumerate() {
            let first = start + (lane * LANE) as u64;
            self.sources.iter().zip(&mut columns).for_each(|(source, column)| source.fill(first, column));
            let values = self.formula.fill(&columns, &mut stack);
            out.copy_from_slice(&values[..out.len()]);
            out.iter().for_each(|value| sums.take(*value, self.centre));
        }
        sums
    }
}

impl Sums {
    fn take(&mut self, value: f64, centre: f64) {
        let off = value - centre;
        self.sum += off;
        self.squares += off * off;
        self.not_finite += u64::from(!value.is_finite());
        self.lowest = self.lowest.min(value);
        self.highest = self.highest.max(value);
    }

    /// The sums of all blocks, added in their order.
    fn of_all(blocks: &[Mutex<Self>]) -> Self {
        let start = Self { lowest: f64::INFINITY, highest: f64::NEG_INFINITY, ..Self::default() };
        blocks.iter().fold(start, |all, block| {
            let block = block.lock().unwrap_or_else(PoisonError::into_inner);
            Self {
                sum: all.sum + block.sum,
                squares: all.squares + block.squares,
                not_finite: all.not_finite + block.not_finite,
                lowest: all.lowest.min(block.lowest),
                highest: all.highest.max(block.highest),
            }
        })
    }
}

/// Both intervals.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ends {
    low: f64,
    high: f64,
    shortest_low: f64,
    shortest_high: f64,
}

/// (q, r): the interval from y(r) to y(r + q), counted from 1, holds the share `coverage` of n draws.
///
/// Source: JCGM 101:2008 7.7.2.
fn ranks(n: u64, coverage: f64) -> (u64, u64) {
    let q = ((coverage * n as f64 + 0.5).floor() as u64).clamp(1, n - 1);
    (q, (n - q).div_ceil(2).max(1))
}

fn kept(sampler: &Sampler, draws: u64, coverage: f64, crew: &dyn Crew) -> (Sums, Ends) {
    let mut values = vec![0.0; draws as usize];
    let sums = filled(sampler, 0, &mut values, crew);
    (sums, ends_of(&mut values, coverage))
}

/// Fills `values` with draws `start` and on, a block a hand.
fn filled(sampler: &Sampler, start: u64, values: &mut [f64], crew: &dyn Crew) -> Sums {
    let blocks: Vec<Mutex<&mut [f64]>> = values.chunks_mut(BLOCK).map(Mutex::new).collect();
    let sums: Vec<Mutex<Sums>> = blocks.iter().map(|_| Mutex::default()).collect();
    crew.each(blocks.len(), &|b| {
        let mut block = blocks[b].lock().unwrap_or_else(PoisonError::into_inner);
        let found = sampler.fill(start + (b * BLOCK) as u64, &mut block);
        *sums[b].lock().unwrap_or_else(PoisonError::into_inner) = found;
    });
    Sums::of_all(&sums)
}

fn ends_of(values: &mut [f64], coverage: f64) -> Ends {
    let n = values.len() as u64;
    let (q, r) = ranks(n, coverage);
    // Only the tails must be in order: they hold every candidate for both ends.
    let (tail, body) = ((n - q) as usize, q as usize);
    if tail <= body {
        values.select_nth_unstable_by(body, f64::total_cmp);
        values[body..].sort_unstable_by(f64::total_cmp);
        let under = &mut values[..body];
        if tail < body {
            under.select_nth_unstable_by(tail, f64::total_cmp);
        }
        under[..tail].sort_unstable_by(f64::total_cmp);
    } else {
        values.sort_unstable_by(f64::total_cmp);
    }
    let at = |rank: u64| values[(rank - 1) as usize];
    let width = |rank: &u64| at(rank + q) - at(*rank);
    let shortest = (1..=n - q).min_by(|a, b| width(a).total_cmp(&width(b))).unwrap_or(r);
    Ends { low: at(r), high: at(r + q), shortest_low: at(shortest), shortest_high: at(shortest + q) }
}

fn counted(sampler: &Sampler, draws: u64, coverage: f64, pilot: u64, crew: &dyn Crew) -> (Sums, Ends) {
    let mut edges = vec![0.0; pilot.min(draws) as usize];
    filled(sampler, 0, &mut edges, crew);
    edges.sort_unstable_by(f64::total_cmp);
    let counts: Vec<AtomicU64> = (0..=edges.len()).map(|_| AtomicU64::new(0)).collect();
    let sums: Vec<Mutex<Sums>> = (0..draws.div_ceil(BLOCK as u64)).map(|_| Mutex::default()).collect();
    crew.each(sums.len(), &|b| {
        let start = (b * BLOCK) as u64;
        let mut values = vec![0.0; (draws - start).min(BLOCK as u64) as usize];
        let found = sampler.fill(start, &mut values);
        for value in values {
            // Counts are whole numbers, so it does not matter who adds first.
            counts[edges.partition_point(|edge| *edge <= value)].fetch_add(1, Ordering::Relaxed);
        }
        *sums[b].lock().unwrap_or_else(PoisonError::into_inner) = found;
    });
    let sums = Sums::of_all(&sums);
    (sums, Bins::new(edges, counts, &sums).ends(draws, coverage))
}

/// Draws counted between edges.
struct Bins {
    /// Lowest draw, edges, highest draw: bin b is from `edges[b]` to `edges[b + 1]`.
    edges: Vec<f64>,
    /// Draws under bin b; its last is all of them.
    under: Vec<u64>,
}

impl Bins {
    fn new(mut edges: Vec<f64>, counts: Vec<AtomicU64>, sums: &Sums) -> Self {
        edges.insert(0, sums.lowest);
        edges.push(sums.highest);
        let mut under = vec![0];
        let mut all = 0;
        for count in counts {
            all += count.into_inner();
            under.push(all);
        }
        Self { edges, under }
    }

    /// The draw of that rank, counted from 1, as if the draws of its bin were evenly spread.
    fn at(&self, rank: u64) -> f64 {
        let bin = self.under.partition_point(|under| *under < rank).clamp(1, self.edges.len() - 1) - 1;
        let (low, high) = (self.edges[bin], self.edges[bin + 1]);
        let inside = (self.under[bin + 1] - self.under[bin]) as f64;
        low + (high - low) * ((rank - self.under[bin]) as f64 - 0.5) / inside
    }

    fn ends(&self, draws: u64, coverage: f64) -> Ends {
        let (q, r) = ranks(draws, coverage);
        let width = |rank: &u64| self.at(rank + q) - self.at(*rank);
        let candidates = self.under.iter().map(|under| under + 1).filter(|rank| rank + q <= draws);
        let shortest = candidates.min_by(|a, b| width(a).total_cmp(&width(b))).unwrap_or(r);
        Ends { low: self.at(r), high: self.at(r + q), shortest_low: self.at(shortest), shortest_high: self.at(shortest + q) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::Alone;
    use crate::quantity::Quantity;

    /// Does the blocks from the last to the first.
    struct Backwards;
    impl Crew for Backwards {
        fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
            (0..blocks).rev().for_each(work);
        }
    }

    fn skewed() -> (Formula, Vec<Input>) {
        let formula = Formula::read("exp(a) + b", &["a", "b"]).unwrap();
        let rectangular = Quantity { shape: Some(Shape::Rectangular), ..Quantity::with_u(1.0, 0.1) };
        (formula, vec![Input::of("a", Quantity::with_u(0.0, 0.5)), Input::of("b", rectangular)])
    }

    #[test]
    fn counting_in_bins_agrees_with_keeping_every_draw() {
        let (formula, inputs) = skewed();
        let sampler = Sampler::new(&formula, &inputs, 3, 2.0);
        let draws = 400_000;
        let (sums, exact) = kept(&sampler, draws, 0.95, &Alone);
        let (same, near) = counted(&sampler, draws, 0.95, 1 << 17, &Backwards);
        assert_eq!((sums.sum.to_bits(), sums.squares.to_bits()), (same.sum.to_bits(), same.squares.to_bits()));
        for (exact, near, allowed) in [
            (exact.low, near.low, 2e-5),
            (exact.high, near.high, 1e-4),
            // Many intervals are nearly as short as the shortest: its length is sharp, its place is not.
            (exact.shortest_high - exact.shortest_low, near.shortest_high - near.shortest_low, 1e-4),
        ] {
            assert!((exact - near).abs() < allowed, "{exact} {near}");
        }
    }

    #[test]
    fn ends_are_order_statistics_whatever_the_coverage() {
        // 1000 values 1..1000 in a scattered order.
        for (coverage, q, low) in [(0.95, 950, 25), (0.5, 500, 250), (0.3, 300, 350), (0.9999, 999, 1), (0.001, 1, 500)] {
            let mut values: Vec<f64> = (0..1000_u32).map(|i| f64::from(i * 377 % 1000 + 1)).collect();
            let ends = ends_of(&mut values, coverage);
            assert_eq!((ends.low, ends.high), (f64::from(low), f64::from(low + q)), "{coverage}");
            assert_eq!(ends.shortest_high - ends.shortest_low, f64::from(q));
        }
    }

    #[test]
    fn the_shortest_interval_of_a_skewed_spread_leans_to_its_steep_side() {
        let (formula, inputs) = skewed();
        let (_, ends) = kept(&Sampler::new(&formula, &inputs, 1, 2.0), 200_000, 0.95, &Alone);
        assert!(ends.shortest_low < ends.low && ends.shortest_high - ends.shortest_low < ends.high - ends.low);
    }

    #[test]
    fn the_tolerance_is_half_a_unit_of_the_second_digit() {
        for (u, wanted) in [(0.35, 0.005), (2.0, 0.05), (0.0997, 0.005), (31.71, 0.5), (9.94, 0.05), (0.0, 0.0)] {
            assert!((tolerance(u) - wanted).abs() <= 1e-12 * wanted, "{u}: {}", tolerance(u));
        }
    }
}
