//! At the lathe: the dialogue of `job::lathe` on a screen. One thing to do, its digits large, one field for the answer.
//!
//! Words and order are those of the terminal: the same machine is asked. A step goes on only when its entry is on the browser's disk.

use job::chain;
use job::entry::{Entry, EntryId, Scope, What};
use job::lathe::log::{Log, Writer};
use job::lathe::step::{Setup, Surface};
use job::lathe::{Board, Dialogue, Now, Reply, board};
use job::moment;
use job::sheet::Stage;
use leptos::prelude::*;

use super::app::{App, app};
use super::browser;
use super::clock::ticking;
use super::sheet::{Open, open};

/// The dialogue of the open seat.
#[component]
pub fn Lathe(stage: Stage, large: bool) -> impl IntoView {
    let open = open();
    let app = app();
    let surface = if stage == Stage::Bore { Surface::Bore } else { Surface::Outside };
    let dialogue = StoredValue::new_local(None::<Result<Dialogue, String>>);
    let stands = RwSignal::new(0_u32);
    let said = RwSignal::new(Vec::<String>::new());
    let typed = RwSignal::new(String::new());
    let busy = RwSignal::new(false);
    let now = ticking();
    // Opened anew when the entries of the lathe, the seat or the units change: also what another person did at the same part.
    // Entries are read before the seat and the units that follow from them, here and below: see the effects of `Open::follow`.
    let log = Memo::new(move |_| {
        let entries = open.entries.get();
        let seat = open.seat.get();
        (seat.clone(), open.units.get(), log_of(&entries, &seat))
    });
    let setup = RwSignal::new(None::<(String, Result<Setup, String>)>);
    // What it starts from is found by a worker, for another seat or when something else than a step at the lathe was written.
    let rests_on = Memo::new(move |_| {
        let others = open.entries.with(|entries| others(entries));
        (open.seat.get(), open.units.get(), others)
    });
    Effect::new(move || {
        let (seat, ..) = rests_on.get();
        open.ask_setup(app, surface, move |found| setup.set(Some((seat, found))));
    });
    Effect::new(move || {
        // Read, not only tracked: a memo that nobody reads is not worked out, and then never changes.
        let here = log.with(|(seat, ..)| seat.clone());
        let found = setup.with(|setup| setup.clone().filter(|(seat, _)| *seat == here).map(|(_, found)| found));
        dialogue.set_value(found.map(|found| opened(open, app, surface, found?)));
        stands.update(|n| *n += 1);
    });
    let shown = Memo::new(move |_| {
        stands.track();
        dialogue.with_value(|dialogue| match dialogue {
            Some(Ok(dialogue)) => Some(Ok(board(dialogue))),
            Some(Err(why)) => Some(Err(why.clone())),
            None => None,
        })
    });
    let answer = move |text: String| {
        if busy.get_untracked() {
            return;
        }
        let now = Now { when: moment::written(browser::now_s()), clocked: true };
        let reply = dialogue.try_update_value(|dialogue| match dialogue {
            Some(Ok(dialogue)) => Some(dialogue.answer(&text, &now)),
            _ => None,
        });
        match reply.flatten() {
            Some(Reply::Keep(kept)) => {
                busy.set(true);
                let entry = kept.entry.clone();
                app.write(vec![entry], move |is_kept| {
                    busy.set(false);
                    if is_kept {
                        typed.set(String::new());
                        said.set(Vec::new());
                        browser::focus("lathe-answer");
                    }
                });
            }
            Some(Reply::Say(lines)) => said.set(lines.iter().map(|line| line.trim().to_owned()).collect()),
            Some(Reply::Stop) | None => {}
        }
    };
    view! {
        <section class="lathe" class:giant=large aria-label="At the lathe">
            {move || match shown.get() {
                Some(Err(why)) => view! { <p class="need"><span class="mark" aria-hidden="true">"!"</span>{why}</p> }.into_any(),
                Some(Ok(board)) => view! {
                    <div class="now-do">
                        <p class="todo">{board.todo}</p>
                        {board.digits.clone().map(|digits| view! { <p class="digits">{digits}<span class="unit">{board.unit}</span></p> })}
                        <form class="reply" on:submit=move |event| { event.prevent_default(); answer(typed.get_untracked()); }>
                            <label for="lathe-answer">{board.prompt.trim_end_matches([' ', '>']).to_owned()}</label>
                            <div class="entry">
                                <input id="lathe-answer" autocomplete="off" inputmode=if board.figure { "decimal" } else { "text" } maxlength="300" aria-describedby="lathe-said"
                                    prop:value=typed on:input=move |event| typed.set(event_target_value(&event))/>
                                <span class="unit">{board.unit}</span>
                                <button class="button main" type="submit">"Enter"</button>
                            </div>
                        </form>
                        <div class="bad" id="lathe-said" role="alert">{move || said.get().into_iter().map(|line| view! { <p>{line}</p> }).collect_view()}</div>
                        <div class="do">
                            {board.buttons.iter().map(|button| { let text = button.answer; view! { <button class="button big" on:click=move |_| answer(text.to_owned())>{button.label}</button> } }).collect_view()}
                        </div>
                    </div>
                    <div class="expect">
                        <Expect board since=last_step(open, surface, now)/>
                        <div class="do">
                            <button class="button" on:click=move |_| answer("undo".into())>"Take the last step back"</button>
                            <button class="button" on:click=move |_| answer("?".into())>"Help"</button>
                        </div>
                    </div>
                }.into_any(),
                None => view! { <p class="soft">"Working it out."</p> }.into_any(),
            }}
        </section>
    }
}

