//! The temperatures over half a section of a ring at one moment, for a picture: even steps across the wall and along the length.
//!
//! On the first mesh of the transient, whose times are good to some tenths of a percent; what the picture shows is good to about a
//! kelvin of the hundred and more between start and bath.

use super::exchange::Surface;
use super::march::March;
use super::matter::Matter;
use super::mesh::{Mesh, Ring};
use super::{MOST_STEPS, STEP_ERROR, Task, first_cut};

/// Points across the wall and along half the length.
const ACROSS: usize = 9;
const ALONG: usize = 13;

/// Half a section.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Radii from the bore, m.
    pub r: Vec<f64>,
    /// Places from mid-length to the end, m.
    pub z: Vec<f64>,
    /// Temperatures, °C: a row a radius, a column a place.
    pub T: Vec<Vec<f64>>,
}

/// The section after `t` seconds; none where that takes more than the limit of steps.
pub fn section_at(task: &Task, t: f64) -> Option<Section> {
    let cut = first_cut(task);
    let (matter, surface) = (Matter::new(&task.metal), Surface::new(task.exchange));
    let mesh = Mesh::new(&task.ring, task.wet, cut);
    let mut march = March::new(&mesh, &matter, &surface, task.metal.density, task.start, task.bath);
    let mut dt = march.first_step(STEP_ERROR * (task.start - task.bath).abs());
    while march.time < t && f64::from(march.steps + march.rejected) < MOST_STEPS {
        let tolerance = STEP_ERROR * march.distance().max(0.1 * task.within);
        dt = march.advance(dt.min(t - march.time), tolerance)?;
    }
    (march.time >= t * (1.0 - 1e-9)).then(|| read(&march, &mesh, task))
}

fn read(march: &March, mesh: &Mesh, task: &Task) -> Section {
    let Ring { outside, bore, length } = task.ring;
    let (r_nodes, z_nodes) = (mesh.radii(&task.ring, task.wet), mesh.lengths(&task.ring));
    let even = |from: f64, to: f64, count: usize| (0..count).map(|i| from + (to - from) * i as f64 / (count - 1) as f64).collect();
    let (r, z): (Vec<f64>, Vec<f64>) = (even(bore / 2.0, outside / 2.0, ACROSS), even(0.0, length / 2.0, ALONG));
    let T = march.temperatures();
    let at = |r: f64, z: f64| {
        let ((i, s), (j, t)) = (place(&r_nodes, r), place(&z_nodes, z));
        let node = |i: usize, j: usize| T[j.min(mesh.along - 1) * mesh.across + i.min(mesh.across - 1)];
        let column = |j: usize| (1.0 - s) * node(i, j) + s * node(i + 1, j);
        (1.0 - t) * column(j) + t * column(j + 1)
    };
    let T = r.iter().map(|r| z.iter().map(|z| at(*r, *z)).collect()).collect();
    Section { r, z, T }
}

/// The interval of rising `nodes` in which `x` lies (the nearest one beyond the ends), and how far in.
fn place(nodes: &[f64], x: f64) -> (usize, f64) {
    if nodes.len() < 2 {
        return (0, 0.0);
    }
    let i = nodes.iter().rposition(|node| *node <= x).unwrap_or(0).min(nodes.len() - 2);
    (i, ((x - nodes[i]) / (nodes[i + 1] - nodes[i])).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::super::exchange::Exchange;
    use super::super::matter::Metal;
    use super::super::mesh::Wet;
    use super::super::transient;
    use super::*;

    #[test]
    fn the_section_agrees_with_the_exact_field_at_mid_length() {
        let metal = Metal { density: 8800.0, cp: 376.0, k: 59.0, low_temperature: false };
        let ring = Ring { outside: 0.24, bore: 0.16, length: 0.15 };
        for wet in [Wet { bore: true, ends: true }, Wet { bore: false, ends: true }, Wet { bore: true, ends: false }] {
            let task =
                Task { ring, wet, metal, exchange: Exchange::Constant(1500.0), start: 20.0, bath: -100.0, within: 2.0, at: vec![20.0] };
            let exact = transient(&task, 1e-3);
            let section = section_at(&task, 20.0).unwrap();
            let (inside, outside) = (exact.at[0].section.inside(), exact.at[0].section.outside());
            assert!((section.T[0][0] - inside).abs() < 0.4, "{wet:?}: {} {inside}", section.T[0][0]);
            assert!((section.T[ACROSS - 1][0] - outside).abs() < 0.4, "{wet:?}: {} {outside}", section.T[ACROSS - 1][0]);
            // The end is nearer to the bath than mid-length, where it is wet.
            assert!(!wet.ends || section.T[4][ALONG - 1] < section.T[4][0]);
        }
    }

    #[test]
    fn at_the_start_it_is_all_at_one_temperature() {
        let metal = Metal { density: 8800.0, cp: 376.0, k: 59.0, low_temperature: true };
        let ring = Ring { outside: 0.24, bore: 0.0, length: 0.15 };
        let wet = Wet { bore: false, ends: true };
        let task = Task { ring, wet, metal, exchange: Exchange::Nitrogen(1.0), start: 20.0, bath: -195.8, within: 5.0, at: Vec::new() };
        assert!(section_at(&task, 0.0).unwrap().T.iter().flatten().all(|T| (T - 20.0).abs() < 1e-9));
    }
}
