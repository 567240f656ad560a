//! The sentences of a ranking: what speaks for an alloy and against it, with the figures, and the warnings beside the list.

use crate::alloy::limits::{Demand, JOURNAL_HB_UNKNOWN, Relube, Uses};
use crate::alloy::score::{USE_CLOSE, merits, starves, weights};
use crate::alloy::table::Alloy;
use crate::duty::{Lubrication, Regime};

/// Weight from which a criterion is worth a sentence.
const WEIGHT_TOLD: f64 = 1.0;
/// Merit from which it speaks for an alloy.
const MERIT_FOR: f64 = 4.0;
/// Merit up to which it speaks against.
const MERIT_AGAINST: f64 = 1.0;

/// What speaks for an alloy and against it.
pub struct Reasons {
    /// Sentences for.
    pub speaks_for: Vec<String>,
    /// Sentences against.
    pub speaks_against: Vec<String>,
}

/// Reasons from the criteria that count (w ≥ 1): s ≥ 4 speaks for, s ≤ 1 against; and from the two deductions.
pub fn reasons(alloy: &Alloy, demand: &Demand, uses: &Uses) -> Reasons {
    let (weights, merits) = (weights(demand).list(), merits(alloy, demand, uses).list());
    let (mut speaks_for, mut speaks_against) = (Vec::new(), Vec::new());
    for ((criterion, weight), (_, merit)) in weights.into_iter().zip(merits) {
        if weight < WEIGHT_TOLD {
            continue;
        }
        if merit >= MERIT_FOR {
            speaks_for.push(sentence(criterion, true, merit, alloy, demand, uses));
        } else if merit <= MERIT_AGAINST {
            speaks_against.push(sentence(criterion, false, merit, alloy, demand, uses));
        }
    }
    if starves(alloy, demand) {
        speaks_against.push(format!("little lubricant: it is one that seizes on it ({} of 5, 12 points off)", alloy.s.marginal_lube));
    }
    let load_use = uses.pressure.max(uses.peak_pressure);
    if load_use > USE_CLOSE {
        speaks_against.push(format!("load: it stands at {:.0} % of its limit, which is good to about ± 30 %", 100.0 * load_use));
    }
    Reasons { speaks_for, speaks_against }
}

fn sentence(criterion: &str, good: bool, merit: f64, alloy: &Alloy, demand: &Demand, uses: &Uses) -> String {
    let p = crate::shown::three(demand.pressure_MPa);
    let say = |yes: String, no: String| if good { yes } else { no };
    let figure = format!("({merit:.1} of 5)");
    match criterion {
        "strength" => {
            let strength = alloy.yield_MPa.map_or_else(|| format!("Rm {} MPa", alloy.Rm_MPa), |Rp| format!("Rp0.2 {Rp} MPa"));
            say(format!("strength: {strength}, strong for {p} MPa {figure}"), format!("strength: {strength}, weak for {p} MPa {figure}"))
        }
        "lube" => {
            let lead = if alloy.Pb_pct >= 3.0 { format!("{} % lead forgives", alloy.Pb_pct) } else { "it forgives".to_owned() };
            say(format!("lubricant: {lead} poor lubrication {figure}"), format!("lubricant: it wants sure lubrication {figure}"))
        }
        "wear" => say(
            format!("wear: {} HB wears slowly on a hard pin {figure}", alloy.HB_typ),
            format!("wear: {} HB is soft for {p} MPa on a hard pin {figure}", alloy.HB_typ),
        ),
        "shock" => say(format!("shock: tough {figure}"), format!("shock: it takes blows badly {figure}")),
        "embed" => say(format!("dirt: it buries grit {figure}"), format!("dirt: grit stays on top and cuts the shaft {figure}")),
        "conform" => say(format!("misalignment: it beds in {figure}"), format!("misalignment: it does not bed in {figure}")),
        "seawater" => say(format!("water: it stands sea water {figure}"), format!("water: it stands sea water badly {figure}")),
        "speed" => {
            let room = format!("limit {} m/s at {} m/s", alloy.v_max_m_s, crate::shown::three(demand.speed_m_s));
            say(format!("speed: good at it, {room} {figure}"), format!("speed: slow work is its place, {room} {figure}"))
        }
        "machining" => say(format!("turning: easy {figure}"), format!("turning: slow {figure}")),
        "cost" => {
            let cost = format!("cost index {}", alloy.cost_index);
            say(format!("price: {cost}, cheap {figure}"), format!("price: {cost}, dear {figure}"))
        }
        "margin" => {
            let (limit, used) = uses.largest();
            let room = format!("{} is used to {:.0} %", limit.replace('_', " "), 100.0 * used);
            say(format!("margin: wide, {room} {figure}"), format!("margin: thin, {room} {figure}"))
        }
        "journal" => {
            let journal = format!("{} HB for the {} HB that it likes", demand.journal_HB(), alloy.journal_HB_recommended);
            say(format!("journal: hard enough, {journal} {figure}"), format!("journal: soft, {journal} {figure}"))
        }
        _ => {
            let apart = 1e6 * demand.housing_alpha_per_K.map_or(0.0, |housing| alloy.alpha_per_K - housing);
            say(
                format!("expansion: near the housing's, {apart:+.1}e-6 per K apart {figure}"),
                format!("expansion: far from the housing's, {apart:+.1}e-6 per K apart {figure}"),
            )
        }
    }
}

