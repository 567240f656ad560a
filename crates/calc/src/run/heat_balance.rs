//! Where an oil bearing settles: the temperature at which its friction heats it as much as housing and oil cool it.
//!
//! Friction falls and cooling rises with temperature, so there is one balance as a rule; a clearance that closes as it warms may make a
//! second one, or leave none. It leaves reading, judging and uncertainty to `running`, the film to `film_shape`.
//!
//! The film of this L/D is sketched once on a coarse mesh, for the search; at the balance that is found the exact film corrects the sketch,
//! and the search is done again, until the exact film no longer moves it.
//! Source: ISO 7902-1 (scope read, formulas recalled).

use crate::math::{PI, exp, ln, sq};
use crate::run::film::{Loaded, Sized, TOLERANCE_REL};
use crate::run::film_shape::{EPS_MOST, Effort, Found, Theory, film_at};
use crate::run::film_theory::short_sommerfeld;
use crate::run::viscosity::{Oil, OilAt};

/// The hottest that is looked at.
pub const HOTTEST_C: f64 = 180.0;
/// Steps from the coldest to the hottest in which a change of sign is looked for.
const SCAN: usize = 120;
/// Halvings of a step in which the sign changes.
const HALVINGS: u32 = 48;
/// Halvings of the temperature for a load: 1e-4 K is left.
const LOAD_HALVINGS: u32 = 20;
/// Chords for an eccentricity of the sketch at most, and how far ln S may be off; some eight do.
const EPS_STEPS: u32 = 100;
const EPS_MET: f64 = 1e-14;
/// Corrections of the sketch at most; the first leaves a thousandth, each other a thousandth of that.
const CORRECTIONS: u32 = 12;
/// Corrected enough when no factor moves by more.
const CORRECTED: f64 = 1e-10;
/// Points of the sketch, even in ln(ε/(1 − ε)) from ε = 0.01 to 0.99.
const POINTS: usize = 24;
const Z_MOST: f64 = 4.595_119_850_134_589;

/// What carries the heat away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cooling {
    /// The surface of the housing.
    Housing,
    /// The oil that flows through.
    Oil,
    /// Both.
    Both,
}

/// A bearing with its oil and its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing {
    /// Load F.
    pub load_kN: f64,
    /// Speed 60 N.
    pub speed_rpm: f64,
    /// Diameter D.
    pub diameter_mm: f64,
    /// Length L.
    pub length_mm: f64,
    /// Clearance at 20 °C.
    pub clearance_um: f64,
    /// ν at 40 °C, ν at 100 °C (0: by the grade), density at 15 °C.
    pub oil: [f64; 3],
    /// Temperature of the air.
    pub ambient_C: f64,
    /// What cools.
    pub cooling: Cooling,
    /// Temperature of the oil that comes in.
    pub inlet_C: f64,
    /// Pressure of the supply; 0: no forced flow.
    pub supply_MPa: f64,
    /// Diameter of the supply hole, which lies against the load.
    pub hole_mm: f64,
    /// Surface that gives heat to the air.
    pub surface_m2: f64,
    /// Heat transfer at it.
    pub heat_transfer_W_m2K: f64,
    /// Heat capacity of the oil by volume.
    pub heat_capacity_J_m3K: f64,
    /// Expansion of the bore.
    pub alpha_bore_per_K: f64,
    /// Expansion of the journal.
    pub alpha_journal_per_K: f64,
    /// By how much the journal is hotter than the bearing.
    pub journal_excess_K: f64,
}

/// The bearing at a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Bearing and oil that leaves.
    pub T_C: f64,
    /// Of the viscosity.
    pub T_effective_C: f64,
    /// Clearance at the temperature, viscosity, load: the film's request.
    pub loaded: Loaded,
    /// Kinematic viscosity.
    pub kinematic_mm2_s: f64,
    /// Side flow and forced flow.
    pub flow_l_min: f64,
    /// Friction power.
    pub power_W: f64,
    /// Heat to the air.
    pub heat_housing_W: f64,
    /// Heat to the oil.
    pub heat_oil_W: f64,
    /// Eccentricity ratio.
    pub eps: f64,
    /// The load needs more than the film's limit.
    pub beyond: bool,
}

