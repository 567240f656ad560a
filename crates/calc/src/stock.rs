//! (stock) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "stock", help: "which blank to buy, swarf, route and quote", request: &[], answer: &[], example: "{}", run: None };
