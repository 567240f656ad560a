//! At the press: travel and force as they are read while the bush goes in, each one an entry.

use calc::keys::Range;
use job::entry::What;
use job::facts::Measure;
use job::sheet::Stage;
use job::{pressing, show, typed};
use leptos::prelude::*;

use super::browser;
use super::sheet::open;

/// Two fields and a button; there while the bush goes in by a press.
#[component]
pub fn PressReadings() -> impl IntoView {
    let open = open();
    let pressed = Memo::new(move |_| open.asks(Stage::Seat, "press"));
    let (travel, force) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let fault = RwSignal::new(None::<String>);
    let count = Memo::new(move |_| open.of_seat.with(|seat| pressing::readings(&seat.events).len()));
    let keep = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let units = open.units.get_untracked();
        let from_0 = Range::within(0.0, 20_000.0);
        let read =
            |name, measure, text: RwSignal<String>, example| typed::amount(name, measure, from_0, &text.get_untracked(), units, example);
        let both = read("the travel", Measure::Length, travel, "42")
            .and_then(|travel| Ok((travel.value, read("the force", Measure::Force, force, "31.5")?.value)));
        match both {
            Ok((travel_mm, force_kN)) => {
                let detail = pressing::written(travel_mm, force_kN);
                open.record(open.own(), What::Event { what: pressing::PRESS.to_owned(), detail });
                travel.set(String::new());
                force.set(String::new());
                fault.set(None);
                browser::focus("press-travel");
            }
            Err(refused) => fault.set(Some(refused.to_string())),
        }
    };
    let unit = move |measure| show::measured_in(measure, open.units.get());
    view! {
        <Show when=move || pressed.get()>
            <form class="group pressed" on:submit=keep novalidate=true aria-labelledby="press-title">
                <h3 id="press-title">"Readings at the press"</h3>
                <div class="fields">
                    <div class="field"><label for="press-travel">"travel from first touch"</label>
                        <div class="entry"><input id="press-travel" class="figure" inputmode="decimal" autocomplete="off" maxlength="40" prop:value=travel on:input=move |event| travel.set(event_target_value(&event))/>
                        <span class="unit">{move || unit(Measure::Length)}</span></div></div>
                    <div class="field"><label for="press-force">"force"</label>
                        <div class="entry"><input id="press-force" class="figure" inputmode="decimal" autocomplete="off" maxlength="40" prop:value=force on:input=move |event| force.set(event_target_value(&event))/>
                        <span class="unit">{move || unit(Measure::Force)}</span></div></div>
                </div>
                <p class="bad" role="alert">{move || fault.get()}</p>
                <div class="do"><button class="button" type="submit">"Keep the reading"</button></div>
                <p class="hint">{move || match count.get() {
                    0 => "After each reading the sheet says how it goes and what to expect at the end.".to_owned(),
                    1 => "1 reading since the pressing began.".to_owned(),
                    n => format!("{n} readings since the pressing began."),
                }}</p>
            </form>
        </Show>
    }
}
