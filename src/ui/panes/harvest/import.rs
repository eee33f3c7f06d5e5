//! The preview of a file of ears: what each column holds, what is wrong, and what will be taken. Nothing is taken
//! before the grower says so.

use super::bulk::alert;
use super::traits::new_trait;
use crate::exchange::ears_csv::{ColumnMatch, drafts, match_columns};
use crate::exchange::numbers::{DecimalMark, is_plain_number};
use crate::exchange::table_text::{RowProblem, Table, read_table};
use crate::model::sentence;
use crate::model::{
    Area, Command, DateOrder, Document, EarDraft, EarField, Existing, Fault, Place, Project, Season,
    SeasonId, Stamp, Trait, TraitId, read_date,
};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{CellMark, Grid, GridColumn, GridSource, GridState};
use crate::ui::widgets::parts::primary_button_enabled;
use crate::ui::widgets::segmented::segmented;
use egui::{ComboBox, Id, Key, Modifiers, RichText, ScrollArea, Ui};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// The most problems that are listed.
const LISTED: usize = 1000;

/// A file that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    name: String,
    table: Table,
    columns: ColumnMatch,
    /// For each column of the file whether it becomes a new trait.
    is_new_trait: Vec<bool>,
    has_two_ways_dates: bool,
    has_two_ways_numbers: bool,
    shown: Shown,
    grid: GridState,
    key: Option<(SeasonId, [u64; 4])>,
    found: Found,
    asked: Option<(Ticket, usize)>,
    refused: Option<String>,
    is_new: bool,
}

/// What would be taken, with the columns as they are matched now.
#[derive(Debug, Default)]
struct Found {
    new_traits: Vec<Trait>,
    drafts: Vec<EarDraft>,
    problems: Vec<RowProblem>,
    /// Lines with problems.
    bad_lines: usize,
    added: usize,
    changed: usize,
    skipped: usize,
}

/// The file as the grid shows it.
#[derive(Debug, Default)]
struct Shown {
    headers: Vec<GridColumn>,
    marks: BTreeMap<(usize, usize), String>,
}

struct Source<'a> {
    table: &'a Table,
    shown: &'a Shown,
}

impl GridSource for Source<'_> {
    fn rows(&self) -> usize {
        self.table.rows.len()
    }

    fn columns(&self) -> &[GridColumn] {
        &self.shown.headers
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let row = &self.table.rows[row];
        match col.checked_sub(1) {
            None => row.line.to_string().into(),
            Some(col) => row.cells[col].as_str().into(),
        }
    }

    fn mark(&self, row: usize, col: usize) -> Option<CellMark> {
        let text = self.shown.marks.get(&(row, col))?;
        Some(CellMark { text: text.clone() })
    }
}

/// What a column of the file can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Choice {
    LeaveOut,
    NewTrait,
    Field(EarField),
}

impl Import {
    /// Reads a file and matches its columns.
    pub(super) fn read(file: &FileBytes, project: &Project) -> Result<Self, String> {
        let table = read_table(&file.bytes).map_err(|fault| {
            format!(
                "{}: {} Nothing was taken.",
                file.name,
                sentence(&fault.to_string())
            )
        })?;
        let columns = match_columns(&table, project);
        let has_two_ways_dates = cells_of(&table).any(|cell| {
            matches!(
                read_date(cell, DateOrder::Unknown),
                Err(Fault::AmbiguousDate { .. })
            )
        });
        let has_two_ways_numbers = columns.decimal == DecimalMark::Unsure
            && cells_of(&table).any(|cell| cell.contains([',', '.']) && is_plain_number(cell.trim()));
        Ok(Self {
            name: file.name.clone(),
            is_new_trait: vec![false; table.header.len()],
            has_two_ways_dates,
            has_two_ways_numbers,
            table,
            columns,
            shown: Shown::default(),
            grid: GridState::default(),
            key: None,
            found: Found::default(),
            asked: None,
            refused: None,
            is_new: true,
        })
    }

