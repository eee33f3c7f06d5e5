//! Drawing numbers in simulations, the same in every run.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;

pub struct Dice(pub Pcg64);

impl Dice {
    /// From 0 to below 1.
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Nearly normal, with mean 0 and variance 1: twelve uniform numbers less six.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }

    /// How many of `n` come out, each with this probability.
    pub fn of(&mut self, n: u32, rate: f64) -> u32 {
        (0..n).filter(|_| self.uniform() < rate).count() as u32
    }
}

// Each test file uses a part of it; naming the parts keeps the rest from being called dead code.
const _: () = {
    let _: fn(&mut Dice) -> f64 = Dice::normal;
    let _: fn(&mut Dice, u32, f64) -> u32 = Dice::of;
};
