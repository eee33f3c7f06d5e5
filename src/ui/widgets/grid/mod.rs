//! The table that feels like a spreadsheet.
//!
//! One widget owns the keyboard and never scrolls away; cells are only painted, and only those in sight. A text
//! field exists for the one cell that is being edited. The grid changes nothing: it returns what was asked for.

mod clipboard;
mod keys;
mod paint;
mod state;

use std::borrow::Cow;
use std::ops::Range;

use egui::{
    Align, EventFilter, Id, PointerButton, Pos2, Rect, Response, Role, Sense, Ui, Vec2, WidgetInfo, vec2,
};

use crate::ui::tokens::Tokens;
pub use state::GridState;

use keys::Pass;
use paint::Layout;

/// One column of a grid.
#[derive(Clone, Debug, PartialEq)]
pub struct GridColumn {
    /// The word in the header.
    pub title: String,
    /// One sentence shown when the pointer rests on the header; may be empty.
    pub hint: String,
    /// Width in points; `None` takes it from the content.
    pub width: Option<f32>,
    /// Whether cells can be typed in.
    pub editable: bool,
    /// `Align::Max` for numbers, `Align::Min` for words.
    pub align: Align,
    /// Whether the column stays in sight when the table scrolls sideways; only leading columns can.
    pub frozen: bool,
}

impl GridColumn {
    /// An editable column of words, as wide as its content.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            hint: String::new(),
            width: None,
            editable: true,
            align: Align::Min,
            frozen: false,
        }
    }

    /// Sets the sentence shown when the pointer rests on the header.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    /// Sets the width in points.
    #[must_use]
    pub fn width(mut self, width: f32) -> Self {
        self.width = Some(width);
        self
    }

    /// Makes the column a shown one that cannot be typed in.
    #[must_use]
    pub fn read_only(mut self) -> Self {
        self.editable = false;
        self
    }

    /// Aligns the column as numbers are: to the right.
    #[must_use]
    pub fn number(mut self) -> Self {
        self.align = Align::Max;
        self
    }

    /// Keeps the column in sight when the table scrolls sideways.
    #[must_use]
    pub fn frozen(mut self) -> Self {
        self.frozen = true;
        self
    }
}

/// A warning at a cell, drawn as a sign and told in a tooltip and to a screen reader.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellMark {
    /// What is doubtful here, and what to do, in one sentence.
    pub text: String,
}

/// What a grid shows: already filtered and sorted by its owner.
pub trait GridSource {
    /// How many rows.
    fn rows(&self) -> usize;
    /// The columns.
    fn columns(&self) -> &[GridColumn];
    /// The text of a cell; asked only for cells in sight, on the clipboard, or measured for a column's width.
    fn text(&self, row: usize, col: usize) -> Cow<'_, str>;
    /// A warning at a cell.
    fn mark(&self, _row: usize, _col: usize) -> Option<CellMark> {
        None
    }
    /// Whether a cell's text was not typed there but follows from something else: it is painted quietly.
    fn is_quiet(&self, _row: usize, _col: usize) -> bool {
        false
    }
    /// Whether a row holds a thing that is chosen in the window: it is filled and has a bar at its left edge.
    fn is_chosen(&self, _row: usize) -> bool {
        false
    }
}

/// What the grower asked for; rows and columns are those of the source as it was shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GridEvent {
    /// A cell was typed. Refuse it with [`GridState::refuse`] and the text stays open for repair.
    Edit {
        /// Row.
        row: usize,
        /// Column.
        col: usize,
        /// The text as typed.
        text: String,
    },
    /// A block was pasted; it may reach beyond the last row or column.
    Paste {
        /// Row of the block's first line.
        row: usize,
        /// Column of the block's first cell.
        col: usize,
        /// Lines of cells; lines can differ in length.
        cells: Vec<Vec<String>>,
    },
    /// The first of the rows is to be written into the others.
    FillDown {
        /// Rows; the first is the source.
        rows: Range<usize>,
        /// Column.
        col: usize,
    },
    /// Cells are to be emptied.
    Clear {
        /// Rows.
        rows: Range<usize>,
        /// Columns.
        cols: Range<usize>,
    },
    /// The grid has put these cells on the clipboard.
    Copy {
        /// Rows.
        rows: Range<usize>,
        /// Columns.
        cols: Range<usize>,
    },
    /// The cursor is in another row.
    Cursor {
        /// Row.
        row: usize,
    },
    /// Rows are to be sorted by a column.
    Sort {
        /// Column.
        col: usize,
        /// Largest first.
        descending: bool,
    },
    /// Whole rows are to be deleted.
    DeleteRows {
        /// Rows.
        rows: Range<usize>,
    },
}

/// The grid; see [`Grid::show`].
#[must_use]
pub struct Grid {
    id: Id,
    label: String,
    row_numbers: bool,
}

