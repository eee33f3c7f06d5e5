//! How the figures of the choice move with the cold germination cutoff: small plots beside each other.

use super::picture;
use super::scatter::ticks;
use crate::insight::{Curve, CurveFigure};
use crate::model::{Cutoffs, SeasonId};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Id, Label, RichText, Role, Sense, Ui, WidgetInfo, vec2};
use egui_plot::{Line, LineStyle, PlotPoints, VLine};

/// Height of one plot with its title.
const PLOT_HEIGHT: f32 = 112.0;
/// Least width of one plot.
const PLOT_WIDTH: f32 = 165.0;
/// Steps of the numbers on the vertical axes.
const STEPS: [f64; 13] = [
    0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0,
];

/// Names the part.
pub const TITLE: &str = "How it moves";

/// Draws the part; gives the cutoff in percent that was clicked. It is of the cutoffs that are set.
pub fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, set: &Cutoffs) -> Option<f64> {
    let curve = ctx.insight.curve(ctx.document, season, set);
    let clicked = body(ui, &curve);
    picture::of_curve(ui, ctx, season, set, &curve);
    clicked.filter(|_| ctx.read_only.is_none())
}

fn body(ui: &mut Ui, curve: &Curve) -> Option<f64> {
    let t = Tokens::of(ui);
    let in_line = (ui.available_width() / PLOT_WIDTH).floor().clamp(1.0, 3.0) as usize;
    let mut clicked = None;
    for figures in CurveFigure::ALL.chunks(in_line) {
        ui.columns(in_line, |columns| {
            for (ui, figure) in columns.iter_mut().zip(figures) {
                clicked = clicked.or(plot(ui, curve, *figure));
            }
        });
    }
    for sentence in curve.sentences() {
        ui.add(Label::new(RichText::new(sentence).font(t.small_font())).wrap());
    }
    let hint =
        "All other cutoffs as they are. The dashed line is today\'s; click a plot to set the cutoff there.";
    ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).wrap());
    clicked
}

fn plot(ui: &mut Ui, curve: &Curve, figure: CurveFigure) -> Option<f64> {
    let name = figure.name;
    let t = Tokens::of(ui);
    ui.spacing_mut().item_spacing.y = 0.0;
    ui.add(Label::new(RichText::new(name).font(t.small_font()).color(t.quiet)).truncate());
    let points = curve.line(figure);
    let shown = still_plot(ui, Id::unique(("curve", name)), ["", ""])
        .height(PLOT_HEIGHT)
        .x_grid_spacer(|input| ticks(&input, &[25.0, 50.0], 30.0, [0.0, 100.0], None))
        .y_grid_spacer(|input| ticks(&input, &STEPS, 22.0, [f64::NEG_INFINITY, f64::INFINITY], None))
        .include_x(0.0)
        .include_x(100.0)
        .set_margin_fraction(vec2(0.02, 0.1))
        .sense(Sense::CLICK)
        .show(ui, |plot| {
            if let Some(here) = curve.here {
                plot.vline(
                    VLine::new("today", curve.points[here].cutoff_percent)
                        .color(t.quiet)
                        .style(LineStyle::dashed_dense())
                        .width(1.0)
                        .allow_hover(false),
                );
            }
            plot.line(
                Line::new(name, PlotPoints::from(points.clone()))
                    .color(t.accent)
                    .width(2.0)
                    .allow_hover(false),
            );
        });
    let said: Vec<String> = points
        .iter()
        .step_by(2)
        .map(|[cutoff, value]| format!("{cutoff} %: {value:.1}"))
        .collect();
    let summary = format!("{name} by the germination cutoff. {}.", said.join("; "));
    shown
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
    let at = shown
        .response
        .clicked()
        .then(|| shown.response.interact_pointer_pos())
        .flatten()?;
    Some(
        shown
            .transform
            .value_from_position(at)
            .x
            .round()
            .clamp(0.0, 100.0),
    )
}
