//! Trays drawn to scale: their cells, what lies in them, and how they lie.

use crate::layout;
use crate::model::{
    CellContent, CellId, Ear, EarId, Project, Test, TrayId, TrayPlan, cell_name, row_letters,
};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2, pos2, vec2};

/// Points in a millimetre at which a tray has its true size on an ordinary screen, by definition of the point:
/// 96 points in an inch. No tray is drawn larger.
const TRUE_SCALE: f32 = 96.0 / 25.4;
/// Room for the letters of the rows, left of a tray.
const LEFT: f32 = 26.0;
/// Room for the tray's title and the numbers of the columns.
const TOP: f32 = 46.0;
/// Gap between trays.
const GAP: f32 = 18.0;
/// Least size of the figures in a cell.
const LEAST_FIGURE: f32 = 12.0;
/// Width of a figure of the text faces, as a part of their size; a test of the fonts says all are equally wide.
const FIGURE_WIDTH: f32 = 0.6;

/// Lengths of a tray in millimetres, and its grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TrayShape {
    width: f32,
    height: f32,
    margin: f32,
    cell_width: f32,
    cell_height: f32,
    aisle: f32,
    pub rows: usize,
    pub columns: usize,
}

impl TrayShape {
    /// Takes the lengths of a container of a plan, 0 for its own, for a grid.
    pub fn new(plan: &TrayPlan, container: usize, rows: usize, columns: usize) -> Self {
        let other = container.checked_sub(1).and_then(|other| plan.others.get(other));
        let (width, height, margin) = other
            .map_or((plan.width_mm, plan.height_mm, plan.margin_mm), |other| {
                (other.width_mm, other.height_mm, other.margin_mm)
            });
        Self {
            width: width as f32,
            height: height as f32,
            margin: margin as f32,
            cell_width: plan.cell_width_mm as f32,
            cell_height: plan.cell_height_mm as f32,
            aisle: plan.aisle_mm as f32,
            rows: rows.max(1),
            columns: columns.max(1),
        }
    }

    /// Gives lengths that hold both this and another tray.
    fn around(self, other: Self) -> Self {
        Self {
            width: self.width.max(other.width),
            height: self.height.max(other.height),
            rows: self.rows.max(other.rows),
            columns: self.columns.max(other.columns),
            ..self
        }
    }

    /// Gives the size on screen with title and letters.
    pub fn outer(&self, scale: f32) -> Vec2 {
        vec2(self.width, self.height) * scale + vec2(LEFT, TOP)
    }

    /// Gives the container on screen.
    pub fn container(&self, origin: Pos2, scale: f32) -> Rect {
        Rect::from_min_size(origin + vec2(LEFT, TOP), vec2(self.width, self.height) * scale)
    }

    /// Gives a cell, counted in reading order from 0, on screen.
    pub fn cell(&self, origin: Pos2, scale: f32, cell: usize) -> Rect {
        let size = vec2(self.cell_width, self.cell_height) * scale;
        let pitch = size + Vec2::splat(self.aisle * scale);
        let at = vec2((cell % self.columns) as f32, (cell / self.columns) as f32) * pitch;
        let corner = origin + vec2(LEFT, TOP) + Vec2::splat(self.margin * scale) + at;
        Rect::from_min_size(corner, size)
    }

    /// Gives the cell under a point, counted in reading order from 0; none in an aisle.
    pub fn cell_under(&self, origin: Pos2, scale: f32, point: Pos2) -> Option<usize> {
        let first = self.cell(origin, scale, 0);
        let at = (point - first.min) / (first.size() + Vec2::splat(self.aisle * scale));
        let inside = at.x >= 0.0 && at.y >= 0.0;
        let (column, row) = (at.x as usize, at.y as usize);
        let cell = row * self.columns + column;
        let is_cell = inside && column < self.columns && row < self.rows;
        (is_cell && self.cell(origin, scale, cell).contains(point)).then_some(cell)
    }

    /// Gives the largest scale at which the tray fits into a room, at most its true size.
    pub fn scale_for(&self, room: Vec2) -> f32 {
        let free = (room - vec2(LEFT, TOP)).max(Vec2::splat(1.0));
        (free.x / self.width).min(free.y / self.height).min(TRUE_SCALE)
    }

