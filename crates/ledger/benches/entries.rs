//! Durable entries a second from 64 clients in batches of one, beside the bare store in the same run; and what opening a job costs among
//! many jobs. `cargo bench -p ledger`; the figures stand in `bench/ledger.md`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs, reason = "a bench stops at the first surprise")]

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use faults::dice::Dice;
use faults::postgres::{Keeps, Postgres};
use faults::shop;
use faults::writing::{Folder, options, wait_for};
use job::chain::canonical;
use job::entry::Entry;
use ledger::{Author, Ledger, Place};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use sqlx::{Connection, Executor};
use tokio::sync::{mpsc, oneshot};

const CLIENTS: u64 = 64;
/// How long each side writes.
const RUN: Duration = Duration::from_secs(4);
/// Rounds, the sides in turn, so that a slow minute of the machine meets all of them.
const ROUNDS: usize = 3;

fn main() {
    // `cargo test --benches` only sees that it builds.
    if std::env::args().any(|argument| argument == "--test") {
        return;
    }
    if !std::env::args().any(|argument| argument == "opening") {
        writing();
    }
    println!("opening a job of 2000 entries, ms, least and middle of 40: read, every hash checked; and folded too");
    for jobs in [1_000, 10_000, 100_000] {
        wait_for(opening(jobs));
    }
}

fn writing() {
    let postgres = Postgres::start(Keeps::OnDisk);
    println!("durable entries a second, {CLIENTS} clients, batches of one, {ROUNDS} rounds of {} s", RUN.as_secs());
    let mut ratios = [Vec::new(), Vec::new()];
    for round in 0..ROUNDS {
        let folder = Folder::new();
        let bare = wait_for(bare_sqlite(&folder.file("bare.db")));
        let ours = wait_for(through(Place::File(folder.file("ours.ledger")), &format!("round {round}")));
        println!("  SQLite      bare {bare:>8.0}   ledger {ours:>8.0}   {:.2}", ours / bare);
        ratios[0].push(ours / bare);
        let bare = wait_for(bare_postgres(&postgres.url()));
        let ours = wait_for(through(Place::of(&postgres.url()), &format!("round {round}")));
        println!("  PostgreSQL  bare {bare:>8.0}   ledger {ours:>8.0}   {:.2}", ours / bare);
        ratios[1].push(ours / bare);
    }
    for (name, ratios) in ["SQLite", "PostgreSQL"].iter().zip(&mut ratios) {
        ratios.sort_by(f64::total_cmp);
        println!("  {name}: middle of the rounds {:.2} of the bare store", ratios[ratios.len() / 2]);
    }
}

fn entry(client: u64, n: u64) -> Entry {
    shop::note(&format!("2026-{client}"), shop::PEOPLE[0], &format!("note {n} at the bench, with some words to it as they are written"))
}

/// A place that entries are written to.
#[derive(Clone)]
enum Side {
    Ledger(Ledger),
    Sqlite(mpsc::Sender<(Entry, u64, oneshot::Sender<()>)>),
    Postgres(sqlx::PgPool),
}

impl Side {
    /// Keeps an entry; back when it is on disk.
    async fn keep(&self, entry: Entry, n: u64) {
        match self {
            Self::Ledger(ledger) => {
                let done = ledger.offer(&Author::at_the_machine(shop::PEOPLE[0]), vec![entry]).await.unwrap();
                assert_eq!(done.taken.len(), 1);
            }
            Self::Sqlite(door) => {
                let (answer, answered) = oneshot::channel();
                door.send((entry, n, answer)).await.unwrap();
                answered.await.unwrap();
            }
            Self::Postgres(pool) => {
                let query =
                    sqlx::query("insert into bare (shop, job, number, id, arrived, by_whom, body) values ($1, $2, $3, $4, $5, $6, $7)");
                let query = query.bind("shop").bind(&entry.job).bind(i64::try_from(n).unwrap()).bind(entry.id.0).bind(&entry.when);
                query.bind(&entry.who).bind(canonical(&entry)).execute(pool).await.unwrap();
            }
        }
    }
}

/// Lets all clients write; entries a second.
async fn clients(side: Side) -> f64 {
    let done = Arc::new(AtomicU64::new(0));
    let start = Instant::now();
    let hands: Vec<_> = (0..CLIENTS)
        .map(|client| {
            let (side, done) = (side.clone(), done.clone());
            tokio::spawn(async move {
                for n in 1.. {
                    side.keep(entry(client, n), n).await;
                    done.fetch_add(1, Ordering::Relaxed);
                    if start.elapsed() > RUN {
                        return;
                    }
                }
            })
        })
        .collect();
    for hand in hands {
        hand.await.unwrap();
    }
    done.load(Ordering::Relaxed) as f64 / start.elapsed().as_secs_f64()
}

