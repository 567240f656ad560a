//! Viscosity and density of an oil at a temperature (`viscosity`), from its ISO VG grade or from two viscosities.
//!
//! Between 40 and 100 °C it interpolates, beyond it extrapolates: near the pour point and where ν is under 2 mm²/s the line no longer
//! holds (warned). Pressure does not enter. Greases count by their base oil.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{exp, ln, log10, pow};
use crate::propagate::propagate;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;

/// Grade at 40 °C and viscosity at 100 °C of an oil of viscosity index 95, both mm²/s. Source: ASTM D2270 from memory; one public
/// table lies within 4 % from VG 32 to 460 and up to 9 % off outside.
pub const VG_AND_NU100: [(f64, f64); 13] = [
    (10.0, 2.6),
    (15.0, 3.3),
    (22.0, 4.2),
    (32.0, 5.3),
    (46.0, 6.6),
    (68.0, 8.5),
    (100.0, 11.0),
    (150.0, 14.5),
    (220.0, 18.7),
    (320.0, 24.1),
    (460.0, 30.8),
    (680.0, 39.3),
    (1000.0, 50.5),
];
/// Density at 15 °C that is taken when none is given: a usual mineral oil [common practice].
pub const DENSITY_15_KG_M3: f64 = 880.0;
/// Fall of density per kelvin, as a share [common practice for mineral oils].
const DENSITY_FALL_PER_K: f64 = 0.00065;
/// Under this the formula of ASTM D341 needs terms that are left out here, mm²/s (memory).
const NU_LEAST: f64 = 2.0;
/// Over this an oil no longer pours, mm²/s [common practice].
const NU_STIFF: f64 = 30_000.0;
/// Over this nothing is left of an oil, mm²/s.
const NU_LIMIT: f64 = 1e9;
const KELVIN: f64 = 273.15;
const LINE: &str = "ASTM D341 (form recalled), ISO 3448 (grades)";

/// The keys of an `oil` in every request that has one.
pub const OIL_KEYS: &[Key] = &[
    Key::quantity("iso_vg", Range::within(10.0, 1000.0), "ISO VG grade: 10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680 or 1000"),
    Key::quantity("nu40_mm2_s", Range::over(0.5).to(1e5), "kinematic viscosity at 40 °C, with nu100_mm2_s"),
    Key::quantity("nu100_mm2_s", Range::over(0.5).to(1e4), "kinematic viscosity at 100 °C, with nu40_mm2_s"),
    Key::quantity("density_15_kg_m3", Range::within(500.0, 2000.0), "density at 15 °C").default("880"),
];

/// An oil: viscosity at 40 °C, that at 100 °C (none: viscosity index 95), density at 15 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oil {
    /// Viscosity at 40 °C; the number of an ISO VG grade is this one.
    pub nu40_mm2_s: Quantity,
    /// Viscosity at 100 °C, where it was given.
    pub nu100_mm2_s: Option<Quantity>,
    /// Density at 15 °C.
    pub density_15_kg_m3: Quantity,
}

/// What an oil is at one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OilAt {
    /// Kinematic viscosity.
    pub kinematic_mm2_s: f64,
    /// Density.
    pub density_kg_m3: f64,
    /// Dynamic viscosity.
    pub dynamic_mPas: f64,
}

impl Oil {
    /// The oil of an ISO VG grade, viscosity index 95, density 880 kg/m³ at 15 °C.
    pub const fn of_grade(iso_vg: f64) -> Self {
        Self { nu40_mm2_s: Quantity::exact(iso_vg), nu100_mm2_s: None, density_15_kg_m3: Quantity::exact(DENSITY_15_KG_M3) }
    }

