//! Steps in time over a mesh: an implicit method of third order that tells its own error and conserves heat to the last digits.
//!
//! Rosenbrock's form (linearly implicit): each step factors one band matrix and solves it four times, so there is no inner iteration
//! that could fail to end. The unknown is the heat of each node. What a step takes from the nodes is, term by term, what its stages let
//! through the surface: [`March::given_up`] is summed at the surface alone and meets the fall of [`March::stored`] to rounding.
//! Source: Sandu, Verwer, Blom, Spee, Carmichael and Potra 1997 (Rodas3: order 3, embedded 2, L-stable, stiffly accurate; coefficients
//! from memory, their order is tested); Hairer and Wanner, Solving ODEs II, IV.7.

use super::band::Band;
use super::exchange::Surface;
use super::matter::Matter;
use super::mesh::Mesh;
use crate::math::cbrt;

const GAMMA: f64 = 0.5;
const A31: f64 = 2.0;
const A41: f64 = 2.0;
const A43: f64 = 1.0;
const C21: f64 = 4.0;
const C31: f64 = 1.0;
const C32: f64 = -1.0;
const C41: f64 = 1.0;
const C42: f64 = -1.0;
const C43: f64 = -8.0 / 3.0;
const M: [f64; 4] = [2.0, 0.0, 1.0, 1.0];

/// A step grows and shrinks by at most these.
const GROW: f64 = 5.0;
const SHRINK: f64 = 0.2;
/// Share of the largest step that the error allows which is taken.
const SAFETY: f64 = 0.9;
/// Halvings of a step before it is given up: none of this trade's problems needs 20.
const MOST_REJECTED: u32 = 60;

/// What the nodes are at some heat.
#[derive(Clone, Debug)]
struct Nodes {
    T: Vec<f64>,
    c: Vec<f64>,
    k: Vec<f64>,
    theta: Vec<f64>,
    /// Flux and its slope of each wet node.
    flux: Vec<(f64, f64)>,
    /// Net heat flow into each node, W.
    watts: Vec<f64>,
    /// Heat flow out through the surface, W.
    out: f64,
}

impl Nodes {
    fn new(n: usize, wet: usize) -> Self {
        let zeros = || vec![0.0; n];
        Self { T: zeros(), c: zeros(), k: zeros(), theta: zeros(), flux: vec![(0.0, 0.0); wet], watts: zeros(), out: 0.0 }
    }
}

/// A field on its way through time.
#[derive(Clone, Debug)]
pub struct March<'m> {
    mesh: &'m Mesh,
    matter: &'m Matter,
    surface: &'m Surface,
    bath: f64,
    mass: Vec<f64>,
    heat: Vec<f64>,
    other: Vec<f64>,
    here: Nodes,
    stage: Nodes,
    K: [Vec<f64>; 4],
    band: Band,
    given_up: f64,
    last_given: f64,
    /// Time since the start, s.
    pub time: f64,
    /// Steps taken.
    pub steps: u32,
    /// Steps taken back because of their error.
    pub rejected: u32,
}

impl<'m> March<'m> {
    /// A body of one temperature, put in its bath. Temperatures in °C, density in kg/m³.
    pub fn new(mesh: &'m Mesh, matter: &'m Matter, surface: &'m Surface, density: f64, start: f64, bath: f64) -> Self {
        let n = mesh.nodes();
        let zeros = || vec![0.0; n];
        let mut march = Self {
            mesh,
            matter,
            surface,
            bath,
            mass: mesh.volume.iter().map(|volume| volume * density).collect(),
            heat: vec![matter.heat(start); n],
            other: zeros(),
            here: Nodes::new(n, mesh.wet.len()),
            stage: Nodes::new(n, mesh.wet.len()),
            K: std::array::from_fn(|_| vec![0.0; n + mesh.half_width()]),
            band: Band::new(n, mesh.half_width()),
            given_up: 0.0,
            last_given: 0.0,
            time: 0.0,
            steps: 0,
            rejected: 0,
        };
        march.look();
        march
    }

    /// Temperatures of the nodes, °C.
    pub fn temperatures(&self) -> &[f64] {
        &self.here.T
    }

    /// Heat that has left through the surface, J: summed at the surface.
    pub fn given_up(&self) -> f64 {
        self.given_up
    }

