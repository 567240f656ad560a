//! What a body on a structured mesh feels like at its joint: all other unknowns eliminated, in the order that costs least.
//!
//! The body is cut in two, each half again, down to a few elements; the unknowns on a cut are eliminated after both sides (George 1973,
//! nested dissection; Duff and Reid 1983, multifrontal; both from memory). Unknowns of the joint stay to the last. Nothing but the joint
//! is loaded, so there is no forward sweep, and the way back is one product a front.
//! The factorisation is ours because its bits must be the same on every processor: the library that was weighed picks other, fused
//! instructions on other machines, and is minutes of build for each program that calls it. With the joint kept to the last the contact
//! becomes a small dense problem as well, which no general solver gives.

use crate::solve::dense::{Front, Rest, Room, padded};
use crate::solve::elasticity::{Between, Metal, NODES, UNKNOWNS};

/// Elements of the smallest pieces.
const PIECE: usize = 4;
/// An unknown that is not in the front at hand.
const NOWHERE: u32 = u32::MAX;

/// A body of revolution on lines of r and z; some of its rectangles are empty.
#[derive(Clone, Debug)]
pub struct Body {
    /// Lines along r, rising.
    pub r: Vec<f64>,
    /// Lines along z, rising.
    pub z: Vec<f64>,
    /// Whether there is metal between lines i, i + 1 of r and j, j + 1 of z, at `i + j (r.len() − 1)`.
    pub metal_at: Vec<bool>,
    /// Its metal.
    pub metal: Metal,
}

impl Body {
    /// Rectangles along r.
    pub fn across(&self) -> usize {
        self.r.len().saturating_sub(1)
    }
    /// Rectangles along z.
    pub fn along(&self) -> usize {
        self.z.len().saturating_sub(1)
    }
    /// Whether there is metal in rectangle (i, j).
    pub fn has(&self, i: usize, j: usize) -> bool {
        i < self.across() && j < self.along() && self.metal_at[i + j * self.across()]
    }
    /// Number of the node at half lines (a, b).
    pub fn node(&self, a: usize, b: usize) -> usize {
        a + b * (2 * self.across() + 1)
    }
    /// All places for nodes, filled or not.
    pub fn nodes(&self) -> usize {
        (2 * self.across() + 1) * (2 * self.along() + 1)
    }
    /// z of half line b.
    pub fn half_line(&self, b: usize) -> f64 {
        if b.is_multiple_of(2) { self.z[b / 2] } else { 0.5 * (self.z[b / 2] + self.z[b / 2 + 1]) }
    }
    /// Displacements that the mesh has, middle nodes included.
    pub fn unknowns(&self) -> usize {
        let width = 2 * self.across() + 1;
        let filled = |node: usize| self.around(node % width, node / width).next().is_some();
        2 * (0..self.nodes()).filter(|node| filled(*node)).count()
    }
    /// The filled rectangles that share the node at half lines (a, b).
    fn around(&self, a: usize, b: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let sides = |half: usize| half.saturating_sub(1) / 2..=half / 2;
        sides(b).flat_map(move |j| sides(a).map(move |i| (i, j))).filter(|(i, j)| self.has(*i, *j))
    }
}

/// What becomes of an unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fate {
    Eliminated,
    Kept,
    Held,
}

/// One front with its unknowns.
#[derive(Clone, Debug)]
struct Step {
    front: Front,
    inner: Vec<u32>,
    outer: Vec<u32>,
}

/// A body whose unknowns are eliminated up to its joint. Unknown `2 node` is the movement along r, `2 node + 1` along z.
#[derive(Clone, Debug)]
pub struct Condensed {
    steps: Vec<Step>,
    /// The unknowns of the joint, by number.
    pub joint: Vec<u32>,
    /// What the body opposes to movements of the joint.
    pub rest: Rest,
    /// Multiplications that were made.
    pub multiplications: u64,
}

