//! The measured results of a job, with what they were judged by: for the certificate, and as data for other programs.
//!
//! JSON keeps every digit of a figure; CSV has a row a result, in millimetres, for a table of figures. Both carry u, degrees of freedom and
//! the expanded uncertainty with its factor. Source of the terms: JCGM 200 (from memory).

use calc::quantity::Quantity;
use calc::shown;
use serde::Serialize;
use serde_json::Value;

use crate::sheet::{Calculation, JobSheet, SeatSheet, Stage};
use crate::stages::ask::Said;
use crate::state::{Feature, State};

use super::record::Record;

/// A feature that was measured, or should have been.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The seat.
    pub seat: String,
    /// What was measured, or what was asked.
    pub what: String,
    /// Size at 20 °C; none while it is not measured.
    pub size: Option<Quantity>,
    /// Limits that it is judged by, mm; none where nothing was asked.
    pub limits: Option<(f64, f64)>,
    /// The verdict, in its word; empty where nothing was asked.
    pub verdict: String,
    /// Probability that the true value is within the limits.
    pub chance: Option<f64>,
    /// Out-of-round between two points, mm.
    pub out_of_round_mm: Option<Quantity>,
}

/// Every requirement and every feature of a job, seat by seat.
pub fn measured(state: &State, sheet: &JobSheet) -> Vec<Measured> {
    let of_seat = |seat: &crate::state::Seat| {
        let of = sheet.seats.iter().find(|of| of.name == seat.name || of.also.contains(&seat.name))?;
        Some(requirements(of).into_iter().chain(features(of)).map(|of| Measured { seat: seat.name.clone(), ..of }).collect::<Vec<_>>())
    };
    state.seats.iter().filter_map(of_seat).flatten().collect()
}

/// Words of a requirement in the release stage, and the stage whose band it is judged by.
const REQUIREMENTS: [&str; 2] = ["outside of the bush in its band", "finished bore in its band"];

fn requirements(seat: &SeatSheet) -> Vec<Measured> {
    let Some(release) = seat.stages.iter().find(|stage| stage.stage == Stage::Release) else { return Vec::new() };
    let rows = release.grids.iter().filter(|grid| grid.title == "Requirements").flat_map(|grid| &grid.rows);
    let what = rows.filter_map(|row| row.first()).filter(|what| REQUIREMENTS.contains(&what.as_str()));
    what.map(|what| {
        let name = format!("verdict_{}", what.replace(' ', "_"));
        let judged = release.calculations.iter().find(|of| of.name == name);
        let asked = judged.map(|of| Said::from(of.request.clone()));
        let said = judged.map(|of| Said::from(of.answer.clone()));
        let number = |path: &str| asked.as_ref().and_then(|asked| asked.number(path));
        Measured {
            seat: String::new(),
            what: what.clone(),
            size: asked.as_ref().and_then(|asked| asked.quantity("value")),
            limits: number("lower").zip(number("upper")).or_else(|| band(seat, what)),
            verdict: said.as_ref().and_then(|said| said.text("verdict")).unwrap_or("open").to_owned(),
            chance: said.as_ref().and_then(|said| said.number("chance_within")),
            out_of_round_mm: None,
        }
    })
    .collect()
}

/// Limits of a requirement that nothing was measured for.
fn band(seat: &SeatSheet, what: &str) -> Option<(f64, f64)> {
    let drawn = seat.drawing.as_ref()?;
    if what == REQUIREMENTS[0] { drawn.outside_band_mm } else { drawn.finished_band_mm }
}

/// Sizes at 20 °C that stand in the stages, with their form where it was surveyed.
fn features(seat: &SeatSheet) -> Vec<Measured> {
    let calculations: Vec<&Calculation> = seat.stages.iter().flat_map(|stage| &stage.calculations).collect();
    Feature::ALL
        .iter()
        .filter_map(|(_, word)| {
            let named = |what: &str| {
                let name = format!("{}_{what}", word.replace(' ', "_"));
                calculations.iter().find(|of| of.name == name).map(|of| Said::from(of.answer.clone()))
            };
            let size = named("to_20")?.quantity("size_mm")?;
            Some(Measured {
                seat: String::new(),
                what: (*word).to_owned(),
                size: Some(size),
                limits: None,
                verdict: String::new(),
                chance: None,
                out_of_round_mm: named("survey").and_then(|said| said.quantity("out_of_round_mm")),
            })
        })
        .collect()
}

