//! The days of a test in its trays: temperatures, water and moves.

mod import;

use crate::insight::{ColdDays, HEAT_BASE_C, hours, minute};
use crate::model::{
    Command, EventId, EventKind, LogId, TemperatureUnit, Test, TestId, TrayEvent, read_trays, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{primary_button_enabled, section};
use egui::{Grid, Label, RichText, ScrollArea, TextEdit, Ui, vec2};
use egui_plot::{HLine, Line, LineStyle, Plot, PlotPoints, Polygon, VLine};
use import::Import;

/// Height of the plot in points.
const PLOT_HEIGHT: f32 = 260.0;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct ColdDaysPart {
    is_open: bool,
    asked: Option<Ticket>,
    import: Option<Import>,
    /// Numbers of the trays that something is noted of; empty for all.
    trays: String,
    refusal: Option<String>,
}

impl ColdDaysPart {
    pub(super) fn is_open(&self) -> bool {
        self.is_open
    }

    pub(super) fn set_open(&mut self, is_open: bool) {
        self.is_open = is_open;
        self.import = None;
        self.refusal = None;
    }

    /// Draws the days of a test.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: TestId) {
        let Some(record) = ctx.document.project().tests.get(test) else {
            return;
        };
        let opened = self
            .asked
            .and_then(|ticket| ctx.opened(ticket))
            .or(ctx.dropped.first());
        if let Some(file) = opened {
            self.asked = None;
            match Import::read(file, test) {
                Ok(import) => self.import = Some(import),
                Err(problem) => self.refusal = Some(problem),
            }
        }
        ScrollArea::vertical()
            .id_salt("cold days")
            .auto_shrink(false)
            .show(ui, |ui| {
                if let Some(import) = &mut self.import {
                    if import.ui(ui, ctx) {
                        self.import = None;
                    }
                    return;
                }
                self.body(ui, ctx, record);
            });
    }

    fn body(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test) {
        let t = Tokens::of(ui);
        let days = ctx.insight.cold_days(ctx.document, test.id);
        let is_free = ctx.read_only.is_none();
        if let Some(refusal) = &self.refusal {
            super::alert(ui, refusal);
        }
        ui.horizontal_wrapped(|ui| {
            if primary_button_enabled(ui, is_free, "Add a temperature log").clicked() {
                self.refusal = None;
                let title = "Choose the file of a temperature logger";
                self.asked = Some(ctx.open_file(title, &["csv", "txt", "tsv"]));
            }
            let label = ui.label("Note of trays (all when empty)");
            let field = TextEdit::singleline(&mut self.trays)
                .desired_width(90.0)
                .hint_text("1-3, 7");
            ui.add(field).labelled_by(label.id);
            for (word, kind) in [
                ("Watered now", EventKind::Watered { ml: None }),
                ("Turned now", EventKind::Turned),
            ] {
                if ui.add_enabled(is_free, egui::Button::new(word)).clicked() {
                    self.note(ctx, test.id, kind);
                }
            }
        });
        ui.add_space(t.space.small);
        if days.figures.lines.is_empty() {
            let text = "There is no temperature log of this test yet. Add the file of a logger, or drop it on the window.";
            ui.label(RichText::new(text).color(t.quiet));
        } else {
            plot(ui, &days, ctx.document.project().about.units.temperature);
            for finding in &days.findings {
                let text = format!("⚠ {} {}", finding.sentence, finding.remedy);
                ui.add(Label::new(RichText::new(text.trim_end()).color(t.warn)).wrap());
            }
            ui.add_space(t.space.small);
            section(ui, "Each tray", |ui| {
                table(ui, &days, ctx.document.project().about.units.temperature);
            });
        }
        section(ui, "Logs", |ui| logs(ui, ctx, &days, is_free));
        section(ui, "Noted", |ui| events(ui, ctx, &days, is_free));
    }

    fn note(&mut self, ctx: &mut PaneCtx<'_>, test: TestId, kind: EventKind) {
        match read_trays(ctx.document.project(), test, &self.trays) {
            Ok(trays) => {
                self.refusal = None;
                ctx.run(Command::AddEvent(TrayEvent {
                    id: EventId(0),
                    test,
                    trays,
                    at: ctx.now,
                    kind,
                    note: String::new(),
                }));
            }
            Err(fault) => self.refusal = Some(sentence(&fault.to_string())),
        }
    }
}

