//! How large to finish the bore: the running clearance, its band, and what temperature leaves of it (`clearance`).
//!
//! Never seize comes before quiet: no rule of the trade may lower the low limit. It leaves the close-in ratio to `fit`, the film to
//! `film` and `running`, and the chances of a bore that is finished before fitting to `fit-chance`. All clearances are on the diameter.

use serde::Serialize;
use serde_json::Value;

use crate::alloy::table::{Alloy, alloy};
use crate::compute::{Desk, Kind, told};
use crate::distributions::normal_chance;
use crate::duty::{DIRTS, Dirt, LUBRICATIONS, Lubrication, MOTIONS, Motion, REGIMES, Regime};
use crate::keys::{Given, Key, Range, Told};
use crate::limits::iso::{LARGEST_MM, iso_fit, iso_limits};
use crate::math::{ln, pow, sq};
use crate::quantity::Quantity;
use crate::refused::Refused;

/// Steps of the mean relative clearance, ‰. Source: ISO 12129-1:2019 (range read, steps recalled).
pub const STEPS_PERMILLE: [f64; 8] = [0.56, 0.8, 1.12, 1.32, 1.6, 1.9, 2.24, 3.15];
/// Share of the interference by which the bore closes, when it is not known from `fit`.
const CLOSE_IN_RATIO: f64 = 0.9;
/// More of the diameter where grit runs through, and for alloys that seize sooner, ‰ [common practice].
const GRIT_PERMILLE: f64 = 0.3;
const SEIZES_PERMILLE: f64 = 0.3;
/// No running bearing is left with less than these [common practice].
const LEAST_PERMILLE: f64 = 0.2;
const LEAST_UM: f64 = 10.0;
/// Rules whose middles are this many times apart disagree.
const DISAGREE: f64 = 3.0;
/// One thou, µm.
const THOU_UM: f64 = 25.4;
const TRADE: &str = "common practice, between the rules of the trade";

/// Temperatures of the three parts in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Its name.
    pub name: String,
    /// Bush.
    pub bush_C: f64,
    /// Housing.
    pub housing_C: f64,
    /// Journal.
    pub journal_C: f64,
}

/// Whether the bore is finished in its housing or on the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Finish {
    /// In the housing.
    After,
    /// Before fitting; the bore closes by this much, µm.
    Before {
        /// How far it closes.
        close_in_um: Quantity,
    },
}

/// A request of `clearance`.
#[derive(Clone, Debug, PartialEq)]
pub struct ClearanceRequest {
    /// Journal.
    pub journal_mm: Quantity,
    /// Length.
    pub length_mm: f64,
    /// Outside of the bush.
    pub outside_mm: f64,
    /// Running regime.
    pub regime: Regime,
    /// What lubricates.
    pub lubrication: Lubrication,
    /// How the journal moves.
    pub motion: Motion,
    /// Sliding speed, for a full film.
    pub speed_m_s: Option<f64>,
    /// How dirty the place is.
    pub dirt: Dirt,
    /// The alloy, where it is one of the table.
    pub alloy: Option<&'static Alloy>,
    /// Expansion of the bush.
    pub alpha_bush_per_K: f64,
    /// Expansion of the housing.
    pub alpha_housing_per_K: f64,
    /// Expansion of the journal.
    pub alpha_journal_per_K: f64,
    /// Effective interference at 20 °C.
    pub interference_um: f64,
    /// Share of the interference by which the bore closes.
    pub close_in_ratio: f64,
    /// The states to stand.
    pub states: Vec<State>,
    /// Width of the band; none: IT7 of the journal.
    pub tolerance_um: Option<f64>,
    /// Least clearance that was asked for.
    pub least_um: f64,
    /// Roughness of the bush.
    pub Rz_bush_um: f64,
    /// Roughness of the journal.
    pub Rz_journal_um: f64,
    /// Tilt of the journal in the bush.
    pub tilt_mrad: f64,
    /// How well the shop lands a bore.
    pub bore_u_um: f64,
    /// When the bore is finished.
    pub finish: Finish,
}

/// What wins: the wanted mean, or the least that must be left.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GovernedBy {
    /// The mean that motion and lubricant want.
    Regime,
    /// What heat takes away.
    Temperature,
    /// The oil film (`film-clearance`).
    Film,
}

