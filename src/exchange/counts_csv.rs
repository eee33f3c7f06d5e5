//! Counts of trays from delimited text: a header matched to what a count has, rows to counts and problems.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::columns::{match_headers, named};
use super::numbers::{DecimalMark, read_count, read_number};
use super::table_text::{Row, RowProblem, Table};
use crate::insight::guards_together;
use crate::model::{
    Cell, CellContent, CellId, Command, Count, DateOrder, EarCode, EarCodeFault, Existing, Fault, Pass,
    Project, Seen, Taken, Tally, TestId, Tray, TrayId, plural, read_date,
};

/// What a column of a file of counts can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CountField {
    /// The tray's number within the test; needed unless the test has one tray.
    Tray,
    /// The row of cells, a number or a letter.
    Row,
    /// The column of cells, a number.
    Column,
    /// The cell's name, such as `B3`.
    Cell,
    /// The number or the code of the ear in the cell.
    Ear,
    /// `early`, `final` or the day of a count between.
    Pass,
    /// The day of the count.
    Date,
    /// Normal seedlings, strong.
    Strong,
    /// Normal seedlings, weak or slow.
    Weak,
    /// Abnormal seedlings.
    Abnormal,
    /// Dead kernels.
    Dead,
    /// Firm, swollen kernels that have not germinated.
    Fresh,
    /// Kernels that were not there to be counted.
    Missing,
    /// Whether there was mould.
    Mould,
    /// Grade of growth from 0 to 9.
    Vigor,
    /// Who counted.
    By,
    /// Whether a second scorer counted, whose counts are compared with the first.
    Second,
    /// Whether the count that is there is withdrawn.
    Void,
    /// Median length of the roots, in millimetres.
    Root,
    /// Median length of the shoots, in millimetres.
    Shoot,
    /// A free note.
    Note,
    /// Why the count is so although it does not fit together with another one.
    Reason,
}

/// The most millimetres of a root or a shoot.
const MOST_MM: f64 = 1000.0;

/// The categories of a count, in the order in which they are written.
const CATEGORIES: [CountField; 6] = [
    CountField::Strong,
    CountField::Weak,
    CountField::Abnormal,
    CountField::Dead,
    CountField::Fresh,
    CountField::Missing,
];

const NAMES: &[(CountField, &[&str])] = &[
    (CountField::Tray, &["tray", "traynumber", "trayno"]),
    (CountField::Row, &["row", "cellrow", "trayrow"]),
    (CountField::Column, &["column", "col", "cellcolumn", "traycolumn"]),
    (CountField::Cell, &["cell", "cellcode", "cellname"]),
    (CountField::Ear, &["ear", "earnumber", "earno", "earcode", "code"]),
    (CountField::Pass, &["pass", "count", "counttype"]),
    (CountField::Date, &["date", "day", "on", "countedon"]),
    (CountField::Strong, &["strong"]),
    (CountField::Weak, &["weak"]),
    (CountField::Abnormal, &["abnormal"]),
    (CountField::Dead, &["dead"]),
    (CountField::Fresh, &["fresh"]),
    (CountField::Missing, &["missing"]),
    (CountField::Mould, &["mould", "mold"]),
    (CountField::Vigor, &["vigor", "vigour"]),
    (CountField::By, &["by", "scorer", "countedby"]),
    (CountField::Second, &["second", "secondscorer", "secondcount"]),
    (CountField::Void, &["void", "withdrawn"]),
    (CountField::Root, &["root", "rootmm", "rootlengthmm"]),
    (CountField::Shoot, &["shoot", "shootmm", "shootlengthmm"]),
    (CountField::Note, &["note", "notes", "remark", "remarks"]),
    (CountField::Reason, &["reason", "overruled", "why"]),
];

impl CountField {
    /// All that a column can hold, in the order in which it is offered.
    pub fn all() -> impl Iterator<Item = Self> {
        NAMES.iter().map(|(field, _)| *field)
    }

    /// The header under which the column is written and best recognised.
    pub fn title(self) -> &'static str {
        NAMES
            .iter()
            .find(|(field, _)| *field == self)
            .map_or("", |(_, names)| names[0])
    }
}

