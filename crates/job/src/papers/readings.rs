//! With what, how warm, by whom and when a certificate's readings were taken: its gauges, its sets of readings, and what the log of the
//! lathe adds to them.

use calc::quantity::Quantity;
use calc::shown;
use calc::units::System;

use crate::entry::EntryId;
use crate::lathe::part::{Part, Turned, parts};
use crate::lathe::step::{Setup, Step, Surface};
use crate::state::{ReadingSet, Seat, State};

/// Letters of a hash that name it on paper.
pub(super) const SHORT: usize = 12;

/// Gauges that readings were taken with, once each.
pub(super) fn gauges(state: &State, system: System) -> Vec<Vec<String>> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (seat, set) in sets(state) {
        let Some(gauge) = &set.gauge else { continue };
        let fact = |what: &str| format!("gauge.{gauge}.{what}");
        let due = seat.text(&fact("due")).unwrap_or("not said").to_owned();
        let on_the_day = within(seat.text(&fact("due")), &set.day);
        let length = |what: &str| seat.quantity(&fact(what)).map(|of| shown::size(&of, system)).unwrap_or_else(|| "not said".into());
        let row = vec![
            named(seat, gauge),
            due,
            on_the_day,
            length("correction"),
            seat.number(&fact("repeatability")).map(|mm| shown::length(mm, 4, system)).unwrap_or_else(|| "not said".into()),
        ];
        if !rows.contains(&row) {
            rows.push(row);
        }
    }
    for (seat, part) in at_the_lathe(state) {
        let Some((setup, _)) = part.start().filter(|(setup, _)| !setup.gauge.is_empty()) else { continue };
        if !rows.iter().any(|row| row.first() == Some(&setup.gauge)) {
            rows.push(gauge_at_the_lathe(seat, &part, setup, system));
        }
    }
    rows.into_iter().enumerate().map(|(index, row)| std::iter::once((index + 1).to_string()).chain(row).collect()).collect()
}

/// A gauge as people name it.
fn named(seat: &Seat, gauge: &str) -> String {
    seat.text(&format!("gauge.{gauge}.name")).unwrap_or(gauge).to_owned()
}

/// The number of a gauge in the table of [`gauges`].
fn number_of(gauges: &[Vec<String>], name: &str) -> String {
    let row = gauges.iter().find(|row| row.get(1).is_some_and(|known| known == name));
    row.and_then(|row| row.first()).cloned().unwrap_or_else(|| "not named".into())
}

/// A gauge that the log of the lathe names by its words, with what the log took of it.
fn gauge_at_the_lathe(seat: &Seat, part: &Part, setup: &Setup, system: System) -> Vec<String> {
    let known = seat.names("gauge").into_iter().find(|name| seat.text(&format!("gauge.{name}.name")) == Some(&setup.gauge));
    let due = known.and_then(|name| seat.text(&format!("gauge.{name}.due")));
    let correction = setup.correction_mm.map(|amount| shown::size(&Quantity::with_u(amount.value, amount.u), system));
    vec![
        setup.gauge.clone(),
        due.unwrap_or("not said").to_owned(),
        within(due, &day(part)),
        correction.unwrap_or_else(|| "not said".into()),
        setup.reading_u_mm.map(|mm| shown::length(mm, 4, system)).unwrap_or_else(|| "not said".into()),
    ]
}

fn within(due: Option<&str>, day: &str) -> String {
    match due {
        Some(due) if !day.is_empty() && day > due => format!("out of date on {day}"),
        Some(_) => "within its date".into(),
        None => "not known".into(),
    }
}

/// The parts that were finished at the lathe: the last of each surface.
fn at_the_lathe(state: &State) -> Vec<(&Seat, Part)> {
    let surfaces = [Surface::Outside, Surface::Bore];
    let of_seat = |seat| surfaces.into_iter().filter_map(move |surface| Some((seat, last_finished(state, seat, surface)?)));
    state.seats.iter().flat_map(of_seat).collect()
}

fn last_finished(state: &State, seat: &Seat, surface: Surface) -> Option<Part> {
    parts(&state.number, &seat.name, &seat.lathe, surface).into_iter().rev().find(Part::is_finished)
}

fn day(part: &Part) -> String {
    part.steps.last().map(|step| step.when.get(..10).unwrap_or(&step.when).to_owned()).unwrap_or_default()
}

