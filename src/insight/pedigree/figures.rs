//! The figures of each season of a pedigree: families and mothers by their real shares, kinship, founders, lost lines.

use super::{FamilySeed, Pedigree};
use crate::genetics::pedigree::{Origins, Relations};
use crate::insight::kinship::{Founder, History};
use crate::insight::lines::{self, Lines, founder_name};
use crate::insight::words::{capital, natural, plural, some_of, tenths};
use crate::model::{EarId, LedgerReason, Project, RowId, RowSource, SeasonId};
use crate::stats::effective_number;
use std::collections::{BTreeMap, BTreeSet};

/// A founder that gave more than so many equal shares is named as over-represented. A rule of this program, no source: an
/// equal share of each founder keeps most diversity, and twice of it is seen at a glance.
pub const OVER_REPRESENTED: f64 = 2.0;
/// With fewer founders than these none can be called over-represented.
const FEWEST_FOUNDERS: usize = 3;
/// Differences of shares below this are of the arithmetic.
const NOTHING: f64 = 1e-12;

/// The figures of one season, of the seed that was sown in it: its families by the kernels planted of each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeasonFigures {
    /// Families: ears that were planted, and rows of other seed.
    pub families: usize,
    /// How many families with equal kernels would be as diverse.
    pub effective_families: Option<f64>,
    /// Mother rows of earlier seasons in which the ears grew; 0 where no mother is known.
    pub mothers: usize,
    /// How many mother rows with equal kernels would be as diverse.
    pub effective_mothers: Option<f64>,
    /// Whether the kernels planted are known, of some families at least; else families count alike.
    pub is_by_kernels: bool,
    /// Kinship of the plants that grew.
    pub plants: Option<MeanKin>,
    /// Kinship of the kernels that were harvested, every ear alike, by the pollen over the season.
    pub harvest: Option<MeanKin>,
    /// The founders of which something is left, the largest share first.
    pub founders: Vec<FounderShare>,
    /// The share of pollen of unrelated plants in the seed: least and most.
    pub unrelated_pollen: [f64; 2],
    /// Lines of mothers that have rows in the season.
    pub lines: usize,
    /// Lines whose last rows stood in the season, although a later one has rows.
    pub lost_after: Vec<String>,
}

/// Mean kinship of plants or kernels: with unrelated pollen where it was not stated, and with that of the own rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanKin {
    /// Mean coancestry of two of them, 0 to 1.
    pub coancestry: [f64; 2],
    /// Mean inbreeding of one, 0 to 1.
    pub inbreeding: [f64; 2],
}

/// What a founder gave to the seed of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct FounderShare {
    /// The founder in words: `row 3 of 2024`.
    pub name: String,
    /// Its row; none for ears of which no row is known.
    pub row: Option<RowId>,
    /// Its share of the seed's genes, 0 to 1, with unrelated pollen where it was not stated, and with that of the own rows.
    pub share: [f64; 2],
    /// Its share of what all founders of one ear gave, likewise; none for bulks and for ears of which no row is known.
    pub of_founders: Option<[f64; 2]>,
    /// The equal share of the founders of one ear that gave something, likewise.
    pub equal: [f64; 2],
}

impl FounderShare {
    /// Says whether it gave more than [`OVER_REPRESENTED`] equal shares, whatever the pollen was that was not stated.
    pub fn is_over_represented(&self) -> bool {
        let few = 1.0 / FEWEST_FOUNDERS as f64 + NOTHING;
        self.of_founders.is_some_and(|shares| {
            let mut both = shares.iter().zip(&self.equal);
            both.all(|(share, equal)| *equal <= few && *share > OVER_REPRESENTED * equal + NOTHING)
        })
    }
}

