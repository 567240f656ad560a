//! How long a million draws of the whole chain take, on one hand and on two: `cargo bench -p calc --bench chance`.
//!
//! One line a run, in seconds: the whole request `fit-chance` (16 random inputs, seven outputs with mean, u and two quantiles,
//! two requirements, all shares), from JSON to JSON. `-- --runs N` for another number of runs, `-- --draws N` of draws.
//! `bench/side_by_side.sh` runs this and the reference by turns.
#![allow(clippy::panic, reason = "a bench that can't run should say so and stop")]

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use calc::compute::{answer, read};
use calc::crew::{Alone, Crew};

/// Two hands that take the next block when they are done with one.
struct Two;

impl Crew for Two {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        let next = AtomicUsize::new(0);
        let hand = || {
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks {
                    break;
                }
                work(block);
            }
        };
        std::thread::scope(|scope| {
            scope.spawn(hand);
            hand();
        });
    }
}

const REQUEST: &str = r#"{"samples": DRAWS, "seed": 1, "gauge": {"T_C": {"value": 22, "u": 0.5}, "alpha_per_K": 1.15e-5},
    "housing": {"reading_mm": {"value": 240.018, "u": 0.004}, "correction_mm": {"value": 0, "u": 0.003}, "T_C": {"value": 23, "u": 0.7},
        "alpha_per_K": {"value": 1.15e-5, "u": 4e-7}, "E_GPa": {"value": 206, "u": 4}, "nu": 0.3,
        "Rz_um": {"value": 5, "u": 1.2, "shape": "rectangular"}, "equivalent_outside_mm": {"value": 430, "u": 15, "shape": "rectangular"}},
    "bush": {"reading_mm": {"value": 240.196, "u": 0.0045}, "correction_mm": {"value": 0, "u": 0.003}, "T_C": {"value": 31, "u": 1},
        "alpha_per_K": {"value": 1.8e-5, "u": 5e-7}, "E_GPa": {"value": 100, "u": 4}, "nu": 0.34,
        "Rz_um": {"value": 6, "u": 1.5, "shape": "rectangular"}, "bore_mm": {"value": 210.3, "u": 0.008}},
    "journal": {"diameter_mm": {"value": 210.0, "u": 0.005}},
    "requirements": [{"of": "interference_um", "min": 90, "max": 150}, {"of": "clearance_um", "min": 160, "max": 230}]}"#;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let option = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name);
        place.and_then(|place| arguments.get(place + 1)).cloned()
    };
    let runs = option("--runs").and_then(|runs| runs.parse().ok()).unwrap_or(5);
    let draws = option("--draws").unwrap_or_else(|| "1000000".into());
    let text = REQUEST.replace("DRAWS", &draws);
    for _ in 0..runs {
        let mut bytes = Vec::new();
        for (hands, crew) in [("one_hand", &Alone as &dyn Crew), ("two_hands", &Two)] {
            let start = Instant::now();
            let request = read(&text).unwrap_or_else(|refused| panic!("{refused}"));
            let answer = answer("fit-chance", &request, crew, false).unwrap_or_else(|refused| panic!("{refused}")).to_string();
            println!("{hands} {:.5}", start.elapsed().as_secs_f64());
            bytes.push(answer);
        }
        assert!(bytes.windows(2).all(|pair| pair[0] == pair[1]), "one hand and two hands gave different bytes");
    }
}
