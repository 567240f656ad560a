//! The papers that go with a part, and shop drawings: texts cleaned, tables squared, drawings numbered, for their templates.

use draw::Drawing;
use draw::drawing::{OfSeat, Paper};
use job::papers::document::{Document, Part};
use job::papers::record::Record;
use job::sheet::JobSheet;
use serde::Serialize;

use crate::letters::{Cleaner, Letters};
use crate::page::{day, shortened};
use crate::rows::{Row, Table};
use crate::world::Handed;
use crate::{Size, Unset, made};

const PAPER: &str = include_str!("paper.typ");
const DRAWINGS: &str = include_str!("drawings.typ");

/// Letters of a value beyond which it is a sentence and is set like one.
const VALUE: usize = 34;

/// A lathe sheet, certificate or quote as PDF.
///
/// Letters that no font here has are shown as □ and named at the end; a text that still can't be set is set with plain letters only.
pub fn document(document: &Document, size: Size) -> Result<Vec<u8>, Unset> {
    set(document, size, Letters::Known).or_else(|_| set(document, size, Letters::Plain))
}

fn set(document: &Document, size: Size, letters: Letters) -> Result<Vec<u8>, Unset> {
    let mut setter = Setter { cleaner: Cleaner::new(letters), drawings: Vec::new() };
    let page = setter.page(document, size);
    let json = serde_json::to_string(&page).map_err(|fault| Unset(fault.to_string()))?;
    let ident = format!("{}/{}/{}/{}", document.kind, document.number, document.head, size.word());
    made(&Handed::new(PAPER, &json, setter.drawings)?, page.day.is_some(), ident)
}

/// The shop drawings of a job, as one PDF.
pub fn shop_drawings(sheet: &JobSheet, record: &Record, drawn: Vec<OfSeat>, paper: Paper) -> Result<Vec<u8>, Unset> {
    let pages: Vec<_> = drawn.into_iter().map(|of| (of.drawing, paper.mm())).collect();
    sheets(&format!("Shop drawings {}: {}", sheet.number, sheet.title), &sheet.by, &sheet.date, &record.head, &pages)
}

/// Drawings that fill a sheet each, in their order, as one PDF: width and height of each in millimetres beside it.
pub fn sheets(title: &str, by: &[String], date: &str, head: &str, drawn: &[(Drawing, (f64, f64))]) -> Result<Vec<u8>, Unset> {
    let mut cleaner = Cleaner::new(Letters::Known);
    let pages = drawn.iter().enumerate().map(|(index, (drawing, (width_mm, height_mm)))| Sheet {
        file: format!("{index}.svg"),
        title: cleaner.whole(&drawing.title),
        alt: cleaner.whole(&drawing.description),
        width_mm: *width_mm,
        height_mm: *height_mm,
    });
    let pages: Vec<Sheet> = pages.collect();
    let svgs = drawn.iter().map(|(drawing, _)| cleaner.whole(&drawing.svg)).collect();
    let set = Set { title: cleaner.text(title), by: by.iter().map(|by| cleaner.text(by)).collect(), day: day(date), pages };
    let json = serde_json::to_string(&set).map_err(|fault| Unset(fault.to_string()))?;
    made(&Handed::new(DRAWINGS, &json, svgs)?, set.day.is_some(), format!("drawings/{title}/{head}"))
}

#[derive(Serialize)]
struct Set {
    title: String,
    by: Vec<String>,
    day: Option<(i64, i64, i64)>,
    pages: Vec<Sheet>,
}

#[derive(Serialize)]
struct Sheet {
    file: String,
    title: String,
    alt: String,
    width_mm: f64,
    height_mm: f64,
}

#[derive(Serialize)]
struct Page {
    paper: &'static str,
    kind: String,
    title: String,
    number: String,
    short: String,
    issuer: String,
    fields: Vec<(String, String)>,
    date: String,
    day: Option<(i64, i64, i64)>,
    by: Vec<String>,
    dense: bool,
    parts: Vec<PartPage>,
    unprinted: Option<String>,
}

/// A part as the template takes it: its kind, and what that kind has.
#[derive(Default, Serialize)]
struct PartPage {
    kind: &'static str,
    text: String,
    texts: Vec<String>,
    lines: Vec<Row>,
    #[serde(flatten)]
    table: Table,
    file: String,
}

struct Setter {
    cleaner: Cleaner,
    drawings: Vec<String>,
}

impl Setter {
    fn page(&mut self, document: &Document, size: Size) -> Page {
        let number = self.text(&document.number);
        let kind = self.text(&document.kind);
        let title = self.text(&document.title);
        let mut page = Page {
            paper: size.word(),
            short: shortened(&format!("{kind} {number}, revision {}", document.revision), 70),
            kind,
            title,
            number,
            issuer: self.text(&document.issuer),
            fields: document.fields.iter().map(|(name, value)| (self.text(name), self.text(value))).collect(),
            date: self.text(&document.date),
            day: day(&document.date),
            by: self.cleaner.texts(&document.by),
            dense: document.dense,
            parts: document.parts.iter().map(|part| self.part(part)).collect(),
            unprinted: None,
        };
        page.unprinted = self.cleaner.note();
        page
    }

    fn text(&mut self, text: &str) -> String {
        self.cleaner.text(text)
    }

    fn part(&mut self, part: &Part) -> PartPage {
        let listed = |kind, texts| PartPage { kind, texts, ..PartPage::default() };
        match part {
            Part::Page => PartPage { kind: "page", ..PartPage::default() },
            Part::Begin { number, title, issuer, fields } => PartPage {
                kind: "begin",
                text: self.text(number),
                texts: vec![self.text(title), self.text(issuer)],
                table: Table {
                    rows: fields.iter().map(|(name, value)| vec![self.text(name), self.text(value)]).collect(),
                    ..Table::default()
                },
                ..PartPage::default()
            },
            Part::Heading(text) => PartPage { kind: "heading", text: self.text(text), ..PartPage::default() },
            Part::Answer(text) => PartPage { kind: "answer", text: self.text(text), ..PartPage::default() },
            Part::Cautions(texts) => listed("cautions", self.cleaner.texts(texts)),
            Part::Needs(texts) => listed("needs", self.cleaner.texts(texts)),
            Part::Words(texts) => listed("words", self.cleaner.texts(texts)),
            Part::Small(texts) => listed("small", self.cleaner.texts(texts)),
            Part::Sign(texts) => listed("sign", self.cleaner.texts(texts)),
            Part::Lines(lines) => PartPage {
                kind: "lines",
                lines: lines.iter().map(|line| Row::of(line, VALUE, &mut self.cleaner)).collect(),
                ..PartPage::default()
            },
            Part::Table(grid) => PartPage { kind: "table", table: Table::of(grid, &mut self.cleaner), ..PartPage::default() },
            Part::Code { holds, words } => self.code(holds, words),
        }
    }

    /// A head that is copied from the paper stays in one piece.
    fn code(&mut self, holds: &str, words: &[String]) -> PartPage {
        let texts = words.iter().map(|words| self.cleaner.whole(words).trim().to_owned()).collect();
        let file = draw::code(holds).map(|drawing| {
            self.drawings.push(drawing.svg);
            format!("{}.svg", self.drawings.len() - 1)
        });
        PartPage { kind: "code", text: self.cleaner.whole(holds), texts, file: file.unwrap_or_default(), ..PartPage::default() }
    }
}
