//! The pedigree over all seasons: drawn or as a list, what is said of one family, the figures of each season, the pollen.

mod drawing;
mod figures;
mod list;
mod pollen;

use crate::exchange::pedigree_picture::{PickedFamily, pedigree_file};
use crate::exchange::picture::PictureOrder;
use crate::insight::{FamilySeed, Lineage, Pedigree};
use crate::model::{EarId, Project, RowId, SeasonId};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::panes::field_prints::watch;
use crate::ui::panes::picture_menu::{file_name, forms};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{card, empty_state};
use crate::ui::widgets::segmented::segmented;
use drawing::{Drawn, ZOOM, ZOOM_STEP};
use egui::containers::menu::MenuButton;
use egui::{Id, Label, RichText, Ui, vec2};
use pollen::PollenForm;
use std::sync::Arc;

/// The part of the window's height that the drawing takes, and its least and greatest height in points.
const HEIGHT: (f32, f32, f32) = (0.5, 220.0, 1_000.0);

/// What is picked, by what stays the same when the project changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Picked {
    /// A row, and perhaps one of its ears.
    Row(RowId, Option<EarId>),
    /// The ears of a season whose row is not known, and perhaps one of them.
    NoRow(SeasonId, Option<EarId>),
}

/// What the part remembers between frames.
#[derive(Debug)]
pub(super) struct PedigreePart {
    picked: Option<Picked>,
    /// The ear that was chosen in the window last.
    chosen: Option<EarId>,
    /// None until it is changed: then the whole pedigree, as far as it can be read.
    zoom: Option<f32>,
    as_list: bool,
    reveal: bool,
    pollen: PollenForm,
}

impl Default for PedigreePart {
    fn default() -> Self {
        Self {
            picked: None,
            chosen: None,
            zoom: None,
            as_list: false,
            reveal: true,
            pollen: PollenForm::default(),
        }
    }
}

impl PedigreePart {
    /// Picks the ear that is chosen in the window, even if another family was picked since it was chosen.
    pub(super) fn pick_chosen(&mut self) {
        self.chosen = None;
    }

    /// Draws the part.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let pedigree = ctx.insight.pedigree(ctx.document);
        if pedigree.families.is_empty() {
            empty_state(
                ui,
                "There is no family yet.",
                "Harvest ears with their mother rows, or begin a season from a planting list. Each row then stands here \
                 with its mother.",
                None,
            );
            return;
        }
        self.follow_chosen(ctx, &pedigree);
        let project = ctx.document.project();
        let picked = self.picked.and_then(|picked| family_of(&pedigree, picked));
        let ear = picked.and(self.picked).and_then(ear_of);
        let lineage = picked.map_or_else(Lineage::default, |family| pedigree.lineage(family, ear));
        let said = said(project, &pedigree, picked, ear, &lineage);
        ui.horizontal_wrapped(|ui| {
            self.bar(ui, &pedigree);
            save(ui, ctx, &pedigree, picked.map(|family| (family, ear)));
        });
        let hint = "Arrows go to mother, daughter and sisters; Enter opens the ear; + and - zoom. ◆ picked, ▲ its mothers, \
                    ▼ what came of it, ○ shed the pollen; a number behind a row counts its ears.";
        if !self.as_list {
            ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
        }
        ui.add_space(t.space.small);
        card(ui, |ui| {
            let asked = if self.as_list {
                list::show(ui, &pedigree, picked, height(ui), self.reveal)
            } else {
                let room = vec2(ui.available_width(), height(ui));
                drawing::show(
                    ui,
                    &Drawn {
                        id: Id::unique("pedigree drawing"),
                        pedigree: &pedigree,
                        picked,
                        lineage: &lineage,
                        zoom: self.zoom.unwrap_or_else(|| readable(&pedigree, room)),
                        height: room.y,
                        reveal: self.reveal,
                        said: &said,
                    },
                )
            };
            self.reveal = false;
            if let Some(zoom) = asked.zoom {
                self.zoom = Some(zoom.clamp(ZOOM[0], ZOOM[1]));
                self.reveal = true;
            }
            if let Some(family) = asked.picked {
                self.picked = key_of(&pedigree, family);
                self.reveal = true;
            } else if asked.leaves {
                self.picked = None;
            }
            if asked.card
                && let Some(ear) = ear.or_else(|| picked.and_then(|family| mother_ear(&pedigree, family)))
            {
                self.chosen = Some(ear);
                ctx.act(Action::OpenCard(ear));
            }
        });
        ui.add_space(t.space.small);
        self.about_picked(ui, ctx, &pedigree, picked, ear, &said);
        ui.add_space(t.space.medium);
        figures::ui(ui, &pedigree, ctx.season);
        ui.add_space(t.space.medium);
        self.pollen.ui(ui, ctx, &pedigree);
    }

    /// Picks the ear that is chosen in the window, once.
    fn follow_chosen(&mut self, ctx: &PaneCtx<'_>, pedigree: &Pedigree) {
        let chosen = ctx.chosen.last().copied();
        if chosen == self.chosen {
            return;
        }
        self.chosen = chosen;
        let ear = chosen.and_then(|ear| ctx.document.project().ears.get(ear));
        if let Some(ear) = ear
            && pedigree.family_of_ear(ear).is_some()
        {
            self.picked = Some(match ear.row {
                Some(row) => Picked::Row(row, Some(ear.id)),
                None => Picked::NoRow(ear.season, Some(ear.id)),
            });
            self.reveal = true;
        }
    }

    /// How it is shown.
    fn bar(&mut self, ui: &mut Ui, pedigree: &Pedigree) {
        let id = Id::unique("pedigree as");
        let ways = ["Drawing", "List"];
        let label = "How the pedigree is shown";
        if let Some(way) = segmented(ui, id, label, &ways, usize::from(self.as_list)) {
            self.as_list = way == 1;
            self.reveal = true;
        }
        if self.as_list {
            return;
        }
        let room = vec2(ui.ctx().content_rect().width(), height(ui));
        let now = self.zoom.unwrap_or_else(|| readable(pedigree, room));
        for (word, name, to) in [
            ("–", "Smaller", now / ZOOM_STEP),
            ("+", "Larger", now * ZOOM_STEP),
        ] {
            let button = ui.button(word).on_hover_text(name);
            button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, name));
            if button.clicked() {
                self.zoom = Some(to.clamp(ZOOM[0], ZOOM[1]));
                self.reveal = true;
            }
        }
        let whole = ui
            .button("Whole")
            .on_hover_text("As small as it takes to see all of it");
        if whole.clicked() {
            self.zoom = Some(drawing::whole(pedigree, room));
        }
    }

    /// What is said of the picked family, with what can be done about it.
    fn about_picked(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        pedigree: &Pedigree,
        picked: Option<usize>,
        ear: Option<EarId>,
        said: &str,
    ) {
        ui.add(Label::new(said).wrap());
        let Some(family) = picked else { return };
        let project = ctx.document.project();
        ui.horizontal_wrapped(|ui| {
            let shown = ear.or_else(|| mother_ear(pedigree, family));
            if let Some(ear) = shown.and_then(|ear| project.ears.get(ear)) {
                let year = project.seasons.get(ear.season).map_or(0, |season| season.year);
                if ui
                    .button(format!("Open the card of ear {} of {year}", ear.number))
                    .clicked()
                {
                    self.chosen = Some(ear.id);
                    ctx.act(Action::OpenCard(ear.id));
                }
            }
            if ui.button("Leave it").clicked() {
                self.picked = None;
            }
        });
    }
}