impl Grid {
    /// A grid with an id that is unique in the window and the name that a screen reader speaks.
    pub fn new(id: Id, label: impl Into<String>) -> Self {
        Self {
            id,
            label: label.into(),
            row_numbers: true,
        }
    }

    /// Whether the rows are numbered at the left edge (they are, unless told otherwise); a click on a number
    /// chooses the row.
    pub fn row_numbers(mut self, shown: bool) -> Self {
        self.row_numbers = shown;
        self
    }

    /// Draws the grid in all the room that is left in `ui` and returns what was asked for, in order.
    ///
    /// Keys: arrows, Page Up and Down, Home, End, each with Ctrl for the far end and Shift to choose a block; Tab,
    /// Shift+Tab; Enter, Shift+Enter; F2 or typing edits; Escape cancels; Ctrl+D fills down; Ctrl+C, X, V; Ctrl+A;
    /// Delete empties; Ctrl+Delete deletes rows; Alt+Up and Alt+Down sort; F6 and Shift+F6 leave the grid.
    pub fn show(self, ui: &mut Ui, state: &mut GridState, source: &dyn GridSource) -> Vec<GridEvent> {
        let t = Tokens::of(ui);
        let rows = source.rows();
        state.fit(rows, source.columns().len());
        paint::measure(ui, state, source, t);

        let rect = room(ui, t, rows);
        ui.advance_cursor_after_rect(rect);
        let cursor_before = state.cursor();

        let mut pass = Pass::new(state, source);
        let deferred = self.take_keys(ui, &mut pass);
        let owner = ui.interact(rect, self.id, Sense::click_and_drag());
        let layout = Layout::new(ui, rect, pass.state, source, t, self.row_numbers);
        pointer(ui, &owner, &layout, &mut pass);
        self.focus_editor(ui, &mut pass, &owner);

        let focused = owner.has_focus() || pass.state.is_editing();
        layout.show(ui, self.id, focused, &owner, &mut pass);

        self.after_drawing(ui, &owner, &mut pass, deferred);
        if pass.state.cursor().0 != cursor_before.0 && rows > 0 {
            let row = pass.state.cursor().0;
            pass.out.push(GridEvent::Cursor { row });
        }
        let Pass { out, copied, .. } = pass;
        if let Some(text) = copied {
            ui.copy_text(text);
        }
        owner.widget_info(|| self.info(ui, state, source));
        if !out.is_empty() {
            ui.request_repaint();
        }
        out
    }

    fn editor_id(&self, row: usize, col: usize) -> Id {
        self.id.with(("cell", row, col))
    }

    /// Takes the keys that are the grid's out of the input. Without an open editor they act at once; with one, those
    /// up to the key that closes it are left to the text field, and the rest is returned for after it has drawn.
    fn take_keys(&self, ui: &Ui, pass: &mut Pass<'_>) -> Vec<egui::Event> {
        let editor = pass.state.edit.as_ref().map(|e| self.editor_id(e.row, e.col));
        let focused = ui.memory(egui::Memory::focused);
        let may_act = ui.is_enabled() && ui.memory(|m| m.allows_interaction(ui.layer_id()));
        let on_owner = focused == Some(self.id);
        let on_editor = editor.is_some() && (focused == editor || focused.is_none());
        if pass.state.wants_focus && may_act {
            pass.state.wants_focus = false;
            ui.memory_mut(|m| m.request_focus(self.id));
        }
        if !may_act || !(on_owner || on_editor) {
            return Vec::new();
        }
        ui.memory_mut(|m| m.set_focus_lock_filter(self.id, ALL_KEYS));
        let taken = ui.input_mut(|input| keys::take(&mut input.events, pass.state));
        if taken.is_empty() {
            return taken;
        }
        // The first pass after a change of focus has no filter yet: keep egui from moving the focus by Tab or arrows.
        ui.memory_mut(|m| m.move_focus(egui::FocusDirection::None));
        if pass.state.is_editing() {
            return taken;
        }
        Self::act(ui, pass, taken);
        Vec::new()
    }

    fn act(ui: &Ui, pass: &mut Pass<'_>, events: Vec<egui::Event>) {
        for event in events {
            pass.handle(&event);
        }
        if let Some(direction) = pass.leave.take() {
            ui.memory_mut(|m| m.move_focus(direction));
        }
    }

    /// Gives a newly opened editor the keyboard, with the caret at the end.
    fn focus_editor(&self, ui: &Ui, pass: &mut Pass<'_>, owner: &Response) {
        let Some(edit) = pass.state.edit.as_mut().filter(|edit| edit.fresh) else {
            return;
        };
        edit.fresh = false;
        edit.seen = false;
        let id = self.editor_id(edit.row, edit.col);
        let mut text_state = egui::TextEdit::load_state(ui.ctx(), id).unwrap_or_default();
        let end = egui::text::CCursor::new(edit.text.chars().count());
        text_state
            .cursor
            .set_char_range(Some(egui::text::CCursorRange::one(end)));
        text_state.clear_undoer();
        text_state.store(ui.ctx(), id);
        if owner.enabled() {
            ui.memory_mut(|m| m.request_focus(id));
        }
    }

