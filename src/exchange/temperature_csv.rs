//! Temperatures from the file of a logger, whatever its shape.
//!
//! A logger's file has lines before its readings and sometimes behind them, writes dates in an order and temperatures
//! in a unit that it may not tell, and has channels that are no temperature. [`TemperatureFile::read`] finds what is
//! what; [`TemperatureFile::look`] reads it with the answers given so far. What the file does not prove is asked as a
//! [`Question`], and nothing may be taken before it is answered.
//!
//! A decimal mark never has to be asked for: no temperature reaches a thousand.

use jiff::civil::{Date, DateTime, Weekday};
use thiserror::Error;

use super::degrees::{
    Lines, Value, find_header, header_words, one_unit, read_value, unit_in, unit_of_header, unit_word,
};
use super::logger_time::{WrittenClock, WrittenDate, read_stamp, seconds, time_at};
use super::table_text::{Fault, LooseText, Row, RowProblem};
use crate::model::{MOST_READINGS, Project, TemperatureLog, TemperatureUnit, TestId};

pub use super::logger_time::DateForm;

/// What may divide the cells of a line.
pub const SEPARATORS: [char; 3] = [',', ';', '\t'];
/// The most lines with readings of one file; several of one minute become one.
pub const MOST_LINES: usize = 1_000_000;
/// Temperatures in °C that a seed tray can have; what lies outside is a fault of the logger. Common practice, no source.
pub const PLAUSIBLE_C: [f64; 2] = [-40.0, 60.0];
/// So many problems are kept one by one.
pub const MOST_KEPT: usize = 1000;
/// So many lines decide what the columns hold.
const LINES_LOOKED_AT: usize = 5000;
/// So many readings are shown before anything is taken.
const LINES_SHOWN: usize = 200;
/// So many of the last readings are shown.
const LINES_AT_END: usize = 3;
/// Seconds by which a clock is set back at the end of summer time.
const HOUR: i64 = 3600;
/// A step as long as this from one reading to the next is a leap of the calendar, in seconds.
const LEAP: i64 = 20 * 24 * HOUR;

/// Why a file is no temperature log at all. Displays as one sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TemperatureFault {
    /// Not a text with lines.
    #[error(transparent)]
    Text(#[from] Fault),
    /// No column with times.
    #[error(
        "No column of the file holds times such as 2025-12-01 14:30. Export the readings of the logger as CSV with date and time"
    )]
    NoTimes,
    /// A column with dates, but none with times of the day.
    #[error(
        "The file has dates, but no times of the day. Export the single readings of the logger, not a value for each day"
    )]
    DatesOnly,
    /// No column with numbers beside the times.
    #[error(
        "No column of the file holds temperatures beside the times. Export the readings of the logger as CSV"
    )]
    NoTemperatures,
    /// More than [`MOST_LINES`].
    #[error(
        "The file has more than 1,000,000 readings. Export fewer days, or a longer interval such as one reading in five minutes"
    )]
    TooMany,
}

/// Which columns hold the times, from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimeColumns {
    /// The column with the date, or with date and time of the day.
    pub date: usize,
    /// The column with the time of the day, where it is not in the same column.
    pub clock: Option<usize>,
}

/// What the grower said about a file. Everything may be left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Answers {
    /// What stands first in a date.
    pub dates: Option<DateForm>,
    /// The unit of temperatures that do not name theirs.
    pub unit: Option<TemperatureUnit>,
    /// The column of temperatures, from 0.
    pub channel: Option<usize>,
    /// The columns of times.
    pub times: Option<TimeColumns>,
    /// Minutes to add to the times of the file, for a clock that was wrong or went by universal time.
    pub add_minutes: i32,
    /// Whether lines that cannot be read are left out, instead of nothing being taken.
    pub leave_out_bad: bool,
}

/// Something that the file does not tell and the grower has to.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// What stands first in a date; each possible form with the first and the last day that it would give.
    Dates(Vec<(DateForm, Date, Date)>),
    /// The unit; holds the lowest and the highest temperature as they stand in the file.
    Unit(f64, f64),
    /// Which of these columns is wanted.
    Channel(Vec<usize>),
}