/// What was read at the lathe after the last cut.
fn row_at_the_lathe(state: &State, part: &Part, gauges: &[Vec<String>], system: System) -> Vec<String> {
    let since = part.since(|step| matches!(step, Step::Cut { .. }));
    let count = |step: &Turned| if let Step::Size { values_mm } = &step.step { values_mm.len() } else { 0 };
    let last = |temperature: fn(&Step) -> Option<f64>| {
        part.steps.iter().rev().find_map(|step| temperature(&step.step)).map(|T| shown::temperature(T, system))
    };
    let of_part = last(|step| if let Step::Part { values_C } = step { values_C.last().copied() } else { None });
    let air = last(|step| if let Step::Air { values_C } = step { values_C.last().copied() } else { None });
    vec![
        format!("{}, at the lathe", part.surface.feature().word()),
        since.iter().map(count).sum::<usize>().to_string(),
        of_part.unwrap_or_else(|| "not read".into()),
        air.map_or_else(|| "not read".into(), |air| format!("air {air}")),
        number_of(gauges, part.start().map_or("", |(setup, _)| &setup.gauge)),
        part.steps.last().map(|step| step.who.clone()).unwrap_or_default(),
        day(part),
        part.steps.last().map(|step| entry(state, step.entry)).unwrap_or_default(),
    ]
}

fn sets(state: &State) -> impl Iterator<Item = (&Seat, &ReadingSet)> {
    state.seats.iter().flat_map(|seat| seat.sets.iter().map(move |set| (seat, set)))
}

/// Temperatures, who and when of each set; sets that several seats share stand once.
pub(super) fn readings(state: &State, gauges: &[Vec<String>], system: System) -> Vec<Vec<String>> {
    let mut rows: Vec<(Vec<&str>, Vec<String>)> = Vec::new();
    for (seat, set) in sets(state) {
        let used = set.readings.iter().filter(|reading| reading.dropped.is_none()).count();
        let dropped = set.readings.len() - used;
        let count = if dropped > 0 { format!("{used}, {dropped} not used") } else { used.to_string() };
        let row = vec![
            set.feature.word().to_owned(),
            count,
            part_temperature(set, system).unwrap_or_else(|| "as the shop".into()),
            set.gauge_C.map(|T| shown::temperature(T.value, system)).unwrap_or_else(|| "as the shop".into()),
            set.gauge.as_ref().map_or_else(|| "not named".into(), |gauge| number_of(gauges, &named(seat, gauge))),
            set.who.clone(),
            set.day.clone(),
            set.readings.last().map(|reading| entry(state, reading.entry)).unwrap_or_default(),
        ];
        match rows.iter_mut().find(|(seats, known)| *known == row && !seats.contains(&seat.name.as_str())) {
            Some((seats, _)) => seats.push(&seat.name),
            None => rows.push((vec![&seat.name], row)),
        }
    }
    for (seat, part) in at_the_lathe(state) {
        rows.push((vec![&seat.name], row_at_the_lathe(state, &part, gauges, system)));
    }
    let place = |name: &str| state.seats.iter().position(|seat| seat.name == name);
    rows.sort_by_key(|(seats, _)| seats.first().and_then(|first| place(first)));
    rows.into_iter()
        .map(|(seats, row)| {
            let seats: Vec<String> = seats.into_iter().map(str::to_owned).collect();
            std::iter::once(several(&seats)).chain(row).collect()
        })
        .collect()
}

fn part_temperature(set: &ReadingSet, system: System) -> Option<String> {
    let own = || set.readings.iter().filter_map(|reading| reading.part_C);
    let (low, high) = (own().reduce(f64::min), own().reduce(f64::max));
    match (set.part_C, low, high) {
        (Some(part), _, _) => Some(shown::temperature(part.value, system)),
        (None, Some(low), Some(high)) => {
            let (low, high) = (shown::temperature(low, system), shown::temperature(high, system));
            let bare = low.rsplit_once(' ').map_or(low.as_str(), |(figure, _)| figure);
            Some(if low == high { high } else { format!("{bare} to {high}") })
        }
        _ => None,
    }
}

/// An entry by its number and the first letters of its hash.
pub(super) fn entry(state: &State, id: EntryId) -> String {
    state.place_of(id).map(|(place, hash)| format!("{place}: {}", hash.get(..SHORT).unwrap_or(&hash))).unwrap_or_default()
}

/// Names of seats in a cell.
pub(super) fn several(seats: &[String]) -> String {
    match seats {
        [first, .., last] if seats.len() > 3 => format!("{first} to {last}, {} seats", seats.len()),
        _ => seats.join(", "),
    }
}
