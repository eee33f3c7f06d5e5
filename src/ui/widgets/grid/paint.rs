//! Where the cells of a grid lie, and how they are painted.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::ops::Range;
use std::sync::Arc;

use egui::scroll_area::{DragScroll, ScrollSource};
use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Align, Align2, Color32, CursorIcon, FontId, Frame, Galley, Id, Margin, Painter, Pos2, Rangef, Rect,
    Response, Role, ScrollArea, Sense, Stroke, StrokeKind, TextEdit, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};

use crate::ui::tokens::Tokens;

use super::keys::Pass;
use super::state::GridState;
use super::{ALL_KEYS, GridSource};

const PADDING: f32 = 8.0;
const SIGN_WIDTH: f32 = 20.0;
const LEAST_WIDTH: f32 = 44.0;
const MOST_AUTO_WIDTH: f32 = 320.0;
const MOST_WIDTH: f32 = 900.0;
/// How many rows are measured to find a column's width.
const SAMPLE: usize = 64;

/// Finds column widths from their content when the columns, or whether there are any rows, have changed.
pub(super) fn measure(ui: &Ui, state: &mut GridState, source: &dyn GridSource, t: &Tokens) {
    let mut hasher = DefaultHasher::new();
    (source.rows() == 0).hash(&mut hasher);
    for column in source.columns() {
        column.title.hash(&mut hasher);
        column.width.map(f32::to_bits).hash(&mut hasher);
    }
    let key = hasher.finish();
    if state.measured == Some(key) {
        return;
    }
    state.measured = Some(key);
    state.widths = (0..source.columns().len())
        .map(|col| content_width(ui, source, t, col))
        .collect();
}

fn content_width(ui: &Ui, source: &dyn GridSource, t: &Tokens, col: usize) -> f32 {
    let column = &source.columns()[col];
    if let Some(width) = column.width {
        return width;
    }
    let painter = ui.painter();
    let wide = |text: String, font: FontId| painter.layout_no_wrap(text, font, Color32::PLACEHOLDER).size().x;
    let rows = source.rows();
    let step = rows.div_ceil(SAMPLE).max(1);
    let sample = (0..rows)
        .step_by(step)
        .map(|row| wide(source.text(row, col).into_owned(), t.body_font()));
    let title = wide(column.title.clone(), t.strong_font()) + SIGN_WIDTH;
    let width = sample.fold(title, f32::max) + 2.0 * PADDING + SIGN_WIDTH;
    width.clamp(LEAST_WIDTH, MOST_AUTO_WIDTH).ceil()
}

/// Geometry of one frame.
pub(super) struct Layout<'a> {
    t: &'a Tokens,
    rect: Rect,
    header: f32,
    row_height: f32,
    gutter: f32,
    /// How many leading columns stay in sight.
    frozen: usize,
    /// Left edge of each column, and at the end the right edge of the last, from the grid's left edge, unscrolled.
    edges: Vec<f32>,
    rows: usize,
    offset: egui::Vec2,
    view: egui::Vec2,
    reveal: bool,
}

impl<'a> Layout<'a> {
    pub fn new(
        ui: &Ui,
        rect: Rect,
        state: &mut GridState,
        source: &dyn GridSource,
        t: &'a Tokens,
        numbers: bool,
    ) -> Self {
        let rows = source.rows();
        let digits = rows.max(1).to_string().len().max(2);
        let digit = ui.fonts_mut(|fonts| fonts.glyph_width(&t.small_font(), '0'));
        let gutter = if numbers {
            (digits as f32 * digit + 2.0 * PADDING).ceil()
        } else {
            0.0
        };
        let mut edges = vec![gutter];
        for width in &state.widths {
            edges.push(edges.last().copied().unwrap_or(gutter) + width);
        }
        let leading = source.columns().iter().take_while(|column| column.frozen).count();
        let frozen = if edges[leading] < rect.width() * 0.6 {
            leading
        } else {
            0
        };
        let view = if state.view == egui::Vec2::ZERO {
            rect.size()
        } else {
            state.view
        };
        let mut layout = Self {
            t,
            rect,
            header: t.row_height + 4.0,
            row_height: t.row_height,
            gutter,
            frozen,
            edges,
            rows,
            offset: state.offset,
            view,
            reveal: false,
        };
        state.page = (((view.y - layout.header) / layout.row_height).floor() as usize)
            .saturating_sub(1)
            .max(1);
        layout.reveal_cursor(state);
        layout
    }

