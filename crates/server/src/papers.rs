//! Documents of a job: its sheet as data and as PDF, the papers that go with the part, its drawings, and the certificate that a link shows.
//!
//! The setter of PDFs is handed in ([`Papers`]), so that this crate is built and tested without the typesetter.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use calc::crew::Crew;
use draw::drawing::{OfSeat, Paper, of_job};
use job::papers::document::Document;
use job::papers::folder::{self, Kind};
use job::papers::record::Record;
use job::papers::{certificate, results};
use job::sheet::JobSheet;
use ledger::Ledger;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::people::{Done, done};
use crate::refusal::{Refusal, SaidNo};
use crate::shop::{App, Signed};
use crate::{body, guard, jobs, links};

/// Size of the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Size {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 in.
    Letter,
}

/// Sets documents as PDF. Called where calculations are made, never on a thread that answers.
pub trait Papers: Send + Sync {
    /// The sheet as PDF, with the derivations where they are wanted and the sheet has them. What went wrong in words.
    fn sheet(&self, sheet: &JobSheet, size: Size, working: bool) -> Result<Vec<u8>, String>;

    /// A lathe sheet, certificate or quote as PDF.
    fn document(&self, document: &Document, size: Size) -> Result<Vec<u8>, String>;

    /// Shop drawings as PDF.
    fn drawings(&self, sheet: &JobSheet, record: &Record, drawn: Vec<OfSeat>, paper: Paper) -> Result<Vec<u8>, String>;
}

/// Paper of a drawing; other documents are set on what is nearest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Sheet {
    /// 297 by 210 mm.
    A4,
    /// 420 by 297 mm.
    A3,
    /// 11 by 8.5 in.
    Letter,
    /// 17 by 11 in.
    Tabloid,
}

impl Sheet {
    const fn of_document(self) -> Size {
        match self {
            Self::A4 | Self::A3 => Size::A4,
            Self::Letter | Self::Tabloid => Size::Letter,
        }
    }

    const fn of_drawing(self) -> Paper {
        match self {
            Self::A4 => Paper::A4,
            Self::A3 => Paper::A3,
            Self::Letter => Paper::Letter,
            Self::Tabloid => Paper::Tabloid,
        }
    }
}

/// How a paper is wanted.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct PaperWanted {
    /// Of this seat alone; of every seat when left out. Certificate and results are of the whole job.
    seat: Option<String>,
    /// What it is set on: `a4`, `a3`, `letter` or `tabloid`; that of the job's units when left out.
    #[param(inline)]
    paper: Option<Sheet>,
}

/// The papers that a job may have, by the name of their file.
const PAPERS: [&str; 6] = ["drawing.pdf", "lathe-sheet.pdf", "certificate.pdf", "quote.pdf", "results.json", "results.csv"];

/// A job as its papers are made from.
struct Ready<'r> {
    state: &'r job::state::State,
    sheet: &'r JobSheet,
    record: Record,
    papers: &'r dyn Papers,
    crew: &'r dyn Crew,
}

/// How a document is wanted.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Wanted {
    /// With the derivations.
    #[serde(default)]
    working: bool,
    /// The paper: `a4` or `letter`; that of the job's units when left out.
    #[param(inline)]
    paper: Option<Size>,
}

/// A drawing of a job.
#[derive(Serialize, ToSchema)]
pub(crate) struct Drawn {
    /// The seat.
    seat: String,
    /// The drawing's name.
    name: String,
    /// Where it is, as SVG.
    path: String,
}

/// A job's sheet: every seat with its stages, decisions, warnings and calculations.
#[utoipa::path(get, path = "/api/jobs/{number}/sheet", tag = "documents", params(("number" = String, Path, description = "the job's number"), crate::compute::Wanted),
    responses((status = 200, body = JobSheet), (status = 401, body = SaidNo), (status = 404, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn sheet(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Json<JobSheet>, Refusal> {
    let [number] = body::names(&mut request).await?;
    let crate::compute::Wanted { working } = jobs::query(&request)?;
    Ok(Json(worked_out(&app, &signed.ledger, &number, working, |sheet| sheet).await?))
}

/// A job's sheet as PDF.
#[utoipa::path(get, path = "/api/jobs/{number}/sheet.pdf", tag = "documents", params(("number" = String, Path, description = "the job's number"), Wanted),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 401, body = SaidNo), (status = 404, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn sheet_pdf(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Response, Refusal> {
    let [number] = body::names(&mut request).await?;
    let Wanted { working, paper } = jobs::query(&request)?;
    let papers = app.papers.clone();
    let set = move |sheet: JobSheet| papers.sheet(&sheet, paper.unwrap_or_else(|| own_paper(&sheet)), working);
    pdf(worked_out(&app, &signed.ledger, &number, working, set).await?)
}

/// A paper that goes with the part: `drawing.pdf`, `lathe-sheet.pdf`, `certificate.pdf`, `quote.pdf`, or the measured results as
/// `results.json` and `results.csv`.
#[utoipa::path(get, path = "/api/jobs/{number}/papers/{file}", tag = "documents",
    params(("number" = String, Path, description = "the job's number"), ("file" = String, Path, description = "which paper"), PaperWanted),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 401, body = SaidNo), (status = 404, body = SaidNo),
        (status = 409, body = SaidNo, description = "the job has nothing for it yet"), (status = 503, body = SaidNo)))]
