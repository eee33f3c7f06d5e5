//! The daily highs and lows of a place, from a file of any usual shape.
//!
//! [`WeatherFile::read`] finds the lines with days and what the columns hold; [`WeatherFile::look`] reads them with the
//! answers given so far. What the file does not prove is asked as a [`WeatherQuestion`], and nothing may be taken before
//! it is answered. A file that tells only a mean of each day is refused: heat units and frost need the high and the low.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;
use thiserror::Error;

use super::degrees::{
    Lines, Value, find_header, header_words, one_unit, read_value, unit_in, unit_of_header,
};
use super::logger_time::{DateForm, WrittenDate, read_stamp};
use super::table_text::{Fault, LooseText, Row, RowProblem};
use crate::insight::day_spans;
use crate::model::{Project, TemperatureUnit, WeatherDay};

/// So many problems are kept one by one.
pub const MOST_WEATHER_PROBLEMS: usize = 1000;
/// The most lines with days that a file may have: 400 years.
const MOST_LINES: usize = 146_097;
/// So many days are shown before anything is taken.
const DAYS_SHOWN: usize = 60;
/// So many of the last days are shown.
const DAYS_AT_END: usize = 3;
/// Numbers that stations write where they have no value.
const NO_VALUES: [f64; 9] = [
    -99.0, -99.9, -99.99, -999.0, -999.9, -999.99, -9999.0, 999.9, 9999.0,
];
/// No place was ever hotter, in °C: 56.7 °C, the record of the World Meteorological Organization, from memory.
const HOTTEST_C: f64 = 57.0;

/// Why a file tells no weather at all. Displays as one sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum WeatherFault {
    /// Not a text with lines.
    #[error(transparent)]
    Text(#[from] Fault),
    /// No column with days.
    #[error(
        "No column of the file holds days such as 2026-05-14. Export the daily values of the station as CSV, a line for each day"
    )]
    NoDays,
    /// No column with numbers beside the days.
    #[error("No column of the file holds temperatures beside the days. Export the daily high and low as CSV")]
    NoTemperatures,
    /// One temperature for each day.
    #[error(
        "The file has one temperature for each day, and heat units and frost need two. Export the daily high and the daily low"
    )]
    MeanOnly,
    /// Several lines for most days.
    #[error(
        "The file has several readings for each day. Export daily values: the high and the low of each day in one line"
    )]
    NotDaily,
    /// More days than 400 years have.
    #[error("The file has more than 146,097 lines, which are the days of 400 years. Export fewer days")]
    TooMany,
}

/// Which columns tell the day, from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayColumns {
    /// The whole date stands in one column, with or without a time of the day.
    Date(usize),
    /// Year, month and day stand in three columns.
    Parts {
        /// The column of the year.
        year: usize,
        /// The column of the month.
        month: usize,
        /// The column of the day of the month.
        day: usize,
    },
    /// The year and the number of the day in it, from 1.
    DayOfYear {
        /// The column of the year.
        year: usize,
        /// The column of the day.
        day: usize,
    },
}

impl DayColumns {
    /// The first of the columns that it names.
    fn first(self) -> usize {
        match self {
            Self::Date(column) => column,
            Self::Parts { year, .. } | Self::DayOfYear { year, .. } => year,
        }
    }
}

/// What the grower said about a file. Everything may be left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WeatherAnswers {
    /// What stands first in a date.
    pub dates: Option<DateForm>,
    /// The unit of temperatures that do not name theirs, or that name a wrong one.
    pub unit: Option<TemperatureUnit>,
    /// The column of highs, from 0.
    pub high: Option<usize>,
    /// The column of lows, from 0.
    pub low: Option<usize>,
    /// The column of dates, from 0.
    pub date: Option<usize>,
    /// Only the days of this year are taken.
    pub year: Option<i16>,
    /// Whether lines that cannot be read are left out, instead of nothing being taken.
    pub leave_out_bad: bool,
}

