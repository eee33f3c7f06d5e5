//! Comparing the headers of a file with the names that a column can have.

/// A header taken apart for comparing: `Ear_length (cm)` is the name `earlength` with the unit `cm`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct HeaderName {
    /// Small letters and digits only.
    pub(super) name: String,
    /// What stands in the last round or square brackets, in small letters.
    pub(super) unit: Option<String>,
}

impl HeaderName {
    pub(super) fn of(header: &str) -> Self {
        let header = header.trim();
        let bracketed = header.strip_suffix([')', ']']).and_then(|rest| {
            rest.rfind(['(', '['])
                .map(|at| (&rest[..at], rest[at + 1..].trim().to_lowercase()))
        });
        match bracketed {
            Some((before, unit)) if !before.trim().is_empty() => Self {
                name: plain(before),
                unit: Some(unit),
            },
            _ => Self {
                name: plain(header),
                unit: None,
            },
        }
    }

    /// Whether the header gives no unit or one of these.
    pub(super) fn unit_is_one_of(&self, units: &[&str]) -> bool {
        self.unit.as_deref().is_none_or(|unit| units.contains(&unit))
    }
}

/// Small letters and digits of a text; spaces, underscores and marks do not count.
pub(super) fn plain(text: &str) -> String {
    text.chars()
        .filter(|letter| letter.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// The first thing on a list that one of its names fits.
pub(super) fn named<T: Copy>(names: &[(T, &[&str])], name: &str) -> Option<T> {
    names
        .iter()
        .find(|(_, known)| known.contains(&name))
        .map(|(thing, _)| *thing)
}

/// Gives each header the thing that it fits; a thing goes to the first header that fits it.
pub(super) fn match_headers<T: Copy + PartialEq>(
    headers: &[String],
    find: impl Fn(&HeaderName) -> Option<T>,
) -> Vec<Option<T>> {
    let mut fields: Vec<Option<T>> = Vec::with_capacity(headers.len());
    for header in headers {
        let found = find(&HeaderName::of(header)).filter(|found| !fields.contains(&Some(*found)));
        fields.push(found);
    }
    fields
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_compared_by_letters_and_digits_and_keep_their_unit() {
        let name = |header| {
            let name = HeaderName::of(header);
            (name.name, name.unit)
        };
        assert_eq!(name(" Ear_Number "), ("earnumber".to_owned(), None));
        assert_eq!(
            name("ear length [ CM ]"),
            ("earlength".to_owned(), Some("cm".to_owned()))
        );
        assert_eq!(name("(cm)"), ("cm".to_owned(), None));
        assert_eq!(name(""), (String::new(), None));
        assert_eq!(name("a)"), ("a".to_owned(), None));
    }

    #[test]
    fn a_thing_goes_to_one_header_only() {
        let headers = ["note", "Note", "x"].map(str::to_owned);
        let find = |name: &HeaderName| (name.name == "note").then_some(1);
        assert_eq!(match_headers(&headers, find), [Some(1), None, None]);
    }
}
