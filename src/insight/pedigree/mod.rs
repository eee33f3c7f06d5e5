//! The pedigree over all seasons: families by season, their mothers, the pollen over them, and the figures of each season.

mod figures;
mod order;

pub use figures::{FounderShare, MeanKin, OVER_REPRESENTED, SeasonFigures, percents};

use super::kinship::{History, pollen_text};
use super::lines::Lines;
use super::words::{capital, natural, plural};
use crate::model::{Ear, EarId, Project, Row, RowId, RowSource, SeasonId};
use std::collections::{BTreeMap, BTreeSet};

/// The pedigree of a project.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pedigree {
    /// The seasons that have rows or ears, the earliest first.
    pub seasons: Vec<PedigreeSeason>,
    /// The families of all seasons, those of one season together.
    pub families: Vec<PedigreeFamily>,
    /// Where the last family of all columns ends, in heights of a family.
    pub height: f64,
    /// Why kinship is not worked out, a sentence.
    pub refusal: Option<String>,
    of_row: BTreeMap<RowId, usize>,
    of_unknown: BTreeMap<SeasonId, usize>,
}

/// One season of a pedigree.
#[derive(Debug, Clone, PartialEq)]
pub struct PedigreeSeason {
    /// The season.
    pub season: SeasonId,
    /// Its year.
    pub year: i16,
    /// Where the pollen over its rows came from, in words.
    pub pollen: String,
    /// Whether the grower stated that.
    pub is_stated: bool,
    /// Its families from top to bottom, by their place among all.
    pub families: Vec<usize>,
    /// Its figures.
    pub figures: SeasonFigures,
}

/// Where the seed of a family came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FamilySeed {
    /// An ear of an earlier season.
    Ear {
        /// The ear.
        ear: EarId,
        /// Its number.
        number: u32,
        /// The year of its season.
        year: i16,
    },
    /// It is not known.
    Unknown,
    /// A bulk of many ears, named.
    Bulk(String),
    /// A check lot, named.
    CheckLot(String),
    /// Ears of which no row is known stand together as one family.
    NoRow,
}

/// A family in one season: the plants of all rows that were planted from one ear.
#[derive(Debug, Clone, PartialEq)]
pub struct PedigreeFamily {
    /// The place of its season among the seasons of the pedigree.
    pub season: usize,
    /// Its rows; none for ears of which no row is known.
    pub rows: Vec<RowId>,
    /// The labels of its rows, joined by a slash.
    pub label: String,
    /// Where its seed came from.
    pub seed: FamilySeed,
    /// The family in which its mother ear grew.
    pub mother: Option<usize>,
    /// The families that were planted from its ears, by season, ear and label.
    pub daughters: Vec<usize>,
    /// Ears harvested from it.
    pub ears: usize,
    /// Kernels planted of it, if known.
    pub kernels: Option<u32>,
    /// Whether it shed the pollen of its season; none where no rows were named for that.
    pub sheds: Option<bool>,
    /// Its place from the top of its column, in heights of a family.
    pub place: f64,
}

impl PedigreeFamily {
    /// Names it in a box of its season: `row 3 · 12`, with its ears.
    pub fn short(&self) -> String {
        let label = &self.label;
        let name = match self.seed {
            FamilySeed::NoRow => "row not known".to_owned(),
            FamilySeed::Bulk(_) => format!("bulk {label}"),
            FamilySeed::CheckLot(_) => format!("check {label}"),
            FamilySeed::Ear { .. } | FamilySeed::Unknown => format!("row {label}"),
        };
        let pollen = if self.sheds == Some(true) { " ○" } else { "" };
        format!("{name}{pollen} · {}", self.ears)
    }
}

/// One step through a pedigree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PedigreeStep {
    /// To the family in which the mother grew.
    Mother,
    /// To the daughter in the middle.
    Daughter,
    /// To the family above in the same season: a sister, if there is one left.
    Above,
    /// To the family below.
    Below,
}

/// Who is related to a family or an ear through mothers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lineage {
    /// Mother, grandmother and so on.
    pub ancestors: Vec<usize>,
    /// Daughters and their daughters; of an ear those planted from it.
    pub descendants: BTreeSet<usize>,
}

