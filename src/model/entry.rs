//! Reading what a grower types, pastes or imports.

use super::ear::{MOST_EAR_NUMBER, MOST_HEAT_UNITS_C, MOST_MATURITY_DAYS};
use super::ids::{TestId, TraitId, TrayId};
use super::packet::MOST_KERNELS;
use super::problem::{Fault, check_number, check_text};
use super::project::Project;
use jiff::civil::{Date, DateTime, Time};
use std::collections::{BTreeMap, BTreeSet};

/// Which number comes first in a date such as 3/4/2026.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DateOrder {
    /// Not said: such a date is refused unless only one reading exists.
    #[default]
    Unknown,
    /// The day.
    DayFirst,
    /// The month.
    MonthFirst,
}

/// Reads a date: `2026-09-14`, `14.9.2026`, or with slashes when the order is clear or given.
pub fn read_date(text: &str, order: DateOrder) -> Result<Date, Fault> {
    let text = text.trim();
    let wrong = || Fault::NotADate {
        text: text.to_owned(),
    };
    let separator = text
        .chars()
        .find(|letter| !letter.is_ascii_digit())
        .ok_or_else(wrong)?;
    let parts: Vec<&str> = text.split(separator).collect();
    let [first, second, third] = parts.as_slice() else {
        return Err(wrong());
    };
    let number = |part: &str| part.parse::<i16>().ok().filter(|number| *number >= 0);
    let (Some(one), Some(two), Some(three)) = (number(first), number(second), number(third)) else {
        return Err(wrong());
    };
    let date = |year: i16, month: i16, day: i16| -> Result<Date, Fault> {
        let small = |number: i16| i8::try_from(number).ok();
        let (Some(month), Some(day)) = (small(month), small(day)) else {
            return Err(wrong());
        };
        if !(1800..=2200).contains(&year) {
            return Err(wrong());
        }
        Date::new(year, month, day).ok().ok_or_else(wrong)
    };
    if first.len() == 4 {
        return date(one, two, three);
    }
    if third.len() != 4 {
        return Err(wrong());
    }
    match (separator, order) {
        ('.', _) | (_, DateOrder::DayFirst) => date(three, two, one),
        (_, DateOrder::MonthFirst) => date(three, one, two),
        (_, DateOrder::Unknown) => match (date(three, two, one), date(three, one, two)) {
            (Ok(day_first), Ok(month_first)) if day_first != month_first => Err(Fault::AmbiguousDate {
                text: text.to_owned(),
            }),
            (Ok(date), _) | (Err(_), Ok(date)) => Ok(date),
            (Err(fault), Err(_)) => Err(fault),
        },
    }
}

/// Reads a time such as `2026-09-14 18:30`, its date as [`read_date`] does.
pub fn read_time(text: &str, order: DateOrder) -> Result<DateTime, Fault> {
    let text = text.trim();
    let wrong = || {
        Fault::Mismatch(format!(
            "'{text}' is not a time that exists; type a day and a time of the day such as 2026-09-14 18:30"
        ))
    };
    let (date, clock) = text.split_once([' ', 'T']).ok_or_else(wrong)?;
    let clock = clock.trim();
    let (hour, minute) = clock.split_once(':').ok_or_else(wrong)?;
    let number = |part: &str| -> Option<i8> {
        let is_number = (1..=2).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        if is_number { part.parse().ok() } else { None }
    };
    let minute = minute.strip_suffix(":00").unwrap_or(minute);
    let (Some(hour), Some(minute)) = (number(hour), number(minute)) else {
        return Err(wrong());
    };
    let clock = Time::new(hour, minute, 0, 0).ok().ok_or_else(wrong)?;
    Ok(read_date(date, order)?.to_datetime(clock))
}

/// Reads numbers of trays of a test such as `1-3, 7`; none for all, which `all` says too.
pub fn read_trays(project: &Project, test: TestId, text: &str) -> Result<Vec<TrayId>, Fault> {
    if text.trim().eq_ignore_ascii_case("all") {
        return Ok(Vec::new());
    }
    let known: BTreeMap<u16, TrayId> = project
        .trays_of(test)
        .map(|tray| (tray.number, tray.id))
        .collect();
    let mut trays: Vec<TrayId> = Vec::new();
    for part in text.split([',', ';', ' ']).filter(|part| !part.is_empty()) {
        let (first, last) = part.split_once(['-', '–']).unwrap_or((part, part));
        let (Ok(first), Ok(last)) = (first.trim().parse::<u16>(), last.trim().parse::<u16>()) else {
            return Err(Fault::Mismatch(format!(
                "'{part}' is not a tray or a range of trays; type numbers such as 1-3, 7"
            )));
        };
        if last < first {
            return Err(Fault::Mismatch(format!(
                "the trays '{part}' run backwards; type {last}-{first}"
            )));
        }
        if let Some(missing) = [first, last].iter().find(|number| !known.contains_key(number)) {
            let all = super::words::plural(known.len(), "tray");
            return Err(Fault::Mismatch(format!(
                "this test has no tray {missing}; it has {all}, look at their numbers"
            )));
        }
        for (_, tray) in known.range(first..=last) {
            if !trays.contains(tray) {
                trays.push(*tray);
            }
        }
    }
    Ok(trays)
}