pub(super) fn add(found: &mut Pedigree, project: &Project, lines: &Lines) {
    let mut sown: BTreeMap<EarId, BTreeSet<i16>> = BTreeMap::new();
    for family in &found.families {
        if let FamilySeed::Ear { ear, .. } = family.seed {
            sown.entry(ear)
                .or_default()
                .insert(found.seasons[family.season].year);
        }
    }
    for family in &mut found.families {
        if let FamilySeed::Ear { ear, .. } = family.seed {
            family.kernels = kernels(project, ear, found.seasons[family.season].year, &sown[&ear]);
        }
    }
    let all: Vec<SeasonFigures> = (0..found.seasons.len())
        .map(|at| of_shares(found, at, lines))
        .collect();
    for (season, figures) in found.seasons.iter_mut().zip(all) {
        season.figures = figures;
    }
    let history = found.history(project);
    let known = history.as_ref().and_then(|history| {
        let relations = history.relations()?;
        Some((history, relations, history.origins()?))
    });
    let Some((history, relations, origins)) = known else {
        if !found.seasons.is_empty() {
            found.refusal = Some(
                "There are too many families to work out their kinship; lines of mothers are followed all the same."
                    .to_owned(),
            );
        }
        return;
    };
    let founders = Founders::new(project, history, &origins[0]);
    for at in 0..found.seasons.len() {
        let plants = plants(found, project, history, at);
        let figures = kin_of(project, history, &relations, found.seasons[at].season, &plants);
        let shares = founders.of(&origins, &plants);
        let season = &mut found.seasons[at].figures;
        (season.plants, season.harvest) = figures;
        if let Some((founders, unrelated)) = shares {
            season.founders = founders;
            season.unrelated_pollen = unrelated;
        }
    }
}

/// Kernels of an ear that were sown in a year: those that left its packets, or else those on the planting list. `sown` are
/// all years in which it was; then only the lines of its packets with a day tell which went where.
fn kernels(project: &Project, ear: EarId, year: i16, sown: &BTreeSet<i16>) -> Option<u32> {
    let is_only = sown.len() == 1;
    let lines = project.packets_of(ear).flat_map(|packet| &packet.ledger);
    let planted: i64 = lines
        .filter(|line| matches!(line.reason, LedgerReason::Planted | LedgerReason::PlantedFrom(_)))
        .filter(|line| is_only || line.on.is_some_and(|on| on.year() == year))
        .map(|line| -i64::from(line.kernels))
        .sum();
    if planted > 0 {
        return u32::try_from(planted).ok();
    }
    if sown.first() != Some(&year) {
        return None;
    }
    let list = project.list_in_force(project.ears.get(ear)?.season)?;
    let entry = list.entries.iter().find(|entry| entry.ear == ear)?;
    (entry.plant > 0).then_some(entry.plant)
}

/// The families that were sown in a season, with their shares: by kernels, those that are not known as the mean of the
/// others. Check lots are no part of the population.
fn shares(found: &Pedigree, at: usize) -> Vec<(usize, f64)> {
    let is_sown = |family: &usize| {
        let seed = &found.families[*family].seed;
        !matches!(seed, FamilySeed::NoRow | FamilySeed::CheckLot(_))
    };
    let sown: Vec<usize> = found.seasons[at]
        .families
        .iter()
        .copied()
        .filter(is_sown)
        .collect();
    let known: Vec<f64> = sown
        .iter()
        .filter_map(|family| found.families[*family].kernels)
        .map(f64::from)
        .collect();
    let mean = if known.is_empty() {
        1.0
    } else {
        known.iter().sum::<f64>() / known.len() as f64
    };
    let share = |family: usize| (family, found.families[family].kernels.map_or(mean, f64::from));
    sown.into_iter().map(share).collect()
}

/// What is known without kinship.
fn of_shares(found: &Pedigree, at: usize, lines: &Lines) -> SeasonFigures {
    let shares = shares(found, at);
    let mut of_mothers: BTreeMap<usize, f64> = BTreeMap::new();
    for (family, share) in &shares {
        if let Some(mother) = found.families[*family].mother {
            *of_mothers.entry(mother).or_default() += share;
        }
    }
    let effective = |shares: Vec<f64>| effective_number(&shares);
    let season = &found.seasons[at];
    let there = lines.seasons.iter().position(|(one, _)| *one == season.season);
    SeasonFigures {
        families: shares.len(),
        effective_families: effective(shares.iter().map(|(_, share)| *share).collect()),
        mothers: of_mothers.len(),
        effective_mothers: effective(of_mothers.into_values().collect()),
        is_by_kernels: shares
            .iter()
            .any(|(family, _)| found.families[*family].kernels.is_some()),
        lines: there.map_or(0, |there| lines.there(there)),
        lost_after: lines
            .lines
            .iter()
            .filter(|line| line.lost_after == Some(season.year))
            .map(|line| line.founder.clone())
            .collect(),
        ..SeasonFigures::default()
    }
}

