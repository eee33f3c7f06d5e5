//! Putting numbers into sentences.

use crate::model::{EarId, LengthUnit, Project, TemperatureUnit};
pub use crate::model::{capital, plural};
use jiff::civil::Date;

/// How many ears a sentence names one by one.
const MOST_NAMED: usize = 8;

/// Says `1 ear is`, `2 ears are`.
pub fn are(count: usize, one: &str) -> String {
    format!("{} {}", plural(count, one), if count == 1 { "is" } else { "are" })
}

/// Writes a percent with one digit after the point, or with none where it is whole.
pub fn percent(percent: f64) -> String {
    let tenths = (percent * 10.0).round() / 10.0;
    format!("{tenths} %")
}

/// Writes a percent without digits after the point.
pub fn whole(percent: f64) -> String {
    format!("{percent:.0} %")
}

/// Names things one by one and says how many more there are: `3, 7, 9 and 12 more`.
pub fn some_of<T: ToString>(items: &[T]) -> String {
    // 'and 1 more' would take as much room as the one thing itself.
    let named = if items.len() > MOST_NAMED + 1 {
        MOST_NAMED
    } else {
        items.len()
    };
    let names: Vec<String> = items[..named].iter().map(ToString::to_string).collect();
    let rest = items.len() - named;
    match (names.as_slice(), rest) {
        ([first @ .., last], 0) if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        (_, 0) => names.join(", "),
        _ => format!("{} and {rest} more", names.join(", ")),
    }
}

/// Names ears by their numbers: `ear 3`, `ears 3, 7 and 9`.
pub fn ears(project: &Project, ears: &[EarId]) -> String {
    let numbers: Vec<u32> = ears
        .iter()
        .filter_map(|id| project.ears.get(*id))
        .map(|ear| ear.number)
        .collect();
    let kind = if numbers.len() == 1 { "ear" } else { "ears" };
    format!("{kind} {}", some_of(&numbers))
}

/// Names trays by number: `tray 3`, `trays 1 to 4 and 6`.
pub fn trays_text(numbers: impl IntoIterator<Item = u16>) -> String {
    let mut runs: Vec<(u16, u16)> = Vec::new();
    let mut count = 0;
    for number in numbers {
        count += 1;
        match runs.last_mut() {
            Some((_, last)) if number == last.saturating_add(1) => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let parts: Vec<String> = runs
        .iter()
        .flat_map(|(first, last)| match last - first {
            0 => vec![first.to_string()],
            1 => vec![first.to_string(), last.to_string()],
            _ => vec![format!("{first} to {last}")],
        })
        .collect();
    let kind = if count == 1 { "tray" } else { "trays" };
    match parts.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{kind} {} and {last}", first.join(", ")),
        _ => format!("{kind} {}", parts.join("")),
    }
}

/// Makes the first letter small.
pub fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Writes a temperature with its unit.
pub fn temperature(celsius: f64, unit: TemperatureUnit) -> String {
    format!("{} {}", tenths(unit.of_celsius(celsius)), unit.sign())
}

/// Writes how far two temperatures are apart, with the unit.
pub fn temperature_difference(celsius: f64, unit: TemperatureUnit) -> String {
    let degrees = unit.of_celsius(celsius) - unit.of_celsius(0.0);
    format!("{} {}", tenths(degrees), unit.sign())
}

/// Writes spans of days, such as `2026-05-03 and 2026-05-09 to 2026-05-11`, the first few of them.
pub fn day_spans(spans: &[(Date, Date)]) -> String {
    let span = |(from, to): &(Date, Date)| {
        if from == to {
            from.to_string()
        } else {
            format!("{from} to {to}")
        }
    };
    some_of(&spans.iter().map(span).collect::<Vec<String>>())
}

/// Writes a length of a field in feet or metres.
pub fn long_length(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Inches => format!("{} ft", tenths(mm / (12.0 * unit.millimetres()))),
        LengthUnit::Centimetres => format!("{} m", tenths(mm / 1000.0)),
    }
}

