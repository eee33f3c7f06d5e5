//! Reading the times that loggers write: dates in any usual order, clocks with or without seconds, with am and pm, and
//! with an offset.

use jiff::civil::{Date, DateTime, Time};

/// Years that a logger can mean.
const YEARS: std::ops::RangeInclusive<i16> = 1970..=2200;
const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];
const WEEKDAYS: [&str; 7] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
];

/// Which part of a date stands first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DateForm {
    /// The day, then the month: 3/4 is the third of April.
    DayFirst,
    /// The month, then the day: 3/4 is the fourth of March.
    MonthFirst,
    /// The year, then the month.
    YearFirst,
}

impl DateForm {
    /// All forms, in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::DayFirst, Self::MonthFirst, Self::YearFirst];

    /// Names the form as a part of a sentence.
    pub fn name(self) -> &'static str {
        match self {
            Self::DayFirst => "day first",
            Self::MonthFirst => "month first",
            Self::YearFirst => "year first",
        }
    }
}

/// A date as it is written, whose parts may be in an order that it does not tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct WrittenDate {
    parts: [i16; 3],
    /// The one form that it can have.
    form: Option<DateForm>,
    has_short_year: bool,
    /// Whether a year of two digits can stand first; after a slash it never does.
    may_begin_with_year: bool,
}

impl WrittenDate {
    /// Reads `2025-12-01`, `1.12.2025`, `12/1/25`, `20251201`, `1-Dec-2025`, or `Dec 1, 2025`.
    pub(super) fn read(text: &str) -> Option<Self> {
        let words: Vec<&str> = words(text).collect();
        let (date, rest) = Self::first_of(&words)?;
        rest.is_empty().then_some(date)
    }

    /// Takes a date from the beginning of a text.
    fn first_of<'a, 'w>(words: &'w [&'a str]) -> Option<(Self, &'w [&'a str])> {
        let words = match words {
            [day, rest @ ..] if place_of(day, &WEEKDAYS).is_some() => rest,
            all => all,
        };
        let (first, rest) = words.split_first()?;
        if let Some(date) = Self::of_numbers(first).or_else(|| Self::named(&parts_of(first)?)) {
            return Some((date, rest));
        }
        let date = Self::named(words.get(..3)?)?;
        Some((date, words.get(3..)?))
    }

    fn of_numbers(word: &str) -> Option<Self> {
        if word.len() == 8 && word.bytes().all(|byte| byte.is_ascii_digit()) {
            return Self::of_parts(&[&word[..4], &word[4..6], &word[6..]], '-');
        }
        let separator = word.chars().find(|letter| !letter.is_ascii_digit())?;
        Self::of_parts(&parts_of(word)?, separator)
    }

    fn of_parts(parts: &[&str], separator: char) -> Option<Self> {
        let [first, second, third] = parts else {
            return None;
        };
        let is_short = |part: &str| (1..=2).contains(&part.len());
        let form = match (separator, first.len(), third.len()) {
            ('-' | '/' | '.', 4, 1 | 2) => Some(DateForm::YearFirst),
            ('.', 1 | 2, 2 | 4) => Some(DateForm::DayFirst),
            ('-' | '/', 1 | 2, 2 | 4) => None,
            _ => return None,
        };
        let date = Self {
            parts: [number(first)?, number(second)?, number(third)?],
            form,
            has_short_year: is_short(first) && is_short(third),
            may_begin_with_year: separator == '-' && is_short(third),
        };
        is_short(second).then_some(date)
    }

    /// A date with the month in English, which has one reading only.
    fn named(parts: &[&str]) -> Option<Self> {
        let [first, second, third] = parts else {
            return None;
        };
        let (day, month) = match (place_of(first, &MONTHS), place_of(second, &MONTHS)) {
            (Some(month), None) => (number(second)?, month),
            (None, Some(month)) => (number(first.trim_end_matches('.'))?, month),
            _ => return None,
        };
        Some(Self {
            parts: [day, i16::try_from(month).ok()? + 1, number(third)?],
            form: Some(DateForm::DayFirst),
            has_short_year: third.len() == 2,
            may_begin_with_year: false,
        })
    }

    /// The day, if there is one when the date is read in this form.
    pub(super) fn day(self, form: DateForm) -> Option<Date> {
        let [first, second, third] = self.parts;
        let form = self.form.unwrap_or(form);
        let (year, month, day) = match form {
            DateForm::YearFirst => (first, second, third),
            DateForm::DayFirst => (third, second, first),
            DateForm::MonthFirst => (third, first, second),
        };
        // A year of two digits is one of this century.
        let year = if self.has_short_year { 2000 + year } else { year };
        if form == DateForm::YearFirst && self.form.is_none() && !self.may_begin_with_year {
            return None;
        }
        let date = Date::new(year, month.try_into().ok()?, day.try_into().ok()?).ok()?;
        YEARS.contains(&date.year()).then_some(date)
    }
}

