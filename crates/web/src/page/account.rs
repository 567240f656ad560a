//! Signing in at the shop's server, and the first owner of a new shop.
//!
//! Without the server everything goes on: entries are kept here under the name that the person gave, and are taken when somebody of that
//! name signs in.

use leptos::prelude::*;
use serde_json::{Value, json};
use wasm_bindgen_futures::spawn_local;

use super::app::{App, Signed, app};
use super::{browser, send};
use crate::light::Server;

/// Asks the server who is signed in here.
pub async fn who(app: App) {
    match send::requested("GET", "/api/session", None).await {
        Ok(text) => signed_in(app, &text),
        Err((server, _)) => {
            if server == Server::SignIn {
                app.signed.set(None);
            }
            app.light.update(|light| light.server = server);
        }
    }
}

fn signed_in(app: App, text: &str) {
    if let Ok(signed) = serde_json::from_str::<Signed>(text) {
        app.person.update(|person| person.who.clone_from(&signed.name));
        app.signed.set(Some(signed));
        app.light.update(|light| light.server = Server::There);
    }
}

/// The sentence of a refusal, as the server said it.
fn sentence(server: Server, text: &str) -> String {
    let said = serde_json::from_str::<Value>(text).ok().and_then(|said| {
        let part = |key: &str| said.pointer(&format!("/error/{key}")).and_then(Value::as_str).unwrap_or_default();
        let parts = said.get("error").map(|_| calc::Refused::new(part("key"), part("given"), part("allowed"), part("do")).to_string());
        parts.or_else(|| said.get("says").and_then(Value::as_str).map(str::to_owned))
    });
    match said {
        Some(said) => said,
        None if server == Server::Away => "The server can't be reached. What you write is kept here; sign in when it is back.".into(),
        None => "The server refused it without a word; look at its log.".into(),
    }
}

/// Who is signed in, or the form to sign in, and what the server would not take.
#[component]
pub fn Account() -> impl IntoView {
    let app = app();
    let (name, password) = (RwSignal::new(app.person.with_untracked(|person| person.who.clone())), RwSignal::new(String::new()));
    let fault = RwSignal::new(None::<String>);
    let there = move || app.light.with(|light| light.server != Server::None);
    let go = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let body = json!({"name": name.get().trim(), "password": password.get()}).to_string();
        spawn_local(async move {
            match send::requested("POST", "/api/session", Some(&body)).await {
                Ok(text) => {
                    signed_in(app, &text);
                    fault.set(None);
                    password.set(String::new());
                    if app.signed.with_untracked(Option::is_none) {
                        who(app).await;
                    }
                    send::soon(app);
                }
                Err((server, text)) => fault.set(Some(sentence(server, &text))),
            }
        });
    };
    let leave = move |_| {
        spawn_local(async move {
            let _ = send::requested("DELETE", "/api/session", None).await;
            app.signed.set(None);
            who(app).await;
        });
    };
    let refused = Memo::new(move |_| {
        app.revision.track();
        app.device.with_value(|device| device.refused.iter().map(|refused| refused.why.clone()).collect::<Vec<_>>())
    });
    view! {
        {move || there().then(|| match app.signed.get() {
            Some(signed) => view! {
                <section class="group">
                    <p>{format!("Signed in as {}", signed.name)}{(!signed.roles.is_empty()).then(|| format!(" ({})", signed.roles.join(", ")))}"."</p>
                    <p><button class="button" on:click=leave>"Sign out"</button></p>
                </section>
            }.into_any(),
            None => view! {
                <form class="group" on:submit=go novalidate=true aria-label="Sign in">
                    <p>"Sign in, and what you write is sent to your shop. Until then it is kept here."</p>
                    <div class="field"><label for="sign-name">"Name"</label>
                        <input id="sign-name" autocomplete="username" maxlength="80" prop:value=name on:input=move |event| name.set(event_target_value(&event))/></div>
                    <div class="field"><label for="sign-password">"Password"</label>
                        <input id="sign-password" type="password" autocomplete="current-password" maxlength="200" prop:value=password on:input=move |event| password.set(event_target_value(&event))/></div>
                    <p class="bad" role="alert">{move || fault.get()}</p>
                    <p><button class="button main" type="submit">"Sign in"</button></p>
                </form>
            }.into_any(),
        })}
        {move || match refused.get() {
            refused if refused.is_empty() => ().into_any(),
            refused => view! {
                <section class="group">
                    <h2>"Not taken by the server, kept here"</h2>
                    <ul>{refused.into_iter().map(|why| view! { <li class="need">{why}</li> }).collect_view()}</ul>
                </section>
            }.into_any(),
        }}
    }
}

/// The first owner of a new shop.
#[component]
pub fn FirstOwner(code: String) -> impl IntoView {
    let app = app();
    let (code, name, password) = (RwSignal::new(code), RwSignal::new(String::new()), RwSignal::new(String::new()));
    let fault = RwSignal::new(None::<String>);
    let go = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let body = json!({"code": code.get().trim(), "name": name.get().trim(), "password": password.get()}).to_string();
        spawn_local(async move {
            match send::requested("POST", "/api/owner", Some(&body)).await {
                Ok(_) => {
                    who(app).await;
                    send::soon(app);
                    browser::go("#/");
                }
                Err((server, text)) => fault.set(Some(sentence(server, &text))),
            }
        });
    };
    view! {
        <form class="page narrow" on:submit=go novalidate=true>
            <h1>"This shop is yours"</h1>
            <p class="lead">"A new shop has no people yet. Whoever has the code that the server printed makes the first account, and can then add the others."</p>
            <div class="field"><label for="owner-code">"Code"</label>
                <input id="owner-code" autocomplete="off" maxlength="80" prop:value=code on:input=move |event| code.set(event_target_value(&event))/>
                <p class="hint">"It stands where the server was started, and holds for a day."</p></div>
            <div class="field"><label for="owner-name">"Your name"</label>
                <input id="owner-name" autocomplete="username" maxlength="60" prop:value=name on:input=move |event| name.set(event_target_value(&event))/>
                <p class="hint">"Every entry is signed with it."</p></div>
            <div class="field"><label for="owner-password">"A password"</label>
                <input id="owner-password" type="password" autocomplete="new-password" maxlength="200" prop:value=password on:input=move |event| password.set(event_target_value(&event))/>
                <p class="hint">"10 letters or more; three words that do not belong together are easy to keep."</p></div>
            <p class="bad" role="alert">{move || fault.get()}</p>
            <p><button class="button main" type="submit">"Make it mine"</button></p>
        </form>
    }
}
