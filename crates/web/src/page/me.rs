//! The person at this browser: name, device, units, theme.

use job::state::Units;
use leptos::prelude::*;

use super::account::Account;
use super::app::{Theme, app};

/// The person's page.
#[component]
pub fn Me() -> impl IntoView {
    let app = app();
    let person = app.person;
    let choice = move |on: bool| on.to_string();
    view! {
        <div class="page narrow">
            <h1>"You, at this browser"</h1>
            <Account/>
            <div class="field">
                <label for="who">"Your name"</label>
                <input id="who" autocomplete="name" maxlength="80" readonly=move || app.signed.with(Option::is_some) prop:value=move || person.with(|person| person.who.clone())
                    on:change=move |event| person.update(|person| person.who = event_target_value(&event).trim().to_owned())/>
                <p class="hint">{move || if app.signed.with(Option::is_some) { "As you are signed in: every entry says who wrote it." } else { "Every entry says who wrote it. On a tablet that is shared, say who you are when you take it." }}</p>
            </div>
            <div class="field">
                <label for="device">"This device"</label>
                <input id="device" maxlength="80" placeholder="tablet at the borer" prop:value=move || person.with(|person| person.device.clone())
                    on:change=move |event| person.update(|person| person.device = event_target_value(&event).trim().to_owned())/>
                <p class="hint">"Where entries are written, in words."</p>
            </div>
            <fieldset class="choices">
                <legend>"Units that you read in"</legend>
                <button aria-pressed=move || choice(person.with(|p| p.units.is_none())) on:click=move |_| person.update(|p| p.units = None)>"as the job says"</button>
                <button aria-pressed=move || choice(person.with(|p| p.units == Some(Units::Mm))) on:click=move |_| person.update(|p| p.units = Some(Units::Mm))>"mm, °C, kN"</button>
                <button aria-pressed=move || choice(person.with(|p| p.units == Some(Units::Inch))) on:click=move |_| person.update(|p| p.units = Some(Units::Inch))>"inch, °F, lbf"</button>
            </fieldset>
            <fieldset class="choices">
                <legend>"Theme"</legend>
                <button aria-pressed=move || choice(person.with(|p| p.theme == Theme::AsBrowser)) on:click=move |_| person.update(|p| p.theme = Theme::AsBrowser)>"as the browser"</button>
                <button aria-pressed=move || choice(person.with(|p| p.theme == Theme::Paper)) on:click=move |_| person.update(|p| p.theme = Theme::Paper)>"paper, for the office"</button>
                <button aria-pressed=move || choice(person.with(|p| p.theme == Theme::Floor)) on:click=move |_| person.update(|p| p.theme = Theme::Floor)>"floor: dark and larger"</button>
            </fieldset>
        </div>
    }
}
