//! Counts out of a total, and the interval of a rate.

use statrs::distribution::{ContinuousCDF, Normal};

use super::StatsFault;

/// The largest total of one unit: a hundred thousand. Far above any real one; it keeps every sum and loop
/// short.
pub const MOST_TRIALS: u32 = 100_000;

/// `k` successes of `n` trials in one unit, with `k <= n <= MOST_TRIALS`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Counts {
    k: u32,
    n: u32,
}

impl Counts {
    /// Takes `k` successes of `n` trials; `n = 0` means that nothing was observed.
    ///
    /// # Errors
    /// [`StatsFault::CountAboveTotal`] and [`StatsFault::TotalTooLarge`].
    pub const fn new(k: u32, n: u32) -> Result<Self, StatsFault> {
        if k > n {
            return Err(StatsFault::CountAboveTotal { k, n });
        }
        if n > MOST_TRIALS {
            return Err(StatsFault::TotalTooLarge { n });
        }
        Ok(Self { k, n })
    }

    /// Successes.
    pub const fn k(self) -> u32 {
        self.k
    }

    /// Trials.
    pub const fn n(self) -> u32 {
        self.n
    }

    /// The observed rate `k / n` from 0 to 1, or `None` when nothing was observed.
    pub fn rate(self) -> Option<f64> {
        (self.n > 0).then(|| f64::from(self.k) / f64::from(self.n))
    }
}

/// How often an interval is meant to hold the truth, strictly between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    /// Four times in five.
    pub const P80: Self = Self(0.80);
    /// Nine times in ten.
    pub const P90: Self = Self(0.90);
    /// Nineteen times in twenty.
    pub const P95: Self = Self(0.95);

    /// Takes a level such as 0.95.
    ///
    /// # Errors
    /// [`StatsFault::Confidence`] unless the level lies strictly between 0 and 1.
    pub fn new(level: f64) -> Result<Self, StatsFault> {
        if level > 0.0 && level < 1.0 {
            Ok(Self(level))
        } else {
            Err(StatsFault::Confidence { level })
        }
    }

    /// The level, strictly between 0 and 1.
    pub const fn level(self) -> f64 {
        self.0
    }

    /// The probability left out on each side.
    pub fn tail(self) -> f64 {
        0.5 * (1.0 - self.0)
    }
}

/// A range of rates, each from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
}

/// The Wilson score interval of a rate, or `None` when nothing was observed.
///
/// The lower bound is exactly 0 when `k = 0`, the upper exactly 1 when `k = n`.
/// Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; method 3 of Newcombe 1998, Stat. Med. 17:857.
pub fn wilson(counts: Counts, confidence: Confidence) -> Option<Interval> {
    if counts.n == 0 {
        return None;
    }
    let z = -Normal::standard().inverse_cdf(confidence.tail());
    let (k, n) = (f64::from(counts.k), f64::from(counts.n));
    let scale = n + z * z;
    let centre = (k + 0.5 * z * z) / scale;
    let half_width = z / scale * (k * (n - k) / n + 0.25 * z * z).sqrt();
    let low = if counts.k == 0 {
        0.0
    } else {
        (centre - half_width).max(0.0)
    };
    let high = if counts.k == counts.n {
        1.0
    } else {
        (centre + half_width).min(1.0)
    };
    Some(Interval { low, high })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;

    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/wilson_intervals.json")).unwrap()
    }

    fn interval(k: u32, n: u32, confidence: Confidence) -> Interval {
        wilson(Counts::new(k, n).unwrap(), confidence).unwrap()
    }

    #[test]
    fn agrees_with_newcombe_1998_table_1_method_3() {
        let table = &reference()["newcombe_1998_table_1_method_3"];
        for (k, n) in [(81, 263), (15, 148), (0, 20), (1, 29)] {
            let row = &table[format!("{k}/{n}")];
            let ours = interval(k, n, Confidence::P95);
            assert_close(ours.low, row["low"].as_f64().unwrap(), 1e-10);
            assert_close(ours.high, row["high"].as_f64().unwrap(), 1e-10);
            // The printed table has four decimals.
            assert!((ours.low - row["published"][0].as_f64().unwrap()).abs() < 0.5e-4);
            assert!((ours.high - row["published"][1].as_f64().unwrap()).abs() < 0.5e-4);
        }
    }

    #[test]
    fn agrees_with_the_computed_tables() {
        let reference = reference();
        let tables = [
            ("tables_95", Confidence::P95),
            ("tables_90", Confidence::P90),
            ("tables_80", Confidence::P80),
        ];
        let mut rows = 0;
        for (name, confidence) in tables {
            for (n, table) in reference[name].as_object().unwrap() {
                for (k, row) in table.as_array().unwrap().iter().enumerate() {
                    let ours = interval(k as u32, n.parse().unwrap(), confidence);
                    assert_close(ours.low, row[0].as_f64().unwrap(), 1e-10);
                    assert_close(ours.high, row[1].as_f64().unwrap(), 1e-10);
                    rows += 1;
                }
            }
        }
        assert_eq!(rows, 3 * (11 + 13 + 16));
    }

    #[test]
    #[expect(clippy::float_cmp, reason = "the bounds are exact by contract")]
    fn ends_are_exact_and_nothing_observed_has_no_interval() {
        assert_eq!(interval(0, 7, Confidence::P95).low, 0.0);
        assert_eq!(interval(7, 7, Confidence::P95).high, 1.0);
        assert_eq!(wilson(Counts::new(0, 0).unwrap(), Confidence::P95), None);
    }

    #[test]
    fn impossible_input_is_refused_with_the_values() {
        assert_eq!(
            Counts::new(11, 10),
            Err(StatsFault::CountAboveTotal { k: 11, n: 10 })
        );
        assert_eq!(
            Counts::new(0, 1_000_001),
            Err(StatsFault::TotalTooLarge { n: 1_000_001 })
        );
        for level in [0.0, 1.0, -0.1, 95.0, f64::NAN, f64::INFINITY] {
            assert!(Confidence::new(level).is_err(), "{level}");
        }
        let sentence = Counts::new(11, 10).unwrap_err().to_string();
        assert!(sentence.starts_with("11 of 10 cannot be"), "{sentence}");
    }

    proptest! {
        #[test]
        fn is_bounded_symmetric_and_rises_with_the_count(
            n in 1..2_000u32, k in 0..2_000u32, level in 0.001..0.999f64,
        ) {
            let k = k % (n + 1);
            let confidence = Confidence::new(level).unwrap();
            let ours = interval(k, n, confidence);
            let rate = f64::from(k) / f64::from(n);
            prop_assert!(0.0 <= ours.low && ours.low <= rate + 1e-12);
            prop_assert!(rate <= ours.high + 1e-12 && ours.high <= 1.0);
            let mirrored = interval(n - k, n, confidence);
            prop_assert!((mirrored.low - (1.0 - ours.high)).abs() < 1e-12);
            if k < n {
                let next = interval(k + 1, n, confidence);
                prop_assert!(next.low > ours.low && next.high >= ours.high);
            }
        }
    }
}
