//! How many kernels must be planted for a wanted stand of plants.

use statrs::distribution::{ContinuousCDF as _, Normal};
use statrs::function::gamma::ln_gamma;

use super::beta::Beta;
use super::mixed::UnitPosterior;
use super::posterior::Posterior;

/// Nodes on the logit of a beta distribution: the trapezoid rule then holds nine digits for stands of 200 kernels, of
/// which a tail is a steep step on the logit.
const NODES: usize = 768;
/// Nodes on the rates of the rows of one unit, and the bins into which those of all its rates are gathered.
const FEW_NODES: usize = 64;
const BINS: usize = 400;
/// How far below its top the log density may lie where the nodes end.
const DEEPEST: f64 = 36.0;
/// Rates of less weight than this are left out; all of them together cannot move a probability in its tenth digit.
const LEAST_WEIGHT: f64 = 1e-13;
/// Up to so many plants and kernels no probability is lost when kernels are taken one by one.
const FEW_PLANTS: u32 = 100;
const FEW_KERNELS: u32 = 10_000;
/// What rounding may take from a probability that is reached exactly, such as 0.9 by one kernel of rate 0.9.
const ROUNDING: f64 = 1e-12;

/// What is believed of the rate at which planted kernels become plants.
#[derive(Debug, Clone, PartialEq)]
pub struct Emergence {
    /// Rates from 0 to 1 and the probability of each.
    rates: Vec<(f64, f64)>,
}

impl Emergence {
    /// Takes rates from 0 to 1, each with the probability that it stands for, and the part of the kernels that
    /// germinate in a tray and become plants in the field too, from 0 to 1. Weights are scaled to add up to one.
    pub fn new(weights: impl Iterator<Item = (f64, f64)>, field_factor: f64) -> Self {
        let factor = field_factor.clamp(0.0, 1.0);
        let mut rates: Vec<(f64, f64)> = weights
            .filter(|(rate, weight)| rate.is_finite() && *weight > LEAST_WEIGHT)
            .map(|(rate, weight)| (factor * rate.clamp(0.0, 1.0), weight))
            .collect();
        let total: f64 = rates.iter().map(|(_, weight)| weight).sum();
        for (_, weight) in &mut rates {
            *weight /= total;
        }
        Self { rates }
    }

    /// A rate that is known.
    pub fn known(rate: f64) -> Self {
        Self::new(std::iter::once((rate, 1.0)), 1.0)
    }

    /// A rate believed to follow a beta distribution.
    pub fn beta(posterior: &Posterior, field_factor: f64) -> Self {
        Self::new(
            beta_nodes(posterior.alpha(), posterior.beta(), NODES),
            field_factor,
        )
    }

    /// What the main model believes of a unit. Where cells of one unit differ by more than chance, so do its rows.
    pub fn unit(posterior: &UnitPosterior, field_factor: f64) -> Self {
        let spread = posterior.cell_spread();
        if spread <= 0.0 {
            return Self::new(posterior.weights(), field_factor);
        }
        let mut bins = vec![(0.0, 0.0); BINS];
        for (rate, weight) in posterior.weights().filter(|(_, weight)| *weight > LEAST_WEIGHT) {
            let rate = rate.clamp(1e-9, 1.0 - 1e-9);
            let nodes = beta_nodes(rate / spread, (1.0 - rate) / spread, FEW_NODES);
            let total: f64 = nodes.clone().map(|(_, weight)| weight).sum();
            for (rate, share) in nodes {
                let bin: &mut (f64, f64) = &mut bins[((rate * BINS as f64) as usize).min(BINS - 1)];
                bin.0 += rate * weight * share / total;
                bin.1 += weight * share / total;
            }
        }
        let means = bins.into_iter().filter(|(_, weight)| *weight > 0.0);
        Self::new(means.map(|(sum, weight)| (sum / weight, weight)), field_factor)
    }

    /// The mean rate, from 0 to 1; 0 without any rate.
    pub fn mean(&self) -> f64 {
        self.rates.iter().map(|(rate, weight)| rate * weight).sum()
    }

