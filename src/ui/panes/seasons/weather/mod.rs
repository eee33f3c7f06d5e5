//! The weather of the grower's place over a season: highs and lows, frost, heat units; taking it from a file or by hand.

mod by_hand;
mod import;
mod plot;

use crate::insight::{FROST_C, SeasonHeat, SeasonWeather, frost_limit_c, temperature};
use crate::model::{About, Command, HEAT_BASE_C, HEAT_CAP_C, Project};
use crate::ui::context::PaneCtx;
use crate::ui::panes::file_look::{Waiting, can_have_temperatures};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{alert, empty_state, primary_button_enabled, section};
use by_hand::ByHand;
use egui::{Grid, Id, Label, RichText, ScrollArea, Ui};
use import::Import;
use plot::Picture;

const CHOOSE: &str = "Take a weather file…";

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Weather {
    waiting: Waiting,
    import: Option<Import>,
    by_hand: ByHand,
    refusals: Vec<String>,
}

impl Weather {
    /// Takes files that were dropped on the window; says whether one of them can be weather.
    pub(super) fn take_dropped(&mut self, ctx: &PaneCtx<'_>) -> bool {
        let before = self.waiting.len();
        let files = ctx.dropped.iter();
        self.waiting
            .add(files.filter(|file| can_have_temperatures(&file.name)));
        self.waiting.len() > before
    }

    /// Draws the part.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        self.take_files(ctx);
        if let Some(import) = &mut self.import {
            if import.ui(ui, ctx, self.waiting.len()) {
                self.import = None;
                ui.request_repaint();
            }
            return;
        }
        ScrollArea::vertical()
            .id_salt("weather")
            .auto_shrink(false)
            .show(ui, |ui| self.body(ui, ctx));
    }

    /// Looks at the files that were opened or dropped, one after another.
    fn take_files(&mut self, ctx: &PaneCtx<'_>) {
        self.waiting.take_opened(ctx);
        if self.import.is_none() {
            self.import = self.waiting.next(ctx, &mut self.refusals, Import::read);
        }
    }

    fn choose(&mut self, ctx: &mut PaneCtx<'_>) {
        self.refusals.clear();
        self.waiting.ask(ctx, "Choose a file with daily highs and lows");
    }

    fn body(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        for refusal in &self.refusals {
            alert(ui, refusal);
        }
        let is_free = ctx.read_only.is_none();
        let project = ctx.document.project();
        if project.weather_days().is_empty() {
            let what = "Export the daily high and low of a station near your field as CSV, a line for each day, and take that file here or drop it on the window. Heat units and frost then follow by themselves.";
            if empty_state(ui, "There is no weather yet", what, is_free.then_some(CHOOSE)) {
                self.choose(ctx);
            }
        } else {
            if primary_button_enabled(ui, is_free, CHOOSE).clicked() {
                self.choose(ctx);
            }
            ui.add_space(t.space.small);
            season(ui, ctx);
        }
        ui.add_space(t.space.medium);
        section(ui, "By hand", |ui| self.by_hand.ui(ui, ctx, is_free));
    }
}

/// The season that is shown, and the seasons beside each other.
fn season(ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
    let Some(season) = ctx.season else {
        ui.label("There is no season yet, so no days are shown. Begin one in Overview.");
        return;
    };
    let view = ctx.insight.season_weather(ctx.document, season);
    let Some(view) = view.as_ref() else { return };
    section(ui, &format!("Season {}", view.year), |ui| {
        if view.days.is_empty() {
            ui.label(no_days(project, view));
        } else {
            let unit = project.about.units.temperature;
            let picture = Picture {
                view,
                unit,
                limit_c: frost_limit_c(project),
            };
            picture.ui(ui, Id::unique(("weather of", view.year)));
            for sentence in &view.sentences {
                ui.add(Label::new(sentence).wrap());
            }
        }
        ui.add_space(t.space.small);
        frost_limit(ui, ctx);
    });
    let heats = ctx.insight.season_heats(ctx.document);
    section(ui, "Seasons beside each other", |ui| {
        compare(ui, project, &heats);
    });
}

/// Why no day is shown although there is weather.
fn no_days(project: &Project, view: &SeasonWeather) -> String {
    let all = project.weather_days().all();
    match (all.first(), all.last()) {
        (Some(first), Some(last)) => format!(
            "The weather that is there, {} to {}, has no day of season {}. Take a file of that year, or show another season.",
            first.on, last.on, view.year
        ),
        _ => String::new(),
    }
}

/// The low from which on ears count as frosted.
fn frost_limit(ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
    let unit = project.about.units.temperature;
    let now = unit.of_celsius(frost_limit_c(project));
    let ends = [-20.0, 5.0].map(|celsius| unit.of_celsius(celsius));
    ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
        let field = NumberField::new(
            Id::unique("frost limit"),
            "Ears still out count as frosted at a low of",
        )
        .unit(unit.sign())
        .range(ends[0]..=ends[1])
        .decimals(1);
        let now = (now * 10.0).round() / 10.0;
        if let Some(limit) = field.show(ui, now) {
            let celsius = (unit.to_celsius(limit) * 100.0).round() / 100.0;
            let frost_c = Some(celsius).filter(|celsius| (celsius - FROST_C).abs() > 1e-9);
            ctx.run(Command::Describe(About {
                frost_c,
                ..project.about.clone()
            }));
        }
    });
    let text = format!(
        "or lower. Usually {}; a thermometer that hangs above the ears may read a little more than they have.",
        temperature(FROST_C, unit)
    );
    ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
}

/// The seasons in days and in heat units.
fn compare(ui: &mut Ui, project: &Project, heats: &[SeasonHeat]) {
    let t = Tokens::of(ui);
    let sign = project.about.units.temperature.sign();
    ScrollArea::horizontal()
        .id_salt("seasons in heat units")
        .show(ui, |ui| {
            Grid::new("seasons in heat units")
                .striped(true)
                .spacing([t.space.large, t.space.small])
                .show(ui, |ui| {
                    let heat = format!("Heat units, {sign} days");
                    for title in [
                        "Season",
                        "To half silk, days",
                        &heat,
                        "Rows",
                        "To maturity, days",
                        &heat,
                        "Ears",
                    ] {
                        ui.label(RichText::new(title).font(t.strong_font()));
                    }
                    ui.end_row();
                    for one in heats {
                        ui.label(one.year.to_string());
                        for mean in [&one.silk, &one.maturity] {
                            let none = || "–".to_owned();
                            ui.label(mean.days.map_or_else(none, |days| format!("{days:.1}")));
                            let heat = mean.heat_c.map(|heat| {
                                let heat = project.about.units.temperature.difference_of_celsius(heat);
                                format!("{heat:.0}")
                            });
                            ui.label(heat.unwrap_or_else(none));
                            ui.label(if mean.with_heat == mean.with_days {
                                mean.with_days.to_string()
                            } else {
                                format!("{}, with heat units {}", mean.with_days, mean.with_heat)
                            });
                        }
                        ui.end_row();
                    }
                });
        });
    let unit = project.about.units.temperature;
    let text = format!(
        "Means of the rows and ears of which it is known. Heat units of a day: its high and low, each first brought within {} and {}, their mean less {}; summed from the day after planting.",
        temperature(HEAT_BASE_C, unit),
        temperature(HEAT_CAP_C, unit),
        temperature(HEAT_BASE_C, unit)
    );
    ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
}