/// A reading as it is shown before anything is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Its line in the file, from 1.
    pub line: usize,
    /// Its time, if the order of its date is known.
    pub at: Option<DateTime>,
    /// Its temperature in °C, if the unit is known.
    pub c: Option<f64>,
}

/// What a file gives with the answers so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Look {
    /// What has to be answered before anything can be taken.
    pub questions: Vec<Question>,
    /// All that the file does not tell, the answered questions among them.
    pub asked: Vec<Question>,
    /// The time of the first reading, to the minute; none while a question is open or there is no reading.
    pub start: Option<DateTime>,
    /// Minutes since the start, each later than the one before, with °C; empty while a question is open.
    pub readings: Vec<(u32, f64)>,
    /// The first readings in the order of the file.
    pub head: Vec<Shown>,
    /// The last readings in the order of the file.
    pub tail: Vec<Shown>,
    /// Lines that cannot be read, at most [`MOST_KEPT`] of them.
    pub problems: Vec<RowProblem>,
    /// How many lines cannot be read.
    pub bad_lines: usize,
    /// What else the grower should know, each a sentence.
    pub remarks: Vec<String>,
    /// The form in which dates are read, where it matters.
    pub dates: Option<DateForm>,
    /// The unit of the temperatures that do not name theirs.
    pub unit: Option<TemperatureUnit>,
    /// The column of temperatures.
    pub channel: usize,
}

impl Look {
    /// Says whether the readings may be taken.
    pub fn is_ready(&self, answers: &Answers) -> bool {
        let is_clean = self.bad_lines == 0 || answers.leave_out_bad;
        self.questions.is_empty() && is_clean && !self.readings.is_empty()
    }

    fn ask(&mut self, question: Question, is_answered: bool) {
        if !is_answered {
            self.questions.push(question.clone());
        }
        self.asked.push(question);
    }

    fn problem(&mut self, problem: RowProblem) {
        self.bad_lines += 1;
        if self.problems.len() < MOST_KEPT {
            self.problems.push(problem);
        }
    }
}

/// The file of a logger, with what its columns hold.
#[derive(Debug, Clone)]
pub struct TemperatureFile {
    text: LooseText,
    /// The names of the columns; a column without a header is named by its number.
    header: Vec<String>,
    header_line: Option<usize>,
    times: TimeColumns,
    channels: Vec<usize>,
    /// The unit that the lines before the readings name.
    named_unit: Option<TemperatureUnit>,
    /// The lines before the readings, each with its number.
    before: Vec<(usize, String)>,
    /// The first lines with readings.
    first: Vec<Row>,
}

impl TemperatureFile {
    /// Finds the separator, the lines with readings, the columns of times and the channels.
    ///
    /// # Errors
    /// A file that is no text, has no times or no temperatures, or has too many readings.
    pub fn read(bytes: &[u8]) -> Result<Self, TemperatureFault> {
        Self::read_divided(bytes, None)
    }

    /// [`TemperatureFile::read`] with the separator that the grower names: one of [`SEPARATORS`].
    ///
    /// # Errors
    /// As [`TemperatureFile::read`].
    pub fn read_divided(bytes: &[u8], separator: Option<char>) -> Result<Self, TemperatureFault> {
        let text = LooseText::read(bytes, separator)?;
        let rows: Vec<Row> = text.rows().take(LINES_LOOKED_AT).collect();
        let times = find_times(&rows)?;
        let begins = rows
            .iter()
            .position(|row| is_reading(row, times))
            .ok_or(TemperatureFault::NoTemperatures)?;
        let (before, readings) = rows.split_at(begins);
        let first_line = readings.first().map_or(1, |row| row.line);
        let lines_before = text.lines().take(first_line - 1);
        let with_text = |(_, line): &(usize, &str)| !line.trim().is_empty();
        let width = readings.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        let (header, header_line) = find_header(before, times.date, width);
        let channels = find_channels(readings, &header, times);
        if channels.is_empty() {
            return Err(TemperatureFault::NoTemperatures);
        }
        if text.lines_with_text() > MOST_LINES + before.len() {
            return Err(TemperatureFault::TooMany);
        }
        let named = before.iter().filter(|row| Some(row.line) != header_line);
        let named_unit = one_unit(named.flat_map(|row| &row.cells).filter_map(|cell| unit_in(cell)));
        Ok(Self {
            before: lines_before
                .filter(with_text)
                .map(|(number, line)| (number, line.to_owned()))
                .collect(),
            first: readings.iter().take(LINES_SHOWN).cloned().collect(),
            text,
            header,
            header_line,
            times,
            channels,
            named_unit,
        })
    }