/// What one state does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StateAnswer {
    /// Its name.
    pub name: String,
    /// Growth of the bore.
    pub bore_change_um: f64,
    /// Growth of the journal.
    pub journal_change_um: f64,
    /// Clearance lost.
    pub loss_um: f64,
    /// Clearance left at the low limit.
    pub clearance_low_um: f64,
    /// The bush has let go of its housing.
    pub open: bool,
}

/// A rule of the trade beside our band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rule {
    /// Its words, with its id.
    pub rule: String,
    /// From.
    pub low_um: f64,
    /// To.
    pub high_um: f64,
    /// Its range and ours meet.
    pub inside: bool,
}

/// An answer of `clearance`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClearanceAnswer {
    /// Low limit.
    pub clearance_low_um: f64,
    /// Middle of the band.
    pub clearance_mean_um: f64,
    /// High limit.
    pub clearance_high_um: f64,
    /// Bore at the low limit, in its housing.
    pub bore_low_mm: f64,
    /// Bore at the high limit, in its housing.
    pub bore_high_mm: f64,
    /// Bore to aim at, in its housing.
    pub aim_mm: f64,
    /// Bore to aim at before fitting; null when finished after.
    pub aim_before_mm: Option<f64>,
    /// Mean over diameter.
    pub relative_permille: f64,
    /// The factor of the diameter before additions.
    pub psi_permille: f64,
    /// Least clearance that must be left.
    pub least_um: f64,
    /// Width of the band.
    pub tolerance_um: f64,
    /// Expansion of the bore while the bush is held.
    pub alpha_bore_per_K: f64,
    /// What won.
    pub governed_by: GovernedBy,
    /// The state that takes the most.
    pub worst_state: String,
    /// Each state.
    pub states: Vec<StateAnswer>,
    /// Chance that a bore aimed at the middle lands in the band.
    pub chance: f64,
    /// Rules of the trade beside it.
    pub rules: Vec<Rule>,
    /// Why it is what it is.
    pub reasons: Vec<String>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// The wanted mean before temperature: base, additions, and their reasons.
struct Wanted {
    psi_permille: f64,
    mean_um: f64,
    reasons: Vec<String>,
}

/// The band of running clearance to finish to.
///
/// 1. wanted mean: full film ψ D, ψ = the step of ISO 12129-1 nearest in ratio to 0.8 v^¼ ‰; other oil 1.12 D + 20; else swing or
///    still 1.0 D + 30, turning 1.6 D + 30; + 0.3 D gritty; + 0.3 D for aluminium bronze and high-tensile brass (D mm, result µm)
/// 2. each state: δ = I + D_out (α_b ΔT_b − α_h ΔT_h); bore change = D α_b ΔT_b − κ (δ⁺ − I); loss = journal change − bore change
/// 3. least = max(asked, 0.2 ‰ D, 10 µm, 2 (Rz_b + Rz_j) + tilt L)
/// 4. low = max(mean − tol/2, least + worst loss⁺ + 2 u); high = low + tol
/// 5. chance = 2 Φ(tol/2u) − 1
///
/// Refused: outside ≤ journal, no state, full film without speed, a journal beyond ISO 286 without a tolerance.
/// Source: steps ISO 12129-1 (recalled), v^¼ Vogelpohl's school (memory); 1 and 3 common practice (between M20 and T18).
pub fn clearance(request: &ClearanceRequest) -> Result<ClearanceAnswer, Refused> {
    clearance_at(request, None)
}

