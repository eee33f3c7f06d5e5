//! Choosing ears by drawing around them: a rectangle, or a curve by free hand.

use super::scatter::{PlotAnswer, PlotState, Scatter};
use crate::ui::tokens::Tokens;
use egui::{Key, Pos2, Response, Shape, Stroke, StrokeKind, Ui};
use egui_plot::{PlotPoint, PlotTransform};

/// Least distance between two points of a curve, in points of the screen.
const CURVE_STEP: f32 = 3.0;

/// What a drag on the plot does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tool {
    /// It moves the view.
    #[default]
    Pan,
    /// It chooses ears by a rectangle.
    Rectangle,
    /// It chooses ears by a closed curve.
    Curve,
}

impl Tool {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Pan, Self::Rectangle, Self::Curve];
}

/// What is drawn around ears, in the units of the axes.
#[derive(Debug, Clone, PartialEq)]
pub enum Drawing {
    /// A rectangle, from this corner.
    Rectangle([f64; 2]),
    /// A curve through these points.
    Curve(Vec<[f64; 2]>),
}

impl Scatter<'_> {
    /// Draws what is drawn around ears, and tells which it encloses once the pointer is let go. Escape gives it up.
    #[expect(
        clippy::too_many_arguments,
        reason = "one step of drawing, split off for its length"
    )]
    pub(super) fn draw(
        &self,
        ui: &Ui,
        t: &Tokens,
        state: &mut PlotState,
        plot: &Response,
        transform: &PlotTransform,
        tool: Tool,
        answer: &mut PlotAnswer,
    ) {
        let value = |at: Pos2| {
            let value = transform.value_from_position(at);
            [value.x, value.y]
        };
        if let (true, Some(from)) = (plot.drag_started(), ui.input(|i| i.pointer.press_origin())) {
            state.drawing = match tool {
                Tool::Pan => None,
                Tool::Rectangle => Some(Drawing::Rectangle(value(from))),
                Tool::Curve => Some(Drawing::Curve(vec![value(from)])),
            };
        }
        let (Some(drawing), Some(at)) = (&mut state.drawing, ui.input(|i| i.pointer.latest_pos())) else {
            return;
        };
        let to = value(at);
        if let Drawing::Curve(points) = drawing {
            let is_far = points.last().is_none_or(|last| {
                let last = transform.position_from_point(&PlotPoint::new(last[0], last[1]));
                last.distance(at) >= CURVE_STEP
            });
            if is_far {
                points.push(to);
            }
        }
        if plot.drag_stopped() {
            let found: Vec<usize> = match drawing {
                Drawing::Rectangle(from) => self.field.inside(*from, to).collect(),
                Drawing::Curve(points) => self.field.enclosed(points).collect(),
            };
            answer.enclosed = Some(found.into_iter().filter(|i| self.is_shown(*i)).collect());
            state.drawing = None;
        } else if !plot.dragged() || ui.input(|i| i.key_pressed(Key::Escape)) {
            state.drawing = None;
        } else {
            let painter = ui.painter().with_clip_rect(*transform.frame());
            let stroke = Stroke::new(1.5, t.accent);
            match drawing {
                Drawing::Rectangle(from) => {
                    let corners = [PlotPoint::new(from[0], from[1]), PlotPoint::new(to[0], to[1])];
                    let rect = transform.rect_from_values(&corners[0], &corners[1]);
                    painter.rect(
                        rect,
                        0.0,
                        t.accent.gamma_multiply(0.12),
                        stroke,
                        StrokeKind::Middle,
                    );
                }
                Drawing::Curve(points) => {
                    let points: Vec<Pos2> = points
                        .iter()
                        .map(|point| transform.position_from_point(&PlotPoint::new(point[0], point[1])))
                        .collect();
                    // The side that closes the curve is not drawn by hand.
                    if let [first, .., last] = points.as_slice() {
                        painter.extend(Shape::dashed_line(&[*last, *first], stroke, 4.0, 4.0));
                    }
                    painter.line(points, stroke);
                }
            }
        }
    }
}