    /// The names of the columns; a column without a header is named by its number.
    pub fn header(&self) -> &[String] {
        &self.header
    }

    /// The line with the names of the columns, from 1; none where they are named by number.
    pub fn header_line(&self) -> Option<usize> {
        self.header_line
    }

    /// The lines before the readings as they stand in the file, each with its number from 1; blank ones are left out.
    pub fn before(&self) -> &[(usize, String)] {
        &self.before
    }

    /// A line as it stands in the file, by its number from 1.
    pub fn line(&self, number: usize) -> Option<&str> {
        let mut lines = self.text.lines();
        lines.nth(number.checked_sub(1)?).map(|(_, line)| line)
    }

    /// What divides the cells of a line.
    pub fn separator(&self) -> char {
        self.text.delimiter()
    }

    /// The columns that hold temperatures, from 0.
    pub fn channels(&self) -> &[usize] {
        &self.channels
    }

    /// The columns that hold the times.
    pub fn times(&self) -> TimeColumns {
        self.times
    }

    /// The first lines with readings, as they stand in the file.
    pub fn first_rows(&self) -> &[Row] {
        &self.first
    }

    /// Reads everything with the answers given so far.
    pub fn look(&self, answers: &Answers) -> Look {
        let channel = answers.channel.unwrap_or_else(|| self.channels[0]);
        let mut look = Look {
            channel,
            ..Look::default()
        };
        if self.channels.len() > 1 {
            look.ask(
                Question::Channel(self.channels.clone()),
                answers.channel.is_some(),
            );
        }
        let times = answers.times.unwrap_or(self.times);
        let raw = self.readings(times, channel, &mut look);
        look.dates = settle_dates(&raw, answers.dates, &mut look);
        look.unit = settle_unit(&raw, answers.unit, self.unit_of(channel), &mut look);
        let shown = |raw: &[Raw]| raw.iter().map(|raw| look.shown(raw, answers)).collect();
        let head = shown(&raw[..raw.len().min(LINES_SHOWN)]);
        let tail = shown(&raw[raw.len().saturating_sub(LINES_AT_END)..]);
        (look.head, look.tail) = (head, tail);
        if raw.is_empty() {
            look.remarks
                .push("No line has a time and a temperature in these columns; choose other ones.".to_owned());
        }
        if look.questions.is_empty() {
            take(&raw, answers, &mut look);
        }
        look
    }

    /// The unit that the file names for a column.
    pub fn unit_of(&self, channel: usize) -> Option<TemperatureUnit> {
        let header = self.header_line.and(self.header.get(channel));
        header
            .and_then(|header| unit_of_header(header))
            .or(self.named_unit)
    }

