//! The shop: its gauges with their dates, lathes, presses, metals, prices of swarf, customers and people. Cards are added, changed and
//! retired here; nothing is written over.

use std::collections::BTreeMap;
use std::sync::Arc;

use calc::alloy::table::alloys;
use job::cards::{self, Field, Form, Holds, SHELVES};
use job::entry::{Scope, What};
use job::registers::{Card, Registers, Standing};
use job::state::Units;
use leptos::prelude::*;

use super::app::{App, app};
use super::browser;

/// The card that is being written: its form, whom or what it is of, the register.
#[derive(Clone, Debug, PartialEq)]
struct Writing {
    of: &'static str,
    name: String,
    register: &'static str,
    shown: Vec<(String, String)>,
}

/// The shop as the screen holds it; copied freely, it is all handles.
#[derive(Clone, Copy)]
struct Shop {
    app: App,
    registers: Memo<Arc<Registers>>,
    units: Memo<Units>,
    writing: RwSignal<Option<Writing>>,
    today: StoredValue<String>,
}

impl Shop {
    fn begin(self, of: &'static str, register: &'static str, name: &str, shown: Vec<(String, String)>) {
        self.writing.set(Some(Writing { of, name: name.to_owned(), register, shown }));
        browser::focus("card-title");
    }

    fn is_writing(self, of: &str, name: &str) -> bool {
        self.writing.with(|writing| writing.as_ref().is_some_and(|writing| writing.of == of && writing.name == name))
    }
}

/// The shop.
#[component]
pub fn ShopView() -> impl IntoView {
    let app = app();
    let registers = Memo::new_with_compare(move |_| Arc::new(job::fold::registers(&app.entries(""))), |_, _| true);
    let today = job::moment::written(browser::now_s()).get(..10).unwrap_or_default().to_owned();
    let units = Memo::new(move |_| app.units(Units::Mm));
    let shop = Shop { app, registers, units, writing: RwSignal::new(None), today: StoredValue::new(today) };
    view! {
        <div class="page shop">
            <h1>"Shop"</h1>
            <p class="lead">"What every job can use: gauges and when they are due, machines and what they hold, metals, prices and people."</p>
            {move || registers.with(|registers| needs(registers, &shop.today.get_value()))}
            <div class="to-parts" role="group" aria-label="Parts of the shop">
                {SHELVES.map(|(word, title, ..)| view! {
                    <button on:click=move |_| browser::scroll_to(&format!("shelf-{word}"))>{title}<span class="soft">{move || count(shop, word)}</span></button>
                }).collect_view()}
            </div>
            {SHELVES.into_iter().map(|shelf| view! { <Shelf shop shelf/> }).collect_view()}
        </div>
    }
}

/// What needs a person: gauges out of date first, then cards that were written apart.
fn needs(registers: &Registers, today: &str) -> AnyView {
    let of_gauge = |(name, standing): (&str, &Standing)| {
        cards::mark(standing, today).filter(|mark| mark.needs).map(|mark| format!("{name}: {}.", mark.word))
    };
    let all: Vec<String> = registers.of("gauge").filter_map(of_gauge).chain(registers.needs_you.iter().cloned()).collect();
    let need = |need: String| {
        view! { <p class="need"><span class="mark" aria-hidden="true">"!"</span><strong>"Needs you: "</strong>{need}</p> }
    };
    let notes = registers.notes.iter().cloned().map(|note| view! { <p class="note">{note}</p> }).collect_view();
    view! { {all.into_iter().map(need).collect_view()}{notes} }.into_any()
}

fn count(shop: Shop, word: &str) -> String {
    match shop.registers.with(|registers| registers.of(word).filter(|(_, standing)| standing.gone.is_none()).count()) {
        0 => String::new(),
        n => format!(" {n}"),
    }
}

#[component]
fn Shelf(shop: Shop, shelf: (&'static str, &'static str, &'static str, &'static str)) -> impl IntoView {
    let (word, title, adds, empty) = shelf;
    let id = format!("shelf-{word}");
    let deed = cards::form(adds).map_or("Add", |form| form.deed);
    let all = move || {
        let mut all: Vec<(String, Standing)> =
            shop.registers.with(|registers| registers.of(word).map(|(name, standing)| (name.to_owned(), standing.clone())).collect());
        // What is gone stands last: it is looked for seldom.
        all.sort_by_key(|(_, standing)| standing.gone.is_some());
        all
    };
    view! {
        <section class="shelf" aria-labelledby=id.clone()>
            <div class="headline">
                <h2 id=id.clone() tabindex="-1">{title}</h2>
                <button class="button" on:click=move |_| shop.begin(adds, word, "", Vec::new())>{deed}</button>
            </div>
            {move || shop.is_writing(adds, "").then(|| view! { <CardForm shop/> })}
            <ul class="cards">
                {move || match all() {
                    all if all.is_empty() => view! { <li class="soft">{format!("Nothing stands here yet. {empty}")}</li> }.into_any(),
                    all => all.into_iter().map(|(name, standing)| one(shop, word, name, &standing)).collect_view().into_any(),
                }}
            </ul>
        </section>
    }
}

