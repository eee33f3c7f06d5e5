//! Symmetric matrices that are full near the diagonal and in their last rows: the normal equations of many
//! trays and a few terms that all cells share.

/// The lower half of a symmetric matrix, each row stored from its first entry that may differ from zero.
#[derive(Debug, Clone)]
pub(crate) struct Skyline {
    first: Vec<usize>,
    start: Vec<usize>,
    values: Vec<f64>,
}

impl Skyline {
    /// All zero; row `i` may hold entries from column `first[i]` to `i`.
    pub(crate) fn new(first: Vec<usize>) -> Self {
        let mut start = Vec::with_capacity(first.len() + 1);
        let mut total = 0;
        start.push(0);
        for (row, &from) in first.iter().enumerate() {
            total += row - from + 1;
            start.push(total);
        }
        Self {
            first,
            start,
            values: vec![0.0; total],
        }
    }

    /// Adds to the entry in `row` and `column`, with `column <= row` inside the stored part.
    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        debug_assert!(self.first[row] <= column && column <= row);
        self.values[self.start[row] + column - self.first[row]] += value;
    }

    /// The entry on the diagonal.
    pub(crate) fn diagonal(&self, row: usize) -> f64 {
        self.values[self.start[row + 1] - 1]
    }

    fn size(&self) -> usize {
        self.first.len()
    }

    /// Cholesky's factor of the matrix with `damping * (1 + diagonal)` added to its diagonal.
    ///
    /// # Errors
    /// The first row whose pivot is not above `least` times its diagonal: it follows from the rows before it,
    /// or the matrix is not positive.
    pub(crate) fn factor(&self, damping: f64, least: f64) -> Result<Factor, usize> {
        let mut lower = self.clone();
        for row in 0..self.size() {
            let from = self.first[row];
            let (above, rest) = lower.values.split_at_mut(self.start[row]);
            let here = &mut rest[..=row - from];
            for column in from..row {
                let column_from = self.first[column];
                let shared = from.max(column_from);
                let dot: f64 = if shared < column {
                    let base = self.start[column] - column_from;
                    let left = &here[shared - from..column - from];
                    let right = &above[base + shared..base + column];
                    left.iter().zip(right).map(|(a, b)| a * b).sum()
                } else {
                    0.0
                };
                let pivot = above[self.start[column + 1] - 1];
                here[column - from] = (here[column - from] - dot) / pivot;
            }
            let given = here[row - from];
            let diagonal = given + damping * (1.0 + given.abs());
            let squares: f64 = here[..row - from].iter().map(|a| a * a).sum();
            let pivot = diagonal - squares;
            if !(pivot > least * diagonal.abs() && pivot.is_finite() && pivot > 0.0) {
                return Err(row);
            }
            here[row - from] = pivot.sqrt();
        }
        Ok(Factor { lower })
    }
}

/// Cholesky's factor of a [`Skyline`].
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    lower: Skyline,
}

impl Factor {
    /// Solves with the factor alone: afterwards the sum of squares is `b' inverse b`.
    pub(crate) fn half_solve(&self, b: &mut [f64]) {
        let lower = &self.lower;
        // Rows whose stored part begins after the last entry that differs from zero stay zero.
        let mut last = None;
        for row in 0..b.len() {
            let from = lower.first[row];
            if last.is_some_and(|last| from <= last) {
                let entries = &lower.values[lower.start[row]..lower.start[row + 1] - 1];
                let dot: f64 = entries.iter().zip(&b[from..row]).map(|(a, x)| a * x).sum();
                b[row] -= dot;
            }
            if b[row] != 0.0 {
                b[row] /= lower.diagonal(row);
                last = Some(row);
            }
        }
    }

    /// Solves with the whole matrix.
    pub(crate) fn solve(&self, b: &mut [f64]) {
        self.half_solve(b);
        let lower = &self.lower;
        for row in (0..b.len()).rev() {
            let value = b[row] / lower.diagonal(row);
            b[row] = value;
            let from = lower.first[row];
            let entries = &lower.values[lower.start[row]..lower.start[row + 1] - 1];
            for (x, a) in b[from..row].iter_mut().zip(entries) {
                *x -= a * value;
            }
        }
    }

    /// The smallest pivot: the least information on any parameter once those before it are known as well as the
    /// counts tell.
    pub(crate) fn least_pivot(&self) -> f64 {
        let rows = 0..self.lower.size();
        rows.map(|row| self.lower.diagonal(row).powi(2))
            .fold(f64::INFINITY, f64::min)
    }

    /// `b' inverse b`: the variance of a sum of estimates with these factors.
    pub(crate) fn variance(&self, entries: &[(usize, f64)]) -> f64 {
        let mut b = vec![0.0; self.lower.size()];
        for &(index, value) in entries {
            b[index] += value;
        }
        self.half_solve(&mut b);
        b.iter().map(|x| x * x).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::beta::assert_close;

    fn example() -> Skyline {
        // [4 1 0 2; 1 5 0 1; 0 0 3 1; 2 1 1 6]
        let mut matrix = Skyline::new(vec![0, 0, 2, 0]);
        for (row, column, value) in [
            (0, 0, 4.0),
            (1, 0, 1.0),
            (1, 1, 5.0),
            (2, 2, 3.0),
            (3, 0, 2.0),
            (3, 1, 1.0),
            (3, 2, 1.0),
            (3, 3, 6.0),
        ] {
            matrix.add(row, column, value);
        }
        matrix
    }

    #[test]
    fn solves_what_it_was_made_of() {
        let factor = example().factor(0.0, 1e-12).unwrap();
        // The matrix times (1, -2, 3, 4).
        let mut b = [10.0, -5.0, 13.0, 27.0];
        factor.solve(&mut b);
        for (ours, expected) in b.iter().zip([1.0, -2.0, 3.0, 4.0]) {
            assert_close(*ours, expected, 1e-13);
        }
        let mut unit = [0.0, 0.0, 1.0, 0.0];
        factor.solve(&mut unit);
        assert_close(factor.variance(&[(2, 1.0)]), unit[2], 1e-13);
    }

    #[test]
    fn names_the_row_that_follows_from_the_others() {
        let mut matrix = Skyline::new(vec![0, 1, 0]);
        for (row, column, value) in [(0, 0, 1.0), (1, 1, 1.0), (2, 0, 1.0), (2, 1, 1.0), (2, 2, 2.0)] {
            matrix.add(row, column, value);
        }
        assert_eq!(matrix.factor(0.0, 1e-9).unwrap_err(), 2);
        assert!(matrix.factor(0.1, 1e-9).is_ok());
    }
}
