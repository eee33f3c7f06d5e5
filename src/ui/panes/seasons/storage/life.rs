//! How much longer seed keeps in one place than in another.

use crate::insight::{DOUBLING_PERCENT, Keeping, life_factor};
use crate::model::{Project, StoreId, StorePlace};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{ComboBox, Id, Label, RichText, Role, Ui, WidgetInfo};

/// One way to keep seed, as it is asked for.
#[derive(Debug, Default, Clone, Copy)]
struct Way {
    store: Option<StoreId>,
    moisture_percent: Option<f64>,
}

/// The two ways that are compared.
#[derive(Debug, Default)]
pub(super) struct Life {
    from: Way,
    to: Way,
}

impl Life {
    /// Draws the card.
    pub(super) fn ui(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("How much longer it would keep").font(t.heading_font()));
        let known: Vec<&StorePlace> = project
            .stores
            .iter()
            .filter(|store| store.temperature_c.is_some())
            .collect();
        let [first, .., last] = known.as_slice() else {
            let text = "Note the temperatures of two places, and this says how much longer seed keeps in one than in the other.";
            ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
            return;
        };
        let (from, to) = (self.from.place(&known, first), self.to.place(&known, last));
        self.from.ui(ui, "Kept now in", &known, from);
        self.to.ui(ui, "To be kept in", &known, to);
        let text = match (self.from.keeping(from), self.to.keeping(to)) {
            (Some(from), Some(to)) => match life_factor(from, to) {
                Ok(factor) => factor.sentence(),
                Err(why) => why,
            },
            _ => return,
        };
        ui.add(Label::new(text).wrap());
    }
}

impl Way {
    /// The place that is meant: the one asked for, or another while it is not there.
    fn place<'a>(&self, known: &[&'a StorePlace], or: &'a StorePlace) -> &'a StorePlace {
        let asked = known.iter().find(|store| Some(store.id) == self.store);
        asked.copied().unwrap_or(or)
    }

    fn keeping(&self, store: &StorePlace) -> Option<Keeping> {
        Some(Keeping {
            temperature_c: store.temperature_c?,
            moisture_percent: self.moisture_percent,
        })
    }

    fn ui(&mut self, ui: &mut Ui, label: &'static str, known: &[&StorePlace], now: &StorePlace) {
        ui.horizontal_wrapped(|ui| {
            ui.label(label);
            let combo = ComboBox::from_id_salt(("storage life", label))
                .selected_text(&now.name)
                .width(180.0)
                .truncate()
                .show_ui(ui, |ui| {
                    for store in known {
                        ui.selectable_value(&mut self.store, Some(store.id), &store.name);
                    }
                });
            combo.response.widget_info(|| {
                let mut info = WidgetInfo::labeled(Role::ComboBox, true, label);
                info.current_text_value = Some(now.name.clone());
                info
            });
            let [driest, dampest] = DOUBLING_PERCENT;
            // What lies a little outside can be typed, to be told that nothing is known there.
            NumberField::new(
                Id::unique(("storage life moisture", label)),
                "moisture of the seed",
            )
            .unit("%")
            .range(driest - 4.0..=dampest + 16.0)
            .decimals(1)
            .width(60.0)
            .show_optional(ui, &mut self.moisture_percent);
        });
    }
}
