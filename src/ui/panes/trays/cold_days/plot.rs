//! The picture of temperatures over the days of a test, and its legend.

use crate::insight::{CountDay, EventLine, LogFigures, LogLine, minute, temperature, weekday_and_date};
use crate::model::{HEAT_BASE_C, Pass, TemperatureUnit};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::legend::{Look, legend, readout};
use egui::{Color32, EventFilter, Id, Key, Modifiers, Role, Stroke, Ui, WidgetInfo, vec2};
use egui_plot::{AxisHints, GridMark, HLine, Line, LineStyle, Plot, PlotPoints, Polygon, Span, VLine};
use std::collections::BTreeSet;

/// Height of the plot in points.
const HEIGHT: f32 = 260.0;
/// Width of the line of a log in points.
const LINE: f32 = 2.0;
/// Width of the line of an event.
const EVENT: f32 = 1.0;
/// The days that the arrow keys go: an hour, and a day with Page Up and Page Down.
const HOUR: f64 = 1.0 / 24.0;
/// The cosine of the turn from which a corner is sharp.
const SHARP: f64 = 0.5;
/// The length of a step from which it is steep, in points.
const STEEP: f64 = 20.0;
/// The most parts into which a line is cut.
const MOST_STROKES: usize = 400;
/// From so many logs on the readout takes a second line.
const ONE_LINE: usize = 4;

/// What is drawn.
pub(super) struct Picture<'a> {
    pub(super) figures: &'a LogFigures,
    pub(super) counts: &'a [CountDay],
    pub(super) events: &'a [EventLine],
    pub(super) unit: TemperatureUnit,
}

/// The line of the log at a place of the list; twelve are told apart.
fn look_of(t: &Tokens, at: usize) -> (Color32, LineStyle) {
    let styles = [
        LineStyle::Solid,
        LineStyle::dashed_loose(),
        LineStyle::dotted_loose(),
    ];
    let marks = t.marks();
    (marks[at % marks.len()], styles[at % styles.len()])
}

/// How an event is drawn: a move apart from all else.
fn event_look(t: &Tokens, kind: &str) -> (Color32, LineStyle) {
    if kind == "move" {
        (t.warn, LineStyle::dashed_dense())
    } else {
        (t.quiet, LineStyle::dotted_dense())
    }
}

fn count_fill(t: &Tokens, pass: Pass) -> Color32 {
    match pass {
        Pass::Early | Pass::Between(_) => t.mark_neutral.gamma_multiply(0.14),
        Pass::Final => t.mark_neutral.gamma_multiply(0.26),
    }
}

