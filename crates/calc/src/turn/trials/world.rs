//! The lathe as it really is in a simulated run: what happens to the part, and what gauge and thermometer show of it.
//!
//! A run is a part's start values and the standard normals of all that is random in it: written down (columns of a table of runs) or
//! made afresh from a seed. It leaves to others what is done with the readings (`routines`, `plans`).
//! Source: the model of cutting of `model`; the slide's miss stands inside the bracket of its third step here, as the turning page has it.

use crate::draws::Stream;
use crate::math::{exp, ln};
use crate::refused::Refused;
use crate::turn::model::{Lathe, Noise, Normal, STARTS, Sight, State};
use crate::turn::plan::Side;

/// Nominal size of every run, mm.
pub const NOMINAL_MM: f64 = 300.0;
/// Columns of a run that are there once, then its draws a cut (the number of the cut follows the name).
pub const START_COLUMNS: [&str; 15] = ["Ta", "theta0", "b", "k", "f", "eps", "bT", "bm", "sr", "h", "tau", "d0", "zTa", "ztouch", "zR0"];
/// See [`START_COLUMNS`].
pub const CUT_COLUMNS: [&str; 13] = ["zeta", "zdrift", "zwear", "zkv", "zTc", "zR", "zT", "zRa", "zRb", "zTma", "zTmb", "zTca", "zTcb"];
/// Cuts of a written run.
pub const WRITTEN_CUTS: usize = 3;

/// A written run: its columns in the order of [`START_COLUMNS`] and, a cut, of [`CUT_COLUMNS`].
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// The start values.
    pub start: [f64; START_COLUMNS.len()],
    /// The draws of each cut.
    pub cuts: [[f64; CUT_COLUMNS.len()]; WRITTEN_CUTS],
}

/// Runs to simulate.
#[derive(Clone, Debug)]
pub enum Runs {
    /// Written down.
    Written(Vec<Written>),
    /// Made afresh.
    Fresh {
        /// How many.
        count: usize,
        /// Their seed.
        seed: u64,
    },
}

impl Runs {
    /// How many there are.
    pub const fn len(&self) -> usize {
        match self {
            Self::Written(runs) => runs.len(),
            Self::Fresh { count, .. } => *count,
        }
    }
}

/// What a draw is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Draw {
    /// The slide's miss.
    Slide,
    /// Wander of b.
    Drift,
    /// Wear.
    Wear,
    /// Deflection of this cut.
    Bend,
    /// Temperature before the cut.
    Before,
    /// Size after it.
    Size,
    /// Temperature after it.
    After,
    /// The gauge on its standard.
    Check,
}

/// The streams of fresh runs.
#[derive(Clone, Copy)]
struct Streams {
    start: Stream,
    draws: [Stream; 8],
}

/// Makes runs one at a time.
pub struct Maker<'r> {
    runs: &'r Runs,
    streams: Streams,
}

/// Draws of one run come from this many places of a stream.
const A_RUN: u64 = 2048;
/// Draws of one cut come from this many.
const A_CUT: u64 = 64;

impl<'r> Maker<'r> {
    /// For these runs.
    pub fn new(runs: &'r Runs) -> Self {
        let seed = if let Runs::Fresh { seed, .. } = runs { *seed } else { 0 };
        let named = |name: &str| Stream::new(seed, name);
        let names = ["slide", "drift", "wear", "bend", "before", "size", "after", "check"];
        Self { runs, streams: Streams { start: named("start"), draws: names.map(named) } }
    }

    /// The start of run `i` in a world where `truth` holds: columns of [`START_COLUMNS`].
    fn start(&self, i: usize) -> [f64; START_COLUMNS.len()] {
        match self.runs {
            Runs::Written(runs) => runs[i].start,
            Runs::Fresh { .. } => {
                let at = i as u64 * 32;
                let normal = |k: u64| self.streams.start.normal(at + k);
                let even = |k: u64, low: f64, high: f64| low + (high - low) * self.streams.start.even(at + 16 + k);
                [
                    (22.0 + 3.0 * normal(0)).clamp(14.0, 30.0),
                    even(0, 5.0, 25.0),
                    0.030 * normal(1),
                    even(1, 0.010, 0.040),
                    even(2, 0.002, 0.008),
                    0.03 * normal(2),
                    0.5 * normal(3),
                    0.0025 * normal(4),
                    even(3, 0.003, 0.006),
                    even(4, 1.0, 5.0),
                    2400.0 * exp(0.3 * normal(5)),
                    2.0 + 0.05 * normal(6),
                    normal(7),
                    normal(8),
                    normal(9),
                ]
            }
        }
    }

