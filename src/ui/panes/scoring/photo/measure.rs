//! The picture of a cell, and a line on it that measures roots and shoots.

use super::{Scoring, keyboard, length_text};
use crate::insight::Reading;
use crate::model::{Cell, CellId, Fault, LengthUnit, Photo, PhotoId, sentence};
use crate::photo::{Point, RectMm, length_mm};
use crate::ui::context::{PaneCtx, Tone};
use crate::ui::photos::CellPicture;
use crate::ui::tokens::Tokens;
use egui::{
    Align2, Button, Color32, Event, EventFilter, Id, Key, Label, Modifiers, Painter, Pos2, Rect, RichText,
    Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};

/// How far an arrow key moves the cross, in millimetres; with Shift ten times as far.
const STEP_MM: f64 = 0.5;

/// The widget that has the keyboard while a line is drawn.
pub(super) fn picture() -> Id {
    Id::unique("scoring photo of the cell")
}

/// The line that is being drawn.
#[derive(Debug)]
pub(super) struct Line {
    /// The cell and the photograph on which it is drawn.
    on: Option<(CellId, PhotoId)>,
    points: Vec<Point>,
    /// Where the next point goes by key.
    cross: Point,
    /// Where it was when it was last brought into sight.
    brought: Option<Point>,
    /// Why no line can be taken here, if so.
    can_take: Result<(), String>,
    /// Whether it was taken, so that the next point begins a new one.
    is_taken: bool,
}

impl Default for Line {
    fn default() -> Self {
        Self {
            on: None,
            points: Vec::new(),
            cross: [0.0, 0.0],
            brought: None,
            can_take: Ok(()),
            is_taken: false,
        }
    }
}

impl Line {
    fn length(&self) -> Option<f64> {
        Some(length_mm(&self.points)).filter(|length| *length > 0.0)
    }

    fn add(&mut self, point: Point) {
        if std::mem::take(&mut self.is_taken) {
            self.points.clear();
        }
        self.points.push(point);
    }
}

/// What was measured in a cell, in millimetres.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Lengths {
    roots: Vec<f64>,
    shoots: Vec<f64>,
}

impl Lengths {
    /// Gives the median length of the roots.
    pub fn root(&self) -> Option<f64> {
        median(&self.roots)
    }

    /// Gives the median length of the shoots.
    pub fn shoot(&self) -> Option<f64> {
        median(&self.shoots)
    }

    fn text(&self, unit: LengthUnit) -> String {
        let one = |name: &str, lengths: &[f64]| {
            let median = median(lengths)?;
            let of = match lengths.len() {
                1 => String::new(),
                number => format!(", median of {number}"),
            };
            Some(format!("{name} {}{of}", length_text(median, unit)))
        };
        let parts = [one("root", &self.roots), one("shoot", &self.shoots)];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }
}

/// The middle value, or the mean of the two in the middle.
fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = sorted[(sorted.len() - 1) / 2];
    Some(f64::midpoint(lower, upper))
}

/// What a line is taken as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Root,
    Shoot,
}

/// Where a part of the tray lies on the screen.
struct View {
    rect: Rect,
    part: RectMm,
}

impl View {
    fn pos(&self, [x, y]: Point) -> Pos2 {
        let across = (x - self.part.left) / self.part.width;
        let down = (y - self.part.top) / self.part.height;
        self.rect.min + self.rect.size() * vec2(across as f32, down as f32)
    }

    fn mm(&self, pos: Pos2) -> Point {
        let at = (pos - self.rect.min) / self.rect.size();
        [
            self.part.left + f64::from(at.x) * self.part.width,
            self.part.top + f64::from(at.y) * self.part.height,
        ]
    }
}

/// Draws a line that shows on any ground.
pub(super) fn line(painter: &Painter, t: &Tokens, ends: [Pos2; 2], width: f32) {
    painter.line_segment(ends, Stroke::new(width + 2.0, t.page));
    painter.line_segment(ends, Stroke::new(width, t.accent));
}

