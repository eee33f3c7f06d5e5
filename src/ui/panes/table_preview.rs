//! What the previews of imported tables share: the lines of the file as a grid, what each column holds, what is wrong.

use crate::exchange::numbers::{DecimalMark, is_plain_number};
use crate::exchange::table_text::{RowProblem, Table, read_table};
use crate::model::{DateOrder, Fault, plural, read_date, sentence};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{CellMark, Grid, GridColumn, GridSource, GridState};
use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{ComboBox, Id, Label, RichText, Role, ScrollArea, Ui, WidgetInfo};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// The endings of files that can be imported.
pub(super) const ENDINGS: [&str; 3] = ["csv", "tsv", "txt"];
/// The most problems that are listed.
const LISTED: usize = 1000;

/// Reads a table; what cannot be read is said in a sentence.
pub(super) fn read(file: &FileBytes) -> Result<Table, String> {
    read_table(&file.bytes).map_err(|fault| {
        format!(
            "{}: {} Nothing was taken.",
            file.name,
            sentence(&fault.to_string())
        )
    })
}

/// Takes the table that was asked for and is opened, or that was dropped on the window.
pub(super) fn take_file(ctx: &mut PaneCtx<'_>, opening: &mut Option<Ticket>) -> Option<FileBytes> {
    let opened = opening.and_then(|ticket| ctx.opened(ticket)).cloned();
    if opened.is_some() {
        *opening = None;
    }
    let is_table = |file: &&FileBytes| {
        let ending = file
            .name
            .rsplit_once('.')
            .map(|(_, ending)| ending.to_lowercase());
        ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
    };
    let dropped = ctx.dropped.iter().find(is_table).cloned();
    if ctx.dropped.iter().filter(is_table).count() > 1 {
        ctx.notice(
            Tone::Warning,
            "Files are imported one at a time; drop the others again afterwards.",
        );
    }
    let file = opened.or(dropped)?;
    if let Some(why) = ctx.read_only {
        let text = format!("Nothing can be imported: {why}");
        ctx.notice(Tone::Error, text);
        return None;
    }
    Some(file)
}

/// The file as the grid shows it.
#[derive(Debug, Default)]
pub(super) struct Shown {
    headers: Vec<GridColumn>,
    marks: BTreeMap<(usize, usize), String>,
    grid: GridState,
}

struct Source<'a> {
    table: &'a Table,
    headers: &'a [GridColumn],
    marks: &'a BTreeMap<(usize, usize), String>,
}

impl GridSource for Source<'_> {
    fn rows(&self) -> usize {
        self.table.rows.len()
    }

    fn columns(&self) -> &[GridColumn] {
        self.headers
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let row = &self.table.rows[row];
        match col.checked_sub(1) {
            None => row.line.to_string().into(),
            Some(col) => row.cells[col].as_str().into(),
        }
    }

    fn mark(&self, row: usize, col: usize) -> Option<CellMark> {
        let text = self.marks.get(&(row, col))?;
        Some(CellMark { text: text.clone() })
    }
}

impl Shown {
    /// Marks the cells that have a problem.
    pub fn mark<'p>(&mut self, table: &Table, problems: impl Iterator<Item = &'p RowProblem>) {
        let line = GridColumn::new("Line").number().read_only().frozen();
        let columns = table.header.iter().map(|header| {
            let title = if header.is_empty() { "(no name)" } else { header };
            GridColumn::new(title).read_only()
        });
        self.headers = std::iter::once(line).chain(columns).collect();
        let rows: BTreeMap<usize, usize> = table
            .rows
            .iter()
            .enumerate()
            .map(|(at, row)| (row.line, at))
            .collect();
        self.marks.clear();
        for problem in problems {
            let Some(row) = rows.get(&problem.line) else {
                continue;
            };
            let column = problem.column.as_ref();
            let col = column.and_then(|name| table.header.iter().position(|header| header == name));
            self.marks
                .insert((*row, col.map_or(0, |col| col + 1)), sentence(&problem.what));
        }
    }

    /// Draws the lines of the file; nothing can be changed in them.
    pub fn ui(&mut self, ui: &mut Ui, id: &str, table: &Table) {
        let source = Source {
            table,
            headers: &self.headers,
            marks: &self.marks,
        };
        let grid = Grid::new(Id::unique(id), "Lines of the file").row_numbers(false);
        // Nothing can be changed here: the grid's events ask for nothing.
        drop(grid.show(ui, &mut self.grid, &source));
    }
}

