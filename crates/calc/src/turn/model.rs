//! What happens to a part between two readings: it cools, it is cut, it is read. And what is believed of a lathe before that.
//!
//! The model and its default spreads are *common practice* put into numbers, not measured on one lathe: every one of them is a key of a
//! request and is learned lathe by lathe. It leaves to others what the readings teach (`filter`) and what to do (`next_cut`).
//! Limits: one diameter of a part that is warm all through; a slow tool, a steady room; no chatter, no built-up edge.

use serde::Serialize;

use super::plan::Side;
use super::slope::Slope;
use crate::keys::{Given, Key, Range};
use crate::quantity::Quantity;

/// Reference temperature of every size, °C. Source: ISO 1.
pub const REFERENCE_C: f64 = 20.0;

/// Time of one cut where none is given, s. *Common practice*.
pub const CUT_S: f64 = 540.0;
/// From the end of a cut to the reading where none is given, s. *Common practice*.
pub const SETTLE_S: f64 = 180.0;
/// From a reading to the next cut, s. *Common practice*.
pub const TO_NEXT_CUT_S: f64 = 120.0;

/// A mean with its standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Normal {
    /// Mean.
    #[serde(rename = "value")]
    pub mean: f64,
    /// Standard deviation.
    #[serde(rename = "u")]
    pub sd: f64,
}

impl Normal {
    /// A mean with its standard deviation.
    pub const fn new(mean: f64, sd: f64) -> Self {
        Self { mean, sd }
    }

    /// The same as a quantity.
    pub const fn quantity(self) -> Quantity {
        Quantity::with_u(self.mean, self.sd)
    }
}

/// What is believed of part, lathe, gauge and thermometer before the first reading. Sizes in mm at 20 °C, times in s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lathe {
    /// Outside or bore.
    pub side: Side,
    /// N, mm: sizes are reckoned from it.
    pub nominal_mm: f64,
    /// Size before the first cut, at 20 °C, mm.
    pub start_mm: Normal,
    /// Air, °C.
    pub ambient_C: Normal,
    /// How much warmer the part is than the air at the start, K.
    pub over_ambient_K: Normal,
    /// Mean expansion of the part, per K.
    pub alpha_per_K: f64,
    /// Its relative standard uncertainty.
    pub alpha_rel_u: f64,
    /// Expansion of the gauge, per K.
    pub gauge_alpha_per_K: f64,
    /// Standard deviation of one size reading, mm.
    pub reading_u_mm: f64,
    /// Standard uncertainty of the gauge's bias, mm.
    pub gauge_bias_u_mm: f64,
    /// Share of the variance that the readings of one set have in common.
    pub reading_common_share: f64,
    /// Standard deviation of one part temperature, K.
    pub temperature_u_K: f64,
    /// Standard uncertainty of the thermometer's bias, K.
    pub temperature_bias_u_K: f64,
    /// Standard deviation of one air temperature, K.
    pub ambient_reading_u_K: f64,
    /// b: what a cut lands large by, mm.
    pub offset_mm: Normal,
    /// k: change of diameter per radial depth, by deflection.
    pub deflection: Normal,
    /// f: spring-back, mm.
    pub spring_back_mm: Normal,
    /// h: warming per radial depth, K/mm.
    pub heat_K_per_mm: Normal,
    /// Median time constant of cooling, s.
    pub tau_s: f64,
    /// Standard deviation of its logarithm.
    pub ln_tau_u: f64,
    /// Growth of b by one cut, mm.
    pub wear_mm: f64,
    /// Its standard deviation, mm.
    pub wear_u_mm: f64,
    /// Wander of b from cut to cut, mm.
    pub drift_u_mm: f64,
    /// What the slide misses by, mm.
    pub slide_u_mm: f64,
    /// Relative spread of the deflection from cut to cut.
    pub deflection_rel_u: f64,
    /// b after a re-chuck, mm.
    pub rechuck_u_mm: f64,
    /// Part less air in the morning, K.
    pub overnight_u_K: f64,
    /// Time of one cut, s.
    pub cut_s: f64,
    /// From the end of a cut to the reading, s.
    pub settle_s: f64,
}

/// Standard deviation of a rectangular spread of full width `w`.
const fn even(w: f64) -> f64 {
    // 1/√12.
    w * 0.288_675_134_594_812_9
}

