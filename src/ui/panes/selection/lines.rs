//! The cutoff lines: drawn, dragged, nudged by the arrow keys, and moved by a screen reader.

use super::scatter::{PlotState, Scatter};
use crate::insight::{Axis, AxisRoom, Standing, Vertical};
use crate::model::{Better, Cutoffs, Limits, Project, TraitId};
use crate::ui::tokens::Tokens;
use egui::accesskit::Action as Wish;
use egui::{
    CursorIcon, EventFilter, Id, Key, Modifiers, Pos2, Rect, Response, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use egui_plot::PlotTransform;

/// How far off a line the pointer still takes it, in points.
const GRIP: f32 = 6.0;

/// A cutoff that can be a line on the plot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Line {
    /// Least cold germination.
    Germination,
    /// Most maturity days.
    Maturity,
    /// Least vigor grade.
    Vigor,
    /// Least value of a trait.
    TraitLeast(TraitId),
    /// Greatest value of a trait.
    TraitMost(TraitId),
}

impl Line {
    /// The lines across an axis. Of a trait that of the side on which ears are worse, and that which is set.
    pub fn on(axis: Axis, project: &Project, cutoffs: &Cutoffs) -> Vec<Self> {
        match axis {
            Axis::MaturityDays => vec![Self::Maturity],
            Axis::Germination(_) => vec![Self::Germination],
            Axis::Vigor => vec![Self::Vigor],
            Axis::HeatUnits | Axis::Kernels => Vec::new(),
            Axis::Trait(id) => {
                let better = axis.better(project);
                let (least, most) = (Self::TraitLeast(id), Self::TraitMost(id));
                let is_shown = |line: Self, worse: Better| {
                    better == worse || better == Better::Neither || line.of(cutoffs).is_some()
                };
                let least = is_shown(least, Better::Higher).then_some(least);
                let most = is_shown(most, Better::Lower).then_some(most);
                least.into_iter().chain(most).collect()
            }
        }
    }

    /// What it is a cutoff on.
    fn axis(self) -> Axis {
        match self {
            Self::Germination => Axis::Germination(Vertical::Likely),
            Self::Maturity => Axis::MaturityDays,
            Self::Vigor => Axis::Vigor,
            Self::TraitLeast(id) | Self::TraitMost(id) => Axis::Trait(id),
        }
    }

    /// Whether it keeps the ears above it, else those below.
    fn is_least(self) -> bool {
        match self {
            Self::Germination | Self::Vigor | Self::TraitLeast(_) => true,
            Self::Maturity | Self::TraitMost(_) => false,
        }
    }

    /// Names the line, as a screen reader says it.
    pub fn name(self, project: &Project) -> String {
        let of = || self.axis().name(project);
        match self {
            Self::Germination => "Least cold germination".to_owned(),
            Self::Maturity => "Most maturity days".to_owned(),
            Self::Vigor => "Least vigor grade".to_owned(),
            Self::TraitLeast(_) => format!("Least of {}", of()),
            Self::TraitMost(_) => format!("Most of {}", of()),
        }
    }

    /// Where the line stands; `None` when it is off.
    pub fn of(self, cutoffs: &Cutoffs) -> Option<f64> {
        let limits = |id: &TraitId| cutoffs.traits.get(id).copied().unwrap_or_default();
        match &self {
            Self::Germination => cutoffs.germination_percent,
            Self::Maturity => cutoffs.maturity_days,
            Self::Vigor => cutoffs.vigor,
            Self::TraitLeast(id) => limits(id).least,
            Self::TraitMost(id) => limits(id).most,
        }
    }

    /// The cutoffs with the line somewhere else.
    pub fn with(self, cutoffs: &Cutoffs, value: Option<f64>) -> Cutoffs {
        let mut cutoffs = cutoffs.clone();
        match self {
            Self::Germination => cutoffs.germination_percent = value,
            Self::Maturity => cutoffs.maturity_days = value,
            Self::Vigor => cutoffs.vigor = value,
            Self::TraitLeast(id) => cutoffs.traits.entry(id).or_default().least = value,
            Self::TraitMost(id) => cutoffs.traits.entry(id).or_default().most = value,
        }
        cutoffs.traits.retain(|_, one| *one != Limits::default());
        cutoffs
    }

