//! How large to finish the bore of a journal that turns in oil: the clearance at which its film is as thick as it should be, warm.
//!
//! The band of `clearance` is laid where the film of `running` has what is advised all over it, as near to the wanted mean as that can
//! be; heat has the last word, rules of the trade stand beside it and never in it. It leaves the film to `film`, the balance of heat to
//! `heat_balance`. Every point of the curve is a balance of its own on the sketch of this L/D (good to some thousandths); the three
//! figures of the band are exact.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::distributions::normal_chance;
use crate::duty::{Lubrication, Motion, Regime};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, exp, hypot, ln};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::run::clearance::{self, ClearanceAnswer, ClearanceRequest, GovernedBy, alpha_bore, clearance_at, landing_u, read_clearance};
use crate::run::film::check_slenderness;
use crate::run::heat_balance::{Bearing, Cooling, Sketch, State};
use crate::run::running::{self, OIL_FIGURES, OilAnswer, OilRequest, RATIO_ADVISED, SPEED_ADVISED, T_ADVISED_C, running_with_oil};
use crate::run::viscosity::{OIL_KEYS, Oil};

/// Points of the curve.
const POINTS: usize = 25;
/// Clearances that are looked at, ‰ of the journal: from under the least step of ISO 12129-1 to over its largest. Source: project's choice.
const LOOKED_AT_PERMILLE: (f64, f64) = (0.2, 5.0);
/// Places of the band that are tried, evenly in ratio, and halvings of the edge between one that will do and one that won't.
const TRIED: usize = 48;
const EDGE_HALVINGS: u32 = 12;
/// Where no place has all that is advised, one that has this share of the best will do. Source: project's choice.
const NEARLY_BEST: f64 = 0.9;
/// Half-widths of what nobody knows better: heat transfer times surface, viscosity of a grade; rectangular.
/// Source: ISO 7902-1 (25 %, from memory), ISO 3448 (10 %, read).
const COOLING_HALF_WIDTH: f64 = 0.25;
const GRADE_HALF_WIDTH: f64 = 0.10;
/// Farther from the hottest state than this the balance of heat speaks of another machine, K. *Common practice*.
const STATES_APART_K: f64 = 20.0;
const ROOT_3: f64 = 1.732_050_807_568_877_2;

/// A journal in oil whose clearance is to be chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmClearanceRequest {
    /// What `clearance` is asked.
    pub clearance: ClearanceRequest,
    /// What `running` is asked; its clearance is not used.
    pub running: OilRequest,
}

/// The film at one clearance of the curve. Null where the bearing does not settle, or where no load leaves so thick a film.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Clearance at 20 °C.
    pub clearance_um: f64,
    /// Where it settles.
    pub T_bearing_C: Option<f64>,
    /// Thinnest film there.
    pub min_film_um: Option<f64>,
    /// Thinnest film over what roughness and tilt need.
    pub film_ratio: Option<f64>,
    /// Load under which the film is just what is advised.
    pub load_advised_kN: Option<f64>,
    /// Load under which metal begins to touch.
    pub load_touch_kN: Option<f64>,
}

/// The film at one place of the band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Place {
    /// low, middle or high.
    pub at: &'static str,
    /// Clearance at 20 °C.
    pub clearance_um: f64,
    /// The same at the balance.
    pub clearance_hot_um: Option<f64>,
    /// Where it settles.
    pub T_bearing_C: Option<f64>,
    /// Viscosity there.
    pub viscosity_mPas: Option<f64>,
    /// Thinnest film.
    pub min_film_um: Option<f64>,
    /// Thinnest over required film.
    pub film_ratio: Option<f64>,
    /// Greatest pressure.
    pub max_pressure_MPa: Option<f64>,
    /// Friction power.
    pub friction_power_W: Option<f64>,
    /// Speed at which metal begins to touch.
    pub transition_rpm: Option<f64>,
}

