//! What a survey says in words: the number first, then the form, then what can't be said, then what to do.

use super::again::Suspect;
use super::fit::{Form, Measured};
use super::model::{Contacts, Place, angles, stations};
use crate::measure::prior::{Estimate, is_slipped_digit};
use crate::units::{shown, shown_plain};

/// Which lobes these readings can't see.
pub fn odd_lobes(contacts: Contacts) -> &'static str {
    match contacts {
        Contacts::Two => {
            "two-point readings are blind to odd lobes (3, 5, 7 ..): a bore of three lobes reads round. Three contacts, or a vee, show them."
        }
        Contacts::Three => {
            "three-contact readings show lobes of 3 and its multiples only: an oval (2) and lobes of 4, 5, 7 .. are not seen. Two-point \
             readings show the even ones."
        }
    }
}

/// The sentences of a survey, in order; last those of [`measure_again`].
pub fn say(measured: &Measured, form: &Form, measure_again: &[String]) -> Vec<String> {
    let mut say = vec![mean(measured, form)];
    say.extend(shape(measured, form));
    if !form.not_estimable.is_empty() {
        say.push(format!("These readings can't tell: {}.", form.not_estimable.join("; ")));
    }
    say.push(format!("Not seen: {}", odd_lobes(measured.contacts)));
    say.extend_from_slice(measure_again);
    say
}

/// Where to measure again, and what to do then; empty where no reading looks wrong.
pub fn measure_again(measured: &Measured, form: &Form, suspects: &[Suspect]) -> Vec<String> {
    let mut say: Vec<String> = suspects.iter().map(|suspect| off(measured, form, suspect)).collect();
    if !say.is_empty() {
        say.push(
            "Nothing is dropped by itself: until then the fit with all readings and its wider uncertainty is used. If the two new readings \
             agree with the others, drop the old one with its reason; if they agree with the old one, the surface has a flaw there: keep \
             it and say so."
                .into(),
        );
    }
    say
}

/// `260.0211 mm ± 0.0022 (95 %), 12 readings, 4 angles at 3 stations.`
fn mean(measured: &Measured, form: &Form) -> String {
    let (value, U) = shown(form.mean_mm.value, form.mean_mm.U95());
    format!(
        "{value} mm ± {U} (95 %), {}, {} at {}.",
        count(measured.places.len(), "reading"),
        count(angles(&measured.places, measured.contacts).len(), "angle"),
        count(stations(&measured.places).len(), "station")
    )
}

fn shape(measured: &Measured, form: &Form) -> Vec<String> {
    let half_width = |u: f64| Estimate { u, ..form.mean_mm }.U95();
    let mut parts = Vec::new();
    if let Some(taper) = form.taper_mm {
        let (value, U) = shown(taper.value, taper.U95());
        parts.push(format!("taper {value} ± {U} mm over {} mm", shown_plain(measured.span.span_mm, 0)));
    }
    if let Some(barrel) = form.centre_minus_ends_mm {
        let (value, U) = shown(barrel.value, half_width(barrel.u));
        parts.push(format!("centre less ends {value} ± {U} mm"));
    }
    let mut say = Vec::new();
    if let Some(round) = form.out_of_round_mm {
        let (value, U) = shown(round.value, half_width(round.u));
        let along = form.major_axis_deg.map_or_else(String::new, |axis| format!(" along {}°", shown_plain(axis, 0)));
        parts.push(format!("out-of-round {value} ± {U} mm{along}"));
        if round.value < 2.0 * round.u {
            say.push("Round within what this gauge can tell: so small an out-of-round reads too large by its own scatter.".to_owned());
        }
    }
    if let Some(lobe) = form.three_lobe_mm {
        let (value, U) = shown(lobe.value, half_width(lobe.u));
        let (pin, _) = shown(form.mean_mm.value - 2.0 * lobe.value, half_width(form.mean_mm.u));
        parts.push(format!("three lobes of {value} ± {U} mm radial"));
        say.push(format!("The largest round pin that enters is twice that under the mean: {pin} mm."));
    }
    if let Some(sentence) = (!parts.is_empty()).then(|| format!("{}.", sentence_case(&parts.join(", ")))) {
        say.insert(0, sentence);
    }
    say
}

fn off(measured: &Measured, form: &Form, suspect: &Suspect) -> String {
    let place = |index: usize| measured.places.get(index).copied().unwrap_or(Place { z_mm: 0.0, angle_deg: 0.0 });
    let Place { z_mm, angle_deg } = place(suspect.index);
    let slip = if is_slipped_digit(suspect.off_mm, form.pooled_sd_mm) { " (a slipped digit?)" } else { "" };
    let or = suspect.or_index.map_or_else(String::new, |index| {
        let Place { z_mm, angle_deg } = place(index);
        format!(" The reading at station {z_mm}, angle {angle_deg} is as far off, and these readings can't say which: take both again.")
    });
    format!(
        "Station {z_mm}, angle {angle_deg}: looks {} mm off the others{slip}; measure it again, twice.{or}",
        shown_plain(suspect.off_mm.abs(), 3)
    )
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

fn sentence_case(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
