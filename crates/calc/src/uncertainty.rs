//! (uncertainty) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "uncertainty",
    help: "value and uncertainty of any formula, linear and by Monte Carlo",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