/// The same with the low limit that an oil film wants, µm, in the place of the wanted mean. Heat still has the last word.
pub fn clearance_at(request: &ClearanceRequest, film_low_um: Option<f64>) -> Result<ClearanceAnswer, Refused> {
    let D = request.journal_mm.value;
    if request.outside_mm <= D {
        let allowed = format!("over the journal, {D}");
        return Err(Refused::new("outside_mm", request.outside_mm, allowed, "give the outside of the bush"));
    }
    let tolerance_um = match request.tolerance_um {
        Some(tolerance_um) => tolerance_um,
        None => IT7(D)?,
    };
    let wanted = wanted(request)?;
    let losses: Vec<StateAnswer> = request.states.iter().map(|state| state_answer(request, state)).collect();
    let worst = losses.iter().fold(None, |worst: Option<&StateAnswer>, next| match worst {
        Some(worst) if worst.loss_um >= next.loss_um => Some(worst),
        _ => Some(next),
    });
    let Some(worst) = worst else {
        return Err(Refused::new("states", "none", "at least one state", "give steady, start-up with a hot journal, and coldest"));
    };
    let least_um = least(request);
    let u = landing_u(request);
    let (by_regime, wins) = match film_low_um {
        Some(low) => (low, GovernedBy::Film),
        None => (wanted.mean_um - tolerance_um / 2.0, GovernedBy::Regime),
    };
    let by_temperature = least_um + worst.loss_um.max(0.0) + 2.0 * u;
    let low = by_regime.max(by_temperature);
    let (high, mean) = (low + tolerance_um, low + tolerance_um / 2.0);
    let governed_by = if by_temperature > by_regime { GovernedBy::Temperature } else { wins };
    let aim_mm = D + mean / 1000.0;
    let rules = rules(request, low, high);
    let mut reasons = wanted.reasons;
    reasons.push(match governed_by {
        GovernedBy::Regime => {
            format!("The wanted mean governs: with it {:.0} µm are left in the state {:?}.", low - worst.loss_um, worst.name)
        }
        GovernedBy::Film => {
            format!("The oil film governs: with it {:.0} µm are left in the state {:?}.", low - worst.loss_um, worst.name)
        }
        GovernedBy::Temperature => format!(
            "Temperature governs: {:?} takes {:.0} µm and {least_um:.0} µm must be left, with {:.0} µm for twice the doubt.",
            worst.name,
            worst.loss_um.max(0.0),
            2.0 * u
        ),
    });
    Ok(ClearanceAnswer {
        clearance_low_um: low,
        clearance_mean_um: mean,
        clearance_high_um: high,
        bore_low_mm: D + low / 1000.0,
        bore_high_mm: D + high / 1000.0,
        aim_mm,
        aim_before_mm: match request.finish {
            Finish::After => None,
            Finish::Before { close_in_um } => Some(aim_mm + close_in_um.value / 1000.0),
        },
        relative_permille: mean / D,
        psi_permille: wanted.psi_permille,
        least_um,
        tolerance_um,
        alpha_bore_per_K: alpha_bore(request),
        governed_by,
        worst_state: worst.name.clone(),
        chance: if u > 0.0 { 2.0 * normal_chance(tolerance_um / (2.0 * u)) - 1.0 } else { 1.0 },
        warnings: warnings(request, &losses, &rules, u),
        states: losses.iter().map(|state| StateAnswer { clearance_low_um: low - state.loss_um, ..state.clone() }).collect(),
        rules,
        reasons,
    })
}

/// Tolerance of grade 7 at the journal's size, µm. Source: ISO 286-1.
fn IT7(D: f64) -> Result<f64, Refused> {
    iso_limits(D, "H7").map(|limits| limits.tolerance_um).map_err(|_| {
        Refused::new("tolerance_um", "missing", "a number over 0", format!("give the width of the band: ISO 286 ends at {LARGEST_MM} mm"))
    })
}

fn wanted(request: &ClearanceRequest) -> Result<Wanted, Refused> {
    let D = request.journal_mm.value;
    let (motion, lubricant) = (request.motion.word(), request.lubrication.word());
    let (psi_permille, plus_um, chosen) = match (request.regime, request.lubrication, request.motion) {
        (Regime::FullFilm, _, _) => {
            let Some(v) = request.speed_m_s else {
                let remedy = "give the sliding speed: a full film's clearance goes by it";
                return Err(Refused::new("speed_m_s", "missing", "a number over 0", remedy));
            };
            let by_speed = 0.8 * pow(v, 0.25);
            let step = nearest_step(by_speed);
            let chosen = format!(
                "Chosen for {motion} in a full film at {v:.2} m/s: 0.8 v^1/4 is {by_speed:.2} ‰, nearest step {step} ‰ of ISO 12129-1 (recalled)."
            );
            (step, 0.0, chosen)
        }
        (_, Lubrication::Oil, _) => (1.12, 20.0, format!("Chosen for {motion} with oil, without a full film: 1.12 ‰ + 20 µm [{TRADE}].")),
        (_, _, Motion::Rotation) => (1.6, 30.0, format!("Chosen for rotation, {lubricant}: 1.6 ‰ + 30 µm [{TRADE}].")),
        _ => (1.0, 30.0, format!("Chosen for {motion}, {lubricant}: 1.0 ‰ + 30 µm [{TRADE}].")),
    };
    let mut mean_um = psi_permille * D + plus_um;
    let mut reasons = vec![chosen];
    if request.dirt == Dirt::Gritty {
        mean_um += GRIT_PERMILLE * D;
        reasons.push("Gritty: 0.3 ‰ more, so that grit runs through [common practice].".to_owned());
    }
    if let Some(alloy) = request.alloy.filter(|alloy| alloy.seizes_sooner()) {
        mean_um += SEIZES_PERMILLE * D;
        reasons.push(format!("{} is {}, which seizes sooner: 0.3 ‰ more [common practice].", alloy.id, alloy.family));
    }
    Ok(Wanted { psi_permille, mean_um, reasons })
}

