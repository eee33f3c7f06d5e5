//! The cell that is being counted: its name and what lies in it in large type, its counts, and what is typed.

use super::entry::Look;
use super::strip;
use super::walk::Walk;
use super::{Asking, Form, Scoring, keyboard, tally_text};
use crate::insight::{Age, Reading, age};
use crate::model::{
    Cell, CellContent, CellId, Command, Count, MOST_KERNELS_PER_CELL, Project, Test, capital,
};
use crate::ui::context::{PaneCtx, Tone};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{FontId, Id, Label, Rect, RichText, Role, TextWrapMode, Ui, WidgetInfo, pos2, vec2};

/// Below this height, in points, the cell's name and what lies in it share a line.
const LOW: f32 = 240.0;

/// The field for the kernels laid in a cell.
pub(super) fn kernels_field(cell: CellId) -> Id {
    Id::unique(("kernels laid", cell.0))
}

impl Scoring {
    pub(super) fn entry_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
    ) {
        let project = ctx.document.project();
        let total = self.total_in_hand(project, cell, reading);
        let is_total = total.is_some();
        let (form, total) = match total {
            Some((form, total)) => (form, Some(total)),
            None => (Self::form(project, cell, reading), None),
        };
        let is_counted = cell.content.is_counted();
        // While the last cell of a row is read back, what was recorded of it stays in sight.
        let is_read_back = matches!(self.asking, Some((id, Asking::ReadBack { .. })) if id == cell.id);
        let shown = match &self.last {
            Some(last) if is_read_back && last.cell == cell.id => Some(&last.entry),
            _ => self.entries.get(&(cell.id, reading)),
        };
        let entry = total.or_else(|| shown.cloned()).unwrap_or_default();
        let look = entry.look(&form);
        // The total stands in the row of the sheet too, which needs the room of a low window.
        let is_apart = matches!(self.asking, Some((_, Asking::Apart { .. })));
        let needs_boxes = !(is_apart && strip::is_low(ui));
        if needs_boxes
            && let Some(stroke) = strip::boxes(ui, &look, &form, is_counted)
            && (self.asking.is_none() || is_total)
        {
            if is_total {
                self.total_stroke(ctx, walk, reading, cell, stroke);
            } else {
                self.press(ctx, walk, reading, stroke);
            }
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
        // As high with a question as with the keys, so that the tray does not jump.
        let top = ui.cursor().top();
        self.words_ui(ui, ctx, walk, reading, cell, (&look, &form));
        let least = if strip::is_low(ui) { 80.0 } else { 92.0 };
        ui.add_space((least - (ui.cursor().top() - top)).max(0.0));
    }

    /// What is said and asked under the boxes, or the keys.
    fn words_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        walk: &Walk,
        reading: Reading,
        cell: &Cell,
        (look, form): (&Look<'_>, &Form),
    ) {
        let t = Tokens::of(ui);
        let is_counted = cell.content.is_counted();
        let message = self.message.clone();
        if message.is_none() && self.question_ui(ui, ctx, walk, reading, cell) {
            return;
        }
        let (tone, text) = message.unwrap_or_else(|| (Tone::Well, strip::hint(look, form, is_counted)));
        let (sign, colour) = match tone {
            Tone::Well => ("", t.text),
            Tone::Warning => ("⚠ ", t.warn),
            Tone::Error => ("✗ ", t.bad),
        };
        let top = ui.cursor().top();
        let said = ui.label(
            RichText::new(format!("{sign}{text}"))
                .font(t.strong_font())
                .color(colour),
        );
        if tone == Tone::Well {
            self.pace_ui(ui, ctx, reading, cell, (top, &said));
        }
        let role = if tone == Tone::Well {
            Role::Status
        } else {
            Role::Alert
        };
        said.widget_info(|| WidgetInfo::labeled(role, true, &text));
        if !self.question_ui(ui, ctx, walk, reading, cell) {
            strip::legend(ui, (form.is_final(), self.sheet.is_some()));
        }
    }

    /// Says, quietly and where there is room beside what is said, how fast it goes.
    fn pace_ui(
        &self,
        ui: &mut Ui,
        ctx: &PaneCtx<'_>,
        reading: Reading,
        cell: &Cell,
        (top, said): (f32, &egui::Response),
    ) {
        let t = Tokens::of(ui);
        let Some(test) = self.test else { return };
        let (here, all) = Self::left(ctx, test, reading, cell.tray);
        let Some(text) = self.pace.sentence(here, all) else {
            return;
        };
        let galley = ui.painter().layout_no_wrap(text.clone(), t.small_font(), t.quiet);
        let right = ui.max_rect().right();
        let left = right - galley.size().x;
        if said.rect.right() + t.space.medium > left {
            return;
        }
        let place = Rect::from_min_size(pos2(left, top), galley.size());
        let label = Label::new(RichText::new(text).font(t.small_font()).color(t.quiet));
        ui.put(place, label)
            .on_hover_text("Of this sitting; more than a minute between two cells is a pause and left out. Nothing of it is kept.");
    }

    pub(super) fn cell_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        test: &Test,
        reading: Reading,
        cell: &Cell,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        if self.sheet.is_some() {
            return self.row_ui(ui, project, reading, cell);
        }
        let names = if self.blind {
            Names::hidden(cell)
        } else {
            Names::of(project, test, cell)
        };
        let is_short = self.has_photo_inside(ctx, cell, reading);
        titles(ui, cell, &names, is_short);
        self.photo_ui(ui, ctx, reading, cell);
        if !cell.content.is_counted() {
            ui.label("Nothing lies here, so there is nothing to count. If something grows here, the tray is turned or read one cell off.");
            return;
        }
        self.kernels_ui(ui, ctx, test, cell);
        if let Some(note) = self.notes.get(&(cell.id, reading)) {
            ui.label(format!("Note, to be recorded with the count: {note}"));
        }
        if self.blind {
            let is_counted = reading.count(project, cell.id).is_some();
            let what = "What lies here, and what was counted of it before, is hidden.";
            ui.label(RichText::new(what).color(t.quiet));
            if is_counted {
                ui.label("It is counted. A new entry is a correction of that.");
            }
            return;
        }
        let view = ctx.insight.tray_view(ctx.document, cell.tray);
        let view = view
            .as_ref()
            .as_ref()
            .and_then(|tray| tray.at(cell.row, cell.column));
        for problem in view.iter().flat_map(|cell| &cell.problems) {
            ui.label(RichText::new(format!("⚠ {problem}")).color(t.bad));
        }
        let mut counts: Vec<&Count> = project
            .counts_of(cell.id)
            .filter(|count| !count.void && !project.is_corrected(count.id))
            .collect();
        counts.sort_by_key(|count| Reading::of(count));
        for count in counts {
            let is_this = Reading::of(count) == reading;
            let text = count_text(project, cell, count, is_this);
            ui.label(RichText::new(text).color(if is_this { t.text } else { t.quiet }));
        }
    }

    fn kernels_ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, cell: &Cell) {
        let kernels = NumberField::new(kernels_field(cell.id), "Kernels laid here")
            .range(1.0..=f64::from(MOST_KERNELS_PER_CELL))
            .width(56.0);
        let shown = f64::from(ctx.document.project().sown(cell));
        if let Some(new) = kernels.show(ui, shown) {
            let new = new as u16;
            let kernels = (new != test.plan.kernels).then_some(new);
            self.laying = Some(ctx.run_for(Command::SetLaid {
                cell: cell.id,
                kernels,
            }));
            ui.memory_mut(|m| m.request_focus(keyboard()));
        }
    }
}

