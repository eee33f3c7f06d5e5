//! What is believed of one unit's rate, before and after its counts.

use super::beta::Beta;
use super::{Confidence, Counts, Cutoff, Interval, StatsFault};

/// Parameters outside this range say nothing more and would cost digits.
const RANGE: std::ops::RangeInclusive<f64> = 1e-9..=1e6;

/// A beta distribution that stands for what is believed of a rate before its own counts are seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    alpha: f64,
    beta: f64,
}

impl Prior {
    /// Takes both parameters, each from a billionth to a million.
    ///
    /// # Errors
    /// [`StatsFault::Prior`].
    pub fn new(alpha: f64, beta: f64) -> Result<Self, StatsFault> {
        if RANGE.contains(&alpha) && RANGE.contains(&beta) {
            Ok(Self { alpha, beta })
        } else {
            Err(StatsFault::Prior { alpha, beta })
        }
    }

    /// The prior with mean `mu` and `alpha + beta = strength`, kept a hair away from parameters of zero.
    pub(super) fn around(mu: f64, strength: f64) -> Self {
        Self {
            alpha: (mu * strength).max(*RANGE.start()),
            beta: ((1.0 - mu) * strength).max(*RANGE.start()),
        }
    }

    /// First parameter: successes that the prior is worth.
    pub const fn alpha(self) -> f64 {
        self.alpha
    }

    /// Second parameter: failures that the prior is worth.
    pub const fn beta(self) -> f64 {
        self.beta
    }

    /// The mean rate.
    pub fn mean(self) -> f64 {
        self.alpha / (self.alpha + self.beta)
    }

    /// `alpha + beta`: trials that the prior is worth.
    pub fn strength(self) -> f64 {
        self.alpha + self.beta
    }
}

/// What is believed of one unit's rate after its counts: Beta(`alpha + k`, `beta + n - k`).
///
/// Its figures are given the fitted prior: they leave out that the prior itself is an estimate. A posterior
/// depends on `(k, n)` and the prior only, so a caller with many units computes it once for each different
/// `(k, n)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Posterior {
    alpha: f64,
    beta: f64,
    shape: Beta,
}

impl Posterior {
    /// Joins a prior and the counts of one unit; without trials it is the prior.
    pub fn new(prior: Prior, counts: Counts) -> Self {
        let alpha = prior.alpha + f64::from(counts.k());
        let beta = prior.beta + f64::from(counts.n() - counts.k());
        Self {
            alpha,
            beta,
            shape: Beta::new(alpha, beta),
        }
    }

    /// First parameter, `alpha + k`.
    pub const fn alpha(&self) -> f64 {
        self.alpha
    }

    /// Second parameter, `beta + n - k`.
    pub const fn beta(&self) -> f64 {
        self.beta
    }

    /// The mean rate from 0 to 1: the prior mean and the observed rate, weighed by `alpha + beta` and `n`.
    pub fn mean(&self) -> f64 {
        self.alpha / (self.alpha + self.beta)
    }

    /// The standard deviation of the rate.
    pub fn standard_deviation(&self) -> f64 {
        let total = self.alpha + self.beta;
        (self.mean() * (self.beta / total) / (total + 1.0)).sqrt()
    }

    /// The interval that leaves out the same probability on each side.
    pub fn interval(&self, confidence: Confidence) -> Interval {
        let tail = confidence.tail();
        Interval {
            low: self.shape.lower_quantile(tail),
            high: self.shape.upper_quantile(tail),
        }
    }

    /// The probability that the rate is at or above the cutoff: `1 - I_c(alpha + k, beta + n - k)`.
    pub fn probability_at_least(&self, cutoff: Cutoff) -> f64 {
        self.shape.at_least(cutoff.rate())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;
    use crate::stats::fit;

    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/beta_binomial.json")).unwrap()
    }

    fn percent(percent: f64) -> Cutoff {
        Cutoff::from_percent(percent).unwrap()
    }

