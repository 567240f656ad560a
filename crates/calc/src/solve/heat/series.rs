//! The exact field of a ring with constant properties and constant h, as a product of two series: across the wall and along the length.
//!
//! theta = R(r, t) Z(z, t), theta = (T − medium)/(start − medium). Z: x tan x = h (L/2)/k, terms 4 sin x/(2x + sin 2x); R: roots of the
//! 2 x 2 condition −k phi' + h_i phi = 0 at the bore, k phi' + h_o phi = 0 outside, terms by orthogonality with weight r.
//! The test of the mesh, and the answer itself where it applies. Terms are added until the last is nothing, at most [`MOST_TERMS`].
//! Source: Carslaw and Jaeger 1959, ch. VI and VII; product rule, Incropera and DeWitt ch. 5.

use super::mesh::{Ring, Wet};
use super::{Field, Profile, RADII};
use crate::math::{PI, cos, exp, ln, sin, sq};

/// Terms of a series: enough from a Fourier number of about 2e-5 on. Before that the last term is told as the error.
pub const MOST_TERMS: usize = 256;
/// What is left of the last term that counts.
const NOTHING: f64 = 1e-12;
/// Turns of a root finder: bisection alone needs 60.
const MOST_TURNS: usize = 100;
/// Doublings until a time is bracketed.
const MOST_DOUBLINGS: usize = 200;

/// A term: how fast it dies, 1/s, and what it gives.
#[derive(Clone, Debug)]
struct Term {
    decay: f64,
    mean: f64,
    /// At the places that are looked at: mid-length, or the radii.
    at: Vec<f64>,
}

/// A ring in a medium of constant h.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Its sizes, m.
    pub ring: Ring,
    /// Which surfaces are wet.
    pub wet: Wet,
    /// Conductivity, W/(m K).
    pub k: f64,
    /// Diffusivity, m²/s.
    pub diffusivity: f64,
    /// Surface coefficient, W/(m² K).
    pub h: f64,
}

/// Both series of a body.
#[derive(Clone, Debug)]
pub struct Series {
    across: Vec<Term>,
    along: Vec<Term>,
    /// Share of the section of each radius.
    shares: Vec<f64>,
}

impl Series {
    /// Terms enough to be exact from `earliest_s` on, or [`MOST_TERMS`].
    pub fn new(body: &Body, earliest_s: f64) -> Self {
        let Body { ring, wet, k, diffusivity, h } = *body;
        let (a, b) = (ring.bore / 2.0, ring.outside / 2.0);
        let enough = |width: f64| {
            let x = (-ln(NOTHING) / (diffusivity * earliest_s)).sqrt() * width / PI;
            if x.is_finite() { (x.min(MOST_TERMS as f64) as usize + 3).min(MOST_TERMS) } else { MOST_TERMS }
        };
        let wall = Wall { a, b, k, h_in: if wet.bore { h } else { 0.0 }, h_out: h };
        let radii: Vec<f64> = (0..RADII).map(|i| a + (b - a) * i as f64 / (RADII - 1) as f64).collect();
        let mut across = wall.terms(enough(b - a), &radii);
        across.iter_mut().for_each(|term| term.decay *= diffusivity);
        let half = ring.length / 2.0;
        let along = if wet.ends { slab_terms(h * half / k, enough(half)) } else { vec![Term { decay: 0.0, mean: 1.0, at: vec![1.0] }] };
        let along = along.into_iter().map(|term| Term { decay: term.decay * diffusivity / sq(half), ..term }).collect();
        Self { across, along, shares: simpson_shares(&radii) }
    }

    /// The same with half as many terms: what the others are worth.
    pub fn halved(&self) -> Self {
        let half = |terms: &[Term]| terms[..terms.len().div_ceil(2)].to_vec();
        Self { across: half(&self.across), along: half(&self.along), shares: self.shares.clone() }
    }

    /// theta of the slowest point, and R at each radius.
    fn slowest(&self, t: f64) -> (f64, Vec<f64>) {
        let across: Vec<f64> = (0..RADII).map(|i| sum(&self.across, t, |term| term.at[i]).clamp(0.0, 1.0)).collect();
        (peak(&across) * self.middle(t), across)
    }

    fn middle(&self, t: f64) -> f64 {
        sum(&self.along, t, |term| term.at[0]).clamp(0.0, 1.0)
    }

    /// The field at `t`, as theta.
    pub fn field(&self, t: f64) -> Field {
        if t <= 0.0 {
            return Field { slowest: 1.0, mean: 1.0, section: Profile { shares: self.shares.clone(), T: vec![1.0; RADII] } };
        }
        let (slowest, across) = self.slowest(t);
        let middle = self.middle(t);
        let mean = sum(&self.across, t, |term| term.mean) * sum(&self.along, t, |term| term.mean);
        let section = Profile { shares: self.shares.clone(), T: across.iter().map(|R| R * middle).collect() };
        Field { slowest, mean: mean.clamp(0.0, 1.0), section }
    }

