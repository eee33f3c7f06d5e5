//! The table in step with the plot: one row an ear, only rows in sight.

use super::field::stand_index;
use super::marks;
use crate::insight::{Choice, Estimate, Standing};
use crate::model::{EarId, Project, Word};
use crate::ui::tokens::Tokens;
use egui::{Align, Button, Label, Layout, RichText, Sense, Ui, vec2};
use egui_extras::{Column, TableBuilder, TableRow};
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
    /// Ear code.
    Code,
    /// Why it stands there.
    Why,
}

impl TableColumn {
    const ALL: [Self; 11] = [
        Self::Ear,
        Self::Stand,
        Self::Counted,
        Self::Likely,
        Self::Chance,
        Self::Days,
        Self::Mother,
        Self::Observed,
        Self::Interval,
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
            Self::Code => "Permanent ear code.",
            Self::Why => "What decided where it stands.",
        }
    }

    fn width(self) -> f32 {
        match self {
            Self::Ear | Self::Days => 40.0,
            Self::Stand => 124.0,
            Self::Counted => 64.0,
            Self::Likely | Self::Mother => 50.0,
            Self::Chance => 56.0,
            Self::Observed => 66.0,
            Self::Interval => 90.0,
            Self::Code => 104.0,
            Self::Why => 560.0,
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
    pub fn rows(&self, choice: &Choice, project: &Project) -> Vec<usize> {
        let all = &choice.standings;
        let mut rows: Vec<usize> = (0..all.len())
            .filter(|i| self.shown[stand_index(all[*i].stand)])
            .collect();
        if self.column == TableColumn::Ear {
            if self.descending {
                rows.reverse();
            }
            return rows;
        }
        rows.sort_by(|a, b| self.compare(&all[*a], &all[*b], project));
        rows
    }

    fn compare(&self, a: &Standing, b: &Standing, project: &Project) -> Ordering {
        let by = |order: Ordering| if self.descending { order.reverse() } else { order };
        let number = |value: fn(&Standing) -> Option<f64>| match (value(a), value(b)) {
            (Some(a), Some(b)) => by(a.total_cmp(&b)),
            (a, b) => b.is_some().cmp(&a.is_some()),
        };
        let order = match self.column {
            TableColumn::Ear => by(a.number.cmp(&b.number)),
            TableColumn::Stand => by(a.stand.cmp(&b.stand)),
            TableColumn::Counted => number(|one| Some(f64::from(one.estimate.as_ref()?.counts.k()))),
            TableColumn::Likely => number(|one| Some(one.estimate.as_ref()?.likely_percent)),
            TableColumn::Chance => number(|one| one.probability),
            TableColumn::Days => number(|one| one.maturity_days.map(f64::from)),
            TableColumn::Observed => number(|one| Some(one.estimate.as_ref()?.observed_percent)),
            TableColumn::Interval => number(|one| Some(one.estimate.as_ref()?.likely_90.low)),
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
                let why = |one: &Standing| one.why.first().map(|reason| reason.sentence(project));
                by(why(a).cmp(&why(b)))
            }
        };
        order.then(a.number.cmp(&b.number))
    }
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
    /// Places of the ears, sorted and filtered.
    pub rows: &'a [usize],
    /// How they are sorted.
    pub order: &'a Order,
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
        egui::ScrollArea::horizontal().auto_shrink(false).show(ui, |ui| {
            ui.spacing_mut().item_spacing = vec2(10.0, 0.0);
            let mut table = TableBuilder::new(ui)
                .id_salt("selection table")
                .striped(true)
                .sense(Sense::click())
                .auto_shrink(false)
                .animate_scrolling(false)
                .cell_layout(Layout::left_to_right(Align::Center));
            for column in TableColumn::ALL {
                table = table.column(Column::exact(column.width()).clip(true));
            }
            if let Some(row) = self.reveal {
                table = table.scroll_to_row(row, None);
            }
            table
                .header(t.row_height, |mut row| {
                    for column in TableColumn::ALL {
                        row.col(|ui| {
                            if self.heading(ui, column) {
                                answer.sort = Some(column);
                            }
                        });
                    }
                })
                .body(|body| {
                    body.rows(t.row_height, self.rows.len(), |row| self.row(row, t, &mut answer));
                });
        });
        answer
    }

    fn heading(&self, ui: &mut Ui, column: TableColumn) -> bool {
        let t = Tokens::of(ui);
        let sign = match (self.order.column == column, self.order.descending) {
            (false, _) => "",
            (true, false) => " ▲",
            (true, true) => " ▼",
        };
        let text = RichText::new(format!("{}{sign}", column.title()))
            .font(t.small_font())
            .color(t.quiet);
        let side = if column.is_number() {
            Align::Max
        } else {
            Align::Min
        };
        ui.with_layout(Layout::top_down(side), |ui| {
            ui.spacing_mut().button_padding = vec2(0.0, 2.0);
            ui.add(Button::new(text).frame(false))
                .on_hover_text(column.hint())
                .clicked()
        })
        .inner
    }

    fn row(&self, mut row: TableRow<'_, '_>, t: &Tokens, answer: &mut TableAnswer) {
        let place = self.rows[row.index()];
        let standing = &self.choice.standings[place];
        row.set_selected(self.chosen.contains(&standing.ear));
        row.set_hovered(self.hovered == Some(place));
        for column in TableColumn::ALL {
            row.col(|ui| self.cell(ui, column, standing, t));
        }
        let response = row.response();
        if response.contains_pointer() {
            answer.hovered = Some(place);
        }
        if response.clicked() {
            answer.clicked = Some(place);
        }
        if response.double_clicked() {
            answer.opened = Some(place);
        }
    }

    fn cell(&self, ui: &mut Ui, column: TableColumn, standing: &Standing, t: &Tokens) {
        let estimate = standing.estimate.as_ref();
        let figure = |figure: fn(&Estimate) -> String| estimate.map(figure).unwrap_or_default();
        let text = match column {
            TableColumn::Stand => return self.stand(ui, standing, t),
            TableColumn::Ear => standing.number.to_string(),
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
                .map(|reason| reason.sentence(self.project))
                .unwrap_or_default(),
        };
        if text.is_empty() {
            return;
        }
        if column.is_number() {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.add(Label::new(text).extend())
            });
        } else {
            ui.add(Label::new(text).truncate());
        }
    }

    fn stand(&self, ui: &mut Ui, standing: &Standing, t: &Tokens) {
        let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), Sense::hover());
        let colour = t.marks()[stand_index(standing.stand)];
        marks::mark(ui.painter(), rect.center(), standing.stand, colour);
        if let Some(word) = self.words.get(&standing.ear) {
            marks::word_ring(ui.painter(), rect.center(), word.kind, t.text);
            ui.add(Label::new(RichText::new(word.kind.name()).font(t.strong_font())).extend());
        } else {
            ui.add(Label::new(standing.stand.name()).extend());
        }
    }
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
