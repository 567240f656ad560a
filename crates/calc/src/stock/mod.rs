//! Which blank to buy, what becomes swarf, how long the cutting takes and what to ask for it (`stock`).
//!
//! Money has no unit here. It leaves the alloy to `alloy`, the bore's last hundredth to `turn`. No body is turned down from its flange.
//! Centrifugal rings are the soundest large blanks, continuous bar the best small ones; sand castings lose 2 to 4 mm a side [common practice].

mod request;

use serde::Serialize;
use serde_json::Value;

use crate::alloy::table::Alloy;
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Told};
use crate::math::{PI, sq};
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;
use crate::sawing::{HAIR, Sawn, alike, unlike};

/// Speed of drilling solid bar along its axis, mm/min [common practice].
const DRILL_MM_MIN: f64 = 40.0;
/// Largest drill, mm [common practice].
const DRILL_LARGEST_MM: f64 = 60.0;
/// Left on a bore by the drill and on a diameter by roughing, mm [common practice].
const DRILL_LEAVES_MM: f64 = 4.0;
const ROUGHING_LEAVES_MM: f64 = 1.0;

/// The finished bush.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finished {
    /// Outside.
    pub outside_mm: f64,
    /// Bore.
    pub bore_mm: f64,
    /// Length, flange included.
    pub length_mm: f64,
    /// Flange outside and thickness, where it has one.
    pub flange: Option<(f64, f64)>,
}

impl Finished {
    fn largest_outside(&self) -> f64 {
        self.flange.map_or(self.outside_mm, |(outside, _)| outside)
    }

    /// Volume, mm³.
    fn volume_mm3(&self) -> f64 {
        let collar = self.flange.map_or(0.0, |(outside, thickness)| (sq(outside) - sq(self.outside_mm)) * thickness);
        PI / 4.0 * ((sq(self.outside_mm) - sq(self.bore_mm)) * self.length_mm + collar)
    }
}

/// How a blank is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BlankKind {
    /// Solid bar, cut from a length.
    Bar,
    /// Hollow bar, cut from a length.
    CoredBar,
    /// A ring, bought whole.
    CastRing,
}

/// A blank on offer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blank {
    /// How it is made.
    pub kind: BlankKind,
    /// Outside.
    pub outside_mm: f64,
    /// Bore, 0 when solid.
    pub bore_mm: f64,
    /// Length of one; none (bars): as long as is wanted.
    pub length_mm: Option<f64>,
    /// Price.
    pub price_per_kg: Quantity,
}

/// Stock left for cutting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// On the outside diameter.
    pub on_outside_mm: f64,
    /// On the bore diameter.
    pub on_bore_mm: f64,
    /// On each face.
    pub on_face_mm: f64,
}

/// Cutting data of the lathe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cutting {
    /// Cutting speed.
    pub speed_m_min: f64,
    /// Feed.
    pub feed_mm_rev: f64,
    /// Depth of a roughing pass.
    pub depth_mm: f64,
}

/// Work of a person.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Once.
    pub setup_min: f64,
    /// Money an hour.
    pub rate_per_h: f64,
    /// Standard uncertainty of the time, as a share.
    pub u_share: f64,
    /// Minutes of each step, each piece.
    pub steps: Vec<(String, f64)>,
}

/// A request of `stock`.
#[derive(Clone, Debug, PartialEq)]
pub struct StockRequest {
    /// The alloy, where it is one of the table.
    pub alloy: Option<&'static Alloy>,
    /// Density.
    pub density_kg_m3: f64,
    /// The finished bush.
    pub finished: Finished,
    /// Pieces.
    pub count: u32,
    /// Lengths of the finished pieces, `count` of them, where they differ; else empty.
    pub lengths_mm: Vec<f64>,
    /// Blanks on offer.
    pub blanks: Vec<Blank>,
    /// Stock left for cutting.
    pub allowance: Allowance,
    /// Width of the saw.
    pub kerf_mm: f64,
    /// Stub that stays in the chuck.
    pub chuck_mm: f64,
    /// What swarf brings.
    pub swarf_price_per_kg: f64,
    /// Share of the swarf that is lost.
    pub swarf_loss_share: f64,
    /// Cutting data, for the route.
    pub cutting: Option<Cutting>,
    /// Work, for the quote.
    pub work: Option<Work>,
    /// Chance that a piece is scrapped.
    pub scrap_chance: f64,
    /// Margin on top.
    pub margin_share: f64,
}

