//! A job: the column of stages, the stage in the middle, the section beside.

use leptos::prelude::*;

use super::app::app;
use super::give::Trying;
use super::part::{Column, Section};
use super::seats::Seats;
use super::sheet::Open;
use super::stage::StageView;

/// The screen of a job.
#[component]
pub fn Job() -> impl IntoView {
    let app = app();
    let open = Open::of_place(app);
    provide_context(open);
    let empty = Memo::new(move |_| open.entries.with(|entries| entries.is_empty()));
    let class = move || match (open.stage.get(), open.large.get()) {
        (_, true) => "work large",
        (None, _) => "work whole",
        _ => "work one",
    };
    view! {
        {move || if empty.get() {
            view! {
                <div class="page narrow">
                    <h1>"This job is not on this device"</h1>
                    <p>"It may be on its way, or its number is another one."</p>
                    <p><a class="button" href="#/">"All jobs"</a></p>
                </div>
            }.into_any()
        } else {
            view! {
                <div class=class>
                    <nav class="column" aria-label="Stages of the seat">
                        <Seats/>
                        <Column/>
                    </nav>
                    <div class="middle">
                        {move || match open.stage.get() {
                            None => view! { <Whole/> }.into_any(),
                            Some(stage) => view! { <StageView stage/> }.into_any(),
                        }}
                        <Trying/>
                    </div>
                    <aside class="beside" aria-label="Section of the seat"><Section/></aside>
                </div>
            }.into_any()
        }}
    }
}

/// The whole seat: its decision first.
#[component]
fn Whole() -> impl IntoView {
    let open = super::sheet::open();
    let decision = Memo::new(move |_| open.recorded.with(|done| Some(done.as_ref()?.sheet.as_ref()?.decision.clone())));
    let notes = Memo::new(move |_| open.state.with(|state| state.notes.clone()));
    view! {
        <section class="stage" aria-labelledby="whole">
            <h1 id="whole">{move || open.seat.get()}</h1>
            <p class="answer">{move || decision.get().unwrap_or_else(|| "Working it out.".into())}</p>
            {move || notes.get().into_iter().map(|note| view! { <p class="note">{note}</p> }).collect_view()}
            <p class="hint">"Choose a stage. Each says what you give, what it says, and how it got there."</p>
        </section>
    }
}
