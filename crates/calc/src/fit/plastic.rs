//! A bush and a housing beyond yield: how far each flows at a pressure, what stays when the pressure goes, and the pressure of the joint.
//!
//! Two rings, plane stress, Tresca, no hardening, loaded once. What happens when a fitted joint is heated, chilled and comes back
//! is in `rings::path`; more than two rings stay elastic (`rings::elastic`).
//! Units: mm and MPa (any pair of length and stress serves, the formulas are homogeneous).
//! Limits: no reverse yield on release (always so for the bush; for the housing when D/D_e > 0.46); the housing to p ≤ Y and p < Y ln(D_e/D).
//! Source: Prager and Hodge, Theory of Perfectly Plastic Solids; Hill, Mathematical Theory of Plasticity (thick ring, Tresca; both from
//! memory, derived again and checked for the method page).

use crate::fit::lame;
use crate::math::{ln, sq};

/// A ring as its bore, outside (mm) and elastic constants.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// Bore, mm.
    pub bore: f64,
    /// Outside, mm.
    pub outside: f64,
    /// Young's modulus, MPa.
    pub E: f64,
    /// Poisson's ratio.
    pub nu: f64,
}

impl Wall {
    /// Bore over outside.
    pub fn ratio(&self) -> f64 {
        lame::ratio(self.bore, self.outside)
    }
}

/// What a ring keeps when its pressure is gone: the difference between what it did and what Lamé's ring does at the same pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Set {
    /// Diameter of the front: plastic inside it, elastic outside. The bore while the ring is elastic. mm.
    pub front: f64,
    /// Permanent change of the bore, mm (+ is larger).
    pub bore: f64,
    /// Permanent change of the outside, mm (+ is larger).
    pub outside: f64,
    /// Hoop stress at the bore that stays, MPa.
    pub hoop_bore: f64,
    /// Hoop stress at the outside that stays, MPa.
    pub hoop_outside: f64,
}

impl Set {
    /// Of a ring that has stayed elastic.
    pub fn none(wall: &Wall) -> Self {
        Self { front: wall.bore, bore: 0.0, outside: 0.0, hoop_bore: 0.0, hoop_outside: 0.0 }
    }
}

/// A joint that was loaded from nothing to an interference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loaded {
    /// Pressure of the joint, MPa.
    pub pressure: f64,
    /// What the bush keeps.
    pub bush: Set,
    /// What the housing keeps.
    pub housing: Set,
    /// The bush flows through its whole wall: more interference brings no more pressure.
    pub fully_plastic: bool,
}

/// The interference would press the housing until it flows through its whole wall, or past p = Y; no answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HousingFlows {
    /// Pressure that the housing can't be brought to, MPa.
    pub limit: f64,
}

/// A bush and its housing. The bush's outside is the housing's bore (the joint diameter D).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The bush.
    pub bush: Wall,
    /// The housing.
    pub housing: Wall,
    /// Yield of the bush, MPa; none: it stays elastic.
    pub bush_yield: Option<f64>,
    /// Yield of the housing, MPa; none: it stays elastic (brittle iron).
    pub housing_yield: Option<f64>,
}

/// Halvings that bring any bracket of two floats of one sign and size down to neighbours.
const HALVINGS: u32 = 200;

impl Pair {
    /// Joint diameter D, mm.
    pub fn joint(&self) -> f64 {
        self.housing.bore
    }

    /// k_b of the bush, 1/MPa.
    pub fn k_b(&self) -> f64 {
        lame::bush_compliance(self.bush.ratio(), self.bush.E, self.bush.nu)
    }

    /// k_h of the housing, 1/MPa.
    pub fn k_h(&self) -> f64 {
        lame::housing_compliance(self.housing.ratio(), self.housing.E, self.housing.nu)
    }

    /// Interference that gives pressure p while both rings are elastic: `δ = D (k_b + k_h) p`, mm.
    pub fn elastic_interference(&self, p: f64) -> f64 {
        self.joint() * (self.k_b() + self.k_h()) * p
    }

    /// Pressure at an interference while both rings are elastic, at least 0, MPa.
    pub fn elastic_pressure(&self, delta: f64) -> f64 {
        lame::joint_pressure(delta, self.joint(), self.k_b() + self.k_h())
    }

