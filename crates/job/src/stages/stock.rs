//! Stock: which blank to buy, what it leaves as swarf, the route and the price to quote.

use calc::shown;
use serde_json::{Map, Value, json};

use super::ask::{Said, request};
use super::draft::Draft;
use super::found::Found;
use super::{Bench, note_staleness};
use crate::show;
use crate::state::Seat;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    let blanks = blanks(bench);
    if blanks.is_empty() {
        draft.need("no blank to choose from: name one with its kind, outside, bore, length and price ([stock.NAME] in a file)");
        return;
    }
    let batch = batch(bench, found);
    let (Some(alloy), Some(finished)) = (found.alloy, finished(bench, found)) else {
        draft.need("the finished sizes: alloy and band come first");
        return;
    };
    let seat = bench.seat;
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let count = batch.len();
    let cutting = seat.number("cutting.speed").map(|speed| {
        json!({"speed_m_min": speed, "feed_mm_rev": seat.number("cutting.feed").unwrap_or(0.2), "depth_mm": seat.number("cutting.depth").unwrap_or(2.0)})
    });
    let Some(said) = draft.ask(
        "stock",
        "stock",
        request([
            ("alloy", Some(json!(alloy.id))),
            ("finished", Some(finished)),
            ("count", Some(json!(count))),
            ("lengths_mm", batch.iter().any(|length| Some(length) != batch.first()).then(|| json!(batch))),
            ("blanks", Some(Value::Array(blanks))),
            ("swarf_price_per_kg", number("shop.swarf_price")),
            ("cutting", cutting),
            ("work", work(bench)),
            ("scrap_chance", number("shop.scrap_chance")),
            ("margin_share", number("shop.margin")),
        ]),
    ) else {
        return;
    };
    let best = said.number("best").and_then(|best| said.number(&format!("options.{}.net_cost", best as usize)));
    found.blank_price = best.map(|net_cost| calc::turn::start::per_piece(net_cost, u32::try_from(count).unwrap_or(1)));
    tell(bench, draft, &said, alloy.id, count);
}

/// Sizes by which bushes of one brief are other parts all the same.
const SIZES: [&str; 3] = ["bush.flange_outside", "bush.flange_thickness", "bush.bore_left"];

/// Lengths of the bushes of this brief that differ in nothing else, mm: the batch that is bought and made together.
fn batch(bench: &Bench, found: &Found) -> Vec<f64> {
    let sizes = |seat: &Seat| SIZES.map(|path| seat.number(path));
    let is_of_batch = |seat: &&Seat| seat.brief == bench.seat.brief && sizes(seat) == sizes(bench.seat);
    let lengths = match &bench.seat.brief {
        Some(_) => bench.state.seats.iter().filter(is_of_batch).filter_map(|seat| seat.number("bush.length")).collect(),
        None => Vec::new(),
    };
    if lengths.is_empty() { found.length_mm.into_iter().collect() } else { lengths }
}

fn blanks(bench: &Bench) -> Vec<Value> {
    let seat = bench.seat;
    let blank = |name: &str| {
        let fact = |what: &str| seat.number(&format!("stock.{name}.{what}")).map(|x| json!(x));
        let price = seat.quantity(&format!("stock.{name}.price")).map(super::ask::quantity);
        Some(request([
            ("kind", Some(json!(seat.text(&format!("stock.{name}.kind"))?))),
            ("outside_mm", Some(fact("outside")?)),
            ("bore_mm", fact("bore")),
            ("length_mm", fact("length")),
            ("price_per_kg", price),
        ]))
    };
    seat.names("stock").into_iter().filter_map(blank).collect()
}

fn finished(bench: &Bench, found: &Found) -> Option<Value> {
    let seat = bench.seat;
    let mut finished = Map::new();
    finished.insert("outside_mm".into(), json!(found.band?.high_mm));
    finished.insert("bore_mm".into(), json!(found.journal?.value));
    finished.insert("length_mm".into(), json!(found.length_mm?));
    for (key, path) in [("flange_outside_mm", "bush.flange_outside"), ("flange_thickness_mm", "bush.flange_thickness")] {
        finished.extend(seat.number(path).map(|mm| (key.to_owned(), json!(mm))));
    }
    Some(Value::Object(finished))
}

