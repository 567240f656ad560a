//! What a wet surface gives up to its medium, W/m², and how that changes with the surface's temperature.
//!
//! A constant h, or boiling nitrogen. The boiling curve is straight in log-log; a power is too slow for a step loop, so each straight
//! piece is cut in `CUTS` cubics that meet it in value and slope (off by under 1e-6 of q between).
//! Source of the curve: peak, Zuber 0.131 h_fg √ρ_v [σ g (ρ_l − ρ_v)]^(1/4) = 162 kW/m²; film about 130 W/(m² K), Berenson 1961, on
//! saturation properties; measured on cylinders 100 to 700 (student laboratory report, read); minimum at 35 K and 6 kW/m² is the
//! project's choice between Zuber-Berenson's 8.4 and the 25 to 50 K at which metals rewet (memory).

use crate::math::{ln, pow};

/// Surface over bath K, flux kW/m².
const CURVE: [(f64, f64); 9] =
    [(1.0, 0.4), (3.0, 4.0), (5.0, 20.0), (10.0, 120.0), (12.0, 160.0), (35.0, 6.0), (100.0, 13.5), (200.0, 26.0), (216.0, 28.0)];
/// Under 1 K the flux is linear, W/(m² K).
const LINEAR: f64 = 400.0;
/// Over 216 K the last slope goes on; to here, K.
const HOTTEST_K: f64 = 4000.0;
/// Cubics a straight piece.
const CUTS: usize = 64;

/// How a surface gives up heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Exchange {
    /// q = h (T − bath), W/(m² K).
    Constant(f64),
    /// Liquid nitrogen, its curve times this factor.
    Nitrogen(f64),
}

impl Exchange {
    /// The same with its flux times `factor`.
    pub fn times(self, factor: f64) -> Self {
        match self {
            Self::Constant(h) => Self::Constant(h * factor),
            Self::Nitrogen(own) => Self::Nitrogen(own * factor),
        }
    }

    /// Flux at `dT` over the bath, W/m²: the curve itself, for whoever is in no hurry.
    pub fn flux(self, dT: f64) -> f64 {
        match self {
            Self::Constant(h) => h * dT,
            Self::Nitrogen(factor) => factor * boiling(dT),
        }
    }
}

/// The boiling curve, W/m².
fn boiling(dT: f64) -> f64 {
    if dT <= CURVE[0].0 {
        return LINEAR * dT;
    }
    let piece = CURVE.iter().skip(1).take(CURVE.len() - 2).take_while(|(end, _)| dT > *end).count();
    let ((T0, q0), p) = (CURVE[piece], power(piece));
    1e3 * q0 * pow(dT / T0, p)
}

/// Slope of a piece in log-log.
fn power(piece: usize) -> f64 {
    let ((T0, q0), (T1, q1)) = (CURVE[piece], CURVE[piece + 1]);
    ln(q1 / q0) / ln(T1 / T0)
}

/// One cubic: q = a + x (b + x (c + x d)), x from its start.
#[derive(Clone, Copy, Debug)]
struct Cubic {
    start: f64,
    a: f64,
    b: f64,
    c: f64,
    d: f64,
}

/// Ends of a piece and where its cubics stand.
#[derive(Clone, Copy, Debug)]
struct Piece {
    start: f64,
    end: f64,
    per_K: f64,
}

/// An exchange made ready for a step loop.
#[derive(Clone, Debug)]
pub struct Surface {
    /// q = `linear` dT, everywhere or under the first piece.
    linear: f64,
    pieces: Vec<Piece>,
    cubics: Vec<Cubic>,
}

