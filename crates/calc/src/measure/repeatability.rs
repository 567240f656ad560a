//! (repeatability) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "repeatability", help: "how well a gauge and its users repeat", request: &[], answer: &[], example: "{}", run: None };
