//! Size at 20 °C of a part that was read warm or cold, with a gauge at a temperature of its own (`to-20`).
//!
//! One mean coefficient a body, from 20 °C to its temperature. It leaves to others: how warm a part is when it was just cut (its skin is
//! cooler than its bulk), and what a gauge does when it is held wrong (`gauge-errors`).

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{powi, sq};
use crate::quantity::Quantity;
use crate::refused::Refused;

/// Largest coefficient of expansion of anything in the shop, per K; above it 1e-6 was forgotten.
pub const LARGEST_ALPHA: f64 = 1e-4;
/// Temperatures that can be reduced at all, °C.
pub const COLDEST_C: f64 = -200.0;
/// See [`COLDEST_C`].
pub const HOTTEST_C: f64 = 300.0;
/// Between these one mean coefficient serves, °C.
const GOOD_FROM_C: f64 = -60.0;
const GOOD_TO_C: f64 = 120.0;
/// A part this warm, °C, is not for bare hands. Source: common practice (the page's own example is 60 °C).
const BURNS_C: f64 = 50.0;
/// A part this much warmer than the gauge, K, was cut a moment ago.
const JUST_CUT_K: f64 = 5.0;

/// ΔT from the temperature at which sizes hold, K. Source: ISO 1.
fn from_20(T_C: f64) -> f64 {
    T_C - 20.0
}

/// Diameter at 20 °C of what reads `reading_mm`: `D20 = R (1 + α_i(T_i − 20))/(1 + α_p(T_p − 20))`.
///
/// i: the gauge (its standard), p: the part. Source: ISO 1; the formula is the definition of a mean coefficient.
pub fn size_from_reading(reading_mm: f64, part_alpha_per_K: f64, part_T_C: f64, gauge_alpha_per_K: f64, gauge_T_C: f64) -> f64 {
    reading_mm * (1.0 + gauge_alpha_per_K * from_20(gauge_T_C)) / (1.0 + part_alpha_per_K * from_20(part_T_C))
}

/// What the gauge shows on a part whose diameter is `size_mm` at 20 °C: the inverse of [`size_from_reading`].
pub fn reading_from_size(size_mm: f64, part_alpha_per_K: f64, part_T_C: f64, gauge_alpha_per_K: f64, gauge_T_C: f64) -> f64 {
    size_mm * (1.0 + part_alpha_per_K * from_20(part_T_C)) / (1.0 + gauge_alpha_per_K * from_20(gauge_T_C))
}

/// A reading with all that changes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WarmReading {
    /// As read, R, mm.
    pub reading_mm: Quantity,
    /// What the gauge's certificate says to add at this size, c, mm.
    pub correction_mm: Quantity,
    /// Mean expansion of the part, per K.
    pub part_alpha_per_K: Quantity,
    /// Mean expansion of the gauge or of the standard that it was set to, per K.
    pub instrument_alpha_per_K: Quantity,
    /// Temperature of the part, °C; u is the part of its error that the gauge does not share.
    pub part_T_C: Quantity,
    /// Temperature of the gauge, °C; u likewise.
    pub instrument_T_C: Quantity,
    /// Standard uncertainty that both temperatures share (one thermometer), K.
    pub common_T_u_K: f64,
}

/// The size at 20 °C, and where its uncertainty comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeAt20 {
    /// Size at 20 °C.
    pub size_mm: SizeWithDof,
    /// Size less reading, µm.
    pub shift_um: f64,
    /// Shares of the variance, largest first.
    pub contributions: Vec<Contribution>,
    /// What should be known before it is used.
    pub warnings: Vec<String>,
}

/// A size whose degrees of freedom may be endless.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SizeWithDof {
    /// mm.
    pub value: f64,
    /// One standard uncertainty, mm.
    pub u: f64,
    /// Effective degrees of freedom (Welch-Satterthwaite); none means endless.
    pub dof: Option<f64>,
}

/// What one input adds to the uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Contribution {
    /// Its key in the request.
    pub input: &'static str,
    /// Its own part of u, mm.
    pub u_mm: f64,
    /// Its share of u².
    pub share: f64,
}

