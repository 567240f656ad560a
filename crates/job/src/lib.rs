//! The job as people keep it: seats, entries, what follows from what. Folds entries into inputs for `calc`, knows what is stale
//! and what needs a person.
//!
//! **Never here:** storage, HTML, arithmetic of its own.

#![allow(non_snake_case, reason = "names agree with the keys of calc: part_C is a temperature in degrees Celsius")]

mod canonical;
pub mod cards;
pub mod chain;
pub mod check;
pub mod entry;
pub mod facts;
pub mod file;
pub mod fold;
pub mod kept;
pub mod lathe;
pub mod moment;
pub mod new;
pub mod papers;
pub mod past;
pub mod pressing;
pub mod questions;
pub mod reference;
pub mod registers;
pub mod sheet;
pub mod show;
pub mod slips;
pub mod stages;
pub mod state;
pub mod sync;
pub mod typed;

pub use file::open;
pub use fold::fold;
