//! The grower's own word about the chosen ears.

use super::names::Names;
use crate::model::Command;
use crate::model::{EarId, SeasonId, Word, WordKind, capital};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Id, RichText, TextEdit, Ui};

/// A word that is being given: the reason is still asked for.
#[derive(Debug)]
pub struct Asking {
    kind: WordKind,
    ears: Vec<EarId>,
    reason: String,
    is_new: bool,
}

impl Asking {
    /// Begins to ask.
    pub fn new(kind: WordKind, ears: &[EarId]) -> Self {
        Self {
            kind,
            ears: ears.to_vec(),
            reason: String::new(),
            is_new: true,
        }
    }

    /// Draws the dialog; returns whether it was answered.
    pub fn show(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, names: &Names) -> bool {
        let t = Tokens::of(ui);
        let title = capital(self.kind.name());
        let title = title.as_str();
        let what = match self.kind {
            WordKind::Always => "planted",
            WordKind::Never => "left out",
            WordKind::Reserve => "not planted, but named on the list for a row that fails,",
        };
        let is_reasoned = !self.reason.trim().is_empty();
        let answer = Dialog::new(Id::unique("selection word"), title)
            .confirm(title)
            .can_confirm(is_reasoned)
            .body_takes_focus()
            .show(ui.ctx(), |ui| {
                ui.label(format!(
                    "{}: {what} whatever the cutoffs say. The reason is kept with the ear and printed on the planting list.",
                    ears_text(ctx, &self.ears, names)
                ));
                ui.add_space(t.space.small);
                let label = ui.label(RichText::new("Reason").color(t.quiet));
                let field = ui
                    .add(TextEdit::singleline(&mut self.reason).id(Id::unique("selection reason")).desired_width(f32::INFINITY))
                    .labelled_by(label.id);
                if std::mem::take(&mut self.is_new) {
                    field.request_focus();
                }
            });
        match answer {
            Some(DialogAnswer::Confirm) => {
                let word = Word {
                    kind: self.kind,
                    reason: self.reason.trim().to_owned(),
                };
                let ears = self.ears.clone();
                ctx.run(Command::SetWord {
                    season,
                    ears,
                    word: Some(word),
                });
                true
            }
            Some(DialogAnswer::Cancel) => true,
            None => false,
        }
    }
}

/// Names ears by number: `Ear 7`, `Ears 7, 9 and 3 more`.
pub fn ears_text(ctx: &PaneCtx<'_>, ears: &[EarId], names: &Names) -> String {
    const NAMED: usize = 6;
    let number = |ear: &EarId| {
        ctx.document
            .project()
            .ears
            .get(*ear)
            .map(|ear| names.ear(ear.id, ear.number))
    };
    let mut said: Vec<String> = ears.iter().take(NAMED).filter_map(number).collect();
    if ears.len() > NAMED {
        said.push(format!("{} more", ears.len() - NAMED));
    }
    match said.as_slice() {
        [] => "No ear".to_owned(),
        [one] => format!("Ear {one}"),
        [first @ .., last] => format!("Ears {} and {last}", first.join(", ")),
    }
}