    /// All lines that have a time and a temperature.
    fn readings(&self, times: TimeColumns, channel: usize, look: &mut Look) -> Vec<Raw> {
        let mut found: Vec<Raw> = Vec::new();
        let (mut missing, mut behind) = (Lines::default(), Vec::new());
        let (mut has_begun, mut has_offsets) = (false, false);
        let name = self.header.get(channel).map_or("", String::as_str);
        for row in self.text.rows() {
            let Some((date, clock)) = time_of(&row, times) else {
                // Lines behind the last reading are passed over; they are held back until a reading follows.
                if has_begun && behind.len() <= MOST_KEPT {
                    behind.push(row);
                }
                continue;
            };
            has_begun |= is_reading(&row, times);
            if !has_begun {
                continue;
            }
            for row in behind.drain(..) {
                look.problem(no_time(&row, times, &self.header));
            }
            let cell = row.cells.get(channel).map_or("", String::as_str);
            match read_value(cell) {
                _ if self.is_too_wide(&row) => look.problem(too_wide(&row, self.header.len())),
                Value::Missing => missing.add(row.line),
                Value::Unreadable(what) => look.problem(RowProblem::of_column(row.line, name, what)),
                Value::Number(value, unit) => {
                    has_offsets |= clock.offset.is_some();
                    found.push(Raw {
                        line: row.line,
                        date,
                        clock,
                        value,
                        unit: unit.or_else(|| unit_beside(&row, channel)),
                    });
                }
            }
        }
        if let (Some(first), Some(last)) = (behind.first(), behind.last()) {
            let lines = span_of_lines(first.line, last.line);
            look.remarks.push(format!(
                "{lines} below the last reading without a time, and not read."
            ));
        }
        if missing.count > 0 {
            let (readings, have) = if missing.count == 1 {
                ("reading", "has")
            } else {
                ("readings", "have")
            };
            look.remarks.push(format!(
                "{} {readings} {have} no temperature ({missing}); what lies between their neighbours counts, unless it is a gap.",
                missing.count
            ));
        }
        if has_offsets {
            look.remarks.push(
                "The times name their distance from universal time; they are taken as they stand in the first reading."
                    .to_owned(),
            );
        }
        found
    }

    /// Whether cells stand to the right of the header, as where a decimal comma divides a number in two.
    fn is_too_wide(&self, row: &Row) -> bool {
        let filled = row.cells.iter().rposition(|cell| !cell.trim().is_empty());
        self.header_line.is_some() && filled.is_some_and(|last| last >= self.header.len())
    }
}

/// The unit that stands in the cell to the right of a temperature.
fn unit_beside(row: &Row, channel: usize) -> Option<TemperatureUnit> {
    unit_word(row.cells.get(channel.checked_add(1)?)?.trim())
}

impl Look {
    fn shown(&self, raw: &Raw, answers: &Answers) -> Shown {
        let seconds = self.dates.and_then(|form| raw.seconds(form));
        let moved = seconds.map(|seconds| seconds + 60 * i64::from(answers.add_minutes));
        Shown {
            line: raw.line,
            at: moved.and_then(time_at),
            c: raw.unit.or(self.unit).map(|unit| unit.to_celsius(raw.value)),
        }
    }
}

/// The log of a test that has these readings already.
pub fn known_as<'a>(project: &'a Project, test: TestId, look: &Look) -> Option<&'a TemperatureLog> {
    project
        .logs_of(test)
        .find(|log| Some(log.start) == look.start && log.readings == look.readings)
}

/// A line with a time and a temperature, as it stands in the file.
#[derive(Debug, Clone, Copy)]
struct Raw {
    line: usize,
    date: WrittenDate,
    clock: WrittenClock,
    value: f64,
    unit: Option<TemperatureUnit>,
}

impl Raw {
    /// Seconds since 1970 by the clock of the file.
    fn seconds(&self, form: DateForm) -> Option<i64> {
        Some(seconds(self.date.day(form)?, self.clock))
    }
}

fn span_of_lines(first: usize, last: usize) -> String {
    if first == last {
        format!("Line {first} stands")
    } else {
        format!("Lines {first} to {last} stand")
    }
}

// ---- what the columns hold -----------------------------------------------------------------------------------

fn time_of(row: &Row, times: TimeColumns) -> Option<(WrittenDate, WrittenClock)> {
    let date = row.cells.get(times.date)?;
    match times.clock {
        None => read_stamp(date),
        Some(clock) => Some((
            WrittenDate::read(date)?,
            WrittenClock::read(row.cells.get(clock)?)?,
        )),
    }
}

/// Whether a line has a time, and a number in another column.
fn is_reading(row: &Row, times: TimeColumns) -> bool {
    let is_number = |(at, cell): (usize, &String)| {
        at != times.date && Some(at) != times.clock && matches!(read_value(cell), Value::Number(..))
    };
    time_of(row, times).is_some() && row.cells.iter().enumerate().any(is_number)
}

