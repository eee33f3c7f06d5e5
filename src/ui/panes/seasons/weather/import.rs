//! A file with daily highs and lows, looked at before anything is taken.

use crate::exchange::weather_csv::{
    Compared, DayColumns, ShownDay, WeatherAnswers, WeatherFile, WeatherLook, WeatherQuestion, compared,
};
use crate::model::{Area, Command, TemperatureUnit, plural, sentence};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::panes::file_look::{
    self, Leaving, Pressed, ShownLine, column_combo, column_name, cut, two_parts,
};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{alert, section};
use egui::{Label, Panel, Response, RichText, Ui};
use std::collections::BTreeMap;
use std::sync::Arc;

/// So many of the first days are shown.
const SHOWN: usize = 8;

/// A file that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    file_name: String,
    bytes: Arc<[u8]>,
    file: WeatherFile,
    /// Why the file cannot be read with the separator that was chosen last.
    unreadable: Option<(char, String)>,
    answers: WeatherAnswers,
    look: WeatherLook,
    /// The lines of the days that are shown, as they stand in the file.
    lines: BTreeMap<usize, String>,
    /// How the days compare with those that are there, and the revision of those.
    compared: Option<([u64; 1], Compared)>,
    asked: Option<Ticket>,
    refused: Option<String>,
    is_new: bool,
    leaving: Leaving,
}

impl Import {
    pub(super) fn read(file: &FileBytes) -> Result<Self, String> {
        let read = WeatherFile::read(&file.bytes, None).map_err(|fault| {
            format!(
                "{}: {} Nothing was taken.",
                file.name,
                sentence(&fault.to_string())
            )
        })?;
        let mut import = Self {
            file_name: file.name.clone(),
            bytes: Arc::clone(&file.bytes),
            file: read,
            unreadable: None,
            answers: WeatherAnswers::default(),
            look: WeatherLook::default(),
            lines: BTreeMap::new(),
            compared: None,
            asked: None,
            refused: None,
            is_new: true,
            leaving: Leaving::default(),
        };
        import.look_again();
        Ok(import)
    }

