//! How many kernels tell two rates apart.

use super::beta::Beta;

/// A test of one unit that tells two rates apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Told {
    /// Kernels of the unit.
    pub kernels: u32,
    /// The least count for which the higher rate is believed.
    pub least: u32,
}

/// The fewest kernels of one unit that tell two rates apart: the lower rate passes with a probability of at most
/// `false_pass`, the higher one with at least `1 - false_fail`. `None` unless both rates lie inside 0 and 1, the
/// lower one first, and so many as `most` kernels suffice.
///
/// The least n with a c so that `P(X >= c | lower) <= false_pass` and `P(X >= c | higher) >= 1 - false_fail`, exact
/// binomial tails.
pub fn kernels_to_tell(
    [lower, higher]: [f64; 2],
    false_pass: f64,
    false_fail: f64,
    most: u32,
) -> Option<Told> {
    if !(lower > 0.0 && lower < higher && higher < 1.0) {
        return None;
    }
    let mut least = 0;
    for kernels in 1..=most {
        // One more kernel never lowers the count that the lower rate seldom reaches.
        while at_least(lower, least, kernels) > false_pass {
            least += 1;
        }
        if at_least(higher, least, kernels) >= 1.0 - false_fail {
            return Some(Told { kernels, least });
        }
    }
    None
}

/// P(X >= least) for X binomial of `n`.
fn at_least(rate: f64, least: u32, n: u32) -> f64 {
    if least == 0 {
        1.0
    } else if least > n {
        0.0
    } else {
        Beta::new(f64::from(least), f64::from(n - least) + 1.0).at_most(rate)
    }
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;

    #[test]
    fn kernels_of_the_table_agree() {
        // Its source is named in the file.
        let file: Value = serde_json::from_str(include_str!("../../tests/reference/telling.json")).unwrap();
        let mut checked = 0;
        for (rates, by_errors) in file["cases"].as_object().unwrap() {
            let (lower, higher) = rates.split_once(" vs ").unwrap();
            let rates = [lower.parse().unwrap(), higher.parse().unwrap()];
            for (errors, expected) in by_errors.as_object().unwrap() {
                let (alpha, beta) = errors
                    .strip_prefix("alpha=")
                    .unwrap()
                    .split_once(",beta=")
                    .unwrap();
                let found =
                    kernels_to_tell(rates, alpha.parse().unwrap(), beta.parse().unwrap(), 1000).unwrap();
                let expected = |field: &str| expected[field].as_f64().unwrap();
                assert_close(f64::from(found.kernels), expected("n_exact"), 0.0);
                assert_close(f64::from(found.least), expected("c"), 0.0);
                let passes = |rate| at_least(rate, found.least, found.kernels);
                assert_close(passes(rates[0]), expected("P_accept_p1"), 1e-10);
                assert_close(passes(rates[1]), expected("P_accept_p2"), 1e-10);
                checked += 1;
            }
        }
        assert!(checked >= 24, "{checked}");
    }

    #[test]
    fn what_cannot_be_told_is_none() {
        for rates in [
            [0.7, 0.7],
            [0.8, 0.7],
            [0.0, 0.5],
            [0.5, 1.0],
            [f64::NAN, 0.5],
            [0.5, f64::NAN],
        ] {
            assert_eq!(kernels_to_tell(rates, 0.1, 0.1, 1000), None, "{rates:?}");
        }
        assert_eq!(kernels_to_tell([0.7, 0.8], 0.1, 0.1, 126), None);
        assert!(kernels_to_tell([0.7, 0.8], 0.1, 0.1, 127).is_some());
    }
}
