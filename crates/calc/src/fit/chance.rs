//! (fit-chance) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "fit-chance",
    help: "the chance that everything holds, what decides it and what would help",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