    /// The probability that `kernels` give at least so many plants: the mean of binomial tails over the rates.
    pub fn at_least(&self, plants: u32, kernels: u32) -> f64 {
        if plants == 0 {
            return 1.0;
        }
        if plants > kernels {
            return 0.0;
        }
        // P(X >= k | N, p) = I_p(k, N - k + 1). Source: Abramowitz and Stegun 1964, 26.5.24 (from memory).
        let tail = Beta::new(f64::from(plants), f64::from(kernels - plants + 1));
        let sum: f64 = self
            .rates
            .iter()
            .map(|(rate, weight)| weight * tail.at_most(*rate))
            .sum();
        sum.min(1.0)
    }

    /// The fewest kernels that give at least so many plants with the wanted probability; `None` where not even `most`
    /// do.
    pub fn kernels_for(&self, plants: u32, sureness: f64, most: u32) -> Option<u32> {
        if plants <= FEW_PLANTS && most <= FEW_KERNELS {
            return self.kernels_by_waiting(plants, sureness, most);
        }
        let reaches = |kernels: u32| self.at_least(plants, kernels) >= sureness - ROUNDING;
        if plants == 0 {
            return Some(0);
        }
        if plants > most || !reaches(most) {
            return None;
        }
        // More kernels never make a stand less likely. The answer lies near a guess, so a bracket grows from there and is
        // halved.
        let (mut too_few, mut enough) = (plants - 1, most);
        let mut at = self.guess(plants, sureness).clamp(plants, most);
        let mut step = 1;
        if reaches(at) {
            enough = at;
            while at > plants {
                at = at.saturating_sub(step).max(plants);
                if !reaches(at) {
                    too_few = at;
                    break;
                }
                enough = at;
                step *= 2;
            }
        } else {
            too_few = at;
            while at < most {
                at = at.saturating_add(step).min(most);
                if reaches(at) {
                    enough = at;
                    break;
                }
                too_few = at;
                step = step.saturating_mul(2);
            }
        }
        while enough - too_few > 1 {
            let middle = too_few + (enough - too_few) / 2;
            if reaches(middle) {
                enough = middle;
            } else {
                too_few = middle;
            }
        }
        Some(enough)
    }

    /// [`Emergence::kernels_for`], kernel by kernel: the probability that the last of N kernels gives the k-th plant is
    /// `C(N-1, k-1) p^k (1-p)^(N-k)`, the negative binomial distribution, and each term is the one before it times
    /// `(1-p) (N-1) / (N-k)`. Rates so small that their first term is lost are too small for the plants.
    fn kernels_by_waiting(&self, plants: u32, sureness: f64, most: u32) -> Option<u32> {
        let wanted = sureness - ROUNDING;
        if plants == 0 {
            return Some(0);
        }
        let (mut terms, fails): (Vec<f64>, Vec<f64>) = self
            .rates
            .iter()
            .map(|(rate, weight)| (weight * rate.powi(plants as i32), 1.0 - rate))
            .unzip();
        let mut sum = 0.0;
        for kernels in plants..=most {
            sum += terms.iter().sum::<f64>();
            if sum >= wanted {
                return Some(kernels);
            }
            let factor = f64::from(kernels) / f64::from(kernels + 1 - plants);
            for (term, fail) in terms.iter_mut().zip(&fails) {
                *term *= factor * fail;
            }
        }
        None
    }

    /// The probability of at least so many plants, for every number of plants from 0 to `kernels`.
    pub fn at_least_each(&self, kernels: u32) -> Vec<f64> {
        let mut found = vec![0.0; kernels as usize + 1];
        let n = f64::from(kernels);
        for (rate, weight) in &self.rates {
            let rate = rate.clamp(1e-15, 1.0 - 1e-15);
            let odds = rate / (1.0 - rate);
            // From the likeliest number up and down, so that nothing that matters is lost.
            let top = ((n + 1.0) * rate).floor().min(n);
            let ln_ways = ln_gamma(n + 1.0) - ln_gamma(top + 1.0) - ln_gamma(n - top + 1.0);
            let at_top = weight * (ln_ways + top * rate.ln() + (n - top) * (-rate).ln_1p()).exp();
            let top = top as u32;
            let mut one = at_top;
            for plants in top..=kernels {
                found[plants as usize] += one;
                one *= odds * f64::from(kernels - plants) / f64::from(plants + 1);
            }
            one = at_top;
            for plants in (1..=top).rev() {
                one *= f64::from(plants) / (odds * f64::from(kernels - plants + 1));
                found[plants as usize - 1] += one;
            }
        }
        let mut sum = 0.0;
        for one in found.iter_mut().rev() {
            sum += *one;
            *one = f64::min(sum, 1.0);
        }
        found
    }

