//! Random draws that depend on nothing but (seed, name of the input, number of the draw).
//!
//! So the bytes of a Monte Carlo do not depend on threads, on the order of work, on the width of the machine's vectors, or on
//! which other inputs exist. One draw at a time: [`Stream::of`]. Many at once, the same bits and some ten times quicker:
//! [`Stream::fill`]. How a word of random bits becomes a draw of a shape is in [`shapes`]; wide vectors are in [`wide`].
//!
//! Generator: SplitMix64, a Weyl sequence with the step of the golden ratio through a finaliser of two multiplications; its
//! place in the sequence is the number of the draw, its start is a key made from seed and name. Two of some 30 streams of 1e8
//! draws share a stretch of the 2^64 places with a chance under 1e-7. Source: Steele, Lea and Flood, Fast Splittable
//! Pseudorandom Number Generators (2014); constants from memory of the published code.

pub mod shapes;
pub mod wide;

use crate::quantity::{Quantity, Shape};

/// Draws are made in groups: in a group of a normal or rectangular stream, draw k and draw k + `GROUP`/2 are the two halves of one pair.
pub const GROUP: usize = 128;

const HALF: usize = GROUP / 2;

/// A stream of draws for one input.
#[derive(Clone, Copy, Debug)]
pub struct Stream {
    key: u64,
}

impl Stream {
    /// The stream of the input called `name` under `seed`.
    pub fn new(seed: u64, name: &str) -> Self {
        // FNV-1a over the name, then mixed with the seed, so that near names and near seeds are far apart.
        let name = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
        Self { key: mix(name ^ mix(seed.wrapping_add(GOLDEN))) }
    }

    /// 64 random bits: word `n` of the stream.
    #[inline(always)]
    fn word(&self, n: u64) -> u64 {
        mix(self.key.wrapping_add(n.wrapping_mul(GOLDEN)))
    }

    /// Draw `i`, even over 0 < x < 1.
    pub fn even(&self, i: u64) -> f64 {
        shapes::even(self.word(i))
    }

    /// Draw `i` of the standard normal distribution.
    pub fn normal(&self, i: u64) -> f64 {
        self.half_of(i, shapes::normal_pair)
    }

    /// Draw `i` of a stream whose draws are made in pairs.
    fn half_of(&self, i: u64, pair: fn(u64) -> (f64, f64)) -> f64 {
        let (group, k) = (i / GROUP as u64, i % GROUP as u64);
        let (first, second) = pair(self.word(group * HALF as u64 + k % HALF as u64));
        if k < HALF as u64 { first } else { second }
    }

    /// Draw `i` of a quantity by its shape: value + u · standard draw.
    pub fn of(&self, quantity: &Quantity, i: u64) -> f64 {
        quantity.value + quantity.u * self.standard(quantity, i)
    }

    /// Draw `i` of the shape of a quantity about 0, per standard uncertainty.
    pub fn standard(&self, quantity: &Quantity, i: u64) -> f64 {
        match quantity.drawn_shape() {
            Shape::Normal => self.normal(i),
            Shape::Rectangular => self.half_of(i, shapes::rectangular_pair),
            Shape::Triangular => shapes::triangular(self.word(i)),
            Shape::Arcsine => shapes::arcsine(self.word(i)),
            Shape::T => shapes::student(self.word(i), dof_of(quantity)),
        }
    }

    /// Draws `start`, `start` + 1, .. of a quantity: the same bits as [`Stream::of`], many at once.
    pub fn fill(&self, quantity: &Quantity, start: u64, out: &mut [f64]) {
        wide::widest(Fill { stream: *self, quantity, start, out });
    }

    /// Group `group` (draws `group`·[`GROUP`] and on) of standard draws. To be called inside a [`wide::Work`].
    #[inline(always)]
    pub fn standard_group(&self, quantity: &Quantity, group: u64, steps: &mut Steps, out: &mut [f64; GROUP]) {
        self.group_as(quantity, group, steps, out, |standard| standard);
    }

    /// The same group of draws of the quantity itself.
    #[inline(always)]
    pub fn group(&self, quantity: &Quantity, group: u64, steps: &mut Steps, out: &mut [f64; GROUP]) {
        let (value, u) = (quantity.value, quantity.u);
        self.group_as(quantity, group, steps, out, |standard| value + u * standard);
    }

