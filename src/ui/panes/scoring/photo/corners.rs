//! The four corners of a tray in its photograph, dragged by mouse or moved by keys, with the cells drawn on it.

use super::measure::line;
use super::{Scoring, landmarks, pass_text};
use crate::insight::Reading;
use crate::model::{Command, Pass, Photo, PhotoId, Project, Test, Tray, TrayId, cell_name, sentence};
use crate::photo::{CellGrid, Corners, Point, RectMm, RgbImage, Straightened, first_guess};
use crate::ui::context::{Action, PaneCtx, Tone};
use crate::ui::fonts;
use crate::ui::photos::{Shown, WholePhoto, grid_of};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::primary_button_enabled;
use egui::{
    Align2, Color32, ColorImage, ComboBox, Event, EventFilter, FontId, Id, Key, Label, Modifiers, Painter,
    Pos2, Rect, RichText, Role, Sense, Stroke, StrokeKind, TextureHandle, TextureOptions, Ui, UiBuilder,
    Vec2, WidgetInfo, pos2, vec2,
};

/// How wide and high the place of a corner is that can be grabbed, in points.
const HANDLE: f32 = 30.0;

/// Side of the magnifier, in points.
const GLASS: f32 = 190.0;

/// How far an arrow key moves a corner, as a part of the longer side of the photograph; at least a pixel.
const STEP: f64 = 1.0 / 2500.0;

/// How much farther it moves with Shift.
const LEAP: f64 = 15.0;

/// The corners as the tray lies.
const NAMES: [&str; 4] = ["Top left", "Top right", "Bottom right", "Bottom left"];

/// A photograph whose corners are being set.
#[derive(Debug)]
pub(super) struct CornerEditor {
    photo: PhotoId,
    /// The corners as they stand now; none until the photograph is known.
    corners: Option<Corners>,
    /// How often the tray was turned.
    turns: u8,
    /// Whether nobody has touched a corner, so that a turn may guess anew.
    is_guess: bool,
    /// The corner that was moved last.
    active: usize,
    /// A corner that is to have the keyboard.
    focus: Option<usize>,
    glass: Option<Glass>,
}

/// What the magnifier shows, and around which place.
struct Glass {
    /// The pixel of the photograph in its middle.
    middle: [i64; 2],
    texture: TextureHandle,
}

impl std::fmt::Debug for Glass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "magnifier at {:?}", self.middle)
    }
}

/// What the grower wants done with the editor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wish {
    Accept,
    Leave,
    Turn,
    Next,
}

fn handle(corner: usize) -> Id {
    Id::unique(("corner of the photo", corner))
}

impl CornerEditor {
    /// Opens a photograph.
    pub fn new(photo: PhotoId) -> Self {
        Self {
            photo,
            corners: None,
            turns: 0,
            is_guess: true,
            active: 0,
            focus: Some(0),
            glass: None,
        }
    }

    /// The corners as they stand: those of the photograph, or a guess.
    fn corners(&mut self, photo: &Photo, grid: &CellGrid) -> Corners {
        if let Some(corners) = self.corners {
            return corners;
        }
        let corners = photo.corners.unwrap_or_else(|| guess(grid, photo, self.turns));
        self.is_guess = photo.corners.is_none();
        self.corners = Some(corners);
        corners
    }

    /// The next corner of the photograph becomes the tray's top left one.
    fn turn(&mut self, photo: &Photo, grid: &CellGrid) {
        let mut corners = self.corners(photo, grid);
        self.turns = (self.turns + 1) % 4;
        corners.rotate_left(1);
        if self.is_guess {
            corners = guess(grid, photo, self.turns);
        }
        self.corners = Some(corners);
    }

    fn shift(&mut self, corner: usize, by: Point) {
        if let Some(corners) = &mut self.corners {
            corners[corner] = [corners[corner][0] + by[0], corners[corner][1] + by[1]];
            self.is_guess = false;
            self.active = corner;
        }
    }
}

