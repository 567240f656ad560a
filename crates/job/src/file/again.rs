//! What a job file adds to a record that has been given the file before.
//!
//! 1. The same file again adds nothing. What the file says anew is added behind everything that the record holds.
//! 2. A reading that was changed in the file is a correction of the one that stood there; one that was taken out is dropped by a
//!    decision. Nothing is lost: both stay in sight.
//! 3. A fact or a decision that the file says differently is said again, and so counts; one that the file no longer says stays, and that
//!    is noted. What was written elsewhere since then (at a screen, at the lathe) is left as it is.

use std::collections::{BTreeMap, BTreeSet};

use crate::chain;
use crate::entry::{Entry, EntryId, Scope, What};
use crate::fold::ordered;
use crate::state::Feature;

/// Where entries of a file were written, as they say.
pub(super) const DEVICE: &str = "file";
/// The reason that a change of the file gives itself.
const BECAUSE: &str = "the job file was changed";

/// What is added to a record, and what is to be said about it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Added {
    /// The entries to be kept, in order.
    pub entries: Vec<Entry>,
    /// What a person should know, in sentences.
    pub notes: Vec<String>,
}

/// What can be said only once in a file: a fact of a scope, or the answer to a question.
type Said<'e> = (&'e Scope, &'e str, bool);

/// What the entries of a file add to `record`.
pub fn added(record: &[Entry], file: &[Entry]) -> Added {
    if record.is_empty() {
        return Added { entries: file.to_vec(), notes: Vec::new() };
    }
    let record = ordered(record);
    let mut again = Again::new(&record, file);
    let mut changed = again.changed_readings();
    let mut before_in_file = None;
    for entry in file {
        if again.is_new(entry) {
            let follows = again.follows(entry, before_in_file);
            let what = changed.remove(&entry.id).unwrap_or_else(|| entry.what.clone());
            again.add(Entry { follows, what, ..entry.clone() });
        }
        before_in_file = Some(entry.id);
    }
    again.drop_what_was_taken_out();
    again.note_what_is_no_longer_said();
    again.sign();
    again.added
}

struct Again<'e> {
    record: &'e [Entry],
    file: &'e [Entry],
    /// Names of the record.
    there: BTreeSet<EntryId>,
    /// Names of the file.
    given: BTreeSet<EntryId>,
    /// The newest that files said to each thing.
    newest: BTreeMap<Said<'e>, &'e Entry>,
    last: Option<EntryId>,
    added: Added,
}

fn said(entry: &Entry) -> Option<Said<'_>> {
    match &entry.what {
        What::Fact { about, .. } => Some((&entry.seat, about, false)),
        What::Decision { question, drops, .. } if drops.is_empty() => Some((&entry.seat, question, true)),
        _ => None,
    }
}

/// Whether two say the same, whatever else they settle.
fn same(one: &What, other: &What) -> bool {
    match (one, other) {
        (
            What::Decision { question, choice, low_high_mm, because, .. },
            What::Decision { question: q, choice: c, low_high_mm: l, because: b, .. },
        ) => (question, choice, low_high_mm, because) == (q, c, l, b),
        _ => one == other,
    }
}

impl<'e> Again<'e> {
    fn new(record: &'e [Entry], file: &'e [Entry]) -> Self {
        let of_files = record.iter().filter(|entry| entry.device == DEVICE);
        Self {
            record,
            file,
            there: record.iter().map(|entry| entry.id).collect(),
            given: file.iter().map(|entry| entry.id).collect(),
            newest: of_files.filter_map(|entry| Some((said(entry)?, entry))).collect(),
            last: record.last().map(|entry| entry.id),
            added: Added::default(),
        }
    }

    /// Whether the record lacks it, or has it but went on to something else that a file said.
    fn is_new(&self, entry: &Entry) -> bool {
        if !self.there.contains(&entry.id) {
            return true;
        }
        let is_last_word = || !self.file.iter().rev().take_while(|other| other.id != entry.id).any(|other| said(other) == said(entry));
        match said(entry).and_then(|key| self.newest.get(&key)) {
            Some(newest) => newest.id != entry.id && !self.given.contains(&newest.id) && !same(&newest.what, &entry.what) && is_last_word(),
            None => false,
        }
    }

    /// Behind everything that is there; but what was written apart stays apart.
    fn follows(&self, entry: &Entry, before_in_file: Option<EntryId>) -> Option<EntryId> {
        if entry.follows == before_in_file { self.last } else { entry.follows }
    }

    fn add(&mut self, mut entry: Entry) {
        if self.there.contains(&entry.id) {
            // It is said once more: under a name of its own, the same whenever this file meets this record.
            let place = format!("again {} {:?}", entry.id, self.last);
            entry.id = EntryId::of_file(entry.day(), &place, &chain::canonical(&entry));
        }
        if let What::Decision { question, settles, drops, .. } = &mut entry.what
            && drops.is_empty()
        {
            let earlier = self.record.iter().chain(&self.added.entries).filter(|other| other.seat == entry.seat);
            let answers = earlier.filter(|other| matches!(&other.what, What::Decision { question: word, .. } if word == question));
            settles.extend(answers.map(|other| other.id));
            settles.sort_unstable();
            settles.dedup();
        }
        self.last = Some(entry.id);
        self.there.insert(entry.id);
        self.added.entries.push(entry);
    }

