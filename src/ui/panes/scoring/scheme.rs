//! Which categories are counted, and in which order they are typed.

use super::Scoring;
use crate::model::{About, Category, Command, Scheme};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Button, Id, RichText, Ui};

/// The categories while they are being chosen: all of them, those that are counted first.
#[derive(Debug)]
pub(super) struct SchemeDialog {
    order: Vec<(Category, bool)>,
}

impl SchemeDialog {
    /// Begins with the scheme in force.
    pub fn new(scheme: &Scheme) -> Self {
        let counted = scheme.order.iter().map(|category| (*category, true));
        let others = Category::ALL
            .into_iter()
            .filter(|category| !scheme.order.contains(category));
        Self {
            order: counted.chain(others.map(|category| (category, false))).collect(),
        }
    }

    fn chosen(&self) -> Vec<Category> {
        let counted = self.order.iter().filter(|(_, is_counted)| *is_counted);
        counted.map(|(category, _)| *category).collect()
    }

    /// What keeps it from being used.
    fn problem(&self) -> Option<&'static str> {
        let chosen = self.chosen();
        if !chosen.contains(&Category::Strong) {
            return Some("Strong seedlings must be counted: they are what has germinated.");
        }
        (chosen.len() < 2).then_some("A second category is needed for the kernels that are not strong.")
    }

    fn body(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        ui.label("The boxes have this order. Counts that are there already stay as they are; each says by which version of the categories it was made.");
        ui.add_space(t.space.small);
        let last = self.order.len() - 1;
        let mut moved = None;
        for (at, (category, is_counted)) in self.order.iter_mut().enumerate() {
            ui.horizontal(|ui| {
                let name = category.name();
                for (sign, what, to) in [
                    ("▲", "earlier", at.checked_sub(1)),
                    ("▼", "later", Some(at + 1).filter(|to| *to <= last)),
                ] {
                    let button = ui.add_enabled(to.is_some(), Button::new(sign));
                    if button.accessible_name(format!("{name} {what}")).clicked() {
                        moved = to.map(|to| (at, to));
                    }
                }
                ui.checkbox(is_counted, name);
                ui.label(RichText::new(meaning(*category)).color(t.quiet));
            });
        }
        if let Some((from, to)) = moved {
            self.order.swap(from, to);
        }
        ui.label(RichText::new(self.problem().unwrap_or(" ")).color(t.warn));
    }
}

fn meaning(category: Category) -> &'static str {
    match category {
        Category::Strong => "root and shoot both long and sound",
        Category::Weak => "complete, but clearly behind",
        Category::Abnormal => "without root or shoot, split, twisted, white",
        Category::Dead => "soft, or sprouted and died",
        Category::Fresh => "firm and swollen, not germinated",
        Category::Missing => "not there to be counted",
    }
}

impl Scoring {
    pub(super) fn scheme_ui(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some(dialog) = &mut self.scheme else { return };
        let answer = Dialog::new(Id::unique("scoring scheme"), "What is counted")
            .confirm("Keep")
            .can_confirm(dialog.problem().is_none())
            .show(ui.ctx(), |ui| dialog.body(ui));
        if answer == Some(DialogAnswer::Confirm) {
            let mut about: About = ctx.document.project().about.clone();
            about.scheme.order = dialog.chosen();
            ctx.run(Command::Describe(about));
        }
        if answer.is_some() {
            self.scheme = None;
        }
    }
}
