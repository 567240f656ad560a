//! One seat on finer and finer meshes, until its figures no longer change by more than was asked.

use super::grid::{Found, Grid, read_at};
use super::outline::Outline;
use crate::refused::Refused;

/// Multiplications of one mesh at most: some tenths of a second.
const MOST_WORK: f64 = 1.6e9;
/// How much more one halving costs at most.
const GROWTH: f64 = 6.5;
/// Halvings at most.
const MOST_HALVINGS: u32 = 7;
/// The force across the joint may change by this much more than a close-in, as a share of itself.
const FORCE_SHARE: f64 = 2.0;
/// A pressure that is told may change by this much more than a close-in, as a share of the mean.
const PRESSURE_SHARE: f64 = 10.0;

/// The finest mesh of a study and how far its figures moved from the one before.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    /// What the finest mesh says.
    pub found: Found,
    /// Largest change of a close-in at the last halving, µm.
    pub close_in_error_um: f64,
    /// Change of the contact force at the last halving, kN.
    pub force_error_kN: f64,
    /// Largest change of a pressure that is told, MPa.
    pub pressure_error_MPa: f64,
    /// Whether all of them are as small as was asked.
    pub met: bool,
    /// Halvings of the first mesh.
    pub halvings: u32,
    /// Each mesh: unknowns, mean close-in µm, force kN.
    pub meshes: Vec<(usize, f64, f64)>,
}

/// Solves a seat on meshes halved again and again; `weigh`: with the balance of forces.
pub fn study(outline: &Outline, weigh: bool) -> Result<Study, Refused> {
    let aim_um = outline.shape.accuracy_pct / 100.0 * outline.largest_interference().0;
    let share = outline.shape.accuracy_pct / 100.0;
    let mut coarse = mesh(outline, 0, None, weigh)?;
    let mut meshes = vec![coarse.of_mesh()];
    let mut halvings = 1;
    loop {
        let fine = mesh(outline, halvings, Some(&coarse), weigh)?;
        meshes.push(fine.of_mesh());
        let close_in_error_um = changes(outline, &coarse, &fine);
        let force_error_kN = (fine.force_kN - coarse.force_kN).abs();
        let pressure_error_MPa = pressure_change(outline, &coarse, &fine);
        let mean = outline.mean_pressure(fine.force_kN);
        let met = close_in_error_um <= aim_um
            && force_error_kN <= FORCE_SHARE * share * fine.force_kN
            && pressure_error_MPa <= PRESSURE_SHARE * share * mean;
        let dear = fine.multiplications as f64 * GROWTH > MOST_WORK;
        if met || dear || halvings == MOST_HALVINGS {
            return Ok(Study { found: fine, close_in_error_um, force_error_kN, pressure_error_MPa, met, halvings, meshes });
        }
        coarse = fine;
        halvings += 1;
    }
}

/// One mesh; `before`: what a coarser one said.
pub fn mesh(outline: &Outline, halvings: u32, before: Option<&Found>, weigh: bool) -> Result<Found, Refused> {
    Grid::new(outline, halvings).solved(before, weigh).ok_or_else(|| {
        Refused::new(
            "the request",
            "out of proportion",
            "sizes, moduli and Poisson's ratios whose digits survive a solution",
            "look at the walls, lengths and moduli again",
        )
    })
}

impl Found {
    fn of_mesh(&self) -> (usize, f64, f64) {
        (self.unknowns, self.close_in_um.0, self.force_kN)
    }
}

/// Largest change of any close-in: the five figures and those at the places asked for.
fn changes(outline: &Outline, coarse: &Found, fine: &Found) -> f64 {
    let figures = |found: &Found| {
        let (mean, most, least, left, right) = found.close_in_um;
        let places = outline.shape.at_mm.iter().map(|z| read_at(&found.close_in, *z));
        [Some(mean), Some(most), Some(least), left, right].into_iter().chain(places).flatten().collect::<Vec<_>>()
    };
    largest_change(&figures(coarse), &figures(fine))
}

fn pressure_change(outline: &Outline, coarse: &Found, fine: &Found) -> f64 {
    let pressures = |found: &Found| outline.told_places().map(|z| read_at(&found.pressure, z).unwrap_or(0.0)).collect::<Vec<_>>();
    largest_change(&pressures(coarse), &pressures(fine))
}

fn largest_change(coarse: &[f64], fine: &[f64]) -> f64 {
    coarse.iter().zip(fine).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}