    /// Draws the preview; returns whether it is done.
    pub(super) fn show(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season) -> bool {
        if let Some((ticket, count)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let text = format!("{} taken from {}.", ears(count), self.name);
                    ctx.notice(Tone::Well, text);
                    return true;
                }
                Err(problem) => {
                    let what = sentence(&problem.fault.to_string());
                    self.refused = Some(format!("{what} Nothing was taken."));
                }
            }
        }
        self.refresh(ctx, season.id);
        let t = Tokens::of(ui);
        let title = format!("Import {} into season {}", self.name, season.year);
        ui.label(RichText::new(title).font(t.title_font()));
        let mut done = false;
        egui::Panel::left("harvest import columns")
            .resizable(true)
            .default_size(360.0)
            .size_range(240.0..=520.0)
            .show(ui, |ui| {
                ScrollArea::vertical().show(ui, |ui| self.choices(ui, ctx.document.project()));
            });
        egui::Panel::bottom("harvest import foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx, season.id);
        });
        let source = Source {
            table: &self.table,
            shown: &self.shown,
        };
        let grid = Grid::new(Id::unique("harvest import"), "Lines of the file").row_numbers(false);
        // Nothing can be changed here: the grid's events ask for nothing.
        drop(grid.show(ui, &mut self.grid, &source));
        let escaped = !ui.ctx().any_popup_open()
            && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        done || escaped
    }

    /// Reads the file again when the columns or the project have changed.
    fn refresh(&mut self, ctx: &PaneCtx<'_>, season: SeasonId) {
        let key = ctx
            .document
            .revision_key([Area::Ear, Area::Row, Area::Trait, Area::Season]);
        if self.key == Some((season, key)) {
            return;
        }
        self.key = Some((season, key));
        let stamp = Stamp {
            at: ctx.today.at(0, 0, 0, 0),
            by: ctx.who.to_owned(),
        };
        self.found = self.look(ctx.document, season, &stamp);
        self.shown = self.shown();
    }

    /// Tries everything on a copy of the project, so that what is promised can also be done.
    fn look(&self, document: &Document, season: SeasonId, stamp: &Stamp) -> Found {
        let mut found = Found::default();
        let mut trial = Document::new((*document.snapshot()).clone());
        let mut columns = self.columns.clone();
        for (at, header) in self.table.header.iter().enumerate() {
            if !self.is_new_trait[at] {
                continue;
            }
            let known = self.trait_of(header, at);
            let id = TraitId(trial.project().traits.next_number());
            match trial.run(&Command::AddTrait(known.clone()), stamp) {
                Ok(_) => {
                    columns.fields[at] = Some(EarField::Trait(id));
                    found.new_traits.push(known);
                }
                Err(problem) => found.problems.push(RowProblem::of_column(
                    self.table.header_line,
                    header,
                    problem.fault.to_string(),
                )),
            }
        }
        let project = trial.project();
        let first_new = project.ears.next_number();
        let (lines, problems) = drafts(&self.table, &columns, project, season);
        found.problems.extend(problems);
        let mut new_lines = Vec::new();
        for (line, draft) in &lines {
            let is_there = draft
                .number
                .is_some_and(|number| project.ear_numbered(season, number).is_some());
            match (is_there, columns.existing) {
                (false, _) => {
                    found.added += 1;
                    new_lines.push(*line);
                }
                (true, Existing::Skip) => found.skipped += 1,
                (true, _) => found.changed += 1,
            }
        }
        found.drafts = lines.iter().map(|(_, draft)| draft.clone()).collect();
        let command = found.command(season, columns.existing);
        if let Err(problem) = trial.run(&command, stamp) {
            let line = match problem.place {
                Place::Ear(ear) => ear
                    .0
                    .checked_sub(first_new)
                    .and_then(|at| new_lines.get(at as usize))
                    .copied()
                    .or_else(|| {
                        let number = document.project().ears.get(ear).map(|ear| ear.number);
                        lines
                            .iter()
                            .find(|(_, draft)| draft.number == number)
                            .map(|(line, _)| *line)
                    }),
                _ => None,
            };
            let problem =
                RowProblem::of_line(line.unwrap_or(self.table.header_line), problem.fault.to_string());
            found.problems.push(problem);
            // The whole is refused: there are no good lines that could be taken alone.
            found.drafts.clear();
            (found.added, found.changed, found.skipped) = (0, 0, 0);
        }
        let mut bad: Vec<usize> = found.problems.iter().map(|problem| problem.line).collect();
        bad.sort_unstable();
        bad.dedup();
        found.bad_lines = bad.len();
        found
    }

    /// The trait that a column becomes: its name and unit from the header, its digits from the cells.
    fn trait_of(&self, header: &str, at: usize) -> Trait {
        let (name, unit) = match header
            .trim()
            .strip_suffix(')')
            .and_then(|rest| rest.rsplit_once('('))
        {
            Some((name, unit)) if !name.trim().is_empty() => (name.trim(), unit.trim()),
            _ => (header.trim(), ""),
        };
        let digits = |cell: &str| {
            let cell = cell.trim();
            cell.rsplit_once([',', '.']).map_or(0, |(_, digits)| digits.len())
        };
        let cells = self.table.rows.iter().filter_map(|row| row.cells.get(at));
        let decimals = cells.map(|cell| digits(cell)).max().unwrap_or(0).min(6);
        Trait {
            unit: unit.to_owned(),
            decimals: decimals as u8,
            ..new_trait(name)
        }
    }

    fn shown(&self) -> Shown {
        let line = GridColumn::new("Line").number().read_only().frozen();
        let columns = self.table.header.iter().map(|header| {
            let title = if header.is_empty() { "(no name)" } else { header };
            GridColumn::new(title).read_only()
        });
        let rows: BTreeMap<usize, usize> = self
            .table
            .rows
            .iter()
            .enumerate()
            .map(|(at, row)| (row.line, at))
            .collect();
        let mut marks = BTreeMap::new();
        for problem in &self.found.problems {
            let Some(row) = rows.get(&problem.line) else {
                continue;
            };
            let column = problem.column.as_ref();
            let col = column.and_then(|name| self.table.header.iter().position(|header| header == name));
            marks.insert((*row, col.map_or(0, |col| col + 1)), sentence(&problem.what));
        }
        Shown {
            headers: std::iter::once(line).chain(columns).collect(),
            marks,
        }
    }

    // ---- choices -----------------------------------------------------------------------------------------

    fn choices(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("What each column holds").font(t.heading_font()));
        let mut changed = false;
        for at in 0..self.table.header.len() {
            changed |= self.choice(ui, project, at);
        }
        ui.add_space(t.space.medium);
        ui.label(RichText::new("Ears whose number this season already has").font(t.strong_font()));
        let ways = [Existing::Refuse, Existing::Update, Existing::Skip];
        changed |= switch(
            ui,
            "Existing ears",
            &["Refuse", "Change them", "Leave them"],
            &ways,
            &mut self.columns.existing,
        );
        if self.has_two_ways_dates {
            ui.label(RichText::new("In dates such as 3/4/2026 comes first").font(t.strong_font()));
            let orders = [DateOrder::Unknown, DateOrder::DayFirst, DateOrder::MonthFirst];
            changed |= switch(
                ui,
                "Order of dates",
                &["Not said", "The day", "The month"],
                &orders,
                &mut self.columns.dates,
            );
        }
        if self.has_two_ways_numbers {
            ui.label(RichText::new("Decimals are written with").font(t.strong_font()));
            let marks = [DecimalMark::Unsure, DecimalMark::Point, DecimalMark::Comma];
            changed |= switch(
                ui,
                "Decimal mark",
                &["Not said", "A point", "A comma"],
                &marks,
                &mut self.columns.decimal,
            );
        }
        if changed {
            self.key = None;
            self.refused = None;
            ui.request_repaint();
        }
    }

    /// Draws the choice of one column; returns whether it was changed.
    fn choice(&mut self, ui: &mut Ui, project: &Project, at: usize) -> bool {
        let t = Tokens::of(ui);
        let header = self.table.header[at].as_str();
        let name = if header.is_empty() {
            format!("Column {}", at + 1)
        } else {
            header.to_owned()
        };
        let sample = self
            .table
            .rows
            .iter()
            .map(|row| row.cells[at].trim())
            .find(|cell| !cell.is_empty())
            .unwrap_or("empty");
        let now = match (self.is_new_trait[at], self.columns.fields[at]) {
            (true, _) => Choice::NewTrait,
            (false, Some(field)) => Choice::Field(field),
            (false, None) => Choice::LeaveOut,
        };
        let title = |choice: Choice| match choice {
            Choice::LeaveOut => "Leave out".to_owned(),
            Choice::NewTrait => "Add as a new trait".to_owned(),
            Choice::Field(field) => field.title(project),
        };
        let traits = project.traits.iter().map(|known| EarField::Trait(known.id));
        let fields = EarField::FIXED.into_iter().chain(traits).map(Choice::Field);
        let can_be_trait = !header.is_empty();
        let choices = std::iter::once(Choice::LeaveOut)
            .chain(can_be_trait.then_some(Choice::NewTrait))
            .chain(fields);
        let mut next = now;
        ui.horizontal(|ui| {
            let combo = ComboBox::from_id_salt(("harvest import column", at))
                .selected_text(title(now))
                .width(184.0)
                .show_ui(ui, |ui| {
                    for choice in choices {
                        ui.selectable_value(&mut next, choice, title(choice));
                    }
                });
            if std::mem::take(&mut self.is_new) {
                combo.response.request_focus();
            }
            combo.response.widget_info(|| {
                let mut info = egui::WidgetInfo::labeled(egui::Role::ComboBox, true, &name);
                info.current_text_value = Some(title(now));
                info
            });
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                ui.add(egui::Label::new(RichText::new(&name).font(t.strong_font())).truncate());
                let sample = RichText::new(format!("such as {sample}"))
                    .font(t.small_font())
                    .color(t.quiet);
                ui.add(egui::Label::new(sample).truncate());
            });
        });
        if next == now {
            return false;
        }
        self.is_new_trait[at] = next == Choice::NewTrait;
        self.columns.fields[at] = match next {
            Choice::Field(field) => Some(field),
            Choice::LeaveOut | Choice::NewTrait => None,
        };
        true
    }

    // ---- what will happen --------------------------------------------------------------------------------

    /// Draws problems, summary and buttons; returns whether the preview is done.
    fn foot(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) -> bool {
        let t = Tokens::of(ui);
        if let Some(refused) = &self.refused {
            alert(ui, refused);
        }
        self.problems(ui);
        ui.label(RichText::new(self.found.summary()).font(t.strong_font()));
        let mut done = false;
        ui.horizontal_wrapped(|ui| {
            let count = self.found.added + self.found.changed;
            let is_good = self.found.bad_lines == 0 && count > 0;
            let is_bad = self.found.bad_lines > 0;
            let all = self.table.rows.len() + self.table.problems.len();
            let word = if is_bad {
                format!("Take all {}", lines(all))
            } else {
                format!("Take {}", ears(count))
            };
            let mut take = primary_button_enabled(ui, is_good, &word);
            if is_bad {
                take = take
                    .on_disabled_hover_text("Correct the file and import it again, or take the good lines.");
            }
            let bad = lines(self.found.bad_lines);
            let partly = format!("Take the good {}, leave out {bad}", ears(count));
            if take.clicked() || (is_bad && count > 0 && ui.button(partly).clicked()) {
                self.take(ctx, season, count);
            }
            done = ui.button("Cancel").clicked();
        });
        ui.add_space(t.space.tiny);
        done
    }

    fn problems(&self, ui: &mut Ui) {
        let problems = &self.found.problems;
        if problems.is_empty() {
            return;
        }
        let shown = problems.len().min(LISTED);
        ScrollArea::vertical()
            .id_salt("harvest import problems")
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

    /// Adds the new traits, then the ears: the copy on which it was tried gave the traits the same ids.
    fn take(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, count: usize) {
        for known in &self.found.new_traits {
            ctx.run(Command::AddTrait(known.clone()));
        }
        let ticket = ctx.run_for(self.found.command(season, self.columns.existing));
        self.asked = Some((ticket, count));
    }
}

