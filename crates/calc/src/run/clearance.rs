//! (clearance) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "clearance", help: "the running clearance to finish to", request: &[], answer: &[], example: "{}", run: None };
