//! The chain from readings to the running clearance, for a group of draws side by side: which inputs it has, which outputs, and
//! the arithmetic between them.
//!
//! Elastic throughout (two thick rings, plane stress, free to slide): no yield. The formulas are those of `fit`, brought to one
//! common denominator so that a draw costs two divisions; a test holds them against the plain form.
//! Source: Lamé 1852, thick rings; Timoshenko, Strength of Materials II, built-up cylinders; ISO 1 (20 °C).

use crate::draws::GROUP;
use crate::keys::Range;

/// One value a draw.
pub type Row = [f64; GROUP];

/// An input of the chain: where it stands in the request and what it may be.
#[derive(Clone, Copy, Debug)]
pub struct Input {
    /// Its name in requests and answers: `bush/T_C`.
    pub name: &'static str,
    /// The values that it may have.
    pub range: Range,
    /// Its value when it is not given; none where it must be given with its group.
    pub default: Option<f64>,
}

impl Input {
    /// The object of the request that it stands in, and its key there; an empty group is the request itself.
    pub fn place(&self) -> (&'static str, &'static str) {
        self.name.split_once('/').unwrap_or(("", self.name))
    }
}

const fn input(name: &'static str, range: Range, default: Option<f64>) -> Input {
    Input { name, range, default }
}

/// No size of this trade is larger, mm.
pub const SIZE_MM: Range = Range::over(0.0).to(1e5);
/// From absolute zero to where no bearing is any more.
pub const TEMPERATURE_C: Range = Range::within(-273.15, 2000.0);
/// Mean expansion; 1e-3 per K is far above every solid.
pub const EXPANSION_PER_K: Range = Range::within(0.0, 1e-3);
/// A correction of a reading, mm.
pub const CORRECTION_MM: Range = Range::within(-1e3, 1e3);
/// Modulus of elasticity, GPa.
pub const MODULUS_GPA: Range = Range::over(0.0).to(1e4);
/// Poisson's ratio.
pub const POISSON: Range = Range::over(-1.0).under(0.5);
/// Roughness, µm.
pub const ROUGHNESS_UM: Range = Range::within(0.0, 1e4);
/// Share of the roughness that is lost.
pub const SMOOTHING: Range = Range::within(0.0, 10.0);

/// Number of inputs.
pub const INPUTS: usize = 26;

/// Every input, in the order of the request.
pub const INPUT: [Input; INPUTS] = [
    input("gauge/T_C", TEMPERATURE_C, None),
    input("gauge/alpha_per_K", EXPANSION_PER_K, None),
    input("housing/reading_mm", SIZE_MM, None),
    input("housing/correction_mm", CORRECTION_MM, Some(0.0)),
    input("housing/T_C", TEMPERATURE_C, None),
    input("housing/alpha_per_K", EXPANSION_PER_K, None),
    input("housing/E_GPa", MODULUS_GPA, None),
    input("housing/nu", POISSON, None),
    input("housing/Rz_um", ROUGHNESS_UM, Some(0.0)),
    input("housing/equivalent_outside_mm", SIZE_MM, None),
    input("bush/reading_mm", SIZE_MM, None),
    input("bush/correction_mm", CORRECTION_MM, Some(0.0)),
    input("bush/T_C", TEMPERATURE_C, None),
    input("bush/alpha_per_K", EXPANSION_PER_K, None),
    input("bush/E_GPa", MODULUS_GPA, None),
    input("bush/nu", POISSON, None),
    input("bush/Rz_um", ROUGHNESS_UM, Some(0.0)),
    input("bush/bore_mm", SIZE_MM, None),
    input("journal/diameter_mm", SIZE_MM, None),
    input("journal/alpha_per_K", EXPANSION_PER_K, Some(0.0)),
    input("smoothing", SMOOTHING, Some(0.8)),
    input("working/bush_T_C", TEMPERATURE_C, None),
    input("working/housing_T_C", TEMPERATURE_C, None),
    input("working/journal_T_C", TEMPERATURE_C, None),
    input("cold/bush_T_C", TEMPERATURE_C, None),
    input("cold/housing_T_C", TEMPERATURE_C, None),
];

