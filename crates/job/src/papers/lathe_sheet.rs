//! The lathe sheet: one page for the person at the machine, cautions first. Every figure is one that a stage of the job sheet gave.

use calc::shown;
use calc::units::System;

use super::document::{Document, Part, line};
use super::readings::several;
use super::record::Record;
use crate::sheet::{JobSheet, Line, SeatSheet, Stage, StageSheet};

/// Cautions that stand on one page; the job sheet has them all.
const MOST_CAUTIONS: usize = 3;

/// The sheet of a seat; none while there is no band to turn to.
pub fn lathe_sheet(sheet: &JobSheet, seat: &SeatSheet, record: &Record) -> Option<Document> {
    let drawn = seat.drawing.as_ref()?;
    let stage = |wanted: Stage| seat.stages.iter().find(|stage| stage.stage == wanted);
    let mut parts = Vec::new();
    if let Some(turn) = stage(Stage::Turn) {
        parts.push(Part::Cautions(first_cautions(&[turn, stage(Stage::Stock).unwrap_or(turn)])));
    }
    let system = if sheet.units == "inch" { System::Inch } else { System::Metric };
    if let Some((low, high)) = drawn.outside_band_mm {
        parts.push(Part::Answer(format!("Turn the outside to {} at 20 °C.", shown::lengths(low, high, 3, system))));
    }
    parts.push(Part::Lines(sizes(drawn, stage(Stage::Stock), system)));
    if let Some(turn) = stage(Stage::Turn) {
        parts.extend(turn.grids.iter().cloned().map(Part::Table));
        parts.push(Part::Words(turn.warnings.clone()));
    }
    if let Some(seating) = stage(Stage::Seat) {
        parts.push(Part::Heading("Bath and press".into()));
        parts.push(Part::Cautions(seating.cautions.clone()));
        parts.push(Part::Words(vec![seating.answer.clone()]));
        parts.push(Part::Lines(seating.lines.clone()));
        parts.extend(seating.grids.iter().cloned().map(Part::Table));
    }
    if let Some(bore) = stage(Stage::Bore) {
        parts.push(Part::Heading("After it is in".into()));
        parts.push(Part::Words(vec![bore.answer.clone()]));
    }
    parts.push(Part::Small(vec![
        "The job sheet has every caution, warning and source. Local codes and licensed practice come before this page.".into(),
    ]));
    parts.retain(|part| !is_empty(part));
    Some(Document {
        kind: "Lathe sheet".into(),
        title: sheet.title.clone(),
        number: format!("{} / {}", sheet.number, seat.name),
        issuer: drawn.shop.clone(),
        fields: vec![("seat".into(), named(seat)), ("alloy".into(), drawn.alloy.clone()), ("revision".into(), record.revision.clone())],
        date: sheet.date.clone(),
        by: sheet.by.clone(),
        head: record.head.clone(),
        revision: record.revision.clone(),
        dense: true,
        parts,
    })
}

fn is_empty(part: &Part) -> bool {
    match part {
        Part::Cautions(list) | Part::Needs(list) | Part::Words(list) | Part::Small(list) => list.iter().all(String::is_empty),
        Part::Lines(lines) => lines.is_empty(),
        Part::Table(grid) => grid.rows.is_empty(),
        _ => false,
    }
}

/// The seat, with those that share all of it.
fn named(seat: &SeatSheet) -> String {
    several(&std::iter::once(&seat.name).chain(&seat.also).cloned().collect::<Vec<_>>())
}

fn first_cautions(stages: &[&StageSheet]) -> Vec<String> {
    let mut cautions: Vec<String> = Vec::new();
    for caution in stages.iter().flat_map(|stage| &stage.cautions) {
        if cautions.len() < MOST_CAUTIONS && !cautions.contains(caution) {
            cautions.push(caution.clone());
        }
    }
    cautions
}

/// Blank, sizes, groove from both ends, lead, hole.
fn sizes(drawn: &super::shop_drawing::ShopDrawing, stock: Option<&StageSheet>, system: System) -> Vec<Line> {
    let mut lines = Vec::new();
    if let Some(stock) = stock.filter(|stock| !stock.brief.is_empty()) {
        lines.push(line("blank", stock.brief.clone(), "sawn to length with what the faces need"));
    }
    let asked = |label: &str, asked: &super::shop_drawing::Asked, note: &str| line(label, asked.lines.join(" / "), note.to_owned());
    lines.push(asked(
        "outside, at 20 °C",
        &drawn.outside,
        if system == System::Inch { "limits; sizes here in inches" } else { "limits; sizes here in mm" },
    ));
    let left = if drawn.finished_bore.is_some() { "left to finish when it is in" } else { "finished now: it closes in" };
    lines.push(asked("bore, at 20 °C", &drawn.bore, left));
    lines.push(asked("length", &drawn.length, if drawn.flange.is_some() { "flange included" } else { "" }));
    if let Some((outside, thickness)) = &drawn.flange {
        lines.push(line("flange", format!("{} × {}", outside.lines.join(" "), thickness.lines.join(" ")), "at the datum end (D)"));
    }
    lines.push(asked(
        "lead",
        &drawn.lead,
        if drawn.datum_leads { "at the datum end (D), which goes in first" } else { "away from the datum end (D), goes in first" },
    ));
    if let Some(groove) = &drawn.groove {
        lines.push(line("groove", groove.text.clone(), ""));
        if let Some(middle) = &groove.middle {
            lines.push(asked("middle of the groove", middle, "from the datum end (D): hold it against the hole in the housing first"));
        }
        if !groove.starts_deg.is_empty() {
            let starts: Vec<String> = groove.starts_deg.iter().map(|angle| format!("{}°", calc::units::shown_plain(*angle, 0))).collect();
            lines.push(line("groove begins at", starts.join(", "), "clockwise from the datum mark, seen from D"));
        }
    }
    if let Some(hole) = &drawn.hole {
        lines.push(line("hole", hole.across.lines.join(" "), format!("{} from D, {}", hole.from_datum.lines.join(" "), hole.text)));
    }
    lines.push(line("roughness", format!("{} outside", drawn.outside_finish), format!("cylindricity {}", drawn.form.outside_cylindricity)));
    lines
}
