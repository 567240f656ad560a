//! `[[seat.NAME.measure]]`: readings of one feature, taken in one go.

use calc::Refused;
use calc::keys::Range;
use toml::de::{DeTable, DeValue};

use crate::entry::{Amount, Scope, What};
use crate::facts::Measure;
use crate::state::{Feature, Units};

use super::BadFile;
use super::figure::{Value, Values, in_quotes};
use super::place::{not_known, refuse_at};
use super::walk::{Walk, at};

/// Diameters that a gauge can read, mm.
pub(super) const SIZE: Range = Range::over(0.0).to(20_000.0);
/// Where on a part, mm from its datum end.
const STATION: Range = Range::within(0.0, 20_000.0);
/// Directions, degrees.
const ANGLE: Range = Range::within(-360.0, 360.0);
/// Temperatures of parts and gauges, °C.
const T: Range = Range::within(-200.0, 400.0);
/// More readings in one job are not read by hand.
const MOST_READINGS: usize = 20_000;

/// A reading of a row.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    station_mm: Option<f64>,
    angle_deg: Option<f64>,
    size_mm: f64,
    own_part_C: Option<f64>,
}

impl<'a, 't> Walk<'a, 't> {
    /// One measure of a scope; `set` is its number there.
    pub fn measure(&mut self, scope: &Scope, set: u32, table: &'a DeTable<'t>, byte: usize) {
        let values = self.values;
        let feature = match at(table, "of") {
            Some(value) => self.keep(feature(&values, value)),
            None => None,
        };
        let gauge = at(table, "gauge").map(|value| self.gauge(value));
        let gauge = gauge.and_then(|read| self.keep(read));
        let part_C = at(table, "part_temperature").and_then(|value| self.keep(temperature(&values, "part_temperature", value)));
        let gauge_C = at(table, "gauge_temperature").and_then(|value| self.keep(temperature(&values, "gauge_temperature", value)));
        let (who, day) = self.who_and_day(table);
        let Some(list) = at(table, "readings") else { return };
        let Some(rows) = self.keep(rows(&values, list)) else { return };
        self.readings += rows.len();
        if self.readings > MOST_READINGS {
            let given = format!("{} in this job", self.readings);
            let refused = Refused::new("readings", given, format!("{MOST_READINGS} at most"), "keep those that were read by hand");
            return self.wrong(refuse_at(values.text, list.span().start, refused));
        }
        let Some(feature) = feature else { return };
        for (i, (at, row)) in rows.into_iter().enumerate() {
            let Row { station_mm, angle_deg, size_mm, own_part_C } = row;
            let gauge = gauge.clone();
            let what = What::Reading { feature, set, gauge, station_mm, angle_deg, size_mm, own_part_C, part_C, gauge_C };
            self.add(scope, &format!("measure.{set}.{}", i + 1), at.max(byte), (who.clone(), day.clone()), what);
        }
    }

    fn gauge(&self, value: &Value) -> Result<String, BadFile> {
        let name = self.values.filled("gauge", value)?;
        if self.gauges.is_empty() || self.gauges.contains(&name) {
            return Ok(name);
        }
        let known: Vec<&str> = self.gauges.iter().map(String::as_str).collect();
        Err(refuse_at(self.values.text, value.span().start, not_known("gauge", &in_quotes(&name), &known, "write [gauge.NAME]")))
    }
}

/// A feature by its word.
pub(super) fn feature(values: &Values, value: &Value) -> Result<Feature, BadFile> {
    let words = Feature::ALL.map(|(_, word)| word);
    let word = values.word("of", &words, value)?;
    // `word` is one of the words.
    Ok(Feature::ALL.iter().find(|(_, known)| *known == word).map_or(Feature::HousingBore, |(feature, _)| *feature))
}

fn temperature(values: &Values, key: &str, value: &Value) -> Result<Amount, BadFile> {
    let sample = match values.units {
        Units::Mm => "20",
        Units::Inch => "68",
    };
    values.figure(key, (Measure::Temperature, T), sample, value)
}

/// Rows of `[station, angle, size]`, or sizes of one place, each with where it stands.
fn rows(values: &Values, list: &Value) -> Result<Vec<(usize, Row)>, BadFile> {
    let shape = "rows of [station, angle, size], or sizes of one place";
    let remedy = match values.units {
        Units::Mm => "write readings = [[20, 0, 240.012], [20, 90, 240.018]] or readings = [240.012, 240.018]",
        Units::Inch => "write readings = [[1, 0, 9.4501], [1, 90, 9.4503]] or readings = [9.4501, 9.4503]",
    };
    let DeValue::Array(items) = list.get_ref() else { return Err(values.refuse("readings", list, shape, remedy)) };
    let is_row = |item: &Value| matches!(item.get_ref(), DeValue::Array(_));
    let rows = items.iter().filter(|item| is_row(item)).count();
    if rows > 0
        && let Some(odd) = items.iter().find(|item| !is_row(item))
    {
        return Err(values.refuse("readings", odd, shape, "write every reading as a row, or none"));
    }
    items.iter().map(|item| Ok((item.span().start, if is_row(item) { row(values, item)? } else { size_alone(values, item)? }))).collect()
}

fn size_alone(values: &Values, item: &Value) -> Result<Row, BadFile> {
    Ok(Row { size_mm: size(values, item)?, ..Row::default() })
}

fn row(values: &Values, item: &Value) -> Result<Row, BadFile> {
    let cells: Vec<&Value> = match item.get_ref() {
        DeValue::Array(cells) => cells.iter().collect(),
        _ => Vec::new(),
    };
    let ([station, angle, size_cell], own) = match cells.as_slice() {
        [station, angle, size] => ([*station, *angle, *size], None),
        [station, angle, size, own] => ([*station, *angle, *size], Some(*own)),
        _ => {
            let allowed = "[station, angle, size] or [station, angle, size, part temperature]";
            return Err(values.refuse("a row of readings", item, allowed, "write 3 or 4 figures in each row"));
        }
    };
    let figure =
        |key: &str, measure, range, sample: &str, cell| values.figure(key, (measure, range), sample, cell).map(|found| found.value);
    Ok(Row {
        station_mm: Some(figure("station", Measure::Length, STATION, "20", station)?),
        angle_deg: Some(figure("angle", Measure::Angle, ANGLE, "90", angle)?),
        size_mm: size(values, size_cell)?,
        own_part_C: own.map(|cell| temperature(values, "part temperature", cell).map(|found| found.value)).transpose()?,
    })
}

/// A diameter as read.
pub(super) fn size(values: &Values, cell: &Value) -> Result<f64, BadFile> {
    let sample = match values.units {
        Units::Mm => "240.012",
        Units::Inch => "9.4501",
    };
    values.figure("size", (Measure::Length, SIZE), sample, cell).map(|found| found.value)
}
