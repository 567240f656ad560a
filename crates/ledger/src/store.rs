//! What a store can do: keep rows of entries, chained by job, and give them back. Two of them: SQLite and PostgreSQL.
//!
//! A store knows nothing of what entries mean; which of them may be taken, and whether what comes back is as it was kept, is decided above.

use std::future::Future;
use std::pin::Pin;

use job::chain::Hash;
use job::entry::{Entry, EntryId};
use job::sync::{NotTaken, Taken};

use crate::fault::Fault;

/// What a store answers, when it has it.
pub type Answer<'a, T> = Pin<Box<dyn Future<Output = Result<T, Fault>> + Send + 'a>>;

/// The last entry of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// The job's number; empty for the registers.
    pub job: String,
    /// Number of its last entry.
    pub number: u64,
    /// Hash of its last entry.
    pub hash: Hash,
    /// When that arrived.
    pub arrived: String,
}

/// An entry as it stands in the store.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its number in the job.
    pub number: u64,
    /// Its name.
    pub id: EntryId,
    /// When it arrived.
    pub arrived: String,
    /// Who brought it.
    pub by: String,
    /// Its canonical form.
    pub body: String,
    /// Its hash, as written.
    pub hash: Vec<u8>,
}

/// Entries to be appended, checked by the floor above.
#[derive(Clone, Debug)]
pub struct Offer {
    /// The shop.
    pub shop: String,
    /// When they arrived.
    pub arrived: String,
    /// Who brought them.
    pub by: String,
    /// The entries with their canonical forms.
    pub entries: Vec<(Entry, String)>,
}

/// What a server keeps that is no entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Aside {
    /// What it is: "account", "session", "link" ..
    pub kind: String,
    /// Its name among its kind.
    pub name: String,
    /// What is kept, as JSON or any other text.
    pub value: String,
    /// Until when, seconds since 1970 by the server's clock; `i64::MAX` for good. The ledger only stores it.
    pub until_s: i64,
}

/// Where entries are kept.
pub trait Store: Send + Sync + std::fmt::Debug {
    /// Appends what is not there yet; each entry's outcome in the order of the offer. Acknowledged only when it is on disk.
    fn append(&self, offer: Offer) -> Answer<'_, Vec<Result<Taken, NotTaken>>>;
    /// Puts rows of one job behind its entry `after` of hash `before`, with the numbers, arrivals and hashes that they have.
    /// False, and nothing is written, when that is not the end of the job.
    fn place(&self, shop: &str, job: &str, after: u64, before: Hash, rows: Vec<Row>) -> Answer<'_, bool>;
    /// The heads of jobs from `from` on, at most `most`, in the order of their numbers, byte by byte.
    fn heads<'a>(&'a self, shop: &'a str, from: &'a str, most: usize) -> Answer<'a, Vec<Head>>;
    /// The heads of the jobs that were written to last, at most `most`, the newest first, without the registers.
    fn newest<'a>(&'a self, shop: &'a str, most: usize) -> Answer<'a, Vec<Head>>;
    /// The head of a job.
    fn head<'a>(&'a self, shop: &'a str, job: &'a str) -> Answer<'a, Option<Head>>;
    /// Rows of a job behind the number `after`, at most `most`, in order.
    fn rows<'a>(&'a self, shop: &'a str, job: &'a str, after: u64, most: usize) -> Answer<'a, Vec<Row>>;
    /// Where an entry stands: its job and number.
    fn find<'a>(&'a self, shop: &'a str, id: EntryId) -> Answer<'a, Option<(String, u64)>>;
    /// The shops that have anything here.
    fn shops(&self) -> Answer<'_, Vec<String>>;
    /// Jobs of a shop that have rows but no head, or a head whose last row is not there.
    fn loose<'a>(&'a self, shop: &'a str) -> Answer<'a, Vec<String>>;
    /// What the engine itself finds wrong with its files; empty when nothing.
    fn sound(&self) -> Answer<'_, Vec<String>>;
    /// Keeps something that is no entry; `over` an older one of its name, or only when there is none. Whether it was kept.
    fn put(&self, shop: &str, aside: Aside, over: bool) -> Answer<'_, bool>;
    /// Those of a kind, by name; with a name that one alone.
    fn asides<'a>(&'a self, shop: &'a str, kind: &'a str, name: Option<&'a str>) -> Answer<'a, Vec<Aside>>;
    /// The kinds that a shop has.
    fn kinds<'a>(&'a self, shop: &'a str) -> Answer<'a, Vec<String>>;
    /// How many were kept for a shop, by their checksum, but stand under another.
    fn stray<'a>(&'a self, shop: &'a str) -> Answer<'a, usize>;
    /// Drops one. Whether it was there.
    fn drop_aside(&self, shop: &str, kind: &str, name: &str) -> Answer<'_, bool>;
    /// Ends the writing and closes.
    fn close(&self) -> Answer<'_, ()>;
}
