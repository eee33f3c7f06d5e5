//! What the seasons brought: the population beside the check, what of the selection was realised, what came along unasked.

mod plot;

use crate::insight::{Course, Response};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{card, empty_state};
use egui::{Align, Grid, Label, Layout, RichText, ScrollArea, Ui};

/// Draws the part.
pub(super) fn ui(ui: &mut Ui, ctx: &PaneCtx<'_>) {
    let response = ctx.insight.response(ctx.document);
    let t = Tokens::of(ui);
    if response.scored_seasons() == 0 {
        empty_state(
            ui,
            "No season is scored yet",
            &response.sentences().join(" "),
            None,
        );
        return;
    }
    card(ui, |ui| {
        heading(ui, "Cold germination over the seasons");
        said(ui, response.sentences());
        if response.scored_seasons() > 1 {
            ui.add_space(t.space.small);
            plot::ui(ui, &response);
            ui.add_space(t.space.small);
            seasons(ui, &response);
        }
    });
    let lots = response.lot_sentences();
    let realised = response.realised_sentences();
    for (title, sentences) in [
        ("What of the selection was realised", realised),
        ("The check lot itself", lots),
    ] {
        if !sentences.is_empty() {
            ui.add_space(t.space.medium);
            card(ui, |ui| {
                heading(ui, title);
                said(ui, sentences);
            });
        }
    }
    if !response.traits.is_empty() {
        ui.add_space(t.space.medium);
        card(ui, |ui| {
            heading(ui, "What came along");
            said(ui, response.drift_sentences());
            ui.add_space(t.space.small);
            drift(ui, &response);
        });
    }
    let assumptions = response.assumptions();
    if !assumptions.is_empty() {
        ui.add_space(t.space.medium);
        card(ui, |ui| {
            heading(ui, "How this is reckoned");
            said(ui, assumptions);
        });
    }
}

fn heading(ui: &mut Ui, text: &str) {
    let t = Tokens::of(ui);
    ui.label(RichText::new(text).font(t.heading_font()));
    ui.add_space(t.space.tiny);
}

fn said(ui: &mut Ui, sentences: Vec<String>) {
    for sentence in sentences {
        ui.add(Label::new(sentence).wrap());
    }
}

fn titles(ui: &mut Ui, titles: &[&str]) {
    let t = Tokens::of(ui);
    for title in titles {
        ui.label(RichText::new(*title).font(t.strong_font()));
    }
    ui.end_row();
}

fn number(ui: &mut Ui, text: impl Into<String>) {
    let text = text.into();
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.label(text));
}

/// The seasons one by one, with the figures of the plot.
fn seasons(ui: &mut Ui, response: &Response) {
    let t = Tokens::of(ui);
    ScrollArea::horizontal()
        .id_salt("seasons of the response")
        .show(ui, |ui| {
            Grid::new("seasons of the response")
                .striped(true)
                .spacing([t.space.large, t.space.tiny])
                .show(ui, |ui| {
                    titles(
                        ui,
                        &[
                            "Season",
                            "Ears",
                            "As counted",
                            "95 %",
                            "Check lot",
                            "Beside the check",
                            "Change since the first, 95 %",
                            "Selected",
                            "Realised heritability of its list",
                        ],
                    );
                    for line in response.lines() {
                        ui.label(line.year.to_string());
                        for text in [line.ears, line.counted, line.counted_95, line.check, line.beside] {
                            number(ui, text);
                        }
                        for text in [line.since, line.selected, line.realised] {
                            number(ui, text);
                        }
                        ui.end_row();
                    }
                });
        });
}

/// Everything else that is followed, season by season, with what changed.
fn drift(ui: &mut Ui, response: &Response) {
    let t = Tokens::of(ui);
    ScrollArea::horizontal().id_salt("drift").show(ui, |ui| {
        Grid::new("drift")
            .striped(true)
            .spacing([t.space.large, t.space.tiny])
            .show(ui, |ui| {
                let years: Vec<String> = response
                    .seasons
                    .iter()
                    .map(|(_, year)| year.to_string())
                    .collect();
                let mut head = vec!["What"];
                head.extend(years.iter().map(String::as_str));
                head.extend(["Change, 95 %", "In SD", "Beside a check", "Asked for"]);
                titles(ui, &head);
                for course in &response.traits {
                    row(ui, course);
                    ui.end_row();
                }
            });
    });
}

fn row(ui: &mut Ui, course: &Course) {
    let t = Tokens::of(ui);
    ui.label(&course.name);
    for mean in &course.means {
        let mean = mean.map(|mean| course.mean_text(mean.mean.value));
        number(ui, mean.unwrap_or_else(|| "–".to_owned()));
    }
    let ends = course.ends();
    let raw = ends.and_then(|(first, last)| course.raw_change(first, last));
    number(ui, raw.map_or_else(String::new, |raw| course.change_text(raw)));
    let deviations = course.deviations();
    number(
        ui,
        deviations.map_or_else(String::new, |one| format!("{one:+.2}")),
    );
    let beside = ends.and_then(|(first, last)| course.change(first, last));
    number(
        ui,
        beside.map_or_else(|| "no common check".to_owned(), |one| course.change_text(one)),
    );
    let asked = course.asked_text();
    if course.came_along() {
        ui.label(RichText::new(format!("⚠ {asked}")).color(t.warn));
    } else {
        ui.label(asked);
    }
}
