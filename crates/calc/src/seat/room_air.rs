//! (room-air) reserved for its page.

use crate::compute::Kind;

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "room-air",
    help: "oxygen and carbon dioxide of the room a coolant boils into",
    request: &[],
    answer: &[],
    example: "{}",
    run: None,
};
