//! Short sentences about what has just happened, and the list of those that went by.

use std::collections::VecDeque;

use egui::{
    Align2, Area, Context, Frame, Id, Key, Label, Margin, Modifiers, Order, RichText, Role, Stroke, Ui,
    WidgetInfo,
};

use crate::ui::tokens::Tokens;

/// How many are shown at once.
const SHOWN: usize = 3;
/// Width of the sentence in points.
const TEXT_WIDTH: f32 = 320.0;
/// How many of the past ones are kept.
const KEPT: usize = 200;

/// What kind of sentence it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoticeKind {
    /// Something was done; it leaves when the next notice comes.
    Done,
    /// Something deserves a look.
    Warning,
    /// Something did not work.
    Problem,
}

/// One sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Its kind.
    pub kind: NoticeKind,
    /// The sentence.
    pub text: String,
}

impl NoticeKind {
    fn sign(self) -> &'static str {
        match self {
            Self::Done => "✓",
            Self::Warning => "⚠",
            Self::Problem => "✗",
        }
    }

    fn colour(self, t: &Tokens) -> egui::Color32 {
        match self {
            Self::Done => t.ok,
            Self::Warning => t.warn,
            Self::Problem => t.bad,
        }
    }
}

/// The notices of one window. They do not move and do not vanish by time.
#[derive(Clone, Debug, Default)]
pub struct Notices {
    shown: Vec<Notice>,
    past: VecDeque<Notice>,
}

impl Notices {
    /// Shows a sentence; what was done before it, and what no longer fits, goes to the past.
    pub fn say(&mut self, kind: NoticeKind, text: impl Into<String>) {
        let leaving: Vec<usize> = (0..self.shown.len())
            .filter(|i| self.shown[*i].kind == NoticeKind::Done)
            .collect();
        for i in leaving.into_iter().rev() {
            self.close(i);
        }
        if self.shown.len() == SHOWN {
            self.close(0);
        }
        self.shown.push(Notice {
            kind,
            text: text.into(),
        });
    }

    /// Those on screen, oldest first.
    #[must_use]
    pub fn shown(&self) -> &[Notice] {
        &self.shown
    }

    /// Those closed, latest first.
    pub fn past(&self) -> impl Iterator<Item = &Notice> {
        self.past.iter()
    }

    /// Closes all that are on screen.
    pub fn close_all(&mut self) {
        while !self.shown.is_empty() {
            self.close(0);
        }
    }

    /// Draws them in the lower right corner, above everything but dialogs. Escape closes them, unless something
    /// drawn before has used it. Call it last in the frame.
    pub fn show(&mut self, ctx: &Context) {
        if self.shown.is_empty() {
            return;
        }
        let mut closed = None;
        Area::new(Id::unique("notices"))
            .order(Order::Middle)
            .anchor(Align2::RIGHT_BOTTOM, egui::vec2(-16.0, -40.0))
            .show(ctx, |ui| {
                for (i, notice) in self.shown.iter().enumerate() {
                    if one(ui, notice) {
                        closed = Some(i);
                    }
                }
            });
        let busy = ctx.text_edit_focused() || ctx.memory(|m| m.top_modal_layer().is_some());
        if let Some(i) = closed {
            self.close(i);
        } else if !busy && ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape)) {
            self.close_all();
        }
    }

    /// Draws the past ones as a list, latest first.
    pub fn show_past(&self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        if self.past.is_empty() {
            ui.label(RichText::new("Nothing has been said yet.").color(t.quiet));
        }
        for notice in &self.past {
            ui.horizontal_top(|ui| {
                ui.label(RichText::new(notice.kind.sign()).color(notice.kind.colour(t)));
                ui.label(&notice.text);
            });
        }
    }

    fn close(&mut self, i: usize) {
        self.past.push_front(self.shown.remove(i));
        self.past.truncate(KEPT);
    }
}

/// Draws one notice; returns whether it was closed.
fn one(ui: &mut Ui, notice: &Notice) -> bool {
    let t = Tokens::of(ui);
    let colour = notice.kind.colour(t);
    let frame = Frame::new()
        .fill(t.raised)
        .stroke(Stroke::new(2.0, colour))
        .corner_radius(t.radius)
        .shadow(ui.visuals().popup_shadow)
        .inner_margin(Margin::symmetric(t.space.medium as i8, t.space.small as i8));
    let inner = frame.show(ui, |ui| {
        ui.horizontal_top(|ui| {
            ui.label(
                RichText::new(notice.kind.sign())
                    .font(t.strong_font())
                    .color(colour),
            );
            let text = ui.vertical(|ui| {
                ui.set_width(TEXT_WIDTH.min(ui.ctx().content_rect().width() - 160.0));
                ui.add(Label::new(&notice.text).wrap())
            });
            text.inner
                .widget_info(|| WidgetInfo::labeled(Role::Status, true, &notice.text));
            ui.button("✕").accessible_name("Close this notice").clicked()
        })
        .inner
    });
    inner.inner
}
