//! How the chosen differ from all in a trait that was measured.

use super::line::student_95;
use super::response::Span;

/// Sums over a group of values. Take them from a common origin near the mean so that no digits are lost.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Group {
    /// Values.
    pub count: usize,
    /// Their sum.
    pub sum: f64,
    /// The sum of their squares.
    pub squares: f64,
}

impl Group {
    /// Adds a value.
    pub fn add(&mut self, value: f64) {
        self.count += 1;
        self.sum += value;
        self.squares += value * value;
    }

    /// The values of this group that are not in a part of it.
    #[must_use]
    pub fn without(self, part: Self) -> Self {
        Self {
            count: self.count.saturating_sub(part.count),
            sum: self.sum - part.sum,
            squares: self.squares - part.squares,
        }
    }

    /// The mean; `None` of no values.
    pub fn mean(self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }

    /// The variance with one less than the count; `None` of fewer than two values.
    pub fn variance(self) -> Option<f64> {
        let count = self.count as f64;
        (self.count > 1).then(|| ((self.squares - self.sum * self.sum / count) / (count - 1.0)).max(0.0))
    }

    /// The 95 % interval of the mean by the spread of the values (Student's t); `None` of fewer than two values.
    pub fn mean_95(self) -> Option<Span> {
        let (mean, variance) = (self.mean()?, self.variance()?);
        let count = self.count as f64;
        let half = student_95(count - 1.0) * (variance / count).sqrt();
        Some(Span {
            low: mean - half,
            high: mean + half,
        })
    }
}

impl FromIterator<f64> for Group {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        let mut group = Self::default();
        values.into_iter().for_each(|value| group.add(value));
        group
    }
}

/// The mean of the chosen less the mean of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// The difference, in the unit of the values.
    pub difference: f64,
    /// Its 95 % interval; `None` where fewer than two are chosen or fewer than two are not.
    pub interval: Option<Span>,
    /// The difference in standard deviations of all; `None` when all values are equal.
    pub deviations: Option<f64>,
}

/// Compares the chosen with all, of which they are a part.
///
/// The chosen are among all, so the difference is `1 - f` times that between the chosen and the others, `f` being
/// the chosen share; so is its interval, by Welch's unequal-variance t (Welch 1947, Biometrika 34:28, from memory).
/// `None` when none is chosen, or more than there are.
pub fn shift(chosen: Group, all: Group) -> Option<Shift> {
    if chosen.count > all.count {
        return None;
    }
    let difference = chosen.mean()? - all.mean()?;
    let others = all.without(chosen);
    let deviation = all.variance().map_or(0.0, f64::sqrt);
    Some(Shift {
        difference,
        interval: interval(difference, chosen, others),
        deviations: (deviation > 0.0).then(|| difference / deviation),
    })
}

fn interval(difference: f64, chosen: Group, others: Group) -> Option<Span> {
    let (one, two) = (chosen.count as f64, others.count as f64);
    let (first, second) = (chosen.variance()? / one, others.variance()? / two);
    let total = first + second;
    let half = if total > 0.0 {
        let freedom = total * total / (first * first / (one - 1.0) + second * second / (two - 1.0));
        student_95(freedom) * total.sqrt() * two / (one + two)
    } else {
        0.0
    };
    Some(Span {
        low: difference - half,
        high: difference + half,
    })
}
