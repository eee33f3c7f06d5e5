//! The line above the tray: what is counted, in which tray, how far.

use super::scheme::SchemeDialog;
use super::walk::Walk;
use super::{Reading, Scoring, go_to_field, keyboard};
use crate::insight::{Age, age};
use crate::model::{Cell, Pass, Place, Test};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::panes::repair::RepairDialog;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::segmented::segmented;
use egui::{Button, Id, Key, Label, RichText, Role, TextEdit, TextWrapMode, Ui, WidgetInfo};

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
            changed |= self.pass_ui(ui, test, reading);
            let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
            if ui.button("◀").accessible_name("Previous tray").clicked() {
                self.turn_tray(project, walk, reading, false);
                changed = true;
            }
            let trays = walk.trays();
            ui.label(RichText::new(format!("Tray {tray} of {trays}")).font(t.strong_font()));
            if ui.button("▶").accessible_name("Next tray").clicked() {
                self.turn_tray(project, walk, reading, true);
                changed = true;
            }
            changed |= self.go_to_ui(ui, ctx, test, reading);
            let repair = ui.button("Repair…");
            let hint = "Shift a row by one, swap cells or trays, turn a tray: what was laid or read in the wrong place";
            if repair.on_hover_text(hint).clicked() {
                self.repair = Some(RepairDialog::at(project, test.id, cell, reading.pass));
            }
            ui.menu_button("Options", |ui| self.options_ui(ui, ctx));
            progress_ui(ui, ctx, test, reading, cell);
        });
        ui.add_space(3.0);
        if !project.is_begun(test.id) {
            ui.horizontal_wrapped(|ui| {
                ui.add_space(3.0);
                let text = "⚠ This test is not noted as laid, so its kernels are still in their packets.";
                ui.label(RichText::new(text).color(t.warn));
                if ui.button("Go to Trays").clicked() {
                    ctx.act(Action::Go(Place::Test(test.id)));
                }
            });
        }
        if let Some(remark) = age(project, cell, reading.pass, ctx.today).and_then(Age::remark) {
            let text = format!(
                "⚠ Today is {remark} of the {} count (common practice, no source).",
                reading.pass
            );
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

    fn options_ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>) {
        let categories = ui.add_enabled(ctx.read_only.is_none(), Button::new("Categories…"));
        if categories
            .on_hover_text("Which categories are counted, and in which order they are typed")
            .clicked()
        {
            self.scheme = Some(SchemeDialog::new(&ctx.document.project().about.scheme));
            ui.close();
        }
    }

    fn pass_ui(&mut self, ui: &mut Ui, test: &Test, reading: Reading) -> bool {
        let early = test.recipe.early_day;
        let early = early.map_or_else(|| "Early".to_owned(), |day| format!("Early, day {day}"));
        let names = [early.as_str(), &format!("Final, day {}", test.recipe.final_day)];
        let chosen = usize::from(reading.pass == Pass::Final);
        let Some(new) = segmented(ui, Id::unique("scoring pass"), "Pass", &names, chosen) else {
            return false;
        };
        self.pass = Some([Pass::Early, Pass::Final][new]);
        self.asking = None;
        true
    }

    fn go_to_ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, test: &Test, reading: Reading) -> bool {
        let edit = TextEdit::singleline(&mut self.go_to)
            .id(go_to_field())
            .hint_text("Go to 3 B4")
            .desired_width(100.0);
        let field = ui.add(edit).accessible_name("Go to");
        if !field.lost_focus() {
            return false;
        }
        let enter = ui.input(|i| i.key_pressed(Key::Enter));
        if enter && !self.jump(ctx.document.project(), test, reading) {
            field.request_focus();
            return false;
        }
        true
    }
}

fn progress_ui(ui: &mut Ui, ctx: &PaneCtx<'_>, test: &Test, reading: Reading, cell: &Cell) {
    let t = Tokens::of(ui);
    let progress = ctx.insight.progress(ctx.document, test.id);
    let here = progress
        .of(cell.tray)
        .map_or((0, 0), |tray| (tray.counted(reading.pass), tray.cells));
    let counted: usize = progress.trays.iter().map(|tray| tray.counted(reading.pass)).sum();
    let percent = counted * 100 / progress.cells.max(1);
    let text = format!(
        "{} of {} here, {counted} of {} in all ({percent} %)",
        here.0, here.1, progress.cells
    );
    let label = Label::new(RichText::new(&text).font(t.small_font()));
    let label = ui.add(label.wrap_mode(TextWrapMode::Extend));
    let said = format!("Cells counted: {text}");
    label.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
}
