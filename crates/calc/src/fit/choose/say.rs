//! What the choice is in words: the sentence for the lathe, why the bounds meet, and what should be known.

use super::bounds::{Bound, BoundKind, Window};
use super::{Choice, Chosen, Fit, State};
use crate::band::Band;

/// Weight that a metric tonne presses with, kN (standard gravity, exact).
const KN_PER_TONNE: f64 = 9.806_65;
/// Beyond this distance from 20 °C one mean coefficient of expansion is no longer good, K.
const ONE_ALPHA_K: f64 = 250.0;

fn celsius(T_C: f64) -> String {
    format!("{T_C} °C").replace('-', "−")
}

fn at(state: &State) -> String {
    format!("{} (bush {}, housing {})", state.name, celsius(state.bush_C), celsius(state.housing_C))
}

fn named<'s>(states: &'s [State], bound: &Bound) -> Option<&'s State> {
    states.iter().find(|state| Some(&state.name) == bound.state.as_ref())
}

/// A bound as the person who turns would name it.
fn set_by(bound: Option<&Bound>, states: &[State]) -> String {
    let Some(bound) = bound else { return "nothing that was given".into() };
    let state = named(states, bound).map(|state| state.name.as_str()).unwrap_or_default();
    match bound.bound {
        BoundKind::Hold => format!("the grip at \"{state}\""),
        BoundKind::Set => format!("the bush at \"{state}\""),
        BoundKind::Housing => format!("the housing at \"{state}\""),
        BoundKind::Press => "the press at hand".into(),
        BoundKind::Floor => "the least that a bored seat wants".into(),
    }
}

/// The sentence for the lathe, then what it costs. Sizes are rounded into the band.
pub fn say(choice: &Choice, chosen: &Chosen, window: &Window, states: &[State]) -> String {
    let band = &chosen.band;
    let sizes = Band { low_mm: band.outside_low_mm, high_mm: band.outside_high_mm };
    let interference = Band { low_mm: band.interference_low_um, high_mm: band.interference_high_um };
    let (sizes, mm) = inward(sizes, 0.001, 3);
    let (interference, um) = inward(interference, 1.0, 0);
    let turn = format!(
        "Turn to {:.mm$} to {:.mm$} at 20 °C (interference {:.um$} to {:.um$} µm over the measured {}): ",
        sizes.low_mm,
        sizes.high_mm,
        interference.low_mm,
        interference.high_mm,
        measured(choice.housing.bore_mm)
    );
    let ends = format!("the least is set by {}, the most by {}.", set_by(window.lowest, states), set_by(window.highest, states));
    let holds = if chosen.holds_by_friction {
        format!("{}; {ends}", span(states))
    } else {
        let fit = match chosen.fit {
            Fit::Press => "a press fit that friction alone does not hold",
            Fit::Transition => "a transition fit",
            Fit::Slide => "a slide fit",
        };
        format!("{fit}, a retainer carries what friction does not; {ends}")
    };
    let cost = format!(
        "The bore closes in by {:.0} to {:.0} µm; pressed it takes up to {:.0} kN ({:.1} tonnes). The chance that all of it holds comes from \
         fit-chance once the parts are measured.",
        chosen.close_in_low_um,
        chosen.close_in_high_um,
        chosen.press_force_high_kN,
        chosen.press_force_high_kN / KN_PER_TONNE
    );
    format!("{turn}{holds} {cost}")
}

