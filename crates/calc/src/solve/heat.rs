//! How long a ring takes to the temperature of its bath, and what its field is on the way.
//!
//! Constant properties and h: by series, exact. Else by finite volumes and implicit steps, refined until the time moves by less than the
//! aim when mesh and steps are halved; what it still moves by is part of the answer, and so is whether the aim was met. A ring alone:
//! no contact, no radiation law, one medium on all wet surfaces. Temperatures in °C, else SI.
//! rho c(T) dT/dt = (1/r) d/dr(r k(T) dT/dr) + d/dz(k(T) dT/dz); on wet surfaces k dT/dn = −q(T − bath).

pub mod band;
pub mod exchange;
pub mod lumped;
pub mod march;
pub mod matter;
pub mod mesh;
pub mod section;
pub mod series;

use exchange::{Exchange, Surface};
use march::March;
use matter::{Matter, Metal};
use mesh::{Fineness, Mesh, Ring, Wet};
use series::{Body, Series};

/// Radii at which a series is looked at.
pub const RADII: usize = 33;
/// Share of the distance to the bath that a step may be wrong by, on the first mesh; half of it on each finer one.
const STEP_ERROR: f64 = 3e-4;
/// Finer meshes that are tried after the first.
const MOST_HALVINGS: u32 = 4;
/// Work of a transient, in products and sums: under half a second of this decade's machines. A finer mesh that would take
/// more than half of it is not tried, a run that takes more than half as much again is given up.
const MOST_WORK: f64 = 4e8;
/// Steps of a march: no problem of this trade has needed 5000.
const MOST_STEPS: f64 = 30_000.0;
/// Conductivity of a metal in nitrogen beside that at 20 °C, and the largest h of boiling, W/(m² K): together they give the length of
/// a quench front, (k w/h)^½.
const COLD_K: f64 = 0.45;
const BOILING_PEAK: f64 = 13_000.0;
/// First cell along beside that length; the time is then good to 0.1 % (measured on bushes of 10 to 30 mm wall).
const FRONT_SHARE: f64 = 0.25;
/// First cell across, m.
const CELL: f64 = 5e-3;
/// Turns of the search for the moment of the stop.
const MOST_TURNS: u32 = 60;

/// What is to be found out.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// The ring.
    pub ring: Ring,
    /// Its wet surfaces.
    pub wet: Wet,
    /// What it is made of.
    pub metal: Metal,
    /// What it gives up.
    pub exchange: Exchange,
    /// Temperature of all of it at first, °C.
    pub start: f64,
    /// Temperature of the medium, °C.
    pub bath: f64,
    /// The slowest point is to be this near to the bath, K; less than it is at first.
    pub within: f64,
    /// Times at which the field is wanted too, s.
    pub at: Vec<f64>,
}

/// Temperatures over the section at mid-length, with the share of the section that each stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Shares, which add up to 1.
    pub shares: Vec<f64>,
    /// Temperatures from the bore to the outside, °C.
    pub T: Vec<f64>,
}

impl Profile {
    /// Mean over the section of a function of temperature.
    pub fn mean(&self, of: impl Fn(f64) -> f64) -> f64 {
        self.shares.iter().zip(&self.T).map(|(share, T)| share * of(*T)).sum()
    }

    /// At the bore, or on the axis of a pin.
    pub fn inside(&self) -> f64 {
        self.T.first().copied().unwrap_or(f64::NAN)
    }

    /// At the outside.
    pub fn outside(&self) -> f64 {
        self.T.last().copied().unwrap_or(f64::NAN)
    }
}

/// A field, seen at some moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// The point that is farthest from the bath.
    pub slowest: f64,
    /// Mean over the body.
    pub mean: f64,
    /// The section at mid-length.
    pub section: Profile,
}

/// How a time was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// By series.
    Exact,
    /// On a mesh whose finest cut was this, in so many steps.
    Mesh(Fineness, u32),
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Transient {
    /// When the slowest point is near enough, s; the time that was reached where `stopped` is false.
    pub time: f64,
    /// Whether it got there within the limit of steps.
    pub stopped: bool,
    /// By how much `time` changed when the mesh was last halved, s.
    pub change: f64,
    /// Whether that is under the aim.
    pub met: bool,
    /// The field then.
    pub end: Field,
    /// Heat given up by then, J, positive when it cools.
    pub heat: f64,
    /// The fields that were asked for.
    pub at: Vec<Field>,
    /// How it was found.
    pub way: Way,
    work: f64,
    coarse: Option<(Fineness, f64, f64)>,
}

