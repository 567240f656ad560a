//! (viscosity) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "viscosity",
    help: "viscosity and density of an oil at a temperature",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
