//! What lies beside the pane: the card of the chosen ear, what needs attention, the notices that went by.

use super::context::Action;
use super::ear_card;
use super::photos::PhotoShelf;
use super::tokens::Tokens;
use super::widgets::notice::Notices;
use crate::insight::Insight;
use crate::model::{Document, EarId};
use egui::{Align, Button, CollapsingHeader, Layout, RichText, ScrollArea, Ui};
use jiff::civil::Date;

/// Which page is shown beside the pane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// None.
    #[default]
    Closed,
    /// The card of the chosen ear.
    Card,
    /// What needs attention.
    ToDo,
    /// The notices that went by.
    Notices,
}

impl Side {
    /// Says whether anything is shown.
    pub fn is_open(self) -> bool {
        self != Self::Closed
    }

    /// Says whether the list of things to do is shown.
    pub fn shows_todo(self) -> bool {
        self == Self::ToDo
    }

    /// Says whether what is shown tells of ears or of counts.
    pub fn tells_of_ears(self) -> bool {
        matches!(self, Self::Card | Self::ToDo)
    }

    /// Shows the ear card.
    pub fn show_card(&mut self) {
        *self = Self::Card;
    }

    /// Shows or hides the ear card.
    pub fn toggle_card(&mut self) {
        self.toggle(Self::Card);
    }

    /// Shows or hides what needs attention.
    pub fn toggle_todo(&mut self) {
        self.toggle(Self::ToDo);
    }

    /// Shows or hides the notices that went by.
    pub fn toggle_notices(&mut self) {
        self.toggle(Self::Notices);
    }

    /// Closes the side.
    pub fn close(&mut self) {
        *self = Self::Closed;
    }

    fn toggle(&mut self, page: Self) {
        *self = if *self == page { Self::Closed } else { page };
    }

    /// Draws the page and gives what it asks for.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        (document, insight): (&Document, &Insight),
        chosen: &[EarId],
        today: Date,
        notices: &Notices,
        photos: &mut PhotoShelf,
    ) -> Vec<Action> {
        let t = Tokens::of(ui);
        let title = match self {
            Self::Closed => return Vec::new(),
            Self::Card => "Ear card",
            Self::ToDo => "To do",
            Self::Notices => "Earlier notices",
        };
        let mut actions = Vec::new();
        ui.horizontal(|ui| {
            ui.label(RichText::new(title).font(t.heading_font()));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui.button("✗").on_hover_text("Close the side").clicked() {
                    self.close();
                }
            });
        });
        ui.separator();
        ScrollArea::vertical().id_salt(title).auto_shrink([false, false]).show(ui, |ui| match self {
            Self::Closed => {}
            Self::Card => match chosen.last() {
                Some(ear) => ear_card::show(ui, document, insight, *ear, chosen.len(), photos, &mut actions),
                None => {
                    ui.label("Choose an ear in any pane, or press Ctrl+F and type its number, to see its card here.");
                }
            },
            Self::ToDo => todo(ui, document, insight, today, &mut actions),
            Self::Notices => notices.show_past(ui),
        });
        actions
    }
}

fn todo(ui: &mut Ui, document: &Document, insight: &Insight, today: Date, actions: &mut Vec<Action>) {
    let t = Tokens::of(ui);
    let list = insight.todo(document, today);
    if list.is_empty() {
        ui.label(RichText::new("✓ Nothing needs attention.").color(t.ok));
        return;
    }
    for item in list.iter() {
        let pane = item.pane;
        ui.horizontal_top(|ui| {
            ui.add(egui::Label::new(RichText::new("•").color(t.warn)));
            ui.vertical(|ui| {
                ui.add(egui::Label::new(&item.sentence).wrap());
                if !item.evidence.is_empty() {
                    let heading = RichText::new("Figures").font(t.small_font());
                    CollapsingHeader::new(heading)
                        .id_salt(&item.sentence)
                        .show(ui, |ui| {
                            ui.add(
                                egui::Label::new(RichText::new(&item.evidence).font(t.small_font())).wrap(),
                            );
                        });
                }
                ui.horizontal_wrapped(|ui| {
                    let name = format!("Go to {}", document.project().place_name(item.place));
                    let go = Button::new(RichText::new(name).font(t.small_font()));
                    if ui
                        .add(go)
                        .on_hover_text(format!("In the pane {}", pane.name()))
                        .clicked()
                    {
                        actions.push(Action::Go(item.place));
                        actions.push(Action::Show(pane));
                    }
                    let Some(repair) = item.suggested else {
                        return;
                    };
                    let mend = Button::new(RichText::new("Look and repair…").font(t.small_font()));
                    let hint = "Shows what would become of it; then it is one step, which can be undone.";
                    if ui.add(mend).on_hover_text(hint).clicked() {
                        actions.push(Action::ProposeRepair(repair));
                    }
                });
            });
        });
        ui.add_space(t.space.small);
    }
}