    /// Gives the least scale at which numbers with so many figures can be read in the cells.
    fn least_scale(&self, figures: usize) -> f32 {
        let wide = LEAST_FIGURE * FIGURE_WIDTH * figures.max(2) as f32 + 9.0;
        let tall = LEAST_FIGURE + 6.0;
        (wide / self.cell_width).max(tall / self.cell_height)
    }

    /// Names a cell, counted in reading order from 0.
    pub fn name(&self, cell: usize) -> String {
        cell_name((cell / self.columns) as u16 + 1, (cell % self.columns) as u16 + 1)
    }
}

/// How far a cell is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum CellState {
    /// Nothing is said about it.
    #[default]
    Plain,
    /// Its count is begun and not recorded.
    Begun,
    /// It is counted.
    Counted,
    /// Its count needs a look.
    Problem,
}

/// A cell as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DrawnCell {
    /// Its record; none in a proposal.
    pub id: Option<CellId>,
    /// What lies in it.
    pub content: CellContent,
    /// The ear's number; 0 without an ear.
    pub number: u32,
    /// Kernels in it.
    pub kernels: u16,
    /// How far it is counted.
    pub state: CellState,
    /// What is written in its lower half; empty for the kernels.
    pub note: String,
    /// Whether what lies in it is hidden: then its name stands for it.
    is_hidden: bool,
}

impl DrawnCell {
    fn empty() -> Self {
        Self {
            id: None,
            content: CellContent::Spare,
            number: 0,
            kernels: 0,
            state: CellState::Plain,
            note: String::new(),
            is_hidden: false,
        }
    }

    /// Gives the ear in it.
    pub fn ear(&self) -> Option<EarId> {
        self.content.ear()
    }
}

/// A tray as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DrawnTray {
    /// Its record; none in a proposal.
    pub id: Option<TrayId>,
    /// Its number, from 1.
    pub number: u16,
    /// Its replicate, from 1.
    pub replicate: u16,
    /// What its container is called; empty for the plan's own.
    pub container: String,
    /// Its lengths and grid.
    pub shape: TrayShape,
    /// Its cells in reading order.
    pub cells: Vec<DrawnCell>,
}

/// The trays of a test as they are drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    /// Lengths and grid that hold each of the trays; those of the tray where there is only one.
    pub shape: TrayShape,
    /// The trays by number.
    pub trays: Vec<DrawnTray>,
    /// Figures of the longest ear number.
    figures: usize,
    /// Whether there is more than one replicate.
    replicates: bool,
}

impl Drawing {
    fn new(plan: &TrayPlan, trays: Vec<DrawnTray>) -> Self {
        let shapes = trays.iter().map(|tray| tray.shape);
        let shape = shapes.reduce(TrayShape::around);
        let most = trays
            .iter()
            .flat_map(|tray| &tray.cells)
            .map(|cell| cell.number)
            .max();
        Self {
            shape: shape.unwrap_or_else(|| TrayShape::new(plan, 0, 1, 1)),
            figures: most.unwrap_or(0).to_string().len(),
            replicates: trays.iter().any(|tray| tray.replicate > 1),
            trays,
        }
    }

    /// Draws a test as it is recorded.
    pub fn of_test(project: &Project, test: &Test) -> Self {
        let drawn = |cell: &crate::model::Cell| DrawnCell {
            id: Some(cell.id),
            content: cell.content,
            number: ear_number(project, cell.content),
            kernels: if cell.content.is_counted() {
                project.sown(cell)
            } else {
                0
            },
            ..DrawnCell::empty()
        };
        let trays = project.trays_of(test.id).map(|tray| {
            let (rows, columns) = (usize::from(tray.rows), usize::from(tray.columns));
            let mut cells = vec![DrawnCell::empty(); rows * columns];
            for cell in project.cells_of(tray.id) {
                let at = usize::from(cell.row - 1) * columns + usize::from(cell.column - 1);
                cells[at] = drawn(cell);
            }
            DrawnTray {
                id: Some(tray.id),
                number: tray.number,
                replicate: tray.replicate,
                container: container_title(&test.plan, usize::from(tray.container)),
                shape: TrayShape::new(&test.plan, usize::from(tray.container), rows, columns),
                cells,
            }
        });
        Self::new(&test.plan, trays.collect())
    }

