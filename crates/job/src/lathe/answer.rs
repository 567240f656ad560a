//! What a person types at the lathe, read: figures with or without their unit, words, how long ago.

use calc::Refused;
use calc::quantity::Quantity;
use calc::units::{Dimension, read_with_unit};

use crate::state::Units;

/// An answer before it is known what was asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer<'t> {
    /// The first word, in small letters; empty where the answer starts with a figure or is empty.
    pub word: String,
    /// What follows the word, or the whole of it.
    pub rest: &'t str,
    /// Time since the step before that was said with it, s.
    pub after_s: Option<f64>,
}

/// Longest answer: a line of a person.
pub const MOST_LETTERS: usize = 300;

/// Parts an answer: `300.452 300.455 after 4 min`, `wait 20 min`, `note oil on the gauge`.
pub fn parted(text: &str) -> Result<Answer<'_>, Refused> {
    let text = text.trim();
    if text.chars().count() > MOST_LETTERS || text.chars().any(char::is_control) {
        return Err(Refused::new(
            "the answer",
            "too long or not plain text",
            format!("a line of at most {MOST_LETTERS} letters"),
            "type it again, shorter",
        ));
    }
    let starts_with_figure = text.starts_with(|letter: char| letter.is_ascii_digit() || matches!(letter, '.' | '-' | '+' | '−'));
    let (word, rest) = match text.split_once(char::is_whitespace) {
        _ if starts_with_figure => ("", text),
        Some((word, rest)) => (word, rest.trim()),
        None => (text, ""),
    };
    let word = word.to_lowercase();
    if word == "note" || word == "undo" {
        return Ok(Answer { word, rest, after_s: None });
    }
    if word == "after" {
        return Ok(Answer { word: String::new(), rest: "", after_s: Some(duration(rest)?) });
    }
    match rest.split_once("after") {
        Some((rest, time)) => Ok(Answer { word, rest: rest.trim(), after_s: Some(duration(time)?) }),
        None => Ok(Answer { word, rest, after_s: None }),
    }
}

/// Longest time that is typed: a month.
const LONGEST_S: f64 = 31.0 * 86_400.0;

