//! The file of a temperature logger, looked at before anything is taken.

use crate::exchange::temperature_csv::{Answers, Look, Question, TemperatureFile, known_as};
use crate::insight::minute;
use crate::model::{
    Command, LogId, LogSpan, TemperatureLog, TemperatureUnit, TestId, plural, read_trays, sentence,
};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::primary_button_enabled;
use egui::{Grid, Label, RichText, TextEdit, Ui};

/// So many readings are shown.
const SHOWN: usize = 12;

/// A file that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    test: TestId,
    name: String,
    trays: String,
    file: TemperatureFile,
    answers: Answers,
    look: Look,
    asked: Option<Ticket>,
    refused: Option<String>,
}

impl Import {
    pub(super) fn read(file: &FileBytes, test: TestId) -> Result<Self, String> {
        let read = TemperatureFile::read(&file.bytes).map_err(|fault| {
            format!(
                "{}: {} Nothing was taken.",
                file.name,
                sentence(&fault.to_string())
            )
        })?;
        let name = file
            .name
            .rsplit_once('.')
            .map_or(file.name.as_str(), |(name, _)| name);
        let answers = Answers::default();
        Ok(Self {
            test,
            name: name.to_owned(),
            trays: String::new(),
            look: read.look(&answers),
            file: read,
            answers,
            asked: None,
            refused: None,
        })
    }

    /// Draws the preview; returns whether it is done.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    ctx.notice(Tone::Well, format!("The log {} is taken.", self.name));
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let t = Tokens::of(ui);
        ui.label(RichText::new(format!("Take the temperature log {}", self.name)).font(t.heading_font()));
        let before = self.answers;
        self.questions(ui);
        if self.answers != before {
            self.look = self.file.look(&self.answers);
        }
        for (word, text, hint) in [
            ("Name of the log", &mut self.name, ""),
            ("It stood for trays", &mut self.trays, "all, or such as 1-3, 7"),
        ] {
            ui.horizontal(|ui| {
                let label = ui.label(word);
                ui.add(TextEdit::singleline(text).hint_text(hint))
                    .labelled_by(label.id);
            });
        }
        for remark in &self.look.remarks {
            ui.add(Label::new(RichText::new(remark).color(t.quiet)).wrap());
        }
        for problem in self.look.problems.iter().take(SHOWN) {
            super::super::alert(ui, &sentence(&problem.to_string()));
        }
        if self.look.bad_lines > 0 {
            let word = format!(
                "Leave out the {} that cannot be read",
                plural(self.look.bad_lines, "line")
            );
            ui.checkbox(&mut self.answers.leave_out_bad, word);
        }
        self.head(ui, ctx.document.project().about.units.temperature);
        if let Some(refused) = &self.refused {
            super::super::alert(ui, &format!("{refused} Nothing was taken."));
        }
        let is_ready = self.look.is_ready(&self.answers) && ctx.read_only.is_none();
        let word = format!("Take {}", plural(self.look.readings.len(), "reading"));
        ui.horizontal(|ui| {
            if primary_button_enabled(ui, is_ready, &word).clicked() {
                self.take(ctx);
            }
            ui.button("Cancel").clicked()
        })
        .inner
    }

    /// Asks what the file does not tell. An answer stays, and can be changed by asking anew with Cancel.
    fn questions(&mut self, ui: &mut Ui) {
        for question in &self.look.questions {
            ui.horizontal_wrapped(|ui| match question {
                Question::Dates(forms) => {
                    ui.label("The file does not tell the order of its dates:");
                    for (form, first, last) in forms {
                        let word = format!("{}: {first} to {last}", form.name());
                        if ui.button(word).clicked() {
                            self.answers.dates = Some(*form);
                        }
                    }
                }
                Question::Unit(low, high) => {
                    ui.label(format!(
                        "The file does not tell its unit; it runs from {low} to {high}:"
                    ));
                    for unit in [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit] {
                        if ui.button(unit.sign()).clicked() {
                            self.answers.unit = Some(unit);
                        }
                    }
                }
                Question::Channel(columns) => {
                    ui.label("Which column is the temperature of the trays?");
                    for column in columns {
                        let header = self.file.header().get(*column).map_or("", String::as_str);
                        if ui.button(header).clicked() {
                            self.answers.channel = Some(*column);
                        }
                    }
                }
            });
        }
    }

    fn head(&self, ui: &mut Ui, unit: TemperatureUnit) {
        Grid::new("first readings").striped(true).show(ui, |ui| {
            for head in ["Line", "Time", unit.sign()] {
                ui.label(RichText::new(head).strong());
            }
            ui.end_row();
            for shown in self.look.head.iter().take(SHOWN) {
                ui.label(shown.line.to_string());
                ui.label(shown.at.map_or_else(|| "?".to_owned(), minute));
                ui.label(
                    shown
                        .c
                        .map_or_else(|| "?".to_owned(), |c| format!("{:.1}", unit.of_celsius(c))),
                );
                ui.end_row();
            }
        });
    }

    fn take(&mut self, ctx: &mut PaneCtx<'_>) {
        let project = ctx.document.project();
        if let Some(known) = known_as(project, self.test, &self.look) {
            self.refused = Some(format!(
                "These readings are in the test already, as the log {}.",
                known.name
            ));
            return;
        }
        let (Some(start), trays) = (self.look.start, read_trays(project, self.test, &self.trays)) else {
            return;
        };
        match trays {
            Err(fault) => self.refused = Some(sentence(&fault.to_string())),
            Ok(trays) => {
                self.refused = None;
                self.asked = Some(ctx.run_for(Command::AddLog(TemperatureLog {
                    id: LogId(0),
                    test: self.test,
                    name: self.name.clone(),
                    start,
                    readings: self.look.readings.clone(),
                    spans: vec![LogSpan {
                        trays,
                        ..LogSpan::default()
                    }],
                })));
            }
        }
    }
}
