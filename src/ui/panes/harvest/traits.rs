//! The dialog in which traits are added, changed and removed.

use super::bulk::{field_line, refusal};
use crate::model::sentence;
use crate::model::{Better, Command, Trait, TraitId, read_number, read_whole};
use crate::ui::context::{PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{Id, RichText, ScrollArea, Ui};
use std::collections::BTreeMap;

/// The most digits after the point that a trait shows.
const MOST_DECIMALS: u32 = 6;

/// The dialog 'Traits': a list, and a form for one of them.
#[derive(Debug, Default)]
pub(super) struct Traits {
    form: Option<Form>,
    ticket: Option<Ticket>,
    refused: Option<String>,
}

/// A trait as it is typed.
#[derive(Debug)]
struct Form {
    known: Trait,
    least: String,
    most: String,
    decimals: String,
    is_added: bool,
    is_new: bool,
}

/// Says in one line what a trait measures: `from 5 to 35 cm, higher is better`.
pub(super) fn describe(known: &Trait) -> String {
    let unit = if known.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", known.unit)
    };
    let range = match (known.least, known.most) {
        (Some(least), Some(most)) => format!("from {least} to {most}{unit}"),
        (Some(least), None) => format!("at least {least}{unit}"),
        (None, Some(most)) => format!("at most {most}{unit}"),
        (None, None) => "any number".to_owned() + &unit,
    };
    let better = match known.better {
        Better::Higher => "more is better",
        Better::Lower => "less is better",
        Better::Neither => "only recorded",
    };
    format!("{range}, {better}")
}

impl Traits {
    /// Opens the form of one trait.
    pub(super) fn of(known: &Trait) -> Self {
        Self {
            form: Some(Form::of(known.clone(), false)),
            ..Self::default()
        }
    }

    /// Draws the dialog; returns whether it is done.
    pub(super) fn show(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        if let Some(outcome) = self.ticket.and_then(|ticket| ctx.outcome(ticket)) {
            match outcome {
                Ok(_) => self.form = None,
                Err(problem) => self.refused = Some(refusal(problem)),
            }
            self.ticket = None;
        }
        if self.form.is_some() {
            self.show_form(ui, ctx);
            return false;
        }
        self.show_list(ui, ctx)
    }

    fn show_list(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        let project = ctx.document.project();
        let mut removed = None;
        let mut edited = None;
        let dialog = Dialog::new(Id::unique("harvest traits"), "Traits")
            .confirm("Add a trait")
            .cancel("Close")
            .can_confirm(ctx.read_only.is_none());
        let answer = dialog.show(ui.ctx(), |ui| {
            let t = Tokens::of(ui);
            if project.traits.is_empty() {
                let text = "A trait is anything that you measure on an ear, such as its length or the number of its kernel rows. Each gets a column in the table.";
                ui.label(RichText::new(text).color(t.quiet));
            }
            ScrollArea::vertical().max_height(280.0).show(ui, |ui| {
                for known in project.traits.iter() {
                    ui.horizontal(|ui| {
                        let edit = ui.button("Change").accessible_name(format!("Change {}", known.name));
                        if edit.clicked() {
                            edited = Some(known.clone());
                        }
                        let remove = ui.button("Remove").accessible_name(format!("Remove {}", known.name));
                        if remove.clicked() {
                            removed = Some(known.id);
                        }
                        ui.vertical(|ui| {
                            ui.spacing_mut().item_spacing.y = 0.0;
                            ui.label(RichText::new(known.title()).font(t.strong_font()));
                            ui.label(RichText::new(describe(known)).font(t.small_font()).color(t.quiet));
                        });
                    });
                }
            });
            if let Some(refused) = &self.refused {
                alert(ui, refused);
            }
        });
        if let Some(known) = edited {
            *self = Self::of(&known);
        }
        if let Some(id) = removed {
            self.refused = None;
            self.ticket = Some(ctx.run_for(Command::RemoveTrait(id)));
        }
        match answer {
            Some(DialogAnswer::Confirm) => {
                self.refused = None;
                self.form = Some(Form::of(new_trait(""), true));
                false
            }
            Some(DialogAnswer::Cancel) => true,
            None => false,
        }
    }

