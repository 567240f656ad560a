//! How far and how hard: a reading at the press, as the detail of an event `press`, and those that count for the bush that goes in now.
//!
//! Written `42 mm, 31.5 kN`, always in these units, so that a record reads alike everywhere.

use crate::facts::Measure;
use crate::file::typed;
use crate::state::{Happened, Units};

/// The event at which the pressing begins, or, with a detail, a reading.
pub const PRESS: &str = "press";
/// Furthest travel, mm, and largest force, kN, that are taken for a reading.
const MOST: f64 = 20_000.0;

/// A reading as the detail of an event.
pub fn written(travel_mm: f64, force_kN: f64) -> String {
    format!("{travel_mm} mm, {force_kN} kN")
}

/// Travel in mm and force in kN of a detail; none when it is no reading.
pub fn read(detail: &str) -> Option<(f64, f64)> {
    let (travel, force) = detail.split_once(", ")?;
    let figure = |measure, text: &str| {
        let range = calc::keys::Range::within(0.0, MOST);
        typed(measure, range, text, Units::Mm).ok().map(|amount| amount.value)
    };
    Some((figure(Measure::Length, travel.trim().strip_suffix("mm")?)?, figure(Measure::Force, force.trim().strip_suffix("kN")?)?))
}

/// The readings since the pressing last began, in order.
pub fn readings(events: &[Happened]) -> Vec<(f64, f64)> {
    let presses = events.iter().filter(|event| event.what == PRESS).map(|event| read(&event.detail));
    presses.fold(Vec::new(), |mut all, reading| {
        match reading {
            Some(reading) => all.push(reading),
            None => all.clear(),
        }
        all
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_is_read_as_it_was_written_and_words_are_none() {
        assert_eq!(read(&written(42.5, 31.25)), Some((42.5, 31.25)));
        for text in ["", "with the hand press", "42 mm", "42, 31", "-1 mm, 3 kN", "1 mm, x kN"] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn readings_count_from_the_last_beginning() {
        let event =
            |what: &str, detail: &str| Happened { what: what.into(), detail: detail.into(), day: String::new(), who: String::new() };
        let events = [
            event("press", ""),
            event("press", "10 mm, 12 kN"),
            event("press stopped", ""),
            event("press", "out again"),
            event("press", "5 mm, 4 kN"),
            event("press", "20 mm, 15 kN"),
        ];
        assert_eq!(readings(&events), [(5.0, 4.0), (20.0, 15.0)]);
        assert_eq!(readings(&[]), []);
    }
}
