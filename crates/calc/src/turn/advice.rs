//! What pays next: a plan of cuts, readings and waits, stopping, or reading again, by expected loss.
//!
//! From what is known now, each plan is run forward with expected readings (spreads only): cut by cut, the size after the last cut has
//! a mean and a u, and from them the chance of scrap. Loss = blank × P(scrap side) + minutes × price + P(other side) × one more cut.
//! It leaves to others the filter itself. Limits: spreads forward are linear; a plan reads as many times at every cut but the last.
//! Source: expected loss (decision theory); which plans are compared is the turning page's, found by simulation.

use serde::Serialize;

use super::aim::{aim, landing};
use super::command::command_for;
use super::filter::Filter;
use super::model::{Lathe, Noise, Normal, Sight, State, TO_NEXT_CUT_S};
use super::slope::Slope;

/// Readings of size and temperature each time.
pub const READINGS: [u32; 3] = [1, 3, 5];
/// Minutes of waiting before the temperature that precedes the last cut.
pub const WAITS_MIN: [f64; 4] = [0.0, 20.0, 40.0, 60.0];
/// Cuts in all.
pub const CUTS: [usize; 3] = [2, 3, 4];
/// A further size reading and a further temperature, s. Source: the turning page, *common practice*.
pub const SIZE_READING_S: f64 = 45.0;
/// A further temperature, s.
pub const TEMPERATURE_S: f64 = 10.0;
/// More readings that may be taken before going on.
const AGAIN: [u32; 2] = [2, 4];
/// Readings of the gauge on its standard before the last cut, each taking as long as a size reading. *Common practice*: five bring the
/// mean's own noise under the bias that a good stick has.
pub const CHECKS: [u32; 2] = [0, 5];

/// What things cost, in one currency, and what the tool can do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prices {
    /// A part on the side that can't be put back.
    pub blank: f64,
    /// A minute at the lathe.
    pub minute: f64,
    /// Loss of the scrap side over the other, for the aim.
    pub scrap_ratio: f64,
    /// Thinnest radial depth that cuts, mm.
    pub least_depth_mm: f64,
    /// Step of the slide, mm.
    pub step_mm: f64,
}

/// Chance that a part which must be cut once more is lost by that. *Common practice*.
const RISK_OF_ONE_MORE: f64 = 0.005;
/// However dear the blank, one part in forty or so over the band is enough: one more thin cut is no pleasure. *Common practice*.
const LARGEST_RATIO: f64 = 20.0;

/// Loss of the scrap side over that of the other, by prices: the blank over one more cut with its own risk, 1 to 20.
pub fn scrap_ratio(blank: f64, minute: f64, lathe: &Lathe) -> f64 {
    let once_more = minute * (lathe.cut_s + lathe.settle_s + TO_NEXT_CUT_S) / 60.0 + RISK_OF_ONE_MORE * blank;
    if once_more > 0.0 { (blank / once_more).clamp(1.0, LARGEST_RATIO) } else { super::aim::USUAL_SCRAP_RATIO }
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Deed {
    /// Go on with `cuts` more cuts, `readings` each time, and `wait_min` before the temperature that precedes the last.
    Cut {
        /// Cuts that are left.
        cuts: usize,
        /// Readings of size and temperature each time before the last cut.
        readings: u32,
        /// Minutes.
        wait_min: f64,
        /// More readings before the first of them.
        again: u32,
        /// Readings of the gauge on its standard before the last cut.
        check: u32,
    },
    /// The part is done.
    Stop,
    /// That many readings more, then decide.
    Read(u32),
}

/// One way on, and what it is expected to cost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// What to do.
    pub deed: Deed,
    /// Expected loss, in the currency of the prices.
    pub loss: f64,
    /// Minutes from now.
    pub minutes: f64,
    /// Chance that the part then lies in its band.
    pub chance_in_band: f64,
}