/// Something that the file does not tell and the grower has to.
#[derive(Debug, Clone, PartialEq)]
pub enum WeatherQuestion {
    /// What stands first in a date; each possible form with the first and the last day that it would give.
    Dates(Vec<(DateForm, Date, Date)>),
    /// The unit; holds the lowest low and the highest high as they stand in the file.
    Unit(f64, f64),
    /// Which of these columns holds the highs.
    High(Vec<usize>),
    /// Which of these columns holds the lows.
    Low(Vec<usize>),
}

/// A day as it is shown before anything is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownDay {
    /// Its line in the file, from 1.
    pub line: usize,
    /// The day, if the order of its date is known.
    pub on: Option<Date>,
    /// Its high in °C, if it has one and the unit is known.
    pub high_c: Option<f64>,
    /// Its low in °C, if it has one and the unit is known.
    pub low_c: Option<f64>,
}

/// What a file gives with the answers so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WeatherLook {
    /// What has to be answered before anything can be taken.
    pub questions: Vec<WeatherQuestion>,
    /// All that the file does not tell, the answered questions among them.
    pub asked: Vec<WeatherQuestion>,
    /// The days in order, each once; empty while a question is open.
    pub days: Vec<WeatherDay>,
    /// How many days each year of the file has, those that are not taken among them.
    pub years: BTreeMap<i16, usize>,
    /// Spans of days between the first and the last one taken that the file does not tell.
    pub missing: Vec<(Date, Date)>,
    /// The first days in the order of the file.
    pub head: Vec<ShownDay>,
    /// The last days in the order of the file.
    pub tail: Vec<ShownDay>,
    /// Lines that cannot be read, at most [`MOST_WEATHER_PROBLEMS`] of them.
    pub problems: Vec<RowProblem>,
    /// How many lines cannot be read.
    pub bad_lines: usize,
    /// What else the grower should know, each a sentence.
    pub remarks: Vec<String>,
    /// The form in which dates are read, where it matters.
    pub dates: Option<DateForm>,
    /// The unit of the temperatures that do not name theirs.
    pub unit: Option<TemperatureUnit>,
    /// The column of highs, where it is known.
    pub high: Option<usize>,
    /// The column of lows, where it is known.
    pub low: Option<usize>,
}

impl WeatherLook {
    /// Says whether the days may be taken.
    pub fn is_ready(&self, answers: &WeatherAnswers) -> bool {
        let is_clean = self.bad_lines == 0 || answers.leave_out_bad;
        self.questions.is_empty() && is_clean && !self.days.is_empty()
    }

    fn ask(&mut self, question: WeatherQuestion, is_answered: bool) {
        if !is_answered {
            self.questions.push(question.clone());
        }
        self.asked.push(question);
    }

    fn problem(&mut self, problem: RowProblem) {
        self.bad_lines += 1;
        if self.problems.len() < MOST_WEATHER_PROBLEMS {
            self.problems.push(problem);
        }
    }

    fn shown(&self, raw: &Raw) -> ShownDay {
        let celsius = |value: Option<Degrees>| {
            let value = value?;
            let unit = value.unit.or(self.unit)?;
            Some(unit.to_celsius(value.value))
        };
        ShownDay {
            line: raw.line,
            on: raw.day.on(self.dates),
            high_c: celsius(raw.high),
            low_c: celsius(raw.low),
        }
    }
}

/// A file with the weather of days, and what its columns hold.
#[derive(Debug, Clone)]
pub struct WeatherFile {
    text: LooseText,
    /// The names of the columns; a column without a header is named by its number.
    header: Vec<String>,
    header_line: Option<usize>,
    days: DayColumns,
    /// The columns that can be highs or lows, from 0: those that hold numbers and are not named as something else.
    candidates: Vec<usize>,
    highs: Vec<usize>,
    lows: Vec<usize>,
    /// The unit that the lines before the days name.
    named_unit: Option<TemperatureUnit>,
}

