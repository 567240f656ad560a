//! HTTP over the ledger of a shop: accounts, the exchange with devices, jobs, registers, calculations and documents.
//!
//! [`app`] makes the whole of it, and needs no socket: tests ask it directly. [`serve()`] puts it on the network, under TLS, and stops it
//! in good order. Every request passes one door (`guard`) that goes by one table ([`rights::ROUTES`]).
//!
//! **Never here:** arithmetic, rules of the trade, and state of its own: what it must remember is in the store, so that several servers
//! can stand over one database. It sets no documents itself: a setter is handed in ([`papers::Papers`]).

mod accounts;
mod answering;
mod body;
mod compute;
mod desk;
mod guard;
mod health;
mod jobs;
mod links;
mod page;
pub mod papers;
mod people;
mod refusal;
pub mod rights;
mod secrets;
pub mod serve;
mod shop;
mod site;
pub mod tls;
mod tries;
mod trust;
mod writing;

use std::any::Any;
use std::sync::Arc;

use axum::Router;
use axum::http::{HeaderMap, Method, Uri};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub use papers::{Papers, Size};
pub use refusal::Refusal;
pub use serve::{Log, Serving, serve};
pub use shop::{Authority, Parts, Standing};

use shop::App;

/// The app over its parts, ready to be served or to be asked by a test.
pub fn app(parts: Parts) -> Router {
    over(Arc::new(App::new(parts)))
}

/// The description of the API as JSON (OpenAPI 3.1).
pub fn description() -> &'static serde_json::Value {
    page::described()
}

/// Drops sessions, tries, codes and links that are past their time.
pub async fn sweep(ledger: &ledger::Ledger) -> Result<(), ledger::Fault> {
    accounts::sweep(ledger).await
}

/// A code that makes an owner of whoever gives it within a day, in place of any before it.
pub async fn owner_code(ledger: &ledger::Ledger) -> Result<String, Refusal> {
    accounts::new_code(ledger).await
}

/// Whether somebody is owner of the shop and can sign in.
pub async fn has_owner(ledger: &ledger::Ledger) -> Result<bool, ledger::Fault> {
    let entries = ledger.job(ledger::REGISTERS).await?.map(ledger::Checked::into_entries).unwrap_or_default();
    let people = shop::People { registers: job::fold::registers(&entries), entries };
    Ok(!accounts::owners(ledger, &people).await?.is_empty())
}

fn over(app: Arc<App>) -> Router {
    health::count();
    let (router, _) = routes().split_for_parts();
    router
        .fallback(nowhere)
        .layer(from_fn_with_state(app.clone(), guard::guard))
        .layer(CatchPanicLayer::custom(stopped))
        .layer(from_fn_with_state(app.clone(), answering::answering))
        .layer(CompressionLayer::new())
        .with_state(app)
}

/// Every route with its description.
fn routes() -> OpenApiRouter<Arc<App>> {
    OpenApiRouter::new()
        .routes(routes!(health::front))
        .routes(routes!(health::health))
        .routes(routes!(health::metrics))
        .routes(routes!(page::page))
        .routes(routes!(page::json))
        .routes(routes!(trust::trust))
        .routes(routes!(trust::certificate))
        .routes(routes!(people::first_owner))
        .routes(routes!(people::sign_in, people::who, people::sign_out))
        .routes(routes!(people::own_password))
        .routes(routes!(people::people, people::add_person))
        .routes(routes!(people::other_password))
        .routes(routes!(people::gone))
        .routes(routes!(jobs::sync))
        .routes(routes!(jobs::registers, jobs::add_cards))
        .routes(routes!(jobs::jobs, jobs::import))
        .routes(routes!(jobs::job))
        .routes(routes!(jobs::add_entries))
        .routes(routes!(papers::sheet))
        .routes(routes!(papers::sheet_pdf))
        .routes(routes!(papers::paper))
        .routes(routes!(papers::drawings))
        .routes(routes!(papers::drawing))
        .routes(routes!(papers::links, papers::make_link))
        .routes(routes!(papers::take_link_back))
        .routes(routes!(papers::certificate))
        .routes(routes!(compute::kinds))
        .routes(routes!(compute::described, compute::compute))
}

async fn nowhere(method: Method, uri: Uri, headers: HeaderMap) -> Response {
    if matches!(method, Method::GET | Method::HEAD)
        && let Some(file) = site::file(uri.path(), &headers)
    {
        return file;
    }
    let shown: String = uri.path().chars().take(80).collect();
    let refused = calc::Refused::new("the path", format!("{shown:?}"), "the routes that /api lists", "use one of them");
    Refusal::parts(axum::http::StatusCode::NOT_FOUND, refused).into_response()
}

fn stopped(_: Box<dyn Any + Send + 'static>) -> Response {
    Refusal::fault("a handler stopped half way").into_response()
}
