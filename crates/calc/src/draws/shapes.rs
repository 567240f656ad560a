//! How 64 random bits become one draw of a shape, per standard uncertainty: elementwise functions that a compiler can run on
//! many draws side by side.
//!
//! Only + - * / sqrt, shifts and masks are used, which IEEE 754 fixes to the last bit: vectors of any width and WebAssembly
//! give the same draws. The logarithm, the sine and the exponential are polynomials for draws alone (nearest in relative error,
//! found by a Remez exchange in 40 digits): a normal draw is within 5e-9 of the exact one, a thousandth of the standard error of
//! the mean of 1e8 draws. Answers never use them; for those see `math`.

use std::f64::consts::LN_2;

/// √3, √6 and √2: half widths of the rectangular, triangular and arcsine shapes of unit standard deviation (JCGM 101 6.4).
const SQRT_3: f64 = 1.732_050_807_568_877_2;
const SQRT_6: f64 = 2.449_489_742_783_178;
const SQRT_2: f64 = std::f64::consts::SQRT_2;

/// Even over 0 < x < 1, in steps of 2^-52: never 0 and never 1.
#[inline(always)]
pub fn even(word: u64) -> f64 {
    // The bits as mantissa of a number from 1 to 2; the half step keeps both ends out.
    f64::from_bits(0x3ff0_0000_0000_0000 | (word >> 12)) - (1.0 - 0.5 * 2.220_446_049_250_313e-16)
}

/// Two independent draws, rectangular over ±√3 in 2^32 steps, one from each half of the word.
#[inline(always)]
pub fn rectangular_pair(word: u64) -> (f64, f64) {
    // Twice the half word and one more: the middle of its step.
    let of = |odd: u64| (f64::from_bits(TWO_52_BITS | odd) - (TWO_52 + 4_294_967_296.0)) * (SQRT_3 / 4_294_967_296.0);
    (of((word >> 31) | 1), of(((word << 1) & 0x1_ffff_fffe) | 1))
}

/// Triangular over ±√6: the sum of two even draws, one from each half of the word.
#[inline(always)]
pub fn triangular(word: u64) -> f64 {
    let sum = whole((word >> 32) + (word & 0xffff_ffff)) + 1.0;
    (sum * (1.0 / 4_294_967_296.0) - 1.0) * SQRT_6
}

/// Arcsine over ±√2: the sine of an even phase.
#[inline(always)]
pub fn arcsine(word: u64) -> f64 {
    let x = 2.0 * even(word) - 1.0;
    quarter_sine(x) * quarter_cosine(x) * (2.0 * SQRT_2)
}

/// Two independent standard normal draws: radius √(−2 ln u) in an even direction. Out to 7.9 standard deviations.
///
/// Source: Box and Muller, A note on the generation of random normal deviates (1958).
#[inline(always)]
pub fn normal_pair(word: u64) -> (f64, f64) {
    on_radius(word, square_radius(split(word)), half_angle(word))
}

/// The pair from its word, the square of its radius, and the sine and cosine of half its angle.
#[inline(always)]
pub fn on_radius(word: u64, square: f64, (sine, cosine): (f64, f64)) -> (f64, f64) {
    let radius = square.sqrt();
    let twice = sine + sine;
    (on_side(word, radius * (1.0 - twice * sine)), radius * (twice * cosine))
}

/// Student's t with `dof` degrees of freedom; infinite `dof` is the normal distribution.
///
/// √(ν(u^(−2/ν) − 1)) times the cosine of an even direction. Source: Bailey, Polar generation of random variates with the
/// t-distribution (1994). Only one of the two coordinates may be used: they are not independent.
#[inline(always)]
pub fn student(word: u64, dof: f64) -> f64 {
    student_at(word, student_square(square_radius(split(word)), dof))
}

/// ν(u^(−2/ν) − 1) from −2 ln u.
#[inline(always)]
pub fn student_square(square: f64, dof: f64) -> f64 {
    // Above 1e7 the t is the normal distribution within 1e-7, and the power of u has no digits left.
    if dof > 1e7 { square } else { dof * exp_less_1(square * (1.0 / dof)) }
}

/// The draw of Student's t from the square of its radius.
#[inline(always)]
pub fn student_at(word: u64, square: f64) -> f64 {
    let (s, _) = half_angle(word);
    on_side(word, square.sqrt() * (1.0 - 2.0 * (s * s)))
}

