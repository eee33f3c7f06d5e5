//! Changes of a layout by hand: two cells change places, late ears take spare cells.

use super::form::alert;
use crate::insight::{HandChange, is_untested};
use crate::model::{
    CellId, Command, DateOrder, Moved, Place, Project, Repair, RepairKind, TestId, ear_ranges, plural,
    read_date, read_ear_numbers, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Id, Label, RichText, ScrollArea, TextEdit, Ui};

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct ByHand {
    /// The cell that waits for another one to change places with.
    picked: Option<CellId>,
    swapping: Option<Ticket>,
    late: Option<Late>,
}

/// The dialog that adds late ears.
#[derive(Debug)]
struct Late {
    test: TestId,
    ears: String,
    date: String,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

impl ByHand {
    /// The cell that waits for another one.
    pub fn picked(&self) -> Option<CellId> {
        self.picked
    }

    /// Forgets the cell that waits.
    pub fn forget(&mut self) {
        self.picked = None;
    }

    /// Picks a cell; with one picked already, changes the two places, or forgets it when it is picked again.
    pub fn pick(&mut self, ctx: &mut PaneCtx<'_>, cell: CellId) {
        match self.picked {
            None => self.picked = Some(cell),
            Some(first) if first == cell => self.picked = None,
            Some(first) => self.swapping = Some(ctx.run_for(swap(first, cell))),
        }
    }

    /// Takes note of what became of the last request.
    pub fn follow(&mut self, ctx: &mut PaneCtx<'_>) {
        if self
            .picked
            .is_some_and(|cell| !ctx.document.project().cells.contains(cell))
        {
            self.picked = None;
        }
        if let Some(outcome) = self.swapping.and_then(|ticket| ctx.outcome(ticket)) {
            self.swapping = None;
            match outcome {
                Ok(committed) => {
                    let text = format!("{}. Undo takes it back.", committed.label);
                    self.picked = None;
                    ctx.notice(Tone::Well, text);
                }
                Err(problem) => {
                    let text = sentence(&problem.to_string());
                    ctx.notice(Tone::Error, text);
                }
            }
        }
        if let Some(late) = &mut self.late
            && let Some(outcome) = late.ticket.and_then(|ticket| ctx.outcome(ticket))
        {
            late.ticket = None;
            match outcome {
                Ok(committed) => {
                    let text = format!("{}. Undo takes it back.", committed.label);
                    self.late = None;
                    ctx.notice(Tone::Well, text);
                }
                Err(problem) => late.refusal = Some(sentence(&problem.to_string())),
            }
        }
    }

