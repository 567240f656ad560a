//! (verdict) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "verdict",
    help: "meets, does not meet, or cannot be told with this gauge",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
