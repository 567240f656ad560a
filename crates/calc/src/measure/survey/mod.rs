//! A bore or an outside read at stations × angles: mean size, taper, barrel, out-of-round, each with its uncertainty, and which
//! reading to take again (`survey`).
//!
//! It deletes nothing: the answer is the fit with all readings, beside it the fit without the suspects. Dropping a reading is a
//! decision with a reason, and belongs to the record. Limits: the forms of [`model`]; the uncertainty is that of the readings
//! (repeatability), not of the gauge's own standard, which `uncertainty` adds.

use serde::Serialize;
use serde_json::Value;

use super::prior::{ALPHA_LEVEL, GaugePrior};
use super::qr::small_fit;
use super::to_20::{COLDEST_C, HOTTEST_C, LARGEST_ALPHA, WarmReading, size_at_20, size_from_reading};
use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, nearest};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::units::shown_plain;

pub mod again;
pub mod fit;
pub mod model;
mod words;

use again::{Again, Suspect, suspects, worth_reading};
use fit::{Fitted, Form, Measured, fit};
use model::{Contacts, Place, Span, Term};

/// One reading of a survey.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where it was taken.
    pub place: Place,
    /// As read, mm.
    pub reading_mm: f64,
    /// Temperature of the part then, °C; given for all readings or for none.
    pub part_T_C: Option<f64>,
}

/// What reduces readings with a temperature to 20 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warmth {
    /// Mean expansion of the part, per K.
    pub part_alpha_per_K: Quantity,
    /// Mean expansion of the gauge or its standard, per K.
    pub instrument_alpha_per_K: Quantity,
    /// Temperature of the gauge, °C.
    pub instrument_T_C: Quantity,
}

/// A survey.
#[derive(Clone, Debug, PartialEq)]
pub struct Survey {
    /// Nominal size, mm; only a zero to count from.
    pub nominal_mm: f64,
    /// The readings.
    pub readings: Vec<Reading>,
    /// Middle of the span, mm; none takes that of the readings.
    pub z_mid_mm: Option<f64>,
    /// Length of the span, mm; none takes that of the readings.
    pub span_mm: Option<f64>,
    /// The gauge.
    pub gauge: GaugePrior,
    /// With readings that carry a temperature.
    pub warmth: Option<Warmth>,
    /// How the gauge touches.
    pub contacts: Contacts,
    /// Terms that must be told.
    pub need: Vec<Term>,
    /// Chance of a false alarm over all readings.
    pub alpha_level: f64,
    /// How well mean and out-of-round should be known, mm.
    pub wanted_u_mm: Option<f64>,
}

/// What a survey says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SurveyAnswer {
    /// The fit with all readings.
    #[serde(flatten)]
    pub form: Form,
    /// Readings that look wrong, worst first.
    pub suspects: Vec<Suspect>,
    /// The fit without them; none when there are none.
    pub without: Option<Form>,
    /// Which lobes are not seen.
    pub odd_lobes: &'static str,
    /// Further readings worth their time, when `wanted_u_mm` is not met.
    pub again: Vec<Again>,
    /// Where to measure again and what to do then, in words.
    pub measure_again: Vec<String>,
    /// All of it in words.
    pub say: Vec<String>,
    /// What should be known before it is used.
    pub warnings: Vec<String>,
}