    fn show_form(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some(form) = &mut self.form else { return };
        let (title, confirm) = if form.is_added {
            ("Add a trait", "Add trait")
        } else {
            ("Change a trait", "Change trait")
        };
        let read = form.read();
        let ready = read.is_ok() && !form.known.name.trim().is_empty() && ctx.read_only.is_none();
        let dialog = Dialog::new(Id::unique("harvest trait"), title)
            .confirm(confirm)
            .cancel("Back")
            .can_confirm(ready)
            .body_takes_focus();
        let refused = &mut self.refused;
        let answer = dialog.show(ui.ctx(), |ui| {
            if form.body(ui) {
                *refused = None;
            }
            if let Some(what) = refused.as_ref().or(read.as_ref().err()) {
                alert(ui, what);
            }
        });
        match (answer, read) {
            (Some(DialogAnswer::Confirm), Ok(known)) => {
                let command = if form.is_added {
                    Command::AddTrait(known)
                } else {
                    Command::EditTrait(known)
                };
                self.ticket = Some(ctx.run_for(command));
            }
            (Some(DialogAnswer::Cancel), _) => *self = Self::default(),
            _ => {}
        }
    }
}

/// A trait as a form begins with it.
pub(super) fn new_trait(name: &str) -> Trait {
    Trait {
        id: TraitId(0),
        name: name.to_owned(),
        unit: String::new(),
        least: None,
        most: None,
        better: Better::Neither,
        decimals: 0,
        anchors: BTreeMap::new(),
    }
}

impl Form {
    fn of(known: Trait, is_added: bool) -> Self {
        let text = |number: Option<f64>| number.map(|number| number.to_string()).unwrap_or_default();
        Self {
            least: text(known.least),
            most: text(known.most),
            decimals: known.decimals.to_string(),
            known,
            is_added,
            is_new: true,
        }
    }

    /// Draws the fields; returns whether any was changed.
    fn body(&mut self, ui: &mut Ui) -> bool {
        let focus = std::mem::take(&mut self.is_new);
        let known = &mut self.known;
        let mut changed = field_line(ui, "Name", &mut known.name, focus);
        changed |= field_line(ui, "Unit, if it has one", &mut known.unit, false);
        changed |= field_line(ui, "Least, if there is a limit", &mut self.least, false);
        changed |= field_line(ui, "Most, if there is a limit", &mut self.most, false);
        changed |= field_line(ui, "Digits after the point", &mut self.decimals, false);
        ui.label("Which is better?");
        let better = [Better::Higher, Better::Lower, Better::Neither];
        let chosen = better.iter().position(|one| *one == known.better).unwrap_or(2);
        let words = ["More", "Less", "Only recorded"];
        let id = Id::unique("harvest trait better");
        if let Some(chosen) = segmented(ui, id, "Which is better", &words, chosen) {
            known.better = better[chosen];
            changed = true;
        }
        changed
    }

    /// The trait as typed, or what cannot be read.
    fn read(&self) -> Result<Trait, String> {
        let limit = |what, text: &str| {
            if text.trim().is_empty() {
                return Ok(None);
            }
            read_number(what, text)
                .map(Some)
                .map_err(|fault| sentence(&fault.to_string()))
        };
        let decimals = read_whole("the digits after the point", &self.decimals, MOST_DECIMALS)
            .map_err(|fault| sentence(&fault.to_string()))?;
        Ok(Trait {
            name: self.known.name.trim().to_owned(),
            unit: self.known.unit.trim().to_owned(),
            least: limit("the least value", &self.least)?,
            most: limit("the greatest value", &self.most)?,
            decimals: decimals as u8,
            ..self.known.clone()
        })
    }
}
