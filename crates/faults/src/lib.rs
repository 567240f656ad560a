//! What breaks the ledger on purpose, and looks whether it kept its promises: `cargo proof faults`.
//!
//! Each kind of trouble is a file: `kills` (kill -9 in the middle of writing; the database restarted under load), `disk` (a disk that is full
//! or fails at random writes), `flips` (a byte of the file turned), `devices` (twenty devices that sync in random order with cuts, repeats
//! and wrong clocks). The tests run them short, the command long; both print their seed and what they did.
//!
//! **Never here:** anything that the product needs at run time.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a check that can't be set up has failed; none of this is in the product"
)]

pub mod devices;
pub mod dice;
pub mod disk;
pub mod flips;
pub mod kills;
pub mod postgres;
pub mod shop;
pub mod writing;
