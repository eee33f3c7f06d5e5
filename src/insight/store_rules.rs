//! Rules of thumb for stored seed: warmth and humidity of its place, and how much longer it keeps elsewhere.
//!
//! They are rules of thumb: 'reasonably accurate, particularly in the middle ranges' (a lecture text on seed ageing). None
//! of them says what will germinate.

use super::words::{percent, temperature, tenths};
use crate::model::TemperatureUnit;

/// Degrees Fahrenheit and percent of humidity together should not be above this; the limit itself is within the rule.
///
/// Source: a seed house's bulletin on shelf life, after James Harrington, with 50 °F and 50 % as its example: 'equal to or
/// less than'.
pub const MOST_TOGETHER: f64 = 100.0;

/// The moisture of seed, in percent, between which the rule of doubling holds. Source: J. F. Harrington 1972, in T. T.
/// Kozlowski (ed.), Seed Biology III; from memory.
pub const DOUBLING_PERCENT: [f64; 2] = [5.0, 14.0];

/// The temperatures, in degrees Celsius, between which the rule of doubling holds. Source as for [`DOUBLING_PERCENT`].
pub const DOUBLING_C: [f64; 2] = [0.0, 50.0];

/// What the rule of thumb says of a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoreStand {
    /// Warmth and humidity together are not too much.
    Within,
    /// They are too much.
    Over,
    /// One of them is not known.
    NotKnown,
}

impl StoreStand {
    /// A sign that tells it without colour.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Within => "✓",
            Self::Over => "⚠",
            Self::NotKnown => "○",
        }
    }

    /// Says it in a word or two.
    pub fn name(self) -> &'static str {
        match self {
            Self::Within => "within the rule",
            Self::Over => "over the rule",
            Self::NotKnown => "not known",
        }
    }
}

/// Adds degrees Fahrenheit and percent of humidity, to a hundredth.
pub fn together(temperature_c: f64, humidity_percent: f64) -> f64 {
    let fahrenheit = TemperatureUnit::Fahrenheit.of_celsius(temperature_c);
    // Degrees that went through Celsius and back must not miss the limit by a tail of digits.
    ((fahrenheit + humidity_percent) * 100.0).round() / 100.0
}

/// What the rule of 100 says of a place, and the figures in a sentence or two.
pub fn rule_of_100(temperature_c: Option<f64>, humidity_percent: Option<f64>) -> (StoreStand, String) {
    let (celsius, humidity) = match (temperature_c, humidity_percent) {
        (Some(celsius), Some(humidity)) => (celsius, humidity),
        (celsius, humidity) => {
            let missing = match (celsius, humidity) {
                (None, None) => "its temperature and humidity are",
                (None, _) => "its temperature is",
                _ => "its humidity is",
            };
            let text = format!(
                "Not known whether it suits seed: {missing} not noted. Degrees Fahrenheit and percent of humidity together should be at most 100."
            );
            return (StoreStand::NotKnown, text);
        }
    };
    let sum = together(celsius, humidity);
    let figures = format!(
        "{} and {} together are {}",
        temperature(celsius, TemperatureUnit::Fahrenheit),
        percent(humidity),
        tenths(sum)
    );
    let frozen = if celsius < 0.0 {
        " The rule says nothing of freezing: seed is frozen dry, below about 13 % of moisture."
    } else {
        ""
    };
    if sum <= MOST_TOGETHER {
        let text = format!("{figures}, at most 100: within the rule of thumb.{frozen}");
        (StoreStand::Within, text)
    } else {
        let text = format!(
            "{figures}, above 100: over the rule of thumb. Take the seed where it is colder or drier.{frozen}"
        );
        (StoreStand::Over, text)
    }
}

/// How seed is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Keeping {
    /// How warm, in degrees Celsius.
    pub temperature_c: f64,
    /// Moisture of the seed, in percent of its fresh weight; none where it is not known.
    pub moisture_percent: Option<f64>,
}

