//! Measure: what size the bore has at 20 °C, how sure, what form, and which reading to take again.

use calc::fit::course::Form;
use calc::measure::to_20::reading_from_size;
use calc::quantity::Quantity;
use calc::{doubts, shown};
use serde_json::{Value, json};

use super::Bench;
use super::ask::{Said, quantity, request};
use super::draft::Draft;
use super::found::{Found, Measured};
use crate::state::{Feature, Reading, ReadingSet};

/// Expansion of a gauge when nothing is said: steel. Source: ISO 1 practice; 11.5e-6 per K, as the tables of unalloyed steel.
pub(super) const GAUGE_ALPHA_PER_K: f64 = 11.5e-6;

pub fn write(bench: &Bench, draft: &mut Draft, found: &mut Found) {
    found.journal = journal(bench, draft, found);
    let Some(bore) = feature(bench, draft, found, Feature::HousingBore) else {
        draft.need("the housing bore was not measured: take its readings, station by station");
        return;
    };
    let words = shown::size(&bore.size, bench.system);
    let count = bench.seat.sets_of(Feature::HousingBore).flat_map(|set| &set.readings).filter(|reading| reading.dropped.is_none()).count();
    let oval = bore.oval_um.map(|oval| format!(", out-of-round {}", shown::fine(oval, bench.system))).unwrap_or_default();
    let taper =
        bore.taper_um.map(|taper| format!(", taper {} over the length", shown::fine(taper.abs(), bench.system))).unwrap_or_default();
    draft.say(format!("{words} at 20 °C"), format!("{words} at 20 °C (95 %), {count} readings{oval}{taper}."));
    for caution in CAUTIONS {
        draft.caution(caution);
    }
    draft.source("size at 20 °C: ISO 1; least squares with pooled repeatability; JCGM 100 for the uncertainty");
    found.bore = Some(bore);
}

/// Source: the method of measuring, *common practice*.
const CAUTIONS: [&str; 2] = [
    "Chuck and spindle stopped and locked before a gauge goes in; gauge and hands clear of swarf. A part at 60 °C burns.",
    "Setting rings are standards: clean, as warm as the room, within their date.",
];

/// The journal: measured, or given with its doubt.
fn journal(bench: &Bench, draft: &mut Draft, found: &Found) -> Option<Quantity> {
    let measured = feature(bench, draft, found, Feature::Journal).map(|measured| measured.size);
    let size = measured.or_else(|| bench.seat.quantity("journal.diameter"))?;
    if size.u == 0.0 {
        draft.warn("The journal was given without its doubt: write it as \"210.000 ± 0.005 mm\", or measure it here.");
    }
    if measured.is_none() {
        draft.line("journal at 20 °C", shown::size(&size, bench.system), "as given");
    }
    Some(size)
}

/// The sets that are evaluated together: those with the gauge of the newest set.
fn sets<'s>(bench: &Bench<'s>, feature: Feature) -> Vec<&'s ReadingSet> {
    let all: Vec<&ReadingSet> = bench.seat.sets_of(feature).collect();
    let Some(newest) = all.last() else { return all };
    all.iter().filter(|set| set.gauge == newest.gauge).copied().collect()
}

/// Size at 20 °C and form of one feature; none when it was not measured.
pub(super) fn feature(bench: &Bench, draft: &mut Draft, found: &Found, feature: Feature) -> Option<Measured> {
    let sets = sets(bench, feature);
    let newest = *sets.last()?;
    let readings: Vec<(&ReadingSet, &Reading)> =
        sets.iter().flat_map(|set| set.readings.iter().map(move |reading| (*set, reading))).collect();
    let used: Vec<(&ReadingSet, &Reading)> = readings.iter().filter(|(_, reading)| reading.dropped.is_none()).copied().collect();
    for (_, reading) in readings.iter().filter(|(_, reading)| reading.dropped.is_some()) {
        draft.warn(format!(
            "The reading {} is not used: {}.",
            shown::length(reading.size_mm, 3, bench.system),
            reading.dropped.as_deref().unwrap_or("no reason was given")
        ));
    }
    if used.is_empty() {
        draft.need(format!("every reading of the {} was dropped: measure it again", name(feature)));
        return None;
    }
    let gauge = Gauge::of(bench, newest);
    let part_alpha = part_expansion(found, feature, draft);
    let part_C = part_temperature(bench, &used);
    let Surveyed { mean, oval_um, taper_um, form } =
        if used.iter().all(|(_, reading)| reading.station_mm.is_some() && reading.angle_deg.is_some()) {
            survey(bench, draft, feature, &used, &gauge, part_alpha, part_C)?
        } else {
            Surveyed { mean: spot(draft, feature, &used, &gauge)?, oval_um: None, taper_um: None, form: None }
        };
    reduced(bench, draft, feature, mean, &gauge, part_alpha, part_C).map(|measured| Measured { oval_um, taper_um, form, ..measured })
}

