//! A ring cut in finite volumes: nodes across the wall and along half the length, with the volume, wet area and conductance of each.
//!
//! Vertex-centred: nodes stand on the surfaces, so a flux is a function of a node. Half the length by symmetry; a ring with dry ends has
//! one column. Figures are of the whole ring, so that sums over the nodes are its mass and its area.
//! Source: the balance of a control volume; any text on finite volumes (Incropera ch. 4 and 5).

use crate::math::{PI, sin, sq};

/// A ring, or a pin when its bore is 0. In metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Diameter outside.
    pub outside: f64,
    /// Diameter of the bore.
    pub bore: f64,
    /// Whole length.
    pub length: f64,
}

impl Ring {
    /// Volume, m³.
    pub fn volume(&self) -> f64 {
        self.section() * self.length
    }

    /// Area of the section, m².
    pub fn section(&self) -> f64 {
        PI / 4.0 * (sq(self.outside) - sq(self.bore))
    }

    /// Wet area, m².
    pub fn wet_area(&self, wet: Wet) -> f64 {
        let bore = if wet.bore { PI * self.bore * self.length } else { 0.0 };
        let ends = if wet.ends { 2.0 * self.section() } else { 0.0 };
        PI * self.outside * self.length + bore + ends
    }

    /// The way heat has to come from the middle: half the wall if both sides are wet, the wall if one is, half the diameter of a pin.
    pub fn depth(&self, wet: Wet) -> f64 {
        let wall = (self.outside - self.bore) / 2.0;
        if wet.bore && self.bore > 0.0 { wall / 2.0 } else { wall }
    }
}

/// Which surfaces are wet; the outside always is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wet {
    /// The bore.
    pub bore: bool,
    /// Both ends.
    pub ends: bool,
}

/// Intervals across the wall and along half the length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fineness {
    /// Across the wall.
    pub across: usize,
    /// Along half the length; not used when the ends are dry.
    pub along: usize,
}

impl Fineness {
    /// Twice as many both ways.
    pub fn halved(self) -> Self {
        Self { across: 2 * self.across, along: 2 * self.along }
    }
}

/// Spacing at a wet face beside the mean spacing: 1 − this.
const CROWDING: f64 = 0.4;

/// The nodes of a ring. Node `column × across + i` is the i-th from the bore, columns from mid-length to the end.
#[derive(Clone, Debug)]
pub struct Mesh {
    /// Nodes of a column.
    pub across: usize,
    /// Columns.
    pub along: usize,
    /// Volume of each node, m³.
    pub volume: Vec<f64>,
    /// Conductance over conductivity to the next node across, m; 0 at the outside.
    pub to_outside: Vec<f64>,
    /// The same to the next node along; 0 at the end.
    pub to_end: Vec<f64>,
    /// Wet nodes and their wet area, m².
    pub wet: Vec<(usize, f64)>,
}

impl Mesh {
    /// Cuts a ring.
    pub fn new(ring: &Ring, wet: Wet, fineness: Fineness) -> Self {
        let r = radii(ring, wet, fineness.across);
        let half = ring.length / 2.0;
        let z = if wet.ends { lengths(ring, fineness.along) } else { vec![0.0] };
        let (across, along) = (r.len(), z.len());
        // 2π and both halves.
        let whole = 4.0 * PI;
        let sections = shares(&r, ring.bore / 2.0, ring.outside / 2.0, |low, high| (sq(high) - sq(low)) / 2.0);
        let lengths = shares(&z, 0.0, half, |low, high| high - low);
        let mut mesh = Self { across, along, volume: Vec::new(), to_outside: Vec::new(), to_end: Vec::new(), wet: Vec::new() };
        for j in 0..along {
            for i in 0..across {
                let next_r = r.get(i + 1).map_or(0.0, |next| (next + r[i]) / 2.0 / (next - r[i]));
                let next_z = z.get(j + 1).map_or(0.0, |next| 1.0 / (next - z[j]));
                let sides = [(i + 1 == across, ring.outside / 2.0), (i == 0 && wet.bore, ring.bore / 2.0)];
                let side: f64 = sides.iter().filter(|(here, _)| *here).map(|(_, r)| r * lengths[j]).sum();
                let end = if wet.ends && j + 1 == along { sections[i] } else { 0.0 };
                if side + end > 0.0 {
                    mesh.wet.push((mesh.volume.len(), whole * (side + end)));
                }
                mesh.volume.push(whole * sections[i] * lengths[j]);
                mesh.to_outside.push(whole * next_r * lengths[j]);
                mesh.to_end.push(whole * next_z * sections[i]);
            }
        }
        mesh
    }

    /// Radius of each node of a column, m.
    pub fn radii(&self, ring: &Ring, wet: Wet) -> Vec<f64> {
        radii(ring, wet, self.across - 1)
    }

    /// Place of each column from mid-length, m.
    pub fn lengths(&self, ring: &Ring) -> Vec<f64> {
        if self.along > 1 { lengths(ring, self.along - 1) } else { vec![0.0] }
    }

    /// Nodes.
    pub fn nodes(&self) -> usize {
        self.volume.len()
    }

    /// How far apart neighbours are numbered.
    pub fn half_width(&self) -> usize {
        if self.along > 1 { self.across } else { 1 }
    }
}

fn radii(ring: &Ring, wet: Wet, intervals: usize) -> Vec<f64> {
    let wall = (ring.outside - ring.bore) / 2.0;
    stations(intervals, wet.bore && ring.bore > 0.0).iter().map(|x| ring.bore / 2.0 + wall * x).collect()
}

fn lengths(ring: &Ring, intervals: usize) -> Vec<f64> {
    stations(intervals, false).iter().map(|x| ring.length / 2.0 * x).collect()
}

/// Places from 0 to 1, closer together at 1, and at 0 too where both faces are wet.
fn stations(intervals: usize, both: bool) -> Vec<f64> {
    let places = (0..=intervals).map(|i| {
        let x = i as f64 / intervals as f64;
        if both { x - CROWDING * sin(2.0 * PI * x) / (2.0 * PI) } else { x + CROWDING * sin(PI * x) / PI }
    });
    places.collect()
}

/// The share of each node: from the middle to the one before to the middle to the one after.
fn shares(places: &[f64], first: f64, last: f64, of: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    let middle = |i: usize| (places[i] + places[i + 1]) / 2.0;
    let low = |i: usize| if i == 0 { first } else { middle(i - 1) };
    let high = |i: usize| if i + 1 == places.len() { last } else { middle(i) };
    (0..places.len()).map(|i| of(low(i), high(i))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volumes_and_areas_add_up_to_the_ring() {
        for (bore, ring_bore_wet, ends) in
            [(0.2, true, true), (0.2, false, true), (0.0, true, true), (0.2, true, false), (0.0, true, false)]
        {
            let ring = Ring { outside: 0.24, bore, length: 0.15 };
            let wet = Wet { bore: ring_bore_wet, ends };
            let mesh = Mesh::new(&ring, wet, Fineness { across: 7, along: 9 });
            assert!((mesh.volume.iter().sum::<f64>() / ring.volume() - 1.0).abs() < 1e-12);
            assert!((mesh.wet.iter().map(|(_, area)| area).sum::<f64>() / ring.wet_area(wet) - 1.0).abs() < 1e-12);
            assert_eq!(mesh.nodes(), if ends { 80 } else { 8 });
        }
    }
}
