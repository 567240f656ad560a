//! The papers of a job that are asked for beside its sheet: shop drawings, lathe sheets, certificate, quotes, results as data.

use std::path::Path;

use draw::drawing::{OfSeat, Paper as Across, of_job};
use job::papers::document::Document;
use job::papers::folder::{self, Kind};
use job::papers::record::Record;
use job::papers::results;
use job::sheet::JobSheet;
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
        (Some(Paper::Letter), _) => Across::Letter,
        (Some(Paper::A4), _) => Across::A4,
        (None, units) => Across::of(units),
    }
}

/// A name as a file may have it.
pub fn safe(name: &str) -> String {
    name.chars().map(|letter| if letter.is_alphanumeric() { letter } else { '_' }).collect()
}

/// Writes each paper that is asked for, whole.
pub fn write(wanted: &Wanted, state: &State, sheet: &JobSheet, hands: &Hands) -> Result<(), Stop> {
    let record = Record::of(state);
    if let Some(place) = wanted.drawing {
        drawings(place, wanted.seat, state, sheet, &record, across(wanted.paper, state.units))?;
    }
    let documents = [(wanted.lathe_sheet, Kind::LatheSheet), (wanted.certificate, Kind::Certificate), (wanted.quote, Kind::Quote)];
    for (place, kind) in documents {
        let Some(place) = place else { continue };
        let document = folder::document(kind, state, sheet, wanted.seat, &record, hands).map_err(refused(place))?;
        set(place, &document, size(wanted.paper, state.units))?;
    }
    if let Some(place) = wanted.results {
        data(place, state, sheet, &record)?;
    }
    Ok(())
}

fn refused(place: &Path) -> impl Fn(calc::Refused) -> Stop {
    move |why| Stop::Refused(format!("{}: {why}", place.display()))
}

fn is_pdf(place: &Path) -> bool {
    place.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("pdf"))
}

fn set(place: &Path, document: &Document, size: paper::Size) -> Result<(), Stop> {
    if !is_pdf(place) {
        return Err(Stop::Refused(format!("{} is no name of a PDF; allowed: a name that ends in .pdf; write one", place.display())));
    }
    let bytes = paper::document(document, size).map_err(|fault| Stop::Failed(fault.to_string()))?;
    written(place, &bytes)
}

fn drawings(place: &Path, seat: Option<&str>, state: &State, sheet: &JobSheet, record: &Record, paper: Across) -> Result<(), Stop> {
    let drawn = of_job(state, sheet, seat, record, paper);
    if drawn.is_empty() {
        return Err(refused(place)(folder::nothing_to_draw()));
    }
    if is_pdf(place) {
        let bytes = paper::shop_drawings(sheet, record, drawn, paper).map_err(|fault| Stop::Failed(fault.to_string()))?;
        return written(place, &bytes);
    }
    std::fs::create_dir_all(place)
        .map_err(|fault| Stop::Failed(format!("{} could not be made: {fault}; name a folder that can be written", place.display())))?;
    let file = |of: &OfSeat| place.join(format!("{}_{}_drawing.svg", safe(&of.seat), of.name));
    drawn.iter().try_for_each(|of| written(&file(of), of.drawing.svg.as_bytes()))
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
