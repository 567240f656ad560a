//! Which letters can be printed: those that a font of the program has. What else a person typed is shown as a box, and said.

use std::collections::BTreeSet;

use crate::world::FONTS;

/// Families that a document uses, the first that has a letter sets it.
const FAMILIES: [&str; 3] = ["libertinus serif", "dejavu sans mono", "new computer modern"];

/// Stands for a letter that can't be printed.
const BOX: char = '□';

/// Longest word without a place to break: a longer one could leave its column.
const LONGEST: usize = 20;

/// Letters between two places to break in such a word.
const PIECE: usize = 10;

/// How much is let through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Letters {
    /// Every letter that a font here has.
    Known,
    /// Latin letters, figures and the signs of the trade: what surely stands in one font.
    Plain,
}

/// Cleans texts and remembers what it could not print.
#[derive(Debug)]
pub(crate) struct Cleaner {
    letters: Letters,
    unknown: BTreeSet<char>,
}

impl Cleaner {
    pub const fn new(letters: Letters) -> Self {
        Self { letters, unknown: BTreeSet::new() }
    }

    /// A text with only printable letters, and with places to break in words that are longer than a narrow column.
    pub fn text(&mut self, text: &str) -> String {
        let whole = self.whole(text);
        let words: Vec<String> = whole.split(' ').map(breakable).collect();
        words.join(" ").trim().to_owned()
    }

    /// Texts as [`Cleaner::text`], those that are left empty too.
    pub fn each(&mut self, texts: &[String]) -> Vec<String> {
        texts.iter().map(|text| self.text(text)).collect()
    }

    /// Texts as [`Cleaner::text`], without those that are left empty.
    pub fn texts(&mut self, texts: &[String]) -> Vec<String> {
        let mut texts = self.each(texts);
        texts.retain(|text| !text.is_empty());
        texts
    }

    /// A text as [`Cleaner::text`], without places to break: for drawings, and for what is copied.
    pub fn whole(&mut self, text: &str) -> String {
        text.chars().filter_map(|letter| self.letter(letter)).collect()
    }

    fn letter(&mut self, letter: char) -> Option<char> {
        if letter.is_whitespace() {
            return Some(' ');
        }
        // Directions, joiners and variants change how neighbours look; alone they print nothing.
        if letter.is_control()
            || matches!(u32::from(letter), 0x00AD | 0x200B..=0x200F | 0x202A..=0x202E | 0x2060..=0x206F | 0xFE00..=0xFE0F | 0xFEFF | 0xE0000..=0xE0FFF)
        {
            return None;
        }
        if printable(letter, self.letters) {
            return Some(letter);
        }
        self.unknown.insert(letter);
        Some(BOX)
    }

    /// A sentence about what could not be printed.
    pub fn note(&self) -> Option<String> {
        if self.unknown.is_empty() {
            return None;
        }
        let most = 20;
        let named: Vec<String> = self.unknown.iter().take(most).map(|letter| format!("U+{:04X}", u32::from(*letter))).collect();
        let more = if self.unknown.len() > most { format!(" and {} more", self.unknown.len() - most) } else { String::new() };
        Some(format!(
            "{BOX} stands for letters that no font of this paper has: {}{more}. The record has them as they were typed.",
            named.join(", ")
        ))
    }
}

fn breakable(word: &str) -> String {
    let letters: Vec<char> = word.chars().collect();
    if letters.len() <= LONGEST {
        return word.to_owned();
    }
    let pieces: Vec<String> = letters.chunks(PIECE).map(|piece| piece.iter().collect()).collect();
    pieces.join("\u{200B}")
}

fn printable(letter: char, letters: Letters) -> bool {
    if letter.is_ascii() || letter == BOX {
        return true;
    }
    if letters == Letters::Plain
        && !matches!(u32::from(letter), 0x00A1..=0x017F | 0x0391..=0x03C9 | 0x2010..=0x2026 | 0x2030 | 0x2190..=0x2193 | 0x2212 | 0x2260..=0x2265 | 0x2300)
    {
        return false;
    }
    let book = FONTS.book();
    FAMILIES
        .iter()
        .flat_map(|family| book.select_family(family))
        .filter_map(|index| book.info(index))
        .any(|info| info.coverage.contains(u32::from(letter)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_that_no_font_has_becomes_a_box_and_is_named() {
        let mut cleaner = Cleaner::new(Letters::Known);
        assert_eq!(cleaner.text("Hälsö ⌀ 240 µm \u{4E2D}"), "Hälsö ⌀ 240 µm □");
        assert!(cleaner.note().unwrap().contains("U+4E2D"));
    }

    #[test]
    fn controls_and_directions_leave_no_trace() {
        assert_eq!(Cleaner::new(Letters::Known).text("\u{202E}a\u{0}b\tc\u{FEFF}"), "ab c");
    }

    #[test]
    fn a_word_without_end_may_be_broken() {
        let text = Cleaner::new(Letters::Known).text(&"x".repeat(100));
        assert_eq!(text.chars().filter(|letter| *letter == '\u{200B}').count(), 9);
    }
}
