//! Fit: how much larger the bush is turned, from which temperature to which it holds, and the chance that everything holds.

use calc::band::{Band, frame};
use calc::fit::promises;
use calc::shown;
use serde_json::{Map, Value, json};

use super::ask::{Said, quantity, request};
use super::draft::Draft;
use super::drawn::to_steps;
use super::fit_chance::{self, Promises};
use super::found::{Found, Warmth};
use super::{Bench, fit_shape, lathe, measure, note_staleness, retain};
use crate::lathe::step::Surface;
use crate::state::Feature;

/// Shares of the limits that a fit may use and the safety of friction. Source: `fit-choose`, its defaults (common practice).
pub(super) const SET_USE_MAX: f64 = 0.7;
pub(super) const HOUSING_USE_MAX: f64 = 0.9;
const SAFETY: f64 = 1.5;
pub(super) const MU_LOW: f64 = 0.08;
pub(super) const MU_HIGH: f64 = 0.15;
/// 250 K over 20 °C: where `fit` says that one mean expansion is no longer good.
const FAR_C: f64 = 270.0;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    found.outside = measure::feature(bench, draft, found, Feature::BushOutside).or_else(|| lathe::measured(bench, found, Surface::Outside));
    let Some(rings) = Rings::of(bench, draft, found) else { return };
    let Some(choose) = draft.ask("fit_choose", "fit-choose", rings.choose(bench, found)) else { return };
    found.choose = choose;
    let recommended = band_of(&found.choose);
    let taken = bench.seat.decided("band");
    let decided = taken.and_then(|taken| taken.low_high_mm).map(|(low_mm, high_mm)| Band { low_mm, high_mm });
    let Some(band) = decided.or(recommended) else { return };
    found.band = Some(band);
    if let Some(taken) = taken {
        let now = recommended.map(|band| shown::lengths(band.low_mm, band.high_mm, 3, bench.system));
        note_staleness(draft, taken, now.as_deref());
        tell_departure(bench, draft, found, band);
    }
    let told = ["more than 250 K from 20"];
    let Some(fit) = draft.ask_but("fit", "fit", rings.fit(bench, found, band), &told) else { return };
    found.fit = fit;
    draft.keep("fit_map", "fit-map", rings.map(found, band));
    let promises = promised(bench, found, &rings);
    fit_chance::write(bench, draft, found, &promises);
    tell(bench, draft, found, band);
    fit_shape::write(bench, draft, found);
    retain::write(bench, draft, found, &promises);
    decide(bench, draft, found, band);
}

/// The two rings with what is taken where nothing was said.
struct Rings {
    bush_bore_mm: f64,
    yield_MPa: Option<f64>,
    housing_yield_MPa: Option<f64>,
    tension_limit_MPa: Option<f64>,
    bush_Rz_um: f64,
    housing_Rz_um: f64,
    length_mm: f64,
}

impl Rings {
    fn of(bench: &Bench, draft: &mut Draft, found: &mut Found) -> Option<Self> {
        let seat = bench.seat;
        let mut lack = |what: &str| draft.need(what.to_owned());
        if found.bore.is_none() {
            lack("the housing bore, from Measure");
        }
        if found.metal.is_none() {
            lack("housing.metal, by its id in the table of metals");
        }
        if found.ring.is_none() {
            lack("housing.outside, or housing.outside_least and housing.outside_most for an odd shape");
        }
        if found.alloy.is_none() {
            lack("an alloy, from Alloy");
        }
        if found.journal.is_none() {
            lack("journal.diameter, or readings of the journal");
        }
        if found.length_mm.is_none() {
            lack("bush.length");
        }
        let (metal, alloy, journal) = (found.metal?, found.alloy?, found.journal?);
        found.ring?;
        found.bore?;
        let left = seat.number("bush.bore_left").unwrap_or(1.0);
        let after = seat.text("bush.finish").unwrap_or("after") == "after";
        let bush_bore_mm = if after { calc::band::bore_at_fitting_mm(journal.value, left) } else { journal.value };
        found.fit_bore_mm = Some(bush_bore_mm);
        if let Some(outside) = seat.number("housing.nominal").or(found.bore.map(|bore| bore.size.value))
            && bush_bore_mm >= outside
        {
            draft.need("the journal is as large as the housing bore: no wall is left for a bush; mend the one that is wrong");
            return None;
        }
        let brittle = metal.tension_limit_MPa.is_some();
        Some(Self {
            bush_bore_mm,
            yield_MPa: seat.number("bush.yield").or(alloy.yield_MPa),
            housing_yield_MPa: seat.number("housing.yield").or(metal.yield_MPa).filter(|_| !brittle),
            tension_limit_MPa: seat.number("housing.tension_limit").or(metal.tension_limit_MPa),
            bush_Rz_um: seat.number("bush.Rz").unwrap_or(6.0),
            housing_Rz_um: seat.number("housing.Rz").unwrap_or(6.0),
            length_mm: seat
                .number("housing.length")
                .filter(|housing| found.length_mm.is_some_and(|bush| *housing < bush))
                .or(found.length_mm)?,
        })
    }

