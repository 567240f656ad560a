//! Release: who answers for it, as what, over which head of the record.

use job::chain;
use job::entry::{ROLES, Scope, What};
use leptos::prelude::*;

use super::app::app;
use super::sheet::open;

/// Signatures so far, and the one that is given here.
#[component]
pub fn Sign() -> impl IntoView {
    let open = open();
    let app = app();
    let fault = RwSignal::new(None::<String>);
    let whole = RwSignal::new(false);
    let signed = Memo::new(move |_| open.state.with(|state| state.signatures.clone()));
    let give = move |role: &'static str| {
        if app.person.with_untracked(|person| person.who.is_empty()) {
            fault.set(Some("the name is empty; allowed: who you are; say it under who, at the top".into()));
            return;
        }
        fault.set(None);
        let entries = untrack(|| open.entries.get());
        let head = chain::head(&job::fold::ordered(&entries));
        let scope = if whole.get_untracked() { Scope::Job } else { open.own() };
        open.record(scope, What::Signature { role: role.to_owned(), head });
    };
    view! {
        <div class="group sign">
            <h3>"Signatures"</h3>
            {move || match signed.get() {
                signed if signed.is_empty() => view! { <p class="soft">"Nobody has signed yet."</p> }.into_any(),
                signed => view! {
                    <ul>{signed.into_iter().map(|signed| {
                        let of = signed.seat.map_or_else(|| "the whole job".to_owned(), |seat| format!("seat {seat}"));
                        let after = if signed.reopened { ", opened again by what was written after it" } else { "" };
                        view! { <li><strong>{format!("{} {}", signed.role, of)}</strong>{format!(" by {}, {}{after}", signed.who, signed.day)}</li> }
                    }).collect_view()}</ul>
                }.into_any(),
            }}
            <label class="tick"><input type="checkbox" prop:checked=whole on:change=move |event| whole.set(event_target_checked(&event))/>" for the whole job, instead of this seat alone"</label>
            <p class="bad" role="alert">{move || fault.get()}</p>
            <div class="do">
                {ROLES.iter().map(|role| view! { <button class="button" on:click=move |_| give(role)>{format!("Sign as {role}")}</button> }).collect_view()}
                <button class="button" on:click=move |_| { if let Some(window) = super::browser::window() { let _ = window.print(); } }>"Print this page"</button>
            </div>
            <p class="hint">"A signature answers for everything that stands above it. What is written afterwards opens the record again, in plain sight."</p>
        </div>
    }
}
