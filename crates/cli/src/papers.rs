//! The papers of a job that are asked for beside its sheet: shop drawings, lathe sheets, certificate, quotes, results as data.

use std::path::Path;

use draw::drawing::{Imprint, Paper as Across, shop_drawings};
use job::papers::document::{Document, Part};
use job::papers::record::Record;
use job::papers::{certificate, lathe_sheet, quote, results};
use job::sheet::{JobSheet, SeatSheet};
use job::state::{State, Units};

use crate::crew::Hands;
use crate::job::{Arguments, Paper, written};
use crate::stop::Stop;

/// What is asked for.
pub struct Wanted<'a> {
    seat: Option<&'a str>,
    paper: Option<Paper>,
    drawing: Option<&'a Path>,
    lathe_sheet: Option<&'a Path>,
    certificate: Option<&'a Path>,
    quote: Option<&'a Path>,
    results: Option<&'a Path>,
}

impl<'a> Wanted<'a> {
    /// As it was typed.
    pub fn of(arguments: &'a Arguments) -> Self {
        Self {
            seat: arguments.seat.as_deref(),
            paper: arguments.paper,
            drawing: arguments.drawing.as_deref(),
            lathe_sheet: arguments.lathe_sheet.as_deref(),
            certificate: arguments.certificate.as_deref(),
            quote: arguments.quote.as_deref(),
            results: arguments.results.as_deref(),
        }
    }
}

/// Paper of a document: those of a drawing that are larger stand for their halves.
pub const fn size(paper: Option<Paper>, units: Units) -> paper::Size {
    match (paper, units) {
        (Some(Paper::Letter | Paper::Tabloid), _) | (None, Units::Inch) => paper::Size::Letter,
        _ => paper::Size::A4,
    }
}

const fn across(paper: Option<Paper>, units: Units) -> Across {
    match (paper, units) {
        (Some(Paper::A3), _) => Across::A3,
        (Some(Paper::Tabloid), _) => Across::Tabloid,
        (Some(Paper::Letter), _) | (None, Units::Inch) => Across::Letter,
        _ => Across::A4,
    }
}

/// A name as a file may have it.
pub fn safe(name: &str) -> String {
    name.chars().map(|letter| if letter.is_alphanumeric() { letter } else { '_' }).collect()
}

/// Writes each paper that is asked for, whole.
pub fn write(wanted: &Wanted, state: &State, sheet: &JobSheet, hands: &Hands) -> Result<(), Stop> {
    let record = Record::of_file(state);
    let seats: Vec<&SeatSheet> = sheet.seats.iter().filter(|seat| is_wanted(seat, wanted.seat)).collect();
    let size = size(wanted.paper, state.units);
    if let Some(place) = wanted.drawing {
        drawings(place, &seats, state, sheet, &record, across(wanted.paper, state.units))?;
    }
    if let Some(place) = wanted.lathe_sheet {
        let pages = seats.iter().filter_map(|seat| lathe_sheet::lathe_sheet(sheet, seat, &record)).collect();
        one_after_another(place, pages, size, "a seat with its band: bushwright job check names what is missing")?;
    }
    if let Some(place) = wanted.certificate {
        set(place, &certificate::certificate(state, sheet, &record), size)?;
    }
    if let Some(place) = wanted.quote {
        let mut pages: Vec<Document> = Vec::new();
        for quote in seats.iter().filter_map(|seat| quote::quote(state, sheet, seat, &record, hands)) {
            // Seats of one brief are one batch.
            if !pages.iter().any(|known| known.number == quote.number) {
                pages.push(quote);
            }
        }
        one_after_another(place, pages, size, "a band, a blank that fits and shop.rate: bushwright job check names what is missing")?;
    }
    if let Some(place) = wanted.results {
        data(place, state, sheet, &record)?;
    }
    Ok(())
}

fn is_wanted(seat: &SeatSheet, name: Option<&str>) -> bool {
    name.is_none_or(|name| seat.name == name || seat.also.iter().any(|also| also == name))
}

