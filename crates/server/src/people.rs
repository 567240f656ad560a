//! Signing in and out, the first owner, and the people of the shop with what they sign in with.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use job::registers::Card;
use ledger::Ledger;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::refusal::{Refusal, SaidNo};
use crate::shop::{App, From, Signed};
use crate::{accounts, body, guard, secrets, tries, writing};

/// The first owner, by the code that the server printed where it was started.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FirstOwner {
    /// The code.
    code: String,
    /// The name that entries are signed with.
    name: String,
    /// A password, 10 letters or more.
    password: String,
    /// The shop; only where the server has several.
    shop: Option<String>,
}

/// Somebody signs in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignIn {
    /// The name.
    name: String,
    /// The password.
    password: String,
    /// The shop; only where the server has several.
    shop: Option<String>,
}

/// Who is signed in.
#[derive(Serialize, ToSchema)]
pub(crate) struct Who {
    name: String,
    /// floor, office, owner.
    roles: Vec<String>,
    shop: String,
}

/// Somebody of the shop.
#[derive(Serialize, ToSchema)]
pub(crate) struct Person {
    name: String,
    /// floor, office, owner; none of somebody who left.
    roles: Vec<String>,
    /// Whether they have a password here.
    signs_in: bool,
}

/// Somebody new, or new roles or a new password for somebody.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPerson {
    /// The name that entries are signed with.
    name: String,
    /// floor, office, owner.
    roles: Vec<String>,
    /// A password, 10 letters or more.
    password: String,
}

/// Another password for oneself.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OwnPassword {
    /// The password until now.
    old: String,
    /// The password from now on, 10 letters or more.
    new: String,
}

/// Another password for somebody else.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OtherPassword {
    /// The password from now on, 10 letters or more.
    password: String,
}

/// Why somebody is no more in the shop.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Left {
    /// In words; it stands in the record.
    because: String,
}

/// Something was done.
#[derive(Serialize, ToSchema)]
pub(crate) struct Done {
    /// What, in a sentence.
    done: String,
}

pub(crate) fn done(sentence: impl Into<String>) -> Json<Done> {
    Json(Done { done: sentence.into() })
}

/// Makes the first owner by the one-time code, and signs them in.
#[utoipa::path(post, path = "/api/owner", tag = "people", request_body = FirstOwner,
    responses((status = 200, body = Who), (status = 403, body = SaidNo), (status = 429, body = SaidNo)))]
pub(crate) async fn first_owner(
    State(app): State<Arc<App>>,
    Extension(from): Extension<From>,
    request: Request,
) -> Result<Response, Refusal> {
    let FirstOwner { code, name, password, shop } = body::small(request).await?;
    let ledger = app.shop(shop.as_deref())?;
    let card = Card::Person { name: name.clone(), roles: vec!["owner".into()] };
    let people = app.people(ledger).await?;
    let entry = writing::card(ledger, &people, &name, card)?;
    secrets::long_enough(&password)?;
    let tried = tries::begin(ledger, "the first owner", from.address).await?;
    if !accounts::use_code(ledger, &code).await? {
        let sentence = "that is not the code, or it was used or is over a day old; allowed: the code that the server printed last; \
                        read it again where the server was started, or start it once more";
        return Err(Refusal::new(StatusCode::FORBIDDEN, sentence));
    }
    accounts::give(ledger, &name, password).await?;
    writing::alone(ledger, &name, entry).await?;
    tried.got_in(ledger).await?;
    tracing::info!(shop = ledger.shop(), who = name, "the owner was made");
    signed_in(&app, ledger, name).await
}

/// Signs in; the session is a cookie.
#[utoipa::path(post, path = "/api/session", tag = "people", request_body = SignIn,
    responses((status = 200, body = Who), (status = 401, body = SaidNo), (status = 429, body = SaidNo)))]
pub(crate) async fn sign_in(State(app): State<Arc<App>>, Extension(from): Extension<From>, request: Request) -> Result<Response, Refusal> {
    let SignIn { name, password, shop } = body::small(request).await?;
    body::named("name", &name)?;
    let ledger = app.shop(shop.as_deref())?;
    let tried = tries::begin(ledger, &name, from.address).await?;
    if !accounts::is_password(ledger, &name, password).await? {
        metrics::counter!("bushwright_sign_ins_total", "outcome" => "refused").increment(1);
        let sentence = "name and password do not belong together; allowed: those of a person of the shop; type them again, or ask the owner for a new password";
        return Err(Refusal::new(StatusCode::UNAUTHORIZED, sentence));
    }
    tried.got_in(ledger).await?;
    metrics::counter!("bushwright_sign_ins_total", "outcome" => "in").increment(1);
    signed_in(&app, ledger, name).await
}

async fn signed_in(app: &App, ledger: &Ledger, who: String) -> Result<Response, Refusal> {
    let token = accounts::open(ledger, &who).await?;
    let roles = app.people(ledger).await?.registers.roles(&who).to_vec();
    let jar = CookieJar::new().add(guard::cookie(app, Some(guard::with_shop(&token, ledger))));
    Ok((jar, Json(Who { name: who, roles, shop: ledger.shop().to_owned() })).into_response())
}

/// Who is signed in.
#[utoipa::path(get, path = "/api/session", tag = "people", responses((status = 200, body = Who), (status = 401, body = SaidNo)))]
pub(crate) async fn who(Extension(signed): Extension<Signed>) -> Json<Who> {
    Json(Who { shop: signed.ledger.shop().to_owned(), name: signed.who, roles: signed.roles })
}

