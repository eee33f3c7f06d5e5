//! Who did what when, newest first, to be searched.

use super::Answer;
use crate::insight::audit::{AuditLine, holds};
use crate::model::Project;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::Dialog;
use egui::{Context, Id, Label, RichText, ScrollArea, TextEdit, Ui};

/// The log that is shown.
#[derive(Debug)]
pub struct Log {
    /// Newest first.
    lines: Vec<AuditLine>,
    notes: Vec<String>,
    words: String,
    ear: String,
    /// The rows that are shown: a line, and which of its details; none for the line itself.
    rows: Vec<(usize, Option<usize>)>,
    found: usize,
    is_old: bool,
}

impl Log {
    /// Shows lines, oldest first, with what should be known of them.
    pub fn new(mut lines: Vec<AuditLine>, notes: Vec<String>, project: &Project) -> Self {
        lines.reverse();
        let mut log = Self {
            lines,
            notes,
            words: String::new(),
            ear: String::new(),
            rows: Vec::new(),
            found: 0,
            is_old: false,
        };
        log.filter(project);
        log
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, project: &Project) -> Option<Answer> {
        Dialog::new(Id::unique("log"), "Log: who did what when")
            .confirm("Close")
            .one_button()
            .wide()
            .body_takes_focus()
            .show(ctx, |ui| self.body(ui, project))
            .map(|_either| Answer::Nothing)
    }

    fn filter(&mut self, project: &Project) {
        let number: Option<u32> = self.ear.trim().parse().ok();
        let of_ear = |line: &AuditLine| {
            let mut ears = line.ears.iter().filter_map(|ear| project.ears.get(*ear));
            self.ear.trim().is_empty() || ears.any(|ear| Some(ear.number) == number)
        };
        self.rows.clear();
        self.found = 0;
        for (index, line) in self.lines.iter().enumerate() {
            if !of_ear(line) || !holds(line, &self.words) {
                continue;
            }
            self.found += 1;
            self.rows.push((index, None));
            let rest = usize::from(line.left_out > 0);
            self.rows
                .extend((0..line.details.len() + rest).map(|detail| (index, Some(detail))));
        }
    }

    fn body(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        let mut changed = false;
        ui.horizontal(|ui| {
            let name = ui.label("Words");
            let width = (ui.available_width() - 190.0).max(120.0);
            let words = TextEdit::singleline(&mut self.words)
                .hint_text("such as a name, a day or mice")
                .desired_width(width);
            let words = ui.add(words).labelled_by(name.id);
            if !self.is_old {
                words.request_focus();
                self.is_old = true;
            }
            let name = ui.label("Ear number");
            let ear = TextEdit::singleline(&mut self.ear).desired_width(70.0);
            let ear = ui.add(ear).labelled_by(name.id);
            changed = words.changed() || ear.changed();
        });
        if changed {
            self.filter(project);
        }
        for note in &self.notes {
            ui.label(RichText::new(note).color(t.warn));
        }
        let said = match (self.lines.len(), self.found) {
            (0, _) => "Nothing was done yet that the journal has kept.".to_owned(),
            (_, 0) => "No line has these words. Type fewer of them.".to_owned(),
            (all, found) if all == found => crate::model::plural(all, "line"),
            (all, found) => format!("{found} of {}", crate::model::plural(all, "line")),
        };
        ui.label(RichText::new(said).color(t.quiet));
        let height = (ui.ctx().content_rect().height() - 260.0).max(120.0);
        let row = ui.text_style_height(&egui::TextStyle::Body);
        ScrollArea::vertical()
            .id_salt("log lines")
            .max_height(height)
            .auto_shrink([false, true])
            .show_rows(ui, row, self.rows.len(), |ui, range| {
                for (line, detail) in &self.rows[range] {
                    let line = &self.lines[*line];
                    let text = match detail {
                        None => RichText::new(head(line)).strong(),
                        Some(at) => RichText::new(match line.details.get(*at) {
                            Some(detail) => format!("      {detail}"),
                            None => format!("      and {} more", line.left_out),
                        })
                        .color(t.quiet),
                    };
                    ui.add(Label::new(text).truncate());
                }
            });
    }
}

fn head(line: &AuditLine) -> String {
    let at = line.at.strftime("%Y-%m-%d %H:%M");
    if line.by.is_empty() {
        format!("{at}   {}", line.what)
    } else {
        format!("{at}   {}   {}", line.by, line.what)
    }
}
