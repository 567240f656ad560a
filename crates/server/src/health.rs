//! How the server is: whether it can read its ledgers, and its figures for who watches it.

use std::sync::{Arc, OnceLock};

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use ledger::REGISTERS;
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle};
use serde::Serialize;
use utoipa::ToSchema;

use crate::page;
use crate::refusal::{Refusal, SaidNo};
use crate::shop::App;

/// How the server is.
#[derive(Serialize, ToSchema)]
pub(crate) struct Health {
    /// Every ledger can be read.
    well: bool,
    /// The program's version.
    version: &'static str,
    /// The version of the sync protocol.
    protocol: u32,
}

/// The figures of this process: there is one set of them, whatever apps it holds.
fn figures() -> Option<&'static PrometheusHandle> {
    static FIGURES: OnceLock<Option<PrometheusHandle>> = OnceLock::new();
    let begun = || {
        let buckets = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0];
        let recorder = PrometheusBuilder::new().set_buckets(&buckets).ok()?.build_recorder();
        let handle = recorder.handle();
        metrics::set_global_recorder(recorder).ok()?;
        Some(handle)
    };
    FIGURES.get_or_init(begun).as_ref()
}

/// Begins counting, and from time to time puts the counts in order.
pub(crate) fn count() {
    if let Some(figures) = figures() {
        figures.run_upkeep();
    }
}

/// Whether the server is well: each ledger is read once.
#[utoipa::path(get, path = "/health", tag = "server", responses((status = 200, body = Health), (status = 503, body = SaidNo)))]
pub(crate) async fn health(State(app): State<Arc<App>>) -> Result<Json<Health>, Refusal> {
    for ledger in app.shops.values() {
        ledger.head(REGISTERS).await.map_err(|fault| Refusal::new(StatusCode::SERVICE_UNAVAILABLE, fault.to_string()))?;
    }
    Ok(Json(Health { well: true, version: env!("CARGO_PKG_VERSION"), protocol: job::sync::PROTOCOL }))
}

/// The server's figures as text, for a program that watches it. From the machine itself, or for the owner.
#[utoipa::path(get, path = "/metrics", tag = "server",
    responses((status = 200, body = String, content_type = "text/plain"), (status = 401, body = SaidNo), (status = 403, body = SaidNo)))]
pub(crate) async fn metrics() -> Response {
    let text = figures().map(PrometheusHandle::render).unwrap_or_default();
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], text).into_response()
}

/// What there is on this server.
#[utoipa::path(get, path = "/", tag = "server", responses((status = 200, body = String, content_type = "text/html")))]
pub(crate) async fn front(State(app): State<Arc<App>>, headers: HeaderMap) -> Response {
    if let Some(page) = crate::site::file("/", &headers) {
        return page;
    }
    let trust = if app.standing.authority.is_some() {
        "<li><a href=\"/trust\">Let this device trust the server</a>, once for each device.</li>"
    } else {
        ""
    };
    let body = format!(
        "<h1>Bushwright</h1><p>The server of a shop: jobs, registers, calculations and documents, for people who are signed in.</p>\
         <ul>{trust}<li><a href=\"/api\">What can be asked for</a>, with every key.</li><li><a href=\"/health\">Whether it is well</a>.</li></ul>"
    );
    Html(page::framed("Bushwright", &body)).into_response()
}
