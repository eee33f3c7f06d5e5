//! All seasons of the project side by side, and the beginning of another one.

mod ahead;
mod report;

use crate::model::{Command, Cutoffs, Place, Season};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{card, primary_button_enabled};
use ahead::LookAhead;
use egui::{Align, Grid, Layout, RichText, TextEdit, Ui};
use report::Report;

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Seasons {
    year: String,
    ahead: LookAhead,
    report: Option<Report>,
}

impl Seasons {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        egui::ScrollArea::vertical().show(ui, |ui| {
            card(ui, |ui| {
                ui.label(RichText::new(&project.about.name).font(t.title_font()));
                for (name, text) in [
                    ("", &project.about.population),
                    ("Grown by ", &project.about.grower),
                    ("Rules that came with the seed: ", &project.about.restrictions),
                ] {
                    if !text.is_empty() {
                        ui.label(format!("{name}{text}"));
                    }
                }
                ui.label(
                    RichText::new(format!("Its ear codes begin with {}.", project.about.prefix))
                        .color(t.quiet),
                );
            });
            ui.add_space(t.space.medium);
            if project.seasons.is_empty() {
                ui.label("There is no season yet. A season is named by the year of its harvest.");
            } else if let Some(season) = table(ui, ctx) {
                self.report = Some(Report::new(season));
            }
            ui.add_space(t.space.medium);
            self.begin(ui, ctx);
            if let Some(season) = ctx.season {
                ui.add_space(t.space.medium);
                self.ahead.ui(ui, ctx, season);
            }
        });
        if self.report.as_mut().is_some_and(|report| report.show(ui, ctx)) {
            self.report = None;
        }
    }

    fn begin(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        card(ui, |ui| {
            ui.label(RichText::new("Begin a season").font(t.heading_font()));
            ui.label("A season has the year of its harvest as its name. Earlier seasons stay as they are.");
            let next = ctx
                .document
                .project()
                .latest_season()
                .map(|season| season.year + 1);
            let proposed = next.unwrap_or_else(|| ctx.today.year());
            ui.horizontal(|ui| {
                let label = ui.label("Year of the harvest");
                let field = TextEdit::singleline(&mut self.year)
                    .desired_width(80.0)
                    .hint_text(proposed.to_string());
                ui.add(field).labelled_by(label.id);
                let year: Option<i16> = match self.year.trim() {
                    "" => Some(proposed),
                    typed => typed.parse().ok(),
                };
                let may = year.is_some() && ctx.read_only.is_none();
                if primary_button_enabled(ui, may, "Begin the season").clicked()
                    && let Some(year) = year
                {
                    ctx.run(Command::AddSeason { year, planted: None });
                    self.year.clear();
                }
            });
        });
    }

    /// Shows a place of the project that belongs to this pane: it has only one page.
    pub fn go(&mut self, _place: Place) {}
}

/// Draws all seasons; gives the one whose report is wanted.
fn table<'a>(ui: &mut Ui, ctx: &mut PaneCtx<'a>) -> Option<&'a Season> {
    let t = Tokens::of(ui);
    let mut seasons: Vec<&Season> = ctx.document.project().seasons.iter().collect();
    seasons.sort_by_key(|season| std::cmp::Reverse(season.year));
    let (mut shown, mut wanted) = (None, None);
    egui::ScrollArea::horizontal()
        .id_salt("season table")
        .show(ui, |ui| {
            Grid::new("seasons")
                .striped(true)
                .spacing([t.space.large, t.space.small])
                .show(ui, |ui| {
                    for title in [
                        "Season",
                        "Planted",
                        "Ears",
                        "Mother rows",
                        "Scored",
                        "Likely germination of all",
                        "Kept",
                        "Mothers kept",
                        "Planting list",
                        "",
                        "",
                    ] {
                        ui.label(RichText::new(title).font(t.strong_font()));
                    }
                    ui.end_row();
                    for season in seasons {
                        if row(ui, ctx, season) {
                            shown = Some(season.id);
                        }
                        let hint = "Its tests, the plot, the choice, the lists and every ear on paper.";
                        let report = ui.button(format!("Report of {}…", season.year));
                        if report.on_hover_text(hint).clicked() {
                            wanted = Some(season);
                        }
                        ui.end_row();
                    }
                });
        });
    if let Some(season) = shown {
        ctx.act(Action::ShowSeason(season));
    }
    wanted
}

/// Draws one season; says whether it is to be shown.
fn row(ui: &mut Ui, ctx: &PaneCtx<'_>, season: &Season) -> bool {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
    let cutoffs: Cutoffs = project
        .selection_of(season.id)
        .map(|one| one.cutoffs.clone())
        .unwrap_or_default();
    let choice = ctx.insight.choice(ctx.document, season.id, &cutoffs);
    let summary = &choice.summary;
    let number = |ui: &mut Ui, text: String| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.label(text));
    };
    let is_shown = ctx.season == Some(season.id);
    let year = season.year.to_string();
    ui.label(if is_shown {
        RichText::new(year).font(t.strong_font())
    } else {
        RichText::new(year)
    });
    ui.label(
        season
            .planted
            .map_or_else(|| "not noted".to_owned(), |day| day.to_string()),
    );
    number(ui, summary.ears.to_string());
    number(ui, project.rows_of(season.id).count().to_string());
    let scored = ctx.insight.estimates(ctx.document, season.id).scored();
    number(ui, scored.to_string());
    let likely = summary.likely_percent.all;
    number(
        ui,
        likely.map_or_else(|| "not scored".to_owned(), |percent| format!("{percent:.0} %")),
    );
    number(ui, summary.kept.to_string());
    number(ui, summary.mothers_kept.to_string());
    ui.label(project.list_in_force(season.id).map_or_else(
        || "not frozen".to_owned(),
        |list| format!("list {}, {} ears", list.version, list.entries.len()),
    ));
    if is_shown {
        ui.label("shown now");
        return false;
    }
    ui.button("Show")
        .on_hover_text(format!("Show season {} in all panes", season.year))
        .clicked()
}