/// Solves `task` until its time moves by less than `aim` (a share of it).
pub fn transient(task: &Task, aim: f64) -> Transient {
    if task.is_linear() {
        return exact(task, aim);
    }
    let (mut cut, mut error) = (first_cut(task), STEP_ERROR);
    let mut found = measured(task, cut, error, aim);
    if !found.stopped {
        // Too much work: half as fine is better than nothing.
        (cut, error) = (Fineness { across: cut.across / 2, along: (cut.along / 2).max(1) }, 2.0 * error);
        found = measured(task, cut, error, aim);
    }
    for _ in 0..MOST_HALVINGS {
        if found.met || !found.stopped || found.work * growth(task, cut) > MOST_WORK / 2.0 {
            break;
        }
        (cut, error) = (cut.halved(), error / 2.0);
        let finer = measured(task, cut, error, aim);
        if !finer.stopped {
            break;
        }
        found = finer;
    }
    found
}

/// One answer: the time on a mesh, and what it changes by when cells and steps are twice as large across, and along.
///
/// Each direction by itself, because the two errors of a coarse mesh have different signs and hide one another.
fn measured(task: &Task, cut: Fineness, error: f64, aim: f64) -> Transient {
    let run = Run::new(task, cut, error);
    let plain = Task { at: Vec::new(), ..task.clone() };
    let mut halves = vec![Fineness { across: cut.across / 2, ..cut }];
    if task.wet.ends {
        halves.push(Fineness { along: cut.along / 2, ..cut });
    }
    let (mut change, mut time, mut coarse) = (if run.stopped { 0.0 } else { run.time }, run.time, None);
    for half in halves.into_iter().filter(|_| run.stopped) {
        let other = Run::new(&plain, half, 2.0 * error);
        let by = if other.stopped { run.time - other.time } else { run.time };
        change += by.abs();
        if other.stopped {
            // Errors of the second order: a third of the change is left.
            time += by / 3.0;
            coarse = Some((half, 2.0 * error, other.time));
        }
    }
    Transient {
        time,
        stopped: run.stopped,
        change,
        met: run.stopped && change <= aim * time,
        end: run.end,
        heat: run.heat,
        at: run.at,
        way: Way::Mesh(cut, run.steps),
        work: run.work,
        coarse: coarse.or(Some((cut, error, run.time))),
    }
}

/// The time alone of a task that differs from the one of `like` in its exchange: on the mesh with cells twice as long,
/// corrected by what the finer ones were worth there.
pub fn time_alone(task: &Task, like: &Transient) -> Option<f64> {
    let task = Task { at: Vec::new(), ..task.clone() };
    match like.coarse {
        None => exact_time(&task).map(|(time, ..)| time),
        Some((fineness, error, time)) => {
            let run = Run::new(&task, fineness, error);
            run.stopped.then(|| run.time * like.time / time)
        }
    }
}

/// One run at a fixed fineness: the time, and whether it got there. For benches and proofs of the order.
pub fn time_at(task: &Task, fineness: Fineness, step_error: f64) -> Option<f64> {
    let run = Run::new(task, fineness, step_error);
    run.stopped.then_some(run.time)
}

impl Task {
    /// Properties and h are constant over the whole way: the series applies.
    fn is_linear(&self) -> bool {
        let constant = !self.metal.low_temperature || (self.start >= 20.0 && self.bath >= 20.0);
        constant && matches!(self.exchange, Exchange::Constant(_))
    }
}

fn exact_time(task: &Task) -> Option<(f64, Series)> {
    let Exchange::Constant(h) = task.exchange else { return None };
    let Metal { density, cp, k, .. } = task.metal;
    let body = Body { ring: task.ring, wet: task.wet, k, diffusivity: k / (density * cp), h };
    let theta = task.within / (task.start - task.bath).abs();
    let earliest = task.at.iter().copied().filter(|t| *t > 0.0).fold(f64::INFINITY, f64::min);
    // The lumped time is the earliest that is possible; a first look with few terms says how early the stop really is.
    let rough = Series::new(&body, 0.05 * task.ring.depth(task.wet) * task.ring.depth(task.wet) / body.diffusivity).time(theta)?;
    let series = Series::new(&body, earliest.min(rough));
    Some((series.time(theta)?, series))
}

