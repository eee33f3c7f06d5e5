//! Temperatures as they stand in the files of loggers and stations: cells, units, the names of columns.

use super::numbers::{DecimalMark, is_plain_number, read_number};
use super::table_text::Row;
use crate::model::TemperatureUnit;

/// So many lines are named in one remark.
const LINES_NAMED: usize = 5;

/// Numbers of lines, of which the first few are named.
#[derive(Debug, Default)]
pub(super) struct Lines {
    named: Vec<usize>,
    pub(super) count: usize,
}

impl Lines {
    pub(super) fn add(&mut self, line: usize) {
        self.count += 1;
        if self.named.len() < LINES_NAMED {
            self.named.push(line);
        }
    }
}

impl std::fmt::Display for Lines {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let named: Vec<String> = self.named.iter().map(ToString::to_string).collect();
        let word = if self.count == 1 { "line" } else { "lines" };
        write!(f, "{word} {}", named.join(", "))?;
        match self.count - named.len() {
            0 => Ok(()),
            more => write!(f, " and {more} more"),
        }
    }
}

// ---- the names of columns ------------------------------------------------------------------------------------

/// The names of the columns, from the last line before the readings that has several cells; where that one names units
/// only, so that it has nothing in the column of the days, together with the line above it. A column without a name is
/// named by its number.
pub(super) fn find_header(before: &[Row], days: usize, width: usize) -> (Vec<String>, Option<usize>) {
    let has_several = |row: &&Row| row.cells.iter().filter(|cell| !cell.trim().is_empty()).count() > 1;
    let mut candidates = before.iter().rev().filter(has_several);
    let by_number = |column: usize| format!("column {}", column + 1);
    let Some(header) = candidates.next() else {
        return ((0..width).map(by_number).collect(), None);
    };
    let text = |row: &Row, column: usize| {
        row.cells
            .get(column)
            .map_or(String::new(), |cell| cell.trim().to_owned())
    };
    let above = candidates.next().filter(|_| text(header, days).is_empty());
    let line = above.unwrap_or(header).line;
    let filled = header
        .cells
        .iter()
        .rposition(|cell| !cell.trim().is_empty())
        .unwrap_or(0);
    let columns = above.map_or(filled + 1, |above| above.cells.len().max(filled + 1));
    let name = |column: usize| {
        let upper = above.map_or(String::new(), |above| text(above, column));
        let name = format!("{upper} {}", text(header, column)).trim().to_owned();
        if name.is_empty() { by_number(column) } else { name }
    };
    ((0..columns).map(name).collect(), Some(line))
}

pub(super) fn header_words(header: &str) -> Vec<String> {
    let words = header.split(|letter: char| !letter.is_alphanumeric());
    words
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

/// The unit that a text names by its sign or its name.
pub(super) fn unit_in(text: &str) -> Option<TemperatureUnit> {
    let text = text.to_lowercase();
    let has = |signs: &[&str]| signs.iter().any(|sign| text.contains(sign));
    let celsius = has(&[
        "°c", "° c", "ºc", "\u{2103}", "celsius", "deg c", "degc", "deg. c",
    ]);
    let fahrenheit = has(&[
        "°f",
        "° f",
        "ºf",
        "\u{2109}",
        "fahrenheit",
        "deg f",
        "degf",
        "deg. f",
    ]);
    match (celsius, fahrenheit) {
        (true, false) => Some(TemperatureUnit::Celsius),
        (false, true) => Some(TemperatureUnit::Fahrenheit),
        _ => unit_word(text.trim()),
    }
}

/// A unit that stands alone.
pub(super) fn unit_word(text: &str) -> Option<TemperatureUnit> {
    match text.to_lowercase().as_str() {
        "c" | "°c" | "° c" | "ºc" | "\u{2103}" | "deg c" | "degc" | "celsius" => {
            Some(TemperatureUnit::Celsius)
        }
        "f" | "°f" | "° f" | "ºf" | "\u{2109}" | "deg f" | "degf" | "fahrenheit" => {
            Some(TemperatureUnit::Fahrenheit)
        }
        _ => None,
    }
}

/// The unit in a header: by its sign, or by a last word `C` or `F`.
pub(super) fn unit_of_header(header: &str) -> Option<TemperatureUnit> {
    unit_in(header).or_else(|| {
        let words = header_words(header);
        let (last, others) = words.split_last()?;
        if others.is_empty() { None } else { unit_word(last) }
    })
}

pub(super) fn one_unit(units: impl Iterator<Item = TemperatureUnit>) -> Option<TemperatureUnit> {
    let (mut celsius, mut fahrenheit) = (false, false);
    for unit in units {
        match unit {
            TemperatureUnit::Celsius => celsius = true,
            TemperatureUnit::Fahrenheit => fahrenheit = true,
        }
    }
    match (celsius, fahrenheit) {
        (true, false) => Some(TemperatureUnit::Celsius),
        (false, true) => Some(TemperatureUnit::Fahrenheit),
        _ => None,
    }
}

// ---- one cell ------------------------------------------------------------------------------------------------

/// What a cell of temperatures holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    /// A number, with the unit behind it.
    Number(f64, Option<TemperatureUnit>),
    /// Nothing, or a word that stands for it.
    Missing,
    /// Something else, and what to do about it.
    Unreadable(String),
}

const MISSING_WORDS: [&str; 21] = [
    "err",
    "error",
    "nan",
    "na",
    "n/a",
    "#n/a",
    "null",
    "none",
    "nil",
    "open",
    "lo",
    "hi",
    "ol",
    "o.l",
    "or",
    "no data",
    "missing",
    "invalid",
    "fail",
    "disconnected",
    "m",
];

pub(super) fn read_value(cell: &str) -> Value {
    let text = cell.trim();
    if is_plain_number(text) {
        return number(text, None);
    }
    let bare = |text: &str| {
        text.chars()
            .all(|letter| matches!(letter, '-' | '–' | '—' | '*' | '?' | '.' | '_'))
    };
    let word = text.to_lowercase();
    if bare(text) || MISSING_WORDS.contains(&word.as_str()) {
        return Value::Missing;
    }
    let end = text
        .rfind(|letter: char| letter.is_ascii_digit())
        .map_or(0, |at| at + 1);
    let (before, unit) = text.split_at(end);
    match unit_word(unit.trim()) {
        Some(unit) => number(before, Some(unit)),
        None if unit.trim() == "°" => number(before, None),
        None => Value::Unreadable(format!(
            "'{text}' is not a temperature. Write a number such as 13.2, or empty the cell"
        )),
    }
}

/// A number with whichever decimal mark it has.
fn number(text: &str, unit: Option<TemperatureUnit>) -> Value {
    let mark = if text.contains(',') {
        DecimalMark::Comma
    } else {
        DecimalMark::Point
    };
    match read_number(text, mark) {
        Ok(value) => Value::Number(value, unit),
        Err(fault) => Value::Unreadable(fault.to_string()),
    }
}