/// Which column of a file holds what, and how its cells are to be read. The caller may change all of it.
#[derive(Debug, Clone, PartialEq)]
pub struct CountColumns {
    /// For each column of the file what it holds; none is not read.
    pub fields: Vec<Option<CountField>>,
    /// The pass of rows that do not name one.
    pub pass: Pass,
    /// Which number of a date comes first.
    pub dates: DateOrder,
    /// The decimal mark.
    pub decimal: DecimalMark,
    /// What to do with a cell that already has another count in the same pass; `Update` makes a correction of it.
    pub existing: Existing,
}

impl CountColumns {
    /// The headers of the columns that are not read.
    pub fn unmatched<'a>(&self, table: &'a Table) -> Vec<&'a str> {
        let columns = table.header.iter().zip(&self.fields);
        columns
            .filter(|(_, field)| field.is_none())
            .map(|(header, _)| header.as_str())
            .collect()
    }
}

/// Matches the header of a file of counts, whatever its capitals, spaces and underscores. Rows that name no pass are
/// taken as final counts.
pub fn match_count_columns(table: &Table) -> CountColumns {
    let fields = match_headers(&table.header, |header| named(NAMES, &header.name));
    CountColumns {
        fields,
        pass: Pass::Final,
        dates: DateOrder::Unknown,
        decimal: table.decimal,
        existing: Existing::Refuse,
    }
}

/// One count as it was read, of a cell that exists and whose kernels the tally adds up to.
#[derive(Debug, Clone, PartialEq)]
pub struct CountDraft {
    /// What was seen.
    pub seen: Seen,
    /// The day, if given.
    pub on: Option<Date>,
    /// Who counted; may be empty.
    pub by: String,
    /// Whether it withdraws the count that is there; then its tally is empty.
    pub is_void: bool,
}

impl CountDraft {
    fn taken(&self) -> Taken {
        Taken {
            on: self.on,
            by: self.by.clone(),
            is_void: self.is_void,
            ..Taken::new(self.seen.clone())
        }
    }
}

/// Names the counts that do not fit together with what is there or with each other, each with its place among the drafts.
/// One with a reason beside it is not named.
pub fn misfits(project: &Project, drafts: &[(usize, CountDraft)]) -> Vec<(usize, RowProblem)> {
    let taken: Vec<Taken> = drafts.iter().map(|(_, draft)| draft.taken()).collect();
    let named = guards_together(project, &taken).into_iter();
    named
        .map(|(at, guard)| {
            let cell = project.cells.get(taken[at].seen.cell);
            let place = cell.map_or_else(String::new, |cell| {
                let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
                format!("tray {tray}, cell {}", cell.name())
            });
            let what = format!("{place}: {}", guard.sentence(false));
            (at, RowProblem::of_line(drafts[at].0, what))
        })
        .collect()
}

/// The command that takes all counts over, in one step.
pub fn record_command(drafts: &[(usize, CountDraft)]) -> Command {
    Command::TakeCounts {
        counts: drafts.iter().map(|(_, draft)| draft.taken()).collect(),
        label: format!("Take {} from a table", plural(drafts.len(), "count")),
    }
}

/// Reads the rows of a file as counts of a test, each with its line. A row with any problem is left out whole; a row
/// in which no category has a number was not counted and is passed over. The problems of the table are among those
/// returned, all in the order of their lines.
pub fn count_drafts(
    table: &Table,
    columns: &CountColumns,
    project: &Project,
    test: TestId,
) -> (Vec<(usize, CountDraft)>, Vec<RowProblem>) {
    let mut problems = table.problems.clone();
    problems.extend(columns_missing(table, columns));
    let mut drafts: Vec<(usize, CountDraft)> = Vec::new();
    let mut seen: BTreeMap<(CellId, Pass, bool), usize> = BTreeMap::new();
    if problems.iter().any(|problem| problem.line == table.header_line) {
        return (drafts, problems);
    }
    let reader = Reader {
        table,
        columns,
        project,
        test,
    };
    for row in &table.rows {
        match reader.draft(row) {
            Ok(None) => {}
            Ok(Some(draft)) => match seen.insert(identity(&draft.seen), row.line) {
                Some(first) => problems.push(RowProblem::of_line(
                    row.line,
                    format!(
                        "counts the same cell in the same pass as line {first}. Remove one of the two lines"
                    ),
                )),
                None => drafts.push((row.line, draft)),
            },
            Err(problem) => problems.push(problem),
        }
    }
    problems.sort_by_key(|problem| problem.line);
    (drafts, problems)
}

