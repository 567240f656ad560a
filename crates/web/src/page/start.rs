//! The shop: its jobs, and for an empty shop what this does, how to start a job, and demos to open.

use leptos::prelude::*;

use super::app::{App, PRACTICE, app};
use super::browser;
use super::demos::{DEMOS, Demo};
use crate::address::Place;

/// The start.
#[component]
pub fn Start() -> impl IntoView {
    let app = app();
    let jobs = Memo::new(move |_| app.jobs());
    view! {
        <div class="page start">
            {move || if jobs.with(Vec::is_empty) { view! { <Welcome/> }.into_any() } else { view! { <Jobs jobs/> }.into_any() }}
            <section aria-labelledby="demos">
                <h2 id="demos">"Open a demo"</h2>
                <p>"A whole job to look at, change and turn. It is kept on this device alone, as practice."</p>
                <ul class="demos">
                    {DEMOS.map(|demo| view! {
                        <li>
                            <button class="card" on:click=move |_| open(app, demo)>
                                <strong>{demo.title}</strong>
                                <span>{demo.hard}</span>
                            </button>
                        </li>
                    }).collect_view()}
                </ul>
            </section>
        </div>
    }
}

fn open(app: App, demo: Demo) {
    match demo.entries() {
        Ok((name, entries)) => {
            let place = Place::Job { job: name.clone(), seat: String::new(), stage: None, large: false }.written();
            if untrack(|| app.entries(&name)).is_empty() {
                app.write(entries, move |_| browser::go(&place));
            } else {
                browser::go(&place);
            }
        }
        Err(fault) => app.said.set(fault),
    }
}

/// What an empty shop sees.
#[component]
fn Welcome() -> impl IntoView {
    view! {
        <section class="welcome">
            <h1>"From a worn bush to a seated one"</h1>
            <p class="lead">"Give what you know of a bearing position: its duty, its bore as you read it, the housing around it. You get the size to turn to, the temperatures at which it holds and lets go, the way it goes in, the bore to finish to, and the chance that it all holds. Every figure says how sure it is and how it got there."</p>
            <ol class="road">
                <li><strong>"Brief, Measure, Alloy, Fit"</strong><span>"what it must stand, what size it is, what to make it of, how much larger"</span></li>
                <li><strong>"Stock, Turn, Seat, Bore"</strong><span>"the blank, the cuts one by one, the press or the cold, the running clearance"</span></li>
                <li><strong>"Release"</strong><span>"each requirement with its verdict, signed"</span></li>
            </ol>
            <p><a class="button main" href="#/new">"Start a job"</a></p>
        </section>
    }
}

#[component]
fn Jobs(jobs: Memo<Vec<String>>) -> impl IntoView {
    let app = app();
    view! {
        <section>
            <div class="headline"><h1>"Jobs"</h1><a class="button" href="#/new">"Start a job"</a></div>
            <ul class="jobs">
                <For each=move || jobs.get() key=|job| job.clone() let:job>
                    <Row job app/>
                </For>
            </ul>
        </section>
    }
}

#[component]
fn Row(job: String, app: App) -> impl IntoView {
    let practice = job.starts_with(PRACTICE);
    let place = Place::Job { job: job.clone(), seat: String::new(), stage: None, large: false }.written();
    let (of, to_forget) = (job.clone(), job.clone());
    let number = job.trim_start_matches(PRACTICE).to_owned();
    let (named, forgotten) = (number.clone(), number.clone());
    let state = Memo::new_with_compare(move |_| app.state(&of), |_, _| true);
    let seats = move || match state.get().seats.len() {
        1 => "1 seat".to_owned(),
        n => format!("{n} seats"),
    };
    view! {
        <li class="job">
            <a href=place aria-label=move || format!("Open {named}: {}", state.get().title)>
                <span class="number">{number.clone()}</span>
                <span class="text">{move || Some(state.get().title.clone()).filter(|title| !title.is_empty()).unwrap_or_else(|| "No title yet".into())}</span>
                <span class="soft">{move || state.get().customer.clone()}</span>
                <span class="soft">{seats}{practice.then_some(", practice on this device")}</span>
            </a>
            {practice.then(|| view! {
                <button class="plain" aria-label=format!("Take the practice job {forgotten} away") on:click=move |_| app.forget_practice(&to_forget)>"Take away"</button>
            })}
        </li>
    }
}
