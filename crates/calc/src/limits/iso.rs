//! Limits of size by ISO 286: a letter places the zone, a grade gives its width.
//!
//! Steps are *over .. up to and including*: 120 mm belongs to 100..120. Tolerances go by the main steps, the letters c r s t u x by
//! the intermediate ones; the compiled deviations stand on the intermediate steps throughout, which gives the same values.
//! Half a micrometre of js is kept (IT/2), as printed tables do; the 1988 text lets grades 7 to 11 drop to the even tolerance below.

use std::sync::LazyLock;

use serde::Serialize;

use super::Feature;
use crate::refused::Refused;
use crate::tables::Table;

/// Largest nominal size of the tables, mm.
pub const LARGEST_MM: f64 = 3150.0;
/// Between these sizes, mm, holes K to X of the finer grades are shifted by Δ.
const DELTA_OVER_MM: f64 = 3.0;
const DELTA_TO_MM: f64 = 500.0;
/// Grades IT14 and coarser are not for sizes up to this one, mm.
const COARSE_GRADES_OVER_MM: f64 = 1.0;
/// A size this little over a step's edge (as a share of it) may be a worn or rebored size of the step below.
const NEAR_EDGE: f64 = 0.005;

/// Limits of size by an ISO 286 class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct IsoLimits {
    /// Hole for a capital letter, else shaft.
    pub feature: Feature,
    /// Upper deviation (ES, es), µm.
    pub upper_um: f64,
    /// Lower deviation (EI, ei), µm.
    pub lower_um: f64,
    /// Upper less lower, µm.
    pub tolerance_um: f64,
    /// Largest size, mm.
    pub max_mm: f64,
    /// Smallest size, mm.
    pub min_mm: f64,
    /// What should be known before they are used.
    pub warnings: Vec<String>,
}

/// Limits of a fit of two ISO 286 classes on one nominal size, as interference (negative: clearance), µm.
#[derive(Clone, Debug, PartialEq)]
pub struct IsoFit {
    /// Limits of the hole.
    pub hole: IsoLimits,
    /// Limits of the shaft.
    pub shaft: IsoLimits,
    /// Smallest shaft in the largest hole, µm.
    pub min_interference_um: f64,
    /// Largest shaft in the smallest hole, µm.
    pub max_interference_um: f64,
}

/// Limits of the fit hole/shaft, as H7/s6, on `nominal_mm`: `I = es − EI` at most, `ei − ES` at least.
///
/// Refused as [`iso_limits`], and when the first class is no hole or the second no shaft. Source: ISO 286-1:2010.
pub fn iso_fit(nominal_mm: f64, hole_class: &str, shaft_class: &str) -> Result<IsoFit, Refused> {
    let hole = iso_limits(nominal_mm, hole_class)?;
    let shaft = iso_limits(nominal_mm, shaft_class)?;
    for (limits, class, wanted) in [(&hole, hole_class, Feature::Hole), (&shaft, shaft_class, Feature::Shaft)] {
        if limits.feature != wanted {
            let allowed = format!("the class of a {}", wanted.word());
            return Err(Refused::new("class", class, allowed, "write the hole with capital and the shaft with small letters"));
        }
    }
    let (min_interference_um, max_interference_um) = (shaft.lower_um - hole.upper_um, shaft.upper_um - hole.lower_um);
    Ok(IsoFit { hole, shaft, min_interference_um, max_interference_um })
}

