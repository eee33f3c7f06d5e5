//! The table of all ears of a season.

use super::super::print::{Cell, Column, Flow, Table, Weight, Width};
use super::{Report, none, part, say};
use crate::insight::{Reason, Standing, chance};

impl Report<'_> {
    /// All ears in the order of their numbers.
    pub(super) fn ear_table(&self, flow: &mut Flow) {
        flow.break_page();
        part(flow, "All ears");
        say(
            flow,
            "Likely: the mean of what is believed, and the range that holds it with a probability of 90 %. Reaches: the \
             probability that it is at or above the cutoff. The last sign of a code checks the others.",
        );
        let text = |title, width| Column::text(title, width).set_in(9.0, Weight::Regular);
        let number = |title| Column::number(title, Width::Fit).set_in(9.0, Weight::Regular);
        let columns = vec![
            Column::number("Ear", Width::Fit).set_in(14.0, Weight::Bold),
            text("Ear code", Width::Fit),
            text("Mother row", Width::Points(54.0)),
            number("Counted"),
            number("Likely %"),
            number("Reaches"),
            number("Days"),
            text("Stand", Width::Fit),
            text("Why", Width::Share(1.0)),
        ];
        flow.table(&Table {
            columns,
            rows: self.choice.standings.iter().map(|one| self.ear(one)).collect(),
            ..Table::default()
        });
    }

    fn ear(&self, one: &Standing) -> Vec<Cell> {
        let ear = self.project.ears.get(one.ear);
        let mother = ear.map_or("", |ear| self.project.mother_label(ear));
        let estimate = one.estimate.as_ref();
        [
            one.number.to_string(),
            ear.map_or_else(none, |ear| ear.code.to_string()),
            if mother.is_empty() { "unknown" } else { mother }.to_owned(),
            estimate.map_or_else(none, |one| format!("{}/{}", one.counts.k(), one.counts.n())),
            estimate.map_or_else(none, Self::likely_text),
            one.probability.map_or_else(none, chance),
            one.maturity_days.map_or_else(none, |days| days.to_string()),
            one.stand.name().to_owned(),
            self.why(one),
        ]
        .map(Cell::from)
        .into()
    }

    /// The grower's word with its reason, else what decided beside the cold germination, which has a column.
    fn why(&self, one: &Standing) -> String {
        let words = self
            .project
            .selection_of(self.season.id)
            .map(|selection| &selection.words);
        if let Some(word) = words.and_then(|words| words.get(&one.ear)) {
            return format!("{}: {}", word.kind.name(), word.reason);
        }
        match one.why.first() {
            None | Some(Reason::Germination { .. } | Reason::NotScored) => String::new(),
            Some(reason) => reason.sentence(self.project),
        }
    }
}
