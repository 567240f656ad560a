//! Where the metal of a seat is, where both parts meet, and which corners need small elements.

use super::request::{Groove, ROUNDING, Shape};
use crate::math::PI;
use crate::refused::Refused;
use crate::solve::graded_mesh::{Corner, Sizes};

/// Elements at a corner before any halving, as a share of the thinner wall: halved once they are a two-hundredth of it.
const FINEST: f64 = 1.0 / 100.0;
/// Kinks of the interference towards which elements become small, at most; the sharpest are taken.
const MOST_KINKS: usize = 8;
/// Kinks that get a line of their own, at most.
const MOST_KINK_LINES: usize = 20;
/// Elements along the axis before any halving, at most: with more corners each gets larger ones.
const MOST_ALONG: usize = 110;
/// Elements across one part before any halving, at most.
const MOST_ACROSS: usize = 32;
/// Times that elements may be made larger for that.
const COARSER: u32 = 24;

/// A seat cut along its axis.
#[derive(Clone, Debug)]
pub struct Outline<'s> {
    pub(super) shape: &'s Shape,
    /// Lengths where both parts meet, in their order.
    pub lands: Vec<(f64, f64)>,
    /// The thinner wall of both parts, mm.
    pub thinner: f64,
    breaks: Vec<f64>,
    corners: Vec<Corner>,
    singular: bool,
}

impl<'s> Outline<'s> {
    /// The outline of a request; refused when grooves leave nothing to meet.
    pub fn new(shape: &'s Shape) -> Result<Self, Refused> {
        let lands = lands(shape);
        if lands.is_empty() {
            let allowed = "a land where bush and housing meet";
            return Err(Refused::new("bush", "grooved along all the length in common", allowed, "look at the grooves again"));
        }
        let mut outline = Self { shape, lands, thinner: thinner(shape), breaks: Vec::new(), corners: Vec::new(), singular: false };
        outline.mark();
        Ok(outline)
    }

    /// Adds all breaks and corners along the axis.
    fn mark(&mut self) {
        let shape = self.shape;
        let finest = FINEST * self.thinner;
        let (bush, housing) = (shape.bush_ends(), shape.housing_ends());
        let mut sharp: Vec<f64> = Vec::new();
        self.breaks.extend([bush.0, bush.1, housing.0, housing.1, shape.bush.from_mm, shape.bush.to_mm]);
        let flush = |z: f64| {
            let ends = |(left, right): (f64, f64)| near(z, left, right - left) || near(z, right, right - left);
            ends(bush) && ends(housing)
        };
        // Where both parts end on one plane the corner is a right angle of each and nothing is singular, unless they are tied.
        sharp.extend(self.lands.iter().flat_map(|land| [land.0, land.1]).filter(|z| shape.stuck || !flush(*z)));
        let inside = |z: f64, (left, right): (f64, f64)| z > left && z < right;
        let grooves = [(&shape.bush.outside_grooves, bush), (&shape.bush.bore_grooves, bush), (&shape.housing.bore_grooves, housing)];
        for (list, ends) in grooves {
            sharp.extend(list.iter().flat_map(|groove| [groove.from_mm, groove.to_mm]).filter(|z| inside(*z, ends)));
        }
        sharp.extend(shape.housing.sections.windows(2).filter(|pair| pair[0].outside_mm != pair[1].outside_mm).map(|pair| pair[1].from_mm));
        if let Some(flange) = &shape.bush.flange {
            sharp.push(if flange.left { shape.bush.from_mm } else { shape.bush.to_mm });
        }
        let mut kinks = self.kinks();
        self.breaks.extend(kinks.iter().take(MOST_KINK_LINES).map(|kink| kink.0));
        kinks.truncate(MOST_KINKS);
        sharp.extend(kinks.into_iter().map(|kink| kink.0));
        self.singular = !sharp.is_empty();
        self.breaks.extend(&sharp);
        let long = bush.1.max(housing.1) - bush.0.min(housing.0);
        settle(&mut self.breaks, long);
        settle(&mut sharp, long);
        self.corners.extend(sharp.into_iter().map(|at| Corner { at, finest }));
    }

    /// Kinks of the interference inside the lands, (z, change of slope), the sharpest first.
    fn kinks(&self) -> Vec<(f64, f64)> {
        let list = &self.shape.interference;
        let slope = |k: usize| match (list.get(k), list.get(k + 1)) {
            (Some(a), Some(b)) => (b.1 - a.1) / (b.0 - a.0),
            _ => 0.0,
        };
        let change = |k: usize| (slope(k) - k.checked_sub(1).map_or(0.0, slope)).abs();
        let mut kinks: Vec<(f64, f64)> = (0..list.len()).map(|k| (list[k].0, change(k))).collect();
        let most = kinks.iter().map(|kink| kink.1).fold(0.0, f64::max);
        let inside = |z: f64| self.lands.iter().any(|land| z > land.0 && z < land.1);
        kinks.retain(|(z, change)| inside(*z) && *change > 1e-6 * most);
        kinks.sort_by(|a, b| b.1.total_cmp(&a.1));
        kinks
    }

