//! Going to an ear, a packet, a cell or a row by number. A scanner that types works too.

use super::Answer;
use crate::insight::{Finds, Insight};
use crate::model::Document;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Button, Context, Id, Key, Modifiers, RichText, ScrollArea, TextEdit, Ui};

/// What is being looked for.
#[derive(Debug, Default)]
pub struct Find {
    text: String,
    place: usize,
    is_old: bool,
}

impl Find {
    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, document: &Document, insight: &Insight) -> Option<Answer> {
        let finds = insight.find(document, &self.text);
        self.keys(ctx, finds.found.len());
        let mut clicked = None;
        let answer = Dialog::new(Id::unique("find"), "Find")
            .confirm("Go there")
            .can_confirm(!finds.found.is_empty())
            .body_takes_focus()
            .show(ctx, |ui| clicked = self.body(ui, &finds));
        let chosen = match (clicked, answer) {
            (Some(place), _) => place,
            (None, None) => return None,
            (None, Some(DialogAnswer::Cancel)) => return Some(Answer::Nothing),
            (None, Some(DialogAnswer::Confirm)) => self.place,
        };
        Some(
            finds
                .found
                .get(chosen)
                .map_or(Answer::Nothing, |found| Answer::Go(found.place)),
        )
    }

    fn keys(&mut self, ctx: &Context, found: usize) {
        let (up, down) = ctx.input_mut(|input| {
            (
                input.consume_key(Modifiers::NONE, Key::ArrowUp),
                input.consume_key(Modifiers::NONE, Key::ArrowDown),
            )
        });
        if down {
            self.place += 1;
        }
        if up {
            self.place = self.place.saturating_sub(1);
        }
        self.place = self.place.min(found.saturating_sub(1));
    }

    fn body(&mut self, ui: &mut Ui, finds: &Finds) -> Option<usize> {
        let t = Tokens::of(ui);
        let label = ui.label("Ear number or code, packet place, row, or cell such as 3 B4");
        let field = ui
            .add(TextEdit::singleline(&mut self.text).desired_width(f32::INFINITY))
            .labelled_by(label.id);
        if !self.is_old {
            field.request_focus();
            self.is_old = true;
        }
        if field.changed() {
            self.place = 0;
        }
        if let Some(remark) = &finds.remark {
            ui.label(RichText::new(remark).color(t.warn));
        }
        let mut clicked = None;
        ScrollArea::vertical().max_height(300.0).show(ui, |ui| {
            for (place, found) in finds.found.iter().enumerate() {
                let text = format!("{}   {}", found.title, found.detail);
                let row = Button::selectable(place == self.place, text).truncate();
                if ui
                    .add_sized([ui.available_width(), t.control_height], row)
                    .clicked()
                {
                    clicked = Some(place);
                }
            }
        });
        clicked
    }
}
