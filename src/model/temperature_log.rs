//! Temperatures that a logger wrote down during a test.

use super::ids::{LogId, TestId, TrayId};
use super::problem::{Fault, Place, check_name, check_number};
use super::table::Record;
use jiff::ToSpan;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// The most readings of one log: a reading a minute for a year.
pub const MOST_READINGS: usize = 527_040;

/// Years in which a log can begin.
const YEARS: std::ops::RangeInclusive<i16> = 1970..=2200;

/// The readings of one logger, and the trays that it stood for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TemperatureLog {
    /// The log's id.
    pub id: LogId,
    /// The test during which it ran.
    pub test: TestId,
    /// What it is called: the logger, the shelf or the name of its file.
    pub name: String,
    /// The time of the first reading, by the clock on the wall.
    pub start: DateTime,
    /// Minutes after the first reading, never falling, and degrees Celsius.
    pub readings: Vec<(u32, f64)>,
    /// Which trays it stood for and when; empty for none yet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spans: Vec<LogSpan>,
}

/// Trays that a log stood for, from one time to another.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogSpan {
    /// The trays; empty for all trays of the test.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub trays: Vec<TrayId>,
    /// From when; none for the first reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<DateTime>,
    /// Until when; none for the last reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<DateTime>,
}

impl TemperatureLog {
    /// Gives the time of a reading, by the clock on the wall.
    pub fn at(&self, minutes: u32) -> DateTime {
        self.start.saturating_add(i64::from(minutes).minutes())
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_name("temperature log", &self.name)?;
        if self.readings.is_empty() {
            let text = "it holds no readings; import a file that has some".to_owned();
            return Err(Fault::Mismatch(text));
        }
        if self.readings.len() > MOST_READINGS {
            return Err(Fault::TooMany {
                what: super::words::plural(self.readings.len(), "reading"),
                most: MOST_READINGS as u32,
            });
        }
        if !YEARS.contains(&self.start.year()) {
            let text = format!(
                "its first reading is of the year {}; correct the clock so that it lies between {} and {}",
                self.start.year(),
                YEARS.start(),
                YEARS.end()
            );
            return Err(Fault::Mismatch(text));
        }
        for (_, celsius) in &self.readings {
            check_number("the temperature in °C", *celsius, -60.0, 100.0)?;
        }
        if !self.readings.is_sorted_by_key(|(minutes, _)| *minutes) {
            let text = "its readings are not in the order of time; sort them".to_owned();
            return Err(Fault::Mismatch(text));
        }
        if self
            .readings
            .last()
            .is_some_and(|(minutes, _)| *minutes > 60 * 24 * 400)
        {
            let text = "its readings run for more than 400 days; check the dates of the file".to_owned();
            return Err(Fault::Mismatch(text));
        }
        self.spans.iter().try_for_each(LogSpan::check)
    }
}

impl LogSpan {
    /// Says whether it stands for a tray of the log's test.
    pub fn is_of(&self, tray: TrayId) -> bool {
        self.trays.is_empty() || self.trays.contains(&tray)
    }

    /// Checks that it does not end before it begins.
    pub fn check(&self) -> Result<(), Fault> {
        let Some((from, to)) = self.from.zip(self.to).filter(|(from, to)| to < from) else {
            return Ok(());
        };
        let said = |at: DateTime| at.strftime("%Y-%m-%d %H:%M").to_string();
        Err(Fault::Mismatch(format!(
            "it stands for trays from {} until {}, which is earlier; correct one of the times",
            said(from),
            said(to)
        )))
    }
}

impl Record for TemperatureLog {
    type Id = LogId;
    const NAME: &'static str = "temperature log";

    fn id(&self) -> LogId {
        self.id
    }

    fn place(id: LogId) -> Place {
        Place::Log(id)
    }
}