/// What may be there once: a cell in a pass by a scorer.
fn identity(seen: &Seen) -> (CellId, Pass, bool) {
    (seen.cell, seen.pass, seen.second)
}

/// What the columns lack before any row can be read.
fn columns_missing(table: &Table, columns: &CountColumns) -> Option<RowProblem> {
    let has = |field| columns.fields.contains(&Some(field));
    let what = if !CATEGORIES.into_iter().any(has) {
        "has no column with counts. Head at least one 'strong', 'weak', 'abnormal', 'dead', 'fresh' or 'missing'"
    } else if !(has(CountField::Cell)
        || has(CountField::Ear)
        || has(CountField::Row) && has(CountField::Column))
    {
        "has no column that names the cell. Add 'cell' (such as B3), 'row' and 'column', or 'ear'"
    } else {
        return None;
    };
    Some(RowProblem::of_line(table.header_line, what))
}

struct Reader<'a> {
    table: &'a Table,
    columns: &'a CountColumns,
    project: &'a Project,
    test: TestId,
}

impl<'a> Reader<'a> {
    fn draft(&self, row: &Row) -> Result<Option<CountDraft>, RowProblem> {
        let has_no_kernels = CATEGORIES
            .into_iter()
            .all(|field| self.text(row, field).is_empty());
        let is_void = self.yes_or_no(row, CountField::Void, "the count is withdrawn")?;
        if has_no_kernels && !is_void {
            return Ok(None);
        }
        let (tray, cell) = self.cell(row)?;
        let place = format!("tray {}, cell {}", tray.number, cell.name());
        if !cell.content.is_counted() {
            let what = if cell.content == CellContent::Landmark {
                format!(
                    "{place} is a landmark, left empty on purpose, so there is nothing to count. Compare with the tray: the counts may be one cell off"
                )
            } else {
                format!(
                    "{place} holds no ear and no check lot, so there is nothing to count. Correct the cell"
                )
            };
            return Err(RowProblem::of_line(row.line, what));
        }
        let (pass, second) = (
            self.pass(row)?,
            self.yes_or_no(row, CountField::Second, "a second scorer counted")?,
        );
        if is_void && !has_no_kernels {
            let what = "withdraws a count and has kernels too. Empty either the kernels or the column 'void'";
            return Err(self.problem(row, CountField::Void, what));
        }
        let tally = self.tally(row)?;
        if !is_void {
            self.sum_fits(row, &tally, cell, &place)?;
        }
        let seen = Seen {
            second,
            mould: self.mould(row)?,
            vigor: self.vigor(row)?,
            root_mm: self.length(row, CountField::Root)?,
            shoot_mm: self.length(row, CountField::Shoot)?,
            note: self.line_of_text(row, CountField::Note)?,
            overruled: self.line_of_text(row, CountField::Reason)?,
            ..Seen::new(cell.id, pass, tally)
        };
        let draft = CountDraft {
            seen,
            on: self.date(row)?,
            by: self.line_of_text(row, CountField::By)?,
            is_void,
        };
        self.beside_what_is_there(row, draft, &place)
    }

    /// Lets a count through, unless the cell has another one already and that is not to be corrected.
    fn beside_what_is_there(
        &self,
        row: &Row,
        mut draft: CountDraft,
        place: &str,
    ) -> Result<Option<CountDraft>, RowProblem> {
        let (cell, pass, second) = identity(&draft.seen);
        let standing = self.project.standing_count(cell, pass, second);
        let standing = standing.filter(|count| !count.void);
        let scorer = if second { " of the second scorer" } else { "" };
        let Some(count) = standing else {
            if draft.is_void {
                let what =
                    format!("{place} has no {pass} count{scorer} that could be withdrawn. Remove the line");
                return Err(RowProblem::of_line(row.line, what));
            }
            return Ok(Some(draft));
        };
        if !draft.is_void && !differs(count, &draft.seen) {
            if draft.seen.overruled.is_empty() {
                // What was said of it stays when the same table is read again.
                count.overruled.clone_into(&mut draft.seen.overruled);
            }
            return Ok(Some(draft));
        }
        match self.columns.existing {
            Existing::Skip => Ok(None),
            Existing::Update => Ok(Some(draft)),
            Existing::Refuse => {
                let what = format!(
                    "{place} already has another {pass} count{scorer}. Remove the line, or choose to correct or to skip such counts"
                );
                Err(RowProblem::of_line(row.line, what))
            }
        }
    }

