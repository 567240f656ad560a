//! The browser app: screens over `job`, `calc` and `draw`, the same code as everywhere; entries kept in the browser while offline.
//!
//! What does not need a browser (what a stage asks for, what a column of figures means, what a worker is asked) is built and tested
//! natively as well; the screens (`page`) are built for WebAssembly alone.
//!
//! **Never here:** arithmetic. A screen asks `job` for a sheet, `draw` for a picture, and shows both unchanged.

#![allow(non_snake_case, reason = "names agree with the keys of calc: part_C is a temperature in degrees Celsius")]

pub mod address;
pub mod asked;
pub mod column;
pub mod errand;
pub mod light;
#[cfg(target_arch = "wasm32")]
mod page;
pub mod writing;
