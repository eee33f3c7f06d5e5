//! An index: several traits of a candidate weighed into one number.

use super::shift::Group;

/// One trait of an index.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// What one standard deviation of it is worth; below 0 where less is wanted.
    pub weight: f64,
    /// The mean of the candidates in which it is known.
    pub mean: f64,
    /// Their standard deviation, with one less than their number.
    pub deviation: f64,
    /// How many they are.
    pub known: usize,
}

/// Takes the mean and the deviation of each trait over the candidates; `columns` holds one value a candidate, `None`
/// where it is not known. `None` in place of a trait that does not vary, is known of fewer than two candidates, or has
/// a value or weight that is not finite: nothing can be weighed by it.
pub fn terms(columns: &[Vec<Option<f64>>], weights: &[f64]) -> Vec<Option<Term>> {
    let pairs = columns.iter().zip(weights);
    pairs.map(|(column, weight)| term(column, *weight)).collect()
}

fn term(column: &[Option<f64>], weight: f64) -> Option<Term> {
    let values = || column.iter().flatten().copied();
    if !weight.is_finite() || values().any(|value| !value.is_finite()) {
        return None;
    }
    // From the first value on, so that no digits are lost where a trait lies far from 0.
    let origin = values().next()?;
    let group: Group = values().map(|value| value - origin).collect();
    let (mean, variance) = (group.mean()?, group.variance()?);
    let deviation = variance.sqrt();
    (deviation > 1e-12 * (origin + mean).abs()).then_some(Term {
        weight,
        mean: origin + mean,
        deviation,
        known: group.count,
    })
}

/// The index of one candidate, `I = sum w (x - mean) / deviation`. `None` when a value is not known, unless such a value
/// counts as the mean, where it adds nothing.
///
/// With weights of one's own this is a plain weighted sum of standard scores. It makes no claim to be the index of
/// greatest response, `b = P^-1 G a` (Smith 1936, Hazel 1943, from memory), which needs genetic variances and
/// covariances that one season of ears cannot give.
pub fn index(terms: &[Term], values: &[Option<f64>], missing_as_mean: bool) -> Option<f64> {
    let mut sum = 0.0;
    for (term, value) in terms.iter().zip(values) {
        match value {
            Some(value) => sum += term.weight * (value - term.mean) / term.deviation,
            None if missing_as_mean => {}
            None => return None,
        }
    }
    Some(sum)
}
