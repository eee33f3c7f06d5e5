//! Winner's curse: the best counts are partly luck.

use crate::stats::beta_binomial::log_likelihood;
use crate::stats::{Counts, Cutoff, Posterior, Prior, least_germinated};

/// What is to be expected of ears that are chosen because their count reaches a cutoff.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curse {
    /// The share of ears that is chosen.
    pub selected: f64,
    /// Mean observed rate of the chosen.
    pub observed: f64,
    /// Mean true rate of the chosen.
    pub truth: f64,
    /// The share of the chosen whose true rate is below the cutoff.
    pub below: f64,
}

/// Foresees how far the counts of chosen ears flatter them, when so many kernels of each are tested.
///
/// `prior` is the spread of the ears' true rates. `None` for no kernels. Sources: Efron 2011, J. Am. Stat. Assoc.
/// 106:1602; Morris 1983 (from memory).
pub fn winners_curse(prior: Prior, kernels: u32, cutoff: Cutoff) -> Option<Curse> {
    if kernels == 0 {
        return None;
    }
    let (mu, theta) = (prior.mean(), 1.0 / prior.strength());
    let (mut selected, mut observed, mut truth, mut below) = (0.0, 0.0, 0.0, 0.0);
    for k in least_germinated(kernels, cutoff)..=kernels {
        let counts = Counts::new(k, kernels).ok()?;
        let probability = log_likelihood(&[counts], mu, theta)?.exp();
        let posterior = Posterior::new(prior, counts);
        selected += probability;
        observed += probability * counts.rate()?;
        truth += probability * posterior.mean();
        below += probability * (1.0 - posterior.probability_at_least(cutoff));
    }
    (selected > 0.0).then(|| Curse {
        selected,
        observed: observed / selected,
        truth: truth / selected,
        below: below / selected,
    })
}
