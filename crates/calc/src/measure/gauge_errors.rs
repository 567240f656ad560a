//! What geometry does to a reading: a gauge held off the axis, askew, or swung (`gauge-errors`), and which lobes a way of
//! measuring can see at all (`lobes`).
//!
//! It corrects nothing by itself: the errors are for judging a method of measuring and for finding the turning point by hand.

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::keys::{Given, Key, Range, Told};
use crate::math::{PI, asin, cos, powi, sin, sq};
use crate::refused::Refused;

/// How a gauge is held wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// The line of the two contacts passes the axis at the offset.
    Chord,
    /// The ends of the stick stand apart along the axis by the offset.
    Tilt,
    /// A short stick that touches at one end swings by the offset in all.
    Rock,
    /// A tape round the outside climbs by the offset in one turn.
    Tape,
}

/// Error of a reading, exact and for small offsets, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GaugeError {
    /// Reading minus diameter; for rock, what to add to the stick's length. mm.
    pub error_mm: f64,
    /// The same by the first term of its series, mm.
    pub error_small_mm: f64,
}

/// Error of a reading that is taken off centre or askew.
///
/// - chord: √(D² − 4e²) − D, small −2e²/D
/// - tilt: √(D² + s²) − D, small s²/(2D)
/// - rock: D (1 − cos(½ asin(w/D))), small w²/(8D)
/// - tape: √((πD)² + h²)/π − D, small h²/(2π²D)
///
/// diameter_mm: D > 0; offset_mm: e, s, w or h ≥ 0. Refused: e beyond D/2, w beyond D.
/// Source: plane geometry, derived in the method page; nothing is taken from a table.
pub fn gauge_error(effect: Effect, diameter_mm: f64, offset_mm: f64) -> Result<GaugeError, Refused> {
    let (D, x) = (diameter_mm, offset_mm);
    let beyond = |limit: f64| {
        let allowed = format!("an offset of 0 to {limit} on a diameter of {D}");
        Refused::new("offset_mm", x, allowed, "measure the offset again: the gauge would not touch the wall")
    };
    // Differences of near-equal numbers are written as quotients, which keep their digits at small offsets.
    let (error_mm, error_small_mm) = match effect {
        Effect::Chord if x > D / 2.0 => return Err(beyond(D / 2.0)),
        Effect::Rock if x > D => return Err(beyond(D)),
        Effect::Chord => (-4.0 * sq(x) / ((sq(D) - 4.0 * sq(x)).sqrt() + D), -2.0 * sq(x) / D),
        Effect::Tilt => (sq(x) / ((sq(D) + sq(x)).sqrt() + D), sq(x) / (2.0 * D)),
        Effect::Rock => (2.0 * D * sq(sin(0.25 * asin(x / D))), sq(x) / (8.0 * D)),
        Effect::Tape => (sq(x) / (PI * ((sq(PI * D) + sq(x)).sqrt() + PI * D)), sq(x) / (2.0 * sq(PI) * D)),
    };
    Ok(GaugeError { error_mm, error_small_mm })
}

/// What a form of n lobes of radial amplitude a shows in three ways of measuring, per a.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lobes {
    /// Two-point diameter: 2 for even n, 0 for odd.
    pub two_point: f64,
    /// Three self-centring contacts at 120°, as diameter: 2 for multiples of 3, else 0.
    pub three_contact: f64,
    /// Vee with the dial opposite, one figure an angle asked for.
    pub vee: Vec<f64>,
}

/// Response of two-point, three-contact and vee measurement to n lobes.
///
/// vee of angle α: 1 + (−1)ⁿ cos(nγ)/sin(α/2), γ = 90° − α/2. lobes: n ≥ 2; vee_deg: over 0 and under 180.
/// Source: ISO 4292, vee methods (from memory; the formula was derived again for the method page).
pub fn lobes(n: u32, vee_deg: &[f64]) -> Lobes {
    let sign = powi(-1.0, n % 2);
    let vee = |angle_deg: &f64| {
        let half = angle_deg.to_radians() / 2.0;
        1.0 + sign * cos(f64::from(n) * (PI / 2.0 - half)) / sin(half)
    };
    Lobes {
        two_point: if n.is_multiple_of(2) { 2.0 } else { 0.0 },
        three_contact: if n.is_multiple_of(3) { 2.0 } else { 0.0 },
        vee: vee_deg.iter().map(vee).collect(),
    }
}

