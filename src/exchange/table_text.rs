//! Delimited text: tolerant reading, strict writing (RFC 4180), and the tab-separated text of the clipboard.
//!
//! **Formula guard.** A spreadsheet runs a cell that begins with `=`, `+`, `-`, `@`, a tab or a line end. Such a cell,
//! unless it is a plain number, is written with one apostrophe before it. A cell that already consists of apostrophes
//! before such a sign gets one more, so that reading, which takes one apostrophe off, always gives back what was
//! written. Only line ends inside a cell change: they come back as `\n`.

use csv::{Reader, ReaderBuilder, StringRecord};
use thiserror::Error;

use crate::model::cut_message;

use super::numbers::{DecimalMark, guess_decimal_mark, is_plain_number};

/// The largest file that is read, in bytes.
pub const MAX_BYTES: usize = 64 << 20;

/// A file that cannot be read as a table at all. Displays as one sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Fault {
    /// No line with text.
    #[error("The file is empty. Choose a file with a header line and at least one line below it")]
    Empty,
    /// A zero byte: not a text.
    #[error("The file is not text. Save it from the spreadsheet as 'CSV UTF-8' and choose that file")]
    Binary,
    /// The packed file of a spreadsheet program.
    #[error(
        "The file is a spreadsheet document, not text. Save it from the spreadsheet as 'CSV UTF-8' and choose that file"
    )]
    Spreadsheet,
    /// Bytes that are neither UTF-8 nor marked UTF-16.
    #[error(
        "Line {line} has characters in an unknown encoding. Save the file as 'CSV UTF-8' and choose it again"
    )]
    Encoding {
        /// Line in the file, from 1.
        line: usize,
    },
    /// A quote that is never closed.
    #[error("Line {line} begins a quoted cell that is never closed. Close it with \", or remove the quote")]
    OpenQuote {
        /// Line on which the record begins, from 1.
        line: usize,
    },
    /// More than [`MAX_BYTES`]; holds the bytes that were read, at least so many.
    #[error("The file has more than 64 MiB. Split it into smaller files")]
    TooLarge(usize),
}

/// One thing that is wrong with a line of a table that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowProblem {
    /// Line in the file, from 1; of a record over several lines the first.
    pub line: usize,
    /// The column's header, where one column is to blame.
    pub column: Option<String>,
    /// What is wrong and what to do, one sentence.
    pub what: String,
}

impl RowProblem {
    /// A problem of the whole line.
    pub fn of_line(line: usize, what: impl Into<String>) -> Self {
        Self {
            line,
            column: None,
            what: cut_message(what),
        }
    }

    /// A problem of one column.
    pub fn of_column(line: usize, column: impl Into<String>, what: impl Into<String>) -> Self {
        Self {
            line,
            column: Some(cut_message(column)),
            what: cut_message(what),
        }
    }
}

impl std::fmt::Display for RowProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.column {
            Some(column) => write!(f, "line {}, column '{column}': {}", self.line, self.what),
            None => write!(f, "line {}: {}", self.line, self.what),
        }
    }
}

/// One record of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Line in the file on which the record begins, from 1.
    pub line: usize,
    /// As many cells as the header has, not trimmed.
    pub cells: Vec<String>,
}

/// A delimited text that was read: a header and its rows. Rows of another width than the header are left out whole and
/// named in `problems`; blank lines are passed over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// The header's cells, trimmed.
    pub header: Vec<String>,
    /// Line of the header in the file, from 1.
    pub header_line: usize,
    /// The records below the header.
    pub rows: Vec<Row>,
    /// `,`, `;` or a tab.
    pub delimiter: char,
    /// The guess that the cells allow; a caller may choose another.
    pub decimal: DecimalMark,
    /// Rows that were left out because their width is not the header's.
    pub problems: Vec<RowProblem>,
}

