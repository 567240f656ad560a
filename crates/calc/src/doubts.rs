//! How far values that nobody measured on this job are trusted: what the job takes when no uncertainty was given.
//!
//! Each is a standard uncertainty and stands on the sheet with its mark; a given uncertainty always wins.

use crate::quantity::{Quantity, Shape};

/// Elasticity of a metal by its table: within ± 4 %, taken as two standard uncertainties.
/// Source: the method of the fit ("moduli ± 4 %"); *common practice*.
pub fn modulus(E_GPa: f64) -> Quantity {
    Quantity::with_u(E_GPa, 0.04 * E_GPa / 2.0)
}

/// Expansion of a metal by its table, per K: ± 3 %, one standard uncertainty. *Common practice* (tables differ by as much).
pub fn expansion(alpha_per_K: f64) -> Quantity {
    Quantity::with_u(alpha_per_K, 0.03 * alpha_per_K)
}

/// Roughness Rz that was asked for rather than measured, µm: ± 25 % of it either way, rectangular. *Common practice*.
pub fn roughness(Rz_um: f64) -> Quantity {
    Quantity { value: Rz_um, u: 0.25 * Rz_um / 3.0_f64.sqrt(), dof: None, shape: Some(Shape::Rectangular) }
}

/// A working temperature that was stated rather than measured, °C: u 3 K. *Common practice*.
pub fn stated_temperature(T_C: f64) -> Quantity {
    Quantity::with_u(T_C, 3.0)
}

/// The doubt that is left of `u` after four times the readings, or in half the band. Source: JCGM 100:2008 4.2.3 (u of a mean).
pub fn halved(u: f64) -> f64 {
    u / 2.0
}

/// A temperature read in the shop with a contact thermometer, °C: u 0.5 K. *Common practice*.
pub fn read_temperature(T_C: f64) -> Quantity {
    Quantity::with_u(T_C, 0.5)
}
