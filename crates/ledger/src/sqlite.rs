//! The store of one shop: a SQLite file in WAL mode, synchronous FULL.
//!
//! One connection writes, in transactions of a group ([`crate::writer`]); some read, never waiting for the writer. A second program may have
//! the file open too (the command line beside the server): SQLite's own locks keep them apart.
//! Texts and blobs are handed to a statement as one JSON array, so that a group of any size is four statements.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;

use job::chain::{Hash, hex};
use job::entry::EntryId;
use serde_json::json;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection, Executor, Row as _};
use tokio::task::JoinHandle;
use uuid::Uuid;

use crate::fault::Fault;
use crate::plan::{Known, Plan, plan};
use crate::room;
use crate::store::{Answer, Aside, Head, Offer, Row, Store};
use crate::tables::{SQLITE, migrator};
use crate::writer::{Done, Pen, Work, Writer};
use crate::{aside_sum, whole_aside};

/// "BUSH": says in the header of the file that it is a ledger.
const APPLICATION: i32 = 0x4255_5348;
/// How long a second program's transaction is waited for.
const PATIENCE: Duration = Duration::from_secs(10);
/// Rows that a connection reads ahead: a job is read without a change of threads for every few rows.
const AHEAD: usize = 4096;
/// Connections that read.
const READERS: u32 = 4;

/// A ledger in a file.
#[derive(Debug)]
pub struct SqliteStore {
    readers: SqlitePool,
    writer: Mutex<Option<std::sync::Arc<Writer>>>,
    task: Mutex<Option<JoinHandle<()>>>,
}

fn options(place: &Path, create: bool) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(place)
        .create_if_missing(create)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(PATIENCE)
        // Where the system has a stronger way to reach the disk itself, it is used.
        .pragma("fullfsync", "on")
        .pragma("checkpoint_fullfsync", "on")
}

impl SqliteStore {
    /// Opens the file at `place`; with `create` it is made when it is not there. Writing is refused while less than `spare` bytes of
    /// the disk are free.
    pub async fn open(place: &Path, create: bool, spare: u64) -> Result<Self, Fault> {
        let shown = place.display();
        if !create && !place.exists() {
            return Err(Fault::Refused(format!(
                "{shown} is not there; allowed: a ledger's file; start one with bushwright job import, or name the right one"
            )));
        }
        ours(place)?;
        if room::free(place).is_some_and(|free| free < spare) && !place.exists() {
            return Err(Fault::full());
        }
        let mut connection = SqliteConnection::connect_with(&options(place, create)).await.map_err(|fault| opening(place, fault))?;
        prepare(&mut connection).await.map_err(|fault| named(place, fault))?;
        let reading = options(place, false).row_buffer_size(AHEAD).pragma("query_only", "on");
        let readers =
            SqlitePoolOptions::new().max_connections(READERS).connect_with(reading).await.map_err(|fault| opening(place, fault))?;
        let pen = SqlitePen { place: place.to_owned(), connection: Some(connection), spare, heads: HashMap::new() };
        let (writer, task) = Writer::start(pen);
        Ok(Self { readers, writer: Mutex::new(Some(writer.into())), task: Mutex::new(Some(task)) })
    }

    async fn write(&self, work: Work) -> Result<Done, Fault> {
        let writer = self.writer.lock().ok().and_then(|writer| writer.clone());
        let writer = writer.ok_or_else(|| Fault::Away("the ledger is closed: nothing was written".into()))?;
        writer.write(work).await
    }
}