/// Limits of size of `class` on `nominal_mm`.
///
/// Shafts c to h hang under es, k to x stand on ei; holes C to H stand on EI = −es; K, M, N to IT8 and P to X to IT7 over 3 to 500 mm
/// hang under ES = −ei + Δ, else ES = −ei. Own rules: k is 0 outside IT4..IT7, N above IT8 has ES = 0, M6 over 250 to 315 has ES = −9.
/// nominal_mm: over 0 to 3150. Refused: a class that is unknown, or not defined at that size.
/// A warning says when a figure is from memory, and when the size is just over a step's edge: an oversize bore keeps the window of
/// the class at its nominal. Source: ISO 286-1:2010 tables 1 to 5 (how each cell is known: in the compiled tables).
pub fn iso_limits(nominal_mm: f64, class: &str) -> Result<IsoLimits, Refused> {
    if !(nominal_mm > 0.0 && nominal_mm <= LARGEST_MM) {
        let allowed = format!("over 0 to {LARGEST_MM} mm");
        return Err(Refused::new("nominal_mm", nominal_mm, allowed, "give the nominal size in mm"));
    }
    let class = Class::read(class)?;
    let grade = grade_at(nominal_mm, &class)?;
    let letter = letter_at(nominal_mm, &class)?;
    let IT = grade.um;
    let (upper_um, lower_um) = match letter.stands {
        Stands::Middle => (IT / 2.0, -IT / 2.0),
        Stands::UnderUpper => (letter.um, letter.um - IT),
        Stands::OnLower if letter.letter == "k" && !(4..=7).contains(&class.grade) => (IT, 0.0),
        Stands::OnLower => (letter.um + IT, letter.um),
        Stands::UnderUpperByDelta => {
            let ES = hole_upper(nominal_mm, &class, letter.um)?;
            (ES, ES - IT)
        }
    };
    let mut warnings = Vec::new();
    for (what, from_memory) in [(format!("IT{}", class.grade_word), grade.from_memory), (class.letter.clone(), letter.from_memory)] {
        if from_memory {
            warnings.push(format!(
                "{what} over {} to {} mm is from memory of ISO 286-1: compare it with the standard before it decides.",
                grade.over_mm, grade.to_mm
            ));
        }
    }
    warnings.extend(near_edge(nominal_mm, letter.over_mm, &class));
    Ok(IsoLimits {
        feature: class.feature(),
        upper_um,
        lower_um,
        tolerance_um: IT,
        max_mm: nominal_mm + upper_um / 1000.0,
        min_mm: nominal_mm + lower_um / 1000.0,
        warnings,
    })
}

/// Says that a size just over an edge takes the limits of the next step, which a worn bore of the step below would not want.
fn near_edge(nominal_mm: f64, edge_mm: f64, class: &Class) -> Option<String> {
    let near = edge_mm > 0.0 && nominal_mm - edge_mm <= NEAR_EDGE * edge_mm;
    near.then(|| {
        format!(
            "{nominal_mm} mm is just over the step that ends at {edge_mm}: if it is a worn or rebored {edge_mm}, take the interference or \
             clearance of {}{} at {edge_mm} and apply it to the measured size.",
            class.letter, class.grade_word
        )
    })
}

/// ES of a hole K to X: the base −ei, shifted by Δ where the finer grades are.
fn hole_upper(nominal_mm: f64, class: &Class, base_um: f64) -> Result<f64, Refused> {
    if nominal_mm <= DELTA_OVER_MM || nominal_mm > DELTA_TO_MM {
        return Ok(base_um);
    }
    let with_delta = if matches!(class.letter.as_str(), "K" | "M" | "N") { 8 } else { 7 };
    match (class.letter.as_str(), class.grade) {
        ("K", 9..) => Err(class.refuse(nominal_mm, "K up to grade 8 over 3 to 500 mm", "take K8 or a finer grade, or another letter")),
        ("N", 9..) => Ok(0.0),
        ("M", 6) if nominal_mm > 250.0 && nominal_mm <= 315.0 => Ok(-9.0),
        (_, grade) if grade > with_delta => Ok(base_um),
        _ => {
            let step = |row: &&Delta| row.grade == class.grade && nominal_mm > row.over_mm && nominal_mm <= row.to_mm;
            let delta = DELTAS.iter().find(step);
            delta
                .map(|delta| base_um + delta.um)
                .ok_or_else(|| class.refuse(nominal_mm, "grades 3 and coarser for this letter over 3 to 500 mm", "take a coarser grade"))
        }
    }
}

/// A class taken apart.
#[derive(Clone, Debug)]
struct Class {
    letter: String,
    /// The number of the grade; IT0 is 0 and IT01 is −1.
    grade: i32,
    grade_word: String,
}

const CLASS_FORM: &str = "a letter of ISO 286 and a grade from 01 to 18, as H7 or s6";

impl Class {
    fn read(text: &str) -> Result<Self, Refused> {
        let text = text.trim();
        let refuse = |allowed: &str, remedy: String| Refused::new("class", format!("{text:?}"), allowed, remedy);
        let letters = text.chars().take_while(char::is_ascii_alphabetic).count();
        let (letter, grade_word) = text.split_at(letters);
        let grade = match grade_word {
            "01" => Some(-1),
            "0" => Some(0),
            _ if grade_word.starts_with(['0', '+']) => None,
            _ => grade_word.parse().ok().filter(|grade| (1..=18).contains(grade)),
        };
        let known = || LETTERS.iter().map(|row| row.letter.as_str());
        match grade {
            Some(grade) if known().any(|known| known == letter) => {
                Ok(Self { letter: letter.to_owned(), grade, grade_word: grade_word.to_owned() })
            }
            Some(_) => {
                let mut names: Vec<&str> = known().collect();
                names.dedup();
                Err(refuse(&format!("one of the letters {}", names.join(" ")), "choose one of them: no other is compiled in".into()))
            }
            None => Err(refuse(CLASS_FORM, "write letter and grade, without a blank".into())),
        }
    }

