//! What to ask for a batch, with the chance of scrap in it, and what would make it cheaper (`quote`).
//!
//! It takes the material from `stock`, the chance that everything holds from `fit-chance`, the minutes from the shop. Money has no unit
//! here. It leaves choosing a blank to `stock`; what a customer may be told is the shop's own affair.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::distributions::normal_chance;
use crate::keys::{Given, Key, Range, Told};
use crate::math::sq;
use crate::quantity::{Figure, Quantity};
use crate::refused::Refused;

/// Half-width of 95 % of a normal quantity. Source: JCGM 100:2008 annex G.
const K_95: f64 = 1.959_963_984_540_054;
/// Share of the seats with a broken promise that come back to the shop. *Judgement*: the promises keep a safety of their own.
const COMES_BACK: f64 = 0.2;
/// Minutes to cut 1 cm² of bronze on a band saw. *Common practice*: 25 to 60 cm² a minute in bars; the slower, with the clamping.
const SAW_MIN_PER_CM2: f64 = 0.04;

/// What a batch takes.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteRequest {
    /// Seats to be made good.
    pub count: u32,
    /// Material for the batch, each seat once.
    pub material: Quantity,
    /// What its swarf brings.
    pub swarf_return: f64,
    /// Minutes at the saw.
    pub saw_min: f64,
    /// Once for the batch.
    pub setup_min: f64,
    /// Money an hour.
    pub rate_per_h: f64,
    /// Standard uncertainty of times, as a share.
    pub u_share: f64,
    /// Minutes of each step, each piece.
    pub steps: Vec<(String, f64)>,
    /// Coolant for the batch.
    pub coolant: Quantity,
    /// Chance that a turned piece lands in its band.
    pub chance_lands: f64,
    /// Chance that a fitted seat keeps every promise.
    pub chance_holds: f64,
    /// Share of those that don't that come back.
    pub comes_back_share: f64,
    /// Chance that a blank is lost by anything else.
    pub scrap_chance: f64,
    /// Margin on top.
    pub margin_share: f64,
    /// What could be otherwise.
    pub otherwise: Vec<Otherwise>,
}

/// A change that is priced beside the batch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Otherwise {
    /// What it is.
    pub name: String,
    /// Material instead.
    pub material: Option<Quantity>,
    /// Material is so many times as dear.
    pub material_factor: f64,
    /// Swarf return instead.
    pub swarf_return: Option<f64>,
    /// Chance to land instead.
    pub chance_lands: Option<f64>,
    /// Chance to hold instead.
    pub chance_holds: Option<f64>,
}

/// A step with what it costs for the batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Operation {
    /// Its name.
    pub name: String,
    /// Minutes for the batch.
    pub minutes: f64,
    /// What they cost.
    pub cost: f64,
}

/// A change with its price.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cheaper {
    /// What it is.
    pub name: String,
    /// Price then.
    pub price: f64,
    /// What it saves; negative where it is dearer.
    pub saves: f64,
}

/// An answer of `quote`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuoteAnswer {
    /// Material for the batch.
    pub material: f64,
    /// What its swarf brings.
    pub swarf_return: f64,
    /// Sawing.
    pub saw: f64,
    /// Setting up.
    pub setup: f64,
    /// The steps.
    pub operations: Vec<Operation>,
    /// Coolant.
    pub coolant: f64,
    /// All of that, every piece right the first time.
    pub before_risk: f64,
    /// Pieces that are made for one seat, on the average.
    pub pieces_per_seat: f64,
    /// What the pieces beyond the first cost.
    pub risk: f64,
    /// Cost with its risk.
    pub cost: f64,
    /// Margin.
    pub margin: f64,
    /// What to ask.
    pub price: Figure,
    /// Ends of its 95 % interval.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// The changes, the one that saves most first.
    pub cheaper: Vec<Cheaper>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// Price of a batch with its range, the chance of scrap in it.
