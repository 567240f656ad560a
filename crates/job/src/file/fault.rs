//! Where a job file is wrong, and the small readings that every table needs, each with its place.

use std::fmt;

use calc::keys::nearest;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A job file that can't be read, in one sentence with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// The file.
    pub file: String,
    /// Line, from 1; 0 when it is the whole file.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// Which key.
    pub what: String,
    /// What was given.
    pub given: String,
    /// What is allowed.
    pub allowed: String,
    /// What to write.
    pub remedy: String,
}

impl Fault {
    /// A fault of the whole file.
    pub fn whole(file: &str, given: String, allowed: &str, remedy: &str) -> Self {
        Self { file: file.into(), line: 0, column: 0, what: "the file".into(), given, allowed: allowed.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(f, "{}:{}:{}: ", self.file, self.line, self.column)?;
        } else {
            write!(f, "{}: ", self.file)?;
        }
        write!(f, "{} is {}; allowed: {}; {}", self.what, self.given, self.allowed, self.remedy)
    }
}

impl std::error::Error for Fault {}

/// The text of a file, for finding places in it.
pub struct Source<'t> {
    name: String,
    /// The text itself.
    pub text: &'t str,
}

/// A value of the file with its place.
pub type Placed<'i> = Spanned<DeValue<'i>>;

impl<'t> Source<'t> {
    /// A file of that name.
    pub fn new(name: &str, text: &'t str) -> Self {
        Self { name: name.into(), text }
    }

    /// A fault at a byte of the text.
    pub fn fault(&self, at: usize, what: &str, given: String, allowed: &str, remedy: &str) -> Fault {
        let mut at = at.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        let before = &self.text[..at];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().map_or(0, |line| line.chars().count()) + 1;
        Fault { file: self.name.clone(), line, column, what: what.into(), given, allowed: allowed.into(), remedy: remedy.into() }
    }

    /// A value as it was written, short.
    pub fn given(&self, value: &Placed) -> String {
        let written: String = self.text.get(value.span()).unwrap_or("").split_whitespace().collect::<Vec<_>>().join(" ");
        if written.chars().count() <= 50 { written } else { format!("{}..", written.chars().take(48).collect::<String>()) }
    }

    /// Refuses the first key (in the order of the file) that is not among `known`.
    pub fn known(&self, table: &DeTable, known: &[&str], path: &str) -> Result<(), Fault> {
        let mut unknown: Vec<_> = table.keys().filter(|key| !known.contains(&key.get_ref().as_ref())).collect();
        unknown.sort_by_key(|key| key.span().start);
        match unknown.first() {
            None => Ok(()),
            Some(key) => Err(self.unknown(key, known, path)),
        }
    }

    /// The refusal of an unknown key, with the nearest known one.
    pub fn unknown(&self, key: &Spanned<std::borrow::Cow<str>>, known: &[&str], path: &str) -> Fault {
        let name = key.get_ref();
        let full = if path.is_empty() { name.to_string() } else { format!("{path}.{name}") };
        let remedy = nearest(name, known.iter().copied()).map_or_else(|| "take it out".to_owned(), |near| format!("write {near}"));
        self.fault(key.span().start, &full, "an unknown key".into(), &known.join(", "), &remedy)
    }

    /// The table at a value.
    pub fn table<'v, 'i>(&self, value: &'v Placed<'i>, path: &str) -> Result<&'v DeTable<'i>, Fault> {
        super::as_table(value.get_ref()).ok_or_else(|| {
            self.fault(value.span().start, path, self.given(value), "a table", &format!("write [{path}] and its keys below it"))
        })
    }

    /// The list at a value.
    pub fn list<'v, 'i>(&self, value: &'v Placed<'i>, path: &str) -> Result<&'v [Placed<'i>], Fault> {
        let list = value.get_ref().as_array().map(|list| list.as_ref());
        list.ok_or_else(|| self.fault(value.span().start, path, self.given(value), "a list", "write it in [ ]"))
    }

    /// The text at a value.
    pub fn text_at(&self, value: &Placed, path: &str) -> Result<String, Fault> {
        let text = value.get_ref().as_str().map(str::to_owned);
        text.ok_or_else(|| self.fault(value.span().start, path, self.given(value), "a text in quotes", "write it as \"..\""))
    }

    /// One of some words.
    pub fn word_at(&self, value: &Placed, path: &str, words: &[&str]) -> Result<String, Fault> {
        let word = value.get_ref().as_str().unwrap_or("");
        if words.contains(&word) {
            return Ok(word.to_owned());
        }
        let near = nearest(word, words.iter().copied()).filter(|_| !word.is_empty());
        let remedy = near.map_or_else(|| "write one of them in quotes".to_owned(), |near| format!("write \"{near}\""));
        Err(self.fault(value.span().start, path, self.given(value), &words.join(", "), &remedy))
    }

    /// A day, as text or as a TOML date.
    pub fn day_at(&self, value: &Placed, path: &str) -> Result<String, Fault> {
        let text = match value.get_ref() {
            DeValue::String(text) => text.to_string(),
            DeValue::Datetime(day) => day.to_string(),
            _ => String::new(),
        };
        if is_day(&text) {
            return Ok(text);
        }
        Err(self.fault(value.span().start, path, self.given(value), "a day as YYYY-MM-DD", "write it like \"2026-11-18\""))
    }

    /// A whole number.
    pub fn whole_at(&self, value: &Placed, path: &str, low: f64, high: f64) -> Result<f64, Fault> {
        let number = number_of(value.get_ref()).filter(|x| x.fract() == 0.0 && (low..=high).contains(x));
        number.ok_or_else(|| {
            self.fault(value.span().start, path, self.given(value), &format!("a whole number from {low} to {high}"), "write such a number")
        })
    }
}

/// The number at a value, whichever way TOML writes it.
pub fn number_of(value: &DeValue) -> Option<f64> {
    match value {
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().replace('_', "").parse().ok(),
        DeValue::Integer(integer) => i64::from_str_radix(&integer.as_str().replace('_', ""), integer.radix()).ok().map(|x| x as f64),
        DeValue::Float(float) => float.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
}

fn is_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts.as_slice() else { return false };
    let number = |part: &str, width: usize| {
        (part.len() == width && part.bytes().all(|byte| byte.is_ascii_digit())).then(|| part.parse::<u32>().ok()).flatten()
    };
    let within = |part: Option<u32>, low: u32, high: u32| part.is_some_and(|x| (low..=high).contains(&x));
    within(number(year, 4), 1970, 9999) && within(number(month, 2), 1, 12) && within(number(day, 2), 1, 31)
}

/// Milliseconds from 1970 to a day, by the civil calendar; 0 when there is no day. Source: days-from-civil (Hinnant, memory).
pub fn millis_of_day(day: &str) -> u64 {
    let part = |range: std::ops::Range<usize>| day.get(range).and_then(|part| part.parse::<u64>().ok());
    let (Some(year), Some(month), Some(day)) = (part(0..4), part(5..7), part(8..10)) else { return 0 };
    let year = if month <= 2 { year.saturating_sub(1) } else { year };
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let days = 365 * year + year / 4 - year / 100 + year / 400 + of_year;
    days.saturating_sub(719_468) * 86_400_000
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_becomes_its_milliseconds() {
        assert_eq!(millis_of_day("1970-01-01"), 0);
        assert_eq!(millis_of_day("2000-03-01"), 951_868_800_000);
        assert_eq!(millis_of_day("nonsense"), 0);
    }
}