/// The plants of a season as kinship knows them. Where no row is known, the ears stand for them.
fn plants(found: &Pedigree, project: &Project, history: &History, at: usize) -> Vec<(usize, f64)> {
    let of_family = |family: usize| {
        let row = project.rows.get(*found.families[family].rows.first()?)?;
        history.family_of_row(project, row)
    };
    let known: Vec<(usize, f64)> = shares(found, at)
        .into_iter()
        .filter_map(|(family, share)| Some((of_family(family)?, share)))
        .collect();
    if !known.is_empty() {
        return known;
    }
    let ears = project.ears_of(found.seasons[at].season).next();
    let family = ears.and_then(|ear| history.family_of_ear(project, ear));
    family.map(|family| (family, 1.0)).into_iter().collect()
}

fn kin_of(
    project: &Project,
    history: &History,
    [open, closed]: &[Relations; 2],
    season: SeasonId,
    plants: &[(usize, f64)],
) -> (Option<MeanKin>, Option<MeanKin>) {
    let both = |of: &dyn Fn(&Relations) -> Option<(f64, f64)>| {
        let (a, b) = (of(open)?, of(closed)?);
        Some(MeanKin {
            coancestry: [a.0, b.0],
            inbreeding: [a.1, b.1],
        })
    };
    let mut ears: BTreeMap<usize, f64> = BTreeMap::new();
    let mut many = Vec::new();
    for ear in project.ears_of(season) {
        if let Some(family) = history.family_of_ear(project, ear) {
            many.push((family, 1.0));
            *ears.entry(family).or_default() += 1.0;
        }
    }
    let ears: Vec<(usize, f64)> = ears.into_iter().collect();
    let at = history.seasons.iter().position(|one| *one == season);
    let harvest = at.and_then(|at| {
        both(&|relations| {
            let coancestry = relations.mean_of_kernels(&many, at)?;
            Some((coancestry, relations.inbreeding_of_kernels(&ears, at)?))
        })
    });
    (both(&|relations| relations.mean_of_plants(plants)), harvest)
}

/// The founders among the families.
struct Founders {
    /// In the order of [`Origins::founders`].
    names: Vec<(String, Option<RowId>, bool)>,
}

impl Founders {
    fn new(project: &Project, history: &History, origins: &Origins) -> Self {
        let known = history.founders();
        let name = |family: &usize| match known.get(family) {
            Some(Founder::Row(row)) => {
                let source = project.rows.get(*row).map(|row| &row.source);
                let is_one_ear = matches!(source, Some(RowSource::Ear(_) | RowSource::Unknown));
                let name = founder_name(project, lines::Founder::Row(*row));
                (name, Some(*row), is_one_ear)
            }
            Some(Founder::NoRow(season)) => {
                let year = project.seasons.get(*season).map_or(0, |season| season.year);
                (format!("ears of {year} whose row is not known"), None, false)
            }
            None => (String::new(), None, false),
        };
        Self {
            names: origins.founders().iter().map(name).collect(),
        }
    }

    /// The shares of the founders in a season's seed, and that of unrelated pollen.
    fn of(&self, origins: &[Origins; 2], plants: &[(usize, f64)]) -> Option<(Vec<FounderShare>, [f64; 2])> {
        let [open, closed] = [origins[0].of_plants(plants)?, origins[1].of_plants(plants)?];
        let of_one_ear = |shares: &[f64]| {
            let known = self.names.iter().zip(shares);
            let there: Vec<f64> = known
                .filter(|((.., is_one_ear), share)| *is_one_ear && **share > NOTHING)
                .map(|(_, share)| *share)
                .collect();
            (there.iter().sum::<f64>(), 1.0 / there.len().max(1) as f64)
        };
        let (sum_open, equal_open) = of_one_ear(&open);
        let (sum_closed, equal_closed) = of_one_ear(&closed);
        let mut found: Vec<FounderShare> = self
            .names
            .iter()
            .zip(open.iter().zip(&closed))
            .filter(|(_, (open, closed))| open.max(**closed) > NOTHING)
            .map(|((name, row, is_one_ear), (open, closed))| FounderShare {
                name: name.clone(),
                row: *row,
                share: [*open, *closed],
                of_founders: is_one_ear.then(|| {
                    let part = |share: f64, sum: f64| if sum > 0.0 { share / sum } else { 0.0 };
                    [part(*open, sum_open), part(*closed, sum_closed)]
                }),
                equal: [equal_open, equal_closed],
            })
            .collect();
        found.sort_by(|a, b| {
            let least = |one: &FounderShare| one.share[0].min(one.share[1]);
            let by_share = least(b).total_cmp(&least(a));
            by_share.then_with(|| natural(&a.name, &b.name))
        });
        Some((found, [open[self.names.len()], closed[self.names.len()]]))
    }
}

