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
pub(super) fn in_order<'e>(entries: &[&'e Entry]) -> (Vec<&'e Entry>, Vec<String>) {
    if let Some(order) = by_name(entries) {
        return (order, Vec::new());
    }
    search(entries)
}

/// Entries in the order of their names, where that is the order: each once, and each with a later name than those it names. So it is
/// wherever nobody's clock went back.
fn by_name<'e>(entries: &[&'e Entry]) -> Option<Vec<&'e Entry>> {
    let mut order = entries.to_vec();
    order.sort_by_key(|entry| entry.id);
    let once = order.windows(2).all(|pair| matches!(pair, [one, next] if one.id < next.id));
    (once && order.iter().all(|entry| named(entry).all(|other| other < entry.id))).then_some(order)
}

/// The order where it has to be looked for.
fn search<'e>(entries: &[&'e Entry]) -> (Vec<&'e Entry>, Vec<String>) {
    let mut once: BTreeMap<EntryId, &Entry> = BTreeMap::new();
    let mut notes = BTreeSet::new();
    for entry in entries.iter().copied() {
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::entry::{Scope, VERSION};

    fn entry(name: u8, follows: Option<u8>) -> Entry {
        let id = |name: u8| EntryId(uuid::Uuid::from_u128(u128::from(name)));
        Entry {
            version: VERSION,
            id: id(name),
            job: "1".into(),
            seat: Scope::Job,
            who: "A. Turner".into(),
            device: "bench".into(),
            when: String::new(),
            follows: follows.map(id),
            what: What::Event { what: "note".into(), detail: name.to_string() },
        }
    }

    proptest! {
        /// Names that are twice, follow later ones, or nothing that is there, are among them.
        #[test]
        fn the_order_of_names_is_the_one_that_would_be_found(of in proptest::collection::vec((0_u8..60, proptest::option::of(0_u8..60)), 0..8)) {
            let entries: Vec<Entry> = of.into_iter().map(|(name, follows)| entry(name, follows)).collect();
            let entries: Vec<&Entry> = entries.iter().collect();
            if let Some(order) = by_name(&entries) {
                prop_assert_eq!((order, Vec::new()), search(&entries));
            }
        }
    }

    #[test]
    fn a_later_name_that_is_followed_comes_first_all_the_same() {
        let entries = [entry(1, Some(2)), entry(2, None), entry(3, Some(1))];
        let entries: Vec<&Entry> = entries.iter().collect();
        assert_eq!(by_name(&entries), None);
        let order: Vec<EntryId> = in_order(&entries).0.iter().map(|entry| entry.id).collect();
        assert_eq!(order, [2, 1, 3].map(|name| EntryId(uuid::Uuid::from_u128(name))));
    }
}