    /// Where the line stands when it is switched on for the first time: where nothing is decided by chance. The
    /// common 70 percent, else the last value that leaves out no ear.
    pub fn first_value(self, project: &Project, standings: &[Standing]) -> f64 {
        let range = || self.axis().range(project, standings);
        match self {
            Self::Germination => 70.0,
            Self::Maturity => range().map_or(100.0, |[_, most]| most),
            Self::TraitMost(_) => range().map_or(0.0, |[_, most]| most),
            Self::Vigor | Self::TraitLeast(_) => range().map_or(0.0, |[least, _]| least),
        }
    }

    /// Least and most value that the line can be moved to.
    fn range(self, room: &AxisRoom, cutoffs: &Cutoffs) -> [f64; 2] {
        let [least, most] = room.span;
        let edge = 0.05 * (most - least);
        match self {
            Self::Germination => [0.0, 100.0],
            Self::Maturity => [(least - 1.0).max(0.0), most + 1.0],
            Self::Vigor => [0.0, 9.0],
            Self::TraitLeast(id) => {
                let most = Self::TraitMost(id).of(cutoffs).unwrap_or(most + edge);
                [(least - edge).min(most), most]
            }
            Self::TraitMost(id) => {
                let least = Self::TraitLeast(id).of(cutoffs).unwrap_or(least - edge);
                [least, (most + edge).max(least)]
            }
        }
    }

    fn tag(self, project: &Project, value: Option<f64>) -> String {
        match (self, value) {
            (Self::Germination, None) => "any %".to_owned(),
            (Self::Maturity, None) => "any days".to_owned(),
            (Self::Vigor, None) => "any grade".to_owned(),
            (Self::TraitLeast(_), None) => "any ≥".to_owned(),
            (Self::TraitMost(_), None) => "any ≤".to_owned(),
            (Self::TraitLeast(_), Some(value)) => format!("≥ {}", self.axis().text(project, value)),
            (Self::TraitMost(_), Some(value)) => format!("≤ {}", self.axis().text(project, value)),
            (_, Some(value)) => self.axis().text(project, value),
        }
    }
}

/// A line as it lies on the plot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Handle {
    /// The cutoff.
    pub line: Line,
    /// Whether it is an upright line, on the axis across; else a level one.
    pub is_upright: bool,
}

impl Handle {
    fn side(self) -> usize {
        usize::from(!self.is_upright)
    }
}

