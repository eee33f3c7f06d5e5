//! The menus that save the plots as pictures.

use super::Derived;
use super::names::Names;
use super::scatter::PlotState;
use crate::exchange::choice_pictures::{Chosen, curve_file, frontier_file};
use crate::exchange::picture::{PictureForm, PictureOrder};
use crate::exchange::plot_picture::{PlotOrder, plot_file};
use crate::exchange::print::{PrintFault, Watch};
use crate::exchange::selection_csv::selection_csv;
use crate::insight::{Choice, Curve, Estimates, Shares};
use crate::model::{Cutoffs, Project, SeasonId};
use crate::ui::context::PaneCtx;
use crate::ui::panes::field_prints::watch;
use crate::ui::panes::picture_menu::{file_name, forms};
use crate::ui::widgets::segmented::segmented;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{Button, Id, PopupCloseBehavior, Ui};
use std::sync::Arc;

/// The button.
const TITLE: &str = "Picture";

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
        if let Some(form) = forms(ui) {
            save(ctx, seen, form, *whole);
        }
        ui.separator();
        let table = ui.button("Save the table as CSV…").on_hover_text(
            "The ears of the table in its order, with all figures and reasons, for a spreadsheet.",
        );
        if table.clicked() {
            save_table(ctx, seen.derived);
            ui.close();
        }
    });
}

fn save_table(ctx: &mut PaneCtx<'_>, derived: &Derived) {
    let project = ctx.document.snapshot();
    let (choice, speeds) = (Arc::clone(&derived.choice), Arc::clone(&derived.speeds));
    let rows = Arc::clone(&derived.rows);
    let season = project.seasons.get(choice.season);
    let year = season.map_or_else(String::new, |season| format!("-{}", season.year));
    ctx.save_file(&format!("selection{year}.csv"), move |_job| {
        Ok(selection_csv(&project, &choice, &speeds, &rows))
    });
}

/// Draws the button and the menu that save how the figures move with the cutoff.
pub(super) fn of_curve(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    season: SeasonId,
    set: &Cutoffs,
    curve: &Arc<Curve>,
) {
    let asked = MenuButton::new("Picture of the curve").ui(ui, forms).1;
    if let Some(form) = asked.and_then(|shown| shown.inner) {
        let curve = Arc::clone(curve);
        save_of(ctx, season, set, "curve", form, move |of, order, watch| {
            curve_file(of, &curve, order, watch)
        });
    }
}

/// Draws the button and the menu that save the frontier of shares.
pub(super) fn of_frontier(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    season: SeasonId,
    set: &Cutoffs,
    shares: &Arc<Shares>,
) {
    let asked = MenuButton::new("Picture of the frontier").ui(ui, forms).1;
    if let Some(form) = asked.and_then(|shown| shown.inner) {
        let shares = Arc::clone(shares);
        save_of(ctx, season, set, "frontier", form, move |of, order, watch| {
            frontier_file(of, &shares, order, watch)
        });
    }
}

fn save_of(
    ctx: &mut PaneCtx<'_>,
    season: SeasonId,
    set: &Cutoffs,
    what: &str,
    form: PictureForm,
    make: impl FnOnce(Chosen<'_>, PictureOrder, Watch<'_>) -> Result<Vec<u8>, PrintFault> + Send + 'static,
) {
    let project = ctx.document.snapshot();
    let choice: Arc<Choice> = ctx.insight.choice(ctx.document, season, set);
    let estimates: Arc<Estimates> = ctx.insight.estimates(ctx.document, season);
    ctx.save_file(&name_of(&project, season, what, form), move |job| {
        let of = Chosen {
            project: &project,
            choice: &choice,
            estimates: &estimates,
        };
        let made = make(of, PictureOrder::new(form), &watch(job));
        made.map_err(|fault| fault.to_string())
    });
}

/// The name that is proposed for a file, such as `plot-2025.svg`.
fn name_of(project: &Project, season: SeasonId, what: &str, form: PictureForm) -> String {
    let season = project.seasons.get(season);
    let year = season.map_or_else(String::new, |season| format!("-{}", season.year));
    file_name(&format!("{what}{year}"), form)
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
    let name = name_of(&project, choice.season, "plot", form);
    ctx.save_file(&name, move |job| {
        plot_file(&project, &choice, &estimates, &order, form, &watch(job)).map_err(|fault| fault.to_string())
    });
}
