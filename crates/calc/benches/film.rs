//! What an oil film costs, on one thread: `cargo bench -p calc --bench film`.
//!
//! - `mesh`: one mesh, solved from the film of the mesh before until it balances; the argument is how often 16 × 4 intervals were halved. Its cost against
//!   the number of unknowns is the order of the solver.
//! - `film`: whole requests from JSON to JSON, at the tolerance that the argument says. Two meshes of 32 × 8 and 64 × 16, extrapolated,
//!   are within 3e-5 of the settled S, closer than one mesh of 800 × 200 intervals of the reference (5e-5,
//!   `checks/bearing/reynolds_run_time.json`).
//! - `loaded`, `running`: the same for a load and for a balance of heat.
#![allow(clippy::panic, reason = "a bench that can't run should say so and stop")]

use calc::compute::{answer, read};
use calc::crew::Alone;
use calc::solve::film_grid::FilmGrid;
use calc::solve::multigrid;
use divan::Bencher;

fn main() {
    divan::main();
}

fn asked(bencher: Bencher, kind: &str, text: &str) {
    bencher.bench_local(|| {
        let request = read(text).unwrap_or_else(|refused| panic!("{refused}"));
        answer(kind, &request, &Alone, false).unwrap_or_else(|refused| panic!("{refused}")).to_string()
    });
}

#[divan::bench(args = [1, 2, 3, 4, 5])]
fn mesh(bencher: Bencher, halvings: usize) {
    let (n, m) = (8 << halvings, 2 << halvings);
    let coarse = multigrid::film(&FilmGrid::new(0.6, 1.0, n, m), Vec::new());
    let start = multigrid::refined(&coarse.p, n, m);
    let grid = FilmGrid::new(0.6, 1.0, 2 * n, 2 * m);
    bencher.bench_local(|| multigrid::film(&grid, start.clone()));
}

#[divan::bench(args = ["0.005", "0.001", "0.0001"])]
fn film(bencher: Bencher, tolerance: &str) {
    asked(bencher, "film", &format!(r#"{{"eps": 0.6, "L_over_D": 1, "tolerance_rel": {tolerance}}}"#));
}

#[divan::bench(args = ["0.005", "0.001", "0.0001"])]
fn loaded(bencher: Bencher, tolerance: &str) {
    let request = r#"{"load_kN": 40, "speed_rpm": 300, "diameter_mm": 180, "length_mm": 180, "clearance_um": 200, "viscosity_mPas": 35,
        "tolerance_rel": TOLERANCE}"#;
    asked(bencher, "film", &request.replace("TOLERANCE", tolerance));
}

#[divan::bench]
fn running(bencher: Bencher) {
    let request = r#"{"lubrication": "oil", "load_kN": 30, "speed_rpm": 1000, "diameter_mm": 140, "length_mm": 112, "clearance_um": 190,
        "oil": {"iso_vg": 46}, "ambient_C": 30, "cooling": "both", "surface_m2": 1.2, "inlet_C": 45, "supply_MPa": 0.15, "hole_mm": 10,
        "Rz_bush_um": 3, "Rz_journal_um": 1.5}"#;
    asked(bencher, "running", request);
}