fn plot(ui: &mut Ui, days: &ColdDays, unit: TemperatureUnit) {
    let t = Tokens::of(ui);
    let marks = t.marks();
    let styles = [
        LineStyle::Solid,
        LineStyle::dashed_loose(),
        LineStyle::dotted_loose(),
    ];
    let sign = unit.sign();
    Plot::new("cold days")
        .height(PLOT_HEIGHT)
        .allow_scroll(false)
        .legend(egui_plot::Legend::default())
        .x_axis_label("days after laying")
        .y_axis_label(sign)
        .show(ui, |plot| {
            for stage in &days.figures.stages {
                let (low, high) = (unit.of_celsius(stage.low_c), unit.of_celsius(stage.high_c));
                let corners = vec![
                    [stage.from_day, low],
                    [stage.to_day, low],
                    [stage.to_day, high],
                    [stage.from_day, high],
                ];
                plot.polygon(
                    Polygon::new("band of the recipe", PlotPoints::from(corners))
                        .fill_color(t.selection.gamma_multiply(0.6))
                        .stroke(egui::Stroke::new(1.0, t.line))
                        .allow_hover(false),
                );
            }
            for count in &days.counts {
                if let Some(day) = days.day_of(count.on.at(18, 0, 0, 0)) {
                    plot.vline(
                        VLine::new(format!("{} count", count.pass), day)
                            .color(t.mark_neutral)
                            .width(1.0),
                    );
                }
            }
            for event in &days.events {
                if let Some(day) = days.day_of(event.at) {
                    let style = LineStyle::dotted_dense();
                    plot.vline(VLine::new(event.kind, day).color(t.quiet).style(style).width(1.0));
                }
            }
            for (at, line) in days.figures.lines.iter().enumerate() {
                for piece in &line.pieces {
                    let points: Vec<[f64; 2]> =
                        piece.iter().map(|[day, c]| [*day, unit.of_celsius(*c)]).collect();
                    let name = format!("{}, {}", line.name, line.trays);
                    plot.line(
                        Line::new(name, PlotPoints::from(points))
                            .color(marks[at % marks.len()])
                            .style(styles[at % styles.len()])
                            .width(2.0)
                            .allow_hover(false),
                    );
                }
            }
            plot.hline(
                HLine::new("base of the heat sum", unit.of_celsius(HEAT_BASE_C))
                    .color(t.line)
                    .allow_hover(false),
            );
        });
}

fn table(ui: &mut Ui, days: &ColdDays, unit: TemperatureUnit) {
    let t = Tokens::of(ui);
    let degrees = |celsius: f64| format!("{:.1}", unit.of_celsius(celsius));
    let heat = |sum: f64| format!("{:.1}", unit.of_celsius(sum) - unit.of_celsius(0.0));
    Grid::new("cold days of each tray")
        .striped(true)
        .spacing(vec2(t.space.medium, t.space.tiny))
        .show(ui, |ui| {
            let sign = unit.sign();
            for head in [
                "Tray".to_owned(),
                format!("Mean {sign}"),
                "Lowest".to_owned(),
                "Highest".to_owned(),
                "In band".to_owned(),
                "Hours logged".to_owned(),
                format!("Heat {sign} days"),
                "Gaps".to_owned(),
            ] {
                ui.label(RichText::new(head).font(t.strong_font()));
            }
            ui.end_row();
            for tray in &days.figures.trays {
                ui.label(tray.number.to_string());
                match tray.figures {
                    None => {
                        for _ in 0..6 {
                            ui.label("–");
                        }
                    }
                    Some(one) => {
                        ui.label(degrees(one.mean_c));
                        ui.label(degrees(one.lowest_c));
                        ui.label(degrees(one.highest_c));
                        ui.label(format!("{:.0} %", one.in_band_percent()));
                        ui.label(format!("{} h", hours(one.known_hours)));
                        ui.label(heat(one.heat_c_days));
                    }
                }
                ui.label(tray.gaps.len().to_string());
                ui.end_row();
            }
        });
}

fn logs(ui: &mut Ui, ctx: &mut PaneCtx<'_>, days: &ColdDays, is_free: bool) {
    let mut removed: Option<(LogId, String)> = None;
    for line in &days.figures.lines {
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("{}: {}", line.name, line.trays));
            let word = format!("Remove log {}", line.name);
            if ui.add_enabled(is_free, egui::Button::new(word)).clicked() {
                removed = Some((line.log, line.name.clone()));
            }
        });
    }
    if let Some((log, name)) = removed {
        ctx.run(Command::RemoveLog(log));
        ctx.notice(Tone::Well, format!("Log {name} is removed; Undo brings it back."));
    }
}

fn events(ui: &mut Ui, ctx: &mut PaneCtx<'_>, days: &ColdDays, is_free: bool) {
    let mut removed = None;
    for event in &days.events {
        ui.horizontal_wrapped(|ui| {
            let text = format!("{}  {}: {}", minute(event.at), event.trays, event.what);
            ui.label(&text);
            let button = ui.add_enabled(is_free, egui::Button::new("Remove"));
            button.widget_info(|| {
                egui::WidgetInfo::labeled(egui::Role::Button, is_free, format!("Remove {text}"))
            });
            if button.clicked() {
                removed = Some(event.event);
            }
        });
    }
    if let Some(event) = removed {
        ctx.run(Command::RemoveEvent(event));
    }
}
