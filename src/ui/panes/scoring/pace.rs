//! How fast cells are counted, of this sitting only: nothing of it is stored.

use crate::model::plural;
use jiff::Unit;
use jiff::civil::DateTime;

/// A longer time between two cells is a pause and says nothing about the pace: common practice, no source.
const PAUSE_SECONDS: f64 = 60.0;
/// So many times between cells are needed before a pace is said.
const FEWEST: usize = 3;
/// Only the last times tell the pace of now.
const LAST: usize = 40;

/// The cells of one sitting.
#[derive(Debug, Default)]
pub(super) struct Pace {
    /// When the last cell was counted.
    last: Option<DateTime>,
    cells: usize,
    /// Seconds between cells, pauses left out.
    seconds: Vec<f64>,
}

impl Pace {
    /// Notes that a cell was counted.
    pub fn note(&mut self, now: DateTime) {
        self.cells += 1;
        let between = self
            .last
            .replace(now)
            .and_then(|last| now.since((Unit::Second, last)).ok());
        let seconds = between.and_then(|between| between.total(Unit::Second).ok());
        // A clock that was set back tells nothing.
        self.seconds
            .extend(seconds.filter(|seconds| (0.0..=PAUSE_SECONDS).contains(seconds)));
        let surplus = self.seconds.len().saturating_sub(LAST);
        self.seconds.drain(..surplus);
    }

    /// Gives the seconds that a cell takes: the median of the last times. None while too few are known.
    pub fn seconds_a_cell(&self) -> Option<f64> {
        let mut sorted = self.seconds.clone();
        sorted.sort_by(f64::total_cmp);
        let half = sorted.len() / 2;
        if sorted.len() < FEWEST {
            return None;
        }
        Some(if sorted.len() % 2 == 1 {
            sorted[half]
        } else {
            f64::midpoint(sorted[half - 1], sorted[half])
        })
    }

    /// Says the pace, and how long the cells that are left here and in all take; nothing while it is not known.
    pub fn sentence(&self, left_here: usize, left: usize) -> Option<String> {
        let seconds = self.seconds_a_cell()?;
        let done = plural(self.cells, "cell");
        let mut text = format!("{done} now, {seconds:.0} s a cell");
        for (left, word) in [(left_here, "here"), (left, "in all")] {
            if left > 0 && !(word == "in all" && left == left_here) {
                text = format!("{text}, {} left {word}", time(seconds * left as f64));
            }
        }
        Some(text)
    }
}

/// A length of time as a person says it.
fn time(seconds: f64) -> String {
    let minutes = (seconds / 60.0).ceil() as u64;
    if minutes < 90 {
        format!("{minutes} min")
    } else {
        format!("{} h {} min", minutes / 60, minutes % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::ToSpan as _;
    use jiff::civil::date;

    fn after(seconds: &[i64]) -> Pace {
        let mut now = date(2026, 12, 1).at(19, 0, 0, 0);
        let mut pace = Pace::default();
        pace.note(now);
        for between in seconds {
            now = now.checked_add(between.seconds()).unwrap();
            pace.note(now);
        }
        pace
    }

    #[test]
    fn the_pace_is_the_median_and_pauses_are_left_out() {
        assert_eq!(after(&[]).seconds_a_cell(), None);
        assert_eq!(after(&[8, 10]).seconds_a_cell(), None, "two times are too few");
        assert_eq!(after(&[8, 10, 12]).seconds_a_cell(), Some(10.0));
        assert_eq!(after(&[8, 10, 12, 14]).seconds_a_cell(), Some(11.0));
        // Five minutes of tea, and a clock set back by an hour.
        assert_eq!(after(&[8, 10, 300, 12, -3600, 61]).seconds_a_cell(), Some(10.0));
        // Only the last times tell: slow in the beginning, then fast.
        let mut times = vec![30; 60];
        times.extend([6; 40]);
        assert_eq!(after(&times).seconds_a_cell(), Some(6.0));
    }

    #[test]
    fn what_is_left_is_said_in_minutes() {
        let pace = after(&[9, 9, 9]);
        assert_eq!(
            pace.sentence(12, 212).unwrap(),
            "4 cells now, 9 s a cell, 2 min left here, 32 min left in all"
        );
        assert_eq!(
            pace.sentence(12, 12).unwrap(),
            "4 cells now, 9 s a cell, 2 min left here"
        );
        assert_eq!(pace.sentence(0, 0).unwrap(), "4 cells now, 9 s a cell");
        assert_eq!(
            pace.sentence(0, 1000).unwrap(),
            "4 cells now, 9 s a cell, 2 h 30 min left in all"
        );
        assert_eq!(after(&[9]).sentence(1, 1), None);
    }
}
