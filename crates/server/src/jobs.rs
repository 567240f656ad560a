//! Jobs and registers as they stand, what is added to them, and the exchange with devices.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use job::entry::EntryId;
use job::kept::Kept;
use job::registers::{Card, Registers};
use job::sync::{Answer, Ask};
use ledger::{Checked, REGISTERS};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::refusal::{Refusal, SaidNo};
use crate::shop::{App, Signed};
use crate::writing::{self, Became, Draft};
use crate::{body, secrets};

/// Most jobs of a page.
const MOST_JOBS: usize = 1000;

/// Which jobs.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Page {
    /// Numbers from this one on, in the order of their bytes.
    #[serde(default)]
    from: String,
    /// How many (100; 1000 at most).
    most: Option<usize>,
}

/// A job in a list.
#[derive(Serialize, ToSchema)]
pub(crate) struct Listed {
    /// Its number.
    job: String,
    /// Its entries.
    entries: u64,
    /// Hash of the last.
    head: String,
    /// When that arrived.
    arrived: String,
}

/// A page of the list.
#[derive(Serialize, ToSchema)]
pub(crate) struct Jobs {
    /// In the order of their numbers.
    jobs: Vec<Listed>,
    /// There are more: ask again with `from` set to this.
    on: Option<String>,
}

/// A job with its whole record, its chain checked.
#[derive(Serialize, ToSchema)]
pub(crate) struct Record {
    /// Its number.
    job: String,
    /// Hash of the last entry.
    head: String,
    /// The entries in the order in which they arrived.
    entries: Vec<Kept>,
}

/// Entries for a job.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Drafts {
    /// 1000 at most.
    entries: Vec<Draft>,
}

/// Cards for the registers.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Cards {
    /// 1000 at most.
    cards: Vec<Card>,
    /// The last entry of the registers that their writer had seen; the last that there is when left out.
    follows: Option<EntryId>,
}

/// What became of a job file.
#[derive(Serialize, ToSchema)]
pub(crate) struct Imported {
    /// The job's number.
    job: String,
    /// Entries that were new.
    new: usize,
    /// What became of each entry.
    #[serde(flatten)]
    became: Became,
    /// What is to be said about the file.
    notes: Vec<String>,
}

/// The query of a request, or a refusal in a sentence.
pub(crate) fn query<T: serde::de::DeserializeOwned>(request: &Request) -> Result<T, Refusal> {
    Query::try_from_uri(request.uri()).map(|Query(query)| query).map_err(|fault| {
        let given = format!("not what is taken here ({})", fault.body_text());
        calc::Refused::new("the query", given, "what /api shows for this route", "mend it and ask again").into()
    })
}

/// Exchanges entries with a device: it says what it has and gives what was written on it, and is brought what it lacks.
#[utoipa::path(post, path = "/api/sync", tag = "record", request_body = Ask,
    responses((status = 200, body = Answer), (status = 400, body = SaidNo), (status = 401, body = SaidNo), (status = 403, body = SaidNo),
        (status = 426, body = SaidNo, description = "another version of the protocol"), (status = 507, body = SaidNo)))]
pub(crate) async fn sync(State(app): State<Arc<App>>, Extension(signed): Extension<Signed>, request: Request) -> Result<Response, Refusal> {
    let bytes = body::bytes(request, "application/json", body::BATCH).await?;
    let mut ask = Ask::read(&bytes).map_err(|refused| {
        let old = refused.key == "protocol";
        Refusal::parts(if old { StatusCode::UPGRADE_REQUIRED } else { StatusCode::BAD_REQUEST }, refused)
    })?;
    drop(bytes);
    for name in ask.only.iter().flatten().chain(&ask.from).filter(|name| !name.is_empty()) {
        body::named("only", name)?;
    }
    let (fit, not) = writing::sifted(&app, &signed, std::mem::take(&mut ask.offers)).await?;
    ask.offers = fit;
    let mut answer = signed.ledger.sync(&writing::author(&signed), ask).await?;
    answer.refused.extend(not);
    writing::counted(&answer.taken);
    Ok(Json(answer).into_response())
}

/// The registers: people, gauges, lathes, presses, metals, customers, as their cards leave them.
#[utoipa::path(get, path = "/api/registers", tag = "record", responses((status = 200, body = Registers), (status = 401, body = SaidNo)))]
pub(crate) async fn registers(State(app): State<Arc<App>>, Extension(signed): Extension<Signed>) -> Result<Response, Refusal> {
    Ok(Json(&app.people(&signed.ledger).await?.registers).into_response())
}

/// Adds cards to the registers, under the name of who is signed in.
#[utoipa::path(post, path = "/api/registers", tag = "record", request_body = Cards,
    responses((status = 200, body = Became), (status = 400, body = Became, description = "nothing was taken"), (status = 401, body = SaidNo), (status = 403, body = SaidNo), (status = 507, body = SaidNo)))]
pub(crate) async fn add_cards(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    request: Request,
) -> Result<Response, Refusal> {
    let Cards { cards, follows } = body::small(request).await?;
    few(cards.len())?;
    let people = app.people(&signed.ledger).await?;
    let mut last = follows.or_else(|| people.entries.last().map(|entry| entry.id));
    let mut entries = Vec::with_capacity(cards.len());
    for card in cards {
        let mut entry = writing::card(&signed.ledger, &people, &signed.who, card)?;
        entry.follows = last;
        last = Some(entry.id);
        entries.push(entry);
    }
    let became = writing::offer(&app, &signed, entries).await?;
    Ok((became.status(), Json(became)).into_response())
}

