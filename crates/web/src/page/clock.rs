//! At the press or the bath: one clock, large, what happened as entries, and what the sheet says of the window.

use draw::now::Times;
use job::entry::What;
use job::sheet::Stage;
use job::{moment, pressing};
use leptos::prelude::*;

use super::app::app;
use super::browser;
use super::picture::Picture;
use super::pressed::PressReadings;
use super::sheet::{Open, open};

/// The bush is out of the bath or the oven, or on its way into the press: the clock that a window counts by.
const OUT: &str = "press";

/// What happens at the press, in order: the event, what stands on its button.
const DEEDS: [(&str, &str); 5] = [
    ("in the bath", "In the bath"),
    ("in the oven", "In the oven"),
    (OUT, "Out: the clock starts"),
    ("press stopped", "Stopped to look"),
    ("fitted", "Fitted"),
];

/// A signal that ticks every second.
pub fn ticking() -> RwSignal<i64> {
    let now = RwSignal::new(browser::now_s());
    let handle = set_interval_with_handle(move || now.set(browser::now_s()), std::time::Duration::from_millis(1000));
    on_cleanup(move || {
        if let Ok(handle) = handle {
            handle.clear();
        }
    });
    now
}

/// What was done last at the press or the bath, and when.
fn last_deed(open: Open) -> Memo<Option<(String, String)>> {
    Memo::new(move |_| {
        let entries = open.entries.get();
        let seat = open.of_seat.get();
        let scopes = [job::entry::Scope::Seat(seat.name.clone()), job::entry::Scope::Seat(seat.row.clone())];
        entries.iter().rev().find_map(|entry| match &entry.what {
            // A reading at the press starts no clock.
            What::Event { what, detail }
                if scopes.contains(&entry.seat) && pressing::read(detail).is_none() && DEEDS.iter().any(|(deed, _)| deed == what) =>
            {
                Some((what.clone(), entry.when.clone()))
            }
            _ => None,
        })
    })
}

/// The present moment on a picture that counts from the bath, from when the bush came out until something else is done.
#[component]
pub fn NowMark(times: Times) -> impl IntoView {
    let now = ticking();
    let last = last_deed(open());
    let since = move || match last.get() {
        Some((what, when)) if what == OUT => moment::seconds(&when).map(|then| now.get() - then),
        _ => None,
    };
    let mark = move || since().map(|s| times.mark(s as f64, &format!("now {}", moment::clock(s)))).unwrap_or_default();
    view! { <div class="now-mark" aria-hidden="true" inner_html=mark></div> }
}

/// The clock of the seat, and its deeds.
#[component]
pub fn SeatClock(large: bool) -> impl IntoView {
    let open = open();
    let app = app();
    let now = ticking();
    let last = last_deed(open);
    let digits = move || match last.get().and_then(|(_, when)| moment::seconds(&when)) {
        Some(then) => moment::clock(now.get() - then),
        None => "0:00".into(),
    };
    let said = move || last.get().map_or_else(|| "The clock starts with what you press.".to_owned(), |(what, _)| format!("since {what}"));
    // A bush that is pressed in sees neither bath nor oven. Which way it goes is what the sheet was worked out for.
    let asked = Memo::new(move |_| ["press", "heating", "cooling"].map(|kind| open.asks(Stage::Seat, kind)));
    let deeds = move || {
        let [pressed, heated, cooled] = asked.get();
        let is_done = move |what: &str| match what {
            "in the bath" => !pressed && !heated,
            "in the oven" => !pressed && !cooled,
            _ => true,
        };
        let named = |(what, words): (&'static str, &'static str)| {
            (what, if pressed && what == OUT { "It goes in: the clock starts" } else { words })
        };
        DEEDS.into_iter().filter(|(what, _)| is_done(what)).map(named).collect::<Vec<_>>()
    };
    let answer = Memo::new(move |_| open.stage_sheet(Stage::Seat).map(|sheet| (sheet.answer, sheet.lines)));
    let write = move |what: &'static str| {
        let entry = app.entry(&untrack(|| open.job.get()), open.own(), What::Event { what: what.to_owned(), detail: String::new() });
        app.write(vec![entry], |_| {});
    };
    view! {
        <section class="clock" class:giant=large aria-label="Clock">
            <div class="now-do">
                <p class="todo">{said}</p>
                <p class="digits" role="timer">{digits}</p>
                <div class="do">
                    {move || deeds().into_iter().map(|(what, words)| view! { <button class="button big" on:click=move |_| write(what)>{words}</button> }).collect_view()}
                </div>
                <PressReadings/>
            </div>
            {large.then(|| view! {
                <div class="expect">
                    <p class="answer">{move || answer.get().map(|(answer, _)| answer)}</p>
                    <dl class="lines">
                        {move || answer.get().map(|(_, lines)| lines.into_iter().map(|line| view! {
                            <div><dt>{line.label}</dt><dd><span class="figure">{line.value}</span></dd></div>
                        }).collect_view())}
                    </dl>
                </div>
                <div class="drawings">{move || open.pictures(Some(Stage::Seat)).into_iter().map(|shown| view! { <Picture shown/> }).collect_view()}</div>
            })}
        </section>
    }
}
