//! The paper way: a printed score sheet is typed in its own order, row by row. A row is stored once its cells agree with
//! the total that was written under it, or the typist says why they do not.

use super::ask::Asking;
use super::entry::{Entry, Form, Look, Outcome, Refusal, Stroke};
use super::head::{choice, pass_name};
use super::keys::Pressed;
use super::walk::Walk;
use super::{Recorded, Scoring, keyboard, seen_text, strip};
use crate::insight::{Age, Reading, age};
use crate::model::{
    Category, Cell, CellId, Command, DateOrder, Pass, Project, Seen, Taken, Tally, Test, TrayId, plural,
    read_date, row_letters, sentence,
};
use crate::ui::context::{Action, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Grid, Id, Key, RichText, Role, ScrollArea, Sense, TextEdit, Ui, WidgetInfo};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// A score sheet that is being typed.
#[derive(Debug)]
pub(super) struct Sheet {
    tray: TrayId,
    /// The day that stands on the sheet.
    pub on: Date,
    /// The scorer whose name stands on it.
    by: String,
    /// What is typed and not stored.
    typed: BTreeMap<(CellId, Reading), Seen>,
    /// Cells that are blank on the sheet.
    blank: BTreeSet<(CellId, Reading)>,
    /// Totals of rows as they are typed.
    totals: BTreeMap<(TrayId, u16, Reading), Entry>,
}

/// A row whose storing was asked for and is not answered yet.
#[derive(Debug)]
pub(super) struct PendingRow {
    ticket: Ticket,
    tray: TrayId,
    row: u16,
    last: CellId,
    reading: Reading,
    keys: Vec<(CellId, Reading)>,
}

/// What stands at the head of a sheet, while it is being typed.
#[derive(Debug)]
pub(super) struct SheetDialog {
    tray: TrayId,
    passes: Vec<Pass>,
    chosen: usize,
    on: String,
    by: String,
    is_new: bool,
}

/// What is known of a cell of the sheet.
enum Known<'a> {
    Typed(&'a Seen),
    Stored(&'a Tally, Option<u8>),
    Blank,
    Open,
}

impl Known<'_> {
    fn tally(&self) -> Option<&Tally> {
        match self {
            Self::Typed(seen) => Some(&seen.tally),
            Self::Stored(tally, _) => Some(tally),
            Self::Blank | Self::Open => None,
        }
    }
}

impl Sheet {
    fn known<'a>(&'a self, project: &'a Project, cell: CellId, reading: Reading) -> Known<'a> {
        if let Some(seen) = self.typed.get(&(cell, reading)) {
            return Known::Typed(seen);
        }
        match reading.count(project, cell) {
            Some(count) => Known::Stored(&count.tally, count.vigor),
            None if self.blank.contains(&(cell, reading)) => Known::Blank,
            None => Known::Open,
        }
    }

    fn is_open(&self, project: &Project, cell: CellId, reading: Reading) -> bool {
        matches!(self.known(project, cell, reading), Known::Open)
    }

    /// Says whether a cell is typed and waits for the total of its row.
    pub fn is_typed(&self, cell: CellId, reading: Reading) -> bool {
        self.typed.contains_key(&(cell, reading))
    }

    /// What was typed is changed: it is not complete until it is typed to its end again.
    pub fn reopen(&mut self, cell: CellId, reading: Reading) {
        self.typed.remove(&(cell, reading));
        self.blank.remove(&(cell, reading));
    }

    /// Gives the note of a typed cell another text.
    pub fn note(&mut self, cell: CellId, reading: Reading, note: &str) {
        if let Some(seen) = self.typed.get_mut(&(cell, reading)) {
            note.clone_into(&mut seen.note);
        }
    }

    /// The kernels of each category in some cells.
    fn sums(&self, project: &Project, cells: &[&Cell], reading: Reading) -> [u32; 6] {
        let mut sums = [0; 6];
        for cell in cells {
            if let Some(tally) = self.known(project, cell.id, reading).tally() {
                for category in Category::ALL {
                    sums[category as usize] += u32::from(tally.of(category));
                }
            }
        }
        sums
    }

