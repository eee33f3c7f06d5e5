//! The days of a test in its trays: temperatures, water and moves.

mod event_form;
mod import;
mod log_form;
mod plot;

use crate::insight::{ColdDays, TrayDays, hours, minute, stood_text, temperature};
use crate::model::{
    Command, EventId, EventKind, HEAT_BASE_C, HEAT_CAP_C, LogId, Project, TemperatureUnit, Test, TestId,
    TrayEvent, plural, read_number, read_trays, sentence,
};
use crate::ui::context::{PaneCtx, Tone};
use crate::ui::panes::file_look::{Waiting, can_have_temperatures};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{CellMark, Grid, GridColumn, GridSource, GridState};
use crate::ui::widgets::parts::{primary_button_enabled, section};
use egui::{Button, Id, Label, Response, RichText, Role, ScrollArea, TextEdit, Ui, WidgetInfo, vec2};
use event_form::EventForm;
use import::Import;
use log_form::EditLog;
use plot::Picture;
use std::borrow::Cow;

/// So many of the things noted last are shown, until all are asked for.
const NOTED: usize = 20;
/// The most rows of the table of trays that are shown without scrolling.
const ROWS: usize = 14;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct ColdDaysPart {
    is_open: bool,
    waiting: Waiting,
    import: Option<Import>,
    edit: Option<EditLog>,
    event: Option<EventForm>,
    /// Numbers of the trays that something is noted of; empty for all.
    trays: String,
    ml: String,
    place: String,
    shows_all_noted: bool,
    grid: GridState,
    refusals: Vec<String>,
}

impl ColdDaysPart {
    pub(super) fn is_open(&self) -> bool {
        self.is_open
    }

    pub(super) fn set_open(&mut self, is_open: bool) {
        self.is_open = is_open;
        self.waiting.clear();
        (self.import, self.edit, self.event) = (None, None, None);
        self.refusals.clear();
    }

    /// Takes files that were dropped on the window, and opens for those that can be from a logger.
    pub(super) fn take_dropped(&mut self, ctx: &PaneCtx<'_>) {
        self.is_open |= ctx.dropped.iter().any(|file| can_have_temperatures(&file.name));
        if self.is_open {
            self.waiting.add(ctx.dropped.iter());
        }
    }

