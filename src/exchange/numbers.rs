//! Reading numbers that people typed, with a decimal point or a decimal comma.
//!
//! The rule, in full. A number is digits with at most one sign, one decimal mark and one exponent; marks between
//! thousands are never accepted. A mark is *certainly* decimal when it is followed by other than three digits, or
//! when what stands before it cannot be a group of thousands (nothing, `0`, a leading zero, more than three digits).
//! `1,5` and `0.250` are certain; `1,234` and `1.234` are not. A file whose certain numbers all use one mark is read
//! with that mark, and a number with the other mark is refused. Where the file does not tell, certain numbers are
//! read as they stand and the others are refused with a sentence that says how to write them.

use thiserror::Error;

/// The decimal mark that a text is read with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DecimalMark {
    /// `1.5`; a comma in a number is refused.
    Point,
    /// `1,5`; a point in a number is refused.
    Comma,
    /// Not known: numbers that can be read in one way only are read, the others are refused.
    #[default]
    Unsure,
}

/// A cell that is not the number that was wanted. Displays as one sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NumberFault {
    /// Not digits with at most one mark; holds the text.
    #[error("'{0}' is not a number. Write digits only, such as 12 or 12.5")]
    NotANumber(String),
    /// A point and a comma, or one of them twice; holds the text.
    #[error("'{0}' has marks between thousands. Write it without them, such as 1234.5")]
    Thousands(String),
    /// The other decimal mark than the rest of the file.
    #[error(
        "'{text}' is written with a decimal {found}, but the file is read with a decimal {expected}. Write it with a {expected}, or choose the decimal {found}"
    )]
    OtherMark {
        /// The cell.
        text: String,
        /// `point` or `comma`, as found.
        found: &'static str,
        /// `point` or `comma`, as expected.
        expected: &'static str,
    },
    /// One group of three digits after the mark, in a file that does not tell which mark it uses.
    #[error(
        "'{text}' can be read as {thousands} or as {decimal}. Say which decimal mark the file uses, or write {thousands} or {decimal}0"
    )]
    Ambiguous {
        /// The cell.
        text: String,
        /// The number if the mark stands between thousands.
        thousands: String,
        /// The number if the mark is decimal.
        decimal: String,
    },
    /// Beyond the range of numbers; holds the text.
    #[error("'{0}' is too large to be a measurement. Correct it")]
    TooLarge(String),
    /// A fraction where a whole number is wanted; holds the text.
    #[error("'{0}' is not a whole number. Write a whole number, such as 12")]
    NotWhole(String),
    /// Below zero where a count is wanted; holds the text.
    #[error("'{0}' is below zero. Write 0 or more")]
    Negative(String),
}

/// Reads a finite number; surrounding spaces do not count.
///
/// # Errors
/// Text that is not a number, is not finite, or can be read in two ways: see the rule of this module.
pub fn read_number(text: &str, mark: DecimalMark) -> Result<f64, NumberFault> {
    let text = text.trim();
    let shape = Shape::of(text)?;
    let point_text = shape.with_point(mark)?;
    let value: f64 = point_text
        .parse()
        .map_err(|_error| NumberFault::NotANumber(text.to_owned()))?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err(NumberFault::TooLarge(text.to_owned()))
    }
}

/// Reads a count: a whole number from 0 to 4,294,967,295, also when it is written `12.0`.
///
/// # Errors
/// As [`read_number`], and a number that is not whole, below zero or too large.
pub fn read_count(text: &str, mark: DecimalMark) -> Result<u32, NumberFault> {
    let value = read_number(text, mark)?;
    let text = text.trim().to_owned();
    if value < 0.0 {
        return Err(NumberFault::Negative(text));
    }
    if value > f64::from(u32::MAX) {
        return Err(NumberFault::TooLarge(text));
    }
    if value.fract() == 0.0 {
        Ok(value as u32)
    } else {
        Err(NumberFault::NotWhole(text))
    }
}