/// A time of the day as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct WrittenClock {
    /// Seconds since midnight, from 0 to 86,400.
    pub(super) seconds: i64,
    /// Minutes that the clock is ahead of universal time, if it says so.
    pub(super) offset: Option<i64>,
}

impl WrittenClock {
    /// Reads `14:30`, `2:30:15 PM`, `14:30:15.25Z` or `14:30 +01:00`.
    pub(super) fn read(text: &str) -> Option<Self> {
        Self::of_words(&words(text).collect::<Vec<&str>>())
    }

    fn of_words(words: &[&str]) -> Option<Self> {
        let (first, rest) = words.split_first()?;
        let is_clock = |letter: char| letter.is_ascii_digit() || matches!(letter, ':' | '.' | ',');
        let end = first.find(|letter| !is_clock(letter)).unwrap_or(first.len());
        let (clock, behind) = first.split_at(end);
        let mut marks: String = rest.iter().fold(behind.to_owned(), |all, word| all + word);
        marks.make_ascii_lowercase();
        let plain = marks.replacen("a.m.", "am", 1).replacen("p.m.", "pm", 1);
        let (afternoon, zone) = match (plain.strip_prefix("am"), plain.strip_prefix("pm")) {
            (Some(zone), _) => (Some(false), zone),
            (_, Some(zone)) => (Some(true), zone),
            _ => (None, plain.as_str()),
        };
        Some(Self {
            seconds: seconds_of(clock, afternoon)?,
            offset: match read_zone(zone)? {
                Zone::Untold => None,
                Zone::Ahead(minutes) => Some(minutes),
            },
        })
    }
}

fn seconds_of(clock: &str, afternoon: Option<bool>) -> Option<i64> {
    let parts: Vec<&str> = clock.split(':').collect();
    let (hour, minute, second) = match parts.as_slice() {
        [hour, minute] => (*hour, *minute, "0"),
        [hour, minute, second] => (*hour, *minute, second.split(['.', ',']).next()?),
        _ => return None,
    };
    let (hour, minute, second) = (number(hour)?, number(minute)?, number(second)?);
    let hour = match afternoon {
        None if hour == 24 && minute == 0 && second == 0 => return Some(24 * 3600),
        None => hour,
        Some(is_pm) if (1..=12).contains(&hour) => hour % 12 + if is_pm { 12 } else { 0 },
        Some(_) => return None,
    };
    let time = Time::new(
        hour.try_into().ok()?,
        minute.try_into().ok()?,
        second.try_into().ok()?,
        0,
    )
    .ok()?;
    Some(i64::from(time.hour()) * 3600 + i64::from(time.minute()) * 60 + i64::from(time.second()))
}

/// What stands behind a time of the day.
enum Zone {
    /// Nothing, or a name that does not tell minutes.
    Untold,
    /// So many minutes ahead of universal time.
    Ahead(i64),
}

