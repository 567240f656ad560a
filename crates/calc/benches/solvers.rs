//! What film and transient cost beside their references: `cargo bench -p calc --bench solvers -- --runs N`.
//!
//! One line a run: name, seconds, the figure that was found. `bench/solvers.sh` runs this and the references by turns and prints both side
//! by side, with the errors of each; that is why the figures are printed. The exponents at the end are of time over unknowns.
#![allow(clippy::panic, clippy::print_stdout, reason = "a bench that can't run should say so and stop; the shell reads what it prints")]

use std::time::Instant;

use calc::compute::{answer, read};
use calc::crew::Alone;
use calc::math::ln;
use calc::run::film_shape::{Effort, Theory, film_at};
use calc::solve::film_grid::FilmGrid;
use calc::solve::heat::exchange::Exchange;
use calc::solve::heat::matter::Metal;
use calc::solve::heat::mesh::{Fineness, Ring, Wet};
use calc::solve::heat::{Task, time_at, transient};
use calc::solve::multigrid;

fn main() {
    let given: Vec<String> = std::env::args().collect();
    let after = |name: &str| given.iter().position(|text| text == name).and_then(|at| given.get(at + 1));
    let runs: u32 = after("--runs").and_then(|runs| runs.parse().ok()).unwrap_or(5);
    for _ in 0..runs {
        // As exact as, and more exact than, the reference on 800 x 200; then 0.5 % of the figure.
        timed("film_two_meshes", || film_at(Theory::Finite, 0.6, 1.0, Effort::Halvings(2)).shape.sommerfeld);
        timed("film_three_meshes", || film_at(Theory::Finite, 0.6, 1.0, Effort::Halvings(3)).shape.sommerfeld);
        timed("film_interactive", || film_at(Theory::Finite, 0.6, 1.0, Effort::Tolerance(0.005)).shape.sommerfeld);
        timed("constant_h_by_series", || transient(&task(false, Exchange::Constant(100.0), -100.0, 2.0), 1e-3).time);
        timed("constant_h_on_a_mesh", || {
            time_at(&task(false, Exchange::Constant(100.0), -100.0, 2.0), Fineness { across: 8, along: 16 }, 2.5e-4).unwrap_or(f64::NAN)
        });
        let nitrogen = |fineness: Fineness| time_at(&task(true, Exchange::Nitrogen(1.0), -195.8, 5.0), fineness, 1e-3).unwrap_or(f64::NAN);
        timed("nitrogen", || nitrogen(Fineness { across: 6, along: 72 }));
        timed("nitrogen_interactive", || nitrogen(Fineness { across: 4, along: 18 }));
        timed("running", || whole("running"));
        timed("film_clearance", || whole("film-clearance"));
        timed("cooling", || whole("cooling"));
        timed("window", || whole("window"));
    }
    // To the finest mesh that an answer uses, and far beyond it.
    growth("film, as used", &(2..=6).map(film_mesh).collect::<Vec<_>>());
    growth("film, beyond", &(6..=8).map(film_mesh).collect::<Vec<_>>());
    growth("transient, longer columns", &[18, 36, 72, 144].map(columns));
}

fn task(low_temperature: bool, exchange: Exchange, bath: f64, within: f64) -> Task {
    let ring = Ring { outside: 0.24, bore: 0.2, length: 0.15 };
    let metal = Metal { density: 8800.0, cp: 376.0, k: 59.0, low_temperature };
    Task { ring, wet: Wet { bore: true, ends: true }, metal, exchange, start: 20.0, bath, within, at: Vec::new() }
}

/// Least seconds of some goes: other work on the machine can only make one longer.
fn least(mut run: impl FnMut() -> f64) -> (f64, f64) {
    let (mut best, mut figure) = (f64::INFINITY, f64::NAN);
    let whole = Instant::now();
    for _ in 0..20 {
        let began = Instant::now();
        figure = run();
        best = best.min(began.elapsed().as_secs_f64());
        if whole.elapsed().as_secs_f64() > 0.5 {
            break;
        }
    }
    (best, figure)
}

fn timed(name: &str, run: impl FnMut() -> f64) {
    let (seconds, figure) = least(run);
    println!("{name} {seconds:.9} {figure:.9}");
}

/// A whole request, JSON to JSON; how many letters the answer has, so that nothing is left out.
fn whole(kind: &str) -> f64 {
    let known = calc::compute::kind(kind).unwrap_or_else(|refused| panic!("{refused}"));
    let request = read(known.example).unwrap_or_else(|refused| panic!("{refused}"));
    answer(kind, &request, &Alone, false).unwrap_or_else(|refused| panic!("{refused}")).to_string().len() as f64
}

/// Unknowns and seconds of one mesh, from the film of the mesh before.
fn film_mesh(halvings: usize) -> (f64, f64) {
    let (n, m) = (8 << halvings, 2 << halvings);
    let coarse = multigrid::film(&FilmGrid::new(0.6, 1.0, n / 2, m / 2), Vec::new());
    let start = multigrid::refined(&coarse.p, n / 2, m / 2);
    let grid = FilmGrid::new(0.6, 1.0, n, m);
    let (seconds, rounds) = least(|| f64::from(multigrid::film(&grid, start.clone()).rounds));
    println!("mesh_{n}x{m} {seconds:.9} {rounds}");
    (((n - 1) * m) as f64, seconds)
}

/// Unknowns and seconds of a quench on a mesh with so many columns.
fn columns(along: usize) -> (f64, f64) {
    let task = task(true, Exchange::Constant(400.0), -190.0, 2.0);
    let (seconds, _) = least(|| time_at(&task, Fineness { across: 6, along }, 1e-3).unwrap_or(f64::NAN));
    ((7 * (along + 1)) as f64, seconds)
}

/// The exponent of time over unknowns, by least squares in logarithms.
fn growth(name: &str, points: &[(f64, f64)]) {
    let count = points.len() as f64;
    let mean = |of: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x0, y0) = (mean(&|point| ln(point.0)), mean(&|point| ln(point.1)));
    let over = points.iter().map(|(x, y)| (ln(*x) - x0) * (ln(*y) - y0)).sum::<f64>();
    let under = points.iter().map(|(x, _)| (ln(*x) - x0) * (ln(*x) - x0)).sum::<f64>();
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    println!("growth {name}: time goes as unknowns to the {:.2}, from {first:.0} to {last:.0} of them", over / under);
}
