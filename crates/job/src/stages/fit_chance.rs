//! The chance that everything holds: the Monte Carlo chain over what was measured, assumed and is still to be made.

use calc::quantity::Quantity;
use calc::{doubts, shown};
use serde_json::{Map, Value, json};

use super::Bench;
use super::ask::{Said, quantity};
use super::draft::Draft;
use super::found::{Found, Measured, Warmth};

/// What the person is promised, for the chance.
pub struct Promises {
    /// Pressure that must remain, MPa.
    pub needed_pressure_MPa: f64,
    /// Hoop stress at the bush's bore that must not be passed (negative), MPa.
    pub bush_hoop_MPa: Option<f64>,
    /// Hoop tension of the housing that must not be passed, MPa.
    pub housing_hoop_MPa: Option<f64>,
    /// The state in which it holds least.
    pub loosest: Option<Warmth>,
    /// The state in which it is pressed most.
    pub tightest: Option<Warmth>,
}

/// An input of the chain as a person calls it.
pub fn input_words(input: &str) -> String {
    let words = match input {
        "gauge/T_C" | "instrument_T_C" => "the gauge's temperature",
        "gauge/alpha_per_K" | "instrument_alpha_per_K" => "the gauge's expansion",
        "housing/reading_mm" => "reading the housing bore",
        "housing/correction_mm" => "the gauge's error at the housing",
        "housing/T_C" => "the housing's temperature when it was read",
        "housing/alpha_per_K" => "the housing's expansion",
        "housing/E_GPa" => "the housing's elasticity",
        "housing/nu" => "the housing's Poisson ratio",
        "housing/Rz_um" => "the roughness of the seat",
        "housing/equivalent_outside_mm" => "the housing's outline",
        "bush/reading_mm" => "where in the band the bush lands",
        "bush/correction_mm" => "the gauge's error at the bush",
        "bush/T_C" => "the bush's temperature when it is read",
        "bush/alpha_per_K" => "the bush's expansion",
        "bush/E_GPa" => "the bush's elasticity",
        "bush/nu" => "the bush's Poisson ratio",
        "bush/Rz_um" => "the roughness of the bush",
        "bush/bore_mm" => "the bush's bore",
        "journal/diameter_mm" => "the journal's size",
        "journal/alpha_per_K" => "the journal's expansion",
        "working/bush_T_C" => "the bush's hottest temperature",
        "working/housing_T_C" => "the housing's temperature then",
        "working/journal_T_C" => "the journal's temperature then",
        "cold/bush_T_C" => "the bush's temperature where it holds least",
        "cold/housing_T_C" => "the housing's temperature then",
        "reading_mm" => "the reading",
        "correction_mm" => "the gauge's error",
        "part_T_C" => "the part's temperature",
        "part_alpha_per_K" => "the part's expansion",
        "common_T" | "common_T_u_K" => "the thermometer",
        other => return other.replace(['/', '_'], " "),
    };
    words.to_owned()
}

/// Asks for the chance and tells what decides it and what would help.
pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found, promises: &Promises) -> Option<()> {
    let asked = chain(bench, found, promises)?;
    let said = draft.ask_but("fit_chance", "fit-chance", asked, &["no draw missed it", "no draw met it", "not a straight line"])?;
    tell(bench, draft, &said);
    found.chance = said;
    Some(())
}

fn chain(bench: &Bench, found: &Found, promises: &Promises) -> Option<Value> {
    let (bore, metal, alloy, ring, band) = (found.bore?, found.metal?, found.alloy?, found.ring?, found.band?);
    let seat = bench.seat;
    let bush = bush_reading(bench, found)?;
    let mut asked = Map::new();
    asked.insert("samples".into(), json!(bench.state.draws));
    asked.insert("seed".into(), json!(bench.state.seed));
    asked.insert("gauge".into(), json!({"T_C": quantity(bore.gauge_C), "alpha_per_K": quantity(bore.gauge_alpha)}));
    asked.insert(
        "housing".into(),
        json!({
            "reading_mm": quantity(bore.reading), "correction_mm": quantity(bore.correction), "T_C": quantity(bore.part_C),
            "alpha_per_K": quantity(bore.part_alpha), "E_GPa": quantity(doubts::modulus(metal.E_GPa)), "nu": metal.nu,
            "Rz_um": quantity(doubts::roughness(seat.number("housing.Rz").unwrap_or(6.0))), "equivalent_outside_mm": quantity(ring),
        }),
    );
    asked.insert(
        "bush".into(),
        json!({
            "reading_mm": quantity(bush.reading), "correction_mm": quantity(bush.correction), "T_C": quantity(bush.part_C),
            "alpha_per_K": quantity(bush.part_alpha), "E_GPa": quantity(doubts::modulus(alloy.E_GPa)), "nu": alloy.nu,
            "Rz_um": quantity(doubts::roughness(seat.number("bush.Rz").unwrap_or(6.0))), "bore_mm": found.fit_bore_mm?,
        }),
    );
    let journal_alpha = found.journal_metal.map_or(11.5e-6, |metal| metal.alpha_per_K);
    asked.insert(
        "journal".into(),
        json!({"diameter_mm": quantity(found.journal?), "alpha_per_K": quantity(doubts::expansion(journal_alpha))}),
    );
    let stated = |T_C: f64| quantity(doubts::stated_temperature(T_C));
    let mut requirements = Vec::new();
    if let Some(tightest) = &promises.tightest {
        asked.insert("working".into(), json!({"bush_T_C": stated(tightest.bush_C), "housing_T_C": stated(tightest.housing_C), "journal_T_C": stated(tightest.journal_C)}));
        requirements.extend(promises.bush_hoop_MPa.map(|least| json!({"of": "working_hoop_bore_MPa", "min": least})));
    }
    if let Some(loosest) = &promises.loosest {
        asked.insert("cold".into(), json!({"bush_T_C": stated(loosest.bush_C), "housing_T_C": stated(loosest.housing_C)}));
        requirements.push(if promises.needed_pressure_MPa > 0.0 {
            json!({"of": "cold_pressure_MPa", "min": promises.needed_pressure_MPa})
        } else {
            json!({"of": "cold_interference_um", "min": 0.0})
        });
    }
    requirements.extend(promises.bush_hoop_MPa.map(|least| json!({"of": "hoop_bore_MPa", "min": least})));
    requirements.extend(promises.housing_hoop_MPa.map(|most| json!({"of": "housing_hoop_MPa", "max": most})));
    if requirements.is_empty() {
        requirements.push(json!({"of": "interference_um", "min": 0.0}));
    }
    asked.insert("requirements".into(), Value::Array(requirements));
    asked.insert("remedies".into(), Value::Array(remedies(bench, &bore, found.outside.is_some(), band.inward(0.001))));
    Some(Value::Object(asked))
}

