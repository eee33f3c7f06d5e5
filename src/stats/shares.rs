//! Diversity of unequal shares.

/// How many equal shares would be as diverse as these: `(sum c)^2 / sum c^2`.
///
/// Shares are in any unit and need not add up to one. `None` when one of them is negative or not finite, or
/// when all are zero. Source: the inverse of the sum of squared shares, as in Lindgren, Gea and Jefferson
/// 1996, Silvae Genet. 45:52 (from memory).
pub fn effective_number(shares: &[f64]) -> Option<f64> {
    if shares.iter().any(|share| !share.is_finite() || *share < 0.0) {
        return None;
    }
    let largest = shares.iter().copied().fold(0.0, f64::max);
    if largest <= 0.0 {
        return None;
    }
    // In units of the largest share, so that no square overflows or vanishes.
    let (sum, squares) = shares
        .iter()
        .map(|share| share / largest)
        .fold((0.0, 0.0), |(sum, squares), share| {
            (sum + share, squares + share * share)
        });
    Some(sum * sum / squares)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stats::beta::assert_close;

    #[test]
    fn agrees_with_hand_worked_cases() {
        // 0.16 + 0.09 + 0.0225 + 0.01 + 0.0025 = 0.285.
        assert_close(
            effective_number(&[0.4, 0.3, 0.15, 0.1, 0.05]).unwrap(),
            1.0 / 0.285,
            1e-12,
        );
        assert_close(effective_number(&[3.0; 7]).unwrap(), 7.0, 1e-12);
        assert_close(effective_number(&[1e300, 1e300]).unwrap(), 2.0, 1e-12);
        assert_close(effective_number(&[5.0, 0.0]).unwrap(), 1.0, 1e-12);
    }

    #[test]
    fn nothing_or_nonsense_has_no_number() {
        for shares in [&[][..], &[0.0], &[1.0, -1.0], &[f64::NAN], &[f64::INFINITY, 1.0]] {
            assert_eq!(effective_number(shares), None, "{shares:?}");
        }
    }

    proptest! {
        #[test]
        fn lies_between_one_and_the_count(shares in prop::collection::vec(0.001..1e6f64, 1..50)) {
            let number = effective_number(&shares).unwrap();
            prop_assert!(number >= 1.0 - 1e-9 && number <= shares.len() as f64 + 1e-9);
        }
    }
}
