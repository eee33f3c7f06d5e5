//! The picture of a season's weather: highs and lows with the days of frost, and the sum of heat below it.

use crate::insight::{FrostKind, SeasonDay, SeasonWeather, temperature};
use crate::model::TemperatureUnit;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::legend::{Look, legend, readout};
use crate::ui::widgets::still_plot::still_plot;
use egui::{EventFilter, Id, Key, Modifiers, Response, Role, Ui, WidgetInfo, vec2};
use egui_plot::{
    AxisHints, GridMark, HLine, Line, LineStyle, MarkerShape, Plot, PlotPoints, PlotUi, Points, Span, VLine,
};
use jiff::ToSpan;
use jiff::civil::Date;

/// Height of the plot of temperatures, in points.
const HEIGHT: f32 = 230.0;
/// Height of the plot of heat, in points.
const HEAT_HEIGHT: f32 = 120.0;
/// Width of the lines, in points.
const LINE: f32 = 1.6;
/// Width of the room for the numbers of both plots, so that their days stand below each other.
const NUMBERS: f32 = 66.0;
/// Radius of a mark of frost, in points.
const MARK: f32 = 4.5;

/// What is drawn.
pub(super) struct Picture<'a> {
    pub(super) view: &'a SeasonWeather,
    pub(super) unit: TemperatureUnit,
    pub(super) limit_c: f64,
}

/// The two lines of temperatures, high and low.
fn styles(t: &Tokens) -> [(egui::Color32, LineStyle); 2] {
    let [high, low, ..] = t.marks();
    [(high, LineStyle::Solid), (low, LineStyle::dashed_dense())]
}

