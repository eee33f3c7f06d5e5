//! The plot: ears between two axes, with the cutoff lines on them.

use super::drawing::{Drawing, Tool};
use super::lines::{Handle, Line, LineEvent};
use super::marks::{self, Groups};
use super::names::Names;
use super::walk::Deed;
use crate::insight::{
    Axis, AxisRoom, Band, Bar, Choice, EarGroups, Edges, Field, Standing, nice, stand_index,
};
use crate::model::{Cutoffs, EarId, Project, Word};
use crate::ui::tokens::Tokens;
use egui::{Color32, Id, Pos2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use egui_plot::{
    AxisHints, GridMark, Plot, PlotBounds, PlotPoint, PlotPoints, PlotTransform, PlotUi, Points, Polygon,
};
use std::collections::BTreeMap;

/// Room above the plot for the distribution of maturity days and the handle of its cutoff.
const ABOVE: f32 = 44.0;
/// Room beside the plot for the distribution of percents and the handle of its cutoff.
const BESIDE: f32 = 66.0;
/// How far from a mark the pointer still means it, in points.
const REACH: f32 = 11.0;
/// Below this height the vertical axis has a short title, in points.
const LOW: f32 = 300.0;
/// What the plot remembers between frames.
#[derive(Debug, Default)]
pub struct PlotState {
    /// The cutoffs while a line is dragged.
    pub preview: Option<Cutoffs>,
    /// What a drag does.
    pub tool: Tool,
    /// What is drawn to choose the ears inside.
    pub drawing: Option<Drawing>,
    /// The line that is dragged.
    pub dragged: Option<Handle>,
    /// The line that has the keyboard.
    pub focused: Option<Handle>,
    /// The ear that the keyboard is on.
    pub at: Option<EarId>,
    /// What the plot is to show from the next frame on: left, right, bottom and top.
    pub go_to: Option<[f64; 4]>,
    /// Left, right, bottom and top of what was shown last, in the units of the axes.
    pub view: Option<[f64; 4]>,
    /// Whether the view is not the one it began with.
    pub is_moved: bool,
    /// Show everything again.
    pub reset: bool,
    /// Of how many ears in view the ranges are drawn, where there are too many.
    pub ranges: Option<[usize; 2]>,
    /// How many chosen ears in view have no room for their number.
    pub unlabelled: usize,
}

/// Where a click fell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Click {
    /// On the mark of an ear.
    Ear(usize),
    /// Beside all marks.
    Beside,
}

/// What was done on the plot.
#[derive(Debug, Default)]
pub struct PlotAnswer {
    /// The ear under the pointer.
    pub hovered: Option<usize>,
    /// A click.
    pub clicked: Option<Click>,
    /// A double click on an ear.
    pub opened: Option<usize>,
    /// What a key asks for.
    pub deed: Option<Deed>,
    /// A rectangle or a curve was drawn around these.
    pub enclosed: Option<Vec<usize>>,
    /// What the lines ask for.
    pub lines: Vec<LineEvent>,
}

/// Of which ears the ranges are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ranges {
    /// Of none.
    None,
    /// Of the chosen ears and the one under the pointer.
    #[default]
    Chosen,
    /// Of all ears that are shown.
    All,
}

/// Everything that the plot shows.
pub struct Scatter<'a> {
    /// The project.
    pub project: &'a Project,
    /// The standings of the ears.
    pub choice: &'a Choice,
    /// Their places.
    pub field: &'a Field,
    /// Their places by stand and group.
    pub groups: &'a Groups,
    /// Their groups, where they are coloured by one.
    pub grouped: Option<&'a EarGroups>,
    /// Their distributions.
    pub edges: &'a Edges,
    /// The cutoffs that are set.
    pub cutoffs: &'a Cutoffs,
    /// Where kernels cannot tell, on the axes across and up.
    pub bands: [Option<Band>; 2],
    /// The names of the ears.
    pub names: &'a Names,
    /// The words given.
    pub words: &'a BTreeMap<EarId, Word>,
    /// The chosen ears.
    pub chosen: &'a [EarId],
    /// An ear under the pointer in the table.
    pub hovered: Option<usize>,
    /// Which stands are shown in full, in the order of [`Stand::ALL`](crate::model::Stand::ALL).
    pub shown: [bool; 4],
    /// Whether the lines can be moved.
    pub can_change: bool,
    /// Of which ears the ranges are drawn.
    pub ranges: Ranges,
    /// Whether the chosen ears have their numbers beside them.
    pub has_numbers: bool,
    /// What the plot shows, in words.
    pub text: &'a str,
}

