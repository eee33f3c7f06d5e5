//! Counting what grows, cell by cell.

use crate::model::Place;
use crate::ui::context::PaneCtx;

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Scoring {
    wanted: Option<Place>,
}

impl Scoring {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut egui::Ui, _ctx: &mut PaneCtx<'_>) {
        ui.label("Scoring");
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        self.wanted = Some(place);
    }
}