fn few(count: usize) -> Result<(), Refusal> {
    if (1..=job::sync::MOST).contains(&count) {
        return Ok(());
    }
    let allowed = format!("1 to {} at once", job::sync::MOST);
    Err(calc::Refused::new("entries", format!("{count} of them"), allowed, "send the others in the next request").into())
}

/// The jobs of the shop.
#[utoipa::path(get, path = "/api/jobs", tag = "record", params(Page), responses((status = 200, body = Jobs), (status = 401, body = SaidNo)))]
pub(crate) async fn jobs(Extension(signed): Extension<Signed>, request: Request) -> Result<Json<Jobs>, Refusal> {
    let Page { from, most } = query(&request)?;
    if !from.is_empty() {
        body::named("from", &from)?;
    }
    let most = most.unwrap_or(100).clamp(1, MOST_JOBS);
    // The registers stand first, as the job without a number; one more than asked for tells whether there are more.
    let mut heads = signed.ledger.heads(&from, most + 2).await?;
    heads.retain(|head| head.job != REGISTERS);
    let on = heads.get(most).map(|head| head.job.clone());
    heads.truncate(most);
    let listed = |head: ledger::Head| Listed { job: head.job, entries: head.number, head: secrets::hex(&head.hash), arrived: head.arrived };
    Ok(Json(Jobs { jobs: heads.into_iter().map(listed).collect(), on }))
}

/// Takes in a job file (TOML, as `bushwright job` reads it): what is new or changed in it is added to the job that it names. Sending it
/// twice is the same as sending it once.
#[utoipa::path(post, path = "/api/jobs", tag = "record", request_body(content = String, content_type = "application/toml"),
    responses((status = 200, body = Imported), (status = 400, body = SaidNo), (status = 401, body = SaidNo), (status = 403, body = SaidNo), (status = 507, body = SaidNo)))]
pub(crate) async fn import(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    request: Request,
) -> Result<Response, Refusal> {
    let bytes = body::bytes(request, "application/toml", job::file::MOST_BYTES).await?;
    let read = app.desk.at(move |_| job::open("the job file", &bytes)).await?;
    let (entries, state) = read.map_err(|bad| {
        let place = format!("{}:{}", bad.line, bad.column);
        calc::Refused { key: format!("{} (line:column {place})", bad.refused.key), ..bad.refused }
    })?;
    if state.number.is_empty() {
        let refused = calc::Refused::new("job.number", "missing", "number = \"..\" under [job]", "give the job its number");
        return Err(refused.into());
    }
    let record = signed.ledger.job(&state.number).await?.map(Checked::into_entries).unwrap_or_default();
    let added = job::file::added(&record, &entries);
    let became = writing::offer(&app, &signed, added.entries).await?;
    let new = became.taken.iter().filter(|taken| taken.new).count();
    let notes = state.notes.into_iter().chain(added.notes).collect();
    Ok((became.status(), Json(Imported { job: state.number, new, became, notes })).into_response())
}

/// A job with its whole record.
#[utoipa::path(get, path = "/api/jobs/{number}", tag = "record", params(("number" = String, Path, description = "the job's number")),
    responses((status = 200, body = Record), (status = 401, body = SaidNo), (status = 404, body = SaidNo)))]
pub(crate) async fn job(Extension(signed): Extension<Signed>, mut request: Request) -> Result<Json<Record>, Refusal> {
    let [number] = body::names(&mut request).await?;
    let Checked { kept, head } = there(&signed, &number).await?;
    Ok(Json(Record { job: number, head: secrets::hex(&head.hash), entries: kept }))
}

/// Adds entries to a job, under the name of who is signed in.
#[utoipa::path(post, path = "/api/jobs/{number}/entries", tag = "record", request_body = Drafts, params(("number" = String, Path, description = "the job's number")),
    responses((status = 200, body = Became), (status = 400, body = Became, description = "nothing was taken"), (status = 401, body = SaidNo),
        (status = 403, body = SaidNo), (status = 404, body = SaidNo), (status = 507, body = SaidNo)))]
pub(crate) async fn add_entries(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Response, Refusal> {
    let [number] = body::names(&mut request).await?;
    let Drafts { entries: drafts } = body::small(request).await?;
    few(drafts.len())?;
    let kept = there(&signed, &number).await?.kept;
    let mut last = kept.last().map(|kept| kept.entry.id);
    let mut entries = Vec::with_capacity(drafts.len());
    for draft in drafts {
        let before = kept.iter().map(|kept| &kept.entry).find(|entry| Some(entry.id) == draft.id);
        let entry = draft.entry(&signed, &number, last, before);
        last = Some(entry.id);
        entries.push(entry);
    }
    let became = writing::offer(&app, &signed, entries).await?;
    Ok((became.status(), Json(became)).into_response())
}

/// A job of this shop. That there is one of that number in another shop does not show.
pub(crate) async fn there(signed: &Signed, number: &str) -> Result<Checked, Refusal> {
    signed.ledger.job(number).await?.ok_or_else(|| Refusal::no_such("job", number))
}
