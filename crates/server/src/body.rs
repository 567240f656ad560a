//! What a request brings: bytes up to a length, of a type that is ours, read by the one strict reader of JSON.

use axum::RequestExt;
use axum::body::{Body, to_bytes};
use axum::extract::RawPathParams;
use axum::http::{Request, StatusCode, header};
use calc::Refused;
use serde::de::DeserializeOwned;

use crate::refusal::Refusal;

/// Bytes of a small request: a password, a card, some entries.
pub(crate) const SMALL: usize = 256 * 1024;
/// Bytes of a request for a calculation: tables of readings and runs.
pub(crate) const CALCULATION: usize = 4 * 1024 * 1024;
/// Bytes of a batch of entries.
pub(crate) const BATCH: usize = 8 * 1024 * 1024;

/// The whole body, of the type `kind` ("application/json").
pub(crate) async fn bytes(request: Request<Body>, kind: &str, most: usize) -> Result<Vec<u8>, Refusal> {
    let given = request.headers().get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or("no type");
    let plain = given.split(';').next().unwrap_or_default().trim();
    if !plain.eq_ignore_ascii_case(kind) {
        let refused = Refused::new("Content-Type", given, kind, format!("send it with the header Content-Type: {kind}"));
        return Err(Refusal::parts(StatusCode::UNSUPPORTED_MEDIA_TYPE, refused));
    }
    let told = request.headers().get(header::CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if told.is_some_and(|length| length > most as u64) {
        return Err(Refusal::too_long(most));
    }
    // The one way in which reading up to a length fails, but for a line that was cut, is the length.
    to_bytes(request.into_body(), most).await.map(Into::into).map_err(|_| Refusal::too_long(most))
}

/// The text of a body.
pub(crate) fn text(bytes: &[u8]) -> Result<&str, Refused> {
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        Refused::new("", format!("not UTF-8 at byte {}", fault.valid_up_to()), "text in UTF-8", "save it again as UTF-8")
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// A JSON body as a value: every key once, finite numbers.
pub(crate) fn value(bytes: &[u8]) -> Result<serde_json::Value, Refused> {
    let text = text(bytes)?;
    if text.trim().is_empty() {
        return Err(Refused::new("", "empty", "one JSON object", "send the request as the body"));
    }
    calc::compute::read(text)
}

/// A JSON body of a known form.
pub(crate) fn form<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Refused> {
    T::deserialize(value(bytes)?).map_err(|fault| {
        Refused::new(
            "",
            format!("not what is taken here ({fault})"),
            "the form that /api shows for this route",
            "mend that key and send it again",
        )
    })
}

/// A small JSON body of a known form.
pub(crate) async fn small<T: DeserializeOwned>(request: Request<Body>) -> Result<T, Refusal> {
    Ok(form(&bytes(request, "application/json", SMALL).await?)?)
}

/// The names in the path, in order; refused where one can't be a name.
pub(crate) async fn names<const N: usize>(request: &mut Request<Body>) -> Result<[String; N], Refusal> {
    let bad = || Refused::new("", "a path that is not UTF-8", "names in UTF-8, percent-encoded", "write the name as it is listed");
    let params = request.extract_parts::<RawPathParams>().await.map_err(|_| bad())?;
    let mut names = [const { String::new() }; N];
    for (place, (key, given)) in names.iter_mut().zip(params.iter()) {
        named(key, given)?;
        given.clone_into(place);
    }
    Ok(names)
}

/// Refuses what can't be a name in the record.
pub(crate) fn named(key: &str, given: &str) -> Result<(), Refused> {
    let letters = given.chars().count();
    if letters == 0 || letters > 120 || given.chars().any(char::is_control) {
        let shown = given.chars().take(40).collect::<String>();
        return Err(Refused::new(key, format!("{shown:?}"), "1 to 120 letters on one line", "write the name as it is listed"));
    }
    Ok(())
}
