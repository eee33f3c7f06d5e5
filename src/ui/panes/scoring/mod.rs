//! Counting what grows, cell by cell.

mod entry;
mod strip;
mod walk;

use super::repair::RepairDialog;
use super::tray_drawing::{CellState, Drawing, DrawnTray, Pointed, paint_tray};
use crate::insight::{Memo, TrayView};
use crate::model::{
    Area, Cell, CellContent, CellId, Command, Count, Document, Fault, Pass, Place, Project, Repair, SeasonId,
    Seen, Test, TestId, TrayId, sentence,
};
use crate::ui::context::{Action, Pane, PaneCtx, Ticket, Tone};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::empty_state;
use crate::ui::widgets::segmented::segmented;
use egui::{
    Event, EventFilter, FocusDirection, FontId, Frame, Id, Key, Label, Margin, Modifiers, Panel, RichText,
    Role, ScrollArea, Sense, TextEdit, TextWrapMode, Ui, WidgetInfo, vec2,
};
use entry::{Entry, Outcome, Slot, Stroke};
use std::collections::BTreeMap;
use std::sync::Arc;
use walk::{Walk, find_place};

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Scoring {
    wanted: Option<Place>,
    season: Option<SeasonId>,
    test: Option<TestId>,
    pass: Option<Pass>,
    cell: Option<CellId>,
    /// What was typed and not recorded, cell by cell.
    entries: BTreeMap<(CellId, Pass), Entry>,
    pending: Vec<Pending>,
    /// Cells where another number of kernels was asked for.
    laying: Option<Ticket>,
    message: Option<(Tone, String)>,
    go_to: String,
    /// The cell that was last scrolled to.
    revealed: Option<CellId>,
    walk: Memo<(TestId, [u64; 3]), Walk>,
    drawing: Memo<(TestId, [u64; 4]), Drawing>,
    /// The dialog that mends trays, while it is open.
    repair: Option<RepairDialog>,
    /// The frame in which the pane was last drawn.
    last_frame: u64,
}

/// A count that was asked for and is not answered yet.
#[derive(Debug)]
struct Pending {
    ticket: Ticket,
    cell: CellId,
    pass: Pass,
    entry: Entry,
    said: String,
}

