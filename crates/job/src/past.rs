//! What past jobs say: predicted against measured, by machine, gauge and alloy, and what is believed of a lathe because of it.
//!
//! Of each seat that was measured after it was made stand here: the interference that was planned and that which was made, where the
//! outside landed in its band, and the close-in of the bore. Habits of lathes are those that the next part starts with. It leaves the
//! comparing to `calc::looked_back` and nothing of it is stored.

use calc::looked_back::{Pair, Together, together};
use calc::quantity::Quantity;
use calc::shown;
use calc::units::System;
use serde::{Deserialize, Serialize};

use crate::lathe::habit;
use crate::lathe::part::Part;
use crate::lathe::step::Surface;
use crate::sheet::Grid;
use crate::stages::ask::Asking;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Compared {
    /// Outside of the bush less the bore of the housing, at 20 °C.
    Interference,
    /// The outside of the bush against the middle of its band.
    Outside,
    /// What the bore loses when the bush goes in.
    CloseIn,
    /// The finished bore against the middle of its band.
    Bore,
}

impl Compared {
    /// All, in the order of the screen.
    pub const ALL: [Self; 4] = [Self::CloseIn, Self::Interference, Self::Outside, Self::Bore];

    /// Its heading.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Interference => "Interference",
            Self::Outside => "Landing of the outside",
            Self::CloseIn => "Close-in of the bore",
            Self::Bore => "Landing of the bore",
        }
    }

    /// What is predicted and how it is measured.
    pub const fn about(self) -> &'static str {
        match self {
            Self::Interference => "planned by the band, against outside and housing bore as they were measured",
            Self::Outside => "over the middle of the band: 0 is the aim, the bar of the prediction is the band",
            Self::CloseIn => "predicted for the bush as it was made, against its bore before and after fitting",
            Self::Bore => "over the middle of the band: 0 is the aim, the bar of the prediction is the band",
        }
    }
}

/// One prediction with what was measured, µm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// What is compared.
    pub of: Compared,
    /// The job.
    pub job: String,
    /// The seat.
    pub seat: String,
    /// The lathe that it was made on; empty when it was not named.
    pub lathe: String,
    /// The gauge that measured; empty when it was not named.
    pub gauge: String,
    /// The alloy of the bush.
    pub alloy: String,
    /// Predicted, µm: value and standard uncertainty.
    pub predicted_um: (f64, f64),
    /// Measured, µm: value and standard uncertainty.
    pub measured_um: (f64, f64),
}

impl Point {
    /// As `calc` compares it.
    pub fn pair(&self) -> Pair {
        let quantity = |(value, u): (f64, f64)| Quantity::with_u(value, u);
        Pair { predicted: quantity(self.predicted_um), measured: quantity(self.measured_um) }
    }
}

