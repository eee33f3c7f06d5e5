//! The part of `summary` that tells the index and the ears it would keep.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{IndexTerm, IndexView};
use wintercrib::model::{EarId, Project};

/// Keys carry their units; an index and its weights have none. What cannot be told is null.
#[derive(Debug, Serialize)]
pub(super) struct IndexFacts {
    formula: String,
    sentences: Vec<String>,
    weights: Vec<WeightFacts>,
    kept_by_both_ears: usize,
    kept_only_by_the_index_ear_numbers: Vec<u32>,
    kept_only_by_the_cutoffs_ear_numbers: Vec<u32>,
    without_an_index_ear_numbers: Vec<u32>,
    ears: Vec<RankFacts>,
}

/// One trait of the index.
#[derive(Debug, Serialize)]
struct WeightFacts {
    name: String,
    weight: f64,
    mean: Option<f64>,
    standard_deviation: Option<f64>,
    known_of_ears: usize,
}

/// One ear, the highest index first.
#[derive(Debug, Serialize)]
struct RankFacts {
    ear_number: u32,
    index: f64,
    kept: bool,
}

impl From<&IndexTerm> for WeightFacts {
    fn from(term: &IndexTerm) -> Self {
        Self {
            name: term.name.clone(),
            weight: term.weight,
            mean: term.spread.map(|[mean, _]| mean),
            standard_deviation: term.spread.map(|[_, deviation]| deviation),
            known_of_ears: term.known,
        }
    }
}

impl IndexFacts {
    pub(super) fn new(project: &Project, view: &IndexView) -> Self {
        let numbers = |ears: &[EarId]| -> Vec<u32> {
            let known = ears.iter().filter_map(|ear| project.ears.get(*ear));
            known.map(|ear| ear.number).collect()
        };
        let by_index = view.by_index.as_ref();
        Self {
            formula: view.formula(),
            sentences: view.sentences(),
            weights: view.terms.iter().map(WeightFacts::from).collect(),
            kept_by_both_ears: view.both,
            kept_only_by_the_index_ear_numbers: by_index
                .map_or_else(Vec::new, |line| numbers(&line.only_here)),
            kept_only_by_the_cutoffs_ear_numbers: by_index
                .map_or_else(Vec::new, |line| numbers(&line.only_set)),
            without_an_index_ear_numbers: numbers(&view.without),
            ears: view
                .ears
                .iter()
                .map(|one| RankFacts {
                    ear_number: one.number,
                    index: one.value,
                    kept: one.is_kept,
                })
                .collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.weights.is_empty() {
            return Ok(());
        }
        writeln!(out, "\nIndex\n  {}", self.formula)?;
        for sentence in &self.sentences {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}
