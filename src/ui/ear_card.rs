//! The card of one ear: identity, packets, cells and counts, figures, mother and daughters, every decision.

use super::context::Action;
use super::photos::{PhotoShelf, SeenAs, Shown};
use super::tokens::Tokens;
use crate::insight::{Age, CellCard, CountCard, EarCard, Insight, PacketCard};
use crate::model::{Document, EarId, Place, Stand, capital};
use egui::{
    Button, CollapsingHeader, Color32, Grid, Label, Rect, RichText, Role, Sense, Ui, WidgetInfo, pos2, vec2,
};

/// The most room that a photograph of a cell takes, in points.
const PHOTO_WIDTH: f32 = 320.0;
const PHOTO_HEIGHT: f32 = 360.0;

/// Draws the card of an ear. `chosen` is how many ears are chosen; the card is that of the last one.
pub fn show(
    ui: &mut Ui,
    document: &Document,
    insight: &Insight,
    ear: EarId,
    chosen: usize,
    photos: &mut PhotoShelf,
    actions: &mut Vec<Action>,
) {
    let t = Tokens::of(ui);
    let card = insight.ear_card(document, ear);
    let Some(card) = card.as_ref() else {
        ui.label("This ear is no longer in the project. Undo brings it back.");
        return;
    };
    ui.label(RichText::new(format!("Ear {}", card.number)).font(t.title_font()));
    ui.label(RichText::new(card.code.to_string()).font(t.strong_font()));
    if chosen > 1 {
        ui.label(RichText::new(format!("the last of {chosen} chosen ears")).color(t.quiet));
    }
    ui.add_space(t.space.small);
    decision(ui, card);
    mother(ui, card, actions);
    if !card.speed.is_empty() {
        heading(ui, "Speed and vigor");
        for sentence in &card.speed {
            ui.add(Label::new(sentence).wrap());
        }
    }
    if !card.figures.is_empty() {
        heading(ui, "Measured");
        Grid::new("figures")
            .num_columns(2)
            .spacing([t.space.medium, t.space.tiny])
            .show(ui, |ui| {
                for (name, value) in &card.figures {
                    ui.label(RichText::new(name).color(t.quiet));
                    ui.label(value);
                    ui.end_row();
                }
            });
    }
    if !card.brought.is_empty() {
        heading(ui, "From another project");
        for sentence in &card.brought {
            ui.add(Label::new(sentence).wrap());
        }
    }
    if !card.note.is_empty() {
        heading(ui, "Note");
        ui.add(Label::new(&card.note).wrap());
    }
    for (title, text) in &card.weather {
        heading(ui, title);
        ui.add(Label::new(text).wrap());
    }
    heading(ui, "Cells and counts");
    if card.cells.is_empty() {
        ui.label("It lies in no tray yet.");
    }
    for cell in &card.cells {
        cell_ui(ui, cell, actions);
    }
    photos_ui(ui, document, card, photos, actions);
    heading(ui, "Packets");
    if card.packets.is_empty() {
        ui.label("It has no packet. Type its kernels in the pane Harvest.");
    }
    for packet in &card.packets {
        packet_ui(ui, packet);
    }
    if let Some(sowing) = &card.sowing {
        ui.add(Label::new(sowing).wrap());
    }
    if card.stock.reserved > 0 {
        let free = match card.stock.free() {
            None => String::new(),
            Some(free) if free < 0 => format!(", {} more than there are", -free),
            Some(free) => format!(", {free} are free"),
        };
        let text = format!(
            "{} kernels are reserved by the planting list{free}.",
            card.stock.reserved
        );
        ui.add(Label::new(text).wrap());
    }
    if !card.daughters.is_empty() {
        heading(ui, "Rows planted from it");
        for daughter in &card.daughters {
            let name = format!("season {}, row {}", daughter.year, daughter.label);
            if ui.add(Button::new(name)).clicked() {
                actions.push(Action::Go(Place::Row(daughter.row)));
            }
        }
    }
    if !card.lists.is_empty() {
        heading(ui, "On planting lists");
        for list in &card.lists {
            let name = format!(
                "list {} of season {}: plant {}",
                list.version, list.year, list.plant
            );
            if ui.add(Button::new(name)).clicked() {
                actions.push(Action::Go(Place::List(list.list)));
            }
        }
    }
    if !card.fields.is_empty() {
        heading(ui, "In the field");
        for row in &card.fields {
            if ui.add(Button::new(row.title.as_str())).clicked() {
                actions.push(Action::Go(Place::FieldRow(row.row)));
            }
        }
    }
}