/// What a blank costs; the figures are left out where it does not fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Choice {
    /// How it is made.
    pub kind: BlankKind,
    /// Whether the piece is in it.
    pub fits: bool,
    /// Which of outside, bore, length is wrong.
    pub why: Vec<&'static str>,
    /// The figures of one that fits.
    #[serde(flatten)]
    pub figures: Option<Figures>,
}

/// Mass and money of a blank that fits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// Length bought in all.
    pub bought_length_mm: f64,
    /// Pieces from one.
    pub pieces_per_blank: u32,
    /// How many to buy.
    pub blanks_needed: u32,
    /// Mass bought.
    pub mass_blank_kg: f64,
    /// Finished mass over mass bought.
    pub material_yield: f64,
    /// Bought but not in the bushes: swarf, saw dust, stubs.
    pub swarf_kg: f64,
    /// What of it goes back to the dealer.
    pub swarf_returned_kg: f64,
    /// Price of what is bought.
    pub cost: f64,
    /// What the swarf brings.
    pub swarf_return: f64,
    /// Cost less that.
    pub net_cost: f64,
}

/// A step with its minutes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RouteStep {
    /// Its name.
    pub name: &'static str,
    /// Minutes for one piece.
    pub minutes: f64,
}

/// An answer of `stock`. Null: what needs `cutting`, `work` or a blank that fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StockAnswer {
    /// Length of a sawn piece.
    pub piece_length_mm: f64,
    /// Mass of one finished bush.
    pub mass_finished_kg: f64,
    /// Index of the cheapest that fits.
    pub best: Option<usize>,
    /// The blanks, in the order given.
    pub options: Vec<Choice>,
    /// Cutting of one piece from the best blank.
    pub route: Option<Vec<RouteStep>>,
    /// Its minutes in all.
    pub cutting_minutes: Option<f64>,
    /// Work in all.
    pub minutes: Option<f64>,
    /// What it costs.
    pub work_cost: Option<f64>,
    /// What to ask.
    pub quote: Option<Figure>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// Mass, swarf and cost of each blank, the cheapest, its cutting time and a quote.
