//! Reading jobs back, each with its whole chain checked, and verifying all of a ledger.

use job::chain::{self, Hash};
use job::entry::{Entry, EntryId};
use job::kept::{self, Altered, Kept};
use job::registers::Registers;

use crate::fault::Fault;
use crate::store::{Head, Row};
use crate::{Ledger, REGISTERS};

/// Heads that are asked for at once.
pub(crate) const PAGE: usize = 1000;
/// Rows that are asked for at once.
const ROWS: usize = 20_000;

/// A job as it was read: its chain holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// Its entries in the order of their numbers.
    pub kept: Vec<Kept>,
    /// Number and hash of the last.
    pub head: Head,
}

impl Checked {
    /// The entries alone, as `job::fold` takes them.
    pub fn entries(&self) -> Vec<Entry> {
        self.kept.iter().map(|kept| kept.entry.clone()).collect()
    }

    /// The entries alone, without a copy.
    pub fn into_entries(self) -> Vec<Entry> {
        self.kept.into_iter().map(|kept| kept.entry).collect()
    }
}

/// What a verification went through.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verified {
    /// Jobs, the registers counted as one.
    pub jobs: u64,
    /// Entries.
    pub entries: u64,
    /// Of each job that is not as it was kept, its first entry that is not; and what the engine finds wrong with its own files.
    pub faults: Vec<Fault>,
}

impl Ledger {
    /// A job, or [`REGISTERS`]; none when there is no such job. Refused when any of it is not as it was kept.
    pub async fn job(&self, number: &str) -> Result<Option<Checked>, Fault> {
        let Some(head) = self.store.head(&self.shop, number).await? else {
            // A job whose head is gone has not gone itself.
            return if self.store.rows(&self.shop, number, 0, 1).await?.is_empty() {
                Ok(None)
            } else {
                let what = "the job has entries, but the note of its last one is missing".to_owned();
                Err(Altered { job: number.to_owned(), number: 1, id: None, what }.into())
            };
        };
        let kept = self.chain(&head, 0).await?;
        Ok(Some(Checked { kept, head }))
    }

    /// The entries of the job of `head` behind `after`, up to the head, their chain checked.
    pub(crate) async fn chain(&self, head: &Head, after: u64) -> Result<Vec<Kept>, Fault> {
        self.stretch(head, after, u64::MAX).await
    }

    /// At most `most` entries of the job of `head` behind `after`, their chain checked as far as it was read.
    pub(crate) async fn stretch(&self, head: &Head, after: u64, most: u64) -> Result<Vec<Kept>, Fault> {
        // The one before tells the hash that the first is chained to.
        let mut at = after.saturating_sub(1);
        let last = head.number.min(after.saturating_add(most));
        let mut before = (after == 0).then_some(chain::START);
        let mut found = Vec::with_capacity(usize::try_from(last.saturating_sub(after)).unwrap_or(0).min(ROWS));
        while at < last {
            let wanted = usize::try_from(last - at).unwrap_or(ROWS).min(ROWS);
            let rows = self.store.rows(&self.shop, &head.job, at, wanted).await?;
            if rows.is_empty() {
                let what = "it is missing".to_owned();
                return Err(Altered { job: head.job.clone(), number: at + 1, id: None, what }.into());
            }
            for row in rows {
                at += 1;
                match before {
                    None => before = Some(hash_of(&head.job, at, &row)?),
                    Some(hash) => {
                        let (kept, hash) = checked(&head.job, at, &hash, row)?;
                        before = Some(hash);
                        found.push(kept);
                    }
                }
            }
        }
        if at == head.number && before.is_some_and(|hash| hash != head.hash) {
            let what = "the note of the job's last entry has another hash".to_owned();
            return Err(Altered { job: head.job.clone(), number: at, id: None, what }.into());
        }
        Ok(found)
    }

    /// The heads of jobs from `from` on in the order of their numbers, at most `most`. The registers come first, as the job "".
    pub async fn heads(&self, from: &str, most: usize) -> Result<Vec<Head>, Fault> {
        self.store.heads(&self.shop, from, most).await
    }

    /// The heads of the jobs that were written to last, at most `most`, the newest first, without the registers.
    pub(crate) async fn newest(&self, most: usize) -> Result<Vec<Head>, Fault> {
        self.store.newest(&self.shop, most).await
    }

    /// The head of a job.
    pub async fn head(&self, number: &str) -> Result<Option<Head>, Fault> {
        self.store.head(&self.shop, number).await
    }

    /// Where an entry stands: its job and number.
    pub async fn find(&self, id: EntryId) -> Result<Option<(String, u64)>, Fault> {
        self.store.find(&self.shop, id).await
    }

