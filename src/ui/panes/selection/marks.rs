//! The forms by which the four stands and the two words are told apart, in the plot, the legend and the table.

use crate::insight::{Choice, Field, stand_index};
use crate::model::{Stand, WordKind};
use egui::{Color32, Painter, Pos2, Rect, Stroke, StrokeKind, vec2};
use egui_plot::{MarkerShape, PlotPoint};

/// The form of a stand: shape, radius in points, and whether it is filled.
pub fn form(stand: Stand) -> (MarkerShape, f32, bool) {
    match stand {
        Stand::Plant => (MarkerShape::Circle, 4.2, true),
        Stand::Retest => (MarkerShape::Diamond, 4.8, true),
        Stand::LeaveOut => (MarkerShape::Cross, 5.0, true),
        Stand::NotScored => (MarkerShape::Square, 5.0, false),
    }
}

/// Draws the mark of a stand outside the plot.
pub fn mark(painter: &Painter, at: Pos2, stand: Stand, colour: Color32) {
    match stand {
        Stand::Plant => {
            painter.circle_filled(at, 5.0, colour);
        }
        Stand::Retest => {
            let points = [vec2(0.0, -6.0), vec2(6.0, 0.0), vec2(0.0, 6.0), vec2(-6.0, 0.0)].map(|by| at + by);
            painter.add(egui::Shape::convex_polygon(points.to_vec(), colour, Stroke::NONE));
        }
        Stand::LeaveOut => {
            for by in [vec2(4.0, 4.0), vec2(4.0, -4.0)] {
                painter.line_segment([at - by, at + by], Stroke::new(1.5, colour));
            }
        }
        Stand::NotScored => {
            let rect = Rect::from_center_size(at, vec2(8.0, 8.0));
            painter.rect_stroke(rect, 0.0, Stroke::new(1.5, colour), StrokeKind::Middle);
        }
    }
}

/// Draws the ring of a word around a mark: round for always plant, a box for never plant, a triangle for reserve.
pub fn word_ring(painter: &Painter, at: Pos2, kind: WordKind, colour: Color32) {
    let stroke = Stroke::new(1.5, colour);
    match kind {
        WordKind::Always => {
            painter.circle_stroke(at, 7.0, stroke);
        }
        WordKind::Never => {
            let rect = Rect::from_center_size(at, vec2(13.0, 13.0));
            painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Middle);
        }
        WordKind::Reserve => {
            let corners = [vec2(0.0, -10.0), vec2(9.0, 6.0), vec2(-9.0, 6.0)].map(|by| at + by);
            painter.add(egui::Shape::closed_line(corners.to_vec(), stroke));
        }
    }
}

/// The marks of each stand, in the order of [`Stand::ALL`], as the plot takes them.
#[derive(Debug, Clone, Default)]
pub struct Groups(pub [Vec<PlotPoint>; 4]);

impl Groups {
    /// Sorts the ears of a choice by stand.
    pub fn new(choice: &Choice, field: &Field) -> Self {
        let mut groups = Self::default();
        for (standing, spot) in choice.standings.iter().zip(&field.spots) {
            groups.0[stand_index(standing.stand)].push(PlotPoint::new(spot[0], spot[1]));
        }
        groups
    }
}
