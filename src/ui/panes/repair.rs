//! Mending what lies or was read in the wrong place, with a look at what becomes of it before it is done.

use crate::insight::RepairPreview;
use crate::model::{
    Cell, CellId, Command, Moved, Pass, Project, Repair, RepairKind, ShiftEnd, TestId, TrayId, plural,
    sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::segmented::segmented;
use egui::{Grid, Id, Label, RichText, ScrollArea, TextEdit, Ui};

/// Width and height of the dialog's content, in points.
const WIDTH: f32 = 556.0;
const HEIGHT: f32 = 590.0;

/// The dialog, while it is open.
#[derive(Debug)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own in the dialog"
)]
pub(super) struct RepairDialog {
    test: TestId,
    what: What,
    kind: Kind,
    to_next: bool,
    whole_tray: bool,
    round: bool,
    by_columns: bool,
    /// The cell or tray that is mended, as typed: `5 C1`, or `5`.
    first: String,
    /// The cell or tray with which it changes places, as typed.
    second: String,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Final,
    Early,
    Laid,
}

impl What {
    const ALL: [(Self, &'static str); 3] = [
        (Self::Final, "Final counts"),
        (Self::Early, "Early counts"),
        (Self::Laid, "What lies there"),
    ];
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Shift,
    Cells,
    Trays,
    Turn,
    Mirror,
}

impl Kind {
    const ALL: [(Self, &'static str); 5] = [
        (Self::Shift, "Shift by one"),
        (Self::Cells, "Swap cells"),
        (Self::Trays, "Swap trays"),
        (Self::Turn, "Turn"),
        (Self::Mirror, "Mirror"),
    ];
}

impl RepairDialog {
    /// Opens the dialog at a cell: a shift of its row, in the counts of a pass.
    pub fn at(project: &Project, test: TestId, cell: &Cell, pass: Pass) -> Self {
        let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
        Self {
            test,
            what: if pass == Pass::Early {
                What::Early
            } else {
                What::Final
            },
            kind: Kind::Shift,
            to_next: false,
            whole_tray: false,
            round: false,
            by_columns: true,
            first: format!("{tray} {}", cell.name()),
            second: String::new(),
            ticket: None,
            refusal: None,
        }
    }

    /// Opens the dialog with a repair that was proposed.
    pub fn proposed(project: &Project, test: TestId, repair: Repair) -> Self {
        let cell = |id: CellId| {
            let cell = project.cells.get(id);
            let tray = cell.and_then(|cell| project.trays.get(cell.tray));
            match (cell, tray) {
                (Some(cell), Some(tray)) => format!("{} {}", tray.number, cell.name()),
                _ => String::new(),
            }
        };
        let tray = |id: TrayId| {
            let tray = project.trays.get(id);
            tray.map_or_else(String::new, |tray| tray.number.to_string())
        };
        let mut dialog = Self {
            test,
            what: match repair.moved {
                Moved::Laid => What::Laid,
                Moved::Counts(Pass::Early) => What::Early,
                Moved::Counts(_) => What::Final,
            },
            kind: Kind::Shift,
            to_next: false,
            whole_tray: false,
            round: false,
            by_columns: true,
            first: String::new(),
            second: String::new(),
            ticket: None,
            refusal: None,
        };
        match repair.kind {
            RepairKind::Shift {
                from,
                to_next,
                end,
                round,
            } => {
                dialog.to_next = to_next;
                dialog.whole_tray = end == ShiftEnd::Tray;
                dialog.round = round;
                dialog.first = cell(from);
            }
            RepairKind::SwapCells(a, b) => {
                dialog.kind = Kind::Cells;
                dialog.first = cell(a);
                dialog.second = cell(b);
            }
            RepairKind::SwapTrays(a, b) => {
                dialog.kind = Kind::Trays;
                dialog.first = tray(a);
                dialog.second = tray(b);
            }
            RepairKind::Turn(one) => {
                dialog.kind = Kind::Turn;
                dialog.first = tray(one);
            }
            RepairKind::MirrorColumns(one) | RepairKind::MirrorRows(one) => {
                dialog.kind = Kind::Mirror;
                dialog.by_columns = matches!(repair.kind, RepairKind::MirrorColumns(_));
                dialog.first = tray(one);
            }
        }
        dialog
    }

