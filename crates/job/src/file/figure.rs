//! A value of a file: a bare number in the file's unit, a text with its own unit and doubt, or `{ value = .., u = .. }`.
//!
//! Units are read by `calc::units`; here stands only which unit a bare number has.

use std::ops::Range;

use calc::Refused;
use calc::alloy::table::{alloys, metals};
use calc::keys::{self, nearest};
use calc::units::{F_from_C, Unit, from_millionths, millionths, read_as};
use toml::Spanned;
use toml::de::{DeInteger, DeValue};

use crate::entry::{Amount, day_number};
use crate::facts::{Fact, Measure, Stands};
use crate::state::{Given, Units};

use super::BadFile;
use super::place::{quoted, refuse_at, written};

/// No text of a job is longer.
const MOST_LETTERS: usize = 2000;
/// Upper ends from here on are no news to a person.
const NO_LIMIT: f64 = 1e9;

/// The unit of a bare number, as it may also be written after it; empty for a plain number.
pub const fn unit(measure: Measure, units: Units) -> &'static str {
    match (measure, units) {
        (Measure::Length, Units::Mm) => "mm",
        (Measure::Length, Units::Inch) => "in",
        (Measure::Fine, Units::Mm) => "um",
        (Measure::Fine, Units::Inch) => "thou",
        (Measure::Temperature, Units::Mm) => "C",
        (Measure::Temperature, Units::Inch) => "F",
        (Measure::Force, Units::Mm) => "kN",
        (Measure::Force, Units::Inch) => "lbf",
        (Measure::Stress, Units::Mm) => "MPa",
        (Measure::Stress, Units::Inch) => "psi",
        (Measure::Torque, Units::Mm) => "N m",
        (Measure::Torque, Units::Inch) => "lbf ft",
        (Measure::Angle, _) => "deg",
        (Measure::Turns, _) => "rpm",
        (Measure::Room, _) => "m3",
        (Measure::Expansion, _) => "per million K",
        (Measure::Plain, _) => "",
    }
}

/// The unit that `calc` keeps a measure in, where it reads it.
fn kept(measure: Measure) -> Option<Unit> {
    Unit::of_key(match measure {
        Measure::Length => "x_mm",
        Measure::Fine => "x_um",
        Measure::Temperature => "x_C",
        Measure::Force => "x_kN",
        Measure::Stress => "x_MPa",
        Measure::Torque => "x_Nm",
        Measure::Turns => "x_rpm",
        Measure::Angle | Measure::Room | Measure::Expansion | Measure::Plain => return None,
    })
}

/// What could stand at `fact`, as a file in these units writes it.
pub fn sample(fact: &Fact, units: Units) -> String {
    match fact.stands {
        Stands::Figure(measure, range, likely) => sample_figure((measure, range, likely), units),
        Stands::Word(words) => format!("{:?}", words.first().copied().unwrap_or_default()),
        Stands::Flag => "true".into(),
        Stands::Alloy => "\"CC493K\"".into(),
        Stands::Metal => "\"S355\"".into(),
        Stands::Text | Stands::Gauge if is_day(fact.path) => "2026-03-02".into(),
        Stands::Text | Stands::Gauge => "\"..\"".into(),
    }
}

/// Whether a day stands at `path`.
pub(crate) fn is_day(path: &str) -> bool {
    path == "job.date" || path.ends_with(".due")
}

/// A figure as an example, in the file's units.
pub(crate) fn sample_figure((measure, range, likely): (Measure, keys::Range, Option<(f64, f64)>), units: Units) -> String {
    let high = range.high.min(100.0);
    let (low, high) = likely.unwrap_or((if range.low > 0.0 { range.low } else { high / 100.0 }, high));
    let middle = if low > 0.0 { (low * high).sqrt() } else { (low + high) / 2.0 };
    let usual = match (measure, units) {
        (Measure::Force, Units::Inch) => 19_000.0,
        (Measure::Stress, Units::Inch) => 36_000.0,
        (Measure::Torque, Units::Inch) => 220.0,
        (Measure::Temperature, _) => {
            let C = if (low..=high).contains(&20.0) { 20.0 } else { middle };
            if units == Units::Inch { F_from_C(C) } else { C }
        }
        (Measure::Expansion, _) => 10.0,
        (Measure::Length | Measure::Fine, _) => units.system().from_mm(middle),
        _ => middle,
    };
    one_digit(usual)
}

