//! What may be kept: entries that are whole, from somebody who may bring them.

use calc::Refused;
use job::chain::canonical;
use job::entry::{Entry, EntryId, What};
use job::moment;
use job::sync::{NotTaken, Taken};

use crate::fault::Fault;
use crate::store::Offer;
use crate::{Ledger, REGISTERS};

/// Longest name of a job, shop, person or device.
const MOST_LETTERS: usize = 120;
/// No entry is longer, bytes of its canonical form.
const MOST_BYTES: usize = 64 * 1024;
/// Entries of one transaction.
const BATCH: usize = 1000;

/// Who brings entries, as the ledger knows them: a signed-in person, or the one at the machine itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Author {
    /// The name that stands beside each entry as who brought it.
    pub by: String,
    /// Whose entries they may bring.
    pub brings: Brings,
}

/// Whose entries somebody may bring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Brings {
    /// Their own only.
    Own,
    /// Others' too, such as those of colleagues on a tablet that several share; but a signature only when it is their own.
    Others,
    /// Anything: who stands at the machine that keeps the ledger and reads in a file.
    Anything,
}

impl Author {
    /// Somebody signed in, who brings their own.
    pub fn signed_in(by: impl Into<String>) -> Self {
        Self { by: by.into(), brings: Brings::Own }
    }

    /// Who works at the machine itself.
    pub fn at_the_machine(by: impl Into<String>) -> Self {
        Self { by: by.into(), brings: Brings::Anything }
    }

    fn may_bring(&self, entry: &Entry) -> Result<(), Refused> {
        let own = entry.who == self.by;
        let signature = matches!(entry.what, What::Signature { .. });
        match self.brings {
            _ if own => Ok(()),
            Brings::Anything => Ok(()),
            Brings::Others if !signature => Ok(()),
            Brings::Others => Err(self.not_own(entry, "a signature is taken from its signer only: let them sign in and send it")),
            Brings::Own => Err(self.not_own(entry, "let them sign in and send it; it stays where it was written until then")),
        }
    }

    fn not_own(&self, entry: &Entry, remedy: &str) -> Refused {
        Refused::new("who", format!("{:?}", entry.who), format!("{:?}, who is signed in", self.by), remedy)
    }
}

/// What became of entries that were offered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// Those that are kept now.
    pub taken: Vec<Taken>,
    /// Those that are not, and why.
    pub refused: Vec<NotTaken>,
}

/// Refuses a name that can't stand in a key.
pub(crate) fn short(key: &str, name: &str) -> Result<(), Refused> {
    if name.is_empty() || name.chars().count() > MOST_LETTERS || name.chars().any(char::is_control) {
        let given = format!("{:?}", name.chars().take(40).collect::<String>());
        return Err(Refused::new(key, given, format!("1 to {MOST_LETTERS} letters on one line"), "give it a short name"));
    }
    Ok(())
}

impl Ledger {
    /// Offers entries. Those that are there already count as taken; those that can't stand are given back with the reason. What is
    /// taken is on disk when this answers; on a fault some batches may be kept, and offering all of it again is safe.
    pub async fn offer(&self, author: &Author, entries: Vec<Entry>) -> Result<Outcome, Fault> {
        short("by", &author.by)?;
        let mut outcome = Outcome::default();
        let mut fit = Vec::with_capacity(entries.len());
        for entry in entries {
            let id = entry.id;
            match self.may_stand(author, entry) {
                Ok(entry) => fit.push(entry),
                Err(refused) => outcome.refused.push(NotTaken { id, why: refused.to_string() }),
            }
        }
        let arrived = moment::written(self.now());
        while !fit.is_empty() {
            let rest = fit.split_off(fit.len().min(BATCH));
            let (shop, arrived, by) = (self.shop.to_string(), arrived.clone(), author.by.clone());
            for done in self.store.append(Offer { shop, arrived, by, entries: fit }).await? {
                match done {
                    Ok(taken) => outcome.taken.push(taken),
                    Err(refused) => outcome.refused.push(refused),
                }
            }
            fit = rest;
        }
        Ok(outcome)
    }

    fn may_stand(&self, author: &Author, entry: Entry) -> Result<(Entry, String), Refused> {
        whole(&entry)?;
        author.may_bring(&entry)?;
        let body = canonical(&entry);
        if body.len() > MOST_BYTES {
            let given = format!("{} bytes long", body.len());
            return Err(Refused::new("the entry", given, format!("{MOST_BYTES} bytes at most"), "say it shorter, or in two entries"));
        }
        Ok((entry, body))
    }

    /// A new name for an entry that is written now, for who has no clock or dice of their own.
    pub fn new_id(&self) -> EntryId {
        EntryId(uuid::Uuid::now_v7())
    }
}

/// Whether an entry can stand in any ledger, whoever brings it.
pub(crate) fn whole(entry: &Entry) -> Result<(), Refused> {
    entry.checked()?;
    if entry.id.0.get_version_num() != 7 {
        return Err(Refused::new("id", entry.id, "a UUID of version 7", "let the app give the entry its name"));
    }
    if entry.job != REGISTERS || entry.seat != job::entry::Scope::Shop {
        short("job", &entry.job)?;
    }
    for (key, text) in [("who", &entry.who), ("device", &entry.device)] {
        if !text.is_empty() {
            short(key, text)?;
        }
    }
    Ok(())
}
