//! A device's request answered: takes what it offers, brings what it lacks. The words of the protocol are `job::sync`'s.

use std::collections::{BTreeMap, BTreeSet};

use job::kept::Kept;
use job::moment;
use job::sync::{Answer, Ask, MOST, PROTOCOL, spoken};

use crate::Ledger;
use crate::fault::Fault;
use crate::offer::Author;
use crate::read::{PAGE, behind};
use crate::store::Head;

/// What a device lacks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lacks {
    /// Entries, in order within each job.
    pub kept: Vec<Kept>,
    /// Jobs of which the device has more than is here.
    pub behind: Vec<String>,
    /// Where to carry on; none when that was all.
    pub on: Option<String>,
}

impl Ledger {
    /// Answers a request of somebody who is known by their sign-in, never by what the request says.
    pub async fn sync(&self, author: &Author, ask: Ask) -> Result<Answer, Fault> {
        spoken(Some(ask.protocol))?;
        if ask.offers.len() > MOST {
            let given = format!("{} entries", ask.offers.len());
            return Err(
                calc::Refused::new("offers", given, format!("{MOST} at most in one request"), "send the others in the next one").into()
            );
        }
        let outcome = self.offer(author, ask.offers).await?;
        let lacks = self.lacks(&ask.have, ask.only.as_deref(), ask.from.as_deref(), ask.most).await?;
        Ok(Answer {
            protocol: PROTOCOL,
            now: moment::written(self.now()),
            taken: outcome.taken,
            refused: outcome.refused,
            lacks: lacks.kept,
            behind: lacks.behind,
            on: lacks.on,
        })
    }

    /// Entries that somebody lacks who has `have` (of each job the number of its last entry): at most `most`, of the jobs `only` or of all,
    /// from the job `from` on.
    pub async fn lacks(
        &self,
        have: &BTreeMap<String, u64>,
        only: Option<&[String]>,
        from: Option<&str>,
        most: usize,
    ) -> Result<Lacks, Fault> {
        let mut lacks = Lacks::default();
        let most = most.clamp(1, MOST);
        match only {
            Some(only) => {
                let mut only: Vec<&String> = only.iter().filter(|job| from.is_none_or(|from| job.as_str() >= from)).collect();
                only.sort_unstable();
                only.dedup();
                for job in only {
                    if !self.bring(&mut lacks, job, self.head(job).await?.as_ref(), have, most).await? {
                        break;
                    }
                }
            }
            None => {
                let mut from = from.unwrap_or_default().to_owned();
                let mut not_here: BTreeSet<&String> =
                    have.iter().filter(|(job, number)| **number > 0 && **job >= from).map(|(job, _)| job).collect();
                'pages: loop {
                    let heads = self.heads(&from, PAGE).await?;
                    for head in &heads {
                        not_here.remove(&head.job);
                        if !self.bring(&mut lacks, &head.job, Some(head), have, most).await? {
                            break 'pages;
                        }
                    }
                    match heads.last() {
                        Some(last) if heads.len() == PAGE => from = behind(&last.job),
                        _ => {
                            // The last job was seen: of those that are not here at all, the device has more than is here.
                            lacks.behind.extend(not_here.into_iter().cloned());
                            break;
                        }
                    }
                }
            }
        }
        Ok(lacks)
    }

    /// Brings what is lacked of one job; whether there is room for more.
    async fn bring(
        &self,
        lacks: &mut Lacks,
        job: &str,
        head: Option<&Head>,
        have: &BTreeMap<String, u64>,
        most: usize,
    ) -> Result<bool, Fault> {
        let has = have.get(job).copied().unwrap_or(0);
        let Some(head) = head else {
            if has > 0 {
                lacks.behind.push(job.to_owned());
            }
            return Ok(true);
        };
        if has > head.number {
            lacks.behind.push(job.to_owned());
            return Ok(true);
        }
        if has == head.number {
            return Ok(true);
        }
        let room = most.saturating_sub(lacks.kept.len()) as u64;
        if room > 0 {
            lacks.kept.extend(self.stretch(head, has, room).await?);
        }
        let whole = head.number - has <= room;
        if !whole {
            lacks.on = Some(job.to_owned());
        }
        Ok(whole)
    }
}
