//! The dialog in which something that happened to trays is noted with all that is known of it, or changed.

use crate::insight::minute;
use crate::model::{
    Command, DateOrder, EventId, EventKind, Project, TestId, TrayEvent, read_number, read_time, read_trays,
    sentence, trays_typed,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::number_field::written;
use crate::ui::widgets::segmented::segmented;
use egui::{Grid, Id, TextEdit, Ui, vec2};
use jiff::civil::DateTime;

/// What can happen, in the order of the switch.
const KINDS: [&str; 4] = ["Water", "Moved", "Turned", "Note"];
/// Decimals of millilitres.
const DECIMALS: usize = 1;

/// Something that is being typed.
#[derive(Debug)]
pub(super) struct EventForm {
    /// The event that is changed; none for a new one.
    event: Option<EventId>,
    at: String,
    trays: String,
    kind: usize,
    ml: String,
    to: String,
    note: String,
    is_new: bool,
    asked: Option<Ticket>,
    refused: Option<String>,
}

impl EventForm {
    /// Something of now.
    pub(super) fn new(now: DateTime, trays: &str) -> Self {
        Self {
            event: None,
            at: minute(now),
            trays: trays.to_owned(),
            kind: KINDS.len() - 1,
            ml: String::new(),
            to: String::new(),
            note: String::new(),
            is_new: true,
            asked: None,
            refused: None,
        }
    }

    /// An event of the project.
    pub(super) fn of(project: &Project, event: &TrayEvent) -> Self {
        let mut form = Self::new(event.at, &trays_typed(project, &event.trays));
        form.event = Some(event.id);
        form.note.clone_from(&event.note);
        form.kind = match &event.kind {
            EventKind::Watered { ml } => {
                form.ml = ml.map_or(String::new(), |ml| written(ml, DECIMALS));
                0
            }
            EventKind::Moved { to } => {
                form.to.clone_from(to);
                1
            }
            EventKind::Turned => 2,
            EventKind::Note => 3,
        };
        form
    }

    /// Draws the dialog; returns whether it is done.
    pub(super) fn ui(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, test: TestId) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let done = if self.event.is_some() { "changed" } else { "noted" };
                    ctx.notice(Tone::Well, format!("It is {done}; Undo takes that back."));
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let read = self.read(ctx.document.project(), test);
        let title = if self.event.is_some() {
            "Change what was noted"
        } else {
            "Note what happened"
        };
        let confirm = if self.event.is_some() {
            "Keep the changes"
        } else {
            "Note it"
        };
        let can = read.is_ok() && ctx.read_only.is_none() && self.asked.is_none();
        let dialog = Dialog::new(Id::unique("note of trays"), title)
            .confirm(confirm)
            .can_confirm(can)
            .body_takes_focus();
        let problem = self
            .refused
            .clone()
            .or_else(|| read.as_ref().err().cloned())
            .or_else(|| ctx.read_only.map(str::to_owned));
        let answer = dialog.show(ui.ctx(), |ui| self.fields(ui, problem.as_deref()));
        match (answer, read) {
            (Some(DialogAnswer::Confirm), Ok(event)) if self.asked.is_none() => {
                self.refused = None;
                let command = if self.event.is_some() {
                    Command::EditEvent(event)
                } else {
                    Command::AddEvent(event)
                };
                self.asked = Some(ctx.run_for(command));
                false
            }
            (Some(DialogAnswer::Cancel), _) => true,
            _ => false,
        }
    }

    fn fields(&mut self, ui: &mut Ui, problem: Option<&str>) {
        let t = Tokens::of(ui);
        if let Some(kind) = segmented(ui, Id::unique("kind of note"), "What happened", &KINDS, self.kind) {
            self.kind = kind;
        }
        ui.add_space(t.space.small);
        Grid::new("note of trays")
            .num_columns(2)
            .spacing(vec2(t.space.medium, t.space.small))
            .show(ui, |ui| {
                for (word, text, hint, is_used) in [
                    ("When", &mut self.at, "2026-02-05 18:30", true),
                    ("Trays", &mut self.trays, "all, or such as 1-3, 7", true),
                    ("Water for each, ml", &mut self.ml, "not measured", self.kind == 0),
                    (
                        "Moved to",
                        &mut self.to,
                        "a shelf or another place",
                        self.kind == 1,
                    ),
                    ("Note", &mut self.note, "", true),
                ] {
                    let label = ui.label(word);
                    let field = TextEdit::singleline(text).hint_text(hint).desired_width(250.0);
                    let field = ui.add_enabled(is_used, field).labelled_by(label.id);
                    if self.is_new {
                        self.is_new = false;
                        field.request_focus();
                    }
                    ui.end_row();
                }
            });
        // The room of two lines is kept, so that nothing moves while something is typed.
        let room = vec2(ui.available_width(), 2.6 * t.type_size.body);
        ui.allocate_ui(room, |ui| {
            ui.set_min_size(room);
            if let Some(problem) = problem {
                super::super::alert(ui, problem);
            }
        });
    }

    fn read(&self, project: &Project, test: TestId) -> Result<TrayEvent, String> {
        let said = |fault: crate::model::Fault| sentence(&fault.to_string());
        let kind = match self.kind {
            0 => EventKind::Watered {
                ml: match self.ml.trim() {
                    "" => None,
                    ml => Some(read_number("the water in ml", ml).map_err(said)?),
                },
            },
            1 => EventKind::Moved {
                to: self.to.trim().to_owned(),
            },
            2 => EventKind::Turned,
            _ => EventKind::Note,
        };
        let event = TrayEvent {
            id: self.event.unwrap_or(EventId(0)),
            test,
            trays: read_trays(project, test, &self.trays).map_err(said)?,
            at: read_time(&self.at, DateOrder::Unknown).map_err(said)?,
            kind,
            note: self.note.trim().to_owned(),
        };
        event.check().map_err(said)?;
        Ok(event)
    }
}