/// Mean, taper, barrel and out-of-round of a surveyed bore, and the readings to take again.
///
/// Readings with a temperature are reduced to 20 °C each by its own. Then least squares of the form of [`model`] over the terms that the
/// readings can tell, repeatability pooled with the gauge study ([`fit::fit`]), suspects by externally studentised residuals
/// ([`again::suspects`]). Refused: no reading, some readings with a temperature and some without, a temperature without its
/// coefficients, a needed term that can't be told. Source: least squares of any text; Cook and Weisberg 1982 (memory); ISO 1.
pub fn survey(survey: &Survey) -> Result<SurveyAnswer, Refused> {
    let (measured, mut warnings) = reduced(survey)?;
    let all = fit(&measured);
    for term in &survey.need {
        if let Some((_, why)) = all.missing.iter().find(|(missing, _)| missing == term) {
            let remedy = why.rsplit("; ").next().unwrap_or("add a reading").to_owned();
            let told = all.form.terms.iter().map(|term| term.word()).collect::<Vec<_>>().join(", ");
            return Err(Refused::new("need", term.word(), format!("terms that these readings can tell: {told}"), remedy));
        }
        if !survey.contacts.terms().contains(term) {
            let allowed = survey.contacts.terms().map(Term::word).join(", ");
            return Err(Refused::new("need", format!("{:?}", term.word()), allowed, "take it out, or read with other contacts"));
        }
    }
    let (suspects, rest) = suspects(&measured, &all);
    warnings.extend(doubts(&measured, &all, &suspects));
    let measure_again = words::measure_again(&measured, &all.form, &suspects);
    Ok(SurveyAnswer {
        say: words::say(&measured, &all.form, &measure_again),
        measure_again,
        again: worth_reading(&measured, &all, survey.wanted_u_mm),
        odd_lobes: words::odd_lobes(survey.contacts),
        without: rest.map(|rest| rest.form),
        suspects,
        form: all.form,
        warnings,
    })
}

/// The readings as sizes at 20 °C over nominal, with what is to be said of that.
fn reduced(survey: &Survey) -> Result<(Measured, Vec<String>), Refused> {
    let readings = &survey.readings;
    if readings.is_empty() {
        return Err(Refused::new("readings", "no reading", "1 reading or more", "read the bore"));
    }
    let warm = readings.iter().filter(|reading| reading.part_T_C.is_some()).count();
    if let Some(i) = readings.iter().position(|reading| reading.part_T_C.is_none()).filter(|_| warm > 0) {
        return Err(Refused::new(
            format!("readings.{i}.part_T_C"),
            "missing",
            "a temperature with all readings, or with none",
            "give the part's temperature at this reading too, or take out the others",
        ));
    }
    let mut warnings = Vec::new();
    let sizes = match (warm > 0, &survey.warmth) {
        (false, _) => readings.iter().map(|reading| reading.reading_mm).collect(),
        (true, Some(warmth)) => {
            warnings.extend(common_doubt(readings, warmth)?);
            readings.iter().map(|reading| at_20(reading, warmth)).collect::<Vec<f64>>()
        }
        (true, None) => {
            let allowed = "part_alpha_per_K, instrument_alpha_per_K and instrument_T_C with part_T_C";
            return Err(Refused::new("part_alpha_per_K", "missing", allowed, "give all three, or take out the temperatures"));
        }
    };
    let z = || readings.iter().map(|reading| reading.place.z_mm);
    let (low, high) = (z().fold(f64::INFINITY, f64::min), z().fold(f64::NEG_INFINITY, f64::max));
    let span = Span { z_mid_mm: survey.z_mid_mm.unwrap_or(0.5 * (low + high)), span_mm: survey.span_mm.unwrap_or(high - low) };
    let span = if span.span_mm >= LEAST_SPAN_MM { span } else { Span { span_mm: 0.0, ..span } };
    let measured = Measured {
        places: readings.iter().map(|reading| reading.place).collect(),
        over_nominal_mm: sizes.iter().map(|size| size - survey.nominal_mm).collect(),
        nominal_mm: survey.nominal_mm,
        span,
        contacts: survey.contacts,
        gauge: survey.gauge,
        alpha_level: survey.alpha_level,
    };
    Ok((measured, warnings))
}

fn at_20(reading: &Reading, warmth: &Warmth) -> f64 {
    size_from_reading(
        reading.reading_mm,
        warmth.part_alpha_per_K.value,
        reading.part_T_C.unwrap_or(20.0),
        warmth.instrument_alpha_per_K.value,
        warmth.instrument_T_C.value,
    )
}