pub(crate) async fn paper(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Response, Refusal> {
    let [number, file] = body::names(&mut request).await?;
    let wanted: PaperWanted = jobs::query(&request)?;
    jobs::there(&signed, &number).await?;
    if !PAPERS.contains(&file.as_str()) {
        let refused = calc::Refused::new("the paper", format!("{:?}", shortened(&file)), PAPERS.join(", "), "ask for one of them");
        return Err(Refusal::parts(StatusCode::NOT_FOUND, refused));
    }
    let papers = app.papers.clone();
    let made = move |state: &job::state::State, sheet: JobSheet, crew: &dyn Crew| {
        let ready = Ready { state, sheet: &sheet, record: Record::of(state), papers: &*papers, crew };
        made(&ready, &file, &wanted)
    };
    worked_out_with(&app, &signed.ledger, &number, false, made).await?
}

fn shortened(name: &str) -> String {
    name.chars().take(60).collect()
}

fn made(ready: &Ready, file: &str, wanted: &PaperWanted) -> Result<Response, Refusal> {
    let Ready { state, sheet, record, papers, crew } = ready;
    if let Some(name) = &wanted.seat
        && !state.seats.iter().any(|seat| seat.name == *name)
    {
        return Err(Refusal::no_such("seat", name));
    }
    let nothing_yet = |refused| Refusal::parts(StatusCode::CONFLICT, refused);
    let size = wanted.paper.map_or_else(|| own_paper(sheet), Sheet::of_document);
    let document = |kind: Kind| {
        let document = folder::document(kind, state, sheet, wanted.seat.as_deref(), record, *crew).map_err(nothing_yet)?;
        pdf(papers.document(&document, size))
    };
    match file {
        "drawing.pdf" => {
            let paper = wanted.paper.map_or_else(|| Paper::of(state.units), Sheet::of_drawing);
            let drawn = of_job(state, sheet, wanted.seat.as_deref(), record, paper);
            if drawn.is_empty() { Err(nothing_yet(folder::nothing_to_draw())) } else { pdf(papers.drawings(sheet, record, drawn, paper)) }
        }
        "lathe-sheet.pdf" => document(Kind::LatheSheet),
        "certificate.pdf" => document(Kind::Certificate),
        "quote.pdf" => document(Kind::Quote),
        "results.json" => {
            let text = results::as_json(state, sheet, record).map_err(|fault| Refusal::fault(&fault.to_string()))?;
            Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
        }
        _ => Ok(([(header::CONTENT_TYPE, "text/csv; charset=utf-8")], results::as_csv(state, sheet)).into_response()),
    }
}

/// The drawings that a job has.
#[utoipa::path(get, path = "/api/jobs/{number}/drawings", tag = "documents", params(("number" = String, Path, description = "the job's number")),
    responses((status = 200, body = [Drawn]), (status = 401, body = SaidNo), (status = 404, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn drawings(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Json<Vec<Drawn>>, Refusal> {
    let [number] = body::names(&mut request).await?;
    let of = number.clone();
    let listed = worked_out(&app, &signed.ledger, &number, false, move |sheet| {
        let of_seat = |seat: &job::sheet::SeatSheet| {
            let named = draw::drawings(seat, &sheet).into_iter().map(|(name, _)| name);
            named
                .map(|name| Drawn {
                    path: format!("/api/jobs/{}/drawings/{}/{name}", coded(&of), coded(&seat.name)),
                    seat: seat.name.clone(),
                    name,
                })
                .collect::<Vec<_>>()
        };
        sheet.seats.iter().flat_map(of_seat).collect()
    });
    Ok(Json(listed.await?))
}

/// A drawing as SVG.
#[utoipa::path(get, path = "/api/jobs/{number}/drawings/{seat}/{name}", tag = "documents",
    params(("number" = String, Path, description = "the job's number"), ("seat" = String, Path, description = "the seat"), ("name" = String, Path, description = "the drawing")),
    responses((status = 200, content_type = "image/svg+xml", body = String), (status = 401, body = SaidNo), (status = 404, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn drawing(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Response, Refusal> {
    let [number, seat, name] = body::names(&mut request).await?;
    let wanted = name.clone();
    let found = worked_out(&app, &signed.ledger, &number, false, move |sheet| {
        let of_seat = sheet.seats.iter().find(|of| of.name == seat || of.also.contains(&seat))?;
        draw::drawings(of_seat, &sheet).into_iter().find(|(name, _)| *name == wanted).map(|(_, svg)| svg)
    });
    let svg = found.await?.ok_or_else(|| Refusal::no_such("drawing", &name))?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}

/// The links to a job's certificate that were given out and still hold.
#[utoipa::path(get, path = "/api/jobs/{number}/links", tag = "links", params(("number" = String, Path, description = "the job's number")),
    responses((status = 200, body = [links::Given]), (status = 401, body = SaidNo), (status = 403, body = SaidNo), (status = 404, body = SaidNo)))]
pub(crate) async fn links(Extension(signed): Extension<Signed>, mut request: Request) -> Result<Json<Vec<links::Given>>, Refusal> {
    let [number] = body::names(&mut request).await?;
    jobs::there(&signed, &number).await?;
    Ok(Json(links::of_job(&signed.ledger, &number).await?))
}

/// Makes a link that shows this job's certificate to who holds it, and nothing else. It is shown this once.
#[utoipa::path(post, path = "/api/jobs/{number}/links", tag = "links", request_body = links::Wanted, params(("number" = String, Path, description = "the job's number")),
    responses((status = 200, body = links::Made), (status = 401, body = SaidNo), (status = 403, body = SaidNo), (status = 404, body = SaidNo)))]
pub(crate) async fn make_link(Extension(signed): Extension<Signed>, mut request: Request) -> Result<Json<links::Made>, Refusal> {
    let [number] = body::names(&mut request).await?;
    jobs::there(&signed, &number).await?;
    let wanted = body::small(request).await?;
    Ok(Json(links::make(&signed.ledger, &number, &signed.who, wanted).await?))
}

/// Takes a link back: from then on it shows nothing.
#[utoipa::path(delete, path = "/api/links/{name}", tag = "links", params(("name" = String, Path, description = "the link's name in the list")),
    responses((status = 200, body = Done), (status = 401, body = SaidNo), (status = 403, body = SaidNo), (status = 404, body = SaidNo)))]
pub(crate) async fn take_link_back(Extension(signed): Extension<Signed>, mut request: Request) -> Result<Json<Done>, Refusal> {
    let [name] = body::names(&mut request).await?;
    if links::take_back(&signed.ledger, &name).await? {
        Ok(done("the link shows nothing any more"))
    } else {
        Err(Refusal::no_such("link", &name))
    }
}

/// The certificate that a link shows, as PDF.
#[utoipa::path(get, path = "/certificate/{token}", tag = "links", params(("token" = String, Path, description = "the link's own part")),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 404, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn certificate(State(app): State<Arc<App>>, mut request: Request) -> Result<Response, Refusal> {
    let [value] = body::names(&mut request).await.map_err(|_| no_link())?;
    let (ledger, token) = guard::in_shop(&app, &value).ok_or_else(no_link)?;
    let job = links::job_of(ledger, token).await?.ok_or_else(no_link)?;
    let papers = app.papers.clone();
    let set = move |state: &job::state::State, sheet: JobSheet, _: &dyn Crew| {
        papers.document(&certificate::certificate(state, &sheet, &Record::of(state)), own_paper(&sheet))
    };
    pdf(worked_out_with(&app, ledger, &job, false, set).await?)
}

