//! What the readings teach: the whole history of one part at once, and whether a reading can be right.
//!
//! Unknowns z are standard normals: 11 start values, two noises a cut, and what is drawn anew when a tool, a chucking, a day or a gauge
//! changes. The mode of ½|z|² + ½Σ((y − g(z))/u)² is found by Gauss-Newton over the whole history after every reading, its spread from
//! the curvature there (Laplace). It leaves to others what to do about it (`next_cut`, `advice`).
//! Limits: Gaussian noises; first order round the mode (within 1 µm and 10 % of u of importance sampling, see the checks).
//!
//! The step is taken in the space of the readings: with rows J of slopes in units of their noise, S = I + J Jᵀ,
//! z ← Jᵀ S⁻¹ (r + J z), and the variance of a figure with slopes g is g·g − (J g)ᵀ S⁻¹ (J g): as good as (I + Jᵀ J)⁻¹ and smaller,
//! since there are fewer readings than unknowns. Source: Bayes' rule, Gauss-Newton, the matrix inversion lemma (any text).

use super::model::{Lathe, Noise, Normal, STARTS, Sight, State};
use super::slope::{Slope, dot};

/// Rounds of Gauss-Newton before it is said that it did not settle.
const MOST_ROUNDS: usize = 40;
/// A step shorter than this is the end, in standard deviations. Source: the turning page.
const SETTLED: f64 = 1e-8;
/// Halvings of a step that does not help.
const MOST_HALVINGS: usize = 12;
/// Beyond this many standard deviations a reading can't be right. Source: the turning page (by simulation).
pub const SUSPECT: f64 = 3.5;
/// Spread given to a tool or a gauge that may have moved, mm. Source: the turning page (by simulation).
const MOVED_MM: f64 = 0.050;
/// Spread given to a part temperature that may have moved, K. Source: the turning page (by simulation).
const MOVED_K: f64 = 10.0;
/// Spread given to the air when two air temperatures agree that it moved, K. Source: *common practice*.
const MOVED_AIR_K: f64 = 5.0;
/// Noise under which a thermometer is taken as this good, K: a noise of nothing would make the sums singular.
const LEAST_NOISE_K: f64 = 1e-4;

/// What happened at the lathe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A reading of `sight`, the mean of `n`.
    Seen {
        /// What was read.
        sight: Sight,
        /// °C or mm.
        value: f64,
        /// How many readings it is the mean of.
        n: f64,
    },
    /// Time without a cut, s.
    Cool(f64),
    /// A cut at that command, mm.
    Cut(f64),
    /// Another tool, or a new edge.
    Tool,
    /// Taken out of the chuck and put back.
    Chuck,
    /// The next morning.
    Day,
}

/// What may have moved unseen, or was drawn anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Change {
    Tool,
    Chuck,
    Day,
    MovedTool,
    MovedGauge,
    MovedPart,
    MovedAir,
}

impl Change {
    const fn unknowns(self) -> usize {
        match self {
            Self::Tool => 2,
            Self::Day => 3,
            _ => 1,
        }
    }
}

/// One step of the history as the filter keeps it; `z` is the number of its first unknown.
#[derive(Clone, Copy, Debug)]
enum Step {
    Cool(f64),
    Cut { command_mm: f64, first: bool, z: usize },
    Change { change: Change, z: usize },
    See { sight: Sight, mean: f64, n: f64 },
}

/// There are more unknowns than this width of the filter holds: take a wider one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Full;

/// A reading that was set aside.
#[derive(Clone, Copy, Debug)]
struct Aside {
    /// Where it would stand among the steps.
    at: usize,
    mean: f64,
    n: f64,
    /// Reading less prediction.
    off: f64,
}

