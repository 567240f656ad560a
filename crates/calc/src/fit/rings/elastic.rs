//! N concentric elastic rings: pressures of the joints, stresses and changes of diameter, free along the axis or without slip.
//!
//! It knows effective interferences, not how they come about (`state`), and no yield (`fit::plastic`).
//! Units: mm and MPa. Exact for rings of equal length far from their ends.
//! Source: Lamé 1852; Timoshenko, Strength of Materials II, built-up cylinders; generalized plane strain for the no-slip bounds.

use crate::fit::plastic::Wall;
use crate::math::sq;

/// What the rings do along the axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axial {
    /// They slide freely: plane stress.
    Free,
    /// No slip: one axial strain for all, no axial force in all.
    Stuck,
    /// No axial strain at all.
    Held,
}

/// Stresses of a ring, MPa. The axial stress is even over a ring.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stress {
    /// Radial, at the bore.
    pub radial_bore: f64,
    /// Radial, at the outside.
    pub radial_outside: f64,
    /// Hoop, at the bore.
    pub hoop_bore: f64,
    /// Hoop, at the outside.
    pub hoop_outside: f64,
    /// Axial.
    pub axial: f64,
}

impl Stress {
    /// Largest difference of two principal stresses at the bore (σ1 − σ3), MPa.
    pub fn tresca(&self) -> f64 {
        let at_bore = [self.radial_bore, self.hoop_bore, self.axial];
        let largest = at_bore.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = at_bore.iter().copied().fold(f64::INFINITY, f64::min);
        largest - least
    }

    /// Von Mises stress at the bore, MPa.
    pub fn von_mises(&self) -> f64 {
        let (r, t, z) = (self.radial_bore, self.hoop_bore, self.axial);
        ((sq(r - t) + sq(t - z) + sq(z - r)) / 2.0).sqrt()
    }
}

/// A ring under pressure at its bore and its outside, with an axial stress of `2 nu A + own`.
///
/// `A = (p_a a² − p_b b²)/(b² − a²)`, `B = (p_a − p_b) a² b²/(b² − a²)`, `σ_r = A − B/d²`, `σ_θ = A + B/d²`.
fn lame_ring(ring: &Wall, p_a: f64, p_b: f64, axial: Option<f64>) -> Stress {
    let (a2, b2) = (sq(ring.bore), sq(ring.outside));
    let A = (p_a * a2 - p_b * b2) / (b2 - a2);
    // B/a² and B/b², so that no fourth power of a size is formed.
    let B = (p_a - p_b) / (b2 - a2);
    Stress {
        radial_bore: -p_a,
        radial_outside: -p_b,
        hoop_bore: A + B * b2,
        hoop_outside: A + B * a2,
        axial: axial.map_or(0.0, |own| own + 2.0 * ring.nu * A),
    }
}

/// Changes of bore and outside: `Δ(d) = (d/E)[σ_θ − ν(σ_r + σ_z)]`, mm.
fn changes(ring: &Wall, stress: &Stress) -> (f64, f64) {
    let change = |d: f64, hoop: f64, radial: f64| d / ring.E * (hoop - ring.nu * (radial + stress.axial));
    (change(ring.bore, stress.hoop_bore, stress.radial_bore), change(ring.outside, stress.hoop_outside, stress.radial_outside))
}

/// A ring of the answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pressed {
    /// Its stresses.
    pub stress: Stress,
    /// Change of its bore, mm.
    pub bore_change: f64,
    /// Change of its outside, mm.
    pub outside_change: f64,
}

/// One ring under pressures p_a at its bore and p_b at its outside, free along the axis.
pub fn pressed(ring: &Wall, p_a: f64, p_b: f64) -> Pressed {
    let stress = lame_ring(ring, p_a, p_b, None);
    let (bore_change, outside_change) = changes(ring, &stress);
    Pressed { stress, bore_change, outside_change }
}

/// The joints of all rings and the rings between them.
#[derive(Clone, Debug, PartialEq)]
pub struct Joined {
    /// Pressure of each joint, MPa; 0 where it is open, may be negative where no joint was allowed to open.
    pub pressures: Vec<f64>,
    /// Gap of each joint, mm; 0 where it is closed.
    pub gaps: Vec<f64>,
    /// Each ring.
    pub rings: Vec<Pressed>,
}

