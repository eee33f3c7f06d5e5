//! What is asked before the count goes on: whether a landmark is blank, whether the last cell of a row is the right one,
//! and why something is so that does not fit together.

use super::keys::Pressed;
use super::strip;
use super::walk::Walk;
use super::{Scoring, keyboard, place_name};
use crate::insight::{Guard, Reading, astray};
use crate::model::{Cell, CellContent, Command, Project, Seen, Taken, Tally, capital, row_letters};
use crate::ui::context::{Action, PaneCtx, Tone};
use crate::ui::panes::repair::RepairDialog;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::primary_button_enabled;
use egui::{Button, Id, Key, Label, RichText, Role, TextEdit, Ui, WidgetInfo};

/// Letters that a reason has at least, so that digits meant for the next cell are none.
const LEAST_LETTERS: usize = 3;

/// What is asked of a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Asking {
    /// Whether the last cell of a row is the one that was counted; then where counting goes on.
    ReadBack { next: Option<crate::model::CellId> },
    /// The tray may be turned or read one cell off.
    Astray,
    /// Something does not fit together.
    Guard {
        guards: Vec<Guard>,
        reason: String,
        /// Whether another reason than the usual one is typed.
        is_typed: bool,
    },
    /// What stands on the sheet as the total of the row.
    Total,
    /// The cells of the row and its total on the sheet do not agree; then why the row is stored all the same.
    Apart { reason: String },
    /// A note on the count.
    Note { text: String },
    /// Why a count is withdrawn.
    Withdraw { reason: String },
}