impl Found {
    fn command(&self, season: SeasonId, existing: Existing) -> Command {
        Command::AddEars {
            season,
            drafts: self.drafts.clone(),
            existing,
        }
    }

    fn summary(&self) -> String {
        let mut parts = vec![format!("{} new", ears(self.added))];
        if self.changed > 0 {
            parts.push(format!("{} changed", ears(self.changed)));
        }
        if self.skipped > 0 {
            parts.push(format!("{} left as they are", ears(self.skipped)));
        }
        let count = self.new_traits.len();
        if count > 0 {
            let word = if count == 1 { "trait" } else { "traits" };
            parts.push(format!("{count} new {word}"));
        }
        if self.bad_lines > 0 {
            parts.push(format!("{} with problems", lines(self.bad_lines)));
        }
        format!("{}. Nothing is taken yet.", parts.join(", "))
    }
}

fn cells_of(table: &Table) -> impl Iterator<Item = &str> {
    table
        .rows
        .iter()
        .flat_map(|row| row.cells.iter().map(String::as_str))
}

fn switch<T: Copy + PartialEq>(ui: &mut Ui, name: &str, words: &[&str], values: &[T], value: &mut T) -> bool {
    let chosen = values.iter().position(|one| one == value).unwrap_or(0);
    let id = Id::unique(("harvest import", name));
    match segmented(ui, id, name, words, chosen) {
        Some(next) => {
            *value = values[next];
            true
        }
        None => false,
    }
}

fn ears(count: usize) -> String {
    counted(count, "ear")
}

fn lines(count: usize) -> String {
    counted(count, "line")
}

fn counted(count: usize, one: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {one}s")
    }
}
