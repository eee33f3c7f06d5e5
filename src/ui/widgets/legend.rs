//! The legend of a plot: samples of what is drawn, each with its name.

use crate::ui::tokens::Tokens;
use egui::{Color32, Label, Rect, RichText, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, vec2};
use egui_plot::LineStyle;

/// Width of a sample.
const SAMPLE: f32 = 26.0;

/// How something is drawn, in the plot and in the legend.
pub enum Look {
    /// A line: its colour, its style and its width.
    Line(Color32, LineStyle, f32),
    /// An area: its fill and its edge.
    Area(Color32, Color32),
    /// A sign, and its colour.
    Sign(&'static str, Color32),
}

/// Draws the samples with their names, as many in a line as there is room for.
pub fn legend(ui: &mut Ui, entries: &[(Look, String)]) {
    let t = Tokens::of(ui);
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing = vec2(t.space.large, t.space.tiny);
        ui.spacing_mut().interact_size.y = t.type_size.body;
        ui.horizontal_wrapped(|ui| {
            for (look, name) in entries {
                entry(ui, look, name);
            }
        });
    });
}

/// Says what is under the pointer or the arrow keys, in so many lines; what to do where nothing is.
pub fn readout(ui: &mut Ui, lines: f32, text: &str) {
    let t = Tokens::of(ui);
    let size = vec2(ui.available_width(), lines * t.type_size.body * 1.4);
    ui.allocate_ui(size, |ui| {
        ui.set_min_size(size);
        let label = Label::new(RichText::new(text).color(t.quiet)).wrap();
        let said = ui.add(label);
        said.widget_info(|| WidgetInfo::labeled(Role::Status, true, text));
    });
}

/// Draws one sample with its name.
fn entry(ui: &mut Ui, look: &Look, name: &str) {
    let t = Tokens::of(ui);
    let galley = ui
        .painter()
        .layout_no_wrap(name.to_owned(), t.small_font(), t.text);
    let height = galley.size().y.max(t.type_size.body);
    let size = vec2(SAMPLE + t.space.small + galley.size().x, height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, name));
    let sample = Rect::from_min_size(rect.min, vec2(SAMPLE, rect.height()));
    let ends = [sample.left_center(), sample.right_center()];
    let painter = ui.painter();
    match look {
        Look::Area(fill, edge) => {
            let area = sample.shrink2(vec2(2.0, 3.0));
            painter.rect(area, 0.0, *fill, Stroke::new(1.0, *edge), StrokeKind::Inside);
        }
        Look::Sign(sign, colour) => {
            let centre = egui::Align2::CENTER_CENTER;
            painter.text(sample.center(), centre, sign, t.body_font(), *colour);
        }
        Look::Line(colour, style, width) => {
            let stroke = Stroke::new(*width, *colour);
            match style {
                LineStyle::Solid => {
                    painter.line_segment(ends, stroke);
                }
                LineStyle::Dashed { length } => {
                    painter.extend(Shape::dashed_line(&ends, stroke, *length, length * 0.6));
                }
                LineStyle::Dotted { spacing } => {
                    painter.extend(Shape::dotted_line(&ends, *colour, *spacing, *width));
                }
            }
        }
    }
    let at = egui::pos2(
        sample.right() + t.space.small,
        rect.center().y - galley.size().y / 2.0,
    );
    painter.galley(at, galley, t.text);
}