    /// Reads the object at an `oil` key. Refused: a grade that is not in the table, a grade beside viscosities, one viscosity alone,
    /// an oil that is not thinner at 100 °C.
    pub fn read(given: &Given) -> Result<Self, Refused> {
        let density_15_kg_m3 = given.quantity_or("density_15_kg_m3", DENSITY_15_KG_M3);
        let two = (given.quantity("nu40_mm2_s"), given.quantity("nu100_mm2_s"));
        let (nu40_mm2_s, nu100_mm2_s) = match (given.quantity("iso_vg"), two) {
            (Some(grade), (None, None)) if VG_AND_NU100.iter().any(|(vg, _)| *vg == grade.value) => (grade, None),
            (Some(_), (None, None)) => return Err(given.refuse("iso_vg", grades(), "give the grade on the tin, or two viscosities")),
            (Some(_), _) => return Err(given.refuse("iso_vg", "a grade or two viscosities, not both", "take one of them out")),
            (None, (Some(nu40), Some(nu100))) if nu100.value < nu40.value => (nu40, Some(nu100)),
            (None, (Some(nu40), Some(_))) => {
                let allowed = format!("a number over 0.5 and under nu40_mm2_s, {}", nu40.value);
                return Err(given.refuse("nu100_mm2_s", allowed, "an oil is thinner at 100 °C: look at its sheet again"));
            }
            (None, (Some(_), None)) => return Err(given.refuse("nu100_mm2_s", "a number over 0.5", "give it beside nu40_mm2_s")),
            (None, (None, Some(_))) => return Err(given.refuse("nu40_mm2_s", "a number over 0.5", "give it beside nu100_mm2_s")),
            (None, (None, None)) => return Err(given.refuse("iso_vg", grades(), "give the grade, or nu40_mm2_s with nu100_mm2_s")),
        };
        Ok(Self { nu40_mm2_s, nu100_mm2_s, density_15_kg_m3 })
    }

    /// Its figures as the inputs of a propagation: ν at 40 °C, ν at 100 °C (0 where it follows from the grade), density at 15 °C.
    pub fn inputs(&self) -> [Quantity; 3] {
        [self.nu40_mm2_s, self.nu100_mm2_s.unwrap_or(Quantity::exact(0.0)), self.density_15_kg_m3]
    }

    /// The oil at `T_C` with its figures at `nu40`, `nu100` (0: by the grade) and `density_15`, in the order of [`Oil::inputs`].
    pub fn at_inputs(nu40: f64, nu100: f64, density_15: f64, T_C: f64) -> Result<OilAt, Refused> {
        let nu100 = if nu100 == 0.0 { nu100_of_grade(nu40) } else { nu100 };
        let kinematic_mm2_s = kinematic(nu40, nu100, T_C);
        if !kinematic_mm2_s.is_finite() || kinematic_mm2_s > NU_LIMIT {
            let allowed = "a temperature at which the oil is under 1e9 mm²/s";
            return Err(Refused::new("T_C", T_C, allowed, "the oil is solid there: give a warmer oil, or a thinner one"));
        }
        let density_kg_m3 = density_15 * (1.0 - DENSITY_FALL_PER_K * (T_C - 15.0));
        Ok(OilAt { kinematic_mm2_s, density_kg_m3, dynamic_mPas: kinematic_mm2_s * density_kg_m3 / 1000.0 })
    }

    /// The oil at `T_C`, by the values of its figures.
    pub fn at(&self, T_C: f64) -> Result<OilAt, Refused> {
        let [nu40, nu100, density] = self.inputs();
        Self::at_inputs(nu40.value, nu100.value, density.value, T_C)
    }
}

fn grades() -> String {
    VG_AND_NU100.iter().map(|(vg, _)| vg.to_string()).collect::<Vec<_>>().join(", ")
}

/// Viscosity at 100 °C of an oil of viscosity index 95, straight between the grades in ln ν (the table itself at the grades).
pub fn nu100_of_grade(nu40: f64) -> f64 {
    let above = VG_AND_NU100.iter().position(|(vg, _)| *vg >= nu40).unwrap_or(VG_AND_NU100.len() - 1).max(1);
    let ((vg0, nu0), (vg1, nu1)) = (VG_AND_NU100[above - 1], VG_AND_NU100[above]);
    if nu40 == vg1 {
        return nu1;
    }
    nu0 * exp(ln(nu40 / vg0) / ln(vg1 / vg0) * ln(nu1 / nu0))
}

