//! What a shaped seat costs on one thread, beside the reference: `cargo bench -p calc --bench shape`.
//!
//! First a table beside `checks/fit/reference_times.json` (quadratic elements, direct sparse solution, active set; its own machine):
//! - *one mesh*: the least of our meshes with as many unknowns as the reference's, or more;
//! - *as exact*: the plain bush, whose figures are known: our least mesh whose close-in is within 2e-7, as the reference's is;
//! - *request*: the whole request from JSON to JSON with its own error, at 0.05 % and at the interactive 0.5 % of the interference.
//!
//! Then how the cost grows with the unknowns. Then each of them by divan.
#![allow(clippy::panic, clippy::expect_used, reason = "a bench that can't run should say so and stop")]
#![allow(missing_docs, reason = "a bench has no readers of its items")]

use std::path::Path;
use std::time::Instant;

use calc::compute::{answer, read};
use calc::crew::Alone;
use calc::fit::shape::{Outline, Shape, mesh};
use calc::keys::Given;
use calc::math::ln;
use divan::Bencher;
use serde_json::Value;

/// Runs of which the least counts: other work can only make a run longer.
const RUNS: usize = 7;
/// Close-in of the plain bush is exact to this share on the reference's mesh.
const REFERENCE_ERROR: f64 = 2e-7;

fn main() {
    beside_the_reference();
    divan::main();
}

fn checks(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/fit").join(name);
    std::fs::read_to_string(path).expect("the checks are there")
}

fn case(id: &str) -> Value {
    let cases = checks("cases.jsonl");
    let mut each = cases.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok());
    each.find(|case| case["id"] == id).expect("a case of that name")["input"].take()
}

fn shape(request: &Value) -> Shape {
    Given::new(calc::fit::shape::KIND.request, request).and_then(|given| Shape::read(&given)).unwrap_or_else(|refused| panic!("{refused}"))
}

fn least<T>(mut work: impl FnMut() -> T) -> (f64, T) {
    let mut best = f64::INFINITY;
    let mut last = None;
    for _ in 0..RUNS {
        let start = Instant::now();
        last = Some(work());
        best = best.min(start.elapsed().as_secs_f64());
    }
    (best, last.expect("at least one run"))
}

fn beside_the_reference() {
    let reference: Value = serde_json::from_str(&checks("reference_times.json")).expect("times of the reference");
    println!("case      reference            one mesh              request 0.05 %   request 0.5 %");
    for row in reference["fit_shape"].as_array().into_iter().flatten() {
        let (id, unknowns) = (row["case"].as_str().unwrap_or_default(), row["unknowns"].as_u64().unwrap_or(0) as usize);
        let seconds = row["seconds"].as_f64().unwrap_or(0.0);
        let mut request = case(id);
        let seat = shape(&request);
        let outline = Outline::new(&seat).unwrap_or_else(|refused| panic!("{refused}"));
        let solve = |halvings: u32| least(|| mesh(&outline, halvings, None, false).unwrap_or_else(|refused| panic!("{refused}")));
        let (time, found) = (0..8).map(solve).find(|(_, found)| found.unknowns >= unknowns).expect("a mesh as fine");
        let mut whole = |accuracy: f64| {
            request["accuracy_pct"] = accuracy.into();
            let text = request.to_string();
            least(|| ask(&text)).0
        };
        let (fine, quick) = (whole(0.05), whole(0.5));
        println!(
            "{id}  {unknowns:>6} {:>8.1} ms  {:>6} {:>7.2} ms {:>5.1}x  {:>7.2} ms {:>5.1}x  {:>6.2} ms {:>5.1}x",
            1e3 * seconds,
            found.unknowns,
            1e3 * time,
            seconds / time,
            1e3 * fine,
            seconds / fine,
            1e3 * quick,
            seconds / quick
        );
        if id == "shape-01" {
            let exact = answer("fit-shape", &request, &Alone, false).map_or(0.0, |found| found["ring_close_in_um"].as_f64().unwrap_or(0.0));
            let close = |found: &calc::fit::shape::Found| (found.close_in_um.0 / exact - 1.0).abs();
            let (time, found) = (0..8).map(solve).find(|(_, found)| close(found) <= REFERENCE_ERROR).expect("a mesh as exact");
            let at = format!("as exact ({:.0e}): {} unknowns", close(&found), found.unknowns);
            println!("          {at} {:>7.2} ms {:>5.1}x", 1e3 * time, seconds / time);
        }
    }
    for id in ["shape-01", "shape-03", "shape-09", "shape-10"] {
        let seat = shape(&case(id));
        let outline = Outline::new(&seat).unwrap_or_else(|refused| panic!("{refused}"));
        let at = |halvings: u32| least(|| mesh(&outline, halvings, None, false).map_or(0, |found| found.unknowns));
        let cost: Vec<(f64, usize)> = (1..4).map(at).collect();
        let exponent = ln(cost[2].0 / cost[0].0) / ln(cost[2].1 as f64 / cost[0].1 as f64);
        println!("{id}: {} to {} unknowns, cost grows with the power {exponent:.2}", cost[0].1, cost[2].1);
    }
}

fn ask(text: &str) -> String {
    let request = read(text).unwrap_or_else(|refused| panic!("{refused}"));
    answer("fit-shape", &request, &Alone, false).unwrap_or_else(|refused| panic!("{refused}")).to_string()
}

#[divan::bench(args = [0, 1, 2, 3])]
fn plain_mesh(bencher: Bencher, halvings: u32) {
    let seat = shape(&case("shape-01"));
    let outline = Outline::new(&seat).unwrap_or_else(|refused| panic!("{refused}"));
    bencher.bench_local(|| mesh(&outline, halvings, None, false).map(|found| found.force_kN));
}

#[divan::bench(args = ["shape-01", "shape-03", "shape-04", "shape-07", "shape-09", "shape-10"], sample_count = 10)]
fn request(bencher: Bencher, id: &str) {
    let text = case(id).to_string();
    bencher.bench_local(|| ask(&text));
}
