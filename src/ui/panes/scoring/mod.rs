//! Counting what grows, cell by cell.

mod ask;
mod cell;
mod entry;
mod head;
mod keys;
mod photo;
mod scheme;
mod strip;
mod tray;
mod walk;

use super::repair::RepairDialog;
use super::tray_drawing::Drawing;
use crate::insight::{Memo, Reading, guards};
use crate::model::{
    Area, Category, Cell, CellId, Command, Document, Fault, Pass, Place, Project, Repair, Seen, Test, TestId,
    TrayId, sentence,
};
use crate::ui::context::{Action, Pane, PaneCtx, Ticket, Tone};
use crate::ui::widgets::parts::empty_state;
use ask::Asking;
use egui::{EventFilter, FocusDirection, Frame, Id, Key, Margin, Panel, ScrollArea, Ui};
use entry::{Entry, Form, Outcome, Pattern, Refusal, Stroke};
use keys::{Pressed, take_keys};
use photo::PhotoPart;
use scheme::SchemeDialog;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use walk::{Walk, find_place};

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Scoring {
    wanted: Option<Place>,
    test: Option<TestId>,
    pass: Option<Pass>,
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
        self.follow_outcomes(ctx);
        let reading = self.reading(test, ctx);
        self.land(project, &walk, reading);
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
        self.head_ui(ui, ctx, test, &walk, reading, cell);
        self.photo_side(ui, ctx, reading, cell);
        Panel::bottom("scoring entry")
            .frame(Frame::new().inner_margin(Margin {
                top: 6,
                ..Margin::ZERO
            }))
            .show(ui, |ui| self.entry_ui(ui, ctx, &walk, reading, cell));
        let width = (ui.available_width() * 0.36).clamp(250.0, 520.0);
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
        self.settle_lengths(ui, ctx);
        self.scheme_ui(ui, ctx);
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
            if self.test != Some(test.id) {
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

    /// Gives what is being counted: the chosen pass, else the one whose day is nearer.
    fn reading(&mut self, test: &Test, ctx: &PaneCtx<'_>) -> Reading {
        let pass = *self.pass.get_or_insert_with(|| {
            let days = test.laid.map(|laid| i64::from((ctx.today - laid).get_days()));
            match (test.recipe.early_day, days) {
                (Some(early), Some(days)) if days * 2 < i64::from(early + test.recipe.final_day) => {
                    Pass::Early
                }
                _ => Pass::Final,
            }
        });
        Reading {
            pass,
            second: self.second,
        }
    }

    /// Makes sure that there is a current cell: at first the first one without a count.
    fn land(&mut self, project: &Project, walk: &Walk, reading: Reading) {
        let is_here = |cell: CellId| {
            let tray = project
                .cells
                .get(cell)
                .and_then(|cell| project.trays.get(cell.tray));
            tray.is_some_and(|tray| Some(tray.test) == self.test)
        };
        if self.cell.is_some_and(is_here) {
            return;
        }
        let open = walk.find_round(None, |cell| reading.count(project, cell).is_none());
        let tray = open
            .and_then(|cell| project.cells.get(cell))
            .map(|cell| cell.tray);
        let begin = tray.and_then(|tray| self.beginning(project, walk, tray, reading));
        self.cell = begin.or(open).or_else(|| walk.first());
    }

    fn follow_outcomes(&mut self, ctx: &mut PaneCtx<'_>) {
        for pending in std::mem::take(&mut self.pending) {
            match ctx.outcome(pending.ticket) {
                Some(Ok(_)) => {}
                Some(Err(problem)) => {
                    self.cell = Some(pending.cell);
                    (self.pass, self.second) = (Some(pending.reading.pass), pending.reading.second);
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
            if self.answer(ui, ctx, walk, reading, pressed) {
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
            '/' if self.is_all_told(project, reading) => return self.write_note(ui, project, reading),
            '/' => Stroke::RestInto(Category::Fresh),
            'm' | 'M' => Stroke::Mould,
            'v' | 'V' => Stroke::RestInto(Category::Missing),
            'w' | 'W' => return self.write_note(ui, project, reading),
            '-' => return self.take_back(project, walk, reading),
            'n' | 'N' => return self.next_open(project, walk, reading),
            'k' | 'K' => {
                if let Some(cell) = self.cell {
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
            Key::Delete => self.ask_withdraw(ui, project, reading),
            Key::ArrowLeft => self.arrow(project, 0, -1),
            Key::ArrowRight => self.arrow(project, 0, 1),
            Key::ArrowUp => self.arrow(project, -1, 0),
            Key::ArrowDown => self.arrow(project, 1, 0),
            Key::PageUp => self.turn_tray(project, walk, reading, false),
            Key::PageDown => self.turn_tray(project, walk, reading, true),
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
        if let Some(last) = self.last.as_ref().filter(|last| last.reading == reading) {
            return self.press(ctx, walk, reading, Stroke::Repeat(last.pattern));
        }
        let text = "No cell was counted before this one, so there is nothing to repeat. Type its numbers.";
        self.message = Some((Tone::Warning, text.to_owned()));
    }

    fn press(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, stroke: Stroke) {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        if let Some(why) = ctx.read_only {
            self.message = Some((Tone::Error, sentence(why)));
            return;
        }
        if !cell.content.is_counted() {
            self.message = Some((Tone::Error, sentence(&Fault::NothingToCount.to_string())));
            return;
        }
        self.message = None;
        let form = Self::form(project, cell, reading);
        let entry = self.entries.entry((cell.id, reading)).or_default();
        match entry.press(stroke, &form) {
            Outcome::Taken => {}
            Outcome::Refused(refusal) => {
                let sum = entry.look(&form).sum();
                self.message = Some(refused(refusal, sum, project.sown(cell)));
            }
            Outcome::Record => self.finish(ctx, walk, reading, cell),
        }
        self.entries.retain(|_, entry| !entry.is_empty());
    }

    /// Takes back the last key, also one that recorded a count; where there is none, goes to the cell before.
    fn take_back(&mut self, project: &Project, walk: &Walk, reading: Reading) {
        self.message = None;
        let Some(cell) = self.cell else { return };
        if let Some(entry) = self.entries.get_mut(&(cell, reading)) {
            entry.take_back();
            self.entries.retain(|_, entry| !entry.is_empty());
            return;
        }
        let is_last = |last: &mut Recorded| last.reading == reading && last.next == cell;
        let Some(Recorded { cell, mut entry, .. }) = self.last.take_if(is_last) else {
            return self.step_back(walk);
        };
        entry.take_back();
        self.to(cell);
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
            },
        ));
    }

    fn record(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading, cell: &Cell, seen: Seen) {
        let project = ctx.document.project();
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
        let is_open = |id: CellId| self.is_open(project, id, reading);
        let stays = stays_in_tray(reading);
        let next = walk.find_after(cell.id, |stop| {
            if stays && stop.tray != cell.tray {
                return false;
            }
            if !stop.is_landmark {
                return is_correction || is_open(stop.cell);
            }
            let is_counting = || {
                let mut counted = walk.of_tray(stop.tray).iter().filter(|stop| !stop.is_landmark);
                stop.tray == cell.tray || counted.any(|stop| is_open(stop.cell))
            };
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
            Some(next) => format!("Take tray {} now.", number(next.tray)),
            None if walk.find_round(None, is_open).is_none() => {
                format!("All cells of the {} count are counted.", reading.pass)
            }
            None => "This was the last tray; press N for the next cell that is not counted.".to_owned(),
        };
        format!("{ended} {then}")
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
        let is_open = |cell: CellId| reading.count(project, cell).is_none() && (!stays || is_here(cell));
        if let Some(cell) = walk.find_round(self.cell, is_open) {
            self.message = None;
            self.to(cell);
        } else {
            let text = if stays {
                format!("All cells of this tray are counted for {}.", reading.pass)
            } else {
                format!("All cells of the {} count are counted.", reading.pass)
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
    fn beginning(&self, project: &Project, walk: &Walk, tray: TrayId, reading: Reading) -> Option<CellId> {
        let first = walk.of_tray(tray).first()?;
        let is_asked = first.is_landmark && !self.blank.contains(&(first.cell, reading));
        let mut counted = walk.of_tray(tray).iter().filter(|stop| !stop.is_landmark);
        if is_asked && counted.all(|stop| self.is_open(project, stop.cell, reading)) {
            return Some(first.cell);
        }
        first_open(project, tray, reading)
    }

    /// Goes to the tray before or after.
    fn turn_tray(&mut self, project: &Project, walk: &Walk, reading: Reading, forward: bool) {
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
        if let Some(cell) = self.beginning(project, walk, tray, reading) {
            self.to(cell);
        }
    }

    fn jump(&mut self, project: &Project, test: &Test, reading: Reading) -> bool {
        let from = self
            .cell
            .and_then(|cell| project.cells.get(cell))
            .map(|cell| cell.tray);
        match find_place(project, test, (from, self.blind), reading, &self.go_to) {
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

fn first_open(project: &Project, tray: TrayId, reading: Reading) -> Option<CellId> {
    let counted = || project.cells_of(tray).filter(|cell| cell.content.is_counted());
    let open = counted().find(|cell| reading.count(project, cell.id).is_none());
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