///
/// - piece = L + 2 face; bars: m pieces where m (piece + kerf) + chuck ≤ length, bought = n (piece + kerf) + blanks × chuck;
///   rings: m piece + (m − 1) kerf + chuck ≤ length, bought whole; sums of their own lengths where pieces differ ([`crate::sawing`])
/// - mass = π/4 (OD² − ID²) bought ρ; swarf = mass − n finished; returned share 1 − loss; net = mass × price − returned × swarf price
/// - quote = (net + minutes/60 × rate)/(1 − scrap)(1 + margin); u from u(price) and the share of work, JCGM 100, 5.1
///
/// Refused: no blank, a bore not under its outside, a flange that is none, a ring without a length.
/// Source: geometry; allowances, kerf and speeds are common practice.
pub fn stock(request: &StockRequest) -> Result<StockAnswer, Refused> {
    check(request)?;
    let piece = request.finished.length_mm + 2.0 * request.allowance.on_face_mm;
    let mass_of = |finished: &Finished| finished.volume_mm3() * 1e-9 * request.density_kg_m3;
    let mass_finished_kg = mass_of(&request.finished);
    let beside = 2.0 * request.allowance.on_face_mm + request.kerf_mm;
    let batch = Batch {
        one_mm: piece + request.kerf_mm,
        each_mm: request.lengths_mm.iter().map(|length_mm| length_mm + beside).collect(),
        finished_kg: match request.lengths_mm.as_slice() {
            [] => f64::from(request.count) * mass_finished_kg,
            each => each.iter().map(|length_mm| mass_of(&Finished { length_mm: *length_mm, ..request.finished })).sum(),
        },
    };
    let options: Vec<Choice> = request.blanks.iter().map(|blank| choice(request, blank, &batch)).collect();
    let best = cheapest(&options);
    let best_figures = best.and_then(|i| options.get(i)).and_then(|option| option.figures);
    let best_blank = best.and_then(|i| request.blanks.get(i));
    let route = request.cutting.as_ref().zip(best_blank).map(|(cutting, blank)| route(&request.finished, blank, piece, cutting));
    let minutes = request.work.as_ref().map(|work| minutes(work, request.count));
    let work_cost = request.work.as_ref().zip(minutes).map(|(work, minutes)| minutes / 60.0 * work.rate_per_h);
    let price = best_blank.map(|blank| blank.price_per_kg);
    let quote = match (&request.work, work_cost, best_figures, price) {
        (Some(work), Some(work_cost), Some(figures), Some(price)) => Some(quote(request, work, work_cost, &figures, price)),
        _ => None,
    };
    Ok(StockAnswer {
        piece_length_mm: piece,
        mass_finished_kg,
        best,
        cutting_minutes: route.as_ref().map(|route| route.iter().map(|step| step.minutes).sum()),
        warnings: warnings(request, best, route.is_some()),
        options,
        route,
        minutes,
        work_cost,
        quote,
    })
}

fn check(request: &StockRequest) -> Result<(), Refused> {
    let finished = &request.finished;
    let bore_over = |key: String, bore: f64, outside: f64| {
        Refused::new(key, bore, format!("a bore under the outside, {outside}"), "look at the two diameters again")
    };
    if finished.bore_mm >= finished.outside_mm {
        return Err(bore_over("finished.bore_mm".into(), finished.bore_mm, finished.outside_mm));
    }
    if let Some((outside, thickness)) = finished.flange {
        if outside <= finished.outside_mm {
            let allowed = format!("over the outside of the body, {}", finished.outside_mm);
            return Err(Refused::new("finished.flange_outside_mm", outside, allowed, "give the flange's own outside, or leave it out"));
        }
        if thickness > finished.length_mm {
            let allowed = format!("up to the length, {}, which includes the flange", finished.length_mm);
            return Err(Refused::new("finished.flange_thickness_mm", thickness, allowed, "give the whole length"));
        }
    }
    let thickness = finished.flange.map_or(0.0, |(_, thickness)| thickness);
    if let Some((i, short)) = request.lengths_mm.iter().enumerate().find(|(_, length)| **length < thickness) {
        let allowed = format!("from {thickness}, the flange's thickness, which the length includes");
        return Err(Refused::new(format!("lengths_mm.{i}"), *short, allowed, "give the whole length"));
    }
    if request.blanks.is_empty() {
        return Err(Refused::new("blanks", "none", "at least one blank", "give the blanks that are on offer"));
    }
    for (i, blank) in request.blanks.iter().enumerate() {
        if blank.bore_mm >= blank.outside_mm {
            return Err(bore_over(format!("blanks.{i}.bore_mm"), blank.bore_mm, blank.outside_mm));
        }
        if blank.kind == BlankKind::CastRing && blank.length_mm.is_none() {
            let remedy = "give the ring's length: it is bought whole";
            return Err(Refused::new(format!("blanks.{i}.length_mm"), "missing", "a number over 0", remedy));
        }
    }
    Ok(())
}

/// What the pieces take of a blank with their saw cuts, mm, and what they weigh when they are finished.
struct Batch {
    one_mm: f64,
    /// Where they differ; else empty.
    each_mm: Vec<f64>,
    finished_kg: f64,
}