/// Below this height, in points, the cell's name and what lies in it share a line.
const LOW: f32 = 240.0;

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
            let (title, what) = if ctx.season.is_none() {
                (
                    "There is no season yet",
                    "Begin a season and enter its ears; then design a test of them.",
                )
            } else {
                (
                    "There is no test to count",
                    "Design a test and lay its trays; then they are counted here.",
                )
            };
            let (button, pane) = if ctx.season.is_none() {
                ("Go to Harvest", Pane::Harvest)
            } else {
                ("Go to Trays", Pane::Trays)
            };
            if empty_state(ui, title, what, Some(button)) {
                ctx.act(Action::Show(pane));
            }
            return;
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
        let pass = self.pass_of(test, ctx);
        self.land(project, &walk, pass);
        self.take_keyboard(ui);
        if ui.memory(|m| m.has_focus(keyboard())) {
            self.keys(ui, ctx, &walk, pass);
        }
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        self.switches(ui, ctx, test, &walk, pass, cell);
        Panel::bottom("scoring entry")
            .frame(Frame::new().inner_margin(Margin {
                top: 6,
                ..Margin::ZERO
            }))
            .show(ui, |ui| self.entry_ui(ui, ctx, &walk, pass, cell));
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
                    .show(ui, |ui| self.cell_ui(ui, ctx, test, pass, cell));
            });
        self.tray_ui(ui, ctx, test, pass, cell);
        if self.repair.as_mut().is_some_and(|repair| !repair.ui(ui, ctx)) {
            self.repair = None;
        }
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        self.wanted = Some(place);
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
            Some(Place::Cell(cell)) => Some((cell, None)),
            Some(Place::Count(count)) => {
                let count = project.counts.get(count);
                count.map(|count| (count.cell, Some(count.pass)))
            }
            _ => None,
        };
        if let Some((cell, pass)) = cell
            && let Some(test) = project
                .cells
                .get(cell)
                .and_then(|cell| project.test_of_tray(cell.tray))
        {
            if self.test != Some(test.id) {
                self.pass = None;
            }
            self.test = Some(test.id);
            self.cell = Some(cell);
            self.pass = pass.or(self.pass);
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
        self.season = ctx.season;
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

    /// Gives the pass: the chosen one, else the one whose day is nearer.
    fn pass_of(&mut self, test: &Test, ctx: &PaneCtx<'_>) -> Pass {
        *self.pass.get_or_insert_with(|| {
            let days = test.laid.map(|laid| i64::from((ctx.today - laid).get_days()));
            match (test.recipe.early_day, days) {
                (Some(early), Some(days)) if days * 2 < i64::from(early + test.recipe.final_day) => {
                    Pass::Early
                }
                _ => Pass::Final,
            }
        })
    }

    /// Makes sure that there is a current cell: at first the first one without a count.
    fn land(&mut self, project: &Project, walk: &Walk, pass: Pass) {
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
        let open = walk.find_from(0, |cell| project.count_in_force(cell, pass).is_none());
        self.cell = open.or_else(|| walk.first());
    }

    fn follow_outcomes(&mut self, ctx: &mut PaneCtx<'_>) {
        for pending in std::mem::take(&mut self.pending) {
            match ctx.outcome(pending.ticket) {
                Some(Ok(_)) => {}
                Some(Err(problem)) => {
                    self.cell = Some(pending.cell);
                    self.pass = Some(pending.pass);
                    self.entries.insert((pending.cell, pending.pass), pending.entry);
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

    fn keys(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass) {
        let events = ui.input_mut(|i| take_keys(&mut i.events));
        for key in events {
            match key {
                Pressed::Sign(sign) => self.sign(ui, ctx, walk, pass, sign),
                Pressed::Key(key, shift) => self.key(ui, ctx, walk, pass, key, shift),
            }
        }
    }

    fn sign(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass, sign: char) {
        let stroke = match sign {
            '0'..='9' => Stroke::Digit(sign as u8 - b'0'),
            '+' | ' ' => Stroke::Next,
            '.' | ',' => Stroke::Rest,
            '*' => Stroke::RestInto(Slot::Dead),
            '/' => Stroke::RestInto(Slot::Fresh),
            'm' | 'M' => Stroke::Mould,
            '-' => return self.step(walk, false),
            'n' | 'N' => return self.next_open(ctx.document.project(), walk, pass),
            'g' | 'G' => {
                self.go_to.clear();
                return ui.memory_mut(|m| m.request_focus(go_to_field()));
            }
            _ => return,
        };
        self.press(ctx, walk, pass, stroke);
    }

    fn key(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass, key: Key, shift: bool) {
        let project = ctx.document.project();
        match key {
            Key::Enter => self.press(ctx, walk, pass, Stroke::Enter),
            Key::Tab if shift => self.press(ctx, walk, pass, Stroke::Before),
            Key::Tab => self.press(ctx, walk, pass, Stroke::Next),
            Key::Backspace => self.take_back(pass),
            Key::ArrowLeft => self.arrow(project, 0, -1),
            Key::ArrowRight => self.arrow(project, 0, 1),
            Key::ArrowUp => self.arrow(project, -1, 0),
            Key::ArrowDown => self.arrow(project, 1, 0),
            Key::PageUp => self.turn_tray(project, walk, pass, false),
            Key::PageDown => self.turn_tray(project, walk, pass, true),
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

    fn press(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass, stroke: Stroke) {
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
        let kernels = project.sown(cell);
        let entry = self.entries.entry((cell.id, pass)).or_default();
        match entry.press(stroke, kernels, pass) {
            Outcome::Taken => {}
            Outcome::Refused => {
                let sum = entry.look(kernels, pass).sum();
                let fault = Fault::SumNotSown { sum, sown: kernels };
                self.message = Some((Tone::Error, sentence(&fault.to_string())));
            }
            Outcome::Record => self.record(ctx, walk, pass, cell),
        }
        self.entries.retain(|_, entry| !entry.is_empty());
    }

    fn take_back(&mut self, pass: Pass) {
        self.message = None;
        let Some(cell) = self.cell else { return };
        let entry = self.entries.entry((cell, pass)).or_default();
        if !entry.take_back() {
            let text = "Nothing is typed in this cell. '-' goes to the cell before; Undo takes back a recorded count.";
            self.message = Some((Tone::Warning, text.to_owned()));
        }
        self.entries.retain(|_, entry| !entry.is_empty());
    }

    fn record(&mut self, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass, cell: &Cell) {
        let project = ctx.document.project();
        let Some(entry) = self.entries.remove(&(cell.id, pass)) else {
            return;
        };
        let look = entry.look(project.sown(cell), pass);
        let before = project.count_in_force(cell.id, pass);
        let seen = Seen {
            mould: look.mould,
            vigor: look.vigor,
            note: before.map_or_else(String::new, |count| count.note.clone()),
            root_mm: before.and_then(|count| count.root_mm),
            shoot_mm: before.and_then(|count| count.shoot_mm),
            ..Seen::new(cell.id, pass, look.tally())
        };
        let said = place_name(project, cell);
        let mut text = format!("{said}: {}", tally_text(&seen.tally, pass));
        if let Some(vigor) = look.vigor {
            text.push_str(", vigor ");
            text.push_str(&vigor.to_string());
        }
        if look.mould {
            text += ", mould";
        }
        let verb = if before.is_some() { "Corrected" } else { "Recorded" };
        self.message = Some((Tone::Well, format!("{verb} {text}.")));
        ctx.act(Action::CloseStep);
        let ticket = ctx.run_for(Command::RecordCounts {
            counts: vec![seen],
            on: Some(ctx.today),
            by: ctx.who.to_owned(),
        });
        self.pending.push(Pending {
            ticket,
            cell: cell.id,
            pass,
            entry,
            said: sentence(&said).trim_end_matches('.').to_owned(),
        });
        let is_correction = before.is_some();
        self.advance(project, walk, pass, cell, is_correction);
    }

    /// Goes to the next cell, and says so when that is in another tray. After a first count it passes over cells
    /// that are counted already; after a correction it does not, as a whole row may have to be read again.
    fn advance(&mut self, project: &Project, walk: &Walk, pass: Pass, cell: &Cell, is_correction: bool) {
        let tray = project.trays.get(cell.tray);
        let number = tray.map_or(0, |tray| tray.number);
        let is_open = |id: CellId| {
            let is_asked = self
                .pending
                .iter()
                .any(|pending| pending.cell == id && pending.pass == pass);
            !is_asked && project.count_in_force(id, pass).is_none()
        };
        let neighbour = walk.step(cell.id, true);
        let next = if is_correction {
            neighbour
        } else {
            walk.find_after(cell.id, is_open).or(neighbour)
        };
        let next_tray = next
            .and_then(|next| project.cells.get(next))
            .map(|next| next.tray);
        if next_tray != Some(cell.tray) {
            let open: Vec<String> = project
                .cells_of(cell.tray)
                .filter(|cell| cell.content.is_counted() && is_open(cell.id))
                .map(Cell::name)
                .collect();
            let ended = match open.as_slice() {
                [] => format!("Tray {number} is counted."),
                [one] => format!("Tray {number} ends here; {one} is not counted yet."),
                [first, ..] => format!(
                    "Tray {number} ends here; {} cells are not counted yet, the first is {first}.",
                    open.len()
                ),
            };
            let next_number = next_tray
                .and_then(|tray| project.trays.get(tray))
                .map(|tray| tray.number);
            let then = match next_number {
                Some(next) => format!("Take tray {next} now."),
                None if walk.find_from(0, is_open).is_none() => {
                    format!("All cells of the {pass} count are counted.")
                }
                None => "This was the last tray; press N for the next cell that is not counted.".to_owned(),
            };
            let recorded = self
                .message
                .take()
                .map_or_else(String::new, |(_, text)| text + " ");
            self.message = Some((Tone::Well, format!("{recorded}{ended} {then}")));
        }
        self.cell = next.or(Some(cell.id));
    }

    fn step(&mut self, walk: &Walk, forward: bool) {
        self.message = None;
        let Some(cell) = self.cell else { return };
        self.cell = walk.step(cell, forward).or(Some(cell));
    }

    fn next_open(&mut self, project: &Project, walk: &Walk, pass: Pass) {
        let from = self.cell.map_or(0, |cell| walk.after(cell));
        let is_open = |cell: CellId| project.count_in_force(cell, pass).is_none();
        if let Some(cell) = walk.find_from(from, is_open) {
            self.message = None;
            self.cell = Some(cell);
        } else {
            let text = format!("All cells of the {pass} count are counted.");
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
            self.cell = Some(next.id);
        }
    }

    /// Goes to the tray before or after: to its first cell without a count.
    fn turn_tray(&mut self, project: &Project, walk: &Walk, pass: Pass, forward: bool) {
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
        self.cell = first_open(project, tray, pass);
    }

    fn jump(&mut self, project: &Project, test: &Test, pass: Pass) -> bool {
        let from = self
            .cell
            .and_then(|cell| project.cells.get(cell))
            .map(|cell| cell.tray);
        match find_place(project, test, from, pass, &self.go_to) {
            Ok(cell) => {
                self.message = None;
                self.cell = Some(cell);
                self.go_to.clear();
                true
            }
            Err(text) => {
                self.message = Some((Tone::Error, text));
                false
            }
        }
    }

    // ---- drawing -----------------------------------------------------------------------------------------

    fn switches(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        walk: &Walk,
        pass: Pass,
        cell: &Cell,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let by_pointer = ui.input(|i| i.pointer.any_released());
        let mut changed = false;
        ui.add_space(3.0);
        ui.horizontal_wrapped(|ui| {
            ui.add_space(3.0);
            let tests: Vec<&Test> = project.tests_of(test.season).collect();
            if tests.len() > 1 {
                let names: Vec<&str> = tests.iter().map(|test| test.name.as_str()).collect();
                let chosen = tests.iter().position(|other| other.id == test.id).unwrap_or(0);
                if let Some(new) = segmented(ui, Id::unique("scoring test"), "Test", &names, chosen) {
                    (self.test, self.cell, self.pass) = (Some(tests[new].id), None, None);
                    changed = true;
                }
            }
            let early = test.recipe.early_day;
            let early = early.map_or_else(|| "Early".to_owned(), |day| format!("Early, day {day}"));
            let names = [early.as_str(), &format!("Final, day {}", test.recipe.final_day)];
            let chosen = usize::from(pass == Pass::Final);
            if let Some(new) = segmented(ui, Id::unique("scoring pass"), "Pass", &names, chosen) {
                self.pass = Some([Pass::Early, Pass::Final][new]);
                changed = true;
            }
            let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
            if ui.button("◀").accessible_name("Previous tray").clicked() {
                self.turn_tray(project, walk, pass, false);
                changed = true;
            }
            let trays = walk.trays();
            ui.label(RichText::new(format!("Tray {tray} of {trays}")).font(t.strong_font()));
            if ui.button("▶").accessible_name("Next tray").clicked() {
                self.turn_tray(project, walk, pass, true);
                changed = true;
            }
            let label = ui.label("Go to");
            let edit = TextEdit::singleline(&mut self.go_to)
                .id(go_to_field())
                .hint_text("3 B4")
                .desired_width(100.0);
            let field = ui.add(edit).labelled_by(label.id);
            if field.lost_focus() {
                let enter = ui.input(|i| i.key_pressed(Key::Enter));
                if enter && !self.jump(project, test, pass) {
                    field.request_focus();
                } else {
                    changed = true;
                }
            }
            let progress = ctx.insight.progress(ctx.document, test.id);
            let here = progress
                .of(cell.tray)
                .map_or((0, 0), |tray| (tray.counted(pass), tray.cells));
            let counted: usize = progress.trays.iter().map(|tray| tray.counted(pass)).sum();
            let percent = counted * 100 / progress.cells.max(1);
            let repair = ui.button("Repair…");
            let hint = "Shift a row by one, swap cells or trays, turn a tray: what was laid or read in the wrong place";
            if repair.on_hover_text(hint).clicked() {
                self.repair = Some(RepairDialog::at(project, test.id, cell, pass));
            }
            let text = format!(
                "Tray {} of {}, test {counted} of {} ({percent} %)",
                here.0, here.1, progress.cells
            );
            let label = Label::new(RichText::new(&text).font(t.small_font()));
            let label = ui.add(label.wrap_mode(TextWrapMode::Extend));
            let said = format!("Cells counted: {text}");
            label.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
        });
        ui.add_space(3.0);
        if test.laid.is_none() {
            ui.horizontal_wrapped(|ui| {
                ui.add_space(3.0);
                let text = "⚠ This test is not noted as laid, so its kernels are still in their packets.";
                ui.label(RichText::new(text).color(t.warn));
                if ui.button("Go to Trays").clicked() {
                    ctx.act(Action::Go(Place::Test(test.id)));
                }
            });
        }
        let is_field = ui.memory(|m| m.has_focus(go_to_field()));
        if changed && !is_field && (by_pointer || ui.input(|i| i.key_pressed(Key::Enter))) {
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
    }

    fn entry_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, pass: Pass, cell: &Cell) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let kernels = if cell.content.is_counted() {
            project.sown(cell)
        } else {
            0
        };
        let look = self
            .entries
            .get(&(cell.id, pass))
            .cloned()
            .unwrap_or_default()
            .look(kernels, pass);
        if let Some(stroke) = strip::boxes(ui, &look, pass, cell.content.is_counted()) {
            self.press(ctx, walk, pass, stroke);
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
        let early = project.count_in_force(cell.id, Pass::Early);
        let fell = look.is_complete()
            && pass == Pass::Final
            && early.is_some_and(|early| early.tally.emerged() > look.tally().emerged());
        let (tone, text) = match &self.message {
            Some((tone, text)) => (*tone, text.clone()),
            None if fell => (
                Tone::Warning,
                format!(
                    "{} had emerged at the early count, more than now: is this the right cell?",
                    early.map_or(0, |count| count.tally.emerged())
                ),
            ),
            None => (Tone::Well, strip::hint(&look, pass, cell.content.is_counted())),
        };
        let (sign, colour) = match tone {
            Tone::Well => ("", t.text),
            Tone::Warning => ("⚠ ", t.warn),
            Tone::Error => ("✗ ", t.bad),
        };
        let said = ui.label(
            RichText::new(format!("{sign}{text}"))
                .font(t.strong_font())
                .color(colour),
        );
        let role = if tone == Tone::Well {
            Role::Status
        } else {
            Role::Alert
        };
        said.widget_info(|| WidgetInfo::labeled(role, true, &text));
        strip::legend(ui, pass);
    }

    fn cell_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, pass: Pass, cell: &Cell) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let room = ui.available_size();
        let names = Names::of(project, test, cell);
        if room.y < LOW {
            ui.horizontal(|ui| {
                let name = huge(ui, &cell.name(), vec2(room.x * 0.4, 76.0));
                name.on_hover_text(&names.below);
                ui.vertical(|ui| {
                    ui.spacing_mut().item_spacing.y = 0.0;
                    huge(ui, &names.content, vec2(ui.available_width(), 26.0));
                    ui.label(RichText::new(&names.below).font(t.small_font()));
                });
            });
        } else {
            ui.scope(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                huge(ui, &cell.name(), vec2(room.x, (room.y * 0.34).min(190.0)));
                huge(ui, &names.content, vec2(room.x, (room.y * 0.15).min(84.0)));
                let size = (room.y * 0.05).clamp(15.0, 26.0);
                ui.label(RichText::new(&names.below).font(FontId::proportional(size)));
            });
            ui.add_space(t.space.small);
        }
        if !cell.content.is_counted() {
            ui.label("Nothing lies here, so there is nothing to count. If something grows here, the tray is turned or read one cell off.");
            return;
        }
        let kernels = NumberField::new(Id::unique(("kernels laid", cell.id.0)), "Kernels laid here")
            .range(1.0..=f64::from(crate::model::MOST_KERNELS_PER_CELL))
            .width(56.0);
        let shown = f64::from(project.sown(cell));
        if let Some(new) = kernels.show(ui, shown) {
            let new = new as u16;
            let kernels = (new != test.plan.kernels).then_some(new);
            self.laying = Some(ctx.run_for(Command::SetLaid {
                cell: cell.id,
                kernels,
            }));
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
        let view = ctx.insight.tray_view(ctx.document, cell.tray);
        let view = view
            .as_ref()
            .as_ref()
            .and_then(|tray| tray.at(cell.row, cell.column));
        for problem in view.iter().flat_map(|cell| &cell.problems) {
            ui.label(RichText::new(format!("⚠ {problem}")).color(t.bad));
        }
        let counts = [Pass::Early, Pass::Final].map(|pass| project.count_in_force(cell.id, pass));
        for count in counts.into_iter().flatten() {
            let is_this = count.pass == pass;
            let text = count_text(count, is_this);
            ui.label(RichText::new(text).color(if is_this { t.text } else { t.quiet }));
        }
    }

    fn tray_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, pass: Pass, cell: &Cell) {
        let t = Tokens::of(ui);
        let drawing = self.drawing_of(ctx.document, test);
        let at = drawing
            .trays
            .iter()
            .position(|tray| tray.id == Some(cell.tray))
            .unwrap_or(0);
        let mut drawing = drawing.only(at);
        let view = ctx.insight.tray_view(ctx.document, cell.tray);
        if let (Some(tray), Some(view)) = (drawing.trays.first_mut(), view.as_ref()) {
            self.mark_states(view, tray, pass);
            for problem in &view.problems {
                ui.label(RichText::new(format!("⚠ {problem}")).color(t.warn));
            }
        }
        ScrollArea::both()
            .id_salt("scoring tray")
            .auto_shrink(false)
            .show(ui, |ui| self.tray_cells(ui, ctx, test, cell, &drawing));
    }

    /// The tray as large as fits, and at least so large that it can be read.
    fn tray_cells(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        cell: &Cell,
        drawing: &Drawing,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let room = ui.available_size() - vec2(6.0, 6.0);
        let scale = drawing.shape.scale_for(room).max(drawing.least_scale());
        let size = (drawing.shape.outer(scale) + vec2(4.0, 4.0)).max(room);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        let response = ui.interact(rect, keyboard(), Sense::click());
        let corner = rect.min;
        let under = response
            .hover_pos()
            .and_then(|point| drawing.shape.cell_under(corner, scale, point));
        let columns = drawing.shape.columns;
        if response.clicked() {
            response.request_focus();
            let place = under.map(|at| ((at / columns) as u16 + 1, (at % columns) as u16 + 1));
            if let Some((row, column)) = place
                && let Some(clicked) = project.cell_at(cell.tray, row, column)
            {
                self.message = None;
                self.cell = Some(clicked.id);
                if let CellContent::Ear(ear) = clicked.content {
                    ctx.choose(vec![ear]);
                }
            }
        }
        let cursor = usize::from(cell.row - 1) * columns + usize::from(cell.column - 1);
        if self.revealed != Some(cell.id) {
            self.revealed = Some(cell.id);
            let current = drawing.shape.cell(corner, scale, cursor);
            ui.scroll_to_rect(current.expand2(vec2(40.0, 20.0)), None);
        }
        let pointed = Pointed {
            chosen: ctx.chosen,
            cursor: Some(cursor),
            hovered: under,
        };
        if !drawing.trays.is_empty() {
            paint_tray(ui.painter(), t, drawing, 0, (corner, scale), pointed);
        }
        if response.has_focus() {
            let container = drawing.shape.container(corner, scale).expand(3.0);
            let ring = egui::Stroke::new(2.0, t.accent);
            ui.painter()
                .rect_stroke(container, 4.0, ring, egui::StrokeKind::Middle);
        }
        let text = drawing.sentence(project, &test.check_lot, 0, cursor);
        response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::Grid, true, "Cells of the tray");
            info.current_text_value = Some(text.clone());
            info
        });
    }

    fn mark_states(&self, view: &TrayView, tray: &mut DrawnTray, pass: Pass) {
        for drawn in &mut tray.cells {
            let Some(id) = drawn.id.filter(|_| drawn.content.is_counted()) else {
                continue;
            };
            let Some(cell) = view.cells.iter().find(|cell| cell.cell == id) else {
                continue;
            };
            if let Some(count) = cell.count(pass) {
                let grown = match pass {
                    Pass::Early => count.tally.emerged(),
                    Pass::Between(_) | Pass::Final => count.germinated,
                };
                drawn.note = format!("{grown}/{}", count.counted);
                drawn.state = if cell.problems.is_empty() {
                    CellState::Counted
                } else {
                    CellState::Problem
                };
            }
            if self.entries.contains_key(&(id, pass)) {
                drawn.state = CellState::Begun;
                drawn.note = String::from("begun");
            }
        }
    }
}

