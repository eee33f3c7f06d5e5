//! The two temperature loggers of `essel-thaw`: what they read, and the files that they wrote, one unlike the other.

use super::dice::Dice;
use super::work::rounded;
use crate::model::TemperatureUnit;
use jiff::ToSpan;
use jiff::civil::{Date, DateTime};
use std::fmt::Write as _;

const SEED: u64 = 241;
/// Days for which the logger on the shelf ran: from the first evening of laying to the second of the final count.
const SHELF_DAYS: i32 = 13;
/// Days for which the logger on the floor ran.
const FLOOR_DAYS: i32 = 12;

/// A logger and its readings, in its own unit, as it shows them.
pub(super) struct Logger {
    pub(super) name: &'static str,
    unit: TemperatureUnit,
    readings: Vec<(DateTime, f64)>,
}

impl Logger {
    pub(super) fn start(&self) -> DateTime {
        self.readings[0].0
    }

    /// Minutes since the first reading, and °C to the thousandth.
    pub(super) fn minutes_and_celsius(&self) -> Vec<(u32, f64)> {
        let minutes = |at: DateTime| (at.duration_since(self.start()).as_secs() / 60) as u32;
        let celsius = |degrees| rounded(self.unit.to_celsius(degrees), 3);
        let readings = self.readings.iter();
        readings
            .map(|(at, degrees)| (minutes(*at), celsius(*degrees)))
            .collect()
    }
}

/// How warm it is: a mean, and how far a day's warmest hour is above it, both in °C.
struct Place {
    mean_c: f64,
    swing_c: f64,
}

impl Place {
    /// The temperature at a time of the day: lowest at 4, highest at 16 o'clock.
    fn celsius(&self, at: DateTime, dice: &mut Dice) -> f64 {
        let hours = f64::from(at.hour()) + f64::from(at.minute()) / 60.0;
        let from_noon = (hours - 16.0).abs();
        let from_warmest = from_noon.min(24.0 - from_noon);
        self.mean_c + self.swing_c * (1.0 - from_warmest / 6.0) + 0.1 * dice.normal()
    }
}

/// The logger on the shelf with the trays: a reading an hour in °C. On the day of the early count it lay beside a
/// computer to be read out, and it was set going again five hours later.
pub(super) fn shelf(laid: Date) -> Logger {
    let place = Place {
        mean_c: 13.0,
        swing_c: 0.5,
    };
    let read_out = laid + 6.days();
    let is_silent = |at: &DateTime| at.date() == read_out && (16..20).contains(&at.hour());
    let times = (0..=24 * SHELF_DAYS).map(|hour| laid.at(18, 0, 0, 0) + hour.hours());
    let mut dice = Dice::new(SEED);
    Logger {
        name: "Shelf logger",
        unit: TemperatureUnit::Celsius,
        readings: times
            .filter(|at| !is_silent(at))
            .map(|at| (at, rounded(place.celsius(at, &mut dice), 1)))
            .collect(),
    }
}

/// The logger in the tray on the floor: two readings an hour in °F.
pub(super) fn floor(laid: Date) -> Logger {
    let place = Place {
        mean_c: 10.8,
        swing_c: 0.3,
    };
    let times = (0..=48 * FLOOR_DAYS).map(|half| laid.at(18, 15, 0, 0) + (30 * half).minutes());
    let mut dice = Dice::new(SEED + 1);
    let unit = TemperatureUnit::Fahrenheit;
    Logger {
        name: "Floor logger",
        unit,
        readings: times
            .map(|at| (at, rounded(unit.of_celsius(place.celsius(at, &mut dice)), 1)))
            .collect(),
    }
}

/// The shelf logger's file: `;`, decimal commas, the day first, date and time apart, with humidity.
pub(super) fn shelf_file(logger: &Logger) -> String {
    let mut dice = Dice::new(SEED + 2);
    let mut text = format!(
        "Shelf logger;DEMO, invented\r\nInterval;60 min\r\nReadings;{}\r\n\r\nDate;Time;Temperature °C;Humidity %\r\n",
        logger.readings.len()
    );
    for (at, degrees) in &logger.readings {
        let humidity = 86.0 + 2.0 * dice.normal();
        let line = format!(
            "{:02}/{:02}/{};{:02}:{:02};{degrees:.1};{humidity:.1}\r\n",
            at.day(),
            at.month(),
            at.year(),
            at.hour(),
            at.minute()
        );
        text += &line.replace('.', ",");
    }
    text
}

/// The floor logger's file: commas, decimal points, the month first, a clock of twelve hours, numbered lines, °F.
pub(super) fn floor_file(logger: &Logger) -> String {
    let mut text =
        "\"Plot title: Floor logger, DEMO, invented\"\n\"#\",\"Date Time\",\"Temp (°F)\",\"Battery (V)\"\n"
            .to_owned();
    for (number, (at, degrees)) in (1..).zip(&logger.readings) {
        let (hour, half) = match at.hour() {
            0 => (12, "AM"),
            hour @ 1..=11 => (hour, "AM"),
            12 => (12, "PM"),
            hour => (hour - 12, "PM"),
        };
        let written = writeln!(
            text,
            "{number},{:02}/{:02}/{:02} {hour:02}:{:02}:00 {half},{degrees:.1},3.6",
            at.month(),
            at.day(),
            at.year() % 100,
            at.minute()
        );
        debug_assert!(written.is_ok(), "a text takes whatever is written into it");
    }
    text
}