fn choice(request: &StockRequest, blank: &Blank, batch: &Batch) -> Choice {
    let (finished, allowance) = (&request.finished, &request.allowance);
    let sawn = sawn(request, blank, batch);
    let mut why = Vec::new();
    if blank.outside_mm < finished.largest_outside() + allowance.on_outside_mm - HAIR {
        why.push("outside");
    }
    if blank.bore_mm > finished.bore_mm - allowance.on_bore_mm + HAIR {
        why.push("bore");
    }
    if sawn.pieces_per_blank == 0 {
        why.push("length");
    }
    let fits = why.is_empty();
    let figures = fits.then(|| figures(request, blank, sawn, batch));
    Choice { kind: blank.kind, fits, why, figures }
}

/// A bar of no given length is one blank for all pieces.
fn sawn(request: &StockRequest, blank: &Blank, batch: &Batch) -> Sawn {
    let Some(length) = blank.length_mm else { return Sawn { pieces_per_blank: request.count, blanks_needed: 1 } };
    let free = match blank.kind {
        BlankKind::Bar | BlankKind::CoredBar => length - request.chuck_mm,
        BlankKind::CastRing => length - request.chuck_mm + request.kerf_mm,
    };
    if batch.each_mm.is_empty() { alike(request.count, batch.one_mm, free) } else { unlike(&batch.each_mm, free) }
}

fn figures(request: &StockRequest, blank: &Blank, sawn: Sawn, batch: &Batch) -> Figures {
    let Sawn { pieces_per_blank, blanks_needed } = sawn;
    let all_mm = if batch.each_mm.is_empty() { f64::from(request.count) * batch.one_mm } else { batch.each_mm.iter().sum() };
    let bought_length_mm = match (blank.kind, blank.length_mm) {
        (BlankKind::CastRing, Some(length)) => f64::from(blanks_needed) * length,
        _ => all_mm + f64::from(blanks_needed) * request.chuck_mm,
    };
    let mass_blank_kg = PI / 4.0 * (sq(blank.outside_mm) - sq(blank.bore_mm)) * bought_length_mm * 1e-9 * request.density_kg_m3;
    let swarf_kg = mass_blank_kg - batch.finished_kg;
    let swarf_returned_kg = swarf_kg * (1.0 - request.swarf_loss_share);
    let cost = mass_blank_kg * blank.price_per_kg.value;
    let swarf_return = swarf_returned_kg * request.swarf_price_per_kg;
    Figures {
        bought_length_mm,
        pieces_per_blank,
        blanks_needed,
        mass_blank_kg,
        material_yield: batch.finished_kg / mass_blank_kg,
        swarf_kg,
        swarf_returned_kg,
        cost,
        swarf_return,
        net_cost: cost - swarf_return,
    }
}

/// The first of the cheapest.
fn cheapest(options: &[Choice]) -> Option<usize> {
    let priced = options.iter().enumerate().filter_map(|(i, option)| option.figures.map(|figures| (i, figures.net_cost)));
    priced.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i)
}

/// Minutes of one piece from a blank, step by step: a pass over l of diameter d takes t = π d l/(1000 v f).
fn route(finished: &Finished, blank: &Blank, piece: f64, cutting: &Cutting) -> Vec<RouteStep> {
    let pass = |d: f64, l: f64, f: f64| PI * d * l / (1000.0 * cutting.speed_m_min * f);
    let passes = |stock: f64| ((stock - ROUGHING_LEAVES_MM) / (2.0 * cutting.depth_mm) - HAIR).ceil().max(0.0);
    let (out, bore, L, OD) = (finished.largest_outside(), finished.bore_mm, finished.length_mm, blank.outside_mm);
    let feed = cutting.feed_mm_rev;
    let mut route = Vec::new();
    let mut step = |name: &'static str, minutes: f64| route.push(RouteStep { name, minutes });
    let solid = blank.bore_mm == 0.0;
    let start = if solid { DRILL_LARGEST_MM.min(bore - DRILL_LEAVES_MM).max(0.0) } else { blank.bore_mm };
    if solid {
        step("drill", piece / DRILL_MM_MIN);
    }
    step("rough outside", passes(OD - out) * pass(OD, piece, feed));
    step("rough bore", passes(bore - start) * pass(bore, piece, feed));
    step("face", 2.0 * pass(OD, (OD - start) / 2.0, feed));
    step("finish outside", 2.0 * pass(out, L, feed / 2.0));
    step("finish bore", 2.0 * pass(bore, L, feed / 2.0));
    route
}

