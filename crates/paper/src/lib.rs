//! Documents of a job as PDF: the job sheet, shop drawings, and the papers that go with the part (lathe sheet, certificate, quote).
//!
//! A document is made for the folder and for the customer: PDF/A-2a (kept for decades) and PDF/UA-1 (read aloud), black on white, with
//! the job's number on every page. The same sheet gives the same bytes: date and identity come from the sheet, never from a clock.
//!
//! **Never here:** drawings of its own; it takes them from `draw`. What a person wrote reaches the page as data, never as markup.

mod letters;
mod page;
mod papers;
mod rows;
mod world;

use std::fmt;

use job::sheet::JobSheet;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, pdf};

pub use papers::{document, sheets, shop_drawings};

use letters::Letters;
use page::Page;
use world::Handed;

/// Size of the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Size {
    /// 210 by 297 mm. Source: ISO 216.
    #[default]
    A4,
    /// 8.5 by 11 in. Source: ANSI/ASME Y14.1, size A.
    Letter,
}

impl Size {
    /// Width between the margins of 22 mm (left, for the folder's holes) and 16 mm.
    pub(crate) const fn text_width_mm(self) -> f64 {
        match self {
            Self::A4 => 210.0 - 38.0,
            Self::Letter => 215.9 - 38.0,
        }
    }

    /// Height that a drawing may take with its heading.
    pub(crate) const fn drawing_height_mm(self) -> f64 {
        match self {
            Self::A4 => 222.0,
            Self::Letter => 205.0,
        }
    }

    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

const JOB_SHEET: &str = include_str!("job_sheet.typ");

/// How a document is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Size of the paper.
    pub size: Size,
    /// Whether the derivations of the answers are printed, where the sheet has them.
    pub working: bool,
}

/// A document that could not be set: what the setter said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unset(pub String);

impl fmt::Display for Unset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the document could not be set: {}", self.0)
    }
}

impl std::error::Error for Unset {}

/// The job sheet as PDF: the job with its decisions and stages on the first page, then each seat stage by stage, the sources of its
/// values, room for signatures, and the head of the record that they stand for.
///
/// Letters that no font here has are shown as □ and named at the end. Should a text still not be printable as the standards demand
/// (rare combinations of marks and letters), it is set again with plain letters only.
pub fn job_sheet(sheet: &JobSheet, options: &Options) -> Result<Vec<u8>, Unset> {
    set(sheet, options, Letters::Known).or_else(|_| set(sheet, options, Letters::Plain))
}

fn set(sheet: &JobSheet, options: &Options, letters: Letters) -> Result<Vec<u8>, Unset> {
    let page = Page::of(sheet, options, letters);
    let dated = page.is_dated();
    let ident = format!("{}/{}/{}", sheet.number, sheet.head, options.size.word());
    let world = Handed::new(JOB_SHEET, &page.json()?, page.drawings())?;
    made(&world, dated, ident)
}

/// What the setter made of it, as PDF.
pub(crate) fn made(world: &Handed, dated: bool, ident: String) -> Result<Vec<u8>, Unset> {
    let document: PagedDocument = typst::compile(world).output.map_err(|faults| unset(&faults))?;
    let standards = PdfStandards::new(page_standards(dated)).map_err(|fault| Unset(fault.message().to_string()))?;
    let options =
        PdfOptions { ident: Smart::Custom(ident), creator: Smart::Custom(Some("Bushwright".into())), standards, ..PdfOptions::default() };
    pdf(&document, &options).map_err(|faults| unset(&faults))
}

/// An archive document must carry its day; a job without one gets a document that is only readable aloud, not a made-up day.
const fn page_standards(dated: bool) -> &'static [PdfStandard] {
    if dated { &[PdfStandard::A_2a, PdfStandard::Ua_1] } else { &[PdfStandard::Ua_1] }
}

fn unset(faults: &[SourceDiagnostic]) -> Unset {
    let words: Vec<String> = faults
        .iter()
        .map(|fault| {
            let hints: String = fault.hints.iter().map(|hint| format!(" ({})", hint.v)).collect();
            format!("{}{hints}", fault.message)
        })
        .collect();
    Unset(words.join("; "))
}
