//! Strategies with the filter: fixed plans of cuts, readings and waits, and the policy that follows the advice.
//!
//! They see the true lathe only through its readings, and leave the judging of the result to `trials`.

use super::world::Shop;
use crate::turn::advice::{self, Deed, Prices, Question, SIZE_READING_S, TEMPERATURE_S, further_s};
use crate::turn::aim::landing;
use crate::turn::command::{command_for, equal_cut, widened};
use crate::turn::filter::{Event, Filter, Full, Judged, Misfit};
use crate::turn::model::{Lathe, Normal, SETTLE_S, Sight, TO_NEXT_CUT_S};

/// A plan that is fixed beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Target after each cut, mm over the nominal.
    pub cuts_mm: Vec<f64>,
    /// Size readings after each cut.
    pub size_readings: Vec<u32>,
    /// Temperature readings each time: with the size, and before the cut.
    pub temperature_readings: Vec<u32>,
    /// Cooling before each cut's temperature, s.
    pub wait_s: Vec<f64>,
    /// Readings of the gauge on its standard before the last cut.
    pub gauge_checks: u32,
    /// One more cut where the size is over by so much that at least this comes off, mm of diameter, and it pays.
    pub trim_mm: Option<f64>,
}

/// What is decided by: limits over the nominal, and what is believed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Believed {
    /// The lathe.
    pub lathe: Lathe,
    /// Limits, mm over the nominal.
    pub band: (f64, f64),
}

/// What a strategy with a filter says of its part in the end.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Said {
    /// Chance that the part lies in its band.
    pub claim: f64,
    /// Squared innovations of the size readings, and how many.
    pub squares: f64,
    /// How many.
    pub sizes: u32,
    /// Every u was widened, since the readings did not fit.
    pub misfit: bool,
    /// A reading was set aside, or something was found to have moved.
    pub doubted: bool,
}

/// A filter at work in the shop.
struct Bench<'s, 'm, const W: usize> {
    shop: &'s mut Shop<'m>,
    filter: Filter<W>,
    believed: Believed,
    said: Said,
    if_kept: Option<Normal>,
}

impl<'s, 'm, const W: usize> Bench<'s, 'm, W> {
    fn new(shop: &'s mut Shop<'m>, believed: Believed) -> Result<Self, Full> {
        let filter = Filter::new(believed.lathe, Misfit::default());
        let mut bench = Self { shop, filter, believed, said: Said::default(), if_kept: None };
        let value = bench.shop.air();
        bench.see(Sight::Air, value, 1)?;
        Ok(bench)
    }

    fn see(&mut self, sight: Sight, value: f64, n: u32) -> Result<Option<Judged>, Full> {
        let judged = self.filter.take(Event::Seen { sight, value, n: f64::from(n) })?;
        if let Some(judged) = judged {
            self.said.doubted |= judged.suspect || judged.moved;
            if sight == Sight::Size {
                self.said.squares += judged.innovation * judged.innovation;
                self.said.sizes += 1;
                self.if_kept = judged.if_kept;
            }
        }
        Ok(judged)
    }

    fn cool(&mut self, dt_s: f64) -> Result<(), Full> {
        self.shop.cool(dt_s);
        self.filter.take(Event::Cool(dt_s)).map(|_| ())
    }

    /// Part temperature before a cut; one that can't be right is measured again.
    fn before(&mut self, n: u32) -> Result<(), Full> {
        let value = self.shop.before(n);
        if self.see(Sight::Part, value, n)?.is_some_and(|judged| judged.suspect) && self.shop.can_read_again() {
            self.shop.reading_s += f64::from(n) * TEMPERATURE_S;
            let value = self.shop.before(n);
            self.see(Sight::Part, value, n)?;
        }
        Ok(())
    }

    /// Temperature and size after a cut; further readings cost their time. What can't be right is measured again.
    fn read(&mut self, temperatures: u32, sizes: u32) -> Result<(), Full> {
        self.shop.reading_s += further_s(sizes, temperatures);
        let value = self.shop.after(temperatures);
        if self.see(Sight::Part, value, temperatures)?.is_some_and(|judged| judged.suspect) && self.shop.can_read_again() {
            self.shop.reading_s += f64::from(temperatures) * TEMPERATURE_S;
            let value = self.shop.after(temperatures);
            self.see(Sight::Part, value, temperatures)?;
        }
        let value = self.shop.size(sizes);
        if self.see(Sight::Size, value, sizes)?.is_some_and(|judged| judged.suspect) && self.shop.can_read_again() {
            self.size_again(sizes)?;
        }
        Ok(())
    }

    /// The size once more; where two agree that something moved, the gauge is checked on its standard.
    fn size_again(&mut self, n: u32) -> Result<(), Full> {
        self.shop.reading_s += f64::from(n) * SIZE_READING_S;
        let value = self.shop.size(n);
        if self.see(Sight::Size, value, n)?.is_some_and(|judged| judged.moved) {
            self.check(3)?;
        }
        Ok(())
    }

    /// The gauge on its standard, n times.
    fn check(&mut self, n: u32) -> Result<(), Full> {
        self.shop.reading_s += f64::from(n) * SIZE_READING_S;
        let value = self.shop.check(n);
        self.see(Sight::Check, value, n).map(|_| ())
    }

