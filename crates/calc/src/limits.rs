//! (limits) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind =
    Kind { name: "limits", help: "limits of size by ISO 286 or ANSI B4.1", request: &[], answer: &[], example: "{}", run: None };