/// The columns in which most lines have a time; of equals the left one.
fn find_times(rows: &[Row]) -> Result<TimeColumns, TemperatureFault> {
    let width = rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    let best = |is_it: &dyn Fn(&str) -> bool| -> Option<(usize, usize)> {
        let lines = |column: usize| {
            let cells = rows.iter().filter_map(|row| row.cells.get(column));
            cells.filter(|cell| is_it(cell.as_str())).count()
        };
        let counted = (0..width).map(|column| (lines(column), column));
        counted
            .filter(|(lines, _)| *lines > 0)
            .min_by_key(|(lines, column)| (usize::MAX - lines, *column))
    };
    let stamp = best(&|cell| read_stamp(cell).is_some());
    let date = best(&|cell| WrittenDate::read(cell).is_some());
    let clock = best(&|cell| WrittenClock::read(cell).is_some());
    match (stamp, date, clock) {
        (Some((lines, at)), Some(date), Some(clock)) if lines >= date.0.min(clock.0) => Ok(TimeColumns {
            date: at,
            clock: None,
        }),
        (_, Some(date), Some(clock)) => Ok(TimeColumns {
            date: date.1,
            clock: Some(clock.1),
        }),
        (Some((_, at)), ..) => Ok(TimeColumns {
            date: at,
            clock: None,
        }),
        (None, Some(_), None) => Err(TemperatureFault::DatesOnly),
        (None, None, _) => Err(TemperatureFault::NoTimes),
    }
}

/// The columns with temperatures: those that are named so, otherwise all that hold numbers and are not named as
/// something else.
fn find_channels(readings: &[Row], header: &[String], times: TimeColumns) -> Vec<usize> {
    let width = readings.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    let numbers = |column: usize| -> Vec<f64> {
        let cells = readings.iter().filter_map(|row| row.cells.get(column));
        let number = |cell: &String| match read_value(cell) {
            Value::Number(value, _) => Some(value),
            Value::Missing | Value::Unreadable(_) => None,
        };
        cells.filter_map(number).collect()
    };
    let named = |column: usize| {
        header
            .get(column)
            .map_or(Named::Nothing, |header| named_as(header))
    };
    let (mut sure, mut others) = (Vec::new(), Vec::new());
    for column in (0..width).filter(|column| *column != times.date && Some(*column) != times.clock) {
        let values = numbers(column);
        match named(column) {
            _ if values.is_empty() => {}
            Named::Temperature => sure.push(column),
            Named::Nothing if !counts_up(&values) => others.push(column),
            Named::Nothing | Named::Other => {}
        }
    }
    if sure.is_empty() { others } else { sure }
}

/// Whether these are the numbers of the lines.
fn counts_up(values: &[f64]) -> bool {
    values.len() > 1
        && values
            .windows(2)
            .all(|pair| (pair[1] - pair[0] - 1.0).abs() < 1e-9)
}

/// What a header says about its column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Named {
    Temperature,
    Other,
    Nothing,
}

const OTHER_WORDS: [&str; 24] = [
    "rh", "humidity", "hum", "dew", "dewpoint", "battery", "batt", "voltage", "volt", "volts", "pressure",
    "hpa", "mbar", "lux", "light", "co2", "ppm", "vpd", "kpa", "record", "index", "no", "nr", "id",
];

fn named_as(header: &str) -> Named {
    let words = header_words(header);
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    if has(&["dew", "dewpoint"]) {
        return Named::Other;
    }
    let is_temperature = words.iter().any(|word| word.starts_with("temp") || word == "t");
    if is_temperature || unit_of_header(header).is_some() {
        Named::Temperature
    } else if has(&OTHER_WORDS) || header.contains(['%', '#']) {
        Named::Other
    } else {
        Named::Nothing
    }
}

fn no_time(row: &Row, times: TimeColumns, header: &[String]) -> RowProblem {
    let what = match row.cells.get(times.date).map(|cell| cell.trim()) {
        Some(text) if !text.is_empty() => {
            format!("'{text}' is not a time such as 2025-12-01 14:30. Correct or remove the line")
        }
        _ => "has no time, but readings follow. Correct or remove the line".to_owned(),
    };
    match header.get(times.date) {
        Some(header) => RowProblem::of_column(row.line, header, what),
        None => RowProblem::of_line(row.line, what),
    }
}

