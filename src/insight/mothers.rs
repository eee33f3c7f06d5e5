//! The mother rows of a season: how many ears of each are kept, and which families are lost.

use super::choice::{Choice, Standing};
use super::kinship::Kin;
use super::words::{are, natural, percent, some_of};
use crate::model::{EarId, Project, RowId, Stand};
use std::collections::BTreeMap;

/// One mother row.
#[derive(Debug, Clone, PartialEq)]
pub struct MotherLine {
    /// The row; `None` for all ears of unknown mother row together.
    pub row: Option<RowId>,
    /// Its label, or `unknown`.
    pub label: String,
    /// Its ears.
    pub ears: usize,
    /// How many of them were scored.
    pub scored: usize,
    /// The kept ears, by number.
    pub kept: Vec<EarId>,
    /// How many are to be tested again.
    pub retest: usize,
    /// Mean likely percent of the scored ears.
    pub likely_percent: Option<f64>,
    /// The ear that is likely to germinate best, its number and its likely percent.
    pub best: Option<(EarId, u32, f64)>,
}

/// The mother rows of a season under a choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Mothers {
    /// Those with most kept ears first, then by label.
    pub lines: Vec<MotherLine>,
    /// Which rows are related through their mothers, a sentence each; empty where nothing is known of that.
    pub related: Vec<String>,
    /// So many the grower wants at least.
    pub least: Option<u16>,
}

impl Mothers {
    /// The rows of which no ear is kept.
    pub fn lost(&self) -> impl Iterator<Item = &MotherLine> {
        self.lines.iter().filter(|line| line.kept.is_empty())
    }

    /// Counts the rows of which an ear is kept.
    pub fn kept(&self) -> usize {
        self.lines.len() - self.lost().count()
    }

    /// Says that fewer are kept than the grower wants; `None` when they are enough.
    pub fn shortfall(&self) -> Option<String> {
        short(self.kept(), self.least)
    }

    /// Names the families that are lost, and the ear of each that would bring it back most likely.
    pub fn sentences(&self) -> Vec<String> {
        let lost: Vec<&MotherLine> = self.lost().collect();
        let labels: Vec<&str> = lost.iter().map(|line| line.label.as_str()).collect();
        let mut said = Vec::new();
        match labels.len() {
            0 if self.lines.is_empty() => {}
            0 => said.push("No family is lost: every mother row has a kept ear.".to_owned()),
            1 => said.push(format!("1 family is lost: mother row {}.", labels[0])),
            many => said.push(format!(
                "{many} families are lost: mother rows {}.",
                some_of(&labels)
            )),
        }
        let mut best: Vec<(&MotherLine, u32, f64)> = lost
            .iter()
            .filter_map(|line| line.best.map(|(_, number, likely)| (*line, number, likely)))
            .collect();
        best.sort_by(|a, b| b.2.total_cmp(&a.2));
        if let Some((line, number, likely)) = best.first() {
            said.push(format!(
                "The best ear of a lost family is {number} of mother row {}: {} likely.",
                line.label,
                percent(*likely)
            ));
        }
        match lost.iter().filter(|line| line.scored == 0).count() {
            0 => {}
            1 => said.push("Of 1 lost family no ear was scored.".to_owned()),
            many => said.push(format!("Of {many} lost families no ear was scored.")),
        }
        said.extend(self.related.iter().cloned());
        said
    }
}

/// Says that so many mother rows are fewer than the grower wants.
pub fn short(kept: usize, least: Option<u16>) -> Option<String> {
    let least = least.filter(|least| kept < usize::from(*least))?;
    Some(format!(
        "{} kept, fewer than the {least} that you want.",
        are(kept, "mother row")
    ))
}

pub(super) fn compute(project: &Project, choice: &Choice, kin: Option<&Kin>) -> Mothers {
    let mut rows: BTreeMap<Option<RowId>, Vec<&Standing>> = BTreeMap::new();
    for one in &choice.standings {
        rows.entry(one.row).or_default().push(one);
    }
    let mut lines: Vec<MotherLine> = rows
        .into_iter()
        .map(|(row, ears)| line(project, row, &ears))
        .collect();
    lines.sort_by(|a, b| {
        let by_kept = b.kept.len().cmp(&a.kept.len());
        by_kept.then_with(|| natural(&a.label, &b.label))
    });
    Mothers {
        lines,
        related: kin.map_or_else(Vec::new, |kin| kin.sentences(project)),
        least: project
            .selection_of(choice.season)
            .and_then(|selection| selection.least_mothers),
    }
}

fn line(project: &Project, row: Option<RowId>, ears: &[&Standing]) -> MotherLine {
    let likely: Vec<(EarId, u32, f64)> = ears
        .iter()
        .filter_map(|one| Some((one.ear, one.number, one.estimate?.likely_percent)))
        .collect();
    let record = row.and_then(|row| project.rows.get(row));
    let sum: f64 = likely.iter().map(|(.., percent)| percent).sum();
    MotherLine {
        row,
        label: record.map_or_else(|| "unknown".to_owned(), |row| row.label.clone()),
        ears: ears.len(),
        scored: likely.len(),
        kept: ears
            .iter()
            .filter(|one| one.stand == Stand::Plant)
            .map(|one| one.ear)
            .collect(),
        retest: ears.iter().filter(|one| one.stand == Stand::Retest).count(),
        likely_percent: (!likely.is_empty()).then(|| sum / likely.len() as f64),
        best: likely
            .into_iter()
            .reduce(|best, one| if one.2 > best.2 { one } else { best }),
    }
}