    fn column(&self, field: CountField) -> Option<usize> {
        self.columns.fields.iter().position(|own| *own == Some(field))
    }

    /// The trimmed cell of a field; empty where the file has no such column.
    fn text<'r>(&self, row: &'r Row, field: CountField) -> &'r str {
        self.column(field)
            .and_then(|column| row.cells.get(column))
            .map_or("", |cell| cell.trim())
    }

    fn problem(&self, row: &Row, field: CountField, what: impl Into<String>) -> RowProblem {
        match self
            .column(field)
            .and_then(|column| self.table.header.get(column))
        {
            Some(header) => RowProblem::of_column(row.line, header, what),
            None => RowProblem::of_line(row.line, what),
        }
    }

    /// The cell that a row names, by place, by ear, or by both if they agree.
    fn cell(&self, row: &Row) -> Result<(&'a Tray, &'a Cell), RowProblem> {
        let by_place = self.place(row)?;
        let ear = self.text(row, CountField::Ear);
        if ear.is_empty() {
            let what = "names no cell. Fill in the cell, or the row and the column, or the ear";
            return by_place.ok_or_else(|| RowProblem::of_line(row.line, what));
        }
        let tray_named = !self.text(row, CountField::Tray).is_empty();
        let tray = if tray_named {
            Some(self.tray(row)?.id)
        } else {
            None
        };
        let cells = self.cells_of_ear(row, ear, tray)?;
        match (by_place, cells.as_slice()) {
            (Some(place), cells) if cells.iter().any(|(_, cell)| cell.id == place.1.id) => Ok(place),
            (Some((tray, cell)), _) => {
                let what = format!(
                    "ear {ear} does not lie in tray {}, cell {}. Compare with the tray: the sheet may be one cell off",
                    tray.number,
                    cell.name()
                );
                Err(self.problem(row, CountField::Ear, what))
            }
            (None, [only]) => Ok(*only),
            (None, []) => {
                let what =
                    format!("ear {ear} does not lie in this test. Correct the ear or choose another test");
                Err(self.problem(row, CountField::Ear, what))
            }
            (None, several) => {
                let what = format!(
                    "ear {ear} lies in {} cells of this test. Add the tray and the cell",
                    several.len()
                );
                Err(self.problem(row, CountField::Ear, what))
            }
        }
    }

    fn place(&self, row: &Row) -> Result<Option<(&'a Tray, &'a Cell)>, RowProblem> {
        let name = self.text(row, CountField::Cell);
        let (row_text, column_text) = (
            self.text(row, CountField::Row),
            self.text(row, CountField::Column),
        );
        let (field, place) = if !name.is_empty() {
            (CountField::Cell, cell_place(name))
        } else if !row_text.is_empty() && !column_text.is_empty() {
            (
                CountField::Row,
                row_number(row_text).zip(column_text.parse::<u16>().ok()),
            )
        } else {
            return Ok(None);
        };
        let tray = self.tray(row)?;
        let found = place.and_then(|(row, column)| self.project.cell_at(tray.id, row, column));
        found.map(|cell| Some((tray, cell))).ok_or_else(|| {
            let named = if name.is_empty() {
                format!("row {row_text}, column {column_text}")
            } else {
                name.to_owned()
            };
            let what = format!(
                "tray {} has no cell {named}. It has {} rows and {} columns; write a cell such as B3",
                tray.number, tray.rows, tray.columns
            );
            self.problem(row, field, what)
        })
    }

    fn tray(&self, row: &Row) -> Result<&'a Tray, RowProblem> {
        let text = self.text(row, CountField::Tray);
        let mut trays = self.project.trays_of(self.test);
        if text.is_empty() {
            return match (trays.next(), trays.next()) {
                (Some(only), None) => Ok(only),
                _ => Err(self.problem(row, CountField::Tray, "names no tray. Write the tray's number")),
            };
        }
        let digits = text.trim_start_matches(|letter: char| letter.is_alphabetic() || letter == ' ');
        let number: Option<u16> = digits.parse().ok();
        trays.find(|tray| Some(tray.number) == number).ok_or_else(|| {
            let what = format!("this test has no tray '{text}'. Write the number of one of its trays");
            self.problem(row, CountField::Tray, what)
        })
    }

    fn cells_of_ear(
        &self,
        row: &Row,
        text: &str,
        tray: Option<TrayId>,
    ) -> Result<Vec<(&'a Tray, &'a Cell)>, RowProblem> {
        let season = self.project.tests.get(self.test).map(|test| test.season);
        let found = if text.bytes().all(|byte| byte.is_ascii_digit()) {
            let number: Option<u32> = text.parse().ok();
            season
                .zip(number)
                .and_then(|(season, number)| self.project.ear_numbered(season, number))
        } else {
            let code: EarCode = text
                .parse()
                .map_err(|fault: EarCodeFault| self.problem(row, CountField::Ear, fault.to_string()))?;
            self.project.ear_coded(code)
        };
        let ear = found.ok_or_else(|| {
            self.problem(
                row,
                CountField::Ear,
                format!("there is no ear {text} in this season. Correct the number"),
            )
        })?;
        let in_test = |cell: &'a Cell| {
            let of_tray = self
                .project
                .trays
                .get(cell.tray)
                .filter(|of_tray| of_tray.test == self.test)?;
            tray.is_none_or(|wanted| wanted == of_tray.id)
                .then_some((of_tray, cell))
        };
        Ok(self.project.cells_of_ear(ear.id).filter_map(in_test).collect())
    }

    fn pass(&self, row: &Row) -> Result<Pass, RowProblem> {
        let text = self.text(row, CountField::Pass).to_lowercase();
        match text.as_str() {
            "" => Ok(self.columns.pass),
            "early" => Ok(Pass::Early),
            "final" => Ok(Pass::Final),
            other => other
                .trim_start_matches("day")
                .trim()
                .parse()
                .map(Pass::Between)
                .map_err(|_error| {
                    let what = format!(
                        "'{other}' is not a pass. Write early, final, or the day of the count such as day 8"
                    );
                    self.problem(row, CountField::Pass, what)
                }),
        }
    }

    fn date(&self, row: &Row) -> Result<Option<Date>, RowProblem> {
        match self.text(row, CountField::Date) {
            "" => Ok(None),
            text => read_date(text, self.columns.dates)
                .map(Some)
                .map_err(|fault| self.problem(row, CountField::Date, fault.to_string())),
        }
    }

    fn tally(&self, row: &Row) -> Result<Tally, RowProblem> {
        let number = |field| self.number(row, field);
        Ok(Tally {
            strong: number(CountField::Strong)?,
            weak: number(CountField::Weak)?,
            abnormal: number(CountField::Abnormal)?,
            dead: number(CountField::Dead)?,
            fresh: number(CountField::Fresh)?,
            missing: number(CountField::Missing)?,
        })
    }

    /// The kernels of one category; an empty cell is none of them, which the sum then proves or refutes.
    fn number(&self, row: &Row, field: CountField) -> Result<u16, RowProblem> {
        let text = self.text(row, field);
        if text.is_empty() {
            return Ok(0);
        }
        let number = read_count(text, self.columns.decimal)
            .map_err(|fault| self.problem(row, field, fault.to_string()))?;
        u16::try_from(number).map_err(|_error| {
            self.problem(
                row,
                field,
                format!("{number} is more kernels than a cell can hold. Correct the number"),
            )
        })
    }

    fn sum_fits(&self, row: &Row, tally: &Tally, cell: &Cell, place: &str) -> Result<(), RowProblem> {
        let (sown, sum, emerged) = (self.project.sown(cell), tally.sum(), tally.emerged());
        let what = if emerged > u32::from(sown) {
            format!(
                "{emerged} kernels grew in {place}, but {sown} were laid there. Correct the counts or the cell"
            )
        } else if sum == u32::from(sown) {
            return Ok(());
        } else {
            format!("{place}: {}", Fault::SumNotSown { sum, sown })
        };
        Err(RowProblem::of_line(row.line, what))
    }

    fn mould(&self, row: &Row) -> Result<bool, RowProblem> {
        match self.text(row, CountField::Mould).to_lowercase().as_str() {
            "mould" | "mold" => Ok(true),
            _ => self.yes_or_no(row, CountField::Mould, "there was mould"),
        }
    }

    /// Reads yes or no; an empty cell is no.
    fn yes_or_no(&self, row: &Row, field: CountField, what: &str) -> Result<bool, RowProblem> {
        match self.text(row, field).to_lowercase().as_str() {
            "" | "0" | "no" | "n" | "false" | "none" | "-" => Ok(false),
            "1" | "yes" | "y" | "true" | "x" => Ok(true),
            other => {
                let what = format!("'{other}' does not say whether {what}. Write yes or no");
                Err(self.problem(row, field, what))
            }
        }
    }

    /// Reads a length in millimetres; an empty cell is none.
    fn length(&self, row: &Row, field: CountField) -> Result<Option<f64>, RowProblem> {
        let text = self.text(row, field);
        let number = text.strip_suffix("mm").map_or(text, str::trim_end);
        if number.is_empty() {
            return Ok(None);
        }
        let length = read_number(number, self.columns.decimal)
            .map_err(|fault| self.problem(row, field, fault.to_string()))?;
        if !(0.0..=MOST_MM).contains(&length) {
            let what = format!("'{text}' is no length of a seedling. Write millimetres from 0 to {MOST_MM}");
            return Err(self.problem(row, field, what));
        }
        Ok(Some(length))
    }

    fn vigor(&self, row: &Row) -> Result<Option<u8>, RowProblem> {
        let text = self.text(row, CountField::Vigor);
        match text.parse::<u8>() {
            _ if text.is_empty() => Ok(None),
            Ok(grade) if grade <= 9 => Ok(Some(grade)),
            _ => {
                let what = format!("'{text}' is not a vigor grade. Write a whole number from 0 to 9");
                Err(self.problem(row, CountField::Vigor, what))
            }
        }
    }

    fn line_of_text(&self, row: &Row, field: CountField) -> Result<String, RowProblem> {
        let text = self.text(row, field);
        if text.chars().any(char::is_control) {
            return Err(self.problem(
                row,
                field,
                "has a line break or another unprintable sign. Write it on one line",
            ));
        }
        Ok(text.to_owned())
    }
}

