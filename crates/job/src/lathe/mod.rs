//! At the lathe: a calm dialogue from the rough part to the accepted size, its log, and what finished parts teach of the lathe.
//!
//! [`Dialogue`] is a pure machine: the text of an answer goes in, the entry to keep and the lines to say come out. It reads no clock and
//! no file, so that a terminal, a replay and a screen say the same. Where it stands follows from the steps that were kept and from
//! nothing else: a dialogue that was cut off goes on where it was.

mod answer;
pub mod board;
mod dialogue;
pub mod habit;
pub mod log;
mod meaning;
pub mod part;
mod replay;
pub mod step;
mod told;
mod words;

pub use board::{Board, Button, Row, board};
pub use dialogue::{Dialogue, Kept, Now, Reply};
pub use replay::replay;
