//! The index that the grower weighs, and the ears that it would keep beside those that the cutoffs keep.

use super::choice::{self, Choice, Facts, Given};
use super::price;
use super::sets::{self, SetLine};
use super::words::{plural, tenths};
use crate::genetics::{self, Line, Term};
use crate::model::{EarId, IndexTrait, Project, RowId, Stand, WordKind};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// One trait of the index.
#[derive(Debug, Clone, PartialEq)]
pub struct IndexTerm {
    /// What is weighed.
    pub of: IndexTrait,
    /// Its name with its unit.
    pub name: String,
    /// The weight of one standard deviation.
    pub weight: f64,
    /// Mean and standard deviation over the ears in which it is known; `None` when it does not tell ears apart.
    pub spread: Option<[f64; 2]>,
    /// Ears in which it is known.
    pub known: usize,
}

/// The index of one ear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarIndex {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// Its index.
    pub value: f64,
    /// Whether the index keeps it.
    pub is_kept: bool,
}

/// The index of a season's ears, and the kept sets of both ways.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct IndexView {
    /// The traits that are weighed.
    pub terms: Vec<IndexTerm>,
    /// The ears that have an index, the highest first.
    pub ears: Vec<EarIndex>,
    /// Ears without one, because a value is not known, by number.
    pub without: Vec<EarId>,
    /// Ears that have an index only because a missing value counts as the mean.
    pub filled: usize,
    /// What the cutoffs keep.
    pub by_cutoffs: Option<SetLine>,
    /// What the index keeps of as many ears; `None` while nothing can be weighed.
    pub by_index: Option<SetLine>,
    /// Ears that both keep.
    pub both: usize,
    place: BTreeMap<EarId, usize>,
}

impl IndexView {
    /// The index of an ear and its rank from 1.
    pub fn of(&self, ear: EarId) -> Option<(f64, usize)> {
        let place = *self.place.get(&ear)?;
        Some((self.ears[place].value, place + 1))
    }

    /// The formula with the numbers of this season: `0.6 x (likely % - 67.5) / 15.2 - 0.3 x (maturity days - 102.7) / 5.1`.
    pub fn formula(&self) -> String {
        let mut text = String::new();
        for term in &self.terms {
            let Some([mean, deviation]) = term.spread else {
                continue;
            };
            let sign = match (text.is_empty(), term.weight < 0.0) {
                (true, false) => "",
                (true, true) => "\u{2013}",
                (false, false) => " + ",
                (false, true) => " \u{2013} ",
            };
            // Writing to a String cannot fail.
            write!(
                text,
                "{sign}{} \u{d7} ({} \u{2013} {}) / {}",
                term.weight.abs(),
                term.name,
                short(mean),
                short(deviation)
            )
            .unwrap_or_default();
        }
        text
    }

    /// Says what stands behind the figures, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let mut said = Vec::new();
        for term in self.terms.iter().filter(|term| term.spread.is_none()) {
            said.push(format!(
                "{} does not tell these ears apart, so it is left out.",
                crate::model::capital(&term.name)
            ));
        }
        if !self.without.is_empty() {
            said.push(format!(
                "{} no index, because a value is not known.",
                has(self.without.len())
            ));
        }
        if self.filled > 0 {
            said.push(format!(
                "{} an index with a missing value counted as the mean.",
                has(self.filled)
            ));
        }
        if let (Some(cutoffs), Some(index)) = (&self.by_cutoffs, &self.by_index) {
            said.push(format!(
                "The {} highest by the index: {} of them are kept by the cutoffs too, {} only here, {} only by the cutoffs.",
                index.kept,
                self.both,
                index.only_here.len(),
                index.only_set.len()
            ));
            if let (Some(here), Some(there)) = (index.likely_percent, cutoffs.likely_percent) {
                said.push(format!(
                    "Likely {} % by the index, {} % by the cutoffs; {} against {}.",
                    tenths(here),
                    tenths(there),
                    plural(index.mothers_kept, "mother"),
                    cutoffs.mothers_kept
                ));
            }
        }
        said
    }
}

fn has(ears: usize) -> String {
    format!(
        "{} {}",
        plural(ears, "ear"),
        if ears == 1 { "has" } else { "have" }
    )
}

/// A number with about three digits that count.
fn short(value: f64) -> String {
    match value.abs() {
        size if size >= 1000.0 => format!("{value:.0}"),
        size if size >= 1.0 => format!("{value:.1}"),
        _ => format!("{value:.3}"),
    }
}

/// The traits that can be weighed, with their names.
pub(super) fn traits(project: &Project) -> Vec<(IndexTrait, String)> {
    let mut all = vec![
        (IndexTrait::Germination, "likely %".to_owned()),
        (
            IndexTrait::GerminationForItsMaturity,
            "likely % apart from maturity".to_owned(),
        ),
        (IndexTrait::Maturity, "maturity days".to_owned()),
        (IndexTrait::Vigor, "vigor".to_owned()),
    ];
    all.extend(project.traits.iter().map(|known| {
        let unit = if known.unit.is_empty() {
            String::new()
        } else {
            format!(", {}", known.unit)
        };
        (IndexTrait::Trait(known.id), format!("{}{unit}", known.name))
    }));
    all
}

