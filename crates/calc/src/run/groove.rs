//! (groove) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "groove", help: "place, size and tool path of the grease groove", request: &[], answer: &[], example: "{}", run: None };
