//! The job sheet as PDF: whatever stands on the sheet, a document comes out, the same bytes each time, kept to its standards.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails like the test")]

use job::sheet::JobSheet;
use paper::{Options, Size, job_sheet};

/// The sample of the drawings' tests.
fn sample() -> JobSheet {
    serde_json::from_str(include_str!("../../draw/tests/winch_bush.json")).unwrap()
}

fn printed(sheet: &JobSheet, options: &Options) -> Vec<u8> {
    job_sheet(sheet, options).unwrap()
}

fn holds(bytes: &[u8], words: &str) -> bool {
    bytes.windows(words.len()).any(|window| window == words.as_bytes())
}

#[test]
fn the_sample_is_printed_on_both_papers_and_claims_its_standards() {
    for (name, options) in [("a4", Options { size: Size::A4, working: false }), ("letter", Options { size: Size::Letter, working: true })] {
        let bytes = printed(&sample(), &options);
        if let Some(folder) = std::env::var_os("DOCUMENTS_TO") {
            std::fs::write(std::path::Path::new(&folder).join(format!("{name}.pdf")), &bytes).unwrap();
        }
        assert!(bytes.starts_with(b"%PDF-1.7"));
        assert!(holds(&bytes, "pdfaid:part") && holds(&bytes, "pdfuaid:part"), "{name}");
    }
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    let options = Options { size: Size::A4, working: true };
    assert!(printed(&sample(), &options) == printed(&sample(), &options));
}

#[test]
fn an_empty_sheet_is_still_a_document() {
    let mut sheet = sample();
    sheet.seats.clear();
    sheet.by.clear();
    sheet.notes.clear();
    for text in [&mut sheet.number, &mut sheet.title, &mut sheet.customer, &mut sheet.units, &mut sheet.date, &mut sheet.head] {
        text.clear();
    }
    printed(&sheet, &Options::default());
    let mut sheet = sample();
    for seat in &mut sheet.seats {
        seat.stages.clear();
        seat.decision.clear();
        seat.name.clear();
    }
    printed(&sheet, &Options::default());
}

/// Texts that would hurt a template that pastes, and letters that no font has.
const NASTY: [&str; 9] = [
    "#panic(\"x\") $ x $ *b* _i_ `raw` \\ @ref <label> = heading //comment /*",
    "]\n#[ } { \" ' & </text>",
    "\u{4E2D}\u{6587} \u{1F527} \u{0645}\u{0631}\u{062D}\u{0628}\u{0627} \u{05E9}\u{05DC}\u{05D5}\u{05DD}",
    "e\u{0301}\u{0323}\u{0330} \u{0300}\u{0301}\u{20DD} a\u{0489} \u{0E01}\u{0E49} \u{094D}",
    "\u{0}\u{7}\u{1B}[31m \u{FFFF}\u{FFFE}\u{E000}\u{10FFFF} \u{AD}\u{200B}\u{200D}\u{FEFF}\u{202E}",
    "",
    "    ",
    "LlanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogochLlanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch",
    "- 1. + / term: x ~ -- ... https://example.org/a_b_c#d",
];

#[test]
fn no_text_breaks_the_sheet() {
    for nasty in NASTY {
        let mut sheet = sample();
        let put = |text: &mut String| *text = nasty.to_owned();
        for text in [&mut sheet.number, &mut sheet.title, &mut sheet.customer, &mut sheet.units, &mut sheet.date, &mut sheet.head] {
            put(text);
        }
        sheet.by.iter_mut().for_each(put);
        sheet.notes.iter_mut().for_each(put);
        sheet.signatures.push(nasty.into());
        for seat in &mut sheet.seats {
            for text in [&mut seat.name, &mut seat.decision] {
                put(text);
            }
            seat.also.iter_mut().for_each(put);
            if let Some(section) = &mut seat.section {
                for text in [&mut section.alloy, &mut section.metal, &mut section.journal.text, &mut section.length.of] {
                    put(text);
                }
            }
            for stage in &mut seat.stages {
                for text in [&mut stage.brief, &mut stage.answer] {
                    put(text);
                }
                for texts in [&mut stage.cautions, &mut stage.warnings, &mut stage.needs, &mut stage.sources] {
                    texts.push(nasty.into());
                }
                for line in &mut stage.lines {
                    for text in [&mut line.label, &mut line.value, &mut line.note] {
                        put(text);
                    }
                }
                for grid in &mut stage.grids {
                    put(&mut grid.title);
                    grid.columns.iter_mut().for_each(put);
                    grid.rows.iter_mut().flatten().for_each(put);
                }
            }
        }
        let bytes = job_sheet(&sheet, &Options { size: Size::A4, working: true });
        if let (Some(folder), Ok(bytes)) = (std::env::var_os("DOCUMENTS_TO"), &bytes) {
            let number = NASTY.iter().position(|other| *other == nasty).unwrap();
            std::fs::write(std::path::Path::new(&folder).join(format!("nasty{number}.pdf")), bytes).unwrap();
        }
        bytes.unwrap_or_else(|fault| panic!("{nasty:?}: {fault}"));
    }
}

#[test]
fn a_table_whose_rows_do_not_fit_its_columns_is_squared() {
    let mut sheet = sample();
    for stage in &mut sheet.seats[0].stages {
        for (index, grid) in stage.grids.iter_mut().enumerate() {
            grid.rows.push(vec![]);
            grid.rows.push(vec!["x".into(); 40]);
            grid.figures.truncate(index);
        }
        let mut bare = stage.grids.first().cloned();
        if let Some(bare) = &mut bare {
            bare.columns.clear();
        }
        stage.grids.extend(bare);
    }
    printed(&sheet, &Options::default());
}

#[test]
fn absent_or_broken_calculations_leave_the_rest_standing() {
    for spoilt in ["null", "{}", "[]", "{\"working\": [1, null, {\"with\": [[1], [\"a\", \"b\"]]}], \"mean_mm\": 1, \"T_C\": [1, 2]}"] {
        let mut sheet = sample();
        for calculation in sheet.seats[0].stages.iter_mut().flat_map(|stage| &mut stage.calculations) {
            calculation.answer = serde_json::from_str(spoilt).unwrap();
        }
        printed(&sheet, &Options { size: Size::Letter, working: true });
    }
    let mut sheet = sample();
    sheet.seats[0].section = None;
    sheet.seats[0].stages.iter_mut().for_each(|stage| stage.calculations.clear());
    printed(&sheet, &Options::default());
}

#[test]
fn a_long_table_runs_over_pages() {
    let mut sheet = sample();
    let grid = sheet.seats[0].stages.iter_mut().flat_map(|stage| &mut stage.grids).next().unwrap();
    let row = grid.rows[0].clone();
    grid.rows.extend(std::iter::repeat_n(row, 150));
    let bytes = printed(&sheet, &Options::default());
    assert!(bytes.len() > 10_000);
}
