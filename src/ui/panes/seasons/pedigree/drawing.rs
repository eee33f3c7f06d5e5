//! The pedigree drawn: a column for each season, boxes of families, lines from mothers to daughters.

use crate::insight::{Lineage, Pedigree, PedigreeStep};
use crate::ui::tokens::Tokens;
use egui::{
    Align2, CornerRadius, EventFilter, FontId, Id, Key, Modifiers, Painter, Pos2, Rect, Role, ScrollArea,
    Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};

/// Width of a box at full size, in points.
const BOX_WIDTH: f32 = 116.0;
/// Height of a box.
const BOX_HEIGHT: f32 = 22.0;
/// From the left of one column to that of the next.
const COLUMN: f32 = 188.0;
/// From the top of one box to that of the next.
const PITCH: f32 = 27.0;
/// Room at the left and the right.
const AROUND: f32 = 14.0;
/// Height of the names of the seasons, which stay in sight.
const HEAD: f32 = 40.0;
/// Room that a year takes in the head.
const YEAR: f32 = 46.0;
/// Size of the text in a box at full size.
const TEXT: f32 = 12.5;
/// Text smaller than this is not drawn.
const LEAST_TEXT: f32 = 6.5;
/// The least and the greatest zoom.
pub(super) const ZOOM: [f32; 2] = [0.15, 2.0];
/// By how much a key zooms.
pub(super) const ZOOM_STEP: f32 = 1.25;
/// At most so much room at the left end of a line is straight.
const STRAIGHT: f32 = 10.0;

/// How the pedigree is drawn now.
pub(super) struct Drawn<'a> {
    pub id: Id,
    pub pedigree: &'a Pedigree,
    pub picked: Option<usize>,
    pub lineage: &'a Lineage,
    pub zoom: f32,
    /// Height of the drawing.
    pub height: f32,
    /// Whether the picked family is to be brought into sight.
    pub reveal: bool,
    /// What is said of the picked family.
    pub said: &'a str,
}

/// What was asked for.
#[derive(Debug, Default)]
pub(super) struct Asked {
    pub picked: Option<usize>,
    pub zoom: Option<f32>,
    /// The card of the picked ear is wanted.
    pub card: bool,
    /// The picked family is to be left.
    pub leaves: bool,
}

/// The zoom at which the whole pedigree has room.
pub(super) fn whole(pedigree: &Pedigree, room: Vec2) -> f32 {
    let size = size(pedigree, 1.0);
    let fit = (room.x / size.x).min((room.y - HEAD - 2.0 * AROUND) / (size.y - HEAD).max(1.0));
    fit.clamp(ZOOM[0], 1.0)
}

fn size(pedigree: &Pedigree, zoom: f32) -> Vec2 {
    let columns = pedigree.seasons.len().max(1) as f32;
    vec2(
        2.0 * AROUND + zoom * ((columns - 1.0) * COLUMN + BOX_WIDTH),
        HEAD + AROUND + zoom * pedigree.height as f32 * PITCH,
    )
}

/// Where everything lies on screen.
struct Places {
    corner: Pos2,
    zoom: f32,
}

impl Places {
    fn left(&self, season: usize) -> f32 {
        self.corner.x + AROUND + self.zoom * season as f32 * COLUMN
    }

    fn of(&self, pedigree: &Pedigree, family: usize) -> Rect {
        let one = &pedigree.families[family];
        let top = self.corner.y + HEAD + self.zoom * one.place as f32 * PITCH;
        Rect::from_min_size(
            pos2(self.left(one.season), top),
            self.zoom * vec2(BOX_WIDTH, BOX_HEIGHT),
        )
    }

    /// The families of a season that lie between two heights.
    fn between<'a>(&self, pedigree: &'a Pedigree, season: usize, top: f32, bottom: f32) -> &'a [usize] {
        let column = &pedigree.seasons[season].families;
        let first = column.partition_point(|family| self.of(pedigree, *family).bottom() < top);
        let last = column.partition_point(|family| self.of(pedigree, *family).top() <= bottom);
        &column[first..last.max(first)]
    }
}