/// Size at 20 °C of a warm reading, with its uncertainty.
///
/// D20 = (R + c)(1 + α_iΔT_i)/(1 + α_pΔT_p), ΔT = T − 20; sensitivities, with α' = α/(1 + αΔT): R and c: D/(R + c);
/// α: ∓DΔT/(1 + αΔT); T: ∓Dα'; the error that both thermometers share counts by D(α_i' − α_p') only.
/// dof: u⁴/Σ(u_i⁴/ν_i). Ranges: R > 0, |α| ≤ 1e-4 per K, T −200 to 300 °C; outside −60 to 120 °C a warning.
/// Source: ISO 1; JCGM 100:2008 5.1.2 and G.4.
pub fn size_at_20(warm: &WarmReading) -> Result<SizeAt20, Refused> {
    check(warm)?;
    let (dT_p, dT_i) = (from_20(warm.part_T_C.value), from_20(warm.instrument_T_C.value));
    let (stretch_p, stretch_i) = (1.0 + warm.part_alpha_per_K.value * dT_p, 1.0 + warm.instrument_alpha_per_K.value * dT_i);
    let seen = warm.reading_mm.value + warm.correction_mm.value;
    let D = seen * stretch_i / stretch_p;
    let (alpha_p, alpha_i) = (warm.part_alpha_per_K.value / stretch_p, warm.instrument_alpha_per_K.value / stretch_i);
    let common = Quantity::with_u(0.0, warm.common_T_u_K);
    let parts = [
        ("reading_mm", D / seen, warm.reading_mm),
        ("correction_mm", D / seen, warm.correction_mm),
        ("part_alpha_per_K", D * dT_p / stretch_p, warm.part_alpha_per_K),
        ("instrument_alpha_per_K", D * dT_i / stretch_i, warm.instrument_alpha_per_K),
        ("part_T_C", D * alpha_p, warm.part_T_C),
        ("instrument_T_C", D * alpha_i, warm.instrument_T_C),
        ("common_T_u_K", D * (alpha_i - alpha_p), common),
    ];
    let of = |(_, sensitivity, input): &(&str, f64, Quantity)| (sensitivity * input.u).abs();
    let u2: f64 = parts.iter().map(|part| sq(of(part))).sum();
    let finite: f64 = parts.iter().filter_map(|part| part.2.dof.map(|dof| powi(of(part), 4) / dof)).sum();
    let mut contributions: Vec<Contribution> = parts
        .iter()
        .map(|part| Contribution { input: part.0, u_mm: of(part), share: if u2 > 0.0 { sq(of(part)) / u2 } else { 0.0 } })
        .collect();
    contributions.sort_by(|a, b| b.u_mm.total_cmp(&a.u_mm));
    Ok(SizeAt20 {
        size_mm: SizeWithDof { value: D, u: u2.sqrt(), dof: (finite > 0.0).then(|| u2 * u2 / finite) },
        shift_um: 1000.0 * (D - warm.reading_mm.value),
        contributions,
        warnings: warnings(warm),
    })
}

fn check(warm: &WarmReading) -> Result<(), Refused> {
    if !(warm.reading_mm.value > 0.0 && warm.reading_mm.value + warm.correction_mm.value > 0.0) {
        return Err(Refused::new("reading_mm", warm.reading_mm.value, "a size over 0 mm, also after its correction", "read it again"));
    }
    for (key, T_C) in [("part_T_C", warm.part_T_C.value), ("instrument_T_C", warm.instrument_T_C.value)] {
        if !(COLDEST_C..=HOTTEST_C).contains(&T_C) {
            let allowed = format!("{COLDEST_C} to {HOTTEST_C} °C");
            return Err(Refused::new(key, T_C, allowed, "let it come nearer to 20 °C and read it again"));
        }
    }
    for (key, alpha) in [("part_alpha_per_K", warm.part_alpha_per_K.value), ("instrument_alpha_per_K", warm.instrument_alpha_per_K.value)] {
        if alpha.is_nan() || alpha.abs() > LARGEST_ALPHA {
            let allowed = format!("-{LARGEST_ALPHA:e} to {LARGEST_ALPHA:e} per K");
            return Err(Refused::new(key, alpha, allowed, "give it per K, as 18e-6 and not as 18"));
        }
    }
    Ok(())
}