    /// Pressure p_y at which the bush's bore starts to flow, MPa.
    pub fn onset(&self) -> Option<f64> {
        self.bush_yield.map(|Y| lame::onset_pressure(self.bush.ratio(), Y))
    }

    /// Pressure p_L that the bush can't exceed, MPa.
    pub fn full(&self) -> Option<f64> {
        self.bush_yield.map(|Y| lame::full_pressure(self.bush.ratio(), Y))
    }

    /// Pressure at which the housing can't be answered any more: `min(Y, Y ln(D_e/D))`, MPa.
    pub fn housing_end(&self) -> Option<f64> {
        self.housing_yield.map(|Y| Y.min(Y * ln(self.housing.outside / self.housing.bore)))
    }

    /// Interference that gives pressure p on the elastic-plastic curve, mm; none when p is over p_L, or the housing flows before.
    ///
    /// `δ = Δ_h(D; p) − Δ_b(D; p)`. At p = p_L the least such interference.
    pub fn interference_at(&self, p: f64) -> Option<f64> {
        if self.full().is_some_and(|full| p > full) || self.housing_end().is_some_and(|end| p >= end) {
            return None;
        }
        Some(self.bore_growth(p) - self.outside_change(p))
    }

    /// Loads the joint from nothing to an effective interference, mm; none of both rings has a history.
    ///
    /// δ ≤ 0 leaves both untouched. Beyond the bush's onset the unknown is the front c, not the pressure: dp/dc goes to 0 near p_L.
    pub fn loaded(&self, delta: f64) -> Result<Loaded, HousingFlows> {
        let elastic = self.elastic_pressure(delta);
        let bush_flows = self.onset().and_then(|onset| self.interference_at(onset)).is_some_and(|onset| delta > onset);
        if bush_flows {
            self.with_plastic_bush(delta)
        } else if self.housing_onset().is_some_and(|onset| elastic > onset) {
            self.with_elastic_bush(delta)
        } else {
            Ok(self.at_pressure(elastic))
        }
    }

    /// The bush flows, through a part of its wall or all; the housing may flow too.
    fn with_plastic_bush(&self, delta: f64) -> Result<Loaded, HousingFlows> {
        let full = lame::full_pressure(self.bush.ratio(), self.bush_Y());
        let housing_end = self.housing_end().unwrap_or(f64::INFINITY);
        let most = if full < housing_end { self.bush.outside } else { self.bush_front(housing_end) };
        let at = |c: f64| self.bore_growth(self.bush_pressure(c)) - self.bush_outside_change(c);
        if delta < at(most) {
            return Ok(self.at_front(halved(self.bush.bore, most, |c| at(c) < delta)));
        }
        if full < housing_end { Ok(self.fully_plastic(delta, full)) } else { Err(HousingFlows { limit: housing_end }) }
    }

    /// The housing flows through a part of its wall, the bush stays elastic.
    fn with_elastic_bush(&self, delta: f64) -> Result<Loaded, HousingFlows> {
        let end = self.housing_end().unwrap_or(f64::INFINITY);
        let most = self.housing_front(end);
        let at = |c: f64| {
            let p = self.housing_pressure(c);
            self.housing_growth(p, c) + self.joint() * self.k_b() * p
        };
        if delta >= at(most) {
            return Err(HousingFlows { limit: end });
        }
        let c = halved(self.housing.bore, most, |c| at(c) < delta);
        let p = self.housing_pressure(c);
        Ok(Loaded { pressure: p, bush: Set::none(&self.bush), housing: self.housing_set(p, c), fully_plastic: false })
    }

    /// Yield of the bush, infinite where none was given.
    fn bush_Y(&self) -> f64 {
        self.bush_yield.unwrap_or(f64::INFINITY)
    }

    /// Yield of the housing, infinite where none was given.
    fn housing_Y(&self) -> f64 {
        self.housing_yield.unwrap_or(f64::INFINITY)
    }

    /// Both rings at a pressure at most p_y, on the first loading.
    fn at_pressure(&self, p: f64) -> Loaded {
        Loaded { pressure: p, bush: Set::none(&self.bush), housing: self.housing_set_at(p), fully_plastic: false }
    }

