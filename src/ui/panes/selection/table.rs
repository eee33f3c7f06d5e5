//! The table in step with the plot: one row an ear, only rows in sight.

use super::marks;
use super::names::Names;
use super::scatter::figures;
use crate::insight::{Choice, Estimate, Speeds, Standing, stand_index};
use crate::model::{EarId, Project, Word};
use crate::ui::tokens::Tokens;
use egui::scroll_area::{DragScroll, ScrollSource};
use egui::{Align2, Color32, FontId, Rect, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// A column of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TableColumn {
    /// Ear number.
    #[default]
    Ear,
    /// Stand.
    Stand,
    /// Germinated of counted kernels.
    Counted,
    /// Likely percent.
    Likely,
    /// Probability of being at or above the cutoff.
    Chance,
    /// Maturity days.
    Days,
    /// Mother row.
    Mother,
    /// Observed percent.
    Observed,
    /// Interval of the likely percent.
    Interval,
    /// Share of the kernels that came up which were up by the early count.
    Early,
    /// Mean vigor grade.
    Vigor,
    /// Ear code.
    Code,
    /// Why it stands there.
    Why,
}

impl TableColumn {
    const ALL: [Self; 13] = [
        Self::Ear,
        Self::Stand,
        Self::Counted,
        Self::Likely,
        Self::Chance,
        Self::Days,
        Self::Mother,
        Self::Observed,
        Self::Interval,
        Self::Early,
        Self::Vigor,
        Self::Code,
        Self::Why,
    ];

    fn title(self) -> &'static str {
        match self {
            Self::Ear => "Ear",
            Self::Stand => "Stand",
            Self::Counted => "Count",
            Self::Likely => "Likely",
            Self::Chance => "Reaches",
            Self::Days => "Days",
            Self::Mother => "Mother",
            Self::Observed => "Observed",
            Self::Interval => "Likely range",
            Self::Early => "Up early",
            Self::Vigor => "Vigor",
            Self::Code => "Code",
            Self::Why => "Why",
        }
    }

    fn hint(self) -> &'static str {
        match self {
            Self::Ear => "Ear number.",
            Self::Stand => "Where the ear stands under the cutoffs and your word.",
            Self::Counted => "Germinated of counted kernels, over all cells of the ear.",
            Self::Likely => "What its cold germination is likely to be.",
            Self::Chance => "Probability that its cold germination is at or above the cutoff.",
            Self::Days => "Maturity days.",
            Self::Mother => "Mother row.",
            Self::Observed => "Germinated kernels in percent of the counted ones.",
            Self::Interval => "The range that holds its cold germination with a probability of 90 %.",
            Self::Early => "Of the kernels that came up, how many were up by the early count.",
            Self::Vigor => "Mean vigor grade over all graded cells of the ear, 0 to 9.",
            Self::Code => "Permanent ear code.",
            Self::Why => "What decided where it stands.",
        }
    }

    fn width(self) -> f32 {
        match self {
            Self::Ear => 54.0,
            Self::Days => 52.0,
            Self::Stand => 140.0,
            Self::Counted | Self::Observed => 78.0,
            Self::Likely | Self::Mother | Self::Vigor => 62.0,
            Self::Chance | Self::Early => 70.0,
            Self::Interval => 102.0,
            Self::Code => 112.0,
            Self::Why => 820.0,
        }
    }

    fn is_number(self) -> bool {
        !matches!(self, Self::Stand | Self::Code | Self::Why)
    }
}

/// Which rows the table shows, and how they are sorted.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Sorted by this column.
    pub column: TableColumn,
    /// Largest first.
    pub descending: bool,
    /// Which stands are shown, in the order of [`crate::model::Stand::ALL`].
    pub shown: [bool; 4],
}

impl Default for Order {
    fn default() -> Self {
        Self {
            column: TableColumn::Ear,
            descending: false,
            shown: [true; 4],
        }
    }
}

impl Order {
    /// Gives the places of the ears in the order of the table. Ears without a figure come last either way.
    pub fn rows(&self, choice: &Choice, project: &Project, speeds: &Speeds, names: &Names) -> Vec<usize> {
        let all = &choice.standings;
        let mut rows: Vec<usize> = (0..all.len())
            .filter(|i| self.shown[stand_index(all[*i].stand)])
            .collect();
        if self.column == TableColumn::Ear && !names.are_hidden() {
            if self.descending {
                rows.reverse();
            }
            return rows;
        }
        rows.sort_by(|a, b| {
            let (a, b) = (&all[*a], &all[*b]);
            let order = self.compare(a, b, project, speeds, names);
            order.then(names.place(a).cmp(&names.place(b)))
        });
        rows
    }