    /// Draws the dialog; gives false when it is closed.
    pub fn ui(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        if let Some(outcome) = self.ticket.and_then(|ticket| ctx.outcome(ticket)) {
            self.ticket = None;
            match outcome {
                Ok(committed) => {
                    let text = format!("{}. Undo takes it back.", committed.label);
                    ctx.notice(Tone::Well, text);
                    return false;
                }
                Err(problem) => self.refusal = Some(sentence(&problem.fault.to_string())),
            }
        }
        let project = ctx.document.project();
        let repair = self.read(project);
        let preview = repair
            .as_ref()
            .ok()
            .map(|repair| ctx.insight.repair(ctx.document, *repair));
        let can = preview.as_ref().is_some_and(|preview| preview.refused.is_none())
            && ctx.read_only.is_none()
            && self.ticket.is_none();
        let dialog = Dialog::new(Id::unique("repair trays"), "Repair a tray")
            .confirm("Repair")
            .can_confirm(can)
            .body_takes_focus();
        let answer = dialog.show(ui.ctx(), |ui| {
            let t = Tokens::of(ui);
            let top = ui.cursor().top();
            let window = ui.ctx().content_rect().size();
            // The dialog keeps its size, so that nothing moves away under the pointer while one chooses.
            let (width, height) = (WIDTH.min(window.x - 80.0), HEIGHT.min(window.y - 150.0));
            ui.set_width(width);
            self.form(ui);
            ui.add_space(t.space.small);
            let rest = (top + height - ui.cursor().top()).max(3.0 * t.row_height);
            ScrollArea::vertical()
                .id_salt("what becomes of a repair")
                .auto_shrink(false)
                .max_height(rest)
                .show(ui, |ui| {
                    if let Some(why) = ctx.read_only {
                        ui.label(RichText::new(why).color(t.warn));
                    }
                    if let Some(refusal) = &self.refusal {
                        ui.add(Label::new(RichText::new(format!("✗ {refusal}")).color(t.bad)).wrap());
                    }
                    match (&repair, &preview) {
                        (Err(problem), _) => {
                            ui.add(Label::new(RichText::new(format!("⚠ {problem}")).color(t.warn)).wrap());
                        }
                        (Ok(_), Some(preview)) => preview_ui(ui, preview),
                        (Ok(_), None) => {}
                    }
                });
        });
        match (answer, repair) {
            (Some(DialogAnswer::Confirm), Ok(repair)) => {
                self.refusal = None;
                self.ticket = Some(ctx.run_for(Command::Repair(repair)));
                true
            }
            (Some(_), _) => false,
            (None, _) => true,
        }
    }

    fn form(&mut self, ui: &mut Ui) {
        let names = What::ALL.map(|(_, name)| name);
        let chosen = What::ALL
            .iter()
            .position(|(what, _)| *what == self.what)
            .unwrap_or(0);
        ui.label("What is in the wrong place");
        if let Some(new) = segmented(
            ui,
            Id::unique("repair what"),
            "What is in the wrong place",
            &names,
            chosen,
        ) {
            self.what = What::ALL[new].0;
        }
        let names = Kind::ALL.map(|(_, name)| name);
        let chosen = Kind::ALL
            .iter()
            .position(|(kind, _)| *kind == self.kind)
            .unwrap_or(0);
        ui.label("How it is mended");
        if let Some(new) = segmented(ui, Id::unique("repair kind"), "How it is mended", &names, chosen) {
            self.kind = Kind::ALL[new].0;
        }
        ui.add_space(Tokens::of(ui).space.tiny);
        let is_first = ui.memory(|m| m.focused().is_none());
        match self.kind {
            Kind::Shift => {
                field(ui, "From cell", "5 C1", &mut self.first, is_first);
                ui.horizontal(|ui| {
                    let names = ["one cell on", "one cell back"];
                    let chosen = usize::from(!self.to_next);
                    if let Some(new) = segmented(ui, Id::unique("repair way"), "Which way", &names, chosen) {
                        self.to_next = new == 0;
                    }
                    let names = ["to the row's end", "to the tray's end"];
                    let chosen = usize::from(self.whole_tray);
                    if let Some(new) = segmented(ui, Id::unique("repair end"), "How far", &names, chosen) {
                        self.whole_tray = new == 1;
                    }
                });
                ui.checkbox(
                    &mut self.round,
                    "What falls off at one end belongs to the other end",
                );
            }
            Kind::Cells => {
                field(ui, "Cell", "5 C1", &mut self.first, is_first);
                field(ui, "And cell", "5 C2", &mut self.second, false);
            }
            Kind::Trays => {
                field(ui, "Tray", "5", &mut self.first, is_first);
                field(ui, "And tray", "6", &mut self.second, false);
            }
            Kind::Turn => field(ui, "Tray", "5", &mut self.first, is_first),
            Kind::Mirror => {
                field(ui, "Tray", "5", &mut self.first, is_first);
                let names = ["left and right", "top and bottom"];
                let chosen = usize::from(!self.by_columns);
                if let Some(new) = segmented(ui, Id::unique("repair mirror"), "Which sides", &names, chosen) {
                    self.by_columns = new == 0;
                }
            }
        }
    }