    /// Where a bell curve with the same mean and variance puts the fewest kernels.
    fn guess(&self, plants: u32, sureness: f64) -> u32 {
        let mean = self.mean();
        let square: f64 = self.rates.iter().map(|(rate, weight)| rate * rate * weight).sum();
        let (between, within) = ((square - mean * mean).max(0.0), mean - square);
        let reach = Normal::standard().inverse_cdf(sureness.clamp(0.5, 1.0 - 1e-9));
        let is_enough = |kernels: f64| {
            let spread = (kernels * (within + kernels * between)).sqrt();
            kernels * mean - reach * spread >= f64::from(plants) - 0.5
        };
        let (mut low, mut high) = (f64::from(plants) - 1.0, 1e6);
        while high - low > 0.5 {
            let middle = 0.5 * (low + high);
            if is_enough(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high.ceil() as u32
    }

    /// The most plants that `kernels` give with the wanted probability; 0 where not even one is so sure.
    pub fn stand_of(&self, kernels: u32, sureness: f64) -> u32 {
        let reaches = |plants: u32| self.at_least(plants, kernels) >= sureness - ROUNDING;
        let (mut sure, mut unsure) = (0, kernels.saturating_add(1));
        while unsure - sure > 1 {
            let middle = sure + (unsure - sure) / 2;
            if reaches(middle) {
                sure = middle;
            } else {
                unsure = middle;
            }
        }
        sure
    }
}

/// A beta distribution as rates and their probabilities, up to a common factor: on the logit its density is
/// `p^a (1-p)^b`, a smooth single hill.
fn beta_nodes(a: f64, b: f64, nodes: usize) -> impl Iterator<Item = (f64, f64)> + Clone {
    let ln_density = move |z: f64| -a * ln_1p_exp(-z) - b * ln_1p_exp(z);
    let mode = (a / b).ln();
    let top = ln_density(mode);
    let end = move |side: f64| {
        let (mut near, mut far) = (0.0, 1.0);
        while top - ln_density(mode + side * far) < DEEPEST && far < 1e6 {
            near = far;
            far *= 2.0;
        }
        for _ in 0..40 {
            let middle = 0.5 * (near + far);
            if top - ln_density(mode + side * middle) < DEEPEST {
                near = middle;
            } else {
                far = middle;
            }
        }
        mode + side * far
    };
    let (low, high) = (end(-1.0), end(1.0));
    let step = (high - low) / (nodes - 1) as f64;
    (0..nodes).map(move |node| {
        let z = low + step * node as f64;
        (1.0 / (1.0 + (-z).exp()), (ln_density(z) - top).exp())
    })
}

/// `ln(1 + e^x)` without overflow.
fn ln_1p_exp(x: f64) -> f64 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;
    use crate::stats::{Counts, Prior};

    const MOST: u32 = 10_000;

    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/sowing.json")).unwrap()
    }

    /// Calls `check` with the sureness, the key of the rate, the plants, and the expected value.
    fn for_each(table: &Value, check: impl Fn(&str, &str, u32, &Value)) {
        for (first, rest) in table.as_object().unwrap() {
            for (second, rest) in rest.as_object().unwrap() {
                for (plants, expected) in rest.as_object().unwrap() {
                    check(first, second, plants.parse().unwrap(), expected);
                }
            }
        }
    }

    fn believed(a: f64, b: f64) -> Emergence {
        let prior = Prior::new(a, b).unwrap();
        Emergence::beta(&Posterior::new(prior, Counts::new(0, 0).unwrap()), 1.0)
    }

    #[test]
    fn kernels_of_a_known_rate_agree_with_the_table_and_its_probabilities() {
        let file = reference();
        for_each(&file["known_rate"], |sureness, rate, plants, expected| {
            let known = Emergence::known(rate.parse().unwrap());
            let found = known.kernels_for(plants, sureness.parse().unwrap(), MOST);
            assert_eq!(
                found.map(u64::from),
                expected.as_u64(),
                "{sureness} {rate} {plants}"
            );
            let probability = &file["known_rate_probability"][sureness][rate][plants.to_string()];
            assert_close(
                known.at_least(plants, found.unwrap()),
                probability.as_f64().unwrap(),
                1e-10,
            );
        });
    }