/// Kinematic viscosity at a temperature: `lg lg(ν + 0.7) = A − B lg T` through 40 and 100 °C, mm²/s.
///
/// nu40, nu100: mm²/s, both over 0.3; T_C: °C. Source: ASTM D341 (form recalled).
pub fn kinematic(nu40: f64, nu100: f64, T_C: f64) -> f64 {
    let (w40, w100) = (log10(log10(nu40 + 0.7)), log10(log10(nu100 + 0.7)));
    let lg_T = |T_C: f64| log10(T_C + KELVIN);
    let share = (lg_T(T_C) - lg_T(40.0)) / (lg_T(100.0) - lg_T(40.0));
    pow(10.0, pow(10.0, w40 + (w100 - w40) * share)) - 0.7
}

/// A request of `viscosity`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ViscosityRequest {
    /// The oil.
    pub oil: Oil,
    /// Its temperature.
    pub T_C: Quantity,
}

/// An answer of `viscosity`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ViscosityAnswer {
    /// Kinematic viscosity.
    pub kinematic_mm2_s: Figure,
    /// Density.
    pub density_kg_m3: Figure,
    /// Dynamic viscosity.
    pub dynamic_mPas: Figure,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// Viscosity and density of an oil at a temperature, each with its u where an input has one.
///
/// `lg lg(ν + 0.7) = A − B lg T`, `ρ = ρ15 (1 − 0.00065 (T − 15))`, `η = ν ρ`. Refused: an oil that would be solid.
/// Source: ASTM D341 (form recalled); the fall of density is common practice; propagation JCGM 100, 5.1.
pub fn viscosity(request: &ViscosityRequest) -> Result<ViscosityAnswer, Refused> {
    let [nu40, nu100, density] = request.oil.inputs();
    let figures = propagate(&[nu40, nu100, density, request.T_C], |x| {
        let oil = Oil::at_inputs(x[0], x[1], x[2], x[3])?;
        Ok::<_, Refused>(vec![oil.kinematic_mm2_s, oil.density_kg_m3, oil.dynamic_mPas])
    })?;
    let (kinematic_mm2_s, density_kg_m3, dynamic_mPas) = (figures[0], figures[1], figures[2]);
    let warnings = oil_warnings(kinematic_mm2_s.value, request.T_C.value);
    Ok(ViscosityAnswer { kinematic_mm2_s, density_kg_m3, dynamic_mPas, warnings })
}

/// What to say of an oil of `nu` mm²/s at `T_C`.
pub fn oil_warnings(nu: f64, T_C: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    if nu < NU_LEAST {
        warnings.push(format!("At {T_C} °C the oil has {nu:.2} mm²/s: under 2 mm²/s the line through 40 and 100 °C no longer holds."));
    }
    if nu > NU_STIFF {
        warnings.push(format!(
            "At {T_C} °C the oil has {nu:.0} mm²/s: it hardly pours, and near its pour point the line through 40 and 100 °C no longer holds."
        ));
    }
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "viscosity",
    help: "viscosity and density of an oil at a temperature",
    request: &[
        Key::record("oil", OIL_KEYS, "the oil: iso_vg, or nu40_mm2_s with nu100_mm2_s").needed(),
        Key::quantity("T_C", Range::within(-60.0, 200.0), "temperature of the oil").needed(),
    ],
    answer: &[
        Told { path: "kinematic_mm2_s", help: "kinematic viscosity, with u where an input has one" },
        Told { path: "density_kg_m3", help: "density, with u where an input has one" },
        Told { path: "dynamic_mPas", help: "dynamic viscosity, with u where an input has one" },
    ],
    example: r#"{"oil": {"iso_vg": 46}, "T_C": 70}"#,
    run: Some(answer_viscosity),
};

