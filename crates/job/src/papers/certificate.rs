//! The certificate: what was asked of each seat, what was measured, how sure that is, by whom, with what, and by which rule it was judged.
//!
//! Modelled on what ISO/IEC 17025:2017 (7.8) and ISO 14253-1 ask of a statement of conformity, both from memory. A job that is not released
//! gets a page that says so first, and the same tables.

use calc::quantity::Quantity;
use calc::shown;
use calc::units::{System, shown_plain};

use super::document::{Document, Part, table};
use super::readings::{SHORT, entry, gauges, readings, several};
use super::record::Record;
use super::results::{Measured, measured};
use crate::sheet::{JobSheet, Stage, Standing};
use crate::state::{Corrected, Signed, State};

/// The certificate of a job.
pub fn certificate(state: &State, sheet: &JobSheet, record: &Record) -> Document {
    let system = state.units.system();
    let open = open(sheet);
    let mut parts = vec![verdict(state, sheet, &open)];
    if !open.is_empty() {
        parts.push(Part::Needs(open));
    }
    let judged: Vec<Measured> = measured(state, sheet);
    parts.extend(requirements(&judged, system));
    let gauges = gauges(state, system);
    let columns = ["no.", "gauge", "due", "on the day", "correction (95 %)>", "sd of repeats>"];
    parts.extend(under("Gauges", table("", &columns, gauges.clone())));
    let columns = ["seat", "what", "readings>", "part>", "gauge>", "by no.", "who", "day", "entry"];
    parts.extend(under("Readings", table("", &columns, readings(state, &gauges, system))));
    parts.extend(table("Metal", &["seat", "alloy", "lot"], metal(state, sheet)));
    parts.extend(corrections(state));
    parts.push(Part::Heading("Record and signatures".into()));
    parts.extend(table("", &["signed by", "as", "seat", "day", "over the head", "since", "entry"], signatures(state)));
    parts.push(Part::Sign(vec!["name".into(), "as".into(), "day".into()]));
    parts.push(Part::Code {
        holds: record.code(&sheet.number),
        words: vec![
            "Head of the job's record: every entry is in its hash. An entry is named by its number and the first letters of its own. The \
             code holds the head; bushwright ledger verify --code \"what the camera read\" goes through the record and says whether it \
             ever had this head: it has not when an entry was changed, dropped or moved."
                .into(),
            record.head.clone(),
        ],
    });
    parts.push(Part::Small(vec![
        "The results are those of the parts named, as they were measured. Copy this certificate whole or not at all.".into(),
        "Modelled on ISO/IEC 17025:2017, 7.8, and ISO 14253-1 (from memory); it claims no accreditation.".into(),
    ]));
    parts.retain(|part| !matches!(part, Part::Lines(lines) if lines.is_empty()));
    Document {
        kind: "Certificate".into(),
        title: sheet.title.clone(),
        number: sheet.number.clone(),
        issuer: shop(state),
        fields: vec![
            ("customer".into(), sheet.customer.clone()),
            ("machine".into(), machines(state)),
            ("revision".into(), record.revision.clone()),
            ("seats".into(), shown_plain(state.seats.len() as f64, 0)),
        ],
        date: sheet.date.clone(),
        by: sheet.by.clone(),
        head: record.head.clone(),
        revision: record.revision.clone(),
        dense: false,
        parts,
    }
}

/// A part under its heading; neither where there is nothing.
fn under(heading: &str, part: Option<Part>) -> Vec<Part> {
    part.map(|part| vec![Part::Heading(heading.into()), part]).unwrap_or_default()
}

/// What was asked with its verdicts and the rule that they follow, and what was measured beside it.
fn requirements(judged: &[Measured], system: System) -> Vec<Part> {
    let rows = judged.iter().filter(|of| of.limits.is_some()).map(|of| requirement(of, system)).collect();
    let columns = ["seat", "requirement", "allowed, at 20 °C", "measured ± U>", "k>", "verdict", "likely>"];
    let mut parts = under("Requirements", table("", &columns, rows));
    if !judged.is_empty() {
        parts.push(Part::Words(rule()));
    }
    parts.extend(also_measured(judged, system));
    parts
}

