//! The file of a temperature logger, looked at before anything is taken.

use super::log_form::{LogForm, Looked, Typed, look_ui};
use crate::exchange::temperature_csv::{Answers, Look, Question, Shown, TemperatureFile, known_as};
use crate::insight::minute;
use crate::model::{Command, LogId, TemperatureLog, TemperatureUnit, TestId, plural, sentence};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::panes::file_look::{self, Leaving, Pressed, ShownLine, column_combo, cut, two_parts};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::section;
use egui::{Grid, Id, Label, Panel, Response, RichText, Ui, vec2};
use jiff::civil::DateTime;
use std::collections::BTreeMap;
use std::sync::Arc;

/// So many of the first readings are shown.
const SHOWN: usize = 6;
/// So many of the lines before the readings are shown.
const BEFORE: usize = 12;

/// A file that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    file_name: String,
    bytes: Arc<[u8]>,
    file: TemperatureFile,
    /// Why the file cannot be read with the separator that was chosen last.
    unreadable: Option<(char, String)>,
    answers: Answers,
    look: Look,
    /// The lines of the readings that are shown, as they stand in the file.
    lines: BTreeMap<usize, String>,
    /// Changes whenever `look` does.
    reading: u64,
    form: LogForm,
    looked: Looked,
    asked: Option<Ticket>,
    refused: Option<String>,
    is_new: bool,
    leaving: Leaving,
}

impl Import {
    pub(super) fn read(file: &FileBytes) -> Result<Self, String> {
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
        let mut import = Self {
            file_name: file.name.clone(),
            bytes: Arc::clone(&file.bytes),
            look: Look::default(),
            lines: BTreeMap::new(),
            reading: 0,
            file: read,
            unreadable: None,
            answers,
            form: LogForm::new(name),
            looked: Looked::default(),
            asked: None,
            refused: None,
            is_new: true,
            leaving: Leaving::default(),
        };
        import.look_again();
        Ok(import)
    }