impl Scoring {
    /// Draws the picture of a cell, with the line on it.
    pub(super) fn picture_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        (cell, reading, photo): (&Cell, Reading, &Photo),
        shown: &CellPicture,
        room: Vec2,
    ) {
        let t = Tokens::of(ui);
        let unit = ctx.document.project().about.units.length;
        let on = Some((cell.id, photo.id));
        if self.photo.line.on != on {
            let middle = |from: f64, length: f64| from + length / 2.0;
            self.photo.line = Line {
                on,
                cross: [
                    middle(shown.cell.left, shown.cell.width),
                    middle(shown.cell.top, shown.cell.height),
                ],
                ..Line::default()
            };
        }
        let size = shown.texture.size_vec2();
        let size = size * (room.x / size.x).min(room.y / size.y);
        let (space, _) = ui.allocate_exact_size(vec2(room.x, size.y), Sense::hover());
        let rect = Rect::from_center_size(space.center(), size);
        let response = ui.interact(rect, picture(), Sense::click());
        let view = View {
            rect,
            part: shown.part,
        };
        self.photo.line.can_take = match ctx.read_only {
            Some(why) => Err(sentence(why)),
            None if !cell.content.is_counted() => Err(sentence(&Fault::NothingToCount.to_string())),
            None => Ok(()),
        };
        if response.clicked() {
            response.request_focus();
            if let Some(pos) = response.interact_pointer_pos() {
                self.photo.line.add(view.mm(pos));
                self.photo.line.cross = view.mm(pos);
            }
        }
        if response.has_focus() {
            let filter = EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                escape: true,
                tab: false,
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(picture(), filter));
        }
        let cross = &mut self.photo.line.cross;
        cross[0] = cross[0].clamp(shown.part.left, shown.part.left + shown.part.width);
        cross[1] = cross[1].clamp(shown.part.top, shown.part.top + shown.part.height);
        if response.has_focus() && self.photo.line.brought != Some(self.photo.line.cross) {
            self.photo.line.brought = Some(self.photo.line.cross);
            let at = Rect::from_center_size(view.pos(self.photo.line.cross), Vec2::splat(60.0));
            ui.scroll_to_rect(at, None);
        }
        let hovered = response.hover_pos().map(|pos| view.mm(pos));
        self.paint_picture(ui, t, &view, shown, (response.has_focus(), hovered), unit);
        let text = match self.photo.line.length() {
            Some(length) => format!("line of {}", length_text(length, unit)),
            None => "no line".to_owned(),
        };
        let name = format!("Photo of {}", cell.name());
        response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::Image, true, &name);
            info.current_text_value = Some(text.clone());
            info
        });
        if self.photo.line.can_take.is_ok() {
            self.line_words(ui, (cell, reading), unit, response.has_focus());
        }
    }

    fn paint_picture(
        &self,
        ui: &Ui,
        t: &Tokens,
        view: &View,
        shown: &CellPicture,
        (has_focus, hovered): (bool, Option<Point>),
        unit: LengthUnit,
    ) {
        let painter = ui
            .painter()
            .with_clip_rect(view.rect.expand(3.0).intersect(ui.clip_rect()));
        let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        painter.image(shown.texture.id(), view.rect, uv, Color32::WHITE);
        let cell = shown.cell;
        let border = Rect::from_min_max(
            view.pos([cell.left, cell.top]),
            view.pos([cell.left + cell.width, cell.top + cell.height]),
        );
        painter.rect_stroke(border, 0.0, Stroke::new(3.0, t.page), StrokeKind::Middle);
        painter.rect_stroke(border, 0.0, Stroke::new(1.0, t.accent), StrokeKind::Middle);
        if has_focus {
            painter.rect_stroke(view.rect, 0.0, Stroke::new(3.0, t.accent), StrokeKind::Inside);
        }
        let points = &self.photo.line.points;
        for pair in points.windows(2) {
            line(&painter, t, [view.pos(pair[0]), view.pos(pair[1])], 2.0);
        }
        for point in points {
            let at = view.pos(*point);
            painter.circle(at, 4.0, t.accent, Stroke::new(1.5, t.page));
        }
        if has_focus {
            let at = view.pos(self.photo.line.cross);
            for arm in [vec2(11.0, 0.0), vec2(0.0, 11.0)] {
                line(&painter, t, [at - arm, at + arm], 1.0);
            }
        }
        // How long it would be with the next point.
        let ahead = hovered.filter(|_| !points.is_empty() && !self.photo.line.is_taken);
        if let (Some(ahead), Some(last)) = (ahead, points.last()) {
            let ends = [view.pos(*last), view.pos(ahead)];
            painter.line_segment(ends, Stroke::new(1.0, t.accent));
        }
        let Some(length) = self.photo.line.length() else {
            return;
        };
        let Some(end) = points.last() else { return };
        let text = painter.layout_no_wrap(length_text(length, unit), t.strong_font(), t.text);
        let at = Align2::LEFT_BOTTOM.anchor_size(view.pos(*end) + vec2(8.0, -8.0), text.size());
        let inside = view.rect.shrink(4.0);
        let shift = vec2(
            (inside.right() - at.right()).min(0.0) + (inside.left() - at.left()).max(0.0),
            (inside.top() - at.top()).max(0.0),
        );
        let at = at.translate(shift);
        painter.rect_filled(at.expand(4.0), 3.0, t.raised);
        painter.galley(at.min, text, t.text);
    }

    /// What can be done with the line, and what was measured.
    fn line_words(
        &mut self,
        ui: &mut Ui,
        (cell, reading): (&Cell, Reading),
        unit: LengthUnit,
        has_focus: bool,
    ) {
        let t = Tokens::of(ui);
        let length = self.photo.line.length().filter(|_| !self.photo.line.is_taken);
        let key = (cell.id, reading);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().button_padding.x = t.space.small;
            let small = |text: &str| RichText::new(text).font(t.small_font());
            for (part, name) in [(Part::Root, "Root (R)"), (Part::Shoot, "Shoot (S)")] {
                let button = ui.add_enabled(length.is_some(), Button::new(small(name)));
                let hint = "Takes the line as a length of this cell; of several lines the median is recorded";
                if button.on_hover_text(hint).on_disabled_hover_text(hint).clicked() {
                    self.take_line(key, part, unit);
                }
            }
            let measured = self.photo.lengths.get(&key).map(|lengths| lengths.text(unit));
            let has_measured = measured.is_some();
            let text = match measured {
                Some(measured) => format!("To be recorded: {measured}."),
                None if has_focus => {
                    "Arrows move, Enter sets a point, Backspace takes it back, Esc ends.".to_owned()
                }
                None => "Click along a root or shoot to measure it (L).".to_owned(),
            };
            ui.add(Label::new(small(&text).color(t.quiet)).wrap());
            if has_measured && ui.button(small("Forget (X)")).clicked() {
                self.photo.lengths.remove(&key);
            }
        });
    }

    fn take_line(&mut self, key: (CellId, Reading), part: Part, unit: LengthUnit) {
        if let Err(why) = &self.photo.line.can_take {
            self.message = Some((Tone::Warning, why.clone()));
            return;
        }
        let line = &mut self.photo.line;
        let Some(length) = line.length().filter(|_| !line.is_taken) else {
            let text =
                "There is no line yet. Set its two ends with clicks, or with the arrow keys and Enter.";
            self.message = Some((Tone::Warning, text.to_owned()));
            return;
        };
        line.is_taken = true;
        let lengths = self.photo.lengths.entry(key).or_default();
        match part {
            Part::Root => lengths.roots.push(length),
            Part::Shoot => lengths.shoots.push(length),
        }
        let text = format!("Measured: {}. It is recorded with the count.", lengths.text(unit));
        self.message = Some((Tone::Well, text));
    }

    /// Takes the keys while a line is drawn. Any other key goes back to counting.
    pub(in crate::ui::panes::scoring) fn measure_keys(
        &mut self,
        ui: &Ui,
        ctx: &PaneCtx<'_>,
        reading: Reading,
    ) {
        if !ui.memory(|m| m.has_focus(picture())) {
            return;
        }
        let Some((cell, _)) = self.photo.line.on.filter(|(cell, _)| self.cell == Some(*cell)) else {
            return;
        };
        let unit = ctx.document.project().about.units.length;
        let key = (cell, reading);
        let mut back = false;
        let events = ui.input_mut(|i| std::mem::take(&mut i.events));
        let mut rest = Vec::new();
        for event in events {
            let (pressed, is_shifted) = match &event {
                Event::Key {
                    key,
                    pressed: true,
                    modifiers,
                    ..
                } if !modifiers.any() || *modifiers == Modifiers::SHIFT => (*key, modifiers.shift),
                // The text of a key that was taken.
                Event::Text(text)
                    if matches!(text.as_str(), "r" | "R" | "s" | "S" | "x" | "X" | "l" | "L" | " ") =>
                {
                    continue;
                }
                Event::Text(_) => {
                    back = true;
                    rest.push(event);
                    continue;
                }
                _ => {
                    rest.push(event);
                    continue;
                }
            };
            let step = if is_shifted { 10.0 * STEP_MM } else { STEP_MM };
            let line = &mut self.photo.line;
            match pressed {
                Key::ArrowLeft => line.cross[0] -= step,
                Key::ArrowRight => line.cross[0] += step,
                Key::ArrowUp => line.cross[1] -= step,
                Key::ArrowDown => line.cross[1] += step,
                Key::Enter | Key::Space => line.add(line.cross),
                Key::Backspace => {
                    line.is_taken = false;
                    line.points.pop();
                }
                Key::R => self.take_line(key, Part::Root, unit),
                Key::S => self.take_line(key, Part::Shoot, unit),
                Key::X | Key::Delete => {
                    line.points.clear();
                    self.photo.lengths.remove(&key);
                }
                Key::Escape | Key::L => back = true,
                Key::PageUp | Key::PageDown => {
                    back = true;
                    rest.push(event);
                }
                _ => rest.push(event),
            }
        }
        ui.input_mut(|i| i.events = rest);
        if back {
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_several_lines_the_median_counts() {
        let mut lengths = Lengths::default();
        assert_eq!((lengths.root(), lengths.shoot()), (None, None));
        lengths.roots = vec![30.0, 10.0, 23.0];
        assert_eq!(lengths.root(), Some(23.0));
        lengths.roots.push(25.0);
        assert_eq!(lengths.root(), Some(24.0));
        lengths.shoots = vec![25.4];
        assert_eq!(
            lengths.text(LengthUnit::Centimetres),
            "root 24.0 mm, median of 4; shoot 25.4 mm"
        );
        assert_eq!(
            lengths.text(LengthUnit::Inches),
            "root 0.94 in, median of 4; shoot 1.00 in"
        );
    }

    #[test]
    fn a_line_begins_anew_after_it_was_taken() {
        let mut line = Line::default();
        assert_eq!(line.length(), None);
        line.add([0.0, 0.0]);
        assert_eq!(line.length(), None);
        line.add([3.0, 4.0]);
        line.add([3.0, 10.0]);
        assert_eq!(line.length(), Some(11.0));
        line.is_taken = true;
        line.add([1.0, 1.0]);
        assert_eq!(line.points, [[1.0, 1.0]]);
    }
}
