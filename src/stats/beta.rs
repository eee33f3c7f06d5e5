//! The beta distribution: both tails and quantiles.
//!
//! The library's own incomplete beta function stops after 140 terms, too few for large counts, and gives a
//! small tail on the far side of the mean as one minus a number near one, which loses its digits.

use statrs::function::gamma::ln_gamma;

/// A beta distribution with both parameters finite and above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beta {
    a: f64,
    b: f64,
    ln_scale: f64,
}

impl Beta {
    /// Takes finite parameters above zero.
    pub(super) fn new(a: f64, b: f64) -> Self {
        debug_assert!(a > 0.0 && b > 0.0 && (a + b).is_finite());
        Self {
            a,
            b,
            ln_scale: ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b),
        }
    }

    fn mirrored(self) -> Self {
        Self {
            a: self.b,
            b: self.a,
            ln_scale: self.ln_scale,
        }
    }

    /// P(value <= x), computed directly in the lower tail.
    pub(super) fn at_most(self, x: f64) -> f64 {
        if x <= 0.0 {
            return 0.0;
        }
        if x >= 1.0 {
            return 1.0;
        }
        let tail = if self.is_lower_tail(x) {
            self.ln_power(x).exp() * continued_fraction(self.a, self.b, x) / self.a
        } else {
            1.0 - self.ln_power(x).exp() * continued_fraction(self.b, self.a, 1.0 - x) / self.b
        };
        tail.clamp(0.0, 1.0)
    }

    /// P(value >= x), computed directly in the upper tail.
    pub(super) fn at_least(self, x: f64) -> f64 {
        if x <= 0.0 {
            return 1.0;
        }
        if x >= 1.0 {
            return 0.0;
        }
        if self.is_lower_tail(x) {
            return 1.0 - self.at_most(x);
        }
        let tail = self.ln_power(x).exp() * continued_fraction(self.b, self.a, 1.0 - x) / self.b;
        tail.clamp(0.0, 1.0)
    }

    /// The value that is exceeded with probability `1 - tail`, for a tail strictly between 0 and 1.
    pub(super) fn lower_quantile(self, tail: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        let mut x = self.a / (self.a + self.b);
        // Newton's step where it stays inside the bracket, else half of the bracket.
        for _ in 0..200 {
            let excess = self.at_most(x) - tail;
            if excess > 0.0 {
                high = x;
            } else {
                low = x;
            }
            let density = (self.ln_power(x) - x.ln() - (-x).ln_1p()).exp();
            let newton = x - excess / density;
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            if (next - x).abs() <= 4.0 * f64::EPSILON * next {
                return next;
            }
            x = next;
        }
        x
    }

    /// The value that is exceeded with probability `tail`, for a tail strictly between 0 and 1.
    pub(super) fn upper_quantile(self, tail: f64) -> f64 {
        1.0 - self.mirrored().lower_quantile(tail)
    }

    fn is_lower_tail(self, x: f64) -> bool {
        x < (self.a + 1.0) / (self.a + self.b + 2.0)
    }

    /// ln of `x^a (1-x)^b / B(a, b)`.
    fn ln_power(self, x: f64) -> f64 {
        self.a * x.ln() + self.b * (-x).ln_1p() - self.ln_scale
    }
}

/// The continued fraction of the incomplete beta function by the modified method of Lentz; it converges fast
/// below the mean.
///
/// Source: Abramowitz and Stegun 1964, 26.5.8 (from memory).
fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |value: f64| if value.abs() < TINY { TINY } else { value };
    // The number of terms needed grows with the root of the larger parameter.
    let most_terms = 200 + 10 * (a.max(b).sqrt() as u64);
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for m in 1..=most_terms {
        let m = m as f64;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut factor = 1.0;
        for term in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + term * d);
            c = away_from_zero(1.0 + term / c);
            factor = d * c;
            value *= factor;
        }
        if (factor - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}