/// `gauge-errors` in the table of kinds.
pub const GAUGE_ERRORS: Kind = Kind {
    name: "gauge-errors",
    help: "what a gauge held off centre or askew reads",
    request: &[
        Key::word("effect", &["chord", "tilt", "rock", "tape"], "how the gauge is held wrong").needed(),
        Key::number("diameter_mm", Range::over(0.0).to(1e5), "the true diameter").needed(),
        Key::number("offset_mm", Range::at_least(0.0).to(1e5), "how far off, by the effect's own measure").needed(),
    ],
    answer: &[
        Told { path: "error_mm", help: "reading minus diameter (rock: what to add to the stick)" },
        Told { path: "error_small_mm", help: "the same by the first term of its series" },
    ],
    example: r#"{"effect": "tilt", "diameter_mm": 260, "offset_mm": 3}"#,
    run: Some(answer_gauge_errors),
};

fn answer_gauge_errors(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let effect = match given.need_word("effect")? {
        "chord" => Effect::Chord,
        "tilt" => Effect::Tilt,
        "rock" => Effect::Rock,
        _ => Effect::Tape,
    };
    let (D, x) = (given.need_number("diameter_mm")?, given.need_number("offset_mm")?);
    let error = gauge_error(effect, D, x)?;
    let formula = match effect {
        Effect::Chord => "sqrt(D^2 - 4 e^2) - D",
        Effect::Tilt => "sqrt(D^2 + s^2) - D",
        Effect::Rock => "D (1 - cos(asin(w/D)/2))",
        Effect::Tape => "sqrt((pi D)^2 + h^2)/pi - D",
    };
    desk.working.step("error of the reading", formula, &[("D mm", D), ("offset mm", x)], &[("error mm", error.error_mm)], "plane geometry");
    told(&error)
}

/// `lobes` in the table of kinds.
pub const LOBES: Kind = Kind {
    name: "lobes",
    help: "which lobes a way of measuring can see",
    request: &[
        Key::whole("lobes", Range::within(1.0, 10_000.0), "number of lobes round the circle").needed(),
        Key::numbers("vee_deg", Range::over(0.0).under(180.0), "angles of the vees to try").default("[]"),
    ],
    answer: &[
        Told { path: "two_point", help: "shown by a two-point diameter, per radial amplitude" },
        Told { path: "three_contact", help: "shown by three self-centring contacts, as diameter" },
        Told { path: "vee", help: "shown by each vee with the dial opposite" },
    ],
    example: r#"{"lobes": 3, "vee_deg": [60, 90, 120]}"#,
    run: Some(answer_lobes),
};

fn answer_lobes(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let n = given.whole_or("lobes", 2) as u32;
    let angles = given.numbers("vee_deg");
    let answer = lobes(n, &angles);
    for (angle, seen) in angles.iter().zip(&answer.vee) {
        let with = [("n", f64::from(n)), ("alpha deg", *angle)];
        desk.working.step(
            "lobes in a vee",
            "1 + (-1)^n cos(n (90 - alpha/2))/sin(alpha/2)",
            &with,
            &[("per a", *seen)],
            "ISO 4292 (memory)",
        );
    }
    told(&answer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_that_the_gauge_cannot_have_is_refused_by_name() {
        let refused = gauge_error(Effect::Chord, 100.0, 50.1).unwrap_err();
        assert_eq!((refused.key.as_str(), refused.given.as_str()), ("offset_mm", "50.1"));
    }

    #[test]
    fn chord_reads_small_and_tilt_large() {
        for offset in [0.01, 1.0, 20.0] {
            assert!(gauge_error(Effect::Chord, 260.0, offset).unwrap().error_mm < 0.0);
            assert!(gauge_error(Effect::Tilt, 260.0, offset).unwrap().error_mm > 0.0);
        }
    }
}
