//! The plot of cold germination over the seasons: as counted, and beside the check.

use crate::genetics::Span;
use crate::insight::Response;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Color32, Id, RichText, Role, Sense, Ui, WidgetInfo};
use egui_plot::{GridMark, Line, LineStyle, MarkerShape, PlotPoints, PlotUi, Points};

/// Height of the plot in points.
const HEIGHT: f32 = 320.0;
/// Length of the dashes of the line beside the check.
const DASH: f32 = 8.0;
/// How far the marks of one season stand apart, in seasons, so that whiskers do not lie on each other.
const APART: f64 = 0.025;
/// Half of the length of the end of a whisker, in seasons.
const END: f64 = 0.012;

/// One of the two lines.
struct Style {
    name: &'static str,
    colour: Color32,
    line: LineStyle,
    shape: MarkerShape,
    aside: f64,
}

/// A mean with its whiskers.
type Place = (f64, f64, Option<Span>);

/// Draws the plot.
pub(super) fn ui(ui: &mut Ui, response: &Response) {
    let t = Tokens::of(ui);
    let years: Vec<f64> = response
        .seasons
        .iter()
        .map(|(_, year)| f64::from(*year))
        .collect();
    let (Some(first), Some(last)) = (years.first().copied(), years.last().copied()) else {
        return;
    };
    let span = (last - first).max(1.0);
    let styles = [
        Style {
            name: "As counted",
            colour: t.mark_one,
            line: LineStyle::Solid,
            shape: MarkerShape::Circle,
            aside: -APART * span,
        },
        Style {
            name: "Beside the check",
            colour: t.mark_two,
            line: LineStyle::Dashed { length: DASH },
            shape: MarkerShape::Square,
            aside: APART * span,
        },
    ];
    legend(ui, &styles);
    let course = &response.germination;
    let counted: Vec<Place> = years
        .iter()
        .zip(&course.means)
        .filter_map(|(year, mean)| {
            let mean = (*mean)?.mean;
            Some((*year, mean.value, Some(mean.interval_95())))
        })
        .collect();
    let shown = still_plot(
        ui,
        Id::unique("response"),
        ["Season", "Cold germination of all ears, %"],
    )
    .height(HEIGHT)
    .include_x(first - 0.1 * span)
    .include_x(last + 0.1 * span)
    .x_grid_spacer(|input| {
        let step = if input.bounds.1 - input.bounds.0 > 16.0 {
            5
        } else {
            1
        };
        let (from, to) = (
            input.bounds.0.ceil().clamp(0.0, 9_999.0) as u32,
            input.bounds.1.floor().clamp(0.0, 9_999.0) as u32,
        );
        let years = (from..=to).filter(|year| year % step == 0);
        years
            .map(|year| GridMark {
                value: f64::from(year),
                step_size: f64::from(step),
            })
            .collect()
    })
    .set_margin_fraction(egui::vec2(0.0, 0.08))
    .sense(Sense::hover())
    .show(ui, |plot| {
        draw(plot, &styles[0], &counted, span);
        for chain in &course.chains {
            let beside: Vec<Place> = chain
                .seasons
                .iter()
                .filter_map(|season| {
                    let adjusted = course.adjusted(*season)?;
                    Some((years[*season], adjusted.value, Response::whiskers(adjusted)))
                })
                .collect();
            draw(plot, &styles[1], &beside, span);
        }
    });
    let summary = response.plot_text();
    shown
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
}

fn draw(plot: &mut PlotUi<'_>, style: &Style, places: &[Place], span: f64) {
    let at: Vec<[f64; 2]> = places
        .iter()
        .map(|(year, value, _)| [year + style.aside, *value])
        .collect();
    let thin = |points: Vec<[f64; 2]>| {
        Line::new(style.name, PlotPoints::from(points))
            .color(style.colour)
            .width(1.5)
            .allow_hover(false)
    };
    for ((.., whiskers), [x, _]) in places.iter().zip(&at) {
        let Some(Span { low, high }) = *whiskers else {
            continue;
        };
        let end = END * span;
        plot.line(thin(vec![[*x, low], [*x, high]]));
        for y in [low, high] {
            plot.line(thin(vec![[x - end, y], [x + end, y]]));
        }
    }
    plot.line(
        Line::new(style.name, PlotPoints::from(at.clone()))
            .color(style.colour)
            .style(style.line)
            .width(2.0)
            .allow_hover(false),
    );
    plot.points(
        Points::new(style.name, PlotPoints::from(at))
            .color(style.colour)
            .shape(style.shape)
            .radius(5.0)
            .allow_hover(false),
    );
}

fn legend(ui: &mut Ui, styles: &[Style; 2]) {
    let t = Tokens::of(ui);
    ui.horizontal_wrapped(|ui| {
        for (style, (mark, line)) in styles.iter().zip([("●", "full line"), ("■", "dashed line")]) {
            ui.label(RichText::new(mark).color(style.colour));
            ui.label(RichText::new(format!("{}, {line}", style.name)).font(t.small_font()));
            ui.add_space(t.space.medium);
        }
        let text = "Whiskers are 95 %: of the mean as counted; beside the check of what changed since the first season.";
        ui.label(RichText::new(text).font(t.small_font()).color(t.quiet));
    });
}
