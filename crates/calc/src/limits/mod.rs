//! Limits of size by a class: ISO 286 in millimetres ([`iso`]), ANSI B4.1 in inches ([`ansi`]).
//!
//! The tables rule. The formulas behind them miss 63 of 404 tolerances and up to 13 % of some deviations, so they stand in the
//! tests only, where they warn about typing errors. Misprints of first printings and web copies are not in the tables.
//! It leaves choosing a class to `fit-choose`. An oversize bore has no class of its own: see the warning of [`iso::iso_limits`].

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::refused::Refused;

pub mod ansi;
pub mod form;
pub mod iso;

/// Which of two mating parts a limit belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Feature {
    /// The outer part: a housing bore, the bore of a bush.
    Hole,
    /// The inner part: a journal, the outside of a bush.
    Shaft,
}

impl Feature {
    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hole => "hole",
            Self::Shaft => "shaft",
        }
    }
}

const ISO_286: &str = "ISO 286";
const ANSI_B4_1: &str = "ANSI B4.1";

/// `limits` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "limits",
    help: "limits of size by ISO 286 or ANSI B4.1",
    request: &[
        Key::word("system", &[ISO_286, ANSI_B4_1], "whose classes are meant").needed(),
        Key::number("nominal_mm", Range::over(0.0).to(iso::LARGEST_MM), "the nominal size, with ISO 286"),
        Key::number("nominal_in", Range::over(0.0).to(ansi::LARGEST_IN), "the nominal size in inches, with ANSI B4.1"),
        Key::text("class", "the class, as H7 or s6 (capital = hole), or RC4, LN2, FN2").needed(),
        Key::word("part", &["hole", "shaft"], "which part of the fit, with ANSI B4.1").default("with ISO 286 the class says it"),
    ],
    answer: &[
        Told { path: "feature", help: "hole or shaft" },
        Told { path: "upper_um", help: "upper deviation (ISO 286 only)" },
        Told { path: "lower_um", help: "lower deviation (ISO 286 only)" },
        Told { path: "tolerance_um", help: "upper less lower (ISO 286 only)" },
        Told { path: "max_mm", help: "largest size (ISO 286 only)" },
        Told { path: "min_mm", help: "smallest size (ISO 286 only)" },
        Told { path: "upper_thou", help: "upper deviation (ANSI B4.1 only)" },
        Told { path: "lower_thou", help: "lower deviation (ANSI B4.1 only)" },
        Told { path: "tolerance_thou", help: "upper less lower (ANSI B4.1 only)" },
        Told { path: "max_in", help: "largest size (ANSI B4.1 only)" },
        Told { path: "min_in", help: "smallest size (ANSI B4.1 only)" },
        Told { path: "fit_kind", help: "clearance or interference (ANSI B4.1 only)" },
        Told { path: "min_fit_thou", help: "least clearance or interference of the pair (ANSI B4.1 only)" },
        Told { path: "max_fit_thou", help: "most clearance or interference of the pair (ANSI B4.1 only)" },
    ],
    example: r#"{"system": "ISO 286", "nominal_mm": 280, "class": "H7"}"#,
    run: Some(answer_limits),
};

fn answer_limits(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let class = given.need_word("class")?;
    let part = match given.word("part") {
        Some("hole") => Some(Feature::Hole),
        Some(_) => Some(Feature::Shaft),
        None => None,
    };
    if given.need_word("system")? == ISO_286 {
        if given.has("nominal_in") {
            return Err(given.refuse("nominal_in", "nominal_mm with ISO 286", "give nominal_mm, or write the system ANSI B4.1"));
        }
        let nominal_mm = given.need_number("nominal_mm")?;
        let limits = iso::iso_limits(nominal_mm, class)?;
        if part.is_some_and(|part| part != limits.feature) {
            let allowed = format!("{} for the class {class}", limits.feature.word());
            return Err(given.refuse("part", allowed, "take it out, or write the class with the other kind of letter"));
        }
        desk.working.step(
            "limits of size",
            "deviation of the letter at its step of sizes, and the tolerance of the grade",
            &[("nominal mm", nominal_mm), ("IT um", limits.tolerance_um)],
            &[("upper um", limits.upper_um), ("lower um", limits.lower_um), ("max mm", limits.max_mm), ("min mm", limits.min_mm)],
            "ISO 286-1:2010 tables 1 to 5, as compiled in",
        );
        return told(&limits);
    }
    if given.has("nominal_mm") {
        return Err(given.refuse("nominal_mm", "nominal_in with ANSI B4.1", "give nominal_in, or write the system ISO 286"));
    }
    let nominal_in = given.need_number("nominal_in")?;
    let Some(part) = part else {
        return Err(given.refuse("part", "hole, shaft", "say which part: an ANSI B4.1 class names both"));
    };
    let limits = ansi::ansi_limits(nominal_in, class, part)?;
    desk.working.step(
        "limits of size",
        "the row of the class at its step of sizes",
        &[("nominal in", nominal_in)],
        &[("upper thou", limits.upper_thou), ("lower thou", limits.lower_thou), ("max in", limits.max_in), ("min in", limits.min_in)],
        "ANSI B4.1 tables of RC, LN and FN fits, as compiled in",
    );
    told(&limits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, plain};
    use crate::crew::Alone;

    fn refused(request: &str) -> Refused {
        answer("limits", &plain(request).unwrap(), &Alone, false).expect_err(request)
    }

    #[test]
    fn keys_of_the_other_system_are_refused_by_name() {
        for (request, key) in [
            (r#"{"system": "ISO 286", "nominal_in": 9, "class": "H7"}"#, "nominal_in"),
            (r#"{"system": "ISO 286", "class": "H7"}"#, "nominal_mm"),
            (r#"{"system": "ISO 286", "nominal_mm": 90, "class": "H7", "part": "shaft"}"#, "part"),
            (r#"{"system": "ANSI B4.1", "nominal_mm": 90, "class": "RC4", "part": "hole"}"#, "nominal_mm"),
            (r#"{"system": "ANSI B4.1", "nominal_in": 9, "class": "RC4"}"#, "part"),
            (r#"{"system": "ANSI B4.1", "nominal_in": 9, "class": "H7", "part": "hole"}"#, "class"),
            (r#"{"system": "ISO 286", "nominal_mm": 90, "class": "RC4"}"#, "class"),
            (r#"{"system": "ISO 286", "nominal_mm": 3150.001, "class": "H7"}"#, "nominal_mm"),
        ] {
            assert_eq!(refused(request).key, key, "{request}");
        }
    }
}
