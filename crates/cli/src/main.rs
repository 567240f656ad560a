//! The `bushwright` binary: glue between the command line and the floors below. One file a subcommand.
//!
//! Whatever is refused goes to standard error in one sentence, with exit status 2, and nothing is written.

mod compute;
mod crew;
mod job;
mod keeper;
mod ledger;
mod papers;
mod print;
mod serve;
mod shop;
mod stop;
mod store;
mod turn;

use clap::{Parser, Subcommand};

/// A sheet of many seats makes and drops a great many small texts: the system's allocator spent a third of the time on them, and
/// gave the memory back to the kernel between two seats only to ask for it again.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// From brief to release of a replacement plain bearing, every number with its uncertainty and its source.
#[derive(Parser)]
#[command(name = "bushwright", version, disable_help_subcommand = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Work a job file through: print its sheet, write it as PDF or drawings, start a new one, or check one.
    Job(Box<job::Arguments>),
    /// Turn a bush at the lathe, in a dialogue: readings in, the next command out.
    Turn(turn::Arguments),
    /// Look after the record: verify, list, export, import, back up, restore.
    Ledger(ledger::Arguments),
    /// Serve the shop over HTTP: to the people, tablets and programs of its network.
    Serve(serve::Arguments),
    /// Ask for one calculation as JSON, without a job.
    Compute(compute::Arguments),
}

fn main() -> std::process::ExitCode {
    let done = match Arguments::parse().command {
        Command::Job(arguments) => job::run(&arguments),
        Command::Turn(arguments) => turn::run(&arguments),
        Command::Ledger(arguments) => ledger::run(&arguments),
        Command::Serve(arguments) => serve::run(&arguments),
        Command::Compute(arguments) => compute::run(&arguments),
    };
    match done {
        Ok(()) => std::process::ExitCode::SUCCESS,
        Err(stop) => stop.exit(),
    }
}