/// A bearing that settles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// The bearing at its balance.
    pub state: State,
    /// Its film.
    pub film: Found,
    /// The temperature over which friction wins again, if there is one.
    pub runs_away_C: Option<f64>,
    /// The exact film no longer moves it.
    pub settled: bool,
}

/// Why a bearing does not settle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unsettled {
    /// Friction wins up to the hottest.
    DoesNotCool,
    /// The clearance is gone at this temperature, before a balance.
    Seizes(f64),
}

/// The bearing's balance of heat: f F v = k A (T − T_amb) [not for oil] + ρc Q (T − T_in) [not for housing], lowest T.
///
/// T = T_out = T_bearing; T_eff = T (housing) or (T_in + T)/2 (oil, both); clearance = c20 + D [α_bore (T − 20) − α_j (T + excess − 20)];
/// Q = Q_s + Q_p. From the coldest of its surroundings to [`HOTTEST_C`]. Source: ISO 7902-1 (formulas recalled).
pub fn balance(bearing: &Bearing, sketch: &Sketch, halvings: Option<usize>) -> Result<Settled, Unsettled> {
    let mut sketch = sketch.clone();
    let mut effort = halvings.map_or(Effort::Tolerance(TOLERANCE_REL), Effort::Halvings);
    let mut step = 1;
    loop {
        let (state, runs_away_C) = bearing.lowest(&sketch)?;
        let film = film_at(Theory::Finite, state.eps, sketch.L_over_D, effort);
        // From here on the same mesh: another one would move the film by its error.
        effort = Effort::Halvings(film.halvings);
        let moved = sketch.correct(&film);
        if moved <= CORRECTED || step >= CORRECTIONS {
            return Ok(Settled { state, film, runs_away_C, settled: film.settled && moved <= 1e3 * CORRECTED });
        }
        step += 1;
    }
}

impl Bearing {
    fn coldest_C(&self) -> f64 {
        match self.cooling {
            Cooling::Housing => self.ambient_C,
            Cooling::Oil => self.inlet_C,
            Cooling::Both => self.ambient_C.min(self.inlet_C),
        }
    }

    /// Clearance at `T_C`, µm.
    pub fn clearance_at(&self, T_C: f64) -> f64 {
        let bore = self.alpha_bore_per_K * (T_C - 20.0);
        let journal = self.alpha_journal_per_K * (T_C + self.journal_excess_K - 20.0);
        self.clearance_um + 1000.0 * self.diameter_mm * (bore - journal)
    }

    /// The lowest balance on the sketch, and where friction wins again above it.
    fn lowest(&self, sketch: &Sketch) -> Result<(State, Option<f64>), Unsettled> {
        let from = self.coldest_C();
        let at = |i: usize| from + (HOTTEST_C - from) * i as f64 / SCAN as f64;
        let mut found: Option<State> = None;
        let mut excess_before = true;
        for i in 0..=SCAN {
            if self.clearance_at(at(i)) <= 0.0 {
                return found.map(|state| (state, Some(at(i)))).ok_or(Unsettled::Seizes(at(i)));
            }
            let excess = self.excess(at(i), sketch) > 0.0;
            match &found {
                None if excess_before && !excess => {
                    let (low, high) = (at(i.max(1) - 1), at(i));
                    found = self.state(self.between(low, high, sketch), sketch);
                }
                Some(state) if excess => return Ok((*state, Some(at(i)))),
                _ => {}
            }
            excess_before = excess;
        }
        found.map(|state| (state, None)).ok_or(Unsettled::DoesNotCool)
    }