fn minutes(work: &Work, count: u32) -> f64 {
    work.setup_min + f64::from(count) * work.steps.iter().map(|(_, minutes)| minutes).sum::<f64>()
}

/// Scrap is taken as material and work lost alike.
fn quote(request: &StockRequest, work: &Work, work_cost: f64, figures: &Figures, price: Quantity) -> Figure {
    let factor = (1.0 + request.margin_share) / (1.0 - request.scrap_chance);
    let (u_material, u_work) = (figures.mass_blank_kg * price.u, work.u_share * work_cost);
    Figure { value: factor * (figures.net_cost + work_cost), u: Some(factor * (sq(u_material) + sq(u_work)).sqrt()) }
}

fn warnings(request: &StockRequest, best: Option<usize>, has_route: bool) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Some(alloy) = request.alloy {
        let leaded = alloy.Pb_pct >= 0.5;
        if leaded || alloy.family.contains("aluminium bronze") {
            warnings.push(format!(
                "Dust and fume of {} harm: cut it wet or with extraction, no compressed air, wash before eating.{}",
                alloy.id,
                if leaded { " Lead swarf is hazardous waste in many places: follow the local rules." } else { "" }
            ));
        }
        warnings.push(format!(
            "Keep the swarf of {} ({}) in a bin of its own: leaded, tin, aluminium, brass and iron are never mixed, and a mixed bin is \
             paid as the worst.",
            alloy.id, alloy.family
        ));
    }
    if best.is_none() {
        warnings.push("No blank fits: see `why` of each.".to_owned());
    }
    if has_route && request.finished.flange.is_some() {
        warnings.push("Turning the body down from its flange is not in the route: add it to the work.".to_owned());
    }
    if request.cutting.is_some() && !has_route {
        warnings.push("Without a blank that fits there is no route.".to_owned());
    }
    if request.work.is_none() && (request.scrap_chance > 0.0 || request.margin_share > 0.0) {
        warnings.push("scrap_chance and margin_share are for a quote, and without `work` there is none.".to_owned());
    }
    warnings
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "stock",
    help: "which blank to buy, swarf, route and quote",
    request: request::KEYS,
    answer: &[
        Told { path: "piece_length_mm", help: "length of a sawn piece" },
        Told { path: "mass_finished_kg", help: "mass of one finished bush" },
        Told { path: "best", help: "index of the cheapest blank that fits; null when none does" },
        Told { path: "options", help: "each blank: fits, why not, lengths, pieces, masses, swarf, costs" },
        Told { path: "route", help: "cutting minutes of one piece from the best blank; null without `cutting`" },
        Told { path: "cutting_minutes", help: "their sum, not added to the work; null without `cutting`" },
        Told { path: "minutes", help: "work in all; null without `work`" },
        Told { path: "work_cost", help: "what the work costs; null without `work`" },
        Told { path: "quote", help: "what to ask, with its u; null without `work` or a blank that fits" },
    ],
    example: r#"{"alloy": "CC483K", "finished": {"outside_mm": 300.2, "bore_mm": 260.3, "length_mm": 240},
        "blanks": [{"kind": "cast_ring", "outside_mm": 308, "bore_mm": 250, "length_mm": 275, "price_per_kg": {"value": 17, "u": 0.8}}],
        "swarf_price_per_kg": 5.5, "scrap_chance": 0.04, "margin_share": 0.15,
        "work": {"setup_min": 45, "rate_per_h": 60, "steps": [{"name": "turn", "minutes": 95}, {"name": "seat and bore", "minutes": 80}]},
        "cutting": {"speed_m_min": 90, "feed_mm_rev": 0.3, "depth_mm": 2.5}}"#,
    run: Some(answer_stock),
};