/// The bush as it was measured, or as it will be: anywhere in the band, read warm.
fn bush_reading(bench: &Bench, found: &Found) -> Option<Measured> {
    if let Some(outside) = found.outside {
        return Some(outside);
    }
    let (bore, alloy, band) = (found.bore?, found.alloy?, found.band?);
    let room_C = bench.seat.number("shop.room").unwrap_or(20.0);
    let part_alpha = doubts::expansion(alloy.alpha_per_K);
    let made = band.as_quantity();
    let gauge_C = bore.gauge_C;
    let value = calc::measure::to_20::reading_from_size(made.value, part_alpha.value, room_C, bore.gauge_alpha.value, gauge_C.value);
    Some(Measured {
        size: made,
        reading: Quantity { value, ..made },
        correction: Quantity { value: 0.0, ..bore.correction },
        part_C: doubts::read_temperature(room_C),
        part_alpha,
        oval_um: None,
        taper_um: None,
        ..bore
    })
}

/// What a person could still do, and would like to know the worth of.
fn remedies(bench: &Bench, bore: &Measured, bush_is_made: bool, band: calc::band::Band) -> Vec<Value> {
    let room = bench.seat.number("shop.room").unwrap_or(20.0);
    let mut remedies = vec![
        json!({"name": "read the housing again when it is as warm as the room", "input": "housing/T_C", "value": room, "u": 0.2}),
        json!({"name": "three more surveys of the housing bore", "input": "housing/reading_mm", "u": doubts::halved(bore.reading.u)}),
        json!({"name": "measure the housing's outline", "input": "housing/equivalent_outside_mm", "u": 1.0}),
    ];
    if bore.correction.u > 0.001 {
        remedies.push(json!({"name": "set the gauge on a ring", "input": "housing/correction_mm", "u": 0.001}));
    }
    if !bush_is_made {
        let narrow = doubts::halved(band.as_quantity().u);
        remedies.push(json!({"name": "land the bush in the middle half of the band", "input": "bush/reading_mm", "u": narrow}));
    }
    remedies
}

fn tell(bench: &Bench, draft: &mut Draft, said: &Said) {
    let draws = bench.state.draws;
    let rows = said.list("requirements").into_iter().map(|row| {
        let of = row.text("of").unwrap_or_default();
        vec![promise_words(of), row.number("chance").map(|chance| shown::chance(chance, draws)).unwrap_or_default()]
    });
    draft.grid("Chance of each promise", &["promise", "chance>"], rows.collect());
    let output =
        ["cold_interference_um", "interference_um"].into_iter().find(|output| said.at(&format!("contributions.{output}")).is_some());
    if let Some(output) = output {
        let rows =
            said.list(&format!("contributions.{output}")).into_iter().take(5).map(|row| {
                vec![input_words(row.text("input").unwrap_or_default()), row.number("share").map(shown::share).unwrap_or_default()]
            });
        draft.grid("What decides it (share of the doubt of the interference where it holds least)", &["from", "share>"], rows.collect());
    }
    let all = said.number("chance_all").unwrap_or(0.0);
    let rows = said.list("remedies").into_iter().filter_map(|row| {
        let chance = row.number("chance_all")?;
        Some(vec![row.text("name").unwrap_or_default().to_owned(), shown::chance(chance, draws), shown::gain(all, chance)])
    });
    draft.grid("What each remedy would buy", &["remedy", "chance then>", "change>"], rows.collect());
    draft.source("chance: Monte Carlo of the whole chain, JCGM 101; elastic rings (Lamé); doubts that nobody measured are common practice");
}

fn promise_words(of: &str) -> String {
    match of {
        "cold_interference_um" => "does not let go where it holds least",
        "cold_pressure_MPa" => "carries its load where it holds least",
        "working_hoop_bore_MPa" => "takes no set where it is pressed most",
        "hoop_bore_MPa" => "takes no set at 20 °C",
        "housing_hoop_MPa" => "the housing is not overstressed",
        "interference_um" => "is larger than its hole at 20 °C",
        other => other,
    }
    .to_owned()
}
