//! Taking over what another version of the project has.

use super::Answer;
use crate::model::{Command, Difference, Side, Versions, capital, plural};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Button, CollapsingHeader, Context, Id, RichText, ScrollArea, Ui};
use std::path::{Path, PathBuf};

/// So many records of one kind are named; the others are counted.
const MOST_NAMED: usize = 200;

/// What another version has, before it is taken over.
#[derive(Debug)]
pub struct TwoVersions {
    theirs: PathBuf,
    versions: Versions,
    /// Which version stands where both changed something; none while it is not decided.
    sides: Vec<Option<Side>>,
}

impl TwoVersions {
    /// Begins with what was found in the file at `theirs`; nothing is decided yet.
    pub fn new(theirs: &Path, versions: Versions) -> Self {
        let open = versions.differences.iter().filter(|one| one.is_open).count();
        Self {
            theirs: theirs.to_path_buf(),
            versions,
            sides: vec![None; open],
        }
    }

    fn name(&self) -> String {
        let name = self.theirs.file_name().unwrap_or_default();
        name.display().to_string()
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context) -> Option<Answer> {
        let decided: Option<Vec<Side>> = self.sides.iter().copied().collect();
        let is_new = !self.versions.is_nothing_new();
        let answer = Dialog::new(Id::unique("two versions"), "Two versions of this project")
            .confirm(if is_new { "Take over" } else { "Compare the counts" })
            .cancel("Not now")
            .can_confirm(decided.is_some())
            .show(ctx, |ui| {
                let height = (ui.ctx().content_rect().height() - 220.0).clamp(160.0, 560.0);
                ScrollArea::vertical()
                    .id_salt("two versions")
                    .max_height(height)
                    .auto_shrink([false, true])
                    .show(ui, |ui| self.body(ui));
            })?;
        let (DialogAnswer::Confirm, Some(sides)) = (answer, decided) else {
            return Some(Answer::Nothing);
        };
        let changes = self.versions.changes(&sides);
        let label = format!("Take over from {}: {}", self.name(), self.versions.done(&sides));
        let command = (!changes.is_empty()).then(|| Box::new(Command::TakeVersion { changes, label }));
        Some(Answer::TakeVersion {
            command,
            photos: self.versions.photos.clone(),
            theirs: self.theirs.clone(),
        })
    }

    fn body(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let found = &self.versions;
        let new = if found.is_nothing_new() {
            "Besides counts, nothing of it can be taken over.".to_owned()
        } else {
            format!(
                "What {} has and this project lacks: {}. It is taken over in one step, which Undo takes back; what only this project has \
                 stays. Cells that both counted are compared afterwards.",
                self.name(),
                found.summary()
            )
        };
        ui.label(found.parting_sentence());
        ui.label(new);
        for sentence in &found.left_out {
            ui.label(RichText::new(format!("⚠ {sentence}")).color(t.warn));
        }
        self.asked(ui);
        self.unasked(ui);
    }

    /// The records that both changed.
    fn asked(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        if self.sides.is_empty() {
            return;
        }
        ui.add_space(t.space.small);
        let open = self.sides.iter().filter(|side| side.is_none()).count();
        let text = match open {
            0 => "All that both changed is decided.".to_owned(),
            open => format!("Both changed these. Say which version stands; {open} to go."),
        };
        ui.label(RichText::new(text).font(t.strong_font()));
        ui.horizontal_wrapped(|ui| {
            for (text, side) in [
                ("Keep ours everywhere", Side::Ours),
                ("Take theirs everywhere", Side::Theirs),
            ] {
                if ui.button(text).clicked() {
                    self.sides.fill(Some(side));
                }
            }
        });
        let asked = self.versions.differences.iter().filter(|one| one.is_open);
        for (difference, side) in asked.zip(&mut self.sides) {
            ask(ui, difference, side);
        }
    }

    /// The records that are taken over without a question, by kind.
    fn unasked(&self, ui: &mut Ui) {
        let unasked: Vec<&Difference> = self
            .versions
            .differences
            .iter()
            .filter(|one| !one.is_open)
            .collect();
        if unasked.is_empty() {
            return;
        }
        ui.add_space(Tokens::of(ui).space.small);
        let title = format!("What is taken over unasked: {}", plural(unasked.len(), "record"));
        CollapsingHeader::new(title).id_salt("unasked").show(ui, |ui| {
            for group in unasked.chunk_by(|one, two| (one.kind, one.happened) == (two.kind, two.happened)) {
                for difference in group.iter().take(MOST_NAMED) {
                    let name = capital(&difference.name);
                    let fields: Vec<String> = difference
                        .fields
                        .iter()
                        .map(|field| format!("{} {} → {}", field.name, field.ours, field.theirs))
                        .collect();
                    let text = if fields.is_empty() {
                        format!("{name}: {}", difference.happened.name())
                    } else {
                        format!("{name}: {}", fields.join("; "))
                    };
                    ui.label(text);
                }
                if let more @ 1.. = group.len().saturating_sub(MOST_NAMED) {
                    ui.label(format!("and {more} more"));
                }
            }
        });
    }
}

/// Draws a record that both changed, and which version stands.
fn ask(ui: &mut Ui, difference: &Difference, side: &mut Option<Side>) {
    let t = Tokens::of(ui);
    ui.add_space(t.space.small);
    ui.separator();
    let name = capital(&difference.name);
    ui.label(RichText::new(&name).font(t.strong_font()));
    if difference.fields.is_empty() {
        ui.label(
            RichText::new(format!(
                "The other version has it {}.",
                difference.happened.name()
            ))
            .color(t.quiet),
        );
    }
    for field in &difference.fields {
        let more = if field.is_open { "" } else { ", taken over anyway" };
        let text = format!(
            "{}: ours {}; theirs {}{more}",
            capital(&field.name),
            field.ours,
            field.theirs
        );
        let text = RichText::new(text);
        ui.label(if field.is_open { text } else { text.color(t.quiet) });
    }
    ui.horizontal(|ui| {
        for (word, choice) in [("Keep ours", Side::Ours), ("Take theirs", Side::Theirs)] {
            let button = ui.add(Button::selectable(*side == Some(choice), word).frame_when_inactive(true));
            if button.accessible_name(format!("{word}: {name}")).clicked() {
                *side = Some(choice);
            }
        }
    });
}
