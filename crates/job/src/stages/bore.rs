//! Bore: the running clearance at working temperature, the bore to finish to, and the groove.

use calc::band::Band;
use calc::looked_back::{Pair, less};
use calc::shown;
use calc::units::{mm_quantity, um_quantity};
use serde_json::{Value, json};

use super::ask::{Said, request};
use super::draft::Draft;
use super::found::Found;
use super::{Bench, lathe, measure, past, running};
use crate::lathe::step::Surface;
use crate::state::Feature;

/// What the sheet says of running in by its own caution, so that the answers need not.
const TOLD: &[&str] = &["Never oil, feel or gauge a turning"];

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    found.fitted_bore = measure::feature(bench, draft, found, Feature::FittedBore).or_else(|| lathe::measured(bench, found, Surface::Bore));
    bore(bench, draft, found);
    before_and_after(bench, draft, found);
    groove(bench, draft, found);
    if found.bore_band.is_some() {
        lathe::tell(bench, draft, Surface::Bore);
    }
}

fn bore(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let Some(asked) = clearance(bench, draft, found) else {
        draft.need("the running clearance: it needs the band, the journal, the motion and the temperatures");
        return;
    };
    let said = match running::by_film(bench, draft, found, &asked) {
        Some(by_film) => draft.ask_but("film_clearance", "film-clearance", by_film, TOLD),
        None => draft.ask_but("clearance", "clearance", asked, TOLD),
    };
    let Some(said) = said else { return };
    let (Some(low_mm), Some(high_mm), Some(aim)) = (said.number("bore_low_mm"), said.number("bore_high_mm"), said.number("aim_mm")) else {
        return;
    };
    found.bore_band = Some(Band { low_mm, high_mm });
    found.clearance_um = said.number("clearance_mean_um");
    let runs = running::tell(bench, draft, found, &said);
    tell(bench, draft, found, &said);
    let system = bench.system;
    let sizes = shown::lengths(low_mm, high_mm, 3, system);
    let clearance = said
        .number("clearance_low_um")
        .zip(said.number("clearance_high_um"))
        .map(|(low, high)| shown::fines(low, high, system))
        .unwrap_or_default();
    let before = bench.seat.text("bush.finish") == Some("before");
    let aim_at = said.number("aim_before_mm").filter(|_| before).unwrap_or(aim);
    let when = if before { "before fitting, so that it closes in to the band" } else { "after fitting" };
    draft.say(
        format!("finish to {sizes}"),
        format!(
            "Finish the bore to {sizes} at 20 °C ({clearance} running clearance); aim at {} {when}.{runs}",
            shown::length(aim_at, 3, system)
        ),
    );
    match found.fitted_bore.map(|fitted| fitted.size) {
        Some(size) if !(Band { low_mm, high_mm }).is_over_bore(size.value) => {
            draft.sheet.brief = format!("bored to {}", shown::size(&size, system));
        }
        Some(size) => {
            draft.sheet.brief = format!("{}, finish to {sizes}", shown::size(&size, system));
            draft.ready();
        }
        None => draft.ready(),
    }
}

/// A rule without the number that it has in the list of sources.
fn named(rule: &str) -> &str {
    let is_number = |head: &str| head.len() < 5 && head.starts_with(['T', 'M']);
    rule.split_once(": ").filter(|(head, _)| is_number(head)).map_or(rule, |(_, words)| words)
}

/// What a bore that was measured before fitting says: where it comes to; and once it was measured in its seat, what it closed in by.
fn before_and_after(bench: &Bench, draft: &mut Draft, found: &Found) {
    let Some(before) = measure::feature(bench, draft, found, Feature::BushBore).map(|measured| measured.size) else { return };
    let system = bench.system;
    draft.line("bore before fitting, at 20 °C", shown::size(&before, system), "as measured");
    let Some(foretold) = found.fit.quantity(&format!("states.{}.close_in_um", found.warmth.len())) else { return };
    let expected = less(before, mm_quantity(foretold));
    draft.line("bore to expect when it is in", shown::size(&expected, system), "that less the close-in that is foretold");
    let as_it_went_in = past::as_it_went_in(bench.seat);
    let after = measure::feature(&Bench::of(&as_it_went_in, bench.state), draft, found, Feature::FittedBore).map(|measured| measured.size);
    let Some(measured) = after.map(|after| um_quantity(less(before, after))).filter(|closed_in| closed_in.value > 0.0) else { return };
    let agrees = Pair { predicted: foretold, measured }.agrees();
    let words =
        format!("foretold {}: {}", shown::fine_quantity(&foretold, system), if agrees { "they agree" } else { "they do not agree" });
    draft.line("closed in by", shown::fine_quantity(&measured, system), words);
    if !agrees {
        draft.warn(format!(
            "The bore closed in by {}, and {} was foretold: measure both once more; if it stays so, the outline of the housing or the \
             interference is not what was taken, and so is what the fit holds.",
            shown::fine_quantity(&measured, system),
            shown::fine_quantity(&foretold, system)
        ));
    }
}

