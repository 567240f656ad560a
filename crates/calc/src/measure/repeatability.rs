//! How well does a gauge repeat, and how much do its users differ? From parts × people × trials. (`repeatability`)
//!
//! It gives the survey its prior; it does not judge whether a gauge is good enough for a tolerance.
//! Source: two-way analysis of variance with interaction, random effects (any text on it).

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told, shown};
use crate::math::sq;
use crate::refused::Refused;

/// A whole table of readings: every person measured every part the same number of times.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    parts: usize,
    people: usize,
    trials: usize,
    /// In the order part, person, trial.
    readings_mm: Vec<f64>,
}

/// Mean squares of the analysis, mm².
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeanSquares {
    /// Between parts.
    pub part: f64,
    /// Between people.
    pub person: f64,
    /// Interaction of the two.
    pub interaction: f64,
    /// Within a cell.
    pub repeat: f64,
}

/// How a gauge repeats, and its users with it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repeatability {
    /// Mean squares, mm².
    pub mean_squares_mm2: MeanSquares,
    /// Same person, same part.
    pub repeatability_sd_mm: f64,
    /// A person's own way with a part.
    pub interaction_sd_mm: f64,
    /// Between people.
    pub person_sd_mm: f64,
    /// Between parts.
    pub part_sd_mm: f64,
    /// All that is not the parts.
    pub gauge_sd_mm: f64,
    /// gauge/√(gauge² + part²); none where nothing differs.
    pub gauge_share: Option<f64>,
    /// ⌊√2 part/gauge⌋: groups of parts that the gauge can keep apart; none where the gauge shows no spread.
    pub categories: Option<f64>,
    /// 6 gauge/tolerance; none without a tolerance.
    pub share_of_tolerance: Option<f64>,
    /// The survey's prior where one person measures.
    pub prior_repeatability_mm: f64,
    /// Its degrees of freedom, parts × people × (trials − 1).
    pub prior_dof: f64,
    /// Negative components, and a gauge that shows nothing.
    pub warnings: Vec<String>,
}

impl Study {
    /// A table \[part\]\[person\]\[trial\]. Refused: fewer than 2 of any, or a table that is not whole.
    pub fn new(table: &[Vec<Vec<f64>>]) -> Result<Self, Refused> {
        let people = table.first().map_or(0, Vec::len);
        let trials = table.first().and_then(|part| part.first()).map_or(0, Vec::len);
        for (name, count) in [("parts", table.len()), ("people", people), ("trials", trials)] {
            if count < 2 {
                return Err(Refused::new(
                    "readings_mm",
                    format!("{count} {name}"),
                    "2 parts, 2 people and 2 trials, or more",
                    format!("add {name}"),
                ));
            }
        }
        for (i, part) in table.iter().enumerate() {
            if part.len() != people {
                let given = format!("by {} people", part.len());
                return Err(Refused::new(format!("readings_mm.{i}"), given, format!("{people} people, as for the first part"), WHOLE));
            }
            for (j, cell) in part.iter().enumerate() {
                if cell.len() != trials {
                    let given = format!("{} trials", cell.len());
                    return Err(Refused::new(
                        format!("readings_mm.{i}.{j}"),
                        given,
                        format!("{trials} trials, as in the first cell"),
                        WHOLE,
                    ));
                }
            }
        }
        let readings_mm = table.iter().flatten().flatten().copied().collect();
        Ok(Self { parts: table.len(), people, trials, readings_mm })
    }

    /// Mean of the readings that `of` (part, person) keeps, less the first reading.
    fn mean(&self, of: impl Fn(usize, usize) -> bool) -> f64 {
        let first = self.readings_mm.first().copied().unwrap_or(0.0);
        let cells = self.readings_mm.chunks(self.trials).enumerate();
        let kept = cells.filter(|(cell, _)| of(cell / self.people, cell % self.people));
        let (sum, count) = kept.flat_map(|(_, cell)| cell).fold((0.0, 0.0), |(sum, count), x| (sum + (x - first), count + 1.0));
        sum / count
    }

