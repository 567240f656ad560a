//! A byte of the ledger's file turned: it is refused, or named by `verify`, or nothing that anybody reads has changed.

use job::kept::Kept;
use ledger::{Aside, Author, Fault, Ledger, Place};

use crate::dice::Dice;
use crate::shop;
use crate::writing::{Folder, in_file, options};

/// What became of the turned bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Report {
    /// Bytes that were turned, one at a time.
    pub flips: u64,
    /// The file was refused when it was opened or gone through.
    pub refused: u64,
    /// `verify` named an entry.
    pub named: u64,
    /// `verify` said that the engine's own check or a checksum does not hold.
    pub damaged: u64,
    /// Nothing that is read has changed: free room, or a note of the engine to itself.
    pub harmless: u64,
}

impl std::fmt::Display for Report {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { flips, refused, named, damaged, harmless } = self;
        write!(
            f,
            "{flips} bytes turned: {refused} refused, {named} named, {damaged} found damaged, {harmless} without effect, silently wrong 0"
        )
    }
}

/// All that is read of a ledger.
type Content = (Vec<Vec<Kept>>, Vec<Aside>);

async fn content(ledger: &Ledger) -> Result<Content, Fault> {
    let mut jobs = Vec::new();
    for head in ledger.heads("", 1000).await? {
        jobs.push(ledger.job(&head.job).await?.map(|job| job.kept).unwrap_or_default());
    }
    Ok((jobs, ledger.asides("account").await?))
}

/// Makes a ledger and turns `flips` bytes of its file at random, one at a time.
pub async fn flip(flips: u64, dice: &mut Dice) -> Report {
    let folder = Folder::new();
    let (whole, turned) = (folder.file("whole.ledger"), folder.file("turned.ledger"));
    let ledger = in_file(&whole, "shop").await;
    let author = Author::at_the_machine(shop::PEOPLE[0]);
    for number in 0..5 {
        ledger.offer(&author, shop::job(&format!("2026-{number}"), 40, dice)).await.unwrap();
    }
    let cards = shop::gauge("bore gauge", "2026-09-01").map(|card| shop::card(shop::PEOPLE[0], card));
    ledger.offer(&author, cards.to_vec()).await.unwrap();
    let account = Aside { kind: "account".into(), name: "A. Turner".into(), value: "a hash".into(), until_s: i64::MAX };
    ledger.put(account).await.unwrap();
    let before = content(&ledger).await.unwrap();
    ledger.close().await.unwrap();
    let bytes = std::fs::read(&whole).unwrap();
    let mut report = Report::default();
    for _ in 0..flips {
        let (at, bit) = (dice.index(bytes.len()), dice.below(8));
        let mut other = bytes.clone();
        other[at] ^= 1 << bit;
        std::fs::write(&turned, &other).unwrap();
        for end in ["-wal", "-shm"] {
            drop(std::fs::remove_file(folder.file(&format!("turned.ledger{end}"))));
        }
        report.flips += 1;
        judge(&turned, &before, &format!("bit {bit} of byte {at}"), &mut report).await;
    }
    report
}

async fn judge(turned: &std::path::Path, before: &Content, place: &str, report: &mut Report) {
    let opened = Ledger::open(&Place::File(turned.to_owned()), ledger::Options { create: false, ..options("shop") }).await;
    let Ok(ledger) = opened else {
        report.refused += 1;
        return;
    };
    let verified = ledger.verify(&mut |_| {}).await;
    for kept in &before.0 {
        let number = &kept[0].entry.job;
        match ledger.job(number).await {
            Ok(Some(job)) => assert_eq!(&job.kept, kept, "{place}: silently wrong"),
            Ok(None) => {
                assert!(verified.as_ref().is_ok_and(|verified| !verified.faults.is_empty()), "{place}: {number:?} is gone silently")
            }
            Err(_) => {}
        }
    }
    let read = content(&ledger).await;
    match (verified, read) {
        (Err(_), _) => report.refused += 1,
        (Ok(verified), read) => {
            let named = verified.faults.iter().any(|fault| matches!(fault, Fault::Altered(_)));
            match (verified.faults.is_empty(), read) {
                (true, Ok(after)) => {
                    assert_eq!(&after, before, "{place}: silently wrong");
                    report.harmless += 1;
                }
                (true, Err(fault)) => panic!("{place}: verify finds nothing, but reading says {fault}"),
                (false, _) if named => report.named += 1,
                (false, _) => report.damaged += 1,
            }
        }
    }
    ledger.close().await.unwrap();
}