/// `x` rounded to its first digit.
fn one_digit(x: f64) -> String {
    let rounded = format!("{x:.0e}").parse::<f64>().unwrap_or(x);
    format!("{rounded}")
}

/// What may stand at a figure, in the file's units: `a number over 0 in kN`.
pub(crate) fn allowed(measure: Measure, range: keys::Range, units: Units) -> String {
    let system = units.system();
    let face = |x: f64| match (measure, units) {
        (_, Units::Mm) if measure != Measure::Expansion => x,
        (Measure::Length | Measure::Fine, _) => rounded(system.from_mm(x)),
        (Measure::Temperature, _) => F_from_C(x),
        (Measure::Expansion, _) => rounded(millionths(x)),
        _ => x,
    };
    let high = if range.high >= NO_LIMIT { keys::Range::ANY.high } else { face(range.high) };
    let shown = keys::Range { low: face(range.low), high, ..range };
    match unit(measure, units) {
        "" => shown.to_string(),
        "in" => format!("{shown} inches"),
        unit => format!("{shown} in {unit}"),
    }
}

fn rounded(x: f64) -> f64 {
    format!("{x:.3}").parse().unwrap_or(x)
}

/// Reads values of one file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Values<'t> {
    pub text: &'t str,
    pub units: Units,
}

/// One key with its value, as read.
pub(super) type Value<'t> = Spanned<DeValue<'t>>;

