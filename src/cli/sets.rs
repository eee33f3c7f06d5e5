//! The part of `summary` that sets kept cutoffs beside those that are set, and tells how they were moved.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{SetLine, Sets};

/// Keys carry their units. What cannot be told is null.
#[derive(Debug, Serialize)]
pub(super) struct SetsFacts {
    kept: Vec<SetFacts>,
    moves: usize,
    moves_with_names_hidden: usize,
    moves_in_words: Vec<String>,
}

/// Cutoffs that are kept under a name, and what they come to.
#[derive(Debug, Serialize)]
struct SetFacts {
    name: String,
    note: String,
    sentence: String,
    plant_ears: usize,
    retest_ears: usize,
    mothers_kept: usize,
    effective_mothers: f64,
    open_pollen_effective_size: Option<f64>,
    closed_plot_effective_size: Option<f64>,
    kept_cold_germination_likely_percent: Option<f64>,
    kept_expected_below_cutoff_ears: Option<f64>,
    kept_maturity_shift_days: Option<f64>,
    ears_kept_only_here: usize,
    ears_not_kept_here: usize,
}

impl SetFacts {
    fn new(line: &SetLine) -> Option<Self> {
        Some(Self {
            name: line.name.clone()?,
            note: line.note.clone(),
            sentence: line.sentence(),
            plant_ears: line.kept,
            retest_ears: line.retest,
            mothers_kept: line.mothers_kept,
            effective_mothers: line.effective_mothers,
            open_pollen_effective_size: line.effective_size.map(|[open, _]| open),
            closed_plot_effective_size: line.effective_size.map(|[_, closed]| closed),
            kept_cold_germination_likely_percent: line.likely_percent,
            kept_expected_below_cutoff_ears: line.expected_below,
            kept_maturity_shift_days: line.maturity_shift_days,
            ears_kept_only_here: line.only_here.len(),
            ears_not_kept_here: line.only_set.len(),
        })
    }
}

impl SetsFacts {
    pub(super) fn new(sets: &Sets) -> Self {
        Self {
            kept: sets.lines.iter().filter_map(SetFacts::new).collect(),
            moves: sets.moves.len(),
            moves_with_names_hidden: sets.moves.iter().filter(|one| one.names_hidden).count(),
            moves_in_words: sets
                .moves
                .iter()
                .map(wintercrib::insight::MoveLine::sentence)
                .collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        for kept in &self.kept {
            writeln!(out, "  {}", kept.sentence)?;
        }
        Ok(())
    }
}