/// u, even over 0 < u < 1 from the upper 44 bits of the word in steps of 2^-44, as (r, −2 e ln 2): u = 2^e (1 + r), 1 + r
/// from √½ to √2.
#[inline(always)]
pub fn split(word: u64) -> (f64, f64) {
    const SQRT_HALF_BITS: u64 = 0x3fe6_a09e_667f_3bcd;
    const ONE_STEP: u64 = 1 << 52;
    // The half step that keeps 0 and 1 out is a last bit of 1: v = u 2^45.
    let v = f64::from_bits(TWO_52_BITS | ((word >> 19) | 1)) - TWO_52;
    // Exponents are kept one too large, so that they are never negative.
    let steps = (v.to_bits() - (SQRT_HALF_BITS - ONE_STEP)) & 0xfff0_0000_0000_0000;
    let f = f64::from_bits(v.to_bits() - steps + ONE_STEP);
    let e = f64::from_bits(TWO_52_BITS | (steps >> 52)) - (TWO_52 + 46.0);
    (f - 1.0, e * (-2.0 * LN_2))
}

/// −2 ln u from the parts of u. Relative error under 1e-9, always positive.
#[inline(always)]
pub fn square_radius((r, whole_part): (f64, f64)) -> f64 {
    whole_part + r * minus_2_log_quotient(r)
}

/// −2 ln(1 + r)/r for 1 + r from √½ to √2; relative error 6.4e-10. (Pairs of terms, to keep the chain of operations short.)
#[inline(always)]
fn minus_2_log_quotient(r: f64) -> f64 {
    const C: [f64; 11] = [
        -2.0 * 1.000_000_000_631_163,
        2.0 * 0.499_999_996_681_865_5,
        -2.0 * 0.333_333_016_063_495_7,
        2.0 * 0.250_000_269_961_531_46,
        -2.0 * 0.200_025_760_396_601_2,
        2.0 * 0.166_679_158_329_224_23,
        -2.0 * 0.142_125_315_201_757_75,
        2.0 * 0.124_010_188_357_486_37,
        -2.0 * 0.119_260_858_485_899_94,
        2.0 * 0.117_185_277_116_712_35,
        -2.0 * 0.067_257_887_472_246_45,
    ];
    let r2 = r * r;
    let r4 = r2 * r2;
    let low = (C[0] + C[1] * r) + (C[2] + C[3] * r) * r2;
    let mid = (C[4] + C[5] * r) + (C[6] + C[7] * r) * r2;
    let high = (C[8] + C[9] * r) + C[10] * r2;
    low + (mid + high * r4) * r4
}

/// Sine and cosine of half of one of 2^19 even angles of the right half of the circle, each in the middle of its step.
#[inline(always)]
pub fn half_angle(word: u64) -> (f64, f64) {
    let x = (f64::from_bits((TWO_52_BITS | 1) | (word & 0xf_fffe)) - (TWO_52 + 524_288.0)) * (1.0 / 524_288.0);
    (quarter_sine(x), quarter_cosine(x))
}

/// x on the left or the right half of the circle, by the last bit of the word.
#[inline(always)]
fn on_side(word: u64, x: f64) -> f64 {
    f64::from_bits(x.to_bits() ^ (word << 63))
}

/// sin(πx/4) for −1 < x < 1; relative error 5e-12.
#[inline(always)]
fn quarter_sine(x: f64) -> f64 {
    let y = x * x;
    let y2 = y * y;
    let low = 0.785_398_163_393_875 - 0.080_745_512_012_802_58 * y;
    let high = (0.002_490_393_182_591_130_6 - 3.657_234_865_353_894e-5 * y) + 3.089_747_545_343_673_4e-7 * y2;
    x * (low + high * y2)
}

/// cos(πx/4) for −1 < x < 1; relative error 6e-11.
#[inline(always)]
fn quarter_cosine(x: f64) -> f64 {
    let y = x * x;
    let y2 = y * y;
    let low = 0.999_999_999_943_938 - 0.308_425_134_891_189_5 * y;
    let high = (0.015_854_323_912_244_26 - 3.259_365_004_134_405e-4 * y) + 3.528_761_610_184_978e-6 * y2;
    low + high * y2
}