/// A question as it is drawn and answered.
struct Question {
    text: String,
    yes: &'static str,
    no: Option<&'static str>,
    /// Answers that are offered instead of typing one.
    offers: Vec<&'static str>,
    /// The name of the field in which something is typed, and whether it has to be more than digits.
    field: Option<(&'static str, bool)>,
    is_warning: bool,
}

fn field_id() -> Id {
    Id::unique("scoring answer")
}

/// Begins a button's words with a small letter, for the middle of a sentence.
fn small(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|letter| letter.to_lowercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// Says whether a text gives a reason.
pub(super) fn is_reason(text: &str) -> bool {
    text.chars().filter(|letter| letter.is_alphabetic()).count() >= LEAST_LETTERS
}

impl Scoring {
    /// Says whether the cell is a landmark that was not looked at yet.
    fn is_unseen_landmark(&self, cell: &Cell, reading: Reading) -> bool {
        // On paper nobody looks at it any more.
        self.sheet.is_none()
            && cell.content == CellContent::Landmark
            && !self.blank.contains(&(cell.id, reading))
    }

    fn question(&self, project: &Project, cell: &Cell, reading: Reading) -> Option<Question> {
        let name = cell.name();
        let asked = self.asking.as_ref().filter(|(id, _)| *id == cell.id);
        let question = match asked.map(|(_, asking)| asking) {
            None if self.is_unseen_landmark(cell, reading) => Question {
                text: format!("{name} is a landmark, left empty on purpose. Is it blank?"),
                yes: "It is blank",
                no: Some("Something grows here"),
                offers: Vec::new(),
                field: None,
                is_warning: false,
            },
            None => return None,
            Some(Asking::ReadBack { .. }) => Question {
                text: read_back(project, cell, self.blind),
                yes: "It is so",
                no: Some("It is another cell"),
                offers: Vec::new(),
                field: None,
                is_warning: false,
            },
            Some(Asking::Astray) => Question {
                text: astray(project, cell),
                yes: "Back to counting",
                no: (!self.blind).then_some("Repair…"),
                offers: Vec::new(),
                field: None,
                is_warning: true,
            },
            Some(Asking::Guard { guards, is_typed, .. }) => guard_question(guards, (*is_typed, self.blind)),
            Some(Asking::Total) => Question {
                text: format!(
                    "Type the total of row {} as it stands on the sheet; + goes to the next box.",
                    row_letters(cell.row)
                ),
                yes: "Compare",
                no: Some("No total on the sheet"),
                offers: Vec::new(),
                field: None,
                is_warning: false,
            },
            Some(Asking::Apart { .. }) => {
                let apart = self.told_apart(project, reading, cell).unwrap_or_default();
                let text = format!("{apart}. Arrows lead to its cells; or say why it is so.");
                let has_total = self.total_in_hand(project, cell, reading);
                let offer = match has_total {
                    Some((_, total)) if !total.is_empty() => "the total on the sheet is wrong",
                    _ => "the sheet has no total here",
                };
                Question {
                    text,
                    yes: "Store it all the same",
                    no: Some("Another total"),
                    offers: vec![offer],
                    field: Some(("Reason", true)),
                    is_warning: true,
                }
            }
            Some(Asking::Note { .. }) => Question {
                text: format!("A note on {}", place_name(project, cell)),
                yes: "Keep the note",
                no: None,
                offers: Vec::new(),
                field: Some(("Note", false)),
                is_warning: false,
            },
            Some(Asking::Withdraw { .. }) => Question {
                text: format!(
                    "The {} count of {} is withdrawn; it stays in the history. Type why.",
                    reading.pass,
                    place_name(project, cell)
                ),
                yes: "Withdraw it",
                no: None,
                offers: Vec::new(),
                field: Some(("Reason", true)),
                is_warning: true,
            },
        };
        Some(question)
    }

    // ---- keys --------------------------------------------------------------------------------------------

    /// Takes a key as an answer to what is asked; says whether it was one.
    pub(super) fn answer(
        &mut self,
        ui: &Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        pressed: Pressed,
    ) -> bool {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return false;
        };
        let Some(question) = self.question(project, cell, reading) else {
            return false;
        };
        let is_landmark = self.is_unseen_landmark(cell, reading) && self.asking.is_none();
        match pressed {
            Pressed::Key(Key::Enter, _) | Pressed::Sign('+') => self.yes(ui, ctx, walk, reading),
            Pressed::Sign('0') if is_landmark => self.yes(ui, ctx, walk, reading),
            Pressed::Sign('1'..='9') if is_landmark => self.no(ui, project, reading),
            Pressed::Sign('/' | '*' | '.' | ',') if question.no.is_some() => self.no(ui, project, reading),
            // Where there is only the field left, the same key leads into it.
            Pressed::Sign('/') if question.field.is_some() => {
                ui.memory_mut(|m| m.request_focus(field_id()));
            }
            Pressed::Key(Key::Backspace, _) | Pressed::Sign('-') => {
                let is_landmark_or_read =
                    is_landmark || matches!(self.asking, Some((_, Asking::ReadBack { .. })));
                let is_guard = matches!(self.asking, Some((_, Asking::Guard { .. })));
                if let Some((_, Asking::Apart { .. })) = self.asking {
                    self.take_back_of_total(cell, reading);
                    self.asking = Some((cell.id, Asking::Total));
                    return true;
                }
                self.asking = None;
                if is_guard || is_landmark_or_read {
                    self.take_back(project, walk, reading);
                }
            }
            // What leads away leaves the question behind.
            Pressed::Key(..) | Pressed::Sign('n' | 'N' | 'g' | 'G') => return false,
            Pressed::Sign(_) => {
                let no = question
                    .no
                    .map_or_else(String::new, |no| format!(", / {}", small(no)));
                let text = format!("That is no answer: Enter {}{no}.", small(question.yes));
                self.message = Some((Tone::Warning, text));
            }
        }
        true
    }

    fn no(&mut self, ui: &Ui, project: &Project, reading: Reading) {
        self.message = None;
        if let Some((_, Asking::Guard { is_typed, .. })) = &mut self.asking {
            *is_typed = true;
            return ui.memory_mut(|m| m.request_focus(field_id()));
        }
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        if let Some((_, Asking::Total)) = self.asking {
            self.empty_total(cell, reading);
            let reason = String::new();
            self.asking = Some((cell.id, Asking::Apart { reason }));
        } else if let Some((_, Asking::Apart { .. })) = self.asking {
            self.empty_total(cell, reading);
        } else if let Some((_, Asking::Astray)) = self.asking {
            if let Some(test) = project.test_of_tray(cell.tray) {
                self.repair = Some(RepairDialog::at(project, test.id, cell, reading.pass));
            }
        } else {
            self.asking = Some((cell.id, Asking::Astray));
        }
    }

    fn yes(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, walk: &Walk, reading: Reading) {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        self.message = None;
        match self.asking.take() {
            None => {
                if cell.content == CellContent::Landmark {
                    self.blank.insert((cell.id, reading));
                    let next = self.stop_after(project, walk, reading, cell, false);
                    self.leave_row(project, walk, reading, cell, next);
                }
            }
            Some((_, Asking::ReadBack { next })) => self.leave_row(project, walk, reading, cell, next),
            Some((_, Asking::Astray)) => {}
            Some((
                id,
                Asking::Guard {
                    guards,
                    reason,
                    is_typed,
                },
            )) => {
                let usual: Option<Vec<&str>> = guards.iter().map(|guard| guard.usual_reason()).collect();
                let why = match usual {
                    _ if is_reason(&reason) => reason.trim().to_owned(),
                    Some(usual) if !is_typed => usual.join("; "),
                    _ => {
                        self.asking = Some((
                            id,
                            Asking::Guard {
                                guards,
                                reason,
                                is_typed,
                            },
                        ));
                        return ui.memory_mut(|m| m.request_focus(field_id()));
                    }
                };
                give_back(ui);
                if let Some(seen) = self.seen(project, cell, reading) {
                    let overruled = why;
                    self.record(ctx, walk, reading, cell, Seen { overruled, ..seen });
                }
            }
            Some((_, Asking::Total)) => self.compare_total(ctx, walk, reading, cell),
            Some((id, Asking::Apart { reason })) => {
                if !is_reason(&reason) {
                    self.asking = Some((id, Asking::Apart { reason }));
                    return ui.memory_mut(|m| m.request_focus(field_id()));
                }
                give_back(ui);
                self.store_row(ctx, walk, reading, cell, reason.trim());
            }
            Some((_, Asking::Note { text })) => {
                give_back(ui);
                self.keep_note(ctx, cell, reading, text.trim().to_owned());
            }
            Some((id, Asking::Withdraw { reason })) => {
                if !is_reason(&reason) {
                    self.asking = Some((id, Asking::Withdraw { reason }));
                    return ui.memory_mut(|m| m.request_focus(field_id()));
                }
                give_back(ui);
                self.withdraw(ctx, cell, reading, reason.trim());
            }
        }
    }

    // ---- notes and withdrawals ---------------------------------------------------------------------------

    pub(super) fn write_note(&mut self, ui: &Ui, ctx: &PaneCtx<'_>, reading: Reading) {
        let project = ctx.document.project();
        self.message = None;
        if !self.may_change(ctx) {
            return;
        }
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return;
        };
        if !cell.content.is_counted() {
            let text = "A note belongs to a count, and nothing is counted here.".to_owned();
            self.message = Some((Tone::Warning, text));
            return;
        }
        let known = self.notes.get(&(cell.id, reading)).cloned();
        let recorded = || reading.count(project, cell.id).map(|count| count.note.clone());
        let text = known.or_else(recorded).unwrap_or_default();
        self.asking = Some((cell.id, Asking::Note { text }));
        ui.memory_mut(|m| m.request_focus(field_id()));
    }

