//! Earlier saves of the project file, to be restored as copies.

use super::Answer;
use crate::model::capital;
use crate::store::backups::Backup;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::Dialog;
use egui::{Context, Grid, Id, Label, RichText, ScrollArea, Ui};
use std::path::Path;

/// The earlier saves of a project file.
#[derive(Debug)]
pub struct Saves {
    /// The name of the file.
    name: String,
    /// Why they are shown, if the grower did not ask.
    why: Option<String>,
    /// The latest first.
    kept: Vec<Backup>,
}

impl Saves {
    /// Shows the saves of the file at `path`, the latest first, with the reason if nobody asked for them.
    pub fn new(path: &Path, kept: Vec<Backup>, why: Option<String>) -> Self {
        let name = path.file_name().unwrap_or_default();
        Self {
            name: name.to_string_lossy().into_owned(),
            why,
            kept,
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&self, ctx: &Context) -> Option<Answer> {
        let mut wanted = None;
        let closed = Dialog::new(Id::unique("saves"), "Earlier saves")
            .confirm("Close")
            .one_button()
            .wide()
            .show(ctx, |ui| wanted = self.body(ui));
        match wanted {
            Some(save) => Some(Answer::Restore(Box::new(save.clone()))),
            None => closed.map(|_either| Answer::Nothing),
        }
    }

    fn body(&self, ui: &mut Ui) -> Option<&Backup> {
        let t = Tokens::of(ui);
        if let Some(why) = &self.why {
            ui.add(Label::new(RichText::new(format!("⚠ {why}")).color(t.warn)).wrap());
        }
        if self.kept.is_empty() {
            ui.label(format!(
                "No earlier save of {} is kept. Each save keeps one from now on.",
                self.name
            ));
            return None;
        }
        let text = format!(
            "Of {} the last save of each hour is kept for a day, of each day for ninety days, and of each quarter of a year for \
             ever. One is restored as a copy under another name; the project itself stays as it is.",
            self.name
        );
        ui.add(Label::new(text).wrap());
        ui.add_space(t.space.small);
        let height = (ui.ctx().content_rect().height() - 320.0).max(120.0);
        let mut wanted = None;
        ScrollArea::vertical()
            .max_height(height)
            .auto_shrink([false, true])
            .show(ui, |ui| {
                Grid::new("saves")
                    .striped(true)
                    .spacing([t.space.large, t.space.small])
                    .show(ui, |ui| {
                        for save in &self.kept {
                            let at = save.at.strftime("%Y-%m-%d %H:%M").to_string();
                            ui.label(&at);
                            ui.label(size(save.bytes));
                            let button = ui
                                .button("Restore a copy…")
                                .accessible_name(format!("Restore a copy of {at}…"));
                            if button.clicked() {
                                wanted = Some(save);
                            }
                            ui.end_row();
                        }
                    });
            });
        wanted
    }
}

/// A size in words, such as `240 kB`.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => capital(&crate::model::plural(bytes as usize, "byte")),
        1_000..1_000_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}
