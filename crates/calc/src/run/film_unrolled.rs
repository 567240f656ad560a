//! The pressure of a film over the unrolled bearing, for a picture: even steps of angle and of length.
//!
//! It leaves the figures of the film to `film_shape`: here is one mesh, read off between its nodes. Pressures are shares of the greatest
//! on the picture's points, which for the eye is that of the film.

use serde::Serialize;

use crate::math::PI;
use crate::run::film_shape::Theory;
use crate::solve::film_grid::FilmGrid;
use crate::solve::multigrid::film;

/// Intervals of the mesh, in θ and over half the length.
const MESH: (usize, usize) = (64, 16);
/// Points of the picture in θ (every 5°) and over the half length.
const ANGLES: usize = 73;
const PLACES: usize = 9;

/// Pressure over angle and length.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unrolled {
    /// Angles from the widest gap in the direction of rotation.
    pub theta_deg: Vec<f64>,
    /// Places from mid-length (0) to the end (1).
    pub y: Vec<f64>,
    /// Pressure over the greatest: a row an angle, a column a place.
    pub share: Vec<Vec<f64>>,
}

/// The pressure of the finite film at `eps` (over 0, under 1), `L_over_D`; none for the closed theories, whose films are curves.
pub fn unrolled(theory: Theory, eps: f64, L_over_D: f64) -> Option<Unrolled> {
    if theory != Theory::Finite {
        return None;
    }
    let grid = FilmGrid::new(eps, L_over_D, MESH.0, MESH.1);
    let p = film(&grid, Vec::new()).p;
    let y_nodes = places_of(&grid);
    let theta_deg: Vec<f64> = (0..ANGLES).map(|i| 360.0 * i as f64 / (ANGLES - 1) as f64).collect();
    let y: Vec<f64> = (0..PLACES).map(|j| j as f64 / (PLACES - 1) as f64).collect();
    let node = |i: usize, j: usize| if j < grid.m { p.get(i * grid.m + j).copied().unwrap_or(0.0) } else { 0.0 };
    let at = |theta: f64, y: f64| {
        let turn = theta * PI / 180.0 - PI;
        // The mesh ends where the film has ruptured.
        let Some((i, s)) = between(&grid.turn, turn) else { return 0.0 };
        let Some((j, t)) = between(&y_nodes, y) else { return 0.0 };
        let along = |j: usize| (1.0 - s) * node(i, j) + s * node(i + 1, j);
        (1.0 - t) * along(j) + t * along(j + 1)
    };
    let mut share: Vec<Vec<f64>> = theta_deg.iter().map(|theta| y.iter().map(|y| at(*theta, *y).max(0.0)).collect()).collect();
    let most = share.iter().flatten().copied().fold(0.0, f64::max);
    if most > 0.0 {
        share.iter_mut().flatten().for_each(|p| *p /= most);
    }
    Some(Unrolled { theta_deg, y, share })
}

/// y of each node: intervals are 1/κ.
fn places_of(grid: &FilmGrid) -> Vec<f64> {
    let mut y = 0.0;
    let mut places = vec![0.0];
    for kappa in &grid.kappa {
        y += 1.0 / kappa;
        places.push(y);
    }
    // So that the last stands at the end whatever was lost on the way.
    places.iter().map(|place| place / y).collect()
}

/// The interval of rising `nodes` in which `x` lies, and how far in.
fn between(nodes: &[f64], x: f64) -> Option<(usize, f64)> {
    let above = nodes.iter().position(|node| *node >= x)?;
    let i = above.max(1) - 1;
    let step = nodes[i + 1] - nodes[i];
    (x >= nodes[i]).then(|| (i, if step > 0.0 { (x - nodes[i]) / step } else { 0.0 }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::film_shape::{Effort, film_at};

    #[test]
    fn the_picture_shows_the_film_that_the_figures_tell() {
        for (eps, L_over_D) in [(0.1, 1.0), (0.6, 0.5), (0.9, 1.0), (0.97, 2.0)] {
            let picture = unrolled(Theory::Finite, eps, L_over_D).unwrap();
            let told = film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(3)).shape;
            let top = picture.share.iter().position(|row| row[0] == 1.0).unwrap();
            assert!((picture.theta_deg[top] - told.pmax_angle_deg).abs() <= 5.0, "{eps}: {}", picture.theta_deg[top]);
            let last = picture.share.iter().rposition(|row| row[0] > 0.0).unwrap();
            assert!((picture.theta_deg[last] - told.rupture_angle_deg.unwrap()).abs() <= 10.0, "{eps}: {}", picture.theta_deg[last]);
            assert!(picture.share.iter().all(|row| row.iter().all(|p| (0.0..=1.0).contains(p)) && row[8] == 0.0));
            assert!(picture.share.iter().all(|row| row.windows(2).all(|pair| pair[0] >= pair[1])), "pressure falls towards the end");
        }
        assert!(unrolled(Theory::Short, 0.5, 1.0).is_none());
    }
}