/// What one reading did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// Reading less prediction, in standard deviations; 0 for the very first, which has nothing to be judged by.
    pub innovation: f64,
    /// Set aside.
    pub suspect: bool,
    /// Size if it were kept, mm over the nominal, and its u; only of a suspect size reading.
    pub if_kept: Option<Normal>,
    /// Two that agree: both were kept, and something moved.
    pub moved: bool,
}

/// The filter, for up to `W` unknowns.
#[derive(Clone, Debug)]
pub struct Filter<const W: usize> {
    /// What was believed at the start.
    pub lathe: Lathe,
    steps: Vec<Step>,
    z: [f64; W],
    unknowns: usize,
    /// One row a reading that is kept: its slopes in units of its noise; beside it its residual.
    rows: Vec<[f64; W]>,
    residuals: Vec<f64>,
    /// Lower triangle of the root of S, row by row.
    root: Vec<f64>,
    end: State<W>,
    /// The next cut is the first of its set-up.
    fresh: bool,
    set: Option<usize>,
    aside: [Option<Aside>; 3],
    seen: [bool; 2],
    /// Where the readings since the last good gauge check begin.
    unchecked_from: usize,
    /// Sum of squared innovations of this part, and how many.
    pub misfit: Misfit,
    /// The mode was not found within the limit at some reading.
    pub unsettled: bool,
    /// Cuts so far.
    pub cuts: usize,
}

/// Squared innovations: do the readings still fit what is believed?
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Misfit {
    /// Sum of the squares.
    pub sum: f64,
    /// How many.
    pub n: u32,
}

/// Fewest innovations by which a lathe is judged, and the chance that a good one is doubted. Source: the turning page.
const JUDGED_BY: u32 = 6;
const DOUBTED: f64 = 0.01;

impl Misfit {
    /// By how much every u grows: √(S/n) where S is over the 99 % point of χ²(n) and n is 6 or more, else 1.
    pub fn factor(&self) -> f64 {
        let n = f64::from(self.n);
        if self.n >= JUDGED_BY && self.sum > n && crate::distributions::chi_square_over(self.sum, self.n) < DOUBTED {
            (self.sum / n).sqrt()
        } else {
            1.0
        }
    }

    fn add(&mut self, innovation: f64) {
        self.sum += innovation * innovation;
        self.n += 1;
    }
}

const fn pair_of(sight: Sight) -> usize {
    match sight {
        Sight::Size | Sight::Check => 0,
        Sight::Part => 1,
        Sight::Air => 2,
    }
}

impl<const W: usize> Filter<W> {
    /// Before the first event. `earlier`: the innovations of this lathe's last parts.
    pub fn new(lathe: Lathe, earlier: Misfit) -> Self {
        let z = [0.0; W];
        Self {
            lathe,
            steps: Vec::with_capacity(32),
            z,
            unknowns: STARTS,
            rows: Vec::with_capacity(24),
            residuals: Vec::with_capacity(24),
            root: Vec::with_capacity(300),
            end: State::start(&lathe, &[0.0; STARTS]),
            fresh: true,
            set: None,
            aside: [None; 3],
            seen: [false; 2],
            unchecked_from: 0,
            misfit: earlier,
            unsettled: false,
            cuts: 0,
        }
    }

    /// Takes the next event. Only a reading is judged.
    pub fn take(&mut self, event: Event) -> Result<Option<Judged>, Full> {
        match event {
            Event::Seen { sight: Sight::Check, value, n } => return self.check(value, n).map(Some),
            Event::Seen { sight, value, n } => return self.read(sight, value, n).map(Some),
            Event::Cool(dt_s) => self.push(Step::Cool(dt_s)),
            Event::Cut(command_mm) => {
                let z = self.unknowns(2)?;
                let first = std::mem::replace(&mut self.fresh, false);
                self.cuts += 1;
                self.push(Step::Cut { command_mm, first, z });
            }
            Event::Tool => {
                self.change(Change::Tool)?;
                self.fresh = true;
            }
            Event::Chuck => self.change(Change::Chuck)?,
            Event::Day => self.change(Change::Day)?,
        }
        self.set = None;
        Ok(None)
    }

