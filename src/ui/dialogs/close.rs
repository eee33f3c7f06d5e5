//! Closing with something not saved.

use super::Answer;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Context, Id};

/// Why closing is a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Close {
    /// Saving the project file failed; the journal has every change.
    NotSaved,
    /// The project has no file.
    NoFile,
}

impl Close {
    /// Draws the dialog; gives its answer once.
    pub fn show(self, ctx: &Context) -> Option<Answer> {
        let (title, text, confirm) = match self {
            Self::NotSaved => (
                "The project file was not saved",
                "Every change is in the journal beside the project file and comes back when the project is opened next. You can close the window, or stay and save under another name.",
                "Close anyway",
            ),
            Self::NoFile => (
                "This project has no file",
                "What you did is lost when the window closes, unless you save it under a name first.",
                "Save as…",
            ),
        };
        let mut closes = false;
        let answer = Dialog::new(Id::unique("close"), title)
            .confirm(confirm)
            .cancel("Stay")
            .show(ctx, |ui| {
                ui.label(text);
                closes = self == Self::NoFile && ui.button("Close without saving").clicked();
            });
        if closes {
            return Some(Answer::CloseNow);
        }
        Some(match (self, answer?) {
            (_, DialogAnswer::Cancel) => Answer::Nothing,
            (Self::NotSaved, DialogAnswer::Confirm) => Answer::CloseNow,
            (Self::NoFile, DialogAnswer::Confirm) => Answer::SaveAs,
        })
    }
}
