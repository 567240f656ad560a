//! The fit: a bush held in its housing by interference, and what holds when that is not enough.

pub mod chance;
pub mod choose;
pub mod equivalent;
pub mod lame;
pub mod map;
pub mod plastic;
pub mod promises;
pub mod removal;
pub mod retainer;
pub mod rings;
pub mod shape;