/// A time: `8 min`, `90 s`, `1.5 h`, or a bare number of minutes. In seconds.
pub fn duration(text: &str) -> Result<f64, Refused> {
    let text = text.trim();
    let end = text.find(|letter: char| !(letter.is_ascii_digit() || letter == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let seconds = match unit.trim() {
        "" | "min" | "minute" | "minutes" | "m" => 60.0,
        "s" | "sec" | "second" | "seconds" => 1.0,
        "h" | "hour" | "hours" => 3600.0,
        _ => f64::NAN,
    };
    match number.parse::<f64>().map(|number| number * seconds) {
        Ok(time) if (0.0..=LONGEST_S).contains(&time) => Ok(time),
        _ => Err(Refused::new("the time", format!("{text:?}"), "minutes, seconds or hours, up to a month", "write it like 8 min")),
    }
}

/// Figures of one set: `300.452 300.455`, `11.8288 11.8290 in`, `27.2`. A unit counts for those before it that have none.
pub fn figures(key: &str, text: &str, dimension: Dimension, units: Units) -> Result<Vec<f64>, Refused> {
    let named = |refused: Refused| Refused { key: key.to_owned(), ..refused };
    let mut parted: Vec<(String, String)> = Vec::new();
    for piece in text.split_whitespace() {
        let is_figure = piece.starts_with(|letter: char| letter.is_ascii_digit() || matches!(letter, '.' | '-' | '+' | '−'));
        match (is_figure, parted.last_mut()) {
            (true, _) => {
                let end = piece.find(|letter: char| letter.is_alphabetic() || matches!(letter, '°' | '"' | '″')).unwrap_or(piece.len());
                let (figure, unit) = piece.split_at(end);
                parted.push((figure.to_owned(), unit.to_owned()));
            }
            (false, Some((_, unit))) if unit.is_empty() => piece.clone_into(unit),
            _ => {
                return Err(Refused::new(
                    key,
                    format!("{text:?}"),
                    "one or more figures",
                    format!("write it like {}", sample(dimension, units)),
                ));
            }
        }
    }
    if parted.is_empty() {
        return Err(Refused::new(key, "nothing", "one or more figures", format!("write it like {}, or skip", sample(dimension, units))));
    }
    let mut unit = default_unit(dimension, units).to_owned();
    if let Some((_, last)) = parted.last()
        && !last.is_empty()
    {
        unit.clone_from(last);
    }
    let read = |(figure, own): &(String, String)| {
        let unit = if own.is_empty() { &unit } else { own };
        read_with_unit(&format!("{figure} {unit}"), dimension).map(|quantity| quantity.value).map_err(named)
    };
    parted.iter().map(read).collect()
}

/// One size with its doubt, where it has one: `241.6`, `9.512 in ± 0.001`.
pub fn size(key: &str, text: &str, units: Units) -> Result<Quantity, Refused> {
    if !(text.contains('±') || text.contains("+-") || text.contains("+/-")) {
        return match figures(key, text, Dimension::Length, units)?.as_slice() {
            [size] => Ok(Quantity::exact(*size)),
            more => Err(Refused::new(key, format!("{} figures", more.len()), "one size", "write one, like 241.6 ± 0.1")),
        };
    }
    let text = text.replace("+/-", "±").replace("+-", "±");
    let (value, doubt) = text.split_once('±').unwrap_or((&text, ""));
    let value = match value.trim().parse::<f64>() {
        Ok(_) => format!("{} {}", value.trim(), default_unit(Dimension::Length, units)),
        Err(_) => value.trim().to_owned(),
    };
    read_with_unit(&format!("{value} ± {}", doubt.trim()), Dimension::Length).map_err(|refused| Refused { key: key.to_owned(), ..refused })
}

fn default_unit(dimension: Dimension, units: Units) -> &'static str {
    match (dimension, units) {
        (Dimension::Temperature, Units::Mm) => "C",
        (Dimension::Temperature, Units::Inch) => "F",
        (_, Units::Mm) => "mm",
        (_, Units::Inch) => "in",
    }
}

fn sample(dimension: Dimension, units: Units) -> &'static str {
    match (dimension, units) {
        (Dimension::Temperature, Units::Mm) => "27.2",
        (Dimension::Temperature, Units::Inch) => "81",
        (_, Units::Mm) => "300.452",
        (_, Units::Inch) => "11.8288",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_parted_into_word_rest_and_time() {
        for (text, word, rest, after_s) in [
            ("  ", "", "", None),
            ("300.452 300.455 after 4 min", "", "300.452 300.455", Some(240.0)),
            ("-0.002", "", "-0.002", None),
            ("Wait 20 min", "wait", "20 min", None),
            ("after 90 s", "", "", Some(90.0)),
            ("note read after the rain", "note", "read after the rain", None),
            ("temp 28.2 after 2", "temp", "28.2", Some(120.0)),
            ("?", "?", "", None),
        ] {
            let wanted = Answer { word: word.into(), rest, after_s };
            assert_eq!(parted(text), Ok(wanted), "{text}");
        }
        for text in ["300 after soon", "300 after -2 min", "300 after 1e9 h"] {
            assert_eq!(parted(text).unwrap_err().key, "the time", "{text}");
        }
        assert!(parted(&"9".repeat(400)).is_err() && parted("30\u{7}").is_err());
    }

    #[test]
    fn figures_carry_their_unit_or_that_of_the_job() {
        let length = |text: &str, units| figures("the reading", text, Dimension::Length, units);
        assert_eq!(length("300.452 300.455", Units::Mm).unwrap(), [300.452, 300.455]);
        let inches = length("11.8288 11.8290 in", Units::Mm).unwrap();
        assert!((inches[0] - 300.451_52).abs() < 1e-9 && (inches[1] - 300.456_6).abs() < 1e-9, "{inches:?}");
        assert!((length("11.8288", Units::Inch).unwrap()[0] - 300.451_52).abs() < 1e-9);
        assert_eq!(length("300.452mm", Units::Inch).unwrap(), [300.452]);
        let part = figures("the temperature", "81 F", Dimension::Temperature, Units::Mm).unwrap();
        assert!((part[0] - 27.222_222).abs() < 1e-6);
        assert_eq!(size("size", "241.6 +- 0.1", Units::Mm).map(|size| (size.value, size.u)), Ok((241.6, 0.1)));
        for text in ["", "300,452", "300.4 300.5 kg", "wide", "300.4 - 5 x", "30 0 furlongs"] {
            let refused = length(text, Units::Mm).unwrap_err();
            assert_eq!(refused.key, "the reading", "{text}");
        }
    }
}
