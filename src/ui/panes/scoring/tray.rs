//! The tray as it lies, with the cell that is being counted.

use super::sheet::Sheet;
use super::{Scoring, keyboard};
use crate::insight::{Reading, TrayView};
use crate::model::{Cell, Pass, Test};
use crate::ui::context::PaneCtx;
use crate::ui::panes::tray_drawing::{CellState, Drawing, DrawnTray, Pointed, paint_tray};
use crate::ui::tokens::Tokens;
use egui::{RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};

impl Scoring {
    pub(super) fn tray_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        reading: Reading,
        cell: &Cell,
    ) {
        let t = Tokens::of(ui);
        let drawing = self.drawing_of(ctx.document, test);
        let at = drawing
            .trays
            .iter()
            .position(|tray| tray.id == Some(cell.tray))
            .unwrap_or(0);
        let mut drawing = drawing.only(at);
        let view = ctx.insight.tray_view(ctx.document, cell.tray);
        if let (Some(tray), Some(view)) = (drawing.trays.first_mut(), view.as_ref()) {
            self.mark_states(view, tray, reading);
            for problem in view.problems.iter().filter(|_| !self.blind) {
                ui.label(RichText::new(format!("⚠ {problem}")).color(t.warn));
            }
        }
        if self.blind {
            drawing.hide();
        }
        ScrollArea::both()
            .id_salt("scoring tray")
            .auto_shrink(false)
            .show(ui, |ui| self.tray_cells(ui, ctx, test, cell, &drawing));
    }

    /// The tray as large as fits, and at least so large that it can be read.
    fn tray_cells(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        cell: &Cell,
        drawing: &Drawing,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let room = ui.available_size() - vec2(6.0, 6.0);
        let scale = drawing.shape.scale_for(room).max(drawing.least_scale());
        let size = (drawing.shape.outer(scale) + vec2(4.0, 4.0)).max(room);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        let response = ui.interact(rect, keyboard(), Sense::click());
        let corner = rect.min;
        let under = response
            .hover_pos()
            .and_then(|point| drawing.shape.cell_under(corner, scale, point));
        let columns = drawing.shape.columns;
        if response.clicked() {
            response.request_focus();
            let place = under.map(|at| ((at / columns) as u16 + 1, (at % columns) as u16 + 1));
            if let Some((row, column)) = place
                && let Some(clicked) = project.cell_at(cell.tray, row, column)
            {
                self.message = None;
                self.to(clicked.id);
                if let Some(ear) = clicked.content.ear()
                    && !self.blind
                {
                    ctx.choose(vec![ear]);
                }
            }
        }
        let cursor = usize::from(cell.row - 1) * columns + usize::from(cell.column - 1);
        if self.revealed != Some(cell.id) {
            self.revealed = Some(cell.id);
            let current = drawing.shape.cell(corner, scale, cursor);
            ui.scroll_to_rect(current.expand2(vec2(40.0, 20.0)), None);
        }
        let pointed = Pointed {
            chosen: if self.blind { &[] } else { ctx.chosen },
            cursor: Some(cursor),
            hovered: under,
        };
        if !drawing.trays.is_empty() {
            paint_tray(ui.painter(), t, drawing, 0, (corner, scale), pointed);
        }
        if response.has_focus() {
            let container = drawing.shape.container(corner, scale).expand(3.0);
            let ring = egui::Stroke::new(2.0, t.accent);
            ui.painter()
                .rect_stroke(container, 4.0, ring, egui::StrokeKind::Middle);
        }
        let text = drawing.sentence(project, &test.check_lot, 0, cursor);
        response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::Grid, true, "Cells of the tray");
            info.current_text_value = Some(text.clone());
            info
        });
    }

    fn mark_states(&self, view: &TrayView, tray: &mut DrawnTray, reading: Reading) {
        for drawn in &mut tray.cells {
            let Some(id) = drawn.id.filter(|_| drawn.content.is_counted()) else {
                continue;
            };
            let Some(cell) = view.cells.iter().find(|cell| cell.cell == id) else {
                continue;
            };
            if let Some(count) = cell.count(reading) {
                let grown = match reading.pass {
                    Pass::Final => count.germinated,
                    Pass::Early | Pass::Between(_) => count.tally.emerged(),
                };
                drawn.note = if self.blind {
                    "done".to_owned()
                } else {
                    format!("{grown}/{}", count.counted)
                };
                drawn.state = if self.blind || cell.problems.is_empty() {
                    CellState::Counted
                } else {
                    CellState::Problem
                };
            }
            if self.entries.contains_key(&(id, reading)) {
                drawn.state = CellState::Begun;
                let is_typed = |sheet: &Sheet| sheet.is_typed(id, reading);
                let word = if self.sheet.as_ref().is_some_and(is_typed) {
                    "typed"
                } else {
                    "begun"
                };
                word.clone_into(&mut drawn.note);
            }
        }
    }
}
