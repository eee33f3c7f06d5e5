//! All seasons of the project side by side, and the beginning of another one.

mod ahead;
mod lines;
mod next;
mod pedigree;
mod report;
mod response;
mod storage;
mod weather;

use crate::insight::SeasonLine;
use crate::model::{Place, Season};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::panes::print_preview::PrintPreview;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::card;
use crate::ui::widgets::segmented::segmented;
use ahead::LookAhead;
use egui::{Align, Grid, Id, Layout, RichText, Ui};
use next::Next;
use pedigree::PedigreePart;
use storage::Store;
use weather::Weather;

/// A part of the pane; one is shown at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Overview,
    Mothers,
    Pedigree,
    Response,
    Weather,
    Storage,
    LookAhead,
}

impl Part {
    /// All in the order of the switch, with their names.
    const ALL: [(Self, &str); 7] = [
        (Self::Overview, "Overview"),
        (Self::Mothers, "Mothers"),
        (Self::Pedigree, "Pedigree"),
        (Self::Response, "Response"),
        (Self::Weather, "Weather"),
        (Self::Storage, "Storage"),
        (Self::LookAhead, "Look ahead"),
    ];
}

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Seasons {
    part: Part,
    next: Next,
    pedigree: PedigreePart,
    store: Store,
    ahead: LookAhead,
    weather: Weather,
    report: Option<PrintPreview>,
}

impl Seasons {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let names = Part::ALL.map(|(_, name)| name);
        let chosen = Part::ALL.iter().position(|(part, _)| *part == self.part);
        let id = Id::unique("part of seasons");
        if let Some(other) = segmented(
            ui,
            id,
            "What is shown of the seasons",
            &names,
            chosen.unwrap_or(0),
        ) {
            self.part = Part::ALL[other].0;
        }
        ui.add_space(t.space.medium);
        if self.weather.take_dropped(ctx) {
            self.part = Part::Weather;
        }
        if self.part == Part::Weather {
            // Its preview of a file has parts of its own that scroll.
            self.weather.ui(ui, ctx);
            return;
        }
        egui::ScrollArea::vertical()
            .id_salt(("seasons", self.part as usize))
            .show(ui, |ui| match (self.part, ctx.season) {
                (Part::Overview, _) => self.overview(ui, ctx),
                (Part::Mothers, _) => lines::ui(ui, ctx),
                (Part::Pedigree, _) => self.pedigree.ui(ui, ctx),
                (Part::Response, _) => response::ui(ui, ctx),
                (Part::Weather, _) => {}
                (Part::Storage, _) => self.store.ui(ui, ctx),
                (Part::LookAhead, Some(season)) => self.ahead.ui(ui, ctx, season),
                (Part::LookAhead, None) => {
                    ui.label("There is no season to look ahead from. Begin one in Overview.");
                }
            });
        if self.report.as_mut().is_some_and(|report| report.show(ui, ctx)) {
            self.report = None;
        }
    }

    /// Draws the project, the table of its seasons and the beginning of the next one.
    fn overview(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
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
            let codes = format!("Its ear codes begin with {}.", project.about.prefix);
            ui.label(RichText::new(codes).color(t.quiet));
        });
        ui.add_space(t.space.medium);
        if project.seasons.is_empty() {
            ui.label("There is no season yet. A season is named by the year of its harvest.");
        } else if let Some(season) = table(ui, ctx, &mut self.next) {
            self.report = Some(report::report(ctx, season));
        }
        ui.add_space(t.space.medium);
        self.next.ui(ui, ctx);
    }

    /// Shows the pedigree with the ear that is chosen.
    pub fn show_pedigree(&mut self) {
        self.part = Part::Pedigree;
        self.pedigree.pick_chosen();
    }

    /// Shows a place of the project that belongs to this pane: the weather, a storage place, or else the overview.
    pub fn go(&mut self, place: Place) {
        self.part = match place {
            Place::Weather(_) => Part::Weather,
            Place::Store(_) => Part::Storage,
            _ => Part::Overview,
        };
        self.store.go(place);
    }
}

/// Draws all seasons; gives the one whose report is wanted.
fn table<'a>(ui: &mut Ui, ctx: &mut PaneCtx<'a>, next: &mut Next) -> Option<&'a Season> {
    let t = Tokens::of(ui);
    let lines = ctx.insight.season_lines(ctx.document);
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
                        "Likely, all ears",
                        "Kept",
                        "Mothers kept",
                        "Planting list",
                        "State",
                        "",
                        "",
                    ] {
                        ui.label(RichText::new(title).font(t.strong_font()));
                    }
                    ui.end_row();
                    for line in lines.iter() {
                        let Some(season) = ctx.document.project().seasons.get(line.season) else {
                            continue;
                        };
                        if row(ui, ctx, season, line, next) {
                            shown = Some(line.season);
                        }
                        let hint = "Its tests, the plot, the choice, the lists and every ear on paper.";
                        let report = ui
                            .button("Report…")
                            .accessible_name(format!("Report of {}…", season.year));
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
fn row(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season, line: &SeasonLine, next: &mut Next) -> bool {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
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
    number(ui, line.ears.to_string());
    number(ui, line.rows.to_string());
    number(ui, line.scored.to_string());
    number(
        ui,
        line.likely_percent
            .map_or_else(|| "not scored".to_owned(), |percent| format!("{percent:.0} %")),
    );
    number(ui, line.kept.to_string());
    number(ui, line.mothers_kept.to_string());
    ui.label(project.list_in_force(season.id).map_or_else(
        || "not frozen".to_owned(),
        |list| format!("list {}, {} ears", list.version, list.entries.len()),
    ));
    next.state_ui(ui, ctx, season);
    if is_shown {
        ui.label("shown now");
        return false;
    }
    ui.button("Show")
        .on_hover_text(format!("Show season {} in all panes", season.year))
        .clicked()
}