///
/// - a piece is good with q = lands (1 − scrap) (1 − (1 − holds) comes_back); pieces for a seat: 1/q (geometric)
/// - v = what a piece costs: (material − swarf + saw + coolant)/n + Σ minutes rate; risk = n v (1/q − 1)
/// - price = (n v + setup + risk)(1 + margin)
/// - u from u(material), u(coolant), the share of all times, and the number of pieces, whose variance is n (1 − q)/q²; ends ± 1.96 u
///
/// Refused: a swarf return over the material. Source: JCGM 100:2008 5.1; the negative binomial distribution (textbook); the default of
/// `comes_back_share` is a judgement.
pub fn quote(request: &QuoteRequest) -> Result<QuoteAnswer, Refused> {
    if request.swarf_return > request.material.value {
        let allowed = format!("up to the material, {}", request.material.value);
        return Err(Refused::new("swarf_return", request.swarf_return, allowed, "look at the prices of metal and swarf again"));
    }
    let bill = Bill::of(request);
    let mut cheaper: Vec<Cheaper> = request
        .otherwise
        .iter()
        .map(|otherwise| {
            let price = Bill::of(&changed(request, otherwise)).price();
            Cheaper { name: otherwise.name.clone(), price, saves: bill.price() - price }
        })
        .collect();
    cheaper.sort_by(|a, b| b.saves.total_cmp(&a.saves));
    let u = bill.u();
    let (price, half) = (bill.price(), K_95 * u);
    Ok(QuoteAnswer {
        material: request.material.value,
        swarf_return: request.swarf_return,
        saw: bill.saw,
        setup: bill.setup,
        operations: request.steps.iter().map(|(name, minutes)| operation(request, name, *minutes)).collect(),
        coolant: request.coolant.value,
        before_risk: bill.before_risk(),
        pieces_per_seat: 1.0 / bill.good,
        risk: bill.risk(),
        cost: bill.before_risk() + bill.risk(),
        margin: price - bill.before_risk() - bill.risk(),
        price: Figure { value: price, u: Some(u) },
        low: (price - half).max(0.0),
        high: price + half,
        cheaper,
        warnings: warnings(&bill),
    })
}

/// Minutes at the saw for so many cuts through a ring or bar: its area at a usual rate.
///
/// Source: *common practice*, 25 cm² of bronze a minute with clamping.
pub fn saw_minutes(outside_mm: f64, bore_mm: f64, cuts: u32) -> f64 {
    let cm2 = crate::math::PI / 4.0 * (sq(outside_mm) - sq(bore_mm)) / 100.0;
    f64::from(cuts) * cm2 * SAW_MIN_PER_CM2
}

/// Chance that a part lands in a band of `width_um`, where the lathe is said to land within `holds_um`.
///
/// What a lathe holds is read as the width that 95 of 100 parts land in, normally spread: P = 2 Φ(1.96 width/holds) − 1.
/// Source: *common practice* for the 95 of 100.
pub fn chance_to_land(width_um: f64, holds_um: f64) -> f64 {
    2.0 * normal_chance(K_95 * width_um / holds_um) - 1.0
}

/// Standard uncertainty of what `mass_kg` costs at a price that is known to `u_per_kg`. Source: JCGM 100:2008 5.1.
pub fn cost_u(mass_kg: f64, u_per_kg: f64) -> f64 {
    mass_kg * u_per_kg
}

/// What the coolant of a batch costs, each piece with its own bath.
pub fn coolant_cost(kg_a_piece: f64, price_per_kg: f64, count: u32) -> f64 {
    kg_a_piece * price_per_kg * f64::from(count)
}

/// Times that one alloy is as dear as another. Source: cost indices of the table (judgement).
pub fn dearer_by(index: f64, than: f64) -> f64 {
    index / than
}

/// Width between two limits, µm, for [`chance_to_land`].
pub fn width_um(low_mm: f64, high_mm: f64) -> f64 {
    (high_mm - low_mm) * 1e3
}

fn operation(request: &QuoteRequest, name: &str, minutes: f64) -> Operation {
    let minutes = f64::from(request.count) * minutes;
    Operation { name: name.to_owned(), minutes, cost: minutes / 60.0 * request.rate_per_h }
}

