//! The line above the tray: what is counted, in which tray, how far.

use super::scheme::SchemeDialog;
use super::strip;
use super::walk::Walk;
use super::{Scoring, go_to_field, keyboard, stays_in_tray};
use crate::insight::Reading;
use crate::model::{Cell, Pass, Place, Test, TestId, TrayId, capital, sentence};
use crate::ui::agreement;
use crate::ui::context::{Action, PaneCtx};
use crate::ui::panes::repair::RepairDialog;
use crate::ui::panes::table_preview;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::segmented::segmented;
use egui::{
    Button, ComboBox, Id, Key, Label, RichText, Role, ScrollArea, TextEdit, TextWrapMode, Ui, WidgetInfo,
};

impl Scoring {
    pub(super) fn head_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        walk: &Walk,
        reading: Reading,
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
                    self.asking = None;
                    changed = true;
                }
            }
            changed |= self.pass_ui(ui, ctx, test, reading);
            self.ways_ui(ui);
            let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
            if ui.button("◀").accessible_name("Previous tray").clicked() {
                self.turn_tray(project, walk, false);
                changed = true;
            }
            let trays = walk.trays();
            ui.label(RichText::new(format!("Tray {tray} of {trays}")).font(t.strong_font()));
            if ui.button("▶").accessible_name("Next tray").clicked() {
                self.turn_tray(project, walk, true);
                changed = true;
            }
            changed |= self.go_to_ui(ui, ctx, test);
            let repair = ui.add_enabled(!self.blind, Button::new("Repair…"));
            let hint = "Shift a row by one, swap cells or trays, turn a tray: what was laid or read in the wrong place";
            if repair.on_hover_text(hint).clicked() {
                self.repair = Some(RepairDialog::at(project, test.id, cell, reading.pass));
            }
            ui.menu_button("Options", |ui| self.options_ui(ui, ctx, test, reading, cell));
            if self.sheet.is_none() || !strip::is_low(ui) {
                progress_ui(ui, ctx, test, reading, cell);
            }
        });
        ui.add_space(3.0);
        if ctx.insight.laying(ctx.document, test.id).laid == 0 {
            ui.horizontal_wrapped(|ui| {
                ui.add_space(3.0);
                let text = "⚠ This test is not noted as laid, so its kernels are still in their packets.";
                ui.label(RichText::new(text).color(t.warn));
                if ui.button("Go to Trays").clicked() {
                    ctx.act(Action::Go(Place::Test(test.id)));
                }
            });
        }
        self.sheet_bar(ui, ctx, test, walk, reading, cell);
        if let Some(text) = self.age_remark(ctx, reading, cell) {
            ui.horizontal_wrapped(|ui| {
                ui.add_space(3.0);
                ui.label(RichText::new(text).color(t.warn));
            });
        }
        let is_field = ui.memory(|m| m.has_focus(go_to_field()));
        if changed && !is_field && (by_pointer || ui.input(|i| i.key_pressed(Key::Enter))) {
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
    }

    fn options_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, reading: Reading, cell: &Cell) {
        let project = ctx.document.project();
        let hint = "Hides ears, mother rows and what was counted before, so that nothing sways the eye";
        if ui
            .checkbox(&mut self.blind, "Blind")
            .on_hover_text(hint)
            .changed()
        {
            self.asking = None;
        }
        let hint =
            "Counts again what is counted already; the first scorer's counts stay, and both are compared";
        if ui
            .checkbox(&mut self.second, "Second scorer")
            .on_hover_text(hint)
            .changed()
        {
            // A second reading is worth most when the first one is not known.
            self.blind = self.second;
            (self.asking, self.message, self.cell) = (None, None, None);
        }
        ui.separator();
        let hint =
            "Between the early and the final count, most often of one tray, to learn how fast kernels emerge";
        if ui.button("Count on another day…").on_hover_text(hint).clicked() {
            let laid = project.laid_on(cell).or(test.laid);
            let days = laid.map(|laid| (ctx.today - laid).get_days());
            let day = days.and_then(|days| u16::try_from(days).ok());
            self.between = Some(day.unwrap_or(1).min(MOST_DAYS));
            ui.close();
        }
        let hint =
            "The paper way: type a printed score sheet row by row, with the totals of its rows checked";
        if ui.button("Type a score sheet…").on_hover_text(hint).clicked() {
            self.ask_sheet(ctx, test, reading, cell);
            ui.close();
        }
        let hint = "Reads counts from a CSV file and shows them before anything is taken";
        let table = ui.add_enabled(
            ctx.read_only.is_none() && !self.blind,
            Button::new("Import counts…"),
        );
        let blind = || "A table tells what was counted before; switch blind off first.".to_owned();
        let why_not = ctx.read_only.map_or_else(blind, sentence);
        if table
            .on_hover_text(hint)
            .on_disabled_hover_text(&why_not)
            .clicked()
        {
            let endings = &table_preview::ENDINGS;
            self.opening = Some(ctx.open_file("Import counts from a file", endings));
            ui.close();
        }
        let is_read_twice = ctx
            .insight
            .agreement(ctx.document, test.id, reading.pass)
            .is_some();
        let agreement = ui.add_enabled(
            is_read_twice && !self.blind,
            Button::new("Agreement of two scorers…"),
        );
        let hint = "How well they agree in the cells that both have counted in this pass";
        if agreement
            .on_hover_text(hint)
            .on_disabled_hover_text(hint)
            .clicked()
        {
            self.shows_agreement = true;
            ui.close();
        }
        let categories = ui.add_enabled(ctx.read_only.is_none(), Button::new("Categories…"));
        if categories
            .on_hover_text("Which categories are counted, and in which order they are typed")
            .on_disabled_hover_text(why_not)
            .clicked()
        {
            self.scheme = Some(SchemeDialog::new(&project.about.scheme));
            ui.close();
        }
    }

    /// The cells that are left in this tray and in all trays.
    pub(super) fn left(ctx: &PaneCtx<'_>, test: TestId, reading: Reading, tray: TrayId) -> (usize, usize) {
        let progress = ctx.insight.progress(ctx.document, test);
        let tray = progress.of(tray);
        let here = tray.map_or(0, |tray| tray.cells.saturating_sub(tray.counted_in(reading)));
        if stays_in_tray(reading) {
            return (here, here);
        }
        (here, progress.cells.saturating_sub(progress.counted_in(reading)))
    }

    /// Says in which way is counted, where it is not the usual one.
    fn ways_ui(&self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let ways = [(self.second, "second scorer"), (self.blind, "blind")];
        let ways: Vec<&str> = ways
            .into_iter()
            .filter(|(is_on, _)| *is_on)
            .map(|(_, name)| name)
            .collect();
        if !ways.is_empty() {
            let text = capital(&ways.join(", "));
            ui.label(RichText::new(text).font(t.strong_font()).color(t.warn));
        }
    }

    /// Shows how well the two scorers agree.
    pub(super) fn agreement_ui(&mut self, ui: &Ui, ctx: &PaneCtx<'_>, test: &Test, reading: Reading) {
        if !self.shows_agreement {
            return;
        }
        let found = ctx.insight.agreement(ctx.document, test.id, reading.pass);
        let title = format!("Agreement of two scorers, {} count", reading.pass);
        let answer = Dialog::new(Id::unique("scoring agreement"), &title)
            .confirm("Close")
            .one_button()
            .show(ui.ctx(), |ui| {
                let height = (ui.ctx().content_rect().height() - 220.0).clamp(160.0, 560.0);
                ScrollArea::vertical()
                    .id_salt("agreement")
                    .max_height(height)
                    .show(ui, |ui| {
                        if let Some(found) = found.as_ref() {
                            agreement::show(ui, ctx.document.project(), found);
                        }
                    });
            });
        self.shows_agreement = answer.is_none();
    }

    /// Asks for the day of a count between the early and the final one.
    pub(super) fn between_ui(&mut self, ui: &Ui, test: &Test) {
        let Some(mut day) = self.between else { return };
        let answer = Dialog::new(Id::unique("scoring between"), "Count on another day")
            .confirm("Begin this count")
            .show(ui.ctx(), |ui| {
                ui.label("Only the emerged kernels are counted. Take one tray, each day at the same hour, to learn how fast kernels emerge.");
                let field = NumberField::new(Id::unique("scoring between day"), "Day since laying");
                if let Some(new) = field.range(1.0..=f64::from(MOST_DAYS)).show(ui, f64::from(day)) {
                    day = new as u16;
                }
            });
        self.between = Some(day).filter(|_| answer.is_none());
        if answer == Some(DialogAnswer::Confirm) {
            // The days of the recipe have their own passes.
            self.pass = Some(match day {
                day if Some(day) == test.recipe.early_day => Pass::Early,
                day if day == test.recipe.final_day => Pass::Final,
                day => Pass::Between(day),
            });
            (self.asking, self.message) = (None, None);
        }
    }

    /// The passes of a test: the early and the final one, and the days between on which anything was counted.
    pub(super) fn passes(ctx: &PaneCtx<'_>, test: &Test, reading: Reading) -> Vec<Pass> {
        let mut days = ctx.insight.progress(ctx.document, test.id).days_between();
        if let Pass::Between(day) = reading.pass
            && !days.contains(&day)
        {
            days.push(day);
            days.sort_unstable();
        }
        let between = days.into_iter().map(Pass::Between);
        [Pass::Early]
            .into_iter()
            .chain(between)
            .chain([Pass::Final])
            .collect()
    }

    fn pass_ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, test: &Test, reading: Reading) -> bool {
        let passes = Self::passes(ctx, test, reading);
        let names: Vec<String> = passes.iter().map(|pass| pass_name(*pass, test)).collect();
        let chosen = passes.iter().position(|pass| *pass == reading.pass).unwrap_or(0);
        let Some(new) = choice(ui, "scoring pass", &names, chosen) else {
            return false;
        };
        self.pass = Some(passes[new]);
        (self.asking, self.message) = (None, None);
        true
    }

    fn go_to_ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, test: &Test) -> bool {
        let edit = TextEdit::singleline(&mut self.go_to)
            .id(go_to_field())
            .hint_text("Go to 3 B4")
            .desired_width(112.0);
        let field = ui.add(edit).accessible_name("Go to");
        if !field.lost_focus() {
            return false;
        }
        let enter = ui.input(|i| i.key_pressed(Key::Enter));
        if enter && !self.jump(ctx.document.project(), test) {
            field.request_focus();
            return false;
        }
        true
    }
}

