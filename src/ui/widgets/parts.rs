//! Small parts that every pane is made of.

use egui::{Button, Frame, InnerResponse, Margin, Response, RichText, Role, Stroke, Ui, WidgetInfo, vec2};

use crate::ui::tokens::Tokens;

/// The one button of a place that is most likely wanted: filled with the accent.
pub fn primary_button(ui: &mut Ui, text: &str) -> Response {
    primary_button_enabled(ui, true, text)
}

/// [`primary_button`] that can be switched off.
pub fn primary_button_enabled(ui: &mut Ui, enabled: bool, text: &str) -> Response {
    let t = Tokens::of(ui);
    let text = RichText::new(text).font(t.strong_font()).color(t.on_accent);
    let button = Button::new(text)
        .fill(t.accent)
        .stroke(Stroke::NONE)
        .min_size(vec2(0.0, t.control_height));
    let response = ui.add_enabled(enabled, button);
    if response.has_focus() {
        // The accent cannot show the keyboard's place on itself.
        let ring = response.rect.expand(3.0);
        let radius = f32::from(t.radius) + 3.0;
        ui.painter()
            .rect_stroke(ring, radius, Stroke::new(2.0, t.accent), egui::StrokeKind::Inside);
    }
    response
}

/// A figure to be read from across the table, with what it is under it.
pub fn big_number(ui: &mut Ui, value: &str, caption: &str) -> Response {
    let t = Tokens::of(ui);
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        ui.label(RichText::new(value).font(t.numeral_font()).color(t.text));
        ui.label(RichText::new(caption).font(t.small_font()).color(t.quiet));
    })
    .response
}

/// Says what is wrong, in a sentence.
pub fn alert(ui: &mut Ui, text: &str) {
    let t = Tokens::of(ui);
    let said = ui.label(RichText::new(format!("⚠ {text}")).color(t.bad));
    said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, text));
}

/// A heading with content under it.
pub fn section<R>(ui: &mut Ui, title: &str, content: impl FnOnce(&mut Ui) -> R) -> InnerResponse<R> {
    ui.vertical(|ui| {
        let t = Tokens::of(ui);
        ui.label(RichText::new(title).font(t.heading_font()).color(t.text));
        ui.add_space(t.space.tiny);
        let inner = content(ui);
        ui.add_space(t.space.large);
        inner
    })
}

/// A sheet that lies on the page, as wide as the room.
pub fn card<R>(ui: &mut Ui, content: impl FnOnce(&mut Ui) -> R) -> InnerResponse<R> {
    let t = Tokens::of(ui);
    Frame::new()
        .fill(t.raised)
        .stroke(Stroke::new(1.0, t.line))
        .corner_radius(t.radius)
        .inner_margin(Margin::same(t.space.medium as i8))
        .show(ui, |ui| {
            ui.set_min_width(ui.available_width());
            content(ui)
        })
}

/// What a place shows while there is nothing in it: what is missing, what to do first, and the button that does it.
/// Returns whether the button was clicked.
pub fn empty_state(ui: &mut Ui, title: &str, what_to_do: &str, button: Option<&str>) -> bool {
    let t = Tokens::of(ui);
    ui.vertical_centered(|ui| {
        ui.add_space(t.space.large);
        ui.label(RichText::new(title).font(t.heading_font()).color(t.text));
        ui.scope(|ui| {
            ui.set_max_width(460.0);
            ui.label(RichText::new(what_to_do).color(t.quiet));
        });
        ui.add_space(t.space.small);
        button.is_some_and(|button| primary_button(ui, button).clicked())
    })
    .inner
}
