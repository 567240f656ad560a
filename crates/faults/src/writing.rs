//! The program that is killed: writes entries from several hands at once and prints the name of each that was acknowledged.

use std::io::Write;
use std::path::Path;
use std::time::Duration;

use ledger::{Author, Ledger, Options, Place};

use crate::dice::Dice;
use crate::shop;

/// Hands that write at once.
const HANDS: u64 = 8;
/// Jobs that they write to.
const JOBS: u64 = 5;
/// How often an entry that was not taken is sent again.
const TRIES: u32 = 200;

/// Options of a ledger in a test: no spare room asked for.
pub fn options(shop: &str) -> Options {
    Options { shop: shop.into(), spare: 0, ..Options::default() }
}

/// Runs a future to its end.
pub fn wait_for<T>(future: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap().block_on(future)
}

/// A new folder that is gone when this is dropped.
#[derive(Debug)]
pub struct Folder(std::path::PathBuf);

impl Folder {
    /// Makes one.
    pub fn new() -> Self {
        let folder = std::env::temp_dir().join(format!("bushwright-{}", uuid::Uuid::now_v7().simple()));
        std::fs::create_dir(&folder).unwrap();
        Self(folder)
    }

    /// A file in it.
    pub fn file(&self, name: &str) -> std::path::PathBuf {
        self.0.join(name)
    }
}

impl Default for Folder {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// A ledger in a file, for a test.
pub async fn in_file(place: &Path, shop: &str) -> Ledger {
    Ledger::open(&Place::File(place.to_owned()), options(shop)).await.unwrap()
}

/// Writes `count` entries with each hand. An entry that was refused for want of room or by the disk is sent again, as a device would.
pub async fn write(store: &str, shop: &str, seed: u64, count: u64) -> Result<(), ledger::Fault> {
    let ledger = Ledger::open(&Place::of(store), options(shop)).await?;
    let hands: Vec<_> = (0..HANDS).map(|hand| tokio::spawn(one_hand(ledger.clone(), seed.wrapping_mul(HANDS) + hand, count))).collect();
    for hand in hands {
        hand.await.map_err(|fault| ledger::Fault::Failed(fault.to_string()))??;
    }
    ledger.close().await
}

async fn one_hand(ledger: Ledger, seed: u64, count: u64) -> Result<(), ledger::Fault> {
    let mut dice = Dice::new(seed);
    let author = Author::signed_in(shop::PEOPLE[0]);
    for n in 0..count {
        let entry = shop::note(&format!("job {}", dice.below(JOBS)), shop::PEOPLE[0], &format!("hand {seed}, note {n}"));
        let mut tries = 0;
        loop {
            // Now and then the answer gets lost, as it were: the same entry is sent again.
            let copies = if dice.once_in(5) { 2 } else { 1 };
            match ledger.offer(&author, vec![entry.clone(); copies]).await {
                Ok(outcome) => {
                    assert_eq!((outcome.taken.len(), outcome.refused.len()), (copies, 0));
                    let line = format!("{}\n", entry.id);
                    std::io::stdout().lock().write_all(line.as_bytes()).unwrap();
                    break;
                }
                Err(fault) => {
                    tries += 1;
                    eprintln!("{fault}");
                    if tries == TRIES {
                        return Err(fault);
                    }
                    tokio::time::sleep(Duration::from_millis(1)).await;
                }
            }
        }
    }
    Ok(())
}