impl Table {
    /// The decimal mark that the cells of these columns allow. In a comma-separated file without a single number with
    /// a comma it is the point.
    pub fn guess_decimal(&self, columns: &[usize]) -> DecimalMark {
        let cells = || {
            self.rows.iter().flat_map(|row| {
                columns
                    .iter()
                    .filter_map(|at| row.cells.get(*at))
                    .map(String::as_str)
            })
        };
        let has_comma = || cells().any(|cell| cell.contains(',') && is_plain_number(cell.trim()));
        match guess_decimal_mark(cells()) {
            DecimalMark::Unsure if self.delimiter == ',' && !has_comma() => DecimalMark::Point,
            guess => guess,
        }
    }
}

/// Reads delimited text: UTF-8 with or without a byte-order mark, or UTF-16 with one; any line ends; `,`, `;` or tab,
/// whichever divides the header into most cells (or the one named by a first line `sep=;`); quoted cells with line
/// ends and doubled quotes. Takes the formula guard off.
///
/// # Errors
/// A file that is empty, not text, too large, in an unknown encoding, or has a quote that is never closed.
pub fn read_table(bytes: &[u8]) -> Result<Table, Fault> {
    let text = decode(bytes)?;
    let (named, text) = take_separator_line(&text);
    let delimiter = named.unwrap_or_else(|| guess_delimiter(text));
    let mut records = Records::new(text, delimiter, if named.is_some() { 2 } else { 1 })?;
    let Some((header_line, header)) = records.find(|(_, cells)| !is_blank(cells)) else {
        return Err(Fault::Empty);
    };
    let header: Vec<String> = header.iter().map(|cell| cell.trim().to_owned()).collect();
    let (mut rows, mut problems) = (Vec::new(), Vec::new());
    for (line, mut cells) in records {
        if is_blank(&cells) {
            continue;
        }
        while cells.len() > header.len() && cells.last().is_some_and(|cell| cell.trim().is_empty()) {
            cells.pop();
        }
        if cells.len() == header.len() {
            rows.push(Row { line, cells });
        } else {
            problems.push(ragged(line, cells.len(), header.len()));
        }
    }
    let every_column: Vec<usize> = (0..header.len()).collect();
    let mut table = Table {
        header,
        header_line,
        rows,
        delimiter,
        decimal: DecimalMark::Unsure,
        problems,
    };
    table.decimal = table.guess_decimal(&every_column);
    Ok(table)
}

fn ragged(line: usize, found: usize, wanted: usize) -> RowProblem {
    let what = format!(
        "has {found} cells, but the header has {wanted}. Add or remove cells; put a cell that holds the separator in quotes"
    );
    RowProblem::of_line(line, what)
}

fn is_blank(cells: &[String]) -> bool {
    cells.iter().all(|cell| cell.trim().is_empty())
}

/// Delimited text whose lines may be of any width, read one after another: for files that have more than a table in them.
#[derive(Debug, Clone)]
pub(super) struct LooseText {
    text: String,
    /// Bytes of a first line that names the separator.
    skipped: usize,
    delimiter: char,
}

impl LooseText {
    /// Decodes a text and finds its separator, unless it is given: the first of tab, `;` and `,` that divides at least half
    /// of the lines with so many digits that they can be data. An encoding that is none of [`read_table`]'s is read as Windows-1252.
    ///
    /// # Errors
    /// As [`read_table`], but for the encoding.
    pub(super) fn read(bytes: &[u8], delimiter: Option<char>) -> Result<Self, Fault> {
        let text = match decode(bytes) {
            Err(Fault::Encoding { .. }) if !bytes.contains(&0) => {
                unify_line_ends(&decode_windows_1252(bytes))
            }
            decoded => decoded?,
        };
        let (named, rest) = take_separator_line(&text);
        if rest.trim().is_empty() {
            return Err(Fault::Empty);
        }
        let delimiter = delimiter.or(named).unwrap_or_else(|| guess_loose_delimiter(rest));
        let loose = Self {
            skipped: text.len() - rest.len(),
            text,
            delimiter,
        };
        match open_quote(loose.rest(), delimiter) {
            Some(line) => Err(Fault::OpenQuote {
                line: line + loose.first_line() - 1,
            }),
            None => Ok(loose),
        }
    }