/// Corners to begin with, of a tray that was turned so many times.
fn guess(grid: &CellGrid, photo: &Photo, turns: u8) -> Corners {
    let lying = CellGrid {
        rows: grid.columns,
        columns: grid.rows,
        cell_width_mm: grid.cell_height_mm,
        cell_height_mm: grid.cell_width_mm,
        aisle_mm: grid.aisle_mm,
    };
    let shape = if turns % 2 == 1 { &lying } else { grid };
    let mut corners = first_guess(shape, (photo.width, photo.height));
    corners.rotate_left(usize::from(turns % 4));
    corners
}

/// The photographs of a test whose corners are not set, by tray and number.
fn without_corners(project: &Project, test: &Test) -> Vec<PhotoId> {
    let of_test = |tray: TrayId| project.trays.get(tray).is_some_and(|tray| tray.test == test.id);
    let photos = project.photos.iter();
    photos
        .filter(|photo| photo.corners.is_none() && of_test(photo.tray))
        .map(|photo| photo.id)
        .collect()
}

/// How the photograph lies on the screen.
#[derive(Clone, Copy)]
struct View {
    rect: Rect,
    scale: f32,
}

impl View {
    fn fit(room: Rect, (width, height): (u32, u32)) -> Self {
        let size = vec2(width as f32, height as f32);
        let scale = (room.width() / size.x).min(room.height() / size.y);
        Self {
            rect: Rect::from_center_size(room.center(), size * scale),
            scale,
        }
    }

    fn pos(&self, [x, y]: Point) -> Pos2 {
        self.rect.min + vec2(x as f32, y as f32) * self.scale
    }
}