impl Condensed {
    /// Eliminates all unknowns of `body` but `joint`; `held` doesn't move. None when it is not positive definite.
    /// `wanted`: the unknowns that will be asked for; what only others need is not kept. Empty: all are wanted.
    pub fn new(body: &Body, joint: &[usize], held: Option<usize>, wanted: &[usize]) -> Option<Self> {
        let mut fates = vec![Fate::Eliminated; 2 * body.nodes()];
        joint.iter().for_each(|unknown| fates[*unknown] = Fate::Kept);
        if let Some(held) = held {
            fates[held] = Fate::Held;
        }
        let columns = body.r.windows(2).map(|pair| Between::new(body.metal, pair[0], pair[1])).collect();
        let mut asked = vec![wanted.is_empty(); 2 * body.nodes()];
        wanted.iter().for_each(|unknown| asked[*unknown] = true);
        let places = vec![NOWHERE; 2 * body.nodes()];
        let mut cutting = Cutting { body, columns, fates, asked, places, steps: Vec::new(), room: Room::default(), multiplications: 0 };
        let whole = Piece { i: (0, body.across()), j: (0, body.along()) };
        let left = cutting.cut(whole)??;
        Some(Self { steps: cutting.steps, joint: left.unknowns, rest: left.rest, multiplications: cutting.multiplications })
    }

    /// Movements of the unknowns that were wanted (never of middle nodes), from those of the joint (in the order of `joint`).
    pub fn movements(&self, body: &Body, joint: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; 2 * body.nodes()];
        for (unknown, value) in self.joint.iter().zip(joint) {
            x[*unknown as usize] = *value;
        }
        let mut local = Vec::new();
        for step in self.steps.iter().rev() {
            let first = step.front.inner();
            local.clear();
            local.resize(first + padded(step.outer.len()), 0.0);
            for (local, unknown) in local[first..].iter_mut().zip(&step.outer) {
                *local = x[*unknown as usize];
            }
            step.front.substitute(&mut local);
            for (value, unknown) in local.iter().zip(&step.inner) {
                x[*unknown as usize] = *value;
            }
        }
        x
    }
}

/// Sum of the forces along r that the movements `x` need: what hoop stress carries, `∫ σ_θ dA`, a radian.
///
/// In balance it is what presses on the body from inside less what presses from outside.
pub fn hoop_force(body: &Body, x: &[f64]) -> f64 {
    let mut sum = 0.0;
    for i in 0..body.across() {
        let column = Between::new(body.metal, body.r[i], body.r[i + 1]);
        for j in (0..body.along()).filter(|j| body.has(i, *j)) {
            let K = column.stiffness(body.z[j + 1] - body.z[j]);
            let at = |n: usize| x[2 * body.node(2 * i + NODES[n / 2].0, 2 * j + NODES[n / 2].1) + n % 2];
            for row in (0..UNKNOWNS).step_by(2) {
                sum += (0..UNKNOWNS).map(|n| K[row.max(n)][row.min(n)] * at(n)).sum::<f64>();
            }
        }
    }
    sum
}

/// Rectangles i.0..i.1 along r, j.0..j.1 along z.
#[derive(Clone, Copy)]
struct Piece {
    i: (usize, usize),
    j: (usize, usize),
}

/// What is left of a piece: its unknowns that others need, and what it opposes to them.
struct Left {
    unknowns: Vec<u32>,
    rest: Rest,
}

struct Cutting<'b> {
    body: &'b Body,
    columns: Vec<Between>,
    fates: Vec<Fate>,
    /// What is wanted, and what is needed to find it.
    asked: Vec<bool>,
    places: Vec<u32>,
    steps: Vec<Step>,
    room: Room,
    multiplications: u64,
}

