//! The ears of a season in groups, to tell them apart in the plot of Selection: by drying batch, mother row, tray or frost.

use super::Standing;
use super::frost::is_frosted;
use super::words::natural;
use crate::model::{Project, SeasonId};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// By what ears are grouped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum GroupBy {
    /// The batch in which the ear was dried.
    Batch,
    /// The row of its mother plant.
    Row,
    /// The tray in which it was tested.
    Tray,
    /// Whether frost reached it.
    Frost,
}

/// How many groups have a colour of their own at once.
pub const GROUP_COLOURS: usize = 6;

/// One group of ears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarGroup {
    /// Its name, such as `row 12`.
    pub name: String,
    /// How many ears are in it.
    pub ears: usize,
    /// Whether it holds the ears of which the group is not known, or that are in several.
    pub is_rest: bool,
}

/// How a group is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paint {
    /// Behind others that were picked.
    Faded,
    /// In the colour that all groups beyond [`GROUP_COLOURS`] share.
    Neutral,
    /// In a colour of its own, below [`GROUP_COLOURS`].
    Colour(usize),
}

/// Ears in groups.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarGroups {
    /// By what they are grouped.
    pub by: GroupBy,
    /// The groups by name, numbers in names as numbers; those of [`EarGroup::is_rest`] last.
    pub groups: Vec<EarGroup>,
    /// The group of each ear, in the order of the standings.
    pub of: Vec<usize>,
}

impl EarGroups {
    /// Groups the ears of a season.
    pub fn new(project: &Project, season: SeasonId, standings: &[Standing], by: GroupBy) -> Self {
        let tests: Vec<_> = project.tests_of(season).map(|test| test.id).collect();
        let name_of = |standing: &Standing| -> Result<String, &'static str> {
            match by {
                GroupBy::Batch => {
                    let batch = project.ears.get(standing.ear).map_or("", |ear| ear.batch.trim());
                    let known = (!batch.is_empty()).then(|| format!("batch {batch}"));
                    known.ok_or("batch not known")
                }
                GroupBy::Row => standing
                    .row
                    .and_then(|row| project.rows.get(row))
                    .map(|row| format!("row {}", row.label))
                    .ok_or("row not known"),
                GroupBy::Frost => match project
                    .ears
                    .get(standing.ear)
                    .and_then(|ear| is_frosted(project, ear))
                {
                    Some(true) => Ok("frosted".to_owned()),
                    Some(false) => Ok("not frosted".to_owned()),
                    None => Err("frost not known"),
                },
                GroupBy::Tray => {
                    let trays: BTreeSet<_> =
                        project.cells_of_ear(standing.ear).map(|cell| cell.tray).collect();
                    let mut trays = trays
                        .into_iter()
                        .filter_map(|tray| project.trays.get(tray))
                        .filter(|tray| tests.contains(&tray.test));
                    match (trays.next(), trays.next()) {
                        (None, _) => Err("in no tray"),
                        (Some(_), Some(_)) => Err("in several trays"),
                        (Some(tray), None) => {
                            let test = project.tests.get(tray.test).filter(|_| tests.len() > 1);
                            let test = test.map_or_else(String::new, |test| format!("{}, ", test.name));
                            Ok(format!("{test}tray {}", tray.number))
                        }
                    }
                }
            }
        };
        let mut found: BTreeMap<(bool, String), Vec<usize>> = BTreeMap::new();
        for (i, standing) in standings.iter().enumerate() {
            let key = match name_of(standing) {
                Ok(name) => (false, name),
                Err(rest) => (true, rest.to_owned()),
            };
            found.entry(key).or_default().push(i);
        }
        let mut found: Vec<_> = found.into_iter().collect();
        found.sort_by(|((is_rest, a), _), ((other_rest, b), _)| {
            is_rest.cmp(other_rest).then_with(|| natural(a, b))
        });
        let mut of = vec![0; standings.len()];
        let groups = found
            .into_iter()
            .enumerate()
            .map(|(nth, ((is_rest, name), ears))| {
                for i in &ears {
                    of[*i] = nth;
                }
                EarGroup {
                    name,
                    ears: ears.len(),
                    is_rest,
                }
            })
            .collect();
        Self { by, groups, of }
    }

    /// Gives each group its paint. The largest groups have a colour of their own; the others share one. While some
    /// are picked, those have colours, as far as they last, and all others are faded. A group that had a colour
    /// keeps it.
    pub fn paints(&self, picked: &BTreeSet<usize>) -> Vec<Paint> {
        let mut by_size: Vec<usize> = (0..self.groups.len())
            .filter(|nth| !self.groups[*nth].is_rest)
            .collect();
        by_size.sort_by_key(|nth| Reverse(self.groups[*nth].ears));
        by_size.truncate(GROUP_COLOURS);
        by_size.sort_unstable();
        let mut paints = vec![Paint::Neutral; self.groups.len()];
        for (colour, nth) in by_size.into_iter().enumerate() {
            paints[nth] = Paint::Colour(colour);
        }
        if picked.is_empty() {
            return paints;
        }
        let mut free: Vec<usize> = (0..GROUP_COLOURS).rev().collect();
        for nth in picked {
            if let Some(Paint::Colour(own)) = paints.get(*nth) {
                free.retain(|colour| colour != own);
            }
        }
        for (nth, paint) in paints.iter_mut().enumerate() {
            if !picked.contains(&nth) {
                *paint = Paint::Faded;
            } else if *paint == Paint::Neutral {
                *paint = free.pop().map_or(Paint::Neutral, Paint::Colour);
            }
        }
        paints
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn groups(sizes: &[usize]) -> EarGroups {
        EarGroups {
            by: GroupBy::Row,
            groups: sizes
                .iter()
                .enumerate()
                .map(|(nth, ears)| EarGroup {
                    name: format!("row {nth}"),
                    ears: *ears,
                    is_rest: nth + 1 == sizes.len(),
                })
                .collect(),
            of: Vec::new(),
        }
    }

    #[test]
    fn the_largest_groups_have_colours_and_the_unknown_has_none() {
        let all = groups(&[1, 9, 9, 9, 2, 9, 9, 9, 50]);
        let paints = all.paints(&BTreeSet::new());
        let expected = [
            Paint::Neutral,
            Paint::Colour(0),
            Paint::Colour(1),
            Paint::Colour(2),
            Paint::Neutral,
            Paint::Colour(3),
            Paint::Colour(4),
            Paint::Colour(5),
            Paint::Neutral,
        ];
        assert_eq!(paints, expected);
    }

    #[test]
    fn what_is_picked_has_a_colour_of_its_own_and_keeps_it() {
        let all = groups(&[1, 9, 9, 9, 2, 9, 9, 9, 50]);
        let paints = all.paints(&BTreeSet::from([0, 1, 8]));
        assert_eq!(paints[1], Paint::Colour(0));
        assert_eq!((paints[0], paints[8]), (Paint::Colour(1), Paint::Colour(2)));
        assert!([2, 3, 4, 5, 6, 7].iter().all(|nth| paints[*nth] == Paint::Faded));
        // More are picked than there are colours: the last share one, and none is faded.
        let paints = all.paints(&(0..9).collect());
        let own = paints
            .iter()
            .filter(|paint| matches!(paint, Paint::Colour(_)))
            .count();
        assert_eq!(own, GROUP_COLOURS);
        assert!(!paints.contains(&Paint::Faded));
    }
}