    /// Draws the line under the trays that lets two cells change places; `cell` is the one under the cursor.
    pub fn swap_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: TestId, cell: Option<CellId>) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let name = |cell: CellId| project.place_name(Place::Cell(cell));
        let Some(first) = self.picked else {
            let Some(cell) = cell else { return };
            let text = format!("Swap {} with …", name(cell));
            let hint = "Key S. Then choose the other cell; what would move is said before it is done.";
            if ui.button(text).on_hover_text(hint).clicked() {
                self.picked = Some(cell);
            }
            return;
        };
        let second = cell.filter(|cell| *cell != first);
        let change = second.map(|second| ctx.insight.by_hand(ctx.document, test, &swap(first, second)));
        let can = change.as_ref().is_some_and(|change| change.refused.is_none()) && self.swapping.is_none();
        ui.horizontal_wrapped(|ui| {
            let text = second.map_or_else(
                || "Swap".to_owned(),
                |second| format!("Swap {} and {}", name(first), name(second)),
            );
            let button = ui.add_enabled(can, egui::Button::new(text));
            if button.on_hover_text("Key S").clicked()
                && let Some(second) = second
            {
                self.swapping = Some(ctx.run_for(swap(first, second)));
            }
            if ui.button("Leave it").on_hover_text("Escape").clicked() {
                self.picked = None;
            }
            match &change {
                None => {
                    let text = format!("{} is picked: choose the cell to swap it with.", name(first));
                    ui.label(RichText::new(sentence(&text)).color(t.quiet));
                }
                Some(change) => change_ui(ui, change),
            }
        });
    }

    /// Opens the dialog for the ears of a season that are in no test.
    pub fn ask_late(&mut self, ctx: &PaneCtx<'_>, test: TestId) {
        let project = ctx.document.project();
        let Some(record) = project.tests.get(test) else {
            return;
        };
        let untested = project
            .ears_of(record.season)
            .filter(|ear| is_untested(project, ear));
        let date = if project.is_begun(test) {
            ctx.today.to_string()
        } else {
            String::new()
        };
        self.late = Some(Late {
            test,
            ears: ear_ranges(untested.map(|ear| ear.number)),
            date,
            ticket: None,
            refusal: None,
        });
    }

    /// Draws the dialog for late ears, if it is open.
    pub fn late_ui(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some(late) = &mut self.late else { return };
        let project = ctx.document.project();
        let is_begun = project.is_begun(late.test);
        let command = late.command(project, is_begun);
        let change = command
            .as_ref()
            .ok()
            .map(|command| ctx.insight.by_hand(ctx.document, late.test, command));
        let can = change.as_ref().is_some_and(|change| change.refused.is_none()) && late.ticket.is_none();
        let dialog = Dialog::new(Id::unique("add late ears"), "Add late ears")
            .confirm("Add them")
            .can_confirm(can)
            .body_takes_focus();
        let answer = dialog.show(ui.ctx(), |ui| {
            ui.label("Late ears take spare cells. Nothing else moves.");
            ui.horizontal(|ui| {
                let label = ui.label("Ears");
                let edit = TextEdit::singleline(&mut late.ears)
                    .id(Id::unique("late ears"))
                    .desired_width(260.0)
                    .hint_text("241-250, 260");
                let field = ui.add(edit).labelled_by(label.id);
                if ui.memory(|m| m.focused().is_none()) {
                    field.request_focus();
                }
            });
            if is_begun {
                ui.horizontal(|ui| {
                    let label = ui.label("Day of laying");
                    let edit = TextEdit::singleline(&mut late.date)
                        .id(Id::unique("day of laying late ears"))
                        .desired_width(120.0);
                    ui.add(edit).labelled_by(label.id);
                });
            }
            match (&command, &change) {
                (Err(problem), _) => alert(ui, problem),
                (Ok(_), Some(change)) => late_change_ui(ui, change),
                (Ok(_), None) => {}
            }
            if let Some(refusal) = &late.refusal {
                alert(ui, refusal);
            }
        });
        match (answer, command) {
            (Some(DialogAnswer::Confirm), Ok(command)) => {
                late.refusal = None;
                late.ticket = Some(ctx.run_for(command));
            }
            (Some(_), _) => self.late = None,
            (None, _) => {}
        }
    }
}

impl Late {
    fn command(&self, project: &Project, is_begun: bool) -> Result<Command, String> {
        let season = project.tests.get(self.test).map(|test| test.season);
        let ear = |number: u32| {
            let found = season.and_then(|season| project.ear_numbered(season, number));
            found.map(|ear| ear.id)
        };
        let ears = read_ear_numbers(&self.ears, ear)?;
        let may_be_unlaid = project
            .tests
            .get(self.test)
            .is_some_and(|test| test.laid.is_none());
        let laid_on = if !is_begun || (may_be_unlaid && self.date.trim().is_empty()) {
            None
        } else {
            let day = read_date(&self.date, DateOrder::Unknown);
            Some(day.map_err(|fault| sentence(&fault.to_string()))?)
        };
        Ok(Command::AddToTest {
            test: self.test,
            ears,
            laid_on,
        })
    }
}

fn swap(first: CellId, second: CellId) -> Command {
    Command::Repair(Repair {
        moved: Moved::Laid,
        kind: RepairKind::SwapCells(first, second),
    })
}

/// Says what a change would do and what speaks against it.
fn change_ui(ui: &mut Ui, change: &HandChange) {
    let t = Tokens::of(ui);
    if let Some(refused) = &change.refused {
        alert(ui, refused);
        return;
    }
    ui.add(Label::new(change.sentence()).wrap());
    for caution in &change.cautions {
        ui.add(Label::new(RichText::new(format!("⚠ {caution}")).color(t.warn)).wrap());
    }
}

fn late_change_ui(ui: &mut Ui, change: &HandChange) {
    let t = Tokens::of(ui);
    if let Some(refused) = &change.refused {
        alert(ui, refused);
        return;
    }
    let cells = plural(change.cells.len(), "spare cell");
    let verb = if change.cells.len() == 1 { "is" } else { "are" };
    ui.label(format!("{cells} {verb} taken:"));
    ScrollArea::vertical()
        .id_salt("late ears")
        .max_height(180.0)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            for cell in &change.cells {
                ui.label(format!("{}: {}", cell.name, cell.then));
            }
        });
    if change.kernels > 0 {
        let kernels = plural(change.kernels.unsigned_abs() as usize, "kernel");
        let verb = if change.kernels == 1 { "is" } else { "are" };
        ui.label(format!("{kernels} {verb} taken out of their packets."));
    }
    for caution in &change.cautions {
        ui.add(Label::new(RichText::new(format!("⚠ {caution}")).color(t.warn)).wrap());
    }
}