impl WeatherFile {
    /// Finds the separator, the lines with days, and the columns. `separator` is one of
    /// [`super::temperature_csv::SEPARATORS`] where the grower names it.
    ///
    /// # Errors
    /// A file that is no text, has no days, no temperatures or only means, or is not daily.
    pub fn read(bytes: &[u8], separator: Option<char>) -> Result<Self, WeatherFault> {
        let text = LooseText::read(bytes, separator)?;
        if text.lines_with_text() > MOST_LINES {
            return Err(WeatherFault::TooMany);
        }
        let rows: Vec<Row> = text.rows().collect();
        let days = find_days(&rows).ok_or(WeatherFault::NoDays)?;
        let begins = rows
            .iter()
            .position(|row| is_day_with_number(row, days))
            .ok_or(WeatherFault::NoTemperatures)?;
        let (before, lines) = rows.split_at(begins);
        if is_many_a_day(lines, days) {
            return Err(WeatherFault::NotDaily);
        }
        let width = lines.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        let (mut header, header_line) = find_header(before, days.first(), width);
        (header.len()..width).for_each(|column| header.push(format!("column {}", column + 1)));
        let candidates = candidates(lines, &header, days);
        let named = |wanted: Kind| -> Vec<usize> {
            let columns = candidates.iter().copied();
            columns
                .filter(|column| kind_of(&header[*column]) == wanted)
                .collect()
        };
        let (highs, lows) = (named(Kind::High), named(Kind::Low));
        let nameless = candidates.iter().filter(|column| {
            let kind = kind_of(&header[**column]);
            kind == Kind::Nothing
        });
        match (highs.is_empty(), lows.is_empty(), nameless.count()) {
            _ if candidates.is_empty() => return Err(WeatherFault::NoTemperatures),
            // A high and a low, each named or possible.
            (false, false, _) | (true, true, 2..) | (true, false, 1..) | (false, true, 1..) => {}
            _ => return Err(WeatherFault::MeanOnly),
        }
        let words = before.iter().filter(|row| Some(row.line) != header_line);
        let named_unit = one_unit(words.flat_map(|row| &row.cells).filter_map(|cell| unit_in(cell)));
        Ok(Self {
            text,
            header,
            header_line,
            days,
            candidates,
            highs,
            lows,
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

    /// A line as it stands in the file, by its number from 1.
    pub fn line(&self, number: usize) -> Option<&str> {
        let mut lines = self.text.lines();
        lines.nth(number.checked_sub(1)?).map(|(_, line)| line)
    }

    /// What divides the cells of a line.
    pub fn separator(&self) -> char {
        self.text.delimiter()
    }

    /// The columns that tell the day, unless the grower names another.
    pub fn days(&self) -> DayColumns {
        self.days
    }

    /// The columns that can be highs or lows, from 0.
    pub fn candidates(&self) -> &[usize] {
        &self.candidates
    }

    /// The unit that the file names for a column.
    pub fn unit_of(&self, column: usize) -> Option<TemperatureUnit> {
        let header = self.header_line.and(self.header.get(column));
        header
            .and_then(|header| unit_of_header(header).or_else(|| unit_at_end(header)))
            .or(self.named_unit)
    }

    /// Reads everything with the answers given so far.
    pub fn look(&self, answers: &WeatherAnswers) -> WeatherLook {
        let mut look = WeatherLook::default();
        self.settle_columns(answers, &mut look);
        let days = answers.date.map_or(self.days, DayColumns::Date);
        let raw = self.raw(days, &mut look);
        look.dates = settle_dates(&raw, answers.dates, &mut look);
        look.unit = self.settle_unit(&raw, answers.unit, &mut look);
        look.head = raw.iter().take(DAYS_SHOWN).map(|raw| look.shown(raw)).collect();
        let end = &raw[raw.len().saturating_sub(DAYS_AT_END)..];
        look.tail = end.iter().map(|raw| look.shown(raw)).collect();
        if raw.is_empty() {
            let text = "No line has a day and a temperature in these columns; choose other ones.";
            look.remarks.push(text.to_owned());
        }
        if look.questions.is_empty() {
            self.take(&raw, answers, &mut look);
        }
        look.problems.sort_by_key(|problem| problem.line);
        look
    }

    /// Which columns hold the highs and the lows: said, or named, or asked.
    fn settle_columns(&self, answers: &WeatherAnswers, look: &mut WeatherLook) {
        let pick = |named: &[usize], taken: Option<usize>| -> Vec<usize> {
            let free = |column: &usize| Some(*column) != taken;
            match named {
                [] => {
                    let nameless = |column: &usize| kind_of(&self.header[*column]) == Kind::Nothing;
                    let all = self.candidates.iter().copied();
                    all.filter(nameless).filter(free).collect()
                }
                named => named.to_vec(),
            }
        };
        let highs = pick(&self.highs, only(&self.lows));
        let lows = pick(&self.lows, only(&self.highs));
        look.high = answers.high.or(only(&highs));
        look.low = answers.low.or(only(&lows));
        if highs.len() > 1 {
            look.ask(WeatherQuestion::High(highs), answers.high.is_some());
        }
        if lows.len() > 1 {
            look.ask(WeatherQuestion::Low(lows), answers.low.is_some());
        }
    }

    /// All lines that tell a day.
    fn raw(&self, days: DayColumns, look: &mut WeatherLook) -> Vec<Raw> {
        let mut found: Vec<Raw> = Vec::new();
        let (mut behind, mut has_begun) = (Vec::new(), false);
        for row in self.text.rows() {
            let Some(day) = day_of(&row, days) else {
                // Lines behind the last day are passed over; they are held back until a day follows.
                if has_begun && behind.len() <= MOST_WEATHER_PROBLEMS {
                    behind.push(row);
                }
                continue;
            };
            has_begun |= is_day_with_number(&row, days);
            if !has_begun {
                continue;
            }
            for row in behind.drain(..) {
                let what = "tells no day, but days follow. Correct or remove the line";
                look.problem(RowProblem::of_line(row.line, what));
            }
            let columns = (look.high, look.low);
            let mut value = |column: Option<usize>| {
                let column = column?;
                let cell = row.cells.get(column).map_or("", String::as_str);
                match read_value(cell) {
                    Value::Number(value, _) if NO_VALUES.contains(&value) => None,
                    Value::Number(value, unit) => Some(Ok(Degrees { value, unit })),
                    Value::Missing => None,
                    Value::Unreadable(what) => {
                        let name = self.header.get(column).map_or("", String::as_str);
                        look.problem(RowProblem::of_column(row.line, name, what));
                        Some(Err(()))
                    }
                }
            };
            let (high, low) = (value(columns.0), value(columns.1));
            if matches!((&high, &low), (Some(Err(())), _) | (_, Some(Err(())))) {
                continue;
            }
            found.push(Raw {
                line: row.line,
                day,
                high: high.and_then(Result::ok),
                low: low.and_then(Result::ok),
            });
        }
        if let (Some(first), Some(last)) = (behind.first(), behind.last()) {
            look.remarks.push(if first.line == last.line {
                format!("Line {} stands below the last day and is not read.", first.line)
            } else {
                format!(
                    "Lines {} to {} stand below the last day and are not read.",
                    first.line, last.line
                )
            });
        }
        found
    }

    /// Finds the unit: said or written, otherwise °F where no place on earth is so hot in °C. What is left open is asked.
    fn settle_unit(
        &self,
        raw: &[Raw],
        said: Option<TemperatureUnit>,
        look: &mut WeatherLook,
    ) -> Option<TemperatureUnit> {
        let of = |column: Option<usize>| column.and_then(|column| self.unit_of(column));
        let written = of(look.high).or_else(|| of(look.low));
        let open: Vec<f64> = raw
            .iter()
            .flat_map(|raw| [raw.high, raw.low])
            .flatten()
            .filter(|degrees| degrees.unit.is_none())
            .map(|degrees| degrees.value)
            .collect();
        if written.is_some() || open.is_empty() {
            return said.or(written);
        }
        let least = open.iter().copied().fold(f64::INFINITY, f64::min);
        let most = open.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if said.is_none() && most > HOTTEST_C {
            look.remarks.push(format!(
                "Temperatures are read in °F: they reach {most}, and no place was ever so hot in °C."
            ));
            return Some(TemperatureUnit::Fahrenheit);
        }
        look.ask(WeatherQuestion::Unit(least, most), said.is_some());
        said
    }

    /// Puts the days in order and says what is wrong with them.
    fn take(&self, raw: &[Raw], answers: &WeatherAnswers, look: &mut WeatherLook) {
        let mut days: BTreeMap<Date, (usize, WeatherDay)> = BTreeMap::new();
        let (mut half, mut empty, mut twice) = (Lines::default(), 0_usize, Lines::default());
        for one in raw {
            let shown = look.shown(one);
            let Some(on) = shown.on else {
                let how = look.dates.map_or("so", DateForm::name);
                let what =
                    format!("the date does not exist when it is read {how}. Correct or remove the line");
                look.problem(RowProblem::of_line(one.line, what));
                continue;
            };
            let (high_c, low_c) = match (shown.high_c, shown.low_c) {
                (Some(high), Some(low)) => (high, low),
                (None, None) => {
                    empty += 1;
                    continue;
                }
                _ => {
                    half.add(one.line);
                    continue;
                }
            };
            *look.years.entry(on.year()).or_default() += 1;
            let day = WeatherDay { on, high_c, low_c };
            if let Err(what) = self.fault(&day, one, look) {
                look.problem(RowProblem::of_line(one.line, what));
                continue;
            }
            match days.get(&on) {
                Some((_, known)) if *known == day => twice.add(one.line),
                Some((line, _)) => {
                    let what = format!(
                        "{on} stands on line {line} already, with other temperatures. Remove the one that is wrong"
                    );
                    look.problem(RowProblem::of_line(one.line, what));
                }
                None => {
                    days.insert(on, (one.line, day));
                }
            }
        }
        if half.count > 0 {
            look.remarks.push(format!(
                "{} with only a high or only a low ({half}) {} not taken.",
                if half.count == 1 { "A day" } else { "Days" },
                if half.count == 1 { "is" } else { "are" },
            ));
        }
        if empty > 0 {
            look.remarks.push(format!(
                "{empty} {} no temperatures.",
                if empty == 1 { "line has" } else { "lines have" }
            ));
        }
        if twice.count > 0 {
            look.remarks.push(format!(
                "The same day with the same temperatures stands twice ({twice}); it is taken once."
            ));
        }
        let years: Vec<String> = look.years.keys().map(ToString::to_string).collect();
        if let ([first, .., last], None) = (years.as_slice(), answers.year) {
            look.remarks.push(format!(
                "The file tells {} years, {first} to {last}; the days of all of them are taken.",
                years.len()
            ));
        }
        let taken = days.into_values().map(|(_, day)| day);
        look.days = taken
            .filter(|day| answers.year.is_none_or(|year| day.on.year() == year))
            .collect();
        if let (Some(year), true) = (answers.year, look.days.is_empty() && !raw.is_empty()) {
            look.remarks.push(format!(
                "The file tells no day of {year}; it tells {}.",
                years.join(", ")
            ));
        }
        name_missing(look);
    }

    /// What is wrong with a day, told in the unit of the file.
    fn fault(&self, day: &WeatherDay, raw: &Raw, look: &WeatherLook) -> Result<(), String> {
        if day.high_c < day.low_c
            && let (Some(high), Some(low)) = (raw.high, raw.low)
        {
            let name =
                |column: Option<usize>| column.and_then(|at| self.header.get(at)).map_or("", |name| name);
            return Err(format!(
                "the high of {} ({}) is below its low ({}). Correct the line, or choose other columns than '{}' and '{}'",
                day.on,
                high.value,
                low.value,
                name(look.high),
                name(look.low)
            ));
        }
        day.check().map_err(|fault| fault.to_string())
    }
}

/// How many days of a file are new, differ from what is there, and are there already with the same temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Compared {
    /// Days that the project does not know.
    pub new: usize,
    /// Days that the project knows with other temperatures.
    pub other: usize,
    /// Days that the project knows as they are.
    pub same: usize,
}

/// Compares days with those that a project knows, to a hundredth of a degree, as finely as it keeps them.
pub fn compared(project: &Project, days: &[WeatherDay]) -> Compared {
    let mut found = Compared::default();
    let is_near = |a: f64, b: f64| (a - b).abs() < 0.0051;
    for day in days {
        match project.weather_days().on(day.on) {
            None => found.new += 1,
            Some(known) if is_near(known.high_c, day.high_c) && is_near(known.low_c, day.low_c) => {
                found.same += 1;
            }
            Some(_) => found.other += 1,
        }
    }
    found
}

fn name_missing(look: &mut WeatherLook) {
    let mut next: Option<Date> = None;
    for day in &look.days {
        if let Some(next) = next
            && next < day.on
        {
            look.missing.push((next, day.on.saturating_sub(1.day())));
        }
        next = Some(day.on.saturating_add(1.day()));
    }
    let count: i32 = look
        .missing
        .iter()
        .map(|(from, to)| (*to - *from).get_days() + 1)
        .sum();
    if count > 0 {
        let (days, are) = if count == 1 {
            ("day", "is")
        } else {
            ("days", "are")
        };
        look.remarks.push(format!(
            "{count} {days} between the first and the last {are} missing: {}. Heat units over a missing day stay unknown.",
            day_spans(&look.missing)
        ));
    }
}

/// A temperature as it stands in a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Degrees {
    value: f64,
    unit: Option<TemperatureUnit>,
}

/// A line with a day, as it stands in the file.
#[derive(Debug, Clone, Copy)]
struct Raw {
    line: usize,
    day: WrittenDay,
    high: Option<Degrees>,
    low: Option<Degrees>,
}

/// A day as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum WrittenDay {
    /// In parts that may be in an order that they do not tell.
    Written(WrittenDate),
    /// In columns of its own; none where there is no such day.
    Known(Option<Date>),
}