impl Values<'_> {
    /// What is written at a value.
    pub fn written(&self, value: &Value) -> String {
        written(self.text, value.span())
    }

    /// Refuses the value at `path`.
    pub fn refuse(&self, path: &str, value: &Value, allowed: impl Into<String>, remedy: impl Into<String>) -> BadFile {
        self.refuse_at(path, value.span(), allowed, remedy)
    }

    fn refuse_at(&self, path: &str, span: Range<usize>, allowed: impl Into<String>, remedy: impl Into<String>) -> BadFile {
        let given = written(self.text, span.clone());
        let given = if given.is_empty() { "nothing".to_owned() } else { given };
        refuse_at(self.text, span.start, Refused::new(path, given, allowed, remedy))
    }

    /// What stands at a fact.
    pub fn given(&self, fact: &Fact, path: &str, value: &Value) -> Result<Given, BadFile> {
        let key = leaf(path);
        match fact.stands {
            Stands::Figure(measure, range, _) => {
                let sample = sample(fact, self.units);
                let Amount { value, u } = self.figure(path, (measure, range), &sample, value)?;
                Ok(Given::Figure { value, u })
            }
            Stands::Flag => match value.get_ref() {
                DeValue::Boolean(flag) => Ok(Given::Flag(*flag)),
                _ => Err(self.refuse(path, value, "true or false", format!("write {key} = true or {key} = false, without quotes"))),
            },
            Stands::Word(words) => self.word(path, words, value).map(|word| Given::Text(word.to_owned())),
            Stands::Alloy => self.id(path, &alloys().iter().map(|alloy| alloy.id).collect::<Vec<_>>(), value).map(Given::Text),
            Stands::Metal => self.id(path, &metals().iter().map(|metal| metal.id).collect::<Vec<_>>(), value).map(Given::Text),
            Stands::Text | Stands::Gauge if is_day(path) => self.day(path, value).map(Given::Text),
            Stands::Text | Stands::Gauge => self.text(path, value).map(Given::Text),
        }
    }

    /// A text; a number is taken as it is written (a job may have the number 4711).
    pub fn text(&self, path: &str, value: &Value) -> Result<String, BadFile> {
        let text = match value.get_ref() {
            DeValue::String(text) => text.trim().to_owned(),
            DeValue::Integer(_) | DeValue::Float(_) | DeValue::Datetime(_) => self.written(value),
            _ => return Err(self.refuse(path, value, "a text", format!("write {} = \"..\"", leaf(path)))),
        };
        if text.chars().count() > MOST_LETTERS || text.chars().any(|letter| letter.is_control() && !matches!(letter, '\n' | '\t' | '\r')) {
            let allowed = format!("a text of at most {MOST_LETTERS} letters");
            return Err(self.refuse(path, value, allowed, "write it shorter, in plain letters"));
        }
        Ok(text)
    }

    /// A text that is not empty.
    pub fn filled(&self, path: &str, value: &Value) -> Result<String, BadFile> {
        let text = self.text(path, value)?;
        if text.is_empty() {
            return Err(self.refuse(path, value, "a text that says something", format!("write {} = \"..\"", leaf(path))));
        }
        Ok(text)
    }

    /// One of these words.
    pub fn word<'w>(&self, path: &str, words: &[&'w str], value: &Value) -> Result<&'w str, BadFile> {
        let given = match value.get_ref() {
            DeValue::String(text) => text.as_ref(),
            _ => "",
        };
        if let Some(word) = words.iter().find(|word| **word == given) {
            return Ok(word);
        }
        let sample = nearest(given, words.iter().copied()).or_else(|| words.first().copied()).unwrap_or_default();
        Err(self.refuse(path, value, words.join(", "), format!("write {} = {sample:?}", leaf(path))))
    }

    fn id(&self, path: &str, ids: &[&str], value: &Value) -> Result<String, BadFile> {
        self.word(path, ids, value).map(str::to_owned)
    }

    /// A day, YYYY-MM-DD, in quotes or not.
    pub fn day(&self, path: &str, value: &Value) -> Result<String, BadFile> {
        let text = match value.get_ref() {
            DeValue::String(text) => text.trim().to_owned(),
            _ => self.written(value),
        };
        match day_number(&text) {
            Some(_) => Ok(text),
            None => Err(self.refuse(path, value, "a day, YYYY-MM-DD", format!("write {} = 2026-03-02", leaf(path)))),
        }
    }

    /// A whole number.
    pub fn whole(&self, path: &str, range: keys::Range, value: &Value) -> Result<f64, BadFile> {
        let number = match value.get_ref() {
            DeValue::Integer(integer) => number_of(integer),
            _ => None,
        };
        let sample = range.low.max(1.0);
        let allowed = range.to_string().replacen("a number", "a whole number", 1);
        number
            .filter(|number| range.has(*number))
            .ok_or_else(|| self.refuse(path, value, allowed, format!("write {} = {sample}", leaf(path))))
    }

    /// A figure with its doubt, in the unit that `measure` is kept in.
    pub fn figure(&self, path: &str, (measure, range): (Measure, keys::Range), sample: &str, value: &Value) -> Result<Amount, BadFile> {
        let key = leaf(path);
        let unit = unit(measure, self.units);
        let with_unit = if unit.is_empty() { String::new() } else { format!(" or {key} = \"{sample} {unit}\"") };
        let remedy = format!("write {key} = {sample}{with_unit}");
        let allowed = allowed(measure, range, self.units);
        let refuse = |remedy: String| self.refuse(path, value, allowed.clone(), remedy);
        let written = self.figure_text(measure, value).ok_or_else(|| refuse(remedy.clone()))?;
        let found = self.amount(measure, &written).map_err(|what| refuse(if what.is_empty() { remedy.clone() } else { what }))?;
        if range.has(found.value) && found.u.is_finite() && found.u >= 0.0 { Ok(found) } else { Err(refuse(remedy)) }
    }

    /// A value as one text with its unit and doubt: `240.031 mm ± 0.004 mm`. None where it is no number in any form.
    fn figure_text(&self, measure: Measure, value: &Value) -> Option<String> {
        let unit = unit(measure, self.units);
        Some(match value.get_ref() {
            DeValue::Integer(_) | DeValue::Float(_) => format!("{} {unit}", bare(value.get_ref())?),
            DeValue::String(text) => self.text_with_unit(measure, text)?,
            DeValue::Table(table) => {
                let mut parts = [None, None];
                for (key, value) in table {
                    let i = ["value", "u"].iter().position(|name| *name == key.get_ref())?;
                    let text = match value.get_ref() {
                        DeValue::String(text) => self.text_with_unit(measure, text)?,
                        other => format!("{} {unit}", bare(other)?),
                    };
                    *parts.get_mut(i)? = Some(text);
                }
                match parts {
                    [Some(value), None] => value,
                    [Some(value), Some(u)] if !value.contains('±') && !u.contains('±') => format!("{value} ± {u}"),
                    _ => return None,
                }
            }
            _ => return None,
        })
    }

    /// A text that starts with a number, the file's unit put after the number where it has none.
    fn text_with_unit(&self, measure: Measure, text: &str) -> Option<String> {
        let text = text.trim().replace("+/-", "±").replace("+-", "±");
        if !text.trim_start_matches(['-', '+', '−', '.']).starts_with(|letter: char| letter.is_ascii_digit()) {
            return None;
        }
        let (value, doubt) = text.split_once('±').map_or((text.as_str(), None), |(value, doubt)| (value.trim(), Some(doubt.trim())));
        let value = match value.parse::<f64>() {
            Ok(_) => format!("{value} {}", unit(measure, self.units)),
            Err(_) => value.to_owned(),
        };
        Some(doubt.map_or_else(|| value.clone(), |doubt| format!("{value} ± {doubt}")))
    }

    /// Reads a text with its unit. The error says what to do; empty where the usual sentence serves.
    fn amount(&self, measure: Measure, text: &str) -> Result<Amount, String> {
        match kept(measure) {
            Some(unit) => read_as(text, unit).map(|found| Amount { value: found.value, u: found.u }).map_err(|refused| refused.remedy),
            None => plain(measure, text).ok_or_else(String::new),
        }
    }
}

