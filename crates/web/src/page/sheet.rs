//! The job that is open: its entries folded, its seat's sheet as recorded and as tried, found by the workers.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use std::sync::Arc;
use std::time::Duration;

use job::entry::{Entry, Scope};
use job::lathe::step::{Setup, Surface};
use job::sheet::{SeatSheet, Stage, StageSheet, Standing};
use job::state::{Seat, State, Units};
use leptos::prelude::*;

use super::app::{App, app};
use super::back;
use super::tried::Tried;
use super::workers::{Hand, Slot, Wish};
use crate::address::Place;
use crate::errand::{AT_ONCE, Done, Errand, Shown};

/// The job that is open; copied freely, it is all handles.
#[derive(Clone, Copy)]
pub struct Open {
    /// Under which name the app keeps it.
    pub job: Memo<String>,
    /// The seat that is seen.
    pub seat: Memo<String>,
    /// The stage that is seen; none: the whole seat.
    pub stage: Memo<Option<Stage>>,
    /// At arm's length.
    pub large: Memo<bool>,
    /// The entries.
    pub entries: Memo<Arc<Vec<Entry>>>,
    /// The entries with what is lent to the job: what a worker is given.
    lent: Memo<Arc<Vec<Entry>>>,
    /// What they amount to.
    pub state: Memo<Arc<State>>,
    /// In which units it is read here.
    pub units: Memo<Units>,
    /// The seat as it is recorded.
    pub of_seat: Memo<Arc<Seat>>,
    /// The sheet as recorded, with its pictures.
    pub recorded: RwSignal<Option<Arc<Done>>>,
    /// The sheet with what is tried; none while nothing is.
    pub trying: RwSignal<Option<Arc<Done>>>,
    /// How far what is shown was worked out.
    pub depth: RwSignal<Depth>,
    /// What is typed and not recorded.
    pub tried: Tried,
    /// The derivations are wanted.
    pub working: RwSignal<bool>,
    /// Sheets of all seats that were found, the newest of each.
    pub known: RwSignal<BTreeMap<String, Arc<Done>>>,
    /// The workers: the one that answers at once, and the one that makes all draws.
    hands: Hands,
}

/// The job that is open.
pub fn open() -> Open {
    expect_context()
}

/// How far a sheet was worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Depth {
    /// With few draws.
    #[default]
    First,
    /// With all draws; what takes finite elements follows.
    Draws,
    /// All of it.
    All,
}

impl Depth {
    /// What is still to come, in words; nothing where nothing is.
    pub const fn words(self) -> &'static str {
        match self {
            Self::First => "first look, settling",
            Self::Draws => "all draws made; the shape along the length follows",
            Self::All => "",
        }
    }
}

/// A person who has not typed for so long is not typing: what takes finite elements begins.
const PAUSE: Duration = Duration::from_millis(200);

/// Who waits for a sheet.
struct Waiting {
    /// Where the wishes wait for a worker.
    slot: Slot,
    /// The entries.
    entries: Arc<Vec<Entry>>,
    /// The sheet with all of it.
    wish: Errand,
    /// The stage whose pictures a first look has; none: all of them.
    only: Option<Stage>,
    /// Takes an answer, unless a newer one is in sight; says whether it is wanted deeper.
    keep: Box<dyn Fn(Done, Depth) -> bool>,
    /// Whether nothing newer was asked.
    wanted: Box<dyn Fn() -> bool>,
}

type Hands = StoredValue<(Hand, Hand), LocalStorage>;

/// Asks for a sheet to `depth`, and deeper once that is in sight: two workers at once would be in the way of the page, which draws.
fn ask_to(depth: Depth, hands: Hands, waiting: Rc<Waiting>) {
    let all = &waiting.wish;
    let (slot, errand) = match depth {
        Depth::First => (waiting.slot, Errand { draws: Some(AT_ONCE), at_once: true, only: waiting.only, ..all.clone() }),
        Depth::Draws => (waiting.slot, Errand { at_once: true, ..all.clone() }),
        Depth::All => (Slot::Shape, all.clone()),
    };
    let entries = waiting.entries.clone();
    let then = Box::new(move |done: Done| {
        let owes = done.owes;
        let goes_on = (waiting.keep)(done, if depth == Depth::Draws && !owes { Depth::All } else { depth });
        match depth {
            Depth::First if goes_on => ask_to(Depth::Draws, hands, waiting),
            Depth::Draws if goes_on && owes => {
                let later = move || {
                    if (waiting.wanted)() {
                        ask_to(Depth::All, hands, waiting);
                    }
                };
                set_timeout(later, PAUSE);
            }
            _ => {}
        }
    });
    hands.try_with_value(|(quick, full)| {
        let hand = if depth == Depth::First { quick } else { full };
        hand.ask(slot, Wish { entries, errand, then });
    });
}