impl WrittenDay {
    fn on(self, form: Option<DateForm>) -> Option<Date> {
        match self {
            Self::Written(date) => date.day(form?),
            Self::Known(day) => day,
        }
    }

    fn is_open(self) -> bool {
        let Self::Written(date) = self else { return false };
        let days = DateForm::ALL.map(|form| date.day(form));
        days[0] != days[1] || days[1] != days[2]
    }
}

fn only(columns: &[usize]) -> Option<usize> {
    match columns {
        [only] => Some(*only),
        _ => None,
    }
}

// ---- what the columns hold -----------------------------------------------------------------------------------

/// What a header says of its column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    High,
    Low,
    Mean,
    /// Something else than a temperature of the air.
    Other,
    Nothing,
}

const HIGH_WORDS: [&str; 12] = [
    "high", "hi", "max", "maximum", "highest", "tmax", "tx", "txmax", "maxt", "tempmax", "maxtemp", "tmaxf",
];
const LOW_WORDS: [&str; 12] = [
    "low", "lo", "min", "minimum", "lowest", "tmin", "tn", "tnmin", "mint", "tempmin", "mintemp", "tminf",
];
const MEAN_WORDS: [&str; 10] = [
    "mean", "avg", "average", "tavg", "tmean", "tg", "tm", "taverage", "median", "meantemp",
];
const OTHER_WORDS: [&str; 46] = [
    "rh",
    "humidity",
    "hum",
    "dew",
    "dewpoint",
    "battery",
    "batt",
    "pressure",
    "hpa",
    "mbar",
    "lux",
    "light",
    "co2",
    "vpd",
    "kpa",
    "rain",
    "rainfall",
    "precip",
    "precipitation",
    "prcp",
    "prec",
    "snow",
    "wind",
    "gust",
    "soil",
    "grass",
    "wet",
    "bulb",
    "sun",
    "sunshine",
    "radiation",
    "solar",
    "heat",
    "gdd",
    "gdu",
    "hdd",
    "cdd",
    "et",
    "eto",
    "index",
    "chill",
    "record",
    "id",
    "normal",
    "flag",
    "quality",
];

