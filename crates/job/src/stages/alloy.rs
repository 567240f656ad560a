//! Alloy: the candidates ranked for this duty, each with its reasons; the person chooses, the sheet says what the choice costs.

use calc::alloy::table;
use calc::shown;
use serde_json::json;

use super::ask::{Said, request};
use super::draft::Draft;
use super::found::Found;
use super::{Bench, note_staleness};
use crate::sheet::Standing;

/// Candidates that stand on the sheet; the rest is in the calculation.
const SHOWN: usize = 5;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let said = rank(bench, draft, found);
    let first = said.as_ref().and_then(|said| said.text("ranked.0.id").map(str::to_owned));
    let taken = bench.seat.decided("alloy");
    let chosen = taken.map(|taken| taken.choice.clone()).or_else(|| first.clone());
    found.alloy = chosen.as_deref().and_then(|id| table::alloy(id).ok());
    if let Some(said) = &said {
        candidates(draft, said);
    }
    if let Some(taken) = taken {
        note_staleness(draft, taken, first.as_deref());
    }
    let Some(alloy) = found.alloy else {
        draft.need("no alloy: the duty leaves none, or is not complete; decide one, with its reason");
        return;
    };
    let place = said.as_ref().and_then(|said| said.number(&format!("place.{}", alloy.id)));
    let excluded = said.as_ref().map(|said| said.texts(&format!("excluded.{}.why", alloy.id))).unwrap_or_default();
    if !excluded.is_empty() && taken.is_some() {
        draft.warn(format!("{} was chosen against a limit: {}", alloy.id, excluded.join("; ")));
    }
    let rank = place.map(|place| format!("place {} of the ranking", calc::units::shown_plain(place, 0)));
    let how = match (taken, rank) {
        (Some(taken), Some(rank)) => format!("chosen by {} ({rank}): {}", taken.who, taken.because),
        (Some(taken), None) => format!("chosen by {}: {}", taken.who, taken.because),
        (None, Some(rank)) => format!("{rank}, taken until someone decides"),
        (None, None) => "taken until someone decides".into(),
    };
    let name = if alloy.symbol == alloy.id { alloy.id.to_string() } else { format!("{} ({})", alloy.id, alloy.symbol) };
    draft.say(name.clone(), format!("{name}, {}: {how}.", alloy.family));
    let memory = alloy.from_memory();
    let from = |part: &str| if memory.contains(&part) { "from memory, in part or whole".to_owned() } else { "read".to_owned() };
    for (label, value, note) in [
        ("elasticity", format!("{} GPa", shown::three(alloy.E_GPa)), from("physical")),
        ("expansion", format!("{}·10⁻⁶ per K", calc::units::shown_plain(calc::units::millionths(alloy.alpha_per_K), 1)), from("physical")),
        (
            "yield, least",
            alloy.yield_MPa.map(|y| shown::stress(y, bench.system)).unwrap_or_else(|| "none (brittle)".into()),
            from("mechanical"),
        ),
        ("hardness, typical", format!("{} HB", shown::three(alloy.HB_typ)), String::new()),
    ] {
        draft.line(label, value, note);
    }
    if taken.is_none() && draft.sheet.standing == Standing::Done {
        draft.warn(format!("Nobody has decided on the alloy: {} is the first of the ranking.", alloy.id));
    }
    draft.source(format!("{}: {}; limits: {}", alloy.id, alloy.how_mechanical, alloy.how_limits));
    draft.source("ranking: weights set by hand (common practice); limits good to about ± 30 % (judgement)");
    draft.caution("Dust and fume of leaded, beryllium-bearing and aluminium bronze: wet or extracted, no compressed air, wash before eating; keep the swarf of each alloy by itself.");
}

fn rank(bench: &Bench, draft: &mut Draft, found: &Found) -> Option<Said> {
    let (seat, duty) = (bench.seat, &found.duty);
    let pressure = duty.number("pressure_MPa")?;
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let word = |path: &str| seat.text(path).map(|word| json!(word));
    let flag = |path: &str| seat.flag(path).then(|| json!(true));
    let said = |path: &str| duty.number(path).map(|x| json!(x));
    let bush = |pick: fn(f64, f64) -> f64| found.warmth.iter().map(|warmth| warmth.bush_C).reduce(pick).map(|T| json!(T));
    let outside = seat.number("housing.nominal").or(found.bore.map(|bore| bore.size.value));
    draft.ask(
        "alloys",
        "alloys",
        request([
            ("pressure_MPa", Some(json!(pressure))),
            ("peak_pressure_MPa", said("peak_pressure_MPa")),
            ("speed_m_s", said("speed_m_s")),
            ("pv_MPa_m_s", said("pv_MPa_m_s")),
            ("regime", duty.text("regime").map(|regime| json!(regime))),
            ("lubrication", word("duty.lubrication")),
            ("relube", word("duty.relube")),
            ("intermittent", flag("duty.intermittent")),
            ("temperature_C", bush(f64::max)),
            ("journal_HB", number("journal.hardness")),
            ("shock", word("duty.shock")),
            ("dirt", word("duty.dirt")),
            ("misaligned", flag("duty.misaligned")),
            ("sea_water", flag("duty.sea_water")),
            ("lead_free", flag("duty.lead_free")),
            ("food", flag("duty.food")),
            ("housing_alpha_per_K", found.metal.filter(|_| outside.is_some()).map(|metal| json!(metal.alpha_per_K))),
            ("outside_mm", outside.filter(|_| found.metal.is_some()).map(|mm| json!(mm))),
            ("T_min_C", bush(f64::min).filter(|_| found.metal.is_some() && outside.is_some())),
            ("T_max_C", bush(f64::max).filter(|_| found.metal.is_some() && outside.is_some())),
        ]),
    )
}

fn candidates(draft: &mut Draft, said: &Said) {
    let rows = said.list("ranked").into_iter().take(SHOWN).map(|row| {
        let limiting = format!(
            "{} at {}",
            row.text("limiting.limit").unwrap_or("-").replace('_', " "),
            row.number("limiting.use").map(shown::share).unwrap_or_default()
        );
        vec![
            row.text("id").unwrap_or_default().to_owned(),
            row.text("family").unwrap_or_default().to_owned(),
            row.number("score").map(|score| calc::units::shown_plain(score, 0)).unwrap_or_default(),
            limiting,
            row.texts("for").join("; "),
            row.texts("against").join("; "),
        ]
    });
    draft.grid("Candidates for this duty", &["alloy", "family", "score>", "nearest limit", "for", "against"], rows.collect());
    if let Some(counts) = said.number("counts.excluded") {
        draft.line("left out by a limit", calc::units::shown_plain(counts, 0), "alloys; the calculation lists each with its reason");
    }
    if let Some(reason) = said.text("none_reason") {
        draft.warn(reason.to_owned());
    }
}
