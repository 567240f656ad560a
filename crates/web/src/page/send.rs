//! On the way to the server and back: what was written here is sent in order, what others wrote is brought, other tabs are told.
//!
//! Everything may be sent twice (`job::sync`), so two tabs need no agreement about who sends.

use std::cell::{Cell, RefCell};

use job::kept::Altered;
use job::sync::{Answer, MOST};
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{BroadcastChannel, RequestInit, Response};

use super::app::App;
use super::browser;
use super::keep::words;
use crate::light::Server;

/// How often the server is asked for what others wrote, ms: what one records is with the other within two seconds.
const ASK_EVERY_MS: i32 = 1500;
/// How long a request may take, ms: a dead network must not hold up the next try.
const PATIENCE_MS: u32 = 8000;

thread_local! {
    static UNDER_WAY: Cell<bool> = const { Cell::new(false) };
    static AGAIN: Cell<bool> = const { Cell::new(false) };
    static CHANNEL: RefCell<Option<BroadcastChannel>> = const { RefCell::new(None) };
}

/// Begins to send, to ask, and to listen to other tabs.
pub fn begin(app: App) {
    if let Ok(channel) = BroadcastChannel::new("bushwright") {
        let heard = Closure::<dyn FnMut()>::new(move || spawn_local(app.read_again()));
        channel.set_onmessage(Some(heard.as_ref().unchecked_ref()));
        heard.forget();
        CHANNEL.set(Some(channel));
    }
    soon(app);
    browser::every(ASK_EVERY_MS, move || {
        if browser::is_seen() && app.light.with_untracked(|light| light.server != Server::None) {
            soon(app);
        }
    });
    browser::at_every("online", move || soon(app));
}

/// Tells the other tabs of this browser that something was kept.
pub fn tell_other_tabs() {
    CHANNEL.with_borrow(|channel| {
        if let Some(channel) = channel {
            let _ = channel.post_message(&JsValue::TRUE);
        }
    });
}

/// Sends as soon as nothing else is under way.
pub fn soon(app: App) {
    if UNDER_WAY.replace(true) {
        AGAIN.set(true);
        return;
    }
    spawn_local(async move {
        loop {
            AGAIN.set(false);
            let more = once(app).await;
            if !more && !AGAIN.get() {
                break;
            }
        }
        UNDER_WAY.set(false);
    });
}

/// One request and its answer; says whether there is more to send or to bring.
async fn once(app: App) -> bool {
    let ask = app.device.with_value(|device| device.ask(MOST));
    let offers = ask.offers.len();
    app.light.update(|light| light.sending = offers > 0);
    let answered = posted("/api/sync", &serde_json::to_string(&ask).unwrap_or_default()).await;
    let more = match answered {
        Ok(text) => match serde_json::from_str::<Answer>(&text) {
            Ok(answer) => taken_in(app, &answer).await,
            Err(_) => {
                app.light.update(|light| light.server = Server::None);
                false
            }
        },
        Err(server) => {
            if app.light.with_untracked(|light| light.server != server) {
                app.light.update(|light| light.server = server);
            }
            false
        }
    };
    if app.light.with_untracked(|light| light.sending) {
        app.light.update(|light| light.sending = false);
    }
    more
}

/// Takes an answer in: on the browser's disk first, then on the screen.
async fn taken_in(app: App, answer: &Answer) -> bool {
    if app.light.with_untracked(|light| light.server != Server::There) {
        app.light.update(|light| light.server = Server::There);
    }
    if let Some(disk) = app.disk.get_value() {
        let mut done = disk.bring(&answer.lacks).await;
        for job in &answer.behind {
            let chain = app.device.with_value(|device| device.chain(job).to_vec());
            if done.is_ok() {
                done = disk.start_over(&chain).await;
            }
        }
        if let Err(fault) = done {
            app.light.update(|light| light.fault = Some(fault));
            return false;
        }
    }
    let taken = app.device.try_update_value(|device| device.take(answer));
    if let Some(Err(altered)) = taken {
        return read_anew(app, &altered).await;
    }
    if !(answer.lacks.is_empty() && answer.behind.is_empty() && answer.refused.is_empty() && answer.taken.is_empty()) {
        app.moved();
        tell_other_tabs();
    }
    answer.on.is_some() || !answer.behind.is_empty() || !answer.taken.is_empty()
}

/// The shop's record of a job goes on otherwise than the one that was brought: it was put back to an older state and written on. What is
/// here goes back on the pile, is offered again, and the job is brought anew; a record that can't be checked even then is a fault.
async fn read_anew(app: App, altered: &Altered) -> bool {
    let chain = app.device.with_value(|device| device.chain(&altered.job).to_vec());
    let done = match app.disk.get_value() {
        _ if chain.is_empty() => Err(altered.to_string()),
        Some(disk) => disk.start_over(&chain).await,
        None => Ok(()),
    };
    if let Err(fault) = done {
        app.light.update(|light| light.fault = Some(fault));
        return false;
    }
    app.device.update_value(|device| device.start_over(&altered.job));
    app.said.set(format!(
        "The shop's record of job {} is not the one that this device had: it was put back and written on. It is read anew; everything that \
         was here is kept and offered again.",
        altered.job
    ));
    app.moved();
    true
}

/// Posts JSON; the text of the answer, or what is to be thought of the server.
pub async fn posted(place: &str, body: &str) -> Result<String, Server> {
    requested("POST", place, Some(body)).await.map_err(|(server, _)| server)
}

/// A request to the server: the text of its answer, or what is to be thought of it and what it said.
pub async fn requested(method: &str, place: &str, body: Option<&str>) -> Result<String, (Server, String)> {
    let init = RequestInit::new();
    init.set_method(method);
    if let Some(body) = body {
        init.set_body(&body.into());
        let headers = web_sys::Headers::new().map_err(|fault| (Server::Away, words(&fault)))?;
        let _ = headers.set("Content-Type", "application/json");
        init.set_headers(&headers);
    }
    init.set_signal(Some(&web_sys::AbortSignal::timeout_with_u32(PATIENCE_MS)));
    let away = |fault: JsValue| (Server::Away, words(&fault));
    let window = browser::window().ok_or((Server::None, String::new()))?;
    let response: Response = JsFuture::from(window.fetch_with_str_and_init(place, &init)).await.map_err(away)?.unchecked_into();
    let text = JsFuture::from(response.text().map_err(away)?).await.map_err(away)?.as_string().unwrap_or_default();
    match response.status() {
        200..=299 => Ok(text),
        401 | 403 => Err((Server::SignIn, text)),
        // Nobody answers to this name here, or only files are served.
        404 | 405 | 501 => Err((Server::None, text)),
        _ => Err((Server::Away, text)),
    }
}
