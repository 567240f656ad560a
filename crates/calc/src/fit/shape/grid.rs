//! Bush and housing of a seat as two meshes that share their lines at the joint, solved, and what is read off them.

use super::outline::Outline;
use crate::math::PI;
use crate::solve::contact::{Start, Touching, touching};
use crate::solve::elasticity::{Metal, quadratic, side_mass};
use crate::solve::nested_dissection::{Body, Condensed, hoop_force};

/// Both parts on one set of lines along the axis.
#[derive(Clone, Debug)]
pub struct Grid<'o> {
    outline: &'o Outline<'o>,
    bush: Body,
    housing: Body,
    /// The bush's half line of r that is the joint.
    joint: usize,
    /// Elements of the lands: (of the bush, of the housing) along z.
    lands: Vec<(usize, usize)>,
}

/// A part along the joint or along its bore: (z, value) at the nodes, three an element.
type Along = Vec<[(f64, f64); 3]>;

/// What one mesh says.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Close-in along the bore's lands, µm.
    pub close_in: Along,
    /// Mean, largest, least, at the left and right end, µm; an end in a groove has none.
    pub close_in_um: (f64, f64, f64, Option<f64>, Option<f64>),
    /// Pressure along the joint's lands, MPa, never under 0.
    pub pressure: Along,
    /// Force across the joint, kN.
    pub force_kN: f64,
    /// Largest growth of an outside diameter, µm.
    pub growth_um: f64,
    /// Whether some land gapes.
    pub lifted: bool,
    /// Displacements solved for.
    pub unknowns: usize,
    /// Multiplications of all eliminations.
    pub multiplications: u64,
    /// What each node of the joint does: (z, gapes or slides).
    pub joint: Vec<(f64, Start)>,
    /// Rounds of the contact.
    pub rounds: u32,
    /// Whether the contact came to its end.
    pub settled: bool,
    /// Force across the joint, and what hoop stress of bush and housing carries against it, all per radian, N.
    pub balance: Option<(f64, f64, f64)>,
}

impl<'o> Grid<'o> {
    /// The meshes of an outline, halved `halvings` times.
    pub fn new(outline: &'o Outline<'o>, halvings: u32) -> Self {
        let shape = outline.shape;
        let z = outline.lines(halvings);
        let bush =
            body(&z, shape.bush_ends(), outline.bush_radii(halvings), metal(shape.bush.E_GPa, shape.bush.nu), |z| outline.bush_at(z));
        let housing_metal = metal(shape.housing.E_GPa, shape.housing.nu);
        let housing = body(&z, shape.housing_ends(), outline.housing_radii(halvings), housing_metal, |z| outline.housing_at(z));
        let joint = 2 * nearest(&bush.r, 0.5 * shape.housing.bore_mm);
        let mut lands = Vec::new();
        let offset = nearest(&z, bush.z[0]) as isize - nearest(&z, housing.z[0]) as isize;
        for j in 0..bush.along() {
            let in_housing = usize::try_from(j as isize + offset).ok().filter(|k| *k < housing.along());
            if let Some(k) = in_housing
                && outline.is_land(0.5 * (bush.z[j] + bush.z[j + 1]))
            {
                lands.push((j, k));
            }
        }
        Self { outline, bush, housing, joint, lands }
    }

    /// Half lines along z of the joint's nodes: (of the bush, of the housing), rising.
    fn joint_lines(&self) -> Vec<(usize, usize)> {
        let mut lines: Vec<(usize, usize)> =
            self.lands.iter().flat_map(|(j, k)| (0..3).map(move |half| (2 * j + half, 2 * k + half))).collect();
        lines.dedup();
        lines
    }