/// Checks what reduces the readings, and says how much of its doubt all readings share: it is not in the u of the mean.
fn common_doubt(readings: &[Reading], warmth: &Warmth) -> Result<Vec<String>, Refused> {
    let count = readings.len() as f64;
    let mean = |of: fn(&Reading) -> f64| readings.iter().map(of).sum::<f64>() / count;
    let warm = WarmReading {
        reading_mm: Quantity::exact(mean(|reading| reading.reading_mm)),
        correction_mm: Quantity::exact(0.0),
        part_alpha_per_K: warmth.part_alpha_per_K,
        instrument_alpha_per_K: warmth.instrument_alpha_per_K,
        part_T_C: Quantity::exact(mean(|reading| reading.part_T_C.unwrap_or(20.0))),
        instrument_T_C: warmth.instrument_T_C,
        common_T_u_K: 0.0,
    };
    let size = size_at_20(&warm)?;
    let mut warnings = size.warnings;
    warnings.push(if size.size_mm.u > 0.0 {
        format!(
            "Expansion and gauge temperature add {} mm (one standard uncertainty), the same for all readings, to the mean: it is not in \
             the u given here, nor is the thermometer's own error.",
            shown_plain(size.size_mm.u, 4)
        )
    } else {
        "The u given here is that of repeated readings: what expansion and thermometer add to the mean, the same for all readings, is \
         told by to-20."
            .into()
    });
    Ok(warnings)
}

/// Terms that can't be told and that these places mix into the mean: a diameter in one direction carries the oval.
fn carried_by_the_mean(measured: &Measured, all: &Fitted) -> Vec<&'static str> {
    /// A mean that takes less than this share of a term is not worth a sentence.
    const SHARE: f64 = 0.01;
    let kept = measured.span.columns(&all.form.terms, &measured.places);
    let share = |term: Term| {
        let column = measured.span.columns(&[term], &measured.places).concat();
        small_fit(&kept, &column).b.first().map_or(0.0, |share| share.abs())
    };
    all.missing.iter().map(|(term, _)| *term).filter(|term| share(*term) > SHARE).map(Term::word).collect()
}

/// What the fit can't vouch for.
fn doubts(measured: &Measured, all: &Fitted, suspects: &[Suspect]) -> Vec<String> {
    let mut warnings = Vec::new();
    let alone: Vec<String> =
        (0..measured.places.len()).filter(|i| all.off_mm.get(*i).is_none_or(Option::is_none)).map(|i| i.to_string()).collect();
    let carried = carried_by_the_mean(measured, all);
    if !carried.is_empty() {
        warnings.push(format!(
            "The mean is that of the places that were read: {} can't be told from them and would shift the mean over the whole span.",
            carried.join(" and ")
        ));
    }
    if all.form.dof == 0 {
        warnings.push("There are as many terms as readings: none of them checks another, and no reading can be judged.".into());
    } else if !alone.is_empty() {
        warnings.push(format!(
            "Reading {} (counted from 0) alone carries a term of the form and can't be judged: take it twice.",
            alone.join(", ")
        ));
    }
    if all.form.dof as f64 + measured.gauge.dof <= 0.0 {
        warnings.push("Nothing is known of how this gauge repeats: u is that of its step alone and too small; take more readings.".into());
    }
    let over = all.form.t_max.zip(all.form.t_limit).is_some_and(|(t_max, limit)| t_max > limit);
    if over && suspects.is_empty() {
        warnings.push("These few readings do not agree, and can't say which of them is wrong: take them all again.".into());
    }
    let set_aside_all = !suspects.is_empty() && suspects.len() == measured.places.len() / 5;
    if set_aside_all && suspects.len() > 1 {
        warnings.push("A fifth of the readings look wrong: doubt the gauge, or a form that taper, barrel and oval do not describe.".into());
    }
    warnings
}

/// Stations nearer to each other than this, mm, are one.
const LEAST_SPAN_MM: f64 = 1e-3;
const PLACE: Range = Range::within(-1e5, 1e5);
const READING: &[Key] = &[
    Key::number("z_mm", PLACE, "station along the axis").needed(),
    Key::number("angle_deg", Range::within(-360.0, 360.0), "direction of the diameter, 0 to 180").needed(),
    Key::number("reading_mm", Range::over(0.0).to(1e5), "the size as it was read").needed(),
    Key::number("part_T_C", Range::within(COLDEST_C, HOTTEST_C), "temperature of the part at this reading"),
];
const ALPHA: Range = Range::within(-LARGEST_ALPHA, LARGEST_ALPHA);