/// Draws the choice of what one column holds; gives the new choice. The first one drawn may take the keyboard.
pub(super) fn column_choice<C: Copy + PartialEq>(
    ui: &mut Ui,
    (id, at): (&str, usize),
    table: &Table,
    now: C,
    choices: impl Iterator<Item = C>,
    title: &dyn Fn(C) -> String,
    takes_keyboard: &mut bool,
) -> Option<C> {
    let t = Tokens::of(ui);
    let header = table.header[at].as_str();
    let name = if header.is_empty() {
        format!("Column {}", at + 1)
    } else {
        header.to_owned()
    };
    let sample = table
        .rows
        .iter()
        .map(|row| row.cells[at].trim())
        .find(|cell| !cell.is_empty())
        .unwrap_or("empty");
    let mut next = now;
    ui.horizontal(|ui| {
        let combo = ComboBox::from_id_salt((id, at))
            .selected_text(title(now))
            .width(184.0)
            .show_ui(ui, |ui| {
                for choice in choices {
                    ui.selectable_value(&mut next, choice, title(choice));
                }
            });
        if std::mem::take(takes_keyboard) {
            combo.response.request_focus();
        }
        combo.response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::ComboBox, true, &name);
            info.current_text_value = Some(title(now));
            info
        });
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.add(Label::new(RichText::new(&name).font(t.strong_font())).truncate());
            let sample = RichText::new(format!("such as {sample}"))
                .font(t.small_font())
                .color(t.quiet);
            ui.add(Label::new(sample).truncate());
        });
    });
    (next != now).then_some(next)
}

/// What a file leaves open: dates and numbers that can be read in two ways.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct TwoWays {
    dates: bool,
    numbers: bool,
}

impl TwoWays {
    /// Looks for what can be read in two ways.
    pub fn of(table: &Table) -> Self {
        let cells = || table.rows.iter().flat_map(|row| row.cells.iter());
        let is_unclear = |cell: &String| {
            let read = read_date(cell, DateOrder::Unknown);
            matches!(read, Err(Fault::AmbiguousDate { .. }))
        };
        let has_mark = |cell: &String| cell.contains([',', '.']) && is_plain_number(cell.trim());
        Self {
            dates: cells().any(is_unclear),
            numbers: table.decimal == DecimalMark::Unsure && cells().any(has_mark),
        }
    }

    /// Asks for it; says whether an answer was changed.
    pub fn ui(self, ui: &mut Ui, id: &str, dates: &mut DateOrder, decimal: &mut DecimalMark) -> bool {
        let t = Tokens::of(ui);
        let mut changed = false;
        if self.dates {
            ui.label(RichText::new("In dates such as 3/4/2026 comes first").font(t.strong_font()));
            let orders = [DateOrder::Unknown, DateOrder::DayFirst, DateOrder::MonthFirst];
            let words = ["Not said", "The day", "The month"];
            changed |= switch(ui, (id, "Order of dates"), &words, &orders, dates);
        }
        if self.numbers {
            ui.label(RichText::new("Decimals are written with").font(t.strong_font()));
            let marks = [DecimalMark::Unsure, DecimalMark::Point, DecimalMark::Comma];
            let words = ["Not said", "A point", "A comma"];
            changed |= switch(ui, (id, "Decimal mark"), &words, &marks, decimal);
        }
        changed
    }
}

/// Draws a switch; says whether it was changed.
pub(super) fn switch<T: Copy + PartialEq>(
    ui: &mut Ui,
    (id, name): (&str, &str),
    words: &[&str],
    values: &[T],
    value: &mut T,
) -> bool {
    let chosen = values.iter().position(|one| one == value).unwrap_or(0);
    match segmented(ui, Id::unique((id, name)), name, words, chosen) {
        Some(next) => {
            *value = values[next];
            true
        }
        None => false,
    }
}

/// Lists problems, each with its line.
pub(super) fn problems_ui(ui: &mut Ui, id: &str, problems: &[RowProblem]) {
    if problems.is_empty() {
        return;
    }
    let shown = problems.len().min(LISTED);
    ScrollArea::vertical()
        .id_salt(id)
        .max_height(120.0)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            for problem in &problems[..shown] {
                alert(ui, &sentence(&problem.to_string()));
            }
            if problems.len() > shown {
                ui.label(format!("and {} more.", problems.len() - shown));
            }
        });
}

/// Says how many lines.
pub(super) fn lines(count: usize) -> String {
    plural(count, "line")
}
