//! The quote of a batch: what it takes, the risk that is in it, a price with its range, and what would make it cheaper.
//!
//! It asks `quote` with what the stages found; the chance that a part lands is that of the lathe's own width, where the shop gives one.

use calc::crew::Crew;
use calc::quote::{chance_to_land, dearer_by, saw_minutes, width_um};
use calc::units::{System, shown_plain};
use calc::{alloy, shown};
use serde_json::{Value, json};

use super::document::{Document, Part, line, table};
use super::record::Record;
use crate::sheet::{Calculation, JobSheet, SeatSheet, Stage};
use crate::stages::ask::Said;
use crate::state::{Seat, State};

/// A figure under this is shown as nothing, and left out.
const LEAST: f64 = 0.5;
/// Alloys that are priced beside the chosen one.
const MOST_ALLOYS: usize = 2;

/// The quote of the batch that a seat belongs to; none while a blank, a band or the shop's rate is missing: the job sheet says which.
pub fn quote(state: &State, sheet: &JobSheet, seat: &SeatSheet, record: &Record, crew: &dyn Crew) -> Option<Document> {
    let facts = state.seats.iter().find(|of| of.name == seat.name)?;
    let batch = Batch::of(facts, seat, state.units.system())?;
    let asked = batch.asked()?;
    let said = Said::from(calc::answer("quote", &asked, crew, false).ok()?);
    let drawn = seat.drawing.as_ref()?;
    let money = |path: &str| said.number(path).map(whole).unwrap_or_default();
    let currency = facts.text("shop.currency").map(|currency| format!(" {currency}")).unwrap_or_default();
    let (low, high) = (money("low"), money("high"));
    let mut parts =
        vec![Part::Answer(format!("{}{currency} for {} ({low} to {high}{currency}, 95 % likely).", money("price"), pieces(batch.count)))];
    parts.extend(table("What it takes", &["", "time>", "cost>"], batch.bill(&said)));
    parts.push(Part::Lines(batch.risk(&said)));
    let tells = |row: &Said| row.number("saves").is_some_and(|saves| saves.abs() >= LEAST);
    let rows = said.list("cheaper").into_iter().filter(tells).map(|row| {
        let saves = row.number("saves").unwrap_or(0.0);
        let word = if saves >= 0.0 { "less" } else { "more" };
        vec![
            row.text("name").unwrap_or_default().to_owned(),
            row.number("price").map(whole).unwrap_or_default(),
            format!("{} {word}", whole(saves.abs())),
        ]
    });
    parts.extend(table("What would change the price", &["instead", "price then>", ">"], rows.collect()));
    parts.push(Part::Needs(said.texts("warnings")));
    parts.push(Part::Words(vec![
        "The price covers the batch as the job sheet has it; what is found when the machine is opened is not in it.".into(),
        if currency.is_empty() { "Figures are in the currency of the shop's prices.".into() } else { format!("Figures are in{currency}.") },
        "Range: 95 % interval from the doubt of metal prices, of times, and of how many pieces it takes.".into(),
    ]));
    parts.push(Part::Small(vec![
        "Sources: masses, blanks and swarf from the stage Stock; saw time 25 cm² a minute, what the lathe holds read as 95 parts of 100 (common practice); share of broken promises that come back 20 % (judgement); prices and times as the shop gave them.".into(),
    ]));
    parts.retain(|part| !matches!(part, Part::Needs(list) if list.is_empty()));
    Some(Document {
        kind: "Quote".into(),
        title: sheet.title.clone(),
        number: format!("{} / {}", sheet.number, facts.brief.as_deref().unwrap_or(&seat.name)),
        issuer: drawn.shop.clone(),
        fields: vec![
            ("customer".into(), sheet.customer.clone()),
            ("for".into(), drawn.machine.clone()),
            ("alloy".into(), drawn.alloy.clone()),
            ("revision".into(), record.revision.clone()),
        ],
        date: sheet.date.clone(),
        by: sheet.by.clone(),
        head: record.head.clone(),
        revision: record.revision.clone(),
        dense: false,
        parts,
    })
}

/// Money without idle decimals: a price is known to some per cent.
fn whole(x: f64) -> String {
    shown_plain(x, 0)
}

fn pieces(count: u64) -> String {
    format!("{count} {}", if count == 1 { "bush, fitted" } else { "bushes, fitted" })
}

fn minutes(x: f64) -> String {
    format!("{} min", shown_plain(x, 0))
}

/// A batch with what the stages found about it.
struct Batch<'b> {
    seat: &'b Seat,
    sheet: &'b SeatSheet,
    count: u64,
    asked: Said,
    stock: Said,
    best: Said,
    system: System,
}