    /// Draws a layout that is proposed.
    pub fn of_layout(plan: &TrayPlan, laid_out: &layout::Layout, ears: &[&Ear]) -> Self {
        let drawn = |content: &layout::Content| {
            let (content, number) = match *content {
                layout::Content::Item(item) => (CellContent::Ear(ears[item].id), ears[item].number),
                layout::Content::Check(check) => (CellContent::Check(check + 1), 0),
                layout::Content::Landmark => (CellContent::Landmark, 0),
                layout::Content::Spare => (CellContent::Spare, 0),
            };
            DrawnCell {
                content,
                number,
                kernels: if content.is_counted() { plan.kernels } else { 0 },
                ..DrawnCell::empty()
            }
        };
        let trays = (1_u16..).zip(&laid_out.trays).map(|(number, tray)| DrawnTray {
            id: None,
            number,
            replicate: tray.replicate + 1,
            container: container_title(plan, tray.container),
            shape: TrayShape::new(
                plan,
                tray.container,
                usize::from(tray.grid.rows()),
                usize::from(tray.grid.columns()),
            ),
            cells: tray.cells.iter().map(drawn).collect(),
        });
        Self::new(plan, trays.collect())
    }

    /// Gives the place of a cell: its tray and its number in reading order, both from 0.
    pub fn place_of(&self, cell: CellId) -> Option<(usize, usize)> {
        let all = self.trays.iter().enumerate();
        all.flat_map(|(tray, drawn)| {
            (0..)
                .zip(&drawn.cells)
                .map(move |(place, one)| (tray, place, one))
        })
        .find(|(_, _, one)| one.id == Some(cell))
        .map(|(tray, place, _)| (tray, place))
    }

    /// Gives a drawing of one of the trays.
    pub fn only(&self, tray: usize) -> Self {
        Self {
            trays: self.trays.get(tray).cloned().into_iter().collect(),
            shape: self.trays.get(tray).map_or(self.shape, |tray| tray.shape),
            ..*self
        }
    }

    /// Hides what lies in the cells to count.
    pub fn hide(&mut self) {
        let cells = self.trays.iter_mut().flat_map(|tray| &mut tray.cells);
        for cell in cells.filter(|cell| cell.content.is_counted()) {
            cell.is_hidden = true;
        }
    }

    /// Says what lies in a cell: `tray 3 B4: ear 147, row 9, 10 kernels`.
    pub fn sentence(&self, project: &Project, check_lot: &str, tray: usize, cell: usize) -> String {
        let Some(drawn) = self.trays.get(tray).and_then(|tray| tray.cells.get(cell)) else {
            return String::new();
        };
        let shape = self.trays[tray].shape;
        let place = format!("tray {} {}", self.trays[tray].number, shape.name(cell));
        let kernels = drawn.kernels;
        if drawn.is_hidden {
            return format!("{place}: {kernels} kernels");
        }
        match drawn.content {
            CellContent::Ear(ear) => {
                let row = project.ears.get(ear).map_or("", |ear| project.mother_label(ear));
                let row = if row.is_empty() {
                    String::new()
                } else {
                    format!(", row {row}")
                };
                format!("{place}: ear {}{row}, {kernels} kernels", drawn.number)
            }
            CellContent::Check(number) if check_lot.is_empty() => {
                format!("{place}: check {number}, {kernels} kernels")
            }
            CellContent::Check(number) => {
                format!("{place}: check {number} ({check_lot}), {kernels} kernels")
            }
            CellContent::Landmark => format!("{place}: landmark, left empty on purpose"),
            CellContent::Spare => format!("{place}: spare, free for a late ear"),
        }
    }

    /// Gives the least scale at which the numbers can be read.
    pub fn least_scale(&self) -> f32 {
        self.shape.least_scale(self.figures)
    }

