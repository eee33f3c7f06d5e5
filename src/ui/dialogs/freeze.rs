//! Freezing a planting list.

use super::{Answer, text_field};
use crate::insight::short_of_mothers;
use crate::model::{Command, Cutoffs, ListDraft, ListEntry, Project, SeasonId, plural};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::big_number;
use egui::{Context, Id, RichText, ScrollArea};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// A planting list before it is frozen.
#[derive(Debug)]
pub struct Freeze {
    /// The season.
    pub season: SeasonId,
    /// The cutoffs in force.
    pub cutoffs: Cutoffs,
    /// The ears.
    pub entries: Vec<ListEntry>,
    /// The ears held in reserve.
    pub reserves: Vec<ListEntry>,
    /// How the kernels to plant are found, a sentence.
    pub way: String,
    /// What should be known before it is frozen, a sentence each.
    pub notes: Vec<String>,
    /// The version that it replaces, if any.
    pub revises: Option<u16>,
    /// The day that the list will bear.
    pub on: Date,
    /// Who freezes it.
    pub by: String,
    /// Why it replaces the version before it.
    pub reason: String,
    /// So many mother rows the grower wants at least.
    pub least_mothers: Option<u16>,
    /// Whether the grower said to know that they are fewer.
    pub knows_of_mothers: bool,
}

impl Freeze {
    fn problem(&self) -> Option<&'static str> {
        if self.entries.is_empty() {
            return Some(
                "No ear is chosen, so there is nothing to freeze. Move a cutoff or mark an ear 'always plant'.",
            );
        }
        if self.shortfall().is_some() && !self.knows_of_mothers {
            return Some("Tick that you know of the mother rows, or keep more ears.");
        }
        if self.by.trim().is_empty() {
            return Some("Type your name or initials: the list says who froze it.");
        }
        if self.revises.is_some() && self.reason.trim().is_empty() {
            return Some("Type why this list replaces the one before it.");
        }
        None
    }

    fn mothers(&self) -> usize {
        let mothers: BTreeSet<&str> = self.entries.iter().map(|entry| entry.mother.as_str()).collect();
        mothers.len()
    }

    fn shortfall(&self) -> Option<String> {
        short_of_mothers(self.mothers(), self.least_mothers)
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, project: &Project) -> Option<Answer> {
        let problem = self.problem();
        let version = self.revises.map_or(1, |version| version + 1);
        let title = match self.revises {
            None => "Freeze the planting list".to_owned(),
            Some(before) => format!("Freeze planting list {version}, which replaces list {before}"),
        };
        let answer = Dialog::new(Id::unique("freeze"), &title)
            .confirm("Freeze")
            .can_confirm(problem.is_none())
            .risky()
            .body_takes_focus()
            .show(ctx, |ui| self.body(ui, project, problem))?;
        match answer {
            DialogAnswer::Cancel => Some(Answer::Nothing),
            DialogAnswer::Confirm => Some(Answer::Run {
                command: Box::new(Command::Freeze(ListDraft {
                    season: self.season,
                    by: self.by.trim().to_owned(),
                    reason: self.reason.trim().to_owned(),
                    cutoffs: self.cutoffs.clone(),
                    entries: std::mem::take(&mut self.entries),
                    reserves: std::mem::take(&mut self.reserves),
                })),
                who: self.by.trim().to_owned(),
            }),
        }
    }

    fn body(&mut self, ui: &mut egui::Ui, project: &Project, problem: Option<&str>) {
        let t = Tokens::of(ui);
        let kernels: u64 = self.entries.iter().map(|entry| u64::from(entry.plant)).sum();
        ui.horizontal(|ui| {
            big_number(ui, &self.entries.len().to_string(), "ears");
            ui.add_space(t.space.large);
            big_number(ui, &self.mothers().to_string(), "mother rows");
            ui.add_space(t.space.large);
            big_number(ui, &kernels.to_string(), "kernels to plant");
        });
        ui.label(format!("Chosen by: {}.", project.cutoffs_text(&self.cutoffs)));
        ui.add(egui::Label::new(&self.way).wrap());
        if !self.reserves.is_empty() {
            let ears = plural(self.reserves.len(), "ear");
            ui.label(format!("Held in reserve, and named on the list: {ears}."));
        }
        if !self.notes.is_empty() {
            ScrollArea::vertical()
                .id_salt("freeze notes")
                .max_height(150.0)
                .show(ui, |ui| {
                    for note in &self.notes {
                        ui.horizontal_top(|ui| {
                            ui.label(RichText::new("⚠").color(t.warn));
                            ui.add(egui::Label::new(note).wrap());
                        });
                    }
                });
        }
        ui.label(
            "A frozen list never changes. It gets a digest by which anybody can check the file and the print. If something must change later, you freeze a list that replaces it, with a reason.",
        );
        if let Some(shortfall) = self.shortfall() {
            ui.label(RichText::new(format!("⚠ {shortfall}")).color(t.warn));
            ui.checkbox(
                &mut self.knows_of_mothers,
                "I know, and freeze the list all the same",
            );
        }
        ui.label(format!("It will bear the date {}.", self.on));
        if self.revises.is_some() {
            text_field(ui, "Why it replaces the list before it", &mut self.reason, "");
        }
        text_field(ui, "Frozen by", &mut self.by, "your name or initials");
        ui.label(RichText::new(problem.unwrap_or(" ")).color(t.warn));
    }
}