impl Scoring {
    /// Draws the corners of a photograph in place of the pane; says whether it did.
    pub(in crate::ui::panes::scoring) fn corners_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        reading: Reading,
    ) -> bool {
        let Some(mut editor) = self.photo.corners.take() else {
            return false;
        };
        let project = ctx.document.project();
        let is_here =
            |photo: &&Photo| project.test_of_tray(photo.tray).map(|other| other.id) == Some(test.id);
        let photo = project.photos.get(editor.photo).filter(is_here).cloned();
        let Some((photo, grid)) =
            photo.and_then(|photo| grid_of(project, photo.tray).map(|grid| (photo, grid)))
        else {
            return false;
        };
        if let Some(why) = ctx.read_only {
            self.message = Some((Tone::Error, sentence(why)));
            return false;
        }
        let corners = editor.corners(&photo, &grid);
        let tray = Straightened::new(grid, &corners);
        let mut wish = Self::corner_keys(ui, &mut editor, &photo);
        let clicked = corner_head(ui, ctx, test, reading, &photo, &mut editor, tray.is_ok());
        wish = wish.or(clicked);
        let t = Tokens::of(ui);
        let (text, colour) = match &tray {
            Ok(_) => (
                "Drag the four corners of the cells, or move them with the arrow keys (Shift: farther); Tab takes the next \
                 corner. Crossed cells are landmarks, left empty on purpose. T turns the tray."
                    .to_owned(),
                t.quiet,
            ),
            Err(fault) => (sentence(&format!("⚠ {fault}")), t.bad),
        };
        // Two lines in any case, so that the photograph does not move under the pointer.
        let two_lines = 2.0 * ui.text_style_height(&egui::TextStyle::Body) + 4.0;
        let top = ui.cursor().top();
        ui.add(Label::new(RichText::new(text).color(colour)).wrap());
        ui.add_space((two_lines - (ui.cursor().top() - top)).max(0.0));
        let room = ui.available_rect_before_wrap();
        ui.allocate_rect(room, Sense::hover());
        let mut inside = ui.new_child(UiBuilder::new().max_rect(room));
        match ctx.photos.whole(ui.ctx(), &photo) {
            Shown::Ready(whole) => {
                let marks = landmarks(project, photo.tray);
                corner_picture(&mut inside, &mut editor, &whole, tray.ok().as_ref(), &marks);
            }
            Shown::Waiting => {
                inside.label(RichText::new("Opening the photo…").color(t.quiet));
            }
            Shown::Failed(why) => {
                inside.add(Label::new(RichText::new(format!("⚠ {why}")).color(t.warn)).wrap());
                if inside.button("Find photos…").clicked() {
                    ctx.act(Action::FindPhotos);
                }
            }
        }
        self.grant(
            ctx,
            test,
            editor,
            &photo,
            &grid,
            wish.filter(|wish| *wish != Wish::Accept || tray.is_ok()),
        );
        if wish.is_some() {
            ui.ctx().request_repaint();
        }
        true
    }

    /// Does what was wished for, and keeps the editor open unless that ends it.
    fn grant(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        mut editor: CornerEditor,
        photo: &Photo,
        grid: &CellGrid,
        wish: Option<Wish>,
    ) {
        let open = without_corners(ctx.document.project(), test);
        // The next one after this, round to the first.
        let after = |id: PhotoId| {
            let later = open.iter().find(|other| **other > id);
            later
                .or_else(|| open.first())
                .copied()
                .filter(|other| *other != id)
        };
        match wish {
            None => self.photo.corners = Some(editor),
            Some(Wish::Turn) => {
                editor.turn(photo, grid);
                self.photo.corners = Some(editor);
            }
            Some(Wish::Leave) => {}
            Some(Wish::Next) => {
                self.photo.corners = Some(after(photo.id).map_or(editor, CornerEditor::new));
            }
            Some(Wish::Accept) => {
                let corners = Some(editor.corners(photo, grid));
                change(ctx, photo, |photo| photo.corners = corners);
                self.photo.chosen.insert(photo.tray, photo.id);
                self.photo.corners = after(photo.id).map(CornerEditor::new);
            }
        }
    }

    /// Takes the keys of the corners, unless a list is open.
    fn corner_keys(ui: &Ui, editor: &mut CornerEditor, photo: &Photo) -> Option<Wish> {
        let focused = ui.memory(egui::Memory::focused);
        let corner = (0..4).find(|corner| focused == Some(handle(*corner)));
        if focused.is_some() && corner.is_none() {
            return None;
        }
        let longest = f64::from(photo.width.max(photo.height));
        let step = (longest * STEP).round().max(1.0);
        let mut wish = None;
        let events = ui.input_mut(|i| std::mem::take(&mut i.events));
        let mut rest = Vec::new();
        for event in events {
            let Event::Key {
                key,
                pressed: true,
                modifiers,
                repeat,
                ..
            } = &event
            else {
                rest.push(event);
                continue;
            };
            if modifiers.any() && *modifiers != Modifiers::SHIFT {
                rest.push(event);
                continue;
            }
            let step = if modifiers.shift { LEAP * step } else { step };
            let by = match key {
                Key::ArrowLeft => [-step, 0.0],
                Key::ArrowRight => [step, 0.0],
                Key::ArrowUp => [0.0, -step],
                Key::ArrowDown => [0.0, step],
                _ => [0.0, 0.0],
            };
            match (key, corner) {
                (Key::ArrowLeft | Key::ArrowRight | Key::ArrowUp | Key::ArrowDown, Some(corner)) => {
                    editor.shift(corner, by);
                }
                (Key::Enter, _) if !repeat => wish = Some(Wish::Accept),
                (Key::Escape, _) => wish = Some(Wish::Leave),
                (Key::T, _) if !repeat => wish = Some(Wish::Turn),
                (Key::N, _) if !repeat => wish = Some(Wish::Next),
                _ => rest.push(event),
            }
        }
        ui.input_mut(|i| i.events = rest);
        wish
    }
}

