//! The figures of each season of the pedigree: a table, the sentences of one season, its founders.

use crate::insight::{MeanKin, Pedigree, PedigreeSeason, percent_range};
use crate::model::{SeasonId, plural};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::card;
use egui::{Align, Grid, Label, Layout, RichText, ScrollArea, Ui};

/// Founders that are shown one by one.
const MOST_SHOWN: usize = 12;
/// What the columns of the table are.
const COLUMNS: [&str; 9] = [
    "Season",
    "Families",
    "As equal families",
    "Mother rows",
    "As equal mother rows",
    "Coancestry of plants",
    "Inbreeding of plants",
    "Lines of mothers",
    "Lost after it",
];

/// Draws the card. The sentences are of the season that is shown in the window, or else of the last.
pub(super) fn ui(ui: &mut Ui, pedigree: &Pedigree, season: Option<SeasonId>) {
    let t = Tokens::of(ui);
    card(ui, |ui| {
        ui.label(RichText::new("Diversity by season").font(t.heading_font()));
        ScrollArea::horizontal()
            .id_salt("diversity by season")
            .show(ui, |ui| table(ui, pedigree));
        if let Some(refusal) = &pedigree.refusal {
            ui.add(Label::new(refusal).wrap());
        }
        let shown = pedigree.seasons.iter().find(|one| Some(one.season) == season);
        let Some(shown) = shown.or(pedigree.seasons.last()) else {
            return;
        };
        for sentence in shown.figures.sentences(shown.year) {
            ui.add(Label::new(sentence).wrap());
        }
        founders(ui, shown);
        let hint = "Coancestry and inbreeding run from unrelated pollen to pollen of the season's own rows wherever the \
                    pollen is not stated, counted from the first season: founders are taken as unrelated.";
        ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
    });
}

fn table(ui: &mut Ui, pedigree: &Pedigree) {
    let t = Tokens::of(ui);
    Grid::new("diversity by season")
        .striped(true)
        .spacing([t.space.large, t.space.tiny])
        .show(ui, |ui| {
            for title in COLUMNS {
                ui.label(RichText::new(title).font(t.strong_font()));
            }
            ui.end_row();
            for season in &pedigree.seasons {
                let figures = &season.figures;
                let size =
                    |size: Option<f64>| size.map_or_else(|| "–".to_owned(), |size| format!("{size:.1}"));
                let kin =
                    |of: fn(&MeanKin) -> String| figures.plants.as_ref().map_or_else(|| "–".to_owned(), of);
                let mothers = match figures.mothers {
                    0 => "not known".to_owned(),
                    many => many.to_string(),
                };
                ui.label(season.year.to_string());
                for text in [
                    figures.families.to_string(),
                    size(figures.effective_families),
                    mothers,
                    size(figures.effective_mothers),
                    kin(MeanKin::coancestry_text),
                    kin(MeanKin::inbreeding_text),
                    figures.lines.to_string(),
                    figures.lost_after.len().to_string(),
                ] {
                    ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.label(text));
                }
                ui.end_row();
            }
        });
}

/// The founders of the seed of one season.
fn founders(ui: &mut Ui, season: &PedigreeSeason) {
    let t = Tokens::of(ui);
    let figures = &season.figures;
    if figures.founders.is_empty() {
        return;
    }
    ui.add_space(t.space.small);
    let title = format!("What founders gave to the seed of {}", season.year);
    ui.label(RichText::new(title).font(t.strong_font()));
    Grid::new("founders")
        .striped(true)
        .spacing([t.space.large, t.space.tiny])
        .show(ui, |ui| {
            let share = |ui: &mut Ui, share: [f64; 2]| {
                ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                    ui.label(percent_range(share))
                });
            };
            for founder in figures.founders.iter().take(MOST_SHOWN) {
                ui.label(&founder.name);
                share(ui, founder.share);
                ui.label(if founder.is_over_represented() {
                    RichText::new("⚠ over-represented").color(t.warn)
                } else {
                    RichText::new("")
                });
                ui.end_row();
            }
            ui.label("unrelated pollen");
            share(ui, figures.unrelated_pollen);
            ui.label("");
            ui.end_row();
        });
    if figures.founders.len() > MOST_SHOWN {
        let more = figures.founders.len() - MOST_SHOWN;
        ui.label(RichText::new(format!("And {} more.", plural(more, "founder"))).color(t.quiet));
    }
}