/// Places of the inputs in [`INPUT`].
pub mod at {
    #![allow(missing_docs, reason = "each is the name of its input")]
    pub const GAUGE_T: usize = 0;
    pub const GAUGE_ALPHA: usize = 1;
    pub const HOUSING_READING: usize = 2;
    pub const HOUSING_CORRECTION: usize = 3;
    pub const HOUSING_T: usize = 4;
    pub const HOUSING_ALPHA: usize = 5;
    pub const HOUSING_E: usize = 6;
    pub const HOUSING_NU: usize = 7;
    pub const HOUSING_RZ: usize = 8;
    pub const HOUSING_OUTSIDE: usize = 9;
    pub const BUSH_READING: usize = 10;
    pub const BUSH_CORRECTION: usize = 11;
    pub const BUSH_T: usize = 12;
    pub const BUSH_ALPHA: usize = 13;
    pub const BUSH_E: usize = 14;
    pub const BUSH_NU: usize = 15;
    pub const BUSH_RZ: usize = 16;
    pub const BUSH_BORE: usize = 17;
    pub const JOURNAL: usize = 18;
    pub const JOURNAL_ALPHA: usize = 19;
    pub const SMOOTHING: usize = 20;
    pub const WORKING_BUSH_T: usize = 21;
    pub const WORKING_HOUSING_T: usize = 22;
    pub const WORKING_JOURNAL_T: usize = 23;
    pub const COLD_BUSH_T: usize = 24;
    pub const COLD_HOUSING_T: usize = 25;
}

/// Number of outputs.
pub const OUTPUTS: usize = 13;

/// Names of the outputs: seven at 20 °C, four at work, two cold.
pub const OUTPUT: [&str; OUTPUTS] = [
    "interference_um",
    "pressure_MPa",
    "close_in_um",
    "fitted_bore_mm",
    "clearance_um",
    "hoop_bore_MPa",
    "housing_hoop_MPa",
    "working_interference_um",
    "working_pressure_MPa",
    "working_clearance_um",
    "working_hoop_bore_MPa",
    "cold_interference_um",
    "cold_pressure_MPa",
];

/// Which states are asked for beside that at 20 °C.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct States {
    /// At work.
    pub working: bool,
    /// In the cold.
    pub cold: bool,
}

impl States {
    /// The outputs that are computed, as places in [`OUTPUT`].
    pub fn outputs(self) -> Vec<usize> {
        (0..OUTPUTS).filter(|o| *o < 7 || (*o < 11 && self.working) || (*o >= 11 && self.cold)).collect()
    }
}

/// A group of draws: inputs, what is between, outputs.
#[derive(Clone, Debug)]
pub struct Group {
    /// Inputs, a row each.
    pub x: [Row; INPUTS],
    /// Outputs, a row each; those of a state that is not asked for stay as they are.
    pub y: [Row; OUTPUTS],
    between: [Row; 6],
}

impl Default for Group {
    fn default() -> Self {
        Self { x: [[0.0; GROUP]; INPUTS], y: [[0.0; GROUP]; OUTPUTS], between: [[0.0; GROUP]; 6] }
    }
}

/// Places in `Group::between`.
const HOUSING_MM: usize = 0;
const BUSH_MM: usize = 1;
const LOSS_MM: usize = 2;
const PRESSURE_PER_UM: usize = 3;
const CLOSE_IN_PER_UM: usize = 4;
const HOOP_PER_UM: usize = 5;

/// Outputs of a group from its inputs. The answer is positive when every draw is of parts that can be (walls over 0, moduli over
/// 0): the smallest of the walls, moduli, factors and stiffnesses.
#[inline(always)]
pub fn outputs(group: &mut Group, states: States) -> f64 {
    let soundness = at_20(group);
    if states.working {
        at_work(group);
    }
    if states.cold {
        in_the_cold(group);
    }
    soundness
}

