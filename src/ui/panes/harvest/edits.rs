//! From what was typed or pasted to the changes that are asked for. All of a block is taken, or nothing.

use super::table::{Table, text_of};
use crate::exchange::ears_csv::match_columns;
use crate::exchange::numbers::{DecimalMark, read_number};
use crate::exchange::table_text;
use crate::insight::EarColumn;
use crate::model::{
    Command, DateOrder, EarDraft, EarEdit, EarField, EarId, EarValue, Place, Problem, Project, SeasonId,
    sentence,
};
use std::collections::BTreeMap;
use std::ops::Range;

/// Why nothing of a block was taken, and the cell to look at.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Refusal {
    /// One sentence.
    pub(super) text: String,
    /// Row and column of the table.
    pub(super) at: Option<(usize, usize)>,
}

impl Refusal {
    fn new(text: impl Into<String>, at: Option<(usize, usize)>) -> Self {
        Self {
            text: text.into(),
            at,
        }
    }
}

/// Changes collected from a block, and where in the table each came from.
#[derive(Debug, Default)]
pub(super) struct Block {
    pub(super) edits: Vec<EarEdit>,
    pub(super) drafts: Vec<EarDraft>,
    /// For each draft the row of the table onto which it was pasted.
    pub(super) draft_rows: Vec<usize>,
}

impl Block {
    pub(super) fn is_empty(&self) -> bool {
        self.edits.is_empty() && self.drafts.is_empty()
    }

    /// The one command that makes all the changes.
    pub(super) fn command(&self, season: SeasonId) -> Command {
        if self.drafts.is_empty() {
            return Command::EditEars(self.edits.clone());
        }
        Command::PasteEars {
            season,
            drafts: self.drafts.clone(),
            edits: self.edits.clone(),
        }
    }
}

/// How numbers and dates of a block are to be read.
#[derive(Debug, Clone, Copy, Default)]
struct Reading {
    dates: DateOrder,
    decimal: DecimalMark,
}

/// Reads one cell.
pub(super) fn read_cell(field: EarField, text: &str, project: &Project) -> Result<EarValue, String> {
    field
        .read(text, DateOrder::Unknown, project)
        .map_err(|fault| sentence(&fault.to_string()))
}

fn read_pasted(field: EarField, text: &str, reading: Reading, project: &Project) -> Result<EarValue, String> {
    let text = text.trim();
    let is_number = matches!(
        field,
        EarField::Number | EarField::MaturityDays | EarField::Kernels | EarField::Trait(_)
    );
    let read = |text: &str| {
        field
            .read(text, reading.dates, project)
            .map_err(|fault| sentence(&fault.to_string()))
    };
    if !is_number || text.is_empty() {
        return read(text);
    }
    let number = read_number(text, reading.decimal).map_err(|fault| sentence(&fault.to_string()))?;
    read(&number.to_string())
}

/// Where pasted cells go.
struct Pasting<'a> {
    table: &'a Table,
    project: &'a Project,
    season: SeasonId,
    reading: Reading,
    /// The row in which each ear is shown.
    rows: BTreeMap<EarId, usize>,
}

