//! An axis: from figures to places on the drawing, with round ticks.

use calc::units::shown_plain;

/// A straight scale between two figures and two places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Axis {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
}

impl Axis {
    /// None when the figures span nothing.
    pub fn new(from: f64, to: f64, start: f64, end: f64) -> Option<Self> {
        (from.is_finite() && to.is_finite() && to > from).then_some(Self { from, to, start, end })
    }

    /// Place of a figure; beyond the ends it stays on the line.
    pub fn at(&self, figure: f64) -> f64 {
        self.start + (self.end - self.start) * (figure - self.from) / (self.to - self.from)
    }

    /// Place of a figure, kept between the ends.
    pub fn held(&self, figure: f64) -> f64 {
        self.at(figure.clamp(self.from, self.to))
    }

    /// Round figures on the axis and how they are written, at most as many as fit `apart` units from each other.
    pub fn ticks(&self, apart: f64) -> Vec<(f64, String)> {
        let most = ((self.end - self.start).abs() / apart).floor().max(1.0);
        let wanted = (self.to - self.from) / most;
        let step = round_up(wanted);
        // 25, 250 .. lie well between 20 and 50 where they need no decimals.
        let step = if step >= 10.0 && step / 2.0 >= wanted && round_up(step / 2.0) > step / 2.0 { step / 2.0 } else { step };
        let decimals = decimals_of(step);
        let first = (self.from / step - 1e-9).ceil();
        (0..200)
            .map(|index| (first + f64::from(index)) * step)
            .take_while(|figure| *figure <= self.to + step * 1e-9)
            .map(|figure| (self.at(figure), minus(&shown_plain(figure, decimals))))
            .collect()
    }
}

/// The next 1, 2 or 5 times a power of ten.
pub(crate) fn round_up(x: f64) -> f64 {
    if !(x.is_finite() && x > 0.0) {
        return 1.0;
    }
    let mut power = 1.0;
    while power > x {
        power /= 10.0;
    }
    while power * 10.0 <= x {
        power *= 10.0;
    }
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|digit| digit * power).find(|step| *step >= x * (1.0 - 1e-9)).unwrap_or(power * 10.0)
}

fn decimals_of(step: f64) -> usize {
    let mut decimals = 0;
    let mut rest = step;
    while rest < 1.0 - 1e-9 && decimals < 9 {
        rest *= 10.0;
        decimals += 1;
    }
    decimals
}

/// A figure with the minus of mathematics instead of a hyphen.
pub(crate) fn minus(figure: &str) -> String {
    figure.replace('-', "\u{2212}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_one_two_or_five() {
        for (x, step) in [(0.7, 1.0), (1.2, 2.0), (3.0, 5.0), (60.0, 100.0), (0.03, 0.05), (100.0, 100.0)] {
            assert!((round_up(x) - step).abs() < 1e-9, "{x} gave {}", round_up(x));
        }
    }

    #[test]
    fn ticks_lie_on_the_axis_and_are_as_far_apart_as_asked() {
        let ticks = Axis::new(-43.0, 81.0, 50.0, 350.0).unwrap().ticks(60.0);
        assert!(ticks.iter().all(|(place, _)| (50.0..=350.0).contains(place)), "{ticks:?}");
        assert!(ticks.windows(2).all(|pair| pair[1].0 - pair[0].0 >= 60.0 - 1e-9), "{ticks:?}");
        assert_eq!(ticks[0].1, "\u{2212}25");
    }
}
