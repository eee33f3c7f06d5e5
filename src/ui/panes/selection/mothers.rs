//! The mother rows by the ears kept of each, and how many the grower wants at least.

use crate::insight::{MotherLine, Mothers};
use crate::model::{Command, EarId, SeasonId};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{Align2, Id, Label, Rect, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};

/// Rows of the table in sight.
const IN_SIGHT: f32 = 8.0;

/// Names the part.
pub fn title(mothers: &Mothers) -> String {
    let warning = if mothers.shortfall().is_some() {
        ", too few ⚠"
    } else {
        ""
    };
    format!(
        "Mother rows: {} of {}{warning}",
        mothers.kept(),
        mothers.lines.len()
    )
}

/// Draws the part.
pub fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, mothers: &Mothers) {
    let t = Tokens::of(ui);
    let mut least = mothers.least.map(f64::from);
    ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
        ui.horizontal_wrapped(|ui| {
            let field = NumberField::new(Id::unique("least mothers"), "Mother rows wanted at least")
                .range(1.0..=f64::from(u16::MAX))
                .width(56.0);
            if field.show_optional(ui, &mut least) {
                ctx.act(Action::CloseStep);
                ctx.run(Command::SetLeastMothers {
                    season,
                    least: least.map(|least| least as u16),
                });
                ctx.act(Action::CloseStep);
            }
        });
    });
    if let Some(shortfall) = mothers.shortfall() {
        let said = ui.add(Label::new(RichText::new(format!("⚠ {shortfall}")).color(t.warn)).wrap());
        said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, &shortfall));
    }
    for sentence in mothers.sentences() {
        ui.add(Label::new(RichText::new(sentence).font(t.small_font())).wrap());
    }
    let most = mothers.lines.iter().map(|line| line.ears).max().unwrap_or(1);
    ui.spacing_mut().item_spacing.y = 0.0;
    ScrollArea::vertical()
        .id_salt("mother rows")
        .max_height(IN_SIGHT * t.row_height)
        .auto_shrink([false, true])
        .show_rows(ui, t.row_height, mothers.lines.len(), |ui, places| {
            for line in &mothers.lines[places] {
                if let Some(ears) = row(ui, ctx, line, most) {
                    ctx.choose(ears);
                }
            }
        });
}

/// One mother row: its label, a bar of its ears with the kept ones filled, and the figures. Gives the ears to choose
/// when it is clicked: the kept ones, or else its best.
fn row(ui: &mut Ui, ctx: &PaneCtx<'_>, line: &MotherLine, most: usize) -> Option<Vec<EarId>> {
    let t = Tokens::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), t.row_height), Sense::CLICK);
    let said = sentence(line);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &said));
    let is_chosen = !line.kept.is_empty() && line.kept.iter().any(|ear| ctx.chosen.contains(ear));
    if is_chosen || response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect, f32::from(t.radius), t.selection);
    }
    let ink = if line.kept.is_empty() { t.quiet } else { t.text };
    let em = t.body_font().size;
    let middle = rect.center().y;
    let label = pos2(rect.left() + 4.0 * em, middle);
    ui.painter()
        .text(label, Align2::RIGHT_CENTER, &line.label, t.strong_font(), ink);
    // The bar has the same scale in all rows.
    let bar = Rect::from_min_size(
        pos2(rect.left() + 4.8 * em, middle - 0.3 * em),
        vec2((rect.width() * 0.36).max(4.0 * em), 0.6 * em),
    );
    let part = |ears: usize| {
        let width = bar.width() * ears as f32 / most.max(1) as f32;
        Rect::from_min_size(bar.min, vec2(width, bar.height()))
    };
    ui.painter()
        .rect_filled(part(line.ears), 0.0, t.mark_neutral.gamma_multiply(0.5));
    ui.painter().rect_filled(part(line.kept.len()), 0.0, t.marks()[0]);
    let figures = format!("{} of {}", line.kept.len(), line.ears);
    let likely = line
        .likely_percent
        .map(|percent| format!("likely {percent:.0} %"));
    for (text, from_bar) in [(Some(figures), 5.0), (likely, 12.0)] {
        let at = pos2(bar.right() + from_bar * em, middle);
        let text = text.unwrap_or_default();
        ui.painter()
            .text(at, Align2::RIGHT_CENTER, text, t.body_font(), ink);
    }
    let clicked = response.on_hover_text(&said).clicked();
    let best = line.best.map(|(ear, ..)| vec![ear]).unwrap_or_default();
    clicked.then(|| {
        if line.kept.is_empty() {
            best
        } else {
            line.kept.clone()
        }
    })
}

fn sentence(line: &MotherLine) -> String {
    let best = line.best.map_or_else(String::new, |(_, number, percent)| {
        format!(", the best is ear {number} with {percent:.0} % likely")
    });
    format!(
        "Mother row {}: {} of {} ears kept, {} to test again, {} scored{best}",
        line.label,
        line.kept.len(),
        line.ears,
        line.retest,
        line.scored
    )
}
