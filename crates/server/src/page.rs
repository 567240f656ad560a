//! The description of the API, made from the types of the handlers: as JSON (OpenAPI 3.1), and as a page of our own without any script.

use std::fmt::Write;
use std::sync::OnceLock;

use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use calc::compute::KINDS;
use serde_json::{Map, Value, json};

use crate::compute;
use crate::rights::needed;

/// The description as JSON, with the right that each route needs and the form of every calculation.
pub(crate) fn described() -> &'static Value {
    static DESCRIBED: OnceLock<Value> = OnceLock::new();
    DESCRIBED.get_or_init(|| {
        let (_, api) = crate::routes().split_for_parts();
        let mut described = serde_json::to_value(api).unwrap_or_default();
        described["info"] = json!({
            "title": "Bushwright",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "Jobs, registers, calculations and documents of a shop. Sign in at /api/session: the session is a cookie. \
                            Bodies are JSON with the header Content-Type: application/json; a refusal says what was given, what is allowed and what to do.",
        });
        with_rights(&mut described);
        with_calculations(&mut described);
        described
    })
}

/// Each route of a description: path, method, what it says.
pub(crate) fn operations(described: &Value) -> impl Iterator<Item = (&str, &str, &Value)> {
    let paths = described["paths"].as_object().into_iter().flatten();
    paths.flat_map(|(path, methods)| methods.as_object().into_iter().flatten().map(|(method, says)| (path.as_str(), method.as_str(), says)))
}

fn with_rights(described: &mut Value) {
    for (path, methods) in described["paths"].as_object_mut().into_iter().flatten() {
        for (method, says) in methods.as_object_mut().into_iter().flatten() {
            let right = method.to_uppercase().parse().ok().and_then(|method| needed(&method, path));
            if let (Some(right), Some(says)) = (right, says.as_object_mut()) {
                says.insert("x-for".into(), right.words().into());
            }
        }
    }
}

fn with_calculations(described: &mut Value) {
    let mut forms = Map::new();
    for kind in KINDS.iter().filter(|kind| kind.run.is_some()) {
        let mut form = compute::record(kind.request);
        form["description"] = kind.help.into();
        form["examples"] = calc::compute::plain(kind.example).map_or_else(|_| json!([]), |example| json!([example]));
        forms.insert(format!("compute.{}", kind.name), form);
    }
    let any: Vec<Value> = forms.keys().map(|name| json!({"$ref": format!("#/components/schemas/{name}")})).collect();
    let post = &mut described["paths"]["/api/compute/{kind}"]["post"];
    post["requestBody"]["content"]["application/json"]["schema"] = json!({ "anyOf": any });
    if let Some(schemas) = described["components"]["schemas"].as_object_mut() {
        schemas.append(&mut forms);
    }
}

/// The description of this API, as JSON.
#[utoipa::path(get, path = "/api/openapi.json", tag = "server", responses((status = 200, body = Object)))]
pub(crate) async fn json() -> Response {
    ([(header::CONTENT_TYPE, "application/json")], described().to_string()).into_response()
}

/// The description of this API, as a page.
#[utoipa::path(get, path = "/api", tag = "server", responses((status = 200, body = String, content_type = "text/html")))]
pub(crate) async fn page() -> Html<&'static str> {
    static PAGE: OnceLock<String> = OnceLock::new();
    Html(PAGE.get_or_init(|| framed("What can be asked for", &body(described()))))
}

fn body(described: &Value) -> String {
    let mut page = String::from("<h1>What can be asked for</h1>");
    let _ = write!(page, "<p>{}</p>", escaped(described["info"]["description"].as_str().unwrap_or_default()));
    page.push_str("<p>As OpenAPI 3.1: <a href=\"/api/openapi.json\">/api/openapi.json</a></p><h2>Routes</h2>");
    for (path, method, says) in operations(described) {
        route(&mut page, path, method, says);
    }
    page.push_str("<h2>Forms</h2>");
    for (name, form) in described["components"]["schemas"].as_object().into_iter().flatten() {
        let words = escaped(form["description"].as_str().unwrap_or_default());
        let _ = write!(page, "<details id=\"{0}\"><summary><code>{0}</code> {words}</summary>", escaped(name));
        fields(&mut page, form);
        page.push_str("</details>");
    }
    page
}

