//! The weather day by day: which days are known, and the heat units of spans of days.

use super::table::Table;
use super::weather::{WeatherDay, WeatherMonth};
use crate::stats::heat::degree_day;
use jiff::ToSpan;
use jiff::civil::Date;

/// Corn does not grow below this temperature, in °C: 50 °F, the lower limit of corn's growing degree days, to which
/// colder temperatures are set (Ohio State University Extension, fact sheet AGF-101; American Meteorological Society,
/// glossary, 'corn heat unit').
pub const HEAT_BASE_C: f64 = 10.0;

/// More warmth than this adds nothing, in °C: 86 °F, the upper limit of the same rule.
pub const HEAT_CAP_C: f64 = 30.0;

/// All days of which the weather is known, in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WeatherDays {
    days: Vec<WeatherDay>,
    /// Heat units of all days before each day, and of all days; in degrees Celsius times days.
    heat_before: Vec<f64>,
}

impl WeatherDays {
    pub(super) fn of(months: &Table<WeatherMonth>) -> Self {
        let days: Vec<WeatherDay> = months.iter().flat_map(WeatherMonth::days).collect();
        let mut sum = 0.0;
        let mut heat_before = vec![0.0];
        for day in &days {
            sum += day.heat_c();
            heat_before.push(sum);
        }
        Self { days, heat_before }
    }

    /// Says whether no day is known.
    pub fn is_empty(&self) -> bool {
        self.days.is_empty()
    }

    /// Gives all known days in order.
    pub fn all(&self) -> &[WeatherDay] {
        &self.days
    }

    /// Gives a day, if it is known.
    pub fn on(&self, day: Date) -> Option<WeatherDay> {
        self.within(day, day).first().copied()
    }

    /// Gives the known days from one day to another, both included.
    pub fn within(&self, from: Date, to: Date) -> &[WeatherDay] {
        let (start, end) = self.places(from, to);
        &self.days[start..end]
    }

    /// Gives the heat units of the days from one to another, both included, in degrees Celsius times days: nothing for no
    /// days, and `None` when one of them is not known.
    pub fn heat_c(&self, from: Date, to: Date) -> Option<f64> {
        let (start, end) = self.places(from, to);
        if end - start < length(from, to) {
            return None;
        }
        let sum = self.heat_before.get(end)? - self.heat_before.get(start)?;
        // Differences of long sums carry digits that no thermometer has.
        Some((sum * 1e6).round() / 1e6)
    }

    /// Gives the spans of days from one day to another of which the weather is not known.
    pub fn missing(&self, from: Date, to: Date) -> Vec<(Date, Date)> {
        let mut spans = Vec::new();
        let mut next = from;
        for day in self.within(from, to) {
            if next < day.on {
                spans.push((next, before(day.on)));
            }
            next = day.on.saturating_add(1.day());
        }
        // Behind the last day of the calendar there is no next one.
        if next <= to && self.on(to).is_none() {
            spans.push((next, to));
        }
        spans
    }

    fn places(&self, from: Date, to: Date) -> (usize, usize) {
        let start = self.days.partition_point(|day| day.on < from);
        let end = self.days.partition_point(|day| day.on <= to);
        (start, end.max(start))
    }
}

impl WeatherDay {
    /// Gives the day's heat units, in degrees Celsius times days: corn growing degree days, see [`degree_day`].
    pub fn heat_c(&self) -> f64 {
        degree_day(self.high_c, self.low_c, HEAT_BASE_C, HEAT_CAP_C)
    }
}

fn before(day: Date) -> Date {
    day.saturating_sub(1.day())
}

/// The days from one to another, both included.
fn length(from: Date, to: Date) -> usize {
    usize::try_from((to - from).get_days() + 1).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use std::collections::BTreeMap;

    /// May 2026 but for the 3rd, 4th and 9th, and the 1st of June: 80/60 °F but on the last day, 60/40 °F.
    fn some_days() -> WeatherDays {
        let celsius = |fahrenheit: f64| (fahrenheit - 32.0) / 1.8;
        let warm = (celsius(80.0), celsius(60.0));
        let mut may: BTreeMap<u8, (f64, f64)> = (1..=31).map(|day| (day, warm)).collect();
        for day in [3, 4, 9] {
            may.remove(&day);
        }
        let june = BTreeMap::from([(1, (celsius(60.0), celsius(40.0)))]);
        let mut months = Table::default();
        for (id, days) in [(202_605, may), (202_606, june)] {
            months.put(WeatherMonth { id: id.into(), days });
        }
        WeatherDays::of(&months)
    }

    #[test]
    fn heat_is_summed_over_whole_spans_only() {
        let days = some_days();
        let fahrenheit = |from, to| days.heat_c(from, to).map(|heat| (heat * 1.8 * 1e4).round() / 1e4);
        // 20 and 5 a day as OSU Extension AGF-101 prints them.
        assert_eq!(
            fahrenheit(date(2026, 5, 10), date(2026, 6, 1)),
            Some(22.0 * 20.0 + 5.0)
        );
        assert_eq!(fahrenheit(date(2026, 6, 1), date(2026, 6, 1)), Some(5.0));
        assert_eq!(fahrenheit(date(2026, 6, 1), date(2026, 5, 31)), Some(0.0));
        assert_eq!(days.heat_c(date(2026, 5, 2), date(2026, 5, 5)), None);
        assert_eq!(days.heat_c(date(2026, 5, 31), date(2026, 6, 2)), None);
        assert_eq!(
            WeatherDays::default().heat_c(date(2026, 5, 1), date(2026, 5, 1)),
            None
        );
    }

    #[test]
    fn missing_days_are_named_as_spans() {
        let days = some_days();
        assert_eq!(
            days.missing(date(2026, 4, 29), date(2026, 6, 3)),
            [
                (date(2026, 4, 29), date(2026, 4, 30)),
                (date(2026, 5, 3), date(2026, 5, 4)),
                (date(2026, 5, 9), date(2026, 5, 9)),
                (date(2026, 6, 2), date(2026, 6, 3)),
            ]
        );
        assert_eq!(days.missing(date(2026, 5, 10), date(2026, 6, 1)), []);
        assert_eq!(days.missing(date(2026, 6, 1), date(2026, 5, 1)), []);
        assert_eq!(days.missing(Date::MAX, Date::MAX), [(Date::MAX, Date::MAX)]);
    }
}
