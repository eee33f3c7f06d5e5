//! What a grid remembers between frames.

use std::ops::Range;

use egui::Vec2;

/// Cursor, chosen block, open editor, column widths and scroll position of one grid.
#[derive(Clone, Debug, Default)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "independent facts of one frame, none of them a parameter"
)]
pub struct GridState {
    cursor: (usize, usize),
    anchor: (usize, usize),
    rows: usize,
    cols: usize,
    sort: Option<(usize, bool)>,
    /// Texts committed in the last pass that committed any, so that a refused one can be opened again.
    sent: Vec<(usize, usize, String)>,
    pub(super) edit: Option<Edit>,
    /// A sentence shown at the cursor until the next key: why nothing happened.
    pub(super) note: Option<String>,
    pub(super) whole_rows: bool,
    pub(super) dragging: bool,
    pub(super) wants_focus: bool,
    pub(super) opens_next: bool,
    pub(super) tab_origin: Option<usize>,
    pub(super) reveal: bool,
    pub(super) widths: Vec<f32>,
    pub(super) measured: Option<u64>,
    pub(super) offset: Vec2,
    pub(super) view: Vec2,
    pub(super) page: usize,
}

/// The cell being edited.
#[derive(Clone, Debug)]
pub(super) struct Edit {
    pub row: usize,
    pub col: usize,
    pub text: String,
    /// Opened by typing over the cell: arrows then close it, as they have nothing to move through.
    pub quick: bool,
    pub message: Option<String>,
    /// Not drawn yet.
    pub fresh: bool,
    /// Its field has had the keyboard.
    pub seen: bool,
}

impl GridState {
    /// Row and column of the cursor.
    #[must_use]
    pub fn cursor(&self) -> (usize, usize) {
        self.cursor
    }

    /// Puts the cursor on a cell, scrolls to it and forgets the chosen block. No event follows.
    pub fn set_cursor(&mut self, row: usize, col: usize) {
        self.cursor = (row, col);
        self.anchor = self.cursor;
        self.whole_rows = false;
        self.reveal = true;
    }

    /// Rows and columns of the chosen block; at least the cursor's cell, nothing when the grid is empty.
    #[must_use]
    pub fn selection(&self) -> (Range<usize>, Range<usize>) {
        let span = |a: usize, b: usize, count: usize| a.min(b)..(a.max(b) + 1).min(count);
        let rows = span(self.cursor.0, self.anchor.0, self.rows);
        let cols = if self.whole_rows {
            0..self.cols
        } else {
            span(self.cursor.1, self.anchor.1, self.cols)
        };
        (rows, cols)
    }

    /// Column and direction (`true` is descending) of the last sort asked for.
    #[must_use]
    pub fn sort(&self) -> Option<(usize, bool)> {
        self.sort
    }

    /// Tells which sort the header shows.
    pub fn set_sort(&mut self, sort: Option<(usize, bool)>) {
        self.sort = sort;
    }

    /// Whether a cell is being typed in.
    #[must_use]
    pub fn is_editing(&self) -> bool {
        self.edit.is_some()
    }

    /// Gives the grid the keyboard in the next frame.
    pub fn request_focus(&mut self) {
        self.wants_focus = true;
    }

    /// Answers [`super::GridEvent::Edit`] with no: the cell opens again with the text as typed and `message` under it.
    /// Call it before the grid is shown again.
    pub fn refuse(&mut self, row: usize, col: usize, message: impl Into<String>) {
        let typed = self.sent.iter().rev().find(|(r, c, _)| (*r, *c) == (row, col));
        let text = typed.map(|(_, _, text)| text.clone()).unwrap_or_default();
        self.set_cursor(row, col);
        self.edit = Some(Edit {
            row,
            col,
            text,
            quick: false,
            message: Some(message.into()),
            fresh: true,
            seen: false,
        });
    }

    pub(super) fn fit(&mut self, rows: usize, cols: usize) {
        (self.rows, self.cols) = (rows, cols);
        let clamp =
            |(row, col): (usize, usize)| (row.min(rows.saturating_sub(1)), col.min(cols.saturating_sub(1)));
        self.cursor = clamp(self.cursor);
        self.anchor = clamp(self.anchor);
        if self
            .edit
            .as_ref()
            .is_some_and(|edit| edit.row >= rows || edit.col >= cols)
        {
            self.edit = None;
        }
    }

    /// Whether Escape has anything to do here.
    pub(super) fn can_cancel(&self) -> bool {
        let (rows, cols) = self.selection();
        self.edit.is_some() || self.note.is_some() || rows.len() * cols.len() > 1
    }

    pub(super) fn size(&self) -> (usize, usize) {
        (self.rows, self.cols)
    }

    /// Moves the cursor, within the grid; `extend` keeps the other end of the chosen block where it was.
    pub(super) fn go(&mut self, row: usize, col: usize, extend: bool) {
        self.cursor = (
            row.min(self.rows.saturating_sub(1)),
            col.min(self.cols.saturating_sub(1)),
        );
        if !extend {
            self.anchor = self.cursor;
            self.whole_rows = false;
        }
        self.reveal = true;
        self.note = None;
    }

    pub(super) fn choose_rows(&mut self, row: usize, extend: bool) {
        let col = self.cursor.1;
        self.go(row, col, extend);
        self.whole_rows = true;
    }

    pub(super) fn choose_all(&mut self) {
        self.anchor = (0, 0);
        self.cursor = (self.rows.saturating_sub(1), self.cols.saturating_sub(1));
        self.whole_rows = true;
    }

    pub(super) fn remember_sent(&mut self, texts: Vec<(usize, usize, String)>) {
        self.sent = texts;
    }
}