    /// Finds where all trays go in a room: side by side, at one scale, as large as fits.
    pub fn arrange(&self, room: Vec2) -> Arrangement {
        let count = self.trays.len().max(1);
        let least = self.least_scale();
        let fit = |columns: usize| {
            let rows = count.div_ceil(columns);
            let each = (room + Vec2::splat(GAP)) / vec2(columns as f32, rows as f32) - Vec2::splat(GAP);
            self.shape.scale_for(each)
        };
        let best = (1..=count.min(40))
            .map(|columns| (columns, fit(columns)))
            .fold((1, 0.0), |best, next| if next.1 > best.1 { next } else { best });
        if best.1 >= least {
            return Arrangement::new(self, best.1, best.0);
        }
        let pitch = self.shape.outer(least).x + GAP;
        let columns = (((room.x + GAP) / pitch) as usize).clamp(1, count);
        let each = (room.x + GAP) / columns as f32 - GAP;
        let wide = self.shape.scale_for(vec2(each, room.y));
        Arrangement::new(self, wide.max(least), columns)
    }
}

fn container_title(plan: &TrayPlan, container: usize) -> String {
    let other = container.checked_sub(1).and_then(|other| plan.others.get(other));
    other.map_or_else(String::new, |other| other.title(container as u16))
}

fn ear_number(project: &Project, content: CellContent) -> u32 {
    match content {
        CellContent::Ear(ear) => project.ears.get(ear).map_or(0, |ear| ear.number),
        CellContent::Check(_) | CellContent::Landmark | CellContent::Spare => 0,
    }
}

/// Where the trays of a drawing are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arrangement {
    /// Points in a millimetre.
    pub scale: f32,
    columns: usize,
    pitch: Vec2,
    /// Size of everything.
    pub size: Vec2,
}

impl Arrangement {
    fn new(drawing: &Drawing, scale: f32, columns: usize) -> Self {
        let outer = drawing.shape.outer(scale);
        let rows = drawing.trays.len().max(1).div_ceil(columns);
        let pitch = outer + Vec2::splat(GAP);
        Self {
            scale,
            columns,
            pitch,
            size: vec2(columns as f32, rows as f32) * pitch - Vec2::splat(GAP - 4.0),
        }
    }

    /// Gives the corner of a tray.
    pub fn origin(&self, corner: Pos2, tray: usize) -> Pos2 {
        let at = vec2((tray % self.columns) as f32, (tray / self.columns) as f32);
        corner + at * self.pitch
    }

    /// Gives the tray whose place a point is in.
    pub fn tray_under(&self, corner: Pos2, point: Pos2) -> Option<usize> {
        let at = (point - corner) / self.pitch;
        let inside = at.x >= 0.0 && at.y >= 0.0 && (at.x as usize) < self.columns;
        inside.then(|| at.y as usize * self.columns + at.x as usize)
    }
}

/// What is pointed out while a tray is drawn; cells in reading order from 0.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pointed<'a> {
    /// The chosen ears.
    pub chosen: &'a [EarId],
    /// The cell under the keyboard's cursor.
    pub cursor: Option<usize>,
    /// The cell under the pointer.
    pub hovered: Option<usize>,
}