/// A way on, in words, as an answer tells it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Told {
    /// What to do.
    #[serde(rename = "do")]
    pub deed: String,
    /// Expected loss, in the currency of the prices.
    pub loss: f64,
    /// Minutes from now.
    pub minutes: f64,
    /// Chance that the part then lies in its band.
    pub chance_in_band: f64,
}

/// Figures of the state that a forward run carries.
const FIGURES: usize = 11;
/// With the two noises of a cut.
const WITH_NOISE: usize = FIGURES + 2;

/// Where a plan has come to: means, and the covariance of the eleven figures of the state.
#[derive(Clone, Copy)]
struct Ahead {
    mean: State<0>,
    cov: [[f64; FIGURES]; FIGURES],
    first: bool,
}

const fn figures<const W: usize>(state: &State<W>) -> [&Slope<W>; FIGURES] {
    let State { d, b, k, f, alpha, T, air, h, tau, bias_T, bias_m } = state;
    [d, b, k, f, alpha, T, air, h, tau, bias_T, bias_m]
}

/// The state's means with a slope of one for each of its figures.
fn seeded(mean: &State<0>) -> State<WITH_NOISE> {
    let at = |figure: &Slope<0>, i: usize| Slope::drawn(figure.v, 1.0, 0.0, i);
    State {
        d: at(&mean.d, 0),
        b: at(&mean.b, 1),
        k: at(&mean.k, 2),
        f: at(&mean.f, 3),
        alpha: at(&mean.alpha, 4),
        T: at(&mean.T, 5),
        air: at(&mean.air, 6),
        h: at(&mean.h, 7),
        tau: at(&mean.tau, 8),
        bias_T: at(&mean.bias_T, 9),
        bias_m: at(&mean.bias_m, 10),
    }
}

impl Ahead {
    fn now<const W: usize>(filter: &Filter<W>, factor: f64) -> Self {
        let state = figures(filter.now());
        let known = state.map(|figure| filter.known(&figure.d));
        let mut cov = [[0.0; FIGURES]; FIGURES];
        for i in 0..FIGURES {
            for j in 0..=i {
                let taken: f64 = known[i].iter().zip(&known[j]).map(|(a, b)| a * b).sum();
                let both = (state[i].dot(state[j]) - taken) * factor * factor;
                cov[i][j] = both;
                cov[j][i] = both;
            }
        }
        Self { mean: filter.now().bare(), cov, first: filter.first_next() }
    }

    /// Carries means and covariance through a change of the state: only the rows of d, b and T change in a cut or while cooling.
    fn through(&mut self, after: &State<WITH_NOISE>) {
        let rows = [(0, &after.d), (1, &after.b), (5, &after.T)];
        let mut new = self.cov;
        // F P, row by row, then the changed columns.
        let mut half = [[0.0; FIGURES]; 3];
        for (half, (_, figure)) in half.iter_mut().zip(rows) {
            for j in 0..FIGURES {
                half[j] = (0..FIGURES).map(|i| figure.d[i] * self.cov[i][j]).sum();
            }
        }
        for (half, (row, _)) in half.iter().zip(rows) {
            for j in 0..FIGURES {
                new[row][j] = half[j];
                new[j][row] = half[j];
            }
        }
        for (half, (row, one)) in half.iter().zip(rows) {
            for (column, other) in rows {
                let noise = one.d[FIGURES] * other.d[FIGURES] + one.d[FIGURES + 1] * other.d[FIGURES + 1];
                new[row][column] = (0..FIGURES).map(|j| half[j] * other.d[j]).sum::<f64>() + noise;
            }
        }
        self.cov = new;
        self.mean = after.bare();
    }

    fn cool(&mut self, dt_s: f64) {
        let mut state = seeded(&self.mean);
        state.cool(dt_s);
        self.through(&state);
    }

    fn cut(&mut self, lathe: &Lathe, command_mm: f64) {
        let mut state = seeded(&self.mean);
        let noise = |at: usize| Noise { z: 0.0, at: FIGURES + at };
        state.cut(lathe, command_mm, self.first, [noise(0), noise(1)]);
        self.first = false;
        self.through(&state);
    }