fn kind_of(header: &str) -> Kind {
    let words = header_words(header);
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    // A unit may be glued to the word: `tmaxC`, `highF`.
    let glued = |wanted: &[&str]| {
        words.iter().any(|word| {
            let cut = word.strip_suffix(['c', 'f']).unwrap_or(word);
            wanted.contains(&cut)
        })
    };
    if has(&OTHER_WORDS) || header.contains('%') {
        Kind::Other
    } else {
        match (glued(&HIGH_WORDS), glued(&LOW_WORDS)) {
            (true, false) => Kind::High,
            (false, true) => Kind::Low,
            _ if has(&MEAN_WORDS) => Kind::Mean,
            _ => Kind::Nothing,
        }
    }
}

/// A unit that is glued to the last word of a header, as in `tmaxC`.
fn unit_at_end(header: &str) -> Option<TemperatureUnit> {
    let words = header_words(header);
    let last = words.last()?;
    let known = |cut: &str| HIGH_WORDS.contains(&cut) || LOW_WORDS.contains(&cut);
    match (last.strip_suffix('c'), last.strip_suffix('f')) {
        (Some(cut), _) if known(cut) => Some(TemperatureUnit::Celsius),
        (_, Some(cut)) if known(cut) => Some(TemperatureUnit::Fahrenheit),
        _ => None,
    }
}

