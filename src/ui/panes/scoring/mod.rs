//! Counting what grows, cell by cell.

mod ask;
mod cell;
mod entry;
mod head;
mod import;
mod keys;
mod pace;
mod photo;
mod scheme;
mod sheet;
mod strip;
mod tray;
mod walk;

use super::repair::RepairDialog;
use super::table_preview;
use super::tray_drawing::Drawing;
use crate::insight::{DuePass, Memo, Reading, due_passes, guards};
use crate::model::{
    Area, Category, Cell, CellId, Command, Document, Fault, Pass, Place, Project, Repair, Seen, Test, TestId,
    TrayId, sentence,
};
use crate::ui::context::{Action, Pane, PaneCtx, Ticket, Tone};
use crate::ui::widgets::parts::empty_state;
use ask::Asking;
use egui::{EventFilter, FocusDirection, Frame, Id, Key, Margin, Panel, ScrollArea, Ui};
use entry::{Entry, Form, Outcome, Pattern, Refusal, Stroke};
use import::Import;
use jiff::civil::Date;
use keys::{Pressed, take_keys};
use pace::Pace;
use photo::PhotoPart;
use scheme::SchemeDialog;
use sheet::{PendingRow, Sheet, SheetDialog};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use walk::{Stop, Walk, find_place};

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Scoring {
    wanted: Option<Place>,
    test: Option<TestId>,
    /// The pass that was chosen; none for the one that is due in each tray.
    pass: Option<Pass>,
    /// The pass that is due in each tray.
    due: Arc<BTreeMap<TrayId, DuePass>>,
    dues: Memo<(TestId, Date, [u64; 4]), BTreeMap<TrayId, DuePass>>,
    /// The tray that was shown last, and the pass.
    shown: Option<(TrayId, Pass)>,
    /// Whether the second scorer counts.
    second: bool,
    /// Whether ears and earlier counts are hidden.
    blind: bool,
    cell: Option<CellId>,
    /// What was typed and not recorded, cell by cell.
    entries: BTreeMap<(CellId, Reading), Entry>,
    /// Notes that were written and not recorded.
    notes: BTreeMap<(CellId, Reading), String>,
    pending: Vec<Pending>,
    /// Cells where another number of kernels was asked for.
    laying: Option<Ticket>,
    message: Option<(Tone, String)>,
    /// What is asked of a cell before it goes on.
    asking: Option<(CellId, Asking)>,
    /// Landmarks that were seen to be blank.
    blank: BTreeSet<(CellId, Reading)>,
    /// The count recorded last.
    last: Option<Recorded>,
    /// A recorded cell that was opened again, as it was then.
    reopened: Option<((CellId, Reading), Entry)>,
    go_to: String,
    /// The table of counts that is being looked at.
    import: Option<Import>,
    /// A table that was asked for.
    opening: Option<Ticket>,
    /// The score sheet that is being typed.
    sheet: Option<Sheet>,
    /// The head of a score sheet, while it is being typed.
    sheet_dialog: Option<SheetDialog>,
    /// Rows of the sheet that are being stored.
    rows: Vec<PendingRow>,
    /// How fast it goes, of this sitting.
    pace: Pace,
    /// The dialog that mends trays, while it is open.
    repair: Option<RepairDialog>,
    /// Whether it is shown how well the two scorers agree.
    shows_agreement: bool,
    /// The day of another count, while it is being chosen.
    between: Option<u16>,
    /// The categories while they are being chosen.
    scheme: Option<SchemeDialog>,
    /// Photographs of the trays.
    photo: PhotoPart,
    /// The cell that was last scrolled to.
    revealed: Option<CellId>,
    walk: Memo<(TestId, [u64; 3]), Walk>,
    drawing: Memo<(TestId, [u64; 4]), Drawing>,
    /// The frame in which the pane was last drawn.
    last_frame: u64,
}

/// A count that was asked for and is not answered yet.
#[derive(Debug)]
struct Pending {
    ticket: Ticket,
    cell: CellId,
    reading: Reading,
    entry: Entry,
    said: String,
}

/// The count recorded last.
#[derive(Debug)]
struct Recorded {
    cell: CellId,
    reading: Reading,
    entry: Entry,
    pattern: Pattern,
    /// The cell to which it led.
    next: CellId,
}

/// The widget that has the keyboard.
fn keyboard() -> Id {
    Id::unique("scoring keyboard")
}

fn go_to_field() -> Id {
    Id::unique("scoring go to")
}

