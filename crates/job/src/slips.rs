//! Likely slips in what was given: another unit, a slipped digit, one angle only, a gauge out of date. All are said, none is refused.
//!
//! It judges single inputs beside what is usual and beside each other; what a whole set of readings says is the measure stage's.
//! The thresholds are common practice: nothing is decided by them, a person is only asked to look again.

use calc::units::{C_from_F, F_from_C, looks_like_inches};

use crate::facts::{Measure, Stands, fact};
use crate::show;
use crate::state::{Feature, Given, ReadingSet, Seat, State, Units};

/// A bore under this in a metric file, or a size over [`LIKELY_LARGEST_INCH`] in an inch file, is likely in the other unit.
const LIKELY_SMALLEST_MM: f64 = 25.0;
/// See [`LIKELY_SMALLEST_MM`].
const LIKELY_LARGEST_INCH: f64 = 60.0;
/// A reading that is this far off the middle of its set is worth a second look ..
const SLIP_MM: f64 = 0.3;
/// .. when it is also so many times further off than the readings usually are.
const SLIP_TIMES: f64 = 8.0;
/// Slips that are usual on a micrometer: a turn of the thimble, a wrong rod, a digit.
const USUAL_SLIPS_MM: [f64; 6] = [25.0, 25.4, 10.0, 1.0, 0.635, 0.5];
/// Temperatures of a shop in an inch file that are likely °C.
const LIKELY_C: std::ops::RangeInclusive<f64> = 10.0..=35.0;

/// Writes what looks wrong into the notes of `state` and of its seats; what is of the shop or of a gauge once for the job.
pub fn look(state: &mut State) {
    let units = state.units;
    let mut shared: Vec<String> = Vec::new();
    for seat in &mut state.seats {
        let (of_shop, mut notes) = unusual(seat, units);
        for note in of_shop {
            if !shared.contains(&note) {
                shared.push(note);
            }
        }
        notes.extend(beside_the_bore(seat, units));
        for set in &seat.sets {
            notes.extend(other_unit(set, units));
            notes.extend(one_angle(set));
            notes.extend(off_the_others(seat, set, units));
            notes.extend(not_described(seat, set));
            notes.extend(out_of_date(seat, set));
        }
        notes.dedup();
        seat.notes.extend(notes);
    }
    state.notes.extend(shared);
}

/// Figures outside what is likely: those of the shop and its gauges, and those of the seat.
fn unusual(seat: &Seat, units: Units) -> (Vec<String>, Vec<String>) {
    let mut of_shop = Vec::new();
    let mut of_seat = Vec::new();
    for (path, known) in &seat.facts {
        let Given::Figure { value, .. } = known.value else { continue };
        let Some(Stands::Figure(measure, _, likely)) = fact(path).map(|fact| fact.stands) else { continue };
        let note = match likely {
            Some((low, high)) if !(low..=high).contains(&value) => Some(outside(path, measure, value, (low, high), units)),
            _ => celsius_in_an_inch_file(path, measure, value, units),
        };
        let to = if path.starts_with("shop.") || path.starts_with("gauge.") { &mut of_shop } else { &mut of_seat };
        to.extend(note);
    }
    (of_shop, of_seat)
}

fn outside(path: &str, measure: Measure, value: f64, (low, high): (f64, f64), units: Units) -> String {
    let shown = show::figure(measure, value, 0.0, units);
    let usual = show::usual(measure, (low, high), units);
    let system = units.system();
    let (taken_otherwise, name) = match (measure, units) {
        (Measure::Length, Units::Mm) => (Some(Units::Inch.system().to_mm(value)), "inches"),
        (Measure::Length, Units::Inch) => (Some(system.from_mm(value)), "millimetres"),
        (Measure::Fine, Units::Mm) => (Some(Units::Inch.system().to_mm(value)), "thousandths of an inch"),
        (Measure::Fine, Units::Inch) => (Some(system.from_mm(value)), "micrometres"),
        (Measure::Temperature, Units::Mm) => (Some(C_from_F(value)), "°F"),
        (Measure::Temperature, Units::Inch) => (Some(F_from_C(value)), "°C"),
        _ => (None, ""),
    };
    let hint = match taken_otherwise {
        Some(other) if (low..=high).contains(&other) => format!(" (the number looks like {name})"),
        _ => String::new(),
    };
    format!("{path} is {shown}; usual is {usual}{hint}. Check the figure and its unit.")
}