fn too_wide(row: &Row, columns: usize) -> RowProblem {
    let what = format!(
        "has more cells than the {columns} of the header. Where a comma is both the separator and the decimal mark, export the file with ';' or tabs"
    );
    RowProblem::of_line(row.line, what)
}

// ---- dates and unit ------------------------------------------------------------------------------------------

/// How the times of a file look when its dates are read in one form.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tried {
    form: DateForm,
    first: i64,
    last: i64,
    /// Lines whose date does not exist in this form, though it does in another.
    impossible: usize,
    /// Steps back of more than an hour.
    back: usize,
    /// Changes of the day from one reading to the next, those among them without a gap, and those that leap over weeks.
    changes: usize,
    smooth: usize,
    leaps: usize,
}

fn try_form(raw: &[Raw], form: DateForm) -> Option<Tried> {
    let (mut impossible, mut times) = (0, Vec::with_capacity(raw.len()));
    for reading in raw {
        match reading.seconds(form) {
            Some(seconds) => times.push(seconds),
            None => {
                impossible += usize::from(DateForm::ALL.iter().any(|form| reading.date.day(*form).is_some()));
            }
        }
    }
    let (first, last) = (*times.iter().min()?, *times.iter().max()?);
    let falls = times.windows(2).filter(|pair| pair[1] < pair[0]).count();
    if 2 * falls >= times.len() {
        times.reverse();
    }
    let steps = || times.windows(2).map(|pair| (pair[0], pair[1]));
    let day = |seconds: i64| seconds.div_euclid(24 * HOUR);
    let is_change = |(before, after): &(i64, i64)| day(*before) != day(*after);
    Some(Tried {
        form,
        first,
        last,
        impossible,
        back: steps().filter(|(before, after)| before - after > HOUR).count(),
        changes: steps().filter(is_change).count(),
        smooth: steps()
            .filter(is_change)
            .filter(|(before, after)| after - before <= 3 * HOUR)
            .count(),
        leaps: steps().filter(|(before, after)| after - before >= LEAP).count(),
    })
}

/// Finds the form of the dates: the grower's word, otherwise the only one in which all dates exist, that goes on in
/// time, and in which the calendar does not leap at midnight. What is left open is asked.
fn settle_dates(raw: &[Raw], said: Option<DateForm>, look: &mut Look) -> Option<DateForm> {
    let mut tried: Vec<Tried> = DateForm::ALL
        .iter()
        .filter_map(|form| try_form(raw, *form))
        .collect();
    let count = tried.len();
    let Some(first) = tried.first().copied() else {
        return said;
    };
    let is_same = |other: &Tried| {
        (other.first, other.last, other.impossible) == (first.first, first.last, first.impossible)
    };
    if count == DateForm::ALL.len() && tried.iter().all(is_same) && !raw.iter().any(Raw::is_open) {
        return said.or(Some(first.form));
    }
    let mut reason = "other dates would not exist";
    let mut keep_least = |tried: &mut Vec<Tried>, of: fn(&Tried) -> usize, why: &'static str| {
        let least = tried.iter().map(of).min().unwrap_or(0);
        let before = tried.len();
        tried.retain(|tried| of(tried) == least);
        if tried.len() < before {
            reason = why;
        }
    };
    keep_least(
        &mut tried,
        |tried| tried.impossible,
        "other dates would not exist",
    );
    keep_least(
        &mut tried,
        |tried| usize::from(tried.back > 0),
        "the readings would not go on in time otherwise",
    );
    let leaps = |tried: &Tried| usize::from(tried.leaps > 0 && tried.leaps == tried.changes);
    let goes_on = |tried: &Tried| tried.leaps == 0 && tried.smooth > 0;
    if tried.iter().any(goes_on) {
        keep_least(
            &mut tried,
            leaps,
            "the calendar would leap at every midnight otherwise",
        );
    }
    match tried.as_slice() {
        [] => said,
        [_] if said.is_some() => said,
        [only] => {
            look.remarks
                .push(format!("Dates are read {}: {reason}.", only.form.name()));
            Some(only.form)
        }
        several => {
            let day = |seconds| time_at(seconds).map(DateTime::date);
            let options = several
                .iter()
                .filter_map(|tried| Some((tried.form, day(tried.first)?, day(tried.last)?)));
            look.ask(Question::Dates(options.collect()), said.is_some());
            said
        }
    }
}