impl<'a> Scatter<'a> {
    /// Draws the plot in all the room that is left.
    pub fn show(&self, ui: &mut Ui, state: &mut PlotState) -> PlotAnswer {
        let t = Tokens::of(ui);
        let outer = ui.available_rect_before_wrap();
        ui.advance_cursor_after_rect(outer);
        let inner = Rect::from_min_max(outer.min + vec2(0.0, ABOVE), outer.max - vec2(BESIDE, 0.0));
        let tool = match (&state.drawing, ui.input(|i| i.modifiers.shift)) {
            (Some(Drawing::Curve(_)), _) => Tool::Curve,
            (Some(Drawing::Rectangle(_)), _) | (None, true) => Tool::Rectangle,
            (None, false) => state.tool,
        };
        let pointer = ui.input(|i| i.pointer.latest_pos());
        // It lies under the plot, so that it takes the keyboard and leaves the pointer to the plot.
        let keyboard = ui.interact(inner, Id::unique("selection plot"), Sense::FOCUSABLE);
        let response = ui
            .scope_builder(egui::UiBuilder::new().max_rect(inner), |ui| {
                self.plot(ui, t, tool, state)
            })
            .inner;
        let transform = response.transform;
        let plot = response.response;
        let frame = *transform.frame();
        let first = self.field.bounds();
        let bounds = transform.bounds();
        let now = [bounds.min()[0], bounds.max()[0], bounds.min()[1], bounds.max()[1]];
        state.view = Some(now);
        let sizes = [first[1] - first[0], first[3] - first[2]];
        let is_off = |i: usize| (now[i] - first[i]).abs() > 1e-6 * sizes[i / 2];
        state.is_moved = (0..4).any(is_off);

        let mut answer = PlotAnswer::default();
        self.draw(ui, t, state, &plot, &transform, tool, &mut answer);

        let painter = ui.painter().with_clip_rect(frame);
        self.distributions(ui, t, &transform, outer);

        let on_plot = ui.rect_contains_pointer(frame) && state.preview.is_none() && state.drawing.is_none();
        answer.hovered = pointer
            .filter(|_| on_plot)
            .and_then(|at| self.hit(&transform, at));
        let hovered = answer.hovered.or(self.hovered);
        self.rings(&painter, t, &transform, hovered);
        state.unlabelled = self.numbers(&painter, t, &transform);

        let mut clicked = plot.clicked().then_some(()).and(plot.interact_pointer_pos());
        let mut opened = plot.double_clicked();
        for handle in self.handles() {
            let handle = self.line(ui, t, state, handle, &transform, outer, &mut answer.lines);
            // A mark under a line can be clicked all the same.
            if handle.clicked() {
                clicked = handle
                    .interact_pointer_pos()
                    .filter(|at| self.hit(&transform, *at).is_some());
                opened |= handle.double_clicked();
            }
        }
        if plot.clicked() {
            keyboard.request_focus();
        }
        answer.clicked = clicked.map(|at| self.hit(&transform, at).map_or(Click::Beside, Click::Ear));
        if let Some(Click::Ear(ear)) = answer.clicked {
            answer.opened = opened.then_some(ear);
            state.at = Some(self.choice.standings[ear].ear);
        }
        answer.deed = self.walk(ui, state, &transform, &keyboard);
        let at = self.keyboard_place(state).filter(|_| keyboard.has_focus());
        if keyboard.has_focus() {
            let ring = Stroke::new(2.0, t.accent);
            ui.painter().rect_stroke(frame, 0.0, ring, StrokeKind::Inside);
        }
        if let Some(i) = at {
            marks::keyboard_ring(&painter, self.at(&transform, i), t);
        }
        let place = answer.hovered.filter(|_| pointer.is_some());
        if let Some(i) = place {
            self.tip(ui, t, i, egui::PopupAnchor::Pointer);
        } else if let Some(i) = at {
            let at = self.at(&transform, i);
            if frame.contains(at) {
                self.tip(ui, t, i, egui::PopupAnchor::Position(at));
            }
        }
        keyboard.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::GraphicsDocument, ui.is_enabled(), self.said(state));
            info.current_text_value = at.map(|i| {
                let standing = &self.choice.standings[i];
                format!(
                    "Ear {}: {}. {}",
                    self.names.ear(standing.ear, standing.number),
                    standing.stand,
                    self.figures(i, standing)
                )
            });
            info
        });
        answer
    }

    /// What the plot shows, with what changes from frame to frame.
    fn said(&self, state: &PlotState) -> String {
        let mut said = self.text.to_owned();
        if !self.chosen.is_empty() {
            said = format!("{said} {} chosen.", self.chosen.len());
        }
        if state.unlabelled > 0 {
            said = format!(
                "{said} {} of them have no room for their number.",
                state.unlabelled
            );
        }
        said
    }

    /// The lines on the axes.
    fn handles(&self) -> impl Iterator<Item = Handle> + use<> {
        let on = |side: usize| {
            let axis = self.field.axes[side].axis;
            Line::on(axis, self.project, self.cutoffs)
                .into_iter()
                .map(move |line| Handle {
                    line,
                    is_upright: side == 0,
                })
        };
        on(1).chain(on(0)).collect::<Vec<_>>().into_iter()
    }

    fn plot(
        &self,
        ui: &mut Ui,
        t: &'a Tokens,
        tool: Tool,
        state: &mut PlotState,
    ) -> egui_plot::PlotResponse<()> {
        let [left, right, bottom, top] = self.field.bounds();
        let inner = ui.available_rect_before_wrap();
        let [across, up] = self.field.axes;
        let y_title = if inner.height() < LOW {
            up.axis.short_label(self.project)
        } else {
            up.axis.label(self.project)
        };
        let axis = |hints: AxisHints<'a>, room: AxisRoom| {
            let strip = room.strip.map(|strip| strip[1]);
            // Only the strips have marks outside of what can be measured.
            let number = move |mark: GridMark, _: &std::ops::RangeInclusive<f64>| {
                if Some(mark.value) == strip {
                    "none".to_owned()
                } else {
                    ((mark.value * 1e9).round() / 1e9 + 0.0).to_string()
                }
            };
            hints
                .formatter(number)
                .tick_label_color(t.quiet)
                .tick_label_font(t.small_font())
                .label_spacing(14.0..=15.0)
        };
        let (x_steps, y_steps) = (self.steps(&across), self.steps(&up));
        let (x_room, y_room) = (
            if across.axis.is_whole(self.project) {
                34.0
            } else {
                44.0
            },
            30.0,
        );
        let x_title = across.axis.label(self.project);
        let mut plot = Plot::new(("selection", self.choice.season, across.axis, up.axis))
            .custom_x_axes(vec![axis(AxisHints::new_x().label(x_title), across)])
            .custom_y_axes(vec![axis(AxisHints::new_y().label(y_title), up)])
            .x_grid_spacer(move |input| {
                ticks(
                    &input,
                    &x_steps,
                    x_room,
                    numbered(&across),
                    across.strip.map(|s| s[1]),
                )
            })
            .y_grid_spacer(move |input| {
                ticks(&input, &y_steps, y_room, numbered(&up), up.strip.map(|s| s[1]))
            })
            .grid_color(t.line)
            .default_x_bounds(left, right)
            .default_y_bounds(bottom, top)
            .allow_boxed_zoom(false)
            .allow_scroll(false)
            .allow_axis_zoom_drag(false)
            .allow_double_click_reset(false)
            .allow_drag(tool == Tool::Pan)
            .show_x(false)
            .show_y(false)
            .sense(Sense::CLICK | Sense::DRAG);
        if std::mem::take(&mut state.reset) {
            plot = plot.reset();
        }
        plot.show(ui, |plot| {
            if let Some([left, right, bottom, top]) = state.go_to.take() {
                plot.set_plot_bounds(PlotBounds::from_min_max([left, bottom], [right, top]));
            }
            for (name, area, fill) in self.areas(t, bottom) {
                plot.polygon(
                    Polygon::new(name, PlotPoints::Owned(corners(area)))
                        .fill_color(fill)
                        .stroke(Stroke::NONE)
                        .allow_hover(false),
                );
            }
            state.ranges = self.all_ranges(plot, t);
            self.marks(plot, t, inner.width());
        })
    }

    /// The marks of all ears.
    fn marks(&self, plot: &mut PlotUi<'a>, t: &Tokens, width: f32) {
        // Larger marks in a larger plot, smaller ones in a crowd.
        let size = if self.field.spots.len() > 2000 {
            0.7
        } else {
            (width / 640.0).clamp(1.0, 1.35)
        };
        for alike in &self.groups.0 {
            let (shape, radius, filled) = marks::form(alike.stand);
            let strength = if self.shown[stand_index(alike.stand)] {
                1.0
            } else {
                marks::FADED
            };
            plot.points(
                Points::new(alike.stand.name(), PlotPoints::Borrowed(&alike.points))
                    .shape(shape)
                    .radius(radius * size)
                    .filled(filled)
                    .color(alike.colour(t).gamma_multiply(strength))
                    .allow_hover(false),
            );
        }
    }

    /// Steps that the numbers of an axis may take.
    fn steps(&self, room: &AxisRoom) -> Vec<f64> {
        if room.axis.germination().is_some() {
            return vec![5.0, 10.0, 20.0, 50.0];
        }
        let least = if room.axis.is_whole(self.project) {
            1.0
        } else {
            0.0
        };
        let first = nice((room.span[1] - room.span[0]) / 1000.0);
        let steps = std::iter::successors(Some(first), |step| Some(nice(1.01 * step)));
        steps.filter(|step| *step >= least).take(16).collect()
    }

    /// Areas behind the marks: strips for what has no figure, and the bands where kernels cannot tell.
    fn areas(&self, t: &Tokens, bottom: f64) -> Vec<(&'static str, [f64; 4], Color32)> {
        let [across, up] = self.field.axes;
        let far = |room: &AxisRoom| 100.0 * (room.shown[1] - room.shown[0]);
        let (least, most) = (
            [across, up].map(|room| room.shown[0] - far(&room)),
            [across, up].map(|room| room.shown[1] + far(&room)),
        );
        let right = across.strip.map_or(most[0], |strip| strip[0]);
        let low = up.strip.map_or(least[1], |strip| strip[2]);
        let mut areas = Vec::new();
        if let Some(band) = self.bands[1] {
            areas.push(("band", [least[0], right, band.low, band.high], band_fill(t)));
        }
        if let Some(band) = self.bands[0] {
            areas.push(("band across", [band.low, band.high, low, most[1]], band_fill(t)));
        }
        if let Some([low, _, high]) = up.strip {
            areas.push(("none up", [least[0], most[0], low, high], t.panel));
        }
        if let Some([left, _, right]) = across.strip {
            let low = up.strip.map_or(bottom, |strip| strip[2]);
            areas.push(("none across", [left, right, low, most[1]], t.panel));
        }
        areas
    }

    pub(super) fn hit(&self, transform: &PlotTransform, at: Pos2) -> Option<usize> {
        if !transform.frame().contains(at) {
            return None;
        }
        let value = transform.value_from_position(at);
        let [x, y] = transform.dpos_dvalue();
        let reach = f64::from(REACH);
        self.field
            .nearest([value.x, value.y], [x.abs() / reach, y.abs() / reach])
    }

    pub(super) fn at(&self, transform: &PlotTransform, i: usize) -> Pos2 {
        let [x, y] = self.field.spots[i];
        transform.position_from_point(&PlotPoint::new(x, y))
    }

    pub(super) fn is_shown(&self, i: usize) -> bool {
        self.shown[stand_index(self.choice.standings[i].stand)]
    }

    /// The distributions of both axes above the plot and beside it: all ears, and the kept in colour.
    fn distributions(&self, ui: &Ui, t: &Tokens, transform: &PlotTransform, outer: Rect) {
        let frame = transform.frame();
        let most = |bars: &[Bar]| bars.iter().map(|bar| bar.ears[0]).max().unwrap_or(0).max(1) as f32;
        let colours = [t.line, t.mark_one];
        let [across, up] = &self.edges.0;
        let half = [0, 1].map(|side| 0.42 * self.field.axes[side].bar);
        let above = Rect::from_min_max(pos2(frame.left(), outer.top()), frame.right_top());
        let painter = ui.painter().with_clip_rect(above);
        let scale = (ABOVE - 6.0) / most(across);
        for bar in across {
            let left = transform.position_from_point_x(bar.at - half[0]);
            let right = transform.position_from_point_x(bar.at + half[0]);
            for (count, colour) in bar.ears.iter().zip(colours) {
                let top = frame.top() - *count as f32 * scale;
                let bar = Rect::from_min_max(pos2(left, top), pos2(right, frame.top()));
                painter.rect_filled(bar, 0.0, colour);
            }
        }
        let beside = Rect::from_min_max(frame.right_top(), pos2(outer.right(), frame.bottom()));
        let painter = ui.painter().with_clip_rect(beside);
        let scale = (BESIDE - 6.0) / most(up);
        for bar in up {
            let top = transform.position_from_point_y(bar.at + half[1]);
            let bottom = transform.position_from_point_y(bar.at - half[1]);
            for (count, colour) in bar.ears.iter().zip(colours) {
                let right = frame.right() + *count as f32 * scale;
                let bar = Rect::from_min_max(pos2(frame.right(), top), pos2(right, bottom));
                painter.rect_filled(bar, 0.0, colour);
            }
        }
    }

    fn tip(&self, ui: &Ui, t: &Tokens, i: usize, anchor: egui::PopupAnchor) {
        let standing = &self.choice.standings[i];
        let id = Id::unique("selection tip");
        egui::Tooltip::always_open(ui.ctx().clone(), ui.layer_id(), id, anchor)
            .gap(16.0)
            .show(|ui| {
                ui.set_max_width(340.0);
                ui.label(
                    egui::RichText::new(format!(
                        "Ear {}: {}",
                        self.names.ear(standing.ear, standing.number),
                        standing.stand
                    ))
                    .font(t.strong_font()),
                );
                ui.label(self.figures(i, standing));
                if let Some(word) = self.words.get(&standing.ear) {
                    let reason = if self.names.are_hidden() {
                        "the reason is hidden"
                    } else {
                        &word.reason
                    };
                    ui.label(format!("{}: {reason}", word.kind.name()));
                }
            });
    }

    /// The figures of an ear in a sentence or two, those of the axes and its group among them.
    fn figures(&self, i: usize, standing: &Standing) -> String {
        let mut text = figures(standing);
        for (side, room) in self.field.axes.iter().enumerate() {
            if matches!(room.axis, Axis::MaturityDays | Axis::Germination(_)) {
                continue;
            }
            let name = room.axis.name(self.project);
            text = match self.field.values[i][side] {
                Some(value) => format!("{text} {name}: {}.", room.axis.text(self.project, value)),
                None => format!("{text} {name}: not known."),
            };
        }
        if let Some(grouped) = self.grouped {
            let name = &grouped.groups[grouped.of[i]].name;
            text = format!("{text} {}.", crate::model::sentence(name).trim_end_matches('.'));
        }
        text
    }
}