/// Reads `z`, `utc`, `gmt+01:00`, `-0530`, or the letters of a zone; `None` for what is none.
fn read_zone(zone: &str) -> Option<Zone> {
    let universal = ["utc", "gmt", "z"];
    let rest = universal.iter().find_map(|name| zone.strip_prefix(name));
    let is_name = (3..=5).contains(&zone.len()) && zone.bytes().all(|byte| byte.is_ascii_lowercase());
    match rest {
        Some("") => return Some(Zone::Ahead(0)),
        None if zone.is_empty() || is_name => return Some(Zone::Untold),
        _ => {}
    }
    let signed = rest.unwrap_or(zone);
    let (sign, digits) = match (signed.strip_prefix('+'), signed.strip_prefix(['-', '\u{2212}'])) {
        (Some(digits), _) => (1, digits),
        (_, Some(digits)) => (-1, digits),
        _ => return None,
    };
    let (hours, minutes) = match (digits.split_once(':'), digits.len()) {
        (Some(parts), _) => parts,
        (None, 4) => digits.split_at_checked(2)?,
        (None, _) => (digits, "0"),
    };
    let (hours, minutes) = (i64::from(number(hours)?), i64::from(number(minutes)?));
    (hours <= 15 && minutes < 60).then_some(Zone::Ahead(sign * (60 * hours + minutes)))
}

/// A date and a time of the day in one cell.
pub(super) fn read_stamp(text: &str) -> Option<(WrittenDate, WrittenClock)> {
    let words: Vec<&str> = words(text).collect();
    if let Some((date, rest)) = WrittenDate::first_of(&words) {
        return Some((date, WrittenClock::of_words(rest)?));
    }
    // ISO 8601 puts a T between the two.
    let (first, rest) = words.split_first()?;
    let (date, clock) = first.split_once(['T', 't', '_'])?;
    let clock: Vec<&str> = std::iter::once(clock).chain(rest.iter().copied()).collect();
    Some((WrittenDate::of_numbers(date)?, WrittenClock::of_words(&clock)?))
}

/// Seconds since the first of January 1970, by the clock that the time is read from.
pub(super) fn seconds(day: Date, clock: WrittenClock) -> i64 {
    day.at(0, 0, 0, 0).duration_since(EPOCH).as_secs() + clock.seconds
}

/// The time so many seconds after the first of January 1970; `None` beyond the calendar.
pub(super) fn time_at(seconds: i64) -> Option<DateTime> {
    EPOCH.checked_add(jiff::SignedDuration::from_secs(seconds)).ok()
}

const EPOCH: DateTime = DateTime::constant(1970, 1, 1, 0, 0, 0, 0);

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split_whitespace()
        .map(|word| word.trim_end_matches(','))
        .filter(|word| !word.is_empty())
}

fn parts_of(word: &str) -> Option<[&str; 3]> {
    let separator = word.chars().find(|letter| matches!(letter, '-' | '/' | '.'))?;
    let mut parts = word.split(separator);
    let found = [parts.next()?, parts.next()?, parts.next()?];
    parts.next().is_none().then_some(found)
}

/// Up to four digits.
fn number(text: &str) -> Option<i16> {
    let is_number = (1..=4).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    if is_number { text.parse().ok() } else { None }
}

