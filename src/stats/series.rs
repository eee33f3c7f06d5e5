//! Values over time: means, time within a band and the area above a base, weighted by time.
//!
//! Between two neighbouring samples the value runs in a straight line, so that every figure is an exact integral
//! (the trapezoid rule, with each line cut where it crosses a limit). Two samples that lie further apart than the
//! longest step allow no statement about the time between them: it counts nowhere, and is a gap.

use super::fault::StatsFault;
use std::ops::Add;

/// A span of time, in minutes since the time from which the samples are counted; it may begin before that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// First minute.
    pub from: i64,
    /// Last minute; a window that ends before it begins is empty.
    pub to: i64,
}

impl Window {
    /// Gives its length in minutes.
    pub fn minutes(self) -> i64 {
        (self.to - self.from).max(0)
    }
}

/// What values are compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Lower end of the band; it belongs to the band.
    pub low: f64,
    /// Upper end of the band; it belongs to the band.
    pub high: f64,
    /// The value above which the area is summed.
    pub base: f64,
    /// The value above which no more is added to the area.
    pub cap: f64,
}

/// The figures of a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    /// Minutes about which the samples say something.
    pub minutes: f64,
    /// Minutes below the band.
    pub below: f64,
    /// Minutes in the band.
    pub within: f64,
    /// Minutes above the band.
    pub above: f64,
    /// The integral of the value, in value times minutes.
    pub integral: f64,
    /// The area above the base, in value times minutes.
    pub over_base: f64,
    /// The least value seen.
    pub least: Option<f64>,
    /// The greatest value seen.
    pub most: Option<f64>,
}

impl Stretch {
    /// Gives the mean weighted by time; `None` where no time is known.
    pub fn mean(&self) -> Option<f64> {
        (self.minutes > 0.0).then(|| self.integral / self.minutes)
    }

    fn see(&mut self, value: f64) {
        self.least = Some(self.least.map_or(value, |least| least.min(value)));
        self.most = Some(self.most.map_or(value, |most| most.max(value)));
    }

    /// Adds a straight line from one value to another, cut where it crosses a limit.
    fn add_line(&mut self, minutes: f64, from: f64, to: f64, limits: &Limits) {
        self.see(from);
        self.see(to);
        let mut cuts = [0.0, 1.0, 1.0, 1.0, 1.0, 1.0];
        for (cut, limit) in cuts[1..]
            .iter_mut()
            .zip([limits.low, limits.high, limits.base, limits.cap])
        {
            let at = (limit - from) / (to - from);
            if at > 0.0 && at < 1.0 {
                *cut = at;
            }
        }
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.windows(2) {
            let part = (pair[1] - pair[0]) * minutes;
            // A part lies on one side of every limit, so that its middle stands for it.
            let middle = from + 0.5 * (pair[0] + pair[1]) * (to - from);
            self.minutes += part;
            self.integral += part * middle;
            self.over_base += part * (middle.min(limits.cap) - limits.base).max(0.0);
            if middle < limits.low {
                self.below += part;
            } else if middle > limits.high {
                self.above += part;
            } else {
                self.within += part;
            }
        }
    }
}

impl Add for Stretch {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        let mut sum = Self {
            minutes: self.minutes + other.minutes,
            below: self.below + other.below,
            within: self.within + other.within,
            above: self.above + other.above,
            integral: self.integral + other.integral,
            over_base: self.over_base + other.over_base,
            ..self
        };
        for value in [other.least, other.most].into_iter().flatten() {
            sum.see(value);
        }
        sum
    }
}

/// Samples in the order of time.
#[derive(Debug, Clone, Copy)]
pub struct Series<'a> {
    samples: &'a [(u32, f64)],
    longest_step: u32,
}

