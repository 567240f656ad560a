//! Stiffness of a ring of metal with a rectangular section: the nine-node element of axisymmetric elasticity, its middle node eliminated.
//!
//! `u` along r, `w` along z; strains `u,r`, `w,z`, `u/r`, `u,z + w,r`; linear, isotropic. Every element of a structured mesh is a
//! rectangle, so each entry is a sum of products of an integral over r and one over z: nine matrices a column of elements, three numbers
//! tables over z, and no loop over points. Nine nodes instead of eight: on long thin elements near corners they lose nothing, and the
//! middle node costs two unknowns of an elimination that is over before the fronts begin.
//! Per radian. Any units: E in MPa and sizes in mm give N/mm a radian. Source: Zienkiewicz and Taylor, The Finite Element Method
//! (axisymmetric stress analysis), from memory; the integrals are worked out here.

/// Nodes along a side.
const SIDE: usize = 3;
/// Unknowns of an element whose middle is eliminated.
pub const UNKNOWNS: usize = 16;
/// Its nodes (along r, along z), in the order of their numbers in a body.
pub const NODES: [(usize, usize); 8] = [(0, 0), (1, 0), (2, 0), (0, 1), (2, 1), (0, 2), (1, 2), (2, 2)];

type Table = [[f64; SIDE]; SIDE];

/// `∫ Z Z dz` of a side of length 1.
const MASS: Table = [[4.0 / 30.0, 2.0 / 30.0, -1.0 / 30.0], [2.0 / 30.0, 16.0 / 30.0, 2.0 / 30.0], [-1.0 / 30.0, 2.0 / 30.0, 4.0 / 30.0]];
/// `∫ Z' Z' dz` of a side of length 1.
const STRETCH: Table = [[7.0 / 3.0, -8.0 / 3.0, 1.0 / 3.0], [-8.0 / 3.0, 16.0 / 3.0, -8.0 / 3.0], [1.0 / 3.0, -8.0 / 3.0, 7.0 / 3.0]];
/// `∫ Z'_row Z_column dz`, of any length.
const SHIFT: Table = [[-1.0 / 2.0, -2.0 / 3.0, 1.0 / 6.0], [2.0 / 3.0, 0.0, -2.0 / 3.0], [-1.0 / 6.0, 2.0 / 3.0, 1.0 / 2.0]];
/// Points and weights of Gauss on 0..1, exact to the seventh degree: 1/r is no polynomial, and a wall may be as thick as its bore.
const GAUSS: [(f64, f64); 4] = [
    (0.069_431_844_202_973_712, 0.173_927_422_568_726_93),
    (0.330_009_478_207_571_87, 0.326_072_577_431_273_07),
    (0.669_990_521_792_428_13, 0.326_072_577_431_273_07),
    (0.930_568_155_797_026_29, 0.173_927_422_568_726_93),
];

/// The three quadratic functions of a side of length 1 at `x`.
pub fn quadratic(x: f64) -> [f64; SIDE] {
    [(1.0 - 2.0 * x) * (1.0 - x), 4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)]
}

/// Mass of a quadratic side of length `h`: what turns values at its nodes into forces.
pub fn side_mass(h: f64) -> [[f64; SIDE]; SIDE] {
    MASS.map(|row| row.map(|m| m * h))
}

/// Elastic constants of a metal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Metal {
    /// Young's modulus E.
    pub E: f64,
    /// Poisson's ratio, over −1 and under 0.5.
    pub nu: f64,
}

/// The integrals over r of all elements between two radii.
#[derive(Clone, Copy, Debug)]
pub struct Between {
    /// u with u, where neither is differentiated along z.
    uu: Table,
    /// u with u, both differentiated along z.
    uu_z: Table,
    /// u with w, w differentiated along z.
    uw: Table,
    /// u with w, u differentiated along z.
    uw_z: Table,
    /// w with w, neither differentiated along z.
    ww: Table,
    /// w with w, both differentiated along z.
    ww_z: Table,
}

impl Between {
    /// The integrals from radius `low` to `high`.
    pub fn new(metal: Metal, low: f64, high: f64) -> Self {
        let shear = metal.E / (2.0 * (1.0 + metal.nu));
        let lame = metal.E * metal.nu / ((1.0 + metal.nu) * (1.0 - 2.0 * metal.nu));
        let stiff = lame + 2.0 * shear;
        let h = high - low;
        let zero = [[0.0; SIDE]; SIDE];
        let mut all = Self { uu: zero, uu_z: zero, uw: zero, uw_z: zero, ww: zero, ww_z: zero };
        for (x, weight) in GAUSS {
            let r = low + x * h;
            let R = quadratic(x);
            let slope = [(4.0 * x - 3.0) / h, (4.0 - 8.0 * x) / h, (4.0 * x - 1.0) / h];
            let w = weight * h;
            for a in 0..SIDE {
                for b in 0..SIDE {
                    let hoop = R[a] * R[b] / r;
                    let radial = slope[a] * slope[b] * r;
                    all.uu[a][b] += w * (stiff * (radial + hoop) + lame * (slope[a] * R[b] + R[a] * slope[b]));
                    all.uu_z[a][b] += w * shear * R[a] * R[b] * r;
                    all.uw[a][b] += w * lame * (slope[a] * r + R[a]) * R[b];
                    all.uw_z[a][b] += w * shear * R[a] * slope[b] * r;
                    all.ww[a][b] += w * shear * radial;
                    all.ww_z[a][b] += w * stiff * R[a] * R[b] * r;
                }
            }
        }
        all
    }

