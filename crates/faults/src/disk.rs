//! A disk that is full or fails at random writes and syncs: what was acknowledged is there, and nothing half-written is.
//!
//! The failures come from `shim.c`, which is compiled here and loaded into the writing program before the C library. Linux only.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use job::entry::EntryId;

use crate::dice::Dice;
use crate::kills::{Report, look};
use crate::writing::Folder;

/// Entries of a hand in a run.
const ENTRIES: u64 = 25;

/// Compiles the shim into `folder`.
pub fn shim(folder: &Folder) -> PathBuf {
    let (source, library) = (folder.file("shim.c"), folder.file("shim.so"));
    std::fs::write(&source, include_str!("shim.c")).unwrap();
    let done = Command::new("cc").args(["-shared", "-fPIC", "-O1", "-o"]).arg(&library).arg(&source).arg("-ldl").status();
    assert!(done.is_ok_and(|status| status.success()), "cc could not compile the shim; install a C compiler");
    library
}

/// Runs `runs` writing runs of the program `writer` over a disk that fails, and looks after each. The answer's `kills` are the failures
/// that the writer was told of.
pub async fn fail(writer: &Path, runs: u64, dice: &mut Dice) -> Report {
    let folder = Folder::new();
    let shim = shim(&folder);
    let store = folder.file("disk.ledger");
    let mut report = Report::default();
    for _ in 0..runs {
        let shop = format!("run {}", dice.draw());
        let one_in = [20, 60, 200, 1000][dice.index(4)];
        let mut child = Command::new(writer)
            .args(["write", store.to_str().unwrap(), &shop, &dice.draw().to_string(), &ENTRIES.to_string()])
            .env("LD_PRELOAD", &shim)
            .env("DISK_FILES", "disk.ledger")
            .env("DISK_SEED", dice.draw().to_string())
            .env("DISK_ONE_IN", one_in.to_string())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let faults = child.stderr.take().unwrap();
        let faults = std::thread::spawn(move || BufReader::new(faults).lines().map_while(Result::ok).collect::<Vec<_>>());
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let acknowledged: Vec<EntryId> = lines.filter_map(|line| Some(EntryId(line.ok()?.parse().ok()?))).collect();
        child.wait().unwrap();
        let said = faults.join().unwrap();
        assert!(said.iter().all(|line| !line.contains("panicked")), "{said:?}");
        report.runs += 1;
        report.kills += said.len() as u64;
        look(store.to_str().unwrap(), &shop, &acknowledged, &mut report).await;
    }
    report
}