    /// Keeps a note until the count is recorded; where it is recorded and nothing else is typed, the note alone corrects
    /// it.
    fn keep_note(&mut self, ctx: &mut PaneCtx<'_>, cell: &Cell, reading: Reading, note: String) {
        let project = ctx.document.project();
        let key = (cell.id, reading);
        if let Some(sheet) = &mut self.sheet {
            sheet.note(cell.id, reading, &note);
        }
        let Some(count) = reading
            .count(project, cell.id)
            .filter(|_| !self.entries.contains_key(&key))
        else {
            self.notes.insert(key, note);
            return;
        };
        if count.note == note || !self.may_change(ctx) {
            return;
        }
        let seen = Seen {
            second: count.second,
            mould: count.mould,
            vigor: count.vigor,
            note,
            root_mm: count.root_mm,
            shoot_mm: count.shoot_mm,
            overruled: count.overruled.clone(),
            ..Seen::new(cell.id, reading.pass, count.tally)
        };
        let taken = Taken {
            scheme: Some(count.scheme),
            on: count.on,
            by: count.by.clone(),
            ..Taken::new(seen)
        };
        ctx.act(Action::CloseStep);
        ctx.run(Command::TakeCounts {
            label: format!("Note on {}", place_name(project, cell)),
            counts: vec![taken],
        });
    }

    pub(super) fn ask_withdraw(&mut self, ui: &Ui, ctx: &PaneCtx<'_>, reading: Reading) {
        let project = ctx.document.project();
        let Some(cell) = self.cell else { return };
        if self.empty_typed(project, reading) || !self.may_change(ctx) {
            return;
        }
        if reading.count(project, cell).is_none() {
            let text = format!("There is no {} count here that could be withdrawn.", reading.pass);
            self.message = Some((Tone::Warning, text));
            return;
        }
        self.message = None;
        self.asking = Some((
            cell,
            Asking::Withdraw {
                reason: String::new(),
            },
        ));
        ui.memory_mut(|m| m.request_focus(field_id()));
    }

    fn withdraw(&mut self, ctx: &mut PaneCtx<'_>, cell: &Cell, reading: Reading, reason: &str) {
        let project = ctx.document.project();
        let said = place_name(project, cell);
        let seen = Seen {
            second: reading.second,
            note: reason.to_owned(),
            ..Seen::new(cell.id, reading.pass, Tally::default())
        };
        let taken = Taken {
            is_void: true,
            on: Some(ctx.today),
            by: ctx.who.to_owned(),
            ..Taken::new(seen)
        };
        ctx.act(Action::CloseStep);
        ctx.run(Command::TakeCounts {
            label: format!("Withdraw the {} count of {said}", reading.pass),
            counts: vec![taken],
        });
        let text = format!("The {} count of {said} is withdrawn.", reading.pass);
        self.message = Some((Tone::Well, text));
    }

    // ---- drawing -----------------------------------------------------------------------------------------