    /// Mean squares of the usual sums of squares.
    fn mean_squares(&self) -> MeanSquares {
        let (p, o, n) = (self.parts as f64, self.people as f64, self.trials as f64);
        let first = self.readings_mm.first().copied().unwrap_or(0.0);
        let all = self.mean(|_, _| true);
        let by_part: Vec<f64> = (0..self.parts).map(|i| self.mean(|part, _| part == i)).collect();
        let by_person: Vec<f64> = (0..self.people).map(|j| self.mean(|_, person| person == j)).collect();
        let (mut interaction, mut repeat) = (0.0, 0.0);
        let parts_and_people = by_part.iter().flat_map(|part| by_person.iter().map(move |person| (part, person)));
        for (cell, (part, person)) in self.readings_mm.chunks(self.trials).zip(parts_and_people) {
            let mean = cell.iter().map(|x| x - first).sum::<f64>() / n;
            interaction += n * sq(mean - part - person + all);
            repeat += cell.iter().map(|x| sq(x - first - mean)).sum::<f64>();
        }
        let spread = |means: &[f64]| means.iter().map(|mean| sq(mean - all)).sum::<f64>();
        MeanSquares {
            part: o * n * spread(&by_part) / (p - 1.0),
            person: p * n * spread(&by_person) / (o - 1.0),
            interaction: interaction / ((p - 1.0) * (o - 1.0)),
            repeat: repeat / (p * o * (n - 1.0)),
        }
    }
}

const WHOLE: &str = "give every part to every person the same number of times, or leave the rest out";

/// Components of spread of a gauge study.
///
/// σ_rep² = MS_rep; σ_int² = (MS_int − MS_rep)/n; σ_person² = (MS_person − MS_int)/(p n); σ_part² = (MS_part − MS_int)/(o n), for
/// p parts, o people, n trials; a negative one is 0 and is told. Gauge = √(rep² + int² + person²).
/// Source: two-way analysis of variance, random effects.
pub fn repeatability(study: &Study, tolerance_mm: Option<f64>) -> Repeatability {
    let (p, o, n) = (study.parts as f64, study.people as f64, study.trials as f64);
    let ms = study.mean_squares();
    let mut warnings = Vec::new();
    let mut component = |name: &str, variance: f64| {
        if variance < 0.0 {
            warnings.push(format!(
                "The variance of {name} came out negative ({variance:.2e} mm²): taken as 0, it is lost in the repeatability."
            ));
        }
        variance.max(0.0)
    };
    let interaction = component("the interaction", (ms.interaction - ms.repeat) / n);
    let person = component("people", (ms.person - ms.interaction) / (p * n));
    let part = component("parts", (ms.part - ms.interaction) / (o * n));
    let gauge_sd_mm = (ms.repeat + interaction + person).sqrt();
    if ms.repeat == 0.0 {
        warnings.push("All repeated readings are equal: the resolution hides the repeatability; read one digit more.".into());
    }
    let over_gauge = |x: f64| (gauge_sd_mm > 0.0).then(|| x / gauge_sd_mm);
    Repeatability {
        mean_squares_mm2: ms,
        repeatability_sd_mm: ms.repeat.sqrt(),
        interaction_sd_mm: interaction.sqrt(),
        person_sd_mm: person.sqrt(),
        part_sd_mm: part.sqrt(),
        gauge_sd_mm,
        gauge_share: Some(gauge_sd_mm / (sq(gauge_sd_mm) + part).sqrt()).filter(|share| share.is_finite()),
        categories: over_gauge((2.0 * part).sqrt()).map(f64::floor).filter(|categories| categories.is_finite()),
        share_of_tolerance: tolerance_mm.map(|tolerance| 6.0 * gauge_sd_mm / tolerance),
        prior_repeatability_mm: ms.repeat.sqrt(),
        prior_dof: p * o * (n - 1.0),
        warnings,
    }
}

/// `repeatability` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "repeatability",
    help: "how well a gauge and its users repeat",
    request: &[
        Key::raw("readings_mm", "a list of parts, each a list of people, each a list of trials").needed(),
        Key::number("tolerance_mm", Range::over(0.0), "width of the band that the gauge shall judge").default("none"),
    ],
    answer: &[
        Told { path: "mean_squares_mm2", help: "mean squares of the analysis of variance" },
        Told { path: "mean_squares_mm2.part", help: "between parts" },
        Told { path: "mean_squares_mm2.person", help: "between people" },
        Told { path: "mean_squares_mm2.interaction", help: "interaction of part and person" },
        Told { path: "mean_squares_mm2.repeat", help: "within a cell" },
        Told { path: "repeatability_sd_mm", help: "one person again on one part" },
        Told { path: "interaction_sd_mm", help: "a person's own way with a part" },
        Told { path: "person_sd_mm", help: "between people" },
        Told { path: "part_sd_mm", help: "between parts" },
        Told {
            path: "gauge_sd_mm",
            help: "repeatability, interaction and people together; the survey's prior where several people measure",
        },
        Told { path: "gauge_share", help: "gauge over everything; null where nothing differs" },
        Told { path: "categories", help: "groups of parts that can be kept apart, whole; null where the gauge shows no spread" },
        Told { path: "share_of_tolerance", help: "6 gauge over tolerance; null without one" },
        Told { path: "prior_repeatability_mm", help: "the survey's prior where one person measures" },
        Told { path: "prior_dof", help: "its degrees of freedom" },
    ],
    example: r#"{"readings_mm": [[[259.981, 259.987], [259.990, 259.995]], [[259.986, 259.980], [259.998, 260.004]], [[260.003, 259.992], [260.010, 260.012]]], "tolerance_mm": 0.052}"#,
    run: Some(answer),
};

