//! The dialogue at the lathe: where it stands, what is asked next, what an answer amounts to.
//!
//! An answer becomes at most one step. [`Dialogue::answer`] gives the entry to keep; only when it is kept [`Dialogue::accept`] goes on.
//! An answer that can't be used is answered with one sentence, and the same is asked again. What is asked follows from the steps alone.

use calc::Refused;
use calc::crew::{Alone, Crew};
use calc::turn::model::{CUT_S, SETTLE_S, TO_NEXT_CUT_S};
use calc::turn::start;

use crate::chain::Hash;
use crate::entry::{Entry, EntryId, What};
use crate::moment;
use crate::stages::ask::Said;

use super::answer::parted;
use super::log::{self, Log, Writer};
use super::meaning::Meant;
use super::part::{Part, Turned, parts, turned};
use super::step::{Passed, Setup, Step, Surface};
use super::words;

/// A pause after which it is asked whether it is another day, s.
const LONG_PAUSE_S: f64 = 4.0 * 3600.0;
/// A size counts as landed from this chance on. Source: the turning method, section d (accepted: claimed 95 % or more).
pub(super) const ENOUGH: f64 = 0.95;
/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ask {
    /// The size before the first cut.
    Start,
    /// The temperature of the air.
    Air,
    /// The temperature of the part after a cut.
    PartAfter,
    /// A reading after a cut.
    Size,
    /// The same reading again: the last can't be right.
    Again,
    /// The gauge on its standard.
    Check,
    /// The run-out after chucking again.
    RunOut,
    /// The temperature of the part before a cut.
    PartBefore,
    /// The temperature of the part again: the last can't be right.
    PartAgain,
    /// The cut.
    Cut,
    /// Whether it is finished.
    Finish,
    /// Whether another part follows.
    Over,
}

/// The moment of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    /// As entries write it.
    pub when: String,
    /// A clock ran between the answers; without one the usual times are taken.
    pub clocked: bool,
}

/// An entry that is to be kept before the dialogue goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// The entry.
    pub entry: Entry,
    /// Hash of the chain with it.
    pub hash: Hash,
}

impl Kept {
    /// Its line of the log.
    pub fn line(&self) -> String {
        log::line(&self.entry, &self.hash)
    }
}

/// What an answer amounts to.
#[derive(Clone, Debug, PartialEq)]
pub enum Reply {
    /// Keep this, then call [`Dialogue::accept`].
    Keep(Box<Kept>),
    /// Say this and ask again.
    Say(Vec<String>),
    /// The person wants to stop.
    Stop,
}

/// The dialogue of one seat and surface.
#[derive(Clone, Debug)]
pub struct Dialogue {
    pub(super) writer: Writer,
    pub(super) surface: Surface,
    pub(super) setup: Setup,
    entries: Vec<Entry>,
    head: Hash,
    pub(super) part: Part,
    pub(super) found: Option<Result<Said, Refused>>,
    /// The temperature that was read last can't be right.
    warmth_again: bool,
    /// An answer that must be given twice.
    again: Option<String>,
    /// Warnings that were said of this part.
    pub(super) warned: Vec<String>,
}

impl Dialogue {
    /// Opens the dialogue where `log` left it. `setup` is what a new part starts from.
    pub fn open(writer: Writer, surface: Surface, setup: Setup, log: &Log) -> Self {
        let part = Part { job: writer.job.clone(), seat: writer.seat.clone(), surface, steps: Vec::new() };
        let entries = log.entries.clone();
        let mut dialogue = Self {
            writer,
            surface,
            setup,
            entries,
            head: log.head,
            part,
            found: None,
            warmth_again: false,
            again: None,
            warned: Vec::new(),
        };
        dialogue.look();
        dialogue
    }

    /// Finds out where it stands.
    fn look(&mut self) {
        let steps = turned(&self.entries, &self.writer.seat);
        let before = self.part.steps.first().map(|step| step.entry);
        if let Some(part) = parts(&self.writer.job, &self.writer.seat, &steps, self.surface).pop() {
            self.part = part;
        }
        if before != self.part.steps.first().map(|step| step.entry) {
            self.warned.clear();
        }
        self.found = self.part.ask(self.crew());
        self.warmth_again = self.is_odd_warmth();
    }