    fn between(&self, mut low: f64, mut high: f64, sketch: &Sketch) -> f64 {
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.excess(middle, sketch) > 0.0 { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// Friction power over what cools, W. An oil that is solid has no end of friction.
    fn excess(&self, T_C: f64, sketch: &Sketch) -> f64 {
        self.state(T_C, sketch).map_or(f64::INFINITY, |state| state.power_W - state.heat_housing_W - state.heat_oil_W)
    }

    /// The bearing at `T_C`; none where the oil is solid or the clearance gone.
    fn state(&self, T_C: f64, sketch: &Sketch) -> Option<State> {
        let (loaded, oil) = self.loaded_at(T_C)?;
        let S = loaded.sommerfeld();
        if !S.is_finite() || S <= 0.0 {
            return None;
        }
        let (eps, beyond) = sketch.eps_under(S);
        Some(self.heated(T_C, loaded, oil, (eps, beyond), sketch))
    }

    const fn T_effective_C(&self, T_C: f64) -> f64 {
        if matches!(self.cooling, Cooling::Housing) { T_C } else { 0.5 * (self.inlet_C + T_C) }
    }

    /// Clearance and oil at `T_C`, under the bearing's load.
    fn loaded_at(&self, T_C: f64) -> Option<(Loaded, OilAt)> {
        let [nu40, nu100, density] = self.oil;
        let oil = Oil::at_inputs(nu40, nu100, density, self.T_effective_C(T_C)).ok()?;
        let loaded = Loaded {
            load_kN: self.load_kN,
            speed_rpm: self.speed_rpm,
            diameter_mm: self.diameter_mm,
            length_mm: self.length_mm,
            clearance_um: self.clearance_at(T_C),
            viscosity_mPas: oil.dynamic_mPas,
            heat_capacity_J_m3K: self.heat_capacity_J_m3K,
        };
        (loaded.clearance_um > 0.0).then_some((loaded, oil))
    }

    /// What the film at an eccentricity ratio makes of heat and flow.
    fn heated(&self, T_C: f64, loaded: Loaded, oil: OilAt, (eps, beyond): (f64, bool), sketch: &Sketch) -> State {
        let (friction_variable, side_flow_variable) = sketch.friction_and_side_flow(eps);
        let power_W = friction_variable / loaded.slackness() * 1000.0 * loaded.load_kN * loaded.speed_m_s();
        let flow_l_min = side_flow_variable * loaded.flow_measure() * 6e4 + self.forced_flow_l_min(&loaded, eps);
        let to_air = self.heat_transfer_W_m2K * self.surface_m2 * (T_C - self.ambient_C);
        let to_oil = self.heat_capacity_J_m3K * flow_l_min / 6e4 * (T_C - self.inlet_C);
        State {
            T_C,
            T_effective_C: self.T_effective_C(T_C),
            loaded,
            kinematic_mm2_s: oil.kinematic_mm2_s,
            flow_l_min,
            power_W,
            heat_housing_W: if self.cooling == Cooling::Oil { 0.0 } else { to_air },
            heat_oil_W: if self.cooling == Cooling::Housing { 0.0 } else { to_oil },
            eps,
            beyond,
        }
    }

    /// The balance on the sketch alone: within some thousandths of [`balance`], for looking along many clearances.
    pub fn sketched(&self, sketch: &Sketch) -> Option<State> {
        self.lowest(sketch).ok().map(|(state, _)| state)
    }

    /// The load under which a film of `film_um` is left at its own balance of heat, kN; none where no load leaves so much.
    ///
    /// At each temperature the film gives ε = 1 − film/C, ε gives S, S the load; the temperature is the one at which its friction is
    /// cooled away. So the load need not be searched for.
    pub fn load_for_film(&self, film_um: f64, sketch: &Sketch) -> Option<f64> {
        let from = self.coldest_C();
        let at = |i: usize| from + (HOTTEST_C - from) * i as f64 / SCAN as f64;
        let excess = |T_C: f64| self.under_film(T_C, film_um, sketch).map(|state| state.power_W - state.heat_housing_W - state.heat_oil_W);
        let first = (0..=SCAN).find(|i| excess(at(*i)).is_some_and(|excess| excess <= 0.0))?;
        let (mut low, mut high) = (at(first.max(1) - 1), at(first));
        for _ in 0..LOAD_HALVINGS {
            let middle = 0.5 * (low + high);
            if excess(middle).is_none_or(|excess| excess > 0.0) { low = middle } else { high = middle }
        }
        self.under_film(high, film_um, sketch).map(|state| state.loaded.load_kN)
    }

    /// The bearing at `T_C` under the load that leaves `film_um`.
    fn under_film(&self, T_C: f64, film_um: f64, sketch: &Sketch) -> Option<State> {
        let (mut loaded, oil) = self.loaded_at(T_C)?;
        let eps = (1.0 - film_um / (loaded.clearance_um / 2.0)).min(EPS_MOST);
        if eps <= 0.0 {
            return None;
        }
        // S falls as 1/load.
        loaded.load_kN *= loaded.sommerfeld() / sketch.figure(eps, 0);
        Some(self.heated(T_C, loaded, oil, (eps, false), sketch))
    }

    /// Flow through a hole against the load: Q_p = D³ψ³ p_in/η (π/48)(1 + ε)³/[ln(L/d_H) q_H], l/min,
    /// q_H = 1.204 + 0.368 x − 1.046 x² + 1.942 x³, x = d_H/L up to 0.7. Source: ISO 7902-1, from memory.
    fn forced_flow_l_min(&self, loaded: &Loaded, eps: f64) -> f64 {
        if self.supply_MPa <= 0.0 || self.hole_mm <= 0.0 {
            return 0.0;
        }
        let x = self.hole_mm / self.length_mm;
        let q = 1.204 + x * (0.368 + x * (-1.046 + x * 1.942));
        // D ψ is the clearance.
        let c = loaded.clearance_um * 1e-6;
        let wide = 1.0 + eps;
        let per_s = c * c * c * self.supply_MPa * 1e6 / (loaded.viscosity_mPas * 1e-3) * (PI / 48.0) * (wide * wide * wide) / (-ln(x) * q);
        per_s * 6e4
    }
}

impl State {
    /// Thinnest film C (1 − ε).
    pub fn min_film_um(&self) -> f64 {
        self.loaded.clearance_um / 2.0 * (1.0 - self.eps)
    }

    /// [`transition_rpm`] by the sketch.
    pub fn transition_rpm(&self, required_um: f64, sketch: &Sketch) -> Option<f64> {
        let eps = 1.0 - required_um / (self.loaded.clearance_um / 2.0);
        (required_um > 0.0 && eps > 0.0 && eps < 1.0).then(|| speed_for(sketch.figure(eps.min(EPS_MOST), 0), &self.loaded))
    }

    /// The film's sized figures here.
    pub fn sized(&self, film: &Found) -> Sized {
        Sized::of(&self.loaded, &film.shape)
    }
}

/// The films of one L/D, roughly: what a search for a temperature asks some thousand times.
///
/// Between points it interpolates what is left of the figures when the closed theories are taken out.
#[derive(Clone, Debug)]
pub struct Sketch {
    /// L/D.
    pub L_over_D: f64,
    /// At each point: ln of S, of (R/C) f and of Q_s over what [`leading`] has for them.
    points: Vec<[f64; 3]>,
    /// ln of the factors by which the exact film at the last balance differs.
    factors: [f64; 3],
}

/// What S, (R/C) f and Q_s go by: S of the short and of the endless bearing together, Petroff's friction, and 2π ε.
fn leading(eps: f64, L_over_D: f64) -> [f64; 3] {
    let S = short_sommerfeld(eps, L_over_D) + crate::run::film_theory::half_sommerfeld(eps);
    [S, 2.0 * PI * PI * S / ((1.0 - eps) * (1.0 + eps)).sqrt(), 2.0 * PI * eps]
}

fn eps_at(z: f64) -> f64 {
    1.0 / (1.0 + exp(-z))
}

impl Sketch {
    /// Sketches the films of `L_over_D` (0.05 to 10).
    pub fn new(L_over_D: f64) -> Self {
        let point = |k: usize| {
            let eps = eps_at(Z_MOST * (2.0 * k as f64 / (POINTS - 1) as f64 - 1.0));
            let shape = film_at(Theory::Finite, eps, L_over_D, Effort::Halvings(1)).shape;
            let lead = leading(eps, L_over_D);
            [shape.sommerfeld, shape.friction_variable, shape.side_flow_variable]
                .iter()
                .zip(lead)
                .map(|(x, lead)| ln(x / lead))
                .collect::<Vec<f64>>()
        };
        let points = (0..POINTS).map(|k| point(k).try_into().unwrap_or([0.0; 3])).collect();
        Self { L_over_D, points, factors: [0.0; 3] }
    }

    /// ln of figure `k` at z = ln(ε/(1 − ε)), over what leads: a cubic through the four points about z, level beyond the ends.
    fn over_leading(&self, z: f64, k: usize) -> f64 {
        let place = ((z / Z_MOST).clamp(-1.0, 1.0) + 1.0) / 2.0 * (POINTS - 1) as f64;
        let first = (place.floor().max(0.0) as usize).clamp(1, POINTS - 3) - 1;
        let t = place - first as f64;
        let at = |i: usize| self.points[first + i][k];
        let weights = [
            -(t - 1.0) * (t - 2.0) * (t - 3.0) / 6.0,
            t * (t - 2.0) * (t - 3.0) / 2.0,
            -t * (t - 1.0) * (t - 3.0) / 2.0,
            t * (t - 1.0) * (t - 2.0) / 6.0,
        ];
        weights.iter().enumerate().map(|(i, weight)| weight * at(i)).sum::<f64>() + self.factors[k]
    }

    fn figure(&self, eps: f64, k: usize) -> f64 {
        leading(eps, self.L_over_D)[k] * exp(self.over_leading(ln(eps / (1.0 - eps)), k))
    }

    /// The eccentricity ratio under a load of Sommerfeld number `S`; its limit and true where the load asks for more.
    fn eps_under(&self, S: f64) -> (f64, bool) {
        if S < self.figure(EPS_MOST, 0) {
            return (EPS_MOST, true);
        }
        let off = |z: f64| ln(self.figure(eps_at(z), 0) / S);
        let light = off(-Z_MOST) < 0.0;
        let (mut low, mut high) = if light { (-700.0, -Z_MOST) } else { (-Z_MOST, Z_MOST) };
        let (mut over, mut under) = (off(low), off(high));
        // The chord between both ends; an end that stays twice counts half, so that it moves too (Illinois rule).
        let mut stayed = 0;
        for _ in 0..EPS_STEPS {
            let z = high - under * (high - low) / (under - over);
            let here = off(z);
            if here.abs() < EPS_MET || high - low < EPS_MET {
                return (eps_at(z), false);
            }
            if here > 0.0 {
                (low, over) = (z, here);
                under *= if stayed == 1 { 0.5 } else { 1.0 };
                stayed = 1;
            } else {
                (high, under) = (z, here);
                over *= if stayed == -1 { 0.5 } else { 1.0 };
                stayed = -1;
            }
        }
        (eps_at(0.5 * (low + high)), false)
    }

    /// (R/C) f and Q_s/(R C N L).
    fn friction_and_side_flow(&self, eps: f64) -> (f64, f64) {
        (self.figure(eps, 1), self.figure(eps, 2))
    }

    /// Makes the sketch agree with `film` at its eccentricity; gives the largest share by which a figure moved.
    fn correct(&mut self, film: &Found) -> f64 {
        let exact = [film.shape.sommerfeld, film.shape.friction_variable, film.shape.side_flow_variable];
        let mut moved: f64 = 0.0;
        for (k, exact) in exact.into_iter().enumerate() {
            let by = ln(exact / self.figure(film.shape.eps, k));
            self.factors[k] += by;
            moved = moved.max(by.abs());
        }
        moved
    }
}

/// Speed at which the film is as thick as `required_um`: 60 S(ε_r) p ψ²/η, ε_r = 1 − required/C, rev/min; none when that is C or more.
pub fn transition_rpm(loaded: &Loaded, required_um: f64, halvings: usize) -> Option<f64> {
    let eps = 1.0 - required_um / (loaded.clearance_um / 2.0);
    if required_um <= 0.0 || eps <= 0.0 || eps >= 1.0 {
        return None;
    }
    let S = film_at(Theory::Finite, eps, loaded.slenderness(), Effort::Halvings(halvings)).shape.sommerfeld;
    Some(speed_for(S, loaded))
}

/// Speed at which the load has the Sommerfeld number `S`, rev/min.
fn speed_for(S: f64, loaded: &Loaded) -> f64 {
    60.0 * S * loaded.pressure_MPa() * 1e6 / (sq(loaded.slackness()) * loaded.viscosity_mPas * 1e-3)
}