/// The menu that saves the pedigree as a picture, with what is picked.
fn save(ui: &mut Ui, ctx: &mut PaneCtx<'_>, pedigree: &Arc<Pedigree>, picked: PickedFamily) {
    let asked = MenuButton::new("Picture").ui(ui, forms).1;
    let Some(form) = asked.and_then(|shown| shown.inner) else {
        return;
    };
    let (project, pedigree) = (ctx.document.snapshot(), Arc::clone(pedigree));
    ctx.save_file(&file_name("pedigree", form), move |job| {
        let order = PictureOrder::new(form);
        pedigree_file(&project, &pedigree, picked, order, &watch(job)).map_err(|fault| fault.to_string())
    });
}

fn height(ui: &Ui) -> f32 {
    let (part, least, most) = HEIGHT;
    (part * ui.ctx().content_rect().height()).clamp(least, most)
}

/// The whole pedigree where it can then be read, else as small as can be read.
fn readable(pedigree: &Pedigree, room: egui::Vec2) -> f32 {
    drawing::whole(pedigree, room).max(0.85)
}

fn family_of(pedigree: &Pedigree, picked: Picked) -> Option<usize> {
    match picked {
        Picked::Row(row, _) => pedigree.family_of_row(row),
        Picked::NoRow(season, _) => pedigree.family_without_row(season),
    }
}

fn ear_of(picked: Picked) -> Option<EarId> {
    let (Picked::Row(_, ear) | Picked::NoRow(_, ear)) = picked;
    ear
}

fn key_of(pedigree: &Pedigree, family: usize) -> Option<Picked> {
    let one = pedigree.families.get(family)?;
    Some(match one.rows.first() {
        Some(row) => Picked::Row(*row, None),
        None => Picked::NoRow(pedigree.seasons[one.season].season, None),
    })
}

/// The ear from which a family was planted.
fn mother_ear(pedigree: &Pedigree, family: usize) -> Option<EarId> {
    match pedigree.families.get(family)?.seed {
        FamilySeed::Ear { ear, .. } => Some(ear),
        _ => None,
    }
}

/// Says everything about what is picked.
fn said(
    project: &Project,
    pedigree: &Pedigree,
    picked: Option<usize>,
    ear: Option<EarId>,
    lineage: &Lineage,
) -> String {
    let Some(family) = picked else {
        return "Pick a family, or choose an ear anywhere: its mothers and what came of it then stand out."
            .to_owned();
    };
    let ear = ear.and_then(|ear| project.ears.get(ear));
    let grew = ear.map_or_else(String::new, |ear| format!("Ear {} grew here. ", ear.number));
    format!(
        "{grew}{} {}. {}",
        pedigree.path(family),
        pedigree.facts(family),
        pedigree.offspring(lineage)
    )
}