    // One short loop a step. In one long loop from word to draw the processor waits for the end of a turn before it can look far
    // into the next; short turns overlap (measured: 27.5 ms instead of 38.9 for 16e6 normal draws).
    #[inline(always)]
    fn group_as(&self, quantity: &Quantity, group: u64, steps: &mut Steps, out: &mut [f64; GROUP], as_: impl Fn(f64) -> f64) {
        match quantity.drawn_shape() {
            Shape::Normal => {
                let (first, second) = out.split_at_mut(HALF);
                self.words(group.wrapping_mul(HALF as u64), &mut steps.words[..HALF]);
                steps.square_radii(HALF);
                for (((word, square), first), second) in steps.words.iter().zip(&steps.squares).zip(first).zip(second) {
                    let (x, y) = shapes::on_radius(*word, *square, shapes::half_angle(*word));
                    (*first, *second) = (as_(x), as_(y));
                }
            }
            Shape::Rectangular => {
                let (first, second) = out.split_at_mut(HALF);
                self.words(group.wrapping_mul(HALF as u64), &mut steps.words[..HALF]);
                for ((word, first), second) in steps.words.iter().zip(first).zip(second) {
                    let (x, y) = shapes::rectangular_pair(*word);
                    (*first, *second) = (as_(x), as_(y));
                }
            }
            Shape::Triangular => self.one_a_word(group, steps, out, |word| as_(shapes::triangular(word))),
            Shape::Arcsine => self.one_a_word(group, steps, out, |word| as_(shapes::arcsine(word))),
            Shape::T => {
                let dof = dof_of(quantity);
                self.words(group.wrapping_mul(GROUP as u64), &mut steps.words);
                steps.square_radii(GROUP);
                for square in &mut steps.squares {
                    *square = shapes::student_square(*square, dof);
                }
                for ((word, square), out) in steps.words.iter().zip(&steps.squares).zip(out) {
                    *out = as_(shapes::student_at(*word, *square));
                }
            }
        }
    }

    #[inline(always)]
    fn one_a_word(&self, group: u64, steps: &mut Steps, out: &mut [f64; GROUP], shape: impl Fn(u64) -> f64) {
        self.words(group.wrapping_mul(GROUP as u64), &mut steps.words);
        for (word, out) in steps.words.iter().zip(out) {
            *out = shape(*word);
        }
    }

    #[inline(always)]
    fn words(&self, start: u64, words: &mut [u64]) {
        let mut place = self.key.wrapping_add(start.wrapping_mul(GOLDEN));
        for word in words {
            *word = mix(place);
            place = place.wrapping_add(GOLDEN);
        }
    }
}

/// Room for the steps from words to draws, used again for every group.
#[derive(Clone, Debug)]
pub struct Steps {
    words: [u64; GROUP],
    rests: [f64; GROUP],
    squares: [f64; GROUP],
}

impl Default for Steps {
    fn default() -> Self {
        Self { words: [0; GROUP], rests: [0.0; GROUP], squares: [0.0; GROUP] }
    }
}

impl Steps {
    /// −2 ln u of the first `n` words.
    #[inline(always)]
    fn square_radii(&mut self, n: usize) {
        let Self { words, rests, squares } = self;
        for ((word, rest), square) in words[..n].iter().zip(&mut *rests).zip(&mut *squares) {
            (*rest, *square) = shapes::split(*word);
        }
        for (rest, square) in rests[..n].iter().zip(&mut *squares) {
            *square = shapes::square_radius((*rest, *square));
        }
    }
}

struct Fill<'q, 'o> {
    stream: Stream,
    quantity: &'q Quantity,
    start: u64,
    out: &'o mut [f64],
}

impl wide::Work for Fill<'_, '_> {
    type Done = ();
    #[inline(always)]
    fn run(self) {
        let Self { stream, quantity, start, out } = self;
        let to_group = ((GROUP as u64 - start % GROUP as u64) % GROUP as u64) as usize;
        let (before, rest) = out.split_at_mut(to_group.min(out.len()));
        let mut i = start;
        for out in before {
            *out = stream.of(quantity, i);
            i += 1;
        }
        let mut steps = Steps::default();
        let (groups, after) = rest.as_chunks_mut::<GROUP>();
        for out in groups {
            stream.group(quantity, i / GROUP as u64, &mut steps, out);
            i += GROUP as u64;
        }
        for out in after {
            *out = stream.of(quantity, i);
            i += 1;
        }
    }
}

fn dof_of(quantity: &Quantity) -> f64 {
    quantity.dof.unwrap_or(f64::INFINITY)
}

const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