/// One card of a shelf with what can be done to it.
fn one(shop: Shop, register: &'static str, name: String, standing: &Standing) -> AnyView {
    let units = shop.units.get();
    let mark = shop.today.with_value(|today| cards::mark(standing, today));
    let class = match &mark {
        Some(mark) if mark.needs => "state wants",
        _ => "state",
    };
    let gone = standing.gone.is_some();
    let shown = standing.card.as_ref().map(|card| cards::texts(card, units)).unwrap_or_default();
    let checked = standing.checked.as_ref().map(|card| cards::texts(card, units)).unwrap_or_default();
    let more: &[(&'static str, &'static str)] = match register {
        "gauge" if !gone => &[("checked", "Record a check")],
        "metal" if !gone => &[("used", "Cut a length off")],
        _ => &[],
    };
    let own = SHELVES.iter().find(|(word, ..)| *word == register).map_or("gone", |shelf| shelf.2);
    let deeds = [(own, if gone { "Have it again" } else { "Change" })].into_iter().chain(more.iter().copied());
    let deeds = deeds.chain((!gone).then_some(("gone", "Retire"))).map(|(of, words)| {
        let (name, label) = (name.clone(), format!("{words}: {name}"));
        let shown = match of {
            "checked" => checked.clone(),
            of if of == own => shown.clone(),
            _ => Vec::new(),
        };
        view! { <button class="plain" aria-label=label on:click=move |_| shop.begin(of, register, &name, shown.clone())>{words}</button> }
    });
    let deeds = deeds.collect_view();
    let rows = cards::lines(standing, units);
    let of = name.clone();
    view! {
        <li class="kept" class:gone=gone>
            <div class="headline">
                <h3>{name}</h3>
                {mark.map(|mark| view! { <p class=class><span class="mark" aria-hidden="true">{mark.mark}</span>" "{mark.word}</p> })}
            </div>
            <dl class="facts">{rows.into_iter().map(|(label, text)| view! { <div><dt>{label}</dt><dd>{text}</dd></div> }).collect_view()}</dl>
            <div class="do">{deeds}</div>
            {move || shop.writing.with(|writing| writing.as_ref().is_some_and(|writing| writing.register == register && writing.name == of)).then(|| view! { <CardForm shop/> })}
        </li>
    }
    .into_any()
}

/// The form of the card that is being written.
#[component]
fn CardForm(shop: Shop) -> impl IntoView {
    let Some(writing) = shop.writing.get_untracked() else { return ().into_any() };
    let Some(form) = cards::form(writing.of) else { return ().into_any() };
    let typed = RwSignal::new(writing.shown.iter().cloned().collect::<BTreeMap<String, String>>());
    let fault = RwSignal::new(None::<(String, String)>);
    let (name, register) = (writing.name.clone(), writing.register);
    let to_write = name.clone();
    let write = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        match made(form, &to_write, register, &typed.get_untracked(), shop.units.get_untracked()) {
            Ok(card) => {
                shop.app.record("", Scope::Shop, What::Register { card });
                shop.writing.set(None);
                browser::focus(&format!("shelf-{register}"));
            }
            Err((key, sentence)) => {
                browser::focus(&format!("card-{key}"));
                fault.set(Some((key, sentence)));
            }
        }
    };
    // A name that stands is not typed again: another name would be another card.
    let fields = form.fields.iter().filter(|field| name.is_empty() || field.key != form.named);
    let title = if name.is_empty() { form.deed.to_owned() } else { format!("{}: {name}", said(form, &writing)) };
    view! {
        <form class="card-form" on:submit=write novalidate=true aria-labelledby="card-title">
            <h3 id="card-title" tabindex="-1">{title}</h3>
            <div class="fields">{fields.map(|field| one_field(shop, field, typed, fault)).collect_view()}</div>
            <p class="bad" role="alert">{move || fault.get().filter(|(key, _)| form.fields.iter().all(|field| field.key != key)).map(|(_, said)| said)}</p>
            <div class="do">
                <button class="button main" type="submit">"Record"</button>
                <button class="button" type="button" on:click=move |_| shop.writing.set(None)>"Leave it"</button>
            </div>
        </form>
    }
    .into_any()
}

