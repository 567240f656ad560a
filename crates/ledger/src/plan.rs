//! From offers to rows: which entries are new, which number and hash each gets, and what each offer is answered.
//!
//! Pure: both stores read what is there, plan, and write the plan in one transaction.

use std::collections::{BTreeSet, HashMap};

use job::chain;
use job::entry::EntryId;
use job::kept;
use job::sync::{NotTaken, Taken};

use crate::store::{Head, Offer, Row};

/// What is known of an entry that is there already.
pub(crate) struct Known {
    pub job: String,
    pub number: u64,
    pub body: String,
}

/// What to write, and what to answer.
#[derive(Default)]
pub(crate) struct Plan {
    /// New rows with their jobs.
    pub rows: Vec<(String, Row)>,
    pub heads: Vec<Head>,
    /// Of each offer, of each of its entries.
    pub outcomes: Vec<Vec<Result<Taken, NotTaken>>>,
}

impl Plan {
    /// The new rows as a store takes them.
    pub fn listed(&self) -> Vec<(&str, &Row)> {
        self.rows.iter().map(|(job, row)| (job.as_str(), row)).collect()
    }
}

/// Plans offers of one shop, in their order. `known`: the entries offered that are there; `heads`: the heads of their jobs.
pub(crate) fn plan(offers: &[&Offer], mut known: HashMap<EntryId, Known>, mut heads: HashMap<String, Head>) -> Plan {
    let mut plan = Plan::default();
    let mut moved: BTreeSet<String> = BTreeSet::new();
    for offer in offers {
        let mut outcomes = Vec::with_capacity(offer.entries.len());
        for (entry, body) in &offer.entries {
            if let Some(there) = known.get(&entry.id) {
                outcomes.push(told(entry.id, there, body));
                continue;
            }
            let (before, number) = heads.get(&entry.job).map_or((chain::START, 1), |head| (head.hash, head.number + 1));
            let hash = kept::hash(&before, number, &offer.arrived, &offer.by, body);
            let arrived = offer.arrived.clone();
            heads.insert(entry.job.clone(), Head { job: entry.job.clone(), number, hash, arrived: arrived.clone() });
            if !moved.contains(&entry.job) {
                moved.insert(entry.job.clone());
            }
            known.insert(entry.id, Known { job: entry.job.clone(), number, body: body.clone() });
            let (by, body, hash) = (offer.by.clone(), body.clone(), hash.to_vec());
            plan.rows.push((entry.job.clone(), Row { number, id: entry.id, arrived, by, body, hash }));
            outcomes.push(Ok(Taken { id: entry.id, job: entry.job.clone(), number, new: true }));
        }
        plan.outcomes.push(outcomes);
    }
    plan.heads = moved.iter().filter_map(|job| heads.remove(job)).collect();
    plan
}

/// The answer to an entry that is there already.
fn told(id: EntryId, there: &Known, body: &str) -> Result<Taken, NotTaken> {
    if there.body == body {
        return Ok(Taken { id, job: there.job.clone(), number: there.number, new: false });
    }
    Err(NotTaken {
        id,
        why: format!(
            "entry {id} is another than the one that is kept under that name (job {}, entry {}); allowed: an entry as it was first \
             written; write what differs as a correction",
            there.job, there.number
        ),
    })
}