    /// The form of a row's total: as many kernels as lie in the cells that are not blank on the sheet.
    fn total_form(&self, project: &Project, cells: &[&Cell], reading: Reading) -> Form {
        let is_there = |cell: &&&Cell| self.known(project, cell.id, reading).tally().is_some();
        let kernels = cells.iter().filter(is_there).map(|cell| project.sown(cell));
        let kernels = kernels.fold(0_u16, u16::saturating_add);
        Form::total(&project.about.scheme, reading.pass, kernels)
    }
}

/// Says how many cells are typed and not stored, if any.
fn unstored(cells: usize) -> Option<(Tone, String)> {
    let text = format!(
        "{} typed and not stored, as the row was not finished; what was typed is still in the boxes, and Enter records it one by one.",
        plural(cells, "cell")
    );
    (cells > 0).then_some((Tone::Warning, text))
}

/// The cells of the row of a cell that are counted, as the sheet prints them.
fn row_of<'a>(project: &'a Project, cell: &Cell) -> Vec<&'a Cell> {
    project
        .cells_of(cell.tray)
        .filter(|other| other.row == cell.row && other.content.is_counted())
        .collect()
}

/// Names the categories in which the cells of a row and its total differ.
fn apart(form: &Form, sums: &[u32; 6], total: &Look<'_>) -> Vec<Category> {
    let differs = |category: &Category| {
        let told = total.value(*category).unwrap_or(0);
        sums[*category as usize] != u32::from(told)
    };
    form.categories().filter(differs).collect()
}

impl Scoring {
    // ---- the head of the sheet ---------------------------------------------------------------------------

    /// Asks for what stands at the head of the sheet of the current tray.
    pub(super) fn ask_sheet(&mut self, ctx: &PaneCtx<'_>, test: &Test, reading: Reading, cell: &Cell) {
        if !self.may_change(ctx) {
            return;
        }
        let passes = Self::passes(ctx, test, reading);
        let chosen = passes.iter().position(|pass| *pass == reading.pass).unwrap_or(0);
        let (on, by) = match &self.sheet {
            Some(sheet) => (sheet.on.to_string(), sheet.by.clone()),
            None => (String::new(), String::new()),
        };
        self.sheet_dialog = Some(SheetDialog {
            tray: cell.tray,
            passes,
            chosen,
            on,
            by,
            is_new: true,
        });
    }

    /// Another tray has another sheet, and another test ends the paper way.
    pub(super) fn follow_sheet(&mut self, ctx: &PaneCtx<'_>, test: &Test, reading: Reading, cell: &Cell) {
        let Some(sheet) = &self.sheet else { return };
        let tray = ctx.document.project().trays.get(sheet.tray);
        if tray.map(|tray| tray.test) != Some(test.id) {
            self.message = unstored(sheet.typed.len());
            (self.sheet, self.sheet_dialog, self.asking) = (None, None, None);
        } else if sheet.tray != cell.tray && self.sheet_dialog.is_none() {
            self.ask_sheet(ctx, test, reading, cell);
        }
    }

    pub(super) fn sheet_dialog_ui(&mut self, ui: &Ui, ctx: &PaneCtx<'_>, test: &Test, walk: &Walk) {
        let Some(dialog) = &mut self.sheet_dialog else {
            return;
        };
        let project = ctx.document.project();
        let number = project.trays.get(dialog.tray).map_or(0, |tray| tray.number);
        let title = format!("Type the score sheet of tray {number}");
        let read = dialog.read(project, ctx.today);
        let answer = Dialog::new(Id::unique("score sheet"), &title)
            .confirm("Type this sheet")
            .can_confirm(read.is_ok())
            .body_takes_focus()
            .show(ui.ctx(), |ui| dialog.body(ui, test, &read));
        let Some(answer) = answer else { return };
        let Some(dialog) = self.sheet_dialog.take() else {
            return;
        };
        if let (DialogAnswer::Confirm, Ok((on, _))) = (answer, read) {
            return self.begin_sheet(project, &dialog, on);
        }
        // Escape leads back to what was typed and not stored, if there is any.
        let kept = self
            .sheet
            .as_ref()
            .and_then(|sheet| sheet.typed.keys().next_back());
        if let Some((cell, _)) = kept.copied()
            && self.tray(project) != project.cells.get(cell).map(|cell| cell.tray)
        {
            return self.to(cell);
        }
        if self.sheet.as_ref().is_some_and(|sheet| sheet.tray != dialog.tray) {
            self.stop_sheet(project, walk);
        }
    }

