//! What still air brings to a cold bush: convection, radiation, and the frost that settles on it.
//!
//! Long horizontal cylinder in still air; h_c and h_r are of the outside and are taken for all surfaces.

use crate::math::{exp, pow, powi};

/// Kelvin at 0 °C.
const KELVIN: f64 = 273.15;
/// Standard gravity, m/s².
const GRAVITY: f64 = 9.80665;
/// Stefan and Boltzmann, W/(m² K⁴).
const SIGMA: f64 = 5.670_374_419e-8;
/// Prandtl number of air.
const PR: f64 = 0.71;
/// Heat of frost and of dew, J/kg.
const FROST: f64 = 2.83e6;
const DEW: f64 = 2.50e6;

/// The air around a bush.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Its temperature, °C.
    pub T_C: f64,
    /// What it brings, W/(m² K), instead of the film.
    pub h: Option<f64>,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
    /// Emissivity of the bush.
    pub emissivity: f64,
}

/// Conductivity of air at `T_C`, W/(m K): .0263 (T/300)^.92. Source: fit to Incropera table A.4 (memory).
pub fn k_air(T_C: f64) -> f64 {
    0.0263 * pow((T_C + KELVIN) / 300.0, 0.92)
}

/// Coefficient of radiation between two temperatures, W/(m² K).
pub fn radiation(emissivity: f64, T_C: f64, around_C: f64) -> f64 {
    let (T, T_a) = (T_C + KELVIN, around_C + KELVIN);
    emissivity * SIGMA * (T * T + T_a * T_a) * (T + T_a)
}

/// Vapour in saturated air, kg/m³: e/(461.5 T), e = 611.2 exp(17.62 t/(243.12 + t)), over ice 22.46 and 272.62.
fn saturated(t: f64) -> f64 {
    let (a, b) = if t < 0.0 { (22.46, 272.62) } else { (17.62, 243.12) };
    // The formula of ice ends at its pole; nothing is left of the vapour long before.
    let t = t.max(-200.0);
    611.2 * exp(a * t / (b + t)) / (461.5 * (t + KELVIN))
}

/// The air over a bush of some diameter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    air: Air,
    D: f64,
    vapour: f64,
}

impl Air {
    /// Over an outside diameter in metres.
    pub fn over(&self, D: f64) -> Film {
        Film { air: *self, D, vapour: self.humidity * saturated(self.T_C) }
    }
}

impl Film {
    /// Heat into a surface at `T_C`, W/m².
    ///
    /// (h_c + h_r)(T_a − T) + h_m max(0, RH rho_sat(T_a) − rho_sat(T)) L; h_m = h_c/(352.97/T_f x 1006 x .87^(2/3)).
    /// Source: Churchill and Chu 1975 (horizontal cylinder); Lewis analogy; air by Incropera table A.4 (memory).
    pub fn flux(&self, T_C: f64) -> f64 {
        let dT = self.air.T_C - T_C;
        if let Some(h) = self.air.h {
            return h * dT;
        }
        let T_f = (T_C + self.air.T_C) / 2.0 + KELVIN;
        let h_c = self.convection(T_f, dT.abs());
        let h_m = h_c / (352.97 / T_f * 1006.0 * pow(0.87, 2.0 / 3.0));
        let latent = if T_C < 0.0 { FROST } else { DEW };
        let moisture = h_m * (self.vapour - saturated(T_C)).max(0.0) * latent;
        (h_c + radiation(self.air.emissivity, T_C, self.air.T_C)) * dT + moisture
    }

    /// Nu = {.60 + .387 Ra^(1/6)/[1 + (.559/Pr)^(9/16)]^(8/27)}².
    fn convection(&self, T_f: f64, dT: f64) -> f64 {
        let nu = 15.89e-6 * pow(T_f / 300.0, 1.82);
        let Ra = GRAVITY * dT * powi(self.D, 3) * PR / (T_f * nu * nu);
        let root = 0.60 + 0.387 * pow(Ra, 1.0 / 6.0) / pow(1.0 + pow(0.559 / PR, 9.0 / 16.0), 8.0 / 27.0);
        root * root * k_air(T_f - KELVIN) / self.D
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_properties_are_near_the_table() {
        // Incropera table A.4, from memory: 200 K 0.0181 W/(m K), 300 K 0.0263.
        assert!((k_air(200.0 - KELVIN) - 0.0181).abs() < 2e-4 && (k_air(300.0 - KELVIN) - 0.0263).abs() < 1e-6);
        // Saturated air at 20 °C holds 17.3 g/m³, at −20 °C over ice 0.88 g/m³ (any psychrometric table, memory).
        assert!((saturated(20.0) - 0.0173).abs() < 1e-4 && (saturated(-20.0) - 0.00088).abs() < 2e-5);
    }

    #[test]
    fn warm_air_warms_and_cold_air_cools() {
        let film = Air { T_C: 20.0, h: None, humidity: 0.5, emissivity: 0.6 }.over(0.24);
        assert!(film.flux(-190.0) > film.flux(-60.0) && film.flux(-60.0) > film.flux(10.0) && film.flux(10.0) > 0.0);
        assert!(film.flux(40.0) < 0.0);
        let dry = Air { humidity: 0.0, ..film.air }.over(0.24);
        assert!(dry.flux(-30.0) < film.flux(-30.0), "frost brings heat");
        assert_eq!(dry.flux(15.0), film.flux(15.0), "over the dew point nothing settles");
    }
}
