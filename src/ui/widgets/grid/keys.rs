//! What each key does to a grid.

use egui::{Event, FocusDirection, Key, Modifiers};

use super::clipboard;
use super::state::{Edit, GridState};
use super::{GridEvent, GridSource};

/// One pass over a grid: its state, what it shows, and what was asked for so far.
pub(super) struct Pass<'a> {
    pub state: &'a mut GridState,
    pub source: &'a dyn GridSource,
    pub out: Vec<GridEvent>,
    pub copied: Option<String>,
    pub leave: Option<FocusDirection>,
    sent: Vec<(usize, usize, String)>,
}

/// Takes the events that are the grid's out of the input, in order.
///
/// While a cell is edited these are the first key that closes it and everything typed after that key.
/// Escape is left to others when there is nothing to cancel.
pub(super) fn take(events: &mut Vec<Event>, state: &GridState) -> Vec<Event> {
    let from = match &state.edit {
        Some(edit) => events.iter().position(|event| closes(event, edit.quick)),
        None => Some(0),
    };
    let Some(from) = from else { return Vec::new() };
    let can_cancel = state.can_cancel() || events.iter().any(|event| matches!(event, Event::Text(_)));
    let (ours, others) = events.split_off(from).into_iter().partition(|event| match event {
        Event::Key { key: Key::Escape, .. } => can_cancel,
        event => is_ours(event),
    });
    events.extend::<Vec<Event>>(others);
    ours
}

fn closes(event: &Event, quick: bool) -> bool {
    let Event::Key {
        key,
        pressed: true,
        modifiers,
        ..
    } = event
    else {
        return false;
    };
    match key {
        Key::Enter | Key::Tab | Key::Escape | Key::F6 => true,
        Key::ArrowUp | Key::ArrowDown => modifiers.is_none(),
        Key::ArrowLeft | Key::ArrowRight => quick && modifiers.is_none(),
        _ => false,
    }
}

fn is_ours(event: &Event) -> bool {
    match event {
        Event::Copy | Event::Cut | Event::Paste(_) | Event::Text(_) => true,
        Event::Key {
            key,
            pressed: true,
            modifiers,
            ..
        } => is_grid_key(*key, *modifiers),
        _ => false,
    }
}

fn is_grid_key(key: Key, modifiers: Modifiers) -> bool {
    match key {
        Key::A | Key::D => modifiers.command && !modifiers.shift && !modifiers.alt,
        Key::ArrowUp
        | Key::ArrowDown
        | Key::ArrowLeft
        | Key::ArrowRight
        | Key::Tab
        | Key::Enter
        | Key::Escape
        | Key::Home
        | Key::End
        | Key::PageUp
        | Key::PageDown
        | Key::Delete
        | Key::Backspace
        | Key::F2
        | Key::F6 => true,
        _ => false,
    }
}

impl<'a> Pass<'a> {
    pub fn new(state: &'a mut GridState, source: &'a dyn GridSource) -> Self {
        Self {
            state,
            source,
            out: Vec::new(),
            copied: None,
            leave: None,
            sent: Vec::new(),
        }
    }

    /// Opens the cursor's cell: over its text, or with `typed` in place of it.
    pub fn open(&mut self, typed: Option<&str>) {
        let (row, col) = self.state.cursor();
        let Some(column) = self
            .source
            .columns()
            .get(col)
            .filter(|_| row < self.source.rows())
        else {
            return;
        };
        if !column.editable {
            self.state.note = Some(format!("\"{}\" cannot be changed here.", column.title));
            return;
        }
        let text = typed.map_or_else(|| self.source.text(row, col).into_owned(), str::to_owned);
        self.state.go(row, col, false);
        self.state.edit = Some(Edit {
            row,
            col,
            text,
            quick: typed.is_some(),
            message: None,
            fresh: true,
            seen: false,
        });
    }

    /// Closes the editor and asks for the change, if there is one.
    pub fn commit(&mut self) {
        let Some(edit) = self.state.edit.take() else {
            return;
        };
        if self.source.text(edit.row, edit.col) == edit.text.as_str() {
            return;
        }
        self.sent.push((edit.row, edit.col, edit.text.clone()));
        self.state.remember_sent(self.sent.clone());
        self.out.push(GridEvent::Edit {
            row: edit.row,
            col: edit.col,
            text: edit.text,
        });
    }

    pub fn handle(&mut self, event: &Event) {
        if self.state.is_editing() {
            self.handle_open(event);
        } else {
            self.handle_closed(event);
        }
    }

    /// Events while a cell is open that reach the grid: the closing key, or typing before the field was drawn.
    fn handle_open(&mut self, event: &Event) {
        let Some(edit) = &mut self.state.edit else { return };
        match event {
            Event::Text(text) => edit.text.push_str(text),
            Event::Paste(text) => edit.text.push_str(&text.replace(['\n', '\r'], " ")),
            Event::Key {
                key: Key::Backspace, ..
            } => {
                edit.text.pop();
            }
            Event::Key { key: Key::Escape, .. } => self.state.edit = None,
            Event::Key { key, modifiers, .. } if closes(event, edit.quick) => {
                self.commit();
                self.key(*key, *modifiers);
            }
            _ => {}
        }
    }