    fn begin_sheet(&mut self, project: &Project, dialog: &SheetDialog, on: Date) {
        let before = self.sheet.take();
        let (typed, blank, totals) =
            before.map_or_else(Default::default, |sheet| (sheet.typed, sheet.blank, sheet.totals));
        self.pass = Some(dialog.passes[dialog.chosen]);
        let reading = self.reading_in(Some(dialog.tray));
        let sheet = Sheet {
            tray: dialog.tray,
            on,
            by: dialog.by.trim().to_owned(),
            typed,
            blank,
            totals,
        };
        let mut counted = project
            .cells_of(dialog.tray)
            .filter(|cell| cell.content.is_counted());
        let open = counted.find(|cell| sheet.is_open(project, cell.id, reading));
        let first = open.map(|cell| cell.id);
        self.sheet = Some(sheet);
        if let Some(cell) = first {
            self.to(cell);
        }
        let text = "Type row by row as it stands on the sheet, and at the end of a row its total. N passes over a cell that is blank on the sheet.";
        self.message = Some((Tone::Well, text.to_owned()));
    }

    /// Ends the paper way. What was typed and not stored stays in the boxes of its cells.
    pub(super) fn stop_sheet(&mut self, project: &Project, walk: &Walk) {
        let Some(sheet) = self.sheet.take() else { return };
        self.asking = None;
        self.message = unstored(sheet.typed.len());
        if let Some(((cell, _), _)) = sheet.typed.first_key_value() {
            self.to(*cell);
        } else if self.cell.is_none() {
            self.land(project, walk);
        }
    }

    /// Says which sheet is being typed.
    pub(super) fn sheet_bar(
        &mut self,
        ui: &mut Ui,
        ctx: &PaneCtx<'_>,
        test: &Test,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
    ) {
        let Some(sheet) = &self.sheet else { return };
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let number = project.trays.get(sheet.tray).map_or(0, |tray| tray.number);
        let by = if sheet.by.is_empty() {
            String::new()
        } else {
            format!(" by {}", sheet.by)
        };
        let text = format!(
            "Score sheet of tray {number}, {}{by}: a row is stored once its total agrees.",
            sheet.on
        );
        ui.horizontal_wrapped(|ui| {
            ui.add_space(3.0);
            ui.label(RichText::new(text).font(t.strong_font()));
            if ui.button("Head of the sheet…").clicked() {
                self.ask_sheet(ctx, test, reading, cell);
            }
            if ui
                .button("Stop")
                .accessible_name("Stop typing the sheet")
                .clicked()
            {
                self.stop_sheet(project, walk);
            }
        });
    }

    /// The day of the counts, where it is not that of the counting, and how old the kernels were on it.
    pub(super) fn age_remark(&self, ctx: &PaneCtx<'_>, reading: Reading, cell: &Cell) -> Option<String> {
        let (whose, on) = match &self.sheet {
            Some(sheet) => ("The day of the sheet is", sheet.on),
            None => ("Today is", ctx.today),
        };
        let remark = age(ctx.document.project(), cell, reading.pass, on).and_then(Age::remark)?;
        Some(format!(
            "⚠ {whose} {remark} of the {} count (common practice, no source).",
            reading.pass
        ))
    }

    // ---- cells -------------------------------------------------------------------------------------------

    /// Keeps a cell until its row is complete.
    pub(super) fn type_in(
        &mut self,
        ctx: &PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        seen: Seen,
    ) {
        let project = ctx.document.project();
        let form = Self::form(project, cell, reading);
        let Some(entry) = self.entries.get(&(cell.id, reading)).cloned() else {
            return;
        };
        let pattern = entry.look(&form).pattern();
        let text = format!("Typed {}: {}.", cell.name(), seen_text(&seen, &form));
        self.message = Some((Tone::Well, text));
        self.pace.note(ctx.now);
        if let Some(sheet) = &mut self.sheet {
            sheet.reopen(cell.id, reading);
            sheet.typed.insert((cell.id, reading), seen);
        }
        self.go_on_in_row(project, walk, reading, cell);
        self.last = Some(Recorded {
            cell: cell.id,
            reading,
            entry,
            pattern,
            next: self.cell.unwrap_or(cell.id),
        });
    }

