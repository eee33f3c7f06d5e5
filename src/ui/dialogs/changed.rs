//! The project file was changed by something else while it was open here.

use super::Answer;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Context, Id, Label};
use std::path::{Path, PathBuf};

/// A file of which there are now two versions.
#[derive(Debug)]
pub struct Changed {
    theirs: PathBuf,
    ours: PathBuf,
}

impl Changed {
    /// The file at `theirs` is not the one that was opened; this project would go to `ours`.
    pub fn new(theirs: &Path, ours: PathBuf) -> Self {
        Self {
            theirs: theirs.to_path_buf(),
            ours,
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&self, ctx: &Context) -> Option<Answer> {
        let name = |path: &Path| path.file_name().unwrap_or_default().display().to_string();
        let (theirs, ours) = (name(&self.theirs), name(&self.ours));
        let text = format!(
            "{theirs} was changed by something else since it was opened here: another computer that shares the folder, or an \
             editor. It was not overwritten. Keep both: this project is saved beside it as {ours} and stays open, and then what the \
             other one has is shown beside yours, to be taken or left."
        );
        let answer = Dialog::new(Id::unique("changed outside"), "There are two versions")
            .confirm("Keep both and compare")
            .cancel("Not now")
            .show(ctx, |ui| {
                ui.add(Label::new(text).wrap());
            });
        Some(match answer? {
            DialogAnswer::Confirm => Answer::KeepBoth {
                theirs: self.theirs.clone(),
                ours: self.ours.clone(),
            },
            DialogAnswer::Cancel => Answer::Nothing,
        })
    }
}
