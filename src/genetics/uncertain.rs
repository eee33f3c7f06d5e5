//! A number that was measured, with what is not known of it.

use super::line::student_95;
use super::response::Span;

/// A number that was measured, with its variance and the degrees of freedom by which that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain {
    /// The number.
    pub value: f64,
    /// Its variance, in the squared unit of the number.
    pub variance: f64,
    /// Degrees of freedom of the variance; infinite where the variance is known.
    pub freedom: f64,
}

impl Uncertain {
    /// The sum of measured numbers, each times its factor, which know nothing of each other.
    ///
    /// The degrees of freedom are those of Satterthwaite 1946, Biometrics Bulletin 2:110 (from memory):
    /// `(sum v)^2 / sum (v^2 / f)`, `v` being the parts of the variance and `f` their degrees of freedom.
    pub fn sum(terms: impl IntoIterator<Item = (f64, Self)>) -> Self {
        let (mut value, mut variance, mut parts) = (0.0, 0.0, 0.0);
        for (factor, one) in terms {
            let part = factor * factor * one.variance;
            value += factor * one.value;
            variance += part;
            parts += part * part / one.freedom.max(1.0);
        }
        Self {
            value,
            variance,
            freedom: if parts > 0.0 {
                variance * variance / parts
            } else {
                f64::INFINITY
            },
        }
    }

    /// This number less another one of which it knows nothing.
    #[must_use]
    pub fn less(self, other: Self) -> Self {
        Self::sum([(1.0, self), (-1.0, other)])
    }

    /// This number times a factor that is known.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            value: factor * self.value,
            variance: factor * factor * self.variance,
            freedom: self.freedom,
        }
    }

    /// The standard error.
    pub fn error(self) -> f64 {
        self.variance.sqrt()
    }

    /// The 95 % interval by Student's t.
    pub fn interval_95(self) -> Span {
        let half = student_95(self.freedom) * self.error();
        Span {
            low: self.value - half,
            high: self.value + half,
        }
    }

    /// Whether the 95 % interval leaves open that the number is zero.
    pub fn may_be_zero(self) -> bool {
        let Span { low, high } = self.interval_95();
        low <= 0.0 && high >= 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64, variance: f64, freedom: f64) -> Uncertain {
        Uncertain {
            value,
            variance,
            freedom,
        }
    }

    /// Welch's degrees of freedom are those of a difference: `(4/9 + 9/16)^2 / ((4/9)^2/8 + (9/16)^2/15)` = 22.2027 for nine
    /// values of variance 4 and sixteen of variance 9, worked out by hand.
    #[test]
    fn a_difference_has_the_degrees_of_freedom_of_welch() {
        let difference = of(5.0, 4.0 / 9.0, 8.0).less(of(3.0, 9.0 / 16.0, 15.0));
        assert!((difference.value - 2.0).abs() < 1e-12);
        assert!((difference.variance - (4.0 / 9.0 + 9.0 / 16.0)).abs() < 1e-12);
        let (a, b): (f64, f64) = (4.0 / 9.0, 9.0 / 16.0);
        let expected = (a + b).powi(2) / (a * a / 8.0 + b * b / 15.0);
        assert!((difference.freedom - expected).abs() < 1e-9);
        // The 97.5 % point of t with 10 degrees of freedom is 2.228139 in every table.
        let span = of(1.0, 4.0, 10.0).interval_95();
        assert!((span.high - 1.0 - 2.0 * 2.228_139).abs() < 1e-5, "{span:?}");
        assert!(of(1.0, 4.0, 10.0).may_be_zero() && !of(5.0, 4.0, 10.0).may_be_zero());
    }

    #[test]
    fn what_is_known_exactly_has_no_interval() {
        let sum = Uncertain::sum([(2.0, of(1.5, 0.0, 3.0))]);
        assert_eq!(sum.interval_95(), Span { low: 3.0, high: 3.0 });
        assert!(!sum.may_be_zero());
        assert_eq!(Uncertain::sum([]).interval_95(), Span { low: 0.0, high: 0.0 });
    }
}
