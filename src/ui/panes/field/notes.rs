//! What is seen in the rows of a field from spring to autumn: a table in walking order, and one key a row.

use super::around::Around;
use super::scatter;
use crate::insight::FieldView;
use crate::model::{Command, FieldNote, FieldRowId, LengthUnit, PlantingList, RowField, sentence};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{Grid, GridColumn, GridEvent, GridSource, GridState};
use crate::ui::widgets::parts::{card, empty_state};
use crate::ui::widgets::segmented::segmented;
use egui::{ComboBox, Id, Key, Modifiers, RichText, Role, TextEdit, Ui, WidgetInfo};
use std::borrow::Cow;
use std::ops::Range;

/// Columns before those that are noted.
const GIVEN: usize = 4;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Year {
    shown: usize,
    walk: Walk,
    grid: GridState,
    /// The cells of the table that wait for an answer.
    asked: Option<(Ticket, usize, usize)>,
    block: Option<Ticket>,
    around: Around,
}

/// Noting one thing row by row.
#[derive(Debug)]
struct Walk {
    field: RowField,
    at: usize,
    text: String,
    asked: Option<Ticket>,
    refusal: Option<String>,
}

impl Default for Walk {
    fn default() -> Self {
        Self {
            field: RowField::Stand,
            at: 0,
            text: String::new(),
            asked: None,
            refusal: None,
        }
    }
}

impl Year {
    /// Draws the part; returns whether the plan is asked for instead.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) -> bool {
        let project = ctx.document.project();
        let Some(plan) = project.plan_of(list.id) else {
            let what = "Plan the field first: stands, flowering and heights are then noted row by row in the order in which you walk.";
            return empty_state(ui, "No field is planned yet", what, Some("Go to the field plan"));
        };
        let view = ctx.insight.field_plan(ctx.document, plan.id);
        let Some(view) = view.as_ref() else { return false };
        let names = ["Rows", "Flowering and detasselling", "Field and trays"];
        if let Some(other) = segmented(ui, Id::unique("field year"), "What is shown", &names, self.shown) {
            self.shown = other;
        }
        ui.add_space(Tokens::of(ui).space.small);
        match self.shown {
            0 => self.rows(ui, ctx, view),
            1 => self.around.ui(ui, ctx, plan),
            _ => scatter::ui(ui, ctx, plan),
        }
        false
    }

    fn rows(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, view: &FieldView) {
        let unit = ctx.document.project().about.units.length;
        if ctx.read_only.is_none() {
            card(ui, |ui| self.walk.ui(ui, ctx, view, unit));
            ui.add_space(Tokens::of(ui).space.small);
        }
        let source = Table::new(view, unit);
        self.answers(ctx, view);
        let events = Grid::new(Id::unique("field rows"), "Rows of the field")
            .row_numbers(false)
            .show(ui, &mut self.grid, &source);
        for event in events {
            self.take(ctx, view, &source, event);
        }
    }

    fn answers(&mut self, ctx: &mut PaneCtx<'_>, view: &FieldView) {
        if let Some((ticket, row, col)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            if let Err(problem) = outcome {
                self.grid.refuse(row, col, sentence(&problem.to_string()));
            } else {
                // The walk goes on behind what was typed in the table.
                self.walk.at = (row + 1).min(view.rows.len().saturating_sub(1));
            }
        }
        if let Some(Err(problem)) = self.block.and_then(|ticket| ctx.outcome(ticket)) {
            ctx.notice(Tone::Error, sentence(&problem.to_string()));
            self.block = None;
        }
    }

    fn take(&mut self, ctx: &mut PaneCtx<'_>, view: &FieldView, source: &Table<'_>, event: GridEvent) {
        let field = |col: usize| {
            col.checked_sub(GIVEN)
                .and_then(|at| RowField::ALL.get(at).copied())
        };
        let note = |row: usize, col: usize, text: String| {
            let (row, field) = (view.rows.get(row)?.row, field(col)?);
            Some(FieldNote { row, field, text })
        };
        let notes: Vec<FieldNote> = match event {
            GridEvent::Edit { row, col, text } => {
                let Some(note) = note(row, col, text) else { return };
                if let Some(why) = ctx.read_only {
                    self.grid
                        .refuse(row, col, format!("Nothing can be changed: {why}."));
                    return;
                }
                let ticket = ctx.run_for(Command::NoteFieldRows {
                    notes: vec![note],
                    on: ctx.today,
                });
                self.asked = Some((ticket, row, col));
                return;
            }
            GridEvent::Cursor { row } => {
                if let Some(ear) = view.rows.get(row).and_then(|row| row.content.ear()) {
                    ctx.choose(vec![ear]);
                }
                return;
            }
            GridEvent::Paste { row, col, cells } => cells
                .into_iter()
                .enumerate()
                .flat_map(|(down, line)| {
                    line.into_iter()
                        .enumerate()
                        .filter_map(|(right, text)| note(row + down, col + right, text))
                        .collect::<Vec<_>>()
                })
                .collect(),
            GridEvent::FillDown { rows, col } => {
                let text = source.text(rows.start, col).into_owned();
                rows.skip(1)
                    .filter_map(|row| note(row, col, text.clone()))
                    .collect()
            }
            GridEvent::Clear { rows, cols } => of_block(&rows, &cols)
                .filter_map(|(row, col)| note(row, col, String::new()))
                .collect(),
            GridEvent::Copy { .. } | GridEvent::Sort { .. } | GridEvent::DeleteRows { .. } => return,
        };
        if !notes.is_empty() && ctx.read_only.is_none() {
            self.block = Some(ctx.run_for(Command::NoteFieldRows { notes, on: ctx.today }));
        }
    }
}