impl Picture<'_> {
    /// Draws both plots, what they show under the pointer or the arrow keys, and the legend.
    pub(super) fn ui(&self, ui: &mut Ui, id: Id) {
        let Some((from, to)) = self.view.span else { return };
        let t = Tokens::of(ui);
        let pointed = ui.data(|data| data.get_temp::<f64>(id));
        let ends = (0.0, f64::from((to - from).get_days()).max(1.0));
        let above = self.temperatures(ui, id.with("temperatures"), ends, pointed);
        let summary = self.summary();
        above
            .response
            .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
        let hovered = above.inner;
        let below = self
            .view
            .planted
            .and_then(|_| self.heat(ui, id.with("heat"), ends, pointed));
        let typed = keys(ui, &above.response, ends, pointed);
        let day = hovered.or(below).or(typed);
        if let Some(day) = day {
            ui.data_mut(|data| data.insert_temp(id, day));
            if Some(day) != pointed {
                ui.request_repaint();
            }
        }
        readout(ui, 1.0, &self.said(day.or(pointed)));
        self.legend(ui);
        ui.add_space(t.space.small);
    }

    fn place(&self, day: Date) -> Option<f64> {
        Some(f64::from((day - self.view.span?.0).get_days()))
    }

    fn plot(&self, ui: &Ui, id: Id, ends: (f64, f64), label: &str, height: f32) -> Plot<'static> {
        let t = Tokens::of(ui);
        let from = self.view.span.map(|span| span.0);
        let axis = |hints: AxisHints<'static>| {
            hints
                .tick_label_color(t.quiet)
                .tick_label_font(t.small_font())
                .label_spacing(14.0..=20.0)
        };
        let x = axis(AxisHints::new_x()).formatter(move |mark, _| {
            let day = from.and_then(|from| from.checked_add((mark.value as i64).days()).ok());
            day.map_or_else(String::new, |day| day.strftime("%-d %b").to_string())
        });
        let y = axis(AxisHints::new_y().label(label.to_owned())).min_thickness(NUMBERS);
        still_plot(ui, id, ["", ""])
            .height(height)
            .default_x_bounds(ends.0 - 1.0, ends.1 + 1.0)
            .custom_x_axes(vec![x])
            .custom_y_axes(vec![y])
            .x_grid_spacer(move |_| from.map_or_else(Vec::new, |from| months(from, ends.1)))
            .set_margin_fraction(vec2(0.0, 0.08))
    }

    fn temperatures(
        &self,
        ui: &mut Ui,
        id: Id,
        ends: (f64, f64),
        pointed: Option<f64>,
    ) -> egui_plot::PlotResponse<Option<f64>> {
        let t = Tokens::of(ui);
        let plot = self.plot(ui, id, ends, self.unit.sign(), HEIGHT);
        plot.show(ui, |plot| {
            if let Some((first, last)) = self.view.picked
                && let (Some(first), Some(last)) = (self.place(first), self.place(last))
            {
                let span = Span::new("", first..=last + 1.0);
                plot.span(span.fill(t.mark_neutral.gamma_multiply(0.18)));
            }
            let limit = HLine::new("limit of frost", self.unit.of_celsius(self.limit_c));
            let limit = limit.color(t.quiet).width(1.0).style(LineStyle::dotted_dense());
            plot.hline(limit.allow_hover(false));
            let high = |day: &SeasonDay| Some(self.unit.of_celsius(day.day.high_c));
            let low = |day: &SeasonDay| Some(self.unit.of_celsius(day.day.low_c));
            let [high_style, low_style] = styles(t);
            self.line(plot, high, high_style);
            self.line(plot, low, low_style);
            for kind in [FrostKind::Light, FrostKind::Killing] {
                let days = self.view.days.iter().filter(|day| day.frost == Some(kind));
                let points: Vec<[f64; 2]> = days
                    .filter_map(|day| Some([self.place(day.day.on)?, low(day)?]))
                    .collect();
                let (shape, is_filled) = mark(kind);
                plot.points(
                    Points::new("", PlotPoints::from(points))
                        .shape(shape)
                        .filled(is_filled)
                        .radius(MARK)
                        .color(t.bad)
                        .allow_hover(false),
                );
            }
            self.both(plot, t, pointed)
        })
    }

    /// Draws the sum of heat; gives the day under the pointer.
    fn heat(&self, ui: &mut Ui, id: Id, ends: (f64, f64), pointed: Option<f64>) -> Option<f64> {
        let t = Tokens::of(ui);
        let label = format!("{} days", self.unit.sign());
        let plot = self.plot(ui, id, ends, &label, HEAT_HEIGHT).include_y(0.0);
        let drawn = plot.show(ui, |plot| {
            let heat = |day: &SeasonDay| day.heat_sum_c.map(|heat| self.unit.difference_of_celsius(heat));
            self.line(plot, heat, (t.text, LineStyle::Solid));
            self.both(plot, t, pointed)
        });
        let text = "The sum of heat over the season, below the temperatures.";
        drawn
            .response
            .widget_info(|| WidgetInfo::labeled(Role::Image, true, text));
        drawn.inner
    }

    /// What both plots have: the day of planting and the one that is read. Gives the day under the pointer.
    fn both(&self, plot: &mut PlotUi<'_>, t: &Tokens, pointed: Option<f64>) -> Option<f64> {
        if let Some(planted) = self.view.planted.and_then(|day| self.place(day)) {
            let line = VLine::new("", planted).color(t.quiet).width(1.0);
            plot.vline(line.style(LineStyle::dashed_loose()).allow_hover(false));
        }
        if let Some(day) = pointed {
            plot.vline(VLine::new("", day).color(t.accent).width(1.0).allow_hover(false));
        }
        let is_over = plot.response().hovered();
        let last = self
            .view
            .span
            .map_or(0.0, |(from, to)| f64::from((to - from).get_days()));
        plot.pointer_coordinate()
            .filter(|_| is_over)
            .map(|point| point.x.round().clamp(0.0, last))
    }

    /// Draws a line through the days that follow each other; where one is not known the line is broken.
    fn line(
        &self,
        plot: &mut PlotUi<'_>,
        value: impl Fn(&SeasonDay) -> Option<f64>,
        (colour, style): (egui::Color32, LineStyle),
    ) {
        let known: Vec<[f64; 2]> = self
            .view
            .days
            .iter()
            .filter_map(|day| Some([self.place(day.day.on)?, value(day)?]))
            .collect();
        for piece in known.chunk_by(|one, next| next[0] - one[0] < 1.5) {
            let line = Line::new("", PlotPoints::from(piece.to_vec()));
            plot.line(line.color(colour).style(style).width(LINE).allow_hover(false));
        }
    }

    /// Says the weather of a day.
    fn said(&self, day: Option<f64>) -> String {
        let Some((place, (from, _))) = day.zip(self.view.span) else {
            return "Point at the plot, or Tab to it and use the arrow keys, to read a day.".to_owned();
        };
        let on = from.saturating_add((place as i64).days());
        let Some(day) = self.view.days.iter().find(|day| day.day.on == on) else {
            return format!("{on}: not known.");
        };
        let frost = day
            .frost
            .map_or_else(String::new, |kind| format!(", {}", kind.name()));
        let heat = day.heat_sum_c.map_or_else(String::new, |heat| {
            let heat = self.unit.difference_of_celsius(heat);
            format!("; {heat:.0} {} days of heat since planting", self.unit.sign())
        });
        format!(
            "{on}: high {}, low {}{frost}{heat}.",
            temperature(day.day.high_c, self.unit),
            temperature(day.day.low_c, self.unit)
        )
    }

    /// Says in words what the picture shows, for those who do not see it.
    fn summary(&self) -> String {
        format!(
            "Highs and lows of season {}. {}",
            self.view.year,
            self.view.sentences.join(" ")
        )
    }

    fn legend(&self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let [(high, high_style), (low, low_style)] = styles(t);
        let mut entries = vec![
            (Look::Line(high, high_style, LINE), "high".to_owned()),
            (Look::Line(low, low_style, LINE), "low".to_owned()),
        ];
        let limit = temperature(self.limit_c, self.unit);
        let look = Look::Line(t.quiet, LineStyle::dotted_dense(), 1.0);
        entries.push((look, format!("limit of frost, {limit}")));
        for (kind, sign) in [(FrostKind::Light, "○"), (FrostKind::Killing, "▼")] {
            if self.view.days.iter().any(|day| day.frost == Some(kind)) {
                entries.push((Look::Sign(sign, t.bad), kind.name().to_owned()));
            }
        }
        if self.view.planted.is_some() {
            let look = Look::Line(t.quiet, LineStyle::dashed_loose(), 1.0);
            entries.push((look, "planting".to_owned()));
            entries.push((
                Look::Line(t.text, LineStyle::Solid, LINE),
                "sum of heat (below)".to_owned(),
            ));
        }
        if self.view.picked.is_some() {
            let look = Look::Area(t.mark_neutral.gamma_multiply(0.18), egui::Color32::TRANSPARENT);
            entries.push((look, "days of picking".to_owned()));
        }
        legend(ui, &entries);
    }
}

