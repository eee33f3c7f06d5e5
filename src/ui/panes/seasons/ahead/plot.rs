//! One picture of both plans: a line of the mean, and a band in which nine of ten replicates lie.

use super::work::Seen;
use super::{LETTERS, colours};
use crate::genetics::ahead::{Band, SeasonAhead};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::still_plot::still_plot;
use egui::{Id, RichText, Role, Sense, Ui, WidgetInfo};
use egui_plot::{FilledArea, GridMark, Line, LineStyle, MarkerShape, PlotPoints, Points};

/// Height of the plot in points.
const HEIGHT: f32 = 380.0;
/// Length of the dashes of the second plan.
const DASH: f32 = 8.0;

/// What a picture can show.
pub(super) struct Figure {
    pub name: &'static str,
    axis: &'static str,
    decimals: usize,
    of: fn(&SeasonAhead) -> Band,
    factor: f64,
}

pub(super) const FIGURES: [Figure; 4] = [
    Figure {
        name: "Germination",
        axis: "Germination of all ears, %",
        decimals: 0,
        of: |one| one.germination_percent,
        factor: 1.0,
    },
    Figure {
        name: "Inbreeding",
        axis: "Inbreeding of the plants, %",
        decimals: 1,
        of: |one| one.inbreeding,
        factor: 100.0,
    },
    Figure {
        name: "Mother rows",
        axis: "Mother rows of the kept ears",
        decimals: 0,
        of: |one| one.mothers,
        factor: 1.0,
    },
    Figure {
        name: "Lines of mothers",
        axis: "Mother rows of now that are left",
        decimals: 0,
        of: |one| one.lineages,
        factor: 1.0,
    },
];

/// Draws the picture.
pub(super) fn ui(ui: &mut Ui, seen: &Seen, figure: &Figure) {
    let t = Tokens::of(ui);
    legend(ui);
    let shown = still_plot(ui, Id::unique("look ahead"), ["Seasons from now", figure.axis])
        .height(HEIGHT)
        .x_grid_spacer(|input| {
            let last = input.bounds.1.floor().clamp(0.0, 100.0) as u32;
            let step = if last > 10 { 2 } else { 1 };
            (0..=last)
                .step_by(step)
                .map(|season| GridMark {
                    value: f64::from(season),
                    step_size: f64::from(step as u32),
                })
                .collect()
        })
        .set_margin_fraction(egui::vec2(0.02, 0.05))
        .sense(Sense::hover())
        .show(ui, |plot| {
            let bands: Vec<Vec<(f64, Band)>> = seen
                .outlooks
                .iter()
                .map(|outlook| {
                    let seasons = outlook.seasons.iter();
                    seasons
                        .map(|one| (f64::from(one.season), (figure.of)(one)))
                        .collect()
                })
                .collect();
            for (nth, band) in bands.iter().enumerate() {
                let xs: Vec<f64> = band.iter().map(|(x, _)| *x).collect();
                let low: Vec<f64> = band.iter().map(|(_, one)| figure.factor * one.low).collect();
                let high: Vec<f64> = band.iter().map(|(_, one)| figure.factor * one.high).collect();
                let colour = colours(t)[nth];
                plot.add(
                    FilledArea::new(LETTERS[nth], &xs, &low, &high)
                        .fill_color(colour.gamma_multiply(0.16))
                        .stroke((1.0, colour.gamma_multiply(0.6)))
                        .allow_hover(false),
                );
            }
            for (nth, band) in bands.iter().enumerate() {
                let points: Vec<[f64; 2]> = band
                    .iter()
                    .map(|(x, one)| [*x, figure.factor * one.mean])
                    .collect();
                let colour = colours(t)[nth];
                let style = [LineStyle::Solid, LineStyle::Dashed { length: DASH }][nth];
                let shape = [MarkerShape::Circle, MarkerShape::Square][nth];
                plot.line(
                    Line::new(LETTERS[nth], PlotPoints::from(points.clone()))
                        .color(colour)
                        .style(style)
                        .width(2.0)
                        .allow_hover(false),
                );
                plot.points(
                    Points::new(LETTERS[nth], PlotPoints::from(points))
                        .color(colour)
                        .shape(shape)
                        .radius(3.5)
                        .allow_hover(false),
                );
            }
        });
    let summary = in_words(seen, figure);
    shown
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
}

fn legend(ui: &mut Ui) {
    let t = Tokens::of(ui);
    ui.horizontal_wrapped(|ui| {
        for (nth, (mark, line)) in [("●", "full line"), ("■", "dashed line")].into_iter().enumerate() {
            ui.label(RichText::new(mark).color(colours(t)[nth]));
            ui.label(RichText::new(format!("Plan {}, {line}", LETTERS[nth])).font(t.small_font()));
            ui.add_space(t.space.medium);
        }
        let text = "Lines are means; nine of ten replicates lie within the bands.";
        ui.label(RichText::new(text).font(t.small_font()).color(t.quiet));
    });
}

fn in_words(seen: &Seen, figure: &Figure) -> String {
    let mut text = vec![format!("{} by season.", figure.axis)];
    for (letter, outlook) in LETTERS.iter().zip(&seen.outlooks) {
        let said: Vec<String> = outlook
            .seasons
            .iter()
            .map(|one| {
                let band = (figure.of)(one);
                let [mean, low, high] = [band.mean, band.low, band.high]
                    .map(|value| format!("{:.*}", figure.decimals, figure.factor * value));
                format!("{}: {mean} ({low} to {high})", one.season)
            })
            .collect();
        text.push(format!("Plan {letter}: {}.", said.join("; ")));
    }
    text.join(" ")
}