    /// What divides the cells.
    pub(super) fn delimiter(&self) -> char {
        self.delimiter
    }

    /// All lines as they stand in the file, each with its number from 1.
    pub(super) fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        (1..).zip(self.text.lines())
    }

    fn rest(&self) -> &str {
        &self.text[self.skipped..]
    }

    fn first_line(&self) -> usize {
        1 + usize::from(self.skipped > 0)
    }

    /// How many lines are not blank; a cell over several lines counts as so many.
    pub(super) fn lines_with_text(&self) -> usize {
        self.rest().lines().filter(|line| !line.trim().is_empty()).count()
    }

    /// The lines that are not blank, from the first.
    pub(super) fn rows(&self) -> impl Iterator<Item = Row> {
        Records::unchecked(self.rest(), self.delimiter, self.first_line())
            .filter(|(_, cells)| !is_blank(cells))
            .map(|(line, cells)| Row { line, cells })
    }
}

/// Digits in a line from which on it can be data, such as a date with a number.
const FEWEST_DIGITS: usize = 6;

fn guess_loose_delimiter(text: &str) -> char {
    let digits = |line: &&str| line.bytes().filter(u8::is_ascii_digit).count();
    let lines = || {
        text.lines()
            .filter(|line| digits(line) >= FEWEST_DIGITS)
            .take(1000)
    };
    let divided = |delimiter: char| lines().filter(|line| line.contains(delimiter)).count();
    let all = lines().count();
    let half = |delimiter: &char| all > 0 && 2 * divided(*delimiter) >= all;
    ['\t', ';', ','].into_iter().find(half).unwrap_or(',')
}

/// Every byte is a letter of Windows-1252; the five that it leaves free become spaces.
fn decode_windows_1252(bytes: &[u8]) -> String {
    const FROM_80: [char; 32] = [
        '€', ' ', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', ' ', 'Ž', ' ', ' ', '‘', '’', '“',
        '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', ' ', 'ž', 'Ÿ',
    ];
    let letter = |byte: &u8| match byte {
        0x80..=0x9F => FROM_80[usize::from(byte - 0x80)],
        byte => char::from(*byte),
    };
    bytes.iter().map(letter).collect()
}

/// Bytes to text with `\n` line ends and without a byte-order mark.
fn decode(bytes: &[u8]) -> Result<String, Fault> {
    if bytes.len() > MAX_BYTES {
        return Err(Fault::TooLarge(bytes.len()));
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return Err(Fault::Spreadsheet);
    }
    let text = match bytes {
        [0xFF, 0xFE, rest @ ..] => decode_utf16(rest, u16::from_le_bytes)?,
        [0xFE, 0xFF, rest @ ..] => decode_utf16(rest, u16::from_be_bytes)?,
        _ => decode_utf8(bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes))?.to_owned(),
    };
    if text.contains('\0') {
        return Err(Fault::Binary);
    }
    Ok(unify_line_ends(&text))
}

fn decode_utf8(bytes: &[u8]) -> Result<&str, Fault> {
    std::str::from_utf8(bytes).map_err(|error| {
        let good = &bytes[..error.valid_up_to()];
        if bytes.contains(&0) {
            Fault::Binary
        } else {
            Fault::Encoding {
                line: 1 + count_line_ends(good),
            }
        }
    })
}

fn decode_utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, Fault> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let mut text = String::with_capacity(pairs.len());
    for decoded in char::decode_utf16(pairs.iter().map(|pair| unit(*pair))) {
        let Ok(letter) = decoded else {
            return Err(Fault::Encoding {
                line: 1 + count_line_ends(text.as_bytes()),
            });
        };
        text.push(letter);
    }
    if rest.is_empty() {
        Ok(text)
    } else {
        Err(Fault::Encoding {
            line: 1 + count_line_ends(text.as_bytes()),
        })
    }
}

fn unify_line_ends(text: &str) -> String {
    if text.contains('\r') {
        text.replace("\r\n", "\n").replace('\r', "\n")
    } else {
        text.to_owned()
    }
}