fn changed(request: &QuoteRequest, otherwise: &Otherwise) -> QuoteRequest {
    let material = otherwise.material.unwrap_or(request.material);
    let factor = otherwise.material_factor;
    let material = Quantity { value: material.value * factor, u: material.u * factor, ..material };
    QuoteRequest {
        material,
        swarf_return: otherwise.swarf_return.unwrap_or(request.swarf_return).min(material.value),
        chance_lands: otherwise.chance_lands.unwrap_or(request.chance_lands),
        chance_holds: otherwise.chance_holds.unwrap_or(request.chance_holds),
        otherwise: Vec::new(),
        ..request.clone()
    }
}

/// Costs of the batch, each seat once, and the chance that a piece is good.
struct Bill {
    count: f64,
    material: Quantity,
    swarf: f64,
    saw: f64,
    setup: f64,
    steps: f64,
    coolant: Quantity,
    u_share: f64,
    good: f64,
    margin_share: f64,
}

impl Bill {
    fn of(request: &QuoteRequest) -> Self {
        let money = |minutes: f64| minutes / 60.0 * request.rate_per_h;
        let count = f64::from(request.count);
        let back = (1.0 - request.chance_holds) * request.comes_back_share;
        Self {
            count,
            material: request.material,
            swarf: request.swarf_return,
            saw: money(request.saw_min),
            setup: money(request.setup_min),
            steps: money(count * request.steps.iter().map(|(_, minutes)| minutes).sum::<f64>()),
            coolant: request.coolant,
            u_share: request.u_share,
            good: request.chance_lands * (1.0 - request.scrap_chance) * (1.0 - back),
            margin_share: request.margin_share,
        }
    }

    /// What all pieces cost when each is right the first time, without setting up.
    fn pieces(&self) -> f64 {
        self.material.value - self.swarf + self.saw + self.steps + self.coolant.value
    }

    fn before_risk(&self) -> f64 {
        self.pieces() + self.setup
    }

    fn risk(&self) -> f64 {
        self.pieces() * (1.0 / self.good - 1.0)
    }

    fn price(&self) -> f64 {
        (self.before_risk() + self.risk()) * (1.0 + self.margin_share)
    }

    fn u(&self) -> f64 {
        let made = 1.0 / self.good;
        let times = self.u_share * (self.setup + (self.saw + self.steps) * made);
        let number = self.pieces() / self.count * (self.count * (1.0 - self.good)).sqrt() / self.good;
        (1.0 + self.margin_share) * (sq(self.material.u * made) + sq(self.coolant.u * made) + sq(times) + sq(number)).sqrt()
    }
}

fn warnings(bill: &Bill) -> Vec<String> {
    let mut warnings = Vec::new();
    if bill.good < 0.7 {
        warnings.push("More than three pieces in ten are lost or come back at these chances: widen the band, or find what decides them, before this is quoted.".to_owned());
    }
    if bill.margin_share == 0.0 {
        warnings.push("No margin is in it: give margin_share.".to_owned());
    }
    warnings
}