/// An answer of `film-clearance`: that of `clearance` for the band that was chosen, and the film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmClearanceAnswer {
    /// The band, its states, rules and reasons.
    #[serde(flatten)]
    pub band: ClearanceAnswer,
    /// Who carries, by the film in the middle of the band; null where it does not settle.
    pub regime: Option<Regime>,
    /// What `clearance` alone would have for its low limit.
    pub rule_low_um: f64,
    /// And for its high limit.
    pub rule_high_um: f64,
    /// Film that roughness and tilt need.
    pub required_film_um: f64,
    /// Clearances at 20 °C between which the film is as advised; null where it is so nowhere.
    pub window_low_um: Option<f64>,
    /// Their upper end.
    pub window_high_um: Option<f64>,
    /// The film at the ends and in the middle of the band.
    pub places: [Place; 3],
    /// Chance that the film is whole (ratio 1 or more) for a bore anywhere in the band.
    pub chance_film: Option<f64>,
    /// Chance that it is as thick as advised (ratio 2 or more).
    pub chance_advised: Option<f64>,
    /// The film over the clearance.
    pub curve: Vec<Point>,
    /// The load, for the chart.
    pub load_kN: f64,
}

/// The bearing with another clearance, its film, and how much of what is advised it has.
struct Look<'a> {
    bearing: Bearing,
    sketch: &'a Sketch,
    required_um: f64,
}

impl Look<'_> {
    fn at(&self, clearance_um: f64) -> Bearing {
        Bearing { clearance_um, ..self.bearing }
    }

    fn settled(&self, clearance_um: f64) -> Option<State> {
        self.at(clearance_um).sketched(self.sketch)
    }

    /// The least of film, speed and coolness over what is advised of each: 1 and more is as advised; 0 where it does not settle.
    fn reserve(&self, clearance_um: f64) -> f64 {
        let Some(state) = self.settled(clearance_um).filter(|state| !state.beyond) else { return 0.0 };
        let film = state.min_film_um() / self.required_um / RATIO_ADVISED;
        let touch = state.transition_rpm(self.required_um, self.sketch);
        let speed = touch.map_or(0.0, |touch| self.bearing.speed_rpm / touch / SPEED_ADVISED);
        let from = self.bearing.ambient_C.min(self.bearing.inlet_C);
        let cool = (T_ADVISED_C - from).max(0.0) / (state.T_C - from).max(1e-9);
        film.min(speed).min(cool)
    }

    /// The least reserve of a band: at its ends and in its middle.
    fn of_band(&self, low_um: f64, width_um: f64) -> f64 {
        [0.0, 0.5, 1.0].map(|share| self.reserve(low_um + share * width_um)).into_iter().fold(f64::INFINITY, f64::min)
    }

    fn point(&self, clearance_um: f64) -> Point {
        let state = self.settled(clearance_um);
        let load = |ratio: f64| self.at(clearance_um).load_for_film(ratio * self.required_um, self.sketch);
        Point {
            clearance_um,
            T_bearing_C: state.map(|state| state.T_C),
            min_film_um: state.map(|state| state.min_film_um()),
            film_ratio: state.map(|state| state.min_film_um() / self.required_um),
            load_advised_kN: load(RATIO_ADVISED),
            load_touch_kN: load(1.0),
        }
    }
}

