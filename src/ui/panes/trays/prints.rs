//! The menu of what is printed of a test's trays.

use crate::exchange::print::Paper;
use crate::exchange::tray_prints::{RetestReason, TrayPrint, TrayPrintOrder, tray_pages};
use crate::insight::RetestEar;
use crate::model::{Test, capital};
use crate::ui::context::PaneCtx;
use crate::ui::panes::field_prints::look_first;
use crate::ui::panes::print_preview::PrintPreview;
use crate::ui::widgets::segmented::segmented;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{Button, Id, PopupCloseBehavior, Ui};

/// What the menu remembers between frames.
#[derive(Debug, Default)]
pub(super) struct PrintMenu {
    /// The sheet, as a place among the papers.
    paper: usize,
    /// Whether only the tray under the cursor is printed.
    only_one: bool,
    prints_at_once: bool,
    looked_at: Option<PrintPreview>,
}

/// What can be printed: the words, what it is, whether with ear numbers, and what it is for.
const ITEMS: [(&str, TrayPrint, bool, &str); 7] = [
    (
        "Cloth map…",
        TrayPrint::ClothMap,
        false,
        "The cells at true scale, to mark the cloths by. Without ear numbers one map is good for all trays of a size.",
    ),
    (
        "Cloth map with ear numbers…",
        TrayPrint::ClothMap,
        true,
        "The cells at true scale with what lies in them: a map for each tray.",
    ),
    (
        "Tray map…",
        TrayPrint::TrayMap,
        true,
        "One page for each tray: what lies where. A tray of very many cells is shown again in parts, in large numbers.",
    ),
    (
        "Laying list…",
        TrayPrint::LayingList,
        true,
        "Cell by cell: the ear, its packet, the kernels, a box to tick, and what to read back.",
    ),
    (
        "Score sheet…",
        TrayPrint::ScoreSheet,
        true,
        "An empty form for the counts, in the order of the Scoring pane.",
    ),
    (
        "Score sheet, blind…",
        TrayPrint::ScoreSheet,
        false,
        "The same without ear numbers: whoever counts does not know the ear.",
    ),
    (
        "Retest list…",
        TrayPrint::RetestList,
        true,
        "The ears that are tested again: where they lay, where they lie now, and why.",
    ),
];

impl PrintMenu {
    /// Draws the button and, when it is pressed, the menu. `tray` is the number of the tray under the cursor; without
    /// a recorded test there is nothing to print.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: Option<&Test>, tray: Option<u16>) {
        let Some(test) = test else {
            ui.add_enabled(false, Button::new("Print"))
                .on_disabled_hover_text("Design the test first; then its trays can be printed.");
            return;
        };
        let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        MenuButton::new("Print").config(config).ui(ui, |ui| {
            ui.horizontal(|ui| {
                ui.label("Paper");
                let id = Id::unique("paper of the trays");
                if let Some(paper) = segmented(ui, id, "Paper", &["Letter", "A4"], self.paper) {
                    self.paper = paper;
                }
            });
            if let Some(tray) = tray {
                ui.horizontal(|ui| {
                    ui.label("Trays");
                    let one = format!("Tray {tray}");
                    let id = Id::unique("which trays are printed");
                    if let Some(which) =
                        segmented(ui, id, "Trays", &["All", &one], usize::from(self.only_one))
                    {
                        self.only_one = which == 1;
                    }
                });
            }
            look_first(ui, &mut self.prints_at_once);
            ui.separator();
            for (words, print, with_ears, what_for) in ITEMS {
                if ui.button(words).on_hover_text(what_for).clicked() {
                    let order = TrayPrintOrder {
                        test: test.id,
                        tray: tray.filter(|_| self.only_one),
                        paper: [Paper::Letter, Paper::A4][self.paper],
                        with_ears,
                    };
                    let made = preview(ctx, test, print, order, what_for);
                    if self.prints_at_once {
                        made.save(ctx);
                    } else {
                        self.looked_at = Some(made);
                    }
                    ui.close();
                }
            }
        });
        if self.looked_at.as_mut().is_some_and(|print| print.show(ui, ctx)) {
            self.looked_at = None;
        }
    }
}

fn preview(
    ctx: &PaneCtx<'_>,
    test: &Test,
    print: TrayPrint,
    order: TrayPrintOrder,
    what_for: &str,
) -> PrintPreview {
    let reasons = if print == TrayPrint::RetestList {
        reasons(ctx, test)
    } else {
        Vec::new()
    };
    let project = ctx.document.snapshot();
    let title = capital(print.name());
    let file = file_name(test, print, order);
    PrintPreview::new(
        &title,
        what_for.to_owned(),
        file,
        order.paper,
        move |fonts, paper, watch| {
            let order = TrayPrintOrder { paper, ..order };
            tray_pages(fonts, &project, print, order, &reasons, watch)
                .map(|(laid, _)| laid)
                .map_err(|fault| fault.to_string())
        },
    )
}

fn reasons(ctx: &PaneCtx<'_>, test: &Test) -> Vec<RetestReason> {
    let cutoffs = ctx.insight.cutoffs(ctx.document, test.season);
    let retest = ctx.insight.retest(ctx.document, test.season, &cutoffs);
    let reason = |ear: &RetestEar| RetestReason {
        ear: ear.ear,
        reason: ear.sentence(),
    };
    retest.ears.iter().map(reason).collect()
}

/// Proposes a name such as `tray-map-Cold-test-3.pdf`; only letters and digits of the test's name are taken.
fn file_name(test: &Test, print: TrayPrint, order: TrayPrintOrder) -> String {
    let words = [print.name(), &test.name].map(|text| {
        let parts = text.split(|letter: char| !letter.is_alphanumeric());
        let parts: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
        parts.join("-")
    });
    let tray = order.tray.map_or_else(String::new, |tray| format!("-{tray}"));
    format!("{}{tray}.pdf", words.join("-"))
}
