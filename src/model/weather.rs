//! The weather of the grower's place: the high and the low of each day.

use super::change::{Change, Transaction};
use super::ids::WeatherId;
use super::problem::{Fault, Place, Problem, check_number};
use super::project::Project;
use super::table::Record;
use super::words::plural;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The least and the greatest temperature of the air that is taken for true, in degrees Celsius.
pub const AIR_C: [f64; 2] = [-80.0, 65.0];

/// Years of which weather is kept.
const YEARS: [i16; 2] = [1800, 2200];

/// The high and the low of one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeatherDay {
    /// The day.
    pub on: Date,
    /// The highest temperature of the day, in degrees Celsius.
    pub high_c: f64,
    /// The lowest temperature of the day, in degrees Celsius.
    pub low_c: f64,
}

impl WeatherDay {
    /// Checks its temperatures and its year.
    ///
    /// # Errors
    /// A temperature that is no number or that no air has, a high below the low, a year out of reach.
    pub fn check(&self) -> Result<(), Fault> {
        let [least, most] = YEARS;
        check_number(
            "the year of the weather",
            f64::from(self.on.year()),
            f64::from(least),
            f64::from(most),
        )?;
        let [coldest, warmest] = AIR_C;
        check_number("the high in °C", self.high_c, coldest, warmest)?;
        check_number("the low in °C", self.low_c, coldest, warmest)?;
        if self.high_c < self.low_c {
            return Err(Fault::Mismatch(format!(
                "the high of {} ({} °C) is below its low ({} °C); swap them, or correct one",
                self.on,
                rounded(self.high_c),
                rounded(self.low_c)
            )));
        }
        Ok(())
    }
}

/// The days of one month of which the weather is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeatherMonth {
    /// The month's id, which says which month it is: 202605 for May 2026.
    pub id: WeatherId,
    /// The days of the month, each with its high and its low in degrees Celsius.
    pub days: BTreeMap<u8, (f64, f64)>,
}

impl WeatherMonth {
    /// Gives the days in order. A day that the month does not have is left out.
    pub fn days(&self) -> impl Iterator<Item = WeatherDay> {
        self.days.iter().filter_map(|(day, (high_c, low_c))| {
            Some(WeatherDay {
                on: self.id.day(*day)?,
                high_c: *high_c,
                low_c: *low_c,
            })
        })
    }

    /// Names the month, such as `May 2026`.
    pub fn name(&self) -> String {
        self.id.day(1).map_or_else(
            || format!("the month {}", self.id),
            |first| first.strftime("%B %Y").to_string(),
        )
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        if self.id.day(1).is_none() {
            return Err(Fault::Mismatch(format!(
                "{} is not a month; write the year and the number of the month, such as 202605",
                self.id
            )));
        }
        if self.days.is_empty() {
            let text = "it holds no days; remove it".to_owned();
            return Err(Fault::Mismatch(text));
        }
        if let Some(day) = self.days.keys().find(|day| self.id.day(**day).is_none()) {
            return Err(Fault::Mismatch(format!(
                "{} has no day {day}; correct the number",
                self.name()
            )));
        }
        self.days().try_for_each(|day| day.check())
    }
}

impl WeatherId {
    /// Gives the id of a day's month.
    pub fn of(day: Date) -> Self {
        // Years before our era have no weather here; they share the month 0, which is no month.
        let year = u32::try_from(day.year()).unwrap_or(0);
        Self(year * 100 + u32::from(day.month().unsigned_abs()))
    }

    /// Gives a day of the month, if the month has it.
    pub fn day(self, day: u8) -> Option<Date> {
        let (year, month) = (
            i16::try_from(self.0 / 100).ok()?,
            i8::try_from(self.0 % 100).ok()?,
        );
        Date::new(year, month, i8::try_from(day).ok()?).ok()
    }
}

impl Record for WeatherMonth {
    type Id = WeatherId;
    const NAME: &'static str = "month of weather";

    fn id(&self) -> WeatherId {
        self.id
    }

    fn place(id: WeatherId) -> Place {
        Place::Weather(id)
    }
}

/// Rounds a temperature to a hundredth of a degree, so that one in whole or tenth degrees Fahrenheit comes back as it was
/// typed and the file stays short.
fn rounded(celsius: f64) -> f64 {
    let hundredths = (celsius * 100.0).round() / 100.0;
    // No minus before nothing.
    if hundredths == 0.0 { 0.0 } else { hundredths }
}

/// Takes days. Those of the same date that are there are replaced.
pub(super) fn take(project: &Project, days: &[WeatherDay]) -> Result<Transaction, Problem> {
    let refuse = |fault| Err(Problem::new(Place::Project, fault));
    let mut taken: BTreeMap<WeatherId, BTreeMap<u8, (f64, f64)>> = BTreeMap::new();
    let mut dates = BTreeSet::new();
    for day in days {
        let id = WeatherId::of(day.on);
        day.check()
            .map_err(|fault| Problem::new(Place::Weather(id), fault))?;
        if !dates.insert(day.on) {
            let text = format!("{} is there twice; leave one of the two out", day.on);
            return refuse(Fault::Mismatch(text));
        }
        let month = taken.entry(id).or_default();
        month.insert(
            day.on.day().unsigned_abs(),
            (rounded(day.high_c), rounded(day.low_c)),
        );
    }
    let label = match (days, dates.first(), dates.last()) {
        ([one], ..) => format!("Set the weather of {}", one.on),
        (_, Some(first), Some(last)) => {
            format!(
                "Take the weather of {}, {first} to {last}",
                plural(dates.len(), "day")
            )
        }
        _ => {
            let text = "there are no days to take; choose a file that has some".to_owned();
            return refuse(Fault::Mismatch(text));
        }
    };
    let changes = taken.into_iter().filter_map(|(id, new)| {
        let before = project.weather.get(id);
        let mut days = before.map_or_else(BTreeMap::new, |month| month.days.clone());
        days.extend(new);
        replaced(before, WeatherMonth { id, days })
    });
    Ok(Transaction::new(label, changes.collect()))
}

/// Removes the days from one date to another, both included.
pub(super) fn remove(project: &Project, from: Date, to: Date) -> Result<Transaction, Problem> {
    let months = project.weather.iter();
    let changes: Vec<Change> = months
        .filter(|month| (WeatherId::of(from)..=WeatherId::of(to)).contains(&month.id))
        .filter_map(|month| {
            let mut after = month.clone();
            let id = month.id;
            after
                .days
                .retain(|day, _| id.day(*day).is_none_or(|on| !(from..=to).contains(&on)));
            replaced(Some(month), after)
        })
        .collect();
    if changes.is_empty() {
        let text = format!("there is no weather from {from} to {to}; choose days that are there");
        return Err(Problem::new(Place::Project, Fault::Mismatch(text)));
    }
    let label = if from == to {
        format!("Remove the weather of {from}")
    } else {
        format!("Remove the weather of {from} to {to}")
    };
    Ok(Transaction::new(label, changes))
}

/// The change from one state of a month to another; a month without days is no month.
fn replaced(before: Option<&WeatherMonth>, after: WeatherMonth) -> Option<Change> {
    match before {
        Some(before) if *before == after => None,
        Some(before) if after.days.is_empty() => Some(Change::remove(before)),
        Some(before) => Some(Change::replace(before, after)),
        None => Some(Change::add(after)),
    }
}