    /// An expected reading: the means stay, the covariance shrinks.
    fn read(&mut self, lathe: &Lathe, sight: Sight, n: u32) {
        let seen = seeded(&self.mean).seen(lathe, sight);
        let u = if matches!(sight, Sight::Size | Sight::Check) { lathe.reading_u_mm } else { lathe.temperature_u_K };
        let noise = lathe.mean_of(u, f64::from(n));
        let towards: [f64; FIGURES] = std::array::from_fn(|i| (0..FIGURES).map(|j| self.cov[i][j] * seen.d[j]).sum());
        let variance: f64 = (0..FIGURES).map(|i| seen.d[i] * towards[i]).sum::<f64>() + noise * noise;
        if variance > 0.0 {
            for i in 0..FIGURES {
                for j in 0..FIGURES {
                    self.cov[i][j] -= towards[i] * towards[j] / variance;
                }
            }
        }
    }

    fn size(&self) -> Normal {
        Normal::new(self.mean.d.v, self.cov[0][0].max(0.0).sqrt())
    }
}

/// What a forward run is asked about: limits over the nominal, and prices.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// Lower and upper limit, mm over the nominal.
    pub band: (f64, f64),
    /// What things cost.
    pub prices: Prices,
    /// Cuts that must still come before the last may: 2 after a tool change or a re-chuck, else 1.
    pub least_cuts: usize,
    /// Factor on every u while the readings do not fit.
    pub factor: f64,
}

impl Question {
    /// Loss of a part that will be `size`, without the minutes on the way.
    fn loss(&self, lathe: &Lathe, size: Normal) -> (f64, f64) {
        let landed = landing(size.mean, self.band.0, self.band.1, size.sd);
        let (scrap, other) =
            if lathe.sign() > 0.0 { (landed.chance_under, landed.chance_over) } else { (landed.chance_over, landed.chance_under) };
        let again = self.prices.minute * (lathe.cut_s + lathe.settle_s + TO_NEXT_CUT_S) / 60.0;
        (self.prices.blank * scrap + other * again, landed.chance_in_band)
    }

    /// Where to aim with that spread, over the nominal.
    fn aim(&self, lathe: &Lathe, sd: f64) -> f64 {
        aim(lathe.side, self.band.0, self.band.1, sd, self.prices.scrap_ratio).aim_mm
    }
}

/// Time of the further readings of one set, the first of each being part of the clock, s.
pub fn further_s(sizes: u32, temperatures: u32) -> f64 {
    f64::from(sizes.saturating_sub(1)) * SIZE_READING_S + f64::from(temperatures.saturating_sub(1)) * TEMPERATURE_S
}

/// Every way on, the least loss first.
///
/// Cuts are offered while the part can be cut by two least depths of the diameter; stopping and reading again once a cut was made and the
/// mean lies inside the limits or past the side that can't be put back. Reading again is worth what the choice after it is worth: the mean
/// over what the readings may say (a normal spread, 16 equal shares).
pub fn ways<const W: usize>(filter: &Filter<W>, question: &Question) -> Vec<Way> {
    let lathe = &filter.lathe;
    let now = Ahead::now(filter, question.factor);
    let s = lathe.sign();
    let size = now.size();
    let mut ways = Vec::with_capacity(64);
    let room = s * (size.mean - question.aim(lathe, lathe.slide_u_mm.max(size.sd)));
    let can_cut = room >= 2.0 * question.prices.least_depth_mm;
    if can_cut {
        cuts(filter, &now, question, &mut ways);
    }
    let far = if s > 0.0 { question.band.1 } else { question.band.0 };
    if filter.cuts > 0 && s * (size.mean - far) <= 0.0 || !can_cut {
        let (loss, chance_in_band) = question.loss(lathe, size);
        ways.push(Way { deed: Deed::Stop, loss, minutes: 0.0, chance_in_band });
        if filter.cuts > 0 {
            for n in AGAIN {
                ways.push(read_again(&now, question, lathe, n, can_cut));
            }
        }
    }
    ways.sort_by(|a, b| a.loss.total_cmp(&b.loss));
    ways
}