    /// Draws the preview; returns whether it is done. `waiting` files follow.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, waiting: usize) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let days = plural(self.look.days.len(), "day");
                    ctx.notice(
                        Tone::Well,
                        format!("{days} of weather are taken; Undo takes them back."),
                    );
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let t = Tokens::of(ui);
        ui.horizontal_wrapped(|ui| {
            let title = format!("Take the weather of {}", self.file_name);
            ui.label(RichText::new(title).font(t.heading_font()));
            if waiting > 0 {
                let text = format!("{} more after this one.", plural(waiting, "file"));
                ui.label(RichText::new(text).color(t.quiet));
            }
        });
        let before = self.answers;
        let mut done = false;
        Panel::bottom("weather import foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx, waiting);
        });
        two_parts(
            ui,
            self,
            |this, ui| {
                this.questions(ui);
                this.reading_ui(ui);
                this.years(ui);
            },
            |this, ui| this.given(ui, ctx),
        );
        if self.answers != before {
            self.look_again();
            ui.request_repaint();
        }
        self.is_new = false;
        self.leaving.is_asked(ui) || done
    }

    fn look_again(&mut self) {
        self.look = self.file.look(&self.answers);
        self.compared = None;
        self.refused = None;
        let shown = self.look.head.iter().take(SHOWN).chain(&self.look.tail);
        let line = |shown: &ShownDay| (shown.line, cut(self.file.line(shown.line).unwrap_or_default()));
        self.lines = shown.map(line).collect();
    }

    // ---- how the file is read ----------------------------------------------------------------------------

    /// What the file does not tell; what is chosen stays marked and can be changed.
    fn questions(&mut self, ui: &mut Ui) {
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
    }

    fn question(&mut self, ui: &mut Ui, question: &WeatherQuestion, is_open: bool) -> Option<Response> {
        let text = match question {
            WeatherQuestion::Dates(_) => {
                "The file does not tell the order of its dates. They are written".to_owned()
            }
            WeatherQuestion::Unit(low, high) => {
                format!("The file does not tell its unit; it runs from {low} to {high}. They are")
            }
            WeatherQuestion::High(_) => "Several columns can be the highs. They are in".to_owned(),
            WeatherQuestion::Low(_) => "Several columns can be the lows. They are in".to_owned(),
        };
        let header = self.file.header();
        let answers = &mut self.answers;
        file_look::question(ui, &text, is_open, |ui, keep| match question {
            WeatherQuestion::Dates(forms) => file_look::date_choices(ui, &mut answers.dates, forms, keep),
            WeatherQuestion::Unit(..) => file_look::unit_choices(ui, &mut answers.unit, keep),
            WeatherQuestion::High(columns) => columns.iter().for_each(|column| {
                let word = column_name(header, *column);
                keep(ui.radio_value(&mut answers.high, Some(*column), word));
            }),
            WeatherQuestion::Low(columns) => columns.iter().for_each(|column| {
                let word = column_name(header, *column);
                keep(ui.radio_value(&mut answers.low, Some(*column), word));
            }),
        })
    }

    /// How the file is read where it does not have to be asked.
    fn reading_ui(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("How the file is read").font(t.strong_font()));
        let is_asked = |is_it: fn(&WeatherQuestion) -> bool| self.look.asked.iter().any(is_it);
        let asks_unit = is_asked(|question| matches!(question, WeatherQuestion::Unit(..)));
        let asks_high = is_asked(|question| matches!(question, WeatherQuestion::High(_)));
        let asks_low = is_asked(|question| matches!(question, WeatherQuestion::Low(_)));
        if let Some(now) = self.look.unit.filter(|_| !asks_unit) {
            let named = self.look.high.and_then(|column| self.file.unit_of(column));
            file_look::unit_line(ui, now, named, &mut self.answers.unit);
        }
        let now = self.file.separator();
        if let Some(other) = file_look::separator_line(ui, now, self.unreadable.as_ref()) {
            self.divide(other);
        }
        let header = self.file.header();
        let name = |column: usize| column_name(header, column);
        let (date, days) = match (self.answers.date, self.file.days()) {
            (Some(date), _) | (None, DayColumns::Date(date)) => (Some(date), name(date)),
            (None, DayColumns::Parts { year, month, day }) => {
                (None, format!("{}, {}, {}", name(year), name(month), name(day)))
            }
            (None, DayColumns::DayOfYear { year, day }) => (None, format!("{}, {}", name(year), name(day))),
        };
        let mut next = date;
        column_combo(ui, "Days are in", &days, |ui| {
            for column in 0..header.len() {
                ui.selectable_value(&mut next, Some(column), name(column));
            }
        });
        if next != date {
            let found = match self.file.days() {
                DayColumns::Date(found) => Some(found),
                DayColumns::Parts { .. } | DayColumns::DayOfYear { .. } => None,
            };
            self.answers.date = next.filter(|next| Some(*next) != found);
        }
        for (label, is_asked, now, answer) in [
            ("Highs are in", asks_high, self.look.high, &mut self.answers.high),
            ("Lows are in", asks_low, self.look.low, &mut self.answers.low),
        ] {
            if is_asked {
                continue;
            }
            let mut next = now;
            let said = now.map_or_else(|| "not chosen".to_owned(), name);
            column_combo(ui, label, &said, |ui| {
                for column in self.file.candidates() {
                    ui.selectable_value(&mut next, Some(*column), name(*column));
                }
            });
            if next != now {
                *answer = next;
            }
        }
    }

    fn divide(&mut self, separator: char) {
        match WeatherFile::read(&self.bytes, Some(separator)) {
            Ok(file) => {
                self.file = file;
                self.unreadable = None;
                // The columns are other ones now.
                let answers = &mut self.answers;
                (answers.high, answers.low, answers.date) = (None, None, None);
                self.look_again();
            }
            Err(fault) => self.unreadable = Some((separator, sentence(&fault.to_string()))),
        }
    }

    /// All days, or those of one year.
    fn years(&mut self, ui: &mut Ui) {
        if self.look.years.len() < 2 && self.answers.year.is_none() {
            return;
        }
        let t = Tokens::of(ui);
        ui.add_space(t.space.small);
        ui.label(RichText::new("Which days are taken").font(t.strong_font()));
        let year = &mut self.answers.year;
        let all = self.look.years.values().sum::<usize>();
        ui.radio_value(year, None, format!("all years ({})", plural(all, "day")));
        for (one, days) in self.look.years.iter().rev() {
            ui.radio_value(year, Some(*one), format!("only {one} ({})", plural(*days, "day")));
        }
    }

    // ---- what it gives -----------------------------------------------------------------------------------

    fn given(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let leave_out = &mut self.answers.leave_out_bad;
        file_look::bad_lines(ui, &self.look.problems, self.look.bad_lines, leave_out);
        match (self.look.days.first(), self.look.days.last()) {
            (Some(first), Some(last)) => {
                let days = plural(self.look.days.len(), "day");
                let text = format!("{days}, {} to {}.", first.on, last.on);
                ui.label(RichText::new(text).font(t.strong_font()));
                let found = self.compared(ctx);
                let mut said = vec![format!("New: {}.", found.new)];
                if found.other > 0 {
                    said.push(format!(
                        "There with other temperatures, and replaced: {}.",
                        found.other
                    ));
                }
                if found.same > 0 {
                    said.push(format!("There already: {}.", found.same));
                }
                ui.add(Label::new(said.join(" ")).wrap());
            }
            _ if self.look.questions.is_empty() => alert(ui, "There is no day that can be taken."),
            _ => {
                let text = "Answer what is marked ⚠; then it is said here what would be taken.";
                ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
            }
        }
        for remark in &self.look.remarks {
            ui.add(Label::new(RichText::new(remark).color(t.quiet)).wrap());
        }
        ui.add_space(t.space.small);
        section(ui, "First and last days", |ui| {
            self.days(ui, ctx.document.project().about.units.temperature);
        });
    }

    fn compared(&mut self, ctx: &PaneCtx<'_>) -> Compared {
        let key = ctx.document.revision_key([Area::Weather]);
        match self.compared {
            Some((known, found)) if known == key => found,
            _ => {
                let found = compared(ctx.document.project(), &self.look.days);
                self.compared = Some((key, found));
                found
            }
        }
    }

    /// The first and the last days, as they stand in the file and as they are understood.
    fn days(&self, ui: &mut Ui, unit: TemperatureUnit) {
        let unknown = || "?".to_owned();
        let degrees = |celsius: f64| format!("{:.1}", unit.of_celsius(celsius));
        let shown = |day: &ShownDay| ShownLine {
            line: day.line,
            cells: vec![
                day.on.map_or_else(unknown, |on| on.to_string()),
                day.high_c.map_or_else(unknown, degrees),
                day.low_c.map_or_else(unknown, degrees),
                self.lines.get(&day.line).cloned().unwrap_or_default(),
            ],
        };
        let first: Vec<ShownLine> = self.look.head.iter().take(SHOWN).map(shown).collect();
        let high = format!("High {}", unit.sign());
        let low = format!("Low {}", unit.sign());
        let heads = ["Line", "Day", &high, &low, "As it stands in the file"];
        let last = self.look.tail.iter().map(shown);
        file_look::first_and_last(ui, "first and last days", &heads, &first, last);
    }

    // ---- taking ------------------------------------------------------------------------------------------

    fn foot(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, waiting: usize) -> bool {
        if let Some(refused) = &self.refused {
            alert(ui, &format!("{refused} Nothing was taken."));
        }
        let is_ready = self.look.is_ready(&self.answers);
        let why = match ctx.read_only {
            Some(why) => Some(why.to_owned()),
            None => file_look::not_ready(self.look.questions.len(), self.look.bad_lines, is_ready),
        };
        let can = why.is_none() && is_ready && self.asked.is_none();
        let word = match self.look.days.len() {
            0 => "Take the days".to_owned(),
            count => format!("Take {}", plural(count, "day")),
        };
        match file_look::foot(ui, can, &word, why.as_deref(), waiting) {
            Some(Pressed::Take) => {
                self.refused = None;
                self.asked = Some(ctx.run_for(Command::TakeWeather(self.look.days.clone())));
                false
            }
            Some(Pressed::Cancel) => true,
            None => false,
        }
    }
}
