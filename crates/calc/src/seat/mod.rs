//! Seating: the bath, the oven, the room, the way to the hole, the press.

pub mod chill;
pub mod cooling;
pub mod heating;
pub mod part;
pub mod press;
pub mod room_air;
pub mod window;
