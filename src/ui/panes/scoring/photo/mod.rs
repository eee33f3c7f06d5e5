//! Photographs beside the count: the picture of the cell in hand, the corners that straighten it, a line to measure roots and
//! shoots with, and a first reading that is only ever proposed.

mod corners;
mod measure;

use super::entry::Stroke;
use super::strip::is_low;
use super::walk::Walk;
use super::{Scoring, keyboard, place_name};
use crate::insight::Reading;
use crate::model::{
    Area, Cell, CellContent, CellId, Command, LengthUnit, MM_PER_INCH, Pass, Photo, PhotoId, Project, Seen,
    Taken, TrayId,
};
use crate::photo::{Clearness, Proposal};
use crate::ui::context::{Action, PaneCtx, Tone};
use crate::ui::photos::{AROUND_MM, NO_FILE, SeenAs, Shown};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::primary_button_enabled;
use corners::CornerEditor;
use egui::{Frame, Label, Margin, Panel, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};
use measure::{Lengths, Line};
use std::collections::BTreeMap;

/// Room over the picture for what names it, in points.
const ABOVE: f32 = 42.0;

/// Room under the picture for what is said of it, in points; less in a low window, which says less.
const UNDER: f32 = 104.0;
const UNDER_LOW: f32 = 44.0;

/// The same under a large picture, where lines are long.
const BELOW_LARGE: f32 = 48.0;

/// How much higher than its room a large picture may be; then it is scrolled.
const MOST_SCREENS: f32 = 3.0;

/// The least width that the boxes of the entry and their sum take, in points.
const ENTRY_WIDTH: f32 = 672.0;

/// The least width of the picture beside them, in points.
const LEAST_SIDE: f32 = 170.0;

/// The least height of a cell's picture, in points.
const LEAST_HEIGHT: f32 = 150.0;

/// What the pane remembers of photographs between frames.
#[derive(Debug, Default)]
pub(super) struct PhotoPart {
    /// The photograph that was chosen for a tray; where none was, the newest of the count.
    chosen: BTreeMap<TrayId, PhotoId>,
    /// Whether the picture of the cell takes the place of the tray.
    is_large: bool,
    /// Whether the picture of the cell stands beside everything else in this frame.
    is_beside: bool,
    corners: Option<CornerEditor>,
    line: Line,
    /// What was measured and not recorded.
    lengths: BTreeMap<(CellId, Reading), Lengths>,
}

impl PhotoPart {
    /// Gives the lengths of roots and shoots, in millimetres, that were measured in a cell and not recorded.
    pub fn lengths(&self, cell: CellId, reading: Reading) -> (Option<f64>, Option<f64>) {
        let lengths = self.lengths.get(&(cell, reading));
        lengths.map_or((None, None), |lengths| (lengths.root(), lengths.shoot()))
    }

    /// Forgets what was measured, once it is recorded.
    pub fn recorded(&mut self, cell: CellId, reading: Reading) {
        self.lengths.remove(&(cell, reading));
    }

    /// Shows a photograph.
    pub fn go(&mut self, photo: &Photo) {
        self.chosen.insert(photo.tray, photo.id);
        if photo.corners.is_none() {
            self.corners = Some(CornerEditor::new(photo.id));
        }
    }
}

fn under(ui: &Ui) -> f32 {
    if is_low(ui) { UNDER_LOW } else { UNDER }
}

/// Writes a length in the grower's unit.
fn length_text(millimetres: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Centimetres => format!("{millimetres:.1} mm"),
        LengthUnit::Inches => format!("{:.2} in", millimetres / MM_PER_INCH),
    }
}

/// The cells of a tray that were left empty on purpose.
fn landmarks(project: &Project, tray: TrayId) -> Vec<(u16, u16)> {
    let cells = project.cells_of(tray);
    let landmarks = cells.filter(|cell| cell.content == CellContent::Landmark);
    landmarks.map(|cell| (cell.row, cell.column)).collect()
}

impl Scoring {
    /// Says whether the corners of a photograph are being set, over which nothing may lie.
    pub fn sets_corners(&self) -> bool {
        self.photo.corners.is_some()
    }

