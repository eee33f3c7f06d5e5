//! Lengths and temperatures as growers type them: in their own unit, with fractions.

use crate::model::{LengthUnit, MM_PER_INCH, TemperatureUnit, read_number};

/// A quantity in a text field: the text, and the exact value it was written from, so that showing a value in
/// another unit and going back changes nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Measured {
    /// What stands in the field.
    pub text: String,
    written: String,
    value: f64,
}

impl Measured {
    /// Writes a value into the field.
    pub fn new(text: String, value: f64) -> Self {
        Self {
            written: text.clone(),
            text,
            value,
        }
    }

    /// Gives the value of the field: the exact one while the text stands as it was written.
    pub fn read(&self, parse: impl Fn(&str) -> Option<f64>) -> Option<f64> {
        if self.text == self.written {
            return Some(self.value);
        }
        parse(&self.text)
    }

    /// [`Measured::read`] for a field that may be left empty.
    pub fn read_typed(&self, parse: impl Fn(&str) -> Option<f64>) -> Option<f64> {
        (!self.text.trim().is_empty()).then(|| self.read(parse)).flatten()
    }
}

/// Reads a length in millimetres: `1 1/4`, `1¼`, `1.25`, `1,25`; in the given unit unless the text names one
/// (`in`, `"`, `cm`, `mm`).
pub(super) fn read_length(text: &str, unit: LengthUnit) -> Option<f64> {
    let text = text.trim();
    let units = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
    ];
    for (sign, millimetres) in units {
        if let Some(number) = text.strip_suffix(sign) {
            return read_mixed(number).map(|number| number * millimetres);
        }
    }
    read_mixed(text).map(|number| number * unit.millimetres())
}

/// Reads a temperature in degrees Celsius.
pub(super) fn read_temperature(text: &str, unit: TemperatureUnit) -> Option<f64> {
    let text = text.trim().trim_end_matches(['C', 'F', '°']).trim_end();
    read_number("the temperature", text)
        .ok()
        .map(|degrees| unit.to_celsius(degrees))
}

/// Reads how far two temperatures are apart, in degrees Celsius.
pub(super) fn read_difference(text: &str, unit: TemperatureUnit) -> Option<f64> {
    let text = text.trim().trim_start_matches('±');
    read_temperature(text, unit).map(|celsius| celsius - unit.to_celsius(0.0))
}

/// Writes how far two temperatures are apart, with at most one decimal.
pub(super) fn write_difference(celsius: f64, unit: TemperatureUnit) -> String {
    write_decimal(unit.of_celsius(celsius) - unit.of_celsius(0.0), 1)
}

/// Reads a number that may be, or end in, a fraction.
fn read_mixed(text: &str) -> Option<f64> {
    let text = text.trim();
    if let Some((at, sign)) = text.char_indices().next_back()
        && let Some(part) = fraction_sign(sign)
    {
        let whole = text[..at].trim();
        return if whole.is_empty() {
            Some(part)
        } else {
            read_digits(whole).map(|whole| whole + part)
        };
    }
    let Some((before, below)) = text.split_once(['/', '⁄']) else {
        return read_number("the length", text).ok();
    };
    let (whole, above) = match before.trim().rsplit_once([' ', '-']) {
        Some((whole, above)) => (read_digits(whole)?, above),
        None => (0.0, before),
    };
    let below = read_digits(below)?;
    (below > 0.0).then_some(whole + read_digits(above)? / below)
}

fn read_digits(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = !text.is_empty() && text.len() <= 6 && text.bytes().all(|byte| byte.is_ascii_digit());
    if plain { text.parse().ok() } else { None }
}

fn fraction_sign(sign: char) -> Option<f64> {
    let (above, below) = match sign {
        '¼' => (1, 4),
        '½' => (1, 2),
        '¾' => (3, 4),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    };
    Some(f64::from(above) / f64::from(below))
}

