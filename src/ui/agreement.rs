//! How well two scorers agree, as the dialogs show it.

use super::tokens::Tokens;
use crate::insight::{Likeness, ReadApart, ScorerAgreement};
use crate::model::{Project, plural};
use egui::{Grid, RichText, Ui};

/// The most cells that are listed.
const MOST_LISTED: usize = 12;

/// Draws the figures and the cells that are furthest apart.
pub fn show(ui: &mut Ui, project: &Project, found: &ScorerAgreement) {
    let t = Tokens::of(ui);
    ui.label(RichText::new(found.sentence()).font(t.strong_font()));
    ui.add_space(t.space.small);
    Grid::new("agreement")
        .num_columns(4)
        .spacing([t.space.medium, t.space.tiny])
        .min_row_height(0.0)
        .show(ui, |ui| {
            for head in ["", "the same", "second higher by", "weighted kappa"] {
                ui.label(RichText::new(head).font(t.small_font()).color(t.quiet));
            }
            ui.end_row();
            row(ui, "germinated", &found.germinated, found.cells);
            for (category, likeness) in &found.categories {
                row(ui, category.name(), likeness, found.cells);
            }
            if let Some(vigor) = &found.vigor {
                row(ui, "vigor", vigor, found.cells);
            }
        });
    ui.label(
        RichText::new(
            "Kappa is 1 where both always agree, and 0 where they agree no more than chance would.",
        )
        .font(t.small_font())
        .color(t.quiet),
    );
    if found.apart.is_empty() {
        return;
    }
    ui.add_space(t.space.small);
    ui.label(RichText::new("Furthest apart").font(t.strong_font()));
    for one in found.apart.iter().take(MOST_LISTED) {
        ui.label(apart_text(project, one));
    }
    if found.apart.len() > MOST_LISTED {
        ui.label(format!("and {} more.", found.apart.len() - MOST_LISTED));
    }
}

fn row(ui: &mut Ui, name: &str, likeness: &Likeness, cells: usize) {
    ui.label(name);
    ui.label(format!("{} of {cells}", likeness.same));
    ui.label(format!("{:+.2}", likeness.higher));
    ui.label(
        likeness
            .kappa
            .map_or_else(|| "–".to_owned(), |kappa| format!("{kappa:.2}")),
    );
    ui.end_row();
}

fn apart_text(project: &Project, one: &ReadApart) -> String {
    let place = project.place_name(crate::model::Place::Cell(one.cell));
    let mut by = vec![plural(one.kernels as usize, "kernel")];
    if let Some(vigor) = one.vigor.filter(|vigor| *vigor > 0) {
        by.push(format!("{vigor} of vigor"));
    }
    format!(
        "{place}: {} against {}, {} apart",
        one.first.text(),
        one.second.text(),
        by.join(" and ")
    )
}
