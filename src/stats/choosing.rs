//! What choosing by a count does to the chosen, and where more kernels would pay.

use statrs::function::gamma::ln_gamma;

use super::beta::Beta;
use super::mixed::UnitPosterior;
use super::{Cutoff, Posterior, Prior, least_germinated, probability_selected};

/// A benefit below this is none: no possible result would change the decision.
const LEAST_BENEFIT: f64 = 1e-12;

/// What to expect of units chosen because their count reaches a cutoff.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chosen {
    /// The least count that reaches the cutoff.
    pub least: u32,
    /// The share of units chosen.
    pub share: f64,
    /// The mean observed rate of the chosen.
    pub observed: f64,
    /// The mean true rate of the chosen.
    pub true_rate: f64,
    /// The share of the chosen whose true rate is below the cutoff.
    pub below: f64,
}

impl Chosen {
    /// How much the observed rate of the chosen flatters them.
    pub fn excess(&self) -> f64 {
        self.observed - self.true_rate
    }
}

/// What to expect of units chosen by a count of `n`, their rates being draws from a beta distribution; `None`
/// for no kernels, more than [`super::interval::MOST_TRIALS`], or where none is ever chosen.
///
/// Source: Efron 2011, J. Am. Stat. Assoc. 106:1602.
pub fn chosen_by_count(prior: Prior, n: u32, cutoff: Cutoff) -> Option<Chosen> {
    probability_selected(0.5, n, cutoff)?;
    let least = least_germinated(n, cutoff);
    let (alpha, beta) = (prior.alpha(), prior.beta());
    let mass = beta_binomial_mass(alpha, beta, n);
    let (mut share, mut observed, mut true_rate, mut below) = (0.0, 0.0, 0.0, 0.0);
    for k in least..=n {
        let probability = mass[k as usize];
        let (success, failure) = (alpha + f64::from(k), beta + f64::from(n - k));
        share += probability;
        observed += probability * f64::from(k) / f64::from(n);
        true_rate += probability * success / (success + failure);
        below += probability * Beta::new(success, failure).at_most(cutoff.rate());
    }
    (share > 0.0).then(|| Chosen {
        least,
        share,
        observed: observed / share,
        true_rate: true_rate / share,
        below: below / share,
    })
}

/// [`chosen_by_count`] for rates that are draws from any distribution, such as [`super::mixed::Model::population`];
/// cells are binomial at the reference position.
pub fn chosen_from(population: &UnitPosterior, n: u32, cutoff: Cutoff) -> Option<Chosen> {
    probability_selected(0.5, n, cutoff)?;
    let least = least_germinated(n, cutoff);
    let beside = population.weights_beside(cutoff);
    let (mut share, mut observed, mut true_rate, mut below) = (0.0, 0.0, 0.0, 0.0);
    for (weights, is_below) in [(&beside.above, false), (&beside.below, true)] {
        for &(rate, weight) in weights {
            let probability = weight * probability_selected(rate, n, cutoff)?;
            share += probability;
            true_rate += probability * rate;
            below += if is_below { probability } else { 0.0 };
            // The mean count above the cutoff: n p P(one fewer of one fewer).
            observed += weight * rate * at_least(rate, least.saturating_sub(1), n - 1);
        }
    }
    (share > 0.0).then(|| Chosen {
        least,
        share,
        observed: observed / share,
        true_rate: true_rate / share,
        below: below / share,
    })
}

/// P(X >= least) for X binomial of `n`.
fn at_least(rate: f64, least: u32, n: u32) -> f64 {
    if least == 0 {
        return 1.0;
    }
    if least > n {
        return 0.0;
    }
    Beta::new(f64::from(least), f64::from(n - least) + 1.0).at_most(rate)
}

/// The probability of each count of `n` when the rate is a draw from Beta(`alpha`, `beta`).
fn beta_binomial_mass(alpha: f64, beta: f64, n: u32) -> Vec<f64> {
    let ln_beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    let whole = ln_beta(alpha, beta);
    let ln_factorial = |n: u32| ln_gamma(f64::from(n) + 1.0);
    (0..=n)
        .map(|k| {
            let ln_choose = ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k);
            (ln_choose + ln_beta(alpha + f64::from(k), beta + f64::from(n - k)) - whole).exp()
        })
        .collect()
}

/// What a retest of one unit is expected to change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Retest {
    /// The probability that the unit is on the wrong side of the cutoff as decided now.
    pub wrong_now: f64,
    /// That probability as expected after the retest.
    pub wrong_after: f64,
    /// More kernels sown in the retest.
    pub kernels: u32,
}

