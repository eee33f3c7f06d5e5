//! Which ears are worth testing again, and the test that does it.

use super::choice::{Choice, Reason};
use super::estimates::Estimates;
use super::words::{plural, whole};
use crate::model::{
    CellContent, EarId, Pass, Project, RowId, SeasonId, Stand, Test, TestDesign, TestId, TrayPlan,
    ears_of_first_trays,
};
use crate::stats::choosing;
use crate::stats::{Counts, Cutoff};
use std::collections::BTreeMap;

/// The ears to test again, the one that gains most first.
#[derive(Debug, Clone, PartialEq)]
pub struct Retest {
    /// The season.
    pub season: SeasonId,
    /// More kernels of each ear: as many as the last test had.
    pub kernels: u32,
    /// Ears that one tray of each replicate holds, of the containers that are used first; 0 when none has room.
    pub per_tray: usize,
    /// The ears whose kernels cannot tell, in falling order of the benefit per kernel.
    pub ears: Vec<RetestEar>,
    /// Ears that wait for a value and not for kernels, by number.
    pub waiting: Vec<EarId>,
}

/// One ear that may be tested again.
#[derive(Debug, Clone, PartialEq)]
pub struct RetestEar {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// Its mother row, if known.
    pub row: Option<RowId>,
    /// Its counts so far.
    pub counts: Counts,
    /// The probability that it reaches the cutoff, 0 to 1.
    pub probability: f64,
    /// What more kernels are expected to change.
    pub change: choosing::Retest,
    /// Kernels in its packets, if counted.
    pub left: Option<i64>,
    /// What speaks against testing it again, if anything does.
    pub hindrance: Option<Hindrance>,
}

/// What speaks against testing an ear again.
#[derive(Debug, Clone, PartialEq)]
pub enum Hindrance {
    /// It lies in this test already and is not counted there.
    Lies {
        /// The test.
        test: TestId,
        /// Its name.
        name: String,
    },
    /// Its packets hold fewer kernels than the test takes.
    Short,
    /// The test would take kernels that the planting list in force has still to plant.
    Reserved {
        /// The version of the list.
        list: u16,
        /// Kernels that the list has still to plant.
        kernels: u32,
        /// How many of them would be missing.
        missing: u32,
    },
    /// No result could change the decision.
    NoUse,
}

impl RetestEar {
    /// Says in a sentence or two why it stands where it does in the list.
    pub fn sentence(&self) -> String {
        let more = plural(self.change.kernels as usize, "more kernel");
        let verb = if self.change.kernels == 1 {
            "lowers"
        } else {
            "lower"
        };
        let use_of_it = if self.change.benefit() > 0.0 {
            format!(
                "{more} {verb} the chance of deciding wrongly from {} to {}.",
                whole(100.0 * self.change.wrong_now),
                whole(100.0 * self.change.wrong_after),
            )
        } else {
            format!("no result of {more} would change the decision.")
        };
        let hindrance = match &self.hindrance {
            Some(Hindrance::Lies { name, .. }) => {
                format!(" It lies in {name} already and is not counted there.")
            }
            Some(Hindrance::Short) => {
                let left = usize::try_from(self.left.unwrap_or(0)).unwrap_or(0);
                format!(" Its packets hold {} only.", plural(left, "kernel"))
            }
            Some(Hindrance::Reserved {
                list,
                kernels,
                missing,
            }) => format!(
                " Planting list {list} has still to plant {kernels} of its kernels; the test would take {missing} of those."
            ),
            Some(Hindrance::NoUse) | None => String::new(),
        };
        format!(
            "{} of {} germinated, {} likely to reach the cutoff; {use_of_it}{hindrance}",
            self.counts.k(),
            self.counts.n(),
            whole(100.0 * self.probability),
        )
    }
}

impl Retest {
    /// Gives the first ears of the list against which nothing speaks.
    pub fn first(&self, count: usize) -> impl Iterator<Item = &RetestEar> {
        self.ears.iter().filter(|ear| ear.hindrance.is_none()).take(count)
    }

    /// Says how many ears are expected to be on the wrong side of the cutoff now and after a retest, counting only
    /// these.
    pub fn gain<'a>(&self, ears: impl Iterator<Item = &'a RetestEar>) -> String {
        let (count, now, after) = ears.fold((0_usize, 0.0, 0.0), |(count, now, after), ear| {
            (
                count + 1,
                now + ear.change.wrong_now,
                after + ear.change.wrong_after,
            )
        });
        if count == 0 {
            return "No ear is chosen for the retest.".to_owned();
        }
        format!(
            "{} with {} each: about {now:.1} of them would be decided wrongly now, {after:.1} after the retest.",
            plural(count, "ear"),
            plural(self.kernels as usize, "more kernel"),
        )
    }

    /// Designs the retest of these ears: the trays, recipe and check lot of the season's last test, a name that is
    /// free, and a seed that follows from that test's.
    pub fn design(&self, project: &Project, ears: &[EarId]) -> TestDesign {
        let last = last_test(project, self.season);
        // By number, as a design made in the form has them: the same seed gives the same layout in both ways.
        let mut ears: Vec<(u32, EarId)> = ears
            .iter()
            .filter_map(|ear| project.ears.get(*ear))
            .map(|ear| (ear.number, ear.id))
            .collect();
        ears.sort_unstable();
        TestDesign {
            season: self.season,
            replaces: None,
            name: free_name(project, self.season),
            plan: plan(project, self.season),
            recipe: last.map(|test| test.recipe.clone()).unwrap_or_default(),
            check_lot: last.map(|test| test.check_lot.clone()).unwrap_or_default(),
            seed: next_seed(last.map_or(0, |test| test.seed)),
            ears: Some(ears.into_iter().map(|(_, ear)| ear).collect()),
        }
    }
}

