//! How many kernels of each kept ear: equal, or shared out, with all that shares can do drawn as one line.

use super::scatter::ticks;
use crate::insight::{EarShare, ShareFigures, Shares};
use crate::model::{Command, Cutoffs, SeasonId};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::segmented::segmented;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Id, Label, RichText, Role, ScrollArea, Ui, WidgetInfo, vec2};
use egui_plot::{Line, MarkerShape, PlotPoints, Points};

/// Height of the frontier in points.
const PLOT_HEIGHT: f32 = 170.0;
/// Steps of the numbers on the axes.
const STEPS: [f64; 9] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];
/// The axes have no ends.
const EVERYWHERE: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];
/// Widths of the columns of the table, in parts of the text's height.
const COLUMNS: [(&str, f32); 5] = [
    ("Ear", 3.5),
    ("Likely", 4.5),
    ("Equal", 4.0),
    ("Shared", 4.5),
    ("In packet", 5.0),
];

/// Names the part.
pub fn title(most_coancestry: Option<f64>) -> String {
    let how = if most_coancestry.is_some() {
        "shared out"
    } else {
        "equal"
    };
    format!("Kernels: {how}")
}

/// Draws the part. It is of the cutoffs that are set, not of a line that is being dragged.
pub fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, set: &Cutoffs) {
    let shares = ctx.insight.shares(ctx.document, season, set);
    body(ui, ctx, season, &shares);
}

fn body(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, shares: &Shares) {
    let t = Tokens::of(ui);
    let is_free = ctx.read_only.is_none();
    let mut wanted = shares.most_coancestry;
    if let Some(equal) = shares.equal {
        ui.add_enabled_ui(is_free, |ui| {
            ui.horizontal_wrapped(|ui| switch(ui, shares, equal, &mut wanted));
        });
    }
    if let Some(refusal) = &shares.refusal {
        let said = ui.add(Label::new(RichText::new(format!("⚠ {refusal}")).color(t.warn)).wrap());
        said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, refusal));
        if shares.equal.is_none() && wanted.is_some() && is_free && ui.button("Equal kernels").clicked() {
            wanted = None;
        }
    }
    if shares.frontier.len() > 1
        && let Some(clicked) = plot(ui, shares)
        && is_free
    {
        wanted = Some(clicked);
    }
    if !shares.frontier.is_empty() {
        let key = "— the best that shares can do   ▲ equal kernels   ● shared out";
        ui.label(RichText::new(key).font(t.small_font()).color(t.quiet));
    }
    for sentence in shares.sentences() {
        ui.add(Label::new(RichText::new(sentence).font(t.small_font())).wrap());
    }
    if shares.equal.is_some() {
        let text = RichText::new(shares.assumptions())
            .font(t.small_font())
            .color(t.quiet);
        ui.add(Label::new(text).wrap());
        table(ui, ctx, shares);
    }
    if wanted != shares.most_coancestry {
        ctx.act(Action::CloseStep);
        ctx.run(Command::SetShares {
            season,
            most_coancestry: wanted,
        });
        ctx.act(Action::CloseStep);
    }
}

/// Equal or shared out, and at which effective size.
fn switch(ui: &mut Ui, shares: &Shares, equal: ShareFigures, wanted: &mut Option<f64>) {
    let at = usize::from(wanted.is_some());
    let options = ["Equal kernels", "Shared out"];
    if let Some(at) = segmented(ui, Id::unique("shares"), "Kernels of each ear", &options, at) {
        // As diverse as equal kernels are, so that the whole gain is one of sharing out.
        *wanted = (at == 1).then_some(equal.coancestry);
    }
    let Some(ceiling) = *wanted else {
        return;
    };
    let size = |coancestry: f64| shares.effective_size(coancestry);
    let most = shares.frontier.first().and_then(|first| size(first.coancestry));
    let field = NumberField::new(Id::unique("least effective size"), "Effective size at least")
        .decimals(1)
        .range(0.5..=most.unwrap_or(1e6).max(0.5))
        .width(64.0);
    if let Some(shown) = size(ceiling)
        && let Some(typed) = field.show(ui, shown)
        // The largest that there is, typed with one digit after the point, is meant exactly.
        && let Some(coancestry) = shares.coancestry(typed).map(|typed| {
            shares.frontier.first().map_or(typed, |first| typed.max(first.coancestry))
        })
    {
        *wanted = Some(coancestry);
    }
}

