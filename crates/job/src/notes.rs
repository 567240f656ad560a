//! What only looks odd in what was given: answered all the same, and said, so that a slip is found before metal is cut.

use calc::units::{System, looks_like_inches, slipped_by};
use calc::{shown, units};

use crate::facts::{Measure, Stands, fact};
use crate::state::{Feature, Given, Seat, State, Units};

/// Notes about what the whole job shares.
pub fn of_job(state: &State) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(seat) = state.seats.first() {
        notes.extend(unlikely(seat, state.units, |path| path.starts_with("shop.") || path.starts_with("gauge.")));
    }
    notes
}

/// Notes about one seat.
pub fn of_seat(seat: &Seat, units: Units) -> Vec<String> {
    let mut notes = unlikely(seat, units, |path| !(path.starts_with("shop.") || path.starts_with("gauge.")));
    notes.extend(inches(seat, units));
    for set in &seat.sets {
        let name = Feature::ALL.iter().find(|(feature, _)| *feature == set.feature).map_or("part", |(_, name)| name);
        let mut angles: Vec<f64> = set.readings.iter().filter_map(|reading| reading.angle_deg).collect();
        angles.dedup();
        if angles.len() == 1 && set.readings.len() > 1 {
            notes.push(format!("All readings of the {name} are at one angle: out-of-round can't be told, and may hide in the mean; read at 90° to it as well."));
        }
        let sizes: Vec<f64> = set.readings.iter().map(|reading| reading.size_mm).collect();
        for (i, by) in slipped_by(&sizes) {
            let system = system(units);
            let size = sizes.get(i).map(|mm| shown::length(*mm, 3, system)).unwrap_or_default();
            notes.push(format!(
                "Reading {} of the {name}, {size}, is {} off the others: a slipped digit? Measure that place again.",
                i + 1,
                shown::length(by, 3, system)
            ));
        }
        let gauge = set.gauge.as_deref().unwrap_or_default();
        if gauge.is_empty() {
            notes.push(format!("The {name} was read with a gauge that is not named: its repeatability is taken as 0.003 mm."));
        } else if !seat.names("gauge").contains(&gauge) {
            notes.push(format!(
                "The gauge {gauge:?} of the {name} is not described: add [gauge.{gauge}] with its repeatability and correction."
            ));
        }
        if let Some(due) = seat.text(&format!("gauge.{gauge}.due"))
            && !set.day.is_empty()
            && set.day.as_str() > due
        {
            notes.push(format!(
                "The certificate of the gauge {gauge} ran out on {due}, before the {name} was measured on {}: have it checked.",
                set.day
            ));
        }
    }
    notes
}

fn system(units: Units) -> System {
    if units == Units::Inch { System::Inch } else { System::Metric }
}

fn unlikely(seat: &Seat, units: Units, wanted: impl Fn(&str) -> bool) -> Vec<String> {
    let mut notes = Vec::new();
    for (path, known) in seat.facts.iter().filter(|(path, _)| wanted(path)) {
        let (Some(fact), Given::Figure { value, .. }) = (fact(path), &known.value) else { continue };
        if let Stands::Figure(measure, _, Some((low, high))) = fact.stands
            && !(low..=high).contains(value)
        {
            let show = |x: f64| figure(x, measure, units);
            notes.push(format!(
                "{path} is {}: outside what is likely ({} to {}); taken as it is, look whether a digit or a unit slipped.",
                show(*value),
                show(low),
                show(high)
            ));
        }
    }
    notes
}

fn figure(x: f64, measure: Measure, units: Units) -> String {
    let system = system(units);
    match measure {
        Measure::Length => shown::length(x, 3, system),
        Measure::Fine => shown::fine(x, system),
        Measure::Temperature => shown::temperature(x, system),
        Measure::Force => shown::force(x, system),
        Measure::Stress => shown::stress(x, system),
        Measure::Torque => shown::torque(x, system),
        Measure::Expansion => format!("{} millionths per K", shown::three(units::millionths(x))),
        Measure::Angle | Measure::Turns | Measure::Room | Measure::Plain => shown::three(x),
    }
}

/// Sizes of one seat that would fit the others if they were inches, or the other way round.
fn inches(seat: &Seat, units: Units) -> Vec<String> {
    let bore = seat.sets_of(Feature::HousingBore).flat_map(|set| &set.readings).map(|reading| reading.size_mm).next();
    let Some(bore) = bore.or_else(|| seat.number("housing.nominal")) else { return Vec::new() };
    let mut notes = Vec::new();
    for path in ["bush.length", "housing.outside", "journal.diameter", "old_bush.bore", "old_bush.outside", "housing.outside_least"] {
        if let Some(mm) = seat.number(path)
            && looks_like_inches(mm, bore)
        {
            let other = if units == Units::Inch { "millimetres in an inch file" } else { "inches in a metric file" };
            notes.push(format!(
                "{path} is {}, beside a bore of {}: it looks like {other}; write its unit, as in \"4 in\".",
                shown::length(mm, 3, system(units)),
                shown::length(bore, 3, system(units))
            ));
        }
    }
    notes
}