/// Guesses the decimal mark from many cells: the one mark that all certainly decimal numbers use, otherwise
/// [`DecimalMark::Unsure`].
pub fn guess_decimal_mark<'a>(cells: impl IntoIterator<Item = &'a str>) -> DecimalMark {
    let (mut points, mut commas) = (false, false);
    for cell in cells {
        let Ok(shape) = Shape::of(cell.trim()) else {
            continue;
        };
        match shape.mark {
            Some('.') if shape.certain() => points = true,
            Some(',') if shape.certain() => commas = true,
            _ => {}
        }
    }
    match (points, commas) {
        (true, false) => DecimalMark::Point,
        (false, true) => DecimalMark::Comma,
        _ => DecimalMark::Unsure,
    }
}

/// Whether the text is a plain number with either mark, in which no spreadsheet sees a formula.
pub fn is_plain_number(text: &str) -> bool {
    Shape::of(text).is_ok()
}

/// A number taken apart: sign, digits before the mark, mark, digits after it, exponent with its letter.
struct Shape<'a> {
    text: &'a str,
    negative: bool,
    before: &'a str,
    mark: Option<char>,
    after: &'a str,
    exponent: &'a str,
}

impl<'a> Shape<'a> {
    fn of(text: &'a str) -> Result<Self, NumberFault> {
        let not_a_number = || NumberFault::NotANumber(text.to_owned());
        let unsigned = text.strip_prefix(['-', '+', '\u{2212}']).unwrap_or(text);
        let (mantissa, exponent) = unsigned
            .find(['e', 'E'])
            .map_or((unsigned, ""), |at| unsigned.split_at(at));
        if !exponent.is_empty() && !exponent_is_whole(exponent) {
            return Err(not_a_number());
        }
        let marks = mantissa.chars().filter(|c| matches!(c, '.' | ',')).count();
        let digits = mantissa.chars().filter(char::is_ascii_digit).count();
        if digits == 0 || digits + marks != mantissa.chars().count() {
            return Err(not_a_number());
        }
        if marks > 1 {
            return Err(NumberFault::Thousands(text.to_owned()));
        }
        let (before, after) = mantissa.split_once(['.', ',']).unwrap_or((mantissa, ""));
        let mark = mantissa.chars().find(|c| matches!(c, '.' | ','));
        let negative = text.starts_with(['-', '\u{2212}']);
        Ok(Self {
            text,
            negative,
            before,
            mark,
            after,
            exponent,
        })
    }

    /// Whether the mark cannot stand between thousands.
    fn certain(&self) -> bool {
        self.after.len() != 3
            || self.before.is_empty()
            || self.before.len() > 3
            || self.before.starts_with('0')
    }

    /// The number with a decimal point, as the standard library reads it.
    fn with_point(&self, expected: DecimalMark) -> Result<String, NumberFault> {
        let sign = if self.negative { "-" } else { "" };
        let other = |found, expected| NumberFault::OtherMark {
            text: self.text.to_owned(),
            found,
            expected,
        };
        match (self.mark, expected) {
            (Some(','), DecimalMark::Point) => return Err(other("comma", "point")),
            (Some('.'), DecimalMark::Comma) => return Err(other("point", "comma")),
            (Some(mark), DecimalMark::Unsure) if !self.certain() => {
                return Err(NumberFault::Ambiguous {
                    text: self.text.to_owned(),
                    thousands: format!("{sign}{}{}", self.before, self.after),
                    decimal: format!("{sign}{}{mark}{}", self.before, self.after),
                });
            }
            _ => {}
        }
        Ok(format!("{sign}{}.{}{}", self.before, self.after, self.exponent))
    }
}