/// A file that is there must be a ledger: nobody's other database is to be changed.
fn ours(place: &Path) -> Result<(), Fault> {
    use std::io::Read;
    let mut header = Vec::new();
    match std::fs::File::open(place) {
        Ok(file) => file.take(100).read_to_end(&mut header)?,
        Err(fault) if fault.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(fault) => {
            return Err(Fault::Refused(format!(
                "{} can't be opened ({fault}); allowed: a ledger's file; mend its rights",
                place.display()
            )));
        }
    };
    // Source: the SQLite file format, 1.3: the first 16 bytes, and the application's name in bytes 68 to 71.
    let sqlite = header.is_empty() || header.starts_with(b"SQLite format 3\0");
    let application = header.get(68..72).is_none_or(|bytes| bytes == APPLICATION.to_be_bytes() || bytes == [0; 4]);
    if sqlite && application {
        return Ok(());
    }
    Err(Fault::Damaged(format!(
        "{} is no ledger: its first bytes are those of another file; nothing was changed; name the right file, or restore a backup",
        place.display()
    )))
}

async fn prepare(connection: &mut SqliteConnection) -> Result<(), Fault> {
    let application: i32 = sqlx::query_scalar("pragma application_id").fetch_one(&mut *connection).await.map_err(fault)?;
    if application != APPLICATION {
        let tables: i64 = sqlx::query_scalar("select count(*) from sqlite_schema").fetch_one(&mut *connection).await.map_err(fault)?;
        if tables != 0 {
            return Err(Fault::Damaged("the file is a database of something else: nothing was changed; name the right file".into()));
        }
        connection.execute("pragma application_id = 1112888136").await.map_err(fault)?;
    }
    migrator(SQLITE).run(&mut *connection).await.map_err(migrating)
}

/// What a failed migration means.
pub(crate) fn migrating(fault_of: sqlx::migrate::MigrateError) -> Fault {
    use sqlx::migrate::MigrateError;
    match fault_of {
        MigrateError::VersionMissing(_) | MigrateError::VersionTooNew(..) => Fault::Refused(
            "the ledger was written by a newer release; allowed: that release or a newer one; bring this program up to date".into(),
        ),
        MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _) => fault(error),
        other => Fault::Failed(format!("the ledger's tables could not be made: {other}; nothing was lost")),
    }
}

fn named(place: &Path, fault: Fault) -> Fault {
    let at = |sentence: String| format!("{}: {sentence}", place.display());
    match fault {
        Fault::Damaged(sentence) => Fault::Damaged(at(sentence)),
        Fault::Failed(sentence) => Fault::Failed(at(sentence)),
        Fault::Refused(sentence) => Fault::Refused(at(sentence)),
        other => other,
    }
}

fn opening(place: &Path, error: sqlx::Error) -> Fault {
    let code = error.as_database_error().and_then(|error| error.code()).map(|code| code.into_owned());
    match code.as_deref() {
        Some("14") => Fault::Refused(format!(
            "{} can't be opened or made; allowed: a file in a folder that can be written; see that the folder is there",
            place.display()
        )),
        _ => named(place, fault(error)),
    }
}

/// What an error of SQLite or PostgreSQL means.
pub(crate) fn fault(error: sqlx::Error) -> Fault {
    let code = error.as_database_error().and_then(|error| error.code()).map(|code| code.into_owned()).unwrap_or_default();
    // The low byte of an extended result code is its family. Source: SQLite, result and error codes.
    match code.parse::<u32>().map(|code| code & 0xff) {
        Ok(13) => Fault::full(),
        Ok(5 | 6) => Fault::Away("another program is writing to the ledger: nothing was written; send it again".into()),
        Ok(8) => Fault::Refused("the ledger's file can only be read here: nothing was written; mend its rights".into()),
        Ok(11 | 26) => damaged(&error),
        _ => match error {
            sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_) => damaged(&error),
            _ => Fault::Failed(format!(
                "the ledger could not be read or written ({error}): what was acknowledged stands; look after the disk, then do it again"
            )),
        },
    }
}

fn damaged(why: &dyn std::fmt::Display) -> Fault {
    Fault::Damaged(format!("the ledger's file is damaged ({why}): what was read is not used; keep it aside and restore a backup"))
}

/// Writes groups.
struct SqlitePen {
    place: PathBuf,
    connection: Option<SqliteConnection>,
    spare: u64,
    heads: Ends,
}