impl Retest {
    fn new(at_least: f64, after: f64, kernels: u32) -> Self {
        let wrong_now = at_least.min(1.0 - at_least).max(0.0);
        Self {
            wrong_now,
            wrong_after: if wrong_now - after < LEAST_BENEFIT {
                wrong_now
            } else {
                after
            },
            kernels,
        }
    }

    /// How much the retest lowers the probability of a wrong decision: 0 where no result could change it.
    pub fn benefit(&self) -> f64 {
        self.wrong_now - self.wrong_after
    }

    /// The benefit by the kernels: units are retested in falling order of it.
    pub fn benefit_per_kernel(&self) -> f64 {
        if self.kernels == 0 {
            0.0
        } else {
            self.benefit() / f64::from(self.kernels)
        }
    }
}

/// What a retest with so many more kernels is expected to change for a unit with a beta posterior. At most
/// [`super::interval::MOST_TRIALS`] kernels are taken.
///
/// A unit is chosen where its rate is more likely than not at or above the cutoff. The counts pool. Source: the
/// expected value of sample information with a loss of one for each unit on the wrong side (Raiffa and Schlaifer
/// 1961, Applied Statistical Decision Theory, from memory).
pub fn retest_beta(posterior: &Posterior, kernels: u32, cutoff: Cutoff) -> Retest {
    let kernels = kernels.min(super::interval::MOST_TRIALS);
    let (alpha, beta) = (posterior.alpha(), posterior.beta());
    let after = beta_binomial_mass(alpha, beta, kernels)
        .iter()
        .zip(0..=kernels)
        .map(|(mass, y)| {
            let shape = Beta::new(alpha + f64::from(y), beta + f64::from(kernels - y));
            mass * shape.at_least(cutoff.rate()).min(shape.at_most(cutoff.rate()))
        })
        .sum();
    Retest::new(posterior.probability_at_least(cutoff), after, kernels)
}