    fn states(found: &Found) -> Vec<Value> {
        found.warmth.iter().map(|warmth| json!({"name": warmth.name, "T_C": [warmth.bush_C, warmth.housing_C]})).collect()
    }

    /// Both rings as requests take them; `outside` of the bush where it is known.
    fn rings(&self, found: &Found, outside: Option<Value>) -> Option<Value> {
        let (bore, metal, alloy, ring) = (found.bore?, found.metal?, found.alloy?, found.ring?);
        let named = outside.is_some();
        let bush = request([
            ("name", named.then(|| json!("bush"))),
            ("bore_mm", Some(json!(self.bush_bore_mm))),
            ("outside_mm", outside),
            ("E_GPa", Some(json!(alloy.E_GPa))),
            ("nu", Some(json!(alloy.nu))),
            ("alpha_per_K", Some(json!(alloy.alpha_per_K))),
            ("yield_MPa", self.yield_MPa.map(|y| json!(y))),
            ("Rz_outside_um", Some(json!(self.bush_Rz_um))),
        ]);
        let bore_mm = if named { quantity(calc::quantity::Quantity { dof: None, ..bore.size }) } else { json!(bore.size.value) };
        let outside_mm = if named { quantity(ring) } else { json!(ring.value) };
        let housing = request([
            ("name", named.then(|| json!("housing"))),
            ("bore_mm", Some(bore_mm)),
            ("outside_mm", Some(outside_mm)),
            ("E_GPa", Some(json!(metal.E_GPa))),
            ("nu", Some(json!(metal.nu))),
            ("alpha_per_K", Some(json!(metal.alpha_per_K))),
            ("yield_MPa", self.housing_yield_MPa.map(|y| json!(y))),
            ("tension_limit_MPa", self.tension_limit_MPa.map(|limit| json!(limit))),
            ("Rz_bore_um", Some(json!(self.housing_Rz_um))),
        ]);
        Some(json!([bush, housing]))
    }

    fn choose(&self, bench: &Bench, found: &Found) -> Value {
        let seat = bench.seat;
        let number = |path: &str| seat.number(path).map(|x| json!(x));
        let pressing = matches!(seat.text("seating.method"), None | Some("press"));
        request([
            ("rings", self.rings(found, None)),
            ("length_mm", Some(json!(self.length_mm))),
            ("states", Some(Value::Array(Self::states(found)))),
            ("torque_Nm", number("duty.torque")),
            ("axial_kN", number("duty.axial")),
            ("mu_low", Some(json!(MU_LOW))),
            ("mu_high", Some(json!(MU_HIGH))),
            ("safety", Some(json!(SAFETY))),
            ("set_use_max", Some(json!(SET_USE_MAX))),
            ("housing_use_max", Some(json!(HOUSING_USE_MAX))),
            ("press_limit_kN", number("shop.press").filter(|_| pressing)),
            ("bore_u_um", found.bore.map(|bore| json!(calc::units::um_from_mm(bore.size.u)))),
            ("outside_u_um", number("bush.outside_u")),
            ("outside_tolerance_um", number("shop.lathe_holds")),
        ])
    }