/// The most days of a count, counted from the day of laying.
const MOST_DAYS: u16 = 90;

pub(super) fn pass_name(pass: Pass, test: &Test) -> String {
    match (pass, test.recipe.early_day) {
        (Pass::Early, Some(day)) => format!("Early, day {day}"),
        (Pass::Early, None) => "Early".to_owned(),
        (Pass::Between(day), _) => format!("Day {day}"),
        (Pass::Final, _) => format!("Final, day {}", test.recipe.final_day),
    }
}

/// Draws the passes side by side, or one under the other where they are many.
pub(super) fn choice(ui: &mut Ui, id: &str, names: &[String], chosen: usize) -> Option<usize> {
    if names.len() <= 4 {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        return segmented(ui, Id::unique(id), "Pass", &names, chosen);
    }
    let mut new = None;
    let combo = ComboBox::from_id_salt(id)
        .selected_text(&names[chosen])
        .show_ui(ui, |ui| {
            for (at, name) in names.iter().enumerate() {
                if ui.selectable_label(at == chosen, name).clicked() {
                    new = Some(at);
                }
            }
        });
    combo.response.accessible_name("Pass");
    new
}

/// Says how far the count is.
fn progress_ui(ui: &mut Ui, ctx: &PaneCtx<'_>, test: &Test, reading: Reading, cell: &Cell) {
    let t = Tokens::of(ui);
    let progress = ctx.insight.progress(ctx.document, test.id);
    let (here, cells) = progress
        .of(cell.tray)
        .map_or((0, 0), |tray| (tray.counted_in(reading), tray.cells));
    let mut text = format!("{here} of {cells} here");
    if !stays_in_tray(reading) {
        let counted = progress.counted_in(reading);
        let percent = counted * 100 / progress.cells.max(1);
        text = format!("{text}, {counted} of {} in all ({percent} %)", progress.cells);
    }
    let label = Label::new(RichText::new(&text).font(t.small_font()));
    let label = ui.add(label.wrap_mode(TextWrapMode::Extend));
    let said = format!("Cells counted: {text}");
    label.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
}
