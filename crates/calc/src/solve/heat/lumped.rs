//! A body of one temperature throughout, on its way to that of its surroundings: seconds by quadrature, forwards and backwards.
//!
//! Good to 2 % of the fall while Bi = h w/k < 0.05. The way is cut evenly in s = ln |T − surroundings|, in which an exponential is a
//! straight line; each piece by Gauss with `POINTS` points. Source: heat balance m c dT/dt = −P(T); Incropera ch. 5.

use crate::math::{exp, ln};

/// Points and weights of Gauss' rule on −1 to 1, from memory of any table; exact to the seventh power (a test holds that).
const POINTS: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
    (-0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
];

/// How near to the surroundings the table goes, K; from there the last slope goes on.
const NEAREST_K: f64 = 1e-6;

/// Integral of `f` from `from` to `to` in `pieces` pieces.
pub fn integral(from: f64, to: f64, pieces: usize, f: impl Fn(f64) -> f64) -> f64 {
    let half = (to - from) / pieces as f64 / 2.0;
    let piece = |i: usize| {
        let middle = from + half * (2 * i + 1) as f64;
        POINTS.iter().map(|(x, w)| w * f(middle + half * x)).sum::<f64>() * half
    };
    (0..pieces).map(piece).sum()
}

/// Seconds from `start` to within `within` of the surroundings, in `pieces` pieces.
///
/// capacity: J/K at a temperature; power: heat given up there, W, of the sign of T − surroundings.
pub fn seconds(start: f64, around: f64, within: f64, pieces: usize, capacity: impl Fn(f64) -> f64, power: impl Fn(f64) -> f64) -> f64 {
    let apart = start - around;
    integral(ln(within), ln(apart.abs()), pieces, |s| {
        let dT = exp(s).copysign(apart);
        capacity(around + dT) * dT / power(around + dT)
    })
}

/// The whole way of a body, once and for all: time at any temperature, temperature at any time.
#[derive(Clone, Debug)]
pub struct Way {
    around: f64,
    side: f64,
    /// s falls from `first` by `width` a piece.
    first: f64,
    width: f64,
    /// Seconds at each end of a piece, and their slope against −s.
    knots: Vec<(f64, f64)>,
}

impl Way {
    /// From `start`, which is not the temperature around. Arguments as of [`seconds`].
    pub fn new(start: f64, around: f64, pieces: usize, capacity: impl Fn(f64) -> f64, power: impl Fn(f64) -> f64) -> Self {
        let apart = start - around;
        let first = ln(apart.abs());
        let width = (first - ln(NEAREST_K)).max(1.0) / pieces as f64;
        let slope = |s: f64| {
            let dT = exp(s).copysign(apart);
            capacity(around + dT) * dT / power(around + dT)
        };
        let mut knots = vec![(0.0, slope(first))];
        let mut seconds = 0.0;
        for i in 0..pieces {
            let high = first - width * i as f64;
            seconds += integral(high - width, high, 1, slope);
            knots.push((seconds, slope(high - width)));
        }
        Self { around, side: 1.0_f64.copysign(apart), first, width, knots }
    }

    /// Seconds from the start until `T`: negative before it, endless at the surroundings and beyond.
    pub fn time(&self, T: f64) -> f64 {
        let apart = (T - self.around) * self.side;
        if apart <= 0.0 {
            return f64::INFINITY;
        }
        self.at((self.first - ln(apart)) / self.width)
    }

    /// Temperature after `t` seconds.
    pub fn temperature(&self, t: f64) -> f64 {
        let place = |x: f64| self.around + self.side * exp(self.first - self.width * x);
        let last = (self.knots.len() - 1) as f64;
        let (mut low, mut high) = (0.0, last);
        if t >= self.at(last) {
            return place(last);
        }
        // Time rises with every piece: sixty halvings leave nothing of the way.
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.at(middle) < t { low = middle } else { high = middle }
        }
        place(high)
    }

    /// Seconds at `x` pieces from the start: cubic between knots, straight beyond.
    fn at(&self, x: f64) -> f64 {
        let last = self.knots.len() - 1;
        let (edge, i) = if x <= 0.0 { (true, 0) } else { (x >= last as f64, (x as usize).min(last)) };
        let (t0, s0) = self.knots[i];
        let f = x - i as f64;
        if edge {
            return t0 + s0 * self.width * f;
        }
        let (t1, s1) = self.knots[i + 1];
        let (a, b) = (s0 * self.width - (t1 - t0), (t1 - t0) - s1 * self.width);
        t0 + f * (t1 - t0) + f * (1.0 - f) * (a * (1.0 - f) + b * f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_to_the_seventh_power() {
        for n in 0..8_i32 {
            let found = integral(0.0, 2.0, 1, |x| crate::math::powi(x, n.unsigned_abs()));
            let exact = crate::math::powi(2.0, n.unsigned_abs() + 1) / f64::from(n + 1);
            assert!((found / exact - 1.0).abs() < 1e-14, "{n}: {found}");
        }
    }

    #[test]
    fn an_exponential_is_met_both_ways() {
        let way = Way::new(-180.0, 20.0, 200, |_| 5000.0, |T| 2.0 * (T - 20.0));
        for t in [0.0, 10.0, 1000.0, 20_000.0] {
            let T = 20.0 - 200.0 * exp(-t / 2500.0);
            assert!((way.temperature(t) - T).abs() < 1e-9 && (way.time(T) - t).abs() < 1e-6, "{t}");
        }
        assert!(way.time(20.0).is_infinite());
        let by_quadrature = seconds(-180.0, 20.0, 1.0, 50, |_| 5000.0, |T| 2.0 * (T - 20.0));
        assert!((by_quadrature - 2500.0 * ln(200.0)).abs() < 1e-6);
    }
}