impl Lathe {
    /// The defaults of the turning page for a part of that nominal size and start.
    pub const fn usual(side: Side, nominal_mm: f64, start_mm: Normal) -> Self {
        Self {
            side,
            nominal_mm,
            start_mm,
            ambient_C: Normal::new(22.0, 3.0),
            over_ambient_K: Normal::new(15.0, even(20.0)),
            alpha_per_K: 18e-6,
            alpha_rel_u: 0.03,
            gauge_alpha_per_K: 11.5e-6,
            reading_u_mm: 0.0045,
            gauge_bias_u_mm: 0.0025,
            reading_common_share: 0.0,
            temperature_u_K: 1.0,
            temperature_bias_u_K: 0.5,
            ambient_reading_u_K: 0.3,
            offset_mm: Normal::new(0.0, 0.030),
            deflection: Normal::new(0.025, even(0.030)),
            spring_back_mm: Normal::new(0.005, even(0.006)),
            heat_K_per_mm: Normal::new(3.0, even(4.0)),
            tau_s: 2400.0,
            ln_tau_u: 0.3,
            wear_mm: 0.001,
            wear_u_mm: 0.001,
            drift_u_mm: 0.003,
            slide_u_mm: 0.003,
            deflection_rel_u: 0.1,
            rechuck_u_mm: 0.010,
            overnight_u_K: 1.0,
            cut_s: CUT_S,
            settle_s: SETTLE_S,
        }
    }

    /// +1 outside, −1 bore.
    #[inline(always)]
    pub const fn sign(&self) -> f64 {
        match self.side {
            Side::Outside => 1.0,
            Side::Bore => -1.0,
        }
    }

    /// This belief with whatever keys of [`KEYS`] a request gives.
    pub fn told(self, given: &Given) -> Self {
        let normal = |name: &str, usual: Normal| match given.quantity(name) {
            // A number alone says where, not how sure: the usual spread stays.
            Some(Quantity { value, u, .. }) => Normal::new(value, if has_u(given, name) { u } else { usual.sd }),
            None => usual,
        };
        let number = |name: &str, usual: f64| given.number_or(name, usual);
        Self {
            ambient_C: normal("ambient_C", self.ambient_C),
            over_ambient_K: normal("over_ambient_K", self.over_ambient_K),
            alpha_per_K: number("alpha_per_K", self.alpha_per_K),
            alpha_rel_u: number("alpha_rel_u", self.alpha_rel_u),
            gauge_alpha_per_K: number("gauge_alpha_per_K", self.gauge_alpha_per_K),
            reading_u_mm: number("reading_u_mm", self.reading_u_mm),
            gauge_bias_u_mm: number("gauge_bias_u_mm", self.gauge_bias_u_mm),
            reading_common_share: number("reading_common_share", self.reading_common_share),
            temperature_u_K: number("temperature_u_K", self.temperature_u_K),
            temperature_bias_u_K: number("temperature_bias_u_K", self.temperature_bias_u_K),
            ambient_reading_u_K: number("ambient_reading_u_K", self.ambient_reading_u_K),
            offset_mm: normal("offset_mm", self.offset_mm),
            deflection: normal("deflection", self.deflection),
            spring_back_mm: normal("spring_back_mm", self.spring_back_mm),
            heat_K_per_mm: normal("heat_K_per_mm", self.heat_K_per_mm),
            tau_s: number("tau_s", self.tau_s),
            ln_tau_u: number("ln_tau_u", self.ln_tau_u),
            wear_mm: number("wear_mm", self.wear_mm),
            wear_u_mm: number("wear_u_mm", self.wear_u_mm),
            drift_u_mm: number("drift_u_mm", self.drift_u_mm),
            slide_u_mm: number("slide_u_mm", self.slide_u_mm),
            deflection_rel_u: number("deflection_rel_u", self.deflection_rel_u),
            rechuck_u_mm: number("rechuck_u_mm", self.rechuck_u_mm),
            overnight_u_K: number("overnight_u_K", self.overnight_u_K),
            cut_s: number("cut_s", self.cut_s),
            settle_s: number("settle_s", self.settle_s),
            ..self
        }
    }

    /// Noise of the mean of `n` readings of standard deviation `u`: u √(ρ + (1 − ρ)/n). Source: variance of a mean of equally correlated readings.
    #[inline(always)]
    pub fn mean_of(&self, u: f64, n: f64) -> f64 {
        let share = self.reading_common_share;
        u * (share + (1.0 - share) / n).sqrt()
    }
}

fn has_u(given: &Given, name: &str) -> bool {
    given.raw(name).and_then(serde_json::Value::as_object).is_some_and(|map| map.contains_key("u"))
}