/// The ends of jobs as this writer left them, by shop and job. A second program may have gone on since: then the number is taken, and it is
/// looked up.
type Ends = HashMap<(String, String), Head>;

/// Most ends of jobs that are remembered.
const MOST_ENDS: usize = 50_000;

impl Pen for SqlitePen {
    async fn write(&mut self, group: &[Work]) -> Result<Vec<Done>, Fault> {
        if room::free(&self.place).is_some_and(|free| free < self.spare) {
            return Err(Fault::full());
        }
        let mut connection = match self.connection.take() {
            Some(connection) => connection,
            None => SqliteConnection::connect_with(&options(&self.place, false)).await.map_err(|fault| opening(&self.place, fault))?,
        };
        if self.heads.len() > MOST_ENDS {
            self.heads.clear();
        }
        match transaction(&mut connection, group, &mut self.heads).await {
            Ok(done) => {
                self.connection = Some(connection);
                Ok(done)
            }
            Err(fault) => {
                // A connection that a transaction failed on is not trusted with the next; closing it undoes what was begun.
                self.heads.clear();
                drop(connection.close_hard().await);
                Err(fault)
            }
        }
    }

    async fn close(mut self) {
        if let Some(connection) = self.connection.take() {
            // All that was acknowledged is on disk; what can't be tidied now is tidied at the next start.
            drop(connection.close().await);
        }
    }
}

async fn transaction(connection: &mut SqliteConnection, group: &[Work], ends: &mut Ends) -> Result<Vec<Done>, Fault> {
    connection.execute("begin immediate").await.map_err(fault)?;
    let mut appended = append(connection, group, ends).await?;
    let mut done = Vec::with_capacity(group.len());
    for (i, work) in group.iter().enumerate() {
        done.push(match work {
            Work::Append(_) => Done::Appended(appended.remove(&i).unwrap_or_default()),
            Work::Place { shop, job, after, before, rows } => {
                ends.remove(&(shop.clone(), job.clone()));
                Done::Was(place(connection, shop, job, (*after, before), rows).await?)
            }
            Work::Put { shop, aside, over } => Done::Was(put(connection, shop, aside, *over).await?),
            Work::Drop { shop, kind, name } => {
                let drop = sqlx::query("delete from asides where shop = ?1 and kind = ?2 and name = ?3").bind(shop).bind(kind).bind(name);
                Done::Was(drop.execute(&mut *connection).await.map_err(fault)?.rows_affected() > 0)
            }
        });
    }
    connection.execute("commit").await.map_err(fault)?;
    Ok(done)
}

type Outcomes = BTreeMap<usize, Vec<Result<job::sync::Taken, job::sync::NotTaken>>>;

/// Appends all offers of the group; the outcomes by their places in the group.
async fn append(connection: &mut SqliteConnection, group: &[Work], ends: &mut Ends) -> Result<Outcomes, Fault> {
    let mut by_shop: BTreeMap<&str, Vec<(usize, &Offer)>> = BTreeMap::new();
    for (i, work) in group.iter().enumerate() {
        if let Work::Append(offer) = work {
            by_shop.entry(&offer.shop).or_default().push((i, offer));
        }
    }
    let mut outcomes = Outcomes::new();
    for (shop, offers) in by_shop {
        let (places, offers): (Vec<usize>, Vec<&Offer>) = offers.into_iter().unzip();
        let plan = of_shop(connection, shop, &offers, ends).await?;
        outcomes.extend(places.into_iter().zip(plan.outcomes));
    }
    Ok(outcomes)
}

