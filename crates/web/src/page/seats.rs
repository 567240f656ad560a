//! The seats of a job: which one is open, and how far the others are.

use job::sheet::{Stage, Standing};
use leptos::prelude::*;

use super::browser;
use super::sheet::{Open, open, worst};
use crate::address::Place;

/// Up to so many seats stand side by side; more are chosen from a list.
const SIDE_BY_SIDE: usize = 4;

/// The choice of the seat.
#[component]
pub fn Seats() -> impl IntoView {
    let open = open();
    let names = Memo::new(move |_| open.state.with(|state| state.seats.iter().map(|seat| seat.name.clone()).collect::<Vec<_>>()));
    view! {
        {move || match names.get() {
            names if names.len() < 2 => view! { <p class="seat-name"><span class="tag">"seat"</span>{names.first().cloned()}</p> }.into_any(),
            names if names.len() <= SIDE_BY_SIDE => view! {
                <div class="seats" role="group" aria-label="Seats">
                    {names.into_iter().map(|name| {
                        let (to, is, of) = (name.clone(), name.clone(), name.clone());
                        view! {
                            <button aria-current=move || (open.seat.get() == is).then_some("true") on:click=move |_| go(open, &to)>
                                <span class="mark" aria-hidden="true">{move || standing(open, &of).mark().0}</span>{name}
                            </button>
                        }
                    }).collect_view()}
                </div>
            }.into_any(),
            names => {
                let (back, on) = (names.clone(), names.clone());
                let count = names.len();
                view! {
                    <div class="seats many">
                        <button aria-label="Seat before" on:click=move |_| step(open, &back, false)>"‹"</button>
                        <label class="hidden" for="seat">"Seat"</label>
                        <select id="seat" on:change=move |event| go(open, &event_target_value(&event))>
                            {names.into_iter().map(|name| {
                                let (is, of) = (name.clone(), name.clone());
                                view! {
                                    <option value=name.clone() selected=move || open.seat.get() == is>
                                        {move || format!("{} {of}", standing(open, &of).mark().0)}
                                    </option>
                                }
                            }).collect_view()}
                        </select>
                        <button aria-label="Seat after" on:click=move |_| step(open, &on, true)>"›"</button>
                        <span class="soft">{format!("{count} seats")}</span>
                    </div>
                }
                .into_any()
            }
        }}
    }
}

fn standing(open: Open, name: &str) -> Standing {
    open.known.with(|known| known.get(name).and_then(|done| done.sheet.as_ref().map(worst))).unwrap_or(Standing::NotStarted)
}

fn go(open: Open, name: &str) {
    let (job, stage, large) = untrack(|| (open.job.get(), open.stage.get(), open.large.get()));
    browser::go(&Place::Job { job, seat: name.to_owned(), stage, large }.written());
}

fn step(open: Open, names: &[String], on: bool) {
    let here = names.iter().position(|name| *name == untrack(|| open.seat.get())).unwrap_or(0);
    let next = if on { names.get(here + 1).or(names.first()) } else { here.checked_sub(1).and_then(|i| names.get(i)).or(names.last()) };
    if let Some(name) = next {
        go(open, name);
    }
}

/// The stage before and after, as links under a stage.
#[component]
pub fn Neighbours(stage: Stage) -> impl IntoView {
    let open = open();
    let at = Stage::ALL.iter().position(|known| *known == stage).unwrap_or(0);
    let link = move |to: Option<Stage>, back: bool| {
        to.map(|to| {
            let href = move || Place::stage(&open.job.get(), &open.seat.get(), to).written();
            let words = if back { format!("‹ {}", to.title()) } else { format!("{} ›", to.title()) };
            view! { <a class="button" href=href>{words}</a> }
        })
    };
    view! {
        <nav class="neighbours" aria-label="Stage before and after">
            {link(at.checked_sub(1).and_then(|i| Stage::ALL.get(i).copied()), true)}
            <a class="button all" href=move || Place::Job { job: open.job.get(), seat: open.seat.get(), stage: None, large: false }.written()>"All stages"</a>
            {link(Stage::ALL.get(at + 1).copied(), false)}
        </nav>
    }
}