fn clearance(bench: &Bench, draft: &mut Draft, found: &Found) -> Option<Value> {
    let seat = bench.seat;
    let (alloy, metal, journal, band) = (found.alloy?, found.metal?, found.journal?, found.band?);
    let last = found.warmth.len();
    let at20 = format!("states.{last}");
    let effective = found.fit.number(&format!("{at20}.joints.0.effective_um")).unwrap_or(0.0);
    let ratio = found.fit.number(&format!("{at20}.close_in_ratio"));
    let states: Vec<Value> = found
        .warmth
        .iter()
        .map(|warmth| json!({"name": warmth.name, "bush_C": warmth.bush_C, "housing_C": warmth.housing_C, "journal_C": warmth.journal_C}))
        .collect();
    if states.is_empty() {
        return None;
    }
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let before = seat.text("bush.finish") == Some("before");
    let close_in = found.fit.quantity(&format!("{at20}.close_in_um"));
    if !before && let Some(close_in) = close_in {
        draft.line(
            "close-in to expect when it goes in",
            shown::fine_quantity(&close_in, bench.system),
            "95 %; measure the bore before and after: the difference is the truth about this housing",
        );
    }
    Some(request([
        ("journal_mm", Some(super::ask::quantity(journal))),
        ("length_mm", Some(json!(found.length_mm?))),
        ("outside_mm", Some(json!(band.middle_mm()))),
        ("regime", found.duty.text("regime").map(|regime| json!(regime))),
        ("lubrication", Some(json!(seat.text("duty.lubrication").unwrap_or("grease")))),
        ("motion", Some(json!(seat.text("duty.motion")?))),
        ("speed_m_s", found.duty.number("speed_m_s").map(|x| json!(x))),
        ("dirt", seat.text("duty.dirt").map(|word| json!(word))),
        ("alloy", Some(json!(alloy.id))),
        ("alpha_bush_per_K", Some(json!(alloy.alpha_per_K))),
        ("alpha_housing_per_K", Some(json!(metal.alpha_per_K))),
        ("alpha_journal_per_K", Some(json!(found.journal_metal.map_or(11.5e-6, |metal| metal.alpha_per_K)))),
        ("interference_um", Some(json!(effective))),
        ("close_in_ratio", ratio.map(|ratio| json!(ratio))),
        ("states", Some(Value::Array(states))),
        ("tolerance_um", number("bore.tolerance")),
        ("least_um", number("bore.least_clearance")),
        ("Rz_bush_um", Some(json!(seat.number("bush.bore_Rz").unwrap_or(3.0)))),
        ("Rz_journal_um", Some(json!(seat.number("journal.Rz").unwrap_or(2.0)))),
        ("tilt_mrad", number("bore.tilt")),
        ("bore_u_um", Some(json!(5.0))),
        ("finish", Some(json!(if before { "before" } else { "after" }))),
        ("close_in_um", close_in.filter(|_| before).map(super::ask::quantity)),
    ]))
}

fn tell(bench: &Bench, draft: &mut Draft, found: &Found, said: &Said) {
    let system = bench.system;
    if let Some(mean) = said.number("clearance_mean_um") {
        let permille =
            said.number("relative_permille").map(|x| format!("{} ‰ of the journal", calc::units::shown_plain(x, 2))).unwrap_or_default();
        draft.line("running clearance, middle", shown::fine(mean, system), permille);
    }
    if let Some(worst) = said.text("worst_state") {
        draft.line(
            "tightest in",
            worst.to_owned(),
            said.text("governed_by").map(|by| format!("the least is set by {}", governor(by))).unwrap_or_default(),
        );
    }
    if let Some(chance) = said.number("chance") {
        draft.line("chance to land in the band", shown::chance(chance, u64::MAX), "aimed at the middle, u 5 µm");
    }
    let rows = said.list("states").into_iter().map(|state| {
        let fine = |path: &str| state.number(path).map(|um| shown::fine(um, system)).unwrap_or_default();
        vec![
            state.text("name").unwrap_or_default().to_owned(),
            fine("loss_um"),
            fine("clearance_low_um"),
            if state.flag("open") { "the bush is loose there" } else { "" }.into(),
        ]
    });
    draft.grid("What is left of the clearance", &["state", "lost>", "left at the low limit>", ""], rows.collect());
    let rows = said.list("rules").into_iter().map(|rule| {
        let range = rule.number("low_um").zip(rule.number("high_um")).map(|(low, high)| range(low, high, system)).unwrap_or_default();
        vec![
            named(rule.text("rule").unwrap_or_default()).to_owned(),
            range,
            if rule.flag("inside") { "meets ours" } else { "does not meet ours" }.into(),
        ]
    });
    draft.grid("Rules of the trade beside it", &["rule", "clearance>", ""], rows.collect());
    let reasons = said.texts("reasons");
    if !reasons.is_empty() {
        draft.line("why", reasons.join(" "), "");
    }
    if let Some(fitted) = found.fitted_bore {
        draft.line("bore as it is now", shown::size(&fitted.size, system), "measured after fitting");
    }
    draft.source("running clearance: ISO 12129-1 steps (recalled), Vogelpohl school (memory), rules of the trade (common practice)");
    draft.caution("Never oil, feel or gauge a turning journal. Prove the bearing by running it in: rising load and speed, temperature read. A hot bearing is stopped slowly and not opened while hot (oil mist can ignite). The machine builder's clearance, codes and licensed engineers come first.");
}

