//! The dialog in which a storage place is added or changed.

use crate::insight::{Keeping, life_factor, rule_of_100};
use crate::model::{Command, Project, StoreId, StorePlace, TemperatureUnit, read_number, sentence};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::number_field::written;
use crate::ui::widgets::parts::alert;
use egui::{Grid, Id, Label, RichText, TextEdit, Ui, vec2};

/// A place that is being typed.
#[derive(Debug)]
pub(super) struct PlaceForm {
    /// The place that is changed; none for a new one.
    store: Option<StoreId>,
    name: String,
    temperature: String,
    humidity: String,
    note: String,
    is_new: bool,
    asked: Option<Ticket>,
    refused: Option<String>,
}

impl Default for PlaceForm {
    fn default() -> Self {
        Self {
            store: None,
            name: String::new(),
            temperature: String::new(),
            humidity: String::new(),
            note: String::new(),
            is_new: true,
            asked: None,
            refused: None,
        }
    }
}

impl PlaceForm {
    /// A place of the project.
    pub(super) fn of(project: &Project, store: &StorePlace) -> Self {
        let unit = project.about.units.temperature;
        let text = |number: Option<f64>| number.map_or_else(String::new, |number| written(number, 1));
        Self {
            store: Some(store.id),
            name: store.name.clone(),
            temperature: text(store.temperature_c.map(|celsius| unit.of_celsius(celsius))),
            humidity: text(store.humidity_percent),
            note: store.note.clone(),
            ..Self::default()
        }
    }

    /// Draws the dialog; returns whether it is done.
    pub(super) fn ui(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        if let Some(outcome) = self.asked.and_then(|ticket| ctx.outcome(ticket)) {
            self.asked = None;
            match outcome {
                Ok(committed) => {
                    ctx.notice(Tone::Well, format!("{}. Undo takes it back.", committed.label));
                    return true;
                }
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
        }
        let project = ctx.document.project();
        let read = self.read(project);
        let (title, confirm) = match self.store {
            Some(_) => ("Change a storage place", "Keep the changes"),
            None => ("Add a storage place", "Add it"),
        };
        let can = read.is_ok() && ctx.read_only.is_none() && self.asked.is_none();
        let dialog = Dialog::new(Id::unique("storage place"), title)
            .confirm(confirm)
            .can_confirm(can)
            .body_takes_focus();
        // An empty form is no fault yet.
        let is_empty = self.store.is_none() && self.name.is_empty();
        let problem = self.refused.clone().or_else(|| {
            let fault = read.as_ref().err().cloned();
            fault.filter(|_| !is_empty)
        });
        let told = read.as_ref().ok().map(|store| self.told(project, store));
        let unit = project.about.units.temperature;
        let answer = dialog.show(ui.ctx(), |ui| self.fields(ui, unit, problem, told));
        match (answer, read) {
            (Some(DialogAnswer::Confirm), Ok(store)) if self.asked.is_none() => {
                self.refused = None;
                let command = match self.store {
                    Some(_) => Command::EditStore(store),
                    None => Command::AddStore(store),
                };
                self.asked = Some(ctx.run_for(command));
                false
            }
            (Some(DialogAnswer::Cancel), _) => true,
            _ => false,
        }
    }

    /// What the rule of 100 says of the place, and how much longer seed keeps there than before it was changed.
    fn told(&self, project: &Project, store: &StorePlace) -> String {
        let (_, rule) = rule_of_100(store.temperature_c, store.humidity_percent);
        let before = self.store.and_then(|id| project.stores.get(id));
        let before = before.and_then(|before| before.temperature_c);
        let keeping = |temperature_c| Keeping {
            temperature_c,
            moisture_percent: None,
        };
        let longer = match (before, store.temperature_c) {
            (Some(was), Some(is)) if (was - is).abs() > 0.05 => {
                let told = match life_factor(keeping(was), keeping(is)) {
                    Ok(factor) => factor.sentence(),
                    Err(why) => why,
                };
                format!(" Against what it was, with seed as moist as before: {told}")
            }
            _ => String::new(),
        };
        format!("{rule}{longer}")
    }

    fn fields(&mut self, ui: &mut Ui, unit: TemperatureUnit, problem: Option<String>, told: Option<String>) {
        let t = Tokens::of(ui);
        let temperature = format!("Temperature, {}", unit.sign());
        Grid::new("storage place")
            .num_columns(2)
            .spacing(vec2(t.space.medium, t.space.small))
            .show(ui, |ui| {
                for (word, text, hint) in [
                    ("Name", &mut self.name, "such as cellar, north shelf"),
                    (temperature.as_str(), &mut self.temperature, "not known"),
                    ("Humidity of the air, %", &mut self.humidity, "not known"),
                    ("Note", &mut self.note, ""),
                ] {
                    let label = ui.label(word);
                    let field = TextEdit::singleline(text).hint_text(hint).desired_width(230.0);
                    let field = ui.add(field).labelled_by(label.id);
                    if self.is_new {
                        self.is_new = false;
                        field.request_focus();
                    }
                    ui.end_row();
                }
            });
        // The room of some lines is kept, so that nothing moves while something is typed.
        let room = vec2(ui.available_width(), 8.0 * t.type_size.body);
        ui.allocate_ui(room, |ui| {
            ui.set_min_size(room);
            match (problem, told) {
                (Some(problem), _) => alert(ui, &problem),
                (None, Some(told)) => {
                    ui.add(Label::new(RichText::new(told).color(t.quiet)).wrap());
                }
                (None, None) => {}
            }
        });
    }

    fn read(&self, project: &Project) -> Result<StorePlace, String> {
        let number = |what: &str, text: &str| match text.trim() {
            "" => Ok(None),
            typed => read_number(what, typed)
                .map(Some)
                .map_err(|fault| sentence(&fault.to_string())),
        };
        let unit = project.about.units.temperature;
        let what = format!("the temperature in {}", unit.sign());
        let store = StorePlace {
            id: self.store.unwrap_or(StoreId(0)),
            name: self.name.trim().to_owned(),
            temperature_c: number(&what, &self.temperature)?.map(|degrees| unit.to_celsius(degrees)),
            humidity_percent: number("the humidity in %", &self.humidity)?,
            note: self.note.trim().to_owned(),
        };
        store.check().map_err(|fault| sentence(&fault.to_string()))?;
        Ok(store)
    }
}