    fn fit(&self, bench: &Bench, found: &Found, band: Band) -> Value {
        let seat = bench.seat;
        let outside = found.outside.map_or_else(|| band.as_quantity(), |outside| calc::quantity::Quantity { dof: None, ..outside.size });
        let mut states = Self::states(found);
        states.push(json!({"name": "at 20", "T_C": [20.0, 20.0]}));
        request([
            ("rings", self.rings(found, Some(quantity(outside)))),
            ("states", Some(Value::Array(states))),
            ("length_mm", Some(json!(self.length_mm))),
            ("mu_low", Some(json!(MU_LOW))),
            ("mu_high", Some(json!(MU_HIGH))),
            ("axial_kN", seat.number("duty.axial").map(|x| json!(x))),
            ("torque_Nm", seat.number("duty.torque").map(|x| json!(x))),
        ])
    }

    fn map(&self, found: &Found, band: Band) -> Value {
        let bore = found.bore.map_or(band.low_mm, |bore| bore.size.value);
        let temperatures = || found.warmth.iter().flat_map(|warmth| [warmth.bush_C, warmth.housing_C]).chain([20.0]);
        let coldest = temperatures().fold(f64::INFINITY, f64::min);
        let hottest = temperatures().fold(f64::NEG_INFINITY, f64::max);
        let (from_C, to_C) = frame(coldest, hottest, 0.3, 60.0);
        let (low, high) = band.over_um(bore);
        let (_, most) = frame(low.min(0.0), high, 0.6, 40.0);
        let rings = self.rings(found, None).and_then(|rings| {
            let mut rings = rings;
            rings.get_mut(0)?.as_object_mut()?.insert("outside_mm".into(), json!(band.middle_mm()));
            Some(rings)
        });
        let mut asked = Map::new();
        asked.extend(rings.map(|rings| ("rings".to_owned(), rings)));
        asked.insert("T_C".into(), json!({"from": from_C.max(-200.0), "to": to_C, "count": 37}));
        asked.insert("interference_um".into(), json!({"from": low.min(0.0), "to": most, "count": 37}));
        Value::Object(asked)
    }
}

fn band_of(choose: &Said) -> Option<Band> {
    Some(Band { low_mm: choose.number("band.outside_low_mm")?, high_mm: choose.number("band.outside_high_mm")? })
}

/// A decided band that leaves the bounds is the person's right, and is said.
fn tell_departure(bench: &Bench, draft: &mut Draft, found: &Found, band: Band) {
    let Some(bore) = found.bore else { return };
    let (low, high) = band.over_um(bore.size.value);
    for (path, outside, word) in [
        ("low_um", found.choose.number("low_um").is_some_and(|least| low < least), "under the least"),
        ("high_um", found.choose.number("high_um").is_some_and(|most| high > most), "over the most"),
    ] {
        if outside && let Some(bound) = found.choose.number(path) {
            draft.warn(format!(
                "The decided band ({} over the measured bore) reaches {word} that was found, {}.",
                shown::fines(low, high, bench.system),
                shown::fine(bound, bench.system)
            ));
        }
    }
}