fn celsius_in_an_inch_file(path: &str, measure: Measure, value: f64, units: Units) -> Option<String> {
    let of_a_shop = path == "shop.room" || (path.starts_with("gauge.") && path.ends_with(".temperature"));
    let number = F_from_C(value);
    (of_a_shop && measure == Measure::Temperature && units == Units::Inch && LIKELY_C.contains(&number)).then(|| {
        format!(
            "{path} is {}: the number looks like °C in a file of inches and °F. Write it with its unit.",
            show::temperature(value, units)
        )
    })
}

/// Sizes that would be ordinary beside the bore in the other unit.
fn beside_the_bore(seat: &Seat, units: Units) -> Vec<String> {
    let Some(bore) = seat.sets_of(Feature::HousingBore).find_map(middle).or_else(|| seat.number("housing.nominal")) else {
        return Vec::new();
    };
    let paths = ["bush.length", "housing.outside", "housing.outside_least", "journal.diameter", "old_bush.bore", "old_bush.outside"];
    let odd = paths.into_iter().filter_map(|path| Some((path, seat.number(path)?))).filter(|(_, mm)| looks_like_inches(*mm, bore));
    odd.map(|(path, mm)| {
        let other = if units == Units::Inch { "millimetres in a file of inches" } else { "inches in a file of millimetres" };
        let (size, bore) = (show::length(mm, units), show::length(bore, units));
        format!("{path} is {size} beside a bore of {bore}: that looks like {other}. Write it with its unit.")
    })
    .collect()
}

/// A set whose gauge is not known.
pub(crate) fn not_described(seat: &Seat, set: &ReadingSet) -> Option<String> {
    let word = set.feature.word();
    match set.gauge.as_deref() {
        None => Some(format!(
            "The {word} was read with a gauge that is not named: the usual repeatability is taken. Write gauge = \"..\" under the measure."
        )),
        Some(gauge) if !seat.names("gauge").contains(&gauge) => {
            let table = format!("[gauge.{}]", crate::file::bare_or_quoted(gauge));
            Some(format!(
                "The {word} was read with {gauge:?}, which is not described: the usual repeatability is taken. Write {table} with what is known of it."
            ))
        }
        Some(_) => None,
    }
}

/// Sizes or temperatures of a set that look like the other unit.
fn other_unit(set: &ReadingSet, units: Units) -> Vec<String> {
    let mut notes = Vec::new();
    let word = set.feature.word();
    if let Some(size) = middle(set) {
        let shown = show::length(size, units);
        match units {
            Units::Mm if size < LIKELY_SMALLEST_MM => notes.push(format!(
                "The {word} reads {shown}: that looks like inches in a file of millimetres. Write units = \"inch\" in [job], or the sizes with their unit."
            )),
            Units::Inch if units.system().from_mm(size) > LIKELY_LARGEST_INCH => notes.push(format!(
                "The {word} reads {shown}: that looks like millimetres in a file of inches. Write units = \"mm\" in [job], or the sizes with their unit."
            )),
            _ => {}
        }
    }
    let own = set.readings.iter().filter_map(|reading| reading.part_C);
    for (what, C) in set.part_C.map(|q| q.value).into_iter().chain(own).map(|C| ("part", C)).chain(set.gauge_C.map(|q| ("gauge", q.value)))
    {
        let number = if units == Units::Inch { F_from_C(C) } else { C };
        let other = match units {
            Units::Mm => (number > 45.0 && LIKELY_C.contains(&C_from_F(number))).then_some("°F in a file of °C"),
            Units::Inch => LIKELY_C.contains(&number).then_some("°C in a file of °F"),
        };
        if let Some(other) = other {
            let shown = show::temperature(C, units);
            notes.push(format!(
                "The {what} was at {shown} when the {word} was read: the number looks like {other}. Write it with its unit."
            ));
            break;
        }
    }
    notes
}

