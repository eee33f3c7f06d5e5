//! What the grower says about a temperature log: its name, which trays it stood for and when, how wrong its clock was;
//! and the screen on which a log of the project is changed.

use super::plot::Picture;
use crate::insight::{LogLook, minute, places};
use crate::model::{
    Area, Command, DateOrder, LogId, LogSpan, Project, TemperatureLog, TestId, read_clock_shift, read_time,
    read_trays, sentence, trays_typed,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::panes::file_look::{Leaving, two_parts};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::primary_button_enabled;
use egui::{Align, Id, Label, Layout, RichText, TextEdit, Ui, vec2};
use jiff::civil::DateTime;

/// Widths of the fields of a span.
const WIDTHS: [f32; 3] = [62.0, 152.0, 152.0];
/// Revisions that the look at a log depends on.
const AREAS: [Area; 6] = [
    Area::About,
    Area::Test,
    Area::Tray,
    Area::Cell,
    Area::Count,
    Area::Log,
];

/// What is typed about a log.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LogForm {
    pub(super) name: String,
    spans: Vec<SpanText>,
    clock: String,
}

/// A span as it is typed.
#[derive(Debug, Clone, PartialEq, Default)]
struct SpanText {
    trays: String,
    from: String,
    to: String,
}

/// What was read from the form.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Typed {
    pub(super) spans: Vec<LogSpan>,
    /// Minutes to add to the times of the logger.
    pub(super) minutes: i32,
    /// What is wrong, each a sentence.
    pub(super) faults: Vec<String>,
}

impl LogForm {
    /// A log of this name that stood for all trays all the time.
    pub(super) fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            spans: vec![SpanText::default()],
            clock: String::new(),
        }
    }

    fn of(project: &Project, log: &TemperatureLog) -> Self {
        Self {
            name: log.name.clone(),
            spans: log.spans.iter().map(|span| SpanText::of(project, span)).collect(),
            clock: String::new(),
        }
    }

    /// Reads what is typed; `first` is the time of the first reading by the clock of the logger.
    pub(super) fn read(&self, project: &Project, test: TestId, first: Option<DateTime>) -> Typed {
        let mut faults = Vec::new();
        if self.name.trim().is_empty() {
            faults.push("The log has no name; type one, such as that of the shelf.".to_owned());
        }
        let mut spans = Vec::new();
        for (at, span) in self.spans.iter().enumerate() {
            match span.read(project, test) {
                Ok(span) => spans.push(span),
                Err(what) if self.spans.len() == 1 => faults.push(what),
                Err(what) => faults.push(format!("Span {}: {what}", at + 1)),
            }
        }
        // While the times of a file are unknown nothing can be taken, so the clock can wait too.
        let minutes = first.map_or(Ok(0), |first| read_clock_shift(&self.clock, first));
        Typed {
            spans,
            minutes: minutes.unwrap_or_else(|fault| {
                faults.push(sentence(&fault.to_string()));
                0
            }),
            faults,
        }
    }

    /// Draws the fields.
    pub(super) fn ui(&mut self, ui: &mut Ui, project: &Project, test: TestId) {
        let t = Tokens::of(ui);
        ui.horizontal(|ui| {
            let label = ui.label("Name of the log");
            let width = room(ui);
            ui.add(TextEdit::singleline(&mut self.name).desired_width(width))
                .labelled_by(label.id);
        });
        ui.label(RichText::new("It stood for").font(t.strong_font()));
        let mut removed = None;
        ui.horizontal(|ui| {
            for (head, width) in ["Trays", "From", "Until"].into_iter().zip(WIDTHS) {
                let text = RichText::new(head).font(t.small_font()).color(t.quiet);
                let size = vec2(width, t.type_size.body);
                ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
                    ui.set_min_width(width);
                    ui.label(text);
                });
            }
        });
        for (at, span) in self.spans.iter_mut().enumerate() {
            let number = at + 1;
            ui.horizontal(|ui| {
                let fields = [
                    (&mut span.trays, "all", "Trays of span"),
                    (&mut span.from, "first reading", "From, span"),
                    (&mut span.to, "last reading", "Until, span"),
                ];
                for ((text, hint, name), width) in fields.into_iter().zip(WIDTHS) {
                    let field = TextEdit::singleline(text).hint_text(hint);
                    let size = vec2(width, ui.spacing().interact_size.y);
                    ui.add_sized(size, field)
                        .accessible_name(format!("{name} {number}"));
                }
                let remove = ui.button("✕").on_hover_text("Remove this span");
                remove.widget_info(|| {
                    let name = format!("Remove span {number}");
                    egui::WidgetInfo::labeled(egui::Role::Button, true, name)
                });
                if remove.clicked() {
                    removed = Some(at);
                }
            });
        }
        if let Some(at) = removed {
            self.spans.remove(at);
        }
        ui.horizontal_wrapped(|ui| {
            if ui.button("Add a span").clicked() {
                self.spans.push(SpanText::default());
            }
            for (place, spans) in places(project, test) {
                let word = format!("Trays that were at: {place}");
                let hint = "Takes trays and times from the moves that were noted.";
                if ui.button(word).on_hover_text(hint).clicked() {
                    self.spans = spans.iter().map(|span| SpanText::of(project, span)).collect();
                }
            }
        });
        let hint = "Times such as 2026-02-05 18:30. A time that is left empty is that of the first or the last reading, and then no log of more trays fills in before or behind it.";
        ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
        ui.horizontal(|ui| {
            let label = ui.label("Correct its clock by");
            let room = room(ui);
            ui.add(
                TextEdit::singleline(&mut self.clock)
                    .hint_text("nothing")
                    .desired_width(room),
            )
            .labelled_by(label.id);
        });
        let hint = "Minutes to add such as 60 or -60, hours such as -1:30, or the true time of the first reading such as 2026-02-03 18:00.";
        ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
    }
}