/// The line above the photograph: which tray and count it is of, and what can be done.
fn corner_head(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    test: &Test,
    reading: Reading,
    photo: &Photo,
    editor: &mut CornerEditor,
    can_accept: bool,
) -> Option<Wish> {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
    let mut wish = None;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(&photo.file).font(t.strong_font()));
        ui.label("shows");
        let trays: Vec<&Tray> = project.trays_of(test.id).collect();
        let number = |tray: &Tray| format!("tray {}", tray.number);
        let shown = project.trays.get(photo.tray).map_or_else(String::new, number);
        let combo = ComboBox::from_id_salt("tray of the photo")
            .selected_text(shown)
            .width(84.0)
            .show_ui(ui, |ui| {
                for tray in trays {
                    if ui.selectable_label(tray.id == photo.tray, number(tray)).clicked() {
                        change(ctx, photo, |photo| photo.tray = tray.id);
                        if editor.is_guess {
                            editor.corners = None;
                        }
                    }
                }
            });
        combo.response.accessible_name("Tray of the photo");
        ui.label("at the");
        let mut passes = vec![Some(Pass::Early), Some(Pass::Final), None];
        for pass in [photo.pass, Some(reading.pass)] {
            if !passes.contains(&pass) {
                passes.insert(1, pass);
            }
        }
        let combo = ComboBox::from_id_salt("count of the photo")
            .selected_text(pass_text(photo.pass))
            .width(110.0)
            .show_ui(ui, |ui| {
                for pass in passes {
                    if ui.selectable_label(pass == photo.pass, pass_text(pass)).clicked() {
                        change(ctx, photo, |photo| photo.pass = pass);
                    }
                }
            });
        combo.response.accessible_name("Count of the photo");
        if ui
            .button("Turn (T)")
            .on_hover_text("A quarter turn of the tray in the photo")
            .clicked()
        {
            wish = Some(Wish::Turn);
        }
        if primary_button_enabled(ui, can_accept, "Accept (Enter)").clicked() {
            wish = Some(Wish::Accept);
        }
        if ui.button("Leave (Esc)").clicked() {
            wish = Some(Wish::Leave);
        }
        let others = without_corners(project, test);
        let others = others.iter().filter(|other| **other != photo.id).count();
        if others > 0
            && ui
                .button(format!("Next of {others} without corners (N)"))
                .clicked()
        {
            wish = Some(Wish::Next);
        }
    });
    wish
}

fn change(ctx: &mut PaneCtx<'_>, photo: &Photo, how: impl FnOnce(&mut Photo)) {
    let mut changed = photo.clone();
    how(&mut changed);
    if changed != *photo {
        ctx.act(Action::CloseStep);
        ctx.run(Command::EditPhoto(changed));
        ctx.act(Action::CloseStep);
    }
}

/// The photograph with its corners, the cells on it, and the magnifier.
fn corner_picture(
    ui: &mut Ui,
    editor: &mut CornerEditor,
    whole: &WholePhoto,
    tray: Option<&Straightened>,
    marks: &[(u16, u16)],
) {
    let t = Tokens::of(ui);
    let room = ui.max_rect().shrink(HANDLE / 2.0);
    let view = View::fit(room, whole.pixels.dimensions());
    let painter = ui.painter().clone();
    if let Some(texture) = whole.texture() {
        let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        painter.image(texture.id(), view.rect, uv, Color32::WHITE);
    }
    let Some(corners) = editor.corners else { return };
    let mut dragged = None;
    for (corner, at) in corners.into_iter().enumerate() {
        let place = Rect::from_center_size(view.pos(at), Vec2::splat(HANDLE));
        let place = place.translate(ui.max_rect().clamp(place.center()) - place.center());
        let response = ui.interact(place, handle(corner), Sense::click_and_drag());
        if editor.focus == Some(corner) && ui.memory(|m| m.top_modal_layer().is_none()) {
            response.request_focus();
            editor.focus = None;
        }
        if response.has_focus() {
            let filter = EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                escape: true,
                tab: false,
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(handle(corner), filter));
            editor.active = corner;
        }
        if response.drag_started() {
            response.request_focus();
        }
        if response.dragged() {
            let by = response.drag_delta() / view.scale;
            editor.shift(corner, [f64::from(by.x), f64::from(by.y)]);
            dragged = Some(corner);
        }
        let response = response.on_hover_cursor(egui::CursorIcon::Move);
        response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::Button, true, format!("{} corner", NAMES[corner]));
            info.current_text_value = Some(format!("{:.0} right, {:.0} down, in pixels", at[0], at[1]));
            info
        });
    }
    let corners = editor.corners.unwrap_or(corners);
    match tray {
        Some(tray) => cells(&painter, t, tray, marks, &|point| view.pos(point)),
        None => outline(&painter, t, &corners, &|point| view.pos(point)),
    }
    for (corner, at) in corners.into_iter().enumerate() {
        let at = view.pos(at);
        let is_active = editor.active == corner;
        let has_focus = ui.memory(|m| m.has_focus(handle(corner)));
        let radius = if is_active { 9.0 } else { 7.0 };
        painter.circle(at, radius + 1.5, Color32::TRANSPARENT, Stroke::new(2.0, t.page));
        painter.circle(at, radius, Color32::TRANSPARENT, Stroke::new(2.5, t.accent));
        painter.circle_filled(at, 1.5, t.accent);
        if has_focus {
            let ring = Rect::from_center_size(at, Vec2::splat(HANDLE));
            painter.rect_stroke(ring, 4.0, Stroke::new(2.0, t.accent), StrokeKind::Inside);
        }
    }
    let active = dragged.unwrap_or(editor.active);
    let at = view.pos(corners[active]);
    // In the corner of the room that is farthest away from what is looked at.
    let room = ui.max_rect();
    let side = GLASS.min(room.width() * 0.4).min(room.height() * 0.6);
    let left = if at.x > room.center().x {
        room.left()
    } else {
        room.right() - side
    };
    let top = if at.y > room.center().y {
        room.top()
    } else {
        room.bottom() - side
    };
    let glass = Rect::from_min_size(pos2(left, top), Vec2::splat(side));
    magnifier(ui, editor, whole, corners[active], glass, (tray, marks, &corners));
}