fn differs(count: &Count, seen: &Seen) -> bool {
    count.tally != seen.tally
        || count.mould != seen.mould
        || count.vigor != seen.vigor
        || count.note != seen.note
        || count.root_mm != seen.root_mm
        || count.shoot_mm != seen.shoot_mm
}

/// Row and column, both from 1, of a cell name such as `B3`.
fn cell_place(name: &str) -> Option<(u16, u16)> {
    let digits = name.find(|letter: char| letter.is_ascii_digit())?;
    let (letters, column) = name.split_at(digits);
    if letters.is_empty() {
        None
    } else {
        Some((row_number(letters)?, column.parse().ok()?))
    }
}

/// A row of cells written as a number from 1 or as letters from A.
fn row_number(text: &str) -> Option<u16> {
    if let Ok(number) = text.parse() {
        return Some(number);
    }
    text.bytes().try_fold(0_u16, |sum, byte| {
        let letter = byte
            .to_ascii_uppercase()
            .checked_sub(b'A')
            .filter(|letter| *letter < 26)?;
        sum.checked_mul(26)?.checked_add(u16::from(letter) + 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::cell_name;

    #[test]
    fn a_cell_name_leads_back_to_its_place() {
        for (row, column) in [(1, 1), (4, 8), (26, 1), (27, 12), (703, 2)] {
            assert_eq!(cell_place(&cell_name(row, column)), Some((row, column)));
            assert_eq!(
                cell_place(&cell_name(row, column).to_lowercase()),
                Some((row, column))
            );
        }
        for name in ["", "B", "3", "3B", "B3C", "É3", "ZZZZZ1", "B99999"] {
            assert_eq!(cell_place(name), None, "{name}");
        }
    }
}