    /// Solves both parts. None when they are not stiff enough to be told apart from nothing (rounding has eaten the digits).
    /// `before`: what a coarser mesh said, as a start; `weigh`: whether the balance of forces is worked out too.
    pub fn solved(&self, before: Option<&Found>, weigh: bool) -> Option<Found> {
        let shape = self.outline.shape;
        let lines = self.joint_lines();
        let per_node = if shape.stuck { 2 } else { 1 };
        let of = |body: &Body, a: usize, lines: &mut dyn Iterator<Item = usize>| -> Vec<usize> {
            lines.flat_map(|b| (0..per_node).map(move |i| (b, i))).map(|(b, i)| 2 * body.node(a, b) + i).collect()
        };
        let bush_joint = of(&self.bush, self.joint, &mut lines.iter().map(|line| line.0));
        let housing_joint = of(&self.housing, 0, &mut lines.iter().map(|line| line.1));
        // One axial support a part; tied parts hold each other, and two supports would load the ties.
        let (bore, outside) = if weigh { (Vec::new(), Vec::new()) } else { (self.bore(), self.outside()) };
        let bush = Condensed::new(&self.bush, &bush_joint, self.support(&self.bush, 0), &bore)?;
        let held = if shape.stuck { None } else { self.support(&self.housing, 2) };
        let housing = Condensed::new(&self.housing, &housing_joint, held, &outside)?;
        // Half of the interference on the diameter, µm to mm.
        let places: Vec<f64> = lines.iter().map(|line| self.bush.half_line(line.0)).collect();
        let least: Vec<f64> = places.iter().map(|z| shape.interference_at(*z) / 2e3).collect();
        let start: Vec<Start> = places.iter().map(|z| before.map_or(Start::default(), |before| start_at(&before.joint, *z))).collect();
        let joint = touching(&bush, &housing, &least, &start)?;
        let bush_moved = bush.movements(&self.bush, &joint.inner);
        let housing_moved = housing.movements(&self.housing, &joint.outer);
        let balance = weigh.then(|| {
            let force = joint.forces.iter().sum();
            (force, hoop_force(&self.bush, &bush_moved), hoop_force(&self.housing, &housing_moved))
        });
        let close_in = self.close_in(&bush_moved);
        Some(Found {
            close_in_um: self.close_in_figures(&close_in, &bush_moved),
            close_in,
            pressure: self.pressure(&lines, &joint)?,
            force_kN: 2.0 * PI * joint.forces.iter().sum::<f64>() / 1e3,
            growth_um: self.growth(&housing_moved),
            lifted: joint.open.iter().any(|open| *open),
            unknowns: self.bush.unknowns() + self.housing.unknowns(),
            multiplications: bush.multiplications + housing.multiplications + joint.multiplications,
            joint: places
                .into_iter()
                .zip(joint.open.iter().zip(&joint.slides).map(|(open, slides)| Start { open: *open, slides: *slides }))
                .collect(),
            rounds: joint.rounds,
            settled: joint.settled,
            balance,
        })
    }

    /// The axial movement of one node of a body that is not on the joint: `side` 0 the inner corner of its first element, 2 the outer.
    fn support(&self, body: &Body, side: usize) -> Option<usize> {
        let first = (0..body.across()).find(|i| body.has(*i, 0))?;
        Some(2 * body.node(2 * first + side, 0) + 1)
    }

    /// Movements along r of the bush's bore.
    fn bore(&self) -> Vec<usize> {
        let filled = (0..self.bush.along()).filter(|j| self.bush.has(0, *j));
        filled.flat_map(|j| (0..3).map(move |half| 2 * j + half)).map(|b| 2 * self.bush.node(0, b)).collect()
    }

    /// Movements along r of the housing's outsides.
    fn outside(&self) -> Vec<usize> {
        let outer = |j: usize| (0..self.housing.across()).rev().find(|i| self.housing.has(*i, j)).map(|i| (i, j));
        let filled = (0..self.housing.along()).filter_map(outer);
        filled.flat_map(|(i, j)| (0..3).map(move |half| 2 * self.housing.node(2 * i + 2, 2 * j + half))).collect()
    }

    /// Close-in at the nodes of the bore's lands, µm on the diameter.
    fn close_in(&self, moved: &[f64]) -> Along {
        let node = |b: usize| (self.bush.half_line(b), -2e3 * moved[2 * self.bush.node(0, b)]);
        (0..self.bush.along()).filter(|j| self.bush.has(0, *j)).map(|j| [node(2 * j), node(2 * j + 1), node(2 * j + 2)]).collect()
    }

    fn close_in_figures(&self, close_in: &Along, moved: &[f64]) -> (f64, f64, f64, Option<f64>, Option<f64>) {
        let (mut sum, mut length) = (0.0, 0.0);
        for [(low, a), (_, b), (high, c)] in close_in {
            sum += (high - low) * (a + 4.0 * b + c) / 6.0;
            length += high - low;
        }
        let all = || close_in.iter().flatten().map(|node| node.1);
        let last = self.bush.along().saturating_sub(1);
        let end = |j: usize, b: usize| self.bush.has(0, j).then(|| -2e3 * moved[2 * self.bush.node(0, b)]);
        let most = all().fold(f64::NEG_INFINITY, f64::max);
        let least = all().fold(f64::INFINITY, f64::min);
        (sum / length, most, least, end(0, 0), end(last, 2 * last + 2))
    }

    /// Pressure at the nodes of each land from the forces on them, by its mass: M p = force/r.
    fn pressure(&self, lines: &[(usize, usize)], joint: &Touching) -> Option<Along> {
        let r = 0.5 * self.outline.shape.housing.bore_mm;
        let mut along = Along::with_capacity(self.lands.len());
        let mut at = 0;
        for land in self.lands.chunk_by(|a, b| b.0 == a.0 + 1) {
            let nodes = 2 * land.len() + 1;
            let forces: Vec<f64> = joint.forces.get(at..at + nodes)?.iter().map(|force| force / r).collect();
            let heights: Vec<f64> = land.iter().map(|(j, _)| self.bush.z[j + 1] - self.bush.z[*j]).collect();
            let p = spread(&heights, &forces)?;
            for k in 0..land.len() {
                let shut = (0..3).any(|half| !joint.open[at + 2 * k + half]);
                along.push(std::array::from_fn(|half| {
                    let pressure = if shut { p[2 * k + half].max(0.0) } else { 0.0 };
                    (self.bush.half_line(lines[at + 2 * k + half].0), pressure)
                }));
            }
            at += nodes;
        }
        Some(along)
    }