    #[test]
    fn posterior_table_under_beta_6_2_agrees() {
        let prior = Prior::new(6.0, 2.0).unwrap();
        for (n, table) in reference()["posterior_under_beta_6_2"].as_object().unwrap() {
            for (k, row) in table.as_array().unwrap().iter().enumerate() {
                let posterior = Posterior::new(prior, Counts::new(k as u32, n.parse().unwrap()).unwrap());
                let expected = |field: &str| row[field].as_f64().unwrap();
                assert_close(posterior.mean(), expected("mean"), 1e-12);
                assert_close(posterior.standard_deviation(), expected("sd"), 1e-12);
                let interval = posterior.interval(Confidence::P90);
                assert_close(interval.low, expected("lo90"), 1e-9);
                assert_close(interval.high, expected("hi90"), 1e-9);
                for cutoff in [60.0, 70.0, 80.0, 90.0] {
                    let ours = posterior.probability_at_least(percent(cutoff));
                    assert_close(ours, expected(&format!("P(p>={})", cutoff / 100.0)), 1e-9);
                }
            }
        }
    }

    #[test]
    fn posterior_of_the_24_ears_under_their_fitted_prior_agrees() {
        let reference = reference();
        let number = |value: &Value| value.as_u64().unwrap() as u32;
        let units: Vec<Counts> = reference["fits"]["24 ears"]["units_k_n"]
            .as_array()
            .unwrap()
            .iter()
            .map(|pair| Counts::new(number(&pair[0]), number(&pair[1])).unwrap())
            .collect();
        let prior = fit(&units).prior();
        let rows = reference["posterior_24_ears_fitted_prior"].as_array().unwrap();
        assert_eq!(rows.len(), 24);
        for row in rows {
            let number = |field: &str| row[field].as_f64().unwrap();
            let posterior = Posterior::new(
                prior,
                Counts::new(number("k") as u32, number("n") as u32).unwrap(),
            );
            assert_close(posterior.mean(), number("post_mean"), 1e-8);
            for cutoff in [60.0, 70.0, 80.0] {
                let ours = posterior.probability_at_least(percent(cutoff));
                assert_close(ours, number(&format!("P(p>={})", cutoff / 100.0)), 1e-8);
            }
        }
    }

    #[test]
    fn bad_priors_are_refused() {
        for (alpha, beta) in [
            (0.0, 1.0),
            (1.0, -1.0),
            (f64::NAN, 1.0),
            (f64::INFINITY, 1.0),
            (1e300, 1.0),
            (1.0, 1e-300),
        ] {
            assert!(Prior::new(alpha, beta).is_err());
        }
    }

    #[test]
    fn the_widest_priors_stay_within_bounds() {
        for (alpha, beta) in [(1e-9, 1e-9), (1e6, 1e-9), (1e-9, 1e6), (1e6, 1e6)] {
            for counts in [(0, 0), (0, 1), (1, 1), (100_000, 100_000)] {
                let counts = Counts::new(counts.0, counts.1).unwrap();
                let posterior = Posterior::new(Prior::new(alpha, beta).unwrap(), counts);
                let Interval { low, high } = posterior.interval(Confidence::P95);
                assert!(
                    0.0 <= low && low <= high && high <= 1.0,
                    "{alpha} {beta} {counts:?}: {low} {high}"
                );
                for cutoff in [0.0, 1e-6, 50.0, 99.999_999, 100.0] {
                    let ours = posterior.probability_at_least(percent(cutoff));
                    assert!((0.0..=1.0).contains(&ours), "{alpha} {beta} {counts:?}: {ours}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn one_more_success_never_lowers_the_estimate(
            alpha in 0.05..200.0f64, beta in 0.05..200.0f64,
            (a, b) in (0..=60u32, 0..=60u32), cutoff in 0.0..=100.0f64,
        ) {
            prop_assume!(a != b);
            let counts = Counts::new(a.min(b), a.max(b)).unwrap();
            let prior = Prior::new(alpha, beta).unwrap();
            let before = Posterior::new(prior, counts);
            let after = Posterior::new(prior, Counts::new(counts.k() + 1, counts.n()).unwrap());
            prop_assert!(after.mean() > before.mean());
            let [before_p, after_p] = [before, after].map(|p| p.probability_at_least(percent(cutoff)));
            prop_assert!((0.0..=1.0).contains(&before_p) && after_p >= before_p - 1e-11);
            let [before_i, after_i] = [before, after].map(|p| p.interval(Confidence::P90));
            prop_assert!(after_i.low >= before_i.low - 1e-11 && after_i.high >= before_i.high - 1e-11);
        }
    }
}
