//! (fit-map) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "fit-map",
    help: "where a fit lets go, holds or takes a set, over temperature and interference",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
