//! (press) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "press",
    help: "press force over travel, when to stop, and what the readings say",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