/// `survey` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "survey",
    help: "mean size, taper, barrel and out-of-round of a bore, and which reading to take again",
    request: &[
        Key::number("nominal_mm", Range::over(0.0).to(1e5), "the nominal size").needed(),
        Key::records("readings", READING, "the readings, 1 or more").needed(),
        Key::number("z_mid_mm", PLACE, "middle of the span").default("the middle of the readings"),
        Key::number("span_mm", Range::within(LEAST_SPAN_MM, 1e5), "length of the span").default("the range of the readings"),
        GaugePrior::KEYS[0],
        GaugePrior::KEYS[1],
        GaugePrior::KEYS[2],
        Key::quantity("part_alpha_per_K", ALPHA, "mean expansion of the part per K, as 18e-6 and not as 18"),
        Key::quantity("instrument_alpha_per_K", ALPHA, "mean expansion of the gauge per K, as 11.5e-6"),
        Key::quantity("instrument_T_C", Range::within(COLDEST_C, HOTTEST_C), "temperature of the gauge"),
        Key::word("contacts", &["two", "three"], "how the gauge touches").default("two"),
        Key::texts("need", "terms that must be told: mean, taper, barrel, cos2, sin2 (cos3, sin3)").default("[]"),
        Key::number("alpha_level", ALPHA_LEVEL, "chance of a false alarm, over all readings").default("0.05"),
        Key::number("wanted_u_mm", Range::over(0.0).to(1e3), "how well mean and out-of-round should be known"),
    ],
    answer: &[
        Told { path: "mean_mm", help: "mean over the span with u and dof" },
        Told { path: "taper_mm", help: "change over the span; null when it can't be told, as all terms" },
        Told { path: "barrel_mm", help: "c, a third of centre less ends" },
        Told { path: "cos2_mm", help: "A of the oval" },
        Told { path: "sin2_mm", help: "B of the oval" },
        Told { path: "centre_minus_ends_mm", help: "3c with u" },
        Told { path: "out_of_round_mm", help: "largest less smallest diameter with u; null without cos2 or sin2" },
        Told { path: "major_axis_deg", help: "direction of the largest diameter, 0 to 180; null likewise" },
        Told { path: "cos3_mm", help: "A of three lobes; null with two contacts" },
        Told { path: "sin3_mm", help: "B of three lobes; null with two contacts" },
        Told { path: "three_lobe_mm", help: "radial amplitude of three lobes with u; null with two contacts" },
        Told { path: "terms", help: "the terms that these readings can tell" },
        Told { path: "not_estimable", help: "those that they can't, each with the reason" },
        Told { path: "residual_sd_mm", help: "of the residuals; null with as many terms as readings" },
        Told { path: "pooled_sd_mm", help: "of a reading, pooled with the gauge study" },
        Told { path: "dof", help: "readings less terms" },
        Told { path: "t_limit", help: "limit of the worst t; null without freedom" },
        Told { path: "t_max", help: "largest t; null where none can be judged" },
        Told { path: "suspects", help: "index, off_mm and t of readings that look wrong" },
        Told { path: "without", help: "the fit without them; null when there are none" },
        Told { path: "odd_lobes", help: "which lobes are not seen" },
        Told { path: "again", help: "up to three further readings worth their time, when wanted_u_mm is not met" },
        Told { path: "measure_again", help: "where to measure again and what to do then, in words" },
        Told { path: "say", help: "all of it in words" },
    ],
    example: r#"{"nominal_mm": 280, "wanted_u_mm": 0.001, "readings": [
        {"z_mm": 10, "angle_deg": 0, "reading_mm": 280.021}, {"z_mm": 10, "angle_deg": 45, "reading_mm": 280.027},
        {"z_mm": 10, "angle_deg": 90, "reading_mm": 280.012}, {"z_mm": 10, "angle_deg": 135, "reading_mm": 280.008},
        {"z_mm": 90, "angle_deg": 0, "reading_mm": 280.026}, {"z_mm": 90, "angle_deg": 45, "reading_mm": 280.031},
        {"z_mm": 90, "angle_deg": 90, "reading_mm": 280.018}, {"z_mm": 90, "angle_deg": 135, "reading_mm": 280.011},
        {"z_mm": 170, "angle_deg": 0, "reading_mm": 280.037}, {"z_mm": 170, "angle_deg": 45, "reading_mm": 280.039},
        {"z_mm": 170, "angle_deg": 90, "reading_mm": 280.027}, {"z_mm": 170, "angle_deg": 135, "reading_mm": 280.022}]}"#,
    run: Some(answer_survey),
};