/// Sizes at 20 °C, interference, pressure, close-in, clearance and hoop stresses at 20 °C.
///
/// k = 1 + α_g (T_g − 20); D_h = (reading + correction) k/(1 + α_h (T_h − 20)), D_b likewise; δ = D_b − D_h − smoothing (Rz_b + Rz_h)/1000.
/// p = max(0, δ)/D_h/(k_b + k_h), k_b = [(1 + Q²)/(1 − Q²) − ν_b]/E_b, k_h = [(1 + q²)/(1 − q²) + ν_h]/E_h, Q = bore/D_h, q = D_h/D_e.
/// With w_b = (D² − a²) E_b, n_b = D² + a² − ν_b (D² − a²), w_h = (D_e² − D²) E_h, n_h = D_e² + D² + ν_h (D_e² − D²):
/// p = δ w_b w_h/(D (n_b w_h + n_h w_b)).
/// Source: Lamé; Timoshenko, Strength of Materials II.
#[inline(always)]
fn at_20(group: &mut Group) -> f64 {
    use at::*;
    let Group { x, y, between } = group;
    let mut soundness = [f64::INFINITY; GROUP];
    for i in 0..GROUP {
        let k = 1.0 + x[GAUGE_ALPHA][i] * (x[GAUGE_T][i] - 20.0);
        let f_h = 1.0 + x[HOUSING_ALPHA][i] * (x[HOUSING_T][i] - 20.0);
        let f_b = 1.0 + x[BUSH_ALPHA][i] * (x[BUSH_T][i] - 20.0);
        let per_factors = k / (f_h * f_b);
        let D = (x[HOUSING_READING][i] + x[HOUSING_CORRECTION][i]) * f_b * per_factors;
        let D_b = (x[BUSH_READING][i] + x[BUSH_CORRECTION][i]) * f_h * per_factors;
        let loss = x[SMOOTHING][i] * (x[BUSH_RZ][i] + x[HOUSING_RZ][i]) * 1e-3;
        let delta_um = (D_b - D - loss) * 1e3;

        let (a, D_e) = (x[BUSH_BORE][i], x[HOUSING_OUTSIDE][i]);
        let (E_b, E_h) = (x[BUSH_E][i], x[HOUSING_E][i]);
        let (a2, D2, D_e2) = (a * a, D * D, D_e * D_e);
        let (wall_b, wall_h) = (D2 - a2, D_e2 - D2);
        let (w_b, w_h) = (wall_b * E_b, wall_h * E_h);
        let n_b = (D2 + a2) - x[BUSH_NU][i] * wall_b;
        let n_h = (D_e2 + D2) + x[HOUSING_NU][i] * wall_h;
        let yielding = n_b * w_h + n_h * w_b;
        let g = 1.0 / (D * yielding);

        // GPa times µm over mm is MPa.
        let g_h = w_h * g;
        let pressure_per_um = w_b * g_h;
        let close_in_per_um = 2.0 * a * D2 * g_h;
        let hoop_per_um = -2.0 * D2 * E_b * g_h;
        let housing_hoop_per_um = (D_e2 + D2) * E_h * (w_b * g);
        let pressed_um = larger(delta_um, 0.0);
        let close_in_um = pressed_um * close_in_per_um;
        let fitted_mm = a - close_in_um * 1e-3;

        y[0][i] = delta_um;
        y[1][i] = pressed_um * pressure_per_um;
        y[2][i] = close_in_um;
        y[3][i] = fitted_mm;
        y[4][i] = (fitted_mm - x[JOURNAL][i]) * 1e3;
        y[5][i] = pressed_um * hoop_per_um;
        y[6][i] = pressed_um * housing_hoop_per_um;
        between[HOUSING_MM][i] = D;
        between[BUSH_MM][i] = D_b;
        between[LOSS_MM][i] = loss;
        between[PRESSURE_PER_UM][i] = pressure_per_um;
        between[CLOSE_IN_PER_UM][i] = close_in_per_um;
        between[HOOP_PER_UM][i] = hoop_per_um;

        let walls = smaller(smaller(a, D - a), D_e - D);
        let factors = smaller(f_h, f_b);
        soundness[i] = smaller(smaller(walls, smaller(E_b, E_h)), smaller(factors, yielding));
    }
    let (eights, _) = soundness.as_chunks::<8>();
    let mut least = [f64::INFINITY; 8];
    for eight in eights {
        for (least, x) in least.iter_mut().zip(eight) {
            *least = smaller(*x, *least);
        }
    }
    least.iter().fold(f64::INFINITY, |least, x| smaller(*x, least))
}