/// What lies in the cell, in large type; in one line where there is little room, as beside a photograph.
fn titles(ui: &mut Ui, cell: &Cell, names: &Names, is_short: bool) {
    let t = Tokens::of(ui);
    let room = ui.available_size();
    if room.y < LOW || is_short {
        let height = if is_short { 52.0 } else { 76.0 };
        ui.horizontal(|ui| {
            let name = huge(ui, &cell.name(), vec2(room.x * 0.4, height));
            name.on_hover_text(&names.below);
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                huge(ui, &names.content, vec2(ui.available_width(), 26.0));
                ui.label(RichText::new(&names.below).font(t.small_font()));
            });
        });
    } else {
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            huge(ui, &cell.name(), vec2(room.x, (room.y * 0.34).min(190.0)));
            huge(ui, &names.content, vec2(room.x, (room.y * 0.15).min(84.0)));
            let size = (room.y * 0.05).clamp(15.0, 26.0);
            ui.label(RichText::new(&names.below).font(FontId::proportional(size)));
        });
        ui.add_space(t.space.small);
    }
}

/// What lies in a cell, for the large type.
struct Names {
    content: String,
    below: String,
}

impl Names {
    /// What a blind scorer sees.
    fn hidden(cell: &Cell) -> Self {
        let content = match cell.content {
            CellContent::Ear(_) | CellContent::Check(_) => "Blind",
            CellContent::Landmark => "Landmark",
            CellContent::Spare => "Spare",
        };
        Self {
            content: content.to_owned(),
            below: String::new(),
        }
    }