    fn feature(&self) -> Feature {
        if self.letter.starts_with(|letter: char| letter.is_ascii_uppercase()) { Feature::Hole } else { Feature::Shaft }
    }

    fn refuse(&self, nominal_mm: f64, allowed: &str, remedy: &str) -> Refused {
        Refused::new("class", format!("{}{} at {nominal_mm} mm", self.letter, self.grade_word), allowed, remedy)
    }
}

/// The tolerance of the class's grade at that size.
fn grade_at(nominal_mm: f64, class: &Class) -> Result<&'static Grade, Refused> {
    if class.grade >= 14 && nominal_mm <= COARSE_GRADES_OVER_MM {
        return Err(class.refuse(nominal_mm, "grades up to 13 for sizes to 1 mm", "take IT13 or a finer grade"));
    }
    let of_grade = || GRADES.iter().filter(|row| row.grade == class.grade);
    of_grade().find(|row| nominal_mm > row.over_mm && nominal_mm <= row.to_mm).ok_or_else(|| {
        let largest = of_grade().map(|row| row.to_mm).fold(0.0, f64::max);
        class.refuse(nominal_mm, &format!("IT{} up to {largest} mm", class.grade_word), "take a coarser grade at this size")
    })
}

/// The deviation of the class's letter at that size.
fn letter_at(nominal_mm: f64, class: &Class) -> Result<&'static Letter, Refused> {
    let of_letter = || LETTERS.iter().filter(|row| row.letter == class.letter);
    of_letter().find(|row| nominal_mm > row.over_mm && nominal_mm <= row.to_mm).ok_or_else(|| {
        let over = of_letter().map(|row| row.over_mm).fold(f64::INFINITY, f64::min);
        let to = of_letter().map(|row| row.to_mm).fold(0.0, f64::max);
        class.refuse(nominal_mm, &format!("{} over {over} to {to} mm", class.letter), "take another letter at this size")
    })
}

/// A row of the standard tolerances.
struct Grade {
    grade: i32,
    over_mm: f64,
    to_mm: f64,
    um: f64,
    from_memory: bool,
}

/// On what the zone of a letter stands.
#[derive(Clone, Copy)]
enum Stands {
    Middle,
    UnderUpper,
    OnLower,
    UnderUpperByDelta,
}

/// A row of the fundamental deviations.
struct Letter {
    letter: String,
    over_mm: f64,
    to_mm: f64,
    um: f64,
    stands: Stands,
    from_memory: bool,
}

/// A row of the shifts Δ = ITn − IT(n−1).
struct Delta {
    grade: i32,
    over_mm: f64,
    to_mm: f64,
    um: f64,
}

// Each table is read once from its compiled text and never changes: constants that can't be written as `const`.
// A row that could not be read would be missing; the tests compare every row with the checks.

static GRADES: LazyLock<Vec<Grade>> = LazyLock::new(|| {
    let table = Table::read(include_str!("../../data/it_grades.csv"));
    let rows = table.rows().filter_map(|row| {
        Some(Grade {
            grade: grade_number(row.text("grade"))?,
            over_mm: row.number("over_mm")?,
            to_mm: row.number("to_mm")?,
            um: row.number("tolerance_um")?,
            from_memory: row.text("how") == "memory",
        })
    });
    rows.collect()
});

static LETTERS: LazyLock<Vec<Letter>> = LazyLock::new(|| {
    let table = Table::read(include_str!("../../data/deviations.csv"));
    let rows = table.rows().filter_map(|row| {
        let stands = match row.text("which") {
            "both" => Stands::Middle,
            "es" => Stands::UnderUpper,
            "ei" | "EI" => Stands::OnLower,
            _ => Stands::UnderUpperByDelta,
        };
        let um = if matches!(stands, Stands::Middle) { 0.0 } else { row.number("deviation_um")? };
        Some(Letter {
            letter: row.text("letter").to_owned(),
            over_mm: row.number("over_mm")?,
            to_mm: row.number("to_mm")?,
            um,
            stands,
            from_memory: row.text("how") == "memory" || row.text("source").contains("memory"),
        })
    });
    rows.collect()
});