    /// Mean of draws `from` .. `from` + n of one thing at one cut; cuts count from 0.
    ///
    /// Written runs have one draw of each and two more of the readings. Of fresh runs the mean of n is made at once.
    fn mean(&self, run: usize, cut: usize, draw: Draw, from: u32, n: u32) -> Option<f64> {
        match self.runs {
            Runs::Fresh { .. } => {
                let place = run as u64 * A_RUN + (cut as u64 % (A_RUN / A_CUT)) * A_CUT + u64::from(from) % A_CUT;
                Some(self.streams.draws[draw as usize].normal(place) / f64::from(n).sqrt())
            }
            Runs::Written(runs) => {
                let z = runs.get(run)?.cuts.get(cut)?;
                let (first, more) = match draw {
                    Draw::Slide => (0, None),
                    Draw::Drift => (1, None),
                    Draw::Wear => (2, None),
                    Draw::Bend => (3, None),
                    Draw::Before => (4, Some([11, 12])),
                    Draw::Size => (5, Some([7, 8])),
                    Draw::After => (6, Some([9, 10])),
                    Draw::Check => return None,
                };
                match (from, n, more) {
                    (0, 1, _) => Some(z[first]),
                    (0, 3, Some([a, b])) => Some((z[first] + z[a] + z[b]) / 3.0),
                    _ => None,
                }
            }
        }
    }
}

/// A lathe that differs from the usual one by `truth`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// Its true spreads and means.
    pub lathe: Lathe,
    /// Share of the part's excess over the air by which a thermometer on its skin reads low.
    pub skin_low_share: f64,
}

/// What the usual start values are drawn from, for the change to other ones.
pub const fn usual() -> Lathe {
    Lathe::usual(Side::Outside, NOMINAL_MM, Normal::new(NOMINAL_MM + 2.0, 0.05))
}

/// One part on the true lathe.
pub struct Shop<'m> {
    maker: &'m Maker<'m>,
    run: usize,
    truth: Truth,
    /// The truth about the part.
    pub part: State<0>,
    touch: f64,
    first_reading: f64,
    air_z: f64,
    reading_u_mm: f64,
    /// Cuts so far.
    pub cuts: usize,
    /// Seconds so far: cuts, settling, waits and ways between.
    pub clock_s: f64,
    /// Seconds of further readings, one set a cut.
    pub reading_s: f64,
    taken: [u32; 8],
    /// A draw that the run does not have was asked for.
    pub short: bool,
}

impl<'m> Shop<'m> {
    /// Run `run` before its first cut.
    pub fn new(maker: &'m Maker<'m>, run: usize, truth: Truth) -> Self {
        let [Ta, theta0, b, k, f, eps, bT, bm, sr, h, tau, d0, zTa, ztouch, zR0] = maker.start(run);
        let (usual, told) = (usual(), truth.lathe);
        // The same standard draw of another spread.
        let moved = |x: f64, from: Normal, to: Normal| to.mean + (x - from.mean) * ratio(to.sd, from.sd);
        let plain = |x: f64, from: f64, to: f64| x * ratio(to, from);
        let z = [0.0; STARTS];
        let mut part = State::<0>::start(&told, &z);
        part.d.v = d0;
        part.air.v = moved(Ta, usual.ambient_C, told.ambient_C);
        part.T.v = part.air.v + moved(theta0, usual.over_ambient_K, told.over_ambient_K);
        part.b.v = moved(b, usual.offset_mm, told.offset_mm);
        part.k.v = moved(k, usual.deflection, told.deflection);
        part.f.v = moved(f, usual.spring_back_mm, told.spring_back_mm);
        part.h.v = moved(h, usual.heat_K_per_mm, told.heat_K_per_mm);
        part.alpha.v = told.alpha_per_K * (1.0 + plain(eps, usual.alpha_rel_u, told.alpha_rel_u));
        part.tau.v = told.tau_s * exp(ln(tau / usual.tau_s) * ratio(told.ln_tau_u, usual.ln_tau_u));
        part.bias_T.v = plain(bT, usual.temperature_bias_u_K, told.temperature_bias_u_K);
        part.bias_m.v = plain(bm, usual.gauge_bias_u_mm, told.gauge_bias_u_mm);
        Self {
            maker,
            run,
            truth,
            part,
            touch: ztouch,
            first_reading: zR0,
            air_z: zTa,
            reading_u_mm: plain(sr, usual.reading_u_mm, told.reading_u_mm),
            cuts: 0,
            clock_s: 0.0,
            reading_s: 0.0,
            taken: [0; 8],
            short: false,
        }
    }