fn count_line_ends(bytes: &[u8]) -> usize {
    bytes.split(|byte| *byte == b'\n').count() - 1
}

/// The separator that a first line `sep=;` names, as some spreadsheets write, and the text after that line.
fn take_separator_line(text: &str) -> (Option<char>, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let named = first.strip_prefix("sep=").and_then(|rest| match rest {
        ";" => Some(';'),
        "," => Some(','),
        "\t" => Some('\t'),
        _ => None,
    });
    if named.is_some() {
        (named, rest)
    } else {
        (None, text)
    }
}

/// The separator that divides the first line with text into most cells; of equals the first of tab, `;` and `,`.
fn guess_delimiter(text: &str) -> char {
    let cells = |delimiter| {
        let mut record = StringRecord::new();
        let mut reader = reader(text.trim_start(), delimiter);
        if matches!(reader.read_record(&mut record), Ok(true)) {
            record.len()
        } else {
            0
        }
    };
    let mut best = (',', cells(','));
    for delimiter in [';', '\t'] {
        let count = cells(delimiter);
        if count > 1 && count >= best.1 {
            best = (delimiter, count);
        }
    }
    best.0
}

fn reader(text: &str, delimiter: char) -> Reader<&[u8]> {
    ReaderBuilder::new()
        .delimiter(delimiter as u8)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes())
}

/// The records of a text with `\n` line ends, each with the line on which it begins; the formula guard is taken off.
/// The line is counted here, because the reader's own line numbers stand before the blank lines that it passes over.
struct Records<'a> {
    text: &'a str,
    reader: Reader<&'a [u8]>,
    record: StringRecord,
    counted_to: usize,
    line: usize,
    blank_before: usize,
}

impl<'a> Records<'a> {
    /// The text begins on line `first_line` of its file.
    ///
    /// # Errors
    /// A quote that is never closed.
    fn new(text: &'a str, delimiter: char, first_line: usize) -> Result<Self, Fault> {
        match open_quote(text, delimiter) {
            Some(line) => Err(Fault::OpenQuote {
                line: line + first_line - 1,
            }),
            None => Ok(Self::unchecked(text, delimiter, first_line)),
        }
    }

    fn unchecked(text: &'a str, delimiter: char, first_line: usize) -> Self {
        let reader = reader(text, delimiter);
        Self {
            text,
            reader,
            record: StringRecord::new(),
            counted_to: 0,
            line: first_line,
            blank_before: 0,
        }
    }
}

impl Iterator for Records<'_> {
    type Item = (usize, Vec<String>);

    fn next(&mut self) -> Option<Self::Item> {
        // The text is UTF-8 and rows may have any width, so that no record can fail.
        if !matches!(self.reader.read_record(&mut self.record), Ok(true)) {
            return None;
        }
        let bytes = self.text.as_bytes();
        let reported = self
            .record
            .position()
            .map_or(0, |position| position.byte() as usize)
            .min(bytes.len());
        self.blank_before = bytes[reported..]
            .iter()
            .take_while(|byte| **byte == b'\n')
            .count();
        let start = reported + self.blank_before;
        self.line += count_line_ends(&bytes[self.counted_to..start]);
        self.counted_to = start;
        Some((self.line, self.record.iter().map(without_guard).collect()))
    }
}

/// The line of the record whose quote is never closed. A record of its own is added to the text: if it does not come
/// back as one, an open quote has taken it in. A zero byte cannot occur in the text.
fn open_quote(text: &str, delimiter: char) -> Option<usize> {
    if !text.contains('"') {
        return None;
    }
    let probe = format!("{text}\n\0");
    let (line, cells) = Records::unchecked(&probe, delimiter, 1).last()?;
    (cells != ["\0"]).then_some(line)
}

const GUARDED: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\n'];

fn needs_guard(cell: &str) -> bool {
    cell.trim_start_matches('\'').starts_with(GUARDED) && !is_plain_number(cell)
}

fn without_guard(cell: &str) -> String {
    match cell.strip_prefix('\'') {
        Some(rest) if needs_guard(rest) => rest.to_owned(),
        _ => cell.to_owned(),
    }
}

