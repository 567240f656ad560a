//! Where two bodies touch along a joint, and with what force: a joint that presses or gapes, and never pulls.
//!
//! Both bodies come with everything but the joint eliminated. With `d` what the outer one moves more than the inner one, the energy of both
//! is ½ dᵀ T d with T = S_o − S_o (S_i + S_o)⁻¹ S_o, and the joint wants d ≥ g, T d ≥ 0 and one of both equal at each node. Starting with
//! all nodes closed, only the few that gape are solved for. Nodes change sides all at once while that helps and else one at a time, the last
//! first (Murty 1974, Júdice and Pires 1994, from memory): for a T that is positive definite it comes to an end. [`ROUNDS`] is the limit.
//!
//! With two unknowns a node (no slip) a node that presses is tied along the joint as well, and one that gapes is free. That is no minimum of
//! an energy, and there may be no such state. So when the search goes in circles, a node that has gaped once stays free along the joint:
//! the tied ones only become fewer, the others are a problem as above, and that comes to an end. [`Touching::slides`] says which.

use crate::solve::dense::{Front, padded};
use crate::solve::nested_dissection::Condensed;

/// Rounds at most.
pub const ROUNDS: u32 = 400;
/// Rounds in which all nodes may change at once without the number of wrong ones falling.
const PATIENCE: u32 = 8;
/// Rounds after which a tied joint is taken to go in circles.
const CIRCLES: u32 = 40;
/// Multiplications of all rounds at most: some tenths of a second.
const MOST_WORK: u64 = 1_500_000_000;
/// A force or gap under this share of the largest is rounding.
const ROUNDING: f64 = 1e-11;

/// The joint of two bodies.
#[derive(Clone, Debug)]
pub struct Touching {
    /// Movements of the inner body's joint.
    pub inner: Vec<f64>,
    /// Movements of the outer body's joint.
    pub outer: Vec<f64>,
    /// Force across the joint on the outer body at each node, never under 0.
    pub forces: Vec<f64>,
    /// Which nodes gape.
    pub open: Vec<bool>,
    /// Which nodes have gaped and are not tied any more, where the joint was to be.
    pub slides: Vec<bool>,
    /// Rounds that were made.
    pub rounds: u32,
    /// Whether no node wanted to change any more.
    pub settled: bool,
    /// Multiplications of the joint's own front.
    pub multiplications: u64,
}

/// What a node of the joint does, as a start of the search.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Start {
    /// It gapes.
    pub open: bool,
    /// It has gaped and stays free along the joint.
    pub slides: bool,
}

/// Finds the joint of `inner` and `outer`: at node k they must be `least[k]` apart at least. `start`: one a node, a guess.
///
/// None when the bodies are not stiff (not positive definite). At least one `least` must be over 0 where nodes have two unknowns, else
/// nothing ties the bodies.
pub fn touching(inner: &Condensed, outer: &Condensed, least: &[f64], start: &[Start]) -> Option<Touching> {
    let unknowns = inner.joint.len();
    let per_node = unknowns / least.len().max(1);
    let (front, T) = joined(inner, outer, unknowns)?;
    let slides: Vec<bool> = start.iter().map(|start| start.slides).collect();
    let open = start.iter().map(|start| start.open).collect();
    let released = per_node == 1 || slides.contains(&true);
    let mut joint = Joint { T, unknowns, per_node, least, open, slides, released, fewest: usize::MAX, patience: PATIENCE, work: 0 };
    let (mut d, mut settled, mut rounds) = (joint.opened()?, false, 1);
    while rounds < ROUNDS && joint.work < MOST_WORK {
        settled = !joint.change(&d, rounds);
        if settled {
            break;
        }
        d = joint.opened()?;
        rounds += 1;
    }
    let forces = joint.forces(&d);
    let forces = (0..least.len()).map(|node| if joint.open[node] { 0.0 } else { forces[node * per_node].max(0.0) }).collect();
    let mut x = vec![0.0; front.inner() + padded(unknowns)];
    x[front.inner()..front.inner() + unknowns].copy_from_slice(&d);
    front.substitute(&mut x);
    let moved: Vec<f64> = x[..unknowns].iter().zip(&d).map(|(x, d)| x + d).collect();
    x.truncate(unknowns);
    let multiplications = front.multiplications() + joint.work;
    Some(Touching { inner: x, outer: moved, forces, open: joint.open, slides: joint.slides, rounds, settled, multiplications })
}

