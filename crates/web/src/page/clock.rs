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

/// What happens at the press, in order: the event, what stands on its button, what the clock counts from then on.
const DEEDS: [(&str, &str, &str); 5] = [
    ("in the bath", "In the bath", "since it went into the bath"),
    ("in the oven", "In the oven", "since it went into the oven"),
    (OUT, "Out: the clock starts", "since it came out"),
    ("press stopped", "Stopped to look", "since the press was stopped"),
    ("fitted", "Fitted", "since it was fitted"),
];
/// The same of a bush that is pressed in and was never out of anything.
const GOES_IN: (&str, &str, &str) = (OUT, "It goes in: the clock starts", "since it began to go in");

/// The deeds of a way in: a bush that is pressed in sees neither bath nor oven.
fn deeds(pressed: bool, heated: bool, cooled: bool) -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    let is_done = move |what: &str| match what {
        "in the bath" => !pressed && !heated,
        "in the oven" => !pressed && !cooled,
        _ => true,
    };
    let of_the_way = move |deed: (&'static str, _, _)| if pressed && deed.0 == OUT { GOES_IN } else { deed };
    DEEDS.into_iter().filter(move |(what, ..)| is_done(what)).map(of_the_way)
}

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
                if scopes.contains(&entry.seat) && pressing::read(detail).is_none() && DEEDS.iter().any(|(deed, ..)| deed == what) =>
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
    // Which way it goes is what the sheet was worked out for.
    let asked = Memo::new(move |_| ["press", "heating", "cooling"].map(|kind| open.asks(Stage::Seat, kind)));
    let deeds = move || {
        let [pressed, heated, cooled] = asked.get();
        deeds(pressed, heated, cooled)
    };
    let said = move || match last.get() {
        // What was done may belong to another way in than the sheet's of now.
        Some((what, _)) => deeds().chain(DEEDS).find(|(deed, ..)| *deed == what).map_or("", |(_, _, since)| since),
        None => "The clock starts with what you press.",
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
                    {move || deeds().map(|(what, words, _)| view! { <button class="button big" on:click=move |_| write(what)>{words}</button> }).collect_view()}
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
