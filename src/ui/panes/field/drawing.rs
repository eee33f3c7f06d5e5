//! A field drawn to scale: blocks of rows, border rows, the way that is walked.

use crate::insight::{FieldLine, FieldView};
use crate::model::{EarId, FieldContent, FieldRowId, FieldShape, plural};
use crate::ui::tokens::Tokens;
use egui::epaint::TextShape;
use egui::{
    Align2, EventFilter, Id, Key, Modifiers, Painter, Pos2, Rect, Role, ScrollArea, Sense, Shape, Stroke,
    StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};
use std::f32::consts::FRAC_PI_2;

/// Least width of a row on screen, in points, at which its numbers can be read.
const LEAST_ROW: f32 = 19.0;
/// Width of a row on screen, in points, at which its numbers are read easily.
const EASY_ROW: f32 = 30.0;
/// Most width of a row on screen, in points.
const MOST_ROW: f32 = 60.0;
/// Least length of a row on screen, in points.
const LEAST_LENGTH: f32 = 92.0;
/// Room around the field.
const AROUND: f32 = 16.0;

/// How a field is drawn now.
pub(super) struct Drawn<'a> {
    pub id: Id,
    /// The row under the cursor, by its place in walking order.
    pub cursor: usize,
    /// The row that waits for another one.
    pub picked: Option<FieldRowId>,
    pub chosen: &'a [EarId],
    /// Height of the part of the field that is in sight.
    pub height: f32,
    /// Whether the cursor is to be brought into sight.
    pub reveal: bool,
}

/// What was asked for.
#[derive(Debug, Default)]
pub(super) struct Asked {
    pub cursor: Option<usize>,
    /// The row under the cursor is to be picked, or swapped with the picked one.
    pub picks: bool,
    /// The picked row is to be left.
    pub leaves: bool,
    /// Two rows that change places, by their place in walking order.
    pub swap: Option<(usize, usize)>,
}

/// Where everything lies on screen.
struct Scale {
    corner: Pos2,
    row: f32,
    length: f32,
    end: f32,
    path: f32,
    borders: f32,
}

impl Scale {
    fn block_top(&self, block: u16) -> f32 {
        self.corner.y + f32::from(block - 1) * (self.length + 2.0 * self.end + self.path)
    }

    /// A row without the border plants at its ends.
    fn row(&self, block: u16, across: u16) -> Rect {
        let x = self.corner.x + (self.borders + f32::from(across - 1)) * self.row;
        let top = self.block_top(block) + self.end;
        Rect::from_min_size(pos2(x, top), vec2(self.row, self.length))
    }
}