/// What lies in a cell, for the large type.
struct Names {
    content: String,
    below: String,
}

impl Names {
    fn of(project: &Project, test: &Test, cell: &Cell) -> Self {
        let (content, below) = match cell.content {
            CellContent::Ear(ear) => project.ears.get(ear).map_or_else(Default::default, |ear| {
                let mother = project.mother_label(ear);
                let mother = if mother.is_empty() {
                    "mother row not known".to_owned()
                } else {
                    format!("row {mother}")
                };
                (format!("Ear {}", ear.number), format!("{}, {mother}", ear.code))
            }),
            CellContent::Check(number) => (format!("Check {number}"), test.check_lot.clone()),
            CellContent::Landmark => ("Landmark".to_owned(), String::new()),
            CellContent::Spare => ("Spare".to_owned(), String::new()),
        };
        Self { content, below }
    }
}

/// Writes a word as large as fits into a room.
fn huge(ui: &mut Ui, text: &str, room: egui::Vec2) -> egui::Response {
    let by_width = room.x / (text.chars().count().max(2) as f32 * 0.66);
    let size = room.y.min(by_width).max(16.0);
    let text = RichText::new(text).font(FontId::new(size, fonts::bold()));
    ui.add(Label::new(text).wrap_mode(TextWrapMode::Extend))
}

