//! How the ears of a season are related through the rows and ears of the seasons before.

use crate::genetics::pedigree::{Family, Relations, relations};
use crate::model::{Ear, EarId, Project, Row, RowId, RowSource, SeasonId};
use std::collections::BTreeMap;

/// With more families than these the matrix would fill the memory; then the rows' mothers count as unrelated.
const MOST_FAMILIES: usize = 2_500;
/// So many pairs of related rows are told.
const TOLD: usize = 5;

/// The families of a season and all before it, related in two ways.
#[derive(Debug)]
pub(super) struct Kin {
    /// All pollen of unrelated plants; ears of unknown row unrelated.
    pub(super) open: Relations,
    /// All pollen of each season's own rows; ears of unknown row as sisters.
    pub(super) closed: Relations,
    /// The season's place among the pools.
    pub(super) season: usize,
    /// The seasons before it from which ears were planted.
    pub(super) seasons_back: usize,
    of_row: BTreeMap<RowId, usize>,
    unknown: usize,
}

impl Kin {
    /// The family of the plants of a row of the season; of ears whose row is not known that of all of them.
    pub(super) fn family(&self, row: Option<RowId>) -> usize {
        row.and_then(|row| self.of_row.get(&row))
            .copied()
            .unwrap_or(self.unknown)
    }

    /// The coancestry of kernels of each two ears of the season, row by row, from pollen of unrelated plants.
    pub(super) fn of_kernels(&self, families: &[usize]) -> Vec<f64> {
        let ears = || families.iter().enumerate();
        ears()
            .flat_map(|(a, family)| {
                ears().map(move |(b, other)| self.open.of_kernels(*family, *other, self.season, a == b))
            })
            .collect()
    }

    /// Says which rows of the season are related through their mothers, the closest first.
    pub(super) fn sentences(&self, project: &Project) -> Vec<String> {
        let label = |row: &RowId| project.rows.get(*row).map_or("", |row| row.label.as_str());
        let rows: Vec<(&RowId, usize)> = self.of_row.iter().map(|(row, family)| (row, *family)).collect();
        let mut pairs = Vec::new();
        for (nth, (a, family)) in rows.iter().enumerate() {
            for (b, other) in &rows[..nth] {
                let theta = self.open.of(*family, *other);
                if theta > 0.0 {
                    pairs.push((theta, label(b), label(a), family == other));
                }
            }
        }
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut said: Vec<String> = pairs
            .iter()
            .take(TOLD)
            .map(|(theta, a, b, same)| {
                let why = if *same {
                    "were planted from one ear"
                } else {
                    "come from related mothers"
                };
                format!("Rows {a} and {b} {why}: coancestry {theta:.3}.")
            })
            .collect();
        if pairs.len() > TOLD {
            said.push(format!("{} more pairs of rows are related.", pairs.len() - TOLD));
        }
        said
    }
}

/// What a family is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Of {
    Row(RowId),
    Ear(EarId),
    /// Ears of a season whose row is not known.
    Unknown(SeasonId),
}

/// Collects the families; `None` where no row of the season or of one before it was planted from an ear that is known, so
/// that rows are all that is known of kinship, and where there are too many.
pub(super) fn kin(project: &Project, season: SeasonId) -> Option<Kin> {
    let last = project.seasons.get(season)?;
    let mut seasons: Vec<_> = project
        .seasons
        .iter()
        .filter(|one| one.year <= last.year)
        .collect();
    // The season itself comes last of its year.
    seasons.sort_by_key(|one| (one.year, one.id == season, one.id));
    let place = |id: SeasonId| seasons.iter().position(|one| one.id == id);
    let source = |row: &Row| -> Option<EarId> {
        let RowSource::Ear(ear) = row.source else {
            return None;
        };
        let from = project.ears.get(ear).and_then(|ear| place(ear.season))?;
        (from < place(row.season)?).then_some(ear)
    };
    let rows_of = |season: SeasonId| project.rows_of(season);
    let sources: BTreeMap<EarId, usize> = seasons
        .iter()
        .flat_map(|one| rows_of(one.id))
        .filter_map(|row| {
            let ear = source(row)?;
            Some((ear, place(project.ears.get(ear)?.season)?))
        })
        .collect();
    if !rows_of(season).any(|row| source(row).is_some()) {
        return None;
    }
    let (mut open, mut closed) = (Vec::new(), Vec::new());
    let mut known: BTreeMap<Of, usize> = BTreeMap::new();
    let mut pools = Vec::new();
    for (nth, one) in seasons.iter().enumerate() {
        let mut add = |of: Of, in_open: Family, in_closed: Family| {
            known.insert(of, open.len());
            open.push(in_open);
            closed.push(in_closed);
        };
        add(Of::Unknown(one.id), Family::Founder(0.0), Family::UNKNOWN);
        for row in rows_of(one.id).filter(|row| source(row).is_none()) {
            let family = match row.source {
                // Two plants of a bulk have two mothers.
                RowSource::Bulk(_) | RowSource::CheckLot(_) => Family::Founder(0.0),
                RowSource::Ear(_) | RowSource::Unknown => Family::UNKNOWN,
            };
            add(Of::Row(row.id), family, family);
        }
        let family_of = |ear: &Ear, known: &BTreeMap<Of, usize>| {
            let row = ear.row.and_then(|row| project.rows.get(row));
            let of = row.map_or(Of::Unknown(ear.season), |row| match source(row) {
                Some(ear) => Of::Ear(ear),
                None => Of::Row(row.id),
            });
            known.get(&of).copied()
        };
        // Each row sheds pollen by the ears that were harvested of it.
        let mut shed: BTreeMap<usize, f64> = BTreeMap::new();
        let mut ears = 0.0;
        for ear in project.ears_of(one.id) {
            *shed.entry(family_of(ear, &known)?).or_default() += 1.0;
            ears += 1.0;
        }
        let plants = one.pollen_plants.map_or(ears, f64::from);
        let scale = if ears > 0.0 { plants / ears } else { 0.0 };
        pools.push(
            shed.into_iter()
                .map(|(family, ears)| (family, ears * scale))
                .collect::<Vec<_>>(),
        );
        for (id, _) in sources.iter().filter(|(_, from)| **from == nth) {
            let mother = family_of(project.ears.get(*id)?, &known)?;
            let family = Family::Of { mother, season: nth };
            known.insert(Of::Ear(*id), open.len());
            open.push(family);
            closed.push(family);
        }
        if open.len() > MOST_FAMILIES {
            return None;
        }
    }
    let of_row = rows_of(season)
        .filter_map(|row| {
            let of = source(row).map_or(Of::Row(row.id), Of::Ear);
            Some((row.id, *known.get(&of)?))
        })
        .collect();
    let mut from: Vec<usize> = sources.into_values().collect();
    from.sort_unstable();
    from.dedup();
    Some(Kin {
        open: relations(&open, &pools, 0.0)?,
        closed: relations(&closed, &pools, 1.0)?,
        season: seasons.len() - 1,
        seasons_back: from.len(),
        unknown: *known.get(&Of::Unknown(season))?,
        of_row,
    })
}