/// Rings that slide freely, joints that can open: the one pattern of open and closed joints in which each closed joint presses
/// and each open one gapes.
///
/// There is exactly one, since the compliance of the joints is symmetric (in p π d) and positive definite. All patterns are tried (31 and
/// the empty one at most); of rounding's ties the one with fewer closed joints is kept, so that p = 0 with gap = 0 counts as open.
pub fn free(rings: &[Wall], deltas: &[f64]) -> Option<Joined> {
    let M = compliance(rings);
    let mut patterns: Vec<u32> = (0..1u32 << deltas.len()).collect();
    patterns.sort_by_key(|pattern| pattern.count_ones());
    let mut best: Option<(f64, Vec<f64>)> = None;
    for pattern in patterns {
        let closed: Vec<bool> = (0..deltas.len()).map(|j| pattern >> j & 1 == 1).collect();
        let Some(p) = with_closed(&M, deltas, &closed) else { continue };
        let gaps = gaps(&M, deltas, &p);
        let breach = closed.iter().enumerate().map(|(j, closed)| if *closed { -p[j] } else { -gaps[j] / M[j][j] });
        let breach = breach.fold(0.0, f64::max);
        if best.as_ref().is_none_or(|(least, _)| breach < *least) {
            best = Some((breach, p));
        }
    }
    let p: Vec<f64> = best?.1.into_iter().map(|p| p.max(0.0)).collect();
    let gaps = gaps(&M, deltas, &p).into_iter().zip(&p).map(|(gap, p)| if *p > 0.0 { 0.0 } else { gap.max(0.0) }).collect();
    Some(Joined { rings: all_pressed(rings, &p, None), gaps, pressures: p })
}

/// Pressures of freely sliding rings as if no joint could open; may be negative.
pub fn free_all_closed(rings: &[Wall], deltas: &[f64]) -> Option<Vec<f64>> {
    solved(compliance(rings), deltas.to_vec())
}

/// Rings that do not slip, every joint taken as closed; pressures may be negative (then there is no friction, and `free` is the answer).
///
/// σ_z = E(ε_z − own) + ν(σ_r + σ_θ), own: the free axial strain α ΔT of each ring. `Held`: ε_z = 0. `Stuck`: ε_z is one more unknown,
/// with Σ σ_z (b² − a²) = 0. Each column of the system is what a unit of one unknown does.
pub fn without_slip(rings: &[Wall], deltas: &[f64], own: &[f64], held: bool) -> Option<Joined> {
    let joints = deltas.len();
    let unknowns = if held { joints } else { joints + 1 };
    let respond = |x: &[f64], own: &[f64]| -> Vec<f64> {
        let strain = x.get(joints).copied().unwrap_or(0.0);
        let axial: Vec<f64> = rings.iter().zip(own).map(|(ring, own)| ring.E * (strain - own)).collect();
        let pressed = all_pressed(rings, &x[..joints], Some(&axial));
        let mut rows: Vec<f64> = pressed.windows(2).map(|pair| pair[1].bore_change - pair[0].outside_change).collect();
        if !held {
            let areas = rings.iter().map(|ring| sq(ring.outside) - sq(ring.bore));
            let whole = sq(rings[rings.len() - 1].outside);
            rows.push(pressed.iter().zip(areas).map(|(ring, area)| ring.stress.axial * area / whole).sum());
        }
        rows
    };
    let at_rest = vec![0.0; rings.len()];
    let columns: Vec<Vec<f64>> = (0..unknowns)
        .map(|j| {
            let mut unit = vec![0.0; unknowns];
            unit[j] = 1.0;
            respond(&unit, &at_rest)
        })
        .collect();
    let M = (0..unknowns).map(|i| columns.iter().map(|column| column[i]).collect()).collect();
    let by_heat = respond(&vec![0.0; unknowns], own);
    let wanted = by_heat.iter().enumerate().map(|(i, by_heat)| deltas.get(i).copied().unwrap_or(0.0) - by_heat).collect();
    let x = solved(M, wanted)?;
    let strain = x.get(joints).copied().unwrap_or(0.0);
    let axial: Vec<f64> = rings.iter().zip(own).map(|(ring, own)| ring.E * (strain - own)).collect();
    let p = x[..joints].to_vec();
    Some(Joined { rings: all_pressed(rings, &p, Some(&axial)), gaps: vec![0.0; joints], pressures: p })
}

/// Every ring under the pressures of its joints; `axial`: E(ε_z − own) of each where they do not slip.
fn all_pressed(rings: &[Wall], p: &[f64], axial: Option<&[f64]>) -> Vec<Pressed> {
    let at = |joint: Option<usize>| joint.and_then(|joint| p.get(joint)).copied().unwrap_or(0.0);
    let each = rings.iter().enumerate().map(|(k, ring)| {
        let stress = lame_ring(ring, at(k.checked_sub(1)), at(Some(k)), axial.map(|axial| axial[k]));
        let (bore_change, outside_change) = changes(ring, &stress);
        Pressed { stress, bore_change, outside_change }
    });
    each.collect()
}

/// Joint compliance of freely sliding rings, mm/MPa: row j is `Δ_o(a_o) − Δ_i(b_i)` for a unit of each pressure.
fn compliance(rings: &[Wall]) -> Vec<Vec<f64>> {
    let joints = rings.len() - 1;
    let mut M = vec![vec![0.0; joints]; joints];
    for j in 0..joints {
        let mut unit = vec![0.0; joints];
        unit[j] = 1.0;
        for (i, pair) in all_pressed(rings, &unit, None).windows(2).enumerate() {
            M[i][j] = pair[1].bore_change - pair[0].outside_change;
        }
    }
    M
}

