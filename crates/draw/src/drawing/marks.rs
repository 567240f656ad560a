//! What stands at the end of a dimension or a leader: figures, frames of form and place, texture symbols, datum letters.

use crate::pen::{Held, Letters, Patch, Pen, Point, Stroke};

/// Height of a line of text, units.
pub(crate) const LINE: f64 = 15.0;
/// Height of a frame of ISO 1101, units.
const FRAME: f64 = 20.0;
/// Width of the symbol's compartment.
const SYMBOL: f64 = 22.0;
/// Room beside a text in its compartment.
const AIR: f64 = 5.0;
/// Height of a texture symbol.
const TEXTURE: f64 = 22.0;

/// A characteristic of ISO 1101.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Symbol {
    Roundness,
    Cylindricity,
    Coaxiality,
    RunOut,
}

impl Symbol {
    pub const fn word(self) -> &'static str {
        match self {
            Self::Roundness => "roundness",
            Self::Cylindricity => "cylindricity",
            Self::Coaxiality => "coaxiality",
            Self::RunOut => "axial run-out",
        }
    }
}

/// A piece of a mark.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Piece {
    /// A line of words, held left.
    Text(String),
    /// A line of figures, held right: limits stand under each other to the digit.
    Figures(String),
    /// A frame: characteristic, tolerance, datum.
    Frame(Symbol, String, Option<&'static str>),
    /// A surface that is cut, with its texture. Source: ISO 21920-1 (from memory).
    Texture(String),
    /// A datum letter in its box.
    Datum(&'static str),
}

impl Piece {
    fn size(&self) -> (f64, f64) {
        match self {
            Self::Text(text) | Self::Figures(text) => (Letters::Plain.width(text), LINE),
            Self::Frame(_, tolerance, datum) => {
                let datum = datum.map_or(0.0, |letter| Letters::Plain.width(letter) + 2.0 * AIR);
                (SYMBOL + Letters::Plain.width(tolerance) + 2.0 * AIR + datum, FRAME)
            }
            Self::Texture(text) => (20.0 + Letters::Plain.width(text) + 4.0, TEXTURE),
            Self::Datum(letter) => (Letters::Plain.width(letter) + 2.0 * AIR, FRAME),
        }
    }

    /// What is read of it where it can't be seen.
    pub fn said(&self) -> String {
        match self {
            Self::Text(text) | Self::Figures(text) => text.clone(),
            Self::Frame(symbol, tolerance, datum) => {
                format!("{} {tolerance}{}", symbol.word(), datum.map(|letter| format!(" to {letter}")).unwrap_or_default())
            }
            Self::Texture(text) => format!("cut surface, {text}"),
            Self::Datum(letter) => format!("datum {letter}"),
        }
    }
}

/// Pieces one under another.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Block(pub Vec<Piece>);

impl Block {
    pub fn text(lines: &[String]) -> Self {
        Self(lines.iter().cloned().map(Piece::Text).collect())
    }

    pub fn figures(lines: &[String]) -> Self {
        Self(lines.iter().cloned().map(Piece::Figures).collect())
    }

    pub fn of(piece: Piece) -> Self {
        Self(vec![piece])
    }

    /// Width and height, units.
    pub fn size(&self) -> (f64, f64) {
        self.0.iter().map(Piece::size).fold((0.0, 0.0), |(wide, high), (w, h)| (f64::max(wide, w), high + h))
    }

    pub fn said(&self) -> String {
        self.0.iter().map(Piece::said).collect::<Vec<_>>().join(", ")
    }

    /// Whether a leader runs on as the line under it: a texture symbol stands on its line.
    pub fn stands_on_its_line(&self) -> bool {
        matches!(self.0.last(), Some(Piece::Texture(_)))
    }

    /// Draws it with its upper left corner at a point.
    pub fn draw(&self, pen: &mut Pen, left: f64, top: f64) {
        let mut y = top;
        for piece in &self.0 {
            let (w, h) = piece.size();
            match piece {
                Piece::Text(text) => pen.text(left, y + h - 4.0, Held::Left, Letters::Plain, text),
                Piece::Figures(text) => pen.text(left + self.size().0, y + h - 4.0, Held::Right, Letters::Plain, text),
                Piece::Frame(symbol, tolerance, datum) => frame(pen, (left, y, w), *symbol, tolerance, *datum),
                Piece::Texture(text) => texture(pen, left, y, text),
                Piece::Datum(letter) => {
                    boxed(pen, left, y, w);
                    pen.text(left + AIR, y + h - 6.0, Held::Left, Letters::Plain, letter);
                }
            }
            y += h;
        }
    }

    /// Draws it turned a quarter, to be read from the right: it fills the patch from its lower to its upper end.
    pub fn draw_up(&self, pen: &mut Pen, within: &Patch) {
        let mut x = within.left;
        for piece in &self.0 {
            if let Piece::Text(text) | Piece::Figures(text) = piece {
                pen.text_up(x + LINE - 4.0, within.top, Held::Right, Letters::Plain, text);
            }
            x += LINE;
        }
    }
}

fn boxed(pen: &mut Pen, left: f64, top: f64, wide: f64) {
    pen.path(&[(left, top), (left + wide, top), (left + wide, top + FRAME), (left, top + FRAME)], true, Stroke::Thin);
}

fn frame(pen: &mut Pen, (left, top, wide): (f64, f64, f64), symbol: Symbol, tolerance: &str, datum: Option<&str>) {
    boxed(pen, left, top, wide);
    let first = left + SYMBOL;
    pen.line((first, top), (first, top + FRAME), Stroke::Thin);
    draw_symbol(pen, (left + SYMBOL / 2.0, top + FRAME / 2.0), symbol);
    pen.text(first + AIR, top + FRAME - 6.0, Held::Left, Letters::Plain, tolerance);
    if let Some(letter) = datum {
        let second = first + Letters::Plain.width(tolerance) + 2.0 * AIR;
        pen.line((second, top), (second, top + FRAME), Stroke::Thin);
        pen.text(second + AIR, top + FRAME - 6.0, Held::Left, Letters::Plain, letter);
    }
}

/// The characteristic as lines: fonts draw these signs too differently, or not at all.
fn draw_symbol(pen: &mut Pen, centre: Point, symbol: Symbol) {
    let (x, y) = centre;
    match symbol {
        Symbol::Roundness => pen.ring(centre, 5.5, Stroke::Thin),
        Symbol::Cylindricity => {
            pen.ring(centre, 4.5, Stroke::Thin);
            for side in [-1.0, 1.0] {
                let foot = x + side * 5.2;
                pen.line((foot - 3.2, y + 7.0), (foot + 3.2, y - 7.0), Stroke::Thin);
            }
        }
        Symbol::Coaxiality => {
            pen.ring(centre, 6.5, Stroke::Thin);
            pen.ring(centre, 3.2, Stroke::Thin);
        }
        Symbol::RunOut => {
            let tip = (x + 6.0, y - 6.0);
            pen.line((x - 6.0, y + 6.0), tip, Stroke::Thin);
            pen.arrow(tip, (std::f64::consts::FRAC_1_SQRT_2, -std::f64::consts::FRAC_1_SQRT_2));
        }
    }
}

fn texture(pen: &mut Pen, left: f64, top: f64, text: &str) {
    let foot = top + TEXTURE;
    let end = left + 20.0 + Letters::Plain.width(text) + 4.0;
    pen.path(&[(left, foot - 9.0), (left + 5.0, foot), (left + 16.0, foot - 20.0), (end, foot - 20.0)], false, Stroke::Thin);
    pen.line((left, foot - 9.0), (left + 10.0, foot - 9.0), Stroke::Thin);
    pen.text(left + 19.0, foot - 6.0, Held::Left, Letters::Plain, text);
}