/// The running clearance by its film.
///
/// 1. the band of `clearance`, for a full film where the film in its middle is one, else for the regime that was given
/// 2. reserve = least of film ratio/2, speed/(3 × transition speed), (90 °C − ambient)/(T − ambient), at both ends and in the middle
/// 3. reserve ≥ 1: that band; else the nearest one (in ratio) with a reserve of 1; else, where a film is
///    whole somewhere, the nearest with 0.9 of the largest reserve
/// 4. low ≥ least + worst loss + 2 u, whatever the film says
/// 5. chance of a film = Φ(ln ratio/u(ln ratio)) in the middle, u from band and landing, oil grade ± 10 %, cooling ± 25 %
///
/// Refused: what `clearance` and `running` refuse, a roughness and tilt of nothing, other than oil and rotation.
/// Source: film, balance, 2 and 3 as `running` (ISO 7902-1, recalled; ratio 2 common practice); 4 as `clearance`; 5 JCGM 100, 5.1.
pub fn film_clearance(request: &FilmClearanceRequest) -> Result<FilmClearanceAnswer, Refused> {
    let asked = &request.clearance;
    let bearing = request.running.bearing_by_values();
    let sketch = Sketch::new(bearing.length_mm / bearing.diameter_mm);
    let required_um = asked.Rz_bush_um + asked.Rz_journal_um + asked.tilt_mrad * asked.length_mm / 2.0;
    let look = Look { bearing, sketch: &sketch, required_um };
    let speed_m_s = PI * bearing.diameter_mm / 1000.0 * bearing.speed_rpm / 60.0;
    let full = ClearanceRequest { regime: Regime::FullFilm, speed_m_s: Some(speed_m_s), ..asked.clone() };
    let by_film = clearance_at(&full, None)?;
    let whole = look.settled(by_film.clearance_mean_um).is_some_and(|state| !state.beyond && state.min_film_um() >= required_um);
    let mixed = ClearanceRequest { regime: Regime::Mixed, ..asked.clone() };
    let (asked, rule) = if whole { (&full, by_film) } else { (&mixed, clearance_at(&mixed, None)?) };
    let chosen_low = chosen_low(&look, &rule);
    let band = if chosen_low == rule.clearance_low_um { rule.clone() } else { clearance_at(asked, Some(chosen_low))? };
    let at = |clearance: Quantity| running_with_oil(&with_clearance(&request.running, clearance));
    let ends = [("low", band.clearance_low_um), ("high", band.clearance_high_um)].map(|(name, um)| (name, um, at(Quantity::exact(um))));
    let u = hypot(landing_u(asked), band.tolerance_um / 2.0 / ROOT_3);
    let middle = at(Quantity::with_u(band.clearance_mean_um, u))?;
    let [(_, _, low), (_, _, high)] = ends;
    let places = [
        place("low", band.clearance_low_um, &low?),
        place("middle", band.clearance_mean_um, &middle),
        place("high", band.clearance_high_um, &high?),
    ];
    let D = asked.journal_mm.value;
    let (from, to) = (LOOKED_AT_PERMILLE.0 * D, (LOOKED_AT_PERMILLE.1 * D).max(1.2 * band.clearance_high_um));
    let curve = (0..POINTS).map(|i| look.point(from * exp(ln(to / from) * i as f64 / (POINTS - 1) as f64))).collect();
    let window = window(&look, from, to);
    let mut answer = FilmClearanceAnswer {
        regime: middle.regime,
        rule_low_um: rule.clearance_low_um,
        rule_high_um: rule.clearance_high_um,
        required_film_um: required_um,
        window_low_um: window.map(|(low, _)| low),
        window_high_um: window.map(|(_, high)| high),
        chance_film: chance_over(&middle, 1.0),
        chance_advised: chance_over(&middle, RATIO_ADVISED),
        places,
        curve,
        load_kN: bearing.load_kN,
        band,
    };
    let hottest_C = asked.states.iter().map(|state| state.bush_C).fold(f64::NEG_INFINITY, f64::max);
    tell(&mut answer, &look, &middle, hottest_C);
    Ok(answer)
}

/// The low limit by the film: that of the rule where its whole band has what is advised, else the nearest that has, else the best.
fn chosen_low(look: &Look, rule: &ClearanceAnswer) -> f64 {
    let (start, width) = (rule.clearance_low_um, rule.tolerance_um);
    let reserve = |low: f64| look.of_band(low, width);
    let best_so_far = reserve(start);
    // Heat already moved it up: it is not lowered again.
    let floor = rule.least_um.max(if rule.governed_by == GovernedBy::Temperature { start } else { 0.0 });
    if best_so_far >= 1.0 {
        return start;
    }
    let D_um = 1000.0 * look.bearing.diameter_mm;
    let (from, to) = (floor.max(LOOKED_AT_PERMILLE.0 * 1e-3 * D_um), LOOKED_AT_PERMILLE.1 * 1e-3 * D_um);
    if from >= to {
        return start;
    }
    let tried: Vec<(f64, f64)> =
        (0..TRIED).map(|i| from * exp(ln(to / from) * i as f64 / (TRIED - 1) as f64)).map(|low| (low, reserve(low))).collect();
    let far = |low: f64| ln(low / start).abs();
    let nearest = tried.iter().filter(|(_, reserve)| *reserve >= 1.0).min_by(|a, b| far(a.0).total_cmp(&far(b.0)));
    if let Some((good, _)) = nearest {
        return edge(start, *good, |low| reserve(low) >= 1.0);
    }
    let best = tried.iter().fold(best_so_far, |best, (_, reserve)| best.max(*reserve));
    // Where no place has even a whole film, the wanted mean stands: metal carries, and the film has no say. Nor is it left for a little.
    let worth = NEARLY_BEST * best;
    if best * RATIO_ADVISED < 1.0 || best_so_far >= worth {
        return start;
    }
    let nearest = tried.iter().filter(|(_, reserve)| *reserve >= worth).min_by(|a, b| far(a.0).total_cmp(&far(b.0)));
    nearest.map_or(start, |(good, _)| edge(start, *good, |low| reserve(low) >= worth))
}