/// Fails unless `actual` is `expected` to within `relative`.
#[cfg(test)]
#[track_caller]
pub(super) fn assert_close(actual: f64, expected: f64, relative: f64) {
    let allowed = relative * expected.abs().max(f64::MIN_POSITIVE);
    assert!(
        (actual - expected).abs() <= allowed,
        "{actual} is not {expected} to within {relative}"
    );
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;
    use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal};
    use statrs::function::gamma::digamma;

    use super::*;

    /// Calls `check` with the numbers in each key and the expected value; source in the file.
    fn for_each_reference(function: &str, check: impl Fn(&[f64], f64)) {
        let file: Value =
            serde_json::from_str(include_str!("../../tests/reference/special_functions.json")).unwrap();
        for (key, expected) in file[function].as_object().unwrap() {
            let arguments: Vec<f64> = key
                .split(',')
                .map(|part| part.rsplit('=').next().unwrap().parse().unwrap())
                .collect();
            check(&arguments, expected.as_str().unwrap().parse().unwrap());
        }
    }

    #[test]
    fn special_functions_agree_with_forty_digits() {
        for_each_reference("ln_gamma", |x, expected| {
            assert!((ln_gamma(x[0]) - expected).abs() <= 1e-13 * expected.abs().max(1.0));
        });
        for_each_reference("digamma", |x, expected| {
            assert_close(digamma(x[0]), expected, 1e-12);
        });
        for_each_reference("reg_inc_beta_I_x(a,b)", |x, expected| {
            // At a = b = 1e4 the difference of ln gammas near 1e5 leaves ten digits.
            assert_close(Beta::new(x[1], x[2]).at_most(x[0]), expected, 1e-10);
            assert_close(Beta::new(x[2], x[1]).at_least(1.0 - x[0]), expected, 1e-10);
        });
        for_each_reference("normal_quantile", |x, expected| {
            assert!((Normal::standard().inverse_cdf(x[0]) - expected).abs() <= 1e-9);
        });
        for_each_reference("normal_cdf", |x, expected| {
            assert_close(Normal::standard().cdf(x[0]), expected, 1e-10);
        });
        for_each_reference("chi2_sf", |x, expected| {
            assert_close(ChiSquared::new(x[1]).unwrap().sf(x[0]), expected, 1e-10);
        });
        for_each_reference("F_sf", |x, expected| {
            assert_close(FisherSnedecor::new(x[1], x[2]).unwrap().sf(x[0]), expected, 1e-8);
        });
    }

    #[test]
    fn closed_forms_hold_for_large_parameters() {
        // I_x(a, 1) = x^a and I_x(1, b) = 1 - (1 - x)^b.
        assert_close(
            Beta::new(1e6, 1.0).at_most(0.999_999),
            0.999_999_f64.powf(1e6),
            1e-8,
        );
        assert_close(
            Beta::new(1.0, 1e6).at_least(1e-6),
            (1e6 * (-1e-6_f64).ln_1p()).exp(),
            1e-8,
        );
        assert_close(Beta::new(5e5, 5e5).at_most(0.5), 0.5, 1e-7);
        assert_close(Beta::new(3.0, 1.0).lower_quantile(0.027), 0.3, 1e-13);
        assert_close(Beta::new(1.0, 3.0).upper_quantile(0.027), 0.7, 1e-13);
    }

    proptest! {
        #[test]
        fn tails_add_up_and_quantiles_invert(
            a in 0.01..2e3f64, b in 0.01..2e3f64, x in 0.0..=1.0f64, tail in 0.001..0.5f64,
        ) {
            let beta = Beta::new(a, b);
            prop_assert!((beta.at_most(x) + beta.at_least(x) - 1.0).abs() < 1e-10);
            let low = beta.lower_quantile(tail);
            let high = beta.upper_quantile(tail);
            prop_assert!((0.0..=1.0).contains(&low) && low <= high && high <= 1.0);
            // Nearer to an end than a float can tell, the quantile is the end.
            if low > 1e-50 {
                prop_assert!((beta.at_most(low) - tail).abs() < 1e-8 * tail.max(1e-3));
            }
        }
    }
}
