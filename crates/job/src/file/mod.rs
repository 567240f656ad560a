//! The job file: text that a machinist writes with an editor, read into entries.
//!
//! 1. TOML 1.0 with our own tables; every key is a fact of [`crate::facts::FACTS`], or one of the few of a measure, decision, event,
//!    correction or signature. The reference is made from the same tables (`reference`).
//! 2. The first thing that can't be read is refused in one sentence with its line and column. Nothing that was typed is passed over.
//! 3. Undated facts and readings come first, then what has a day by its day, what has the same day as it stands in the file; a deed without
//!    a day comes last on the file's day. Each entry follows the one before.
//! 4. Any bytes are answered; none panics. Files over [`MOST_BYTES`] are refused before they are looked at.

mod again;
mod deeds;
mod figure;
mod measure;
mod place;
mod syntax;
mod walk;

use std::collections::BTreeMap;

use calc::Refused;

use crate::chain;
use crate::check;
use crate::entry::{Entry, EntryId, Scope, What};
use crate::fold::{fold, ordered};
use crate::lathe::part;
use crate::state::State;

pub use again::{Added, added};
pub(crate) use figure::{allowed, is_day, sample_figure, typed};
pub use figure::{sample, unit};
pub(crate) use walk::{TABLES, bare_or_quoted};

/// A job is some kilobytes; a file beyond this is another file.
pub const MOST_BYTES: usize = 5 * 1024 * 1024;

/// A job file that can't be read: where, and one sentence.
#[derive(Clone, Debug, PartialEq)]
pub struct BadFile {
    /// The file, as it was named.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Where in the text, for the first of several.
    pub(crate) byte: usize,
    /// Which key, what was given, what is allowed, what to write.
    pub refused: Refused,
}

impl std::fmt::Display for BadFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.refused)
    }
}

impl std::error::Error for BadFile {}

/// A job file as entries in order, the line and column that each came from, and what to know about the file itself.
#[derive(Clone, Debug)]
struct JobFile {
    entries: Vec<Entry>,
    places: BTreeMap<EntryId, (usize, usize)>,
    notes: Vec<String>,
}

/// Reads the job file called `name` into entries. The same bytes give the same entries. Refused too, at their lines: values that
/// contradict each other, such as a bore larger than its outside.
pub fn read(name: &str, bytes: &[u8]) -> Result<Vec<Entry>, BadFile> {
    open(name, bytes).map(|(entries, _)| entries)
}

/// Reads the job file called `name` and folds it, with what is to be said about the file itself in its notes.
pub fn open(name: &str, bytes: &[u8]) -> Result<(Vec<Entry>, State), BadFile> {
    open_with(name, bytes, &[])
}

/// The same, with the entries of the log that was kept at the lathe beside it: they are part of the record.
pub fn open_with(name: &str, bytes: &[u8], log: &[Entry]) -> Result<(Vec<Entry>, State), BadFile> {
    let named = |error: BadFile| BadFile { file: name.to_owned(), ..error };
    let JobFile { entries, places, mut notes } = parse(bytes, log).map_err(named)?;
    let mut state = fold(&entries);
    state.finished = part::finished(log);
    let crossed = state.seats.iter().filter_map(|seat| check::contradiction(seat, state.units));
    let first = crossed.map(|(id, refused)| (places.get(&id).copied().unwrap_or((1, 1)), refused)).min_by_key(|(place, _)| *place);
    if let Some(((line, column), refused)) = first {
        return Err(named(BadFile { file: String::new(), line, column, byte: 0, refused }));
    }
    notes.append(&mut state.notes);
    state.notes = notes;
    Ok((entries, state))
}

fn parse(bytes: &[u8], log: &[Entry]) -> Result<JobFile, BadFile> {
    let text = syntax::text(bytes)?;
    let table = syntax::tree(text)?;
    let found = walk::walk(text, table.get_ref())?;
    let mut entries = found.entries;
    let mut notes = syntax::notes(text);
    if !log.is_empty() {
        let (known, of_others) = of_seats(&entries, log);
        entries.extend(known);
        notes.extend(of_others);
    }
    sign(&mut entries);
    Ok(JobFile { entries, places: found.places, notes })
}

/// The entries of a log that speak of seats of the file, and a note for each seat that the file does not have.
fn of_seats(file: &[Entry], log: &[Entry]) -> (Vec<Entry>, Vec<String>) {
    let seats: Vec<String> = fold(file).seats.into_iter().map(|seat| seat.name).collect();
    let is_known = |entry: &&Entry| matches!(&entry.seat, Scope::Seat(name) if seats.contains(name));
    let (known, others): (Vec<&Entry>, Vec<&Entry>) = log.iter().partition(is_known);
    let mut notes: Vec<String> = Vec::new();
    for entry in others {
        if let Scope::Seat(name) = &entry.seat {
            let note = format!(
                "The log of the lathe speaks of the seat {name:?}, which this file does not have: its entries are left out. Give the seat its old name."
            );
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
    }
    (known.into_iter().cloned().collect(), notes)
}

/// Gives the signatures that do not say what they sign the head of all entries before them.
fn sign(entries: &mut Vec<Entry>) {
    *entries = ordered(entries);
    if !entries.iter().any(|entry| matches!(entry.what, What::Signature { .. })) {
        return;
    }
    let mut before = chain::START;
    for entry in entries {
        if let What::Signature { head, .. } = &mut entry.what
            && head.is_empty()
        {
            *head = chain::hex(&before);
        }
        before = chain::hash(&before, entry);
    }
}