/// Writes a length: inches in sixteenths where they are exact, else with at most four decimals.
pub(super) fn write_length(millimetres: f64, unit: LengthUnit) -> String {
    let value = millimetres / unit.millimetres();
    let sixteenths = (value * 16.0).round();
    if unit == LengthUnit::Inches && (value * 16.0 - sixteenths).abs() < 1e-6 {
        return write_sixteenths(sixteenths as u64);
    }
    write_decimal(value, 4)
}

fn write_sixteenths(sixteenths: u64) -> String {
    let (whole, mut above, mut below) = (sixteenths / 16, sixteenths % 16, 16);
    if above == 0 {
        return whole.to_string();
    }
    while above % 2 == 0 {
        above /= 2;
        below /= 2;
    }
    if whole == 0 {
        format!("{above}/{below}")
    } else {
        format!("{whole} {above}/{below}")
    }
}

/// Writes a temperature with at most one decimal.
pub(super) fn write_temperature(celsius: f64, unit: TemperatureUnit) -> String {
    write_decimal(unit.of_celsius(celsius), 1)
}

fn write_decimal(value: f64, decimals: usize) -> String {
    crate::ui::widgets::number_field::written(value, decimals)
}

#[cfg(test)]
mod tests {
    use super::*;
    use LengthUnit::{Centimetres, Inches};

    #[test]
    fn lengths_are_read_with_fractions_and_units() {
        for text in [
            "1 1/4",
            "1¼",
            "1 ¼",
            "1.25",
            "1,25",
            "5/4",
            "1-1/4",
            " 1 1/4 in",
            "1¼\"",
            "31.75 mm",
            "3.175 cm",
        ] {
            let read = read_length(text, Inches).unwrap_or(f64::NAN);
            assert!((read - 31.75).abs() < 1e-9, "{text}: {read}");
        }
        assert_eq!(read_length("2.5", Centimetres), Some(25.0));
        assert_eq!(read_length("1 in", Centimetres), Some(25.4));
        for text in [
            "", "x", "1/0", "1 1 1/4", "/4", "1/", "1e3", "¼¼", "1.5 1/4", "1--1/4", "NaN",
        ] {
            assert_eq!(read_length(text, Inches), None, "{text}");
        }
    }

    #[test]
    fn lengths_are_written_as_a_ruler_reads() {
        assert_eq!(write_length(31.75, Inches), "1 1/4");
        assert_eq!(write_length(304.8, Inches), "12");
        assert_eq!(write_length(9.525, Inches), "3/8");
        assert_eq!(write_length(100.0, Inches), "3.937");
        assert_eq!(write_length(31.75, Centimetres), "3.175");
    }

    #[test]
    fn an_untouched_length_keeps_its_exact_value_in_any_unit() {
        let third = MM_PER_INCH / 3.0;
        let field = Measured::new(write_length(third, Centimetres), third);
        assert_eq!(field.text, "0.8467");
        assert_eq!(field.read(|text| read_length(text, Centimetres)), Some(third));
    }

    #[test]
    fn temperatures_are_read_and_written_in_the_grower_s_unit() {
        // Water freezes at 32 °F and 13 °C is 55.4 °F, by the definition of the scale.
        assert_eq!(read_temperature("32", TemperatureUnit::Fahrenheit), Some(0.0));
        assert_eq!(read_temperature("13 °C", TemperatureUnit::Celsius), Some(13.0));
        assert_eq!(write_temperature(13.0, TemperatureUnit::Fahrenheit), "55.4");
        assert_eq!(read_temperature("cold", TemperatureUnit::Celsius), None);
        // A degree Celsius is as wide as 1.8 degrees Fahrenheit, by the definition of the scale.
        let wide = read_difference("±2.7 °F", TemperatureUnit::Fahrenheit).unwrap();
        assert!((wide - 1.5).abs() < 1e-9, "{wide}");
        assert_eq!(read_difference("1.5", TemperatureUnit::Celsius), Some(1.5));
        assert_eq!(write_difference(1.5, TemperatureUnit::Fahrenheit), "2.7");
        assert_eq!(write_difference(1.5, TemperatureUnit::Celsius), "1.5");
    }
}
