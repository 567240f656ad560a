//! The column of stages, each with its mark and its result in a line; and the section of the seat.

use job::sheet::{Stage, Standing};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::browser;
use super::picture::Picture;
use super::sheet::{Open, open};
use crate::address::Place;

/// The stages of the seat that is open: the whole job is read down this column.
#[component]
pub fn Column() -> impl IntoView {
    view! { <ol class="stages">{Stage::ALL.into_iter().map(|stage| view! { <StageLine stage/> }).collect_view()}</ol> }
}

#[component]
fn StageLine(stage: Stage) -> impl IntoView {
    let open = open();
    let line = Memo::new(move |_| {
        let sheet = open.tried_sheet(stage).or_else(|| open.stage_sheet(stage));
        sheet.map_or((Standing::NotStarted, String::new()), |sheet| (sheet.standing, sheet.brief))
    });
    let here = move || open.stage.get() == Some(stage);
    let href = move || Place::stage(&open.job.get(), &open.seat.get(), stage).written();
    let class = move || match line.get().0 {
        Standing::NotStarted => "not-started",
        Standing::NeedsYou => "needs-you",
        Standing::Ready => "ready",
        Standing::Done => "done",
        Standing::Stale => "stale",
    };
    view! {
        <li class=class>
            <a href=href aria-current=move || here().then_some("page")>
                <span class="mark" aria-hidden="true">{move || line.get().0.mark().0}</span>
                <span class="name">{stage.title()}</span>
                <span class="state">{move || line.get().0.mark().1}</span>
                <span class="brief">{move || line.get().1}</span>
            </a>
        </li>
    }
}

/// The section of the seat; a press on a dimension opens the stage that decides it.
#[component]
pub fn Section() -> impl IntoView {
    let open = open();
    let shown = Memo::new(move |_| open.pictures(None).into_iter().next());
    let dimensions = Memo::new(move |_| dimensions(open));
    let pressed = move |event: leptos::ev::MouseEvent| {
        let text = event.target().and_then(|target| target.dyn_into::<web_sys::Element>().ok()).and_then(|element| element.text_content());
        let Some(text) = text.filter(|text| !text.is_empty() && text.len() < 80) else { return };
        if let Some((.., stage)) = dimensions.get().into_iter().find(|(_, figure, _)| text.contains(figure.as_str())) {
            browser::go(&Place::stage(&untrack(|| open.job.get()), &untrack(|| open.seat.get()), stage).written());
        }
    };
    view! {
        {move || match shown.get() {
            Some(shown) => view! {
                <div class="section" on:click=pressed><Picture shown/></div>
                <details class="decides">
                    <summary>"Which stage decides which size"</summary>
                    <ul>
                        {move || dimensions.get().into_iter().map(|(of, text, stage)| view! {
                            <li><a href=move || Place::stage(&open.job.get(), &open.seat.get(), stage).written()>
                                <span>{of}</span><span class="figure">{text}</span><span class="soft">{stage.title()}</span>
                            </a></li>
                        }).collect_view()}
                    </ul>
                </details>
            }.into_any(),
            None => view! { <p class="soft blank">"The section is drawn once the fit is answered: housing, bush and journal to scale."</p> }.into_any(),
        }}
    }
}

/// What each dimension is of, as it is written, and the stage that decides it.
fn dimensions(open: Open) -> Vec<(String, String, Stage)> {
    let of = |done: &Option<std::sync::Arc<crate::errand::Done>>| done.as_ref()?.sheet.as_ref()?.section.clone();
    let Some(section) = open.trying.with(of).or_else(|| open.recorded.with(of)) else { return Vec::new() };
    let mut all = vec![
        (section.housing_outside, Stage::Fit),
        (section.housing_bore, Stage::Measure),
        (section.bush_outside, Stage::Fit),
        (section.bush_bore, Stage::Bore),
        (section.journal, Stage::Measure),
        (section.length, Stage::Fit),
    ];
    all.extend(section.groove.map(|(middle, ..)| (middle, Stage::Bore)));
    if let Some((outside, thickness)) = section.flange {
        all.extend([(outside, Stage::Fit), (thickness, Stage::Fit)]);
    }
    all.into_iter().map(|(dimension, stage)| (dimension.of, dimension.text, stage)).collect()
}