fn work(bench: &Bench) -> Option<Value> {
    let seat = bench.seat;
    let rate = seat.number("shop.rate")?;
    let steps: Vec<Value> = seat
        .names("work")
        .into_iter()
        .filter_map(|name| seat.number(&format!("work.{name}.minutes")).map(|minutes| json!({"name": name, "minutes": minutes})))
        .collect();
    Some(json!({"setup_min": seat.number("shop.setup").unwrap_or(0.0), "rate_per_h": rate, "steps": steps}))
}

fn tell(bench: &Bench, draft: &mut Draft, said: &Said, alloy: &str, count: usize) {
    let system = bench.system;
    let money = |x: f64| calc::units::shown_plain(x, 0);
    let options = said.list("options");
    let names = bench.seat.names("stock");
    let rows = options.iter().enumerate().map(|(i, option)| {
        let figure = |path: &str, show: &dyn Fn(f64) -> String| option.number(path).map(show).unwrap_or_else(|| "-".into());
        let kg = |x: f64| shown::three(x);
        vec![
            names.get(i).map(|name| (*name).to_owned()).unwrap_or_default(),
            option.text("kind").unwrap_or_default().replace('_', " "),
            if option.flag("fits") { "fits".into() } else { format!("too small: {}", option.texts("why").join(", ")) },
            figure("bought_length_mm", &|mm| shown::length(mm, 0, system)),
            figure("mass_blank_kg", &kg),
            figure("swarf_kg", &kg),
            figure("material_yield", &|share| shown::share(share)),
            figure("net_cost", &money),
        ]
    });
    draft.grid("Blanks for the batch", &["blank", "kind", "", "bought>", "kg>", "swarf kg>", "yield>", "net cost>"], rows.collect());
    let rows = said.list("route").into_iter().map(|step| {
        vec![
            step.text("name").unwrap_or_default().to_owned(),
            step.number("minutes").map(|minutes| calc::units::shown_plain(minutes, 1)).unwrap_or_default(),
        ]
    });
    draft.grid("Route for one piece, cutting time", &["step", "minutes>"], rows.collect());
    draft.source("stock: allowances, kerf and speeds are common practice; densities from the alloy table");
    draft.caution(format!("Keep the swarf of {alloy} by itself, named: a mixed bin is paid as the worst metal in it."));
    let best = said.number("best").and_then(|best| options.get(best as usize)).filter(|option| option.flag("fits"));
    let Some(best) = best else {
        draft.need("none of the blanks is large enough: see the table for what is too small");
        return;
    };
    let name = said.number("best").and_then(|best| names.get(best as usize)).copied().unwrap_or("blank");
    if let Some(taken) = bench.seat.decided("blank") {
        note_staleness(draft, taken, Some(name));
    }
    let bought = best.number("bought_length_mm").map(|mm| shown::length(mm, 0, system)).unwrap_or_default();
    let mass = best.number("mass_blank_kg").map(shown::three).unwrap_or_default();
    let yielded = best.number("material_yield").map(shown::share).unwrap_or_default();
    let returned = best.number("swarf_returned_kg").map(shown::three).unwrap_or_default();
    let quote = said
        .quantity("quote")
        .map(|quote| format!(" Quote {} ± {} for the batch (95 %).", money(quote.value), money(shown::half_width_95(&quote))))
        .unwrap_or_default();
    draft.say(
        format!("{name}: {bought}, {mass} kg"),
        format!(
            "{bought} of {name}, {mass} kg for {}: {yielded} ends up in the bush, {returned} kg of clean {alloy} swarf goes back.{quote}",
            show::counted(count, "piece")
        ),
    );
}
