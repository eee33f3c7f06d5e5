//! Comparing a count with a cutoff in percent, without rounding error.

use super::beta::Beta;
use super::interval::MOST_TRIALS;
use super::{Counts, StatsFault};

/// A cutoff from 0 to 100 percent, kept to a millionth of a percent so that every comparison is one of whole
/// numbers.
///
/// In floating point, 29 of 50 does not reach 58 percent and 28 percent of 25 is more than 7.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cutoff {
    millionths: u32,
}

const MILLIONTHS_PER_PERCENT: u32 = 1_000_000;

impl Cutoff {
    /// Takes a percent such as 70.0 or 72.5, rounded to a millionth of a percent.
    ///
    /// # Errors
    /// [`StatsFault::Cutoff`] unless the percent lies from 0 to 100.
    pub fn from_percent(percent: f64) -> Result<Self, StatsFault> {
        if !(0.0..=100.0).contains(&percent) {
            return Err(StatsFault::Cutoff { percent });
        }
        Ok(Self {
            millionths: (percent * f64::from(MILLIONTHS_PER_PERCENT)).round() as u32,
        })
    }

    /// The cutoff in percent.
    pub fn percent(self) -> f64 {
        f64::from(self.millionths) / f64::from(MILLIONTHS_PER_PERCENT)
    }

    /// The cutoff as a rate from 0 to 1.
    pub fn rate(self) -> f64 {
        f64::from(self.millionths) / (100.0 * f64::from(MILLIONTHS_PER_PERCENT))
    }
}

/// Whether `k` of `n` is at or above the cutoff, exactly; nothing observed (`n = 0`) reaches no cutoff.
pub fn reaches(counts: Counts, cutoff: Cutoff) -> bool {
    counts.n() > 0 && counts.k() >= least_germinated(counts.n(), cutoff)
}

/// The least count of `n` that reaches the cutoff: `ceil(cutoff * n / 100)`, exactly.
pub fn least_germinated(n: u32, cutoff: Cutoff) -> u32 {
    let whole = u64::from(100 * MILLIONTHS_PER_PERCENT);
    (u64::from(cutoff.millionths) * u64::from(n)).div_ceil(whole) as u32
}

/// The probability that a count of `n` reaches the cutoff when the true rate is `p`: the operating
/// characteristic.
///
/// `P(X >= c) = I_p(c, n - c + 1)` with `c` from [`least_germinated`]. `None` when `n` is 0 or above
/// [`MOST_TRIALS`], or when `p` is not from 0 to 1.
pub fn probability_selected(p: f64, n: u32, cutoff: Cutoff) -> Option<f64> {
    if n == 0 || n > MOST_TRIALS || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let least = least_germinated(n, cutoff);
    if least == 0 {
        return Some(1.0);
    }
    Some(Beta::new(f64::from(least), f64::from(n - least) + 1.0).at_most(p))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;

    fn reference() -> Value {
        serde_json::from_str(include_str!(
            "../../tests/reference/operating_characteristic.json"
        ))
        .unwrap()
    }

    fn percent(percent: f64) -> Cutoff {
        Cutoff::from_percent(percent).unwrap()
    }

    #[test]
    fn agrees_with_the_operating_characteristic_tables() {
        let mut checked = 0;
        for (cutoff, table) in reference()["probability_selected"].as_object().unwrap() {
            let cutoff = percent(cutoff.parse().unwrap());
            for (n, row) in table.as_object().unwrap() {
                let n: u32 = n.parse().unwrap();
                for (key, expected) in row.as_object().unwrap() {
                    let Some(p) = key.strip_prefix("p=") else {
                        assert_eq!(u64::from(least_germinated(n, cutoff)), expected.as_u64().unwrap());
                        continue;
                    };
                    let ours = probability_selected(p.parse().unwrap(), n, cutoff).unwrap();
                    assert_close(ours, expected.as_f64().unwrap(), 1e-10);
                    checked += 1;
                }
            }
        }
        assert!(checked >= 3 * 10 * 9, "{checked}");
    }

    #[test]
    fn is_right_where_floating_point_goes_wrong() {
        let reference = reference();
        let rows = reference["float_ceiling_goes_wrong_at_percent_n_wrong_right"]
            .as_array()
            .unwrap();
        assert_eq!(rows.len(), 27);
        for row in rows {
            let [cutoff, n, _, right] = [0, 1, 2, 3].map(|column| row[column].as_u64().unwrap() as u32);
            assert_eq!(least_germinated(n, percent(f64::from(cutoff))), right);
        }
        assert!(reaches(Counts::new(29, 50).unwrap(), percent(58.0)));
        assert!(reaches(Counts::new(333, 1000).unwrap(), percent(33.3)));
        assert!(!reaches(Counts::new(332, 1000).unwrap(), percent(33.3)));
    }

    #[test]
    fn every_whole_percent_agrees_with_whole_numbers() {
        for cutoff in 0..=100u32 {
            for n in 1..=200u32 {
                for k in 0..=n {
                    let ours = reaches(Counts::new(k, n).unwrap(), percent(f64::from(cutoff)));
                    assert_eq!(ours, 100 * k >= cutoff * n, "{k} of {n} against {cutoff}");
                }
            }
        }
    }

    #[test]
    fn edges() {
        assert!(!reaches(Counts::new(0, 0).unwrap(), percent(0.0)));
        assert_eq!(probability_selected(0.5, 0, percent(50.0)), None);
        assert_eq!(probability_selected(0.5, MOST_TRIALS + 1, percent(50.0)), None);
        assert_eq!(probability_selected(f64::NAN, 5, percent(50.0)), None);
        assert_eq!(probability_selected(0.0, 5, percent(0.0)), Some(1.0));
        assert_eq!(probability_selected(0.0, 5, percent(1.0)), Some(0.0));
        assert_eq!(probability_selected(1.0, 5, percent(100.0)), Some(1.0));
        for bad in [-1.0, 100.1, f64::NAN, f64::INFINITY] {
            assert!(Cutoff::from_percent(bad).is_err(), "{bad}");
        }
        assert_eq!(least_germinated(u32::MAX, percent(100.0)), u32::MAX);
    }

    proptest! {
        #[test]
        fn selection_rises_with_the_rate(
            n in 1..300u32, cutoff in 0.0..=100.0f64, p in 0.0..1.0f64, step in 0.0..0.1f64,
        ) {
            let cutoff = percent(cutoff);
            let lower = probability_selected(p, n, cutoff).unwrap();
            let higher = probability_selected((p + step).min(1.0), n, cutoff).unwrap();
            prop_assert!((0.0..=1.0).contains(&lower) && higher >= lower - 1e-12);
        }
    }
}
