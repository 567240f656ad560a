//! How well a gauge and its users repeat: the study of several parts, read by several people, several times each.
//!
//! It gives the prior that surveys use. It does not judge whether the gauge reads right (that is its certificate).

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, shown};
use crate::math::sq;
use crate::refused::Refused;
use crate::working::Working;

/// Mean squares of the two-way analysis, mm².
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeanSquares {
    /// Between parts.
    pub part: f64,
    /// Between people.
    pub person: f64,
    /// Part by person.
    pub interaction: f64,
    /// Between trials.
    pub repeat: f64,
}

/// What the study says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repeatability {
    /// Mean squares, mm².
    pub mean_squares_mm2: MeanSquares,
    /// One person on one part, mm.
    pub repeatability_sd_mm: f64,
    /// Part by person, mm; 0 when the estimate was negative.
    pub interaction_sd_mm: f64,
    /// Between people, mm; 0 when the estimate was negative.
    pub person_sd_mm: f64,
    /// Between parts, mm; 0 when the estimate was negative.
    pub part_sd_mm: f64,
    /// √(repeatability² + interaction² + person²), mm.
    pub gauge_sd_mm: f64,
    /// gauge/√(gauge² + part²); null when nothing varied.
    pub gauge_share: Option<f64>,
    /// ⌊√2 part/gauge⌋: classes that the gauge can tell apart; null when the gauge never varied.
    pub categories: Option<u64>,
    /// 6 gauge/tolerance; null without a tolerance.
    pub share_of_tolerance: Option<f64>,
    /// What a survey takes for one person: the repeatability, mm.
    pub prior_repeatability_mm: f64,
    /// Its degrees of freedom, parts × people × (trials − 1).
    pub prior_dof: f64,
    /// Sentences a person can read.
    pub warnings: Vec<String>,
}

/// Two-way random-effects analysis of variance of readings [part][person][trial], mm.
///
/// p parts, o people, n trials, 2 or more of each: σ_rep² = MS_rep; σ_int² = (MS_int − MS_rep)/n; σ_person² = (MS_person − MS_int)/(pn);
/// σ_part² = (MS_part − MS_int)/(on); a negative estimate is 0 and is said. Refused: ragged tables, fewer than 2.
/// Source: two-way random-effects ANOVA (any text).
pub fn repeatability(readings: &[Vec<Vec<f64>>], tolerance_mm: Option<f64>) -> Result<Repeatability, Refused> {
    let (p, o, n) = shape(readings)?;
    let (parts, people, trials) = (p as f64, o as f64, n as f64);
    // Readings are taken from the first one: their common size would eat the digits of the squares.
    let zero = readings[0][0][0];
    let at = |i: usize, j: usize, k: usize| readings[i][j][k] - zero;
    let cell = |i: usize, j: usize| (0..n).map(|k| at(i, j, k)).sum::<f64>() / trials;
    let cells: Vec<Vec<f64>> = (0..p).map(|i| (0..o).map(|j| cell(i, j)).collect()).collect();
    let of_part: Vec<f64> = cells.iter().map(|row| row.iter().sum::<f64>() / people).collect();
    let of_person: Vec<f64> = (0..o).map(|j| cells.iter().map(|row| row[j]).sum::<f64>() / parts).collect();
    let grand = of_part.iter().sum::<f64>() / parts;
    let about = |means: &[f64]| means.iter().map(|mean| sq(mean - grand)).sum::<f64>();
    let mut interaction = 0.0;
    let mut repeat = 0.0;
    for (i, row) in cells.iter().enumerate() {
        for (j, mean) in row.iter().enumerate() {
            interaction += sq(mean - of_part[i] - of_person[j] + grand);
            repeat += (0..n).map(|k| sq(at(i, j, k) - mean)).sum::<f64>();
        }
    }
    let squares = MeanSquares {
        part: people * trials * about(&of_part) / (parts - 1.0),
        person: parts * trials * about(&of_person) / (people - 1.0),
        interaction: trials * interaction / ((parts - 1.0) * (people - 1.0)),
        repeat: repeat / (parts * people * (trials - 1.0)),
    };
    Ok(judge(squares, parts, people, trials, tolerance_mm))
}

fn shape(readings: &[Vec<Vec<f64>>]) -> Result<(usize, usize, usize), Refused> {
    let o = readings.first().map_or(0, Vec::len);
    let n = readings.first().and_then(|part| part.first()).map_or(0, Vec::len);
    let refuse =
        |given: String, remedy: &str| Err(Refused::new("readings_mm", given, "[part][person][trial], 2 or more of each, no gaps", remedy));
    for (i, part) in readings.iter().enumerate() {
        if part.len() != o {
            return refuse(format!("part {i} with {} people, part 0 with {o}", part.len()), "let every person read every part");
        }
        if let Some(j) = part.iter().position(|trials| trials.len() != n) {
            return refuse(
                format!("part {i}, person {j} with {} trials, the first with {n}", part[j].len()),
                "take the same number of trials everywhere",
            );
        }
    }
    if readings.len() < 2 || o < 2 || n < 2 {
        return refuse(format!("{} parts, {o} people, {n} trials", readings.len()), "take at least two of each");
    }
    Ok((readings.len(), o, n))
}

