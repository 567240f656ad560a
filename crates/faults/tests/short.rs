//! Every kind of trouble, short; `cargo proof faults` runs them long. What fails prints its seed.

use std::path::Path;

use faults::dice::Dice;
use faults::postgres::{Keeps, Postgres};
use faults::writing::{Folder, options, wait_for};
use faults::{devices, disk, flips, kills};
use ledger::{Ledger, Options, Place};

fn dice(what: &str) -> Dice {
    let seed = Dice::seed();
    println!("{what}: seed {seed}");
    Dice::new(seed)
}

fn writer() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_faults"))
}

#[test]
fn promise_1_kill_9_loses_nothing_that_was_acknowledged_in_a_file() {
    let folder = Folder::new();
    let report = wait_for(kills::kill(writer(), folder.file("a.ledger").to_str().unwrap(), 24, &mut dice("kills")));
    println!("{report}");
    assert!(report.holds() && report.acknowledged > 0, "{report}");
}

#[test]
fn promise_1_kill_9_and_restarts_lose_nothing_that_was_acknowledged_in_a_database() {
    let postgres = Postgres::start(Keeps::OnDisk);
    let mut dice = dice("kills");
    let killed = wait_for(kills::kill(writer(), &postgres.url(), 16, &mut dice));
    println!("{killed}");
    let restarted = wait_for(kills::restarts(&postgres, 2, &mut dice));
    println!("{restarted}");
    assert!(killed.holds() && restarted.holds() && restarted.acknowledged > 0, "{killed}; {restarted}");
}

#[test]
fn promise_4_a_disk_that_fails_leaves_nothing_half_written() {
    let report = wait_for(disk::fail(writer(), 12, &mut dice("disk")));
    println!("{report}");
    assert!(report.holds() && report.kills > 0, "{report}");
    let report = wait_for(disk::nth(writer(), 17, &mut dice("nth")));
    println!("{report}");
    assert!(report.holds() && report.runs > 3, "{report}");
}

#[test]
fn promise_3_a_turned_byte_is_never_silently_read() {
    let report = wait_for(flips::flip(250, &mut dice("flips")));
    println!("{report}");
    assert!(report.named > 0 && report.named + report.damaged + report.refused + report.harmless == report.flips, "{report}");
}

#[test]
fn promise_2_devices_that_sync_in_any_order_end_alike() {
    let folder = Folder::new();
    let mut dice = dice("devices");
    wait_for(async {
        let options = Options { clock: devices::clock(), ..options("shop") };
        let server = Ledger::open(&Place::File(folder.file("a.ledger")), options).await.unwrap();
        let report = devices::simulate(std::slice::from_ref(&server), 20, 1000, &mut dice).await;
        println!("{report}");
        assert!(report.cuts > 0 && report.repeats > 0 && report.needs_you > 0, "{report}");
        server.close().await.unwrap();
    });
}