/// Turns a pasted block into changes.
///
/// A block of several lines whose first line names columns is matched by these names, and by ear numbers where it has
/// them. Any other block goes where it was put: cells over ears change them, lines beyond the last ear are new ears.
pub(super) fn paste(
    table: &Table,
    project: &Project,
    season: SeasonId,
    at: (usize, usize),
    cells: &[Vec<String>],
) -> Result<Block, Refusal> {
    let pasting = |header: &[String], lines: &[Vec<String>]| Pasting {
        table,
        project,
        season,
        reading: reading_of(header, lines, project),
        rows: table
            .order
            .iter()
            .enumerate()
            .map(|(row, ear)| (*ear, row))
            .collect(),
    };
    let mut block = Block::default();
    if let Some(columns) = header_columns(project, cells)? {
        let lines = &cells[1..];
        let pasting = pasting(&cells[0], lines);
        let by_number = columns.contains(&Some(EarColumn::Number));
        for (i, line) in lines.iter().enumerate() {
            let row = if by_number {
                pasting.numbered_row(&columns, line)?
            } else {
                at.0 + i
            };
            pasting.line(&mut block, row, i + 2, &columns, line)?;
        }
        return Ok(block);
    }
    let columns: Vec<Option<EarColumn>> = table.columns.iter().skip(at.1).copied().map(Some).collect();
    let titles: Vec<String> = (at.1..table.columns.len())
        .map(|col| table.title(col).to_owned())
        .collect();
    let pasting = pasting(&titles, cells);
    for (i, line) in cells.iter().enumerate() {
        let beyond = line
            .iter()
            .skip(columns.len())
            .any(|cell| !cell.trim().is_empty());
        if beyond {
            let text = format!(
                "Line {} of the pasted block has more cells than there are columns from here on. Put the cursor further left, or copy fewer columns. Nothing was pasted.",
                i + 1
            );
            return Err(Refusal::new(text, Some(at)));
        }
        pasting.line(&mut block, at.0 + i, i + 1, &columns, line)?;
    }
    Ok(block)
}

/// How the block's own cells say that its dates and numbers are meant.
fn reading_of(header: &[String], lines: &[Vec<String>], project: &Project) -> Reading {
    let rows = lines.iter().enumerate().map(|(line, cells)| table_text::Row {
        line,
        cells: cells.clone(),
    });
    let table = table_text::Table {
        header: header.to_vec(),
        header_line: 0,
        rows: rows.collect(),
        delimiter: '\t',
        decimal: DecimalMark::Unsure,
        problems: Vec::new(),
    };
    let found = match_columns(&table, project);
    Reading {
        dates: found.dates,
        decimal: found.decimal,
    }
}

/// The columns that the first line names; none where it is no header.
fn header_columns(
    project: &Project,
    cells: &[Vec<String>],
) -> Result<Option<Vec<Option<EarColumn>>>, Refusal> {
    let [first, _, ..] = cells else { return Ok(None) };
    let names = table_text::Table {
        header: first.clone(),
        header_line: 0,
        rows: Vec::new(),
        delimiter: '\t',
        decimal: DecimalMark::Unsure,
        problems: Vec::new(),
    };
    let is_code = |name: &str| {
        let name = name.trim().to_lowercase();
        name == "ear code" || name == "code"
    };
    let found: Vec<Option<EarColumn>> = match_columns(&names, project)
        .fields
        .into_iter()
        .zip(first)
        .map(|(field, name)| match field {
            Some(field) => EarColumn::all(project)
                .into_iter()
                .find(|column| column.field() == Some(field)),
            None => is_code(name).then_some(EarColumn::Code),
        })
        .collect();
    let named = first.iter().filter(|name| !name.trim().is_empty()).count();
    let known = found.iter().flatten().count();
    if known == 0 || 2 * known < named {
        return Ok(None);
    }
    let unknown = found
        .iter()
        .zip(first)
        .find(|(column, name)| column.is_none() && !name.trim().is_empty());
    if let Some((_, name)) = unknown {
        let text = format!(
            "The first line of the pasted block names '{}', which is no column of this table, or is there twice. Add it as a trait first, or leave that column out. Nothing was pasted.",
            name.trim()
        );
        return Err(Refusal::new(text, None));
    }
    Ok(Some(found))
}