/// A part of the photograph around a corner, so large that its pixels can be told.
fn magnifier(
    ui: &Ui,
    editor: &mut CornerEditor,
    whole: &WholePhoto,
    corner: Point,
    glass: Rect,
    (tray, marks, corners): (Option<&Straightened>, &[(u16, u16)], &Corners),
) {
    let t = Tokens::of(ui);
    let (width, height) = whole.pixels.dimensions();
    let side = (width.max(height) / 40).clamp(48, 200);
    let middle = corner.map(|at| at.floor() as i64);
    if editor.glass.as_ref().is_none_or(|glass| glass.middle != middle) {
        let image = around(&whole.pixels, middle, side);
        let options = TextureOptions::LINEAR;
        if let Some(glass) = &mut editor.glass {
            glass.texture.set(image, options);
            glass.middle = middle;
        } else {
            let texture = ui.ctx().load_texture("magnifier", image, options);
            editor.glass = Some(Glass { middle, texture });
        }
    }
    let Some(Glass { texture, .. }) = &editor.glass else {
        return;
    };
    let painter = ui.painter().with_clip_rect(glass);
    let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(texture.id(), glass, uv, Color32::WHITE);
    let scale = glass.width() / side as f32;
    let half = f64::from(side / 2);
    let pos = |[x, y]: Point| {
        let from = [x - (middle[0] as f64 - half), y - (middle[1] as f64 - half)];
        glass.min + vec2(from[0] as f32, from[1] as f32) * scale
    };
    match tray {
        Some(tray) => cells(&painter, t, tray, marks, &pos),
        None => outline(&painter, t, corners, &pos),
    }
    let at = pos(corner);
    painter.circle(at, 12.0, Color32::TRANSPARENT, Stroke::new(4.0, t.page));
    painter.circle(at, 12.0, Color32::TRANSPARENT, Stroke::new(2.0, t.accent));
    let frame = ui.painter();
    frame.rect_stroke(glass, 4.0, Stroke::new(5.0, t.page), StrokeKind::Outside);
    frame.rect_stroke(glass, 4.0, Stroke::new(2.0, t.accent), StrokeKind::Outside);
}

/// The pixels around a place, black outside of the photograph.
fn around(pixels: &RgbImage, [x, y]: [i64; 2], side: u32) -> ColorImage {
    let (left, top) = (x - i64::from(side / 2), y - i64::from(side / 2));
    let mut rgb = Vec::with_capacity((side * side * 3) as usize);
    for (down, across) in
        (0..i64::from(side)).flat_map(|down| (0..i64::from(side)).map(move |across| (down, across)))
    {
        let at = (u32::try_from(left + across).ok(), u32::try_from(top + down).ok());
        let pixel = match at {
            (Some(x), Some(y)) => pixels.get_pixel_checked(x, y).map_or([0; 3], |pixel| pixel.0),
            _ => [0; 3],
        };
        rgb.extend(pixel);
    }
    ColorImage::from_rgb([side as usize, side as usize], &rgb)
}

/// The four sides alone, where they make no tray.
fn outline(painter: &Painter, t: &Tokens, corners: &Corners, pos: &dyn Fn(Point) -> Pos2) {
    for side in 0..4 {
        line(
            painter,
            t,
            [pos(corners[side]), pos(corners[(side + 1) % 4])],
            1.5,
        );
    }
}