fn heading(ui: &mut Ui, text: &str) {
    let t = Tokens::of(ui);
    ui.add_space(t.space.medium);
    ui.label(RichText::new(text).font(t.strong_font()));
}

fn decision(ui: &mut Ui, card: &EarCard) {
    let t = Tokens::of(ui);
    let [plant, retest, leave_out, not_scored] = t.marks();
    let (sign, colour) = match card.stand {
        Stand::Plant => ("●", plant),
        Stand::Retest => ("▲", retest),
        Stand::LeaveOut => ("■", leave_out),
        Stand::NotScored => ("○", not_scored),
    };
    ui.horizontal(|ui| {
        ui.label(RichText::new(sign).color(colour).font(t.heading_font()));
        ui.label(RichText::new(card.stand.name()).font(t.heading_font()));
    });
    if let Some(word) = &card.word {
        ui.add(
            Label::new(format!(
                "Your word: {}, because: {}.",
                word.kind.name(),
                word.reason
            ))
            .wrap(),
        );
    }
    for sentence in &card.why {
        ui.add(Label::new(sentence).wrap());
    }
    ui.add_space(t.space.small);
    ui.add(Label::new(&card.estimate_sentence).wrap());
    if !card.explained.is_empty() {
        heading(ui, "Why it stands there");
        for sentence in &card.explained {
            ui.add(Label::new(sentence).wrap());
        }
    }
}

fn mother(ui: &mut Ui, card: &EarCard, actions: &mut Vec<Action>) {
    heading(ui, "Mother");
    let pedigree = ui
        .button("Show the pedigree")
        .on_hover_text("Its mothers and what came of it, over all seasons, in the pane Seasons");
    if pedigree.clicked() {
        actions.push(Action::ShowPedigree(card.ear));
    }
    let Some(mother) = &card.mother else {
        ui.label("Its mother row is not known.");
        return;
    };
    ui.label(format!(
        "Row {} of season {}: {}",
        mother.label, card.year, mother.source
    ));
    if let Some(ear) = mother.ear
        && ui.button("Show the mother ear").clicked()
    {
        actions.push(Action::Go(Place::Ear(ear)));
    }
}

fn cell_ui(ui: &mut Ui, cell: &CellCard, actions: &mut Vec<Action>) {
    let t = Tokens::of(ui);
    let name = format!("{}: tray {} {}", cell.test_name, cell.tray_number, cell.name);
    if ui
        .add(Button::new(name))
        .on_hover_text("Go to this cell in the pane Scoring")
        .clicked()
    {
        actions.push(Action::Go(Place::Cell(cell.cell)));
    }
    if cell.counts.is_empty() {
        ui.label(RichText::new(format!("{} kernels, not counted yet", cell.sown)).color(t.quiet));
    }
    for count in &cell.counts {
        let text = RichText::new(count_text(count));
        let text = if count.is_corrected {
            text.color(t.quiet).strikethrough()
        } else {
            text
        };
        ui.add(Label::new(text).wrap());
    }
}