    fn z(&mut self, cut: usize, draw: Draw, n: u32) -> f64 {
        let from = self.taken[draw as usize];
        self.taken[draw as usize] += 1;
        let z = self.maker.mean(self.run, cut, draw, from, n);
        self.short |= z.is_none();
        z.unwrap_or(0.0)
    }

    /// Noise of a mean: what the readings of one set share is drawn beside what they do not.
    fn noise(&mut self, cut: usize, draw: Draw, n: u32) -> f64 {
        let share = self.truth.lathe.reading_common_share;
        let own = self.z(cut, draw, n);
        if share > 0.0 && n > 1 {
            // One draw serves both parts: their sum has the variance of the mean.
            return own * f64::from(n).sqrt() * (share + (1.0 - share) / f64::from(n)).sqrt();
        }
        own
    }

    /// Air as the thermometer shows it, °C.
    pub fn air(&self) -> f64 {
        self.part.air.v + self.part.bias_T.v + self.truth.lathe.ambient_reading_u_K * self.air_z
    }

    fn skin(&self) -> f64 {
        self.part.T.v - self.truth.skin_low_share * (self.part.T.v - self.part.air.v) + self.part.bias_T.v
    }

    /// Part temperature before the next cut, the mean of n, °C.
    pub fn before(&mut self, n: u32) -> f64 {
        let z = self.noise(self.cuts, Draw::Before, n);
        self.skin() + self.truth.lathe.temperature_u_K * z
    }

    /// Part temperature after the last cut, the mean of n, °C.
    pub fn after(&mut self, n: u32) -> f64 {
        let z = self.noise(self.cuts.saturating_sub(1), Draw::After, n);
        self.skin() + self.truth.lathe.temperature_u_K * z
    }

    /// Size as the gauge shows it after the last cut, the mean of n, mm, to its last digit.
    pub fn size(&mut self, n: u32) -> f64 {
        let z = self.noise(self.cuts.saturating_sub(1), Draw::Size, n);
        to_um(self.part.seen(&self.truth.lathe, Sight::Size).v + self.reading_u_mm * z)
    }

    /// Size before the first cut, mm: the routine that goes by touch starts from it.
    pub fn size_at_start(&self) -> f64 {
        to_um(self.part.seen(&self.truth.lathe, Sight::Size).v + self.reading_u_mm * self.first_reading)
    }

    /// What the gauge shows on its standard, less the standard, mm.
    pub fn check(&mut self, n: u32) -> f64 {
        let z = self.noise(self.cuts, Draw::Check, n);
        self.part.bias_m.v + self.reading_u_mm * z
    }

    /// A reading can be taken again: a written run has no draws for that.
    pub const fn can_read_again(&self) -> bool {
        matches!(self.maker.runs, Runs::Fresh { .. })
    }

    /// Waits.
    pub fn cool(&mut self, dt_s: f64) {
        self.part.cool(dt_s);
        self.clock_s += dt_s;
    }

    /// The tool for this cut: b wears and wanders from the second cut on; gives deflection and spring-back of this cut.
    fn tool(&mut self) -> (f64, f64) {
        let lathe = self.truth.lathe;
        let cut = self.cuts;
        for draw in 0..4 {
            self.taken[draw] = 0;
        }
        if cut > 0 {
            let (wear, drift) = (self.z(cut, Draw::Wear, 1), self.z(cut, Draw::Drift, 1));
            self.part.b.v += lathe.wear_mm + lathe.wear_u_mm * wear + lathe.drift_u_mm * drift;
        }
        let bend = self.part.k.v * (1.0 + lathe.deflection_rel_u * self.z(cut, Draw::Bend, 1));
        let miss = self.part.f.v + lathe.slide_u_mm * self.z(cut, Draw::Slide, 1);
        (bend, miss)
    }