const CHANCE: Range = Range::within(0.01, 1.0);
const MONEY: Range = Range::within(0.0, 1e9);
const MINUTES: Range = Range::within(0.0, 1e6);

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "quote",
    help: "what to ask for a batch, the chance of scrap in it, and what would make it cheaper",
    request: &[
        Key::whole("count", Range::within(1.0, 1e6), "seats to be made good").needed(),
        Key::quantity("material", MONEY, "material for the batch, each seat once").needed(),
        Key::number("swarf_return", MONEY, "what its swarf brings").default("0"),
        Key::number("saw_min", MINUTES, "minutes at the saw for the batch").default("0"),
        Key::number("setup_min", MINUTES, "minutes to set up, once").default("0"),
        Key::number("rate_per_h", Range::within(0.0, 1e6), "money an hour").needed(),
        Key::number("u_share", Range::within(0.0, 10.0), "standard uncertainty of times, as a share").default("0.2"),
        Key::records("steps", STEP_KEYS, "the steps, each piece").default("[]"),
        Key::quantity("coolant", MONEY, "coolant for the batch").default("0"),
        Key::number("chance_lands", CHANCE, "chance that a turned piece lands in its band").default("1"),
        Key::number("chance_holds", CHANCE, "chance that a fitted seat keeps every promise").default("1"),
        Key::number("comes_back_share", Range::within(0.0, 1.0), "share of those that don't that come back").default("0.2 (judgement)"),
        Key::number("scrap_chance", Range::within(0.0, 0.9), "chance that a blank is lost by anything else").default("0"),
        Key::number("margin_share", Range::within(0.0, 10.0), "margin on top").default("0"),
        Key::records("otherwise", OTHERWISE_KEYS, "changes that are priced beside it").default("[]"),
    ],
    answer: &[
        Told { path: "material", help: "material for the batch" },
        Told { path: "swarf_return", help: "what its swarf brings" },
        Told { path: "saw", help: "sawing" },
        Told { path: "setup", help: "setting up" },
        Told { path: "operations", help: "each step: name, minutes and cost for the batch" },
        Told { path: "coolant", help: "coolant" },
        Told { path: "before_risk", help: "all of that, every piece right the first time" },
        Told { path: "pieces_per_seat", help: "pieces that are made for one seat, on the average" },
        Told { path: "risk", help: "what the pieces beyond the first cost" },
        Told { path: "cost", help: "cost with its risk" },
        Told { path: "margin", help: "margin" },
        Told { path: "price", help: "what to ask, with its u" },
        Told { path: "low", help: "lower end of its 95 % interval" },
        Told { path: "high", help: "upper end" },
        Told { path: "cheaper", help: "each change: name, price, what it saves; the one that saves most first" },
    ],
    example: r#"{"count": 2, "material": {"value": 1045, "u": 36}, "swarf_return": 150, "saw_min": 20, "setup_min": 45, "rate_per_h": 72,
        "steps": [{"name": "turn", "minutes": 100}, {"name": "seat and bore", "minutes": 70}], "chance_lands": 0.9, "chance_holds": 0.83,
        "scrap_chance": 0.02, "margin_share": 0.15, "otherwise": [{"name": "a band as wide as the lathe holds", "chance_lands": 0.95}]}"#,
    run: Some(answer_quote),
};

const STEP_KEYS: &[Key] = &[Key::text("name", "its name").needed(), Key::number("minutes", MINUTES, "minutes a piece").needed()];
const OTHERWISE_KEYS: &[Key] = &[
    Key::text("name", "what it is").needed(),
    Key::quantity("material", MONEY, "material instead").default("the same"),
    Key::number("material_factor", Range::within(0.0, 100.0), "material is so many times as dear").default("1"),
    Key::number("swarf_return", MONEY, "swarf return instead").default("the same"),
    Key::number("chance_lands", CHANCE, "chance to land instead").default("the same"),
    Key::number("chance_holds", CHANCE, "chance to hold instead").default("the same"),
];

fn answer_quote(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let answer = quote(&request)?;
    let with = [("lands", request.chance_lands), ("holds", request.chance_holds), ("scrap", request.scrap_chance)];
    desk.working.step(
        "pieces for a seat",
        "1/(lands (1 - scrap) (1 - (1 - holds) comes_back))",
        &with,
        &[("pieces", answer.pieces_per_seat)],
        "mean of the geometric distribution",
    );
    let with = [("before risk", answer.before_risk), ("risk", answer.risk), ("margin", request.margin_share)];
    desk.working.step("price", "(before risk + risk)(1 + margin)", &with, &[("price", answer.price.value)], "common practice");
    told(&answer)
}