    fn change(&mut self, change: Change) -> Result<(), Full> {
        let z = self.unknowns(change.unknowns())?;
        self.push(Step::Change { change, z });
        Ok(())
    }

    fn unknowns(&mut self, more: usize) -> Result<usize, Full> {
        let z = self.unknowns;
        if z + more > W {
            return Err(Full);
        }
        self.unknowns += more;
        Ok(z)
    }

    /// A step after which nothing is read yet: the end moves on along the slopes that it has.
    fn push(&mut self, step: Step) {
        self.steps.push(step);
        go(&self.lathe, &step, &self.z, &mut self.end);
    }

    fn read(&mut self, sight: Sight, value: f64, n: f64) -> Result<Judged, Full> {
        let (off, sd) = self.innovation(sight, value, n);
        let pair = pair_of(sight);
        let first = match sight {
            Sight::Size => false,
            Sight::Part => !std::mem::replace(&mut self.seen[0], true),
            _ => !std::mem::replace(&mut self.seen[1], true),
        };
        let innovation = if first { 0.0 } else { off / sd };
        let again = self.again(sight);
        if !first && !again {
            self.misfit.add(innovation);
        }
        if first || innovation.abs() <= SUSPECT {
            self.aside[pair] = None;
            self.keep(sight, value, n);
            self.settle();
            return Ok(Judged { innovation, suspect: false, if_kept: None, moved: false });
        }
        let noise = self.noise(sight, 1.0);
        let found = Aside { at: self.steps.len(), mean: value, n, off };
        match self.aside[pair].filter(|before| (before.off - off).abs() <= SUSPECT * std::f64::consts::SQRT_2 * noise) {
            Some(before) => {
                self.aside[pair] = None;
                self.keep_both(sight, before, found)?;
                Ok(Judged { innovation, suspect: false, if_kept: None, moved: true })
            }
            None => {
                self.aside[pair] = Some(found);
                let if_kept = (sight == Sight::Size).then(|| self.if_kept(value, n));
                Ok(Judged { innovation, suspect: true, if_kept, moved: false })
            }
        }
    }

    /// Whether the last thing that happened was a reading of the same kind, kept or set aside.
    fn again(&self, sight: Sight) -> bool {
        let same = |step: &Step| matches!(step, Step::See { sight: before, .. } if *before == sight);
        self.set_aside_here(sight) || self.steps.iter().rev().take_while(|step| matches!(step, Step::See { .. })).any(same)
    }

    fn set_aside_here(&self, sight: Sight) -> bool {
        let here = |aside: &Aside| self.steps[aside.at.min(self.steps.len())..].iter().all(|step| matches!(step, Step::See { .. }));
        self.aside[pair_of(sight)].as_ref().is_some_and(here)
    }

    /// Reading less prediction, and the standard deviation of that difference.
    fn innovation(&self, sight: Sight, value: f64, n: f64) -> (f64, f64) {
        let predicted = self.end.seen(&self.lathe, sight);
        let noise = self.noise(sight, n);
        (value - predicted.v, (self.variance(&predicted.d) + noise * noise).sqrt())
    }

    fn noise(&self, sight: Sight, n: f64) -> f64 {
        let lathe = &self.lathe;
        let (u, least) = match sight {
            Sight::Air => (lathe.ambient_reading_u_K, LEAST_NOISE_K),
            Sight::Part => (lathe.temperature_u_K, LEAST_NOISE_K),
            Sight::Size | Sight::Check => (lathe.reading_u_mm, 0.0),
        };
        lathe.mean_of(u, n).max(least)
    }