    /// Passes over a cell that is blank on the sheet.
    pub(super) fn leave_blank(&mut self, project: &Project, walk: &Walk, reading: Reading) {
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        if self.entries.contains_key(&(cell.id, reading)) {
            let text = format!(
                "{} is typed. Delete empties it, if it is blank on the sheet.",
                cell.name()
            );
            self.message = Some((Tone::Warning, text));
            return;
        }
        self.message = None;
        if cell.content.is_counted()
            && let Some(sheet) = &mut self.sheet
        {
            sheet.blank.insert((cell.id, reading));
            let text = format!("{} is left without a count.", cell.name());
            self.message = Some((Tone::Well, text));
        }
        self.go_on_in_row(project, walk, reading, cell);
    }

    /// Empties a cell that is typed and not stored; says whether there was one.
    pub(super) fn empty_typed(&mut self, project: &Project, reading: Reading) -> bool {
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return false;
        };
        let key = (cell.id, reading);
        let Some(sheet) = &mut self.sheet else {
            return false;
        };
        if self.entries.remove(&key).is_none() && !sheet.blank.contains(&key) {
            return false;
        }
        sheet.reopen(cell.id, reading);
        self.notes.remove(&key);
        self.asking = None;
        let text = format!("{} is empty again.", cell.name());
        self.message = Some((Tone::Well, text));
        true
    }

    /// Goes to the next cell of the row that is not typed, and once there is none asks for the row's total.
    fn go_on_in_row(&mut self, project: &Project, walk: &Walk, reading: Reading, cell: &Cell) {
        let Some(sheet) = &self.sheet else { return };
        let row = row_of(project, cell);
        let is_open = |other: &&&Cell| sheet.is_open(project, other.id, reading);
        let behind = row
            .iter()
            .find(|other| other.column > cell.column && is_open(other));
        if let Some(next) = behind.or_else(|| row.iter().find(is_open)) {
            return self.to(next.id);
        }
        let is_new = row.iter().any(|other| sheet.is_typed(other.id, reading));
        let Some(last) = row.last().filter(|_| is_new) else {
            return self.next_row(project, walk, reading, cell);
        };
        self.to(last.id);
        self.asking = Some((last.id, Asking::Total));
    }

    // ---- totals ------------------------------------------------------------------------------------------

    /// The total of the row in hand: its form, and what is typed of it.
    pub(super) fn total_in_hand(
        &self,
        project: &Project,
        cell: &Cell,
        reading: Reading,
    ) -> Option<(Form, Entry)> {
        let (id, asking) = self.asking.as_ref()?;
        if *id != cell.id || !matches!(asking, Asking::Total | Asking::Apart { .. }) {
            return None;
        }
        let sheet = self.sheet.as_ref()?;
        let form = sheet.total_form(project, &row_of(project, cell), reading);
        let entry = sheet.totals.get(&(cell.tray, cell.row, reading));
        Some((form, entry.cloned().unwrap_or_default()))
    }

    /// Takes a key into the total of a row; says whether it was one for it.
    pub(super) fn total_key(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        pressed: Pressed,
    ) -> bool {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return false;
        };
        if !matches!(self.asking, Some((id, Asking::Total)) if id == cell.id) {
            return false;
        }
        let stroke = match pressed {
            Pressed::Sign(digit @ '0'..='9') => Stroke::Digit(digit as u8 - b'0'),
            Pressed::Sign('+' | ' ') | Pressed::Key(Key::Tab, false) => Stroke::Next,
            Pressed::Key(Key::Tab, true) => Stroke::Before,
            Pressed::Key(Key::Enter, _) => Stroke::Enter,
            Pressed::Sign('-') | Pressed::Key(Key::Backspace, _) => {
                self.message = None;
                if !self.take_back_of_total(cell, reading) {
                    self.asking = None;
                    self.take_back(project, walk, reading);
                }
                return true;
            }
            // Away from here, or to say that there is no total.
            Pressed::Key(..) | Pressed::Sign('/' | 'g' | 'G') => return false,
            Pressed::Sign(_) => {
                let text = "Type the total as it stands on the sheet; / if there is none.";
                self.message = Some((Tone::Warning, text.to_owned()));
                return true;
            }
        };
        self.total_stroke(ctx, walk, reading, cell, stroke);
        true
    }

    /// Takes back the last key of a total; says whether there was one.
    pub(super) fn take_back_of_total(&mut self, cell: &Cell, reading: Reading) -> bool {
        let key = (cell.tray, cell.row, reading);
        let Some(sheet) = &mut self.sheet else {
            return false;
        };
        let was = sheet.totals.get_mut(&key).is_some_and(Entry::take_back);
        sheet.totals.retain(|_, total| !total.is_empty());
        was
    }

    /// Forgets a total, so that it is typed again.
    pub(super) fn empty_total(&mut self, cell: &Cell, reading: Reading) {
        if let Some(sheet) = &mut self.sheet {
            sheet.totals.remove(&(cell.tray, cell.row, reading));
        }
        self.asking = Some((cell.id, Asking::Total));
    }

    pub(super) fn total_stroke(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        stroke: Stroke,
    ) {
        let project = ctx.document.project();
        let row = row_of(project, cell);
        let Some(sheet) = &mut self.sheet else { return };
        let form = sheet.total_form(project, &row, reading);
        let total = sheet.totals.entry((cell.tray, cell.row, reading)).or_default();
        self.message = None;
        let outcome = total.press(stroke, &form);
        if outcome == Outcome::Record && stroke == Stroke::Enter {
            // The key that compares is no part of the total: taking back begins with its figures.
            total.take_back();
        }
        match outcome {
            Outcome::Taken => {}
            Outcome::Refused(Refusal::Nothing) => {
                let text = "Type the total as it stands on the sheet; / if there is none.";
                self.message = Some((Tone::Warning, text.to_owned()));
            }
            Outcome::Refused(_) | Outcome::Record => self.compare_total(ctx, walk, reading, cell),
        }
        if let Some(sheet) = &mut self.sheet {
            sheet.totals.retain(|_, total| !total.is_empty());
        }
    }

    /// Compares the cells of a row with its total: stores the row if they agree, else says where they do not.
    pub(super) fn compare_total(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
    ) {
        let project = ctx.document.project();
        if self.told_apart(project, reading, cell).is_none() {
            return self.store_row(ctx, walk, reading, cell, "");
        }
        let reason = String::new();
        self.asking = Some((cell.id, Asking::Apart { reason }));
    }

    /// Says where the cells of a row and its total differ; none where they agree.
    pub(super) fn told_apart(&self, project: &Project, reading: Reading, cell: &Cell) -> Option<String> {
        let sheet = self.sheet.as_ref()?;
        let row = row_of(project, cell);
        let letters = row_letters(cell.row);
        let Some(total) = sheet.totals.get(&(cell.tray, cell.row, reading)) else {
            return Some(format!("Row {letters} has no total on the sheet"));
        };
        let form = sheet.total_form(project, &row, reading);
        let look = total.look(&form);
        let sums = sheet.sums(project, &row, reading);
        let parts: Vec<String> = apart(&form, &sums, &look)
            .into_iter()
            .map(|category| {
                format!(
                    "{} {}, total {}",
                    form.category_name(category),
                    sums[category as usize],
                    look.value(category).unwrap_or(0)
                )
            })
            .collect();
        (!parts.is_empty()).then(|| format!("Row {letters} does not agree: {}", parts.join("; ")))
    }

    /// Stores a row in one step, with the day and the scorer of the sheet.
    pub(super) fn store_row(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        why: &str,
    ) {
        let project = ctx.document.project();
        let apart = self.told_apart(project, reading, cell);
        let Some(sheet) = &self.sheet else { return };
        let row = row_of(project, cell);
        let typed: Vec<Seen> = row
            .iter()
            .filter_map(|cell| sheet.typed.get(&(cell.id, reading)))
            .cloned()
            .collect();
        let keys = typed.iter().map(|seen| (seen.cell, reading)).collect();
        let overruled = apart.map_or_else(String::new, |apart| format!("{apart}: {why}"));
        let counts = typed.into_iter().map(|seen| {
            let reasons = [seen.overruled.as_str(), overruled.as_str()];
            let reasons: Vec<&str> = reasons.into_iter().filter(|reason| !reason.is_empty()).collect();
            let seen = Seen {
                overruled: reasons.join("; "),
                ..seen
            };
            Taken {
                on: Some(sheet.on),
                by: sheet.by.clone(),
                ..Taken::new(seen)
            }
        });
        let number = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
        let label = format!("Type row {} of tray {number}", row_letters(cell.row));
        let counts = counts.collect();
        ctx.act(Action::CloseStep);
        let ticket = ctx.run_for(Command::TakeCounts { counts, label });
        self.rows.push(PendingRow {
            ticket,
            tray: cell.tray,
            row: cell.row,
            last: cell.id,
            reading,
            keys,
        });
        let text = format!("Row {} is stored.", row_letters(cell.row));
        self.message = Some((Tone::Well, text));
        self.asking = None;
        self.next_row(project, walk, reading, cell);
    }

    /// Takes the outcomes of storing rows. A row that was refused is open again with all that was typed.
    pub(super) fn follow_rows(&mut self, ctx: &PaneCtx<'_>) {
        for row in std::mem::take(&mut self.rows) {
            match ctx.outcome(row.ticket) {
                None => self.rows.push(row),
                Some(Ok(_)) => {
                    for key in &row.keys {
                        self.entries.remove(key);
                        self.notes.remove(key);
                        if let Some(sheet) = &mut self.sheet {
                            sheet.typed.remove(key);
                        }
                    }
                    if let Some(sheet) = &mut self.sheet {
                        sheet.totals.remove(&(row.tray, row.row, row.reading));
                    }
                }
                Some(Err(problem)) => {
                    self.to(row.last);
                    let text = format!(
                        "Row {} was not stored. {}",
                        row_letters(row.row),
                        sentence(&problem.to_string())
                    );
                    self.message = Some((Tone::Error, text));
                }
            }
        }
    }

    /// Goes on with the next row of the sheet in which a cell is open, and says so at the end of a tray.
    fn next_row(&mut self, project: &Project, walk: &Walk, reading: Reading, cell: &Cell) {
        let Some(sheet) = &self.sheet else { return };
        let is_open = |id: CellId| sheet.is_open(project, id, reading);
        let last = row_of(project, cell).last().map_or(cell.id, |last| last.id);
        let next = walk.find_after(last, |stop| !stop.is_landmark && is_open(stop.cell));
        let record = next.and_then(|next| project.cells.get(next));
        if record.map(|next| next.tray) == Some(cell.tray) {
            return self.to(next.unwrap_or(last));
        }
        let number = |tray: TrayId| project.trays.get(tray).map_or(0, |tray| tray.number);
        let cells: Vec<&Cell> = project
            .cells_of(cell.tray)
            .filter(|cell| cell.content.is_counted())
            .collect();
        let missing: Vec<String> = cells
            .iter()
            .filter(|cell| sheet.known(project, cell.id, reading).tally().is_none())
            .map(|cell| cell.name())
            .collect();
        let missing = if missing.is_empty() {
            String::new()
        } else {
            format!(" Without a count: {}.", missing.join(", "))
        };
        let form = Form::total(&project.about.scheme, reading.pass, 0);
        let sums = sheet.sums(project, &cells, reading);
        let sums: Vec<String> = form
            .categories()
            .map(|category| format!("{} {}", sums[category as usize], form.category_name(category)))
            .collect();
        let then = record.map_or_else(
            || "There is no other sheet to type.".to_owned(),
            |next| format!("Take the sheet of tray {}.", number(next.tray)),
        );
        let text = format!(
            "Tray {} is typed: {}; compare the last line of the sheet.{missing} {then}",
            number(cell.tray),
            sums.join(", ")
        );
        self.message = Some((Tone::Well, text));
        if let Some(next) = next {
            self.to(next);
        }
    }

    // ---- drawing -----------------------------------------------------------------------------------------

    /// Draws the row in hand in place of the tray, with the keys of the tray.
    pub(super) fn low_sheet_ui(&mut self, ui: &mut Ui, project: &Project, reading: Reading, cell: &Cell) {
        let keys = ui.interact(ui.max_rect(), keyboard(), Sense::click());
        let place = cell.name();
        keys.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::Grid, true, "Cells of the sheet");
            info.current_text_value = Some(place.clone());
            info
        });
        ScrollArea::vertical()
            .id_salt("low sheet")
            .auto_shrink(false)
            .show(ui, |ui| self.row_ui(ui, project, reading, cell));
        self.revealed = Some(cell.id);
    }

    /// Draws the row in hand as it stands on the sheet, with its sum and its total. A low window has no room for a line
    /// for each cell: there each cell has a column.
    pub(super) fn row_ui(&self, ui: &mut Ui, project: &Project, reading: Reading, cell: &Cell) {
        let Some(sheet) = &self.sheet else { return };
        let t = Tokens::of(ui);
        let row = row_of(project, cell);
        let is_low = strip::is_low(ui);
        let number = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
        let title = format!("Tray {number}, row {} on the sheet", row_letters(cell.row));
        let font = if is_low { t.strong_font() } else { t.heading_font() };
        ui.label(RichText::new(title).font(font));
        let lines = self.lines(project, sheet, &row, reading, cell, t);
        let width = lines.first().map_or(0, Vec::len);
        let at = |line: usize, place: usize| lines.get(line).and_then(|line| line.get(place));
        let (down, across) = if is_low {
            (width, lines.len())
        } else {
            (lines.len(), width)
        };
        let grid = Grid::new("row of the sheet")
            .striped(!is_low)
            .min_row_height(if is_low { 14.0 } else { 24.0 })
            .spacing([if is_low { 14.0 } else { 9.0 }, 1.0]);
        ScrollArea::horizontal()
            .id_salt("row of the sheet")
            .show(ui, |ui| {
                grid.show(ui, |ui| {
                    for y in 0..down {
                        for x in 0..across {
                            let part = if is_low { at(x, y) } else { at(y, x) };
                            let Some(part) = part else { continue };
                            let label = ui.label(part.text.clone());
                            if part.is_current && self.revealed != Some(cell.id) {
                                label.scroll_to_me(None);
                            }
                        }
                        ui.end_row();
                    }
                });
            });
    }

    /// The lines of the row in hand: a head, each cell, the sum, the total.
    fn lines(
        &self,
        project: &Project,
        sheet: &Sheet,
        row: &[&Cell],
        reading: Reading,
        cell: &Cell,
        t: &Tokens,
    ) -> Vec<Vec<Part>> {
        let form = sheet.total_form(project, row, reading);
        let sums = sheet.sums(project, row, reading);
        let total = sheet.totals.get(&(cell.tray, cell.row, reading));
        let look = total.map(|total| total.look(&form));
        let wrong = match (&look, &self.asking) {
            (Some(look), Some((_, Asking::Apart { .. }))) => apart(&form, &sums, look),
            _ => Vec::new(),
        };
        let small = |text: &str| Part::of(RichText::new(text).font(t.small_font()));
        let strong = |text: String| Part::of(RichText::new(text).font(t.strong_font()));
        let vigor = form.is_final();
        let mut head = vec![small("cell")];
        head.extend(
            form.categories()
                .map(|category| small(form.category_name(category))),
        );
        head.extend(vigor.then(|| small("vigor")));
        let mut lines = vec![head];
        for other in row {
            lines.push(cell_parts(
                project,
                (sheet, &form),
                reading,
                other,
                (other.id == cell.id, self.blind, t),
            ));
        }
        let mut sum = vec![strong("sum".to_owned())];
        sum.extend(
            form.categories()
                .map(|category| strong(sums[category as usize].to_string())),
        );
        let mut told = vec![strong("total".to_owned())];
        told.extend(form.categories().map(|category| {
            let value = look.as_ref().and_then(|look| look.value(category));
            let text = value.map_or_else(|| "–".to_owned(), |value| value.to_string());
            if wrong.contains(&category) {
                let text = RichText::new(format!("⚠ {text}")).font(t.strong_font());
                Part::of(text.color(t.bad))
            } else {
                strong(text)
            }
        }));
        for line in [&mut sum, &mut told] {
            line.extend(vigor.then(|| small("")));
        }
        lines.extend([sum, told]);
        lines
    }
}

