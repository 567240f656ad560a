//! Turn: the plan of the last cuts and what the micrometer will show while the part is warm.

use calc::shown;
use calc::turn::{CutPlan, plan};

use super::draft::Draft;
use super::found::Found;
use super::{Bench, lathe};
use crate::lathe::step::Surface;
use crate::sheet::Standing;

/// Equal last cuts. Source: the fixed routine of the turning method (three equal cuts land most parts).
pub(super) const CUTS: u32 = 3;
/// Part temperatures for which warm readings stand on the sheet, K over the room.
const WARMER_K: [f64; 5] = [0.0, 10.0, 20.0, 30.0, 40.0];

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let (Some(band), Some(alloy)) = (found.band, found.alloy) else {
        draft.need("the band, from Fit");
        return;
    };
    let system = bench.system;
    let room_C = bench.seat.number("shop.room").unwrap_or(20.0);
    let gauge_C = found.bore.map_or(room_C, |bore| bore.gauge_C.value);
    let gauge_alpha = found.bore.map_or(11.5e-6, |bore| bore.gauge_alpha.value);
    let asked = CutPlan {
        from_mm: calc::turn::rough_outside_mm(band, CUTS),
        low_mm: band.low_mm,
        high_mm: band.high_mm,
        cuts: CUTS,
        part_alpha_per_K: alloy.alpha_per_K,
        gauge_alpha_per_K: gauge_alpha,
        gauge_T_C: gauge_C,
        part_T_C: WARMER_K.iter().map(|over| calc::turn::warmer(room_C, *over)).collect(),
    };
    match plan(&asked) {
        Err(refused) => draft.need(refused.to_string()),
        Ok(plan) => {
            let rows = plan.cuts.iter().map(|cut| {
                vec![format!("cut {}", cut.number), shown::length(cut.depth_mm, 3, system), shown::length(cut.target_mm, 3, system)]
            });
            draft.grid("The last cuts, equal", &["cut", "off the diameter>", "size then, at 20 °C>"], rows.collect());
            let rows = plan.band.iter().map(|warm| {
                let show = |mm: f64| shown::length(mm, 3, system);
                vec![shown::temperature(warm.part_T_C, system), show(warm.low_reads_mm), show(warm.aim_reads_mm), show(warm.high_reads_mm)]
            });
            draft.grid("What the micrometer shows when the part is warm", &["part>", "band low>", "aim>", "band high>"], rows.collect());
            tell(bench, draft, found, &plan);
        }
    }
    lathe::tell(bench, draft, Surface::Outside);
}

fn tell(bench: &Bench, draft: &mut Draft, found: &Found, plan: &calc::turn::Plan) {
    let system = bench.system;
    let events = bench.seat.events.iter().filter(|event| event.what == "cut").count();
    if events > 0 {
        draft.line("cuts made", events.to_string(), "");
    }
    let depth = plan.cuts.first().map(|cut| shown::length(cut.depth_mm, 3, system)).unwrap_or_default();
    let aim = shown::length(plan.aim_mm, 3, system);
    match found.outside {
        Some(outside) if found.band.is_some_and(|band| band.is_under_outside(outside.size.value)) => {
            let size = shown::size(&outside.size, system);
            draft.say(
                format!("{size}, aim {aim}"),
                format!("{size} at 20 °C as measured: metal is still to come off; the band's middle is {aim}."),
            );
            draft.ready();
        }
        Some(outside) => {
            draft.say(
                format!("turned to {}", shown::size(&outside.size, system)),
                format!("{} at 20 °C as turned; the band's middle is {aim}.", shown::size(&outside.size, system)),
            );
        }
        None => {
            draft.say(format!("aim {aim}"), format!("{aim} at 20 °C is the aim: rough, let it cool, then {CUTS} equal cuts of {depth} off the diameter, measuring between them."));
            if draft.sheet.standing == Standing::Done && bench.seat.lathe.is_empty() {
                draft.warn("The lathe's own habits are not in this plan: after the first two equal cuts set the third by what the two really took off.");
            }
            draft.ready();
        }
    }
    draft.source("cuts: equal last depths, so that deflection and spring-back are seen before the last; warm readings: ISO 1 (20 °C)");
    draft.caution("Never oil, feel or gauge a turning part; chuck stopped before measuring; a part at 60 °C burns.");
    draft.line("check before the last cut", "the gauge on its standard", "a gauge that moved looks like a good part");
}