fn exact(task: &Task, aim: f64) -> Transient {
    let Some((time, series)) = exact_time(task) else {
        let end = Field { slowest: task.start, mean: task.start, section: Profile { shares: vec![1.0], T: vec![task.start] } };
        return Transient {
            time: 0.0,
            stopped: false,
            change: 0.0,
            met: false,
            at: vec![end.clone(); task.at.len()],
            end,
            heat: 0.0,
            way: Way::Exact,
            work: 0.0,
            coarse: None,
        };
    };
    let theta = task.within / (task.start - task.bath).abs();
    let change = series.halved().time(theta).map_or(time, |halved| (time - halved).abs());
    let degrees = |field: Field| {
        let of = |theta: f64| task.bath + (task.start - task.bath) * theta;
        let section = Profile { T: field.section.T.iter().map(|theta| of(*theta)).collect(), ..field.section };
        Field { slowest: of(field.slowest), mean: of(field.mean), section }
    };
    let end = degrees(series.field(time));
    let heat = task.metal.density * task.ring.volume() * task.metal.cp * (task.start - end.mean);
    let at = task.at.iter().map(|t| degrees(series.field(*t))).collect();
    Transient { time, stopped: true, change, met: change <= aim * time, end, heat, at, way: Way::Exact, work: 0.0, coarse: None }
}

/// The first mesh: across, cells of some millimetres; along, cells that a quench front can be seen on, as far as that is worth it.
fn first_cut(task: &Task) -> Fineness {
    let depth = task.ring.depth(task.wet);
    if !task.wet.ends {
        return Fineness { across: 32, along: 1 };
    }
    let wall = (task.ring.outside - task.ring.bore) / 2.0;
    let even = |x: f64, low: f64, high: f64| 2 * (x.clamp(low, high) / 2.0).round() as usize;
    match task.exchange {
        Exchange::Constant(_) => Fineness { across: 6, along: 12 },
        Exchange::Nitrogen(factor) => {
            let front = (COLD_K * task.metal.k * depth / (BOILING_PEAK * factor)).sqrt();
            Fineness { across: even(wall / CELL, 6.0, 12.0), along: even(task.ring.length / 2.0 / (FRONT_SHARE * front), 12.0, 112.0) }
        }
    }
}

/// How many times the work of a mesh its halving takes.
fn growth(task: &Task, fineness: Fineness) -> f64 {
    // Twice or four times the nodes, some more steps, and a band that grows.
    let nodes = if task.wet.ends { 4.0 } else { 2.0 };
    1.6 * nodes * (work(task, fineness.halved()) / work(task, fineness))
}

/// Products and sums of a step for a node.
fn work(task: &Task, fineness: Fineness) -> f64 {
    let half = if task.wet.ends { fineness.across as f64 + 1.0 } else { 1.0 };
    half * half / 2.0 + 8.0 * half + 100.0
}

/// A march from the start to the stop and past all times that were asked for.
struct Run {
    time: f64,
    stopped: bool,
    steps: u32,
    work: f64,
    end: Field,
    heat: f64,
    at: Vec<Field>,
}

impl Run {
    fn new(task: &Task, fineness: Fineness, error: f64) -> Self {
        let (matter, surface) = (Matter::new(&task.metal), Surface::new(task.exchange));
        let mesh = Mesh::new(&task.ring, task.wet, fineness);
        let mut march = March::new(&mesh, &matter, &surface, task.metal.density, task.start, task.bath);
        let mut times: Vec<f64> = task.at.clone();
        times.sort_by(f64::total_cmp);
        times.dedup();
        let mut seen = times.iter().map(|t| (*t, field(&march, &mesh))).collect::<Vec<_>>();
        let first = field(&march, &mesh);
        let mut run = Self { time: 0.0, stopped: false, steps: 0, work: 0.0, end: first, heat: 0.0, at: Vec::new() };
        let mut dt = march.first_step(error * (task.start - task.bath).abs());
        let mut next = times.iter().take_while(|t| **t <= 0.0).count();
        let most = (1.5 * MOST_WORK / (mesh.nodes() as f64 * work(task, fineness))).min(MOST_STEPS);
        while (!run.stopped || next < times.len()) && f64::from(march.steps + march.rejected) < most {
            let tolerance = error * march.distance().max(0.1 * task.within);
            let left = times.get(next).map_or(f64::INFINITY, |t| t - march.time);
            let began = march.time;
            let Some(wished) = march.advance(dt.min(left), tolerance) else { break };
            let taken = march.time - began;
            if !run.stopped && march.distance() <= task.within {
                stop(&mut march, task.within, taken);
                run.stopped = true;
                run.note(&march, &mesh);
                dt = wished.min(taken);
                continue;
            }
            if taken >= left {
                seen[next].1 = field(&march, &mesh);
                next += 1;
                dt = wished.max(dt.min(wished * 4.0));
            } else {
                dt = wished;
            }
        }
        if !run.stopped {
            run.note(&march, &mesh);
        }
        run.steps = march.steps;
        run.work = f64::from(march.steps + march.rejected) * mesh.nodes() as f64 * work(task, fineness);
        let last = field(&march, &mesh);
        let reached = |t: &f64| seen[..next].iter().find(|(at, _)| at == t).map_or_else(|| last.clone(), |(_, field)| field.clone());
        run.at = task.at.iter().map(reached).collect();
        run
    }