/// The step nearest in ratio, the smaller of two that are as near.
fn nearest_step(permille: f64) -> f64 {
    let far = |step: f64| ln(step / permille).abs();
    STEPS_PERMILLE.into_iter().fold(STEPS_PERMILLE[0], |best, step| if far(step) < far(best) { step } else { best })
}

/// One state, before the low limit is known.
fn state_answer(request: &ClearanceRequest, state: &State) -> StateAnswer {
    let D_um = 1000.0 * request.journal_mm.value;
    let outside_um = 1000.0 * request.outside_mm;
    let (bush, housing, journal) = (state.bush_C - 20.0, state.housing_C - 20.0, state.journal_C - 20.0);
    // A bush that is loose already closes by nothing at 20 °C.
    let held_at_20 = request.interference_um.max(0.0);
    let delta = request.interference_um + outside_um * (request.alpha_bush_per_K * bush - request.alpha_housing_per_K * housing);
    let bore_change_um = D_um * request.alpha_bush_per_K * bush - request.close_in_ratio * (delta.max(0.0) - held_at_20);
    let journal_change_um = D_um * request.alpha_journal_per_K * journal;
    let loss_um = journal_change_um - bore_change_um;
    StateAnswer { name: state.name.clone(), bore_change_um, journal_change_um, loss_um, clearance_low_um: -loss_um, open: delta <= 0.0 }
}

/// Expansion of a bore whose bush is held and at the housing's temperature: α_b − κ (D_out/D)(α_b − α_h).
pub(super) fn alpha_bore(request: &ClearanceRequest) -> f64 {
    let ratio = request.outside_mm / request.journal_mm.value;
    request.alpha_bush_per_K - request.close_in_ratio * ratio * (request.alpha_bush_per_K - request.alpha_housing_per_K)
}

/// Twice the film that roughness and tilt need, since this is a diameter.
fn least(request: &ClearanceRequest) -> f64 {
    let rough = 2.0 * (request.Rz_bush_um + request.Rz_journal_um) + request.tilt_mrad * request.length_mm;
    request.least_um.max(LEAST_PERMILLE * request.journal_mm.value).max(LEAST_UM).max(rough)
}

/// How well the clearance is landed, one standard uncertainty, µm.
pub(super) fn landing_u(request: &ClearanceRequest) -> f64 {
    let close_in_u = match request.finish {
        Finish::After => 0.0,
        Finish::Before { close_in_um } => close_in_um.u,
    };
    (sq(1000.0 * request.journal_mm.u) + sq(request.bore_u_um) + sq(close_in_u)).sqrt()
}