    fn compare(
        &self,
        a: &Standing,
        b: &Standing,
        project: &Project,
        speeds: &Speeds,
        names: &Names,
    ) -> Ordering {
        let by = |order: Ordering| if self.descending { order.reverse() } else { order };
        let both = |pair: (Option<f64>, Option<f64>)| match pair {
            (Some(a), Some(b)) => by(a.total_cmp(&b)),
            (a, b) => b.is_some().cmp(&a.is_some()),
        };
        let number = |value: fn(&Standing) -> Option<f64>| both((value(a), value(b)));
        match self.column {
            TableColumn::Ear => by(names.place(a).cmp(&names.place(b))),
            TableColumn::Mother | TableColumn::Code if names.are_hidden() => Ordering::Equal,
            TableColumn::Stand => by(a.stand.cmp(&b.stand)),
            TableColumn::Counted => number(|one| Some(f64::from(one.estimate.as_ref()?.counts.k()))),
            TableColumn::Likely => number(|one| Some(one.estimate.as_ref()?.likely_percent)),
            TableColumn::Chance => number(|one| one.probability),
            TableColumn::Days => number(|one| one.maturity_days.map(f64::from)),
            TableColumn::Observed => number(|one| Some(one.estimate.as_ref()?.observed_percent)),
            TableColumn::Interval => number(|one| Some(one.estimate.as_ref()?.likely_90.low)),
            TableColumn::Early => both((early(speeds, a), early(speeds, b))),
            TableColumn::Vigor => number(|one| one.estimate.as_ref()?.vigor),
            TableColumn::Mother => {
                let label = |one: &'_ Standing| {
                    one.row
                        .and_then(|row| project.rows.get(row))
                        .map(|row| row.label.as_str())
                };
                match (label(a), label(b)) {
                    (Some(a), Some(b)) => by(crate::insight::natural(a, b)),
                    (a, b) => b.is_some().cmp(&a.is_some()),
                }
            }
            TableColumn::Code => {
                let code = |one: &Standing| project.ears.get(one.ear).map(|ear| ear.code.to_string());
                by(code(a).cmp(&code(b)))
            }
            TableColumn::Why => {
                let why = |one: &Standing| one.why.first().map(|reason| names.reason(project, reason));
                by(why(a).cmp(&why(b)))
            }
        }
    }
}

fn early(speeds: &Speeds, standing: &Standing) -> Option<f64> {
    speeds.of(standing.ear)?.early_percent()
}

/// What was done in the table.
#[derive(Debug, Default)]
pub struct TableAnswer {
    /// The ear under the pointer.
    pub hovered: Option<usize>,
    /// A row was clicked.
    pub clicked: Option<usize>,
    /// A row was double-clicked.
    pub opened: Option<usize>,
    /// Sort by this column.
    pub sort: Option<TableColumn>,
}

/// Everything that the table shows.
pub struct Table<'a> {
    /// The project.
    pub project: &'a Project,
    /// The standings of the ears.
    pub choice: &'a Choice,
    /// How fast they came up.
    pub speeds: &'a Speeds,
    /// Places of the ears, sorted and filtered.
    pub rows: &'a [usize],
    /// How they are sorted.
    pub order: &'a Order,
    /// Their names.
    pub names: &'a Names,
    /// The words given.
    pub words: &'a BTreeMap<EarId, Word>,
    /// The chosen ears.
    pub chosen: &'a BTreeSet<EarId>,
    /// An ear under the pointer in the plot or the table.
    pub hovered: Option<usize>,
    /// A row to bring into sight.
    pub reveal: Option<usize>,
}