fn warnings(warm: &WarmReading) -> Vec<String> {
    let mut warnings = Vec::new();
    let (part_T_C, gauge_T_C) = (warm.part_T_C.value, warm.instrument_T_C.value);
    if part_T_C >= BURNS_C {
        warnings
            .push(format!("The part is at {part_T_C} °C and burns bare skin: let it cool, or hold gauge and probe by their insulation."));
    }
    for (what, T_C) in [("part", part_T_C), ("gauge", gauge_T_C)] {
        if !(GOOD_FROM_C..=GOOD_TO_C).contains(&T_C) {
            warnings.push(format!(
                "The {what} is at {T_C} °C: outside {GOOD_FROM_C} to {GOOD_TO_C} °C one mean coefficient of expansion is no longer good; \
                 take a coefficient for that very range, or read it nearer to 20 °C."
            ));
        }
    }
    if part_T_C - gauge_T_C > JUST_CUT_K {
        warnings.push(
            "The skin of a part is cooler than its bulk just after cutting: take its temperature 2 minutes after the coolant was wiped off."
                .into(),
        );
    }
    warnings
}

const ALPHA: Range = Range::within(-LARGEST_ALPHA, LARGEST_ALPHA);
const TEMPERATURE: Range = Range::within(COLDEST_C, HOTTEST_C);

/// `to-20` in the table of kinds.
pub const KIND: Kind = Kind {
    name: "to-20",
    help: "size at 20 °C of a warm part read with a gauge at another temperature",
    request: &[
        Key::quantity("reading_mm", Range::over(0.0).to(1e5), "the size as it was read").needed(),
        Key::quantity("part_alpha_per_K", ALPHA, "mean expansion of the part per K, as 18e-6 and not as 18").needed(),
        Key::quantity("instrument_alpha_per_K", ALPHA, "mean expansion of the gauge or its standard per K, as 11.5e-6").needed(),
        Key::quantity("part_T_C", TEMPERATURE, "temperature of the part").needed(),
        Key::quantity("instrument_T_C", TEMPERATURE, "temperature of the gauge").needed(),
        Key::quantity("correction_mm", Range::within(-10.0, 10.0), "what its certificate says to add at this size").default("0"),
        Key::number("common_T_u_K", Range::at_least(0.0).to(100.0), "standard uncertainty that both temperatures share").default("0"),
    ],
    answer: &[
        Told { path: "size_mm", help: "size at 20 °C with u and dof (null: endless)" },
        Told { path: "shift_um", help: "size at 20 °C less the reading" },
        Told { path: "contributions", help: "what each input adds to u, largest first" },
    ],
    example: r#"{"reading_mm": {"value": 280.081, "u": 0.0045}, "part_alpha_per_K": {"value": 18e-6, "u": 0.5e-6},
        "instrument_alpha_per_K": {"value": 11.5e-6, "u": 0.5e-6}, "part_T_C": {"value": 33, "u": 0.5},
        "instrument_T_C": {"value": 22, "u": 0.5}, "common_T_u_K": 0.3}"#,
    run: Some(answer_to_20),
};