/// The width that is left in a line for a text field.
fn room(ui: &Ui) -> f32 {
    ui.available_width() - 3.0 * ui.spacing().button_padding.x
}

impl SpanText {
    fn of(project: &Project, span: &LogSpan) -> Self {
        Self {
            trays: trays_typed(project, &span.trays),
            from: span.from.map(minute).unwrap_or_default(),
            to: span.to.map(minute).unwrap_or_default(),
        }
    }

    fn read(&self, project: &Project, test: TestId) -> Result<LogSpan, String> {
        let said = |fault: crate::model::Fault| sentence(&fault.to_string());
        let time = |text: &str| match text.trim() {
            "" => Ok(None),
            text => read_time(text, DateOrder::Unknown).map(Some),
        };
        let span = LogSpan {
            trays: read_trays(project, test, &self.trays).map_err(said)?,
            from: time(&self.from).map_err(said)?,
            to: time(&self.to).map_err(said)?,
        };
        span.check().map_err(said)?;
        Ok(span)
    }
}

/// What a log would say, remembered while it stays the same.
#[derive(Debug, Default)]
pub(super) struct Looked {
    key: Option<([u64; AREAS.len()], Vec<LogSpan>, DateTime, u64)>,
    look: LogLook,
}

impl Looked {
    /// Looks at a log. `reading` changes whenever its readings do; `log` makes it.
    pub(super) fn at(
        &mut self,
        ctx: &PaneCtx<'_>,
        (spans, start, reading): (&[LogSpan], DateTime, u64),
        log: impl FnOnce() -> TemperatureLog,
    ) -> &LogLook {
        let key = (ctx.document.revision_key(AREAS), spans.to_vec(), start, reading);
        if self.key.as_ref() != Some(&key) {
            self.look = ctx.insight.log_look(ctx.document, &log());
            self.key = Some(key);
        }
        &self.look
    }
}

/// Draws what a log would say of its trays.
pub(super) fn look_ui(ui: &mut Ui, look: &LogLook, ctx: &PaneCtx<'_>, test: TestId, id: Id) {
    let t = Tokens::of(ui);
    let days = ctx.insight.cold_days(ctx.document, test);
    for warning in &look.warnings {
        let text = RichText::new(format!("⚠ {warning}")).color(t.warn);
        ui.add(Label::new(text).wrap());
    }
    for fact in &look.facts {
        ui.add(Label::new(fact).wrap());
    }
    ui.add_space(t.space.small);
    let picture = Picture {
        figures: &look.figures,
        counts: &days.counts,
        events: &days.events,
        unit: ctx.document.project().about.units.temperature,
    };
    picture.ui(ui, id);
}

/// The screen on which a log of the project is changed.
#[derive(Debug)]
pub(super) struct EditLog {
    log: LogId,
    form: LogForm,
    /// The form as it was filled.
    before: LogForm,
    looked: Looked,
    asked: Option<Ticket>,
    refused: Option<String>,
    leaving: Leaving,
}

impl EditLog {
    pub(super) fn new(project: &Project, log: &TemperatureLog) -> Self {
        let form = LogForm::of(project, log);
        Self {
            log: log.id,
            before: form.clone(),
            form,
            looked: Looked::default(),
            asked: None,
            refused: None,
            leaving: Leaving::default(),
        }
    }

    /// Draws the screen; returns whether it is done.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let text = format!(
                        "The log {} is changed; Undo takes that back.",
                        self.form.name.trim()
                    );
                    ctx.notice(Tone::Well, text);
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let project = ctx.document.project();
        let Some(log) = project.logs.get(self.log) else {
            return true;
        };
        let t = Tokens::of(ui);
        ui.label(RichText::new(format!("Change the log {}", log.name)).font(t.heading_font()));
        let typed = self.form.read(project, log.test, Some(log.start));
        let mut done = false;
        egui::Panel::bottom("cold days log foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx, log, &typed);
        });
        two_parts(
            ui,
            self,
            |this, ui| {
                this.form.ui(ui, project, log.test);
                for fault in &typed.faults {
                    super::super::alert(ui, fault);
                }
            },
            |this, ui| {
                let form = &this.form;
                let changed = || changed(log, form, &typed);
                let start = moved(log.start, typed.minutes);
                let look = this.looked.at(ctx, (&typed.spans, start, 0), changed);
                look_ui(ui, look, ctx, log.test, Id::unique("changed log"));
            },
        );
        self.leaving.is_asked(ui) || done
    }

    fn foot(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, log: &TemperatureLog, typed: &Typed) -> bool {
        if let Some(refused) = &self.refused {
            super::super::alert(ui, &format!("{refused} Nothing was changed."));
        }
        ui.horizontal(|ui| {
            let is_new = self.form != self.before;
            let can = is_new && typed.faults.is_empty() && ctx.read_only.is_none() && self.asked.is_none();
            if primary_button_enabled(ui, can, "Keep the changes").clicked() {
                self.refused = None;
                self.asked = Some(ctx.run_for(Command::EditLog(changed(log, &self.form, typed))));
            }
            ui.button("Cancel").clicked()
        })
        .inner
    }
}

/// The log as the form has it.
fn changed(log: &TemperatureLog, form: &LogForm, typed: &Typed) -> TemperatureLog {
    TemperatureLog {
        name: form.name.trim().to_owned(),
        start: moved(log.start, typed.minutes),
        spans: typed.spans.clone(),
        ..log.clone()
    }
}

fn moved(start: DateTime, minutes: i32) -> DateTime {
    start.saturating_add(jiff::SignedDuration::from_mins(i64::from(minutes)))
}