    /// What the registers amount to.
    pub async fn registers(&self) -> Result<Registers, Fault> {
        let entries = self.job(REGISTERS).await?.map(Checked::into_entries).unwrap_or_default();
        Ok(job::fold::registers(&entries))
    }

    /// Goes through everything of this shop: the engine's own check, every chain, every canonical form. `step` is told the entries
    /// done so far.
    pub async fn verify(&self, step: &mut (dyn FnMut(u64) + Send)) -> Result<Verified, Fault> {
        let mut verified = Verified::default();
        match self.store.sound().await {
            Ok(said) => {
                verified.faults.extend(said.into_iter().map(|line| Fault::Damaged(format!("the engine finds its file damaged: {line}"))))
            }
            Err(fault) => verified.faults.push(fault),
        }
        let mut from = String::new();
        loop {
            let heads = self.heads(&from, PAGE).await?;
            for head in &heads {
                verified.jobs += 1;
                match self.chain(head, 0).await {
                    Ok(kept) => {
                        verified.entries += kept.len() as u64;
                        verified.faults.extend(beyond(self, head).await?);
                    }
                    Err(fault @ (Fault::Altered(_) | Fault::Damaged(_))) => verified.faults.push(fault),
                    Err(other) => return Err(other),
                }
                step(verified.entries);
            }
            match heads.last() {
                Some(last) if heads.len() == PAGE => from = behind(&last.job),
                _ => break,
            }
        }
        for job in self.store.loose(&self.shop).await? {
            if !verified.faults.iter().any(|fault| matches!(fault, Fault::Altered(altered) if altered.job == job)) {
                let what = "the job's entries and the note of its last one do not belong together".to_owned();
                verified.faults.push(Altered { job, number: 1, id: None, what }.into());
            }
        }
        self.whole_asides(&mut verified).await?;
        Ok(verified)
    }

    async fn whole_asides(&self, verified: &mut Verified) -> Result<(), Fault> {
        for kind in self.store.kinds(&self.shop).await? {
            match self.store.asides(&self.shop, &kind, None).await {
                Ok(_) => {}
                Err(fault @ Fault::Damaged(_)) => verified.faults.push(fault),
                Err(other) => return Err(other),
            }
        }
        // With a turned byte in the shop's name a row is nobody's, and nothing of this shop tells that it is gone.
        let stray = self.store.stray(&self.shop).await?;
        if stray > 0 {
            verified.faults.push(Fault::Damaged(format!(
                "{stray} of this shop's passwords, sessions and links stand under another shop: they are not used; put back a backup from before"
            )));
        }
        Ok(())
    }
}

/// A row behind the job's last entry can only have been slipped in.
async fn beyond(ledger: &Ledger, head: &Head) -> Result<Option<Fault>, Fault> {
    let rows = ledger.store.rows(&ledger.shop, &head.job, head.number, 1).await?;
    let now = ledger.head(&head.job).await?;
    // Unless it was written while this was looking.
    Ok(rows.first().filter(|_| now.as_ref() == Some(head)).map(|row| {
        let what = "it stands behind the job's last entry: it was added".to_owned();
        Altered { job: head.job.clone(), number: row.number, id: Some(row.id), what }.into()
    }))
}

/// The smallest text behind `job`: no name holds a control character.
pub(crate) fn behind(job: &str) -> String {
    format!("{job}\u{1}")
}

fn hash_of(job: &str, number: u64, row: &Row) -> Result<Hash, Fault> {
    let altered = |what: &str| Altered { job: job.to_owned(), number, id: Some(row.id), what: what.to_owned() };
    if row.number != number {
        return Err(altered("another number stands there: an entry was added, dropped or moved").into());
    }
    Hash::try_from(row.hash.as_slice()).map_err(|_| altered("what is written beside it is no hash").into())
}

/// A row as what was kept, checked as entry `number` of `job` behind `before`, with its hash.
fn checked(job: &str, number: u64, before: &Hash, row: Row) -> Result<(Kept, Hash), Fault> {
    let altered = |what: String| Altered { job: job.to_owned(), number, id: Some(row.id), what };
    let written = hash_of(job, number, &row)?;
    let found = kept::hash(before, number, &row.arrived, &row.by, &row.body);
    if found != written {
        return Err(altered(format!(
            "its hash is {}, but {} is written beside it: it was changed, or one before it was added, dropped or moved",
            chain::hex(&found),
            chain::hex(&written)
        ))
        .into());
    }
    let entry: Entry = serde_json::from_str(&row.body).map_err(|fault| altered(format!("it is no entry of this version ({fault})")))?;
    if entry.id != row.id || entry.job != job {
        return Err(altered(format!("it says itself that it is {} of the job {:?}", entry.id, entry.job)).into());
    }
    Ok((Kept { number, arrived: row.arrived, by: row.by, entry, hash: chain::hex(&found) }, found))
}