/// Draws one tray with its title, its letters and numbers and the sign of its top left corner.
pub(super) fn paint_tray(
    painter: &Painter,
    t: &Tokens,
    drawing: &Drawing,
    tray: usize,
    (origin, scale): (Pos2, f32),
    pointed: Pointed<'_>,
) {
    let drawn = &drawing.trays[tray];
    let shape = &drawn.shape;
    let container = shape.container(origin, scale);
    painter.rect(
        container,
        2.0,
        t.panel,
        Stroke::new(1.5, t.quiet),
        StrokeKind::Outside,
    );
    let mut title = vec![format!("Tray {}", drawn.number)];
    if drawing.replicates {
        title.push(format!("replicate {}", drawn.replicate));
    }
    if !drawn.container.is_empty() {
        title.push(drawn.container.clone());
    }
    let title = title.join(", ");
    let above = pos2(container.left() + 6.0, origin.y + 1.0);
    let title = painter.text(above, Align2::LEFT_TOP, title, t.strong_font(), t.text);
    top_left_sign(painter, t, container.left_top(), title.right(), container.right());
    sides(painter, t, shape, origin, scale);
    for (at, cell) in drawn.cells.iter().enumerate() {
        let rect = shape.cell(origin, scale, at);
        if painter.clip_rect().intersects(rect) {
            if cell.is_hidden {
                ground(painter, t, rect, cell.state);
                figures(painter, t, rect, cell, &shape.name(at), drawing.figures);
            } else {
                paint_cell(painter, t, rect, cell, drawing.figures);
            }
        }
    }
    for (at, cell) in drawn.cells.iter().enumerate() {
        let rect = shape.cell(origin, scale, at);
        if cell.ear().is_some_and(|ear| pointed.chosen.contains(&ear)) {
            let stroke = Stroke::new(4.0, t.accent);
            painter.rect_stroke(rect, 2.0, stroke, StrokeKind::Middle);
        }
    }
    if let Some(at) = pointed.hovered {
        let rect = shape.cell(origin, scale, at);
        painter.rect_stroke(rect, 2.0, Stroke::new(2.0, t.quiet), StrokeKind::Inside);
    }
    if let Some(at) = pointed.cursor {
        let rect = shape.cell(origin, scale, at).expand(1.0);
        painter.rect_stroke(rect, 2.0, Stroke::new(1.0, t.raised), StrokeKind::Inside);
        painter.rect_stroke(rect, 2.0, Stroke::new(3.0, t.text), StrokeKind::Outside);
    }
}

/// A filled corner and, where there is room, the words.
fn top_left_sign(painter: &Painter, t: &Tokens, corner: Pos2, from: f32, to: f32) {
    let corner = corner - vec2(1.5, 1.5);
    let points = vec![corner, corner - vec2(0.0, 14.0), corner - vec2(14.0, 0.0)];
    painter.add(Shape::convex_polygon(points, t.text, Stroke::NONE));
    let words = painter.layout_no_wrap("↙ top left".to_owned(), t.small_font(), t.quiet);
    if from + 12.0 + words.size().x <= to {
        painter.galley(pos2(from + 12.0, corner.y - TOP + 5.0), words, t.quiet);
    }
}

/// The letters of the rows and the numbers of the columns.
fn sides(painter: &Painter, t: &Tokens, shape: &TrayShape, origin: Pos2, scale: f32) {
    let container = shape.container(origin, scale);
    for column in 0..shape.columns {
        let x = shape.cell(origin, scale, column).center().x;
        let at = pos2(x, container.top() - 3.0);
        painter.text(at, Align2::CENTER_BOTTOM, column + 1, t.small_font(), t.quiet);
    }
    for row in 0..shape.rows {
        let y = shape.cell(origin, scale, row * shape.columns).center().y;
        let letters = row_letters(row as u16 + 1);
        let at = pos2(container.left() - 5.0, y);
        painter.text(at, Align2::RIGHT_CENTER, letters, t.small_font(), t.quiet);
    }
}

/// The ground of a cell to count.
fn ground(painter: &Painter, t: &Tokens, rect: Rect, state: CellState) {
    let fill = if state == CellState::Counted {
        t.selection
    } else {
        t.raised
    };
    let line = Stroke::new(1.0, t.quiet);
    painter.rect(rect, 0.0, fill, line, StrokeKind::Middle);
}

fn paint_cell(painter: &Painter, t: &Tokens, rect: Rect, cell: &DrawnCell, longest: usize) {
    let line = Stroke::new(1.0, t.quiet);
    match cell.content {
        CellContent::Ear(_) => {
            ground(painter, t, rect, cell.state);
            figures(painter, t, rect, cell, &cell.number.to_string(), longest);
        }
        CellContent::Check(number) => {
            ground(painter, t, rect, cell.state);
            let inner = rect.shrink(2.5);
            painter.rect_stroke(inner, 0.0, Stroke::new(1.5, t.text), StrokeKind::Inside);
            let words = [
                format!("check {number}"),
                format!("ch {number}"),
                format!("c{number}"),
            ];
            let fitting = words.iter().find(|word| fits(word, rect.width() - 8.0));
            let text = fitting.unwrap_or(&words[2]);
            figures(painter, t, rect, cell, text, text.len().max(longest));
        }
        CellContent::Landmark => {
            painter.rect(rect, 0.0, t.panel, line, StrokeKind::Middle);
            hatch(painter, rect, Stroke::new(1.0, t.quiet));
            word(painter, t, rect, &["landmark", "mark", "L"], t.text);
        }
        CellContent::Spare => {
            let corners = [
                rect.left_top(),
                rect.right_top(),
                rect.right_bottom(),
                rect.left_bottom(),
            ];
            let path = [corners.as_slice(), &corners[..1]].concat();
            painter.extend(Shape::dashed_line(&path, line, 4.0, 4.0));
            word(painter, t, rect, &["spare", "S"], t.quiet);
        }
    }
}