impl Picture<'_> {
    /// Draws the plot, what it shows under the pointer or the arrow keys, and the legend below it.
    pub(super) fn ui(&self, ui: &mut Ui, id: Id) {
        let t = Tokens::of(ui);
        let pointed = ui.data(|data| data.get_temp::<f64>(id));
        let sight = self.sight();
        // The plot keeps what is in sight under its name: other days are another plot.
        let name = id.with(sight.map(|(from, to)| [from.to_bits(), to.to_bits()]));
        let response = self.plot(ui, name, sight, pointed);
        let summary = self.summary();
        response
            .response
            .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
        let hovered = response.inner;
        let typed = self.keys(ui, &response.response, pointed);
        if let Some(day) = hovered.or(typed) {
            ui.data_mut(|data| data.insert_temp(id, day));
            if hovered.or(typed) != pointed {
                ui.request_repaint();
            }
        }
        self.readout(ui, hovered.or(typed).or(pointed));
        self.legend(ui);
        ui.add_space(t.space.small);
    }

    /// The days of the test with one before and one behind, where a log has readings or something was noted beyond them; none
    /// for all.
    fn sight(&self) -> Option<(f64, f64)> {
        let from = self.figures.stages.first()?.from_day - 1.0;
        let to = self.figures.stages.last()?.to_day + 1.0;
        let ends: Vec<(f64, f64)> = self.ends().collect();
        let noted = self
            .events
            .iter()
            .filter_map(|event| self.figures.day_of(event.at));
        let is_beyond = ends.iter().any(|(first, last)| *first < from || *last > to)
            || noted.into_iter().any(|day| !(from..=to).contains(&day));
        let is_within = ends.iter().any(|(first, last)| *first < to && *last > from);
        (is_beyond && is_within).then_some((from, to))
    }

    /// The days of the first and the last reading of each log.
    fn ends(&self) -> impl Iterator<Item = (f64, f64)> {
        self.figures.lines.iter().filter_map(|line| {
            let first = line.pieces.first()?.first()?;
            let last = line.pieces.last()?.last()?;
            Some((first[0], last[0]))
        })
    }

    fn plot(
        &self,
        ui: &mut Ui,
        id: Id,
        sight: Option<(f64, f64)>,
        pointed: Option<f64>,
    ) -> egui_plot::PlotResponse<Option<f64>> {
        let t = Tokens::of(ui);
        let axis = |hints: AxisHints<'static>| {
            hints
                .tick_label_color(t.quiet)
                .tick_label_font(t.small_font())
                .label_spacing(14.0..=20.0)
        };
        let days = if self.figures.stages.is_empty() {
            "Days from the midnight before the first reading"
        } else {
            "Days after laying"
        };
        let plot = Plot::new(id);
        let plot = match sight {
            Some((from, to)) => plot.default_x_bounds(from, to),
            None => plot,
        };
        plot.height(HEIGHT)
            .allow_scroll(false)
            .custom_x_axes(vec![axis(AxisHints::new_x().label(days))])
            .custom_y_axes(vec![axis(AxisHints::new_y().label(self.unit.sign()))])
            .x_grid_spacer(|input| whole_days(input.bounds))
            .grid_color(t.line)
            // Room for the words of the counts above the lines.
            .set_margin_fraction(vec2(0.01, 0.14))
            .show_x(false)
            .show_y(false)
            .show(ui, |plot| {
                self.days(plot, t);
                for (at, line) in self.figures.lines.iter().enumerate() {
                    self.line(plot, line, look_of(t, at));
                }
                let base = self.unit.of_celsius(HEAT_BASE_C);
                plot.hline(
                    HLine::new("base of the heat sum", base)
                        .color(t.quiet)
                        .width(1.0)
                        .style(LineStyle::dashed_dense())
                        .allow_hover(false),
                );
                if let Some(day) = pointed {
                    plot.vline(VLine::new("", day).color(t.accent).width(1.0).allow_hover(false));
                }
                let is_over = plot.response().hovered();
                plot.pointer_coordinate().filter(|_| is_over).map(|point| point.x)
            })
    }

    /// The band of the recipe, the days of the counts and what was noted.
    fn days(&self, plot: &mut egui_plot::PlotUi<'_>, t: &'static Tokens) {
        for stage in &self.figures.stages {
            let low = self.unit.of_celsius(stage.low_c);
            let high = self.unit.of_celsius(stage.high_c);
            let corners = vec![
                [stage.from_day, low],
                [stage.to_day, low],
                [stage.to_day, high],
                [stage.from_day, high],
            ];
            let band = Polygon::new("band of the recipe", PlotPoints::from(corners))
                .fill_color(t.selection.gamma_multiply(0.7))
                .stroke(Stroke::new(1.0, t.line))
                .allow_hover(false);
            plot.polygon(band);
        }
        for (pass, from, to) in self.counted() {
            let fill = count_fill(t, pass);
            plot.span(Span::new(format!("{pass} count"), from..=to).fill(fill));
        }
        for event in self.events {
            if let Some(day) = self.figures.day_of(event.at) {
                let (colour, style) = event_look(t, event.kind);
                let line = VLine::new("", day).color(colour).style(style).width(EVENT);
                plot.vline(line.allow_hover(false));
            }
        }
    }

    fn line(&self, plot: &mut egui_plot::PlotUi<'_>, line: &LogLine, (colour, style): (Color32, LineStyle)) {
        let scale = [plot.transform().dpos_dvalue_x(), plot.transform().dpos_dvalue_y()];
        for piece in &line.pieces {
            let points: Vec<[f64; 2]> = piece
                .iter()
                .map(|[day, celsius]| [*day, self.unit.of_celsius(*celsius)])
                .collect();
            for stroke in strokes(&points, scale) {
                plot.line(
                    Line::new("", PlotPoints::from(stroke.to_vec()))
                        .color(colour)
                        .style(style)
                        .width(LINE)
                        .allow_hover(false),
                );
            }
        }
    }

    /// The days of the counts, those that follow each other together.
    fn counted(&self) -> Vec<(Pass, f64, f64)> {
        let mut found: Vec<(Pass, f64, f64)> = Vec::new();
        let mut days: Vec<(Pass, f64)> = self
            .counts
            .iter()
            .filter_map(|count| Some((count.pass, self.figures.day_of(count.on.at(0, 0, 0, 0))?)))
            .collect();
        days.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        for (pass, day) in days {
            match found.last_mut() {
                Some((last, _, to)) if *last == pass && day <= *to => *to = day + 1.0,
                _ => found.push((pass, day, day + 1.0)),
            }
        }
        found
    }

    /// The arrow keys move along the days while the plot has the keyboard.
    fn keys(&self, ui: &Ui, response: &egui::Response, pointed: Option<f64>) -> Option<f64> {
        if !response.has_focus() {
            return None;
        }
        let arrows = EventFilter {
            horizontal_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        let pressed = |key| ui.input_mut(|i| i.count_and_consume_key(Modifiers::NONE, key)) as f64;
        let step = HOUR * (pressed(Key::ArrowRight) - pressed(Key::ArrowLeft)) + pressed(Key::PageDown)
            - pressed(Key::PageUp);
        let (from, to) = self.sight().unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
        let first = self
            .ends()
            .map(|ends| ends.0)
            .fold(f64::INFINITY, f64::min)
            .max(from);
        let last = self
            .ends()
            .map(|ends| ends.1)
            .fold(f64::NEG_INFINITY, f64::max)
            .min(to);
        let may_move = step.abs() > 0.0 && first <= last;
        may_move.then(|| pointed.map_or(first, |day| (day + step).clamp(first, last)))
    }

    /// Says the temperatures at a time.
    fn readout(&self, ui: &mut Ui, day: Option<f64>) {
        let at = day.and_then(|day| Some((day, self.figures.time_at(day)?)));
        let text = match at {
            None => {
                "Point at the plot, or Tab to it and use the arrow keys, to read the temperatures.".to_owned()
            }
            Some((day, at)) => {
                let said = |line: &LogLine| match line.at(day) {
                    Some(celsius) => format!("{} {}", line.name, temperature(celsius, self.unit)),
                    None => format!("{} –", line.name),
                };
                let said: Vec<String> = self.figures.lines.iter().map(said).collect();
                let clock = minute(at);
                let clock = clock.rsplit(' ').next().unwrap_or_default();
                format!("{} {clock}: {}", weekday_and_date(at.date()), said.join(", "))
            }
        };
        let lines = if self.figures.lines.len() > ONE_LINE {
            2.0
        } else {
            1.0
        };
        readout(ui, lines, &text);
    }

    /// Says in words what the picture shows, for those who do not see it.
    fn summary(&self) -> String {
        let said = |line: &LogLine| {
            format!(
                "{}, {}: {} to {}",
                line.name,
                line.trays,
                temperature(line.lowest_c, self.unit),
                temperature(line.highest_c, self.unit)
            )
        };
        let lines: Vec<String> = self.figures.lines.iter().map(said).collect();
        format!("Temperatures over the days. {}.", lines.join("; "))
    }

    fn legend(&self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let mut entries: Vec<(Look, String)> = Vec::new();
        for (at, line) in self.figures.lines.iter().enumerate() {
            let (colour, style) = look_of(t, at);
            let name = format!("{}, {}", line.name, line.trays);
            entries.push((Look::Line(colour, style, LINE), name));
        }
        if !self.figures.stages.is_empty() {
            let look = Look::Area(t.selection.gamma_multiply(0.7), t.line);
            entries.push((look, "band of the recipe".to_owned()));
        }
        let passes: BTreeSet<Pass> = self.counts.iter().map(|count| count.pass).collect();
        for pass in passes {
            let look = Look::Area(count_fill(t, pass), Color32::TRANSPARENT);
            entries.push((look, format!("{pass} count")));
        }
        let has = |is_it: &dyn Fn(&str) -> bool| self.events.iter().any(|event| is_it(event.kind));
        for (word, kind, is_there) in [
            ("water, turns, notes", "water", has(&|kind| kind != "move")),
            ("moves", "move", has(&|kind| kind == "move")),
        ] {
            if is_there {
                let (colour, style) = event_look(t, kind);
                entries.push((Look::Line(colour, style, EVENT), word.to_owned()));
            }
        }
        let base = temperature(HEAT_BASE_C, self.unit);
        let look = Look::Line(t.quiet, LineStyle::dashed_dense(), 1.0);
        entries.push((look, format!("base of the heat sum, {base}")));
        legend(ui, &entries);
    }
}