    /// Draws what is asked; says whether anything is.
    pub(super) fn question_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
    ) -> bool {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let Some(question) = self.question(project, cell, reading) else {
            return false;
        };
        let (sign, colour) = if question.is_warning {
            ("⚠ ", t.warn)
        } else {
            ("", t.text)
        };
        let text = format!("{sign}{}", question.text);
        let font = if strip::is_low(ui) {
            t.strong_font()
        } else {
            t.heading_font()
        };
        let said = ui.add(Label::new(RichText::new(&text).font(font).color(colour)).wrap());
        said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, &text));
        let mut answered = None;
        ui.horizontal_wrapped(|ui| {
            let mut can = true;
            if let Some((name, is_needed)) = question.field {
                can = self.answer_field(ui, name, is_needed, &mut answered);
            }
            let yes = format!("{} (Enter)", question.yes);
            if primary_button_enabled(ui, can, &yes).clicked() {
                answered = Some(true);
            }
            if let Some(no) = question.no
                && ui.add(Button::new(format!("{no} (/)"))).clicked()
            {
                answered = Some(false);
            }
            for offer in &question.offers {
                if ui.button(capital(offer)).clicked() {
                    self.offer(offer);
                    answered = Some(true);
                }
            }
        });
        match answered {
            Some(true) => self.yes(ui, ctx, walk, reading),
            Some(false) => self.no(ui, project, reading),
            None => {}
        }
        if answered.is_some() && self.asking.is_none() {
            give_back(ui);
        }
        true
    }

    /// Takes an answer that was offered instead of typing one.
    fn offer(&mut self, offer: &str) {
        if let Some((_, Asking::Guard { reason, .. } | Asking::Apart { reason })) = &mut self.asking {
            offer.clone_into(reason);
        }
    }

    /// Draws the field of an answer; says whether what is typed in it can be kept.
    fn answer_field(
        &mut self,
        ui: &mut Ui,
        name: &str,
        is_needed: bool,
        answered: &mut Option<bool>,
    ) -> bool {
        let Some((
            _,
            Asking::Guard { reason: text, .. }
            | Asking::Apart { reason: text }
            | Asking::Note { text }
            | Asking::Withdraw { reason: text },
        )) = &mut self.asking
        else {
            return true;
        };
        let label = ui.label(name);
        let width = if strip::is_low(ui) { 160.0 } else { 320.0 };
        let edit = TextEdit::singleline(text).id(field_id()).desired_width(width);
        let field = ui.add(edit).labelled_by(label.id);
        let can = !is_needed || is_reason(text);
        if field.lost_focus() {
            if ui.input(|i| i.key_pressed(Key::Enter)) {
                if can {
                    *answered = Some(true);
                } else {
                    field.request_focus();
                }
            } else if ui.input(|i| i.key_pressed(Key::Escape)) {
                self.asking = None;
                give_back(ui);
            }
        }
        can
    }
}

fn guard_question(guards: &[Guard], (is_typed, is_blind): (bool, bool)) -> Question {
    let told: Vec<String> = guards.iter().map(|guard| guard.sentence(is_blind)).collect();
    let is_usual = !is_typed && guards.iter().all(|guard| !guard.needs_reason());
    let end = if is_usual {
        "Is it so? Backspace takes back the last key."
    } else {
        "Is this the right cell? Backspace takes back the last key. If it is so all the same, say why."
    };
    let mut offers: Vec<&'static str> = Vec::new();
    for reason in guards.iter().flat_map(|guard| guard.reasons()) {
        if !is_usual && !offers.contains(reason) {
            offers.push(reason);
        }
    }
    Question {
        text: format!("{} {end}", told.join(" ")),
        yes: if is_usual {
            "They died after sprouting"
        } else {
            "Record it with this reason"
        },
        no: is_usual.then_some("Another reason…"),
        offers,
        field: (!is_usual).then_some(("Another reason", true)),
        is_warning: true,
    }
}

/// What is read back of the last cell of a row; a blind scorer reads back the cell's name alone.
fn read_back(project: &Project, cell: &Cell, is_blind: bool) -> String {
    let name = cell.name();
    let row = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    let holds = match cell.content {
        _ if is_blind => String::new(),
        CellContent::Ear(ear) => project.ears.get(ear).map_or_else(String::new, |ear| {
            let code = ear.code.to_string();
            let check = code.chars().next_back().map_or_else(String::new, String::from);
            format!(" holds ear {}, check character {check}", ear.number)
        }),
        CellContent::Check(number) => format!(" holds check {number}"),
        CellContent::Landmark | CellContent::Spare => " holds nothing".to_owned(),
    };
    format!("Read back the last cell of row {row}: {name}{holds}. Is it so?")
}

/// The keys go to the cells again.
fn give_back(ui: &Ui) {
    ui.memory_mut(|m| m.request_focus(keyboard()));
}
