//! The menu of what is printed of a frozen list for the field and for the packets.

use super::labels::Labels;
use crate::exchange::field_map::field_map_pdf;
use crate::exchange::field_sheets::{CullReason, FieldSheet, cull_list_pdf, field_sheet_pdf};
use crate::exchange::print::Paper;
use crate::jobs::JobContext;
use crate::model::PlantingList;
use crate::ui::context::PaneCtx;
use egui::Ui;
use egui::containers::menu::MenuButton;

/// What the menu remembers between frames.
#[derive(Debug, Default)]
pub(super) struct FieldPrints {
    stakes: Option<Labels>,
}

/// The forms: the words, which one, what it is for.
const FORMS: [(&str, FieldSheet, &str); 4] = [
    (
        "Planting sheet…",
        FieldSheet::Planting,
        "One line for each row, with its packet, to tick when it is planted; for one bulk a line for each packet.",
    ),
    (
        "Stand sheet…",
        FieldSheet::Stand,
        "One line for each row, to write down how many plants came up.",
    ),
    (
        "Flowering sheet…",
        FieldSheet::Flowering,
        "One line for each row, for the days on which half of its plants shed pollen and show silk.",
    ),
    (
        "Detassel sheet…",
        FieldSheet::Detassel,
        "One line for each row, with a box for each round.",
    ),
];

impl FieldPrints {
    /// Draws the button and, when it is pressed, the menu; and the dialog of the stakes while it is open.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList, paper: Paper) {
        MenuButton::new("Print for the field").ui(ui, |ui| {
            let stakes = ui
                .button("Row stakes…")
                .on_hover_text("Two labels for each row, for the stakes at its start and its end.");
            if stakes.clicked() {
                self.stakes = Some(Labels::of_stakes(list.id, ctx.label_sheets));
            }
            let plan = ctx.document.project().plan_of(list.id).cloned();
            let map = ui
                .add_enabled(plan.is_some(), egui::Button::new("Field map…"))
                .on_hover_text("The field drawn to scale.")
                .on_disabled_hover_text("Plan the field first: the part 'Field plan' of this pane.");
            if map.clicked()
                && let Some(plan) = plan
            {
                let (list, project) = (list.clone(), ctx.document.snapshot());
                ctx.save_file(&format!("field-map-{}.pdf", list.year), move |job| {
                    let printed = field_map_pdf(&project, &list, &plan, paper, &watch(job));
                    printed.map(|map| map.pdf).map_err(|fault| fault.to_string())
                });
            }
            for (words, sheet, what_for) in FORMS {
                if ui.button(words).on_hover_text(what_for).clicked() {
                    let name = format!("{}-{}.pdf", sheet.name().replace(' ', "-"), list.year);
                    let list = list.clone();
                    let project = ctx.document.snapshot();
                    ctx.save_file(&name, move |job| {
                        let printed = field_sheet_pdf(&project, &list, sheet, paper, &watch(job));
                        printed.map(|sheet| sheet.pdf).map_err(|fault| fault.to_string())
                    });
                }
            }
            ui.separator();
            let cull = ui
                .button("Cull list…")
                .on_hover_text("The ears that the cutoffs leave out, in the order of their boxes, to take them out on one day.");
            if cull.clicked() {
                save_cull_list(ctx, list, paper);
            }
        });
        if let Some(stakes) = &mut self.stakes
            && stakes.show(ui, ctx)
        {
            self.stakes = None;
        }
    }
}

fn save_cull_list(ctx: &mut PaneCtx<'_>, list: &PlantingList, paper: Paper) {
    let season = list.season;
    let left_out = ctx.insight.left_out(ctx.document, season);
    let reasons: Vec<CullReason> = left_out
        .into_iter()
        .map(|(ear, reason)| CullReason { ear, reason })
        .collect();
    let project = ctx.document.snapshot();
    ctx.save_file(&format!("cull-list-{}.pdf", list.year), move |job| {
        let printed = cull_list_pdf(&project, season, &reasons, paper, &watch(job));
        printed.map(|sheet| sheet.pdf).map_err(|fault| fault.to_string())
    });
}

/// Tells a job how far a print is.
pub(super) fn watch(job: &JobContext) -> impl Fn(f32) -> bool + '_ {
    |done| {
        job.progress(done);
        !job.cancelled()
    }
}
