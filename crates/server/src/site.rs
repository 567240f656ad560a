//! The browser app's files: taken into the program when it is built, given to everybody.
//!
//! They hold nothing of the shop: what a person sees comes over the routes, behind the door. A browser asks each time whether a file is
//! still the same (its hash is its tag), and gets it compressed where it was compressed when it was made.

use axum::body::Body;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::{Embed, EmbeddedFile};

#[derive(Embed)]
#[folder = "../../target/site"]
#[allow_missing = true]
struct Site;

/// The file at this path of the app, or that the browser has it already; none where the app has no such file.
pub(crate) fn file(path: &str, asked: &HeaderMap) -> Option<Response> {
    let name = match path.trim_start_matches('/') {
        "" => "index.html",
        name => name,
    };
    // Compressed copies are ways to give a file, no files of their own.
    if name.ends_with(".gz") || name.ends_with(".br") {
        return None;
    }
    let plain = Site::get(name)?;
    let tag = tag(&plain);
    let has = |name: header::HeaderName, what: &str| {
        asked.get(name).and_then(|value| value.to_str().ok()).is_some_and(|value| value.contains(what))
    };
    let headers =
        [(header::CACHE_CONTROL, "no-cache".to_owned()), (header::ETAG, tag.clone()), (header::VARY, "accept-encoding".to_owned())];
    if has(header::IF_NONE_MATCH, &tag) {
        return Some((StatusCode::NOT_MODIFIED, headers).into_response());
    }
    let kind = [(header::CONTENT_TYPE, kind(name))];
    let ways = [("br", "br"), ("gzip", "gz")].into_iter();
    let mut packed = ways
        .filter(|(way, _)| has(header::ACCEPT_ENCODING, way))
        .filter_map(|(way, end)| Some((way, Site::get(&format!("{name}.{end}"))?)));
    Some(match packed.next() {
        Some((way, packed)) => (headers, kind, [(header::CONTENT_ENCODING, way)], Body::from(packed.data.into_owned())).into_response(),
        None => (headers, kind, Body::from(plain.data.into_owned())).into_response(),
    })
}

fn tag(file: &EmbeddedFile) -> String {
    let hash: String = file.metadata.sha256_hash().iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    format!("\"{hash}\"")
}

fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "wasm" => "application/wasm",
        "svg" => "image/svg+xml",
        "webmanifest" => "application/manifest+json",
        _ => "application/octet-stream",
    }
}
