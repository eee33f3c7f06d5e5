//! A switch between a few things of which exactly one holds.

use egui::{Align2, EventFilter, Id, Key, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use crate::ui::tokens::Tokens;

/// Draws the options side by side and returns the newly chosen one.
///
/// The chosen option takes the keyboard; Left and Right (Up and Down too) choose its neighbour. `label` is what a
/// screen reader calls the whole; `id` is unique in the window.
pub fn segmented(ui: &mut Ui, id: Id, label: &str, options: &[&str], chosen: usize) -> Option<usize> {
    let t = Tokens::of(ui);
    let wide = |option: &&str| {
        let galley = ui
            .painter()
            .layout_no_wrap((*option).to_owned(), t.strong_font(), t.text);
        galley.size().x.ceil() + 2.0 * t.space.medium
    };
    let widths: Vec<f32> = options.iter().map(wide).collect();
    let size = vec2(widths.iter().sum(), t.control_height);
    let (rect, whole) = ui.allocate_exact_size(size, Sense::hover());
    whole.widget_info(|| WidgetInfo::labeled(Role::RadioGroup, ui.is_enabled(), label));

    let radius = f32::from(t.radius);
    ui.painter().rect_filled(rect, radius, t.raised);
    let mut answer = step(ui, id.with(chosen), options.len(), chosen);
    let mut left = rect.left();
    for (i, (option, width)) in options.iter().zip(widths).enumerate() {
        let part = Rect::from_min_size(pos2(left, rect.top()), vec2(width, rect.height()));
        left += width;
        let is_chosen = i == chosen;
        let sense = if is_chosen { Sense::click() } else { Sense::CLICK };
        let response = ui.interact(part, id.with(i), sense);
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, ui.is_enabled(), is_chosen, option));
        if response.clicked() && !is_chosen {
            answer = Some(i);
        }
        let (fill, ink, font) = match (is_chosen, response.hovered()) {
            (true, _) => (t.accent, t.on_accent, t.strong_font()),
            (false, true) => (t.selection, t.text, t.body_font()),
            (false, false) => (t.raised, t.text, t.body_font()),
        };
        ui.painter().rect_filled(part.shrink(1.0), radius - 1.0, fill);
        ui.painter()
            .text(part.center(), Align2::CENTER_CENTER, option, font, ink);
        if response.has_focus() {
            let ring = Stroke::new(2.0, t.accent);
            ui.painter()
                .rect_stroke(part.expand(3.0), radius + 3.0, ring, StrokeKind::Inside);
        }
    }
    ui.painter()
        .rect_stroke(rect, radius, Stroke::new(1.0, t.quiet), StrokeKind::Inside);
    if let Some(next) = answer {
        ui.memory_mut(|m| m.request_focus(id.with(next)));
    }
    answer
}

/// The neighbour that an arrow key asks for, if the chosen option has the keyboard.
fn step(ui: &Ui, id: Id, count: usize, chosen: usize) -> Option<usize> {
    if !ui.memory(|m| m.has_focus(id)) || count == 0 {
        return None;
    }
    let arrows = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, arrows));
    let pressed =
        |keys: [Key; 2]| ui.input_mut(|i| keys.map(|key| i.consume_key(egui::Modifiers::NONE, key)));
    let back = pressed([Key::ArrowLeft, Key::ArrowUp]).contains(&true);
    let on = pressed([Key::ArrowRight, Key::ArrowDown]).contains(&true);
    if back || on {
        // The filter does not hold yet in the first pass: egui must not move the focus by the same key.
        ui.memory_mut(|m| m.move_focus(egui::FocusDirection::None));
    }
    let next = match (back, on) {
        (true, false) => chosen.saturating_sub(1),
        (false, true) => (chosen + 1).min(count - 1),
        _ => chosen,
    };
    (next != chosen).then_some(next)
}
