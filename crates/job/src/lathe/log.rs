//! The log at the lathe: the entries of a dialogue beside the job file, one a line, each chained to the one before.
//!
//! 1. A line is an entry with its hash ([`chain::Link`]) as JSON. The log has entries of one job, of every seat that was turned.
//! 2. A line counts when it is whole. What stands after the last line end is a half-written line: it is given back apart
//!    ([`Log::torn`]), unless it is a whole entry that only lacks its line end.
//! 3. Refused in a sentence that names the line: what is no entry, an unknown step, another job, a hash that is not the one that it
//!    should have. Nothing is mended silently.
//!
//! It leaves to others: opening, locking and writing the file.

use calc::Refused;

use crate::chain::{self, Hash, Link};
use crate::entry::{Entry, EntryId, Scope, VERSION, What, at_line};

use super::step::{Step, Surface};

/// A log that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// The entries, in order.
    pub entries: Vec<Entry>,
    /// Hash of the last of them.
    pub head: Hash,
    /// Bytes of the file up to the end of the last entry.
    pub whole: usize,
    /// The last entry lacks its line end.
    pub lacks_end: bool,
    /// What stands after the last whole line: a line that was being written when the power went.
    pub torn: Vec<u8>,
}

impl Default for Log {
    fn default() -> Self {
        Self { entries: Vec::new(), head: chain::START, whole: 0, lacks_end: false, torn: Vec::new() }
    }
}

/// No log is larger: a dialogue is some kilobytes.
pub const MOST_BYTES: usize = 20 * 1024 * 1024;

/// Reads the log called `name` of the job `number`; without a number, of whatever job its first entry is.
pub fn read(name: &str, bytes: &[u8], number: Option<&str>) -> Result<Log, Refused> {
    let named = |refused: Refused| Refused { key: format!("{name} {}", refused.key).trim_end().to_owned(), ..refused };
    if bytes.len() > MOST_BYTES {
        let given = format!("{} bytes long", bytes.len());
        return Err(named(Refused::new(
            "",
            given,
            "20 MB at most",
            "look whether it is a log of the lathe; name the job file differently",
        )));
    }
    let mut log = Log::default();
    let mut rest = bytes;
    while let Some(end) = rest.iter().position(|byte| *byte == b'\n') {
        let (line, after) = rest.split_at(end + 1);
        let number_of_line = log.entries.len() + 1;
        let link = link(line, number, &log).map_err(|refused| named(at_line(number_of_line, refused)))?;
        take(&mut log, link, line.len());
        rest = after;
    }
    match link(rest, number, &log) {
        _ if rest.is_empty() => {}
        Ok(link) => {
            take(&mut log, link, rest.len());
            log.lacks_end = true;
        }
        Err(_) => log.torn = rest.to_vec(),
    }
    Ok(log)
}

fn take(log: &mut Log, link: Link, bytes: usize) {
    log.head = chain::hash(&log.head, &link.entry);
    log.whole += bytes;
    log.entries.push(link.entry);
}

const REMEDY: &str = "put back a copy of the log, or move it aside and begin a new one; nothing was written over";

fn link(line: &[u8], number: Option<&str>, log: &Log) -> Result<Link, Refused> {
    let form = "an entry of the lathe with its hash, as it was written";
    let text = std::str::from_utf8(line).map_err(|_| Refused::new("the line", "no text in UTF-8", form, REMEDY))?;
    let link: Link = serde_json::from_str(text).map_err(|fault| {
        Refused::new(
            "the line",
            format!("not readable ({})", fault.to_string().split(" at line ").next().unwrap_or_default()),
            form,
            REMEDY,
        )
    })?;
    let Entry { job, what, follows, .. } = &link.entry;
    link.entry.checked()?;
    let number = number.or(log.entries.first().map(|entry| entry.job.as_str())).unwrap_or(job);
    if job != number {
        let given = format!("of the job {job:?}");
        return Err(Refused::new("the line", given, format!("the job {number:?}"), "name the job file that this log belongs to"));
    }
    let of_lathe = match what {
        What::Lathe { .. } => true,
        What::Correction { with, .. } => matches!(**with, What::Lathe { .. }),
        _ => false,
    };
    if !of_lathe {
        return Err(Refused::new("the line", "no step at the lathe", form, REMEDY));
    }
    let found = chain::hex(&chain::hash(&log.head, &link.entry));
    if found != link.hash || *follows != log.entries.last().map(|entry| entry.id) {
        let given = format!("not as it was written (its hash is {}.., {}.. stands beside it)", start(&found), start(&link.hash));
        return Err(Refused::new("the line", given, "the lines as they were written, none changed, dropped or moved", REMEDY));
    }
    Ok(link)
}

fn start(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}

/// Who writes at the lathe.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Writer {
    /// Number of the job.
    pub job: String,
    /// The seat.
    pub seat: String,
    /// Who.
    pub who: String,
    /// Where.
    pub device: String,
    /// The log, by the name of its file.
    pub log: String,
}

/// The next entry behind `before`, and the hash of the chain with it.
pub fn next(before: &Hash, last: Option<EntryId>, writer: &Writer, when: &str, what: What) -> (Entry, Hash) {
    let content = serde_json::to_string(&what).unwrap_or_default();
    // Two parts that are begun in the same second with the same words are two.
    let place = format!("{}\n{}\n{}", chain::hex(before), writer.job, writer.seat);
    let entry = Entry {
        version: VERSION,
        id: EntryId::of_moment(when, &place, &content),
        job: writer.job.clone(),
        seat: Scope::Seat(writer.seat.clone()),
        who: writer.who.clone(),
        device: writer.device.clone(),
        when: when.to_owned(),
        follows: last,
        what,
    };
    let hash = chain::hash(before, &entry);
    (entry, hash)
}

/// An entry as its line of the log, `hash` being that of the chain with it.
pub fn line(entry: &Entry, hash: &Hash) -> String {
    let link = Link { entry: entry.clone(), hash: chain::hex(hash) };
    // An entry has only texts and finite numbers, so it always becomes JSON.
    serde_json::to_string(&link).unwrap_or_default() + "\n"
}

/// What takes back the entry `id` of that surface.
pub fn taking_back(id: EntryId, surface: Surface, typed: &str, because: &str) -> What {
    let with = What::Lathe { surface, after_s: 0.0, typed: typed.to_owned(), does: Step::Withdrawn {} };
    What::Correction { replaces: id, with: Box::new(with), because: because.to_owned() }
}
