//! Where two bodies touch along a joint, and with what force: a joint that presses or gapes, and never pulls.
//!
//! Both bodies come with everything but the joint eliminated. With `d` what the outer one moves more than the inner one, the energy of both
//! is ½ dᵀ T d with T = S_o − S_o (S_i + S_o)⁻¹ S_o, and the joint wants d ≥ g, T d ≥ 0 and one of both equal at each node. Starting with
//! all nodes closed, only the few that gape are solved for. Nodes change sides all at once while that helps and else one at a time, the last
//! first (Murty 1974, Júdice and Pires 1994, from memory): for a T that is positive definite it comes to an end. [`ROUNDS`] is the limit.
//!
//! With two unknowns a node (no slip) a node that gapes is free along the joint as well, and one that presses is tied. That is no
//! minimum of an energy; it ends where no node wants to change, or at the limit, and [`Touching::settled`] says which.

use crate::solve::dense::{Front, padded};
use crate::solve::nested_dissection::Condensed;

/// Rounds at most.
pub const ROUNDS: u32 = 400;
/// Rounds in which all nodes may change at once without the number of wrong ones falling.
const PATIENCE: u32 = 8;
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
    /// Rounds that were made.
    pub rounds: u32,
    /// Whether no node wanted to change any more.
    pub settled: bool,
    /// Multiplications of the joint's own front.
    pub multiplications: u64,
}

/// Finds the joint of `inner` and `outer`: at node k they must be `least[k]` apart at least. `open`: where it may gape, as a start.
///
/// None when the bodies are not stiff (not positive definite). At least one `least` must be over 0 where nodes have two unknowns, else
/// nothing ties the bodies.
pub fn touching(inner: &Condensed, outer: &Condensed, least: &[f64], open: Vec<bool>) -> Option<Touching> {
    let unknowns = inner.joint.len();
    let per_node = unknowns / least.len().max(1);
    let (front, T) = joined(inner, outer, unknowns)?;
    let mut joint = Joint { T, unknowns, per_node, least, open };
    let (mut d, mut settled, mut rounds) = (joint.opened()?, false, 1);
    let (mut fewest, mut patience) = (usize::MAX, PATIENCE);
    while rounds < ROUNDS {
        let wrong = joint.wrong(&d);
        if wrong.is_empty() {
            settled = true;
            break;
        }
        if wrong.len() < fewest {
            (fewest, patience) = (wrong.len(), PATIENCE);
        } else {
            patience = patience.saturating_sub(1);
        }
        let changed = if patience > 0 { &wrong[..] } else { &wrong[wrong.len() - 1..] };
        changed.iter().for_each(|node| joint.open[*node] ^= true);
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
    Some(Touching { inner: x, outer: moved, forces, open: joint.open, rounds, settled, multiplications: front.multiplications() })
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
}

impl Joint<'_> {
    /// What keeps each unknown of a closed joint apart.
    fn closed(&self) -> Vec<f64> {
        (0..self.unknowns).map(|k| if k % self.per_node == 0 { self.least[k / self.per_node] } else { 0.0 }).collect()
    }

    /// How far apart the bodies are when the open nodes feel no force.
    fn opened(&self) -> Option<Vec<f64>> {
        let mut d = self.closed();
        let free: Vec<usize> = (0..self.unknowns).filter(|k| self.open[k / self.per_node]).collect();
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
