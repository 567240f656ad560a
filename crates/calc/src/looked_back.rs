//! How far does what was measured lie from what was predicted, in one job and over many?
//!
//! Each pair is judged by its own doubts; many pairs are brought together by a weighted mean, whose doubt grows where the pairs scatter
//! more than they should. It leaves to others what is compared, and takes no prediction back: a person sees how good they were.

use crate::math::sq;
use crate::quantity::Quantity;
use crate::shown::half_width_95;

/// A prediction and what was measured, in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// As it was predicted.
    pub predicted: Quantity,
    /// As it was measured.
    pub measured: Quantity,
}

impl Pair {
    /// Measured less predicted; their doubts are independent.
    pub fn difference(&self) -> Quantity {
        less(self.measured, self.predicted)
    }

    /// Whether the two agree: `|m − p| ≤ √(U_m² + U_p²)`, U the half-widths of 95 %.
    ///
    /// Source: the E_n number of comparisons (ISO/IEC 17043, from memory).
    pub fn agrees(&self) -> bool {
        let room = (sq(half_width_95(&self.measured)) + sq(half_width_95(&self.predicted))).sqrt();
        (self.measured.value - self.predicted.value).abs() <= room
    }
}

/// Many pairs of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Together {
    /// How many.
    pub count: usize,
    /// How many of them agree.
    pub agree: usize,
    /// Measured less predicted, the mean of all.
    pub difference: Quantity,
}

impl Together {
    /// Whether the mean difference is more than its doubt: the prediction leans to one side.
    pub fn leans(&self) -> bool {
        self.difference.value.abs() > half_width_95(&self.difference)
    }
}

/// One quantity less another, their doubts independent.
///
/// Source: JCGM 100:2008 5.1 (from memory).
pub fn less(this: Quantity, other: Quantity) -> Quantity {
    Quantity::with_u(this.value - other.value, (sq(this.u) + sq(other.u)).sqrt())
}

/// Brings pairs together; none where there are none.
///
/// `d = Σ w_i d_i / Σ w_i`, `w_i = 1 / u_i²`, `u² = max(1, R²) / Σ w_i`, `R² = Σ w_i (d_i − d)² / (n − 1)`. A pair without any doubt is
/// given the least doubt of the others, or 1 where none has one.
/// Source: weighted mean with the Birge ratio R (Birge 1932, from memory).
pub fn together(pairs: &[Pair]) -> Option<Together> {
    let count = pairs.len();
    if count == 0 {
        return None;
    }
    let differences: Vec<Quantity> = pairs.iter().map(Pair::difference).collect();
    let least = differences.iter().map(|d| d.u).filter(|u| *u > 0.0).fold(f64::INFINITY, f64::min);
    let least = if least.is_finite() { least } else { 1.0 };
    let weighted: Vec<(f64, f64)> = differences.iter().map(|d| (1.0 / sq(if d.u > 0.0 { d.u } else { least }), d.value)).collect();
    let whole: f64 = weighted.iter().map(|(w, _)| w).sum();
    let mean = weighted.iter().map(|(w, d)| w * d).sum::<f64>() / whole;
    let scatter: f64 = weighted.iter().map(|(w, d)| w * sq(d - mean)).sum();
    let birge = if count > 1 { (scatter / (count - 1) as f64).max(1.0) } else { 1.0 };
    let agree = pairs.iter().filter(|pair| pair.agrees()).count();
    Some(Together { count, agree, difference: Quantity::with_u(mean, (birge / whole).sqrt()) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(p: f64, u_p: f64, m: f64, u_m: f64) -> Pair {
        Pair { predicted: Quantity::with_u(p, u_p), measured: Quantity::with_u(m, u_m) }
    }

    #[test]
    fn a_pair_agrees_within_the_doubts_of_both() {
        for (pair, agrees, source) in [
            (pair(100.0, 3.0, 109.0, 4.0), true, "9 < 1.96 x 5"),
            (pair(100.0, 3.0, 110.0, 4.0), false, "10 > 1.96 x 5"),
            (pair(100.0, 0.0, 100.0, 0.0), true, "the same"),
        ] {
            assert_eq!(pair.agrees(), agrees, "{source}");
        }
    }

    #[test]
    fn pairs_come_together_by_their_weights_and_scatter() {
        // By hand: weights 1, 1; mean 2; R² = 2, so u² = 2 / 2.
        let both = together(&[pair(0.0, 0.6, 1.0, 0.8), pair(0.0, 0.6, 3.0, 0.8)]).unwrap();
        assert!((both.difference.value - 2.0).abs() < 1e-12 && (both.difference.u - 1.0).abs() < 1e-12);
        // Weights 1 and 1/4: (1 + 2/4) / (5/4) = 1.2; they scatter less than they may, so u² = 1 / (5/4).
        let both = together(&[pair(0.0, 1.0, 1.0, 0.0), pair(0.0, 2.0, 2.0, 0.0)]).unwrap();
        assert!((both.difference.value - 1.2).abs() < 1e-12 && (both.difference.u - 0.8_f64.sqrt()).abs() < 1e-12);
        assert!(!both.leans() && both.agree == 2);
        assert_eq!(together(&[]), None);
        assert!(together(&[pair(1.0, 0.0, 1.0, 0.0)]).unwrap().difference.u > 0.0);
    }
}