    /// Gives the photograph that is shown of a tray: the chosen one, else the newest of the count, else the newest.
    fn photo_shown<'p>(&self, project: &'p Project, tray: TrayId, reading: Reading) -> Option<&'p Photo> {
        let chosen = self.photo.chosen.get(&tray);
        let chosen = chosen.and_then(|photo| project.photos.get(*photo));
        let newest = || {
            let photos = project.photos_of(tray);
            photos.max_by_key(|photo| (photo.pass == Some(reading.pass), photo.taken, photo.id))
        };
        chosen.filter(|photo| photo.tray == tray).or_else(newest)
    }

    /// Says whether the picture of the cell or its first reading stands among its facts, which leaves little room for
    /// large type.
    pub(super) fn has_photo_inside(&self, ctx: &PaneCtx<'_>, cell: &Cell, reading: Reading) -> bool {
        let is_elsewhere = self.photo.is_beside || self.photo.is_large;
        let is_inside = ctx.photos.reads() || !is_elsewhere;
        is_inside && self.sheet.is_none() && self.photo_seen(ctx.document.project(), cell, reading).is_some()
    }

    // ---- what is asked for -------------------------------------------------------------------------------

    /// Takes the photographs that were dropped on the pane, for the tray and the count in view.
    pub(super) fn take_dropped_photos(&mut self, ctx: &mut PaneCtx<'_>, reading: Reading) {
        let cell = self.cell.and_then(|cell| ctx.document.project().cells.get(cell));
        let Some(cell) = cell else { return };
        let paths = ctx.photos.take_dropped();
        if paths.is_empty() {
            return;
        }
        let (tray, pass) = (cell.tray, Some(reading.pass));
        ctx.act(Action::TakePhotos { paths, tray, pass });
    }

    fn open_photos(&mut self, ctx: &mut PaneCtx<'_>, cell: &Cell, reading: Reading) {
        self.message = None;
        if ctx.photos.project().is_none() {
            self.message = Some((Tone::Warning, NO_FILE.to_owned()));
            return;
        }
        let (tray, pass) = (cell.tray, Some(reading.pass));
        ctx.act(Action::OpenPhotos { tray, pass });
    }

    /// Takes a sign that was typed as one for photographs; says whether it was one.
    pub(super) fn photo_sign(
        &mut self,
        ui: &Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        sign: char,
    ) -> bool {
        let project = ctx.document.project();
        let Some(cell) = self.cell.and_then(|cell| project.cells.get(cell)) else {
            return false;
        };
        let sign = sign.to_ascii_lowercase();
        // On paper nothing is looked at.
        if self.sheet.is_some() || !matches!(sign, 'o' | 'p' | 'c' | 'z' | 'l' | 'f') {
            return false;
        }
        if sign == 'o' {
            self.open_photos(ctx, cell, reading);
            return true;
        }
        let Some(photo) = self.photo_shown(project, cell.tray, reading) else {
            let text = "There is no photo of this tray yet. Press O to open one.";
            self.message = Some((Tone::Warning, text.to_owned()));
            return true;
        };
        match sign {
            'p' => self.turn_photo(project, photo, 1),
            'c' => self.photo.corners = Some(CornerEditor::new(photo.id)),
            'z' => self.photo.is_large = !self.photo.is_large,
            'l' if photo.corners.is_some() => ui.memory_mut(|m| m.request_focus(measure::picture())),
            'l' => {
                let text = "Lengths can be measured once the corners of the photo are set: press C.";
                self.message = Some((Tone::Warning, text.to_owned()));
            }
            _ => self.fill_in(ui, ctx, walk, reading, cell, photo),
        }
        true
    }

    /// Shows the next photograph of the same tray, or the one before.
    fn turn_photo(&mut self, project: &Project, photo: &Photo, by: usize) {
        let photos: Vec<PhotoId> = project.photos_of(photo.tray).map(|photo| photo.id).collect();
        let at = photos.iter().position(|id| *id == photo.id).unwrap_or(0);
        let next = photos[(at + by) % photos.len()];
        self.photo.chosen.insert(photo.tray, next);
        if photos.len() == 1 {
            let text = "This is the only photo of this tray.";
            self.message = Some((Tone::Warning, text.to_owned()));
        }
    }

    // ---- beside the cell ---------------------------------------------------------------------------------

    /// Draws the picture of the cell from head to foot of the pane, as large as its room allows, where the window is wide
    /// enough for both it and the boxes of the entry.
    pub(super) fn photo_side(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, reading: Reading, cell: &Cell) {
        self.photo.is_beside = false;
        let Some((photo, seen)) = self.photo_seen(ctx.document.project(), cell, reading) else {
            return;
        };
        let room = ui.available_size();
        let widest = (room.x - ENTRY_WIDTH).min(room.x * 0.45);
        if self.photo.is_large || widest < LEAST_SIDE {
            return;
        }
        self.photo.is_beside = true;
        let shape = seen.grid().cell(cell.row, cell.column).grown(AROUND_MM);
        let under = under(ui);
        let height = room.y - ABOVE - under;
        let width = (height * (shape.width / shape.height) as f32 + 12.0).clamp(LEAST_SIDE, widest);
        let margin = Margin {
            left: 12,
            ..Margin::ZERO
        };
        Panel::right("scoring photo")
            .resizable(false)
            .exact_size(width)
            .frame(Frame::new().inner_margin(margin))
            .show(ui, |ui| {
                self.photo_head(ui, ctx, reading, cell, &photo);
                let room = vec2(ui.available_width(), ui.available_height() - under);
                self.photo_cell(ui, ctx, (cell, reading, &photo), &seen, room);
            });
    }

    /// Gives the photograph that is shown of a cell, once its corners are set.
    fn photo_seen(&self, project: &Project, cell: &Cell, reading: Reading) -> Option<(Photo, SeenAs)> {
        let photo = self.photo_shown(project, cell.tray, reading)?;
        Some((photo.clone(), SeenAs::of(project, photo)?))
    }

    /// Draws among the facts of the cell what belongs to photographs.
    pub(super) fn photo_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, reading: Reading, cell: &Cell) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        if self.sheet.is_some() {
            return;
        }
        if let Some(says) = ctx.photos.says() {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(says).color(t.quiet));
                if ui.button("Stop").clicked() {
                    ctx.act(Action::StopPhotos);
                }
            });
        }
        let Some(photo) = self.photo_shown(project, cell.tray, reading).cloned() else {
            ui.horizontal_wrapped(|ui| {
                ui.label(
                    RichText::new("No photo of this tray.")
                        .font(t.small_font())
                        .color(t.quiet),
                );
                let text = RichText::new("Open photos… (O)").font(t.small_font());
                if ui
                    .button(text)
                    .on_hover_text("Or drop them on the window")
                    .clicked()
                {
                    self.open_photos(ctx, cell, reading);
                    ui.memory_mut(|m| m.request_focus(keyboard()));
                }
            });
            return;
        };
        if !self.photo.is_beside {
            self.photo_head(ui, ctx, reading, cell, &photo);
        }
        let Some(seen) = SeenAs::of(project, &photo) else {
            ui.add(Label::new("Its corners are not set, so its cells cannot be shown.").wrap());
            if primary_button_enabled(ui, true, "Set corners (C)").clicked() {
                self.photo.corners = Some(CornerEditor::new(photo.id));
            }
            return;
        };
        if let Some(turns) = ctx.photos.turned(&seen) {
            ui.add(Label::new(RichText::new(turned_text(turns)).color(t.warn)).wrap());
        }
        if !self.photo.is_large && !self.photo.is_beside {
            let height = (ui.available_height() - under(ui)).max(LEAST_HEIGHT);
            let room = vec2(ui.available_width(), height);
            self.photo_cell(ui, ctx, (cell, reading, &photo), &seen, room);
        }
        Self::reading_ui(ui, ctx, reading, cell, &photo, &seen);
    }

    /// The line that names the photograph, with what can be done with it.
    fn photo_head(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        reading: Reading,
        cell: &Cell,
        photo: &Photo,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let photos: Vec<PhotoId> = project.photos_of(cell.tray).map(|photo| photo.id).collect();
        let at = photos.iter().position(|id| *id == photo.id).unwrap_or(0);
        let by_pointer = ui.input(|i| i.pointer.any_released());
        let mut done = false;
        let mut parts = vec![pass_text(photo.pass)];
        parts.extend(
            photo
                .taken
                .map(|taken| taken.strftime("%Y-%m-%d %H:%M").to_string()),
        );
        if !self.blind {
            parts.push(photo.file.clone());
        }
        let text = parts.join(", ");
        let caption = |ui: &mut Ui| {
            let label = Label::new(RichText::new(&text).font(t.small_font()).color(t.quiet));
            ui.add(label.truncate()).on_hover_text(&text);
        };
        ui.horizontal(|ui| {
            ui.menu_button("Photo", |ui| {
                done |= self.photo_menu(ui, ctx, reading, cell, photo);
            });
            if photos.len() > 1 {
                if ui.button("◀").accessible_name("Photo before").clicked() {
                    self.turn_photo(project, photo, photos.len() - 1);
                    done = true;
                }
                if ui.button("▶").accessible_name("Next photo").clicked() {
                    self.turn_photo(project, photo, 1);
                    done = true;
                }
                ui.label(RichText::new(format!("{} of {}", at + 1, photos.len())).font(t.small_font()));
            }
            caption(ui);
        });
        if done && by_pointer {
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
    }

    fn photo_menu(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        reading: Reading,
        cell: &Cell,
        photo: &Photo,
    ) -> bool {
        let can_change = ctx.read_only.is_none();
        let mut done = false;
        let mut item = |ui: &mut Ui, enabled: bool, text: &str, hint: &str| {
            let clicked = ui
                .add_enabled(enabled, egui::Button::new(text))
                .on_hover_text(hint)
                .clicked();
            if clicked {
                done = true;
                ui.close();
            }
            clicked
        };
        if item(ui, can_change, "Open photos… (O)", "JPEG or PNG, several at once") {
            self.open_photos(ctx, cell, reading);
        }
        let hint = "Where the tray's cells end in the photo; which tray and which count it is of";
        if item(ui, can_change, "Corners, tray and count… (C)", hint) {
            self.photo.corners = Some(CornerEditor::new(photo.id));
        }
        let size = if self.photo.is_large {
            "Show the tray again (Z)"
        } else {
            "Show the cell large (Z)"
        };
        if item(ui, true, size, "The picture of the cell in place of the tray") {
            self.photo.is_large = !self.photo.is_large;
        }
        if item(
            ui,
            can_change,
            "Find photos…",
            "Looks in a folder for photos that are missing",
        ) {
            ctx.act(Action::FindPhotos);
        }
        let hint = "For giving away: without the place, time and camera that its file tells. The photo itself stays as it is.";
        if item(ui, true, "Save a copy without its place…", hint) {
            match ctx.photos.clean_copy(photo) {
                Some(make) => ctx.save_file(&photo.file, make),
                None => self.message = Some((Tone::Warning, NO_FILE.to_owned())),
            }
        }
        let hint = "From the project; its file stays where it is, and undo brings it back";
        if item(ui, can_change, "Remove this photo", hint) {
            ctx.act(Action::CloseStep);
            ctx.run(Command::RemovePhoto(photo.id));
        }
        ui.separator();
        let mut reads = ctx.photos.reads();
        let checkbox = ui.checkbox(&mut reads, "First reading of photos");
        if checkbox.on_hover_text(READING_ERROR).changed() {
            ctx.act(Action::ReadPhotos(reads));
        }
        done
    }

    /// The picture of the cell, or why there is none.
    fn photo_cell(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        (cell, reading, photo): (&Cell, Reading, &Photo),
        seen: &SeenAs,
        room: egui::Vec2,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let place = (cell.row, cell.column);
        let shown = ctx
            .photos
            .cell_in_view(ui.ctx(), seen, place, || landmarks(project, cell.tray));
        let why = match shown {
            Shown::Ready(picture) => {
                return self.picture_ui(ui, ctx, (cell, reading, photo), &picture, room);
            }
            Shown::Waiting => None,
            Shown::Failed(why) => Some(why),
        };
        // As high as the picture, so that nothing jumps when it comes.
        let (rect, response) = ui.allocate_exact_size(room, Sense::hover());
        let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(rect.shrink(t.space.small)));
        let text = match &why {
            None => "Opening the photo…".to_owned(),
            Some(why) => format!("⚠ {why}"),
        };
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &text));
        let colour = if why.is_some() { t.warn } else { t.quiet };
        inside.add(Label::new(RichText::new(&text).color(colour)).wrap());
        if why.is_some() && ctx.read_only.is_none() && inside.button("Find photos…").clicked() {
            ctx.act(Action::FindPhotos);
        }
    }

    /// Draws the cell's picture large in place of the tray; says whether it did.
    pub(super) fn photo_large_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        reading: Reading,
        cell: &Cell,
    ) -> bool {
        let project = ctx.document.project();
        let seen = self.photo_seen(project, cell, reading);
        let Some((photo, seen)) = seen.filter(|_| self.photo.is_large && self.sheet.is_none()) else {
            return false;
        };
        // The keys keep their place while the tray is not drawn.
        let keys = ui.interact(ui.max_rect(), keyboard(), Sense::click());
        let text = format!("Keys of {}", place_name(project, cell));
        keys.widget_info(|| WidgetInfo::labeled(Role::Grid, true, &text));
        if keys.clicked() {
            keys.request_focus();
        }
        ScrollArea::vertical()
            .id_salt("photo of the cell")
            .auto_shrink(false)
            .show(ui, |ui| {
                let room = (ui.available_size() - vec2(12.0, BELOW_LARGE)).max(vec2(120.0, 120.0));
                let shape = seen.grid().cell(cell.row, cell.column).grown(AROUND_MM);
                let by_width = room.x * (shape.height / shape.width) as f32;
                let height = by_width.clamp(room.y, MOST_SCREENS * room.y);
                self.photo_cell(ui, ctx, (cell, reading, &photo), &seen, vec2(room.x, height));
            });
        true
    }

    // ---- the first reading -------------------------------------------------------------------------------

    fn proposal(ui: &Ui, ctx: &mut PaneCtx<'_>, seen: &SeenAs, cell: &Cell) -> Shown<Option<Proposal>> {
        let project = ctx.document.project();
        let revision = ctx.document.revision_key([Area::Cell, Area::Test]);
        let laid = || {
            let counted = project
                .cells_of(cell.tray)
                .filter(|cell| cell.content.is_counted());
            counted
                .map(|cell| ((cell.row, cell.column), project.sown(cell)))
                .collect()
        };
        match ctx.photos.reading(ui.ctx(), seen, revision, laid) {
            Shown::Ready(read) => {
                let is_here =
                    |(row, column, _): &&(u16, u16, Proposal)| (*row, *column) == (cell.row, cell.column);
                Shown::Ready(read.iter().find(is_here).map(|(.., proposal)| proposal.clone()))
            }
            Shown::Waiting => Shown::Waiting,
            Shown::Failed(why) => Shown::Failed(why),
        }
    }

    fn reading_ui(
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        reading: Reading,
        cell: &Cell,
        photo: &Photo,
        seen: &SeenAs,
    ) {
        if !ctx.photos.reads() || !cell.content.is_counted() {
            return;
        }
        let t = Tokens::of(ui);
        let unit = ctx.document.project().about.units.length;
        let text = match Self::proposal(ui, ctx, seen, cell) {
            Shown::Waiting => "First reading…".to_owned(),
            Shown::Failed(why) => format!("⚠ {why}"),
            Shown::Ready(None) => "No first reading of this cell.".to_owned(),
            Shown::Ready(Some(proposal)) => {
                let text = proposal_text(&proposal, unit);
                let later = photo.pass.is_some_and(|pass| pass != reading.pass);
                let other = if later {
                    " The photo is of another count."
                } else {
                    ""
                };
                format!(
                    "First reading, to be checked: {text}{other} F fills in {}.",
                    proposal.sprouted
                )
            }
        };
        ui.add(Label::new(text).wrap());
        ui.add(Label::new(RichText::new(READING_ERROR).font(t.small_font()).color(t.quiet)).wrap());
    }

    /// Fills the first reading in, for the scorer to confirm or type over.
    fn fill_in(
        &mut self,
        ui: &Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        photo: &Photo,
    ) {
        let why = if !ctx.photos.reads() {
            "The first reading of photos is off. It can be switched on in the menu 'Photo', where its error is told."
        } else if let Some(seen) = SeenAs::of(ctx.document.project(), photo) {
            match Self::proposal(ui, ctx, &seen, cell) {
                Shown::Ready(Some(proposal)) => {
                    return self.press(ctx, walk, reading, Stroke::Proposed(proposal.sprouted));
                }
                Shown::Ready(None) => "There is no first reading of this cell.",
                Shown::Waiting => "The photo is still being read. Press F again in a moment.",
                Shown::Failed(_) => "This photo could not be read at first; why stands beside it.",
            }
        } else {
            "The photo can be read once its corners are set: press C."
        };
        self.message = Some((Tone::Warning, why.to_owned()));
    }

    // ---- lengths -----------------------------------------------------------------------------------------

    /// Adds lengths to counts that are recorded already, each as a correction, once measuring is over.
    pub(super) fn settle_lengths(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        if ctx.read_only.is_some() || ui.memory(|m| m.has_focus(measure::picture())) {
            return;
        }
        let project = ctx.document.project();
        let mut settled = Vec::new();
        for (key, lengths) in &self.photo.lengths {
            let (id, reading) = *key;
            let is_open = self.entries.contains_key(key)
                || self
                    .pending
                    .iter()
                    .any(|pending| (pending.cell, pending.reading) == *key);
            let Some(count) = reading.count(project, id).filter(|_| !is_open) else {
                continue;
            };
            settled.push(*key);
            let root_mm = lengths.root().or(count.root_mm);
            let shoot_mm = lengths.shoot().or(count.shoot_mm);
            if (root_mm, shoot_mm) == (count.root_mm, count.shoot_mm) {
                continue;
            }
            let seen = Seen {
                second: count.second,
                mould: count.mould,
                vigor: count.vigor,
                note: count.note.clone(),
                root_mm,
                shoot_mm,
                overruled: count.overruled.clone(),
                ..Seen::new(id, reading.pass, count.tally)
            };
            let taken = Taken {
                scheme: Some(count.scheme),
                on: count.on,
                by: count.by.clone(),
                ..Taken::new(seen)
            };
            let place = project.cells.get(id).map(|cell| place_name(project, cell));
            ctx.actions.push(Action::CloseStep);
            ctx.actions.push(Action::Run {
                command: Box::new(Command::TakeCounts {
                    label: format!("Lengths in {}", place.unwrap_or_default()),
                    counts: vec![taken],
                }),
                ticket: None,
            });
        }
        for key in settled {
            self.photo.lengths.remove(&key);
        }
    }
}