/// The first place from `bad` to `good` that will do.
fn edge(mut bad: f64, mut good: f64, will_do: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..EDGE_HALVINGS {
        let middle = 0.5 * (bad + good);
        if will_do(middle) { good = middle } else { bad = middle }
    }
    good
}

/// The widest run of clearances between `from` and `to` at which the film is as advised.
fn window(look: &Look, from: f64, to: f64) -> Option<(f64, f64)> {
    let at = |i: usize| from * exp(ln(to / from) * i as f64 / (TRIED - 1) as f64);
    let good: Vec<bool> = (0..TRIED).map(|i| look.reserve(at(i)) >= 1.0).collect();
    let first = good.iter().position(|good| *good)?;
    let last = first + good[first..].iter().take_while(|good| **good).count() - 1;
    let will_do = |um: f64| look.reserve(um) >= 1.0;
    let low = if first > 0 { edge(at(first - 1), at(first), will_do) } else { at(first) };
    let high = if last + 1 < TRIED { edge(at(last + 1), at(last), will_do) } else { at(last) };
    Some((low, high))
}

/// The request with this clearance, and the doubts that nobody gave.
fn with_clearance(running: &OilRequest, clearance: Quantity) -> OilRequest {
    let mut with = running.clone();
    with.figures[CLEARANCE] = Some(clearance);
    if clearance.u > 0.0 {
        let k = with.figures[HEAT_TRANSFER].unwrap_or(Quantity::exact(running::HEAT_TRANSFER_W_M2K));
        if k.u == 0.0 {
            with.figures[HEAT_TRANSFER] = Some(Quantity::with_u(k.value, COOLING_HALF_WIDTH / ROOT_3 * k.value));
        }
        if with.oil.nu40_mm2_s.u == 0.0 {
            with.oil.nu40_mm2_s = Quantity::with_u(with.oil.nu40_mm2_s.value, GRADE_HALF_WIDTH / ROOT_3 * with.oil.nu40_mm2_s.value);
        }
    }
    with
}

/// Where these stand among [`OIL_FIGURES`].
const CLEARANCE: usize = 4;
const HEAT_TRANSFER: usize = 10;

fn place(at: &'static str, clearance_um: f64, film: &OilAnswer) -> Place {
    let value = |figure: Option<crate::quantity::Figure>| figure.map(|figure| figure.value);
    Place {
        at,
        clearance_um,
        clearance_hot_um: value(film.clearance_hot_um),
        T_bearing_C: value(film.T_bearing_C),
        viscosity_mPas: value(film.viscosity_mPas),
        min_film_um: value(film.min_film_um),
        film_ratio: value(film.film_ratio),
        max_pressure_MPa: value(film.max_pressure_MPa),
        friction_power_W: value(film.friction_power_W),
        transition_rpm: value(film.transition_rpm),
    }
}

/// Chance that the film ratio is over `wanted`: normal in its logarithm.
fn chance_over(film: &OilAnswer, wanted: f64) -> Option<f64> {
    let ratio = film.film_ratio.filter(|_| film.beyond == Some(false))?;
    let u_ln = ratio.u.unwrap_or(0.0) / ratio.value;
    let over = ln(ratio.value / wanted);
    Some(if u_ln > 0.0 { normal_chance(over / u_ln) } else { f64::from(u8::from(over >= 0.0)) })
}

