//! The house's own rules, as a check: arrows between crates, opening lines, sizes of files, copies that must not drift, licences.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The floor of each crate: arrows point down only. `ARCHITECTURE.md` shows the same table.
const FLOORS: [(&str, u32); 9] =
    [("calc", 1), ("job", 2), ("draw", 3), ("ledger", 3), ("paper", 4), ("faults", 4), ("web", 4), ("server", 5), ("bushwright", 6)];
/// Licences that a library may have.
const LICENCES: [&str; 14] = [
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "Unicode-DFS-2016",
    "0BSD",
    "BSL-1.0",
    "CC0-1.0",
    "MIT-0",
    "Unlicense",
    // The list of root certificates that TLS to a database trusts.
    "CDLA-Permissive-2.0",
];
/// Lines of a file before its tests.
const LONGEST: usize = 620;

/// Runs every rule and names each place that breaks one.
pub fn run() -> Result<(), String> {
    println!("proof: house rules");
    let root = root();
    let metadata = metadata()?;
    let mut faults = Vec::new();
    faults.extend(arrows(&metadata, &root));
    faults.extend(licences(&metadata));
    faults.extend(files(&root));
    faults.extend(copies(&root));
    if faults.is_empty() { Ok(()) } else { Err(format!("house rules broken:\n  {}", faults.join("\n  "))) }
}

fn root() -> PathBuf {
    // As cargo says when it runs us: a binary from a shared target folder may have been built in another clone.
    let here = std::env::var_os("CARGO_MANIFEST_DIR").map_or_else(|| env!("CARGO_MANIFEST_DIR").into(), PathBuf::from);
    here.join("../..")
}

fn metadata() -> Result<Value, String> {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let output = Command::new(cargo).args(["metadata", "--format-version", "1", "--locked"]).output().map_err(|fault| fault.to_string())?;
    serde_json::from_slice(&output.stdout).map_err(|fault| format!("cargo metadata: {fault}: {}", String::from_utf8_lossy(&output.stderr)))
}

/// Each crate uses crates of lower floors only, and `ARCHITECTURE.md` names each with what it uses.
fn arrows(metadata: &Value, root: &Path) -> Vec<String> {
    let floors: BTreeMap<&str, u32> = FLOORS.into_iter().collect();
    let page = std::fs::read_to_string(root.join("ARCHITECTURE.md")).unwrap_or_default();
    let mut faults = Vec::new();
    for package in metadata["packages"].as_array().into_iter().flatten().filter(|package| package["source"].is_null()) {
        let name = package["name"].as_str().unwrap_or_default();
        let Some(floor) = floors.get(name) else {
            if name != "xtask" && name != "glue" {
                faults.push(format!("crate {name} has no floor in xtask/src/tidy.rs"));
            }
            continue;
        };
        let mut uses = BTreeSet::new();
        for dependency in package["dependencies"].as_array().into_iter().flatten().filter(|dependency| dependency["kind"].is_null()) {
            let below = dependency["name"].as_str().unwrap_or_default();
            if let Some(other) = floors.get(below) {
                uses.insert(below);
                if other >= floor {
                    faults.push(format!("crate {name} (floor {floor}) uses {below} (floor {other}): arrows point down only"));
                }
            }
        }
        let row = format!(
            "| {floor} | `{name}` | {} |",
            if uses.is_empty() { "-".into() } else { uses.into_iter().collect::<Vec<_>>().join(", ") }
        );
        if !page.contains(&row) {
            faults.push(format!("ARCHITECTURE.md lacks the row: {row}"));
        }
    }
    faults
}

fn licences(metadata: &Value) -> Vec<String> {
    let packages = metadata["packages"].as_array().into_iter().flatten().filter(|package| !package["source"].is_null());
    packages
        .filter_map(|package| {
            let licence = package["license"].as_str().unwrap_or("none");
            // One allowed alternative is enough; every part of a conjunction must be allowed.
            let allowed = licence.replace(" / ", " OR ").replace('/', " OR ").split(" OR ").any(|alternative| {
                alternative.split(" AND ").all(|part| {
                    let part = part.trim_matches(|letter| letter == '(' || letter == ')' || letter == ' ');
                    LICENCES.contains(&part.split(" WITH ").next().unwrap_or(part))
                })
            });
            (!allowed).then(|| format!("{} is under {licence}", package["name"].as_str().unwrap_or_default()))
        })
        .collect()
}

/// Every Rust file opens with what it answers, and is short enough to be read.
fn files(root: &Path) -> Vec<String> {
    let mut faults = Vec::new();
    let mut open = vec![root.join("crates")];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let text = std::fs::read_to_string(&path).unwrap_or_default();
                let shown = path.strip_prefix(root).unwrap_or(&path).display();
                if !text.starts_with("//!") {
                    faults.push(format!("{shown} does not open with //! (the question it answers)"));
                }
                let before_tests = text.lines().take_while(|line| !line.starts_with("#[cfg(test)]")).count();
                if before_tests > LONGEST && path.components().any(|part| part.as_os_str() == "src") {
                    faults.push(format!("{shown} has {before_tests} lines before its tests; {LONGEST} at most"));
                }
                for word in ["todo!", "unimplemented!", "TODO", "FIXME", "#[ignore"] {
                    if text.contains(word) && !shown.to_string().contains("tidy.rs") {
                        faults.push(format!("{shown} holds {word}"));
                    }
                }
            }
        }
    }
    faults.sort();
    faults
}

/// The tables that are compiled in are those that are checked.
fn copies(root: &Path) -> Vec<String> {
    let data = root.join("crates/calc/data");
    let mut faults = Vec::new();
    for entry in std::fs::read_dir(&data).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let same = ["fits", "materials"].iter().map(|folder| root.join("checks").join(folder).join(&name)).find(|path| path.exists());
        if let Some(same) = same
            && std::fs::read(&same).ok() != std::fs::read(entry.path()).ok()
        {
            faults.push(format!("crates/calc/data/{} differs from its checked copy", name.display()));
        }
    }
    faults
}