#[component]
fn Expect(board: Board, since: Signal<String>) -> impl IntoView {
    let Board { rows, notes, .. } = board;
    view! {
        <dl class="lines">
            {rows.into_iter().map(|row| view! { <div><dt>{row.label}</dt><dd>{row.text}</dd></div> }).collect_view()}
            <div><dt>"clock"</dt><dd><span role="timer">{since}</span></dd></div>
        </dl>
        {notes.into_iter().map(|note| view! { <p class="note">{note}</p> }).collect_view()}
    }
}

/// How long since the last step at this surface.
fn last_step(open: Open, surface: Surface, now: RwSignal<i64>) -> Signal<String> {
    let last = Memo::new(move |_| {
        let entries = open.entries.get();
        log_of(&entries, &open.seat.get()).iter().rev().find(|entry| is_at(&entry.what, surface)).map(|entry| entry.when.clone())
    });
    Signal::derive(move || {
        let last = last.get();
        match last.as_deref().and_then(moment::seconds) {
            Some(then) => format!("{} since the last step", moment::clock(now.get() - then)),
            None => "starts with the first step".into(),
        }
    })
}

fn is_step(what: &What) -> bool {
    match what {
        What::Lathe { .. } => true,
        What::Correction { with, .. } => matches!(**with, What::Lathe { .. }),
        _ => false,
    }
}

fn is_at(what: &What, surface: Surface) -> bool {
    match what {
        What::Lathe { surface: of, .. } => *of == surface,
        What::Correction { with, .. } => is_at(with, surface),
        _ => false,
    }
}

/// The steps at the lathe of one seat, as its log has them.
fn log_of(entries: &[Entry], seat: &str) -> Vec<Entry> {
    let scope = Scope::Seat(seat.to_owned());
    let mine: Vec<Entry> = entries.iter().filter(|entry| entry.seat == scope && is_step(&entry.what)).cloned().collect();
    job::fold::ordered(&mine)
}

/// What was written apart from steps at the lathe: how much, and the last of it.
fn others(entries: &[Entry]) -> (usize, Option<EntryId>) {
    let mut others = entries.iter().filter(|entry| !is_step(&entry.what));
    let last = others.next_back().map(|entry| entry.id);
    (others.count(), last)
}

fn opened(open: Open, app: App, surface: Surface, setup: Setup) -> Result<Dialogue, String> {
    untrack(|| {
        let seat = open.seat.get();
        let entries = open.entries.with(|entries| log_of(entries, &seat));
        let head = entries.iter().fold(chain::START, |before, entry| chain::hash(&before, entry));
        let pen = app.pen();
        let writer = Writer { job: open.job.get(), seat, who: pen.who, device: pen.device, log: "kept with the job".into() };
        Ok(Dialogue::open(writer, surface, setup, &Log { entries, head, ..Log::default() }))
    })
}
