//! What a metal holds and passes on as it gets colder: specific heat, conductivity, and their integrals, over straight lines of a table.
//!
//! The state of a node is its heat h (J/kg), because heat is what a step conserves; temperature follows from it. Constant below the
//! lowest and above the highest point. Source: specific heat, NIST fit for oxygen-free copper (coefficients read), within 3 % for bronzes;
//! conductivity, cast tin bronze (Incropera table A.1, phosphor gear bronze; NBS Circular 556; memory), within 15 %.

use crate::math::sq;

/// Kelvin at 0 °C.
pub const KELVIN: f64 = 273.15;

/// T in K, specific heat beside that at 20 °C. Source: NIST fit for copper; within 3 % for bronzes.
pub const HEAT_RATIO: [(f64, f64); 8] =
    [(77.35, 0.506), (100.0, 0.656), (125.0, 0.763), (150.0, 0.833), (175.0, 0.883), (200.0, 0.923), (250.0, 0.978), (293.15, 1.0)];

/// T in K, conductivity beside that at 20 °C. Source: cast tin bronze, memory; within 15 %.
pub const CONDUCTIVITY_RATIO: [(f64, f64); 6] = [(77.35, 0.42), (100.0, 0.49), (150.0, 0.64), (200.0, 0.77), (250.0, 0.89), (293.15, 1.0)];

/// Ratio at `T_K` on the straight lines of a table, constant beyond its ends.
pub fn ratio(table: &[(f64, f64)], T_K: f64) -> f64 {
    let within = table.windows(2).find_map(|pair| match pair {
        [(T0, r0), (T1, r1)] if T_K <= *T1 => Some(r0 + (r1 - r0) * ((T_K - T0) / (T1 - T0)).max(0.0)),
        _ => None,
    });
    within.or(table.last().map(|(_, last)| *last)).unwrap_or(1.0)
}

/// A metal as a transient sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Metal {
    /// Density, kg/m³.
    pub density: f64,
    /// Specific heat at 20 °C, J/(kg K).
    pub cp: f64,
    /// Conductivity at 20 °C, W/(m K).
    pub k: f64,
    /// Whether both follow the tables below 20 °C; constant otherwise.
    pub low_temperature: bool,
}

impl Metal {
    /// Specific heat at `T_C`, J/(kg K).
    pub fn cp_at(&self, T_C: f64) -> f64 {
        if self.low_temperature { self.cp * ratio(&HEAT_RATIO, T_C + KELVIN) } else { self.cp }
    }
}

/// One end of a straight piece: temperature °C, heat J/kg, integral of conductivity W/m, and both properties with their slopes.
#[derive(Clone, Copy, Debug)]
struct Knot {
    T: f64,
    h: f64,
    theta: f64,
    c: f64,
    dc: f64,
    k: f64,
    dk: f64,
}

/// A metal's properties as functions of the heat that it holds.
#[derive(Clone, Debug)]
pub struct Matter {
    knots: Vec<Knot>,
}

/// The state of a node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Temperature, °C.
    pub T: f64,
    /// Specific heat, J/(kg K).
    pub c: f64,
    /// Conductivity, W/(m K).
    pub k: f64,
    /// Integral of the conductivity over temperature, W/m.
    pub theta: f64,
}

impl Matter {
    /// Builds the pieces of a metal.
    pub fn new(metal: &Metal) -> Self {
        let corners: Vec<f64> =
            if metal.low_temperature { HEAT_RATIO.iter().map(|(T, _)| T - KELVIN).collect() } else { vec![20.0 - KELVIN] };
        let at = |T: f64| match metal.low_temperature {
            true => (metal.cp * ratio(&HEAT_RATIO, T + KELVIN), metal.k * ratio(&CONDUCTIVITY_RATIO, T + KELVIN)),
            false => (metal.cp, metal.k),
        };
        let mut knots: Vec<Knot> = Vec::with_capacity(corners.len() + 1);
        // Below the first corner both are constant: a piece that starts at absolute zero.
        for T in std::iter::once(-KELVIN).chain(corners) {
            let (c, k) = at(T);
            let (mut h, mut theta) = (0.0, 0.0);
            if let Some(before) = knots.last_mut() {
                let dT = T - before.T;
                (before.dc, before.dk) = ((c - before.c) / dT, (k - before.k) / dT);
                (h, theta) = (before.h + dT * (c + before.c) / 2.0, before.theta + dT * (k + before.k) / 2.0);
            }
            knots.push(Knot { T, h, theta, c, dc: 0.0, k, dk: 0.0 });
        }
        Self { knots }
    }

    /// Heat at a temperature, J/kg above absolute zero on these lines.
    pub fn heat(&self, T_C: f64) -> f64 {
        let place = self.knots.partition_point(|knot| knot.T <= T_C).max(1) - 1;
        let knot = &self.knots[place];
        let dT = T_C - knot.T;
        knot.h + dT * (knot.c + knot.dc * dT / 2.0)
    }

    /// The state that holds `h`; `place` is where to look first, and is left where it was found.
    #[inline(always)]
    pub fn state(&self, h: f64, place: &mut usize) -> State {
        let knots = &self.knots[..];
        while *place + 1 < knots.len() && h >= knots[*place + 1].h {
            *place += 1;
        }
        while *place > 0 && h < knots[*place].h {
            *place -= 1;
        }
        let knot = &knots[*place];
        let dh = h - knot.h;
        // c² rises linearly with h on a straight piece; no piece that is reached falls to c = 0.
        let c = (sq(knot.c) + 2.0 * knot.dc * dh).max(1e-6 * sq(knot.c)).sqrt();
        let dT = 2.0 * dh / (knot.c + c);
        State { T: knot.T + dT, c, k: knot.k + knot.dk * dT, theta: knot.theta + dT * (knot.k + knot.dk * dT / 2.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heat_and_temperature_go_there_and_back() {
        for low_temperature in [true, false] {
            let metal = Metal { density: 8800.0, cp: 376.0, k: 59.0, low_temperature };
            let matter = Matter::new(&metal);
            let mut place = 0;
            for T in [-195.8, -173.15, -150.0, -40.0, 0.0, 20.0, 150.0, -196.0, 400.0] {
                let state = matter.state(matter.heat(T), &mut place);
                assert!((state.T - T).abs() < 1e-9, "{T}: {state:?}");
                assert!((state.c - metal.cp_at(T)).abs() < 1e-9 * metal.cp, "{T}: {state:?}");
            }
        }
    }

    #[test]
    fn the_table_is_met_at_its_points_and_held_beyond() {
        let bronze = Metal { density: 1.0, cp: 1000.0, k: 100.0, low_temperature: true };
        let matter = Matter::new(&bronze);
        for (T_K, c, k) in [(60.0, 506.0, 42.0), (77.35, 506.0, 42.0), (175.0, 883.0, 70.5), (250.0, 978.0, 89.0), (500.0, 1000.0, 100.0)] {
            let state = matter.state(matter.heat(T_K - KELVIN), &mut 0);
            assert!((state.c - c).abs() < 1e-6 && (state.k - k).abs() < 1e-6, "{T_K} K: {state:?}");
        }
    }
}