    /// Draws the days of a test.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: TestId) {
        let Some(record) = ctx.document.project().tests.get(test) else {
            return;
        };
        self.take_files(ctx);
        if let Some(import) = &mut self.import {
            if import.ui(ui, ctx, test, self.waiting.len()) {
                self.import = None;
                ui.request_repaint();
            }
            return;
        }
        if let Some(edit) = &mut self.edit {
            if edit.ui(ui, ctx) {
                self.edit = None;
                ui.request_repaint();
            }
            return;
        }
        ScrollArea::vertical()
            .id_salt("cold days")
            .auto_shrink(false)
            .show(ui, |ui| self.body(ui, ctx, record));
        if let Some(event) = &mut self.event
            && event.ui(ui, ctx, test)
        {
            self.event = None;
        }
    }

    /// Looks at the files that were opened or dropped, one after another.
    fn take_files(&mut self, ctx: &PaneCtx<'_>) {
        self.waiting.take_opened(ctx);
        if self.edit.is_none() && self.event.is_none() && self.import.is_none() {
            self.import = self.waiting.next(ctx, &mut self.refusals, Import::read);
        }
    }

    fn body(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test) {
        let t = Tokens::of(ui);
        let days = ctx.insight.cold_days(ctx.document, test.id);
        let is_free = ctx.read_only.is_none();
        for refusal in &self.refusals {
            super::alert(ui, refusal);
        }
        self.buttons(ui, ctx, test.id, is_free);
        ui.add_space(t.space.small);
        let unit = ctx.document.project().about.units.temperature;
        if days.figures.lines.is_empty() {
            let text = "There is no temperature log of this test yet. Add the file of a logger, or drop it on the window; several files are looked at one after another. Water, moves and turns can be noted without one.";
            ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
        } else {
            let picture = Picture {
                figures: &days.figures,
                counts: &days.counts,
                events: &days.events,
                unit,
            };
            picture.ui(ui, Id::unique("cold days"));
            for finding in &days.findings {
                let text = format!("⚠ {} {}", finding.sentence, finding.remedy);
                ui.add(Label::new(RichText::new(text.trim_end()).color(t.warn)).wrap());
            }
            ui.add_space(t.space.small);
            section(ui, "Each tray", |ui| {
                self.table(ui, ctx.document.project(), &days, unit);
            });
        }
        section(ui, "Logs", |ui| self.logs(ui, ctx, &days, is_free));
        section(ui, "Noted", |ui| self.events(ui, ctx, &days, is_free));
    }

    /// Adding a log, and noting the usual with one click.
    fn buttons(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: TestId, is_free: bool) {
        ui.horizontal_wrapped(|ui| {
            if primary_button_enabled(ui, is_free, "Add a temperature log").clicked() {
                self.refusals.clear();
                self.waiting.ask(ctx, "Choose the file of a temperature logger");
            }
        });
        ui.horizontal_wrapped(|ui| {
            let field = |ui: &mut Ui, word: &str, text: &mut String, hint: &str, width: f32| {
                let label = ui.label(word);
                let field = TextEdit::singleline(text).desired_width(width).hint_text(hint);
                ui.add(field).labelled_by(label.id);
            };
            let mut asked = None;
            let click = |ui: &mut Ui, word: &str| ui.add_enabled(is_free, Button::new(word)).clicked();
            field(ui, "Of trays", &mut self.trays, "all", 70.0);
            field(ui, "ml for each", &mut self.ml, "–", 44.0);
            if click(ui, "Watered now") {
                asked = Some(self.water());
            }
            field(ui, "place", &mut self.place, "shelf, floor", 110.0);
            if click(ui, "Moved now") {
                let to = self.place.trim().to_owned();
                asked = Some(Ok(EventKind::Moved { to }));
            }
            if click(ui, "Turned now") {
                asked = Some(Ok(EventKind::Turned));
            }
            if click(ui, "Note something…") {
                self.event = Some(EventForm::new(ctx.now, &self.trays));
            }
            match asked {
                None => {}
                Some(Ok(kind)) => self.note(ctx, test, kind),
                Some(Err(problem)) => self.refusals = vec![problem],
            }
        });
    }

    fn water(&self) -> Result<EventKind, String> {
        let ml = match self.ml.trim() {
            "" => None,
            ml => Some(read_number("the water in ml", ml).map_err(|fault| sentence(&fault.to_string()))?),
        };
        Ok(EventKind::Watered { ml })
    }

    fn note(&mut self, ctx: &mut PaneCtx<'_>, test: TestId, kind: EventKind) {
        match read_trays(ctx.document.project(), test, &self.trays) {
            Ok(trays) => {
                self.refusals.clear();
                ctx.run(Command::AddEvent(TrayEvent {
                    id: EventId(0),
                    test,
                    trays,
                    at: ctx.now,
                    kind,
                    note: String::new(),
                }));
            }
            Err(fault) => self.refusals = vec![sentence(&fault.to_string())],
        }
    }

    fn table(&mut self, ui: &mut Ui, project: &Project, days: &ColdDays, unit: TemperatureUnit) {
        let t = Tokens::of(ui);
        let source = TrayRows::new(project, days, unit);
        let rows = (source.rows().min(ROWS) + 1) as f32 + 0.3;
        let size = vec2(ui.available_width(), rows * t.row_height);
        ui.allocate_ui(size, |ui| {
            // Nothing can be changed here: the grid's events ask for nothing.
            drop(
                Grid::new(Id::unique("cold days of each tray"), "Temperatures of each tray")
                    .row_numbers(false)
                    .show(ui, &mut self.grid, &source),
            );
        });
        let text = format!(
            "A log of fewer trays goes before one of more trays; that one does not fill in before the first or behind the last reading of a tray's own log, unless that log has a time typed there. Heat is counted over {} and none above {}. ⚠ marks a tray that stood apart.",
            temperature(HEAT_BASE_C, unit),
            temperature(HEAT_CAP_C, unit)
        );
        ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
    }

    fn logs(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, days: &ColdDays, is_free: bool) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let unit = project.about.units.temperature;
        if days.figures.lines.is_empty() {
            ui.label(RichText::new("None yet.").color(t.quiet));
        }
        let mut removed: Option<(LogId, String)> = None;
        for line in &days.figures.lines {
            let Some(log) = project.logs.get(line.log) else {
                continue;
            };
            let stood = stood_text(project, log);
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(format!("{}: {}", line.name, stood)).font(t.strong_font()));
                let text = format!(
                    "{}, {} to {}, {} to {}",
                    plural(line.readings, "reading"),
                    minute(line.from),
                    minute(line.to),
                    temperature(line.lowest_c, unit),
                    temperature(line.highest_c, unit)
                );
                ui.label(RichText::new(text).color(t.quiet));
                if named_button(ui, is_free, "Change…", &format!("Change log {}", line.name)).clicked() {
                    self.edit = Some(EditLog::new(project, log));
                }
                if named_button(ui, is_free, "Remove", &format!("Remove log {}", line.name)).clicked() {
                    removed = Some((line.log, line.name.clone()));
                }
            });
        }
        if let Some((log, name)) = removed {
            ctx.run(Command::RemoveLog(log));
            ctx.notice(Tone::Well, format!("Log {name} is removed; Undo brings it back."));
        }
    }

    fn events(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, days: &ColdDays, is_free: bool) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        if days.events.is_empty() {
            ui.label(RichText::new("Nothing yet.").color(t.quiet));
        }
        let hidden = if self.shows_all_noted {
            0
        } else {
            days.events.len().saturating_sub(NOTED)
        };
        if hidden > 0 && ui.button(format!("Show {hidden} earlier")).clicked() {
            self.shows_all_noted = true;
        }
        let mut removed = None;
        for event in &days.events[hidden..] {
            ui.horizontal_wrapped(|ui| {
                let text = format!("{}  {}: {}", minute(event.at), event.trays, event.what);
                ui.label(&text);
                if named_button(ui, is_free, "Change…", &format!("Change {text}")).clicked()
                    && let Some(record) = project.events.get(event.event)
                {
                    self.event = Some(EventForm::of(project, record));
                }
                if named_button(ui, is_free, "Remove", &format!("Remove {text}")).clicked() {
                    removed = Some(event.event);
                }
            });
        }
        if let Some(event) = removed {
            ctx.run(Command::RemoveEvent(event));
            ctx.notice(Tone::Well, "The note is removed; Undo brings it back.");
        }
    }
}

