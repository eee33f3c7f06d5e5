//! Lines of mothers over the seasons, as a table.

use crate::insight::{InSeason, Lines};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::card;
use egui::{Align, Grid, Label, Layout, RichText, ScrollArea, Ui};

/// Lines that are shown one by one.
const MOST_SHOWN: usize = 60;

/// Draws the card, or says that there are not two seasons with rows.
pub(super) fn ui(ui: &mut Ui, ctx: &PaneCtx<'_>) {
    let lines = ctx.insight.lines_of_mothers(ctx.document);
    let sentences = lines.sentences();
    if sentences.is_empty() {
        ui.label("Lines of mothers are followed from the second season with rows on.");
        return;
    }
    let t = Tokens::of(ui);
    card(ui, |ui| {
        ui.label(RichText::new("Lines of mothers").font(t.heading_font()));
        for sentence in sentences {
            ui.add(Label::new(sentence).wrap());
        }
        ScrollArea::both()
            .id_salt("lines of mothers")
            .max_height(12.0 * t.row_height)
            .show(ui, |ui| table(ui, &lines));
        if lines.lines.len() > MOST_SHOWN {
            let more = format!("And {} more lines.", lines.lines.len() - MOST_SHOWN);
            ui.label(RichText::new(more).color(t.quiet));
        }
    });
}

fn table(ui: &mut Ui, lines: &Lines) {
    let t = Tokens::of(ui);
    Grid::new("lines of mothers")
        .striped(true)
        .spacing([t.space.large, t.space.tiny])
        .show(ui, |ui| {
            ui.label(RichText::new("Begins with").font(t.strong_font()));
            for (_, year) in &lines.seasons {
                ui.label(RichText::new(format!("{year}, rows and ears")).font(t.strong_font()));
            }
            ui.label("");
            ui.end_row();
            for line in lines.lines.iter().take(MOST_SHOWN) {
                ui.label(&line.founder);
                for one in &line.in_seasons {
                    ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.label(cell(*one)));
                }
                match line.lost_after {
                    Some(year) => ui.label(RichText::new(format!("✗ lost after {year}")).color(t.warn)),
                    None => ui.label(""),
                };
                ui.end_row();
            }
        });
}

fn cell(one: Option<InSeason>) -> String {
    match one {
        None => String::new(),
        Some(one) if one.rows == 0 => "–".to_owned(),
        Some(one) => format!("{} · {}", one.rows, one.ears),
    }
}
