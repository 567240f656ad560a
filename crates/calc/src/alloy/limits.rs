//! Which alloys a duty rules out, and how much of each limit it takes: the hard limits, before any ranking.
//!
//! Figures are those of the table and good to about ± 30 % (judgement): a use of up to 1.3 is *just over*, not unfit. It leaves the
//! order among those that stand it to `score`.

use serde::Serialize;

use crate::alloy::table::Alloy;
use crate::duty::{Dirt, Lubrication, Regime, Shock};
use crate::math::ln;

/// Up to this speed a bush counts as creeping, m/s: 1 m/min. Source: M20.
const CREEPING_M_S: f64 = 1.0 / 60.0;
/// From this speed the dynamic pressure limit holds, m/s: six times creeping [our interpolation, common practice].
const MOVING_M_S: f64 = 0.1;
/// Share of the p v limit that is left without a lubricant [common practice].
const DRY_PV_SHARE: f64 = 0.1;
/// Uses up to this are within the doubt of the limits (judgement).
const NEAR: f64 = 1.3;
/// A judgement of sea water under this rules an alloy out.
const SEA_WATER_LEAST: f64 = 2.0;
/// Hardness of a journal of which nothing is known, HB: a shaft that was not hardened.
pub const JOURNAL_HB_UNKNOWN: f64 = 200.0;
/// Castings with "0.5 max" lead can be bought with under 0.1 %, so lead alone need not rule them out.
const LEAD_TO_ASK_FOR_PCT: f64 = 0.5;

/// How well the lubricant is renewed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relube {
    /// On time.
    Good,
    /// Late or seldom.
    Marginal,
}

/// What the bush has to stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Mean pressure.
    pub pressure_MPa: f64,
    /// Greatest mean pressure.
    pub peak_pressure_MPa: f64,
    /// Sliding speed.
    pub speed_m_s: f64,
    /// Pressure times speed.
    pub pv_MPa_m_s: f64,
    /// Running regime.
    pub regime: Regime,
    /// What lubricates.
    pub lubrication: Lubrication,
    /// How well it is renewed.
    pub relube: Relube,
    /// Runs for short spells only.
    pub intermittent: bool,
    /// Of the bush; none: not tested.
    pub temperature_C: Option<f64>,
    /// Of the journal; none: a shaft that was not hardened.
    pub journal_HB: Option<f64>,
    /// How hard the load comes.
    pub shock: Shock,
    /// How dirty the place is.
    pub dirt: Dirt,
    /// Journal and bore don't line up.
    pub misaligned: bool,
    /// Stands in sea water.
    pub sea_water: bool,
    /// No lead is allowed.
    pub lead_free: bool,
    /// Food or drinking water is near.
    pub food: bool,
    /// Lead that still counts as none.
    pub lead_limit_pct: f64,
    /// Expansion of the housing, where it counts.
    pub housing_alpha_per_K: Option<f64>,
}

impl Demand {
    /// Hardness of the journal that is reckoned with.
    pub fn journal_HB(&self) -> f64 {
        self.journal_HB.unwrap_or(JOURNAL_HB_UNKNOWN)
    }

    /// The mean pressure that `alloy` stands at this speed: static, dynamic, or between them by the logarithm of the speed.
    ///
    /// p_static for v ≤ 1/60 m/s or intermittent running (M20), p_dyn from 0.1 m/s, between them
    /// p_static + (p_dyn − p_static) ln(60 v)/ln 6 [our interpolation, common practice].
    pub fn pressure_limit_MPa(&self, alloy: &Alloy) -> f64 {
        if self.intermittent || self.speed_m_s <= CREEPING_M_S {
            alloy.p_static_MPa
        } else if self.speed_m_s >= MOVING_M_S {
            alloy.p_dyn_MPa
        } else {
            let share = ln(self.speed_m_s / CREEPING_M_S) / ln(MOVING_M_S / CREEPING_M_S);
            alloy.p_static_MPa + (alloy.p_dyn_MPa - alloy.p_static_MPa) * share
        }
    }

    /// The p v that `alloy` stands; none in a full film, where temperature and film decide.
    pub fn pv_limit(&self, alloy: &Alloy) -> Option<f64> {
        match (self.lubrication, self.regime) {
            (Lubrication::Dry, _) => Some(DRY_PV_SHARE * alloy.pv_grease_MPa_m_s),
            (_, Regime::FullFilm) => None,
            _ => Some(alloy.pv_grease_MPa_m_s),
        }
    }
}

/// Demand over allowed, by limit. Null: not tested.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Uses {
    /// Mean pressure.
    pub pressure: f64,
    /// Peak pressure, against the static limit.
    pub peak_pressure: f64,
    /// Speed.
    pub speed: f64,
    /// p v; null in a full film.
    pub pv: Option<f64>,
    /// Rise over 20 °C; null when the temperature is not known.
    pub temperature: Option<f64>,
    /// Hardness that the alloy asks of the journal over the journal's.
    pub journal_hardness: f64,
}

impl Uses {
    /// Uses of `alloy` under `demand`.
    pub fn of(alloy: &Alloy, demand: &Demand) -> Self {
        Self {
            pressure: demand.pressure_MPa / demand.pressure_limit_MPa(alloy),
            peak_pressure: demand.peak_pressure_MPa / alloy.p_static_MPa,
            speed: demand.speed_m_s / alloy.v_max_m_s,
            pv: demand.pv_limit(alloy).map(|limit| demand.pv_MPa_m_s / limit),
            temperature: demand.temperature_C.map(|T_C| ((T_C - 20.0) / (alloy.T_max_C - 20.0)).max(0.0)),
            journal_hardness: alloy.journal_HB_min / demand.journal_HB(),
        }
    }

