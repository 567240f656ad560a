//! What a joint of two free rings remembers: fitted at 20 °C first, then heated, chilled, and brought back.
//!
//! More interference than ever before loads on along the elastic-plastic curve, less unloads elastically with the sets kept.

use super::answer::AfterCycle;
use super::request::Fit;
use super::state::effective;
use super::temperatures::lets_go;
use crate::fit::lame;
use crate::fit::plastic::{HousingFlows, Loaded, Pair};
use crate::quantity::Figure;
use crate::refused::Refused;

/// A joint of two free rings that was fitted at 20 °C.
#[derive(Clone, Copy, Debug)]
pub(super) struct Path {
    pub pair: Pair,
    /// Effective interference at 20 °C, mm.
    pub delta_20: f64,
    /// What fitting at 20 °C did.
    pub at_20: Loaded,
}

impl Path {
    /// Fits the first two rings of `fit` at 20 °C; none when it has more. Refused when that alone makes the housing fully plastic.
    pub fn new(fit: &Fit) -> Result<Option<Self>, Refused> {
        if fit.rings.len() != 2 {
            return Ok(None);
        }
        let Some(pair) = fit.pair() else { return Ok(None) };
        // Without slip the rings are only judged by their use: no set is worked out.
        let pair = if fit.is_two_free_rings() { pair } else { Pair { bush_yield: None, housing_yield: None, ..pair } };
        let delta_20 = effective(fit, &[20.0, 20.0]).first().copied().unwrap_or(0.0);
        let at_20 = pair.loaded(delta_20).map_err(|flows| refusal(&pair, flows, "fitting at 20 °C"))?;
        Ok(Some(Self { pair, delta_20, at_20 }))
    }

    /// The joint at an effective interference, mm, after fitting at 20 °C.
    ///
    /// δ ≥ δ(20 °C): along the curve; less: `p = max(0, (δ + set_outside − set_housing)/(D (k_b + k_h)))`, sets of 20 °C kept.
    pub fn at(&self, delta: f64) -> Result<Loaded, HousingFlows> {
        if delta >= self.delta_20 { self.pair.loaded(delta) } else { Ok(self.unloaded(&self.at_20, delta)) }
    }

    fn unloaded(&self, peak: &Loaded, delta: f64) -> Loaded {
        Loaded { pressure: self.pair.elastic_pressure(delta + kept(peak)), ..*peak }
    }

    /// Interference at 20 °C that is left by the sets of 20 °C, mm.
    pub fn left_at_20(&self) -> f64 {
        self.delta_20 + kept(&self.at_20)
    }

    /// Largest effective interference of 20 °C and a cycle of states, mm.
    pub fn most(&self, fit: &Fit, cycle_T_C: &[Vec<f64>]) -> f64 {
        let deltas = cycle_T_C.iter().filter_map(|T_C| effective(fit, T_C).first().copied());
        deltas.fold(self.delta_20, f64::max)
    }

    /// The joint after the largest interference of 20 °C and a cycle of states.
    pub fn after(&self, fit: &Fit, cycle_T_C: &[Vec<f64>]) -> Result<AfterCycle, Refused> {
        let peak = self.pair.loaded(self.most(fit, cycle_T_C)).map_err(|flows| self.refusal(flows, "the cycle"))?;
        let left = self.delta_20 + kept(&peak);
        let p = self.unloaded(&peak, self.delta_20).pressure;
        let bush = &self.pair.bush;
        Ok(AfterCycle {
            effective_um: Figure::plain(left * 1e3),
            pressure_MPa: Figure::plain(p),
            close_in_um: Figure::plain((lame::close_in(p, bush.bore, bush.ratio(), bush.E) - peak.bush.bore) * 1e3),
            set_outside_um: peak.bush.outside * 1e3,
            set_bore_um: peak.bush.bore * 1e3,
            housing_set_um: peak.housing.bore * 1e3,
            peak_pressure_MPa: Figure::plain(peak.pressure),
            front_mm: peak.bush.front,
            lets_go_C: lets_go(fit, &[left])?.map(Figure::plain),
        })
    }

    /// Says that a state or the cycle presses the housing too far.
    pub fn refusal(&self, flows: HousingFlows, what: &str) -> Refused {
        refusal(&self.pair, flows, what)
    }
}

/// Interference that sets take, mm (at most 0): the bush comes back smaller, the housing larger.
fn kept(peak: &Loaded) -> f64 {
    peak.bush.outside - peak.housing.bore
}

fn refusal(pair: &Pair, flows: HousingFlows, what: &str) -> Refused {
    let given = format!("{}, too little for {what}", pair.housing_yield.unwrap_or(0.0));
    let allowed = format!("a housing that is not pressed to {:.1} MPa, where it flows through its whole wall", flows.limit);
    Refused::new("rings.1.yield_MPa", given, allowed, "take less interference or heat, a thicker housing or a stronger one")
}