/// Seats whose sheets are up to date.
type Fresh = StoredValue<BTreeSet<String>>;

impl Open {
    /// Opens the job of the place.
    pub fn of_place(app: App) -> Self {
        let here = move || match app.place.get() {
            Place::Job { job, seat, stage, large } => (job, seat, stage, large),
            _ => Default::default(),
        };
        let job = Memo::new(move |_| here().0);
        let entries = Memo::new_with_compare(move |_| Arc::new(app.entries(&job.get())), |_, _| true);
        // Gauges of the shop and what its lathes have taught are lent to the job; heads and undo are of its own entries.
        let lent = Memo::new_with_compare(move |_| Arc::new(back::lent(app, &job.get(), &entries.get())), |_, _| true);
        let state = Memo::new_with_compare(move |_| Arc::new(crate::errand::folded(&lent.get())), |_, _| true);
        let seat = Memo::new(move |_| {
            let named = here().1;
            state.with(|state| {
                let is_there = state.seats.iter().any(|seat| seat.name == named);
                if is_there { named } else { state.seats.first().map(|seat| seat.name.clone()).unwrap_or_default() }
            })
        });
        let of_seat = Memo::new_with_compare(
            move |_| {
                // The state before the seat, which follows from it.
                let found = state.with(|state| {
                    let name = seat.get();
                    state.seats.iter().find(|seat| seat.name == name).cloned()
                });
                Arc::new(found.unwrap_or_default())
            },
            |_, _| true,
        );
        let units = Memo::new(move |_| app.units(state.with(|state| state.units)));
        let open = Self {
            job,
            seat,
            stage: Memo::new(move |_| here().2),
            large: Memo::new(move |_| here().3),
            entries,
            lent,
            state,
            units,
            of_seat,
            recorded: RwSignal::new(None),
            trying: RwSignal::new(None),
            depth: RwSignal::default(),
            tried: Tried::new(),
            working: RwSignal::new(false),
            known: RwSignal::default(),
            hands: StoredValue::new_local((Hand::new(), Hand::new())),
        };
        open.follow(app);
        open
    }