/// A figure of the row in hand.
struct Part {
    text: RichText,
    is_current: bool,
}

impl Part {
    fn of(text: RichText) -> Self {
        Self {
            text,
            is_current: false,
        }
    }
}

fn cell_parts(
    project: &Project,
    (sheet, form): (&Sheet, &Form),
    reading: Reading,
    cell: &Cell,
    (is_current, is_blind, t): (bool, bool, &Tokens),
) -> Vec<Part> {
    let known = sheet.known(project, cell.id, reading);
    let sign = if is_current { "▶ " } else { "" };
    let name = RichText::new(format!("{sign}{}", cell.name())).font(t.strong_font());
    let mut parts = vec![Part {
        text: name,
        is_current,
    }];
    let colour = if matches!(known, Known::Stored(..)) {
        t.quiet
    } else {
        t.text
    };
    let write = |text: String| Part::of(RichText::new(text).color(colour));
    if is_blind && matches!(known, Known::Stored(..)) {
        // What was counted before is hidden from a blind scorer.
        let hidden = form.slots().iter().enumerate();
        let word = |at: usize| if at == 0 { "done" } else { "" };
        parts.extend(hidden.map(|(at, _)| write(word(at).to_owned())));
        parts.extend(form.is_final().then(|| write(String::new())));
        return parts;
    }
    for (at, category) in form.categories().enumerate() {
        parts.push(match known.tally() {
            Some(tally) => write(tally.of(category).to_string()),
            None if at == 0 && matches!(known, Known::Blank) => write("blank".to_owned()),
            None => write(String::new()),
        });
    }
    let vigor = match known {
        Known::Typed(seen) => seen.vigor,
        Known::Stored(_, vigor) => vigor,
        Known::Blank | Known::Open => None,
    };
    if form.is_final() {
        parts.push(write(vigor.map_or_else(String::new, |vigor| vigor.to_string())));
    }
    parts
}