fn first_open(project: &Project, tray: TrayId, pass: Pass) -> Option<CellId> {
    let counted = || project.cells_of(tray).filter(|cell| cell.content.is_counted());
    let open = counted().find(|cell| project.count_in_force(cell.id, pass).is_none());
    open.or_else(|| counted().next()).map(|cell| cell.id)
}

fn place_name(project: &Project, cell: &Cell) -> String {
    let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
    format!("tray {tray} {}", cell.name())
}

/// Says a tally without the categories that are none.
fn tally_text(tally: &crate::model::Tally, pass: Pass) -> String {
    let parts = [
        (tally.strong, Slot::Strong),
        (tally.weak, Slot::Weak),
        (tally.abnormal, Slot::Abnormal),
        (tally.dead, Slot::Dead),
        (tally.fresh, Slot::Fresh),
        (tally.missing, Slot::Missing),
    ];
    let parts: Vec<String> = parts
        .into_iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, slot)| format!("{number} {}", slot.name(pass)))
        .collect();
    parts.join(", ")
}

fn count_text(count: &Count, is_this: bool) -> String {
    let on = count.on.map_or_else(String::new, |day| format!(" on {day}"));
    let by = if count.by.is_empty() {
        String::new()
    } else {
        format!(" by {}", count.by)
    };
    let vigor = count
        .vigor
        .map_or_else(String::new, |vigor| format!(", vigor {vigor}"));
    let mould = if count.mould { ", mould" } else { "" };
    let pass = if count.pass == Pass::Early {
        "Early"
    } else {
        "Final"
    };
    let then = if is_this {
        " A new entry is a correction of it."
    } else {
        ""
    };
    format!(
        "{pass} count{on}{by}: {}{vigor}{mould}.{then}",
        tally_text(&count.tally, count.pass)
    )
}

