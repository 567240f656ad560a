//! Random draws that depend on nothing but (seed, name of the input, number of the draw).
//!
//! So the bytes of a Monte Carlo do not depend on threads, on the order of work, or on which other inputs exist.
//! Generator: the finaliser of SplitMix64 over a keyed counter (Steele, Lea and Flood 2014; constants from memory of the
//! published code), two rounds. Normal draws: inverse of the normal distribution.

use crate::math::sin;
use crate::quantity::{Quantity, Shape};

/// A stream of draws for one input.
#[derive(Clone, Copy, Debug)]
pub struct Stream {
    key: u64,
}

impl Stream {
    /// The stream of the input called `name` under `seed`.
    pub fn new(seed: u64, name: &str) -> Self {
        // FNV-1a over the name, then mixed with the seed, so that near names and near seeds are far apart.
        let name = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
        Self { key: mix(name ^ mix(seed.wrapping_add(0x9e37_79b9_7f4a_7c15))) }
    }

    /// Draw `i`, even over 0 < x < 1.
    pub fn even(&self, i: u64) -> f64 {
        let bits = mix(self.key ^ mix(i.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(self.key)));
        ((bits >> 12) as f64 + 0.5) * (1.0 / 4_503_599_627_370_496.0)
    }

    /// Draw `i` of the standard normal distribution.
    pub fn normal(&self, i: u64) -> f64 {
        crate::distributions::normal_quantile(self.even(i))
    }

    /// Draw `i` of a quantity by its shape.
    pub fn of(&self, quantity: &Quantity, i: u64) -> f64 {
        quantity.value + quantity.u * self.standard(quantity, i)
    }

    fn standard(&self, quantity: &Quantity, i: u64) -> f64 {
        match quantity.drawn_shape() {
            Shape::Normal => self.normal(i),
            Shape::Rectangular => (2.0 * self.even(i) - 1.0) * 3.0_f64.sqrt(),
            Shape::Triangular => {
                let r = self.even(i);
                let side = if r < 0.5 { (2.0 * r).sqrt() - 1.0 } else { 1.0 - (2.0 * (1.0 - r)).sqrt() };
                side * 6.0_f64.sqrt()
            }
            Shape::Arcsine => sin(crate::math::PI * (self.even(i) - 0.5)) * 2.0_f64.sqrt(),
            Shape::T => crate::distributions::student_quantile(self.even(i), quantity.dof.unwrap_or(f64::INFINITY)),
        }
    }
}

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