/// The middle one of the sizes that are used.
fn middle(set: &ReadingSet) -> Option<f64> {
    median(set.readings.iter().filter(|reading| reading.dropped.is_none()).map(|reading| reading.size_mm).collect())
}

/// The middle one of some numbers; of an even count the lower of the two in the middle.
pub(crate) fn median(mut numbers: Vec<f64>) -> Option<f64> {
    numbers.sort_by(f64::total_cmp);
    numbers.get(numbers.len().saturating_sub(1) / 2).copied()
}

fn one_angle(set: &ReadingSet) -> Option<String> {
    let mut angles = set.readings.iter().filter(|reading| reading.dropped.is_none()).filter_map(|reading| reading.angle_deg);
    let first = angles.next()?;
    let count = 1 + set.readings.iter().filter(|reading| reading.dropped.is_none() && reading.angle_deg.is_some()).count() - 1;
    // A diameter is the same from either side.
    let same = count > 1 && angles.all(|angle| (angle - first).rem_euclid(180.0) == 0.0);
    same.then(|| {
        format!(
            "All {count} readings of the {} are at {first}°: whether it is round can't be told. Read across it at other angles too.",
            set.feature.word()
        )
    })
}

/// Readings far off the middle of their set.
fn off_the_others(seat: &Seat, set: &ReadingSet, units: Units) -> Vec<String> {
    let word = set.feature.word();
    let used: Vec<f64> = set.readings.iter().filter(|reading| reading.dropped.is_none()).map(|reading| reading.size_mm).collect();
    if let [one, other] = used.as_slice() {
        let off = (one - other).abs();
        let note = format!("The two readings of the {word} are {} apart. Read it a third time.", show::length(off, units));
        return if off >= SLIP_MM { vec![note] } else { Vec::new() };
    }
    let Some(middle) = median(used.clone()) else { return Vec::new() };
    let usual = median(used.iter().map(|size| (size - middle).abs()).collect()).unwrap_or(0.0);
    let before: usize = seat.sets_of(set.feature).take_while(|other| !std::ptr::eq(*other, set)).map(|other| other.readings.len()).sum();
    let numbered = set.readings.iter().enumerate().filter(|(_, reading)| reading.dropped.is_none());
    numbered
        .filter_map(|(i, reading)| {
            let off = (reading.size_mm - middle).abs();
            let far = used.len() > 2 && off >= SLIP_MM && off > SLIP_TIMES * usual;
            let slip = USUAL_SLIPS_MM.iter().find(|slip| (off - **slip).abs() <= 3.0 * usual + 0.05);
            let slip = slip.map_or_else(String::new, |slip| format!(", near a slip of {}", show::length(*slip, units)));
            far.then(|| {
                format!(
                    "Reading {} of the {word}, {}, is {} off the others{slip}. Read it again, or drop it by a decision with its reason.",
                    before + i + 1,
                    show::length(reading.size_mm, units),
                    show::length(off, units)
                )
            })
        })
        .collect()
}

/// A gauge whose certificate had run out on the day of measuring.
fn out_of_date(seat: &Seat, set: &ReadingSet) -> Option<String> {
    let gauge = set.gauge.as_deref()?;
    let due = seat.text(&format!("gauge.{gauge}.due"))?;
    // Days written YYYY-MM-DD sort as texts.
    (!set.day.is_empty() && set.day.as_str() > due).then(|| run_out(set.feature.word(), &set.day, gauge, due))
}

/// Says that `what` was measured on `day` with a gauge that had to be checked before `due`.
pub(crate) fn run_out(what: &str, day: &str, gauge: &str, due: &str) -> String {
    format!(
        "The {what} was measured on {day} with {gauge:?}, whose certificate ran out on {due}. Check the gauge before the sizes are used."
    )
}
