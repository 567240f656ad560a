//! What a finished seat has to tell: its predictions beside what was measured. The stages are gone through once more for it.

use calc::looked_back::less;
use calc::quantity::Quantity;
use calc::units::um_quantity;

use super::ask::Asking;
use super::draft::Draft;
use super::found::{Found, Measured};
use super::{Bench, measure, worked};
use crate::past::{Compared, Point};
use crate::sheet::Stage;
use crate::state::{Feature, Seat, State};

/// The points of the seat called `name`; none where it was not measured after it was made.
pub fn past(state: &State, name: &str, asking: &mut Asking) -> Vec<Point> {
    let Some(seat) = state.seats.iter().find(|seat| seat.name == name && was_made(seat)) else { return Vec::new() };
    let (_, found) = worked(seat, state, asking);
    let bench = Bench::of(seat, state);
    let mut draft = Draft::new(Stage::Bore, asking);
    let before = measure::feature(&bench, &mut draft, &found, Feature::BushBore);
    let as_it_went_in = as_it_went_in(seat);
    let after = measure::feature(&Bench::of(&as_it_went_in, state), &mut draft, &found, Feature::FittedBore);
    points(&bench, &found, before.zip(after))
}

/// The seat with the first set of its fitted bore alone: later ones are of the bore as it was finished.
pub(super) fn as_it_went_in(seat: &Seat) -> Seat {
    let first = seat.sets_of(Feature::FittedBore).next().cloned();
    let mut seat = seat.clone();
    seat.sets.retain(|set| set.feature != Feature::FittedBore);
    seat.sets.extend(first);
    seat
}

/// Whether something was measured that had been predicted.
fn was_made(seat: &Seat) -> bool {
    let measured = |feature| seat.sets_of(feature).next().is_some();
    !seat.lathe.is_empty() || measured(Feature::BushOutside) || measured(Feature::FittedBore)
}

fn points(bench: &Bench, found: &Found, fitting: Option<(Measured, Measured)>) -> Vec<Point> {
    let mut points = Vec::new();
    let mut add = |of, feature, predicted: Quantity, measured: Quantity| {
        points.push(Point {
            of,
            job: bench.state.number.clone(),
            seat: bench.seat.name.clone(),
            lathe: bench.seat.text("lathe").unwrap_or_default().to_owned(),
            gauge: gauge(bench, feature),
            alloy: found.alloy.map(|alloy| alloy.id.to_owned()).unwrap_or_default(),
            predicted_um: (predicted.value, predicted.u),
            measured_um: (measured.value, measured.u),
        });
    };
    let last = found.warmth.len();
    let close_in = found.fit.quantity(&format!("states.{last}.close_in_um"));
    // A bore that is larger than before was bored meanwhile, and tells nothing of its close-in.
    if let (Some(close_in), Some((before, after))) = (close_in, fitting)
        && after.size.value < before.size.value
    {
        add(Compared::CloseIn, Feature::FittedBore, close_in, um_quantity(less(before.size, after.size)));
    }
    if let (Some(band), Some(outside)) = (found.band, found.outside) {
        let middle = Quantity::exact(band.middle_mm());
        if let Some(bore) = found.bore {
            // The doubt of the bore is common to both and so left out.
            let bore = Quantity::exact(bore.size.value);
            let planned = um_quantity(less(band.as_quantity(), bore));
            add(Compared::Interference, Feature::BushOutside, planned, um_quantity(less(outside.size, bore)));
        }
        let aimed = um_quantity(less(band.as_quantity(), middle));
        add(Compared::Outside, Feature::BushOutside, aimed, um_quantity(less(outside.size, middle)));
    }
    // Where the bore was measured before and after fitting alone, it still waits to be finished.
    let before = bench.seat.text("bush.finish") == Some("before");
    let is_finished = before || fitting.is_none() || bench.seat.sets_of(Feature::FittedBore).nth(1).is_some();
    if let (Some(band), Some(bore), true) = (found.bore_band, found.fitted_bore, is_finished) {
        let middle = Quantity::exact(band.middle_mm());
        let aimed = um_quantity(less(band.as_quantity(), middle));
        add(Compared::Bore, Feature::FittedBore, aimed, um_quantity(less(bore.size, middle)));
    }
    points
}

/// The gauge that measured a feature last, as it is described.
fn gauge(bench: &Bench, feature: Feature) -> String {
    let named = bench.seat.sets_of(feature).last().and_then(|set| set.gauge.clone());
    match named {
        Some(name) => bench.seat.text(&format!("gauge.{name}.name")).unwrap_or(&name).to_owned(),
        None => String::new(),
    }
}