    /// A reading among the steps, size readings of one set as their mean.
    fn keep(&mut self, sight: Sight, value: f64, n: f64) {
        let open = self.set.and_then(|at| self.steps.get_mut(at));
        if let (Sight::Size, Some(Step::See { mean, n: before, .. })) = (sight, open) {
            *mean = (*mean * *before + value * n) / (*before + n);
            *before += n;
            return;
        }
        if sight == Sight::Size {
            self.set = Some(self.steps.len());
        }
        self.steps.push(Step::See { sight, mean: value, n });
    }

    fn if_kept(&self, value: f64, n: f64) -> Normal {
        let mut other = self.clone();
        other.keep(Sight::Size, value, n);
        other.settle();
        other.figure(&other.end.d)
    }

    /// Two that agree: what they may have seen move is set free before the first of them, and both are kept.
    fn keep_both(&mut self, sight: Sight, first: Aside, second: Aside) -> Result<(), Full> {
        let mut at = first.at;
        if sight == Sight::Size {
            let cut = self.steps[..at].iter().rposition(|step| matches!(step, Step::Cut { .. }));
            if let Some(cut) = cut {
                self.insert(cut, Change::MovedTool)?;
                at += 1;
            }
            self.insert(at, Change::MovedGauge)?;
        } else {
            self.insert(at, if sight == Sight::Part { Change::MovedPart } else { Change::MovedAir })?;
        }
        self.set = None;
        let between = self.steps[at + 1..].iter().any(|step| !matches!(step, Step::See { .. }));
        if sight == Sight::Size && !between {
            let n = first.n + second.n;
            self.steps.push(Step::See { sight, mean: (first.mean * first.n + second.mean * second.n) / n, n });
        } else {
            self.steps.insert(at + 1, Step::See { sight, mean: first.mean, n: first.n });
            self.steps.push(Step::See { sight, mean: second.mean, n: second.n });
        }
        self.set = (sight == Sight::Size).then(|| self.steps.len() - 1);
        self.settle();
        Ok(())
    }

    fn insert(&mut self, at: usize, change: Change) -> Result<(), Full> {
        let z = self.unknowns(change.unknowns())?;
        self.steps.insert(at, Step::Change { change, z });
        for aside in self.aside.iter_mut().flatten().filter(|aside| aside.at >= at) {
            aside.at += 1;
        }
        if self.unchecked_from > at {
            self.unchecked_from += 1;
        }
        self.set = self.set.map(|set| if set >= at { set + 1 } else { set });
        Ok(())
    }

    /// The gauge on its standard. Beyond the limit it moved before the first size reading since the last good check.
    fn check(&mut self, value: f64, n: f64) -> Result<Judged, Full> {
        let (off, sd) = self.innovation(Sight::Check, value, n);
        let innovation = off / sd;
        let moved = innovation.abs() > SUSPECT;
        if moved {
            let size = |step: &Step| matches!(step, Step::See { sight: Sight::Size, .. });
            let first = self.steps[self.unchecked_from..].iter().position(size).map(|at| at + self.unchecked_from);
            self.insert(first.unwrap_or(self.steps.len()), Change::MovedGauge)?;
        }
        self.steps.push(Step::See { sight: Sight::Check, mean: value, n });
        self.set = None;
        self.settle();
        if !moved {
            self.unchecked_from = self.steps.len();
        }
        Ok(Judged { innovation, suspect: false, if_kept: None, moved })
    }

    /// Gauss-Newton over the whole history, from where the mode was.
    fn settle(&mut self) {
        let mut best = self.pass(self.z);
        for _ in 0..MOST_ROUNDS {
            let wanted = self.wanted();
            let mut step: [f64; W] = std::array::from_fn(|i| wanted[i] - self.z[i]);
            let length = dot(&step, &step).sqrt();
            if length <= SETTLED {
                return;
            }
            let from = self.z;
            for halving in 0.. {
                let trial = std::array::from_fn(|i| from[i] + step[i]);
                let cost = self.pass(trial);
                if cost <= best * (1.0 + 1e-12) {
                    best = cost;
                    break;
                }
                if halving == MOST_HALVINGS || length < 1e-6 {
                    // Rounding alone stands in the way: this is the mode.
                    self.pass(from);
                    self.unsettled |= length > 1e-3;
                    return;
                }
                step = step.map(|s| 0.5 * s);
            }
        }
        self.unsettled = true;
    }