    /// Heat in the nodes, J above absolute zero on the lines of the table.
    pub fn stored(&self) -> f64 {
        self.mass.iter().zip(&self.heat).map(|(mass, heat)| mass * heat).sum()
    }

    /// Mean over the mass of the nodes, °C.
    pub fn mean(&self) -> f64 {
        let whole: f64 = self.mass.iter().sum();
        self.mass.iter().zip(&self.here.T).map(|(mass, T)| mass * T).sum::<f64>() / whole
    }

    /// Temperature that is farthest from the bath, °C.
    pub fn slowest(&self) -> f64 {
        let farthest = |far: f64, T: &f64| if (T - self.bath).abs() > (far - self.bath).abs() { *T } else { far };
        self.here.T.iter().fold(self.bath, farthest)
    }

    /// How far that is from the bath, K.
    pub fn distance(&self) -> f64 {
        (self.slowest() - self.bath).abs()
    }

    /// A first step in which no surface node moves by more than `by` K, s.
    pub fn first_step(&self, by: f64) -> f64 {
        let each = self
            .mesh
            .wet
            .iter()
            .zip(&self.here.flux)
            .map(|((node, area), (flux, _))| by * self.mass[*node] * self.here.c[*node] / (area * flux.abs()).max(f64::MIN_POSITIVE));
        each.fold(1e9, f64::min)
    }

    /// Takes one step of at most `dt` whose error is under `tolerance` K at every node, and answers with the step to try next.
    /// None when no step is short enough.
    pub fn advance(&mut self, dt: f64, tolerance: f64) -> Option<f64> {
        let mut dt = dt;
        for _ in 0..MOST_REJECTED {
            let error = if self.attempt(dt) { self.error() / tolerance } else { f64::INFINITY };
            if error <= 1.0 {
                self.accept(dt);
                let factor = SAFETY / cbrt(error.max(1e-12));
                return Some(dt * factor.clamp(SHRINK, GROW));
            }
            self.rejected += 1;
            dt *= if error.is_finite() { (SAFETY / cbrt(error)).clamp(SHRINK, 0.8) } else { SHRINK };
        }
        None
    }

    /// One step of exactly `dt`, whatever its error; false when it can't be made.
    pub fn step(&mut self, dt: f64) -> bool {
        let made = self.attempt(dt);
        if made {
            self.accept(dt);
        }
        made
    }

    /// Goes back to before the last step.
    pub fn back(&mut self, dt: f64) {
        std::mem::swap(&mut self.heat, &mut self.other);
        self.given_up -= self.last_given;
        self.time -= dt;
        self.steps -= 1;
        look(self.mesh, self.matter, self.surface, self.bath, &self.heat, &mut self.here);
    }

    fn look(&mut self) {
        look(self.mesh, self.matter, self.surface, self.bath, &self.heat, &mut self.here);
    }

    fn accept(&mut self, dt: f64) {
        std::mem::swap(&mut self.heat, &mut self.other);
        self.given_up += self.last_given;
        self.time += dt;
        self.steps += 1;
        self.look();
    }

