//! What a count tells of an ear, where ears are normally distributed on the logit scale.

use crate::stats::least_germinated;

use super::Sure;

/// Steps of the sum over an ear's deviation on each side of the mean, in standard deviations.
const FARTHEST: f64 = 6.0;
const STEP: f64 = 0.1;

/// The ears of one season before they are counted.
pub(super) struct Told {
    kernels: u32,
    deviation: f64,
    mean: f64,
    /// Deviation, logarithms of the rate and of what it lacks to 1, of the prior weight.
    points: Vec<(f64, f64, f64, f64)>,
}

/// `ln(1 + exp(x))` without overflow.
fn ln_one_plus_exp(x: f64) -> f64 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

impl Told {
    pub(super) fn new(kernels: u32, mean: f64, deviation: f64) -> Self {
        let steps = (FARTHEST / STEP) as i32;
        let points = (-steps..=steps)
            .map(|step| {
                let z = f64::from(step) * STEP;
                let logit = mean + deviation * z;
                (z, -ln_one_plus_exp(-logit), -ln_one_plus_exp(logit), -0.5 * z * z)
            })
            .collect();
        Self {
            kernels,
            deviation,
            mean,
            points,
        }
    }

    /// Weights of the points after a count of `k`, with their deviations; the largest is 1.
    fn weights(&self, k: u32) -> impl Iterator<Item = (f64, f64)> {
        let (k, rest) = (f64::from(k), f64::from(self.kernels - k));
        let log = move |(z, hit, miss, prior): &(f64, f64, f64, f64)| (*z, k * hit + rest * miss + prior);
        let most = self
            .points
            .iter()
            .map(|point| log(point).1)
            .fold(f64::NEG_INFINITY, f64::max);
        self.points.iter().map(move |point| {
            let (z, value) = log(point);
            (z, (value - most).exp())
        })
    }

    /// The likely deviation of an ear from the mean after a count of `k`, in logits.
    pub(super) fn likely(&self, k: u32) -> f64 {
        let (mut sum, mut all) = (0.0, 0.0);
        for (z, weight) in self.weights(k) {
            sum += z * weight;
            all += weight;
        }
        self.deviation * sum / all
    }

    /// The probability that an ear with a count of `k` reaches a rate.
    fn probability_at_least(&self, k: u32, rate: f64) -> f64 {
        let edge = ((rate / (1.0 - rate)).ln() - self.mean) / self.deviation;
        let (mut above, mut all) = (0.0, 0.0);
        for (z, weight) in self.weights(k) {
            // The point stands for the half steps around it.
            let part = ((z - edge) / STEP + 0.5).clamp(0.0, 1.0);
            above += part * weight;
            all += weight;
        }
        above / all
    }

    /// The least count with which an ear is kept; one more than there are kernels where none is enough.
    pub(super) fn least(&self, sure: Sure) -> u32 {
        let rate = sure.cutoff.rate();
        if rate <= 0.0 {
            return 0;
        }
        if self.deviation <= 0.0 {
            // All ears are alike, and known.
            let reaches = 1.0 / (1.0 + (-self.mean).exp()) >= rate;
            return if reaches { 0 } else { self.kernels + 1 };
        }
        if rate >= 1.0 {
            return least_germinated(self.kernels, sure.cutoff) + 1;
        }
        // The probability rises with the count.
        let (mut low, mut high) = (0, self.kernels + 1);
        while low < high {
            let middle = low.midpoint(high);
            if self.probability_at_least(middle, rate) >= sure.sureness {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        low
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Cutoff;
    use statrs::distribution::{ContinuousCDF, Normal};

    /// Without any kernel the probability is the share of a normal distribution above the cutoff.
    #[test]
    fn without_kernels_a_cutoff_cuts_the_normal_distribution() {
        let told = Told::new(0, 0.8, 0.9);
        for rate in [0.3_f64, 0.5, 0.7, 0.9] {
            let edge = ((rate / (1.0 - rate)).ln() - 0.8) / 0.9;
            let expected = Normal::standard().sf(edge);
            let found = told.probability_at_least(0, rate);
            assert!((found - expected).abs() < 5e-4, "{rate}: {found} {expected}");
        }
        assert!(told.likely(0).abs() < 1e-12);
    }

    #[test]
    fn more_sureness_asks_for_more_kernels_and_a_likely_deviation_rises() {
        let told = Told::new(12, 0.5, 1.0);
        let cutoff = Cutoff::from_percent(70.0).unwrap();
        let least = |sureness| told.least(Sure { cutoff, sureness });
        assert!(least(0.5) < least(0.9), "{} {}", least(0.5), least(0.9));
        assert!((0..12).all(|k| told.likely(k) < told.likely(k + 1)));
        let none = Told::new(3, -4.0, 0.3);
        assert_eq!(
            none.least(Sure {
                cutoff,
                sureness: 0.9
            }),
            4
        );
    }
}