/// Rules T12 to T18 and M20 for this lubricant and motion; T17 where ISO 286 has the size.
fn rules(request: &ClearanceRequest, low: f64, high: f64) -> Vec<Rule> {
    let D = request.journal_mm.value;
    let oil = request.lubrication == Lubrication::Oil;
    let mut list = vec![
        ("T12: 1.5 ‰ of the bore for constant rotation".to_owned(), 1.5 * D, 1.5 * D),
        ("T14: four shop rules for sleeve bearings, 25 µm + 1 ‰ to 50 µm + 2 ‰".to_owned(), 25.0 + D, 50.0 + 2.0 * D),
        ("T15: normal running, 1 thou + 1.5 ‰".to_owned(), THOU_UM + 1.5 * D, THOU_UM + 1.5 * D),
    ];
    list.push(if oil {
        ("T18: oil-fed shafts 1 to 1.5 ‰ (memory)".to_owned(), D, 1.5 * D)
    } else {
        ("T18: slow pins with grease 1.5 to 3 ‰ (memory)".to_owned(), 1.5 * D, 3.0 * D)
    });
    list.push(match (request.motion, oil) {
        (Motion::Swing | Motion::Still, _) => ("M20: swinging motion 0.5 to 1 ‰".to_owned(), 0.5 * D, D),
        (Motion::Rotation, true) => ("M20: oil 1.5 to 2.5 ‰".to_owned(), 1.5 * D, 2.5 * D),
        (Motion::Rotation, false) => ("M20: grease, twice the oil's, 3 to 5 ‰".to_owned(), 3.0 * D, 5.0 * D),
    });
    if let Ok(fit) = iso_fit(D, "H8", "e7") {
        let words = "T17: H8/e7, as a fitted standard bush on its shaft (ISO 4379 from memory)";
        list.push((words.to_owned(), -fit.max_interference_um, -fit.min_interference_um));
    }
    let meets = |from: f64, to: f64| from <= high && to >= low;
    list.into_iter().map(|(rule, low_um, high_um)| Rule { rule, low_um, high_um, inside: meets(low_um, high_um) }).collect()
}

