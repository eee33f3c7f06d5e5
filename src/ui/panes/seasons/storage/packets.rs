//! The packets one by one: by place, season and slot; moving them, and noting how moist their seed is.

use crate::exchange::packet_list::packet_list_pages;
use crate::exchange::print::Paper;
use crate::insight::{PacketLine, PacketQuery, Storage, packet_line};
use crate::model::{
    Command, DateOrder, PacketId, Place, Project, StoreId, plural, read_date, read_number, sentence,
};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::panes::print_preview::PrintPreview;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::alert;
use egui::{Button, Checkbox, ComboBox, Label, RichText, Role, ScrollArea, TextEdit, Ui, WidgetInfo, vec2};

/// The titles of the columns and their widths, in points.
const COLUMNS: [(&str, f32); 7] = [
    ("Ear", 70.0),
    ("Harvested", 90.0),
    ("Age", 90.0),
    ("Place", 190.0),
    ("Kernels", 90.0),
    ("Moisture", 80.0),
    ("Last test", 250.0),
];

/// What the card remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Packets {
    query: PacketQuery,
    only_chosen: bool,
    /// Where packets are moved to, once that was chosen; before it is the first place.
    to: Option<StoreId>,
    /// Whether it was chosen.
    has_chosen: bool,
    moisture: String,
    measured_on: String,
    print: Option<PrintPreview>,
}

impl Packets {
    /// Shows the packets of a place only; `None` for those of which it is not known.
    pub(super) fn show_place(&mut self, store: Option<StoreId>) {
        self.query = PacketQuery {
            store: Some(store),
            ..PacketQuery::default()
        };
        self.only_chosen = false;
    }

    /// Draws the card.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, seed: &Storage) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("Packets").font(t.heading_font()));
        self.filter(ui, ctx, seed);
        let found = ctx.insight.packets(ctx.document, &self.query);
        let project = ctx.document.project();
        let chosen: Vec<PacketId>;
        let packets: &[PacketId] = if self.only_chosen {
            let is_chosen = |id: &&PacketId| {
                let packet = project.packets.get(**id);
                packet.is_some_and(|packet| ctx.chosen.contains(&packet.ear))
            };
            chosen = found.iter().filter(is_chosen).copied().collect();
            &chosen
        } else {
            &found
        };
        if packets.is_empty() {
            ui.label("No packet with kernels is among these. Choose another place, season or slot.");
            return;
        }
        self.change(ui, ctx, packets);
        list(ui, ctx, packets);
        let print = ui
            .button("Print this list…")
            .on_hover_text("Place by place, to tick off what is there.");
        if print.clicked() {
            self.print = Some(printed(ctx, packets));
        }
        if self.print.as_mut().is_some_and(|print| print.show(ui, ctx)) {
            self.print = None;
        }
    }

    fn filter(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, seed: &Storage) {
        let project = ctx.document.project();
        ui.horizontal_wrapped(|ui| {
            let now = match self.query.store {
                None => "all places".to_owned(),
                Some(store) => store_name(project, store),
            };
            let stores: Vec<Option<StoreId>> = seed.stores.iter().map(|line| line.store).collect();
            let mut store = self.query.store;
            combo(ui, "Packets in", &now, &mut |ui| {
                ui.selectable_value(&mut store, None, "all places");
                for one in &stores {
                    ui.selectable_value(&mut store, Some(*one), store_name(project, *one));
                }
            });
            self.query.store = store;
            let now = self
                .query
                .year
                .map_or_else(|| "all seasons".to_owned(), |year| year.to_string());
            let mut year = self.query.year;
            combo(ui, "harvested in", &now, &mut |ui| {
                ui.selectable_value(&mut year, None, "all seasons");
                for one in &seed.years {
                    ui.selectable_value(&mut year, Some(*one), one.to_string());
                }
            });
            self.query.year = year;
            let label = ui.label("whose box or slot begins with");
            let field = TextEdit::singleline(&mut self.query.slot)
                .hint_text("any")
                .desired_width(120.0);
            ui.add(field).labelled_by(label.id);
            let text = format!("only of the chosen ears ({})", ctx.chosen.len());
            ui.add(Checkbox::new(&mut self.only_chosen, text));
        });
    }

    /// Draws what can be done with the packets that are shown.
    fn change(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, packets: &[PacketId]) {
        let project = ctx.document.project();
        let can = ctx.read_only.is_none();
        let all = plural(packets.len(), "packet");
        ui.horizontal_wrapped(|ui| {
            let first = project.stores.iter().next().map(|store| store.id);
            let is_there = self.to.is_none_or(|store| project.stores.contains(store));
            let mut to = if self.has_chosen && is_there {
                self.to
            } else {
                first
            };
            let before = to;
            let now = store_name(project, to);
            combo(ui, "Move to", &now, &mut |ui| {
                for store in project.stores.iter() {
                    ui.selectable_value(&mut to, Some(store.id), &store.name);
                }
                ui.selectable_value(&mut to, None, store_name(project, None));
            });
            if to != before {
                (self.to, self.has_chosen) = (to, true);
            }
            let moved = ui
                .add_enabled(can, Button::new(format!("Move these {all}")))
                .on_hover_text("All packets that are shown below; Undo takes it back.");
            if moved.clicked() {
                ctx.run(Command::StorePackets {
                    packets: packets.to_vec(),
                    store: to,
                });
            }
        });
        let percent = match self.moisture.trim() {
            "" => Ok(None),
            typed => read_number("the moisture of the seed in %", typed).map(Some),
        };
        let on = match self.measured_on.trim() {
            "" => Ok(None),
            typed => read_date(typed, DateOrder::Unknown).map(Some),
        };
        ui.horizontal_wrapped(|ui| {
            let label = ui.label("Moisture of the seed, %");
            let field = TextEdit::singleline(&mut self.moisture)
                .hint_text("not known")
                .desired_width(90.0);
            ui.add(field).labelled_by(label.id);
            let label = ui.label("measured on");
            let field = TextEdit::singleline(&mut self.measured_on)
                .hint_text(ctx.today.to_string())
                .desired_width(110.0);
            ui.add(field).labelled_by(label.id);
            let is_read = percent.is_ok() && on.is_ok();
            let noted = ui.add_enabled(can && is_read, Button::new(format!("Note it for these {all}")));
            if noted.clicked()
                && let (Ok(percent), Ok(on)) = (&percent, &on)
            {
                ctx.run(Command::NoteMoisture {
                    packets: packets.to_vec(),
                    percent: *percent,
                    on: percent.and(on.or(Some(ctx.today))),
                });
            }
        });
        for fault in [percent.err(), on.err()].into_iter().flatten() {
            alert(ui, &sentence(&fault.to_string()));
        }
    }
}

