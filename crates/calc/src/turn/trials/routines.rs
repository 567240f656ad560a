//! Fixed routines at the lathe: what people do by rule, without a filter.
//!
//! Each takes one part from its start to its last cut; the truth about the part is then judged. Commands are what the slide is set to,
//! to 0.001 mm (the first ones of the two-cut routines by temperature are not rounded). Source: common practice, put into rules by the
//! turning page; H(T) = 1 + 18e-6 (T − 20), G = 1 + 11.5e-6 (air − 20), Δ(R, T) = R·G/H(T) is the size at 20 °C by rule.

use super::world::{Shop, to_um};
use crate::math::ln;
use crate::turn::model::{SETTLE_S, TO_NEXT_CUT_S};

/// A routine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Routine {
    /// One cut, by touch, from one warm reading.
    Naive,
    /// Two cuts; the second corrected by what the first left over, as read.
    Offset,
    /// Two cuts by temperature, the first 0.6 over.
    TempUnequal,
    /// Two equal cuts by temperature.
    TempEqual,
    /// Three equal cuts by temperature.
    TempEqual3,
    /// Three equal cuts, cold; the last corrected as read.
    ColdOffset,
    /// Three equal cuts, cold; the last by temperature.
    ColdTemp,
}

impl Routine {
    /// Every routine, with its name.
    pub const ALL: [(&'static str, Self); 7] = [
        ("naive", Self::Naive),
        ("offset", Self::Offset),
        ("temp_unequal", Self::TempUnequal),
        ("temp_equal", Self::TempEqual),
        ("temp_equal_3cut", Self::TempEqual3),
        ("cold_offset_equal", Self::ColdOffset),
        ("cold_temp_equal", Self::ColdTemp),
    ];

    /// Does it to one part.
    pub fn run(self, shop: &mut Shop) {
        match self {
            Self::Naive => {
                let infeed = shop.size_at_start() - 300.0;
                shop.cut_from_touch(infeed);
            }
            Self::Offset => offset(shop),
            Self::TempUnequal => by_temperature(shop, 0.6),
            Self::TempEqual => by_temperature(shop, 1.0),
            Self::TempEqual3 => three_by_temperature(shop),
            Self::ColdOffset => cold(shop, false),
            Self::ColdTemp => cold(shop, true),
        }
        shop.cool(SETTLE_S);
    }
}

/// Warm part by the rule's expansion.
fn H(T_C: f64) -> f64 {
    1.0 + 18e-6 * (T_C - 20.0)
}

/// Size at 20 °C by rule.
fn at_20(shop: &Shop, R: f64, T_C: f64) -> f64 {
    R * (1.0 + 11.5e-6 * (shop.air() - 20.0)) / H(T_C)
}

fn offset(shop: &mut Shop) {
    shop.cut(300.6);
    shop.cool(SETTLE_S);
    let R = shop.size(1);
    shop.cool(TO_NEXT_CUT_S);
    shop.cut(to_um(300.0 - (R - 300.6)));
}

/// Between two cuts: settle, read, and the temperature before the next; gives size by rule and that temperature.
fn between(shop: &mut Shop) -> (f64, f64) {
    shop.cool(SETTLE_S);
    let T = shop.after(1);
    let R = shop.size(1);
    let found = at_20(shop, R, T);
    shop.cool(TO_NEXT_CUT_S);
    (found, shop.before(1))
}

fn by_temperature(shop: &mut Shop, over: f64) {
    let T1 = shop.before(1);
    let first = (300.0 + over) * H(T1);
    shop.cut(first);
    let (found, T2) = between(shop);
    shop.cut(to_um(first + 300.0 * H(T2) - found * H(T1)));
}

fn three_by_temperature(shop: &mut Shop) {
    let T1 = shop.before(1);
    let first = to_um(301.333 * H(T1));
    shop.cut(first);
    let (found, T2) = between(shop);
    let second = to_um(first + 300.667 * H(T2) - found * H(T1));
    shop.cut(second);
    let (found, T3) = between(shop);
    shop.cut(to_um(second + 300.0 * H(T3) - found * H(T2)));
}

/// Rough to 1.2 over, wait until the part is 1.5 K over the air, then two equal cuts.
fn cold(shop: &mut Shop, by_temperature: bool) {
    shop.cut(301.2);
    let over = shop.part.T.v - shop.part.air.v;
    if over > 1.5 {
        shop.cool(shop.part.tau.v * ln(over / 1.5));
    }
    let T2 = shop.before(1);
    let second = 300.6;
    shop.cut(second);
    shop.cool(SETTLE_S);
    let T = shop.after(1);
    let R = shop.size(1);
    shop.cool(TO_NEXT_CUT_S);
    let T3 = shop.before(1);
    let third = if by_temperature { second + 300.0 * H(T3) - at_20(shop, R, T) * H(T2) } else { second - (R - 300.0) };
    shop.cut(to_um(third));
}