    /// The bush is plastic from its bore to c: `Δ(a) = −(Y a/E)(1 + ln(c/a))`.
    fn at_front(&self, c: f64) -> Loaded {
        let (a, Y, p) = (self.bush.bore, self.bush_Y(), self.bush_pressure(c));
        let bore = -(Y * a / self.bush.E) * (1.0 + ln(c / a));
        let set = self.bush_set(p, c, bore, self.bush_outside_change(c));
        Loaded { pressure: p, bush: set, housing: self.housing_set_at(p), fully_plastic: false }
    }

    /// The bush flows: its outside follows the housing's bore, `Δ(b) = Δ_h(D) − δ`,
    /// its bore `Δ(a) = Δ(b) + (Y/E)[(1 − ν)(b − a) − a ln(b/a)]`.
    fn fully_plastic(&self, delta: f64, p: f64) -> Loaded {
        let Wall { bore: a, outside: b, E, nu } = self.bush;
        let Y = self.bush_Y();
        let outside = self.bore_growth(p) - delta;
        let bore = outside + Y / E * ((1.0 - nu) * (b - a) - a * ln(b / a));
        Loaded { pressure: p, bush: self.bush_set(p, b, bore, outside), housing: self.housing_set_at(p), fully_plastic: true }
    }

    fn bush_set(&self, p: f64, c: f64, bore: f64, outside: f64) -> Set {
        let Wall { bore: a, outside: b, E, .. } = self.bush;
        let (Q, Y) = (self.bush.ratio(), self.bush_Y());
        let lame_outside = -p * (1.0 + sq(Q)) / (1.0 - sq(Q));
        Set {
            front: c,
            bore: bore + lame::close_in(p, a, Q, E),
            outside: outside + b * self.k_b() * p,
            hoop_bore: -Y - lame::bush_hoop_at_bore(p, Q),
            hoop_outside: self.bush_hoop_outside(c) - lame_outside,
        }
    }

    /// `p = Y[(b² − c²) + (1 − a/c)(b² + c²)]/(2b²)`: pressure on a bush that is plastic from its bore a to c, MPa.
    fn bush_pressure(&self, c: f64) -> f64 {
        let (a, b2, c2) = (self.bush.bore, sq(self.bush.outside), sq(c));
        let Y = self.bush_Y();
        Y * ((b2 - c2) + (1.0 - a / c) * (b2 + c2)) / (2.0 * b2)
    }

    fn bush_front(&self, p: f64) -> f64 {
        halved(self.bush.bore, self.bush.outside, |c| self.bush_pressure(c) < p)
    }

    /// `σ_θ(b) = −Y[(b² + c²) + (1 − a/c)(b² − c²)]/(2b²)`, MPa.
    fn bush_hoop_outside(&self, c: f64) -> f64 {
        let (a, b2, c2) = (self.bush.bore, sq(self.bush.outside), sq(c));
        let Y = self.bush_Y();
        -Y * ((b2 + c2) + (1.0 - a / c) * (b2 - c2)) / (2.0 * b2)
    }

    /// `Δ(b) = (b/E)[σ_θ(b) + ν p]` of a bush that is plastic from a to c, mm.
    fn bush_outside_change(&self, c: f64) -> f64 {
        let Wall { outside: b, E, nu, .. } = self.bush;
        b / E * (self.bush_hoop_outside(c) + nu * self.bush_pressure(c))
    }

    /// Δ of the bush's outside at a pressure of at most p_L, mm.
    fn outside_change(&self, p: f64) -> f64 {
        match self.onset() {
            Some(onset) if p > onset => self.bush_outside_change(self.bush_front(p)),
            _ => -self.joint() * self.k_b() * p,
        }
    }

    /// Pressure at which the housing's bore starts to flow by Tresca, MPa.
    fn housing_onset(&self) -> Option<f64> {
        self.housing_yield.map(|Y| lame::onset_pressure(self.housing.ratio(), Y))
    }

    /// `p = Y[ln(c/a) + (1 − c²/b²)/2]`: pressure in a housing that is plastic from its bore a to c, MPa.
    fn housing_pressure(&self, c: f64) -> f64 {
        let Y = self.housing_Y();
        Y * (ln(c / self.housing.bore) + (1.0 - sq(c / self.housing.outside)) / 2.0)
    }

    fn housing_front(&self, p: f64) -> f64 {
        halved(self.housing.bore, self.housing.outside, |c| self.housing_pressure(c) < p)
    }

