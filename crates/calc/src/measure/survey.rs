//! (survey) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "survey",
    help: "mean size, taper, barrel and out-of-round of a bore, and which reading to take again",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