    fn reveal_cursor(&mut self, state: &mut GridState) {
        if !std::mem::take(&mut state.reveal) || self.rows == 0 || self.edges.len() < 2 {
            return;
        }
        let (row, col) = state.cursor();
        let near = |offset: f32, view: f32, from: f32, to: f32| offset.max(to - view).min(from).max(0.0);
        let top = row as f32 * self.row_height;
        let mut offset = self.offset;
        offset.y = near(offset.y, self.view.y - self.header, top, top + self.row_height);
        if col >= self.frozen {
            let (left, right) = (self.edges[col] - self.left(), self.edges[col + 1] - self.left());
            offset.x = near(offset.x, self.view.x - self.left(), left, right);
        }
        self.reveal = offset != self.offset;
        self.offset = offset;
    }

    /// Width of what does not scroll sideways.
    fn left(&self) -> f32 {
        self.edges[self.frozen]
    }

    fn right(&self) -> f32 {
        self.edges.last().copied().unwrap_or(self.gutter)
    }

    fn columns(&self) -> usize {
        self.edges.len() - 1
    }

    fn x(&self, col: usize) -> f32 {
        let scrolled = if col < self.frozen { 0.0 } else { self.offset.x };
        self.rect.left() + self.edges[col] - scrolled
    }

    fn cell_rect(&self, row: usize, col: usize) -> Rect {
        let y = self.rect.top() + self.header + row as f32 * self.row_height - self.offset.y;
        let width = self.edges[col + 1] - self.edges[col];
        Rect::from_min_size(pos2(self.x(col), y), vec2(width, self.row_height))
    }

    fn head_rect(&self, col: usize) -> Rect {
        let width = self.edges[col + 1] - self.edges[col];
        Rect::from_min_size(pos2(self.x(col), self.rect.top()), vec2(width, self.header))
    }

    fn row_at(&self, pos: Pos2) -> f32 {
        ((pos.y - self.rect.top() - self.header + self.offset.y) / self.row_height).floor()
    }

    fn col_at(&self, pos: Pos2) -> Option<usize> {
        let from_left = pos.x - self.rect.left();
        let x = if from_left < self.left() {
            from_left
        } else {
            from_left + self.offset.x
        };
        (0..self.columns()).find(|col| x >= self.edges[*col] && x < self.edges[col + 1])
    }

    pub fn cell_at(&self, pos: Pos2) -> Option<(usize, usize)> {
        let row = self.row_at(pos);
        let inside = pos.y > self.rect.top() + self.header && row >= 0.0 && (row as usize) < self.rows;
        self.col_at(pos).filter(|_| inside).map(|col| (row as usize, col))
    }

    pub fn row_number_at(&self, pos: Pos2) -> Option<usize> {
        let row = self.row_at(pos);
        let below_head = pos.y > self.rect.top() + self.header;
        let on_number = below_head && pos.x < self.rect.left() + self.gutter && row >= 0.0;
        (on_number && (row as usize) < self.rows).then_some(row as usize)
    }

    /// The cell under the pointer, or where it would be if the grid went on in that direction.
    pub fn nearest_cell(&self, pos: Pos2) -> (usize, usize) {
        let row = self.row_at(pos).max(0.0) as usize;
        let col = match self.col_at(pos) {
            Some(col) => col,
            None if pos.x < self.rect.center().x => 0,
            None => self.columns().saturating_sub(1),
        };
        (row.min(self.rows.saturating_sub(1)), col)
    }

    fn visible_rows(&self, view: Rect) -> Range<usize> {
        let height = (view.height() - self.header).max(0.0);
        let first = (self.offset.y / self.row_height).floor().max(0.0) as usize;
        let last = ((self.offset.y + height) / self.row_height).ceil() as usize;
        first.min(self.rows)..last.min(self.rows)
    }