fn answer_stock(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = request::read(given)?;
    let answer = stock(&request)?;
    show(&request, &answer, desk);
    told(&answer)
}

fn show(request: &StockRequest, answer: &StockAnswer, desk: &mut Desk) {
    let working = &mut desk.working;
    let finished = &request.finished;
    let with = [("L mm", finished.length_mm), ("face mm", request.allowance.on_face_mm)];
    working.step("length of a piece", "L + 2 face", &with, &[("piece mm", answer.piece_length_mm)], "common practice");
    let with = [("outside mm", finished.outside_mm), ("bore mm", finished.bore_mm), ("rho kg/m3", request.density_kg_m3)];
    working.step(
        "finished mass",
        "pi/4 (out^2 - bore^2) L rho, and the flange",
        &with,
        &[("mass kg", answer.mass_finished_kg)],
        "geometry",
    );
    let Some((blank, figures)) = answer.best.and_then(|i| request.blanks.get(i).zip(answer.options.get(i)?.figures)) else { return };
    let with = [("OD mm", blank.outside_mm), ("ID mm", blank.bore_mm), ("bought mm", figures.bought_length_mm)];
    working.step("mass bought", "pi/4 (OD^2 - ID^2) bought rho", &with, &[("mass kg", figures.mass_blank_kg)], "geometry");
    let with = [("mass kg", figures.mass_blank_kg), ("price", blank.price_per_kg.value), ("returned kg", figures.swarf_returned_kg)];
    working.step("net cost", "mass price - returned swarf price", &with, &[("net", figures.net_cost)], "the prices given");
    if let (Some(work_cost), Some(quote)) = (answer.work_cost, answer.quote) {
        let with = [("net", figures.net_cost), ("work", work_cost), ("scrap", request.scrap_chance), ("margin", request.margin_share)];
        working.step("quote", "(net + work)/(1 - scrap)(1 + margin)", &with, &[("quote", quote.value)], "common practice");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    const BLANK: &str = r#""blanks": [{"kind": "cored_bar", "outside_mm": 110, "bore_mm": 70, "price_per_kg": 12}]"#;

    fn asked(more: &str) -> Result<Value, Refused> {
        let finished = r#""finished": {"outside_mm": 100, "bore_mm": 80, "length_mm": 90}"#;
        answer("stock", &read(&format!("{{{finished}, {more}}}")).unwrap(), &Alone, false)
    }

    #[test]
    fn what_cannot_be_a_bush_or_a_blank_is_refused_by_key() {
        for (more, key) in [
            (format!(r#""alloy": "CC493", {BLANK}"#), "alloy"),
            (BLANK.to_owned(), "alloy"),
            (r#""alloy": "CC493K", "blanks": []"#.to_owned(), "blanks"),
            (
                r#""alloy": "CC493K", "blanks": [{"kind": "cast_ring", "outside_mm": 110, "price_per_kg": 9}]"#.to_owned(),
                "blanks.0.length_mm",
            ),
            (
                r#""alloy": "CC493K", "blanks": [{"kind": "cored_bar", "outside_mm": 110, "bore_mm": 110, "price_per_kg": 9}]"#.to_owned(),
                "blanks.0.bore_mm",
            ),
            (format!(r#""density_kg_m3": 8800, {BLANK}, "cutting": {{"feed_mm_rev": 0.2, "depth_mm": 2}}"#), "cutting.speed_m_min"),
        ] {
            assert_eq!(asked(&more).unwrap_err().key, key, "{more}");
        }
    }

    #[test]
    fn a_blank_that_is_just_large_enough_fits_and_one_too_short_does_not() {
        let exact = r#"{"kind": "cast_ring", "outside_mm": 104, "bore_mm": 76, "length_mm": 113, "price_per_kg": 9}"#;
        let short = r#"{"kind": "cast_ring", "outside_mm": 104, "bore_mm": 76, "length_mm": 112.9, "price_per_kg": 9}"#;
        let found = asked(&format!(r#""alloy": "CC493K", "blanks": [{exact}, {short}]"#)).unwrap();
        assert_eq!((&found["options"][0]["fits"], &found["options"][1]["why"]), (&true.into(), &serde_json::json!(["length"])));
        assert!(found["options"][1].get("net_cost").is_none(), "one that does not fit has no figures");
    }

    #[test]
    fn pieces_of_one_length_are_the_same_given_one_by_one() {
        let blank =
            |length: &str| format!(r#""blanks": [{{"kind": "cored_bar", "outside_mm": 110, "bore_mm": 70, {length} "price_per_kg": 12}}]"#);
        for length in ["", r#""length_mm": 320,"#, r#""length_mm": 500,"#] {
            let more = format!(r#""alloy": "CC493K", {}"#, blank(length));
            let counted = asked(&format!(r#"{more}, "count": 4"#)).unwrap();
            let listed = asked(&format!(r#"{more}, "lengths_mm": [90, 90, 90, 90]"#)).unwrap();
            for path in ["bought_length_mm", "blanks_needed", "mass_blank_kg", "swarf_kg", "net_cost"] {
                let figure = |of: &Value| of["options"][0][path].as_f64().unwrap();
                let (counted, listed) = (figure(&counted), figure(&listed));
                assert!((counted - listed).abs() < 1e-9 * counted.abs(), "{path}: {counted} {listed}");
            }
        }
    }

    #[test]
    fn the_longest_of_a_batch_has_to_come_out_of_a_blank_too() {
        let bar = r#""alloy": "CC493K", "blanks": [{"kind": "bar", "outside_mm": 110, "length_mm": 200, "price_per_kg": 12}]"#;
        let found = asked(&format!(r#"{bar}, "lengths_mm": [90, 180]"#)).unwrap();
        assert_eq!(found["options"][0]["why"], serde_json::json!(["length"]), "their mean of 135 would fit");
        let found = asked(&format!(r#"{bar}, "lengths_mm": [90, 150]"#)).unwrap();
        assert_eq!((&found["options"][0]["blanks_needed"], &found["options"][0]["bought_length_mm"]), (&2.into(), &292.0.into()));
        for (more, key) in [(r#""lengths_mm": [90, 180], "count": 3"#, "count"), (r#""lengths_mm": [90, -1]"#, "lengths_mm.1")] {
            assert_eq!(asked(&format!("{bar}, {more}")).unwrap_err().key, key);
        }
    }

    #[test]
    fn no_piece_is_shorter_than_its_flange() {
        let finished = r#""outside_mm": 100, "bore_mm": 80, "length_mm": 90, "flange_outside_mm": 105, "flange_thickness_mm": 8"#;
        let of = |lengths: &str| {
            let text = format!(r#"{{"finished": {{{finished}}}, "alloy": "CC493K", {BLANK}, "lengths_mm": {lengths}}}"#);
            answer("stock", &read(&text).unwrap(), &Alone, false)
        };
        assert_eq!(of("[90, 7]").unwrap_err().key, "lengths_mm.1");
        assert!(of("[90, 8]").is_ok());
    }

    #[test]
    fn without_a_speed_carbide_starts_at_60_and_the_machinability() {
        let cutting = |speed: &str| {
            let found = asked(&format!(r#""alloy": "CC493K", {BLANK}, "cutting": {{{speed} "feed_mm_rev": 0.2, "depth_mm": 2}}"#)).unwrap();
            found["cutting_minutes"].as_f64().unwrap()
        };
        assert_eq!(cutting(""), cutting(r#""speed_m_min": 130,"#));
    }

    #[test]
    fn swarf_is_kept_by_alloy_and_lead_is_warned_of() {
        let warnings = asked(&format!(r#""alloy": "CC495K", {BLANK}"#)).unwrap()["warnings"].to_string();
        assert!(warnings.contains("hazardous waste") && warnings.contains("bin of its own"), "{warnings}");
    }
}