fn shop(state: &State) -> String {
    state.seats.iter().find_map(|seat| seat.text("shop.name")).unwrap_or_default().to_owned()
}

fn machines(state: &State) -> String {
    let mut machines: Vec<&str> = state.seats.iter().filter_map(|seat| seat.text("machine")).collect();
    machines.dedup();
    machines.join("; ")
}

/// What is open, seat by seat; the same need of several seats is told once.
fn open(sheet: &JobSheet) -> Vec<String> {
    let mut open: Vec<(Vec<String>, String)> = Vec::new();
    for seat in &sheet.seats {
        let Some(release) = seat.stages.iter().find(|stage| stage.stage == Stage::Release) else { continue };
        if release.standing == Standing::Done {
            continue;
        }
        let names = std::iter::once(&seat.name).chain(&seat.also).cloned();
        for need in &release.needs {
            match open.iter_mut().find(|(_, known)| known == need) {
                Some((seats, _)) => seats.extend(names.clone()),
                None => open.push((names.clone().collect(), need.clone())),
            }
        }
    }
    open.into_iter().map(|(seats, need)| format!("{}: {need}", several(&seats))).collect()
}

fn verdict(state: &State, sheet: &JobSheet, open: &[String]) -> Part {
    let released = state.signatures.iter().rev().find(|signed| signed.role == "released");
    let added = state.signatures.iter().any(|signed| signed.role == "released" && signed.reopened);
    let word = match released {
        _ if sheet.seats.is_empty() => "Nothing is certified: the job has no seat.".to_owned(),
        Some(signed) if added => format!(
            "It was released, last by {} on {}; entries were added after a release. What stands here now is no certificate until it is signed \
             again: see what is open, and the corrections.",
            signed.who, signed.day
        ),
        _ if !open.is_empty() => "Not a certificate yet: something is open. The tables show the state of the job.".into(),
        _ => "Every requirement below is met, by the rule that stands under them.".into(),
    };
    Part::Answer(word)
}

fn requirement(of: &Measured, system: System) -> Vec<String> {
    let allowed = of.limits.map(|(low, high)| shown::lengths(low, high, 3, system)).unwrap_or_default();
    let size = |size: &Quantity| shown::size(size, system);
    vec![
        of.seat.clone(),
        of.what.clone(),
        allowed,
        of.size.as_ref().map_or_else(|| "not measured".into(), size),
        of.size.as_ref().map(|size| shown_plain(shown::coverage_95(size), 2)).unwrap_or_default(),
        of.verdict.clone(),
        of.chance.map(|chance| shown::chance(chance, u64::MAX)).unwrap_or_default(),
    ]
}

fn rule() -> Vec<String> {
    vec![
        "Decision rule: a requirement is said to be met when the true value lies within its limits with a probability of 95 % or more, by \
         the measured value and its uncertainty; not to be met when it lies beyond one of them with 95 % or more; else it cannot be told \
         with this gauge. So at most 5 in 100 that are said to be met are not (specific risk). The shop, as the maker, bears the doubt: \
         what cannot be told is not released. Source: JCGM 106:2012; ISO 14253-1 (both from memory)."
            .into(),
        "U is the expanded uncertainty U = k u for a coverage of 95 %; k is Student's, by the effective degrees of freedom of u. u takes in \
         gauge, correction, temperatures of part and gauge, both expansions and the repeats (JCGM 100:2008). Sizes hold at 20 °C (ISO 1)."
            .into(),
    ]
}

