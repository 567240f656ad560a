//! How long a worker takes over a changed input in a job of sixty seats: `cargo bench --workspace --bench desk`. The same errands as a page sends while a
//! person types, without the way to and fro.
#![allow(clippy::unwrap_used, reason = "a bench that can't run should say so and stop")]

use std::cell::Cell;

use job::entry::{Entry, Scope, What};
use job::sheet::Stage;
use job::state::Given;
use web::errand::{AT_ONCE, Desk, Errand};
use web::writing::{self, Moment, Pen};

fn main() {
    divan::main();
}

const DEMO: &str = include_str!("../../../demo/ferry_ramp_winch.toml");

/// The ferry's inboard seat sixty times.
fn sixty() -> Vec<Entry> {
    let one = DEMO.split("[seat.outboard]").next().unwrap();
    let text = one.replace("draws = 200000", "draws = 20000").replace("[seat.inboard]\n", "[seat.inboard]\ncount = 60\n");
    job::open("sixty.toml", text.as_bytes()).unwrap().0
}

fn errand() -> Errand {
    Errand { number: 1, seat: "inboard 1".into(), width: Some(606.0), section_width: 396.0, ..Errand::default() }
}

fn trying(bencher: divan::Bencher, asked: &Errand) {
    let entries = sixty();
    let (job, follows) = (entries[0].job.clone(), entries.last().map(|entry| entry.id));
    let mut desk = Desk::default();
    desk.run(Errand { entries: Some(entries), ..asked.clone() });
    let outside = Cell::new(400.0);
    bencher
        .with_inputs(|| {
            outside.set(outside.get() - 0.1);
            let what = What::Fact { about: "housing.outside".into(), value: Given::Figure { value: outside.get(), u: 0.0 } };
            let moment = Moment { millis: 4_000_000_000_000, free: [0; 10] };
            let tried = writing::entry(&Pen::default(), moment, &job, Scope::Brief("winch".into()), follows, what);
            Errand { tried: vec![tried], ..asked.clone() }
        })
        .bench_local_values(|errand| serde_json::to_string(&desk.run(errand)).unwrap());
}

/// The first look at a changed input: 2 000 draws, the stage that is in sight.
#[divan::bench]
fn first_look(bencher: divan::Bencher) {
    trying(bencher, &Errand { draws: Some(AT_ONCE), at_once: true, only: Some(Stage::Fit), ..errand() });
}

/// The same with all draws, and the pictures of all stages.
#[divan::bench]
fn all_draws(bencher: divan::Bencher) {
    trying(bencher, &Errand { at_once: true, ..errand() });
}

/// The same with the finite elements.
#[divan::bench]
fn all(bencher: divan::Bencher) {
    trying(bencher, &errand());
}
