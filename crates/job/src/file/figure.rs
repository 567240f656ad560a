//! A figure of the file: a bare number in the file's unit, a text with its own unit and doubt, or { value, u }.

use calc::keys::Range;
use calc::units::{self, Unit};

use super::fault::{Fault, Placed, Source, number_of};
use crate::facts::Measure;
use crate::state::{Given, Units};

/// The unit that a bare number means in a file, and the unit that the figure is kept in, as keys of `calc` name them.
fn written(measure: Measure, units: Units) -> Option<(&'static str, Unit)> {
    let inch = units == Units::Inch;
    let (bare, kept) = match measure {
        Measure::Length => (if inch { "in" } else { "mm" }, "size_mm"),
        Measure::Fine => (if inch { "thou" } else { "µm" }, "size_um"),
        Measure::Temperature => (if inch { "°F" } else { "°C" }, "part_C"),
        Measure::Force => (if inch { "lbf" } else { "kN" }, "force_kN"),
        Measure::Stress => (if inch { "psi" } else { "MPa" }, "stress_MPa"),
        Measure::Torque => (if inch { "lbf ft" } else { "Nm" }, "torque_Nm"),
        Measure::Angle | Measure::Turns | Measure::Room | Measure::Expansion | Measure::Plain => return None,
    };
    Unit::of_key(kept).map(|unit| (bare, unit))
}

/// How the unit of a kept figure is said.
fn kept_words(measure: Measure) -> &'static str {
    match measure {
        Measure::Length => " mm",
        Measure::Fine => " µm",
        Measure::Temperature => " °C",
        Measure::Force => " kN",
        Measure::Stress => " MPa",
        Measure::Torque => " N m",
        Measure::Angle => " degrees",
        Measure::Turns => " turns a minute",
        Measure::Room => " m³",
        Measure::Expansion => " per K",
        Measure::Plain => "",
    }
}

/// Reads a figure, checks its range, keeps it in its unit.
pub fn figure(source: &Source, value: &Placed, path: &str, measure: Measure, range: Range, units: Units) -> Result<Given, Fault> {
    let sample = sample(measure, units);
    let refuse = |allowed: String, remedy: String| source.fault(value.span().start, path, source.given(value), &allowed, &remedy);
    let allowed = || format!("{range}{}", kept_words(measure));
    let text = as_text(value, measure, units).ok_or_else(|| refuse(allowed(), format!("write {sample}")))?;
    let quantity = match written(measure, units) {
        Some((_, unit)) => {
            units::read_as(&text, unit).map_err(|refused| refuse(allowed(), format!("{}, like {sample}", refused.remedy)))?
        }
        None => {
            let (number, u) = plain(&text).ok_or_else(|| refuse(allowed(), format!("write {sample}")))?;
            let scale = |x: f64| if measure == Measure::Expansion { units::from_millionths(x) } else { x };
            calc::quantity::Quantity::with_u(scale(number), scale(u))
        }
    };
    if !range.has(quantity.value) || !quantity.u.is_finite() {
        return Err(refuse(allowed(), format!("write {sample}")));
    }
    Ok(Given::Figure { value: quantity.value, u: quantity.u })
}

/// The figure as a text with a unit after its number, whichever way it was written.
fn as_text(value: &Placed, measure: Measure, units: Units) -> Option<String> {
    let unit = written(measure, units).map_or("", |(bare, _)| bare);
    let with_unit = |number: f64| number.is_finite().then(|| format!("{number} {unit}"));
    if let Some(number) = number_of(value.get_ref()) {
        return with_unit(number);
    }
    if let Some(text) = value.get_ref().as_str() {
        let (number, rest) = split(text);
        // A number without a unit before its doubt is in the file's unit.
        return Some(match number.trim().parse::<f64>() {
            Ok(number) if number.is_finite() => format!("{number} {unit}{rest}"),
            _ => text.to_owned(),
        });
    }
    let table = value.get_ref().as_table()?;
    if table.keys().any(|key| !matches!(key.get_ref().as_ref(), "value" | "u")) {
        return None;
    }
    let number = number_of(table.get("value")?.get_ref())?;
    let text = with_unit(number)?;
    match table.get("u") {
        None => Some(text),
        Some(u) => number_of(u.get_ref()).filter(|u| u.is_finite() && *u >= 0.0).map(|u| format!("{text} ± {u}")),
    }
}

/// A text before and from its ±.
fn split(text: &str) -> (&str, String) {
    for sign in ["±", "+-", "+/-"] {
        if let Some((number, rest)) = text.split_once(sign) {
            return (number, format!(" ±{rest}"));
        }
    }
    (text, String::new())
}

/// A number without a unit, with its doubt.
fn plain(text: &str) -> Option<(f64, f64)> {
    let (number, rest) = split(text);
    let number = number.trim().parse::<f64>().ok().filter(|x| x.is_finite())?;
    let u = match rest.trim().strip_prefix('±') {
        None => 0.0,
        Some(u) => u.trim().parse::<f64>().ok().filter(|u| u.is_finite() && *u >= 0.0)?,
    };
    Some((number, u))
}

/// A figure as it might be written in this file.
fn sample(measure: Measure, units: Units) -> &'static str {
    match (measure, units) {
        (Measure::Length, Units::Mm) => "240.03 or \"240.03 ± 0.004\" or \"9.45 in\"",
        (Measure::Length, Units::Inch) => "9.45 or \"9.45 ± 0.0002\" or \"240.03 mm\"",
        (Measure::Fine, Units::Mm) => "6 or \"6 um\"",
        (Measure::Fine, Units::Inch) => "0.25 (thousandths) or \"6 um\"",
        (Measure::Temperature, Units::Mm) => "21.5 or \"70 F\"",
        (Measure::Temperature, Units::Inch) => "70 or \"21 C\"",
        (Measure::Force, Units::Mm) => "85 or \"85 kN\" or \"19000 lbf\"",
        (Measure::Force, Units::Inch) => "19000 or \"19000 lbf\" or \"85 kN\"",
        (Measure::Stress, Units::Mm) => "120 or \"120 MPa\"",
        (Measure::Stress, Units::Inch) => "17000 or \"17 ksi\" or \"120 MPa\"",
        (Measure::Torque, Units::Mm) => "1200 or \"1200 Nm\"",
        (Measure::Torque, Units::Inch) => "900 or \"900 lbf ft\"",
        (Measure::Angle | Measure::Turns | Measure::Room | Measure::Plain, _) => "a plain number, like 30",
        (Measure::Expansion, _) => "11.5 (millionths per K)",
    }
}
