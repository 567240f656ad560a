//! One stage in its three parts: what you give, what it says, how it got there. Cautions stand above everything that is done with hands.

use job::sheet::{Line, Stage, StageSheet, Standing};
use leptos::prelude::*;
use serde_json::Value;

use super::app::app;
use super::browser;
use super::clock::SeatClock;
use super::decide::Decisions;
use super::give::Give;
use super::lathe::Lathe;
use super::papers::Papers;
use super::picture::{Picture, Table};
use super::readings::Readings;
use super::release::Sign;
use super::seats::Neighbours;
use super::sheet::{PHONE, open};
use super::unfold::Fold;
use crate::address::Place;
use crate::asked;

/// A stage.
#[component]
pub fn StageView(stage: Stage) -> impl IntoView {
    let open = open();
    let sheet = Memo::new(move |_| open.stage_sheet(stage));
    let tried = Memo::new(move |_| open.tried_sheet(stage));
    let shown = Memo::new(move |_| tried.get().or_else(|| sheet.get()));
    let standing = move || shown.with(|sheet| sheet.as_ref().map_or(Standing::NotStarted, |sheet| sheet.standing));
    let number = Stage::ALL.iter().position(|known| *known == stage).map_or(String::new(), |at| (at + 1).to_string());
    let can_be_large = matches!(stage, Stage::Turn | Stage::Bore | Stage::Seat);
    let large = move || can_be_large && open.large.get();
    let list = move |pick: fn(&StageSheet) -> &Vec<String>| {
        shown.with(|sheet| sheet.as_ref().map(|sheet| pick(sheet).clone()).unwrap_or_default())
    };
    let cautions = Memo::new(move |_| list(|sheet| &sheet.cautions));
    view! {
        <article class="stage" aria-labelledby="stage-title">
            <header class="stage-head">
                <h1 id="stage-title"><span class="ordinal" aria-hidden="true">{number}</span>{stage.title()}</h1>
                <p class="standing"><span class="mark" aria-hidden="true">{move || standing().mark().0}</span>" "{move || standing().mark().1}</p>
                {can_be_large.then(|| view! {
                    <a class="button arm" href=move || Place::Job { job: open.job.get(), seat: open.seat.get(), stage: Some(stage), large: !open.large.get() }.written()>
                        {move || if open.large.get() { "At the desk" } else { "At arm's length" }}
                    </a>
                })}
            </header>
            <Cautions cautions large=Signal::derive(large)/>
            {move || if large() {
                match stage {
                    Stage::Seat => view! { <SeatClock large=true/> }.into_any(),
                    _ => view! { <Lathe stage large=true/><AtTheLathe stage/> }.into_any(),
                }
            } else {
                view! {
                    <div class="to-parts" role="group" aria-label="Parts of this stage">
                        <button on:click=|_| browser::scroll_to("says")>"What it says"</button>
                        <button on:click=|_| browser::scroll_to("give")>"What you give"</button>
                        <button on:click=|_| browser::scroll_to("how")>"How it got there"</button>
                    </div>
                    <section class="part" aria-labelledby="says">
                        <h2 id="says" tabindex="-1">"What it says"</h2>
                        <Warnings shown/>
                        <Answer sheet tried/>
                        {move || list(|sheet| &sheet.needs).into_iter().map(|need| view! { <p class="need"><span class="mark" aria-hidden="true">"!"</span><strong>"Needs you: "</strong>{asked::in_words(&need)}</p> }).collect_view()}
                        {move || open.pictures(Some(stage)).into_iter().map(|shown| view! { <Picture shown/> }).collect_view()}
                        <Lines shown/>
                        <Grids stage shown/>
                    </section>
                    <section class="part" aria-labelledby="give">
                        <h2 id="give" tabindex="-1">"What you give"</h2>
                        {matches!(stage, Stage::Turn | Stage::Bore).then(|| view! { <Lathe stage large=false/> })}
                        {(stage == Stage::Seat).then(|| view! { <SeatClock large=false/> })}
                        {(!asked::features(stage).is_empty()).then(|| view! { <Readings stage/> })}
                        <Decisions stage/>
                        <Give stage/>
                        {(stage == Stage::Release).then(|| view! { <Sign/> })}
                        {matches!(stage, Stage::Stock | Stage::Turn | Stage::Release).then(|| view! { <Papers stage/> })}
                    </section>
                    <HowItGotThere shown/>
                    <Neighbours stage/>
                }.into_any()
            }}
        </article>
    }
}

