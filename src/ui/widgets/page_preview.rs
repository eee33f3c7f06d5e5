//! A page of a print on the screen, drawn from the marks that the print is made of.

use crate::exchange::print::{Ink, Mark, Outline, Page, Weight};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use egui::epaint::TextShape;
use egui::{
    Color32, FontFamily, FontId, Galley, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui,
    Vec2, WidgetInfo, vec2,
};
use std::f32::consts::FRAC_PI_2;
use std::sync::Arc;

/// What is printed is black on white in every theme.
const PAPER: Color32 = Color32::WHITE;
const PRINTED: Color32 = Color32::BLACK;

/// Draws a part of a page (in points of the paper) as large as `room` allows. `name` says what it is to who cannot see
/// it.
pub fn page_preview(ui: &mut Ui, page: &Page, part: Rect, room: Vec2, name: &str) {
    let scale = (room.x / part.width()).min(room.y / part.height());
    if !scale.is_finite() || scale <= 0.0 {
        return;
    }
    let (rect, response) = ui.allocate_exact_size(part.size() * scale, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, name));
    if !ui.is_rect_visible(rect) {
        return;
    }
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, PAPER);
    let sheet = Sheet {
        painter: &painter,
        corner: rect.min - part.min.to_vec2() * scale,
        scale,
    };
    for mark in &page.marks {
        sheet.draw(mark);
    }
    let edge = Stroke::new(1.0, Tokens::of(ui).line);
    painter.rect_stroke(rect, 0.0, edge, StrokeKind::Inside);
}

struct Sheet<'a> {
    painter: &'a Painter,
    /// Where the left top corner of the paper lies.
    corner: Pos2,
    scale: f32,
}

impl Sheet<'_> {
    fn at(&self, (x, y): (f32, f32)) -> Pos2 {
        self.corner + vec2(x, y) * self.scale
    }

    fn rect(&self, at: (f32, f32), size: (f32, f32)) -> Rect {
        Rect::from_min_size(self.at(at), vec2(size.0, size.1) * self.scale)
    }

    fn stroke(&self, thickness: f32, ink: Ink) -> Stroke {
        Stroke::new((thickness * self.scale).max(0.5), colour(ink))
    }

    fn draw(&self, mark: &Mark) {
        match mark {
            Mark::Text {
                x,
                baseline,
                size,
                weight,
                text,
            } => self.text((*x, *baseline), *size, *weight, text),
            Mark::Rule { from, to, thickness } => {
                let stroke = self.stroke(*thickness, Ink::Black);
                self.painter.line_segment([self.at(*from), self.at(*to)], stroke);
            }
            Mark::Frame { at, size, thickness } => {
                let stroke = self.stroke(*thickness, Ink::Black);
                let rect = self.rect(*at, *size);
                self.painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Middle);
            }
            Mark::Filled { corners, ink } => self.polygon(corners, *ink),
            Mark::Form { outline, fill, edge } => {
                if let Some(ink) = fill {
                    self.filled(outline, *ink);
                }
                if let Some(edge) = edge {
                    self.outlined(outline, self.stroke(edge.thickness, edge.ink));
                }
            }
            Mark::Rising {
                baseline,
                y,
                size,
                weight,
                text,
            } => self.rising((*baseline, *y), *size, *weight, text),
        }
    }

    /// A line of text, and how far its baseline lies below its upper end on the screen.
    fn laid(&self, size: f32, weight: Weight, text: &str) -> (Arc<Galley>, f32) {
        let family = match weight {
            Weight::Regular => FontFamily::Proportional,
            Weight::Bold => fonts::bold(),
        };
        let font = FontId::new(size * self.scale, family);
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, PRINTED);
        let first = galley.rows.first();
        let baseline = first.and_then(|row| Some(row.pos.y + row.glyphs.first()?.pos.y));
        let down = baseline.unwrap_or_default();
        (galley, down)
    }

    fn text(&self, at: (f32, f32), size: f32, weight: Weight, text: &str) {
        let (galley, down) = self.laid(size, weight, text);
        self.painter
            .galley(self.at(at) - vec2(0.0, down), galley, PRINTED);
    }

    /// Text turned by a quarter around the left end of its baseline.
    fn rising(&self, at: (f32, f32), size: f32, weight: Weight, text: &str) {
        let (galley, down) = self.laid(size, weight, text);
        let corner = self.at(at) - vec2(down, 0.0);
        let shape = TextShape::new(corner, galley, PRINTED).with_angle(-FRAC_PI_2);
        self.painter.add(shape);
    }

    fn polygon(&self, corners: &[(f32, f32)], ink: Ink) {
        let corners = corners.iter().map(|corner| self.at(*corner)).collect();
        let shape = Shape::convex_polygon(corners, colour(ink), Stroke::NONE);
        self.painter.add(shape);
    }

    fn filled(&self, outline: &Outline, ink: Ink) {
        match outline {
            Outline::Circle { middle, radius } => {
                let radius = radius * self.scale;
                self.painter.circle_filled(self.at(*middle), radius, colour(ink));
            }
            Outline::Polygon(corners) => self.polygon(corners, ink),
            Outline::Squares(squares) => {
                for (at, size) in squares.boxes() {
                    self.painter.rect_filled(self.rect(at, size), 0.0, colour(ink));
                }
            }
            Outline::Line(_) => {}
        }
    }

    fn outlined(&self, outline: &Outline, stroke: Stroke) {
        match outline {
            Outline::Circle { middle, radius } => {
                self.painter
                    .circle_stroke(self.at(*middle), radius * self.scale, stroke);
            }
            Outline::Line(points) => {
                let points = points.iter().map(|point| self.at(*point)).collect();
                self.painter.add(Shape::line(points, stroke));
            }
            Outline::Polygon(points) => {
                let points = points.iter().map(|point| self.at(*point)).collect();
                self.painter.add(Shape::closed_line(points, stroke));
            }
            Outline::Squares(squares) => {
                for (at, size) in squares.boxes() {
                    let rect = self.rect(at, size);
                    self.painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Middle);
                }
            }
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "the colour is that of the print, the same in every theme"
)]
fn colour(ink: Ink) -> Color32 {
    match ink {
        Ink::Black => PRINTED,
        Ink::White => PAPER,
        Ink::Colour([red, green, blue]) => Color32::from_rgb(red, green, blue),
    }
}
