//! How the finished bearing runs: oil, film, warm running, clearance, groove.

pub mod clearance;
pub mod film;
pub mod film_clearance;
pub mod film_shape;
pub mod film_theory;
pub mod film_unrolled;
pub mod greased;
pub mod groove;
pub mod heat_balance;
pub mod running;
pub mod viscosity;