fn route(page: &mut String, path: &str, method: &str, says: &Value) {
    let words = |key: &str| escaped(says[key].as_str().unwrap_or_default());
    let _ =
        write!(page, "<details><summary><b>{}</b> <code>{}</code> {}</summary>", method.to_uppercase(), escaped(path), words("summary"));
    let _ = write!(page, "<p>{}</p><p>For: {}</p>", words("description"), words("x-for"));
    for parameter in says["parameters"].as_array().into_iter().flatten() {
        let words = |key: &str| escaped(parameter[key].as_str().unwrap_or_default());
        let _ = write!(page, "<p>{} <code>{}</code>: {}</p>", words("in"), words("name"), words("description"));
    }
    for (kind, content) in says["requestBody"]["content"].as_object().into_iter().flatten() {
        let _ = write!(page, "<p>Takes {}: {}</p>", escaped(kind), shape(&content["schema"]));
    }
    for (status, answer) in says["responses"].as_object().into_iter().flatten() {
        let contents = answer["content"].as_object().into_iter().flatten();
        let forms: Vec<String> = contents.map(|(kind, content)| format!("{}: {}", escaped(kind), shape(&content["schema"]))).collect();
        let _ =
            write!(page, "<p>{} {} {}</p>", escaped(status), escaped(answer["description"].as_str().unwrap_or_default()), forms.join(", "));
    }
    page.push_str("</details>");
}

/// The keys of a form.
fn fields(page: &mut String, form: &Value) {
    if let Some(properties) = form["properties"].as_object() {
        page.push_str("<table><tr><th>key</th><th>what stands there</th><th>what it means</th></tr>");
        for (name, field) in properties {
            let needed = form["required"].as_array().is_some_and(|keys| keys.iter().any(|key| key == name));
            let mark = if needed { " (needed)" } else { "" };
            let words = escaped(field["description"].as_str().unwrap_or_default());
            let _ = write!(page, "<tr><td><code>{}</code>{mark}</td><td>{}</td><td>{words}</td></tr>", escaped(name), shape(field));
        }
        page.push_str("</table>");
        return;
    }
    for one in ["oneOf", "anyOf", "allOf"].iter().filter_map(|key| form[*key].as_array()).flatten() {
        let words = escaped(one["description"].as_str().unwrap_or_default());
        let _ = write!(page, "<p>{words} {}</p>", if one["properties"].is_object() { String::new() } else { shape(one) });
        if one["properties"].is_object() {
            fields(page, one);
        }
    }
    if form["properties"].is_null() && form["oneOf"].is_null() && form["anyOf"].is_null() && form["allOf"].is_null() {
        let _ = write!(page, "<p>{}</p>", shape(form));
    }
}

/// What stands somewhere, in a few words, with a link to a form of its own.
fn shape(schema: &Value) -> String {
    if let Some(name) = schema["$ref"].as_str().and_then(|place| place.rsplit('/').next()) {
        return format!("<a href=\"#{0}\">{0}</a>", escaped(name));
    }
    for key in ["oneOf", "anyOf", "allOf"] {
        if let Some(choices) = schema[key].as_array() {
            return choices.iter().map(shape).collect::<Vec<_>>().join(" or ");
        }
    }
    if let Some(words) = schema["enum"].as_array() {
        return words.iter().map(|word| format!("<code>{}</code>", escaped(&word.to_string()))).collect::<Vec<_>>().join(" ");
    }
    if schema["items"].is_object() {
        return format!("list of {}", shape(&schema["items"]));
    }
    let kinds = match &schema["type"] {
        Value::String(kind) => kind.clone(),
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" or "),
        _ => "anything".into(),
    };
    let end = |key: &str, word: &str| schema[key].as_f64().map(|end| format!(" {word} {end}")).unwrap_or_default();
    let ends = [end("minimum", "from"), end("exclusiveMinimum", "over"), end("maximum", "to"), end("exclusiveMaximum", "under")].concat();
    escaped(&format!("{kinds}{ends}"))
}

/// A page with the house's look.
pub(crate) fn framed(title: &str, body: &str) -> String {
    format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <title>{}</title><style>{STYLE}</style></head><body><main>{body}</main></body></html>",
        escaped(title)
    )
}

const STYLE: &str = "body{font:1rem/1.5 system-ui,sans-serif;color:#1a1a1a;background:#fbfaf7;margin:0}\
main{max-width:60rem;margin:0 auto;padding:1.5rem}h1{font-size:1.5rem}h2{font-size:1.2rem;border-top:1px solid #999;padding-top:.8rem}\
summary{padding:.6rem 0;cursor:pointer}code{font-family:ui-monospace,monospace;overflow-wrap:anywhere}a{color:#0b4f8a}\
table{border-collapse:collapse;width:100%}th,td{border-bottom:1px solid #ccc;text-align:left;padding:.3rem .5rem;vertical-align:top}\
.caution{border-left:.4rem solid #a33b00;padding-left:.8rem}\
@media(prefers-color-scheme:dark){body{color:#eee;background:#161616}a{color:#8cc4ff}th,td{border-color:#444}}";

/// Text that can stand in a page.
pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;").replace('\'', "&#39;")
}