impl PedigreeSeason {
    /// Says where the pollen over its rows came from.
    pub fn pollen_sentence(&self) -> String {
        format!("Pollen over {}: {}.", self.year, self.pollen)
    }
}

pub(super) fn compute(project: &Project, lines: &Lines) -> Pedigree {
    let mut found = Pedigree::default();
    let mut seasons: Vec<_> = project.seasons.iter().collect();
    seasons.sort_by_key(|season| (season.year, season.id));
    for season in seasons {
        let at = found.seasons.len();
        let first = found.families.len();
        found.add_families(project, season.id, at);
        if found.families.len() == first {
            continue;
        }
        found.seasons.push(PedigreeSeason {
            season: season.id,
            year: season.year,
            pollen: pollen_text(project, season.pollen.as_ref()),
            is_stated: season.pollen.is_some(),
            families: Vec::new(),
            figures: SeasonFigures::default(),
        });
    }
    found.link(project);
    found.arrange();
    figures::add(&mut found, project, lines);
    found
}

impl Pedigree {
    /// Adds the families of a season: one for each ear that was planted, one for each row of other seed. A check lot is no
    /// part of the population, unless an ear was harvested from it.
    fn add_families(&mut self, project: &Project, season: SeasonId, at: usize) {
        let pollen = project
            .seasons
            .get(season)
            .and_then(|season| season.pollen.as_ref());
        let named = pollen.map(|pollen| &pollen.rows).filter(|rows| !rows.is_empty());
        let mut of_ear: BTreeMap<EarId, usize> = BTreeMap::new();
        for row in project.rows_of(season) {
            let ears = project.ears_of_row(row.id).count();
            if matches!(row.source, RowSource::CheckLot(_)) && ears == 0 {
                continue;
            }
            let sheds = named.map(|rows| rows.contains(&row.id));
            let seed = seed_of(project, row);
            let known = match &seed {
                FamilySeed::Ear { ear, .. } => of_ear.get(ear).copied(),
                _ => None,
            };
            let family = known.unwrap_or_else(|| {
                if let FamilySeed::Ear { ear, .. } = &seed {
                    of_ear.insert(*ear, self.families.len());
                }
                self.add(at, seed)
            });
            let one = &mut self.families[family];
            one.rows.push(row.id);
            one.label = match one.label.as_str() {
                "" => row.label.clone(),
                before => format!("{before}/{}", row.label),
            };
            one.ears += ears;
            one.sheds = match (one.sheds, sheds) {
                (Some(before), Some(now)) => Some(before || now),
                (before, now) => before.or(now),
            };
            self.of_row.insert(row.id, family);
        }
        let without = project.ears_of(season).filter(|ear| ear.row.is_none()).count();
        if without > 0 {
            let family = self.add(at, FamilySeed::NoRow);
            self.families[family].ears = without;
            self.families[family].sheds = named.map(|_| false);
            self.of_unknown.insert(season, family);
        }
    }

    fn add(&mut self, season: usize, seed: FamilySeed) -> usize {
        self.families.push(PedigreeFamily {
            season,
            rows: Vec::new(),
            label: String::new(),
            seed,
            mother: None,
            daughters: Vec::new(),
            ears: 0,
            kernels: None,
            sheds: None,
            place: 0.0,
        });
        self.families.len() - 1
    }

    /// Finds the mother of each family, and with it the daughters.
    fn link(&mut self, project: &Project) {
        for family in 0..self.families.len() {
            let FamilySeed::Ear { ear, .. } = self.families[family].seed else {
                continue;
            };
            let mother = project.ears.get(ear).and_then(|ear| self.family_of_ear(ear));
            // In a sound project a mother stands in an earlier season.
            let mother = mother.filter(|mother| self.families[*mother].season < self.families[family].season);
            self.families[family].mother = mother;
            if let Some(mother) = mother {
                self.families[mother].daughters.push(family);
            }
        }
        for family in 0..self.families.len() {
            let mut daughters = std::mem::take(&mut self.families[family].daughters);
            daughters.sort_by(|a, b| self.in_order(*a, *b));
            self.families[family].daughters = daughters;
        }
    }