/// A value without the crumbs of adding steps.
fn tidy(value: f64, step: f64) -> f64 {
    let parts = (1.0 / step).round().max(1.0);
    (value * parts).round() / parts
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
        handle: Handle,
        transform: &PlotTransform,
        outer: Rect,
        events: &mut Vec<LineEvent>,
    ) -> Response {
        let frame = *transform.frame();
        let cutoffs = state.preview.clone().unwrap_or_else(|| self.cutoffs.clone());
        let line = handle.line;
        let value = line.of(&cutoffs);
        let [least, most] = self.reach(handle);
        let text = line.tag(self.project, value);
        let name = line.name(self.project);
        let tag = ui
            .painter()
            .layout_no_wrap(text.clone(), t.strong_font(), t.on_accent);
        let (stroke_rect, pill) = place(handle, value, transform, outer, tag.size());

        let id = Id::unique(("selection line", name.as_str(), handle.is_upright));
        let sense = if self.can_change {
            Sense::CLICK | Sense::DRAG
        } else {
            Sense::hover()
        };
        let cursor = if handle.is_upright {
            CursorIcon::ResizeHorizontal
        } else {
            CursorIcon::ResizeVertical
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
            let shown = value.unwrap_or(if line.is_least() { least } else { most });
            let mut info = WidgetInfo::slider(self.can_change && ui.is_enabled(), shown, &name);
            info.current_text_value = Some(text.clone());
            info
        });
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_min_numeric_value(least);
            node.set_max_numeric_value(most);
            node.set_numeric_value_step(line.axis().step(self.project));
            for wish in [Wish::SetValue, Wish::Increment, Wish::Decrement] {
                node.add_action(wish);
            }
        });
        if self.can_change {
            self.drag(ui, state, handle, &response, transform, events);
            self.keys(ui, state, handle, &response, events);
        }
        response
    }

    fn drag(
        &self,
        ui: &Ui,
        state: &mut PlotState,
        handle: Handle,
        response: &Response,
        transform: &PlotTransform,
        events: &mut Vec<LineEvent>,
    ) {
        if response.clicked() || response.drag_started() {
            response.request_focus();
        }
        if response.drag_started() {
            state.dragged = Some(handle);
        }
        if state.dragged != Some(handle) {
            return;
        }
        if ui.input(|i| i.key_pressed(Key::Escape)) {
            state.dragged = None;
            state.preview = None;
            ui.ctx().request_repaint();
            return;
        }
        if let Some(at) = response.interact_pointer_pos() {
            let moved = handle
                .line
                .with(self.cutoffs, self.value_at(handle, at, transform));
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
    fn value_at(&self, handle: Handle, at: Pos2, transform: &PlotTransform) -> Option<f64> {
        let line = handle.line;
        let value = transform.value_from_position(at);
        let frame = transform.frame();
        let [least, most] = self.reach(handle);
        let (value, is_out) = match (handle.is_upright, line.is_least()) {
            (false, true) => (value.y, at.y > frame.bottom() + GRIP),
            (false, false) => (value.y, at.y < frame.top() - GRIP),
            (true, true) => (value.x, at.x < frame.left() - GRIP),
            (true, false) => (value.x, at.x > frame.right() + GRIP),
        };
        let step = line.axis().step(self.project);
        (!is_out).then(|| tidy(value, step).clamp(least, most))
    }

    /// Least and most value that the line can be moved to.
    fn reach(&self, handle: Handle) -> [f64; 2] {
        handle.line.range(&self.field.axes[handle.side()], self.cutoffs)
    }

    fn keys(
        &self,
        ui: &Ui,
        state: &mut PlotState,
        handle: Handle,
        response: &Response,
        events: &mut Vec<LineEvent>,
    ) {
        let focused = response.has_focus();
        if !focused && state.focused == Some(handle) {
            state.focused = None;
            events.push(LineEvent::Close);
        }
        let count = |wish| ui.input(|i| i.num_accesskit_action_requests(response.id, wish)) as f64;
        let mut steps = count(Wish::Increment) - count(Wish::Decrement);
        if focused {
            if state.focused != Some(handle) {
                state.focused = Some(handle);
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
        let line = handle.line;
        let [least, most] = self.reach(handle);
        let step = line.axis().step(self.project);
        let now = line.of(self.cutoffs);
        let set = ui.input(|i| {
            i.accesskit_action_requests(response.id, Wish::SetValue)
                .find_map(|wish| match wish.data {
                    Some(egui::accesskit::ActionData::NumericValue(value)) => Some(value),
                    _ => None,
                })
        });
        let wanted = set.or_else(|| {
            (steps.abs() > 0.0).then(|| match now {
                None => line.first_value(self.project, &self.choice.standings),
                // A cutoff that was typed finer than the step keeps its part below it.
                Some(now) => tidy(now + steps * step, step / 100.0),
            })
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
    handle: Handle,
    value: Option<f64>,
    transform: &PlotTransform,
    outer: Rect,
    tag: egui::Vec2,
) -> (Rect, Rect) {
    let frame = transform.frame();
    let size = tag + vec2(14.0, 8.0);
    let is_least = handle.line.is_least();
    if handle.is_upright {
        let edge = if is_least { frame.left() } else { frame.right() };
        let x = value.map_or(edge, |value| transform.position_from_point_x(value));
        let x = x.clamp(frame.left(), frame.right());
        let middle = x.clamp(frame.left() + size.x / 2.0, frame.right() - size.x / 2.0);
        let pill = Rect::from_center_size(pos2(middle, outer.top() + size.y / 2.0), size);
        let stroke = Rect::from_min_max(pos2(x, outer.top() + size.y), pos2(x, frame.bottom()));
        (stroke, pill)
    } else {
        let edge = if is_least { frame.bottom() } else { frame.top() };
        let y = value.map_or(edge, |value| transform.position_from_point_y(value));
        let y = y.clamp(frame.top(), frame.bottom());
        let middle = y.clamp(frame.top() + size.y / 2.0, frame.bottom() - size.y / 2.0);
        let pill = Rect::from_center_size(pos2(outer.right() - size.x / 2.0, middle), size);
        let stroke = Rect::from_min_max(pos2(frame.left(), y), pos2(outer.right() - size.x, y));
        (stroke, pill)
    }
}