/// Appends the offers of one shop. Mostly nothing of it is there and nobody else writes: so it is tried as if, and only where a key
/// says otherwise it is looked up.
async fn of_shop(connection: &mut SqliteConnection, shop: &str, offers: &[&Offer], ends: &mut Ends) -> Result<Plan, Fault> {
    let mut jobs: Vec<&str> = offers.iter().flat_map(|offer| &offer.entries).map(|(entry, _)| entry.job.as_str()).collect();
    jobs.sort_unstable();
    jobs.dedup();
    let key = |job: &str| (shop.to_owned(), job.to_owned());
    let (at_hand, asked): (Vec<&str>, Vec<&str>) = jobs.iter().partition(|job| ends.contains_key(&key(job)));
    let mut heads = heads_of(connection, shop, &asked).await?;
    heads.extend(at_hand.iter().filter_map(|job| Some(((*job).to_owned(), ends.get(&key(job))?.clone()))));
    let mut planned = plan(offers, HashMap::new(), heads);
    match insert(connection, shop, &planned.listed(), &planned.heads).await {
        Ok(()) => {}
        Err(error) if error.as_database_error().is_some_and(|error| error.is_unique_violation()) => {
            let known = known(connection, shop, offers).await?;
            planned = plan(offers, known, heads_of(connection, shop, &jobs).await?);
            insert(connection, shop, &planned.listed(), &planned.heads).await.map_err(fault)?;
            jobs.iter().for_each(|job| drop(ends.remove(&key(job))));
        }
        Err(error) => return Err(fault(error)),
    }
    ends.extend(planned.heads.iter().map(|head| (key(&head.job), head.clone())));
    Ok(planned)
}

async fn known(connection: &mut SqliteConnection, shop: &str, offers: &[&Offer]) -> Result<HashMap<EntryId, Known>, Fault> {
    let ids: Vec<String> = offers.iter().flat_map(|offer| &offer.entries).map(|(entry, _)| entry.id.0.simple().to_string()).collect();
    let query = sqlx::query(
        "select id, job, number, body from entries indexed by entries_by_id where shop = ?1 and id in (select unhex(value) from json_each(?2))",
    );
    let rows = query.bind(shop).bind(json!(ids).to_string()).fetch_all(connection).await.map_err(fault)?;
    rows.iter()
        .map(|row| {
            let known = Known { job: row.try_get(1)?, number: number(row.try_get(2)?), body: row.try_get(3)? };
            Ok((EntryId(row.try_get::<Uuid, _>(0)?), known))
        })
        .collect::<Result<_, _>>()
        .map_err(fault)
}

async fn heads_of(connection: &mut SqliteConnection, shop: &str, jobs: &[&str]) -> Result<HashMap<String, Head>, Fault> {
    if jobs.is_empty() {
        return Ok(HashMap::new());
    }
    let query = sqlx::query("select job, number, hash, arrived from heads where shop = ?1 and job in (select value from json_each(?2))");
    let rows = query.bind(shop).bind(json!(jobs).to_string()).fetch_all(connection).await.map_err(fault)?;
    let heads: HashMap<String, Head> =
        rows.iter().map(|row| head_of(row).map(|head| (head.job.clone(), head))).collect::<Result<_, _>>()?;
    heads.keys().try_for_each(|job| found(jobs.contains(&job.as_str()), job))?;
    Ok(heads)
}

async fn insert(connection: &mut SqliteConnection, shop: &str, rows: &[(&str, &Row)], heads: &[Head]) -> Result<(), sqlx::Error> {
    if rows.is_empty() {
        return Ok(());
    }
    let listed: Vec<_> = rows
        .iter()
        .map(|(job, row)| {
            let hash: String = row.hash.iter().map(|byte| format!("{byte:02x}")).collect();
            json!([job, row.number, row.id.0.simple().to_string(), row.arrived, row.by, row.body, hash])
        })
        .collect();
    let query = sqlx::query(
        "insert into entries (shop, job, number, id, arrived, by_whom, body, hash)
         select ?1, value ->> 0, value ->> 1, unhex(value ->> 2), value ->> 3, value ->> 4, value ->> 5, unhex(value ->> 6)
         from json_each(?2)",
    );
    query.bind(shop).bind(json!(listed).to_string()).execute(&mut *connection).await?;
    let listed: Vec<_> = heads.iter().map(|head| json!([head.job, head.number, hex(&head.hash), head.arrived])).collect();
    let query = sqlx::query(
        "insert into heads (shop, job, number, hash, arrived)
         select ?1, value ->> 0, value ->> 1, unhex(value ->> 2), value ->> 3 from json_each(?2) where true
         on conflict (shop, job) do update set number = excluded.number, hash = excluded.hash, arrived = excluded.arrived",
    );
    query.bind(shop).bind(json!(listed).to_string()).execute(connection).await?;
    Ok(())
}

