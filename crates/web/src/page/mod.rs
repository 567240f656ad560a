//! The screens: the frame around every place, and which screen a place shows.

mod account;
mod app;
mod back;
mod browser;
mod clock;
mod decide;
mod demos;
mod frame;
mod give;
mod job;
mod keep;
mod lathe;
mod me;
mod new;
mod papers;
mod part;
mod picture;
mod pressed;
mod readings;
mod release;
mod seats;
mod send;
mod sheet;
mod shop;
mod stage;
mod start;
mod tried;
mod unfold;
mod workers;

use std::cell::RefCell;

use leptos::prelude::*;
use wasm_bindgen::prelude::wasm_bindgen;

use crate::address::Place;
use crate::errand::Desk;
use app::App;
use unfold::Unfolded;

thread_local! {
    static DESK: RefCell<Desk> = RefCell::default();
}

/// Starts the app in the page.
#[wasm_bindgen]
pub fn begin() {
    // Whoever looks into the browser's console after a fault of ours finds where it was.
    std::panic::set_hook(Box::new(|fault| web_sys::console::error_1(&fault.to_string().into())));
    mount_to_body(Whole);
}

/// Does one errand in the worker: its JSON in, the answer's JSON out, both as bytes, since a browser's own texts take twice the room and
/// are made anew at each end; empty when it can't be read.
#[wasm_bindgen]
pub fn errand(text: &[u8]) -> Vec<u8> {
    let Ok(asked) = serde_json::from_slice(text) else { return Vec::new() };
    let start = browser::clock_ms();
    let mut done = DESK.with_borrow_mut(|desk| desk.run(asked));
    done.took_ms = browser::clock_ms() - start;
    serde_json::to_vec(&done).unwrap_or_default()
}

#[component]
fn Whole() -> impl IntoView {
    let app = App::start();
    provide_context(app);
    // It outlives every screen: what a screen provides is found by the next one when it is gone.
    let unfolded = Unfolded::new();
    provide_context(unfolded);
    // The kind of place alone: going from stage to stage must not make the job's screen anew.
    let kind = Memo::new(move |_| match app.place.get() {
        Place::Job { job, .. } => Place::Job { job, seat: String::new(), stage: None, large: false },
        other => other,
    });
    view! {
        <style inner_html=draw::THEME></style>
        <a class="skip" href="#main" on:click=move |event| { event.prevent_default(); browser::focus("main"); }>"Skip to the work"</a>
        <frame::Frame/>
        <main id="main" tabindex="-1">
            {move || { unfolded.fold(); match (app.ready.get(), kind.get()) {
                (false, _) => view! { <p class="wait">"Opening what is kept here."</p> }.into_any(),
                (_, Place::Start) => view! { <start::Start/> }.into_any(),
                (_, Place::NewJob) => view! { <new::NewJob/> }.into_any(),
                (_, Place::Me) => view! { <me::Me/> }.into_any(),
                (_, Place::Owner(code)) => view! { <account::FirstOwner code/> }.into_any(),
                (_, Place::Shop) => view! { <shop::ShopView/> }.into_any(),
                (_, Place::LookingBack) => view! { <back::LookingBack/> }.into_any(),
                (_, Place::Job { .. }) => view! { <job::Job/> }.into_any(),
            }}}
        </main>
    }
}