    fn in_order(&self, a: usize, b: usize) -> std::cmp::Ordering {
        let number = |family: &PedigreeFamily| match family.seed {
            FamilySeed::Ear { number, .. } => Some(number),
            _ => None,
        };
        let [a, b] = [&self.families[a], &self.families[b]];
        let by_season = a.season.cmp(&b.season);
        by_season
            .then(number(a).cmp(&number(b)))
            .then_with(|| natural(&a.label, &b.label))
    }

    /// Gives each family its place.
    fn arrange(&mut self) {
        let column_of: Vec<usize> = self.families.iter().map(|one| one.season).collect();
        let mothers: Vec<Option<usize>> = self.families.iter().map(|one| one.mother).collect();
        let daughters: Vec<Vec<usize>> = self.families.iter().map(|one| one.daughters.clone()).collect();
        let mut roots: Vec<usize> = (0..mothers.len()).filter(|one| mothers[*one].is_none()).collect();
        roots.sort_by(|a, b| {
            let [one, other] = [a, b].map(|family| &self.families[*family]);
            // Ears of which no row is known stand below all others.
            let unknown = |family: &PedigreeFamily| family.seed == FamilySeed::NoRow;
            let by_season = one.season.cmp(&other.season);
            by_season
                .then(unknown(one).cmp(&unknown(other)))
                .then_with(|| natural(&one.label, &other.label))
        });
        let columns = order::ordered(&column_of, &daughters, &roots);
        let places = order::placed(&columns, &mothers, &daughters);
        for (family, place) in self.families.iter_mut().zip(&places) {
            family.place = *place;
        }
        self.height = places.iter().map(|place| place + 1.0).fold(0.0, f64::max);
        for (season, column) in self.seasons.iter_mut().zip(columns) {
            season.families = column;
        }
    }

    /// The family in which an ear grew.
    pub fn family_of_ear(&self, ear: &Ear) -> Option<usize> {
        match ear.row {
            Some(row) => self.family_of_row(row),
            None => self.of_unknown.get(&ear.season).copied(),
        }
    }

    /// The family to which a row belongs.
    pub fn family_of_row(&self, row: RowId) -> Option<usize> {
        self.of_row.get(&row).copied()
    }

    /// The family of the ears of a season whose row is not known.
    pub fn family_without_row(&self, season: SeasonId) -> Option<usize> {
        self.of_unknown.get(&season).copied()
    }

    /// Those from whom a family descends by mothers, and those who descend from it; of an ear of it only what was planted
    /// from that ear.
    pub fn lineage(&self, family: usize, ear: Option<EarId>) -> Lineage {
        let mut found = Lineage::default();
        let Some(one) = self.families.get(family) else {
            return found;
        };
        let mut at = one.mother;
        while let Some(mother) = at {
            found.ancestors.push(mother);
            at = self.families[mother].mother;
        }
        let of_ear = |daughter: &&usize| {
            ear.is_none_or(|wanted| {
                matches!(&self.families[**daughter].seed, FamilySeed::Ear { ear, .. } if *ear == wanted)
            })
        };
        let mut waiting: Vec<usize> = one.daughters.iter().filter(of_ear).copied().collect();
        while let Some(daughter) = waiting.pop() {
            if found.descendants.insert(daughter) {
                waiting.extend(&self.families[daughter].daughters);
            }
        }
        found
    }

    /// The family one step further; `None` where there is none.
    pub fn step(&self, family: usize, step: PedigreeStep) -> Option<usize> {
        let one = self.families.get(family)?;
        let column = &self.seasons[one.season].families;
        let at = column.iter().position(|known| *known == family)?;
        match step {
            PedigreeStep::Mother => one.mother,
            PedigreeStep::Daughter => one.daughters.get(one.daughters.len() / 2).copied(),
            PedigreeStep::Above => column.get(at.checked_sub(1)?).copied(),
            PedigreeStep::Below => column.get(at + 1).copied(),
        }
    }

