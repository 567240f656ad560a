//! Where the house stands: its root, its target folder, and the cargo that started the chore.

use std::path::PathBuf;
use std::process::Command;

/// The cargo that started us.
pub fn cargo() -> String {
    std::env::var("CARGO").unwrap_or_else(|_| "cargo".into())
}

/// The root of the workspace.
pub fn root() -> PathBuf {
    // As cargo says when it runs us: a binary from a shared target folder may have been built in another clone.
    let here = std::env::var_os("CARGO_MANIFEST_DIR").map_or_else(|| env!("CARGO_MANIFEST_DIR").into(), PathBuf::from);
    let root = here.join("../..");
    root.canonicalize().unwrap_or(root)
}

/// The target folder, as cargo takes it.
pub fn target() -> PathBuf {
    let asked = Command::new(cargo()).current_dir(root()).args(["metadata", "--format-version", "1", "--no-deps", "--offline"]).output();
    let metadata = asked.ok().and_then(|output| serde_json::from_slice::<serde_json::Value>(&output.stdout).ok());
    let folder = metadata.and_then(|metadata| metadata["target_directory"].as_str().map(PathBuf::from));
    folder.unwrap_or_else(|| root().join("target"))
}