/// e^x − 1 for 0 ≤ x < 700; relative error under 1e-9.
#[inline(always)]
fn exp_less_1(x: f64) -> f64 {
    // Adding 1.5·2^52 rounds to a whole number and leaves it in the low bits.
    const ROUNDER: f64 = 6_755_399_441_055_744.0;
    let rounded = x * (1.0 / LN_2) + ROUNDER;
    let power = f64::from_bits((rounded.to_bits() << 52).wrapping_add(0x3ff0_0000_0000_0000));
    let g = x - (rounded - ROUNDER) * LN_2;
    let g2 = g * g;
    let quotient = (1.000_000_000_031_189_7 + 0.500_000_004_665_238_2 * g)
        + ((0.166_666_662_495_961_35 + 0.041_666_354_447_732_78 * g)
            + ((0.008_333_402_909_116_628 + 0.001_394_100_510_279_100_8 * g) + 1.984_124_484_127_843_3e-4 * g2) * g2)
            * g2;
    (power - 1.0) + power * (g * quotient)
}

/// A whole number under 2^52 as f64, by its bits (vectors of older machines have no conversion).
#[inline(always)]
fn whole(n: u64) -> f64 {
    f64::from_bits(TWO_52_BITS | n) - TWO_52
}

/// 2^52, whose bits with a whole number in the lower ones are 2^52 and that number.
const TWO_52: f64 = 4_503_599_627_370_496.0;
const TWO_52_BITS: u64 = 0x4330_0000_0000_0000;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::{PI, cos, expm1, ln, sin};

    /// Words at both ends of the radius and of the direction, and some between.
    fn words() -> impl Iterator<Item = u64> {
        let ends = [0, 1, 0xf_ffff, 0x10_0000, u64::MAX, u64::MAX - 1, u64::MAX << 20, 1 << 63, (1 << 63) - 1];
        ends.into_iter().chain((0..40_000_u64).map(|i| (i + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15)))
    }

    /// The direction of a word in half turns from the right, and its side.
    fn turn(word: u64) -> f64 {
        (((word >> 1) & 0x7_ffff) as f64 + 0.5) / 524_288.0 - 0.5
    }

    fn side(word: u64) -> f64 {
        if word & 1 == 0 { 1.0 } else { -1.0 }
    }

    #[test]
    fn a_normal_pair_is_the_exact_pair_within_5e_9() {
        for word in words() {
            let u = ((word >> 20) as f64 + 0.5) / 17_592_186_044_416.0;
            let (side, turn) = (side(word), turn(word));
            let radius = (-2.0 * ln(u)).sqrt();
            let (x, y) = normal_pair(word);
            assert!((x - side * radius * cos(PI * turn)).abs() < 5e-9, "{word:#x}: {x}");
            assert!((y - radius * sin(PI * turn)).abs() < 5e-9, "{word:#x}: {y}");
        }
    }

    #[test]
    fn the_farthest_normal_draw_is_near_8_standard_deviations() {
        let (_, y) = normal_pair(0xf_ffff);
        assert!((7.8..8.0).contains(&y), "{y}");
    }

    #[test]
    fn a_student_draw_is_the_exact_one_within_1e_8_of_its_radius() {
        for dof in [2.01, 3.0, 9.0, 200.0, 1e5] {
            for word in words() {
                let u = ((word >> 20) as f64 + 0.5) / 17_592_186_044_416.0;
                let radius = (dof * expm1(-2.0 / dof * ln(u))).sqrt();
                let exact = side(word) * radius * cos(PI * turn(word));
                assert!((student(word, dof) - exact).abs() <= 1e-8 * radius, "dof {dof}, {word:#x}");
            }
        }
    }

    #[test]
    fn shapes_with_an_end_stay_inside_it_and_reach_it() {
        for (shape, end) in [
            ((|word| rectangular_pair(word).0) as fn(u64) -> f64, SQRT_3),
            (|word| rectangular_pair(word).1, SQRT_3),
            (triangular, SQRT_6),
            (arcsine, SQRT_2),
        ] {
            let (low, high) = words().map(shape).fold((0.0_f64, 0.0_f64), |(low, high), x| (low.min(x), high.max(x)));
            assert!(low >= -end * (1.0 + 1e-9) && high <= end * (1.0 + 1e-9), "{low} {high}");
            assert!(low < -end * (1.0 - 1e-9) && high > end * (1.0 - 1e-9), "{low} {high}");
        }
        assert!(even(0) > 0.0 && even(u64::MAX) < 1.0);
    }
}