impl<'b> Batch<'b> {
    fn of(seat: &'b Seat, sheet: &'b SeatSheet, system: System) -> Option<Self> {
        let calculation = calculation(sheet, Stage::Stock, "stock")?;
        let (asked, stock) = (Said::from(calculation.request.clone()), Said::from(calculation.answer.clone()));
        let best = stock.list("options").into_iter().nth(usize::try_from(stock.count("best")?).ok()?)?;
        let count = asked.count("count").unwrap_or(1);
        Some(Self { seat, sheet, count, asked, stock, best, system })
    }

    fn blank_named(&self, index: u64) -> String {
        let names = self.seat.names("stock");
        usize::try_from(index).ok().and_then(|index| names.get(index).copied()).unwrap_or("blank").to_owned()
    }

    /// Material of an option as a request takes it: its cost, and the doubt of its price.
    fn material(&self, index: usize, option: &Said) -> Option<Value> {
        let cost = option.number("cost")?;
        let price = self.asked.quantity(&format!("blanks.{index}.price_per_kg"))?;
        let u = calc::quote::cost_u(option.number("mass_blank_kg")?, price.u);
        Some(json!({"value": cost, "u": u}))
    }

    fn lands(&self) -> Option<(f64, f64)> {
        let holds = self.seat.number("shop.lathe_holds")?;
        let choose = Said::from(calculation(self.sheet, Stage::Fit, "fit-choose")?.answer.clone());
        let width = width_um(choose.number("band.outside_low_mm")?, choose.number("band.outside_high_mm")?);
        Some((chance_to_land(width, holds).clamp(0.01, 1.0), chance_to_land(holds, holds)))
    }

    fn chance(&self) -> Option<Said> {
        calculation(self.sheet, Stage::Fit, "fit-chance").map(|of| Said::from(of.answer.clone()))
    }

    fn asked(&self) -> Option<Value> {
        let best = self.stock.count("best")?;
        let index = usize::try_from(best).ok()?;
        let work = |path: &str| self.asked.number(&format!("work.{path}"));
        let blank = |what: &str| self.asked.number(&format!("blanks.{index}.{what}"));
        let cuts = u32::try_from(self.count).ok()?;
        let mut asked = json!({
            "count": self.count,
            "material": self.material(index, &self.best)?,
            "swarf_return": self.best.number("swarf_return").unwrap_or(0.0),
            "saw_min": saw_minutes(blank("outside_mm")?, blank("bore_mm").unwrap_or(0.0), cuts),
            "setup_min": work("setup_min").unwrap_or(0.0),
            "rate_per_h": work("rate_per_h")?,
            "steps": self.asked.at("work.steps").cloned().unwrap_or(json!([])),
            "chance_lands": self.lands().map_or(1.0, |(lands, _)| lands),
            "chance_holds": self.chance().and_then(|chance| chance.number("chance_all")).unwrap_or(1.0).clamp(0.01, 1.0),
            "scrap_chance": self.seat.number("shop.scrap_chance").unwrap_or(0.0),
            "margin_share": self.seat.number("shop.margin").unwrap_or(0.0),
            "otherwise": self.otherwise(index),
        });
        if let (Some(map), Some(coolant)) = (asked.as_object_mut(), self.coolant()) {
            map.insert("coolant".into(), json!(coolant));
        }
        Some(asked)
    }

    /// Price of what the bush boils off, where the shop gives one.
    fn coolant(&self) -> Option<f64> {
        let price = self.seat.number("shop.coolant_price")?;
        let air = Said::from(calculation(self.sheet, Stage::Seat, "room-air")?.request.clone());
        Some(calc::quote::coolant_cost(air.number("coolant_total_kg")?, price, u32::try_from(self.count).ok()?))
    }

    fn otherwise(&self, best: usize) -> Vec<Value> {
        let mut changes = Vec::new();
        if let Some((now, wide)) = self.lands().filter(|(now, wide)| now < wide) {
            let name = format!("a band as wide as the lathe holds: {} land instead of {}", shown::share(wide), shown::share(now));
            changes.push(json!({"name": name, "chance_lands": wide}));
        }
        for (index, option) in self.stock.list("options").iter().enumerate() {
            if index == best || !option.flag("fits") {
                continue;
            }
            if let Some(material) = self.material(index, option) {
                let name = self.blank_named(index as u64);
                let days = self.seat.number(&format!("stock.{name}.days")).map(|days| format!(", {} days to come", whole(days)));
                let name = format!("the blank \"{name}\"{}", days.unwrap_or_default());
                changes.push(json!({"name": name, "material": material, "swarf_return": option.number("swarf_return").unwrap_or(0.0)}));
            }
        }
        changes.extend(self.alloys());
        if let Some(best) = self.chance().and_then(|chance| {
            let remedies = chance.list("remedies");
            let better = |a: &&Said, b: &&Said| a.number("chance_all").unwrap_or(0.0).total_cmp(&b.number("chance_all").unwrap_or(0.0));
            remedies.iter().max_by(better).cloned()
        }) && let (Some(name), Some(holds)) = (best.text("name"), best.number("chance_all"))
        {
            changes.push(json!({"name": format!("{name}: {} hold", shown::share(holds)), "chance_holds": holds.clamp(0.01, 1.0)}));
        }
        changes
    }

