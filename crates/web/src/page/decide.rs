//! Decisions: what was decided by whom and why, what moved since, and the form that decides it anew.

use calc::alloy::table::alloys;
use job::questions::{Choose, Question, question};
use job::sheet::Stage;
use job::state::Taken;
use job::typed;
use leptos::prelude::*;

use super::sheet::{Open, open};
use crate::asked;
use crate::writing;

/// The questions of a stage.
#[component]
pub fn Decisions(stage: Stage) -> impl IntoView {
    asked::questions(stage).iter().filter_map(|word| question(word)).map(|question| view! { <Decide question/> }).collect_view()
}

#[component]
fn Decide(question: &'static Question) -> impl IntoView {
    let open = open();
    let word = question.word;
    let taken = Memo::new(move |_| open.of_seat.with(|seat| seat.decided(word).cloned()));
    let (choice, low, high, because) =
        (RwSignal::new(String::new()), RwSignal::new(String::new()), RwSignal::new(String::new()), RwSignal::new(String::new()));
    let fault = RwSignal::new(None::<String>);
    let unfolded = RwSignal::new(false);
    let toggled = move |event: leptos::ev::Event| unfolded.set(event_target::<web_sys::Element>(&event).has_attribute("open"));
    let id = |part: &str| format!("d-{word}-{part}");
    let decide = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        match made(open, question, &choice.get(), (&low.get(), &high.get()), &because.get()) {
            Ok((choice_text, ends)) => {
                let what = open.of_seat.with_untracked(|seat| writing::decision(seat, word, &choice_text, ends, because.get().trim()));
                open.record(open.row(), what);
                for text in [choice, low, high, because] {
                    text.set(String::new());
                }
                fault.set(None);
                unfolded.set(false);
            }
            Err(sentence) => fault.set(Some(sentence)),
        }
    };
    let choices = Memo::new(move |_| choices(open, question));
    let size = matches!(question.choose, Choose::Size);
    view! {
        <form class="decide group" on:submit=decide novalidate=true aria-label=format!("Decide: {}", question.help)>
            <p class="question"><strong>{capital(question.help)}</strong></p>
            {move || match taken.get() {
                Some(taken) => said(&taken),
                None => view! { <p class="soft">"Not decided: the tool goes on with its own first choice."</p> }.into_any(),
            }}
            <details prop:open=unfolded on:toggle=toggled>
            <summary>{move || if taken.get().is_some() { "Decide anew" } else { "Decide it" }}</summary>
            <div class="fields">
                {if size {
                    view! {
                        <div class="field"><label for=id("low")>"smallest"</label>
                            <div class="entry"><input id=id("low") class="figure" inputmode="decimal" autocomplete="off" prop:value=low on:input=move |event| low.set(event_target_value(&event))/>
                            <span class="unit">{move || open.units.get().system().length()}</span></div></div>
                        <div class="field"><label for=id("high")>"largest"</label>
                            <div class="entry"><input id=id("high") class="figure" inputmode="decimal" autocomplete="off" prop:value=high on:input=move |event| high.set(event_target_value(&event))/>
                            <span class="unit">{move || open.units.get().system().length()}</span></div></div>
                    }.into_any()
                } else {
                    view! {
                        <div class="field"><label for=id("choice")>"choose"</label>
                            <div class="entry"><select id=id("choice") prop:value=choice on:change=move |event| choice.set(event_target_value(&event))>
                                <option value="" selected=move || choice.get().is_empty()>"choose one"</option>
                                {move || choices.get().into_iter().map(|(value, words)| view! { <option value=value>{words}</option> }).collect_view()}
                            </select></div></div>
                    }.into_any()
                }}
                <div class="field wide"><label for=id("because")>"because"</label>
                    <div class="entry"><input id=id("because") maxlength="500" autocomplete="off" prop:value=because on:input=move |event| because.set(event_target_value(&event))/></div></div>
            </div>
            <p class="bad" role="alert">{move || fault.get()}</p>
            <p><button class="button" type="submit">"Record the decision"</button></p>
            </details>
        </form>
    }
}

fn said(taken: &Taken) -> AnyView {
    let moved: Vec<String> = taken.moved.iter().map(|moved| format!("{} was {}, is now {}", moved.path, moved.was, moved.is)).collect();
    let by = job::show::by(&[&taken.who, &taken.day]);
    view! {
        <p class="taken"><span class="mark" aria-hidden="true">{if moved.is_empty() { "✓" } else { "~" }}</span>
            <strong>{taken.choice.clone()}</strong>" "<span class="soft">{by}</span>
            {(!taken.because.is_empty()).then(|| view! { <span class="why">{taken.because.clone()}</span> })}</p>
        {(!moved.is_empty()).then(|| view! { <p class="stale-note"><strong>"Stale: "</strong>{format!("taken before its inputs moved: {}.", moved.join("; "))}</p> })}
    }
    .into_any()
}

fn choices(open: Open, question: &Question) -> Vec<(String, String)> {
    let plain = |word: &str| (word.to_owned(), word.replace('_', " "));
    match question.choose {
        Choose::Alloy => {
            alloys().iter().map(|alloy| (alloy.id.to_owned(), format!("{} ({}), {}", alloy.id, alloy.symbol, alloy.family))).collect()
        }
        Choose::Blank => open.of_seat.with(|seat| seat.names("stock").into_iter().map(plain).collect()),
        Choose::Word(words) => words.iter().map(|word| plain(word)).collect(),
        Choose::Size | Choose::Drop => Vec::new(),
    }
}

/// The answer as an entry keeps it; else the sentence.
fn made(open: Open, question: &Question, choice: &str, ends: (&str, &str), because: &str) -> Result<(String, Option<(f64, f64)>), String> {
    if because.trim().is_empty() {
        return Err("the reason is empty; allowed: a few words; say why, it stands on the sheet".into());
    }
    if question.choose != Choose::Size {
        return if choice.is_empty() {
            Err(format!("the {} is not chosen; allowed: one of the list; choose it", question.word))
        } else {
            Ok((choice.to_owned(), None))
        };
    }
    let units = open.units.get_untracked();
    let read = |text: &str, which: &str| typed::size(text, units).map_err(|refused| refused.to_string().replacen("the reading", which, 1));
    let (low, high) = (read(ends.0, "the smallest size")?, read(ends.1, "the largest size")?);
    if low > high {
        return Err(format!(
            "the smallest size is {:?}, over the largest {:?}; allowed: the smaller first; turn them round",
            ends.0, ends.1
        ));
    }
    let unit = units.system().length();
    Ok((format!("{} to {} {unit}", ends.0.trim(), ends.1.trim()), Some((low, high))))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}