/// The same at the working temperatures: clearance = bore (1 + α_b ΔT_b) − close-in − journal (1 + α_j ΔT_j).
#[inline(always)]
fn at_work(group: &mut Group) {
    use at::*;
    let Group { x, y, between } = group;
    for i in 0..GROUP {
        let f_b = 1.0 + x[BUSH_ALPHA][i] * (x[WORKING_BUSH_T][i] - 20.0);
        let f_h = 1.0 + x[HOUSING_ALPHA][i] * (x[WORKING_HOUSING_T][i] - 20.0);
        let f_j = 1.0 + x[JOURNAL_ALPHA][i] * (x[WORKING_JOURNAL_T][i] - 20.0);
        let delta_um = (between[BUSH_MM][i] * f_b - between[HOUSING_MM][i] * f_h - between[LOSS_MM][i]) * 1e3;
        let pressed_um = larger(delta_um, 0.0);
        let free_um = (x[BUSH_BORE][i] * f_b - x[JOURNAL][i] * f_j) * 1e3;
        y[7][i] = delta_um;
        y[8][i] = pressed_um * between[PRESSURE_PER_UM][i];
        y[9][i] = free_um - pressed_um * between[CLOSE_IN_PER_UM][i];
        y[10][i] = pressed_um * between[HOOP_PER_UM][i];
    }
}

/// Interference and pressure in the cold.
#[inline(always)]
fn in_the_cold(group: &mut Group) {
    use at::*;
    let Group { x, y, between } = group;
    for i in 0..GROUP {
        let f_b = 1.0 + x[BUSH_ALPHA][i] * (x[COLD_BUSH_T][i] - 20.0);
        let f_h = 1.0 + x[HOUSING_ALPHA][i] * (x[COLD_HOUSING_T][i] - 20.0);
        let delta_um = (between[BUSH_MM][i] * f_b - between[HOUSING_MM][i] * f_h - between[LOSS_MM][i]) * 1e3;
        y[11][i] = delta_um;
        y[12][i] = larger(delta_um, 0.0) * between[PRESSURE_PER_UM][i];
    }
}

/// Outputs at one set of values; none when the parts can't be.
pub fn outputs_at(values: &[f64; INPUTS], states: States) -> Option<[f64; OUTPUTS]> {
    let mut group = Group::default();
    for (row, value) in group.x.iter_mut().zip(values) {
        *row = [*value; GROUP];
    }
    let soundness = outputs(&mut group, states);
    let y = group.y.map(|row| row[0]);
    (soundness > 0.0 && y.iter().all(|y| y.is_finite())).then_some(y)
}

// f64::max and min look after NaN, which costs vectors two more operations; no NaN gets here.
#[inline(always)]
fn larger(x: f64, y: f64) -> f64 {
    if x > y { x } else { y }
}