impl Table<'_> {
    /// Draws the table in all the room that is left.
    pub fn show(&self, ui: &mut Ui) -> TableAnswer {
        let t = Tokens::of(ui);
        let mut answer = TableAnswer::default();
        let edges = edges(ui.available_width());
        // The scroll bars in the quieter colour; no other part of the table takes this one.
        ui.visuals_mut().widgets.inactive.fg_stroke.color = t.quiet;
        let no_drag = ScrollSource {
            drag: DragScroll::Never,
            ..ScrollSource::default()
        };
        let area = ScrollArea::both().id_salt("selection table").auto_shrink(false);
        area.scroll_source(no_drag).show_viewport(ui, |ui, viewport| {
            let top_left = ui.min_rect().min;
            let size = vec2(
                edges[edges.len() - 1],
                t.row_height * (self.rows.len() + 1) as f32,
            );
            ui.set_min_size(size);
            let row_rect = |nth: usize| {
                // The heading lies over the first line.
                let top = top_left.y + t.row_height * (nth + 1) as f32;
                Rect::from_min_size(pos2(top_left.x, top), vec2(size.x, t.row_height))
            };
            let first = (viewport.top() / t.row_height) as usize;
            let last = ((viewport.bottom() / t.row_height) as usize).min(self.rows.len());
            for nth in first.min(last)..last {
                self.row(ui, t, &edges, nth, row_rect(nth), &mut answer);
            }
            self.headings(ui, t, &edges, top_left.x, &mut answer);
            if let Some(nth) = self.reveal {
                let mut rect = row_rect(nth);
                rect.min.y -= t.row_height;
                rect.set_right(rect.left());
                ui.scroll_to_rect(rect.translate(vec2(viewport.left(), 0.0)), None);
            }
        });
        answer
    }

    /// The titles, which stay in sight; a click sorts.
    fn headings(&self, ui: &mut Ui, t: &Tokens, edges: &[f32], left: f32, answer: &mut TableAnswer) {
        let clip = ui.clip_rect();
        let whole = Rect::from_min_size(clip.min, vec2(clip.width(), t.row_height));
        ui.painter().rect_filled(whole, 0.0, t.page);
        ui.painter()
            .hline(whole.x_range(), whole.bottom(), Stroke::new(1.0, t.line));
        for (i, column) in TableColumn::ALL.into_iter().enumerate() {
            let sign = match (self.order.column == column, self.order.descending) {
                (false, _) => "",
                (true, false) => " ▲",
                (true, true) => " ▼",
            };
            let title = format!("{}{sign}", column.title());
            let rect = Rect::from_x_y_ranges(left + edges[i]..=left + edges[i + 1], whole.y_range());
            let response = ui.interact(rect, ui.scope_id().with(("heading", i)), Sense::click());
            response.widget_info(|| WidgetInfo::labeled(Role::Button, ui.is_enabled(), &title));
            if response.hovered() || response.has_focus() {
                ui.painter().rect_filled(rect, f32::from(t.radius), t.selection);
            }
            text(ui, column, rect, &title, t.small_font(), t.quiet);
            if response.on_hover_text(column.hint()).clicked() {
                answer.sort = Some(column);
            }
        }
    }

    fn row(&self, ui: &mut Ui, t: &Tokens, edges: &[f32], nth: usize, rect: Rect, answer: &mut TableAnswer) {
        let place = self.rows[nth];
        let standing = &self.choice.standings[place];
        let is_chosen = self.chosen.contains(&standing.ear);
        let response = ui.interact(rect, ui.scope_id().with(("row", place)), Sense::CLICK);
        response.widget_info(|| {
            let said = format!(
                "Row of ear {}: {}; {}",
                self.names.ear(standing.ear, standing.number),
                self.stand(standing),
                figures(standing)
            );
            WidgetInfo::selected(Role::Row, ui.is_enabled(), is_chosen, said)
        });
        let fill = match (is_chosen, self.hovered == Some(place), nth % 2) {
            (true, _, _) => Some(t.selection),
            (_, true, _) => Some(t.selection.gamma_multiply(0.5)),
            (_, _, 0) => Some(t.panel),
            _ => None,
        };
        if let Some(fill) = fill {
            ui.painter().rect_filled(rect, 0.0, fill);
        }
        let word = self.words.get(&standing.ear);
        for (i, column) in TableColumn::ALL.into_iter().enumerate() {
            let mut cell = Rect::from_x_y_ranges(
                rect.left() + edges[i]..=rect.left() + edges[i + 1],
                rect.y_range(),
            );
            if column != TableColumn::Stand {
                text(
                    ui,
                    column,
                    cell,
                    &self.text(column, standing),
                    t.body_font(),
                    t.text,
                );
                continue;
            }
            let at = pos2(cell.left() + 14.0, cell.center().y);
            marks::mark(
                ui.painter(),
                at,
                standing.stand,
                t.marks()[stand_index(standing.stand)],
            );
            if let Some(word) = word {
                marks::word_ring(ui.painter(), at, word.kind, t.text);
            }
            cell.min.x += 24.0;
            let font = if word.is_some() {
                t.strong_font()
            } else {
                t.body_font()
            };
            text(ui, column, cell, self.stand(standing), font, t.text);
        }
        // The heading lies over rows; the pointer on it is not on them.
        if response.contains_pointer() && response.hovered() {
            answer.hovered = Some(place);
        }
        if response.double_clicked() {
            answer.opened = Some(place);
        }
        if response.clicked() {
            answer.clicked = Some(place);
        }
        let why = &standing.why;
        if !why.is_empty() {
            response.on_hover_ui(|ui| {
                for reason in why {
                    ui.label(self.names.reason(self.project, reason));
                }
            });
        }
    }

    /// The word about an ear, or else its stand.
    fn stand(&self, standing: &Standing) -> &'static str {
        self.words
            .get(&standing.ear)
            .map_or(standing.stand.name(), |word| word.kind.name())
    }

    fn text(&self, column: TableColumn, standing: &Standing) -> String {
        let estimate = standing.estimate.as_ref();
        let figure = |figure: fn(&Estimate) -> String| estimate.map(figure).unwrap_or_default();
        match column {
            TableColumn::Stand => self.stand(standing).to_owned(),
            TableColumn::Ear => self.names.ear(standing.ear, standing.number),
            TableColumn::Mother | TableColumn::Code if self.names.are_hidden() => "hidden".to_owned(),
            TableColumn::Counted => figure(|one| format!("{} of {}", one.counts.k(), one.counts.n())),
            TableColumn::Likely => figure(|one| format!("{:.0} %", one.likely_percent)),
            TableColumn::Chance => standing.probability.map(chance).unwrap_or_default(),
            TableColumn::Days => standing
                .maturity_days
                .map(|days| days.to_string())
                .unwrap_or_default(),
            TableColumn::Observed => figure(|one| format!("{:.0} %", one.observed_percent)),
            TableColumn::Interval => {
                figure(|one| format!("{:.0} to {:.0} %", one.likely_90.low, one.likely_90.high))
            }
            TableColumn::Early => early(self.speeds, standing)
                .map(|percent| format!("{percent:.0} %"))
                .unwrap_or_default(),
            TableColumn::Vigor => estimate
                .and_then(|one| one.vigor)
                .map(|grade| format!("{grade:.1}"))
                .unwrap_or_default(),
            TableColumn::Mother => standing
                .row
                .and_then(|row| self.project.rows.get(row))
                .map(|row| row.label.clone())
                .unwrap_or_default(),
            TableColumn::Code => self
                .project
                .ears
                .get(standing.ear)
                .map(|ear| ear.code.to_string())
                .unwrap_or_default(),
            TableColumn::Why => standing
                .why
                .first()
                .map(|reason| self.names.reason(self.project, reason))
                .unwrap_or_default(),
        }
    }
}