fn exponent_is_whole(exponent: &str) -> bool {
    let digits = exponent[1..].strip_prefix(['-', '+']).unwrap_or(&exponent[1..]);
    !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_mark_reads_its_own_numbers_and_refuses_the_other() {
        assert_eq!(read_number(" 101.5 ", DecimalMark::Point), Ok(101.5));
        assert_eq!(read_number("101,5", DecimalMark::Comma), Ok(101.5));
        assert_eq!(read_number("1,234", DecimalMark::Comma), Ok(1.234));
        assert_eq!(read_number("\u{2212}2,5e2", DecimalMark::Comma), Ok(-250.0));
        assert_eq!(read_number(".5", DecimalMark::Point), Ok(0.5));
        assert_eq!(read_number("5.", DecimalMark::Point), Ok(5.0));
        let fault = read_number("1,5", DecimalMark::Point).unwrap_err();
        assert!(fault.to_string().contains("decimal comma"), "{fault}");
        assert!(matches!(
            read_number("1.5", DecimalMark::Comma),
            Err(NumberFault::OtherMark { .. })
        ));
    }

    #[test]
    fn an_unsure_file_reads_what_has_one_meaning_and_asks_about_the_rest() {
        assert_eq!(read_number("1,5", DecimalMark::Unsure), Ok(1.5));
        assert_eq!(read_number("1.5", DecimalMark::Unsure), Ok(1.5));
        assert_eq!(read_number("0,250", DecimalMark::Unsure), Ok(0.25));
        assert_eq!(read_number("1234,567", DecimalMark::Unsure), Ok(1234.567));
        let fault = read_number("1,234", DecimalMark::Unsure).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "'1,234' can be read as 1234 or as 1,234. Say which decimal mark the file uses, or write 1234 or 1,2340"
        );
        // What the sentence proposes is read without doubt.
        assert_eq!(read_number("1,2340", DecimalMark::Unsure), Ok(1.234));
    }

    #[test]
    fn what_is_not_finite_or_not_a_number_is_refused() {
        for text in [
            "NaN",
            "inf",
            "-infinity",
            "",
            " ",
            "-",
            ".",
            "e5",
            "1e",
            "1e+",
            "12a",
            "1 2",
            "0x10",
            "--1",
            "٣",
        ] {
            assert!(
                matches!(
                    read_number(text, DecimalMark::Unsure),
                    Err(NumberFault::NotANumber(_))
                ),
                "{text}"
            );
        }
        assert_eq!(
            read_number("1e999", DecimalMark::Point),
            Err(NumberFault::TooLarge("1e999".to_owned()))
        );
        assert!(matches!(
            read_number("1.234,5", DecimalMark::Comma),
            Err(NumberFault::Thousands(_))
        ));
        assert!(matches!(
            read_number("1,234,567", DecimalMark::Point),
            Err(NumberFault::Thousands(_))
        ));
    }

    #[test]
    fn counts_are_whole_and_not_below_zero() {
        assert_eq!(read_count("10", DecimalMark::Point), Ok(10));
        assert_eq!(read_count("10,0", DecimalMark::Comma), Ok(10));
        assert_eq!(
            read_count("-3", DecimalMark::Point),
            Err(NumberFault::Negative("-3".to_owned()))
        );
        assert_eq!(
            read_count("2.5", DecimalMark::Point),
            Err(NumberFault::NotWhole("2.5".to_owned()))
        );
        assert_eq!(
            read_count("5000000000", DecimalMark::Point),
            Err(NumberFault::TooLarge("5000000000".to_owned()))
        );
    }

    #[test]
    fn the_guess_follows_only_certain_numbers() {
        assert_eq!(guess_decimal_mark(["7", "101,5", "1,234"]), DecimalMark::Comma);
        assert_eq!(guess_decimal_mark(["7", "101.5"]), DecimalMark::Point);
        assert_eq!(guess_decimal_mark(["1,234", "7"]), DecimalMark::Unsure);
        assert_eq!(guess_decimal_mark(["1.5", "1,5"]), DecimalMark::Unsure);
        assert_eq!(guess_decimal_mark(["2026.09.14", "a,b"]), DecimalMark::Unsure);
    }
}