    /// Largest growth of an outside diameter of the housing, µm.
    fn growth(&self, moved: &[f64]) -> f64 {
        self.outside().into_iter().map(|unknown| 2e3 * moved[unknown]).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// What a node at `z` does, from the nodes of a coarser mesh on both sides of it: it gapes or slides where both do.
fn start_at(joint: &[(f64, Start)], z: f64) -> Start {
    let next = joint.partition_point(|(place, _)| *place < z).min(joint.len().saturating_sub(1));
    let (Some(after), Some(before)) = (joint.get(next), joint.get(next.saturating_sub(1))) else { return Start::default() };
    if after.0 <= z { after.1 } else { Start { open: before.1.open && after.1.open, slides: before.1.slides && after.1.slides } }
}

/// The value at `z` of what is known at the nodes of elements; none where there is no element.
pub fn read_at(along: &Along, z: f64) -> Option<f64> {
    let [low, middle, high] = along.iter().find(|element| z >= element[0].0 && z <= element[2].0)?;
    let N = quadratic((z - low.0) / (high.0 - low.0));
    Some(N[0] * low.1 + N[1] * middle.1 + N[2] * high.1)
}

fn metal(E_GPa: f64, nu: f64) -> Metal {
    Metal { E: E_GPa * 1e3, nu }
}

/// A body between `ends` on lines `z` and `r`, with metal where `at` says.
fn body(z: &[f64], ends: (f64, f64), r: Vec<f64>, metal: Metal, at: impl Fn(f64) -> Option<(f64, f64)>) -> Body {
    let (first, last) = (nearest(z, ends.0), nearest(z, ends.1));
    let z = z[first..=last].to_vec();
    let mut metal_at = Vec::with_capacity(r.len() * z.len());
    for rise in z.windows(2) {
        let reach = at(0.5 * (rise[0] + rise[1]));
        for across in r.windows(2) {
            let middle = 0.5 * (across[0] + across[1]);
            metal_at.push(reach.is_some_and(|(inside, outside)| middle > inside && middle < outside));
        }
    }
    Body { r, z, metal_at, metal }
}

/// The line that is nearest to `place`.
fn nearest(lines: &[f64], place: f64) -> usize {
    let next = lines.partition_point(|line| *line < place).min(lines.len().saturating_sub(1));
    match next.checked_sub(1) {
        Some(before) if place - lines[before] < lines[next] - place => before,
        _ => next,
    }
}

/// Solves M p = f for quadratic sides of these lengths end to end: a symmetric matrix with two bands below its diagonal.
fn spread(heights: &[f64], forces: &[f64]) -> Option<Vec<f64>> {
    let n = forces.len();
    // Row i: its diagonal, and what it has in common with i − 1 and i − 2.
    let mut M = vec![[0.0; 3]; n];
    for (k, h) in heights.iter().enumerate() {
        let mass = side_mass(*h);
        for i in 0..3 {
            for j in 0..=i {
                M[2 * k + i][i - j] += mass[i][j];
            }
        }
    }
    let mut p = forces.to_vec();
    for i in 0..n {
        for back in (1..=i.min(2)).rev() {
            let j = i - back;
            let mut value = M[i][back];
            if back == 1 && i >= 2 {
                value -= M[i][2] * M[j][1];
            }
            M[i][back] = value * M[j][0];
        }
        let lost: f64 = M[i][1] * M[i][1] + M[i][2] * M[i][2];
        let pivot = M[i][0] - lost;
        if pivot.is_nan() || pivot <= 0.0 {
            return None;
        }
        M[i][0] = 1.0 / pivot.sqrt();
        let known: f64 = (1..=i.min(2)).map(|back| M[i][back] * p[i - back]).sum();
        p[i] = (p[i] - known) * M[i][0];
    }
    for i in (0..n).rev() {
        let known: f64 = (1..=2).filter(|ahead| i + ahead < n).map(|ahead| M[i + ahead][ahead] * p[i + ahead]).sum();
        p[i] = (p[i] - known) * M[i][0];
    }
    Some(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forces_of_a_parabola_of_pressure_give_it_back() {
        let heights = [1.0, 0.25, 0.5, 2.0];
        let mut z = vec![0.0];
        heights.iter().for_each(|h| z.extend([z[z.len() - 1] + h / 2.0, z[z.len() - 1] + h]));
        let pressure: Vec<f64> = z.iter().map(|z| 3.0 + 2.0 * z - z * z / 4.0).collect();
        let mut forces = vec![0.0; z.len()];
        for (k, h) in heights.iter().enumerate() {
            let mass = side_mass(*h);
            for i in 0..3 {
                forces[2 * k + i] += (0..3).map(|j| mass[i][j] * pressure[2 * k + j]).sum::<f64>();
            }
        }
        let found = spread(&heights, &forces).unwrap();
        assert!(found.iter().zip(&pressure).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?} {pressure:?}");
    }
}
