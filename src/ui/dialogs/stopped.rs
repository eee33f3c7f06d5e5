//! A fault of the program stopped it when this project was open last.

use super::Answer;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Context, Id, Label};
use std::path::{Path, PathBuf};

/// What is told of it. Nothing else of the window is drawn meanwhile, should drawing be what failed.
#[derive(Debug)]
pub struct Stopped {
    report: PathBuf,
    /// The last step, which can be taken back.
    last: Option<String>,
}

impl Stopped {
    /// The report lies at `report`; `last` names the last step.
    pub fn new(report: &Path, last: Option<&str>) -> Self {
        Self {
            report: report.to_path_buf(),
            last: last.map(str::to_owned),
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&self, ctx: &Context) -> Option<Answer> {
        let mut other = None;
        let answer = Dialog::new(Id::unique("stopped"), "The program stopped by a fault of its own")
            .confirm("Go on")
            .one_button()
            .show(ctx, |ui| {
                let text = format!(
                    "It happened when this project was open last. Every change that was on disk is here. Please send the report \
                     to whoever keeps the program; look at it first, as it may name files of yours: {}",
                    self.report.display()
                );
                ui.add(Label::new(text).wrap());
                ui.label("If it stops again at once:");
                ui.horizontal_wrapped(|ui| {
                    if let Some(last) = &self.last
                        && ui.button(format!("Take back: {last}")).clicked()
                    {
                        other = Some(Answer::TakeBack);
                    }
                    if ui.button("Earlier saves…").clicked() {
                        other = Some(Answer::ShowSaves);
                    }
                });
            });
        other.or_else(|| {
            answer.map(|answer| match answer {
                DialogAnswer::Confirm | DialogAnswer::Cancel => Answer::Nothing,
            })
        })
    }
}
