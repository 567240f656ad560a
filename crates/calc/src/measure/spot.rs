//! (spot) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind { name: "spot", help: "a few readings of one place", request: &[], answer: &[], example: "{}", run: None };