const SPREAD: Range = Range::at_least(0.0).to(1e3);
const AIR_C: Range = Range::within(-60.0, 80.0);

/// The keys of a request that say what is believed. `start_mm`, `side` and `nominal_mm` are the kind's own.
pub const KEYS: [Key; 26] = [
    Key::quantity("ambient_C", AIR_C, "air; a shop outside 16 to 28 °C gives its own").default("22, u 3"),
    Key::quantity("over_ambient_K", Range::within(-100.0, 300.0), "how much warmer than the air the part starts").default("15, u 5.77"),
    Key::number("alpha_per_K", Range::within(1e-7, 1e-4), "mean expansion of the part").default("18e-6"),
    Key::number("alpha_rel_u", Range::at_least(0.0).to(0.3), "its relative standard uncertainty").default("0.03"),
    Key::number("gauge_alpha_per_K", Range::within(0.0, 1e-4), "expansion of the gauge").default("11.5e-6"),
    Key::number("reading_u_mm", Range::over(0.0).to(10.0), "standard deviation of one size reading").default("0.0045"),
    Key::number("gauge_bias_u_mm", SPREAD, "standard uncertainty of the gauge's bias").default("0.0025"),
    Key::number("reading_common_share", Range::within(0.0, 1.0), "share of the variance that readings of one set share").default("0"),
    Key::number("temperature_u_K", SPREAD, "standard deviation of one part temperature").default("1"),
    Key::number("temperature_bias_u_K", SPREAD, "standard uncertainty of the thermometer's bias").default("0.5"),
    Key::number("ambient_reading_u_K", SPREAD, "standard deviation of one air temperature").default("0.3"),
    Key::quantity("offset_mm", Range::within(-5.0, 5.0), "b: what a cut lands large by").default("0, u 0.030"),
    Key::quantity("deflection", Range::within(0.0, 1.0), "k: change of diameter per radial depth").default("0.025, u 0.0087"),
    Key::quantity("spring_back_mm", Range::within(-1.0, 1.0), "f: spring-back").default("0.005, u 0.0017"),
    Key::quantity("heat_K_per_mm", Range::within(0.0, 1e3), "h: warming per mm of radial depth").default("3, u 1.15"),
    Key::number("tau_s", Range::over(0.0).to(1e7), "time constant of cooling").default("2400"),
    Key::number("ln_tau_u", Range::at_least(0.0).to(3.0), "standard deviation of its logarithm").default("0.3"),
    Key::number("wear_mm", Range::within(-1.0, 1.0), "growth of b a cut").default("0.001"),
    Key::number("wear_u_mm", SPREAD, "its standard deviation").default("0.001"),
    Key::number("drift_u_mm", SPREAD, "wander of b from cut to cut").default("0.003"),
    Key::number("slide_u_mm", SPREAD, "what the slide misses by").default("0.003"),
    Key::number("deflection_rel_u", Range::at_least(0.0).to(3.0), "relative spread of the deflection, cut to cut").default("0.1"),
    Key::number("rechuck_u_mm", SPREAD, "spread of b by a re-chuck or a new day").default("0.010"),
    Key::number("overnight_u_K", SPREAD, "part less air in the morning").default("1"),
    Key::number("cut_s", Range::at_least(0.0).to(1e6), "time of one cut").default("540"),
    Key::number("settle_s", Range::at_least(0.0).to(1e6), "from the end of a cut to the reading").default("180"),
];

/// How many unknowns a start has: those of [`State::start`], in its order.
pub const STARTS: usize = 11;

/// A standard normal of a step: its value, and its number among the unknowns.
#[derive(Clone, Copy, Debug)]
pub struct Noise {
    /// Its value.
    pub z: f64,
    /// Its number; any number beyond the slopes carries none.
    pub at: usize,
}

impl Noise {
    /// Nothing.
    pub const NONE: Self = Self { z: 0.0, at: usize::MAX };
}

/// One part on the lathe, and the gauges beside it, with the slopes along the unknowns.
#[derive(Clone, Copy, Debug)]
pub struct State<const W: usize> {
    /// Size at 20 °C less the nominal, mm.
    pub d: Slope<W>,
    /// b, mm.
    pub b: Slope<W>,
    /// k.
    pub k: Slope<W>,
    /// f, mm.
    pub f: Slope<W>,
    /// α of the part, per K.
    pub alpha: Slope<W>,
    /// Temperature of the part, °C.
    pub T: Slope<W>,
    /// Temperature of the air, °C.
    pub air: Slope<W>,
    /// h, K/mm.
    pub h: Slope<W>,
    /// τ, s.
    pub tau: Slope<W>,
    /// Bias of the thermometer, K.
    pub bias_T: Slope<W>,
    /// Bias of the size gauge, mm.
    pub bias_m: Slope<W>,
}