impl Raw {
    /// Whether the date can be read in more than one way.
    fn is_open(&self) -> bool {
        let days = DateForm::ALL.map(|form| self.date.day(form));
        days[0] != days[1] || days[1] != days[2]
    }
}

fn is_plausible(unit: TemperatureUnit, value: f64) -> bool {
    (PLAUSIBLE_C[0]..=PLAUSIBLE_C[1]).contains(&unit.to_celsius(value))
}

/// Finds the unit of the temperatures that do not name theirs: said or written, otherwise °F where most of them would
/// be beyond any cold room in °C. What is left open is asked.
fn settle_unit(
    raw: &[Raw],
    said: Option<TemperatureUnit>,
    written: Option<TemperatureUnit>,
    look: &mut Look,
) -> Option<TemperatureUnit> {
    let mut values: Vec<f64> = raw
        .iter()
        .filter(|raw| raw.unit.is_none())
        .map(|raw| raw.value)
        .collect();
    if written.is_some() || values.is_empty() {
        return said.or(written);
    }
    values.sort_by(f64::total_cmp);
    let middle = values[values.len() / 2];
    let fits = |unit: &TemperatureUnit| is_plausible(*unit, middle);
    match [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit].map(|unit| fits(&unit)) {
        [true, false] | [false, true] if said.is_some() => said,
        [false, true] => {
            look.remarks
                .push("Temperatures are read in °F: in °C they would be beyond 60 °C.".to_owned());
            Some(TemperatureUnit::Fahrenheit)
        }
        [true, false] => {
            look.remarks
                .push("Temperatures are read in °C: in °F they would be below -40 °C.".to_owned());
            Some(TemperatureUnit::Celsius)
        }
        _ => {
            look.ask(
                Question::Unit(values[0], values[values.len() - 1]),
                said.is_some(),
            );
            said
        }
    }
}

// ---- taking --------------------------------------------------------------------------------------------------

/// A reading on the way to the log.
#[derive(Debug, Clone, Copy)]
struct Timed {
    line: usize,
    /// Seconds since 1970.
    seconds: i64,
    c: f64,
}

/// Puts the readings in the order of time, one for each minute, and says what was done.
fn take(raw: &[Raw], answers: &Answers, look: &mut Look) {
    let Some(form) = look.dates else {
        return;
    };
    let mut timed = Vec::with_capacity(raw.len());
    let (mut implausible, mut zone) = (Lines::default(), None);
    for reading in raw {
        let unit = reading.unit.or(look.unit).unwrap_or(TemperatureUnit::Celsius);
        let Some(mut seconds) = reading.seconds(form) else {
            let what = format!(
                "the date does not exist when it is read {}. Correct or remove the line",
                form.name()
            );
            look.problem(RowProblem::of_line(reading.line, what));
            continue;
        };
        if let Some(offset) = reading.clock.offset {
            seconds += 60 * (*zone.get_or_insert(offset) - offset);
        }
        if is_plausible(unit, reading.value) {
            timed.push(Timed {
                line: reading.line,
                seconds,
                c: unit.to_celsius(reading.value),
            });
        } else {
            implausible.add(reading.line);
        }
    }
    if implausible.count > 0 {
        let (readings, are) = if implausible.count == 1 {
            ("reading", "is")
        } else {
            ("readings", "are")
        };
        look.remarks.push(format!(
            "{} {readings} beyond -40 to 60 °C {are} left out as faults of the logger ({implausible}).",
            implausible.count
        ));
    }
    put_in_order(&mut timed, look);
    by_minute(&timed, answers, look);
}

