//! Bush alloys.

pub mod table;

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "alloys", help: "bronzes ranked for a duty, with reasons", request: &[], answer: &[], example: "{}", run: None };
