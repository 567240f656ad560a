//! How two keepers of a record come to have the same entries: what a device asks, what the ledger answers, and the device's side of it.
//!
//! 1. A device says what it has (of each job the number of its last entry) and gives what was written on it; the answer says what
//!    was taken and brings what the device lacks, in batches.
//! 2. Everything may be sent twice, in any order, and cut anywhere: the ledger takes an entry once, and the device takes a batch only
//!    where it carries on its chain, so asking again carries on from where it stood.
//! 3. The ledger gives the numbers, the time of arrival and the name of whom it signed in; the device's order, clock and author are
//!    words of the entry only.
//! 4. An entry leaves the device's own pile only when it came back with its number: nothing that was shown as kept is lost.
//! 5. A request begins with the version of this protocol. One that is not spoken is refused in a sentence before anything else is read.
//!
//! It leaves to others: the connection, the disk, and who may do what.

use std::collections::{BTreeMap, BTreeSet};

use calc::Refused;
use serde::{Deserialize, Serialize};

use crate::chain::{self, Hash};
use crate::entry::{Entry, EntryId};
use crate::kept::{Altered, Kept, hash_of};

/// The version of the protocol that is spoken.
pub const PROTOCOL: u32 = 1;
/// The oldest version that is still understood.
pub const OLDEST: u32 = 1;
/// Most entries that a request may offer, and an answer may bring.
pub const MOST: usize = 1000;

/// What a device asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ask {
    /// Version of the protocol.
    pub protocol: u32,
    /// Of each job that the device has, the number of its last entry; the registers are the job "".
    #[serde(default)]
    pub have: BTreeMap<String, u64>,
    /// What was written on the device.
    #[serde(default)]
    pub offers: Vec<Entry>,
    /// Only these jobs are wanted; without it every job.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<Vec<String>>,
    /// Only jobs from this one on, in the order of their numbers: `on` of the answer before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Most entries that the answer may bring ([`MOST`] at most).
    pub most: usize,
}

/// What the ledger answers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Answer {
    /// Version of the protocol.
    pub protocol: u32,
    /// The ledger's clock.
    pub now: String,
    /// What is kept now of what was offered, whether it arrived just now or long before.
    #[serde(default)]
    pub taken: Vec<Taken>,
    /// What was not taken, and why. It stays on the device.
    #[serde(default)]
    pub refused: Vec<NotTaken>,
    /// What the device lacks, in order within each job.
    #[serde(default)]
    pub lacks: Vec<Kept>,
    /// Jobs of which the device has more than the ledger, which was put back to an older state: the device offers them again.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub behind: Vec<String>,
    /// There is more: ask again, with `from` set to this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
}

/// An entry that is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Taken {
    /// Its name.
    pub id: EntryId,
    /// The job.
    pub job: String,
    /// Its number there.
    pub number: u64,
    /// It arrived with this request, and not before.
    pub new: bool,
}

/// An entry that was not taken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NotTaken {
    /// Its name.
    pub id: EntryId,
    /// Why, in a sentence.
    pub why: String,
}

/// The version alone: whatever else a newer or older request holds.
#[derive(Deserialize)]
struct Spoken {
    protocol: Option<u32>,
}

impl Ask {
    /// Reads a request. Refused: another version of the protocol (said first), what is no request, and too many entries at once.
    pub fn read(bytes: &[u8]) -> Result<Self, Refused> {
        let form = || format!("a sync request of protocol {PROTOCOL} in JSON");
        let unread =
            |fault: serde_json::Error| Refused::new("the request", format!("not readable ({fault})"), form(), "bring the app up to date");
        let Spoken { protocol } = serde_json::from_slice(bytes).map_err(unread)?;
        spoken(protocol)?;
        let ask: Self = serde_json::from_slice(bytes).map_err(unread)?;
        if ask.offers.len() > MOST {
            let given = format!("{} entries", ask.offers.len());
            return Err(Refused::new("offers", given, format!("{MOST} at most in one request"), "send the others in the next one"));
        }
        Ok(ask)
    }
}

/// Refuses a version of the protocol that is not spoken.
pub fn spoken(protocol: Option<u32>) -> Result<(), Refused> {
    let allowed = if OLDEST == PROTOCOL { PROTOCOL.to_string() } else { format!("{OLDEST} to {PROTOCOL}") };
    match protocol {
        Some(OLDEST..=PROTOCOL) => Ok(()),
        Some(newer) if newer > PROTOCOL => {
            let remedy = "this server is older than the app: bring the server up to date; what was written on the device stays there";
            Err(Refused::new("protocol", newer, allowed, remedy))
        }
        other => {
            let remedy = "the app is older than the server: load it again; what was written on the device stays there and is sent then";
            Err(Refused::new("protocol", other.map_or("missing".into(), |old| old.to_string()), allowed, remedy))
        }
    }
}