/// By what points are put together: a heading, and the name of a point.
type By = (&'static str, fn(&Point) -> &str);

const BY: [By; 3] =
    [("lathe", |point: &Point| &point.lathe), ("gauge", |point: &Point| &point.gauge), ("alloy", |point: &Point| &point.alloy)];

/// All points of one kind in a sentence; none where there are none.
pub fn said(of: Compared, points: &[Point], system: System) -> Option<String> {
    let all = together(&pairs(of, points))?;
    let count = if all.count == 1 { "1 seat".to_owned() } else { format!("{} seats", all.count) };
    Some(format!("On {count} {}: {}", mean(&all, system), judged(&all)))
}

fn pairs(of: Compared, points: &[Point]) -> Vec<Pair> {
    points.iter().filter(|point| point.of == of).map(Point::pair).collect()
}

fn mean(all: &Together, system: System) -> String {
    format!("measured less predicted is {}", shown::fine_quantity(&all.difference, system))
}

fn judged(all: &Together) -> String {
    let agree = match all.count {
        1 if all.agree == 1 => "it agrees within the doubts".to_owned(),
        1 => "it lies outside the doubts".to_owned(),
        count => format!("{} of {count} agree within their doubts", all.agree),
    };
    match (all.leans(), all.difference.value > 0.0) {
        (false, _) => format!("{agree}, no lean can be told."),
        (true, true) => format!("{agree}, and it comes out larger than predicted."),
        (true, false) => format!("{agree}, and it comes out smaller than predicted."),
    }
}

/// Points of one kind put together by machine, gauge and alloy.
pub fn by(of: Compared, points: &[Point], system: System) -> Grid {
    let mut rows = Vec::new();
    for (what, name) in BY {
        let mut names: Vec<&str> = points.iter().filter(|point| point.of == of).map(name).collect();
        names.sort_unstable();
        names.dedup();
        for named in names {
            let pairs: Vec<Pair> = points.iter().filter(|point| point.of == of && name(point) == named).map(Point::pair).collect();
            let Some(all) = together(&pairs) else { continue };
            let named = if named.is_empty() { "not named" } else { named };
            let word = if all.leans() { "leans" } else { "no lean" };
            rows.push(vec![
                what.to_owned(),
                named.to_owned(),
                all.count.to_string(),
                shown::fine_quantity(&all.difference, system),
                format!("{} of {} agree, {word}", all.agree, all.count),
            ]);
        }
    }
    Grid {
        title: format!("{} by lathe, gauge and alloy", of.title()),
        columns: ["by", "name", "seats", "measured less predicted", "verdict"].map(str::to_owned).into(),
        figures: vec![false, false, true, true, false],
        rows,
    }
}

/// What is believed of each lathe because of the parts that were finished on it.
pub fn lathes(finished: &[Part], system: System, asking: &mut Asking) -> Vec<Grid> {
    let mut names: Vec<String> = finished.iter().filter_map(|part| part.start().map(|(setup, _)| setup.lathe.clone())).collect();
    names.sort();
    names.dedup();
    let mut grids = Vec::new();
    for name in names.iter().filter(|name| !name.is_empty()) {
        for surface in [Surface::Outside, Surface::Bore] {
            let count = habit::of_lathe(name, surface, finished).len();
            if count == 0 {
                continue;
            }
            let rows = habit::learned(name, surface, finished, |asked| asking.answer("next-cut", asked).ok()).into_iter().map(|row| {
                let figure = |belief| habit::figure(row.habit, belief, system);
                vec![habit::meaning(row.habit).to_owned(), figure(row.usual), figure(row.now), row.parts.to_string()]
            });
            grids.push(Grid {
                title: format!("{}, {}", habit::history(name, count), surface.feature().word()),
                columns: ["habit", "usual belief", "belief now", "from"].map(str::to_owned).into(),
                figures: vec![false, true, true, true],
                rows: rows.collect(),
            });
        }
    }
    grids
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(lathe: &str, predicted: f64, measured: f64) -> Point {
        Point {
            of: Compared::CloseIn,
            job: "J".into(),
            seat: "A".into(),
            lathe: lathe.into(),
            gauge: String::new(),
            alloy: "CC493K".into(),
            predicted_um: (predicted, 3.0),
            measured_um: (measured, 4.0),
        }
    }

    #[test]
    fn points_are_put_together_by_machine_gauge_and_alloy() {
        let points = [point("small", 80.0, 82.0), point("small", 90.0, 91.0), point("large", 60.0, 90.0)];
        let grid = by(Compared::CloseIn, &points, System::Metric);
        let rows: Vec<String> = grid.rows.iter().map(|row| row.join(" | ")).collect();
        insta::assert_snapshot!(rows.join("\n"));
        assert_eq!(by(Compared::Bore, &points, System::Metric).rows.len(), 0);
        assert_eq!(said(Compared::Bore, &points, System::Metric), None);
        assert!(said(Compared::CloseIn, &points, System::Metric).unwrap().starts_with("On 3 seats measured less predicted is "));
    }
}
