//! The menu that saves the plot as a picture.

use super::Derived;
use super::names::Names;
use super::scatter::PlotState;
use crate::exchange::picture::PictureForm;
use crate::exchange::plot_picture::{PlotOrder, plot_file};
use crate::ui::context::PaneCtx;
use crate::ui::widgets::segmented::segmented;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{Button, Id, PopupCloseBehavior, Ui};
use std::sync::Arc;

/// The button.
const TITLE: &str = "Picture";

/// The forms: the words, and what each is good for.
const FORMS: [(PictureForm, &str, &str); 3] = [
    (
        PictureForm::Svg,
        "Save as SVG…",
        "Sharp at any size, and other programs can change it. A browser tells the figures of the mark under the pointer.",
    ),
    (
        PictureForm::Png,
        "Save as PNG…",
        "1600 by 1000 dots, for letters and messages.",
    ),
    (PictureForm::Pdf, "Save as PDF…", "One page to print, Letter."),
];

/// What the plot shows, to be drawn as a picture.
pub(super) struct Seen<'a> {
    pub derived: &'a Derived,
    pub plot: &'a PlotState,
    /// Which stands are shown, in the order of the stands.
    pub shown: [bool; 4],
    pub names: &'a Names,
}

/// Draws the button and, when it is pressed, the menu. `whole` is what it remembers: whether a view that was moved is
/// saved whole.
pub(super) fn menu(ui: &mut Ui, ctx: &mut PaneCtx<'_>, seen: &Seen<'_>, whole: &mut bool) {
    if seen.names.are_hidden() {
        ui.add_enabled(false, Button::new(TITLE))
            .on_disabled_hover_text("A picture names the ears. Show their names first.");
        return;
    }
    let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
    MenuButton::new(TITLE).config(config).ui(ui, |ui| {
        if seen.plot.is_moved {
            ui.horizontal(|ui| {
                ui.label("Shows");
                let id = Id::unique("what the picture shows");
                let choices = ["What is seen", "All ears"];
                if let Some(which) = segmented(ui, id, "Shows", &choices, usize::from(*whole)) {
                    *whole = which == 1;
                }
            });
            ui.separator();
        }
        for (form, words, what_for) in FORMS {
            if ui.button(words).on_hover_text(what_for).clicked() {
                save(ctx, seen, form, *whole);
                ui.close();
            }
        }
    });
}

fn save(ctx: &mut PaneCtx<'_>, seen: &Seen<'_>, form: PictureForm, whole: bool) {
    let derived = seen.derived;
    let order = PlotOrder {
        axes: derived.field.axes.each_ref().map(|side| side.axis),
        view: seen.plot.view.filter(|_| seen.plot.is_moved && !whole),
        shown: seen.shown,
        // The ear that was chosen last is named first.
        labelled: ctx.chosen.iter().rev().copied().collect(),
        intervals: true,
        ..PlotOrder::default()
    };
    let project = ctx.document.snapshot();
    let (choice, estimates) = (Arc::clone(&derived.choice), Arc::clone(&derived.estimates));
    let season = project.seasons.get(choice.season);
    let year = season.map_or_else(String::new, |season| format!("-{}", season.year));
    let ending = PictureForm::ALL.into_iter().find(|(known, _)| *known == form);
    let name = format!("plot{year}.{}", ending.map_or("svg", |(_, ending)| ending));
    ctx.save_file(&name, move |job| {
        let watch = |done: f32| {
            job.progress(done);
            !job.cancelled()
        };
        plot_file(&project, &choice, &estimates, &order, form, &watch).map_err(|fault| fault.to_string())
    });
}
