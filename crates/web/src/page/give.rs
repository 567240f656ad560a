//! What you give: fields with their unit, their likely range and why they are asked; the recorded value stays in sight of a tried one.

use calc::alloy::table::{alloys, metals};
use job::facts::{Fact, Stands};
use job::sheet::Stage;
use job::show;
use leptos::prelude::*;

use super::app::app;
use super::sheet::{Open, open};
use super::tried::{Reach, recorded_text};
use crate::asked::{self, Group, Named};

/// All groups of a stage.
#[component]
pub fn Give(stage: Stage) -> impl IntoView {
    asked::groups(stage).iter().map(|group| view! { <Fields group=*group/> }).collect_view()
}

#[component]
fn Fields(group: Group) -> impl IntoView {
    match group.named {
        Some(named) => view! { <NamedFields group named/> }.into_any(),
        None => {
            let fields = move || asked::fields(&group, None).into_iter().map(|(path, fact)| view! { <Field path fact/> }).collect_view();
            boxed(group.title.to_owned(), group.folded, view! { <div class="fields">{fields()}</div> }.into_any())
        }
    }
}

fn boxed(title: String, folded: bool, inside: AnyView) -> AnyView {
    if folded {
        view! { <details class="group"><summary>{title}</summary>{inside}</details> }.into_any()
    } else {
        view! { <fieldset class="group"><legend>{title}</legend>{inside}</fieldset> }.into_any()
    }
}

/// Things that a person names: those that are there, and one more.
#[component]
fn NamedFields(group: Group, named: Named) -> impl IntoView {
    let open = open();
    let new = RwSignal::new(String::new());
    let added = RwSignal::new(Vec::<String>::new());
    let names = Memo::new(move |_| {
        let mut names: Vec<String> = open.of_seat.with(|seat| seat.names(named.section).into_iter().map(str::to_owned).collect());
        names.extend(added.get().into_iter().filter(|name| !names.contains(name)).collect::<Vec<_>>());
        names
    });
    let add = move || {
        let name = new.get_untracked().trim().replace('.', " ");
        let name = if name.is_empty() { named.example.to_owned() } else { name };
        added.update(|added| {
            if !added.contains(&name) {
                added.push(name);
            }
        });
        new.set(String::new());
    };
    let id = format!("new-{}", named.section);
    let inside = view! {
        <For each=move || names.get() key=|name| name.clone() let:name>
            <fieldset class="named">
                <legend>{name.clone()}</legend>
                <div class="fields">
                    {asked::fields(&group, Some(&name)).into_iter().map(|(path, fact)| view! { <Field path fact/> }).collect_view()}
                </div>
            </fieldset>
        </For>
        <div class="add">
            <label for=id.clone()>{format!("Name of a further {}", named.one)}</label>
            <div class="entry">
                <input id=id maxlength="60" placeholder=named.example prop:value=new on:input=move |event| new.set(event_target_value(&event))
                    on:keydown=move |event| if event.key() == "Enter" { event.prevent_default(); add(); }/>
                <button type="button" on:click=move |_| add()>"Add"</button>
            </div>
        </div>
    };
    boxed(group.title.to_owned(), group.folded, inside.into_any())
}

/// One field.
#[component]
fn Field(path: String, fact: &'static Fact) -> impl IntoView {
    let open = open();
    let key = StoredValue::new(path.clone());
    let asked = Memo::new(move |_| open.of_seat.with(|seat| key.with_value(|path| asked::is_asked(seat, path))));
    let recorded = Memo::new(move |_| key.with_value(|path| recorded_text(open, path)));
    let tried = Memo::new(move |_| key.with_value(|path| open.tried.text(path)));
    let fault = Memo::new(move |_| key.with_value(|path| open.tried.fault(open, path)));
    let shown = move || tried.get().unwrap_or_else(|| recorded.get());
    let id = format!("f-{}", path.replace(['.', ' '], "-"));
    let (hint_id, fault_id) = (format!("{id}-why"), format!("{id}-bad"));
    let described = format!("{hint_id} {fault_id}");
    let input = input(fact, &id, &described, shown, move |text| key.with_value(|path| open.tried.typed(open, path, text)));
    let unit = move || key.with_value(|path| show::unit(path, open.units.get()));
    let class = move || match (tried.get().is_some(), fault.get().is_some()) {
        (_, true) => "field bad-field",
        (true, false) => "field tried-field",
        _ => "field",
    };
    view! {
        <div class=class hidden=move || !asked.get()>
            <label for=id.clone()>{asked::label(&path)}</label>
            <div class="entry">{input}<span class="unit">{unit}</span></div>
            <p class="hint" id=hint_id>{fact.help}{move || usual(fact, open)}</p>
            <p class="bad" id=fault_id role="alert">{move || fault.get()}</p>
            {move || (tried.get().is_some()).then(|| view! {
                <p class="both">
                    {move || if recorded.get().is_empty() { "nothing recorded yet".to_owned() } else { format!("recorded: {} {}", recorded.get(), unit()) }}
                    " "<button type="button" class="plain" on:click=move |_| key.with_value(|path| open.tried.put_back(path))>"Put back"</button>
                </p>
            })}
        </div>
    }
}

