//! Entries on disk: append-only, numbered and hash-chained within each job, in a SQLite file or a PostgreSQL database.
//!
//! What it promises; tests name the promise that they hold (`promise_3_..`):
//!
//! 1. An entry that was acknowledged is on disk: no crash, kill or power cut loses it.
//! 2. Sending an entry again is the same as sending it once, however often and in whatever order.
//! 3. Within a job entries are numbered 1, 2, 3 .. without a gap and chained by hash; whoever changes, drops, adds or moves one is found,
//!    and the first that is not as it was kept is named. Reading a job checks its whole chain: a wrong figure is never given silently.
//! 4. A write is whole or not there: after a full disk, an error of the disk or a kill the store is as before it or as after it.
//! 5. When room runs out, reading goes on and writing is refused in a sentence.
//! 6. Rows of one shop are not seen, counted, guessed at or written from another.
//! 7. The order, clock and author that a client claims are kept as its words; the ledger gives the number, the time of arrival and the
//!    name of whom it knows. A signature is taken only from its signer, or at the machine itself from a file.
//! 8. Moving a record (export and import, backup and restore, one engine to the other) keeps every number, arrival and hash, and checks
//!    them all before the first is written.
//! 9. Jobs don't wait for each other, and opening one costs the same among ten or a hundred thousand.
//!
//! **Never here:** rules of the trade. What entries amount to is `job`'s.

mod aside;
mod carry;
mod fault;
mod offer;
mod plan;
mod postgres;
mod read;
mod room;
mod sqlite;
mod store;
mod sync;
mod tables;
mod turned;
mod writer;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

pub(crate) use aside::{sum as aside_sum, whole as whole_aside};
pub use carry::{Carried, Progress, Step};
pub use fault::Fault;
pub use offer::{Author, Brings, Outcome};
pub use postgres::PostgresStore;
pub use read::{Checked, Verified};
pub use sqlite::SqliteStore;
pub use store::{Aside, Head, Store};
pub use sync::Lacks;
pub use turned::Turned;

/// The shop of a ledger that has one.
pub const ONE_SHOP: &str = "shop";
/// The number of the registers among the jobs.
pub const REGISTERS: &str = "";
/// Bytes of the disk that are left free: a full system disk stops more than the ledger.
pub const SPARE: u64 = 64 * 1024 * 1024;

/// Seconds since 1970, as the ledger's clock has them.
pub type Clock = Arc<dyn Fn() -> i64 + Send + Sync>;

/// How to open a ledger.
#[derive(Clone)]
pub struct Options {
    /// The shop.
    pub shop: String,
    /// Make the file or the tables when they are not there.
    pub create: bool,
    /// Refuse to write while less of the disk is free, bytes. A database server looks after its own disk.
    pub spare: u64,
    /// What the time is.
    pub clock: Clock,
}

impl Default for Options {
    fn default() -> Self {
        Self { shop: ONE_SHOP.into(), create: true, spare: SPARE, clock: Arc::new(system_seconds) }
    }
}

fn system_seconds() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_secs()).unwrap_or_default()
}

/// The record of one shop in a store. Cloning gives a second handle on the same.
#[derive(Clone)]
pub struct Ledger {
    store: Arc<dyn Store>,
    shop: Arc<str>,
    clock: Clock,
}

impl std::fmt::Debug for Ledger {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Ledger").field("store", &self.store).field("shop", &self.shop).finish_non_exhaustive()
    }
}

/// Where a store is: a file, or the URL of a database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A SQLite file.
    File(PathBuf),
    /// A PostgreSQL database.
    Database(String),
}

impl Place {
    /// Reads `postgres://..` or `postgresql://..` as a database, `sqlite:FILE` or anything else as a file.
    pub fn of(text: &str) -> Self {
        if text.starts_with("postgres://") || text.starts_with("postgresql://") {
            return Self::Database(text.to_owned());
        }
        Self::File(PathBuf::from(text.strip_prefix("sqlite://").or_else(|| text.strip_prefix("sqlite:")).unwrap_or(text)))
    }
}

impl Ledger {
    /// Opens the ledger at `place`. Needs a tokio runtime, as everything here.
    pub async fn open(place: &Place, options: Options) -> Result<Self, Fault> {
        let store: Arc<dyn Store> = match place {
            Place::File(file) => Arc::new(SqliteStore::open(Path::new(file), options.create, options.spare).await?),
            Place::Database(url) => Arc::new(PostgresStore::open(url, options.create).await?),
        };
        Self::over(store, &options.shop, options.clock)
    }

    /// The record of `shop` in a store that is open.
    pub fn over(store: Arc<dyn Store>, shop: &str, clock: Clock) -> Result<Self, Fault> {
        offer::short("shop", shop)?;
        Ok(Self { store, shop: shop.into(), clock })
    }

    /// The record of another shop in the same store.
    pub fn of_shop(&self, shop: &str) -> Result<Self, Fault> {
        Self::over(self.store.clone(), shop, self.clock.clone())
    }

    /// The shop.
    pub fn shop(&self) -> &str {
        &self.shop
    }

    /// The ledger's clock: seconds since 1970.
    pub fn now(&self) -> i64 {
        (self.clock)()
    }

    /// The shops of this store.
    pub async fn shops(&self) -> Result<Vec<String>, Fault> {
        self.store.shops().await
    }

    /// Writes what waits and closes, for every handle.
    pub async fn close(&self) -> Result<(), Fault> {
        self.store.close().await
    }
}
