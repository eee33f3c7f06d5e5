//! The boxes of the entry, large enough to be read from across the table, and the keys.

use super::entry::{Form, Look, Slot, Stroke};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use egui::text::{LayoutJob, TextFormat};
use egui::{
    Align2, Color32, FontId, Rect, Role, Sense, Stroke as Line, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Draws the sum and the boxes; returns what a click means.
pub(super) fn boxes(ui: &mut Ui, look: &Look<'_>, form: &Form, is_counted: bool) -> Option<Stroke> {
    let t = Tokens::of(ui);
    let gap = t.space.small;
    let parts = form.slots().len() as f32 + 1.0;
    let sum_width = 116.0;
    let each = ((ui.available_width() - sum_width - gap * (parts + 1.0)) / parts).clamp(60.0, 150.0);
    let height = if is_low(ui) { 66.0 } else { 96.0 };
    let mut asked = None;
    ui.horizontal(|ui| {
        sum(ui, t, look, vec2(sum_width, height), is_counted);
        for slot in form.slots() {
            let value = match slot {
                Slot::Vigor => look.vigor.map(u16::from),
                Slot::Kernels(category) => look.value(*category),
            };
            let text = value.map_or_else(|| "–".to_owned(), |value| value.to_string());
            let is_current = is_counted && look.slot == *slot;
            if one(ui, t, form.name(*slot), &text, is_current, vec2(each, height)) {
                asked = Some(Stroke::To(*slot));
            }
        }
        if form.is_total() {
            return;
        }
        let mould = if look.mould { "yes" } else { "no" };
        if one(ui, t, "mould", mould, false, vec2(each, height)) {
            asked = Some(Stroke::Mould);
        }
    });
    asked.filter(|_| is_counted)
}

/// How many kernels are accounted for.
fn sum(ui: &mut Ui, t: &Tokens, look: &Look<'_>, size: egui::Vec2, is_counted: bool) {
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    if !is_counted {
        return;
    }
    let kernels = i64::from(look.sum()) + look.rest();
    let figure = format!("{}/{kernels}", look.sum());
    let (caption, colour) = match look.rest() {
        0 => ("✓ complete".to_owned(), t.ok),
        rest if rest < 0 => (format!("⚠ {} too many", -rest), t.bad),
        rest if look.is_complete() && !look.is_total() => (format!("{rest} fresh"), t.ok),
        rest => (format!("{rest} to go"), t.text),
    };
    figure_and_caption(ui, t, rect, &figure, &caption, colour);
    let text = format!("{} of {kernels} kernels, {caption}", look.sum());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &text));
}

fn one(ui: &mut Ui, t: &Tokens, name: &str, text: &str, is_current: bool, size: egui::Vec2) -> bool {
    let (rect, response) = ui.allocate_exact_size(size, Sense::CLICK);
    let (fill, line) = if is_current {
        (t.selection, Line::new(3.0, t.accent))
    } else if response.hovered() {
        (t.panel, Line::new(1.0, t.quiet))
    } else {
        (t.raised, Line::new(1.0, t.quiet))
    };
    ui.painter()
        .rect(rect, f32::from(t.radius), fill, line, StrokeKind::Inside);
    figure_and_caption(ui, t, rect, text, name, t.text);
    if is_current {
        // A sign beside the colour: here the next figure goes.
        let at = rect.center_top() + vec2(0.0, 2.0);
        ui.painter()
            .text(at, Align2::CENTER_TOP, "▼", FontId::proportional(11.0), t.accent);
    }
    response.widget_info(|| {
        let mut info = WidgetInfo::selected(Role::Button, true, is_current, name);
        info.current_text_value = Some(text.to_owned());
        info
    });
    response.clicked()
}