fn of_block<'a>(rows: &'a Range<usize>, cols: &'a Range<usize>) -> impl Iterator<Item = (usize, usize)> + 'a {
    rows.clone()
        .flat_map(|row| cols.clone().map(move |col| (row, col)))
}

impl Walk {
    fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, view: &FieldView, unit: LengthUnit) {
        let t = Tokens::of(ui);
        self.at = self.at.min(view.rows.len().saturating_sub(1));
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    self.refusal = None;
                    self.text.clear();
                    self.at = (self.at + 1).min(view.rows.len().saturating_sub(1));
                }
                Err(problem) => self.refusal = Some(sentence(&problem.to_string())),
            }
        }
        let Some(row) = view.rows.get(self.at) else { return };
        let id = Id::unique("field walk entry");
        let has_focus = ui.memory(|m| m.has_focus(id));
        let pressed = |key: Key| has_focus && ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
        let (up, down, enter) = (
            pressed(Key::ArrowUp),
            pressed(Key::ArrowDown),
            pressed(Key::Enter),
        );
        let mut step = i64::from(down) - i64::from(up);
        let mut notes = None;
        ui.horizontal_wrapped(|ui| {
            ui.label("Walk the rows and note");
            let now = self.field.title();
            let combo = ComboBox::from_id_salt("field walk what")
                .height(480.0)
                .selected_text(now)
                .show_ui(ui, |ui| {
                    for field in RowField::ALL {
                        if ui
                            .selectable_label(field == self.field, field.title())
                            .on_hover_text(field.hint())
                            .clicked()
                        {
                            self.field = field;
                            self.text.clear();
                            self.refusal = None;
                            self.at = view
                                .rows
                                .iter()
                                .position(|row| !field.is_noted(&row.seen))
                                .unwrap_or(0);
                        }
                    }
                });
            combo.response.widget_info(|| {
                let mut info = WidgetInfo::labeled(Role::ComboBox, true, "What is noted");
                info.current_text_value = Some(now.to_owned());
                info
            });
            let left = view
                .rows
                .iter()
                .filter(|row| !self.field.is_noted(&row.seen))
                .count();
            ui.label(
                RichText::new(format!("{} of {} noted", view.rows.len() - left, view.rows.len()))
                    .color(t.quiet),
            );
        });
        ui.horizontal_wrapped(|ui| {
            let title = format!("Stake {}", row.stake);
            ui.label(RichText::new(title).font(t.numeral_font()));
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                ui.label(RichText::new(&row.name).font(t.heading_font()));
                let known = self.field.text(&row.seen, unit);
                let known = if known.is_empty() {
                    "not noted yet".to_owned()
                } else {
                    format!("noted: {known}")
                };
                ui.label(
                    RichText::new(format!("{} kernels, {known}", row.kernels))
                        .font(t.small_font())
                        .color(t.quiet),
                );
            });
            let name = format!("{} at stake {}, {}", self.field.title(), row.stake, row.name);
            ui.add(
                TextEdit::singleline(&mut self.text)
                    .id(id)
                    .font(t.heading_font())
                    .desired_width(120.0)
                    .hint_text(if self.field.is_day() { "Enter: today" } else { "" }),
            )
            .accessible_name(name);
            let word = match (self.field.is_day(), self.text.trim().is_empty()) {
                (true, true) => "Today",
                _ => "Note it",
            };
            if ui.button(word).clicked() || enter {
                notes = Some(if self.field.is_day() && self.text.trim().is_empty() {
                    "today".to_owned()
                } else {
                    self.text.clone()
                });
            }
            if ui.button("Back").on_hover_text("Up").clicked() {
                step = -1;
            }
            if ui
                .button("Skip")
                .on_hover_text("Down: the next row, nothing is noted here")
                .clicked()
            {
                step = 1;
            }
        });
        let keys = "Enter notes it and goes to the next row; Down skips a row, Up goes back.";
        ui.label(
            RichText::new(format!("{}. {keys}", self.field.hint()))
                .font(t.small_font())
                .color(t.quiet),
        );
        if let Some(refusal) = &self.refusal {
            crate::ui::widgets::parts::alert(ui, refusal);
        }
        match notes {
            // Nothing typed: as if it were skipped, so that a held Enter harms nothing.
            Some(text) if text.trim().is_empty() => step = 1,
            Some(text) if self.asked.is_none() => self.note(ctx, row.row, text),
            _ => {}
        }
        if enter || step != 0 {
            ui.memory_mut(|m| m.request_focus(id));
        }
        if step != 0 {
            self.text.clear();
            self.refusal = None;
            let last = view.rows.len().saturating_sub(1) as i64;
            self.at = (self.at as i64 + step).clamp(0, last) as usize;
        }
    }

    fn note(&mut self, ctx: &mut PaneCtx<'_>, row: FieldRowId, text: String) {
        let field = self.field;
        self.asked = Some(ctx.run_for(Command::NoteFieldRows {
            notes: vec![FieldNote { row, field, text }],
            on: ctx.today,
        }));
    }
}