/// What must stay true, and in which states that is hardest.
fn promised(bench: &Bench, found: &Found, rings: &Rings) -> Promises {
    let seat = bench.seat;
    let bounds = found.choose.list("bounds");
    let extreme = |bound: &str, greater: bool| {
        let of_kind = bounds.iter().filter(|row| row.text("bound") == Some(bound));
        let better = |a: &&Said, b: &&Said| {
            let key = |row: &Said| row.number("interference_um").unwrap_or(0.0);
            let order = key(a).total_cmp(&key(b));
            if greater { order } else { order.reverse() }
        };
        let name = of_kind.max_by(better).and_then(|row| row.text("state").map(str::to_owned));
        name.map(|name| {
            let known = found.warmth.iter().find(|warmth| warmth.name == name).cloned();
            known.unwrap_or(Warmth { name, bush_C: 20.0, housing_C: 20.0, journal_C: 20.0 })
        })
    };
    let diameter = found.bore.map_or(rings.bush_bore_mm, |bore| bore.size.value);
    let demand =
        promises::tangential_demand_N(seat.number("duty.axial").unwrap_or(0.0), seat.number("duty.torque").unwrap_or(0.0), diameter);
    let q = found.ring.map_or(0.5, |ring| calc::fit::lame::ratio(diameter, ring.value));
    let housing_hoop_MPa = match (rings.tension_limit_MPa, rings.housing_yield_MPa) {
        (Some(limit), _) => Some(promises::brittle_hoop_limit(HOUSING_USE_MAX, limit)),
        (None, Some(y)) => Some(promises::housing_hoop_limit(HOUSING_USE_MAX, y, q)),
        _ => None,
    };
    Promises {
        needed_pressure_MPa: promises::needed_pressure(demand, diameter, rings.length_mm, MU_LOW, SAFETY, 0.0),
        bush_hoop_MPa: rings.yield_MPa.map(|y| promises::bush_hoop_limit(SET_USE_MAX, y)),
        housing_hoop_MPa,
        loosest: extreme("hold", true),
        tightest: extreme("set", false),
    }
}

fn tell(bench: &Bench, draft: &mut Draft, found: &Found, band: Band) {
    let system = bench.system;
    let (choose, fit) = (&found.choose, &found.fit);
    let last = found.warmth.len();
    if let Some(bore) = found.bore {
        let (low, high) = band.over_um(bore.size.value);
        draft.line(
            "interference at 20 °C, free",
            shown::fines(low, high, system),
            format!("over the measured {}", shown::length(bore.size.value, 3, system)),
        );
    }
    for (edge, path) in [("least", "governed_low"), ("most", "governed_high")] {
        if let Some(bound) = choose.text(&format!("{path}.bound")) {
            let state = choose.text(&format!("{path}.state")).map(|state| format!("in the state {state}")).unwrap_or_default();
            draft.line(format!("the {edge} is set by"), bound.to_owned(), state);
        }
    }
    let at20 = format!("states.{last}");
    for (path, label, note) in [
        (format!("{at20}.pressure_MPa"), "pressure at 20 °C", "middle of the band"),
        (format!("{at20}.rings.0.hoop_bore_MPa"), "hoop stress at the bush's bore", "compression is negative"),
        (format!("{at20}.rings.1.hoop_bore_MPa"), "hoop stress at the housing's bore", ""),
    ] {
        if let Some(p) = fit.number(&path) {
            draft.line(label, shown::stress(p, system), note);
        }
    }
    if let Some(close_in) = fit.quantity(&format!("{at20}.close_in_um")) {
        draft.line("close-in of the bore", shown::fine_quantity(&close_in, system), "95 %, before the bore is finished");
    }
    if let Some(growth) = fit.number(&format!("{at20}.outside_growth_um")) {
        draft.line("growth of the housing's outside", shown::fine(growth, system), "equivalent ring");
    }
    for (path, label) in
        [("lets_go_C", "lets go at, all equally warm"), ("takes_set_C", "takes a set at"), ("housing_limit_C", "housing at its limit at")]
    {
        match fit.quantity(path) {
            // Beyond this one mean expansion is no longer good, and no seat gets there: the figure would only look exact.
            Some(T) if T.value > FAR_C => draft.line(label, format!("over {}", shown::temperature(FAR_C, system)), ""),
            Some(T) => draft.line(label, shown::temperature_quantity(&T, system), ""),
            None => {}
        }
    }
    if let Some(kN) = choose.number("press_force_high_kN") {
        draft.line("press force, at most", shown::force(kN, system), "at the band's high edge, the higher friction");
    }
    let rows = fit.list("states").into_iter().map(|state| {
        let yes = |path: &str| if state.flag(path) { "yes" } else { "no" }.to_owned();
        vec![
            state.text("name").unwrap_or_default().to_owned(),
            state.number("pressure_MPa").map(|p| shown::stress(p, system)).unwrap_or_default(),
            state.number("joints.0.effective_um").map(|um| shown::fine(um, system)).unwrap_or_default(),
            state.number("rings.0.use").map(shown::share).unwrap_or_default(),
            yes("holds"),
            if state.flag("lets_go") {
                "lets go".into()
            } else if state.flag("takes_set") {
                "takes a set".into()
            } else if state.flag("housing_over") {
                "housing over its limit".into()
            } else {
                String::new()
            },
        ]
    });
    draft.grid(
        "State by state, middle of the band",
        &["state", "pressure>", "effective interference>", "bush use>", "holds", ""],
        rows.collect(),
    );
    let rows = choose.list("classes").into_iter().map(|class| {
        let fine = |path: &str| class.number(path).map(|um| shown::fine(um, system)).unwrap_or_default();
        vec![
            class.text("class").unwrap_or_default().to_owned(),
            fine("least_um"),
            fine("mean_um"),
            fine("greatest_um"),
            if class.flag("inside") { "yes" } else { "no" }.into(),
        ]
    });
    draft.grid(
        "Standard classes at the nearest size, for comparison only",
        &["class", "least>", "mean>", "greatest>", "inside the window"],
        rows.collect(),
    );
    draft.source(
        "fit: Lamé 1852, Timoshenko; smoothing loss and friction after DIN 7190-1 (from memory); shares of the limits common practice",
    );
    draft.source("classes: ISO 286-1/-2 tables");
    if let Some(metal) = found.metal {
        draft.source(format!("{}: {}", metal.id, metal.how));
    }
}

