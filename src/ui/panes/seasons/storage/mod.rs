//! Seed in store: places with their warmth and humidity, packets by season and place, what is to be tested again and
//! what to be grown anew.

mod life;
mod packets;
mod place_form;

use crate::insight::{Amount, Storage, StoreLine, StoreStand};
use crate::model::{About, Command, EarId, Place, StorageRules, StoreId};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::card;
use egui::{Align, Button, Grid, Id, Label, Layout, RichText, ScrollArea, Ui};
use life::Life;
use packets::Packets;
use place_form::PlaceForm;

/// What is to be known before seed is handled; the page of help has the rest.
///
/// Sources: mould, University of Saskatchewan fact sheet 7; treated seed, 7 CFR 201.31a; freezing, Utah State University
/// Extension, and the moisture common practice; sealing, a chapter on vapour-proof packaging (Taylor and Francis).
const CAUTIONS: [&str; 4] = [
    "Mouldy seed and dust can make you ill: wear a mask that fits. Damp above 14 % of moisture lets mould grow in the store.",
    "Treated seed is poison: say so on its packet, wear gloves, keep it from food and feed.",
    "Seed is frozen dry only, below about 13 % of moisture; let a cold jar become warm before it is opened.",
    "Seed of 11 to 13 % of moisture is not sealed airtight: in a trial its germination fell too low within 4 months. Sealed seed must be drier.",
];

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Store {
    form: Option<PlaceForm>,
    life: Life,
    packets: Packets,
    /// The place that was gone to; it is brought into view once.
    shown: Option<StoreId>,
}

impl Store {
    /// Shows a place.
    pub(super) fn go(&mut self, place: Place) {
        if let Place::Store(store) = place {
            self.shown = Some(store);
        }
    }

    /// Draws the part.
    pub(super) fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let seed = ctx.insight.storage(ctx.document);
        card(ui, |ui| {
            ui.label(RichText::new("Seed in store").font(t.heading_font()));
            let sentences = seed.sentences();
            if sentences.is_empty() {
                ui.label("There is no season yet. Begin one in Overview.");
            }
            for sentence in sentences {
                ui.add(Label::new(sentence).wrap());
            }
        });
        ui.add_space(t.space.medium);
        card(ui, |ui| self.places(ui, ctx, &seed));
        if !seed.again.is_empty() || !seed.regrow.is_empty() {
            ui.add_space(t.space.medium);
            card(ui, |ui| again(ui, ctx, &seed));
            ui.add_space(t.space.medium);
            card(ui, |ui| regrow(ui, ctx, &seed));
        }
        ui.add_space(t.space.medium);
        card(ui, |ui| rules(ui, ctx));
        ui.add_space(t.space.medium);
        card(ui, |ui| self.packets.ui(ui, ctx, &seed));
        if ctx.document.project().stores.iter().next().is_some() {
            ui.add_space(t.space.medium);
            card(ui, |ui| self.life.ui(ui, ctx.document.project()));
        }
        ui.add_space(t.space.medium);
        card(ui, |ui| {
            ui.label(RichText::new("Before you handle seed").font(t.heading_font()));
            for caution in CAUTIONS {
                ui.add(Label::new(format!("⚠ {caution}")).wrap());
            }
        });
        if self.form.as_mut().is_some_and(|form| form.ui(ui, ctx)) {
            self.form = None;
        }
    }

    fn places(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, seed: &Storage) {
        let t = Tokens::of(ui);
        let can = ctx.read_only.is_none();
        ui.label(RichText::new("Places").font(t.heading_font()));
        if ctx.document.project().stores.is_empty() {
            let text = "No place is noted yet. Add the places where packets lie, with their temperature and humidity, and move the packets to them.";
            ui.add(Label::new(text).wrap());
        }
        if !seed.stores.is_empty() {
            ScrollArea::horizontal()
                .id_salt("storage places")
                .show(ui, |ui| self.table(ui, ctx, seed));
        }
        let add = ui.add_enabled(can, Button::new("Add a place…"));
        if add.clicked() {
            self.form = Some(PlaceForm::default());
        }
    }

    fn table(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, seed: &Storage) {
        let t = Tokens::of(ui);
        Grid::new("storage places")
            .striped(true)
            .spacing([t.space.large, t.space.small])
            .show(ui, |ui| {
                for title in ["Place", "Warmth, humidity", "Rule of 100"] {
                    ui.label(RichText::new(title).font(t.strong_font()));
                }
                for year in &seed.years {
                    ui.label(RichText::new(format!("{year}, kernels")).font(t.strong_font()));
                }
                ui.label(RichText::new("All").font(t.strong_font()));
                ui.label("");
                ui.end_row();
                for line in &seed.stores {
                    self.line(ui, ctx, line);
                    ui.end_row();
                }
            });
        for line in seed.stores.iter().filter(|line| line.store.is_some()) {
            let text = format!("{}: {}", line.name, line.sentence);
            ui.label(RichText::new(text).color(t.quiet));
        }
    }

    fn line(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, line: &StoreLine) {
        let t = Tokens::of(ui);
        let can = ctx.read_only.is_none();
        let name = ui.label(RichText::new(&line.name).font(t.strong_font()));
        if line.store.is_some() && self.shown == line.store {
            self.shown = None;
            name.scroll_to_me(Some(Align::Center));
        }
        ui.label(if line.conditions.is_empty() {
            "not noted"
        } else {
            line.conditions.as_str()
        });
        let colour = match line.stand {
            StoreStand::Within => t.ok,
            StoreStand::Over => t.warn,
            StoreStand::NotKnown => t.quiet,
        };
        let stand = format!("{} {}", line.stand.sign(), line.stand.name());
        ui.label(RichText::new(stand).color(colour))
            .on_hover_text(&line.sentence);
        for amount in &line.in_years {
            number(ui, amount);
        }
        number(ui, &line.all);
        ui.horizontal(|ui| {
            let Some(store) = line.store.and_then(|id| ctx.document.project().stores.get(id)) else {
                if ui.button("Show them").clicked() {
                    self.packets.show_place(None);
                }
                return;
            };
            let show = ui.button("Show").on_hover_text("Show its packets below");
            if show.clicked() {
                self.packets.show_place(Some(store.id));
            }
            let change = ui
                .add_enabled(can, Button::new("Change…"))
                .on_hover_text(format!("Change {}", line.name));
            if change.clicked() {
                self.form = Some(PlaceForm::of(ctx.document.project(), store));
            }
            let remove = ui
                .add_enabled(can && line.all.packets == 0, Button::new("Remove"))
                .on_hover_text("Undo brings it back.")
                .on_disabled_hover_text("Packets are kept there; move them elsewhere first.");
            if remove.clicked() {
                ctx.run(Command::RemoveStore(store.id));
            }
        });
    }
}