/// What the points are worth, said with every ranking.
pub const WHAT_THE_SCORE_IS: &str = "The points order what stands the duty: their weights were set by hand until the usual preferences of \
the trade came out, not fitted to service records; the judgements of 0 to 5 are from memory and the limits are good to about ± 30 %.";

/// Warnings that follow from the demand.
pub fn demand_warnings(demand: &Demand) -> Vec<String> {
    let mut warnings = Vec::new();
    if demand.journal_HB.is_none() {
        warnings.push(format!(
            "The hardness of the journal was not given: {JOURNAL_HB_UNKNOWN} HB was taken, a shaft that was not hardened. Measure it: \
             aluminium bronze and high-tensile brass need a hard, smooth one."
        ));
    }
    if demand.temperature_C.is_none() {
        warnings.push("The temperature of the bush was not given: no alloy was tested by it.".to_owned());
    }
    if demand.regime == Regime::FullFilm && demand.speed_m_s > 3.0 {
        warnings.push(
            "Fast oil-ring and turbine bearings (full film over 3 m/s) are mostly lined with white metal, which this list has not \
             [common practice]."
                .to_owned(),
        );
    }
    if demand.regime == Regime::FullFilm && demand.lubrication != Lubrication::Oil {
        warnings.push(format!(
            "A full film with {:?} is not to be counted on: oil on a turning journal makes one. Rank for \"mixed\" or \"boundary\" too.",
            demand.lubrication.word()
        ));
    }
    if demand.lead_free || demand.food {
        warnings.push(format!(
            "Lead counts as none up to {} %: 0.1 % is the general limit of European law on substances in products, 0.25 % weighted that \
             of US drinking-water law, and up to 4 % has been exempted for copper alloys in some uses (all from memory): ask which rule \
             applies, and for a certificate of analysis.",
            demand.lead_limit_pct
        ));
    }
    if demand.food {
        warnings.push("Food and drinking water: only alloys that the local authority lists.".to_owned());
    }
    if demand.peak_pressure_MPa < demand.pressure_MPa {
        warnings.push("The peak pressure is under the mean pressure: look at both again.".to_owned());
    }
    if demand.relube == Relube::Marginal && demand.lubrication == Lubrication::Dry {
        warnings.push("A dry bush is not greased at all: `relube` was read as little lubricant.".to_owned());
    }
    warnings
}