    /// Alloys of the ranking that are cheaper by the table's index.
    fn alloys(&self) -> Vec<Value> {
        let Some(chosen) = self.asked.text("alloy").and_then(|id| alloy::table::alloy(id).ok()) else { return Vec::new() };
        let Some(ranked) = calculation(self.sheet, Stage::Alloy, "alloy").map(|of| Said::from(of.answer.clone())) else {
            return Vec::new();
        };
        let others = ranked.list("ranked").into_iter().filter_map(|row| {
            let other = alloy::table::alloy(row.text("id").or_else(|| row.text("alloy"))?).ok()?;
            (other.cost_index < chosen.cost_index).then_some(other)
        });
        others
            .take(MOST_ALLOYS)
            .map(|other| {
                let name = format!("the alloy {} (cost index {} for {})", other.id, whole(other.cost_index), whole(chosen.cost_index));
                json!({"name": name, "material_factor": dearer_by(other.cost_index, chosen.cost_index)})
            })
            .collect()
    }

    fn bill(&self, said: &Said) -> Vec<Vec<String>> {
        let row = |label: String, time: String, path: &str| {
            let cost = said.number(path).filter(|cost| cost.abs() >= LEAST)?;
            Some(vec![label, time, whole(cost)])
        };
        let mass = self.best.number("mass_blank_kg").map(shown::three).unwrap_or_default();
        let back = self.best.number("swarf_returned_kg").map(shown::three).unwrap_or_default();
        let mut rows = Vec::new();
        rows.extend(row(
            format!("metal: {}, {mass} kg", self.blank_named(self.stock.count("best").unwrap_or(0))),
            String::new(),
            "material",
        ));
        rows.extend(row(format!("swarf back, {back} kg: taken off"), String::new(), "swarf_return").map(|mut row| {
            if let Some(cost) = row.get_mut(2) {
                cost.insert(0, '-');
            }
            row
        }));
        let asked = self.asked().map(Said::from).unwrap_or_default();
        rows.extend(row("saw".into(), asked.number("saw_min").map(minutes).unwrap_or_default(), "saw"));
        rows.extend(row("setting up, once".into(), asked.number("setup_min").map(minutes).unwrap_or_default(), "setup"));
        rows.extend(said.list("operations").into_iter().map(|step| {
            vec![
                step.text("name").unwrap_or_default().to_owned(),
                step.number("minutes").map(minutes).unwrap_or_default(),
                step.number("cost").map(whole).unwrap_or_default(),
            ]
        }));
        rows.extend(row("coolant".into(), String::new(), "coolant"));
        rows.extend(row("every piece right the first time".into(), String::new(), "before_risk"));
        rows.extend(row("risk: pieces beyond the first".into(), String::new(), "risk"));
        rows.extend(row("margin".into(), String::new(), "margin"));
        rows.extend(row("price".into(), String::new(), "price"));
        rows
    }

    fn risk(&self, said: &Said) -> Vec<crate::sheet::Line> {
        let mut lines = Vec::new();
        let holds = self.seat.number("shop.lathe_holds").map(|um| format!("the lathe lands within {}", shown::fine(um, self.system)));
        match self.lands() {
            Some((lands, _)) => lines.push(line("a part lands in its band", shown::chance(lands, u64::MAX), holds.unwrap_or_default())),
            None => lines.push(line("a part lands in its band", "not priced", "shop.lathe_holds is not given")),
        }
        if let Some(holds) = self.chance().and_then(|chance| chance.number("chance_all")) {
            lines.push(line(
                "everything holds",
                shown::chance(holds, u64::MAX),
                "one in five that do not is taken to come back (judgement)",
            ));
        }
        if let Some(pieces) = said.number("pieces_per_seat") {
            lines.push(line("pieces made for one seat, mean", shown_plain(pieces, 2), ""));
        }
        lines
    }
}

fn calculation<'s>(sheet: &'s SeatSheet, stage: Stage, kind: &str) -> Option<&'s Calculation> {
    let stage = sheet.stages.iter().find(|of| of.stage == stage)?;
    stage.calculations.iter().find(|calculation| calculation.kind == kind)
}