/// Which of these names a word is, whole or cut to three letters or more.
fn place_of(word: &str, names: &[&str]) -> Option<usize> {
    let word = word.trim_end_matches('.').to_lowercase();
    names
        .iter()
        .position(|name| word.len() >= 3 && name.starts_with(word.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::{date, datetime};

    fn at(text: &str, form: DateForm) -> Option<DateTime> {
        let (written, clock) = read_stamp(text)?;
        time_at(seconds(written.day(form)?, clock))
    }

    #[test]
    fn times_are_read_as_loggers_write_them() {
        let expected = Some(datetime(2025, 12, 1, 14, 30, 0, 0));
        for text in [
            "2025-12-01 14:30",
            "2025-12-01T14:30:00",
            "2025-12-01T14:30:00.000Z",
            "2025-12-01t14:30:00+01:00",
            "2025-12-01_14:30:00",
            "2025/12/1 2:30 PM",
            "20251201 14:30",
            "20251201T14:30:00",
            "1.12.2025 14:30:00",
            "01.12.25, 14:30",
            "01/12/2025 02:30:00 p.m.",
            "01-12-2025 2:30pm",
            "1/12/25 14:30:00,250",
            "1-Dec-2025 14:30",
            "1 December 2025 14:30",
            "Dec 1, 2025 2:30\u{202f}PM",
            "Mon Dec 1 2025 14:30 GMT+01:00",
            "Monday, 1. Dec. 2025 14:30 CET",
            "  2025-12-01   14:30  ",
        ] {
            assert_eq!(at(text, DateForm::DayFirst), expected, "{text}");
        }
        assert_eq!(at("12/01/2025 02:30:00 PM", DateForm::MonthFirst), expected);
        assert_eq!(at("25-12-01 14:30", DateForm::YearFirst), expected);
    }

    #[test]
    fn an_order_that_is_not_told_stays_open_and_a_told_one_does_not() {
        let both = |text| {
            let written = WrittenDate::read(text).unwrap();
            DateForm::ALL.map(|form| written.day(form))
        };
        let third_of_april = Some(date(2026, 4, 3));
        let fourth_of_march = Some(date(2026, 3, 4));
        assert_eq!(both("3/4/2026"), [third_of_april, fourth_of_march, None]);
        assert_eq!(both("3.4.2026"), [third_of_april; 3]);
        assert_eq!(both("2026-04-03"), [third_of_april; 3]);
        assert_eq!(both("3-Apr-26"), [third_of_april; 3]);
        assert_eq!(both("03/04/26"), [third_of_april, fourth_of_march, None]);
        assert_eq!(
            both("03-04-26"),
            [third_of_april, fourth_of_march, Some(date(2003, 4, 26))]
        );
        assert_eq!(both("26-04-03"), [Some(date(2003, 4, 26)), None, third_of_april]);
        assert_eq!(both("14/4/2026"), [Some(date(2026, 4, 14)), None, None]);
    }

    #[test]
    fn clocks_with_am_pm_and_offsets() {
        let read = |text| WrittenClock::read(text).map(|clock| (clock.seconds, clock.offset));
        assert_eq!(read("12:05 AM"), Some((300, None)));
        assert_eq!(read("12:05 PM"), Some((12 * 3600 + 300, None)));
        assert_eq!(read("24:00"), Some((86_400, None)));
        assert_eq!(read("00:00:01 -0530"), Some((1, Some(-330))));
        assert_eq!(read("00:00 UTC+2"), Some((0, Some(120))));
        assert_eq!(read("00:00Z"), Some((0, Some(0))));
        for text in [
            "",
            "14",
            "14.30",
            "25:00",
            "13:00 PM",
            "0:30 am",
            "12:60",
            "12:00 +",
            "12:00 +25:00",
            "1:2:3:4",
            "12:00 x",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_none() {
        for text in [
            "",
            "13.2",
            "55,1",
            "2025-12-01",
            "14:30",
            "soon",
            "2025-13-01",
            "1/2/3 10:00",
            "1/2/345 10:00",
            "-- 10:00",
            "May",
            "12-May 10:00",
        ] {
            assert_eq!(at(text, DateForm::DayFirst), None, "{text}");
        }
        assert_eq!(at("31/2/2025 10:00", DateForm::DayFirst), None);
        assert_eq!(at("1/1/1969 10:00", DateForm::DayFirst), None);
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "[0-9TZapmAPMDecMon:/.,+ é\u{202f}-]{0,24}") {
            for form in DateForm::ALL {
                at(&text, form);
            }
        }
    }
}
