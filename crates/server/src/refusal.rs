//! How the server says no: a status that a program can go by, and the sentence that the floor below wrote, unchanged.
//!
//! A request that can't be answered is `{"error": {"key", "given", "allowed", "do"}}`, the same four words that `bushwright compute` gives;
//! what is the matter with the store, the sign-in or the server itself is `{"says": ".."}`.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use calc::Refused;
use ledger::Fault;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A request that was not answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    status: StatusCode,
    says: Says,
    again_s: Option<u64>,
}

#[derive(Clone, Debug, PartialEq)]
enum Says {
    Parts(Refused),
    Sentence(String),
}

/// What the body of a refusal is: one of the two.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SaidNo {
    /// A request that can't be answered as it was put.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error: Option<Parts>,
    /// Anything else, in a sentence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
}

/// The four parts of a refusal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Parts {
    /// Dotted path of the key that is wrong; empty when the whole request is.
    pub key: String,
    /// What was given.
    pub given: String,
    /// What would be allowed.
    pub allowed: String,
    /// What to do about it.
    #[serde(rename = "do")]
    pub remedy: String,
}

impl Refusal {
    /// A sentence under a status.
    pub(crate) fn new(status: StatusCode, sentence: impl Into<String>) -> Self {
        Self { status, says: Says::Sentence(sentence.into()), again_s: None }
    }

    /// The four parts under a status.
    pub(crate) const fn parts(status: StatusCode, refused: Refused) -> Self {
        Self { status, says: Says::Parts(refused), again_s: None }
    }

    /// Nobody is signed in.
    pub(crate) fn not_signed_in() -> Self {
        Self::new(StatusCode::UNAUTHORIZED, "nobody is signed in, or not any more; allowed: people of the shop; sign in at /api/session")
    }

    /// Somebody is signed in who may not do that.
    pub(crate) fn lacks_right(who: &str, has: &[String], needs: &str) -> Self {
        let has = if has.is_empty() { "no role".to_owned() } else { has.join(" and ") };
        Self::new(StatusCode::FORBIDDEN, format!("{who} has {has}; allowed: {needs}; ask somebody who has that role, or the owner for it"))
    }

    /// There is nothing of that name here; the same words whether it is in another shop or nowhere.
    pub(crate) fn no_such(what: &str, name: &str) -> Self {
        let shown: String = name.chars().take(60).collect();
        let remedy = format!("look up what there is, and write it as it stands there: this shop has no {what} of that name");
        Self::parts(StatusCode::NOT_FOUND, Refused::new(what, format!("{shown:?}"), format!("a {what} of this shop"), remedy))
    }

    /// More bytes than are taken here.
    pub(crate) fn too_long(most: usize) -> Self {
        let refused = Refused::new("", format!("over {most} bytes"), format!("{most} bytes at most"), "send less at once");
        Self::parts(StatusCode::PAYLOAD_TOO_LARGE, refused)
    }

    /// Too many tries; the next after so many seconds.
    pub(crate) fn too_many(again_s: u64) -> Self {
        let sentence = format!("too many tries to sign in; allowed: a few in some minutes; wait {again_s} s, then try once more");
        Self { again_s: Some(again_s), ..Self::new(StatusCode::TOO_MANY_REQUESTS, sentence) }
    }

    /// So much is under way that this can't be begun.
    pub(crate) fn busy() -> Self {
        let sentence =
            "the server has as many calculations under way as it takes; allowed: a short queue; send the same again in some seconds";
        Self { again_s: Some(5), ..Self::new(StatusCode::SERVICE_UNAVAILABLE, sentence) }
    }

    /// It took too long.
    pub(crate) fn too_slow(most_s: u64) -> Self {
        let sentence =
            format!("no answer within {most_s} s; allowed: requests that take less; ask for less at once, or again when it is quieter");
        Self::new(StatusCode::SERVICE_UNAVAILABLE, sentence)
    }

    /// A fault of the program: never of who asks.
    pub(crate) fn fault(what: &str) -> Self {
        let sentence =
            format!("the server failed at this ({what}); nothing that was acknowledged is lost; tell who looks after the server");
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, sentence)
    }

    /// The sentence.
    pub(crate) fn sentence(&self) -> String {
        match &self.says {
            Says::Parts(refused) => refused.to_string(),
            Says::Sentence(sentence) => sentence.clone(),
        }
    }
}

impl From<Refused> for Refusal {
    fn from(refused: Refused) -> Self {
        Self::parts(StatusCode::BAD_REQUEST, refused)
    }
}

impl From<Fault> for Refusal {
    fn from(fault: Fault) -> Self {
        let status = match &fault {
            Fault::Refused(_) => StatusCode::BAD_REQUEST,
            Fault::Full(_) => StatusCode::INSUFFICIENT_STORAGE,
            Fault::Away(_) => StatusCode::SERVICE_UNAVAILABLE,
            Fault::Failed(_) | Fault::Altered(_) | Fault::Damaged(_) => StatusCode::INTERNAL_SERVER_ERROR,
        };
        let again_s = matches!(fault, Fault::Away(_)).then_some(2);
        Self { again_s, ..Self::new(status, fault.to_string()) }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        if self.status.is_server_error() {
            tracing::error!(status = self.status.as_u16(), "{}", self.sentence());
        }
        let body = match self.says {
            Says::Parts(Refused { key, given, allowed, remedy }) => {
                SaidNo { error: Some(Parts { key, given, allowed, remedy }), says: None }
            }
            Says::Sentence(sentence) => SaidNo { error: None, says: Some(sentence) },
        };
        let mut response = (self.status, axum::Json(body)).into_response();
        if let Some(value) = self.again_s.and_then(|s| HeaderValue::from_str(&s.to_string()).ok()) {
            response.headers_mut().insert(header::RETRY_AFTER, value);
        }
        response
    }
}