fn warnings(request: &ClearanceRequest, states: &[StateAnswer], rules: &[Rule], u: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    for state in states.iter().filter(|state| state.open) {
        warnings.push(format!("The bush lets go of its housing in the state {:?}: secure it, it then grows by itself.", state.name));
    }
    if !request.states.iter().any(|state| state.journal_C > state.bush_C && state.journal_C > state.housing_C) {
        warnings.push("No state has the journal hotter than bush and housing: try start-up, a hot journal in a cold housing.".to_owned());
    }
    if request.states.len() < 3 {
        warnings.push("Try at least three states: steady, start-up with a hot journal in a cold housing, coldest.".to_owned());
    }
    if u == 0.0 {
        warnings.push("No uncertainty of journal or bore was given (bore_u_um): the chance of 1 says nothing.".to_owned());
    }
    if matches!(request.finish, Finish::Before { .. }) {
        warnings.push(
            "Finished before fitting: the bore rests on a close-in that was reckoned. `fit-chance` follows the chain by Monte Carlo; \
             finishing after fitting is surer."
                .to_owned(),
        );
    }
    if request.regime == Regime::FullFilm && request.lubrication != Lubrication::Oil {
        warnings.push(format!("A full film with {:?} is not to be counted on: oil makes one.", request.lubrication.word()));
    }
    let middles = || rules.iter().map(|rule| (rule.low_um + rule.high_um) / 2.0);
    let (least, most) = (middles().fold(f64::INFINITY, f64::min), middles().fold(0.0, f64::max));
    if most >= DISAGREE * least {
        warnings.push(format!(
            "The rules of the trade disagree by {:.1} times here, from {least:.0} to {most:.0} µm in their middles: none of them is always \
             right.",
            most / least
        ));
    }
    warnings.push(
        "A machine builder's clearance, codes and licensed engineers come before this figure. Never oil, feel or gauge a turning journal; \
         stop a hot bearing slowly and do not open it while hot (oil mist can ignite). Prove it by running it in: rising load and speed, \
         temperature read."
            .to_owned(),
    );
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "clearance",
    help: "the running clearance to finish to",
    request: &[
        Key::quantity("journal_mm", Range::within(1.0, 1e4), "the journal's diameter; its u counts").needed(),
        Key::number("length_mm", Range::within(0.1, 1e4), "length of the bush").needed(),
        Key::number("outside_mm", Range::within(1.0, 1e5), "outside of the bush, over the journal").needed(),
        Key::word("regime", REGIMES, "running regime, from `duty`").needed(),
        Key::word("lubrication", LUBRICATIONS, "what lubricates").needed(),
        Key::word("motion", MOTIONS, "how the journal moves").needed(),
        Key::number("speed_m_s", Range::within(1e-6, 1e3), "sliding speed, needed with a full film"),
        Key::word("dirt", DIRTS, "how dirty the place is").default("clean"),
        Key::text("alloy", "id of the bush alloy"),
        Key::number("alpha_bush_per_K", Range::within(0.0, 1e-3), "expansion of the bush").default("that of alloy; needed without one"),
        Key::number("alpha_housing_per_K", Range::within(0.0, 1e-3), "expansion of the housing").needed(),
        Key::number("alpha_journal_per_K", Range::within(0.0, 1e-3), "expansion of the journal").needed(),
        Key::number("interference_um", Range::within(-1e5, 1e5), "effective interference at 20 °C, from `fit`").needed(),
        Key::number("close_in_ratio", Range::within(0.0, 1.2), "share of it by which the bore closes, from `fit`").default("0.9"),
        Key::records("states", STATE_KEYS, "the states to stand, at least one: steady, start-up, coldest").needed(),
        Key::number("tolerance_um", Range::within(0.1, 1e5), "width of the band").default("IT7 of the journal"),
        Key::number("least_um", Range::within(0.0, 1e5), "least clearance that must be left").default("0.2 ‰ of the journal, 10 at least"),
        Key::number("Rz_bush_um", Range::within(0.0, 1e3), "roughness of the bush").default("0"),
        Key::number("Rz_journal_um", Range::within(0.0, 1e3), "roughness of the journal").default("0"),
        Key::number("tilt_mrad", Range::within(0.0, 1e3), "tilt of the journal in the bush").default("0"),
        Key::number("bore_u_um", Range::within(0.0, 1e5), "how well the shop lands a bore, standard uncertainty").default("0"),
        Key::word("finish", &["after", "before"], "whether the bore is finished after or before fitting").default("after"),
        Key::quantity("close_in_um", Range::within(-1e5, 1e5), "how far the bore closes, needed with before; its u counts"),
    ],
    answer: &[
        Told { path: "clearance_low_um", help: "low limit" },
        Told { path: "clearance_mean_um", help: "middle of the band" },
        Told { path: "clearance_high_um", help: "high limit" },
        Told { path: "bore_low_mm", help: "bore at the low limit, in its housing" },
        Told { path: "bore_high_mm", help: "bore at the high limit, in its housing" },
        Told { path: "aim_mm", help: "bore to aim at, in its housing" },
        Told { path: "aim_before_mm", help: "bore to aim at before fitting; null when it is finished after" },
        Told { path: "relative_permille", help: "mean over diameter" },
        Told { path: "psi_permille", help: "the factor of the diameter before additions" },
        Told { path: "least_um", help: "least clearance that must be left" },
        Told { path: "tolerance_um", help: "width of the band" },
        Told { path: "alpha_bore_per_K", help: "expansion of the bore while the bush is held, for `running`" },
        Told { path: "governed_by", help: "regime, or temperature when the least that must be left won" },
        Told { path: "worst_state", help: "the state that takes the most" },
        Told { path: "states", help: "each state: changes of bore and journal, loss, what is left at the low limit, open" },
        Told { path: "chance", help: "that a bore aimed at the middle lands in the band" },
        Told { path: "rules", help: "rules of the trade beside it, never in it" },
        Told { path: "reasons", help: "why it is what it is" },
    ],
    example: r#"{"alloy": "CC493K", "alpha_housing_per_K": 1.17e-5, "alpha_journal_per_K": 1.15e-5,
        "journal_mm": {"value": 180, "u": 0.003}, "length_mm": 150, "outside_mm": 210, "interference_um": 110, "regime": "boundary",
        "lubrication": "grease", "motion": "swing", "bore_u_um": 8, "states": [
        {"name": "steady", "bush_C": 50, "housing_C": 45, "journal_C": 50},
        {"name": "start-up", "bush_C": 20, "housing_C": 10, "journal_C": 60},
        {"name": "coldest", "bush_C": -20, "housing_C": -20, "journal_C": -20}]}"#,
    run: Some(answer_clearance),
};

const STATE_KEYS: &[Key] = &[
    Key::text("name", "its name").needed(),
    Key::number("bush_C", Range::within(-273.15, 1000.0), "temperature of the bush").needed(),
    Key::number("housing_C", Range::within(-273.15, 1000.0), "temperature of the housing").needed(),
    Key::number("journal_C", Range::within(-273.15, 1000.0), "temperature of the journal").needed(),
];