fn read(given: &Given) -> Result<Survey, Refused> {
    let reading = |given: &Given| {
        Ok(Reading {
            place: Place { z_mm: given.need_number("z_mm")?, angle_deg: given.need_number("angle_deg")? },
            reading_mm: given.need_number("reading_mm")?,
            part_T_C: given.number("part_T_C"),
        })
    };
    let warmth = match (given.quantity("part_alpha_per_K"), given.quantity("instrument_alpha_per_K"), given.quantity("instrument_T_C")) {
        (Some(part_alpha_per_K), Some(instrument_alpha_per_K), Some(instrument_T_C)) => {
            Some(Warmth { part_alpha_per_K, instrument_alpha_per_K, instrument_T_C })
        }
        _ => None,
    };
    Ok(Survey {
        nominal_mm: given.need_number("nominal_mm")?,
        readings: given.records("readings").iter().map(reading).collect::<Result<_, Refused>>()?,
        z_mid_mm: given.number("z_mid_mm"),
        span_mm: given.number("span_mm"),
        gauge: GaugePrior::read(given),
        warmth,
        contacts: if given.word("contacts") == Some("three") { Contacts::Three } else { Contacts::Two },
        need: needed_terms(given)?,
        alpha_level: given.number_or("alpha_level", 0.05),
        wanted_u_mm: given.number("wanted_u_mm"),
    })
}

fn needed_terms(given: &Given) -> Result<Vec<Term>, Refused> {
    let named = |word: &str| {
        Term::named(word).ok_or_else(|| {
            let names = ["mean", "taper", "barrel", "cos2", "sin2", "cos3", "sin3"];
            let remedy = nearest(word, names.into_iter()).map_or_else(|| "choose one of them".to_owned(), |near| format!("write {near}"));
            Refused::new("need", format!("{word:?}"), names.join(", "), remedy)
        })
    };
    given.texts("need").into_iter().map(named).collect()
}

fn answer_survey(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read(given)?;
    let mut answer = survey(&request)?;
    if request.warmth.is_some() && request.readings.iter().all(|reading| reading.part_T_C.is_none()) {
        answer.warnings.push("Coefficients are given but no part_T_C: the readings are taken as sizes at 20 °C.".into());
    }
    if let (Some(warmth), Some(first)) = (&request.warmth, request.readings.first().filter(|reading| reading.part_T_C.is_some())) {
        desk.working.step(
            "each reading at 20 °C (the first one shown)",
            "D20 = R (1 + a_i (T_i - 20))/(1 + a_p (T_p - 20))",
            &[("R mm", first.reading_mm), ("T_p C", first.part_T_C.unwrap_or(20.0)), ("T_i C", warmth.instrument_T_C.value)],
            &[("D20 mm", at_20(first, warmth))],
            "ISO 1",
        );
    }
    let form = &answer.form;
    desk.working.step(
        "form of the bore",
        "least squares of D = m + t w + c (1 - 12 w^2) + A cos 2a + B sin 2a, w = (z - z_mid)/span",
        &[("readings", request.readings.len() as f64), ("terms", form.terms.len() as f64)],
        &[("mean mm", form.mean_mm.value), ("u mm", form.mean_mm.u), ("residual sd mm", form.residual_sd_mm.unwrap_or(0.0))],
        "least squares, any text",
    );
    desk.working.step(
        "standard deviation of a reading",
        "s_p^2 = (sum e^2 + nu0 s0^2)/(nu + nu0), never under r^2/12",
        &[("nu", form.dof as f64), ("nu0", request.gauge.dof), ("s0 mm", request.gauge.repeatability_mm)],
        &[("s_p mm", form.pooled_sd_mm)],
        "variance pooled with the gauge study",
    );
    if let Some((t_max, t_limit)) = form.t_max.zip(form.t_limit) {
        desk.working.step(
            "the worst reading",
            "t_i = e_i/sqrt(v_i (1 - h_i)) against t at 1 - alpha/(2n)",
            &[("alpha", request.alpha_level)],
            &[("t", t_max), ("limit", t_limit)],
            "Cook and Weisberg 1982 (memory)",
        );
    }
    told(&answer)
}

#[cfg(test)]
mod tests;
