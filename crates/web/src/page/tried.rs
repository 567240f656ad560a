//! What is typed and not recorded: tried on top of the record, until the person says so or puts it back.

use std::collections::BTreeMap;

use job::entry::{Entry, Scope, What};
use job::state::Given;
use job::{show, typed};
use leptos::prelude::*;

use super::app::App;
use super::sheet::Open;
use crate::writing::{self, Moment, usual_scope};

/// For whom a change is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reach {
    /// Where it stands now, or where it is usual.
    #[default]
    Usual,
    /// This seat alone.
    Seat,
    /// The whole job.
    Job,
}

/// Texts by path.
#[derive(Clone, Copy)]
pub struct Tried {
    texts: RwSignal<BTreeMap<String, String>>,
    /// For whom a change is written.
    pub reach: RwSignal<Reach>,
}

impl Tried {
    /// Nothing is tried.
    pub fn new() -> Self {
        Self { texts: RwSignal::default(), reach: RwSignal::default() }
    }

    /// Puts everything back.
    pub fn clear(self) {
        if !self.is_empty() {
            self.texts.update(BTreeMap::clear);
        }
        self.reach.set(Reach::Usual);
    }

    /// Whether nothing is typed beside what is recorded.
    pub fn is_empty(self) -> bool {
        self.texts.with_untracked(BTreeMap::is_empty)
    }

    /// How many fields are tried.
    pub fn count(self) -> usize {
        self.texts.with(BTreeMap::len)
    }

    /// What is typed at a path.
    pub fn text(self, path: &str) -> Option<String> {
        self.texts.with(|texts| texts.get(path).cloned())
    }

    /// A text was typed; one that says what is recorded is no trial.
    pub fn typed(self, open: Open, path: &str, text: String) {
        let recorded = untrack(|| recorded_text(open, path));
        self.texts.update(|texts| {
            if text.trim() == recorded {
                texts.remove(path);
            } else {
                texts.insert(path.to_owned(), text);
            }
        });
    }

    /// Puts one field back.
    pub fn put_back(self, path: &str) {
        self.texts.update(|texts| {
            texts.remove(path);
        });
    }

    /// What is wrong with the text at a path.
    pub fn fault(self, open: Open, path: &str) -> Option<String> {
        let text = self.text(path)?;
        typed::given(path, &text, open.units.get()).err().map(|refused| refused.to_string())
    }

    fn sound(self, open: Open) -> Vec<(String, Given)> {
        let units = open.units.get();
        self.texts
            .with(|texts| texts.iter().filter_map(|(path, text)| Some((path.clone(), typed::given(path, text, units).ok()?))).collect())
    }

    /// Entries for what can be read of it, to be tried.
    pub fn entries(self, open: Open, _app: App) -> Vec<Entry> {
        let sound = self.sound(open);
        if sound.is_empty() {
            return Vec::new();
        }
        let entries = open.entries.get();
        let seat = open.of_seat.get();
        let mut follows = entries.last().map(|entry| entry.id);
        let mut tried = Vec::new();
        for (i, (about, value)) in sound.into_iter().enumerate() {
            let scope = self.scope(&usual_scope(&seat, &about, &entries), &seat.name, &about);
            // Behind everything that is recorded: a trial is always the newest word.
            let moment = Moment { millis: 4_000_000_000_000 + i as u64, free: [0; 10] };
            let entry = writing::entry(&writing::Pen::default(), moment, &open.job.get(), scope, follows, What::Fact { about, value });
            follows = Some(entry.id);
            tried.push(entry);
        }
        tried
    }

    fn scope(self, usual: &Scope, seat: &str, path: &str) -> Scope {
        match self.reach.get() {
            _ if path.starts_with("job.") => Scope::Job,
            Reach::Usual => usual.clone(),
            Reach::Seat => Scope::Seat(seat.to_owned()),
            Reach::Job => Scope::Job,
        }
    }

    /// Records what can be read; what can't stays as it was typed, with its sentence.
    pub fn record(self, open: Open, app: App) {
        untrack(|| {
            let entries = open.entries.get();
            let seat = open.of_seat.get();
            let mut follows = entries.last().map(|entry| entry.id);
            let mut new = Vec::new();
            let mut done = Vec::new();
            for (about, value) in self.sound(open) {
                let scope = self.scope(&usual_scope(&seat, &about, &entries), &seat.name, &about);
                done.push(about.clone());
                let mut entry = app.entry(&open.job.get(), scope, What::Fact { about, value });
                entry.follows = follows;
                follows = Some(entry.id);
                new.push(entry);
            }
            if new.is_empty() {
                return;
            }
            app.write(new, move |_| {
                self.texts.update(|texts| {
                    for path in &done {
                        texts.remove(path);
                    }
                });
                self.reach.set(Reach::Usual);
            });
        });
    }
}

/// What is recorded at a path, as its field shows it.
pub fn recorded_text(open: Open, path: &str) -> String {
    // The seat before the units, which follow from the same entries.
    let of_seat = open.of_seat.with(|seat| {
        let units = open.units.get();
        seat.known(path).map(|known| shown(path, &known.value, units))
    });
    if let Some(text) = of_seat {
        return text;
    }
    open.state.with(|state| match path {
        "job.title" => state.title.clone(),
        "job.customer" => state.customer.clone(),
        "job.units" => (if state.units == job::state::Units::Inch { "inch" } else { "mm" }).into(),
        "job.draws" => state.draws.to_string(),
        _ => String::new(),
    })
}

fn shown(path: &str, value: &Given, units: job::state::Units) -> String {
    match value {
        Given::Flag(true) => "yes".into(),
        Given::Flag(false) => "no".into(),
        other => show::bare(path, other, units),
    }
}
