//! A straight line through points: what one trait alone tells of another.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::response::Span;

/// A weighted least-squares line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Points.
    pub points: usize,
    /// Weighted mean of x.
    pub mean_x: f64,
    /// Weighted mean of y.
    pub mean_y: f64,
    /// Units of y for one unit of x.
    pub slope: f64,
    /// The standard error of the slope; `None` for two points, which any line fits.
    pub slope_error: Option<f64>,
    /// Correlation of x and y, -1 to 1; 0 when y does not vary.
    pub correlation: f64,
}

impl Line {
    /// The value of the line at x = 0.
    pub fn intercept(&self) -> f64 {
        self.mean_y - self.slope * self.mean_x
    }

    /// How far y lies above the line at x.
    pub fn residual(&self, x: f64, y: f64) -> f64 {
        y - self.mean_y - self.slope * (x - self.mean_x)
    }

    /// The difference in y that goes with a difference in x, and its 95 % interval.
    ///
    /// This is what x alone tells. It says nothing of causes: x and y may share one.
    pub fn explained(&self, difference: f64) -> (f64, Option<Span>) {
        let middle = self.slope * difference;
        let interval = self.slope_error.map(|error| {
            let half = student_95(self.points as f64 - 2.0) * (error * difference).abs();
            Span {
                low: middle - half,
                high: middle + half,
            }
        });
        (middle, interval)
    }
}

/// Lays a line through points of x, y and weight. `None` for fewer than two points, when x does not vary, or when a
/// number is not finite or a weight not above 0.
pub fn line(points: impl Iterator<Item = (f64, f64, f64)> + Clone) -> Option<Line> {
    let (mut count, mut weights, mut sum_x, mut sum_y) = (0_usize, 0.0, 0.0, 0.0);
    for (x, y, weight) in points.clone() {
        if !(x.is_finite() && y.is_finite() && weight.is_finite() && weight > 0.0) {
            return None;
        }
        count += 1;
        weights += weight;
        sum_x += weight * x;
        sum_y += weight * y;
    }
    let (mean_x, mean_y) = (sum_x / weights, sum_y / weights);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y, weight) in points {
        let (x, y) = (x - mean_x, y - mean_y);
        xx += weight * x * x;
        xy += weight * x * y;
        yy += weight * y * y;
    }
    if count < 2 || xx <= 1e-24 * weights * (1.0 + mean_x * mean_x) {
        return None;
    }
    let slope = xy / xx;
    let left = (yy - slope * xy).max(0.0);
    Some(Line {
        points: count,
        mean_x,
        mean_y,
        slope,
        slope_error: (count > 2).then(|| (left / (count as f64 - 2.0) / xx).sqrt()),
        correlation: if yy > 0.0 {
            (xy / (xx * yy).sqrt()).clamp(-1.0, 1.0)
        } else {
            0.0
        },
    })
}

/// The two-sided 95 % point of Student's t with these degrees of freedom, at least 1 of which count.
pub(super) fn student_95(freedom: f64) -> f64 {
    // From here on it is the normal point to eight digits, and the library's search for it becomes slow.
    const NORMAL: f64 = 1.959_963_984_540_054;
    if freedom > 200.0 {
        let z = NORMAL;
        // Abramowitz and Stegun 26.7.5 (from memory).
        let first = (z.powi(3) + z) / 4.0;
        let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
        return z + first / freedom + second / (freedom * freedom);
    }
    StudentsT::new(0.0, 1.0, freedom.max(1.0)).map_or(NORMAL, |student| student.inverse_cdf(0.975))
}
