//! What the jobs of a shop teach of its lathes: the parts that were finished on them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use job::chain::Hash;
use job::lathe::part::{self, Part};
use job::state::State;

use crate::fault::Fault;
use crate::{Checked, Ledger};

/// Most jobs that are looked into, the newest first.
const MOST_JOBS: usize = 1000;

/// The finished parts of jobs as they were read last, each with the hash of its job's last entry: a job is read again only when there is a
/// new entry.
type Parts = BTreeMap<String, (Hash, Arc<[Part]>)>;

/// What was finished on the lathes of shops, kept from one reading to the next.
#[derive(Debug, Default)]
pub struct Turned(Mutex<BTreeMap<String, Arc<Parts>>>);

impl Turned {
    /// Adds to a job what this and other jobs of the shop finished, where a seat of it names its lathe. A job that is not as it was kept
    /// teaches nothing, and a note of `state` says so.
    pub async fn lend(&self, ledger: &Ledger, state: &mut State) -> Result<(), Fault> {
        if !state.names_a_lathe() {
            return Ok(());
        }
        let before = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(ledger.shop()).cloned().unwrap_or_default();
        let mut now = Parts::new();
        for head in ledger.newest(MOST_JOBS).await? {
            let parts = match before.get(&head.job) {
                Some((hash, parts)) if *hash == head.hash => parts.clone(),
                _ => match ledger.job(&head.job).await {
                    Ok(job) => part::finished(&job.map(Checked::into_entries).unwrap_or_default()).into(),
                    Err(fault @ (Fault::Altered(_) | Fault::Damaged(_))) => {
                        state.notes.push(format!("What job {} teaches of the lathe is not used: {fault}.", head.job));
                        continue;
                    }
                    Err(other) => return Err(other),
                },
            };
            state.finished.extend(parts.iter().cloned());
            now.insert(head.job, (head.hash, parts));
        }
        part::sort(&mut state.finished);
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(ledger.shop().to_owned(), Arc::new(now));
        Ok(())
    }
}
