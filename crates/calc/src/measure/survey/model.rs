//! The form of a bore as a survey sees it: which terms its readings can tell apart, and what to read for those that they can't.
//!
//! D = m + t·w + c·(1 − 12w²) + A cos 2θ + B sin 2θ, w = (z − z_mid)/span; three contacts see cos 3θ, sin 3θ instead of the oval.

use serde::{Serialize, Serializer};

use crate::math::{cos, sin, sq};
use crate::measure::qr::smallest_singular_value;

/// One term of the form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Term {
    /// Mean over the span, m.
    Mean,
    /// Change over the span, t.
    Taper,
    /// c: the centre is 3c over the ends, and the mean over the span stays.
    Barrel,
    /// A of the two-lobe oval.
    Cos2,
    /// B of the two-lobe oval.
    Sin2,
    /// A of three lobes.
    Cos3,
    /// B of three lobes.
    Sin3,
}

impl Term {
    /// Every term, in the order in which they are taken.
    const ALL: [Self; 7] = [Self::Mean, Self::Taper, Self::Barrel, Self::Cos2, Self::Sin2, Self::Cos3, Self::Sin3];

    /// Its name in requests and answers.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Mean => "mean",
            Self::Taper => "taper",
            Self::Barrel => "barrel",
            Self::Cos2 => "cos2",
            Self::Sin2 => "sin2",
            Self::Cos3 => "cos3",
            Self::Sin3 => "sin3",
        }
    }

    /// The term of that name.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|term| term.word() == word)
    }

    /// Its column at a place: w and the direction in degrees.
    fn at(self, w: f64, angle_deg: f64) -> f64 {
        let theta = angle_deg.to_radians();
        match self {
            Self::Mean => 1.0,
            Self::Taper => w,
            Self::Barrel => 1.0 - 12.0 * sq(w),
            Self::Cos2 => cos(2.0 * theta),
            Self::Sin2 => sin(2.0 * theta),
            Self::Cos3 => cos(3.0 * theta),
            Self::Sin3 => sin(3.0 * theta),
        }
    }

    const fn goes_round(self) -> bool {
        matches!(self, Self::Cos2 | Self::Sin2 | Self::Cos3 | Self::Sin3)
    }
}

impl Serialize for Term {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

/// How the gauge touches the wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contacts {
    /// Two points, a diameter.
    Two,
    /// Three self-centring contacts at 120°.
    Three,
}

impl Contacts {
    /// The terms that such readings can carry, in the order in which they are taken.
    pub const fn terms(self) -> [Term; 5] {
        match self {
            Self::Two => [Term::Mean, Term::Taper, Term::Barrel, Term::Cos2, Term::Sin2],
            Self::Three => [Term::Mean, Term::Taper, Term::Barrel, Term::Cos3, Term::Sin3],
        }
    }

    /// After how many degrees a reading repeats itself.
    pub const fn period_deg(self) -> f64 {
        match self {
            Self::Two => 180.0,
            Self::Three => 120.0,
        }
    }
}

/// Where a reading is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Along the axis, mm.
    pub z_mm: f64,
    /// Direction of the diameter (three contacts: of the first contact), degrees.
    pub angle_deg: f64,
}

/// The axis of a survey: where its middle is and how long it counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Middle, mm.
    pub z_mid_mm: f64,
    /// Length, mm; 0 when all readings are at one station and none was given.
    pub span_mm: f64,
}

impl Span {
    fn w(&self, z_mm: f64) -> f64 {
        if self.span_mm > 0.0 { (z_mm - self.z_mid_mm) / self.span_mm } else { 0.0 }
    }

    /// The row of the form at a place.
    pub fn row(&self, terms: &[Term], place: Place) -> Vec<f64> {
        terms.iter().map(|term| term.at(self.w(place.z_mm), place.angle_deg)).collect()
    }

