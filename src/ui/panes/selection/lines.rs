//! The two cutoff lines: drawn, dragged, nudged by the arrow keys, and moved by a screen reader.

use super::scatter::{PlotState, Scatter};
use crate::insight::Field;
use crate::model::Cutoffs;
use crate::ui::tokens::Tokens;
use egui::accesskit::Action as Wish;
use egui::{
    CursorIcon, EventFilter, Id, Key, Modifiers, Pos2, Rect, Response, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use egui_plot::PlotTransform;

/// How far off a line the pointer still takes it, in points.
const GRIP: f32 = 6.0;
/// One of the two cutoff lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// Least cold germination: a level line.
    Germination,
    /// Most maturity days: an upright line.
    Maturity,
}

impl Line {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Germination, Self::Maturity];

    /// Names the line, as a screen reader says it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Germination => "Least cold germination",
            Self::Maturity => "Most maturity days",
        }
    }

    /// Where the line stands; `None` when it is off.
    pub fn of(self, cutoffs: &Cutoffs) -> Option<f64> {
        match self {
            Self::Germination => cutoffs.germination_percent,
            Self::Maturity => cutoffs.maturity_days,
        }
    }

    /// The cutoffs with the line somewhere else.
    pub fn with(self, cutoffs: &Cutoffs, value: Option<f64>) -> Cutoffs {
        let mut cutoffs = cutoffs.clone();
        match self {
            Self::Germination => cutoffs.germination_percent = value,
            Self::Maturity => cutoffs.maturity_days = value,
        }
        cutoffs
    }

    /// Where the line stands when it is switched on for the first time: where nothing is decided by chance. The
    /// common 70 percent, and the latest of all ears.
    pub fn first_value(self, field: &Field) -> f64 {
        match self {
            Self::Germination => 70.0,
            Self::Maturity => field.days[1],
        }
    }

    /// Least and most value that the line can be moved to.
    fn range(self, field: &Field) -> [f64; 2] {
        match self {
            Self::Germination => [0.0, 100.0],
            Self::Maturity => [(field.days[0] - 1.0).max(0.0), field.days[1] + 1.0],
        }
    }

    fn tag(self, value: Option<f64>) -> String {
        match (self, value) {
            (Self::Germination, None) => "any %".to_owned(),
            (Self::Maturity, None) => "any days".to_owned(),
            (Self::Germination, Some(value)) => format!("{} %", round(value)),
            (Self::Maturity, Some(value)) => format!("{} days", round(value)),
        }
    }
}

fn round(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// What a line asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum LineEvent {
    /// Set the cutoffs, as a part of the step that takes nudges.
    Nudge(Cutoffs),
    /// Set the cutoffs, as a step of its own.
    Commit(Cutoffs),
    /// End the step that takes nudges.
    Close,
}