fn figure_and_caption(ui: &Ui, t: &Tokens, rect: Rect, figure: &str, caption: &str, colour: Color32) {
    let size = (rect.height() * 0.5).min(rect.width() / (figure.chars().count().max(2) as f32 * 0.62));
    let painter = ui.painter();
    let at = pos2(rect.center().x, rect.top() + rect.height() * 0.42);
    painter.text(
        at,
        Align2::CENTER_CENTER,
        figure,
        FontId::new(size, fonts::bold()),
        colour,
    );
    let at = pos2(rect.center().x, rect.bottom() - 4.0);
    let wide = painter.layout_no_wrap(caption.to_owned(), t.body_font(), colour);
    let fits = wide.size().x < rect.width() - 4.0;
    let font = if fits { t.body_font() } else { t.small_font() };
    painter.text(at, Align2::CENTER_BOTTOM, caption, font, colour);
}

/// Says what is expected next.
pub(super) fn hint(look: &Look<'_>, form: &Form, is_counted: bool) -> String {
    if !is_counted {
        return "Nothing is counted here. Go on with the arrow keys, '-' or N.".to_owned();
    }
    if look.is_proposed() {
        return "As the photo proposes: look, then go on to confirm it; a digit begins anew.".to_owned();
    }
    if look.is_repeated() {
        return "As in the cell before: Enter records it; + asks for another vigor; a digit begins anew."
            .to_owned();
    }
    if !form.is_final() {
        return if look.is_complete() {
            "Enter records; what is left is fresh.".to_owned()
        } else {
            "Type how many have emerged, then Enter.".to_owned()
        };
    }
    match (look.slot, look.rest()) {
        (_, rest) if rest < 0 => "Too many: Backspace takes back the last key.".to_owned(),
        (Slot::Vigor, _) => "Type the vigor from 0 to 9; it records. Enter records without it.".to_owned(),
        (slot, _) => format!("How many {}?", form.name(slot)),
    }
}

/// Says whether the window is so low that little room is left for words.
pub(super) fn is_low(ui: &Ui) -> bool {
    ui.ctx().content_rect().height() < 640.0
}

/// The keys. Those of the number pad come first; one hand does with them. A low window shows no others.
pub(super) fn legend(ui: &mut Ui, (is_final, is_sheet): (bool, bool)) {
    let t = Tokens::of(ui);
    let mut keys = if is_final {
        vec![
            ("0–9", "number, vigor"),
            ("+", "next, or as before"),
            (".", "rest into the next"),
            ("*", "rest dead, then mould"),
            ("/", "rest fresh, then a note"),
            ("Enter", "records"),
            ("−", "takes back"),
        ]
    } else {
        vec![
            ("0–9", "emerged"),
            ("Enter", "records, the rest is fresh"),
            ("+", "next, or as before"),
            ("*", "rest dead, then mould"),
            ("−", "takes back"),
        ]
    };
    if is_sheet {
        keys.extend([("N", "blank on the sheet"), ("Delete", "empties")]);
    } else if !is_low(ui) {
        keys.extend([
            ("R", "as the cell before"),
            ("M", "mould"),
            ("V", "rest missing"),
            ("W", "note"),
            ("K", "kernels laid"),
            ("Delete", "withdraws"),
            ("N", "next not counted"),
            ("G", "go to"),
            ("Arrows", "any cell"),
            ("Page Up/Down", "tray"),
            ("O", "photos"),
            ("F6", "leave"),
        ]);
    }
    let mut job = LayoutJob::default();
    for (at, (key, what)) in keys.into_iter().enumerate() {
        let bold = FontId::new(t.type_size.small, fonts::bold());
        let gap = if at == 0 { 0.0 } else { 12.0 };
        // Spaces that do not break keep a key and its meaning together.
        let key = key.replace(' ', "\u{a0}");
        job.append(&key, gap, TextFormat::simple(bold, t.text));
        job.append(
            &format!("\u{a0}{}", what.replace(' ', "\u{a0}")),
            0.0,
            TextFormat::simple(t.small_font(), t.quiet),
        );
        job.append(" ", 0.0, TextFormat::simple(t.small_font(), t.quiet));
    }
    ui.label(job);
}