    /// The four stages; the heat after the step is left in `other`.
    fn attempt(&mut self, dt: f64) -> bool {
        self.matrix(dt);
        if !self.band.factor() {
            return false;
        }
        let n = self.mesh.nodes();
        let [K1, K2, K3, K4] = &mut self.K;
        let (mesh, mass, here, stage, heat) = (self.mesh, &self.mass, &self.here, &mut self.stage, &self.heat);
        let solve = |K: &mut Vec<f64>, band: &Band| {
            band.solve(K);
            for ((K, c), k) in K.iter_mut().zip(&here.c).zip(&here.k) {
                *K *= c / k;
            }
        };
        let through = |out: f64, K: &[f64], before: f64| {
            let linear = mesh.wet.iter().zip(&here.flux).map(|((node, area), (_, slope))| area * slope / here.c[*node] * K[*node]);
            GAMMA * dt * (-out - linear.sum::<f64>() + before / dt)
        };
        K1[..n].copy_from_slice(&here.watts);
        solve(K1, &self.band);
        let S1 = through(here.out, K1, 0.0);
        for (i, K) in K2[..n].iter_mut().enumerate() {
            *K = here.watts[i] + mass[i] / dt * (C21 * K1[i]);
        }
        solve(K2, &self.band);
        let S2 = through(here.out, K2, C21 * S1);
        for (i, at) in self.other.iter_mut().enumerate() {
            *at = heat[i] + A31 * K1[i];
        }
        look(mesh, self.matter, self.surface, self.bath, &self.other, stage);
        for (i, K) in K3[..n].iter_mut().enumerate() {
            *K = stage.watts[i] + mass[i] / dt * (C31 * K1[i] + C32 * K2[i]);
        }
        solve(K3, &self.band);
        let S3 = through(stage.out, K3, C31 * S1 + C32 * S2);
        for (i, at) in self.other.iter_mut().enumerate() {
            *at = heat[i] + A41 * K1[i] + A43 * K3[i];
        }
        look(mesh, self.matter, self.surface, self.bath, &self.other, stage);
        for (i, K) in K4[..n].iter_mut().enumerate() {
            *K = stage.watts[i] + mass[i] / dt * (C41 * K1[i] + C42 * K2[i] + C43 * K3[i]);
        }
        solve(K4, &self.band);
        let S4 = through(stage.out, K4, C41 * S1 + C42 * S2 + C43 * S3);
        for (i, at) in self.other.iter_mut().enumerate() {
            *at = heat[i] + M[0] * K1[i] + M[1] * K2[i] + M[2] * K3[i] + M[3] * K4[i];
        }
        self.last_given = -(M[0] * S1 + M[1] * S2 + M[2] * S3 + M[3] * S4);
        true
    }

    /// Largest error of the last attempt, K: the last stage, which the embedded method lacks.
    fn error(&self) -> f64 {
        let worst = self.K[3].iter().zip(&self.here.c).fold(0.0_f64, |worst, (K, c)| worst.max((K / c).abs()));
        if worst.is_finite() { worst } else { f64::INFINITY }
    }

    /// M c/(k γ dt) + conduction + slope of the surface's flux/k: symmetric, because the unknown is the integral of conductivity.
    fn matrix(&mut self, dt: f64) {
        let (mesh, here) = (self.mesh, &self.here);
        self.band.clear();
        let own = &mut self.stage.watts;
        for (i, own) in own.iter_mut().enumerate() {
            *own = self.mass[i] * here.c[i] / (here.k[i] * GAMMA * dt);
        }
        for ((node, area), (_, slope)) in mesh.wet.iter().zip(&here.flux) {
            own[*node] += area * slope / here.k[*node];
        }
        for i in 0..own.len() {
            let (across, along) = (mesh.to_outside[i], mesh.to_end[i]);
            if across > 0.0 {
                self.band.set(i, 1, -across);
                own[i] += across;
                own[i + 1] += across;
            }
            if along > 0.0 {
                self.band.set(i, mesh.across, -along);
                own[i] += along;
                own[i + mesh.across] += along;
            }
            self.band.set(i, 0, own[i]);
        }
    }
}

/// What the nodes are at `heat`, and what flows into each: conduction is antisymmetric, so it moves heat and makes none.
fn look(mesh: &Mesh, matter: &Matter, surface: &Surface, bath: f64, heat: &[f64], nodes: &mut Nodes) {
    let mut place = 0;
    for (i, heat) in heat.iter().enumerate() {
        let state = matter.state(*heat, &mut place);
        (nodes.T[i], nodes.c[i], nodes.k[i], nodes.theta[i]) = (state.T, state.c, state.k, state.theta);
    }
    let (watts, theta) = (&mut nodes.watts[..], &nodes.theta[..]);
    let n = heat.len();
    watts.fill(0.0);
    for i in 0..n - 1 {
        let flow = mesh.to_outside[i] * (theta[i + 1] - theta[i]);
        watts[i] += flow;
        watts[i + 1] -= flow;
    }
    for i in 0..n - mesh.across {
        let flow = mesh.to_end[i] * (theta[i + mesh.across] - theta[i]);
        watts[i] += flow;
        watts[i + mesh.across] -= flow;
    }
    nodes.out = 0.0;
    for ((node, area), flux) in mesh.wet.iter().zip(&mut nodes.flux) {
        *flux = surface.flux(nodes.T[*node] - bath);
        let flow = area * flux.0;
        watts[*node] -= flow;
        nodes.out += flow;
    }
}