#[inline(always)]
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPES: [Quantity; 6] = [
        Quantity { value: 3.0, u: 0.5, dof: None, shape: None },
        Quantity { value: 3.0, u: 0.5, dof: None, shape: Some(Shape::Rectangular) },
        Quantity { value: 3.0, u: 0.5, dof: None, shape: Some(Shape::Triangular) },
        Quantity { value: 3.0, u: 0.5, dof: None, shape: Some(Shape::Arcsine) },
        Quantity { value: 3.0, u: 0.5, dof: Some(5.0), shape: None },
        Quantity { value: 3.0, u: 0.5, dof: Some(4.5e7), shape: Some(Shape::T) },
    ];

    #[test]
    fn a_filled_block_has_the_bits_of_the_single_draws_wherever_it_starts() {
        for quantity in &SHAPES {
            for (start, length) in [(0, 300), (1, 200), (63, 66), (70, 10), (1 << 40, 129)] {
                let stream = Stream::new(7, "bush/reading_mm");
                let mut block = vec![0.0; length];
                stream.fill(quantity, start, &mut block);
                for (k, drawn) in block.iter().enumerate() {
                    assert_eq!(drawn.to_bits(), stream.of(quantity, start + k as u64).to_bits(), "{quantity:?} {start} + {k}");
                }
            }
        }
    }

    #[test]
    fn every_width_of_vectors_gives_the_same_bits() {
        for quantity in &SHAPES {
            let stream = Stream::new(11, "any");
            let each = wide::each_width(|width| {
                let mut block = vec![0.0; 1000];
                wide::at_width(width, Fill { stream, quantity, start: 5, out: &mut block });
                block.iter().map(|x| x.to_bits()).collect::<Vec<_>>()
            });
            assert!(each.windows(2).all(|pair| pair[0] == pair[1]), "{quantity:?}");
        }
    }

    #[test]
    fn draws_have_the_mean_and_the_spread_of_their_shape() {
        // 400 000 draws: five standard errors of the mean are 0.008 u.
        let n = 400_000;
        for quantity in &SHAPES {
            let mut block = vec![0.0; n];
            Stream::new(3, "spread").fill(quantity, 0, &mut block);
            let mean = block.iter().sum::<f64>() / n as f64;
            let sd = (block.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n as f64).sqrt();
            let dof = quantity.dof.unwrap_or(f64::INFINITY);
            let wanted = if dof.is_finite() { quantity.u * (dof / (dof - 2.0)).sqrt() } else { quantity.u };
            assert!((mean - quantity.value).abs() < 0.008 * wanted, "{quantity:?}: mean {mean}");
            assert!((sd / wanted - 1.0).abs() < 0.015, "{quantity:?}: sd {sd}, wanted {wanted}");
        }
    }

    #[test]
    fn draws_of_each_shape_follow_its_distribution() {
        // Kolmogorov: sup |F - n/N| of 200 000 draws is under 1.95/sqrt(N) with 99.9 %.
        use crate::distributions::{normal_chance, student_chance};
        let n = 200_000;
        let asin = crate::math::asin;
        for quantity in &SHAPES {
            let mut block: Vec<f64> = vec![0.0; n];
            Stream::new(5, "shape").fill(quantity, 0, &mut block);
            block.sort_by(f64::total_cmp);
            let chance = |x: f64| {
                let s = (x - quantity.value) / quantity.u;
                match quantity.drawn_shape() {
                    Shape::Normal => normal_chance(s),
                    Shape::Rectangular => (s / 3.0_f64.sqrt() + 1.0) / 2.0,
                    Shape::Triangular => {
                        let side = 1.0 - (s / 6.0_f64.sqrt()).abs();
                        if s < 0.0 { side * side / 2.0 } else { 1.0 - side * side / 2.0 }
                    }
                    Shape::Arcsine => asin((s / 2.0_f64.sqrt()).clamp(-1.0, 1.0)) / crate::math::PI + 0.5,
                    Shape::T => student_chance(s, dof_of(quantity)),
                }
            };
            let worst = block.iter().enumerate().map(|(i, x)| (chance(*x) - (i as f64 + 0.5) / n as f64).abs()).fold(0.0, f64::max);
            assert!(worst < 1.95 / (n as f64).sqrt(), "{quantity:?}: {worst}");
        }
    }

    #[test]
    fn streams_of_near_names_and_near_seeds_are_not_related() {
        let n = 100_000;
        let quantity = Quantity::with_u(0.0, 1.0);
        let drawn = |seed, name| {
            let mut block = vec![0.0; n];
            Stream::new(seed, name).fill(&quantity, 0, &mut block);
            block
        };
        let base = drawn(1, "bush/T_C");
        for other in [drawn(1, "bush/T_D"), drawn(2, "bush/T_C"), drawn(1, "housing/T_C")] {
            let correlation = base.iter().zip(&other).map(|(a, b)| a * b).sum::<f64>() / n as f64;
            assert!(correlation.abs() < 5.0 / (n as f64).sqrt(), "{correlation}");
        }
    }
}
