//! Lines of a mesh that are close where a field is steep: near corners, ends and kinks; and even or wide elsewhere.
//!
//! A mesh is described by how large its elements may be at each place. From that come lines that can be halved again and again: a halved
//! mesh has every line of the one before, so that what still changes tells how good it is.

/// A place towards which elements become small.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Where it is.
    pub at: f64,
    /// The size of the elements there.
    pub finest: f64,
}

/// How large elements may be along a line.
#[derive(Clone, Debug)]
pub struct Sizes {
    /// Places with small elements.
    pub corners: Vec<Corner>,
    /// By how much elements grow with the distance from a corner.
    pub slope: f64,
    /// The largest size near corners.
    pub even: f64,
    /// The distance from the nearest corner to which `even` holds.
    pub reach: f64,
    /// By how much elements grow beyond.
    pub far_slope: f64,
}

/// Steps of the sum over an element.
const STEPS: f64 = 12.0;
/// Sums of one gap between two breaks are not taken further.
const MOST_STEPS: usize = 200_000;

impl Sizes {
    /// The largest element allowed at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let mut size = f64::INFINITY;
        let mut distance = f64::INFINITY;
        for corner in &self.corners {
            let away = (x - corner.at).abs();
            size = size.min(corner.finest + self.slope * away);
            distance = distance.min(away);
        }
        let beyond = if distance.is_finite() { (distance - self.reach).max(0.0) } else { 0.0 };
        size.min(self.even + self.far_slope * beyond)
    }

    /// Elements between two places, as a running sum: (place, elements up to there).
    fn sum(&self, from: f64, to: f64) -> Vec<(f64, f64)> {
        let mut places = vec![(from, 0.0)];
        let (mut x, mut sum) = (from, 0.0);
        while x < to && places.len() < MOST_STEPS {
            // The size at the middle of a step that the size at its start has chosen: no step jumps over a corner's small elements,
            // because the size falls by `slope` at most.
            let step = (self.at(x) / STEPS).min(to - x).max(1e-12 * (to - from));
            let next = if to - x <= step { to } else { x + step };
            sum += (next - x) / self.at(0.5 * (x + next));
            x = next;
            places.push((x, sum));
        }
        places
    }

    /// Lines over `breaks` (rising), each of which is a line: elements are as large as allowed, then halved `halvings` times.
    pub fn lines(&self, breaks: &[f64], halvings: u32) -> Vec<f64> {
        let mut lines: Vec<f64> = breaks.first().copied().into_iter().collect();
        for pair in breaks.windows(2) {
            let places = self.sum(pair[0], pair[1]);
            let whole = places.last().map_or(0.0, |place| place.1);
            let elements = (whole - 1e-6).ceil().max(1.0) as usize * (1 << halvings);
            let mut k = 0;
            for line in 1..elements {
                let wanted = whole * line as f64 / elements as f64;
                while k + 2 < places.len() && places[k + 1].1 < wanted {
                    k += 1;
                }
                let (low, high) = (places[k], places[k + 1]);
                lines.push(low.0 + (high.0 - low.0) * (wanted - low.1) / (high.1 - low.1));
            }
            lines.push(pair[1]);
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sizes() -> Sizes {
        let corner = |at| Corner { at, finest: 0.01 };
        Sizes { corners: vec![corner(0.0), corner(3.0)], slope: 1.0, even: 0.5, reach: 20.0, far_slope: 0.2 }
    }

    #[test]
    fn elements_are_no_larger_than_asked_and_rise_from_line_to_line() {
        let lines = sizes().lines(&[-1.0, 0.0, 3.0, 90.0], 0);
        assert!(lines.windows(2).all(|pair| pair[1] > pair[0] && pair[1] - pair[0] < 1.7 * sizes().at(pair[0]).max(sizes().at(pair[1]))));
        assert!([-1.0, 0.0, 3.0, 90.0].iter().all(|place| lines.contains(place)));
        let at_corner = lines.iter().position(|x| *x == 3.0).unwrap();
        assert!(lines[at_corner + 1] - 3.0 < 0.02);
    }

    #[test]
    fn a_halved_mesh_has_every_line_of_the_one_before() {
        let (coarse, fine) = (sizes().lines(&[0.0, 3.0, 40.0], 1), sizes().lines(&[0.0, 3.0, 40.0], 2));
        assert_eq!(fine.len(), 2 * coarse.len() - 1);
        assert!(coarse.iter().enumerate().all(|(k, x)| (fine[2 * k] - x).abs() < 1e-9));
    }
}