/// Draws what shares can do at the best, with both ways on it; gives the coancestry that was clicked.
fn plot(ui: &mut Ui, shares: &Shares) -> Option<f64> {
    let t = Tokens::of(ui);
    let place = |one: ShareFigures| Some([shares.effective_size(one.coancestry)?, one.likely_percent]);
    let line: Vec<[f64; 2]> = shares.frontier.iter().filter_map(|one| place(*one)).collect();
    let shown = still_plot(
        ui,
        Id::unique("frontier of shares"),
        ["Effective size", "Likely, %"],
    )
    .height(PLOT_HEIGHT)
    .x_grid_spacer(|input| ticks(&input, &STEPS, 34.0, EVERYWHERE, None))
    .y_grid_spacer(|input| ticks(&input, &STEPS, 24.0, EVERYWHERE, None))
    .set_margin_fraction(vec2(0.06, 0.14))
    .sense(egui::Sense::CLICK)
    .show(ui, |plot| {
        plot.line(
            Line::new("the best by shares", PlotPoints::from(line.clone()))
                .color(t.accent)
                .width(2.0)
                .allow_hover(false),
        );
        let ways = [
            ("equal kernels", shares.equal, MarkerShape::Up, t.mark_neutral),
            ("shared out", shares.shared, MarkerShape::Circle, t.accent),
        ];
        for (name, way, shape, colour) in ways {
            let Some(at) = way.and_then(place) else {
                continue;
            };
            plot.points(
                Points::new(name, PlotPoints::from(vec![at]))
                    .shape(shape)
                    .radius(6.0)
                    .color(colour)
                    .allow_hover(false),
            );
        }
    });
    let said = shares.sentences().join(" ");
    let ends = [shares.frontier.first(), shares.frontier.last()];
    let ends: Vec<String> = ends
        .into_iter()
        .flatten()
        .map(|one| shares.figures(*one))
        .collect();
    let summary = format!("The best by shares runs from {}. {said}", ends.join(" to "));
    (shown.response).widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
    let response = shown
        .response
        .on_hover_text("Click to share out at this effective size.");
    let clicked = response
        .clicked()
        .then(|| response.interact_pointer_pos())
        .flatten()?;
    let size = shown.transform.value_from_position(clicked).x;
    let first = shares.frontier.first()?.coancestry;
    let last = shares.frontier.last()?.coancestry;
    Some(
        shares
            .coancestry(size.max(0.5))
            .unwrap_or(first)
            .clamp(first, last),
    )
}

/// Every ear with its kernels.
fn table(ui: &mut Ui, ctx: &mut PaneCtx<'_>, shares: &Shares) {
    let t = Tokens::of(ui);
    let em = t.body_font().size;
    let line = |ui: &mut Ui, cells: [String; 5], font: &egui::FontId, ink| {
        for (text, (_, width)) in cells.into_iter().zip(COLUMNS) {
            ui.allocate_ui_with_layout(
                vec2(width * em, t.row_height),
                egui::Layout::right_to_left(egui::Align::Center),
                |ui| ui.add(Label::new(RichText::new(text).font(font.clone()).color(ink)).truncate()),
            );
        }
    };
    ui.spacing_mut().item_spacing.y = 0.0;
    ui.horizontal(|ui| {
        line(
            ui,
            COLUMNS.map(|(head, _)| head.to_owned()),
            &t.strong_font(),
            t.text,
        );
    });
    let mut order: Vec<&EarShare> = shares.ears.iter().collect();
    order.sort_by_key(|one| (std::cmp::Reverse(one.shared), one.number));
    ScrollArea::vertical()
        .id_salt("kernels of each ear")
        .max_height(6.0 * t.row_height)
        .auto_shrink([false, true])
        .show_rows(ui, t.row_height, order.len(), |ui, places| {
            for one in &order[places] {
                let shared = one
                    .shared
                    .map_or_else(|| "–".to_owned(), |kernels| kernels.to_string());
                let row = ui.horizontal(|ui| {
                    let cells = [
                        one.number.to_string(),
                        format!("{:.1} %", one.likely_percent),
                        one.equal.to_string(),
                        shared.clone(),
                        one.most.to_string(),
                    ];
                    line(ui, cells, &t.body_font(), t.text);
                });
                let row = row.response.interact(egui::Sense::CLICK);
                row.widget_info(|| {
                    let text = format!(
                        "Ear {}: {} kernels if equal, {shared} shared out",
                        one.number, one.equal
                    );
                    WidgetInfo::labeled(Role::Button, true, text)
                });
                if row.clicked() {
                    ctx.choose(vec![one.ear]);
                }
            }
        });
}
