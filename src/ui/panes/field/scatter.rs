//! The stand in the field beside what the trays said, as a small plot with its sentences.

use crate::insight::FieldAgainstTray;
use crate::model::FieldPlan;
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Id, Label, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo};
use egui_plot::{Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, Points};

/// Draws the part. A click on a mark chooses its ear.
pub(super) fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, plan: &FieldPlan) {
    let against = ctx.insight.field_against_tray(ctx.document, plan.id);
    ScrollArea::vertical().id_salt("field and trays").show(ui, |ui| {
        for sentence in &against.sentences {
            ui.add(Label::new(sentence).wrap());
        }
        if !against.ears.is_empty() {
            plot(ui, ctx, &against);
            let t = Tokens::of(ui);
            let text = "Each mark is an ear; the lines are 90 % intervals of its stand. On the dashed line the field equals the trays. The field is another trial than the trays, so the two need not agree.";
            ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
        }
    });
}

fn plot(ui: &mut Ui, ctx: &mut PaneCtx<'_>, against: &FieldAgainstTray) {
    let t = Tokens::of(ui);
    let side = ui.available_width().min(520.0);
    let shown = still_plot(
        ui,
        Id::unique("field and trays"),
        ["Likely in the trays, %", "Stood in the field, %"],
    )
    .width(side)
    .height(side * 0.75)
    .include_x(0.0)
    .include_x(100.0)
    .include_y(0.0)
    .include_y(100.0)
    .sense(Sense::CLICK)
    .show(ui, |plot| {
        plot.line(
            Line::new("equal", PlotPoints::from(vec![[0.0, 0.0], [100.0, 100.0]]))
                .color(t.quiet)
                .style(LineStyle::dashed_dense())
                .width(1.0)
                .allow_hover(false),
        );
        for ear in &against.ears {
            let x = ear.likely_percent;
            plot.line(
                Line::new(
                    "",
                    PlotPoints::from(vec![[x, ear.low_percent], [x, ear.high_percent]]),
                )
                .color(t.line)
                .width(1.0)
                .allow_hover(false),
            );
        }
        let of = |is_chosen: bool| -> Vec<[f64; 2]> {
            let ears = against
                .ears
                .iter()
                .filter(|ear| ctx.chosen.contains(&ear.ear) == is_chosen);
            ears.map(|ear| [ear.likely_percent, ear.field_percent]).collect()
        };
        for (name, is_chosen, shape, radius) in [
            ("ears", false, MarkerShape::Circle, 3.5),
            ("chosen", true, MarkerShape::Square, 6.0),
        ] {
            plot.points(
                Points::new(name, PlotPoints::from(of(is_chosen)))
                    .shape(shape)
                    .radius(radius)
                    .color(t.accent)
                    .allow_hover(false),
            );
        }
    });
    let said: Vec<String> = against
        .ears
        .iter()
        .take(40)
        .map(|ear| {
            format!(
                "ear {}: {:.0} and {:.0}",
                ear.number, ear.likely_percent, ear.field_percent
            )
        })
        .collect();
    let summary = format!(
        "Likely percent in the trays and percent that stood. {}.",
        said.join("; ")
    );
    shown
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
    let near = shown.response.hover_pos().and_then(|at| {
        let distance = |ear: &&crate::insight::FieldEar| {
            let point = PlotPoint::new(ear.likely_percent, ear.field_percent);
            shown.transform.position_from_point(&point).distance(at)
        };
        against
            .ears
            .iter()
            .min_by(|one, other| distance(one).total_cmp(&distance(other)))
            .filter(|ear| distance(ear) < 12.0)
    });
    let Some(ear) = near else { return };
    let text = format!(
        "Ear {}: {} of {} kernels stood, {:.0} % (90 % interval {:.0} to {:.0}); likely in the trays {:.0} %",
        ear.number,
        ear.plants,
        ear.kernels,
        ear.field_percent,
        ear.low_percent,
        ear.high_percent,
        ear.likely_percent
    );
    if shown.response.clicked() {
        ctx.choose(vec![ear.ear]);
    }
    shown.response.on_hover_text_at_pointer(text);
}