    /// Lines along the axis for both parts, halved `halvings` times.
    pub fn lines(&self, halvings: u32) -> Vec<f64> {
        let R = 0.5 * self.shape.housing.bore_mm;
        // A thin wall bends over √(R wall): elements of a wall's length would be wasted on it.
        let bend = (R * self.thinner).sqrt();
        let even = self.thinner.max(bend / 3.0);
        let mut sizes = Sizes { corners: self.corners.clone(), slope: 1.5, even, reach: 3.0 * bend, far_slope: 0.25 };
        if sizes.corners.is_empty() {
            let (left, right) = self.shape.housing_ends();
            sizes.corners = [left, right].map(|at| Corner { at, finest: even }).to_vec();
        }
        thinned(sizes, &self.breaks, MOST_ALONG).lines(&self.breaks, halvings)
    }

    /// Lines along r of the bush, halved `halvings` times.
    pub fn bush_radii(&self, halvings: u32) -> Vec<f64> {
        let shape = self.shape;
        let (bore, joint) = (0.5 * shape.bush.bore_mm, 0.5 * shape.housing.bore_mm);
        let bottoms = shape.bush.bore_grooves.iter().map(|groove| bore + groove.depth_mm);
        let bottoms: Vec<f64> = bottoms.chain(shape.bush.outside_grooves.iter().map(|groove| joint - groove.depth_mm)).collect();
        let mut breaks = vec![bore, joint];
        breaks.extend(&bottoms);
        let sizes = self.across(&bottoms, 0.5 * shape.wall_mm());
        settle(&mut breaks, joint - bore);
        let mut lines = thinned(sizes, &breaks, MOST_ACROSS).lines(&breaks, halvings);
        if let Some(flange) = &shape.bush.flange {
            let outside = 0.5 * flange.outside_mm;
            let sizes = self.across(&[], (0.5 * shape.wall_mm()).max(0.25 * (outside - joint)));
            lines.extend(sizes.lines(&[joint, outside], halvings).into_iter().skip(1));
        }
        lines
    }

    /// Lines along r of the housing, halved `halvings` times.
    pub fn housing_radii(&self, halvings: u32) -> Vec<f64> {
        let housing = &self.shape.housing;
        let joint = 0.5 * housing.bore_mm;
        let outsides: Vec<f64> = housing.sections.iter().map(|section| 0.5 * section.outside_mm).collect();
        let most = outsides.iter().copied().fold(joint, f64::max);
        let least = outsides.iter().copied().fold(f64::INFINITY, f64::min);
        let mut corners: Vec<f64> = housing.bore_grooves.iter().map(|groove| joint + groove.depth_mm).collect();
        corners.extend(outsides.iter().filter(|outside| **outside < most * (1.0 - ROUNDING)));
        let mut breaks = vec![joint];
        breaks.extend(outsides.iter().chain(&corners));
        settle(&mut breaks, most - joint);
        let sizes = self.across(&corners, (0.5 * (least - joint)).max(0.25 * (most - joint)));
        thinned(sizes, &breaks, MOST_ACROSS).lines(&breaks, halvings)
    }

    /// Sizes along r: small at the joint and at `corners`.
    fn across(&self, corners: &[f64], even: f64) -> Sizes {
        let joint = 0.5 * self.shape.housing.bore_mm;
        let finest = if self.singular { FINEST * self.thinner } else { 0.5 * self.thinner };
        let corners = corners.iter().chain([&joint]).map(|at| Corner { at: *at, finest }).collect();
        Sizes { corners, slope: 1.5, even, reach: 0.0, far_slope: 0.25 }
    }

    /// From which radius to which there is metal of the bush at `z`.
    pub fn bush_at(&self, z: f64) -> Option<(f64, f64)> {
        let (shape, bush) = (self.shape, &self.shape.bush);
        let (left, right) = shape.bush_ends();
        if z < left || z > right {
            return None;
        }
        let inside = 0.5 * bush.bore_mm + depth(&bush.bore_grooves, z);
        let on_flange = z < bush.from_mm || z > bush.to_mm;
        let outside = match &bush.flange {
            Some(flange) if on_flange => 0.5 * flange.outside_mm,
            _ => 0.5 * shape.housing.bore_mm - depth(&bush.outside_grooves, z),
        };
        Some((inside, outside))
    }

    /// From which radius to which there is metal of the housing at `z`.
    pub fn housing_at(&self, z: f64) -> Option<(f64, f64)> {
        let housing = &self.shape.housing;
        let section = housing.sections.iter().find(|section| z >= section.from_mm && z <= section.to_mm)?;
        Some((0.5 * housing.bore_mm + depth(&housing.bore_grooves, z), 0.5 * section.outside_mm))
    }

