//! A log gone through again: the same words as in the dialogue, whatever the job says today.

use crate::chain;
use crate::entry::{Scope, What};

use super::dialogue::{Dialogue, Kept};
use super::log::{Log, Writer};
use super::step::{Setup, Step, Surface};

/// The whole dialogue of one seat and surface, line by line. `setup` stands in where no part was started.
pub fn replay(writer: Writer, surface: Surface, setup: Setup, log: &Log) -> Vec<String> {
    let mine: Vec<Kept> = kept(log).into_iter().filter(|kept| is_of(kept, &writer.seat, surface)).collect();
    let start_after = |i: usize| {
        mine.iter().skip(i).find_map(|kept| match &kept.entry.what {
            What::Lathe { does: Step::Start { setup, .. }, .. } => Some((**setup).clone()),
            _ => None,
        })
    };
    let mut dialogue = Dialogue::open(writer, surface, start_after(0).unwrap_or(setup), &Log::default());
    let mut lines = dialogue.opening();
    for (i, kept) in mine.iter().enumerate() {
        if let Some(setup) = start_after(i) {
            dialogue.setup = setup;
        }
        let typed = match &kept.entry.what {
            What::Lathe { typed, .. } => typed,
            What::Correction { with, .. } => match &**with {
                What::Lathe { typed, .. } => typed,
                _ => continue,
            },
            _ => continue,
        };
        // What nobody typed was not asked for.
        if !matches!(kept.entry.what, What::Lathe { does: Step::Band { .. }, .. }) {
            lines.push(format!("{}{typed}", dialogue.prompt()));
        }
        lines.extend(dialogue.accept(kept));
    }
    lines.push(dialogue.prompt());
    lines.extend(dialogue.leaving());
    lines
}

/// The entries of a log with the hashes of its chain.
fn kept(log: &Log) -> Vec<Kept> {
    let mut before = chain::START;
    let chained = log.entries.iter().map(|entry| {
        before = chain::hash(&before, entry);
        Kept { entry: entry.clone(), hash: before }
    });
    chained.collect()
}

fn is_of(kept: &Kept, seat: &str, wanted: Surface) -> bool {
    let of = |what: &What| matches!(what, What::Lathe { surface, .. } if *surface == wanted);
    let mine = match &kept.entry.what {
        What::Correction { with, .. } => of(with),
        what => of(what),
    };
    mine && kept.entry.seat == Scope::Seat(seat.to_owned())
}