    /// Readings of files in the record that stand but are not in this file: by scope, feature and set the names of what is to be replaced.
    fn gone(&self) -> BTreeMap<(&'e Scope, Feature, u32), Vec<(EntryId, EntryId)>> {
        let mut now: BTreeMap<EntryId, EntryId> = BTreeMap::new();
        let mut dropped: BTreeSet<EntryId> = BTreeSet::new();
        for entry in self.record {
            match &entry.what {
                What::Reading { .. } => drop(now.insert(entry.id, entry.id)),
                What::Correction { replaces, .. } => {
                    let root = now.iter().find(|(root, newest)| *root == replaces || *newest == replaces).map(|(root, _)| *root);
                    // What was corrected elsewhere is left as it is.
                    match root {
                        Some(root) if entry.device == DEVICE => drop(now.insert(root, entry.id)),
                        Some(root) => drop(now.remove(&root)),
                        None => {}
                    }
                }
                What::Decision { drops, .. } => dropped.extend(drops),
                _ => {}
            }
        }
        let mut gone: BTreeMap<_, Vec<_>> = BTreeMap::new();
        for entry in self.record.iter().filter(|entry| entry.device == DEVICE) {
            if let (What::Reading { feature, set, .. }, Some(newest)) = (&entry.what, now.get(&entry.id))
                && !self.given.contains(newest)
                && !dropped.contains(newest)
                && !dropped.contains(&entry.id)
            {
                gone.entry((&entry.seat, *feature, *set)).or_default().push((entry.id, *newest));
            }
        }
        gone
    }

    /// New readings of the file that stand where others stood: as corrections of those.
    fn changed_readings(&self) -> BTreeMap<EntryId, What> {
        let mut gone = self.gone();
        let mut changed = BTreeMap::new();
        for entry in self.file.iter().filter(|entry| !self.there.contains(&entry.id)) {
            if let What::Reading { feature, set, .. } = &entry.what
                && let Some(old) = gone.get_mut(&(&entry.seat, *feature, *set)).filter(|old| !old.is_empty())
            {
                let (_, replaces) = old.remove(0);
                let what = What::Correction { replaces, with: Box::new(entry.what.clone()), because: BECAUSE.into() };
                changed.insert(entry.id, what);
            }
        }
        changed
    }

    /// Readings that stood in the file and do so no more, without another in their place.
    fn drop_what_was_taken_out(&mut self) {
        let replaced: BTreeSet<EntryId> = self
            .added
            .entries
            .iter()
            .filter_map(|entry| match entry.what {
                What::Correction { replaces, .. } => Some(replaces),
                _ => None,
            })
            .collect();
        for ((seat, feature, set), old) in self.gone() {
            let drops: Vec<EntryId> = old.into_iter().filter(|(_, newest)| !replaced.contains(newest)).map(|(_, newest)| newest).collect();
            let Some(pattern) = self.file.last().filter(|_| !drops.is_empty()) else { continue };
            let choice = format!("without {} of set {set}", feature.word());
            let what = What::Decision {
                question: "reading".into(),
                choice,
                low_high_mm: None,
                because: "it was taken out of the job file".into(),
                drops,
                settles: Vec::new(),
            };
            let follows = self.last;
            let mut entry = Entry { seat: seat.clone(), follows, what, ..pattern.clone() };
            entry.id = EntryId::of_file(entry.day(), &format!("taken out {follows:?}"), &chain::canonical(&entry));
            self.add(entry);
        }
    }

    fn note_what_is_no_longer_said(&mut self) {
        let says: BTreeSet<Said> = self.file.iter().filter_map(said).collect();
        for key @ (seat, word, _) in self.newest.keys() {
            if !says.contains(key) {
                let place = match seat {
                    Scope::Seat(name) | Scope::Brief(name) => format!(" of {name}"),
                    Scope::Job | Scope::Shop => String::new(),
                };
                self.added.notes.push(format!(
                    "The file no longer says {word}{place}: the record keeps what it said. Say otherwise in the file where it is wrong."
                ));
            }
        }
    }

    /// A signature that signed the file as it stood signs the record as it stands.
    fn sign(&mut self) {
        let mut of_file = BTreeMap::new();
        let mut before = chain::START;
        for entry in ordered(self.file) {
            of_file.insert(entry.id, chain::hex(&before));
            before = chain::hash(&before, &entry);
        }
        let own = |entry: &Entry| matches!(&entry.what, What::Signature { head, .. } if of_file.get(&entry.id) == Some(head));
        let signs: BTreeSet<EntryId> = self.added.entries.iter().filter(|entry| own(entry)).map(|entry| entry.id).collect();
        if signs.is_empty() {
            return;
        }
        let all: Vec<Entry> = self.record.iter().chain(&self.added.entries).cloned().collect();
        let mut before = chain::START;
        for mut entry in ordered(&all) {
            if let What::Signature { head, .. } = &mut entry.what
                && signs.contains(&entry.id)
            {
                *head = chain::hex(&before);
                if let Some(added) = self.added.entries.iter_mut().find(|added| added.id == entry.id) {
                    added.what = entry.what.clone();
                }
            }
            before = chain::hash(&before, &entry);
        }
    }
}