fn name(feature: Feature) -> &'static str {
    Feature::ALL.iter().find(|(known, _)| *known == feature).map_or("part", |(_, name)| name)
}

/// The gauge of a set, with what is taken where nothing was said.
struct Gauge {
    resolution_mm: f64,
    repeatability_mm: f64,
    repeats: f64,
    correction: Quantity,
    temperature: Quantity,
    alpha: Quantity,
    thermometer_u_K: f64,
    contacts: String,
}

impl Gauge {
    fn of(bench: &Bench, set: &ReadingSet) -> Self {
        let name = set.gauge.as_deref().unwrap_or_default();
        let fact = |what: &str| bench.seat.quantity(&format!("gauge.{name}.{what}"));
        let thermometer_u_K = fact("thermometer").map_or(0.5, |quantity| quantity.value);
        let room = bench.seat.quantity("shop.room").unwrap_or(Quantity::exact(20.0));
        let mut temperature = set.gauge_C.or_else(|| fact("temperature")).unwrap_or(room);
        if temperature.u == 0.0 {
            temperature.u = thermometer_u_K;
        }
        let alpha = fact("expansion").map_or(GAUGE_ALPHA_PER_K, |quantity| quantity.value);
        Self {
            resolution_mm: fact("resolution").map_or(0.001, |quantity| quantity.value),
            repeatability_mm: fact("repeatability").map_or(0.003, |quantity| quantity.value),
            repeats: fact("repeats").map_or(20.0, |quantity| quantity.value),
            correction: fact("correction").unwrap_or(Quantity::exact(0.0)),
            temperature,
            alpha: doubts::expansion(alpha),
            thermometer_u_K,
            contacts: bench.seat.text(&format!("gauge.{name}.contacts")).unwrap_or("two").to_owned(),
        }
    }
}

fn part_expansion(found: &Found, feature: Feature, draft: &mut Draft) -> Quantity {
    let table = match feature {
        Feature::HousingBore => found.metal.map(|metal| metal.alpha_per_K),
        Feature::Journal => found.journal_metal.map(|metal| metal.alpha_per_K),
        _ => found.alloy.map(|alloy| alloy.alpha_per_K),
    };
    if table.is_none() {
        draft.warn(format!(
            "The metal of the {} is not known: reduced to 20 °C as {}.",
            name(feature),
            if matches!(feature, Feature::HousingBore | Feature::Journal) { "steel" } else { "bronze" }
        ));
    }
    let otherwise = if matches!(feature, Feature::HousingBore | Feature::Journal) { GAUGE_ALPHA_PER_K } else { 18e-6 };
    doubts::expansion(table.unwrap_or(otherwise))
}

/// The part's temperature for the whole set: given for it, or read with the readings, or that of the room.
fn part_temperature(bench: &Bench, used: &[(&ReadingSet, &Reading)]) -> Quantity {
    let newest = used.last().map(|(set, reading)| (set.part_C, reading.part_C));
    let room = bench.seat.quantity("shop.room").unwrap_or(Quantity::exact(20.0));
    let temperature = match newest {
        Some((Some(set), _)) => set,
        Some((None, Some(reading))) => Quantity::exact(reading),
        _ => room,
    };
    if temperature.u == 0.0 { doubts::read_temperature(temperature.value) } else { temperature }
}

