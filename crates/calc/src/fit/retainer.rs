//! (retainer) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "retainer",
    help: "pins, screws and compounds for a fit that friction does not hold",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