fn read(given: &Given) -> Result<QuoteRequest, Refused> {
    let step = |step: &Given| Ok((step.need_word("name")?.to_owned(), step.need_number("minutes")?));
    let otherwise = |given: &Given| {
        Ok(Otherwise {
            name: given.need_word("name")?.to_owned(),
            material: given.quantity("material"),
            material_factor: given.number_or("material_factor", 1.0),
            swarf_return: given.number("swarf_return"),
            chance_lands: given.number("chance_lands"),
            chance_holds: given.number("chance_holds"),
        })
    };
    Ok(QuoteRequest {
        count: given.whole_or("count", 1) as u32,
        material: given.need_quantity("material")?,
        swarf_return: given.number_or("swarf_return", 0.0),
        saw_min: given.number_or("saw_min", 0.0),
        setup_min: given.number_or("setup_min", 0.0),
        rate_per_h: given.need_number("rate_per_h")?,
        u_share: given.number_or("u_share", 0.2),
        steps: given.records("steps").iter().map(step).collect::<Result<_, Refused>>()?,
        coolant: given.quantity("coolant").unwrap_or(Quantity::exact(0.0)),
        chance_lands: given.number_or("chance_lands", 1.0),
        chance_holds: given.number_or("chance_holds", 1.0),
        comes_back_share: given.number_or("comes_back_share", COMES_BACK),
        scrap_chance: given.number_or("scrap_chance", 0.0),
        margin_share: given.number_or("margin_share", 0.0),
        otherwise: given.records("otherwise").iter().map(otherwise).collect::<Result<_, Refused>>()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, plain};
    use crate::crew::Alone;

    fn asked(more: &str) -> Value {
        let request = format!(
            r#"{{"count": 2, "material": {{"value": 1000, "u": 40}}, "swarf_return": 100, "saw_min": 30, "setup_min": 60, "rate_per_h": 60,
            "steps": [{{"name": "turn", "minutes": 90}}]{more}}}"#
        );
        answer("quote", &plain(&request).unwrap(), &Alone, false).unwrap()
    }

    fn figure(answer: &Value, path: &str) -> f64 {
        answer.pointer(path).unwrap().as_f64().unwrap()
    }

    #[test]
    fn without_risk_and_margin_the_price_is_the_bill() {
        let found = asked("");
        // By hand: 1000 - 100 + 30 + 180 + 60.
        assert_eq!((figure(&found, "/price/value"), figure(&found, "/risk")), (1170.0, 0.0));
        // By hand: sqrt(40² + (0.2 × 270)²).
        assert!((figure(&found, "/price/u") - (1600.0_f64 + 2916.0).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn every_other_piece_lost_doubles_what_the_pieces_cost_and_not_the_setting_up() {
        let found = asked(r#", "chance_lands": 0.5"#);
        assert!((figure(&found, "/price/value") - (2.0 * 1110.0 + 60.0)).abs() < 1e-9);
        assert!((figure(&found, "/pieces_per_seat") - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_seat_that_does_not_hold_comes_back_by_its_share_only() {
        let found = asked(r#", "chance_holds": 0.5, "comes_back_share": 0.2"#);
        assert!((figure(&found, "/pieces_per_seat") - 1.0 / 0.9).abs() < 1e-12);
    }

    #[test]
    fn what_would_be_cheaper_stands_first() {
        let found = asked(
            r#", "chance_lands": 0.8, "otherwise": [{"name": "nothing"}, {"name": "half the metal", "material_factor": 0.5}, {"name": "lands", "chance_lands": 1}]"#,
        );
        let names: Vec<&str> = found["cheaper"].as_array().unwrap().iter().map(|row| row["name"].as_str().unwrap()).collect();
        assert_eq!(names, ["half the metal", "lands", "nothing"]);
        assert_eq!(figure(&found, "/cheaper/2/saves"), 0.0);
    }

    #[test]
    fn a_lathe_that_holds_the_band_lands_95_of_100() {
        assert!((chance_to_land(30.0, 30.0) - 0.95).abs() < 1e-12);
        assert!(chance_to_land(20.0, 40.0) < 0.7 && chance_to_land(60.0, 30.0) > 0.99);
    }

    #[test]
    fn a_return_over_the_material_is_refused() {
        let request = r#"{"count": 1, "material": 10, "swarf_return": 11, "rate_per_h": 60}"#;
        assert_eq!(answer("quote", &plain(request).unwrap(), &Alone, false).unwrap_err().key, "swarf_return");
    }
}
