//! (quantile) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "quantile", help: "coverage factors and limits for odd readings", request: &[], answer: &[], example: "{}", run: None };
