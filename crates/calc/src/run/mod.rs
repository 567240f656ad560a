//! How the finished bearing runs: oil, clearance, groove.

pub mod clearance;
pub mod groove;
pub mod viscosity;
