//! The state of the app: who is there, where they are, what is kept, and the one way in which an entry is written.
//!
//! Entries are the only state of a job. A screen reads [`App::entries`], folds them, and writes by [`App::write`]; everything else follows.

use std::collections::BTreeMap;
use std::sync::Arc;

use job::entry::{Entry, Scope, What};
use job::state::{State, Units};
use job::sync::Device;
use leptos::prelude::*;
use wasm_bindgen_futures::spawn_local;

use super::keep::Disk;
use super::{browser, send};
use crate::address::Place;
use crate::light::Light;
use crate::writing::{self, Pen};

/// Before the number of a job that is only practised on this device.
pub const PRACTICE: &str = "practice ";

/// Colours and size of the letters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// As the browser is set.
    #[default]
    AsBrowser,
    /// Paper and ink.
    Paper,
    /// The floor: dark, larger.
    Floor,
}

/// What is remembered of the person at this browser.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Person {
    /// Name that entries are signed with.
    pub who: String,
    /// The device, in words.
    pub device: String,
    /// In which units this person reads; none: as the job says.
    pub units: Option<Units>,
    /// The theme.
    pub theme: Theme,
}

/// Who is signed in.
#[derive(Clone, Debug, Default, PartialEq, serde::Deserialize)]
pub struct Signed {
    /// The name that entries are signed with.
    pub name: String,
    /// floor, office, owner.
    pub roles: Vec<String>,
}

/// The state of the app; copied freely, it is all handles.
#[derive(Clone, Copy)]
pub struct App {
    /// Where the person is.
    pub place: RwSignal<Place>,
    /// What was kept here has been read.
    pub ready: RwSignal<bool>,
    /// Changes with every entry that comes in.
    pub revision: RwSignal<u64>,
    /// Who is there.
    pub person: RwSignal<Person>,
    /// The save light.
    pub light: RwSignal<Light>,
    /// Width of the window, px.
    pub width: RwSignal<f64>,
    /// Who is signed in at the server, as what; none: nobody, or not known while it can't be reached.
    pub signed: RwSignal<Option<Signed>>,
    /// What a screen has to say once, for readers too.
    pub said: RwSignal<String>,
    /// The record as this device has it.
    pub(super) device: StoredValue<Device>,
    /// Practice jobs.
    practice: StoredValue<BTreeMap<String, Vec<Entry>>>,
    pub(super) disk: StoredValue<Option<Disk>, LocalStorage>,
}

impl App {
    /// Opens the app: reads what is kept, follows the address, and begins to send.
    pub fn start() -> Self {
        let app = Self {
            place: RwSignal::new(Place::read(&browser::hash())),
            ready: RwSignal::new(false),
            revision: RwSignal::new(0),
            person: RwSignal::new(remembered()),
            light: RwSignal::default(),
            width: RwSignal::new(browser::width()),
            signed: RwSignal::new(None),
            said: RwSignal::default(),
            device: StoredValue::new(Device::default()),
            practice: StoredValue::new(BTreeMap::new()),
            disk: StoredValue::new_local(None),
        };
        browser::at_every("hashchange", move || {
            app.place.set(Place::read(&browser::hash()));
            browser::to_top();
        });
        browser::at_every("resize", move || {
            let width = browser::width();
            if app.width.get_untracked() != width {
                app.width.set(width);
            }
        });
        Effect::new(move || app.show_person(&app.person.get()));
        spawn_local(async move {
            match Disk::open().await {
                Ok(disk) => app.disk.set_value(Some(disk)),
                Err(fault) => app.light.update(|light| light.fault = Some(fault)),
            }
            app.read_again().await;
            app.ready.set(true);
            super::account::who(app).await;
            send::begin(app);
        });
        app
    }

    fn show_person(self, person: &Person) {
        let theme = match person.theme {
            Theme::AsBrowser => "as-browser",
            Theme::Paper => "paper",
            Theme::Floor => "floor",
        };
        browser::on_root("data-theme", theme);
        browser::set("theme", theme);
        browser::set("who", &person.who);
        browser::set("device", &person.device);
        browser::set(
            "units",
            match person.units {
                Some(Units::Inch) => "inch",
                Some(Units::Mm) => "mm",
                None => "",
            },
        );
    }

    /// Reads what is kept on the browser's disk: at the start, and when another tab wrote.
    pub async fn read_again(self) {
        let Some(disk) = self.disk.get_value() else { return };
        match disk.all().await {
            Ok(found) => {
                let refused = self.device.with_value(|device| device.refused.clone());
                let device = Device::restored(&found.kept, found.pile.clone());
                let mut practice: BTreeMap<String, Vec<Entry>> = BTreeMap::new();
                for entry in found.practice {
                    practice.entry(entry.job.clone()).or_default().push(entry);
                }
                self.practice.set_value(practice);
                match device {
                    Ok(mut device) => {
                        device.refused = refused;
                        self.device.set_value(device);
                    }
                    // A chain that can't be checked is left where it is, and asked for again; what was written here is never left out.
                    Err(altered) => {
                        self.device.set_value(Device::restored(&[], found.pile).unwrap_or_default());
                        self.light
                            .update(|light| light.fault = Some(format!("a chain on this device is not as it was written: {altered}")));
                    }
                }
                self.moved();
            }
            Err(fault) => self.light.update(|light| light.fault = Some(fault)),
        }
    }

