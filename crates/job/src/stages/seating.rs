//! Seat: the way in.

use super::Bench;
use super::draft::Draft;
use super::found::Found;

pub fn write(_bench: &Bench, _draft: &mut Draft, _found: &mut Found) {}
