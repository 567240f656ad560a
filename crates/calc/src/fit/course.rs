//! How the interference runs along a seat whose bore is tapered or barrelled, and whether its shape matters beside plain rings.
//!
//! It leaves the answer along the length to `fit-shape`. Limits: taper and barrel as a survey tells them, linear and parabolic.

/// Straight pieces for a barrel: few, since each end of one is a corner that the joint feels.
const PIECES: usize = 8;
/// A barrel (centre less ends) that is as good as none, of the interference. *Common practice*: the chord of it is within a hundredth.
const STRAIGHT: f64 = 0.02;
/// A change of the interference along the seat that rings need not know of, of its mean. *Common practice*.
const EVEN: f64 = 0.05;
/// A difference of close-in or force that rings need not know of, of theirs. *Common practice*: half of what D_e is known to.
const SMALL: f64 = 0.05;

/// The form of a bore over the span that was surveyed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Form {
    /// First station, mm from the datum end.
    pub from_mm: f64,
    /// Last station, mm.
    pub to_mm: f64,
    /// Change of the diameter over the span, µm.
    pub taper_um: f64,
    /// c of the barrel: a third of centre less ends, µm.
    pub barrel_um: f64,
}

/// Interference along the seat, (z mm, µm) from one end of the land to the other: what is effective at the mean bore, less what the bore
/// is larger there.
///
/// D(ζ) − mean = taper ζ/2 + c (1 − 3ζ²), ζ from −1 to 1 over the span that was surveyed, and on beyond it to the ends of the land.
/// Two places where there is no barrel to speak of. Source: the survey's own model.
pub fn interference(effective_um: f64, form: Form, land_mm: (f64, f64)) -> Vec<(f64, f64)> {
    let straight = (3.0 * form.barrel_um).abs() <= STRAIGHT * effective_um.abs();
    let (pieces, barrel_um) = if straight { (1, 0.0) } else { (PIECES, form.barrel_um) };
    let place = |z_mm: f64| {
        let zeta = (2.0 * z_mm - form.from_mm - form.to_mm) / (form.to_mm - form.from_mm);
        let larger_um = 0.5 * form.taper_um * zeta + barrel_um * (1.0 - 3.0 * zeta * zeta);
        (z_mm, effective_um - larger_um)
    };
    places(land_mm.0, land_mm.1, pieces + 1).into_iter().map(place).collect()
}

/// Whether that course is as good as even: within 5 % of its mean.
pub fn is_even(course: &[(f64, f64)], effective_um: f64) -> bool {
    course.iter().all(|(_, um)| (um - effective_um).abs() <= EVEN * effective_um.abs())
}

/// Whether a figure by the shape departs from that of rings by more than 5 %, or by more than the doubt that the ring's figure has.
pub fn matters(shape: f64, rings: f64, half_width: f64) -> bool {
    let apart = (shape - rings).abs();
    apart > SMALL * rings.abs() && apart > half_width.abs()
}

/// Places for a profile over a length: evenly, ends included.
pub fn places(from_mm: f64, to_mm: f64, count: usize) -> Vec<f64> {
    let last = count.saturating_sub(1).max(1) as f64;
    (0..count).map(|i| from_mm + (to_mm - from_mm) * i as f64 / last).collect()
}

/// Where a housing shorter or longer than its bush begins when it stands about the bush's middle, mm from the bush's datum end.
pub fn middled(bush_mm: f64, housing_mm: f64) -> f64 {
    0.5 * (bush_mm - housing_mm)
}

/// Length of a bush's body without its flange, mm.
pub fn body(length_mm: f64, flange_mm: f64) -> f64 {
    length_mm - flange_mm
}

/// Whether a groove of that middle and width lies inside a body of that length, some wall left at both ends.
pub fn inside(middle_mm: f64, width_mm: f64, body_mm: f64) -> bool {
    middle_mm - width_mm > 0.0 && middle_mm + width_mm < body_mm
}

/// Depth of a groove from the bore as it is while fitting: what is left to finish lies on it too.
pub fn depth_while_fitting(depth_mm: f64, finished_mm: f64, fitting_mm: f64) -> f64 {
    depth_mm + 0.5 * (finished_mm - fitting_mm)
}

/// Both edges of a groove.
pub fn about(middle_mm: f64, width_mm: f64) -> (f64, f64) {
    (middle_mm - 0.5 * width_mm, middle_mm + 0.5 * width_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_a_course_stays_and_a_taper_takes_at_its_wide_end() {
        let form = Form { from_mm: 10.0, to_mm: 170.0, taper_um: 20.0, barrel_um: 4.0 };
        let course = interference(100.0, form, (10.0, 170.0));
        assert_eq!((course[0], course[8], course.len()), ((10.0, 118.0), (170.0, 98.0), 9));
        assert_eq!(course[4], (90.0, 96.0));
        // Simpson's rule is exact for a parabola.
        let simpson = |i: usize| {
            if i == 0 || i == 8 {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            }
        };
        let mean = course.iter().enumerate().map(|(i, (_, um))| simpson(i) * um).sum::<f64>() / 24.0;
        assert!((mean - 100.0).abs() < 1e-12);
        let straight = Form { taper_um: 6.0, barrel_um: 0.5, ..form };
        assert_eq!(interference(100.0, straight, (0.0, 180.0)), [(0.0, 103.375), (180.0, 96.625)]);
        assert!(!is_even(&course, 100.0) && is_even(&interference(100.0, straight, (0.0, 180.0)), 100.0));
    }

    #[test]
    fn a_shape_matters_past_five_percent_and_past_the_doubt() {
        for (shape, rings, half, matters_) in
            [(104.0, 100.0, 0.0, false), (94.0, 100.0, 2.0, true), (94.0, 100.0, 8.0, false), (50.0, 0.0, 1.0, true)]
        {
            assert_eq!(matters(shape, rings, half), matters_, "{shape} {rings} {half}");
        }
        assert_eq!(places(0.0, 10.0, 3), [0.0, 5.0, 10.0]);
        assert_eq!(middled(180.0, 160.0), 10.0);
        assert_eq!(body(180.0, 12.0), 168.0);
    }
}