fn number(ui: &mut Ui, amount: &Amount) {
    let text = match (amount.packets, amount.uncounted) {
        (0, _) => "–".to_owned(),
        (packets, uncounted) if packets == uncounted => "not counted".to_owned(),
        (_, 0) => amount.kernels.to_string(),
        _ => format!("{} and more", amount.kernels),
    };
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        ui.label(text).on_hover_text(amount.text());
    });
}

/// Draws a list of sentences, each with the ear that it is about.
fn sentences(ui: &mut Ui, ctx: &mut PaneCtx<'_>, salt: &str, lines: &[(EarId, String, String)]) {
    let t = Tokens::of(ui);
    ui.horizontal(|ui| {
        let all: Vec<EarId> = lines.iter().map(|(ear, ..)| *ear).collect();
        let text = format!("Choose all {}", all.len());
        let hint =
            "Makes them the chosen ears; a test of their kernels is designed in Trays, in their season.";
        if ui.button(text).on_hover_text(hint).clicked() {
            ctx.choose(all);
        }
    });
    ScrollArea::vertical()
        .id_salt(salt)
        .max_height(8.0 * t.row_height)
        .auto_shrink([false, true])
        .show_rows(ui, t.row_height, lines.len(), |ui, places| {
            for (ear, name, sentence) in &lines[places] {
                ui.horizontal(|ui| {
                    ui.set_min_height(t.row_height);
                    if ui.button(name).on_hover_text("Show this ear").clicked() {
                        ctx.act(Action::Go(Place::Ear(*ear)));
                    }
                    ui.add(Label::new(sentence).truncate()).on_hover_text(sentence);
                });
            }
        });
}

fn again(ui: &mut Ui, ctx: &mut PaneCtx<'_>, seed: &Storage) {
    let t = Tokens::of(ui);
    ui.label(RichText::new("To test again").font(t.heading_font()));
    if seed.again.is_empty() {
        ui.label("No carried-over seed is due to be tested again.");
        return;
    }
    let text = "Seed that was carried over: ears of planting lists, mothers of rows, and the last seed of each line.";
    ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
    let lines: Vec<(EarId, String, String)> = seed
        .again
        .iter()
        .map(|one| {
            let name = format!("Ear {} of {}", one.number, one.year);
            (one.ear, name, one.figures())
        })
        .collect();
    sentences(ui, ctx, "to test again", &lines);
}

fn regrow(ui: &mut Ui, ctx: &mut PaneCtx<'_>, seed: &Storage) {
    let t = Tokens::of(ui);
    ui.label(RichText::new("To grow anew").font(t.heading_font()));
    if seed.regrow.is_empty() {
        ui.label("No line has only seed that is old, few or low.");
        return;
    }
    let text =
        "Lines of mothers of which nothing was harvested in the latest season, the most reasons first.";
    ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
    let lines: Vec<(EarId, String, String)> = seed
        .regrow
        .iter()
        .map(|one| {
            let name = format!("Ear {} of {}", one.number, one.year);
            (one.ear, name, one.sentence.clone())
        })
        .collect();
    sentences(ui, ctx, "to grow anew", &lines);
}

fn rules(ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
    let t = Tokens::of(ui);
    let about = &ctx.document.project().about;
    let now = about.storage;
    ui.label(RichText::new("When seed is called old, few or low").font(t.heading_font()));
    ui.add(Label::new(RichText::new(Storage::rules_sentence(now)).color(t.quiet)).wrap());
    let seasons = 1.0..=f64::from(StorageRules::MOST_SEASONS);
    let mut next = now;
    ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
        ui.horizontal_wrapped(|ui| {
            let field = |name: &'static str, unit: &'static str| {
                NumberField::new(Id::unique(("storage rule", name)), name)
                    .unit(unit)
                    .width(60.0)
            };
            if let Some(typed) = field("Test again after", "seasons")
                .range(seasons.clone())
                .show(ui, f64::from(now.test_after))
            {
                next.test_after = typed as u8;
            }
            if let Some(typed) = field("Old from", "seasons")
                .range(seasons)
                .show(ui, f64::from(now.old_after))
            {
                next.old_after = typed as u8;
            }
            if let Some(typed) = field("Few below", "kernels")
                .range(0.0..=100_000.0)
                .show(ui, f64::from(now.few_kernels))
            {
                next.few_kernels = typed as u32;
            }
            if let Some(typed) = field("Low below", "%")
                .range(0.0..=100.0)
                .show(ui, f64::from(now.low_percent))
            {
                next.low_percent = typed as u8;
            }
        });
    });
    if next != now {
        let storage = next;
        ctx.run(Command::Describe(About {
            storage,
            ..about.clone()
        }));
    }
}