impl Scoring {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let document = ctx.document;
        let project = document.project();
        self.pick(project, ctx);
        let Some(test) = self.test.and_then(|test| project.tests.get(test)) else {
            return no_test(ui, ctx);
        };
        let walk = self.walk_of(document, test);
        if walk.is_empty() {
            let what = "It has no cell with an ear or a check lot. Design it again in the Trays pane.";
            if empty_state(ui, "This test has nothing to count", what, Some("Go to Trays")) {
                ctx.act(Action::Show(Pane::Trays));
            }
            return;
        }
        self.due = self.due_of(ctx, test);
        self.follow_outcomes(ctx);
        self.take_table(ctx, test);
        if let Some(import) = &mut self.import {
            if import.ui(ui, ctx, test) {
                self.import = None;
            }
            return;
        }
        self.land(project, &walk);
        let reading = self.reading(project);
        self.say_pass(project, reading);
        self.take_dropped_photos(ctx, reading);
        if self.corners_ui(ui, ctx, test, reading) {
            return;
        }
        self.take_keyboard(ui);
        self.measure_keys(ui, ctx, reading);
        if ui.memory(|m| m.has_focus(keyboard())) {
            self.keys(ui, ctx, &walk, reading);
        }
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        let reading = self.reading(project);
        self.follow_sheet(ctx, test, reading, cell);
        self.head_ui(ui, ctx, test, &walk, reading, cell);
        // On paper nothing is looked at, and the row of the sheet needs the room.
        if self.sheet.is_none() {
            self.photo_side(ui, ctx, reading, cell);
        }
        Panel::bottom("scoring entry")
            .frame(Frame::new().inner_margin(Margin {
                top: 6,
                ..Margin::ZERO
            }))
            .show(ui, |ui| self.entry_ui(ui, ctx, &walk, reading, cell));
        if self.sheet.is_some() && strip::is_low(ui) {
            // A row of the sheet is wide: there is no room for the tray beside it.
            self.low_sheet_ui(ui, project, reading, cell);
        } else {
            self.tray_and_cell_ui(ui, ctx, test, reading, cell);
        }
        self.settle_lengths(ui, ctx);
        self.dialogs_ui(ui, ctx, test, &walk, reading);
    }

    /// The tray as it lies, and beside it the cell that is being counted.
    fn tray_and_cell_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        reading: Reading,
        cell: &Cell,
    ) {
        let width = match &self.sheet {
            Some(_) => (ui.available_width() * 0.5).clamp(440.0, 560.0),
            None => (ui.available_width() * 0.36).clamp(250.0, 520.0),
        };
        Panel::right("scoring cell")
            .resizable(false)
            .exact_size(width)
            .frame(Frame::new().inner_margin(Margin {
                left: 12,
                ..Margin::ZERO
            }))
            .show(ui, |ui| {
                ScrollArea::vertical()
                    .id_salt("scoring cell")
                    .auto_shrink(false)
                    .show(ui, |ui| self.cell_ui(ui, ctx, test, reading, cell));
            });
        if !self.photo_large_ui(ui, ctx, reading, cell) {
            self.tray_ui(ui, ctx, test, reading, cell);
        }
    }

    fn dialogs_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, walk: &Walk, reading: Reading) {
        self.scheme_ui(ui, ctx);
        self.sheet_dialog_ui(ui, ctx, test, walk);
        self.between_ui(ui, test);
        self.agreement_ui(ui, ctx, test, reading);
        if self.repair.as_mut().is_some_and(|repair| !repair.ui(ui, ctx)) {
            self.repair = None;
        }
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        self.wanted = Some(place);
    }

    /// Says whether ears and earlier counts are hidden, so that nothing beside the pane may show them either.
    pub fn is_blind(&self) -> bool {
        self.blind
    }

    /// Opens the dialog that mends trays with a repair that was proposed.
    pub fn propose(&mut self, project: &Project, repair: Repair) {
        let tray = repair.tray(project);
        if let Some(test) = tray.and_then(|tray| project.test_of_tray(tray)) {
            let first = tray.and_then(|tray| project.cells_of(tray).next());
            self.wanted = match repair.place() {
                Place::Cell(cell) => Some(Place::Cell(cell)),
                _ => first.map(|cell| Place::Cell(cell.id)),
            };
            self.repair = Some(RepairDialog::proposed(project, test.id, repair));
        }
    }

    /// Looks at a table that was opened or dropped, before anything of it is taken.
    fn take_table(&mut self, ctx: &mut PaneCtx<'_>, test: &Test) {
        let Some(file) = table_preview::take_file(ctx, &mut self.opening) else {
            return;
        };
        if self.blind {
            let text =
                "A table tells what was counted before. Switch blind off in the options, then import it.";
            self.message = Some((Tone::Warning, text.to_owned()));
            return;
        }
        let pass = self.reading(ctx.document.project()).pass;
        match Import::read(&file, test.id, pass) {
            Ok(import) => self.import = Some(import),
            Err(what) => self.message = Some((Tone::Error, what)),
        }
    }

    // ---- what is shown -----------------------------------------------------------------------------------

    fn pick(&mut self, project: &Project, ctx: &PaneCtx<'_>) {
        let cell = match self.wanted.take() {
            Some(Place::Photo(photo)) => project.photos.get(photo).and_then(|photo| {
                self.photo.go(photo);
                let first = project
                    .cells_of(photo.tray)
                    .find(|cell| cell.content.is_counted());
                first.map(|cell| (cell.id, None))
            }),
            Some(Place::Cell(cell)) => Some((cell, None)),
            Some(Place::Count(count)) => {
                let count = project.counts.get(count);
                count.map(|count| (count.cell, Some(Reading::of(count))))
            }
            _ => None,
        };
        if let Some((cell, reading)) = cell
            && let Some(test) = project
                .cells
                .get(cell)
                .and_then(|cell| project.test_of_tray(cell.tray))
        {
            // In another tray another count may be due.
            if self.tray(project) != project.cells.get(cell).map(|cell| cell.tray) {
                self.pass = None;
            }
            self.test = Some(test.id);
            self.to(cell);
            if let Some(reading) = reading {
                (self.pass, self.second) = (Some(reading.pass), reading.second);
            }
        }
        let is_here = |test: TestId| {
            let test = project.tests.get(test);
            test.is_some_and(|test| Some(test.season) == ctx.season)
        };
        if self.test.is_none_or(|test| !is_here(test)) {
            let tests = ctx.season.map(|season| project.tests_of(season));
            self.test = tests.and_then(|mut tests| tests.next_back()).map(|test| test.id);
            self.pass = None;
            self.cell = None;
        }
    }

    fn walk_of(&self, document: &Document, test: &Test) -> Arc<Walk> {
        let revisions = document.revision_key([Area::Test, Area::Tray, Area::Cell]);
        let walk = || Walk::of(document.project(), test.id);
        self.walk.get((test.id, revisions), walk)
    }

    fn drawing_of(&self, document: &Document, test: &Test) -> Arc<Drawing> {
        let areas = [Area::Test, Area::Tray, Area::Cell, Area::Ear];
        let drawing = || Drawing::of_test(document.project(), test);
        self.drawing.get((test.id, document.revision_key(areas)), drawing)
    }

    fn due_of(&self, ctx: &PaneCtx<'_>, test: &Test) -> Arc<BTreeMap<TrayId, DuePass>> {
        let document = ctx.document;
        let revisions = document.revision_key([Area::Test, Area::Tray, Area::Cell, Area::Count]);
        self.dues.get((test.id, ctx.today, revisions), || {
            let progress = ctx.insight.progress(document, test.id);
            due_passes(document.project(), test, &progress, ctx.today)
        })
    }

    /// The tray of the current cell.
    fn tray(&self, project: &Project) -> Option<TrayId> {
        let cell = self.cell.and_then(|cell| project.cells.get(cell));
        cell.map(|cell| cell.tray)
    }

    /// Gives what is counted in a tray: the chosen pass, else the one that is due there.
    fn reading_in(&self, tray: Option<TrayId>) -> Reading {
        let due = tray.and_then(|tray| self.due.get(&tray)).map(|due| due.pass);
        Reading {
            pass: self.pass.or(due).unwrap_or(Pass::Final),
            second: self.second,
        }
    }

    /// Gives what is being counted.
    fn reading(&self, project: &Project) -> Reading {
        self.reading_in(self.tray(project))
    }

    /// Says so when another pass is due in this tray than in the one before.
    fn say_pass(&mut self, project: &Project, reading: Reading) {
        let Some(tray) = self.tray(project) else { return };
        let before = self.shown.replace((tray, reading.pass));
        if self.pass.is_none() && before.is_some_and(|(other, pass)| other != tray && pass != reading.pass) {
            let said = self
                .message
                .take()
                .map_or_else(String::new, |(_, said)| format!("{said} "));
            let text = format!("{said}In this tray the {} count is due.", reading.pass);
            self.message = Some((Tone::Warning, text));
        }
    }

    /// Makes sure that there is a current cell: at first the first one without a count, if it can be in a tray whose time
    /// is now.
    fn land(&mut self, project: &Project, walk: &Walk) {
        let tray_of = |cell: CellId| project.cells.get(cell).map(|cell| cell.tray);
        let is_here = |cell: CellId| {
            let tray = tray_of(cell).and_then(|tray| project.trays.get(tray));
            tray.is_some_and(|tray| Some(tray.test) == self.test)
        };
        if self.cell.is_some_and(is_here) {
            return;
        }
        let is_open = |cell: CellId| self.is_uncounted(project, cell);
        let is_now = |cell: CellId| {
            let due = tray_of(cell).and_then(|tray| self.due.get(&tray));
            self.pass.is_some() || due.is_some_and(|due| due.is_now)
        };
        let open = walk
            .find_round(None, |cell| is_now(cell) && is_open(cell))
            .or_else(|| walk.find_round(None, is_open));
        let begin = open
            .and_then(tray_of)
            .and_then(|tray| self.beginning(project, walk, tray));
        self.cell = begin.or(open).or_else(|| walk.first());
    }

    fn follow_outcomes(&mut self, ctx: &mut PaneCtx<'_>) {
        self.follow_rows(ctx);
        for pending in std::mem::take(&mut self.pending) {
            match ctx.outcome(pending.ticket) {
                Some(Ok(_)) => {}
                Some(Err(problem)) => {
                    self.cell = Some(pending.cell);
                    self.second = pending.reading.second;
                    if self.reading(ctx.document.project()) != pending.reading {
                        self.pass = Some(pending.reading.pass);
                    }
                    self.asking = None;
                    self.entries
                        .insert((pending.cell, pending.reading), pending.entry);
                    let text = format!(
                        "{} was not recorded. {}",
                        pending.said,
                        sentence(&problem.to_string())
                    );
                    self.message = Some((Tone::Error, text));
                }
                None => self.pending.push(pending),
            }
        }
        if let Some(outcome) = self.laying.and_then(|ticket| ctx.outcome(ticket)) {
            self.laying = None;
            self.message = match outcome {
                Ok(_) => None,
                Err(problem) => Some((Tone::Error, sentence(&problem.to_string()))),
            };
        }
    }

    // ---- keys --------------------------------------------------------------------------------------------

    /// The keys are the pane's as soon as it is shown, and whenever nothing else has them.
    fn take_keyboard(&mut self, ui: &Ui) {
        let frame = ui.ctx().cumulative_frame_nr();
        let is_new = frame > self.last_frame + 1;
        self.last_frame = frame;
        let is_free = ui.memory(|m| m.focused().is_none());
        if (is_new || is_free) && ui.memory(|m| m.top_modal_layer().is_none()) {
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
        let filter = EventFilter {
            tab: true,
            horizontal_arrows: true,
            vertical_arrows: true,
            escape: false,
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(keyboard(), filter));
    }

    fn keys(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading) {
        let events = ui.input_mut(|i| take_keys(&mut i.events));
        for pressed in events {
            if let Pressed::Sign(sign) = pressed
                && self.photo_sign(ui, ctx, walk, reading, sign)
            {
                continue;
            }
            if self.total_key(ctx, walk, reading, pressed) || self.answer(ui, ctx, walk, reading, pressed) {
                continue;
            }
            match pressed {
                Pressed::Sign(sign) => self.sign(ui, ctx, walk, reading, sign),
                Pressed::Key(key, shift) => self.key(ui, ctx, walk, reading, key, shift),
            }
        }
    }

    fn sign(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, sign: char) {
        let project = ctx.document.project();
        let has_typed = self
            .cell
            .is_some_and(|cell| self.entries.contains_key(&(cell, reading)));
        let stroke = match sign {
            '0'..='9' => Stroke::Digit(sign as u8 - b'0'),
            '+' if has_typed => Stroke::Next,
            '+' | 'r' | 'R' => return self.repeat(ctx, walk, reading),
            ' ' => Stroke::Next,
            '.' | ',' => Stroke::Rest,
            '*' if self.is_all_told(project, reading) => Stroke::Mould,
            '*' => Stroke::RestInto(Category::Dead),
            '/' if self.is_all_told(project, reading) => return self.write_note(ui, ctx, reading),
            '/' => Stroke::RestInto(Category::Fresh),
            'm' | 'M' => Stroke::Mould,
            'v' | 'V' => Stroke::RestInto(Category::Missing),
            'w' | 'W' => return self.write_note(ui, ctx, reading),
            '-' => return self.take_back(project, walk, reading),
            'n' | 'N' if self.sheet.is_some() => return self.leave_blank(project, walk, reading),
            'n' | 'N' => return self.next_open(project, walk, reading),
            'k' | 'K' => {
                if let Some(cell) = self.cell.filter(|_| self.may_change(ctx)) {
                    ui.memory_mut(|m| m.request_focus(cell::kernels_field(cell)));
                }
                return;
            }
            'g' | 'G' => {
                self.go_to.clear();
                return ui.memory_mut(|m| m.request_focus(go_to_field()));
            }
            _ => return,
        };
        self.press(ctx, walk, reading, stroke);
    }

    fn key(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, key: Key, shift: bool) {
        let project = ctx.document.project();
        match key {
            Key::Enter => self.press(ctx, walk, reading, Stroke::Enter),
            Key::Tab if shift => self.press(ctx, walk, reading, Stroke::Before),
            Key::Tab => self.press(ctx, walk, reading, Stroke::Next),
            Key::Backspace => self.take_back(project, walk, reading),
            Key::Delete => self.ask_withdraw(ui, ctx, reading),
            Key::ArrowLeft => self.arrow(project, 0, -1),
            Key::ArrowRight => self.arrow(project, 0, 1),
            Key::ArrowUp => self.arrow(project, -1, 0),
            Key::ArrowDown => self.arrow(project, 1, 0),
            Key::PageUp => self.turn_tray(project, walk, false),
            Key::PageDown => self.turn_tray(project, walk, true),
            Key::F6 => {
                let way = if shift {
                    FocusDirection::Previous
                } else {
                    FocusDirection::Next
                };
                ui.memory_mut(|m| m.move_focus(way));
            }
            _ => {}
        }
    }

    fn form(project: &Project, cell: &Cell, reading: Reading) -> Form {
        let kernels = if cell.content.is_counted() {
            project.sown(cell)
        } else {
            0
        };
        Form::new(&project.about.scheme, reading.pass, kernels)
    }

    fn is_all_told(&self, project: &Project, reading: Reading) -> bool {
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return false;
        };
        let form = Self::form(project, cell, reading);
        let entry = self.entries.get(&(cell.id, reading));
        entry.is_some_and(|entry| entry.look(&form).is_all_told())
    }

    fn repeat(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading) {
        if !self.may_change(ctx) {
            return;
        }
        if let Some(last) = self.last.as_ref().filter(|last| last.reading == reading) {
            return self.press(ctx, walk, reading, Stroke::Repeat(last.pattern));
        }
        let text = "No cell was counted before this one, so there is nothing to repeat. Type its numbers.";
        self.message = Some((Tone::Warning, text.to_owned()));
    }

    /// Says whether anything can be changed, and why not.
    fn may_change(&mut self, ctx: &PaneCtx<'_>) -> bool {
        if let Some(why) = ctx.read_only {
            let text = format!("Nothing can be counted or changed here. {}", sentence(why));
            self.message = Some((Tone::Error, text));
        }
        ctx.read_only.is_none()
    }

    fn press(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, stroke: Stroke) {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        if !self.may_change(ctx) {
            return;
        }
        if !cell.content.is_counted() {
            self.message = Some((Tone::Error, sentence(&Fault::NothingToCount.to_string())));
            return;
        }
        self.message = None;
        let form = Self::form(project, cell, reading);
        let entry = self.entries.entry((cell.id, reading)).or_default();
        let outcome = entry.press(stroke, &form);
        if let Outcome::Refused(refusal) = outcome {
            let sum = entry.look(&form).sum();
            self.message = Some(refused(refusal, sum, project.sown(cell)));
        } else if let Some(sheet) = &mut self.sheet {
            sheet.reopen(cell.id, reading);
        }
        if outcome == Outcome::Record {
            self.finish(ctx, walk, reading, cell);
        }
        self.entries.retain(|_, entry| !entry.is_empty());
    }

    /// Takes back the last key, also one that recorded a count; where there is none, goes to the cell before.
    fn take_back(&mut self, project: &Project, walk: &Walk, reading: Reading) {
        self.message = None;
        let Some(cell) = self.cell else { return };
        if let Some(entry) = self.entries.get_mut(&(cell, reading)) {
            entry.take_back();
            if let Some(sheet) = &mut self.sheet {
                sheet.reopen(cell, reading);
            }
            self.entries.retain(|_, entry| !entry.is_empty());
            return;
        }
        let is_last = |last: &mut Recorded| last.reading == reading && last.next == cell;
        let Some(Recorded { cell, mut entry, .. }) = self.last.take_if(is_last) else {
            return self.step_back(walk);
        };
        entry.take_back();
        self.to(cell);
        if let Some(sheet) = &mut self.sheet {
            sheet.reopen(cell, reading);
            self.entries.insert((cell, reading), entry);
            return self.entries.retain(|_, entry| !entry.is_empty());
        }
        if let Some(record) = project.cells.get(cell) {
            let text = format!(
                "{} is open again, without its last key. What was recorded stays until another count is.",
                sentence(&place_name(project, record)).trim_end_matches('.')
            );
            self.message = Some((Tone::Well, text));
        }
        self.reopened = Some(((cell, reading), entry.clone()));
        self.entries.insert((cell, reading), entry);
        self.entries.retain(|_, entry| !entry.is_empty());
    }

    // ---- recording ---------------------------------------------------------------------------------------

    /// What was seen in a cell, by the keys.
    fn seen(&self, project: &Project, cell: &Cell, reading: Reading) -> Option<Seen> {
        let entry = self.entries.get(&(cell.id, reading))?;
        let form = Self::form(project, cell, reading);
        let look = entry.look(&form);
        let before = reading.count(project, cell.id);
        let note = self.notes.get(&(cell.id, reading)).cloned();
        let (root_mm, shoot_mm) = self.photo.lengths(cell.id, reading);
        Some(Seen {
            second: reading.second,
            mould: look.mould,
            vigor: look.vigor,
            note: note.unwrap_or_else(|| before.map_or_else(String::new, |count| count.note.clone())),
            root_mm: root_mm.or_else(|| before.and_then(|count| count.root_mm)),
            shoot_mm: shoot_mm.or_else(|| before.and_then(|count| count.shoot_mm)),
            ..Seen::new(cell.id, reading.pass, look.tally())
        })
    }

    /// Records a complete count, unless something in it does not fit together.
    fn finish(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, cell: &Cell) {
        let project = ctx.document.project();
        let Some(seen) = self.seen(project, cell, reading) else {
            return;
        };
        let found = guards(project, &seen);
        if found.is_empty() {
            return self.record(ctx, walk, reading, cell, seen);
        }
        let reason = String::new();
        self.asking = Some((
            cell.id,
            Asking::Guard {
                guards: found,
                reason,
                is_typed: false,
            },
        ));
    }

    fn record(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, cell: &Cell, seen: Seen) {
        let project = ctx.document.project();
        if self.sheet.is_some() {
            return self.type_in(ctx, walk, reading, cell, seen);
        }
        let Some(entry) = self.entries.remove(&(cell.id, reading)) else {
            return;
        };
        let form = Self::form(project, cell, reading);
        let pattern = entry.look(&form).pattern();
        let is_correction = reading.count(project, cell.id).is_some();
        let said = place_name(project, cell);
        let verb = if is_correction { "Corrected" } else { "Recorded" };
        self.message = Some((Tone::Well, format!("{verb} {said}: {}.", seen_text(&seen, &form))));
        ctx.act(Action::CloseStep);
        self.pace.note(ctx.now);
        let ticket = ctx.run_for(Command::RecordCounts {
            counts: vec![seen],
            on: Some(ctx.today),
            by: ctx.who.to_owned(),
        });
        self.pending.push(Pending {
            ticket,
            cell: cell.id,
            reading,
            entry: entry.clone(),
            said: sentence(&said).trim_end_matches('.').to_owned(),
        });
        self.notes.remove(&(cell.id, reading));
        self.photo.recorded(cell.id, reading);
        self.advance(project, walk, reading, cell, is_correction);
        self.last = Some(Recorded {
            cell: cell.id,
            reading,
            entry,
            pattern,
            next: self.cell.unwrap_or(cell.id),
        });
    }

    fn is_open(&self, project: &Project, cell: CellId, reading: Reading) -> bool {
        let is_asked = self
            .pending
            .iter()
            .any(|pending| pending.cell == cell && pending.reading == reading);
        !is_asked && reading.count(project, cell).is_none()
    }

    /// Gives where counting goes on after a cell. After a first count it passes over cells that are counted already;
    /// after a correction it does not, as a whole row may have to be read again. It stops at landmarks that were not
    /// looked at, in trays that are being counted.
    fn stop_after(
        &self,
        project: &Project,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        is_correction: bool,
    ) -> Option<CellId> {
        let is_open = |stop: &Stop| self.is_open(project, stop.cell, self.reading_in(Some(stop.tray)));
        let stays = stays_in_tray(reading);
        let next = walk.find_after(cell.id, |stop| {
            if stays && stop.tray != cell.tray {
                return false;
            }
            if !stop.is_landmark {
                return is_correction || is_open(stop);
            }
            let is_counting = || {
                let mut counted = walk.of_tray(stop.tray).iter().filter(|stop| !stop.is_landmark);
                stop.tray == cell.tray || counted.any(is_open)
            };
            let reading = self.reading_in(Some(stop.tray));
            !self.blank.contains(&(stop.cell, reading)) && is_counting()
        });
        next.or_else(|| walk.step(cell.id, true).filter(|_| !stays))
    }

    /// Goes to the next cell; has the last one of a row read back first.
    fn advance(
        &mut self,
        project: &Project,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        is_correction: bool,
    ) {
        let next = self.stop_after(project, walk, reading, cell, is_correction);
        let record = next.and_then(|next| project.cells.get(next));
        let is_same_row = record.is_some_and(|next| (next.tray, next.row) == (cell.tray, cell.row));
        if is_same_row {
            self.to(next.unwrap_or(cell.id));
        } else {
            self.asking = Some((cell.id, Asking::ReadBack { next }));
        }
    }

    /// Goes on after the last cell of a row, and says so when that is in another tray.
    fn leave_row(
        &mut self,
        project: &Project,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        next: Option<CellId>,
    ) {
        let record = next.and_then(|next| project.cells.get(next));
        if record.map(|next| next.tray) != Some(cell.tray) {
            let text = self.end_of_tray(project, walk, reading, cell, record);
            self.message = Some((Tone::Well, text));
        }
        let next = next.unwrap_or(cell.id);
        self.to(next);
        if let Some(last) = self.last.as_mut().filter(|last| last.cell == cell.id) {
            last.next = next;
        }
    }

    fn end_of_tray(
        &self,
        project: &Project,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        next: Option<&Cell>,
    ) -> String {
        let number = |tray: TrayId| project.trays.get(tray).map_or(0, |tray| tray.number);
        let is_open = |id: CellId| self.is_open(project, id, reading);
        let is_left = |id: CellId| self.is_uncounted(project, id);
        let tray = number(cell.tray);
        let open: Vec<String> = project
            .cells_of(cell.tray)
            .filter(|cell| cell.content.is_counted() && is_open(cell.id))
            .map(Cell::name)
            .collect();
        let ended = match open.as_slice() {
            [] => format!("Tray {tray} is counted."),
            [one] => format!("Tray {tray} ends here; {one} is not counted yet."),
            [first, ..] => format!(
                "Tray {tray} ends here; {} cells are not counted yet, the first is {first}.",
                open.len()
            ),
        };
        let then = match next {
            None if stays_in_tray(reading) => "Page Down takes another tray.".to_owned(),
            Some(next) if open.is_empty() => format!("{REST}, then take tray {}.", number(next.tray)),
            Some(next) => format!("Take tray {} now.", number(next.tray)),
            None if walk.find_round(None, is_left).is_none() => self.all_counted(reading),
            None => "This was the last tray; press N for the next cell that is not counted.".to_owned(),
        };
        format!("{ended} {then}")
    }

    fn all_counted(&self, reading: Reading) -> String {
        let mut due = self.due.values();
        if self.pass.is_some() || due.all(|due| due.pass == reading.pass) {
            format!("All cells of the {} count are counted.", reading.pass)
        } else {
            "All cells are counted in the pass that is due in their tray.".to_owned()
        }
    }

    /// Says whether a cell has no count in the pass of its tray.
    fn is_uncounted(&self, project: &Project, cell: CellId) -> bool {
        let tray = project.cells.get(cell).map(|cell| cell.tray);
        self.is_open(project, cell, self.reading_in(tray))
    }

    // ---- going about -------------------------------------------------------------------------------------

    /// Goes to a cell. What was opened again and not touched is closed, and no question stays behind.
    fn to(&mut self, cell: CellId) {
        if self.cell != Some(cell)
            && let Some((key, entry)) = self.reopened.take()
            && self.entries.get(&key) == Some(&entry)
        {
            self.entries.remove(&key);
        }
        self.asking = None;
        self.cell = Some(cell);
    }

    fn step_back(&mut self, walk: &Walk) {
        if let Some(cell) = self.cell.and_then(|cell| walk.step(cell, false)) {
            self.to(cell);
        }
    }

    fn next_open(&mut self, project: &Project, walk: &Walk, reading: Reading) {
        let tray = self
            .cell
            .and_then(|cell| project.cells.get(cell))
            .map(|cell| cell.tray);
        let is_here = |cell: CellId| project.cells.get(cell).map(|cell| cell.tray) == tray;
        let stays = stays_in_tray(reading);
        let is_open = |cell: CellId| self.is_uncounted(project, cell) && (!stays || is_here(cell));
        if let Some(cell) = walk.find_round(self.cell, is_open) {
            self.message = None;
            self.to(cell);
        } else {
            let text = if stays {
                format!("All cells of this tray are counted for {}.", reading.pass)
            } else {
                self.all_counted(reading)
            };
            self.message = Some((Tone::Well, text));
        }
    }

    /// Goes to a neighbour in the tray, whatever lies in it.
    fn arrow(&mut self, project: &Project, down: i32, right: i32) {
        self.message = None;
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        let (row, column) = (i32::from(cell.row) + down, i32::from(cell.column) + right);
        if let (Ok(row), Ok(column)) = (u16::try_from(row), u16::try_from(column))
            && let Some(next) = project.cell_at(cell.tray, row, column)
        {
            self.to(next.id);
        }
    }

    /// Gives where a tray is begun: at its first cell without a count, or at a landmark that comes before all others.
    fn beginning(&self, project: &Project, walk: &Walk, tray: TrayId) -> Option<CellId> {
        let reading = self.reading_in(Some(tray));
        let is_open = |cell: CellId| reading.count(project, cell).is_none();
        let first = walk.of_tray(tray).first()?;
        let is_asked = first.is_landmark && !self.blank.contains(&(first.cell, reading));
        let mut counted = walk.of_tray(tray).iter().filter(|stop| !stop.is_landmark);
        if is_asked && counted.all(|stop| self.is_open(project, stop.cell, reading)) {
            return Some(first.cell);
        }
        first_open(project, tray, &is_open)
    }

    /// Goes to the tray before or after.
    fn turn_tray(&mut self, project: &Project, walk: &Walk, forward: bool) {
        self.message = None;
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        let Some(tray) = walk.neighbour_tray(cell.tray, forward) else {
            let text = if forward {
                "This is the last tray."
            } else {
                "This is the first tray."
            };
            self.message = Some((Tone::Warning, text.to_owned()));
            return;
        };
        if let Some(cell) = self.beginning(project, walk, tray) {
            self.to(cell);
        }
    }

    fn jump(&mut self, project: &Project, test: &Test) -> bool {
        let from = self.tray(project);
        let is_open = |cell: CellId| self.is_uncounted(project, cell);
        match find_place(project, test, (from, self.blind), &is_open, &self.go_to) {
            Ok(cell) => {
                self.message = None;
                self.to(cell);
                self.go_to.clear();
                true
            }
            Err(text) => {
                self.message = Some((Tone::Error, text));
                false
            }
        }
    }
}