/// The columns that tell the day: those in which most lines do, and of equals a whole date before its parts.
fn find_days(rows: &[Row]) -> Option<DayColumns> {
    let by_date = best_date_column(rows);
    let named = rows.iter().find_map(named_days).map(|days| {
        let lines = rows.iter().filter(|row| day_of(row, days).is_some()).count();
        (days, lines)
    });
    match (by_date, named) {
        (Some((_, dates)), Some((days, lines))) if lines > dates => Some(days),
        (Some((column, _)), _) => Some(DayColumns::Date(column)),
        (None, named) => named.map(|(days, _)| days),
    }
}

/// The column in which most lines have a date, with their number; of equals the left one.
fn best_date_column(rows: &[Row]) -> Option<(usize, usize)> {
    let width = rows.iter().map(|row| row.cells.len()).max()?;
    let lines = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.cells.get(column));
        cells.filter(|cell| read_date(cell).is_some()).count()
    };
    (0..width)
        .map(|column| (column, lines(column)))
        .filter(|(_, lines)| *lines > 0)
        .min_by_key(|(column, lines)| (usize::MAX - lines, *column))
}

/// The columns of a header that names year, month and day, or year and day of the year.
fn named_days(row: &Row) -> Option<DayColumns> {
    let at = |names: &[&str]| {
        row.cells
            .iter()
            .position(|cell| names.contains(&cell.trim().to_lowercase().as_str()))
    };
    let year = at(&["year", "yr", "yyyy"])?;
    let month = at(&["month", "mon", "mo", "mm"]);
    let day = at(&["day", "dy", "dd", "dom", "day of month"]);
    let of_year = at(&["doy", "day of year", "julian day", "jday", "yday"]);
    match (month, day, of_year) {
        (Some(month), Some(day), _) => Some(DayColumns::Parts { year, month, day }),
        (None, _, Some(day)) | (Some(_), None, Some(day)) => Some(DayColumns::DayOfYear { year, day }),
        _ => None,
    }
}