/// The cuts into the band, and where a part that cools will settle: what of a stage is looked at beside the machine.
#[component]
fn AtTheLathe(stage: Stage) -> impl IntoView {
    let open = open();
    let is_of_cuts = |name: &str| ["cuts", "bore_cuts"].contains(&name) || name.starts_with("cooling_");
    move || {
        open.pictures(Some(stage))
            .into_iter()
            .filter(|shown| is_of_cuts(&shown.name))
            .map(|shown| view! { <Picture shown/> })
            .collect_view()
    }
}

#[component]
fn Cautions(cautions: Memo<Vec<String>>, large: Signal<bool>) -> impl IntoView {
    let list = |cautions: Vec<String>| view! { <ul>{cautions.into_iter().map(|caution| view! { <li>{caution}</li> }).collect_view()}</ul> };
    view! {
        {move || match cautions.get() {
            cautions if cautions.is_empty() => ().into_any(),
            // At arm's length they can be folded once they were read: the digits are to be seen.
            cautions if large.get() => view! {
                <section class="cautions" aria-label="Cautions">
                    <details open=true><summary><h2>"Caution"</h2></summary>{list(cautions)}</details>
                </section>
            }.into_any(),
            cautions => view! {
                <section class="cautions" aria-label="Cautions">
                    <h2>"Caution"</h2>
                    {list(cautions)}
                </section>
            }.into_any(),
        }}
    }
}

/// The answer first; what is recorded beside what is tried.
#[component]
fn Answer(sheet: Memo<Option<StageSheet>>, tried: Memo<Option<StageSheet>>) -> impl IntoView {
    let open = open();
    let recorded = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.answer.clone())));
    let trying = Memo::new(move |_| tried.with(|sheet| sheet.as_ref().map(|sheet| sheet.answer.clone())));
    view! {
        <div class="answers" aria-live="polite">
            {move || trying.get().map(|answer| view! { <p class="answer now"><span class="tag">"trying"</span>{answer}</p> })}
            {move || {
                let beside = trying.get().is_some();
                let answer = recorded.get().unwrap_or_else(|| "Working it out.".into());
                view! { <p class="answer" class:was=beside>{beside.then(|| view! { <span class="tag">"recorded"</span> })}{answer}</p> }
            }}
            <p class="settling" aria-hidden="true">{move || open.depth.get().words()}</p>
        </div>
    }
}

#[component]
fn Lines(shown: Memo<Option<StageSheet>>) -> impl IntoView {
    let lines = Memo::new(move |_| shown.with(|sheet| sheet.as_ref().map(|sheet| sheet.lines.clone()).unwrap_or_default()));
    view! {
        {move || match lines.get() {
            lines if lines.is_empty() => ().into_any(),
            lines => view! {
                <dl class="lines">
                    {lines.into_iter().map(|Line { label, value, note }| view! {
                        <div><dt>{label}</dt><dd><span class="figure">{value}</span>{(!note.is_empty()).then(|| view! { <span class="soft">{note}</span> })}</dd></div>
                    }).collect_view()}
                </dl>
            }.into_any(),
        }}
    }
}

/// The tables of a stage: the one that it is about stands open, the others are folded away under their titles.
#[component]
fn Grids(stage: Stage, shown: Memo<Option<StageSheet>>) -> impl IntoView {
    let grids = Memo::new(move |_| shown.with(|sheet| sheet.as_ref().map(|sheet| sheet.grids.clone()).unwrap_or_default()));
    let is_about_the_first = matches!(stage, Stage::Brief | Stage::Alloy | Stage::Stock | Stage::Turn | Stage::Release);
    view! {
        {move || grids.get().into_iter().enumerate().map(|(i, grid)| if i == 0 && is_about_the_first {
            view! { <Table grid/> }.into_any()
        } else {
            let title = grid.title.clone();
            let inside = move || view! { <Table grid=grid.clone()/> }.into_any();
            view! { <Fold class="table-fold" name=format!("table {title}") summary=title inside/> }.into_any()
        }).collect_view()}
    }
}