/// A reading that can be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// Air temperature, °C.
    Air,
    /// Part temperature, °C.
    Part,
    /// Size as the gauge shows it, mm.
    Size,
    /// What the gauge shows on its standard, less the standard's size, mm.
    Check,
}

impl<const W: usize> State<W> {
    /// The part before the first cut: priors at the standard normals `z` (11 of them, in the order of the fields below).
    ///
    /// α = mean (1 + rel·z), τ = median·e^{u z}, T = T_a + over; the others mean + u·z.
    pub fn start(lathe: &Lathe, z: &[f64; STARTS]) -> Self {
        let drawn = |prior: Normal, at: usize| Slope::drawn(prior.mean, prior.sd, z[at], at);
        let air = drawn(lathe.ambient_C, 1);
        Self {
            d: drawn(Normal::new(lathe.start_mm.mean - lathe.nominal_mm, lathe.start_mm.sd), 0),
            air,
            T: air + drawn(lathe.over_ambient_K, 2),
            alpha: Slope::drawn(1.0, lathe.alpha_rel_u, z[3], 3) * lathe.alpha_per_K,
            b: drawn(lathe.offset_mm, 4),
            k: drawn(lathe.deflection, 5),
            f: drawn(lathe.spring_back_mm, 6),
            h: drawn(lathe.heat_K_per_mm, 7),
            tau: Slope::drawn(0.0, lathe.ln_tau_u, z[8], 8).exp() * lathe.tau_s,
            bias_T: drawn(Normal::new(0.0, lathe.temperature_bias_u_K), 9),
            bias_m: drawn(Normal::new(0.0, lathe.gauge_bias_u_mm), 10),
        }
    }

    /// Diameter at the temperature `T`: (N + d)(1 + α(T − 20)), mm.
    pub fn hot(&self, lathe: &Lathe, T: Slope<W>) -> Slope<W> {
        (self.d + lathe.nominal_mm) * (self.alpha * (T + -REFERENCE_C) + 1.0)
    }

    /// Newton's cooling for `dt_s`: T ← T_a + (T − T_a) e^{−Δt/τ}. Source: Newton's law of cooling.
    pub fn cool(&mut self, dt_s: f64) {
        self.T = self.air + (self.T - self.air) * (Slope::plain(-dt_s) / self.tau).exp();
    }

    /// One cut at the command `command_mm`, in the five steps of the turning page.
    ///
    /// 1 b grows by wear and wanders (not at the first cut of a set-up, `first`); 2 radial depth a = s(hot − c)/2 at the temperature half
    /// way, c = C + b; 3 what is left: D_h = (c + s f + k D_p/2)/(1 + k/2), never more than was there; 4 to 20 °C, with the slide's miss;
    /// 5 the part is warmer by h a. `noise`: the standard normals of steps 1 and 4.
    /// Source: common practice put into numbers (geometry, a spring, a heat per depth, Newton's cooling).
    pub fn cut(&mut self, lathe: &Lathe, command_mm: f64, first: bool, noise: [Noise; 2]) {
        let s = lathe.sign();
        if !first {
            let sd = (lathe.drift_u_mm * lathe.drift_u_mm + lathe.wear_u_mm * lathe.wear_u_mm).sqrt();
            self.b += Slope::drawn(s * lathe.wear_mm, sd, noise[0].z, noise[0].at);
        }
        let E = (Slope::plain(-0.5 * lathe.cut_s) / self.tau).exp();
        let before = self.hot(lathe, self.T);
        let T1 = self.air + (self.T - self.air) * E;
        let c = self.b + command_mm;
        let a = (self.hot(lathe, T1) - c) * (0.5 * s);
        let Tm = T1 + self.h * a * 0.5;
        let there = self.hot(lathe, Tm);
        let half_k = self.k * 0.5;
        let left = (c + self.f * s + half_k * there) / (half_k + 1.0);
        if s * (there.v - left.v) <= 0.0 {
            // Nothing is taken: the size stays, and nothing warms it.
            self.T = self.air + (T1 - self.air) * E;
            return;
        }
        let a0 = (before - Slope::plain(command_mm)) * (0.5 * s);
        let bend = self.k * a0 * lathe.deflection_rel_u;
        let sd = (bend * bend + lathe.slide_u_mm * lathe.slide_u_mm).sqrt();
        let miss = sd * Slope::drawn(0.0, 1.0, noise[1].z, noise[1].at);
        self.d = left / (self.alpha * (Tm + -REFERENCE_C) + 1.0) + -lathe.nominal_mm + miss;
        self.T = self.air + (Tm - self.air) * E + self.h * a * 0.5;
    }

