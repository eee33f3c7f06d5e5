//! A question that must be answered before anything else.

use egui::{Align, Context, Id, Key, Layout, Modal, Modifiers, RichText, Role, Ui, WidgetInfo};

use super::parts::primary_button_enabled;
use crate::ui::tokens::Tokens;

/// How a dialog was answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DialogAnswer {
    /// The confirming button, or Enter.
    Confirm,
    /// The other button, Escape, or a click beside the dialog.
    Cancel,
}

/// A dialog in the window: title, content, a confirming button and one that leaves all as it is.
#[must_use]
pub struct Dialog<'a> {
    id: Id,
    title: &'a str,
    confirm: &'a str,
    /// The word on the other button; none where there is nothing to decide.
    cancel: Option<&'a str>,
    is_safe: bool,
    can_confirm: bool,
    takes_focus: bool,
    width: f32,
}

/// Remembered while a dialog is open.
#[derive(Clone, Copy)]
struct Open {
    pass: u64,
    focused_before: Option<Id>,
}

impl<'a> Dialog<'a> {
    /// A dialog with the buttons `OK` and `Cancel`; `id` is unique in the window.
    pub fn new(id: Id, title: &'a str) -> Self {
        Self {
            id,
            title,
            confirm: "OK",
            cancel: Some("Cancel"),
            is_safe: true,
            can_confirm: true,
            takes_focus: true,
            width: 460.0,
        }
    }

    /// The word on the confirming button: what it does.
    pub fn confirm(mut self, word: &'a str) -> Self {
        self.confirm = word;
        self
    }

    /// The word on the other button.
    pub fn cancel(mut self, word: &'a str) -> Self {
        self.cancel = Some(word);
        self
    }

    /// Confirming cannot be taken back: the keyboard begins on the other button, so that Enter does not confirm.
    pub fn risky(mut self) -> Self {
        self.is_safe = false;
        self
    }

    /// Whether the confirming button can be used now.
    pub fn can_confirm(mut self, can: bool) -> Self {
        self.can_confirm = can;
        self
    }

    /// There is nothing to decide: the dialog has one button, and Escape does the same.
    pub fn one_button(mut self) -> Self {
        self.cancel = None;
        self
    }

    /// The content is a list that needs room.
    pub fn wide(mut self) -> Self {
        self.width = 860.0;
        self
    }

    /// The content asks for the keyboard itself, for example for a text field.
    pub fn body_takes_focus(mut self) -> Self {
        self.takes_focus = false;
        self
    }

    /// Draws the dialog; call it in every frame until it is answered. When it is, the keyboard goes back to where it was.
    pub fn show(self, ctx: &Context, body: impl FnOnce(&mut Ui)) -> Option<DialogAnswer> {
        let open_id = self.id.with("open");
        let pass = ctx.cumulative_pass_nr();
        let before = ctx
            .data(|data| data.get_temp::<Open>(open_id))
            .filter(|open| open.pass + 1 >= pass);
        let is_new = before.is_none();
        // An answer that the caller did not act on leaves the dialog open: then nothing is given back yet.
        let given_back = ctx.data(|data| data.get_temp::<Id>(give_back_id()));
        ctx.data_mut(|data| data.remove::<Id>(give_back_id()));
        let focused_before = match before {
            Some(open) => open.focused_before,
            None => given_back.or_else(|| ctx.memory(egui::Memory::focused)),
        };
        ctx.data_mut(|data| data.insert_temp(open_id, Open { pass, focused_before }));

        let modal = Modal::new(self.id).frame(frame(ctx)).show(ctx, |ui| {
            ui.set_width(self.width.min(ui.ctx().content_rect().width() - 64.0));
            let t = Tokens::of(ui);
            ui.label(RichText::new(self.title).font(t.heading_font()).color(t.text));
            ui.add_space(t.space.tiny);
            body(ui);
            ui.add_space(t.space.medium);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                self.buttons(ui, is_new)
            })
            .inner
        });
        modal
            .response
            .widget_info(|| WidgetInfo::labeled(Role::Dialog, true, self.title));

        let free = ctx.memory(|m| m.focused().is_none()) || ctx.text_edit_focused();
        let by_enter = self.is_safe && self.can_confirm && free && modal.is_top_modal && !is_new;
        let answer = if modal.inner.is_some() {
            modal.inner
        } else if modal.should_close() {
            Some(DialogAnswer::Cancel)
        } else if by_enter && ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Enter)) {
            Some(DialogAnswer::Confirm)
        } else {
            None
        };
        if let Some(id) = focused_before.filter(|_| answer.is_some()) {
            ctx.add_plugin(GiveBack);
            ctx.data_mut(|data| data.insert_temp(give_back_id(), id));
            ctx.request_repaint();
        }
        answer
    }

    /// The buttons, from the right: confirm, cancel.
    fn buttons(&self, ui: &mut Ui, is_new: bool) -> Option<DialogAnswer> {
        let confirm = primary_button_enabled(ui, self.can_confirm, self.confirm);
        let cancel = self.cancel.map(|word| ui.button(word));
        if is_new && self.takes_focus {
            match &cancel {
                Some(cancel) if !self.is_safe || !self.can_confirm => cancel.request_focus(),
                _ => confirm.request_focus(),
            }
        }
        if confirm.clicked() {
            Some(DialogAnswer::Confirm)
        } else if cancel.is_some_and(|cancel| cancel.clicked()) {
            Some(DialogAnswer::Cancel)
        } else {
            None
        }
    }
}

/// Gives the keyboard back once the dialog no longer covers the rest, which is two passes after its answer: until then
/// egui lets nothing behind it have the focus.
struct GiveBack;

impl egui::plugin::Plugin for GiveBack {
    fn debug_name(&self) -> &'static str {
        "dialog gives the keyboard back"
    }

    fn on_begin_pass(&mut self, ui: &mut Ui) {
        let Some(id) = ui.data(|data| data.get_temp::<Id>(give_back_id())) else {
            return;
        };
        if ui.memory(|m| m.top_modal_layer().is_some()) {
            ui.request_repaint();
            return;
        }
        ui.data_mut(|data| data.remove::<Id>(give_back_id()));
        if ui.memory(|m| m.focused().is_none()) {
            ui.memory_mut(|m| m.request_focus(id));
        }
    }
}

fn give_back_id() -> Id {
    Id::unique("dialog gives the keyboard back")
}

fn frame(ctx: &Context) -> egui::Frame {
    let style = ctx.global_style();
    egui::Frame::window(&style)
}
