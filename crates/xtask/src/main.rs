//! The chores of the house. `cargo serve` builds the app and opens the shop; `cargo proof` is the only gate: format, clippy, tests, cases, documentation, and the house's own rules.

mod cargo;
mod proof;
mod serve;
mod site;
mod still;
mod tidy;

fn main() -> std::process::ExitCode {
    let task = std::env::args().nth(1).unwrap_or_default();
    let done = match task.as_str() {
        "proof" => proof::run(),
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