    /// The whole history at `z`: end, rows, residuals, root of S; gives the cost.
    fn pass(&mut self, z: [f64; W]) -> f64 {
        self.z = z;
        self.rows.clear();
        self.residuals.clear();
        let mut state = State::start(&self.lathe, &std::array::from_fn(|i| z[i]));
        let mut cost = 0.5 * dot(&z, &z);
        for step in &self.steps {
            if let Step::See { sight, mean, n } = *step {
                let seen = state.seen(&self.lathe, sight);
                let weight = 1.0 / self.noise(sight, n);
                let residual = (mean - seen.v) * weight;
                self.rows.push(seen.d.map(|d| d * weight));
                self.residuals.push(residual);
                cost += 0.5 * residual * residual;
            } else {
                go(&self.lathe, step, &z, &mut state);
            }
        }
        self.end = state;
        self.factor();
        cost
    }

    /// Root of S = I + J Jᵀ (Cholesky).
    fn factor(&mut self) {
        let m = self.rows.len();
        self.root.clear();
        for i in 0..m {
            let start = self.root.len();
            for j in 0..=i {
                let row = j * (j + 1) / 2;
                let mut sum = dot(&self.rows[i], &self.rows[j]) + f64::from(u8::from(i == j));
                for l in 0..j {
                    sum -= self.root[start + l] * self.root[row + l];
                }
                let entry = if i == j { sum.max(1.0).sqrt() } else { sum / self.root[row + j] };
                self.root.push(entry);
            }
        }
    }

    /// x ← L⁻¹ x.
    fn forward(&self, x: &mut [f64]) {
        for i in 0..x.len() {
            let row = i * (i + 1) / 2;
            let mut sum = x[i];
            for l in 0..i {
                sum -= self.root[row + l] * x[l];
            }
            x[i] = sum / self.root[row + i];
        }
    }

    /// Where Gauss-Newton wants the unknowns: Jᵀ S⁻¹ (r + J z).
    fn wanted(&self) -> [f64; W] {
        let m = self.rows.len();
        let mut y: Vec<f64> = self.rows.iter().zip(&self.residuals).map(|(row, residual)| residual + dot(row, &self.z)).collect();
        self.forward(&mut y);
        for i in (0..m).rev() {
            let row = i * (i + 1) / 2;
            y[i] /= self.root[row + i];
            for l in 0..i {
                y[l] -= self.root[row + l] * y[i];
            }
        }
        let mut wanted = [0.0; W];
        for (row, y) in self.rows.iter().zip(&y) {
            for i in 0..W {
                wanted[i] += row[i] * y;
            }
        }
        wanted
    }

    /// L⁻¹ J g: what the readings take off the variance of a figure with the slopes `g`.
    pub fn known(&self, g: &[f64; W]) -> Vec<f64> {
        let mut x: Vec<f64> = self.rows.iter().map(|row| dot(row, g)).collect();
        self.forward(&mut x);
        x
    }

    /// Variance of a figure with the slopes `g`, after the readings.
    pub fn variance(&self, g: &[f64; W]) -> f64 {
        (dot(g, g) - self.known(g).iter().map(|x| x * x).sum::<f64>()).max(0.0)
    }

    /// Mean and u of a figure, before the misfit factor.
    pub fn figure(&self, figure: &Slope<W>) -> Normal {
        Normal::new(figure.v, self.variance(&figure.d).sqrt())
    }

    /// Part, lathe and gauges now.
    pub const fn now(&self) -> &State<W> {
        &self.end
    }

