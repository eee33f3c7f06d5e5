//! The plot: ears by maturity and cold germination, with the two cutoff lines. All use of egui_plot is in here.

use super::lines::{Line, LineEvent};
use super::marks::{self, Groups};
use super::names::Names;
use crate::insight::{Band, Choice, Edges, Field, Standing, Vertical, place_of, stand_index};
use crate::model::{Cutoffs, EarId, Stand, Word};
use crate::ui::tokens::Tokens;
use egui::{Color32, Id, Key, Pos2, Rect, Response, Sense, Stroke, StrokeKind, Ui, pos2, vec2};
use egui_plot::{AxisHints, GridMark, Plot, PlotPoint, PlotPoints, PlotTransform, Points, Polygon};
use std::collections::BTreeMap;

/// Room above the plot for the distribution of maturity days and the handle of its cutoff.
const ABOVE: f32 = 44.0;
/// Room beside the plot for the distribution of percents and the handle of its cutoff.
const BESIDE: f32 = 66.0;
/// How far from a mark the pointer still means it, in points.
const REACH: f32 = 11.0;
/// Below this height the vertical axis has a short title, in points.
const LOW: f32 = 300.0;
/// Radius of a ring around a mark, in points.
const RING: f32 = 8.0;
/// Of how many chosen ears the intervals are drawn; more would be a thicket.
const MOST_INTERVALS: usize = 24;

/// What a drag on the plot does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tool {
    /// It moves the view.
    #[default]
    Pan,
    /// It chooses ears by a rectangle.
    Rectangle,
}

/// What the plot remembers between frames.
#[derive(Debug, Default)]
pub struct PlotState {
    /// The cutoffs while a line is dragged.
    pub preview: Option<Cutoffs>,
    /// What a drag does.
    pub tool: Tool,
    /// Where a rectangle was begun, in days and percent.
    pub rectangle_from: Option<[f64; 2]>,
    /// The line that is dragged.
    pub dragged: Option<Line>,
    /// The line that has the keyboard.
    pub focused: Option<Line>,
    /// Left, right, bottom and top of what was shown last, in days and percent.
    pub view: Option<[f64; 4]>,
    /// Whether the view is not the one it began with.
    pub is_moved: bool,
    /// Show everything again.
    pub reset: bool,
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
    /// A rectangle was drawn around these.
    pub enclosed: Option<Vec<usize>>,
    /// What the lines ask for.
    pub lines: Vec<LineEvent>,
}

/// Everything that the plot shows.
pub struct Scatter<'a> {
    /// The standings of the ears.
    pub choice: &'a Choice,
    /// Their places.
    pub field: &'a Field,
    /// Their places by stand.
    pub groups: &'a Groups,
    /// Their distributions.
    pub edges: &'a Edges,
    /// What stands on the vertical axis.
    pub vertical: Vertical,
    /// The cutoffs that are set.
    pub cutoffs: &'a Cutoffs,
    /// Where kernels cannot tell.
    pub band: Option<Band>,
    /// The names of the ears.
    pub names: &'a Names,
    /// The words given.
    pub words: &'a BTreeMap<EarId, Word>,
    /// The chosen ears.
    pub chosen: &'a [EarId],
    /// An ear under the pointer in the table.
    pub hovered: Option<usize>,
    /// Which stands are shown in full, in the order of [`Stand::ALL`].
    pub shown: [bool; 4],
    /// Whether the lines can be moved.
    pub can_change: bool,
}