/// The same words for a link that never was, is past its day or was taken back.
fn no_link() -> Refusal {
    let sentence = "this link shows nothing, or not any more; allowed: a link as it was given; ask the shop that gave it for a new one";
    Refusal::new(StatusCode::NOT_FOUND, sentence)
}

fn own_paper(sheet: &JobSheet) -> Size {
    if sheet.units == "inch" { Size::Letter } else { Size::A4 }
}

/// Folds a job, lends it the registers and what was turned on its lathe, works it through and does `then` with its sheet, all at the desk.
async fn worked_out<T: Send + 'static>(
    app: &App,
    ledger: &Ledger,
    number: &str,
    with_working: bool,
    then: impl FnOnce(JobSheet) -> T + Send + 'static,
) -> Result<T, Refusal> {
    worked_out_with(app, ledger, number, with_working, |_, sheet, _| then(sheet)).await
}

/// The same, with what the sheet was made from and the hands that made it.
async fn worked_out_with<T: Send + 'static>(
    app: &App,
    ledger: &Ledger,
    number: &str,
    with_working: bool,
    then: impl FnOnce(&job::state::State, JobSheet, &dyn Crew) -> T + Send + 'static,
) -> Result<T, Refusal> {
    let checked = ledger.job(number).await?.ok_or_else(|| Refusal::no_such("job", number))?;
    let people = app.people(ledger).await?;
    let folded = app.desk.at(move |_| {
        let mut state = job::fold(&checked.into_entries());
        people.registers.lend(&mut state);
        state
    });
    let mut state = folded.await?;
    app.turned.lend(ledger, &mut state).await?;
    let at = app.desk.at(move |crew| {
        let sheet = job::stages::sheet(&state, job::stages::Wanted { with_working }, crew);
        then(&state, sheet, crew)
    });
    at.await
}

fn pdf(set: Result<Vec<u8>, String>) -> Result<Response, Refusal> {
    let bytes = set.map_err(|fault| Refusal::fault(&fault))?;
    let mut response = bytes.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
    Ok(response)
}

/// A name as a part of a path.
fn coded(name: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    name.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_in_a_path_is_coded() {
        assert_eq!(coded("in board/ü"), "in%20board%2F%C3%BC");
    }
}