    fn note(&mut self, march: &March, mesh: &Mesh) {
        (self.time, self.end, self.heat) = (march.time, field(march, mesh), march.given_up());
    }
}

/// Goes back into the last step, of `taken` s, to the moment when the slowest point is just near enough.
fn stop(march: &mut March, within: f64, taken: f64) {
    let over = |march: &March| crate::math::ln(march.distance().max(1e-300) / within);
    let (mut high, mut f_high) = (taken, over(march));
    march.back(taken);
    let (mut low, mut f_low) = (0.0, over(march));
    let mut side = 0;
    for turn in 0..MOST_TURNS {
        if high - low <= 1e-9 * (march.time + high) || f_high.abs() < 1e-9 {
            break;
        }
        let secant = high - f_high * (high - low) / (f_high - f_low);
        let x = if secant > low && secant < high && turn % 8 != 7 { secant } else { (low + high) / 2.0 };
        if !march.step(x) {
            break;
        }
        let y = over(march);
        march.back(x);
        if y <= 0.0 {
            (high, f_high) = (x, y);
            f_low = if side == 1 { f_low / 2.0 } else { f_low };
            side = 1;
        } else {
            (low, f_low) = (x, y);
            f_high = if side == -1 { f_high / 2.0 } else { f_high };
            side = -1;
        }
    }
    march.step(high);
}

