//! Every calculation of Bushwright: pure functions over plain structs, one module a stage, in the order of the job.
//!
//! **Never here:** files, network, the clock, threads that were not lent, global state, draws without a seed, `unwrap` on input.
//! Inside: SI in `f64`; a name carries its unit where it is not SI (`_mm`, `_um`, `_C`, `_MPa`).
#![allow(non_snake_case, reason = "keys and code agree: T_C, E_GPa, Rz_um are the names of the contract")]

pub mod alloy;
pub mod band;
pub mod compute;
pub mod crew;
pub mod distributions;
pub mod doubts;
pub mod draws;
pub mod duty;
pub mod fit;
pub mod keys;
pub mod limits;
pub mod looked_back;
pub mod math;
pub mod measure;
pub mod propagate;
pub mod quantity;
pub mod quote;
pub mod refused;
pub mod run;
pub mod sawing;
pub mod seat;
pub mod shown;
pub mod solve;
pub mod stock;
pub mod tables;
pub mod turn;
pub mod uncertainty;
pub mod units;
pub mod verdict;
pub mod working;

pub use compute::answer;
pub use refused::Refused;
