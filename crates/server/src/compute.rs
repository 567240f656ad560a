//! Calculations over HTTP: the same requests, answers and refusals as `bushwright compute`, from the one table of kinds.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Request, State};
use calc::Refused;
use calc::compute::{KINDS, Kind, answer};
use calc::keys::{Form, Key, Range};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use utoipa::{IntoParams, ToSchema};

use crate::refusal::{Refusal, SaidNo};
use crate::shop::App;
use crate::{body, jobs};

/// A calculation that can be asked for.
#[derive(Serialize, ToSchema)]
pub(crate) struct Listed {
    kind: &'static str,
    /// The question that it answers.
    help: &'static str,
    /// False while it is reserved for a later version.
    built: bool,
}

/// A calculation with its keys.
#[derive(Serialize, ToSchema)]
pub(crate) struct Described {
    kind: &'static str,
    /// The question that it answers.
    help: &'static str,
    /// The form of a request, as a JSON schema.
    #[schema(value_type = Object)]
    request: Value,
    /// What stands at each path of an answer.
    answer: Vec<Told>,
    /// A request that is answered.
    #[schema(value_type = Object)]
    example: Value,
}

/// What stands at a path of an answer.
#[derive(Serialize, ToSchema)]
pub(crate) struct Told {
    path: &'static str,
    help: &'static str,
}

/// How an answer is wanted.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Wanted {
    /// With its derivation.
    #[serde(default)]
    pub working: bool,
}

/// The calculations that can be asked for.
#[utoipa::path(get, path = "/api/compute", tag = "calculations", responses((status = 200, body = [Listed]), (status = 401, body = SaidNo)))]
pub(crate) async fn kinds() -> Json<Vec<Listed>> {
    Json(KINDS.iter().map(|kind| Listed { kind: kind.name, help: kind.help, built: kind.run.is_some() }).collect())
}

/// A calculation with the keys of its request and its answer.
#[utoipa::path(get, path = "/api/compute/{kind}", tag = "calculations", params(("kind" = String, Path, description = "the calculation")),
    responses((status = 200, body = Described), (status = 401, body = SaidNo), (status = 404, body = SaidNo)))]
pub(crate) async fn described(mut request: Request) -> Result<Json<Described>, Refusal> {
    let kind = named(&mut request).await?;
    Ok(Json(Described {
        kind: kind.name,
        help: kind.help,
        request: record(kind.request),
        answer: kind.answer.iter().map(|told| Told { path: told.path, help: told.help }).collect(),
        example: calc::compute::plain(kind.example)?,
    }))
}

/// Answers one request, exactly as `bushwright compute KIND` does: results, `warnings`, and `working` where it is wanted.
#[utoipa::path(post, path = "/api/compute/{kind}", tag = "calculations", request_body = Object, params(("kind" = String, Path, description = "the calculation"), Wanted),
    responses((status = 200, body = Object), (status = 400, body = SaidNo), (status = 401, body = SaidNo), (status = 404, body = SaidNo), (status = 413, body = SaidNo), (status = 503, body = SaidNo)))]
pub(crate) async fn compute(State(app): State<Arc<App>>, mut request: Request) -> Result<Json<Value>, Refusal> {
    let kind = named(&mut request).await?;
    let Wanted { working } = jobs::query(&request)?;
    let bytes = body::bytes(request, "application/json", body::CALCULATION).await?;
    let answered = app.desk.at(move |crew| {
        let request = body::value(&bytes)?;
        no_path(&request)?;
        answer(kind.name, &request, crew, working)
    });
    let answer = answered.await??;
    Ok(Json(answer))
}

async fn named(request: &mut Request) -> Result<&'static Kind, Refusal> {
    let [name] = body::names(request).await?;
    calc::compute::kind(&name).map_err(|refused| Refusal::parts(axum::http::StatusCode::NOT_FOUND, refused))
}

/// At the command line `runs_csv` may be the path of a file. Here it is the table itself: no file of the server is ever opened by name.
fn no_path(request: &Value) -> Result<(), Refused> {
    match request.get("runs_csv") {
        Some(Value::String(named)) if !named.contains('\n') => {
            let given = format!("{:?}", named.chars().take(60).collect::<String>());
            Err(Refused::new(
                "runs_csv",
                given,
                "the table of runs itself, its lines with their ends",
                "send the text of the table, not where it lies",
            ))
        }
        _ => Ok(()),
    }
}

/// A record of keys as a JSON schema.
pub(crate) fn record(keys: &[Key]) -> Value {
    let properties: Map<String, Value> = keys.iter().map(|key| (key.name.to_owned(), one(key))).collect();
    let needed: Vec<&str> = keys.iter().filter(|key| key.needed).map(|key| key.name).collect();
    json!({"type": "object", "additionalProperties": false, "required": needed, "properties": properties})
}

fn one(key: &Key) -> Value {
    let mut schema = match &key.form {
        Form::Record(inner) => record(inner),
        Form::Records(inner) => json!({"type": "array", "items": record(inner)}),
        Form::Number(range) => number("number", *range),
        Form::Whole(range) => number("integer", *range),
        Form::Quantity(range) => json!({"oneOf": [number("number", *range), quantity(*range)]}),
        Form::Word(words) => json!({"enum": words}),
        Form::Text => json!({"type": "string"}),
        Form::Flag => json!({"type": "boolean"}),
        Form::Numbers(range) => json!({"type": "array", "items": number("number", *range)}),
        Form::Texts => json!({"type": "array", "items": {"type": "string"}}),
        Form::Raw => json!({}),
    };
    if let Some(map) = schema.as_object_mut() {
        let unsaid = if key.default.is_empty() { String::new() } else { format!(" (when left out: {})", key.default) };
        map.insert("description".into(), format!("{}{unsaid}", key.help).into());
    }
    schema
}

/// A number of a range; an end that is only there to catch slips is not shown.
fn number(kind: &str, range: Range) -> Value {
    let mut schema = Map::from_iter([("type".to_owned(), Value::from(kind))]);
    if range.low > Range::ANY.low {
        schema.insert(if range.low_open { "exclusiveMinimum" } else { "minimum" }.into(), range.low.into());
    }
    if range.high < Range::ANY.high {
        schema.insert(if range.high_open { "exclusiveMaximum" } else { "maximum" }.into(), range.high.into());
    }
    Value::Object(schema)
}

/// A value with its standard uncertainty.
fn quantity(range: Range) -> Value {
    let at_least_0 = number("number", Range::at_least(0.0));
    let shapes = ["rectangular", "triangular", "arcsine", "t", "normal"];
    json!({"type": "object", "additionalProperties": false, "required": ["value"],
        "properties": {"value": number("number", range), "u": at_least_0, "dof": at_least_0, "shape": {"enum": shapes}}})
}