    /// Draws the preview; returns whether it is done. `waiting` files follow.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: TestId, waiting: usize) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let text = format!(
                        "{} of the log {} are taken; Undo takes them back.",
                        plural(self.look.readings.len(), "reading"),
                        self.form.name.trim()
                    );
                    ctx.notice(Tone::Well, text);
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let t = Tokens::of(ui);
        ui.horizontal_wrapped(|ui| {
            let title = format!("Take the temperatures of {}", self.file_name);
            ui.label(RichText::new(title).font(t.heading_font()));
            if waiting > 0 {
                let files = if waiting == 1 { "file" } else { "files" };
                let text = format!("{waiting} more {files} after this one.");
                ui.label(RichText::new(text).color(t.quiet));
            }
        });
        let typed = self.form.read(ctx.document.project(), test, self.first());
        if typed.minutes != self.answers.add_minutes {
            self.answers.add_minutes = typed.minutes;
            self.look_again();
        }
        let mut done = false;
        Panel::bottom("cold days import foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx, test, &typed, waiting);
        });
        two_parts(
            ui,
            self,
            |this, ui| {
                this.questions(ui);
                this.form.ui(ui, ctx.document.project(), test);
                for fault in &typed.faults {
                    super::super::alert(ui, fault);
                }
                ui.add_space(t.space.small);
                this.reading_ui(ui);
            },
            |this, ui| this.given(ui, ctx, test, &typed),
        );
        self.is_new = false;
        self.leaving.is_asked(ui) || done
    }

    /// The time of the first reading by the clock of the logger.
    fn first(&self) -> Option<DateTime> {
        let minutes = jiff::SignedDuration::from_mins(i64::from(self.answers.add_minutes));
        self.look.start?.checked_sub(minutes).ok()
    }

    fn look_again(&mut self) {
        self.look = self.file.look(&self.answers);
        self.reading += 1;
        self.refused = None;
        let shown = self.look.head.iter().take(SHOWN).chain(&self.look.tail);
        let line = |shown: &Shown| {
            let line = self.file.line(shown.line).unwrap_or_default();
            (shown.line, cut(line))
        };
        self.lines = shown.map(line).collect();
    }

    // ---- how the file is read ----------------------------------------------------------------------------

    /// Reads the file again when something else was answered than before.
    fn follow(&mut self, ui: &Ui, before: Answers) {
        if self.answers != before {
            self.look_again();
            ui.request_repaint();
        }
    }

    /// What the file does not tell; what is chosen stays marked and can be changed.
    fn questions(&mut self, ui: &mut Ui) {
        let before = self.answers;
        let mut first: Option<Response> = None;
        let asked = self.look.asked.clone();
        for question in &asked {
            let is_open = self.look.questions.contains(question);
            let asked = self.question(ui, question, is_open);
            first = first.or(asked);
        }
        if let Some(first) = first.filter(|_| self.is_new) {
            first.request_focus();
        }
        self.follow(ui, before);
    }

    /// How the file is read where it does not have to be asked.
    fn reading_ui(&mut self, ui: &mut Ui) {
        let before = self.answers;
        let t = Tokens::of(ui);
        ui.label(RichText::new("How the file is read").font(t.strong_font()));
        if !self
            .look
            .asked
            .iter()
            .any(|question| matches!(question, Question::Unit(..)))
        {
            self.unit(ui);
        }
        self.separator(ui);
        self.columns(ui);
        self.follow(ui, before);
    }

    /// Asks one question; returns its first choice.
    fn question(&mut self, ui: &mut Ui, question: &Question, is_open: bool) -> Option<Response> {
        let text = match question {
            Question::Dates(_) => {
                "The file does not tell the order of its dates. They are written".to_owned()
            }
            Question::Unit(low, high) => {
                format!("The file does not tell its unit; it runs from {low} to {high}. They are")
            }
            Question::Channel(_) => "Several columns hold temperatures. That of the trays is".to_owned(),
        };
        let answers = &mut self.answers;
        file_look::question(ui, &text, is_open, |ui, keep| match question {
            Question::Dates(forms) => file_look::date_choices(ui, &mut answers.dates, forms, keep),
            Question::Unit(..) => file_look::unit_choices(ui, &mut answers.unit, keep),
            Question::Channel(columns) => {
                for column in columns {
                    let word = name_of(&self.file, *column);
                    keep(ui.radio_value(&mut answers.channel, Some(*column), word));
                }
            }
        })
    }

    /// The unit where it does not have to be asked: a file may name the wrong one.
    fn unit(&mut self, ui: &mut Ui) {
        let Some(now) = self.look.unit else { return };
        let named = self.file.unit_of(self.look.channel);
        file_look::unit_line(ui, now, named, &mut self.answers.unit);
    }

    fn separator(&mut self, ui: &mut Ui) {
        let now = self.file.separator();
        if let Some(other) = file_look::separator_line(ui, now, self.unreadable.as_ref()) {
            self.divide(other);
        }
    }

    fn divide(&mut self, separator: char) {
        match TemperatureFile::read_divided(&self.bytes, Some(separator)) {
            Ok(file) => {
                self.file = file;
                self.unreadable = None;
                // The columns are other ones now.
                (self.answers.channel, self.answers.times) = (None, None);
                self.look_again();
            }
            Err(fault) => self.unreadable = Some((separator, sentence(&fault.to_string()))),
        }
    }

    fn columns(&mut self, ui: &mut Ui) {
        let times = self.answers.times.unwrap_or(self.file.times());
        let width = self.file.header().len();
        let name = |column: usize| name_of(&self.file, column);
        let mut next = times;
        column_combo(ui, "Dates are in", &name(times.date), |ui| {
            for column in 0..width {
                ui.selectable_value(&mut next.date, column, name(column));
            }
        });
        let here = "the same column";
        let clock = times.clock.map_or_else(|| here.to_owned(), name);
        column_combo(ui, "Times of the day are in", &clock, |ui| {
            ui.selectable_value(&mut next.clock, None, here);
            for column in (0..width).filter(|column| *column != times.date) {
                ui.selectable_value(&mut next.clock, Some(column), name(column));
            }
        });
        if next != times {
            self.answers.times = Some(next).filter(|next| *next != self.file.times());
        }
        // Where several columns hold temperatures it is asked above.
        if let [only] = self.file.channels() {
            let now = self.look.channel;
            let mut channel = now;
            column_combo(ui, "The temperature is in", &name(now), |ui| {
                let is_time = |column: usize| column == times.date || Some(column) == times.clock;
                for column in (0..width).filter(|column| !is_time(*column)) {
                    ui.selectable_value(&mut channel, column, name(column));
                }
            });
            if channel != now {
                self.answers.channel = Some(channel).filter(|channel| channel != only);
            }
        }
    }

    // ---- what it gives -----------------------------------------------------------------------------------

    fn given(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, test: TestId, typed: &Typed) {
        let t = Tokens::of(ui);
        let leave_out = &mut self.answers.leave_out_bad;
        file_look::bad_lines(ui, &self.look.problems, self.look.bad_lines, leave_out);
        if let Some(known) = known_as(ctx.document.project(), test, &self.look) {
            let text = format!(
                "These readings are in the test already, as the log {}. Change that log, or remove it first.",
                known.name
            );
            super::super::alert(ui, &text);
        }
        match self.look.start.filter(|_| !self.look.readings.is_empty()) {
            None if self.look.questions.is_empty() => {
                super::super::alert(ui, "There is no reading that can be taken.");
            }
            None => {
                let text = "Answer what is marked ⚠; then it is drawn here what would be taken.";
                ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
            }
            Some(start) => {
                let (form, look) = (&self.form, &self.look);
                let log = || log_of(form, look, start, test, typed);
                let found = self.looked.at(ctx, (&typed.spans, start, self.reading), log);
                look_ui(ui, found, ctx, test, Id::unique("log to import"));
            }
        }
        for remark in &self.look.remarks {
            ui.add(Label::new(RichText::new(remark).color(t.quiet)).wrap());
        }
        ui.add_space(t.space.small);
        section(ui, "First and last readings", |ui| {
            self.readings(ui, ctx.document.project().about.units.temperature);
        });
        section(ui, "Lines before the readings", |ui| self.before(ui));
    }

    /// The first and the last readings, as they stand in the file and as they are understood.
    fn readings(&self, ui: &mut Ui, unit: TemperatureUnit) {
        let unknown = || "?".to_owned();
        let shown = |one: &Shown| ShownLine {
            line: one.line,
            cells: vec![
                one.at.map_or_else(unknown, minute),
                one.c
                    .map_or_else(unknown, |celsius| format!("{:.1}", unit.of_celsius(celsius))),
                self.lines.get(&one.line).cloned().unwrap_or_default(),
            ],
        };
        let first: Vec<ShownLine> = self.look.head.iter().take(SHOWN).map(shown).collect();
        let heads = ["Line", "Time", unit.sign(), "As it stands in the file"];
        let last = self.look.tail.iter().map(shown);
        file_look::first_and_last(ui, "first and last readings", &heads, &first, last);
    }

    fn before(&self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let lines = self.file.before();
        if lines.is_empty() {
            ui.label(RichText::new("None: the file begins with its first reading.").color(t.quiet));
            return;
        }
        Grid::new("lines before the readings")
            .striped(true)
            .min_row_height(t.type_size.body)
            .spacing(vec2(t.space.large, t.space.tiny))
            .show(ui, |ui| {
                let from = lines.len().saturating_sub(BEFORE);
                for (number, line) in &lines[from..] {
                    let is_header = self.file.header_line() == Some(*number);
                    ui.label(number.to_string());
                    ui.label(if is_header {
                        "names of the columns"
                    } else {
                        "passed over"
                    });
                    ui.label(RichText::new(cut(line)).monospace().color(t.quiet));
                    ui.end_row();
                }
            });
        if lines.len() > BEFORE {
            let more = plural(lines.len() - BEFORE, "line");
            ui.label(RichText::new(format!("and {more} above them.")).color(t.quiet));
        }
    }

    // ---- taking ------------------------------------------------------------------------------------------

    fn foot(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: TestId,
        typed: &Typed,
        waiting: usize,
    ) -> bool {
        if let Some(refused) = &self.refused {
            super::super::alert(ui, &format!("{refused} Nothing was taken."));
        }
        let project = ctx.document.project();
        let why = if let Some(why) = ctx.read_only {
            Some(why.to_owned())
        } else if let Some(why) = file_look::not_ready(
            self.look.questions.len(),
            self.look.bad_lines,
            self.look.is_ready(&self.answers),
        ) {
            Some(why)
        } else if !typed.faults.is_empty() {
            Some("Correct what is marked ⚠.".to_owned())
        } else if known_as(project, test, &self.look).is_some() {
            Some("These readings are in the test already.".to_owned())
        } else {
            None
        };
        let can = why.is_none() && self.look.is_ready(&self.answers) && self.asked.is_none();
        let word = match self.look.readings.len() {
            0 => "Take the readings".to_owned(),
            count => format!("Take {}", plural(count, "reading")),
        };
        match (
            file_look::foot(ui, can, &word, why.as_deref(), waiting),
            self.look.start,
        ) {
            (Some(Pressed::Take), Some(start)) => {
                self.refused = None;
                let log = log_of(&self.form, &self.look, start, test, typed);
                self.asked = Some(ctx.run_for(Command::AddLog(log)));
                false
            }
            (pressed, _) => pressed == Some(Pressed::Cancel),
        }
    }
}

fn name_of(file: &TemperatureFile, column: usize) -> String {
    file_look::column_name(file.header(), column)
}

fn log_of(form: &LogForm, look: &Look, start: DateTime, test: TestId, typed: &Typed) -> TemperatureLog {
    TemperatureLog {
        id: LogId(0),
        test,
        name: form.name.trim().to_owned(),
        start,
        readings: look.readings.clone(),
        spans: typed.spans.clone(),
    }
}
