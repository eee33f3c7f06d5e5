//! What the project is.

use super::{Answer, text_field};
use crate::model::{About, Command, Germinated, LengthUnit, Prefix, TemperatureUnit};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::segmented::segmented;
use egui::{Context, Id, RichText};

/// The project's facts while they are being typed.
#[derive(Debug)]
pub struct Facts {
    about: About,
    letters: String,
    who: String,
}

impl Facts {
    /// Begins with what is known.
    pub fn new(about: &About, who: &str) -> Self {
        Self {
            about: about.clone(),
            letters: about.prefix.to_string(),
            who: who.to_owned(),
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context) -> Option<Answer> {
        let letters = self.letters.parse::<Prefix>();
        let answer = Dialog::new(Id::unique("facts"), "About this project")
            .confirm("Keep")
            .can_confirm(letters.is_ok() && !self.about.name.trim().is_empty())
            .body_takes_focus()
            .show(ctx, |ui| {
                text_field(ui, "Name", &mut self.about.name, "");
                text_field(
                    ui,
                    "What is grown and bred for",
                    &mut self.about.population,
                    "such as flour corn for cool soil",
                );
                text_field(ui, "Grower", &mut self.about.grower, "");
                text_field(
                    ui,
                    "Rules that came with the seed",
                    &mut self.about.restrictions,
                    "a pledge, a contract, a patent",
                );
                text_field(
                    ui,
                    "Letters with which new ear codes begin",
                    &mut self.letters,
                    "",
                );
                if let Err(fault) = &letters {
                    ui.label(RichText::new(fault.to_string()).color(Tokens::of(ui).bad));
                }
                text_field(
                    ui,
                    "Who is working now (stands beside counts and lists)",
                    &mut self.who,
                    "your name or initials",
                );
                ui.add_space(Tokens::of(ui).space.small);
                ui.label("Lengths, temperatures, and which seedlings count as germinated");
                let units = &mut self.about.units;
                let length = usize::from(units.length == LengthUnit::Centimetres);
                if let Some(chosen) = segmented(
                    ui,
                    Id::unique("length unit"),
                    "Lengths",
                    &["inches", "centimetres"],
                    length,
                ) {
                    units.length = [LengthUnit::Inches, LengthUnit::Centimetres][chosen];
                }
                let temperature = usize::from(units.temperature == TemperatureUnit::Fahrenheit);
                if let Some(chosen) = segmented(
                    ui,
                    Id::unique("temperature unit"),
                    "Temperatures",
                    &["°C", "°F"],
                    temperature,
                ) {
                    units.temperature = [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit][chosen];
                }
                let rule = usize::from(self.about.germinated == Germinated::StrongOnly);
                let rules = ["strong and weak", "strong only"];
                if let Some(chosen) = segmented(ui, Id::unique("germinated"), "Germinated are", &rules, rule)
                {
                    self.about.germinated = [Germinated::StrongAndWeak, Germinated::StrongOnly][chosen];
                }
            })?;
        match answer {
            DialogAnswer::Cancel => Some(Answer::Nothing),
            DialogAnswer::Confirm => {
                self.about.prefix = letters.ok()?;
                let command = Box::new(Command::Describe(self.about.clone()));
                Some(Answer::Run {
                    command,
                    who: self.who.trim().to_owned(),
                })
            }
        }
    }
}