/// The cutting plans.
fn cuts<const W: usize>(filter: &Filter<W>, now: &Ahead, question: &Question, ways: &mut Vec<Way>) {
    let lathe = &filter.lathe;
    let left = CUTS.iter().map(|all| all.saturating_sub(filter.cuts).max(question.least_cuts));
    let mut seen = 0;
    let again = if filter.cuts > 0 { &[0, AGAIN[0], AGAIN[1]][..] } else { &[0][..] };
    for cuts in left {
        if cuts == seen {
            continue;
        }
        seen = cuts;
        // Reading again is weighed before the nearest end only: before more cuts they are read anyway.
        for again in again.iter().take(if ways.is_empty() { again.len() } else { 1 }) {
            let mut start = *now;
            if *again > 0 {
                start.read(lathe, Sight::Part, *again);
                start.read(lathe, Sight::Size, *again);
            }
            for readings in READINGS.into_iter().take(if cuts == 1 { 1 } else { READINGS.len() }) {
                // A gauge that was checked since its last reading has nothing more to tell; of two ways to end, both are worth weighing.
                let checks = if filter.cuts == 0 || filter.gauge_is_unchecked() { CHECKS.len() } else { 1 };
                plan(&start, question, lathe, Plan { cuts, readings, again: *again, made: filter.cuts > 0, checks }, ways);
            }
        }
    }
}

#[derive(Clone, Copy)]
struct Plan {
    cuts: usize,
    readings: u32,
    again: u32,
    made: bool,
    checks: usize,
}

/// One plan of cuts, with each wait before the last.
fn plan(start: &Ahead, question: &Question, lathe: &Lathe, plan: Plan, ways: &mut Vec<Way>) {
    let mut ahead = *start;
    let mut seconds = f64::from(plan.again) * (SIZE_READING_S + TEMPERATURE_S);
    let one_cut = lathe.cut_s + lathe.settle_s;
    let middle = 0.5 * (question.band.0 + question.band.1);
    for left in (2..=plan.cuts).rev() {
        seconds += one_cut + if plan.made || left < plan.cuts { TO_NEXT_CUT_S } else { 0.0 };
        let target = middle + (ahead.mean.d.v - middle) * (left - 1) as f64 / left as f64;
        let command = command_for(lathe, &ahead.mean, ahead.first, target, 0.0);
        ahead.cut(lathe, command);
        ahead.cool(lathe.settle_s);
        ahead.read(lathe, Sight::Part, plan.readings);
        ahead.read(lathe, Sight::Size, plan.readings);
        seconds += further_s(plan.readings, plan.readings);
        ahead.cool(TO_NEXT_CUT_S);
    }
    seconds += one_cut + if plan.made || plan.cuts > 1 { TO_NEXT_CUT_S } else { 0.0 };
    for check in CHECKS.into_iter().take(plan.checks) {
        let mut checked = ahead;
        if check > 0 {
            checked.read(lathe, Sight::Check, check);
        }
        last_cut(&checked, seconds + f64::from(check) * SIZE_READING_S, check, question, lathe, plan, ways);
    }
}