fn answer_clearance(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read_clearance(given)?;
    let answer = clearance(&request)?;
    show(&request, &answer, desk);
    told(&answer)
}

pub(super) fn read_clearance(given: &Given) -> Result<ClearanceRequest, Refused> {
    let alloy = given.word("alloy").map(alloy).transpose()?;
    let alpha_bush_per_K = match (given.number("alpha_bush_per_K"), alloy) {
        (Some(alpha), _) => alpha,
        (None, Some(alloy)) => alloy.alpha_per_K,
        (None, None) => return Err(given.refuse("alpha_bush_per_K", "a number from 0 to 0.001", "give it, or the id of the alloy")),
    };
    Ok(ClearanceRequest {
        journal_mm: given.need_quantity("journal_mm")?,
        length_mm: given.need_number("length_mm")?,
        outside_mm: given.need_number("outside_mm")?,
        regime: Regime::named(given.need_word("regime")?),
        lubrication: Lubrication::named(given.need_word("lubrication")?),
        motion: Motion::named(given.need_word("motion")?),
        speed_m_s: given.number("speed_m_s"),
        dirt: Dirt::named(given.word_or("dirt", "clean")),
        alloy,
        alpha_bush_per_K,
        alpha_housing_per_K: given.need_number("alpha_housing_per_K")?,
        alpha_journal_per_K: given.need_number("alpha_journal_per_K")?,
        interference_um: given.need_number("interference_um")?,
        close_in_ratio: given.number_or("close_in_ratio", CLOSE_IN_RATIO),
        states: given.records("states").iter().map(read_state).collect::<Result<_, _>>()?,
        tolerance_um: given.number("tolerance_um"),
        least_um: given.number_or("least_um", 0.0),
        Rz_bush_um: given.number_or("Rz_bush_um", 0.0),
        Rz_journal_um: given.number_or("Rz_journal_um", 0.0),
        tilt_mrad: given.number_or("tilt_mrad", 0.0),
        bore_u_um: given.number_or("bore_u_um", 0.0),
        finish: match given.word_or("finish", "after") {
            "before" => Finish::Before { close_in_um: given.need_quantity("close_in_um")? },
            _ => Finish::After,
        },
    })
}

fn read_state(given: &Given) -> Result<State, Refused> {
    Ok(State {
        name: given.need_word("name")?.to_owned(),
        bush_C: given.need_number("bush_C")?,
        housing_C: given.need_number("housing_C")?,
        journal_C: given.need_number("journal_C")?,
    })
}