/// Signs out.
#[utoipa::path(delete, path = "/api/session", tag = "people", responses((status = 200, body = Done), (status = 401, body = SaidNo)))]
pub(crate) async fn sign_out(State(app): State<Arc<App>>, Extension(signed): Extension<Signed>) -> Result<Response, Refusal> {
    accounts::end(&signed.ledger, &signed.session).await?;
    let jar = CookieJar::new().add(guard::cookie(&app, None));
    Ok((jar, done(format!("{} is signed out", signed.who))).into_response())
}

/// Gives oneself another password; ends every session, this one too.
#[utoipa::path(post, path = "/api/password", tag = "people", request_body = OwnPassword,
    responses((status = 200, body = Done), (status = 403, body = SaidNo), (status = 429, body = SaidNo)))]
pub(crate) async fn own_password(
    Extension(signed): Extension<Signed>,
    Extension(from): Extension<From>,
    request: Request,
) -> Result<Json<Done>, Refusal> {
    let OwnPassword { old, new } = body::small(request).await?;
    let tried = tries::begin(&signed.ledger, &signed.who, from.address).await?;
    if !accounts::is_password(&signed.ledger, &signed.who, old).await? {
        let sentence =
            "the old password is another; allowed: the one that you signed in with; type it again, or ask the owner for a new one";
        return Err(Refusal::new(StatusCode::FORBIDDEN, sentence));
    }
    tried.got_in(&signed.ledger).await?;
    accounts::give(&signed.ledger, &signed.who, new).await?;
    Ok(done(format!("{} has another password; sign in with it", signed.who)))
}

/// The people of the shop.
#[utoipa::path(get, path = "/api/people", tag = "people",
    responses((status = 200, body = [Person]), (status = 401, body = SaidNo), (status = 403, body = SaidNo)))]
pub(crate) async fn people(State(app): State<Arc<App>>, Extension(signed): Extension<Signed>) -> Result<Json<Vec<Person>>, Refusal> {
    let people = app.people(&signed.ledger).await?;
    let with_password = accounts::names(&signed.ledger).await?;
    let mut names: Vec<&str> = people.registers.of("person").map(|(name, _)| name).collect();
    names.extend(with_password.iter().map(String::as_str));
    names.sort_unstable();
    names.dedup();
    let person = |name: &str| Person {
        name: name.to_owned(),
        roles: people.registers.roles(name).to_vec(),
        signs_in: with_password.iter().any(|with| with == name),
    };
    Ok(Json(names.into_iter().map(person).collect()))
}

/// Adds somebody, or gives somebody other roles and another password.
#[utoipa::path(post, path = "/api/people", tag = "people", request_body = NewPerson,
    responses((status = 200, body = Done), (status = 400, body = SaidNo), (status = 401, body = SaidNo), (status = 403, body = SaidNo)))]
pub(crate) async fn add_person(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    request: Request,
) -> Result<Json<Done>, Refusal> {
    let NewPerson { name, roles, password } = body::small(request).await?;
    secrets::long_enough(&password)?;
    let card = Card::Person { name: name.clone(), roles: roles.clone() };
    writing::on_card(&app, &signed, card).await?;
    accounts::give(&signed.ledger, &name, password).await?;
    tracing::info!(shop = signed.ledger.shop(), who = signed.who, "{name} is {} now", roles.join(" and "));
    Ok(done(format!("{name} is {} and can sign in", roles.join(" and "))))
}

/// Gives somebody another password; ends their sessions.
#[utoipa::path(post, path = "/api/people/{name}/password", tag = "people", request_body = OtherPassword, params(("name" = String, Path, description = "the person")),
    responses((status = 200, body = Done), (status = 404, body = SaidNo), (status = 401, body = SaidNo), (status = 403, body = SaidNo)))]
pub(crate) async fn other_password(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Json<Done>, Refusal> {
    let name = of_shop(&app, &signed, &mut request).await?;
    let OtherPassword { password } = body::small(request).await?;
    accounts::give(&signed.ledger, &name, password).await?;
    Ok(done(format!("{name} has another password")))
}

/// Takes somebody out of the shop: their sessions end, their entries stay.
#[utoipa::path(post, path = "/api/people/{name}/gone", tag = "people", request_body = Left, params(("name" = String, Path, description = "the person")),
    responses((status = 200, body = Done), (status = 404, body = SaidNo), (status = 401, body = SaidNo), (status = 403, body = SaidNo)))]
pub(crate) async fn gone(
    State(app): State<Arc<App>>,
    Extension(signed): Extension<Signed>,
    mut request: Request,
) -> Result<Json<Done>, Refusal> {
    let name = of_shop(&app, &signed, &mut request).await?;
    let Left { because } = body::small(request).await?;
    let card = Card::Gone { register: "person".into(), name: name.clone(), because };
    writing::on_card(&app, &signed, card).await?;
    accounts::take(&signed.ledger, &name).await?;
    tracing::info!(shop = signed.ledger.shop(), who = signed.who, "{name} is gone");
    Ok(done(format!("{name} is no more in the shop; what {name} wrote stays")))
}

/// The person whom the path names, who must be of this shop.
async fn of_shop(app: &App, signed: &Signed, request: &mut Request) -> Result<String, Refusal> {
    let [name] = body::names(request).await?;
    let there = app.people(&signed.ledger).await?.registers.there("person", &name).is_some();
    if there { Ok(name) } else { Err(Refusal::no_such("person", &name)) }
}