    pub fn show(mut self, ui: &mut Ui, id: Id, focused: bool, owner: &Response, pass: &mut Pass<'_>) {
        ui.painter().rect_filled(self.rect, 0.0, self.t.raised);
        let content = vec2(self.right(), self.header + self.rows as f32 * self.row_height);
        let mut area = ScrollArea::both()
            .id_salt(id.with("scroll"))
            .auto_shrink(false)
            .animated(false)
            .scroll_source(ScrollSource {
                drag: DragScroll::Never,
                ..ScrollSource::default()
            });
        if self.reveal {
            area = area.scroll_offset(self.offset);
        }
        let mut outer = ui.new_child(UiBuilder::new().id_salt(id).max_rect(self.rect));
        let style = outer.style().clone();
        outer.visuals_mut().widgets.inactive.fg_stroke.color = self.t.quiet;
        let output = area.show_viewport(&mut outer, |ui, viewport| {
            // Only the scroll bars are drawn in the quieter colour.
            ui.set_style(style);
            ui.set_min_size(content);
            self.offset = viewport.min.to_vec2();
            let view = ui.clip_rect().intersect(self.rect);
            self.paint(ui, view, focused, pass);
            self.headers(ui, view, id, pass);
            self.editor(ui, view, id, pass);
        });
        pass.state.offset = output.state.clamped_offset();
        pass.state.view = output.inner_rect.size();
        let ring = if focused {
            Stroke::new(2.0, self.t.accent)
        } else {
            Stroke::new(1.0, self.t.line)
        };
        ui.painter().rect_stroke(self.rect, 0.0, ring, StrokeKind::Inside);
        self.tooltip(owner, pass);
    }

    fn body(&self, view: Rect) -> Rect {
        Rect::from_min_max(view.min + vec2(self.left(), self.header), view.max)
    }

    fn pinned(&self, view: Rect) -> Rect {
        Rect::from_x_y_ranges(
            Rangef::new(view.left(), view.left() + self.left()),
            Rangef::new(view.top() + self.header, view.bottom()),
        )
    }

    fn clip(&self, view: Rect, col: usize) -> Rect {
        if col < self.frozen {
            self.pinned(view)
        } else {
            self.body(view)
        }
    }

    fn paint(&self, ui: &Ui, view: Rect, focused: bool, pass: &Pass<'_>) {
        let rows = self.visible_rows(view);
        let body = ui.painter().with_clip_rect(self.body(view).intersect(view));
        let seen = (self.frozen..self.columns()).filter(|col| {
            let rect = self.head_rect(*col);
            rect.right() > view.left() + self.left() && rect.left() < view.right()
        });
        self.paint_cells(&body, seen, rows.clone(), pass, focused);

        let pinned = ui.painter().with_clip_rect(self.pinned(view).intersect(view));
        pinned.rect_filled(self.pinned(view), 0.0, self.t.panel);
        self.paint_cells(&pinned, 0..self.frozen, rows.clone(), pass, focused);
        self.paint_numbers(&pinned, rows, pass);
        if self.left() > 0.0 {
            let edge = Stroke::new(if self.frozen > 0 { 2.0 } else { 1.0 }, self.t.line);
            ui.painter()
                .with_clip_rect(view)
                .vline(view.left() + self.left(), view.y_range(), edge);
        }
        if self.rows == 0 {
            let font = self.t.body_font();
            let at = self.body(view).min + vec2(PADDING, PADDING);
            body.text(at, Align2::LEFT_TOP, "No rows.", font, self.t.quiet);
        }
    }

    fn paint_cells(
        &self,
        painter: &Painter,
        cols: impl Iterator<Item = usize>,
        rows: Range<usize>,
        pass: &Pass<'_>,
        focused: bool,
    ) {
        let t = self.t;
        let (chosen_rows, chosen_cols) = pass.state.selection();
        let many = chosen_rows.len() * chosen_cols.len() > 1;
        let cursor = pass.state.cursor();
        let line = Stroke::new(1.0, t.line.gamma_multiply(0.6));
        for col in cols {
            for row in rows.clone() {
                let rect = self.cell_rect(row, col);
                if many && chosen_rows.contains(&row) && chosen_cols.contains(&col) {
                    painter.rect_filled(rect, 0.0, t.selection);
                } else if pass.source.is_chosen(row) {
                    painter.rect_filled(rect, 0.0, t.selection.gamma_multiply(0.5));
                }
                painter.hline(rect.x_range(), rect.bottom(), line);
                self.paint_text(painter, rect, row, col, pass);
            }
            let top = self.rect.top() + self.header;
            painter.vline(
                self.head_rect(col).right(),
                Rangef::new(top, self.rect.bottom()),
                line,
            );
            if cursor.1 == col && rows.contains(&cursor.0) {
                let ring = if focused {
                    Stroke::new(2.5, t.accent)
                } else {
                    Stroke::new(1.0, t.quiet)
                };
                painter.rect_stroke(self.cell_rect(cursor.0, col), 2.0, ring, StrokeKind::Inside);
            }
        }
    }

