//! `cargo proof faults`: runs every kind of trouble and prints what it did; and the writing program that is killed (`faults write ..`).

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a check that can't be set up has failed; none of this is in the product"
)]

use std::time::Instant;

use faults::dice::Dice;
use faults::postgres::{Keeps, Postgres};
use faults::writing::{Folder, options, wait_for, write};
use faults::{devices, disk, flips, kills};
use ledger::{Ledger, Options, Place};

/// How much is done.
struct Effort {
    kills: u64,
    restarts: u64,
    disks: u64,
    step: u64,
    flips: u64,
    simulations: u64,
}

const LONG: Effort = Effort { kills: 500, restarts: 8, disks: 200, step: 1, flips: 4000, simulations: 30 };
const SHORT: Effort = Effort { kills: 24, restarts: 2, disks: 12, step: 17, flips: 250, simulations: 3 };

fn main() -> std::process::ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["write", store, shop, seed, count] => match wait_for(write(store, shop, seed.parse().unwrap(), count.parse().unwrap())) {
            Ok(()) => std::process::ExitCode::SUCCESS,
            Err(fault) => {
                eprintln!("{fault}");
                std::process::ExitCode::FAILURE
            }
        },
        ["run", rest @ ..] => {
            let effort = if rest.contains(&"--short") { SHORT } else { LONG };
            let seed = rest.iter().find_map(|word| word.parse().ok()).unwrap_or_else(Dice::seed);
            wait_for(run(&effort, seed));
            std::process::ExitCode::SUCCESS
        }
        _ => {
            eprintln!("allowed: faults run [--short] [SEED]");
            std::process::ExitCode::from(2)
        }
    }
}

async fn run(effort: &Effort, seed: u64) {
    println!("faults: seed {seed} (the same again: faults run {seed})");
    let mut dice = Dice::new(seed);
    let writer = std::env::current_exe().unwrap();
    let folder = Folder::new();
    let file = folder.file("killed.ledger");

    let start = Instant::now();
    let report = kills::kill(&writer, file.to_str().unwrap(), effort.kills, &mut dice).await;
    said("kill -9, SQLite", start, &report, report.holds());

    let postgres = Postgres::start(Keeps::OnDisk);
    let start = Instant::now();
    let report = kills::kill(&writer, &postgres.url(), effort.kills, &mut dice).await;
    said("kill -9, PostgreSQL", start, &report, report.holds());

    let start = Instant::now();
    let report = kills::restarts(&postgres, effort.restarts, &mut dice).await;
    said("PostgreSQL pulled down under load", start, &report, report.holds());

    let start = Instant::now();
    let report = disk::fail(&writer, effort.disks, &mut dice).await;
    said("disk full or failing at random writes (cut off: failures that the writer was told of)", start, &report, report.holds());

    let start = Instant::now();
    let report = disk::nth(&writer, effort.step, &mut dice).await;
    said("disk failing at its 1st, 2nd, 3rd .. call", start, &report, report.holds());

    let start = Instant::now();
    let report = flips::flip(effort.flips, &mut dice).await;
    said("a byte turned", start, &report, true);

    for n in 0..effort.simulations {
        let own = dice.draw();
        let start = Instant::now();
        let shop = format!("simulation {n}");
        let options = || Options { shop: shop.clone(), clock: devices::clock(), ..options(&shop) };
        // Two servers over one database, or one over a file.
        let servers = if n % 3 == 0 {
            let place = Place::of(&postgres.url());
            vec![Ledger::open(&place, options()).await.unwrap(), Ledger::open(&place, options()).await.unwrap()]
        } else {
            vec![Ledger::open(&Place::File(folder.file("devices.ledger")), options()).await.unwrap()]
        };
        let report = devices::simulate(&servers, 20, 1500, &mut Dice::new(own)).await;
        for server in servers {
            server.close().await.unwrap();
        }
        said(&format!("devices, seed {own}"), start, &report, true);
    }
    println!("faults: everything held");
}

fn said(what: &str, start: Instant, report: &impl std::fmt::Display, holds: bool) {
    println!("faults: {what}: {report} ({:.1} s)", start.elapsed().as_secs_f64());
    assert!(holds, "{what}: the ledger broke its promise");
}