impl MeanKin {
    /// Writes the coancestry, or its range.
    pub fn coancestry_text(&self) -> String {
        range(self.coancestry, |value| format!("{value:.3}"))
    }

    /// Writes the inbreeding in percent, or its range.
    pub fn inbreeding_text(&self) -> String {
        percents(self.inbreeding)
    }
}

impl SeasonFigures {
    /// The founders that gave more than [`OVER_REPRESENTED`] equal shares, the largest first.
    pub fn over_represented(&self) -> impl Iterator<Item = &FounderShare> {
        self.founders.iter().filter(|one| one.is_over_represented())
    }

    /// Says what the figures of a season are, a sentence each.
    pub fn sentences(&self, year: i16) -> Vec<String> {
        let mut said = Vec::new();
        if self.families > 0 {
            said.push(self.families_sentence(year));
        }
        if let Some(kin) = self.plants {
            said.push(format!(
                "Its plants: mean coancestry {}, mean inbreeding {}.",
                kin.coancestry_text(),
                kin.inbreeding_text()
            ));
        }
        if let Some(kin) = self.harvest {
            said.push(format!(
                "Its harvest, every ear alike: mean coancestry {}, mean inbreeding {}.",
                kin.coancestry_text(),
                kin.inbreeding_text()
            ));
        }
        said.extend(self.over_sentence(year));
        if !self.lost_after.is_empty() {
            said.push(format!("Lost after {year}: {}.", some_of(&self.lost_after)));
        }
        said
    }

    fn families_sentence(&self, year: i16) -> String {
        let families = match self.families {
            1 => "1 family".to_owned(),
            many => format!("{many} families"),
        };
        let how = if self.is_by_kernels {
            "by the kernels planted"
        } else {
            "every family alike"
        };
        let size = |effective: Option<f64>| effective.map_or(String::new(), |size| format!("{size:.1}"));
        if self.mothers == 0 {
            return format!(
                "{year}: {families}, as diverse as {} equal ones ({how}); their mothers are not known.",
                size(self.effective_families)
            );
        }
        format!(
            "{year}: {families} of {}, as diverse as {} equal families and {} equal mother rows ({how}).",
            plural(self.mothers, "mother row"),
            size(self.effective_families),
            size(self.effective_mothers)
        )
    }

    /// Names the founder that gave most beyond measure.
    fn over_sentence(&self, year: i16) -> Option<String> {
        let mut over = self.over_represented();
        let first = over.next()?;
        let more = match over.count() {
            0 => String::new(),
            1 => " 1 more founder gave that much.".to_owned(),
            many => format!(" {many} more founders gave that much."),
        };
        let of_founders = first.of_founders?;
        Some(format!(
            "{} is over-represented in the seed of {year}: {} of what its founders gave, where an equal share is {}. \
             Named is what is above {OVER_REPRESENTED} equal shares.{more}",
            capital(&first.name),
            percents(of_founders),
            percents(first.equal),
        ))
    }
}

/// Writes one share or the range of two in percent.
pub fn percents(shares: [f64; 2]) -> String {
    let text = range(shares, |share| tenths(100.0 * share));
    format!("{text} %")
}

/// One text where both are written alike.
fn range([a, b]: [f64; 2], text: impl Fn(f64) -> String) -> String {
    let [low, high] = [a.min(b), a.max(b)].map(text);
    if low == high {
        low
    } else {
        format!("{low} to {high}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_founder_is_over_represented_above_two_equal_shares_of_three_founders_at_least() {
        let founder = |of_founders: [f64; 2], founders: f64| FounderShare {
            name: String::new(),
            row: None,
            share: of_founders,
            of_founders: Some(of_founders),
            equal: [1.0 / founders; 2],
        };
        assert!(founder([0.21, 0.25], 10.0).is_over_represented());
        assert!(
            !founder([0.2, 0.25], 10.0).is_over_represented(),
            "just two shares"
        );
        assert!(
            !founder([0.19, 0.25], 10.0).is_over_represented(),
            "only by one bound"
        );
        assert!(
            !founder([1.0, 1.0], 2.0).is_over_represented(),
            "too few founders"
        );
        let bulk = FounderShare {
            of_founders: None,
            ..founder([0.9, 0.9], 10.0)
        };
        assert!(!bulk.is_over_represented());
    }
}