/// A measured size to a tenth of a micrometre, without noughts at its end.
fn measured(mm: f64) -> String {
    format!("{mm:.4}").trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The band with its ends on whole steps inside it, and the decimals to show; finer where no step lies inside.
fn inward(band: Band, step: f64, decimals: usize) -> (Band, usize) {
    let whole = band.inward(step);
    if whole == band { (band.inward(step / 10.0), decimals + 1) } else { (whole, decimals) }
}

fn span(states: &[State]) -> String {
    let colder = |a: &'_ State, b: &'_ State| a.bush_C.total_cmp(&b.bush_C);
    let coldest = states.iter().min_by(|a, b| colder(a, b));
    let hottest = states.iter().max_by(|a, b| colder(a, b));
    match (coldest, hottest) {
        (Some(cold), Some(hot)) if cold != hot => {
            format!("holds from {} ({}) to {} ({})", celsius(cold.bush_C), cold.name, celsius(hot.bush_C), hot.name)
        }
        _ => "holds at 20 °C".into(),
    }
}

/// Which two bounds meet, at which temperatures, and what would part them. `hard`: the window without press and floor.
pub fn why(hard: &Window, tolerance_um: f64, two_u_um: f64, states: &[State]) -> String {
    let least = hard.lowest.map_or_else(String::new, |bound| {
        let state = named(states, bound).map(at).unwrap_or_default();
        format!("To hold at {state} it needs {:.0} µm or more", bound.interference_um)
    });
    let most = hard.highest.map_or_else(String::new, |bound| {
        let state = named(states, bound).map(at).unwrap_or_default();
        let what = if bound.bound == BoundKind::Housing { "the housing is over its limit" } else { "the bush takes a set" };
        format!("at {state} {what} over {:.0} µm", bound.interference_um)
    });
    format!(
        "{least}; {most}. With {two_u_um:.0} µm of uncertainty kept off both, less than half of the {tolerance_um:.0} µm of tolerance is left. \
         What would part them: a harder alloy or a thicker wall, a closer temperature of bush and housing, a smaller uncertainty of the sizes."
    )
}

/// The caution first, then what should be known.
pub fn warnings(choice: &Choice, chosen: &Chosen, tolerance_um: f64, states: &[State]) -> Vec<String> {
    let mut warnings = vec![
        "Before it is seated read the cautions of the press, of cold and of heat: parts fly, cold and hot parts burn; local codes and licensed \
         practice come first."
            .to_owned(),
    ];
    if chosen.left_out.contains(&BoundKind::Press) {
        warnings.push(format!(
            "The press of {} kN is too small for this band (up to {:.0} kN): shrink it in.",
            choice.press_limit_kN.unwrap_or_default(),
            chosen.press_force_high_kN
        ));
    }
    if chosen.left_out.contains(&BoundKind::Floor) {
        warnings.push(format!(
            "The floor of {} µm/mm is not reached: the seat must be round and straight, measure its form before the bush is turned.",
            choice.floor_um_per_mm
        ));
    }
    if choice.bush.yield_MPa.is_none() {
        warnings.push("No yield of the bush is given: it was not checked against taking a set.".into());
    }
    if choice.housing.yield_MPa.is_none() && choice.housing.tension_limit_MPa.is_none() {
        warnings.push("No yield or tension limit of the housing is given: the housing was not checked.".into());
    }
    if chosen.high_um.is_none() {
        warnings.push("Nothing bounds the interference from above: the window has no end, and its upper side is not checked.".into());
    }
    if chosen.narrow {
        warnings.push(format!(
            "The band is narrower than the {tolerance_um} µm that were asked for: the last cut must be measured into it, or the outside is ground."
        ));
    }
    if chosen.retainer_needed {
        warnings.push("Friction does not hold in every state: choose a retainer (pin, screw, flange or compound).".into());
    }
    if !chosen.loose_in.is_empty() {
        warnings.push(format!("Pinned or not, the bush may be loose and rattle at: {}.", chosen.loose_in.join(", ")));
    }
    for state in states.iter().filter(|state| [state.bush_C, state.housing_C].iter().any(|T| (T - 20.0).abs() > ONE_ALPHA_K)) {
        warnings.push(format!("{} is more than {ONE_ALPHA_K} K from 20 °C: one mean expansion is no longer good there.", at(state)));
    }
    warnings
}
