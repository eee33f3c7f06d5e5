//! The pedigree as a list of families by season, for who cannot see the drawing and for small windows.

use super::drawing::Asked;
use crate::insight::Pedigree;
use crate::ui::tokens::Tokens;
use egui::{Button, RichText, ScrollArea, Ui};

/// One line of the list.
enum Line {
    Season(usize),
    Family(usize),
}

/// Draws the list and takes what is picked.
pub(super) fn show(
    ui: &mut Ui,
    pedigree: &Pedigree,
    picked: Option<usize>,
    height: f32,
    reveal: bool,
) -> Asked {
    let t = Tokens::of(ui);
    let mut asked = Asked::default();
    let lines: Vec<Line> = pedigree
        .seasons
        .iter()
        .enumerate()
        .rev()
        .flat_map(|(at, season)| {
            let families = season.families.iter().map(|family| Line::Family(*family));
            std::iter::once(Line::Season(at)).chain(families)
        })
        .collect();
    let high = t.control_height;
    let mut area = ScrollArea::both()
        .id_salt("pedigree list")
        .auto_shrink([false, true])
        .max_height(height)
        .min_scrolled_height(height);
    let at = lines
        .iter()
        .position(|line| matches!(line, Line::Family(family) if Some(*family) == picked));
    if let Some(at) = at.filter(|_| reveal) {
        let pitch = high + ui.spacing().item_spacing.y;
        area = area.vertical_scroll_offset((at as f32 * pitch - 0.4 * height).max(0.0));
    }
    area.show_rows(ui, high, lines.len(), |ui, range| {
        for line in &lines[range] {
            match line {
                Line::Season(at) => {
                    let season = &pedigree.seasons[*at];
                    let text = format!("{}, pollen {}", season.year, season.pollen);
                    ui.label(RichText::new(text).font(t.strong_font()));
                }
                Line::Family(family) => {
                    let sign = if picked == Some(*family) { "◆ " } else { "" };
                    let text = format!("{sign}{} {}.", pedigree.path(*family), pedigree.facts(*family));
                    let button =
                        Button::selectable(picked == Some(*family), text).min_size(egui::vec2(0.0, high));
                    if ui.add(button).clicked() {
                        asked.picked = Some(*family);
                    }
                }
            }
        }
    });
    asked
}
