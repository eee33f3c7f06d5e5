//! Chance from a fixed seed.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;

/// The parameters of the beta distribution of true cold germination: mean 0.75, standard deviation 0.15.
pub(super) const GERMINATION: (f64, f64) = (5.5, 1.8);

pub(super) struct Dice(Pcg64);

impl Dice {
    /// A stream that depends on the seed only.
    pub(super) fn new(seed: u64) -> Self {
        const STREAM: u128 = 0x5851_f42d_4c95_7f2d_1405_7b7e_f767_814f;
        Self(Pcg64::new(u128::from(seed) << 32, STREAM))
    }

    /// A number from 0 to below 1, all equally likely.
    pub(super) fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / (1_u64 << 53) as f64;
        (self.0.next_u64() >> 11) as f64 * STEP
    }

    /// A whole number from 0 to below `end`, all equally likely but for one part in 2^53.
    pub(super) fn below(&mut self, end: usize) -> usize {
        (self.uniform() * end as f64) as usize
    }

    /// Whether something of this probability happens.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A number of mean 0 and standard deviation 1, nearly normal: the sum of twelve uniform numbers less 6. It
    /// needs no logarithm, whose last digit differs between machines.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }

    /// A true cold germination, as a share: uniform numbers are taken in proportion to the beta density.
    pub(super) fn germination(&mut self) -> f64 {
        let (a, b) = GERMINATION;
        let density = |x: f64| x.powf(a - 1.0) * (1.0 - x).powf(b - 1.0);
        let most = density((a - 1.0) / (a + b - 2.0));
        loop {
            let x = self.uniform();
            if self.uniform() * most < density(x) {
                return x;
            }
        }
    }

    /// Takes a number of different things out of `all`, in the order in which they are drawn.
    pub(super) fn take<T>(&mut self, all: &mut Vec<T>, number: usize) -> Vec<T> {
        (0..number.min(all.len()))
            .map(|_| {
                let place = self.below(all.len());
                all.remove(place)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean_and_deviation(draws: &[f64]) -> (f64, f64) {
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let squares: f64 = draws.iter().map(|x| (x - mean) * (x - mean)).sum();
        (mean, (squares / draws.len() as f64).sqrt())
    }

    #[test]
    fn draws_have_the_moments_that_are_promised() {
        let mut dice = Dice::new(1);
        let germination: Vec<f64> = (0..40_000).map(|_| dice.germination()).collect();
        // By the formulas of the beta distribution: a / (a + b) and a b / ((a + b)^2 (a + b + 1)).
        let (a, b) = GERMINATION;
        let deviation = (a * b / ((a + b) * (a + b) * (a + b + 1.0))).sqrt();
        let (mean, found) = mean_and_deviation(&germination);
        assert!((mean - a / (a + b)).abs() < 0.004, "{mean}");
        assert!((found - deviation).abs() < 0.003, "{found}");
        let normal: Vec<f64> = (0..40_000).map(|_| dice.normal()).collect();
        let (mean, found) = mean_and_deviation(&normal);
        assert!(mean.abs() < 0.025 && (found - 1.0).abs() < 0.02, "{mean} {found}");
    }

    #[test]
    fn what_is_taken_is_taken_once() {
        let mut all: Vec<u32> = (0..10).collect();
        let mut taken = Dice::new(2).take(&mut all, 7);
        taken.extend(&all);
        taken.sort_unstable();
        assert_eq!(taken, (0..10).collect::<Vec<u32>>());
    }
}