/// A key of the pane.
enum Pressed {
    /// A sign that was typed.
    Sign(char),
    /// Any other key, and whether Shift was held.
    Key(Key, bool),
}

/// Takes the pane's keys out of the input, in order. A held key counts once.
fn take_keys(events: &mut Vec<Event>) -> Vec<Pressed> {
    let mut taken = Vec::new();
    let mut rest = Vec::new();
    // The sign of the last key: the text that follows it is the same press.
    let mut pressed: Option<(char, bool)> = None;
    for event in events.drain(..) {
        match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } if is_free(modifiers) => {
                if let Some(sign) = sign_of(key) {
                    pressed = Some((sign, repeat));
                    if !repeat {
                        taken.push(Pressed::Sign(sign));
                    }
                } else if is_ours(key) {
                    if !repeat || !matches!(key, Key::Enter | Key::Tab) {
                        taken.push(Pressed::Key(key, modifiers.shift));
                    }
                } else {
                    rest.push(event);
                }
            }
            Event::Text(text) => {
                for sign in text.chars() {
                    match pressed.take() {
                        // A shifted key gives another sign than its own: the text is right.
                        Some((before, false)) if before != sign.to_ascii_lowercase() => {
                            taken.pop();
                            taken.push(Pressed::Sign(sign));
                        }
                        Some(_) => {}
                        None => taken.push(Pressed::Sign(sign)),
                    }
                }
            }
            other => rest.push(other),
        }
    }
    *events = rest;
    taken
}

fn is_free(modifiers: Modifiers) -> bool {
    !modifiers.command && !modifiers.ctrl && !modifiers.alt
}

fn is_ours(key: Key) -> bool {
    matches!(
        key,
        Key::Enter
            | Key::Tab
            | Key::Backspace
            | Key::ArrowLeft
            | Key::ArrowRight
            | Key::ArrowUp
            | Key::ArrowDown
            | Key::PageUp
            | Key::PageDown
            | Key::F6
    )
}

fn sign_of(key: Key) -> Option<char> {
    Some(match key {
        Key::Num0 => '0',
        Key::Num1 => '1',
        Key::Num2 => '2',
        Key::Num3 => '3',
        Key::Num4 => '4',
        Key::Num5 => '5',
        Key::Num6 => '6',
        Key::Num7 => '7',
        Key::Num8 => '8',
        Key::Num9 => '9',
        Key::Plus => '+',
        Key::Minus => '-',
        Key::Period => '.',
        Key::Comma => ',',
        Key::Slash => '/',
        Key::Space => ' ',
        Key::M => 'm',
        Key::N => 'n',
        Key::G => 'g',
        _ => return None,
    })
}