/// What is said when a tray is done: tired eyes misread. Common practice, no source.
const REST: &str = "Rest your eyes for five minutes";

/// A count between the early and the final one is most often made of one tray only.
fn stays_in_tray(reading: Reading) -> bool {
    matches!(reading.pass, Pass::Between(_))
}

fn no_test(ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
    let (title, what, button, pane) = if ctx.season.is_none() {
        (
            "There is no season yet",
            "Begin a season and enter its ears; then design a test of them.",
            "Go to Harvest",
            Pane::Harvest,
        )
    } else {
        (
            "There is no test to count",
            "Design a test and lay its trays; then they are counted here.",
            "Go to Trays",
            Pane::Trays,
        )
    };
    if empty_state(ui, title, what, Some(button)) {
        ctx.act(Action::Show(pane));
    }
}

/// Says why a key was refused.
fn refused(refusal: Refusal, sum: u32, sown: u16) -> (Tone, String) {
    let (tone, text) = match refusal {
        Refusal::Sum => {
            let mut text = sentence(&Fault::SumNotSown { sum, sown }.to_string());
            if sum > u32::from(sown) {
                text += " If so many really lie here, press K and change the kernels laid.";
            }
            (Tone::Error, text)
        }
        Refusal::Nothing => (
            Tone::Warning,
            "Nothing is typed in this cell yet. Begin with a number; 0 is a number too.".to_owned(),
        ),
        Refusal::NotCounted(category) => (
            Tone::Error,
            format!(
                "'{}' is not counted here. Choose another category, or change the categories.",
                category.name()
            ),
        ),
        Refusal::OtherKernels => (
            Tone::Error,
            format!("The cell before had another number of kernels than the {sown} here. Type the numbers."),
        ),
    };
    (tone, text)
}

fn first_open(project: &Project, tray: TrayId, is_open: &dyn Fn(CellId) -> bool) -> Option<CellId> {
    let counted = || project.cells_of(tray).filter(|cell| cell.content.is_counted());
    let open = counted().find(|cell| is_open(cell.id));
    open.or_else(|| counted().next()).map(|cell| cell.id)
}

fn place_name(project: &Project, cell: &Cell) -> String {
    let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
    format!("tray {tray} {}", cell.name())
}

/// Says what was seen without the categories that are none.
fn seen_text(seen: &Seen, form: &Form) -> String {
    let mut text = tally_text(&seen.tally, form);
    if let Some(vigor) = seen.vigor {
        text.push_str(", vigor ");
        text.push_str(&vigor.to_string());
    }
    if seen.mould {
        text += ", mould";
    }
    text
}

fn tally_text(tally: &crate::model::Tally, form: &Form) -> String {
    let parts: Vec<String> = Category::ALL
        .into_iter()
        .filter(|category| tally.of(*category) > 0)
        .map(|category| format!("{} {}", tally.of(category), form.category_name(category)))
        .collect();
    parts.join(", ")
}
