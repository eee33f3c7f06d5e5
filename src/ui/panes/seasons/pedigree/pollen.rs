//! What the grower says of the pollen over each season.

use crate::insight::{Pedigree, pollen_text};
use crate::model::{Command, PollenSource, Project, SeasonId};
use crate::ui::context::{PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{alert, card};
use crate::ui::widgets::segmented::segmented;
use egui::{Id, Label, RichText, TextEdit, Ui};
use std::collections::BTreeSet;

/// What can be said, in a few words.
const WAYS: [&str; 4] = ["Not stated", "Open field", "Own rows", "A share of both"];

/// What the form remembers between frames.
#[derive(Debug, Default)]
pub(super) struct PollenForm {
    edited: Option<Edited>,
}

/// What is being said of one season.
#[derive(Debug)]
struct Edited {
    season: SeasonId,
    way: usize,
    own_percent: f64,
    /// Labels of rows as they are typed.
    rows: String,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

impl PollenForm {
    /// Draws what was said of each season, and the dialog in which it is changed.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, pedigree: &Pedigree) {
        let t = Tokens::of(ui);
        let can = ctx.read_only.is_none();
        card(ui, |ui| {
            ui.label(RichText::new("Pollen over each season").font(t.heading_font()));
            let hint = "What is stated here is used by the price of a choice, the mother rows, the shares and the figures \
                        above. A closed season can be stated as any other.";
            ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
            for season in pedigree.seasons.iter().rev() {
                ui.horizontal(|ui| {
                    ui.label(RichText::new(season.year.to_string()).font(t.strong_font()));
                    let change = ui.add_enabled(can, egui::Button::new("State…"));
                    let name = format!("State the pollen of {}", season.year);
                    change.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, can, &name));
                    if change.clicked() {
                        self.edited = Some(Edited::of(ctx.document.project(), season.season));
                    }
                    ui.add(Label::new(&season.pollen).wrap());
                });
            }
        });
        self.follow(ctx);
        self.dialog(ui, ctx);
    }

    fn follow(&mut self, ctx: &PaneCtx<'_>) {
        let Some(edited) = &mut self.edited else { return };
        if let Some(outcome) = edited.ticket.and_then(|ticket| ctx.outcome(ticket)) {
            edited.ticket = None;
            match outcome {
                Ok(_) => self.edited = None,
                Err(problem) => edited.refusal = Some(problem.to_string()),
            }
        }
    }

    fn dialog(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some(edited) = &mut self.edited else { return };
        let project = ctx.document.project();
        let Some(season) = project.seasons.get(edited.season) else {
            self.edited = None;
            return;
        };
        let title = format!("Pollen over the rows of {}", season.year);
        let stated = edited.stated(project);
        let answer = Dialog::new(Id::unique("state the pollen"), &title)
            .confirm("State it")
            .can_confirm(stated.is_ok() && edited.ticket.is_none())
            .body_takes_focus()
            .wide()
            .show(ui.ctx(), |ui| edited.ui(ui, project, &stated));
        match (answer, stated) {
            (Some(DialogAnswer::Confirm), Ok(pollen)) => {
                let season = edited.season;
                edited.ticket = Some(ctx.run_for(Command::StatePollen { season, pollen }));
            }
            (Some(DialogAnswer::Cancel), _) => self.edited = None,
            _ => {}
        }
    }
}

impl Edited {
    fn of(project: &Project, season: SeasonId) -> Self {
        let pollen = project
            .seasons
            .get(season)
            .and_then(|season| season.pollen.as_ref());
        let own = pollen.map_or(0.5, |pollen| pollen.own);
        let labels: Vec<&str> = pollen
            .iter()
            .flat_map(|pollen| &pollen.rows)
            .filter_map(|row| project.rows.get(*row))
            .map(|row| row.label.as_str())
            .collect();
        Self {
            season,
            way: match pollen {
                None => 0,
                Some(pollen) if pollen.own <= 0.0 => 1,
                Some(pollen) if pollen.own >= 1.0 => 2,
                Some(_) => 3,
            },
            own_percent: 100.0 * if own > 0.0 && own < 1.0 { own } else { 0.5 },
            rows: labels.join(", "),
            ticket: None,
            refusal: None,
        }
    }

    /// What is said; a label that no row has is refused.
    fn stated(&self, project: &Project) -> Result<Option<PollenSource>, String> {
        let own = match self.way {
            0 => return Ok(None),
            1 => return Ok(Some(PollenSource::OPEN_FIELD)),
            2 => 1.0,
            _ => self.own_percent / 100.0,
        };
        let mut rows = BTreeSet::new();
        for label in self
            .rows
            .split([',', ';'])
            .map(str::trim)
            .filter(|label| !label.is_empty())
        {
            match project.row_labelled(self.season, label) {
                Some(row) => rows.insert(row.id),
                None => {
                    return Err(format!(
                        "No row of this season is called '{label}'. Type the labels as they stand on the stakes."
                    ));
                }
            };
        }
        Ok(Some(PollenSource { own, rows }))
    }

    fn ui(&mut self, ui: &mut Ui, project: &Project, stated: &Result<Option<PollenSource>, String>) {
        let t = Tokens::of(ui);
        let id = Id::unique("where the pollen came from");
        if let Some(way) = segmented(ui, id, "Where the pollen came from", &WAYS, self.way) {
            self.way = way;
        }
        ui.add_space(t.space.small);
        if self.way == 3 {
            let field = NumberField::new(Id::unique("pollen of own rows"), "From the season's own rows");
            if let Some(percent) = field
                .unit("%")
                .decimals(1)
                .range(0.0..=100.0)
                .show(ui, self.own_percent)
            {
                self.own_percent = percent;
            }
        }
        if self.way >= 2 {
            ui.horizontal(|ui| {
                let label = ui.label("Rows that shed it, empty for all");
                let field = TextEdit::singleline(&mut self.rows)
                    .hint_text("3, 7, 12")
                    .desired_width(240.0);
                ui.add(field).labelled_by(label.id);
            });
            let hint = "Name rows where all others were detasselled.";
            ui.label(RichText::new(hint).font(t.small_font()).color(t.quiet));
        }
        match stated {
            Ok(pollen) => {
                let text = format!("Pollen {}.", pollen_text(project, pollen.as_ref()));
                ui.add(Label::new(text).wrap());
            }
            Err(refusal) => alert(ui, refusal),
        }
        if let Some(refusal) = &self.refusal {
            alert(ui, refusal);
        }
    }
}
