//! What a person types into a field, read as what may stand there: the same ranges and units as a job file, in words for a screen.
//!
//! A refusal is one sentence: what was typed, what is allowed, what to type. The text itself stays with the person.

use calc::Refused;
use calc::alloy::table::{alloys, metals};

use crate::entry::{Amount, unknown};
use crate::facts::{Measure, Stands, fact};
use crate::file::{allowed, is_day, sample, sample_figure, typed, unit};
use crate::state::{Given, Units};

/// No text of a field is longer.
const MOST_LETTERS: usize = 2000;

/// What `text` means at the fact of `path`; a bare number is in `units`.
pub fn given(path: &str, text: &str, units: Units) -> Result<Given, Refused> {
    let Some(fact) = fact(path) else {
        return Err(unknown("the field", path, crate::facts::FACTS.iter().map(|fact| fact.path)));
    };
    let text = plain(path, text)?;
    match fact.stands {
        Stands::Figure(measure, range, _) => {
            let found = typed(measure, range, text, units).map_err(|what| {
                let (unit, example) = (unit(measure, units), sample(fact, units));
                let usual = match unit {
                    "" => format!("type it like {example}"),
                    unit => format!("type it like {example} or {example} {unit}"),
                };
                refused(path, text, allowed(measure, range, units), if what.is_empty() { usual } else { what })
            })?;
            Ok(Given::Figure { value: found.value, u: found.u })
        }
        Stands::Word(words) => one_of(path, text, words.iter().copied()),
        Stands::Flag => match text {
            "true" | "yes" => Ok(Given::Flag(true)),
            "false" | "no" => Ok(Given::Flag(false)),
            _ => Err(refused(path, text, "yes or no", "choose one of them")),
        },
        Stands::Alloy => one_of(path, text, alloys().iter().map(|alloy| alloy.id)),
        Stands::Metal => one_of(path, text, metals().iter().map(|metal| metal.id)),
        Stands::Text | Stands::Gauge if is_day(path) && crate::entry::day_number(text).is_none() => {
            Err(refused(path, text, "a day, YYYY-MM-DD", "type it like 2026-03-02"))
        }
        Stands::Text | Stands::Gauge if text.is_empty() => Err(refused(path, "nothing", "a text that says something", "type a few words")),
        Stands::Text | Stands::Gauge => Ok(Given::Text(text.to_owned())),
    }
}

/// A diameter as read, mm.
pub fn size(text: &str, units: Units) -> Result<f64, Refused> {
    let example = if units == Units::Inch { "9.4501" } else { "240.031" };
    amount("the reading", Measure::Length, calc::keys::Range::over(0.0).to(20_000.0), text, units, example).map(|amount| amount.value)
}

/// A distance along the seat, mm.
pub fn station(text: &str, units: Units) -> Result<f64, Refused> {
    let example = if units == Units::Inch { "0.6" } else { "15" };
    amount("the station", Measure::Length, calc::keys::Range::within(-20_000.0, 20_000.0), text, units, example).map(|amount| amount.value)
}

/// A direction, degrees.
pub fn angle(text: &str) -> Result<f64, Refused> {
    amount("the angle", Measure::Angle, calc::keys::Range::within(-360.0, 360.0), text, Units::Mm, "45").map(|amount| amount.value)
}

/// The temperature of a part or a gauge, °C, with its doubt where one was typed.
pub fn temperature(text: &str, units: Units) -> Result<Amount, Refused> {
    let example = if units == Units::Inch { "72" } else { "22.5" };
    amount("the temperature", Measure::Temperature, calc::keys::Range::within(-200.0, 400.0), text, units, example)
}

/// A figure of a card of the shop, as the card keeps it; the doubt of a card is a field of its own.
pub(crate) fn of_card(
    name: &str,
    (measure, range, likely): (Measure, calc::keys::Range, (f64, f64)),
    text: &str,
    units: Units,
) -> Result<f64, Refused> {
    amount(name, measure, range, text, units, &sample_figure((measure, range, Some(likely)), units)).map(|amount| amount.value)
}

/// A figure that is no fact, with its doubt where one was typed; `name` is what it is called in a refusal.
pub fn amount(name: &str, measure: Measure, range: calc::keys::Range, text: &str, units: Units, example: &str) -> Result<Amount, Refused> {
    let text = plain(name, text)?;
    typed(measure, range, text, units).map_err(|what| {
        let remedy = if what.is_empty() { format!("type it like {example}") } else { what };
        refused(name, text, allowed(measure, range, units), remedy)
    })
}

fn one_of<'w>(path: &str, text: &str, words: impl Iterator<Item = &'w str> + Clone) -> Result<Given, Refused> {
    match words.clone().find(|word| *word == text) {
        Some(word) => Ok(Given::Text(word.to_owned())),
        None => Err(unknown(path, text, words)),
    }
}

fn refused(key: &str, text: &str, allowed: impl Into<String>, remedy: impl Into<String>) -> Refused {
    let given = if text.is_empty() { "empty".to_owned() } else { format!("{text:?}") };
    Refused::new(key, given, allowed, remedy)
}

/// The text without blanks at its ends, where it can stand in a record.
fn plain<'t>(key: &str, text: &'t str) -> Result<&'t str, Refused> {
    let text = text.trim();
    if text.chars().count() > MOST_LETTERS || text.chars().any(|letter| letter.is_control() && !matches!(letter, '\n' | '\t' | '\r')) {
        let given = "too long or not plain text";
        return Err(Refused::new(key, given, format!("a text of at most {MOST_LETTERS} letters"), "type it shorter, in plain letters"));
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read_in_the_units_of_the_person() {
        let figure = |path: &str, text: &str, units| given(path, text, units).unwrap();
        for (path, text, units, value, u) in [
            ("bush.length", "180", Units::Mm, 180.0, 0.0),
            ("bush.length", "10", Units::Inch, 254.0, 0.0),
            ("bush.length", "10 in", Units::Mm, 254.0, 0.0),
            ("shop.room", "21,5", Units::Mm, 21.5, 0.0),
            ("shop.room", "68", Units::Inch, 20.0, 0.0),
            ("journal.diameter", "210.000 +- 0.005", Units::Mm, 210.0, 0.005),
            ("gauge.mic.expansion", "11.5", Units::Mm, 11.5e-6, 0.0),
        ] {
            let Given::Figure { value: found, u: doubt } = figure(path, text, units) else { panic!("{path} is no figure") };
            assert!((found - value).abs() < 1e-9 * value.abs() && (doubt - u).abs() < 1e-9, "{path} {text}: {found} ± {doubt}");
        }
        assert_eq!(figure("duty.dirt", "gritty", Units::Mm), Given::Text("gritty".into()));
        assert_eq!(figure("duty.food", "yes", Units::Mm), Given::Flag(true));
    }

    #[test]
    fn a_refusal_says_what_was_typed_what_is_allowed_and_what_to_type() {
        let said = |path: &str, text: &str| given(path, text, Units::Mm).unwrap_err().to_string();
        insta::assert_snapshot!(
            [
                said("bush.length", "long"),
                said("bush.length", "-3"),
                said("bush.length", "12 kN"),
                said("bush.length", ""),
                said("duty.dirt", "grity"),
                said("housing.metal", "S35"),
                said("gauge.mic.due", "soon"),
                said("machine", "  "),
                said("duty.food", "maybe"),
                size("24o", Units::Mm).unwrap_err().to_string(),
                temperature("hot", Units::Inch).unwrap_err().to_string(),
                angle("400").unwrap_err().to_string(),
            ]
            .join("\n")
        );
    }
}