/// Where an axis has numbers.
fn numbered(room: &AxisRoom) -> [f64; 2] {
    match room.axis {
        Axis::Germination(_) => [0.0, 100.0],
        _ => room.measured(),
    }
}

/// The figures of an ear in a sentence or two.
pub fn figures(standing: &Standing) -> String {
    let days = standing.maturity_days.map_or_else(
        || "no maturity days".to_owned(),
        |days| format!("{days} maturity days"),
    );
    match &standing.estimate {
        Some(estimate) => format!("{}; {days}.", estimate.sentence()),
        None => format!("Not scored; {days}."),
    }
}

/// The colour of the band where kernels cannot tell.
pub fn band_fill(t: &Tokens) -> Color32 {
    t.mark_two.gamma_multiply(0.13)
}

/// Marks of an axis: multiples of the first step that leaves room for their numbers, and that of a strip.
pub(super) fn ticks(
    input: &egui_plot::GridInput,
    steps: &[f64],
    room: f64,
    within: [f64; 2],
    strip: Option<f64>,
) -> Vec<GridMark> {
    // The base step is 8 points long.
    let point = input.base_step_size / 8.0;
    let step = steps
        .iter()
        .copied()
        .find(|step| step / point >= room)
        .or(steps.last().copied())
        .unwrap_or(100.0);
    let first = (input.bounds.0.max(within[0]) / step).ceil() as i64;
    let last = (input.bounds.1.min(within[1]) / step).floor() as i64;
    (first..=last.min(first + 500))
        .map(|i| GridMark {
            value: i as f64 * step,
            step_size: step,
        })
        .chain(strip.map(|value| GridMark {
            value,
            step_size: 100.0,
        }))
        .collect()
}

fn corners([left, right, bottom, top]: [f64; 4]) -> Vec<PlotPoint> {
    vec![
        PlotPoint::new(left, bottom),
        PlotPoint::new(right, bottom),
        PlotPoint::new(right, top),
        PlotPoint::new(left, top),
    ]
}