    /// The columns of the form over places.
    pub fn columns(&self, terms: &[Term], places: &[Place]) -> Vec<Vec<f64>> {
        terms.iter().map(|term| places.iter().map(|place| term.at(self.w(place.z_mm), place.angle_deg)).collect()).collect()
    }
}

/// Columns this dependent, scaled to length 1, can't be told apart.
const DEPENDENT: f64 = 1e-6;
/// Angles on which a further reading is thought of, degrees apart.
pub const ANGLE_STEP_DEG: f64 = 15.0;

/// Terms that can be told, in order, and those that can't with the reason and what to read for them.
pub fn told_apart(contacts: Contacts, span: Span, places: &[Place]) -> (Vec<Term>, Vec<(Term, String)>) {
    let (mut kept, mut missing) = (Vec::new(), Vec::new());
    for term in contacts.terms() {
        let with: Vec<Term> = kept.iter().copied().chain([term]).collect();
        if with.len() <= places.len() && smallest_singular_value(&span.columns(&with, places)) > DEPENDENT {
            kept = with;
        } else {
            missing.push((term, why_not(term, &kept, contacts, span, places)));
        }
    }
    (kept, missing)
}

/// Why a term can't be told, beginning with its name, and which reading would show it.
fn why_not(term: Term, kept: &[Term], contacts: Contacts, span: Span, places: &[Place]) -> String {
    let name = term.word();
    let stations = stations(places);
    let with: Vec<Term> = kept.iter().copied().chain([term]).collect();
    if term.goes_round() {
        let angles = angles(places, contacts);
        let list = angles.iter().map(|angle| format!("{angle}")).collect::<Vec<_>>().join(", ");
        let reading = best_angle(&with, contacts, span, places)
            .map_or_else(|| "read at more angles".to_owned(), |angle| format!("add a reading at {angle}°"));
        return format!("{name}: readings at {list}° only can't show it; {reading}");
    }
    match (term, stations.as_slice()) {
        (Term::Taper, [z]) => format!("{name}: all readings are at one station, z = {z} mm; add a reading at a second station"),
        (Term::Barrel, [_]) => format!("{name}: readings at one station can't show it; add readings at two more stations"),
        (Term::Barrel, [_, _]) => format!("{name}: readings at two stations can't show it; add a reading at a third station"),
        _ => format!("{name}: {} readings can't tell it from the terms before it; add a reading at another station", places.len()),
    }
}

/// The angle on the grid, at the first station, that tells the last of `terms` best.
fn best_angle(terms: &[Term], contacts: Contacts, span: Span, places: &[Place]) -> Option<f64> {
    let z_mm = places.first()?.z_mm;
    let told = |angle_deg: f64| {
        let with: Vec<Place> = places.iter().copied().chain([Place { z_mm, angle_deg }]).collect();
        if with.len() < terms.len() { 0.0 } else { smallest_singular_value(&span.columns(terms, &with)) }
    };
    let mut best = (None, DEPENDENT);
    for angle in angle_grid(contacts) {
        let value = told(angle);
        if value > best.1 + 1e-9 {
            best = (Some(angle), value);
        }
    }
    best.0
}

/// Angles 0, 15, 30 .. of one period.
pub fn angle_grid(contacts: Contacts) -> impl Iterator<Item = f64> {
    let count = (contacts.period_deg() / ANGLE_STEP_DEG) as u32;
    (0..count).map(|i| f64::from(i) * ANGLE_STEP_DEG)
}

/// The different stations, in order along the axis.
pub fn stations(places: &[Place]) -> Vec<f64> {
    sorted_once(places.iter().map(|place| place.z_mm).collect())
}

/// The different angles within one period, in order.
pub fn angles(places: &[Place], contacts: Contacts) -> Vec<f64> {
    sorted_once(places.iter().map(|place| place.angle_deg.rem_euclid(contacts.period_deg())).collect())
}

fn sorted_once(mut list: Vec<f64>) -> Vec<f64> {
    list.sort_by(f64::total_cmp);
    list.dedup();
    list
}
