//! In which order entries are taken, however they arrive.
//!
//! An entry comes after those that it names (the one it follows, corrects, drops or settles); of entries that do not name each other
//! the one with the lower name comes first, and names sort by time. An entry that stands twice is taken once.

use std::collections::{BTreeMap, BTreeSet};

use crate::chain::canonical;
use crate::entry::{Entry, EntryId, What};

/// The entries that `entry` names, and so comes after.
pub(super) fn named(entry: &Entry) -> impl Iterator<Item = EntryId> + '_ {
    let (corrected, dropped, settled): (Option<EntryId>, &[EntryId], &[EntryId]) = match &entry.what {
        What::Correction { replaces, with, .. } => match &**with {
            What::Decision { drops, settles, .. } => (Some(*replaces), drops, settles),
            _ => (Some(*replaces), &[], &[]),
        },
        What::Decision { drops, settles, .. } => (None, drops, settles),
        _ => (None, &[], &[]),
    };
    entry.follows.into_iter().chain(corrected).chain(dropped.iter().copied()).chain(settled.iter().copied())
}

/// Entries once each, in order, and what is wrong with them.
pub(super) fn in_order(entries: &[Entry]) -> (Vec<&Entry>, Vec<String>) {
    let mut once: BTreeMap<EntryId, &Entry> = BTreeMap::new();
    let mut notes = BTreeSet::new();
    for entry in entries {
        let first = *once.entry(entry.id).or_insert(entry);
        if first != entry {
            notes.insert(format!(
                "Two entries that differ have the name {}; one of them is not taken. Find out which is the true one.",
                entry.id
            ));
            // Whichever came first, the same one is kept.
            if canonical(entry) < canonical(first) {
                once.insert(entry.id, entry);
            }
        }
    }
    (sorted(&once), notes.into_iter().collect())
}

fn sorted<'e>(once: &BTreeMap<EntryId, &'e Entry>) -> Vec<&'e Entry> {
    let mut waits: BTreeMap<EntryId, usize> = BTreeMap::new();
    let mut frees: BTreeMap<EntryId, Vec<EntryId>> = BTreeMap::new();
    for (id, entry) in once {
        let before: BTreeSet<EntryId> = named(entry).filter(|other| other != id && once.contains_key(other)).collect();
        waits.insert(*id, before.len());
        for other in before {
            frees.entry(other).or_default().push(*id);
        }
    }
    let mut ready: BTreeSet<EntryId> = waits.iter().filter(|(_, count)| **count == 0).map(|(id, _)| *id).collect();
    let mut order = Vec::with_capacity(once.len());
    let mut left: BTreeMap<EntryId, &'e Entry> = once.clone();
    while let Some(id) = ready.pop_first() {
        order.extend(left.remove(&id));
        for next in frees.remove(&id).unwrap_or_default() {
            if let Some(count) = waits.get_mut(&next) {
                *count = count.saturating_sub(1);
                if *count == 0 {
                    ready.insert(next);
                }
            }
        }
    }
    // Entries that name each other in a ring can't be honest, but none is lost: they come last, by name.
    order.extend(left.into_values());
    order
}