    /// Stiffness of the element of length `h` along z: unknowns u, w of each of [`NODES`], lower triangle.
    pub fn stiffness(&self, h: f64) -> [[f64; UNKNOWNS]; UNKNOWNS] {
        let mut K = [[0.0; UNKNOWNS]; UNKNOWNS];
        for (m, to) in NODES.iter().enumerate() {
            for (n, from) in NODES.iter().enumerate().take(m + 1) {
                let block = self.block(*to, *from, h);
                for i in 0..2 {
                    K[2 * m + i][2 * n] = block[i][0];
                    K[2 * m + i][2 * n + 1] = block[i][1];
                }
            }
        }
        self.drop_middle(&mut K, h);
        K
    }

    /// Forces (u, w) at node `to` by movements (u, w) of node `from`.
    #[inline]
    fn block(&self, (a, b): (usize, usize), (c, d): (usize, usize), h: f64) -> [[f64; 2]; 2] {
        let (mass, stretch) = (MASS[b][d] * h, STRETCH[b][d] / h);
        let (towards, back) = (SHIFT[d][b], SHIFT[b][d]);
        [
            [self.uu[a][c] * mass + self.uu_z[a][c] * stretch, self.uw[a][c] * towards + self.uw_z[a][c] * back],
            [self.uw[c][a] * back + self.uw_z[c][a] * towards, self.ww[a][c] * mass + self.ww_z[a][c] * stretch],
        ]
    }

    /// Eliminates the middle node, on which no force acts.
    fn drop_middle(&self, K: &mut [[f64; UNKNOWNS]; UNKNOWNS], h: f64) {
        let [[a, b], [_, d]] = self.block((1, 1), (1, 1), h);
        let det = a * d - b * b;
        let mut towards = [[0.0; 2]; UNKNOWNS];
        for (n, node) in NODES.iter().enumerate() {
            let block = self.block(*node, (1, 1), h);
            towards[2 * n] = block[0];
            towards[2 * n + 1] = block[1];
        }
        for i in 0..UNKNOWNS {
            let [x, y] = towards[i];
            let by = [(d * x - b * y) / det, (a * y - b * x) / det];
            for j in 0..=i {
                K[i][j] -= by[0] * towards[j][0] + by[1] * towards[j][1];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn forces(K: &[[f64; UNKNOWNS]; UNKNOWNS], x: &[f64; UNKNOWNS]) -> [f64; UNKNOWNS] {
        std::array::from_fn(|i| (0..UNKNOWNS).map(|j| K[i.max(j)][i.min(j)] * x[j]).sum())
    }

    #[test]
    fn a_shift_along_the_axis_needs_no_force() {
        let K = Between::new(Metal { E: 100.0, nu: 0.34 }, 1.0, 1.4).stiffness(0.3);
        let x = std::array::from_fn(|i| (i % 2) as f64);
        assert!(forces(&K, &x).iter().all(|f| f.abs() < 1e-12), "{:?}", forces(&K, &x));
    }

    /// u = r, w = 0: σ_r = σ_θ = E/((1 + ν)(1 − 2ν)), so that each end face r = const feels σ r h and the faces z = const feel
    /// 2 λ times their areas.
    #[test]
    fn an_even_swelling_is_exact() {
        let (E, nu, h): (f64, f64, f64) = (100.0, 0.3, 0.5);
        let K = Between::new(Metal { E, nu }, 1.0, 2.0).stiffness(h);
        let x = std::array::from_fn(|i| if i % 2 == 0 { 1.0 + 0.5 * NODES[i / 2].0 as f64 } else { 0.0 });
        let f = forces(&K, &x);
        let sigma = E / ((1.0 + nu) * (1.0 - 2.0 * nu));
        let radial = |a: usize| (0..8).filter(|n| NODES[*n].0 == a).map(|n| f[2 * n]).sum::<f64>();
        assert!((radial(2) - sigma * 2.0 * h).abs() < 1e-10 && (radial(0) + sigma * h).abs() < 1e-10 && radial(1).abs() < 1e-10);
        let axial: f64 = (5..8).map(|n| f[2 * n + 1]).sum();
        assert!((axial - 2.0 * nu * sigma * 1.5).abs() < 1e-10, "{axial}");
    }
}
