//! What is missing before which stage, with the line to write. Nothing has to be complete: each stage goes as far as it can.

use crate::sheet::Stage;
use crate::state::{Feature, Seat, State};

/// What one seat lacks.
#[derive(Clone, Debug, PartialEq)]
pub struct Missing {
    /// The seat.
    pub seat: String,
    /// Stage by stage, what to write.
    pub stages: Vec<(Stage, Vec<String>)>,
}

/// What every seat lacks, in the order of the job.
pub fn missing(state: &State) -> Vec<Missing> {
    let of_seat = |seat: &Seat| Missing {
        seat: seat.name.clone(),
        stages: Stage::ALL.into_iter().map(|stage| (stage, lacks(seat, state, stage))).filter(|(_, lacks)| !lacks.is_empty()).collect(),
    };
    state.seats.iter().map(of_seat).filter(|missing| !missing.stages.is_empty()).collect()
}

fn lacks(seat: &Seat, state: &State, stage: Stage) -> Vec<String> {
    let mut lacks = Vec::new();
    let mut want = |there: bool, line: &str| {
        if !there {
            lacks.push(line.to_owned());
        }
    };
    let has = |path: &str| seat.known(path).is_some();
    let measured = |feature: Feature| seat.sets_of(feature).next().is_some();
    match stage {
        Stage::Brief => {
            want(has("duty.load"), "duty.load = the steady load");
            want(has("duty.motion"), "duty.motion = \"rotation\", \"swing\" or \"still\"");
            match seat.text("duty.motion") {
                Some("rotation") => want(has("duty.speed"), "duty.speed = turns a minute"),
                Some("swing") => {
                    want(has("duty.swing"), "duty.swing = the whole angle");
                    want(has("duty.swings"), "duty.swings = swings a minute, there and back");
                }
                _ => {}
            }
            want(!seat.names("state").is_empty(), "[state.\"cold start\"] with bush and housing, and one for running");
            want(has("bush.length"), "bush.length = length of the new bush");
        }
        Stage::Measure => {
            want(measured(Feature::HousingBore), "[[measure]] of = \"housing bore\" with its readings");
            want(has("housing.metal"), "housing.metal = its id");
        }
        Stage::Alloy => want(has("journal.hardness"), "journal.hardness = HB (200 is taken)"),
        Stage::Fit => {
            let outline = has("housing.outside") || (has("housing.outside_least") && has("housing.outside_most"));
            want(outline, "housing.outside = its outside, or outside_least and outside_most");
            want(has("journal.diameter") || measured(Feature::Journal), "journal.diameter = size ± doubt, or readings of = \"journal\"");
            want(seat.decided("alloy").is_some(), "[[decision]] question = \"alloy\" (the first of the ranking is taken)");
        }
        Stage::Stock => want(!seat.names("stock").is_empty(), "[stock.NAME] with kind, outside, bore, length, price"),
        Stage::Turn => {}
        Stage::Seat => {
            want(has("seating.method") || has("shop.press"), "shop.press = its force, or seating.method");
            let cold = matches!(seat.text("seating.method"), Some("nitrogen" | "dry_ice"));
            want(!cold || has("shop.room_volume"), "shop.room_volume = m³, before a coolant is brought in");
        }
        Stage::Bore => want(has("groove.shape"), "groove.shape = \"ring\", \"axial\", \"spiral\" or \"two_loop\" (none is cut)"),
        Stage::Release => {
            want(measured(Feature::BushOutside), "[[measure]] of = \"bush outside\" once it is turned");
            want(measured(Feature::FittedBore), "[[measure]] of = \"fitted bore\" once it is finished");
            want(!state.signatures.is_empty(), "[[signature]] with by, role and day");
        }
    }
    lacks
}