/// Warnings of both, once, the film's first; and how the band was chosen.
fn tell(answer: &mut FilmClearanceAnswer, look: &Look, middle: &OilAnswer, hottest_C: f64) {
    let mut warnings = middle.warnings.clone();
    let reserve = look.of_band(answer.band.clearance_low_um, answer.band.tolerance_um);
    if reserve < 1.0 && answer.regime == Some(Regime::FullFilm) {
        warnings.insert(
            0,
            match (answer.window_low_um, answer.window_high_um) {
                (Some(low), Some(high)) => format!(
                    "The film is as advised from {low:.0} to {high:.0} µm of clearance: the whole band does not lie there, because heat asks \
                     for more or the band is too wide."
                ),
                _ => "No clearance gives a film with all that is advised (twice what roughness and tilt need, three times the speed at \
                      which metal touches, 90 °C at most): a smoother journal, a thicker oil or better cooling would."
                    .to_owned(),
            },
        );
    }
    if let Some(T_C) = answer.places[1].T_bearing_C.filter(|T_C| (T_C - hottest_C).abs() > STATES_APART_K) {
        warnings.push(format!(
            "Its film settles at {T_C:.0} °C, the states have the bush at {hottest_C:.0} °C at most: give the air, the oil that comes in \
             and the cooling as they are on that machine, or other states."
        ));
    }
    warnings.extend(answer.band.warnings.iter().filter(|known| !middle.warnings.contains(known)).cloned());
    answer.band.warnings = warnings;
    let (low, high) = (answer.rule_low_um, answer.rule_high_um);
    if answer.band.governed_by == GovernedBy::Film {
        let reason = format!("The wanted mean alone would have {low:.0} to {high:.0} µm: there the film lacks what is advised.");
        answer.band.reasons.push(reason);
    }
}

const FILM: &[Key] = &[
    Key::quantity("load_kN", Range::within(1e-6, 1e6), "the load").needed(),
    Key::quantity("speed_rpm", Range::over(0.0).to(1e6), "revolutions per minute").needed(),
    Key::record("oil", OIL_KEYS, "the oil").needed(),
    Key::quantity("ambient_C", Range::within(-60.0, 150.0), "temperature of the air; with inlet_C not needed for oil cooling"),
    Key::word("cooling", &["housing", "oil", "both"], "what carries the heat away").needed(),
    Key::quantity("inlet_C", Range::within(-60.0, 150.0), "temperature of the oil that comes in").default("ambient_C"),
    Key::quantity("supply_MPa", Range::within(0.0, 100.0), "pressure of the supply, with hole_mm").default("0, no forced flow"),
    Key::quantity("hole_mm", Range::within(0.0, 1e4), "diameter of the supply hole, under 0.7 of the length"),
    Key::quantity("surface_m2", Range::within(1e-6, 1e6), "surface that gives heat to the air").default("20 D L"),
    Key::quantity("heat_transfer_W_m2K", Range::within(0.01, 1e5), "heat transfer at it").default("20"),
    Key::quantity("heat_capacity_J_m3K", Range::within(1e3, 1e8), "heat capacity of the oil by volume").default("1.8e6"),
    Key::quantity("journal_excess_K", Range::within(-200.0, 500.0), "by how much the journal is hotter than the bearing").default("0"),
];

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "film-clearance",
    help: "the running clearance by its oil film",
    request: &[
        Key::record("clearance", clearance::KIND.request, "a request of clearance: oil, rotation, with a roughness or a tilt").needed(),
        Key::record("film", FILM, "load, speed, oil and cooling, as in running").needed(),
    ],
    answer: &[
        Told { path: "clearance_low_um", help: "low limit; this and all of clearance for the band that was chosen" },
        Told { path: "clearance_mean_um", help: "middle of the band" },
        Told { path: "clearance_high_um", help: "high limit" },
        Told { path: "bore_low_mm", help: "bore at the low limit, in its housing" },
        Told { path: "bore_high_mm", help: "bore at the high limit, in its housing" },
        Told { path: "aim_mm", help: "bore to aim at, in its housing" },
        Told { path: "aim_before_mm", help: "bore to aim at before fitting; null when it is finished after" },
        Told { path: "relative_permille", help: "mean over diameter" },
        Told { path: "psi_permille", help: "the factor of the diameter in the wanted mean" },
        Told { path: "least_um", help: "least clearance that must be left" },
        Told { path: "tolerance_um", help: "width of the band" },
        Told { path: "alpha_bore_per_K", help: "expansion of the bore while the bush is held" },
        Told { path: "governed_by", help: "regime, temperature, or film when the wanted mean lacks what is advised" },
        Told { path: "worst_state", help: "the state that takes the most" },
        Told { path: "states", help: "each state, as in clearance" },
        Told { path: "chance", help: "that a bore aimed at the middle lands in the band" },
        Told { path: "rules", help: "rules of the trade beside it, never in it" },
        Told { path: "reasons", help: "why it is what it is" },
        Told { path: "regime", help: "who carries in the middle of the band: full film or mixed; null where it does not settle" },
        Told { path: "rule_low_um", help: "low limit by the wanted mean and heat alone" },
        Told { path: "rule_high_um", help: "and the high one" },
        Told { path: "required_film_um", help: "film that roughness and tilt need" },
        Told { path: "window_low_um", help: "clearances from here .. have a film as advised; null where none has" },
        Told { path: "window_high_um", help: ".. to here, as far as was looked" },
        Told { path: "places", help: "at low, middle, high: clearance cold and hot, T_bearing_C, min_film_um, film_ratio and more" },
        Told { path: "chance_film", help: "that the film is whole; null where it does not settle" },
        Told { path: "chance_advised", help: "that it is twice what is needed" },
        Told { path: "curve", help: "over the clearance: T_bearing_C, min_film_um, film_ratio, load_advised_kN, load_touch_kN" },
        Told { path: "load_kN", help: "the load" },
    ],
    example: r#"{"clearance": {"alloy": "CC493K", "alpha_housing_per_K": 1.17e-5, "alpha_journal_per_K": 1.15e-5,
        "journal_mm": {"value": 140, "u": 0.003}, "length_mm": 112, "outside_mm": 165, "interference_um": 90, "regime": "full film",
        "lubrication": "oil", "motion": "rotation", "bore_u_um": 5, "Rz_bush_um": 3, "Rz_journal_um": 1.5, "states": [
        {"name": "steady", "bush_C": 60, "housing_C": 50, "journal_C": 65},
        {"name": "start-up", "bush_C": 25, "housing_C": 15, "journal_C": 45},
        {"name": "coldest", "bush_C": -10, "housing_C": -10, "journal_C": -10}]},
        "film": {"load_kN": 20, "speed_rpm": 500, "oil": {"iso_vg": 100}, "ambient_C": 25, "cooling": "housing", "surface_m2": 0.8}}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = film_clearance(&request)?;
    explain(&request, &answer, desk);
    told(&answer)
}