/// The mark of a day of frost, and whether it is filled.
fn mark(kind: FrostKind) -> (MarkerShape, bool) {
    match kind {
        FrostKind::Light => (MarkerShape::Circle, false),
        FrostKind::Killing => (MarkerShape::Down, true),
    }
}

/// The arrow keys go from day to day, Page Up and Page Down from week to week, while the plot has the keyboard.
fn keys(ui: &Ui, response: &Response, (first, last): (f64, f64), pointed: Option<f64>) -> Option<f64> {
    if !response.has_focus() {
        return None;
    }
    let arrows = EventFilter {
        horizontal_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
    let pressed = |key| ui.input_mut(|i| i.count_and_consume_key(Modifiers::NONE, key)) as f64;
    let days = pressed(Key::ArrowRight) - pressed(Key::ArrowLeft)
        + 7.0 * (pressed(Key::PageDown) - pressed(Key::PageUp));
    (days.abs() > 0.0).then(|| pointed.map_or(first, |day| (day + days).clamp(first, last)))
}

/// A mark on the first of every month, of long spans of every sixth.
fn months(from: Date, last: f64) -> Vec<GridMark> {
    let every = if last > 800.0 { 6 } else { 1 };
    let Ok(first) = Date::new(from.year(), from.month(), 1) else {
        return Vec::new();
    };
    (0..600)
        .filter_map(|month: i32| first.checked_add((every * month).months()).ok())
        .map(|day| f64::from((day - from).get_days()))
        .take_while(|value| *value <= last)
        .filter(|value| *value >= 0.0)
        .map(|value| GridMark {
            value,
            step_size: f64::from(30 * every),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn marks_stand_on_the_first_of_months_and_are_never_many() {
        let values = |from, last| {
            months(from, last)
                .iter()
                .map(|mark| mark.value)
                .collect::<Vec<_>>()
        };
        assert_eq!(values(date(2026, 4, 20), 50.0), [11.0, 42.0]);
        assert_eq!(values(date(2026, 4, 1), 30.0), [0.0, 30.0]);
        assert!(values(date(1900, 1, 1), 80_000.0).len() <= 600);
    }
}