/// How many times as long seed keeps in one way as in another, by the rule of doubling: its life doubles with each
/// percent of moisture less, and with each ten degrees less. Sources do not agree on whether these are degrees
/// Fahrenheit or Celsius, so there are two figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LifeFactor {
    /// Where ten degrees are of Fahrenheit: as the rule is mostly told (from memory).
    pub by_fahrenheit: f64,
    /// Where ten degrees are of Celsius. Source: University of Washington, course page on seed moisture (EHUF 473).
    pub by_celsius: f64,
}

/// Gives how many times as long seed keeps in the second way as in the first.
///
/// # Errors
/// A sentence where the rule says nothing: seed damper or drier, or a place colder or warmer, than it was made for, or
/// moisture that is known of one way only.
pub fn life_factor(from: Keeping, to: Keeping) -> Result<LifeFactor, String> {
    for keeping in [from, to] {
        let [coldest, warmest] = DOUBLING_C;
        if !(coldest..=warmest).contains(&keeping.temperature_c) {
            return Err(format!(
                "Not known: the rule of doubling holds from {coldest} to {warmest} °C (32 to 122 °F), not at {} ({}).",
                temperature(keeping.temperature_c, TemperatureUnit::Celsius),
                temperature(keeping.temperature_c, TemperatureUnit::Fahrenheit),
            ));
        }
        let [driest, dampest] = DOUBLING_PERCENT;
        if let Some(moisture) = keeping.moisture_percent
            && !(driest..=dampest).contains(&moisture)
        {
            return Err(format!(
                "Not known: the rule of doubling holds for seed of {driest} to {dampest} % moisture, not of {}.",
                percent(moisture)
            ));
        }
    }
    let drier = match (from.moisture_percent, to.moisture_percent) {
        (Some(before), Some(after)) => before - after,
        (None, None) => 0.0,
        _ => {
            let text =
                "Not known: give the moisture of the seed in both ways, or in neither where it is the same.";
            return Err(text.to_owned());
        }
    };
    let colder_c = from.temperature_c - to.temperature_c;
    let colder_f = TemperatureUnit::Fahrenheit.difference_of_celsius(colder_c);
    Ok(LifeFactor {
        by_fahrenheit: (drier + colder_f / 10.0).exp2(),
        by_celsius: (drier + colder_c / 10.0).exp2(),
    })
}

impl LifeFactor {
    /// The two figures, the lower one first.
    pub fn range(&self) -> [f64; 2] {
        [
            self.by_fahrenheit.min(self.by_celsius),
            self.by_fahrenheit.max(self.by_celsius),
        ]
    }

    /// Says it in a sentence or two.
    pub fn sentence(&self) -> String {
        let [low, high] = self.range().map(rounded);
        let times = if low == high {
            format!("about {low}")
        } else {
            format!("about {low} to {high}")
        };
        format!(
            "Seed keeps {times} times as long there. By the rule of thumb its life doubles with each percent of moisture less and with each 10 degrees less; of these sources say °F or °C, so there are two figures. It is no promise."
        )
    }
}