/// Writes comma-separated text after RFC 4180: UTF-8 without a mark, lines that end in CR LF, quotes where needed. The
/// formula guard of this module is put before cells that a spreadsheet would run.
pub fn write_csv<R, S>(header: &[S], rows: R) -> Vec<u8>
where
    R: IntoIterator<Item = Vec<String>>,
    S: AsRef<str>,
{
    let mut text = String::new();
    push_line(&mut text, header.iter().map(AsRef::as_ref), ',', "\r\n");
    for row in rows {
        push_line(&mut text, row.iter().map(String::as_str), ',', "\r\n");
    }
    text.into_bytes()
}

/// Tab-separated text for the clipboard, one line a row, with quotes and the formula guard where needed.
pub fn to_tab_separated<S: AsRef<str>>(rows: &[Vec<S>]) -> String {
    let mut text = String::new();
    for row in rows {
        push_line(&mut text, row.iter().map(AsRef::as_ref), '\t', "\n");
    }
    text
}

/// Reads tab-separated text from the clipboard into rows of cells: quoted cells as spreadsheets write them; a blank
/// line is a row with one empty cell; the line end after the last row is not another row. Text whose quotes do not
/// close is taken as it stands, quotes included. Takes the formula guard off.
pub fn from_tab_separated(text: &str) -> Vec<Vec<String>> {
    let text = unify_line_ends(text.strip_prefix('\u{feff}').unwrap_or(text));
    let text = text.strip_suffix('\n').unwrap_or(&text);
    if text.is_empty() {
        return Vec::new();
    }
    let Ok(mut records) = Records::new(text, '\t', 1) else {
        return text
            .split('\n')
            .map(|line| line.split('\t').map(without_guard).collect())
            .collect();
    };
    let mut rows = Vec::new();
    while let Some((_, cells)) = records.next() {
        rows.resize(rows.len() + records.blank_before, vec![String::new()]);
        rows.push(cells);
    }
    let blank_after = text.bytes().rev().take_while(|byte| *byte == b'\n').count();
    rows.resize(rows.len() + blank_after, vec![String::new()]);
    rows
}

fn push_line<'a>(text: &mut String, cells: impl Iterator<Item = &'a str>, delimiter: char, end: &str) {
    let start = text.len();
    for (index, cell) in cells.enumerate() {
        if index > 0 {
            text.push(delimiter);
        }
        push_cell(text, cell, delimiter);
    }
    if text.len() == start {
        // A line with nothing on it would be passed over when it is read.
        text.push_str("\"\"");
    }
    text.push_str(end);
}