    fn done(&mut self) {
        self.cuts += 1;
        self.clock_s += self.truth.lathe.cut_s;
        self.taken = [0; 8];
    }

    /// Cuts at the command.
    pub fn cut(&mut self, command_mm: f64) {
        let (k, f) = (self.part.k, self.part.f);
        (self.part.k.v, self.part.f.v) = self.tool();
        let quiet = Lathe { slide_u_mm: 0.0, deflection_rel_u: 0.0, ..self.truth.lathe };
        self.part.cut(&quiet, command_mm, true, [Noise::NONE; 2]);
        (self.part.k, self.part.f) = (k, f);
        self.done();
    }

    /// Cuts by an infeed from the warm surface, found by touch (0.010 mm).
    pub fn cut_from_touch(&mut self, infeed_mm: f64) {
        let lathe = self.truth.lathe;
        let (k, f) = self.tool();
        let touch = 0.010 * self.touch;
        let part = &mut self.part;
        let E = exp(-lathe.cut_s / (2.0 * part.tau.v));
        let c = part.hot(&lathe, part.T).v - infeed_mm + touch;
        let a = (infeed_mm - touch) / 2.0;
        let T1 = part.air.v + (part.T.v - part.air.v) * E;
        let Tm = T1 + part.h.v * a / 2.0;
        let warm = 1.0 + part.alpha.v * (Tm - 20.0);
        let there = (NOMINAL_MM + part.d.v) * warm;
        let left = (c + f + k * there / 2.0) / (1.0 + k / 2.0);
        if left < there {
            part.d.v = left / warm - NOMINAL_MM;
        }
        part.T.v = part.air.v + (Tm - part.air.v) * E + part.h.v * a / 2.0;
        self.done();
    }
}

fn ratio(to: f64, from: f64) -> f64 {
    if from > 0.0 { to / from } else { 1.0 }
}

/// To the gauge's last digit, 0.001 mm.
pub fn to_um(x: f64) -> f64 {
    (x * 1e3).round() / 1e3
}

/// Reads the text of a table of runs: a line of names, then one run a line, commas between.
pub fn from_csv(text: &str) -> Result<Vec<Written>, Refused> {
    let mut lines = text.trim_start_matches('\u{feff}').lines().filter(|line| !line.trim().is_empty());
    let names: Vec<&str> = lines.next().unwrap_or("").split(',').map(str::trim).collect();
    let at = |name: &str| {
        names.iter().position(|known| *known == name).ok_or_else(|| {
            Refused::new(
                "runs_csv",
                format!("a table without the column {name}"),
                "all columns of a run",
                "add that column, or take `fresh`",
            )
        })
    };
    let starts = START_COLUMNS.map(at);
    let cuts: Vec<_> = (1..=WRITTEN_CUTS).map(|cut| CUT_COLUMNS.map(|name| at(&format!("{name}{cut}")))).collect();
    let mut runs = Vec::new();
    for (line, text) in lines.enumerate() {
        let cells: Vec<&str> = text.split(',').map(str::trim).collect();
        let number = |at: &Result<usize, Refused>| {
            let at = at.clone()?;
            let given = cells.get(at).copied().unwrap_or("");
            given.parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(|| {
                let key = format!("runs_csv.{}", line + 2);
                Refused::new(key, format!("{given:?} in column {}", names[at]), "a number in every column", "mend that line")
            })
        };
        runs.push(written(|column| number(&starts[column]), |cut, column| number(&cuts[cut][column]))?);
    }
    Ok(runs)
}

/// A run from what gives its start columns and its draws; values that no lathe has are refused.
pub fn written(
    start: impl Fn(usize) -> Result<f64, Refused>,
    draw: impl Fn(usize, usize) -> Result<f64, Refused>,
) -> Result<Written, Refused> {
    let mut run = Written { start: [0.0; START_COLUMNS.len()], cuts: [[0.0; CUT_COLUMNS.len()]; WRITTEN_CUTS] };
    for (column, value) in run.start.iter_mut().enumerate() {
        *value = start(column)?;
    }
    for (cut, values) in run.cuts.iter_mut().enumerate() {
        for (column, value) in values.iter_mut().enumerate() {
            *value = draw(cut, column)?;
        }
    }
    let tau = run.start[10];
    if tau <= 0.0 {
        return Err(Refused::new("runs", format!("tau {tau}"), "a time constant over 0 s", "mend that run"));
    }
    Ok(run)
}