fn field(march: &March, mesh: &Mesh) -> Field {
    let T = &march.temperatures()[..mesh.across];
    let whole: f64 = mesh.volume[..mesh.across].iter().sum();
    let shares = mesh.volume[..mesh.across].iter().map(|volume| volume / whole).collect();
    Field { slowest: march.slowest(), mean: march.mean(), section: Profile { shares, T: T.to_vec() } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::ln;

    const RING: Ring = Ring { outside: 0.24, bore: 0.2, length: 0.15 };
    const ALL: Wet = Wet { bore: true, ends: true };

    /// A bush of gunmetal; constant or with the cold.
    fn task(low_temperature: bool, exchange: Exchange, bath: f64, within: f64) -> Task {
        let metal = Metal { density: 8800.0, cp: 376.0, k: 59.0, low_temperature };
        Task { ring: RING, wet: ALL, metal, exchange, start: 20.0, bath, within, at: Vec::new() }
    }

    #[test]
    fn the_mesh_agrees_with_the_series() {
        for (wet, bore) in [
            (ALL, 0.2),
            (ALL, 0.12),
            (Wet { bore: false, ends: true }, 0.2),
            (Wet { bore: true, ends: false }, 0.1),
            (Wet { bore: false, ends: true }, 0.0),
        ] {
            let task = Task { ring: Ring { bore, ..RING }, wet, ..task(false, Exchange::Constant(800.0), -100.0, 2.0) };
            let exact = transient(&task, 1e-3);
            let mesh = time_at(&task, Fineness { across: 24, along: 48 }, 3e-5).unwrap();
            assert_eq!(exact.way, Way::Exact);
            assert!((mesh / exact.time - 1.0).abs() < 6e-4, "{wet:?} {bore}: {mesh}, {}", exact.time);
        }
    }

    /// Halving the cells quarters the error: slope 2, with steps so short that they count for nothing.
    #[test]
    fn the_mesh_is_of_the_second_order() {
        let task = Task {
            wet: Wet { bore: false, ends: true },
            ring: Ring { bore: 0.1, ..RING },
            ..task(false, Exchange::Constant(1500.0), -100.0, 2.0)
        };
        let exact = transient(&task, 1e-3).time;
        let error = |n: usize| (time_at(&task, Fineness { across: n, along: n }, 4e-7).unwrap() - exact).abs();
        let errors = [error(4), error(8), error(16)];
        for pair in errors.windows(2) {
            let slope = ln(pair[0] / pair[1]) / ln(2.0);
            assert!((1.8..2.3).contains(&slope), "slope {slope}: {errors:?}");
        }
    }

    /// Steps of equal length on one mesh, cold properties: halving them divides the error by eight, at least by four.
    #[test]
    fn the_steps_are_of_the_third_order() {
        let task = task(true, Exchange::Constant(400.0), -190.0, 2.0);
        let (matter, surface) = (Matter::new(&task.metal), Surface::new(task.exchange));
        let mesh = Mesh::new(&task.ring, task.wet, Fineness { across: 4, along: 6 });
        let mean = |steps: u32| {
            let mut march = March::new(&mesh, &matter, &surface, task.metal.density, task.start, task.bath);
            // The start is sudden; a common fine beginning leaves the order of the rest to be seen.
            (0..400).for_each(|_| assert!(march.step(0.05)));
            (0..steps).for_each(|_| assert!(march.step(20.0 / f64::from(steps))));
            march.mean()
        };
        let fine = mean(1280);
        let errors = [10, 20, 40].map(|steps| (mean(steps) - fine).abs());
        for pair in errors.windows(2) {
            let slope = ln(pair[0] / pair[1]) / ln(2.0);
            assert!(slope > 2.0, "slope {slope}: {errors:?}");
        }
    }

    /// Heat that left through the surface is the heat that the nodes lost, to 1e-8 and far better, whatever the steps.
    #[test]
    fn heat_is_conserved() {
        for (task, tolerance) in [
            (task(true, Exchange::Nitrogen(1.0), -195.8, 5.0), 0.1),
            (task(true, Exchange::Constant(2000.0), -150.0, 1.0), 5.0),
            (task(false, Exchange::Constant(30.0), 90.0, 1.0), 0.5),
        ] {
            let (matter, surface) = (Matter::new(&task.metal), Surface::new(task.exchange));
            let mesh = Mesh::new(&task.ring, task.wet, Fineness { across: 5, along: 11 });
            let mut march = March::new(&mesh, &matter, &surface, task.metal.density, task.start, task.bath);
            let before = march.stored();
            let mut dt = march.first_step(tolerance);
            while march.distance() > task.within {
                dt = march.advance(dt, tolerance).unwrap();
            }
            let off = (before - march.stored()) / march.given_up() - 1.0;
            assert!(off.abs() < 1e-11, "{off}");
        }
    }

    #[test]
    fn a_thin_bush_follows_the_lumped_law_in_the_cold_too() {
        let task = Task { ring: Ring { outside: 0.24, bore: 0.236, length: 0.15 }, ..task(true, Exchange::Constant(5.0), -180.0, 2.0) };
        let found = transient(&task, 0.002);
        let (mass, area) = (task.metal.density * task.ring.volume(), task.ring.wet_area(ALL));
        let lumped = lumped::seconds(20.0, -180.0, 2.0, 400, |T| mass * task.metal.cp_at(T), |T| area * 5.0 * (T + 180.0));
        assert!(found.met && (found.time / lumped - 1.0).abs() < 2e-3, "{} {lumped}", found.time);
    }

    #[test]
    fn a_quench_tells_what_it_still_moves_by() {
        let found = transient(&task(true, Exchange::Nitrogen(1.0), -195.8, 5.0), 0.002);
        // Two-grid finite volumes, extrapolated, by an independent program: 361.64 s within 0.3 s.
        assert!(
            found.met && found.change < 0.002 * found.time && (found.time - 361.64).abs() < found.change + 0.3,
            "{} {}",
            found.time,
            found.change
        );
    }

    #[test]
    fn the_limit_of_work_is_an_answer_not_a_hang() {
        // A pin of plastic, 2 m long, in nitrogen that boils twenty times as hard.
        let mut task = task(true, Exchange::Nitrogen(20.0), -195.8, 1e-3);
        (task.ring, task.metal.k, task.at) = (Ring { outside: 0.8, bore: 0.0, length: 2.0 }, 0.2, vec![0.0, 1e7]);
        let found = transient(&task, 1e-9);
        assert!(!found.met, "{}", found.change);
        assert!(found.at.len() == 2 && (found.at[0].mean - 20.0).abs() < 1e-9, "{:?}", found.at[0].mean);
    }
}