impl Pasting<'_> {
    /// The row of the ear that a line names by its number; beyond the end for an ear that does not exist.
    fn numbered_row(&self, columns: &[Option<EarColumn>], line: &[String]) -> Result<usize, Refusal> {
        let end = usize::MAX;
        let at = columns
            .iter()
            .position(|column| *column == Some(EarColumn::Number));
        let Some(text) = at.and_then(|at| line.get(at)).map(|text| text.trim()) else {
            return Ok(end);
        };
        let Ok(number) = text.parse::<u32>() else {
            return Ok(end);
        };
        let Some(ear) = self.project.ear_numbered(self.season, number) else {
            return Ok(end);
        };
        self.rows.get(&ear.id).copied().ok_or_else(|| {
            let text = format!(
                "Ear {number} of the pasted block is hidden by the filter. Clear the filter and paste again. Nothing was pasted."
            );
            Refusal::new(text, None)
        })
    }

    /// Adds one pasted line to the block; `number` is its place in what was pasted, from 1.
    fn line(
        &self,
        block: &mut Block,
        row: usize,
        number: usize,
        columns: &[Option<EarColumn>],
        line: &[String],
    ) -> Result<(), Refusal> {
        let ear = self
            .table
            .order
            .get(row)
            .and_then(|id| self.project.ears.get(*id));
        if ear.is_none() && line.iter().all(|cell| cell.trim().is_empty()) {
            return Ok(());
        }
        let mut draft = EarDraft::default();
        for (column, text) in columns.iter().zip(line) {
            let Some(column) = column else {
                if text.trim().is_empty() {
                    continue;
                }
                let text = format!(
                    "Line {number} of the pasted block has '{}' in a column without a name. Name the column in the first line, or leave it out. Nothing was pasted.",
                    text.trim()
                );
                return Err(Refusal::new(text, None));
            };
            let shown = ear
                .map(|ear| text_of(self.project, ear, *column))
                .unwrap_or_default();
            if shown == text.trim() {
                continue;
            }
            let refuse = |what: &str| {
                let name = self.name_of(row, number);
                let title = self.title_of(*column);
                let col = self.table.place_of(*column);
                let at = col.map(|col| (row.min(self.table.order.len()), col));
                Refusal::new(
                    format!("{name}, column '{title}': {what} Nothing was pasted."),
                    at,
                )
            };
            let Some(field) = column.field() else {
                return Err(refuse(
                    "the program gives the codes and none can be pasted; leave this column out.",
                ));
            };
            let value = read_pasted(field, text, self.reading, self.project).map_err(|what| refuse(&what))?;
            match ear {
                Some(ear) => block.edits.push(EarEdit {
                    ear: ear.id,
                    field,
                    value,
                }),
                None => draft.set(field, value),
            }
        }
        if ear.is_none() {
            block.drafts.push(draft);
            block.draft_rows.push(row);
        }
        Ok(())
    }

    /// Names a row: by its ear where there is one, otherwise by the line of the block.
    fn name_of(&self, row: usize, number: usize) -> String {
        match self
            .table
            .order
            .get(row)
            .and_then(|id| self.project.ears.get(*id))
        {
            Some(ear) => format!("Row {} (ear {})", row + 1, ear.number),
            None if row == usize::MAX => format!("Line {number} of the pasted block"),
            None => format!("Row {} (a new ear)", row + 1),
        }
    }

    fn title_of(&self, column: EarColumn) -> String {
        let at = self.table.place_of(column);
        at.map(|at| self.table.title(at).to_owned()).unwrap_or_default()
    }
}

/// Writes the first row of each block into the others.
pub(super) fn fill_down(
    table: &Table,
    project: &Project,
    fills: &[(Range<usize>, usize)],
) -> Result<Block, Refusal> {
    let mut block = Block::default();
    for (rows, col) in fills {
        let Some(column) = table.columns.get(*col).copied() else {
            continue;
        };
        let Some(field) = column.field() else { continue };
        if field == EarField::Number {
            let text = "Every ear has a number of its own, so numbers cannot be filled down. Choose other columns. Nothing was changed.";
            return Err(Refusal::new(text, Some((rows.start, *col))));
        }
        let Some(first) = table.order.get(rows.start).and_then(|id| project.ears.get(*id)) else {
            continue;
        };
        let text = text_of(project, first, column);
        let value = read_cell(field, &text, project).map_err(|what| {
            let title = table.title(*col);
            Refusal::new(
                format!(
                    "Row {}, column '{title}': {what} Nothing was changed.",
                    rows.start + 1
                ),
                Some((rows.start, *col)),
            )
        })?;
        for id in table
            .order
            .get(rows.start + 1..rows.end.min(table.order.len()))
            .unwrap_or_default()
        {
            block.edits.push(EarEdit {
                ear: *id,
                field,
                value: value.clone(),
            });
        }
    }
    Ok(block)
}