impl<'a> Series<'a> {
    /// Takes samples (minute, value) and the longest step in minutes over which the value is known between two of them.
    ///
    /// # Errors
    /// A sample that is earlier than the one before it, or whose value is not finite.
    pub fn new(samples: &'a [(u32, f64)], longest_step: u32) -> Result<Self, StatsFault> {
        let is_in_order = |at: usize| at == 0 || samples[at].0 >= samples[at - 1].0;
        match (0..samples.len()).find(|at| !samples[*at].1.is_finite() || !is_in_order(*at)) {
            Some(at) => Err(StatsFault::Sample { number: at + 1 }),
            None => Ok(Self {
                samples,
                longest_step,
            }),
        }
    }

    /// Gives the figures of a window.
    pub fn over(&self, window: Window, limits: &Limits) -> Stretch {
        let mut found = Stretch::default();
        for pair in self.around(window).windows(2) {
            let [(begin, first), (end, last)] = [pair[0], pair[1]];
            let from = i64::from(begin).max(window.from);
            let to = i64::from(end).min(window.to);
            if end - begin > self.longest_step || from >= to {
                continue;
            }
            let value_at = |minute: i64| {
                let share = (minute - i64::from(begin)) as f64 / f64::from(end - begin);
                (1.0 - share) * first + share * last
            };
            found.add_line((to - from) as f64, value_at(from), value_at(to), limits);
        }
        for &(minute, value) in self.around(window) {
            if (window.from..=window.to).contains(&i64::from(minute)) {
                found.see(value);
            }
        }
        found
    }

    /// Gives the spans within a window, each longer than the longest step, of which nothing is known, in the order of
    /// time. What lies before the first sample and behind the last is among them.
    pub fn gaps(&self, window: Window) -> Vec<Window> {
        let samples = self.around(window);
        let minute = |at: usize| samples.get(at).map(|(minute, _)| i64::from(*minute));
        let mut found = Vec::new();
        for at in 0..=samples.len() {
            let before = at.checked_sub(1).and_then(minute);
            let is_known = before
                .zip(minute(at))
                .is_some_and(|(from, to)| to - from <= self.longest());
            let gap = Window {
                from: before.unwrap_or(window.from).max(window.from),
                to: minute(at).unwrap_or(window.to).min(window.to),
            };
            if !is_known && gap.minutes() > self.longest() {
                found.push(gap);
            }
        }
        found
    }

    fn longest(&self) -> i64 {
        i64::from(self.longest_step)
    }

    /// The samples of a window, with the neighbours on both sides of it.
    fn around(&self, window: Window) -> &'a [(u32, f64)] {
        let minute = |sample: &(u32, f64)| i64::from(sample.0);
        let first = self
            .samples
            .partition_point(|sample| minute(sample) <= window.from);
        let end = self.samples.partition_point(|sample| minute(sample) < window.to);
        let end = (end + 1).min(self.samples.len());
        self.samples.get(first.saturating_sub(1)..end).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const LIMITS: Limits = Limits {
        low: 11.5,
        high: 14.5,
        base: 10.0,
        cap: 30.0,
    };

    fn window(from: i64, to: i64) -> Window {
        Window { from, to }
    }