fn answer_viscosity(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let oil = Oil::read(&given.need_record("oil")?)?;
    let request = ViscosityRequest { oil, T_C: given.need_quantity("T_C")? };
    let answer = viscosity(&request)?;
    let (nu40, T) = (oil.nu40_mm2_s.value, request.T_C.value);
    let nu100 = oil.nu100_mm2_s.map_or_else(|| nu100_of_grade(nu40), |nu100| nu100.value);
    let (nu, rho, eta) = (answer.kinematic_mm2_s.value, answer.density_kg_m3.value, answer.dynamic_mPas.value);
    let with = [("nu40 mm2/s", nu40), ("nu100 mm2/s", nu100), ("T C", T)];
    desk.working.step("kinematic viscosity", "lg lg(nu + 0.7) = A - B lg T(K)", &with, &[("nu mm2/s", nu)], LINE);
    let with = [("rho15 kg/m3", oil.density_15_kg_m3.value), ("T C", T)];
    desk.working.step("density", "rho15 (1 - 0.00065 (T - 15))", &with, &[("rho kg/m3", rho)], "common practice for mineral oils");
    desk.working.step("dynamic viscosity", "nu rho/1000", &[("nu mm2/s", nu), ("rho kg/m3", rho)], &[("eta mPa s", eta)], "definition");
    told(&answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(request: &str) -> Result<Value, Refused> {
        answer("viscosity", &read(request).unwrap(), &Alone, false)
    }

    #[test]
    fn the_line_passes_through_both_given_viscosities() {
        for (vg, nu100) in VG_AND_NU100 {
            assert!((kinematic(vg, nu100, 40.0) / vg - 1.0).abs() < 1e-12);
            assert!((kinematic(vg, nu100, 100.0) / nu100 - 1.0).abs() < 1e-12);
            assert_eq!(nu100_of_grade(vg), nu100);
        }
    }

    #[test]
    fn an_oil_that_is_half_said_or_said_twice_is_refused_by_key() {
        for (request, key) in [
            (r#"{"oil": {"iso_vg": 45}, "T_C": 20}"#, "oil.iso_vg"),
            (r#"{"oil": {}, "T_C": 20}"#, "oil.iso_vg"),
            (r#"{"oil": {"nu40_mm2_s": 46}, "T_C": 20}"#, "oil.nu100_mm2_s"),
            (r#"{"oil": {"nu100_mm2_s": 7}, "T_C": 20}"#, "oil.nu40_mm2_s"),
            (r#"{"oil": {"nu40_mm2_s": 46, "nu100_mm2_s": 46}, "T_C": 20}"#, "oil.nu100_mm2_s"),
            (r#"{"oil": {"iso_vg": 46, "nu40_mm2_s": 46}, "T_C": 20}"#, "oil.iso_vg"),
            (r#"{"oil": {"nu40_mm2_s": 90000, "nu100_mm2_s": 0.6}, "T_C": -60}"#, "T_C"),
        ] {
            assert_eq!(asked(request).unwrap_err().key, key, "{request}");
        }
    }

    #[test]
    fn thin_and_stiff_oils_are_warned_of() {
        let thin = asked(r#"{"oil": {"iso_vg": 10}, "T_C": 150}"#).unwrap();
        assert!(thin["warnings"][0].as_str().unwrap().contains("under 2 mm²/s"));
        let stiff = asked(r#"{"oil": {"iso_vg": 1000}, "T_C": -10}"#).unwrap();
        assert!(stiff["warnings"][0].as_str().unwrap().contains("pour"));
    }

    #[test]
    fn the_doubt_of_a_grade_reaches_the_viscosity_at_its_own_temperature() {
        let found = asked(r#"{"oil": {"iso_vg": {"value": 46, "u": 2.3}}, "T_C": 40}"#).unwrap();
        assert!((found["kinematic_mm2_s"]["u"].as_f64().unwrap() - 2.3).abs() < 1e-6);
        let exact = asked(r#"{"oil": {"iso_vg": 46}, "T_C": 40}"#).unwrap();
        assert!(exact["kinematic_mm2_s"].is_number());
    }
}