/// Lines from lower left to upper right.
fn hatch(painter: &Painter, rect: Rect, stroke: Stroke) {
    let painter = painter.with_clip_rect(painter.clip_rect().intersect(rect));
    let mut x = rect.left() - rect.height();
    while x < rect.right() {
        let ends = [pos2(x, rect.bottom()), pos2(x + rect.height(), rect.top())];
        painter.line_segment(ends, stroke);
        x += 7.0;
    }
}

fn fits(text: &str, width: f32) -> bool {
    text.chars().count() as f32 * LEAST_FIGURE * FIGURE_WIDTH <= width
}

/// Writes the longest word that fits, on a plain ground.
fn word(painter: &Painter, t: &Tokens, rect: Rect, words: &[&str], ink: Color32) {
    let fitting = words.iter().find(|word| fits(word, rect.width() - 6.0));
    let Some(text) = fitting.or(words.last()) else {
        return;
    };
    let galley = painter.layout_no_wrap((*text).to_owned(), FontId::proportional(LEAST_FIGURE), ink);
    let ground = Rect::from_center_size(rect.center(), galley.size() + vec2(4.0, 0.0));
    painter.rect_filled(ground, 2.0, t.panel);
    painter.galley(ground.min + vec2(2.0, 0.0), galley, ink);
}