/// A result as data.
#[derive(Clone, Debug, PartialEq, Serialize)]
struct Row {
    seat: String,
    what: String,
    size_mm: Option<f64>,
    u_mm: Option<f64>,
    dof: Option<f64>,
    k: Option<f64>,
    expanded_mm: Option<f64>,
    coverage: f64,
    lower_mm: Option<f64>,
    upper_mm: Option<f64>,
    verdict: String,
    chance_within: Option<f64>,
    out_of_round_mm: Option<f64>,
    out_of_round_u_mm: Option<f64>,
}

impl Row {
    fn of(of: Measured) -> Self {
        let size = of.size;
        Self {
            seat: of.seat,
            what: of.what,
            size_mm: size.map(|size| size.value),
            u_mm: size.map(|size| size.u),
            dof: size.and_then(|size| size.dof),
            k: size.map(|size| shown::coverage_95(&size)),
            expanded_mm: size.map(|size| shown::half_width_95(&size)),
            coverage: 0.95,
            lower_mm: of.limits.map(|(low, _)| low),
            upper_mm: of.limits.map(|(_, high)| high),
            verdict: of.verdict,
            chance_within: of.chance,
            out_of_round_mm: of.out_of_round_mm.map(|form| form.value),
            out_of_round_u_mm: of.out_of_round_mm.map(|form| form.u),
        }
    }

    /// Its names and values, in the order of the columns.
    fn cells(&self) -> Vec<(String, String)> {
        let Ok(Value::Object(map)) = serde_json::to_value(self) else { return Vec::new() };
        map.into_iter()
            .map(|(name, value)| {
                let text = match value {
                    Value::Null => String::new(),
                    Value::String(text) => quoted(&text),
                    other => other.to_string(),
                };
                (name, text)
            })
            .collect()
    }
}

/// A text as a cell: in quotes where a comma, a quote or an end of line is in it, and never one that a spreadsheet would reckon with.
/// Source: RFC 4180.
fn quoted(text: &str) -> String {
    let text = if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}

/// The results as JSON, with the head of the record that they stand for.
pub fn as_json(state: &State, sheet: &JobSheet, record: &Record) -> Result<String, serde_json::Error> {
    let rows: Vec<Row> = measured(state, sheet).into_iter().map(Row::of).collect();
    let all = serde_json::json!({
        "job": sheet.number, "date": sheet.date, "head": record.head, "revision": record.revision, "signatures": record.signatures,
        "reference_temperature_C": 20, "decision_rule": "95 % within the limits (JCGM 106)", "results": rows,
    });
    serde_json::to_string_pretty(&all).map(|text| text + "\n")
}

/// The results as CSV: a line of names, then a line a result, ends of line as RFC 4180 has them.
pub fn as_csv(state: &State, sheet: &JobSheet) -> String {
    let rows: Vec<Vec<(String, String)>> = measured(state, sheet).into_iter().map(|of| Row::of(of).cells()).collect();
    let names = Row::of(Measured {
        seat: String::new(),
        what: String::new(),
        size: None,
        limits: None,
        verdict: String::new(),
        chance: None,
        out_of_round_mm: None,
    })
    .cells();
    let line = |cells: Vec<String>| cells.join(",") + "\r\n";
    let first = line(names.into_iter().map(|(name, _)| name).collect());
    std::iter::once(first).chain(rows.into_iter().map(|row| line(row.into_iter().map(|(_, cell)| cell).collect()))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_can_not_break_its_row_nor_be_taken_for_a_formula() {
        for (text, cell) in [("plain", "plain"), ("a, b", "\"a, b\""), ("a \"b\"", "\"a \"\"b\"\"\""), ("=1+1", "'=1+1"), ("-5", "'-5")] {
            assert_eq!(quoted(text), cell);
        }
    }
}
