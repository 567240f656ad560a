//! The chores of the house. `cargo serve` builds the app and opens the shop. `cargo proof` is the only gate: format, clippy, tests, cases,
//! documentation, and the house's own rules; `cargo proof faults` breaks the ledger on purpose, for long.

mod cargo;
mod proof;
mod serve;
mod site;
mod still;
mod tidy;

fn main() -> std::process::ExitCode {
    let task = std::env::args().nth(1).unwrap_or_default();
    let done = match task.as_str() {
        "proof" => match std::env::args().nth(2).as_deref() {
            None => proof::run(true),
            Some(proof::WITHOUT_BROWSER) => proof::run(false),
            Some("faults") => proof::faults(std::env::args().skip(3)),
            Some(other) => {
                Err(format!("{other:?} is no part of the proof; allowed: faults, --without-browser, or nothing for all; write cargo proof"))
            }
        },
        "tidy" => tidy::run(),
        "serve" => serve::run(&std::env::args().skip(2).collect::<Vec<_>>()),
        "site" => site::make().map(|_| ()),
        other => Err(format!("{other:?} is no chore; allowed: serve, site, proof, tidy; write cargo serve")),
    };
    match done {
        Ok(()) => std::process::ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why}");
            std::process::ExitCode::FAILURE
        }
    }
}