/// Writes the number, the kernels or the count under it, and the sign of the state. The size suits the longest
/// number of all, so that all are equally large.
fn figures(painter: &Painter, t: &Tokens, rect: Rect, cell: &DrawnCell, text: &str, longest: usize) {
    let has_note = rect.height() >= 44.0;
    let by_width = (rect.width() - 9.0) / (longest.max(2) as f32 * FIGURE_WIDTH);
    let by_height = rect.height() * if has_note { 0.42 } else { 0.7 };
    let size = by_width.min(by_height).clamp(9.0, 30.0);
    let ink = t.text;
    let at = if has_note {
        rect.center() - vec2(0.0, rect.height() * 0.12)
    } else {
        rect.center()
    };
    painter.text(
        at,
        Align2::CENTER_CENTER,
        text,
        FontId::new(size, fonts::bold()),
        ink,
    );
    let (sign, colour) = match cell.state {
        CellState::Plain => ("", t.quiet),
        CellState::Begun => ("…", t.text),
        CellState::Counted => ("✓", t.ok),
        CellState::Problem => ("⚠", t.bad),
    };
    if cell.state == CellState::Problem {
        let stroke = Stroke::new(2.0, t.bad);
        painter.rect_stroke(rect.shrink(1.0), 0.0, stroke, StrokeKind::Inside);
    }
    let notes = if cell.note.is_empty() {
        vec![format!("{} kernels", cell.kernels), format!("×{}", cell.kernels)]
    } else {
        let first = cell.note.split('/').next().unwrap_or_default();
        vec![
            format!("{sign} {}", cell.note),
            format!("{sign}{}", cell.note),
            format!("{sign}{first}"),
            sign.to_owned(),
        ]
    };
    if has_note {
        let width = rect.width() - 8.0;
        let Some(note) = notes.iter().find(|note| fits(note, width)).or(notes.last()) else {
            return;
        };
        let by_width = width / (note.chars().count() as f32 * FIGURE_WIDTH);
        let size = by_width.min(rect.height() * 0.16).clamp(LEAST_FIGURE, 20.0);
        let ink = if sign.is_empty() { t.quiet } else { colour };
        let at = pos2(rect.center().x, rect.bottom() - 5.0);
        painter.text(at, Align2::CENTER_BOTTOM, note, FontId::proportional(size), ink);
    } else if !sign.is_empty() {
        let at = rect.right_top() + vec2(-2.0, 0.0);
        painter.text(
            at,
            Align2::RIGHT_TOP,
            sign,
            FontId::proportional(LEAST_FIGURE),
            colour,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::OtherContainer;

    fn shape() -> TrayShape {
        TrayShape::new(&TrayPlan::default(), 0, 4, 8)
    }

    /// A smaller container in a plan with aisles of half an inch, in which 2 rows of 4 cells fit into 11 by 8 inches.
    fn other() -> TrayShape {
        let plan = TrayPlan {
            aisle_mm: 12.7,
            others: vec![OtherContainer {
                name: String::new(),
                width_mm: 11.0 * 25.4,
                height_mm: 8.0 * 25.4,
                margin_mm: 12.7,
                trays: 1,
            }],
            ..TrayPlan::default()
        };
        TrayShape::new(&plan, 1, 2, 4)
    }

    #[test]
    fn every_point_of_a_cell_is_found_in_it() {
        let origin = pos2(10.0, 20.0);
        for cell in 0..32 {
            let rect = shape().cell(origin, 0.7, cell).shrink(0.5);
            for point in [rect.center(), rect.left_top(), rect.right_bottom()] {
                assert_eq!(shape().cell_under(origin, 0.7, point), Some(cell));
            }
        }
        assert_eq!(shape().cell_under(origin, 0.7, origin), None);
    }

    #[test]
    fn cells_with_aisles_fill_their_container_and_no_point_between_is_in_one() {
        let (origin, scale) = (pos2(10.0, 20.0), 0.7);
        let inside = other().container(origin, scale).shrink(12.7 * scale);
        for cell in 0..8 {
            let rect = other().cell(origin, scale, cell);
            assert!(inside.expand(0.01).contains_rect(rect), "{rect:?} in {inside:?}");
            assert_eq!(other().cell_under(origin, scale, rect.center()), Some(cell));
            let right = rect.right_center() + vec2(6.0 * scale, 0.0);
            assert_eq!(other().cell_under(origin, scale, right), None, "{cell}");
        }
        let last = other().cell(origin, scale, 7);
        assert!(
            (last.right() - inside.right() + 12.7 * scale).abs() < 0.01,
            "half an inch is left over"
        );
        assert!((last.bottom() - inside.bottom() + 12.7 * scale).abs() < 0.01);
    }

    #[test]
    fn trays_are_drawn_to_scale() {
        let container = shape().container(Pos2::ZERO, 1.0);
        let cell = shape().cell(Pos2::ZERO, 1.0, 0);
        // A tray of 16 by 12 inches in cells of 2 by 3 inches.
        assert!((container.width() / cell.width() - 8.0).abs() < 1e-4);
        assert!((container.height() / cell.height() - 4.0).abs() < 1e-4);
        assert!((cell.height() / cell.width() - 1.5).abs() < 1e-4);
    }

    #[test]
    fn arranged_trays_do_not_overlap_and_points_find_their_tray() {
        let tray = DrawnTray {
            id: None,
            number: 1,
            replicate: 1,
            container: String::new(),
            shape: shape(),
            cells: vec![DrawnCell::empty(); 32],
        };
        for count in [1, 2, 9, 50] {
            let mut trays = vec![tray.clone(); count];
            trays[0].shape = other();
            let drawing = Drawing::new(&TrayPlan::default(), trays);
            let arrangement = drawing.arrange(vec2(800.0, 600.0));
            let corner = pos2(3.0, 4.0);
            for tray in 0..count {
                let origin = arrangement.origin(corner, tray);
                let rect = Rect::from_min_size(origin, drawing.trays[tray].shape.outer(arrangement.scale));
                assert_eq!(
                    arrangement.tray_under(corner, rect.center()),
                    Some(tray),
                    "{count}"
                );
                let all = Rect::from_min_size(corner, arrangement.size);
                assert!(
                    all.expand(0.5).contains_rect(rect),
                    "{count}: {rect:?} in {all:?}"
                );
            }
        }
    }
}
