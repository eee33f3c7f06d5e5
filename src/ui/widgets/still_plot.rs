//! Plots that are only looked at and clicked: nothing in them is dragged, zoomed or scrolled.

use crate::ui::tokens::Tokens;
use egui::{Id, Ui};
use egui_plot::{AxisHints, Plot};

/// A plot with quiet axes that stays as it is; an axis without a name has an empty one.
pub fn still_plot(ui: &Ui, id: Id, [x, y]: [&str; 2]) -> Plot<'static> {
    let t = Tokens::of(ui);
    let axis = |hints: AxisHints<'static>, label: &str| {
        let hints = hints
            .tick_label_color(t.quiet)
            .tick_label_font(t.small_font())
            .label_spacing(13.0..=14.0);
        if label.is_empty() {
            hints
        } else {
            hints.label(label.to_owned())
        }
    };
    Plot::new(id)
        .custom_x_axes(vec![axis(AxisHints::new_x(), x)])
        .custom_y_axes(vec![axis(AxisHints::new_y(), y)])
        .grid_color(t.line)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .show_x(false)
        .show_y(false)
}