/// A figure as a person types it on a screen: `240.031`, `240.031 ± 0.004`, `9.45 in`. A bare number is in `units`. The error says what
/// to do; empty where there is no better word than an example.
pub(crate) fn typed(measure: Measure, range: keys::Range, text: &str, units: Units) -> Result<Amount, String> {
    let values = Values { text: "", units };
    // A comma between two digits is a decimal point to half the world; thousands are never parted in this trade's figures.
    let text = text.trim().replace(',', ".");
    let whole = values.text_with_unit(measure, &text).ok_or_else(String::new)?;
    let found = values.amount(measure, &whole)?;
    if range.has(found.value) && found.u.is_finite() && found.u >= 0.0 { Ok(found) } else { Err(String::new()) }
}

/// A number without a unit of `calc`: `11.5 ± 0.5`, `30 deg`, `300 m3`.
fn plain(measure: Measure, text: &str) -> Option<Amount> {
    let units: &[&str] = match measure {
        Measure::Angle => &["deg", "°"],
        Measure::Room => &["m3", "m³"],
        Measure::Expansion => &["per million K", "ppm/K"],
        _ => &[],
    };
    let number = |text: &str| {
        let text = text.trim();
        let bare = units.iter().find_map(|unit| text.strip_suffix(unit)).unwrap_or(text);
        bare.trim().parse::<f64>().ok()
    };
    let (value, u) = match text.split_once('±') {
        Some((value, u)) => (number(value)?, number(u)?),
        None => (number(text)?, 0.0),
    };
    let kept = |x: f64| if measure == Measure::Expansion { from_millionths(x) } else { x };
    Some(Amount { value: kept(value), u: kept(u) })
}

/// A bare number as text.
fn bare(value: &DeValue) -> Option<String> {
    match value {
        DeValue::Integer(integer) => number_of(integer).map(|number| number.to_string()),
        // `inf` and `nan` are literals of the form, but no figures.
        DeValue::Float(float) => {
            let number = float.as_str().parse::<f64>().ok().filter(|number| number.is_finite())?;
            Some(number.to_string())
        }
        _ => None,
    }
}

fn number_of(integer: &DeInteger) -> Option<f64> {
    // A whole number of a job has far fewer digits than an i128; nearest f64 is meant.
    i128::from_str_radix(integer.as_str(), integer.radix()).ok().map(|number| number as f64)
}

/// The last part of a path.
pub(super) fn leaf(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or(path)
}

/// A piece of text in quotes for a sentence.
pub(super) fn in_quotes(text: &str) -> String {
    format!("{:?}", quoted(text))
}