    fn of(project: &Project, test: &Test, cell: &Cell) -> Self {
        let (content, below) = match cell.content {
            CellContent::Ear(ear) => project.ears.get(ear).map_or_else(Default::default, |ear| {
                let mother = project.mother_label(ear);
                let mother = if mother.is_empty() {
                    "mother row not known".to_owned()
                } else {
                    format!("row {mother}")
                };
                (format!("Ear {}", ear.number), format!("{}, {mother}", ear.code))
            }),
            CellContent::Check(number) => (format!("Check {number}"), test.check_lot.clone()),
            CellContent::Landmark => ("Landmark".to_owned(), String::new()),
            CellContent::Spare => ("Spare".to_owned(), String::new()),
        };
        Self { content, below }
    }
}

/// Writes a word as large as fits into a room.
fn huge(ui: &mut Ui, text: &str, room: egui::Vec2) -> egui::Response {
    let by_width = room.x / (text.chars().count().max(2) as f32 * 0.66);
    let size = room.y.min(by_width).max(16.0);
    let text = RichText::new(text).font(FontId::new(size, fonts::bold()));
    ui.add(Label::new(text).wrap_mode(TextWrapMode::Extend))
}

fn count_text(project: &Project, cell: &Cell, count: &Count, is_this: bool) -> String {
    let form = Form::new(&project.about.scheme, count.pass, 0);
    let on = count.on.map_or_else(String::new, |day| {
        let age = age(project, cell, count.pass, day);
        match age.and_then(Age::remark) {
            Some(remark) => format!(" on {day} ({remark})"),
            None => format!(" on {day}"),
        }
    });
    let by = if count.by.is_empty() {
        String::new()
    } else {
        format!(" by {}", count.by)
    };
    let mut seen = vec![tally_text(&count.tally, &form)];
    seen.extend(count.vigor.map(|vigor| format!("vigor {vigor}")));
    seen.extend(count.mould.then(|| "mould".to_owned()));
    seen.extend(count.root_mm.map(|length| format!("root {length:.0} mm")));
    seen.extend(count.shoot_mm.map(|length| format!("shoot {length:.0} mm")));
    let scorer = if count.second { " of the second scorer" } else { "" };
    let mut told = vec![format!(
        "{} count{scorer}{on}{by}: {}.",
        capital(&count.pass.to_string()),
        seen.join(", ")
    )];
    if !count.note.is_empty() {
        told.push(format!("Note: {}.", count.note.trim_end_matches('.')));
    }
    if !count.overruled.is_empty() {
        let why = count.overruled.trim_end_matches('.');
        told.push(format!("Recorded all the same: {why}."));
    }
    if is_this {
        told.push("A new entry is a correction of it.".to_owned());
    }
    told.join(" ")
}