    /// Whether both parts meet at `z`.
    pub fn is_land(&self, z: f64) -> bool {
        self.lands.iter().any(|land| z >= land.0 && z <= land.1)
    }

    /// Distance of `z` on a land from its nearer end.
    pub fn from_end(&self, z: f64) -> f64 {
        self.lands.iter().filter(|land| z >= land.0 && z <= land.1).map(|land| (z - land.0).min(land.1 - z)).fold(0.0, f64::max)
    }

    /// Whether the pressure at `z` can be told: at a land's end it is singular, and no figure.
    pub fn told_at(&self, z: f64) -> bool {
        !self.is_land(z) || self.from_end(z) >= 0.25 * self.shape.wall_mm()
    }

    /// The places asked for that are on a land and whose pressure can be told.
    pub fn told_places(&self) -> impl Iterator<Item = f64> + '_ {
        self.shape.at_mm.iter().copied().filter(|z| self.is_land(*z) && self.told_at(*z))
    }

    /// Mean pressure over the lands under a force across the joint, MPa.
    pub fn mean_pressure(&self, force_kN: f64) -> f64 {
        1e3 * force_kN / (PI * self.shape.housing.bore_mm * self.land_length())
    }

    /// Length of all lands, mm.
    pub fn land_length(&self) -> f64 {
        self.lands.iter().map(|land| land.1 - land.0).sum()
    }

    /// Mean of the interference over the lands, µm.
    pub fn mean_interference(&self) -> f64 {
        let kinks: Vec<f64> = self.shape.interference.iter().map(|station| station.0).collect();
        let mut sum = 0.0;
        for land in &self.lands {
            let mut places = vec![land.0];
            places.extend(kinks.iter().filter(|z| **z > land.0 && **z < land.1));
            places.push(land.1);
            // Straight between two places: the mean of both ends is exact.
            sum += places.windows(2).map(|pair| 0.5 * (pair[1] - pair[0]) * (self.delta(pair[0]) + self.delta(pair[1]))).sum::<f64>();
        }
        sum / self.land_length()
    }

    /// Largest interference on the lands without its sign, and largest with it, µm.
    pub fn largest_interference(&self) -> (f64, f64) {
        let ends = self.lands.iter().flat_map(|land| [land.0, land.1]);
        let kinks = self.shape.interference.iter().map(|station| station.0).filter(|z| self.is_land(*z));
        let mut largest = (0.0, f64::NEG_INFINITY);
        for delta in ends.chain(kinks).map(|z| self.delta(z)) {
            largest = (f64::max(largest.0, delta.abs()), f64::max(largest.1, delta));
        }
        largest
    }

    fn delta(&self, z: f64) -> f64 {
        self.shape.interference_at(z)
    }
}

/// The same sizes, or larger ones where there would be more than `most` elements.
fn thinned(mut sizes: Sizes, breaks: &[f64], most: usize) -> Sizes {
    for _ in 0..COARSER {
        if sizes.lines(breaks, 0).len() <= most {
            break;
        }
        sizes.corners.iter_mut().for_each(|corner| corner.finest *= 2.0);
        sizes.even *= 1.25;
        sizes.slope *= 1.1;
    }
    sizes
}

fn near(a: f64, b: f64, long: f64) -> bool {
    (a - b).abs() <= ROUNDING * long
}

/// Sorts places and drops those that are one but for rounding.
fn settle(places: &mut Vec<f64>, long: f64) {
    places.sort_by(f64::total_cmp);
    places.dedup_by(|next, kept| near(*next, *kept, long));
}

/// The deepest groove at `z`.
fn depth(grooves: &[Groove], z: f64) -> f64 {
    grooves.iter().filter(|groove| z > groove.from_mm && z < groove.to_mm).map(|groove| groove.depth_mm).fold(0.0, f64::max)
}

/// The length in common less the grooves of the joint.
fn lands(shape: &Shape) -> Vec<(f64, f64)> {
    let (left, right) = shape.housing_ends();
    let common = (shape.bush.from_mm.max(left), shape.bush.to_mm.min(right));
    let mut grooves: Vec<&Groove> = shape.bush.outside_grooves.iter().chain(&shape.housing.bore_grooves).collect();
    grooves.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let (mut lands, mut from) = (Vec::new(), common.0);
    let mut land = |from: f64, to: f64| {
        if to - from > ROUNDING * (common.1 - common.0) {
            lands.push((from, to));
        }
    };
    for groove in grooves {
        land(from, groove.from_mm.min(common.1));
        from = from.max(groove.to_mm);
    }
    land(from, common.1);
    lands
}

/// The thinner of the bush's wall and the thinnest section of the housing, grooves left out.
fn thinner(shape: &Shape) -> f64 {
    let sections = shape.housing.sections.iter().map(|section| 0.5 * (section.outside_mm - shape.housing.bore_mm));
    sections.fold(shape.wall_mm(), f64::min)
}
