//! Numbers of ears as a grower types them: `241-250, 260`.

use super::ids::EarId;

/// Reads numbers of ears, with ranges: `241-250, 260`. `ear` gives the ear of a number, if the season has it.
///
/// # Errors
/// A sentence that says what is no number, no range, or no ear of the season.
pub fn read_ear_numbers(text: &str, ear: impl Fn(u32) -> Option<EarId>) -> Result<Vec<EarId>, String> {
    let mut found = Vec::new();
    for part in text.split([',', ';', ' ']).filter(|part| !part.is_empty()) {
        let (first, last) = part.split_once(['-', '–']).unwrap_or((part, part));
        let (Ok(first), Ok(last)) = (first.parse::<u32>(), last.parse::<u32>()) else {
            return Err(format!(
                "'{part}' is not an ear or a range of ears; type numbers such as 241-250, 260."
            ));
        };
        if last < first || last - first >= MOST_IN_A_RANGE {
            return Err(format!(
                "'{part}' is not a range of at most {MOST_IN_A_RANGE} ears; type the smaller number first."
            ));
        }
        for number in first..=last {
            let id = ear(number);
            found.push(id.ok_or_else(|| {
                format!("This season has no ear {number}; look at its number in the Harvest pane.")
            })?);
        }
    }
    if found.is_empty() {
        return Err("Type the numbers of the ears, such as 241-250, 260.".to_owned());
    }
    Ok(found)
}

/// The most ears of one range: a slip of the keys must not ask for millions.
const MOST_IN_A_RANGE: u32 = 100_000;

/// Writes numbers in rising order with ranges, as [`read_ear_numbers`] takes them.
pub fn ear_ranges(numbers: impl Iterator<Item = u32>) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if number == last.saturating_add(1) => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let written = runs.iter().map(|(first, last)| {
        if first == last {
            first.to_string()
        } else {
            format!("{first}-{last}")
        }
    });
    written.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_written_as_they_are_read() {
        let ear = |number: u32| (number < 300).then_some(EarId(number));
        let numbers = |text: &str| -> Result<Vec<u32>, String> {
            read_ear_numbers(text, ear).map(|ears| ears.into_iter().map(|ear| ear.0).collect())
        };
        assert_eq!(numbers("241-243, 260;7"), Ok(vec![241, 242, 243, 260, 7]));
        let text = ear_ranges([1, 2, 3, 7, 9, 10].into_iter());
        assert_eq!(text, "1-3, 7, 9-10");
        assert_eq!(numbers(&text), Ok(vec![1, 2, 3, 7, 9, 10]));
        assert_eq!(ear_ranges(std::iter::empty()), "");
        for (text, part) in [
            ("", "Type the numbers"),
            ("x", "'x' is not an ear"),
            ("5-", "'5-' is not an ear"),
            ("9-5", "smaller number first"),
            ("1-4000000000", "at most 100000"),
            ("299-301", "no ear 300"),
        ] {
            let problem = numbers(text).unwrap_err();
            assert!(problem.contains(part), "{problem}");
        }
    }
}