fn read_date(cell: &str) -> Option<WrittenDate> {
    WrittenDate::read(cell).or_else(|| read_stamp(cell).map(|(date, _)| date))
}

fn day_of(row: &Row, days: DayColumns) -> Option<WrittenDay> {
    let whole = |column: usize| -> Option<i16> { row.cells.get(column)?.trim().parse().ok() };
    match days {
        DayColumns::Date(column) => read_date(row.cells.get(column)?).map(WrittenDay::Written),
        DayColumns::Parts { year, month, day } => {
            let (year, month, day) = (whole(year)?, whole(month)?, whole(day)?);
            let date = i8::try_from(month)
                .ok()
                .zip(i8::try_from(day).ok())
                .and_then(|(month, day)| Date::new(year, month, day).ok());
            Some(WrittenDay::Known(date))
        }
        DayColumns::DayOfYear { year, day } => {
            let (year, day) = (whole(year)?, whole(day)?);
            let first = Date::new(year, 1, 1).ok();
            let date = first.and_then(|first| first.checked_add((i64::from(day) - 1).days()).ok());
            Some(WrittenDay::Known(date.filter(|date| date.year() == year)))
        }
    }
}

fn is_of_day(days: DayColumns, column: usize) -> bool {
    match days {
        DayColumns::Date(date) => column == date,
        DayColumns::Parts { year, month, day } => [year, month, day].contains(&column),
        DayColumns::DayOfYear { year, day } => [year, day].contains(&column),
    }
}

