//! Random numbers that are the same in every run; the engine's own dice are not used in tests.

/// A linear congruential generator (Numerical Recipes' constants), for shapes one after the other.
pub(crate) struct Dice(pub(crate) u32);

impl Dice {
    /// The next number, below 2^24: the low bits of such a generator are poor.
    fn roll(&mut self) -> u32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        self.0 >> 8
    }

    /// A number from `from` up to `to`.
    pub(crate) fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * f64::from(self.roll()) / f64::from(1 << 24)
    }

    /// A whole number from `from` to `to`, both possible.
    pub(crate) fn whole(&mut self, from: u32, to: u32) -> u32 {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between from and to"
        )]
        let number = self.between(f64::from(from), f64::from(to) + 1.0) as u32;
        number.min(to)
    }

    /// A place in a list of `n`; 0 in an empty one.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.roll() as usize % n.max(1)
    }
}

/// The 64-bit mixer of Steele, Lea and Flood 2014 as a stream, for jobs by the number: seeds one
/// apart give streams that have nothing in common, where those of `Dice` begin alike.
pub(crate) struct Stream(u64);

impl Stream {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let k = (self.unit() * n as f64) as usize;
        k.min(n - 1)
    }
}