impl Scatter<'_> {
    /// Draws a line with its handle, and takes what the pointer, the keys and a screen reader ask of it.
    #[expect(
        clippy::too_many_arguments,
        reason = "one step of drawing, split off for its length"
    )]
    pub fn line(
        &self,
        ui: &mut Ui,
        t: &Tokens,
        state: &mut PlotState,
        line: Line,
        transform: &PlotTransform,
        outer: Rect,
        events: &mut Vec<LineEvent>,
    ) -> Response {
        let frame = *transform.frame();
        let cutoffs = state.preview.clone().unwrap_or_else(|| self.cutoffs.clone());
        let value = line.of(&cutoffs);
        let [least, most] = line.range(self.field);
        let tag = ui
            .painter()
            .layout_no_wrap(line.tag(value), t.strong_font(), t.on_accent);
        let (stroke_rect, pill) = place(line, value, transform, outer, tag.size());

        let id = Id::unique(("selection line", line.name()));
        let sense = if self.can_change {
            Sense::CLICK | Sense::DRAG
        } else {
            Sense::hover()
        };
        let cursor = match line {
            Line::Germination => CursorIcon::ResizeVertical,
            Line::Maturity => CursorIcon::ResizeHorizontal,
        };
        // The handle is the slider; the line, where it is on, is a thin part of it that only the pointer takes.
        let can_focus = if self.can_change {
            Sense::focusable_noninteractive()
        } else {
            Sense::hover()
        };
        let mut response = ui.interact(pill.expand(2.0), id, sense | can_focus);
        if value.is_some() {
            response |= ui.interact(stroke_rect.expand(GRIP), id.with("line"), sense);
        }
        let response = response.on_hover_and_drag_cursor(cursor);
        let focused = response.has_focus();

        let colour = if value.is_some() { t.accent } else { t.quiet };
        let width = if response.dragged() || focused { 3.0 } else { 2.0 };
        let clip = ui.painter().with_clip_rect(frame);
        if value.is_some() {
            clip.line_segment([stroke_rect.min, stroke_rect.max], Stroke::new(width, colour));
        }
        let radius = f32::from(t.radius);
        ui.painter().rect_filled(pill, radius, colour);
        if focused || response.hovered() || response.dragged() {
            let ring = Stroke::new(2.0, if focused { t.accent } else { t.quiet });
            ui.painter()
                .rect_stroke(pill.expand(3.0), radius + 3.0, ring, StrokeKind::Inside);
        }
        ui.painter()
            .galley(pill.center() - tag.size() / 2.0, tag, t.on_accent);

        response.widget_info(|| {
            let shown = value.unwrap_or(if line == Line::Germination { least } else { most });
            let mut info = WidgetInfo::slider(self.can_change && ui.is_enabled(), shown, line.name());
            info.current_text_value = Some(line.tag(value));
            info
        });
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_min_numeric_value(least);
            node.set_max_numeric_value(most);
            node.set_numeric_value_step(1.0);
            for wish in [Wish::SetValue, Wish::Increment, Wish::Decrement] {
                node.add_action(wish);
            }
        });
        if self.can_change {
            self.drag(ui, state, line, &response, transform, events);
            self.keys(ui, state, line, &response, events);
        }
        response
    }

    fn drag(
        &self,
        ui: &Ui,
        state: &mut PlotState,
        line: Line,
        response: &Response,
        transform: &PlotTransform,
        events: &mut Vec<LineEvent>,
    ) {
        if response.clicked() || response.drag_started() {
            response.request_focus();
        }
        if response.drag_started() {
            state.dragged = Some(line);
        }
        if state.dragged != Some(line) {
            return;
        }
        if ui.input(|i| i.key_pressed(Key::Escape)) {
            state.dragged = None;
            state.preview = None;
            ui.ctx().request_repaint();
            return;
        }
        if let Some(at) = response.interact_pointer_pos() {
            let moved = line.with(self.cutoffs, self.value_at(line, at, transform));
            if state.preview.as_ref() != Some(&moved) {
                state.preview = Some(moved);
                // The figures were drawn before the line moved.
                ui.ctx().request_repaint();
            }
        }
        if !response.dragged() {
            state.dragged = None;
            events.extend(state.preview.take().map(LineEvent::Commit));
        }
    }

    /// The value under the pointer; `None` when it was taken out of the plot to where the line is off.
    fn value_at(&self, line: Line, at: Pos2, transform: &PlotTransform) -> Option<f64> {
        let value = transform.value_from_position(at);
        let frame = transform.frame();
        let [least, most] = line.range(self.field);
        let (value, is_out) = match line {
            Line::Germination => (value.y, at.y > frame.bottom() + GRIP),
            Line::Maturity => (value.x, at.x > frame.right() + GRIP),
        };
        (!is_out).then(|| value.round().clamp(least, most))
    }

    fn keys(
        &self,
        ui: &Ui,
        state: &mut PlotState,
        line: Line,
        response: &Response,
        events: &mut Vec<LineEvent>,
    ) {
        let focused = response.has_focus();
        if !focused && state.focused == Some(line) {
            state.focused = None;
            events.push(LineEvent::Close);
        }
        let count = |wish| ui.input(|i| i.num_accesskit_action_requests(response.id, wish)) as f64;
        let mut steps = count(Wish::Increment) - count(Wish::Decrement);
        if focused {
            if state.focused != Some(line) {
                state.focused = Some(line);
                events.push(LineEvent::Close);
            }
            let arrows = EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                ..EventFilter::default()
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
            let pressed = ui.input_mut(arrow_steps);
            if let Some(pressed) = pressed {
                steps += pressed;
                // The filter does not hold yet in the first pass: egui must not move the focus by the same key.
                ui.memory_mut(|m| m.move_focus(egui::FocusDirection::None));
            }
        }
        let [least, most] = line.range(self.field);
        let now = line.of(self.cutoffs);
        let set = ui.input(|i| {
            i.accesskit_action_requests(response.id, Wish::SetValue)
                .find_map(|wish| match wish.data {
                    Some(egui::accesskit::ActionData::NumericValue(value)) => Some(value),
                    _ => None,
                })
        });
        let wanted = set.or_else(|| {
            (steps.abs() > 0.0).then(|| now.map_or_else(|| line.first_value(self.field), |now| now + steps))
        });
        let Some(wanted) = wanted.filter(|wanted| wanted.is_finite()) else {
            return;
        };
        let wanted = Some(wanted.clamp(least, most));
        if wanted != now {
            events.push(LineEvent::Nudge(line.with(self.cutoffs, wanted)));
        }
    }
}

