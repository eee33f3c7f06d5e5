//! The field of a frozen list, in the pane Planting: its plan, and what is seen in it from spring to autumn.

mod around;
mod drawing;
mod form;
mod notes;
mod plan;
mod scatter;

use crate::model::{ListId, Place, PlantingList};
use crate::ui::context::PaneCtx;
use egui::Ui;

/// What the two parts remember between frames.
#[derive(Debug, Default)]
pub(super) struct Field {
    list: Option<ListId>,
    plan: plan::Plan,
    year: notes::Year,
}

impl Field {
    /// Draws the plan of a list's field.
    pub fn plan_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) {
        self.follow(list);
        self.plan.ui(ui, ctx, list);
    }

    /// Draws what is seen in it; returns whether the plan is asked for instead.
    pub fn year_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) -> bool {
        self.follow(list);
        self.year.ui(ui, ctx, list)
    }

    /// Shows a place of the project that belongs to the field, in the next frame.
    pub fn go(&mut self, place: Place) {
        if let Place::FieldRow(row) = place {
            self.plan.go(row);
        }
    }

    /// Forgets what was on the way for another list.
    fn follow(&mut self, list: &PlantingList) {
        if self.list != Some(list.id) {
            *self = Self {
                list: Some(list.id),
                ..Self::default()
            };
        }
    }
}
