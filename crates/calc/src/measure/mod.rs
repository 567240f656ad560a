//! Measuring: what a size is, and how sure.

pub mod gauge_errors;
pub mod least_squares;
pub mod prior;
pub mod qr;
pub mod quantile;
pub mod repeatability;
pub mod spot;
pub mod survey;
pub mod to_20;