fn is_pdf(place: &Path) -> bool {
    place.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("pdf"))
}

fn set(place: &Path, document: &Document, size: paper::Size) -> Result<(), Stop> {
    if !is_pdf(place) {
        return Err(Stop::Refused(format!("{} is no name of a PDF; allowed: a name that ends in .pdf", place.display())));
    }
    let bytes = paper::document(document, size).map_err(|fault| Stop::Failed(fault.to_string()))?;
    written(place, &bytes)
}

/// Documents of one kind in one file, each on a page of its own.
fn one_after_another(place: &Path, documents: Vec<Document>, size: paper::Size, needed: &str) -> Result<(), Stop> {
    let mut documents = documents.into_iter();
    let Some(mut first) = documents.next() else {
        return Err(Stop::Refused(format!("{}: there is nothing to write; allowed: {needed}", place.display())));
    };
    for next in documents {
        first.parts.push(Part::Page);
        first.parts.push(Part::Begin { number: next.number, title: next.title, issuer: next.issuer, fields: next.fields });
        first.parts.extend(next.parts);
    }
    set(place, &first, size)
}

fn drawings(place: &Path, seats: &[&SeatSheet], state: &State, sheet: &JobSheet, record: &Record, paper: Across) -> Result<(), Stop> {
    let mut drawn = Vec::new();
    for seat in seats {
        let Some(part) = &seat.drawing else { continue };
        let imprint = Imprint {
            issuer: part.shop.clone(),
            number: format!("{} / {}", sheet.number, seat.name),
            title: if part.machine.is_empty() { sheet.title.clone() } else { part.machine.clone() },
            revision: record.revision.clone(),
            by: sheet.by.join(", "),
            signed: signed(state, seat),
            date: sheet.date.clone(),
            head: record.head.clone(),
        };
        let sheets = shop_drawings(part, &imprint, paper, draw::system(sheet));
        drawn.extend(sheets.into_iter().map(|(name, drawing)| (format!("{}_{name}", safe(&seat.name)), drawing)));
    }
    if drawn.is_empty() {
        let allowed = "a seat with its band: bushwright job check names what is missing";
        return Err(Stop::Refused(format!("{}: there is nothing to draw; allowed: {allowed}", place.display())));
    }
    if is_pdf(place) {
        let pages: Vec<_> = drawn.into_iter().map(|(_, drawing)| (drawing, paper.mm())).collect();
        let title = format!("Shop drawings {}: {}", sheet.number, sheet.title);
        let bytes = paper::sheets(&title, &sheet.by, &sheet.date, &record.head, &pages).map_err(|fault| Stop::Failed(fault.to_string()))?;
        return written(place, &bytes);
    }
    std::fs::create_dir_all(place)
        .map_err(|fault| Stop::Failed(format!("{} could not be made: {fault}; name a folder that can be written", place.display())))?;
    drawn.iter().try_for_each(|(name, drawing)| written(&place.join(format!("{name}_drawing.svg")), drawing.svg.as_bytes()))
}

/// Who signed for the seat or the job last, as what and when.
fn signed(state: &State, seat: &SeatSheet) -> String {
    let of_seat = state.signatures.iter().rev().find(|signed| signed.seat.as_ref().is_none_or(|name| *name == seat.name));
    of_seat.map(|signed| format!("{}, {}, {}", signed.who, signed.role, signed.day)).unwrap_or_default()
}

fn data(place: &Path, state: &State, sheet: &JobSheet, record: &Record) -> Result<(), Stop> {
    let extension = place.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    let text = match extension.as_deref() {
        Some("json") => results::as_json(state, sheet, record).map_err(|fault| Stop::Failed(fault.to_string()))?,
        Some("csv") => results::as_csv(state, sheet),
        _ => return Err(Stop::Refused(format!("{}: results are written as .json or .csv; name the file so", place.display()))),
    };
    written(place, text.as_bytes())
}
