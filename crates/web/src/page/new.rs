//! A new job: its number, title and seats; everything else is asked where it is needed.

use job::entry::{Entry, Scope, What};
use job::state::{Given, Units};
use leptos::prelude::*;

use super::app::{App, app};
use super::browser;
use crate::address::Place;
use crate::writing;

/// The page of a new job.
#[component]
pub fn NewJob() -> impl IntoView {
    let app = app();
    let (number, title, customer) = (RwSignal::new(String::new()), RwSignal::new(String::new()), RwSignal::new(String::new()));
    let seats = RwSignal::new("seat 1".to_owned());
    let inch = RwSignal::new(app.person.with_untracked(|person| person.units == Some(Units::Inch)));
    let fault = RwSignal::new(None::<String>);
    let go = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let asked = Asked { number: number.get(), title: title.get(), customer: customer.get(), seats: seats.get(), inch: inch.get() };
        match first_entries(app, &asked) {
            Ok(entries) => {
                let place = Place::Job { job: asked.number.trim().to_owned(), seat: String::new(), stage: None, large: false }.written();
                app.write(entries, move |_| browser::go(&place));
            }
            Err(sentence) => {
                fault.set(Some(sentence));
                browser::focus("job-number");
            }
        }
    };
    view! {
        <form class="page narrow" on:submit=go novalidate=true>
            <h1>"Start a job"</h1>
            {move || fault.get().map(|fault| view! { <p class="bad" role="alert" id="job-fault">{fault}</p> })}
            <div class="field">
                <label for="job-number">"Job number"</label>
                <input id="job-number" maxlength="60" aria-describedby="job-number-why" prop:value=number on:input=move |event| number.set(event_target_value(&event))/>
                <p class="hint" id="job-number-why">"As your shop numbers its jobs; it stands on every sheet. Example: W-2611."</p>
            </div>
            <div class="field">
                <label for="job-title">"What the job is"</label>
                <input id="job-title" maxlength="200" prop:value=title on:input=move |event| title.set(event_target_value(&event))/>
                <p class="hint">"In a few words: machine and position. It can be changed later."</p>
            </div>
            <div class="field">
                <label for="job-customer">"Whose machine"</label>
                <input id="job-customer" maxlength="200" prop:value=customer on:input=move |event| customer.set(event_target_value(&event))/>
            </div>
            <div class="field">
                <label for="job-seats">"Seats, one on a line"</label>
                <textarea id="job-seats" rows="3" aria-describedby="job-seats-why" prop:value=seats on:input=move |event| seats.set(event_target_value(&event))></textarea>
                <p class="hint" id="job-seats-why">"A seat is one bearing position. Behind a name, x 24 makes 24 alike. 60 at most in one job."</p>
            </div>
            <fieldset class="choices">
                <legend>"A bare number in this job is in"</legend>
                <button type="button" aria-pressed=move || (!inch.get()).to_string() on:click=move |_| inch.set(false)>"mm, °C, kN"</button>
                <button type="button" aria-pressed=move || inch.get().to_string() on:click=move |_| inch.set(true)>"inch, °F, lbf"</button>
            </fieldset>
            <p><button class="button main" type="submit">"Start the job"</button></p>
        </form>
    }
}

struct Asked {
    number: String,
    title: String,
    customer: String,
    seats: String,
    inch: bool,
}

fn first_entries(app: App, asked: &Asked) -> Result<Vec<Entry>, String> {
    let number = asked.number.trim();
    if number.is_empty() {
        return Err("the job number is empty; allowed: a few letters and figures; type it like W-2611".into());
    }
    if !untrack(|| app.entries(number)).is_empty() {
        return Err(format!("the job number is {number:?}; allowed: one that no job has yet; open that job, or type another number"));
    }
    let seats: Vec<(String, Option<f64>)> = asked.seats.lines().filter_map(row).collect();
    if seats.is_empty() {
        return Err("the seats are empty; allowed: one name or more; type the bearing position, as in drive end".into());
    }
    let text = |text: &str| Given::Text(text.trim().to_owned());
    let mut facts = vec![(Scope::Job, "job.number", text(number)), (Scope::Job, "job.units", text(if asked.inch { "inch" } else { "mm" }))];
    for (path, given) in [("job.title", &asked.title), ("job.customer", &asked.customer)] {
        if !given.trim().is_empty() {
            facts.push((Scope::Job, path, text(given)));
        }
    }
    for (name, count) in seats {
        let scope = Scope::Seat(name);
        facts.push((scope.clone(), "seat.brief", text("main")));
        if let Some(count) = count {
            facts.push((scope, "seat.count", Given::Figure { value: count, u: 0.0 }));
        }
    }
    let pen = app.pen();
    let mut entries: Vec<Entry> = Vec::new();
    for (scope, path, value) in facts {
        let what = What::Fact { about: path.to_owned(), value };
        let follows = entries.last().map(|entry| entry.id);
        entries.push(writing::entry(&pen, browser::moment(), number, scope, follows, what));
    }
    match entries.iter().find_map(|entry| entry.checked().err()) {
        Some(refused) => Err(refused.to_string()),
        None => Ok(entries),
    }
}

/// A seat of a line: `gate vane x 24`.
fn row(line: &str) -> Option<(String, Option<f64>)> {
    let line = line.trim();
    if line.is_empty() {
        return None;
    }
    match line.rsplit_once(" x ").and_then(|(name, count)| Some((name.trim().to_owned(), count.trim().parse::<f64>().ok()?))) {
        Some((name, count)) if !name.is_empty() => Some((name, Some(count))),
        _ => Some((line.to_owned(), None)),
    }
}
