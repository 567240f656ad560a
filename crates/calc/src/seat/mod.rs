//! Seating: the room, the press.

pub mod chill;
pub mod press;
pub mod room_air;
