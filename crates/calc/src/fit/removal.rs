//! (removal) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind { name: "removal", help: "getting the worn bush out", request: &[], answer: &[], example: "{}", run: None };