    fn paint_text(&self, painter: &Painter, rect: Rect, row: usize, col: usize, pass: &Pass<'_>) {
        let t = self.t;
        let column = &pass.source.columns()[col];
        let text = pass.source.text(row, col);
        let is_marked = pass.source.mark(row, col).is_some();
        if text.is_empty() && !is_marked {
            return;
        }
        let mut room = rect.shrink2(vec2(PADDING, 0.0));
        if is_marked {
            let sign = one_line(painter, "⚠", t.body_font(), room.width());
            let on_left = column.align == Align::Max;
            let x = if on_left {
                room.left()
            } else {
                room.right() - sign.size().x
            };
            painter.galley(pos2(x, rect.center().y - sign.size().y / 2.0), sign, t.warn);
            if on_left {
                *room.left_mut() += SIGN_WIDTH;
            } else {
                *room.right_mut() -= SIGN_WIDTH;
            }
        }
        let galley = one_line(painter, &text, t.body_font(), room.width());
        let x = room.left() + (room.width() - galley.size().x).max(0.0) * column.align.to_factor();
        let is_quiet = !column.editable || pass.source.is_quiet(row, col);
        let ink = if is_quiet { t.quiet } else { t.text };
        painter.galley(pos2(x, rect.center().y - galley.size().y / 2.0), galley, ink);
    }

    fn paint_numbers(&self, painter: &Painter, rows: Range<usize>, pass: &Pass<'_>) {
        if self.gutter <= 0.0 {
            return;
        }
        let t = self.t;
        let (chosen, _) = pass.state.selection();
        for row in rows {
            let y = self.rect.top() + self.header + row as f32 * self.row_height - self.offset.y;
            let rect = Rect::from_min_size(pos2(self.rect.left(), y), vec2(self.gutter, self.row_height));
            if chosen.contains(&row) {
                painter.rect_filled(rect, 0.0, t.selection);
            }
            if pass.source.is_chosen(row) {
                let bar = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
                painter.rect_filled(bar, 0.0, t.accent);
            }
            let galley = one_line(painter, &(row + 1).to_string(), t.small_font(), self.gutter);
            let at = pos2(
                rect.right() - PADDING - galley.size().x,
                rect.center().y - galley.size().y / 2.0,
            );
            painter.galley(at, galley, t.quiet);
        }
    }

    fn headers(&self, ui: &mut Ui, view: Rect, id: Id, pass: &mut Pass<'_>) {
        let t = self.t;
        let strip = Rect::from_min_size(view.min, vec2(self.rect.width(), self.header));
        let over_all = ui.painter().with_clip_rect(self.rect);
        over_all.rect_filled(strip, 0.0, t.panel);
        for col in (self.frozen..self.columns()).chain(0..self.frozen) {
            let from = if col < self.frozen { 0.0 } else { self.left() };
            let clip = Rect::from_min_max(strip.min + vec2(from, 0.0), strip.max);
            let rect = self.head_rect(col);
            if rect.intersect(clip).is_positive() {
                self.header(ui, rect, clip, id.with(("head", col)), col, pass);
            }
        }
        let under = Stroke::new(1.5, t.quiet);
        over_all.hline(strip.x_range(), strip.bottom(), under);
    }