/// Left edges of the columns, and the right edge of the last, which takes the room that is left.
fn edges(room: f32) -> Vec<f32> {
    let mut edges = vec![0.0];
    let mut right = 0.0;
    for column in TableColumn::ALL {
        right += column.width();
        edges.push(right);
    }
    let last = edges.len() - 1;
    edges[last] = right.max(room - 16.0);
    edges
}

fn text(ui: &Ui, column: TableColumn, cell: Rect, text: &str, font: FontId, colour: Color32) {
    if text.is_empty() || !ui.is_rect_visible(cell) {
        return;
    }
    let (at, align) = if column.is_number() {
        (cell.right_center() - vec2(6.0, 0.0), Align2::RIGHT_CENTER)
    } else {
        (cell.left_center() + vec2(6.0, 0.0), Align2::LEFT_CENTER)
    };
    let clip = ui.clip_rect().intersect(cell);
    ui.painter()
        .with_clip_rect(clip)
        .text(at, align, text, font, colour);
}

/// A probability in percent; rounding never makes it certain.
pub fn chance(probability: f64) -> String {
    match 100.0 * probability {
        percent if percent > 99.0 && percent < 100.0 => "> 99 %".to_owned(),
        percent if percent > 0.0 && percent < 1.0 => "< 1 %".to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::chance;

    #[test]
    fn a_chance_is_never_rounded_to_certainty() {
        assert_eq!(chance(0.999), "> 99 %");
        assert_eq!(chance(0.0001), "< 1 %");
        assert_eq!(chance(0.735), "74 %");
        assert_eq!(chance(1.0), "100 %");
        assert_eq!(chance(0.0), "0 %");
    }
}
