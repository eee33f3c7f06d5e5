//! The part of `summary` that says how fast the kernels of an ear came up and how strong they grew.

use serde::Serialize;
use wintercrib::insight::{EarCourse, Speed};
use wintercrib::stats::speed::HalfTime;

/// Keys carry their units. What is not observed is null, and a sentence says why.
#[derive(Debug, Default, Serialize)]
pub(super) struct SpeedFacts {
    counts: Option<usize>,
    first_count_day: Option<f64>,
    up_by_first_count_kernels: Option<u32>,
    up_in_the_end_kernels: Option<u32>,
    up_by_early_count_share_percent: Option<f64>,
    half_up_not_after_day: Option<f64>,
    half_up_day: Option<f64>,
    mean_time_days: Option<f64>,
    speed_kernels_per_day_per_kernel: Option<f64>,
    curve_half_up_day: Option<f64>,
    curve_half_up_day_error_days: Option<f64>,
    curve_steepness: Option<f64>,
    curve_ever_up_share_percent: Option<f64>,
    vigor_mean_grade: Option<f64>,
    vigor_least_grade: Option<u8>,
    vigor_most_grade: Option<u8>,
    vigor_standard_deviation_grade: Option<f64>,
    vigor_graded_cells: Option<usize>,
    seedling_length_millimetres: Option<f64>,
    vigor_index_percent_millimetres: Option<f64>,
    sentences: Vec<String>,
}

impl SpeedFacts {
    pub(super) fn new(speed: &Speed, all_percent: Option<f64>) -> Self {
        let course = speed.course.as_ref().ok();
        let first = course.and_then(|course| course.up.first());
        let last = course.and_then(|course| course.up.last());
        let half = course.map(|course| course.course.half_time());
        let measures = course.and_then(|course| course.measures().ok());
        let curve = course.and_then(|course| course.curve().ok());
        let kernels = course.map_or(1.0, |course| f64::from(course.kernels.max(1)));
        Self {
            counts: course.map(|course| course.up.len()),
            first_count_day: first.map(|(day, _)| *day),
            up_by_first_count_kernels: first.map(|(_, up)| *up),
            up_in_the_end_kernels: last.map(|(_, up)| *up),
            up_by_early_count_share_percent: speed.early_percent(),
            half_up_not_after_day: match half {
                Some(HalfTime::NotAfter { day }) => Some(day),
                _ => None,
            },
            half_up_day: match half {
                Some(HalfTime::At { day }) if course.is_some_and(EarCourse::has_times) => Some(day),
                _ => None,
            },
            mean_time_days: measures.map(|found| found.mean_time_midpoint),
            speed_kernels_per_day_per_kernel: measures.map(|found| found.speed_index / kernels),
            curve_half_up_day: curve.map(|curve| curve.half_day),
            curve_half_up_day_error_days: curve.and_then(|curve| curve.half_day_error),
            curve_steepness: curve.map(|curve| curve.shape),
            curve_ever_up_share_percent: curve.map(|curve| 100.0 * curve.ceiling),
            vigor_mean_grade: speed.vigor.map(|vigor| vigor.mean),
            vigor_least_grade: speed.vigor.map(|vigor| vigor.least),
            vigor_most_grade: speed.vigor.map(|vigor| vigor.most),
            vigor_standard_deviation_grade: speed.vigor.and_then(|vigor| vigor.deviation),
            vigor_graded_cells: speed.vigor.map(|vigor| vigor.cells),
            seedling_length_millimetres: speed.length.map(|length| length.mm),
            vigor_index_percent_millimetres: speed.length.map(|length| length.vigor_index),
            sentences: speed.sentences(all_percent),
        }
    }

    /// The share that was up early, and the mean vigor grade, for a table.
    pub(super) fn cells(&self) -> [String; 2] {
        let none = || "-".to_owned();
        [
            self.up_by_early_count_share_percent
                .map_or_else(none, |share| format!("{share:.0}")),
            self.vigor_mean_grade
                .map_or_else(none, |grade| format!("{grade:.1}")),
        ]
    }
}
