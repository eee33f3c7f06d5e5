//! How closely two measurements go together.

use super::interval::{Confidence, Interval};
use statrs::distribution::{ContinuousCDF, Normal};

/// Fewest pairs from which a correlation is told: with fewer its interval spans nearly everything.
/// Common practice, no source.
pub const FEWEST_PAIRS: usize = 15;

/// A correlation with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// Pairs.
    pub pairs: usize,
    /// The product-moment correlation, -1 to 1.
    pub r: f64,
    /// Its interval, each side -1 to 1.
    pub interval: Interval,
}

/// The product-moment correlation of pairs, with its interval by the z transformation: `atanh r` is about normal with
/// a standard error of `1/sqrt(n - 3)`. `None` for fewer than four pairs, for a number that is not finite, and where
/// one of the two does not vary.
///
/// Source: Fisher 1921, Metron 1:3 (from memory). It takes the pairs to be about bivariate normal.
pub fn correlation(pairs: &[(f64, f64)], confidence: Confidence) -> Option<Correlation> {
    let count = pairs.len();
    if count < 4 || pairs.iter().any(|(x, y)| !x.is_finite() || !y.is_finite()) {
        return None;
    }
    let n = count as f64;
    let mean_x = pairs.iter().map(|(x, _)| x).sum::<f64>() / n;
    let mean_y = pairs.iter().map(|(_, y)| y).sum::<f64>() / n;
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        let (x, y) = (x - mean_x, y - mean_y);
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    // Numbers that differ by their rounding only do not vary.
    let is_flat = |sum: f64, mean: f64| sum <= n * (mean.abs() * 1e-14).powi(2);
    if is_flat(xx, mean_x) || is_flat(yy, mean_y) {
        return None;
    }
    let r = (xy / (xx.sqrt() * yy.sqrt())).clamp(-1.0, 1.0);
    let half = Normal::standard().inverse_cdf(1.0 - confidence.tail()) / (n - 3.0).sqrt();
    let z = r.atanh();
    Some(Correlation {
        pairs: count,
        r,
        interval: Interval {
            low: (z - half).tanh(),
            high: (z + half).tanh(),
        },
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const X: [f64; 11] = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
    const FIRST: [f64; 11] = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
    const SECOND: [f64; 11] = [9.14, 8.14, 8.74, 8.77, 9.26, 8.10, 6.13, 3.10, 9.13, 7.26, 4.74];

    fn assert_is(found: Option<Correlation>, [r, low, high]: [f64; 3]) {
        let found = found.unwrap();
        for (found, expected) in [
            (found.r, r),
            (found.interval.low, low),
            (found.interval.high, high),
        ] {
            assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        }
    }

    /// Data: Anscombe 1973, The American Statistician 27:17, sets 1 and 2, printed there with r = 0.816. Digits:
    /// `pearsonr` of scipy 1.17.1 with its `confidence_interval`.
    #[test]
    fn published_pairs_have_their_correlation_and_interval() {
        let pairs = |y: [f64; 11]| -> Vec<(f64, f64)> { X.into_iter().zip(y).collect() };
        assert_is(
            correlation(&pairs(FIRST), Confidence::P95),
            [
                0.816_420_516_344_839_5,
                0.424_391_213_393_215_2,
                0.950_693_253_786_560_4,
            ],
        );
        assert_is(
            correlation(&pairs(FIRST), Confidence::P90),
            [
                0.816_420_516_344_839_5,
                0.511_267_328_920_186_6,
                0.938_763_515_434_161_8,
            ],
        );
        assert_is(
            correlation(&pairs(SECOND), Confidence::P95),
            [
                0.816_236_506_000_242_4,
                0.423_938_873_953_987_6,
                0.950_640_173_995_772_4,
            ],
        );
        let few = [(1.0, 10.0), (2.0, 9.0), (3.0, 2.5), (4.0, 6.0), (5.0, 4.0)];
        assert_is(
            correlation(&few, Confidence::P95),
            [
                -0.742_610_657_232_505_6,
                -0.981_691_804_478_646_3,
                0.405_011_167_690_309_9,
            ],
        );
    }

    #[test]
    fn what_has_no_correlation_gives_none() {
        let flat = [(1.0, 2.0), (2.0, 2.0), (3.0, 2.0), (4.0, 2.0)];
        assert_eq!(correlation(&flat, Confidence::P95), None);
        let same = [(0.1 + 0.2, 1.0), (0.3, 2.0), (0.3, 3.0), (0.3, 4.0)];
        assert_eq!(correlation(&same, Confidence::P95), None);
        assert_eq!(correlation(&flat[..3], Confidence::P95), None);
        assert_eq!(correlation(&[(f64::NAN, 1.0); 5], Confidence::P95), None);
        let line: Vec<(f64, f64)> = (0..9).map(|x| (f64::from(x), 3.0 * f64::from(x))).collect();
        let found = correlation(&line, Confidence::P95).unwrap();
        assert!((found.r - 1.0).abs() < 1e-12 && found.interval.high <= 1.0 && found.interval.low > 0.99);
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_correlation_and_does_not_hang_on_units(
            pairs in prop::collection::vec((-100.0..100.0_f64, -100.0..100.0_f64), 4..40),
            scale in 0.01..50.0_f64,
        ) {
            let Some(found) = correlation(&pairs, Confidence::P95) else { return Ok(()) };
            prop_assert!((-1.0..=found.r).contains(&found.interval.low));
            prop_assert!((found.r..=1.0).contains(&found.interval.high));
            let other: Vec<(f64, f64)> = pairs.iter().map(|(x, y)| (x * scale + 7.0, -y)).collect();
            let mirrored = correlation(&other, Confidence::P95).unwrap();
            prop_assert!((mirrored.r + found.r).abs() < 1e-9);
        }
    }
}