/// Mean size at 20 °C without the certificate's correction, and the form where it could be told.
struct Surveyed {
    mean: Quantity,
    oval_um: Option<f64>,
    taper_um: Option<f64>,
    form: Option<Form>,
}

fn survey(
    bench: &Bench,
    draft: &mut Draft,
    feature: Feature,
    used: &[(&ReadingSet, &Reading)],
    gauge: &Gauge,
    alpha: Quantity,
    part_C: Quantity,
) -> Option<Surveyed> {
    let rows: Vec<Value> = used
        .iter()
        .map(|(set, reading)| {
            let part_C = reading.part_C.or(set.part_C.map(|part| part.value)).unwrap_or(part_C.value);
            json!({"z_mm": reading.station_mm, "angle_deg": reading.angle_deg, "reading_mm": reading.size_mm, "part_T_C": part_C})
        })
        .collect();
    let nominal = bench.seat.number("housing.nominal").filter(|_| feature == Feature::HousingBore);
    let asked = request([
        ("nominal_mm", nominal.or_else(|| used.first().map(|(_, reading)| reading.size_mm)).map(|mm| json!(mm))),
        ("readings", Some(Value::Array(rows))),
        ("resolution_mm", Some(json!(gauge.resolution_mm))),
        ("prior_repeatability_mm", Some(json!(gauge.repeatability_mm))),
        ("prior_dof", Some(json!(gauge.repeats))),
        ("part_alpha_per_K", Some(json!(alpha.value))),
        ("instrument_alpha_per_K", Some(json!(gauge.alpha.value))),
        ("instrument_T_C", Some(json!(gauge.temperature.value))),
        ("contacts", Some(json!(gauge.contacts))),
    ]);
    let said = draft.ask_but(&format!("{}_survey", name(feature).replace(' ', "_")), "survey", asked, &["told by to-20"])?;
    tell_survey(bench, draft, feature, &said);
    let um = |path: &str| said.number(path).map(calc::units::um_from_mm);
    let stations = || used.iter().filter_map(|(_, reading)| reading.station_mm);
    let (from_mm, to_mm) = (stations().fold(f64::INFINITY, f64::min), stations().fold(f64::NEG_INFINITY, f64::max));
    let taper_um = um("taper_mm");
    let form =
        taper_um.filter(|_| from_mm < to_mm).map(|taper_um| Form { from_mm, to_mm, taper_um, barrel_um: um("barrel_mm").unwrap_or(0.0) });
    Some(Surveyed { mean: said.quantity("mean_mm")?, oval_um: um("out_of_round_mm"), taper_um, form })
}

fn tell_survey(bench: &Bench, draft: &mut Draft, feature: Feature, said: &Said) {
    let system = bench.system;
    let fine = |path: &str| said.quantity(path).map(|mm| shown::fine_quantity(&calc::units::um_quantity(mm), system));
    for (path, label) in
        [("taper_mm", "taper over the span"), ("centre_minus_ends_mm", "centre less ends"), ("out_of_round_mm", "out-of-round, two-lobe")]
    {
        if let Some(value) = fine(path) {
            let note = match (path, said.number("major_axis_deg")) {
                ("out_of_round_mm", Some(axis)) => format!("largest along {}°", calc::units::shown_plain(axis, 0)),
                _ => String::new(),
            };
            draft.line(format!("{}: {label}", name(feature)), value, note);
        }
    }
    if let Some(sd) = said.number("pooled_sd_mm") {
        draft.line(
            format!("{}: repeatability, pooled", name(feature)),
            shown::length(sd, 4, system),
            "of this survey and of the gauge study",
        );
    }
    for text in ["not_estimable", "odd_lobes"].iter().flat_map(|path| said.texts(path)) {
        draft.warn(text);
    }
    let again: Vec<Vec<String>> = said
        .list("again")
        .iter()
        .map(|row| {
            let figure = |path: &str| row.number(path).map(|x| calc::units::shown_plain(x, 0)).unwrap_or_default();
            let station = row.number("z_mm").map(|z| shown::length(z, 0, system)).unwrap_or_default();
            vec![station, figure("angle_deg"), row.text("why").unwrap_or_default().to_owned()]
        })
        .collect();
    draft.grid("Readings worth taking next", &["station>", "angle °>", "why"], again);
    let measure_again = said.texts("measure_again");
    if !measure_again.is_empty() {
        measure_again.into_iter().for_each(|text| draft.warn(text));
        draft.need(format!(
            "a reading of the {} is off the others: measure that place again, twice, then decide with its reason (see the warning)",
            name(feature)
        ));
    }
}

