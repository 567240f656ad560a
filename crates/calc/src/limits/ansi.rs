//! Limits of size by ANSI B4.1 in inches: running fits RC3 to RC8, locational interference LN1 to LN3, force fits FN1 to FN5.
//!
//! The classes share letters with ISO 286 but neither its numbers nor its steps, and LN and FN have step lists of their own.
//! Compiled in: RC and LN to 19.69 in (the American-British-Canadian agreement ends there), FN over 0.95 to 12.41 in.

use std::sync::LazyLock;

use serde::Serialize;

use super::Feature;
use crate::refused::Refused;
use crate::tables::Table;

/// Largest nominal size of any class, in.
pub const LARGEST_IN: f64 = 19.69;

/// Whether the pair of a class runs or grips.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FitKind {
    /// The shaft is smaller than the hole.
    Clearance,
    /// The shaft is larger than the hole.
    Interference,
}

/// Limits of size of one part of an ANSI B4.1 fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnsiLimits {
    /// The part that was asked for.
    pub feature: Feature,
    /// Upper deviation, thousandths of an inch.
    pub upper_thou: f64,
    /// Lower deviation, thousandths of an inch.
    pub lower_thou: f64,
    /// Upper less lower, thousandths of an inch.
    pub tolerance_thou: f64,
    /// Largest size, in.
    pub max_in: f64,
    /// Smallest size, in.
    pub min_in: f64,
    /// Clearance or interference.
    pub fit_kind: FitKind,
    /// Least clearance or interference of the pair, thousandths of an inch.
    pub min_fit_thou: f64,
    /// Most clearance or interference of the pair, thousandths of an inch.
    pub max_fit_thou: f64,
    /// What should be known before they are used.
    pub warnings: Vec<String>,
}

/// Limits of size of the `part` of a fit of `class` on `nominal_in`, as printed in the standard's rows.
///
/// nominal_in: over 0 to 19.69, by class; steps are over .. up to and including. Refused: an unknown class, a size that its rows do
/// not reach. A warning says when a row is from memory. Source: ANSI B4.1 tables of RC, LN and FN fits (how each row is known: in
/// the compiled table).
pub fn ansi_limits(nominal_in: f64, class: &str, part: Feature) -> Result<AnsiLimits, Refused> {
    let class = class.trim();
    let of_class = || ROWS.iter().filter(|row| row.class == class);
    if of_class().next().is_none() {
        let mut names: Vec<&str> = ROWS.iter().map(|row| row.class.as_str()).collect();
        names.dedup();
        return Err(Refused::new("class", format!("{class:?}"), names.join(", "), "choose one of them"));
    }
    let Some(row) = of_class().find(|row| nominal_in > row.over_in && nominal_in <= row.to_in) else {
        let over = of_class().map(|row| row.over_in).fold(f64::INFINITY, f64::min);
        let to = of_class().map(|row| row.to_in).fold(0.0, f64::max);
        let allowed = format!("over {over} to {to} in for {class}");
        return Err(Refused::new("nominal_in", nominal_in, allowed, "take another class at this size, or ISO 286"));
    };
    let (upper_thou, lower_thou) = match part {
        Feature::Hole => row.hole_thou,
        Feature::Shaft => row.shaft_thou,
    };
    let warnings = row.from_memory.then(|| {
        format!(
            "{class} over {} to {} in is from memory of ANSI B4.1: compare it with the standard before it decides.",
            row.over_in, row.to_in
        )
    });
    Ok(AnsiLimits {
        feature: part,
        upper_thou,
        lower_thou,
        tolerance_thou: upper_thou - lower_thou,
        max_in: nominal_in + upper_thou / 1000.0,
        min_in: nominal_in + lower_thou / 1000.0,
        fit_kind: row.fit_kind,
        min_fit_thou: row.fit_thou.0,
        max_fit_thou: row.fit_thou.1,
        warnings: warnings.into_iter().collect(),
    })
}

/// A row of the tables: deviations upper, lower; fit least, most.
struct FitRow {
    class: String,
    over_in: f64,
    to_in: f64,
    hole_thou: (f64, f64),
    shaft_thou: (f64, f64),
    fit_thou: (f64, f64),
    fit_kind: FitKind,
    from_memory: bool,
}

// Read once from the compiled text, never changed.
static ROWS: LazyLock<Vec<FitRow>> = LazyLock::new(|| {
    let table = Table::read(include_str!("../../data/ansi_b41_rows.csv"));
    let rows = table.rows().filter_map(|row| {
        let pair = |first: &str, second: &str| Some((row.number(first)?, row.number(second)?));
        Some(FitRow {
            class: row.text("class").to_owned(),
            over_in: row.number("over_in")?,
            to_in: row.number("to_in")?,
            hole_thou: pair("hole_upper_thou", "hole_lower_thou")?,
            shaft_thou: pair("shaft_upper_thou", "shaft_lower_thou")?,
            fit_thou: pair("min_fit_thou", "max_fit_thou")?,
            fit_kind: if row.text("fit_kind") == "clearance" { FitKind::Clearance } else { FitKind::Interference },
            from_memory: row.text("how") == "memory",
        })
    });
    rows.collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_end_where_the_inch_tables_say() {
        let shaft = |size| ansi_limits(size, "FN2", Feature::Shaft).unwrap().upper_thou;
        assert!(shaft(3.15) < shaft(3.1501));
        let hole = |size| ansi_limits(size, "RC4", Feature::Hole).unwrap().upper_thou;
        assert!(hole(4.73) < hole(4.7301));
    }

    #[test]
    fn the_misprinted_web_row_is_not_copied() {
        let row = ansi_limits(0.2, "RC3", Feature::Hole).unwrap();
        assert_eq!((row.min_fit_thou, row.max_fit_thou), (0.4, 1.2));
    }

    #[test]
    fn a_size_or_class_outside_the_rows_is_refused_by_its_key() {
        for (size, class, key) in [
            (0.95, "FN2", "nominal_in"),
            (12.42, "FN2", "nominal_in"),
            (19.7, "LN2", "nominal_in"),
            (f64::NAN, "LN2", "nominal_in"),
            (5.0, "RC1", "class"),
            (5.0, "fn2", "class"),
        ] {
            assert_eq!(ansi_limits(size, class, Feature::Hole).unwrap_err().key, key, "{class} at {size}");
        }
    }

    #[test]
    fn a_row_from_memory_says_so() {
        assert_eq!(ansi_limits(4.0, "FN1", Feature::Shaft).unwrap().warnings.len(), 1);
        assert!(ansi_limits(5.0, "FN1", Feature::Shaft).unwrap().warnings.is_empty());
    }
}
