//! The job as people keep it: seats, entries, what follows from what. Folds entries into inputs for `calc`, knows what is stale
//! and what needs a person.
//!
//! **Never here:** storage, HTML, arithmetic of its own.

pub mod facts;
pub mod sheet;