    /// Closes the editor by its key, or because the keyboard went elsewhere, then acts on the keys that came after.
    fn after_drawing(&self, ui: &Ui, owner: &Response, pass: &mut Pass<'_>, deferred: Vec<egui::Event>) {
        let was_editing = pass.state.is_editing();
        if std::mem::take(&mut pass.state.opens_next) {
            pass.open(None);
            ui.request_repaint();
        }
        if !deferred.is_empty() {
            Self::act(ui, pass, deferred);
            ui.request_repaint();
        }
        let Some(edit) = &mut pass.state.edit else {
            let orphaned = ui.memory(|m| m.focused().is_none());
            if was_editing && (orphaned || !owner.has_focus()) {
                owner.request_focus();
            }
            return;
        };
        if edit.fresh {
            // Opened by a key that came after another cell was closed: it is drawn in the next pass.
            owner.request_focus();
            return;
        }
        let id = self.editor_id(edit.row, edit.col);
        if ui.memory(|m| m.has_focus(id)) {
            edit.seen = true;
        } else if edit.seen {
            pass.commit();
        }
    }

    fn info(&self, ui: &Ui, state: &GridState, source: &dyn GridSource) -> WidgetInfo {
        let mut info = WidgetInfo::labeled(Role::Grid, ui.is_enabled(), &self.label);
        info.current_text_value = Some(spoken(state, source));
        info
    }
}

const ALL_KEYS: EventFilter = EventFilter {
    tab: true,
    horizontal_arrows: true,
    vertical_arrows: true,
    escape: true,
};

/// What a screen reader says of the cursor: `row 3 of 240, kernels, 250`.
fn spoken(state: &GridState, source: &dyn GridSource) -> String {
    let rows = source.rows();
    let (row, col) = state.cursor();
    let Some(column) = source.columns().get(col).filter(|_| rows > 0) else {
        return "no rows".to_owned();
    };
    let text = source.text(row, col);
    let value = if text.is_empty() { "empty" } else { &text };
    let mut parts = vec![format!("row {} of {rows}, {}, {value}", row + 1, column.title)];
    let (chosen_rows, chosen_cols) = state.selection();
    if chosen_rows.len() * chosen_cols.len() > 1 {
        parts.push(format!(
            "chosen {} rows by {} columns",
            chosen_rows.len(),
            chosen_cols.len()
        ));
    }
    if let Some(mark) = source.mark(row, col) {
        parts.push(format!("warning: {}", mark.text));
    }
    parts.join(", ")
}

/// All the room left; where height has no end, room for the rows.
fn room(ui: &Ui, t: &Tokens, rows: usize) -> Rect {
    let free = ui.available_size_before_wrap();
    let whole = (rows.min(20) + 2) as f32 * t.row_height;
    let height = if free.y.is_finite() { free.y } else { whole };
    let width = if free.x.is_finite() { free.x } else { 600.0 };
    Rect::from_min_size(
        ui.cursor().min,
        vec2(width, height).max(Vec2::splat(2.0 * t.row_height)),
    )
}

fn pointer(ui: &Ui, owner: &Response, layout: &Layout<'_>, pass: &mut Pass<'_>) {
    let Some(pos) = owner.interact_pointer_pos() else {
        return;
    };
    let (pressed, shift) = ui.input(|i| {
        (
            i.pointer.button_pressed(PointerButton::Primary),
            i.modifiers.shift,
        )
    });
    if (pressed && owner.is_pointer_button_down_on()) || owner.clicked() {
        pass.commit();
        owner.request_focus();
        press(layout, pass, pos, shift);
    } else if owner.dragged_by(PointerButton::Primary) && pass.state.dragging {
        let (row, col) = layout.nearest_cell(pos);
        let col = if pass.state.whole_rows {
            pass.state.cursor().1
        } else {
            col
        };
        pass.state.go(row, col, true);
    }
    // The field is drawn in the next pass: in this one it would take the click for one outside of it.
    pass.state.opens_next = owner.double_clicked() && layout.cell_at(pos) == Some(pass.state.cursor());
}

fn press(layout: &Layout<'_>, pass: &mut Pass<'_>, pos: Pos2, extend: bool) {
    pass.state.tab_origin = None;
    pass.state.dragging = false;
    if let Some(row) = layout.row_number_at(pos) {
        pass.state.choose_rows(row, extend);
        pass.state.dragging = true;
    } else if let Some((row, col)) = layout.cell_at(pos) {
        pass.state.go(row, col, extend);
        pass.state.whole_rows = false;
        pass.state.dragging = true;
    }
}