    /// Cuts for a target over the nominal.
    fn cut(&mut self, target: f64) -> Result<(), Full> {
        let now = self.filter.now().bare();
        let command_mm = command_for(&self.filter.lathe, &now, self.filter.first_next(), target, 0.001);
        self.shop.cut(command_mm);
        self.filter.take(Event::Cut(command_mm))?;
        self.cool(SETTLE_S)
    }

    fn size(&self) -> Normal {
        widened(self.filter.figure(&self.filter.now().d), self.filter.misfit.factor())
    }

    fn chance(&self, size: Normal) -> f64 {
        landing(size.mean, self.believed.band.0, self.believed.band.1, size.sd).chance_in_band
    }

    fn done(mut self) -> Said {
        let factor = self.filter.misfit.factor();
        let aside = self.chance(self.size());
        let kept = self.if_kept.map(|kept| self.chance(widened(kept, factor)));
        self.said.claim = kept.map_or(aside, |kept| kept.min(aside));
        self.said.misfit = factor > 1.0;
        self.said
    }
}

/// A fixed plan on one part.
pub fn fixed<const W: usize>(shop: &mut Shop, believed: Believed, plan: &Plan) -> Result<Said, Full> {
    let mut bench = Bench::<W>::new(shop, believed)?;
    let of = |list: &[u32], cut: usize| list.get(cut).or(list.last()).copied().unwrap_or(1).max(1);
    for (cut, target) in plan.cuts_mm.iter().enumerate() {
        if cut > 0 {
            bench.cool(TO_NEXT_CUT_S)?;
        }
        if let Some(wait_s) = plan.wait_s.get(cut).filter(|wait_s| **wait_s > 0.0) {
            bench.cool(*wait_s)?;
        }
        if plan.gauge_checks > 0 && cut > 0 && cut + 1 == plan.cuts_mm.len() {
            bench.check(plan.gauge_checks)?;
        }
        bench.before(of(&plan.temperature_readings, cut))?;
        bench.cut(*target)?;
        bench.read(of(&plan.temperature_readings, cut), of(&plan.size_readings, cut))?;
    }
    if let (Some(trim_mm), Some(target)) = (plan.trim_mm, plan.cuts_mm.last()) {
        trim(&mut bench, trim_mm, *target, of(&plan.temperature_readings, plan.cuts_mm.len()))?;
    }
    Ok(bench.done())
}

/// One more cut where at least `trim_mm` comes off and more parts are right after it than before.
fn trim<const W: usize>(bench: &mut Bench<W>, trim_mm: f64, target: f64, temperatures: u32) -> Result<(), Full> {
    let size = bench.size();
    if size.mean - target < trim_mm {
        return Ok(());
    }
    let stop = bench.chance(size);
    let now = bench.filter.now().bare();
    let command_mm = command_for(&bench.filter.lathe, &now, bench.filter.first_next(), target, 0.001);
    let after = bench.filter.after_cut(command_mm)?;
    if bench.chance(bench.filter.figure(&after.d)) <= stop {
        return Ok(());
    }
    bench.cool(TO_NEXT_CUT_S)?;
    bench.before(temperatures)?;
    bench.cut(target)?;
    bench.read(temperatures, 1)
}

/// Most cuts and sets of readings that the policy makes of one part.
const MOST_DEEDS: usize = 24;

/// The policy: do what the advice says until it says stop.
pub fn advised<const W: usize>(shop: &mut Shop, believed: Believed, prices: Prices) -> Result<Said, Full> {
    let mut bench = Bench::<W>::new(shop, believed)?;
    bench.before(1)?;
    let mut fresh = true;
    for _ in 0..MOST_DEEDS {
        let factor = bench.filter.misfit.factor();
        let question = Question { band: believed.band, prices, least_cuts: 1, factor };
        match advice::ways(&bench.filter, &question).first().map(|way| way.deed) {
            None | Some(Deed::Stop) => break,
            Some(Deed::Read(n) | Deed::Cut { again: n, .. }) if n > 0 => {
                bench.shop.reading_s += f64::from(n) * (SIZE_READING_S + TEMPERATURE_S);
                let value = bench.shop.after(n);
                bench.see(Sight::Part, value, n)?;
                let value = bench.shop.size(n);
                bench.see(Sight::Size, value, n)?;
            }
            Some(Deed::Read(_)) => break,
            Some(Deed::Cut { cuts: 1, check, .. }) if check > 0 => bench.check(check)?,
            Some(Deed::Cut { cuts, readings, wait_min, .. }) => {
                if !fresh {
                    bench.cool(TO_NEXT_CUT_S)?;
                }
                let wait_min = if cuts == 1 { wait_min } else { 0.0 };
                if wait_min > 0.0 {
                    bench.cool(60.0 * wait_min)?;
                }
                if !fresh || readings > 1 || wait_min > 0.0 {
                    bench.before(bench.believed_readings(cuts, readings))?;
                }
                fresh = false;
                let target = equal_cut(&bench.filter, cuts, prices.step_mm, prices.scrap_ratio, believed.band, factor)?;
                let Some(target) = target else { break };
                bench.cut(target)?;
                let n = if cuts == 1 { 1 } else { readings };
                bench.read(n, n)?;
            }
        }
    }
    Ok(bench.done())
}

impl<const W: usize> Bench<'_, '_, W> {
    /// Temperatures before a cut: they cost little, so the last cut always gets five.
    const fn believed_readings(&self, cuts: usize, readings: u32) -> u32 {
        if cuts == 1 { 5 } else { readings }
    }
}
