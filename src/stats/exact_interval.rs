//! Intervals of a rate beside Wilson's, and the interval of a difference of two rates.

use super::beta::Beta;
use super::{Confidence, Counts, Interval, wilson};

/// The interval of Clopper and Pearson, which never holds the truth less often than it says; `None` when
/// nothing was observed.
///
/// `L = BetaInv(alpha / 2; k, n - k + 1)`, `U = BetaInv(1 - alpha / 2; k + 1, n - k)`; exactly 0 when `k = 0`,
/// exactly 1 when `k = n`. Source: Clopper and Pearson 1934, Biometrika 26:404; method 5 of Newcombe 1998, Stat.
/// Med. 17:857.
pub fn clopper_pearson(counts: Counts, confidence: Confidence) -> Option<Interval> {
    mirrored(counts, |k, n| {
        Beta::new(k, n - k + 1.0).lower_quantile(confidence.tail())
    })
}

/// The interval of Jeffreys, from the prior Beta(1/2, 1/2); `None` when nothing was observed.
///
/// Exactly 0 when `k = 0`, exactly 1 when `k = n`. Source: Brown, Cai and DasGupta 2001, Stat. Sci. 16:101.
pub fn jeffreys(counts: Counts, confidence: Confidence) -> Option<Interval> {
    mirrored(counts, |k, n| {
        Beta::new(k + 0.5, n - k + 0.5).lower_quantile(confidence.tail())
    })
}

/// The mid-P interval, in which the observed count counts half; `None` when nothing was observed.
///
/// `L` solves `P(X > k) + P(X = k) / 2 = alpha / 2`, `U` is its mirror image; exactly 0 when `k = 0`, exactly 1
/// when `k = n`. Source: method 6 of Newcombe 1998, Stat. Med. 17:857.
pub fn mid_p(counts: Counts, confidence: Confidence) -> Option<Interval> {
    mirrored(counts, |k, n| {
        let at_least = Beta::new(k, n - k + 1.0);
        let above = (k < n).then(|| Beta::new(k + 1.0, n - k));
        let tail = |rate: f64| 0.5 * (at_least.at_most(rate) + above.map_or(0.0, |beta| beta.at_most(rate)));
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if tail(middle) > confidence.tail() {
                high = middle;
            } else {
                low = middle;
            }
        }
        0.5 * (low + high)
    })
}

/// The lower bound of the successes, and one minus that of the failures.
fn mirrored(counts: Counts, lower: impl Fn(f64, f64) -> f64) -> Option<Interval> {
    let bound = |k: u32| {
        if k == 0 {
            0.0
        } else {
            lower(f64::from(k), f64::from(counts.n()))
        }
    };
    (counts.n() > 0).then(|| Interval {
        low: bound(counts.k()),
        high: 1.0 - bound(counts.n() - counts.k()),
    })
}