/// Steps asked for by the arrow keys, ten by an arrow with Shift; `None` when no arrow was pressed.
fn arrow_steps(input: &mut egui::InputState) -> Option<f64> {
    let mut steps = 0.0;
    let mut any = false;
    for (key, sign) in [
        (Key::ArrowUp, 1.0),
        (Key::ArrowRight, 1.0),
        (Key::ArrowDown, -1.0),
        (Key::ArrowLeft, -1.0),
    ] {
        // Shift first: without it egui also takes the key with Shift.
        for (modifiers, size) in [(Modifiers::SHIFT, 10.0), (Modifiers::NONE, 1.0)] {
            let count = input.count_and_consume_key(modifiers, key);
            any |= count > 0;
            steps += sign * size * count as f64;
        }
    }
    any.then_some(steps)
}

/// Where a line is drawn, and its handle. The handle stays in sight when the line does not.
fn place(
    line: Line,
    value: Option<f64>,
    transform: &PlotTransform,
    outer: Rect,
    tag: egui::Vec2,
) -> (Rect, Rect) {
    let frame = transform.frame();
    let size = tag + vec2(14.0, 8.0);
    match line {
        Line::Germination => {
            let y = value.map_or(frame.bottom(), |value| transform.position_from_point_y(value));
            let y = y.clamp(frame.top(), frame.bottom());
            let middle = y.clamp(frame.top() + size.y / 2.0, frame.bottom() - size.y / 2.0);
            let pill = Rect::from_center_size(pos2(outer.right() - size.x / 2.0, middle), size);
            (
                Rect::from_min_max(pos2(frame.left(), y), pos2(outer.right() - size.x, y)),
                pill,
            )
        }
        Line::Maturity => {
            let x = value.map_or(frame.right(), |value| transform.position_from_point_x(value));
            let x = x.clamp(frame.left(), frame.right());
            let middle = x.clamp(frame.left() + size.x / 2.0, frame.right() - size.x / 2.0);
            let pill = Rect::from_center_size(pos2(middle, outer.top() + size.y / 2.0), size);
            (
                Rect::from_min_max(pos2(x, outer.top() + size.y), pos2(x, frame.bottom())),
                pill,
            )
        }
    }
}
