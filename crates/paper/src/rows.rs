//! Lines and tables as the templates take them: texts cleaned, figures with their minus, every row as long as there are columns.

use job::sheet::{Grid, Line};
use serde::Serialize;

use crate::letters::Cleaner;
use crate::page::minus;

/// A line of a stage or a paper.
#[derive(Serialize)]
pub(crate) struct Row {
    label: String,
    value: String,
    note: String,
    /// The value is set as words are.
    sentence: bool,
}

impl Row {
    /// `line`, its value a sentence when it has more than `most` letters.
    pub fn of(line: &Line, most: usize, cleaner: &mut Cleaner) -> Self {
        Self {
            label: cleaner.text(&line.label),
            value: cleaner.text(&minus(&line.value)),
            note: cleaner.text(&line.note),
            sentence: line.value.chars().count() > most,
        }
    }
}

/// A table with as many cells in each row as it has columns.
#[derive(Default, Serialize)]
pub(crate) struct Table {
    pub title: String,
    pub columns: Vec<String>,
    pub figures: Vec<bool>,
    pub weights: Vec<f64>,
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub fn of(grid: &Grid, cleaner: &mut Cleaner) -> Self {
        let count = grid.columns.len();
        let columns = cleaner.each(&grid.columns);
        let mut figures = grid.figures.clone();
        figures.resize(count, false);
        let row = |row: &Vec<String>| {
            let cells = row.iter().zip(&figures);
            let mut cells: Vec<String> =
                cells.map(|(cell, figure)| cleaner.text(&if *figure { minus(cell) } else { cell.clone() })).collect();
            cells.resize(count, String::new());
            cells
        };
        let rows: Vec<Vec<String>> = grid.rows.iter().map(row).collect();
        let weights = (0..count).map(|column| weight(&columns, &rows, column)).collect();
        Self { title: cleaner.text(&grid.title), columns, figures, weights, rows }
    }
}

/// Share of the width that a column gets: as its longest text asks for, between its longest word and a line of thirty letters; what is
/// far longer gets a quarter of the rest on top, so that it does not stand in a narrow column beside empty ones.
fn weight(columns: &[String], rows: &[Vec<String>], column: usize) -> f64 {
    let cells = || rows.iter().filter_map(move |row| row.get(column)).chain(columns.get(column));
    let longest = cells().map(|cell| cell.chars().count()).max().unwrap_or(0);
    let widest = longest.min(LINE) + (longest.saturating_sub(LINE) / 4).min(LINE);
    let word = cells().flat_map(|cell| cell.split([' ', '\u{200B}'])).map(|word| word.chars().count()).max().unwrap_or(0);
    widest.max(word).max(5) as f64 + 2.5
}

/// Letters of a line in a table's column of words.
const LINE: usize = 34;
