//! The door: every request passes here before its route, and none gets through that has no right in the table of routes.
//!
//! 1. A route that is not in [`crate::rights::ROUTES`] is refused to everybody.
//! 2. A request that writes comes from a page of this server, or from no page: by its `Origin`, by what the browser says of where it
//!    comes from, and by a type of body that no form of another site can send. The session's cookie is `SameSite=Strict` besides.
//! 3. Who asks is found by their session, never by what the request says of itself.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, MatchedPath, Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use ledger::Ledger;

use crate::accounts;
use crate::body::SMALL;
use crate::refusal::Refusal;
use crate::rights::{ROUTES, Right, needed};
use crate::secrets;
use crate::shop::{App, From, Signed};

/// Lets a request through to its route, with who asks and from where.
pub(crate) async fn guard(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let mut request = match gathered(request).await {
        Ok(request) => request,
        Err(refusal) => return refusal.into_response(),
    };
    match let_in(&app, &mut request).await {
        Ok(()) => next.run(request).await,
        Err(refusal) => refusal.into_response(),
    }
}

/// The request with its body read, where that says that it is small. A refusal that is sent while the body is still coming makes some
/// clients see a broken stream (HTTP/2) or a closed connection instead of the sentence.
async fn gathered(request: Request) -> Result<Request, Refusal> {
    let told = request.headers().get(header::CONTENT_LENGTH).and_then(|length| length.to_str().ok()?.parse::<usize>().ok());
    if !told.is_some_and(|length| length > 0 && length <= SMALL) {
        return Ok(request);
    }
    let (parts, body) = request.into_parts();
    let bytes = to_bytes(body, SMALL).await.map_err(|_| Refusal::too_long(SMALL))?;
    Ok(Request::from_parts(parts, Body::from(bytes)))
}

async fn let_in(app: &App, request: &mut Request<Body>) -> Result<(), Refusal> {
    let from = from(request, app.standing.behind_proxy);
    request.extensions_mut().insert(from);
    let Some(path) = request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned()) else { return Ok(()) };
    let Some(right) = needed(request.method(), &path) else { return Err(no_right(request.method(), &path)) };
    if !matches!(*request.method(), Method::GET | Method::HEAD) {
        from_here(request)?;
    }
    match right {
        Right::Open | Right::Link => Ok(()),
        Right::Near if from.near => Ok(()),
        _ => {
            let signed = signed(app, request.headers()).await?;
            signed.needs(right)?;
            request.extensions_mut().insert(signed);
            Ok(())
        }
    }
}

fn no_right(method: &Method, path: &str) -> Refusal {
    let there: Vec<&str> = ROUTES.iter().filter(|route| route.path == path).map(|route| route.method.as_str()).collect();
    if there.is_empty() {
        return Refusal::new(
            StatusCode::FORBIDDEN,
            "nobody has a right to this route; allowed: the routes that /api lists; use one of them",
        );
    }
    let refused = calc::Refused::new("the method", method, there.join(", "), "use one of them");
    Refusal::parts(StatusCode::METHOD_NOT_ALLOWED, refused)
}

/// Who asks.
async fn signed(app: &App, headers: &HeaderMap) -> Result<Signed, Refusal> {
    let jar = CookieJar::from_headers(headers);
    let cookie = jar.get(cookie_name(app.standing.secure)).ok_or_else(Refusal::not_signed_in)?;
    let (ledger, token) = in_shop(app, cookie.value()).ok_or_else(Refusal::not_signed_in)?;
    let (who, session) = accounts::of_token(ledger, token).await?.ok_or_else(Refusal::not_signed_in)?;
    let roles = app.people(ledger).await?.registers.roles(&who).to_vec();
    Ok(Signed { who, roles, ledger: ledger.clone(), session })
}

/// The shop of a token, and the token alone. That it names a shop gives no right there: the shop's own store must know it.
pub(crate) fn in_shop<'a, 't>(app: &'a App, value: &'t str) -> Option<(&'a Ledger, &'t str)> {
    let (token, shop) = value.split_once('.')?;
    let shop = String::from_utf8(secrets::from_hex(shop)?).ok()?;
    (token.len() == 64).then_some((app.shops.get(&shop)?, token))
}

/// A token with the shop that knows it.
pub(crate) fn with_shop(token: &str, ledger: &Ledger) -> String {
    format!("{token}.{}", secrets::hex(ledger.shop().as_bytes()))
}

/// The cookie's name. `__Host-` makes a browser refuse it unless it is Secure and of this very host.
const fn cookie_name(secure: bool) -> &'static str {
    if secure { "__Host-bushwright" } else { "bushwright" }
}

/// The cookie of a session; without a value it takes the old one away.
pub(crate) fn cookie(app: &App, value: Option<String>) -> Cookie<'static> {
    let secure = app.standing.secure;
    let cookie = Cookie::build((cookie_name(secure), value.clone().unwrap_or_default()))
        .path("/")
        .http_only(true)
        .secure(secure)
        .same_site(SameSite::Strict);
    let mut cookie = cookie.build();
    if value.is_none() {
        cookie.make_removal();
    } else {
        cookie.make_permanent();
    }
    cookie
}

/// Refuses a request that writes and was made by a page of another site.
fn from_here(request: &Request<Body>) -> Result<(), Refusal> {
    let headers = request.headers();
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let host = text("host").or_else(|| request.uri().authority().map(|authority| authority.as_str())).unwrap_or_default();
    let other = |given: &str| {
        let refused =
            calc::Refused::new("Origin", given, format!("pages of {host}, and programs that are no page"), "open the server's own page");
        Err(Refusal::parts(StatusCode::FORBIDDEN, refused))
    };
    if headers.contains_key(header::ORIGIN) {
        let origin = text("origin").unwrap_or("unreadable");
        if origin.split_once("://").map(|(_, there)| there) != Some(host) {
            return other(origin);
        }
    }
    match text("sec-fetch-site") {
        None | Some("same-origin" | "none") => Ok(()),
        Some(site) => other(site),
    }
}

/// Where a request came from.
fn from(request: &Request<Body>, behind_proxy: bool) -> From {
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|ConnectInfo(peer)| peer.ip().to_canonical());
    let told = request.headers().get_all("x-forwarded-for").iter().next_back().and_then(|value| value.to_str().ok());
    let passed_on = told.is_some() || request.headers().contains_key(header::FORWARDED);
    // The last address was written by the proxy itself; those before it are the client's word.
    let last = told.and_then(|told| told.rsplit(',').next()?.trim().parse::<IpAddr>().ok());
    let address = if behind_proxy { last.or(peer) } else { peer };
    From { address, near: !behind_proxy && !passed_on && peer.is_some_and(|peer| peer.is_loopback()) }
}