    /// Names a family: `row 3 of 2026`.
    pub fn name(&self, family: usize) -> String {
        let one = &self.families[family];
        let year = self.seasons[one.season].year;
        let rows = if one.rows.len() > 1 { "rows" } else { "row" };
        match &one.seed {
            FamilySeed::NoRow => format!("ears of {year} whose row is not known"),
            FamilySeed::Bulk(_) => format!("bulk row {} of {year}", one.label),
            FamilySeed::CheckLot(_) => format!("check row {} of {year}", one.label),
            FamilySeed::Ear { .. } | FamilySeed::Unknown => format!("{rows} {} of {year}", one.label),
        }
    }

    /// Says where a family came from, step by step: `Row 3 of 2026, from ear 12 of row 7 of 2025, from seed of which nothing
    /// is known.`
    pub fn path(&self, family: usize) -> String {
        let mut said = vec![capital(&self.name(family))];
        let mut at = family;
        loop {
            let one = &self.families[at];
            let (from, next) = match (&one.seed, one.mother) {
                (FamilySeed::Ear { number, year, .. }, Some(mother))
                    if self.families[mother].seed == FamilySeed::NoRow =>
                {
                    (
                        format!("from ear {number} of {year}, whose row is not known"),
                        None,
                    )
                }
                (FamilySeed::Ear { number, .. }, Some(mother)) => (
                    format!("from ear {number} of {}", self.name(mother)),
                    Some(mother),
                ),
                (FamilySeed::Ear { number, year, .. }, None) => {
                    (format!("from ear {number} of {year}"), None)
                }
                (FamilySeed::Bulk(name), _) => (format!("from the bulk '{name}'"), None),
                (FamilySeed::CheckLot(name), _) => (format!("from the check lot '{name}'"), None),
                (FamilySeed::Unknown, _) => ("from seed of which nothing is known".to_owned(), None),
                (FamilySeed::NoRow, _) => break,
            };
            said.push(from);
            let Some(mother) = next else { break };
            at = mother;
        }
        format!("{}.", said.join(", "))
    }

    /// Says what came of a family, or of one of its ears: `Planted from it: 2 families in 2027, 5 in 2028.`
    pub fn offspring(&self, lineage: &Lineage) -> String {
        if lineage.descendants.is_empty() {
            return "Nothing was planted from it.".to_owned();
        }
        let mut by_season: BTreeMap<usize, usize> = BTreeMap::new();
        for family in &lineage.descendants {
            *by_season.entry(self.families[*family].season).or_default() += 1;
        }
        let parts: Vec<String> = by_season
            .into_iter()
            .enumerate()
            .map(|(nth, (season, many))| {
                let year = self.seasons[season].year;
                let many = match nth {
                    0 => match many {
                        1 => "1 family".to_owned(),
                        many => format!("{many} families"),
                    },
                    _ => many.to_string(),
                };
                format!("{many} in {year}")
            })
            .collect();
        format!("It lives on in {}.", parts.join(", "))
    }

    /// Says what is in a family: ears, kernels, pollen.
    pub fn facts(&self, family: usize) -> String {
        let one = &self.families[family];
        let mut parts = vec![plural(one.ears, "ear")];
        if let Some(kernels) = one.kernels {
            parts.push(format!("{} planted", plural(kernels as usize, "kernel")));
        }
        match one.sheds {
            Some(true) => parts.push("shed pollen".to_owned()),
            Some(false) => parts.push("detasselled".to_owned()),
            None => {}
        }
        parts.join(", ")
    }

    /// The history that kinship is worked out from: that of the last season.
    fn history(&self, project: &Project) -> Option<History> {
        History::until(project, self.seasons.last()?.season)
    }
}

fn seed_of(project: &Project, row: &Row) -> FamilySeed {
    match &row.source {
        RowSource::Unknown => FamilySeed::Unknown,
        RowSource::Bulk(name) => FamilySeed::Bulk(name.clone()),
        RowSource::CheckLot(name) => FamilySeed::CheckLot(name.clone()),
        RowSource::Ear(ear) => project
            .ears
            .get(*ear)
            .map_or(FamilySeed::Unknown, |ear| FamilySeed::Ear {
                ear: ear.id,
                number: ear.number,
                year: project.seasons.get(ear.season).map_or(0, |season| season.year),
            }),
    }
}