/// Writes a number with one digit after the point, or with none where it is whole.
pub fn tenths(value: f64) -> String {
    // Adding nothing turns a rounded -0 into 0.
    ((value * 10.0).round() / 10.0 + 0.0).to_string()
}

/// Compares texts so that numbers inside them count as numbers: 2 before 10, A2 before A10.
pub fn natural(a: &str, b: &str) -> std::cmp::Ordering {
    let (mut left, mut right) = (a, b);
    loop {
        let (first, second) = match (next_part(&mut left), next_part(&mut right)) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => return std::cmp::Ordering::Less,
            (Some(_), None) => return std::cmp::Ordering::Greater,
            (Some(first), Some(second)) => (first, second),
        };
        let order = first.cmp(&second);
        if order.is_ne() {
            return order;
        }
    }
}

/// A run of digits without its leading zeros, by length and then by digits; or one other letter. Digits come first.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Part<'a> {
    Digits(usize, &'a str),
    Letter(char),
}

fn next_part<'a>(text: &mut &'a str) -> Option<Part<'a>> {
    let first = text.chars().next()?;
    if !first.is_ascii_digit() {
        *text = &text[first.len_utf8()..];
        return Some(Part::Letter(first.to_lowercase().next().unwrap_or(first)));
    }
    let end = text.bytes().take_while(u8::is_ascii_digit).count();
    let digits = text[..end].trim_start_matches('0');
    *text = &text[end..];
    Some(Part::Digits(digits.len(), digits))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_sort_as_a_person_would() {
        let mut labels = vec!["10", "2", "B2", "a10", "a9", "", "07", "7b", "7"];
        labels.sort_by(|a, b| natural(a, b));
        assert_eq!(labels, ["", "2", "07", "7", "7b", "10", "a9", "a10", "B2"]);
    }

    #[test]
    fn long_lists_are_cut() {
        assert_eq!(some_of(&[3]), "3");
        assert_eq!(some_of(&[3, 7]), "3 and 7");
        assert_eq!(
            some_of(&[1, 2, 3, 4, 5, 6, 7, 8, 9]),
            "1, 2, 3, 4, 5, 6, 7, 8 and 9"
        );
        assert_eq!(
            some_of(&(1..=20).collect::<Vec<_>>()),
            "1, 2, 3, 4, 5, 6, 7, 8 and 12 more"
        );
    }

    #[test]
    fn trays_are_named_in_runs() {
        assert_eq!(trays_text([3]), "tray 3");
        assert_eq!(trays_text([3, 4]), "trays 3 and 4");
        assert_eq!(trays_text([1, 2, 3, 4, 6]), "trays 1 to 4 and 6");
        assert_eq!(trays_text([1, 3, 4, 9]), "trays 1, 3, 4 and 9");
    }

    /// 0 °C is 32 °F, and one degree of Celsius is 1.8 of Fahrenheit, by the definition of the scales.
    #[test]
    fn temperatures_and_what_lies_between_them_have_the_grower_s_unit() {
        let both = |write: fn(f64, TemperatureUnit) -> String, celsius| {
            [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit].map(|unit| write(celsius, unit))
        };
        assert_eq!(both(temperature, 0.0), ["0 °C", "32 °F"]);
        assert_eq!(both(temperature, 13.04), ["13 °C", "55.5 °F"]);
        assert_eq!(both(temperature_difference, 2.2), ["2.2 °C", "4 °F"]);
        assert_eq!(temperature(-0.01, TemperatureUnit::Celsius), "0 °C");
    }

    #[test]
    fn percents_show_a_digit_only_where_there_is_one() {
        assert_eq!(percent(80.0), "80 %");
        assert_eq!(percent(1100.0 / 15.0), "73.3 %");
        assert_eq!(plural(1, "ear"), "1 ear");
        assert_eq!(plural(0, "ear"), "0 ears");
    }
}
