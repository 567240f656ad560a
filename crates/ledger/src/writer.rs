//! Group commit: one task writes; whatever waits while it writes goes into its next transaction together.
//!
//! A disk acknowledges some hundreds of times a second, so the number of entries a second is that times the entries in a transaction.
//! Nobody waits for others: an entry that comes alone is written alone, at once.

use std::future::Future;

use job::chain::Hash;
use job::sync::{NotTaken, Taken};
use tokio::sync::{mpsc, oneshot};

use crate::fault::Fault;
use crate::store::{Aside, Offer, Row};

/// Most requests in one transaction.
const MOST_IN_GROUP: usize = 256;
/// Most entries in one transaction, but for a single request.
const MOST_ENTRIES: usize = 4000;
/// Requests that may wait; more wait before the door.
const MOST_WAITING: usize = 4096;

/// Something to be written.
#[derive(Debug)]
pub(crate) enum Work {
    Append(Offer),
    Place { shop: String, job: String, after: u64, before: Hash, rows: Vec<Row> },
    Put { shop: String, aside: Aside, over: bool },
    Drop { shop: String, kind: String, name: String },
}

/// What became of it.
#[derive(Debug)]
pub(crate) enum Done {
    Appended(Vec<Result<Taken, NotTaken>>),
    Was(bool),
}

impl Work {
    fn entries(&self) -> usize {
        match self {
            Self::Append(offer) => offer.entries.len(),
            Self::Place { rows, .. } => rows.len(),
            Self::Put { .. } | Self::Drop { .. } => 1,
        }
    }
}

/// Writes a group in one transaction: all of it is on disk, or none.
pub(crate) trait Pen: Send + 'static {
    /// Of each work its outcome, in order.
    fn write(&mut self, group: &[Work]) -> impl Future<Output = Result<Vec<Done>, Fault>> + Send;
    /// Ends the writing.
    fn close(self) -> impl Future<Output = ()> + Send;
}

type Waiting = (Work, oneshot::Sender<Result<Done, Fault>>);

/// The door to the writing task.
#[derive(Debug)]
pub(crate) struct Writer {
    door: mpsc::Sender<Waiting>,
}

impl Writer {
    /// Starts the task.
    pub fn start(pen: impl Pen) -> (Self, tokio::task::JoinHandle<()>) {
        let (door, queue) = mpsc::channel(MOST_WAITING);
        (Self { door }, tokio::spawn(run(pen, queue)))
    }

    /// Has something written; answered when it is on disk.
    pub async fn write(&self, work: Work) -> Result<Done, Fault> {
        let closed = || Fault::Away("the ledger is closing: nothing was written; send it again when it is open".into());
        let (answer, answered) = oneshot::channel();
        self.door.send((work, answer)).await.map_err(|_| closed())?;
        answered.await.map_err(|_| closed())?
    }
}

async fn run(mut pen: impl Pen, mut queue: mpsc::Receiver<Waiting>) {
    let mut next = None;
    loop {
        let first = match next.take() {
            Some(waiting) => waiting,
            None => match queue.recv().await {
                Some(waiting) => waiting,
                None => return pen.close().await,
            },
        };
        let (mut group, mut answers) = (Vec::new(), Vec::new());
        let mut entries = first.0.entries();
        group.push(first.0);
        answers.push(first.1);
        while group.len() < MOST_IN_GROUP {
            let Ok((work, answer)) = queue.try_recv() else { break };
            entries += work.entries();
            if entries > MOST_ENTRIES {
                next = Some((work, answer));
                break;
            }
            group.push(work);
            answers.push(answer);
        }
        match pen.write(&group).await {
            // Who gave up waiting is not there to be told; the entry is kept all the same.
            Ok(done) => done.into_iter().zip(answers).for_each(|(done, answer)| drop(answer.send(Ok(done)))),
            Err(fault) => answers.into_iter().for_each(|answer| drop(answer.send(Err(fault.clone())))),
        }
    }
}