/// Writes trays as [`read_trays`] reads them: `1-3, 7`; nothing for all.
pub fn trays_typed(project: &Project, trays: &[TrayId]) -> String {
    let numbers: BTreeSet<u16> = trays
        .iter()
        .filter_map(|tray| project.trays.get(*tray))
        .map(|tray| tray.number)
        .collect();
    let mut runs: Vec<(u16, u16)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if number == last.saturating_add(1) => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let written = |(first, last): (u16, u16)| {
        if first == last {
            first.to_string()
        } else {
            format!("{first}-{last}")
        }
    };
    runs.into_iter().map(written).collect::<Vec<_>>().join(", ")
}

/// The most minutes by which a clock is corrected: a logger whose battery was empty may begin decades ago.
const MOST_CLOCK_MINUTES: i32 = 60 * 24 * 366 * 60;

/// Reads by how much a clock is corrected, in minutes: `90`, `-1:30`, or the true time of its first reading such as
/// `2026-02-03 18:00`; nothing for a clock that was right.
pub fn read_clock_shift(text: &str, first: DateTime) -> Result<i32, Fault> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(0);
    }
    let wrong = || {
        Fault::Mismatch(format!(
            "'{text}' does not tell how wrong the clock was; type minutes such as 60 or -60, hours such as -1:30, or the true time of the first reading such as 2026-02-03 18:00"
        ))
    };
    let (sign, digits) = match text.strip_prefix('+') {
        Some(rest) => (1, rest),
        None => text
            .strip_prefix(['-', '−', '–'])
            .map_or((1, text), |rest| (-1, rest)),
    };
    let number = |part: &str| -> Option<i64> {
        let is_number = (1..=8).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        if is_number { part.parse().ok() } else { None }
    };
    let minutes = if let Some(minutes) = number(digits) {
        sign * minutes
    } else if let Some((hours, minutes)) = digits
        .split_once(':')
        .and_then(|(hours, minutes)| Some((number(hours)?, number(minutes)?)))
    {
        if minutes >= 60 {
            return Err(wrong());
        }
        sign * (60 * hours + minutes)
    } else {
        let meant = read_time(text, DateOrder::Unknown).map_err(|fault| match fault {
            Fault::AmbiguousDate { .. } => fault,
            _ => wrong(),
        })?;
        meant.duration_since(first).as_secs().div_euclid(60)
    };
    let most = i64::from(MOST_CLOCK_MINUTES);
    i32::try_from(minutes)
        .ok()
        .filter(|_| (-most..=most).contains(&minutes))
        .ok_or_else(wrong)
}

/// Reads a number with a decimal point or a decimal comma; no other letters, no separators of thousands.
pub fn read_number(what: &str, text: &str) -> Result<f64, Fault> {
    let text = text.trim();
    let wrong = || Fault::NotANumber {
        what: what.to_owned(),
        text: text.to_owned(),
    };
    let plain = text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b',' | b'-' | b'+'));
    if !plain || text.matches([',', '.']).count() > 1 {
        return Err(wrong());
    }
    let number: f64 = text.replace(',', ".").parse().ok().ok_or_else(wrong)?;
    check_number(what, number, f64::MIN, f64::MAX)?;
    Ok(number)
}

/// Reads a whole number from 0 to a limit.
pub fn read_whole(what: &str, text: &str, most: u32) -> Result<u32, Fault> {
    let number = read_number(what, text)?;
    check_number(what, number, 0.0, f64::from(most))?;
    if number.fract() != 0.0 {
        return Err(Fault::NotANumber {
            what: format!("{what} (a whole number)"),
            text: text.trim().to_owned(),
        });
    }
    Ok(number as u32)
}

/// Reads a yes or a no.
pub fn read_yes_or_no(text: &str) -> Result<bool, Fault> {
    match text.trim().to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" => Ok(true),
        "no" | "n" | "false" | "0" => Ok(false),
        other => Err(Fault::Mismatch(format!(
            "'{other}' is neither yes nor no; type yes or no, or leave the cell empty where nobody knows"
        ))),
    }
}