    fn header(&self, ui: &Ui, rect: Rect, clip: Rect, id: Id, col: usize, pass: &mut Pass<'_>) {
        let t = self.t;
        let column = pass.source.columns()[col].clone();
        let mut response = ui.interact(rect.intersect(clip), id, Sense::CLICK);
        let sorted = pass
            .state
            .sort()
            .filter(|(by, _)| *by == col)
            .map(|(_, descending)| descending);
        response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, true, &column.title));
        if response.clicked() {
            pass.sort(col, sorted == Some(false));
        }
        if !column.hint.is_empty() {
            response = response.on_hover_text(&column.hint);
        }
        let painter = ui.painter().with_clip_rect(clip);
        if response.hovered() {
            painter.rect_filled(rect, 0.0, t.selection);
        }
        let mut room = rect.shrink2(vec2(PADDING, 0.0));
        if let Some(descending) = sorted {
            let sign = one_line(
                &painter,
                if descending { "▼" } else { "▲" },
                t.small_font(),
                SIGN_WIDTH,
            );
            let at = pos2(
                room.right() - sign.size().x,
                rect.center().y - sign.size().y / 2.0,
            );
            painter.galley(at, sign, t.text);
            *room.right_mut() -= SIGN_WIDTH;
        }
        let galley = one_line(&painter, &column.title, t.strong_font(), room.width());
        let x = room.left() + (room.width() - galley.size().x).max(0.0) * column.align.to_factor();
        painter.galley(pos2(x, rect.center().y - galley.size().y / 2.0), galley, t.text);
        painter.vline(rect.right(), rect.y_range().shrink(6.0), Stroke::new(1.0, t.line));
        self.resize(ui, rect, clip, id.with("width"), col, pass);
    }

    /// The right edge of a header is dragged to set the width; a double click takes it from the content.
    fn resize(&self, ui: &Ui, head: Rect, clip: Rect, id: Id, col: usize, pass: &mut Pass<'_>) {
        let edge = Rect::from_x_y_ranges(
            Rangef::new(head.right() - 5.0, head.right() + 3.0),
            head.y_range(),
        );
        let handle = ui
            .interact(edge.intersect(clip), id, Sense::CLICK | Sense::DRAG)
            .on_hover_and_drag_cursor(CursorIcon::ResizeHorizontal);
        if handle.double_clicked() {
            pass.state.widths[col] = content_width(ui, pass.source, self.t, col);
        } else if handle.dragged()
            && let Some(pos) = handle.interact_pointer_pos()
        {
            pass.state.widths[col] = (pos.x - head.left()).clamp(LEAST_WIDTH, MOST_WIDTH);
        }
    }

    fn editor(&self, ui: &mut Ui, view: Rect, id: Id, pass: &mut Pass<'_>) {
        let t = self.t;
        let (row, col) = pass.state.cursor();
        let Some(edit) = &mut pass.state.edit else {
            if let Some(note) = &pass.state.note {
                self.note(ui, view, id, self.cell_rect(row, col), note);
            }
            return;
        };
        let rect = self.cell_rect(edit.row, edit.col);
        let mut child = ui.new_child(UiBuilder::new().id_salt("editor").max_rect(rect));
        child.set_clip_rect(self.clip(view, edit.col).intersect(view).expand(1.0));
        child.painter().rect_filled(rect, 0.0, t.raised);
        let name = format!("{}, row {}", pass.source.columns()[edit.col].title, edit.row + 1);
        TextEdit::singleline(&mut edit.text)
            .id(id.with(("cell", edit.row, edit.col)))
            .event_filter(ALL_KEYS)
            .frame(Frame::NONE.inner_margin(Margin::symmetric(PADDING as i8, 0)))
            .min_size(rect.size())
            .align(Align2([pass.source.columns()[edit.col].align, Align::Center]))
            .desired_width(rect.width() - 2.0 * PADDING)
            .show(&mut child)
            .response
            .response
            .accessible_name(name);
        let ring = Stroke::new(2.5, if edit.message.is_some() { t.bad } else { t.accent });
        child.painter().rect_stroke(rect, 2.0, ring, StrokeKind::Inside);
        if let Some(message) = edit.message.clone() {
            self.note(ui, view, id, rect, &message);
        }
    }

    /// A sentence under a cell, or over it where the grid ends.
    fn note(&self, ui: &Ui, view: Rect, id: Id, cell: Rect, text: &str) {
        let t = self.t;
        let painter = ui.painter().with_clip_rect(view);
        let most = (view.width() - 4.0 * PADDING).clamp(80.0, 420.0);
        let galley = painter.layout(format!("⚠ {text}"), t.body_font(), t.bad, most);
        let size = galley.size() + vec2(2.0 * PADDING, PADDING);
        let x = cell.left().min(view.right() - size.x - 2.0).max(view.left());
        let below = cell.bottom() + 2.0 + size.y < view.bottom();
        let y = if below {
            cell.bottom() + 2.0
        } else {
            cell.top() - size.y - 2.0
        };
        let rect = Rect::from_min_size(pos2(x, y), size);
        painter.rect_filled(rect, f32::from(t.radius), t.raised);
        painter.rect_stroke(
            rect,
            f32::from(t.radius),
            Stroke::new(1.5, t.bad),
            StrokeKind::Inside,
        );
        painter.galley(rect.min + vec2(PADDING, PADDING / 2.0), galley, t.bad);
        let response = ui.interact(rect, id.with("note"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, text));
    }

    fn tooltip(&self, owner: &Response, pass: &Pass<'_>) {
        let Some((row, col)) = owner.hover_pos().and_then(|pos| self.cell_at(pos)) else {
            return;
        };
        if let Some(mark) = pass.source.mark(row, col) {
            owner.clone().on_hover_text_at_pointer(mark.text);
        }
    }
}

/// Text in one line, cut with an ellipsis where it does not fit; the colour is given when it is painted.
fn one_line(painter: &Painter, text: &str, font: FontId, width: f32) -> Arc<Galley> {
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font, Color32::PLACEHOLDER);
    job.wrap = TextWrapping::truncate_at_width(width.max(1.0));
    painter.layout_job(job)
}
