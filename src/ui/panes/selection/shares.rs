//! How many kernels of each kept ear: equal, for a wanted stand, or shared out, with all that shares can do drawn as one
//! line.

use super::picture;
use super::scatter::ticks;
use super::stand;
use crate::insight::{EarShare, Shares};
use crate::model::{Command, Cutoffs, KernelWay, Project, Season, SeasonId, Selection};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::segmented::segmented;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Id, Label, RichText, Role, ScrollArea, Ui, WidgetInfo, vec2};
use egui_plot::{Line, MarkerShape, PlotPoints, Points};
use std::sync::Arc;

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
pub fn title(project: &Project, season: SeasonId) -> String {
    let how = match way(project, season) {
        KernelWay::Equal => "equal".to_owned(),
        KernelWay::SharedOut(_) => "shared out".to_owned(),
        KernelWay::ForAStand => {
            let wanted = project.seasons.get(season).map(Season::wanted);
            format!("for {} plants", wanted.map_or(0, |wanted| wanted.plants))
        }
    };
    format!("Kernels: {how}")
}

fn way(project: &Project, season: SeasonId) -> KernelWay {
    project
        .selection_of(season)
        .map_or(KernelWay::Equal, Selection::kernel_way)
}

/// Draws the part. It is of the cutoffs that are set, not of a line that is being dragged.
pub fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, set: &Cutoffs) {
    let shares = ctx.insight.shares(ctx.document, season, set);
    let sowings = ctx.insight.sowings(ctx.document, season, set);
    let before = way(ctx.document.project(), season);
    let mut wanted = before;
    let is_free = ctx.read_only.is_none();
    ui.add_enabled_ui(is_free, |ui| {
        ui.horizontal_wrapped(|ui| switch(ui, &shares, &mut wanted));
    });
    match Option::as_ref(&sowings) {
        Some(sowings) => stand::ui(ui, ctx, season, sowings),
        None => body(ui, ctx, (season, set), &shares, &mut wanted),
    }
    if wanted != before {
        ctx.act(Action::CloseStep);
        ctx.run(Command::SetKernels { season, way: wanted });
        ctx.act(Action::CloseStep);
    }
}

/// Equal kernels beside the best shares.
fn body(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    (season, set): (SeasonId, &Cutoffs),
    shares: &Arc<Shares>,
    wanted: &mut KernelWay,
) {
    let t = Tokens::of(ui);
    if let Some(refusal) = &shares.refusal {
        let said = ui.add(Label::new(RichText::new(format!("⚠ {refusal}")).color(t.warn)).wrap());
        said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, refusal));
    }
    if shares.frontier.len() > 1
        && let Some(clicked) = plot(ui, shares)
        && ctx.read_only.is_none()
    {
        *wanted = KernelWay::SharedOut(clicked);
    }
    if !shares.frontier.is_empty() {
        let key = "— the best that shares can do   ▲ equal kernels   ● shared out";
        ui.label(RichText::new(key).font(t.small_font()).color(t.quiet));
        picture::of_frontier(ui, ctx, season, set, shares);
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
}

/// Which way, and of shares the effective size. Shares that cannot be worked out are not offered.
fn switch(ui: &mut Ui, shares: &Shares, wanted: &mut KernelWay) {
    let at = match wanted {
        KernelWay::Equal => 0,
        KernelWay::ForAStand => 1,
        KernelWay::SharedOut(_) => 2,
    };
    let options = ["Equal kernels", "For a stand", "Shared out"];
    let offered = if shares.equal.is_some() || at == 2 { 3 } else { 2 };
    let id = Id::unique("kernel way");
    match segmented(ui, id, "Kernels of each ear", &options[..offered], at) {
        Some(0) => *wanted = KernelWay::Equal,
        Some(1) => *wanted = KernelWay::ForAStand,
        // As diverse as equal kernels are, so that the whole gain is one of sharing out.
        Some(_) => {
            if let Some(equal) = shares.equal {
                *wanted = KernelWay::SharedOut(equal.coancestry);
            }
        }
        None => {}
    }
    let KernelWay::SharedOut(ceiling) = *wanted else {
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
        *wanted = KernelWay::SharedOut(coancestry);
    }
}

/// Draws what shares can do at the best, with both ways on it; gives the coancestry that was clicked.
fn plot(ui: &mut Ui, shares: &Shares) -> Option<f64> {
    let t = Tokens::of(ui);
    let line: Vec<[f64; 2]> = shares
        .frontier
        .iter()
        .filter_map(|one| shares.place(*one))
        .collect();
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
            let Some(at) = way.and_then(|way| shares.place(way)) else {
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
    let summary = shares.frontier_text();
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
    let mut order: Vec<&EarShare> = shares.ears.iter().collect();
    order.sort_by_key(|one| (std::cmp::Reverse(one.shared), one.number));
    let chosen = ear_rows(ui, "kernels of each ear", &COLUMNS, order.len(), |place| {
        let one = order[place];
        let shared = one
            .shared
            .map_or_else(|| "–".to_owned(), |kernels| kernels.to_string());
        let said = format!(
            "Ear {}: {} kernels if equal, {shared} shared out",
            one.number, one.equal
        );
        let cells = vec![
            one.number.to_string(),
            format!("{:.1} %", one.likely_percent),
            one.equal.to_string(),
            shared,
            one.most.to_string(),
        ];
        (cells, said)
    });
    if let Some(place) = chosen {
        ctx.choose(vec![order[place].ear]);
    }
}

/// Draws a table with a row for each ear, given the texts of a row and what is said of it; gives the row that was
/// clicked. Widths of columns are in parts of the text's height.
pub(super) fn ear_rows(
    ui: &mut Ui,
    name: &str,
    columns: &[(&str, f32)],
    rows: usize,
    row: impl Fn(usize) -> (Vec<String>, String),
) -> Option<usize> {
    let t = Tokens::of(ui);
    let em = t.body_font().size;
    let line = |ui: &mut Ui, cells: Vec<String>, font: &egui::FontId| {
        for (text, (_, width)) in cells.into_iter().zip(columns) {
            ui.allocate_ui_with_layout(
                vec2(width * em, t.row_height),
                egui::Layout::right_to_left(egui::Align::Center),
                |ui| ui.add(Label::new(RichText::new(text).font(font.clone()).color(t.text)).truncate()),
            );
        }
    };
    ui.spacing_mut().item_spacing.y = 0.0;
    ui.horizontal(|ui| {
        let heads = columns.iter().map(|(head, _)| (*head).to_owned()).collect();
        line(ui, heads, &t.strong_font());
    });
    let mut chosen = None;
    ScrollArea::vertical()
        .id_salt(name)
        .max_height(6.0 * t.row_height)
        .auto_shrink([false, true])
        .show_rows(ui, t.row_height, rows, |ui, places| {
            for place in places {
                let (cells, said) = row(place);
                let drawn = ui.horizontal(|ui| line(ui, cells, &t.body_font()));
                let drawn = drawn.response.interact(egui::Sense::CLICK);
                drawn.widget_info(|| WidgetInfo::labeled(Role::Button, true, &said));
                if drawn.clicked() {
                    chosen = Some(place);
                }
            }
        });
    chosen
}
