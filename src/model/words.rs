//! Putting messages into words.

/// Writes a text with a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Says `1 ear`, `2 ears`.
pub fn plural(count: usize, one: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {one}s")
    }
}

/// Makes a message a sentence: a capital at its beginning, a full stop at its end.
pub fn sentence(text: &str) -> String {
    let mut written = capital(text.trim());
    if !written.ends_with(['.', '?', '!']) {
        written.push('.');
    }
    written
}

/// Cuts a text to so many characters, with a sign where something is left out.
pub fn shortened(text: &str, most: usize) -> String {
    let mut letters = text.chars();
    let mut short: String = letters.by_ref().take(most).collect();
    if letters.next().is_some() {
        short.push('…');
    }
    short
}

/// Cuts a message that quotes a text of any length: its beginning stays, and its end, which says what to do.
pub fn cut_message(text: impl Into<String>) -> String {
    const HALF: usize = 300;
    let text = text.into();
    let length = text.chars().count();
    if length <= 2 * HALF {
        return text;
    }
    let end: String = text.chars().skip(length - HALF).collect();
    format!("{}{end}", shortened(&text, HALF))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_become_sentences() {
        assert_eq!(sentence(" the row is gone"), "The row is gone.");
        assert_eq!(sentence("émile went; come back!"), "Émile went; come back!");
        assert_eq!(sentence(""), ".");
        assert_eq!(
            (plural(1, "ear"), plural(0, "ear")),
            ("1 ear".to_owned(), "0 ears".to_owned())
        );
    }

    #[test]
    fn messages_stay_short_and_keep_what_to_do() {
        let short = "'x' is not a date; type year-month-day";
        assert_eq!(cut_message(short), short);
        let long = format!("'{}' is not a date; type year-month-day", "ü".repeat(5_000_000));
        let cut = cut_message(long);
        assert_eq!(cut.chars().count(), 601);
        assert!(cut.starts_with("'üü") && cut.contains("ü…ü") && cut.ends_with("; type year-month-day"));
        assert_eq!(
            (shortened("corn", 4), shortened("corns", 4)),
            ("corn".to_owned(), "corn…".to_owned())
        );
    }
}