/// A range, or the figure where both ends are one.
fn range(low_um: f64, high_um: f64, system: calc::units::System) -> String {
    if low_um == high_um { shown::fine(low_um, system) } else { shown::fines(low_um, high_um, system) }
}

fn governor(by: &str) -> &str {
    match by {
        "regime" => "motion and lubricant",
        "film" => "the oil film",
        other => other,
    }
}

/// The request about the groove; none where none is wanted, or where band, journal or length are still open.
pub(super) fn groove_request(bench: &Bench, found: &Found) -> Option<Value> {
    let seat = bench.seat;
    let shape = seat.text("groove.shape")?;
    let (band, journal, length) = (found.band?, found.journal?, found.length_mm?);
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let ring = shape == "ring";
    let of_ring = |path: &str| number(path).filter(|_| ring);
    Some(request([
        ("shape", Some(json!(shape))),
        ("bore_mm", Some(json!(journal.value))),
        ("length_mm", Some(json!(length))),
        ("wall_mm", Some(json!(calc::band::wall_mm(band.middle_mm(), journal.value)))),
        (
            "lubrication",
            Some(json!(match seat.text("duty.lubrication") {
                Some("oil") => "oil",
                _ => "grease",
            })),
        ),
        ("depth_mm", number("groove.depth")),
        ("width_mm", number("groove.width")),
        ("count", number("groove.count").filter(|_| !ring)),
        ("turns", number("groove.turns").filter(|_| shape == "spiral")),
        ("load_angle_deg", number("groove.load_angle")),
        ("load_kN", number("duty.load")),
        ("position_mm", of_ring("groove.position")),
        ("old_length_mm", of_ring("groove.old_length")),
        ("old_position_mm", of_ring("groove.old_position")),
        ("old_position_from", seat.text("groove.old_position_from").filter(|_| ring).map(|word| json!(word))),
    ]))
}

fn groove(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let Some(asked) = groove_request(bench, found) else { return };
    let Some(said) = draft.ask("groove", "groove", asked) else { return };
    let system = bench.system;
    if let (Some(position), Some(width), Some(depth)) = (said.number("position_mm"), said.number("width_mm"), said.number("depth_mm")) {
        found.groove = Some((position, width, depth));
    }
    for (path, label) in [
        ("position_mm", "groove: middle from the datum end"),
        ("position_from_other_end_mm", "groove: middle from the other end"),
        ("off_middle_mm", "groove: off the middle of the bush by"),
        ("depth_mm", "groove: depth"),
        ("width_mm", "groove: width"),
        ("wall_left_mm", "groove: wall left under it"),
        ("pitch_mm", "groove: pitch"),
    ] {
        if let Some(mm) = said.number(path) {
            draft.line(label, shown::length(mm, 2, system), "");
        }
    }
    let starts = said.at("starts_deg").and_then(Value::as_array).map(|starts| {
        starts
            .iter()
            .filter_map(Value::as_f64)
            .map(|angle| format!("{}°", calc::units::shown_plain(angle, 0)))
            .collect::<Vec<_>>()
            .join(", ")
    });
    if let Some(starts) = starts.filter(|starts| !starts.is_empty()) {
        draft.line("groove: starts at", starts, "from the datum mark, opposite the load");
    }
    draft.line(
        "groove: before cutting",
        "mark the datum end on the bush and hold it against the hole",
        "the second of a pair may be handed",
    );
    draft.source("groove: depth, width and place by common practice");
}