    #[test]
    fn kernels_of_a_believed_rate_agree_with_the_table() {
        for_each(
            &reference()["believed_rate"],
            |beta, sureness, plants, expected| {
                let parameters: Vec<f64> = beta
                    .trim_start_matches("Beta(")
                    .trim_end_matches(')')
                    .split(',')
                    .map(|part| part.parse().unwrap())
                    .collect();
                let found = believed(parameters[0], parameters[1]).kernels_for(
                    plants,
                    sureness.parse().unwrap(),
                    MOST,
                );
                assert_eq!(
                    found.map(u64::from),
                    expected.as_u64(),
                    "{beta} {sureness} {plants}"
                );
            },
        );
    }

    /// With a uniform belief every number of plants from 0 to N is equally likely: P(X >= k) = (N + 1 - k) / (N + 1).
    #[test]
    fn a_uniform_belief_makes_every_stand_equally_likely() {
        let uniform = believed(1.0, 1.0);
        for (plants, kernels) in [(1, 1), (1, 9), (5, 9), (9, 9), (20, 30), (199, 200)] {
            let expected = f64::from(kernels + 1 - plants) / f64::from(kernels + 1);
            assert_close(uniform.at_least(plants, kernels), expected, 1e-9);
        }
    }

    #[test]
    fn a_rate_that_reaches_zero_has_no_number_of_kernels() {
        assert_eq!(Emergence::known(0.0).kernels_for(1, 0.9, MOST), None);
        assert_eq!(believed(0.5, 8.0).kernels_for(20, 0.99, MOST), None);
        assert_eq!(Emergence::known(0.9).kernels_for(20, 0.9, 19), None);
        assert_eq!(Emergence::known(0.0).stand_of(500, 0.9), 0);
    }

    #[test]
    fn exact_hits_are_not_missed_by_rounding() {
        assert_eq!(Emergence::known(0.9).kernels_for(1, 0.9, MOST), Some(1));
        assert_eq!(Emergence::known(0.95).kernels_for(1, 0.95, MOST), Some(1));
        assert_eq!(Emergence::known(1.0).kernels_for(20, 0.99, MOST), Some(20));
        assert_eq!(Emergence::known(0.5).kernels_for(0, 0.99, MOST), Some(0));
    }

    #[test]
    fn the_field_factor_lowers_every_rate() {
        let posterior = Posterior::new(Prior::new(15.0, 5.0).unwrap(), Counts::new(0, 0).unwrap());
        assert_close(Emergence::beta(&posterior, 0.6).mean(), 0.45, 1e-12);
    }

    proptest! {
        #[test]
        fn both_ways_to_the_fewest_kernels_agree_and_so_do_all_tails(
            a in 0.3..60.0_f64, b in 0.3..60.0_f64, plants in 1_u32..60, sureness in 0.5..0.98_f64, kernels in 0_u32..90,
        ) {
            let belief = believed(a, b);
            let by_waiting = belief.kernels_for(plants, sureness, FEW_KERNELS);
            // One kernel more than kernels are taken one by one for.
            let by_halving = belief.kernels_for(plants, sureness, FEW_KERNELS + 1);
            prop_assert!(by_waiting == by_halving || (by_waiting.is_none() && by_halving == Some(FEW_KERNELS + 1)));
            for (plants, found) in belief.at_least_each(kernels).iter().enumerate() {
                prop_assert!((found - belief.at_least(plants as u32, kernels)).abs() < 1e-10);
            }
        }

        #[test]
        fn more_kernels_never_help_less_and_the_fewest_are_the_fewest(
            a in 0.3..60.0_f64, b in 0.3..60.0_f64, plants in 1_u32..60, sureness in 0.5..0.98_f64,
        ) {
            let belief = believed(a, b);
            if let Some(kernels) = belief.kernels_for(plants, sureness, MOST) {
                prop_assert!(belief.at_least(plants, kernels) >= sureness - 1e-12);
                prop_assert!(kernels == plants || belief.at_least(plants, kernels - 1) < sureness);
                prop_assert!(belief.at_least(plants, kernels + 1) >= belief.at_least(plants, kernels) - 1e-12);
                prop_assert!(belief.stand_of(kernels, sureness) >= plants);
            } else {
                prop_assert!(belief.at_least(plants, MOST) < sureness);
            }
        }
    }
}
