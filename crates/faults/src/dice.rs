//! Draws from a seed that is printed, so that what went wrong can be gone through again.

/// A stream of draws: SplitMix64.
///
/// Source: Steele, Lea and Flood, "Fast splittable pseudorandom number generators" (2014), the mixing of their figure 16; from memory.
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// The stream of a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A seed that nobody chose.
    pub fn seed() -> u64 {
        u64::try_from(uuid::Uuid::now_v7().as_u128() & u128::from(u32::MAX)).unwrap_or(1)
    }

    /// The next 64 bits.
    pub const fn draw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 when that is 0.
    pub fn below(&mut self, n: u64) -> u64 {
        self.draw() % n.max(1)
    }

    /// Once in `n`.
    pub fn once_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    /// An index of a list of `n`.
    pub fn index(&mut self, n: usize) -> usize {
        usize::try_from(self.below(n as u64)).unwrap_or(0)
    }
}