/// The rows as the grid shows them.
struct Table<'a> {
    view: &'a FieldView,
    columns: Vec<GridColumn>,
    unit: LengthUnit,
}

impl<'a> Table<'a> {
    fn new(view: &'a FieldView, unit: LengthUnit) -> Self {
        let given = [
            GridColumn::new("Stake").read_only().number().frozen(),
            GridColumn::new("Planted").read_only().frozen(),
            GridColumn::new("Mother row").read_only(),
            GridColumn::new("Kernels").read_only().number(),
        ];
        let noted = RowField::ALL.into_iter().map(|field| {
            let title = if field.is_height() {
                format!("{} ({})", field.title(), unit.sign())
            } else {
                field.title().to_owned()
            };
            let column = GridColumn::new(title).hint(field.hint());
            match field {
                RowField::Loss | RowField::Note => column,
                _ => column.number(),
            }
        });
        Self {
            view,
            columns: given.into_iter().chain(noted).collect(),
            unit,
        }
    }
}

impl GridSource for Table<'_> {
    fn rows(&self) -> usize {
        self.view.rows.len()
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let Some(row) = self.view.rows.get(row) else {
            return Cow::Borrowed("");
        };
        match col {
            0 => Cow::Owned(row.stake.to_string()),
            1 => Cow::Borrowed(&row.name),
            2 => Cow::Borrowed(&row.mother),
            3 => Cow::Owned(row.kernels.to_string()),
            _ => RowField::ALL.get(col - GIVEN).map_or(Cow::Borrowed(""), |field| {
                Cow::Owned(field.text(&row.seen, self.unit))
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::of_block;

    #[test]
    fn a_block_has_all_its_cells() {
        let cells: Vec<(usize, usize)> = of_block(&(1..3), &(4..6)).collect();
        assert_eq!(cells, [(1, 4), (1, 5), (2, 4), (2, 5)]);
    }
}