/// Draws the field and takes what is done with it. Both directions have one scale, so large that the numbers of the
/// rows can be read; what does not fit is scrolled.
pub(super) fn show(ui: &mut Ui, shape: &FieldShape, view: &FieldView, drawn: &Drawn<'_>) -> Asked {
    let mut asked = Asked::default();
    let has_focus = ui.memory(|m| m.has_focus(drawn.id));
    if has_focus {
        keys(ui, view, drawn, &mut asked);
    }
    let room = vec2(ui.available_width() - 2.0 * AROUND, drawn.height - 2.0 * AROUND);
    let (row, long) = (shape.row_spacing_mm as f32, shape.row_length_mm as f32);
    let (across, along) = (room.x / view.width_mm as f32, room.y / view.length_mm as f32);
    let least = (LEAST_ROW / row).max(LEAST_LENGTH / long);
    // The whole field where its numbers can then be read; else as wide as the room.
    let of_mm = if across.min(along) >= least {
        across.min(along).min(MOST_ROW / row)
    } else {
        across.min(EASY_ROW / row).max(least)
    };
    let size = vec2(view.width_mm as f32, view.length_mm as f32) * of_mm + Vec2::splat(2.0 * AROUND);
    ScrollArea::both()
        .id_salt("field drawing")
        .auto_shrink(false)
        .max_height(drawn.height)
        .show_viewport(ui, |ui, viewport| {
            let rect = Rect::from_min_size(ui.min_rect().min, size.max(vec2(ui.available_width(), 0.0)));
            ui.allocate_rect(rect, Sense::hover());
            let response = ui.interact(rect, drawn.id, Sense::click_and_drag());
            let scale = Scale {
                corner: rect.min + Vec2::splat(AROUND),
                row: shape.row_spacing_mm as f32 * of_mm,
                length: shape.row_length_mm as f32 * of_mm,
                end: shape.end_mm as f32 * of_mm,
                path: shape.path_mm as f32 * of_mm,
                borders: f32::from(shape.borders),
            };
            let under = |point: Pos2| {
                view.rows
                    .iter()
                    .position(|row| scale.row(row.block, row.across).contains(point))
            };
            if (response.clicked() || response.drag_started())
                && let Some(at) = response.interact_pointer_pos().and_then(under)
            {
                response.request_focus();
                asked.cursor = Some(at);
            }
            let pressed = ui.input(|i| i.pointer.press_origin());
            if response.drag_stopped()
                && let Some(from) = pressed.and_then(under)
                && let Some(to) = response.interact_pointer_pos().and_then(under)
                && from != to
            {
                asked.swap = Some((from, to));
            }
            let dragged = if response.dragged() {
                response.interact_pointer_pos().and_then(under)
            } else {
                None
            };
            let seen = viewport.translate(ui.min_rect().min.to_vec2());
            paint(
                ui.painter(),
                Tokens::of(ui),
                shape,
                view,
                &scale,
                seen,
                drawn,
                has_focus,
                dragged,
            );
            if drawn.reveal
                && let Some(row) = view.rows.get(drawn.cursor)
            {
                ui.scroll_to_rect(scale.row(row.block, row.across).expand(AROUND), None);
            }
            let said = view.rows.get(drawn.cursor).map(row_sentence).unwrap_or_default();
            response.widget_info(|| {
                let mut info = WidgetInfo::labeled(Role::Grid, true, "Field");
                info.current_text_value = Some(said.clone());
                info
            });
        });
    asked
}

fn keys(ui: &Ui, view: &FieldView, drawn: &Drawn<'_>, asked: &mut Asked) {
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: drawn.picked.is_some(),
        ..EventFilter::default()
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(drawn.id, filter));
    let Some(now) = view.rows.get(drawn.cursor) else {
        return;
    };
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    let find = |block: u16, across: u16| {
        let rows = view.rows.iter().enumerate();
        rows.filter(|(_, row)| row.block == block)
            .min_by_key(|(_, row)| row.across.abs_diff(across))
            .map(|(at, _)| at)
    };
    let (block, across) = (now.block, now.across);
    let steps = [
        (Key::ArrowLeft, (block, across.saturating_sub(1))),
        (Key::ArrowRight, (block, across + 1)),
        (Key::ArrowUp, (block.saturating_sub(1).max(1), across)),
        (Key::ArrowDown, ((block + 1).min(view.blocks), across)),
    ];
    for (key, (block, across)) in steps {
        if pressed(key) {
            // The filter does not hold yet in the first pass: egui must not move the focus by the same key.
            ui.memory_mut(|m| m.move_focus(egui::FocusDirection::None));
            asked.cursor = find(block, across);
        }
    }
    if pressed(Key::Home) {
        asked.cursor = Some(0);
    }
    if pressed(Key::End) {
        asked.cursor = view.rows.len().checked_sub(1);
    }
    asked.picks = pressed(Key::S) || pressed(Key::Enter) || pressed(Key::Space);
    asked.leaves = drawn.picked.is_some() && pressed(Key::Escape);
}