/// Writes a yes or a no as [`read_yes_or_no`] reads it.
pub fn yes_or_no(flag: bool) -> &'static str {
    if flag { "yes" } else { "no" }
}

/// A column of the harvest table that can be typed into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EarField {
    /// The ear's number within the season.
    Number,
    /// The label of its mother row.
    Row,
    /// The day when its plant was planted.
    Planted,
    /// The day when it matured.
    Matured,
    /// Days from planting to maturity.
    MaturityDays,
    /// Heat units from planting to maturity.
    HeatUnits,
    /// The day when it was picked.
    Picked,
    /// Whether frost reached it.
    Frosted,
    /// Kernels in its packet.
    Kernels,
    /// Where its packet lies.
    Location,
    /// The storage place that its packet is kept in.
    Store,
    /// The batch in which it was dried.
    Batch,
    /// A free note.
    Note,
    /// A trait.
    Trait(TraitId),
}

impl EarField {
    /// The fields that every project has, in the order of the harvest table.
    pub const FIXED: [Self; 12] = [
        Self::Number,
        Self::Row,
        Self::Planted,
        Self::Matured,
        Self::MaturityDays,
        Self::HeatUnits,
        Self::Picked,
        Self::Frosted,
        Self::Kernels,
        Self::Location,
        Self::Batch,
        Self::Note,
    ];

    /// Gives the fields that a project has: the fixed ones, the storage place where there are places, the traits.
    pub fn all(project: &Project) -> Vec<Self> {
        let store = (!project.stores.is_empty()).then_some(Self::Store);
        let traits = project.traits.iter().map(|known| Self::Trait(known.id));
        Self::FIXED.into_iter().chain(store).chain(traits).collect()
    }

    /// Names the field as its column is headed.
    pub fn title(self, project: &Project) -> String {
        match self {
            Self::Number => "Ear number".to_owned(),
            Self::Row => "Mother row".to_owned(),
            Self::Planted => "Planted".to_owned(),
            Self::Matured => "Matured".to_owned(),
            Self::MaturityDays => "Maturity days".to_owned(),
            Self::HeatUnits => format!("Heat units ({} days)", project.about.units.temperature.sign()),
            Self::Picked => "Picked".to_owned(),
            Self::Frosted => "Frosted".to_owned(),
            Self::Kernels => "Kernels".to_owned(),
            Self::Location => "Packet place".to_owned(),
            Self::Store => "Stored in".to_owned(),
            Self::Batch => "Drying batch".to_owned(),
            Self::Note => "Note".to_owned(),
            Self::Trait(id) => project
                .traits
                .get(id)
                .map_or_else(|| "Trait".to_owned(), super::Trait::title),
        }
    }

    /// Reads what was typed into the field. An empty text empties the field.
    pub fn read(self, text: &str, order: DateOrder, project: &Project) -> Result<EarValue, Fault> {
        let text = text.trim();
        if text.is_empty() {
            return match self {
                Self::Number => Err(Fault::EarNumberZero),
                _ => Ok(EarValue::Empty),
            };
        }
        match self {
            Self::Number => {
                let number = read_whole("the ear number", text, MOST_EAR_NUMBER)?;
                if number == 0 {
                    Err(Fault::EarNumberZero)
                } else {
                    Ok(EarValue::Whole(number))
                }
            }
            Self::Planted | Self::Matured | Self::Picked => read_date(text, order).map(EarValue::Date),
            Self::MaturityDays => {
                let days = read_whole("maturity days", text, u32::from(MOST_MATURITY_DAYS))?;
                check_number(
                    "maturity days",
                    f64::from(days),
                    1.0,
                    f64::from(MOST_MATURITY_DAYS),
                )?;
                Ok(EarValue::Whole(days))
            }
            Self::HeatUnits => {
                let unit = project.about.units.temperature;
                let heat = unit.difference_to_celsius(read_number("heat units", text)?);
                check_number("heat units", heat, 0.0, MOST_HEAT_UNITS_C)?;
                Ok(EarValue::Number(heat))
            }
            Self::Frosted => read_yes_or_no(text).map(EarValue::Flag),
            Self::Kernels => read_whole("kernels", text, MOST_KERNELS).map(EarValue::Whole),
            Self::Store => Ok(EarValue::Text(project.known_store(text)?.name.clone())),
            Self::Row | Self::Location | Self::Batch | Self::Note => {
                check_text("the text", text)?;
                Ok(EarValue::Text(text.to_owned()))
            }
            Self::Trait(id) => {
                let known = project.traits.get(id).ok_or(Fault::Dangling {
                    kind: "trait",
                    id: id.0,
                })?;
                let value = read_number(&known.name, text)?;
                known.check_value(value)?;
                Ok(EarValue::Number(value))
            }
        }
    }
}

