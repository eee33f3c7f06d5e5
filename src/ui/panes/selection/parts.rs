//! What can be unfolded beside the plot, each by a switch of its own in one row.

use crate::ui::tokens::Tokens;
use egui::{Button, RichText, Ui};

/// A part that can be unfolded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What the choice costs and buys.
    Price,
    /// All cutoffs, and what each leaves out.
    Limits,
    /// Kept sets of cutoffs, and their moves.
    Sets,
    /// How the figures move with the germination cutoff.
    Curve,
    /// An index, weighed by hand.
    Index,
    /// The mother rows.
    Mothers,
    /// Kernels of each ear.
    Shares,
    /// The ears to test again.
    Retest,
}

impl Part {
    /// All in the order of their switches.
    pub const ALL: [Self; 8] = [
        Self::Price,
        Self::Limits,
        Self::Sets,
        Self::Curve,
        Self::Index,
        Self::Mothers,
        Self::Shares,
        Self::Retest,
    ];
}

/// Which parts are unfolded.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unfolded([bool; 8]);

impl Unfolded {
    /// Whether a part is.
    pub fn has(self, part: Part) -> bool {
        self.0[part as usize]
    }

    /// Draws the switches; a part without a title has none and is folded.
    pub fn switches(&mut self, ui: &mut Ui, title: impl Fn(Part) -> Option<String>) {
        let t = Tokens::of(ui);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = egui::vec2(t.space.tiny, t.space.tiny);
            for part in Part::ALL {
                let open = &mut self.0[part as usize];
                let Some(title) = title(part) else {
                    *open = false;
                    continue;
                };
                let sign = if *open { "▼" } else { "▶" };
                let text = RichText::new(format!("{sign} {title}")).font(t.small_font());
                let button = ui.add(Button::selectable(*open, text));
                button.widget_info(|| {
                    egui::WidgetInfo::selected(egui::Role::Button, ui.is_enabled(), *open, &title)
                });
                if button.clicked() {
                    *open = !*open;
                }
            }
        });
    }
}
