//! Blocks of cells as the tab-separated text that spreadsheets exchange.

use std::ops::Range;

use super::GridSource;

/// The block as text: tabs between cells, line feeds between rows, quotes around cells that contain any of these.
pub(super) fn to_text(source: &dyn GridSource, rows: Range<usize>, cols: Range<usize>) -> String {
    let line = |row| {
        cols.clone()
            .map(|col| quoted(&source.text(row, col)))
            .collect::<Vec<String>>()
            .join("\t")
    };
    rows.map(line).collect::<Vec<String>>().join("\n")
}

fn quoted(cell: &str) -> String {
    if cell.contains(['\t', '\n', '\r']) || cell.starts_with('"') {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

/// The cells of pasted text. A line end at the very end makes no further row; an unclosed quote is text.
pub(super) fn to_cells(text: &str) -> Vec<Vec<String>> {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let mut rest = text.strip_suffix('\n').unwrap_or(&text);
    let mut lines = vec![Vec::new()];
    loop {
        let (cell, after) = next_cell(rest);
        if let Some(line) = lines.last_mut() {
            line.push(cell);
        }
        let Some(end) = after.chars().next() else {
            return lines;
        };
        if end == '\n' {
            lines.push(Vec::new());
        }
        rest = &after[1..];
    }
}

/// One cell, and the rest from its tab or line feed on.
fn next_cell(text: &str) -> (String, &str) {
    if let Some(found) = text.strip_prefix('"').and_then(quoted_cell) {
        return found;
    }
    let end = text.find(['\t', '\n']).unwrap_or(text.len());
    (text[..end].to_owned(), &text[end..])
}

/// A quoted cell, if its quote is closed right before a tab, a line feed or the end.
fn quoted_cell(inner: &str) -> Option<(String, &str)> {
    let mut from = 0;
    loop {
        let quote = from + inner[from..].find('"')?;
        let after = &inner[quote + 1..];
        if after.starts_with('"') {
            from = quote + 2;
        } else if after.is_empty() || after.starts_with(['\t', '\n']) {
            return Some((inner[..quote].replace("\"\"", "\""), after));
        } else {
            return None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::widgets::grid::GridColumn;
    use proptest::prelude::*;
    use std::borrow::Cow;

    fn cells(lines: &[&[&str]]) -> Vec<Vec<String>> {
        lines
            .iter()
            .map(|line| line.iter().map(ToString::to_string).collect())
            .collect()
    }

    #[test]
    fn pasted_text_becomes_cells() {
        assert_eq!(to_cells("1\t2\r\n3\t4\r\n"), cells(&[&["1", "2"], &["3", "4"]]));
        assert_eq!(to_cells("one"), cells(&[&["one"]]));
        assert_eq!(to_cells(""), cells(&[&[""]]));
        assert_eq!(to_cells("a\t\n\tb"), cells(&[&["a", ""], &["", "b"]]));
        assert_eq!(to_cells("\"two\nlines\"\tx"), cells(&[&["two\nlines", "x"]]));
        assert_eq!(to_cells("\"say \"\"so\"\"\""), cells(&[&["say \"so\""]]));
        assert_eq!(to_cells("\"open\tx"), cells(&[&["\"open", "x"]]));
        assert_eq!(to_cells("\"6\" long\tx"), cells(&[&["\"6\" long", "x"]]));
    }

    struct Block(Vec<Vec<String>>);

    impl GridSource for Block {
        fn rows(&self) -> usize {
            self.0.len()
        }
        fn columns(&self) -> &[GridColumn] {
            &[]
        }
        fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
            Cow::Borrowed(&self.0[row][col])
        }
    }

    proptest! {
        #[test]
        fn what_is_copied_pastes_back(block in prop::collection::vec(prop::collection::vec("[a-z\"\t\n é]{0,6}", 3), 1..5)) {
            let text = to_text(&Block(block.clone()), 0..block.len(), 0..3);
            prop_assert_eq!(to_cells(&text), block);
        }
    }
}