/// A button with a short word whose name tells what it is about.
fn named_button(ui: &mut Ui, enabled: bool, word: &str, name: &str) -> Response {
    let button = ui.add_enabled(enabled, Button::new(word));
    button.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, name));
    button
}

/// The trays with their figures, a row each.
struct TrayRows<'a> {
    project: &'a Project,
    days: &'a ColdDays,
    unit: TemperatureUnit,
    columns: Vec<GridColumn>,
}

impl<'a> TrayRows<'a> {
    fn new(project: &'a Project, days: &'a ColdDays, unit: TemperatureUnit) -> Self {
        let sign = unit.sign();
        let number = |title: &str, width: f32| GridColumn::new(title).number().read_only().width(width);
        let columns = vec![
            number("Tray", 64.0).frozen(),
            number(&format!("Mean {sign}"), 84.0).hint("The mean of its days, weighted by time"),
            number("Lowest", 78.0),
            number("Highest", 80.0),
            number("Beside others", 122.0)
                .hint("How much warmer its cold days were than those of the other trays"),
            number("Germinated", 112.0)
                .hint("What the tray did to its ears by the main model, in percent points"),
            number("In band", 80.0).hint("Part of the known hours in the band of the recipe"),
            number("Hours known", 126.0).hint("Hours of its days of which the temperature is known"),
            number(&format!("Heat, {sign} days"), 126.0)
                .hint("Degrees over the base of the heat sum, times days"),
            number("Gaps", 70.0).hint("Times of more than three hours of which nothing is known"),
            GridColumn::new("By the log")
                .read_only()
                .hint("Which logs tell of it, the one that counts first at the beginning"),
        ];
        Self {
            project,
            days,
            unit,
            columns,
        }
    }

    /// How the ears of a tray did beside those of the others.
    fn effect(&self, tray: &TrayDays) -> String {
        match self.days.effects.get(&tray.tray) {
            None => "–".to_owned(),
            Some(effect) if effect.is_clear() => format!("{:+.0} points", effect.points),
            Some(_) => "as the others".to_owned(),
        }
    }

    fn logs(&self, tray: &TrayDays) -> String {
        let names = tray.logs.iter().filter_map(|log| self.project.logs.get(*log));
        names.map(|log| log.name.as_str()).collect::<Vec<_>>().join(", ")
    }
}

impl GridSource for TrayRows<'_> {
    fn rows(&self) -> usize {
        self.days.figures.trays.len()
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let Some(tray) = self.days.figures.trays.get(row) else {
            return "".into();
        };
        let zero = self.unit.of_celsius(0.0);
        let degrees = |celsius: f64| format!("{:.1}", self.unit.of_celsius(celsius));
        let difference = |celsius: f64| self.unit.of_celsius(celsius) - zero;
        let known = tray.figures;
        let said = match col {
            0 => Some(tray.number.to_string()),
            1 => known.map(|one| degrees(one.mean_c)),
            2 => known.map(|one| degrees(one.lowest_c)),
            3 => known.map(|one| degrees(one.highest_c)),
            4 => tray.above_others_c.map(|by| format!("{:+.1}", difference(by))),
            5 => Some(self.effect(tray)),
            6 => known.map(|one| format!("{:.0} %", one.in_band_percent())),
            7 => known.map(|one| hours(one.known_hours)),
            8 => known.map(|one| format!("{:.1}", difference(one.heat_c_days))),
            9 => Some(tray.gaps.len().to_string()),
            _ => Some(self.logs(tray)),
        };
        said.unwrap_or_else(|| "–".to_owned()).into()
    }

    fn mark(&self, row: usize, col: usize) -> Option<CellMark> {
        let tray = self.days.figures.trays.get(row)?;
        match col {
            0 if tray.is_apart => {
                let text = "Its cold days were clearly warmer or colder than those of the others.".to_owned();
                Some(CellMark { text })
            }
            9 if !tray.gaps.is_empty() => {
                let gaps: Vec<String> = tray.gaps.iter().map(|gap| gap.text()).collect();
                Some(CellMark {
                    text: format!("Nothing is known from {}.", gaps.join("; ")),
                })
            }
            _ => None,
        }
    }
}
