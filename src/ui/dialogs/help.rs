//! Keys and cautions.

use super::Answer;
use crate::ui::tokens::Tokens;
use crate::ui::user_actions::UserAction;
use crate::ui::widgets::dialog::Dialog;
use egui::{Context, Grid, Id, RichText, ScrollArea, Ui};

/// What can hurt people, seed or the law: a heading and sentences. The README has the same text.
pub const CAUTIONS: [(&str, &str); 9] = [
    (
        "Mould and dust",
        "Mouldy ears and dusty husks can make you ill. Wear a mask that fits, keep mouldy ears apart and outdoors, and keep people with weak lungs away.",
    ),
    (
        "Treated seed",
        "Seed that was treated with a pesticide is poison. Wear gloves, wash your hands, never taste it, and never let it become food or feed.",
    ),
    (
        "Test kernels are waste",
        "Kernels that lay in a test are mouldy and wet. They are waste, never food or feed. Never taste seed corn.",
    ),
    (
        "Cleaning",
        "If you clean cloths or trays with bleach, open a window, wear gloves, and never mix it with any other cleaner.",
    ),
    (
        "Drying and fire",
        "Warm air dries husks until they burn easily. Keep heaters away from them, keep a thermometer at the hottest place, and keep seed below 110 °F (43 °C).",
    ),
    (
        "Damp and electricity",
        "Lamps, heat mats and coolers beside wet trays need a residual-current (ground-fault) breaker. Wet trays are heavy; lift them with two.",
    ),
    (
        "A home test is not a seed-label test",
        "Ten kernels of an ear tell you what to plant. They are not valid for labelling seed: official tests use hundreds of kernels under fixed rules.",
    ),
    (
        "Law and rights",
        "Seed law, variety protection, patents, contracts and quarantine differ by place. Before you sell, give away or send seed, follow the rules of your place and ask licensed practice.",
    ),
    (
        "A ranking of ears, not a promise",
        "The figures say what the ears of this test are likely to be. Frost, drying and the mother plant are in them too, and gain in the tray is not gain in the field.",
    ),
];

/// Draws the dialog; gives its answer once.
pub fn show(ctx: &Context) -> Option<Answer> {
    Dialog::new(Id::unique("help"), "Help and cautions")
        .confirm("Close")
        .one_button()
        .show(ctx, |ui| {
            let height = (ui.ctx().content_rect().height() - 220.0).max(120.0);
            ScrollArea::vertical()
                .id_salt("help page")
                .max_height(height)
                .show(ui, body);
        })
        .map(|_either| Answer::Nothing)
}

fn body(ui: &mut Ui) {
    let t = Tokens::of(ui);
    ui.label(RichText::new("The year in six panes").font(t.heading_font()));
    for line in [
        "Harvest: enter the ears, their mother rows, maturity and packets.",
        "Trays: design the test; every ear gets a cell by lot, spread over the trays.",
        "Scoring: count what grows, cell by cell, with the number keys.",
        "Selection: set the cutoffs on the plot and see what they cost and buy.",
        "Planting: the frozen list, to print and to plant from.",
        "Seasons: all years of the population side by side.",
    ] {
        ui.label(line);
    }
    ui.add_space(t.space.medium);
    ui.label(RichText::new("Keys").font(t.heading_font()));
    Grid::new("keys")
        .num_columns(2)
        .min_row_height(0.0)
        .spacing([t.space.large, t.space.tiny])
        .show(ui, |ui| {
            for action in UserAction::all() {
                if let Some(keys) = action.shortcut() {
                    ui.label(ui.ctx().format_shortcut(&keys));
                    ui.label(action.name().trim_end_matches('…'));
                    ui.end_row();
                }
            }
            ui.label("Ctrl + and Ctrl −");
            ui.label("Larger and smaller text");
            ui.end_row();
        });
    ui.add_space(t.space.medium);
    ui.label(RichText::new("Cautions").font(t.heading_font()));
    for (heading, text) in CAUTIONS {
        ui.label(RichText::new(heading).font(t.strong_font()));
        ui.label(text);
        ui.add_space(t.space.tiny);
    }
}
