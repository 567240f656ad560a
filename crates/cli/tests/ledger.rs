//! The record at the command line: a job file read into a ledger, worked through by its number, backed up, put back, gone through.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::path::{Path, PathBuf};
use std::process::Command;

const DEMO: &str = "demo/ferry_ramp_winch.toml";

/// A folder of this test's own.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Runs the program at the root of the house with that ledger: exit status, what it printed, what it said of errors.
fn run(store: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bushwright"));
    command.args(arguments).env("BUSHWRIGHT_STORE", store).current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."));
    let output = command.output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// As [`run`], where all must go well; what it printed.
fn ok(store: &Path, arguments: &[&str]) -> String {
    let (status, out, err) = run(store, arguments);
    assert_eq!((status, err.as_str()), (0, ""), "{arguments:?}");
    out
}

fn number() -> String {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(DEMO)).unwrap();
    let line = text.lines().find(|line| line.starts_with("number")).unwrap();
    line.split('"').nth(1).unwrap().to_owned()
}

#[test]
fn a_job_file_is_kept_once_and_its_sheet_is_the_same_from_the_ledger() {
    let folder = folder("kept");
    let store = folder.join("shop.ledger");
    let first = ok(&store, &["job", "import", DEMO]);
    assert!(first.ends_with(", 0 were there before\n"), "{first}");
    let again = ok(&store, &["job", "import", DEMO]);
    assert!(again.starts_with("0 entries"), "{again}");
    assert_eq!(ok(&store, &["job", &number()]), ok(&store, &["job", DEMO]));
    assert!(ok(&store, &["ledger", "list"]).starts_with(&number()));
    assert!(ok(&store, &["ledger", "verify"]).contains("every hash holds"));
    let (status, _, err) = run(&store, &["job", "2099-999"]);
    assert_eq!(status, 2);
    assert!(err.contains("is neither a file nor in the ledger; allowed: ") && err.contains(&number()), "{err}");
}

#[test]
fn a_ledger_is_backed_up_wiped_put_back_and_gone_through() {
    let folder = folder("carried");
    let (store, other) = (folder.join("shop.ledger"), folder.join("other.ledger"));
    let (backup, export) = (folder.join("backup.jsonl"), folder.join("export.jsonl"));
    let (backup, export) = (backup.to_str().unwrap(), export.to_str().unwrap());
    for demo in ["ferry_ramp_winch", "crusher_pitman", "excavator_link_pin"] {
        ok(&store, &["job", "import", &format!("demo/{demo}.toml")]);
    }
    let (list, sheet) = (ok(&store, &["ledger", "list"]), ok(&store, &["job", &number()]));
    ok(&store, &["ledger", "backup", backup]);
    let (status, _, err) = run(&store, &["ledger", "backup", backup]);
    assert!(status == 2 && err.contains("nothing was written over"), "{err}");
    for end in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("shop.ledger{end}")));
    }
    ok(&store, &["ledger", "restore", backup]);
    assert_eq!((ok(&store, &["ledger", "list"]), ok(&store, &["job", &number()])), (list, sheet.clone()));
    ok(&store, &["ledger", "export", export, "--job", &number()]);
    ok(&other, &["ledger", "import", export]);
    assert_eq!(ok(&other, &["job", &number()]), sheet);

    // A figure changed behind its back is found, and named.
    let bytes = std::fs::read(&other).unwrap();
    let at = bytes.windows(13).position(|part| part == b"\"size_mm\":240").unwrap();
    let mut changed = bytes;
    changed[at + 12] = b'1';
    std::fs::write(&other, changed).unwrap();
    let (status, out, err) = run(&other, &["ledger", "verify"]);
    assert!(status == 1 && out.contains(&format!("job {}, entry ", number())) && err.contains("not as it was kept"), "{out}{err}");
    let (status, out, err) = run(&other, &["job", &number()]);
    assert!(status == 1 && out.is_empty() && err.contains("it was changed"), "{err}");
}

#[test]
fn a_ledger_that_is_not_there_is_not_made_by_looking() {
    let folder = folder("none");
    let store = folder.join("none.ledger");
    for arguments in [&["ledger", "verify"][..], &["ledger", "list"], &["ledger", "backup", "x.jsonl"]] {
        let (status, _, err) = run(&store, arguments);
        assert!(status == 2 && err.contains("is not there"), "{err}");
    }
    assert!(!store.exists());
}