/// A few readings of one place.
fn spot(draft: &mut Draft, feature: Feature, used: &[(&ReadingSet, &Reading)], gauge: &Gauge) -> Option<Quantity> {
    if let [(_, reading)] = used {
        draft.warn(format!("The {} was read once: its doubt is the gauge's repeatability; read it three times.", name(feature)));
        return Some(Quantity { value: reading.size_mm, u: gauge.repeatability_mm, dof: Some(gauge.repeats), shape: None });
    }
    let sizes: Vec<f64> = used.iter().map(|(_, reading)| reading.size_mm).collect();
    let asked = json!({
        "readings_mm": sizes, "resolution_mm": gauge.resolution_mm, "prior_repeatability_mm": gauge.repeatability_mm, "prior_dof": gauge.repeats,
    });
    let said = draft.ask(&format!("{}_spot", name(feature).replace(' ', "_")), "spot", asked)?;
    if said.flag("measure_again") {
        for text in said.texts("say") {
            draft.need(format!("{}: {text}", name(feature)));
        }
    }
    said.quantity("mean_mm")
}

/// To 20 °C with everything that is doubtful: the gauge's correction, both temperatures, both expansions.
fn reduced(
    bench: &Bench,
    draft: &mut Draft,
    feature: Feature,
    mean: Quantity,
    gauge: &Gauge,
    alpha: Quantity,
    part_C: Quantity,
) -> Option<Measured> {
    let surveyed =
        draft.sheet.calculations.iter().any(|asked| asked.kind == "survey" && asked.name.starts_with(&name(feature).replace(' ', "_")));
    // A survey answers at 20 °C: its mean is put back to what the gauge would have shown, so that every doubt is counted once.
    let reading = if surveyed {
        let value = reading_from_size(mean.value, alpha.value, part_C.value, gauge.alpha.value, gauge.temperature.value);
        Quantity { value, ..mean }
    } else {
        mean
    };
    let one_thermometer = gauge.thermometer_u_K;
    let said = draft.ask(
        &format!("{}_to_20", name(feature).replace(' ', "_")),
        "to-20",
        request([
            ("reading_mm", Some(quantity(reading))),
            ("correction_mm", Some(quantity(gauge.correction))),
            ("part_alpha_per_K", Some(quantity(alpha))),
            ("instrument_alpha_per_K", Some(quantity(gauge.alpha))),
            ("part_T_C", Some(quantity(part_C))),
            ("instrument_T_C", Some(quantity(gauge.temperature))),
        ]),
    )?;
    let size = said.quantity("size_mm")?;
    let system = bench.system;
    let shift = said.number("shift_um").unwrap_or(0.0);
    draft.line(
        format!("{} at 20 °C", name(feature)),
        shown::size(&size, system),
        format!(
            "{} from the reading at {} (thermometer u {} K)",
            shown::fine(shift, system),
            shown::temperature(part_C.value, system),
            one_thermometer
        ),
    );
    if let Some(first) = said.list("contributions").first() {
        let share = first.number("share").map(shown::share).unwrap_or_default();
        draft.line(
            format!("{}: most of its doubt", name(feature)),
            share,
            format!("from {}", super::fit_chance::input_words(first.text("input").unwrap_or_default())),
        );
    }
    Some(Measured {
        size,
        reading,
        correction: gauge.correction,
        part_C,
        gauge_C: gauge.temperature,
        part_alpha: alpha,
        gauge_alpha: gauge.alpha,
        oval_um: None,
        taper_um: None,
        form: None,
    })
}