    /// `Δ(a) = [−(1 − ν) a p + Y c²/a]/E` of a housing that is plastic from a to c, mm.
    fn housing_growth(&self, p: f64, c: f64) -> f64 {
        let Wall { bore: a, E, nu, .. } = self.housing;
        let Y = self.housing_Y();
        (-(1.0 - nu) * a * p + Y * sq(c) / a) / E
    }

    /// Δ of the housing's bore at a pressure on the first loading, mm.
    fn bore_growth(&self, p: f64) -> f64 {
        match self.housing_onset() {
            Some(onset) if p > onset => self.housing_growth(p, self.housing_front(p)),
            _ => self.joint() * self.k_h() * p,
        }
    }

    fn housing_set_at(&self, p: f64) -> Set {
        match self.housing_onset() {
            Some(onset) if p > onset => self.housing_set(p, self.housing_front(p)),
            _ => Set::none(&self.housing),
        }
    }

    /// Outside `Δ(b) = Y c²/(E b)`, hoop `Y − p` at the bore and `Y c²/b²` at the outside, less Lamé's at the same p.
    fn housing_set(&self, p: f64, c: f64) -> Set {
        let Wall { bore: a, outside: b, E, .. } = self.housing;
        let (q, Y) = (self.housing.ratio(), self.housing_Y());
        Set {
            front: c,
            bore: self.housing_growth(p, c) - a * self.k_h() * p,
            outside: Y * sq(c) / (E * b) - lame::outside_growth(p, b, q, E),
            hoop_bore: (Y - p) - lame::housing_hoop_at_bore(p, q),
            hoop_outside: Y * sq(c / b) - 2.0 * p * sq(q) / (1.0 - sq(q)),
        }
    }
}

/// The place between `low` and `high` where `before` turns from true to false, to the last bit (at most [`HALVINGS`] steps).
fn halved(low: f64, high: f64, before: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if before(middle) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bush 200/230 of 138 MPa in steel 230/420 of 305 MPa.
    fn pair() -> Pair {
        let bush = Wall { bore: 200.0, outside: 230.0, E: 100e3, nu: 0.35 };
        let housing = Wall { bore: 230.0, outside: 420.0, E: 206e3, nu: 0.3 };
        Pair { bush, housing, bush_yield: Some(138.0), housing_yield: Some(305.0) }
    }

    #[test]
    fn the_plastic_curve_starts_where_the_elastic_one_ends() {
        let pair = pair();
        let onset = pair.onset().unwrap();
        let delta = pair.elastic_interference(onset);
        let just_over = pair.loaded(delta * (1.0 + 1e-9)).unwrap();
        assert!((just_over.pressure / onset - 1.0).abs() < 1e-8, "{just_over:?}");
        assert!(just_over.bush.bore.abs() < 1e-9 && just_over.bush.hoop_bore.abs() < 1e-6, "{just_over:?}");
    }

    #[test]
    fn the_curve_to_an_interference_and_back_meets_itself() {
        let pair = Pair { bush_yield: Some(280.0), housing_yield: Some(100.0), ..pair() };
        for share in [0.2, 0.6, 0.9, 0.999] {
            let p = share * pair.full().unwrap().min(pair.housing_end().unwrap());
            let delta = pair.interference_at(p).unwrap();
            assert!((pair.loaded(delta).unwrap().pressure / p - 1.0).abs() < 1e-9, "{share}");
        }
    }

    #[test]
    fn a_bush_that_flows_presses_no_harder_and_sets_by_all_that_is_added() {
        let pair = pair();
        let (some, more) = (pair.loaded(0.5).unwrap(), pair.loaded(0.6).unwrap());
        assert!((some.pressure - 18.0).abs() < 1e-12 && some.fully_plastic, "138 (1 - 200/230): {some:?}");
        assert_eq!(more.pressure, some.pressure);
        assert!((more.bush.outside - some.bush.outside + 0.1).abs() < 1e-12);
    }

    #[test]
    fn a_housing_at_its_end_has_no_answer() {
        let thin = Wall { outside: 240.0, ..pair().housing };
        let pair = Pair { housing: thin, bush_yield: None, housing_yield: Some(100.0), ..pair() };
        let end = pair.housing_end().unwrap();
        assert_eq!(pair.loaded(5.0), Err(HousingFlows { limit: end }));
        assert!(pair.loaded(0.1).is_ok());
    }
}