static DELTAS: LazyLock<Vec<Delta>> = LazyLock::new(|| {
    let table = Table::read(include_str!("../../data/delta.csv"));
    let rows = table.rows().filter_map(|row| {
        Some(Delta {
            grade: grade_number(row.text("grade"))?,
            over_mm: row.number("over_mm")?,
            to_mm: row.number("to_mm")?,
            um: row.number("delta_um")?,
        })
    });
    rows.collect()
});

fn grade_number(name: &str) -> Option<i32> {
    match name.strip_prefix("IT")? {
        "01" => Some(-1),
        number => number.parse().ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(nominal_mm: f64, class: &str) -> (f64, f64) {
        let limits = iso_limits(nominal_mm, class).unwrap();
        (limits.upper_um, limits.lower_um)
    }

    #[test]
    fn the_traps_of_the_tables_are_stepped_over() {
        for (nominal_mm, class, wanted, why) in [
            (120.0, "s6", (101.0, 79.0), "120 belongs to the step that ends there"),
            (120.1, "s6", (117.0, 92.0), "and 120.1 to the next"),
            (110.0, "r6", (76.0, 54.0), "intermediate step of the letter"),
            (90.0, "r6", (73.0, 51.0), "same tolerance, other letter step"),
            (100.0, "R7", (-38.0, -73.0), "Δ to IT7"),
            (100.0, "R8", (-51.0, -105.0), "no Δ at IT8"),
            (300.0, "M6", (-9.0, -41.0), "the lone exception"),
            (600.0, "K7", (0.0, -70.0), "k is 0 above 500"),
            (600.0, "K11", (0.0, -440.0), "and defined at every grade there"),
            (600.0, "M7", (-26.0, -96.0), "no Δ above 500"),
            (25.0, "k7", (23.0, 2.0), "k stands on its deviation to IT7"),
            (25.0, "k8", (33.0, 0.0), "and on 0 beyond"),
            (25.0, "N9", (0.0, -52.0), "N above IT8"),
            (2.0, "N9", (-4.0, -29.0), "but not up to 3 mm"),
            (25.0, "js7", (10.5, -10.5), "the half micrometre is kept"),
            (500.0, "H7", (63.0, 0.0), "the table, not the formula (62)"),
            (0.5, "h6", (0.0, -6.0), "under 1 mm"),
        ] {
            assert_eq!(pair(nominal_mm, class), wanted, "{class} at {nominal_mm}: {why}");
        }
    }

    #[test]
    fn classes_that_are_not_defined_are_refused() {
        for (nominal_mm, class) in [
            (24.0, "t6"),
            (600.0, "c11"),
            (600.0, "X7"),
            (100.0, "K9"),
            (1.0, "H14"),
            (600.0, "H01"),
            (600.0, "h0"),
            (100.0, "K2"),
            (100.0, "H19"),
            (100.0, "H07"),
            (100.0, "H+7"),
            (100.0, "H"),
            (100.0, "7"),
            (100.0, "A13"),
            (100.0, "Hh7"),
            (100.0, "H 7"),
            (100.0, "µ7"),
            (0.0, "H7"),
            (-5.0, "H7"),
            (f64::NAN, "H7"),
            (3151.0, "H7"),
        ] {
            assert!(iso_limits(nominal_mm, class).is_err(), "{class} at {nominal_mm}");
        }
        assert!(iso_limits(1.001, "H14").is_ok());
        assert!(iso_limits(24.001, "t6").is_ok());
    }

    #[test]
    fn what_is_from_memory_and_what_is_oversize_is_said() {
        let says = |nominal_mm, class, word: &str| iso_limits(nominal_mm, class).unwrap().warnings.iter().any(|text| text.contains(word));
        assert!(says(600.0, "H3", "memory"));
        assert!(!says(400.0, "H7", "memory"));
        assert!(says(250.4, "s6", "rebored 250"));
        assert!(!says(250.0, "s6", "rebored"));
        assert!(!says(260.0, "s6", "rebored"));
    }

    #[test]
    fn a_fit_wants_a_hole_and_a_shaft() {
        let fit = iso_fit(100.0, "H7", "s6").unwrap();
        assert_eq!((fit.min_interference_um, fit.max_interference_um), (36.0, 93.0));
        assert!(iso_fit(100.0, "s6", "H7").is_err());
    }
}
