//! What the registers amount to: of each name the newest card, the newest check, what was used of it, and whether it is gone.

use std::collections::BTreeMap;

use crate::entry::{Entry, Scope, What};
use crate::registers::{Card, Registers, Standing};

use super::order;
use super::record::{Record, Version};

/// What the entries of the registers amount to, in whatever order and how often they stand.
pub fn registers(entries: &[Entry]) -> Registers {
    let (ordered, mut notes) = order::in_order(&entries.iter().collect::<Vec<_>>());
    let record = Record::of(ordered);
    notes.extend(record.notes.iter().cloned());
    let mut registers = Registers { notes, ..Registers::default() };
    let mut saying: BTreeMap<(String, String), Vec<&Version>> = BTreeMap::new();
    for root in record.scopes.get(&Scope::Shop).into_iter().flat_map(|scope| &scope.cards) {
        let Some(version) = record.roots.get(*root).and_then(|root| root.now()) else { continue };
        let What::Register { card } = version.what else { continue };
        take(&mut registers, version, card);
        if !matches!(card, Card::Checked { .. } | Card::Used { .. }) {
            saying.entry((card.register().to_owned(), card.name().to_owned())).or_default().push(version);
        }
    }
    registers.needs_you = saying.into_iter().filter_map(|((register, name), cards)| apart(&record, &register, &name, &cards)).collect();
    registers
}

fn take(registers: &mut Registers, version: &Version, card: &Card) {
    let by_name = registers.cards.entry(card.register().to_owned()).or_default();
    let standing = by_name.entry(card.name().to_owned()).or_insert_with(|| Standing {
        card: None,
        entry: version.entry.id,
        who: String::new(),
        checked: None,
        used_mm: Vec::new(),
        gone: None,
    });
    match card {
        // A check that was written down late does not undo a newer one: days sort as texts.
        Card::Checked { on, .. } => {
            if !matches!(&standing.checked, Some(Card::Checked { on: newer, .. }) if newer > on) {
                standing.checked = Some(card.clone());
            }
        }
        Card::Used { length_mm, .. } => standing.used_mm.push(*length_mm),
        Card::Gone { because, .. } => standing.gone = Some(because.clone()),
        _ => {
            standing.card = Some(card.clone());
            standing.entry = version.entry.id;
            standing.who.clone_from(&version.entry.who);
            // Whoever writes a new card for it has it again.
            standing.gone = None;
        }
    }
}

/// A name whose newest card was written by somebody who had not seen another that says something else.
fn apart(record: &Record, register: &str, name: &str, cards: &[&Version]) -> Option<String> {
    let mut unseen: Vec<&Version> = Vec::new();
    for version in cards {
        let seen = if unseen.is_empty() { Vec::new() } else { record.seen_from(version.place) };
        unseen.retain(|before| !seen.get(before.place).copied().unwrap_or(false));
        unseen.push(version);
    }
    let first = unseen.first()?;
    if unseen.iter().all(|version| version.what == first.what) {
        return None;
    }
    let who: Vec<&str> = unseen.iter().map(|version| version.entry.who.as_str()).collect();
    Some(format!("The card of the {register} {name:?} was written apart by {}; write it once more, having seen both.", who.join(" and ")))
}
