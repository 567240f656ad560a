//! (duty) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "duty",
    help: "pressure, speed, regime and friction of a bearing's duty",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
