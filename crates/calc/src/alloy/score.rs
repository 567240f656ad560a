//! Points of 0 to 100 for an alloy that stands the duty: thirteen criteria, weights by the duty, two deductions.
//!
//! The weights, the line of wear, the 12 and the 15 points were set by hand, in a few rounds, until the usual preferences of the trade
//! came out [common practice]; they are not fitted to service records. The 0..5 judgements of the table are from memory.

use serde::Serialize;

use crate::alloy::limits::{Demand, Relube, Uses};
use crate::alloy::table::Alloy;
use crate::duty::{Dirt, Lubrication, Regime, Shock};

/// From this hardness a journal counts as hard, HB.
pub const HARD_JOURNAL_HB: f64 = 300.0;
/// Points off for little lubricant and an alloy that does not live with it.
const POINTS_OFF_LUBE: f64 = 12.0;
/// Points off for a load at its limit.
const POINTS_OFF_LOAD: f64 = 15.0;
/// The use from which a load begins to cost points: a limit that is good to ± 30 % is no place to be.
pub const USE_CLOSE: f64 = 0.7;

/// One figure for each criterion, as weights or as merits of 0 to 5.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Criteria {
    /// Carries the load.
    pub strength: f64,
    /// Lives with the lubricant there is.
    pub lube: f64,
    /// Hard enough to wear slowly on a hard journal.
    pub wear: f64,
    /// Stands shock.
    pub shock: f64,
    /// Buries dirt.
    pub embed: f64,
    /// Beds in.
    pub conform: f64,
    /// Stands water.
    pub seawater: f64,
    /// Stands speed.
    pub speed: f64,
    /// Easy to turn.
    pub machining: f64,
    /// Cheap.
    pub cost: f64,
    /// Room to its nearest limit.
    pub margin: f64,
    /// The journal is as hard as it likes.
    pub journal: f64,
    /// Grows as the housing does.
    pub expansion: f64,
}