/// Says everything about a row in one line.
pub(super) fn row_sentence(row: &FieldLine) -> String {
    let place = format!("stake {}, block {}, place {}", row.stake, row.block, row.across);
    let mother = if row.mother.is_empty() {
        "unknown"
    } else {
        row.mother.as_str()
    };
    let parts = [
        Some(format!("{place}: {}", row.name)),
        row.content.ear().map(|_| format!("mother row {mother}")),
        Some(plural(row.kernels as usize, "kernel")),
        row.detasselled.then(|| "to be detasselled".to_owned()),
        row.seen
            .stand
            .map(|stand| format!("{} stood", plural(stand as usize, "plant"))),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

#[expect(clippy::too_many_arguments, reason = "all that one picture is made of")]
fn paint(
    painter: &Painter,
    t: &Tokens,
    shape: &FieldShape,
    view: &FieldView,
    scale: &Scale,
    seen: Rect,
    drawn: &Drawn<'_>,
    has_focus: bool,
    dragged: Option<usize>,
) {
    let mut walk: Vec<(Pos2, u16)> = Vec::new();
    // A block that lies in sight has borders to draw; the rows of a block follow each other.
    for rows in view.rows.chunk_by(|one, next| one.block == next.block) {
        let width = rows.iter().map(|row| row.across).max().unwrap_or(0);
        let top = scale.block_top(rows[0].block);
        let is_seen = top < seen.bottom() && top + scale.length + 2.0 * scale.end > seen.top();
        if is_seen {
            borders(painter, t, shape, scale, seen, rows[0].block, width);
        }
    }
    for (at, row) in view.rows.iter().enumerate() {
        let rect = scale.row(row.block, row.across);
        walk.push((pos2(rect.center().x, rect.top() - 5.0), row.block));
        if !rect.expand(AROUND).intersects(seen) {
            continue;
        }
        paint_row(painter, t, row, rect, drawn.chosen);
        let is_cursor = at == drawn.cursor;
        if is_cursor {
            let width = if has_focus { 3.0 } else { 2.0 };
            painter.rect_stroke(rect, 0.0, Stroke::new(width, t.accent), StrokeKind::Inside);
        }
        if drawn.picked == Some(row.row) {
            painter.rect_stroke(
                rect.shrink(4.0),
                0.0,
                Stroke::new(2.0, t.warn),
                StrokeKind::Inside,
            );
        }
        if dragged == Some(at) && !is_cursor {
            painter.rect_stroke(
                rect.shrink(2.0),
                0.0,
                Stroke::new(3.0, t.warn),
                StrokeKind::Inside,
            );
        }
    }
    path(painter, t, &walk, scale.row * 0.75);
}

/// The border rows at both sides of a block, and the border plants at the ends of its rows: hatched.
fn borders(
    painter: &Painter,
    t: &Tokens,
    shape: &FieldShape,
    scale: &Scale,
    seen: Rect,
    block: u16,
    width: u16,
) {
    let top = scale.block_top(block);
    let long = scale.length + 2.0 * scale.end;
    let wide = (f32::from(width) + 2.0 * scale.borders) * scale.row;
    let mut parts = Vec::new();
    if shape.borders > 0 {
        let size = vec2(scale.borders * scale.row, long);
        parts.push(Rect::from_min_size(pos2(scale.corner.x, top), size));
        parts.push(Rect::from_min_size(
            pos2(scale.corner.x + wide - size.x, top),
            size,
        ));
    }
    if scale.end > 0.0 {
        let left = scale.corner.x + scale.borders * scale.row;
        let size = vec2(f32::from(width) * scale.row, scale.end);
        parts.push(Rect::from_min_size(pos2(left, top), size));
        parts.push(Rect::from_min_size(pos2(left, top + long - scale.end), size));
    }
    for part in parts.into_iter().filter(|part| part.intersects(seen)) {
        let painter = painter.with_clip_rect(part.intersect(painter.clip_rect()));
        painter.rect_stroke(part, 0.0, Stroke::new(1.0, t.line), StrokeKind::Inside);
        let mut x = part.left() - part.height();
        while x < part.right() {
            let line = [pos2(x, part.bottom()), pos2(x + part.height(), part.top())];
            painter.line_segment(line, Stroke::new(1.0, t.line));
            x += 7.0;
        }
    }
}

fn paint_row(painter: &Painter, t: &Tokens, row: &FieldLine, rect: Rect, chosen: &[EarId]) {
    let is_chosen = row.content.ear().is_some_and(|ear| chosen.contains(&ear));
    let fill = if is_chosen { t.selection } else { t.raised };
    painter.rect_filled(rect, 0.0, fill);
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, t.line), StrokeKind::Inside);
    match row.content {
        FieldContent::Check => {
            painter.rect_stroke(
                rect.shrink(2.0),
                0.0,
                Stroke::new(2.0, t.text),
                StrokeKind::Inside,
            );
        }
        FieldContent::Bulk => {
            let mut y = rect.top() + 30.0;
            while y < rect.bottom() - 8.0 {
                painter.circle_filled(pos2(rect.left() + 3.0, y), 1.0, t.quiet);
                painter.circle_filled(pos2(rect.right() - 3.0, y), 1.0, t.quiet);
                y += 6.0;
            }
        }
        FieldContent::Ear(_) => {}
    }
    let stake = painter.layout_no_wrap(row.stake.to_string(), t.small_font(), t.quiet);
    if stake.size().x <= rect.width() - 2.0 {
        painter.galley(
            pos2(rect.center().x - stake.size().x / 2.0, rect.top() + 3.0),
            stake,
            t.quiet,
        );
    } else {
        upright(painter, pos2(rect.center().x, rect.top() + 14.0), stake, t.quiet);
    }
    let name = match row.content {
        FieldContent::Ear(_) => row.name.trim_start_matches("ear ").to_owned(),
        FieldContent::Check => "check".to_owned(),
        FieldContent::Bulk => "bulk".to_owned(),
    };
    let name = painter.layout_no_wrap(name, t.strong_font(), t.text);
    upright(
        painter,
        pos2(rect.center().x, rect.center().y + 6.0),
        name,
        t.text,
    );
    if row.detasselled {
        painter.text(
            pos2(rect.center().x, rect.bottom() - 3.0),
            Align2::CENTER_BOTTOM,
            "✗",
            t.small_font(),
            t.text,
        );
    }
}

