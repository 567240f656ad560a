//! `cargo serve`: from a fresh clone to the app in a browser, with one command.

use crate::{site, still};

/// Builds the app and serves it. `--static` serves its files alone; `--built` leaves out the build; `--port N` names the port.
pub fn run(arguments: &[String]) -> Result<(), String> {
    let has = |flag: &str| arguments.iter().any(|argument| argument == flag);
    let port = match arguments.iter().position(|argument| argument == "--port").map(|at| arguments.get(at + 1)) {
        Some(Some(port)) => port.parse().map_err(|_| format!("--port is {port:?}; allowed: 0 to 65535; write it like --port 8420"))?,
        Some(None) => return Err("--port is empty; allowed: 0 to 65535; write it like --port 8420".into()),
        None => 8420,
    };
    let site = if has("--built") { crate::cargo::root().join("target/site") } else { site::make()? };
    still::serve(&site, port)
}