/// Cuts a line at the corners of steep spikes: where it turns sharply beside a long step, a line that is drawn in one go
/// fades or shoots beyond its points, and a door that stood open for one reading would be seen wrongly. `scale` is how
/// far a day and a degree go on the screen.
fn strokes(points: &[[f64; 2]], scale: [f64; 2]) -> Vec<&[[f64; 2]]> {
    let step = |from: [f64; 2], to: [f64; 2]| [0, 1].map(|axis| (to[axis] - from[axis]) * scale[axis]);
    let length = |step: [f64; 2]| step[0].hypot(step[1]);
    let mut strokes = Vec::new();
    let mut begin = 0;
    for (at, three) in points.windows(3).enumerate() {
        let (there, back) = (step(three[0], three[1]), step(three[1], three[2]));
        let turn = there[0] * back[0] + there[1] * back[1];
        let is_steep = length(there).max(length(back)) > STEEP;
        if is_steep && turn < SHARP * length(there) * length(back) && strokes.len() < MOST_STROKES {
            strokes.push(&points[begin..=at + 1]);
            begin = at + 1;
        }
    }
    strokes.push(&points[begin..]);
    strokes
}

/// A mark on every whole day, and on every hour where few days are in sight.
fn whole_days((from, to): (f64, f64)) -> Vec<GridMark> {
    let step = match to - from {
        width if width <= 2.0 => 0.25,
        width if width <= 20.0 => 1.0,
        width if width <= 140.0 => 7.0,
        width => (width / 20.0).ceil(),
    };
    let first = (from / step).ceil() as i64;
    let last = (to / step).floor() as i64;
    (first..=last)
        .map(|mark| GridMark {
            value: mark as f64 * step,
            step_size: step,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With ten points a day and ten a degree: a spike of five degrees is 50 points high.
    #[test]
    fn a_line_is_cut_at_the_corners_of_a_steep_spike_and_nowhere_else() {
        let scale = [10.0, -10.0];
        let smooth: Vec<[f64; 2]> = (0..50).map(|at| [f64::from(at), f64::from(at % 2)]).collect();
        assert_eq!(strokes(&smooth, scale), [&smooth[..]]);
        let mut spike: Vec<[f64; 2]> = (0..7).map(|at| [f64::from(at) * 0.01, 13.0]).collect();
        spike[3][1] = 18.0;
        let lengths: Vec<usize> = strokes(&spike, scale).iter().map(|one| one.len()).collect();
        assert_eq!(lengths, [3, 2, 2, 3]);
        // Each part begins where the one before it ends, so that nothing of the line is lost.
        let parts = strokes(&spike, scale);
        assert!(parts.windows(2).all(|pair| pair[0].last() == pair[1].first()));
        let wild: Vec<[f64; 2]> = (0..5000)
            .map(|at| [f64::from(at), f64::from(at % 2) * 9.0])
            .collect();
        assert_eq!(strokes(&wild, scale).len(), MOST_STROKES + 1);
        for few in [&wild[..0], &wild[..1], &wild[..2]] {
            assert_eq!(strokes(few, scale), [few]);
        }
    }

    /// What lies far beyond the test does not push its days together; readings of other days only are all shown.
    #[test]
    fn the_days_of_the_test_are_in_sight() {
        let zero = jiff::civil::date(2026, 2, 3).at(0, 0, 0, 0);
        let line = |from: f64, to: f64| LogLine {
            log: crate::model::LogId(1),
            name: String::new(),
            trays: String::new(),
            from: zero,
            to: zero,
            readings: 2,
            lowest_c: 13.0,
            highest_c: 13.0,
            pieces: vec![vec![[from, 13.0], [to, 13.0]]],
        };
        let noted = |day: i64| EventLine {
            event: crate::model::EventId(1),
            at: zero.saturating_add(jiff::SignedDuration::from_hours(24 * day)),
            trays: String::new(),
            what: String::new(),
            kind: "water",
        };
        let sight = |lines: Vec<LogLine>, events: &[EventLine], is_laid: bool| {
            let stage = crate::insight::Stage {
                from_day: 0.75,
                to_day: 12.75,
                low_c: 11.5,
                high_c: 14.5,
            };
            let figures = LogFigures {
                zero: Some(zero),
                lines,
                stages: if is_laid { vec![stage] } else { Vec::new() },
                ..LogFigures::default()
            };
            let picture = Picture {
                figures: &figures,
                counts: &[],
                events,
                unit: TemperatureUnit::Celsius,
            };
            picture.sight()
        };
        let days = Some((-0.25, 13.75));
        assert_eq!(sight(vec![line(0.75, 12.75)], &[noted(6)], true), None);
        assert_eq!(sight(vec![line(0.75, 200.0)], &[], true), days);
        assert_eq!(sight(vec![line(0.75, 12.75)], &[noted(300)], true), days);
        assert_eq!(sight(vec![line(200.0, 210.0)], &[], true), None);
        assert_eq!(sight(vec![line(0.75, 200.0)], &[], false), None);
    }

    #[test]
    fn marks_stand_on_whole_days_and_are_never_many() {
        let days = |ends| whole_days(ends).iter().map(|mark| mark.value).collect::<Vec<_>>();
        assert_eq!(days((-0.5, 3.2)), [0.0, 1.0, 2.0, 3.0]);
        assert_eq!(days((0.6, 1.4)), [0.75, 1.0, 1.25]);
        assert_eq!(days((-3.0, 22.0)), [0.0, 7.0, 14.0, 21.0]);
        assert!(days((0.0, 40_000.0)).len() <= 22);
    }
}