/// The interval of the first rate minus the second, each from -1 to 1; `None` unless both were observed.
///
/// Source: method 10 of Newcombe 1998, Stat. Med. 17:873, from the Wilson interval of each.
pub fn difference(first: Counts, second: Counts, confidence: Confidence) -> Option<Interval> {
    let (p, q) = (first.rate()?, second.rate()?);
    let (of_p, of_q) = (wilson(first, confidence)?, wilson(second, confidence)?);
    let down = (p - of_p.low).hypot(of_q.high - q);
    let up = (of_p.high - p).hypot(q - of_q.low);
    Some(Interval {
        low: (p - q - down).max(-1.0),
        high: (p - q + up).min(1.0),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;

    type Method = fn(Counts, Confidence) -> Option<Interval>;
    const METHODS: [(&str, Method); 3] = [
        ("clopper_pearson", clopper_pearson),
        ("mid_p", mid_p),
        ("jeffreys", jeffreys),
    ];

    /// Sources are named in the file.
    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/exact_intervals.json")).unwrap()
    }

    fn counts(k: u32, n: u32) -> Counts {
        Counts::new(k, n).unwrap()
    }

    #[test]
    fn agrees_with_newcombe_1998_table_1() {
        let table = &reference()["newcombe_1998_table_1"];
        for (k, n) in [(81, 263), (15, 148), (0, 20), (1, 29)] {
            for (name, method) in METHODS {
                let row = &table[format!("{k}/{n}")][name];
                let ours = method(counts(k, n), Confidence::P95).unwrap();
                assert_close(ours.low, row["low"].as_f64().unwrap(), 1e-8);
                assert_close(ours.high, row["high"].as_f64().unwrap(), 1e-8);
                if let Some(published) = row["published"].as_array() {
                    assert!((ours.low - published[0].as_f64().unwrap()).abs() < 0.51e-4);
                    assert!((ours.high - published[1].as_f64().unwrap()).abs() < 0.51e-4);
                }
            }
        }
    }

    #[test]
    fn agrees_with_the_computed_tables() {
        let mut checked = 0;
        for (tables, levels) in [("tables_95", None), ("tables_80_90", Some(["80", "90"]))] {
            for (n, table) in reference()[tables].as_object().unwrap() {
                let n: u32 = n.parse().unwrap();
                let tables = match levels {
                    None => vec![(Confidence::P95, table)],
                    Some([low, high]) => {
                        vec![(Confidence::P80, &table[low]), (Confidence::P90, &table[high])]
                    }
                };
                for (confidence, table) in tables {
                    for (k, row) in table.as_array().unwrap().iter().enumerate() {
                        for (name, method) in METHODS {
                            let Some(pair) = row.get(name) else { continue };
                            let ours = method(counts(k as u32, n), confidence).unwrap();
                            assert_close(ours.low, pair[0].as_f64().unwrap(), 1e-8);
                            assert_close(ours.high, pair[1].as_f64().unwrap(), 1e-8);
                            checked += 1;
                        }
                    }
                }
            }
        }
        // 40 counts by three methods at 95 %, by two at 80 % and 90 %.
        assert_eq!(checked, 40 * 3 + 40 * 2 * 2);
    }

    #[test]
    fn differences_agree_with_newcombe_1998_table_2_method_10() {
        for row in reference()["differences"].as_array().unwrap() {
            let case: Vec<u32> = row["x1_n1_x2_n2"]
                .as_array()
                .unwrap()
                .iter()
                .map(|x| x.as_u64().unwrap() as u32)
                .collect();
            let ours = difference(
                counts(case[0], case[1]),
                counts(case[2], case[3]),
                Confidence::P95,
            )
            .unwrap();
            for (ours, index) in [(ours.low, 0), (ours.high, 1)] {
                assert_close(ours, row["computed"][index].as_f64().unwrap(), 1e-9);
                assert!((ours - row["published"][index].as_f64().unwrap()).abs() < 0.6e-4);
            }
        }
    }

    #[test]
    fn closed_forms_and_edges() {
        for (_, method) in METHODS {
            assert_eq!(method(counts(0, 0), Confidence::P95), None);
            assert_close(method(counts(0, 7), Confidence::P95).unwrap().low, 0.0, 0.0);
            assert_close(method(counts(7, 7), Confidence::P95).unwrap().high, 1.0, 0.0);
        }
        assert_eq!(difference(counts(0, 0), counts(1, 2), Confidence::P95), None);
        // L(n) = (alpha / 2)^(1/n) for Clopper and Pearson, alpha^(1/n) for mid-P.
        let full = counts(12, 12);
        assert_close(
            clopper_pearson(full, Confidence::P95).unwrap().low,
            0.025_f64.powf(1.0 / 12.0),
            1e-12,
        );
        assert_close(
            mid_p(full, Confidence::P95).unwrap().low,
            0.05_f64.powf(1.0 / 12.0),
            1e-12,
        );
    }

    proptest! {
        #[test]
        fn intervals_hold_the_rate_and_mirror(n in 1..400_u32, part in 0.0..=1.0_f64, level in 0.5..0.999_f64) {
            let k = (part * f64::from(n)).round() as u32;
            let confidence = Confidence::new(level).unwrap();
            let rate = f64::from(k) / f64::from(n);
            let exact = clopper_pearson(counts(k, n), confidence).unwrap();
            for (name, method) in METHODS {
                let here = method(counts(k, n), confidence).unwrap();
                let there = method(counts(n - k, n), confidence).unwrap();
                prop_assert!(0.0 <= here.low && here.low <= rate + 1e-12, "{}", name);
                prop_assert!(rate <= here.high + 1e-12 && here.high <= 1.0, "{}", name);
                prop_assert!((here.low - 1.0 + there.high).abs() < 1e-9, "{}", name);
                // No method is wider than the exact one.
                prop_assert!(here.low >= exact.low - 1e-12 && here.high <= exact.high + 1e-12, "{}", name);
            }
        }
    }
}