    /// The state after one more cut at `command_mm`, with its two new noises.
    pub fn after_cut(&self, command_mm: f64) -> Result<State<W>, Full> {
        let z = self.unknowns;
        if z + 2 > W {
            return Err(Full);
        }
        let mut state = self.end;
        go(&self.lathe, &Step::Cut { command_mm, first: self.fresh, z }, &self.z, &mut state);
        Ok(state)
    }

    /// The next cut is the first of its set-up.
    pub const fn first_next(&self) -> bool {
        self.fresh
    }

    /// The newest size reading was set aside.
    pub const fn size_is_suspect(&self) -> bool {
        self.aside[0].is_some()
    }

    /// Whether a size was read since the last good gauge check.
    pub fn gauge_is_unchecked(&self) -> bool {
        self.steps[self.unchecked_from.min(self.steps.len())..].iter().any(|step| matches!(step, Step::See { sight: Sight::Size, .. }))
    }

    /// Mean and variance of the wear of this part's cuts, mm a cut: the mean of its step-1 noises, drift left out of the mean's share.
    ///
    /// None before the second cut of a set-up. Source: the turning page, section e.
    pub fn wear(&self) -> Option<Normal> {
        let lathe = &self.lathe;
        let sd = (lathe.drift_u_mm * lathe.drift_u_mm + lathe.wear_u_mm * lathe.wear_u_mm).sqrt();
        let of = |step: &Step| match *step {
            Step::Cut { first: false, z, .. } => Some(z),
            _ => None,
        };
        let cuts: Vec<usize> = self.steps.iter().filter_map(of).collect();
        if cuts.is_empty() {
            return None;
        }
        let share = 1.0 / cuts.len() as f64;
        let mut g = [0.0; W];
        let mut mean = 0.0;
        for z in cuts {
            g[z] = sd * share;
            mean += sd * share * self.z[z];
        }
        // b grows by s·wear: a noise of b is a noise of wear with the sign of the side.
        Some(Normal::new(lathe.wear_mm + lathe.sign() * mean, self.variance(&g).sqrt()))
    }

    /// b at the first cut of every set-up of this part, in order, mm.
    pub fn first_offsets(&self) -> Vec<Normal> {
        let mut state = State::<W>::start(&self.lathe, &std::array::from_fn(|i| self.z[i]));
        let mut found = Vec::new();
        let mut waiting = true;
        for step in &self.steps {
            match step {
                Step::Change { change: Change::Tool | Change::Chuck | Change::Day, .. } => waiting = true,
                Step::Cut { .. } if std::mem::replace(&mut waiting, false) => found.push(self.figure(&state.b)),
                _ => {}
            }
            go(&self.lathe, step, &self.z, &mut state);
        }
        found
    }
}