impl SheetDialog {
    /// Gives the day of the sheet, with how old the kernels were then where that is outside of the days of the pass.
    fn read(&self, project: &Project, today: Date) -> Result<(Date, Option<String>), String> {
        if self.on.trim().is_empty() {
            return Err("Type the day that stands on the sheet, such as 2026-02-14.".to_owned());
        }
        let on = read_date(&self.on, DateOrder::Unknown).map_err(|fault| sentence(&fault.to_string()))?;
        if on > today {
            return Err(format!(
                "{on} is still to come; type the day that stands on the sheet."
            ));
        }
        let counted = |cell: &&Cell| cell.content.is_counted();
        let cell = project.cells_of(self.tray).find(counted);
        let laid = cell.and_then(|cell| project.laid_on(cell));
        if let Some(laid) = laid.filter(|laid| on < *laid) {
            return Err(format!(
                "On {on} the tray was not laid yet; it was laid on {laid}. Type the day that stands on the sheet."
            ));
        }
        let pass = self.passes[self.chosen];
        let age = cell.and_then(|cell| age(project, cell, pass, on));
        Ok((on, age.and_then(Age::remark)))
    }

    fn body(&mut self, ui: &mut Ui, test: &Test, read: &Result<(Date, Option<String>), String>) {
        let t = Tokens::of(ui);
        ui.label("Type what stands at the head of the sheet. It is kept with each count of the sheet.");
        ui.add_space(t.space.small);
        let names: Vec<String> = self.passes.iter().map(|pass| pass_name(*pass, test)).collect();
        if let Some(new) = choice(ui, "score sheet pass", &names, self.chosen) {
            self.chosen = new;
        }
        ui.add_space(t.space.small);
        for (word, text, hint) in [
            ("Day", &mut self.on, "2026-02-14"),
            ("Scorer", &mut self.by, "name or initials"),
        ] {
            ui.horizontal(|ui| {
                let label = ui.label(word);
                let edit = TextEdit::singleline(text).hint_text(hint).desired_width(180.0);
                let field = ui.add(edit).labelled_by(label.id);
                if word == "Day" && std::mem::take(&mut self.is_new) {
                    field.request_focus();
                }
            });
        }
        ui.add_space(t.space.small);
        let (said, colour) = match read {
            Err(problem) => (format!("⚠ {problem}"), t.warn),
            Ok((_, Some(remark))) => (
                format!("⚠ That is {remark} of this count (common practice, no source)."),
                t.warn,
            ),
            Ok((_, None)) => (String::new(), t.text),
        };
        // As high with words as without, so that the buttons stay where they are.
        let top = ui.cursor().top();
        let label = ui.label(RichText::new(&said).color(colour));
        label.widget_info(|| WidgetInfo::labeled(Role::Status, true, &said));
        ui.add_space((40.0 - (ui.cursor().top() - top)).max(0.0));
    }
}
