//! A small random number generator of our own, so that one seed gives one nest on every machine and
//! release.

/// xoshiro256++ seeded by splitmix64 (Blackman and Vigna 2021, "Scrambled linear pseudorandom
/// number generators", ACM Transactions on Mathematical Software 47(4)).
#[derive(Debug, Clone)]
pub(super) struct Dice {
    state: [u64; 4],
}

impl Dice {
    /// A generator whose whole stream follows from `seed`.
    pub(super) fn new(seed: u64) -> Self {
        let mut z = seed;
        let mut next = || {
            z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut s = z;
            s = (s ^ (s >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            s = (s ^ (s >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            s ^ (s >> 31)
        };
        Self { state: [next(), next(), next(), next()] }
    }

    /// The next 64 random bits.
    pub(super) fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform in [0, 1).
    pub(super) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    /// Uniform in [low, high); `low` when the interval is empty.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        if high > low { low + (high - low) * self.unit() } else { low }
    }

    /// Uniform in 0..count; 0 when `count` is 0.
    #[allow(clippy::cast_possible_truncation)] // the high word of a 64 x 64 bit product is below `count`
    pub(super) fn below(&mut self, count: usize) -> usize {
        ((u128::from(self.bits()) * count as u128) >> 64) as usize
    }

    /// Shuffles in place (Fisher and Yates).
    pub(super) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}
