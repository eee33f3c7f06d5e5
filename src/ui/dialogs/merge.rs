//! Taking over what a second scorer counted in a copy of the project.

use super::Answer;
use crate::insight::ScorerAgreement;
use crate::model::{CellContent, Command, Comparison, Count, Keep, Pair, Place, Project, capital};
use crate::ui::agreement;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::big_number;
use egui::{Align, Button, CollapsingHeader, Context, Id, Layout, RichText, ScrollArea, Ui};

/// Counts of another copy before they are taken over.
#[derive(Debug)]
pub struct Merge {
    /// The name of the other copy's file.
    name: String,
    comparison: Comparison,
    /// What is to be kept of each pair that differs; none while it is not decided.
    keep: Vec<Option<Keep>>,
    agreement: Option<ScorerAgreement>,
    who: String,
}

impl Merge {
    /// Begins with what was found; nothing is decided yet.
    pub fn new(name: String, comparison: Comparison, project: &Project, who: &str) -> Self {
        let pairs = comparison.agreeing.iter().chain(&comparison.differing);
        let pairs: Vec<(&Count, &Count)> = pairs
            .filter(|pair| !pair.there.void)
            .map(|pair| (&pair.here, &pair.there))
            .collect();
        Self {
            name,
            keep: vec![None; comparison.differing.len()],
            agreement: ScorerAgreement::of(project.about.germinated, &pairs),
            comparison,
            who: who.to_owned(),
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, project: &Project) -> Option<Answer> {
        let decided: Option<Vec<Keep>> = self.keep.iter().copied().collect();
        let is_new = !self.comparison.is_nothing_new();
        let mut dialog = Dialog::new(Id::unique("merge"), "Counts of another copy")
            .confirm(if is_new { "Merge" } else { "Close" })
            .can_confirm(decided.is_some());
        if !is_new {
            dialog = dialog.one_button();
        }
        let answer = dialog.show(ctx, |ui| {
            let height = (ui.ctx().content_rect().height() - 220.0).clamp(160.0, 560.0);
            ScrollArea::vertical()
                .id_salt("merge")
                .max_height(height)
                .auto_shrink([false, true])
                .show(ui, |ui| self.body(ui, project));
        })?;
        match (answer, decided) {
            (DialogAnswer::Confirm, Some(keep)) if is_new => {
                let counts = self.comparison.taken(&keep);
                if counts.is_empty() {
                    return Some(Answer::Nothing);
                }
                let label = format!("Merge {}: {}", self.name, self.comparison.done(&keep));
                Some(Answer::Run {
                    command: Box::new(Command::TakeCounts { counts, label }),
                    who: self.who.clone(),
                })
            }
            _ => Some(Answer::Nothing),
        }
    }

    fn body(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        let found = &self.comparison;
        ui.label(format!("Counts of {} beside those of this project. Only counts are taken over, each with its day and scorer.", self.name));
        ui.horizontal(|ui| {
            for (number, caption) in [
                (found.agreeing.len(), "agree"),
                (found.additions.len(), "are new here"),
                (found.differing.len(), "differ"),
                (found.shared, "known here"),
            ] {
                big_number(ui, &number.to_string(), caption);
                ui.add_space(t.space.large);
            }
        });
        if found.is_nothing_new() {
            ui.label("The other copy says nothing new. Nothing is changed.");
        }
        for sentence in &found.apart {
            ui.label(RichText::new(format!("⚠ {sentence}")).color(t.warn));
        }
        if let Some(agreement) = &self.agreement {
            CollapsingHeader::new("How well both agree")
                .id_salt("merge agreement")
                .show(ui, |ui| agreement::show(ui, project, agreement));
        }
        self.differences(ui, project);
    }

    fn differences(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        let differing = &self.comparison.differing;
        if differing.is_empty() {
            return;
        }
        ui.add_space(t.space.small);
        let open = self.keep.iter().filter(|keep| keep.is_none()).count();
        let text = match open {
            0 => "All differences are decided.".to_owned(),
            open => format!("Say of each difference what is kept; {open} to go."),
        };
        ui.label(RichText::new(text).font(t.strong_font()));
        ui.horizontal_wrapped(|ui| {
            for (text, keep) in [
                ("Keep ours everywhere", Keep::Here),
                ("Take theirs everywhere", Keep::There),
                ("Keep both everywhere", Keep::Both),
            ] {
                if ui.button(text).clicked() {
                    for (decided, pair) in self.keep.iter_mut().zip(differing) {
                        let possible = keep != Keep::Both || pair.can_keep_both;
                        *decided = if possible { Some(keep) } else { *decided };
                    }
                }
            }
        });
        for (pair, keep) in differing.iter().zip(&mut self.keep) {
            difference(ui, project, pair, keep);
        }
    }
}

/// Draws two counts side by side and what is kept of them.
fn difference(ui: &mut Ui, project: &Project, pair: &Pair, keep: &mut Option<Keep>) {
    let t = Tokens::of(ui);
    ui.add_space(t.space.small);
    ui.separator();
    let place = project.place_name(Place::Cell(pair.here.cell));
    let name = format!(
        "{}{}, {} count",
        capital(&place),
        holds(project, pair),
        pair.here.pass
    );
    ui.label(RichText::new(&name).font(t.strong_font()));
    ui.columns(2, |columns| {
        for (ui, (whose, count)) in columns
            .iter_mut()
            .zip([("Ours", &pair.here), ("Theirs", &pair.there)])
        {
            ui.with_layout(Layout::top_down(Align::Min), |ui| {
                ui.label(RichText::new(format!("{whose}{}", made(count))).color(t.quiet));
                ui.label(said(count));
            });
        }
    });
    let mut choices = vec![("Keep ours", Keep::Here), ("Take theirs", Keep::There)];
    if pair.can_keep_both {
        choices.push(("Keep both", Keep::Both));
    }
    ui.horizontal(|ui| {
        for (word, choice) in choices {
            let button = ui.add(Button::selectable(*keep == Some(choice), word).frame_when_inactive(true));
            if button.accessible_name(format!("{word}: {name}")).clicked() {
                *keep = Some(choice);
            }
        }
    });
}

/// Says what lies in the cell.
fn holds(project: &Project, pair: &Pair) -> String {
    let content = project.cells.get(pair.here.cell).map(|cell| cell.content);
    match content {
        Some(CellContent::Ear(ear)) => project
            .ears
            .get(ear)
            .map_or_else(String::new, |ear| format!(", ear {}", ear.number)),
        Some(CellContent::Check(number)) => format!(", check {number}"),
        _ => String::new(),
    }
}

/// Says who made a count and when.
fn made(count: &Count) -> String {
    let by = if count.by.is_empty() {
        String::new()
    } else {
        format!(", {}", count.by)
    };
    let on = count.on.map_or_else(String::new, |day| format!(", {day}"));
    format!("{by}{on}")
}

/// Says what a count saw.
fn said(count: &Count) -> String {
    if count.void {
        return "withdrawn".to_owned();
    }
    let mut parts = vec![count.tally.text()];
    parts.extend(count.vigor.map(|vigor| format!("vigor {vigor}")));
    parts.extend(count.mould.then(|| "mould".to_owned()));
    parts.join(", ")
}