/// The decision in one sentence, the number first.
fn decide(bench: &Bench, draft: &mut Draft, found: &mut Found, band: Band) {
    let system = bench.system;
    let inward = to_steps(band, system);
    let sizes = shown::lengths(inward.low_mm, inward.high_mm, 3, system);
    let over = found.bore.map(|bore| {
        let (low, high) = inward.over_um(bore.size.value);
        shown::fines(low, high, system)
    });
    let chance = found.chance.number("chance_all").map(|chance| shown::chance(chance, bench.state.draws));
    let holds = found.choose.flag("holds_by_friction");
    let first = found.warmth.iter().map(|warmth| warmth.bush_C.min(warmth.housing_C)).fold(20.0, f64::min);
    let last = found.warmth.iter().map(|warmth| warmth.bush_C.max(warmth.housing_C)).fold(20.0, f64::max);
    let all_hold = found.fit.list("states").iter().all(|state| state.flag("holds"));
    let held = if holds && all_hold {
        format!("it holds from {} to {}", shown::temperature(first, system), shown::temperature(last, system))
    } else if holds {
        let loose: Vec<String> = found
            .fit
            .list("states")
            .iter()
            .filter(|state| !state.flag("holds"))
            .filter_map(|state| state.text("name").map(str::to_owned))
            .collect();
        format!("it does not hold in: {}", loose.join(", "))
    } else {
        "a press fit alone does not hold".into()
    };
    let likely =
        chance
            .map(|chance| {
                if holds {
                    format!("; {chance} likely that everything holds")
                } else {
                    format!("; {chance} likely that friction alone does")
                }
            })
            .unwrap_or_default();
    let with = if found.choose.flag("retainer_needed") { ", with a retainer" } else { "" };
    let sentence = format!("Turn to {sizes} at 20 °C{with}: {held}{likely}.");
    let over = over.map(|over| format!(" Interference {over} over the measured bore.")).unwrap_or_default();
    let pinned = draft.sheet.calculations.iter().any(|asked| asked.kind == "retainer");
    let pinned =
        if pinned && holds { " Against a half-seized start friction alone is short: the retainer below goes in beside it." } else { "" };
    draft.say(format!("turn to {sizes}"), format!("{sentence}{over}{pinned}"));
    if let Some(why) = found.choose.text("why") {
        draft.line("why friction alone does not hold", why, "");
    }
    found.decision = Some(sentence);
}
