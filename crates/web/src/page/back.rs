//! Looking back: predicted against measured over past jobs, and what is believed of each lathe because of it. Found by a worker.

use std::cell::OnceCell;
use std::sync::Arc;

use job::entry::{Entry, What};
use job::state::Units;
use leptos::prelude::*;

use super::app::{App, PRACTICE, app};
use super::picture::{Picture, Table};
use super::workers::{Hand, Slot, Wish};
use crate::errand::{Done, Errand, Looked, Past};

thread_local! {
    // One worker for as long as the page is open: going to and fro starts no further ones.
    static HAND: OnceCell<Hand> = const { OnceCell::new() };
}

/// Widest that a chart is drawn, px.
const WIDEST: f64 = 760.0;

/// The jobs that are looked at: those of the shop, or practice jobs where there are no others.
fn looked_at(app: App) -> (Vec<String>, bool) {
    let (practice, own): (Vec<String>, Vec<String>) = app.jobs().into_iter().partition(|job| job.starts_with(PRACTICE));
    if own.is_empty() { (practice, true) } else { (own, false) }
}

/// The entries of a job with what is lent to it: behind them the registers of the shop, and the steps at the lathe of other jobs.
pub fn lent(app: App, job: &str, own: &[Entry]) -> Vec<Entry> {
    let practice = job.starts_with(PRACTICE);
    let others = app.jobs().into_iter().filter(|other| other != job && other.starts_with(PRACTICE) == practice);
    let of_lathe = |entry: &Entry| match &entry.what {
        What::Lathe { .. } => true,
        What::Correction { with, .. } => matches!(**with, What::Lathe { .. }),
        _ => false,
    };
    let steps = others.flat_map(|other| app.entries(&other)).filter(of_lathe);
    own.iter().cloned().chain(app.entries("")).chain(steps).collect()
}

/// The screen.
#[component]
pub fn LookingBack() -> impl IntoView {
    let app = app();
    let found = RwSignal::new(None::<Arc<Past>>);
    let practice = Memo::new(move |_| looked_at(app).1);
    let any = Memo::new(move |_| !looked_at(app).0.is_empty());
    Effect::new(move || {
        let jobs = looked_at(app).0;
        let mut entries: Vec<Entry> = jobs.iter().flat_map(|job| app.entries(job)).collect();
        entries.extend(app.entries(""));
        let width = (app.width.get() - 40.0).min(WIDEST);
        let errand = Errand { units: app.units(Units::Mm), width: Some(width), section_width: width, past: true, ..Errand::default() };
        let then = Box::new(move |done: Done| found.set(done.past.map(Arc::new)));
        HAND.with(|hand| hand.get_or_init(Hand::new).ask(Slot::Recorded, Wish { entries: Arc::new(entries), errand, then }));
    });
    view! {
        <div class="page back">
            <h1>"Looking back"</h1>
            <p class="lead">"How good the predictions were, job by job, and what is believed of your machines because of it."</p>
            {move || (practice.get() && any.get()).then(|| view! { <p class="note">"There are practice jobs alone on this device, so these are looked at."</p> })}
            {move || match (any.get(), found.get()) {
                (false, _) => nothing(),
                (_, None) => view! { <p class="soft" role="status">"Going through the jobs."</p> }.into_any(),
                (_, Some(past)) => whole(&past),
            }}
        </div>
    }
}

fn nothing() -> AnyView {
    view! {
        <p>"There is no job on this device yet. Once a bush was measured after it was turned, and its bore before and after it went in, its figures stand here beside what was predicted."</p>
        <p><a class="button" href="#/">"Go to the jobs"</a></p>
    }
    .into_any()
}

fn whole(past: &Past) -> AnyView {
    let parts = past.compared.iter().cloned().map(one).collect_view();
    let lathes = match past.lathes.as_slice() {
        [] => view! { <p class="soft">"Nothing yet. Name the lathe in a job and turn its bush by the commands of Turn: each part that is finished teaches heat, cooling, deflection and wear of that lathe, and the next part starts with it."</p> }.into_any(),
        grids => grids.iter().cloned().map(|grid| view! { <Table grid/> }).collect_view().into_any(),
    };
    view! {
        {parts}
        <section aria-labelledby="lathes" class="part">
            <h2 id="lathes">"What is believed of each lathe"</h2>
            {lathes}
        </section>
    }
    .into_any()
}

fn one(looked: Looked) -> AnyView {
    let Looked { title, about, said, picture, by } = looked;
    let id = format!("back-{}", title.to_lowercase().replace(' ', "-"));
    let empty = said.is_none();
    view! {
        <section aria-labelledby=id.clone() class="part">
            <h2 id=id.clone()>{title}</h2>
            {said.map(|said| view! { <p class="answer">{said}</p> })}
            <p class="soft">{capital(&about)}</p>
            {empty.then(|| view! { <p class="soft">"No seat has both figures yet."</p> })}
            {picture.map(|shown| view! { <Picture shown/> })}
            {by.map(|grid| view! { <Table grid/> })}
        </section>
    }
    .into_any()
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str() + ".")
}