/// What was measured of the first reading, for the screen. Source: the documentation of `src/photo/reading.rs`, and the test
/// `the_error_of_the_first_reading` in `tests/photo.rs`.
const READING_ERROR: &str = "A first reading is a proposal by colour and shape, never recorded by itself. On 576 cells drawn by program \
    it was off by more than one kernel in 16 of 100 for sprouted and in 53 of 100 for root and shoot; real photos were not measured.";

fn proposal_text(proposal: &Proposal, unit: LengthUnit) -> String {
    let length = |name: &str, length: Option<f64>| {
        length.map_or_else(String::new, |mm| {
            format!(", median {name} {}", length_text(mm, unit))
        })
    };
    let clear = match proposal.clearness {
        Clearness::Good => "Clear",
        Clearness::Fair => "Fairly clear",
        Clearness::Poor => "Unclear",
    };
    format!(
        "{} of {} kernels found sprouted, {} with root and shoot{}{}. {clear}: such cells were off by more than one in {} of 100.",
        proposal.sprouted,
        proposal.kernels,
        proposal.with_both,
        length("root", proposal.root_mm),
        length("shoot", proposal.shoot_mm),
        proposal.clearness.off_in_a_hundred(),
    )
}

fn turned_text(turns: u8) -> String {
    let how = match turns {
        1 => "T once",
        2 => "T twice",
        _ => "T three times",
    };
    format!(
        "⚠ The landmarks seem to lie elsewhere in this photo, as if it were turned. Look at its corners: C, then {how}."
    )
}

/// Names a count for a choice of counts.
fn pass_text(pass: Option<Pass>) -> String {
    pass.map_or_else(|| "no count".to_owned(), |pass| format!("{pass} count"))
}