fn also_measured(judged: &[Measured], system: System) -> Vec<Part> {
    // A size that was judged stands above already.
    let above = |of: &Measured| judged.iter().any(|other| other.limits.is_some() && other.seat == of.seat && other.size == of.size);
    let new = judged.iter().filter(|of| of.limits.is_none() && (of.out_of_round_mm.is_some() || !above(of)));
    let rows = new.filter_map(|of| {
        let size = of.size.as_ref()?;
        let form = of.out_of_round_mm.as_ref().map(|form| shown::fine_quantity(&calc::units::um_quantity(*form), system));
        let k = shown_plain(shown::coverage_95(size), 2);
        Some(vec![of.seat.clone(), of.what.clone(), shown::size(size, system), k, form.unwrap_or_else(|| "not told".into())])
    });
    table("Also measured, not judged", &["seat", "what", "at 20 °C ± U>", "k>", "out of round, two points>"], rows.collect())
        .into_iter()
        .chain((!judged.is_empty()).then(|| {
            let words = "Cylindricity, coaxiality and run-out of the drawing are not told by diameters: they are not judged here. Two points \
                         don't see odd lobes.";
            Part::Small(vec![words.into()])
        }))
        .collect()
}

fn metal(state: &State, sheet: &JobSheet) -> Vec<Vec<String>> {
    let mut rows: Vec<(Vec<String>, String, String)> = Vec::new();
    for seat in &state.seats {
        let drawn = sheet.seats.iter().find(|of| of.name == seat.name || of.also.contains(&seat.name)).and_then(|of| of.drawing.as_ref());
        let alloy = drawn.map(|drawn| drawn.alloy.clone()).unwrap_or_else(|| "not chosen".into());
        let lot = seat.text("bush.lot").unwrap_or("not said").to_owned();
        match rows.iter_mut().find(|(_, known, known_lot)| *known == alloy && *known_lot == lot) {
            Some((seats, ..)) => seats.push(seat.name.clone()),
            None => rows.push((vec![seat.name.clone()], alloy, lot)),
        }
    }
    rows.into_iter()
        .map(|(seats, alloy, lot)| vec![if seats.len() > 4 { format!("{} seats", seats.len()) } else { seats.join(", ") }, alloy, lot])
        .collect()
}

/// Every correction, those after a release marked; both values stay in sight.
fn corrections(state: &State) -> Vec<Part> {
    let released = state.signatures.iter().filter(|signed| signed.role == "released");
    let released = released.filter_map(|signed| state.place_of(signed.entry)).map(|(place, _)| place).min();
    let mut rows: Vec<(Vec<String>, Vec<String>)> = Vec::new();
    for (seat, corrected) in state.seats.iter().flat_map(|seat| seat.corrections.iter().map(move |corrected| (seat, corrected))) {
        let row = correction(state, corrected, released);
        match rows.iter_mut().find(|(_, known)| *known == row) {
            Some((seats, _)) => seats.push(seat.name.clone()),
            None => rows.push((vec![seat.name.clone()], row)),
        }
    }
    let rows = rows.into_iter().map(|(seats, row)| std::iter::once(several(&seats)).chain(row).collect()).collect();
    table("Corrections", &["seat", "what", "said", "says now", "because", "who", "when", "entry"], rows).into_iter().collect()
}

fn correction(state: &State, of: &Corrected, released: Option<usize>) -> Vec<String> {
    let place = state.place_of(of.entry).map(|(place, _)| place);
    let after = released.zip(place).is_some_and(|(released, place)| place > released);
    let when = if after { format!("{}, after release", of.day) } else { of.day.clone() };
    vec![of.path.clone(), of.was.clone(), of.is.clone(), of.because.clone(), of.who.clone(), when, entry(state, of.entry)]
}

/// Signatures, each with the head that it stands for.
fn signatures(state: &State) -> Vec<Vec<String>> {
    let row = |signed: &Signed| {
        vec![
            signed.who.clone(),
            signed.role.clone(),
            signed.seat.clone().unwrap_or_else(|| "all".into()),
            signed.day.clone(),
            signed.head.get(..SHORT).unwrap_or(&signed.head).to_owned(),
            if signed.reopened { "entries were added" } else { "nothing added" }.into(),
            entry(state, signed.entry),
        ]
    };
    state.signatures.iter().map(row).collect()
}