/// The dialog with packets on paper.
fn printed(ctx: &PaneCtx<'_>, packets: &[PacketId]) -> PrintPreview {
    let (project, packets) = (ctx.document.snapshot(), packets.to_vec());
    PrintPreview::new(
        "Packets in store",
        format!(
            "{}, place by place, to tick off what is there.",
            plural(packets.len(), "packet")
        ),
        "packets-in-store.pdf".to_owned(),
        Paper::Letter,
        move |fonts, paper, watch| {
            packet_list_pages(fonts, &project, &packets, paper, watch).map_err(|fault| fault.to_string())
        },
    )
}

/// Draws the packets. Only those in sight are worked out.
fn list(ui: &mut Ui, ctx: &mut PaneCtx<'_>, packets: &[PacketId]) {
    let t = Tokens::of(ui);
    let project = ctx.document.project();
    ScrollArea::horizontal().id_salt("packets across").show(ui, |ui| {
        ui.horizontal(|ui| {
            for (title, width) in COLUMNS {
                cell(ui, width, |ui| {
                    ui.label(RichText::new(title).font(t.strong_font()))
                });
            }
        });
        let rows = packets.len().min(12) as f32 * (t.row_height + ui.spacing().item_spacing.y);
        ScrollArea::vertical()
            .id_salt("packets")
            .max_height(rows)
            .auto_shrink([false, true])
            .show_rows(ui, t.row_height, packets.len(), |ui, places| {
                for line in packets[places].iter().filter_map(|id| packet_line(project, *id)) {
                    row(ui, ctx, &line);
                }
            });
    });
}

fn row(ui: &mut Ui, ctx: &mut PaneCtx<'_>, line: &PacketLine) {
    let t = Tokens::of(ui);
    ui.horizontal(|ui| {
        ui.set_min_height(t.row_height);
        cell(ui, COLUMNS[0].1, |ui| {
            let name = format!("Ear {} of {}", line.number, line.year);
            let button = ui
                .button(line.number.to_string())
                .accessible_name(name)
                .on_hover_text("Show this ear");
            if button.clicked() {
                ctx.act(Action::Go(Place::Ear(line.ear)));
            }
            button
        });
        let age = match line.seasons {
            0 => "this season".to_owned(),
            seasons => plural(usize::try_from(seasons).unwrap_or(0), "season"),
        };
        let place = if line.place.is_empty() {
            "not noted"
        } else {
            &line.place
        };
        let kernels = line
            .kernels
            .map_or_else(|| "not counted".to_owned(), |kernels| kernels.to_string());
        let moisture = line
            .moisture_percent
            .map_or_else(String::new, |percent| format!("{percent} %"));
        let last = line
            .last
            .map_or_else(|| "never tested".to_owned(), |last| last.text());
        let texts = [&line.year.to_string(), &age, place, &kernels, &moisture, &last];
        for (text, (_, width)) in texts.into_iter().zip(&COLUMNS[1..]) {
            cell(ui, *width, |ui| ui.add(Label::new(text).truncate()));
        }
    });
}

/// Draws something in a cell of a fixed width.
fn cell(ui: &mut Ui, width: f32, content: impl FnOnce(&mut Ui) -> egui::Response) {
    let height = Tokens::of(ui).row_height;
    ui.allocate_ui(vec2(width, height), |ui| {
        ui.set_min_width(width);
        ui.set_max_width(width);
        content(ui);
    });
}

fn store_name(project: &Project, store: Option<StoreId>) -> String {
    let known = store.and_then(|id| project.stores.get(id));
    known.map_or_else(|| "no known place".to_owned(), |store| store.name.clone())
}

fn combo(ui: &mut Ui, label: &str, now: &str, choices: &mut dyn FnMut(&mut Ui)) {
    ui.label(label);
    let combo = ComboBox::from_id_salt(("storage packets", label))
        .selected_text(now)
        .width(150.0)
        .truncate()
        .show_ui(ui, |ui| choices(ui));
    combo.response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::ComboBox, true, label);
        info.current_text_value = Some(now.to_owned());
        info
    });
}
