//! An invented season's weather: a warm half of a year around its middle, with nights that may freeze in spring and from
//! a given day in autumn on.

use super::dice::Dice;
use super::work::rounded;
use crate::model::WeatherDay;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::f64::consts::PI;

/// A season as it is to be made up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weather {
    /// Its year.
    pub(super) year: i16,
    /// How much warmer than usual its days are, in °C.
    pub(super) warmer_c: f64,
    /// The first day of frost in autumn; the day after it is the coldest one. No day from June on freezes before it.
    pub(super) first_frost: Date,
    /// The low of the coldest day, in °C.
    pub(super) coldest_c: f64,
    /// The seed of its chance.
    pub(super) seed: u64,
}

/// The lowest low of a day without frost from June on, in °C.
const NO_FROST_C: f64 = 2.0;

impl Weather {
    /// Gives the days from the first of April to the middle of November, with temperatures to a tenth of a degree.
    pub(super) fn days(self) -> Vec<WeatherDay> {
        let mut dice = Dice::new(self.seed);
        let first = date(self.year, 4, 1);
        // Warm and cold days come in spells: a day keeps seven tenths of the one before.
        let mut spell = 0.0;
        (0..230)
            .map(|number: i32| {
                let on = first.saturating_add(number.days());
                spell = 0.7 * spell + 1.6 * dice.normal();
                let half_swing = 6.0 + 1.2 * dice.normal();
                // Warmest 112 days after the first of April.
                let of_year = (2.0 * PI * f64::from(number - 112) / 365.0).cos();
                let mean = 9.0 + self.warmer_c + 13.0 * of_year + spell;
                self.day(on, mean, half_swing.max(2.5))
            })
            .collect()
    }

    fn day(self, on: Date, mean: f64, half_swing: f64) -> WeatherDay {
        let low = mean - half_swing;
        let low_c = match (on - self.first_frost).get_days() {
            0 => -0.6,
            1 => self.coldest_c,
            2 => 0.8,
            4 => -1.4,
            ..0 if on.month() >= 6 => low.max(NO_FROST_C),
            _ => low,
        };
        let high_c = (mean + half_swing).max(low_c + 4.0);
        WeatherDay {
            on,
            high_c: rounded(high_c, 1),
            low_c: rounded(low_c, 1),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOME: Weather = Weather {
        year: 2025,
        warmer_c: 0.0,
        first_frost: date(2025, 9, 24),
        coldest_c: -3.2,
        seed: 1,
    };

    #[test]
    fn it_freezes_in_autumn_on_the_day_that_is_asked_for_and_not_before() {
        for seed in 0..200 {
            let days = Weather { seed, ..SOME }.days();
            assert!(days.iter().all(|day| day.check().is_ok()), "{seed}");
            let frost = |day: &&WeatherDay| day.on.month() >= 6 && day.low_c <= 0.0;
            assert_eq!(days.iter().find(frost).map(|day| day.on), Some(SOME.first_frost));
            let summer = days.iter().filter(|day| (6..9).contains(&day.on.month()));
            let coldest = summer.map(|day| day.low_c).fold(f64::MAX, f64::min);
            assert!(coldest >= NO_FROST_C, "{coldest}");
        }
    }

    #[test]
    fn a_warmer_season_has_more_heat() {
        let heat = |warmer_c: f64| -> f64 {
            let days = Weather { warmer_c, ..SOME }.days();
            let summer = days.iter().filter(|day| (5..10).contains(&day.on.month()));
            summer.map(WeatherDay::heat_c).sum()
        };
        assert!(heat(-1.5) + 100.0 < heat(0.0) && heat(0.0) + 100.0 < heat(1.5));
        // Between a cool and a warm place where corn is grown: 1,100 to 1,700 °C days, or 2,000 to 3,000 °F days.
        assert!((1_100.0..1_700.0).contains(&heat(0.0)), "{}", heat(0.0));
    }
}
