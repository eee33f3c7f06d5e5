//! The menu of what is printed of a frozen list for the field and for the packets.

use super::labels::Labels;
use super::print_preview::PrintPreview;
use crate::exchange::field_map::field_map_pages;
use crate::exchange::field_sheets::{CullReason, FieldSheet, cull_list_pages, field_sheet_pages};
use crate::exchange::planting_list_print::planting_list_pages;
use crate::exchange::print::Paper;
use crate::jobs::JobContext;
use crate::model::{FieldPlan, PlantingList, capital};
use crate::ui::context::PaneCtx;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{PopupCloseBehavior, Ui};

/// What the menu remembers between frames.
#[derive(Debug, Default)]
pub(super) struct FieldPrints {
    stakes: Option<Labels>,
    looked_at: Option<PrintPreview>,
    prints_at_once: bool,
}

/// What the cull list is for.
const CULL: &str =
    "The ears that the cutoffs leave out, in the order of their boxes, to take them out on one day.";

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
    /// Draws the button and, when it is pressed, the menu; and the dialogs of the stakes and of what is looked at.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList, paper: Paper) {
        let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        MenuButton::new("Print for the field")
            .config(config)
            .ui(ui, |ui| {
                look_first(ui, &mut self.prints_at_once);
                ui.separator();
                let stakes = ui
                    .button("Row stakes…")
                    .on_hover_text("Two labels for each row, for the stakes at its start and its end.");
                if stakes.clicked() {
                    self.stakes = Some(Labels::of_stakes(list.id, ctx.label_sheets));
                    ui.close();
                }
                let plan = ctx.document.project().plan_of(list.id).cloned();
                let map = ui
                    .add_enabled(plan.is_some(), egui::Button::new("Field map…"))
                    .on_hover_text("The field drawn to scale.")
                    .on_disabled_hover_text("Plan the field first: the part 'Field plan' of this pane.");
                if map.clicked()
                    && let Some(plan) = plan
                {
                    self.print(ctx, field_map(ctx, list, plan, paper));
                    ui.close();
                }
                for (words, sheet, what_for) in FORMS {
                    if ui.button(words).on_hover_text(what_for).clicked() {
                        self.print(ctx, form(ctx, list, (sheet, what_for), paper));
                        ui.close();
                    }
                }
                ui.separator();
                let cull = ui.button("Cull list…").on_hover_text(CULL);
                if cull.clicked() {
                    self.print(ctx, cull_list(ctx, list, paper));
                    ui.close();
                }
            });
        if let Some(stakes) = &mut self.stakes
            && stakes.show(ui, ctx)
        {
            self.stakes = None;
        }
        if self.looked_at.as_mut().is_some_and(|print| print.show(ui, ctx)) {
            self.looked_at = None;
        }
    }

    /// Looks at a frozen list on paper.
    pub fn look_at_list(&mut self, list: &PlantingList, file: String, paper: Paper) {
        let list = list.clone();
        let about = format!(
            "Planting list {} of season {}, as it was frozen.",
            list.version, list.year
        );
        self.looked_at = Some(PrintPreview::new(
            "Planting list",
            about,
            file,
            paper,
            move |fonts, paper, _| Ok(planting_list_pages(fonts, &list, paper)),
        ));
    }

    fn print(&mut self, ctx: &mut PaneCtx<'_>, print: PrintPreview) {
        if self.prints_at_once {
            print.save(ctx);
        } else {
            self.looked_at = Some(print);
        }
    }
}

/// The switch of a menu of prints: whether a print is looked at before it is made.
pub(super) fn look_first(ui: &mut Ui, prints_at_once: &mut bool) {
    let mut looks = !*prints_at_once;
    ui.checkbox(&mut looks, "Look at it first")
        .on_hover_text("Shows the pages before a file is made of them.");
    *prints_at_once = !looks;
}

fn field_map(ctx: &PaneCtx<'_>, list: &PlantingList, plan: FieldPlan, paper: Paper) -> PrintPreview {
    let (project, list) = (ctx.document.snapshot(), list.clone());
    let file = format!("field-map-{}.pdf", list.year);
    let about = format!("The field of planting list {}, drawn to scale.", list.version);
    PrintPreview::new("Field map", about, file, paper, move |fonts, paper, watch| {
        field_map_pages(fonts, &project, &list, &plan, paper, watch).map_err(|fault| fault.to_string())
    })
}

fn form(
    ctx: &PaneCtx<'_>,
    list: &PlantingList,
    (sheet, what_for): (FieldSheet, &str),
    paper: Paper,
) -> PrintPreview {
    let (project, list) = (ctx.document.snapshot(), list.clone());
    let file = format!("{}-{}.pdf", sheet.name().replace(' ', "-"), list.year);
    let title = capital(sheet.name());
    PrintPreview::new(
        &title,
        what_for.to_owned(),
        file,
        paper,
        move |fonts, paper, watch| {
            field_sheet_pages(fonts, &project, &list, sheet, paper, watch)
                .map(|(laid, _)| laid)
                .map_err(|fault| fault.to_string())
        },
    )
}

fn cull_list(ctx: &PaneCtx<'_>, list: &PlantingList, paper: Paper) -> PrintPreview {
    let season = list.season;
    let left_out = ctx.insight.left_out(ctx.document, season);
    let reasons: Vec<CullReason> = left_out
        .into_iter()
        .map(|(ear, reason)| CullReason { ear, reason })
        .collect();
    let project = ctx.document.snapshot();
    let file = format!("cull-list-{}.pdf", list.year);
    PrintPreview::new(
        "Cull list",
        CULL.to_owned(),
        file,
        paper,
        move |fonts, paper, watch| {
            cull_list_pages(fonts, &project, season, &reasons, paper, watch)
                .map(|(laid, _)| laid)
                .map_err(|fault| fault.to_string())
        },
    )
}

/// Tells a job how far a print is.
pub(super) fn watch(job: &JobContext) -> impl Fn(f32) -> bool + '_ {
    |done| {
        job.progress(done);
        !job.cancelled()
    }
}