async fn place(connection: &mut SqliteConnection, shop: &str, job: &str, end: (u64, &Hash), rows: &[Row]) -> Result<bool, Fault> {
    let there = head(&mut *connection, shop, job).await?.map_or((0, job::chain::START), |head| (head.number, head.hash));
    let Some(last) = rows.last() else { return Ok(there == (end.0, *end.1)) };
    if there != (end.0, *end.1) {
        return Ok(false);
    }
    let hash = Hash::try_from(last.hash.as_slice()).map_err(|_| Fault::Refused("a hash that is not of 32 bytes".into()))?;
    let head = Head { job: job.to_owned(), number: last.number, hash, arrived: last.arrived.clone() };
    let rows: Vec<(&str, &Row)> = rows.iter().map(|row| (job, row)).collect();
    insert(connection, shop, &rows, &[head]).await.map_err(fault)?;
    Ok(true)
}

async fn put(connection: &mut SqliteConnection, shop: &str, aside: &Aside, over: bool) -> Result<bool, Fault> {
    let text = if over {
        "insert into asides (shop, kind, name, value, until_s, sum) values (?1, ?2, ?3, ?4, ?5, ?6)
         on conflict (shop, kind, name) do update set value = excluded.value, until_s = excluded.until_s, sum = excluded.sum"
    } else {
        "insert into asides (shop, kind, name, value, until_s, sum) values (?1, ?2, ?3, ?4, ?5, ?6) on conflict (shop, kind, name) do nothing"
    };
    let query = sqlx::query(text).bind(shop).bind(&aside.kind).bind(&aside.name).bind(&aside.value).bind(aside.until_s);
    let done = query.bind(aside_sum(shop, aside).to_vec()).execute(connection).await.map_err(fault)?;
    Ok(done.rows_affected() > 0)
}

async fn head<'e>(connection: impl Executor<'e, Database = sqlx::Sqlite>, shop: &str, job: &str) -> Result<Option<Head>, Fault> {
    let query = sqlx::query("select job, number, hash, arrived, shop from heads where shop = ?1 and job = ?2").bind(shop).bind(job);
    let Some(row) = query.fetch_optional(connection).await.map_err(fault)? else { return Ok(None) };
    let head = head_of(&row)?;
    found(head.job == job && row.try_get::<String, _>(4).map_err(fault)? == shop, job)?;
    Ok(Some(head))
}

/// SQLite finds a row by its place among the keys and does not look at the key again: where a byte of one is turned, another row may stand
/// in the place of what was looked for.
fn found(is_it: bool, looked_for: &str) -> Result<(), Fault> {
    if is_it { Ok(()) } else { Err(damaged(&format_args!("another row stands where {looked_for:?} is looked for"))) }
}

fn head_of(row: &sqlx::sqlite::SqliteRow) -> Result<Head, Fault> {
    let hash: Vec<u8> = row.try_get(2).map_err(fault)?;
    let hash = Hash::try_from(hash).map_err(|_| Fault::Damaged("a hash in the ledger has not 32 bytes: restore a backup".into()))?;
    Ok(Head {
        job: row.try_get(0).map_err(fault)?,
        number: number(row.try_get(1).map_err(fault)?),
        hash,
        arrived: row.try_get(3).map_err(fault)?,
    })
}

/// Numbers are kept signed and never below 1.
pub(crate) fn number(kept: i64) -> u64 {
    u64::try_from(kept).unwrap_or(0)
}