    /// Asks the workers whenever something that a sheet rests on has changed.
    fn follow(self, app: App) {
        let lent = self.lent;
        let hands = self.hands;
        // What comes after the job was left would ask signals that are gone.
        on_cleanup(move || {
            hands.try_with_value(|(quick, full)| {
                quick.end();
                full.end();
            });
        });
        // For what the sheets that are known were found: another record, unit or width, and they are found anew.
        let found_for = StoredValue::new_local(None::<(Arc<Vec<Entry>>, Units, f64)>);
        let fresh = StoredValue::new(BTreeSet::<String>::new());
        // The turn of asking, and which answer is in sight: of which turn, how deep. An older one tells nothing more, whenever it comes.
        let (turn, in_sight) = (StoredValue::new(0_u64), StoredValue::new((0_u64, Depth::First)));
        let (tried_turn, tried_in_sight) = (StoredValue::new(0_u64), StoredValue::new((0_u64, Depth::First)));
        // How far the sheet as recorded was worked out.
        let recorded_depth = StoredValue::new(Depth::First);
        // A job that was left has no screen any more.
        let is_here = move |seat: &str| untrack(|| self.seat.try_get()).is_some_and(|here| here == seat);
        // Another seat: what is known of it is shown at once, and what was typed at the seat before is not tried here.
        Effect::new(move || {
            let seat = self.seat.get();
            self.tried.clear();
            self.trying.set(None);
            self.recorded.set(self.known.with_untracked(|known| known.get(&seat).cloned()));
        });
        Effect::new(move || {
            // Before the seat, which follows from it: an effect that comes by a memo of the same value to one that changed is not told of it.
            let entries = lent.get();
            let wish = self.wish(app);
            let name = wish.seat.clone();
            self.depth.set(Depth::First);
            recorded_depth.set_value(Depth::First);
            turn.update_value(|turn| *turn += 1);
            let mine = turn.get_value();
            let is_same = found_for.with_value(|known| {
                let same = |(old, units, width): &(Arc<Vec<Entry>>, Units, f64)| {
                    Arc::ptr_eq(old, &entries) && *units == wish.units && Some(*width) == wish.width
                };
                known.as_ref().is_some_and(same)
            });
            if !is_same {
                found_for.set_value(wish.width.map(|width| (entries.clone(), wish.units, width)));
                fresh.update_value(BTreeSet::clear);
            }
            let keep = move |done: Done, depth: Depth| {
                if !is_here(&done.seat) || (mine, depth) < in_sight.get_value() {
                    return false;
                }
                in_sight.set_value((mine, depth));
                let done = Arc::new(done);
                fresh.update_value(|fresh| {
                    fresh.insert(done.seat.clone());
                });
                self.recorded.set(Some(done.clone()));
                let is_newest = mine == turn.get_value();
                if is_newest {
                    recorded_depth.set_value(depth);
                    if self.trying.with_untracked(Option::is_none) {
                        self.depth.set(depth);
                    }
                }
                self.known.update(|known| {
                    known.insert(done.seat.clone(), done);
                });
                is_newest
            };
            let is_known = fresh.with_value(|fresh| fresh.contains(&name));
            let of_it = name.clone();
            let wanted = move || is_here(&of_it) && mine == turn.get_value();
            let (keep, wanted) = (Box::new(keep), Box::new(wanted));
            let waiting = Waiting { slot: Slot::Recorded, entries: entries.clone(), wish, only: None, keep, wanted };
            ask_to(if is_known { Depth::Draws } else { Depth::First }, hands, Rc::new(waiting));
            if !is_same {
                hands.with_value(|(quick, _)| self.look_at_the_others(quick, &entries, &name, fresh, app));
            }
        });
        Effect::new(move || {
            // First, as above.
            let entries = lent.get();
            let tried = self.tried.entries(self, app);
            if tried.is_empty() {
                hands.with_value(|(quick, full)| {
                    quick.drop_wish(Slot::Tried);
                    full.drop_wish(Slot::Tried);
                });
                self.trying.set(None);
                self.depth.set(recorded_depth.get_value());
                return;
            }
            let wish = Errand { tried, ..self.wish(app) };
            let name = wish.seat.clone();
            self.depth.set(Depth::First);
            tried_turn.update_value(|turn| *turn += 1);
            let mine = tried_turn.get_value();
            let keep = move |done: Done, depth: Depth| {
                if !is_here(&done.seat) || self.tried.is_empty() || (mine, depth) < tried_in_sight.get_value() {
                    return false;
                }
                tried_in_sight.set_value((mine, depth));
                self.trying.set(Some(Arc::new(done)));
                let is_newest = mine == tried_turn.get_value();
                if is_newest {
                    self.depth.set(depth);
                }
                is_newest
            };
            let wanted = move || is_here(&name) && !self.tried.is_empty() && mine == tried_turn.get_value();
            // A first look is at the stage that is in sight; the others follow with all draws.
            let only = self.stage.get_untracked();
            let (keep, wanted) = (Box::new(keep), Box::new(wanted));
            let waiting = Waiting { slot: Slot::Tried, entries, wish, only, keep, wanted };
            ask_to(Depth::First, hands, Rc::new(waiting));
        });
    }

    /// The other seats of the job, one after the other, while nothing else is asked: their marks, and switching to them at once.
    fn look_at_the_others(self, quick: &Hand, entries: &Arc<Vec<Entry>>, but: &str, fresh: Fresh, app: App) {
        let names: Vec<String> = self.state.with_untracked(|state| state.seats.iter().map(|seat| seat.name.clone()).collect());
        let names: Vec<String> = names.into_iter().filter(|name| name != but).rev().collect();
        self.look_at(quick.clone(), entries.clone(), names, fresh, app);
    }

