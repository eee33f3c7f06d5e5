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
}