    /// Something came in: screens look again.
    pub fn moved(self) {
        let waiting = self.device.with_value(|device| device.pile().len());
        let refused = self.device.with_value(|device| device.refused.len());
        self.light.update(|light| {
            light.waiting = waiting;
            light.refused = refused;
        });
        self.revision.update(|revision| *revision += 1);
    }

    /// The entries of a job, in the order in which this device has them.
    pub fn entries(self, job: &str) -> Vec<Entry> {
        self.revision.track();
        if job.starts_with(PRACTICE) {
            return self.practice.with_value(|practice| practice.get(job).cloned().unwrap_or_default());
        }
        self.device.with_value(|device| device.entries(job))
    }

    /// The jobs that are here, by the name under which they are kept; practice jobs last.
    pub fn jobs(self) -> Vec<String> {
        self.revision.track();
        let mut jobs: Vec<String> = self.device.with_value(|device| {
            let mut jobs: Vec<String> = device.jobs().filter(|job| !job.is_empty()).map(str::to_owned).collect();
            jobs.extend(device.pile().iter().map(|entry| entry.job.clone()).filter(|job| !job.is_empty()));
            jobs
        });
        jobs.sort();
        jobs.dedup();
        self.practice.with_value(|practice| jobs.extend(practice.keys().cloned()));
        jobs
    }

    /// What a job amounts to.
    pub fn state(self, job: &str) -> Arc<State> {
        Arc::new(job::fold(&self.entries(job)))
    }

    /// Who writes here.
    pub fn pen(self) -> Pen {
        let person = self.person.get_untracked();
        let device = if person.device.is_empty() { "browser".to_owned() } else { person.device };
        Pen { who: person.who, device }
    }

    /// The units that this person reads a job in.
    pub fn units(self, of_job: Units) -> Units {
        self.person.with(|person| person.units).unwrap_or(of_job)
    }

    /// An entry of a job, behind the last that was seen; not written yet.
    pub fn entry(self, job: &str, seat: Scope, what: What) -> Entry {
        let follows = untrack(|| self.entries(job)).last().map(|entry| entry.id);
        writing::entry(&self.pen(), browser::moment(), job, seat, follows, what)
    }

    /// Writes one thing about a seat (or a brief, or the whole job).
    pub fn record(self, job: &str, seat: Scope, what: What) {
        let entry = self.entry(job, seat, what);
        self.write(vec![entry], |_| {});
    }

    /// Writes entries in order: they are on the screen when they are on the browser's disk, then on their way to the server.
    /// `then` is told whether they are kept.
    pub fn write(self, entries: Vec<Entry>, then: impl FnOnce(bool) + 'static) {
        let refused = entries.iter().find_map(|entry| entry.checked().err());
        if let Some(refused) = refused {
            self.said.set(refused.to_string());
            return then(false);
        }
        let (count, practice) = (entries.len(), entries.first().is_some_and(|entry| entry.job.starts_with(PRACTICE)));
        self.light.update(|light| light.writing += count);
        spawn_local(async move {
            let kept = match self.disk.get_value() {
                Some(disk) => disk.write(&entries, practice).await,
                None => Err("this browser keeps nothing; entries last until the page is closed".into()),
            };
            self.light.update(|light| light.writing = light.writing.saturating_sub(count));
            if let Err(fault) = &kept {
                self.light.update(|light| light.fault = Some(fault.clone()));
            }
            for entry in entries {
                if practice {
                    self.practice.update_value(|practice| practice.entry(entry.job.clone()).or_default().push(entry));
                } else {
                    self.device.update_value(|device| device.write(entry));
                }
            }
            self.moved();
            browser::ask_to_keep();
            send::tell_other_tabs();
            send::soon(self);
            then(kept.is_ok());
        });
    }

    /// Takes a practice job away from this device.
    pub fn forget_practice(self, job: &str) {
        let entries = untrack(|| self.entries(job));
        let job = job.to_owned();
        spawn_local(async move {
            if let Some(disk) = self.disk.get_value()
                && let Err(fault) = disk.forget(&entries).await
            {
                self.light.update(|light| light.fault = Some(fault));
                return;
            }
            self.practice.update_value(|practice| {
                practice.remove(&job);
            });
            self.moved();
            send::tell_other_tabs();
        });
    }
}

/// The app of this page.
pub fn app() -> App {
    expect_context()
}

fn remembered() -> Person {
    Person {
        who: browser::setting("who").unwrap_or_default(),
        device: browser::setting("device").unwrap_or_default(),
        units: match browser::setting("units").as_deref() {
            Some("inch") => Some(Units::Inch),
            Some("mm") => Some(Units::Mm),
            _ => None,
        },
        theme: match browser::setting("theme").as_deref() {
            Some("paper") => Theme::Paper,
            Some("floor") => Theme::Floor,
            _ => Theme::AsBrowser,
        },
    }
}
