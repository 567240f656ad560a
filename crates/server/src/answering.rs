//! What every answer goes through: a limit of time, a panic caught, a line in the log, a count, and headers that browsers go by.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::refusal::Refusal;
use crate::shop::App;

/// No request takes longer, s.
pub(crate) const MOST_S: u64 = 30;

/// What a page may load: this server's own files, WebAssembly, styles in the page; nothing from elsewhere, and no frame around it.
const POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; object-src 'none'; \
                      base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// Headers of every answer.
const HEADERS: [(HeaderName, &str); 8] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    // A link to a certificate must not be told to the next page.
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=()"),
    (HeaderName::from_static("x-robots-tag"), "noindex"),
];

/// Answers within the limit, with the headers, and says so in the log.
pub(crate) async fn answering(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let begun = Instant::now();
    // The route, never the path itself: a link's path is its secret, and names would make as many figures.
    let route = request.extensions().get::<MatchedPath>().map_or_else(|| "none".to_owned(), |path| path.as_str().to_owned());
    let method = request.method().clone();
    let mut response = match tokio::time::timeout(Duration::from_secs(MOST_S), next.run(request)).await {
        Ok(response) => response,
        Err(_) => Refusal::too_slow(MOST_S).into_response(),
    };
    dress(response.headers_mut(), &route, app.standing.secure && app.standing.authority.is_none());
    let status = response.status().as_u16();
    let took = begun.elapsed();
    let labels = [("method", method.to_string()), ("route", route.clone()), ("status", status.to_string())];
    metrics::counter!("bushwright_requests_total", &labels).increment(1);
    metrics::histogram!("bushwright_request_seconds", "route" => route.clone()).record(took.as_secs_f64());
    tracing::info!(status, ms = took.as_millis(), "{method} {route}");
    response
}

fn dress(headers: &mut HeaderMap, route: &str, public: bool) {
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    // What a person of the shop sees is not kept by what stands between.
    if (route.starts_with("/api/") && route != "/api/openapi.json") || route.starts_with("/certificate") {
        headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    }
    // Only where the certificate is one that browsers know: with the shop's own authority it would shut out who lost the trust.
    if public {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static("max-age=31536000"));
    }
}