fn read(given: &Given) -> Result<FilmClearanceRequest, Refused> {
    let (of_clearance, film) = (given.need_record("clearance")?, given.need_record("film")?);
    // A film's clearance goes by the speed that is given here.
    let clearance = read_clearance(&of_clearance)?;
    if clearance.lubrication != Lubrication::Oil {
        return Err(of_clearance.refuse("lubrication", "oil", "ask clearance: only oil makes a film that can be reckoned"));
    }
    if clearance.motion != Motion::Rotation {
        return Err(of_clearance.refuse("motion", "rotation", "ask clearance: a swing keeps no film"));
    }
    if clearance.Rz_bush_um + clearance.Rz_journal_um + clearance.tilt_mrad * clearance.length_mm <= 0.0 {
        return Err(of_clearance.refuse("Rz_bush_um", "a roughness or a tilt over 0", "without one nothing judges the film"));
    }
    check_slenderness(&of_clearance, clearance.journal_mm.value, clearance.length_mm)?;
    Ok(FilmClearanceRequest { running: read_running(&film, &clearance)?, clearance })
}

fn read_running(film: &Given, clearance: &ClearanceRequest) -> Result<OilRequest, Refused> {
    let cooling = match film.need_word("cooling")? {
        "housing" => Cooling::Housing,
        "oil" => Cooling::Oil,
        _ => Cooling::Both,
    };
    if !(cooling == Cooling::Oil && film.has("inlet_C")) {
        film.need_quantity("ambient_C")?;
    }
    let hole_mm = film.number_or("hole_mm", 0.0);
    if film.number_or("supply_MPa", 0.0) > 0.0 && hole_mm <= 0.0 {
        return Err(film.refuse("hole_mm", "a number over 0, with supply_MPa", "give the hole that the supply comes through"));
    }
    if hole_mm >= 0.7 * clearance.length_mm {
        let allowed = format!("a number under 0.7 of the length, {:.1}", 0.7 * clearance.length_mm);
        return Err(film.refuse("hole_mm", allowed, "look at the hole again"));
    }
    let own = |name: &str| match name {
        "diameter_mm" => Some(Quantity::exact(clearance.journal_mm.value)),
        "length_mm" => Some(Quantity::exact(clearance.length_mm)),
        "clearance_um" => None,
        "alpha_bore_per_K" => Some(Quantity::exact(alpha_bore(clearance))),
        "alpha_journal_per_K" => Some(Quantity::exact(clearance.alpha_journal_per_K)),
        "Rz_bush_um" => Some(Quantity::exact(clearance.Rz_bush_um)),
        "Rz_journal_um" => Some(Quantity::exact(clearance.Rz_journal_um)),
        "tilt_mrad" => Some(Quantity::exact(clearance.tilt_mrad)),
        given => film.quantity(given),
    };
    Ok(OilRequest { figures: OIL_FIGURES.map(own), oil: Oil::read(&film.need_record("oil")?)?, cooling })
}