/// Empties cells; numbers and codes stay.
pub(super) fn clear(table: &Table, rows: Range<usize>, cols: Range<usize>) -> Result<Block, Refusal> {
    let mut block = Block::default();
    let fields: Vec<EarField> = table
        .columns
        .get(cols.clone())
        .unwrap_or_default()
        .iter()
        .filter_map(|column| column.field())
        .collect();
    if fields == [EarField::Number] {
        let text = "An ear needs its number. Press Ctrl+Delete to remove the whole ear.";
        return Err(Refusal::new(text, Some((rows.start, cols.start))));
    }
    for id in table
        .order
        .get(rows.start..rows.end.min(table.order.len()))
        .unwrap_or_default()
    {
        for field in fields.iter().filter(|field| **field != EarField::Number) {
            block.edits.push(EarEdit {
                ear: *id,
                field: *field,
                value: EarValue::Empty,
            });
        }
    }
    Ok(block)
}

/// Says where a block was refused by the project as a whole: `first_new` is the id of its first new ear.
pub(super) fn refusal_of(
    problem: &Problem,
    table: &Table,
    project: &Project,
    first_new: u32,
    draft_rows: &[usize],
) -> Refusal {
    let what = sentence(&problem.fault.to_string());
    let ear = match problem.place {
        Place::Ear(ear) => Some(ear),
        Place::Packet(packet) => project.packets.get(packet).map(|packet| packet.ear),
        _ => None,
    };
    let row = ear.and_then(|ear| {
        let new = ear
            .0
            .checked_sub(first_new)
            .and_then(|at| draft_rows.get(at as usize));
        new.copied().or_else(|| table.row_of(ear))
    });
    let name = match (row, ear.and_then(|ear| project.ears.get(ear))) {
        (Some(row), Some(ear)) => format!("Row {} (ear {}): ", row + 1, ear.number),
        (Some(row), None) if row != usize::MAX => format!("Row {} (a new ear): ", row + 1),
        (None, Some(ear)) => format!("Ear {}: ", ear.number),
        _ => String::new(),
    };
    let at = row.filter(|row| *row != usize::MAX).map(|row| (row, 0));
    Refusal::new(format!("{name}{what} Nothing was changed."), at)
}

/// Typed texts of the empty row that came in one frame, put together to ears: a field that comes a second time begins
/// another ear.
pub(super) fn typed_ears(typed: &[(EarField, EarValue)]) -> Vec<EarDraft> {
    let mut ears: Vec<(EarDraft, Vec<EarField>)> = Vec::new();
    for (field, value) in typed {
        if ears.last().is_none_or(|(_, fields)| fields.contains(field)) {
            ears.push((EarDraft::default(), Vec::new()));
        }
        if let Some((draft, fields)) = ears.last_mut() {
            draft.set(*field, value.clone());
            fields.push(*field);
        }
    }
    ears.into_iter().map(|(draft, _)| draft).collect()
}

/// Counts ears by mother row.
pub(super) fn ears_by_row(project: &Project, season: SeasonId) -> BTreeMap<crate::model::RowId, Vec<EarId>> {
    let mut found: BTreeMap<_, Vec<EarId>> = BTreeMap::new();
    for ear in project.ears_of(season) {
        if let Some(row) = ear.row {
            found.entry(row).or_default().push(ear.id);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_typed_in_one_frame_become_the_ears_they_were_typed_for() {
        let row = |label: &str| (EarField::Row, EarValue::Text(label.to_owned()));
        let kernels = (EarField::Kernels, EarValue::Whole(200));
        let ears = typed_ears(&[row("7"), kernels, row("8"), row("9")]);
        let rows: Vec<Option<&str>> = ears.iter().map(|ear| ear.row.as_deref()).collect();
        assert_eq!(rows, [Some("7"), Some("8"), Some("9")]);
        assert_eq!(ears[0].kernels, Some(200));
        assert_eq!(ears[1].kernels, None);
    }

    #[test]
    fn what_the_model_says_becomes_a_sentence() {
        assert_eq!(sentence("it is wrong; correct it"), "It is wrong; correct it.");
        assert_eq!(sentence("Done."), "Done.");
    }
}