fn answer(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let study = Study::new(&table(given)?)?;
    let found = repeatability(&study, given.number("tolerance_mm"));
    let ms = found.mean_squares_mm2;
    let counts = [("parts", study.parts as f64), ("people", study.people as f64), ("trials", study.trials as f64)];
    let squares =
        [("MS part mm2", ms.part), ("MS person mm2", ms.person), ("MS interaction mm2", ms.interaction), ("MS repeat mm2", ms.repeat)];
    let source = "two-way analysis of variance, random effects";
    desk.working.step("mean squares", "sums of squares over their degrees of freedom", &counts, &squares, source);
    let gives = [
        ("repeatability mm", found.repeatability_sd_mm),
        ("interaction mm", found.interaction_sd_mm),
        ("person mm", found.person_sd_mm),
        ("part mm", found.part_sd_mm),
    ];
    let formula = "rep^2 = MS_rep, int^2 = (MS_int - MS_rep)/n, person^2 = (MS_person - MS_int)/(p n), part^2 = (MS_part - MS_int)/(o n)";
    desk.working.step("components of spread", formula, &squares, &gives, source);
    desk.working.step("gauge", "sqrt(rep^2 + int^2 + person^2)", &gives[..3], &[("gauge mm", found.gauge_sd_mm)], source);
    told(&found)
}

fn table(given: &Given) -> Result<Vec<Vec<Vec<f64>>>, Refused> {
    let value = given.raw("readings_mm").unwrap_or(&Value::Null);
    list("readings_mm", value, |path, part| list(path, part, |path, cell| list(path, cell, reading)))
}

fn list<T>(path: &str, value: &Value, item: impl Fn(&str, &Value) -> Result<T, Refused>) -> Result<Vec<T>, Refused> {
    let items = value.as_array().ok_or_else(|| {
        Refused::new(path, shown(value), "a list: parts, in each people, in each trials", "write [[[259.98, 259.99], ..], ..]")
    })?;
    items.iter().enumerate().map(|(i, value)| item(&format!("{path}.{i}"), value)).collect()
}

fn reading(path: &str, value: &Value) -> Result<f64, Refused> {
    let number = value.as_f64().filter(|x| Range::ANY.has(*x));
    number.ok_or_else(|| Refused::new(path, shown(value), Range::ANY.to_string(), "give the reading in mm"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_negative_component_is_nothing_and_is_told() {
        // The cells differ by trial only: the interaction is smaller than the repeatability.
        let table = vec![vec![vec![1.0, 1.2], vec![1.2, 1.0]], vec![vec![2.0, 2.2], vec![2.0, 2.2]]];
        let found = repeatability(&Study::new(&table).unwrap(), None);
        assert_eq!((found.interaction_sd_mm, found.share_of_tolerance), (0.0, None));
        assert!(found.warnings.iter().any(|line| line.contains("the interaction came out negative")));
    }

    #[test]
    fn a_gauge_that_shows_nothing_gives_null_and_says_so() {
        let table = vec![vec![vec![1.0; 2]; 2]; 2];
        let found = repeatability(&Study::new(&table).unwrap(), Some(0.1));
        assert_eq!((found.gauge_share, found.categories, found.share_of_tolerance), (None, None, Some(0.0)));
        assert!(found.warnings[0].contains("resolution"));
    }

    #[test]
    fn a_table_that_is_not_whole_is_refused_at_its_cell() {
        let key = |table: &[Vec<Vec<f64>>]| Study::new(table).unwrap_err().key;
        assert_eq!(key(&[vec![vec![1.0, 2.0]; 2], vec![vec![1.0, 2.0], vec![1.0]]]), "readings_mm.1.1");
        assert_eq!(key(&[vec![vec![1.0, 2.0]; 2], vec![vec![1.0, 2.0]]]), "readings_mm.1");
        for few in [vec![], vec![vec![vec![1.0, 2.0]; 2]], vec![vec![vec![1.0, 2.0]]; 2], vec![vec![vec![1.0]; 2]; 2]] {
            assert_eq!(key(&few), "readings_mm");
        }
    }
}