fn said(form: &Form, writing: &Writing) -> &'static str {
    if writing.of == writing.register { "Change" } else { form.deed }
}

fn made(form: &'static Form, name: &str, register: &str, typed: &BTreeMap<String, String>, units: Units) -> Result<Card, (String, String)> {
    let text = |key: &str| match key {
        "register" => register.to_owned(),
        key if key == form.named && !name.is_empty() => name.to_owned(),
        key => typed.get(key).map(|text| text.trim().to_owned()).unwrap_or_default(),
    };
    cards::made(form, &text, units).map_err(|(key, refused)| (key, refused.to_string()))
}

fn one_field(
    shop: Shop,
    field: &'static Field,
    typed: RwSignal<BTreeMap<String, String>>,
    fault: RwSignal<Option<(String, String)>>,
) -> AnyView {
    let key = field.key;
    let id = format!("card-{key}");
    let (why, bad) = (format!("{id}-why"), format!("{id}-bad"));
    let text = move || typed.with(|typed| typed.get(key).cloned().unwrap_or_default());
    let set = move |text: String| {
        typed.update(|typed| {
            typed.insert(key.to_owned(), text);
        });
        fault.update(|fault| {
            if fault.as_ref().is_some_and(|(of, _)| of == key) {
                *fault = None;
            }
        });
    };
    let said = move || fault.get().filter(|(of, _)| of == key).map(|(_, said)| said);
    let described = format!("{why} {bad}");
    let label = if field.optional { format!("{}, if known", field.label) } else { field.label.to_owned() };
    let hint = view! { <p class="hint" id=why>{move || cards::hint(field, shop.units.get())}</p> };
    let bad = view! { <p class="bad" id=bad role="alert">{said}</p> };
    let class = move || if said().is_some() { "field bad-field" } else { "field" };
    let input = match field.holds {
        Holds::Some(words) => {
            let ticks = words.iter().map(|word| {
                let has = move || text().split_whitespace().any(|has| has == *word);
                let turn = move |_| {
                    let now = text();
                    let kept = words.iter().filter(|other| now.split_whitespace().any(|has| has == **other) != (*other == word));
                    set(kept.copied().collect::<Vec<_>>().join(" "));
                };
                view! { <button type="button" aria-pressed=move || has().to_string() on:click=turn>{*word}</button> }
            });
            return view! {
                <fieldset class=class id=id tabindex="-1" aria-describedby=described><legend>{label}</legend><div class="choices">{ticks.collect_view()}</div>{hint}{bad}</fieldset>
            }
            .into_any();
        }
        Holds::One(words) => choose(&id, described, words.iter().map(|word| ((*word).to_owned(), word.replace('_', " "))).collect(), text, set),
        Holds::Alloy => {
            let all = alloys().iter().map(|alloy| (alloy.id.to_owned(), format!("{} {}", alloy.id, alloy.family)));
            choose(&id, described, all.collect(), text, set)
        }
        Holds::Points => view! { <textarea id=id.clone() rows="3" class="figure" aria-describedby=described prop:value=text on:input=move |event| set(event_target_value(&event))></textarea> }.into_any(),
        holds => {
            let (figure, kind) = (matches!(holds, Holds::Figure(..)), if holds == Holds::Day { "date" } else { "text" });
            view! {
                <input id=id.clone() type=kind class:figure=figure inputmode=if figure { "decimal" } else { "text" } maxlength="2000" autocomplete="off" aria-describedby=described
                    prop:value=text on:input=move |event| set(event_target_value(&event))/>
            }
            .into_any()
        }
    };
    let unit = move || match field.holds {
        Holds::Figure(measure, ..) => cards::unit(measure, shop.units.get()),
        _ => "",
    };
    view! { <div class=class><label for=id>{label}</label><div class="entry">{input}<span class="unit">{unit}</span></div>{hint}{bad}</div> }.into_any()
}

fn choose(
    id: &str,
    described: String,
    words: Vec<(String, String)>,
    text: impl Fn() -> String + Copy + Send + Sync + 'static,
    set: impl Fn(String) + Copy + Send + Sync + 'static,
) -> AnyView {
    view! {
        <select id=id.to_owned() aria-describedby=described on:change=move |event| set(event_target_value(&event))>
            <option value="" selected=move || text().is_empty()>"not said"</option>
            {words.into_iter().map(|(value, words)| {
                let is = value.clone();
                view! { <option value=value selected=move || text() == is>{words}</option> }
            }).collect_view()}
        </select>
    }
    .into_any()
}