/// Germination on maturity days over the scored ears of which both are known, each ear once.
fn line_of(facts: &Facts) -> Option<Line> {
    let points: Vec<(f64, f64, f64)> = facts
        .iter()
        .filter_map(|fact| Some((f64::from(fact.maturity_days?), fact.estimate?.likely_percent, 1.0)))
        .collect();
    genetics::line(points.iter().copied())
}

fn value(fact: &choice::Fact, of: IndexTrait, line: Option<&Line>) -> Option<f64> {
    let likely = fact.estimate.map(|estimate| estimate.likely_percent);
    let days = fact.maturity_days.map(f64::from);
    match of {
        IndexTrait::Germination => likely,
        IndexTrait::GerminationForItsMaturity => Some(line?.residual(days?, likely?)),
        IndexTrait::Maturity => days,
        IndexTrait::Vigor => fact.estimate.and_then(|estimate| estimate.vigor),
        IndexTrait::Trait(id) => fact.values.get(&id).copied(),
    }
}

pub(super) fn compute(
    project: &Project,
    facts: &Facts,
    basis: &price::Basis,
    given: &Given<'_>,
    now: &Choice,
) -> IndexView {
    let selection = project.selection_of(given.season);
    let Some(index) = selection.and_then(|one| one.index.as_ref()) else {
        return IndexView::default();
    };
    let line = line_of(facts);
    let names: BTreeMap<IndexTrait, String> = traits(project).into_iter().collect();
    let columns: Vec<Vec<Option<f64>>> = index
        .weights
        .iter()
        .map(|one| {
            facts
                .iter()
                .map(|fact| value(fact, one.of, line.as_ref()))
                .collect()
        })
        .collect();
    let weights: Vec<f64> = index.weights.iter().map(|one| one.weight).collect();
    let terms = genetics::terms(&columns, &weights);
    let mut found = IndexView {
        terms: index
            .weights
            .iter()
            .zip(&columns)
            .zip(&terms)
            .map(|((one, column), term)| IndexTerm {
                of: one.of,
                name: names.get(&one.of).cloned().unwrap_or_default(),
                weight: one.weight,
                spread: term.map(|term| [term.mean, term.deviation]),
                known: column.iter().flatten().count(),
            })
            .collect(),
        by_cutoffs: Some(sets::line(project, basis, now, now, None)),
        ..IndexView::default()
    };
    // A trait that does not tell ears apart weighs nothing, and none lacks a value for it.
    let (columns, terms): (Vec<&Vec<Option<f64>>>, Vec<Term>) = columns
        .iter()
        .zip(&terms)
        .filter_map(|(column, term)| Some((column, (*term)?)))
        .unzip();
    if terms.is_empty() {
        return found;
    }
    for (place, fact) in facts.iter().enumerate() {
        let values: Vec<Option<f64>> = columns.iter().map(|column| column[place]).collect();
        // Nothing at all is known of an ear of which every value would be the mean.
        let is_known = values.iter().any(Option::is_some);
        match genetics::index(&terms, &values, index.missing_as_mean && is_known) {
            Some(value) => {
                found.filled += usize::from(values.iter().any(Option::is_none));
                found.ears.push(EarIndex {
                    ear: fact.ear,
                    number: fact.number,
                    value,
                    is_kept: false,
                });
            }
            None => found.without.push(fact.ear),
        }
    }
    found
        .ears
        .sort_by(|a, b| b.value.total_cmp(&a.value).then(a.number.cmp(&b.number)));
    found.place = found
        .ears
        .iter()
        .enumerate()
        .map(|(place, one)| (one.ear, place))
        .collect();
    let keep = keep(&found.ears, now, given);
    for one in &mut found.ears {
        one.is_kept = keep.contains(&one.ear);
    }
    let by_index = choice::with_kept(facts, now, &keep, given);
    let line = sets::line(project, basis, &by_index, now, Some("By the index"));
    found.both = line.kept - line.only_here.len();
    found.by_index = Some(line);
    found
}

/// The ears that the index keeps: those always planted, then the highest, as many in all as the cutoffs keep, of one mother
/// row no more than they allow.
fn keep(ears: &[EarIndex], now: &Choice, given: &Given<'_>) -> BTreeSet<EarId> {
    let word = |ear: EarId| {
        given
            .words
            .and_then(|words| words.get(&ear))
            .map(|word| word.kind)
    };
    let wanted = now.summary.kept;
    let cap = given.cutoffs.cap_per_mother.map_or(usize::MAX, usize::from);
    let mut of_row: BTreeMap<RowId, usize> = BTreeMap::new();
    let mut keep = BTreeSet::new();
    let always = now
        .kept()
        .map(|one| one.ear)
        .filter(|ear| word(*ear) == Some(WordKind::Always));
    let free = ears.iter().map(|one| one.ear).filter(|ear| word(*ear).is_none());
    for (ear, is_free) in always.map(|ear| (ear, false)).chain(free.map(|ear| (ear, true))) {
        if keep.len() >= wanted {
            break;
        }
        let row = now.of(ear).and_then(|one| one.row);
        let taken = row.map_or(0, |row| of_row.get(&row).copied().unwrap_or_default());
        if is_free && taken >= cap {
            continue;
        }
        if let Some(row) = row {
            *of_row.entry(row).or_default() += 1;
        }
        keep.insert(ear);
    }
    debug_assert!(
        keep.len()
            <= now
                .standings
                .iter()
                .filter(|one| one.stand == Stand::Plant)
                .count()
    );
    keep
}
