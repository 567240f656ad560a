//! kill -9 at random moments of writing runs, and the database pulled down under load: what was acknowledged is there, once, in its chain.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use job::entry::EntryId;
use ledger::{Author, Ledger, Options, Place};

use crate::dice::Dice;
use crate::postgres::Postgres;
use crate::shop;
use crate::writing::options;

/// Entries of a hand in a run that is killed: more than it gets done.
const MORE_THAN_ENOUGH: u64 = 1_000_000;
/// Longest that a run is left to write, ms.
const LONGEST_MS: u64 = 120;

/// What was done, and what was found.
#[derive(Clone, Copy, Debug, Default)]
pub struct Report {
    /// Writing runs.
    pub runs: u64,
    /// Those of them that were killed, or cut off, while they wrote.
    pub kills: u64,
    /// Entries that were acknowledged.
    pub acknowledged: u64,
    /// Entries that are there: more, since the last answers did not arrive.
    pub there: u64,
    /// Acknowledged and not there.
    pub lost: u64,
    /// There more than once.
    pub twice: u64,
}

impl std::fmt::Display for Report {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { runs, kills, acknowledged, there, lost, twice } = self;
        write!(f, "{runs} runs, {kills} cut off, {acknowledged} entries acknowledged, {there} there, lost {lost}, twice {twice}")
    }
}

impl Report {
    /// Whether the ledger kept its word.
    pub const fn holds(&self) -> bool {
        self.lost == 0 && self.twice == 0
    }
}

/// Kills `runs` writing runs of the program `writer` on `store`, each at a random moment, and looks after each.
pub async fn kill(writer: &Path, store: &str, runs: u64, dice: &mut Dice) -> Report {
    let mut report = Report::default();
    for run in 0..runs {
        let shop = format!("run {}", dice.draw());
        let mut child = Command::new(writer)
            .args(["write", store, &shop, &dice.draw().to_string(), &MORE_THAN_ENOUGH.to_string()])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let out = child.stdout.take().unwrap();
        let mut lines = BufReader::new(out).lines();
        // The first acknowledgement says that it writes; one run in eight is killed before, while it opens.
        let mut acknowledged = Vec::new();
        if run % 8 != 0 {
            acknowledged.extend(lines.next());
        }
        std::thread::sleep(Duration::from_micros(dice.below(LONGEST_MS * 1000)));
        child.kill().unwrap();
        child.wait().unwrap();
        acknowledged.extend(lines);
        // A line without its end was never said.
        let acknowledged: Vec<EntryId> = acknowledged.into_iter().filter_map(|line| Some(EntryId(line.ok()?.parse().ok()?))).collect();
        report.runs += 1;
        report.kills += 1;
        look(store, &shop, &acknowledged, &mut report).await;
    }
    report
}

/// Opens the store and counts what it kept of what it acknowledged.
pub async fn look(store: &str, shop: &str, acknowledged: &[EntryId], report: &mut Report) {
    let ledger = Ledger::open(&Place::of(store), options(shop)).await.unwrap();
    count(&ledger, acknowledged, report).await;
    ledger.close().await.unwrap();
}

async fn count(ledger: &Ledger, acknowledged: &[EntryId], report: &mut Report) {
    let verified = ledger.verify(&mut |_| {}).await.unwrap();
    assert_eq!(verified.faults, [], "the chain does not hold");
    let mut there = BTreeSet::new();
    for head in ledger.heads("", 1000).await.unwrap() {
        for kept in ledger.job(&head.job).await.unwrap().unwrap().kept {
            report.there += 1;
            report.twice += u64::from(!there.insert(kept.entry.id));
        }
    }
    report.acknowledged += acknowledged.len() as u64;
    report.lost += acknowledged.iter().filter(|id| !there.contains(id)).count() as u64;
}

/// Writes from many hands while the database goes down and comes up `times` times; the ledger tries again by itself.
pub async fn restarts(postgres: &Postgres, times: u64, dice: &mut Dice) -> Report {
    let shop = format!("restarts {}", dice.draw());
    let ledger = Ledger::open(&Place::of(&postgres.url()), Options { shop, ..Options::default() }).await.unwrap();
    let stop = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let hands: Vec<_> = (0..16)
        .map(|hand| {
            let (ledger, stop) = (ledger.clone(), stop.clone());
            tokio::spawn(async move {
                let author = Author::signed_in(shop::PEOPLE[1]);
                let mut acknowledged = Vec::new();
                while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                    let note = shop::note(&format!("job {}", hand % 5), shop::PEOPLE[1], &format!("hand {hand}"));
                    let id = note.id;
                    if ledger.offer(&author, vec![note]).await.is_ok_and(|outcome| outcome.taken.len() == 1) {
                        acknowledged.push(id);
                    }
                }
                acknowledged
            })
        })
        .collect();
    for _ in 0..times {
        tokio::time::sleep(Duration::from_millis(200 + dice.below(300))).await;
        tokio::task::block_in_place(|| {
            postgres.down();
            postgres.up();
        });
    }
    tokio::time::sleep(Duration::from_millis(200)).await;
    stop.store(true, std::sync::atomic::Ordering::Relaxed);
    let mut acknowledged = Vec::new();
    for hand in hands {
        acknowledged.extend(hand.await.unwrap());
    }
    let mut report = Report { runs: 1, kills: times, ..Report::default() };
    count(&ledger, &acknowledged, &mut report).await;
    ledger.close().await.unwrap();
    report
}
