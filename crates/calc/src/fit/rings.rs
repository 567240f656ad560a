//! (fit) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "fit",
    help: "pressure, close-in, stresses and safe temperatures of a pressed bush",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