/// A step back of an hour from which the readings go on as before is the end of summer time: both hours are kept, and
/// what follows counts on. Anything else that steps back is sorted.
fn put_in_order(timed: &mut [Timed], look: &mut Look) {
    let falls = timed
        .windows(2)
        .filter(|pair| pair[1].seconds < pair[0].seconds)
        .count();
    if falls > 0 && 2 * falls >= timed.len() {
        timed.reverse();
        look.remarks
            .push("The newest reading stands first in the file.".to_owned());
    }
    let usual = usual_step(timed);
    let is_back = |at: &usize| {
        let step = timed[*at].seconds - timed[at - 1].seconds;
        step < 0 || step == 0 && usual == HOUR && is_sunday_night(timed[*at].seconds)
    };
    let back: Vec<usize> = (1..timed.len()).filter(is_back).collect();
    let goes_on = |at: &usize| {
        let step = timed[*at].seconds + HOUR - timed[at - 1].seconds;
        (step - usual).abs() <= usual / 2 + 60
    };
    if back.len() <= 2 && back.iter().all(goes_on) {
        for at in back {
            timed[at..].iter_mut().for_each(|reading| reading.seconds += HOUR);
            look.remarks.push(format!(
                "The clock steps back an hour at line {}, as at the end of summer time: both hours are kept, and the times after it count on.",
                timed[at].line
            ));
        }
        return;
    }
    let mut late = Lines::default();
    for at in back {
        late.add(timed[at].line);
    }
    timed.sort_by_key(|reading| reading.seconds);
    look.remarks.push(format!(
        "The file is not in the order of time and was sorted ({late})."
    ));
}

/// The middle one of the steps from one reading to the next, in seconds.
fn usual_step(timed: &[Timed]) -> i64 {
    let steps = timed.windows(2).map(|pair| pair[1].seconds - pair[0].seconds);
    let mut steps: Vec<i64> = steps.filter(|step| *step > 0).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().unwrap_or(0)
}

/// Whether clocks may be changed at this time: an hourly log repeats one time then, and no step back shows itself.
fn is_sunday_night(seconds: i64) -> bool {
    time_at(seconds).is_some_and(|at| at.weekday() == Weekday::Sunday && at.hour() <= 3)
}

fn by_minute(timed: &[Timed], answers: &Answers, look: &mut Look) {
    let Some(first) = timed.first() else {
        return;
    };
    let begin = first.seconds.div_euclid(60) * 60;
    let moved = time_at(begin + 60 * i64::from(answers.add_minutes));
    let Some(start) = moved.filter(|start| (1970..=2200).contains(&start.year())) else {
        let what =
            "the time moved by so many minutes lies outside of the calendar. Correct the minutes to add";
        look.problem(RowProblem::of_line(first.line, what));
        return;
    };
    look.start = Some(start);
    let mut shared = Lines::default();
    let mut sum: Option<(u32, f64, f64)> = None;
    let mut readings = Vec::with_capacity(timed.len());
    let mut put = |sum: Option<(u32, f64, f64)>| {
        if let Some((minute, total, count)) = sum {
            // A thousandth of a degree is finer than any logger, and keeps the project's file short.
            readings.push((minute, (1000.0 * total / count).round() / 1000.0));
        }
    };
    for reading in timed {
        let minute = u32::try_from((reading.seconds - begin).div_euclid(60)).unwrap_or(u32::MAX);
        match &mut sum {
            Some((of, total, count)) if *of == minute => {
                *total += reading.c;
                *count += 1.0;
                shared.add(reading.line);
            }
            _ => put(sum.replace((minute, reading.c, 1.0))),
        }
    }
    put(sum);
    if readings.len() > MOST_READINGS {
        let what = format!(
            "the file has readings of {} minutes, and a log holds {MOST_READINGS}. Export fewer days, or a longer interval",
            readings.len()
        );
        look.problem(RowProblem::of_line(first.line, what));
        return;
    }
    look.readings = readings;
    if shared.count > 0 {
        let (readings, share) = if shared.count == 1 {
            ("reading", "shares")
        } else {
            ("readings", "share")
        };
        look.remarks.push(format!(
            "{} {readings} {share} the minute of an earlier one ({shared}); the mean of each minute is taken.",
            shared.count
        ));
    }
}
