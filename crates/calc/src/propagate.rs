//! How the uncertainty of the inputs reaches the outputs of a calculation that is a plain function.
//!
//! u²(y) = Σ (∂y/∂x)² u²(x), inputs independent, derivatives by central differences of the function itself.
//! Source: JCGM 100:2008 5.1.2 (with the numerical derivatives of its 5.1.3, note 2, at a smaller step).
//! For formulas that are given as text, and for Monte Carlo, see `uncertainty`.

use crate::quantity::{Figure, Quantity};

/// Outputs of `of` at the values of `inputs`, each with its u where some input has one.
///
/// `of` takes the inputs' values in order and gives its outputs in order, the same number each time; it may refuse.
/// An output that can't be found on one side of a step (refused, or not finite) is differenced on the other side.
pub fn propagate<E>(inputs: &[Quantity], mut of: impl FnMut(&[f64]) -> Result<Vec<f64>, E>) -> Result<Vec<Figure>, E> {
    let mut at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let centre = of(&at)?;
    if inputs.iter().all(|input| input.u == 0.0) {
        return Ok(centre.into_iter().map(Figure::plain).collect());
    }
    let mut u2 = vec![0.0; centre.len()];
    for (i, input) in inputs.iter().enumerate().filter(|(_, input)| input.u > 0.0) {
        // A thousandth of u keeps the curvature out; the size of the value keeps the rounding out.
        let step = (1e-3 * input.u).max(1e-7 * input.value.abs());
        at[i] = input.value + step;
        let above = of(&at).ok();
        at[i] = input.value - step;
        let below = of(&at).ok();
        at[i] = input.value;
        let on = |side: &Option<Vec<f64>>, k: usize| side.as_ref().and_then(|found| found.get(k)).copied().filter(|x| x.is_finite());
        for (k, (sum, middle)) in u2.iter_mut().zip(&centre).enumerate() {
            let slope = match (on(&above, k), on(&below, k)) {
                (Some(high), Some(low)) => (high - low) / (2.0 * step),
                (Some(high), None) => (high - middle) / step,
                (None, Some(low)) => (middle - low) / step,
                (None, None) => continue,
            };
            *sum += crate::math::sq(slope * input.u);
        }
    }
    Ok(centre.into_iter().zip(u2).map(|(value, u2)| Figure { value, u: Some(u2.sqrt()) }).collect())
}
