//! A job: the column of stages, the stage in the middle, the section beside.

use job::sheet::{Stage, StageSheet, Standing};
use leptos::prelude::*;

use super::app::app;
use super::give::Trying;
use super::part::{Column, Section};
use super::seats::Seats;
use super::sheet::Open;
use super::stage::StageView;
use crate::address::Place;
use crate::asked;

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

/// The whole seat: its decision first, then what waits for a person, then the other seats.
#[component]
fn Whole() -> impl IntoView {
    let open = super::sheet::open();
    let decision = Memo::new(move |_| open.recorded.with(|done| Some(done.as_ref()?.sheet.as_ref()?.decision.clone())));
    let notes = Memo::new(move |_| open.state.with(|state| state.notes.clone()));
    let waits = Memo::new(move |_| Stage::ALL.into_iter().filter_map(|stage| wants(&open.stage_sheet(stage)?)).collect::<Vec<_>>());
    let seats = Memo::new(move |_| open.state.with(|state| state.seats.iter().map(|seat| seat.name.clone()).collect::<Vec<_>>()));
    view! {
        <section class="stage" aria-labelledby="whole">
            <h1 id="whole">{move || open.seat.get()}</h1>
            <p class="answer">{move || decision.get().unwrap_or_else(|| "Working it out.".into())}</p>
            {move || notes.get().into_iter().map(|note| view! { <p class="note">{note}</p> }).collect_view()}
            {move || match waits.get() {
                waits if waits.is_empty() => ().into_any(),
                waits => view! {
                    <div class="next-up">
                        <h2>"Waits for you"</h2>
                        {waits.into_iter().map(|(stage, mark, said)| view! {
                            <p class="need"><span class="mark" aria-hidden="true">{mark}</span>
                                <a href=move || Place::stage(&open.job.get(), &open.seat.get(), stage).written()>{stage.title()}</a>": "{said}</p>
                        }).collect_view()}
                    </div>
                }.into_any(),
            }}
            {move || (seats.with(Vec::len) > 1).then(|| view! {
                <h2>"All seats of this job"</h2>
                <ul class="overview">{seats.get().into_iter().map(|name| view! { <SeatLine name/> }).collect_view()}</ul>
            })}
        </section>
    }
}

/// What a stage waits for, in a sentence; none where it waits for nobody's answer.
fn wants(sheet: &StageSheet) -> Option<(Stage, &'static str, String)> {
    let said = match sheet.standing {
        Standing::NeedsYou => sheet.needs.first().map(|need| asked::in_words(need)).unwrap_or_default(),
        Standing::Stale => "stale: an input moved after it was decided".to_owned(),
        Standing::Ready | Standing::Done | Standing::NotStarted => return None,
    };
    Some((sheet.stage, sheet.standing.mark().0, said))
}

#[component]
fn SeatLine(name: String) -> impl IntoView {
    let open = super::sheet::open();
    let of = name.clone();
    let line = Memo::new(move |_| {
        open.known.with(|known| known.get(&of)?.sheet.as_ref().map(|sheet| (super::sheet::worst(sheet), sheet.decision.clone())))
    });
    let mark = move || line.get().map_or(Standing::NotStarted, |(standing, _)| standing).mark();
    let wants = move || matches!(line.get(), Some((Standing::NeedsYou | Standing::Stale, _)));
    let to = name.clone();
    let href = move || Place::Job { job: open.job.get(), seat: to.clone(), stage: None, large: false }.written();
    view! {
        <li class:wants=wants><a href=href>
            <span class="mark" aria-hidden="true">{move || mark().0}</span>
            <span class="name">{name}</span>
            <span class="said">{move || wants().then(|| view! { <strong class="call">{mark().1}</strong> })}{move || line.get().map_or_else(|| "Working it out.".to_owned(), |(_, said)| said)}</span>
        </a></li>
    }
}
