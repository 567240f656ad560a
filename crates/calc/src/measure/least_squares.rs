//! (least-squares) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "least-squares",
    help: "straight line, polynomial or several regressors, to certified digits",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