async fn through(place: Place, shop_name: &str) -> f64 {
    let ledger = Ledger::open(&place, options(shop_name)).await.unwrap();
    let rate = clients(Side::Ledger(ledger.clone())).await;
    ledger.close().await.unwrap();
    rate
}

/// The table of entries alone, without hashes, heads or a look for what is there: rows of all who wait in one statement, one commit.
async fn bare_sqlite(place: &std::path::Path) -> f64 {
    let options = SqliteConnectOptions::new().filename(place).create_if_missing(true);
    let options = options.journal_mode(SqliteJournalMode::Wal).synchronous(SqliteSynchronous::Full);
    let mut connection = SqliteConnection::connect_with(&options).await.unwrap();
    let table = "create table bare (shop text, job text, number integer, id blob, arrived text, by_whom text, body text,
                 primary key (shop, job, number)) strict, without rowid;
                 create unique index bare_by_id on bare (shop, id)";
    connection.execute(table).await.unwrap();
    let (door, mut queue) = mpsc::channel::<(Entry, u64, oneshot::Sender<()>)>(4096);
    let writer = tokio::spawn(async move {
        while let Some(first) = queue.recv().await {
            let mut group = vec![first];
            while let Ok(next) = queue.try_recv() {
                group.push(next);
            }
            let rows: Vec<_> = group
                .iter()
                .map(|(entry, n, _)| {
                    serde_json::json!([entry.job, n, entry.id.0.simple().to_string(), entry.when, entry.who, canonical(entry)])
                })
                .collect();
            connection.execute("begin immediate").await.unwrap();
            let query = sqlx::query(
                "insert into bare select ?1, value ->> 0, value ->> 1, unhex(value ->> 2), value ->> 3, value ->> 4, value ->> 5 from json_each(?2)",
            );
            query.bind("shop").bind(serde_json::json!(rows).to_string()).execute(&mut connection).await.unwrap();
            connection.execute("commit").await.unwrap();
            for (_, _, answer) in group {
                answer.send(()).unwrap();
            }
        }
    });
    let rate = clients(Side::Sqlite(door)).await;
    writer.await.unwrap();
    rate
}

/// One insert a client and commit, each client on a connection of its own, as pgbench would.
async fn bare_postgres(url: &str) -> f64 {
    let connections = u32::try_from(CLIENTS).unwrap();
    let pool = sqlx::postgres::PgPoolOptions::new().max_connections(connections).min_connections(connections);
    let pool = pool.test_before_acquire(false).connect(url).await.unwrap();
    pool.execute("drop table if exists bare").await.unwrap();
    let table =
        "create table bare (shop text collate \"C\", job text collate \"C\", number bigint, id uuid, arrived text, by_whom text, body text,
                 primary key (shop, job, number))";
    pool.execute(table).await.unwrap();
    pool.execute("create unique index bare_by_id on bare (shop, id)").await.unwrap();
    let rate = clients(Side::Postgres(pool.clone())).await;
    pool.close().await;
    rate
}

/// What a job of 2000 entries costs to open among `jobs` jobs of some entries each.
async fn opening(jobs: usize) {
    let folder = Folder::new();
    let ledger = faults::writing::in_file(&folder.file("many.ledger"), "shop").await;
    let author = Author::at_the_machine(shop::PEOPLE[0]);
    let mut dice = Dice::new(jobs as u64);
    let large = shop::job("2026-000500", 2000, &mut dice);
    // The large job grows while the others come in, so that its entries don't lie side by side by chance.
    let mut parts = large.chunks(20);
    let all: Vec<usize> = (0..jobs).collect();
    for group in all.chunks(jobs / 100) {
        ledger.offer(&author, parts.next().unwrap_or_default().to_vec()).await.unwrap();
        let mut entries = Vec::new();
        for number in group {
            entries.extend(shop::job(&format!("2025-{number:06}"), 4, &mut dice));
        }
        ledger.offer(&author, entries).await.unwrap();
    }
    let mut reading = Vec::new();
    let mut with_fold = Vec::new();
    for _ in 0..40 {
        let start = Instant::now();
        let job = ledger.job("2026-000500").await.unwrap().unwrap();
        reading.push(start.elapsed().as_secs_f64() * 1e3);
        assert_eq!(job.kept.len(), 2000);
        let state = job::fold(&job.into_entries());
        with_fold.push(start.elapsed().as_secs_f64() * 1e3);
        assert_eq!(state.seats.len(), 1);
    }
    reading.sort_by(f64::total_cmp);
    with_fold.sort_by(f64::total_cmp);
    let (read, folded) = (&reading, &with_fold);
    println!("  among {jobs:>6} jobs: {:>6.1} {:>6.1}   {:>6.1} {:>6.1}", read[0], read[20], folded[0], folded[20]);
    ledger.close().await.unwrap();
}