/// The pictures of its cells, newest first. Only those in sight are made.
fn photos_ui(
    ui: &mut Ui,
    document: &Document,
    card: &EarCard,
    shelf: &mut PhotoShelf,
    actions: &mut Vec<Action>,
) {
    if card.photos.is_empty() {
        return;
    }
    heading(ui, "Photos of its cells");
    let t = Tokens::of(ui);
    let project = document.project();
    for shown in &card.photos {
        let Some(photo) = project.photos.get(shown.photo) else {
            continue;
        };
        ui.label(RichText::new(&shown.caption).font(t.small_font()).color(t.quiet));
        let Some(seen) = SeenAs::of(project, photo) else {
            ui.add(Label::new(format!("The corners of {} are not set yet.", photo.file)).wrap());
            if ui.button("Go to the photo").clicked() {
                actions.push(Action::Go(Place::Photo(photo.id)));
            }
            continue;
        };
        let cell = seen.grid().cell(shown.place.0, shown.place.1);
        let width = ui.available_width().min(PHOTO_WIDTH);
        let height = (width * (cell.height / cell.width) as f32).min(PHOTO_HEIGHT);
        let (room, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        let mut text = format!("Photo of {}", shown.caption);
        if ui.is_rect_visible(room) {
            match shelf.cell(ui.ctx(), &seen, shown.place) {
                Shown::Ready(picture) => {
                    let size = picture.texture.size_vec2();
                    let scale = (width / size.x).min(height / size.y);
                    let at = Rect::from_center_size(room.center(), size * scale);
                    let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
                    ui.painter().image(picture.texture.id(), at, uv, Color32::WHITE);
                }
                Shown::Waiting => {
                    text.push_str(", is being opened");
                    ui.put(
                        room,
                        Label::new(RichText::new("Opening the photo…").color(t.quiet)),
                    );
                }
                Shown::Failed(why) => {
                    text.push_str(", is not there");
                    ui.put(
                        room,
                        Label::new(RichText::new(format!("⚠ {why}")).color(t.warn)).wrap(),
                    );
                }
            }
        }
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &text));
    }
}

fn count_text(count: &CountCard) -> String {
    if count.is_void {
        return format!("{}: withdrawn", count.pass);
    }
    let mut parts = vec![format!(
        "{}: {} of {}",
        count.pass, count.germinated, count.counted
    )];
    let tally = &count.tally;
    for (kernels, name) in [
        (tally.strong, "strong"),
        (tally.weak, "weak"),
        (tally.abnormal, "abnormal"),
        (tally.dead, "dead"),
        (tally.fresh, "fresh"),
        (tally.missing, "missing"),
    ] {
        if kernels > 0 {
            parts.push(format!("{kernels} {name}"));
        }
    }
    parts.extend(count.vigor.map(|vigor| format!("vigor {vigor}")));
    if count.mould {
        parts.push("mould".to_owned());
    }
    if count.is_second {
        parts.push("second scorer".to_owned());
    }
    if !count.by.is_empty() {
        parts.push(format!("by {}", count.by));
    }
    parts.extend(count.on.map(|day| day.to_string()));
    parts.extend(count.age.and_then(Age::remark));
    if !count.overruled.is_empty() {
        parts.push(format!("overruled because: {}", count.overruled));
    }
    if !count.note.is_empty() {
        parts.push(count.note.clone());
    }
    parts.join(", ")
}

fn packet_ui(ui: &mut Ui, packet: &PacketCard) {
    let t = Tokens::of(ui);
    let place = if packet.location.is_empty() {
        "place not noted".to_owned()
    } else {
        packet.location.clone()
    };
    let kernels = packet.balance.map_or_else(
        || "never counted".to_owned(),
        |balance| format!("{balance} kernels"),
    );
    CollapsingHeader::new(format!("{kernels}, {place}"))
        .id_salt(packet.packet)
        .show(ui, |ui| {
            if !packet.moisture.is_empty() {
                ui.label(capital(&packet.moisture));
            }
            for line in &packet.lines {
                let day = line
                    .on
                    .map_or_else(|| "day not noted".to_owned(), |day| day.to_string());
                let text = format!("{day}  {:+}  {}  = {}", line.kernels, line.reason, line.balance);
                ui.add(Label::new(text).wrap());
                if !line.note.is_empty() {
                    ui.label(RichText::new(&line.note).color(t.quiet));
                }
            }
        });
}