    fn over(samples: &[(u32, f64)], from: i64, to: i64) -> Stretch {
        Series::new(samples, 180).unwrap().over(window(from, to), &LIMITS)
    }

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
    }

    /// Worked by hand: from 10 to 16 in two hours at 3 an hour. Half an hour to 11.5, one more to 14.5, half to 16.
    #[test]
    fn a_slope_is_cut_where_it_crosses_the_band() {
        let found = over(&[(0, 10.0), (120, 16.0)], 0, 120);
        assert!(close(found.below, 30.0) && close(found.within, 60.0) && close(found.above, 30.0));
        assert!(close(found.mean().unwrap(), 13.0));
        assert_eq!((found.least, found.most), (Some(10.0), Some(16.0)));
        // Three above the base on average, for two hours.
        assert!(close(found.over_base, 360.0));
    }

    /// Worked by hand: from 8 to 12 in two hours, the base at 10 is crossed after one: a triangle of 2 by 60 minutes. From
    /// 28 to 32 the cap at 30 cuts the other way: a trapezoid from 18 to 20, then 20.
    #[test]
    fn only_what_lies_between_base_and_cap_is_summed() {
        assert!(close(over(&[(0, 8.0), (120, 12.0)], 0, 120).over_base, 60.0));
        assert!(close(
            over(&[(0, 28.0), (120, 32.0)], 0, 120).over_base,
            19.0 * 60.0 + 20.0 * 60.0
        ));
        assert!(close(over(&[(0, 9.0), (120, 9.0)], 0, 120).over_base, 0.0));
    }

    /// Worked by hand: 12 for an hour and 14 for three: the mean of the samples is 13, that of the time about 13.5.
    #[test]
    fn the_mean_is_that_of_the_time_and_not_of_the_samples() {
        let samples = [(0, 12.0), (60, 12.0), (61, 14.0), (240, 14.0)];
        let found = over(&samples, 0, 240);
        assert!(close(found.integral, 12.0 * 60.0 + 13.0 + 14.0 * 179.0));
        assert!(close(found.mean().unwrap(), 3239.0 / 240.0));
    }

    #[test]
    fn a_window_cuts_the_steps_at_its_ends() {
        let samples = [(0, 10.0), (100, 20.0)];
        let found = over(&samples, 25, 75);
        assert!(close(found.minutes, 50.0) && close(found.mean().unwrap(), 15.0));
        assert_eq!((found.least, found.most), (Some(12.5), Some(17.5)));
        assert_eq!(over(&samples, 200, 300), Stretch::default());
        assert_eq!(over(&samples, 75, 25), Stretch::default());
        assert!(close(over(&samples, -500, 500).minutes, 100.0));
    }

    #[test]
    fn the_limits_of_the_band_belong_to_it() {
        let found = over(&[(0, 11.5), (60, 11.5), (61, 14.5), (121, 14.5)], 0, 121);
        assert!(close(found.within, 121.0));
        let found = over(&[(0, 11.49), (60, 11.49)], 0, 60);
        assert!(close(found.below, 60.0));
    }

    #[test]
    fn a_step_that_is_too_long_counts_nowhere_and_is_a_gap() {
        let samples = [(0, 13.0), (180, 13.0), (361, 13.0), (400, 13.0)];
        assert!(close(over(&samples, 0, 400).minutes, 180.0 + 39.0));
        let series = Series::new(&samples, 180).unwrap();
        assert_eq!(series.gaps(window(0, 400)), [window(180, 361)]);
        assert_eq!(series.gaps(window(170, 300)), []);
        assert_eq!(series.gaps(window(190, 360)), []);
        assert_eq!(
            series.gaps(window(-200, 600)),
            [window(-200, 0), window(180, 361), window(400, 600)]
        );
        assert_eq!(series.gaps(window(500, 600)), []);
        assert_eq!(series.gaps(window(500, 700)), [window(500, 700)]);
    }

    #[test]
    fn nothing_and_one_sample_say_little_and_do_no_harm() {
        let none = Series::new(&[], 180).unwrap();
        assert_eq!(none.over(window(0, 600), &LIMITS), Stretch::default());
        assert_eq!(none.over(window(0, 600), &LIMITS).mean(), None);
        assert_eq!(none.gaps(window(0, 600)), [window(0, 600)]);
        let one = [(100, 13.0)];
        let found = over(&one, 0, 600);
        assert_eq!(
            (found.minutes, found.mean(), found.least),
            (0.0, None, Some(13.0))
        );
        assert_eq!(over(&one, 200, 600), Stretch::default());
        let gaps = Series::new(&one, 180).unwrap().gaps(window(0, 600));
        assert_eq!(gaps, [window(100, 600)]);
    }

    #[test]
    fn two_samples_of_one_minute_are_a_leap_that_takes_no_time() {
        let found = over(&[(0, 12.0), (60, 12.0), (60, 14.0), (120, 14.0)], 0, 120);
        assert!(close(found.mean().unwrap(), 13.0));
        assert_eq!((found.least, found.most), (Some(12.0), Some(14.0)));
        assert_eq!(over(&[(0, 12.0), (0, 14.0)], 0, 120).mean(), None);
    }

    #[test]
    fn samples_out_of_order_or_not_finite_are_refused() {
        let number = |samples: &[(u32, f64)]| match Series::new(samples, 180) {
            Err(StatsFault::Sample { number }) => number,
            other => panic!("{other:?}"),
        };
        assert_eq!(number(&[(5, 1.0), (6, 1.0), (4, 1.0)]), 3);
        assert_eq!(number(&[(0, f64::NAN)]), 1);
        assert_eq!(number(&[(0, 1.0), (1, f64::INFINITY)]), 2);
    }

    prop_compose! {
        fn samples()(steps in proptest::collection::vec((1_u32..260, -45.0..65.0_f64), 0..40)) -> Vec<(u32, f64)> {
            let mut minute = 0;
            steps.into_iter().map(|(step, value)| { minute += step; (minute, value) }).collect()
        }
    }

    proptest! {
        #[test]
        fn the_parts_are_the_whole(samples in samples(), cut in -100_i64..12_000) {
            let series = Series::new(&samples, 180).unwrap();
            let all = series.over(window(-100, 12_000), &LIMITS);
            prop_assert!(close(all.below + all.within + all.above, all.minutes));
            let sum = series.over(window(-100, cut), &LIMITS) + series.over(window(cut, 12_000), &LIMITS);
            for (a, b) in [(all.minutes, sum.minutes), (all.integral, sum.integral), (all.over_base, sum.over_base),
                (all.below, sum.below), (all.within, sum.within)] {
                prop_assert!((a - b).abs() < 1e-6, "{} {}", a, b);
            }
            prop_assert_eq!((all.least, all.most), (
                samples.iter().map(|sample| sample.1).reduce(f64::min),
                samples.iter().map(|sample| sample.1).reduce(f64::max),
            ));
            let unknown: i64 = (samples.windows(2)).map(|pair| i64::from(pair[1].0 - pair[0].0)).filter(|step| *step > 180).sum();
            let length = samples.last().map_or(0, |last| i64::from(last.0)) - samples.first().map_or(0, |first| i64::from(first.0));
            prop_assert!(close(all.minutes, (length - unknown) as f64));
        }

        #[test]
        fn the_mean_lies_between_the_extremes_and_moves_with_the_values(samples in samples(), by in -5.0..5.0_f64) {
            let all = window(0, 12_000);
            let found = Series::new(&samples, 180).unwrap().over(all, &LIMITS);
            let moved: Vec<(u32, f64)> = samples.iter().map(|(minute, value)| (*minute, value + by)).collect();
            let limits = Limits { low: LIMITS.low + by, high: LIMITS.high + by, base: LIMITS.base + by, cap: LIMITS.cap + by };
            let with = Series::new(&moved, 180).unwrap().over(all, &limits);
            if let (Some(mean), Some(other)) = (found.mean(), with.mean()) {
                prop_assert!(found.least.unwrap() <= mean + 1e-9 && mean <= found.most.unwrap() + 1e-9);
                prop_assert!((mean + by - other).abs() < 1e-6);
            }
            prop_assert!((found.over_base - with.over_base).abs() < 1e-4);
            prop_assert!((found.within - with.within).abs() < 1e-4);
        }

        #[test]
        fn a_higher_base_never_gives_a_larger_area(samples in samples(), higher in 0.0..20.0_f64) {
            let series = Series::new(&samples, 180).unwrap();
            let all = window(0, 12_000);
            let raised = Limits { base: LIMITS.base + higher, ..LIMITS };
            prop_assert!(series.over(all, &raised).over_base <= series.over(all, &LIMITS).over_base + 1e-9);
        }
    }
}
