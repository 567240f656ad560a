//! What a pasted column or a CSV of readings means: one reading a line, in the order station, angle, size, part temperature.
//!
//! Two to four figures a line, parted by tabs, semicolons, commas or blanks; a line of one figure is a size alone. A first line without a
//! figure is a heading. Decimal commas are read where tabs, semicolons or blanks part the figures.

use calc::Refused;
use job::state::Units;
use job::typed;

/// Most lines that are taken at once.
const MOST_LINES: usize = 2000;

/// A reading of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Distance from the datum end, mm.
    pub station_mm: Option<f64>,
    /// Direction, degrees.
    pub angle_deg: Option<f64>,
    /// As read, mm.
    pub size_mm: f64,
    /// The part's temperature, °C.
    pub part_C: Option<f64>,
}

/// Reads pasted text. The first line that can't be read is refused, named by its number; nothing is taken then.
pub fn rows(text: &str, units: Units) -> Result<Vec<Row>, Refused> {
    let lines: Vec<(usize, &str)> = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()).collect();
    if lines.len() > MOST_LINES {
        let given = format!("{} lines long", lines.len());
        return Err(Refused::new("what was pasted", given, format!("{MOST_LINES} lines at most"), "paste it in parts"));
    }
    let is_heading = |line: &str| !line.chars().any(|letter| letter.is_ascii_digit());
    let skip = usize::from(lines.first().is_some_and(|(_, line)| is_heading(line)));
    let rows: Result<Vec<Row>, Refused> = lines.iter().skip(skip).map(|(number, line)| row(number + 1, line, units)).collect();
    match rows {
        Ok(rows) if rows.is_empty() => {
            Err(Refused::new("what was pasted", "without a figure", "a reading a line", "copy the column with its figures"))
        }
        other => other,
    }
}

fn row(number: usize, line: &str, units: Units) -> Result<Row, Refused> {
    let cells = cells(line);
    let named = |refused: Refused| Refused { key: format!("line {number}: {}", refused.key), ..refused };
    let cell = |i: usize| cells.get(i).map(String::as_str).unwrap_or_default();
    let size = |i: usize| typed::size(cell(i), units).map_err(named);
    let station = || typed::station(cell(0), units).map(Some).map_err(named);
    let angle = || typed::angle(cell(1)).map(Some).map_err(named);
    let part = |i: usize| typed::temperature(cell(i), units).map(|amount| Some(amount.value)).map_err(named);
    match cells.len() {
        1 => Ok(Row { station_mm: None, angle_deg: None, size_mm: size(0)?, part_C: None }),
        2 => Ok(Row { station_mm: None, angle_deg: None, size_mm: size(0)?, part_C: part(1)? }),
        3 => Ok(Row { station_mm: station()?, angle_deg: angle()?, size_mm: size(2)?, part_C: None }),
        4 => Ok(Row { station_mm: station()?, angle_deg: angle()?, size_mm: size(2)?, part_C: part(3)? }),
        n => {
            let allowed = "1 (size), 2 (size, part temperature), 3 (station, angle, size) or 4 (and part temperature)";
            Err(Refused::new(format!("line {number}"), format!("{n} figures"), allowed, "put one reading on a line"))
        }
    }
}

fn cells(line: &str) -> Vec<String> {
    let line = line.trim();
    let parted: Vec<&str> = if line.contains('\t') {
        line.split('\t').collect()
    } else if line.contains(';') {
        line.split(';').collect()
    } else if line.contains(' ') && !line.contains(", ") {
        line.split_whitespace().collect()
    } else {
        line.split(',').collect()
    };
    parted.into_iter().map(|cell| cell.trim().trim_matches('"').to_owned()).filter(|cell| !cell.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_read_as_they_come_out_of_gauges_and_sheets() {
        let full = Row { station_mm: Some(15.0), angle_deg: Some(45.0), size_mm: 240.069, part_C: Some(31.5) };
        for text in [
            "15\t45\t240.069\t31.5",
            "15;45;240,069;31,5",
            "15,45,240.069,31.5",
            "15 45 240,069 31,5",
            "station,angle,size,part\n15, 45, 240.069, 31.5\n",
        ] {
            assert_eq!(rows(text, Units::Mm).unwrap(), vec![full], "{text}");
        }
        assert_eq!(rows("240.069\n240.071\n", Units::Mm).unwrap().len(), 2);
        assert!((rows("9.4516", Units::Inch).unwrap()[0].size_mm - 240.07064).abs() < 1e-9);
    }

    #[test]
    fn a_line_that_cant_be_read_is_named_and_nothing_is_taken() {
        for (text, words) in [
            ("240.069\nx240", "line 2: the reading is \"x240\""),
            ("1 2 3 4 5", "line 1 is 5 figures"),
            ("nothing", "without a figure"),
            ("15 400 240.069", "line 1: the angle is \"400\""),
        ] {
            let said = rows(text, Units::Mm).unwrap_err().to_string();
            assert!(said.contains(words), "{said}");
        }
    }
}