/// `gap = M p − δ`, mm.
fn gaps(M: &[Vec<f64>], deltas: &[f64], p: &[f64]) -> Vec<f64> {
    M.iter().zip(deltas).map(|(row, delta)| row.iter().zip(p).map(|(m, p)| m * p).sum::<f64>() - delta).collect()
}

/// Pressures with these joints closed and the others at 0.
fn with_closed(M: &[Vec<f64>], deltas: &[f64], closed: &[bool]) -> Option<Vec<f64>> {
    let kept: Vec<usize> = (0..deltas.len()).filter(|j| closed[*j]).collect();
    let part = kept.iter().map(|i| kept.iter().map(|j| M[*i][*j]).collect()).collect();
    let found = solved(part, kept.iter().map(|j| deltas[*j]).collect())?;
    let mut p = vec![0.0; deltas.len()];
    for (j, pressure) in kept.into_iter().zip(found) {
        p[j] = pressure;
    }
    Some(p)
}

/// Solves `M x = y` by elimination with the largest pivot of each column; rows are scaled first, since one may be a force and the others lengths.
/// None when a pivot is 0 or not a number.
fn solved(mut M: Vec<Vec<f64>>, mut y: Vec<f64>) -> Option<Vec<f64>> {
    let n = y.len();
    for (row, y) in M.iter_mut().zip(&mut y) {
        let scale = row.iter().fold(0.0, |most: f64, m| most.max(m.abs()));
        row.iter_mut().for_each(|m| *m /= scale);
        *y /= scale;
    }
    for k in 0..n {
        let pivot = (k..n).max_by(|i, j| M[*i][k].abs().total_cmp(&M[*j][k].abs()))?;
        M.swap(k, pivot);
        y.swap(k, pivot);
        if M[k][k] == 0.0 || !M[k][k].is_finite() {
            return None;
        }
        let (done, below) = M.split_at_mut(k + 1);
        let row = &done[k];
        for (i, lower) in below.iter_mut().enumerate() {
            let factor = lower[k] / row[k];
            lower.iter_mut().zip(row).for_each(|(m, pivot)| *m -= factor * pivot);
            y[k + 1 + i] -= factor * y[k];
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| M[k][j] * y[j]).sum();
        y[k] = (y[k] - known) / M[k][k];
    }
    y.iter().all(|y| y.is_finite()).then_some(y)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three() -> [Wall; 3] {
        [
            Wall { bore: 82.0, outside: 96.0, E: 100e3, nu: 0.34 },
            Wall { bore: 96.0, outside: 120.0, E: 206e3, nu: 0.3 },
            Wall { bore: 120.0, outside: 190.0, E: 70e3, nu: 0.33 },
        ]
    }

    #[test]
    fn a_joint_that_would_pull_opens_and_the_others_take_over() {
        let joined = free(&three(), &[0.07, -0.2]).unwrap();
        assert!(joined.pressures[0] > 0.0 && joined.pressures[1] == 0.0 && joined.gaps[1] > 0.2 - 0.07, "{joined:?}");
        let alone = free(&three()[..2], &[0.07]).unwrap();
        assert!((joined.pressures[0] - alone.pressures[0]).abs() < 1e-12, "the liner alone carries the bush");
    }

    #[test]
    fn touching_without_pressure_counts_as_open() {
        let joined = free(&three(), &[0.0, 0.0]).unwrap();
        assert_eq!((joined.pressures, joined.gaps), (vec![0.0, 0.0], vec![0.0, 0.0]));
    }

    #[test]
    fn stuck_rings_carry_no_axial_force_in_all() {
        let rings = three();
        let joined = without_slip(&rings, &[0.07, 0.06], &[1e-3, 0.0, 5e-4], false).unwrap();
        let force: f64 = joined.rings.iter().zip(&rings).map(|(r, w)| r.stress.axial * (sq(w.outside) - sq(w.bore))).sum();
        let one = (joined.rings[0].stress.axial * (sq(96.0) - sq(82.0))).abs();
        assert!(force.abs() < 1e-9 * one, "{force} of {one}");
    }

    #[test]
    fn held_rings_without_poisson_are_free_rings() {
        let rings = three().map(|ring| Wall { nu: 0.0, ..ring });
        let held = without_slip(&rings, &[0.07, 0.06], &[0.0; 3], true).unwrap();
        let free = free(&rings, &[0.07, 0.06]).unwrap();
        assert!(held.pressures.iter().zip(&free.pressures).all(|(h, f)| (h / f - 1.0).abs() < 1e-12));
    }
}