impl Surface {
    /// Cuts the curve in cubics.
    pub fn new(exchange: Exchange) -> Self {
        let factor = match exchange {
            Exchange::Constant(h) => return Self { linear: h, pieces: Vec::new(), cubics: Vec::new() },
            Exchange::Nitrogen(factor) => factor,
        };
        let (mut pieces, mut cubics) = (Vec::new(), Vec::with_capacity(CURVE.len() * CUTS));
        for piece in 0..CURVE.len() - 1 {
            let ((start, q0), p) = (CURVE[piece], power(piece));
            let end = CURVE[piece + 1].0;
            pieces.push(Piece { start, end, per_K: CUTS as f64 / (end - start) });
            cut(&mut cubics, start, end, |T| 1e3 * factor * q0 * pow(T / start, p), p);
        }
        let (last, q_last) = CURVE[CURVE.len() - 1];
        let p = power(CURVE.len() - 2);
        pieces.push(Piece { start: last, end: f64::INFINITY, per_K: CUTS as f64 / (HOTTEST_K - last) });
        cut(&mut cubics, last, HOTTEST_K, |T| 1e3 * factor * q_last * pow(T / last, p), p);
        Self { linear: LINEAR * factor, pieces, cubics }
    }

    /// Flux and its slope at `dT` over the bath: W/m², W/(m² K).
    #[inline(always)]
    pub fn flux(&self, dT: f64) -> (f64, f64) {
        let Some(first) = self.pieces.first().filter(|first| dT > first.start) else {
            return (self.linear * dT, self.linear);
        };
        let mut place = 0;
        let mut piece = first;
        while dT > piece.end {
            place += 1;
            piece = &self.pieces[place];
        }
        let cut = (((dT - piece.start) * piece.per_K) as usize).min(CUTS - 1);
        let Cubic { start, a, b, c, d } = self.cubics[place * CUTS + cut];
        let x = dT - start;
        (a + x * (b + x * (c + x * d)), b + x * (2.0 * c + x * 3.0 * d))
    }
}

fn cut(cubics: &mut Vec<Cubic>, start: f64, end: f64, q: impl Fn(f64) -> f64, p: f64) {
    let w = (end - start) / CUTS as f64;
    for i in 0..CUTS {
        let (T0, T1) = (start + w * i as f64, start + w * (i + 1) as f64);
        let (q0, q1) = (q(T0), q(T1));
        // The slope of a power law is p q/T.
        let (s0, s1) = (p * q0 / T0, p * q1 / T1);
        let mean = (q1 - q0) / w;
        cubics.push(Cubic { start: T0, a: q0, b: s0, c: (3.0 * mean - 2.0 * s0 - s1) / w, d: (s0 + s1 - 2.0 * mean) / (w * w) });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_is_met_at_its_points() {
        for (dT, kW) in CURVE {
            assert!((Exchange::Nitrogen(1.0).flux(dT) / (1e3 * kW) - 1.0).abs() < 1e-12, "{dT} K");
        }
        let by_hand = 28e3 * pow(300.0 / 216.0, ln(28.0 / 26.0) / ln(216.0 / 200.0));
        assert!((Exchange::Nitrogen(1.0).flux(300.0) / by_hand - 1.0).abs() < 1e-12, "the last slope goes on");
        assert_eq!(Exchange::Nitrogen(2.0).flux(0.5), 400.0);
    }

    #[test]
    fn the_cubics_follow_the_curve_in_value_and_slope() {
        for exchange in [Exchange::Nitrogen(1.0), Exchange::Nitrogen(1.4), Exchange::Constant(25.0)] {
            let surface = Surface::new(exchange);
            for i in 0..20_000 {
                let dT = -5.0 + 0.0613 * f64::from(i);
                let (q, slope) = surface.flux(dT);
                let exact = exchange.flux(dT);
                assert!((q - exact).abs() <= 1e-6 * exact.abs(), "{dT} K: {q}, {exact}");
                let inside = [0.0, 1.0, 3.0, 5.0, 10.0, 12.0, 35.0, 100.0, 200.0, 216.0].iter().all(|T| (dT - T).abs() > 1e-3);
                let by_difference = (exchange.flux(dT + 1e-4) - exchange.flux(dT - 1e-4)) / 2e-4;
                assert!(!inside || (slope - by_difference).abs() < 2e-4 * by_difference.abs(), "{dT} K: {slope}, {by_difference}");
            }
        }
    }
}