/// Draws the pedigree and takes what is done with it.
pub(super) fn show(ui: &mut Ui, drawn: &Drawn<'_>) -> Asked {
    let mut asked = Asked::default();
    let has_focus = ui.memory(|m| m.has_focus(drawn.id));
    if has_focus {
        keys(ui, drawn, &mut asked);
    }
    let size = size(drawn.pedigree, drawn.zoom);
    ScrollArea::both()
        .id_salt("pedigree drawing")
        .auto_shrink([false, true])
        .max_height(drawn.height)
        .min_scrolled_height(drawn.height)
        .show_viewport(ui, |ui, viewport| {
            let rect = Rect::from_min_size(ui.min_rect().min, size.max(vec2(ui.available_width(), 0.0)));
            ui.allocate_rect(rect, Sense::hover());
            let response = ui.interact(rect, drawn.id, Sense::click_and_drag());
            let places = Places {
                corner: rect.min,
                zoom: drawn.zoom,
            };
            let seen = viewport.translate(ui.min_rect().min.to_vec2());
            if response.dragged() {
                ui.scroll_with_delta(response.drag_delta());
            }
            if response.clicked() {
                response.request_focus();
                if let Some(point) = response.interact_pointer_pos() {
                    asked.picked = under(drawn.pedigree, &places, point);
                    asked.leaves = asked.picked.is_none();
                }
            }
            if response.hovered() {
                let by = ui.input(egui::InputState::zoom_delta);
                if (by - 1.0).abs() > 1e-3 {
                    asked.zoom = Some(drawn.zoom * by);
                }
            }
            paint(ui, drawn, &places, seen, has_focus);
            if let Some(point) = response.hover_pos()
                && let Some(family) = under(drawn.pedigree, &places, point)
            {
                let text = format!(
                    "{} {}.",
                    drawn.pedigree.path(family),
                    drawn.pedigree.facts(family)
                );
                response.clone().on_hover_text_at_pointer(text);
            }
            if drawn.reveal
                && let Some(family) = drawn.picked
            {
                let mut rect = places.of(drawn.pedigree, family).expand(AROUND);
                // The names of the seasons lie over what is at the top.
                rect.min.y -= HEAD;
                ui.scroll_to_rect(rect, None);
            }
            response.widget_info(|| {
                let mut info = WidgetInfo::labeled(Role::Grid, true, "Pedigree");
                info.current_text_value = Some(drawn.said.to_owned());
                info
            });
        });
    asked
}

fn under(pedigree: &Pedigree, places: &Places, point: Pos2) -> Option<usize> {
    (0..pedigree.seasons.len())
        .flat_map(|season| places.between(pedigree, season, point.y, point.y))
        .copied()
        .find(|family| places.of(pedigree, *family).contains(point))
}

fn keys(ui: &Ui, drawn: &Drawn<'_>, asked: &mut Asked) {
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: drawn.picked.is_some(),
        ..EventFilter::default()
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(drawn.id, filter));
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    let pedigree = drawn.pedigree;
    let steps = [
        (Key::ArrowLeft, PedigreeStep::Mother),
        (Key::ArrowRight, PedigreeStep::Daughter),
        (Key::ArrowUp, PedigreeStep::Above),
        (Key::ArrowDown, PedigreeStep::Below),
    ];
    for (key, step) in steps {
        if pressed(key) {
            // The filter does not hold yet in the first pass: egui must not move the focus by the same key.
            ui.memory_mut(|m| m.move_focus(egui::FocusDirection::None));
            asked.picked = match drawn.picked {
                Some(family) => pedigree.step(family, step),
                None => pedigree
                    .seasons
                    .last()
                    .and_then(|season| season.families.first().copied()),
            };
        }
    }
    for (key, season) in [
        (Key::Home, pedigree.seasons.first()),
        (Key::End, pedigree.seasons.last()),
    ] {
        if pressed(key) {
            asked.picked = season.and_then(|season| season.families.first().copied());
        }
    }
    for (key, by) in [
        (Key::Plus, ZOOM_STEP),
        (Key::Equals, ZOOM_STEP),
        (Key::Minus, 1.0 / ZOOM_STEP),
    ] {
        if pressed(key) {
            asked.zoom = Some(drawn.zoom * by);
        }
    }
    asked.card = pressed(Key::Enter);
    asked.leaves = drawn.picked.is_some() && pressed(Key::Escape);
}

/// What a family is to the picked one.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Picked,
    Before,
    After,
    Apart,
}

impl Part {
    fn of(drawn: &Drawn<'_>, family: usize) -> Self {
        match () {
            () if drawn.picked == Some(family) => Self::Picked,
            () if drawn.lineage.ancestors.contains(&family) => Self::Before,
            () if drawn.lineage.descendants.contains(&family) => Self::After,
            () => Self::Apart,
        }
    }

    fn sign(self) -> &'static str {
        match self {
            Self::Picked => "◆ ",
            Self::Before => "▲ ",
            Self::After => "▼ ",
            Self::Apart => "",
        }
    }
}