/// What is to be known before the answer is trusted. On a phone folded under its count, or it would push the answer out of sight.
#[component]
fn Warnings(shown: Memo<Option<StageSheet>>) -> impl IntoView {
    let app = app();
    let is_wide = move || app.width.get_untracked() >= PHONE;
    let warnings = Memo::new(move |_| shown.with(|sheet| sheet.as_ref().map(|sheet| sheet.warnings.clone()).unwrap_or_default()));
    view! {
        {move || match warnings.get() {
            warnings if warnings.is_empty() => ().into_any(),
            warnings => view! {
                <details class="notes" open=is_wide()>
                    <summary><h3>{format!("Know before you trust it ({})", warnings.len())}</h3></summary>
                    <ul>{warnings.into_iter().map(|warning| view! { <li>{asked::in_words(&warning)}</li> }).collect_view()}</ul>
                </details>
            }.into_any(),
        }}
    }
}

/// The working, line by line: formula, inputs, source. Found when it is opened.
#[component]
fn HowItGotThere(shown: Memo<Option<StageSheet>>) -> impl IntoView {
    let open = open();
    let toggled = move |event: leptos::ev::Event| {
        let is_open = event_target::<web_sys::Element>(&event).has_attribute("open");
        if is_open {
            open.working.set(true);
        }
    };
    let steps = Memo::new(move |_| shown.with(|sheet| sheet.as_ref().map(steps).unwrap_or_default()));
    let sources = Memo::new(move |_| shown.with(|sheet| sheet.as_ref().map(|sheet| sheet.sources.clone()).unwrap_or_default()));
    view! {
        <details class="part how" on:toggle=toggled>
            <summary id="how"><h2>"How it got there"</h2></summary>
            {move || steps.get().into_iter().map(|(title, steps)| view! {
                <h3>{title}</h3>
                <ol class="steps">
                    {steps.into_iter().map(|step| view! {
                        <li>
                            <p>{step.what}</p>
                            <p class="formula">{step.formula}</p>
                            <p class="with">{step.with}</p>
                            <p class="gives">{step.gives}</p>
                            <p class="soft">{step.source}</p>
                        </li>
                    }).collect_view()}
                </ol>
            }).collect_view()}
            <ul class="sources">{move || sources.get().into_iter().map(|source| view! { <li>{source}</li> }).collect_view()}</ul>
        </details>
    }
}

#[derive(Clone, Debug, Default, PartialEq)]
struct Step {
    what: String,
    formula: String,
    with: String,
    gives: String,
    source: String,
}

fn steps(sheet: &StageSheet) -> Vec<(String, Vec<Step>)> {
    let text = |step: &Value, key: &str| step.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    let pairs = |step: &Value, key: &str, lead: &str| {
        let pairs = step.get(key).and_then(Value::as_array).cloned().unwrap_or_default();
        let said: Vec<String> = pairs
            .iter()
            .filter_map(|pair| Some(format!("{} = {}", pair.get(0)?.as_str()?, calc::shown::three(pair.get(1)?.as_f64()?))))
            .collect();
        if said.is_empty() { String::new() } else { format!("{lead} {}", said.join(", ")) }
    };
    let of = |answer: &Value| {
        let steps = answer.get("working").and_then(Value::as_array).cloned().unwrap_or_default();
        let read = |step: &Value| Step {
            what: text(step, "what"),
            formula: text(step, "formula"),
            with: pairs(step, "with", "with"),
            gives: pairs(step, "gives", "gives"),
            source: text(step, "source"),
        };
        steps.iter().map(read).collect::<Vec<_>>()
    };
    let all = sheet.calculations.iter().map(|calculation| (calculation.name.replace('_', " "), of(&calculation.answer)));
    all.filter(|(_, steps)| !steps.is_empty()).collect()
}