    fn handle_closed(&mut self, event: &Event) {
        match event {
            Event::Text(text) if !text.trim().is_empty() => self.open(Some(text)),
            Event::Copy => self.copy(),
            Event::Cut => {
                self.copy();
                self.clear();
            }
            Event::Paste(text) => self.paste(text),
            Event::Key { key, modifiers, .. } => self.key(*key, *modifiers),
            _ => {}
        }
    }

    fn key(&mut self, key: Key, modifiers: Modifiers) {
        let (row, col) = self.state.cursor();
        let (rows, cols) = self.state.size();
        let (extend, far) = (modifiers.shift, modifiers.command);
        let (last_row, last_col) = (rows.saturating_sub(1), cols.saturating_sub(1));
        let page = self.state.page.max(1);
        self.state.note = None;
        let origin = self.state.tab_origin.take();
        match key {
            Key::ArrowUp | Key::ArrowDown if modifiers.alt => self.sort(col, key == Key::ArrowDown),
            Key::ArrowUp => self
                .state
                .go(if far { 0 } else { row.saturating_sub(1) }, col, extend),
            Key::ArrowDown => self.state.go(if far { last_row } else { row + 1 }, col, extend),
            Key::ArrowLeft => self
                .state
                .go(row, if far { 0 } else { col.saturating_sub(1) }, extend),
            Key::ArrowRight => self.state.go(row, if far { last_col } else { col + 1 }, extend),
            Key::Home => self.state.go(if far { 0 } else { row }, 0, extend),
            Key::End => self.state.go(if far { last_row } else { row }, last_col, extend),
            Key::PageUp => self.state.go(row.saturating_sub(page), col, extend),
            Key::PageDown => self.state.go(row + page, col, extend),
            Key::Tab => self.tab(modifiers.shift, origin),
            Key::Enter if modifiers.shift => {
                self.state.go(row.saturating_sub(1), origin.unwrap_or(col), false);
            }
            Key::Enter => self.state.go(row + 1, origin.unwrap_or(col), false),
            Key::Escape => self.state.go(row, col, false),
            Key::F2 => self.open(None),
            Key::F6 if modifiers.shift => self.leave = Some(FocusDirection::Previous),
            Key::F6 => self.leave = Some(FocusDirection::Next),
            Key::Delete if far => self.delete_rows(),
            Key::Delete | Key::Backspace => self.clear(),
            Key::A => self.state.choose_all(),
            Key::D => self.fill_down(),
            _ => {}
        }
    }

    /// Tab goes on to the next cell, at a row's end to the next row; Enter then returns to the column it began in.
    fn tab(&mut self, back: bool, origin: Option<usize>) {
        let (row, col) = self.state.cursor();
        let (rows, cols) = self.state.size();
        let here = row * cols + col;
        let next = if back {
            here.saturating_sub(1)
        } else {
            (here + 1).min((rows * cols).saturating_sub(1))
        };
        let width = cols.max(1);
        self.state.go(next / width, next % width, false);
        self.state.tab_origin = origin.or(Some(col));
    }

    pub fn sort(&mut self, col: usize, descending: bool) {
        if self.state.size().1 == 0 {
            return;
        }
        self.state.set_sort(Some((col, descending)));
        self.out.push(GridEvent::Sort { col, descending });
    }

    fn copy(&mut self) {
        let (rows, cols) = self.state.selection();
        if rows.is_empty() || cols.is_empty() {
            return;
        }
        self.copied = Some(clipboard::to_text(self.source, rows.clone(), cols.clone()));
        self.out.push(GridEvent::Copy { rows, cols });
    }

    fn clear(&mut self) {
        let (rows, cols) = self.state.selection();
        if !rows.is_empty() && self.may_change(cols.clone()) {
            self.out.push(GridEvent::Clear { rows, cols });
        }
    }

    fn delete_rows(&mut self) {
        let (rows, _) = self.state.selection();
        if !rows.is_empty() {
            self.out.push(GridEvent::DeleteRows { rows });
        }
    }

    fn fill_down(&mut self) {
        let (rows, cols) = self.state.selection();
        // With one row chosen, the row above it is the source.
        let rows = if rows.len() == 1 {
            rows.start.saturating_sub(1)..rows.end
        } else {
            rows
        };
        if rows.len() < 2 || !self.may_change(cols.clone()) {
            return;
        }
        let columns = self.source.columns();
        let editable = cols.filter(|col| columns[*col].editable);
        self.out.extend(editable.map(|col| GridEvent::FillDown {
            rows: rows.clone(),
            col,
        }));
    }

    /// A single cell is pasted into the whole chosen block; a block goes where its first cell is put.
    fn paste(&mut self, text: &str) {
        let (rows, cols) = self.state.selection();
        let mut cells = clipboard::to_cells(text);
        if let [line] = cells.as_slice()
            && let [cell] = line.as_slice()
        {
            cells = vec![vec![cell.clone(); cols.len().max(1)]; rows.len().max(1)];
        }
        self.out.push(GridEvent::Paste {
            row: rows.start,
            col: cols.start,
            cells,
        });
    }

    fn may_change(&mut self, mut cols: std::ops::Range<usize>) -> bool {
        let columns = self.source.columns();
        let editable = cols.any(|col| columns[col].editable);
        if !editable {
            self.state.note = Some("These cells cannot be changed here.".to_owned());
        }
        editable
    }
}