/// Two digits that count: 16, 1.4, 0.12.
fn rounded(factor: f64) -> String {
    if factor >= 10.0 {
        format!("{factor:.0}")
    } else if factor >= 1.0 {
        tenths(factor)
    } else {
        ((factor * 100.0).round() / 100.0).to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(fahrenheit: f64) -> f64 {
        TemperatureUnit::Fahrenheit.to_celsius(fahrenheit)
    }

    fn keeping(fahrenheit: f64, moisture: impl Into<Option<f64>>) -> Keeping {
        Keeping {
            temperature_c: celsius(fahrenheit),
            moisture_percent: moisture.into(),
        }
    }

    /// The example of the bulletin is 50 °F and 50 %, 'equal to or less than 100'; the other two are reckoned.
    #[test]
    fn a_hundred_itself_is_within_the_rule() {
        for (fahrenheit, humidity, sum, stand) in [
            (50.0, 50.0, 100.0, StoreStand::Within),
            (45.0, 45.0, 90.0, StoreStand::Within),
            (70.0, 40.0, 110.0, StoreStand::Over),
            (50.0, 50.1, 100.1, StoreStand::Over),
        ] {
            assert!((together(celsius(fahrenheit), humidity) - sum).abs() < 1e-9);
            let (found, text) = rule_of_100(Some(celsius(fahrenheit)), Some(humidity));
            assert_eq!(found, stand, "{text}");
        }
        // Every whole sum of 100 is within it, whatever Celsius makes of the degrees.
        for fahrenheit in 0..=100 {
            let fahrenheit = f64::from(fahrenheit);
            let (found, text) = rule_of_100(Some(celsius(fahrenheit)), Some(100.0 - fahrenheit));
            assert_eq!(found, StoreStand::Within, "{text}");
        }
        assert_eq!(
            rule_of_100(Some(celsius(45.0)), Some(45.0)).1,
            "45 °F and 45 % together are 90, at most 100: within the rule of thumb."
        );
        let (found, text) = rule_of_100(Some(7.0), None);
        assert_eq!(found, StoreStand::NotKnown);
        assert!(text.contains("its humidity is not noted"), "{text}");
        assert!(
            rule_of_100(Some(-18.0), Some(40.0))
                .1
                .contains("nothing of freezing")
        );
    }

    /// By the rule as it is mostly told: 2² for the moisture, 2² for twenty degrees Fahrenheit. By the course page, with
    /// degrees Celsius, 2² times 2 to the power of 20 × 5 / 9 / 10.
    #[test]
    fn twelve_to_ten_percent_and_seventy_to_fifty_degrees_make_sixteen_times() {
        let factor = life_factor(keeping(70.0, 12.0), keeping(50.0, 10.0)).unwrap();
        assert!((factor.by_fahrenheit - 16.0).abs() < 1e-9);
        assert!((factor.by_celsius - 4.0 * (10.0_f64 / 9.0).exp2()).abs() < 1e-9);
        assert!(
            factor
                .sentence()
                .starts_with("Seed keeps about 8.6 to 16 times as long there.")
        );
        // Back again it is the inverse.
        let back = life_factor(keeping(50.0, 10.0), keeping(70.0, 12.0)).unwrap();
        assert!((back.by_fahrenheit * 16.0 - 1.0).abs() < 1e-9);
        let [low, high] = back.range();
        assert!(low < high && high < 1.0 && (low - back.by_fahrenheit).abs() < 1e-12);
        // Of moisture that is the same nothing need be known.
        let same = life_factor(keeping(70.0, None), keeping(50.0, None)).unwrap();
        assert!((same.by_fahrenheit - 4.0).abs() < 1e-9);
    }

    #[test]
    fn outside_its_range_the_rule_says_nothing() {
        for (from, to, said) in [
            (keeping(70.0, 14.1), keeping(50.0, 10.0), "not of 14.1 %"),
            (keeping(70.0, 10.0), keeping(50.0, 4.9), "not of 4.9 %"),
            (keeping(70.0, 10.0), keeping(0.0, 10.0), "not at -17.8 °C (0 °F)"),
            (
                keeping(130.0, 10.0),
                keeping(50.0, 10.0),
                "not at 54.4 °C (130 °F)",
            ),
            (keeping(70.0, 10.0), keeping(50.0, None), "in both ways"),
        ] {
            let text = life_factor(from, to).unwrap_err();
            assert!(text.starts_with("Not known"), "{text}");
            assert!(text.contains(said), "{text}");
        }
        // The limits themselves belong to it.
        assert!(life_factor(keeping(122.0, 14.0), keeping(32.0, 5.0)).is_ok());
    }
}
