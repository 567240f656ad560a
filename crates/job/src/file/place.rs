//! Where something stands in a file, and how it is written there.

use std::collections::BTreeMap;
use std::ops::Range;

use calc::Refused;
use calc::keys::nearest;

use super::BadFile;

/// Longest piece of a file that is quoted in a sentence.
const MOST_QUOTED: usize = 60;

/// Line and column, from 1, of a byte of `text`; the column counts characters.
pub(super) fn position(text: &str, byte: usize) -> (usize, usize) {
    let before: Vec<u8> = text.bytes().take(byte).collect();
    let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
    let start = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |newline| newline + 1);
    // Bytes that carry on a character do not count.
    let column = before.iter().skip(start).filter(|byte| **byte & 0xC0 != 0x80).count() + 1;
    (line, column)
}

/// Line and column, from 1, of each of `bytes`, in one sweep over the text.
pub(super) fn positions(text: &str, bytes: impl Iterator<Item = usize>) -> BTreeMap<usize, (usize, usize)> {
    let mut wanted: BTreeMap<usize, (usize, usize)> = bytes.map(|byte| (byte, (1, 1))).collect();
    let mut letters = text.char_indices().peekable();
    let (mut line, mut column) = (1, 1);
    for (byte, place) in &mut wanted {
        while let Some((_, letter)) = letters.next_if(|(at, _)| at < byte) {
            (line, column) = if letter == '\n' { (line + 1, 1) } else { (line, column + 1) };
        }
        *place = (line, column);
    }
    wanted
}

/// Refuses what stands at `byte` of `text`.
pub(super) fn refuse_at(text: &str, byte: usize, refused: Refused) -> BadFile {
    let (line, column) = position(text, byte);
    BadFile { file: String::new(), line, column, byte, refused }
}

/// What is written in `span`, on one line and not too long.
pub(super) fn written(text: &str, span: Range<usize>) -> String {
    quoted(text.get(span).unwrap_or_default())
}

/// `piece` on one line and not too long.
pub(super) fn quoted(piece: &str) -> String {
    let one_line: String = piece.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut letters = one_line.chars().map(|letter| if letter.is_control() { '\u{FFFD}' } else { letter });
    let short: String = letters.by_ref().take(MOST_QUOTED).collect();
    if letters.next().is_some() { short + ".." } else { short }
}

/// Refuses a name that is not known, with the nearest that is.
pub(super) fn not_known(key: &str, given: &str, known: &[&str], what_is_none: &str) -> Refused {
    let remedy = match nearest(given.trim_matches('"'), known.iter().copied()) {
        // As it was given: in quotes where it is a value.
        Some(near) if given.starts_with('"') => format!("write {near:?}"),
        Some(near) => format!("write {near}"),
        None if known.is_empty() => what_is_none.to_owned(),
        None => "write one of them".to_owned(),
    };
    let allowed = if known.is_empty() { "none is given".to_owned() } else { known.join(", ") };
    Refused::new(key, given, allowed, remedy)
}
