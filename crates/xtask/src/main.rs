//! The chores of the house. `cargo proof` is the only gate: format, clippy, tests, cases, documentation, and the house's own rules.

mod proof;
mod tidy;

fn main() -> std::process::ExitCode {
    let task = std::env::args().nth(1).unwrap_or_default();
    let done = match task.as_str() {
        "proof" => proof::run(),
        "tidy" => tidy::run(),
        other => Err(format!("{other:?} is no chore; allowed: proof, tidy; write cargo proof")),
    };
    match done {
        Ok(()) => std::process::ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why}");
            std::process::ExitCode::FAILURE
        }
    }
}
