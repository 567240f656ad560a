//! How long the lathe waits for its next command: `cargo bench -p calc --bench turn`.
//!
//! One update with the decision after it (a whole request from JSON to JSON, three cuts and three sets of readings, with prices), and the
//! replay of the 2 000 written runs by three equal cuts. With `--runs N` it prints the replay's seconds instead, a line a run, for
//! `bench/turn.sh`.
#![allow(clippy::panic, reason = "a bench that can't run should say so and stop")]
#![allow(missing_docs, reason = "a bench has no readers of its items")]

use std::time::Instant;

use calc::compute::{answer, read};
use calc::crew::Alone;
use serde_json::{Value, json};

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let runs = arguments.iter().position(|argument| argument == "--runs").and_then(|at| arguments.get(at + 1)?.parse::<usize>().ok());
    let Some(runs) = runs else { return divan::main() };
    let (one, three) = (replay("bayes_3cut_equal"), replay("bayes_3cut_equal_3reads"));
    for _ in 0..runs {
        for (name, request) in [("ours_1", &one), ("ours_3", &three)] {
            let start = Instant::now();
            let found = asked("cut-trials", request);
            println!("{name} {:.5} {}", start.elapsed().as_secs_f64(), found["strategies"][0]["in_band"]);
        }
    }
}

fn asked(kind: &str, request: &Value) -> Value {
    answer(kind, request, &Alone, false).unwrap_or_else(|refused| panic!("{refused}"))
}

fn replay(strategy: &str) -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks/measure/cut_runs.csv");
    let runs = std::fs::read_to_string(path).unwrap_or_else(|fault| panic!("{path}: {fault}"));
    json!({"runs_csv": runs, "strategies": [strategy]})
}

/// The events of one part up to its last command.
const PART: &str = r#"{"side": "outside", "nominal_mm": 240, "start_mm": {"value": 242.0, "u": 0.05}, "lower_mm": 240.152, "upper_mm": 240.182,
    "blank_price": 900, "minute_price": 1.2, "cuts_left": 1, "events": [{"ev": "ambient", "value_C": 19.5}, {"ev": "temp", "value_C": 31},
    {"ev": "cut", "command_mm": 241.49}, {"ev": "cool", "dt_s": 180}, {"ev": "temp", "value_C": 30.5, "n": 3},
    {"ev": "read", "value_mm": 241.565, "n": 3}, {"ev": "cool", "dt_s": 120}, {"ev": "temp", "value_C": 30, "n": 3},
    {"ev": "cut", "command_mm": 240.865}, {"ev": "cool", "dt_s": 180}, {"ev": "temp", "value_C": 30.2, "n": 3},
    {"ev": "read", "value_mm": 240.928, "n": 3}, {"ev": "cool", "dt_s": 120}, {"ev": "temp", "value_C": 29.8, "n": 3}]}"#;

#[divan::bench]
fn one_update_and_decision() -> Value {
    let request = read(PART).unwrap_or_else(|refused| panic!("{refused}"));
    asked("next-cut", &request)
}

#[divan::bench(args = ["bayes_3cut_equal", "bayes_3cut_equal_3reads"], sample_count = 10)]
fn replay_of_2000_runs(bencher: divan::Bencher, strategy: &str) {
    let request = replay(strategy);
    bencher.bench_local(|| asked("cut-trials", &request));
}