/// Gives the seed that follows from another one. It has at most eight figures, so that it can be typed again.
pub fn next_seed(old: u64) -> u64 {
    // Knuth's multiplicative generator (MMIX); its upper bits are the good ones.
    let mixed = old
        .wrapping_add(1)
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    let new = (mixed >> 32) % 100_000_000;
    if new == old { new + 1 } else { new }
}

fn last_test(project: &Project, season: SeasonId) -> Option<&Test> {
    project.tests_of(season).last()
}

fn plan(project: &Project, season: SeasonId) -> TrayPlan {
    last_test(project, season)
        .map(|test| test.plan.clone())
        .unwrap_or_default()
}

fn free_name(project: &Project, season: SeasonId) -> String {
    let is_taken = |name: &str| project.tests_of(season).any(|test| test.name == name);
    let more = (2_u32..).map(|number| format!("Retest {number}"));
    std::iter::once("Retest".to_owned())
        .chain(more)
        .find(|name| !is_taken(name))
        .unwrap_or_default()
}

/// The ears that lie in a cell without a final count, and the test of that cell.
pub(super) fn lying(project: &Project, season: SeasonId) -> BTreeMap<EarId, TestId> {
    project
        .tests_of(season)
        .flat_map(|test| project.trays_of(test.id))
        .flat_map(|tray| project.cells_of(tray.id).map(|cell| (tray.test, cell)))
        .filter_map(|(test, cell)| match cell.content {
            CellContent::Ear(ear) if project.count_in_force(cell.id, Pass::Final).is_none() => {
                Some((ear, test))
            }
            _ => None,
        })
        .collect()
}

/// Kernels of each ear that the list in force has still to plant, with the version of that list.
fn reserved(project: &Project, season: SeasonId) -> BTreeMap<EarId, (u16, u32)> {
    let Some(list) = project.list_in_force(season) else {
        return BTreeMap::new();
    };
    let open = list
        .entries
        .iter()
        .filter(|entry| !project.is_planted(list, entry));
    open.map(|entry| (entry.ear, (list.version, entry.plant)))
        .collect()
}

/// What speaks against taking so many kernels out of a packet of which a list has still to plant others.
fn eats(on_hand: i64, taken: u32, list: u16, kernels: u32) -> Option<Hindrance> {
    let left = on_hand - i64::from(taken);
    let missing = u32::try_from(i64::from(kernels) - left)
        .ok()
        .filter(|missing| *missing > 0)?;
    Some(Hindrance::Reserved {
        list,
        kernels,
        missing: missing.min(taken).min(kernels),
    })
}

pub(super) fn compute(
    project: &Project,
    choice: &Choice,
    estimates: &Estimates,
    lying: &BTreeMap<EarId, TestId>,
) -> Retest {
    let plan = plan(project, choice.season);
    let kernels = u32::from(plan.kernels) * u32::from(plan.replicates);
    let mut retest = Retest {
        season: choice.season,
        kernels,
        // A plan in which no tray has room is refused when the retest is designed.
        per_tray: ears_of_first_trays(&plan).unwrap_or(0),
        ears: Vec::new(),
        waiting: Vec::new(),
    };
    let cutoff = choice.cutoffs.germination_percent;
    let cutoff = cutoff.and_then(|percent| Cutoff::from_percent(percent).ok());
    let reserved = reserved(project, choice.season);
    // Ears with equal counts in one tray gain the same.
    let mut known: Vec<Option<choosing::Retest>> = vec![None; estimates.posteriors.len()];
    for standing in choice
        .standings
        .iter()
        .filter(|standing| standing.stand == Stand::Retest)
    {
        let lacks_kernels = standing.why.iter().any(|reason| {
            matches!(
                reason,
                Reason::Germination {
                    stand: Stand::Retest,
                    ..
                }
            )
        });
        let (true, Some(cutoff), Some(estimate), Some(probability)) =
            (lacks_kernels, cutoff, standing.estimate, standing.probability)
        else {
            retest.waiting.push(standing.ear);
            continue;
        };
        let change = *known[estimate.posterior]
            .get_or_insert_with(|| estimates.posteriors[estimate.posterior].retest(kernels, cutoff));
        let lies = lying.get(&standing.ear).and_then(|test| project.tests.get(*test));
        let eaten = reserved
            .get(&standing.ear)
            .and_then(|(list, planned)| eats(standing.kernels?, kernels, *list, *planned));
        let hindrance = match lies {
            Some(test) => Some(Hindrance::Lies {
                test: test.id,
                name: test.name.clone(),
            }),
            None if standing.kernels.is_some_and(|left| left < i64::from(kernels)) => Some(Hindrance::Short),
            None if change.benefit() <= 0.0 => Some(Hindrance::NoUse),
            None => eaten,
        };
        retest.ears.push(RetestEar {
            ear: standing.ear,
            number: standing.number,
            row: standing.row,
            counts: estimate.counts,
            probability,
            change,
            left: standing.kernels,
            hindrance,
        });
    }
    let benefit = |ear: &RetestEar| ear.change.benefit_per_kernel();
    retest
        .ears
        .sort_by(|a, b| benefit(b).total_cmp(&benefit(a)).then(a.number.cmp(&b.number)));
    retest
}
