//! Asks a kind some thousand random requests and says how they went: `cargo run --release -p calc --example random_requests -- KIND N SEED`.
//!
//! KIND: cooling, heating, window, film, running, film-clearance. Each request must answer or refuse in a sentence; none may panic, take
//! over two seconds of the processor, or give a pressure of a film under nothing. The exit code is 1 when one did, and that request is printed.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a program for the shell")]
#![allow(non_snake_case, reason = "keys and code agree")]
#![allow(clippy::unwrap_used, reason = "its requests are those of the tests, which may fail loudly")]

#[path = "../tests/film_requests/mod.rs"]
mod film_requests;
#[path = "../tests/seat_requests/mod.rs"]
mod seat_requests;

use std::process::ExitCode;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use calc::crew::Alone;
use serde_json::Value;

const LONGEST: Duration = Duration::from_secs(2);
const KINDS: [&str; 6] = ["cooling", "heating", "window", "film", "running", "film-clearance"];

/// How the requests of one run went.
#[derive(Default)]
struct Tally {
    answered: u64,
    refused: u64,
    faults: u64,
    slowest: Duration,
    slowest_request: String,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let number = |index: usize, default: u64| given.get(index).map_or(Some(default), |text| text.parse::<u64>().ok());
    let (Some(kind), Some(count), Some(seed)) =
        (given.first().filter(|kind| KINDS.contains(&kind.as_str())), number(1, 10_000), number(2, 1))
    else {
        eprintln!("write: random_requests KIND [N] [SEED], KIND one of {}", KINDS.join(", "));
        return ExitCode::from(2);
    };
    let tally = fire(kind, count, seed);
    println!(
        "{kind}, {count} requests, seed {seed}: {} answered, {} refused in a sentence, {} faults; slowest {:.3} s",
        tally.answered,
        tally.refused,
        tally.faults,
        tally.slowest.as_secs_f64()
    );
    println!("slowest: {}", tally.slowest_request);
    ExitCode::from(u8::from(tally.faults > 0))
}

fn fire(kind: &str, count: u64, seed: u64) -> Tally {
    let mut tally = Tally::default();
    let mut dice = film_requests::Dice(seed);
    for i in 0..count {
        let request = match kind {
            // Seeds far apart give other requests; the first run has the numbers of the tests.
            "cooling" | "heating" | "window" => seat_requests::request(kind, i + (seed - 1) * 1_000_000),
            _ => film_requests::request(kind, &mut dice),
        };
        one(kind, &request, &mut tally);
    }
    tally
}

/// Time that this thread had on a processor, where the system tells it; else by the clock. Other work on the machine then does not count.
fn used() -> Duration {
    static START: OnceLock<Instant> = OnceLock::new();
    let start = START.get_or_init(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split_whitespace().next().and_then(|first| first.parse().ok()));
    nanoseconds.map_or_else(|| start.elapsed(), Duration::from_nanos)
}

fn one(kind: &str, request: &Value, tally: &mut Tally) {
    let began = used();
    let answer = std::panic::catch_unwind(|| calc::answer(kind, request, &Alone, false));
    let took = used().saturating_sub(began);
    let mut fault = |what: &str| {
        tally.faults += 1;
        println!("{what}: {request}");
    };
    if took > LONGEST {
        fault("over 2 s");
    }
    match answer {
        Err(_) => fault("panic"),
        Ok(Err(refused)) => {
            if refused.allowed.is_empty() || refused.remedy.is_empty() {
                fault("refused without a sentence");
            }
            tally.refused += 1;
        }
        Ok(Ok(answer)) => {
            let mut finite = true;
            film_requests::every_number(&answer, &mut |x| finite &= x.is_finite());
            if !finite {
                fault("not finite");
            }
            if let Some(key) = film_requests::not_positive(&answer) {
                fault(&format!("{key} not over nothing"));
            }
            tally.answered += 1;
        }
    }
    if took > tally.slowest {
        (tally.slowest, tally.slowest_request) = (took, request.to_string());
    }
}
