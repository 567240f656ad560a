//! (fit-choose) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "fit-choose", help: "the band that the outside is turned to", request: &[], answer: &[], example: "{}", run: None };
