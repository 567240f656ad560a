//! The command for the next cut: what to set, what size that leaves, what the gauge will show, and the chance of the band.
//!
//! It leaves to others which size to cut for (`aim`, `next_cut`) and whether the cut pays (`advice`).

use serde::Serialize;

use super::aim::{Aim, aim, landing};
use super::filter::{Filter, Full};
use super::model::{Lathe, Noise, Normal, Sight, State};

/// Corrections of a command. Source: the turning page.
const CORRECTIONS: usize = 4;

/// One cut to come. Sizes of the part at 20 °C.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Command {
    /// What to set: the diameter asked of the slide, mm.
    pub command_mm: f64,
    /// What it takes off the diameter at 20 °C, mm.
    pub depth_mm: f64,
    /// Size after it, and u with the noises of the cut, mm.
    pub size_mm: Normal,
    /// What the gauge will show `settle_s` after it, and u with one reading's own noise, mm.
    pub reading_mm: Normal,
    /// Chance that the size lies between the limits.
    pub chance_in_band: f64,
    /// Chance that it is under the lower limit.
    pub chance_under: f64,
    /// Chance that it is over the upper limit.
    pub chance_over: f64,
    /// Nothing would be taken off.
    #[serde(skip)]
    pub takes_nothing: bool,
}

/// The command whose mean size is `target` over the nominal, by the state's own values: C ← C − (mean − target), four times.
///
/// The first guess is the target at the part's temperature less b. Where the part is past the target already, the guess is all there is.
pub fn command_for(lathe: &Lathe, now: &State<0>, first: bool, target: f64, step_mm: f64) -> f64 {
    let warm = 1.0 + now.alpha.v * (now.T.v - super::model::REFERENCE_C);
    let mut command_mm = (lathe.nominal_mm + target) * warm - now.b.v;
    if lathe.sign() * (now.d.v - target) > 0.0 {
        for _ in 0..CORRECTIONS {
            let mut after = *now;
            after.cut(lathe, command_mm, first, [Noise::NONE; 2]);
            command_mm -= after.d.v - target;
        }
    }
    rounded(command_mm, step_mm)
}

/// To the nearest step of the slide; a step of 0 leaves it.
pub fn rounded(x: f64, step: f64) -> f64 {
    if step > 0.0 { (x / step).round() * step } else { x }
}

/// The next cut for a size of `target` over the nominal. `band` are the limits over the nominal, `factor` the misfit's widening.
pub fn command<const W: usize>(filter: &Filter<W>, target: f64, step_mm: f64, band: (f64, f64), factor: f64) -> Result<Command, Full> {
    let lathe = &filter.lathe;
    let now = filter.now().bare();
    let command_mm = command_for(lathe, &now, filter.first_next(), target, step_mm);
    let mut after = filter.after_cut(command_mm)?;
    let size = widened(filter.figure(&after.d), factor);
    after.cool(lathe.settle_s);
    let reading = filter.figure(&after.seen(lathe, Sight::Size));
    let noise = lathe.reading_u_mm;
    let reading = widened(Normal::new(reading.mean, (reading.sd * reading.sd + noise * noise).sqrt()), factor);
    let Aim { chance_in_band, chance_under, chance_over, .. } = landing(size.mean, band.0, band.1, size.sd);
    let depth_mm = lathe.sign() * (now.d.v - size.mean);
    Ok(Command {
        command_mm,
        depth_mm,
        size_mm: Normal::new(lathe.nominal_mm + size.mean, size.sd),
        reading_mm: reading,
        chance_in_band,
        chance_under,
        chance_over,
        takes_nothing: depth_mm <= 0.0,
    })
}

/// Target over the nominal of the next of `cuts` equal cuts to the aim: aim + (size − aim)(cuts − 1)/cuts; none where the part is there.
///
/// The aim is that of the spread after such a cut, weighed by `scrap_ratio`. Source: the turning page, equal last depths.
pub fn equal_cut<const W: usize>(
    filter: &Filter<W>,
    cuts: usize,
    step_mm: f64,
    scrap_ratio: f64,
    band: (f64, f64),
    factor: f64,
) -> Result<Option<f64>, Full> {
    let lathe = &filter.lathe;
    let size = filter.now().d.v;
    let share = cuts.saturating_sub(1) as f64 / cuts.max(1) as f64;
    let target = |aim: f64| aim + (size - aim) * share;
    let left = |aim: f64| lathe.sign() * (size - aim) > 0.0;
    let middle = 0.5 * (band.0 + band.1);
    if !left(middle) {
        return Ok(None);
    }
    let sd = command(filter, target(middle), step_mm, band, factor)?.size_mm.sd;
    let aim = aim(lathe.side, band.0, band.1, sd, scrap_ratio).aim_mm;
    Ok(left(aim).then(|| target(aim)))
}

/// The same mean with its standard deviation `factor` times as large.
pub const fn widened(figure: Normal, factor: f64) -> Normal {
    Normal::new(figure.mean, figure.sd * factor)
}
