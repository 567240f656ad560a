//! The record of a job: every entry with its corrections, found by scope, and what stood where at any place in the order.

use std::collections::BTreeMap;

use crate::entry::{Entry, EntryId, Scope, What};

use super::order::named;

/// What an entry said, or what a correction of it says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Version<'e> {
    /// From which place in the order on.
    pub place: usize,
    /// What it says.
    pub what: &'e What,
    /// The entry that says so.
    pub entry: &'e Entry,
    /// What was wrong before, in a correction.
    pub because: Option<&'e str>,
}

/// An entry that is no correction, with its corrections.
#[derive(Clone, Debug)]
pub(super) struct Root<'e> {
    /// What it said first and what it was corrected to, in order; never empty.
    pub versions: Vec<Version<'e>>,
}

impl<'e> Root<'e> {
    /// What it says now.
    pub fn now(&self) -> Option<&Version<'e>> {
        self.versions.last()
    }

    /// What it said at `place` in the order.
    pub fn at(&self, place: usize) -> Option<&Version<'e>> {
        self.versions.iter().rev().find(|version| version.place <= place)
    }

    /// The entry itself.
    pub fn first(&self) -> Option<&Version<'e>> {
        self.versions.first()
    }
}

/// The entries of one scope: indices of roots, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct InScope<'e> {
    /// By path, in the order in which paths were first given.
    pub facts: Vec<(&'e str, Vec<usize>)>,
    by_path: BTreeMap<&'e str, usize>,
    pub readings: Vec<usize>,
    pub decisions: Vec<usize>,
    pub events: Vec<usize>,
    pub lathe: Vec<usize>,
    pub signatures: Vec<usize>,
    pub cards: Vec<usize>,
}

impl InScope<'_> {
    fn roots_of(&self, path: &str) -> &[usize] {
        self.by_path.get(path).and_then(|i| self.facts.get(*i)).map_or(&[], |(_, roots)| roots)
    }
}

/// All entries of a job.
#[derive(Clone, Debug, Default)]
pub(super) struct Record<'e> {
    /// Every entry in order, corrections too.
    pub order: Vec<&'e Entry>,
    /// Every entry that is no correction, in order.
    pub roots: Vec<Root<'e>>,
    /// The root that an entry, or a correction of it, belongs to.
    pub root_of: BTreeMap<EntryId, usize>,
    /// Scopes.
    pub scopes: BTreeMap<&'e Scope, InScope<'e>>,
    /// Seats in the order of their first entry.
    pub seats: Vec<&'e str>,
    /// Corrections that could not be used, in words.
    pub notes: Vec<String>,
    place_of: BTreeMap<EntryId, usize>,
    before_by_writer: Vec<Option<usize>>,
}

impl<'e> Record<'e> {
    /// Sorts entries that stand in order.
    pub fn of(order: Vec<&'e Entry>) -> Self {
        let mut record = Self::default();
        let mut last_of: BTreeMap<(&str, &str), usize> = BTreeMap::new();
        for (place, entry) in order.iter().enumerate() {
            record.place_of.insert(entry.id, place);
            record.before_by_writer.push(last_of.insert((&entry.who, &entry.device), place));
            match &entry.what {
                What::Correction { replaces, with, because } => record.correct(place, entry, *replaces, with, because),
                what => record.add(place, entry, what),
            }
        }
        record.order = order;
        record
    }

    fn add(&mut self, place: usize, entry: &'e Entry, what: &'e What) {
        let root = self.roots.len();
        self.roots.push(Root { versions: vec![Version { place, what, entry, because: None }] });
        self.root_of.insert(entry.id, root);
        if let Scope::Seat(name) = &entry.seat
            && !self.scopes.contains_key(&entry.seat)
        {
            self.seats.push(name);
        }
        let scope = self.scopes.entry(&entry.seat).or_default();
        match what {
            What::Fact { about, .. } => match scope.by_path.get(about.as_str()) {
                Some(i) => scope.facts[*i].1.push(root),
                None => {
                    scope.by_path.insert(about, scope.facts.len());
                    scope.facts.push((about, vec![root]));
                }
            },
            What::Reading { .. } => scope.readings.push(root),
            What::Decision { .. } => scope.decisions.push(root),
            What::Event { .. } => scope.events.push(root),
            What::Lathe { .. } => scope.lathe.push(root),
            What::Signature { .. } => scope.signatures.push(root),
            What::Register { .. } => scope.cards.push(root),
            What::Correction { .. } => debug_assert!(false, "a correction is no root"),
        }
    }

    fn correct(&mut self, place: usize, entry: &'e Entry, replaces: EntryId, with: &'e What, because: &'e str) {
        let target = self.root_of.get(&replaces).copied().and_then(|root| Some((root, self.roots.get_mut(root)?)));
        let fits = |old: &What| match (old, with) {
            (What::Fact { about: old, .. }, What::Fact { about: new, .. }) => old == new,
            (What::Reading { feature: old, .. }, What::Reading { feature: new, .. }) => old == new,
            (What::Decision { question: old, .. }, What::Decision { question: new, .. }) => old == new,
            (What::Event { .. }, What::Event { .. }) => true,
            (What::Register { card: old }, What::Register { card: new }) => old.register() == new.register() && old.name() == new.name(),
            (What::Lathe { surface: old, .. }, What::Lathe { surface: new, .. }) => old == new,
            _ => false,
        };
        match target {
            Some((root, found)) if found.first().is_some_and(|first| fits(first.what)) => {
                found.versions.push(Version { place, what: with, entry, because: Some(because) });
                self.root_of.insert(entry.id, root);
            }
            Some(_) => self.notes.push(format!(
                "A correction by {} ({because}) says another kind of thing than what it corrects; it is not used. Write it again.",
                entry.who
            )),
            None => self.notes.push(format!(
                "A correction by {} ({because}) corrects an entry that is not in this job; it is not used. Look for the missing entry.",
                entry.who
            )),
        }
    }

    /// What the newest fact about `path` of one scope said at `place` in the order.
    pub fn fact_in(&self, scope: &InScope<'e>, path: &str, place: usize) -> Option<&Version<'e>> {
        scope.roots_of(path).iter().rev().find_map(|root| self.roots.get(*root)?.at(place))
    }

    /// What stood at `path` at `place` in the order, the last of `scopes` first.
    pub fn fact(&self, scopes: &[&InScope<'e>], path: &str, place: usize) -> Option<&Version<'e>> {
        scopes.iter().rev().find_map(|scope| self.fact_in(scope, path, place))
    }

    /// The places of all entries that the writer of the entry at `place` had seen: those that it names, those that they name, and
    /// what the same writer wrote before at the same device.
    pub fn seen_from(&self, place: usize) -> Vec<bool> {
        let mut seen = vec![false; place];
        let mut open = vec![place];
        while let Some(at) = open.pop() {
            let by_name = self.order.get(at).map(|entry| named(entry)).into_iter().flatten();
            let by_name = by_name.filter_map(|id| self.place_of.get(&id).copied());
            for before in by_name.chain(self.before_by_writer.get(at).copied().flatten()) {
                // An honest entry names only earlier ones.
                if before < at && !std::mem::replace(&mut seen[before], true) {
                    open.push(before);
                }
            }
        }
        seen
    }
}