fn explain(request: &FilmClearanceRequest, answer: &FilmClearanceAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let asked = &request.clearance;
    let with = [("Rz b um", asked.Rz_bush_um), ("Rz j um", asked.Rz_journal_um), ("tilt mrad", asked.tilt_mrad)];
    let gives = [("required um", answer.required_film_um)];
    working.step("required film", "Rz_b + Rz_j + tilt L/2", &with, &gives, "geometry, common practice");
    let with = [("low um", answer.rule_low_um), ("high um", answer.rule_high_um)];
    let gives = [("low um", answer.band.clearance_low_um), ("high um", answer.band.clearance_high_um)];
    let formula = "the band nearest to the wanted mean with ratio >= 2, N >= 3 transition, T <= 90 C at ends and middle";
    working.step("band by the film", formula, &with, &gives, "ISO 7902-1 (recalled); ratio 2 common practice");
    for place in &answer.places {
        let with = [("c20 um", place.clearance_um)];
        let value = |x: Option<f64>| x.unwrap_or(f64::NAN);
        let gives = [("T C", value(place.T_bearing_C)), ("h min um", value(place.min_film_um)), ("ratio", value(place.film_ratio))];
        working.step(&format!("film at the {} of the band", place.at), "as running", &with, &gives, "ISO 7902-1 (recalled)");
    }
    if let (Some(film), Some(advised)) = (answer.chance_film, answer.chance_advised) {
        let gives = [("whole", film), ("as advised", advised)];
        working.step("chance of a film", "Phi(ln(ratio/wanted)/u(ln ratio))", &[], &gives, "JCGM 100, 5.1; normal in ln ratio");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer as ask, read as json};
    use crate::crew::Alone;

    fn asked(change: impl Fn(String) -> String) -> Result<Value, Refused> {
        ask("film-clearance", &json(&change(KIND.example.to_owned())).unwrap(), &Alone, false)
    }

    fn at(found: &Value, path: &str) -> f64 {
        found.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {path}: {found}"))
    }

    #[test]
    fn what_cannot_be_answered_is_refused_by_key() {
        for (from, to, key) in [
            (r#""oil", "motion""#, r#""grease", "motion""#, "clearance.lubrication"),
            (r#""rotation""#, r#""swing""#, "clearance.motion"),
            (r#""Rz_bush_um": 3, "Rz_journal_um": 1.5, "#, "", "clearance.Rz_bush_um"),
            (r#""length_mm": 112"#, r#""length_mm": 2"#, "clearance.length_mm"),
            (r#""ambient_C": 25, "#, "", "film.ambient_C"),
            (r#""surface_m2": 0.8"#, r#""supply_MPa": 0.1"#, "film.hole_mm"),
            (r#""surface_m2": 0.8"#, r#""hole_mm": 100"#, "film.hole_mm"),
            (r#""iso_vg": 100"#, r#""iso_vg": 101"#, "film.oil.iso_vg"),
        ] {
            assert_eq!(asked(|text| text.replace(from, to)).unwrap_err().key, key, "{from}");
        }
    }

    /// The three figures of the band are what `running` says of those clearances.
    #[test]
    fn the_band_says_what_running_says() {
        let found = asked(|text| text).unwrap();
        for i in 0..3 {
            let c = at(&found, &format!("/places/{i}/clearance_um"));
            let running = format!(
                r#"{{"lubrication": "oil", "load_kN": 20, "speed_rpm": 500, "diameter_mm": 140, "length_mm": 112, "clearance_um": {c},
                "oil": {{"iso_vg": 100}}, "ambient_C": 25, "cooling": "housing", "surface_m2": 0.8, "Rz_bush_um": 3, "Rz_journal_um": 1.5,
                "alpha_bore_per_K": {}, "alpha_journal_per_K": 1.15e-5}}"#,
                at(&found, "/alpha_bore_per_K")
            );
            let running = ask("running", &json(&running).unwrap(), &Alone, false).unwrap();
            let value = |key: &str| running[key].as_f64().unwrap();
            for (path, key) in [("film_ratio", "film_ratio"), ("T_bearing_C", "T_bearing_C"), ("min_film_um", "min_film_um")] {
                let (here, there) = (at(&found, &format!("/places/{i}/{path}")), value(key));
                assert!((here / there - 1.0).abs() < 1e-6, "{path} at {c}: {here}, {there}");
            }
        }
    }

    /// The curve's loads: under the load that leaves twice the film, the film is twice what is needed.
    #[test]
    fn the_load_of_the_chart_leaves_the_film_that_it_says() {
        let found = asked(|text| text).unwrap();
        let point = found["curve"].as_array().unwrap().iter().find(|point| point["clearance_um"].as_f64() > Some(180.0)).unwrap();
        for (key, ratio) in [("load_advised_kN", 2.0), ("load_touch_kN", 1.0)] {
            let running = format!(
                r#"{{"lubrication": "oil", "load_kN": {}, "speed_rpm": 500, "diameter_mm": 140, "length_mm": 112, "clearance_um": {},
                "oil": {{"iso_vg": 100}}, "ambient_C": 25, "cooling": "housing", "surface_m2": 0.8, "Rz_bush_um": 3, "Rz_journal_um": 1.5,
                "alpha_bore_per_K": {}, "alpha_journal_per_K": 1.15e-5}}"#,
                point[key],
                point["clearance_um"],
                at(&found, "/alpha_bore_per_K")
            );
            let running = ask("running", &json(&running).unwrap(), &Alone, false).unwrap();
            let told = running["film_ratio"].as_f64().unwrap();
            assert!((told / ratio - 1.0).abs() < 0.01, "{key}: {told}");
        }
    }

    #[test]
    fn a_band_that_lacks_film_moves_to_where_it_has_it() {
        // By the rule 1.12 permille; five times the load leaves a film as advised only under less clearance.
        let heavy = asked(|text| text.replace(r#""load_kN": 20"#, r#""load_kN": 100"#)).unwrap();
        let (low, high) = (at(&heavy, "/clearance_low_um"), at(&heavy, "/clearance_high_um"));
        assert_eq!(heavy["governed_by"], "film");
        assert!(high < at(&heavy, "/rule_high_um") && low > at(&heavy, "/least_um"), "{low} {high}");
        assert!(
            low >= at(&heavy, "/window_low_um") - 0.1 && high <= at(&heavy, "/window_high_um") + 0.1,
            "{low} {high} {}",
            heavy["warnings"]
        );
        // No farther than it has to be: a band some micrometres higher lacks something.
        assert!(high > at(&heavy, "/window_high_um") - 3.0, "{high} {}", heavy["window_high_um"]);
        // With the usual load the wanted mean stands.
        assert_eq!(asked(|text| text).unwrap()["governed_by"], "regime");
        // Heat has the last word, whatever the film wants.
        let hot = asked(|text| text.replace(r#""journal_C": 45"#, r#""journal_C": 160"#)).unwrap();
        assert_eq!(hot["governed_by"], "temperature");
        let worst = hot["states"].as_array().unwrap().iter().filter_map(|state| state["clearance_low_um"].as_f64()).fold(1e9, f64::min);
        assert!(worst + 1e-9 >= at(&hot, "/least_um"), "{worst}");
    }

    #[test]
    fn a_load_that_no_film_carries_is_told_first_and_the_rule_stands() {
        let heavy = asked(|text| text.replace(r#""load_kN": 20"#, r#""load_kN": 900"#)).unwrap();
        assert!(heavy["regime"] != "full film" && heavy["warnings"][0].as_str().unwrap().contains("far too low"), "{heavy}");
        assert!(heavy["chance_film"].is_null() || at(&heavy, "/chance_film") < 0.5);
        assert!(heavy["window_low_um"].is_null());
        assert_eq!(
            (at(&heavy, "/rule_low_um"), at(&heavy, "/rule_high_um")),
            (at(&heavy, "/clearance_low_um"), at(&heavy, "/clearance_high_um"))
        );
    }
}
