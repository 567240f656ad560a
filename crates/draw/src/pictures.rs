//! Which drawings a seat has, and from which of its calculations each is made.

use calc::units::System;
use job::sheet::{Calculation, JobSheet, SeatSheet, Stage};
use serde_json::Value;

use crate::along::Along;
use crate::approach::Approach;
use crate::cooldown::Cooling;
use crate::hold_map::Marks;
use crate::{
    Drawing, Setting, along, approach, bath_section, contributors, cooldown, film_pressure, hold_map, load_clearance, press, section,
    survey, window,
};

/// A drawing and where it belongs.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The stage that it belongs to; none for the section, which shows the whole seat.
    pub stage: Option<Stage>,
    /// Its name within the seat: `section`, `hold_map`, `housing_bore_survey`.
    pub name: String,
    /// The drawing.
    pub drawing: Drawing,
}

/// Width of a drawing that is made for nobody in particular, units.
const WIDE: f64 = 720.0;

/// Name and SVG of each drawing of a seat, for files.
pub fn drawings(seat: &SeatSheet, sheet: &JobSheet) -> Vec<(String, String)> {
    let setting = Setting::screen(WIDE, system(sheet));
    pictures(seat, &setting).into_iter().map(|picture| (picture.name, picture.drawing.svg)).collect()
}

/// In which lengths a sheet shows its figures.
pub fn system(sheet: &JobSheet) -> System {
    if sheet.units == "inch" { System::Inch } else { System::Metric }
}

/// Every drawing that the sheet of a seat has the figures for, in the order of the job.
pub fn pictures(seat: &SeatSheet, setting: &Setting) -> Vec<Picture> {
    pictures_of(seat, setting, &|_| true)
}

/// The drawings of the stages that are wanted; the section has none.
pub fn pictures_of(seat: &SeatSheet, setting: &Setting, wanted: &dyn Fn(Option<Stage>) -> bool) -> Vec<Picture> {
    let mut pictures = Vec::new();
    if let Some(of) = seat.section.as_ref().filter(|_| wanted(None)) {
        pictures.push(Picture { stage: None, name: "section".into(), drawing: section(of, setting) });
    }
    for stage in seat.stages.iter().filter(|stage| wanted(Some(stage.stage))) {
        for calculation in &stage.calculations {
            if let Some(drawing) = drawn(calculation, &stage.calculations, setting) {
                pictures.push(Picture { stage: Some(stage.stage), name: name(calculation), drawing });
            }
        }
    }
    pictures
}

fn name(calculation: &Calculation) -> String {
    match calculation.kind.as_str() {
        "fit-map" => "hold_map".into(),
        "fit-chance" => "contributors".into(),
        "fit-shape" => "along".into(),
        "film-clearance" => "load_clearance".into(),
        _ => calculation.name.clone(),
    }
}

fn drawn(calculation: &Calculation, beside: &[Calculation], setting: &Setting) -> Option<Drawing> {
    let (request, answer) = (&calculation.request, &calculation.answer);
    match calculation.kind.as_str() {
        "survey" => Some(survey(request, answer, setting)),
        "fit-map" => Some(hold_map(answer, &marks(request, beside), setting)),
        "fit-shape" => Along::of(request, answer).map(|seat| along(&seat, setting)),
        "cooling" => answer.get("section").filter(|section| !section.is_null()).map(|_| bath_section(answer, setting)),
        "window" => number(answer, "/seconds_to_touch").filter(|s| *s > 0.0).map(|_| window(request, answer, setting)),
        "press" => Some(press(request, answer, setting)),
        "film" => answer.get("picture").filter(|picture| !picture.is_null()).map(|_| film_pressure(request, answer, setting)),
        "film-clearance" => Some(load_clearance(answer, setting)),
        "next-cut" => {
            let way = Approach::of(request, answer).filter(|way| !way.cuts.is_empty())?;
            let over = calculation.name.starts_with("turned_");
            Some(approach(&if over { way.over() } else { way }, setting))
        }
        "cooldown" => Cooling::read(request, answer).map(|part| cooldown(&part, setting)),
        "fit-chance" => {
            let output = deciding(answer)?;
            Some(contributors(request, answer, output, &job::stages::input_words, setting))
        }
        _ => None,
    }
}

/// The output whose doubt decides most: the interference where it holds least, else that at 20 °C, else what there is.
fn deciding(answer: &Value) -> Option<&str> {
    let all = answer.get("contributions")?.as_object()?;
    let wanted = ["cold_interference_um", "interference_um"];
    wanted.into_iter().find(|output| all.contains_key(*output)).or_else(|| all.keys().next().map(String::as_str))
}

fn number(value: &Value, pointer: &str) -> Option<f64> {
    let found = value.pointer(pointer)?;
    found.get("value").unwrap_or(found).as_f64()
}

/// What lies over the map: the working range and the planned interference, from the calculations beside it.
pub fn marks(map_request: &Value, beside: &[Calculation]) -> Marks {
    let of_kind = |kind: &str| beside.iter().find(|calculation| calculation.kind == kind);
    let mut marks = Marks { bush_alone: map_request.get("sweep").and_then(Value::as_str) == Some("bush"), ..Marks::default() };
    if let Some(fit) = of_kind("fit") {
        let temperatures: Vec<f64> = fit
            .request
            .get("states")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(|state| state.get("T_C")?.as_array())
            .flatten()
            .filter_map(Value::as_f64)
            .collect();
        let ends = temperatures.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), T| (low.min(*T), high.max(*T)));
        marks.working_C = (ends.0 < ends.1).then_some(ends);
        marks.planned_um = planned(&fit.request);
        marks.spread_um = of_kind("fit-chance").and_then(|chance| spread(&fit.answer, &chance.answer));
    }
    marks
}

/// Free interference of the band's ends: a band stands in the request as a rectangular quantity, a made bush as its size.
fn planned(fit_request: &Value) -> Option<(f64, f64)> {
    let outside = fit_request.pointer("/rings/0/outside_mm")?;
    let bore = number(fit_request, "/rings/1/bore_mm")?;
    let middle = outside.get("value").unwrap_or(outside).as_f64()?;
    let u = outside.get("u").and_then(Value::as_f64).unwrap_or(0.0);
    let banded = outside.get("shape").and_then(Value::as_str) == Some("rectangular");
    let half = if banded { u * 3.0_f64.sqrt() } else { 0.0 };
    let over = |size_mm: f64| calc::units::um_from_mm(size_mm - bore);
    Some((over(middle - half), over(middle + half)))
}

/// The 95 % interval of the free interference: that of the effective one and what smoothing takes.
fn spread(fit: &Value, chance: &Value) -> Option<(f64, f64)> {
    let joint = fit.get("states")?.as_array()?.last()?.pointer("/joints/0")?;
    let smoothed = number(joint, "/interference_um")? - number(joint, "/effective_um")?;
    let low = number(chance, "/outputs/interference_um/low")?;
    let high = number(chance, "/outputs/interference_um/high")?;
    Some((low + smoothed, high + smoothed))
}
