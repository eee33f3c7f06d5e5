//! The forms by which the four stands and the two words are told apart, in the plot, the legend and the table.

use crate::insight::{Choice, EarGroups, Field, Paint, stand_index};
use crate::model::{Stand, WordKind};
use crate::ui::tokens::Tokens;
use egui::{Color32, Painter, Pos2, Rect, Stroke, StrokeKind, vec2};
use egui_plot::{MarkerShape, PlotPoint};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// How strongly marks are drawn that are there but not meant.
pub const FADED: f32 = 0.18;

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

/// The marks that look the same, as the plot takes them.
#[derive(Debug, Clone)]
pub struct Alike {
    /// Their stand, which their form tells.
    pub stand: Stand,
    /// Their paint; `None` for the colour of the stand.
    pub paint: Option<Paint>,
    /// Where they lie.
    pub points: Vec<PlotPoint>,
}

impl Alike {
    /// Their colour.
    pub fn colour(&self, t: &Tokens) -> Color32 {
        match self.paint {
            None => t.marks()[stand_index(self.stand)],
            Some(paint) => paint_colour(t, paint),
        }
    }
}

/// The colour of a paint.
pub fn paint_colour(t: &Tokens, paint: Paint) -> Color32 {
    match paint {
        Paint::Colour(nth) => t.groups[nth],
        Paint::Neutral => t.mark_four,
        Paint::Faded => t.mark_four.gamma_multiply(FADED),
    }
}

/// The marks of a plot in the order in which they are drawn: what matters most lies on top.
#[derive(Debug, Clone, Default)]
pub struct Groups(pub Vec<Alike>);

impl Groups {
    /// Sorts the ears of a choice by stand, and by the paint of their group where they are grouped.
    pub fn new(choice: &Choice, field: &Field, grouped: Option<(&EarGroups, &[Paint])>) -> Self {
        let mut found: BTreeMap<(Option<Paint>, Reverse<Stand>), Vec<PlotPoint>> = BTreeMap::new();
        for (i, (standing, spot)) in choice.standings.iter().zip(&field.spots).enumerate() {
            let paint = grouped.map(|(groups, paints)| paints[groups.of[i]]);
            found
                .entry((paint, Reverse(standing.stand)))
                .or_default()
                .push(PlotPoint::new(spot[0], spot[1]));
        }
        let alike = found
            .into_iter()
            .map(|((paint, Reverse(stand)), points)| Alike { stand, paint, points });
        Self(alike.collect())
    }
}

/// Draws the ring of the ear that the keyboard is on: two circles, so that its form tells it from a chosen ear.
pub fn keyboard_ring(painter: &Painter, at: Pos2, t: &Tokens) {
    painter.circle_stroke(at, 11.0, Stroke::new(2.0, t.text));
    painter.circle_stroke(at, 14.0, Stroke::new(1.0, t.text));
}
