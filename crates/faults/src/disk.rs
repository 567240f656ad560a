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

/// A disk as the shim plays it.
enum Fails {
    OneIn(u64),
    Nth(u64),
}

/// A run of the program `writer` over a disk that fails; what it acknowledged, and what it was told of failures.
fn run(writer: &Path, folder: &Folder, shim: &Path, shop: &str, count: u64, fails: &Fails, dice: &mut Dice) -> (Vec<EntryId>, Vec<String>) {
    let (store, done) = (folder.file("disk.ledger"), folder.file("done"));
    let mut command = Command::new(writer);
    command.arg("write").arg(store).args([shop, &dice.draw().to_string(), &count.to_string()]);
    command.env("LD_PRELOAD", shim).env("DISK_FILES", "disk.ledger").env("DISK_SEED", dice.draw().to_string()).env("DISK_DONE", done);
    match fails {
        Fails::OneIn(n) => command.env("DISK_ONE_IN", n.to_string()),
        Fails::Nth(n) => command.env("DISK_NTH", n.to_string()),
    };
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let faults = child.stderr.take().unwrap();
    let faults = std::thread::spawn(move || BufReader::new(faults).lines().map_while(Result::ok).collect::<Vec<_>>());
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let acknowledged = lines.filter_map(|line| Some(EntryId(line.ok()?.parse().ok()?))).collect();
    child.wait().unwrap();
    let said = faults.join().unwrap();
    assert!(said.iter().all(|line| !line.contains("panicked")), "{said:?}");
    (acknowledged, said)
}

/// Runs `runs` writing runs of the program `writer` over a disk that fails at random, and looks after each. The answer's `kills` are the
/// failures that the writer was told of.
pub async fn fail(writer: &Path, runs: u64, dice: &mut Dice) -> Report {
    let folder = Folder::new();
    let shim = shim(&folder);
    let mut report = Report::default();
    for _ in 0..runs {
        let shop = format!("run {}", dice.draw());
        let fails = Fails::OneIn([20, 60, 200, 1000][dice.index(4)]);
        let (acknowledged, said) = run(writer, &folder, &shim, &shop, ENTRIES, &fails, dice);
        report.runs += 1;
        report.kills += said.len() as u64;
        look(folder.file("disk.ledger").to_str().unwrap(), &shop, &acknowledged, &mut report).await;
    }
    report
}

/// Lets the first call to the disk fail in one run on a new file, the second in the next and so on, until a run has no more calls; of them
/// every `step`th. The store is then as before each entry or as after it.
pub async fn nth(writer: &Path, step: u64, dice: &mut Dice) -> Report {
    let tools = Folder::new();
    let shim = shim(&tools);
    let mut report = Report::default();
    for n in (1 + dice.below(step)..).step_by(usize::try_from(step).unwrap()) {
        let folder = Folder::new();
        let (acknowledged, said) = run(writer, &folder, &shim, "shop", 2, &Fails::Nth(n), dice);
        report.runs += 1;
        report.kills += said.len() as u64;
        look(folder.file("disk.ledger").to_str().unwrap(), "shop", &acknowledged, &mut report).await;
        if folder.file("done").exists() {
            return report;
        }
    }
    report
}
