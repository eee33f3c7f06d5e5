//! Beginning a season, from a frozen list or empty; closing one, and opening it again with a reason.

use crate::model::{Command, DateOrder, Season, SeasonId, read_date, sentence};
use crate::ui::context::{Action, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::{alert, card, primary_button_enabled};
use egui::{Id, Label, RichText, TextEdit, Ui};

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Next {
    year: String,
    planted: String,
    asked: Option<(Ticket, i16)>,
    refusal: Option<String>,
    opening: Option<Reopen>,
}

/// The dialog in which a closed season is opened.
#[derive(Debug)]
struct Reopen {
    season: SeasonId,
    reason: String,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

impl Next {
    /// Draws the card in which a season is begun.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        self.follow(ctx);
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let latest = project.latest_season();
        let list = latest.and_then(|season| project.list_in_force(season.id));
        let proposed = latest.map_or_else(|| ctx.today.year(), |season| season.year + 1);
        card(ui, |ui| {
            ui.label(RichText::new("Begin a season").font(t.heading_font()));
            let next = list.map(|list| ctx.insight.next_season(ctx.document, list.id));
            let text = match &next {
                Some(next) => next.sentence.as_str(),
                None => "A season has the year of its harvest as its name. Earlier seasons stay as they are.",
            };
            ui.add(Label::new(text).wrap());
            let year: Option<i16> = match self.year.trim() {
                "" => Some(proposed),
                typed => typed.parse().ok(),
            };
            let planted = match self.planted.trim() {
                "" => Ok(None),
                typed => read_date(typed, DateOrder::Unknown).map(Some),
            };
            ui.horizontal_wrapped(|ui| {
                let label = ui.label("Year of the harvest");
                let field = TextEdit::singleline(&mut self.year)
                    .desired_width(80.0)
                    .hint_text(proposed.to_string());
                ui.add(field).labelled_by(label.id);
                if let Some(next) = &next {
                    let label = ui.label("Planted on");
                    let known = next.planted;
                    let hint = known.map_or_else(|| "not yet".to_owned(), |day| day.to_string());
                    let field = TextEdit::singleline(&mut self.planted)
                        .desired_width(120.0)
                        .hint_text(hint);
                    ui.add(field).labelled_by(label.id);
                }
            });
            if let Err(fault) = &planted {
                alert(ui, &sentence(&fault.to_string()));
            }
            if let Some(refusal) = &self.refusal {
                alert(ui, refusal);
            }
            let may = ctx.read_only.is_none() && self.asked.is_none();
            ui.horizontal_wrapped(|ui| {
                let Some(year) = year else {
                    alert(ui, "That is not a year; type four figures such as 2027.");
                    return;
                };
                let Some(list) = list else {
                    if primary_button_enabled(ui, may, "Begin the season").clicked() {
                        self.run(ctx, year, Command::AddSeason { year, planted: None });
                    }
                    return;
                };
                let words = format!("Begin season {year} from planting list {}", list.version);
                if primary_button_enabled(ui, may && planted.is_ok(), &words).clicked()
                    && let Ok(planted) = planted
                {
                    let list = list.id;
                    self.run(ctx, year, Command::BeginFromList { list, year, planted });
                }
                let empty = ui
                    .add_enabled(may, egui::Button::new("Begin it empty"))
                    .on_hover_text("Without rows and mothers, and nothing is closed.");
                if empty.clicked() {
                    self.run(ctx, year, Command::AddSeason { year, planted: None });
                }
            });
        });
        self.reopen_dialog(ui, ctx);
    }

    fn run(&mut self, ctx: &mut PaneCtx<'_>, year: i16, command: Command) {
        self.refusal = None;
        self.asked = Some((ctx.run_for(command), year));
    }

    fn follow(&mut self, ctx: &mut PaneCtx<'_>) {
        if let Some((ticket, year)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            match outcome {
                Ok(committed) => {
                    let text = format!("{}. Undo takes it back.", committed.label);
                    self.year.clear();
                    self.planted.clear();
                    if let Some(season) = ctx.document.project().season_of_year(year) {
                        ctx.act(Action::ShowSeason(season.id));
                    }
                    ctx.notice(Tone::Well, text);
                }
                Err(problem) => self.refusal = Some(sentence(&problem.to_string())),
            }
        }
        if let Some(opening) = &mut self.opening
            && let Some(outcome) = opening.ticket.and_then(|ticket| ctx.outcome(ticket))
        {
            opening.ticket = None;
            match outcome {
                Ok(_) => self.opening = None,
                Err(problem) => opening.refusal = Some(sentence(&problem.to_string())),
            }
        }
    }

    /// Draws whether a season is open, with what can be done about it.
    pub fn state_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season) {
        let can = ctx.read_only.is_none();
        ui.horizontal(|ui| {
            if let Some(day) = season.closed {
                ui.label(format!("closed on {day}"));
                let open = ui
                    .add_enabled(can, egui::Button::new("Open…"))
                    .on_hover_text(format!(
                        "Open season {} to correct something, with a reason",
                        season.year
                    ));
                if open.clicked() {
                    self.opening = Some(Reopen {
                        season: season.id,
                        reason: String::new(),
                        ticket: None,
                        refusal: None,
                    });
                }
                return;
            }
            ui.label(match season.openings.last() {
                Some(last) => format!("open: {}", last.reason),
                None => "open".to_owned(),
            });
            let latest = ctx.document.project().latest_season();
            if latest.is_none_or(|latest| latest.id == season.id) {
                return;
            }
            let hint = format!(
                "Close season {}: what was harvested, counted and chosen in it then stays as it is",
                season.year
            );
            let close = ui
                .add_enabled(can, egui::Button::new("Close"))
                .on_hover_text(hint);
            if close.clicked() {
                ctx.run(Command::CloseSeason(season.id));
            }
        });
    }

    fn reopen_dialog(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some(opening) = &mut self.opening else { return };
        let Some(season) = ctx.document.project().seasons.get(opening.season) else {
            self.opening = None;
            return;
        };
        let title = format!("Open season {}?", season.year);
        let answer = Dialog::new(Id::unique("open a season"), &title)
            .confirm("Open it")
            .can_confirm(!opening.reason.trim().is_empty() && opening.ticket.is_none())
            .body_takes_focus()
            .show(ui.ctx(), |ui| {
                ui.label(
                    "It can then be changed until it is closed again. Your reason is kept with the season.",
                );
                ui.horizontal(|ui| {
                    let label = ui.label("What is to be corrected");
                    let field = TextEdit::singleline(&mut opening.reason).desired_width(280.0);
                    let field = ui.add(field).labelled_by(label.id);
                    if ui.memory(|m| m.focused().is_none()) {
                        field.request_focus();
                    }
                });
                if let Some(refusal) = &opening.refusal {
                    alert(ui, refusal);
                }
            });
        match answer {
            Some(DialogAnswer::Confirm) => {
                let (season, reason) = (opening.season, opening.reason.clone());
                opening.ticket = Some(ctx.run_for(Command::OpenSeason { season, reason }));
            }
            Some(DialogAnswer::Cancel) => self.opening = None,
            None => {}
        }
    }
}