impl Criteria {
    /// By name, in the order of the method.
    pub fn list(&self) -> [(&'static str, f64); 13] {
        [
            ("strength", self.strength),
            ("lube", self.lube),
            ("wear", self.wear),
            ("shock", self.shock),
            ("embed", self.embed),
            ("conform", self.conform),
            ("seawater", self.seawater),
            ("speed", self.speed),
            ("machining", self.machining),
            ("cost", self.cost),
            ("margin", self.margin),
            ("journal", self.journal),
            ("expansion", self.expansion),
        ]
    }
}

fn held(x: f64) -> f64 {
    x.clamp(0.0, 1.0)
}

/// How much each criterion counts in this duty. The same for every alloy.
pub fn weights(demand: &Demand) -> Criteria {
    let p = demand.pressure_MPa;
    let hard = demand.journal_HB() >= HARD_JOURNAL_HB;
    let little_film = match demand.regime {
        Regime::Boundary => 2.5,
        Regime::Mixed => 1.5,
        Regime::FullFilm => 0.5,
    };
    let late = if demand.relube == Relube::Marginal { 1.5 } else { 1.0 };
    // On a hard pin under a heavy load wear counts instead of the forgiveness of lead.
    let on_hard_pin = if hard { 1.0 - 0.6 * held(p / 40.0) } else { 1.0 };
    Criteria {
        strength: 2.0 + 4.0 * held(p / 25.0),
        lube: little_film * late * on_hard_pin,
        wear: if hard && demand.regime == Regime::Boundary { 4.0 * held(p / 40.0) } else { 0.0 },
        shock: match demand.shock {
            Shock::None => 0.0,
            Shock::Moderate => 1.5,
            Shock::Heavy => 3.0,
        },
        embed: match demand.dirt {
            Dirt::Clean => 0.25,
            Dirt::Dusty => 1.0,
            Dirt::Gritty => 2.0,
        },
        conform: if demand.misaligned { 2.5 } else { 0.5 },
        seawater: match (demand.sea_water, demand.lubrication) {
            (true, _) => 5.0,
            (false, Lubrication::Water) => 2.0,
            _ => 0.0,
        },
        speed: 2.0 * held(demand.speed_m_s / 3.0),
        machining: 0.5,
        cost: 2.0,
        margin: 2.0,
        journal: 1.0,
        expansion: if demand.housing_alpha_per_K.is_some() { 1.0 } else { 0.0 },
    }
}

/// How well `alloy` meets each criterion, 0 to 5.
pub fn merits(alloy: &Alloy, demand: &Demand, uses: &Uses) -> Criteria {
    let s = &alloy.s;
    let (_, largest) = uses.largest();
    let journal_room = alloy.journal_HB_recommended - alloy.journal_HB_min;
    Criteria {
        strength: s.strength,
        lube: s.marginal_lube,
        wear: 5.0 * held((alloy.HB_typ - 50.0) / 50.0),
        shock: s.shock,
        embed: s.embed,
        conform: s.conform,
        seawater: s.seawater,
        speed: s.speed,
        machining: s.machining,
        cost: s.cost,
        margin: 5.0 * held((1.0 / largest - 1.0) / 2.0),
        journal: if journal_room > 0.0 { 5.0 * held((demand.journal_HB() - alloy.journal_HB_min) / journal_room) } else { 5.0 },
        expansion: demand.housing_alpha_per_K.map_or(0.0, |housing| 5.0 * held(1.0 - (alloy.alpha_per_K - housing).abs() / 1e-5)),
    }
}

/// Whether little lubricant costs `alloy` points.
pub fn starves(alloy: &Alloy, demand: &Demand) -> bool {
    demand.relube == Relube::Marginal && alloy.s.marginal_lube < 2.0 && demand.regime != Regime::FullFilm
}

/// Points of 0 to 100: 20 Σ w s/Σ w, less 12 where it starves, less 15 ((use − 0.7)/0.3)⁺ for a load near its limit.
///
/// use: the larger of `pressure` and `peak_pressure`. Source: set by hand [common practice], see the head of this file.
pub fn score(alloy: &Alloy, demand: &Demand, uses: &Uses) -> f64 {
    let (weights, merits) = (weights(demand).list(), merits(alloy, demand, uses).list());
    let total: f64 = weights.iter().map(|(_, w)| w).sum();
    let earned: f64 = weights.iter().zip(&merits).map(|((_, w), (_, s))| w * s).sum();
    let starved = if starves(alloy, demand) { POINTS_OFF_LUBE } else { 0.0 };
    let load_use = uses.pressure.max(uses.peak_pressure);
    let close = POINTS_OFF_LOAD * held((load_use - USE_CLOSE) / (1.0 - USE_CLOSE));
    (20.0 * earned / total - starved - close).clamp(0.0, 100.0)
}

#[cfg(test)]
mod tests {
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    /// Points of `id` for a request.
    fn points(id: &str, request: &str) -> f64 {
        let found = answer("alloys", &read(request).unwrap(), &Alone, false).unwrap();
        let ranked = found["ranked"].as_array().unwrap().iter().find(|ranked| ranked["id"] == id);
        ranked.unwrap()["score"].as_f64().unwrap()
    }

    #[test]
    fn points_are_those_of_a_second_program_over_the_same_rules() {
        const HEAVY_SWING: &str = r#"{"pressure_MPa": 30, "peak_pressure_MPa": 45, "speed_m_s": 0.012, "temperature_C": 60,
            "relube": "marginal", "journal_HB": 600, "shock": "moderate", "dirt": "dusty"}"#;
        const SEA_TURNING: &str = r#"{"pressure_MPa": 6, "peak_pressure_MPa": 8, "speed_m_s": 0.15, "temperature_C": 50, "regime": "mixed",
            "journal_HB": 220, "dirt": "gritty", "misaligned": true, "sea_water": true, "housing_alpha_per_K": 1.17e-5}"#;
        for (id, request, wanted) in [
            ("C90700", HEAVY_SWING, 59.368_380_413_831_48),
            ("C93200", HEAVY_SWING, 50.995_402_248_959_48),
            ("CC333G", HEAVY_SWING, 60.232_810_721_352_15),
            ("CC495K", SEA_TURNING, 63.074_502_174_410_62),
        ] {
            let found = points(id, request);
            assert!((found - wanted).abs() < 1e-9, "{id}: {found}, wanted {wanted}");
        }
    }
}