    fn look_at(self, quick: Hand, entries: Arc<Vec<Entry>>, mut names: Vec<String>, fresh: Fresh, app: App) {
        let Some(seat) = names.pop() else { return };
        if fresh.with_value(|fresh| fresh.contains(&seat)) {
            return self.look_at(quick, entries, names, fresh, app);
        }
        let errand = Errand { seat, draws: Some(AT_ONCE), at_once: true, with_working: false, ..untrack(|| self.wish(app)) };
        let (again, lent) = (quick.clone(), entries.clone());
        let then = Box::new(move |done: Done| {
            if self.known.is_disposed() {
                return;
            }
            fresh.update_value(|fresh| {
                fresh.insert(done.seat.clone());
            });
            self.known.update(|known| {
                known.insert(done.seat.clone(), Arc::new(done));
            });
            self.look_at(again, lent, names, fresh, app);
        });
        quick.ask(Slot::Other, Wish { entries, errand, then });
    }

    fn wish(self, app: App) -> Errand {
        let window = app.width.get();
        Errand {
            seat: self.seat.get(),
            units: self.units.get(),
            with_working: self.working.get(),
            width: Some(middle_width(window)),
            section_width: section_width(window),
            ..Errand::default()
        }
    }

    /// Asks what the dialogue at the lathe starts from, for the seat that is seen.
    pub fn ask_setup(self, app: App, surface: Surface, then: impl FnOnce(Result<Setup, String>) + 'static) {
        untrack(|| {
            let errand = Errand { draws: Some(AT_ONCE), with_working: false, width: None, lathe: Some(surface), ..self.wish(app) };
            let then = Box::new(move |done: Done| {
                if let Some(setup) = done.setup {
                    then(setup);
                }
            });
            self.hands.with_value(|(_, full)| full.ask(Slot::Lathe, Wish { entries: self.lent.get(), errand, then }));
        });
    }

    /// A stage of the sheet as recorded.
    pub fn stage_sheet(self, stage: Stage) -> Option<StageSheet> {
        self.recorded.with(|done| of_stage(done.as_ref()?.sheet.as_ref()?, stage))
    }

    /// Whether a stage of the sheet as recorded was worked out by a calculation of this kind.
    pub fn asks(self, stage: Stage, kind: &str) -> bool {
        self.stage_sheet(stage).is_some_and(|sheet| sheet.calculations.iter().any(|calculation| calculation.kind == kind))
    }

    /// A stage of the sheet with what is tried; none while nothing is.
    pub fn tried_sheet(self, stage: Stage) -> Option<StageSheet> {
        self.trying.with(|done| of_stage(done.as_ref()?.sheet.as_ref()?, stage))
    }

    /// The pictures of a stage (of the section: none), as tried where something is.
    pub fn pictures(self, stage: Option<Stage>) -> Vec<Shown> {
        let of = |done: &Option<Arc<Done>>| {
            done.as_ref().map(|done| done.pictures.iter().filter(|shown| shown.stage == stage).cloned().collect::<Vec<_>>())
        };
        self.trying.with(of).or_else(|| self.recorded.with(of)).unwrap_or_default()
    }

    /// Writes one thing about the seat that is open.
    pub fn record(self, scope: Scope, what: job::entry::What) {
        app().record(&untrack(|| self.job.get()), scope, what);
    }

    /// The seat alone, as a scope.
    pub fn own(self) -> Scope {
        Scope::Seat(untrack(|| self.seat.get()))
    }

    /// The row of seats that the seat is one of, as a scope.
    pub fn row(self) -> Scope {
        Scope::Seat(untrack(|| self.of_seat.get()).row.clone())
    }
}

fn of_stage(sheet: &SeatSheet, stage: Stage) -> Option<StageSheet> {
    sheet.stages.iter().find(|known| known.stage == stage).cloned()
}

/// What a seat waits for most: stale before needs you before ready before done.
pub fn worst(sheet: &SeatSheet) -> Standing {
    let has = |standing| sheet.stages.iter().any(|stage| stage.standing == standing && stage.stage != Stage::Release);
    [Standing::Stale, Standing::NeedsYou, Standing::Ready, Standing::Done]
        .into_iter()
        .find(|standing| has(*standing))
        .unwrap_or(Standing::NotStarted)
}

/// A window under this width is a phone's, px: as the style sheet parts them.
pub const PHONE: f64 = 760.0;

/// Width of a picture in the middle, px: as the style sheet parts the window.
fn middle_width(window: f64) -> f64 {
    let room = if window >= 1240.0 {
        window - 800.0
    } else if window >= PHONE {
        window - 360.0
    } else {
        window - 40.0
    };
    room.clamp(320.0, 860.0)
}

/// Width of the section, px.
fn section_width(window: f64) -> f64 {
    if window >= 1240.0 { 396.0 } else { middle_width(window) }
}
