//! The temperatures at which a fit lets go, sets, or brings its housing to its limit.
//!
//! The effective interference is linear in a temperature that all rings share (or that the bush alone takes, `sweep`), so each is the root
//! of a line. A root is given between absolute zero and 2000 °C; beyond 250 K from 20 °C with a warning, since one mean expansion no longer serves.

use super::elastic::free_all_closed;
use super::path::Path;
use super::request::{ABSOLUTE_ZERO_C, Criterion, Fit, Ring, Sweep};
use super::state::no_answer;
use crate::fit::lame;
use crate::fit::plastic::Pair;
use crate::refused::Refused;

/// Above this no bush, housing or oil of the trade is left, °C.
const HOTTEST_C: f64 = 2000.0;

/// How much each effective interference grows a kelvin of the sweep, mm/K; none where the expansions are equal, so that no root means anything.
pub(super) fn slopes(fit: &Fit) -> Option<Vec<f64>> {
    let alphas = || fit.rings.iter().map(|ring| ring.alpha_per_K);
    let equal = alphas().zip(alphas().skip(1)).all(|(inner, outer)| inner == outer);
    if fit.sweep == Sweep::All && equal {
        return None;
    }
    let swept = |k: usize| fit.sweep == Sweep::All || k == 0;
    let grows = |size: f64, ring: &Ring, k: usize| if swept(k) { size * ring.alpha_per_K } else { 0.0 };
    let pairs = fit.rings.windows(2).enumerate();
    Some(pairs.map(|(j, ring)| grows(ring[0].outside_mm, &ring[0], j) - grows(ring[1].bore_mm, &ring[1], j + 1)).collect())
}

/// Where a line through `at_20` meets `wanted`, °C; none outside the range of temperatures.
fn root(at_20: f64, slope: f64, wanted: f64) -> Option<f64> {
    let T_C = 20.0 + (wanted - at_20) / slope;
    (ABSOLUTE_ZERO_C..=HOTTEST_C).contains(&T_C).then_some(T_C)
}

/// Temperature nearest to 20 °C at which a joint of free rings loses its pressure, °C; none when none does, or one is open at 20 °C.
///
/// `left`: effective interferences at 20 °C less sets, mm. Friction along the axis is left out on purpose: without pressure there is none.
pub(super) fn lets_go(fit: &Fit, left: &[f64]) -> Result<Option<f64>, Refused> {
    let Some(slopes) = slopes(fit) else { return Ok(None) };
    let walls = fit.walls();
    let at_20 = free_all_closed(&walls, left).ok_or_else(no_answer)?;
    if at_20.iter().any(|p| *p <= 0.0) {
        return Ok(None);
    }
    let by_kelvin = free_all_closed(&walls, &slopes).ok_or_else(no_answer)?;
    let roots = at_20.iter().zip(&by_kelvin).filter_map(|(p, slope)| root(*p, *slope, 0.0));
    Ok(roots.min_by(|one, other| (one - 20.0).abs().total_cmp(&(other - 20.0).abs())))
}

/// Temperature at which the effective interference of two free rings comes to `wanted`, mm; none when it is there already or the joint is open.
fn reached(fit: &Fit, path: &Path, wanted: f64) -> Option<f64> {
    let slope = slopes(fit)?.first().copied()?;
    if path.at_20.pressure <= 0.0 || path.delta_20 >= wanted {
        return None;
    }
    root(path.delta_20, slope, wanted)
}

/// Temperature at which the bush's bore starts to flow: `δ = D (k_b + k_h) p_y`, °C.
pub(super) fn takes_set(fit: &Fit, path: &Path) -> Option<f64> {
    let onset = path.pair.onset()?;
    reached(fit, path, path.pair.elastic_interference(onset))
}

/// Temperature at which the pressure reaches the housing's limit on the elastic-plastic curve, °C.
pub(super) fn housing_limit(fit: &Fit, path: &Path) -> Option<f64> {
    let limit = housing_limit_pressure(fit.rings.get(1)?, &path.pair, fit.criterion)?;
    reached(fit, path, path.pair.interference_at(limit)?)
}

/// Pressure at which a housing's `use` is 1: onset of flow or its tension limit, the lower, MPa; none when it has neither.
pub(crate) fn housing_limit_pressure(housing: &Ring, pair: &Pair, criterion: Criterion) -> Option<f64> {
    let q = pair.housing.ratio();
    let onset = housing.yield_MPa.map(|Y| match criterion {
        Criterion::Tresca => lame::onset_pressure(q, Y),
        Criterion::VonMises => lame::onset_pressure_von_mises(q, Y),
    });
    let tension = housing.tension_limit_MPa.map(|limit| limit / lame::housing_hoop_at_bore(1.0, q));
    onset.into_iter().chain(tension).reduce(f64::min)
}