fn show(request: &ClearanceRequest, answer: &ClearanceAnswer, desk: &mut Desk) {
    let D = request.journal_mm.value;
    let working = &mut desk.working;
    let wanted = [("D mm", D), ("psi permille", answer.psi_permille)];
    let first = answer.reasons.first().map_or("", String::as_str);
    working.step("factor of the diameter", first, &wanted[..1], &wanted[1..], "ISO 12129-1 (recalled), common practice");
    for state in &answer.states {
        let with = [("I um", request.interference_um), ("kappa", request.close_in_ratio), ("D out mm", request.outside_mm)];
        let gives = [("bore um", state.bore_change_um), ("journal um", state.journal_change_um), ("loss um", state.loss_um)];
        let formula = "D alpha_b dT_b - kappa (max(0, delta) - I); loss = D alpha_j dT_j - bore change";
        working.step(&format!("clearance lost, {}", state.name), formula, &with, &gives, "free expansion and elastic close-in");
    }
    let with = [("Rz b um", request.Rz_bush_um), ("Rz j um", request.Rz_journal_um), ("tilt mrad", request.tilt_mrad)];
    let formula = "max(asked, 0.2 permille D, 10, 2 (Rz_b + Rz_j) + tilt L)";
    working.step("least clearance", formula, &with, &[("least um", answer.least_um)], "common practice");
    let with = [("least um", answer.least_um), ("u um", landing_u(request)), ("tol um", answer.tolerance_um)];
    let gives = [("low um", answer.clearance_low_um), ("high um", answer.clearance_high_um)];
    working.step("band", "low = max(mean - tol/2, least + max(0, worst loss) + 2 u)", &with, &gives, "common practice");
    working.step("chance in the band", "2 Phi(tol/2u) - 1", &with[1..], &[("chance", answer.chance)], "normal distribution");
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn request(more: &str) -> String {
        format!(
            r#"{{"alpha_bush_per_K": 1.8e-5, "alpha_housing_per_K": 1.17e-5, "alpha_journal_per_K": 1.15e-5, "journal_mm": 100,
            "length_mm": 90, "outside_mm": 120, "interference_um": 40, {more}}}"#
        )
    }

    fn asked(more: &str) -> Result<Value, Refused> {
        answer("clearance", &read(&request(more)).unwrap(), &Alone, false)
    }

    const GREASED: &str = r#""regime": "boundary", "lubrication": "grease", "motion": "swing""#;
    const AT_20: &str = r#""states": [{"name": "cold", "bush_C": 20, "housing_C": 20, "journal_C": 20}]"#;

    #[test]
    fn what_cannot_be_answered_is_refused_by_key() {
        let full = r#""regime": "full film", "lubrication": "oil", "motion": "rotation""#;
        for (more, key) in [
            (format!(r#"{GREASED}, "states": []"#), "states"),
            (format!("{full}, {AT_20}"), "speed_m_s"),
            (format!(r#"{GREASED}, {AT_20}, "finish": "before""#), "close_in_um"),
            (format!(r#"{GREASED}, {AT_20}, "close_in_ratio": 1.21"#), "close_in_ratio"),
            (format!(r#"{GREASED}, {AT_20}, "alloy": "CC493""#), "alloy"),
        ] {
            assert_eq!(asked(&more).unwrap_err().key, key, "{more}");
        }
    }

    #[test]
    fn a_journal_beyond_the_standard_needs_a_tolerance_of_its_own() {
        let large = request(&format!("{GREASED}, {AT_20}")).replace(r#""journal_mm": 100"#, r#""journal_mm": 4000"#);
        let large = large.replace(r#""outside_mm": 120"#, r#""outside_mm": 4200"#);
        assert_eq!(answer("clearance", &read(&large).unwrap(), &Alone, false).unwrap_err().key, "tolerance_um");
        let with_band = large.replace(r#""length_mm": 90"#, r#""length_mm": 90, "tolerance_um": 300"#);
        assert!(answer("clearance", &read(&with_band).unwrap(), &Alone, false).is_ok());
    }

    #[test]
    fn a_bush_that_lets_go_grows_by_itself_and_is_warned_of() {
        let cold = r#""states": [{"name": "frost", "bush_C": -60, "housing_C": -60, "journal_C": -60}]"#;
        let found = asked(&format!("{GREASED}, {cold}")).unwrap();
        assert_eq!(found["states"][0]["open"], true);
        // By hand: 100 mm x 18e-6 x (-80 K) = -144 um, and the close-in of 0.9 x 40 um is given back.
        assert!((found["states"][0]["bore_change_um"].as_f64().unwrap() - (-144.0 + 36.0)).abs() < 1e-9);
        assert!(found["warnings"].to_string().contains("lets go"));
    }

    #[test]
    fn rules_that_are_three_times_apart_are_shown_to_disagree() {
        let found = asked(&format!("{GREASED}, {AT_20}")).unwrap();
        // T18 says 1.5 to 3 permille for grease, M20 0.5 to 1 for a swing.
        assert!(found["warnings"].to_string().contains("disagree by 3.0 times"), "{}", found["warnings"]);
    }

    #[test]
    fn no_rule_lowers_the_low_limit_that_heat_asks_for() {
        let hot = r#""states": [{"name": "start", "bush_C": 20, "housing_C": 20, "journal_C": 200}]"#;
        let found = asked(&format!("{GREASED}, {hot}")).unwrap();
        assert_eq!(found["governed_by"], "temperature");
        // 100 mm x 11.5e-6 x 180 K = 207 um and 20 um left.
        assert!((found["clearance_low_um"].as_f64().unwrap() - 227.0).abs() < 1e-9);
    }

    #[test]
    fn a_step_is_nearest_by_ratio_not_by_difference() {
        // Halfway in ratio between 2.24 and 3.15 is 2.656, by difference 2.695.
        for (permille, step) in [(2.65, 2.24), (2.67, 3.15), (0.1, 0.56), (9.0, 3.15)] {
            assert_eq!(nearest_step(permille), step);
        }
    }
}