/// [`retest_beta`] for a unit of the main model, the new kernels in one cell at the reference position.
pub fn retest(posterior: &UnitPosterior, kernels: u32, cutoff: Cutoff) -> Retest {
    let kernels = kernels.min(super::interval::MOST_TRIALS);
    let beside = posterior.weights_beside(cutoff);
    let theta = posterior.cell_spread();
    let above = super::mixed::predictive(beside.above.iter().copied(), kernels, theta);
    let below = super::mixed::predictive(beside.below.iter().copied(), kernels, theta);
    let after = above
        .iter()
        .zip(&below)
        .map(|(above, below)| above.min(*below))
        .sum();
    Retest::new(posterior.probability_at_least(cutoff), after, kernels)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;
    use crate::stats::{Counts, fit};

    /// Sources are named in the file.
    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/selection.json")).unwrap()
    }

    fn percent(percent: f64) -> Cutoff {
        Cutoff::from_percent(percent).unwrap()
    }

    #[test]
    fn winners_curse_table_agrees() {
        let mut checked = 0;
        for (name, expected) in reference()["cases"].as_object().unwrap() {
            let numbers: Vec<f64> = name
                .split(|c: char| !c.is_ascii_digit())
                .filter(|part| !part.is_empty())
                .map(|part| part.parse().unwrap())
                .collect();
            let prior = Prior::new(numbers[0], numbers[1]).unwrap();
            let found = chosen_by_count(prior, numbers[2] as u32, percent(numbers[3])).unwrap();
            let expected = |field: &str| expected[field].as_f64().unwrap();
            assert_close(f64::from(found.least), expected("c"), 0.0);
            assert_close(found.share, expected("P_selected"), 1e-10);
            assert_close(found.observed, expected("mean_raw_selected"), 1e-10);
            assert_close(found.true_rate, expected("mean_true_selected"), 1e-10);
            assert_close(found.excess(), expected("bias"), 1e-9);
            assert_close(found.below, expected("frac_selected_truly_below_cut"), 1e-9);
            checked += 1;
        }
        assert_eq!(checked, 36);
    }

    #[test]
    fn winners_curse_agrees_with_four_million_draws() {
        let file = reference();
        let drawn = |field: &str| file["simulated"][field].as_f64().unwrap();
        let found = chosen_by_count(Prior::new(6.0, 2.0).unwrap(), 12, percent(80.0)).unwrap();
        assert!((found.share - drawn("P_selected_mc")).abs() < 1e-3);
        assert!((found.true_rate - drawn("mean_true_mc")).abs() < 3.0 * drawn("se_true"));
        assert!((found.below - drawn("below_mc")).abs() < 1e-3);
    }

    #[test]
    fn edges_of_choosing() {
        let prior = Prior::new(6.0, 2.0).unwrap();
        assert_eq!(chosen_by_count(prior, 0, percent(50.0)), None);
        let all = chosen_by_count(prior, 12, percent(0.0)).unwrap();
        assert_close(all.share, 1.0, 1e-12);
        assert_close(all.observed, 0.75, 1e-12);
        assert_close(all.true_rate, 0.75, 1e-12);
        assert!(all.below.abs() < 1e-300);
    }

    #[test]
    fn retest_table_agrees() {
        let file = reference();
        let prior = Prior::new(6.0, 2.0).unwrap();
        let mut checked = 0;
        for (name, by_kernels) in file["retest"]["voi_prior_Beta(6,2)_cut_0.7"].as_object().unwrap() {
            let (k, n) = name[1..].split_once('/').unwrap();
            let counts = Counts::new(k.parse().unwrap(), n.parse().unwrap()).unwrap();
            let posterior = Posterior::new(prior, counts);
            for (kernels, expected) in by_kernels.as_object().unwrap() {
                let found = retest_beta(&posterior, kernels[2..].parse().unwrap(), percent(70.0));
                let expected = |field: &str| expected[field].as_f64().unwrap();
                assert_close(found.wrong_now, expected("misclass_now"), 1e-9);
                assert_close(found.wrong_after, expected("misclass_after"), 1e-9);
                if expected("reduction") < 1e-12 {
                    assert!(found.benefit().abs() < 1e-300, "{name}");
                }
                checked += 1;
            }
        }
        assert_eq!(checked, 33);
    }

    #[test]
    fn retest_of_the_24_ears_is_ordered_by_benefit_not_by_nearness_to_even_odds() {
        let file = reference();
        let fits: Value =
            serde_json::from_str(include_str!("../../tests/reference/beta_binomial.json")).unwrap();
        let number = |value: &Value| value.as_u64().unwrap() as u32;
        let units: Vec<Counts> = fits["fits"]["24 ears"]["units_k_n"]
            .as_array()
            .unwrap()
            .iter()
            .map(|pair| Counts::new(number(&pair[0]), number(&pair[1])).unwrap())
            .collect();
        let prior = fit(&units).prior();
        let mut retests: Vec<(usize, Retest)> = units
            .iter()
            .map(|counts| retest_beta(&Posterior::new(prior, *counts), 12, percent(70.0)))
            .enumerate()
            .collect();
        let now: f64 = retests.iter().map(|(_, retest)| retest.wrong_now).sum();
        assert_close(
            now,
            file["retest"]["ears24_expected_misclassified_now"]
                .as_f64()
                .unwrap(),
            1e-7,
        );
        retests.sort_by(|a, b| b.1.benefit_per_kernel().total_cmp(&a.1.benefit_per_kernel()));
        let first: Vec<String> = retests[..6]
            .iter()
            .map(|(ear, _)| format!("E{:02}", ear + 1))
            .collect();
        let expected: Vec<&str> = file["retest"]["ears24_retest_6"]
            .as_array()
            .unwrap()
            .iter()
            .map(|ear| ear.as_str().unwrap())
            .collect();
        assert_eq!(first, expected);
        let after = now
            - retests[..6]
                .iter()
                .map(|(_, retest)| retest.benefit())
                .sum::<f64>();
        let expected = file["retest"]["ears24_expected_misclassified_after_retest_6"]
            .as_f64()
            .unwrap();
        assert_close(after, expected, 1e-7);
    }

    #[test]
    fn a_retest_without_kernels_changes_nothing() {
        let posterior = Posterior::new(Prior::new(6.0, 2.0).unwrap(), Counts::new(8, 12).unwrap());
        let found = retest_beta(&posterior, 0, percent(70.0));
        assert_eq!((found.benefit(), found.benefit_per_kernel()), (0.0, 0.0));
    }

    proptest! {
        #[test]
        fn a_retest_never_does_harm(
            alpha in 0.2..60.0_f64, beta in 0.2..60.0_f64, kernels in 0..40_u32, cutoff in 1.0..99.0_f64,
        ) {
            let posterior = Posterior::new(Prior::new(alpha, beta).unwrap(), Counts::new(0, 0).unwrap());
            let found = retest_beta(&posterior, kernels, percent(cutoff));
            prop_assert!(found.benefit() >= 0.0 && found.wrong_after >= 0.0);
            let more = retest_beta(&posterior, kernels + 5, percent(cutoff));
            prop_assert!(more.wrong_after <= found.wrong_after + 1e-9);
        }
    }
}