impl<'a> Scatter<'a> {
    /// Draws the plot in all the room that is left.
    pub fn show(&self, ui: &mut Ui, state: &mut PlotState) -> PlotAnswer {
        let t = Tokens::of(ui);
        let outer = ui.available_rect_before_wrap();
        ui.advance_cursor_after_rect(outer);
        let inner = Rect::from_min_max(outer.min + vec2(0.0, ABOVE), outer.max - vec2(BESIDE, 0.0));
        let is_drawing = state.rectangle_from.is_some() || ui.input(|i| i.modifiers.shift);
        let tool = if is_drawing { Tool::Rectangle } else { state.tool };
        let pointer = ui.input(|i| i.pointer.latest_pos());
        let response = ui
            .scope_builder(egui::UiBuilder::new().max_rect(inner), |ui| {
                self.plot(ui, t, tool, state.reset)
            })
            .inner;
        state.reset = false;
        let transform = response.transform;
        let plot = response.response;
        let frame = *transform.frame();
        let first = self.field.bounds();
        let bounds = transform.bounds();
        let now = [bounds.min()[0], bounds.max()[0], bounds.min()[1], bounds.max()[1]];
        state.view = Some(now);
        state.is_moved = now.iter().zip(first).any(|(a, b)| (a - b).abs() > 1e-6);

        let mut answer = PlotAnswer::default();
        self.rectangle(ui, t, state, &plot, &transform, tool, &mut answer);

        let painter = ui.painter().with_clip_rect(frame);
        self.distributions(ui, t, &transform, outer);

        let on_plot =
            ui.rect_contains_pointer(frame) && state.preview.is_none() && state.rectangle_from.is_none();
        answer.hovered = pointer
            .filter(|_| on_plot)
            .and_then(|at| self.hit(&transform, at));
        let hovered = answer.hovered.or(self.hovered);
        self.rings(&painter, t, &transform, hovered);

        let mut clicked = plot.clicked().then_some(()).and(plot.interact_pointer_pos());
        let mut opened = plot.double_clicked();
        for line in Line::BOTH {
            let handle = self.line(ui, t, state, line, &transform, outer, &mut answer.lines);
            // A mark under a line can be clicked all the same.
            if handle.clicked() {
                clicked = handle
                    .interact_pointer_pos()
                    .filter(|at| self.hit(&transform, *at).is_some());
                opened |= handle.double_clicked();
            }
        }
        answer.clicked = clicked.map(|at| self.hit(&transform, at).map_or(Click::Beside, Click::Ear));
        if let (true, Some(Click::Ear(ear))) = (opened, answer.clicked) {
            answer.opened = Some(ear);
        }
        if let (Some(i), Some(_)) = (answer.hovered, pointer) {
            self.tip(ui, t, i);
        }
        answer
    }

