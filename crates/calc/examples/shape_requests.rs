//! Are random seats all answered or refused in a sentence, and how long does the slowest take?
//!
//! `cargo run --release -p calc --example shape_requests [how many, 10000] [from which, 0]`: the requests of the test
//! `every_seat_that_is_asked_for_is_answered_or_refused`, more of them and with a clock.
#![allow(clippy::expect_used, reason = "a program of the workshop may stop at the first surprise")]

use std::time::Instant;

use calc::crew::Alone;

#[path = "../tests/shape_requests/mod.rs"]
mod shape_requests;

fn main() {
    let mut words = std::env::args().skip(1).map(|word| word.parse::<u64>().expect("a whole number"));
    let (count, first) = (words.next().unwrap_or(10_000), words.next().unwrap_or(0));
    let (mut refused, mut lost, mut short, mut unsettled, mut faults) = (0, 0, 0, 0, 0);
    let mut times = Vec::new();
    for i in first..first + count {
        let request = shape_requests::request(i);
        let start = Instant::now();
        let answer = calc::answer("fit-shape", &request, &Alone, false);
        times.push((start.elapsed().as_secs_f64(), i));
        match answer {
            Err(sentence) => {
                refused += 1;
                lost += u32::from(sentence.given.contains("out of proportion"));
            }
            Ok(answer) => {
                let said = answer["warnings"].to_string();
                short += u32::from(said.contains("did not come to the accuracy"));
                unsettled += u32::from(said.contains("before it settled"));
                if let Some(fault) = shape_requests::fault(&answer) {
                    faults += 1;
                    println!("{i}: {fault}: {request}");
                }
            }
        }
    }
    times.sort_by(|a, b| b.0.total_cmp(&a.0));
    println!("{count} requests from {first}: {refused} refused ({lost} for digits that don't survive), {short} short of their accuracy,");
    println!("{unsettled} at the limit of the contact's search, {faults} faults");
    println!("slowest (s, request): {:.3?}", &times[..times.len().min(5)]);
    println!("median {:.4} s, mean {:.4} s", times[times.len() / 2].0, times.iter().map(|time| time.0).sum::<f64>() / times.len() as f64);
}