/// What is put into a field of an ear.
#[derive(Debug, Clone, PartialEq)]
pub enum EarValue {
    /// Nothing: the field is emptied.
    Empty,
    /// A whole number.
    Whole(u32),
    /// A number.
    Number(f64),
    /// A date.
    Date(Date),
    /// A text.
    Text(String),
    /// Yes or no.
    Flag(bool),
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn dates_are_read_when_only_one_reading_exists() {
        let read = |text| read_date(text, DateOrder::Unknown);
        assert_eq!(read("2026-09-14"), Ok(date(2026, 9, 14)));
        assert_eq!(read(" 2026/9/4 "), Ok(date(2026, 9, 4)));
        assert_eq!(read("14.9.2026"), Ok(date(2026, 9, 14)));
        assert_eq!(read("9/14/2026"), Ok(date(2026, 9, 14)));
        assert_eq!(read("14/9/2026"), Ok(date(2026, 9, 14)));
        assert_eq!(read("9/9/2026"), Ok(date(2026, 9, 9)));
        assert!(matches!(read("3/4/2026"), Err(Fault::AmbiguousDate { .. })));
        assert_eq!(read_date("3/4/2026", DateOrder::DayFirst), Ok(date(2026, 4, 3)));
        assert_eq!(read_date("3/4/2026", DateOrder::MonthFirst), Ok(date(2026, 3, 4)));
    }

    #[test]
    fn times_are_read_to_the_minute() {
        let read = |text| read_time(text, DateOrder::Unknown);
        let expected = Ok(date(2026, 9, 14).at(18, 5, 0, 0));
        for text in [
            "2026-09-14 18:05",
            " 14.9.2026  18:05 ",
            "9/14/2026 18:05:00",
            "2026-09-14T18:05",
        ] {
            assert_eq!(read(text), expected, "{text}");
        }
        for text in [
            "",
            "2026-09-14",
            "18:05",
            "2026-09-14 24:05",
            "2026-09-14 18",
            "2026-02-30 18:05",
            "2026-09-14 18:5x",
        ] {
            assert!(read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_clock_is_corrected_by_minutes_hours_or_the_true_time() {
        let first = date(2026, 2, 3).at(18, 0, 0, 0);
        let read = |text| read_clock_shift(text, first);
        for (text, minutes) in [
            ("", 0),
            (" 60 ", 60),
            ("-60", -60),
            ("+90", 90),
            ("1:30", 90),
            ("−1:30", -90),
            ("-0:05", -5),
            ("2026-02-03 17:00", -60),
            ("4.2.2026 18:01", 24 * 60 + 1),
            ("0", 0),
        ] {
            assert_eq!(read(text), Ok(minutes), "{text}");
        }
        for text in [
            "x",
            "1:60",
            "1h",
            "--1",
            "1:2:3",
            "99999999",
            "2026-02-30 10:00",
            "1.5",
        ] {
            let said = read(text).expect_err(text).to_string();
            assert!(said.contains("type minutes"), "{text}: {said}");
        }
        assert!(matches!(read("3/4/2026 10:00"), Err(Fault::AmbiguousDate { .. })));
    }

    #[test]
    fn dates_that_do_not_exist_are_refused() {
        for text in [
            "",
            "soon",
            "2026-02-30",
            "2026-13-01",
            "31.4.2026",
            "2026-09",
            "26-9-1",
            "0000-01-01",
            "1-2-3-4",
            "2026--1-1",
        ] {
            assert!(
                matches!(read_date(text, DateOrder::Unknown), Err(Fault::NotADate { .. })),
                "{text}"
            );
        }
    }

    #[test]
    fn numbers_take_a_decimal_point_or_comma_and_nothing_else() {
        assert_eq!(read_number("x", "1,5"), Ok(1.5));
        assert_eq!(read_number("x", "-2.25"), Ok(-2.25));
        for text in ["", "1,234.5", "1e3", "NaN", "inf", "1 2", "--1", "12 cm", "1.2.3"] {
            assert!(read_number("x", text).is_err(), "{text}");
        }
        assert!(read_whole("x", "2.5", 10).is_err());
        assert!(read_whole("x", "11", 10).is_err());
        assert!(read_whole("x", "-1", 10).is_err());
        assert_eq!(read_whole("x", "10", 10), Ok(10));
    }
}