    /// When the slowest point has fallen to `theta`, s. None when no bracket is found (then h is next to nothing).
    pub fn time(&self, theta: f64) -> Option<f64> {
        let f = |t: f64| ln((self.slowest(t).0 / theta).max(1e-300));
        let first = self.across[0].decay + self.along[0].decay;
        let (mut low, mut high) = (0.0, -ln(theta) / first);
        let mut doublings = 0;
        while f(high) > 0.0 {
            (low, high) = (high, 2.0 * high);
            doublings += 1;
            if doublings > MOST_DOUBLINGS || !high.is_finite() {
                return None;
            }
        }
        Some(root(f, low, high))
    }
}

fn sum(terms: &[Term], t: f64, of: impl Fn(&Term) -> f64) -> f64 {
    terms.iter().map(|term| of(term) * exp(-term.decay * t)).sum()
}

/// Largest of a row, with the top of the parabola through its neighbours.
fn peak(row: &[f64]) -> f64 {
    let top = (0..row.len()).fold(0, |top, i| if row[i] > row[top] { i } else { top });
    if top == 0 || top + 1 == row.len() {
        return row[top];
    }
    let (before, here, after) = (row[top - 1], row[top], row[top + 1]);
    let bend = before - 2.0 * here + after;
    if bend < 0.0 { (here - sq(after - before) / (8.0 * bend)).min(1.0) } else { here }
}

/// Shares of the section by Simpson's rule with weight r.
fn simpson_shares(radii: &[f64]) -> Vec<f64> {
    let last = radii.len() - 1;
    let weight = |i: usize| {
        if i == 0 || i == last {
            1.0
        } else if i % 2 == 1 {
            4.0
        } else {
            2.0
        }
    };
    let raw: Vec<f64> = radii.iter().enumerate().map(|(i, r)| weight(i) * r).collect();
    let whole: f64 = raw.iter().sum();
    raw.into_iter().map(|x| x / whole).collect()
}

/// Root of a function that falls through 0 between `low` and `high`: false position, Illinois form, then halving.
fn root(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let (mut f_low, mut f_high) = (f(low), f(high));
    if f_low == 0.0 {
        return low;
    }
    let mut side = 0;
    for turn in 0..MOST_TURNS {
        if (high - low).abs() <= 1e-13 * high.abs() || f_high == 0.0 {
            break;
        }
        let secant = high - f_high * (high - low) / (f_high - f_low);
        let inside = secant > low.min(high) && secant < low.max(high);
        let x = if inside && turn % 8 != 7 { secant } else { (low + high) / 2.0 };
        let y = f(x);
        if (y > 0.0) == (f_high > 0.0) {
            (high, f_high) = (x, y);
            if side == 1 {
                f_low /= 2.0;
            }
            side = 1;
        } else {
            (low, f_low) = (x, y);
            if side == -1 {
                f_high /= 2.0;
            }
            side = -1;
        }
        if y == 0.0 {
            return x;
        }
    }
    high
}

/// Terms of a slab of half thickness 1 and Biot number `Bi`, from its middle: x tan x = Bi.
fn slab_terms(Bi: f64, count: usize) -> Vec<Term> {
    let each = (0..count).map(|n| {
        // x sin x = Bi cos x: one root in each half turn, where x tan x rises from 0 to infinity.
        let start = PI * n as f64;
        let x = root(|x| Bi * cos(x) - x * sin(x), start, start + PI / 2.0).max(f64::MIN_POSITIVE);
        let c = 4.0 * sin(x) / (2.0 * x + sin(2.0 * x));
        Term { decay: x * x, mean: c * sin(x) / x, at: vec![c] }
    });
    // Odd pieces start with the other sign: the function falls in both after a change of sign.
    each.collect()
}

/// The wall of a ring: radii, conductivity, and h of both faces.
#[derive(Clone, Copy, Debug)]
struct Wall {
    a: f64,
    b: f64,
    k: f64,
    h_in: f64,
    h_out: f64,
}

impl Wall {
    /// Weights of J0 and −Y0 that meet the condition at the bore.
    fn weights(&self, l: f64) -> (f64, f64) {
        if self.a == 0.0 {
            return (1.0, 0.0);
        }
        let x = l * self.a;
        let (J, Y) = (l * self.k * libm::j1(x) + self.h_in * libm::j0(x), l * self.k * libm::y1(x) + self.h_in * libm::y0(x));
        let size = (sq(J) + sq(Y)).sqrt();
        (Y / size, J / size)
    }