/// A job as a device has it.
#[derive(Clone, Debug, Default, PartialEq)]
struct Held {
    kept: Vec<Kept>,
    head: Hash,
}

/// What a device holds: the chains that it was brought, and its own pile of what it wrote.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Device {
    jobs: BTreeMap<String, Held>,
    pile: Vec<Entry>,
    known: BTreeSet<EntryId>,
    /// What the ledger would not take, and why. It stays in the pile.
    pub refused: Vec<NotTaken>,
    from: Option<String>,
}

impl Device {
    /// Puts an entry that was written here on the pile.
    pub fn write(&mut self, entry: Entry) {
        self.pile.push(entry);
    }

    /// The entries of a job: what came from the ledger, then what waits here.
    pub fn entries(&self, job: &str) -> Vec<Entry> {
        let kept = self.jobs.get(job).map(|held| held.kept.as_slice()).unwrap_or_default();
        kept.iter().map(|kept| &kept.entry).chain(self.pile.iter().filter(|entry| entry.job == job)).cloned().collect()
    }

    /// The chain of a job as it was brought.
    pub fn chain(&self, job: &str) -> &[Kept] {
        self.jobs.get(job).map(|held| held.kept.as_slice()).unwrap_or_default()
    }

    /// The jobs that it has.
    pub fn jobs(&self) -> impl Iterator<Item = &str> {
        self.jobs.keys().map(String::as_str)
    }

    /// Entries that wait here: not yet come back from the ledger.
    pub fn pile(&self) -> &[Entry] {
        &self.pile
    }

    /// The next request, with at most `most` entries each way.
    pub fn ask(&self, most: usize) -> Ask {
        let have = self.jobs.iter().map(|(job, held)| (job.clone(), held.kept.len() as u64)).collect();
        let offers = self.pile.iter().filter(|entry| !self.known.contains(&entry.id) && !self.is_refused(entry.id)).take(most.min(MOST));
        Ask { protocol: PROTOCOL, have, offers: offers.cloned().collect(), only: None, from: self.from.clone(), most }
    }

    fn is_refused(&self, id: EntryId) -> bool {
        self.refused.iter().any(|refused| refused.id == id)
    }

    /// Takes in an answer, be it late, doubled or of another order. What does not carry on a chain is passed over: the next request
    /// asks for it again. A chain that differs from the one that is held is refused, and nothing of that job is changed.
    pub fn take(&mut self, answer: &Answer) -> Result<(), Altered> {
        self.known.extend(answer.taken.iter().map(|taken| taken.id));
        for refused in &answer.refused {
            if !self.is_refused(refused.id) {
                self.refused.push(refused.clone());
            }
        }
        for kept in &answer.lacks {
            self.take_in(kept)?;
        }
        for job in &answer.behind {
            self.start_over(job);
        }
        if answer.on.is_none() {
            // At the end of a round all that was taken has come back. What has not is offered again: the ledger may have been put back.
            let just_now: BTreeSet<EntryId> = answer.taken.iter().map(|taken| taken.id).collect();
            self.known.retain(|id| just_now.contains(id));
        }
        self.from.clone_from(&answer.on);
        Ok(())
    }

    /// Offers once more what was refused: somebody else has signed in, or the reason is gone.
    pub fn offer_again(&mut self) {
        self.refused.clear();
    }

    /// Takes a job's chain apart: its entries go on the pile and are offered again. For a ledger that was put back to an older state.
    pub fn start_over(&mut self, job: &str) {
        for kept in self.jobs.remove(job).map(|held| held.kept).unwrap_or_default() {
            self.known.remove(&kept.entry.id);
            self.pile.push(kept.entry);
        }
    }

    fn take_in(&mut self, kept: &Kept) -> Result<(), Altered> {
        let job = &kept.entry.job;
        let held = self.jobs.entry(job.clone()).or_default();
        let next = held.kept.len() as u64 + 1;
        if kept.number > next {
            return Ok(());
        }
        if kept.number < next {
            let here = usize::try_from(kept.number).ok().and_then(|number| held.kept.get(number.checked_sub(1)?));
            return if here == Some(kept) {
                Ok(())
            } else {
                let what = "the ledger's entry of this number differs from the one that was brought before".to_owned();
                Err(Altered { job: job.clone(), number: kept.number, id: Some(kept.entry.id), what })
            };
        }
        held.head = kept.checked(job, next, &held.head)?;
        held.kept.push(kept.clone());
        self.pile.retain(|entry| entry.id != kept.entry.id);
        Ok(())
    }