/// The front of the joint (movements of the inner body eliminated), and T.
fn joined(inner: &Condensed, outer: &Condensed, unknowns: usize) -> Option<(Front, Vec<f64>)> {
    let mut front = Front::new(unknowns, unknowns);
    let first = front.inner();
    inner.rest.each(unknowns, |row, column, value| front.add(row, column, value));
    outer.rest.each(unknowns, |row, column, value| {
        front.add(row, column, value);
        front.add(first + row, first + column, value);
        front.add(first + row, column, value);
        if row != column {
            front.add(first + column, row, value);
        }
    });
    if !front.eliminate() {
        return None;
    }
    let mut T = vec![0.0; unknowns * unknowns];
    front.take_rest().each(unknowns, |row, column, value| {
        T[row * unknowns + column] = value;
        T[column * unknowns + row] = value;
    });
    Some((front, T))
}

struct Joint<'l> {
    T: Vec<f64>,
    unknowns: usize,
    per_node: usize,
    least: &'l [f64],
    open: Vec<bool>,
    /// Nodes that are free along the joint though they may press.
    slides: Vec<bool>,
    /// Whether nodes that gape become free along the joint for good.
    released: bool,
    fewest: usize,
    patience: u32,
    work: u64,
}

impl Joint<'_> {
    /// What keeps each unknown of a closed joint apart.
    fn closed(&self) -> Vec<f64> {
        (0..self.unknowns).map(|k| if k % self.per_node == 0 { self.least[k / self.per_node] } else { 0.0 }).collect()
    }

    /// How far apart the bodies are when the open nodes feel no force.
    fn opened(&mut self) -> Option<Vec<f64>> {
        let mut d = self.closed();
        let is_free = |k: usize| self.open[k / self.per_node] || (!k.is_multiple_of(self.per_node) && self.slides[k / self.per_node]);
        let free: Vec<usize> = (0..self.unknowns).filter(|k| is_free(*k)).collect();
        if free.is_empty() {
            return Some(d);
        }
        let forces = self.forces(&d);
        let mut front = Front::new(free.len(), 1);
        let last = front.inner();
        for (i, row) in free.iter().enumerate() {
            for (j, column) in free.iter().enumerate().take(i + 1) {
                front.add(i, j, self.T[row * self.unknowns + column]);
            }
            front.add(last, i, forces[*row]);
        }
        self.work += front.multiplications() + (self.unknowns * self.unknowns) as u64;
        if !front.eliminate() {
            return None;
        }
        // With 1 on the outside, what substitution gives is T⁻¹ times the outer column, turned round.
        let mut x = vec![0.0; last + padded(1)];
        x[last] = 1.0;
        front.substitute(&mut x);
        free.iter().zip(&x).for_each(|(k, gap)| d[*k] += gap);
        Some(d)
    }

    /// Forces on the outer body: T d.
    fn forces(&self, d: &[f64]) -> Vec<f64> {
        self.T.chunks_exact(self.unknowns.max(1)).map(|row| row.iter().zip(d).map(|(t, d)| t * d).sum()).collect()
    }

    /// Lets nodes that are wrong change sides; false when there are none.
    fn change(&mut self, d: &[f64], rounds: u32) -> bool {
        let mut wrong = self.wrong(d);
        if wrong.is_empty() {
            return false;
        }
        if !self.released && rounds == CIRCLES {
            self.released = true;
            self.slides.clone_from(&self.open);
            (self.fewest, self.patience) = (usize::MAX, PATIENCE);
        }
        if self.released && self.per_node > 1 {
            // First those that slide among themselves; then the tied ones that pull are let go, for good.
            let sliding: Vec<usize> = wrong.iter().copied().filter(|node| self.slides[*node]).collect();
            if sliding.is_empty() {
                wrong.iter().for_each(|node| (self.open[*node], self.slides[*node]) = (true, true));
                (self.fewest, self.patience) = (usize::MAX, PATIENCE);
                return true;
            }
            wrong = sliding;
        }
        if wrong.len() < self.fewest {
            (self.fewest, self.patience) = (wrong.len(), PATIENCE);
        } else {
            self.patience = self.patience.saturating_sub(1);
        }
        let changed = if self.patience > 0 { &wrong[..] } else { &wrong[wrong.len() - 1..] };
        changed.iter().for_each(|node| self.open[*node] ^= true);
        true
    }

    /// Nodes that pull, and nodes that overlap, in their order.
    fn wrong(&self, d: &[f64]) -> Vec<usize> {
        let forces = self.forces(d);
        let largest = |list: &mut dyn Iterator<Item = f64>| list.fold(0.0, |most: f64, x| most.max(x.abs()));
        let force = ROUNDING * largest(&mut forces.iter().copied());
        let gap = ROUNDING * largest(&mut self.least.iter().copied());
        let at = |node: usize| node * self.per_node;
        let pulls = |node: usize| !self.open[node] && forces[at(node)] < -force;
        let overlaps = |node: usize| self.open[node] && d[at(node)] - self.least[node] < -gap;
        (0..self.least.len()).filter(|node| pulls(*node) || overlaps(*node)).collect()
    }
}
