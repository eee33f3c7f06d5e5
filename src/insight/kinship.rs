//! How the ears of a season are related through the rows and ears of the seasons before.

use super::words::{percent, some_of};
use crate::genetics::pedigree::{Family, Origins, Pool, Relations, origins, relations};
use crate::model::{Ear, EarId, PollenSource, Project, Row, RowId, RowSource, Season, SeasonId};
use std::collections::BTreeMap;

/// With more families than these the matrix would fill the memory; then the rows' mothers count as unrelated.
const MOST_FAMILIES: usize = 2_500;
/// So many pairs of related rows are told.
const TOLD: usize = 5;

/// The families of a season and all before it, related in two ways.
#[derive(Debug)]
pub(super) struct Kin {
    /// All pollen of unrelated plants where it was not said; ears of unknown row unrelated.
    pub(super) open: Relations,
    /// All pollen of each season's own rows where it was not said; ears of unknown row as sisters.
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

    /// The coancestry of kernels of each two ears of the season, row by row, from pollen of unrelated plants where it was
    /// not said.
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

/// A founder among the families.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Founder {
    /// A row whose seed came from no known ear.
    Row(RowId),
    /// The ears of a season whose row is not known.
    NoRow(SeasonId),
}

/// Relates the families; `None` where no row of the season was planted from an ear that is known and nothing was said of
/// its pollen, so that rows are all that is known of kinship, and where there are too many.
pub(super) fn kin(project: &Project, season: SeasonId) -> Option<Kin> {
    let history = History::until(project, season)?;
    let is_stated = project.seasons.get(season)?.pollen.is_some();
    let has_mothers = |row: &Row| history.source(project, row).is_some();
    if !is_stated && !project.rows_of(season).any(has_mothers) {
        return None;
    }
    let [open, closed] = history.relations()?;
    let of_row = project
        .rows_of(season)
        .filter_map(|row| Some((row.id, history.family_of_row(project, row)?)))
        .collect();
    Some(Kin {
        open,
        closed,
        season: history.seasons.len() - 1,
        seasons_back: history.planted_from.len(),
        unknown: *history.known.get(&Of::Unknown(season))?,
        of_row,
    })
}

/// The families and the pollen of a season and of all before it, as the grower said it or, where nothing was said, by two
/// bounds.
#[derive(Debug)]
pub(super) struct History {
    /// The earliest first; the season itself comes last.
    pub(super) seasons: Vec<SeasonId>,
    /// By family: with unrelated pollen where it was not said, and with that of the own rows.
    bounds: [(Vec<Family>, Vec<Pool>); 2],
    known: BTreeMap<Of, usize>,
    /// Places of the seasons whose ears were planted later.
    planted_from: Vec<usize>,
}

impl History {
    /// Collects them; `None` where there are too many families, or no such season.
    pub(super) fn until(project: &Project, season: SeasonId) -> Option<Self> {
        let last = project.seasons.get(season)?;
        let mut seasons: Vec<&Season> = project
            .seasons
            .iter()
            .filter(|one| one.year <= last.year)
            .collect();
        seasons.sort_by_key(|one| (one.year, one.id == season, one.id));
        let mut history = Self {
            seasons: seasons.iter().map(|one| one.id).collect(),
            bounds: Default::default(),
            known: BTreeMap::new(),
            planted_from: Vec::new(),
        };
        let sources: BTreeMap<EarId, usize> = seasons
            .iter()
            .flat_map(|one| project.rows_of(one.id))
            .filter_map(|row| {
                let ear = history.source(project, row)?;
                Some((ear, history.place(project.ears.get(ear)?.season)?))
            })
            .collect();
        for (place, one) in seasons.iter().enumerate() {
            history.add_founders(project, one);
            history.add_pollen(project, one)?;
            for (id, _) in sources.iter().filter(|(_, from)| **from == place) {
                let mother = history.family_of_ear(project, project.ears.get(*id)?)?;
                let family = Family::Of {
                    mother,
                    season: place,
                };
                history.add(Of::Ear(*id), [family, family]);
            }
            if history.known.len() > MOST_FAMILIES {
                return None;
            }
        }
        history.planted_from = sources.into_values().collect();
        history.planted_from.sort_unstable();
        history.planted_from.dedup();
        Some(history)
    }

    fn place(&self, season: SeasonId) -> Option<usize> {
        self.seasons.iter().position(|one| *one == season)
    }

    /// The ear of an earlier season from which a row was planted.
    fn source(&self, project: &Project, row: &Row) -> Option<EarId> {
        let RowSource::Ear(ear) = row.source else {
            return None;
        };
        let from = project.ears.get(ear).and_then(|ear| self.place(ear.season))?;
        (from < self.place(row.season)?).then_some(ear)
    }

    fn add(&mut self, of: Of, [open, closed]: [Family; 2]) {
        let [(families, _), (in_closed, _)] = &mut self.bounds;
        self.known.insert(of, families.len());
        families.push(open);
        in_closed.push(closed);
    }