fn paint(ui: &Ui, drawn: &Drawn<'_>, places: &Places, seen: Rect, has_focus: bool) {
    let t = Tokens::of(ui);
    let painter = ui.painter();
    let pedigree = drawn.pedigree;
    let sight = seen.expand2(vec2(0.0, BOX_HEIGHT));
    let in_sight = |season: usize| {
        let left = places.left(season);
        left + places.zoom * BOX_WIDTH >= seen.left() && left <= seen.right()
    };
    lines(painter, t, drawn, places, seen);
    for season in (0..pedigree.seasons.len()).filter(|season| in_sight(*season)) {
        for family in places.between(pedigree, season, sight.top(), sight.bottom()) {
            family_box(painter, t, drawn, places, *family, has_focus);
        }
    }
    let head = Rect::from_min_size(seen.min, vec2(seen.width(), HEAD - 4.0));
    painter.rect_filled(head, 0.0, t.raised);
    painter.line_segment(
        [head.left_bottom(), head.right_bottom()],
        Stroke::new(1.0, t.line),
    );
    // Years that would lie over each other are left out.
    let every = (YEAR / (places.zoom * COLUMN)).ceil().max(1.0) as usize;
    let last = pedigree.seasons.len() - 1;
    let is_named = |at: usize| in_sight(at) && (last - at).is_multiple_of(every);
    for (at, season) in pedigree
        .seasons
        .iter()
        .enumerate()
        .filter(|(at, _)| is_named(*at))
    {
        let corner = pos2(places.left(at), head.top() + 2.0);
        painter.text(corner, Align2::LEFT_TOP, season.year, t.strong_font(), t.text);
        let text = format!(
            "{} · {}",
            families(season.families.len()),
            pollen_word(season.is_stated, &season.pollen)
        );
        if places.zoom * COLUMN > 90.0 {
            let wide = places.zoom * COLUMN - 8.0;
            short(
                painter,
                corner + vec2(0.0, 18.0),
                &text,
                FontId::proportional(11.0),
                t.quiet,
                wide,
            );
        }
    }
}

pub(super) fn families(many: usize) -> String {
    match many {
        1 => "1 family".to_owned(),
        many => format!("{many} families"),
    }
}

/// The pollen of a season in a few words.
fn pollen_word(is_stated: bool, pollen: &str) -> String {
    if is_stated {
        let first = pollen.split([',', ';']).next().unwrap_or(pollen);
        format!("pollen {first}")
    } else {
        "pollen not stated".to_owned()
    }
}

/// Text that ends with dots where there is no room.
fn short(painter: &Painter, at: Pos2, text: &str, font: FontId, colour: egui::Color32, wide: f32) {
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, colour);
    job.wrap = egui::text::TextWrapping::truncate_at_width(wide.max(1.0));
    let galley = painter.layout_job(job);
    painter.galley(at, galley, colour);
}

/// Draws the lines from mothers to daughters, those of the picked line over the others.
fn lines(painter: &Painter, t: &Tokens, drawn: &Drawn<'_>, places: &Places, seen: Rect) {
    let pedigree = drawn.pedigree;
    let mut over = Vec::new();
    for (family, one) in pedigree.families.iter().enumerate() {
        let Some(mother) = one.mother else { continue };
        let [from, to] = [mother, family].map(|one| places.of(pedigree, one));
        if !Rect::from_two_pos(from.right_center(), to.left_center()).intersects(seen) {
            continue;
        }
        let straight = (STRAIGHT * places.zoom).min(0.3 * (to.left() - from.right()));
        let points = vec![
            from.right_center(),
            from.right_center() + vec2(straight, 0.0),
            to.left_center() - vec2(straight, 0.0),
            to.left_center(),
        ];
        let is_picked = match Part::of(drawn, family) {
            Part::Picked | Part::Before => drawn.picked.is_some(),
            Part::After => matches!(Part::of(drawn, mother), Part::Picked | Part::After),
            Part::Apart => false,
        };
        if is_picked {
            over.push(Shape::line(points, Stroke::new(2.5, t.accent)));
        } else {
            painter.add(Shape::line(points, Stroke::new(1.0, t.mark_neutral)));
        }
    }
    painter.extend(over);
}

fn family_box(
    painter: &Painter,
    t: &Tokens,
    drawn: &Drawn<'_>,
    places: &Places,
    family: usize,
    has_focus: bool,
) {
    let one = &drawn.pedigree.families[family];
    let rect = places.of(drawn.pedigree, family);
    let part = Part::of(drawn, family);
    let corner = if one.mother.is_some() { 5.0 } else { 0.0 };
    let corners = CornerRadius::same((corner * places.zoom.min(1.0)) as u8);
    let fill = if part == Part::Apart { t.page } else { t.selection };
    painter.rect_filled(rect, corners, fill);
    let stroke = match part {
        Part::Picked => Stroke::new(if has_focus { 3.5 } else { 2.5 }, t.accent),
        Part::Before | Part::After => Stroke::new(1.8, t.accent),
        Part::Apart => Stroke::new(1.0, t.line),
    };
    painter.rect_stroke(rect, corners, stroke, StrokeKind::Inside);
    let size = TEXT * places.zoom;
    if size < LEAST_TEXT {
        return;
    }
    let colour = if part == Part::Apart && drawn.picked.is_some() {
        t.quiet
    } else {
        t.text
    };
    let text = format!("{}{}", part.sign(), one.short());
    let at = rect.left_top() + places.zoom * vec2(6.0, 3.0);
    short(
        painter,
        at,
        &text,
        FontId::proportional(size),
        colour,
        rect.width() - 10.0 * places.zoom,
    );
}
