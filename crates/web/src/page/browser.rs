//! What is asked of the browser: its clock, its random bits, its small settings, focus, width.

use std::cell::Cell;

use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::*;
use web_sys::{HtmlElement, Window};

use crate::writing::Moment;

/// The window; a worker has none.
pub fn window() -> Option<Window> {
    web_sys::window()
}

/// A clock that only goes forward, ms.
pub fn clock_ms() -> f64 {
    let performance = js_sys::Reflect::get(&js_sys::global(), &"performance".into()).ok();
    performance.and_then(|clock| clock.dyn_into::<web_sys::Performance>().ok()).map_or(0.0, |clock| clock.now())
}

/// Seconds since 1970 by the device's clock.
pub fn now_s() -> i64 {
    (js_sys::Date::now() / 1000.0) as i64
}

thread_local! {
    static LAST: Cell<u64> = const { Cell::new(0) };
}

/// A moment for an entry; two of one page are never the same millisecond, so that names keep the order of writing.
pub fn moment() -> Moment {
    let millis = LAST.with(|last| {
        let now = (js_sys::Date::now() as u64).max(last.get() + 1);
        last.set(now);
        now
    });
    let mut free = [0; 10];
    if let Some(crypto) = window().and_then(|window| window.crypto().ok()) {
        let _ = crypto.get_random_values_with_u8_array(&mut free);
    }
    Moment { millis, free }
}

/// A small setting of this browser.
pub fn setting(name: &str) -> Option<String> {
    window()?.local_storage().ok()??.get_item(name).ok()?
}

/// Keeps a small setting of this browser.
pub fn set(name: &str, value: &str) {
    if let Some(storage) = window().and_then(|window| window.local_storage().ok()).flatten() {
        let _ = storage.set_item(name, value);
    }
}

/// What stands behind the `#`.
pub fn hash() -> String {
    window().and_then(|window| window.location().hash().ok()).unwrap_or_default()
}

/// Goes to a place.
pub fn go(hash: &str) {
    if let Some(window) = window() {
        let _ = window.location().set_hash(hash);
    }
}

/// Width of the window, px.
pub fn width() -> f64 {
    window().and_then(|window| window.inner_width().ok()).and_then(|width| width.as_f64()).unwrap_or(1024.0)
}

/// Puts the focus on the element of this id, at the next turn of the browser.
pub fn focus(id: &str) {
    let id = id.to_owned();
    let found = Closure::once_into_js(move || {
        let element = window().and_then(|window| window.document()).and_then(|document| document.get_element_by_id(&id));
        if let Some(element) = element.and_then(|element| element.dyn_into::<HtmlElement>().ok()) {
            let _ = element.focus();
        }
    });
    if let Some(window) = window() {
        let _ = window.request_animation_frame(found.unchecked_ref());
    }
}

/// Brings the element of this id into sight and puts the focus on it.
pub fn scroll_to(id: &str) {
    let element = window().and_then(|window| window.document()).and_then(|document| document.get_element_by_id(id));
    if let Some(element) = element.and_then(|element| element.dyn_into::<HtmlElement>().ok()) {
        element.scroll_into_view();
        let _ = element.focus();
    }
}

/// Goes to the top of the page.
pub fn to_top() {
    if let Some(window) = window() {
        window.scroll_to_with_x_and_y(0.0, 0.0);
    }
}

/// Calls `what` at every event of this name on the window, for as long as the page lives.
pub fn at_every(name: &str, what: impl FnMut() + 'static) {
    let closure = Closure::<dyn FnMut()>::new(what);
    if let Some(window) = window() {
        let _ = window.add_event_listener_with_callback(name, closure.as_ref().unchecked_ref());
    }
    closure.forget();
}

/// Calls `what` every `ms`, for as long as the page lives.
pub fn every(ms: i32, what: impl FnMut() + 'static) {
    let closure = Closure::<dyn FnMut()>::new(what);
    if let Some(window) = window() {
        let _ = window.set_interval_with_callback_and_timeout_and_arguments_0(closure.as_ref().unchecked_ref(), ms);
    }
    closure.forget();
}

/// Whether the page is in sight.
pub fn is_seen() -> bool {
    window().and_then(|window| window.document()).is_none_or(|document| !document.hidden())
}

/// Whether the browser lets this page keep itself for when there is no network.
pub fn is_secure() -> bool {
    js_sys::Reflect::get(&js_sys::global(), &"isSecureContext".into()).is_ok_and(|flag| flag.is_truthy())
}

/// Whether a secure connection was asked of the browser: `navigator.serviceWorker` is there.
pub fn has_service_worker() -> bool {
    let navigator = js_sys::Reflect::get(&js_sys::global(), &"navigator".into());
    is_secure() && navigator.is_ok_and(|navigator| js_sys::Reflect::has(&navigator, &"serviceWorker".into()).unwrap_or(false))
}

/// Asks the browser once not to clear what is kept here when its disk runs short.
pub fn ask_to_keep() {
    if !is_secure() {
        return;
    }
    if let Some(window) = window() {
        let _ = window.navigator().storage().persist();
    }
}

/// Puts an attribute on the root element.
pub fn on_root(name: &str, value: &str) {
    if let Some(root) = window().and_then(|window| window.document()).and_then(|document| document.document_element()) {
        let _ = root.set_attribute(name, value);
    }
}

/// The title of the window.
pub fn title(text: &str) {
    if let Some(document) = window().and_then(|window| window.document()) {
        document.set_title(text);
    }
}