fn judge(squares: MeanSquares, parts: f64, people: f64, trials: f64, tolerance_mm: Option<f64>) -> Repeatability {
    let mut warnings = Vec::new();
    let mut sd = |what: &str, variance: f64| {
        if variance < 0.0 {
            warnings.push(format!(
                "The spread of {what} came out negative and is taken as 0: it can't be told from the repeatability in this study."
            ));
        }
        variance.max(0.0).sqrt()
    };
    let interaction = sd("part by person", (squares.interaction - squares.repeat) / trials);
    let person = sd("people", (squares.person - squares.interaction) / (parts * trials));
    let part = sd("parts", (squares.part - squares.interaction) / (people * trials));
    let repeat = squares.repeat.sqrt();
    let gauge = (sq(repeat) + sq(interaction) + sq(person)).sqrt();
    let all = (sq(gauge) + sq(part)).sqrt();
    Repeatability {
        mean_squares_mm2: squares,
        repeatability_sd_mm: repeat,
        interaction_sd_mm: interaction,
        person_sd_mm: person,
        part_sd_mm: part,
        gauge_sd_mm: gauge,
        gauge_share: (all > 0.0).then(|| gauge / all),
        categories: (gauge > 0.0).then(|| (std::f64::consts::SQRT_2 * part / gauge).floor() as u64),
        share_of_tolerance: tolerance_mm.map(|tolerance| 6.0 * gauge / tolerance),
        prior_repeatability_mm: repeat,
        prior_dof: parts * people * (trials - 1.0),
        warnings,
    }
}

/// `repeatability` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "repeatability",
    help: "how well a gauge and its users repeat",
    request: &[
        Key::raw("readings_mm", "the readings as [part][person][trial], mm").needed(),
        Key::number("tolerance_mm", Range::over(0.0).to(1e5), "width of the band that the gauge is to judge"),
    ],
    answer: &[
        Told { path: "mean_squares_mm2", help: "part, person, interaction, repeat" },
        Told { path: "repeatability_sd_mm", help: "one person on one part" },
        Told { path: "interaction_sd_mm", help: "part by person" },
        Told { path: "person_sd_mm", help: "between people" },
        Told { path: "part_sd_mm", help: "between parts" },
        Told { path: "gauge_sd_mm", help: "repeatability, interaction and people together" },
        Told { path: "gauge_share", help: "of the spread of all readings; null when nothing varied" },
        Told { path: "categories", help: "classes that the gauge can tell apart; null when it never varied" },
        Told { path: "share_of_tolerance", help: "6 gauge/tolerance; null without a tolerance" },
        Told { path: "prior_repeatability_mm", help: "for a survey by one person (gauge_sd_mm where several measure)" },
        Told { path: "prior_dof", help: "degrees of freedom of that" },
    ],
    example: r#"{"readings_mm": [[[240.011, 240.013], [240.012, 240.015]], [[240.052, 240.050], [240.055, 240.053]], [[239.981, 239.984], [239.982, 239.983]]], "tolerance_mm": 0.036}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let readings = read(given)?;
    let answer = repeatability(&readings, given.number("tolerance_mm"))?;
    explain(&answer, &mut desk.working);
    told(&answer)
}

fn read(given: &Given) -> Result<Vec<Vec<Vec<f64>>>, Refused> {
    let Some(table) = given.raw("readings_mm") else { return Ok(Vec::new()) };
    let wrong = |value: &Value| {
        Refused::new(
            "readings_mm",
            shown(value),
            "[part][person][trial] of numbers in mm",
            "write a list of parts, each a list of people, each a list of readings",
        )
    };
    let list = |value: &Value| value.as_array().cloned().ok_or_else(|| wrong(value));
    let number = |value: &Value| value.as_f64().filter(|x| x.abs() <= 1e6).ok_or_else(|| wrong(value));
    let trials = |value: &Value| list(value)?.iter().map(number).collect::<Result<Vec<f64>, _>>();
    let people = |value: &Value| list(value)?.iter().map(trials).collect::<Result<Vec<_>, _>>();
    list(table)?.iter().map(people).collect()
}

fn explain(answer: &Repeatability, working: &mut Working) {
    let squares = answer.mean_squares_mm2;
    let with = [
        ("part mm2", squares.part),
        ("person mm2", squares.person),
        ("interaction mm2", squares.interaction),
        ("repeat mm2", squares.repeat),
    ];
    let gives = [("repeatability mm", answer.repeatability_sd_mm), ("gauge mm", answer.gauge_sd_mm), ("part mm", answer.part_sd_mm)];
    working.step(
        "spreads from the mean squares",
        "rep^2 = MS_rep; int^2 = (MS_int - MS_rep)/n; person^2 = (MS_person - MS_int)/(p n); part^2 = (MS_part - MS_int)/(o n)",
        &with,
        &gives,
        "two-way random-effects ANOVA",
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moving_every_reading_by_a_metre_changes_no_spread() {
        let readings: Vec<Vec<Vec<f64>>> = vec![vec![vec![0.001, 0.004], vec![0.002, 0.003]], vec![vec![0.051, 0.05], vec![0.055, 0.052]]];
        let moved =
            readings.iter().map(|part| part.iter().map(|person| person.iter().map(|x| x + 1024.0).collect()).collect()).collect::<Vec<_>>();
        let (a, b) = (repeatability(&readings, None).unwrap(), repeatability(&moved, None).unwrap());
        assert!((a.repeatability_sd_mm / b.repeatability_sd_mm - 1.0).abs() < 1e-9);
    }

    #[test]
    fn one_person_is_refused_by_name() {
        let refused = repeatability(&[vec![vec![1.0, 1.1]], vec![vec![1.0, 1.2]]], None).unwrap_err();
        assert!(refused.given.contains("1 people"), "{refused}");
    }

    #[test]
    fn a_spread_that_came_out_negative_is_nought_and_said() {
        let same = vec![vec![vec![1.0, 1.01], vec![1.0, 1.01]], vec![vec![1.0, 1.01], vec![1.0, 1.01]]];
        let answer = repeatability(&same, None).unwrap();
        assert_eq!(answer.part_sd_mm, 0.0);
        assert!(!answer.warnings.is_empty());
    }
}