    /// Those that were tested, by name, in the order of the answer.
    pub fn tested(&self) -> Vec<(&'static str, f64)> {
        let all = [
            ("pressure", Some(self.pressure)),
            ("peak_pressure", Some(self.peak_pressure)),
            ("speed", Some(self.speed)),
            ("pv", self.pv),
            ("temperature", self.temperature),
            ("journal_hardness", Some(self.journal_hardness)),
        ];
        all.into_iter().filter_map(|(name, used)| used.map(|used| (name, used))).collect()
    }

    /// The largest, with its name; the first of equals.
    pub fn largest(&self) -> (&'static str, f64) {
        let first = ("pressure", self.pressure);
        self.tested().into_iter().fold(first, |most, next| if next.1 > most.1 { next } else { most })
    }
}

/// Why an alloy is out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Excluded {
    /// The limits that it breaks.
    pub limits: Vec<&'static str>,
    /// A sentence for each.
    pub why: Vec<String>,
    /// Out only by uses of up to 1.3, the doubt of the limits: show it as *just over*.
    pub near: bool,
}

/// What rules `alloy` out; none when it stands the demand. `asked`: it was named in `exclude`.
pub fn excluded(alloy: &Alloy, demand: &Demand, uses: &Uses, asked: bool) -> Option<Excluded> {
    let (mut limits, mut why) = (Vec::new(), Vec::new());
    let over: Vec<_> = uses.tested().into_iter().filter(|(_, used)| *used > 1.0).collect();
    for (limit, used) in &over {
        limits.push(*limit);
        why.push(over_limit(alloy, demand, limit, *used));
    }
    let near = !over.is_empty() && over.iter().all(|(_, used)| *used <= NEAR);
    let barred = barred(alloy, demand, asked);
    let near = near && barred.is_empty();
    let lead_alone = limits.is_empty() && barred.len() == 1 && barred.iter().all(|(limit, _)| *limit == "lead");
    for (limit, sentence) in barred {
        limits.push(limit);
        why.push(sentence);
    }
    if lead_alone && alloy.Pb_pct <= LEAD_TO_ASK_FOR_PCT {
        why.push(format!(
            "Only its lead speaks against {}: castings of \"0.5 max\" can be bought with under 0.1 %, so ask for a certificate of analysis.",
            alloy.id
        ));
    }
    (!limits.is_empty()).then_some(Excluded { limits, why, near })
}

/// Limits that are yes or no, with a sentence each.
fn barred(alloy: &Alloy, demand: &Demand, asked: bool) -> Vec<(&'static str, String)> {
    let mut barred = Vec::new();
    if (demand.lead_free || demand.food) && alloy.Pb_pct > demand.lead_limit_pct {
        barred.push(("lead", format!("It has {} % lead where {} % is allowed.", alloy.Pb_pct, demand.lead_limit_pct)));
    }
    if demand.sea_water && alloy.s.seawater < SEA_WATER_LEAST {
        let how = match alloy.family {
            "high-tensile brass" => "sea water takes the zinc out of it",
            "grey iron" => "it rusts and turns to graphite",
            _ => "so much lead is eaten by it",
        };
        barred.push(("sea_water", format!("It is not for sea water: {how} (judgement {} of 5).", alloy.s.seawater)));
    }
    let stands = alloy.s.shock;
    let cracks = match demand.shock {
        Shock::None => false,
        Shock::Moderate => stands < 1.0,
        Shock::Heavy => stands < 2.0,
    };
    if cracks {
        barred.push(("shock", format!("It does not stand {} shock (judgement {stands} of 5).", demand.shock.word())));
    }
    if asked {
        barred.push(("asked", "It was to be left out.".to_owned()));
    }
    barred
}

fn over_limit(alloy: &Alloy, demand: &Demand, limit: &str, used: f64) -> String {
    let v = demand.speed_m_s;
    match limit {
        "pressure" => format!(
            "The mean pressure of {} MPa is {used:.2} times the {:.1} MPa that it stands at {v} m/s.",
            demand.pressure_MPa,
            demand.pressure_limit_MPa(alloy)
        ),
        "peak_pressure" => {
            format!(
                "The peak of {} MPa is {used:.2} times the {} MPa that it stands at rest.",
                demand.peak_pressure_MPa, alloy.p_static_MPa
            )
        }
        "speed" => format!("The speed of {v:.2} m/s is {used:.2} times its limit of {} m/s.", alloy.v_max_m_s),
        "pv" => format!(
            "p v of {:.3} MPa m/s is {used:.2} times its limit of {:.3} {}.",
            demand.pv_MPa_m_s,
            demand.pv_MPa_m_s / used,
            if demand.lubrication == Lubrication::Dry { "when dry, a tenth of that with grease" } else { "with grease" }
        ),
        "temperature" => format!("{} °C is over its limit of {} °C.", demand.temperature_C.unwrap_or(20.0), alloy.T_max_C),
        _ => format!(
            "It wants a journal of {} HB and this one has {} HB: it would wear the shaft.",
            alloy.journal_HB_min,
            demand.journal_HB()
        ),
    }
}