/// A number or count as the engines take it.
pub(crate) fn signed(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn row_of(row: &sqlx::sqlite::SqliteRow) -> Result<Row, sqlx::Error> {
    Ok(Row {
        number: number(row.try_get(0)?),
        id: EntryId(row.try_get(1)?),
        arrived: row.try_get(2)?,
        by: row.try_get(3)?,
        body: row.try_get(4)?,
        hash: row.try_get(5)?,
    })
}

/// An aside with the checksum that is written beside it.
fn aside_of(row: &sqlx::sqlite::SqliteRow) -> Result<(Aside, Vec<u8>), sqlx::Error> {
    let aside = Aside { kind: row.try_get(0)?, name: row.try_get(1)?, value: row.try_get(2)?, until_s: row.try_get(3)? };
    Ok((aside, row.try_get(4)?))
}

fn was(done: Done) -> bool {
    matches!(done, Done::Was(true))
}

impl Store for SqliteStore {
    fn append(&self, offer: Offer) -> Answer<'_, Vec<Result<job::sync::Taken, job::sync::NotTaken>>> {
        Box::pin(async move {
            match self.write(Work::Append(offer)).await? {
                Done::Appended(outcomes) => Ok(outcomes),
                Done::Was(_) => Ok(Vec::new()),
            }
        })
    }

    fn place(&self, shop: &str, job: &str, after: u64, before: Hash, rows: Vec<Row>) -> Answer<'_, bool> {
        let work = Work::Place { shop: shop.to_owned(), job: job.to_owned(), after, before, rows };
        Box::pin(async move { self.write(work).await.map(was) })
    }

    fn heads<'a>(&'a self, shop: &'a str, from: &'a str, most: usize) -> Answer<'a, Vec<Head>> {
        Box::pin(async move {
            let query = sqlx::query("select job, number, hash, arrived from heads where shop = ?1 and job >= ?2 order by job limit ?3");
            let rows = query.bind(shop).bind(from).bind(signed(most as u64)).fetch_all(&self.readers).await.map_err(fault)?;
            rows.iter().map(head_of).collect()
        })
    }

    fn newest<'a>(&'a self, shop: &'a str, most: usize) -> Answer<'a, Vec<Head>> {
        Box::pin(async move {
            let query = sqlx::query(
                "select job, number, hash, arrived from heads where shop = ?1 and job <> '' order by arrived desc, job desc limit ?2",
            );
            let rows = query.bind(shop).bind(signed(most as u64)).fetch_all(&self.readers).await.map_err(fault)?;
            rows.iter().map(head_of).collect()
        })
    }

    fn head<'a>(&'a self, shop: &'a str, job: &'a str) -> Answer<'a, Option<Head>> {
        Box::pin(head(&self.readers, shop, job))
    }

    fn rows<'a>(&'a self, shop: &'a str, job: &'a str, after: u64, most: usize) -> Answer<'a, Vec<Row>> {
        Box::pin(async move {
            let query = sqlx::query(
                "select number, id, arrived, by_whom, body, hash from entries where shop = ?1 and job = ?2 and number > ?3 order by number limit ?4",
            );
            let query = query.bind(shop).bind(job).bind(signed(after)).bind(signed(most as u64));
            let rows = query.fetch_all(&self.readers).await.map_err(fault)?;
            rows.iter().map(row_of).collect::<Result<_, _>>().map_err(fault)
        })
    }

    fn find<'a>(&'a self, shop: &'a str, id: EntryId) -> Answer<'a, Option<(String, u64)>> {
        Box::pin(async move {
            let query = sqlx::query("select job, number, id from entries where shop = ?1 and id = ?2").bind(shop).bind(id.0);
            let Some(row) = query.fetch_optional(&self.readers).await.map_err(fault)? else { return Ok(None) };
            found(row.try_get::<Uuid, _>(2).map_err(fault)? == id.0, &id.to_string())?;
            Ok(Some((row.try_get(0).map_err(fault)?, number(row.try_get(1).map_err(fault)?))))
        })
    }

    fn shops(&self) -> Answer<'_, Vec<String>> {
        Box::pin(async move {
            let query =
                sqlx::query_scalar("select shop from heads union select shop from asides union select shop from entries order by 1");
            query.fetch_all(&self.readers).await.map_err(fault)
        })
    }

    fn loose<'a>(&'a self, shop: &'a str) -> Answer<'a, Vec<String>> {
        Box::pin(async move {
            let query = sqlx::query_scalar(
                "select distinct job from entries e where shop = ?1
                   and not exists (select 1 from heads h where h.shop = e.shop and h.job = e.job)
                 union
                 select job from heads h where shop = ?1
                   and not exists (select 1 from entries e where e.shop = h.shop and e.job = h.job and e.number = h.number and e.hash = h.hash)
                 order by 1",
            );
            query.bind(shop).fetch_all(&self.readers).await.map_err(fault)
        })
    }

    fn sound(&self) -> Answer<'_, Vec<String>> {
        Box::pin(async move {
            let said: Vec<String> = sqlx::query_scalar("pragma integrity_check").fetch_all(&self.readers).await.map_err(fault)?;
            Ok(said.into_iter().filter(|line| line != "ok").collect())
        })
    }

    fn put(&self, shop: &str, aside: Aside, over: bool) -> Answer<'_, bool> {
        let work = Work::Put { shop: shop.to_owned(), aside, over };
        Box::pin(async move { self.write(work).await.map(was) })
    }

    fn asides<'a>(&'a self, shop: &'a str, kind: &'a str, name: Option<&'a str>) -> Answer<'a, Vec<Aside>> {
        Box::pin(async move {
            let query = sqlx::query(
                "select kind, name, value, until_s, sum from asides where shop = ?1 and kind = ?2 and (?3 is null or name = ?3) order by name",
            );
            let rows = query.bind(shop).bind(kind).bind(name).fetch_all(&self.readers).await.map_err(fault)?;
            let read = |row: &sqlx::sqlite::SqliteRow| {
                let (aside, sum) = aside_of(row).map_err(fault)?;
                found(aside.kind == kind && name.is_none_or(|name| aside.name == name), name.unwrap_or(kind))?;
                whole_aside(shop, aside, &sum)
            };
            rows.iter().map(read).collect()
        })
    }

    fn kinds<'a>(&'a self, shop: &'a str) -> Answer<'a, Vec<String>> {
        Box::pin(async move {
            let query = sqlx::query_scalar("select distinct kind from asides where shop = ?1 order by 1");
            query.bind(shop).fetch_all(&self.readers).await.map_err(fault)
        })
    }

    fn stray<'a>(&'a self, shop: &'a str) -> Answer<'a, usize> {
        Box::pin(async move {
            let query = sqlx::query("select kind, name, value, until_s, sum from asides where shop <> ?1").bind(shop);
            let rows = query.fetch_all(&self.readers).await.map_err(fault)?;
            // What can't be read belongs to somebody else.
            Ok(rows.iter().filter_map(|row| aside_of(row).ok()).filter(|(aside, sum)| aside_sum(shop, aside) == **sum).count())
        })
    }

    fn drop_aside(&self, shop: &str, kind: &str, name: &str) -> Answer<'_, bool> {
        let work = Work::Drop { shop: shop.to_owned(), kind: kind.to_owned(), name: name.to_owned() };
        Box::pin(async move { self.write(work).await.map(was) })
    }

    fn close(&self) -> Answer<'_, ()> {
        Box::pin(async move {
            // The task ends when its door is gone and what waits is written.
            drop(self.writer.lock().map(|mut writer| writer.take()));
            let task = self.task.lock().ok().and_then(|mut task| task.take());
            if let Some(task) = task {
                drop(task.await);
            }
            self.readers.close().await;
            Ok(())
        })
    }
}