    fn crew(&self) -> &'static dyn Crew {
        &Alone
    }

    /// What was found, where it was.
    pub(super) fn said(&self) -> Option<&Said> {
        self.found.as_ref()?.as_ref().ok()
    }

    /// What the part started from; before the start, what it will start from.
    pub(super) fn started(&self) -> &Setup {
        self.part.start().map_or(&self.setup, |(setup, _)| setup)
    }

    /// The limits of the part, mm.
    pub(super) fn limits(&self) -> (f64, f64) {
        self.part.limits().unwrap_or((self.setup.lower_mm, self.setup.upper_mm))
    }

    /// The last size reading of the part as it was judged.
    pub(super) fn last_read(&self) -> Option<Said> {
        self.said()?.list("reads").pop()
    }

    /// The chance that the part lies in its band now.
    pub(super) fn chance_now(&self) -> f64 {
        self.said().and_then(|said| said.number("chance_in_band")).unwrap_or(0.0)
    }

    /// Whether the newest size reading can't be right beside what came before it.
    pub(super) fn is_suspect(&self) -> bool {
        self.last_read().is_some_and(|read| read.flag("suspect"))
    }

    /// Whether two readings agree that the tool, the part or the gauge moved.
    pub(super) fn has_moved(&self) -> bool {
        self.said().is_some_and(|said| said.texts("notices").iter().any(|of| of == "moved"))
    }

    /// How many temperatures of `found` can't be right beside what came before them.
    fn odd_temperatures(found: &Option<Result<Said, Refused>>) -> usize {
        let notices = found.as_ref().and_then(|found| found.as_ref().ok()).map(|said| said.texts("notices")).unwrap_or_default();
        notices.iter().filter(|of| *of == "temperature-suspect").count()
    }

    /// Whether the temperature of the part that was read last can't be right.
    fn is_odd_warmth(&self) -> bool {
        let Some((last, before)) = self.part.steps.split_last() else { return false };
        let odd = Self::odd_temperatures(&self.found);
        if odd == 0 || !matches!(last.step, Step::Part { .. }) {
            return false;
        }
        let before = Part { steps: before.to_vec(), ..self.part.clone() };
        odd > Self::odd_temperatures(&before.ask(self.crew()))
    }

    /// Whether a further cut could be made from here: deep enough not to rub.
    pub(super) fn can_cut(&self) -> bool {
        self.said().and_then(|said| said.number("next.depth_mm")).is_some_and(start::cuts)
    }

    /// What is asked now.
    pub(super) fn ask(&self) -> Ask {
        if self.part.start().is_none() {
            return Ask::Start;
        }
        if self.part.is_over() {
            return Ask::Over;
        }
        let since_day = self.part.since(|step| matches!(step, Step::Start { .. } | Step::Day {}));
        let is = |steps: &[Turned], wanted: fn(&Step) -> bool, passed: Passed| {
            steps.iter().any(|step| wanted(&step.step)) || Part::passed(steps, passed)
        };
        if !is(since_day, |step| matches!(step, Step::Air { .. }), Passed::Air) {
            return Ask::Air;
        }
        let since_chuck = self.part.since(|step| matches!(step, Step::Chuck {}));
        let chucked = self.part.steps.iter().any(|step| matches!(step.step, Step::Chuck {}));
        if chucked && !is(since_chuck, |step| matches!(step, Step::RunOut { .. } | Step::Cut { .. }), Passed::RunOut) {
            return Ask::RunOut;
        }
        if self.warmth_again {
            return Ask::PartAgain;
        }
        if let Some(ask) = self.ask_after_cut() {
            return ask;
        }
        let checked = |step: &Step| matches!(step, Step::Check { .. });
        if self.part.cuts_left() == 1 && !is(since_day, checked, Passed::Check) {
            return Ask::Check;
        }
        let moved = |step: &Step| {
            !matches!(
                step,
                Step::Part { .. }
                    | Step::Air { .. }
                    | Step::Note { .. }
                    | Step::Check { .. }
                    | Step::RunOut { .. }
                    | Step::Band { .. }
                    | Step::Left { .. }
                    | Step::Further {}
                    | Step::Skip { what: Passed::Air | Passed::Part | Passed::Check | Passed::RunOut }
            )
        };
        if !is(self.part.since(moved), |step| matches!(step, Step::Part { .. }), Passed::Part) {
            return Ask::PartBefore;
        }
        Ask::Cut
    }

    /// What is asked between a cut and the decision about the next; none where that is through.
    fn ask_after_cut(&self) -> Option<Ask> {
        if self.part.cuts() == 0 {
            return None;
        }
        let since = self.part.since(|step| matches!(step, Step::Cut { .. }));
        let sizes = since.iter().filter(|step| matches!(step.step, Step::Size { .. })).count();
        let skipped = Part::passed(since, Passed::Size);
        if sizes == 0 && !skipped {
            let part = since.iter().any(|step| matches!(step.step, Step::Part { .. })) || Part::passed(since, Passed::Part);
            return Some(if part { Ask::Size } else { Ask::PartAfter });
        }
        let checked = since.iter().any(|step| matches!(step.step, Step::Check { .. })) || Part::passed(since, Passed::Check);
        if sizes > 0 && !skipped {
            if self.is_suspect() {
                return Some(Ask::Again);
            }
            if sizes > 1 && !checked && self.has_moved() {
                return Some(Ask::Check);
            }
        }
        let further = self.part.since(|step| matches!(step, Step::Size { .. })).iter().any(|step| matches!(step.step, Step::Further {}));
        if further || sizes == 0 {
            return None;
        }
        let landed = self.chance_now() >= ENOUGH;
        (landed || !self.can_cut() || self.part.left() == 0 && self.is_near()).then_some(Ask::Finish)
    }

    /// Whether the size may lie in the band already: a tenth of a chance or more.
    fn is_near(&self) -> bool {
        self.chance_now() >= 0.1
    }

    /// What an answer amounts to.
    pub fn answer(&mut self, text: &str, now: &Now) -> Reply {
        let before = self.again.take();
        let read = parted(text).and_then(|answer| self.meant(&answer, text.trim()));
        match read {
            Err(refused) => Reply::Say(vec![refused.to_string()]),
            Ok(Meant::Help) => Reply::Say(words::help(self)),
            Ok(Meant::Stop) => Reply::Stop,
            Ok(Meant::Undo(because)) => self.undo(text.trim(), &because, now),
            Ok(Meant::Twice(sentence, ..)) if before.as_deref() != Some(text.trim()) => {
                self.again = Some(text.trim().to_owned());
                Reply::Say(vec![sentence])
            }
            Ok(Meant::Twice(_, does, after_s) | Meant::Does(does, after_s)) => {
                let sure = before.as_deref() == Some(text.trim());
                self.keep(does, after_s, text.trim(), now, sure)
            }
        }
    }

    fn keep(&mut self, does: Step, after_s: Option<f64>, typed: &str, now: &Now, sure: bool) -> Reply {
        let passed_s = self.passed_s(&does, now);
        if after_s.is_none() && passed_s > LONG_PAUSE_S && !sure && !matches!(does, Step::Day {} | Step::Start { .. } | Step::Another {}) {
            self.again = Some(typed.to_owned());
            let hours = calc::units::shown_plain(passed_s / 3600.0, 1);
            return Reply::Say(vec![format!(
                "{hours} h have passed since the last step: type day if it is another day, say it as in \"{typed} after 20 min\", or type it again"
            )]);
        }
        let after_s = after_s.unwrap_or(passed_s);
        if let Some(Err(refused)) = self.with(&does, after_s).ask(self.crew()) {
            return Reply::Say(vec![refused.to_string()]);
        }
        self.entry(What::Lathe { surface: self.surface, after_s, typed: typed.to_owned(), does }, now)
    }

    fn entry(&self, what: What, now: &Now) -> Reply {
        let last = self.entries.last().map(|entry| entry.id);
        let (entry, hash) = log::next(&self.head, last, &self.writer, &now.when, what);
        match entry.checked() {
            Ok(()) => Reply::Keep(Box::new(Kept { entry, hash })),
            Err(refused) => Reply::Say(vec![refused.to_string()]),
        }
    }

    /// Time since the step before, s: by the clock, or the usual one.
    fn passed_s(&self, does: &Step, now: &Now) -> f64 {
        let Some(last) = self.part.steps.last() else { return 0.0 };
        if now.clocked {
            let span = moment::seconds(&now.when).zip(moment::seconds(&last.when)).map_or(0, |(now, then)| (now - then).max(0));
            let cutting = if matches!(does, Step::Cut { .. }) { CUT_S } else { 0.0 };
            return (span as f64 - cutting).max(0.0);
        }
        let since_size = self.part.since(|step| matches!(step, Step::Size { .. } | Step::Skip { what: Passed::Size }));
        let read = since_size.len() < self.part.steps.len();
        let cut_since = since_size.iter().any(|step| matches!(step.step, Step::Cut { .. }));
        match (&last.step, does) {
            (Step::Cut { .. }, Step::Cut { .. } | Step::Size { .. } | Step::Part { .. } | Step::Skip { .. }) => SETTLE_S,
            (_, Step::Part { .. } | Step::Skip { what: Passed::Part } | Step::Cut { .. })
                if read && !cut_since && since_size.iter().all(|step| step.after_s == 0.0) =>
            {
                TO_NEXT_CUT_S
            }
            _ => 0.0,
        }
    }

    fn undo(&self, typed: &str, because: &str, now: &Now) -> Reply {
        match self.part.steps.last() {
            Some(last) => self.entry(log::taking_back(last.entry, self.surface, typed, because), now),
            None => Reply::Say(vec!["undo has nothing to take back: this part has no step yet".into()]),
        }
    }

    /// Goes on with an entry that was kept; gives the lines to say.
    pub fn accept(&mut self, kept: &Kept) -> Vec<String> {
        let taken_back = match &kept.entry.what {
            What::Correction { replaces, .. } => self.part.steps.iter().find(|step| step.entry == *replaces).cloned(),
            _ => None,
        };
        self.entries.push(kept.entry.clone());
        self.head = kept.hash;
        self.look();
        match (&kept.entry.what, taken_back) {
            (_, Some(step)) => words::taken_back(self, &step),
            (What::Lathe { after_s, does, .. }, _) => words::after(self, does, *after_s),
            _ => Vec::new(),
        }
    }

    /// A step that nobody types: the band was moved in the job since the part was started. A sentence where the part can't follow.
    pub fn moved_band(&self, now: &Now) -> Option<Result<Kept, String>> {
        let started = self.part.limits().filter(|_| !self.part.is_over())?;
        let Setup { lower_mm, upper_mm, .. } = self.setup;
        if started == (lower_mm, upper_mm) {
            return None;
        }
        let does = Step::Band { lower_mm, upper_mm };
        if let Some(Err(refused)) = self.with(&does, 0.0).ask(self.crew()) {
            return Some(Err(format!("The band was moved in the job to where this part can't come; the old one is kept: {refused}")));
        }
        match self.entry(What::Lathe { surface: self.surface, after_s: 0.0, typed: String::new(), does }, now) {
            Reply::Keep(kept) => Some(Ok(*kept)),
            _ => None,
        }
    }

    /// The part with a step more.
    fn with(&self, does: &Step, after_s: f64) -> Part {
        let mut part = self.part.clone();
        let nobody = String::new;
        part.steps.push(Turned {
            entry: EntryId::default(),
            who: nobody(),
            when: nobody(),
            surface: self.surface,
            after_s,
            typed: nobody(),
            step: does.clone(),
        });
        part
    }

    /// Title and cautions, and what is known of the part.
    pub fn opening(&self) -> Vec<String> {
        words::opening(self)
    }

    /// Where it stands, for a dialogue that goes on.
    pub fn standing(&mut self) -> Vec<String> {
        words::standing(self)
    }

    /// Where it stands, for a person who leaves.
    pub fn leaving(&self) -> Vec<String> {
        words::leaving(self)
    }

    /// Whether a part was started.
    pub fn is_under_way(&self) -> bool {
        !self.part.steps.is_empty()
    }

    /// What is asked, on one line.
    pub fn prompt(&self) -> String {
        words::prompt(self)
    }
}
