//! What leaves the shop with the part, as data that is ready to be set: the shop drawing, the lathe sheet, the certificate, the quote, the
//! measured results.
//!
//! Every text is final and every figure is one that a stage was given by `calc`. It leaves placing and setting to `draw` and `paper`.

pub mod certificate;
pub mod document;
pub mod folder;
pub mod lathe_sheet;
pub mod quote;
mod readings;
pub mod record;
pub mod results;
pub mod shop_drawing;
