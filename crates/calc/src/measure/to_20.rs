//! (to-20) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "to-20",
    help: "size at 20 °C of a warm part read with a gauge at another temperature",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
