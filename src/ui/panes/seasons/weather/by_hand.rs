//! Setting the weather of one day, and removing days.

use crate::model::{
    Command, DateOrder, Project, TemperatureUnit, WeatherDay, capital, read_date, read_number, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::alert;
use egui::{Button, RichText, TextEdit, Ui};
use jiff::civil::Date;

/// What is typed.
#[derive(Debug, Default)]
pub(super) struct ByHand {
    day: String,
    high: String,
    low: String,
    from: String,
    to: String,
    asked: Option<(Ticket, String)>,
    refused: Option<String>,
}

impl ByHand {
    /// Draws the fields.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, is_free: bool) {
        let t = Tokens::of(ui);
        self.follow(ctx);
        let project = ctx.document.project();
        let unit = project.about.units.temperature;
        ui.horizontal_wrapped(|ui| {
            field(ui, "Day", &mut self.day, "2026-05-14", 124.0);
            field(ui, &format!("High in {}", unit.sign()), &mut self.high, "", 64.0);
            field(ui, &format!("Low in {}", unit.sign()), &mut self.low, "", 64.0);
            let set = ui.add_enabled(is_free, Button::new("Set this day"));
            if set.clicked() {
                let day = self.read_day(unit);
                self.ask(ctx, day, |day| {
                    let said = format!("The weather of {} is set; Undo takes that back.", day.on);
                    (Command::TakeWeather(vec![day]), said)
                });
            }
            if let Some(known) = known_text(project, &self.day, unit) {
                ui.label(RichText::new(known).color(t.quiet));
            }
        });
        ui.horizontal_wrapped(|ui| {
            field(ui, "Days from", &mut self.from, "2026-05-14", 124.0);
            field(ui, "to", &mut self.to, "2026-05-20", 124.0);
            if ui
                .add_enabled(is_free, Button::new("Remove these days"))
                .clicked()
            {
                let span = self.read_span();
                self.ask(ctx, span, |(from, to)| {
                    let said = format!("The weather of {from} to {to} is removed; Undo brings it back.");
                    (Command::RemoveWeather { from, to }, said)
                });
            }
        });
        if let Some(refused) = &self.refused {
            alert(ui, refused);
        }
    }

    fn ask<T>(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        read: Result<T, String>,
        command: impl FnOnce(T) -> (Command, String),
    ) {
        self.refused = None;
        match read {
            Ok(read) => {
                let (command, said) = command(read);
                self.asked = Some((ctx.run_for(command), said));
            }
            Err(problem) => self.refused = Some(problem),
        }
    }

    /// Says what became of what was asked for.
    fn follow(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some((ticket, _)) = &self.asked else { return };
        let Some(outcome) = ctx.outcome(*ticket) else {
            return;
        };
        let outcome = outcome
            .as_ref()
            .map(drop)
            .map_err(|problem| problem.fault.to_string());
        let said = self.asked.take().map_or_else(String::new, |(_, said)| said);
        match outcome {
            Ok(()) => {
                ctx.notice(Tone::Well, said);
                for text in [
                    &mut self.day,
                    &mut self.high,
                    &mut self.low,
                    &mut self.from,
                    &mut self.to,
                ] {
                    text.clear();
                }
            }
            Err(fault) => self.refused = Some(sentence(&fault)),
        }
    }

    fn read_day(&self, unit: TemperatureUnit) -> Result<WeatherDay, String> {
        let degrees = |what: &str, text: &str| {
            read_number(what, text)
                .map(|degrees| unit.to_celsius(degrees))
                .map_err(|fault| sentence(&fault.to_string()))
        };
        Ok(WeatherDay {
            on: date(&self.day)?,
            high_c: degrees("the high", &self.high)?,
            low_c: degrees("the low", &self.low)?,
        })
    }

    fn read_span(&self) -> Result<(Date, Date), String> {
        let from = date(&self.from)?;
        let to = if self.to.trim().is_empty() {
            from
        } else {
            date(&self.to)?
        };
        if to < from {
            return Err(capital(&format!(
                "{to} is before {from}; type the first day first."
            )));
        }
        Ok((from, to))
    }
}

fn date(text: &str) -> Result<Date, String> {
    read_date(text, DateOrder::Unknown).map_err(|fault| sentence(&fault.to_string()))
}

/// What is known of the day that is typed.
fn known_text(project: &Project, day: &str, unit: TemperatureUnit) -> Option<String> {
    let on = read_date(day, DateOrder::Unknown).ok()?;
    Some(match project.weather_days().on(on) {
        Some(known) => format!(
            "now {:.1} and {:.1} {}",
            unit.of_celsius(known.high_c),
            unit.of_celsius(known.low_c),
            unit.sign()
        ),
        None => "not known yet".to_owned(),
    })
}

fn field(ui: &mut Ui, word: &str, text: &mut String, hint: &str, width: f32) {
    let label = ui.label(word);
    let field = TextEdit::singleline(text).desired_width(width).hint_text(hint);
    ui.add(field).labelled_by(label.id);
}