/// Text that is read from below, around a point.
fn upright(painter: &Painter, middle: Pos2, galley: std::sync::Arc<egui::Galley>, ink: egui::Color32) {
    let size = galley.size();
    let at = middle - vec2(size.x / 2.0, size.y / 2.0);
    let shape = TextShape::new(at, galley, ink).with_angle_and_anchor(-FRAC_PI_2, Align2::CENTER_CENTER);
    painter.add(Shape::Text(shape));
}

/// The way that is walked: along the heads of the rows, with a dot where it begins and an arrow at each block's end;
/// from block to block beside the rows.
fn path(painter: &Painter, t: &Tokens, walk: &[(Pos2, u16)], row: f32) {
    let stroke = Stroke::new(1.5, t.accent);
    let thin = Stroke::new(0.75, t.accent);
    let mut before: Option<Pos2> = None;
    for block in walk.chunk_by(|one, next| one.1 == next.1) {
        let (Some((first, _)), Some((last, _))) = (block.first(), block.last()) else {
            continue;
        };
        match before {
            None => {
                painter.circle_filled(*first, 3.5, t.accent);
            }
            Some(from) => {
                // Beside the outermost of the two rows that it leads between.
                let is_right = from.x > walk.first().map_or(0.0, |(start, _)| start.x);
                let side = if is_right {
                    from.x.max(first.x) + row
                } else {
                    from.x.min(first.x) - row
                };
                let corners = [from, pos2(side, from.y), pos2(side, first.y), *first];
                for part in corners.windows(2) {
                    painter.line_segment([part[0], part[1]], thin);
                }
            }
        }
        painter.line_segment([*first, *last], stroke);
        let way = (last.x - first.x).signum();
        let tip = *last;
        if block.len() > 1 {
            for down in [-4.0, 4.0] {
                painter.line_segment([tip + vec2(-5.0 * way, down), tip], stroke);
            }
        }
        before = Some(tip);
    }
}