fn usual(fact: &Fact, open: Open) -> String {
    match fact.stands {
        Stands::Figure(measure, _, Some(likely)) => format!("; usual {}", show::usual(measure, likely, open.units.get())),
        _ => String::new(),
    }
}

fn input(
    fact: &'static Fact,
    id: &str,
    described: &str,
    shown: impl Fn() -> String + Copy + Send + Sync + 'static,
    typed: impl Fn(String) + Copy + Send + Sync + 'static,
) -> AnyView {
    let (id, described) = (id.to_owned(), described.to_owned());
    let choices: Option<Vec<(String, String)>> = match fact.stands {
        Stands::Word(words) => Some(words.iter().map(|word| ((*word).to_owned(), word.replace('_', " "))).collect()),
        Stands::Flag => Some(vec![("no".into(), "no".into()), ("yes".into(), "yes".into())]),
        Stands::Alloy => Some(alloys().iter().map(|alloy| (alloy.id.to_owned(), format!("{} {}", alloy.id, alloy.family))).collect()),
        Stands::Metal => Some(metals().iter().map(|metal| (metal.id.to_owned(), metal.id.to_owned())).collect()),
        _ => None,
    };
    match choices {
        Some(choices) => view! {
            <select id=id aria-describedby=described prop:value=shown on:change=move |event| typed(event_target_value(&event))>
                <option value="" selected=move || shown().is_empty()>"not said"</option>
                {choices.into_iter().map(|(value, words)| {
                    let is = value.clone();
                    view! { <option value=value selected=move || shown() == is>{words}</option> }
                }).collect_view()}
            </select>
        }
        .into_any(),
        None => {
            let figure = matches!(fact.stands, Stands::Figure(..));
            view! {
                <input id=id aria-describedby=described inputmode=if figure { "decimal" } else { "text" } class:figure=figure autocomplete="off" maxlength="2000"
                    prop:value=shown on:input=move |event| typed(event_target_value(&event))/>
            }
            .into_any()
        }
    }
}

/// What is tried, in a bar that stays in sight: record it or put it back.
#[component]
pub fn Trying() -> impl IntoView {
    let open = open();
    let app = app();
    let count = move || open.tried.count();
    view! {
        <Show when=move || { count() > 0 }>
            <div class="trying" role="region" aria-label="What is tried">
                <p class="what">
                    <strong>"Trying "</strong>
                    {move || match count() { 1 => "1 value".to_owned(), n => format!("{n} values") }}
                    ", nothing is recorded yet."
                </p>
                <div class="two">
                    <div><span class="tag">"recorded"</span><span>{move || open.recorded.with(|done| decision(done.as_deref()))}</span></div>
                    <div class="now"><span class="tag">"tried"</span><span>{move || open.trying.with(|done| decision(done.as_deref()))}</span></div>
                </div>
                <div class="do">
                    <label for="reach">"for"</label>
                    <select id="reach" on:change=move |event| open.tried.reach.set(match event_target_value(&event).as_str() {
                        "seat" => Reach::Seat,
                        "job" => Reach::Job,
                        _ => Reach::Usual,
                    })>
                        <option value="usual" selected=move || open.tried.reach.get() == Reach::Usual>"whoever shares it now"</option>
                        <option value="seat" selected=move || open.tried.reach.get() == Reach::Seat>"this seat alone"</option>
                        <option value="job" selected=move || open.tried.reach.get() == Reach::Job>"the whole job"</option>
                    </select>
                    <button class="button main" on:click=move |_| open.tried.record(open, app)>"Record"</button>
                    <button class="button" on:click=move |_| open.tried.clear()>"Put back"</button>
                </div>
            </div>
        </Show>
    }
}

fn decision(done: Option<&crate::errand::Done>) -> String {
    done.and_then(|done| done.sheet.as_ref()).map_or_else(|| "…".to_owned(), |sheet| sheet.decision.clone())
}