    fn phi(&self, l: f64, (Q, P): (f64, f64), r: f64) -> f64 {
        let Y = if P == 0.0 { 0.0 } else { P * libm::y0(l * r) };
        Q * libm::j0(l * r) - Y
    }

    /// phi' without its factor l.
    fn slope(&self, l: f64, (Q, P): (f64, f64), r: f64) -> f64 {
        let Y = if P == 0.0 { 0.0 } else { P * libm::y1(l * r) };
        -(Q * libm::j1(l * r) - Y)
    }

    /// k phi' + h phi outside: 0 at a root.
    fn condition(&self, l: f64) -> f64 {
        let weights = self.weights(l);
        l * self.k * self.slope(l, weights, self.b) + self.h_out * self.phi(l, weights, self.b)
    }

    /// The first `count` roots, by steps of a sixteenth of their usual distance.
    fn roots(&self, count: usize) -> Vec<f64> {
        let step = PI / (self.b - self.a) / 16.0;
        let mut roots = Vec::with_capacity(count);
        let mut low = 1e-9 * step;
        let mut at_low = self.condition(low);
        // A root stands in every 16 steps or so; twice as many and some more must hold them all.
        for i in 1..=32 * count + 64 {
            let high = step * i as f64;
            let at_high = self.condition(high);
            if (at_low > 0.0) != (at_high > 0.0) {
                roots.push(root(|l| self.condition(l), low, high));
            }
            (low, at_low) = (high, at_high);
            if roots.len() == count {
                break;
            }
        }
        roots
    }

    fn terms(&self, count: usize, radii: &[f64]) -> Vec<Term> {
        let Wall { a, b, k, h_in, h_out } = *self;
        let each = self.roots(count).into_iter().map(|l| {
            let weights = self.weights(l);
            let (inside, outside) = (if a > 0.0 { self.phi(l, weights, a) } else { 0.0 }, self.phi(l, weights, b));
            // By the conditions at both faces: no difference of near-equal numbers where h is small.
            let whole = (b * h_out * outside + a * h_in * inside) / (k * l * l);
            let face = |r: f64, phi: f64, h: f64| sq(r) * sq(phi) * (1.0 + sq(h / (k * l)));
            let square = (face(b, outside, h_out) - face(a, inside, h_in)) / 2.0;
            let c = whole / square;
            Term { decay: l * l, mean: c * 2.0 * whole / (sq(b) - sq(a)), at: radii.iter().map(|r| c * self.phi(l, weights, *r)).collect() }
        });
        each.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BODY: Body = Body {
        ring: Ring { outside: 0.24, bore: 0.2, length: 0.15 },
        wet: Wet { bore: true, ends: true },
        k: 59.0,
        diffusivity: 59.0 / (8800.0 * 376.0),
        h: 100.0,
    };

    #[test]
    fn the_first_terms_are_those_of_the_books() {
        // Incropera table 5.1, from memory: Bi = 1, plane wall 0.8603, 1.1191; cylinder 1.2558, 1.2071.
        let slab = slab_terms(1.0, 3);
        assert!((slab[0].decay.sqrt() - 0.8603).abs() < 1e-4 && (slab[0].at[0] - 1.1191).abs() < 1e-4);
        let pin = Wall { a: 0.0, b: 1.0, k: 1.0, h_in: 0.0, h_out: 1.0 }.terms(3, &[0.0, 1.0]);
        assert!((pin[0].decay.sqrt() - 1.2558).abs() < 1e-4 && (pin[0].at[0] - 1.2071).abs() < 1e-4);
    }

    #[test]
    fn at_the_start_the_terms_add_up_to_one() {
        for h in [1e-3, 8.0, 600.0, 2e4] {
            for bore in [0.0, 0.002, 0.1, 0.2, 0.239] {
                let body = Body { ring: Ring { bore, ..BODY.ring }, h, ..BODY };
                let series = Series::new(&body, 1e-9);
                let whole: f64 = series.across.iter().map(|term| term.mean).sum();
                assert!((whole - 1.0).abs() < 2e-3, "h {h}, bore {bore}: {whole}");
                let along: f64 = series.along.iter().map(|term| term.mean).sum();
                assert!((along - 1.0).abs() < 2e-3, "h {h}: {along}");
            }
        }
    }

    #[test]
    fn a_thin_bush_follows_the_lumped_law() {
        // Bi = 1e-4: theta = exp(−t/tau), tau = rho c V/(h A).
        let body = Body { h: 0.59, ..BODY };
        let tau = 8800.0 * 376.0 * body.ring.volume() / (0.59 * body.ring.wet_area(body.wet));
        let time = Series::new(&body, tau).time(0.02).unwrap();
        assert!((time / (tau * ln(50.0)) - 1.0).abs() < 1e-3, "{time}");
    }
}