/// Carries the state through one step that is not a reading.
fn go<const W: usize>(lathe: &Lathe, step: &Step, z: &[f64; W], state: &mut State<W>) {
    let drawn = |prior: Normal, at: usize| Slope::drawn(prior.mean, prior.sd, z.get(at).copied().unwrap_or(0.0), at);
    let noise = |at: usize| Noise { z: z.get(at).copied().unwrap_or(0.0), at };
    let moved = |sd: f64, at: usize| drawn(Normal::new(0.0, sd), at);
    match *step {
        Step::Cool(dt_s) => state.cool(dt_s),
        Step::Cut { command_mm, first, z } => state.cut(lathe, command_mm, first, [noise(z), noise(z + 1)]),
        Step::Change { change, z } => match change {
            Change::Tool => {
                state.b = drawn(lathe.offset_mm, z);
                state.f = drawn(lathe.spring_back_mm, z + 1);
            }
            Change::Chuck => state.b += moved(lathe.rechuck_u_mm, z),
            Change::Day => {
                state.air = drawn(lathe.ambient_C, z);
                state.T = state.air + moved(lathe.overnight_u_K, z + 1);
                state.b += moved(lathe.rechuck_u_mm, z + 2);
            }
            Change::MovedTool => state.b += moved(MOVED_MM, z),
            Change::MovedGauge => state.bias_m += moved(MOVED_MM, z),
            Change::MovedPart => state.T += moved(MOVED_K, z),
            Change::MovedAir => state.air += moved(MOVED_AIR_K, z),
        },
        Step::See { .. } => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::turn::Side;

    fn lathe() -> Lathe {
        Lathe::usual(Side::Outside, 300.0, Normal::new(302.0, 0.05))
    }

    fn seen(sight: Sight, value: f64) -> Event {
        Event::Seen { sight, value, n: 1.0 }
    }

    fn events() -> Vec<Event> {
        vec![
            seen(Sight::Air, 19.3),
            seen(Sight::Part, 32.7),
            Event::Cut(301.384),
            Event::Cool(180.0),
            seen(Sight::Part, 30.3),
            seen(Sight::Size, 301.445),
            Event::Cool(120.0),
            seen(Sight::Part, 30.8),
            Event::Cut(300.653),
            Event::Cool(180.0),
            seen(Sight::Part, 26.5),
            seen(Sight::Size, 300.719),
        ]
    }

    fn after<const W: usize>(events: &[Event]) -> Filter<W> {
        let mut filter = Filter::new(lathe(), Misfit::default());
        for event in events {
            filter.take(*event).unwrap();
        }
        filter
    }

    #[test]
    fn the_width_of_the_filter_changes_nothing() {
        let (narrow, wide) = (after::<24>(&events()), after::<64>(&events()));
        let size = |d: Normal| (d.mean, d.sd);
        assert!((size(narrow.figure(&narrow.now().d)).0 - size(wide.figure(&wide.now().d)).0).abs() < 1e-12);
        assert!(narrow.z.iter().zip(wide.z).all(|(a, b)| (a - b).abs() < 1e-9));
    }

    #[test]
    fn a_filter_that_is_full_says_so_and_does_not_panic() {
        let mut filter = Filter::<12>::new(lathe(), Misfit::default());
        assert_eq!(filter.take(Event::Cut(301.0)), Err(Full));
    }

    #[test]
    fn a_blunder_moves_the_size_by_less_than_one_standard_uncertainty() {
        let good = after::<24>(&events());
        let mut events = events();
        events.pop();
        events.push(seen(Sight::Size, 300.719 + 0.050));
        let bad = after::<24>(&events);
        let (good, bad) = (good.figure(&good.now().d), bad.figure(&bad.now().d));
        assert!((good.mean - bad.mean).abs() < bad.sd, "{good:?} {bad:?}");
    }

    #[test]
    fn readings_one_by_one_are_their_mean() {
        let mut one_by_one = events();
        one_by_one.extend([seen(Sight::Size, 300.713), seen(Sight::Size, 300.722)]);
        let mut at_once = events();
        at_once.pop();
        at_once.push(Event::Seen { sight: Sight::Size, value: (300.719 + 300.713 + 300.722) / 3.0, n: 3.0 });
        let (a, b) = (after::<24>(&one_by_one), after::<24>(&at_once));
        assert!((a.now().d.v - b.now().d.v).abs() < 1e-9);
        assert!((a.variance(&a.now().d.d) - b.variance(&b.now().d.d)).abs() < 1e-11);
    }

    #[test]
    fn lost_cooling_is_found_by_two_temperatures_that_agree() {
        let mut events = events();
        // 9 K lost to coolant that nobody logged.
        events.extend([Event::Cool(60.0), seen(Sight::Part, 16.0)]);
        let mut filter = after::<24>(&events);
        let judged = filter.take(seen(Sight::Part, 16.4)).unwrap().unwrap();
        assert!(judged.moved, "{judged:?}");
        assert!((filter.now().T.v - 16.2).abs() < 1.5, "{}", filter.now().T.v);
    }
}