    fn plot(&self, ui: &mut Ui, t: &'a Tokens, tool: Tool, reset: bool) -> egui_plot::PlotResponse<()> {
        let [left, right, bottom, top] = self.field.bounds();
        let last_day = self.field.days[1];
        let inner = ui.available_rect_before_wrap();
        let is_low = inner.height() < LOW;
        let y_title = match self.vertical {
            Vertical::Observed if is_low => "Counted, %",
            Vertical::Likely if is_low => "Likely, %",
            Vertical::Observed => "Cold germination as counted, %",
            Vertical::Likely => "Cold germination, likely, %",
        };
        let side = self.field.side_strip.map(|strip| strip[1]);
        let below = self.field.bottom_strip.map(|strip| strip[1]);
        // Only the strips have marks outside of what can be measured.
        let number = move |mark: GridMark, _: &std::ops::RangeInclusive<f64>| {
            if Some(mark.value) == side || Some(mark.value) == below {
                "none".to_owned()
            } else {
                mark.value.to_string()
            }
        };
        let axis = |hints: AxisHints<'a>| {
            hints
                .formatter(number)
                .tick_label_color(t.quiet)
                .tick_label_font(t.small_font())
                .label_spacing(14.0..=15.0)
        };
        let mut plot = Plot::new(("selection", self.choice.season, self.vertical == Vertical::Likely))
            .custom_x_axes(vec![axis(AxisHints::new_x().label("Maturity days"))])
            .custom_y_axes(vec![axis(AxisHints::new_y().label(y_title))])
            .x_grid_spacer(move |input| {
                let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
                ticks(&input, &steps, 34.0, [0.0, last_day + 0.5], side)
            })
            .y_grid_spacer(move |input| ticks(&input, &[5.0, 10.0, 20.0, 50.0], 30.0, [0.0, 100.0], below))
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
        if reset {
            plot = plot.reset();
        }
        plot.show(ui, |plot| {
            for (name, area, fill) in self.areas(t, bottom) {
                plot.polygon(
                    Polygon::new(name, PlotPoints::Owned(corners(area)))
                        .fill_color(fill)
                        .stroke(Stroke::NONE)
                        .allow_hover(false),
                );
            }
            // Larger marks in a larger plot, smaller ones in a crowd.
            let size = if self.field.spots.len() > 2000 {
                0.7
            } else {
                (inner.width() / 640.0).clamp(1.0, 1.35)
            };
            for stand in [Stand::NotScored, Stand::LeaveOut, Stand::Retest, Stand::Plant] {
                let i = stand_index(stand);
                let (shape, radius, filled) = marks::form(stand);
                let strength = if self.shown[i] { 1.0 } else { 0.18 };
                plot.points(
                    Points::new(stand.name(), PlotPoints::Borrowed(&self.groups.0[i]))
                        .shape(shape)
                        .radius(radius * size)
                        .filled(filled)
                        .color(t.marks()[i].gamma_multiply(strength))
                        .allow_hover(false),
                );
            }
        })
    }

    /// Areas behind the marks: strips for what has no figure, and the band where kernels cannot tell.
    fn areas(&self, t: &Tokens, bottom: f64) -> Vec<(&'static str, [f64; 4], Color32)> {
        let far = 10_000.0;
        let mut areas = Vec::new();
        if let Some(band) = self.band {
            let right = self.field.side_strip.map_or(far, |strip| strip[0]);
            areas.push(("band", [-far, right, band.low, band.high], band_fill(t)));
        }
        if let Some([low, _, high]) = self.field.bottom_strip {
            areas.push(("not scored", [-far, far, low, high], t.panel));
        }
        if let Some([left, _, right]) = self.field.side_strip {
            let low = self.field.bottom_strip.map_or(bottom, |strip| strip[2]);
            areas.push(("no maturity days", [left, right, low, far], t.panel));
        }
        areas
    }

    fn hit(&self, transform: &PlotTransform, at: Pos2) -> Option<usize> {
        if !transform.frame().contains(at) {
            return None;
        }
        let value = transform.value_from_position(at);
        let [x, y] = transform.dpos_dvalue();
        let reach = f64::from(REACH);
        self.field
            .nearest([value.x, value.y], [x.abs() / reach, y.abs() / reach])
    }

    fn at(&self, transform: &PlotTransform, i: usize) -> Pos2 {
        let [x, y] = self.field.spots[i];
        transform.position_from_point(&PlotPoint::new(x, y))
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "one step of drawing, split off for its length"
    )]
    fn rectangle(
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
        if plot.drag_started() && tool == Tool::Rectangle {
            state.rectangle_from = ui.input(|i| i.pointer.press_origin()).map(value);
        }
        let (Some(from), Some(to)) = (state.rectangle_from, ui.input(|i| i.pointer.latest_pos())) else {
            return;
        };
        let to = value(to);
        if plot.drag_stopped() {
            answer.enclosed = Some(
                self.field
                    .inside(from, to)
                    .filter(|i| self.is_shown(*i))
                    .collect(),
            );
            state.rectangle_from = None;
        } else if !plot.dragged() || ui.input(|i| i.key_pressed(Key::Escape)) {
            state.rectangle_from = None;
        } else {
            let rect =
                transform.rect_from_values(&PlotPoint::new(from[0], from[1]), &PlotPoint::new(to[0], to[1]));
            let painter = ui.painter().with_clip_rect(*transform.frame());
            painter.rect(
                rect,
                0.0,
                t.accent.gamma_multiply(0.12),
                Stroke::new(1.5, t.accent),
                StrokeKind::Middle,
            );
        }
    }

    fn is_shown(&self, i: usize) -> bool {
        self.shown[stand_index(self.choice.standings[i].stand)]
    }

    /// The distributions of days above the plot and of percents beside it: all ears, and the kept in colour.
    fn distributions(&self, ui: &Ui, t: &Tokens, transform: &PlotTransform, outer: Rect) {
        let frame = transform.frame();
        let most = |bins: &[[u32; 2]]| bins.iter().map(|bin| bin[0]).max().unwrap_or(0).max(1) as f32;
        let colours = [t.line, t.mark_one];
        let above = Rect::from_min_max(pos2(frame.left(), outer.top()), frame.right_top());
        let painter = ui.painter().with_clip_rect(above);
        let scale = (ABOVE - 6.0) / most(&self.edges.days);
        for (i, bin) in self.edges.days.iter().enumerate() {
            let day = self.field.days[0] + i as f64;
            let (left, right) = (
                transform.position_from_point_x(day - 0.42),
                transform.position_from_point_x(day + 0.42),
            );
            for (count, colour) in bin.iter().zip(colours) {
                let top = frame.top() - *count as f32 * scale;
                painter.rect_filled(
                    Rect::from_min_max(pos2(left, top), pos2(right, frame.top())),
                    0.0,
                    colour,
                );
            }
        }
        let beside = Rect::from_min_max(frame.right_top(), pos2(outer.right(), frame.bottom()));
        let painter = ui.painter().with_clip_rect(beside);
        let scale = (BESIDE - 6.0) / most(&self.edges.percents);
        for (i, bin) in self.edges.percents.iter().enumerate() {
            let percent = 5.0 * i as f64;
            let (top, bottom) = (
                transform.position_from_point_y(percent + 2.1),
                transform.position_from_point_y(percent - 2.1),
            );
            for (count, colour) in bin.iter().zip(colours) {
                let right = frame.right() + *count as f32 * scale;
                painter.rect_filled(
                    Rect::from_min_max(pos2(frame.right(), top), pos2(right, bottom)),
                    0.0,
                    colour,
                );
            }
        }
    }

    /// Rings of words, of the chosen and of the hovered ear, and the intervals of the latter two.
    fn rings(&self, painter: &egui::Painter, t: &Tokens, transform: &PlotTransform, hovered: Option<usize>) {
        for (ear, word) in self.words {
            if let Some(i) = place_of(self.choice, *ear) {
                marks::word_ring(painter, self.at(transform, i), word.kind, t.text);
            }
        }
        for (nth, ear) in self.chosen.iter().rev().enumerate() {
            let Some(i) = place_of(self.choice, *ear) else {
                continue;
            };
            let at = self.at(transform, i);
            if nth < MOST_INTERVALS {
                self.interval(painter, transform, i, Stroke::new(2.0, t.accent));
            }
            painter.circle_stroke(at, RING, Stroke::new(2.5, t.accent));
        }
        if let Some(i) = hovered {
            self.interval(painter, transform, i, Stroke::new(1.5, t.text));
            painter.circle_stroke(self.at(transform, i), RING, Stroke::new(1.5, t.text));
        }
    }

    fn interval(&self, painter: &egui::Painter, transform: &PlotTransform, i: usize, stroke: Stroke) {
        let Some(estimate) = &self.choice.standings[i].estimate else {
            return;
        };
        let range = match self.vertical {
            Vertical::Observed => estimate.observed_95,
            Vertical::Likely => estimate.likely_90,
        };
        let x = self.at(transform, i).x;
        let (high, low) = (
            transform.position_from_point_y(range.high),
            transform.position_from_point_y(range.low),
        );
        painter.line_segment([pos2(x, high), pos2(x, low)], stroke);
        for y in [high, low] {
            painter.line_segment([pos2(x - 5.0, y), pos2(x + 5.0, y)], stroke);
        }
    }

    fn tip(&self, ui: &Ui, t: &Tokens, i: usize) {
        let standing = &self.choice.standings[i];
        let id = Id::unique("selection tip");
        egui::Tooltip::always_open(ui.ctx().clone(), ui.layer_id(), id, egui::PopupAnchor::Pointer)
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
                ui.label(figures(standing));
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