    /// What would be read, without noise: air T_a + b_T; part T + b_T; size hot/(1 + α_g(T_a − 20)) + b_m; check b_m.
    pub fn seen(&self, lathe: &Lathe, sight: Sight) -> Slope<W> {
        match sight {
            Sight::Air => self.air + self.bias_T,
            Sight::Part => self.T + self.bias_T,
            Sight::Size => {
                let gauge = (self.air + -REFERENCE_C) * lathe.gauge_alpha_per_K + 1.0;
                self.hot(lathe, self.T) / gauge + self.bias_m
            }
            Sight::Check => self.bias_m,
        }
    }

    /// The values alone.
    pub const fn bare(&self) -> State<0> {
        State {
            d: self.d.bare(),
            b: self.b.bare(),
            k: self.k.bare(),
            f: self.f.bare(),
            alpha: self.alpha.bare(),
            T: self.T.bare(),
            air: self.air.bare(),
            h: self.h.bare(),
            tau: self.tau.bare(),
            bias_T: self.bias_T.bare(),
            bias_m: self.bias_m.bare(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lathe() -> Lathe {
        Lathe::usual(Side::Outside, 300.0, Normal::new(302.0, 0.05))
    }

    #[test]
    fn a_part_cools_to_the_air_and_a_size_at_20_does_not_change_by_it() {
        let mut part = State::<0>::start(&lathe(), &[0.0; STARTS]);
        let d = part.d.v;
        part.cool(2400.0);
        assert!((part.T.v - (22.0 + 15.0 * crate::math::exp(-1.0))).abs() < 1e-12);
        part.cool(1e7);
        assert!((part.T.v - 22.0).abs() < 1e-9 && part.d.v == d);
    }

    #[test]
    fn spring_back_and_deflection_leave_an_outside_large_and_a_bore_small() {
        // D_h = c + s f + s k (depth really taken): by hand from the left side of step 3.
        for (side, start, command) in [(Side::Outside, 302.0, 301.0), (Side::Bore, 298.0, 299.0)] {
            let lathe = Lathe { over_ambient_K: Normal::new(-2.0, 0.0), ..Lathe::usual(side, 300.0, Normal::new(start, 0.0)) };
            let lathe = Lathe { heat_K_per_mm: Normal::new(0.0, 0.0), cut_s: 0.0, ..lathe };
            let mut part = State::<0>::start(&lathe, &[0.0; STARTS]);
            part.cut(&lathe, command, true, [Noise::NONE; 2]);
            let s = lathe.sign();
            let size = 300.0 + part.d.v;
            let taken = s * (start - size) / 2.0;
            assert!((size - (command + s * 0.005 + s * 0.025 * taken)).abs() < 1e-9, "{side:?}: {size}");
        }
    }

    #[test]
    fn a_command_that_takes_nothing_leaves_the_size() {
        let mut part = State::<0>::start(&lathe(), &[0.0; STARTS]);
        part.cut(&lathe(), 303.0, true, [Noise::NONE; 2]);
        assert_eq!(part.d.v, 2.0);
        assert!(part.T.v < 37.0);
    }

    #[test]
    fn slopes_agree_with_central_differences() {
        const W: usize = 13;
        let size = |z: &[f64; W]| {
            let lathe = lathe();
            let start = std::array::from_fn(|i| z[i]);
            let mut part = State::<W>::start(&lathe, &start);
            part.cool(300.0);
            part.cut(&lathe, 301.2, true, [Noise::NONE; 2]);
            part.cut(&lathe, 300.6, false, [Noise { z: z[11], at: 11 }, Noise { z: z[12], at: 12 }]);
            part.cool(180.0);
            part.seen(&lathe, Sight::Size)
        };
        let at = std::array::from_fn(|i| 0.3 - 0.05 * i as f64);
        let found = size(&at);
        for i in 0..W {
            let moved = |step: f64| size(&std::array::from_fn(|j| at[j] + if i == j { step } else { 0.0 })).v;
            let slope = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            assert!((found.d[i] - slope).abs() < 1e-8, "unknown {i}: {} and {slope}", found.d[i]);
        }
    }
}