fn answer_to_20(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let warm = WarmReading {
        reading_mm: given.need_quantity("reading_mm")?,
        correction_mm: given.quantity_or("correction_mm", 0.0),
        part_alpha_per_K: given.need_quantity("part_alpha_per_K")?,
        instrument_alpha_per_K: given.need_quantity("instrument_alpha_per_K")?,
        part_T_C: given.need_quantity("part_T_C")?,
        instrument_T_C: given.need_quantity("instrument_T_C")?,
        common_T_u_K: given.number_or("common_T_u_K", 0.0),
    };
    let size = size_at_20(&warm)?;
    desk.working.step(
        "size at 20 °C",
        "D20 = (R + c)(1 + a_i (T_i - 20))/(1 + a_p (T_p - 20))",
        &[
            ("R mm", warm.reading_mm.value),
            ("c mm", warm.correction_mm.value),
            ("a_i per K", warm.instrument_alpha_per_K.value),
            ("T_i C", warm.instrument_T_C.value),
            ("a_p per K", warm.part_alpha_per_K.value),
            ("T_p C", warm.part_T_C.value),
        ],
        &[("D20 mm", size.size_mm.value)],
        "ISO 1",
    );
    let with: Vec<(&str, f64)> = size.contributions.iter().map(|part| (part.input, part.u_mm)).collect();
    desk.working.step(
        "its uncertainty",
        "u^2 = sum of the squared parts, in mm",
        &with,
        &[("u mm", size.size_mm.u)],
        "JCGM 100:2008 5.1.2",
    );
    told(&size)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BRONZE: WarmReading = WarmReading {
        reading_mm: Quantity::with_u(260.1, 0.004),
        correction_mm: Quantity::exact(0.0),
        part_alpha_per_K: Quantity::exact(18e-6),
        instrument_alpha_per_K: Quantity::exact(11.5e-6),
        part_T_C: Quantity::with_u(31.0, 1.0),
        instrument_T_C: Quantity::exact(22.0),
        common_T_u_K: 0.0,
    };

    #[test]
    fn a_kelvin_on_260_mm_of_bronze_is_more_than_the_micrometer() {
        let size = size_at_20(&BRONZE).unwrap();
        let worst = size.contributions[0];
        assert_eq!(worst.input, "part_T_C");
        assert!((worst.u_mm - 0.0047).abs() < 5e-5, "{worst:?}");
    }

    #[test]
    fn one_thermometer_for_both_is_better_than_two_as_good() {
        let two = WarmReading { instrument_T_C: Quantity::with_u(22.0, 1.0), ..BRONZE };
        let one = WarmReading { part_T_C: Quantity::exact(31.0), instrument_T_C: Quantity::exact(22.0), common_T_u_K: 1.0, ..BRONZE };
        assert!(size_at_20(&one).unwrap().size_mm.u < size_at_20(&two).unwrap().size_mm.u);
    }

    #[test]
    fn degrees_of_freedom_come_from_the_input_that_has_few() {
        assert_eq!(size_at_20(&BRONZE).unwrap().size_mm.dof, None);
        let few = WarmReading { reading_mm: Quantity { dof: Some(4.0), ..Quantity::with_u(260.1, 0.004) }, ..BRONZE };
        let alone = WarmReading { part_T_C: Quantity::exact(31.0), ..few };
        assert!((size_at_20(&alone).unwrap().size_mm.dof.unwrap() - 4.0).abs() < 1e-12);
        assert!(size_at_20(&few).unwrap().size_mm.dof.unwrap() > 4.0);
    }

    #[test]
    fn what_can_not_be_reduced_is_refused_by_its_key() {
        for (warm, key) in [
            (WarmReading { reading_mm: Quantity::exact(0.0), ..BRONZE }, "reading_mm"),
            (WarmReading { correction_mm: Quantity::exact(-261.0), ..BRONZE }, "reading_mm"),
            (WarmReading { part_T_C: Quantity::exact(301.0), ..BRONZE }, "part_T_C"),
            (WarmReading { instrument_T_C: Quantity::exact(f64::NAN), ..BRONZE }, "instrument_T_C"),
            (WarmReading { part_alpha_per_K: Quantity::exact(18.0), ..BRONZE }, "part_alpha_per_K"),
        ] {
            assert_eq!(size_at_20(&warm).unwrap_err().key, key);
        }
    }

    #[test]
    fn hot_and_far_from_20_is_said() {
        let says = |T_C: f64, word: &str| {
            let warm = WarmReading { part_T_C: Quantity::exact(T_C), ..BRONZE };
            size_at_20(&warm).unwrap().warnings.iter().any(|text| text.contains(word))
        };
        assert!(says(130.0, "one mean coefficient") && says(-70.0, "one mean coefficient") && !says(31.0, "one mean coefficient"));
        assert!(says(65.0, "burns") && !says(35.0, "burns"));
    }
}