#[inline(always)]
fn smaller(x: f64, y: f64) -> f64 {
    if x < y { x } else { y }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The chain as the method page writes it, for one draw.
    fn plain(x: &[f64; INPUTS]) -> [f64; OUTPUTS] {
        use at::*;
        let k = 1.0 + x[GAUGE_ALPHA] * (x[GAUGE_T] - 20.0);
        let D_h = (x[HOUSING_READING] + x[HOUSING_CORRECTION]) * k / (1.0 + x[HOUSING_ALPHA] * (x[HOUSING_T] - 20.0));
        let D_b = (x[BUSH_READING] + x[BUSH_CORRECTION]) * k / (1.0 + x[BUSH_ALPHA] * (x[BUSH_T] - 20.0));
        let (Q2, q2) = ((x[BUSH_BORE] / D_h) * (x[BUSH_BORE] / D_h), (D_h / x[HOUSING_OUTSIDE]) * (D_h / x[HOUSING_OUTSIDE]));
        let k_b = ((1.0 + Q2) / (1.0 - Q2) - x[BUSH_NU]) / (1e3 * x[BUSH_E]);
        let k_h = ((1.0 + q2) / (1.0 - q2) + x[HOUSING_NU]) / (1e3 * x[HOUSING_E]);
        let delta = |T_b: f64, T_h: f64| {
            D_b * (1.0 + x[BUSH_ALPHA] * (T_b - 20.0))
                - D_h * (1.0 + x[HOUSING_ALPHA] * (T_h - 20.0))
                - x[SMOOTHING] * (x[BUSH_RZ] + x[HOUSING_RZ]) / 1000.0
        };
        let p = |delta: f64| delta.max(0.0) / D_h / (k_b + k_h);
        let close_in = |p: f64| 2.0 * p * x[BUSH_BORE] / (1e3 * x[BUSH_E] * (1.0 - Q2));
        let d_20 = delta(20.0, 20.0);
        let d_w = delta(x[WORKING_BUSH_T], x[WORKING_HOUSING_T]);
        let d_c = delta(x[COLD_BUSH_T], x[COLD_HOUSING_T]);
        let fitted = x[BUSH_BORE] - close_in(p(d_20));
        let bore_w = x[BUSH_BORE] * (1.0 + x[BUSH_ALPHA] * (x[WORKING_BUSH_T] - 20.0)) - close_in(p(d_w));
        [
            1e3 * d_20,
            p(d_20),
            1e3 * close_in(p(d_20)),
            fitted,
            1e3 * (fitted - x[JOURNAL]),
            -2.0 * p(d_20) / (1.0 - Q2),
            p(d_20) * (1.0 + q2) / (1.0 - q2),
            1e3 * d_w,
            p(d_w),
            1e3 * (bore_w - x[JOURNAL] * (1.0 + x[JOURNAL_ALPHA] * (x[WORKING_JOURNAL_T] - 20.0))),
            -2.0 * p(d_w) / (1.0 - Q2),
            1e3 * d_c,
            p(d_c),
        ]
    }

    #[test]
    fn one_common_denominator_gives_what_the_page_writes() {
        let mut x = [
            22.0, 1.15e-5, 240.018, 0.001, 23.0, 1.1e-5, 206.0, 0.3, 5.0, 430.0, 240.196, -0.002, 31.0, 1.8e-5, 100.0, 0.34, 6.0, 210.3,
            210.0, 1.15e-5, 0.8, 75.0, 55.0, 80.0, -25.0, -20.0,
        ];
        for reading in [240.196, 240.05, 239.9] {
            x[at::BUSH_READING] = reading;
            let found = outputs_at(&x, States { working: true, cold: true }).unwrap();
            for ((found, wanted), name) in found.iter().zip(plain(&x)).zip(OUTPUT) {
                assert!((found - wanted).abs() <= 1e-9 * wanted.abs().max(1e-3), "{name} at {reading}: {found}, wanted {wanted}");
            }
        }
    }

    #[test]
    fn parts_that_cannot_be_have_no_outputs() {
        let sound = [
            20.0, 0.0, 100.0, 0.0, 20.0, 0.0, 206.0, 0.3, 0.0, 150.0, 100.1, 0.0, 20.0, 0.0, 100.0, 0.34, 0.0, 90.0, 89.9, 0.0, 0.8, 20.0,
            20.0, 20.0, 20.0, 20.0,
        ];
        assert!(outputs_at(&sound, States::default()).is_some());
        for (input, value) in [(at::BUSH_BORE, 100.1), (at::HOUSING_OUTSIDE, 99.0), (at::BUSH_E, -1.0), (at::HOUSING_E, 0.0)] {
            let mut x = sound;
            x[input] = value;
            assert!(outputs_at(&x, States::default()).is_none(), "{}", INPUT[input].name);
        }
    }

    #[test]
    fn the_places_of_the_inputs_are_their_names() {
        for (place, name) in [
            (at::GAUGE_ALPHA, "gauge/alpha_per_K"),
            (at::HOUSING_OUTSIDE, "housing/equivalent_outside_mm"),
            (at::BUSH_BORE, "bush/bore_mm"),
            (at::SMOOTHING, "smoothing"),
            (at::COLD_HOUSING_T, "cold/housing_T_C"),
        ] {
            assert_eq!(INPUT[place].name, name);
        }
    }
}
