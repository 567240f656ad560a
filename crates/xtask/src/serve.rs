//! `cargo serve`: from a fresh clone to the shop in a browser, with one command.
//!
//! 1. The app is built for the browser (`site`), then the program with the app in it.
//! 2. The demo shop is a ledger of its own in `target/demo-shop`; the demos are read into it each time, which adds only what is new.
//! 3. The address is printed last. A shop without an owner gets the address with the code that makes one.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use crate::cargo::{cargo, root, target};
use crate::{site, still};

/// Where the shop is found when nothing else was said.
const PORT: u16 = 7447;

/// Builds the app and serves it. `--static` serves its files alone; `--built` leaves out the build; `--port N` names the port.
pub fn run(arguments: &[String]) -> Result<(), String> {
    let has = |flag: &str| arguments.iter().any(|argument| argument == flag);
    let port = match arguments.iter().position(|argument| argument == "--port").map(|at| arguments.get(at + 1)) {
        Some(Some(port)) => port.parse().map_err(|_| format!("--port is {port:?}; allowed: 0 to 65535; write it like --port {PORT}"))?,
        Some(None) => return Err(format!("--port is empty; allowed: 0 to 65535; write it like --port {PORT}")),
        None => PORT,
    };
    let site = if has("--built") { root().join("target/site") } else { site::make()? };
    if has("--static") {
        return still::serve(&site, port);
    }
    let program = target().join("release/bushwright");
    if !has("--built") {
        println!("shop: building the program (the first time takes some minutes)");
        let status = Command::new(cargo()).current_dir(root()).args(["build", "--release", "--package", "bushwright"]).status();
        if !status.is_ok_and(|status| status.success()) {
            return Err("the program could not be built; the reason stands above".into());
        }
    }
    let store = root().join("target/demo-shop/shop.db");
    demos(&program, &store)?;
    serve(&program, &store, port)
}

/// Reads the demos into the demo shop.
fn demos(program: &Path, store: &Path) -> Result<(), String> {
    if let Some(folder) = store.parent() {
        std::fs::create_dir_all(folder).map_err(|fault| format!("{} can't be made: {fault}", folder.display()))?;
    }
    let listed = std::fs::read_dir(root().join("demo")).map_err(|fault| format!("the demos can't be listed: {fault}"))?;
    let mut files: Vec<_> =
        listed.flatten().map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|end| end == "toml")).collect();
    files.sort();
    println!("shop: reading {} demos into {}", files.len(), store.display());
    for file in files {
        let status = Command::new(program).args(["job", "import"]).arg(&file).arg("--store").arg(store).stdout(Stdio::null()).status();
        if !status.is_ok_and(|status| status.success()) {
            return Err(format!("{} could not be read into the shop; the reason stands above", file.display()));
        }
    }
    Ok(())
}

/// Runs the server and passes on what it says, the address last.
fn serve(program: &Path, store: &Path, port: u16) -> Result<(), String> {
    let mut command = Command::new(program);
    command.arg("serve").arg("--store").arg(store).args(["--listen", &format!("127.0.0.1:{port}")]).stdout(Stdio::piped());
    let mut server = command.spawn().map_err(|fault| format!("the server could not be started: {fault}"))?;
    let mut code: Option<String> = None;
    let mut awaits_code = false;
    for line in server.stdout.take().into_iter().flat_map(|out| BufReader::new(out).lines().map_while(Result::ok)) {
        if awaits_code {
            code = Some(line.trim().to_owned());
            awaits_code = false;
        } else if line.contains("whoever gives this code") {
            awaits_code = true;
        } else if let Some(address) = line.strip_prefix("Serving on ") {
            match &code {
                Some(code) => {
                    println!("\nBushwright: {address}/#/owner/{code}\n(this address makes the first account; afterwards {address})")
                }
                None => println!("\nBushwright: {address}"),
            }
        } else {
            println!("{line}");
        }
    }
    let status = server.wait().map_err(|fault| fault.to_string())?;
    if status.success() { Ok(()) } else { Err("the server stopped; the reason stands above".into()) }
}
