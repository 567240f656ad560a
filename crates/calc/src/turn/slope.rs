//! A number that knows how it changes: its value and its slopes along some standard normals.
//!
//! The model of cutting is written once, in these numbers: with slopes it feeds the filter, without (`W` = 0) it is plain arithmetic
//! for commands and simulations. First order only; a corner has the slope of the side it is on. Source: forward differentiation, any text.

use std::ops::{Add, AddAssign, Div, Mul, Sub};

use crate::math::exp;

/// A value with `W` slopes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope<const W: usize> {
    /// The value.
    pub v: f64,
    /// Change of the value for one standard deviation of each unknown.
    pub d: [f64; W],
}

impl<const W: usize> Slope<W> {
    /// A number that depends on nothing.
    #[inline(always)]
    pub const fn plain(v: f64) -> Self {
        Self { v, d: [0.0; W] }
    }

    /// mean + u·z where z is the unknown number `at`; without slopes (`W` = 0) just that number.
    #[inline(always)]
    pub fn drawn(mean: f64, u: f64, z: f64, at: usize) -> Self {
        let mut d = [0.0; W];
        if let Some(slope) = d.get_mut(at) {
            *slope = u;
        }
        Self { v: mean + u * z, d }
    }

    /// f(self) where f has the value `v` and the derivative `slope`.
    #[inline(always)]
    fn through(self, v: f64, slope: f64) -> Self {
        Self { v, d: self.d.map(|d| slope * d) }
    }

    /// e to this power.
    #[inline(always)]
    pub fn exp(self) -> Self {
        let v = exp(self.v);
        self.through(v, v)
    }

    /// Square root; of 0 the slope is taken as 0.
    #[inline(always)]
    pub fn sqrt(self) -> Self {
        let v = self.v.sqrt();
        self.through(v, if v > 0.0 { 0.5 / v } else { 0.0 })
    }

    /// The scalar product of the slopes of two numbers.
    #[inline(always)]
    pub fn dot(&self, other: &Self) -> f64 {
        dot(&self.d, &other.d)
    }

    /// The value alone.
    pub const fn bare(&self) -> Slope<0> {
        Slope { v: self.v, d: [] }
    }
}

/// Scalar product in four running sums, an order that any vector width keeps.
#[inline(always)]
pub fn dot<const W: usize>(a: &[f64; W], b: &[f64; W]) -> f64 {
    let mut sums = [0.0; 4];
    for (a, b) in a.chunks_exact(4).zip(b.chunks_exact(4)) {
        for lane in 0..4 {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest = W - W % 4;
    let tail: f64 = a[rest..].iter().zip(&b[rest..]).map(|(a, b)| a * b).sum();
    (sums[0] + sums[2]) + (sums[1] + sums[3]) + tail
}

impl<const W: usize> Add for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        let mut d = self.d;
        for i in 0..W {
            d[i] += b.d[i];
        }
        Self { v: self.v + b.v, d }
    }
}

impl<const W: usize> AddAssign for Slope<W> {
    #[inline(always)]
    fn add_assign(&mut self, b: Self) {
        *self = *self + b;
    }
}

impl<const W: usize> Sub for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        let mut d = self.d;
        for i in 0..W {
            d[i] -= b.d[i];
        }
        Self { v: self.v - b.v, d }
    }
}

impl<const W: usize> Mul for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        let mut d = self.d;
        for i in 0..W {
            d[i] = d[i] * b.v + self.v * b.d[i];
        }
        Self { v: self.v * b.v, d }
    }
}

impl<const W: usize> Div for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn div(self, b: Self) -> Self {
        let inverse = 1.0 / b.v;
        let v = self.v * inverse;
        let mut d = self.d;
        for i in 0..W {
            d[i] = (d[i] - v * b.d[i]) * inverse;
        }
        Self { v, d }
    }
}

impl<const W: usize> Add<f64> for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: f64) -> Self {
        Self { v: self.v + b, d: self.d }
    }
}

impl<const W: usize> Mul<f64> for Slope<W> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: f64) -> Self {
        self.through(self.v * b, b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_those_of_calculus() {
        let x = Slope::<2>::drawn(2.0, 1.0, 0.0, 0);
        let y = Slope::<2>::drawn(3.0, 1.0, 0.0, 1);
        let root = (x * y + y).sqrt();
        for (found, v, dx, dy) in [
            (x * y, 6.0, 3.0, 2.0),
            (x / y, 2.0 / 3.0, 1.0 / 3.0, -2.0 / 9.0),
            (x - y * 2.0 + 1.0, -3.0, 1.0, -2.0),
            (x.exp(), exp(2.0), exp(2.0), 0.0),
            (root, 3.0, 0.5, 0.5),
        ] {
            assert!((found.v - v).abs() < 1e-14 && (found.d[0] - dx).abs() < 1e-14 && (found.d[1] - dy).abs() < 1e-14, "{found:?}");
        }
    }

    #[test]
    fn without_slopes_it_is_plain_arithmetic_with_the_same_value() {
        let of = |x: Slope<0>| (x * x + 1.0) / (x - Slope::plain(0.5));
        let with = |x: Slope<3>| (x * x + 1.0) / (x - Slope::plain(0.5));
        assert_eq!(of(Slope::drawn(2.0, 0.1, 1.3, 0)).v, with(Slope::drawn(2.0, 0.1, 1.3, 0)).v);
    }

    #[test]
    fn a_scalar_product_takes_every_lane_once() {
        let ones = [1.0; 7];
        assert_eq!(dot(&ones, &[1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0]), 127.0);
    }
}
