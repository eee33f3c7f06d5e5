//! The plan of a field: the form, the drawing, what does not fit, changes by hand.

use super::drawing::{self, Drawn};
use super::form::Form;
use crate::insight::{FieldView, field_sentence};
use crate::model::{
    Command, FieldContent, FieldPlan, FieldRowId, FieldWay, PlantingList, capital, plural, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::card;
use egui::containers::menu::MenuButton;
use egui::{Id, Label, RichText, Role, ScrollArea, Ui, WidgetInfo};

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Plan {
    form: Option<Form>,
    is_form_shut: Option<bool>,
    /// The row under the cursor, by its place in walking order.
    cursor: usize,
    /// The row that waits for another one to change places with.
    picked: Option<FieldRowId>,
    swapping: Option<Ticket>,
    reveal: bool,
    /// A row that was asked for from elsewhere.
    wanted: Option<FieldRowId>,
}

impl Plan {
    /// Puts the cursor to a row.
    pub fn go(&mut self, row: FieldRowId) {
        self.wanted = Some(row);
        self.reveal = true;
    }

    /// Draws the part.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) {
        self.follow(ctx);
        let project = ctx.document.project();
        let plan = project.plan_of(list.id);
        let view = plan.map(|plan| ctx.insight.field_plan(ctx.document, plan.id));
        let view = view.as_deref().and_then(Option::as_ref);
        if !self.form.as_ref().is_some_and(|form| form.is_of(plan)) {
            self.form = Some(Form::new(plan, project.about.units.length));
        }
        let is_shut = self.is_form_shut.unwrap_or(plan.is_some());
        let room = (ui.available_height() - 220.0).max(120.0);
        ScrollArea::vertical()
            .id_salt("field head")
            .max_height(room)
            .show(ui, |ui| {
                card(ui, |ui| {
                    let title = if is_shut { "▶ The field" } else { "▼ The field" };
                    let fold = ui
                        .button(title)
                        .on_hover_text("Shows or hides the form of the field.");
                    fold.widget_info(|| {
                        WidgetInfo::selected(Role::Button, true, !is_shut, "The form of the field")
                    });
                    if fold.clicked() {
                        self.is_form_shut = Some(!is_shut);
                    }
                    if !is_shut && let Some(form) = &mut self.form {
                        form.ui(ui, ctx, list, plan);
                    }
                    if let Some(view) = view {
                        ui.add(Label::new(field_sentence(project, view)).wrap());
                        self.findings(ui, view);
                    }
                });
            });
        if let (Some(plan), Some(view)) = (plan, view) {
            ui.add_space(Tokens::of(ui).space.small);
            self.drawing(ui, ctx, list, plan, view);
        } else {
            let t = Tokens::of(ui);
            let text = "The plan is drawn here to scale, with the numbers of the stakes in the order in which you walk. Rows can then be swapped by hand, and stakes and sheets follow it.";
            ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
        }
    }

    fn findings(&mut self, ui: &mut Ui, view: &FieldView) {
        let t = Tokens::of(ui);
        let is_bulk = view.rows.iter().all(|row| row.content == FieldContent::Bulk);
        if view.findings.is_empty() && !is_bulk {
            ui.label(
                RichText::new("✓ Nothing stands in the way: no sisters side by side, every ear in its rows.")
                    .color(t.ok),
            );
        }
        for finding in &view.findings {
            ui.horizontal_wrapped(|ui| {
                let (sign, colour) = if finding.is_note {
                    ("ℹ", t.text)
                } else {
                    ("⚠", t.warn)
                };
                ui.add(
                    Label::new(RichText::new(format!("{sign} {}", finding.sentence)).color(colour)).wrap(),
                );
                if let Some(row) = finding.rows.first()
                    && ui.small_button("Show").clicked()
                    && let Some(at) = view.rows.iter().position(|line| line.row == *row)
                {
                    self.cursor = at;
                    self.reveal = true;
                }
            });
        }
    }

    fn drawing(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        list: &PlantingList,
        plan: &FieldPlan,
        view: &FieldView,
    ) {
        if let Some(wanted) = self.wanted.take()
            && let Some(at) = view.rows.iter().position(|row| row.row == wanted)
        {
            self.cursor = at;
        }
        self.cursor = self.cursor.min(view.rows.len().saturating_sub(1));
        if self
            .picked
            .is_some_and(|picked| !view.rows.iter().any(|row| row.row == picked))
        {
            self.picked = None;
        }
        let t = Tokens::of(ui);
        let line_height = t.control_height + t.space.small;
        let height = (ui.available_height() - 2.0 * line_height).max(140.0);
        let asked = drawing::show(
            ui,
            &plan.shape,
            view,
            &Drawn {
                id: Id::unique("field drawing"),
                cursor: self.cursor,
                picked: self.picked,
                chosen: ctx.chosen,
                height,
                reveal: std::mem::take(&mut self.reveal),
            },
        );
        if let Some(cursor) = asked.cursor
            && cursor != self.cursor
        {
            self.cursor = cursor;
            self.reveal = true;
            if let Some(ear) = view.rows.get(cursor).and_then(|row| row.content.ear()) {
                ctx.choose(vec![ear]);
            }
        }
        if asked.leaves {
            self.picked = None;
        }
        if let Some((one, other)) = asked.swap {
            self.swap(ctx, view, one, other);
        }
        if asked.picks {
            self.pick(ctx, view);
        }
        self.by_hand(ui, ctx, list, plan, view);
    }

    /// Picks the row under the cursor, or swaps it with the one that was picked.
    fn pick(&mut self, ctx: &mut PaneCtx<'_>, view: &FieldView) {
        let Some(row) = view.rows.get(self.cursor) else {
            return;
        };
        match self.picked {
            None => self.picked = Some(row.row),
            Some(picked) if picked == row.row => self.picked = None,
            Some(picked) => {
                if let Some(first) = view.rows.iter().position(|line| line.row == picked) {
                    self.swap(ctx, view, first, self.cursor);
                }
            }
        }
    }

    fn swap(&mut self, ctx: &mut PaneCtx<'_>, view: &FieldView, one: usize, other: usize) {
        if ctx.read_only.is_some() || one == other {
            return;
        }
        if let (Some(one), Some(other)) = (view.rows.get(one), view.rows.get(other)) {
            self.swapping = Some(ctx.run_for(Command::SwapFieldRows(one.row, other.row)));
            self.picked = None;
        }
    }

    fn follow(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some(outcome) = self.swapping.and_then(|ticket| ctx.outcome(ticket)) else {
            return;
        };
        self.swapping = None;
        let (tone, text) = match outcome {
            Ok(committed) => (Tone::Well, format!("{}. Undo takes it back.", committed.label)),
            Err(problem) => (Tone::Error, sentence(&problem.to_string())),
        };
        ctx.notice(tone, text);
    }

    /// The line under the drawing: what stands under the cursor, and what can be done with it.
    fn by_hand(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        list: &PlantingList,
        plan: &FieldPlan,
        view: &FieldView,
    ) {
        let Some(row) = view.rows.get(self.cursor) else {
            return;
        };
        let can = ctx.read_only.is_none();
        ui.horizontal_wrapped(|ui| {
            let said = ui.label(capital(&drawing::row_sentence(row)));
            said.widget_info(|| WidgetInfo::labeled(Role::Status, true, drawing::row_sentence(row)));
            if !can {
                return;
            }
            let picked = self
                .picked
                .and_then(|picked| view.rows.iter().find(|line| line.row == picked));
            let words = match picked {
                None => format!("Swap stake {} with …", row.stake),
                Some(first) if first.row == row.row => "Leave it".to_owned(),
                Some(first) => format!("Swap stakes {} and {}", first.stake, row.stake),
            };
            if ui
                .button(words)
                .on_hover_text("Key S, or drag one row onto another. What was seen stays with the stake.")
                .clicked()
            {
                self.pick(ctx, view);
            }
            if plan.shape.way == FieldWay::Families {
                MenuButton::new("Plant something else").ui(ui, |ui| {
                    self.others(ui, ctx, list, plan, row);
                });
            }
        });
    }

    fn others(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        list: &PlantingList,
        plan: &FieldPlan,
        row: &crate::insight::FieldLine,
    ) {
        let mut set = |content: FieldContent, kernels: u32, detasselled: bool| {
            self.swapping = Some(ctx.run_for(Command::SetFieldRow {
                row: row.row,
                content,
                kernels,
                detasselled,
            }));
        };
        let full = plan.shape.kernels_per_row();
        let rule = |content: FieldContent| {
            crate::layout::is_detasselled(plan.shape.detassel.rule(), content.kind(), row.across - 1)
        };
        for (words, content) in [
            ("The check lot", FieldContent::Check),
            ("The bulk", FieldContent::Bulk),
        ] {
            if row.content != content && ui.button(words).clicked() {
                set(content, full, rule(content));
            }
        }
        for entry in list.reserves.iter().take(20) {
            let words = format!(
                "Ear {} of the reserve, {}",
                entry.number,
                plural(entry.plant as usize, "kernel")
            );
            if ui.button(words).clicked() {
                let content = FieldContent::Ear(entry.ear);
                set(content, entry.plant, rule(content));
            }
        }
        ui.separator();
        let words = if row.detasselled {
            "Keep its tassels"
        } else {
            "Pull its tassels"
        };
        if ui.button(words).clicked() {
            set(row.content, row.kernels, !row.detasselled);
        }
    }
}