    fn read(&self, project: &Project) -> Result<Repair, String> {
        let moved = match self.what {
            What::Final => Moved::Counts(Pass::Final),
            What::Early => Moved::Counts(Pass::Early),
            What::Laid => Moved::Laid,
        };
        let kind = match self.kind {
            Kind::Shift => RepairKind::Shift {
                from: self.cell(project, &self.first)?,
                to_next: self.to_next,
                end: if self.whole_tray {
                    ShiftEnd::Tray
                } else {
                    ShiftEnd::Row
                },
                round: self.round,
            },
            Kind::Cells => RepairKind::SwapCells(
                self.cell(project, &self.first)?,
                self.cell(project, &self.second)?,
            ),
            Kind::Trays => RepairKind::SwapTrays(
                self.tray(project, &self.first)?,
                self.tray(project, &self.second)?,
            ),
            Kind::Turn => RepairKind::Turn(self.tray(project, &self.first)?),
            Kind::Mirror if self.by_columns => RepairKind::MirrorColumns(self.tray(project, &self.first)?),
            Kind::Mirror => RepairKind::MirrorRows(self.tray(project, &self.first)?),
        };
        Ok(Repair { moved, kind })
    }

    /// Reads a tray's number; a cell behind it is passed over, as when the kind of repair was changed.
    fn tray(&self, project: &Project, text: &str) -> Result<TrayId, String> {
        let number = text.split_whitespace().next().unwrap_or("");
        project
            .trays_of(self.test)
            .find(|tray| tray.number.to_string() == number)
            .map(|tray| tray.id)
            .ok_or_else(|| {
                if number.is_empty() {
                    "Type the number of a tray, such as 5.".to_owned()
                } else {
                    format!("This test has no tray {number}; type the number of one that it has.")
                }
            })
    }

    fn cell(&self, project: &Project, text: &str) -> Result<CellId, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let [number, name] = words.as_slice() else {
            return Err("Type a tray and a cell, such as 5 C1.".to_owned());
        };
        let tray = self.tray(project, number)?;
        project
            .cells_of(tray)
            .find(|cell| cell.name().eq_ignore_ascii_case(name))
            .map(|cell| cell.id)
            .ok_or_else(|| format!("Tray {number} has no cell {name}; type one such as C1."))
    }
}

fn field(ui: &mut Ui, label: &str, hint: &str, text: &mut String, takes_focus: bool) {
    ui.horizontal(|ui| {
        let label = ui.label(label);
        let edit = TextEdit::singleline(text).hint_text(hint).desired_width(100.0);
        let field = ui.add(edit).labelled_by(label.id);
        if takes_focus {
            field.request_focus();
        }
    });
}

fn preview_ui(ui: &mut Ui, preview: &RepairPreview) {
    let t = Tokens::of(ui);
    let wrapped = |ui: &mut Ui, text: RichText| ui.add(Label::new(text).wrap());
    if let Some(refused) = &preview.refused {
        wrapped(ui, RichText::new(format!("⚠ {refused}")).color(t.warn));
        return;
    }
    wrapped(ui, RichText::new(format!("Now: {}", preview.now.sentence())));
    wrapped(
        ui,
        RichText::new(format!("Then: {}", preview.then.sentence())).font(t.strong_font()),
    );
    let (text, color) = match preview.then.is_better_than(&preview.now) {
        Some(true) => ("✓ The counts agree better after this repair.", t.ok),
        Some(false) => ("⚠ The counts agree worse after this repair.", t.bad),
        None => ("The counts do not tell whether this repair is right.", t.quiet),
    };
    wrapped(ui, RichText::new(text).font(t.strong_font()).color(color));
    if let Some((fits, text)) = preview.landmarks() {
        let (sign, color) = if fits { ("✓", t.ok) } else { ("⚠", t.bad) };
        wrapped(ui, RichText::new(format!("{sign} {text}")).color(color));
    }
    if let Some(open) = preview.open_again() {
        wrapped(ui, RichText::new(open));
    }
    ui.add_space(t.space.tiny);
    ui.label(format!("{} would change:", plural(preview.cells.len(), "cell")));
    // Rows of text, not of buttons.
    ui.spacing_mut().interact_size.y = 0.0;
    Grid::new("repaired cells")
        .striped(true)
        .num_columns(3)
        .show(ui, |ui| {
            for head in ["Cell", "Now", "Then"] {
                ui.label(RichText::new(head).font(t.strong_font()));
            }
            ui.end_row();
            for cell in &preview.cells {
                ui.label(&cell.name);
                ui.label(RichText::new(&cell.now).color(t.quiet));
                ui.label(&cell.then);
                ui.end_row();
            }
        });
}