fn push_cell(text: &mut String, cell: &str, delimiter: char) {
    let guard = if needs_guard(cell) { "'" } else { "" };
    if cell.contains([delimiter, '"', '\r', '\n', '\t']) {
        text.push('"');
        text.push_str(guard);
        text.push_str(&cell.replace('"', "\"\""));
        text.push('"');
    } else {
        text.push_str(guard);
        text.push_str(cell);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cells(table: &Table) -> Vec<(usize, Vec<&str>)> {
        table
            .rows
            .iter()
            .map(|row| (row.line, row.cells.iter().map(String::as_str).collect()))
            .collect()
    }

    #[test]
    fn separators_marks_and_line_ends_are_told_apart() {
        let expected = vec![(2, vec!["1", "7", "101,5"]), (4, vec!["2", "7", "99,25"])];
        for text in [
            "ear;row;maturity days\n1;7;101,5\n\n2;7;99,25\n",
            "\u{feff}ear;row;maturity days\r\n1;7;101,5\r\n\r\n2;7;99,25",
            "ear;row;maturity days\r1;7;101,5\r\r2;7;99,25\r",
            "ear\trow\tmaturity days\n1\t7\t101,5\n \t\t\n2\t7\t99,25\n",
            "ear,row,maturity days\n1,7,\"101,5\"\n,,\n2,7,\"99,25\"\n",
        ] {
            let table = read_table(text.as_bytes()).unwrap();
            assert_eq!(table.header, ["ear", "row", "maturity days"], "{text:?}");
            assert_eq!(cells(&table), expected, "{text:?}");
            assert_eq!(table.decimal, DecimalMark::Comma, "{text:?}");
            assert_eq!(table.problems, []);
        }
    }

    #[test]
    fn utf_16_with_a_mark_is_read() {
        let text = "ear;note\n1;grün\n";
        for big in [false, true] {
            let mut bytes = if big { vec![0xFE, 0xFF] } else { vec![0xFF, 0xFE] };
            bytes.extend(
                text.encode_utf16()
                    .flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() }),
            );
            assert_eq!(cells(&read_table(&bytes).unwrap()), [(2, vec!["1", "grün"])]);
            bytes.push(0);
            assert_eq!(read_table(&bytes), Err(Fault::Encoding { line: 3 }));
        }
    }

    #[test]
    fn what_is_not_a_table_is_refused_with_a_sentence() {
        assert_eq!(read_table(b""), Err(Fault::Empty));
        assert_eq!(read_table(b"\xEF\xBB\xBF \r\n\r\n"), Err(Fault::Empty));
        assert_eq!(read_table(b"ear,row\n1,\0\n"), Err(Fault::Binary));
        assert_eq!(read_table(b"\x7fELF\x02\x01\0\xFF"), Err(Fault::Binary));
        assert_eq!(read_table(b"PK\x03\x04rest"), Err(Fault::Spreadsheet));
        assert_eq!(
            read_table(b"ear,note\n1,ok\n2,gr\xFCn\n"),
            Err(Fault::Encoding { line: 3 })
        );
        assert_eq!(
            read_table(b"ear,note\n1,ok\n2,\"never closed\n3,x\n"),
            Err(Fault::OpenQuote { line: 3 })
        );
        assert_eq!(
            read_table(b"sep=;\near;note\n1;\"open\n"),
            Err(Fault::OpenQuote { line: 3 })
        );
        assert_eq!(
            read_table(&vec![b'a'; MAX_BYTES + 1]),
            Err(Fault::TooLarge(MAX_BYTES + 1))
        );
    }

    #[test]
    fn quoted_cells_keep_line_ends_and_later_lines_keep_their_numbers() {
        let table = read_table(b"ear,note\r\n1,\"a \"\"good\"\"\r\nlong, ear\"\r\n2,5\" long\r\n").unwrap();
        assert_eq!(
            cells(&table),
            [
                (2, vec!["1", "a \"good\"\nlong, ear"]),
                (4, vec!["2", "5\" long"])
            ]
        );
    }

    #[test]
    fn ragged_rows_are_left_out_whole_and_named() {
        let table = read_table(b"ear,row,days\n1,7,101,5\n2,7\n3,7,99,,\n").unwrap();
        assert_eq!(cells(&table), [(4, vec!["3", "7", "99"])]);
        let problems: Vec<String> = table.problems.iter().map(ToString::to_string).collect();
        assert!(
            problems[0].starts_with("line 2: has 4 cells, but the header has 3."),
            "{problems:?}"
        );
        assert!(problems[1].starts_with("line 3: has 2 cells"), "{problems:?}");
    }

    #[test]
    fn lines_of_any_width_are_read_with_the_separator_of_the_data() {
        let read = |bytes: &[u8]| {
            let loose = LooseText::read(bytes, None).unwrap();
            let rows: Vec<(usize, usize)> = loose.rows().map(|row| (row.line, row.cells.len())).collect();
            (loose.delimiter, rows)
        };
        let logger = b"Logger, two channels\r\nbegun: kitchen\r\n\r\n1.12.2025 10:00;13,2;55,1\r\n1.12.2025 11:00;13,1;55,0\r\n";
        assert_eq!(read(logger), (';', vec![(1, 1), (2, 1), (4, 3), (5, 3)]));
        assert_eq!(read(b"sep=,\n1;2,3\n"), (',', vec![(2, 2)]));
        assert_eq!(read(b"a\tb\n2025-12-01 10:00\t13,2\n").0, '\t');
        assert_eq!(read(b"nothing; here\n").0, ',');
        let old = LooseText::read(b"time,\xB0C\n2025-12-01 10:00,13.2\n", None).unwrap();
        assert_eq!(old.rows().next().unwrap().cells, ["time", "°C"]);
        assert_eq!(LooseText::read(b" \n", None).unwrap_err(), Fault::Empty);
        assert_eq!(
            LooseText::read(b"\x7fELF\0\xFF", None).unwrap_err(),
            Fault::Binary
        );
        assert_eq!(
            LooseText::read(b"a,b\n1,\"never closed\n2,3\n", None).unwrap_err(),
            Fault::OpenQuote { line: 2 }
        );
    }

    #[test]
    fn a_first_line_that_names_the_separator_is_followed() {
        let table = read_table(b"sep=;\near;note\n1;a,b,c\n").unwrap();
        assert_eq!((table.delimiter, table.header_line), (';', 2));
        assert_eq!(cells(&table), [(3, vec!["1", "a,b,c"])]);
        assert_eq!(read_table(b"ear\n1\n").unwrap().delimiter, ',');
    }

    #[test]
    fn a_hundred_thousand_lines_are_read_whole() {
        let lines = (1..=100_000).map(|ear| format!("{ear};{};212;101,5;\"husk; tight\"\r\n", ear % 40));
        let text = "ear;row;kernels;maturity days;note\r\n".to_owned() + &lines.collect::<String>();
        let table = read_table(text.as_bytes()).unwrap();
        assert_eq!(table.rows.len(), 100_000);
        assert_eq!(table.rows[99_999].line, 100_001);
        assert_eq!(table.rows[99_999].cells[4], "husk; tight");
    }

    #[test]
    fn written_text_follows_rfc_4180_and_guards_formulas() {
        let row = ["=1+1", "-2.5", "-x", "a\"b", "c,d", "plain"]
            .map(str::to_owned)
            .to_vec();
        let bytes = write_csv(&["a", "b", "c", "d", "e", "f"], [row]);
        assert_eq!(
            String::from_utf8(bytes).unwrap(),
            "a,b,c,d,e,f\r\n'=1+1,-2.5,'-x,\"a\"\"b\",\"c,d\",plain\r\n"
        );
    }

    #[test]
    fn pasted_cells_keep_their_places() {
        assert_eq!(
            from_tab_separated("1\t7\r\n2\t\r\n"),
            [vec!["1", "7"], vec!["2", ""]]
        );
        assert_eq!(
            from_tab_separated("\n5\n\n\n6\n\n"),
            [[""], ["5"], [""], [""], ["6"], [""]]
        );
        assert_eq!(from_tab_separated("\"two\nlines\"\tx"), [["two\nlines", "x"]]);
        assert_eq!(
            from_tab_separated("\"open\tx\ny"),
            [vec!["\"open", "x"], vec!["y"]]
        );
        assert_eq!(from_tab_separated(""), Vec::<Vec<String>>::new());
    }

    fn unified(cell: &str) -> String {
        unify_line_ends(cell)
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(rows in proptest::collection::vec(
            proptest::collection::vec("[a='\"+\\-@,;\t\r\n 1.é]{0,6}", 3), 0..8))
        {
            let kept: Vec<Vec<String>> = rows.iter().filter(|row| !is_blank(row))
                .map(|row| row.iter().map(|cell| unified(cell)).collect()).collect();
            let table = read_table(&write_csv(&["x", "y", "z"], rows.clone())).unwrap();
            prop_assert_eq!(table.problems, vec![]);
            prop_assert_eq!(table.rows.into_iter().map(|row| row.cells).collect::<Vec<_>>(), kept);
            let all: Vec<Vec<String>> = rows.iter().map(|row| row.iter().map(|cell| unified(cell)).collect()).collect();
            prop_assert_eq!(from_tab_separated(&to_tab_separated(&rows)), all);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            if let Ok(table) = read_table(&bytes) {
                prop_assert!(table.rows.iter().all(|row| row.cells.len() == table.header.len()));
            }
        }
    }
}