impl Cutting<'_> {
    /// Eliminates what a piece alone decides. Outer none: not positive definite; inner none: an empty piece.
    fn cut(&mut self, piece: Piece) -> Option<Option<Left>> {
        let (wide, long) = (piece.i.1 - piece.i.0, piece.j.1 - piece.j.0);
        if wide * long <= PIECE {
            return self.smallest(piece);
        }
        let (first, second) = if wide > long {
            let middle = piece.i.0 + wide / 2;
            (Piece { i: (piece.i.0, middle), ..piece }, Piece { i: (middle, piece.i.1), ..piece })
        } else {
            let middle = piece.j.0 + long / 2;
            (Piece { j: (piece.j.0, middle), ..piece }, Piece { j: (middle, piece.j.1), ..piece })
        };
        match (self.cut(first)?, self.cut(second)?) {
            (Some(first), Some(second)) => self.join(piece, first, second).map(Some),
            (one, other) => Some(one.or(other)),
        }
    }

    fn smallest(&mut self, piece: Piece) -> Option<Option<Left>> {
        let body = self.body;
        let filled: Vec<(usize, usize)> =
            (piece.j.0..piece.j.1).flat_map(|j| (piece.i.0..piece.i.1).map(move |i| (i, j))).filter(|(i, j)| body.has(*i, *j)).collect();
        if filled.is_empty() {
            return Some(None);
        }
        let numbers = |(i, j): (usize, usize)| -> [u32; UNKNOWNS] {
            std::array::from_fn(|n| (2 * body.node(2 * i + NODES[n / 2].0, 2 * j + NODES[n / 2].1) + n % 2) as u32)
        };
        let mut unknowns: Vec<u32> = filled.iter().flat_map(|cell| numbers(*cell)).collect();
        unknowns.sort_unstable();
        unknowns.dedup();
        let (mut front, inner, outer) = self.open(piece, &unknowns);
        for (i, j) in filled {
            let K = self.columns[i].stiffness(body.z[j + 1] - body.z[j]);
            let places = numbers((i, j)).map(|unknown| self.places[unknown as usize]);
            for (m, row) in places.iter().enumerate() {
                for (n, column) in places.iter().enumerate().take(m + 1) {
                    if *row != NOWHERE && *column != NOWHERE {
                        front.add(*row.max(column) as usize, *row.min(column) as usize, K[m][n]);
                    }
                }
            }
        }
        self.close(front, inner, outer).map(Some)
    }

    fn join(&mut self, piece: Piece, first: Left, second: Left) -> Option<Left> {
        let unknowns = merged(&first.unknowns, &second.unknowns);
        let (mut front, inner, outer) = self.open(piece, &unknowns);
        for left in [first, second] {
            let places: Vec<u32> = left.unknowns.iter().map(|unknown| self.places[*unknown as usize]).collect();
            left.rest.add_to(&mut front, &places);
            left.rest.forget(&mut self.room);
        }
        self.close(front, inner, outer)
    }

    /// An empty front for `unknowns` (rising), those to eliminate and those that stay; `places` says where each is.
    fn open(&mut self, piece: Piece, unknowns: &[u32]) -> (Front, Vec<u32>, Vec<u32>) {
        let (mut inner, mut outer) = (Vec::with_capacity(unknowns.len()), Vec::with_capacity(unknowns.len()));
        for unknown in unknowns {
            match self.fates[*unknown as usize] {
                Fate::Held => {}
                Fate::Eliminated if self.alone(piece, *unknown as usize / 2) => inner.push(*unknown),
                _ => outer.push(*unknown),
            }
        }
        let front = Front::within(&mut self.room, inner.len(), outer.len());
        for (place, unknown) in inner.iter().enumerate() {
            self.places[*unknown as usize] = place as u32;
        }
        for (place, unknown) in outer.iter().enumerate() {
            self.places[*unknown as usize] = (front.inner() + place) as u32;
        }
        (front, inner, outer)
    }

    fn close(&mut self, mut front: Front, inner: Vec<u32>, outer: Vec<u32>) -> Option<Left> {
        if !front.eliminate() {
            return None;
        }
        self.multiplications += front.multiplications();
        let rest = front.take_rest();
        if !inner.iter().any(|unknown| self.asked[*unknown as usize]) {
            front.forget(&mut self.room);
            return Some(Left { unknowns: outer, rest });
        }
        outer.iter().for_each(|unknown| self.asked[*unknown as usize] = true);
        self.steps.push(Step { front, inner, outer: outer.clone() });
        Some(Left { unknowns: outer, rest })
    }

    /// Whether no metal outside the piece shares the node.
    fn alone(&self, piece: Piece, node: usize) -> bool {
        let width = 2 * self.body.across() + 1;
        let (a, b) = (node % width, node / width);
        if a > 2 * piece.i.0 && a < 2 * piece.i.1 && b > 2 * piece.j.0 && b < 2 * piece.j.1 {
            return true;
        }
        self.body.around(a, b).all(|(i, j)| i >= piece.i.0 && i < piece.i.1 && j >= piece.j.0 && j < piece.j.1)
    }
}

/// Two rising lists as one, each number once.
fn merged(first: &[u32], second: &[u32]) -> Vec<u32> {
    let mut all = Vec::with_capacity(first.len() + second.len());
    let (mut i, mut j) = (0, 0);
    while i < first.len() && j < second.len() {
        all.push(first[i].min(second[j]));
        let (a, b) = (first[i], second[j]);
        i += usize::from(a <= b);
        j += usize::from(b <= a);
    }
    all.extend_from_slice(&first[i..]);
    all.extend_from_slice(&second[j..]);
    all
}
