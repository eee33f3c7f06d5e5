//! What the plot of Selection shows, in words: for a screen reader and under a picture.

use super::axes::span;
use super::words::plural;
use super::{AxisRoom, Choice, Field};
use crate::model::Project;

/// Tells what lies on both axes and how far it reaches, the cutoffs, and how many ears have which stand.
pub fn plot_text(project: &Project, choice: &Choice, field: &Field) -> String {
    let side = |side: usize, direction: &str| {
        let room: &AxisRoom = &field.axes[side];
        let name = room.axis.name(project);
        let range = match span(field.values.iter().filter_map(|values| values[side])) {
            Some([least, most]) => format!(
                "from {} to {}",
                room.axis.text(project, least),
                room.axis.text(project, most)
            ),
            None => "known of no ear".to_owned(),
        };
        let without = match room.without {
            0 => String::new(),
            many => format!("; {} without a value", plural(many, "ear")),
        };
        format!("{direction}: {name}, {range}{without}.")
    };
    let cutoffs: Vec<String> = choice
        .summary
        .alone
        .iter()
        .map(|one| one.cutoff.text(project))
        .collect();
    let cutoffs = if cutoffs.is_empty() {
        "No cutoff is set.".to_owned()
    } else {
        format!("Cutoffs: {}.", cutoffs.join("; "))
    };
    let summary = &choice.summary;
    format!(
        "Plot of {}. {} {} {cutoffs} Plant {}, retest {}, leave out {}, not scored {}.",
        plural(choice.standings.len(), "ear"),
        side(0, "Across"),
        side(1, "Up"),
        summary.kept,
        summary.retest,
        summary.left_out,
        summary.not_scored,
    )
}