/// The last cut of a plan, with each wait before it; `ahead` has come to it in `seconds`.
fn last_cut(ahead: &Ahead, seconds: f64, check: u32, question: &Question, lathe: &Lathe, plan: Plan, ways: &mut Vec<Way>) {
    let middle = 0.5 * (question.band.0 + question.band.1);
    let mut least = f64::INFINITY;
    for wait_min in WAITS_MIN {
        // A wait that costs more than all that is left to win needs no run.
        if wait_min * question.prices.minute >= least {
            break;
        }
        let mut last = *ahead;
        if wait_min > 0.0 {
            last.cool(60.0 * wait_min);
        }
        if wait_min > 0.0 || plan.cuts > 1 {
            last.read(lathe, Sight::Part, plan.readings);
        }
        let command = command_for(lathe, &last.mean, last.first, middle, 0.0);
        last.cut(lathe, command);
        // Where to aim depends on the spread, and the spread hardly on the aim.
        let sd = last.size().sd;
        let size = Normal::new(question.aim(lathe, sd), sd);
        let (loss, chance_in_band) = question.loss(lathe, size);
        least = least.min(loss);
        let minutes = seconds / 60.0 + wait_min;
        let deed = Deed::Cut { cuts: plan.cuts, readings: plan.readings, wait_min, again: plan.again, check };
        ways.push(Way { deed, loss: loss + minutes * question.prices.minute, minutes, chance_in_band });
    }
}

/// Shares into which what a reading may say is cut.
const SHARES: usize = 16;

/// Reading again, then the better of stopping and one more cut.
fn read_again(now: &Ahead, question: &Question, lathe: &Lathe, n: u32, can_cut: bool) -> Way {
    let minutes = f64::from(n) * (SIZE_READING_S + TEMPERATURE_S) / 60.0;
    let before = now.size();
    let mut after = *now;
    after.read(lathe, Sight::Part, n);
    after.read(lathe, Sight::Size, n);
    let sd = after.size().sd;
    let spread = (before.sd * before.sd - sd * sd).max(0.0).sqrt();
    let once_more = can_cut.then(|| {
        let mut cut = after;
        let command = command_for(lathe, &cut.mean, cut.first, question.aim(lathe, sd), 0.0);
        cut.cut(lathe, command);
        let sd = cut.size().sd;
        let (loss, chance) = question.loss(lathe, Normal::new(question.aim(lathe, sd), sd));
        (loss + question.prices.minute * (lathe.cut_s + lathe.settle_s + TO_NEXT_CUT_S) / 60.0, chance)
    });
    let mut mean = (0.0, 0.0);
    for share in 0..SHARES {
        let z = crate::distributions::normal_quantile((share as f64 + 0.5) / SHARES as f64);
        let stop = question.loss(lathe, Normal::new(before.mean + spread * z, sd));
        let best = once_more.filter(|more| more.0 < stop.0).unwrap_or(stop);
        mean = (mean.0 + best.0 / SHARES as f64, mean.1 + best.1 / SHARES as f64);
    }
    Way { deed: Deed::Read(n), loss: mean.0 + minutes * question.prices.minute, minutes, chance_in_band: mean.1 }
}

impl Way {
    /// This way in words.
    pub fn told(&self) -> Told {
        Told { deed: self.deed.words(), loss: self.loss, minutes: self.minutes, chance_in_band: self.chance_in_band }
    }
}

impl Deed {
    /// What to do, in words.
    pub fn words(&self) -> String {
        match *self {
            Self::Stop => "stop: the part is done".into(),
            Self::Read(n) => format!("read size and temperature {} more, then decide", times(n)),
            Self::Cut { cuts, readings, wait_min, again, check } => {
                let mut words = String::new();
                if again > 0 {
                    words += &format!("read size and temperature {} more, then ", times(again));
                }
                words += &match cuts {
                    1 => "the last cut".to_owned(),
                    _ => format!("{cuts} equal cuts, size and temperature read {} between them", times(readings)),
                };
                if check > 0 {
                    let last = if cuts > 1 { " before the last" } else { "" };
                    words += &format!(", the gauge checked on its standard {}{last}", times(check));
                }
                if wait_min > 0.0 {
                    words += &format!(", after a wait of {wait_min:.0} min{}", if cuts > 1 { " before the last" } else { "" });
                }
                words
            }
        }
    }
}

fn times(n: u32) -> String {
    match n {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}
