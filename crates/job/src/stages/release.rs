//! Release: every requirement with its measured value, its doubt and its verdict; what is open; who signed.

use calc::band::Band;
use calc::quantity::Quantity;
use calc::shown;
use serde_json::json;

use super::Bench;
use super::draft::Draft;
use super::drawn::to_steps;
use super::found::Found;
use crate::state::{Feature, Signed};

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let mut rows = Vec::new();
    let mut all_meet = true;
    let measured = [
        (
            "outside of the bush in its band",
            found.outside.map(|measured| measured.size),
            found.band.map(|band| to_steps(band, bench.system)),
            "bush outside",
        ),
        ("finished bore in its band", found.fitted_bore.map(|measured| measured.size), found.bore_band, "fitted bore"),
    ];
    for (what, size, band, feature) in measured {
        match (size, band) {
            (Some(size), Some(band)) => {
                let (row, meets) = verdict(bench, draft, what, size, band);
                all_meet &= meets;
                rows.push(row);
            }
            (None, Some(band)) => {
                draft.need(format!("{what}: not measured; take readings of the {feature}"));
                rows.push(vec![
                    what.into(),
                    shown::lengths(band.low_mm, band.high_mm, 3, bench.system),
                    "not measured".into(),
                    "open".into(),
                ]);
                all_meet = false;
            }
            _ => all_meet = false,
        }
    }
    let any_band = found.band.is_some();
    draft.grid("Requirements", &["requirement", "allowed", "measured>", "verdict"], rows);
    draft.line("rule of the verdict", "95 % likely inside", "JCGM 106; the maker proves meets, the buyer proves does not");
    for set in &bench.seat.sets {
        let name = Feature::ALL.iter().find(|(feature, _)| *feature == set.feature).map_or("part", |(_, name)| name);
        let gauge = set.gauge.as_deref().map(|gauge| bench.seat.text(&format!("gauge.{gauge}.name")).unwrap_or(gauge).to_owned());
        draft.line(
            format!("measured: {name}"),
            gauge.unwrap_or_else(|| "gauge not named".into()),
            [set.who.as_str(), set.day.as_str()].join(" ").trim().to_owned(),
        );
    }
    for (surface, by) in &found.at_lathe {
        draft.line(format!("measured: {}", surface.feature().word()), "at the lathe, after the last cut", by.clone());
    }
    let signed: Vec<&Signed> = bench.state.signatures.iter().filter(|signed| signed.is_over(&bench.seat.name)).collect();
    for signed in &signed {
        draft.line("signed", signature_line(signed), "");
        if signed.reopened {
            draft.need(format!("entries were added after {} signed: look and sign again", signed.who));
        }
    }
    if !any_band {
        draft.need("nothing to release yet: the band comes first");
        return;
    }
    for stage in &found.stale {
        draft.need(format!("{} is stale: an input moved after it was decided; look at it and decide it again", stage.title()));
    }
    if signed.is_empty() {
        draft.need("a signature, when every requirement is met");
    }
    let (brief, sentence) = match (all_meet, signed.iter().any(|signed| !signed.reopened)) {
        (true, true) => ("released", "Every requirement is met and it is signed."),
        (true, false) if !found.stale.is_empty() => {
            ("met, not signed", "Every requirement is met; a decision is stale, and it waits for a signature.")
        }
        (true, false) => ("met, not signed", "Every requirement is met; it waits for a signature."),
        (false, _) => ("open", "Not to be released yet: see what is open."),
    };
    draft.say(brief, sentence);
    draft.source("verdicts: JCGM 106:2012 (from memory); guard bands as ISO 14253-1");
}

fn verdict(bench: &Bench, draft: &mut Draft, what: &str, size: Quantity, band: Band) -> (Vec<String>, bool) {
    let system = bench.system;
    let allowed = shown::lengths(band.low_mm, band.high_mm, 3, system);
    let mut value = json!({"value": size.value, "u": size.u});
    if let (Some(dof), Some(map)) = (size.dof, value.as_object_mut()) {
        map.insert("dof".into(), json!(dof));
    }
    let asked = json!({"value": value, "lower": band.low_mm, "upper": band.high_mm});
    let said = draft.ask(&format!("verdict_{}", what.replace(' ', "_")), "verdict", asked);
    let word = said.as_ref().and_then(|said| said.text("verdict").map(str::to_owned)).unwrap_or_else(|| "cannot be told".into());
    if word != "meets" {
        for text in said.iter().flat_map(|said| said.texts("say")) {
            draft.need(format!("{what}: {text}"));
        }
    }
    let chance = said
        .as_ref()
        .and_then(|said| said.number("chance_within"))
        .map(|chance| format!(" ({})", shown::chance(chance, u64::MAX)))
        .unwrap_or_default();
    let meets = word == "meets";
    (vec![what.into(), allowed, shown::size(&size, system), format!("{word}{chance}")], meets)
}

/// A signature as it stands on paper.
pub fn signature_line(signed: &Signed) -> String {
    let seat = signed.seat.as_ref().map(|seat| format!(", seat {seat}")).unwrap_or_default();
    let again = if signed.reopened { "; entries were added after it" } else { "" };
    format!("{}, {}, {}{seat}, over {}{again}", signed.who, signed.role, signed.day, signed.head.get(..12).unwrap_or(&signed.head))
}