/// The cells of the tray as the photograph shows them.
fn cells(
    painter: &Painter,
    t: &Tokens,
    tray: &Straightened,
    marks: &[(u16, u16)],
    pos: &dyn Fn(Point) -> Pos2,
) {
    let grid = tray.grid();
    let at = |mm: Point| pos(tray.to_photo(mm));
    let (width, height) = (grid.width_mm(), grid.height_mm());
    let upright = |x: f64| [at([x, 0.0]), at([x, height])];
    let level = |y: f64| [at([0.0, y]), at([width, y])];
    let mut lines = Vec::new();
    for column in 1..=grid.columns {
        let cell = grid.cell(1, column);
        lines.push(upright(cell.left));
        if grid.aisle_mm > 0.0 || column == grid.columns {
            lines.push(upright(cell.left + cell.width));
        }
    }
    for row in 1..=grid.rows {
        let cell = grid.cell(row, 1);
        lines.push(level(cell.top));
        if grid.aisle_mm > 0.0 || row == grid.rows {
            lines.push(level(cell.top + cell.height));
        }
    }
    for &(row, column) in marks {
        let RectMm {
            left,
            top,
            width,
            height,
        } = grid.cell(row, column);
        let (right, bottom) = (left + width, top + height);
        lines.push([at([left, top]), at([right, bottom])]);
        lines.push([at([right, top]), at([left, bottom])]);
    }
    for ends in lines {
        line(painter, t, ends, 1.0);
    }
    let (rows, columns) = (grid.rows, grid.columns);
    let mut named = vec![(1, 1), (1, columns), (rows, columns), (rows, 1)];
    named.sort_unstable();
    named.dedup();
    for (row, column) in named {
        let cell = grid.cell(row, column);
        let middle = at([cell.left + cell.width / 2.0, cell.top + cell.height / 2.0]);
        let font = FontId::new(t.type_size.heading, fonts::bold());
        let text = painter.layout_no_wrap(cell_name(row, column), font, t.text);
        let place = Align2::CENTER_CENTER.anchor_size(middle, text.size());
        painter.rect_filled(place.expand(3.0), 3.0, t.raised.gamma_multiply(0.85));
        painter.galley(place.min, text, t.text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn photo(width: u32, height: u32) -> Photo {
        Photo {
            id: PhotoId(1),
            tray: TrayId(1),
            pass: None,
            file: "a.jpg".to_owned(),
            digest: "0".repeat(64),
            width,
            height,
            taken: None,
            corners: None,
        }
    }

    const GRID: CellGrid = CellGrid {
        rows: 4,
        columns: 8,
        cell_width_mm: 31.75,
        cell_height_mm: 76.2,
        aisle_mm: 0.0,
    };

    #[test]
    fn four_turns_lead_back_and_each_is_a_tray() {
        let photo = photo(4000, 3000);
        let mut editor = CornerEditor::new(photo.id);
        let first = editor.corners(&photo, &GRID);
        for _ in 0..4 {
            editor.turn(&photo, &GRID);
            let corners = editor.corners(&photo, &GRID);
            assert!(Straightened::new(GRID, &corners).is_ok(), "{corners:?}");
        }
        assert_eq!(editor.corners(&photo, &GRID), first);
        // Corners that somebody set go round as they are.
        editor.shift(2, [5.0, -3.0]);
        let set = editor.corners(&photo, &GRID);
        editor.turn(&photo, &GRID);
        let turned = editor.corners(&photo, &GRID);
        assert_eq!(turned, [set[1], set[2], set[3], set[0]]);
    }

    #[test]
    fn the_magnifier_shows_what_lies_around_and_black_beyond() {
        let pixels = RgbImage::from_fn(10, 10, |x, y| [x as u8 * 20, y as u8 * 20, 9].into());
        let image = around(&pixels, [0, 0], 4);
        assert_eq!(image.size, [4, 4]);
        assert_eq!(image.pixels[0], Color32::BLACK);
        assert_eq!(image.pixels[2 * 4 + 2].to_array(), [0, 0, 9, 255]);
        assert_eq!(image.pixels[3 * 4 + 3].to_array(), [20, 20, 9, 255]);
    }
}
