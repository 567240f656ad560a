//! Figures of a job as a person reads them in the job's units: for what moved, what was corrected, what looks wrong.
//!
//! Sheets show results through `calc::units` with their uncertainty; here stand inputs, with the digits that were given.

use calc::shown::{force_figure, force_unit, stress_figure, stress_unit, torque_figure, torque_unit};
use calc::units::{F_from_C, System, millionths, shown, shown_plain};

use crate::facts::{Measure, Stands, fact};
use crate::state::{Given, Units};

impl Units {
    /// The same as `calc` names it.
    pub const fn system(self) -> System {
        match self {
            Self::Mm => System::Metric,
            Self::Inch => System::Inch,
        }
    }
}

/// Who and when, or whatever of such words is there: `A. Turner, 2026-03-02`.
pub fn by(words: &[&str]) -> String {
    words.iter().copied().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", ")
}

/// A length in mm as it is read in `units`: `240.031 mm`, `9.4501 in`.
pub fn length(mm: f64, units: Units) -> String {
    let (decimals, system) = (4, units.system());
    format!("{} {}", trimmed(system.from_mm(mm), system.decimals(decimals)), system.length())
}

/// A temperature in °C as it is read in `units`.
pub fn temperature(C: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{} °C", trimmed(C, 2)),
        Units::Inch => format!("{} °F", trimmed(F_from_C(C), 2)),
    }
}

/// What stands at `path`, as it is read in `units`.
pub fn given(path: &str, given: &Given, units: Units) -> String {
    match given {
        Given::Flag(true) => "true".into(),
        Given::Flag(false) => "false".into(),
        Given::Text(text) => text.clone(),
        Given::Figure { value, u } => match fact(path).map(|fact| fact.stands) {
            Some(Stands::Figure(measure, ..)) => figure(measure, *value, *u, units),
            _ => trimmed(*value, 6),
        },
    }
}

/// A figure that is kept as `measure` says, as it is read in `units`.
pub fn figure(measure: Measure, value: f64, u: f64, units: Units) -> String {
    let (value, u, unit) = face(measure, value, u, units);
    let text = if u > 0.0 {
        let (value, u) = shown(value, u);
        format!("{value} ± {u}")
    } else {
        trimmed(value, 6)
    };
    format!("{text} {unit}").trim_end().to_owned()
}

/// The unit in which the figure at `path` is read in `units`; empty for what has none.
pub fn unit(path: &str, units: Units) -> &'static str {
    match fact(path).map(|fact| fact.stands) {
        Some(Stands::Figure(measure, ..)) => face(measure, 0.0, 0.0, units).2,
        _ => "",
    }
}

/// The unit in which a figure of `measure` is read in `units`.
pub fn measured_in(measure: Measure, units: Units) -> &'static str {
    face(measure, 0.0, 0.0, units).2
}

/// What stands at `path` without its unit, for a field that has the unit beside it.
pub fn bare(path: &str, value: &Given, units: Units) -> String {
    let text = given(path, value, units);
    let unit = unit(path, units);
    match text.strip_suffix(unit) {
        Some(bare) if !unit.is_empty() => bare.trim_end().to_owned(),
        _ => text,
    }
}

/// The usual figures of a fact, rounded to two digits: `0.2 to 200 in`.
pub fn usual(measure: Measure, (low, high): (f64, f64), units: Units) -> String {
    let two_digits = |x: f64| {
        let (x, _, unit) = face(measure, x, 0.0, units);
        (trimmed(format!("{x:.1e}").parse().unwrap_or(x), 6), unit)
    };
    let ((low, _), (high, unit)) = (two_digits(low), two_digits(high));
    format!("{low} to {high} {unit}").trim_end().to_owned()
}

/// Value, doubt and unit as they are read in `units`.
fn face(measure: Measure, value: f64, u: f64, units: Units) -> (f64, f64, &'static str) {
    let system = units.system();
    let inch = units == Units::Inch;
    match measure {
        Measure::Length => (system.from_mm(value), system.from_mm(u), system.length()),
        // A thousandth of an inch is to a micrometre what an inch is to a millimetre.
        Measure::Fine => (system.from_mm(value), system.from_mm(u), if inch { "thou" } else { "µm" }),
        Measure::Temperature if inch => (F_from_C(value), F_from_C(u) - F_from_C(0.0), "°F"),
        Measure::Temperature => (value, u, "°C"),
        Measure::Force => (force_figure(value, system), force_figure(u, system), force_unit(system)),
        Measure::Stress => (stress_figure(value, system), stress_figure(u, system), stress_unit(system)),
        Measure::Torque => (torque_figure(value, system), torque_figure(u, system), torque_unit(system)),
        Measure::Angle => (value, u, "°"),
        Measure::Turns => (value, u, "rpm"),
        Measure::Room => (value, u, "m³"),
        Measure::Expansion => (millionths(value), millionths(u), "millionths per K"),
        Measure::Plain => (value, u, ""),
    }
}

/// A number with at most so many decimals, noughts at its end left out.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = shown_plain(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// `1 part`, `4 parts`.
pub fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_in_the_units_of_the_job() {
        let text = |path: &str, value: f64, u: f64, units| given(path, &Given::Figure { value, u }, units);
        assert_eq!(text("housing.outside", 330.2, 0.0, Units::Mm), "330.2 mm");
        assert_eq!(text("housing.outside", 330.2, 0.0, Units::Inch), "13 in");
        assert_eq!(text("journal.diameter", 240.031, 0.004, Units::Mm), "240.0310 ± 0.0040 mm");
        assert_eq!(text("shop.room", 20.0, 0.5, Units::Inch), "68.00 ± 0.90 °F");
        assert_eq!(text("gauge.mic.expansion", 11.5e-6, 0.0, Units::Mm), "11.5 millionths per K");
        assert_eq!(text("duty.swings", 12.0, 0.0, Units::Mm), "12");
        assert_eq!(text("duty.load", 85.0, 0.0, Units::Mm), "85 kN");
        assert_eq!(text("duty.load", 4.448_221_615_260_5, 0.0, Units::Inch), "1000 lbf");
        assert_eq!(unit("duty.torque", Units::Inch), "lbf ft");
        assert_eq!(text("housing.Rz", 25.4, 0.0, Units::Inch), "1 thou");
    }
}
