//! An index weighed by hand, its formula, and the ears that it would keep beside those of the cutoffs.

use super::names::Names;
use crate::insight::{EarIndex, IndexView, Insight, SetLine};
use crate::model::{Better, Command, EarId, Index, IndexTrait, Project, SeasonId};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{Button, ComboBox, Grid, Id, Label, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo};

/// Ears of the ranking in sight.
const IN_SIGHT: f32 = 6.0;

/// Names the part.
pub fn title(view: &IndexView) -> String {
    match &view.by_index {
        None => "Index".to_owned(),
        Some(line) => format!("Index: {} of {} alike", view.both, line.kept),
    }
}

/// Draws the part.
pub fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, view: &IndexView, names: &Names) {
    let t = Tokens::of(ui);
    let selection = ctx.document.project().selection_of(season);
    let before = selection.and_then(|one| one.index.clone()).unwrap_or_default();
    let mut after = before.clone();
    ui.add_enabled_ui(ctx.read_only.is_none(), |ui| weights(ui, ctx, &mut after));
    if after != before {
        ctx.act(Action::CloseStep);
        ctx.run(Command::SetIndex { season, index: after });
        ctx.act(Action::CloseStep);
    }
    let quiet = |text: &str| Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap();
    if view.terms.is_empty() {
        ui.add(quiet(
            "Weigh what matters to you: each weight is what one standard deviation of a trait is worth, below 0 where \
             less is wanted. The ears that the index would keep then stand beside those of the cutoffs.",
        ));
        return;
    }
    let formula = format!("Index = {}", view.formula());
    ui.add(Label::new(RichText::new(formula).font(t.strong_font())).wrap());
    for sentence in view.sentences() {
        ui.add(Label::new(RichText::new(sentence).font(t.small_font())).wrap());
    }
    ui.add(quiet(
        "Likely percents are drawn towards the mean already; other traits are as they were measured. The cutoffs choose, \
         the index only compares.",
    ));
    if let (Some(cutoffs), Some(index)) = (&view.by_cutoffs, &view.by_index) {
        beside(ui, cutoffs, index);
        ui.horizontal_wrapped(|ui| {
            for (ears, what) in [
                (&index.only_here, "kept only by the index"),
                (&index.only_set, "kept only by the cutoffs"),
            ] {
                let text = RichText::new(format!("Choose {} {what}", ears.len())).font(t.small_font());
                if ui.add_enabled(!ears.is_empty(), Button::new(text)).clicked() {
                    ctx.choose(ears.clone());
                }
            }
        });
    }
    ranking(ui, ctx, view, names);
}

/// The traits with their weights, those that are weighed first, and the choice of another.
fn weights(ui: &mut Ui, ctx: &PaneCtx<'_>, index: &mut Index) {
    let project = ctx.document.project();
    let traits = Insight::index_traits(ctx.document);
    ui.horizontal_wrapped(|ui| {
        for (of, name) in &traits {
            let Some(mut weight) = index.weight_of(*of).map(Some) else {
                continue;
            };
            let label = format!("Weight of {name}");
            let field = NumberField::new(Id::unique(("index weight", *of)), &label)
                .range(-1000.0..=1000.0)
                .decimals(3)
                .width(56.0);
            if field.show_optional(ui, &mut weight) {
                index.weigh(*of, weight);
            }
        }
        let others: Vec<&(IndexTrait, String)> = traits
            .iter()
            .filter(|(of, _)| index.weight_of(*of).is_none())
            .collect();
        let combo = ComboBox::from_id_salt("index trait").selected_text("Weigh another trait…");
        let response = combo.show_ui(ui, |ui| {
            for (of, name) in others {
                if ui.selectable_label(false, name).clicked() {
                    index.weigh(*of, Some(first_weight(project, *of)));
                }
            }
        });
        response
            .response
            .widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Weigh another trait"));
    });
    if !index.weights.is_empty() {
        ui.checkbox(&mut index.missing_as_mean, "Count a missing value as the mean");
    }
}

/// One, in the direction that is wanted: earlier and whatever the trait says is better.
fn first_weight(project: &Project, of: IndexTrait) -> f64 {
    let lower = match of {
        IndexTrait::Maturity => true,
        IndexTrait::Trait(id) => project
            .trait_of(id)
            .is_some_and(|known| known.better == Better::Lower),
        _ => false,
    };
    if lower { -1.0 } else { 1.0 }
}

/// The figures of both ways, one under the other.
fn beside(ui: &mut Ui, cutoffs: &SetLine, index: &SetLine) {
    let t = Tokens::of(ui);
    let text = |value: Option<f64>, unit: &str| {
        value.map_or_else(|| "–".to_owned(), |value| format!("{value:.1}{unit}"))
    };
    Grid::new("index beside cutoffs")
        .num_columns(6)
        .spacing([t.space.medium, t.space.tiny])
        .show(ui, |ui| {
            for heading in ["", "Kept", "Likely", "Mothers", "Effective size", "Maturity"] {
                ui.label(RichText::new(heading).font(t.small_font()).color(t.quiet));
            }
            ui.end_row();
            for (name, line) in [("Cutoffs", cutoffs), ("Index", index)] {
                ui.label(RichText::new(name).font(t.strong_font()));
                ui.label(line.kept.to_string());
                ui.label(text(line.likely_percent, " %"));
                ui.label(format!("{} ({:.1})", line.mothers_kept, line.effective_mothers));
                ui.label(line.effective_size.map_or_else(
                    || "–".to_owned(),
                    |[open, closed]| format!("{closed:.0} to {open:.0}"),
                ));
                ui.label(
                    line.maturity_shift_days
                        .map_or_else(|| "–".to_owned(), |days| format!("{days:+.1} days")),
                );
                ui.end_row();
            }
        });
}

/// The ears by their index, the highest first.
fn ranking(ui: &mut Ui, ctx: &mut PaneCtx<'_>, view: &IndexView, names: &Names) {
    let t = Tokens::of(ui);
    ui.spacing_mut().item_spacing.y = 0.0;
    ScrollArea::vertical()
        .id_salt("index ranking")
        .max_height(IN_SIGHT * t.row_height)
        .auto_shrink([false, true])
        .show_rows(ui, t.row_height, view.ears.len(), |ui, places| {
            for place in places {
                if let Some(ear) = ranked(ui, ctx, place, &view.ears[place], names) {
                    ctx.choose(vec![ear]);
                }
            }
        });
}

fn ranked(ui: &mut Ui, ctx: &PaneCtx<'_>, place: usize, one: &EarIndex, names: &Names) -> Option<EarId> {
    let t = Tokens::of(ui);
    let kept = if one.is_kept { "kept" } else { "not kept" };
    let said = format!(
        "{}. ear {}: {:+.2}, {kept}",
        place + 1,
        names.ear(one.ear, one.number),
        one.value
    );
    let size = egui::vec2(ui.available_width(), t.row_height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::CLICK);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &said));
    if ctx.chosen.contains(&one.ear) || response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect, f32::from(t.radius), t.selection);
    }
    let ink = if one.is_kept { t.text } else { t.quiet };
    let at = rect.left_center() + egui::vec2(t.space.small, 0.0);
    ui.painter()
        .text(at, egui::Align2::LEFT_CENTER, said, t.body_font(), ink);
    response.clicked().then_some(one.ear)
}