    /// The families of a season of which nothing is known.
    fn add_founders(&mut self, project: &Project, season: &Season) {
        self.add(Of::Unknown(season.id), [Family::Founder(0.0), Family::UNKNOWN]);
        for row in project.rows_of(season.id) {
            if self.source(project, row).is_some() {
                continue;
            }
            let family = match row.source {
                // Two plants of a bulk have two mothers.
                RowSource::Bulk(_) | RowSource::CheckLot(_) => Family::Founder(0.0),
                RowSource::Ear(_) | RowSource::Unknown => Family::UNKNOWN,
            };
            self.add(Of::Row(row.id), [family, family]);
        }
    }

    /// The pollen of a season. Where all rows shed it, each does by the ears that were harvested of it; rows that are named
    /// shed alike.
    fn add_pollen(&mut self, project: &Project, season: &Season) -> Option<()> {
        let mut shed: BTreeMap<usize, f64> = BTreeMap::new();
        let named = season.pollen.iter().flat_map(|pollen| &pollen.rows);
        for row in named {
            *shed
                .entry(self.family_of_row(project, project.rows.get(*row)?)?)
                .or_default() += 1.0;
        }
        let are_named = !shed.is_empty();
        let mut ears = 0.0;
        for ear in project.ears_of(season.id) {
            ears += 1.0;
            if !are_named {
                *shed.entry(self.family_of_ear(project, ear)?).or_default() += 1.0;
            }
        }
        let parts: f64 = shed.values().sum();
        // A row that is named has at least one plant.
        let least = if are_named { parts } else { 0.0 };
        let plants = season.pollen_plants.map_or(ears, f64::from).max(least);
        let scale = if parts > 0.0 { plants / parts } else { 0.0 };
        let plants: Vec<(usize, f64)> = shed
            .into_iter()
            .map(|(family, part)| (family, part * scale))
            .collect();
        for ((_, pools), bound) in self.bounds.iter_mut().zip([0.0, 1.0]) {
            pools.push(Pool {
                plants: plants.clone(),
                own: season.pollen.as_ref().map_or(bound, |pollen| pollen.own),
            });
        }
        Some(())
    }

    /// The family of the plants of a row.
    pub(super) fn family_of_row(&self, project: &Project, row: &Row) -> Option<usize> {
        let of = self.source(project, row).map_or(Of::Row(row.id), Of::Ear);
        self.known.get(&of).copied()
    }

    /// The family of the plant on which an ear grew; of ears whose row is not known that of all of them.
    pub(super) fn family_of_ear(&self, project: &Project, ear: &Ear) -> Option<usize> {
        match ear.row.and_then(|row| project.rows.get(row)) {
            Some(row) => self.family_of_row(project, row),
            None => self.known.get(&Of::Unknown(ear.season)).copied(),
        }
    }

    /// What each founder among the families is: a row, or the ears of a season whose row is not known.
    pub(super) fn founders(&self) -> BTreeMap<usize, Founder> {
        let founder = |(of, family): (&Of, &usize)| match of {
            Of::Row(row) => Some((*family, Founder::Row(*row))),
            Of::Unknown(season) => Some((*family, Founder::NoRow(*season))),
            Of::Ear(_) => None,
        };
        self.known.iter().filter_map(founder).collect()
    }

    /// The coancestries by both bounds; they are the same where all pollen was stated and all rows are known.
    pub(super) fn relations(&self) -> Option<[Relations; 2]> {
        let [(open, open_pools), (closed, closed_pools)] = &self.bounds;
        Some([relations(open, open_pools)?, relations(closed, closed_pools)?])
    }

    /// Where the genes come from, by both bounds.
    pub(super) fn origins(&self) -> Option<[Origins; 2]> {
        let [(open, open_pools), (closed, closed_pools)] = &self.bounds;
        Some([origins(open, open_pools)?, origins(closed, closed_pools)?])
    }
}

/// The share of a season's pollen that comes from unrelated plants: all of it where nothing was said.
pub(super) fn unrelated_pollen(season: Option<&Season>) -> f64 {
    let pollen = season.and_then(|season| season.pollen.as_ref());
    pollen.map_or(1.0, |pollen| 1.0 - pollen.own)
}

/// Says where the pollen over a season came from.
pub fn pollen_text(project: &Project, pollen: Option<&PollenSource>) -> String {
    let Some(pollen) = pollen else {
        return "not stated: somewhere between an open field of unrelated plants and a closed plot of its own rows"
            .to_owned();
    };
    let labels: Vec<&str> = pollen
        .rows
        .iter()
        .filter_map(|row| project.rows.get(*row))
        .map(|row| row.label.as_str())
        .collect();
    let rows = match labels.len() {
        0 => "the season's own rows".to_owned(),
        1 => format!("row {}", labels[0]),
        _ => format!("rows {}", some_of(&labels)),
    };
    let others = if labels.is_empty() {
        ""
    } else {
        "; all other rows were detasselled"
    };
    if pollen.own <= 0.0 {
        "all of unrelated plants, an open field".to_owned()
    } else if pollen.own >= 1.0 {
        format!("all of {rows}{others}")
    } else {
        let [own, other] = [pollen.own, 1.0 - pollen.own].map(|share| percent(100.0 * share));
        format!("{own} of {rows}, {other} of unrelated plants{others}")
    }
}
