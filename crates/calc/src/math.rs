//! The transcendental functions that `calc` uses, from one portable library, so that every machine gives the same bits.
//!
//! The standard ones are banned in `clippy.toml`: their last bits differ between a native library and WebAssembly.
//! `sqrt`, `abs`, `floor`, `mul` and the four operations are exact by IEEE 754 and are used directly.

pub use libm::{
    acos, asin, atan, atan2, cbrt, cos, erf, erfc, exp, expm1, hypot, lgamma, log as ln, log1p, log10, pow, sin, sinh, tan, tanh,
};

pub use std::f64::consts::PI;

/// `x` squared.
pub fn sq(x: f64) -> f64 {
    x * x
}

/// `x` to a whole power by repeated multiplication (the standard `powi` is banned: its order of products is not fixed).
pub fn powi(x: f64, n: u32) -> f64 {
    (0..n).fold(1.0, |product, _| product * x)
}
