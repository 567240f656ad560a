//! The frame: a title block as on a drawing, with the job, the units, the person and the save light.

use job::state::Units;
use leptos::prelude::*;

use super::app::{App, PRACTICE, Theme, app};
use super::browser;
use crate::address::Place;

/// The title block.
#[component]
pub fn Frame() -> impl IntoView {
    let app = app();
    let open = move || match app.place.get() {
        Place::Job { job, .. } => Some(job),
        _ => None,
    };
    let of_job = Memo::new(move |_| {
        open().map(|job| {
            let state = app.state(&job);
            let number = if state.number.is_empty() { job.trim_start_matches(PRACTICE).to_owned() } else { state.number.clone() };
            (number, state.title.clone(), state.customer.clone(), job.starts_with(PRACTICE), state.units)
        })
    });
    Effect::new(move || {
        browser::title(&match of_job.get() {
            Some((number, title, ..)) => format!("{number} {title} - Bushwright"),
            None => "Bushwright".into(),
        });
    });
    view! {
        <header class="block">
            <a class="cell home" href="#/" aria-label="Bushwright, all jobs">
                <svg viewBox="0 0 32 32" width="32" height="32" aria-hidden="true">
                    <circle cx="16" cy="16" r="13.5" fill="none" stroke="currentColor" stroke-width="1.5"/>
                    <circle cx="16" cy="16" r="8" fill="none" stroke="currentColor" stroke-width="3"/>
                    <path d="M0 16H32M16 0V32" stroke="currentColor" stroke-width=".75" stroke-dasharray="7 2 1 2"/>
                </svg>
                <span class="word">"Bushwright"</span>
            </a>
            {move || of_job.get().map(|(number, title, customer, practice, _)| view! {
                <div class="cell job">
                    <span class="tag">{if practice { "practice job" } else { "job" }}</span>
                    <span class="number">{number}</span>
                </div>
                <div class="cell title">
                    <span class="tag">{if customer.is_empty() { "title".to_owned() } else { customer }}</span>
                    <span class="text">{if title.is_empty() { "No title yet".to_owned() } else { title }}</span>
                </div>
            })}
            <div class="cell units" role="group" aria-label="Units that you read in">
                <UnitButton units=Units::Mm word="mm" of_job/>
                <UnitButton units=Units::Inch word="inch" of_job/>
            </div>
            <button class="cell theme" on:click=move |_| next_theme(app)>
                <span class="tag">"theme"</span>
                <span>{move || theme_word(app.person.with(|person| person.theme))}</span>
            </button>
            <a class="cell who" href="#/me">
                <span class="tag">"who"</span>
                <span>{move || app.person.with(|person| if person.who.is_empty() { "say who".to_owned() } else { person.who.clone() })}</span>
            </a>
            <Light/>
        </header>
        <Places/>
        {(!browser::has_service_worker()).then(|| view! {
            <p class="strip">"This page was not served securely, so it can't open itself without the network. What you write is kept on this device all the same. Ask the office for the secure address."</p>
        })}
        {move || app.light.with(|light| light.fault.clone()).map(|fault| view! {
            <p class="strip needs" role="alert">{format!("This browser could not keep what was written: {fault}. Copy what you typed before you close the page.")}</p>
        })}
        {move || Some(app.said.get()).filter(|said| !said.is_empty()).map(|said| view! {
            <p class="strip needs" role="alert">{said}" "<button class="plain" on:click=move |_| app.said.set(String::new())>"Put away"</button></p>
        })}
    }
}

/// Where one can go in the shop; inside a job its stages take this place.
#[component]
fn Places() -> impl IntoView {
    let app = app();
    let kind = Memo::new(move |_| match app.place.get() {
        Place::Job { .. } => None,
        place => Some(place),
    });
    let places = [(Place::Start, "Jobs"), (Place::Shop, "Shop"), (Place::LookingBack, "Looking back")];
    view! {
        <Show when=move || kind.with(Option::is_some)>
            <nav class="places" aria-label="The shop">
                {places.clone().map(|(place, words)| {
                    let href = place.written();
                    view! { <a href=href aria-current=move || (kind.get().as_ref() == Some(&place)).then_some("page")>{words}</a> }
                }).collect_view()}
            </nav>
        </Show>
    }
}

#[component]
fn UnitButton(units: Units, word: &'static str, of_job: Memo<Option<(String, String, String, bool, Units)>>) -> impl IntoView {
    let app = app();
    let is_on = move || app.units(of_job.get().map_or(Units::Mm, |job| job.4)) == units;
    view! {
        <button aria-pressed=move || is_on().to_string() on:click=move |_| app.person.update(|person| person.units = Some(units))>{word}</button>
    }
}

#[component]
fn Light() -> impl IntoView {
    let app = app();
    let practice = move || app.place.with(|place| matches!(place, Place::Job { job, .. } if job.starts_with(PRACTICE)));
    let words = move || {
        let (mark, words) = app.light.with(crate::light::Light::words);
        let calm = app.light.with(|light| light.fault.is_none() && light.writing == 0);
        if practice() && calm { ("●", "kept here, practice".to_owned()) } else { (mark, words) }
    };
    view! {
        <div class="cell light" role="status" aria-live="polite">
            <span class="mark" aria-hidden="true">{move || words().0}</span>
            <span>{move || words().1}</span>
        </div>
    }
}

const fn theme_word(theme: Theme) -> &'static str {
    match theme {
        Theme::AsBrowser => "as browser",
        Theme::Paper => "paper",
        Theme::Floor => "floor",
    }
}

fn next_theme(app: App) {
    app.person.update(|person| {
        person.theme = match person.theme {
            Theme::AsBrowser => Theme::Floor,
            Theme::Floor => Theme::Paper,
            Theme::Paper => Theme::AsBrowser,
        };
    });
}
