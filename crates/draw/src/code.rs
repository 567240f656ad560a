//! A code that a camera reads: a text as black squares. Source: ISO/IEC 18004 (the library's), error correction M (15 % may be lost).

use qrcodegen::{QrCode, QrCodeEcc};

use crate::Drawing;
use crate::pen::{Patch, Pen, Tint};
use job::sheet::Grid;

/// Units of a square.
const SQUARE: f64 = 4.0;
/// Squares of white about the code. Source: ISO/IEC 18004, 4 modules.
const QUIET: f64 = 4.0;

/// The code of a text; none when the text is too long for one (some 2300 letters).
pub fn code(text: &str) -> Option<Drawing> {
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
    let mut pen = Pen::new();
    let across = (f64::from(code.size()) + 2.0 * QUIET) * SQUARE;
    pen.patch(&Patch { left: 0.0, top: 0.0, right: across, bottom: across }, Tint::Paper);
    for y in 0..code.size() {
        let mut x = 0;
        while x < code.size() {
            let from = x;
            while x < code.size() && code.get_module(x, y) {
                x += 1;
            }
            if x > from {
                let at = |n: i32| (f64::from(n) + QUIET) * SQUARE;
                pen.patch(&Patch { left: at(from), top: at(y), right: at(x), bottom: at(y + 1) }, Tint::Black);
            }
            x += 1;
        }
    }
    let table = Grid { title: "Code".into(), columns: vec!["holds".into()], figures: vec![false], rows: vec![vec![text.into()]] };
    Some(pen.finish(across, across, "Code", &format!("A code for a camera. It holds: {text}"), table))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_squares_are_those_of_the_code() {
        let text = "bushwright head W-2611 f64296ce3718";
        let drawing = code(text).unwrap();
        let code = QrCode::encode_text(text, QrCodeEcc::Medium).unwrap();
        assert!((drawing.width - (f64::from(code.size()) + 8.0) * 4.0).abs() < 1e-9);
        // Black area of the drawing: each square counts its width times its height.
        let black: f64 = drawing.svg.split("class=\"black\"").count() as f64 - 1.0;
        let runs = (0..code.size())
            .map(|y| (0..code.size()).filter(|x| code.get_module(*x, y) && !(*x > 0 && code.get_module(x - 1, y))).count())
            .sum::<usize>();
        assert!((black - runs as f64).abs() < 0.5);
        assert!(super::code(&"x".repeat(5000)).is_none());
    }
}