/// Whether most lines tell the day of the line before.
fn is_many_a_day(lines: &[Row], days: DayColumns) -> bool {
    let day = |row: &Row| day_of(row, days);
    let again = lines
        .windows(2)
        .filter(|pair| day(&pair[0]).is_some() && day(&pair[0]) == day(&pair[1]));
    2 * again.count() > lines.len()
}

/// Whether a line tells a day, and a number in another column.
fn is_day_with_number(row: &Row, days: DayColumns) -> bool {
    let is_number =
        |(at, cell): (usize, &String)| !is_of_day(days, at) && matches!(read_value(cell), Value::Number(..));
    day_of(row, days).is_some() && row.cells.iter().enumerate().any(is_number)
}

/// The columns with numbers that are not named as something else.
fn candidates(lines: &[Row], header: &[String], days: DayColumns) -> Vec<usize> {
    let has_numbers = |column: usize| {
        let mut cells = lines.iter().filter_map(|row| row.cells.get(column));
        cells.any(|cell| matches!(read_value(cell), Value::Number(..)))
    };
    (0..header.len())
        .filter(|column| !is_of_day(days, *column) && kind_of(&header[*column]) != Kind::Other)
        .filter(|column| has_numbers(*column))
        .collect()
}

// ---- dates ---------------------------------------------------------------------------------------------------

/// How the days of a file look when its dates are read in one form.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tried {
    form: DateForm,
    first: Date,
    last: Date,
    /// Lines whose date does not exist in this form, though it does in another.
    impossible: usize,
    /// Steps from one line to the next that are one day forward or back.
    daily: usize,
}

fn try_form(raw: &[Raw], form: DateForm) -> Option<Tried> {
    let exists = |raw: &&Raw| DateForm::ALL.iter().any(|form| raw.day.on(Some(*form)).is_some());
    let days: Vec<Date> = raw.iter().filter_map(|raw| raw.day.on(Some(form))).collect();
    let could = raw.iter().filter(exists).count();
    let step = |pair: &&[Date]| (pair[1] - pair[0]).get_days().abs() == 1;
    Some(Tried {
        form,
        first: *days.iter().min()?,
        last: *days.iter().max()?,
        impossible: could - days.len(),
        daily: days.windows(2).filter(step).count(),
    })
}

/// Finds the form of the dates: the grower's word, otherwise the only one in which all dates exist, or the only one in
/// which most lines follow each other day by day. What is left open is asked.
fn settle_dates(raw: &[Raw], said: Option<DateForm>, look: &mut WeatherLook) -> Option<DateForm> {
    let mut tried: Vec<Tried> = DateForm::ALL
        .iter()
        .filter_map(|form| try_form(raw, *form))
        .collect();
    let Some(first) = tried.first().copied() else {
        return said;
    };
    if !raw.iter().any(|raw| raw.day.is_open()) {
        return said.or(Some(first.form));
    }
    let least = tried.iter().map(|tried| tried.impossible).min().unwrap_or(0);
    tried.retain(|tried| tried.impossible == least);
    let mut reason = "other dates would not exist";
    if tried.len() > 1 {
        let most = tried.iter().map(|tried| tried.daily).max().unwrap_or(0);
        let goes_on = |tried: &Tried| tried.daily == most;
        if 2 * most >= raw.len() && tried.iter().filter(|tried| goes_on(tried)).count() == 1 {
            tried.retain(goes_on);
            reason = "so each line is the day after the one before";
        }
    }
    match tried.as_slice() {
        [_] if said.is_some() => said,
        [one] => {
            look.remarks
                .push(format!("Dates are read {}: {reason}.", one.form.name()));
            Some(one.form)
        }
        several => {
            let options = several.iter().map(|tried| (tried.form, tried.first, tried.last));
            look.ask(WeatherQuestion::Dates(options.collect()), said.is_some());
            said
        }
    }
}