    /// Whether everything that was written here is in the ledger's chain, and there was no more to bring.
    pub fn is_level(&self) -> bool {
        self.from.is_none() && self.pile.iter().all(|entry| self.is_refused(entry.id))
    }

    /// The head of a job's chain, hexadecimal.
    pub fn head(&self, job: &str) -> String {
        chain::hex(&self.jobs.get(job).map_or(chain::START, |held| held.head))
    }

    /// Takes up chains that were kept on the device's own disk, checked, and its pile.
    pub fn restored(kept: &[Kept], pile: Vec<Entry>) -> Result<Self, Altered> {
        let mut device = Self { pile, ..Self::default() };
        for kept in kept {
            if hash_of(&kept.hash).is_none() {
                let what = "what stands beside it is no hash".to_owned();
                return Err(Altered { job: kept.entry.job.clone(), number: kept.number, id: Some(kept.entry.id), what });
            }
            device.take_in(kept)?;
        }
        Ok(device)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(detail: &str) -> Entry {
        Entry {
            version: crate::entry::VERSION,
            id: EntryId::of_file("2026-03-02", detail, ""),
            job: "1".into(),
            seat: crate::entry::Scope::Job,
            who: "A. Turner".into(),
            device: "tablet".into(),
            when: "2026-03-02".into(),
            follows: None,
            what: crate::entry::What::Event { what: "note".into(), detail: detail.into() },
        }
    }

    fn empty() -> Answer {
        let (taken, refused, lacks, behind) = Default::default();
        Answer { protocol: PROTOCOL, now: String::new(), taken, refused, lacks, behind, on: None }
    }

    #[test]
    fn what_was_written_here_is_offered_until_it_comes_back() {
        let mut device = Device::default();
        device.write(note("one"));
        assert_eq!(device.ask(10).offers.len(), 1);
        let taken = Taken { id: note("one").id, job: "1".into(), number: 1, new: true };
        // It was taken, and there is more to come: not offered again yet, and still here.
        device.take(&Answer { taken: vec![taken], on: Some("1".into()), ..empty() }).unwrap();
        assert_eq!((device.ask(10).offers.len(), device.entries("1").len(), device.is_level()), (0, 1, false));
        // The round ended without it: the ledger was put back to a state before.
        device.take(&empty()).unwrap();
        assert_eq!(device.ask(10).offers.len(), 1);
        let mut kept =
            Kept { number: 1, arrived: "2026-03-02T10:00:00Z".into(), by: "A. Turner".into(), entry: note("one"), hash: String::new() };
        kept.hash = chain::hex(&kept.found(&chain::START));
        device.take(&Answer { lacks: vec![kept], ..empty() }).unwrap();
        assert_eq!((device.ask(10).offers.len(), device.entries("1").len(), device.is_level()), (0, 1, true));
    }

    #[test]
    fn what_was_refused_stays_here_and_is_offered_when_it_is_said_so() {
        let mut device = Device::default();
        device.write(note("one"));
        let refused = NotTaken { id: note("one").id, why: "let them sign in".into() };
        device.take(&Answer { refused: vec![refused], ..empty() }).unwrap();
        assert_eq!((device.ask(10).offers.len(), device.pile().len(), device.refused.len()), (0, 1, 1));
        device.offer_again();
        assert_eq!(device.ask(10).offers.len(), 1);
    }

    #[test]
    fn a_request_of_another_protocol_gets_a_clear_word_whatever_else_it_holds() {
        for (text, words) in [
            (r#"{"protocol":2,"colour":"red"}"#, "this server is older than the app"),
            (r#"{"protocol":0}"#, "the app is older than the server"),
            ("{}", "protocol is missing"),
            ("[", "not readable"),
            (r#"{"protocol":1,"most":5,"colour":"red"}"#, "unknown field"),
        ] {
            let refused = Ask::read(text.as_bytes()).unwrap_err().to_string();
            assert!(refused.contains(words), "{refused}");
        }
        assert!(Ask::read(br#"{"protocol":1,"most":5}"#).is_ok());
    }
}
